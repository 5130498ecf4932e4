//! Reports in BUFR: the laws of the form on every sample, what a message must hold
//! by the regulations, and that text, JSON and BUFR say the same.

use approx::assert_abs_diff_eq;

use fivefig::forms::bufr;
use fivefig::forms::bufr::{Descriptor, Layout, Message, Value};
use fivefig::forms::text::parse;
use fivefig::issue;
use fivefig::issue::{Coded, code};
use fivefig::levels::report::with_every_row;
use fivefig::model::finding::Finding;
use fivefig::model::{Context, Form, Level, Noted, Position, Profile, Reach, Report, Roles, When};
use fivefig::verify::compare::{Tolerance, compare};
use fivefig::{input, levels, profile};

use crate::support;

const SAMPLES: [&str; 15] = [
    "minute",
    "theodolite",
    "descent",
    "ship",
    "mobile",
    "drop",
    "pilot",
    "winter_jet",
    "low_burst",
    "tropical",
    "polar_night",
    "gaps",
    "plateau",
    "twin_levels",
    "windless",
];

struct Sample {
    ascent: Profile,
    context: Context,
    form: Form,
}

fn sample(name: &str) -> Sample {
    let form = match name {
        "pilot" | "theodolite" => Form::Pilot,
        "descent" => Form::Descent,
        _ => Form::Temp,
    };
    let (ascent, sheet) = support::ascent(name, form);
    Sample {
        ascent,
        context: sheet.context,
        form,
    }
}

fn coded(sample: &Sample, reach: Reach) -> Coded {
    code(sample.form, &sample.ascent, &sample.context, reach).unwrap()
}

/// The templates that a sample can go out in.
fn templates(name: &str) -> Vec<&'static str> {
    match name {
        "drop" => vec!["309053"],
        "descent" => vec!["309056"],
        // Pressure fails on the way: by height alone.
        "pilot" | "theodolite" => vec!["309051"],
        _ => vec!["309057", "309052"],
    }
}

fn with_template(report: &Report, template: &str) -> Report {
    let mut report = report.clone();
    report.context.bufr.template = Some(template.to_owned());
    report
}

/// Writes a report and reads it again.
fn through(report: &Report) -> (Message, Report) {
    let message = bufr::from_report(report).unwrap().value;
    let octets = message.encode().unwrap();
    let received = bufr::read(&octets).unwrap();
    assert_eq!(received.message, message);
    let mut soundings = bufr::to_report(&received).unwrap();
    assert_eq!(soundings.len(), 1);
    let sounding = soundings.remove(0);
    let named = |f: &Finding| f.code == "surfaces-named-by-height";
    assert!(
        sounding.findings.iter().all(named),
        "{:?}",
        sounding.findings
    );
    (message, sounding.report)
}

/// The values of one descriptor in the order of the message.
fn of(message: &Message, figures: &str) -> Vec<Value> {
    let layout = Layout::new(&message.template, 0).unwrap();
    let values = &message.values[0];
    let fields = layout.fields(|n| values[n].number().and_then(|n| u64::try_from(n).ok()));
    let wanted = Descriptor::from_figures(figures).unwrap();
    fields
        .iter()
        .zip(values)
        .filter(|(field, _)| field.descriptor == wanted)
        .map(|(_, value)| value.clone())
        .collect()
}

fn numbers(message: &Message, figures: &str) -> Vec<Option<i64>> {
    of(message, figures).iter().map(Value::number).collect()
}

/// A message that was read and is written again is the same message: for every
/// sample, template, reach, and both choices of levels.
#[test]
fn what_is_read_is_written_again_the_same() {
    for name in SAMPLES {
        let sample = sample(name);
        for reach in [Reach::Whole, Reach::To100] {
            let made = issue::report(sample.form, &sample.ascent, &sample.context, reach);
            let early = levels::up_to_100(&sample.ascent, &sample.context.coding).is_some()
                && name != "descent";
            if reach == Reach::To100 && !early {
                assert!(
                    ["low_burst", "drop", "descent", "theodolite"].contains(&name),
                    "{name}"
                );
                continue;
            }
            let report = made.unwrap().value;
            for template in templates(name) {
                let chosen = with_template(&report, template);
                let whole = with_every_row(&chosen, &sample.ascent);
                for report in [chosen, whole] {
                    let (message, read) = through(&report);
                    let again = bufr::from_report(&read).unwrap().value;
                    assert_eq!(again.values, message.values, "{name} {template} {reach:?}");
                    let own = &message.section1;
                    assert_eq!(again.section1, *own, "{name} {template}");
                    // 3 01 150 and 3 01 128 go in front only where something is known.
                    assert_eq!(again.template, message.template, "{name} {template}");
                }
            }
        }
    }
}

/// Text, JSON and BUFR of one flight differ by no more than their rounding.
#[test]
fn text_and_bufr_of_a_flight_agree() {
    for name in SAMPLES {
        let sample = sample(name);
        let made = issue::report(sample.form, &sample.ascent, &sample.context, Reach::Whole);
        let report = made.unwrap().value;
        let text = (sample.form != Form::Descent).then(|| {
            let message = coded(&sample, Reach::Whole).message.to_string();
            parse(&message).unwrap().report()
        });
        for template in templates(name) {
            let chosen = with_template(&report, template);
            let whole = with_every_row(&chosen, &sample.ascent);
            for report in [chosen, whole] {
                let read = through(&report).1;
                let none: Vec<String> = Vec::new();
                let reported = |left: &Report, right: &Report| -> Vec<String> {
                    let found = compare(left, right, &Tolerance::coarser(left, right));
                    found.iter().map(ToString::to_string).collect()
                };
                let mut values = reported(&report, &read);
                // Where two levels became one, one of them has the other's values.
                let united = bufr::from_report(&report).unwrap().findings.into_iter();
                let tenths = |p: f64| (p * 10.0).round();
                let united: Vec<f64> = united
                    .filter(|f| f.code == "levels-united")
                    .map(|f| tenths(f.place.pressure_hpa.unwrap()))
                    .collect();
                let united: Vec<String> = (report.levels.iter())
                    .filter_map(|l| l.row.pressure_hpa)
                    .filter(|&p| united.contains(&tenths(p)))
                    .map(|p| format!("at {p} hPa "))
                    .collect();
                values.retain(|d| !united.iter().any(|at| d.contains(at.as_str())));
                // Steps of 10 Pa or 1 gpm leave out rows, which is reported as such.
                values
                    .retain(|d| template.ends_with(['6', '7']) || !d.contains("number of levels"));
                assert_eq!(values, none, "{name} {template} values");
                let Some(text) = &text else { continue };
                let mut values = reported(text, &read);
                values.retain(|d| !united.iter().any(|at| d.contains(at.as_str())));
                // By height alone a maximum wind has no pressure.
                values.retain(|d| name != "pilot" || !d.contains("(max_wind)"));
                assert_eq!(values, none, "{name} {template} text");
            }
        }
    }
}

/// WMO-No. 306 Vol. I.2, B/C25: falling pressure; the bits that go together;
/// levels below the station; the top of the wind.
#[test]
fn levels_hold_what_the_regulations_ask_for() {
    let sample = sample("winter_jet");
    let report = with_every_row(&coded(&sample, Reach::Whole).report, &sample.ascent);
    let (message, read) = through(&report);
    assert_eq!(message.template[0].to_string(), "309057");
    let flags = numbers(&message, "008042");
    let count = numbers(&message, "031002")[0].unwrap();
    let shears = usize::try_from(numbers(&message, "031001")[0].unwrap()).unwrap();
    let levels = usize::try_from(count).unwrap();
    assert_eq!(levels, report.levels.len());
    assert!(levels > sample.ascent.rows.len());
    let pressures: Vec<i64> = numbers(&message, "007004")[..levels]
        .iter()
        .map(|p| p.unwrap())
        .collect();
    assert!(pressures.is_sorted_by(|a, b| a >= b));
    // Bit 1 with bits 5, 6, 7: 145408 in all; the row of 1004.3 hPa.
    let surface = flags.iter().position(|f| f.unwrap() >= 131_072).unwrap();
    assert_eq!(flags[surface], Some(145_408));
    assert_eq!(pressures[surface], 100_430);
    // 1000 hPa is above it here, so the surface is the first level.
    assert_eq!(surface, 0);
    // Bit 4 never without bit 7, and one shear a maximum, in the same order.
    let maxima: Vec<usize> = (0..levels)
        .filter(|&i| flags[i].unwrap() & 16_384 != 0)
        .collect();
    assert!(!maxima.is_empty() && maxima.len() == shears);
    assert!(maxima.iter().all(|&i| flags[i].unwrap() & 2048 != 0));
    assert_eq!(read.maxima.len(), shears);
    assert!(read.maxima.iter().all(|m| m.shear.is_some()));
    // Bit 14 once, at the highest level with wind.
    let tops: Vec<usize> = (0..levels)
        .filter(|&i| flags[i].unwrap() & 16 != 0)
        .collect();
    let wind = numbers(&message, "011002");
    let highest = (0..levels).rev().find(|&i| wind[i].is_some()).unwrap();
    assert_eq!(tops, [highest]);
    // 18: launch time; seconds as the sheet has them; the standard time in section 1.
    assert_eq!(numbers(&message, "008021"), [Some(18)]);
    let clock: Vec<_> = ["004004", "004005", "004006"]
        .map(|d| numbers(&message, d)[0].unwrap())
        .to_vec();
    assert_eq!(clock, [11, 23, 40]);
    assert_eq!(message.section1.clock, [12, 0, 0]);
    let s = &message.section1;
    assert_eq!((s.year, s.month, s.day), (2031, 1, 15));
    assert_eq!((s.category, s.subcategory), (2, 4));
    // Clouds 6 oktas, base figure 4 (300 m), CL 5 = 35, CM 7 = 27, CH 0 = 10.
    assert_eq!(numbers(&message, "008002"), [Some(7), None]);
    assert_eq!(numbers(&message, "020011"), [Some(6)]);
    assert_eq!(numbers(&message, "020013"), [Some(30)]);
    assert_eq!(numbers(&message, "020012"), [Some(35), Some(27), Some(10)]);
}

/// B/C25: standard surfaces below the station have time and displacement 0,
/// a height, and nothing else.
#[test]
fn surfaces_below_the_station_have_a_height_alone() {
    let sample = sample("plateau");
    let report = coded(&sample, Reach::Whole).report;
    let (message, _) = through(&report);
    let flags = numbers(&message, "008042");
    let surface = flags.iter().position(|f| f.unwrap() >= 131_072).unwrap();
    // 1000, 925 and 850 hPa lie below a surface near 780 hPa.
    assert_eq!(surface, 3);
    for (below, flag) in flags.iter().enumerate().take(surface) {
        assert_eq!(*flag, Some(65_536));
        for zero in ["004086", "005015", "006015"] {
            assert_eq!(numbers(&message, zero)[below], Some(0), "{zero}");
        }
        assert!(numbers(&message, "010009")[below].is_some());
        for none in ["012101", "012103", "011001", "011002"] {
            assert_eq!(numbers(&message, none)[below], None, "{none}");
        }
    }
}

/// 3 09 052 has 10 Pa: each coded pressure once, and what is left out is reported.
#[test]
fn rows_of_one_coded_pressure_are_thinned_and_told() {
    for name in ["winter_jet", "twin_levels", "tropical"] {
        let sample = sample(name);
        let coded = coded(&sample, Reach::Whole);
        let report = with_every_row(&with_template(&coded.report, "309052"), &sample.ascent);
        let Noted {
            value: message,
            findings,
        } = bufr::from_report(&report).unwrap();
        let count = numbers(&message, "031002")[0].unwrap();
        let levels = usize::try_from(count).unwrap();
        let pressures = &numbers(&message, "007004")[..levels];
        assert!(
            pressures.is_sorted_by(|a, b| a.unwrap() > b.unwrap()),
            "{name}"
        );
        let left_out = report.levels.len() - levels;
        let reported = findings
            .iter()
            .find(|f| f.code == "levels-thinned")
            .unwrap();
        assert!(
            reported.what.starts_with(&format!("{left_out} level")),
            "{reported}"
        );
        // No level with a role is lost, nor any of its roles.
        let all = |levels: &[Level]| {
            let mut counts = [0; 18];
            for level in levels {
                for (bit, count) in counts.iter_mut().enumerate() {
                    *count += usize::from(level.roles.bits() & (1 << bit) != 0);
                }
            }
            counts
        };
        let read = through(&report).1;
        let (own, given) = (all(&report.levels), all(&read.levels));
        let sig_wind_of_surface = Roles::SIG_WIND.bits().trailing_zeros() as usize;
        for bit in (0..18).filter(|&b| b != sig_wind_of_surface) {
            assert!(given[bit] <= own[bit], "{name} bit value {}", 1 << bit);
            assert!(
                own[bit] == 0 || given[bit] > 0,
                "{name} bit value {}",
                1 << bit
            );
        }
    }
}

/// Descent data: the time, place and height at which it begins; seconds and
/// displacements from there; no clouds (Table D notes on 3 09 056).
#[test]
fn a_descent_counts_from_its_beginning() {
    let sample = sample("descent");
    let made = issue::report(Form::Descent, &sample.ascent, &sample.context, Reach::Whole);
    let report = with_every_row(&made.unwrap().value, &sample.ascent);
    let (message, read) = through(&report);
    assert_eq!(
        (message.section1.category, message.section1.subcategory),
        (2, 14)
    );
    // 2: start of observation, then missing again.
    assert_eq!(numbers(&message, "008091"), [Some(2), None]);
    assert_eq!(numbers(&message, "020012"), []);
    let start = report.start.unwrap();
    let clock = start.time.unwrap();
    let seconds = |h: i8, m: i8, s: i8| 3600 * i64::from(h) + 60 * i64::from(m) + i64::from(s);
    let coded: Vec<i64> = ["004004", "004005", "004006"]
        .map(|d| numbers(&message, d)[0].unwrap())
        .to_vec();
    assert_eq!(
        3600 * coded[0] + 60 * coded[1] + coded[2],
        seconds(clock.hour(), clock.minute(), clock.second())
    );
    let levels = usize::try_from(numbers(&message, "031002")[0].unwrap()).unwrap();
    for zero in ["004086", "005015", "006015"] {
        // The highest level is where it begins, and the last of the message.
        assert_eq!(numbers(&message, zero)[levels - 1], Some(0), "{zero}");
    }
    let times = numbers(&message, "004086");
    assert!(times[..levels].is_sorted_by(|a, b| a >= b));
    // No surface: nothing was released there.
    assert!(
        numbers(&message, "008042")
            .iter()
            .all(|f| f.unwrap() < 131_072)
    );
    assert_eq!(read.start.unwrap().time, start.time);
}

/// A flight that passed 100 hPa: the early message ends there and has no top of
/// the wind yet; levels up to there are those of the final one.
#[test]
fn the_early_message_ends_at_100_hpa() {
    let sample = sample("winter_jet");
    let early = with_every_row(&coded(&sample, Reach::To100).report, &sample.ascent);
    let (message, _) = through(&early);
    let levels = usize::try_from(numbers(&message, "031002")[0].unwrap()).unwrap();
    let pressures = &numbers(&message, "007004")[..levels];
    // 99.95 hPa is 100.0 in the code, and still in Parts A and B.
    assert!((9995..=10_000).contains(&pressures[levels - 1].unwrap()));
    assert!(
        numbers(&message, "008042")
            .iter()
            .all(|f| f.unwrap() & 16 == 0)
    );
}

/// B/C25: a NIL report has a positive number of levels, all missing.
#[test]
fn nil_has_one_level_without_anything() {
    for name in ["winter_jet", "ship", "mobile", "drop", "pilot"] {
        let sample = sample(name);
        let (report, _) = issue::nil(sample.form, &sample.context).unwrap();
        let (message, read) = through(&report);
        assert_eq!(numbers(&message, "031002"), [Some(1)], "{name}");
        assert_eq!(numbers(&message, "031001"), [Some(1)], "{name}");
        assert!(
            read.levels.is_empty() && read.parts.values().all(|p| p.nil),
            "{name}"
        );
        assert_eq!(bufr::from_report(&read).unwrap().value, message, "{name}");
        let identified = read.context.station.wmo().is_some()
            || read.context.station.call_sign().is_some()
            || name == "drop";
        assert!(identified, "{name}");
    }
}

/// The counters hold 65 534 levels (16 bits, all ones elsewhere missing).
#[test]
fn more_levels_than_the_counter_holds_are_refused() {
    let sample = sample("low_burst");
    let mut report = coded(&sample, Reach::Whole).report;
    let plain = Level {
        roles: Roles::empty(),
        ..report.levels[5].clone()
    };
    report
        .levels
        .extend(vec![plain; 65_535 - report.levels.len()]);
    let error = bufr::from_report(&report).unwrap_err().to_string();
    assert_eq!(
        error,
        "65535 levels exceed the counter 031002, which allows 65534; write the chosen levels only"
    );
    report.levels.pop();
    assert!(bufr::from_report(&report).is_ok());
}

/// What does not fit is named with its level, its value and the bounds.
#[test]
fn what_does_not_fit_is_an_error_with_its_place() {
    let sample = sample("low_burst");
    let report = coded(&sample, Reach::Whole).report;
    let stderr = |change: &dyn Fn(&mut Report)| {
        let mut report = report.clone();
        change(&mut report);
        bufr::from_report(&report).unwrap_err().to_string()
    };
    let lines = [
        stderr(&|r| r.levels[3].row.wind.as_mut().unwrap().speed_ms = 500.0),
        stderr(&|r| r.levels[3].row.height_gpm = Some(-1200.0)),
        stderr(&|r| r.levels[3].row.time_s = Some(40_000.0)),
        stderr(&|r| {
            r.context.flight.serial = Some("a serial number of more than twenty".to_owned())
        }),
        stderr(&|r| r.context.station.wigos_id = Some("0-20000-0".to_owned())),
        stderr(&|r| r.context.bufr.template = Some("309055".to_owned())),
        stderr(&|r| r.context.bufr.template = Some("309053".to_owned())),
        stderr(&|r| r.context.bufr.template = Some("301001".to_owned())),
        stderr(&|r| r.context.flight.ascent = Some(20_000)),
        stderr(&|r| {
            r.when = When::Coded {
                day: 1,
                hour: 0,
                release: None,
                date: None,
            }
        }),
    ];
    insta::assert_snapshot!(lines.join("\n"));
}

/// A profile without positions: the displacement summed up from the wind is that of
/// the track, on samples whose positions their generator computed apart.
#[test]
fn displacements_without_positions_come_from_the_wind() {
    for name in ["winter_jet", "ship", "tropical", "polar_night"] {
        let with = sample(name);
        let (mut raw, sheet) = support::sample(name);
        for row in &mut raw.rows {
            (row.latitude_deg, row.longitude_deg) = (None, None);
        }
        let Noted {
            value: without,
            findings,
        } = profile::build(&raw, &sheet.context).unwrap();
        assert!(
            findings.iter().any(|f| f.code == "position-from-wind"),
            "{name}"
        );
        let last = |p: &Profile| p.rows.iter().rev().find_map(|r| r.place).unwrap();
        let (track, summed) = (last(&with.ascent), last(&without));
        let start = with.context.station.position().unwrap();
        let apart = |a: Position, b: Position| {
            (a.latitude_deg() - b.latitude_deg()).hypot(a.longitude_deg() - b.longitude_deg())
        };
        let (gone, off) = (apart(track, start), apart(track, summed));
        // Noise and steps of the wind column are all there is between the two.
        assert!(off < 0.02 * gone + 0.002, "{name}: {off} of {gone} degrees");
    }
}

/// The ends of layers without data and the sea temperature stand in the message:
/// bits 8 to 13 of 0 08 042; 27.3 °C is 300.45 K.
#[test]
fn missing_layers_and_the_sea_are_there() {
    let gaps = sample("gaps");
    let report = coded(&gaps, Reach::Whole).report;
    let (message, read) = through(&report);
    let flags = numbers(&message, "008042");
    let count = |bit: i64| flags.iter().filter(|f| f.unwrap() & bit != 0).count();
    // Begin and end of temperature, humidity and wind: a pair a layer, but for
    // humidity, which in the end does not return.
    for (begin, end, open) in [(1024, 512, 0), (256, 128, 1), (64, 32, 0)] {
        assert!(count(end) > 0, "{begin}");
        assert_eq!(count(begin), count(end) + open, "{begin}");
    }
    assert_eq!(read.missing.len(), report.missing.len());
    for (own, given) in report.missing.iter().zip(&read.missing) {
        assert_eq!(own.element, given.element);
        assert_abs_diff_eq!(
            own.from_hpa.unwrap(),
            given.from_hpa.unwrap(),
            epsilon = 0.005 + 1e-9
        );
        let near = |(a, b): (f64, f64)| (a - b).abs() <= 0.005 + 1e-9;
        assert!(own.to_hpa.zip(given.to_hpa).is_none_or(near));
        assert_eq!(own.to_hpa.is_some(), given.to_hpa.is_some());
    }
    let ship = sample("ship");
    let (message, read) = through(&coded(&ship, Reach::Whole).report);
    assert_eq!(numbers(&message, "022043"), [Some(30_045)]);
    assert_eq!(read.context.surface.unwrap().sea_temperature_c, Some(27.3));
    // A ship has its call sign and no station number.
    assert_eq!(of(&message, "001011"), [Value::text("XQ7INV")]);
    assert_eq!(numbers(&message, "001001"), [None]);
    // 5: TEMP SHIP.
    assert_eq!(message.section1.subcategory, 5);
}

/// 3 09 055, which is read alone: levels by height with relative humidity; the
/// surface observation stands in front.
#[test]
fn a_sounding_by_height_is_read() {
    let template = vec![Descriptor::from_figures("309055").unwrap()];
    let layout = Layout::new(&template, 0).unwrap();
    let levels = 3;
    let fields = layout.fields(|_| Some(levels));
    let mut level = 0;
    let values: Vec<Value> = fields
        .iter()
        .map(|field| {
            let number = match field.descriptor.to_string().as_str() {
                "001001" => 99,
                "001002" => 11,
                "004001" => 2031,
                "004002" | "004003" => 1,
                "004004" => 11,
                "004005" => 30,
                "004006" => 0,
                // 51.25 degrees north.
                "005001" => 5_125_000,
                "006001" => -340_000,
                // 1004.3 hPa in units of 10 Pa.
                "010004" => 10_043,
                "031002" => i64::try_from(levels).unwrap(),
                "004086" => {
                    level += 1;
                    10 * (level - 1)
                }
                "008042" => [145_408, 0, 16][usize::try_from(level - 1).unwrap()],
                "007009" => 84 + 50 * (level - 1),
                "012101" if level > 0 => 27_815 - 30 * level,
                // 81.5 %: scale 1.
                "013009" => 815,
                "011001" if level > 0 => 240,
                "011002" if level > 0 => 61,
                _ => return Value::Missing,
            };
            Value::Number(number)
        })
        .collect();
    let message = Message {
        section1: bufr::Section1 {
            subcategory: 4,
            year: 2031,
            month: 1,
            day: 1,
            clock: [12, 0, 0],
            ..bufr::Section1::default()
        },
        template,
        values: vec![values],
    };
    let octets = message.encode().unwrap();
    let received = bufr::read(&octets).unwrap();
    let sounding = bufr::to_report(&received).unwrap().remove(0);
    let report = sounding.report;
    assert_eq!(report.axis, fivefig::model::Axis::Height);
    let integrated = |f: &Finding| f.code == "pressure-integrated";
    assert!(sounding.findings.iter().any(integrated));
    // As a profile its pressures follow from that of the surface: 50 gpm of air of
    // 277.55 K (4.4 °C) are 1004.3 (1 - exp(-50 / (29.27 x 277.4))) = 6.17 hPa.
    let (flight, _) = input::bufr::read(&octets, "x.bufr", None).unwrap();
    let ascent = profile::build(&flight.raw, &report.context).unwrap().value;
    let pressures: Vec<f64> = ascent
        .rows
        .iter()
        .map(|r| r.pressure_hpa.unwrap())
        .collect();
    assert_eq!(pressures[0], 1004.3);
    assert!((pressures[1] - 998.13).abs() < 0.05, "{pressures:?}");
    assert_eq!(report.context.surface.unwrap().pressure_hpa, Some(1004.3));
    let rows: Vec<_> = report.levels.iter().map(|l| &l.row).collect();
    assert_eq!(rows.len(), 3);
    let heights: Vec<_> = rows.iter().map(|r| r.height_gpm.unwrap()).collect();
    assert_eq!(heights, [84.0, 134.0, 184.0]);
    assert_eq!(rows[2].humidity_pct, Some(81.5));
    assert_eq!(rows[2].temperature_c, Some(4.1));
    assert_eq!(rows[1].wind.unwrap().speed_ms, 6.1);
    assert!(report.levels[2].roles.any(Roles::TOP_OF_WIND));
}

/// A whole profile by height (3 09 055) gives the pressures and the text of the same
/// profile by pressure. Pressures are within what rounding does: 0.05 hPa of the surface,
/// 0.5 gpm of a height (0.06 hPa near the ground, 29.27 m a kelvin), 0.005 K over the column
/// (1e-5 of ln p for 10 km); 0.15 hPa in all.
#[test]
fn a_profile_by_height_gives_the_text_of_the_profile_by_pressure() {
    let sample = sample("tropical");
    let made = coded(&sample, Reach::Whole);
    let ground = sample.ascent.rows[0].pressure_hpa.unwrap();
    let mut report = with_every_row(&made.report, &sample.ascent);
    // Surfaces below the ground are no levels of a message by height.
    report
        .levels
        .retain(|l| l.row.pressure_hpa.unwrap() <= ground);
    let (release, standard) = match report.when {
        When::Full { release, standard } => (release, standard),
        When::Coded { .. } => panic!("a sample has its full date"),
    };
    let template = vec![Descriptor::from_figures("309055").unwrap()];
    let count = u64::try_from(report.levels.len()).unwrap();
    let fields = Layout::new(&template, 0).unwrap().fields(|_| Some(count));
    let station = &report.context.station;
    let position = station.position().unwrap();
    let rounded = |value: f64, places: i32| (value * 10_f64.powi(places)).round() as i64;
    let kelvin = |c: f64| rounded(c + 273.15, 2);
    let mut levels = report.levels.iter();
    let mut row = None;
    let values = fields.iter().map(|field| {
        let of = field.descriptor.to_string();
        if of == "004086" {
            row = levels.next();
        }
        let here = row.map(|l: &Level| &l.row);
        let wind = here.and_then(|r| r.wind);
        let number = match (of.as_str(), here) {
            ("001001", _) => Some(99),
            ("001002", _) => Some(13),
            ("004001", None) => Some(i64::from(release.year())),
            ("004002", None) => Some(i64::from(release.month())),
            ("004003", None) => Some(i64::from(release.day())),
            ("004004", None) => Some(i64::from(release.hour())),
            ("004005", None) => Some(i64::from(release.minute())),
            ("004006", None) => Some(i64::from(release.second())),
            ("005001", None) => Some(rounded(position.latitude_deg(), 5)),
            ("006001", None) => Some(rounded(position.longitude_deg(), 5)),
            ("007030", None) => station.elevation_m.map(|v| rounded(v, 1)),
            ("007007", None) => station.release_m.map(|v| rounded(v, 0)),
            ("010004", None) => Some(rounded(ground, 1)),
            ("031002", _) => i64::try_from(count).ok(),
            ("004086", Some(r)) => r.time_s.map(|v| rounded(v, 0)),
            ("008042", Some(_)) => row.map(|l| i64::from((l.roles & Roles::FLAG_TABLE).bits())),
            ("007009", Some(r)) => r.height_gpm.map(|v| rounded(v, 0)),
            ("012101", Some(r)) => r.temperature_c.map(kelvin),
            ("012103", Some(r)) => r.dewpoint_c.map(kelvin),
            ("013009", Some(r)) => r.humidity_pct.map(|v| rounded(v, 1)),
            ("011001", Some(_)) => wind.map(|w| rounded(w.dir_deg, 0)),
            ("011002", Some(_)) => wind.map(|w| rounded(w.speed_ms, 1)),
            _ => None,
        };
        number.map_or(Value::Missing, Value::Number)
    });
    let message = Message {
        section1: bufr::Section1 {
            subcategory: 4,
            year: 2031,
            month: u8::try_from(standard.month()).unwrap(),
            day: u8::try_from(standard.day()).unwrap(),
            clock: [u8::try_from(standard.hour()).unwrap(), 0, 0],
            ..bufr::Section1::default()
        },
        values: vec![values.collect()],
        template,
    };
    let octets = message.encode().unwrap();
    let read = input::bufr::soundings(&octets, "x").value.remove(0).report;
    assert_eq!(read.levels.len(), report.levels.len());
    // By height, as the rows are in time.
    report.levels.sort_by(|a, b| {
        a.row
            .height_gpm
            .unwrap()
            .total_cmp(&b.row.height_gpm.unwrap())
    });
    let apart = read.levels.iter().zip(&report.levels).map(|(own, given)| {
        (own.row.pressure_hpa.unwrap() - given.row.pressure_hpa.unwrap()).abs()
    });
    let apart = apart.fold(0.0, f64::max);
    assert!(apart <= 0.15, "{apart} hPa");
    // The message as a text, beside that of the profile: nothing but one step of rounding.
    let text = fivefig::forms::text::message(&read).unwrap().value.report();
    let own = made.message.report();
    let mut differences = compare(&own, &text, &Tolerance::one_step(&own, &text));
    let below = |d: &fivefig::verify::compare::Difference| {
        let line = d.to_string();
        line.contains("missing on the right") && line.contains("1000 hPa")
    };
    differences.retain(|d| !below(d));
    assert_eq!(differences, [], "{:?}", made.message.to_string());
}

/// A descriptor put behind the others of section 3, as octets.
fn with_descriptor(octets: &[u8], descriptor: &str) -> Vec<u8> {
    let bits = Descriptor::from_figures(descriptor).unwrap().bits();
    let longer = |at: usize, out: &mut Vec<u8>| {
        let length = u32::from_be_bytes([0, out[at], out[at + 1], out[at + 2]]) + 2;
        out[at..at + 3].copy_from_slice(&length.to_be_bytes()[1..]);
        usize::try_from(length).unwrap()
    };
    let mut out = octets.to_vec();
    longer(4, &mut out);
    // Section 3 begins after 8 octets of section 0 and 22 of section 1.
    let end = 30 + longer(30, &mut out) - 2;
    out.splice(end..end, bits.to_be_bytes());
    out
}

/// Operational messages spell their template out, or have elements behind it that no
/// table here has: the sounding is read, and what was not read is reported.
#[test]
fn a_sounding_is_read_whatever_follows_it() {
    let sample = sample("winter_jet");
    let mut report = with_template(&coded(&sample, Reach::Whole).report, "309052");
    report.context.station.wigos_id = None;
    let (message, read) = through(&report);
    let spelt: Vec<Descriptor> = [
        "301128", "301111", "301113", "301114", "302049", "022043", "101000", "031002", "303054",
        "101000", "031001", "303051",
    ]
    .map(|d| Descriptor::from_figures(d).unwrap())
    .to_vec();
    let message = Message {
        template: spelt,
        ..message
    };
    let octets = message.encode().unwrap();
    let received = bufr::read(&octets).unwrap();
    let again = bufr::to_report(&received).unwrap().remove(0);
    assert_eq!(again.report, read);
    assert_eq!(again.findings, []);
    // Table C has no operator 2 09; 0 54 001 is a local element.
    for more in ["209000", "054001"] {
        let received = bufr::read(&with_descriptor(&octets, more)).unwrap();
        let fault = received.unread.as_ref().unwrap().to_string();
        assert!(
            fault.starts_with("section 3, bit ") && fault.contains(more),
            "{fault}"
        );
        let again = bufr::to_report(&received).unwrap().remove(0);
        assert_eq!(again.report, read);
        assert_eq!(again.findings[0].code, "descriptors-unread");
    }
    // In front of the levels, or with a second subset, it cannot be passed over.
    let mut two = message.clone();
    two.values.push(two.values[0].clone());
    let two = two.encode().unwrap();
    assert_eq!(
        bufr::to_report(&bufr::read(&two).unwrap()).unwrap().len(),
        2
    );
    assert!(bufr::read(&with_descriptor(&two, "209000")).is_err());
}

/// B/C25, clouds: significance, amount and types by what is seen.
#[test]
fn clouds_are_reported_by_what_is_seen() {
    use fivefig::model::{Clouds, Sky};
    let base = coded(&sample("low_burst"), Reach::Whole).report;
    let figures = |clouds: Clouds| {
        let mut report = base.clone();
        report.context.clouds = Some(clouds);
        let message = bufr::from_report(&report).unwrap().value;
        let one = |fxy: &str| numbers(&message, fxy)[0];
        (one("008002"), one("020011"), numbers(&message, "020012"))
    };
    let some = |nh: u8, cl: u8, cm: u8, ch: u8| Clouds {
        nh: Some(nh),
        cl: Some(cl),
        cm: Some(cm),
        ch: Some(ch),
        ..Clouds::default()
    };
    let types = |cl: i64, cm: i64, ch: i64| vec![Some(cl), Some(cm), Some(ch)];
    // 7 low, 8 middle without low, 0 high alone, 62 clear.
    assert_eq!(
        figures(some(6, 5, 7, 0)),
        (Some(7), Some(6), types(35, 27, 10))
    );
    assert_eq!(
        figures(some(4, 0, 3, 1)),
        (Some(8), Some(4), types(30, 23, 11))
    );
    assert_eq!(
        figures(some(3, 0, 0, 2)),
        (Some(0), Some(0), types(30, 20, 12))
    );
    assert_eq!(
        figures(some(0, 0, 0, 0)),
        (Some(62), Some(0), types(30, 20, 10))
    );
    let none = Clouds {
        nh: Some(0),
        ..Clouds::default()
    };
    assert_eq!(figures(none), (Some(62), Some(0), types(30, 20, 10)));
    let sky = |sky: Sky| Clouds {
        sky: Some(sky),
        ..Clouds::default()
    };
    assert_eq!(
        figures(sky(Sky::Clear)),
        (Some(62), Some(0), types(30, 20, 10))
    );
    // 5 obscured: 9 oktas, nothing to be seen of any type.
    assert_eq!(
        figures(sky(Sky::Obscured)),
        (Some(5), Some(9), types(62, 61, 60))
    );
    assert_eq!(figures(sky(Sky::Unseen)), (None, None, vec![None; 3]));
}

/// C-13 has no figure for PILOT with a radiosonde used before; TEMP has 104.
#[test]
fn sub_categories_of_radiosondes_used_before() {
    for (name, figure) in [("pilot", 1), ("low_burst", 104), ("drop", 7), ("ship", 105)] {
        let mut report = coded(&sample(name), Reach::Whole).report;
        report.context.bufr.reused = true;
        let message = bufr::from_report(&report).unwrap().value;
        assert_eq!(message.section1.subcategory, figure, "{name}");
    }
}

/// Where 1 Pa is the step, a level with a role and a row of its pressure are one.
#[test]
fn a_flagged_level_takes_in_the_row_of_its_pressure() {
    let sample = sample("low_burst");
    let mut report = with_every_row(&coded(&sample, Reach::Whole).report, &sample.ascent);
    let at = report
        .levels
        .iter()
        .position(|l| l.roles.any(Roles::STANDARD))
        .unwrap();
    let plain = |off: f64| {
        let mut level = report.levels[at].clone();
        level.roles = Roles::empty();
        level.row.pressure_hpa = level.row.pressure_hpa.map(|p| p - off);
        level
    };
    let near = plain(0.001);
    report.levels.insert(at + 1, near);
    let Noted {
        value: message,
        findings,
    } = bufr::from_report(&report).unwrap();
    let count = usize::try_from(numbers(&message, "031002")[0].unwrap()).unwrap();
    assert_eq!(count, report.levels.len() - 1);
    assert!(findings.iter().any(|f| f.code == "levels-thinned"));
}

/// PILOT from a flight with pressure throughout goes out by pressure, 3 09 050.
#[test]
fn winds_with_pressure_go_out_by_pressure() {
    let temp = sample("winter_jet");
    let made = issue::report(Form::Pilot, &temp.ascent, &temp.context, Reach::Whole);
    let chosen = made.unwrap().value;
    for report in [with_every_row(&chosen, &temp.ascent), chosen] {
        let (message, read) = through(&report);
        assert_eq!(message.template.last().unwrap().to_string(), "309050");
        // 1: PILOT of a fixed land station.
        assert_eq!(message.section1.subcategory, 1);
        assert_eq!(numbers(&message, "012101"), []);
        let again = bufr::from_report(&read).unwrap().value;
        assert_eq!(again, message);
        let standard = |r: &Report| -> Vec<f64> {
            let levels = r.levels.iter().filter(|l| l.roles.any(Roles::STANDARD));
            levels.filter_map(|l| l.row.pressure_hpa).collect()
        };
        assert_eq!(standard(&read), standard(&report));
    }
}

/// 3 01 150 and 3 01 128: every value of the sheet in the units of Table B, worked
/// here by scale (404.0 MHz / 10^5 Hz = 4040; 0.6 kg x 10^3; 30 m x 10).
#[test]
fn sonde_and_balloon_of_the_sheet_are_in_the_message() {
    let report = coded(&sample("winter_jet"), Reach::Whole).report;
    let (message, read) = through(&report);
    for (fxy, number) in [
        ("001125", 0),
        ("001126", 20_000),
        ("001127", 0),
        ("001082", 29),
        ("001083", 1),
        ("002017", 3),
        ("002067", 4040),
        ("002081", 30),
        ("002082", 600),
        ("002084", 0),
        ("002085", 250),
        ("002086", 300),
        ("002095", 3),
        ("002096", 5),
        ("002097", 11),
        ("002191", 0),
        ("035035", 1),
    ] {
        assert_eq!(numbers(&message, fxy), [Some(number)], "{fxy}");
    }
    for (fxy, text) in [
        ("001128", "99011"),
        ("001081", "INV0029"),
        ("025061", "INVENTED 1"),
    ] {
        assert_eq!(of(&message, fxy), [Value::text(text)], "{fxy}");
    }
    assert_eq!(read.context.equipment, report.context.equipment);
    assert_eq!(read.context.balloon, report.context.balloon);
    assert_eq!(
        read.context.station.wigos_id,
        report.context.station.wigos_id
    );
}

/// A message of newer tables is read as far as its elements are known, and reported.
#[test]
fn newer_tables_are_reported() {
    let report = coded(&sample("low_burst"), Reach::Whole).report;
    let mut message = bufr::from_report(&report).unwrap().value;
    message.section1.table_version = 77;
    let received = bufr::read(&message.encode().unwrap()).unwrap();
    let sounding = bufr::to_report(&received).unwrap().remove(0);
    assert_eq!(sounding.findings[0].code, "newer-tables");
    assert_eq!(sounding.report.levels.len(), report.levels.len());
}

/// A standard surface just above the top, where its height may be extrapolated (a
/// quarter of its pressure, 25 hPa): a level with role standard and a height alone.
#[test]
fn a_surface_above_the_top_has_a_height_alone() {
    let mut sample = sample("tropical");
    sample
        .ascent
        .rows
        .retain(|r| r.pressure_hpa.unwrap() > 32.0);
    sample.context.coding.above_top = fivefig::model::AboveTop::Extrapolate;
    let report = with_every_row(&coded(&sample, Reach::Whole).report, &sample.ascent);
    let (message, read) = through(&report);
    let levels = usize::try_from(numbers(&message, "031002")[0].unwrap()).unwrap();
    let last = |fxy: &str| numbers(&message, fxy)[levels - 1];
    // 30 hPa in Pa; bit 2.
    assert_eq!((last("007004"), last("008042")), (Some(3000), Some(65_536)));
    assert!(last("010009").is_some());
    for none in ["012101", "012103", "011001", "011002"] {
        assert_eq!(last(none), None, "{none}");
    }
    assert_eq!(bufr::from_report(&read).unwrap().value, message);
}
