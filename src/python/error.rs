//! Errors of the library as exceptions, findings and differences as objects.

use std::panic::{AssertUnwindSafe, catch_unwind};

use pyo3::exceptions::PyRuntimeError;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use serde::Serialize;

use crate::error::{Error, ErrorKind};
use crate::input::SourceError;
use crate::issue::report::NotReported;
use crate::issue::{FlightError, Refused};
use crate::model::finding;
use crate::model::finding::{Place, Severity};
use crate::verify::compare as other;

/// Something that was found in data, with its place.
#[pyclass(frozen, module = "fivefig", skip_from_py_object)]
#[derive(Clone)]
pub(super) struct Finding(pub(super) finding::Finding);

#[pymethods]
impl Finding {
    /// Stable name, lower case with hyphens; a program may act on it.
    #[getter]
    fn code(&self) -> &str {
        &self.0.code
    }

    /// `error`, `warning` or `info`.
    #[getter]
    fn severity(&self) -> String {
        self.0.severity.to_string()
    }

    /// What was found, with the value.
    #[getter]
    fn what(&self) -> &str {
        &self.0.what
    }

    /// What is allowed, or what to do; `None` where nothing needs to be done.
    #[getter]
    fn allowed(&self) -> Option<&str> {
        self.0.allowed.as_deref()
    }

    /// The published rule, such as `WMO-No. 306, 35.3.1`.
    #[getter]
    fn clause(&self) -> Option<&str> {
        self.0.clause.as_deref()
    }

    /// Where it is: the keys `file`, `line`, `column`, `key`, `pressure_hpa`, `part`,
    /// `section`, `group`, `station`, `time` and `heading`, as far as they are known.
    #[getter]
    fn place<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        loads(py, &self.0.place)
    }

    fn __str__(&self) -> String {
        self.0.to_string()
    }

    fn __repr__(&self) -> String {
        format!("<Finding {}: {}>", self.0.code, self.0)
    }

    fn __eq__(&self, other: &Self) -> bool {
        self.0 == other.0
    }

    fn __hash__(&self) -> u64 {
        use std::hash::{DefaultHasher, Hash as _, Hasher as _};
        let mut hasher = DefaultHasher::new();
        self.0.to_string().hash(&mut hasher);
        hasher.finish()
    }
}

/// What differs between two reports.
#[pyclass(frozen, module = "fivefig", skip_from_py_object)]
pub(super) struct Difference(pub(super) other::Difference);

#[pymethods]
impl Difference {
    /// The difference as a dict: `difference` is its kind, such as `value` or `part`, the
    /// other keys say what differs.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        loads(py, &self.0)
    }

    fn __str__(&self) -> String {
        self.0.to_string()
    }

    fn __repr__(&self) -> String {
        format!("<Difference {}>", self.0)
    }
}

/// A value of the library as dicts and lists.
pub(super) fn loads<'py>(py: Python<'py>, value: &impl Serialize) -> PyResult<Bound<'py, PyAny>> {
    let text = serde_json::to_string(value).map_err(|e| PyRuntimeError::new_err(e.to_string()))?;
    py.import("json")?.call_method1("loads", (text,))
}

/// Works without the interpreter lock; a panic becomes `InternalError`.
pub(super) fn detached<T: Send>(
    py: Python<'_>,
    work: impl FnOnce() -> Result<T, Error> + Send,
) -> PyResult<T> {
    let done = py.detach(|| catch_unwind(AssertUnwindSafe(work)));
    match done {
        Ok(Ok(value)) => Ok(value),
        Ok(Err(error)) => Err(raised(py, &error)),
        Err(panic) => Err(panicked(py, &*panic)),
    }
}

/// The text of a panic.
pub(super) fn words(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().map(|text| (*text).to_owned());
    let text = text.or_else(|| panic.downcast_ref::<String>().cloned());
    text.unwrap_or_else(|| "no text".to_owned())
}

fn panicked(py: Python<'_>, panic: &(dyn std::any::Any + Send)) -> PyErr {
    let text = format!(
        "a fault of fivefig itself: {}; please report it with the input",
        words(panic)
    );
    exception(
        py,
        "InternalError",
        &text,
        "internal",
        &Place::default(),
        Vec::new(),
    )
}

/// The kind of an error in small letters.
pub(super) fn kind(error: &Error) -> &'static str {
    match error.kind() {
        ErrorKind::InvalidValue => "invalid-value",
        ErrorKind::Context => "context",
        ErrorKind::Rows => "rows",
        ErrorKind::File => "file",
        ErrorKind::Form => "form",
        ErrorKind::Unfit => "unfit",
        ErrorKind::Text => "text",
        ErrorKind::Bufr => "bufr",
        ErrorKind::Json => "json",
        ErrorKind::Issue => "issue",
    }
}

fn class(error: &Error) -> &'static str {
    match error.kind() {
        ErrorKind::InvalidValue => "InvalidValueError",
        ErrorKind::Context => "SheetError",
        ErrorKind::Rows | ErrorKind::File => "ProfileError",
        ErrorKind::Form | ErrorKind::Unfit => "FormError",
        ErrorKind::Text | ErrorKind::Bufr | ErrorKind::Json => "MessageError",
        ErrorKind::Issue => "IssueError",
    }
}

/// An error of the library as an exception.
pub(super) fn raised(py: Python<'_>, error: &Error) -> PyErr {
    let findings = faults(error);
    exception(
        py,
        class(error),
        &error.to_string(),
        kind(error),
        error.place(),
        findings,
    )
}

/// An exception of the package by its name.
pub(super) fn exception(
    py: Python<'_>,
    class: &str,
    text: &str,
    kind: &str,
    place: &Place,
    findings: Vec<finding::Finding>,
) -> PyErr {
    let made = || -> PyResult<PyErr> {
        let findings: Vec<Finding> = findings.into_iter().map(Finding).collect();
        let keywords = PyDict::new(py);
        keywords.set_item("kind", kind)?;
        keywords.set_item("place", loads(py, place)?)?;
        keywords.set_item("findings", findings)?;
        let class = py.import("fivefig._errors")?.getattr(class)?;
        Ok(PyErr::from_value(class.call((text,), Some(&keywords))?))
    };
    made().unwrap_or_else(|error| error)
}

/// A value of an argument that is not allowed.
pub(super) fn invalid(py: Python<'_>, what: &str) -> PyErr {
    let place = Place::default();
    exception(
        py,
        "InvalidValueError",
        what,
        "invalid-value",
        &place,
        Vec::new(),
    )
}

/// The faults of an error one by one, as findings of severity error.
fn faults(error: &Error) -> Vec<finding::Finding> {
    let one = |place: &Place, what: String| finding::Finding {
        code: kind(error).into(),
        severity: Severity::Error,
        place: place.clone(),
        what,
        allowed: None,
        clause: None,
    };
    let source = error.get_ref();
    let flight = source.downcast_ref::<FlightError>();
    let table = match flight {
        Some(FlightError::Source(cause)) => Some(cause),
        _ => source.downcast_ref::<SourceError>(),
    };
    if let Some(SourceError::Cells { faults, .. }) = table {
        let faults = faults.iter().map(|fault| finding::Finding {
            allowed: Some(fault.allowed.clone()),
            ..one(
                &Place {
                    column: fault.column,
                    ..Place::line(&fault.name, fault.line)
                },
                fault.what.clone(),
            )
        });
        return faults.collect();
    }
    let sheet = match flight {
        Some(FlightError::Sheets(sheet)) => Some(sheet),
        Some(FlightError::Refused {
            why: Refused::Report(NotReported::Context(sheet)),
            ..
        }) => Some(sheet),
        _ => source.downcast_ref(),
    };
    if let Some(sheet) = sheet {
        let sheet: &crate::input::sheet::SheetError = sheet;
        let faults = sheet.faults().iter();
        return faults.map(|f| one(&f.place, f.fault.to_string())).collect();
    }
    let refused = match flight {
        Some(FlightError::Refused { why, .. }) => Some(why),
        _ => source.downcast_ref(),
    };
    if let Some(Refused::Stopped(findings)) = refused {
        return findings.clone();
    }
    vec![one(error.place(), error.to_string())]
}
