//! Significant wind levels (WMO-No. 306, 35.3.2, 32.3.1).

mod curve;

use super::Pick;
use super::chain::{Fixed, Rank, fill, points, settle_fixed};
use super::column::Column;
use super::layers::{Hole, holes_of};
use super::reduce::{Curve as _, greatest};
use crate::model::fidelity::Count;
use crate::model::finding::Finding;
use crate::model::quantity::SpeedUnit;
use crate::model::{Element, Form, MissingLayer, Motion, Roles, Rule, Significant};
use crate::profile::gaps::Lost;
use crate::tables::limits;
use curve::WindCurve;

/// What the rest of the selection needs to know.
pub(crate) struct WindInput<'a> {
    pub column: &'a Column,
    pub unit: SpeedUnit,
    /// Whether data go on above 100 hPa (or will, in an early message).
    pub goes_on: bool,
    /// Whether the ascent was cut at 100 hPa for an early message.
    pub early: bool,
    /// Rows ordered in.
    pub forced: &'a [(usize, Rule)],
    /// Rows that stand for levels of a message that was sent, lowest first.
    pub sent: &'a [usize],
    /// The form that asks for significant wind levels.
    pub form: Form,
    /// Rows at fixed regional levels.
    pub fixed: &'a [usize],
    /// Rows of peak speed that may be maximum winds; their levels have that role
    /// until it is decided which are reported.
    pub peaks: &'a [usize],
    /// Whether the sonde rose or fell.
    pub motion: Motion,
    /// Whether the fewest possible are counted too.
    pub count: bool,
}

/// The chosen wind levels and the layers without wind.
pub(crate) struct Winds {
    /// Lowest first.
    pub picks: Vec<Pick>,
    pub missing: Vec<MissingLayer>,
    /// The same layers by rows.
    pub gaps: Vec<Hole>,
    pub count: Count,
    pub findings: Vec<Finding>,
}

/// Chooses the significant wind levels.
pub(crate) fn choose(input: &WindInput<'_>) -> Winds {
    let column = input.column;
    let mut out = Winds {
        picks: Vec::new(),
        missing: Vec::new(),
        gaps: Vec::new(),
        count: Count::default(),
        findings: Vec::new(),
    };
    let (n, lower) = (column.len(), column.lower);
    let has = |k: usize| column.speed.get(k).is_some_and(|s| s.is_finite());
    let Some(last) = (0..n).rev().find(|&k| has(k)) else {
        return out;
    };
    // Of an ascent that is still going on, no level is the highest.
    let last = if input.early { usize::MAX } else { last };
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
    let gone = holes_of(column, Lost::Wind, &column.speed, depth);
    for hole in &gone {
        let (layer, finding) = hole.reported(Element::Wind, column);
        out.missing.push(layer);
        out.findings.push(finding);
    }
    chain(input, 0..lower, None, &gone, last, &mut out);
    let anchor = (0..lower).rev().find(|&k| has(k));
    chain(input, lower..n, anchor, &gone, last, &mut out);
    out.gaps = gone;
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
    let apart = |a: usize, b: usize| {
        gone.iter().any(|h| {
            h.below.is_none_or(|r| r <= curve.row[a]) && h.above.is_some_and(|r| r >= curve.row[b])
        })
    };
    let explain = |low: usize, k: usize, high: usize| Fixed {
        k,
        roles: Roles::SIG_WIND,
        rank: Rank::Additional,
        why: vec![without(&curve, low, high, input.form)],
    };
    let sent = points(input.sent, &curve.row);
    let chosen = fill(
        &curve,
        &fixed,
        &sent,
        apart,
        explain,
        input.count.then_some(&mut out.count),
    );
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
fn without(curve: &WindCurve, low: usize, high: usize, form: Form) -> Rule {
    let lim = limits();
    let [dir, speed] = greatest(curve, low, high);
    if dir.is_infinite() {
        return Rule::WindTurns(form);
    }
    let departs = |share: f64, limit: f64| (share * limit, limit);
    let direction = (dir > 1.0).then(|| departs(dir, lim.wind_direction_deg));
    let fast = speed > 1.0 || direction.is_none();
    let speed = fast.then(|| departs(speed, lim.wind_speed_ms));
    Rule::wind_departs(form, direction, speed)
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
    let falling = input.motion == Motion::Falling;
    let mut fixed: Vec<Fixed> = Vec::new();
    let of = Significant::Wind(input.form);
    let mut add = |k: usize, roles: Roles, rank: Rank, why: Option<Rule>| {
        fixed.push(Fixed {
            k,
            roles: if rank == Rank::Regional {
                roles
            } else {
                roles | Roles::SIG_WIND
            },
            rank,
            why: why.into_iter().collect(),
        });
    };
    if anchor.is_some() {
        add(0, Roles::empty(), Rank::Anchor, None);
    } else if curve.row[0] == 0 {
        add(0, Roles::SURFACE, Rank::Surface, Some(Rule::Surface(of)));
    } else {
        add(0, Roles::empty(), Rank::MissingEnd, Some(Rule::First(of)));
    }
    if curve.row[top] == last {
        let role = if falling {
            Roles::empty()
        } else {
            Roles::TOP_OF_WIND
        };
        add(top, role, Rank::Top, Some(Rule::Highest(of)));
    }
    if falling && anchor.is_none() {
        // The wind sounding of a drop ends at its lowest level.
        add(0, Roles::TOP_OF_WIND, Rank::Top, Some(Rule::EndOfDrop));
    }
    if anchor.is_none() && input.goes_on {
        add(top, Roles::empty(), Rank::Closing, Some(Rule::Closes(of)));
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
                Some(Rule::BeforeMissing(Element::Wind)),
            );
        }
        if let Some(k) = hole.above.and_then(point) {
            add(
                k,
                Roles::END_MISSING_WIND,
                Rank::MissingEnd,
                Some(Rule::AfterMissing(Element::Wind)),
            );
        }
    }
    for &row in input.peaks {
        if let Some(k) = point(row) {
            add(
                k,
                Roles::MAX_WIND,
                Rank::MaxWind,
                Some(Rule::peak(curve.at[k][2])),
            );
        }
    }
    for &row in input.fixed {
        if let Some(k) = point(row) {
            add(
                k,
                Roles::REGIONAL,
                Rank::Regional,
                Some(Rule::FixedRegional),
            );
        }
    }
    for (row, rule) in input.forced {
        if let Some(k) = point(*row) {
            add(k, Roles::FORCED, Rank::Forced, Some(rule.clone()));
        }
    }
    fixed
}
