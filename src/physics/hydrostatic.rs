//! Hydrostatic relations in geopotential metres.

use super::humidity::virtual_temperature_k;

/// Gas constant of dry air, J/(kg K) (WMO-No. 8, reduction of pressure).
pub const GAS_CONSTANT: f64 = 287.05;

/// Standard gravity, m/s², exactly; one geopotential metre is this many J/kg
/// (WMO-No. 8; 3rd General Conference on Weights and Measures, 1901).
pub const GRAVITY: f64 = 9.806_65;

/// Thickness between two levels of (pressure hPa, virtual temperature K), gpm.
#[must_use]
pub fn thickness_gpm(lower: (f64, f64), upper: (f64, f64)) -> f64 {
    GAS_CONSTANT / GRAVITY * f64::midpoint(lower.1, upper.1) * (lower.0 / upper.0).ln()
}

/// A column of air: levels of (pressure hPa, virtual temperature K) with falling pressure.
///
/// Between the levels temperature is linear in ln p, above the top (and below the lowest
/// level) it stays as it is there.
#[derive(Clone, Debug)]
pub struct Column<'a> {
    levels: &'a [(f64, f64)],
    /// Height of each level over the lowest, gpm.
    heights: Vec<f64>,
}

impl<'a> Column<'a> {
    /// The column of these levels.
    #[must_use]
    pub fn new(levels: &'a [(f64, f64)]) -> Self {
        let pairs = levels.iter().zip(levels.iter().skip(1));
        let heights = pairs.scan(0.0, |sum, (below, here)| {
            *sum += thickness_gpm(*below, *here);
            Some(*sum)
        });
        Self {
            levels,
            heights: std::iter::once(0.0).chain(heights).collect(),
        }
    }

    /// Geopotential height of a pressure over the lowest level, gpm; `None` for an empty
    /// column.
    #[must_use]
    pub fn height_gpm(&self, pressure_hpa: f64) -> Option<f64> {
        let mut levels = self.levels.iter().skip(1);
        let above = levels.position(|level| level.0 <= pressure_hpa);
        let below = above.or(self.levels.len().checked_sub(1))?;
        let (&(p, kelvin), sum) = (self.levels.get(below)?, self.heights.get(below)?);
        let here = match above.and_then(|i| self.levels.get(i + 1)) {
            Some(here) => {
                let share = (p / pressure_hpa).ln() / (p / here.0).ln();
                kelvin + (here.1 - kelvin) * share
            }
            None => kelvin,
        };
        Some(sum + thickness_gpm((p, kelvin), (pressure_hpa, here)))
    }
}

/// Most steps of [`pressure_across`]; five reach the last bit of a double in
/// layers of any thickness that occurs.
const MAX_STEPS: usize = 50;

/// Pressure, hPa, at the other end of a layer: the inverse of [`thickness_gpm`].
///
/// `from` is the known end (pressure hPa, virtual temperature K), `thickness_gpm`
/// the way up to the other (negative: down), `virtual_k` the virtual temperature
/// there as a function of its pressure, of which it depends little.
#[must_use]
pub fn pressure_across(
    from: (f64, f64),
    thickness_gpm: f64,
    virtual_k: impl Fn(f64) -> f64,
) -> f64 {
    let at = |kelvin: f64| {
        let mean = f64::midpoint(from.1, kelvin);
        from.0 * (-GRAVITY * thickness_gpm / (GAS_CONSTANT * mean)).exp()
    };
    let mut pressure = at(from.1);
    for _ in 0..MAX_STEPS {
        let next = at(virtual_k(pressure));
        let done = (next - pressure).abs() <= 1e-13 * pressure;
        pressure = next;
        if done {
            break;
        }
    }
    pressure
}

/// Lapse rate of the troposphere of the standard atmosphere, K/gpm (ISO 2533:1975;
/// U.S. Standard Atmosphere, 1976), taken below the ground.
const STANDARD_LAPSE: f64 = 0.006_5;

/// Lapse rate taken below the ground, K/gpm, and the exponent Rd Γ / g0.
fn below_ground() -> (f64, f64) {
    let lapse = STANDARD_LAPSE;
    (lapse, GAS_CONSTANT * lapse / GRAVITY)
}

/// Geopotential, gpm, of a surface of greater pressure below a level: the
/// standard lapse rate on the level's virtual temperature, solved exactly.
#[must_use]
pub fn height_below(
    height_gpm: f64,
    pressure_hpa: f64,
    temperature_c: f64,
    dewpoint_c: Option<f64>,
    target_hpa: f64,
) -> f64 {
    let (lapse, power) = below_ground();
    let virtual_k = virtual_temperature_k(temperature_c, dewpoint_c, pressure_hpa);
    height_gpm - virtual_k / lapse * ((target_hpa / pressure_hpa).powf(power) - 1.0)
}

/// Pressure, hPa, some geopotential metres below a level (above it when
/// negative): the inverse of [`height_below`].
#[must_use]
pub fn pressure_below(
    pressure_hpa: f64,
    temperature_c: f64,
    dewpoint_c: Option<f64>,
    depth_gpm: f64,
) -> f64 {
    let (lapse, power) = below_ground();
    let virtual_k = virtual_temperature_k(temperature_c, dewpoint_c, pressure_hpa);
    pressure_hpa * (1.0 + lapse * depth_gpm / virtual_k).powf(1.0 / power)
}

/// Layers of the U.S. Standard Atmosphere, 1976: base height gpm, base pressure
/// hPa, base temperature K, change of temperature K/gpm.
const LAYERS: [(f64, f64, f64, f64); 5] = [
    (0.0, 1013.25, 288.15, -0.0065),
    (11_000.0, 226.3206, 216.65, 0.0),
    (20_000.0, 54.7489, 216.65, 0.001),
    (32_000.0, 8.680_19, 228.65, 0.0028),
    (47_000.0, 1.109_06, 270.65, 0.0),
];

/// g0 M / R, K/gpm, of the same.
const RATE: f64 = 0.034_163_195;

/// Geopotential height of a pressure in the U.S. Standard Atmosphere, 1976
/// (equal to that of ICAO up to 32 km), gpm; the last layer is carried on.
///
/// `pressure_hpa` above 0. It serves to order levels and to place them roughly,
/// never to report a height.
#[must_use]
pub fn standard_height_gpm(pressure_hpa: f64) -> f64 {
    let layer = LAYERS.iter().rev().find(|l| pressure_hpa <= l.1);
    let &(base, p, t, lapse) = layer.unwrap_or(&LAYERS[0]);
    if lapse == 0.0 {
        base + t / RATE * (p / pressure_hpa).ln()
    } else {
        base + t / lapse * ((p / pressure_hpa).powf(lapse / RATE) - 1.0)
    }
}

/// The pressure of a geopotential height in the same atmosphere, hPa.
#[must_use]
pub fn standard_pressure_hpa(height_gpm: f64) -> f64 {
    let layer = LAYERS.iter().rev().find(|l| height_gpm >= l.0);
    let &(base, p, t, lapse) = layer.unwrap_or(&LAYERS[0]);
    if lapse == 0.0 {
        p * (-RATE * (height_gpm - base) / t).exp()
    } else {
        // Far below the ground the power has no meaning.
        let ratio = (1.0 + lapse * (height_gpm - base) / t).max(0.1);
        p * ratio.powf(-RATE / lapse)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn below_ground_the_standard_atmosphere_comes_back() {
        // U.S. Standard Atmosphere 1976 (from memory): 850 hPa at 1457.3 gpm,
        // 1000 hPa at 110.9 gpm, 1013.25 hPa at 0; 15 degrees C less 6.5 K/km.
        let t = 15.0 - 0.0065 * 1457.3;
        for (hpa, gpm) in [(1000.0, 110.9), (1013.25, 0.0)] {
            let z = height_below(1457.3, 850.0, t, None, hpa);
            assert!((z - gpm).abs() < 0.3, "{z}");
            let p = pressure_below(850.0, t, None, 1457.3 - gpm);
            assert!((p - hpa).abs() < 0.03, "{p}");
        }
        assert_eq!(height_below(500.0, 900.0, 5.0, None, 900.0), 500.0);
        assert_eq!(pressure_below(900.0, 5.0, None, 0.0), 900.0);
    }

    #[test]
    fn pressure_and_height_are_inverse() {
        for depth in [-20.0, -1.0, 0.5, 12.0, 300.0] {
            let p = pressure_below(940.0, 21.0, Some(17.0), depth);
            let z = height_below(500.0, 940.0, 21.0, Some(17.0), p);
            assert!((500.0 - z - depth).abs() < 1e-8, "{depth}: {z}");
        }
    }

    #[test]
    fn pressure_across_a_layer_is_the_inverse_of_thickness() {
        for (from, to) in [
            ((1000.0, 290.0), (850.0, 281.0)),
            ((20.0, 215.0), (35.0, 211.0)),
        ] {
            let dz = thickness_gpm(from, to);
            // As warm at any pressure, and with vapour that counts for more aloft.
            let p = pressure_across(from, dz, |_| to.1);
            assert!((p / to.0 - 1.0).abs() < 1e-12, "{p}");
            let moist = |p: f64| virtual_temperature_k(12.0, Some(8.0), p);
            let p = pressure_across(from, dz, moist);
            let back = thickness_gpm(from, (p, moist(p)));
            assert!((back - dz).abs() < 1e-8, "{back} {dz}");
        }
    }

    #[test]
    fn the_isothermal_layer_of_the_standard_atmosphere_is_nine_kilometres() {
        // U.S. Standard Atmosphere 1976, table I (from memory): 226.321 hPa at
        // 11 000 gpm and 54.7489 hPa at 20 000 gpm, both 216.65 K.
        let dz = thickness_gpm((226.321, 216.65), (54.7489, 216.65));
        assert!((dz - 9000.0).abs() < 1.0, "{dz}");
    }

    #[test]
    fn thin_steps_climb_the_standard_atmosphere() {
        // The same: 1013.25 hPa at 0, 500 hPa at 5574.4 gpm, 300 hPa at 9163.9 gpm.
        for (top, gpm) in [(500.0, 5574.4), (300.0, 9163.9)] {
            let kelvin = |hpa: f64| 288.15 * (hpa / 1013.25_f64).powf(0.190_263);
            let step = (1013.25 - top) / 500.0;
            let z: f64 = (0..500)
                .map(|i| {
                    let low = 1013.25 - f64::from(i) * step;
                    thickness_gpm((low, kelvin(low)), (low - step, kelvin(low - step)))
                })
                .sum();
            assert!((z - gpm).abs() < 1.0, "{top}: {z}");
        }
    }

    #[test]
    fn standard_heights_agree_with_the_published_table() {
        // U.S. Standard Atmosphere, 1976, table of geopotential height: 1013.25
        // hPa 0 gpm, 226.32 hPa 11 000 gpm, 54.749 hPa 20 000 gpm, 8.6802 hPa
        // 32 000 gpm; 500 hPa 5574 gpm, 100 hPa 16 180 gpm, 10 hPa 31 055 gpm.
        for (p, z) in [
            (1013.25, 0.0),
            (500.0, 5574.0),
            (226.32, 11_000.0),
            (100.0, 16_180.0),
            (54.749, 20_000.0),
            (10.0, 31_055.0),
            (8.6802, 32_000.0),
        ] {
            assert!((standard_height_gpm(p) - z).abs() < 0.6, "{p}");
            let back = standard_pressure_hpa(standard_height_gpm(p));
            assert!((back / p - 1.0).abs() < 1e-6, "{p} {back}");
        }
    }
}
