//! Names, units and bounds of the columns of a profile, and which column of a
//! file is which.

use strsim::jaro_winkler;

use super::unit::{self, Unit};
use super::{RawRow, SourceError};
use crate::finding::{Finding, Place};
use crate::sounding::{ColumnSource, Reading};

/// The column of roles received from a station (BUFR 0 08 042).
pub(super) const FLAGS: &str = "station_flags";

/// Most unknown columns told one by one.
const MAX_UNKNOWN: usize = 20;
/// Names more alike than this are proposed.
const ALIKE: f64 = 0.84;
/// Most characters of a cell or name that a message repeats.
pub(super) const MAX_SHOWN: usize = 40;

/// A column we know: its own unit, its bounds in it, the units it may come in
/// (its own first), and where the value goes.
pub(super) struct Known {
    pub(super) name: &'static str,
    pub(super) low: f64,
    pub(super) high: f64,
    /// Whether the lower bound itself is outside.
    pub(super) open: bool,
    pub(super) units: &'static [Unit],
    pub(super) set: fn(&mut RawRow, f64),
}

impl Known {
    /// Whether a value, in our unit, is within the bounds.
    pub(super) fn allows(&self, value: f64) -> bool {
        value <= self.high && (value > self.low || (value == self.low && !self.open))
    }

    /// The bounds in words.
    pub(super) fn bounds(&self) -> String {
        let unit = self.units.first().map_or("", |u| u.name);
        let (low, high) = (self.low, self.high);
        if self.open {
            format!("more than {low} and at most {high} {unit} is allowed")
        } else {
            format!("{low} to {high} {unit} is allowed")
        }
    }
}

macro_rules! known {
    ($($name:ident $low:literal $high:literal $open:literal $units:ident),+ $(,)?) => {
        &[$(Known {
            name: stringify!($name),
            low: $low,
            high: $high,
            open: $open,
            units: unit::$units,
            set: |row, value| row.$name = Some(value),
        }),+]
    };
}

/// Every column of values, with bounds no atmosphere leaves (our own choice,
/// wide enough for records).
pub(super) const KNOWN: &[Known] = known![
    time_s -1_000_000.0 1_000_000.0 false SECONDS,
    pressure_hpa       0.0  1100.0  true PRESSURE,
    height_gpm      -500.0 60000.0 false GEOPOTENTIAL,
    altitude_m      -500.0 60000.0 false METRES,
    temperature_c   -120.0    60.0 false TEMPERATURE,
    humidity_pct       0.0   105.0 false SHARE,
    dewpoint_c      -150.0    60.0 false TEMPERATURE,
    wind_dir_deg       0.0   360.0 false DEGREES,
    wind_speed_ms      0.0   250.0 false SPEED,
    wind_u_ms       -250.0   250.0 false SPEED,
    wind_v_ms       -250.0   250.0 false SPEED,
    latitude_deg     -90.0    90.0 false DEGREES_NORTH,
    longitude_deg   -180.0   360.0 false DEGREES_EAST,
];

/// The unit of a column that a text spells.
pub(super) fn unit(known: &Known, text: &str) -> Option<&'static Unit> {
    unit::of(known.units, text)
}

/// What a column of the file is taken for.
#[derive(Clone, Copy)]
pub(super) enum Use {
    Value(&'static Known, &'static Unit),
    Flags,
    Nothing,
}

/// The header of a file and the sheet's words about it.
pub(super) struct Header<'a> {
    pub(super) file: &'a str,
    pub(super) line: usize,
    pub(super) cells: &'a [&'a str],
    pub(super) reading: &'a Reading,
}

impl Header<'_> {
    /// What each column of the header is.
    pub(super) fn assign(&self, findings: &mut Vec<Finding>) -> Result<Vec<Use>, SourceError> {
        self.only_our_names()?;
        let mut uses: Vec<Use> = vec![Use::Nothing; self.cells.len()];
        for known in KNOWN {
            if let Some(at) = self.find(known.name)? {
                let unit = self.unit(known)?;
                self.take(&mut uses, at, known.name, Use::Value(known, unit))?;
            }
        }
        if !uses.iter().any(|u| matches!(u, Use::Value(..))) {
            return Err(SourceError::NoColumns {
                name: self.file.to_owned(),
                line: self.line,
                header: self.listed(),
                known: names().collect::<Vec<_>>().join(", "),
            });
        }
        if let Some(at) = self.find(FLAGS)? {
            self.take(&mut uses, at, FLAGS, Use::Flags)?;
        }
        self.tell_unknown(&uses, findings);
        Ok(uses)
    }

    fn fail<T>(&self, ours: &str, what: String) -> Result<T, SourceError> {
        Err(SourceError::Column {
            name: self.file.to_owned(),
            ours: ours.to_owned(),
            what,
        })
    }

    /// Every key of `[columns]` is a name of ours.
    fn only_our_names(&self) -> Result<(), SourceError> {
        for ours in self.reading.columns.keys() {
            if !names().any(|n| n == ours) {
                let all = names().collect::<Vec<_>>().join(", ");
                return self.fail(ours, format!("no such column is read; there are {all}"));
            }
        }
        Ok(())
    }

    /// The place of one of our columns in the header.
    fn find(&self, ours: &str) -> Result<Option<usize>, SourceError> {
        let given = self.reading.columns.get(ours);
        // What the sheet takes as something else is not what its name says.
        let named = |other: &ColumnSource| {
            let column = other.column.as_deref().unwrap_or_default();
            column.trim().eq_ignore_ascii_case(ours)
        };
        if given.is_none() && self.reading.columns.values().any(named) {
            return Ok(None);
        }
        let wanted = given.and_then(|g| g.column.as_deref()).unwrap_or(ours);
        let wanted = wanted.trim();
        let same = |cell: &&str| cell.to_lowercase() == wanted.to_lowercase();
        let mut at = (self.cells.iter().enumerate()).filter(|(_, cell)| same(cell));
        match (at.next(), at.next()) {
            (Some((first, _)), Some((second, _))) => self.fail(
                ours,
                format!(
                    "column `{}` stands twice in the header, in columns {} and {}",
                    shown(wanted),
                    first + 1,
                    second + 1
                ),
            ),
            (Some((first, _)), None) => Ok(Some(first)),
            (None, _) if given.is_some() => self.fail(
                ours,
                format!(
                    "the header has no column `{}`; it has {}",
                    shown(wanted),
                    self.listed()
                ),
            ),
            (None, _) => Ok(None),
        }
    }

    fn unit(&self, known: &'static Known) -> Result<&'static Unit, SourceError> {
        let given = self.reading.columns.get(known.name);
        let wanted = given.and_then(|g| g.unit.as_deref()).map(str::trim);
        let found = match wanted {
            None => known.units.first(),
            Some(name) => unit(known, name),
        };
        match found {
            Some(unit) => Ok(unit),
            None => {
                let units: Vec<&str> = known.units.iter().map(|u| u.name).collect();
                self.fail(
                    known.name,
                    format!(
                        "unknown unit `{}`; it may be {}",
                        shown(wanted.unwrap_or("")),
                        units.join(", ")
                    ),
                )
            }
        }
    }

    /// Gives a column its use, which must be its only one.
    fn take(&self, uses: &mut [Use], at: usize, ours: &str, new: Use) -> Result<(), SourceError> {
        let Some(slot) = uses.get_mut(at) else {
            return Ok(());
        };
        if let Use::Value(known, _) = slot {
            let column = at + 1;
            return self.fail(
                ours,
                format!("column {column} is already taken as {}", known.name),
            );
        }
        *slot = new;
        Ok(())
    }

    /// The header's columns, for messages.
    fn listed(&self) -> String {
        let mut list: Vec<String> = (self.cells.iter().take(MAX_UNKNOWN))
            .map(|c| format!("`{}`", shown(c)))
            .collect();
        if self.cells.len() > MAX_UNKNOWN {
            list.push(format!("{} more", self.cells.len() - MAX_UNKNOWN));
        }
        list.join(", ")
    }

    fn tell_unknown(&self, uses: &[Use], findings: &mut Vec<Finding>) {
        let unused = (uses.iter().zip(self.cells).enumerate())
            .filter(|(_, (what, cell))| matches!(what, Use::Nothing) && !cell.is_empty());
        let mut count = 0;
        for (i, (_, cell)) in unused {
            count += 1;
            if count > MAX_UNKNOWN {
                continue;
            }
            let place = Place::line(self.file, self.line).at_column(i + 1);
            let what = format!("column `{}` is not used", shown(cell));
            let finding = Finding::info("unknown-column", place, what);
            findings.push(match nearest(cell) {
                Some(name) => finding.allowed(format!("did you mean {name}?")),
                None => finding,
            });
        }
        if count > MAX_UNKNOWN {
            let what = format!("{} more columns are not used", count - MAX_UNKNOWN);
            let place = Place::line(self.file, self.line);
            findings.push(Finding::info("unknown-column", place, what));
        }
    }
}

fn names() -> impl Iterator<Item = &'static str> {
    KNOWN.iter().map(|k| k.name).chain([FLAGS])
}

/// Our name most like a column's, when one is like it.
fn nearest(cell: &str) -> Option<&'static str> {
    let cell = shown(cell).to_lowercase();
    names()
        .map(|name| (jaro_winkler(name, &cell), name))
        .filter(|(alike, _)| *alike > ALIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

/// The beginning of a text from the file, fit for a message of one line.
pub(super) fn shown(text: &str) -> String {
    let mut out: String = text
        .chars()
        .take(MAX_SHOWN)
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .collect();
    if text.chars().nth(MAX_SHOWN).is_some() {
        out.push('…');
    }
    out
}
