//! Curves: broken where a value is missing, thinned below what can be seen, and
//! written in figures of one decimal.

use crate::physics::angles::shorter_arc;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// A place on the page, x to the right and y down.
pub(super) type Spot = (f64, f64);

/// The farthest, in units of the view box, that a thinned curve lies from the
/// full one. The rounding of coordinates to tenths adds 0.07 at most, so that a
/// curve is true to a quarter of a unit: 0.05 mm on an A4 sheet. (Where rows lie
/// closer than four to 0.4 units of height, 0.4 more along the curve.)
pub(super) const THIN_PX: f64 = 0.15;

/// The height of a slice in which a curve of very many rows keeps its outline.
const FLAT_PX: f64 = 0.4;

/// Rows that are thinned in one go, which bounds the work.
const STRETCH: usize = 512;

/// Runs of values without a gap.
pub(super) fn runs<T>(values: impl Iterator<Item = Option<T>>) -> Vec<Vec<T>> {
    let mut runs = Vec::new();
    let mut run = Vec::new();
    for value in values {
        match value {
            Some(value) => run.push(value),
            None if !run.is_empty() => runs.push(std::mem::take(&mut run)),
            None => {}
        }
    }
    if !run.is_empty() {
        runs.push(run);
    }
    runs
}

/// Fewer points, no point of the whole farther than [`THIN_PX`] from the chords
/// of what is left: D. Douglas and T. Peucker, 1973, The Canadian Cartographer
/// 10, 112–122.
pub(super) fn thinned(points: &[Spot]) -> Vec<Spot> {
    let mut kept = Vec::new();
    let mut start = 0;
    while start < points.len() {
        let end = (start + STRETCH).min(points.len() - 1);
        let stretch = points.get(start..=end).unwrap_or_default();
        kept.extend(stretch.first());
        split(stretch, &mut kept);
        if end + 1 >= points.len() {
            kept.extend(stretch.last().filter(|_| stretch.len() > 1));
            break;
        }
        start = end;
    }
    kept
}

/// The same for a curve that runs up the page: where more than four points lie
/// within [`FLAT_PX`] of height, the first, the outermost and the last stand for
/// them. However many rows there are, the curve has no more points than that.
pub(super) fn thinned_up(points: &[Spot]) -> Vec<Spot> {
    let slice = |at: &Spot| (at.1 / FLAT_PX).floor();
    let mut few = Vec::new();
    for group in points.chunk_by(|a, b| slice(a) == slice(b)) {
        if group.len() <= 4 {
            few.extend_from_slice(group);
            continue;
        }
        let by_x = |a: &(usize, &Spot), b: &(usize, &Spot)| a.1.0.total_cmp(&b.1.0);
        let left = group.iter().enumerate().min_by(by_x).map(|(i, _)| i);
        let right = group.iter().enumerate().max_by(by_x).map(|(i, _)| i);
        let kept = [Some(0), left, right, Some(group.len() - 1)];
        let kept = kept.into_iter().flatten().collect::<BTreeSet<usize>>();
        few.extend(kept.into_iter().filter_map(|i| group.get(i)));
    }
    thinned(&few)
}

/// Points between the ends of a stretch that have to stay, in their order.
fn split(stretch: &[Spot], kept: &mut Vec<Spot>) {
    let mut todo = vec![stretch];
    while let Some(part) = todo.pop() {
        let (Some(&first), Some(&last)) = (part.first(), part.last()) else {
            continue;
        };
        let inner = part.iter().enumerate().take(part.len() - 1).skip(1);
        let far = inner
            .map(|(i, &at)| (i, from_chord(at, first, last)))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .filter(|&(_, off)| off > THIN_PX);
        if let Some((i, _)) = far {
            todo.extend(part.get(i..));
            todo.extend(part.get(..=i));
        } else if todo.last().is_some() {
            // The end of this part begins the next one.
            kept.push(last);
        }
    }
}

/// Distance of a place from a chord.
fn from_chord(at: Spot, first: Spot, last: Spot) -> f64 {
    let (dx, dy) = (last.0 - first.0, last.1 - first.1);
    let (x, y) = (at.0 - first.0, at.1 - first.1);
    let length = dx * dx + dy * dy;
    let share = if length > 0.0 {
        ((x * dx + y * dy) / length).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (x - share * dx).hypot(y - share * dy)
}

/// A number with one decimal.
pub(super) fn tenth(value: f64) -> f64 {
    let tenth = (value * 10.0).round() / 10.0;
    // No negative nought.
    if tenth.is_finite() { tenth + 0.0 } else { 0.0 }
}

/// A number of one decimal without a nought before the point, as SVG allows it.
fn short(tenths: f64) -> String {
    let text = format!("{tenths:.1}");
    match (text.strip_prefix("0."), text.strip_prefix("-0.")) {
        (Some(rest), _) => format!(".{rest}"),
        (_, Some(rest)) => format!("-.{rest}"),
        _ => text,
    }
}

/// A polyline as path data: one place in full, the others from each to the next.
pub(super) fn polyline(points: &[Spot]) -> String {
    let mut data = String::new();
    let mut last: Option<Spot> = None;
    for &(x, y) in points {
        let (x, y) = (tenth(x), tenth(y));
        let _ = match last {
            None => write!(data, "M{} {}", short(x), short(y)),
            Some(at) if at == (x, y) => continue,
            Some((x0, y0)) => {
                let (dx, dy) = (short(tenth(x - x0)), short(tenth(y - y0)));
                // A sign parts two numbers as well as a blank does.
                let between = if dy.starts_with('-') { "" } else { " " };
                write!(data, "l{dx}{between}{dy}")
            }
        };
        last = Some((x, y));
    }
    data
}

/// Directions without jumps: each next one is the nearest to the one before, so
/// that they leave 0 to 360.
pub(super) fn unwrapped(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut last: Option<f64> = None;
    let turn = |&(dir, y): &(f64, f64)| {
        let whole = last.map_or(dir, |before| before + shorter_arc(dir - before));
        last = Some(whole);
        (whole, y)
    };
    points.iter().map(turn).collect()
}

/// The inverse for a line: pieces within 0 to 360, which end at one edge where
/// the next begins at the other.
pub(super) fn wrapped(points: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
    /// The most turns between two points that are drawn; a curve has none.
    const TURNS: usize = 4;
    let mut pieces = Vec::new();
    let mut piece: Vec<(f64, f64)> = Vec::new();
    let mut sheet = points.first().map_or(0.0, |p| (p.0 / 360.0).floor());
    for &(dir, y) in points {
        for _ in 0..TURNS {
            let low = 360.0 * sheet;
            let up = dir > low + 360.0;
            if !up && dir >= low {
                break;
            }
            let edge = if up { low + 360.0 } else { low };
            if let Some(&(before, y0)) = piece.last() {
                let before = before + low;
                let share = (edge - before) / (dir - before);
                let cross = y0 + (y - y0) * if share.is_finite() { share } else { 0.0 };
                piece.push((edge - low, cross));
                pieces.push(std::mem::take(&mut piece));
                piece.push((if up { 0.0 } else { 360.0 }, cross));
            }
            sheet += if up { 1.0 } else { -1.0 };
        }
        piece.push(((dir - 360.0 * sheet).clamp(0.0, 360.0), y));
    }
    if !piece.is_empty() {
        pieces.push(piece);
    }
    pieces
}

#[cfg(test)]
mod tests;
