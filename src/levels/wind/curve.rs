//! Wind along a chain, as a curve to be rebuilt.

use std::cell::Cell;
use std::ops::Range;

use crate::levels::column::{Column, Grid};
use crate::levels::cone::{Cone, Fan};
use crate::levels::corners::Corners;
use crate::levels::memo::Memo;
use crate::levels::pair::Pair;
use crate::levels::reduce::{Curve, EPSILON, Ends};
use crate::levels::sums::Sums;
use crate::levels::tolerance::direction_counts;
use crate::model::quantity::SpeedUnit;
use crate::physics::angles::shorter_arc;
use crate::tables::figure::{PressureFigure, WindFigure};
use crate::tables::limits;

/// A chord that turns through more than this has no shorter arc to speak of.
const WIDEST_TURN_DEG: f64 = 179.0;
/// Winds within twice this of each other, a chord that turns by this, and a departure of
/// this add up to no more than half a circle, in which all departures are on one side.
const STEADY_DEG: f64 = 45.0;

/// The points of one chain: the rows with wind between two rows.
pub(super) struct WindCurve {
    pub(super) row: Vec<usize>,
    key: Vec<u16>,
    grid: Grid,
    pub(super) p: Vec<f64>,
    /// −ln p, direction and speed of each point, side by side.
    pub(super) at: Vec<[f64; 3]>,
    /// −ln p, direction and speed as the code gives them.
    coded: Memo,
    unit: SpeedUnit,
    /// Direction without jumps at north.
    turned: Vec<f64>,
    /// The same as `at`, with this direction, NaN in light winds.
    points: Vec<[f64; 3]>,
    corners: Corners,
    /// Points of light wind.
    light: Vec<usize>,
    /// How many of them are below each point.
    light_below: Vec<usize>,
    /// The corners of these, of direction alone.
    light_corners: Corners,
    /// The last of them that broke a chord.
    broke: Cell<usize>,
    /// Limits of direction and speed.
    limit: [f64; 2],
    sums: Sums,
}

/// A straight change of wind between two points.
#[derive(Clone, Copy)]
pub(super) struct Chord {
    start: [f64; 3],
    run: f64,
    turn: f64,
    rise: f64,
    wide: bool,
    per: [f64; 2],
    /// Below this a wind is light.
    light_ms: f64,
}

impl Chord {
    /// Departures of a wind from the chord, in units of the limits.
    #[inline]
    fn off(&self, [x, dir, speed]: [f64; 3]) -> [f64; 2] {
        let [xa, da, sa] = self.start;
        let [per_dir, per_speed] = self.per;
        let w = ((x - xa) * self.run).clamp(0.0, 1.0);
        let s = sa + self.rise * w;
        let by_dir = if !direction_counts(speed, s, self.light_ms) {
            0.0
        } else if self.wide {
            f64::INFINITY
        } else {
            shorter_arc(dir - (da + self.turn * w)).abs() * per_dir
        };
        [by_dir, (speed - s).abs() * per_speed]
    }

    /// Speed at a coordinate, m/s.
    fn speed(&self, x: f64) -> f64 {
        let [xa, _, sa] = self.start;
        sa + self.rise * ((x - xa) * self.run).clamp(0.0, 1.0)
    }

    /// Whether the chord is straight over a block of winds whose directions all count and are
    /// within twice [`STEADY_DEG`] of each other: between its ends, and not on both sides of
    /// the circle.
    #[inline]
    fn is_straight(&self, low: f64, dir: f64, high: f64) -> bool {
        let [xa, da, _] = self.start;
        let w = (low - xa) * self.run;
        w >= 0.0
            && (high - xa) * self.run <= 1.0
            && self.turn.abs() <= STEADY_DEG
            && shorter_arc(dir - (da + self.turn * w)).abs() <= STEADY_DEG
    }
}

/// What is known of the chords that start at one point.
pub(super) struct WindCone {
    start: usize,
    /// Without the directions of light winds, which count where the chord is not light.
    cone: Cone,
}

#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
impl WindCurve {
    pub(super) fn new(
        column: &Column,
        rows: Range<usize>,
        anchor: Option<usize>,
        unit: SpeedUnit,
    ) -> Self {
        let row: Vec<usize> = anchor
            .into_iter()
            .chain(rows)
            .filter(|&k| column.speed[k].is_finite())
            .collect();
        let at: Vec<[f64; 3]> = (row.iter())
            .map(|&k| [column.x[k], column.dir[k], column.speed[k]])
            .collect();
        let keys = column.keys();
        let is_light = |&[.., speed]: &[f64; 3]| speed < limits().light_wind_ms;
        let mut last = at.first().map_or(0.0, |&[_, dir, _]| dir);
        let turned = at.iter().map(|at| {
            let here = last + shorter_arc(at[1] - last);
            if !is_light(at) {
                last = here;
            }
            here
        });
        let turned: Vec<f64> = turned.collect();
        let points: Vec<[f64; 3]> = (at.iter().zip(&turned))
            .map(|(at, &dir)| [at[0], if is_light(at) { f64::NAN } else { dir }, at[2]])
            .collect();
        let steady = |points: &[[f64; 3]]| {
            let range = (points.iter()).fold((f64::MAX, f64::MIN), |(low, high), [_, dir, _]| {
                (dir.min(low), dir.max(high))
            });
            range.1 - range.0 <= 2.0 * STEADY_DEG
        };
        let mut light = Vec::new();
        let light_below = at.iter().enumerate().map(|(k, at)| {
            let below = light.len();
            light.extend(is_light(at).then_some(k));
            below
        });
        let light_below = light_below.collect();
        let light_points: Vec<[f64; 3]> = (light.iter())
            .map(|&k| [at[k][0], turned[k], f64::NAN])
            .collect();
        Self {
            coded: Memo::of(row.len()),
            broke: Cell::new(0),
            light_corners: Corners::new(&light_points, |points| !steady(points)),
            light_below,
            light,
            limit: [limits().wind_direction_deg, limits().wind_speed_ms],
            sums: Sums::new(&points),
            corners: Corners::new(&points, |points| {
                !steady(points) || points.iter().any(|[_, dir, _]| dir.is_nan())
            }),
            points,
            key: row.iter().map(|&k| keys[k]).collect(),
            grid: column.grid,
            p: row.iter().map(|&k| column.p[k]).collect(),
            row,
            at,
            unit,
            turned,
        }
    }

    pub(super) fn len(&self) -> usize {
        self.row.len()
    }

    fn coded(&self, k: usize) -> [f64; 3] {
        self.coded.get(k, || self.as_coded(k))
    }

    fn as_coded(&self, k: usize) -> [f64; 3] {
        // A step of height is too coarse to be held to: the limits are kept
        // where the level is.
        let [x, dir, speed] = self.at[k];
        let x = match self.grid {
            Grid::Pressure => {
                PressureFigure::from_value(self.p[k]).map_or(x, |f| -f.value_hpa().ln())
            }
            Grid::Metres(_) => x,
        };
        let figure = WindFigure::from_value(dir, speed, self.unit);
        match figure {
            Ok(figure) => [x, figure.dir_deg(), figure.speed_ms(self.unit)],
            Err(_) => [x, dir, speed],
        }
    }

    /// Whether a chord keeps the limits at the light winds between its ends,
    /// which the cone leaves out.
    fn passes_light(&self, a: usize, b: usize, ends: Ends) -> bool {
        let between = self.light_below[a + 1]..self.light_below[b];
        if between.is_empty() {
            return true;
        }
        let light = limits().light_wind_ms;
        let (sa, sb) = match ends {
            Ends::Exact => (self.at[a][2], self.at[b][2]),
            Ends::Coded => (self.coded(a)[2], self.coded(b)[2]),
        };
        // A chord that is light throughout counts no direction of such a row.
        if sa < light && sb < light {
            return true;
        }
        let chord = self.chord(a, b, ends);
        let passes = |k: usize| {
            let [dir, _] = chord.off(self.at[k]);
            dir <= 1.0 + EPSILON
        };
        // Near chords break at near points.
        let last = self.broke.get();
        if last > a && last < b && !passes(last) {
            return false;
        }
        let straight = |low: usize, high: usize| {
            let [low, dir, _] = self.at[self.light[low]];
            let [high, ..] = self.at[self.light[high]];
            // All directions count.
            chord.speed(low).min(chord.speed(high)) >= light && chord.is_straight(low, dir, high)
        };
        self.light_corners.visit(between, straight, |i| {
            let k = self.light[i];
            let passes = passes(k);
            if !passes {
                self.broke.set(k);
            }
            passes
        })
    }

    /// The same as `points` as the code gives it, with the direction of light winds too.
    fn coded_point(&self, k: usize) -> [f64; 3] {
        let [x, dir, speed] = self.coded(k);
        [x, self.turned[k] + shorter_arc(dir - self.at[k][1]), speed]
    }
}

#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
impl Curve for WindCurve {
    type Cone = WindCone;
    type Chord = Chord;

    fn key(&self, k: usize) -> u16 {
        self.key[k]
    }

    fn node(&self, _: usize) -> bool {
        true
    }

    fn joins(&self, a: usize, b: usize) -> bool {
        self.key[a] != self.key[b]
    }

    #[inline]
    fn chord(&self, a: usize, b: usize, ends: Ends) -> Chord {
        let ([xa, da, sa], [xb, db, sb]) = match ends {
            Ends::Exact => (self.at[a], self.at[b]),
            Ends::Coded => (self.coded(a), self.coded(b)),
        };
        let turn = shorter_arc(db - da);
        Chord {
            start: [xa, da, sa],
            run: 1.0 / (xb - xa),
            turn,
            rise: sb - sa,
            wide: turn.abs() > WIDEST_TURN_DEG,
            per: self.limit.map(|limit| 1.0 / limit),
            light_ms: limits().light_wind_ms,
        }
    }

    #[inline]
    fn off(&self, chord: &Chord, k: usize) -> [f64; 2] {
        chord.off(self.at[k])
    }

    #[inline]
    fn is_straight(&self, chord: &Chord, low: usize, high: usize) -> bool {
        chord.is_straight(self.at[low][0], self.at[low][1], self.at[high][0])
    }

    fn corners(&self) -> &Corners {
        &self.corners
    }

    fn open(&self, a: usize, ends: Ends) -> WindCone {
        WindCone {
            start: a,
            cone: Cone {
                limit: self.limit,
                exact: Fan::open(self.at[a][0], [self.turned[a], self.at[a][2]]),
                coded: (ends == Ends::Coded).then(|| {
                    let [x, dir, speed] = self.coded_point(a);
                    Fan::open(x, [dir, speed])
                }),
            },
        }
    }

    fn pass(&self, cone: &mut WindCone, points: Range<usize>) -> bool {
        cone.cone.pass(&self.points, &self.corners, points)
    }

    #[inline]
    fn may_admit(&self, WindCone { start, cone }: &WindCone, b: usize) -> bool {
        let end = self.turned[b];
        cone.exact.admits(self.at[b][0], [end, self.at[b][2]])
            && (end - self.turned[*start]).abs() <= WIDEST_TURN_DEG
    }

    fn admits(&self, from: &WindCone, b: usize) -> bool {
        let (a, rounded) = (from.start, from.cone.coded.as_ref());
        let coded = || {
            rounded.is_none_or(|fan| {
                let [x, end, speed] = self.coded_point(b);
                let [start, _] = fan.start();
                fan.admits(x, [end, speed]) && (end - start).abs() <= WIDEST_TURN_DEG
            })
        };
        // Light winds last: each of them is looked at.
        self.may_admit(from, b)
            && coded()
            && self.passes_light(a, b, Ends::Exact)
            && (rounded.is_none() || self.passes_light(a, b, Ends::Coded))
    }

    #[inline]
    fn sum_of_squares(&self, a: usize, b: usize) -> f64 {
        let at = |k: usize| (self.at[k][0], Pair(self.turned[k], self.at[k][2]));
        let limits = Pair(self.limit[0], self.limit[1]);
        let Pair(dir, speed) = self.sums.squares(a, b, at(a), at(b)) / (limits * limits);
        dir + speed
    }
}
