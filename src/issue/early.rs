//! After an early message: what of the whole sounding still goes out.
//!
//! The same heading twice without BBB is a duplicate (WMO-No. 386 Part II), so Parts C
//! and D go out alone, and Part A or B again only as a correction of something that
//! matters.

use std::collections::BTreeSet;
use std::path::Path;

use super::correction::same_report;
use super::folder::Name;
use super::outputs::{self, Content, IssueError, Options, Output, Outputs, Wanted};
use super::sent;
use super::{Coded, Flight, report};
use crate::forms::text::{self, Body, Message};
use crate::levels::{self, Column};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Context, Form, Part, Profile, Reach, Roles};
use crate::tables;
use crate::verify::compare::{Difference, Presence, Tolerance, compare};

/// What still goes out of a whole sounding whose early message is out.
#[derive(Clone, Debug)]
pub struct Remaining {
    /// The flight, its levels chosen from those that were sent.
    pub flight: Flight,
    /// The correction of the early message, where something that matters changed.
    pub correction: Option<(Name, Outputs)>,
    /// The parts that were not sent.
    pub parts: BTreeSet<Part>,
    /// The outputs of these parts, and BUFR, which is whole; `None` where all that is
    /// wanted is out.
    pub rest: Option<Outputs>,
}

/// What still goes out of a whole sounding: `None` where no early message of it lies in
/// the folder of issues, or the sheet wants every part again.
///
/// `name` is that of the whole report without letter, `options.bbb` the letter of the
/// parts that go out for the first time (RRx, or none).
///
/// # Errors
/// An early message that cannot be read; see [`IssueError`].
pub fn remaining(
    flight: &Flight,
    out: &Path,
    name: &Name,
    wanted: &Wanted,
    options: &Options,
) -> Result<Option<Remaining>, IssueError> {
    let context = &flight.report.context;
    let wanted_after = tables::parts_after_early(&context.coding, flight.report.form);
    let wanted_after = wanted_after.map(<[Part]>::to_vec);
    let every = |parts: &Vec<Part>| Part::ALL.iter().all(|part| parts.contains(part));
    let repeat = match &wanted_after {
        Some(parts) => every(parts),
        None => context.bulletin.repeat_early,
    };
    let Some(early) = name.early().filter(|_| !repeat) else {
        return Ok(None);
    };
    let Some(sent) = sent::earlier_with(out, &early, context.coding.practice.as_ref())? else {
        return Ok(None);
    };
    let flight = flight.after(&sent)?;
    let mut findings = Vec::new();
    let mut correction = None;
    let mut rest = flight.clone();
    if let (Some(was), Some(now)) = (&sent.message, &flight.message) {
        same_report(was, now)?;
        let mut again = matters(was, now);
        // A part that goes out again needs no correction.
        again.retain(|part| wanted_after.as_ref().is_none_or(|own| !own.contains(part)));
        if let Some(finding) = stands(was, now, &again) {
            findings.push(finding);
        }
        if !again.is_empty() && wanted.iter().any(|&output| of_parts(output)) {
            let letter = outputs::following(sent.last.as_ref());
            let options = Options {
                bbb: letter.clone(),
                ..options.clone()
            };
            let mut changed = flight.clone();
            outputs::keep_parts(&mut changed, |part| again.contains(&part));
            let wanted = wanted.iter().copied().filter(|&output| of_parts(output));
            let outputs = outputs::correct_early(&changed, wanted, &options, &sent)?;
            correction = Some((early.with(letter), outputs));
        }
        outputs::keep_parts(&mut rest, |part| match &wanted_after {
            Some(own) => own.contains(&part),
            None => !was.parts.contains_key(&part),
        });
    }
    let none = rest.message.as_ref().is_some_and(|m| m.parts.is_empty());
    let wanted: Wanted = wanted
        .iter()
        .copied()
        .filter(|&output| !(none && output.content() == Content::Parts))
        .collect();
    let outputs = if outputs::nothing(&wanted) {
        None
    } else {
        let mut outputs = outputs::write(wanted, &rest, &flight, options, None)?;
        outputs.findings.append(&mut findings);
        Some(outputs)
    };
    let parts = rest
        .message
        .iter()
        .flat_map(|m| m.parts.keys().copied())
        .collect();
    Ok(Some(Remaining {
        flight,
        correction,
        parts,
        rest: outputs,
    }))
}

/// Whether an output has the parts of the text: BUFR and the review sheet are whole.
fn of_parts(output: Output) -> bool {
    output.content().has_parts()
}

/// That parts are not the same and still do not go out again.
fn stands(was: &Message, now: &Message, again: &BTreeSet<Part>) -> Option<Finding> {
    let unlike = |part: &Part| was.groups(*part) != now.groups(*part);
    let parts: Vec<String> = was
        .parts
        .keys()
        .filter(|part| unlike(part) && !again.contains(part))
        .map(|part| format!("Part {}", part.letter()))
        .collect();
    (!parts.is_empty()).then(|| {
        let parts = parts.join(" and ");
        finding!(EarlyMessageStands, Place::default(), parts = parts)
    })
}

/// The parts of a message that was sent in which something that matters is not the
/// same now: a standard level, a tropopause, a maximum wind, the surface or a
/// significant level by more than one step of the code, a level on one side only, Id,
/// or a group that the sheet gives. A level that moved by one step does not matter.
///
/// Parts that only one of the messages has are not compared.
#[must_use]
pub fn matters(was: &Message, now: &Message) -> BTreeSet<Part> {
    let both = |part: &Part| was.parts.contains_key(part) && now.parts.contains_key(part);
    let common: BTreeSet<Part> = Part::ALL.into_iter().filter(both).collect();
    if was.unit != now.unit {
        return common;
    }
    let (left, right) = (was.report(), now.report());
    let found = compare(&left, &right, &Tolerance::one_step(&left, &right));
    let mut parts: BTreeSet<Part> = found.iter().flat_map(parts_of).collect();
    for &part in &common {
        let differ = match (was.parts.get(&part), now.parts.get(&part)) {
            (Some(was), Some(now)) => given(was) != given(now),
            _ => false,
        };
        if differ {
            parts.insert(part);
        }
    }
    parts.retain(|part| common.contains(part) && was.groups(*part) != now.groups(*part));
    parts
}

/// The parts that a difference is in. Of a value the upper one may be named in vain,
/// which is not compared where it was not sent.
fn parts_of(difference: &Difference) -> Vec<Part> {
    let of_roles = |roles: Roles| {
        let mut parts = Vec::new();
        if roles.any(Roles::SURFACE | Roles::STANDARD | Roles::TROPOPAUSE | Roles::MAX_WIND) {
            parts.extend([Part::A, Part::C]);
        }
        if roles.any(Roles::SIG_T_OR_U | Roles::SIG_WIND | Roles::REGIONAL) {
            parts.extend([Part::B, Part::D]);
        }
        parts
    };
    match difference {
        Difference::Identity { .. } => Part::ALL.to_vec(),
        Difference::Part { part, left, right } => {
            let missing = [*left, *right].contains(&Presence::Missing);
            if missing { Vec::new() } else { vec![*part] }
        }
        Difference::Missing { parts, .. } => parts.clone(),
        Difference::Value { roles, .. } | Difference::Role { roles, .. } => of_roles(*roles),
        Difference::Layer { .. } => vec![Part::B, Part::D],
        Difference::MaximumOrder { part } => vec![*part],
    }
}

/// Id, and the groups of a part that the sheet gives: no rounding moves them.
fn given(body: &Body) -> impl PartialEq {
    let kept = |regional: &[String], national: &[String]| (regional.to_vec(), national.to_vec());
    match body {
        Body::Standard(p) => (p.id_figure(), p.sonde, None, kept(&p.regional, &p.national)),
        Body::Significant(p) => (
            p.measuring,
            p.sonde,
            p.clouds,
            kept(&p.regional, &p.national),
        ),
        Body::Winds(p) => (p.measuring, None, None, kept(&p.regional, &p.national)),
        Body::Levels(p) => (p.measuring, None, None, kept(&p.regional, &p.national)),
        Body::Nil(nil) => (None, None, None, kept(&nil.reason, &[])),
    }
}

/// Parts A and B of an early message, made when the ascent had just passed 100 hPa,
/// that would have to be corrected now.
pub(super) fn since_early(
    form: Form,
    ascent: &Profile,
    column: &Column,
    context: &Context,
    whole: &Coded,
) -> Option<Finding> {
    let coding = &context.coding;
    let rows = levels::rows_up_to_100(ascent, coding).filter(|&rows| rows < ascent.rows.len())?;
    if !levels::may_differ(ascent, column, rows, &whole.report.levels, coding) {
        return None;
    }
    let cut = levels::up_to_100(ascent, coding)?;
    let early = message(form, &cut, context, Reach::To100)?;
    let same = |part: Part| early.groups(part) == whole.message.groups(part);
    if same(Part::A) && same(Part::B) {
        return None;
    }
    let mut ascent = ascent.clone();
    levels::mark_sent(&mut ascent, &early.report(), coding);
    let last = message(form, &ascent, context, Reach::Whole)?;
    let parts = matters(&early, &last);
    (!parts.is_empty()).then(|| {
        let parts: Vec<String> = parts
            .iter()
            .map(|part| format!("Part {}", part.letter()))
            .collect();
        let parts = parts.join(" and ");
        finding!(EarlyMessageDiffers, Place::default(), parts = parts)
    })
}

/// The message alone, without its fidelity and its findings.
fn message(form: Form, ascent: &Profile, context: &Context, reach: Reach) -> Option<Message> {
    let report = report(form, ascent, context, reach).ok()?.value;
    Some(text::message(&report).ok()?.value)
}
