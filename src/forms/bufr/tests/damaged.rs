//! Damaged messages: every fault in its words, and nothing that panics.

use super::*;

/// The messages of `tests/vectors/bufr`.
fn golden() -> Vec<(String, Vec<u8>)> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors/bufr");
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    files.sort();
    files
        .iter()
        .map(|path| {
            let text = std::fs::read_to_string(path).unwrap();
            let json: serde_json::Value = serde_json::from_str(&text).unwrap();
            let lines = json["octets"].as_array().unwrap();
            let hex: String = lines.iter().map(|line| line.as_str().unwrap()).collect();
            let octets = (0..hex.len() / 2)
                .map(|i| u8::from_str_radix(&hex[2 * i..2 * i + 2], 16).unwrap())
                .collect();
            (
                path.file_stem().unwrap().to_str().unwrap().to_owned(),
                octets,
            )
        })
        .collect()
}

#[test]
fn every_beginning_of_a_message_is_refused() {
    for (name, octets) in golden() {
        for length in 0..octets.len() {
            let cut = &octets[..length];
            assert!(read(cut).is_err(), "{name}, {length} octets");
            assert!(dump(cut).is_err(), "{name}, {length} octets");
            // With a total length that fits, as with octets lost on the way.
            if length >= 12 {
                let mut shorter = cut.to_vec();
                shorter[4..7].copy_from_slice(&u32::try_from(length).unwrap().to_be_bytes()[1..]);
                assert!(
                    read(&shorter).is_err(),
                    "{name}, {length} octets and said so"
                );
                shorter[length - 4..].copy_from_slice(b"7777");
                assert!(
                    read(&shorter).is_err(),
                    "{name}, {length} octets with an end"
                );
            }
        }
    }
}

#[test]
fn no_flipped_bit_does_harm() {
    for (name, octets) in golden() {
        let mut still_read = 0;
        for bit in 0..8 * octets.len() {
            let mut flipped = octets.clone();
            flipped[bit / 8] ^= 0x80 >> (bit % 8);
            let answer = read(&flipped);
            // The dump, which is slower, of some.
            if bit % 7 == 0 {
                assert_eq!(dump(&flipped).is_ok(), answer.is_ok(), "{name}, bit {bit}");
            }
            still_read += usize::from(answer.is_ok());
            // `BUFR`, total length, edition; `7777`. (Edition 4, 100, differs from 2
            // and 3, 010 and 011, in more than one bit.)
            let framed = bit < 64 || bit >= 8 * (octets.len() - 4);
            assert!(!framed || answer.is_err(), "{name}, bit {bit}");
        }
        println!(
            "{name}: {still_read} of {} bits flipped still read",
            8 * octets.len()
        );
    }
}

/// A message of one block number, 5.
fn small() -> Vec<u8> {
    message("001001", 1, OBSERVED, &[10])
}

/// The same with octets replaced.
fn with(at: usize, octets: &[u8]) -> Vec<u8> {
    let mut message = small();
    message[at..at + octets.len()].copy_from_slice(octets);
    message
}

fn data(template: &str, parts: &[(u64, u32)]) -> Vec<u8> {
    message(template, 1, OBSERVED, &packed(parts))
}

fn compressed(template: &str, subsets: u16, parts: &[(u64, u32)]) -> Vec<u8> {
    message(template, subsets, COMPRESSED, &packed(parts))
}

/// A template with a newer table than ours.
fn newer() -> Vec<u8> {
    let three = section3(1, OBSERVED, &descriptors("001001 012250"));
    let mut one = section1(0);
    one[13] = 60;
    whole(4, &[&one, &three, &section4(&[10, 0])])
}

fn nested(depth: usize) -> String {
    // Each replication repeats all that follows, itself with its count.
    let mut template = String::from("001001");
    for inner in 0..depth {
        template = format!("1{:02}002 {template}", inner + 1);
    }
    template
}

/// Sections of `small`: 0 at octet 0, 1 at 8, 3 at 30, 4 at 39, 5 at 44.
fn unreadable() -> Vec<(&'static str, Vec<u8>)> {
    let many = "309052 ".repeat(1000);
    let one_bits = "101000 031000 001001";
    vec![
        ("nothing", vec![]),
        ("other octets", b"GRIB0000".to_vec()),
        ("only the start", b"BUFR".to_vec()),
        ("edition 1", with(7, &[1])),
        ("edition 5", with(7, &[5])),
        ("cut short", small()[..40].to_vec()),
        ("total length 0", with(4, &[0, 0, 0])),
        ("total length too great", with(4, &[0xFF, 0xFF, 0xFF])),
        ("total length too small", with(4, &[0, 0, 47])),
        ("section 1 of 0 octets", with(8, &[0, 0, 0])),
        ("section 1 of 21 octets", with(8, &[0, 0, 21])),
        ("section 1 of 300 octets", with(8, &[0, 1, 44])),
        ("section 1 up to the end", with(8, &[0, 0, 36])),
        ("section 2 that is none", with(17, &[128])),
        ("section 3 of 6 octets", with(30, &[0, 0, 6])),
        ("section 3 of 7 octets", with(30, &[0, 0, 7])),
        ("section 3 too long", with(30, &[1, 0, 0])),
        ("section 4 of 3 octets", with(39, &[0, 0, 3])),
        ("section 4 of 4 octets", with(39, &[0, 0, 4])),
        ("section 4 too long", with(39, &[0, 0, 9])),
        ("no descriptor", message("", 1, OBSERVED, &[])),
        ("no end", with(44, b"777X")),
        ("no subset", with(34, &[0, 0])),
        ("65535 subsets", with(34, &[0xFF, 0xFF])),
        (
            "65535 compressed subsets",
            compressed("001001", 65535, &[(5, 7), (7, 6)]),
        ),
        ("many compressed subsets, all the same", {
            compressed("001001 001002", 65535, &[(5, 7), (0, 6), (5, 10), (0, 6)])
        }),
        ("unknown descriptor", data("001001 012250", &[(5, 7)])),
        ("unknown sequence", data("309199", &[])),
        ("newer table", newer()),
        ("operator 2 03", data("203010 012101 203255", &[])),
        ("operator 2 22", data("012101 222000", &[])),
        ("operator 2 09", data("209001 012101", &[])),
        ("2 03 ended twice", data("203255 012101", &[])),
        (
            "bit-map of two bits for one element",
            data(
                "012101 222000 101002 031031 033007",
                &[(1, 16), (0, 1), (0, 1), (1, 7)],
            ),
        ),
        (
            "quality of more than a bit-map points at",
            data(
                "012101 222000 101001 031031 101002 033007",
                &[(1, 16), (0, 1), (1, 7), (1, 7)],
            ),
        ),
        ("2 04 closed twice", data("204000", &[])),
        ("2 04 of 40 bits", data("204040 012101", &[])),
        ("2 05 of nothing", data("205000", &[])),
        ("2 06 of nothing", data("206000 012250", &[])),
        ("2 01 down to nothing", data("201100 012101", &[])),
        ("2 01 too wide", data("201200 012101", &[])),
        ("2 07 too wide", data("207020 012101", &[])),
        ("replication of nothing", data("100002 012101", &[])),
        (
            "replication of more than follow",
            data("103002 012101", &[]),
        ),
        ("replication without a count", data("101000 012101", &[])),
        ("replication at the end", data("101000", &[])),
        ("data repetition", data("101000 031011 012101", &[])),
        (
            "operator open at the end of a replication",
            data("102002 201130 012101", &[]),
        ),
        ("nested too deep", data(&nested(17), &[])),
        ("large template", message(&many, 1, OBSERVED, &[0; 100])),
        (
            "data end in a number",
            data("012101 001002", &[(1, 16), (1, 3)]),
        ),
        ("data end in a text", data("001011", &[(1, 8), (1, 8)])),
        (
            "data end in an increment's width",
            compressed("012101", 2, &[(1, 16)]),
        ),
        (
            "count of 255",
            data("101000 031001 001001", &[(255, 8), (5, 7)]),
        ),
        (
            "count of 65535",
            data("101000 031002 001001", &[(65535, 16), (5, 7)]),
        ),
        ("fixed count", data("101255 012101", &[(5, 16)])),
        (
            "count inside the last pass",
            data("103000 031001 101000 031000 012101", &[(2, 8), (3, 2)]),
        ),
        (
            "count compressed",
            compressed(one_bits, 2, &[(1, 1), (0, 6)]),
        ),
        (
            "unequal counts",
            compressed(one_bits, 2, &[(0, 1), (1, 6), (0, 1), (1, 1), (0, 7)]),
        ),
        ("increment beyond the element", {
            compressed("001001", 2, &[(120, 7), (4, 6), (7, 4), (8, 4)])
        }),
        (
            "increment of 40 bits",
            compressed("012101", 2, &[(120, 16), (40, 6), (0, 40), (0, 32), (0, 8)]),
        ),
        (
            "increments cut off",
            compressed("012101", 3, &[(120, 16), (4, 6), (1, 4)]),
        ),
        (
            "texts cut off",
            compressed(
                "208001 001011",
                2,
                &[(0, 8), (4, 6), (65, 8), (66, 8), (0, 8), (0, 8)],
            ),
        ),
    ]
}

/// Lists of values that cannot be written.
fn unwritable() -> Vec<(&'static str, &'static str, Vec<Vec<Value>>)> {
    let one = |values: &[Value]| vec![values.to_vec()];
    vec![
        ("no descriptor", "", one(&[])),
        ("no subset", "001001", vec![]),
        ("too many subsets", "001001", vec![vec![n(1)]; 65536]),
        ("too few values", "001001 001002", one(&[n(1)])),
        ("too many values", "001001", one(&[n(1), n(2), n(3)])),
        (
            "fewer than counted",
            "101000 031001 001001",
            one(&[n(3), n(1)]),
        ),
        (
            "count too great",
            "101000 031000 001001",
            one(&[n(2), n(1), n(1)]),
        ),
        ("count below 0", "101000 031001 001001", one(&[n(-1)])),
        (
            "count missing",
            "101000 031001 001001",
            one(&[Value::Missing]),
        ),
        (
            "count in letters",
            "101000 031001 001001",
            one(&[Value::text("1")]),
        ),
        // 7 bits, 127 is missing.
        ("number too great", "001001", one(&[n(127)])),
        ("number too small", "001001", one(&[n(-1)])),
        ("below the reference", "010009", one(&[n(-1001)])),
        ("far out", "010009", one(&[n(i64::MIN)])),
        ("further out", "207003 010009 207000", one(&[n(i64::MAX)])),
        ("text for a number", "001001", one(&[Value::text("5")])),
        ("number for a text", "001011", one(&[n(5)])),
        ("text too long", "001011", one(&[Value::text("0123456789")])),
        (
            "letters of no octet",
            "001011",
            one(&[Value::text("\u{141}")]),
        ),
        (
            "associated field missing",
            "204002 001001 204000",
            one(&[Value::Missing, n(1)]),
        ),
        ("unknown descriptor", "001001 012250", one(&[n(1), n(1)])),
        // 65,835 times 255 octets.
        ("too long", "101000 031002 205255", {
            let mut values = vec![n(65535)];
            values.extend(vec![Value::text(""); 65535]);
            let more = [vec![n(300)], vec![Value::text(""); 300]].concat();
            vec![values, more]
        }),
    ]
}

#[test]
fn every_fault_has_its_words() {
    let mut stated = String::new();
    let mut seen = std::collections::BTreeSet::new();
    for (what, octets) in unreadable() {
        let error = read(&octets).map(|r| r.message.values).expect_err(what);
        assert_eq!(dump(&octets).unwrap_err(), error, "{what}");
        assert!(error.bit <= 8 * octets.len(), "{what}");
        stated.push_str(&format!("{what}: {error}\n"));
        seen.insert(variant(&error.fault));
    }
    stated.push_str("\nwritten:\n");
    for (what, template, values) in unwritable() {
        let section1 = Section1::default();
        let template = descriptors(template);
        let message = Message {
            section1,
            template,
            values,
        };
        let error = message.encode().expect_err(what);
        stated.push_str(&format!("{what}: {error}\n"));
        seen.insert(variant(&error.fault));
    }
    // To be compared with the variants of `Fault` when one is added.
    stated.push_str(&format!("\n{} kinds of faults: {seen:?}\n", seen.len()));
    insta::assert_snapshot!(stated);
}

/// The name of a fault's variant.
fn variant(fault: &Fault) -> String {
    let text = format!("{fault:?}");
    text.split(|c: char| !c.is_alphanumeric())
        .next()
        .unwrap()
        .to_owned()
}
