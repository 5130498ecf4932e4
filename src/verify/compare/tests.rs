#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test stops at the first fault"
)]

use std::fs;
use std::path::Path;

use super::*;
use crate::forms::text::{message, parse};
use crate::input::sheet;
use crate::input::sheet::Source;
use crate::issue::report;
use crate::levels::{choose, choose_winds};
use crate::model::{PartContent, Reach};
use crate::{input, profile};

const SAMPLES: [&str; 13] = [
    "minute",
    "winter_jet",
    "low_burst",
    "tropical",
    "polar_night",
    "gaps",
    "plateau",
    "twin_levels",
    "windless",
    "ship",
    "mobile",
    "drop",
    "pilot",
];

fn sample_with(name: &str, change: impl Fn(&mut crate::model::Context)) -> Report {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let toml = fs::read_to_string(root.join(format!("{name}.toml"))).unwrap();
    let csv = fs::read(root.join(format!("{name}.csv"))).unwrap();
    let (sheet, _) = sheet::read(&[Source { name, text: &toml }]).unwrap();
    let raw = input::text::read(&csv, name, &sheet.reading).unwrap().value;
    let mut context = sheet.context.clone();
    change(&mut context);
    let (form, choose): (_, fn(_, _, _, _) -> _) = if name == "pilot" {
        (Form::Pilot, choose_winds)
    } else {
        (Form::Temp, choose)
    };
    let ascent = profile::build_for(form, &raw, &context).unwrap().value;
    let levels = choose(&ascent, &context.coding, &context.orders, Reach::Whole);
    report::build(form, &ascent, levels, &context, Reach::Whole)
        .unwrap()
        .value
}

fn sample(name: &str) -> Report {
    sample_with(name, |_| ())
}

/// What a receiver of the report's message has.
fn received(report: &Report) -> Report {
    message(report).unwrap().value.report()
}

fn mirrored(difference: Difference) -> Difference {
    let other = |side: Side| match side {
        Side::Left => Side::Right,
        Side::Right => Side::Left,
    };
    let mut turned = difference;
    match &mut turned {
        Difference::Identity { left, right, .. } => std::mem::swap(left, right),
        Difference::Part { left, right, .. } => std::mem::swap(left, right),
        Difference::Value { left, right, .. } => std::mem::swap(left, right),
        Difference::Layer { left, right } => std::mem::swap(left, right),
        Difference::Missing { side, .. } | Difference::Role { side, .. } => *side = other(*side),
        Difference::MaximumOrder { .. } => {}
    }
    turned
}

/// The differences, after they are compared with those of the sides exchanged.
fn compared(left: &Report, right: &Report) -> Vec<Difference> {
    let found = compare(left, right, &Tolerance::coarser(left, right));
    let back = compare(right, left, &Tolerance::coarser(right, left));
    let lines = |differences: Vec<Difference>| {
        let mut lines: Vec<String> = differences.iter().map(|d| format!("{d:?}")).collect();
        lines.sort();
        lines
    };
    let back = back.into_iter().map(mirrored).collect();
    assert_eq!(lines(found.clone()), lines(back));
    found
}

/// The same, a line each.
fn stated(left: &Report, right: &Report) -> Vec<String> {
    compared(left, right)
        .iter()
        .map(ToString::to_string)
        .collect()
}

fn level(report: &mut Report, role: Roles, pressure_hpa: f64) -> &mut Level {
    let here = |l: &&mut Level| {
        let p = l.row.pressure_hpa.unwrap_or(0.0);
        l.roles.any(role) && (p - pressure_hpa).abs() < 0.5
    };
    report.levels.iter_mut().find(here).unwrap()
}

/// Invented.
const TEXT: &str = "TTAA 65129 99011 99004 04430 23006 00119 04226 22507 92748 00306 23512 \
    88280 53957 28057 77262 28064 41711=
TTBB 65128 99011 00004 04430 11876 03105 22842 01158 33/// ///// 44633 13164 \
    21212 00004 23006 11690 25519 22432 26046 31313 49008 81123=
TTCC 65127 99011 70813 64371 31011 88999 77999=";

fn read(text: &str) -> Report {
    parse(text).unwrap().report()
}

/// What is said of [`TEXT`] and the same with one piece in place of another.
fn changed(from: &str, to: &str) -> Vec<String> {
    assert!(TEXT.contains(from), "{from}");
    stated(&read(TEXT), &read(&TEXT.replacen(from, to, 1)))
}

#[test]
fn a_report_is_like_itself() {
    for name in SAMPLES {
        let report = sample(name);
        assert_eq!(stated(&report, &report), [""; 0], "{name}");
        let text = received(&report);
        assert_eq!(stated(&text, &text), [""; 0], "{name}");
    }
}

#[test]
fn a_report_is_like_its_message() {
    for name in SAMPLES {
        let report = sample(name);
        assert_eq!(stated(&report, &received(&report)), [""; 0], "{name}");
    }
}

#[test]
fn pilot_levels_in_every_manner_are_like_their_message() {
    for manner in [
        PilotLevels::Height300,
        PilotLevels::Height500,
        PilotLevels::Pressure,
    ] {
        let report = sample_with("pilot", |c| c.coding.pilot_levels = Some(manner));
        assert_eq!(stated(&report, &received(&report)), [""; 0], "{manner:?}");
    }
}

#[test]
fn another_unit_of_speed_is_no_difference() {
    for name in SAMPLES {
        let report = sample(name);
        let mut other = report.clone();
        other.context.coding.wind_unit = match report.context.coding.wind_unit {
            crate::model::quantity::SpeedUnit::Knots => {
                crate::model::quantity::SpeedUnit::MetresPerSecond
            }
            crate::model::quantity::SpeedUnit::MetresPerSecond => {
                crate::model::quantity::SpeedUnit::Knots
            }
        };
        let (left, right) = (received(&report), received(&other));
        assert_eq!(stated(&left, &right), [""; 0], "{name}");
        assert_eq!(stated(&report, &right), [""; 0], "{name}");
    }
}

#[test]
fn four_tenths_of_temperature_are_seen_beside_a_text() {
    let report = sample("winter_jet");
    let text = received(&report);
    for up in [0.4, -0.4] {
        let mut other = report.clone();
        let row = &mut level(&mut other, Roles::STANDARD, 500.0).row;
        // The dew point goes with it.
        row.temperature_c = row.temperature_c.map(|t| t + up);
        row.dewpoint_c = row.dewpoint_c.map(|t| t + up);
        let found = compared(&other, &text);
        assert!(
            matches!(
                found.as_slice(),
                [Difference::Value {
                    quantity: Quantity::Temperature,
                    pressure_hpa: Some(500.0),
                    roles: Roles::STANDARD,
                    ..
                }]
            ),
            "{found:?}"
        );
    }
}

#[test]
fn unrounded_reports_are_held_to_the_last_figure() {
    let report = sample("winter_jet");
    let mut other = report.clone();
    // Surface, standard and significant: said once.
    let row = &mut level(&mut other, Roles::SURFACE, 1004.3).row;
    row.humidity_pct = Some(80.0);
    assert_eq!(
        stated(&report, &other),
        [
            "humidity at 1004.3 hPa (surface sig_temperature sig_humidity sig_wind): \
             81 % on the left, 80 % on the right"
        ]
    );
    let mut other = report.clone();
    level(&mut other, Roles::STANDARD, 700.0).roles |= Roles::FREEZING;
    assert_eq!(
        stated(&report, &other),
        ["the level at 700 hPa is not freezing on the left"]
    );
    let mut other = report.clone();
    other.levels.retain(|l| !l.roles.any(Roles::FREEZING));
    let found = stated(&report, &other);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].ends_with(" hPa (freezing) is missing on the right"));
}

#[test]
fn one_figure_is_one_difference() {
    for (from, to, line) in [
        // Table 3931: odd figures are below zero, 031 is -3.1 °C.
        (
            "11876 03105",
            "11876 03505",
            "temperature at 876 hPa (sig_temperature): -3.1 °C on the left, -3.5 °C on the right",
        ),
        // Table 0777: 58 is 8 K, 59 is 9 K.
        (
            "22842 01158",
            "22842 01159",
            "dew-point depression at 842 hPa (sig_temperature): 8 K on the left, 9 K on the right",
        ),
        (
            "22842 01158",
            "22842 011//",
            "dew-point depression at 842 hPa (sig_temperature): 8 K on the left, missing on the right",
        ),
        (
            "22842 01158",
            "22842 /////",
            "temperature at 842 hPa (sig_temperature): -1.1 °C on the left, missing on the right",
        ),
        (
            "92748",
            "92749",
            "height at 925 hPa (standard): 748 gpm on the left, 749 gpm on the right",
        ),
        // 70813 is 18 130 gpm: tens of gpm.
        (
            "70813",
            "70814",
            "height at 70 hPa (standard): 18130 gpm on the left, 18140 gpm on the right",
        ),
        // Knots: 507 less 500 is 7 kt from 225°, 3.601 m/s; 8 kt are 4.116 m/s.
        (
            "04226 22507",
            "04226 22508",
            "wind speed at 1000 hPa (standard): 3.601 m/s on the left, 4.116 m/s on the right",
        ),
        (
            "04226 22507",
            "04226 23007",
            "wind direction at 1000 hPa (standard): 225° on the left, 230° on the right",
        ),
        (
            "04226 22507",
            "04226 /////",
            "wind speed at 1000 hPa (standard): 3.601 m/s on the left, missing on the right",
        ),
        (
            "11876 03105",
            "11877 03105",
            "pressure at 877 hPa (sig_temperature): 876 hPa on the left, 877 hPa on the right",
        ),
        (
            " 22842 01158 33/// ///// 44633 13164",
            " 22/// ///// 33633 13164",
            "the level at 842 hPa (sig_temperature) of Part B is missing on the right",
        ),
        (
            "77262",
            "66262",
            "the level at 262 hPa is not top_of_wind on the left",
        ),
        // 17 kt are 8.746 m/s, 18 kt 9.26.
        (
            "41711",
            "41811",
            "shear below at 262 hPa (max_wind): 8.746 m/s on the left, 9.26 m/s on the right",
        ),
        (
            "33/// ///// 44633",
            "33633",
            "layer without temperature: 842 to 633 hPa on the left, no layer on the right",
        ),
    ] {
        let mut found = changed(from, to);
        // The layer begins at the level that is not there.
        if from.starts_with(" 22842") {
            let layer = found.pop().unwrap();
            assert!(layer.starts_with("layer without temperature: 842 to 633 hPa"));
        }
        assert_eq!(found, [line], "{from} {to}");
    }
}

#[test]
fn the_figures_about_zero_are_distinguished() {
    // Table 3931: 000 is 0.0 °C and 001 is -0.1 °C, half a step apart.
    let text = |t: &str| read(&TEXT.replace("22842 01158", &format!("22842 {t}58")));
    assert_eq!(
        stated(&text("000"), &text("001")),
        ["temperature at 842 hPa (sig_temperature): 0 °C on the left, -0.1 °C on the right"]
    );
}

#[test]
fn depressions_round_as_their_table_does() {
    // Table 0777: 50 is 5.0, 56 is 6; 5.49 is nearer to the first, 4.96 too.
    let text = read(&TEXT.replace("22842 01158", "22842 01150"));
    let other = |k: f64| {
        let mut other = text.clone();
        other.resolution = Resolution::None;
        let row = &mut level(&mut other, Roles::SIG_T_OR_U, 842.0).row;
        row.dewpoint_c = row.temperature_c.map(|t| t - k);
        stated(&other, &text).len()
    };
    assert_eq!([4.96, 5.0, 5.49].map(other), [0; 3]);
    assert_eq!([4.94, 5.51].map(other), [1; 2]);
}

#[test]
fn pilot_levels_by_height_are_matched_by_their_step() {
    let text = read("PPBB 15120 99011 90012 23006 23507 24010 904// 25015=");
    let change = |to: &str| {
        let other = read(&format!("PPBB 15120 99011 {to}="));
        stated(&text, &other)
    };
    // 600 m is 2 steps of 300 m, 1200 m is 4.
    assert_eq!(
        change("90012 23006 23507 24015 904// 25015"),
        ["wind speed at 600 gpm (sig_wind): 10 m/s on the left, 15 m/s on the right"]
    );
    assert_eq!(
        change("9001/ 23006 23507 904// 25015"),
        ["the level at 600 gpm (sig_wind) of Part B is missing on the right"]
    );
    assert_eq!(
        change("90012 23006 23507 24010 905// 25015"),
        ["height at 1200 gpm (sig_wind): 1200 gpm on the left, 1500 gpm on the right"]
    );
    assert_eq!(
        change("90012 23007 23507 24010 904// 25015"),
        ["wind speed at the surface (sig_wind): 6 m/s on the left, 7 m/s on the right"]
    );
}

#[test]
fn who_and_when_are_one_difference_each() {
    let other = |change: &dyn Fn(&str) -> String| stated(&read(TEXT), &read(&change(TEXT)));
    assert_eq!(
        other(&|t| t.replace("99011", "99012")),
        ["station: 99011 on the left, 99012 on the right"]
    );
    assert_eq!(
        other(&|t| t.replace(" 6512", " 6511")),
        ["day and hour: day 15 hour 12 on the left, day 15 hour 11 on the right"]
    );
    assert_eq!(
        other(&|t| t.replace(" 81123", " 81124")),
        ["time of release: 11:23 on the left, 11:24 on the right"]
    );
    // Whole on one side, coded on the other.
    let report = sample("winter_jet");
    let mut text = received(&report);
    if let When::Coded { hour, .. } = &mut text.when {
        *hour += 6;
    }
    let found = stated(&report, &text);
    assert_eq!(found.len(), 1, "{found:?}");
    let mut later = report.clone();
    if let When::Full { standard, .. } = &mut later.when {
        *standard = standard.date().at(18, 0, 0, 0);
    }
    let found = stated(&report, &later);
    assert_eq!(
        found,
        ["standard time: 2031-01-15T12:00:00Z on the left, 2031-01-15T18:00:00Z on the right"]
    );
}

#[test]
fn ships_are_distinguished_by_sign_and_tenths() {
    let report = sample("ship");
    let text = received(&report);
    let mut other = report.clone();
    other.context.station.call_sign = Some("XQ8INV".to_owned());
    assert_eq!(
        stated(&other, &text),
        ["call sign: XQ8INV on the left, XQ7INV on the right"]
    );
    let mut other = report.clone();
    // Truncated: 14.39 is 14.3 (99143), 14.41 is 14.4.
    other.context.station.latitude_deg = report.context.station.latitude_deg.map(|d| {
        let south = d.is_sign_negative();
        if south { -14.39 } else { 14.39 }
    });
    assert_eq!(stated(&other, &text), [""; 0]);
    other.context.station.latitude_deg = other
        .context
        .station
        .latitude_deg
        .map(|d| d + 0.02 * d.signum());
    let found = stated(&other, &text);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].starts_with("position: "), "{found:?}");
}

#[test]
fn a_missing_part_is_one_difference() {
    let (rest, _) = TEXT.split_once("TTCC").unwrap();
    assert_eq!(
        stated(&read(TEXT), &read(rest)),
        ["Part C is missing on the right"]
    );
    assert_eq!(
        stated(&read(&format!("{rest}TTCC 6512/ 99011 NIL=")), &read(TEXT)),
        ["Part C is NIL on the left"]
    );
    let mut report = sample("winter_jet");
    let text = received(&report);
    report.parts.remove(&Part::B);
    report.parts.insert(Part::D, PartContent::default());
    assert_eq!(stated(&report, &text), ["Part B is missing on the left"]);
}

#[test]
fn a_dropped_level_is_one_difference_whatever_it_stands_for() {
    let report = sample("winter_jet");
    let text = received(&report);
    let mut other = report.clone();
    other.levels.retain(|l| !l.roles.any(Roles::SURFACE));
    assert_eq!(
        stated(&other, &text),
        [
            "the level at 1004 hPa (surface sig_temperature sig_wind) of Part A and Part B \
             is missing on the left"
        ]
    );
}

#[test]
fn a_calm_has_no_direction() {
    let report = sample("winter_jet");
    let with = |dir_deg: f64, speed_ms: f64| {
        let mut other = report.clone();
        let row = &mut level(&mut other, Roles::STANDARD, 500.0).row;
        row.wind = Some(crate::model::Wind { dir_deg, speed_ms });
        other
    };
    // Metres a second: below 0.5 is coded 00000.
    assert_eq!(stated(&with(90.0, 0.49), &with(270.0, 0.49)), [""; 0]);
    assert_eq!(
        stated(&with(90.0, 0.49), &received(&with(270.0, 0.3))),
        [""; 0]
    );
    assert_eq!(stated(&with(90.0, 0.51), &with(270.0, 0.51)).len(), 1);
    // On the shorter arc.
    let north = received(&with(359.0, 12.0));
    assert_eq!(stated(&with(2.0, 12.0), &north), [""; 0]);
    let found = stated(&with(3.0, 12.0), &north);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].starts_with("wind direction at 500 hPa"));
}

#[test]
fn the_order_of_maximum_winds_counts() {
    let report = sample("winter_jet");
    let mut other = report.clone();
    other.maxima.swap(0, 1);
    let line = "the maximum winds of Part A come in another order";
    assert_eq!(stated(&report, &other), [line]);
    assert_eq!(stated(&report, &received(&other)), [line]);
}

#[test]
fn manners_without_a_common_level_are_one_difference() {
    let by = |manner| sample_with("pilot", |c| c.coding.pilot_levels = Some(manner));
    let (heights, pressures) = (by(PilotLevels::Height300), by(PilotLevels::Height500));
    let found = stated(&received(&heights), &received(&pressures));
    assert_eq!(
        found.first().map(String::as_str),
        Some("manner of levels: 300 m on the left, 500 m on the right")
    );
    assert!(!found.iter().any(|l| l.contains("sig_wind")), "{found:?}");
}

#[test]
fn forms_are_not_mixed() {
    let (temp, pilot) = (sample("winter_jet"), sample("pilot"));
    let found = stated(&temp, &pilot);
    assert_eq!(
        found.first().map(String::as_str),
        Some("code form: TEMP on the left, PILOT on the right")
    );
    assert!(!found.iter().any(|l| l.contains("hPa")), "{found:?}");
}

#[test]
fn differences_go_through_json() {
    let report = sample("gaps");
    let mut other = received(&report);
    other.levels.remove(3);
    other.missing.clear();
    let found = compared(&report, &other);
    assert!(!found.is_empty());
    let text = serde_json::to_string(&found).unwrap();
    assert_eq!(
        serde_json::from_str::<Vec<Difference>>(&text).unwrap(),
        found
    );
    let schema = schemars::schema_for!(Difference).to_value().to_string();
    assert!(schema.contains("maximum_order"), "{schema}");
}
