//! The one place where a flight becomes a report with its message.

use thiserror::Error;

use crate::code::{self, CodeError, Message};
use crate::finding::Finding;
use crate::sounding::{Axis, Context, Form, Profile, Reach, Report};
use crate::verify::fidelity::{Fidelity, fidelity};
use crate::{levels, profile, report};

/// Why a flight cannot be coded.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum Refused {
    /// Winds alone.
    #[error(
        "temperature is missing throughout; TEMP needs it, PILOT is the form for winds alone (--form pilot)"
    )]
    NoTemperature,
    /// Winds by height.
    #[error(
        "pressure is missing throughout; TEMP needs it, PILOT takes winds by height (--form pilot)"
    )]
    NoPressure,
    /// PILOT without winds.
    #[error("wind is missing throughout; PILOT is the form for winds")]
    NoWind,
    /// No time of release.
    #[error("flight.release: no sheet gives it")]
    NoRelease,
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

/// Codes an ascent as TEMP or PILOT: chooses the levels, builds the report, rounds it
/// into a message and holds the profile against what the message says.
///
/// `reach` is [`Reach::To100`] for an early message from a profile cut at
/// 100 hPa.
///
/// # Errors
/// A flight that the form cannot hold, or a value that no figure can.
///
/// ```
/// use fivefig::sheet::{self, Source};
/// use fivefig::sounding::{Form, Reach};
/// use fivefig::{product, profile, source};
///
/// let name = "winter_jet";
/// let sheet = std::fs::read_to_string(format!("samples/{name}.toml"))?;
/// let rows = std::fs::read(format!("samples/{name}.csv"))?;
/// let (sheet, _) = sheet::read(&[Source { name, text: &sheet }]).map_err(|e| format!("{e:?}"))?;
/// let (raw, _) = source::text::read(&rows, name, &sheet.reading)?;
/// let (ascent, _) = profile::build(&raw, &sheet.context)?;
/// let coded = product::code(Form::Temp, &ascent, &sheet.context, Reach::Whole)?;
/// assert!(coded.message.to_string().starts_with("TTAA 15111 99011 99004 04430"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn code(
    form: Form,
    ascent: &Profile,
    context: &Context,
    reach: Reach,
) -> Result<Coded, Refused> {
    let (coding, orders) = (&context.coding, &context.orders);
    let chosen = match form {
        Form::Temp => {
            if !profile::has_temperature(ascent) {
                return Err(Refused::NoTemperature);
            }
            if ascent.axis == Axis::Height {
                return Err(Refused::NoPressure);
            }
            levels::choose(ascent, coding, orders, reach)
        }
        Form::Pilot => {
            if ascent.rows.iter().all(|r| r.wind.is_none()) {
                return Err(Refused::NoWind);
            }
            levels::choose_winds(ascent, coding, orders, reach)
        }
    };
    let (report, mut findings) =
        report::build(form, ascent, chosen, context, reach).ok_or(Refused::NoRelease)?;
    let (message, notes) = code::message(&report)?;
    findings.extend(notes);
    let fidelity = fidelity(ascent, coding, &report, &message.report());
    findings.extend(fidelity.findings(&report));
    Ok(Coded {
        report,
        message,
        fidelity,
        findings,
    })
}
