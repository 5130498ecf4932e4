//! Pieces that others build on: values of NumPy arrays in, values out.

use pyo3::prelude::*;
use pyo3::types::PyBytes;

use super::codec::built;
use super::error::{detached, invalid};
use super::source::Source;
use super::table::Table;
use crate::forms::columnar;
use crate::forms::columnar::{Levels, batches};
use crate::levels;
use crate::model::{At, Axis, Coding, Form, Level, Profile, Roles, Row};
use crate::physics::{humidity, hydrostatic};
use crate::verify::rows::check_rows;

/// The numbers of an array.
fn numbers(bytes: &[u8]) -> Vec<f64> {
    let (words, _) = bytes.as_chunks::<8>();
    words.iter().map(|word| f64::from_le_bytes(*word)).collect()
}

fn given(value: f64) -> Option<f64> {
    Some(value).filter(|value| !value.is_nan())
}

/// Dew points, °C, from temperatures, °C, and humidities over water, %.
#[pyfunction]
pub(super) fn dewpoint<'py>(
    py: Python<'py>,
    temperature_c: Vec<u8>,
    humidity_pct: Vec<u8>,
) -> PyResult<Bound<'py, PyBytes>> {
    let out = detached(py, || {
        let pairs = numbers(&temperature_c)
            .into_iter()
            .zip(numbers(&humidity_pct));
        let of = |(t, u): (f64, f64)| humidity::dewpoint_c(t, u).unwrap_or(f64::NAN);
        let bytes = pairs.map(of).flat_map(f64::to_le_bytes);
        Ok(bytes.collect::<Vec<u8>>())
    })?;
    Ok(PyBytes::new(py, &out))
}

/// Thickness, gpm, of a column of pressures, hPa, falling, and temperatures, °C, with dew
/// points, °C, where they are known.
#[pyfunction]
pub(super) fn thickness(
    py: Python<'_>,
    pressure_hpa: Vec<u8>,
    temperature_c: Vec<u8>,
    dewpoint_c: Vec<u8>,
) -> PyResult<f64> {
    detached(py, || {
        let dewpoints = numbers(&dewpoint_c);
        let pairs = numbers(&pressure_hpa)
            .into_iter()
            .zip(numbers(&temperature_c));
        let levels = pairs.enumerate().map(|(at, (p, t))| {
            let dewpoint = dewpoints.get(at).copied().and_then(given);
            (p, humidity::virtual_temperature_k(t, dewpoint, p))
        });
        let levels: Vec<(f64, f64)> = levels.collect();
        let layers = levels.iter().zip(levels.iter().skip(1));
        Ok(layers
            .map(|(lower, upper)| hydrostatic::thickness_gpm(*lower, *upper))
            .sum())
    })
}

/// The numbers, from 0, of the elements that are tropopauses, lowest first.
#[pyfunction]
pub(super) fn tropopause(
    py: Python<'_>,
    pressure_hpa: Vec<u8>,
    height_gpm: Vec<u8>,
    temperature_c: Vec<u8>,
) -> PyResult<Vec<usize>> {
    detached(py, || {
        let (z, t) = (numbers(&height_gpm), numbers(&temperature_c));
        let rows = numbers(&pressure_hpa).into_iter().zip(z).zip(t);
        let rows = rows.map(|((p, z), t)| Row {
            pressure_hpa: given(p),
            height_gpm: given(z),
            temperature_c: given(t),
            ..Row::default()
        });
        let profile = Profile {
            axis: Axis::Pressure,
            rows: rows.collect(),
            ..Profile::default()
        };
        check_rows(&profile)?;
        Ok(levels::tropopauses(&profile, &Coding::default()))
    })
}

/// The values of a profile at pressures, hPa, as a table of levels.
#[pyfunction]
pub(super) fn interpolate(
    py: Python<'_>,
    source: &Bound<'_, Source>,
    given: Vec<(String, String)>,
    number: Option<usize>,
    pressures_hpa: Vec<f64>,
) -> PyResult<Table> {
    if let Some(wrong) = pressures_hpa.iter().find(|p| !(p.is_finite() && **p > 0.0)) {
        let what = format!("a pressure is {wrong}; more than 0 hPa is expected");
        return Err(invalid(py, &what));
    }
    let source = source.get();
    let batch = detached(py, || {
        let (profile, context) = built(source, &given, Form::Temp, number)?;
        let rows = levels::at_pressures(&profile, &context.coding, &pressures_hpa);
        let found = rows
            .into_iter()
            .zip(&pressures_hpa)
            .map(|(row, &hpa)| Level {
                row: row.unwrap_or_else(|| Row {
                    pressure_hpa: Some(hpa),
                    ..Row::default()
                }),
                at: At::Interpolated,
                roles: Roles::empty(),
                why: Vec::new(),
            });
        let mut table = Levels::new();
        let from = columnar::Source {
            file: &source.name,
            report: 1,
        };
        table.add_levels(from, Form::Temp, &found.collect::<Vec<_>>());
        Ok(table.take())
    })?;
    Table::new(Levels::schema(), batches(Vec::new(), batch))
}
