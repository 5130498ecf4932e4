//! Standard surfaces that a message by height flags: named by their heights, or not
//! at all.
//!
//! A message by height may flag any surfaces as standard and leave some out, so that
//! their order says nothing. A level is named where its height agrees with that of a
//! surface in the standard atmosphere, and the layers between named levels with those
//! between their surfaces (limits below: our own choice, no source).

use itertools::Itertools;

use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::{Form, Level, Part, Roles};
use crate::tables;
use crate::tables::StandardLevel;

/// How far a surface may lie from its height in the standard atmosphere: gpm, and a
/// part of that height. It covers the year from pole to equator and the round heights
/// that stand for surfaces by agreement (500 hPa from 4800 to 5950 gpm).
const OFF_GPM: f64 = 500.0;
const OFF_PERCENT: f64 = 7.0;
/// How far the thickness between two named surfaces may lie from that in the
/// standard atmosphere: gpm, and a part of it. 15 % is 35 K; round heights of two
/// neighbouring surfaces add up to 300 gpm.
const THICKNESS_GPM: f64 = 200.0;
const THICKNESS_PART: f64 = 0.15;
/// The most flagged levels that are looked at; there are 16 surfaces.
const MOST: usize = 64;
/// A level with no other beside it is named when it lies within this part of the
/// distance to the next surface.
const ALONE_PART: f64 = 0.25;

/// Gives flagged surfaces without a pressure the one that their heights agree with.
pub(super) fn name_surfaces(levels: &mut [Level], findings: &mut Vec<Finding>) {
    let surfaces: Vec<StandardLevel> = [Part::A, Part::C]
        .into_iter()
        .flat_map(|part| tables::known_levels(Form::Temp, part, &[]))
        .collect();
    let surfaces: Vec<&StandardLevel> = surfaces.iter().collect();
    let mut nameless: Vec<&mut Level> = levels
        .iter_mut()
        .filter(|l| l.roles.any(Roles::STANDARD) && l.row.pressure_hpa.is_none())
        .filter(|l| l.row.height_gpm.is_some())
        .collect();
    let heights: Vec<f64> = nameless.iter().filter_map(|l| l.row.height_gpm).collect();
    let names = if heights.len() > MOST {
        vec![None; heights.len()]
    } else {
        named(&heights, &surfaces)
    };
    let mut count = 0;
    let mut unnamed = Vec::new();
    for ((level, name), height) in nameless.iter_mut().zip(names).zip(&heights) {
        match name {
            Some(surface) => {
                level.row.pressure_hpa = Some(f64::from(surface.pressure_hpa));
                count += 1;
            }
            None => unnamed.push(format!("{height}")),
        }
    }
    if count > 0 {
        findings.push(finding!(
            SurfacesNamedByHeight,
            Place::default(),
            surfaces = counted(count, "standard surface")
        ));
    }
    if !unnamed.is_empty() {
        findings.push(finding!(
            SurfacesNotNamed,
            Place::default(),
            heights = listed(&unnamed),
            [off_gpm = OFF_GPM, off_pct = OFF_PERCENT]
        ));
    }
}

/// The first of some words, and how many more there are.
fn listed(words: &[String]) -> String {
    const MOST_WORDS: usize = 8;
    let mut out = words.iter().take(MOST_WORDS).join(", ");
    if words.len() > MOST_WORDS {
        out.push_str(&format!(" and {} more", words.len() - MOST_WORDS));
    }
    out
}

/// The surface of each height, in the same order, or none: the choice that names the
/// most, and of these the one whose heights are nearest to the standard atmosphere.
fn named<'t>(heights: &[f64], surfaces: &[&'t StandardLevel]) -> Vec<Option<&'t StandardLevel>> {
    /// The best chain that ends with a height named as a surface.
    #[derive(Clone, Copy)]
    struct Chain {
        count: usize,
        off: f64,
        before: Option<(usize, usize)>,
    }
    let better = |a: &Chain, b: &Chain| a.count > b.count || (a.count == b.count && a.off < b.off);
    let mut chains: Vec<Vec<Option<Chain>>> = Vec::with_capacity(heights.len());
    for (n, height) in heights.iter().enumerate() {
        let row = surfaces.iter().enumerate().map(|(s, surface)| {
            let typical = surface.typical_height_gpm;
            let off = (height - typical).abs() / (OFF_GPM + OFF_PERCENT / 100.0 * typical);
            if off > 1.0 {
                return None;
            }
            let mut best = Chain {
                count: 1,
                off: off * off,
                before: None,
            };
            let earlier = chains.iter().zip(heights).take(n).enumerate();
            for (m, (row, below)) in earlier {
                for (t, (chain, under)) in row.iter().zip(surfaces).take(s).enumerate() {
                    let Some(chain) = chain else { continue };
                    let thickness = typical - under.typical_height_gpm;
                    let allowed = THICKNESS_GPM + THICKNESS_PART * thickness;
                    if ((height - below) - thickness).abs() > allowed {
                        continue;
                    }
                    let longer = Chain {
                        count: chain.count + 1,
                        off: chain.off + off * off,
                        before: Some((m, t)),
                    };
                    if better(&longer, &best) {
                        best = longer;
                    }
                }
            }
            Some(best)
        });
        let row = row.collect();
        chains.push(row);
    }
    let mut end: Option<(usize, usize, Chain)> = None;
    for (n, row) in chains.iter().enumerate() {
        for (s, chain) in row.iter().enumerate() {
            if let Some(chain) = chain
                && end.is_none_or(|(_, _, best)| better(chain, &best))
            {
                end = Some((n, s, *chain));
            }
        }
    }
    let mut out = vec![None; heights.len()];
    let alone = end.is_some_and(|(_, _, chain)| chain.count == 1);
    let mut at = end.map(|(n, s, _)| (n, s));
    while let Some((n, s)) = at {
        if let (Some(out), Some(surface), Some(height)) =
            (out.get_mut(n), surfaces.get(s), heights.get(n))
        {
            let sure = !alone || is_sure(*height, s, surfaces);
            *out = sure.then_some(*surface);
        }
        at = chains
            .get(n)
            .and_then(|row| row.get(s).copied().flatten())
            .and_then(|chain| chain.before);
    }
    out
}

/// Whether a height is clearly nearer to a surface than to the ones beside it.
fn is_sure(height: f64, at: usize, surfaces: &[&StandardLevel]) -> bool {
    let typical = |n: usize| surfaces.get(n).map(|s| s.typical_height_gpm);
    let Some(own) = typical(at) else { return false };
    let beside = if height < own {
        at.checked_sub(1).and_then(typical)
    } else {
        typical(at + 1)
    };
    beside.is_none_or(|beside| (height - own).abs() <= ALONE_PART * (beside - own).abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pressures(heights: &[f64]) -> Vec<Option<u16>> {
        let surfaces: Vec<StandardLevel> = [Part::A, Part::C]
            .into_iter()
            .flat_map(|part| tables::known_levels(Form::Temp, part, &[]))
            .collect();
        let surfaces: Vec<&StandardLevel> = surfaces.iter().collect();
        let names = named(heights, &surfaces);
        names.iter().map(|s| s.map(|s| s.pressure_hpa)).collect()
    }

    fn some(pressures: &[u16]) -> Vec<Option<u16>> {
        pressures.iter().copied().map(Some).collect()
    }

    /// Heights of a real message by height (3 09 051, seven stations of one country,
    /// subset 1; 4314 gpm is 600 hPa, which TEMP does not report): by order 159 gpm
    /// would be 850 hPa. The standard atmosphere (U.S. Standard Atmosphere, 1976) has
    /// 1000 hPa at 111, 925 at 762, 850 at 1457, 700 at 3012, 500 at 5574 gpm.
    #[test]
    fn surfaces_are_named_by_height_and_not_by_order() {
        let heights = [
            159.0, 818.0, 1524.0, 3097.0, 4314.0, 5724.0, 7373.0, 9384.0, 10592.0, 12035.0,
            13857.0, 16334.0, 18473.0, 20536.0,
        ];
        let mut wanted = some(&[1000, 925, 850, 700]);
        wanted.push(None);
        wanted.extend(some(&[500, 400, 300, 250, 200, 150, 100, 70, 50]));
        assert_eq!(pressures(&heights), wanted);
    }

    /// The round heights that stand for surfaces in 32.2.2.2 (as a Region VI practice has
    /// them: 5400, 9000, 10500, 12000 gpm), from memory.
    #[test]
    fn round_heights_stand_for_their_surfaces() {
        let heights = [
            1500.0, 3000.0, 5400.0, 7200.0, 9000.0, 10500.0, 12000.0, 13500.0, 16500.0, 18500.0,
            20500.0, 24000.0, 26500.0, 31000.0,
        ];
        let wanted = [
            850, 700, 500, 400, 300, 250, 200, 150, 100, 70, 50, 30, 20, 10,
        ];
        assert_eq!(pressures(&heights), some(&wanted));
    }

    /// A polar column, every layer about 10 % thinner than in the standard atmosphere
    /// (-25 K), without 300 hPa: 9400 gpm is nearer to 300 hPa (9164) than to 250
    /// (10363), but 3000 gpm above 400 hPa make that layer 29.27 T ln(400/300) thick at
    /// 356 K; as 250 hPa it has 218 K.
    #[test]
    fn a_surface_left_out_does_not_move_the_others() {
        let heights = [1250.0, 2650.0, 4950.0, 6400.0, 9400.0, 10800.0];
        assert_eq!(pressures(&heights), some(&[850, 700, 500, 400, 250, 200]));
    }

    /// One level halfway between the surfaces says nothing; one at 1500 gpm is 43 gpm
    /// from 850 hPa and 1512 from 700.
    #[test]
    fn a_level_alone_must_be_near() {
        assert_eq!(pressures(&[9700.0]), [None]);
        assert_eq!(pressures(&[1500.0]), some(&[850]));
        assert_eq!(pressures(&[]), []);
    }
}
