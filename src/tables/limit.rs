//! The numeric limits of the rules.

use super::file::{Fault, File, Order, Row, read};
use super::{GROSS_LIMITS, Once, SELECTION_LIMITS, loaded};

/// A numeric limit, as its table has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitRow {
    /// Its name, the unit at its end.
    pub name: &'static str,
    /// Its value in that unit.
    pub value: f64,
    /// The unit.
    pub unit: &'static str,
    /// The clause of WMO-No. 306 Vol. I.1, or the check, it belongs to.
    pub clause: &'static str,
    /// Where the value comes from.
    pub source: &'static str,
}

/// Makes the struct, and the function that fills it by name: a row without a
/// field and a field without a row are faults.
macro_rules! limit_struct {
    ($(#[$about:meta])* $name:ident: $($(#[$doc:meta])* $field:ident,)+) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub struct $name {
            $($(#[$doc])* pub $field: f64,)+
        }

        fn fill(
            file: $crate::tables::file::File,
            rows: &[$crate::tables::LimitRow],
        ) -> Result<$name, $crate::tables::Fault> {
            let known = [$(stringify!($field)),+];
            if let Some(row) = rows.iter().find(|row| !known.contains(&row.name)) {
                return Err(file.fault_at_end(format!("no rule uses `{}`", row.name)));
            }
            let value = |name: &str| {
                rows.iter()
                    .find(|row| row.name == name)
                    .map(|row| row.value)
                    .ok_or_else(|| file.fault_at_end(format!("no row `{name}`")))
            };
            Ok($name { $($field: value(stringify!($field))?,)+ })
        }
    };
}
pub(super) use limit_struct;

limit_struct! {
    /// Every numeric limit of the choice of levels, by name.
    Limits:
    /// A layer without temperature or humidity this thick or thicker is bounded by levels (35.3.1.6, B/C25).
    missing_thermal_layer_hpa,
    /// A layer without wind this thick or thicker is bounded by levels on a
    /// pressure axis (35.3.2.2, B/C25).
    missing_wind_layer_hpa,
    /// The same on a height axis (32.3.1.5.2, B/C20).
    missing_wind_layer_gpm,
    /// An inversion or isothermal layer this thick or thicker counts (35.3.1.2, B/C25).
    inversion_thickness_hpa,
    /// A thinner inversion counts when temperature rises this much or more (35.3.1.2, B/C25).
    inversion_temperature_k,
    /// A thinner inversion counts when relative humidity changes this much or more (35.3.1.2, B/C25).
    inversion_humidity_pct,
    /// No further inversion lies this close above the top of joined inversions (35.3.1.2 note, B/C25).
    inversion_clear_hpa,
    /// The bound that is compared with the first tropopause (35.3.1.2 and 35.3.1.3, B/C25).
    thermal_bound_hpa,
    /// Lower bound, included, of the layer near 100 hPa that must hold a level (35.3.1.2, B/C25).
    near_100_low_hpa,
    /// Upper bound, included, of that layer (35.3.1.2, B/C25).
    near_100_high_hpa,
    /// Tolerance of temperature up to the bound (35.3.1.3, B/C25).
    temperature_low_k,
    /// Tolerance of temperature above it (35.3.1.3, B/C25).
    temperature_high_k,
    /// Tolerance of relative humidity (35.3.1.3, B/C25).
    humidity_pct,
    /// The ratio of a level to the one before exceeds this, up to the first
    /// tropopause (35.3.1.3, B/C25).
    pressure_ratio,
    /// Tolerance of wind direction (35.3.2.1, B/C25).
    wind_direction_deg,
    /// Tolerance of wind speed (35.3.2.1, B/C25).
    wind_speed_ms,
    /// When both speeds are less, an error of direction does not count (35.3.2.1, our method).
    light_wind_ms,
    /// A maximum wind is faster than this (35.2.4.1, B/C25).
    max_wind_speed_ms,
    /// A maximum wind lies above this surface (35.2.4.1, B/C25).
    max_wind_floor_hpa,
    /// A further maximum exceeds both adjacent minima by this much or more (32.2.3.2, B/C25).
    max_wind_rise_ms,
    /// Depth of the layers whose shear is reported (35.2.4.4, B/C25).
    shear_depth_gpm,
    /// The lapse rate at and above a tropopause is at most this (35.2.3.1, WMO-No. 182).
    tropopause_lapse_k_per_km,
    /// Depth above a tropopause in which that holds (35.2.3.1, WMO-No. 182).
    tropopause_depth_gpm,
    /// A further tropopause is looked for above a layer whose lapse rate
    /// exceeds this (35.2.3.1, WMO-No. 182).
    next_tropopause_lapse_k_per_km,
    /// Depth of that layer (35.2.3.1, from memory).
    next_tropopause_depth_gpm,
    /// A tropopause below this surface counts only if it is the only one (35.2.3.1, from memory).
    tropopause_floor_hpa,
    /// It counts only if the sounding reached this pressure (35.2.3.1, from memory).
    tropopause_floor_reach_hpa,
    /// Depth of smoothing in the second look at the tropopause (35.2.3.1, our method).
    tropopause_smoothing_gpm,
    /// The second look is noted when it differs by more than this (35.2.3.1, our method).
    tropopause_doubt_hpa,
    /// A layer is isothermal when temperature changes by this or less (35.3.1.2, from memory).
    isothermal_k,
    /// Turns of temperature smaller than this are noise (35.3.1.2, our method).
    hysteresis_k,
    /// The same where humidity decides whether an inversion counts, K.
    humidity_hysteresis_k,
    /// Temperature and humidity are not interpolated across more than this height (35.2.2.3, common practice, no source).
    bridge_thermal_gpm,
    /// A stretch without data is a gap only when it is longer than so many times
    /// the usual distance between rows there (35.2.2.3, common practice, no source).
    gap_spacing_ratio,
    /// A height above the top is extrapolated over at most this part
    /// of the surface's pressure (35.2.2.4, B/C25).
    extrapolation_ratio,
    /// A height above the top is extrapolated over at most this pressure (35.2.2.4, B/C25).
    extrapolation_hpa,
    /// The lowest row of a drop higher than this above the surface did not
    /// reach it (common practice).
    drop_surface_gpm,
    /// A surface observation that differs from the time of release by more than
    /// this is old (common practice).
    surface_age_s,
}

/// Ends of names and the units they stand for.
const UNITS: [(&str, &str); 14] = [
    ("_k_per_km", "K/km"),
    ("_k_per_s", "K/s"),
    ("_pct_per_s", "%/s"),
    ("_ms_per_s", "m/s2"),
    ("_rows", "1"),
    ("_m", "m"),
    ("_hpa", "hPa"),
    ("_gpm", "gpm"),
    ("_pct", "%"),
    ("_deg", "deg"),
    ("_ms", "m/s"),
    ("_s", "s"),
    ("_k", "K"),
    ("_ratio", "1"),
];

static SELECTION: Once<(Vec<LimitRow>, Limits)> =
    Once::new(|| loaded(read_selection(SELECTION_LIMITS)));
static GROSS: Once<Vec<GrossLimits>> = Once::new(|| loaded(read_gross(GROSS_LIMITS)));

pub(super) fn read_selection(file: File) -> Result<(Vec<LimitRow>, Limits), Fault> {
    let rows = read_limits(file)?;
    let limits = fill(file, &rows)?;
    Ok((rows, limits))
}

/// The rows of a table of limits.
pub(super) fn read_limits(file: File) -> Result<Vec<LimitRow>, Fault> {
    let columns = &["name", "value", "unit", "clause", "source"];
    read(file, columns, Order::Unique, |row| {
        let limit = LimitRow {
            name: row.text("name")?,
            value: positive(row, "value")?,
            unit: row.text("unit")?,
            clause: row.text("clause")?,
            source: row.text("source")?,
        };
        let unit = UNITS.iter().find(|(end, _)| limit.name.ends_with(end));
        if unit.is_none_or(|&(_, unit)| unit != limit.unit) {
            return Err(row.fault(format!("unit `{}` does not fit the name", limit.unit)));
        }
        Ok(limit)
    })
}

fn positive(row: &Row, column: &str) -> Result<f64, Fault> {
    let value: f64 = row.number(column)?;
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(row.fault(format!("`{column}` is {value}, not above zero")))
    }
}

/// Every numeric limit of the choice of levels.
#[must_use]
pub fn limits() -> &'static Limits {
    &SELECTION.1
}

/// The rows of the limits, with clause and source.
#[must_use]
pub fn limit_rows() -> &'static [LimitRow] {
    &SELECTION.0
}

/// The row of a limit by name.
#[must_use]
pub fn limit(name: &str) -> Option<&'static LimitRow> {
    limit_rows().iter().find(|row| row.name == name)
}

/// What heights, temperatures and winds can be at a standard surface (NOAA
/// MADIS, notes on the quality control of radiosondes).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GrossLimits {
    /// Pressure, hPa; 0 for everything above 10 hPa.
    pub pressure_hpa: u16,
    /// Least height, gpm; `None` when there is no limit.
    pub height_low_gpm: Option<f64>,
    /// Greatest height, gpm.
    pub height_high_gpm: f64,
    /// Least temperature, °C.
    pub temperature_low_c: f64,
    /// Greatest temperature, °C.
    pub temperature_high_c: f64,
    /// Greatest wind speed, kt.
    pub wind_max_kt: f64,
}

pub(super) fn read_gross(file: File) -> Result<Vec<GrossLimits>, Fault> {
    let columns = &[
        "pressure_hpa",
        "height_low_gpm",
        "height_high_gpm",
        "temperature_low_c",
        "temperature_high_c",
        "wind_max_kt",
    ];
    read(file, columns, Order::Falling, |row| {
        let limits = GrossLimits {
            pressure_hpa: row.number("pressure_hpa")?,
            height_low_gpm: row.optional_number("height_low_gpm")?,
            height_high_gpm: row.number("height_high_gpm")?,
            temperature_low_c: row.number("temperature_low_c")?,
            temperature_high_c: row.number("temperature_high_c")?,
            wind_max_kt: row.number("wind_max_kt")?,
        };
        let heights = limits
            .height_low_gpm
            .is_none_or(|low| low < limits.height_high_gpm);
        if heights && limits.temperature_low_c < limits.temperature_high_c {
            Ok(limits)
        } else {
            Err(row.fault("a low limit is not below its high limit"))
        }
    })
}

/// The limits, from 1000 hPa up.
#[must_use]
pub fn gross_limits() -> &'static [GrossLimits] {
    &GROSS
}
