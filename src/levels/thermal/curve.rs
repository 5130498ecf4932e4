//! Temperature and humidity along a chain, as a curve to be rebuilt.

use std::ops::Range;

use crate::levels::column::Column;
use crate::levels::cone::{Cone, Fan};
use crate::levels::corners::Corners;
use crate::levels::memo::Memo;
use crate::levels::pair::Pair;
use crate::levels::reduce::{Curve, Ends};
use crate::levels::sums::Sums;
use crate::levels::tolerance::temperature_k;
use crate::physics::humidity::{dewpoint_c, relative_humidity_pct};
use crate::tables::figure::{DepressionFigure, PressureFigure, TemperatureFigure};
use crate::tables::limits;

/// The points of one chain: the rows with temperature between two rows.
pub(super) struct ThermalCurve {
    /// Profile row of each point.
    pub(super) row: Vec<usize>,
    key: Vec<u16>,
    pub(super) p: Vec<f64>,
    /// −ln p, temperature and humidity (NaN where missing) of each point, side by side.
    pub(super) at: Vec<[f64; 3]>,
    /// Dew point, °C, where it is not that of temperature and humidity.
    pub(super) td: Vec<f64>,
    /// The same as `at` with humidity as observed, where that is something else.
    observed: Option<Vec<[f64; 3]>>,
    corners: Corners,
    /// Whether a point may be an additional level.
    pub(super) node: Vec<bool>,
    /// −ln p, temperature and humidity as the code gives them.
    coded: Memo,
    /// The first tropopause that the chain knows of, hPa.
    pub(super) tropopause_hpa: Option<f64>,
    /// Down to this pressure (hPa) the ratio of neighbours is limited.
    pub(super) ratio_to_hpa: f64,
    sums: Sums,
}

/// A straight change of temperature and humidity between two points.
#[derive(Clone, Copy)]
pub(super) struct Chord {
    start: [f64; 3],
    run: f64,
    rise: [f64; 2],
    per: [f64; 2],
}

impl Chord {
    /// Departures of a point from the chord, in units of the limits.
    #[inline]
    fn off(&self, [x, t, u]: [f64; 3]) -> [f64; 2] {
        let ([xa, ta, ua], [dt, du], [per_t, per_u]) = (self.start, self.rise, self.per);
        let w = ((x - xa) * self.run).clamp(0.0, 1.0);
        let t = (t - (ta + dt * w)).abs() * per_t;
        let u = (u - (ua + du * w)).abs() * per_u;
        [t, if u.is_nan() { 0.0 } else { u }]
    }

    /// Whether the chord is straight from one coordinate to another: both between its ends.
    #[inline]
    fn is_straight(&self, low: f64, high: f64) -> bool {
        let [xa, ..] = self.start;
        (low - xa) * self.run >= 0.0 && (high - xa) * self.run <= 1.0
    }
}

#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
impl ThermalCurve {
    pub(super) fn new(column: &Column, rows: Range<usize>, anchor: Option<usize>) -> Self {
        let row: Vec<usize> = anchor
            .into_iter()
            .chain(rows)
            .filter(|&k| column.t[k].is_finite())
            .collect();
        let at: Vec<[f64; 3]> = (row.iter())
            .map(|&k| [column.x[k], column.t[k], column.u[k]])
            .collect();
        let pull = |values: &[f64]| -> Vec<f64> { row.iter().map(|&k| values[k]).collect() };
        let keys = column.keys();
        let (p, td) = (pull(&column.p), pull(&column.td));
        Self {
            sums: Sums::new(&at),
            corners: Corners::new(&at, |_| false),
            observed: None,
            key: row.iter().map(|&k| keys[k]).collect(),
            node: at.iter().map(|at| at[2].is_finite()).collect(),
            coded: Memo::of(row.len()),
            tropopause_hpa: None,
            ratio_to_hpa: f64::INFINITY,
            row,
            p,
            at,
            td,
        }
    }

    pub(super) fn len(&self) -> usize {
        self.row.len()
    }

    fn coded(&self, k: usize) -> [f64; 3] {
        self.coded.get(k, || self.as_coded(k))
    }

    fn as_coded(&self, k: usize) -> [f64; 3] {
        let ([x, t, u], p) = (self.at[k], self.p[k]);
        let own = Some(self.td[k]).filter(|td| td.is_finite());
        let x = PressureFigure::from_value(p).map_or(x, |f| -f.value_hpa().ln());
        let t_code = TemperatureFigure::from_value(t).map_or(t, TemperatureFigure::value_c);
        let u_code = own.or_else(|| dewpoint_c(t, u)).map_or(f64::NAN, |td| {
            let depression =
                DepressionFigure::from_value(t - td).map_or(t - td, DepressionFigure::value_k);
            relative_humidity_pct(t_code, t_code - depression)
        });
        [x, t_code, u_code]
    }

    /// Gives a point a humidity that was not observed, with its dew point.
    pub(super) fn fill(&mut self, k: usize, humidity_pct: f64, dewpoint_c: f64) {
        self.observed.get_or_insert_with(|| self.at.clone());
        self.at[k][2] = humidity_pct;
        self.td[k] = dewpoint_c;
        self.node[k] = true;
    }

    /// Tolerance of temperature on a chord that starts at a point (35.3.1.3 a).
    pub(super) fn limit_t(&self, a: usize) -> f64 {
        temperature_k(self.p[a], self.tropopause_hpa)
    }
}

#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
impl Curve for ThermalCurve {
    type Cone = Cone;
    type Chord = Chord;

    fn key(&self, k: usize) -> u16 {
        self.key[k]
    }

    fn node(&self, k: usize) -> bool {
        self.node[k]
    }

    fn joins(&self, a: usize, b: usize) -> bool {
        self.key[a] != self.key[b]
            && (self.p[b] < self.ratio_to_hpa || self.p[b] / self.p[a] > limits().pressure_ratio)
    }

    #[inline]
    fn chord(&self, a: usize, b: usize, ends: Ends) -> Chord {
        let ([xa, ta, ua], [xb, tb, ub]) = match ends {
            Ends::Exact => (self.at[a], self.at[b]),
            Ends::Coded => (self.coded(a), self.coded(b)),
        };
        Chord {
            start: [xa, ta, ua],
            run: 1.0 / (xb - xa),
            rise: [tb - ta, ub - ua],
            per: [1.0 / self.limit_t(a), 1.0 / limits().humidity_pct],
        }
    }

    #[inline]
    fn off(&self, chord: &Chord, k: usize) -> [f64; 2] {
        chord.off(self.at[k])
    }

    #[inline]
    fn is_straight(&self, chord: &Chord, low: usize, high: usize) -> bool {
        chord.is_straight(self.at[low][0], self.at[high][0])
    }

    fn corners(&self) -> &Corners {
        &self.corners
    }

    fn open(&self, a: usize, ends: Ends) -> Cone {
        Cone {
            limit: [self.limit_t(a), limits().humidity_pct],
            exact: Fan::open(self.at[a][0], [self.at[a][1], self.at[a][2]]),
            coded: (ends == Ends::Coded).then(|| {
                let [x, t, u] = self.coded(a);
                Fan::open(x, [t, u])
            }),
        }
    }

    fn pass(&self, cone: &mut Cone, points: Range<usize>) -> bool {
        let observed = self.observed.as_ref().unwrap_or(&self.at);
        cone.pass(observed, &self.corners, points)
    }

    #[inline]
    fn may_admit(&self, cone: &Cone, b: usize) -> bool {
        cone.exact
            .admits(self.at[b][0], [self.at[b][1], self.at[b][2]])
    }

    #[inline]
    fn admits(&self, cone: &Cone, b: usize) -> bool {
        self.may_admit(cone, b)
            && cone.coded.as_ref().is_none_or(|fan| {
                let [x, t, u] = self.coded(b);
                fan.admits(x, [t, u])
            })
    }

    #[inline]
    fn sum_of_squares(&self, a: usize, b: usize) -> f64 {
        let at = |k: usize| (self.at[k][0], Pair(self.at[k][1], self.at[k][2]));
        let limits = Pair(self.limit_t(a), limits().humidity_pct);
        let Pair(t, u) = self.sums.squares(a, b, at(a), at(b)) / (limits * limits);
        if u.is_finite() { t + u } else { t }
    }
}
