//! Geometric and geopotential height.

/// Normal gravity at mean sea level, m/s² (Somigliana, WGS 84 constants; WMO-No.
/// 8 takes the same form; constants from memory).
fn normal_gravity(latitude_deg: f64) -> f64 {
    let s2 = latitude_deg.to_radians().sin().powi(2);
    9.780_325 * (1.0 + 0.001_931_85 * s2) / (1.0 - 0.006_694_35 * s2).sqrt()
}

/// Effective radius of the Earth at a latitude, m (WGS 84; from memory).
fn radius(latitude_deg: f64) -> f64 {
    let s2 = latitude_deg.to_radians().sin().powi(2);
    6_378_137.0 / (1.006_803 - 0.006_706 * s2)
}

/// Geopotential height of a geometric height above mean sea level, gpm.
#[must_use]
pub fn geopotential_gpm(altitude_m: f64, latitude_deg: f64) -> f64 {
    let r = radius(latitude_deg);
    normal_gravity(latitude_deg) / 9.806_65 * (r * altitude_m / (r + altitude_m))
}

/// Geometric height above mean sea level of a geopotential height, m.
#[must_use]
pub fn altitude_m(height_gpm: f64, latitude_deg: f64) -> f64 {
    let r = radius(latitude_deg);
    let h = height_gpm * 9.806_65 / normal_gravity(latitude_deg);
    r * h / (r - h)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heights_agree_with_the_standard_atmosphere() {
        // U.S. Standard Atmosphere 1976 (from memory): 11 019, 20 063 and
        // 32 162 m are 11 000, 20 000 and 32 000 gpm near 45 degrees.
        for (m, gpm) in [
            (11_019.0, 11_000.0),
            (20_063.0, 20_000.0),
            (32_162.0, 32_000.0),
        ] {
            let z = geopotential_gpm(m, 45.0);
            assert!((z / gpm - 1.0).abs() < 3e-4, "{m}: {z}");
            assert!((altitude_m(z, 45.0) - m).abs() < 1e-6);
        }
        assert!(geopotential_gpm(30_000.0, 0.0) < geopotential_gpm(30_000.0, 90.0));
    }
}
