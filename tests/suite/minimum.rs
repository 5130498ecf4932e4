//! How many additional levels there are against the fewest possible, and how
//! well they are placed: an exhaustive search over every row, written apart
//! from the library's own.
//!
//! With `FIVEFIG_PROFILES` naming a folder of `NAME.csv` and `NAME.toml`, the
//! same is asked of every flight in it.

use std::fs;
use std::path::{Path, PathBuf};

use fivefig::levels::{Levels, choose, count};
use fivefig::model::quantity::SpeedUnit;
use fivefig::model::{At, Coding, Level, Profile, Reach, Roles, Rule};
use fivefig::physics::humidity::relative_humidity_pct;
use fivefig::profile;
use fivefig::tables::figure::{DepressionFigure, PressureFigure, TemperatureFigure, WindFigure};

use crate::support;

const NAN: f64 = f64::NAN;

/// A difference of directions from -180° to 180°.
fn arc(mut d: f64) -> f64 {
    while d >= 180.0 {
        d -= 360.0;
    }
    while d < -180.0 {
        d += 360.0;
    }
    d
}

struct Flight {
    name: String,
    ascent: Profile,
    coding: Coding,
    levels: Levels,
}

fn flight(folder: &Path, name: &str) -> Option<Flight> {
    let (raw, sheet) = support::read(folder, name);
    let ascent = profile::build(&raw, &sheet.context).unwrap().value;
    if !profile::has_temperature(&ascent) {
        println!("{name}: no temperature, no TEMP");
        return None;
    }
    let coding = sheet.context.coding;
    let levels = choose(&ascent, &coding, &sheet.context.orders, Reach::Whole);
    Some(Flight {
        name: name.to_owned(),
        ascent,
        coding,
        levels,
    })
}

/// One end of a chord: coordinate and both elements.
type End = [f64; 3];

/// A curve over rows: coordinate, two elements, limits, and the ends that the
/// code makes of every row.
struct Curve {
    p: Vec<f64>,
    exact: Vec<End>,
    coded: Vec<End>,
    /// Whether the first element is an angle that does not count in light winds.
    wind: bool,
    /// Pressure of the first tropopause, hPa.
    tropopause: Option<f64>,
    /// Above this pressure the ratio of neighbours is free.
    ratio_to: f64,
    node: Vec<bool>,
}

impl Curve {
    fn limit(&self, a: usize) -> [f64; 2] {
        if self.wind {
            [10.0, 5.0]
        } else {
            // 35.3.1.3 (a): 1 K up to the first level above 300 hPa or the
            // first tropopause, whichever is lower; 2 K above.
            let p = self.p[a];
            let high = p < 300.0 || self.tropopause.is_some_and(|t| p <= t);
            [if high { 2.0 } else { 1.0 }, 15.0]
        }
    }

    fn joins(&self, a: usize, b: usize) -> bool {
        self.wind || self.p[b] < self.ratio_to || self.p[b] / self.p[a] > 0.6
    }

    /// Departures of row `k` from a chord, in units of the limits.
    fn off(&self, k: usize, a: usize, from: End, to: End) -> [f64; 2] {
        let w = ((self.exact[k][0] - from[0]) / (to[0] - from[0])).clamp(0.0, 1.0);
        let own = self.exact[k];
        let second = from[2] + (to[2] - from[2]) * w;
        let mut d = if self.wind {
            let turn = arc(to[1] - from[1]);
            if own[2] < 2.5 && second < 2.5 {
                0.0
            } else if turn.abs() > 179.0 {
                f64::INFINITY
            } else {
                arc(own[1] - from[1] - turn * w).abs()
            }
        } else {
            (own[1] - from[1] - (to[1] - from[1]) * w).abs()
        };
        if d.is_nan() {
            d = 0.0;
        }
        let e = (own[2] - second).abs();
        let limit = self.limit(a);
        [d / limit[0], if e.is_nan() { 0.0 } else { e / limit[1] }]
    }

    fn keeps(&self, a: usize, b: usize, rounded: bool) -> bool {
        let fits = |ends: &[End]| {
            for k in a + 1..b {
                let [d, e] = self.off(k, a, ends[a], ends[b]);
                if d > 1.0 + 1e-6 || e > 1.0 + 1e-6 {
                    return false;
                }
            }
            true
        };
        self.joins(a, b)
            && fits(&self.exact)
            && (!rounded || (self.coded[a][0] != self.coded[b][0] && fits(&self.coded)))
    }

    /// The rows up to `to` at which a chord from `a` may end, by cones of
    /// slopes; a chord past light winds is looked at row by row. Those that are `seen` are
    /// left out.
    fn reach(
        &self,
        a: usize,
        to: usize,
        rounded: bool,
        seen: impl Fn(usize) -> bool,
    ) -> Vec<usize> {
        let sets: &[&[End]] = if rounded {
            &[&self.exact, &self.coded]
        } else {
            &[&self.exact]
        };
        let limit = self.limit(a);
        // Slices: this is what the test spends its time on.
        let (exact, node) = (self.exact.as_slice(), self.node.as_slice());
        let mut low = [[f64::NEG_INFINITY; 2]; 2];
        let mut high = [[f64::INFINITY; 2]; 2];
        // Direction without jumps, from the exact start.
        let mut turned = exact[a][1];
        let mut light = false;
        let mut out = Vec::new();
        for k in a + 1..=to {
            let own = exact[k];
            let here = if self.wind {
                turned + arc(own[1] - turned)
            } else {
                own[1]
            };
            if (k == to || node[k]) && !seen(k) {
                let joins = self.joins(a, k)
                    && (!rounded || self.coded[a][0] != self.coded[k][0])
                    && self.is_inside(a, k, here, &low[..sets.len()], &high);
                if joins && (!light || self.keeps(a, k, rounded)) {
                    out.push(k);
                }
            }
            let slow = self.wind && own[2] < 2.5;
            light |= slow;
            if !slow {
                turned = here;
            }
            // Plain loops for the same reason.
            for s in 0..sets.len() {
                let from = sets[s][a];
                let dx = own[0] - from[0];
                if dx <= 1e-12 {
                    continue;
                }
                let first = if slow {
                    NAN
                } else {
                    here - self.start(a, from)
                };
                let rise = [first, own[2] - from[2]];
                for e in 0..2 {
                    // A comparison with NaN leaves it out.
                    let (least, most) = ((rise[e] - limit[e]) / dx, (rise[e] + limit[e]) / dx);
                    if least > low[s][e] {
                        low[s][e] = least;
                    }
                    if most < high[s][e] {
                        high[s][e] = most;
                    }
                    if low[s][e] > high[s][e] {
                        return out;
                    }
                }
            }
        }
        out
    }

    /// The first element at an end of a chord from `a`; a direction without a jump.
    fn start(&self, a: usize, from: End) -> f64 {
        if self.wind {
            self.exact[a][1] + arc(from[1] - self.exact[a][1])
        } else {
            from[1]
        }
    }

    /// Whether the chord from `a` to `k`, whose first element is `here`, lies in the cones
    /// of slopes.
    fn is_inside(
        &self,
        a: usize,
        k: usize,
        here: f64,
        low: &[[f64; 2]],
        high: &[[f64; 2]],
    ) -> bool {
        for s in 0..low.len() {
            let ends = if s == 0 { &self.exact } else { &self.coded };
            let (from, to) = (ends[a], ends[k]);
            let mut first = to[1] - from[1];
            if self.wind {
                first = here + arc(to[1] - here) - self.start(a, from);
                if first.abs() > 179.0 {
                    return false;
                }
            }
            let rise = [first, to[2] - from[2]];
            for e in 0..2 {
                let slope = rise[e] / (to[0] - from[0]);
                let margin = 1e-7 * (1.0 + slope.abs());
                if slope < low[s][e] - margin || slope > high[s][e] + margin {
                    return false;
                }
            }
        }
        true
    }

    /// Fewest inner rows between `a` and `b`, breadth first.
    fn fewest(&self, a: usize, b: usize, rounded: bool) -> usize {
        let mut seen = vec![false; b - a + 1];
        let mut front = vec![a];
        for inner in 0..b - a {
            let mut next = Vec::new();
            for &from in &front {
                for to in self.reach(from, b, rounded, |to| seen[to - a]) {
                    seen[to - a] = true;
                    next.push(to);
                }
            }
            if seen[b - a] {
                return inner;
            }
            if next.is_empty() {
                // The code has no room: step on by one row.
                let far = *front.iter().max().unwrap();
                seen[far + 1 - a] = true;
                next.push(far + 1);
                if far + 1 == b {
                    return inner;
                }
            }
            front = next;
        }
        b - a - 1
    }

    /// Sum of squared departures of the rows between, in units of the limits.
    fn squares(&self, a: usize, b: usize) -> f64 {
        (a + 1..b)
            .map(|k| {
                let [d, e] = self.off(k, a, self.exact[a], self.exact[b]);
                d * d + e * e
            })
            .sum()
    }
}

/// −ln p, equal pressures spread evenly between their neighbours' middles.
fn coordinate(p: &[f64]) -> Vec<f64> {
    let mut x: Vec<f64> = p.iter().map(|p| -p.ln()).collect();
    let mut k = 0;
    while k < p.len() {
        let end = (k..p.len()).take_while(|&j| p[j] == p[k]).last().unwrap();
        if end > k {
            let centre = -p[k].ln();
            let low = if k > 0 {
                (-p[k - 1].ln() + centre) / 2.0
            } else {
                centre
            };
            let high = if end + 1 < p.len() {
                (-p[end + 1].ln() + centre) / 2.0
            } else {
                centre
            };
            let n = (end - k) as f64;
            for (i, slot) in x[k..=end].iter_mut().enumerate() {
                let w = (i as f64 + 0.5) / (n + 1.0);
                *slot = low + (high.max(low + 1e-9) - low) * w;
            }
        }
        k = end + 1;
    }
    x
}

/// Rows chosen with a role, and whether only to keep a limit.
fn chosen(levels: &[Level], role: Roles, belongs: impl Fn(&Rule) -> bool) -> Vec<(usize, bool)> {
    let mut rows: Vec<(usize, bool)> = levels
        .iter()
        .filter(|l| l.roles.any(role))
        .filter_map(|l| match l.at {
            At::Row(k) => {
                let mut why = l.why.iter().filter(|r| belongs(r)).peekable();
                assert!(why.peek().is_some(), "a level without a reason: {l:?}");
                let additional = why.all(Rule::is_additional);
                Some((k, additional))
            }
            _ => None,
        })
        .collect();
    rows.sort_unstable();
    rows
}

impl Flight {
    fn column(&self, value: impl Fn(&fivefig::model::Row) -> Option<f64>) -> Vec<f64> {
        self.ascent
            .rows
            .iter()
            .map(|r| value(r).unwrap_or(NAN))
            .collect()
    }

    /// The curve of one kind and the rows it runs over.
    fn curve(&self, wind: bool) -> (Curve, Vec<usize>) {
        let p = self.column(|r| r.pressure_hpa);
        let x = coordinate(&p);
        let first = |r: &fivefig::model::Row| {
            if wind {
                r.wind.map(|w| w.dir_deg)
            } else {
                r.temperature_c
            }
        };
        let second = |r: &fivefig::model::Row| {
            if wind {
                r.wind.map(|w| w.speed_ms)
            } else {
                r.humidity_pct
            }
        };
        let (first, second) = (self.column(first), self.column(second));
        let rows: Vec<usize> = (0..p.len()).filter(|&k| first[k].is_finite()).collect();
        let unit: SpeedUnit = self.coding.wind_unit;
        let coded = |k: usize| {
            let level = PressureFigure::from_value(p[k]).unwrap();
            let x = -level.value_hpa().ln();
            if wind {
                let f = WindFigure::from_value(first[k], second[k], unit).unwrap();
                return [x, f.dir_deg(), f.speed_ms(unit)];
            }
            let t = TemperatureFigure::from_value(first[k]).unwrap().value_c();
            let u = self.ascent.rows[k].any_dewpoint_c().map_or(NAN, |td| {
                let d = DepressionFigure::from_value(first[k] - td).unwrap();
                relative_humidity_pct(t, t - d.value_k())
            });
            [x, t, u]
        };
        let tropopause = self
            .levels
            .levels
            .iter()
            .find(|l| l.roles.any(Roles::TROPOPAUSE))
            .and_then(|l| l.row.pressure_hpa);
        let goes_on = p.last().is_some_and(|&p| p < 99.95);
        let curve = Curve {
            exact: rows.iter().map(|&k| [x[k], first[k], second[k]]).collect(),
            coded: rows.iter().map(|&k| coded(k)).collect(),
            node: rows
                .iter()
                .map(|&k| wind || second[k].is_finite())
                .collect(),
            p: rows.iter().map(|&k| p[k]).collect(),
            wind,
            tropopause,
            // Without a tropopause the part below 100 hPa waits for one above.
            ratio_to: tropopause.unwrap_or(if goes_on { 100.0 } else { 300.0 }),
        };
        (curve, rows)
    }

    /// Ours, the fewest before rounding, the fewest before and after, fixed.
    fn counts(&self, wind: bool) -> (usize, usize, usize, usize) {
        let (curve, rows) = self.curve(wind);
        let (role, begin) = if wind {
            (Roles::SIG_WIND, Roles::BEGIN_MISSING_WIND)
        } else {
            (Roles::SIG_T_OR_U, Roles::BEGIN_MISSING_TEMPERATURE)
        };
        let belongs = |r: &Rule| {
            if wind {
                ["35.3.2", "32.2.3"].iter().any(|c| r.clause().contains(c))
            } else {
                r.clause().contains("35.3.1")
            }
        };
        let picked: Vec<(usize, bool)> = chosen(&self.levels.levels, role, belongs)
            .into_iter()
            .filter_map(|(row, additional)| Some((rows.binary_search(&row).ok()?, additional)))
            .collect();
        let hole = |k: usize| {
            self.levels
                .levels
                .iter()
                .any(|l| l.at == At::Row(rows[k]) && l.roles.any(begin))
        };
        // No additional level is needless.
        for three in picked.windows(3) {
            let [(a, _), (k, additional), (b, _)] = three else {
                continue;
            };
            if *additional && !hole(*a) && !hole(*k) {
                assert!(
                    !curve.keeps(*a, *b, true),
                    "{}: the level at {} hPa is needless (wind {wind})",
                    self.name,
                    curve.p[*k]
                );
            }
        }
        let fixed: Vec<usize> = picked.iter().filter(|c| !c.1).map(|c| c.0).collect();
        let least = |rounded| -> usize {
            fixed
                .windows(2)
                .filter(|w| !hole(w[0]))
                .map(|w| curve.fewest(w[0], w[1], rounded))
                .sum()
        };
        let ours = picked.len() - fixed.len();
        // The placing: squared departures on the chords, against moving any one
        // additional level to any other row between its neighbours.
        let mut total = (0.0, 0.0);
        for three in picked.windows(3) {
            let [(a, _), (k, additional), (b, _)] = *three else {
                continue;
            };
            if additional
                && !hole(a)
                && !hole(k)
                && curve.keeps(a, k, true)
                && curve.keeps(k, b, true)
            {
                let now = curve.squares(a, k) + curve.squares(k, b);
                let best = (a + 1..b)
                    .step_by(((b - a) / 64).max(1))
                    .filter(|&j| {
                        curve.node[j] && curve.keeps(a, j, true) && curve.keeps(j, b, true)
                    })
                    .map(|j| (curve.squares(a, j) + curve.squares(j, b), j))
                    .fold((now, k), |m, n| if n.0 < m.0 { n } else { m });
                let best = best.0;
                total = (total.0 + now, total.1 + best);
            }
        }
        assert!(
            total.0 <= 1.1 * total.1,
            "{}: levels could stand better (wind {wind}): {total:?}",
            self.name
        );
        (ours, least(false), least(true), fixed.len())
    }

    fn check(&self) {
        let own = count(&self.ascent, &self.coding, &[], Reach::Whole);
        for (wind, factor, own) in [(false, 1.3, own.thermal), (true, 1.15, own.wind)] {
            let (ours, before, both, fixed) = self.counts(wind);
            println!(
                "{} {}: {ours} additional levels, fewest {before} before rounding, {both} before and after, {fixed} fixed",
                self.name,
                if wind { "wind" } else { "T/U" },
            );
            assert!(
                (fixed + ours) as f64 <= factor * (fixed + before) as f64,
                "{}: {ours} against {before}",
                self.name
            );
            assert!(
                ours <= (factor * both as f64).ceil() as usize,
                "{}: {ours} against {both}",
                self.name
            );
            // What the library says of itself is what is found here.
            assert_eq!((own.fixed, own.additional), (fixed, ours), "{}", self.name);
            if own.bound_only {
                assert!(own.fewest <= before.max(both), "{}", self.name);
            } else {
                assert!(
                    own.fewest.abs_diff(before) <= 1,
                    "{}: {own:?} {before}",
                    self.name
                );
            }
        }
    }
}

#[test]
fn the_samples_have_few_levels_well_placed() {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    for name in [
        "minute",
        "winter_jet",
        "low_burst",
        "tropical",
        "polar_night",
        "gaps",
        "plateau",
        "twin_levels",
        "windless",
    ] {
        flight(&samples, name).unwrap().check();
    }
}

#[test]
fn other_flights_have_few_levels_well_placed() {
    let Some(folder) = std::env::var_os("FIVEFIG_PROFILES").map(PathBuf::from) else {
        println!("FIVEFIG_PROFILES is not set: no other flights");
        return;
    };
    let mut names: Vec<String> = fs::read_dir(&folder)
        .unwrap()
        .filter_map(|entry| {
            let path = entry.unwrap().path();
            (path.extension()? == "csv")
                .then(|| path.file_stem().unwrap().to_str().unwrap().to_owned())
        })
        .collect();
    names.sort();
    assert!(!names.is_empty(), "no flight in {}", folder.display());
    let mut checked = 0;
    for name in &names {
        if let Some(flight) = flight(&folder, name) {
            flight.check();
            checked += 1;
        }
    }
    println!("{checked} of {} other flights counted", names.len());
    assert!(checked > 0);
}
