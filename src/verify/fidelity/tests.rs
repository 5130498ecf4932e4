use super::*;
use crate::issue::report::build;
use crate::levels::choose;
use crate::model::{Context, Flight, Reach, Row, Station};
use jiff::civil::date;

#[test]
fn levels_that_the_ratio_of_pressures_asks_for_are_required() {
    // Temperature falls by 60 K a factor e, straight in ln p, so that 35.3.1.3 (a)
    // asks for no level between 1000 and 310 hPa. (c) asks for two: 0.6 × 1000 =
    // 600 and 0.6 × 600 = 360 hPa, and 310 hPa is still below the 300 hPa bound.
    let rows = (310..=1000).rev().map(|p| {
        let p = f64::from(p);
        Row {
            pressure_hpa: Some(p),
            height_gpm: Some(7500.0 * (1000.0 / p).ln()),
            temperature_c: Some(15.0 + 60.0 * (p / 1000.0).ln()),
            ..Row::default()
        }
    });
    let profile = Profile {
        rows: rows.collect(),
        ..Profile::default()
    };
    let coding = Coding::default();
    let context = Context {
        station: Station {
            wmo_block: Some(99),
            wmo_number: Some(7),
            ..Station::default()
        },
        flight: Flight {
            release: Some(date(2031, 1, 15).at(11, 23, 40, 0)),
            ..Flight::default()
        },
        ..Context::default()
    };
    let levels = choose(&profile, &coding, &[], Reach::Whole);
    let ours = build(Form::Temp, &profile, levels, &context, Reach::Whole);
    let ours = ours.unwrap().value;
    let thermal = of_role(&ours, Roles::SIG_T_OR_U);
    assert_eq!(thermal.len(), 4, "{thermal:?}");
    assert_eq!(not_required(&profile, &coding, &ours, &ours), []);
    // One more, at 800 hPa, is required by nothing.
    let mut more = ours.clone();
    let row = &profile.rows[200];
    assert_eq!(row.pressure_hpa, Some(800.0));
    let extra = Level {
        row: row.clone(),
        at: At::Row(200),
        roles: Roles::SIG_TEMPERATURE,
        why: Vec::new(),
    };
    let place = more
        .levels
        .partition_point(|l| l.row.pressure_hpa > Some(800.0));
    more.levels.insert(place, extra);
    let found: Vec<f64> = not_required(&profile, &coding, &more, &ours)
        .into_iter()
        .map(|(p, _)| p)
        .collect();
    assert_eq!(found, [800.0]);
}
