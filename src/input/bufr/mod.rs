//! A BUFR sounding as a profile: its levels are the rows, its own flags are kept.

mod messages;

pub use messages::{Message, Messages};

use crate::forms::bufr;
use crate::forms::bufr::Sounding;
use crate::input::sheet;
use crate::input::{RawProfile, RawRow, SourceError};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Axis, Level, Motion, Noted, Report, Roles};

/// A sounding in a file, ready to be a profile.
#[derive(Clone, Debug, PartialEq)]
pub struct Flight {
    /// The rows.
    pub raw: RawProfile,
    /// What the message says about station and flight, as a sheet.
    pub sheet: String,
    /// The report as the message has it.
    pub report: Report,
}

/// Whether the start of a file is that of BUFR, a heading in front or not.
#[must_use]
pub fn is_bufr(start: &[u8]) -> bool {
    let found = bufr::frames(start.get(..1024.min(start.len())).unwrap_or_default());
    // The edition is a control character, which no text has there.
    found.first().is_some_and(|frame| match frame.bytes.get(7) {
        Some(edition) => *edition < 9,
        None => frame.offset == 0,
    })
}

/// The soundings of a file, message by message, those that come in several messages
/// joined; what could not be read is an error among the findings, with the number of
/// the message.
pub fn soundings(bytes: &[u8], name: &str) -> Noted<Vec<Sounding>> {
    let mut found = Vec::new();
    let mut findings = Vec::new();
    let frames = bufr::frames(bytes);
    let several = frames.len() > 1;
    for (number, frame) in (1..).zip(&frames) {
        let place = several.then_some((number, frame.offset));
        let (more, reported) = of_message(frame.bytes, name, place);
        found.extend(more);
        findings.extend(reported);
    }
    (bufr::pieces::join(found), findings).into()
}

/// The soundings of one message of a file; `place`: its number and octet, where there
/// are several.
#[must_use]
pub fn of_message(
    bytes: &[u8],
    name: &str,
    place: Option<(usize, usize)>,
) -> (Vec<Sounding>, Vec<Finding>) {
    let file = || Place::default().in_file(name);
    let label = |what: &dyn std::fmt::Display| match place {
        Some((number, octet)) => format!("message {number} (octet {octet}): {what}"),
        None => what.to_string(),
    };
    let received = match bufr::read(bytes) {
        Ok(received) => received,
        Err(error) => {
            let finding = finding!(BufrUnreadable, file(), problem = label(&error));
            return (Vec::new(), vec![finding]);
        }
    };
    match bufr::to_report(&received) {
        Ok(mut soundings) => {
            for finding in soundings.iter_mut().flat_map(|s| &mut s.findings) {
                finding.what = label(&finding.what);
                finding.place.file = Some(name.to_owned());
            }
            (soundings, Vec::new())
        }
        Err(error) => {
            let finding = finding!(BufrNoSounding, file(), problem = label(&error));
            (Vec::new(), vec![finding])
        }
    }
}

/// Reads the one sounding of a file, or the one of that number (from 1).
///
/// # Errors
/// No message that can be read, several where none is named, no such number.
pub fn read(
    bytes: &[u8],
    name: &str,
    number: Option<usize>,
) -> Result<(Flight, Vec<Finding>), SourceError> {
    let Noted {
        value: mut found,
        mut findings,
    } = soundings(bytes, name);
    let refused = |what: String| SourceError::Bufr {
        name: name.to_owned(),
        what,
    };
    let count = found.len();
    if count == 0 {
        let first = findings.first().map(|f| f.what.clone());
        return Err(refused(
            first.unwrap_or_else(|| "there is no BUFR message".to_owned()),
        ));
    }
    let at = match number {
        None if count == 1 => 0,
        None => {
            return Err(SourceError::Several {
                name: name.to_owned(),
                count,
                of: "soundings".to_owned(),
            });
        }
        Some(number) if (1..=count).contains(&number) => number - 1,
        Some(number) => {
            return Err(refused(format!(
                "there is no sounding {number}; the file has {count}"
            )));
        }
    };
    let Sounding {
        report,
        findings: own,
        ..
    } = found.swap_remove(at);
    findings.extend(own);
    let (sheet, left_out) = sheet::print(&report.context);
    for key in left_out {
        let place = Place::key(&key).in_file(name);
        findings.push(finding!(NotForASheet, place, key = key));
    }
    let raw = RawProfile {
        name: name.to_owned(),
        rows: rows(&report),
        start: None,
    };
    if raw.rows.is_empty() {
        return Err(refused(
            "the message has no level (NIL): there is no profile in it".to_owned(),
        ));
    }
    Ok((Flight { raw, sheet, report }, findings))
}

/// The levels as rows in the order of time; standard surfaces below the ground,
/// which nothing measured, are left out.
pub(crate) fn rows(report: &Report) -> Vec<RawRow> {
    let surface = |l: &&Level| l.roles.any(Roles::SURFACE);
    let ground = report.levels.iter().find(surface);
    let ground = ground.and_then(|l| l.row.pressure_hpa);
    let below = |l: &Level| ground.zip(l.row.pressure_hpa).is_some_and(|(g, p)| p > g);
    let mut rows: Vec<RawRow> = (1..)
        .zip(&report.levels)
        .filter(|(_, level)| !below(level))
        .map(|(line, level)| {
            let row = &level.row;
            RawRow {
                line,
                time_s: row.time_s,
                pressure_hpa: row.pressure_hpa,
                height_gpm: row.height_gpm,
                temperature_c: row.temperature_c,
                humidity_pct: row.humidity_pct,
                dewpoint_c: row.dewpoint_c,
                wind_dir_deg: row.wind.map(|w| w.dir_deg),
                wind_speed_ms: row.wind.map(|w| w.speed_ms),
                latitude_deg: row.place.map(|p| p.latitude_deg),
                longitude_deg: row.place.map(|p| p.longitude_deg),
                flags: level.roles,
                ..RawRow::default()
            }
        })
        .collect();
    // Levels by height have no pressure; that of the surface stands beside them.
    let beside = report.context.surface.as_ref().and_then(|s| s.pressure_hpa);
    if report.axis == Axis::Height
        && let Some(first) = rows.first_mut().filter(|r| r.flags.any(Roles::SURFACE))
    {
        first.pressure_hpa = first.pressure_hpa.or(beside);
    }
    if report.motion == Motion::Falling {
        rows.reverse();
    }
    rows
}
