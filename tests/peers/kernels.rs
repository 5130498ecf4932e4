//! The library's kernels as a filter, for comparison with other programs: a
//! line `name number…` in, a line with one number out.

use std::io::{self, BufRead as _, Write as _};

use fivefig::physics::adiabat::{dry_c, lifted_c, potential_temperature_k, saturated_c};
use fivefig::physics::gravity::{altitude_m, geopotential_gpm};
use fivefig::physics::humidity::{
    dewpoint_c, relative_humidity_pct, saturation_vapour_pressure_hpa,
    saturation_vapour_pressure_over_ice_hpa, virtual_temperature_k,
};
use fivefig::physics::hydrostatic::thickness_gpm;
use fivefig::physics::mixing::{dewpoint_of_ratio_c, mixing_ratio_g_kg};

/// One line's answer; `None` when the line is no question.
fn answer(line: &str) -> Option<f64> {
    let mut words = line.split_whitespace();
    let name = words.next()?;
    let numbers: Vec<f64> = words.map(str::parse).collect::<Result<_, _>>().ok()?;
    match (name, numbers.as_slice()) {
        ("saturation_vapour_pressure_hpa", &[t]) => Some(saturation_vapour_pressure_hpa(t)),
        ("saturation_vapour_pressure_over_ice_hpa", &[t]) => {
            Some(saturation_vapour_pressure_over_ice_hpa(t))
        }
        ("geopotential_gpm", &[m, latitude]) => Some(geopotential_gpm(m, latitude)),
        ("altitude_m", &[z, latitude]) => Some(altitude_m(z, latitude)),
        ("dewpoint_c", &[t, u]) => dewpoint_c(t, u),
        ("relative_humidity_pct", &[t, td]) => Some(relative_humidity_pct(t, td)),
        ("potential_temperature_k", &[t, p]) => Some(potential_temperature_k(t, p)),
        ("virtual_temperature_k", &[t, td, p]) => Some(virtual_temperature_k(t, Some(td), p)),
        ("lifted_c", &[t, td, p0, p1]) => Some(lifted_c(t, td, p0, p1)),
        ("dry_c", &[t, p]) => Some(dry_c(t, p)),
        ("saturated_c", &[t, p0, p1]) => Some(saturated_c(t, p0, p1)),
        ("mixing_ratio_g_kg", &[td, p]) => mixing_ratio_g_kg(td, p),
        ("dewpoint_of_ratio_c", &[r, p]) => dewpoint_of_ratio_c(r, p),
        ("thickness_gpm", &[p0, tv0, p1, tv1]) => Some(thickness_gpm((p0, tv0), (p1, tv1))),
        _ => None,
    }
}

fn main() -> io::Result<()> {
    let mut out = io::stdout().lock();
    for line in io::stdin().lock().lines() {
        let line = line?;
        let value = answer(&line).ok_or_else(|| {
            io::Error::new(io::ErrorKind::InvalidInput, format!("no question: {line}"))
        })?;
        writeln!(out, "{value:.17e}")?;
    }
    Ok(())
}
