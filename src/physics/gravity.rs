//! Geometric and geopotential height.
//!
//! WMO-No. 8 (Guide to Instruments, Volume I, chapter on upper-air pressure,
//! temperature and humidity): normal gravity by Somigliana's formula and an
//! effective radius of the Earth, both of the latitude (constants from memory;
//! held to the U.S. Standard Atmosphere in the tests).

use super::hydrostatic::GRAVITY;

/// Latitude taken when nothing gives one, degrees: gravity is near the standard
/// there.
pub(crate) const MIDDLE_LATITUDE_DEG: f64 = 45.0;

/// Normal gravity on the ellipsoid, m/s².
fn normal_gravity(latitude_deg: f64) -> f64 {
    let s2 = latitude_deg.to_radians().sin().powi(2);
    9.780_325 * (1.0 + 0.001_931_85 * s2) / (1.0 - 0.006_694_35 * s2).sqrt()
}

/// Effective radius of the Earth, m.
fn radius(latitude_deg: f64) -> f64 {
    let s2 = latitude_deg.to_radians().sin().powi(2);
    6_378_137.0 / (1.006_803 - 0.006_706 * s2)
}

/// Geopotential height, gpm, of a geometric height above mean sea level, m.
#[must_use]
pub fn geopotential_gpm(altitude_m: f64, latitude_deg: f64) -> f64 {
    let r = radius(latitude_deg);
    normal_gravity(latitude_deg) / GRAVITY * (r * altitude_m / (r + altitude_m))
}

/// Geometric height above mean sea level, m, of a geopotential height, gpm.
#[must_use]
pub fn altitude_m(height_gpm: f64, latitude_deg: f64) -> f64 {
    let r = radius(latitude_deg);
    let h = height_gpm * GRAVITY / normal_gravity(latitude_deg);
    r * h / (r - h)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    /// Latitude at which normal gravity is the standard value (U.S. Standard
    /// Atmosphere 1976: 45° 32' 33").
    const STANDARD_LATITUDE_DEG: f64 = 45.5425;

    #[test]
    fn heights_agree_with_the_standard_atmosphere() {
        // U.S. Standard Atmosphere 1976, table I (from memory).
        for (m, gpm) in [
            (11_019.0, 11_000.0),
            (20_063.0, 20_000.0),
            (32_162.0, 32_000.0),
        ] {
            let z = geopotential_gpm(m, STANDARD_LATITUDE_DEG);
            assert!((z - gpm).abs() < 4.0, "{m}: {z}");
            assert_abs_diff_eq!(altitude_m(gpm, STANDARD_LATITUDE_DEG), m, epsilon = 4.0);
        }
    }

    #[test]
    fn gravity_at_equator_and_pole_is_the_published_one() {
        // WGS 84 (NIMA TR8350.2, from memory): 9.780 325 3 and 9.832 184 9 m/s².
        assert_abs_diff_eq!(normal_gravity(0.0), 9.780_325, epsilon = 1e-5);
        assert_abs_diff_eq!(normal_gravity(90.0), 9.832_185, epsilon = 1e-5);
    }

    #[test]
    fn the_two_heights_are_inverse() {
        for latitude in [-90.0, -25.0, 0.0, 45.0, 78.4] {
            for m in [-400.0, 0.0, 306.1, 11_019.0, 40_000.0] {
                let z = geopotential_gpm(m, latitude);
                assert!((altitude_m(z, latitude) - m).abs() < 1e-6, "{latitude} {m}");
            }
        }
    }
}
