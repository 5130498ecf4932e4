//! The one place where a flight becomes a report with its message, and that every
//! output that is wanted.

#[cfg(any(feature = "desk", feature = "spool"))]
pub(crate) mod age;
mod correction;
pub mod early;
pub mod flat;
mod flight;
pub mod folder;
mod output;
pub mod outputs;
pub mod previous;
pub mod report;
mod saved_sheet;
pub mod sent;

#[cfg(test)]
mod tests;

pub use correction::{Correction, Earlier, NoCorrection, correct, corrected};
pub use flight::{Ascent, Flight, FlightError, LevelContent, Which};

use itertools::Itertools as _;
use report::{NotReported, Origin};
use thiserror::Error;

use crate::forms::text;
use crate::forms::text::{CodeError, Message};
use crate::input::sheet;
use crate::levels::Column;
use crate::model::fidelity::Fidelity;
use crate::model::finding::{Finding, Place, finding};
use crate::model::{
    Axis, Context, Form, Hour, Motion, Noted, Part, Profile, Reach, Report, StationKind, When,
};
use crate::verify::fidelity;
use crate::{levels, profile, tables, verify};

/// Why a flight cannot be coded.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum Refused {
    /// Winds alone.
    #[error("no row has a temperature, which TEMP needs; PILOT is the form for winds alone")]
    NoTemperature,
    /// Winds by height.
    #[error(
        "no row has a pressure, which TEMP needs; give pressure_hpa under [surface], from which it is computed with height and temperature (except for a dropsonde), or use PILOT for winds by height"
    )]
    NoPressure,
    /// An early message too early.
    #[error(
        "the ascent has not reached 100 hPa, which the early message needs; code the complete ascent if it has ended"
    )]
    NotYet,
    /// PILOT without winds.
    #[error("no row has a wind, which PILOT needs; check the names of the wind columns")]
    NoWind,
    /// Context, rows or orders that no report can be made of.
    #[error(transparent)]
    Report(#[from] NotReported),
    /// Findings of severity error in rows and sheet, a line each.
    #[error("{}", .0.iter().map(Finding::text).join("\n"))]
    Stopped(Vec<Finding>),
    /// No standard time.
    #[error(
        "flight.standard_time: missing from the sheet, and NIL needs the time without a report; write standard_time = \"2031-01-15T12:00:00Z\" under [flight]"
    )]
    NoStandard,
    /// A descent without temperature.
    #[error(
        "no row of the descent has a temperature, which its levels are chosen by; check the name of the column"
    )]
    NoDescentTemperature,
    /// A descent by height.
    #[error(
        "no row of the descent has a pressure, which BUFR 3 09 056 needs; check the name of the column"
    )]
    NoDescentPressure,
    /// An early message of a descent.
    #[error("a descent has no early message; code it complete")]
    NoEarlyDescent,
    /// The fall of a drop.
    #[error("a descent is that of a radiosonde after burst; code a dropsonde as TEMP")]
    DescentOfDrop,
    /// A value or a piece of identification.
    #[error(transparent)]
    Code(#[from] CodeError),
}

/// A flight, coded.
#[derive(Clone, Debug)]
pub struct Coded {
    /// The report in unrounded values, levels with reasons.
    pub report: Report,
    /// The message in figures; its `Display` is the text.
    pub message: Message,
    /// How well the levels give the profile back; not counted.
    pub fidelity: Fidelity,
    /// Everything to be said about the choice and the coding.
    pub findings: Vec<Finding>,
}

/// Codes an ascent (or a drop) as TEMP or PILOT: chooses the levels, builds the report, rounds it
/// into a message and holds the profile against what the message says.
///
/// [`Reach::To100`] makes the early message of an ascent that is still going on:
/// Parts A and B; what the rows so far leave open is reported.
///
/// # Errors
/// A flight that the form cannot hold, or a value that no figure can; a descent,
/// which has no text code (see [`report()`]).
///
/// ```
/// use fivefig::input::sheet;
/// use fivefig::input::sheet::Source;
/// use fivefig::model::{Form, Reach};
/// use fivefig::{input, issue, profile};
///
/// let name = "winter_jet";
/// let sheet = std::fs::read_to_string(format!("samples/{name}.toml"))?;
/// let rows = std::fs::read(format!("samples/{name}.csv"))?;
/// let (sheet, _) = sheet::read(&[Source { name, text: &sheet }])?;
/// let raw = input::text::read(&rows, name, &sheet.reading)?.value;
/// let ascent = profile::build(&raw, &sheet.context)?.value;
/// let coded = issue::code(Form::Temp, &ascent, &sheet.context, Reach::Whole)?;
/// assert!(coded.message.to_string().starts_with("TTAA 15111 99011 99004 04430"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn code(
    form: Form,
    ascent: &Profile,
    context: &Context,
    reach: Reach,
) -> Result<Coded, Refused> {
    code_of(form, ascent, (context, Origin::Program), reach)
}

/// The same of a context that a sheet may have given.
fn code_of(
    form: Form,
    ascent: &Profile,
    (context, origin): (&Context, Origin),
    reach: Reach,
) -> Result<Coded, Refused> {
    if form == Form::Descent {
        return Err(CodeError::NoTextCode.into());
    }
    let column = Column::new(ascent, &context.coding);
    if reach == Reach::To100 {
        levels::rows_up_to_100(ascent, &context.coding).ok_or(Refused::NotYet)?;
        return one(form, ascent, &column, (context, origin), reach);
    }
    let mut coded = one(form, ascent, &column, (context, origin), reach)?;
    coded
        .findings
        .extend(about_the_flight(form, ascent, context));
    let since = early::since_early(form, ascent, &column, context, &coded);
    coded.findings.extend(since);
    Ok(coded)
}

/// Chooses the levels of a flight and builds its report, in unrounded values and
/// with the findings: what every form is written from, text or not.
///
/// # Errors
/// A flight that the form cannot hold.
///
/// ```
/// use fivefig::input::sheet;
/// use fivefig::input::sheet::Source;
/// use fivefig::model::{Form, Reach};
/// use fivefig::{input, issue, profile};
///
/// let name = "descent";
/// let sheet = std::fs::read_to_string(format!("samples/{name}.toml"))?;
/// let rows = std::fs::read(format!("samples/{name}.csv"))?;
/// let (sheet, _) = sheet::read(&[Source { name, text: &sheet }])?;
/// let raw = input::text::read(&rows, name, &sheet.reading)?.value;
/// let fall = profile::build_for(Form::Descent, &raw, &sheet.context)?.value;
/// let report = issue::report(Form::Descent, &fall, &sheet.context, Reach::Whole)?.value;
/// let start = report.start.expect("a descent has one");
/// assert!(start.height_m > Some(20_000.0));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn report(
    form: Form,
    flight: &Profile,
    context: &Context,
    reach: Reach,
) -> Result<Noted<Report>, Refused> {
    let column = Column::new(flight, &context.coding);
    report_on(form, flight, &column, (context, Origin::Program), reach)
}

fn report_on(
    form: Form,
    flight: &Profile,
    column: &Column,
    (context, origin): (&Context, Origin),
    reach: Reach,
) -> Result<Noted<Report>, Refused> {
    let (coding, orders) = (&context.coding, &context.orders);
    let descent = form == Form::Descent;
    let stopping = verify::profile::stopping(flight, context);
    if !stopping.is_empty() {
        return Err(Refused::Stopped(stopping));
    }
    let chosen = match form {
        Form::Descent if reach == Reach::To100 => return Err(Refused::NoEarlyDescent),
        Form::Descent if context.station.kind == StationKind::Drop => {
            return Err(Refused::DescentOfDrop);
        }
        Form::Temp | Form::Descent => {
            if !profile::has_temperature(flight) {
                return Err(if descent {
                    Refused::NoDescentTemperature
                } else {
                    Refused::NoTemperature
                });
            }
            if flight.axis == Axis::Height {
                return Err(if descent {
                    Refused::NoDescentPressure
                } else {
                    Refused::NoPressure
                });
            }
            levels::choose_on(flight, column, coding, orders, reach)
        }
        Form::Pilot => {
            if flight.rows.iter().all(|r| r.wind.is_none()) {
                return Err(Refused::NoWind);
            }
            levels::choose_winds(flight, coding, orders, reach)
        }
    };
    Ok(report::build_of(
        form,
        flight,
        chosen,
        (context, origin),
        reach,
    )?)
}

fn one(
    form: Form,
    ascent: &Profile,
    column: &Column,
    given: (&Context, Origin),
    reach: Reach,
) -> Result<Coded, Refused> {
    let Noted {
        value: report,
        mut findings,
    } = report_on(form, ascent, column, given, reach)?;
    let Noted {
        value: message,
        findings: notes,
    } = text::message(&report)?;
    findings.extend(notes);
    let fidelity = fidelity::on_columns(column, &report, &message.report());
    findings.extend(fidelity.findings(&report));
    Ok(Coded {
        report,
        message,
        fidelity,
        findings,
    })
}

/// What the ground check of the sonde says.
fn ground_check(context: &Context) -> Vec<Finding> {
    let check = context.ground_check.as_ref();
    let verdict = check.map(|check| profile::ground_check(check, context.flight.release));
    verdict.map(|verdict| verdict.findings).unwrap_or_default()
}

/// What the sheet asks to be reported of the flight as a whole.
fn about_the_flight(form: Form, ascent: &Profile, context: &Context) -> Vec<Finding> {
    let mut findings = match form {
        Form::Temp => verify::profile::at_release(ascent, context),
        _ => ground_check(context),
    };
    let top = ascent.rows.last().and_then(|row| row.pressure_hpa);
    if let (Some(top), Some(wanted)) = (top, context.coding.advise_below_hpa)
        && top > wanted
        && ascent.motion == Motion::Rising
    {
        findings.push(finding!(
            SecondReleaseAdvised,
            Place::pressure(top),
            top_hpa = top,
            [wanted_hpa = wanted]
        ));
    }
    if let Some(other) = &context.flight.not_reported {
        let place = Place::key("flight.not_reported");
        findings.push(finding!(FlightNotReported, place, flight = other));
    }
    findings
}

/// A report that there is none: NIL for every scheduled part, or the reason
/// where the Region has one.
///
/// The hour is that of the standard time.
///
/// # Errors
/// No standard time, or a piece of identification that is missing.
pub fn nil(form: Form, context: &Context) -> Result<(Report, Message), Refused> {
    let flight = &context.flight;
    let standard = flight.standard_time.ok_or(Refused::NoStandard)?;
    sheet::check_context(context).map_err(NotReported::Context)?;
    let asked = tables::hours_parts(&context.coding, form, standard.hour());
    let wanted: Vec<Part> = match (&context.bulletin.parts, asked) {
        (Some(letters), _) => letters.chars().filter_map(Part::from_letter).collect(),
        (None, Some(parts)) => parts.to_vec(),
        (None, None) => Part::ALL.to_vec(),
    };
    let reason = levels::report::regional_reason(context).filter(|_| form == Form::Temp);
    let mut context = context.clone();
    context.coding.hour = Hour::Synoptic;
    let report = Report {
        form,
        when: When::Full {
            release: flight.release.unwrap_or(standard),
            standard,
        },
        parts: wanted
            .into_iter()
            .map(|part| (part, levels::report::nil(reason.clone())))
            .collect(),
        ..Report::empty(context)
    };
    let message = text::message(&report)?.value;
    Ok((report, message))
}
