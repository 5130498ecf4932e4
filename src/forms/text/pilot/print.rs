//! The groups of PILOT parts in order.

use super::{Fixed, Heights, LevelPart, MaximumAt, Step, WindLevels, WindPart};
use crate::forms::text::groups::{indicator, indicators, placed, shear_group, wind_group};
use crate::forms::text::sections::write_last_sections;
use crate::forms::text::{NoLevel, Set, Sets};
use crate::model::{DepartureKind, Departures, Part};
use crate::tables;
use crate::tables::figure::WindFigure;

/// The most standard surfaces in a block.
pub(super) const BLOCK: usize = 3;

/// PP of a standard surface.
fn pp(pressure_hpa: u16) -> u8 {
    tables::standard_level(pressure_hpa).pp
}

/// Blocks 44nP1P1 and 55nP1P1: one begins where the way of location changes.
fn blocks(standard: &[Fixed], out: &mut Sets) {
    let mut n = 0;
    for run in standard.chunk_by(|a, b| a.by_height == b.by_height) {
        for block in run.chunks(BLOCK) {
            for (i, fixed) in block.iter().enumerate() {
                let mut groups = Vec::new();
                if i == 0 {
                    let indicator = if fixed.by_height { "55" } else { "44" };
                    let count = block.len();
                    groups.push(format!("{indicator}{count}{:02}", pp(fixed.pressure_hpa)));
                }
                groups.push(wind_group(fixed.wind));
                out.push((Set::Standard(n), groups));
                n += 1;
            }
        }
    }
}

impl WindPart {
    /// Everything after the identification.
    pub(in crate::forms::text) fn sets(&self, departures: &Departures) -> Sets {
        let mut out = Sets::new();
        blocks(&self.standard, &mut out);
        for (i, m) in self.maxima.iter().enumerate() {
            let first = match (m.at, m.top) {
                (MaximumAt::Pressure(p), false) => placed("77", p),
                (MaximumAt::Pressure(p), true) => placed("66", p),
                (MaximumAt::Height(h), false) => format!("7{h:04}"),
                (MaximumAt::Height(h), true) => format!("6{h:04}"),
            };
            let mut groups = vec![first, wind_group(m.wind)];
            groups.extend(m.shear.map(shear_group));
            out.push((Set::Maximum(i), groups));
        }
        if self.maxima.is_empty() && !departures.has(DepartureKind::Absent, 3) {
            out.push((Set::Other(NoLevel::NoMaximum), vec!["77999".to_owned()]));
        }
        let mut end = Vec::new();
        write_last_sections(&self.regional, &self.national, &mut end);
        out.push((Set::Other(NoLevel::End), end));
        out
    }
}

/// The groups of levels by height; `n` counts levels. A surface behind a solidus has its
/// wind first in the block `90/u2u3`.
fn steps(
    levels: &[(u8, Option<WindFigure>)],
    step: Step,
    solidus: bool,
    n: &mut usize,
    out: &mut Sets,
) {
    for run in levels.chunk_by(|a, b| a.0 / 10 == b.0 / 10) {
        for three in run.chunks(BLOCK) {
            for (i, (steps, wind)) in three.iter().enumerate() {
                let mut groups = Vec::new();
                if i == 0 {
                    let tens = steps / 10;
                    let mut group = format!("{}{}", step.indicator(tens), tens % 10);
                    for j in 0..BLOCK {
                        match three.get(j) {
                            // The first level alone is the surface.
                            Some((0, _)) if solidus && j == 0 && *n == 0 => group.push('/'),
                            Some((steps, _)) => group.push(char::from(b'0' + steps % 10)),
                            None => group.push('/'),
                        }
                    }
                    groups.push(group);
                }
                groups.push(wind_group(*wind));
                out.push((Set::Wind(*n), groups));
                *n += 1;
            }
        }
    }
}

impl Heights {
    fn sets(&self, part: Part, departures: &Departures, out: &mut Sets) {
        let mut n = 0;
        let solidus = departures.has(DepartureKind::SurfaceSolidus, 4);
        steps(&self.levels, self.step, solidus, &mut n, out);
        steps(&self.above, Step::M500, false, &mut n, out);
        if !self.significant.is_empty() {
            out.push((Set::Other(NoLevel::Winds), vec!["21212".to_owned()]));
        }
        let start = usize::from(part == Part::D);
        for (i, (tens, wind)) in self.significant.iter().enumerate() {
            let nn = indicator(start + i);
            let figure = nn.get(..1).unwrap_or_default();
            let groups = vec![format!("{figure}{tens:04}"), wind_group(*wind)];
            out.push((Set::Wind(n), groups));
            n += 1;
        }
    }
}

impl LevelPart {
    /// Everything after the identification.
    pub(in crate::forms::text) fn sets(&self, part: Part, departures: &Departures) -> Sets {
        let mut out = Sets::new();
        match &self.levels {
            WindLevels::Heights(heights) => heights.sets(part, departures, &mut out),
            WindLevels::Pressures(levels) => {
                out.push((Set::Other(NoLevel::Winds), vec!["21212".to_owned()]));
                let start = usize::from(part == Part::D);
                let mut n = 0;
                for (level, nn) in levels.iter().zip(indicators(start, 4, departures)) {
                    out.push(match level {
                        Some((p, wind)) => {
                            n += 1;
                            (Set::Wind(n - 1), vec![placed(nn, *p), wind_group(*wind)])
                        }
                        None => {
                            let groups = vec![format!("{nn}///"), "/////".to_owned()];
                            (Set::Other(NoLevel::Gap), groups)
                        }
                    });
                }
            }
        }
        let mut end = Vec::new();
        write_last_sections(&self.regional, &self.national, &mut end);
        out.push((Set::Other(NoLevel::End), end));
        out
    }
}
