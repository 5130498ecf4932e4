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

#[test]
fn rows_are_compared_with_the_stretch_that_they_lie_in() {
    // Hand-worked: lines in ln p through 10 °C at 950, 4 °C at 900 and −6 °C at 800 hPa. A row
    // that has the coded pressure of an end is at that end, others beyond it are nowhere.
    let middle = |low: f64, high: f64| (low * high).sqrt();
    let expected = [
        (960.0, None),
        (950.4, Some(10.0)),
        (950.0, Some(10.0)),
        (middle(950.0, 900.0), Some(7.0)),
        (900.0, Some(4.0)),
        (middle(900.0, 800.0), Some(-1.0)),
        (800.0, Some(-6.0)),
        (799.6, Some(-6.0)),
        (790.0, None),
    ];
    let row = |pressure_hpa: f64, temperature_c: f64| Row {
        pressure_hpa: Some(pressure_hpa),
        temperature_c: Some(temperature_c),
        ..Row::default()
    };
    let profile = Profile {
        rows: expected.iter().map(|&(p, _)| row(p, 5.0)).collect(),
        ..Profile::default()
    };
    let level = |p: f64, t: f64| Level {
        row: row(p, t),
        at: At::Received,
        roles: Roles::SIG_TEMPERATURE,
        why: Vec::new(),
    };
    let report = Report {
        levels: [(950.0, 10.0), (900.0, 4.0), (800.0, -6.0)]
            .map(|(p, t)| level(p, t))
            .to_vec(),
        ..Report::empty(Context::default())
    };
    let found = rebuilt(&profile, &Coding::default(), &report);
    assert_eq!(found.len(), expected.len());
    for (found, (p, expected)) in found.iter().zip(expected) {
        match (found.temperature_c, expected) {
            (Some(found), Some(expected)) => {
                approx::assert_abs_diff_eq!(found, expected, epsilon = 1e-9)
            }
            (found, expected) => assert_eq!(found, expected, "{p} hPa"),
        }
    }
    let held = fidelity(&profile, &Coding::default(), &report, &report);
    let temperature = &held.departures[0].before_rounding;
    // 11 K at 800 and 799.6 hPa, the first of them.
    assert_eq!((temperature.rows, temperature.outside), (7, 6));
    assert_eq!((temperature.greatest, temperature.row), (11.0, Some(7)));
    // Nor does a row without pressure at the top bring in those beyond the highest level.
    let mut profile = profile;
    profile.rows.push(Row {
        pressure_hpa: None,
        ..row(790.0, 5.0)
    });
    let held = fidelity(&profile, &Coding::default(), &report, &report);
    assert_eq!(held.departures[0].before_rounding.rows, 7);
    // Levels that are all above the rows, or all below them, say nothing of these.
    for end in [0, 8] {
        let mut profile = profile.clone();
        profile.rows = vec![profile.rows[end].clone()];
        let held = fidelity(&profile, &Coding::default(), &report, &report);
        assert_eq!(held.departures[0].before_rounding, Departures::default());
    }
}
