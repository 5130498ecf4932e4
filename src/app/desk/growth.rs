//! A file of the watched folder that grows while its sonde still rises.

use std::path::Path;
use std::time::SystemTime;

use super::profile::{Profile, read_file};
use crate::input;
use crate::input::RawProfile;
use crate::input::sheet;
use crate::input::sheet::Source;
use crate::issue::outputs::SHEET;

/// What a file has that was not there when it was loaded.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Growth {
    /// Length and time of the file that was looked at.
    looked_at: (u64, SystemTime),
    /// In words; `None`: nothing that could be loaded.
    pub(super) words: Option<String>,
}

impl Growth {
    /// Looks at the file of a profile; what is known of it already is not read again.
    pub(super) fn look(
        profile: &Profile,
        path: &Path,
        known: Option<Self>,
        sheet: &str,
    ) -> Option<Self> {
        let about = std::fs::symlink_metadata(path).ok()?;
        let looked_at = (about.len(), about.modified().ok()?);
        if let Some(known) = known.filter(|known| known.looked_at == looked_at) {
            return Some(known);
        }
        let now = read_file(path).ok()?;
        let words = (now != profile.bytes)
            .then(|| compared(profile, &now, sheet))
            .flatten();
        Some(Self { looked_at, words })
    }
}

/// What a file has more than the profile; `None` while it cannot be read, such as with
/// half a line at its end.
fn compared(profile: &Profile, now: &[u8], sheet: &str) -> Option<String> {
    let source = Source {
        name: SHEET,
        text: sheet,
    };
    let reading = sheet::reading(&[source]).ok()?;
    let rows = |bytes: &[u8]| {
        let read = input::read(bytes, &profile.name, input::detect(bytes), None, &reading);
        read.ok().map(|contents| contents.raw)
    };
    let now = rows(now)?;
    let was = rows(&profile.bytes).map_or(0, |raw| raw.rows.len());
    let more = now.rows.len().saturating_sub(was);
    Some(match more {
        0 => "the file has changed".to_owned(),
        1 => format!("1 new row, {}", top(&now)),
        _ => format!("{} new rows, {}", grouped(more), top(&now)),
    })
}

/// Where the rows end.
fn top(raw: &RawProfile) -> String {
    let least = |of: fn(f64, f64) -> f64, values: &mut dyn Iterator<Item = f64>| values.reduce(of);
    let pressure = least(
        f64::min,
        &mut raw.rows.iter().filter_map(|row| row.pressure_hpa),
    );
    let height = least(
        f64::max,
        &mut raw
            .rows
            .iter()
            .filter_map(|row| row.height_gpm.or(row.altitude_m)),
    );
    match (pressure, height) {
        (Some(p), _) => format!("top now {}", crate::view::diagram::hpa(p)),
        (None, Some(z)) => format!("top now {z:.0} gpm"),
        (None, None) => "no pressure or height yet".to_owned(),
    }
}

/// A number with a comma between thousands.
fn grouped(number: usize) -> String {
    let figures = number.to_string();
    let mut out = String::new();
    for (i, figure) in figures.chars().enumerate() {
        if i > 0 && (figures.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(figure);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_are_apart() {
        for (number, text) in [
            (0, "0"),
            (999, "999"),
            (1200, "1,200"),
            (1_234_567, "1,234,567"),
        ] {
            assert_eq!(grouped(number), text);
        }
    }
}
