//! Reading traffic: MB/s and reports/s over generated reports, and the memory
//! that stays open.

use std::hint::black_box;

use divan::Bencher;
use divan::counter::{BytesCount, ItemsCount};
use fivefig::forms::text::Traffic;
use fivefig::verify;

fn main() {
    divan::main();
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

fn read(text: &str, check: bool) -> usize {
    let mut traffic = Traffic::new("bench");
    let mut reports = 0;
    for line in text.lines() {
        traffic.push(line);
        for one in traffic.take() {
            reports += 1;
            if check {
                black_box(verify::message::check(&one.message));
            }
        }
    }
    traffic.finish();
    for one in traffic.take() {
        reports += 1;
        if check {
            black_box(verify::message::check(&one.message));
        }
    }
    reports
}

#[divan::bench(args = [1_000, 100_000], sample_count = 5)]
fn decode(bencher: Bencher<'_, '_>, reports: usize) {
    let text = generated(reports);
    bencher
        .counter(BytesCount::of_str(&text))
        .counter(ItemsCount::new(reports))
        .bench(|| read(black_box(&text), false));
}

#[divan::bench(args = [1_000], sample_count = 10)]
fn decode_and_check(bencher: Bencher<'_, '_>, reports: usize) {
    let text = generated(reports);
    bencher
        .counter(ItemsCount::new(reports))
        .bench(|| read(black_box(&text), true));
}
