//! Winds of a profile that gives positions: the track of the balloon is that of
//! the air.

use std::ops::Range;

use super::Prepared;
use crate::finding::Finding;
use crate::physics::drift::{EARTH_M, way_m};
use crate::physics::track::{Velocity, velocity};
use crate::profile::derive;
use crate::quantity::trim;
use crate::sounding::Wind;
use crate::source::RawRow;
use crate::tables::joining_limits;

/// What `derived` says of it.
pub(crate) const DERIVED: &str = "wind from positions";

/// Most decimals looked for in positions: a centimetre.
const MOST_DECIMALS: i32 = 7;

/// Degrees closer than this are the same: a tenth of a millimetre.
const SAME_DEG: f64 = 1e-9;

/// A row with time and position: its number, s, degrees north and east.
struct Fix {
    row: usize,
    time_s: f64,
    place_deg: (f64, f64),
}

/// Takes winds from positions when no row has one: the velocity over a window of
/// time around each row. Where the balloon moves less than one step of the
/// positions there, it is calm.
pub(super) fn winds(prepared: &mut Prepared) {
    let rows = &prepared.raw.rows;
    let half = |r: &RawRow| {
        [r.wind_dir_deg, r.wind_speed_ms, r.wind_u_ms, r.wind_v_ms]
            .iter()
            .any(Option::is_some)
    };
    if rows.iter().any(|r| half(r) || derive::has_wind(r)) {
        return;
    }
    let fixes = fixes(rows);
    let lim = joining_limits();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "3, by its table"
    )]
    let least = lim.track_fixes_rows as usize;
    if fixes.len() < least {
        return;
    }
    let step_m = step_m(&fixes);
    let window_s = prepared
        .context
        .meaning
        .track_window_s
        .unwrap_or(lim.track_window_s);
    let place = prepared.place(fixes.first().map_or(0, |f| f.row));
    if step_m / window_s > lim.track_coarse_ms {
        let what = format!(
            "winds are missing, and positions in steps of {step_m:.0} m are too coarse to take \
             them from {window_s} s of the track"
        );
        let allowed = format!(
            "give a longer track_window_s under [profile], at least {:.0}",
            (step_m / lim.track_coarse_ms).ceil()
        );
        let told = Finding::warning("positions-coarse", place, what).allowed(allowed);
        prepared.findings.push(told);
        return;
    }
    let mut found: Vec<(usize, Velocity)> = Vec::with_capacity(fixes.len());
    let mut window = 0..0;
    let mut around = Vec::new();
    for here in &fixes {
        window = widen(&fixes, &window, here.time_s, window_s / 2.0);
        around.clear();
        for fix in fixes.get(window.clone()).unwrap_or_default() {
            let (east, north) = way_m(here.place_deg, fix.place_deg);
            around.push((fix.time_s, east, north));
        }
        let ends = around.first().zip(around.last());
        let spans = ends.is_some_and(|(a, b)| b.0 - a.0 >= window_s * lim.track_cover_ratio);
        if around.len() >= least
            && spans
            && let Some(velocity) = velocity(&around, step_m)
        {
            found.push((here.row, velocity));
        }
    }
    if found.is_empty() {
        return;
    }
    let mut calm = 0;
    let rows = &mut prepared.raw.to_mut().rows;
    for (row, velocity) in &found {
        let Some(row) = rows.get_mut(*row) else {
            continue;
        };
        let still = velocity.way_m < step_m;
        calm += usize::from(still);
        let (east, north) = if still {
            (0.0, 0.0)
        } else {
            velocity.components_ms
        };
        let wind = Wind::from_components_ms(east, north);
        row.wind_dir_deg = Some(trim(wind.dir_deg));
        row.wind_speed_ms = Some(trim(wind.speed_ms));
    }
    prepared.derived.push(DERIVED.to_owned());
    let what = words(&found, step_m, window_s, calm, prepared.raw.rows.len());
    prepared.findings.push(
        Finding::info("wind-from-positions", place, what)
            .allowed("track_window_s under [profile] is the window"),
    );
}

/// How the winds were made and how good they are.
fn words(
    found: &[(usize, Velocity)],
    step_m: f64,
    window_s: f64,
    calm: usize,
    rows: usize,
) -> String {
    let errors = found.iter().map(|f| f.1.error_ms);
    let count = f64::from(u32::try_from(found.len()).unwrap_or(u32::MAX));
    let rms = (errors.clone().map(|e| e * e).sum::<f64>() / count).sqrt();
    let greatest = errors.fold(0.0, f64::max);
    let calm = match calm {
        0 => String::new(),
        n => format!(", which makes {n} of them calm"),
    };
    format!(
        "winds are missing; taken from positions for {} of {rows} rows, over {window_s} s each; \
         a way below the {step_m:.1} m step of the positions is none{calm}; standard error of a \
         component {rms:.2} m/s (rms), at most {greatest:.2} m/s",
        found.len()
    )
}

/// The rows with time and place, each later than the one before.
fn fixes(rows: &[RawRow]) -> Vec<Fix> {
    let mut fixes: Vec<Fix> = Vec::with_capacity(rows.len());
    for (row, raw) in rows.iter().enumerate() {
        if let Some((time_s, place)) = raw.time_s.zip(raw.place())
            && fixes.last().is_none_or(|last| time_s > last.time_s)
        {
            let place_deg = (place.latitude_deg, place.longitude_deg);
            fixes.push(Fix {
                row,
                time_s,
                place_deg,
            });
        }
    }
    fixes
}

/// The fixes within so many seconds of a time, from the window of the fix before.
fn widen(fixes: &[Fix], before: &Range<usize>, time_s: f64, half_s: f64) -> Range<usize> {
    let mut window = before.clone();
    let time = |at: usize| fixes.get(at).map(|f| f.time_s);
    while time(window.start).is_some_and(|t| t < time_s - half_s) {
        window.start += 1;
    }
    window.end = window.end.max(window.start);
    while time(window.end).is_some_and(|t| t <= time_s + half_s) {
        window.end += 1;
    }
    window
}

/// The step to which positions are rounded, m: the fewest decimals of a degree
/// that hold every latitude and longitude.
fn step_m(fixes: &[Fix]) -> f64 {
    let holds = |decimals: i32| {
        let scale = 10_f64.powi(decimals);
        let whole = |deg: f64| (deg - (deg * scale).round() / scale).abs() < SAME_DEG;
        fixes
            .iter()
            .all(|f| whole(f.place_deg.0) && whole(f.place_deg.1))
    };
    let decimals = (0..MOST_DECIMALS)
        .find(|&d| holds(d))
        .unwrap_or(MOST_DECIMALS);
    (EARTH_M * 1_f64.to_radians()) / 10_f64.powi(decimals)
}
