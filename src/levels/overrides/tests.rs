use super::*;
use crate::levels::choose;
use crate::sounding::{Coding, Profile, Reach, Row, Wind};

/// 7 K/km to a tropopause at 11 km, isothermal above; a break at 3 km; the wind
/// rises to 40 m/s at 10 km and falls again.
fn profile() -> Profile {
    let rows = (0..=400).map(|k| {
        let z = f64::from(k) * 50.0;
        let t = if z < 3000.0 {
            15.0 - z * 0.004
        } else if z < 11_000.0 {
            3.0 - (z - 3000.0) * 0.0075
        } else {
            -57.0
        };
        Row {
            pressure_hpa: Some(1000.0 * (-z / 7500.0).exp()),
            height_gpm: Some(z),
            temperature_c: Some(t),
            wind: Some(Wind {
                dir_deg: 270.0,
                speed_ms: 40.0 - (z - 10_000.0).abs() / 400.0,
            }),
            ..Row::default()
        }
    });
    Profile {
        rows: rows.collect(),
        ..Profile::default()
    }
}

fn order(action: Action, pressure_hpa: f64, reason: Option<&str>) -> Order {
    Order::Level {
        action,
        pressure_hpa,
        reason: reason.map(str::to_owned),
    }
}

fn ordered(orders: &[Order]) -> Levels {
    choose(&profile(), &Coding::default(), orders, Reach::Whole)
}

fn near(levels: &Levels, p: f64) -> Option<&Level> {
    let mut all = levels.levels.iter();
    all.find(|l| {
        l.row
            .pressure_hpa
            .is_some_and(|q| (q / p - 1.0).abs() < 0.004)
    })
}

fn told(levels: &Levels) -> Vec<String> {
    levels.findings.iter().map(ToString::to_string).collect()
}

#[test]
fn a_level_is_forced_in_with_its_reason() {
    let levels = ordered(&[order(Action::Force, 800.0, Some("cloud top seen"))]);
    let level = near(&levels, 800.0).unwrap();
    assert!(level.roles.any(Roles::FORCED) && level.roles.any(Roles::SIG_WIND));
    assert!(
        level
            .why
            .iter()
            .any(|r| r.text == "ordered in: cloud top seen")
    );
    assert!(told(&levels)[0].contains("level at 800 hPa ordered in: cloud top seen"));
}

#[test]
fn an_additional_level_goes_without_a_reason() {
    let before = ordered(&[]);
    let break_hpa = 1000.0 * (-3000.0f64 / 7500.0).exp();
    assert!(
        near(&before, break_hpa)
            .unwrap()
            .roles
            .any(Roles::SIG_TEMPERATURE)
    );
    let levels = ordered(&[order(Action::Drop, break_hpa, None)]);
    assert!(near(&levels, break_hpa).is_none());
    let said = told(&levels);
    assert!(
        said.iter()
            .any(|s| s.starts_with("warning") && s.contains("35.3.1.3")),
        "{said:?}"
    );
}

#[test]
fn what_a_rule_asks_for_stays_without_a_reason() {
    let tropopause = 1000.0 * (-11_000.0f64 / 7500.0).exp();
    for (p, clause) in [
        (1000.0, "35.2.1"),
        (500.0, "35.2.2.1"),
        (tropopause, "35.2.3.1"),
    ] {
        let levels = ordered(&[order(Action::Drop, p, None)]);
        let said = told(&levels);
        assert!(
            said.iter()
                .any(|s| s.contains("it stays") && s.contains(clause)),
            "{p}: {said:?}"
        );
        assert_eq!(levels.levels, ordered(&[]).levels, "{p}");
    }
}

#[test]
fn with_a_reason_the_values_go_but_not_the_place() {
    let levels = ordered(&[order(Action::Drop, 500.0, Some("sensor wet"))]);
    let level = near(&levels, 500.0).unwrap();
    assert!(level.roles.any(Roles::STANDARD));
    assert_eq!((level.row.temperature_c, level.row.wind), (None, None));
    assert!(level.row.height_gpm.is_some());

    let tropopause = 1000.0 * (-11_000.0f64 / 7500.0).exp();
    let levels = ordered(&[order(Action::Drop, tropopause, Some("spike"))]);
    assert!(
        levels
            .levels
            .iter()
            .all(|l| !l.roles.any(Roles::TROPOPAUSE))
    );

    let levels = ordered(&[order(Action::Drop, 1000.0, Some("thermometer failed"))]);
    let surface = &levels.levels[0];
    assert!(surface.roles.any(Roles::SURFACE));
    assert_eq!(surface.row.temperature_c, None);
}

#[test]
fn a_dropped_maximum_is_no_longer_reported() {
    let before = ordered(&[]);
    let p = before.maxima[0].pressure_hpa.unwrap();
    let levels = ordered(&[order(Action::Drop, p, Some("interference"))]);
    assert!(levels.maxima.is_empty());
    assert!(levels.levels.iter().all(|l| !l.roles.any(Roles::MAX_WIND)));
}

#[test]
fn an_order_without_a_level_is_told() {
    let levels = ordered(&[order(Action::Drop, 20.0, None)]);
    assert!(told(&levels)[0].contains("no level near 20 hPa"));
}
