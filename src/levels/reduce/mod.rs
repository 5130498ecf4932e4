//! The fewest levels from which a curve can be rebuilt within its limits.
//!
//! The rule asks for successive approximation or an equivalent method, and for
//! the number of levels to be kept to the necessary minimum (WMO-No. 306,
//! 32.3.1, 35.3.1.3, 35.3.2.1). Successive approximation alone leaves levels
//! that a later one has made needless; here it only proposes candidates. Among
//! these the shortest path is taken: a chord may join two candidates when every
//! row between departs from it by no more than the limit, before and after the
//! two ends are rounded to the code. Which chords hold is known from one pass
//! upwards with a cone of admissible slopes. Among paths of equal length the
//! one of least squared departure is taken, and its levels are then moved to
//! the rows between their neighbours where that sum is least: the breaks of
//! the curve.

mod least;
mod path;

use std::ops::Range;

pub(crate) use least::least;
use path::shortest;

use crate::levels::corners::Corners;

/// Which end values a chord has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ends {
    /// As in the profile.
    Exact,
    /// As the code will give them.
    Coded,
}

/// A curve over points in ascending order, with its limits.
pub(crate) trait Curve {
    /// What is known of the chords that start at one point.
    type Cone;
    /// A straight change between two points.
    type Chord: Copy;

    /// Number of the coded pressure of a point: neighbours must differ.
    fn key(&self, k: usize) -> u16;
    /// Whether the point may become an additional level.
    fn node(&self, k: usize) -> bool;
    /// Whether a chord is allowed at all, whatever lies between.
    fn joins(&self, a: usize, b: usize) -> bool;
    /// The chord from `a` to `b`.
    fn chord(&self, a: usize, b: usize, ends: Ends) -> Self::Chord;
    /// The departures of a point between the ends of a chord, each in units of its limit; a
    /// missing element departs by nothing.
    fn off(&self, chord: &Self::Chord, k: usize) -> [f64; 2];
    /// Whether departures are linear between two points of a block that is not bent.
    fn is_straight(&self, chord: &Self::Chord, low: usize, high: usize) -> bool;
    /// The corners of the curve.
    fn corners(&self) -> &Corners;
    /// Calls `visit` for those of some points that can depart most from a chord, lowest
    /// first, until it returns false; the result is false then.
    #[inline]
    fn visit(
        &self,
        chord: &Self::Chord,
        points: Range<usize>,
        visit: impl FnMut(usize) -> bool,
    ) -> bool {
        let straight = |low, high| self.is_straight(chord, low, high);
        self.corners().visit(points, straight, visit)
    }
    /// Calls `visit` for those points between `a` and `b` that can depart most from their
    /// chord, lowest first, with their departures, until it returns false.
    #[inline]
    fn scan(&self, a: usize, b: usize, ends: Ends, mut visit: impl FnMut(usize, [f64; 2]) -> bool) {
        let chord = self.chord(a, b, ends);
        self.visit(&chord, a + 1..b, |k| visit(k, self.off(&chord, k)));
    }
    /// The cone of chords that start at `a`, before any point is passed; with
    /// [`Ends::Coded`] they must hold both before and after rounding.
    fn open(&self, a: usize, ends: Ends) -> Self::Cone;
    /// Narrows the cone so that its chords pass those points, lowest first; false as
    /// soon as none is left.
    fn pass(&self, cone: &mut Self::Cone, points: Range<usize>) -> bool;
    /// Whether the chord from the cone's start to `b` may be in the cone: the cheap part of
    /// [`Self::admits`].
    fn may_admit(&self, cone: &Self::Cone, b: usize) -> bool;
    /// Whether the chord from the cone's start to `b` is in the cone.
    fn admits(&self, cone: &Self::Cone, b: usize) -> bool;
    /// Sum of squared departures between `a` and `b` from their chord, in units
    /// of the limits.
    fn sum_of_squares(&self, a: usize, b: usize) -> f64;
}

/// Departures below this share of the limit propose no candidate.
const CANDIDATE_SHARE: f64 = 1.0 / 3.0;
/// Candidates for each level that successive approximation asks for.
const CANDIDATES: usize = 2;
/// Other points that may end a chord, for each such level: the more, the nearer
/// to the fewest, and the slower.
const ENDS: usize = 64;
/// Rounding left in departures, units of the limit.
pub(crate) const EPSILON: f64 = 1e-9;

/// Whether every point between keeps the limit, before and after rounding.
pub(crate) fn chord_holds<C: Curve>(curve: &C, a: usize, b: usize) -> bool {
    holds_after(curve, a, b, &mut 0)
}

/// The same; `last` is the point that broke the chord before this one, and is looked at
/// first, then those above it: near chords break at near points.
fn holds_after<C: Curve>(curve: &C, a: usize, b: usize, last: &mut usize) -> bool {
    if b <= a + 1 {
        return true;
    }
    if !curve.joins(a, b) {
        return false;
    }
    // Rounded ends break more often.
    let chords = [Ends::Coded, Ends::Exact].map(|ends| curve.chord(a, b, ends));
    let keeps = |chord: &C::Chord, k: usize| {
        let [d, e] = curve.off(chord, k);
        d <= 1.0 + EPSILON && e <= 1.0 + EPSILON
    };
    let before = *last > a && *last < b;
    if before && !chords.iter().all(|chord| keeps(chord, *last)) {
        return false;
    }
    let middle = if before { *last } else { a + 1 };
    [middle..b, a + 1..middle].into_iter().all(|points| {
        chords.into_iter().all(|chord| {
            curve.visit(&chord, points.clone(), |k| {
                let keeps = keeps(&chord, k);
                if !keeps {
                    *last = k;
                }
                keeps
            })
        })
    })
}

/// The greatest departures of both elements from a chord, before and after
/// rounding.
pub(crate) fn greatest<C: Curve>(curve: &C, a: usize, b: usize) -> [f64; 2] {
    let mut most = [0.0f64; 2];
    for ends in [Ends::Exact, Ends::Coded] {
        curve.scan(a, b, ends, |_, d| {
            most = [most[0].max(d[0]), most[1].max(d[1])];
            true
        });
    }
    most
}

/// The point that departs most, and by how much.
fn worst<C: Curve>(curve: &C, a: usize, b: usize, ends: Ends) -> (usize, f64) {
    let mut worst = (a, 0.0);
    curve.scan(a, b, ends, |k, [d, e]| {
        let d = d.max(e);
        if d > worst.1 {
            worst = (k, d);
        }
        true
    });
    worst
}

/// The additional levels between two fixed ones.
pub(crate) fn fewest<C: Curve>(curve: &C, from: usize, to: usize) -> Vec<usize> {
    if to <= from + 1 || chord_holds(curve, from, to) {
        return Vec::new();
    }
    let (candidates, needed) = propose(curve, from, to);
    let stride = ((to - from) / (ENDS * (needed + 1))).max(1);
    let mut path = shortest(curve, from, &candidates, stride, to);
    settle(curve, from, &mut path, to);
    let settled = path.clone();
    repair(curve, from, &mut path, to);
    prune(curve, from, &mut path, to);
    if path != settled {
        settle(curve, from, &mut path, to);
    }
    path
}

/// The additional levels between two fixed ones, where levels were sent before, lowest
/// first: these stay as long as every chord between them holds; where one does not, one
/// of its ends moves to the nearest place where both of its chords hold, or levels are
/// added inside it. Without such levels, the fewest.
pub(crate) fn starting_from<C: Curve>(
    sent: &[usize],
    curve: &C,
    from: usize,
    to: usize,
) -> Vec<usize> {
    let mut path: Vec<usize> = Vec::with_capacity(sent.len());
    for &k in sent.iter().filter(|&&k| curve.node(k)) {
        let below = path.last().copied().unwrap_or(from);
        if k > below && curve.key(k) != curve.key(below) && curve.key(k) != curve.key(to) {
            path.push(k);
        }
    }
    if path.is_empty() {
        return fewest(curve, from, to);
    }
    let mut i = 0;
    while i <= path.len() {
        let a = before(from, &path, i);
        let b = path.get(i).copied().unwrap_or(to);
        if chord_holds(curve, a, b) {
            i += 1;
            continue;
        }
        // The upper end first: the chords below hold already.
        let ends = [Some(i), i.checked_sub(1)];
        let moved = ends.into_iter().flatten().find_map(|end| {
            let here = path.get(end).copied()?;
            let (low, high) = (before(from, &path, end), after(&path, end, to));
            Some((end, nearest_place(curve, low, here, high)?))
        });
        if let Some((end, k)) = moved {
            if let Some(slot) = path.get_mut(end) {
                *slot = k;
            }
            continue;
        }
        let added = fewest(curve, a, b);
        let at = i;
        i += added.len() + 1;
        path.splice(at..at, added);
    }
    path
}

/// The point nearest to `here` where both chords of a level between `low` and `high`
/// hold. Far from `here` not every point is tried.
fn nearest_place<C: Curve>(curve: &C, low: usize, here: usize, high: usize) -> Option<usize> {
    let (mut under, mut over) = (0, 0);
    let mut holds = |k: usize| {
        k > low
            && k < high
            && curve.node(k)
            && curve.key(k) != curve.key(low)
            && curve.key(k) != curve.key(high)
            && holds_after(curve, low, k, &mut under)
            && holds_after(curve, k, high, &mut over)
    };
    let reach = (here - low).max(high - here);
    let steps = std::iter::successors(Some(1_usize), |step| Some(step + 1 + step / TRIES));
    for step in steps.take_while(|&step| step < reach) {
        for k in [here.checked_sub(step), here.checked_add(step)] {
            if let Some(k) = k.filter(|&k| holds(k)) {
                return Some(k);
            }
        }
    }
    None
}

/// Candidates by successive approximation, lowest first.
fn propose<C: Curve>(curve: &C, from: usize, to: usize) -> (Vec<usize>, usize) {
    let mut found: Vec<(usize, f64)> = Vec::new();
    let mut open = vec![(from, to)];
    // Each split reads its stretch once; the budget keeps the whole linear even
    // for curves that split off one point at a time.
    let mut budget = (to - from).saturating_mul(64);
    while let Some((a, b)) = open.pop() {
        let width = b - a;
        if width < 2 || width > budget {
            continue;
        }
        budget -= width;
        let mut most: Option<(usize, f64)> = None;
        curve.scan(a, b, Ends::Exact, |k, [d, e]| {
            let d = d.max(e);
            if most.is_none_or(|(_, m)| d > m) && curve.node(k) {
                most = Some((k, d));
            }
            true
        });
        // A chord that is not allowed is split in the middle when nothing
        // departs from it.
        let (k, d) = match most {
            Some((k, d)) if d >= CANDIDATE_SHARE => (k, d),
            Some(_) if !curve.joins(a, b) => match middle(curve, a, b) {
                Some(k) => (k, 1.0),
                None => continue,
            },
            _ => continue,
        };
        found.push((k, d));
        open.push((a, k));
        open.push((k, b));
    }
    let needed = found.iter().filter(|&&(_, d)| d > 1.0).count();
    found.sort_by(|l, r| r.1.total_cmp(&l.1).then(l.0.cmp(&r.0)));
    found.truncate(CANDIDATES * needed + CANDIDATES);
    let mut rows: Vec<usize> = found.into_iter().map(|(k, _)| k).collect();
    rows.sort_unstable();
    (rows, needed)
}

/// The node nearest to the middle between two points.
fn middle<C: Curve>(curve: &C, a: usize, b: usize) -> Option<usize> {
    let centre = usize::midpoint(a, b);
    (0..b - a)
        .flat_map(|step| [centre.checked_sub(step), centre.checked_add(step)])
        .flatten()
        .find(|&k| k > a && k < b && curve.node(k))
}

/// The point before position `i` of a path with its ends.
fn before(from: usize, path: &[usize], i: usize) -> usize {
    i.checked_sub(1)
        .and_then(|i| path.get(i))
        .copied()
        .unwrap_or(from)
}

/// The point after position `i` of a path with its ends.
fn after(path: &[usize], i: usize, to: usize) -> usize {
    path.get(i + 1).copied().unwrap_or(to)
}

/// How many points are weighed when a level looks for its best place.
const TRIES: usize = 48;
/// How many of them, best first, are looked at row by row.
const LOOKS: usize = 24;
/// How often the levels of a stretch are gone through.
const ROUNDS: usize = 4;

/// Moves every level to where the squared departures of its two chords are
/// least, as long as both hold, until none moves.
fn settle<C: Curve>(curve: &C, from: usize, path: &mut [usize], to: usize) {
    // A level looks again only after a neighbour has moved.
    let mut waits = vec![true; path.len()];
    for _ in 0..ROUNDS {
        let mut moved = false;
        for i in 0..path.len() {
            if !waits.get_mut(i).is_some_and(std::mem::take) {
                continue;
            }
            let (a, b) = (before(from, path, i), after(path, i, to));
            let Some(slot) = path.get_mut(i) else {
                continue;
            };
            let Some(k) = better_place(curve, a, *slot, b) else {
                continue;
            };
            *slot = k;
            moved = true;
            for near in [i.wrapping_sub(1), i + 1] {
                if let Some(wait) = waits.get_mut(near) {
                    *wait = true;
                }
            }
        }
        if !moved {
            break;
        }
    }
}

/// A point between `a` and `b` with less squared departures than `here`: the
/// best of some points evenly spread, and then of those around it.
fn better_place<C: Curve>(curve: &C, a: usize, here: usize, b: usize) -> Option<usize> {
    // Where the departures from one chord, the longer, are too much, the other is not
    // looked at.
    let cost = |k: usize, less_than: f64| {
        let (low, high) = ((a, k), (k, b));
        let (long, short) = if k - a > b - k {
            (low, high)
        } else {
            (high, low)
        };
        let sum = curve.sum_of_squares(long.0, long.1);
        if sum < less_than {
            sum + curve.sum_of_squares(short.0, short.1)
        } else {
            sum
        }
    };
    // The points that broke the last chords below and above.
    let (mut under, mut over) = (0, 0);
    let mut holds = |k: usize| {
        curve.key(k) != curve.key(a)
            && curve.key(k) != curve.key(b)
            && holds_after(curve, a, k, &mut under)
            && holds_after(curve, k, b, &mut over)
    };
    let mut first = |places: Range<usize>, step: usize, less_than: f64| {
        let mut weighed: Vec<(f64, usize)> = places
            .step_by(step)
            .filter(|&k| curve.node(k))
            .map(|k| (cost(k, less_than), k))
            .filter(|&(c, _)| c < less_than)
            .collect();
        weighed.sort_by(|l, r| l.0.total_cmp(&r.0));
        let best = weighed.first().map(|&(_, k)| k);
        let held = weighed.into_iter().take(LOOKS).find(|&(_, k)| holds(k));
        (held, best)
    };
    let step = ((b - a) / TRIES).max(1);
    let around = |k: usize| k.saturating_sub(step).max(a) + 1..(k + step).min(b);
    // A little more is not worth a move.
    let now = cost(here, f64::INFINITY) * (1.0 - 1e-6);
    let (coarse, wished) = first(a + 1..b, step, now);
    let mut found = coarse;
    if step > 1 {
        let held = coarse.map_or(here, |(_, k)| k);
        for k in [Some(held), wished.filter(|&w| w != held)]
            .into_iter()
            .flatten()
        {
            let bound = found.map_or(now, |(c, _)| c);
            found = first(around(k), 1, bound).0.or(found);
        }
    }
    found.map(|(_, k)| k)
}

/// Puts in the point of greatest departure wherever a chord does not hold.
fn repair<C: Curve>(curve: &C, from: usize, path: &mut Vec<usize>, to: usize) {
    let mut i = 0;
    while i <= path.len() {
        let a = before(from, path, i);
        let b = path.get(i).copied().unwrap_or(to);
        if !chord_holds(curve, a, b)
            && let Some(k) = split(curve, a, b)
        {
            path.insert(i, k);
        } else {
            i += 1;
        }
    }
}

/// Where a chord that does not hold is split: the node nearest to the greatest
/// departure whose coded pressure is not that of either end.
fn split<C: Curve>(curve: &C, a: usize, b: usize) -> Option<usize> {
    let (exact, coded) = (
        worst(curve, a, b, Ends::Exact),
        worst(curve, a, b, Ends::Coded),
    );
    let worst = match (exact, coded) {
        ((k, d), _) if d > 1.0 + EPSILON => k,
        (_, (k, d)) if d > 1.0 + EPSILON => k,
        _ => usize::midpoint(a, b),
    };
    let fits = |&k: &usize| {
        k > a
            && k < b
            && curve.node(k)
            && curve.key(k) != curve.key(a)
            && curve.key(k) != curve.key(b)
    };
    (0..b - a)
        .flat_map(|step| [worst.checked_sub(step), worst.checked_add(step)])
        .flatten()
        .find(fits)
}

/// Takes out every level without which both limits still hold.
fn prune<C: Curve>(curve: &C, from: usize, path: &mut Vec<usize>, to: usize) {
    let mut i = 0;
    while i < path.len() {
        if chord_holds(curve, before(from, path, i), after(path, i, to)) {
            path.remove(i);
            // The chord below has changed: look at its lower end again.
            i = i.saturating_sub(1);
        } else {
            i += 1;
        }
    }
}
