//! Variables become rows.

use netcdf_reader::{NcSliceInfo, NcVariable};

use crate::input::elements::known;
use crate::input::elements::known::{FLAG_BITS, FLAGS, KNOWN, Known, shown};
use crate::input::elements::unit::Unit;
use crate::input::netcdf::file::File;
use crate::input::netcdf::find::Candidate;
use crate::input::netcdf::layout;
use crate::input::netcdf::layout::{QUANTITIES, Shape};
use crate::input::netcdf::reader::{Chosen, MAX_FAULTS, Reader};
use crate::input::netcdf::station;
use crate::input::netcdf::time;
use crate::input::netcdf::time::TimeUnit;
use crate::input::netcdf::units;
use crate::input::netcdf::values;
use crate::input::netcdf::values::Values;
use crate::input::{By, ColumnUse, Columns, Contents, RawProfile, RawRow, SourceError};
use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::quantity::snap;
use crate::model::{Reading, Roles};

/// A height that is not one above the sea.
const ELLIPSOID: &str = "height_above_reference_ellipsoid";

/// How the numbers of a column become ours.
enum Scale {
    Unit(&'static Unit),
    Time(TimeUnit),
}

/// Reads the profile.
pub(super) fn contents(
    file: &File<'_>,
    number: Option<usize>,
    reading: &Reading,
) -> Result<Contents, SourceError> {
    let reader = Reader::new(file, number, reading)?;
    let mut findings = Vec::new();
    let chosen = reader.columns(&mut findings)?;
    reader.enough(&chosen)?;
    let mut raw = RawProfile {
        name: file.name.to_owned(),
        ..RawProfile::default()
    };
    let mut taken = Vec::new();
    let mut faults = Vec::new();
    for column in &chosen {
        reader.fill(column, &mut raw, &mut taken, &mut faults, &mut findings)?;
    }
    if !faults.is_empty() {
        return file.fail(faults.join("\n"));
    }
    if raw.rows.is_empty() {
        return file.fail(format!(
            "dimension `{}` has no samples: there is no row to read",
            shown(reader.layout.samples())
        ));
    }
    reader.roles(&mut raw, &mut taken);
    let once = station::once(&reader)?;
    raw.start = raw.start.or(once.start);
    let ellipsoid = chosen.iter().any(|c| reader.above_ellipsoid(c));
    let sheet = station::sheet(&reader, &once, raw.start, ellipsoid, &mut findings);
    reader.tell_unused(&chosen, &once, &mut findings);
    taken.extend(reader.others(&chosen, &once));
    taken.sort_by_key(|t| t.number);
    Ok(Contents {
        raw,
        sheet,
        columns: taken,
        findings,
        ..Contents::default()
    })
}

/// What each variable is interpreted as.
pub(super) fn columns(
    file: &File<'_>,
    number: Option<usize>,
    reading: &Reading,
) -> Result<Columns, SourceError> {
    let reader = Reader::new(file, number, reading)?;
    let mut findings = Vec::new();
    let chosen = reader.columns(&mut findings)?;
    let mut taken: Vec<ColumnUse> = (chosen.iter())
        .filter_map(|c| {
            let read = reader.read(c).ok();
            reader.column_use(c.at, Some((c.known.name, c.by)), read.as_ref())
        })
        .collect();
    let once = station::once(&reader)?;
    taken.extend(reader.others(&chosen, &once));
    taken.sort_by_key(|t| t.number);
    reader.guess(&mut taken);
    Ok(Columns {
        columns: taken,
        rows: usize::try_from(reader.layout.width()).unwrap_or(usize::MAX),
        findings,
        ..Columns::default()
    })
}

impl Reader<'_> {
    /// The variable of each column.
    fn columns(&self, findings: &mut Vec<Finding>) -> Result<Vec<Chosen>, SourceError> {
        let mut chosen: Vec<Chosen> = Vec::new();
        for known in KNOWN {
            match self.choose(known)? {
                Some(column) => chosen.push(column),
                None => self.unit_alone(known)?,
            }
        }
        // Heights above the sea are before heights above the ellipsoid.
        let geopotential = chosen.iter().any(|c| c.known.name == "height_gpm");
        let of_ellipsoid = |c: &Chosen| c.by == By::Attribute && self.above_ellipsoid(c);
        let ellipsoid = chosen.iter().find(|c| geopotential && of_ellipsoid(c));
        if let Some(column) = ellipsoid {
            let place = Place::default().in_file(self.file.name);
            let name = self.name(column.at);
            findings.push(finding!(EllipsoidHeightNotUsed, place, name = name));
        }
        chosen.retain(|c| !(geopotential && of_ellipsoid(c)));
        Ok(chosen)
    }

    /// Whether a column is one of heights above the ellipsoid.
    fn above_ellipsoid(&self, column: &Chosen) -> bool {
        column.known.name == "altitude_m"
            && self.attribute(column.at, "standard_name").as_deref() == Some(ELLIPSOID)
    }

    /// The variable of a column: by the sheet, by attributes, by our name.
    fn choose(&self, known: &'static Known) -> Result<Option<Chosen>, SourceError> {
        let mut other = None;
        for by in [By::Sheet, By::Attribute, By::Name] {
            let mut along: Vec<(&Candidate, NcSliceInfo)> = Vec::new();
            for c in self
                .candidates
                .iter()
                .filter(|c| c.by == by && c.target == known.name)
            {
                match self.variable(c.at).map(|v| self.layout.shape(v)) {
                    Some(Shape::Rows(selection)) => along.push((c, selection)),
                    Some(Shape::Other) => other = other.or(Some(c)),
                    Some(Shape::Once(_)) if by == By::Sheet => {
                        // The station's, unless a profile is nothing without rows of it.
                        if QUANTITIES.contains(&known.name) && known.name != "altitude_m" {
                            other = other.or(Some(c));
                        } else {
                            return Ok(None);
                        }
                    }
                    _ => {}
                }
            }
            if by == By::Sheet && other.is_some() {
                break;
            }
            let least = along.iter().map(|(c, _)| c.rank).min();
            along.retain(|(c, _)| Some(c.rank) == least);
            if known.name == "time_s" && along.len() > 1 {
                // The coordinate of the dimension before other times.
                let coordinate = |c: &Candidate| {
                    self.variable(c.at)
                        .is_some_and(NcVariable::is_coordinate_variable)
                };
                if along.iter().any(|(c, _)| coordinate(c)) {
                    along.retain(|(c, _)| coordinate(c));
                }
            }
            if let [(first, _), (second, _), ..] = along.as_slice() {
                return self.file.fail(format!(
                    "variables `{}` and `{}` could both be {}; name one under [columns] {} in the sheet",
                    self.name(first.at),
                    self.name(second.at),
                    known.name,
                    known.name
                ));
            }
            if let Some((c, selection)) = along.pop() {
                self.upward(known, c)?;
                return Ok(Some(Chosen {
                    known,
                    at: c.at,
                    by,
                    selection,
                }));
            }
        }
        match other.and_then(|c| self.variable(c.at)) {
            Some(variable) => self.file.fail(format!(
                "variable `{}` {} cannot be {}: one value a sample of `{}` is expected, or two dimensions, profiles and samples",
                shown(&variable.name),
                layout::words(variable),
                known.name,
                shown(self.layout.samples())
            )),
            None => Ok(None),
        }
    }

    /// The sheet gives a unit for a column that no variable is.
    fn unit_alone(&self, known: &Known) -> Result<(), SourceError> {
        let once = self.candidates.iter().any(|c| c.target == known.name);
        match self.reading.columns.get(known.name) {
            Some(_) if !once => Err(SourceError::Column {
                name: self.file.name.to_owned(),
                ours: known.name.to_owned(),
                what: format!(
                    "no variable is known as it; name one as `column`; the file has {}",
                    self.file.listed()
                ),
            }),
            _ => Ok(()),
        }
    }

    /// Heights that count downward are refused.
    fn upward(&self, known: &Known, candidate: &Candidate) -> Result<(), SourceError> {
        let height = matches!(known.name, "height_gpm" | "altitude_m");
        match self.attribute(candidate.at, "positive") {
            Some(way) if height && way.eq_ignore_ascii_case("down") => self.file.fail(format!(
                "variable `{}`, attribute positive: `down`; a height counts upward",
                self.name(candidate.at)
            )),
            _ => Ok(()),
        }
    }

    /// A coordinate and an observation must be known.
    fn enough(&self, chosen: &[Chosen]) -> Result<(), SourceError> {
        let has = |names: &[&str]| chosen.iter().any(|c| names.contains(&c.known.name));
        let (coordinates, observations) = QUANTITIES.split_at(3);
        let lacking = match (has(coordinates), has(observations)) {
            (true, true) => return Ok(()),
            (false, _) => "pressure, geopotential height or altitude",
            _ => "temperature, humidity or wind",
        };
        Err(SourceError::NoVariables {
            name: self.file.name.to_owned(),
            lacking,
            variables: self.file.listed(),
        })
    }

    /// Reads a column into the rows.
    fn fill(
        &self,
        column: &Chosen,
        raw: &mut RawProfile,
        taken: &mut Vec<ColumnUse>,
        faults: &mut Vec<String>,
        findings: &mut Vec<Finding>,
    ) -> Result<(), SourceError> {
        let scale = self.scale(column.known, column.at, column.by)?;
        let read = self.read(column)?;
        if let Some((count, range)) = &read.outside {
            findings.push(finding!(
                OutsideValidRange,
                Place::default().in_file(self.file.name),
                name = self.name(column.at),
                values = counted(*count, "value"),
                range = range
            ));
        }
        taken.extend(self.column_use(column.at, Some((column.known.name, column.by)), Some(&read)));
        let ours = match scale {
            Scale::Unit(unit) => {
                let ours = |v: f64| units::ours(unit, v);
                read.values.iter().map(|v| v.map(ours)).collect()
            }
            Scale::Time(unit) => {
                let times = self.times(column.at, unit, &read.values, findings)?;
                raw.start = times.start;
                times.rows
            }
        };
        if raw.rows.is_empty() {
            let rows = (1..=ours.len()).map(|line| RawRow {
                line,
                ..RawRow::default()
            });
            raw.rows = rows.collect();
        }
        for (row, (value, stored)) in raw.rows.iter_mut().zip(ours.into_iter().zip(&read.values)) {
            let Some(value) = value else { continue };
            if column.known.allows(snap(value)) || column.known.allows(value) {
                (column.known.set)(row, value);
            } else if faults.len() < MAX_FAULTS {
                faults.push(format!(
                    "variable `{}`, sample {}: {} {} as {} ({}; if it means missing, _FillValue or missing_value must say so)",
                    self.name(column.at),
                    row.line,
                    stored.unwrap_or(value),
                    self.unit(column.known, column.at).unwrap_or_default(),
                    column.known.name,
                    column.known.bounds()
                ));
            }
        }
        Ok(())
    }

    /// Reads the roles of the rows, where a variable has our name for them.
    fn roles(&self, raw: &mut RawProfile, taken: &mut Vec<ColumnUse>) {
        let variables = self.file.variables();
        let Some(at) = variables.iter().position(|v| v.name == FLAGS) else {
            return;
        };
        let Some(Shape::Rows(selection)) = self.variable(at).map(|v| self.layout.shape(v)) else {
            return;
        };
        let Some(known) = KNOWN.first() else {
            return;
        };
        let column = Chosen {
            known,
            at,
            by: By::Name,
            selection,
        };
        let Ok(read) = self.read(&column) else {
            return;
        };
        taken.extend(self.column_use(at, Some((FLAGS, By::Name)), Some(&read)));
        for (row, bits) in raw.rows.iter_mut().zip(read.values) {
            row.flags = bits.map_or(Roles::empty(), station_flags);
        }
    }

    fn times(
        &self,
        at: usize,
        unit: TimeUnit,
        values: &[Option<f64>],
        findings: &mut Vec<Finding>,
    ) -> Result<time::Times, SourceError> {
        let single = self
            .variable(at)
            .is_some_and(|v| v.dtype == netcdf_reader::NcType::Float);
        let Some(times) = unit.times(values, single) else {
            return self.file.fail(format!(
                "variable `{}`: its first time is no date between the years 1 and 9999",
                self.name(at)
            ));
        };
        if let Some(step) = times.coarse_s {
            let place = Place::default().in_file(self.file.name);
            let name = self.name(at);
            findings.push(finding!(CoarseTime, place, name = name, step_s = step));
        }
        Ok(times)
    }

    fn read(&self, column: &Chosen) -> Result<Values, SourceError> {
        let Some(variable) = self.variable(column.at) else {
            return self.file.fail("a variable is gone");
        };
        let width = self.layout.width();
        let mut read = values::read(self.file, variable, &column.selection, width)?;
        read.values = self.layout.of_profile(read.values);
        Ok(read)
    }

    fn scale(&self, known: &'static Known, at: usize, by: By) -> Result<Scale, SourceError> {
        let is_time = known.name == "time_s";
        let Some(unit) = self.unit(known, at) else {
            if by == By::Attribute {
                return self.file.fail(format!(
                    "variable `{}` has no attribute units; say `{} = {{ unit = \"…\" }}` under [columns] in the sheet ({})",
                    self.name(at),
                    known.name,
                    if is_time { time::ALLOWED.to_owned() } else { units::allowed(known) }
                ));
            }
            let elapsed = TimeUnit {
                seconds: 1.0,
                epoch: None,
            };
            return match known.units.first() {
                Some(own) if !is_time => Ok(Scale::Unit(own)),
                _ => Ok(Scale::Time(elapsed)),
            };
        };
        if is_time {
            return self.time_unit(at, &unit).map(Scale::Time);
        }
        let given = self.reading.columns.get(known.name);
        match known::unit(known, &unit) {
            Some(unit) => Ok(Scale::Unit(unit)),
            None if given.is_some_and(|g| g.unit.is_some()) => Err(SourceError::Column {
                name: self.file.name.to_owned(),
                ours: known.name.to_owned(),
                what: format!(
                    "unknown unit `{}`; it may be {}",
                    shown(&unit),
                    units::allowed(known)
                ),
            }),
            None => self.file.fail(format!(
                "variable `{}`, attribute units: `{}` is no unit of {} ({}); `{} = {{ column = \"{}\", unit = \"…\" }}` under [columns] in the sheet overrides it",
                self.name(at),
                shown(&unit),
                known.name,
                units::allowed(known),
                known.name,
                self.name(at)
            )),
        }
    }
}

/// The roles of a number that has them as bits; none of one that is no such number.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a cast of floats saturates, and what is no flag is left out"
)]
fn station_flags(value: f64) -> Roles {
    let bits = value as u32;
    if bits & !Roles::FORCED.bits() < 1 << FLAG_BITS {
        Roles::from_bits_retain(bits)
    } else {
        Roles::empty()
    }
}
