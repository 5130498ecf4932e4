//! Writing and reading BUFR: 5,000 levels of 3 09 052, 105,091 octets.

#![allow(clippy::unwrap_used, reason = "a bench stops at the first fault")]

use std::hint::black_box;

use divan::Bencher;
use divan::counter::BytesCount;
use fivefig::forms::bufr;
use tinybufr::Tables;

#[path = "second_reader.rs"]
mod second_reader;
#[path = "soundings.rs"]
mod soundings;

use second_reader::second_read;
use soundings::sounding;

fn main() {
    divan::main();
}

fn octets() -> Vec<u8> {
    sounding(&["309052"], &[5000, 0]).encode().unwrap()
}

#[divan::bench]
fn encode(bencher: Bencher<'_, '_>) {
    let message = sounding(&["309052"], &[5000, 0]);
    bencher
        .counter(BytesCount::new(octets().len()))
        .bench(|| black_box(&message).encode().unwrap());
}

#[divan::bench]
fn read(bencher: Bencher<'_, '_>) {
    let octets = octets();
    bencher
        .counter(BytesCount::new(octets.len()))
        .bench(|| bufr::read(black_box(&octets)).unwrap());
}

/// Another reader, of the same octets.
#[divan::bench]
fn read_by_tinybufr(bencher: Bencher<'_, '_>) {
    let (octets, tables) = (octets(), Tables::default());
    bencher
        .counter(BytesCount::new(octets.len()))
        .bench(|| second_read(black_box(&octets), &tables));
}

#[divan::bench]
fn dump(bencher: Bencher<'_, '_>) {
    let octets = octets();
    bencher.bench(|| bufr::dump(black_box(&octets)).unwrap());
}
