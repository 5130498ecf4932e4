//! Which template a report goes out in, and which one a message has.

use itertools::Itertools;

use thiserror::Error;

use super::not_written::NotWritten;
use super::{Descriptor, Fault, Message};
use crate::model::{Axis, Form, Report, StationKind};
use crate::tables;
use crate::tables::BufrTemplate;

/// Why a message is no report of a sounding.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum NotSounding {
    /// Another kind of data.
    #[error(
        "section 3: {meaning} ({element} stands in {template}), which is not an ascent of a radiosonde or pilot balloon"
    )]
    Other {
        /// The descriptors of section 3.
        template: String,
        /// What the data are.
        meaning: &'static str,
        /// The element that shows it.
        element: Descriptor,
    },
    /// Nothing that repeats as levels do.
    #[error(
        "section 3: no levels repeat in {0}; a level has a pressure or height, and a wind, temperature or humidity"
    )]
    NoLevels(String),
    /// No time.
    #[error("section 1 and the launch time give no complete date")]
    Time,
    /// The list of values does not fit the template.
    #[error("section 4: {0}")]
    Values(#[from] Fault),
}

/// The template for a report: what the sheet wants, else the preferred one.
///
/// # Errors
/// A template that does not carry such a report, or that is only read.
pub(super) fn wanted(report: &Report) -> Result<&'static BufrTemplate, NotWritten> {
    let drop = report.context.station.kind == StationKind::Drop;
    // By pressure wherever every level has one, by height elsewhere.
    let axis = match report.form {
        Form::Descent => report.axis,
        _ if report.levels.iter().all(|l| l.row.pressure_hpa.is_some()) => Axis::Pressure,
        _ => Axis::Height,
    };
    let heights = || report.levels.iter().all(|l| l.row.height_gpm.is_some());
    let fits = |t: &&BufrTemplate| {
        let along =
            t.axis == axis || (report.form == Form::Pilot && t.axis == Axis::Height && heights());
        t.form == report.form && along && t.drop == drop && t.written
    };
    let all = tables::bufr_templates();
    // A sheet names the template of its TEMP or PILOT; descents have one alone.
    let wanted = report.context.bufr.template.as_ref();
    let Some(wanted) = wanted.filter(|_| report.form != Form::Descent) else {
        let form = match (report.form, axis) {
            (Form::Temp, Axis::Pressure) => "TEMP of this kind of station",
            (Form::Temp, Axis::Height) => "TEMP by height",
            (Form::Pilot, _) => "PILOT of this kind of station",
            (Form::Descent, _) => "descent by height or of a dropped sonde",
        };
        return all.iter().find(fits).ok_or(NotWritten::NoTemplate(form));
    };
    let refused = |why: String| NotWritten::Template {
        template: wanted.clone(),
        why,
    };
    let found = tables::bufr_template(wanted)
        .ok_or_else(|| refused("no template of soundings".to_owned()))?;
    if !found.written {
        return Err(refused("is read, not written".to_owned()));
    }
    if !fits(&found) {
        let mut fitting = all.iter().filter(fits).map(|t| t.descriptor);
        let why = format!(
            "is for {}; this report fits {}",
            found.meaning,
            fitting.join(" or ")
        );
        return Err(refused(why));
    }
    Ok(found)
}

/// The template of soundings among the descriptors of section 3, where there is one.
pub(super) fn found(message: &Message) -> Option<&'static BufrTemplate> {
    let all = tables::bufr_templates();
    let found = message
        .template
        .iter()
        .find_map(|d| all.iter().find(|t| t.descriptor == *d));
    found.or_else(|| spelt_out(message))
}

/// The template whose members stand in section 3 one by one: the one with its
/// levels there, and the most of its other members.
fn spelt_out(message: &Message) -> Option<&'static BufrTemplate> {
    let here = |d: &&Descriptor| message.template.contains(d);
    // Sequences of category 3 are levels and shears, levels first.
    let levels = |d: &&Descriptor| (d.f(), d.x()) == (3, 3);
    tables::bufr_templates()
        .iter()
        .filter_map(|template| {
            let members = tables::bufr_sequence(template.descriptor)?;
            members.iter().find(levels).filter(here)?;
            Some((template, members.iter().filter(here).count()))
        })
        .max_by_key(|(_, members)| *members)
        .map(|(template, _)| template)
}
