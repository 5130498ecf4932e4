//! Raw rows become the rows of one ascent, lowest first.

mod ascent;
mod derive;
mod descent;
pub(crate) mod drift;
mod floats;
pub(crate) mod gaps;
mod ground_check;
mod heights;
mod join;
pub(crate) mod prepare;
mod raw;
mod surface;
mod tally;
#[cfg(test)]
mod tests;
mod withhold;

use std::fmt;

use thiserror::Error;

pub use ground_check::{GroundVerdict, ground_check};

use crate::model::finding::{Finding, Place, finding};
use crate::model::raw::{RawProfile, RawRow};
use crate::model::{Axis, Context, Form, Motion, Noted, PilotLevels, Profile, Row, StationKind};
use crate::tables::{level_manner_wanted, limits};
use tally::{Kind, Tally};

/// Heights this far below the release point are below the ground, gpm (our own
/// choice: more than the difference between release point and antenna).
const BELOW_GROUND_GPM: f64 = 5.0;

/// Why rows are not an ascent.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum ProfileError {
    /// Neither coordinate.
    #[error(
        "{name}: pressure_hpa and height_gpm (or altitude_m) are missing in every row; one of them is needed: name its column under [columns]"
    )]
    NoCoordinate {
        /// File.
        name: String,
    },
    /// Nothing but coordinates.
    #[error(
        "{name}: temperature, humidity and wind are missing in every row; one of them is needed: name its column under [columns]"
    )]
    NoObservation {
        /// File.
        name: String,
    },
    /// Angles, and too little to make positions of them.
    #[error("{name}: the rows have angles, and {lacks}; {advice}")]
    NoTracking {
        /// File.
        name: String,
        /// What is missing.
        lacks: &'static str,
        /// What to write.
        advice: &'static str,
    },
    /// Two flights.
    #[error(
        "{name}: the file has two releases, one at {first}, one at {second}; give each flight a file of its own"
    )]
    TwoReleases {
        /// File.
        name: String,
        /// The first.
        first: OneRelease,
        /// The second.
        second: OneRelease,
    },
    /// Times of file and sheet that are not of one flight.
    #[error(
        "{name}: by the file the flight begins at {begins}, by the sheet it is released at {release}; give the sheet of this flight"
    )]
    OtherFlight {
        /// File.
        name: String,
        /// The first row, or the one at which the balloon rises, UTC.
        begins: String,
        /// The sheet's release, UTC.
        release: String,
    },
    /// Heights above the ellipsoid of a station that has no height.
    #[error(
        "{name}: heights are above the ellipsoid, and no sheet gives the height of the release point; give release_m or elevation_m under [station]"
    )]
    NoAnchor {
        /// File.
        name: String,
    },
    /// Heights above the ellipsoid that begin too late.
    #[error(
        "{name}: heights are above the ellipsoid, and no row within 10 s of release has one to compare with the release point; give the rows from release on, or heights above mean sea level"
    )]
    NoAnchorRow {
        /// File.
        name: String,
    },
    /// Heights that are not above the ellipsoid either.
    #[error(
        "{name}:{line}: as height above the ellipsoid the sonde is released {off_m:+.1} m off the release point, outside the range of the geoid undulation (-110 to +90 m); check release_m, and that the rows begin at release"
    )]
    NoUndulation {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// How far off, m.
        off_m: f64,
    },
    /// Time goes back.
    #[error(
        "{name}:{line}: time_s is {time_s}, earlier than {before} in a row above; put the rows in order of time, or leave time_s out"
    )]
    TimeBackwards {
        /// File.
        name: String,
        /// Line.
        line: usize,
        /// Its time, s.
        time_s: f64,
        /// The time above, s.
        before: f64,
    },
    /// One row is no ascent.
    #[error(
        "{name}: the profile has {rows} row(s); at least 2 are needed, with pressure falling: give the complete ascent"
    )]
    TooFewRows {
        /// File.
        name: String,
        /// Rows read.
        rows: usize,
    },
    /// Pressure stands still.
    #[error(
        "{name}: {rows} rows of the ascent are all at {pressure_hpa} hPa; pressure must fall: name the right column as pressure_hpa under [columns], or leave it out so that heights are used"
    )]
    OnePressure {
        /// File.
        name: String,
        /// Rows after the first.
        rows: usize,
        /// Their pressure, hPa.
        pressure_hpa: f64,
    },
    /// Nothing, or too little, after the top.
    #[error(
        "{name}: the file has no descent: of {rows} rows read, {kept} {} below the top of the flight and in order; at least 2 are needed{}",
        if *kept == 1 { "lies" } else { "lie" },
        reasons_in_brackets(.left_out)
    )]
    NoDescent {
        /// File.
        name: String,
        /// Rows read.
        rows: usize,
        /// Rows below the top.
        kept: usize,
        /// What was left out, in words.
        left_out: Vec<String>,
    },
    /// No two rows of the ascent are above each other.
    #[error(
        "{name}: the profile never rises: of {rows} rows read, none is above the first of the ascent{}",
        reasons_in_brackets(.left_out)
    )]
    NeverRises {
        /// File.
        name: String,
        /// Rows read.
        rows: usize,
        /// What was left out, in words.
        left_out: Vec<String>,
    },
}

impl ProfileError {
    /// Where the fault is: the file, and the line where there is one.
    #[must_use]
    pub fn place(&self) -> Place {
        match self {
            Self::NoUndulation { name, line, .. } | Self::TimeBackwards { name, line, .. } => {
                Place::line(name, *line)
            }
            Self::TwoReleases { name, second, .. } => Place::line(name, second.line),
            Self::NoCoordinate { name }
            | Self::NoObservation { name }
            | Self::NoTracking { name, .. }
            | Self::OtherFlight { name, .. }
            | Self::NoAnchor { name }
            | Self::NoAnchorRow { name }
            | Self::TooFewRows { name, .. }
            | Self::OnePressure { name, .. }
            | Self::NoDescent { name, .. }
            | Self::NeverRises { name, .. } => Place::default().in_file(name),
        }
    }
}

/// Where a flight begins in a file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OneRelease {
    /// Line.
    pub line: usize,
    /// Its time, s, when it has one.
    pub time_s: Option<f64>,
}

impl fmt::Display for OneRelease {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.time_s {
            Some(time_s) => write!(f, "time_s {time_s} (line {})", self.line),
            None => write!(f, "line {}", self.line),
        }
    }
}

fn reasons_in_brackets(left_out: &[String]) -> String {
    if left_out.is_empty() {
        String::new()
    } else {
        format!(" ({})", left_out.join("; "))
    }
}

/// Whether there is enough temperature for TEMP: two rows above the first.
#[must_use]
pub fn has_temperature(profile: &Profile) -> bool {
    let above = profile.rows.iter().skip(1);
    above.filter(|r| r.temperature_c.is_some()).nth(1).is_some()
}

/// Whether a row observes anything at its place.
fn observes(row: &Row) -> bool {
    row.temperature_c.is_some()
        || row.humidity_pct.is_some()
        || row.dewpoint_c.is_some()
        || row.wind.is_some()
}

/// A row, and the line it came from (0 for one that came from the sheet).
struct Numbered {
    line: usize,
    row: Row,
}

impl Numbered {
    /// The coordinate, made to fall along an ascent on either axis.
    fn falling(&self, axis: Axis) -> Option<f64> {
        match axis {
            Axis::Pressure => self.row.pressure_hpa,
            Axis::Height => self.row.height_gpm.map(|z| -z),
        }
    }
}

/// Makes the ascent of raw rows and what the sheet says.
///
/// Rows that are no part of the ascent are left out and reported, one finding per kind
/// with a count and the first line.
///
/// # Errors
/// No coordinate or no observation at all, time running backwards, or fewer
/// than two rows that rise.
pub fn build(raw: &RawProfile, context: &Context) -> Result<Noted<Profile>, ProfileError> {
    build_for(Form::Temp, raw, context)
}

/// Which positions a profile is to have where the file gives none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Positions {
    /// Those of the wind.
    FromWind,
    /// None: nothing asks for them.
    #[cfg_attr(not(feature = "cli"), expect(dead_code, reason = "the command asks"))]
    Unasked,
}

/// The same for a code form: TEMP stands on pressure where there is any, PILOT
/// on height where there is any, unless the sheet wants its levels by pressure.
///
/// Of a descent the file may hold the whole flight or the fall alone: the rows
/// from the top on are kept, the highest of them is where the descent begins. The
/// surface observation of the sheet and the height of its ground say nothing of
/// the place where the sonde came down and are not used.
///
/// # Errors
/// As [`build`]; for a descent, fewer than two rows below the top.
pub fn build_for(
    form: Form,
    raw: &RawProfile,
    context: &Context,
) -> Result<Noted<Profile>, ProfileError> {
    build_with(Positions::FromWind, form, raw, context)
}

/// The same with positions only where they are asked for.
pub(crate) fn build_with(
    positions: Positions,
    form: Form,
    raw: &RawProfile,
    context: &Context,
) -> Result<Noted<Profile>, ProfileError> {
    let prepared = prepare::prepare(form, raw, context)?;
    let (mut profile, mut findings) = match form {
        Form::Descent => descent::build(&prepared.raw, context)?,
        _ => built(positions, form, &prepared.raw, context)?,
    };
    profile.derived.splice(0..0, prepared.derived);
    profile.unsettled.splice(0..0, prepared.unsettled);
    findings.splice(0..0, prepared.findings);
    Ok((profile, findings).into())
}

/// Makes the ascent (or drop) of prepared rows.
fn built(
    positions: Positions,
    form: Form,
    raw: &RawProfile,
    context: &Context,
) -> Result<(Profile, Vec<Finding>), ProfileError> {
    let name = &raw.name;
    let mut tally = Tally::default();
    let axis = axis_of(form, raw, context)?;
    let motion = match context.station.kind {
        StationKind::Drop => Motion::Falling,
        _ => Motion::Rising,
    };
    let ground = ground_m(context);
    let mut rows = usable(&raw.rows, context, ground, axis, &mut tally);
    if motion == Motion::Falling {
        // Lowest first, as every profile is.
        rows.reverse();
    }
    if !rows.iter().any(|r| observes(&r.row)) && !raw.rows.iter().any(derive::observes) {
        return Err(ProfileError::NoObservation { name: name.clone() });
    }
    ascent::trim_top(&mut rows, &mut tally);
    let mut unsettled = None;
    if let Some(surface) = &context.surface {
        let first = rows.first().filter(|_| motion == Motion::Rising);
        unsettled = first.and_then(|r| surface::compare(r, surface, &context.station, name));
        join::join(&mut rows, surface, &context.station, axis, &mut tally);
    }
    let ends_aloft = motion == Motion::Falling && ends_aloft(&rows, context);
    if let Some(first) = rows.first_mut().filter(|_| !ends_aloft) {
        first.row.height_gpm = first.row.height_gpm.or(ground_m(context));
    }
    let mut rows = ascent::along(rows, axis, motion, &mut tally);
    ascent::trim_top(&mut rows, &mut tally);
    if rows.len() < 2 {
        let name = name.clone();
        let count = raw.rows.len();
        return Err(if count < 2 {
            ProfileError::TooFewRows { name, rows: count }
        } else {
            ProfileError::NeverRises {
                name,
                rows: count,
                left_out: tally.left_out(),
            }
        });
    }
    let mut rows: Vec<Row> = rows.into_iter().map(|r| r.row).collect();
    one_pressure(name, axis, &rows)?;
    let mut derived = tally.derived();
    let mut findings = Vec::new();
    if axis == Axis::Pressure {
        heights::complete(&mut rows, name, &mut derived, &mut findings);
    }
    if motion == Motion::Rising {
        floats::tell(&rows, name, &mut findings);
    }
    withhold::apply(&mut rows, &context.orders, &mut findings);
    let station = &context.station;
    if positions == Positions::FromWind {
        drift::complete(
            &mut rows,
            motion,
            station,
            name,
            &mut derived,
            &mut findings,
        );
    }
    let profile = Profile {
        axis,
        motion,
        ends_aloft,
        rows,
        derived,
        unsettled: unsettled.into_iter().collect(),
        ..Profile::default()
    };
    tell_missing(&profile, name, &mut findings);
    findings.extend(tally.findings(name, axis));
    findings.splice(0..0, profile.unsettled.clone());
    Ok((profile, findings))
}

/// Refuses rows that are all at one pressure but for the first, which may be the
/// surface observation.
fn one_pressure(name: &str, axis: Axis, rows: &[Row]) -> Result<(), ProfileError> {
    // Fewer rows may well share the last figure of a pressure.
    const FEW: usize = 4;
    let own = rows.get(1..).unwrap_or_default();
    let mut pressures = own.iter().map(|r| r.pressure_hpa);
    let first = pressures.next().flatten();
    match first {
        Some(pressure_hpa)
            if axis == Axis::Pressure && rows.len() >= FEW && pressures.all(|p| p == first) =>
        {
            Err(ProfileError::OnePressure {
                name: name.to_owned(),
                rows: own.len(),
                pressure_hpa,
            })
        }
        _ => Ok(()),
    }
}

/// Whole elements that are not there.
fn tell_missing(profile: &Profile, name: &str, findings: &mut Vec<Finding>) {
    let file = || Place::default().in_file(name);
    if !has_temperature(profile) {
        findings.push(if profile.descent {
            finding!(DescentTemperatureMissing, file())
        } else {
            finding!(TemperatureMissing, file())
        });
    }
    let last = |has: fn(&Row) -> bool| {
        let row = profile.rows.iter().rev().find(|r| has(r));
        row.and_then(|r| r.pressure_hpa)
    };
    let ends = last(|r| r.temperature_c.is_some()).zip(last(|r| r.wind.is_some()));
    if let Some((air, wind)) = ends
        && has_temperature(profile)
        && !profile.descent
        && air - wind >= limits().missing_thermal_layer_hpa
    {
        findings.push(finding!(
            TemperatureEnds,
            file(),
            temperature_hpa = air,
            wind_hpa = wind
        ));
    }
    if profile.rows.iter().all(|r| r.wind.is_none()) {
        findings.push(finding!(WindMissing, file()));
    }
}

/// Whether a drop ended above the surface: no pressure is given for the surface
/// and the lowest row is high above it.
fn ends_aloft(rows: &[Numbered], context: &Context) -> bool {
    let known = (context.surface.as_ref()).is_some_and(|s| s.pressure_hpa.is_some());
    let height = rows.first().and_then(|r| r.row.height_gpm);
    !known && height.is_some_and(|z| is_aloft(z, context))
}

/// Whether a height, gpm, is too far above the ground for a last row near it.
fn is_aloft(height_gpm: f64, context: &Context) -> bool {
    height_gpm > ground_m(context).unwrap_or(0.0) + limits().drop_surface_gpm
}

/// TEMP and descents: pressure, unless fewer than two rows have it and heights are there.
/// PILOT: height, unless fewer than two rows have it, or pressure is everywhere
/// and wanted.
fn axis_of(form: Form, raw: &RawProfile, context: &Context) -> Result<Axis, ProfileError> {
    let pressures = raw.rows.iter().filter(|r| r.pressure_hpa.is_some());
    let pressures = pressures.take(2).count();
    if form == Form::Pilot {
        let winds = raw.rows.iter().filter(|r| derive::has_wind(r));
        let failed = winds.filter(|r| r.pressure_hpa.is_none()).take(2).count();
        let wanted = level_manner_wanted(&context.coding);
        if wanted == PilotLevels::Pressure && pressures > 1 && failed == 0 {
            return Ok(Axis::Pressure);
        }
    }
    let heights = (raw.rows.iter()).filter(|r| r.height_gpm.is_some() || r.altitude_m.is_some());
    let heights = heights.take(2).count();
    match (pressures, heights) {
        (0, 0) => Err(ProfileError::NoCoordinate {
            name: raw.name.clone(),
        }),
        (p, h) if p >= h && (form != Form::Pilot || h < 2) => Ok(Axis::Pressure),
        _ => Ok(Axis::Height),
    }
}

fn in_time(raw: &RawProfile) -> Result<(), ProfileError> {
    let mut before = f64::NEG_INFINITY;
    for r in &raw.rows {
        if let Some(time_s) = r.time_s {
            if time_s < before {
                return Err(ProfileError::TimeBackwards {
                    name: raw.name.clone(),
                    line: r.line,
                    time_s,
                    before,
                });
            }
            before = time_s;
        }
    }
    Ok(())
}

/// Height of the release point, or else of the ground, m.
fn ground_m(context: &Context) -> Option<f64> {
    context.station.release_m.or(context.station.elevation_m)
}

/// The rows above the ground (m) where it is known, with a
/// coordinate; derived values in.
fn usable(
    raw: &[RawRow],
    context: &Context,
    ground: Option<f64>,
    axis: Axis,
    tally: &mut Tally,
) -> Vec<Numbered> {
    let latitude = context.station.latitude_deg;
    let mut rows = Vec::with_capacity(raw.len());
    for r in raw {
        let height = derive::height_gpm(r, latitude);
        let below = height.zip(ground);
        if below.is_some_and(|(z, g)| z < g - BELOW_GROUND_GPM) {
            tally.add(
                if derive::observes(r) {
                    Kind::BelowGround
                } else {
                    Kind::ComputedBelowGround
                },
                r.line,
            );
            continue;
        }
        let row = Numbered {
            line: r.line,
            row: derive::row(r, height, tally),
        };
        if row.falling(axis).is_none() {
            let kind = if axis == Axis::Pressure && row.row.wind.is_some() && height.is_some() {
                Kind::WindWithoutPressure
            } else {
                Kind::NoCoordinate
            };
            tally.add(kind, r.line);
            continue;
        }
        rows.push(row);
    }
    rows
}
