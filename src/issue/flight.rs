//! A flight from what a file and the sheets say to what was coded of it.

use itertools::Itertools as _;
use thiserror::Error;

use super::correction::Earlier;
use super::report::Origin;
use super::{Refused, code_of, report};
use crate::forms::json::Record;
use crate::forms::text::{CodeError, Message};
use crate::input;
use crate::input::sheet;
use crate::input::sheet::{Sheet, SheetError, Source};
use crate::input::{Contents, Format, RawProfile, SourceError};
use crate::levels::report::with_every_row;
use crate::model::fidelity::Fidelity;
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Context, Form, Noted, Profile, Reach, Report};
use crate::tables::figure::FigureError;
use crate::verify::fidelity::fidelity;
use crate::view::diagram::Theme;
use crate::view::review;
use crate::view::review::Was;
use crate::{levels, profile};

/// Which levels go out in JSON and BUFR.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LevelContent {
    /// Every row of the profile.
    All,
    /// The levels that a rule asks for.
    Chosen,
}

/// Which flight of a file, and what the file is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Which {
    /// Its format; `None`: detected from its content.
    pub format: Option<Format>,
    /// The number of the flight, from 1; `None`: the only one.
    pub number: Option<usize>,
}

/// Why there is no flight.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum FlightError {
    /// The sheets have faults, a line each.
    #[error("{}", .0.faults().iter().join("\n"))]
    Sheets(SheetError),
    /// Neither the file nor a sheet says anything of station and flight.
    #[error("{name}: the profile has nothing about station and flight; give a sheet")]
    NoSheet {
        /// The file.
        name: String,
    },
    /// The file is no profile.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// The rows are no flight.
    #[error(transparent)]
    Profile(#[from] profile::ProfileError),
    /// The form cannot hold it.
    #[error("{}", refused(.name, .why))]
    Refused {
        /// The file.
        name: String,
        /// Why.
        why: Refused,
    },
}

/// Why the form cannot hold a flight, each line with the file.
fn refused(name: &str, why: &Refused) -> String {
    let Refused::Stopped(findings) = why else {
        return format!("{name}: {why}");
    };
    let lines = findings.iter().map(|finding| {
        let mut finding = finding.clone();
        finding.place.file.get_or_insert_with(|| name.to_owned());
        finding.text()
    });
    lines.collect::<Vec<_>>().join("\n")
}

/// The rows of a flight, with everything known about station and flight: what reports are
/// made from.
#[derive(Clone, Debug)]
pub struct Ascent {
    /// The file, as findings name it.
    pub(crate) name: String,
    /// The rows.
    pub(crate) raw: RawProfile,
    /// What all sheets say together.
    pub(crate) sheet: Sheet,
    /// The form of a message that was read as a profile.
    pub(crate) form: Option<Form>,
    /// What was found on the way.
    pub(crate) findings: Vec<Finding>,
}

impl Ascent {
    /// Reads a profile and its sheets, the later ones having the last word; a
    /// sheet that the profile brings comes before them.
    ///
    /// # Errors
    /// A file that is no profile, sheets with faults.
    pub fn read(
        bytes: &[u8],
        name: &str,
        which: Which,
        sheets: &[Source<'_>],
    ) -> Result<Self, FlightError> {
        let files = sheet::Files::of(sheets).map_err(FlightError::Sheets)?;
        let reading = files.reading().map_err(FlightError::Sheets)?;
        let format = which.format.unwrap_or_else(|| input::detect(bytes));
        let contents = input::read(bytes, name, format, which.number, &reading)?;
        if contents.sheet.is_some() || sheets.is_empty() {
            return Self::of(name, contents, sheets);
        }
        Self::of_files(name, contents, files)
    }

    /// What was read of a flight, with everything the sheets say.
    ///
    /// # Errors
    /// Sheets with faults, or none at all.
    pub fn of(name: &str, contents: Contents, sheets: &[Source<'_>]) -> Result<Self, FlightError> {
        let given: Vec<&str> = sheets.iter().map(|sheet| sheet.text).collect();
        let own = contents.sheet.as_deref();
        if own.is_none() && sheets.is_empty() {
            let name = name.to_owned();
            return Err(FlightError::NoSheet { name });
        }
        let own = own.map(|text| sheet::without_clouds(text, &given));
        let first = own.as_deref().map(|text| Source { name, text });
        let all: Vec<Source<'_>> = first.into_iter().chain(sheets.iter().copied()).collect();
        let files = sheet::Files::of(&all).map_err(FlightError::Sheets)?;
        Self::of_files(name, contents, files)
    }

    /// The same with sheets that are checked, that of the file among them.
    fn of_files(name: &str, contents: Contents, files: sheet::Files) -> Result<Self, FlightError> {
        let (sheet, notes) = files.sheet().map_err(FlightError::Sheets)?;
        let Contents {
            mut raw,
            clock,
            form,
            mut findings,
            ..
        } = contents;
        findings.extend(notes);
        if let Some((clock, release)) = clock.zip(sheet.context.flight.release) {
            findings.extend(profile::prepare::date_clock(&mut raw, clock, release));
        }
        Ok(Self {
            name: name.to_owned(),
            raw,
            sheet,
            form,
            findings,
        })
    }

    /// The form that is wanted, or that of the message, or TEMP.
    #[must_use]
    pub fn form(&self, wanted: Option<Form>) -> Form {
        wanted.or(self.form).unwrap_or_default()
    }

    /// Codes the flight in a form.
    ///
    /// # Errors
    /// Rows that are no flight, a flight that the form cannot hold.
    pub fn code(&self, form: Form, reach: Reach) -> Result<Flight, FlightError> {
        let ascent = profile::build_for(form, &self.raw, &self.sheet.context)?;
        let basis = Basis {
            name: self.name.clone(),
            context: self.sheet.context.clone(),
            findings: self.findings.clone(),
        };
        basis.with(ascent, form, reach)
    }

    /// The same of a flight that is coded once: its rows as read give way to the ascent,
    /// which has positions only where they are asked for.
    #[cfg(feature = "cli")]
    pub(crate) fn into_coded(
        self,
        form: Form,
        reach: Reach,
        positions: profile::Positions,
    ) -> Result<Flight, FlightError> {
        let context = &self.sheet.context;
        let ascent = profile::build_with(positions, form, &self.raw, context)?;
        drop(self.raw);
        let basis = Basis {
            name: self.name,
            context: self.sheet.context,
            findings: self.findings,
        };
        basis.with(ascent, form, reach)
    }
}

/// What a flight is coded from, besides its rows.
#[derive(Clone, Debug)]
struct Basis {
    /// The file, as findings name it.
    name: String,
    context: Context,
    /// What was found up to the rows.
    findings: Vec<Finding>,
}

impl Basis {
    /// Codes an ascent, with what was found when it was made.
    fn with(
        mut self,
        ascent: Noted<Profile>,
        form: Form,
        reach: Reach,
    ) -> Result<Flight, FlightError> {
        self.findings.extend(ascent.findings);
        self.code(ascent.value, form, reach)
    }

    fn code(self, ascent: Profile, form: Form, reach: Reach) -> Result<Flight, FlightError> {
        let context = &self.context;
        let mut findings = self.findings.clone();
        let refused = |why| FlightError::Refused {
            name: self.name.clone(),
            why,
        };
        if form == Form::Descent {
            let Noted {
                value: report,
                findings: notes,
            } = report(form, &ascent, context, reach).map_err(refused)?;
            findings.extend(notes);
            // No text rounds it: before and after are the same.
            let fidelity = fidelity(&ascent, &context.coding, &report, &report);
            return Ok(Flight {
                ascent,
                report,
                message: None,
                fidelity,
                findings,
                basis: self,
            });
        }
        let coded = match code_of(form, &ascent, (context, Origin::Sheets), reach) {
            Err(Refused::Code(why)) if is_of_text_alone(&why) => {
                let Noted {
                    value: report,
                    findings: notes,
                } = report(form, &ascent, context, reach).map_err(refused)?;
                findings.extend(notes);
                let place = match &why {
                    CodeError::Figure { pressure_hpa, .. } => Place::pressure(*pressure_hpa),
                    CodeError::Ident(FigureError::Elevation(..)) => {
                        Place::key("station.elevation_m")
                    }
                    _ => Place::default(),
                };
                findings.push(finding!(NoTextCode, place, problem = why));
                let fidelity = fidelity(&ascent, &context.coding, &report, &report);
                return Ok(Flight {
                    ascent,
                    report,
                    message: None,
                    fidelity,
                    findings,
                    basis: self,
                });
            }
            coded => coded.map_err(refused)?,
        };
        findings.extend(coded.findings);
        Ok(Flight {
            ascent,
            report: coded.report,
            message: Some(coded.message),
            fidelity: coded.fidelity,
            findings,
            basis: self,
        })
    }
}

/// Whether an error is one of the text code that the other forms do not have: a value
/// that its figures cannot hold, such as the elevation of a mobile station below the sea.
const fn is_of_text_alone(why: &CodeError) -> bool {
    matches!(why, CodeError::Figure { .. } | CodeError::Ident(_))
}

/// A flight as read, and what was coded from it: the report with its message, how well the
/// message reproduces the profile, and the findings.
#[derive(Clone, Debug)]
pub struct Flight {
    /// The rows of the ascent, drop or descent.
    pub(crate) ascent: Profile,
    /// The report in unrounded values.
    pub(crate) report: Report,
    /// Its text code; `None` where there is none: for a descent, and where no figure
    /// holds a value of the identification (a mobile station below the sea).
    pub(crate) message: Option<Message>,
    /// How well the levels give the profile back; not counted.
    pub(crate) fidelity: Fidelity,
    /// Everything that was found from the file to the message.
    pub(crate) findings: Vec<Finding>,
    basis: Basis,
}

impl Flight {
    /// The same flight after a message that was sent: its additional levels stay as
    /// long as every limit holds, so that a correction changes only what is wrong.
    ///
    /// # Errors
    /// A value that no figure can hold, as in [`Ascent::code`].
    pub fn after(&self, sent: &Earlier) -> Result<Self, FlightError> {
        let mut ascent = self.ascent.clone();
        let coding = &self.basis.context.coding;
        levels::mark_sent(&mut ascent, &sent.report, coding);
        if let Some(message) = &sent.message {
            levels::mark_sent(&mut ascent, &message.report(), coding);
        }
        let (form, reach) = (self.report.form, self.report.reach);
        self.basis.clone().code(ascent, form, reach)
    }

    /// The record for the JSON forms, with the counts of levels if they were counted
    /// ([`Self::count`]); the levels that a rule asks for unless all are wanted.
    #[must_use]
    pub fn record(&self, levels: Option<LevelContent>) -> Record {
        let whole =
            (levels == Some(LevelContent::All)).then(|| with_every_row(&self.report, &self.ascent));
        let report = whole.as_ref().unwrap_or(&self.report);
        Record::new(
            report,
            self.message.as_ref(),
            &self.findings,
            Some(self.fidelity.clone()),
        )
    }

    /// Adds the levels to a table: those that a rule asks for unless all are wanted.
    #[cfg(feature = "arrow")]
    pub fn add_levels(
        &self,
        levels: Option<LevelContent>,
        table: &mut crate::forms::columnar::Levels,
    ) {
        let whole =
            (levels == Some(LevelContent::All)).then(|| with_every_row(&self.report, &self.ascent));
        let report = whole.as_ref().unwrap_or(&self.report);
        let source = crate::forms::columnar::Source {
            file: &self.basis.name,
            report: 1,
        };
        table.add(source, report, self.message.as_ref());
    }

    /// The report that goes out in BUFR: with every row unless the chosen levels
    /// alone are wanted.
    #[must_use]
    pub fn for_bufr(&self, levels: Option<LevelContent>) -> Report {
        match levels {
            Some(LevelContent::Chosen) => self.report.clone(),
            _ => with_every_row(&self.report, &self.ascent),
        }
    }

    /// The review sheet, levels counted; with an earlier report and what it is called,
    /// what changed since.
    #[must_use]
    pub fn review(&self, was: Option<(&str, &Report)>, theme: Theme) -> String {
        let mut fidelity = self.fidelity.clone();
        count(&mut fidelity, &self.ascent, &self.report);
        let (profile, report) = (&self.ascent, &self.report);
        let message = self.message.as_ref();
        let was = was.map(|(name, was)| Was::new(name, was, report, message, profile));
        review::page(&review::Sheet {
            profile,
            report,
            message,
            fidelity: &fidelity,
            findings: &self.findings,
            was: was.as_ref(),
            theme,
        })
    }

    /// Counts the levels of TEMP, or of a descent, against the fewest possible.
    pub fn count(&mut self) {
        count(&mut self.fidelity, &self.ascent, &self.report);
    }
}

fn count(fidelity: &mut Fidelity, ascent: &Profile, report: &Report) {
    if report.form == Form::Pilot {
        return;
    }
    let context = &report.context;
    fidelity.counts = Some(levels::count(
        ascent,
        &context.coding,
        &context.orders,
        report.reach,
    ));
}
