//! Whether the significant levels alone give every row back, rebuilt here apart
//! from the library.
//!
//! WMO-No. 306, 35.3.1.3: 1 K, 2 K above the first level over 300 hPa or the
//! first tropopause, whichever is lower; 15 %. 35.3.2.1: 5 m/s; 10 degrees,
//! light winds left out.

use fivefig::levels::Levels;
use fivefig::model::{Level, Profile, Roles, Row};
use fivefig::physics::humidity::relative_humidity_pct;

/// Pressure at and above which 2 K hold, of levels with these roles.
fn wide_from_hpa(levels: &[Level]) -> f64 {
    let first = levels.iter().find(|l| l.roles.any(Roles::TROPOPAUSE));
    // A tropopause below 300 hPa starts the wider limit; above it, 300 hPa does.
    first
        .and_then(|l| l.row.pressure_hpa)
        .filter(|&p| p > 300.0)
        .unwrap_or(300.0_f64.next_down())
}

fn pairs(levels: &[Level], role: Roles) -> Vec<(&Row, &Row)> {
    let rows: Vec<&Row> = (levels.iter().filter(|l| l.roles.any(role)))
        .map(|l| &l.row)
        .collect();
    rows.windows(2).map(|w| (w[0], w[1])).collect()
}

/// Shares of both ends at a pressure, where it lies between.
fn share(p: f64, a: &Row, b: &Row) -> Option<f64> {
    let (pa, pb) = (a.pressure_hpa?, b.pressure_hpa?);
    (pa > pb && (pb..=pa).contains(&p)).then(|| (pa / p).ln() / (pa / pb).ln())
}

fn between(a: Option<f64>, b: Option<f64>, w: f64) -> Option<f64> {
    Some(a? + (b? - a?) * w)
}

fn arc(d: f64) -> f64 {
    (d + 540.0).rem_euclid(360.0) - 180.0
}

/// Stops at the first row that departs by more than a limit; says how many
/// temperatures, humidities and winds were held.
pub fn every_row(name: &str, profile: &Profile, levels: &Levels) -> [usize; 3] {
    let wide = wide_from_hpa(&levels.levels);
    let thermal = pairs(&levels.levels, Roles::SIG_T_OR_U);
    let winds = pairs(&levels.levels, Roles::SIG_WIND);
    let humidity = |r: &Row| Some(relative_humidity_pct(r.temperature_c?, r.dewpoint_c?));
    let mut held = [0; 3];
    for row in &profile.rows {
        let p = row.pressure_hpa.unwrap();
        for &(a, b) in &thermal {
            let Some(w) = share(p, a, b) else { continue };
            let (pa, pb) = (a.pressure_hpa.unwrap(), b.pressure_hpa.unwrap());
            // Neighbouring whole hPa: the code has no room for a level between.
            if (pa.round() - pb.round()).abs() <= 1.0 && pb >= 99.95 {
                continue;
            }
            let t = between(a.temperature_c, b.temperature_c, w);
            if let (Some(t), Some(own)) = (t, row.temperature_c) {
                let limit = if pa <= wide { 2.0 } else { 1.0 };
                assert!(
                    (t - own).abs() <= limit + 0.01,
                    "{name} {p} hPa between {pa} and {pb}: {t} {own}"
                );
                held[0] += 1;
            }
            let u = between(humidity(a), humidity(b), w);
            if let (Some(u), Some(own)) = (u, row.humidity_pct) {
                assert!(
                    (u - own).abs() <= 15.1,
                    "{name} {p} hPa between {pa} and {pb}: {u} {own}"
                );
                held[1] += 1;
            }
        }
        for &(a, b) in &winds {
            let Some(w) = share(p, a, b) else { continue };
            let (Some(wa), Some(wb), Some(own)) = (a.wind, b.wind, row.wind) else {
                continue;
            };
            let (pa, pb) = (a.pressure_hpa.unwrap(), b.pressure_hpa.unwrap());
            if (pa.round() - pb.round()).abs() <= 1.0 && pb >= 99.95 {
                continue;
            }
            let speed = wa.speed_ms + (wb.speed_ms - wa.speed_ms) * w;
            assert!(
                (speed - own.speed_ms).abs() <= 5.01,
                "{name} {p} hPa between {pa} and {pb}: {speed} {own:?}"
            );
            let dir = wa.dir_deg + arc(wb.dir_deg - wa.dir_deg) * w;
            if speed >= 2.5 || own.speed_ms >= 2.5 {
                assert!(
                    arc(dir - own.dir_deg).abs() <= 10.01,
                    "{name} {p} hPa between {pa} and {pb}: {dir} {own:?}"
                );
            }
            held[2] += 1;
        }
    }
    held
}
