//! One ascent in several messages (3 09 060 to 3 09 066): every subset is a level, and
//! the messages of one station and launch are one profile.

use super::meaning::Meaning;
use super::quality::About;
use super::seen::{Parts, Seen};
use super::sounding::divide_parts;
use super::{Layout, NotSounding, Received, Sounding, unused};
use crate::model::finding::{Place, counted, finding};
use crate::model::{Axis, Level, Quality, Roles};
use crate::tables::PieceKind;

/// The report of a message whose subsets are levels.
///
/// # Errors
/// As [`super::to_report`].
pub(super) fn sounding(
    layout: &Layout,
    meaning: &Meaning,
    received: &Received,
) -> Result<Sounding, NotSounding> {
    let message = &received.message;
    let mut seen = Seen::default();
    let mut about = About::default();
    let mut surface = false;
    for (subset, values) in message.values.iter().enumerate() {
        about.extend(About::new(received, layout, subset, values));
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
    let mut sounding = seen.sounding(meaning, &message.section1, &about)?;
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
    let with_quality = |piece: &mut Sounding| {
        let levels = std::mem::take(&mut piece.report.levels).into_iter();
        let mut quality = std::mem::take(&mut piece.quality.levels).into_iter();
        let all = levels.map(|level| (level, quality.next().unwrap_or_default()));
        all.collect::<Vec<Rated>>()
    };
    let mut levels = with_quality(&mut first);
    for mut piece in pieces {
        levels.extend(with_quality(&mut piece));
        for of_head in piece.quality.head {
            if !first.quality.head.contains(&of_head) {
                first.quality.head.push(of_head);
            }
        }
        first.report.missing.extend(piece.report.missing);
        first.findings.extend(piece.findings);
    }
    first.report.axis = Axis::Pressure;
    (first.report.levels, first.quality.levels) = merged(levels).into_iter().unzip();
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

/// A level, and what its message says of its values.
type Rated = (Level, Vec<Quality>);

/// Levels of one time as one, in the order of time; those without a time join a level
/// of the same pressure.
fn merged(levels: Vec<Rated>) -> Vec<Rated> {
    let (mut timed, untimed): (Vec<Rated>, Vec<Rated>) = levels
        .into_iter()
        .partition(|(l, _)| l.row.time_s.is_some());
    // Stable: of one time, those of the piece that came first stay first.
    timed.sort_by(|(a, _), (b, _)| {
        let of = |l: &Level| l.row.time_s.unwrap_or(f64::NEG_INFINITY);
        of(a).total_cmp(&of(b))
    });
    let mut out: Vec<Rated> = Vec::with_capacity(timed.len());
    for level in timed {
        match out
            .last_mut()
            .filter(|(last, _)| last.row.time_s == level.0.row.time_s)
        {
            Some(last) => unite(last, level),
            None => out.push(level),
        }
    }
    for level in untimed {
        let same = out.iter_mut().find(|(own, _)| {
            own.row.pressure_hpa.is_some() && own.row.pressure_hpa == level.0.row.pressure_hpa
        });
        match same {
            Some(own) => unite(own, level),
            None => out.insert(0, level),
        }
    }
    out
}

/// What a level lacks comes from another one, with what is said of it.
fn unite((own, rated): &mut Rated, (other, of_other): Rated) {
    own.roles |= other.roles;
    let (row, more) = (&mut own.row, other.row);
    // The classes of BUFR elements whose values are taken over.
    let mut taken = Vec::new();
    macro_rules! take {
        ($($key:ident $classes:expr;)*) => {$(
            if row.$key.is_none() && more.$key.is_some() {
                row.$key = more.$key;
                taken.extend($classes);
            }
        )*};
    }
    take! {
        time_s ["004"];
        pressure_hpa ["007"];
        height_gpm ["007", "010"];
        temperature_c ["012"];
        dewpoint_c ["012"];
        humidity_pct ["013"];
        wind ["011"];
        place ["005", "006"];
    }
    let is_taken = |quality: &Quality| taken.iter().any(|class| quality.element.starts_with(class));
    rated.extend(of_other.into_iter().filter(is_taken));
}
