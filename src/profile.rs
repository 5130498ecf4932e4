//! Raw rows become the rows of one ascent, lowest first.

use thiserror::Error;

use crate::finding::{Finding, Place};
use crate::physics::gravity::geopotential_gpm;
use crate::physics::humidity::{dewpoint_c, relative_humidity_pct, virtual_temperature_k};
use crate::physics::hydrostatic::{height_below, thickness_gpm};
use crate::sounding::{
    Axis, Context, Element, Motion, Order, Position, PressureAt, Profile, Row, Surface, Wind,
};
use crate::source::{RawProfile, RawRow};

/// Heights this far below the release point are below the ground, gpm.
const BELOW_GROUND_GPM: f64 = 5.0;
/// Humidity and dew point that disagree by more are told, K.
const DISAGREE_K: f64 = 0.5;

/// Why rows are not an ascent.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum ProfileError {
    /// Neither coordinate.
    #[error(
        "{0}: pressure_hpa and height_gpm (or altitude_m) are missing in every row; one of them is needed"
    )]
    NoCoordinate(String),
    /// Time goes back.
    #[error(
        "{name}:{line}: time_s is {time_s}, earlier than the row above ({before}); rows must be in order of time"
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
    /// Fewer than two rows are left.
    #[error(
        "{name}: the profile never rises: {rows} rows read, {kept} left with falling pressure; at least 2 are needed"
    )]
    NeverRises {
        /// File.
        name: String,
        /// Rows read.
        rows: usize,
        /// Rows left.
        kept: usize,
    },
}

/// Whether there is enough temperature for TEMP: two rows above the first.
#[must_use]
pub fn has_temperature(profile: &Profile) -> bool {
    profile
        .rows
        .iter()
        .skip(1)
        .filter(|r| r.temperature_c.is_some())
        .take(2)
        .count()
        == 2
}

/// Rows left out, by kind: a count and the first line.
#[derive(Default)]
struct Tally(Vec<(&'static str, &'static str, usize, usize)>);

impl Tally {
    fn add(&mut self, code: &'static str, what: &'static str, line: usize) {
        match self.0.iter_mut().find(|t| t.0 == code) {
            Some(t) => t.2 += 1,
            None => self.0.push((code, what, 1, line)),
        }
    }

    fn findings(self, name: &str) -> impl Iterator<Item = Finding> {
        self.0.into_iter().map(move |(code, what, count, line)| {
            Finding::info(
                code,
                Place::line(name, line),
                format!("{count} rows {what}"),
            )
        })
    }
}

/// Makes the ascent of raw rows and what the sheet says.
///
/// # Errors
/// No coordinate, time running backwards, or fewer than two rows of falling
/// pressure.
pub fn build(raw: &RawProfile, context: &Context) -> Result<(Profile, Vec<Finding>), ProfileError> {
    let name = &raw.name;
    in_time(raw)?;
    let mut tally = Tally::default();
    let mut findings = Vec::new();
    let ground = context.station.release_m.or(context.station.elevation_m);
    let latitude = context.station.latitude_deg;
    let pressure = raw.rows.iter().any(|r| r.pressure_hpa.is_some());
    let height = raw
        .rows
        .iter()
        .any(|r| r.height_gpm.is_some() || r.altitude_m.is_some());
    if !pressure && !height {
        return Err(ProfileError::NoCoordinate(name.clone()));
    }
    let mut kept: Vec<(usize, Row)> = Vec::with_capacity(raw.rows.len());
    for r in &raw.rows {
        if r.time_s.is_some_and(|t| t < 0.0) {
            tally.add("before-release", "before release left out", r.line);
            continue;
        }
        let row = values(r, latitude, &mut tally);
        let place = if pressure {
            row.pressure_hpa
        } else {
            row.height_gpm
        };
        if place.is_none() {
            tally.add("no-coordinate", "without pressure left out", r.line);
        } else if let (Some(z), Some(g)) = (row.height_gpm, ground)
            && z < g - BELOW_GROUND_GPM
        {
            tally.add("below-ground", "below the ground left out", r.line);
        } else {
            kept.push((r.line, row));
        }
    }
    let observed =
        |r: &Row| r.temperature_c.is_some() || r.wind.is_some() || r.humidity_pct.is_some();
    while kept.last().is_some_and(|(_, r)| !observed(r)) {
        if let Some((line, _)) = kept.pop() {
            tally.add(
                "no-observation",
                "at the top without any observation left out",
                line,
            );
        }
    }
    if let Some(surface) = &context.surface {
        join(&mut kept, surface, context, &mut tally);
    }
    let mut rows = rising(kept, pressure, &mut tally);
    if rows.len() < 2 {
        return Err(ProfileError::NeverRises {
            name: name.clone(),
            rows: raw.rows.len(),
            kept: rows.len(),
        });
    }
    if let Some(first) = rows.first_mut() {
        first.height_gpm = first.height_gpm.or(ground);
    }
    let mut derived = Vec::new();
    if pressure && !height && integrate(&mut rows) {
        derived.push("height_gpm".to_owned());
        findings.push(Finding::info(
            "height-integrated",
            Place::default().in_file(name),
            "geopotential integrated hydrostatically from the release height",
        ));
    }
    withhold(&mut rows, context, &mut findings);
    if rows.iter().all(|r| r.wind.is_none()) {
        findings.push(Finding::warning(
            "wind-missing",
            Place::default().in_file(name),
            "no row has a wind",
        ));
    }
    findings.extend(tally.findings(name));
    let axis = if pressure {
        Axis::Pressure
    } else {
        Axis::Height
    };
    Ok((
        Profile {
            axis,
            motion: Motion::Rising,
            rows,
            derived,
        },
        findings,
    ))
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

/// A raw row with every element that follows from the others.
fn values(r: &RawRow, latitude: Option<f64>, tally: &mut Tally) -> Row {
    let place = match (r.latitude_deg, r.longitude_deg) {
        (Some(latitude_deg), Some(lon)) => Some(Position {
            latitude_deg,
            longitude_deg: if lon > 180.0 { lon - 360.0 } else { lon },
        }),
        _ => None,
    };
    let at = r.latitude_deg.or(latitude).unwrap_or(45.0);
    let height_gpm = r
        .height_gpm
        .or_else(|| r.altitude_m.map(|m| geopotential_gpm(m, at)));
    let wind = match (r.wind_dir_deg, r.wind_speed_ms, r.wind_u_ms, r.wind_v_ms) {
        (Some(dir_deg), Some(speed_ms), _, _) => Some(Wind { dir_deg, speed_ms }),
        (None, Some(0.0), _, _) => Some(Wind {
            dir_deg: 0.0,
            speed_ms: 0.0,
        }),
        (_, _, Some(u), Some(v)) => Some(Wind {
            dir_deg: if u == 0.0 && v == 0.0 {
                0.0
            } else {
                (-u).atan2(-v).to_degrees().rem_euclid(360.0)
            },
            speed_ms: u.hypot(v),
        }),
        _ => None,
    };
    let mut humidity_pct = r.humidity_pct;
    if humidity_pct.is_some_and(|u| u > 100.0) {
        tally.add(
            "humidity-over-100",
            "with humidity over 100 % read as 100 %",
            r.line,
        );
        humidity_pct = Some(100.0);
    }
    let mut row = Row {
        time_s: r.time_s,
        pressure_hpa: r.pressure_hpa,
        height_gpm,
        temperature_c: r.temperature_c,
        dewpoint_c: r.dewpoint_c.filter(|_| r.temperature_c.is_some()),
        humidity_pct: humidity_pct.filter(|_| r.temperature_c.is_some()),
        wind,
        place,
        given: r.flags,
    };
    complete_humidity(&mut row);
    if let (Some(t), Some(u), Some(td)) = (r.temperature_c, humidity_pct, r.dewpoint_c)
        && dewpoint_c(t, u).is_some_and(|own| (own - td).abs() > DISAGREE_K)
    {
        tally.add(
            "humidity-dewpoint-disagree",
            "whose humidity and dew point disagree by more than 0.5 K (each used as given)",
            r.line,
        );
    }
    row
}

/// Dew point from humidity or humidity from dew point, whichever is missing.
fn complete_humidity(row: &mut Row) {
    match (row.temperature_c, row.humidity_pct, row.dewpoint_c) {
        (Some(t), Some(u), None) => row.dewpoint_c = dewpoint_c(t, u),
        (Some(t), None, Some(td)) => {
            row.humidity_pct = Some(relative_humidity_pct(t, td).min(100.0))
        }
        _ => {}
    }
}

/// The surface observation of the sheet over the first row.
fn join(rows: &mut Vec<(usize, Row)>, surface: &Surface, context: &Context, tally: &mut Tally) {
    let station = &context.station;
    let mut pressure = surface.pressure_hpa;
    let release = station.release_m.or(station.elevation_m);
    if let (PressureAt::Barometer, Some(p), Some(barometer), Some(release)) =
        (surface.pressure_at, pressure, station.barometer_m, release)
    {
        // From the barometer down (or up) to the release point.
        let t = surface.temperature_c.unwrap_or(15.0);
        let step = barometer - release;
        let per_hpa = height_below(0.0, p, t, surface.dewpoint_c, p + 1.0);
        pressure = Some(p - step / per_hpa);
    }
    if let Some(p) = pressure {
        while let Some((line, row)) = rows.first()
            && rows.len() > 1
            && row.pressure_hpa.is_some_and(|q| q > p)
            && rows
                .get(1)
                .is_some_and(|(_, r)| r.pressure_hpa.is_some_and(|q| q >= p))
        {
            tally.add(
                "below-surface",
                "below the surface pressure of the sheet left out",
                *line,
            );
            rows.remove(0);
        }
    }
    let Some((_, first)) = rows.first_mut() else {
        return;
    };
    first.pressure_hpa = pressure.or(first.pressure_hpa);
    if let Some(t) = surface.temperature_c {
        first.temperature_c = Some(t);
        first.dewpoint_c = None;
    }
    if surface.humidity_pct.is_some() || surface.dewpoint_c.is_some() {
        first.humidity_pct = surface.humidity_pct;
        first.dewpoint_c = surface.dewpoint_c;
    }
    complete_humidity(first);
    if let (Some(dir_deg), Some(speed_ms)) = (surface.wind_dir_deg, surface.wind_speed_ms) {
        first.wind = Some(Wind { dir_deg, speed_ms });
    }
}

/// The rows whose pressure is not above any earlier one (or whose height is
/// above all earlier ones); those after the top are told apart.
fn rising(kept: Vec<(usize, Row)>, pressure: bool, tally: &mut Tally) -> Vec<Row> {
    // Falls along an ascent on either axis.
    let coordinate = |r: &Row| {
        if pressure {
            r.pressure_hpa
        } else {
            r.height_gpm.map(|z| -z)
        }
        .unwrap_or(f64::INFINITY)
    };
    let top = kept
        .iter()
        .enumerate()
        .min_by(|l, r| {
            coordinate(&l.1.1)
                .total_cmp(&coordinate(&r.1.1))
                .then(r.0.cmp(&l.0))
        })
        .map_or(0, |(i, _)| i);
    let mut rows: Vec<Row> = Vec::with_capacity(kept.len());
    let mut least = f64::INFINITY;
    for (i, (line, row)) in kept.into_iter().enumerate() {
        let here = coordinate(&row);
        if i > top {
            tally.add("after-burst", "after the top left out", line);
        } else if here > least || (!pressure && here == least) {
            tally.add(
                "pressure-rises",
                "whose pressure is not below an earlier one left out",
                line,
            );
        } else {
            least = here;
            rows.push(row);
        }
    }
    if pressure {
        // Equal pressures in the order of height.
        rows.sort_by(|l, r| {
            let z = |r: &Row| r.height_gpm.unwrap_or(f64::NEG_INFINITY);
            let both = l.height_gpm.is_some() && r.height_gpm.is_some();
            coordinate(r).total_cmp(&coordinate(l)).then(if both {
                z(l).total_cmp(&z(r))
            } else {
                std::cmp::Ordering::Equal
            })
        });
    }
    let falls = rows
        .first()
        .zip(rows.last())
        .is_some_and(|(a, b)| coordinate(b) < coordinate(a));
    if !falls {
        rows.truncate(1);
    }
    rows
}

/// Heights by hydrostatic integration from the first; false when it has none.
fn integrate(rows: &mut [Row]) -> bool {
    let mut last: Option<(f64, f64, f64)> = None;
    for row in rows {
        let (Some(p), Some(t)) = (row.pressure_hpa, row.temperature_c) else {
            continue;
        };
        let tv = virtual_temperature_k(t, row.dewpoint_c, p);
        let z = match last {
            None => row.height_gpm,
            Some((p0, tv0, z0)) => Some(z0 + thickness_gpm((p0, tv0), (p, tv))),
        };
        let Some(z) = z else { return false };
        row.height_gpm = Some(z);
        last = Some((p, tv, z));
    }
    last.is_some()
}

/// Masks what the operator withholds.
fn withhold(rows: &mut [Row], context: &Context, findings: &mut Vec<Finding>) {
    for order in &context.orders {
        let Order::Withhold {
            element,
            from_hpa,
            to_hpa,
            reason,
        } = order
        else {
            continue;
        };
        let mut count = 0;
        for row in rows.iter_mut() {
            if row
                .pressure_hpa
                .is_some_and(|p| p <= *from_hpa && p >= *to_hpa)
            {
                count += 1;
                match element {
                    Element::Wind => row.wind = None,
                    Element::Humidity => (row.humidity_pct, row.dewpoint_c) = (None, None),
                    Element::Temperature => {
                        row.temperature_c = None;
                        (row.humidity_pct, row.dewpoint_c) = (None, None);
                    }
                }
            }
        }
        let name = match element {
            Element::Temperature => "temperature",
            Element::Humidity => "humidity",
            Element::Wind => "wind",
        };
        let because = reason.as_deref().unwrap_or("no reason given");
        let what =
            format!("{name} withheld from {from_hpa} to {to_hpa} hPa in {count} rows: {because}");
        findings.push(Finding::info("withheld", Place::key("withhold"), what));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sounding::Station;

    /// Raw rows of (hPa, gpm), a second apart, with a temperature and a wind.
    fn raw(rows: &[(f64, f64)]) -> RawProfile {
        let row = |(i, &(p, z)): (usize, &(f64, f64))| RawRow {
            line: i + 2,
            pressure_hpa: Some(p),
            height_gpm: Some(z),
            temperature_c: Some(10.0),
            humidity_pct: Some(50.0),
            wind_dir_deg: Some(90.0),
            wind_speed_ms: Some(5.0),
            ..RawRow::default()
        };
        RawProfile {
            name: "x".to_owned(),
            rows: rows.iter().enumerate().map(row).collect(),
        }
    }

    fn kept(rows: &[(f64, f64)], context: &Context) -> (Vec<(f64, f64)>, Vec<&'static str>) {
        let (profile, findings) = build(&raw(rows), context).unwrap();
        let rows = profile
            .rows
            .iter()
            .map(|r| (r.pressure_hpa.unwrap(), r.height_gpm.unwrap()))
            .collect();
        (rows, findings.iter().map(|f| f.code).collect())
    }

    #[test]
    fn greater_pressures_leave_and_equal_ones_stay_in_order_of_height() {
        let rows = [
            (990.0, 100.0),
            (980.0, 190.0),
            (985.0, 145.0),
            (980.0, 188.0),
            (970.0, 280.0),
        ];
        assert_eq!(
            kept(&rows, &Context::default()),
            (
                vec![
                    (990.0, 100.0),
                    (980.0, 188.0),
                    (980.0, 190.0),
                    (970.0, 280.0)
                ],
                vec!["pressure-rises"]
            )
        );
    }

    #[test]
    fn rows_below_the_ground_and_after_the_top_leave() {
        let context = Context {
            station: Station {
                elevation_m: Some(100.0),
                ..Station::default()
            },
            ..Context::default()
        };
        let rows = [
            (1000.0, 10.0),
            (990.0, 100.0),
            (980.0, 190.0),
            (985.0, 150.0),
        ];
        assert_eq!(
            kept(&rows, &context),
            (
                vec![(990.0, 100.0), (980.0, 190.0)],
                vec!["below-ground", "after-burst"]
            )
        );
    }

    #[test]
    fn the_sheet_gives_the_first_level() {
        let context = Context {
            station: Station {
                elevation_m: Some(100.0),
                barometer_m: Some(108.3),
                ..Station::default()
            },
            surface: Some(Surface {
                pressure_hpa: Some(990.0),
                pressure_at: PressureAt::Barometer,
                temperature_c: Some(12.0),
                humidity_pct: Some(100.0),
                ..Surface::default()
            }),
            ..Context::default()
        };
        let (profile, _) = build(&raw(&[(991.2, 100.0), (980.0, 190.0)]), &context).unwrap();
        let first = &profile.rows[0];
        // About 8.3 m a hectopascal near the ground: 990 hPa at the barometer
        // is 991.0 hPa at the release point.
        assert!((first.pressure_hpa.unwrap() - 991.0).abs() < 0.05);
        assert_eq!(first.temperature_c, Some(12.0));
        assert!((first.dewpoint_c.unwrap() - 12.0).abs() < 1e-6);
        assert_eq!(first.wind.unwrap().dir_deg, 90.0);
    }

    #[test]
    fn what_is_withheld_is_missing() {
        let context = Context {
            orders: vec![Order::Withhold {
                element: Element::Temperature,
                from_hpa: 985.0,
                to_hpa: 975.0,
                reason: None,
            }],
            ..Context::default()
        };
        let (profile, findings) = build(
            &raw(&[(990.0, 100.0), (980.0, 190.0), (970.0, 280.0)]),
            &context,
        )
        .unwrap();
        let there: Vec<bool> = profile
            .rows
            .iter()
            .map(|r| r.humidity_pct.is_some())
            .collect();
        assert_eq!(there, [true, false, true]);
        assert_eq!(findings[0].code, "withheld");
    }
}
