//! How long each stage takes for an ascent of 7,200 rows: `cargo bench`.

#![allow(
    missing_docs,
    clippy::unwrap_used,
    reason = "a bench stops at the first fault"
)]

mod flights;

use divan::{Bencher, black_box};
use fivefig::forms::json::{Record, write};
use fivefig::forms::text;
use fivefig::issue::report;
use fivefig::model::{Form, Reach, Reading, Report};
use fivefig::{input, issue, levels, profile};
use flights::{Kind, ascent, context, file};

const ROWS: u32 = 7200;
const KINDS: [Kind; 4] = [Kind::Noisy, Kind::Even, Kind::Random, Kind::Toothed];

fn main() {
    divan::main();
}

/// File to raw rows.
#[divan::bench]
fn read(bencher: Bencher<'_, '_>) {
    let bytes = file(&ascent(Kind::Noisy, ROWS));
    let reading = Reading::default();
    bencher.bench(|| input::text::read(black_box(&bytes), "x", &reading).unwrap());
}

/// The floor of reading: the records of the same file by the `csv` crate, each
/// cell parsed, nothing checked and nothing kept.
#[divan::bench]
fn read_floor(bencher: Bencher<'_, '_>) {
    let bytes = file(&ascent(Kind::Noisy, ROWS));
    bencher.bench(|| {
        let mut reader = csv::Reader::from_reader(black_box(bytes.as_slice()));
        let mut record = csv::StringRecord::new();
        let mut sum = 0.0;
        while reader.read_record(&mut record).unwrap() {
            sum += record
                .iter()
                .filter_map(|cell| cell.parse::<f64>().ok())
                .sum::<f64>();
        }
        sum
    });
}

/// The sheet: keys, ranges, what is missing.
#[divan::bench]
fn sheet(bencher: Bencher<'_, '_>) {
    let text = std::fs::read_to_string("samples/winter_jet.toml").unwrap();
    let name = "winter_jet.toml";
    bencher.bench(|| {
        let source = input::sheet::Source {
            name,
            text: black_box(&text),
        };
        input::sheet::read(&[source]).unwrap()
    });
}

/// Raw rows to the ascent.
#[divan::bench]
fn build(bencher: Bencher<'_, '_>) {
    let bytes = file(&ascent(Kind::Noisy, ROWS));
    let raw = input::text::read(&bytes, "x", &Reading::default())
        .unwrap()
        .value;
    let context = context();
    bencher.bench(|| profile::build(black_box(&raw), &context).unwrap());
}

/// Ascent to levels with reasons.
#[divan::bench(args = KINDS)]
fn choose(bencher: Bencher<'_, '_>, kind: Kind) {
    let (profile, context) = (ascent(kind, ROWS), context());
    bencher.bench(|| levels::choose(black_box(&profile), &context.coding, &[], Reach::Whole));
}

fn built(kind: Kind) -> Report {
    let (profile, context) = (ascent(kind, ROWS), context());
    let chosen = levels::choose(&profile, &context.coding, &[], Reach::Whole);
    report::build(Form::Temp, &profile, chosen, &context, Reach::Whole)
        .unwrap()
        .value
}

/// Report to figures to text.
#[divan::bench]
fn text(bencher: Bencher<'_, '_>) {
    let report = built(Kind::Noisy);
    bencher.bench(|| text::message(black_box(&report)).unwrap().value.to_string());
}

/// Ascent and levels to the report.
#[divan::bench]
fn build_report(bencher: Bencher<'_, '_>) {
    let (profile, context) = (ascent(Kind::Noisy, ROWS), context());
    let chosen = levels::choose(&profile, &context.coding, &[], Reach::Whole);
    bencher
        .with_inputs(|| chosen.clone())
        .bench_values(|chosen| {
            report::build(
                Form::Temp,
                black_box(&profile),
                chosen,
                &context,
                Reach::Whole,
            )
        });
}

/// The departures of every row from the message.
#[divan::bench]
fn fidelity(bencher: Bencher<'_, '_>) {
    let (profile, context) = (ascent(Kind::Noisy, ROWS), context());
    let report = built(Kind::Noisy);
    let coded = text::message(&report).unwrap().value.report();
    bencher.bench(|| {
        let profile = black_box(&profile);
        fivefig::verify::fidelity::fidelity(profile, &context.coding, &report, &coded)
    });
}

/// Report with every row to BUFR.
#[divan::bench]
fn bufr(bencher: Bencher<'_, '_>) {
    let (profile, report) = (ascent(Kind::Noisy, ROWS), built(Kind::Noisy));
    bencher.bench(|| {
        let whole = levels::report::with_every_row(black_box(&report), &profile);
        fivefig::forms::bufr::write(&whole).unwrap()
    });
}

/// Levels, report and text together.
#[divan::bench(args = KINDS)]
fn levels_report_text(bencher: Bencher<'_, '_>, kind: Kind) {
    let (profile, context) = (ascent(kind, ROWS), context());
    bencher.bench(|| {
        let chosen = levels::choose(black_box(&profile), &context.coding, &[], Reach::Whole);
        let report = report::build(Form::Temp, &profile, chosen, &context, Reach::Whole)
            .unwrap()
            .value;
        text::message(&report).unwrap().value.to_string()
    });
}

/// All of that and the departures of every row.
#[divan::bench]
fn coded_with_fidelity(bencher: Bencher<'_, '_>) {
    let (profile, context) = (ascent(Kind::Noisy, ROWS), context());
    bencher.bench(|| issue::code(Form::Temp, black_box(&profile), &context, Reach::Whole).unwrap());
}

/// Counting the levels against the fewest possible.
#[divan::bench]
fn count(bencher: Bencher<'_, '_>) {
    let (profile, context) = (ascent(Kind::Noisy, ROWS), context());
    bencher.bench(|| levels::count(black_box(&profile), &context.coding, &[], Reach::Whole));
}

/// Report to the JSON document.
#[divan::bench]
fn json(bencher: Bencher<'_, '_>) {
    let (profile, context) = (ascent(Kind::Noisy, ROWS), context());
    let coded = issue::code(Form::Temp, &profile, &context, Reach::Whole).unwrap();
    bencher.bench(|| {
        let record = Record::new(&coded.report, Some(&coded.message), &[], None);
        write(black_box(vec![record])).unwrap()
    });
}
