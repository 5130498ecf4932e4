//! What a column whose name is not ours may be: by words of its name
//! (`tables/column_words.csv`), its unit and its values.
//!
//! A guess is shown, and never used to read a file.

use std::collections::HashMap;

use crate::input::columns::stats::Stats;
use crate::input::elements::known::{KNOWN, Known, Use, unit};
use crate::input::elements::unit::Unit;
use crate::input::elements::words::{NameMatch, of_name};
use crate::input::text::head::Head;

/// What a column may be.
#[derive(Clone, Copy)]
pub(in crate::input) struct Guess {
    pub(in crate::input) known: &'static Known,
    pub(in crate::input) unit: &'static Unit,
}

/// How a guess came about, the best last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum By {
    Values,
    Unit,
    PartOfName,
    Name,
}

/// A guess for every column that is not used; none of ours is given twice.
pub(in crate::input) fn all(head: &Head<'_>, uses: &[Use], stats: &[Stats]) -> Vec<Option<Guess>> {
    let stated: Vec<NameMatch> = head.cells.iter().map(|c| of_name(c)).collect();
    let can = |name: &str| {
        let by_use = |u: &Use| matches!(u, Use::Value { known, .. } if known.name == name);
        stated.iter().any(|s| s.names.contains(&name)) || uses.iter().any(by_use)
    };
    let pair = can("wind_u_ms") && can("wind_v_ms");
    let single = names_one(head);
    let mut found: Vec<Option<(By, Guess)>> = Vec::with_capacity(uses.len());
    for (i, ((what, stated), stats)) in uses.iter().zip(&stated).zip(stats).enumerate() {
        let guess = (matches!(what, Use::Nothing) && single.get(i) == Some(&true))
            .then(|| one(stated, head.unit(i), stats, pair))
            .flatten();
        found.push(guess);
    }
    // Of several columns that look like the same of ours, the best.
    let mut out: Vec<Option<Guess>> = vec![None; uses.len()];
    for known in KNOWN {
        let used = |u: &Use| matches!(u, Use::Value { known: k, .. } if k.name == known.name);
        if uses.iter().any(used) {
            continue;
        }
        let same = found
            .iter()
            .zip(stats)
            .enumerate()
            .filter_map(|(i, (g, s))| {
                let (by, guess) = (*g)?;
                (guess.known.name == known.name).then_some(((by, s.numbers), i, guess))
            });
        // The first of equals.
        let best = same.reduce(|best, next| if next.0 > best.0 { next } else { best });
        if let Some((_, i, guess)) = best
            && let Some(slot) = out.get_mut(i)
        {
            *slot = Some(guess);
        }
    }
    out
}

/// Which columns have a name that is that of no other.
fn names_one(head: &Head<'_>) -> Vec<bool> {
    let small: Vec<String> = head.cells.iter().map(|c| c.to_lowercase()).collect();
    let mut counts: HashMap<&str, usize> = HashMap::new();
    for name in &small {
        *counts.entry(name).or_default() += 1;
    }
    let one = |name: &String| !name.is_empty() && counts.get(name.as_str()) == Some(&1);
    small.iter().map(one).collect()
}

fn one(stated: &NameMatch, row: Option<&str>, stats: &Stats, pair: bool) -> Option<(By, Guess)> {
    if stats.words > 0 {
        return None;
    }
    let given = row.or(stated.unit.as_deref());
    let of = |name: &str| KNOWN.iter().find(|k| k.name == name);
    if stated.found {
        let fits =
            |known: &&'static Known| pair || !matches!(known.name, "wind_u_ms" | "wind_v_ms");
        let known = stated.names.iter().filter_map(|n| of(n)).filter(fits);
        let by = if stated.whole {
            By::Name
        } else {
            By::PartOfName
        };
        let guess = known
            .filter_map(|known| Some((by, with_unit(known, given, stats)?)))
            .next();
        // A unit may say that a name means something else.
        if guess.is_some() || given.is_none() || stated.names.is_empty() {
            return guess;
        }
    }
    if let Some(text) = given {
        let mut of_unit = KNOWN.iter().filter(|k| unit(k, text).is_some());
        let (first, second) = (of_unit.next()?, of_unit.next());
        return match second {
            None => Some((By::Unit, with_unit(first, given, stats)?)),
            Some(_) => None,
        };
    }
    let known = of(by_values(stats)?)?;
    Some((By::Values, with_unit(known, None, stats)?))
}

/// The column with its unit, when its values can be such.
fn with_unit(known: &'static Known, given: Option<&str>, stats: &Stats) -> Option<Guess> {
    let unit = match given {
        Some(text) => unit(known, text)?,
        None => likely_unit(known, stats)?,
    };
    let fits = |value: f64| known.allows(unit.ours(value));
    let within = stats
        .range
        .is_none_or(|(low, high)| fits(low) && fits(high));
    within.then_some(Guess { known, unit })
}

/// The unit that values look like: no temperature in °C is above 150, no pressure
/// in hPa above 2000, no humidity in % at most 1.5 throughout, no height of a
/// sounding in m below 60 throughout (our own choice).
fn likely_unit(known: &'static Known, stats: &Stats) -> Option<&'static Unit> {
    let (low, high) = stats.range.unwrap_or((f64::NAN, f64::NAN));
    let name = match known.name {
        "temperature_c" | "dewpoint_c" if low > 150.0 => "K",
        "pressure_hpa" if high > 2000.0 => "Pa",
        "humidity_pct" if high <= 1.5 => "fraction",
        "height_gpm" | "altitude_m" if stats.numbers > 9 && high <= 60.0 => "km",
        _ => return known.units.first(),
    };
    known.units.iter().find(|u| u.name == name)
}

/// What values without a name look like: steady steps upward are time, steps
/// upward to more than 1000 a height, steps downward a pressure.
fn by_values(stats: &Stats) -> Option<&'static str> {
    let (low, high) = stats.range?;
    let (least, most) = stats.steps?;
    if stats.numbers < 3 {
        return None;
    }
    let pressure = (300.0..=1100.0).contains(&high) || (30_000.0..=110_000.0).contains(&high);
    if stats.falls == 0 && stats.rises > 0 {
        if least > 0.0 && most <= least * 1.5 {
            return Some("time_s");
        }
        return (high > 1000.0 && low > -500.0).then_some("height_gpm");
    }
    // A column of pressure falls by more than half of what it was.
    (stats.rises == 0 && low > 0.0 && low < 0.7 * high && pressure).then_some("pressure_hpa")
}
