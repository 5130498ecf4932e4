//! Tables that pass through the Arrow PyCapsule interface without a copy.

use std::sync::Arc;

use arrow_array::cast::AsArray as _;
use arrow_array::ffi_stream::FFI_ArrowArrayStream;
use arrow_array::types::{Float64Type, Int8Type, Int32Type, Int64Type, TimestampMicrosecondType};
use arrow_array::{Array, RecordBatch, RecordBatchIterator, RecordBatchReader};
use arrow_schema::ffi::FFI_ArrowSchema;
use arrow_schema::{ArrowError, DataType, SchemaRef};
use pyo3::exceptions::{PyKeyError, PyRuntimeError, PyValueError};
use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyCapsule, PyDict, PyList};

use super::error::invalid;
use crate::forms::columnar::{Findings, Levels, Reports};
use crate::verify::traffic::Rows;

/// A table in Arrow memory: pandas, polars, pyarrow, DuckDB and others take it as it is.
#[pyclass(frozen, module = "fivefig", skip_from_py_object)]
pub(super) struct Table {
    schema: SchemaRef,
    batches: Vec<RecordBatch>,
}

pub(super) fn runtime(error: &ArrowError) -> PyErr {
    PyRuntimeError::new_err(error.to_string())
}

impl Table {
    pub(super) fn new(
        schema: SchemaRef,
        batches: Result<Vec<RecordBatch>, ArrowError>,
    ) -> PyResult<Self> {
        let batches = batches.map_err(|error| runtime(&error))?;
        Ok(Self { schema, batches })
    }

    fn rows(&self) -> usize {
        self.batches.iter().map(RecordBatch::num_rows).sum()
    }

    /// The values of a column as objects of Python.
    fn values<'py>(&self, py: Python<'py>, column: usize) -> PyResult<Bound<'py, PyList>> {
        let out = PyList::empty(py);
        for batch in &self.batches {
            let Some(array) = batch.columns().get(column) else {
                continue;
            };
            for row in 0..array.len() {
                out.append(value(py, array.as_ref(), row)?)?;
            }
        }
        Ok(out)
    }
}

fn value<'py>(py: Python<'py>, array: &dyn Array, row: usize) -> PyResult<Bound<'py, PyAny>> {
    if array.is_null(row) {
        return Ok(py.None().into_bound(py));
    }
    Ok(match array.data_type() {
        DataType::Float64 => array
            .as_primitive::<Float64Type>()
            .value(row)
            .into_pyobject(py)?
            .into_any(),
        DataType::Int8 => array
            .as_primitive::<Int8Type>()
            .value(row)
            .into_pyobject(py)?
            .into_any(),
        DataType::Int32 => array
            .as_primitive::<Int32Type>()
            .value(row)
            .into_pyobject(py)?
            .into_any(),
        DataType::Int64 => array
            .as_primitive::<Int64Type>()
            .value(row)
            .into_pyobject(py)?
            .into_any(),
        DataType::Utf8 => array
            .as_string::<i32>()
            .value(row)
            .into_pyobject(py)?
            .into_any(),
        DataType::Binary => PyBytes::new(py, array.as_binary::<i32>().value(row)).into_any(),
        DataType::Timestamp(..) => {
            let micros = array.as_primitive::<TimestampMicrosecondType>().value(row);
            utc(py, micros)?
        }
        DataType::List(_) => {
            let list = array.as_list::<i32>().value(row);
            let out = PyList::empty(py);
            for item in 0..list.len() {
                out.append(value(py, list.as_ref(), item)?)?;
            }
            out.into_any()
        }
        other => return Err(PyRuntimeError::new_err(format!("no value of type {other}"))),
    })
}

/// A `datetime` in UTC from microseconds since 1970.
pub(super) fn utc(py: Python<'_>, micros: i64) -> PyResult<Bound<'_, PyAny>> {
    let module = py.import("datetime")?;
    let zone = module.getattr("timezone")?.getattr("utc")?;
    let epoch = module
        .getattr("datetime")?
        .call1((1970, 1, 1, 0, 0, 0, 0, zone))?;
    let delta = module.getattr("timedelta")?.call1((0, 0, micros))?;
    epoch.add(delta)
}

#[pymethods]
impl Table {
    /// A table without rows.
    #[staticmethod]
    fn empty(py: Python<'_>, table: &str) -> PyResult<Self> {
        let schema = match table {
            "levels" => Levels::schema(),
            "reports" => Reports::schema(),
            "findings" => Findings::schema(),
            "summary" => Rows::schema(),
            other => {
                let what =
                    format!("table is {other:?}; levels, reports, findings or summary is expected");
                return Err(invalid(py, &what));
            }
        };
        let batches = vec![RecordBatch::new_empty(Arc::clone(&schema))];
        Ok(Self { schema, batches })
    }

    /// Tables of one schema as one, in their order.
    #[staticmethod]
    fn concat(tables: Vec<Bound<'_, Self>>) -> PyResult<Self> {
        let first = tables.first().map(Bound::get);
        let first = first.ok_or_else(|| PyValueError::new_err("no table to concatenate"))?;
        let schema = Arc::clone(&first.schema);
        if tables.iter().any(|table| table.get().schema != schema) {
            return Err(PyValueError::new_err("tables of one schema are expected"));
        }
        let batches = tables.iter().flat_map(|table| table.get().batches.clone());
        let batches = batches.collect();
        Ok(Self { schema, batches })
    }

    /// The rows as an Arrow stream (Arrow PyCapsule interface).
    #[pyo3(signature = (requested_schema=None))]
    fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        // The schema is as it is; the interface lets the consumer cast.
        let _ = requested_schema;
        let batches = self.batches.clone().into_iter().map(Ok::<_, ArrowError>);
        let reader = RecordBatchIterator::new(batches, Arc::clone(&self.schema));
        let reader: Box<dyn RecordBatchReader + Send> = Box::new(reader);
        let stream = FFI_ArrowArrayStream::new(reader);
        PyCapsule::new_with_value(py, stream, c"arrow_array_stream")
    }

    /// The schema (Arrow PyCapsule interface).
    fn __arrow_c_schema__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyCapsule>> {
        let schema = FFI_ArrowSchema::try_from(self.schema.as_ref());
        let schema = schema.map_err(|error| runtime(&error))?;
        PyCapsule::new_with_value(py, schema, c"arrow_schema")
    }

    fn __len__(&self) -> usize {
        self.rows()
    }

    /// Name of the schema: levels, reports, findings or summary.
    #[getter]
    fn name(&self) -> String {
        let name = self.schema.metadata().get("fivefig.table");
        name.cloned().unwrap_or_default()
    }

    /// Names of the columns.
    #[getter]
    fn column_names(&self) -> Vec<String> {
        let fields = self.schema.fields().iter();
        fields.map(|field| field.name().clone()).collect()
    }

    /// Unit of each column that has one.
    #[getter]
    fn units<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let out = PyDict::new(py);
        for field in self.schema.fields() {
            if let Some(unit) = field.metadata().get("unit") {
                out.set_item(field.name(), unit)?;
            }
        }
        Ok(out)
    }

    /// The values of a column as a list; missing values are `None`.
    fn __getitem__<'py>(&self, py: Python<'py>, column: &str) -> PyResult<Bound<'py, PyList>> {
        let at = self.schema.index_of(column);
        self.values(
            py,
            at.map_err(|_| {
                let has = self.column_names().join(", ");
                PyKeyError::new_err(format!("there is no column {column:?}; there are {has}"))
            })?,
        )
    }

    /// All columns as a dict of lists.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyDict>> {
        let out = PyDict::new(py);
        for (at, field) in self.schema.fields().iter().enumerate() {
            out.set_item(field.name(), self.values(py, at)?)?;
        }
        Ok(out)
    }

    /// A pandas `DataFrame`.
    fn to_pandas<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        let py = slf.py();
        // pandas itself reads Arrow with pyarrow alone.
        match py.import("pyarrow") {
            Ok(arrow) => arrow
                .call_method1("table", (slf,))?
                .call_method0("to_pandas"),
            Err(_) => {
                let columns = slf.get().to_dict(py)?;
                py.import("pandas")?.call_method1("DataFrame", (columns,))
            }
        }
    }

    /// A polars `DataFrame`.
    fn to_polars<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("polars")?.call_method1("DataFrame", (slf,))
    }

    /// A pyarrow `Table`.
    fn to_arrow<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("pyarrow")?.call_method1("table", (slf,))
    }

    fn __repr__(&self) -> String {
        let (name, rows) = (self.name(), self.rows());
        let columns = self.schema.fields().len();
        format!("<fivefig.Table {name}: {rows} rows, {columns} columns>")
    }
}
