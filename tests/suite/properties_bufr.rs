//! Any values in any template are read as they were written.

use std::cell::RefCell;
use std::collections::HashMap;

use fivefig::forms::bufr;
use fivefig::forms::bufr::{Descriptor, Field, Kind, Layout, Message, Section1, Value};
use fivefig::tables::{bufr_element, bufr_sequences};
use proptest::prelude::*;
use proptest::sample::select;

fn figures(figures: &str) -> Descriptor {
    Descriptor::from_figures(figures).unwrap()
}

fn made(f: u16, x: usize, y: u16) -> Descriptor {
    Descriptor::from_bits(f << 14 | u16::try_from(x).unwrap() << 8 | y)
}

/// Elements of the table, those of class 31 too.
fn element() -> impl Strategy<Value = Descriptor> {
    let all: Vec<_> = (0..1 << 14)
        .map(Descriptor::from_bits)
        .filter(|d| bufr_element(*d).is_some())
        .collect();
    select(all)
}

fn sequence() -> impl Strategy<Value = Descriptor> {
    // Those whose widths depend on data need bit-maps in front of them.
    let plain = |d: &Descriptor| {
        let layout = Layout::new(&[*d], 0);
        layout.is_ok_and(|layout| !layout.depends_on_data())
    };
    let mut all: Vec<_> = bufr_sequences().filter(plain).collect();
    all.sort();
    select(all)
}

/// An operator around what it changes, with its end.
fn changed() -> impl Strategy<Value = Vec<Descriptor>> {
    let pairs = prop_oneof![
        // 2 01 and 2 02 count from 128.
        (Just(1), 124_u16..=136),
        (Just(2), 120_u16..=136),
        (Just(7), 1_u16..=5),
        (Just(8), 1_u16..=40),
    ];
    let plain = (pairs, prop::collection::vec(element(), 1..4)).prop_map(|((x, y), inside)| {
        let mut out = vec![made(2, x, y)];
        out.extend(inside);
        out.push(made(2, x, 0));
        out
    });
    let associated = (1_u16..=16, prop::collection::vec(element(), 1..3));
    let associated = associated.prop_map(|(bits, inside)| {
        let mut out = vec![made(2, 4, bits), figures("031021")];
        out.extend(inside);
        out.push(made(2, 4, 0));
        out
    });
    let characters = (1_u16..=255).prop_map(|octets| vec![made(2, 5, octets)]);
    // 0 63 200 is in no table of ours.
    let local = (1_u16..=32, prop_oneof![element(), Just(made(0, 63, 200))]);
    let local = local.prop_map(|(bits, of)| vec![made(2, 6, bits), of]);
    prop_oneof![4 => plain, 1 => associated, 1 => characters, 1 => local]
}

/// Descriptors that can stand in a template or a replication as they are.
fn piece() -> impl Strategy<Value = Vec<Descriptor>> {
    let leaf = prop_oneof![
        6 => element().prop_map(|d| vec![d]),
        2 => sequence().prop_map(|d| vec![d]),
        3 => changed(),
    ];
    leaf.prop_recursive(3, 24, 3, |inner| {
        let factor = prop_oneof![
            Just(None),
            select(vec!["031000", "031001", "031002"]).prop_map(Some),
        ];
        (prop::collection::vec(inner, 1..3), factor, 1_u16..4).prop_map(|(body, factor, times)| {
            let body = body.concat();
            let x = body.len().min(63);
            let head = match factor {
                None => vec![made(1, x, times)],
                Some(factor) => vec![made(1, x, 0), figures(factor)],
            };
            [head, body].concat()
        })
    })
}

/// Numbers that look random, from a seed.
struct Numbers(u64);

impl Numbers {
    /// Below `end`. (The steps are those of a 64-bit Weyl sequence, mixed.)
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mixed = (self.0 ^ self.0 >> 31).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        (mixed ^ mixed >> 29) % end
    }
}

fn value(field: &Field, missing: u64, numbers: &mut Numbers) -> Value {
    let can_be_missing = matches!(field.kind, Kind::Number | Kind::Text) && field.width_bits > 1;
    if can_be_missing && numbers.below(100) < missing {
        return Value::Missing;
    }
    if field.kind == Kind::Text {
        let length = numbers.below(u64::from(field.width_bits / 8) + 1);
        let text: String = (0..length)
            .map(|_| char::from(u8::try_from(0x20 + numbers.below(0xE0)).unwrap()))
            .collect();
        return Value::text(&text);
    }
    let most = (1_u64 << field.width_bits) - 1 - u64::from(can_be_missing);
    let raw = match numbers.below(4) {
        0 => 0,
        1 => most,
        _ => numbers.below(most + 1),
    };
    Value::Number(i64::try_from(raw).unwrap() + field.reference)
}

/// Values of one subset.
fn values(layout: &Layout, missing: u64, numbers: &mut Numbers) -> Vec<Value> {
    let counts = RefCell::new(HashMap::new());
    let numbers = RefCell::new(numbers);
    let count = |n| {
        // Of 0 31 000 only 0 and 1 fit.
        let count = numbers.borrow_mut().below(2);
        counts.borrow_mut().insert(n, count);
        Some(count)
    };
    let fields = layout.fields(count);
    let counts = counts.borrow();
    let value = |(n, field): (usize, &Field)| match counts.get(&n) {
        Some(&count) => Value::Number(i64::try_from(count).unwrap()),
        None => value(field, missing, &mut numbers.borrow_mut()),
    };
    fields.iter().enumerate().map(value).collect()
}

fn message() -> impl Strategy<Value = Message> {
    let template = prop::collection::vec(piece(), 1..5).prop_map(|pieces| pieces.concat());
    // Operators inside each other may ask for widths that are not handled.
    let template = template.prop_filter_map("widths", |template| {
        let layout = Layout::new(&template, 0).ok()?;
        Some((template, layout))
    });
    let missing = prop_oneof![Just(0_u64), Just(20), Just(100)];
    (
        template,
        1_usize..4,
        missing,
        any::<u64>(),
        any::<[u8; 12]>(),
        any::<[u16; 3]>(),
    )
        .prop_map(
            |((template, layout), subsets, missing, seed, octets, words)| {
                let mut numbers = Numbers(seed);
                let subsets = (0..subsets)
                    .map(|_| values(&layout, missing, &mut numbers))
                    .collect();
                let [a, b, c, d, e, f, g, h, i, j, k, l] = octets;
                Message {
                    section1: Section1 {
                        master_table: a,
                        centre: words[0],
                        sub_centre: words[1],
                        update: b,
                        category: c,
                        subcategory: d,
                        local_subcategory: e,
                        table_version: f,
                        local_version: g,
                        year: words[2],
                        month: h,
                        day: i,
                        clock: [j, k, l],
                    },
                    template,
                    values: subsets,
                }
            },
        )
}

/// As a text of all octets 255 is read: missing.
fn as_read(message: &Message) -> Message {
    let layout = Layout::new(&message.template, 0).unwrap();
    let mut out = message.clone();
    for subset in &mut out.values {
        let count = |n: usize| u64::try_from(subset.get(n)?.number()?).ok();
        let fields = layout.fields(count);
        for (value, field) in subset.iter_mut().zip(fields) {
            let full = field.width_bits as usize / 8;
            if matches!(value, Value::Text(t) if t.chars().filter(|&c| c == '\u{FF}').count() == full)
            {
                *value = Value::Missing;
            }
        }
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, ..ProptestConfig::default() })]

    /// `read(encode(m)) = m` and `encode(read(b)) = b`; the dump has every value.
    #[test]
    fn messages_are_read_as_they_were_written(message in message()) {
        let message = as_read(&message);
        let octets = message.encode().unwrap();
        let received = bufr::read(&octets).unwrap();
        prop_assert_eq!(&received.message, &message);
        prop_assert!(received.spare_bits < 8);
        prop_assert_eq!(received.octets, octets.len());
        prop_assert_eq!(received.message.encode().unwrap(), octets.clone());
        let (lines, dumped) = bufr::dump(&octets).unwrap();
        prop_assert_eq!(dumped.message.template, message.template);
        let values: usize = message.values.iter().map(Vec::len).sum();
        let shown = lines.lines().filter(|line| line.starts_with('4')).count();
        // Beside the values: the length of section 4, and bits left over.
        let beside = 1 + usize::from(received.spare_bits > 0);
        prop_assert_eq!(shown, values + beside);
    }

    /// Any octets in the place of any others: no panic, and what is read is written
    /// and read the same.
    #[test]
    fn damaged_messages_do_no_harm(
        message in message(),
        compressed in any::<bool>(),
        places in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..4),
    ) {
        let mut octets = message.encode().unwrap();
        if compressed {
            // Octet 7 of section 3, which begins after 30 octets.
            octets[36] = 0xC0;
        }
        for (place, octet) in places {
            let place = place.index(octets.len());
            octets[place] = octet;
        }
        let read = bufr::read(&octets);
        prop_assert_eq!(bufr::dump(&octets).is_ok(), read.is_ok());
        let _ = bufr::frames(&octets);
        if let Ok(received) = read {
            let written = received.message.encode().unwrap();
            prop_assert_eq!(bufr::read(&written).unwrap().message, as_read(&received.message));
        }
    }
}
