//! Reading traffic: MB/s and reports/s over generated reports, and beside it the count of
//! the lines of the same bytes, which nothing that reads them can do without.

use std::hint::black_box;
use std::time::Instant;

use divan::Bencher;
use divan::counter::{BytesCount, ItemsCount};
use fivefig::forms::json::{Record, Writer};
use fivefig::forms::text::{Received, Traffic};
use fivefig::verify;

fn main() {
    divan::main();
    print_ratios();
}

const A: &str = "15111 99{station} 99004 04430 23006 00119 04226 22507 92748 00306 23512\n\
    85421 01756 25015 70946 09562 25518 50547 24158 26037 40706 35947\n\
    26537 30900 50756 27549 25017 51960 28061 20162 52771 29046 15347\n\
    56571 29528 10598 66969 30016 88280 53957 28057 77262 28064 41711\n\
    77432 26046 40815 31313 49008 81123=\n";
const B: &str = "15118 99{station} 00004 04430 11876 03105 22842 01158 33642 13164 44441\n\
    30756 55280 53957 66226 51566 77162 54572 88100 66969 21212 00004\n\
    23006 11690 25519 22432 26046 33363 27028 44262 28064 55155 29529\n\
    66100 30016 31313 49008 81123 41414 65470=\n";

/// Bulletins of ten reports with Parts A and B, every station and day another.
fn generated(reports: usize) -> String {
    let mut text = String::new();
    for bulletin in 0..reports / 10 {
        for (letters, designator, body) in [("TTAA", "USXX", A), ("TTBB", "UKXX", B)] {
            text.push_str(&format!("{designator}01 XXXX 151200\n"));
            for k in 0..10 {
                let n = bulletin * 10 + k;
                let day = n / 1000 % 31 + 1;
                let body = body
                    .replace("{station}", &format!("{:03}", n % 1000))
                    .replacen("15", &format!("{day:02}"), 1);
                text.push_str(&format!("{letters} {body}"));
            }
        }
    }
    text
}

/// Reads a text and passes on its reports; how many there are.
fn read(text: &str, mut each: impl FnMut(Received)) -> usize {
    let mut traffic = Traffic::new("bench");
    let mut reports = 0;
    let mut pass = |received: Vec<Received>| {
        reports += received.len();
        received.into_iter().for_each(&mut each);
    };
    for line in text.lines() {
        traffic.push(line);
        pass(traffic.take());
    }
    traffic.finish();
    pass(traffic.take());
    reports
}

fn checked(one: Received) {
    black_box(verify::message::check(&one.message));
}

/// Writes each report into a document that nobody keeps.
fn as_json(text: &str) -> usize {
    let mut writer = Writer::default();
    let mut out = Vec::new();
    read(text, |one| {
        let report = one.message.report();
        let record = Record::new(&report, Some(&one.message), &one.findings, None);
        out.clear();
        let written = writer.write(&record, &mut out);
        black_box((written.is_ok(), &out));
    })
}

/// The count of line breaks.
fn lines(text: &str) -> usize {
    memchr::memchr_iter(b'\n', text.as_bytes()).count()
}

#[divan::bench(args = [1_000, 100_000], sample_count = 5)]
fn decode(bencher: Bencher<'_, '_>, reports: usize) {
    let text = generated(reports);
    bencher
        .counter(BytesCount::of_str(&text))
        .counter(ItemsCount::new(reports))
        .bench(|| read(black_box(&text), drop));
}

#[divan::bench(args = [1_000, 100_000], sample_count = 5)]
fn count_lines(bencher: Bencher<'_, '_>, reports: usize) {
    let text = generated(reports);
    bencher
        .counter(BytesCount::of_str(&text))
        .bench(|| lines(black_box(&text)));
}

#[divan::bench(args = [1_000], sample_count = 5)]
fn decode_to_json(bencher: Bencher<'_, '_>, reports: usize) {
    let text = generated(reports);
    bencher
        .counter(BytesCount::of_str(&text))
        .counter(ItemsCount::new(reports))
        .bench(|| as_json(black_box(&text)));
}

#[divan::bench(args = [1_000], sample_count = 10)]
fn decode_and_check(bencher: Bencher<'_, '_>, reports: usize) {
    let text = generated(reports);
    bencher
        .counter(ItemsCount::new(reports))
        .bench(|| read(black_box(&text), checked));
}

/// The least of five times, seconds.
fn least(work: impl Fn() -> usize) -> f64 {
    let time = |_| {
        let start = Instant::now();
        black_box(work());
        start.elapsed().as_secs_f64()
    };
    (0..5).map(time).fold(f64::INFINITY, f64::min)
}

/// Reading, and reading to JSON, as multiples of the count of lines.
#[allow(clippy::print_stdout, reason = "a bench prints what it measured")]
fn print_ratios() {
    let text = generated(10_000);
    let count = least(|| lines(black_box(&text)));
    println!("least of five, as a multiple of the count of lines of the same bytes:");
    for (what, time) in [
        ("decode", least(|| read(black_box(&text), drop))),
        ("decode_to_json", least(|| as_json(black_box(&text)))),
    ] {
        println!("{what}: {:.0}", time / count);
    }
}
