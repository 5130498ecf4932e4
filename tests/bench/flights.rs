//! Ascents of any length for measuring: no weather, but its difficulties.

#![allow(clippy::expect_used)]

use fivefig::model::{Coding, Context, Flight, Position, Profile, Row, Station, Wind, WmoNumber};
use fivefig::physics::humidity::dewpoint_c;
use jiff::civil::date;

/// The kinds of ascent.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// Layers, inversions and noise of a sensor, as real ones have.
    Noisy,
    /// One temperature, humidity and wind throughout.
    Even,
    /// Values at random in every element: nearly every pressure that the code can tell is a
    /// level.
    Random,
    /// Every element up and down in teeth of 120 rows at a length of 7,200.
    Toothed,
}

/// Noise between −1 and 1, the same for every run.
fn noise(seed: &mut u64) -> f64 {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    let bits = u32::try_from(*seed >> 40).unwrap_or(0);
    f64::from(bits) / f64::from(1_u32 << 23) - 1.0
}

/// An ascent of `rows` rows from 1013 to 5 hPa, evenly in ln p.
///
/// The weather is the same whatever the number of rows, so that a longer one
/// has more rows a layer, not more layers.
pub fn ascent(kind: Kind, rows: u32) -> Profile {
    let mut seed = 0x2545_f491_4f6c_dd1d;
    let (mut z, mut last) = (20.0, None);
    // Smoothed noise of temperature, humidity, direction, speed.
    let mut slow = [0.0; 4];
    let out = (0..rows)
        .map(|i| {
            let share = f64::from(i) / f64::from(rows - 1);
            let x = share * (1013.0_f64 / 5.0).ln();
            let p = 1013.0 * (-x).exp();
            let keep = (-300.0 / f64::from(rows)).exp();
            for s in &mut slow {
                *s = *s * keep + noise(&mut seed) * (1.0 - keep * keep).sqrt();
            }
            let wave = |waves: f64| (share * waves * std::f64::consts::TAU).sin();
            let tooth = (share * 60.0).fract().mul_add(2.0, -1.0).abs();
            let (t, u, dir, speed) = match kind {
                Kind::Even => (-20.0, 40.0, 270.0, 15.0),
                Kind::Random => (
                    noise(&mut seed).mul_add(50.0, -30.0),
                    noise(&mut seed).mul_add(49.0, 50.0),
                    noise(&mut seed).mul_add(180.0, 180.0),
                    noise(&mut seed).mul_add(30.0, 30.0),
                ),
                Kind::Toothed => (
                    tooth.mul_add(5.0, -20.0),
                    tooth.mul_add(50.0, 30.0),
                    tooth.mul_add(40.0, 250.0),
                    tooth.mul_add(20.0, 10.0),
                ),
                Kind::Noisy => (
                    // Falls to a tropopause, rises slowly above it.
                    (18.0 - 44.0 * x).max(-62.0 + 3.0 * x) + wave(5.0) + 0.15 * slow[0],
                    (45.0 + 35.0 * wave(6.0) * (1.0 - share) + 3.0 * slow[1]).clamp(1.0, 100.0),
                    240.0 + 40.0 * wave(2.5) + 3.0 * slow[2],
                    (20.0 + 18.0 * wave(1.5) + 6.0 * wave(7.0) + slow[3]).max(0.0),
                ),
            };
            if let Some((x0, t0)) = last {
                z += 29.27 * (273.15 + f64::midpoint(t0, t)) * (x - x0);
            }
            last = Some((x, t));
            let two = |v: f64| (v * 100.0).round() / 100.0;
            // Long ascents need more figures to fall with every row.
            let fine = |v: f64| (v * 1e5).round() / 1e5;
            Row {
                time_s: Some(f64::from(i) * 7200.0 / f64::from(rows)),
                pressure_hpa: Some(fine(p)),
                height_gpm: Some(fine(z)),
                temperature_c: Some(two(t)),
                dewpoint_c: dewpoint_c(two(t), two(u)),
                humidity_pct: Some(two(u)),
                wind: Some(Wind {
                    dir_deg: two(dir),
                    speed_ms: two(speed),
                }),
                ..Row::default()
            }
        })
        .collect();
    Profile {
        rows: out,
        ..Profile::default()
    }
}

/// The sheet of an invented land station.
pub fn context() -> Context {
    Context {
        station: Station::land(
            WmoNumber::new(99, 11).expect("a number"),
            Position::new(51.25, -3.4).expect("a position"),
            20.0,
        ),
        flight: Flight {
            release: Some(date(2031, 1, 15).at(11, 23, 40, 0)),
            ..Flight::default()
        },
        coding: Coding::default(),
        ..Context::default()
    }
}

/// The ascent as a delimited file.
pub fn file(profile: &Profile) -> Vec<u8> {
    use std::fmt::Write as _;
    let mut out = String::from(
        "time_s,pressure_hpa,height_gpm,temperature_c,humidity_pct,wind_dir_deg,wind_speed_ms\n",
    );
    for row in &profile.rows {
        let values = [
            row.time_s,
            row.pressure_hpa,
            row.height_gpm,
            row.temperature_c,
            row.humidity_pct,
            row.wind.map(|w| w.dir_deg),
            row.wind.map(|w| w.speed_ms),
        ];
        for (i, value) in values.into_iter().enumerate() {
            let comma = if i > 0 { "," } else { "" };
            let _ = write!(out, "{comma}{}", value.unwrap_or(-9999.0));
        }
        out.push('\n');
    }
    out.into_bytes()
}
