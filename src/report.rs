//! Profile, levels and context become one report, in unrounded values.

use std::collections::BTreeMap;

use crate::figure::is_upper;
use crate::finding::{Finding, Place};
use crate::levels::Levels;
use crate::sounding::{
    Clouds, Context, Grain, Kept, Part, Profile, Reach, Report, Section7, Sky, When,
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
    let mut findings = levels.findings;
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
