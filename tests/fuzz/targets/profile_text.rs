//! Any bytes as a profile: read or refused; what is an ascent is coded, and
//! what is coded reads back; what has a descent gives its report.
#![no_main]

use fivefig::forms::text;
use fivefig::input::RawProfile;
use fivefig::model::{
    Context, Flight, Form, HeightReference, HumidityOver, Meaning, Noted, Position, Reach, Reading,
    Station, Surface, WmoNumber,
};
use fivefig::{input, issue, profile};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok(Noted { value: raw, .. }) = input::text::read(bytes, "fuzz", &Reading::default()) else {
        return;
    };
    let context = Context {
        station: Station::land(
            WmoNumber::new(99, 1).expect("a number"),
            Position::new(45.0, 7.0).expect("a position"),
            0.0,
        ),
        flight: Flight {
            release: "2031-01-15T11:30:00".parse().ok(),
            ..Flight::default()
        },
        ..Context::default()
    };
    if let Ok(Noted { value: descent, .. }) = profile::build_for(Form::Descent, &raw, &context)
        && let Ok(Noted { value: report, .. }) =
            issue::report(Form::Descent, &descent, &context, Reach::Whole)
    {
        assert!(report.start.is_some());
    }
    coded(&raw, &context);
    // The same rows as those of a receiver that knows no pressure of its own.
    let other = Context {
        meaning: Meaning {
            height_reference: HeightReference::Ellipsoid,
            humidity_over: HumidityOver::Ice,
            ..Meaning::default()
        },
        surface: Some(Surface {
            pressure_hpa: Some(1000.0),
            ..Surface::default()
        }),
        ..context
    };
    coded(&raw, &other);
});

fn coded(raw: &RawProfile, context: &Context) {
    let Ok(Noted { value: ascent, .. }) = profile::build(raw, context) else {
        return;
    };
    if let Ok(coded) = issue::code(Form::Temp, &ascent, context, Reach::Whole) {
        assert_eq!(
            text::parse(&coded.message.to_string()).as_ref(),
            Ok(&coded.message)
        );
    }
}
