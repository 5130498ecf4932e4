//! Profiles from tables in memory: Arrow columns by our names, by CF standard names, or
//! as `[columns]` of the sheet names them.
//!
//! A flight is a table with one row per moment, or one row of a table of flights: an
//! identifier, a sheet and a list of numbers for each column.

use arrow_array::cast::AsArray as _;
use arrow_array::types::{
    ArrowPrimitiveType, DurationMicrosecondType, DurationMillisecondType, DurationNanosecondType,
    DurationSecondType, Float32Type, Float64Type, Int8Type, Int16Type, Int32Type, Int64Type,
    TimestampMicrosecondType, TimestampMillisecondType, TimestampNanosecondType,
    TimestampSecondType, UInt8Type, UInt16Type, UInt32Type, UInt64Type,
};
use arrow_array::{Array as _, ArrayRef, RecordBatch};
use arrow_schema::{DataType, TimeUnit};
use itertools::Itertools as _;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;

use super::elements::known::{
    FLAG_BITS, FLAGS, KNOWN, Known, MAX_ROWS, known, nearest, shown, unit,
};
use super::elements::unit::Notation;
use super::{Contents, Fault, RawProfile, RawRow, SourceError};
use crate::model::quantity::{snap, trim};
use crate::model::{ColumnSource, Reading, Roles};
use crate::tables::cf_name;

/// The most faults of a table that are reported.
const MAX_FAULTS: usize = 20;

/// A column of a table.
#[derive(Clone, Debug)]
pub struct Column {
    /// Its name.
    pub name: String,
    /// Its CF standard name, where it states one.
    pub standard_name: Option<String>,
    /// Its unit, where it states one.
    pub unit: Option<String>,
    /// Its values, in one or more pieces.
    pub values: Vec<ArrayRef>,
}

impl Column {
    /// The columns of a table in batches; standard name and unit are metadata of their
    /// fields (`standard_name`, and `unit` or `units`).
    #[must_use]
    pub fn of(batches: &[RecordBatch]) -> Vec<Self> {
        let Some(schema) = batches.first().map(RecordBatch::schema) else {
            return Vec::new();
        };
        let fields = schema.fields().iter().enumerate();
        fields
            .map(|(at, field)| {
                let of = |key: &str| field.metadata().get(key).cloned();
                Self {
                    name: field.name().clone(),
                    standard_name: of("standard_name"),
                    unit: of("unit").or_else(|| of("units")),
                    values: batches
                        .iter()
                        .filter_map(|batch| batch.columns().get(at).cloned())
                        .collect(),
                }
            })
            .collect()
    }
}

impl Column {
    fn len(&self) -> usize {
        self.values.iter().map(|values| values.len()).sum()
    }
}

/// A flight of a table of flights.
#[derive(Clone, Debug)]
pub struct Row {
    /// Its identifier.
    pub id: String,
    /// Its sheet: TOML, or a JSON object with the same keys.
    pub sheet: Option<String>,
    /// Its columns.
    pub columns: Vec<Column>,
}

/// Whether a batch is a table of flights: columns of lists of numbers.
#[must_use]
pub fn is_flights(batch: &RecordBatch) -> bool {
    let schema = batch.schema();
    let lists = schema.fields().iter();
    lists.filter(|field| is_list(field.data_type())).count() > 0
}

fn is_list(kind: &DataType) -> bool {
    matches!(kind, DataType::List(_) | DataType::LargeList(_))
}

/// The flights of a table: `id` (or `flight`), `sheet`, and a list of numbers for each
/// column of the profile.
///
/// # Errors
/// No identifier, or one that is no text.
pub fn flights(batch: &RecordBatch, name: &str) -> Result<Vec<Row>, SourceError> {
    let fail = |what: String| SourceError::Table {
        name: name.to_owned(),
        what,
    };
    let texts = |column: &str| -> Result<Option<Vec<Option<String>>>, SourceError> {
        let Some(values) = batch.column_by_name(column) else {
            return Ok(None);
        };
        let owned = |text: Option<&str>| text.map(str::to_owned);
        match values.data_type() {
            DataType::Utf8 => Ok(Some(values.as_string::<i32>().iter().map(owned).collect())),
            DataType::LargeUtf8 => Ok(Some(values.as_string::<i64>().iter().map(owned).collect())),
            DataType::Utf8View => Ok(Some(values.as_string_view().iter().map(owned).collect())),
            DataType::Null => Ok(None),
            kind => Err(fail(format!(
                "column {column} is of type {kind}; text is expected"
            ))),
        }
    };
    let ids = match texts("id")? {
        Some(ids) => ids,
        None => texts("flight")?.ok_or_else(|| {
            fail("a table of flights needs a column id with a name for each".to_owned())
        })?,
    };
    let sheets = texts("sheet")?.unwrap_or_default();
    let schema = batch.schema();
    let columns = || {
        let described = Column::of(std::slice::from_ref(batch));
        let all = schema.fields().iter().zip(batch.columns()).zip(described);
        all.filter(|((field, _), _)| is_list(field.data_type()))
    };
    let mut out = Vec::with_capacity(batch.num_rows());
    for (row, id) in ids.into_iter().enumerate() {
        let cells = columns().filter_map(|((_, lists), column)| {
            let values = match lists.data_type() {
                DataType::LargeList(_) => {
                    let list = lists.as_list::<i64>();
                    list.is_valid(row).then(|| list.value(row))
                }
                _ => {
                    let list = lists.as_list::<i32>();
                    list.is_valid(row).then(|| list.value(row))
                }
            };
            Some(Column {
                values: vec![values?],
                ..column
            })
        });
        let id = id.ok_or_else(|| {
            let number = row.saturating_add(1);
            fail(format!("row {number} has no id; each flight needs one"))
        })?;
        out.push(Row {
            id,
            sheet: sheets.get(row).cloned().flatten(),
            columns: cells.collect(),
        });
    }
    Ok(out)
}

/// The numbers of a piece, or of a column.
enum Numbers {
    /// In the unit of the column.
    Plain(Vec<Option<f64>>),
    /// Seconds.
    Seconds(Vec<Option<f64>>),
    /// Microseconds since 1970.
    Times(Vec<Option<i64>>),
}

fn each<T: ArrowPrimitiveType>(
    values: &ArrayRef,
    of: impl Fn(T::Native) -> f64,
) -> Vec<Option<f64>> {
    let values = values.as_primitive::<T>();
    let numbers = values.iter().map(|value| value.map(&of));
    numbers.map(|value| value.filter(|v| !v.is_nan())).collect()
}

/// A value of single precision by the figures that it shows.
fn single(value: f32) -> f64 {
    value.to_string().parse().unwrap_or_else(|_| value.into())
}

#[expect(
    clippy::cast_precision_loss,
    reason = "counts of rows and of time are far below 2 to the power of 53"
)]
fn numbers(values: &ArrayRef) -> Option<Numbers> {
    let per = |unit: &TimeUnit| match unit {
        TimeUnit::Second => 1.0,
        TimeUnit::Millisecond => 1e3,
        TimeUnit::Microsecond => 1e6,
        TimeUnit::Nanosecond => 1e9,
    };
    let seconds = |unit: &TimeUnit| {
        let per = per(unit);
        let of = move |count: i64| count as f64 / per;
        match unit {
            TimeUnit::Second => each::<DurationSecondType>(values, of),
            TimeUnit::Millisecond => each::<DurationMillisecondType>(values, of),
            TimeUnit::Microsecond => each::<DurationMicrosecondType>(values, of),
            TimeUnit::Nanosecond => each::<DurationNanosecondType>(values, of),
        }
    };
    let times = |unit: &TimeUnit| -> Vec<Option<i64>> {
        let scaled = |count: Option<i64>, times: i64| count.and_then(|c| c.checked_mul(times));
        match unit {
            TimeUnit::Second => {
                let all = values.as_primitive::<TimestampSecondType>();
                all.iter().map(|t| scaled(t, 1_000_000)).collect()
            }
            TimeUnit::Millisecond => {
                let all = values.as_primitive::<TimestampMillisecondType>();
                all.iter().map(|t| scaled(t, 1000)).collect()
            }
            TimeUnit::Microsecond => {
                let all = values.as_primitive::<TimestampMicrosecondType>();
                all.iter().collect()
            }
            TimeUnit::Nanosecond => {
                let all = values.as_primitive::<TimestampNanosecondType>();
                all.iter().map(|t| t.map(|t| t.div_euclid(1000))).collect()
            }
        }
    };
    Some(match values.data_type() {
        DataType::Float64 => Numbers::Plain(each::<Float64Type>(values, |v| v)),
        DataType::Float32 => Numbers::Plain(each::<Float32Type>(values, single)),
        DataType::Int8 => Numbers::Plain(each::<Int8Type>(values, f64::from)),
        DataType::Int16 => Numbers::Plain(each::<Int16Type>(values, f64::from)),
        DataType::Int32 => Numbers::Plain(each::<Int32Type>(values, f64::from)),
        DataType::Int64 => Numbers::Plain(each::<Int64Type>(values, |v| v as f64)),
        DataType::UInt8 => Numbers::Plain(each::<UInt8Type>(values, f64::from)),
        DataType::UInt16 => Numbers::Plain(each::<UInt16Type>(values, f64::from)),
        DataType::UInt32 => Numbers::Plain(each::<UInt32Type>(values, f64::from)),
        DataType::UInt64 => Numbers::Plain(each::<UInt64Type>(values, |v| v as f64)),
        DataType::Null => Numbers::Plain(vec![None; values.len()]),
        DataType::Duration(unit) => Numbers::Seconds(seconds(unit)),
        DataType::Timestamp(unit, _) => Numbers::Times(times(unit)),
        _ => return None,
    })
}

/// The numbers of a column in pieces; `None`: a type that holds none.
fn all_numbers(pieces: &[ArrayRef]) -> Option<Numbers> {
    let mut pieces = pieces.iter().map(numbers);
    let mut all = pieces.next().unwrap_or(Some(Numbers::Plain(Vec::new())))?;
    for piece in pieces {
        match (&mut all, piece?) {
            (Numbers::Plain(all), Numbers::Plain(more))
            | (Numbers::Seconds(all), Numbers::Seconds(more)) => all.extend(more),
            (Numbers::Times(all), Numbers::Times(more)) => all.extend(more),
            _ => return None,
        }
    }
    Some(all)
}

/// What a column is.
#[derive(Clone, Copy)]
enum Target {
    Value(&'static Known),
    Flags,
}

impl Target {
    fn name(self) -> &'static str {
        match self {
            Self::Value(known) => known.name,
            Self::Flags => FLAGS,
        }
    }
}

/// What a column is by its standard name or its name, and whether the unit follows from
/// the name.
fn by_itself(column: &Column) -> Option<(Target, bool)> {
    if let Some(name) = &column.standard_name {
        return Some((Target::Value(known(cf_name(name)?.column)?), false));
    }
    let name = column.name.trim();
    if name == FLAGS {
        return Some((Target::Flags, true));
    }
    let same = KNOWN.iter().find(|k| k.name.eq_ignore_ascii_case(name));
    if let Some(known) = same {
        return Some((Target::Value(known), true));
    }
    Some((Target::Value(known(cf_name(name)?.column)?), false))
}

/// The rows of a table.
///
/// # Errors
/// No column that is known; a column of `reading` that is not there; one that is no
/// numbers, or whose unit is not known; values outside of what is allowed.
pub fn contents(
    columns: &[Column],
    name: &str,
    reading: &Reading,
) -> Result<Contents, SourceError> {
    let mut raw = RawProfile {
        name: name.to_owned(),
        ..RawProfile::default()
    };
    let chosen = choose(columns, name, reading)?;
    let rows = chosen.iter().map(|(at, ..)| length(columns, *at));
    let rows = rows.max().unwrap_or(0);
    if rows == 0 {
        return Err(SourceError::NoRows {
            name: name.to_owned(),
        });
    }
    if rows > MAX_ROWS {
        return Err(SourceError::TooManyRows {
            name: name.to_owned(),
            line: MAX_ROWS.saturating_add(1),
            limit: MAX_ROWS,
        });
    }
    raw.rows = (1..=rows)
        .map(|line| RawRow {
            line,
            ..RawRow::default()
        })
        .collect();
    let mut faults = Vec::new();
    for (at, target, stated) in chosen {
        if let Some(column) = columns.get(at) {
            let number = at.saturating_add(1);
            take(column, number, target, &stated, &mut raw, &mut faults)?;
        }
    }
    if !faults.is_empty() {
        faults.sort_by_key(|fault| (fault.line, fault.column));
        let more = faults.len() > MAX_FAULTS;
        faults.truncate(MAX_FAULTS);
        return Err(SourceError::Cells { faults, more });
    }
    Ok(Contents {
        raw,
        ..Contents::default()
    })
}

fn length(columns: &[Column], at: usize) -> usize {
    columns.get(at).map_or(0, Column::len)
}

/// How the unit of a column is known.
enum Stated {
    /// By `[columns]` or the column itself.
    Unit(String),
    /// It follows from our name.
    Ours,
    /// The standard name leaves it open.
    Open,
}

/// Which column is what, those of `[columns]` before all.
fn choose(
    columns: &[Column],
    name: &str,
    reading: &Reading,
) -> Result<Vec<(usize, Target, Stated)>, SourceError> {
    let has = || columns.iter().map(|column| shown(&column.name)).join(", ");
    let mut out: Vec<(usize, Target, Stated)> = Vec::new();
    let mut units = Vec::new();
    for (ours, ColumnSource { column, unit }) in &reading.columns {
        let fail = |what: String| SourceError::Column {
            name: name.to_owned(),
            ours: ours.clone(),
            what,
        };
        let target = match known(ours) {
            Some(known) => Target::Value(known),
            None if ours == FLAGS => Target::Flags,
            None => {
                let names = KNOWN.iter().map(|known| known.name).join(", ");
                return Err(fail(format!("no such column is read; there are {names}")));
            }
        };
        let Some(wanted) = column.as_deref() else {
            units.push((target.name(), unit.clone()));
            continue;
        };
        let at = (columns.iter()).position(|column| column.name.trim() == wanted.trim());
        let Some(at) = at else {
            let wanted = shown(wanted);
            return Err(fail(format!(
                "there is no column `{wanted}`; there are {}",
                has()
            )));
        };
        let own = columns.get(at).and_then(|column| column.unit.clone());
        let stated = unit.clone().or(own).map_or(Stated::Ours, Stated::Unit);
        out.push((at, target, stated));
    }
    for (at, column) in columns.iter().enumerate() {
        let Some((target, ours)) = by_itself(column) else {
            continue;
        };
        let named = |(a, t, _): &(usize, Target, Stated)| *a == at || t.name() == target.name();
        if out.iter().any(named) {
            continue;
        }
        let given = units.iter().find(|(name, _)| *name == target.name());
        let given = given.and_then(|(_, unit)| unit.clone());
        let stated = match given.or_else(|| column.unit.clone()) {
            Some(unit) => Stated::Unit(unit),
            None if ours => Stated::Ours,
            None => Stated::Open,
        };
        out.push((at, target, stated));
    }
    if out.is_empty() {
        let names = KNOWN.iter().map(|known| known.name).join(", ");
        let like = columns.iter().find_map(|column| nearest(&column.name));
        let like = like.map(|like| format!("; did you mean {like}?"));
        return Err(SourceError::Table {
            name: name.to_owned(),
            what: format!(
                "no column is known{}; it has {}; name the columns {names}, by CF standard names, or under [columns] of the sheet",
                like.unwrap_or_default(),
                has()
            ),
        });
    }
    Ok(out)
}

/// Puts the values of a column into the rows.
fn take(
    column: &Column,
    number: usize,
    target: Target,
    stated: &Stated,
    raw: &mut RawProfile,
    faults: &mut Vec<Fault>,
) -> Result<(), SourceError> {
    let fail = |what: String| SourceError::Column {
        name: raw.name.clone(),
        ours: target.name().to_owned(),
        what,
    };
    let kind = column.values.first().map(|values| values.data_type());
    let kind = kind.unwrap_or(&DataType::Null);
    let cell = shown(&column.name);
    let Some(numbers) = all_numbers(&column.values) else {
        return Err(fail(format!(
            "column `{cell}` is of type {kind}; numbers are expected"
        )));
    };
    if column.len() != raw.rows.len() {
        let (has, rows) = (column.len(), raw.rows.len());
        return Err(fail(format!(
            "column `{cell}` has {has} values and another {rows}; columns of one length are expected"
        )));
    }
    let known = match target {
        Target::Value(known) => known,
        Target::Flags => return flags(&numbers, number, raw, faults),
    };
    let values = match (numbers, known.name) {
        (Numbers::Seconds(values), "time_s") => {
            return put(known, values, None, number, raw, faults);
        }
        (Numbers::Times(times), "time_s") => {
            let first = times.iter().flatten().next().copied();
            raw.start = first.and_then(time);
            let since = |t: i64| t.checked_sub(first?).map(micros_s);
            let values = times.into_iter().map(|t| t.and_then(since)).collect();
            return put(known, values, None, number, raw, faults);
        }
        (Numbers::Plain(values), _) => values,
        _ => {
            return Err(fail(format!(
                "column `{cell}` is of type {kind}; numbers are expected"
            )));
        }
    };
    let in_numbers = |unit: &&super::elements::unit::Unit| unit.notation == Notation::Number;
    let allowed = || {
        known
            .units
            .iter()
            .filter(in_numbers)
            .map(|u| u.name)
            .join(", ")
    };
    let unit = match stated {
        Stated::Ours => None,
        Stated::Unit(text) => match unit(known, text).filter(in_numbers) {
            Some(unit) => Some(unit),
            None => {
                return Err(fail(format!(
                    "column `{cell}`: unit `{}` is not one of {}",
                    shown(text),
                    allowed()
                )));
            }
        },
        Stated::Open if known.units.iter().filter(in_numbers).count() > 1 => {
            return Err(fail(format!(
                "column `{cell}` does not state its unit; give one of {} with it",
                allowed()
            )));
        }
        Stated::Open => None,
    };
    let convert = unit.and_then(|unit| unit.convert);
    put(known, values, convert, number, raw, faults)
}

#[expect(
    clippy::cast_precision_loss,
    reason = "a difference of times within a flight"
)]
fn micros_s(micros: i64) -> f64 {
    micros as f64 / 1e6
}

fn time(micros: i64) -> Option<DateTime> {
    let timestamp = Timestamp::from_microsecond(micros).ok()?;
    Some(Offset::UTC.to_datetime(timestamp))
}

fn put(
    known: &Known,
    values: Vec<Option<f64>>,
    convert: Option<fn(f64) -> f64>,
    number: usize,
    raw: &mut RawProfile,
    faults: &mut Vec<Fault>,
) -> Result<(), SourceError> {
    for (row, value) in raw.rows.iter_mut().zip(values) {
        let Some(given) = value else { continue };
        let value = match convert {
            Some(convert) => trim(convert(given)),
            None => given,
        };
        if !known.allows(value) && !known.allows(snap(value)) {
            if faults.len() <= MAX_FAULTS {
                faults.push(Fault {
                    name: raw.name.clone(),
                    line: row.line,
                    column: Some(number),
                    what: format!("{} is {given}", known.name),
                    allowed: known.bounds(),
                });
            }
            continue;
        }
        (known.set)(row, value);
    }
    Ok(())
}

/// Roles received from a station, BUFR flag table 0 08 042.
fn flags(
    numbers: &Numbers,
    number: usize,
    raw: &mut RawProfile,
    faults: &mut Vec<Fault>,
) -> Result<(), SourceError> {
    let Numbers::Plain(values) = numbers else {
        return Ok(());
    };
    let most = f64::from((1_u32 << FLAG_BITS) - 1);
    for (row, value) in raw.rows.iter_mut().zip(values) {
        let Some(value) = value else { continue };
        if value.fract() != 0.0 || !(0.0..=most).contains(value) {
            if faults.len() <= MAX_FAULTS {
                faults.push(Fault {
                    name: raw.name.clone(),
                    line: row.line,
                    column: Some(number),
                    what: format!("{FLAGS} is {value}"),
                    allowed: format!("a whole number from 0 to {most} is expected"),
                });
            }
            continue;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a whole number within the bits of the flag table"
        )]
        let bits = *value as u32;
        row.flags = Roles::from_bits_retain(bits);
    }
    Ok(())
}

/// The columns that are read: name, unit, and CF standard names.
pub fn known_columns() -> impl Iterator<Item = (&'static str, &'static str, Vec<&'static str>)> {
    KNOWN.iter().map(|known| {
        let names = crate::tables::cf_names().iter();
        let names = names.filter(|cf| cf.column == known.name);
        let unit = known.units.first().map_or("", |unit| unit.name);
        (known.name, unit, names.map(|cf| cf.standard_name).collect())
    })
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use arrow_array::{Float32Array, Float64Array, StringArray, TimestampSecondArray};

    use super::*;

    fn column(name: &str, unit: Option<&str>, values: ArrayRef) -> Column {
        Column {
            name: name.to_owned(),
            standard_name: None,
            unit: unit.map(str::to_owned),
            values: vec![values],
        }
    }

    fn floats(values: &[f64]) -> ArrayRef {
        Arc::new(Float64Array::from(values.to_vec()))
    }

    fn read(columns: &[Column]) -> Result<Contents, SourceError> {
        contents(columns, "table", &Reading::default())
    }

    #[test]
    fn units_are_converted_and_missing_stays_missing() {
        let columns = [
            column("air_pressure", Some("Pa"), floats(&[100_430.0, f64::NAN])),
            column("temperature_c", Some("K"), floats(&[277.65, 270.0])),
            column(
                "latitude",
                None,
                Arc::new(Float32Array::from(vec![51.3, 51.4])),
            ),
        ];
        let rows = read(&columns).unwrap().raw.rows;
        assert_eq!(rows[0].pressure_hpa, Some(1004.3));
        assert_eq!(rows[1].pressure_hpa, None);
        assert_eq!(rows[0].temperature_c, Some(4.5));
        assert_eq!(rows[1].latitude_deg, Some(51.4));
        assert_eq!((rows[0].line, rows[1].line), (1, 2));
    }

    #[test]
    fn times_count_from_the_first() {
        let times =
            TimestampSecondArray::from(vec![Some(1_926_242_620), None, Some(1_926_242_650)]);
        let contents = read(&[column("time_s", None, Arc::new(times))]).unwrap();
        let times: Vec<_> = contents.raw.rows.iter().map(|row| row.time_s).collect();
        assert_eq!(times, [Some(0.0), None, Some(30.0)]);
        // 1,926,242,620 s = 22,294 days and 11:23:40: 2031-01-15.
        let start = contents.raw.start.unwrap().to_string();
        assert_eq!(start, "2031-01-15T11:23:40");
    }

    #[test]
    fn what_is_wrong_says_where_and_what_is_allowed() {
        for (columns, wanted) in [
            (
                vec![column("x", None, floats(&[1.0]))],
                "table: no column is known",
            ),
            (
                vec![column("presure_hpa", None, floats(&[1.0]))],
                "did you mean pressure_hpa?",
            ),
            (
                vec![column("air_pressure", None, floats(&[1013.0]))],
                "does not state its unit; give one of hPa, Pa",
            ),
            (
                vec![column("pressure_hpa", Some("furlong"), floats(&[1.0]))],
                "unit `furlong` is not one of hPa, Pa",
            ),
            (
                vec![column(
                    "pressure_hpa",
                    None,
                    Arc::new(StringArray::from(vec!["high"])),
                )],
                "is of type Utf8; numbers are expected",
            ),
            (
                vec![column("pressure_hpa", None, floats(&[1000.0, -3.0]))],
                "table:2:1: pressure_hpa is -3 (more than 0 and at most 1100 hPa is allowed)",
            ),
            (
                vec![
                    column("pressure_hpa", None, floats(&[1000.0, 900.0])),
                    column("temperature_c", None, floats(&[1.0])),
                ],
                "columns of one length are expected",
            ),
        ] {
            let error = read(&columns).unwrap_err().to_string();
            assert!(error.contains(wanted), "{error}");
        }
    }
}
