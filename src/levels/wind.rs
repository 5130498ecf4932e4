//! Significant wind levels (WMO-No. 306, 35.3.2, 32.3.1).

use std::cell::Cell;

use super::column::{Column, shorter_arc};
use super::layers::{Hole, holes, rises};
use super::reduce::{Curve, Ends, fewest};
use super::sums::Sums;
use super::thermal::Slopes;
use super::{Fixed, Pick, Rank, reason, settle_fixed};
use crate::figure::{PressureFigure, WindFigure};
use crate::finding::Finding;
use crate::quantity::SpeedUnit;
use crate::sounding::{Element, MissingLayer, Roles};
use crate::tables::limits;

/// A chord that turns through more than this has no shorter arc to speak of.
const WIDEST_TURN_DEG: f64 = 179.0;

/// The points of one chain: the rows with wind between two rows.
struct WindCurve {
    row: Vec<usize>,
    x: Vec<f64>,
    p: Vec<f64>,
    dir: Vec<f64>,
    speed: Vec<f64>,
    /// −ln p, direction and speed as the code gives them, once asked for.
    coded: Vec<Cell<Option<[f64; 3]>>>,
    unit: SpeedUnit,
    /// Direction without jumps at north, for the sums.
    turned: Vec<f64>,
    sums_dir: Sums,
    sums_speed: Sums,
}

/// What is known of the chords that start at one point.
struct WindCone {
    start: usize,
    from_coded: [f64; 3],
    /// Direction of the last point that counted, without jumps.
    turned: f64,
    dir: Slopes,
    speed: Slopes,
    coded_dir: Slopes,
    coded_speed: Slopes,
}

#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
impl WindCurve {
    fn new(
        column: &Column,
        rows: std::ops::Range<usize>,
        anchor: Option<usize>,
        unit: SpeedUnit,
    ) -> Self {
        let row: Vec<usize> = anchor
            .into_iter()
            .chain(rows)
            .filter(|&k| column.speed[k].is_finite())
            .collect();
        let pull = |values: &[f64]| -> Vec<f64> { row.iter().map(|&k| values[k]).collect() };
        let (x, p) = (pull(&column.x), pull(&column.p));
        let (dir, speed) = (pull(&column.dir), pull(&column.speed));
        let light = limits().light_wind_ms;
        let mut turned = Vec::with_capacity(dir.len());
        let mut last = dir.first().copied().unwrap_or(0.0);
        for (&d, &s) in dir.iter().zip(&speed) {
            let here = last + shorter_arc(d - last);
            turned.push(here);
            if s >= light {
                last = here;
            }
        }
        let weighed: Vec<(f64, f64)> = x
            .iter()
            .zip(&turned)
            .zip(&speed)
            .map(|((&x, &d), &s)| (x, if s < light { f64::NAN } else { d }))
            .collect();
        let speeds: Vec<(f64, f64)> = x.iter().copied().zip(speed.iter().copied()).collect();
        Self {
            coded: vec![Cell::new(None); row.len()],
            sums_dir: Sums::new(weighed.into_iter()),
            sums_speed: Sums::new(speeds.into_iter()),
            row,
            x,
            p,
            dir,
            speed,
            unit,
            turned,
        }
    }

    fn len(&self) -> usize {
        self.row.len()
    }

    fn coded(&self, k: usize) -> [f64; 3] {
        if let Some(coded) = self.coded[k].get() {
            return coded;
        }
        let x = PressureFigure::from_value(self.p[k]).map_or(self.x[k], |f| -f.value_hpa().ln());
        let (dir, speed) = WindFigure::from_value(self.dir[k], self.speed[k], self.unit)
            .map_or((self.dir[k], self.speed[k]), |f| {
                (f.dir_deg(), f.speed_ms(self.unit))
            });
        let coded = [x, dir, speed];
        self.coded[k].set(Some(coded));
        coded
    }

    fn light(&self, k: usize) -> bool {
        self.speed[k] < limits().light_wind_ms
    }
}

#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
impl Curve for WindCurve {
    type Cone = WindCone;

    fn key(&self, k: usize) -> u16 {
        super::coded_key(self.p[k])
    }

    fn node(&self, _: usize) -> bool {
        true
    }

    fn joins(&self, a: usize, b: usize) -> bool {
        self.key(a) != self.key(b)
    }

    fn departure(&self, a: usize, b: usize, k: usize, ends: Ends) -> f64 {
        let lim = limits();
        let ([xa, da, sa], [xb, db, sb]) = match ends {
            Ends::Exact => (
                [self.x[a], self.dir[a], self.speed[a]],
                [self.x[b], self.dir[b], self.speed[b]],
            ),
            Ends::Coded => (self.coded(a), self.coded(b)),
        };
        let w = ((self.x[k] - xa) / (xb - xa)).clamp(0.0, 1.0);
        let speed = sa + (sb - sa) * w;
        let by_speed = (self.speed[k] - speed).abs() / lim.wind_speed_ms;
        if self.light(k) && speed < lim.light_wind_ms {
            return by_speed;
        }
        let turn = shorter_arc(db - da);
        if turn.abs() > WIDEST_TURN_DEG {
            return f64::INFINITY;
        }
        let by_dir = shorter_arc(self.dir[k] - (da + turn * w)).abs() / lim.wind_direction_deg;
        by_speed.max(by_dir)
    }

    fn open(&self, a: usize) -> WindCone {
        WindCone {
            start: a,
            from_coded: self.coded(a),
            turned: self.dir[a],
            dir: Slopes::ALL,
            speed: Slopes::ALL,
            coded_dir: Slopes::ALL,
            coded_speed: Slopes::ALL,
        }
    }

    fn pass(&self, cone: &mut WindCone, k: usize) -> bool {
        let lim = limits();
        let a = cone.start;
        let [xa, da, sa] = cone.from_coded;
        let (x, s) = (self.x[k], self.speed[k]);
        cone.speed
            .pass(x - self.x[a], s - self.speed[a], lim.wind_speed_ms);
        cone.coded_speed.pass(x - xa, s - sa, lim.wind_speed_ms);
        if !self.light(k) {
            let here = cone.turned + shorter_arc(self.dir[k] - cone.turned);
            cone.turned = here;
            let start = self.dir[a] + shorter_arc(da - self.dir[a]);
            cone.dir
                .pass(x - self.x[a], here - self.dir[a], lim.wind_direction_deg);
            cone.coded_dir
                .pass(x - xa, here - start, lim.wind_direction_deg);
        }
        !(cone.speed.is_empty()
            || cone.coded_speed.is_empty()
            || cone.dir.is_empty()
            || cone.coded_dir.is_empty())
    }

    fn admits(&self, cone: &WindCone, b: usize) -> bool {
        let a = cone.start;
        let [xa, da, sa] = cone.from_coded;
        let [xb, db, sb] = self.coded(b);
        let (dx, dxc) = (self.x[b] - self.x[a], xb - xa);
        let end = cone.turned + shorter_arc(self.dir[b] - cone.turned);
        let start = self.dir[a] + shorter_arc(da - self.dir[a]);
        let end_coded = end + shorter_arc(db - end);
        cone.speed.admits(dx, self.speed[b] - self.speed[a])
            && cone.coded_speed.admits(dxc, sb - sa)
            && (end - self.dir[a]).abs() <= WIDEST_TURN_DEG
            && (end_coded - start).abs() <= WIDEST_TURN_DEG
            && cone.dir.admits(dx, end - self.dir[a])
            && cone.coded_dir.admits(dxc, end_coded - start)
    }

    fn sum_of_squares(&self, a: usize, b: usize) -> f64 {
        let lim = limits();
        let dir = self.sums_dir.squares(
            a,
            b,
            (self.x[a], self.turned[a]),
            (self.x[b], self.turned[b]),
        );
        let speed =
            self.sums_speed
                .squares(a, b, (self.x[a], self.speed[a]), (self.x[b], self.speed[b]));
        dir / lim.wind_direction_deg.powi(2) + speed / lim.wind_speed_ms.powi(2)
    }
}

/// What the rest of the selection needs to know.
pub(crate) struct WindInput<'a> {
    pub column: &'a Column,
    pub unit: SpeedUnit,
    /// Whether data go on above 100 hPa (or will, in an early message).
    pub goes_on: bool,
    /// Rows ordered in, with the words of the order.
    pub forced: &'a [(usize, String)],
}

/// The chosen wind levels and the layers without wind.
pub(crate) struct Winds {
    /// Lowest first.
    pub picks: Vec<Pick>,
    pub missing: Vec<MissingLayer>,
    pub findings: Vec<Finding>,
}

/// Chooses the significant wind levels.
pub(crate) fn choose(input: &WindInput<'_>) -> Winds {
    let column = input.column;
    let mut out = Winds {
        picks: Vec::new(),
        missing: Vec::new(),
        findings: Vec::new(),
    };
    let (n, lower) = (column.len(), column.lower);
    let has = |k: usize| column.speed.get(k).is_some_and(|s| s.is_finite());
    let Some(last) = (0..n).rev().find(|&k| has(k)) else {
        return out;
    };
    let lim = limits();
    // A wind layer is missing by 50 hPa or, aloft, by 1500 gpm (32.3.1.5).
    let depth = |a: usize, b: usize| {
        let p = match (column.p.get(a), column.p.get(b)) {
            (Some(a), Some(b)) => (a - b) / lim.missing_wind_layer_hpa,
            _ => 0.0,
        };
        let z = match (column.z.get(a), column.z.get(b)) {
            (Some(a), Some(b)) => (b - a) / lim.missing_wind_layer_gpm,
            _ => 0.0,
        };
        p.max(z)
    };
    let gone = holes(n, has, depth, 1.0);
    for hole in &gone {
        let p = |k: Option<usize>| k.and_then(|k| column.p.get(k)).copied();
        out.missing.push(MissingLayer {
            element: Element::Wind,
            from_hpa: p(hole.below),
            to_hpa: p(hole.above),
        });
    }
    chain(input, 0..lower, None, &gone, last, &mut out);
    let anchor = (0..lower).rev().find(|&k| has(k));
    chain(input, lower..n, anchor, &gone, last, &mut out);
    out
}

#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
fn chain(
    input: &WindInput<'_>,
    rows: std::ops::Range<usize>,
    anchor: Option<usize>,
    gone: &[Hole],
    last: usize,
    out: &mut Winds,
) {
    let curve = WindCurve::new(input.column, rows, anchor, input.unit);
    let n = curve.len();
    if n == 0 || (anchor.is_some() && n == 1) {
        return;
    }
    let mut fixed = fixed_levels(input, &curve, anchor, gone, last);
    settle_fixed(
        &mut fixed,
        |k| curve.key(k),
        |k| curve.p[k],
        n,
        anchor.is_some(),
        &mut out.findings,
    );
    let mut chosen: Vec<Fixed> = Vec::new();
    for pair in fixed.windows(2) {
        let (a, b) = (pair[0].k, pair[1].k);
        chosen.push(pair[0].clone());
        let hole = gone.iter().any(|h| {
            h.below.is_none_or(|r| r <= curve.row[a]) && h.above.is_some_and(|r| r >= curve.row[b])
        });
        if hole {
            continue;
        }
        let inner = fewest(&curve, a, b);
        for (i, &k) in inner.iter().enumerate() {
            let low = if i == 0 { a } else { inner[i - 1] };
            let high = inner.get(i + 1).copied().unwrap_or(b);
            chosen.push(Fixed {
                k,
                roles: Roles::SIG_WIND,
                rank: Rank::Additional,
                why: vec![reason(without(&curve, low, high), "WMO-No. 306, 35.3.2.1")],
            });
        }
    }
    chosen.extend(fixed.last().cloned());
    for fixed in chosen {
        if anchor.is_some() && fixed.k == 0 {
            continue;
        }
        out.picks.push(Pick {
            row: curve.row[fixed.k],
            roles: fixed.roles,
            why: fixed.why,
            humidity: None,
        });
    }
}

/// What would go wrong without the level between two others.
fn without(curve: &WindCurve, low: usize, high: usize) -> String {
    let lim = limits();
    let mut worst = 0.0f64;
    for k in low + 1..high {
        for ends in [Ends::Exact, Ends::Coded] {
            worst = worst.max(curve.departure(low, high, k, ends));
        }
    }
    if worst.is_finite() {
        format!(
            "without it wind departs by {worst:.1} times the limit ({}°, {} m/s)",
            lim.wind_direction_deg, lim.wind_speed_ms
        )
    } else {
        "without it the wind would turn through half a circle".to_owned()
    }
}

/// The levels that the rules ask for whatever the curve between them does.
#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
fn fixed_levels(
    input: &WindInput<'_>,
    curve: &WindCurve,
    anchor: Option<usize>,
    gone: &[Hole],
    last: usize,
) -> Vec<Fixed> {
    let n = curve.len();
    let top = n - 1;
    let mut fixed: Vec<Fixed> = Vec::new();
    let mut add = |k: usize, roles: Roles, rank: Rank, text: String, clause: &'static str| {
        fixed.push(Fixed {
            k,
            roles: roles | Roles::SIG_WIND,
            rank,
            why: vec![reason(text, clause)],
        });
    };
    if anchor.is_some() {
        add(0, Roles::NONE, Rank::Anchor, String::new(), "");
    } else if curve.row[0] == 0 {
        add(
            0,
            Roles::SURFACE,
            Rank::Surface,
            "surface".into(),
            "WMO-No. 306, 35.3.2.1",
        );
    } else {
        add(
            0,
            Roles::NONE,
            Rank::MissingEnd,
            "first level with wind".into(),
            "WMO-No. 306, 35.3.2.1",
        );
    }
    if curve.row[top] == last {
        add(
            top,
            Roles::TOP_OF_WIND,
            Rank::Top,
            "highest level with wind".into(),
            "WMO-No. 306, 35.3.2.1",
        );
    }
    if anchor.is_none() && input.goes_on {
        add(
            top,
            Roles::NONE,
            Rank::Closing,
            "last level with wind at or below 100 hPa; it closes Part B".into(),
            "WMO-No. 306, 35.3.2.1",
        );
    }
    let point = |row: usize| {
        curve
            .row
            .binary_search(&row)
            .ok()
            .filter(|&k| anchor.is_none() || k > 0)
    };
    for hole in gone {
        if let Some(k) = hole.below.and_then(point) {
            add(
                k,
                Roles::BEGIN_MISSING_WIND,
                Rank::MissingEnd,
                "last level before wind is missing".into(),
                "WMO-No. 306, 35.3.2.2",
            );
        }
        if let Some(k) = hole.above.and_then(point) {
            add(
                k,
                Roles::END_MISSING_WIND,
                Rank::MissingEnd,
                "first level after wind was missing".into(),
                "WMO-No. 306, 35.3.2.2",
            );
        }
    }
    for k in peaks(curve, usize::from(anchor.is_some())) {
        let words = format!("maximum of {:.1} m/s", curve.speed[k]);
        add(
            k,
            Roles::NONE,
            Rank::MaxWind,
            words,
            "WMO-No. 306, 32.2.3.1",
        );
    }
    for (row, words) in input.forced {
        if let Some(k) = point(*row) {
            add(
                k,
                Roles::FORCED,
                Rank::Forced,
                words.clone(),
                "order of the sheet",
            );
        }
    }
    fixed
}

/// The rows of peak speed that may be maximum winds: above the 500 hPa surface,
/// over 30 m/s; the greatest, and those that rise 10 m/s above what lies on
/// both sides. So the level reported is the real maximum.
#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
fn peaks(curve: &WindCurve, start: usize) -> Vec<usize> {
    let lim = limits();
    let from = start.max(curve.p.partition_point(|&p| p >= lim.max_wind_floor_hpa));
    let Some(speeds) = curve.speed.get(from..) else {
        return Vec::new();
    };
    let mut found: Vec<usize> = rises(speeds, lim.max_wind_rise_ms)
        .into_iter()
        .map(|rise| from + rise.top)
        .collect();
    // The first of equal greatest speeds.
    let greatest = (from..curve.len()).reduce(|best, k| {
        if curve.speed[k] > curve.speed[best] {
            k
        } else {
            best
        }
    });
    found.extend(greatest);
    found.retain(|&k| curve.speed[k] > lim.max_wind_speed_ms);
    found.sort_unstable();
    found.dedup();
    found
}
