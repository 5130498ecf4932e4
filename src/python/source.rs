//! What Python gives to read: bytes with a name, a file, or columns.

use std::fs;
use std::path::PathBuf;
use std::sync::Arc;

use arrow_array::ffi_stream::RecordBatchStreamReader;
use arrow_array::{
    ArrayRef, DurationMicrosecondArray, Float64Array, RecordBatch, RecordBatchReader,
    TimestampMicrosecondArray,
};
use arrow_pyarrow::FromPyArrow as _;
use pyo3::exceptions::{PyTypeError, PyValueError};
use pyo3::prelude::*;

use super::error::{exception, raised};
use super::table::runtime;
use crate::error::Error;
use crate::input;
use crate::input::frame::Column;
use crate::input::jsonl::sheet_toml;
use crate::input::sheet;
use crate::input::{Contents, RawProfile, SourceError, frame};
use crate::issue::{Ascent, Which};
use crate::model::Context;
use crate::model::finding::{Place, shown_path};

/// What is read.
#[derive(Clone)]
pub(super) enum Content {
    /// The bytes of a file.
    Bytes(Vec<u8>),
    /// A file, or the files of a folder.
    Path(PathBuf),
    /// Columns of a table in memory.
    Columns(Vec<Column>),
    /// A table of flights, or of rows, in batches.
    Batches(Vec<RecordBatch>),
}

/// Something to read, with the name that findings give it.
#[pyclass(frozen, module = "fivefig._native", skip_from_py_object)]
#[derive(Clone)]
pub(super) struct Source {
    pub(super) name: String,
    pub(super) content: Content,
    /// The sheet that comes with it, TOML.
    pub(super) sheet: Option<String>,
}

/// A column as Python hands it over: name, CF standard name, unit, kind and values.
type Given = (String, Option<String>, Option<String>, String, Vec<u8>);

fn array(kind: &str, bytes: &[u8]) -> PyResult<ArrayRef> {
    let (words, rest) = bytes.as_chunks::<8>();
    if !rest.is_empty() {
        return Err(PyValueError::new_err("values of 8 bytes are expected"));
    }
    // The least of all is NumPy's NaT.
    let counts = || {
        words
            .iter()
            .map(|word| Some(i64::from_le_bytes(*word)).filter(|n| *n != i64::MIN))
    };
    Ok(match kind {
        "number" => {
            let numbers = words.iter().map(|word| f64::from_le_bytes(*word));
            Arc::new(Float64Array::from_iter_values(numbers))
        }
        "duration" => Arc::new(counts().collect::<DurationMicrosecondArray>()),
        "time" => Arc::new(counts().collect::<TimestampMicrosecondArray>()),
        other => return Err(PyValueError::new_err(format!("no kind of values: {other}"))),
    })
}

#[pymethods]
impl Source {
    /// The content of a file.
    #[staticmethod]
    fn of_bytes(name: String, content: Vec<u8>) -> Self {
        Self {
            name,
            content: Content::Bytes(content),
            sheet: None,
        }
    }

    /// A file, or the files of a folder.
    #[staticmethod]
    fn of_path(path: PathBuf) -> Self {
        Self {
            name: shown_path(&path),
            content: Content::Path(path),
            sheet: None,
        }
    }

    /// Columns of numbers, durations or times, 8 bytes each.
    #[staticmethod]
    fn of_columns(name: String, columns: Vec<Given>) -> PyResult<Self> {
        let columns = columns
            .into_iter()
            .map(|(name, standard_name, unit, kind, bytes)| {
                Ok(Column {
                    name,
                    standard_name,
                    unit,
                    values: vec![array(&kind, &bytes)?],
                })
            });
        Ok(Self {
            name,
            content: Content::Columns(columns.collect::<PyResult<_>>()?),
            sheet: None,
        })
    }

    /// Anything with the Arrow PyCapsule interface.
    #[staticmethod]
    fn of_arrow(name: String, value: &Bound<'_, PyAny>) -> PyResult<Self> {
        let batches = if value.hasattr("__arrow_c_stream__")? {
            let reader = RecordBatchStreamReader::from_pyarrow_bound(value)?;
            let schema = reader.schema();
            let mut batches = reader
                .collect::<Result<Vec<_>, _>>()
                .map_err(|e| runtime(&e))?;
            if batches.is_empty() {
                batches.push(RecordBatch::new_empty(schema));
            }
            batches
        } else if value.hasattr("__arrow_c_array__")? {
            vec![RecordBatch::from_pyarrow_bound(value)?]
        } else {
            return Err(PyTypeError::new_err(
                "a value with __arrow_c_stream__ is expected",
            ));
        };
        Ok(Self {
            name,
            content: Content::Batches(batches),
            sheet: None,
        })
    }

    /// Whether it is a table of flights.
    fn is_flights(&self) -> bool {
        match &self.content {
            Content::Batches(batches) => batches.first().is_some_and(frame::is_flights),
            _ => false,
        }
    }

    /// The flights of a table of flights, each by itself.
    fn flights(&self, py: Python<'_>) -> PyResult<Vec<Self>> {
        let Content::Batches(batches) = &self.content else {
            return Ok(Vec::new());
        };
        let mut out = Vec::new();
        for batch in batches {
            let rows = frame::flights(batch, &self.name);
            for row in rows.map_err(|error| raised(py, &error.into()))? {
                let json = |sheet: String| match sheet.trim_start().starts_with('{') {
                    true => sheet_toml(&sheet),
                    false => Ok(sheet),
                };
                let sheet = row.sheet.map(json).transpose();
                let sheet = sheet.map_err(|what| {
                    let what = format!("flight `{}`: {what}", row.id);
                    no_sheet(py, &what)
                })?;
                out.push(Self {
                    name: row.id,
                    content: Content::Columns(row.columns),
                    sheet,
                });
            }
        }
        Ok(out)
    }

    /// The name in findings.
    #[getter]
    fn name(&self) -> &str {
        &self.name
    }
}

/// An exception for a sheet that is none.
fn no_sheet(py: Python<'_>, what: &str) -> PyErr {
    exception(
        py,
        "SheetError",
        what,
        "context",
        &Place::default(),
        Vec::new(),
    )
}

/// A sheet as a JSON object, as TOML.
#[pyfunction]
pub(super) fn sheet_to_toml(py: Python<'_>, json: &str) -> PyResult<String> {
    sheet_toml(json).map_err(|what| no_sheet(py, &what))
}

/// The most bytes of a file.
const MAX_FILE: u64 = 1 << 30;

/// Reads a file.
pub(super) fn file(path: &PathBuf) -> Result<Vec<u8>, Error> {
    let fail = |what: String| {
        Error::from(SourceError::Which {
            name: shown_path(path),
            what,
        })
    };
    let about = fs::metadata(path).map_err(|e| fail(e.to_string()))?;
    if about.is_dir() {
        return Err(fail("it is a folder; give a file".to_owned()));
    }
    if about.len() > MAX_FILE {
        return Err(fail(format!(
            "the file has {} bytes, at most {MAX_FILE} are read; divide it",
            about.len()
        )));
    }
    fs::read(path).map_err(|e| fail(e.to_string()))
}

impl Source {
    /// The rows of one flight with what the sheets say.
    pub(super) fn ascent(
        &self,
        number: Option<usize>,
        sheets: &[sheet::Source<'_>],
    ) -> Result<Ascent, Error> {
        let which = Which {
            format: None,
            number,
        };
        match &self.content {
            Content::Bytes(bytes) => Ok(Ascent::read(bytes, &self.name, which, sheets)?),
            Content::Path(path) => Ok(Ascent::read(&file(path)?, &self.name, which, sheets)?),
            Content::Columns(columns) => self.of_table(columns, sheets),
            Content::Batches(batches) => self.of_table(&Column::of(batches), sheets),
        }
    }

    fn of_table(&self, columns: &[Column], sheets: &[sheet::Source<'_>]) -> Result<Ascent, Error> {
        let contents = self.table(columns, sheets)?;
        Ok(Ascent::of(&self.name, contents, sheets)?)
    }

    fn table(&self, columns: &[Column], sheets: &[sheet::Source<'_>]) -> Result<Contents, Error> {
        let own = self.sheet.as_deref().map(|text| sheet::Source {
            name: "sheet",
            text,
        });
        let all: Vec<_> = own.into_iter().chain(sheets.iter().copied()).collect();
        let reading = sheet::reading(&all)?;
        let contents = frame::contents(columns, &self.name, &reading)?;
        Ok(Contents {
            sheet: self.sheet.clone(),
            ..contents
        })
    }

    /// The rows of one flight with what is known of it; sheets are not needed.
    pub(super) fn rows(
        &self,
        number: Option<usize>,
        sheets: &[sheet::Source<'_>],
    ) -> Result<(RawProfile, Context), Error> {
        let read = |bytes: &[u8]| -> Result<Contents, Error> {
            let reading = sheet::reading(sheets)?;
            let format = input::detect(bytes);
            Ok(input::read(bytes, &self.name, format, number, &reading)?)
        };
        let contents = match &self.content {
            Content::Bytes(bytes) => read(bytes)?,
            Content::Path(path) => read(&file(path)?)?,
            Content::Columns(columns) => self.table(columns, sheets)?,
            Content::Batches(batches) => self.table(&Column::of(batches), sheets)?,
        };
        if contents.sheet.is_none() && sheets.is_empty() {
            return Ok((contents.raw, Context::default()));
        }
        let ascent = Ascent::of(&self.name, contents, sheets)?;
        Ok((ascent.raw, ascent.sheet.context))
    }

    /// The files of messages that it stands for, with their names.
    pub(super) fn files(&self) -> Result<Vec<(String, Vec<u8>)>, Error> {
        let fail = |name: &str, what: String| {
            Error::from(SourceError::Which {
                name: name.to_owned(),
                what,
            })
        };
        match &self.content {
            Content::Bytes(bytes) => Ok(vec![(self.name.clone(), bytes.clone())]),
            Content::Path(path) if path.is_dir() => {
                let entries = fs::read_dir(path).map_err(|e| fail(&self.name, e.to_string()))?;
                let mut paths: Vec<PathBuf> = entries
                    .filter_map(|entry| Some(entry.ok()?.path()))
                    .filter(|path| path.is_file())
                    .collect();
                paths.sort();
                let read = paths.iter().map(|path| Ok((shown_path(path), file(path)?)));
                read.collect()
            }
            Content::Path(path) => Ok(vec![(self.name.clone(), file(path)?)]),
            Content::Columns(_) | Content::Batches(_) => Err(fail(
                &self.name,
                "a table is no file of messages; give text, bytes or a path".to_owned(),
            )),
        }
    }
}
