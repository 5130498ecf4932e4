//! How many additional levels there are against the fewest possible: an
//! independent shortest path over every row, tolerances before rounding.

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_precision_loss,
    reason = "a test stops at the first fault"
)]

use std::fs;
use std::path::Path;

use fivefig::levels::choose;
use fivefig::sheet::{self, Source};
use fivefig::sounding::{At, Level, Profile, Reach, Roles};
use fivefig::{profile, source};

fn flight(name: &str) -> (Profile, Vec<Level>) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let text = fs::read_to_string(root.join(format!("{name}.toml"))).unwrap();
    let csv = fs::read(root.join(format!("{name}.csv"))).unwrap();
    let (sheet, _) = sheet::read(&[Source { name, text: &text }]).unwrap();
    let (raw, _) = source::text::read(&csv, name, &sheet.reading).unwrap();
    let (ascent, _) = profile::build(&raw, &sheet.context).unwrap();
    let levels = choose(&ascent, &sheet.context.coding, &[], Reach::Whole).levels;
    (ascent, levels)
}

/// Rows chosen with a role, and which of them only to keep a limit.
fn chosen(levels: &[Level], role: Roles) -> Vec<(usize, bool)> {
    let mut rows: Vec<(usize, bool)> = levels
        .iter()
        .filter(|l| l.roles.any(role))
        .filter_map(|l| match l.at {
            At::Row(k) => {
                let why: Vec<_> = l
                    .why
                    .iter()
                    .filter(|r| r.clause.contains("35.3.1.3") || r.clause.contains("35.3.2.1"))
                    .collect();
                let additional = !why.is_empty()
                    && why.iter().all(|r| {
                        r.text.starts_with("without") || r.text.starts_with("pressure of")
                    });
                let fixed = l.why.iter().any(|r| {
                    !why.contains(&r)
                        && r.clause != "WMO-No. 306, 35.3.2.1"
                        && r.clause.contains("35.3.1")
                        && role.any(Roles::SIG_T_OR_U)
                });
                Some((k, additional && !fixed))
            }
            _ => None,
        })
        .collect();
    rows.sort_unstable();
    rows
}

/// Fewest inner points from `a` to `b` by breadth-first search, `reach` giving
/// the points that one chord from a point may end at.
fn fewest(a: usize, b: usize, reach: impl Fn(usize) -> Vec<usize>) -> usize {
    let mut seen = vec![false; b - a + 1];
    let mut front = vec![a];
    let mut hops = 0;
    while !front.contains(&b) {
        hops += 1;
        assert!(hops < 10_000);
        let mut next = Vec::new();
        for from in front {
            for to in reach(from).into_iter().filter(|&to| to <= b) {
                if !std::mem::replace(&mut seen[to - a], true) {
                    next.push(to);
                }
            }
        }
        front = next;
    }
    hops - 1
}

#[test]
fn wind_levels_are_near_the_fewest() {
    for name in ["winter_jet", "tropical", "polar_night", "plateau", "gaps"] {
        let (ascent, levels) = flight(name);
        let rows: Vec<(f64, f64, f64)> = ascent
            .rows
            .iter()
            .map(|r| {
                let w = r
                    .wind
                    .map_or((f64::NAN, f64::NAN), |w| (w.dir_deg, w.speed_ms));
                (-r.pressure_hpa.unwrap().ln(), w.0, w.1)
            })
            .collect();
        let arc = |d: f64| (d + 540.0).rem_euclid(360.0) - 180.0;
        let reach = |a: usize| {
            let (xa, da, sa) = rows[a];
            let (mut lo, mut hi) = (
                (f64::NEG_INFINITY, f64::NEG_INFINITY),
                (f64::INFINITY, f64::INFINITY),
            );
            let mut turned = da;
            let mut ends = Vec::new();
            for (k, &(x, d, s)) in rows.iter().enumerate().skip(a + 1) {
                if s.is_nan() {
                    continue;
                }
                let (dx, here) = (x - xa, turned + arc(d - turned));
                let slope = ((here - da) / dx, (s - sa) / dx);
                if (here - da).abs() < 179.0
                    && slope.0 >= lo.0
                    && slope.0 <= hi.0
                    && slope.1 >= lo.1
                    && slope.1 <= hi.1
                {
                    ends.push(k);
                }
                lo.1 = lo.1.max((s - sa - 5.0) / dx);
                hi.1 = hi.1.min((s - sa + 5.0) / dx);
                if s >= 2.5 {
                    turned = here;
                    lo.0 = lo.0.max((here - da - 10.0) / dx);
                    hi.0 = hi.0.min((here - da + 10.0) / dx);
                }
                if lo.0 > hi.0 || lo.1 > hi.1 {
                    break;
                }
            }
            ends
        };
        let chosen = chosen(&levels, Roles::SIG_WIND);
        let fixed: Vec<usize> = chosen.iter().filter(|c| !c.1).map(|c| c.0).collect();
        let ours = chosen.len() - fixed.len();
        let hole = |k: usize| {
            levels
                .iter()
                .any(|l| l.at == At::Row(k) && l.roles.any(Roles::BEGIN_MISSING_WIND))
        };
        let least: usize = fixed
            .windows(2)
            .filter(|w| !hole(w[0]))
            .map(|w| fewest(w[0], w[1], reach))
            .sum();
        println!(
            "{name}: {ours} additional wind levels, fewest {least}, fixed {}",
            fixed.len()
        );
        let all = fixed.len();
        assert!(
            (all + ours) as f64 <= 1.15 * (all + least) as f64,
            "{name}: {ours} against {least}"
        );
    }
}
