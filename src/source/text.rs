//! Delimited text: comma, tab, semicolon or blanks; a header row; `#` comments.

use super::columns::{KNOWN, Known};
use super::{RawProfile, RawRow, SourceError};
use crate::finding::{Finding, Place};
use crate::quantity::snap;
use crate::sounding::{Reading, Roles};

/// Largest file, octets.
const MAX_FILE: usize = 256 << 20;
/// Longest line, octets.
const MAX_LINE: usize = 1 << 20;
/// Most columns.
const MAX_COLUMNS: usize = 1000;
/// Most rows.
const MAX_ROWS: usize = 2_000_000;
/// Most faulty cells listed.
const MAX_FAULTS: usize = 20;
/// The column of roles received from a station (BUFR 0 08 042).
const FLAGS: &str = "station_flags";

/// What a column of the file is taken for.
enum Use {
    Value {
        known: &'static Known,
        factor: f64,
        offset: f64,
    },
    Flags,
    Nothing,
}

/// Reads delimited text.
///
/// # Errors
/// See [`SourceError`]; faulty cells are listed with line and column, at most
/// twenty.
pub fn read(
    bytes: &[u8],
    name: &str,
    reading: &Reading,
) -> Result<(RawProfile, Vec<Finding>), SourceError> {
    let too_large = |line, what| SourceError::TooLarge {
        name: name.to_owned(),
        line,
        what,
    };
    if bytes.len() > MAX_FILE {
        return Err(too_large(1, "larger than 256 MiB"));
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let text = std::str::from_utf8(bytes).map_err(|e| {
        let good = bytes.get(..e.valid_up_to()).unwrap_or(&[]);
        let line = 1 + good.iter().filter(|&&b| b == b'\n').count();
        SourceError::NotText {
            name: name.to_owned(),
            line,
        }
    })?;
    let mut findings = Vec::new();
    let mut uses: Vec<Use> = Vec::new();
    let mut delimiter = None;
    let mut header = false;
    let mut profile = RawProfile {
        name: name.to_owned(),
        rows: Vec::new(),
    };
    let mut faults = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let number = index + 1;
        if line.len() > MAX_LINE {
            return Err(too_large(number, "a line longer than 1 MiB"));
        }
        let line = line.trim_matches(|c| c == '\r' || c == '\u{0}');
        if line.trim().is_empty() || line.starts_with('#') {
            continue;
        }
        if !header {
            header = true;
            delimiter = reading
                .delimiter
                .or_else(|| [',', '\t', ';'].into_iter().find(|&d| line.contains(d)));
            let cells = split(line, delimiter);
            if cells.len() > MAX_COLUMNS {
                return Err(too_large(number, "more than 1000 columns"));
            }
            uses = assign(&cells, name, number, line, reading, &mut findings)?;
            continue;
        }
        if profile.rows.len() >= MAX_ROWS {
            return Err(too_large(number, "more than 2,000,000 rows"));
        }
        let cells = split(line, delimiter);
        if cells.len() != uses.len() {
            faults.push(format!(
                "{name}:{number}: {} cells, but the header has {}",
                cells.len(),
                uses.len()
            ));
        } else if let Some(row) = row(&cells, &uses, number, delimiter, reading, name, &mut faults)
        {
            profile.rows.push(row);
        }
        if faults.len() >= MAX_FAULTS {
            break;
        }
    }
    if !faults.is_empty() {
        return Err(SourceError::Cells(faults));
    }
    if !header {
        return Err(SourceError::Empty(name.to_owned()));
    }
    if profile.rows.is_empty() {
        return Err(SourceError::NoRows(name.to_owned()));
    }
    Ok((profile, findings))
}

/// The cells of a line, trimmed; a delimiter inside quotes is part of the cell,
/// and quotes around a cell are taken off.
fn split(line: &str, delimiter: Option<char>) -> Vec<&str> {
    let mut quoted = false;
    let parts = line.split(|c: char| {
        quoted ^= c == '"';
        !quoted && delimiter.map_or(c.is_whitespace(), |d| c == d)
    });
    parts
        .map(str::trim)
        .filter(|cell| delimiter.is_some() || !cell.is_empty())
        .map(|cell| {
            cell.strip_prefix('"')
                .and_then(|c| c.strip_suffix('"'))
                .unwrap_or(cell)
        })
        .collect()
}

/// What each column of the header is.
fn assign(
    cells: &[&str],
    name: &str,
    number: usize,
    line: &str,
    reading: &Reading,
    findings: &mut Vec<Finding>,
) -> Result<Vec<Use>, SourceError> {
    let mut uses: Vec<Use> = cells.iter().map(|_| Use::Nothing).collect();
    let mut any = false;
    for known in KNOWN {
        let given = reading.columns.get(known.name);
        let wanted = given
            .and_then(|g| g.column.as_deref())
            .unwrap_or(known.name);
        let bad = |what: String| SourceError::Column {
            name: name.to_owned(),
            ours: known.name.to_owned(),
            what,
        };
        let at = cells
            .iter()
            .position(|cell| cell.eq_ignore_ascii_case(wanted));
        let Some(at) = at else {
            if given.is_some() {
                return Err(bad(format!(
                    "no column `{wanted}`; the header has {}",
                    cells.join(", ")
                )));
            }
            continue;
        };
        let (factor, offset) = match given.and_then(|g| g.unit.as_deref()) {
            None => (1.0, 0.0),
            Some(unit) => {
                let found = known.units.iter().find(|(u, _, _)| *u == unit);
                let &(_, factor, offset) = found.ok_or_else(|| {
                    let units: Vec<&str> = known.units.iter().map(|u| u.0).collect();
                    bad(format!(
                        "unknown unit `{unit}`; it may be {}",
                        units.join(", ")
                    ))
                })?;
                (factor, offset)
            }
        };
        if let Some(slot) = uses.get_mut(at) {
            *slot = Use::Value {
                known,
                factor,
                offset,
            };
            any = true;
        }
    }
    if !any {
        let header = line.chars().take(80).collect();
        return Err(SourceError::NoColumns {
            name: name.to_owned(),
            line: number,
            header,
        });
    }
    for (i, (slot, cell)) in uses.iter_mut().zip(cells).enumerate() {
        if matches!(slot, Use::Nothing) {
            if *cell == FLAGS {
                *slot = Use::Flags;
            } else {
                let place = Place::line(name, number).at_column(i + 1);
                findings.push(Finding::info(
                    "unknown-column",
                    place,
                    format!("column `{cell}` is not used"),
                ));
            }
        }
    }
    Ok(uses)
}

fn is_missing(cell: &str, reading: &Reading) -> bool {
    matches!(cell, "-9999" | "-9999.0" | "NA")
        || cell.bytes().all(|b| b == b'/')
        || reading.missing.iter().any(|m| m == cell)
}

fn row(
    cells: &[&str],
    uses: &[Use],
    line: usize,
    delimiter: Option<char>,
    reading: &Reading,
    name: &str,
    faults: &mut Vec<String>,
) -> Option<RawRow> {
    let mut row = RawRow {
        line,
        ..RawRow::default()
    };
    let before = faults.len();
    for (i, (cell, what)) in cells.iter().zip(uses).enumerate() {
        let mut fault = |column: &str, allowed: String| {
            let shown: String = cell.chars().take(40).collect();
            faults.push(format!(
                "{name}:{line}:{}: {column} is `{shown}` ({allowed})",
                i + 1
            ));
        };
        if is_missing(cell, reading) {
            continue;
        }
        match what {
            Use::Nothing => {}
            Use::Flags => match cell.parse::<u32>() {
                Ok(bits) if bits < 1 << 18 => row.flags = Roles(bits),
                _ => fault(FLAGS, "a whole number, 0 to 262143".to_owned()),
            },
            Use::Value {
                known,
                factor,
                offset,
            } => {
                let parsed = cell.parse::<f64>().or_else(|e| {
                    if delimiter == Some(',') {
                        Err(e)
                    } else {
                        cell.replace(',', ".").parse()
                    }
                });
                match parsed {
                    Ok(v) if v.is_finite() => {
                        let value = if *factor == 1.0 && *offset == 0.0 {
                            v
                        } else {
                            v * factor + offset
                        };
                        if snap(value) < known.low || snap(value) > known.high {
                            fault(
                                known.name,
                                format!("{} to {} are allowed", known.low, known.high),
                            );
                        } else {
                            (known.set)(&mut row, value);
                        }
                    }
                    Ok(_) => fault(
                        known.name,
                        "list it under [text] missing if it means missing".to_owned(),
                    ),
                    Err(_) => fault(
                        known.name,
                        "a number is expected; list it under [text] missing if it means missing"
                            .to_owned(),
                    ),
                }
            }
        }
    }
    (faults.len() == before).then_some(row)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sounding::ColumnSource;

    #[test]
    fn cells_split_at_their_delimiter() {
        assert_eq!(split("a, \"b,c\" ,,d", Some(',')), ["a", "b,c", "", "d"]);
        assert_eq!(split("  1   2\t3 ", None), ["1", "2", "3"]);
        assert_eq!(split("1\t\t3", Some('\t')), ["1", "", "3"]);
    }

    fn first(text: &str, reading: &Reading) -> RawRow {
        read(text.as_bytes(), "x", reading).unwrap().0.rows[0].clone()
    }

    #[test]
    fn every_delimiter_reads_the_same() {
        let reading = Reading::default();
        for text in [
            "# made up\r\nPressure_hPa,temperature_c\r\n987.5,-1.5\r\n",
            "\u{feff}pressure_hpa\ttemperature_c\n987.5\t-1.5",
            "pressure_hpa;temperature_c\n987,5;-1,5\n",
            "pressure_hpa   temperature_c\n   987.5   -1.5\n",
        ] {
            let row = first(text, &reading);
            assert_eq!(
                (row.pressure_hpa, row.temperature_c),
                (Some(987.5), Some(-1.5)),
                "{text}"
            );
        }
    }

    #[test]
    fn units_convert_and_missing_marks_are_missing() {
        let column = |column: &str, unit: &str| ColumnSource {
            column: Some(column.to_owned()),
            unit: Some(unit.to_owned()),
        };
        let mut reading = Reading {
            missing: vec!["x".to_owned()],
            ..Reading::default()
        };
        reading
            .columns
            .insert("pressure_hpa".to_owned(), column("P", "Pa"));
        reading
            .columns
            .insert("temperature_c".to_owned(), column("T", "K"));
        reading
            .columns
            .insert("wind_speed_ms".to_owned(), column("F", "kt"));
        reading
            .columns
            .insert("height_gpm".to_owned(), column("H", "ft"));
        let row = first(
            "P,T,F,H,humidity_pct,dewpoint_c\n98750,271.65,10,1000,x,///\n",
            &reading,
        );
        assert_eq!(row.pressure_hpa.map(snap), Some(987.5));
        assert_eq!(row.temperature_c.map(snap), Some(-1.5));
        // 10 kn is 5.144444 m/s, 1000 ft is 304.8 m (exact definitions).
        assert_eq!(row.wind_speed_ms.map(snap), Some(5.144_444));
        assert_eq!(row.height_gpm.map(snap), Some(304.8));
        assert_eq!((row.humidity_pct, row.dewpoint_c), (None, None));
    }
}
