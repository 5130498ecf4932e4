//! Checks of a processed ascent before it is coded: what nature, sensors and
//! balloons do not do, and whether sonde and station agree at release.
//!
//! No regulation states these limits. Each stands in
//! `tables/profile_limits.csv` with its source, mostly common practice, and a
//! finding says which. Rows are counted from 1, lowest first, as the profile
//! has them; these are not lines of the file.

mod ascent;
mod dry;
mod frozen;
mod gaps;
mod hydrostatic;
mod jumps;
mod position;
mod release;
mod series;
mod stability;
#[cfg(test)]
mod tests;
mod wind;

use std::collections::BTreeMap;

use crate::model::finding::{Code, Finding, Place, Severity};
use crate::model::{Context, Profile};
use series::Series;

/// The greatest number of findings of one code that are reported one by one (our choice).
const MOST_OF_A_CODE: usize = 20;

/// Findings of the checks before release that speak against it.
const AGAINST_RELEASE: [Code; 15] = [
    Code::GroundPressure,
    Code::GroundTemperature,
    Code::GroundHumidity,
    Code::GroundDryHumidity,
    Code::GroundBattery,
    Code::GroundTime,
    Code::SondePressure,
    Code::SondeTemperature,
    Code::SondeHumidity,
    Code::ReleaseHeight,
    Code::SurfaceHeight,
    Code::SurfaceHeightLate,
    Code::SurfacePressure,
    Code::StationDistance,
    Code::StationPositionSlip,
];

/// Checks a processed ascent; [`Code`] has every finding. Of
/// each code the first twenty are reported; one more finding says how many follow.
///
/// Those of severity error stop a report (see [`stopping`]).
///
/// Where rows have no time, that between them is taken from their distance in
/// height at the usual rate of ascent. Rates of ascent are not judged in a fall.
#[must_use]
pub fn check(profile: &Profile, context: &Context) -> Vec<Finding> {
    let series = Series::new(profile, context);
    let mut findings = Vec::new();
    release::check(&series, context, &mut findings);
    position::check(&series, context, &mut findings);
    dry::check(&series, &mut findings);
    let frozen = frozen::check(&series, &mut findings);
    let spikes = wind::spikes(&series, &mut findings);
    let leaps = jumps::check(&series, &frozen, &spikes, &mut findings);
    stability::check(&series, &mut findings);
    hydrostatic::check(&series, &leaps, &mut findings);
    gaps::check(&series, &mut findings);
    ascent::check(&series, &leaps, &mut findings);
    wind::drift(&series, &mut findings);
    shortened(findings)
}

/// What speaks against the release in a processed ascent: sonde and surface
/// observation further apart than they may be. The first of these checks, which
/// are made of every ascent that is coded.
#[must_use]
pub fn at_release(profile: &Profile, context: &Context) -> Vec<Finding> {
    let mut findings = Vec::new();
    release::check(&Series::new(profile, context), context, &mut findings);
    findings.retain(|f| f.severity >= Severity::Warning && !f.is(Code::ReleaseHeight));
    findings
}

/// What stands against any report of these rows, findings of severity error: what
/// the sheet must settle ([`Profile::unsettled`]), a surface or a station that is
/// not that of the flight, humidity of exactly 0 %. Each says what to do.
#[must_use]
pub fn stopping(profile: &Profile, context: &Context) -> Vec<Finding> {
    let series = Series::new(profile, context);
    let mut findings = profile.unsettled.clone();
    release::check(&series, context, &mut findings);
    position::check(&series, context, &mut findings);
    dry::check(&series, &mut findings);
    findings.retain(|f| f.severity == Severity::Error);
    findings
}

/// One line on the checks before release: `go`, `go; not compared: …` or
/// `look again: …`.
#[must_use]
pub fn verdict(findings: &[Finding]) -> String {
    let against: Vec<&str> = (findings.iter())
        .filter(|f| f.severity >= Severity::Warning)
        .filter(|f| AGAINST_RELEASE.iter().any(|&code| f.is(code)))
        .map(|f| f.what.as_str())
        .collect();
    if !against.is_empty() {
        return format!("look again: {}", against.join("; "));
    }
    let open = findings.iter().find(|f| f.is(Code::NotCompared));
    open.map_or_else(|| "go".to_owned(), |f| format!("go; {}", f.what))
}

/// The first findings of each code, and how many more there were.
fn shortened(findings: Vec<Finding>) -> Vec<Finding> {
    let mut reported: BTreeMap<(String, Severity), usize> = BTreeMap::new();
    let mut kept = Vec::new();
    for finding in findings {
        let key = (finding.code.clone().into_owned(), finding.severity);
        let count = reported.entry(key).or_default();
        *count += 1;
        if *count <= MOST_OF_A_CODE {
            kept.push(finding);
        }
    }
    for ((code, severity), count) in reported {
        if count > MOST_OF_A_CODE {
            let like = kept.iter().find(|f| f.code == code).map(|f| Finding {
                severity,
                what: format!("{} more findings `{code}`", count - MOST_OF_A_CODE),
                place: Place::default(),
                ..f.clone()
            });
            kept.extend(like);
        }
    }
    kept
}
