//! The values of a column that is not known yet.

use crate::input::elements::clock::ClockColumn;
use crate::input::elements::known::Known;
use crate::input::elements::unit::{Notation, Unit};
use crate::input::text::lines::Split;
use crate::input::text::number;

/// Marks for missing values that files use, besides those that are always read
/// so (common practice, no source): a number among them is one only where the
/// column cannot hold it.
const MARKS: &[(&str, Option<f64>)] = &[
    ("-999", Some(-999.0)),
    ("-999.0", Some(-999.0)),
    ("-999.00", Some(-999.0)),
    ("-999.9", Some(-999.9)),
    ("-999.99", Some(-999.99)),
    ("-99", Some(-99.0)),
    ("-99.9", Some(-99.9)),
    ("-99.99", Some(-99.99)),
    ("-9999.00", Some(-9999.0)),
    ("-9999.9", Some(-9999.9)),
    ("-99999", Some(-99999.0)),
    ("-99999.0", Some(-99999.0)),
    ("-32768", Some(-32768.0)),
    ("-32768.0", Some(-32768.0)),
    ("32767", Some(32767.0)),
    ("999", Some(999.0)),
    ("999.0", Some(999.0)),
    ("999.9", Some(999.9)),
    ("9999", Some(9999.0)),
    ("9999.0", Some(9999.0)),
    ("9999.9", Some(9999.9)),
    ("99999", Some(99999.0)),
    ("99999.0", Some(99999.0)),
    ("nan", None),
    ("NaN", None),
    ("NAN", None),
    ("null", None),
    ("NULL", None),
    ("none", None),
    ("None", None),
    ("n/a", None),
    ("N/A", None),
    ("-", None),
    ("--", None),
    ("---", None),
    ("*", None),
    ("***", None),
    ("M", None),
];

/// The values of one column, in the unit of the file.
#[derive(Clone, Debug, Default)]
pub(in crate::input) struct Stats {
    /// Cells with a number that is no mark.
    pub(in crate::input) numbers: usize,
    /// Cells with something else.
    pub(in crate::input) words: usize,
    /// Least and greatest number.
    pub(in crate::input) range: Option<(f64, f64)>,
    /// Steps up and steps down.
    pub(in crate::input) rises: usize,
    pub(in crate::input) falls: usize,
    /// Least and greatest step.
    pub(in crate::input) steps: Option<(f64, f64)>,
    last: Option<f64>,
    /// Clock times, as seconds after the first.
    pub(in crate::input) clock: ClockColumn,
    /// How often each of [`MARKS`] stands there.
    marks: Vec<(usize, usize)>,
}

fn wider(range: Option<(f64, f64)>, value: f64) -> Option<(f64, f64)> {
    let (low, high) = range.unwrap_or((value, value));
    Some((low.min(value), high.max(value)))
}

impl Stats {
    /// Takes a cell in.
    pub(in crate::input) fn add(&mut self, cell: &str, split: Split<'_>) {
        if let Some(at) = MARKS.iter().position(|(mark, _)| *mark == cell) {
            match self.marks.iter_mut().find(|(mark, _)| *mark == at) {
                Some((_, count)) => *count += 1,
                None => self.marks.push((at, 1)),
            }
            return;
        }
        let clock = match cell.contains([':', 'T']) {
            true => self.clock.read(cell, Notation::Number),
            false => None,
        };
        let value = match clock {
            Some(read) => read.ok(),
            None if self.clock.is_clock() => None,
            None => number(cell, split).filter(|v| v.is_finite()),
        };
        let Some(value) = value else {
            self.words += 1;
            return;
        };
        self.numbers += 1;
        self.range = wider(self.range, value);
        if let Some(last) = self.last.replace(value) {
            self.rises += usize::from(value > last);
            self.falls += usize::from(value < last);
            self.steps = wider(self.steps, value - last);
        }
    }

    /// The marks that are values of a column after all, and those that mean
    /// missing; for a column that is not used, nothing is known of them.
    pub(in crate::input) fn settle(&mut self, what: Option<(&Known, &Unit)>) -> Vec<&'static str> {
        let mut missing = Vec::new();
        for (at, count) in std::mem::take(&mut self.marks) {
            let Some((mark, number)) = MARKS.get(at).copied() else {
                continue;
            };
            let fits = |value: f64| match what {
                Some((known, unit)) => known.allows(unit.ours(value)),
                None => true,
            };
            match number {
                Some(value) if fits(value) => {
                    self.numbers += count;
                    self.range = wider(self.range, value);
                }
                _ => missing.push(mark),
            }
        }
        missing
    }
}
