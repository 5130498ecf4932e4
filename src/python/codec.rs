//! Coding, reading, checking and comparing.

use std::num::NonZero;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::thread;

use pyo3::exceptions::PyRuntimeError;
use pyo3::prelude::*;
use rayon::prelude::*;
use rayon::{ThreadPool, ThreadPoolBuilder};

use super::error::{Difference, Finding, detached, exception, invalid, kind, raised, words};
use super::report::Report;
use super::source::Source;
use super::table::Table;
use crate::error::Error;
use crate::forms::columnar;
use crate::forms::columnar::{Findings, Levels, Reports, batches};
use crate::input::messages;
use crate::input::messages::{Decoded, Options, Read};
use crate::input::sheet;
use crate::issue::{Flight, Refused};
use crate::model::finding::{Place, finding};
use crate::model::{Axis, Dated, Form, Noted, Profile, Reach};
use crate::verify::compare::Tolerance;
use crate::verify::traffic::{Checker, Collector, Rows, identify};
use crate::{levels, profile, verify};

/// A sheet with its name.
type SheetText = (String, String);

fn sheets(given: &[SheetText]) -> Vec<sheet::Source<'_>> {
    let sources = given
        .iter()
        .map(|(name, text)| sheet::Source { name, text });
    sources.collect()
}

fn form(py: Python<'_>, name: Option<&str>) -> PyResult<Option<Form>> {
    match name {
        None => Ok(None),
        Some("temp") => Ok(Some(Form::Temp)),
        Some("pilot") => Ok(Some(Form::Pilot)),
        Some("descent") => Ok(Some(Form::Descent)),
        Some(other) => {
            let what = format!("form is {other:?}; temp, pilot or descent is expected");
            Err(invalid(py, &what))
        }
    }
}

fn known_date(py: Python<'_>, date: Option<&str>) -> PyResult<Option<Dated>> {
    let read = date.map(str::parse::<Dated>).transpose();
    read.map_err(|error| {
        let what = format!("date is {:?}; {error}", date.unwrap_or_default());
        invalid(py, &what)
    })
}

fn code(
    source: &Source,
    sheets: &[sheet::Source<'_>],
    form: Option<Form>,
    early: bool,
    number: Option<usize>,
) -> Result<Flight, Error> {
    let ascent = source.ascent(number, sheets)?;
    let form = ascent.form(form);
    let reach = if early { Reach::To100 } else { Reach::Whole };
    Ok(ascent.code(form, reach)?)
}

/// Codes one flight.
#[pyfunction]
pub(super) fn encode(
    py: Python<'_>,
    source: &Bound<'_, Source>,
    given: Vec<SheetText>,
    form: Option<&str>,
    early: bool,
    number: Option<usize>,
) -> PyResult<Report> {
    let form = self::form(py, form)?;
    let source = source.get();
    let flight = detached(py, || code(source, &sheets(&given), form, early, number))?;
    Ok(Report::flight(flight, &source.name))
}

/// Threads that code flights.
#[pyclass(frozen, module = "fivefig._native")]
pub(super) struct Workers(ThreadPool);

/// A flight that was coded, or why not, with the text of a panic.
type Coded = Result<Result<Flight, Error>, String>;

impl Workers {
    fn all(
        &self,
        py: Python<'_>,
        sources: &[&Source],
        own: &[Vec<SheetText>],
        form: Option<Form>,
    ) -> Vec<Coded> {
        self.map(py, sources, own, form, |flight| flight)
    }

    fn map<T: Send>(
        &self,
        py: Python<'_>,
        sources: &[&Source],
        own: &[Vec<SheetText>],
        form: Option<Form>,
        then: impl Fn(Flight) -> T + Sync,
    ) -> Vec<Result<Result<T, Error>, String>> {
        let one = |(source, own): (&&Source, &Vec<SheetText>)| {
            let work = || code(source, &sheets(own), form, false, None).map(&then);
            catch_unwind(AssertUnwindSafe(work)).map_err(|panic| words(&*panic))
        };
        py.detach(|| {
            let work = || {
                sources
                    .par_iter()
                    .zip(own)
                    .with_max_len(1)
                    .map(one)
                    .collect()
            };
            self.0.install(work)
        })
    }
}

#[pymethods]
impl Workers {
    #[new]
    fn new(threads: Option<usize>) -> PyResult<Self> {
        let every = || thread::available_parallelism().map_or(1, NonZero::get);
        let threads = threads.unwrap_or_else(every).clamp(1, 1024);
        let pool = ThreadPoolBuilder::new().num_threads(threads).build();
        pool.map(Self)
            .map_err(|e| PyRuntimeError::new_err(e.to_string()))
    }

    #[getter]
    fn threads(&self) -> usize {
        self.0.current_num_threads()
    }

    /// Codes flights in parallel; of each the report or the exception, in order.
    fn encode(
        &self,
        py: Python<'_>,
        sources: Vec<Bound<'_, Source>>,
        own: Vec<Vec<SheetText>>,
        form: Option<&str>,
    ) -> PyResult<Vec<Py<PyAny>>> {
        let form = self::form(py, form)?;
        let sources: Vec<&Source> = sources.iter().map(Bound::get).collect();
        let coded = self.all(py, &sources, &own, form);
        let each = coded
            .into_iter()
            .zip(sources)
            .map(|(coded, source)| match coded {
                Ok(Ok(flight)) => Ok(Py::new(py, Report::flight(flight, &source.name))?.into_any()),
                Ok(Err(error)) => Ok(raised(py, &error).into_value(py).into_any()),
                Err(panic) => {
                    let place = Place::default().in_file(&source.name);
                    let what = format!("a fault of fivefig itself: {panic}");
                    let error =
                        exception(py, "InternalError", &what, "internal", &place, Vec::new());
                    Ok(error.into_value(py).into_any())
                }
            });
        each.collect()
    }

    /// Codes flights in parallel into a table of reports: one row for each, in order,
    /// numbered from `first`.
    #[pyo3(signature = (sources, own, form, bufr, first))]
    fn table(
        &self,
        py: Python<'_>,
        sources: Vec<Bound<'_, Source>>,
        own: Vec<Vec<SheetText>>,
        form: Option<&str>,
        bufr: bool,
        first: usize,
    ) -> PyResult<Table> {
        let form = self::form(py, form)?;
        let sources: Vec<&Source> = sources.iter().map(Bound::get).collect();
        let then = |flight: Flight| {
            let octets = bufr.then(|| flight.bufr().map(|written| written.value));
            // The rows of the profile are not needed any more.
            let Flight {
                report,
                message,
                findings,
                ..
            } = flight;
            (report, message, findings, octets)
        };
        let coded = self.map(py, &sources, &own, form, then);
        let mut reports = Reports::new();
        for ((coded, source), number) in coded.into_iter().zip(&sources).zip(first..) {
            let from = columnar::Source {
                file: &source.name,
                report: number,
            };
            let error = match coded {
                Ok(Ok((report, message, findings, octets))) => match octets.transpose() {
                    Ok(octets) => {
                        let (message, octets) = (message.as_ref(), octets.as_deref());
                        reports.add(from, &report, message, octets, &findings);
                        continue;
                    }
                    Err(error) => error,
                },
                Ok(Err(error)) => error,
                Err(panic) => {
                    reports.add_error(from, &panic, "internal", "");
                    continue;
                }
            };
            let place = error.place().to_string();
            reports.add_error(from, &error.to_string(), kind(&error), &place);
        }
        Table::new(Reports::schema(), batches(Vec::new(), reports.take()))
    }
}

/// Reads every report of every file and passes it on with the name of the file; findings
/// that belong to no report go to `findings`.
fn each(
    sources: &[&Source],
    options: Options<'_>,
    pass: &mut dyn FnMut(&str, Read),
) -> Result<(), Error> {
    for source in sources {
        for (name, bytes) in source.files()? {
            messages::read(&bytes, &name, options, &mut |read| pass(&name, read))?;
        }
    }
    Ok(())
}

/// Refuses input without a report: the first finding says why, where there is one.
fn no_report(sources: &[&Source], findings: &[crate::model::Finding]) -> Error {
    let name = sources.first().map_or("", |source| &source.name);
    let what = match findings.first() {
        Some(finding) => format!("no report could be read: {}", finding.what),
        None => {
            "no report could be read; TEMP or PILOT in groups, BUFR or JSON is expected".to_owned()
        }
    };
    messages::NoReport {
        name: name.to_owned(),
        what,
    }
    .into()
}

/// The reports of messages, and the findings that belong to none.
#[pyfunction]
pub(super) fn decode(
    py: Python<'_>,
    given: Vec<Bound<'_, Source>>,
    date: Option<&str>,
    strict_parts: bool,
) -> PyResult<(Vec<Report>, Vec<Finding>)> {
    let dated = known_date(py, date)?;
    let sources: Vec<&Source> = given.iter().map(Bound::get).collect();
    let (reports, findings) = detached(py, || {
        let (mut reports, mut findings) = (Vec::new(), Vec::new());
        let options = Options {
            dated,
            strict_parts,
            ..Options::default()
        };
        each(&sources, options, &mut |name, read| {
            let number = reports.len() + 1;
            match read {
                Read::Findings(found) => findings.extend(found),
                Read::Received(received) => {
                    let decoded = Decoded::of(*received, dated);
                    reports.push(Report::decoded(decoded, name, number));
                }
                Read::Decoded(decoded) => reports.push(Report::decoded(*decoded, name, number)),
            }
        })?;
        if reports.is_empty() {
            return Err(no_report(&sources, &findings));
        }
        Ok((reports, findings))
    })?;
    Ok((reports, findings.into_iter().map(Finding).collect()))
}

/// Rows that a table is made of.
enum Collected {
    Levels(Box<Levels>),
    Reports(Box<Reports>),
    Findings(Box<Findings>),
}

/// All reports of messages as one table: `levels`, `reports`, `findings` or `summary`.
#[pyfunction]
pub(super) fn decode_table(
    py: Python<'_>,
    given: Vec<Bound<'_, Source>>,
    table: &str,
    date: Option<&str>,
    strict_parts: bool,
) -> PyResult<Table> {
    let dated = known_date(py, date)?;
    let sources: Vec<&Source> = given.iter().map(Bound::get).collect();
    let options = Options {
        dated,
        strict_parts,
        ..Options::default()
    };
    let (schema, mut collected) = match table {
        "levels" => (Levels::schema(), Collected::Levels(Box::default())),
        "reports" => (Reports::schema(), Collected::Reports(Box::default())),
        "findings" => (Findings::schema(), Collected::Findings(Box::default())),
        "summary" => {
            let batch = detached(py, || summary(&sources, options))?;
            return Table::new(Rows::schema(), batch.map(|batch| vec![batch]));
        }
        other => {
            let what =
                format!("table is {other:?}; levels, reports, findings or summary is expected");
            return Err(invalid(py, &what));
        }
    };
    let done = detached(py, || {
        let (mut number, mut done, mut first) = (0_usize, Vec::new(), Vec::new());
        let mut checker = Checker::dated(dated);
        let mut failed = Ok(());
        each(&sources, options, &mut |name, read| {
            let read = match read {
                Read::Findings(found) => {
                    if let Collected::Findings(rows) = &mut collected {
                        found.iter().for_each(|finding| rows.add(None, finding));
                    }
                    if first.is_empty() {
                        first = found;
                    }
                    return;
                }
                read => read,
            };
            number += 1;
            let from = columnar::Source {
                file: name,
                report: number,
            };
            match &mut collected {
                Collected::Findings(rows) => {
                    let found = checked(&mut checker, name, read, dated);
                    found.iter().for_each(|f| rows.add(Some(number), f));
                }
                Collected::Levels(rows) => {
                    let decoded = values(read, dated);
                    if let Some(decoded) = &decoded {
                        rows.add(from, &decoded.report, decoded.message.as_ref().ok());
                    }
                }
                Collected::Reports(rows) => {
                    if let Some(decoded) = values(read, dated) {
                        let Decoded {
                            report,
                            message,
                            findings,
                        } = &decoded;
                        rows.add(from, report, message.as_ref().ok(), None, findings);
                    }
                }
            }
            if collected.is_full() {
                match collected.take() {
                    Ok(batch) => done.push(batch),
                    Err(error) => failed = Err(error),
                }
            }
        })?;
        if number == 0 {
            return Err(no_report(&sources, &first));
        }
        if let Collected::Findings(rows) = &mut collected {
            checker.finish().iter().for_each(|f| rows.add(None, f));
        }
        Ok(failed.and_then(|()| batches(done, collected.take())))
    })?;
    Table::new(schema, done)
}

impl Collected {
    fn is_full(&self) -> bool {
        match self {
            Self::Levels(rows) => rows.is_full(),
            Self::Reports(rows) => rows.is_full(),
            Self::Findings(rows) => rows.is_full(),
        }
    }

    fn take(&mut self) -> Result<arrow_array::RecordBatch, arrow_schema::ArrowError> {
        match self {
            Self::Levels(rows) => rows.take(),
            Self::Reports(rows) => rows.take(),
            Self::Findings(rows) => rows.take(),
        }
    }
}

/// A report with its values.
fn values(read: Read, dated: Option<Dated>) -> Option<Decoded> {
    match read {
        Read::Findings(_) => None,
        Read::Received(received) => Some(Decoded::of(*received, dated)),
        Read::Decoded(decoded) => Some(*decoded),
    }
}

/// The findings about a report, those of its reading first.
fn checked(
    checker: &mut Checker,
    name: &str,
    read: Read,
    dated: Option<Dated>,
) -> Vec<crate::model::Finding> {
    match read {
        Read::Findings(found) => found,
        Read::Received(received) => {
            let mut found = received.findings.clone();
            identify(&mut found, &received, dated);
            found.extend(checker.check(&received, name));
            found
        }
        Read::Decoded(decoded) => {
            let mut found = decoded.findings;
            match &decoded.message {
                Ok(message) => {
                    let mut checks = verify::message::check(message);
                    for finding in &mut checks {
                        finding.place.file = Some(name.to_owned());
                        finding.place.station = Some(message.ident.name());
                        finding.place.time = Some(verify::traffic::time(message, dated));
                    }
                    found.extend(checks);
                }
                Err(why) => {
                    let place = Place::default().in_file(name);
                    found.push(finding!(NoTextCode, place, problem = why));
                }
            }
            found
        }
    }
}

fn summary(
    sources: &[&Source],
    options: Options<'_>,
) -> Result<Result<arrow_array::RecordBatch, arrow_schema::ArrowError>, Error> {
    let mut collector = Collector::dated(options.dated);
    let mut checker = Checker::dated(options.dated);
    let (mut reports, mut first) = (0_usize, Vec::new());
    each(sources, options, &mut |name, read| match read {
        Read::Findings(found) => {
            collector.add_findings(&found);
            if first.is_empty() {
                first = found;
            }
        }
        Read::Received(received) => {
            reports += 1;
            let mut findings = checker.check(&received, name);
            findings.extend(received.findings.iter().cloned());
            identify(&mut findings, &received, options.dated);
            collector.add(&received, &findings);
        }
        // A summary counts parts of traffic.
        Read::Decoded(_) => {}
    })?;
    if reports == 0 {
        return Err(no_report(sources, &first));
    }
    collector.add_findings(&checker.finish());
    Ok(collector.finish(&[]).table())
}

/// Checks messages for internal consistency.
#[pyfunction]
pub(super) fn check_messages(
    py: Python<'_>,
    given: Vec<Bound<'_, Source>>,
    date: Option<&str>,
    strict_parts: bool,
) -> PyResult<Vec<Finding>> {
    let dated = known_date(py, date)?;
    let sources: Vec<&Source> = given.iter().map(Bound::get).collect();
    let found = detached(py, || {
        let mut checker = Checker::dated(dated);
        let (mut found, mut reports) = (Vec::new(), 0_usize);
        let options = Options {
            dated,
            strict_parts,
            ..Options::default()
        };
        each(&sources, options, &mut |name, read| {
            reports += usize::from(!matches!(read, Read::Findings(_)));
            found.extend(checked(&mut checker, name, read, dated));
        })?;
        if reports == 0 {
            return Err(no_report(&sources, &found));
        }
        found.extend(checker.finish());
        Ok(found)
    })?;
    Ok(found.into_iter().map(Finding).collect())
}

/// Checks a profile for physical consistency and against its sheet.
#[pyfunction]
pub(super) fn check_profile(
    py: Python<'_>,
    source: &Bound<'_, Source>,
    given: Vec<SheetText>,
    form: Option<&str>,
    number: Option<usize>,
) -> PyResult<Vec<Finding>> {
    let form = self::form(py, form)?;
    let source = source.get();
    let found = detached(py, || {
        let ascent = source.ascent(number, &sheets(&given))?;
        let form = ascent.form(form);
        let context = ascent.context();
        let mut found = ascent.findings().to_vec();
        let Noted { value, findings } = profile::build_for(form, &ascent.raw, context)?;
        found.extend(findings);
        let checked = verify::profile::check(&value, context);
        found.extend(checked.into_iter().map(|mut finding| {
            finding.place.file = Some(source.name.clone());
            finding
        }));
        Ok(found)
    })?;
    Ok(found.into_iter().map(Finding).collect())
}

/// What differs between two reports.
#[pyfunction]
pub(super) fn compare(
    py: Python<'_>,
    left: &Bound<'_, Report>,
    right: &Bound<'_, Report>,
    tolerance: &str,
) -> PyResult<Vec<Difference>> {
    let (left, right) = (left.get().report(), right.get().report());
    let tolerance = match tolerance {
        "rounding" => Tolerance::coarser(left, right),
        "step" => Tolerance::one_step(left, right),
        other => {
            let what = format!("tolerance is {other:?}; rounding or step is expected");
            return Err(invalid(py, &what));
        }
    };
    let found = detached(py, || Ok(verify::compare::compare(left, right, &tolerance)))?;
    Ok(found.into_iter().map(Difference).collect())
}

/// The profile of a source; sheets are not needed.
pub(super) fn built(
    source: &Source,
    given: &[SheetText],
    form: Form,
    number: Option<usize>,
) -> Result<(Profile, crate::model::Context), Error> {
    let (raw, context) = source.rows(number, &sheets(given))?;
    let profile = profile::build_for(form, &raw, &context)?.value;
    Ok((profile, context))
}

/// Chooses the levels of a profile by the rules of a form.
#[pyfunction]
pub(super) fn choose_levels(
    py: Python<'_>,
    source: &Bound<'_, Source>,
    given: Vec<SheetText>,
    form: Option<&str>,
    number: Option<usize>,
) -> PyResult<Table> {
    let form = self::form(py, form)?.unwrap_or_default();
    let source = source.get();
    let batch = detached(py, || {
        let (profile, context) = built(source, &given, form, number)?;
        let (coding, orders) = (&context.coding, &context.orders);
        let chosen = match form {
            Form::Pilot if profile.rows.iter().all(|row| row.wind.is_none()) => {
                return Err(Refused::NoWind.into());
            }
            Form::Pilot => levels::choose_winds(&profile, coding, orders, Reach::Whole),
            _ if !profile::has_temperature(&profile) => return Err(Refused::NoTemperature.into()),
            _ if profile.axis == Axis::Height => return Err(Refused::NoPressure.into()),
            _ => levels::choose(&profile, coding, orders, Reach::Whole),
        };
        let mut table = Levels::new();
        let from = columnar::Source {
            file: &source.name,
            report: 1,
        };
        table.add_levels(from, form, &chosen.levels);
        Ok(table.take())
    })?;
    Table::new(Levels::schema(), batches(Vec::new(), batch))
}
