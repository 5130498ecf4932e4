//! Significant levels for temperature and humidity (WMO-No. 306, 35.3.1).

mod curve;

use super::Pick;
use super::chain::{Fixed, Rank, fill, points, settle_fixed};
use super::column::Column;
use super::layers::{Chain, Hole, holes_of};
use super::reduce::{Curve as _, greatest};
use crate::model::fidelity::Count;
use crate::model::finding::Finding;
use crate::model::{Element, LayerEnd, LayerKind, MissingLayer, Roles, Rule, Significant};
use crate::physics::humidity::{FLOOR_PCT, dewpoint_c};
use crate::profile::gaps::Lost;
use crate::tables::limits;
use curve::ThermalCurve;

/// What the rest of the selection needs to know.
pub(crate) struct ThermalInput<'a> {
    pub column: &'a Column,
    /// Tropopauses, rows, lowest first.
    pub tropopauses: &'a [usize],
    /// Whether data go on above 100 hPa (or will, in an early message).
    pub goes_on: bool,
    /// Whether the ascent was cut at 100 hPa for an early message.
    pub early: bool,
    /// Rows ordered in.
    pub forced: &'a [(usize, Rule)],
    /// Rows that stand for levels of a message that was sent, lowest first.
    pub sent: &'a [usize],
    /// Whether the fewest possible are counted too.
    pub count: bool,
}

/// The chosen levels of both chains and the layers without data.
pub(crate) struct Thermal {
    pub picks: Vec<Pick>,
    pub missing: Vec<MissingLayer>,
    pub count: Count,
    pub findings: Vec<Finding>,
}

/// Chooses the significant levels for temperature and humidity.
pub(crate) fn choose(input: &ThermalInput<'_>) -> Thermal {
    let column = input.column;
    let mut out = Thermal {
        picks: Vec::new(),
        missing: Vec::new(),
        count: Count::default(),
        findings: Vec::new(),
    };
    let (n, lower) = (column.len(), column.lower);
    let has_t = |k: usize| column.t.get(k).is_some_and(|t| t.is_finite());
    let Some(last) = (0..n).rev().find(|&k| has_t(k)) else {
        return out;
    };
    // Of an ascent that is still going on, no level is the highest.
    let last = if input.early { usize::MAX } else { last };
    let least = limits().missing_thermal_layer_hpa;
    let depth = |a: usize, b: usize| match (column.p.get(a), column.p.get(b)) {
        (Some(a), Some(b)) => (a - b) / least,
        _ => 0.0,
    };
    let no_t = holes_of(column, Lost::Thermal, &column.t, depth);
    // Humidity is looked for only where there is temperature; high up it can be
    // gone for longer than is bridged before 20 hPa are passed.
    let has_u = |k: usize| column.u.get(k).is_some_and(|u| u.is_finite());
    let bridge = limits().bridge_thermal_gpm;
    let either = |a: usize, b: usize| match (column.z.get(a), column.z.get(b)) {
        (Some(low), Some(high)) => depth(a, b).max((high - low) / bridge),
        _ => 0.0,
    };
    let no_u: Vec<Hole> = holes_of(column, Lost::Thermal, &column.u, either)
        .into_iter()
        .filter(|h| {
            let from = h.below.unwrap_or(0);
            let to = h.above.unwrap_or(n);
            (from + 1..to).any(|k| has_t(k) && !has_u(k))
        })
        .collect();
    for (element, list) in [(Element::Temperature, &no_t), (Element::Humidity, &no_u)] {
        for hole in list {
            let (layer, finding) = hole.reported(element, column);
            out.missing.push(layer);
            out.findings.push(finding);
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
    let ratio = match low_first {
        Some(k) => pressure(k),
        None if input.goes_on => 0.0,
        None => fallback,
    };
    let bounds = Bounds {
        ceiling_hpa: ceiling,
        tropopause_hpa: low_first.map(pressure),
        ratio_to_hpa: ratio,
        last,
    };
    chain(input, 0..lower, None, &holes, &bounds, &mut out);

    let anchor = (0..lower).rev().find(|&k| has_t(k));
    let ceiling = first.map_or(fallback, |k| pressure(k).min(fallback));
    let bounds = Bounds {
        ceiling_hpa: ceiling,
        tropopause_hpa: first.map(pressure),
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
    tropopause_hpa: Option<f64>,
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
    curve.tropopause_hpa = bounds.tropopause_hpa;
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
    fill_humidity(&mut curve);
    let mut fixed = fixed_levels(input, &curve, anchor, holes, bounds);
    settle_fixed(
        &mut fixed,
        |k| curve.key(k),
        |k| curve.p[k],
        n,
        anchor.is_some(),
        &mut out.findings,
    );
    mark_humid_layers(&curve, holes.no_u, &mut fixed);

    let apart = |a: usize, b: usize| {
        holes.no_t.iter().any(|h| {
            h.below.is_none_or(|r| r <= curve.row[a]) && h.above.is_some_and(|r| r >= curve.row[b])
        })
    };
    let sent = points(input.sent, &curve.row);
    let chosen = fill(
        &curve,
        &fixed,
        &sent,
        apart,
        |low, k, high| additional(&curve, low, k, high),
        input.count.then_some(&mut out.count),
    );
    for fixed in chosen {
        if anchor.is_some() && fixed.k == 0 {
            continue;
        }
        let k = fixed.k;
        let row = curve.row[k];
        let filled = column.u[row].is_nan() && curve.at[k][2].is_finite();
        out.picks.push(Pick {
            row,
            roles: fixed.roles,
            why: fixed.why,
            humidity: filled.then(|| (curve.td[k], curve.at[k][2])),
        });
    }
}

/// Why an additional level is there: what would go wrong without it.
fn additional(curve: &ThermalCurve, low: usize, k: usize, high: usize) -> Fixed {
    let [t, u] = greatest(curve, low, high);
    let lim = limits();
    let mut roles = Roles::empty();
    let mut why = Vec::new();
    if t > 1.0 {
        roles |= Roles::SIG_TEMPERATURE;
        let limit = curve.limit_t(low);
        why.push(Rule::temperature_departs(t * limit, limit));
    }
    if u > 1.0 {
        roles |= Roles::SIG_HUMIDITY;
        let limit = lim.humidity_pct;
        why.push(Rule::humidity_departs(u * limit, limit));
    }
    if roles.is_empty() {
        roles = Roles::SIG_TEMPERATURE;
        let limit = lim.pressure_ratio;
        why.push(Rule::PressureRatio { limit });
    }
    Fixed {
        k,
        roles,
        rank: Rank::Additional,
        why,
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
    let of = Significant::Thermal;
    let mut add = |k: usize, roles: Roles, rank: Rank, why: Option<Rule>| {
        fixed.push(Fixed {
            k,
            roles,
            rank,
            why: why.into_iter().collect(),
        });
    };
    let both = Roles::SIG_T_OR_U;
    if anchor.is_some() {
        add(0, Roles::empty(), Rank::Anchor, None);
    } else if curve.row[0] == 0 {
        add(
            0,
            both | Roles::SURFACE,
            Rank::Surface,
            Some(Rule::Surface(of)),
        );
    } else {
        add(0, both, Rank::MissingEnd, Some(Rule::First(of)));
    }
    let top = n - 1;
    if curve.row[top] == bounds.last {
        add(top, both, Rank::Top, Some(Rule::Highest(of)));
    }
    if anchor.is_none() && input.goes_on {
        let why = if curve.p[top] <= lim.near_100_low_hpa {
            Rule::Near100
        } else {
            Rule::Closes(of)
        };
        add(top, both, Rank::Closing, Some(why));
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
            let why = Rule::Tropopause {
                first: i == 0,
                significant: true,
            };
            add(k, Roles::SIG_TEMPERATURE, Rank::Tropopause, Some(why));
        }
    }
    let of = |element: usize| -> Vec<f64> { curve.at.iter().map(|at| at[element]).collect() };
    let chain = Chain {
        p: &curve.p,
        t: &of(1),
        u: &of(2),
    };
    let tropopauses: Vec<usize> = input.tropopauses.iter().filter_map(|&r| point(r)).collect();
    for (layer, counts) in chain.reported(bounds.ceiling_hpa) {
        let layer = chain.joined_to(layer, counts, &tropopauses);
        let roles = match counts {
            LayerKind::HumidityChange => Roles::SIG_HUMIDITY,
            _ => Roles::SIG_TEMPERATURE,
        };
        for (k, end) in [(layer.base, LayerEnd::Base), (layer.top, LayerEnd::Top)] {
            add(k, roles, Rank::LayerEnd, Some(Rule::Layer(end, counts)));
        }
    }
    let missing = [
        (
            holes.no_t,
            Roles::BEGIN_MISSING_TEMPERATURE,
            Roles::END_MISSING_TEMPERATURE,
            Element::Temperature,
            Roles::SIG_TEMPERATURE,
        ),
        (
            holes.no_u,
            Roles::BEGIN_MISSING_HUMIDITY,
            Roles::END_MISSING_HUMIDITY,
            Element::Humidity,
            Roles::SIG_HUMIDITY,
        ),
    ];
    for (list, begin, end, element, role) in missing {
        for hole in list {
            if let Some(k) = hole.below.and_then(point) {
                add(
                    k,
                    role | begin,
                    Rank::MissingEnd,
                    Some(Rule::BeforeMissing(element)),
                );
            }
            if let Some(k) = hole.above.and_then(point) {
                add(
                    k,
                    role | end,
                    Rank::MissingEnd,
                    Some(Rule::AfterMissing(element)),
                );
            }
        }
    }
    // Humidity that begins late or ends early, by less than a missing layer.
    let humid = |k: &usize| curve.at[*k][2].is_finite();
    let start = usize::from(anchor.is_some());
    if let Some(k) = (0..n).find(humid)
        && k > 0
    {
        add(
            k,
            Roles::SIG_HUMIDITY,
            Rank::MissingEnd,
            Some(Rule::FirstHumidity),
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
            Some(Rule::LastHumidity),
        );
    }
    for (row, rule) in input.forced {
        if let Some(k) = point(*row) {
            add(k, both | Roles::FORCED, Rank::Forced, Some(rule.clone()));
        }
    }
    fixed
}

/// Rows inside a short stretch without humidity take it from the rows around,
/// as a standard surface would; a level may then stand there.
#[expect(
    clippy::indexing_slicing,
    reason = "points are indices into columns of one length, made here"
)]
fn fill_humidity(curve: &mut ThermalCurve) {
    let mut below: Option<usize> = None;
    for high in 0..curve.len() {
        let [x1, _, u1] = curve.at[high];
        if u1.is_nan() {
            continue;
        }
        let Some(low) = below.replace(high) else {
            // Before the first humidity and after the last, levels go without.
            curve.node[..high].fill(true);
            continue;
        };
        let [x0, _, u0] = curve.at[low];
        let rise = (u1 - u0) / (x1 - x0);
        for k in low + 1..high {
            if !curve.node[k] {
                let [x, t, _] = curve.at[k];
                let u = u0 + rise * (x - x0);
                let td = dewpoint_c(t, u.max(FLOOR_PCT)).unwrap_or(f64::NAN);
                curve.fill(k, u, td);
            }
        }
    }
    curve.node[below.map_or(0, |k| k + 1)..].fill(true);
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
        let centre = f64::midpoint(curve.at[low][0], curve.at[high - 1][0]);
        let k = (low..high)
            .filter(|&k| fixed.iter().all(|f| curve.key(f.k) != curve.key(k)))
            .min_by(|&a, &b| {
                (curve.at[a][0] - centre)
                    .abs()
                    .total_cmp(&(curve.at[b][0] - centre).abs())
            });
        if let Some(k) = k {
            let at = fixed.partition_point(|f| f.k < k);
            fixed.insert(
                at,
                Fixed {
                    k,
                    roles: Roles::SIG_HUMIDITY,
                    rank: Rank::MissingEnd,
                    why: vec![Rule::InsideMissing(Element::Humidity)],
                },
            );
        }
    }
}
