//! Significant levels for temperature and humidity (WMO-No. 306, 35.3.1).

use std::cell::Cell;

use super::column::Column;
use super::layers::{Chain, Counts, Hole, holes};
use super::reduce::{Curve, Ends, fewest};
use super::sums::Sums;
use super::{Fixed, Pick, Rank, reason, settle_fixed};
use crate::figure::{DepressionFigure, PressureFigure, TemperatureFigure};
use crate::finding::Finding;
use crate::physics::humidity::relative_humidity_pct;
use crate::sounding::{Element, MissingLayer, Reason, Roles};
use crate::tables::limits;

/// The points of one chain: the rows with temperature between two rows.
pub(crate) struct ThermalCurve {
    /// Profile row of each point.
    row: Vec<usize>,
    x: Vec<f64>,
    p: Vec<f64>,
    t: Vec<f64>,
    td: Vec<f64>,
    /// Humidity as observed; NaN where missing.
    u: Vec<f64>,
    /// Whether a point may be an additional level.
    node: Vec<bool>,
    /// −ln p, temperature and humidity as the code gives them, once asked for.
    coded: Vec<Cell<Option<[f64; 3]>>>,
    /// Above this pressure (hPa) the wider tolerance holds.
    tight_to_hpa: f64,
    /// Down to this pressure (hPa) the ratio of neighbours is limited.
    ratio_to_hpa: f64,
    sums_t: Sums,
    sums_u: Sums,
}

/// A cone of straight lines from one point: bounds of slope.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Slopes {
    pub low: f64,
    pub high: f64,
}

impl Slopes {
    pub const ALL: Self = Self {
        low: f64::NEG_INFINITY,
        high: f64::INFINITY,
    };

    /// Narrows to the lines that pass within `limit` of `dy` at distance `dx`.
    #[inline]
    pub fn pass(&mut self, dx: f64, dy: f64, limit: f64) {
        // At (or before) the start a line says nothing yet.
        if dx > 1e-12 && dy.is_finite() {
            let run = 1.0 / dx;
            self.low = self.low.max((dy - limit) * run);
            self.high = self.high.min((dy + limit) * run);
        }
    }

    #[inline]
    pub fn is_empty(self) -> bool {
        self.low > self.high
    }

    /// Whether the line to `dy` at distance `dx` is inside; a missing end
    /// allows everything.
    #[inline]
    pub fn admits(self, dx: f64, dy: f64) -> bool {
        if !dy.is_finite() {
            return true;
        }
        let slope = dy / dx;
        let margin = 1e-9 * slope.abs() + 1e-12;
        slope >= self.low - margin && slope <= self.high + margin
    }
}

pub(crate) struct ThermalCone {
    start: usize,
    limit_t: f64,
    from_coded: [f64; 3],
    t: Slopes,
    u: Slopes,
    coded_t: Slopes,
    coded_u: Slopes,
}

#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
impl ThermalCurve {
    fn new(column: &Column, rows: std::ops::Range<usize>, anchor: Option<usize>) -> Self {
        let row: Vec<usize> = anchor
            .into_iter()
            .chain(rows)
            .filter(|&k| column.t[k].is_finite())
            .collect();
        let pull = |values: &[f64]| -> Vec<f64> { row.iter().map(|&k| values[k]).collect() };
        let (x, p, t) = (pull(&column.x), pull(&column.p), pull(&column.t));
        let (td, u) = (pull(&column.td), pull(&column.u));
        let points =
            |y: &[f64]| -> Vec<(f64, f64)> { x.iter().copied().zip(y.iter().copied()).collect() };
        let sums_t = Sums::new(points(&t).into_iter());
        let sums_u = Sums::new(points(&u).into_iter());
        Self {
            node: u.iter().map(|u| u.is_finite()).collect(),
            coded: vec![Cell::new(None); row.len()],
            tight_to_hpa: 0.0,
            ratio_to_hpa: f64::INFINITY,
            row,
            x,
            p,
            t,
            td,
            u,
            sums_t,
            sums_u,
        }
    }

    fn len(&self) -> usize {
        self.row.len()
    }

    fn coded(&self, k: usize) -> [f64; 3] {
        if let Some(coded) = self.coded[k].get() {
            return coded;
        }
        let (p, t, td) = (self.p[k], self.t[k], self.td[k]);
        let x = PressureFigure::from_value(p).map_or(self.x[k], |f| -f.value_hpa().ln());
        let t_code = TemperatureFigure::from_value(t).map_or(t, TemperatureFigure::value_c);
        let u_code = if td.is_finite() {
            let depression =
                DepressionFigure::from_value(t - td).map_or(t - td, DepressionFigure::value_k);
            relative_humidity_pct(t_code, t_code - depression)
        } else {
            f64::NAN
        };
        let coded = [x, t_code, u_code];
        self.coded[k].set(Some(coded));
        coded
    }

    /// Tolerance of temperature on a chord that starts at a point (35.3.1.3 a).
    fn limit_t(&self, a: usize) -> f64 {
        let lim = limits();
        if self.p[a] < self.tight_to_hpa {
            lim.temperature_high_k
        } else {
            lim.temperature_low_k
        }
    }

    /// Departures of T and U, each in its own limit; 0 where U is missing.
    fn departures(&self, a: usize, b: usize, k: usize, ends: Ends) -> (f64, f64) {
        let ([xa, ta, ua], [xb, tb, ub]) = match ends {
            Ends::Exact => (
                [self.x[a], self.t[a], self.u[a]],
                [self.x[b], self.t[b], self.u[b]],
            ),
            Ends::Coded => (self.coded(a), self.coded(b)),
        };
        let w = ((self.x[k] - xa) / (xb - xa)).clamp(0.0, 1.0);
        let t = (self.t[k] - (ta + (tb - ta) * w)).abs() / self.limit_t(a);
        let u = (self.u[k] - (ua + (ub - ua) * w)).abs() / limits().humidity_pct;
        (t, if u.is_nan() { 0.0 } else { u })
    }
}

#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
impl Curve for ThermalCurve {
    type Cone = ThermalCone;

    fn key(&self, k: usize) -> u16 {
        super::coded_key(self.p[k])
    }

    fn node(&self, k: usize) -> bool {
        self.node[k]
    }

    fn joins(&self, a: usize, b: usize) -> bool {
        self.key(a) != self.key(b)
            && (self.p[b] < self.ratio_to_hpa || self.p[b] / self.p[a] > limits().pressure_ratio)
    }

    fn departure(&self, a: usize, b: usize, k: usize, ends: Ends) -> f64 {
        let (t, u) = self.departures(a, b, k, ends);
        t.max(u)
    }

    fn open(&self, a: usize) -> ThermalCone {
        ThermalCone {
            start: a,
            limit_t: self.limit_t(a),
            from_coded: self.coded(a),
            t: Slopes::ALL,
            u: Slopes::ALL,
            coded_t: Slopes::ALL,
            coded_u: Slopes::ALL,
        }
    }

    fn pass(&self, cone: &mut ThermalCone, k: usize) -> bool {
        let a = cone.start;
        let [xa, ta, ua] = cone.from_coded;
        let limit_u = limits().humidity_pct;
        let (x, t, u) = (self.x[k], self.t[k], self.u[k]);
        cone.t.pass(x - self.x[a], t - self.t[a], cone.limit_t);
        cone.u.pass(x - self.x[a], u - self.u[a], limit_u);
        cone.coded_t.pass(x - xa, t - ta, cone.limit_t);
        cone.coded_u.pass(x - xa, u - ua, limit_u);
        !(cone.t.is_empty()
            || cone.u.is_empty()
            || cone.coded_t.is_empty()
            || cone.coded_u.is_empty())
    }

    fn admits(&self, cone: &ThermalCone, b: usize) -> bool {
        let a = cone.start;
        let [xa, ta, ua] = cone.from_coded;
        let [xb, tb, ub] = self.coded(b);
        let dx = self.x[b] - self.x[a];
        cone.t.admits(dx, self.t[b] - self.t[a])
            && cone.u.admits(dx, self.u[b] - self.u[a])
            && cone.coded_t.admits(xb - xa, tb - ta)
            && cone.coded_u.admits(xb - xa, ub - ua)
    }

    fn sum_of_squares(&self, a: usize, b: usize) -> f64 {
        let t = self
            .sums_t
            .squares(a, b, (self.x[a], self.t[a]), (self.x[b], self.t[b]));
        let u = self
            .sums_u
            .squares(a, b, (self.x[a], self.u[a]), (self.x[b], self.u[b]));
        let limit_u = limits().humidity_pct;
        let t = t / self.limit_t(a).powi(2);
        if u.is_finite() {
            t + u / (limit_u * limit_u)
        } else {
            t
        }
    }
}

/// What the rest of the selection needs to know.
pub(crate) struct ThermalInput<'a> {
    pub column: &'a Column,
    /// Tropopauses, rows, lowest first.
    pub tropopauses: &'a [usize],
    /// Whether data go on above 100 hPa (or will, in an early message).
    pub goes_on: bool,
    /// Rows ordered in, with the words of the order.
    pub forced: &'a [(usize, String)],
}

/// The chosen levels of both chains and the layers without data.
pub(crate) struct Thermal {
    pub picks: Vec<Pick>,
    pub missing: Vec<MissingLayer>,
    pub findings: Vec<Finding>,
}

/// Chooses the significant levels for temperature and humidity.
pub(crate) fn choose(input: &ThermalInput<'_>) -> Thermal {
    let column = input.column;
    let mut out = Thermal {
        picks: Vec::new(),
        missing: Vec::new(),
        findings: Vec::new(),
    };
    let (n, lower) = (column.len(), column.lower);
    let has_t = |k: usize| column.t.get(k).is_some_and(|t| t.is_finite());
    let Some(last) = (0..n).rev().find(|&k| has_t(k)) else {
        return out;
    };
    let depth = |a: usize, b: usize| match (column.p.get(a), column.p.get(b)) {
        (Some(a), Some(b)) => a - b,
        _ => 0.0,
    };
    let least = limits().missing_thermal_layer_hpa;
    let no_t = holes(n, has_t, depth, least);
    // Humidity is looked for only where there is temperature.
    let has_u = |k: usize| column.u.get(k).is_some_and(|u| u.is_finite());
    let no_u: Vec<Hole> = holes(n, has_u, depth, least)
        .into_iter()
        .filter(|h| {
            let from = h.below.unwrap_or(0);
            let to = h.above.unwrap_or(n);
            (from + 1..to).any(|k| has_t(k) && !has_u(k))
        })
        .collect();
    for (element, list) in [(Element::Temperature, &no_t), (Element::Humidity, &no_u)] {
        for hole in list {
            let p = |k: Option<usize>| k.and_then(|k| column.p.get(k)).copied();
            out.missing.push(MissingLayer {
                element,
                from_hpa: p(hole.below),
                to_hpa: p(hole.above),
            });
        }
    }
    let holes = Holes {
        no_t: &no_t,
        no_u: &no_u,
    };
    let first = input.tropopauses.first().copied();
    let low_first = first.filter(|&k| k < lower);
    let fallback = limits().thermal_bound_hpa;
    let pressure = |k: usize| column.p.get(k).copied().unwrap_or(fallback);

    // Part B knows a tropopause only if it is at or below 100 hPa; when the
    // ascent goes on without one, the first is somewhere above.
    let ceiling = match low_first {
        Some(k) => pressure(k).min(fallback),
        None if input.goes_on => 0.0,
        None => fallback,
    };
    let tight = low_first.map_or(fallback, |k| pressure(k).max(fallback));
    let ratio = match low_first {
        Some(k) => pressure(k),
        None if input.goes_on => 0.0,
        None => fallback,
    };
    let bounds = Bounds {
        ceiling_hpa: ceiling,
        tight_to_hpa: tight,
        ratio_to_hpa: ratio,
        last,
    };
    chain(input, 0..lower, None, &holes, &bounds, &mut out);

    let anchor = (0..lower).rev().find(|&k| has_t(k));
    let ceiling = first.map_or(fallback, |k| pressure(k).min(fallback));
    let bounds = Bounds {
        ceiling_hpa: ceiling,
        tight_to_hpa: first.map_or(fallback, |k| pressure(k).max(fallback)),
        ratio_to_hpa: first.map_or(fallback, pressure),
        last,
    };
    chain(input, lower..n, anchor, &holes, &bounds, &mut out);
    out
}

/// Layers without temperature and without humidity.
struct Holes<'a> {
    no_t: &'a [Hole],
    no_u: &'a [Hole],
}

/// The pressures that bound the rules in one chain.
struct Bounds {
    ceiling_hpa: f64,
    tight_to_hpa: f64,
    ratio_to_hpa: f64,
    /// The highest row with temperature.
    last: usize,
}

/// One chain: its fixed levels, then the additional ones between them.
#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
fn chain(
    input: &ThermalInput<'_>,
    rows: std::ops::Range<usize>,
    anchor: Option<usize>,
    holes: &Holes<'_>,
    bounds: &Bounds,
    out: &mut Thermal,
) {
    let column = input.column;
    let mut curve = ThermalCurve::new(column, rows, anchor);
    curve.tight_to_hpa = bounds.tight_to_hpa;
    curve.ratio_to_hpa = bounds.ratio_to_hpa;
    let n = curve.len();
    if n == 0 || (anchor.is_some() && n == 1) {
        return;
    }
    for hole in holes.no_u {
        for k in 0..n {
            let row = curve.row[k];
            if hole.below.is_none_or(|b| row > b) && hole.above.is_none_or(|a| row < a) {
                curve.node[k] = true;
            }
        }
    }
    let mut fixed = fixed_levels(input, &curve, anchor, holes, bounds);
    settle_fixed(
        &mut fixed,
        |k| curve.key(k),
        |k| curve.p[k],
        n,
        anchor.is_some(),
        &mut out.findings,
    );
    fill_humidity(&mut curve, &fixed);
    mark_humid_layers(&curve, holes.no_u, &mut fixed);

    let mut chosen: Vec<Fixed> = Vec::new();
    for pair in fixed.windows(2) {
        let (a, b) = (pair[0].k, pair[1].k);
        chosen.push(pair[0].clone());
        let hole = holes.no_t.iter().any(|h| {
            h.below.is_none_or(|r| r <= curve.row[a]) && h.above.is_some_and(|r| r >= curve.row[b])
        });
        if hole {
            continue;
        }
        let inner = fewest(&curve, a, b);
        for (i, &k) in inner.iter().enumerate() {
            let low = if i == 0 { a } else { inner[i - 1] };
            let high = inner.get(i + 1).copied().unwrap_or(b);
            chosen.push(additional(&curve, low, k, high));
        }
    }
    chosen.extend(fixed.last().cloned());
    for fixed in chosen {
        if anchor.is_some() && fixed.k == 0 {
            continue;
        }
        let k = fixed.k;
        let row = curve.row[k];
        let filled = column.u[row].is_nan() && curve.u[k].is_finite();
        out.picks.push(Pick {
            row,
            roles: fixed.roles,
            why: fixed.why,
            humidity: filled.then(|| (curve.td[k], curve.u[k])),
        });
    }
}

/// Why an additional level is there: what would go wrong without it.
fn additional(curve: &ThermalCurve, low: usize, k: usize, high: usize) -> Fixed {
    let (mut t, mut u) = (0.0f64, 0.0f64);
    for j in low + 1..high {
        for ends in [Ends::Exact, Ends::Coded] {
            let (dt, du) = curve.departures(low, high, j, ends);
            t = t.max(dt);
            u = u.max(du);
        }
    }
    let lim = limits();
    let mut roles = Roles::NONE;
    let mut why: Vec<Reason> = Vec::new();
    if t > 1.0 {
        roles |= Roles::SIG_TEMPERATURE;
        why.push(reason(
            format!(
                "without it temperature departs by {:.1} K (limit {} K)",
                t * curve.limit_t(low),
                curve.limit_t(low)
            ),
            "WMO-No. 306, 35.3.1.3 (a)",
        ));
    }
    if u > 1.0 {
        roles |= Roles::SIG_HUMIDITY;
        why.push(reason(
            format!(
                "without it humidity departs by {:.0} % (limit {} %)",
                u * lim.humidity_pct,
                lim.humidity_pct
            ),
            "WMO-No. 306, 35.3.1.3 (b)",
        ));
    }
    if roles.is_empty() {
        roles = Roles::SIG_TEMPERATURE;
        why.push(reason(
            format!(
                "pressure of neighbours must be above {} of the one below",
                lim.pressure_ratio
            ),
            "WMO-No. 306, 35.3.1.3 (c)",
        ));
    }
    Fixed {
        k,
        roles,
        rank: Rank::Additional,
        why: why.into_iter().collect(),
    }
}

/// The levels that the rules ask for whatever the curve between them does.
#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
fn fixed_levels(
    input: &ThermalInput<'_>,
    curve: &ThermalCurve,
    anchor: Option<usize>,
    holes: &Holes<'_>,
    bounds: &Bounds,
) -> Vec<Fixed> {
    let lim = limits();
    let n = curve.len();
    let mut fixed: Vec<Fixed> = Vec::new();
    let mut add = |k: usize, roles: Roles, rank: Rank, text: String, clause: &'static str| {
        fixed.push(Fixed {
            k,
            roles,
            rank,
            why: vec![reason(text, clause)],
        });
    };
    let both = Roles::SIG_T_OR_U;
    if anchor.is_some() {
        add(0, Roles::NONE, Rank::Anchor, String::new(), "");
    } else if curve.row[0] == 0 {
        add(
            0,
            both | Roles::SURFACE,
            Rank::Surface,
            "surface".into(),
            "WMO-No. 306, 35.3.1.2",
        );
    } else {
        add(
            0,
            both,
            Rank::MissingEnd,
            "first level with temperature".into(),
            "WMO-No. 306, 35.3.1.2",
        );
    }
    let top = n - 1;
    if curve.row[top] == bounds.last {
        add(
            top,
            both,
            Rank::Top,
            "highest level with temperature".into(),
            "WMO-No. 306, 35.3.1.2",
        );
    }
    if anchor.is_none() && input.goes_on {
        let words = if curve.p[top] <= lim.near_100_low_hpa {
            "one level between 110 and 100 hPa; it closes Part B"
        } else {
            "last level with temperature at or below 100 hPa"
        };
        add(
            top,
            both,
            Rank::Closing,
            words.into(),
            "WMO-No. 306, 35.3.1.2",
        );
    }
    let point = |row: usize| {
        curve
            .row
            .binary_search(&row)
            .ok()
            .filter(|&k| anchor.is_none() || k > 0)
    };
    for (i, &row) in input.tropopauses.iter().enumerate() {
        if let Some(k) = point(row) {
            let which = if i == 0 {
                "first tropopause"
            } else {
                "further tropopause"
            };
            add(
                k,
                Roles::SIG_TEMPERATURE,
                Rank::Tropopause,
                which.into(),
                "WMO-No. 306, 35.3.1.2",
            );
        }
    }
    let chain = Chain {
        p: &curve.p,
        t: &curve.t,
        u: &curve.u,
    };
    for (layer, counts) in chain.reported(bounds.ceiling_hpa) {
        let (kind, roles) = match counts {
            Counts::ThickInversion => ("inversion at least 20 hPa thick", Roles::SIG_TEMPERATURE),
            Counts::Isothermal => (
                "isothermal layer at least 20 hPa thick",
                Roles::SIG_TEMPERATURE,
            ),
            Counts::StrongInversion => ("inversion of at least 2.5 K", Roles::SIG_TEMPERATURE),
            Counts::HumidityChange => (
                "inversion over which humidity changes by at least 20 %",
                Roles::SIG_HUMIDITY,
            ),
        };
        add(
            layer.base,
            roles,
            Rank::LayerEnd,
            format!("base of an {kind}"),
            "WMO-No. 306, 35.3.1.2",
        );
        add(
            layer.top,
            roles,
            Rank::LayerEnd,
            format!("top of an {kind}"),
            "WMO-No. 306, 35.3.1.2",
        );
    }
    let missing = [
        (
            holes.no_t,
            Roles::BEGIN_MISSING_TEMPERATURE,
            Roles::END_MISSING_TEMPERATURE,
            "temperature",
            Roles::SIG_TEMPERATURE,
        ),
        (
            holes.no_u,
            Roles::BEGIN_MISSING_HUMIDITY,
            Roles::END_MISSING_HUMIDITY,
            "humidity",
            Roles::SIG_HUMIDITY,
        ),
    ];
    for (list, begin, end, name, role) in missing {
        for hole in list {
            if let Some(k) = hole.below.and_then(point) {
                add(
                    k,
                    role | begin,
                    Rank::MissingEnd,
                    format!("last level before {name} is missing"),
                    "WMO-No. 306, 35.3.1.6",
                );
            }
            if let Some(k) = hole.above.and_then(point) {
                add(
                    k,
                    role | end,
                    Rank::MissingEnd,
                    format!("first level after {name} was missing"),
                    "WMO-No. 306, 35.3.1.6",
                );
            }
        }
    }
    // Humidity that begins late or ends early, by less than a missing layer.
    let humid = |k: &usize| curve.u[*k].is_finite();
    let start = usize::from(anchor.is_some());
    if anchor.is_none()
        && let Some(k) = (start..n).find(humid)
        && k > 0
    {
        add(
            k,
            Roles::SIG_HUMIDITY,
            Rank::MissingEnd,
            "first level with humidity".into(),
            "WMO-No. 306, 35.3.1.6",
        );
    }
    let ends_here = curve.row[top] == bounds.last || anchor.is_none();
    if ends_here
        && let Some(k) = (start..n).rev().find(humid)
        && k < top
    {
        add(
            k,
            Roles::SIG_HUMIDITY,
            Rank::MissingEnd,
            "last level with humidity".into(),
            "WMO-No. 306, 35.3.1.6",
        );
    }
    for (row, words) in input.forced {
        if let Some(k) = point(*row) {
            add(
                k,
                both | Roles::FORCED,
                Rank::Forced,
                words.clone(),
                "order of the sheet",
            );
        }
    }
    fixed
}

/// Fixed levels inside a short stretch without humidity take it from the rows
/// around, as a standard surface would.
#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
fn fill_humidity(curve: &mut ThermalCurve, fixed: &[Fixed]) {
    let lim = limits();
    for f in fixed {
        let k = f.k;
        if curve.u[k].is_finite() {
            continue;
        }
        let low = (0..k).rev().find(|&j| curve.u[j].is_finite());
        let high = (k + 1..curve.len()).find(|&j| curve.u[j].is_finite());
        if let (Some(l), Some(h)) = (low, high)
            && curve.p[l] - curve.p[h] < lim.missing_thermal_layer_hpa
        {
            let w = (curve.x[k] - curve.x[l]) / (curve.x[h] - curve.x[l]);
            curve.u[k] = curve.u[l] + (curve.u[h] - curve.u[l]) * w;
            curve.td[k] = curve.td[l] + (curve.td[h] - curve.td[l]) * w;
            curve.coded[k].set(None);
        }
    }
}

/// A layer without humidity alone is seen in the text only by a level inside
/// it: where temperature asks for none, the middle one goes in.
#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
fn mark_humid_layers(curve: &ThermalCurve, no_u: &[Hole], fixed: &mut Vec<Fixed>) {
    for hole in no_u {
        let low = hole
            .below
            .map_or(0, |r| curve.row.partition_point(|&row| row <= r));
        let high = hole
            .above
            .map_or(curve.len(), |r| curve.row.partition_point(|&row| row < r));
        if low >= high
            || fixed
                .iter()
                .any(|f| f.rank != Rank::Anchor && (low..high).contains(&f.k))
        {
            continue;
        }
        let centre = f64::midpoint(curve.x[low], curve.x[high - 1]);
        let k = (low..high)
            .filter(|&k| fixed.iter().all(|f| curve.key(f.k) != curve.key(k)))
            .min_by(|&a, &b| {
                (curve.x[a] - centre)
                    .abs()
                    .total_cmp(&(curve.x[b] - centre).abs())
            });
        if let Some(k) = k {
            let at = fixed.partition_point(|f| f.k < k);
            fixed.insert(
                at,
                Fixed {
                    k,
                    roles: Roles::SIG_HUMIDITY,
                    rank: Rank::MissingEnd,
                    why: vec![reason(
                        "inside a layer without humidity",
                        "WMO-No. 306, 35.3.1.6",
                    )],
                },
            );
        }
    }
}
