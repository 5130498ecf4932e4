//! What Regions, and stations by their own table, add to the forms.

use std::fmt;

use serde::de::Error as _;
use serde::de::value::{BorrowedStrDeserializer, Error as ValueError};
use serde::{Deserialize, Deserializer, Serialize};
use thiserror::Error;

use super::{Form, Part, Region};

mod rules;
mod template;

pub use rules::{
    COLUMNS, GroupRule, Need, PRACTICE_RULES, PracticeColumn, PracticeRule, first_hours,
};
pub use template::{
    Template, TemplateField, TemplateLevel, TemplatePiece, TemplateRounding, TemplateValue,
};

/// A practice that some Regions have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Practice {
    /// How the levels of PILOT Parts B and D are given.
    Levels,
    /// A fixed level of PILOT Parts B and D.
    Fixed,
    /// The stability index in section 9.
    Stability,
    /// The mean wind of a layer in section 9.
    MeanWind,
    /// The height of a standard surface just above the top in section 9.
    Extrapolated,
    /// Layers of doubtful geopotential in section 9.
    DoubtfulGeopotential,
    /// Layers of doubtful temperature in section 9.
    DoubtfulTemperature,
    /// The reason of a missing or short report in section 9.
    Reason,
    /// The wind at a low level in section 9.
    LowWind,
    /// Heights that stand for standard surfaces in PILOT (32.2.2.2).
    SurfacesByHeight,
    /// A further standard surface of Part A or C.
    Surface,
    /// The parts that are asked for at some hours.
    Hours,
    /// The parts that carry section 7.
    Section7,
    /// The parts that go out after an early message.
    AfterEarly,
    /// Groups of section 9 (51515) over the values of the report.
    Section9,
    /// Groups of section 10 (61616) over the values of the report.
    Section10,
}

/// The unit of the levels and layers of a practice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum PracticeUnit {
    /// Pressure, hPa.
    #[serde(rename = "hPa")]
    Pressure,
    /// Height above mean sea level, m.
    #[serde(rename = "m")]
    Sea,
    /// Height above the ground, m.
    #[serde(rename = "m above ground")]
    Ground,
    /// Height in steps of 300 m.
    #[serde(rename = "300 m")]
    Steps300,
    /// Height in steps of 500 m.
    #[serde(rename = "500 m")]
    Steps500,
    /// Hour of the day, UTC.
    #[serde(rename = "h")]
    Hour,
}

/// How sure a figure's meaning is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Named in a source that was read, or seen in real messages.
    Seen,
    /// From memory.
    Memory,
    /// From memory and in doubt.
    Unsure,
}

/// A practice, or one level or layer of it.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PracticeRow {
    /// The Region; `None`, in a station's own table: any.
    pub region: Option<Region>,
    /// The family of forms it belongs to.
    pub form: Form,
    /// What.
    pub practice: Practice,
    /// The parts that it is about. Of computed groups these are the lower two, and those of
    /// the upper two are their twins.
    #[serde(default, deserialize_with = "parts")]
    pub parts: Vec<Part>,
    /// The group that begins it, the figures in front of a pressure, or groups with names of
    /// values; may be blank.
    #[serde(default)]
    pub group: String,
    /// The unit of `from`, `to` and `every`.
    pub unit: Option<PracticeUnit>,
    /// The level, or the lower end of the layer; `None` of a layer: the ground.
    pub from: Option<f64>,
    /// The upper end of the layer.
    pub to: Option<f64>,
    /// From the level on, one more each so far.
    pub every: Option<f64>,
    /// Which of the sets that the Region allows, from 1.
    pub choice: Option<u8>,
    /// For stations up to and including this height, gpm.
    pub station_gpm: Option<f64>,
    /// How sure it is; a station's own table may leave it blank.
    pub standing: Option<Standing>,
}

/// Letters of parts, `AB`.
fn parts<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<Part>, D::Error> {
    let letters = String::deserialize(from)?;
    let mut parts = Vec::new();
    for letter in letters.chars() {
        let part = Part::from_letter(letter);
        let part = part.ok_or_else(|| D::Error::custom("a part is A, B, C or D"))?;
        if parts.contains(&part) {
            return Err(D::Error::custom(format!("Part {letter} is given twice")));
        }
        parts.push(part);
    }
    Ok(parts)
}

/// Most rows of a station's own table.
const MAX_ROWS: usize = 1000;

/// A station's own table of practices, which stands for those of its Region.
///
/// Its text has the columns of `tables/practices.csv`, a header row first; a line break or a
/// semicolon ends a row, and lines that begin with `#` are comments.
///
/// ```
/// use fivefig::model::PracticeTable;
///
/// let header = "region,form,practice,parts,group,unit,from,to,every,choice,station_gpm,standing";
/// let table: PracticeTable = format!("{header}\n,pilot,fixed,,,m,900,,,,,").parse()?;
/// assert_eq!(table.rows().len(), 1);
/// let wrong = format!("{header}\n,pilot,fixed,,,ft,900,,,,,").parse::<PracticeTable>();
/// assert!(wrong.unwrap_err().to_string().starts_with("line 2, column `unit`: "));
/// # Ok::<(), fivefig::model::PracticeError>(())
/// ```
#[derive(Clone, Debug, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(try_from = "String", into = "String")]
#[cfg_attr(test, schemars(with = "String", extend("maxLength" = 65536)))]
pub struct PracticeTable {
    text: String,
    rows: Vec<PracticeRow>,
    /// The line of each row, from 1.
    lines: Vec<usize>,
}

/// The same rows, whatever their lines.
impl PartialEq for PracticeTable {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

/// What is wrong in a station's own table of practices.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub struct PracticeError {
    /// The line of the text, from 1.
    pub line: usize,
    /// The column, where it is one.
    pub column: Option<String>,
    /// What is wrong and what is allowed.
    pub what: String,
}

impl fmt::Display for PracticeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}", self.line)?;
        if let Some(column) = &self.column {
            write!(f, ", column `{column}`")?;
        }
        write!(f, ": {}", self.what)
    }
}

impl PracticeTable {
    /// The rows.
    #[must_use]
    pub fn rows(&self) -> &[PracticeRow] {
        &self.rows
    }

    /// The rows with their lines, from 1.
    pub fn placed(&self) -> impl Iterator<Item = (usize, &PracticeRow)> {
        self.lines.iter().copied().zip(&self.rows)
    }
}

impl std::str::FromStr for PracticeTable {
    type Err = PracticeError;

    fn from_str(text: &str) -> Result<Self, PracticeError> {
        let fault = |line: usize, column: Option<&str>, what: String| PracticeError {
            line,
            column: column.map(str::to_owned),
            what,
        };
        // A comment goes to the end of its line.
        let pieces = text.split('\n').flat_map(|line| {
            let comment = line.trim_start().starts_with('#');
            line.split(';').take(if comment { 1 } else { usize::MAX })
        });
        let lines = (1..).zip(pieces);
        let lines = lines.map(|(number, line)| (number, line.trim()));
        let mut lines = lines.filter(|(_, line)| !line.is_empty() && !line.starts_with('#'));
        let (at, header) = lines.next().ok_or_else(|| {
            fault(
                1,
                None,
                "the table is empty; a header row and rows are expected".to_owned(),
            )
        })?;
        let header: csv::StringRecord = header.trim_start_matches('\u{feff}').split(',').collect();
        let header: csv::StringRecord = header.iter().map(str::trim).collect();
        let names = || COLUMNS.map(|column| column.name).join(", ");
        if !header.iter().any(|name| name == "practice") {
            let what =
                "this is no table of practices; a header row with names of its columns is expected";
            return Err(fault(at, None, format!("{what}: {}", names())));
        }
        for (i, name) in header.iter().enumerate() {
            let known = COLUMNS.iter().any(|column| column.name == name);
            let again = header.iter().take(i).any(|before| before == name);
            if !known || again {
                let shown: String = name.chars().take(20).collect();
                let what = if again {
                    "is given twice"
                } else {
                    "is unknown"
                };
                let what = format!("the column `{shown}` {what}; the columns are {}", names());
                return Err(fault(at, None, what));
            }
        }
        let mut kept: Vec<String> = vec![header.iter().collect::<Vec<_>>().join(",")];
        let mut rows: Vec<PracticeRow> = Vec::new();
        let mut places = Vec::new();
        for (number, line) in lines {
            let cells: csv::StringRecord = line.split(',').map(str::trim).collect();
            if cells.len() != header.len() {
                let (own, all) = (cells.len(), header.len());
                let what = format!("the row has {own} cells; the header has {all}");
                return Err(fault(number, None, what));
            }
            if rows.len() >= MAX_ROWS {
                let what = format!("the table has more than {MAX_ROWS} rows");
                return Err(fault(number, None, what));
            }
            let row: PracticeRow = cells.deserialize(Some(&header)).map_err(|error| {
                let csv::ErrorKind::Deserialize { err, .. } = error.kind() else {
                    return fault(number, None, error.to_string());
                };
                let mut named = header.iter().zip(&cells);
                let column = named.find(|(name, cell)| !reads(name, cell));
                let column = column.map(|(name, _)| name);
                fault(number, column, err.kind().to_string())
            })?;
            row.complete()
                .map_err(|(column, what)| fault(number, Some(column), what))?;
            for (before, at) in rows.iter().zip(&places) {
                row.after(before, *at)
                    .map_err(|(column, what)| fault(number, Some(column), what))?;
            }
            rows.push(row);
            places.push(number);
            kept.push(cells.iter().collect::<Vec<_>>().join(","));
        }
        if rows.is_empty() {
            let what = "the table has no row; remove the key `practice`, or give rows";
            return Err(fault(at, None, what.to_owned()));
        }
        Ok(Self {
            text: kept.join(";"),
            rows,
            lines: places,
        })
    }
}

/// Whether a cell can be one of its column.
fn reads(column: &str, cell: &str) -> bool {
    fn one<'a, T: Deserialize<'a>>(cell: &'a str) -> bool {
        T::deserialize(BorrowedStrDeserializer::<ValueError>::new(cell)).is_ok()
    }
    match column {
        "form" => one::<Form>(cell),
        "practice" => one::<Practice>(cell),
        "parts" => parts(BorrowedStrDeserializer::<ValueError>::new(cell)).is_ok(),
        "group" => true,
        _ if cell.is_empty() => true,
        "region" => one::<Region>(cell),
        "unit" => one::<PracticeUnit>(cell),
        "standing" => one::<Standing>(cell),
        "choice" => cell.parse::<u8>().is_ok(),
        "from" | "to" | "every" | "station_gpm" => cell.parse::<f64>().is_ok(),
        _ => false,
    }
}

impl TryFrom<String> for PracticeTable {
    type Error = PracticeError;

    fn try_from(text: String) -> Result<Self, PracticeError> {
        text.parse()
    }
}

impl From<PracticeTable> for String {
    fn from(table: PracticeTable) -> Self {
        table.text
    }
}
