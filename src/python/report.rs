//! A report, coded or read.

use pyo3::prelude::*;
use pyo3::types::{PyBytes, PyDict};

use super::error::{Finding, detached, invalid, loads};
use super::table::{Table, utc};
use crate::error::Error;
use crate::forms::bufr;
use crate::forms::columnar;
use crate::forms::columnar::{Levels, Source, batches};
use crate::forms::json;
use crate::forms::json::Record;
use crate::forms::text;
use crate::forms::text::{Bbb, CodeError, Envelope, Ident, Message};
use crate::input::messages::Decoded;
use crate::issue::{Flight, LevelContent};
use crate::model;
use crate::model::{Form, Profile};
use crate::verify;
use crate::view::diagram::{Style, Theme, diagram};

pub(super) enum Of {
    /// Coded from a profile.
    Flight(Box<Flight>),
    /// Read from a message.
    Decoded(Box<Decoded>),
}

/// One sounding as a report: coded from a profile, or read from a message.
#[pyclass(frozen, module = "fivefig", skip_from_py_object)]
pub(super) struct Report {
    pub(super) of: Of,
    /// The file or flight.
    name: String,
    /// Number in the input, from 1.
    number: usize,
}

/// Which theme a picture has.
fn theme(py: Python<'_>, name: &str) -> PyResult<Theme> {
    match name {
        "auto" => Ok(Theme::Auto),
        "light" => Ok(Theme::Light),
        "dark" => Ok(Theme::Dark),
        other => {
            let what = format!("theme is {other:?}; auto, light or dark is expected");
            Err(invalid(py, &what))
        }
    }
}

impl Report {
    pub(super) fn flight(flight: Flight, name: &str) -> Self {
        Self {
            of: Of::Flight(Box::new(flight)),
            name: name.to_owned(),
            number: 1,
        }
    }

    pub(super) fn decoded(decoded: Decoded, name: &str, number: usize) -> Self {
        Self {
            of: Of::Decoded(Box::new(decoded)),
            name: name.to_owned(),
            number,
        }
    }

    pub(super) fn report(&self) -> &model::Report {
        match &self.of {
            Of::Flight(flight) => flight.report(),
            Of::Decoded(decoded) => &decoded.report,
        }
    }

    fn message(&self) -> Result<&Message, Error> {
        match &self.of {
            Of::Flight(flight) => match flight.message() {
                Some(message) => Ok(message),
                None => {
                    let why = text::message(flight.report()).err();
                    Err(why.unwrap_or(CodeError::NoTextCode).into())
                }
            },
            Of::Decoded(decoded) => decoded.message.as_ref().map_err(|why| why.clone().into()),
        }
    }

    fn source(&self) -> Source<'_> {
        Source {
            file: &self.name,
            report: self.number,
        }
    }

    fn all_findings(&self) -> &[model::Finding] {
        match &self.of {
            Of::Flight(flight) => flight.findings(),
            Of::Decoded(decoded) => &decoded.findings,
        }
    }

    fn levels_table(&self, py: Python<'_>, report: &model::Report) -> PyResult<Table> {
        let batch = detached(py, || {
            let mut levels = Levels::new();
            levels.add(self.source(), report, self.message().ok());
            Ok(levels.take())
        })?;
        Table::new(Levels::schema(), batches(Vec::new(), batch))
    }

    fn record(&self) -> Record {
        match &self.of {
            Of::Flight(flight) => flight.record(None),
            Of::Decoded(decoded) => Record::new(
                &decoded.report,
                decoded.message.as_ref().ok(),
                &decoded.findings,
                None,
            ),
        }
    }

    fn svg(&self, py: Python<'_>, theme: Theme) -> PyResult<String> {
        detached(py, || {
            let fidelity = match &self.of {
                Of::Flight(flight) => Some(flight.fidelity()),
                Of::Decoded(_) => None,
            };
            let style = Style {
                theme,
                inside: false,
            };
            Ok(diagram(&self.profile(), self.report(), fidelity, &style).to_string())
        })
    }

    /// The rows that a picture shows: of a message its own levels.
    fn profile(&self) -> Profile {
        match &self.of {
            Of::Flight(flight) => flight.profile().clone(),
            Of::Decoded(decoded) => {
                let rows = decoded.report.levels.iter().map(|level| level.row.clone());
                Profile {
                    axis: decoded.report.axis,
                    motion: decoded.report.motion,
                    rows: rows.collect(),
                    ..Profile::default()
                }
            }
        }
    }
}

#[pymethods]
impl Report {
    /// The message in five-figure groups, Parts A to D.
    #[getter]
    fn text(&self, py: Python<'_>) -> PyResult<String> {
        detached(py, || Ok(self.message()?.to_string()))
    }

    /// The message as bulletins, one heading for each part.
    #[pyo3(signature = (bbb=None, channel=None))]
    fn bulletins(
        &self,
        py: Python<'_>,
        bbb: Option<&str>,
        channel: Option<u16>,
    ) -> PyResult<String> {
        let bbb = match bbb {
            Some(given) => Some(Bbb::new(given).ok_or_else(|| {
                let what =
                    format!("bbb is {given:?}; RRA to RRX, CCA to CCX or AAA to AAX is expected");
                invalid(py, &what)
            })?),
            None => None,
        };
        if channel.is_some_and(|channel| channel > 999) {
            return Err(invalid(py, "channel: 0 to 999 is expected"));
        }
        detached(py, || {
            let messages = [(self.report(), self.message()?)];
            Ok(text::bulletins(
                &messages,
                bbb.as_ref(),
                Envelope { channel },
            )?)
        })
    }

    /// The BUFR message, edition 4.
    #[getter]
    fn bufr<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyBytes>> {
        let written = detached(py, || match &self.of {
            Of::Flight(flight) => Ok(flight.bufr()?.value),
            Of::Decoded(decoded) => Ok(bufr::write(&decoded.report)?.value),
        })?;
        Ok(PyBytes::new(py, &written))
    }

    /// The JSON document with values, reasons, groups, findings and fidelity.
    #[getter]
    fn json(&self, py: Python<'_>) -> PyResult<String> {
        detached(py, || Ok(json::write(vec![self.record()])?))
    }

    /// The levels of the report as a table, lowest first.
    #[getter]
    fn levels(&self, py: Python<'_>) -> PyResult<Table> {
        self.levels_table(py, self.report())
    }

    /// The levels and every other row of the profile, lowest first.
    #[getter]
    fn rows(&self, py: Python<'_>) -> PyResult<Table> {
        match &self.of {
            Of::Flight(flight) => {
                let whole = py.detach(|| flight.for_bufr(Some(LevelContent::All)));
                self.levels_table(py, &whole)
            }
            Of::Decoded(decoded) => self.levels_table(py, &decoded.report),
        }
    }

    /// What was found, from the input to the message.
    #[getter]
    fn findings(&self) -> Vec<Finding> {
        self.all_findings().iter().cloned().map(Finding).collect()
    }

    /// How well the message reproduces the profile, as a dict; `None` where it was read
    /// from a message.
    #[getter]
    fn fidelity<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        match &self.of {
            Of::Flight(flight) => loads(py, flight.fidelity()).map(Some),
            Of::Decoded(_) => Ok(None),
        }
    }

    /// `temp`, `pilot` or `descent`.
    #[getter]
    fn form(&self) -> &'static str {
        match self.report().form {
            Form::Temp => "temp",
            Form::Pilot => "pilot",
            Form::Descent => "descent",
        }
    }

    /// Station number, call sign, position or WIGOS identifier.
    #[getter]
    fn station(&self) -> Option<String> {
        let name = match self.message() {
            Ok(message) => Some(message.ident.name()),
            Err(_) => Ident::of(&self.report().context)
                .ok()
                .map(|ident| ident.name()),
        };
        name.or_else(|| self.report().context.station.wigos_id.clone())
    }

    /// Standard time, UTC; `None` where year and month are not known.
    #[getter]
    fn time<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let time = self.report().when.in_full().map(|(_, standard)| standard);
        let micros = time.and_then(columnar::micros);
        micros.map(|micros| utc(py, micros)).transpose()
    }

    /// Time of release, UTC; `None` where it is not known.
    #[getter]
    fn release<'py>(&self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        let time = self
            .report()
            .when
            .in_full()
            .and_then(|(release, _)| release);
        let micros = time.and_then(columnar::micros);
        micros.map(|micros| utc(py, micros)).transpose()
    }

    /// Day of the month and hour, UTC, as the message gives them.
    #[getter]
    fn day_hour(&self) -> (i64, i64) {
        let (day, hour, _) = text::time(self.report());
        (day.into(), hour.into())
    }

    /// Letters of the parts, such as `ABCD`.
    #[getter]
    fn parts(&self) -> String {
        let parts = self.report().parts.keys();
        parts.map(|part| part.letter()).collect()
    }

    /// Degrees north and east; `None` where the position is not known.
    #[getter]
    fn position(&self) -> Option<(f64, f64)> {
        let position = self.report().context.station.position()?;
        Some((position.latitude_deg(), position.longitude_deg()))
    }

    /// Height of the station above mean sea level, m; `None` where it is not known.
    #[getter]
    fn elevation(&self) -> Option<f64> {
        self.report().context.station.elevation_m
    }

    /// Name of the file or flight.
    #[getter]
    fn name(&self) -> &str {
        &self.name
    }

    /// The diagram, which shows itself in a notebook: `svg`, `save(path)`.
    ///
    /// `theme` is `auto` (as the reader's system is set), `light` or `dark`.
    #[pyo3(signature = (theme="auto"))]
    fn draw<'py>(&self, py: Python<'py>, theme: &str) -> PyResult<Bound<'py, PyAny>> {
        let svg = self.svg(py, self::theme(py, theme)?)?;
        let class = py.import("fivefig._view")?.getattr("Drawing")?;
        class.call1((svg,))
    }

    /// The report as an xarray `Dataset` by the CF conventions.
    #[pyo3(signature = (rows=false))]
    fn to_dataset<'py>(slf: &Bound<'py, Self>, rows: bool) -> PyResult<Bound<'py, PyAny>> {
        let py = slf.py();
        let keywords = PyDict::new(py);
        keywords.set_item("rows", rows)?;
        let function = py.import("fivefig._dataset")?.getattr("to_dataset")?;
        function.call((slf,), Some(&keywords))
    }

    /// The review sheet in a frame; the diagram where the report was read from a message.
    fn _repr_html_<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match self.review(py, None, "auto")? {
            Some(page) => py
                .import("fivefig._view")?
                .getattr("framed")?
                .call1((page,)),
            None => Ok(self.svg(py, Theme::Auto)?.into_pyobject(py)?.into_any()),
        }
    }

    /// The review sheet as an HTML page; `None` where the report was read from a message.
    #[pyo3(signature = (was=None, theme="auto"))]
    fn review(
        &self,
        py: Python<'_>,
        was: Option<&Bound<'_, Self>>,
        theme: &str,
    ) -> PyResult<Option<String>> {
        let theme = self::theme(py, theme)?;
        let was = was.map(|was| was.get());
        let Of::Flight(flight) = &self.of else {
            return Ok(None);
        };
        detached(py, || {
            let was = was.map(|was| (was.name.as_str(), was.report()));
            Ok(Some(flight.review(was, theme)))
        })
    }

    /// The checks of a message on the report's own.
    fn check(&self, py: Python<'_>) -> PyResult<Vec<Finding>> {
        let found = detached(py, || {
            let mut found = self.all_findings().to_vec();
            if let Ok(message) = self.message() {
                found.extend(verify::message::check(message));
            }
            Ok(found)
        })?;
        Ok(found.into_iter().map(Finding).collect())
    }

    fn __repr__(&self) -> String {
        let (day, hour) = self.day_hour();
        let levels = self.report().levels.len();
        format!(
            "<fivefig.Report {} {} {day:02}T{hour:02}Z: {levels} levels>",
            self.form(),
            self.station().unwrap_or_default()
        )
    }
}
