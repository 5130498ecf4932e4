//! A chain of levels: those the rules fix, and the additional ones between.

use super::reduce::{Curve, chord_holds, least, starting_from};
use crate::model::fidelity::Count;
use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::{Roles, Rule};

/// The order in which levels of equal coded pressure give way: later ones do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Rank {
    /// The last level of the chain below.
    Anchor,
    Surface,
    Top,
    Tropopause,
    MaxWind,
    MissingEnd,
    Forced,
    /// A fixed regional level: it cannot move.
    Regional,
    LayerEnd,
    Closing,
    Additional,
}

/// A level that a chain must have, by its point in the chain.
#[derive(Clone, Debug)]
pub(crate) struct Fixed {
    /// Point of the chain.
    pub k: usize,
    pub roles: Roles,
    pub rank: Rank,
    pub why: Vec<Rule>,
}

/// The points of a chain that stand for some rows; both lists rise.
pub(crate) fn points(rows: &[usize], of_chain: &[usize]) -> Vec<usize> {
    let points = rows.iter().map(|row| of_chain.binary_search(row));
    points.filter_map(Result::ok).collect()
}

/// The levels of a chain, lowest first: the fixed ones, and between each two
/// (unless `apart` says that no curve joins them) the fewest that keep the
/// limits, or, where levels were sent before, those of them as far as they still keep
/// the limits; each explained.
pub(crate) fn fill<C: Curve>(
    curve: &C,
    fixed: &[Fixed],
    sent: &[usize],
    apart: impl Fn(usize, usize) -> bool,
    explain: impl Fn(usize, usize, usize) -> Fixed,
    mut count: Option<&mut Count>,
) -> Vec<Fixed> {
    let mut chosen: Vec<Fixed> = Vec::with_capacity(2 * fixed.len());
    if let Some(count) = count.as_deref_mut() {
        count.fixed += fixed.iter().filter(|f| f.rank != Rank::Anchor).count();
    }
    for (i, level) in fixed.iter().enumerate() {
        chosen.push(level.clone());
        let Some(next) = fixed.get(i + 1) else {
            break;
        };
        let (a, b) = (level.k, next.k);
        if apart(a, b) {
            continue;
        }
        let before: Vec<usize> = sent.iter().copied().filter(|&k| a < k && k < b).collect();
        let inner = starting_from(&before, curve, a, b);
        let mut low = a;
        for (j, &k) in inner.iter().enumerate() {
            let high = inner.get(j + 1).copied().unwrap_or(b);
            let mut level = explain(low, k, high);
            if before.binary_search(&k).is_ok() && chord_holds(curve, low, high) {
                level.why = vec![Rule::AsSent];
            }
            chosen.push(level);
            low = k;
        }
        if let Some(count) = count.as_deref_mut() {
            let (fewest, proven) = least(curve, a, b, inner.len());
            count.additional += inner.len();
            count.fewest += fewest;
            count.bound_only |= !proven;
        }
    }
    chosen
}

/// Steps of the code within which a level that gives way may find a place.
const MOVE_STEPS: u16 = 20;
/// Of the levels of a chain that give way, this number is reported one by one: the rest would
/// bury them.
const MOST_REPORTED: usize = 100;

/// Puts the fixed levels of a chain in order, one a point, and no two with the
/// same coded pressure: the lesser one moves to the nearest free pressure, or
/// else is removed (both are reported).
pub(crate) fn settle_fixed(
    fixed: &mut Vec<Fixed>,
    key: impl Fn(usize) -> u16,
    p: impl Fn(usize) -> f64,
    points: usize,
    anchored: bool,
    findings: &mut Vec<Finding>,
) {
    fixed.sort_by_key(|f| (f.k, f.rank));
    fixed.dedup_by(|next, kept| {
        let same = next.k == kept.k;
        if same {
            kept.roles |= next.roles;
            kept.why.append(&mut next.why);
        }
        same
    });
    let first = usize::from(anchored);
    let mut given_way = 0;
    let mut others_from = Place::default();
    // Those in order so far, and the others, lowest last: neither is moved when one is removed.
    let mut above: Vec<Fixed> = fixed.drain(..).rev().collect();
    let below = fixed;
    below.extend(above.pop());
    while let (Some(low), Some(high)) = (below.last(), above.last()) {
        if key(low.k) != key(high.k) {
            below.extend(above.pop());
            continue;
        }
        let taken = key(low.k);
        let up = high.rank >= low.rank;
        let lesser = if up { high } else { low };
        let near = |k: usize| key(k).abs_diff(taken) <= MOVE_STEPS;
        let free = |k: usize, beyond: Option<&Fixed>| {
            key(k) != taken && beyond.is_none_or(|f| key(f.k) != key(k))
        };
        let next = |side: &[Fixed]| side.len().checked_sub(2).and_then(|i| side.get(i).cloned());
        let place = if lesser.rank == Rank::Regional {
            // The other level stands for it.
            None
        } else {
            let beyond = next(if up { &above } else { below });
            let beyond = beyond.as_ref();
            let place = if up {
                let end = beyond.map_or(points, |f| f.k);
                (lesser.k + 1..end)
                    .take_while(|&k| near(k))
                    .find(|&k| free(k, beyond))
            } else {
                let end = beyond.map_or(first, |f| f.k + 1);
                (end..lesser.k)
                    .rev()
                    .take_while(|&k| near(k))
                    .find(|&k| free(k, beyond))
            };
            given_way += 1;
            let at_hpa = Place::pressure(p(lesser.k));
            if given_way > MOST_REPORTED {
                if others_from.is_empty() {
                    others_from = at_hpa;
                }
            } else {
                let level = lesser.why.first().map_or_else(Default::default, Rule::text);
                findings.push(match place {
                    Some(k) => finding!(
                        EqualPressureMoved,
                        at_hpa,
                        level = level,
                        pressure_hpa = p(k)
                    ),
                    None => finding!(EqualPressureRemoved, at_hpa, level = level),
                });
            }
            place
        };
        let side = if up { &mut above } else { &mut *below };
        match (place, side.last_mut()) {
            (Some(k), Some(moved)) => moved.k = k,
            _ => {
                side.pop();
            }
        }
        // The level moved or removed may now meet its other neighbour.
        if below.len() > 1 && (up || place.is_some()) {
            above.extend(below.pop());
        } else if below.is_empty() {
            below.extend(above.pop());
        }
    }
    below.extend(above.pop());
    if given_way > MOST_REPORTED {
        let others = counted(given_way - MOST_REPORTED, "further level");
        findings.push(finding!(EqualPressureOthers, others_from, levels = others));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::finding::Code;

    #[test]
    fn levels_that_give_way_are_reported_up_to_a_number() {
        let reported = |levels: usize| {
            let level = |k: usize| Fixed {
                k,
                roles: Roles::MAX_WIND,
                rank: Rank::MaxWind,
                why: Vec::new(),
            };
            let mut fixed: Vec<Fixed> = (0..levels).map(level).collect();
            let mut findings = Vec::new();
            // One coded pressure: no other place is free.
            let mut pressures = vec![50.0; 101];
            pressures.resize(150, 49.96);
            let p = |k: usize| pressures[k];
            settle_fixed(&mut fixed, |_| 500, p, levels, false, &mut findings);
            assert_eq!(fixed.len(), 1);
            findings
        };
        // Of 101 levels at one pressure 100 give way, each reported.
        let few = reported(101);
        assert_eq!(few.len(), 100);
        assert!(few.iter().all(|f| f.is(Code::EqualPressureRemoved)));
        let many = reported(150);
        assert_eq!(many.len(), 101);
        assert!(many[100].is(Code::EqualPressureOthers));
        assert_eq!(many[100].place, Place::pressure(49.96));
        assert!(many[100].what.contains("49 "));
    }
}
