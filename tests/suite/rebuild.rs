//! A profile rebuilt from a message and coded again: the third message is the
//! second.

use std::fs;

use fivefig::forms::text::{Message, parse, rows_as_text};
use fivefig::input::sheet::Sheet;
use fivefig::model::{Form, Reach};
use fivefig::{input, issue, profile};

use crate::support;

fn sample(name: &str) -> (Sheet, Vec<u8>) {
    let (_, sheet) = support::sample(name);
    (
        sheet,
        fs::read(support::path(&format!("{name}.csv"))).unwrap(),
    )
}

fn coded(form: Form, csv: &[u8], sheet: &Sheet) -> Message {
    let raw = input::text::read(csv, "x.csv", &sheet.reading)
        .unwrap()
        .value;
    let ascent = profile::build_for(form, &raw, &sheet.context)
        .unwrap()
        .value;
    let coded = issue::code(form, &ascent, &sheet.context, Reach::Whole).unwrap();
    coded.message
}

#[test]
fn coding_a_rebuilt_profile_settles() {
    for name in [
        "minute",
        "winter_jet",
        "low_burst",
        "tropical",
        "polar_night",
        "plateau",
        "windless",
        "ship",
        "mobile",
        "gaps",
        "twin_levels",
    ] {
        let (mut sheet, csv) = sample(name);
        let first = coded(Form::Temp, &csv, &sheet);
        // The surface is in the message; the rows stand on their own.
        sheet.context.surface = None;
        sheet.reading = fivefig::model::Reading::default();
        let again = |m: &Message| coded(Form::Temp, rows_as_text(&m.profile()).as_bytes(), &sheet);
        let second = again(&first);
        let third = again(&second);
        assert_eq!(third.to_string(), second.to_string(), "{name}");
        // What was reported stays: surface and tropopause of the first.
        let a = |m: &Message| m.groups(fivefig::model::Part::A).unwrap();
        let surface = |m: &Message| {
            let groups = a(m);
            let at = groups
                .iter()
                .rposition(|g| g.starts_with("99") && g.len() == 5)
                .unwrap_or(3);
            groups[..=at].last().cloned()
        };
        assert_eq!(surface(&second), surface(&first), "{name}");
    }
}

#[test]
fn every_level_of_a_message_is_a_row() {
    let text = "TTAA 15116 99011 99013 10030 24005 00107 09030 24006 92748 04430 25010 \
        85431 00056 26014 70961 08357 27018 88999 77999=\n\
        TTBB 15118 99011 00013 10030 11850 00056 22700 08357 33/// ///// 44500 22760 21212 \
        00013 24005 11820 26014 22700 27018=";
    let text = text.replace("15116", "15117");
    // 820 hPa, a wind level, has its temperature on the line from 850 to 700 hPa:
    // −8.3 × ln(850/820) / ln(850/700) = −1.54.
    let between = |t: Option<f64>| t.filter(|t| (t + 1.54).abs() < 0.01).map(|_| 820.0);
    let profile = parse(&text).unwrap().profile();
    let rows: Vec<(f64, Option<f64>, bool)> = profile
        .rows
        .iter()
        .map(|r| (r.pressure_hpa.unwrap(), r.temperature_c, r.wind.is_some()))
        .map(|(p, t, w)| (p, if p == 820.0 { between(t) } else { t }, w))
        .collect();
    // 600 hPa is the middle of the layer without data.
    assert_eq!(
        rows,
        [
            (1013.0, Some(10.0), true),
            (1000.0, Some(9.0), true),
            (925.0, Some(4.4), true),
            (850.0, Some(0.0), true),
            (820.0, Some(820.0), true),
            (700.0, Some(-8.3), true),
            (600.0, None, false),
            (500.0, Some(-22.7), false),
        ]
    );
}
