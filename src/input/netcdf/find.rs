//! Which variables could be which of our columns.

use netcdf_reader::NcVariable;

use crate::input::elements::known::{KNOWN, Known, known, shown};
use crate::input::netcdf::file::File;
use crate::input::netcdf::{attributes, time, units};
use crate::input::{By, SourceError};
use crate::model::Reading;
use crate::tables::cf_names;

/// A coordinate that is known by its unit alone comes after every standard name.
const BY_UNIT: usize = 1000;

/// A variable and what it could be.
#[derive(Clone, Copy)]
pub(super) struct Candidate {
    /// Its place among the variables.
    pub(super) at: usize,
    /// Our column, or a key of the sheet (with a dot).
    pub(super) target: &'static str,
    pub(super) by: By,
    /// Of several for one column, the least is preferred.
    pub(super) rank: usize,
}

/// Every variable that could be something, what the sheet says before all.
pub(super) fn candidates(
    file: &File<'_>,
    reading: &Reading,
) -> Result<Vec<Candidate>, SourceError> {
    let mut found = by_sheet(file, reading)?;
    let taken: Vec<usize> = found.iter().map(|c| c.at).collect();
    for (at, variable) in file.variables().iter().enumerate() {
        if !taken.contains(&at) {
            found.extend(by_itself(at, variable));
        }
    }
    Ok(found)
}

/// What `[columns]` names.
fn by_sheet(file: &File<'_>, reading: &Reading) -> Result<Vec<Candidate>, SourceError> {
    let mut found: Vec<Candidate> = Vec::new();
    for (ours, source) in &reading.columns {
        let fail = |what: String| SourceError::Column {
            name: file.name.to_owned(),
            ours: ours.clone(),
            what,
        };
        let Some(known) = known(ours) else {
            let all: Vec<&str> = KNOWN.iter().map(|k| k.name).collect();
            let what = "no such column is read from NetCDF; there are";
            return Err(fail(format!("{what} {}", all.join(", "))));
        };
        let Some(wanted) = source.column.as_deref().map(str::trim) else {
            continue;
        };
        let at = file.variables().iter().position(|v| v.name == wanted);
        let Some(at) = at else {
            return Err(fail(format!(
                "the file has no variable `{}`; it has {}",
                shown(wanted),
                file.listed()
            )));
        };
        if let Some(other) = found.iter().find(|c| c.at == at) {
            return Err(fail(format!(
                "variable `{}` is already taken as {}",
                shown(wanted),
                other.target
            )));
        }
        found.push(Candidate {
            at,
            target: known.name,
            by: By::Sheet,
            rank: 0,
        });
    }
    Ok(found)
}

/// What a variable says of itself: its standard name, its unit as CF reads it, its
/// name.
fn by_itself(at: usize, variable: &NcVariable) -> Option<Candidate> {
    let text = |name: &str| attributes::text(&variable.attributes, name);
    if let Some(name) = text("standard_name").filter(|name| !name.is_empty()) {
        let rank = cf_names().iter().position(|n| n.standard_name == name);
        if let Some((rank, row)) = rank.and_then(|r| Some((r, cf_names().get(r)?))) {
            return Some(Candidate {
                at,
                target: row.column,
                by: By::Attribute,
                rank,
            });
        }
        // It says that it is something else.
        return None;
    }
    let unit = text("units").unwrap_or_default();
    let axis = text("axis");
    let axis = |letter: &str| axis.as_deref() == Some(letter);
    let counted = || time::parse(&unit).is_some_and(|u| u.epoch.is_some());
    let by_unit = if units::is_north(&unit) {
        Some("latitude_deg")
    } else if units::is_east(&unit) {
        Some("longitude_deg")
    } else if axis("Z") && units::is_pressure(&unit) {
        Some("pressure_hpa")
    } else if (axis("T") || variable.is_coordinate_variable()) && counted() {
        Some("time_s")
    } else {
        None
    };
    if let Some(target) = by_unit {
        return Some(Candidate {
            at,
            target,
            by: By::Attribute,
            rank: BY_UNIT,
        });
    }
    let same = |k: &&Known| k.name.eq_ignore_ascii_case(&variable.name);
    KNOWN.iter().find(same).map(|k| Candidate {
        at,
        target: k.name,
        by: By::Name,
        rank: 0,
    })
}
