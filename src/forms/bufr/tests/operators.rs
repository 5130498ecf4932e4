//! Operators whose bits depend on the data: 2 03, 2 21 to 2 25, 2 32, 2 35 to 2 37, and
//! data that stand once for several passes.

use super::*;

/// What is attached to which value, with the operator.
fn attached(template: &str, parts: &[(u64, u32)]) -> Vec<(usize, usize, String)> {
    let octets = message(template, 1, OBSERVED, &packed(parts));
    let received = read(&octets).unwrap();
    let attached = received.attached(0).iter();
    attached
        .map(|a| (a.of, a.value, a.operator.to_string()))
        .collect()
}

fn to(of: usize, value: usize, operator: &str) -> (usize, usize, String) {
    (of, value, operator.to_owned())
}

#[test]
fn a_message_gives_its_own_references_by_2_03() {
    // 2 03 012: a new reference of 12 bits for 0 12 101, the first bit its sign:
    // -500 is 1 and 500 in 11 bits. The value 3 is then -497 (-4.97 K). After 2 03 000
    // the reference is that of the table, 0.
    let template = "203012 012101 203255 012101 203000 012101";
    let parts = [(1 << 11 | 500, 12), (3, 16), (3, 16)];
    both_ways(template, &[&[n(-500), n(-497), n(3)]], &parts);
    // Every subset gives its own: 7, then -7.
    let parts = [
        (7, 12),
        (3, 16),
        (3, 16),
        (1 << 11 | 7, 12),
        (3, 16),
        (3, 16),
    ];
    let subsets: [&[Value]; 2] = [&[n(7), n(10), n(3)], &[n(-7), n(-4), n(3)]];
    both_ways(template, &subsets, &parts);
    // Compressed: a least value and a width of increments for each.
    let parts = [
        (1 << 11 | 500, 12),
        (0, 6),
        (3, 16),
        (1, 6),
        (0, 1),
        (1, 1),
        (4, 16),
        (0, 6),
    ];
    // One bit: 0, and 1, all bits one, which is missing.
    let values = together(template, 2, &parts);
    assert_eq!(
        values,
        [
            vec![n(-500), n(-497), n(4)],
            vec![n(-500), Value::Missing, n(4)]
        ]
    );
}

#[test]
fn elements_without_data_by_2_21() {
    // Of the three elements after 2 21 003 only that of class 7 has bits; the fourth is
    // as ever.
    let template = "221003 007004 012101 011001 012101";
    let values = [n(8500), Value::Missing, Value::Missing, n(27315)];
    both_ways(template, &[&values], &[(8500, 14), (27315, 16)]);
}

#[test]
fn quality_belongs_to_what_the_bit_map_points_at() {
    // Pressure, temperature, wind speed; a bit-map of three bits, 0 where quality is
    // given: pressure and speed; then centre, application, and two values of 0 33 007.
    let template = "007004 012101 011002 222000 101000 031001 031031 001031 001032 101002 033007";
    let parts = [
        (8500, 14),
        (27315, 16),
        (123, 12),
        (3, 8),
        (0, 1),
        (1, 1),
        (0, 1),
        (98, 16),
        (201, 8),
        (70, 7),
        (75, 7),
    ];
    let values = [8500, 27315, 123, 3, 0, 1, 0, 98, 201, 70, 75].map(n);
    both_ways(template, &[&values], &parts);
    // Values 9 and 10 are about values 0 and 2.
    assert_eq!(
        attached(template, &parts),
        [to(0, 9, "222000"), to(2, 10, "222000")]
    );
    // A shorter bit-map points at the elements right in front of the operator.
    let template = "007004 012101 011002 222000 101002 031031 101002 033007";
    let parts = [
        (8500, 14),
        (27315, 16),
        (123, 12),
        (0, 1),
        (0, 1),
        (70, 7),
        (75, 7),
    ];
    assert_eq!(
        attached(template, &parts),
        [to(1, 5, "222000"), to(2, 6, "222000")]
    );
}

#[test]
fn values_under_2_23_2_24_and_2_32_have_the_width_of_their_element() {
    // 0 12 101 (16 bits) and 0 11 002 (12 bits); the bit-map points at the second.
    for operator in ["223", "224", "232"] {
        let template = format!("012101 011002 {operator}000 101002 031031 {operator}255");
        let parts = [(27315, 16), (123, 12), (1, 1), (0, 1), (77, 12)];
        both_ways(&template, &[&[27315, 123, 1, 0, 77].map(n)], &parts);
        assert_eq!(
            attached(&template, &parts),
            [to(1, 4, &format!("{operator}000"))]
        );
    }
}

#[test]
fn differences_under_2_25_may_be_negative() {
    // 12 bits of 0 11 002 become 13, with a reference of -2^12 = -4096: -1.5 m/s is
    // -15, in bits 4081.
    let template = "011002 225000 101001 031031 008024 225255";
    let parts = [(123, 12), (0, 1), (0, 6), (4081, 13)];
    both_ways(template, &[&[n(123), n(0), n(0), n(-15)]], &parts);
}

#[test]
fn bit_maps_are_used_again_by_2_37_and_begin_anew_by_2_35() {
    // 2 36 000 keeps the bit-map (1 0: the second of two), 2 37 000 uses it again for
    // substituted values.
    let template = "012101 011002 222000 236000 101002 031031 033007 223000 237000 223255";
    let parts = [(27315, 16), (123, 12), (1, 1), (0, 1), (70, 7), (77, 12)];
    both_ways(template, &[&[27315, 123, 1, 0, 70, 77].map(n)], &parts);
    assert_eq!(
        attached(template, &parts),
        [to(1, 4, "222000"), to(1, 5, "223000")]
    );
    // Without 2 35 000 a second bit-map points at the same elements; after it at those
    // in front of the next operator: 0 33 007 is 7 bits wide.
    let template = "012101 222000 101001 031031 033007 223000 101001 031031 223255";
    let parts = [(27315, 16), (0, 1), (70, 7), (0, 1), (27316, 16)];
    both_ways(template, &[&[27315, 0, 70, 0, 27316].map(n)], &parts);
    let template = "012101 222000 101001 031031 033007 235000 223000 101001 031031 223255";
    let parts = [(27315, 16), (0, 1), (70, 7), (0, 1), (71, 7)];
    both_ways(template, &[&[27315, 0, 70, 0, 71].map(n)], &parts);
    // 2 37 255 forgets it.
    let template = "012101 222000 236000 101001 031031 033007 237255 223000 237000 223255";
    let parts = [(27315, 16), (0, 1), (70, 7), (27316, 16)];
    let fault = read(&message(template, 1, OBSERVED, &packed(&parts))).unwrap_err();
    assert!(matches!(fault.fault, Fault::EmptyOperator(_)), "{fault}");
}

#[test]
fn an_associated_field_stands_in_front_of_a_replaced_value_too() {
    // As a real message has it: the bit-map points at the second of two elements; two
    // bits in front of its replaced value, which has the 12 bits of 0 11 002.
    let template = "012101 011002 232000 101002 031031 204002 031021 232255 204000";
    let parts = [
        (27315, 16),
        (123, 12),
        (1, 1),
        (0, 1),
        (2, 6),
        (3, 2),
        (77, 12),
    ];
    both_ways(template, &[&[27315, 123, 1, 0, 2, 3, 77].map(n)], &parts);
    assert_eq!(attached(template, &parts), [to(1, 6, "232000")]);
}

#[test]
fn bit_maps_stay_within_what_there_is() {
    let fault = |template: &str, parts: &[(u64, u32)]| {
        read(&message(template, 1, OBSERVED, &packed(parts)))
            .unwrap_err()
            .fault
    };
    // Two bits for one element.
    let long = fault(
        "012101 222000 101002 031031 033007",
        &[(1, 16), (0, 1), (0, 1), (1, 7)],
    );
    assert_eq!(
        long,
        Fault::BitMap {
            bits: 2,
            elements: 1
        }
    );
    // Two values where one element is pointed at.
    let parts = [(1, 16), (0, 1), (1, 7), (1, 7)];
    let more = fault("012101 222000 101001 031031 101002 033007", &parts);
    assert!(matches!(more, Fault::NotPointed(_)), "{more}");
    // A value under 2 23 255 without an operator 2 23 000.
    let none = fault("012101 223255", &[(1, 16), (1, 16)]);
    assert!(matches!(none, Fault::EmptyOperator(_)), "{none}");
    // Subsets that are compressed have one bit-map.
    let parts = [
        (1, 16),
        (0, 6),
        (0, 1),
        (1, 6),
        (0, 1),
        (1, 1),
        (1, 7),
        (0, 6),
    ];
    let octets = message(
        "012101 222000 101001 031031 033007",
        2,
        COMPRESSED,
        &packed(&parts),
    );
    assert_eq!(read(&octets).unwrap_err().fault, Fault::UnequalCounts);
}

#[test]
fn data_that_stand_once_count_for_every_pass() {
    // 0 31 011: three passes over one pair of values.
    let template = "102000 031011 001001 001002 012101";
    let parts = [(3, 8), (9, 7), (8, 10), (27315, 16)];
    let octets = message(template, 1, OBSERVED, &packed(&parts));
    let received = read(&octets).unwrap();
    assert_eq!(
        received.message.values,
        [[3, 9, 8, 9, 8, 9, 8, 27315].map(n)]
    );
    assert!(received.spare_bits < 8);
    // 65535 passes over data of a few bits are too many values for the message.
    let parts = [(65535, 16), (65535, 16), (9, 7), (8, 10)];
    let template = "104000 031012 102000 031012 001001 001002";
    let octets = message(template, 1, OBSERVED, &packed(&parts));
    assert!(matches!(read(&octets).unwrap_err().fault, Fault::Values(_)));
}

#[test]
fn section_1_of_edition_2_has_its_centre_in_two_octets() {
    // Octets 5 and 6: centre 0, 98. Then update 0, no section 2, category 2,
    // sub-category 101, tables 13 and 0, 11-08-02 17:30.
    let one = section(&[0, 0, 98, 0, 0, 2, 101, 13, 0, 11, 8, 2, 17, 30, 0]);
    let three = section3(1, OBSERVED, &descriptors("001001"));
    let received = read(&whole(2, &[&one, &three, &section4(&[10])])).unwrap();
    assert_eq!(received.edition, 2);
    let s = &received.message.section1;
    assert_eq!((s.centre, s.category, s.local_subcategory), (98, 2, 101));
    assert_eq!((s.year, s.month, s.day, s.clock), (2011, 8, 2, [17, 30, 0]));
    assert_eq!(received.message.values, [[n(5)]]);
}

/// All of Table D but what the table itself has wrong: 3 09 073 repeats 17 descriptors
/// where 15 follow.
#[test]
fn every_sequence_of_table_d_compiles() {
    let broken = |d: &Descriptor| Layout::new(&[*d], 0).is_err();
    let mut broken: Vec<_> = crate::tables::bufr_sequences().filter(broken).collect();
    broken.sort();
    assert_eq!(broken, descriptors("309073"));
}
