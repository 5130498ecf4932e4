//! A report beside the last ones of its station: what changed more than the air does in
//! the time between.
//!
//! A value is outside its limit where it is so against every one of the last reports that
//! has it: one bad report does not make the next one look bad. The limits are rows of
//! `tables/continuity_limits.csv`; no regulation states them.

use jiff::civil::DateTime;

use crate::model::finding::{Finding, Place, finding};
use crate::model::{Level, Report, Roles, When, Wind};
use crate::tables::{Compared, ContinuityLimit, continuity_limits};

/// How far back reports are compared, hours (our choice: a station with one flight a day
/// that missed one has none to compare).
pub const REACH_H: f64 = 36.0;

/// The most reports that are compared (our choice).
pub const MOST: usize = 3;

/// Of a shift in height, the share that the thickness below may have changed by where the
/// shift is one of the whole ascent (our choice).
const SHIFT_SHARE: f64 = 1.0 / 3.0;

/// The surfaces from which a thickness below another is taken, the first that both have.
const BASES_HPA: [f64; 4] = [1000.0, 925.0, 850.0, 700.0];

/// An earlier report and what it is called.
#[derive(Clone, Debug, PartialEq)]
pub struct Previous {
    /// In findings.
    pub name: String,
    /// The report.
    pub report: Report,
}

/// Hours from an earlier report to a later one, by their standard times; `None` where one
/// is not known. Of a text message the month is the one that brings it nearest before.
#[must_use]
pub fn hours_between(earlier: &Report, later: &Report) -> Option<f64> {
    let (_, later) = later.when.in_full()?;
    let earlier = match (earlier.when.in_full(), earlier.when) {
        (Some((_, standard)), _) => standard,
        (None, When::Coded { day, hour, .. }) => nearest_before(later, day, hour)?,
        (None, When::Full { .. }) => return None,
    };
    Some(later.duration_since(earlier).as_secs_f64() / 3600.0)
}

/// The last time of that day and hour that is not after another time.
fn nearest_before(later: DateTime, day: u8, hour: u8) -> Option<DateTime> {
    let (day, hour) = (i8::try_from(day).ok()?, i8::try_from(hour).ok()?);
    let days = std::iter::successors(Some(later.date()), |date| date.yesterday().ok());
    let mut times = days.take(62).filter(|date| date.day() == day);
    times.find_map(|date| {
        let at = date.at(hour.clamp(0, 23), 0, 0, 0);
        (at <= later).then_some(at)
    })
}

/// Compares a report with the last ones of its station, the latest first.
#[must_use]
pub fn check(report: &Report, previous: &[Previous]) -> Vec<Finding> {
    let dated = previous.iter().filter_map(|previous| {
        let hours = hours_between(&previous.report, report)?;
        (hours > 0.0 && hours <= REACH_H).then_some((previous, hours))
    });
    let dated: Vec<(&Previous, f64)> = dated.take(MOST).collect();
    let mut findings = Vec::new();
    let mut shifted = false;
    for limit in continuity_limits() {
        let jumps: Option<Vec<Jump<'_>>> = dated
            .iter()
            .filter_map(|&(previous, hours)| Jump::of(limit, report, previous, hours))
            .map(|jump| jump.is_outside().then_some(jump))
            .collect();
        let Some(first) = jumps.and_then(|jumps| jumps.into_iter().next()) else {
            continue;
        };
        let finding = first.finding(report);
        let is_shift = finding.is(crate::model::Code::ContinuityHeightShift);
        // A shift of the whole ascent is reported at its lowest surface.
        if !(is_shift && shifted) {
            findings.push(finding);
        }
        shifted |= is_shift;
    }
    findings
}

/// A value now and then.
#[derive(Clone, Copy)]
enum Value {
    Number(f64),
    Wind(Wind),
}

struct Jump<'a> {
    limit: &'static ContinuityLimit,
    previous: &'a Previous,
    hours: f64,
    now: Value,
    then: Value,
}

impl<'a> Jump<'a> {
    fn of(
        limit: &'static ContinuityLimit,
        report: &Report,
        previous: &'a Previous,
        hours: f64,
    ) -> Option<Self> {
        Some(Self {
            limit,
            previous,
            hours,
            now: value(limit, report)?,
            then: value(limit, &previous.report)?,
        })
    }

    /// The difference, to a thousandth; of winds the length of the vector.
    fn off(&self) -> f64 {
        let off = match (self.now, self.then) {
            (Value::Number(now), Value::Number(then)) => now - then,
            (Value::Wind(now), Value::Wind(then)) => {
                let (now, then) = (now.components_ms(), then.components_ms());
                (now.0 - then.0).hypot(now.1 - then.1)
            }
            _ => 0.0,
        };
        (off * 1000.0).round() / 1000.0
    }

    fn is_outside(&self) -> bool {
        self.off().abs() > self.limit.after(self.hours)
    }

    fn finding(&self, report: &Report) -> Finding {
        let limit = self.limit;
        let (off, most) = (self.off(), limit.after(self.hours));
        let hours = (self.hours * 10.0).round() / 10.0;
        let (off_size, name) = (off.abs(), self.previous.name.as_str());
        let level = level_words(limit);
        let up = |more: &'static str, less: &'static str| if off < 0.0 { less } else { more };
        let place = limit.pressure_hpa.map(Place::pressure).unwrap_or_default();
        let numbers = match (self.now, self.then) {
            (Value::Number(now), Value::Number(then)) => (now, then),
            (Value::Wind(now), Value::Wind(then)) => {
                return finding!(
                    ContinuityWind,
                    place,
                    level = level,
                    off = off_size,
                    hours = hours,
                    now = wind_words(now),
                    then = wind_words(then),
                    [most = most, name = name]
                );
            }
            _ => (f64::NAN, f64::NAN),
        };
        let (now, then) = numbers;
        match limit.compared {
            Compared::Height => {
                let side = up("higher", "lower");
                let pressure_hpa = limit.pressure_hpa.unwrap_or_default();
                let thickness = thickness_change(pressure_hpa, report, &self.previous.report);
                match thickness.filter(|change| change.abs() <= off_size * SHIFT_SHARE) {
                    Some(thickness) => finding!(
                        ContinuityHeightShift,
                        place,
                        level = level,
                        off = off_size,
                        side = side,
                        hours = hours,
                        now = now,
                        then = then,
                        thickness = thickness,
                        [most = most]
                    ),
                    None => finding!(
                        ContinuityHeight,
                        place,
                        level = level,
                        off = off_size,
                        side = side,
                        hours = hours,
                        now = now,
                        then = then,
                        [most = most, name = name]
                    ),
                }
            }
            Compared::Thickness => finding!(
                ContinuityThickness,
                place,
                level = level,
                off = off_size,
                side = up("greater", "smaller"),
                hours = hours,
                now = now,
                then = then,
                [most = most, name = name]
            ),
            Compared::SurfacePressure | Compared::TropopausePressure => finding!(
                ContinuityPressure,
                place,
                level = level,
                off = off_size,
                side = up("higher", "lower"),
                hours = hours,
                now = now,
                then = then,
                [most = most, name = name]
            ),
            Compared::Temperature
            | Compared::SurfaceTemperature
            | Compared::TropopauseTemperature
            | Compared::Wind => finding!(
                ContinuityTemperature,
                place,
                level = level,
                off = off_size,
                side = up("higher", "lower"),
                hours = hours,
                now = now,
                then = then,
                [most = most, name = name]
            ),
        }
    }
}

fn level_words(limit: &ContinuityLimit) -> String {
    let hpa = |p: Option<f64>| format!("{} hPa", p.unwrap_or_default());
    match limit.compared {
        Compared::Height | Compared::Temperature | Compared::Wind => hpa(limit.pressure_hpa),
        Compared::Thickness => {
            format!(
                "from {} to {}",
                hpa(limit.from_hpa),
                hpa(limit.pressure_hpa)
            )
        }
        Compared::SurfacePressure => "surface level".to_owned(),
        Compared::SurfaceTemperature => "the surface".to_owned(),
        Compared::TropopausePressure => "first tropopause".to_owned(),
        Compared::TropopauseTemperature => "the first tropopause".to_owned(),
    }
}

fn wind_words(wind: Wind) -> String {
    format!("{:03.0}° {:.1} m/s", wind.dir_deg, wind.speed_ms)
}

/// The value that a limit is for; `None` where the report has none.
fn value(limit: &ContinuityLimit, report: &Report) -> Option<Value> {
    let first = |roles: Roles| report.levels.iter().find(|level| level.roles.any(roles));
    let surface = || first(Roles::SURFACE).map(|level| &level.row);
    let tropopause = || first(Roles::TROPOPAUSE).map(|level| &level.row);
    let at = || Some(&standard(report, limit.pressure_hpa?)?.row);
    let number = match limit.compared {
        Compared::Height => at()?.height_gpm,
        Compared::Temperature => at()?.temperature_c,
        Compared::Thickness => thickness(report, limit.from_hpa?, limit.pressure_hpa?),
        Compared::SurfacePressure => surface()?.pressure_hpa,
        Compared::SurfaceTemperature => surface()?.temperature_c,
        Compared::TropopausePressure => tropopause()?.pressure_hpa,
        Compared::TropopauseTemperature => tropopause()?.temperature_c,
        Compared::Wind => return at()?.wind.map(Value::Wind),
    };
    number.map(Value::Number)
}

/// The level of a standard surface; another may be at the same pressure.
pub(super) fn standard(report: &Report, pressure_hpa: f64) -> Option<&Level> {
    let mut levels = report.levels.iter();
    levels.find(|level| {
        let at = level.row.pressure_hpa;
        level.roles.any(Roles::STANDARD) && at.is_some_and(|p| (p - pressure_hpa).abs() < 0.05)
    })
}

fn height(report: &Report, pressure_hpa: f64) -> Option<f64> {
    standard(report, pressure_hpa)?.row.height_gpm
}

fn thickness(report: &Report, from_hpa: f64, to_hpa: f64) -> Option<f64> {
    Some(height(report, to_hpa)? - height(report, from_hpa)?)
}

/// By how much the thickness below a surface has changed.
fn thickness_change(pressure_hpa: f64, now: &Report, then: &Report) -> Option<f64> {
    BASES_HPA.into_iter().find_map(|from_hpa| {
        let now = thickness(now, from_hpa, pressure_hpa)?;
        Some(now - thickness(then, from_hpa, pressure_hpa)?)
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::indexing_slicing, reason = "a test stops at the first fault")]

    use super::*;
    use crate::model::{At, Context, Row};
    use jiff::civil::date;

    /// Invented: standard surfaces of an ordinary winter day, with what is added to every
    /// height and to the temperature at 500 hPa.
    fn report(day: i8, hour: i8, up_gpm: f64, warmer_k: f64) -> Report {
        let standard = date(2031, 1, day).at(hour, 0, 0, 0);
        let level = |p: f64, z: f64, t: f64, roles: Roles| Level {
            row: Row {
                pressure_hpa: Some(p),
                height_gpm: Some(z),
                temperature_c: Some(t),
                wind: Wind::from_polar(Some(270.0), Some(20.0)),
                ..Row::default()
            },
            at: At::Received,
            roles,
            why: Vec::new(),
        };
        let mut report = Report::empty(Context::default());
        report.when = When::Full {
            release: standard,
            standard,
        };
        report.levels = vec![
            level(1005.0, 84.0, 4.5, Roles::SURFACE),
            level(1000.0, 120.0 + up_gpm, 4.0, Roles::STANDARD),
            level(500.0, 5450.0 + up_gpm, -22.0 + warmer_k, Roles::STANDARD),
            level(300.0, 8940.0 + up_gpm, -48.0, Roles::STANDARD),
            level(250.0, 10_100.0 + up_gpm, -58.0, Roles::TROPOPAUSE),
            level(100.0, 15_900.0 + up_gpm, -60.0, Roles::STANDARD),
        ];
        report
    }

    fn previous(report: Report) -> Previous {
        let name = "the last".to_owned();
        Previous { name, report }
    }

    fn codes(findings: &[Finding]) -> Vec<&str> {
        findings.iter().map(|f| f.code.as_ref()).collect()
    }

    /// By the table at 500 hPa: 50 + 8 × 12 = 146 gpm in 12 h, 50 + 8 × 24 = 242 gpm in
    /// 24 h; 4 + 0.5 × 12 = 10 K in 12 h. The limit itself is within.
    #[test]
    fn limits_grow_with_the_hours() {
        let now = report(15, 12, 0.0, 0.0);
        let found = |day, hour, up, warmer| check(&now, &[previous(report(day, hour, up, warmer))]);
        assert!(found(15, 0, 146.0 - 14.0, 0.0).is_empty());
        assert!(found(15, 0, 0.0, 10.0).is_empty());
        assert_eq!(codes(&found(15, 0, 0.0, 10.1)), ["continuity-temperature"]);
        assert_eq!(codes(&found(15, 0, 0.0, -10.1)), ["continuity-temperature"]);
        // 100 hPa: 60 + 6 × 12 = 132 gpm; of a shift the lowest surface is named.
        let shift = found(15, 0, 133.0, 0.0);
        assert_eq!(codes(&shift), ["continuity-height-shift"]);
        assert_eq!(
            shift[0].what,
            "100 hPa is 133 gpm lower than 12 h ago (15900 after 16033 gpm), and the thickness below it is nearly unchanged (+0 gpm)"
        );
        let shift = found(15, 0, 180.0, 0.0);
        assert_eq!(codes(&shift), ["continuity-height-shift"]);
        assert!(
            shift[0]
                .what
                .starts_with("500 hPa is 180 gpm lower than 12 h ago")
        );
        assert!(
            shift[0]
                .allowed
                .as_deref()
                .unwrap_or_default()
                .contains("146 gpm")
        );
        // 24 h: 100 hPa 60 + 6 × 24 = 204, 500 hPa 242, 300 hPa 60 + 10 × 24 = 300.
        assert!(found(14, 12, 204.0, 0.0).is_empty());
        assert_eq!(
            codes(&found(14, 12, 205.0, 0.0)),
            ["continuity-height-shift"]
        );
        // Neither later nor long ago is compared.
        assert!(found(16, 0, 900.0, 0.0).is_empty());
        assert!(found(13, 23, 900.0, 0.0).is_empty());
        assert!(!found(14, 0, 900.0, 0.0).is_empty());
    }

    #[test]
    fn a_thickness_that_changed_is_named_as_such() {
        let now = report(15, 12, 0.0, 0.0);
        let mut then = report(15, 0, 0.0, 0.0);
        // Only what lies above 1000 hPa: 1000 to 500 hPa allows 40 + 6 × 12 = 112 gpm.
        for level in &mut then.levels[2..] {
            level.row.height_gpm = level.row.height_gpm.map(|z| z + 147.0);
        }
        let found = check(&now, &[previous(then)]);
        assert_eq!(
            codes(&found),
            [
                "continuity-height",
                "continuity-height",
                "continuity-thickness"
            ]
        );
        assert!(
            found[2]
                .what
                .starts_with("the thickness from 1000 hPa to 500 hPa is 147 gpm smaller")
        );
    }

    /// Wind at 500 hPa: 20 + 1.5 × 12 = 38 m/s; opposite winds of 20 m/s differ by 40.
    #[test]
    fn wind_surface_and_tropopause_are_compared() {
        let now = report(15, 12, 0.0, 0.0);
        let mut then = report(15, 0, 0.0, 0.0);
        then.levels[2].row.wind = Wind::from_polar(Some(90.0), Some(20.0));
        // Surface: 5 + 1.5 × 12 = 23 hPa, 10 + 0.8 × 12 = 19.6 K.
        then.levels[0].row.pressure_hpa = Some(1028.1);
        then.levels[0].row.temperature_c = Some(24.2);
        // Tropopause: 60 + 8 × 12 = 156 hPa, 8 + 0.7 × 12 = 16.4 K.
        then.levels[4].row.pressure_hpa = Some(406.1);
        then.levels[4].row.temperature_c = Some(-41.5);
        let found = check(&now, &[previous(then.clone())]);
        assert_eq!(
            codes(&found),
            [
                "continuity-pressure",
                "continuity-temperature",
                "continuity-pressure",
                "continuity-temperature",
                "continuity-wind"
            ]
        );
        assert!(
            found[4].what.contains("a vector of 40.0 m/s"),
            "{}",
            found[4].what
        );
        // One report among the last ones that agrees is enough.
        let both = [previous(then), previous(report(14, 12, 0.0, 0.0))];
        assert!(check(&now, &both).is_empty());
    }

    #[test]
    fn a_text_is_of_the_nearest_month_before() {
        let now = report(15, 12, 0.0, 0.0);
        let mut then = report(15, 0, 0.0, 0.0);
        let mut coded = |day, hour| {
            then.when = When::Coded {
                day,
                hour,
                release: None,
                date: None,
            };
            hours_between(&then, &now)
        };
        assert_eq!(coded(15, 0), Some(12.0));
        assert_eq!(coded(15, 12), Some(0.0));
        assert_eq!(coded(14, 18), Some(18.0));
        // 16 December, 13 UTC: 29 days and 23 hours.
        assert_eq!(coded(16, 13), Some(29.0 * 24.0 + 23.0));
        assert_eq!(coded(32, 0), None);
    }
}
