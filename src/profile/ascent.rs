//! Which rows belong to the ascent, and their order.

use super::tally::{Kind, Tally};
use super::{Numbered, observes};
use crate::model::{Axis, Motion};

/// Takes off rows at the end that observe nothing: a height computed above the
/// top is no measurement.
pub(super) fn trim_top(rows: &mut Vec<Numbered>, tally: &mut Tally) {
    let kept = rows.iter().rposition(|r| observes(&r.row));
    for gone in rows.drain(kept.map_or(0, |i| i + 1)..) {
        tally.add(Kind::NoObservation, gone.line);
    }
}

/// The rows whose pressure is not above any earlier one (or whose height is
/// above every earlier one); those after the top are distinguished. Empty when
/// nothing rises.
pub(super) fn along(
    mut rows: Vec<Numbered>,
    axis: Axis,
    motion: Motion,
    tally: &mut Tally,
) -> Vec<Numbered> {
    let outside = match motion {
        Motion::Rising => Kind::AfterBurst,
        Motion::Falling => Kind::BeforeTop,
    };
    let top = top(&rows, axis);
    let mut least = f64::INFINITY;
    let mut i = 0;
    rows.retain(|numbered| {
        let after = i > top;
        i += 1;
        let Some(here) = numbered.falling(axis) else {
            return false;
        };
        let keep = !after && (here < least || (here == least && axis == Axis::Pressure));
        if keep {
            least = here;
        } else {
            let kind = if after { outside } else { Kind::PressureRises };
            tally.add(kind, numbered.line);
        }
        keep
    });
    order_ties(&mut rows, axis, tally);
    let ends = rows.first().zip(rows.last());
    if !ends.is_some_and(|(a, b)| b.falling(axis) < a.falling(axis)) {
        rows.clear();
    }
    rows
}

/// The last row of least pressure, or the first of greatest height.
fn top(rows: &[Numbered], axis: Axis) -> usize {
    let mut top = 0;
    let mut least = f64::INFINITY;
    for (i, row) in rows.iter().enumerate() {
        if let Some(here) = row.falling(axis)
            && (here < least || (here == least && axis == Axis::Pressure))
        {
            (top, least) = (i, here);
        }
    }
    top
}

/// Puts runs of equal pressures in order ([`sort_ties`]); else the order of time
/// stands. The surface row stays the first: what lies below it in its run goes.
fn order_ties(rows: &mut Vec<Numbered>, axis: Axis, tally: &mut Tally) {
    let surface = rows.first().map(|r| (r.falling(axis), r.row.height_gpm));
    if let Some((at, Some(ground))) = surface {
        let mut run = true;
        let mut first = true;
        rows.retain(|r| {
            run = run && r.falling(axis) == at;
            let below = run && !first && r.row.height_gpm.is_some_and(|z| z < ground);
            first = false;
            if below {
                tally.add(Kind::BelowSurface, r.line);
            }
            !below
        });
    }
    sort_ties(rows, axis);
}

/// Puts each run of equal pressures in the order of height, where every row of
/// the run has one.
pub(super) fn sort_ties(rows: &mut [Numbered], axis: Axis) {
    for run in rows.chunk_by_mut(|a, b| a.falling(axis) == b.falling(axis)) {
        if run.len() > 1 && run.iter().all(|r| r.row.height_gpm.is_some()) {
            // Stable: rows of equal height too stay in the order of time.
            run.sort_by(|a, b| {
                let height = |r: &Numbered| r.row.height_gpm.unwrap_or(f64::NEG_INFINITY);
                height(a).total_cmp(&height(b))
            });
        }
    }
}
