//! Every field of a message with its place in the bits.

use std::fmt::Write as _;

use super::decode::{Sink, pass};
use super::sections::Section;
use super::seen::SIGNIFICANCE_OF_ASSOCIATED;
use super::{BufrError, Descriptor, Field, Kind, Received, Value};
use crate::model::Roles;
use crate::tables::{BufrUnit, associated_field, bufr_figure};

/// The flag table of extended vertical sounding significance.
const SIGNIFICANCE: Descriptor = Descriptor::from_bits(8 << 8 | 42);

/// Places of a number in words; operators may ask for hundreds.
const MAX_PLACES: i32 = 20;

/// A line for every field of a message: section (`4/2` is subset 2 of section 4),
/// bit from the start of the message, bits, descriptor, name, raw bits as a
/// number, value with its unit. Also gives what was read.
///
/// # Errors
/// As [`super::read`]; nothing of a broken message is listed.
pub fn dump(bytes: &[u8]) -> Result<(String, Received), BufrError> {
    let mut lines = Lines::default();
    let received = pass(bytes, &mut lines)?;
    let mut out = String::new();
    line(
        &mut out,
        "section",
        &["bit", "bits"],
        "fxy",
        "name",
        "raw",
        "value",
    );
    let message = bytes.get(..received.octets).unwrap_or_default();
    heads(&mut out, message, &received)?;
    out.push_str(&attach(lines.out, &received, &lines.counts));
    let end = 8 * received.octets - 32;
    if received.spare_bits > 0 {
        let from = (end - received.spare_bits).to_string();
        let bits = received.spare_bits.to_string();
        line(&mut out, "4", &[&from, &bits], "", "bits left over", "", "");
    }
    let end = end.to_string();
    line(&mut out, "5", &[&end, "32"], "", "end", "", "7777");
    Ok((out, received))
}

fn line(
    out: &mut String,
    section: &str,
    places: &[&str; 2],
    fxy: &str,
    name: &str,
    raw: &str,
    value: &str,
) {
    let [bit, bits] = places;
    // Writing to a string does not fail.
    let _ = write!(
        out,
        "{section:<7} {bit:>8} {bits:>5}  {fxy:6}  {name:<62} {raw:>12}  {value}"
    );
    out.truncate(out.trim_end().len());
    out.push('\n');
}

/// Sections 0 to 3 and the length of section 4.
fn heads(out: &mut String, message: &[u8], received: &Received) -> Result<(), BufrError> {
    let mut fixed = |section: &Section<'_>, fields: &[(usize, usize, &str)]| {
        for &(octet, octets, name) in fields {
            let raw = (octet..octet + octets)
                .fold(0_u64, |raw, n| raw << 8 | u64::from(section.octet(n)));
            let bit = (8 * (section.start + octet - 1)).to_string();
            let bits = (8 * octets).to_string();
            let raw = raw.to_string();
            let number = section.number.to_string();
            line(out, &number, &[&bit, &bits], "", name, &raw, &raw);
        }
    };
    let zero = Section {
        number: 0,
        start: 0,
        bytes: message.get(..8).unwrap_or_default(),
    };
    fixed(&zero, &[(5, 3, "total length, octets"), (8, 1, "edition")]);
    let four = received.edition == 4;
    let (one, mut at) = Section::take(1, message, 8, if four { 22 } else { 17 })?;
    let fields: &[(usize, usize, &str)] = if four {
        &[
            (1, 3, "length, octets"),
            (4, 1, "master table"),
            (5, 2, "originating centre"),
            (7, 2, "originating sub-centre"),
            (9, 1, "update sequence number"),
            (10, 1, "section 2 present (128)"),
            (11, 1, "data category"),
            (12, 1, "international sub-category"),
            (13, 1, "local sub-category"),
            (14, 1, "master table version"),
            (15, 1, "local table version"),
            (16, 2, "year"),
            (18, 1, "month"),
            (19, 1, "day"),
            (20, 1, "hour"),
            (21, 1, "minute"),
            (22, 1, "second"),
        ]
    } else {
        &[
            (1, 3, "length, octets"),
            (4, 1, "master table"),
            (5, 1, "originating sub-centre"),
            (6, 1, "originating centre"),
            (7, 1, "update sequence number"),
            (8, 1, "section 2 present (128)"),
            (9, 1, "data category"),
            (10, 1, "local sub-category"),
            (11, 1, "master table version"),
            (12, 1, "local table version"),
            (13, 1, "year of the century"),
            (14, 1, "month"),
            (15, 1, "day"),
            (16, 1, "hour"),
            (17, 1, "minute"),
        ]
    };
    fixed(&one, fields);
    if received.local.is_some() {
        let (two, end) = Section::take(2, message, at, 4)?;
        fixed(
            &two,
            &[(1, 3, "length, octets (the rest is for local use)")],
        );
        at = end;
    }
    let (three, at) = Section::take(3, message, at, 7)?;
    let fields = [
        (1, 3, "length, octets"),
        (5, 2, "subsets"),
        (7, 1, "observed (128), compressed (64)"),
    ];
    fixed(&three, &fields);
    let (section4, _) = Section::take(4, message, at, 4)?;
    for (n, descriptor) in received.message.template.iter().enumerate() {
        let bit = (8 * (three.start + 7 + 2 * n)).to_string();
        let raw = descriptor.bits().to_string();
        let fxy = descriptor.to_string();
        line(out, "3", &[&bit, "16"], &fxy, "descriptor", &raw, &fxy);
    }
    let bit = (8 * section4.start).to_string();
    let length = section4.bytes.len().to_string();
    line(
        out,
        "4",
        &[&bit, "24"],
        "",
        "length, octets",
        &length,
        &length,
    );
    Ok(())
}

/// The values as lines.
#[derive(Default)]
struct Lines {
    out: String,
    subsets: usize,
    /// The last 0 31 021 of each subset: what associated fields are.
    significance: Vec<Option<i64>>,
    /// The values of each subset so far.
    counts: Vec<usize>,
}

impl Sink for Lines {
    fn begin(&mut self, subsets: usize) {
        self.subsets = subsets;
        self.significance = vec![None; subsets];
        self.counts = vec![0; subsets];
    }

    fn value(&mut self, subset: usize, field: &Field, bit: usize, raw: Option<u64>, value: Value) {
        let section = if self.subsets > 1 {
            format!("4/{}", subset + 1)
        } else {
            "4".to_owned()
        };
        let places = [bit.to_string(), field.width_bits.to_string()];
        let [bit, bits] = &places;
        if let Some(count) = self.counts.get_mut(subset) {
            *count += 1;
        }
        let significance = self.significance.get_mut(subset);
        let shown = match (field.kind, significance) {
            (Kind::Associated, Some(figure)) => associated(*figure, &value),
            (Kind::Factor, Some(figure)) if field.descriptor == SIGNIFICANCE_OF_ASSOCIATED => {
                *figure = value.number();
                associated_by(&value)
            }
            _ => shown(field, &value),
        };
        let raw = raw.map(|raw| raw.to_string()).unwrap_or_default();
        line(
            &mut self.out,
            &section,
            &[bit, bits],
            &field.descriptor.to_string(),
            name(field),
            &raw,
            &shown,
        );
    }
}

/// Adds to the lines of values that say something of other values where those are.
fn attach(lines: String, received: &Received, counts: &[usize]) -> String {
    if received.attached.iter().all(Vec::is_empty) {
        return lines;
    }
    let mut all: Vec<String> = lines.lines().map(str::to_owned).collect();
    let subsets = counts;
    let mut start = 0;
    for (subset, count) in subsets.iter().enumerate() {
        // Compressed, the subsets of one field follow each other.
        let line = |value: usize| match received.compressed {
            true => value * subsets.len() + subset,
            false => start + value,
        };
        for attached in received.attached(subset) {
            let about = all.get(line(attached.of)).map(|text| {
                let cell = |from, to| text.get(from..to).unwrap_or_default().trim();
                let (bit, fxy) = (cell(8, 16), cell(24, 30));
                format!(" (of {fxy} at bit {bit})")
            });
            if let (Some(own), Some(about)) = (all.get_mut(line(attached.value)), about) {
                own.push_str(&about);
            }
        }
        start += count;
    }
    all.push(String::new());
    all.join("\n")
}

/// A value of an associated field in words, under a figure of 0 31 021.
fn associated(significance: Option<i64>, value: &Value) -> String {
    let Some(number) = value.number() else {
        return "missing".to_owned();
    };
    let meaning = u32::try_from(number)
        .ok()
        .zip(significance)
        .and_then(|(number, figure)| associated_field(figure, Some(number)));
    match meaning {
        Some(meaning) => format!("{number} {meaning}"),
        None => number.to_string(),
    }
}

/// A figure of 0 31 021 in words.
fn associated_by(value: &Value) -> String {
    let Some(figure) = value.number() else {
        return "missing".to_owned();
    };
    match associated_field(figure, None) {
        Some(meaning) => format!("{figure} {meaning}"),
        None => figure.to_string(),
    }
}

fn name(field: &Field) -> &'static str {
    match (field.kind, field.element) {
        (Kind::Associated, _) => "associated field",
        (_, Some(element)) => element.name,
        (Kind::Text, None) => "characters",
        _ => "local element",
    }
}

/// A value in words: with its unit, or what its bits are.
pub(super) fn shown(field: &Field, value: &Value) -> String {
    let number = match value {
        Value::Missing => return "missing".to_owned(),
        Value::Text(text) => return format!("{:?}", &**text),
        Value::Number(number) => *number,
    };
    match field.element.map(|e| e.unit) {
        Some(BufrUnit::Flags) if field.descriptor == SIGNIFICANCE => {
            let roles = u32::try_from(number).map_or(Roles::empty(), Roles::from_bits_retain);
            format!("{number} {roles}").trim_end().to_owned()
        }
        Some(BufrUnit::Code | BufrUnit::Flags) => {
            let figure = u32::try_from(number).ok();
            match figure.and_then(|figure| bufr_figure(field.descriptor, figure)) {
                Some(meaning) => format!("{number} {meaning}"),
                None => number.to_string(),
            }
        }
        Some(BufrUnit::Number(_)) => format!("{} {}", decimal(number, field.scale), unit(field))
            .trim_end()
            .to_owned(),
        _ => number.to_string(),
    }
}

/// The unit of a field's values, blank where there is none.
pub(super) fn unit(field: &Field) -> &'static str {
    match field.element.map(|e| e.unit) {
        Some(BufrUnit::Number(unit)) if unit != "Numeric" => unit,
        _ => "",
    }
}

/// A whole number of units of ten to minus `scale`, exactly.
pub(super) fn decimal(number: i64, scale: i32) -> String {
    if scale.abs() > MAX_PLACES {
        return format!("{number}e{}", -scale);
    }
    match usize::try_from(scale) {
        Ok(0) => number.to_string(),
        Ok(places) => {
            let sign = if number < 0 { "-" } else { "" };
            let figures = format!("{:0>width$}", number.unsigned_abs(), width = places + 1);
            let (whole, part) = figures.split_at(figures.len() - places);
            format!("{sign}{whole}.{part}")
        }
        Err(_) => {
            let zeros = usize::try_from(scale.unsigned_abs()).unwrap_or(0);
            let zeros = if number == 0 { 0 } else { zeros };
            format!("{number}{}", "0".repeat(zeros))
        }
    }
}
