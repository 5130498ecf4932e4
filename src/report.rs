//! Profile, levels and context become one report, in unrounded values.
//!
//! "Unrounded" leaves off only what lies beyond a billionth of the unit.

use std::collections::BTreeMap;

use crate::figure::is_upper;
use crate::finding::{Finding, Place};
use crate::levels::Levels;
use crate::quantity::trim;
use crate::sounding::{
    Clouds, Context, Grain, Kept, Part, Position, Profile, Reach, Report, Section7, Sky, When, Wind,
};

/// Builds the report of a profile.
///
/// Parts C and D are there only when something lies above 100 hPa. Section 7
/// goes where the sheet says, section 8 into Part B; a sheet that says nothing
/// of clouds gives `/////` (with a finding).
///
/// Returns `None` when the context has no release time.
#[must_use]
pub fn build(
    profile: &Profile,
    levels: Levels,
    context: &Context,
    reach: Reach,
) -> Option<(Report, Vec<Finding>)> {
    let mut context = context.clone();
    let release = context.flight.release?;
    let standard = context.flight.standard_time.unwrap_or(release);
    let mut levels = trimmed(levels);
    let mut findings = std::mem::take(&mut levels.findings);
    if context.clouds.is_none() {
        context.clouds = Some(Clouds {
            sky: Some(Sky::Unseen),
            ..Clouds::default()
        });
        findings.push(
            Finding::info(
                "no-clouds",
                Place::key("clouds"),
                "the sheet says nothing of clouds: coded /////",
            )
            .clause("WMO-No. 306, FM 35 section 8"),
        );
    }
    let upper = levels
        .levels
        .iter()
        .any(|l| l.row.pressure_hpa.is_some_and(is_upper));
    let all = context.coding.section7 == Section7::All;
    let mut parts = BTreeMap::new();
    for part in Part::ALL {
        if part.is_upper() && (!upper || reach == Reach::To100) {
            continue;
        }
        parts.insert(
            part,
            Kept {
                section7: all || part == Part::B,
                section8: part == Part::B,
                measuring: if part == Part::B {
                    context.equipment.measuring
                } else {
                    None
                },
                ..Kept::default()
            },
        );
    }
    let report = Report {
        context,
        when: When::Full { release, standard },
        axis: profile.axis,
        motion: profile.motion,
        levels: levels.levels,
        missing: levels.missing,
        maxima: levels.maxima,
        parts,
        grain: Grain::None,
        reach,
    };
    Some((report, findings))
}

/// The levels with their values trimmed, so that all forms start from the same.
fn trimmed(mut levels: Levels) -> Levels {
    fn each(values: &mut [&mut Option<f64>]) {
        for value in values.iter_mut() {
            **value = value.map(trim);
        }
    }
    for level in &mut levels.levels {
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
        row.place = row.place.map(|p| Position {
            latitude_deg: trim(p.latitude_deg),
            longitude_deg: trim(p.longitude_deg),
        });
    }
    for layer in &mut levels.missing {
        each(&mut [&mut layer.from_hpa, &mut layer.to_hpa]);
    }
    for maximum in &mut levels.maxima {
        maximum.pressure_hpa = trim(maximum.pressure_hpa);
        if let Some(shear) = &mut maximum.shear {
            each(&mut [&mut shear.below_ms, &mut shear.above_ms]);
        }
    }
    levels
}
