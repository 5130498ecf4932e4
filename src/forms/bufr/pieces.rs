//! One ascent in several messages (3 09 060 to 3 09 066): every subset is a level, and
//! the messages of one station and launch are one profile.

use super::meaning::Meaning;
use super::quality::About;
use super::seen::{Parts, Seen};
use super::sounding::divide_parts;
use super::{Layout, Message, NotSounding, Sounding, unused};
use crate::model::finding::{Place, counted, finding};
use crate::model::{Axis, Level, Qualities, Roles};
use crate::tables::PieceKind;

/// The report of a message whose subsets are levels.
///
/// # Errors
/// As [`super::to_report`].
pub(super) fn sounding(
    layout: &Layout,
    meaning: &Meaning,
    message: &Message,
) -> Result<Sounding, NotSounding> {
    let mut seen = Seen::default();
    let mut surface = false;
    for values in &message.values {
        let mut parts = Parts::of(&Seen::of(layout, values)?.head);
        if seen.head.is_empty() {
            seen.head.append(&mut parts.head);
        }
        // The surface observation is the first level.
        if !parts.surface.is_empty() {
            surface |= seen.levels.is_empty();
            seen.levels.push(parts.surface);
        }
        for level in [parts.level, parts.end] {
            if !level.is_empty() {
                seen.levels.push(level);
            }
        }
    }
    let mut sounding = seen.sounding(meaning, &message.section1, &About::default())?;
    if let Some(first) = sounding.report.levels.first_mut().filter(|_| surface) {
        first.roles |= Roles::SURFACE;
    }
    sounding.findings.extend(unused::tell(&seen));
    Ok(sounding)
}

/// Joins the pieces of each ascent into the first of them; the order of the others
/// stays.
pub(crate) fn join(soundings: Vec<Sounding>) -> Vec<Sounding> {
    let mut out: Vec<Sounding> = Vec::new();
    let mut ascents: Vec<(usize, Vec<Sounding>)> = Vec::new();
    for sounding in soundings {
        if sounding.piece.is_none() {
            out.push(sounding);
            continue;
        }
        let same = ascents.iter_mut().find(|(_, pieces)| {
            pieces
                .first()
                .is_some_and(|first| is_same_ascent(first, &sounding))
        });
        match same {
            Some((_, pieces)) => pieces.push(sounding),
            None => ascents.push((out.len(), vec![sounding])),
        }
    }
    // From the last, so that the places of the others stay.
    for (at, pieces) in ascents.into_iter().rev() {
        if let Some(joined) = joined(pieces) {
            out.insert(at.min(out.len()), joined);
        }
    }
    out
}

fn is_same_ascent(a: &Sounding, b: &Sounding) -> bool {
    let of = |s: &Sounding| {
        let (station, flight) = (&s.report.context.station, &s.report.context.flight);
        (station.wmo_block, station.wmo_number, flight.release)
    };
    of(a) == of(b)
}

/// One report of the pieces of an ascent: the processed levels, the raw ones where
/// there are no processed ones.
fn joined(mut pieces: Vec<Sounding>) -> Option<Sounding> {
    let has = |pieces: &[Sounding], kind| pieces.iter().any(|p| p.piece == Some(kind));
    let count = pieces.len();
    let mut left_out = 0;
    if has(&pieces, PieceKind::Processed) {
        pieces.retain(|p| p.piece != Some(PieceKind::Raw));
        left_out = count - pieces.len();
    }
    // Registration first: it has all of station and equipment. Then pieces with
    // pressure, whose levels those without one join.
    pieces.sort_by_key(|p| {
        (
            p.piece != Some(PieceKind::Registration),
            p.report.axis != Axis::Pressure,
        )
    });
    let mut pieces = pieces.into_iter();
    let mut first = pieces.next()?;
    if count == 1 {
        return Some(first);
    }
    let mut levels = std::mem::take(&mut first.report.levels);
    first.quality = Qualities::default();
    for piece in pieces {
        levels.extend(piece.report.levels);
        first.report.missing.extend(piece.report.missing);
        first.findings.extend(piece.findings);
    }
    first.report.axis = Axis::Pressure;
    first.report.levels = merged(levels);
    divide_parts(&mut first.report);
    first.findings.dedup_by(|a, b| a == b);
    let mut note = |finding| first.findings.push(finding);
    let messages = counted(count, "message");
    note(finding!(
        MessagesJoined,
        Place::default(),
        messages = messages
    ));
    if left_out > 0 {
        let messages = counted(left_out, "message");
        note(finding!(RawNotUsed, Place::default(), messages = messages));
    }
    Some(first)
}

/// Levels of one time as one, in the order of time; those without a time join a level
/// of the same pressure.
fn merged(levels: Vec<Level>) -> Vec<Level> {
    let (mut timed, untimed): (Vec<Level>, Vec<Level>) =
        levels.into_iter().partition(|l| l.row.time_s.is_some());
    // Stable: of one time, those of the piece that came first stay first.
    timed.sort_by(|a, b| {
        let of = |l: &Level| l.row.time_s.unwrap_or(f64::NEG_INFINITY);
        of(a).total_cmp(&of(b))
    });
    let mut out: Vec<Level> = Vec::with_capacity(timed.len());
    for level in timed {
        match out
            .last_mut()
            .filter(|last| last.row.time_s == level.row.time_s)
        {
            Some(last) => unite(last, level),
            None => out.push(level),
        }
    }
    for level in untimed {
        let same = out.iter_mut().find(|own| {
            own.row.pressure_hpa.is_some() && own.row.pressure_hpa == level.row.pressure_hpa
        });
        match same {
            Some(own) => unite(own, level),
            None => out.insert(0, level),
        }
    }
    out
}

/// What a level lacks comes from another one.
fn unite(own: &mut Level, other: Level) {
    own.roles |= other.roles;
    let (row, more) = (&mut own.row, other.row);
    row.time_s = row.time_s.or(more.time_s);
    row.pressure_hpa = row.pressure_hpa.or(more.pressure_hpa);
    row.height_gpm = row.height_gpm.or(more.height_gpm);
    row.temperature_c = row.temperature_c.or(more.temperature_c);
    row.dewpoint_c = row.dewpoint_c.or(more.dewpoint_c);
    row.humidity_pct = row.humidity_pct.or(more.humidity_pct);
    row.wind = row.wind.or(more.wind);
    row.place = row.place.or(more.place);
}
