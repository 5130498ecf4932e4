//! What a program calls: rows become a report, and a report its text, JSON and BUFR.

use crate::error::Error;
use crate::forms::text::Message;
use crate::forms::{bufr, json, text};
use crate::input::sheet;
use crate::input::sheet::{Sheet, Source};
use crate::input::{RawProfile, RawRow};
use crate::issue::{Ascent, Flight, Which};
use crate::model::fidelity::Fidelity;
use crate::model::finding::Finding;
use crate::model::{Context, Form, Level, Noted, Profile, Reach, Reading, Report};
use crate::verify::compare;
use crate::verify::compare::{Difference, Tolerance};
use crate::verify::rows::check_raw;

/// The rows of a program, as findings name them.
const ROWS: &str = "rows";

impl Ascent {
    /// An ascent from rows in the order of time, of the station and flight of a context.
    ///
    /// A row without [`RawRow::line`] has its number, from 1, in findings and errors. The
    /// standard time, where the context has none, follows from the time of release.
    ///
    /// # Errors
    /// A context that lacks a value or has one outside its range; a row with a value
    /// outside its range.
    ///
    /// ```
    /// use fivefig::prelude::*;
    ///
    /// // Invented.
    /// let station = Station::land(WmoNumber::new(99, 11)?, Position::new(51.25, -3.4)?, 84.0);
    /// let context = Context::new(station, "2031-01-15T11:23:40Z".parse()?);
    /// let row = |time_s, pressure_hpa, temperature_c| RawRow {
    ///     time_s: Some(time_s),
    ///     pressure_hpa: Some(pressure_hpa),
    ///     temperature_c: Some(temperature_c),
    ///     humidity_pct: Some(60.0),
    ///     ..RawRow::default()
    /// };
    /// let rows = vec![row(0.0, 1004.3, 4.5), row(60.0, 968.0, 2.1), row(120.0, 933.0, -0.4)];
    /// let report = Ascent::from_rows(rows, &context)?.report(Form::Temp)?;
    /// assert!(report.text()?.starts_with("TTAA 1511/ 99011 99004"));
    /// assert!(report.bufr()?.value.starts_with(b"BUFR"));
    /// # Ok::<(), Error>(())
    /// ```
    pub fn from_rows(mut rows: Vec<RawRow>, context: &Context) -> Result<Self, Error> {
        check_raw(&rows)?;
        for (number, row) in (1..).zip(&mut rows) {
            if row.line == 0 {
                row.line = number;
            }
        }
        let Noted { value, findings } = sheet::complete_context(context)?;
        Ok(Self {
            name: ROWS.to_owned(),
            raw: RawProfile {
                name: ROWS.to_owned(),
                rows,
                start: None,
            },
            sheet: Sheet {
                context: value,
                reading: Reading::default(),
            },
            form: None,
            findings,
        })
    }

    /// An ascent from the bytes of a file and from sheets, the later ones having the last
    /// word; the format is detected from the content. `name` is used in findings and errors.
    ///
    /// [`Ascent::read`] takes the format, and the number of the flight in a file of many.
    ///
    /// # Errors
    /// A file that is not a profile; sheets with faults.
    pub fn from_file(bytes: &[u8], name: &str, sheets: &[Source<'_>]) -> Result<Self, Error> {
        Ok(Self::read(bytes, name, Which::default(), sheets)?)
    }

    /// Chooses the levels and makes the report of a form.
    ///
    /// # Errors
    /// Rows that are not an ascent, a flight that the form cannot hold, a value that no
    /// figure can.
    pub fn report(&self, form: Form) -> Result<Flight, Error> {
        Ok(self.code(form, Reach::Whole)?)
    }

    /// Makes the early report, up to 100 hPa, of an ascent that goes on: Parts A and B.
    ///
    /// # Errors
    /// An ascent that has not reached 100 hPa; see also [`Ascent::report`].
    pub fn early_report(&self, form: Form) -> Result<Flight, Error> {
        Ok(self.code(form, Reach::To100)?)
    }

    /// Station, flight and practice, completed.
    #[must_use]
    pub fn context(&self) -> &Context {
        &self.sheet.context
    }

    /// The rows as they were given.
    #[must_use]
    pub fn rows(&self) -> &[RawRow] {
        &self.raw.rows
    }

    /// What was found in rows and context.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }
}

impl Flight {
    /// The message in five-figure groups, each part with its lines.
    ///
    /// # Errors
    /// A form without a text: a descent, and a mobile station below sea level.
    pub fn text(&self) -> Result<String, Error> {
        match &self.message {
            Some(message) => Ok(message.to_string()),
            None => Ok(text::message(&self.report)?.value.to_string()),
        }
    }

    /// The JSON document: the report with its groups, findings and fidelity.
    ///
    /// # Errors
    /// A number that JSON cannot hold.
    pub fn json(&self) -> Result<String, Error> {
        Ok(json::write(vec![self.record(None)])?)
    }

    /// The BUFR message, edition 4, with every row of the profile, and what was found in
    /// writing it.
    ///
    /// # Errors
    /// A value that its bits cannot hold, a text that does not fit.
    pub fn bufr(&self) -> Result<Noted<Vec<u8>>, Error> {
        Ok(bufr::write(&self.for_bufr(None))?)
    }

    /// The levels of the report, lowest first, each with its values, its vertical
    /// significance and the reasons why it was chosen.
    #[must_use]
    pub fn levels(&self) -> &[Level] {
        &self.report.levels
    }

    /// Everything that was found from the rows to the message.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// The message in figures; `None` for a form without a text.
    #[must_use]
    pub fn message(&self) -> Option<&Message> {
        self.message.as_ref()
    }

    /// The report in unrounded values.
    #[must_use]
    pub fn report(&self) -> &Report {
        &self.report
    }

    /// The rows of the flight as the levels were chosen from, lowest first.
    #[must_use]
    pub fn profile(&self) -> &Profile {
        &self.ascent
    }

    /// How well the message reproduces the profile.
    #[must_use]
    pub fn fidelity(&self) -> &Fidelity {
        &self.fidelity
    }
}

impl AsRef<Report> for Flight {
    fn as_ref(&self) -> &Report {
        &self.report
    }
}

/// What differs between two reports, except for what rounding alone can do.
///
/// [`verify::compare`](crate::verify::compare) takes other tolerances.
///
/// ```
/// use fivefig::prelude::*;
///
/// // Invented.
/// let left = Message::parse(
///     "TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999=")?.report();
/// let right = Message::parse(
///     "TTAA 15110 99011 99004 04430 23006 00119 04626 22507 88999 77999=")?.report();
/// let found = compare(&left, &right);
/// assert_eq!(
///     found[0].to_string(),
///     "temperature at 1000 hPa (standard): 4.2 °C on the left, 4.6 °C on the right"
/// );
/// # Ok::<(), Error>(())
/// ```
#[must_use]
pub fn compare(left: &impl AsRef<Report>, right: &impl AsRef<Report>) -> Vec<Difference> {
    let (left, right) = (left.as_ref(), right.as_ref());
    compare::compare(left, right, &Tolerance::coarser(left, right))
}
