//! The laws of the design, for generated flights.

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test stops at the first fault"
)]

use fivefig::code::{Message, message, parse};
use fivefig::levels::choose;
use fivefig::physics::humidity::relative_humidity_pct;
use fivefig::sounding::{Coding, Context, Flight, Profile, Reach, Row, Station, Wind};
use jiff::civil::date;
use proptest::prelude::*;

/// One stretch of a flight: lapse K/km, depression K, turn ° and rise m/s.
type Stretch = (f64, f64, f64, f64);

/// A flight of stretches of 1.5 km, a row every 60 gpm.
fn flight(surface_hpa: f64, stretches: &[Stretch]) -> Profile {
    let (mut p, mut t, mut dir, mut speed) = (surface_hpa, 12.0_f64, 200.0_f64, 5.0_f64);
    let mut rows = Vec::new();
    let mut z = 50.0;
    for &(lapse, depression, turn, rise) in stretches {
        for _ in 0..25 {
            let td = t - depression;
            rows.push(Row {
                time_s: Some(z / 5.0),
                pressure_hpa: Some((p * 100.0).round() / 100.0),
                height_gpm: Some(z),
                temperature_c: Some(t),
                dewpoint_c: Some(td),
                humidity_pct: Some(relative_humidity_pct(t, td)),
                wind: Some(Wind {
                    dir_deg: dir.rem_euclid(360.0),
                    speed_ms: speed.clamp(0.0, 120.0),
                }),
                ..Row::default()
            });
            p *= (-60.0 * 0.034_163 / (t + 273.15)).exp();
            t = (t - lapse * 0.06).clamp(-95.0, 45.0);
            dir += turn / 25.0;
            speed += rise / 25.0;
            z += 60.0;
        }
    }
    rows.dedup_by(|b, a| b.pressure_hpa >= a.pressure_hpa);
    Profile {
        rows,
        ..Profile::default()
    }
}

fn coded(profile: &Profile) -> Message {
    let context = Context {
        station: Station {
            wmo_block: Some(99),
            wmo_number: Some(1),
            ..Station::default()
        },
        flight: Flight {
            release: Some(date(2031, 1, 15).at(11, 30, 0, 0)),
            ..Flight::default()
        },
        coding: Coding {
            shear: true,
            ..Coding::default()
        },
        ..Context::default()
    };
    let levels = choose(profile, &context.coding, &[], Reach::Whole);
    let (report, _) = fivefig::report::build(profile, levels, &context, Reach::Whole).unwrap();
    message(&report).unwrap().0
}

fn stretches() -> impl Strategy<Value = Vec<Stretch>> {
    let one = (
        -8.0..9.0_f64,
        0.0..40.0_f64,
        -150.0..150.0_f64,
        -20.0..20.0_f64,
    );
    prop::collection::vec(one, 2..18)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn a_message_reads_back_and_stands_for_itself(surface in 780.0..1040.0_f64, s in stretches()) {
        let m = coded(&flight(surface, &s));
        let read = parse(&m.to_string());
        prop_assert_eq!(read.as_ref(), Ok(&m));
        let again = message(&m.report()).unwrap().0;
        prop_assert_eq!(again, m);
    }

    /// Whatever lies more than 2 km above 100 hPa leaves A and B as they are.
    #[test]
    fn a_and_b_rest_on_what_lies_below(s in stretches(), other in stretches()) {
        let low: Vec<Stretch> = s.iter().cycle().take(15).copied().collect();
        let profile = flight(1010.0, &low);
        let top = profile.rows.last().unwrap().pressure_hpa.unwrap();
        prop_assume!(top < 70.0);
        let mut changed = low.clone();
        changed.extend(other);
        let (one, two) = (coded(&profile), coded(&flight(1010.0, &changed)));
        prop_assert_eq!((one.a, one.b), (two.a, two.b));
    }

    #[test]
    fn any_text_reads_or_is_refused(text in "(TT(AA|BB|CC|DD) )?([0-9/ =]{0,200})") {
        if let Ok(m) = parse(&text) {
            prop_assert_eq!(parse(&m.to_string()), Ok(m));
        }
    }
}
