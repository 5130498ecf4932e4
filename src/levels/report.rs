//! Profile, levels and context become one report, in unrounded values.
//!
//! "Unrounded" leaves off only what lies beyond a billionth of the unit.

use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

use jiff::civil::DateTime;

use crate::levels::{Levels, every_row};
use crate::model::finding::{Finding, Place, finding};
use crate::model::quantity::trim;
use crate::model::{
    At, Axis, Clouds, Context, Equipment, Form, Level, Part, PartContent, Position, Profile, Reach,
    Report, Resolution, Roles, Sky, Start, StationKind, When, Wind,
};
use crate::physics::gravity::{MIDDLE_LATITUDE_DEG, altitude_m};
use crate::tables;
use crate::tables::figure::is_upper;
use crate::tables::{Practice, additional_group, level_manner, practice};

/// Builds the report of a profile.
///
/// Parts C and D are there only when something lies above 100 hPa. In TEMP
/// section 7 goes where the sheet says, section 8 into Part B; a sheet that says
/// nothing of clouds gives `/////` (with a finding).
///
/// A descent has no text, so no sections and no groups of the sheet; its parts only
/// tell what lies above 100 hPa. [`Report::start`] says where it begins.
///
/// The public way is `issue::report::build`, which checks context, rows and orders.
pub(crate) fn build(
    form: Form,
    profile: &Profile,
    levels: Levels,
    context: &Context,
    reach: Reach,
    release: DateTime,
) -> (Report, Vec<Finding>) {
    let mut context = context.clone();
    let standard = context.flight.standard_time.unwrap_or(release);
    let mut levels = trimmed(levels);
    let mut findings = lacking(form, profile, &context);
    findings.append(&mut levels.findings);
    let temp = form == Form::Temp;
    let pilot = form == Form::Pilot;
    // Drops have no section 8 (FM 37).
    let clouded = temp && context.station.kind != StationKind::Drop;
    if clouded && context.clouds.is_none() {
        context.clouds = Some(Clouds {
            sky: Some(Sky::Unseen),
            ..Clouds::default()
        });
        findings.push(finding!(NoClouds, Place::key("clouds")));
    }
    if pilot {
        context.coding.pilot_levels = Some(level_manner(&context.coding, profile.axis));
    }
    let parts = parts(&Holds {
        form,
        context: &context,
        levels: &levels.levels,
        divide_gpm: levels.divide_gpm,
        reach,
    });
    let start = profile.descent.then(|| start(profile, &context, release));
    let report = Report {
        form,
        context,
        when: When::Full { release, standard },
        axis: profile.axis,
        motion: profile.motion,
        start,
        levels: levels.levels,
        missing: levels.missing,
        maxima: levels.maxima,
        parts,
        regional: levels.regional,
        divide_gpm: levels.divide_gpm,
        resolution: Resolution::None,
        reach,
    };
    (report, findings)
}

/// What every text report should have from the sheet and has not: the surface
/// observation, and the instruments that section 7 (31313) and a4 name.
fn lacking(form: Form, profile: &Profile, context: &Context) -> Vec<Finding> {
    let mut findings = Vec::new();
    let station = &context.station;
    if form == Form::Descent {
        return findings;
    }
    let first = profile.rows.first();
    let observed = context.surface.is_some() || first.is_some_and(|r| r.given.any(Roles::SURFACE));
    if !observed && station.kind != StationKind::Drop {
        findings.push(finding!(NoSurface, Place::key("surface")));
    }
    let absent = missing_equipment(form, &context.equipment);
    if let Some(first) = absent.first() {
        let key = Place::key(&format!("equipment.{first}"));
        findings.push(finding!(NoEquipment, key, keys = absent.join(", ")));
    }
    findings
}

/// The keys under `[equipment]` that the text form codes and no sheet gives.
pub(crate) fn missing_equipment(form: Form, equipment: &Equipment) -> Vec<&'static str> {
    let (temp, text) = (form == Form::Temp, form != Form::Descent);
    let coded = [
        (temp, "radiosonde", equipment.radiosonde),
        (temp, "radiation", equipment.radiation),
        (temp, "tracking", equipment.tracking),
        (text, "measuring", equipment.measuring),
    ];
    let absent = coded.iter().filter(|(coded, _, v)| *coded && v.is_none());
    absent.map(|&(_, key, _)| key).collect()
}

/// What a report holds, as far as its parts depend on it.
pub(crate) struct Holds<'a> {
    pub(crate) form: Form,
    pub(crate) context: &'a Context,
    pub(crate) levels: &'a [Level],
    pub(crate) divide_gpm: Option<f64>,
    pub(crate) reach: Reach,
}

/// The parts of a report, and what each carries besides levels.
pub(crate) fn parts(holds: &Holds<'_>) -> BTreeMap<Part, PartContent> {
    let (form, context, reach) = (holds.form, holds.context, holds.reach);
    let (temp, pilot) = (form == Form::Temp, form == Form::Pilot);
    // Drops have no section 8 (FM 37).
    let clouded = temp && context.station.kind != StationKind::Drop;
    // Rows of the whole profile, which have no role, are in no part.
    let of_parts = || holds.levels.iter().filter(|l| !l.roles.is_empty());
    let mut above = of_parts().filter(|l| is_above(l, holds.divide_gpm));
    // PILOT Part D is nothing but levels of section 4.
    let winds = Roles::SIG_WIND | Roles::REGIONAL;
    let winds_above = above.clone().any(|l| l.roles.any(winds));
    let upper = above.next().is_some();
    let section7 = tables::section7_parts(&context.coding);
    let standard = context.flight.standard_time;
    let asked = standard.and_then(|at| tables::hours_parts(&context.coding, form, at.hour()));
    let measuring = measuring(form, context, holds.levels);
    let mut parts = BTreeMap::new();
    for part in Part::ALL {
        if part.is_upper() && (!upper || reach == Reach::To100) {
            continue;
        }
        if asked.is_some_and(|asked| !asked.contains(&part)) {
            continue;
        }
        if pilot && part == Part::D && !winds_above {
            continue;
        }
        if form == Form::Descent {
            parts.insert(part, PartContent::default());
            continue;
        }
        let kept = PartContent {
            section7: temp && section7.contains(&part),
            section8: clouded && part == Part::B,
            measuring: measuring.filter(|_| !temp || part == Part::B),
            regional: context.section9.get(&part).cloned().unwrap_or_default(),
            national: context.section10.get(&part).cloned().unwrap_or_default(),
            ..PartContent::default()
        };
        parts.insert(part, kept);
    }
    // A Region that gives reasons says in C and D why the ascent ended early.
    let reason = regional_reason(context).filter(|_| temp && !upper && reach == Reach::Whole);
    for part in [Part::C, Part::D] {
        let wanted = asked.is_none_or(|asked| asked.contains(&part));
        if let Some(reason) = reason.as_ref().filter(|_| wanted) {
            parts.insert(part, nil(Some(reason.clone())));
        }
    }
    parts
}

/// The report with every row of its profile as a level: those that were chosen
/// keep their roles, the others have none. Humidity that is not to be reported
/// stays out; an early report takes the rows up to 100 hPa.
#[must_use]
pub fn with_every_row(report: &Report, profile: &Profile) -> Report {
    let mut whole = report.clone();
    let chosen: BTreeSet<usize> = report
        .levels
        .iter()
        .filter_map(|level| match level.at {
            At::Row(row) => Some(row),
            _ => None,
        })
        .collect();
    let rest = every_row(profile, &report.context.coding)
        .enumerate()
        .filter(|(row, _)| !chosen.contains(row))
        .map(|(row, values)| Level {
            row: values,
            at: At::Row(row),
            roles: Roles::empty(),
            why: Vec::new(),
        })
        .map(trimmed_level)
        .filter(|l| report.reach == Reach::Whole || !is_above(l, report.divide_gpm));
    whole.levels.extend(rest);
    let up = |level: &Level| match report.axis {
        Axis::Pressure => level.row.pressure_hpa.map_or(f64::INFINITY, |p| -p),
        Axis::Height => level.order(),
    };
    // Rows of one pressure keep their order; a level between rows comes after.
    let number = |level: &Level| match level.at {
        At::Row(row) => row,
        _ => usize::MAX,
    };
    whole
        .levels
        .sort_by(|l, r| up(l).total_cmp(&up(r)).then(number(l).cmp(&number(r))));
    whole
}

/// Where and when a descent begins: its highest row.
fn start(profile: &Profile, context: &Context, release: DateTime) -> Start {
    let Some(top) = profile.rows.last() else {
        return Start::default();
    };
    let after = |s: f64| {
        let after = Duration::try_from_secs_f64(s).ok()?;
        release.checked_add(after).ok()
    };
    // As heights were made from altitudes when the profile was read.
    let latitude = top.place.map(|p| p.latitude_deg);
    let latitude = latitude.or(context.station.latitude_deg);
    let latitude = latitude.unwrap_or(MIDDLE_LATITUDE_DEG);
    Start {
        time: top.time_s.and_then(after),
        time_s: top.time_s.map(trim),
        place: top.place.map(trimmed_place),
        height_m: top.height_gpm.map(|z| trim(altitude_m(z, latitude))),
    }
}

/// The group of section 9 that gives the reason of no or a short report, where
/// the Region has one (table 0421).
pub(crate) fn regional_reason(context: &Context) -> Option<String> {
    practice(&context.coding, Practice::Reason)?;
    context.flight.reason.map(additional_group)
}

/// A part that says only that there is no report.
pub(crate) fn nil(reason: Option<String>) -> PartContent {
    PartContent {
        nil: true,
        regional: reason.into_iter().collect(),
        ..PartContent::default()
    }
}

/// Whether a level belongs to Parts C and D.
fn is_above(level: &Level, divide_gpm: Option<f64>) -> bool {
    let row = &level.row;
    match divide_gpm {
        Some(divide) if !level.roles.any(Roles::STANDARD) => {
            row.height_gpm.is_some_and(|z| z > divide)
        }
        _ => row.pressure_hpa.is_some_and(is_upper),
    }
}

/// a4: where the pressure element failed on the way, the figure says so.
fn measuring(form: Form, context: &Context, levels: &[Level]) -> Option<u8> {
    /// Pressure instrument with wind equipment, and the same when it failed
    /// (table 0265).
    const INSTRUMENT: u8 = 0;
    const FAILED: u8 = 4;
    let standard = |by_height: bool| {
        levels
            .iter()
            .any(|l| l.roles.any(Roles::STANDARD) && l.roles.any(Roles::FROM_HEIGHT) == by_height)
    };
    match context.equipment.measuring {
        Some(INSTRUMENT) if form == Form::Pilot && standard(true) && standard(false) => {
            Some(FAILED)
        }
        other => other,
    }
}

fn each(values: &mut [&mut Option<f64>]) {
    for value in values.iter_mut() {
        **value = value.map(trim);
    }
}

fn trimmed_level(mut level: Level) -> Level {
    let row = &mut level.row;
    each(&mut [
        &mut row.time_s,
        &mut row.pressure_hpa,
        &mut row.height_gpm,
        &mut row.temperature_c,
        &mut row.dewpoint_c,
        &mut row.humidity_pct,
    ]);
    row.wind = row.wind.map(|w| Wind {
        dir_deg: trim(w.dir_deg),
        speed_ms: trim(w.speed_ms),
    });
    row.place = row.place.map(trimmed_place);
    level
}

fn trimmed_place(place: Position) -> Position {
    Position {
        latitude_deg: trim(place.latitude_deg),
        longitude_deg: trim(place.longitude_deg),
    }
}

/// The levels with their values trimmed, so that all forms start from the same.
fn trimmed(mut levels: Levels) -> Levels {
    levels.levels = std::mem::take(&mut levels.levels)
        .into_iter()
        .map(trimmed_level)
        .collect();
    for layer in &mut levels.missing {
        each(&mut [&mut layer.from_hpa, &mut layer.to_hpa]);
    }
    for maximum in &mut levels.maxima {
        each(&mut [&mut maximum.pressure_hpa, &mut maximum.height_gpm]);
        if let Some(shear) = &mut maximum.shear {
            each(&mut [&mut shear.below_ms, &mut shear.above_ms]);
        }
    }
    let regional = &mut levels.regional;
    each(&mut [&mut regional.stability_k]);
    let wind = |w: Wind| Wind {
        dir_deg: trim(w.dir_deg),
        speed_ms: trim(w.speed_ms),
    };
    for mean in regional.mean_winds.iter_mut().flatten().flatten() {
        *mean = wind(*mean);
    }
    for low in &mut regional.low_winds {
        low.pressure_hpa = trim(low.pressure_hpa);
        low.wind = wind(low.wind);
    }
    for one in &mut regional.extrapolated {
        one.height_gpm = trim(one.height_gpm);
    }
    levels
}
