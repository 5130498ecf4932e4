#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test stops at the first fault"
)]

//! Messages made by hand: raw bits and widths are worked out here from WMO-No. 306
//! Vol. I.2 (Tables B and C, Regulations 94.5 and 94.6, from memory).

mod associated;
mod damaged;
mod operators;
mod soundings;

use super::*;

fn descriptors(figures: &str) -> Vec<Descriptor> {
    let one = |d| Descriptor::from_figures(d).unwrap();
    figures.split_whitespace().map(one).collect()
}

/// Raw bits and their widths, one after the other, zero bits at the end.
fn packed(parts: &[(u64, u32)]) -> Vec<u8> {
    let mut bits: Vec<u64> = Vec::new();
    for &(raw, width) in parts {
        assert!(raw >> width == 0, "{raw} in {width} bits");
        bits.extend((0..width).rev().map(|place| raw >> place & 1));
    }
    let octet = |eight: &[u64]| {
        let whole = eight.iter().fold(0, |octet, bit| octet << 1 | bit);
        u8::try_from(whole << (8 - eight.len())).unwrap()
    };
    bits.chunks(8).map(octet).collect()
}

/// Characters as parts.
fn letters(text: &str) -> Vec<(u64, u32)> {
    text.bytes().map(|octet| (u64::from(octet), 8)).collect()
}

/// A section: its length, and what follows.
fn section(rest: &[u8]) -> Vec<u8> {
    let length = u32::try_from(rest.len() + 3).unwrap().to_be_bytes();
    [&length[1..], rest].concat()
}

/// Sections between a start with the total length, and `7777`.
fn whole(edition: u8, sections: &[&[u8]]) -> Vec<u8> {
    let body = sections.concat();
    let length = u32::try_from(body.len() + 12).unwrap().to_be_bytes();
    [b"BUFR", &length[1..], &[edition], &*body, b"7777"].concat()
}

/// Section 1 of edition 4 as [`Section1::default`] has it; `flag` 128 says that
/// there is a section 2.
fn section1(flag: u8) -> Vec<u8> {
    let version = crate::tables::BUFR_TABLE_VERSION;
    // Master table; centre 65535; sub-centre; update; flag; category 2;
    // sub-categories; versions; year, month, day, hour, minute, second.
    section(&[
        0, 255, 255, 0, 0, 0, flag, 2, 255, 0, version, 0, 0, 0, 0, 0, 0, 0, 0,
    ])
}

fn section3(subsets: u16, flags: u8, template: &[Descriptor]) -> Vec<u8> {
    let [high, low] = subsets.to_be_bytes();
    let mut rest = vec![0, high, low, flags];
    rest.extend(template.iter().flat_map(|d| d.bits().to_be_bytes()));
    section(&rest)
}

fn section4(data: &[u8]) -> Vec<u8> {
    section(&[&[0], data].concat())
}

/// A message of edition 4.
fn message(template: &str, subsets: u16, flags: u8, data: &[u8]) -> Vec<u8> {
    let three = section3(subsets, flags, &descriptors(template));
    whole(4, &[&section1(0), &three, &section4(data)])
}

fn n(number: i64) -> Value {
    Value::Number(number)
}

const OBSERVED: u8 = 0x80;
const COMPRESSED: u8 = 0xC0;

/// Uncompressed: the values and the parts stand for each other, both ways.
fn both_ways(template: &str, subsets: &[&[Value]], parts: &[(u64, u32)]) {
    let count = u16::try_from(subsets.len()).unwrap();
    let octets = message(template, count, OBSERVED, &packed(parts));
    let values: Vec<Vec<Value>> = subsets.iter().map(|s| s.to_vec()).collect();
    let message = Message {
        section1: Section1::default(),
        template: descriptors(template),
        values,
    };
    let received = read(&octets).unwrap();
    assert_eq!(received.message, message, "{template}");
    assert_eq!(message.encode().unwrap(), octets, "{template}");
}

/// Compressed: what the parts stand for.
fn together(template: &str, subsets: u16, parts: &[(u64, u32)]) -> Vec<Vec<Value>> {
    let octets = message(template, subsets, COMPRESSED, &packed(parts));
    let received = read(&octets).unwrap();
    assert!(received.compressed);
    assert!(received.spare_bits < 8, "{}", received.spare_bits);
    received.message.values
}

/// Scale, reference and width of every field.
fn fields(template: &str) -> Vec<(i32, i64, u32)> {
    let layout = Layout::new(&descriptors(template), 0).unwrap();
    let fields = layout.fields(|_| None);
    fields
        .iter()
        .map(|f| (f.scale, f.reference, f.width_bits))
        .collect()
}

#[test]
fn widths_scales_and_references_follow_2_01_and_2_02() {
    // 0 12 101: scale 2, 16 bits; 2 01 132 adds 132 - 128 = 4 bits, 2 02 129 adds 1
    // to the scale; a flag table (0 08 042, 18 bits) and characters stay.
    let template = "201132 202129 012101 008042 001011 202000 201000 012101";
    assert_eq!(
        fields(template),
        [(3, 0, 20), (0, 0, 18), (0, 0, 72), (2, 0, 16)]
    );
    let text = [
        vec![(273_150, 20), (5, 18)],
        letters("AB       "),
        vec![(27315, 16)],
    ]
    .concat();
    let values = [n(273_150), n(5), Value::text("AB"), n(27315)];
    both_ways(template, &[&values], &text);
    // 126 - 128 = -2: 14 bits of 0 07 004 become 12, in units of 1000 Pa.
    let template = "201126 202126 007004 202000 201000 007004";
    assert_eq!(fields(template), [(-3, 0, 12), (-1, 0, 14)]);
    both_ways(template, &[&[n(101), n(10132)]], &[(101, 12), (10132, 14)]);
}

#[test]
fn precision_is_raised_by_2_07() {
    // Width + (10 Y + 2) / 3 in whole numbers: 4 bits for 1, 7 for 2, 10 for 3.
    // 0 10 009: scale 0, reference -1000, 17 bits.
    let template = "207001 007004 010009 008042 207002 010009 207003 010009 207000 010009";
    let expected = [
        (0, 0, 18),
        (1, -10_000, 21),
        (0, 0, 18),
        (2, -100_000, 24),
        (3, -1_000_000, 27),
        (0, -1000, 17),
    ];
    assert_eq!(fields(template), expected);
    // 100027 Pa; 12.3 gpm is 123, and 123 + 10000 in bits.
    let values = [n(100_027), n(123), n(0), n(-100_000), n(1), n(-1000)];
    let parts = [
        (100_027, 18),
        (10_123, 21),
        (0, 18),
        (0, 24),
        (1_000_001, 27),
        (0, 17),
    ];
    both_ways(template, &[&values], &parts);
}

#[test]
fn associated_fields_stand_before_each_element() {
    let template = "204008 031021 012101 001011 204000 012101";
    // All ones of an associated field are a value like any other.
    let values = [
        n(1),
        n(255),
        Value::Missing,
        n(0),
        Value::text("A"),
        n(27316),
    ];
    let parts = [
        vec![(1, 6), (255, 8), (65535, 16), (0, 8)],
        letters("A        "),
        vec![(27316, 16)],
    ];
    both_ways(template, &[&values], &parts.concat());
    // Nested, they add up: 2 bits, then 2 + 4, then 2 again (Table C, note on 2 04).
    let template = "204002 031021 012101 204004 031021 012101 204000 012101 204000 012101";
    let values = [1, 2, 27315, 2, 33, 27316, 1, 27317, 27318].map(n);
    let widths = [6, 2, 16, 6, 6, 16, 2, 16, 16];
    let raw = [1, 2, 27315, 2, 33, 27316, 1, 27317, 27318];
    let parts: Vec<_> = raw.into_iter().zip(widths).collect();
    both_ways(template, &[&values], &parts);
}

#[test]
fn characters_and_local_elements_bring_their_widths() {
    let parts = [letters("AB   "), vec![(1, 7)]].concat();
    both_ways("205005 001001", &[&[Value::text("AB"), n(1)]], &parts);
    // 2 06 011: 11 bits, whether the element is in the table (7 bits) or not.
    let template = "206011 012250 206011 001001 001001";
    both_ways(
        template,
        &[&[n(1000), n(1001), n(99)]],
        &[(1000, 11), (1001, 11), (99, 7)],
    );
    both_ways("206011 012250", &[&[Value::Missing]], &[(2047, 11)]);
    // Of the width in the table: the element of the table.
    assert_eq!(fields("206017 010009"), [(0, -1000, 17)]);
    // 2 08 002: two octets instead of nine.
    let template = "208002 001011 208000 001011";
    let parts = [letters("XY"), letters("XYZ      ")].concat();
    both_ways(
        template,
        &[&[Value::text("XY"), Value::text("XYZ")]],
        &parts,
    );
}

#[test]
fn counts_stand_in_front_of_what_they_repeat() {
    both_ways("101000 031000 001001", &[&[n(1), n(9)]], &[(1, 1), (9, 7)]);
    both_ways("101000 031000 001001", &[&[n(0)]], &[(0, 1)]);
    both_ways(
        "101000 031001 001001",
        &[&[n(2), n(9), n(8)]],
        &[(2, 8), (9, 7), (8, 7)],
    );
    both_ways("101000 031002 001001", &[&[n(1), n(9)]], &[(1, 16), (9, 7)]);
    both_ways(
        "101000 031002 001001 001002",
        &[&[n(0), n(5)]],
        &[(0, 16), (5, 10)],
    );
    both_ways(
        "102003 001001 001002",
        &[&[1, 2, 3, 4, 5, 6].map(n)],
        &[(1, 7), (2, 10), (3, 7), (4, 10), (5, 7), (6, 10)],
    );
    // Nested: twice a block number, then once or never a station number; the count
    // inside is one of the four descriptors repeated, that in front is not.
    let template = "104000 031001 001001 101000 031000 001002 012101";
    let parts = [(2, 8), (1, 7), (1, 1), (7, 10), (2, 7), (0, 1), (27315, 16)];
    both_ways(template, &[&[2, 1, 1, 7, 2, 0, 27315].map(n)], &parts);
    // Operators inside what is repeated are closed there.
    let template = "103002 201130 001001 201000 001001";
    assert_eq!(
        fields(template).iter().map(|f| f.2).collect::<Vec<_>>(),
        [9, 9, 7]
    );
}

#[test]
fn many_passes_are_what_each_of_them_is() {
    // Pressure in tens of Pa, 14 bits; geopotential less -1000, 17 bits; temperature in
    // hundredths of K, 16 bits; displacement of latitude less -9 000 000, 25 bits: 72 bits,
    // more than a word holds (Table B, from memory).
    let template = "104006 007004 010009 012101 005015";
    let mut values = Vec::new();
    let mut parts = Vec::new();
    for pass in 0..6 {
        let raw = [9000 + pass, 1100 + pass, 27315 + pass, 9_000_100 + pass];
        let references = [0, -1000, 0, -9_000_000];
        values.extend(raw.iter().zip(references).map(|(&raw, own)| n(raw + own)));
        let widths = [14, 17, 16, 25];
        parts.extend(
            raw.iter()
                .zip(widths)
                .map(|(&raw, w)| (raw.unsigned_abs(), w)),
        );
    }
    // All bits one are missing, at the end of a word and at its start.
    (values[6], parts[6]) = (Value::Missing, (0xFFFF, 16));
    (values[11], parts[11]) = (Value::Missing, (0x1FF_FFFF, 25));
    (values[12], parts[12]) = (Value::Missing, (0x3FFF, 14));
    both_ways(template, &[&values], &parts);

    // One more than the greatest temperature that is not missing, in the fifth pass: after
    // four passes of 72 bits and 31 bits of the fifth.
    let mut message = Message {
        section1: Section1::default(),
        template: descriptors(template),
        values: vec![values],
    };
    message.values[0][18] = n(65535);
    let error = message.encode().unwrap_err();
    assert_eq!((error.section, error.bit), (4, 4 * 72 + 31));
    assert!(matches!(
        error.fault,
        Fault::Range {
            value: 65535,
            high: 65534,
            ..
        }
    ));
    // A value too few, and data that end in the last pass.
    message.values[0][18] = n(27315);
    message.values[0].pop();
    let error = message.encode().unwrap_err();
    assert!(matches!(error.fault, Fault::FewValues(_)), "{error}");
    let short = packed(&parts[..23]);
    let cut = self::message(template, 1, OBSERVED, &short);
    assert!(matches!(
        read(&cut).unwrap_err().fault,
        Fault::Count { .. } | Fault::DataEnd { .. }
    ));
}

#[test]
fn subsets_follow_each_other_without_a_gap() {
    let parts = [(1, 8), (9, 7), (0, 8), (2, 8), (1, 7), (2, 7)];
    let subsets: [&[Value]; 3] = [&[n(1), n(9)], &[n(0)], &[n(2), n(1), n(2)]];
    both_ways("101000 031001 001001", &subsets, &parts);
}

#[test]
fn compressed_numbers_are_a_least_value_and_increments() {
    let rows = |values: &[Value]| values.iter().map(|v| vec![v.clone()]).collect::<Vec<_>>();
    // The same in all: no increments.
    let same = together("012101", 3, &[(27315, 16), (0, 6)]);
    assert_eq!(same, rows(&[n(27315), n(27315), n(27315)]));
    let missing = together("012101", 2, &[(65535, 16), (0, 6)]);
    assert_eq!(missing, rows(&[Value::Missing, Value::Missing]));
    // Three bits: 0, 3, and 7 (all ones) for missing.
    let parts = [(27315, 16), (3, 6), (0, 3), (3, 3), (7, 3)];
    let values = together("012101", 3, &parts);
    assert_eq!(values, rows(&[n(27315), n(27318), Value::Missing]));
    // One bit: all ones is missing here too.
    let values = together("010009", 2, &[(990, 17), (1, 6), (0, 1), (1, 1)]);
    assert_eq!(values, rows(&[n(-10), Value::Missing]));
    // An element of one bit is never missing.
    let values = together("201122 001001 201000", 2, &[(0, 1), (1, 6), (0, 1), (1, 1)]);
    assert_eq!(values, rows(&[n(0), n(1)]));
    // Two columns.
    let parts = [(5, 7), (0, 6), (100, 10), (2, 6), (0, 2), (1, 2), (2, 2)];
    let values = together("001001 001002", 3, &parts);
    assert_eq!(values, [[n(5), n(100)], [n(5), n(101)], [n(5), n(102)]]);
}

#[test]
fn compressed_texts_have_increments_of_octets() {
    let rows = |values: &[&str]| {
        values
            .iter()
            .map(|v| vec![Value::text(v)])
            .collect::<Vec<_>>()
    };
    let parts = [letters("AB       "), vec![(0, 6)]].concat();
    assert_eq!(together("001011", 2, &parts), rows(&["AB", "AB"]));
    // Different: a least value of zero bits, nine octets, every text.
    let each = [letters("AB       "), letters("CDEFGHIJK")].concat();
    let parts = [vec![(0, 8); 9], vec![(9, 6)], each].concat();
    assert_eq!(together("001011", 2, &parts), rows(&["AB", "CDEFGHIJK"]));
    // Fewer octets than the element has; one of them missing.
    let each = [letters("AB"), vec![(255, 8), (255, 8)], letters("C ")].concat();
    let parts = [vec![(0, 8); 9], vec![(2, 6)], each].concat();
    let values = together("001011", 3, &parts);
    assert_eq!(
        values,
        [[Value::text("AB")], [Value::Missing], [Value::text("C")]]
    );
    let parts = [vec![(255, 8); 9], vec![(0, 6)]].concat();
    assert_eq!(
        together("001011", 2, &parts),
        [[Value::Missing], [Value::Missing]]
    );
}

#[test]
fn compressed_counts_are_the_same_in_all_subsets() {
    let template = "101000 031001 001001";
    let parts = [
        (2, 8),
        (0, 6),
        (5, 7),
        (0, 6),
        (6, 7),
        (1, 6),
        (0, 1),
        (1, 1),
    ];
    let values = together(template, 2, &parts);
    assert_eq!(
        values,
        [vec![n(2), n(5), n(6)], vec![n(2), n(5), Value::Missing]]
    );
    // Increments that are all zero say the same.
    let parts = [(1, 8), (2, 6), (0, 2), (0, 2), (5, 7), (0, 6)];
    assert_eq!(together(template, 2, &parts), [[n(1), n(5)], [n(1), n(5)]]);
    let parts = [(1, 8), (1, 6), (0, 1), (1, 1), (5, 7), (0, 6)];
    let octets = message(template, 2, COMPRESSED, &packed(&parts));
    assert_eq!(read(&octets).unwrap_err().fault, Fault::UnequalCounts);
    // What associated fields mean may differ: no count, though of class 31.
    let template = "204002 031021 001001 204000";
    let parts = [
        (1, 6),
        (2, 6),
        (0, 2),
        (3, 2),
        (0, 2),
        (0, 6),
        (5, 7),
        (0, 6),
    ];
    let values = together(template, 2, &parts);
    assert_eq!(values, [[n(1), n(0), n(5)], [n(4), n(0), n(5)]]);
}

#[test]
fn all_bits_one_are_missing_but_for_class_31_and_single_bits() {
    // Number, code table, flag table, characters.
    let template = "012101 002011 008042 001011";
    let parts = [
        vec![(65535, 16), (255, 8), (0x3_FFFF, 18)],
        vec![(255, 8); 9],
    ]
    .concat();
    both_ways(template, &[&vec![Value::Missing; 4]], &parts);
    both_ways("031021", &[&[n(63)]], &[(63, 6)]);
    let mut values = vec![n(255)];
    let mut parts = vec![(255, 8)];
    values.extend(vec![n(3); 255]);
    parts.extend(vec![(3, 7); 255]);
    both_ways("101000 031001 001001", &[&values], &parts);
    // 7 - 6 = 1 bit.
    both_ways("201122 001001 201000", &[&[n(1)]], &[(1, 1)]);
    let one_bit = Message {
        section1: Section1::default(),
        template: descriptors("201122 001001 201000"),
        values: vec![vec![Value::Missing]],
    };
    assert!(matches!(
        one_bit.encode().unwrap_err().fault,
        Fault::WrongKind { .. }
    ));
}

#[test]
fn texts_end_before_blanks_and_zero_octets() {
    let read_text = |text: &str| {
        let octets = message("001011", 1, OBSERVED, text.as_bytes());
        read(&octets).unwrap().message.values[0][0].clone()
    };
    assert_eq!(read_text("  A B    "), Value::text("  A B"));
    assert_eq!(read_text("A\0\0\0\0\0\0\0\0"), Value::text("A"));
    assert_eq!(read_text("A\0B \0 \0 \0"), Value::text("A\0B"));
    assert_eq!(read_text("         "), Value::text(""));
    assert_eq!(Value::text("A  "), Value::text("A"));
    // Octets above 127 stand as they are.
    both_ways(
        "208002 001011 208000",
        &[&[Value::text("\u{E9}\u{FF}")]],
        &[(0xE9, 8), (0xFF, 8)],
    );
}

#[test]
fn bits_after_the_last_value_are_counted() {
    // 7 bits in one octet, then in three.
    let octets = message("001001", 1, OBSERVED, &packed(&[(5, 7)]));
    assert_eq!(read(&octets).unwrap().spare_bits, 1);
    let octets = message("001001", 1, OBSERVED, &[10, 0, 0]);
    let received = read(&octets).unwrap();
    assert_eq!(
        (received.spare_bits, &*received.message.values[0]),
        (17, &[n(5)][..])
    );
    // What follows the message is left alone.
    let more = [&*octets, b"more"].concat();
    assert_eq!(read(&more).unwrap(), received);
}

#[test]
fn section_1_is_read_field_by_field() {
    let one = section(&[
        10, 1, 2, 3, 4, 5, 0, 6, 7, 8, 31, 9, 7, 234, 11, 30, 23, 59, 58,
    ]);
    let three = section3(1, 0, &descriptors("001001"));
    let octets = whole(4, &[&one, &three, &section4(&[10])]);
    let received = read(&octets).unwrap();
    let expected = Section1 {
        master_table: 10,
        centre: 258,
        sub_centre: 772,
        update: 5,
        category: 6,
        subcategory: 7,
        local_subcategory: 8,
        table_version: 31,
        local_version: 9,
        year: 2026,
        month: 11,
        day: 30,
        clock: [23, 59, 58],
    };
    assert_eq!(
        (received.message.section1, received.observed),
        (expected, false)
    );
    // Octets for local use at the end of section 1 are passed over.
    let longer = section(&[&one[3..], &[1, 2]].concat());
    let octets = whole(4, &[&longer, &three, &section4(&[10])]);
    assert_eq!(read(&octets).unwrap().message.values, [[n(5)]]);
}

#[test]
fn edition_3_has_years_of_a_century() {
    let received = |year: u8, centre: u8| {
        // Master table, sub-centre, centre, update, flag, category, sub-category,
        // versions, year, month, day, hour, minute, one octet for local use.
        let one = section(&[0, 7, centre, 1, 0, 2, 101, 13, 2, year, 12, 31, 18, 5, 0]);
        // Filled up to an even number of octets.
        let mut three = section3(1, OBSERVED, &descriptors("001001"));
        three.push(0);
        three[2] += 1;
        let octets = whole(3, &[&one, &three, &section4(&[10, 0])]);
        read(&octets).unwrap()
    };
    let read = received(25, 78);
    let expected = Section1 {
        centre: 78,
        sub_centre: 7,
        update: 1,
        subcategory: 255,
        local_subcategory: 101,
        table_version: 13,
        local_version: 2,
        year: 2025,
        month: 12,
        day: 31,
        clock: [18, 5, 0],
        ..Section1::default()
    };
    assert_eq!((read.edition, read.message.section1), (3, expected));
    assert_eq!(read.message.template, descriptors("001001"));
    // 100 and 0 are both the last year of a century.
    let years = [
        (0, 2000),
        (100, 2000),
        (1, 2001),
        (50, 2050),
        (51, 1951),
        (99, 1999),
    ];
    for (year, full) in years {
        assert_eq!(received(year, 78).message.section1.year, full, "{year}");
    }
    assert_eq!(received(25, 255).message.section1.centre, u16::MAX);
}

#[test]
fn section_2_is_kept_as_it_stands() {
    let three = section3(1, OBSERVED, &descriptors("001001"));
    let two = section(&[0, 1, 2, 3]);
    let octets = whole(4, &[&section1(128), &two, &three, &section4(&[10])]);
    let received = read(&octets).unwrap();
    assert_eq!(received.local.as_deref(), Some(&[1, 2, 3][..]));
    assert_eq!(received.message.values, [[n(5)]]);
    let (text, _) = dump(&octets).unwrap();
    // Sections 0 and 1 have 30 octets, section 2 has 7, section 3 has 9, and 4 of
    // section 4 stand before the data.
    assert!(text.contains("\n2            240    24  "), "{text}");
    assert!(text.contains("\n4            400     7  001001"), "{text}");
}

#[test]
fn messages_are_found_among_other_octets() {
    let one = message("001001", 1, OBSERVED, &[10]);
    let file = [b"IUKX01 XXXX 010000\r\n", &*one, b"\r\n", &one, b"BUFR\0"].concat();
    let found = frames(&file);
    let places: Vec<_> = found.iter().map(|f| (f.offset, f.before)).collect();
    let second = 20 + one.len() + 2;
    assert_eq!(
        places,
        [
            (20, &b"IUKX01 XXXX 010000\r\n"[..]),
            (second, b"\r\n"),
            (second + one.len(), b""),
        ]
    );
    assert_eq!(read(found[1].bytes).unwrap(), read(&one).unwrap());
    assert!(read(found[2].bytes).is_err());
    // `BUFR` inside a message is no start.
    let inside = message("205004", 1, OBSERVED, b"BUFR");
    assert_eq!(frames(&inside).len(), 1);
}

#[test]
fn decimals_are_exact() {
    use super::dump::decimal;
    assert_eq!(decimal(27315, 2), "273.15");
    assert_eq!(decimal(-5, 2), "-0.05");
    assert_eq!(decimal(-5, 0), "-5");
    assert_eq!(decimal(9000, -1), "90000");
    assert_eq!(decimal(0, -1), "0");
    assert_eq!(decimal(i64::MIN, 19), "-0.9223372036854775808");
    // What no element has stays short.
    assert_eq!(decimal(7, 127), "7e-127");
    assert_eq!(decimal(-7, -130), "-7e130");
}
