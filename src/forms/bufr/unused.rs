//! Values of a sounding that have no place in a report: listed once, so that none is
//! lost without a finding.

use super::field::{Field, Kind};
use super::fields::Given;
use super::seen::Seen;
use super::{Descriptor, Value};
use crate::model::finding::{Finding, Place, finding};
use crate::tables::bufr_element;

/// What reports are made of, by class; whole classes: 31 (counts, bit-maps), 33
/// (quality: a dump shows it).
const USED: [(u16, &[u16]); 14] = [
    // 0 01 031 and 0 01 032: who gave the quality after a bit-map.
    (
        1,
        &[1, 2, 6, 11, 31, 32, 81, 82, 83, 95, 125, 126, 127, 128],
    ),
    (
        2,
        &[
            3, 11, 13, 14, 15, 16, 17, 66, 67, 80, 81, 82, 83, 84, 85, 86, 95, 96, 97, 103, 191,
        ],
    ),
    (4, &[1, 2, 3, 4, 5, 6, 15, 16, 25, 26, 86]),
    (5, &[1, 2, 15]),
    (6, &[1, 2, 15]),
    (7, &[1, 2, 3, 4, 6, 7, 8, 9, 30, 31]),
    (8, &[1, 2, 21, 40, 41, 42, 91]),
    (10, &[3, 4, 8, 9]),
    (11, &[1, 2, 3, 4, 61, 62]),
    (12, &[1, 3, 101, 103]),
    (13, &[3, 9]),
    (20, &[11, 12, 13]),
    (22, &[42, 43]),
    (35, &[35]),
];
/// Equipment beside the classes above: 0 25 061.
const SOFTWARE: Descriptor = Descriptor::from_bits(25 << 8 | 61);
/// The most that a finding names.
const MOST: usize = 8;

fn is_used(field: &Field) -> bool {
    let descriptor = field.descriptor;
    if matches!(
        field.kind,
        Kind::Associated | Kind::Reference | Kind::Factor | Kind::Absent
    ) {
        return true;
    }
    // Characters of 2 05 are words of their own; values of 2 23 to 2 32 go with quality.
    match descriptor.f() {
        0 => {}
        _ => return field.kind != Kind::Text,
    }
    let own = |(x, ys): &(u16, &[u16])| *x == descriptor.x() && ys.contains(&descriptor.y());
    matches!(descriptor.x(), 31 | 33) || descriptor == SOFTWARE || USED.iter().any(own)
}

/// A finding that lists what a report does not hold.
pub(super) fn tell(seen: &Seen<'_>) -> Option<Finding> {
    let inside = seen.levels.iter().chain(&seen.shears).flatten();
    of(seen.head.iter().chain(inside))
}

pub(super) fn of<'a, 'v: 'a>(given: impl Iterator<Item = &'a Given<'v>>) -> Option<Finding> {
    let mut unused: Vec<Descriptor> = Vec::new();
    for (field, value) in given {
        let new = !is_used(field) && **value != Value::Missing;
        if new && !is_blank(value) && !unused.contains(&field.descriptor) {
            unused.push(field.descriptor);
        }
    }
    if unused.is_empty() {
        return None;
    }
    let mut names: Vec<String> = unused.iter().take(MOST).map(|d| named(*d)).collect();
    if unused.len() > MOST {
        names.push(format!("{} more", unused.len() - MOST));
    }
    let elements = names.join(", ");
    Some(finding!(
        ValuesNotUsed,
        Place::default(),
        elements = elements
    ))
}

fn is_blank(value: &Value) -> bool {
    matches!(value, Value::Text(text) if text.trim_matches(['\0', ' ', '\u{FF}']).is_empty())
}

fn named(descriptor: Descriptor) -> String {
    let name = match bufr_element(descriptor) {
        Some(element) => element.name,
        None if descriptor.f() == 2 => "characters",
        None => "local element",
    };
    format!("{descriptor} {name}")
}
