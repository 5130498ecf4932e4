//! Descents after burst: from a file to a report, in JSON, and what refuses them.

use std::fmt::Write as _;
use std::fs;

use fivefig::forms::json;
use fivefig::forms::json::Record;
use fivefig::forms::text::{CodeError, message};
use fivefig::issue;
use fivefig::issue::Refused;
use fivefig::issue::report::NotReported;
use fivefig::levels::{Levels, choose};
use fivefig::model::{
    At, Coding, Context, Flight, Form, Level, Motion, Order, Position, Profile, Reach, Reading,
    Region, Report, Roles, Rule, StationKind,
};
use fivefig::verify::compare::{Tolerance, compare};
use fivefig::verify::fidelity::fidelity;
use fivefig::{input, profile, tables};
use proptest::prelude::*;

use crate::support::{self, samples};

fn run(args: &[&str]) -> (i32, String, String) {
    support::run(&samples(), args, "")
}

/// The profile of the sample as a form, and its sheet.
fn sample(form: Form) -> (Profile, Context) {
    let (flight, sheet) = support::ascent("descent", form);
    (flight, sheet.context)
}

fn report(flight: &Profile, context: &Context) -> Result<Report, Refused> {
    issue::report(Form::Descent, flight, context, Reach::Whole).map(|noted| noted.value)
}

fn of_sample() -> Report {
    let (flight, context) = sample(Form::Descent);
    report(&flight, &context).unwrap()
}

const FLIGHT: [&str; 5] = [
    "descent.csv",
    "--sheet",
    "descent.toml",
    "--form",
    "descent",
];

fn flight(command: &'static str, more: &[&'static str]) -> (i32, String, String) {
    let args: Vec<&str> = [command]
        .iter()
        .chain(&FLIGHT)
        .chain(more)
        .copied()
        .collect();
    run(&args)
}

#[test]
fn the_levels_of_the_sample() {
    let (code, table, reported) = flight("levels", &[]);
    assert_eq!(code, 0, "{reported}");
    insta::assert_snapshot!(table);
}

/// The sample holds both ways; each is a sounding of its own.
#[test]
fn the_sample_has_an_ascent_and_a_descent() {
    let ((up, _), (down, _)) = (sample(Form::Temp), sample(Form::Descent));
    assert!(up.rows.len() > 1000 && down.rows.len() > 100);
    assert_eq!((up.motion, down.motion), (Motion::Rising, Motion::Falling));
    assert_eq!(
        up.rows.last().unwrap().time_s,
        down.rows.last().unwrap().time_s
    );
    assert!(down.rows.is_sorted_by(|a, b| a.time_s > b.time_s));
    assert!(
        down.rows
            .is_sorted_by(|a, b| a.pressure_hpa > b.pressure_hpa)
    );
}

#[test]
fn a_descent_has_no_surface_and_nothing_below_its_lowest_level() {
    let (mut flight, mut context) = sample(Form::Descent);
    // Whether it ends near the ground or not, and whatever a Region adds.
    context.coding.region = Region::IV;
    for aloft in [true, false] {
        flight.ends_aloft = aloft;
        let report = report(&flight, &context).unwrap();
        let lowest = flight.rows[0].pressure_hpa.unwrap();
        let first = &report.levels[0];
        assert_eq!(
            (first.row.pressure_hpa, first.at),
            (Some(lowest), At::Row(0))
        );
        assert!(first.roles.any(Roles::SIG_T_OR_U) && first.roles.any(Roles::SIG_WIND));
        let surface = |l: &&Level| {
            l.roles.any(Roles::SURFACE) || l.why.iter().any(|rule| matches!(rule, Rule::Surface(_)))
        };
        assert_eq!(report.levels.iter().find(surface), None);
        assert!(report.levels.iter().all(|l| l.at != At::Extrapolated));
        assert_eq!(report.missing, []);
        assert_eq!(report.regional, fivefig::model::Regional::default());
        assert!(
            report
                .parts
                .values()
                .all(|kept| *kept == Default::default())
        );
        // The highest level with wind is the top of the wind sounding.
        let tops = report
            .levels
            .iter()
            .filter(|l| l.roles.any(Roles::TOP_OF_WIND));
        let tops: Vec<_> = tops.map(|l| l.at).collect();
        assert_eq!(tops, [At::Row(flight.rows.len() - 1)]);
    }
}

fn small(rows: &str, context: &Context) -> Profile {
    let csv = format!(
        "time_s,pressure_hpa,height_gpm,temperature_c,humidity_pct,wind_dir_deg,wind_speed_ms,\
         latitude_deg,longitude_deg\n{rows}"
    );
    let raw = input::text::read(csv.as_bytes(), "x.csv", &Reading::default())
        .unwrap()
        .value;
    profile::build_for(Form::Descent, &raw, context)
        .unwrap()
        .value
}

fn context() -> Context {
    Context {
        // The latitude alone: where the descent lies is for the rows to say.
        station: serde_json::from_str(
            r#"{"wmo_block": 99, "wmo_number": 7, "latitude_deg": 50, "elevation_m": 10}"#,
        )
        .unwrap(),
        flight: Flight {
            release: "2031-01-15T23:23:40".parse().ok(),
            ..Flight::default()
        },
        ..Context::default()
    }
}

#[test]
fn the_start_is_time_place_and_height_of_the_top() {
    // 23:23:40 and 3600 s are 00:23:40 of the next day; 20 000 gpm are 20 063 m at
    // the latitude of the U.S. Standard Atmosphere 1976 (its table I, from memory).
    let rows = "3590,56,19800,-56,10,270,20,45.54,7.9\n3600,54.7,20000,-56,10,270,20,45.5425,8.01\n\
                3700,80,17600,-56,10,270,20,45.54,8.2\n3800,150,13600,-56,10,270,20,45.54,8.4\n";
    let built = report(&small(rows, &context()), &context()).unwrap();
    let start = built.start.unwrap();
    assert_eq!(start.time, "2031-01-16T00:23:40".parse().ok());
    assert_eq!(start.time_s, Some(3600.0));
    let place = start.place.unwrap();
    assert_eq!(place, Position::new(45.5425, 8.01).unwrap());
    let height_m = start.height_m.unwrap();
    assert!((height_m - 20_063.0).abs() < 4.0, "{height_m}");
    // The levels count from release: 200 s after the start for the lowest.
    assert_eq!(built.levels[0].row.time_s, Some(3800.0));
    let last = built.levels.last().unwrap();
    assert_eq!(last.row.time_s, start.time_s);

    let bare = ",54.7,,-56,10,270,20,,\n,80,,-56,10,270,20,,\n,150,,-56,10,270,20,,\n";
    let start = report(&small(bare, &context()), &context()).unwrap().start;
    assert_eq!(start, Some(fivefig::model::Start::default()));
}

#[test]
fn what_is_no_descent_is_refused() {
    let text = "a descent has no text code; write it as BUFR or JSON";
    let (flight_rows, sheet) = sample(Form::Descent);
    assert_eq!(message(&of_sample()), Err(CodeError::NoTextCode));
    let code = issue::code(Form::Descent, &flight_rows, &sheet, Reach::Whole);
    assert_eq!(code.unwrap_err().to_string(), text);
    let nil = issue::nil(Form::Descent, &sheet).unwrap_err();
    assert_eq!(nil.to_string(), text);

    let early = issue::report(Form::Descent, &flight_rows, &sheet, Reach::To100);
    assert_eq!(early, Err(Refused::NoEarlyDescent));
    let mut drop = sheet.clone();
    drop.station.kind = StationKind::Drop;
    assert_eq!(report(&flight_rows, &drop), Err(Refused::DescentOfDrop));
    let mut without = sheet.clone();
    without.flight.release = None;
    assert_eq!(
        report(&flight_rows, &without),
        Err(NotReported::NoRelease.into())
    );

    let by_height = "0,,3000,,,270,9,,\n10,,2000,,,270,9,,\n20,,1000,,,270,9,,\n";
    let cold = "0,700,3000,,,270,9,,\n10,800,2000,,,270,9,,\n20,900,1000,,,270,9,,\n";
    let warm = "0,,3000,5,,270,9,,\n10,,2000,6,,270,9,,\n20,,1000,7,,270,9,,\n";
    for (rows, refused) in [
        (by_height, Refused::NoDescentTemperature),
        (cold, Refused::NoDescentTemperature),
        (warm, Refused::NoDescentPressure),
    ] {
        assert_eq!(report(&small(rows, &context()), &context()), Err(refused));
    }
}

#[test]
fn a_descent_has_no_letters_and_no_heading() {
    assert!(
        tables::report_letters()
            .iter()
            .all(|l| l.form != Form::Descent)
    );
    for kind in [StationKind::Land, StationKind::Ship, StationKind::Mobile] {
        assert_eq!(
            tables::bufr_heading(Form::Descent, kind, Reach::Whole),
            None
        );
        assert_eq!(
            tables::text_heading(Form::Descent, kind, fivefig::model::Part::A),
            None
        );
    }
}

#[test]
fn the_document_is_valid_and_reads_back() {
    let (flight, context) = sample(Form::Descent);
    let own = report(&flight, &context).unwrap();
    let held = fidelity(&flight, &context.coding, &own, &own);
    assert!(
        held.departures
            .iter()
            .all(|d| d.before_rounding.outside == 0)
    );
    let record = Record::new(&own, None, &[], Some(held));
    let text = json::write(vec![record]).unwrap();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(value["reports"][0]["form"], "descent");
    let validator = jsonschema::draft202012::new(&json::schema()).unwrap();
    let faults: Vec<_> = validator
        .iter_errors(&value)
        .map(|e| e.to_string())
        .collect();
    assert_eq!(faults, [""; 0]);
    let read = json::read(&text).unwrap();
    let again = read[0].report(1).unwrap();
    assert_eq!(again, own);
    assert_eq!(read[0].disagreements(&again).unwrap(), []);
    assert_eq!(json::write(read).unwrap(), text);
}

#[test]
fn two_descents_are_compared_with_their_starts() {
    let left = of_sample();
    let held = |right: &Report| {
        let found = compare(&left, right, &Tolerance::coarser(&left, right));
        found.iter().map(ToString::to_string).collect::<Vec<_>>()
    };
    assert_eq!(held(&left), [""; 0]);
    let mut right = left.clone();
    let start = right.start.as_mut().unwrap();
    // Within half a step of 3 09 056 (1 m), and beyond it.
    start.height_m = start.height_m.map(|m| m + 0.4);
    assert_eq!(held(&right), [""; 0]);
    let start = right.start.as_mut().unwrap();
    start.height_m = Some(20_000.0);
    start.time = "2031-10-09T01:00:00".parse().ok();
    right.levels[3].row.temperature_c = Some(9.9);
    let found = held(&right);
    assert_eq!(found.len(), 4, "{found:?}");
    assert!(found[0].contains("start of the descent") && found[0].contains("2031-10-09T01:00:00Z"));
    assert!(found[1].contains("height of its start"), "{found:?}");
    assert!(found[2].starts_with("temperature at 850 hPa"), "{found:?}");
    assert!(found[3].starts_with("dew-point depression at 850 hPa"));
}

#[test]
fn the_command_writes_json_alone() {
    let refused = "fivefig: error: a descent has no text code; write it as BUFR or JSON\n";
    for to in ["text", "bulletin"] {
        assert_eq!(
            flight("encode", &["--to", to]),
            (1, String::new(), refused.to_owned())
        );
        let nil = [
            "nil",
            "--sheet",
            "descent.toml",
            "--form",
            "descent",
            "--to",
            to,
        ];
        assert_eq!(run(&nil), (1, String::new(), refused.to_owned()));
    }
    let (code, _, reported) = flight("levels", &["--up-to", "100"]);
    assert_eq!(code, 1);
    assert!(reported.contains("descent.csv: a descent has no early message; code it complete"));
    let (code, _, reported) = run(&[
        "levels",
        "drop.csv",
        "--sheet",
        "drop.toml",
        "--form",
        "descent",
    ]);
    assert_eq!(code, 1);
    assert!(reported.contains("code a dropsonde as TEMP"), "{reported}");
    let only_up = [
        "levels",
        "low_burst.csv",
        "--sheet",
        "low_burst.toml",
        "--form",
        "descent",
    ];
    let (code, _, reported) = run(&only_up);
    assert_eq!(code, 1);
    assert!(
        reported.contains("low_burst.csv: the file has no descent: of "),
        "{reported}"
    );

    let folder = tempfile::tempdir().unwrap();
    let kept = folder.path().join("d.json");
    let kept = kept.to_str().unwrap();
    let (code, line, _) = flight("encode", &["--to", "jsonl"]);
    assert_eq!((code, line.lines().count()), (0, 1));
    let (code, text, _) = flight("encode", &["--to", "json"]);
    assert_eq!((code, text.contains("\"form\": \"descent\"")), (0, true));
    let counted = support::without_counts(&flight("levels", &["--to", "json"]).1);
    assert_eq!(
        counted,
        serde_json::from_str::<serde_json::Value>(&text).unwrap()
    );
    fs::write(kept, &text).unwrap();
    assert_eq!(run(&["decode", kept, "--to", "json"]).1, text);
    let (_, table, _) = run(&["decode", kept, "--to", "table"]);
    assert!(flight("levels", &[]).1.starts_with(&table[..200]));
    for to in ["text", "bulletin", "profile"] {
        assert_eq!(
            run(&["decode", kept, "--to", to]),
            (1, String::new(), refused.to_owned())
        );
    }
    let (code, _, stderr) = run(&["check", kept]);
    assert_eq!((code, stderr.as_str()), (1, refused));
    assert_eq!(run(&["compare", kept, kept]).0, 0);
    let (code, found, _) = run(&["compare", kept, "descent.csv", "--sheet", "descent.toml"]);
    assert_eq!(code, 0, "{found}");
    let (code, found, _) = flight("check", &[]);
    assert_eq!(code, 0);
    assert!(
        found.ends_with("(a falling sonde was not released from the ground)\n"),
        "{found}"
    );
}

/// One row on the way up.
#[derive(Clone, Debug)]
struct Step {
    /// Pressure over that below.
    ratio: f64,
    temperature_c: Option<f64>,
    humidity_pct: Option<f64>,
    wind: Option<(f64, f64)>,
}

fn step() -> impl Strategy<Value = Step> {
    let rare = |p: f64| prop::bool::weighted(p);
    (
        0.955..0.995,
        -80.0..20.0,
        1.0..99.0,
        (0.0..360.0, 0.0..60.0),
        rare(0.05),
        rare(0.05),
    )
        .prop_map(|(ratio, t, u, wind, no_t, no_wind)| Step {
            ratio,
            temperature_c: (!no_t).then_some(t),
            humidity_pct: (!no_t).then_some(u),
            wind: (!no_wind).then_some(wind),
        })
}

/// A flight as delimited text: up, or up and the same way down. Heights are those
/// of 7400 gpm to a factor e in pressure, a row every five seconds.
fn text(steps: &[Step], and_down: bool) -> String {
    let mut out = String::from(
        "time_s,pressure_hpa,height_gpm,temperature_c,humidity_pct,wind_dir_deg,wind_speed_ms\n",
    );
    let mut pressure = 1020.0;
    let pressures: Vec<f64> = steps
        .iter()
        .map(|s| {
            pressure *= s.ratio;
            pressure
        })
        .collect();
    let up = 0..steps.len();
    let down = (0..if and_down { steps.len() } else { 0 }).rev();
    let cell = |v: Option<f64>| v.map_or(String::new(), |v| v.to_string());
    for (number, k) in up.chain(down).enumerate() {
        let (step, p) = (&steps[k], pressures[k]);
        let _ = writeln!(
            out,
            "{},{p},{},{},{},{},{}",
            5 * number,
            7400.0 * (1020.0 / p).ln(),
            cell(step.temperature_c),
            cell(step.humidity_pct),
            cell(step.wind.map(|w| w.0)),
            cell(step.wind.map(|w| w.1)),
        );
    }
    out
}

fn chosen(form: Form, csv: &str) -> Levels {
    let mut context = context();
    context.station.elevation_m = Some(0.0);
    let raw = input::text::read(csv.as_bytes(), "x.csv", &Reading::default())
        .unwrap()
        .value;
    let flight = profile::build_for(form, &raw, &context).unwrap().value;
    let none: [Order; 0] = [];
    choose(&flight, &Coding::default(), &none, Reach::Whole)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    /// The same air passed the other way gives the same standard levels (and the
    /// same tropopauses), at the mirrored times.
    #[test]
    fn a_mirrored_ascent_has_the_same_standard_levels(
        mut steps in prop::collection::vec(step(), 20..160),
    ) {
        // Ends that observe nothing would be cut off, at one end in each.
        for end in [0, steps.len() - 1] {
            steps[end].temperature_c = Some(-30.0);
        }
        let up = chosen(Form::Temp, &text(&steps, false));
        let down = chosen(Form::Descent, &text(&steps, true));
        for role in [Roles::STANDARD, Roles::TROPOPAUSE] {
            let of = |levels: &Levels| -> Vec<Level> {
                let here = levels.levels.iter().filter(|l| l.roles.any(role));
                // Surfaces below the ground are only those of an ascent.
                here.filter(|l| l.at != At::Extrapolated).cloned().collect()
            };
            let (up, down) = (of(&up), of(&down));
            prop_assert_eq!(up.len(), down.len());
            for (a, b) in up.iter().zip(&down) {
                let (a, b) = (&a.row, &b.row);
                prop_assert_eq!(a.pressure_hpa, b.pressure_hpa);
                let wind = |w: &fivefig::model::Row| w.wind.map(|w| (w.dir_deg, w.speed_ms));
                for (a, b) in [
                    (a.height_gpm, b.height_gpm),
                    (a.temperature_c, b.temperature_c),
                    (a.dewpoint_c, b.dewpoint_c),
                    (a.humidity_pct, b.humidity_pct),
                    (wind(a).map(|w| w.0), wind(b).map(|w| w.0)),
                    (wind(a).map(|w| w.1), wind(b).map(|w| w.1)),
                ] {
                    prop_assert_eq!(a.is_some(), b.is_some());
                    if let (Some(a), Some(b)) = (a, b) {
                        prop_assert!((a - b).abs() < 1e-9, "{} {}", a, b);
                    }
                }
                // n rows up, n down: row k of the way up comes again at 2 n - 1 - k.
                let last = 5.0 * f64::from(u32::try_from(2 * steps.len() - 1).unwrap());
                let mirrored = a.time_s.unwrap() + b.time_s.unwrap();
                prop_assert!((mirrored - last).abs() < 1e-6, "{}", mirrored);
            }
        }
    }
}
