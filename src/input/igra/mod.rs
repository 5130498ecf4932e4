//! IGRA v2 station files: soundings of one station in records of fixed columns.
//!
//! The format is that of the open description "IGRA v2 sounding data format"
//! (NOAA/NCEI), its columns from memory:
//!
//! | header record | columns | | data record | columns |
//! |---|---|---|---|---|
//! | `#` | 1 | | kind of level: 1 standard pressure, 2 other pressure, 3 height | 1 |
//! | station | 2–12 | | 1 surface, 2 tropopause, 0 other | 2 |
//! | year, month, day, hour (99 unknown) | 14–17, 19–20, 22–23, 25–26 | | time since release, MMMSS | 4–8 |
//! | release HHMM (9999 unknown, minute 99 too) | 28–31 | | pressure, Pa | 10–15 |
//! | count of levels | 33–36 | | geopotential height, m | 17–21 |
//! | sources | 38–45, 47–54 | | temperature, 0.1 °C | 23–27 |
//! | latitude, 0.0001° | 56–62 | | relative humidity, 0.1 % | 29–33 |
//! | longitude, 0.0001° | 64–71 | | dew-point depression, 0.1 K | 35–39 |
//! | | | | wind direction, ° | 41–45 |
//! | | | | wind speed, 0.1 m/s | 47–51 |
//!
//! −9999 is missing, −8888 removed by quality assurance. The one-letter flags of
//! quality behind pressure, height and temperature say nothing that a row holds.

use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime};

use crate::input::elements::known::known;
use crate::input::sheet;
use crate::input::{Contents, RawProfile, RawRow, SourceError};
use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::{Context, Flight, Roles, Station, StationKind, utc};

#[cfg(test)]
mod tests;

/// Largest file, octets.
const MAX_FILE: usize = 1 << 30;
/// Longest record that is looked at, octets.
const MAX_LINE: usize = 1000;
/// Missing, and removed by quality assurance.
const MISSING: i64 = -9999;
const REMOVED: i64 = -8888;

/// A field of a record: its name and its first and last column, from 1.
type Field = (&'static str, usize, usize);

const YEAR: Field = ("YEAR", 14, 17);
const MONTH: Field = ("MONTH", 19, 20);
const DAY: Field = ("DAY", 22, 23);
const HOUR: Field = ("HOUR", 25, 26);
const RELTIME: Field = ("RELTIME", 28, 31);
const NUMLEV: Field = ("NUMLEV", 33, 36);
const LAT: Field = ("LAT", 56, 62);
const LON: Field = ("LON", 64, 71);
const LVLTYP1: Field = ("LVLTYP1", 1, 1);
const LVLTYP2: Field = ("LVLTYP2", 2, 2);
const ETIME: Field = ("ETIME", 4, 8);
const TEMP: Field = ("TEMP", 23, 27);
const DPDP: Field = ("DPDP", 35, 39);

/// Whether the start of a file is that of a station file.
#[must_use]
pub fn is_igra(start: &[u8]) -> bool {
    let first = start.split(|&b| b == b'\n').next().unwrap_or_default();
    let line = first.get(..MAX_LINE.min(first.len())).unwrap_or_default();
    let Ok(line) = std::str::from_utf8(line) else {
        return false;
    };
    let record = Record { line, number: 1 };
    line.starts_with('#')
        && line.is_ascii()
        && record.text((" ", 13, 13)).is_some_and(|gap| gap == " ")
        && [YEAR, MONTH, DAY, HOUR, NUMLEV, LAT, LON]
            .into_iter()
            .all(|field| record.number(field).is_ok())
}

/// What is wrong with a record.
struct Wrong {
    line: usize,
    column: usize,
    what: String,
}

/// One line of the file.
#[derive(Clone, Copy)]
struct Record<'a> {
    line: &'a str,
    number: usize,
}

impl<'a> Record<'a> {
    fn wrong(&self, field: Field, what: impl std::fmt::Display) -> Wrong {
        Wrong {
            line: self.number,
            column: field.1,
            what: format!("{} {what}", field.0),
        }
    }

    /// The text of a field; `None` when the line ends before it does.
    fn text(&self, (_, from, to): Field) -> Option<&'a str> {
        self.line.get(from.checked_sub(1)?..to)
    }

    /// The whole number of a field.
    fn number(&self, field: Field) -> Result<i64, Wrong> {
        let (_, from, to) = field;
        let Some(text) = self.text(field) else {
            return Err(self.wrong(
                field,
                format!("is not there: the line ends before column {to}"),
            ));
        };
        text.trim().parse().map_err(|_| {
            self.wrong(
                field,
                format!("is `{text}`; a whole number is expected in columns {from} to {to}"),
            )
        })
    }

    /// The same within bounds.
    fn within(&self, field: Field, low: i64, high: i64) -> Result<i64, Wrong> {
        let number = self.number(field)?;
        if (low..=high).contains(&number) {
            Ok(number)
        } else {
            Err(self.wrong(field, format!("is {number}; {low} to {high} is allowed")))
        }
    }
}

/// A header record.
#[derive(Clone, Copy)]
struct Head<'a> {
    record: Record<'a>,
    date: Date,
    hour: Option<i8>,
}

impl<'a> Head<'a> {
    fn read(record: Record<'a>) -> Result<Self, Wrong> {
        let year = record.within(YEAR, 1, 9999)?;
        let month = record.within(MONTH, 1, 12)?;
        let day = record.within(DAY, 1, 31)?;
        let narrow = |n: i64| i8::try_from(n).unwrap_or_default();
        let date = i16::try_from(year)
            .ok()
            .and_then(|year| Date::new(year, narrow(month), narrow(day)).ok())
            .ok_or_else(|| record.wrong(DAY, format!("is {day}, which month {month} has not")))?;
        let hour = match record.number(HOUR)? {
            99 => None,
            _ => Some(narrow(record.within(HOUR, 0, 23)?)),
        };
        Ok(Self { record, date, hour })
    }

    /// The standard hour.
    fn standard(&self) -> Option<DateTime> {
        Some(self.date.at(self.hour?, 0, 0, 0))
    }

    /// Date and hour, for people.
    fn shown(&self) -> String {
        match self.standard() {
            Some(time) => utc::print(time),
            None => format!("{} (hour unknown)", self.date),
        }
    }

    /// The time of release, on the day that lies nearest to the standard hour.
    fn release(&self, findings: &mut Vec<Finding>, name: &str) -> Result<Option<DateTime>, Wrong> {
        let record = &self.record;
        let given = record.number(RELTIME)?;
        if given == 9999 || given == MISSING {
            return Ok(None);
        }
        let given = record.within(RELTIME, 0, 2399)?;
        let (hour, mut minute) = (given / 100, given % 100);
        if minute == 99 {
            minute = 0;
            let place = Place::line(name, record.number).at_column(RELTIME.1);
            findings.push(finding!(IgraReleaseMinute, place, hour = hour));
        }
        if minute > 59 {
            return Err(record.wrong(RELTIME, format!("is {given}; the minute is at most 59")));
        }
        let narrow = |n: i64| i8::try_from(n).unwrap_or_default();
        let release = self.date.at(narrow(hour), narrow(minute), 0, 0);
        let Some(standard) = self.standard() else {
            return Ok(Some(release));
        };
        let ahead = release.duration_since(standard).as_hours();
        let near = match ahead {
            12.. => release.checked_sub(1.day()),
            ..=-12 => release.checked_add(1.day()),
            _ => Ok(release),
        };
        Ok(near.ok())
    }
}

/// Reads the one sounding of a station file, or the one of that number (from 1).
///
/// # Errors
/// A record that is none, with line and column; several soundings where none is
/// named; no such number.
pub fn read(bytes: &[u8], name: &str, number: Option<usize>) -> Result<Contents, SourceError> {
    if bytes.len() > MAX_FILE {
        return Err(SourceError::FileTooLarge {
            name: name.to_owned(),
            octets: bytes.len(),
            limit: MAX_FILE,
        });
    }
    let wrong = |w: Wrong| SourceError::Record {
        name: name.to_owned(),
        line: w.line,
        column: w.column,
        what: w.what,
    };
    let refused = |what: String| SourceError::Which {
        name: name.to_owned(),
        what,
    };
    let lines: Lines<'_> = Lines::of(bytes);
    let heads = lines.heads().map_err(wrong)?;
    let (Some(first), Some(last)) = (heads.first(), heads.last()) else {
        return Err(SourceError::Empty {
            name: name.to_owned(),
        });
    };
    let count = heads.len();
    let at = match number {
        None if count == 1 => 0,
        None => {
            let first = Head::read(*first).map_err(wrong)?.shown();
            let last = Head::read(*last).map_err(wrong)?.shown();
            return Err(SourceError::Several {
                name: name.to_owned(),
                count,
                of: format!("soundings, from {first} to {last}"),
            });
        }
        Some(number) if (1..=count).contains(&number) => number - 1,
        Some(number) => {
            return Err(refused(format!(
                "there is no sounding {number}; the file has {count}"
            )));
        }
    };
    let record = *heads.get(at).unwrap_or(first);
    let mut removed = Removed::default();
    let mut findings = Vec::new();
    let head = Head::read(record).map_err(wrong)?;
    let rows = lines.rows(&head, &mut removed).map_err(wrong)?;
    if rows.is_empty() {
        return Err(refused(
            "the sounding has no level: there is no profile in it".to_owned(),
        ));
    }
    let context = context(&head, &rows, name, &mut findings).map_err(wrong)?;
    findings.extend(removed.finding(name, record.number));
    let (sheet, left_out) = sheet::print(&context);
    for key in left_out {
        let place = Place::key(&key).in_file(name);
        findings.push(finding!(NotForASheet, place, key = key));
    }
    Ok(Contents {
        raw: RawProfile {
            name: name.to_owned(),
            rows,
            start: None,
        },
        sheet: Some(sheet),
        findings,
        ..Contents::default()
    })
}

/// The lines of the file, blank ones left out.
struct Lines<'a> {
    bytes: &'a [u8],
}

impl<'a> Lines<'a> {
    fn of(bytes: &'a [u8]) -> Self {
        Self { bytes }
    }

    fn each(&self) -> impl Iterator<Item = (usize, &'a [u8])> {
        (1..)
            .zip(self.bytes.split(|&b| b == b'\n'))
            .map(|(number, line)| (number, line.strip_suffix(b"\r").unwrap_or(line)))
            .filter(|(_, line)| !line.trim_ascii().is_empty())
    }

    fn record((number, line): (usize, &'a [u8])) -> Result<Record<'a>, Wrong> {
        let wrong = |column: usize, what: String| Wrong {
            line: number,
            column,
            what,
        };
        if line.len() > MAX_LINE {
            let what = format!(
                "the line has {} octets; a record has at most 71 (is this a station file?)",
                line.len()
            );
            return Err(wrong(1, what));
        }
        match std::str::from_utf8(line) {
            Ok(line) if line.is_ascii() => Ok(Record { line, number }),
            _ => {
                let at = line.iter().position(|b| !b.is_ascii()).unwrap_or_default();
                let what = "an octet that is no ASCII character".to_owned();
                Err(wrong(at.saturating_add(1), what))
            }
        }
    }

    /// The header records.
    fn heads(&self) -> Result<Vec<Record<'a>>, Wrong> {
        let starts = |(_, line): &(usize, &[u8])| line.first() == Some(&b'#');
        if let Some((number, _)) = self.each().next().filter(|line| !starts(line)) {
            return Err(Wrong {
                line: number,
                column: 1,
                what: "a station file begins with a header record (#)".to_owned(),
            });
        }
        self.each().filter(starts).map(Self::record).collect()
    }

    /// The levels below a header record.
    fn rows(&self, head: &Head<'_>, removed: &mut Removed) -> Result<Vec<RawRow>, Wrong> {
        let record = &head.record;
        let count = usize::try_from(record.within(NUMLEV, 0, 9999)?).unwrap_or_default();
        let below = self
            .each()
            .skip_while(|(number, _)| *number <= record.number);
        let mut rows = Vec::with_capacity(count);
        for line in below.take_while(|(_, line)| line.first() != Some(&b'#')) {
            let line = Self::record(line)?;
            if rows.len() >= count {
                let what = format!("is {count}, but more levels follow (line {})", line.number);
                return Err(record.wrong(NUMLEV, what));
            }
            rows.push(level(line, removed)?);
        }
        if rows.len() < count {
            let what = format!("is {count}, but {} levels follow", rows.len());
            return Err(record.wrong(NUMLEV, what));
        }
        Ok(rows)
    }
}

/// Values removed by quality assurance, element by element.
#[derive(Default)]
struct Removed {
    counts: Vec<(&'static str, usize)>,
}

impl Removed {
    fn add(&mut self, field: &'static str) {
        match self.counts.iter_mut().find(|(name, _)| *name == field) {
            Some((_, count)) => *count += 1,
            None => self.counts.push((field, 1)),
        }
    }

    fn finding(&self, name: &str, line: usize) -> Option<Finding> {
        let total: usize = self.counts.iter().map(|(_, n)| n).sum();
        let each: Vec<String> = (self.counts.iter())
            .map(|(field, n)| format!("{field} {n}"))
            .collect();
        (total > 0).then(|| {
            finding!(
                IgraRemoved,
                Place::line(name, line),
                values = counted(total, "value"),
                fields = each.join(", ")
            )
        })
    }
}

/// The value of a field, not yet in our unit; missing and removed are `None`.
fn value(record: &Record<'_>, field: Field, removed: &mut Removed) -> Result<Option<i64>, Wrong> {
    match record.number(field)? {
        MISSING => Ok(None),
        REMOVED => {
            removed.add(field.0);
            Ok(None)
        }
        number => Ok(Some(number)),
    }
}

/// A field, our column, and how many of its steps make our unit.
const ELEMENTS: [(Field, &str, f64); 6] = [
    (("PRESS", 10, 15), "pressure_hpa", 100.0),
    (("GPH", 17, 21), "height_gpm", 1.0),
    (TEMP, "temperature_c", 10.0),
    (("RH", 29, 33), "humidity_pct", 10.0),
    (("WDIR", 41, 45), "wind_dir_deg", 1.0),
    (("WSPD", 47, 51), "wind_speed_ms", 10.0),
];

/// A number of steps in our unit; fields have at most six figures.
fn scaled(number: i64, steps: f64) -> f64 {
    i32::try_from(number).map_or(f64::NAN, f64::from) / steps
}

/// Puts a value where it belongs, when it is within the bounds.
fn put(
    record: &Record<'_>,
    field: Field,
    ours: &str,
    value: f64,
    row: &mut RawRow,
) -> Result<(), Wrong> {
    let Some(known) = known(ours) else {
        return Ok(());
    };
    if !known.allows(value) {
        let what = format!("gives {ours} {value} ({})", known.bounds());
        return Err(record.wrong(field, what));
    }
    (known.set)(row, value);
    Ok(())
}

/// A data record.
fn level(record: Record<'_>, removed: &mut Removed) -> Result<RawRow, Wrong> {
    let mut row = RawRow {
        line: record.number,
        ..RawRow::default()
    };
    // 2: another pressure; 3: a height without pressure.
    if record.within(LVLTYP1, 1, 3)? == 1 {
        row.flags |= Roles::STANDARD;
    }
    match record.within(LVLTYP2, 0, 2)? {
        1 => row.flags |= Roles::SURFACE,
        2 => row.flags |= Roles::TROPOPAUSE,
        _ => {}
    }
    if let Some(time) = value(&record, ETIME, removed)? {
        let (minutes, seconds) = (time / 100, time % 100);
        if time < 0 || seconds > 59 {
            let what = format!("is {time}; minutes and seconds (MMMSS) are expected");
            return Err(record.wrong(ETIME, what));
        }
        put(
            &record,
            ETIME,
            "time_s",
            scaled(minutes * 60 + seconds, 1.0),
            &mut row,
        )?;
    }
    for (field, ours, steps) in ELEMENTS {
        if let Some(number) = value(&record, field, removed)? {
            put(&record, field, ours, scaled(number, steps), &mut row)?;
        }
    }
    let depression = value(&record, DPDP, removed)?;
    if let (Some(depression), Some(t)) = (depression, record.number(TEMP).ok())
        && row.temperature_c.is_some()
    {
        let dewpoint = scaled(t.saturating_sub(depression), 10.0);
        put(&record, DPDP, "dewpoint_c", dewpoint, &mut row)?;
    }
    Ok(row)
}

/// What the header record says of station and flight.
fn context(
    head: &Head<'_>,
    rows: &[RawRow],
    name: &str,
    findings: &mut Vec<Finding>,
) -> Result<Context, Wrong> {
    let record = &head.record;
    let id = record.text(("ID", 2, 12)).unwrap_or_default().trim();
    let degrees = |field: Field, most: f64| -> Result<Option<f64>, Wrong> {
        let value = scaled(record.number(field)?, 10_000.0);
        // A moving station without a position has one beyond the pole.
        Ok(Some(value).filter(|v| v.abs() <= most))
    };
    let mut station = Station {
        name: Some(id.to_owned()).filter(|id| !id.is_empty()),
        latitude_deg: degrees(LAT, 90.0)?,
        longitude_deg: degrees(LON, 180.0)?,
        ..Station::default()
    };
    // The third letter says whose number follows: M is that of WMO in the last
    // five figures, V a ship's call sign (from memory).
    let rest = id.get(3..).unwrap_or_default();
    match id.get(2..3) {
        Some("M") => {
            let block = id.get(6..8).and_then(|f| f.parse().ok());
            station.wmo_block = block.filter(|block| (1..=99).contains(block));
            station.wmo_number = id.get(8..11).and_then(|f| f.parse().ok());
        }
        Some("V") => {
            station.kind = StationKind::Ship;
            let sign = rest.trim_start_matches('0');
            station.call_sign = Some(sign.to_owned()).filter(|sign| !sign.is_empty());
        }
        _ => {}
    }
    let surface = rows.iter().find(|row| row.flags.any(Roles::SURFACE));
    station.elevation_m = surface.and_then(|row| row.height_gpm);
    if let Some(height) = station.elevation_m {
        let place = Place::key("station.elevation_m").in_file(name);
        findings.push(finding!(IgraElevation, place, height_m = height));
    }
    let release = head.release(findings, name)?;
    if release.is_none() {
        let place = Place::line(name, record.number).at_column(RELTIME.1);
        findings.push(finding!(IgraNoRelease, place));
    }
    Ok(Context {
        station,
        flight: Flight {
            release,
            standard_time: head.standard(),
            ..Flight::default()
        },
        ..Context::default()
    })
}
