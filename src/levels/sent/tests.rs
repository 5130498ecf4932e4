//! What stays of levels that were sent, worked by hand.

use super::mark_sent;
use crate::levels::choose;
use crate::model::{
    At, Axis, Coding, Context, Level, Profile, Reach, Report, Resolution, Roles, Row,
};
use crate::physics::humidity::dewpoint_c;

/// Rows every 10 hPa from 1000 to 500 hPa: temperature falls linearly in ln p from 10 °C
/// to -6 °C at 800 hPa and on to -30 °C; 50 % humidity throughout.
fn broken_line() -> Profile {
    let row = |k: u32| {
        let p = 1000.0 - 10.0 * f64::from(k);
        let t = if p >= 800.0 {
            10.0 - 16.0 * (1000.0 / p).ln() / 1.25_f64.ln()
        } else {
            -6.0 - 24.0 * (800.0 / p).ln() / 1.6_f64.ln()
        };
        Row {
            pressure_hpa: Some(p),
            height_gpm: Some(8000.0 * (1013.25 / p).ln()),
            temperature_c: Some(t),
            dewpoint_c: dewpoint_c(t, 50.0),
            humidity_pct: Some(50.0),
            ..Row::default()
        }
    };
    Profile {
        axis: Axis::Pressure,
        rows: (0..=50).map(row).collect(),
        ..Profile::default()
    }
}

/// A report that was sent with one additional level, at a pressure in whole hPa.
fn sent(profile: &Profile, pressure_hpa: f64) -> Report {
    let same = |row: &&Row| row.pressure_hpa == Some(pressure_hpa);
    let row = profile.rows.iter().find(same).unwrap().clone();
    Report {
        levels: vec![Level {
            row,
            at: At::Interpolated,
            roles: Roles::SIG_TEMPERATURE,
            why: Vec::new(),
        }],
        ..Report::empty(Context::default())
    }
}

/// The pressures of the significant levels between the ends, hPa.
fn inner(profile: &Profile) -> Vec<f64> {
    let levels = choose(profile, &Coding::default(), &[], Reach::Whole).levels;
    levels
        .iter()
        .filter(|l| l.roles.any(Roles::SIG_T_OR_U))
        .filter_map(|l| l.row.pressure_hpa)
        .filter(|&p| p < 1000.0 && p > 500.0)
        .collect()
}

/// The limit is 1 K (WMO-No. 306, 35.3.1.3 (a)). By hand: a level at 770 hPa has
/// T = -6 - 24 ln(800/770)/ln(1.6) = -7.95 °C; the straight line in ln p from 1000 hPa,
/// 10 °C, is at 800 hPa 10 - 17.95 * 0.2231/0.2614 = -5.33 °C, 0.67 K off the -6 °C
/// there, the most of all: with 0.1 K of rounding at both ends still within 1 K, so it
/// stays. From 740 hPa (-9.98 °C) the line is at 800 hPa 10 - 19.98 * 0.2231/0.3011 =
/// -4.81 °C, 1.19 K off; from 750 hPa (-9.30 °C) -4.97 °C, 1.03 K off; from 760 hPa
/// (-8.62 °C) -5.14 °C, 0.86 K off: so 740 moves to 760, the nearest row that keeps the
/// limit.
#[test]
fn a_sent_level_stays_while_the_limit_holds_and_moves_no_further_than_needed() {
    let profile = broken_line();
    // By itself the choice is the break.
    assert_eq!(inner(&profile), [800.0]);
    for (was, now) in [(800.0, 800.0), (770.0, 770.0), (740.0, 760.0)] {
        let mut marked = profile.clone();
        mark_sent(&mut marked, &sent(&profile, was), &Coding::default());
        assert_eq!(inner(&marked), [now], "{was}");
    }
}

/// A level that no limit asks for stays too, and says why it is there.
#[test]
fn a_level_that_was_sent_and_is_not_needed_stays() {
    let profile = broken_line();
    let mut marked = profile.clone();
    for was in [800.0, 650.0] {
        mark_sent(&mut marked, &sent(&profile, was), &Coding::default());
    }
    assert_eq!(inner(&marked), [800.0, 650.0]);
    let levels = choose(&marked, &Coding::default(), &[], Reach::Whole).levels;
    let why = |p: f64| {
        let level = levels
            .iter()
            .find(|l| l.row.pressure_hpa == Some(p))
            .unwrap();
        level.why[0].text().into_owned()
    };
    assert_eq!(why(650.0), "level of the earlier message");
    assert!(why(800.0).contains("temperature departs by"));
}

/// A spike of 5 K in one row is a level more, with those beside it that the limit asks
/// for; the level at 800 hPa does not move.
#[test]
fn what_is_new_is_added_between_the_levels_that_were_sent() {
    let profile = broken_line();
    let mut spiked = profile.clone();
    let row = &mut spiked.rows[35]; // 650 hPa
    row.temperature_c = row.temperature_c.map(|t| t - 5.0);
    row.dewpoint_c = dewpoint_c(row.temperature_c.unwrap(), 50.0);
    mark_sent(&mut spiked, &sent(&profile, 800.0), &Coding::default());
    let found = inner(&spiked);
    assert_eq!(found[0], 800.0);
    assert!(found.contains(&650.0), "{found:?}");
}

/// Of rows that share a coded pressure the one with the figures that were sent is
/// marked: 850.4 and 849.6 hPa are both 850 in the text, -5.0 °C and -7.0 °C are not the
/// same figures (table 3931: 051 and 071).
#[test]
fn the_row_is_found_by_its_figures() {
    let row = |p: f64, t: f64| Row {
        pressure_hpa: Some(p),
        temperature_c: Some(t),
        ..Row::default()
    };
    let mut profile = Profile {
        rows: vec![
            row(900.0, 0.0),
            row(850.4, -5.0),
            row(849.6, -7.0),
            row(800.0, -9.0),
        ],
        ..Profile::default()
    };
    let wanted = Profile {
        rows: vec![row(850.0, -7.0)],
        ..Profile::default()
    };
    let sent = Report {
        resolution: Resolution::Text,
        ..sent(&wanted, 850.0)
    };
    mark_sent(&mut profile, &sent, &Coding::default());
    let marked: Vec<bool> = profile
        .rows
        .iter()
        .map(|row| row.given.any(Roles::SENT_THERMAL))
        .collect();
    assert_eq!(marked, [false, false, true, false]);
}
