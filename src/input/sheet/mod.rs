//! The sheet: TOML about station and flight, read into a [`Context`].
//!
//! Every file is checked on its own against the schema of the keys; then the
//! files are merged key by key (tables merge, arrays are replaced, the later
//! file wins, an empty string counts as absent); then completeness is
//! required. Each key with its meaning, range and default is stated once, as a field
//! of [`Context`], [`Reading`] or [`Schedule`]; [`schema`], the checks, the reader, the
//! printer and the fields of a form follow from there.

mod check;
mod complete;
mod context;
mod draft;
mod entry;
mod error;
mod handover;
mod keys;
mod print;
mod tables;

#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::model::finding::{Finding, Place};
use crate::model::{Context, Flight, GroundCheck, Reading, Target};

pub use context::check_context;
pub(crate) use context::complete_context;
pub use draft::{Draft, Key, KeyKind, keys_of};
#[cfg(feature = "cli")]
pub(crate) use draft::{Whom, about};
pub use error::{Fault, SheetError, SheetFault};
use keys::SheetKeys;
#[cfg(test)]
pub(crate) use keys::made::schema as made_schema;
pub use keys::schema;
pub(crate) use keys::tables as context_tables;
pub use print::{print, without_clouds};
pub use tables::{SHEET_TABLES, SheetTable};

/// The longest sheet that is read, bytes.
pub const MAX_SHEET_BYTES: usize = 1 << 20;

/// The most faults that are reported of one file; the rest would bury the first.
const MAX_FAULTS: usize = 100;

/// One sheet file.
#[derive(Clone, Copy, Debug)]
pub struct Source<'a> {
    /// Its name, as findings are to give it.
    pub name: &'a str,
    /// Its text.
    pub text: &'a str,
}

/// What the sheet files say together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// Station, flight, practice and orders.
    pub context: Context,
    /// How to read delimited text.
    pub reading: Reading,
}

/// When reports are expected: what unattended export goes by.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Schedule {
    /// Standard hours, UTC, for which a report is expected every day.
    #[cfg_attr(test, schemars(length(max = 24), inner(range(min = 0, max = 23))))]
    pub hours: Vec<u8>,
    /// Minutes after the standard time by which the report is to be out; one that
    /// comes later goes out as RRA, RRB …
    #[cfg_attr(test, schemars(range(min = 1, max = 720)))]
    pub limit_min: Option<u16>,
    /// Whether NIL goes out when there is no report by then.
    pub nil: bool,
    /// Whether an ascent that is still going on has its early message at 100 hPa.
    pub two_messages: bool,
    /// The greatest age of a release, hours; an older flight is refused.
    #[cfg_attr(test, schemars(range(min = 1, max = 1_000_000)))]
    pub max_age_h: u32,
    /// What happens to a flight that differs from the last issues of its station by more
    /// than a limit of continuity.
    pub continuity: Continuity,
}

/// What happens to a flight that is not continuous with the last issues of its station.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Continuity {
    /// It is issued with warnings.
    #[default]
    Warn,
    /// It is refused, for somebody to look at.
    Hold,
    /// Nothing is compared.
    Ignore,
}

impl Default for Schedule {
    fn default() -> Self {
        Self {
            hours: Vec::new(),
            limit_min: None,
            nil: false,
            two_messages: false,
            max_age_h: 24,
            continuity: Continuity::default(),
        }
    }
}

/// The place of each key, by its dotted path: the last file that has it.
type Places = BTreeMap<String, Place>;

/// Reads sheet files, the later ones having the last word.
///
/// # Errors
///
/// Every fault found: first those of the files taken alone, with file, line
/// and column; when there are none, those of the whole, such as a missing key.
///
/// ```
/// use fivefig::input::sheet::{Source, read};
///
/// let station = Source { name: "station.toml", text: "[station]\nwmo_block = 99\nwmo_number = 7" };
/// let flight = Source { name: "flight.toml", text: "[flight]\nrelease = 2031-01-15T11:23:40Z" };
/// let (sheet, findings) = read(&[station, flight]).unwrap();
/// assert_eq!(sheet.context.station.wmo().map(|n| n.to_string()).as_deref(), Some("99007"));
/// assert_eq!(findings[0].code, "standard-time-assumed");
/// ```
pub fn read(files: &[Source<'_>]) -> Result<(Sheet, Vec<Finding>), SheetError> {
    Files::of(files)?.sheet()
}

/// Sheet files as one table that need not be complete, each checked on its own.
pub(crate) struct Files {
    table: toml::Table,
    places: Places,
}

impl Files {
    /// Checks and joins files, the later ones having the last word.
    pub(crate) fn of(files: &[Source<'_>]) -> Result<Self, SheetError> {
        let mut table = toml::Table::new();
        let mut places = Places::new();
        let mut errors = Vec::new();
        for file in files {
            let mut checked = check::file(file);
            errors.append(&mut checked.errors);
            places.append(&mut checked.places);
            merge(&mut table, checked.table);
        }
        SheetError::check(errors)?;
        Ok(Self { table, places })
    }

    /// How a profile is to be read.
    pub(crate) fn reading(&self) -> Result<Reading, SheetError> {
        Ok(SheetKeys::of(self.table.clone())?.text)
    }

    /// The sheet, which must be complete, and what is to be said of it.
    pub(crate) fn sheet(self) -> Result<(Sheet, Vec<Finding>), SheetError> {
        complete::complete(self.table, &self.places)
    }
}

/// How a profile is to be read, by sheet files that need not be complete: a
/// profile may bring the rest.
///
/// # Errors
///
/// The faults of the files taken alone.
pub fn reading(files: &[Source<'_>]) -> Result<Reading, SheetError> {
    Files::of(files)?.reading()
}

/// When reports are expected, by sheet files that need not be complete.
///
/// # Errors
///
/// The faults of the files taken alone; hours or NIL without a limit.
///
/// ```
/// use fivefig::input::sheet::{Source, schedule};
///
/// let text = "[schedule]\nhours = [12, 0]\nlimit_min = 150\nnil = true";
/// let schedule = schedule(&[Source { name: "station.toml", text }]).unwrap();
/// assert_eq!(schedule.hours, [0, 12]);
/// assert!(schedule.nil && !schedule.two_messages);
/// ```
pub fn schedule(files: &[Source<'_>]) -> Result<Schedule, SheetError> {
    let mut schedule = SheetKeys::of(joined(files)?)?.schedule;
    let hours = &mut schedule.hours;
    hours.sort_unstable();
    hours.dedup();
    if schedule.nil && (hours.is_empty() || schedule.limit_min.is_none()) {
        let (key, example) = if hours.is_empty() {
            ("schedule.hours", "hours = [0, 12]")
        } else {
            ("schedule.limit_min", "limit_min = 150")
        };
        let fault = Fault::Missing {
            key: key.to_owned(),
            what: "nil needs to know when a report is due".to_owned(),
            example: example.to_owned(),
        };
        let place = Place::key(key);
        return Err(SheetFault { place, fault }.into());
    }
    Ok(schedule)
}

/// The ground check with what is known of the flight, by sheet files that need not be complete.
///
/// # Errors
///
/// The faults of the files taken alone.
pub fn ground_check(files: &[Source<'_>]) -> Result<Option<(GroundCheck, Flight)>, SheetError> {
    let context = SheetKeys::of(joined(files)?)?.context;
    Ok(context.ground_check.map(|check| (check, context.flight)))
}

/// The receivers of messages, by sheet files that need not be complete.
///
/// # Errors
///
/// The faults of the files taken alone; a key that a kind of target needs or does not have.
///
/// ```
/// use fivefig::input::sheet::{Source, targets};
///
/// let text = "[handover.hub]\nkind = \"folder\"\nfolder = \"outgoing\"";
/// let targets = targets(&[Source { name: "station.toml", text }]).unwrap();
/// assert_eq!((targets[0].name.as_str(), targets[0].limit_min), ("hub", 10));
/// ```
pub fn targets(files: &[Source<'_>]) -> Result<Vec<Target>, SheetError> {
    let keys = SheetKeys::of(joined(files)?)?;
    handover::all(keys.handover, &keys.context.wis2)
}

/// Sheet files as one table, the later ones having the last word; it need not be
/// complete.
///
/// # Errors
///
/// The faults of the files taken alone.
pub fn joined(files: &[Source<'_>]) -> Result<toml::Table, SheetError> {
    Ok(Files::of(files)?.table)
}

/// Merges a later table into an earlier one.
fn merge(into: &mut toml::Table, later: toml::Table) {
    for (key, value) in later {
        match (into.get_mut(&key), value) {
            (Some(toml::Value::Table(old)), toml::Value::Table(new)) => merge(old, new),
            (_, value) => {
                into.insert(key, value);
            }
        }
    }
}
