//! Memory that reading takes at most, whatever a message claims.
//!
//! Why there is a bound: an uncompressed value has a bit at least, and compressed
//! ones are counted, all subsets together, before they are made: 8 an octet and
//! 65,536 more. One takes 24 octets, three times that while a list grows; each 8
//! octets of a text count as one more. A template has 20,000 fields at most.

use fivefig::forms::bufr;
use fivefig::forms::bufr::Descriptor;

use crate::peak;
use crate::soundings::sounding;

/// Octets of memory for each octet of a message, and beside them: reading, listing.
const READ: (usize, usize) = (700, 12_000_000);
const DUMP: (usize, usize) = (4_000, 36_000_000);

/// A message of edition 4.
fn message(template: &[&str], subsets: u16, compressed: bool, data: &[u8]) -> Vec<u8> {
    let length = |n: usize| u32::try_from(n).unwrap().to_be_bytes()[1..].to_vec();
    let of: Vec<u8> = template
        .iter()
        .flat_map(|d| Descriptor::from_figures(d).unwrap().bits().to_be_bytes())
        .collect();
    let one = [
        length(22),
        vec![0, 255, 255, 0, 0, 0, 0, 2, 255, 0, 45],
        vec![0; 8],
    ]
    .concat();
    let head = [
        vec![0],
        subsets.to_be_bytes().to_vec(),
        vec![if compressed { 0xC0 } else { 0x80 }],
    ];
    let three = [length(7 + of.len()), head.concat(), of].concat();
    let four = [length(4 + data.len()), vec![0], data.to_vec()].concat();
    let total = 8 + one.len() + three.len() + four.len() + 4;
    [
        b"BUFR".to_vec(),
        length(total),
        vec![4],
        one,
        three,
        four,
        b"7777".to_vec(),
    ]
    .concat()
}

#[test]
fn memory_follows_the_length_of_the_message() {
    let _alone = crate::alone();
    let zero = |octets: usize| vec![0; octets];
    let ones = |octets: usize| vec![0xFF; octets];
    let temp = ["309052"];
    let nested = [
        "106000", "031002", "104000", "031002", "101000", "031002", "001001",
    ];
    let fixed = ["103255", "102255", "101255", "001001"];
    let bits = ["101000", "031002", "031000"];
    let one_bit = ["201122", "001001", "201000"];
    let text = ["205255"];
    let many = |d: &'static str, count| vec![d; count];
    let cases: Vec<(&str, Vec<u8>)> = vec![
        (
            "count of 65535",
            message(&["101000", "031002", "309052"], 1, false, &ones(40)),
        ),
        (
            "nested counts of 65535",
            message(&nested, 1, false, &ones(60)),
        ),
        (
            "nested counts of 65535, compressed",
            message(&nested, 65535, true, &ones(60)),
        ),
        ("nested fixed counts", message(&fixed, 1, false, &zero(100))),
        ("65535 subsets", message(&temp, 65535, false, &zero(100))),
        (
            "65535 subsets, compressed",
            message(&temp, 65535, true, &zero(100)),
        ),
        (
            "65535 subsets of a bit",
            message(&one_bit, 65535, false, &zero(8192)),
        ),
        (
            "65535 subsets of a bit, compressed",
            message(&one_bit, 65535, true, &zero(100)),
        ),
        (
            "32000 subsets, compressed",
            message(&one_bit, 32000, true, &zero(1)),
        ),
        (
            "10000 descriptors",
            message(&many("001001", 10_000), 1, false, &zero(9000)),
        ),
        (
            "10000 sequences",
            message(&many("309057", 10_000), 1, false, &zero(9000)),
        ),
        (
            "10000 replications",
            message(&many("101000", 10_000), 1, false, &zero(9000)),
        ),
        (
            "20000 elements",
            message(&many("001001", 20_000), 3, true, &zero(40_000)),
        ),
        (
            "a value a bit",
            message(&bits, 1, false, &[&ones(2)[..], &zero(8192)].concat()),
        ),
        (
            "long texts, compressed",
            message(&text, 2000, true, &zero(600)),
        ),
        ("long texts of odd octets, compressed", {
            message(&text, 2000, true, &[vec![0xE9; 255], zero(1)].concat())
        }),
        ("zero octets", message(&temp, 1, false, &zero(60_000))),
        ("one bits", message(&temp, 1, false, &ones(60_000))),
        (
            "zero octets, compressed",
            message(&temp, 1000, true, &zero(60_000)),
        ),
        (
            "one bits, compressed",
            message(&temp, 1000, true, &ones(60_000)),
        ),
    ];
    // The tables are read on first use and stay.
    bufr::read(&message(&["001001"], 1, false, &[0])).unwrap();
    for (what, octets) in &cases {
        for (name, (each, beside), most) in [
            ("read", READ, peak(|| bufr::read(octets)).0),
            ("dump", DUMP, peak(|| bufr::dump(octets)).0),
        ] {
            let bound = each * octets.len() + beside;
            println!(
                "{name}, {what}: {} octets, {most} of memory, {bound} allowed",
                octets.len()
            );
            assert!(
                most <= bound,
                "{name}, {what}: {most} of memory, {bound} allowed"
            );
        }
    }
    // What a message of levels takes.
    let levels = sounding(&temp, &[5000, 0]).encode().unwrap();
    assert!(bufr::read(&levels).is_ok());
    let (most, _) = peak(|| bufr::read(&levels));
    println!("{} octets of levels: {most} of memory", levels.len());
    assert!(most <= 30 * levels.len(), "{most}");
}
