use super::*;
use crate::levels::choose;
use crate::model::{Coding, Profile, Reach, Row, Wind};

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

fn order(action: Action, pressure_hpa: f64, reason: &str) -> Order {
    Order::Level {
        action,
        pressure_hpa,
        reason: reason.to_owned(),
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

fn reported(levels: &Levels) -> Vec<String> {
    levels.findings.iter().map(ToString::to_string).collect()
}

#[test]
fn a_level_is_forced_in_with_its_reason() {
    let levels = ordered(&[order(Action::Force, 800.0, "cloud top seen")]);
    let level = near(&levels, 800.0).unwrap();
    assert!(level.roles.any(Roles::FORCED) && level.roles.any(Roles::SIG_WIND));
    assert!(
        level
            .why
            .iter()
            .any(|r| r.text() == "ordered in: cloud top seen")
    );
    assert!(reported(&levels)[0].contains("level at 800 hPa is added by order: cloud top seen"));
}

#[test]
fn an_additional_level_is_ordered_out() {
    let before = ordered(&[]);
    let break_hpa = 1000.0 * (-3000.0f64 / 7500.0).exp();
    assert!(
        near(&before, break_hpa)
            .unwrap()
            .roles
            .any(Roles::SIG_TEMPERATURE)
    );
    let levels = ordered(&[order(Action::Drop, break_hpa, "a test")]);
    assert!(near(&levels, break_hpa).is_none());
    let stated = reported(&levels);
    assert!(
        stated
            .iter()
            .any(|s| s.starts_with("warning") && s.contains("35.3.1.3")),
        "{stated:?}"
    );
}

#[test]
fn the_values_go_but_not_the_place() {
    let levels = ordered(&[order(Action::Drop, 500.0, "sensor wet")]);
    let level = near(&levels, 500.0).unwrap();
    assert!(level.roles.any(Roles::STANDARD));
    assert_eq!((level.row.temperature_c, level.row.wind), (None, None));
    assert!(level.row.height_gpm.is_some());

    let tropopause = 1000.0 * (-11_000.0f64 / 7500.0).exp();
    let levels = ordered(&[order(Action::Drop, tropopause, "spike")]);
    assert!(
        levels
            .levels
            .iter()
            .all(|l| !l.roles.any(Roles::TROPOPAUSE))
    );

    let levels = ordered(&[order(Action::Drop, 1000.0, "thermometer failed")]);
    let surface = &levels.levels[0];
    assert!(surface.roles.any(Roles::SURFACE));
    assert_eq!(surface.row.temperature_c, None);
}

#[test]
fn a_dropped_maximum_is_no_longer_reported() {
    let before = ordered(&[]);
    let p = before.maxima[0].pressure_hpa.unwrap();
    let levels = ordered(&[order(Action::Drop, p, "interference")]);
    assert!(levels.maxima.is_empty());
    assert!(levels.levels.iter().all(|l| !l.roles.any(Roles::MAX_WIND)));
}

#[test]
fn an_order_for_no_level_is_a_warning() {
    let levels = ordered(&[order(Action::Drop, 560.0, "a test")]);
    assert!(reported(&levels)[0].contains("the order at 560 hPa has no effect"));
}

#[test]
fn an_order_outside_the_flight_is_found() {
    // The rows go from 1000 hPa to 20 000 gpm, 1000 exp(-20000 / 7500) = 69.483 hPa.
    let profile = profile();
    let found = |order: Order, reach| {
        let order = outside(&[order], &profile, reach);
        order.map(|fault| fault.to_string()).unwrap_or_default()
    };
    let level = |p| order(Action::Force, p, "a test");
    let layer = |from_hpa, to_hpa| Order::Withhold {
        element: crate::model::Element::Wind,
        from_hpa,
        to_hpa,
        reason: "a test".to_owned(),
    };
    // 1000.4 is coded 1000, as the lowest row is; 69.44 is coded 694 and not 695.
    for inside in [level(1000.4), level(1000.0), level(612.0), level(69.5)] {
        assert_eq!(found(inside, Reach::Whole), "");
    }
    let top = profile.rows[400].pressure_hpa.unwrap();
    assert_eq!(
        found(level(20.0), Reach::Whole),
        format!(
            "`level[1]`: 20 hPa lies outside the flight, 1000 to {top} hPa, whose nearest row is \
             at {top} hPa; give a pressure of the flight or remove the order"
        )
    );
    let below = found(level(1012.0), Reach::Whole);
    assert!(below.contains("1012 hPa") && below.contains("nearest row is at 1000 hPa"));
    assert!(found(level(69.44), Reach::Whole).contains("lies outside"));
    // An ascent that goes on may reach what is above, not what is below.
    assert_eq!(found(level(20.0), Reach::To100), "");
    assert_ne!(found(level(1012.0), Reach::To100), "");
    // A layer needs a row, in either order of its ends.
    assert_eq!(found(layer(80.0, 10.0), Reach::Whole), "");
    assert_eq!(found(layer(10.0, 80.0), Reach::Whole), "");
    let above = found(layer(60.0, 40.0), Reach::Whole);
    assert!(above.starts_with("`withhold[1]`: the layer from 60 to 40 hPa lies outside"));
    assert_eq!(found(layer(60.0, 40.0), Reach::To100), "");
}
