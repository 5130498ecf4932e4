//! The verdict of a ground check: go, or look again, with what differs.

use jiff::civil::DateTime;

use crate::model::finding::{Finding, Place, Severity, finding};
use crate::model::{GroundCheck, GroundCheckResult, GroundDifference, GroundQuantity, utc};
use crate::tables::ground_check_limits;

/// What came of a ground check.
#[derive(Clone, Debug, PartialEq)]
pub struct GroundVerdict {
    /// Go, look again, or incomplete.
    pub result: GroundCheckResult,
    /// What is outside its limit, or not complete.
    pub findings: Vec<Finding>,
}

impl std::fmt::Display for GroundVerdict {
    /// `go`, `look again: …` or `incomplete: …`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.result.words())?;
        let outside = self.findings.iter();
        let outside = outside.filter(|f| f.severity >= Severity::Warning);
        for (number, finding) in outside.enumerate() {
            let between = if number == 0 { ": " } else { "; " };
            write!(f, "{between}{}", finding.what)?;
        }
        if self.result == GroundCheckResult::Incomplete {
            f.write_str(": no value of the sonde has one of a reference beside it")?;
        }
        Ok(())
    }
}

/// Judges a ground check; `release` where it is known.
#[must_use]
pub fn ground_check(check: &GroundCheck, release: Option<DateTime>) -> GroundVerdict {
    let differences = check.differences();
    let mut findings: Vec<Finding> = differences.iter().filter_map(outside).collect();
    findings.extend(battery(check));
    findings.extend(time(check, release));
    let result = match (findings.is_empty(), differences.is_empty()) {
        (false, _) => GroundCheckResult::LookAgain,
        (true, false) => GroundCheckResult::Go,
        (true, true) => GroundCheckResult::Incomplete,
    };
    findings.extend(half(check));
    GroundVerdict { result, findings }
}

fn place(key: &str) -> Place {
    Place::key(&format!("ground_check.{key}"))
}

/// A difference outside its limit.
fn outside(difference: &GroundDifference) -> Option<Finding> {
    let lim = ground_check_limits();
    let GroundDifference {
        quantity,
        reference,
        sonde,
    } = *difference;
    let off = difference.off();
    let is_outside = |most: f64| off.abs() > most;
    match quantity {
        GroundQuantity::Pressure => is_outside(lim.pressure_hpa).then(|| {
            finding!(
                GroundPressure,
                place("sonde_pressure_hpa"),
                sonde = sonde,
                reference = reference,
                off = off,
                [most = lim.pressure_hpa]
            )
        }),
        GroundQuantity::Temperature => is_outside(lim.temperature_k).then(|| {
            finding!(
                GroundTemperature,
                place("sonde_temperature_c"),
                sonde = sonde,
                reference = reference,
                off = off,
                [most = lim.temperature_k]
            )
        }),
        GroundQuantity::Humidity => is_outside(lim.humidity_pct).then(|| {
            finding!(
                GroundHumidity,
                place("sonde_humidity_pct"),
                sonde = sonde,
                reference = reference,
                off = off,
                [most = lim.humidity_pct]
            )
        }),
        GroundQuantity::DryHumidity => is_outside(lim.dry_humidity_pct).then(|| {
            finding!(
                GroundDryHumidity,
                place("dry_humidity_pct"),
                sonde = sonde,
                [most = lim.dry_humidity_pct]
            )
        }),
    }
}

fn battery(check: &GroundCheck) -> Option<Finding> {
    let (battery, least) = check.battery_v.zip(check.battery_least_v)?;
    let place = place("battery_v");
    (battery < least).then(|| finding!(GroundBattery, place, battery = battery, [least = least]))
}

/// A check after the release, or long before it.
fn time(check: &GroundCheck, release: Option<DateTime>) -> Option<Finding> {
    let (time, release) = check.time.zip(release)?;
    let before_min = release.duration_since(time).as_secs_f64() / 60.0;
    let most = ground_check_limits().age_min;
    (!(0.0..=most).contains(&before_min)).then(|| {
        finding!(
            GroundTime,
            place("time"),
            time = utc::print(time),
            release = utc::print(release),
            [most = most]
        )
    })
}

/// Quantities of which one value is missing.
fn half(check: &GroundCheck) -> Option<Finding> {
    let pairs = check.pairs().into_iter();
    let half = pairs.filter(|(_, reference, sonde)| reference.is_some() != sonde.is_some());
    let names: Vec<&str> = half
        .map(|(quantity, ..)| match quantity {
            GroundQuantity::Pressure => "pressure",
            GroundQuantity::Temperature => "temperature",
            GroundQuantity::Humidity | GroundQuantity::DryHumidity => "humidity",
        })
        .collect();
    (!names.is_empty()).then(|| {
        finding!(
            GroundCheckHalf,
            Place::key("ground_check"),
            quantities = names.join(", ")
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// Limits by the table: 1 hPa, 0.5 K, 5 %, 2 % in dry air, 0 to 240 min. By hand: at
    /// the limit is go, a tenth more is not, on both sides; a missing value is not judged.
    #[test]
    fn every_limit_has_its_boundary() {
        type Set = fn(&mut GroundCheck, f64);
        let cases: [(Set, [f64; 4], [f64; 4]); 4] = [
            (
                |c, v| (c.reference_pressure_hpa, c.sonde_pressure_hpa) = (Some(1013.2), Some(v)),
                [1012.2, 1013.2, 1014.2, 1014.1],
                [1012.1, 1014.3, 1020.0, 900.0],
            ),
            (
                |c, v| (c.reference_temperature_c, c.sonde_temperature_c) = (Some(-0.2), Some(v)),
                [-0.7, -0.2, 0.3, 0.2],
                [-0.8, 0.4, 5.0, -40.0],
            ),
            (
                |c, v| (c.reference_humidity_pct, c.sonde_humidity_pct) = (Some(44.7), Some(v)),
                [39.7, 44.7, 49.7, 45.0],
                [39.6, 49.8, 100.0, 0.0],
            ),
            (
                |c, v| c.dry_humidity_pct = Some(v),
                [-2.0, 0.0, 2.0, 1.9],
                [-2.1, 2.1, 30.0, -10.0],
            ),
        ];
        for (set, go, again) in cases {
            let judged = |value| {
                let mut check = GroundCheck::default();
                set(&mut check, value);
                ground_check(&check, None)
            };
            for value in go {
                assert_eq!(judged(value).result, GroundCheckResult::Go, "{value}");
                assert_eq!(judged(value).to_string(), "go");
            }
            for value in again {
                let found = judged(value);
                assert_eq!(found.result, GroundCheckResult::LookAgain, "{value}");
                assert_eq!(found.findings.len(), 1, "{value}");
            }
        }
        let nothing = ground_check(&GroundCheck::default(), None);
        assert_eq!(nothing.result, GroundCheckResult::Incomplete);
    }

    #[test]
    fn battery_time_and_half_a_pair_are_judged() {
        let check = |battery: f64, minutes: i64| {
            let release = date(2031, 1, 15).at(11, 23, 0, 0);
            let check = GroundCheck {
                time: Some(release.saturating_sub(jiff::SignedDuration::from_mins(minutes))),
                battery_v: Some(battery),
                battery_least_v: Some(2.7),
                dry_humidity_pct: Some(0.4),
                ..GroundCheck::default()
            };
            ground_check(&check, Some(release)).to_string()
        };
        assert_eq!(check(2.7, 0), "go");
        assert_eq!(check(2.7, 240), "go");
        assert_eq!(
            check(2.6, 240),
            "look again: the battery has 2.6 V at the ground check"
        );
        let late = "look again: the ground check was at 2031-01-15T11:24:00Z, the release at 2031-01-15T11:23:00Z";
        assert_eq!(check(2.7, -1), late);
        assert!(check(2.7, 241).starts_with("look again: the ground check was at "));
        let half = GroundCheck {
            reference_temperature_c: Some(4.0),
            ..GroundCheck::default()
        };
        let found = ground_check(&half, None);
        assert_eq!(found.result, GroundCheckResult::Incomplete);
        assert_eq!(found.findings.len(), 1);
    }
}
