//! The U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562) as a profile: its
//! heights and tropopause must come out of the rules.

use crate::scene;
use approx::assert_abs_diff_eq;

use fivefig::forms::text::message;
use fivefig::levels::choose;
use fivefig::model::{
    Coding, Context, Flight, Form, Profile, Reach, Roles, Row, Station, WmoNumber,
};
use jiff::civil::date;

/// Geopotential of standard surfaces, gpm.
const HEIGHTS: [(f64, f64); 16] = [
    (1000.0, 110.9),
    (925.0, 762.0),
    (850.0, 1457.3),
    (700.0, 3012.2),
    (500.0, 5574.4),
    (400.0, 7185.4),
    (300.0, 9164.0),
    (250.0, 10362.9),
    (200.0, 11784.0),
    (150.0, 13608.4),
    (100.0, 16179.7),
    (70.0, 18441.6),
    (50.0, 20576.2),
    (30.0, 23848.6),
    (20.0, 26481.2),
    (10.0, 31054.6),
];

fn standard() -> Profile {
    let rows = scene::standard::rows()
        .into_iter()
        .map(|r| Row {
            pressure_hpa: Some(r.pressure_hpa),
            height_gpm: Some(r.height_gpm),
            temperature_c: Some(r.temperature_c.unwrap()),
            ..Row::default()
        })
        .collect();
    Profile {
        rows,
        ..Profile::default()
    }
}

#[test]
fn heights_tropopause_and_groups() {
    let profile = standard();
    let levels = choose(&profile, &Coding::default(), &[], Reach::Whole);
    for (p, z) in HEIGHTS {
        let level = levels
            .levels
            .iter()
            .find(|l| l.roles.any(Roles::STANDARD) && l.row.pressure_hpa == Some(p))
            .unwrap();
        assert!((level.row.height_gpm.unwrap() - z).abs() < 1.0, "{p}");
    }
    let tropopauses: Vec<_> = levels
        .levels
        .iter()
        .filter(|l| l.roles.any(Roles::TROPOPAUSE))
        .collect();
    assert_eq!(tropopauses.len(), 1);
    assert_abs_diff_eq!(
        tropopauses[0].row.pressure_hpa.unwrap(),
        226.3,
        epsilon = 0.2
    );
    assert!((tropopauses[0].row.temperature_c.unwrap() + 56.5).abs() < 0.02);
    // Half a kelvin is 77 gpm of lapse at 6.5 K/km, 3 hPa: no level stands for it
    // just below the tropopause, which is the base of the isothermal layer.
    let near: Vec<f64> = levels
        .levels
        .iter()
        .filter(|l| l.roles.any(Roles::SIG_T_OR_U))
        .filter_map(|l| l.row.pressure_hpa)
        .filter(|p| (210.0..240.0).contains(p))
        .collect();
    assert_eq!(near.len(), 1, "{near:?}");

    let context = Context {
        station: Station::default().with_wmo(WmoNumber::new(99, 1).unwrap()),
        flight: Flight {
            release: Some(date(2031, 1, 15).at(11, 30, 0, 0)),
            ..Flight::default()
        },
        ..Context::default()
    };
    let report =
        fivefig::issue::report::build(Form::Temp, &profile, levels, &context, Reach::Whole)
            .unwrap()
            .value;
    let text = message(&report).unwrap().value.to_string();
    // From the heights above by hand: whole gpm below 500 hPa, tens from there
    // on, leading figures dropped; 11:30 rounds up to 12.
    let groups: Vec<&str> = text.split(['\n', ' ']).collect();
    for group in [
        "1512/", "00111", "92762", "85457", "70012", "50557", "40719", "30916", "25036", "20178",
        "15361", "10618", "70844", "50058", "30385", "20648", "10105", "88226",
    ] {
        assert!(groups.contains(&group), "{group} in {text}");
    }
}
