//! How long each stage takes for an ascent of 7,200 rows: `cargo bench`.

#![allow(
    missing_docs,
    clippy::unwrap_used,
    reason = "a bench stops at the first fault"
)]

mod flights;

use divan::{Bencher, black_box};
use fivefig::json::{Record, write};
use fivefig::sounding::{Form, Reach, Reading, Report};
use fivefig::{code, levels, product, profile, report, source};
use flights::{Kind, ascent, context, file};

const ROWS: u32 = 7200;
const KINDS: [Kind; 3] = [Kind::Noisy, Kind::Even, Kind::Toothed];

fn main() {
    divan::main();
}

/// File to raw rows.
#[divan::bench]
fn read(bencher: Bencher<'_, '_>) {
    let bytes = file(&ascent(Kind::Noisy, ROWS));
    let reading = Reading::default();
    bencher.bench(|| source::text::read(black_box(&bytes), "x", &reading).unwrap());
}

/// Raw rows to the ascent.
#[divan::bench]
fn build(bencher: Bencher<'_, '_>) {
    let bytes = file(&ascent(Kind::Noisy, ROWS));
    let (raw, _) = source::text::read(&bytes, "x", &Reading::default()).unwrap();
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
        .0
}

/// Report to figures to text.
#[divan::bench]
fn text(bencher: Bencher<'_, '_>) {
    let report = built(Kind::Noisy);
    bencher.bench(|| code::message(black_box(&report)).unwrap().0.to_string());
}

/// Levels, report and text together.
#[divan::bench(args = KINDS)]
fn levels_report_text(bencher: Bencher<'_, '_>, kind: Kind) {
    let (profile, context) = (ascent(kind, ROWS), context());
    bencher.bench(|| {
        let chosen = levels::choose(black_box(&profile), &context.coding, &[], Reach::Whole);
        let (report, _) =
            report::build(Form::Temp, &profile, chosen, &context, Reach::Whole).unwrap();
        code::message(&report).unwrap().0.to_string()
    });
}

/// All of that and the departures of every row.
#[divan::bench]
fn coded_with_fidelity(bencher: Bencher<'_, '_>) {
    let (profile, context) = (ascent(Kind::Noisy, ROWS), context());
    bencher
        .bench(|| product::code(Form::Temp, black_box(&profile), &context, Reach::Whole).unwrap());
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
    let coded = product::code(Form::Temp, &profile, &context, Reach::Whole).unwrap();
    bencher.bench(|| {
        let record = Record::new(&coded.report, Some(&coded.message), &[], None);
        write(black_box(vec![record])).unwrap()
    });
}
