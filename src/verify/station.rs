//! The sheet compared with an exported table of station metadata: identifiers,
//! coordinates, heights.
//!
//! The table is delimited text with a header row. Columns are known by their
//! names, letters and figures alone and small: `wigosid` or
//! `wigosstationidentifier(s)`, `wmoindex` or `indexnumber` (IIiii), or
//! `wmoblock` and `wmonumber`; `latitude`, `longitude`, `elevation`, each also
//! with its unit behind.

use thiserror::Error;

use crate::model::Station;
use crate::model::finding::{Finding, Place, counted, finding};

/// Coordinates agree within this, degrees (the table's own last decimal).
const POSITION_DEG: f64 = 1e-4;

/// Heights agree within this, m (tables give whole metres or tenths).
const ELEVATION_M: f64 = 0.5;

/// The longest table that is read, bytes.
const MAX_BYTES: usize = 64 << 20;

/// Why a table cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum ListError {
    /// Too long.
    #[error(
        "the table has {0} bytes, at most {MAX_BYTES} are read; give only the rows of your own stations"
    )]
    TooLong(usize),
    /// A row that cannot be read.
    #[error("line {line}: {what}")]
    Row {
        /// Line, from 1.
        line: u64,
        /// What is wrong.
        what: String,
    },
    /// Nothing names stations.
    #[error(
        "no column identifies stations, the columns are {0}; a WIGOS identifier, an index number (IIiii), or block and number is needed"
    )]
    NoIdentifier(String),
}

/// One station of a table.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Listed {
    pub(super) line: u64,
    pub(super) wigos: Option<String>,
    pub(super) block: Option<u8>,
    pub(super) number: Option<u16>,
    pub(super) latitude: Option<f64>,
    pub(super) longitude: Option<f64>,
    pub(super) elevation: Option<f64>,
}

/// What a column holds.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Column {
    Wigos,
    Index,
    Block,
    Number,
    Latitude,
    Longitude,
    Elevation,
}

fn column(name: &str) -> Option<Column> {
    let plain: String = name
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .map(|c| c.to_ascii_lowercase())
        .collect();
    let plain = plain.strip_suffix("deg").unwrap_or(&plain);
    Some(match plain {
        "wigosid" | "wigosstationidentifier" | "wigosstationidentifiers" | "wigos" => Column::Wigos,
        "wmoindex" | "indexnumber" | "indexnbr" | "wmonumberiiiii" | "iiiii" => Column::Index,
        "wmoblock" | "block" | "blocknumber" => Column::Block,
        "wmonumber" | "stationnumber" => Column::Number,
        "latitude" | "lat" => Column::Latitude,
        "longitude" | "lon" => Column::Longitude,
        "elevation" | "elevationm" | "height" | "heightm" => Column::Elevation,
        _ => return None,
    })
}

pub(super) fn index(text: &str) -> Option<(u8, u16)> {
    let ok = text.len() == 5 && text.bytes().all(|b| b.is_ascii_digit());
    let (block, number) = text.split_at_checked(2).filter(|_| ok)?;
    Some((block.parse().ok()?, number.parse().ok()?))
}

/// The station numbers IIiii of a table.
///
/// # Errors
/// As those of [`check`].
pub fn numbers(table: &str) -> Result<Vec<String>, ListError> {
    let listed = read(table)?.into_iter();
    let numbers = listed.filter_map(|one| Some(format!("{:02}{:03}", one.block?, one.number?)));
    Ok(numbers.collect())
}

/// The stations of a table.
fn read(text: &str) -> Result<Vec<Listed>, ListError> {
    if text.len() > MAX_BYTES {
        return Err(ListError::TooLong(text.len()));
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let head = text.lines().next().unwrap_or_default();
    let count = |c: char| head.matches(c).count();
    let delimiter = [',', ';', '\t'].into_iter().max_by_key(|&c| count(c));
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter.and_then(|c| u8::try_from(c).ok()).unwrap_or(b','))
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let bad = |line: u64, e: &csv::Error| ListError::Row {
        line,
        what: e.to_string(),
    };
    let names = reader.headers().map_err(|e| bad(1, &e))?.clone();
    let columns: Vec<Option<Column>> = names.iter().map(column).collect();
    let has = |c: Column| columns.contains(&Some(c));
    let named =
        has(Column::Wigos) || has(Column::Index) || (has(Column::Block) && has(Column::Number));
    if !named {
        let names: Vec<&str> = names.iter().take(20).collect();
        return Err(ListError::NoIdentifier(names.join(", ")));
    }
    let mut out = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| bad(e.position().map_or(0, csv::Position::line), &e))?;
        let mut one = Listed {
            line: record.position().map_or(0, csv::Position::line),
            ..Listed::default()
        };
        for (column, cell) in columns.iter().zip(&record) {
            match column {
                Some(Column::Wigos) if !cell.is_empty() => one.wigos = Some(cell.to_owned()),
                Some(Column::Index) => {
                    if let Some((block, number)) = index(cell) {
                        one.block = Some(block);
                        one.number = Some(number);
                    }
                }
                Some(Column::Block) => one.block = cell.parse().ok(),
                Some(Column::Number) => one.number = cell.parse().ok(),
                Some(Column::Latitude) => one.latitude = cell.parse().ok(),
                Some(Column::Longitude) => one.longitude = cell.parse().ok(),
                Some(Column::Elevation) => one.elevation = cell.parse().ok(),
                _ => {}
            }
        }
        out.push(one);
    }
    Ok(out)
}

/// Compares the station of a sheet with a table.
///
/// # Errors
/// A table without a column that names stations, or that cannot be read.
pub fn check(station: &Station, table: &str, name: &str) -> Result<Vec<Finding>, ListError> {
    let stations = read(table)?;
    let by_wigos = |l: &&Listed| {
        // Several identifiers may stand in one cell.
        let own = station.wigos_id.as_deref();
        let cell = l.wigos.as_deref().unwrap_or_default();
        own.is_some_and(|own| cell.split([' ', ',', '|', ';']).any(|id| id == own))
    };
    let by_index = |l: &&Listed| {
        station.wmo_block.is_some()
            && l.block == station.wmo_block
            && l.number == station.wmo_number
            && l.number.is_some()
    };
    let (wigos, index) = (
        stations.iter().find(by_wigos),
        stations.iter().find(by_index),
    );
    let mut findings = Vec::new();
    let line = |l: &Listed| Place::line(name, usize::try_from(l.line).unwrap_or(0));
    let Some(listed) = wigos.or(index) else {
        let who = station.wigos_id.clone().or_else(|| {
            let (block, number) = station.wmo_block.zip(station.wmo_number)?;
            Some(format!("{block:02}{number:03}"))
        });
        let who = who.unwrap_or_else(|| "a station without identifiers".to_owned());
        findings.push(finding!(
            StationNotListed,
            Place::default().in_file(name),
            station = who,
            count = counted(stations.len(), "station")
        ));
        return Ok(findings);
    };
    if let (Some(wigos), Some(index)) = (wigos, index)
        && wigos.line != index.line
    {
        findings.push(finding!(
            StationIdentifiersDiffer,
            line(wigos),
            wigos_line = wigos.line,
            number_line = index.line
        ));
    }
    if wigos.is_some()
        && let (Some(block), Some(number)) = (listed.block, listed.number)
        && station.wmo_block.is_some()
        && (Some(block), Some(number)) != (station.wmo_block, station.wmo_number)
        && index.is_none()
    {
        findings.push(finding!(
            StationNumberDiffers,
            line(listed),
            block = block,
            number = number
        ));
    }
    findings.extend(place(station, listed, &line(listed)));
    Ok(findings)
}

/// The place of a sheet's station compared with that of a record.
pub(super) fn place(station: &Station, listed: &Listed, at: &Place) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (key, own, theirs, within, unit) in [
        (
            "latitude_deg",
            station.latitude_deg,
            listed.latitude,
            POSITION_DEG,
            "°",
        ),
        (
            "longitude_deg",
            station.longitude_deg,
            listed.longitude,
            POSITION_DEG,
            "°",
        ),
        (
            "elevation_m",
            station.elevation_m,
            listed.elevation,
            ELEVATION_M,
            " m",
        ),
    ] {
        match (own, theirs) {
            (Some(own), Some(theirs)) if (own - theirs).abs() > within * (1.0 + 1e-9) => {
                findings.push(finding!(
                    StationDiffers,
                    at.clone(),
                    key = key,
                    sheet = own,
                    table = theirs,
                    unit = unit,
                    [within = within, unit = unit]
                ));
            }
            (None, Some(theirs)) => {
                findings.push(finding!(
                    StationLacks,
                    at.clone(),
                    key = key,
                    table = theirs,
                    unit = unit
                ));
            }
            _ => {}
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: &str = "Name,WIGOS Station Identifier(s),Index Number,Latitude,Longitude,Elevation (m)\n\
        Invented Down,0-20000-0-99011,99011,51.25000,-3.40000,84\n\
        Invented Hill,0-20000-0-99012|0-99-1-X,99012,44.1,-11.75,16.2\n";

    fn station() -> Station {
        Station {
            wigos_id: Some("0-20000-0-99011".to_owned()),
            wmo_block: Some(99),
            wmo_number: Some(11),
            latitude_deg: Some(51.25),
            longitude_deg: Some(-3.4),
            elevation_m: Some(84.0),
            ..Station::default()
        }
    }

    fn codes(station: &Station) -> Vec<String> {
        let findings = check(station, TABLE, "list.csv").unwrap();
        findings.iter().map(|f| f.code.to_string()).collect()
    }

    #[test]
    fn a_station_that_agrees_is_not_told() {
        assert!(codes(&station()).is_empty());
        let by_number = Station {
            wigos_id: None,
            ..station()
        };
        assert!(codes(&by_number).is_empty());
        // A second identifier in the cell; 44.10005 is within a ten-thousandth.
        let other = Station {
            wigos_id: Some("0-99-1-X".to_owned()),
            wmo_number: Some(12),
            latitude_deg: Some(44.1 + 0.9e-4),
            longitude_deg: Some(-11.75),
            elevation_m: Some(16.0),
            ..station()
        };
        assert!(codes(&other).is_empty());
    }

    #[test]
    fn differences_name_the_line() {
        let off = Station {
            latitude_deg: Some(51.2502),
            elevation_m: Some(94.0),
            longitude_deg: None,
            ..station()
        };
        let findings = check(&off, TABLE, "list.csv").unwrap();
        let stated: Vec<String> = findings.iter().map(ToString::to_string).collect();
        assert_eq!(stated.len(), 3);
        assert!(
            stated[0].starts_with("warning: list.csv:2: latitude_deg is 51.2502°"),
            "{stated:?}"
        );
        assert!(stated[1].contains(
            "longitude_deg is missing from the sheet; the record of the station has -3.4°"
        ));
        assert!(stated[2].contains("elevation_m is 94 m in the sheet and 84 m"));
        let two = Station {
            wmo_number: Some(12),
            ..station()
        };
        assert_eq!(codes(&two)[0], "station-identifiers-differ");
        let wrong = Station {
            wmo_number: Some(500),
            ..station()
        };
        assert_eq!(codes(&wrong), ["station-number-differs"]);
        let unknown = Station {
            wmo_number: Some(500),
            wigos_id: None,
            ..station()
        };
        assert_eq!(codes(&unknown), ["station-not-listed"]);
    }

    #[test]
    fn a_table_without_stations_is_refused() {
        let error = check(&station(), "a,b\n1,2\n", "x").unwrap_err();
        assert!(
            error.to_string().contains("the columns are a, b"),
            "{error}"
        );
        // Semicolons, quotes, a mark at the start.
        let other = "\u{feff}\"WMO block\";\"WMO number\";latitude;longitude\n99;11;51.25;-3.4\n";
        assert!(check(&station(), other, "x").unwrap().is_empty());
    }
}
