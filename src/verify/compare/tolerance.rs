//! How far two values may lie apart.

use serde::{Deserialize, Serialize};

use crate::model::{Form, PilotLevels, Report, Resolution};
use crate::tables::bufr_template;
use crate::tables::figure::is_upper;

/// What is added to every bound for the last bits of a value.
const HAIR: f64 = 1e-6;

/// The greatest departures that are no difference.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tolerance {
    /// Pressure up to and including 100 hPa, hPa.
    pub pressure_hpa: f64,
    /// Pressure above 100 hPa, hPa.
    pub pressure_aloft_hpa: f64,
    /// Height of levels below 500 hPa, gpm.
    pub height_gpm: f64,
    /// Height of levels from 500 hPa up, gpm.
    pub height_aloft_gpm: f64,
    /// Height of PILOT levels given by height, gpm.
    pub height_pilot_gpm: f64,
    /// Height of maximum winds given by height, gpm.
    pub height_maximum_gpm: f64,
    /// Temperature, K.
    pub temperature_k: f64,
    /// Dew-point depression up to 5 K, K.
    pub depression_k: f64,
    /// Dew-point depression above 5 K, K.
    pub depression_dry_k: f64,
    /// Relative humidity, %; no text has it.
    pub humidity_pct: f64,
    /// Wind direction, degrees.
    pub wind_dir_deg: f64,
    /// Wind speed and shear, m/s.
    pub wind_speed_ms: f64,
}

impl Tolerance {
    /// What rounding alone can do between two reports: next to nothing (a
    /// millionth) between unrounded ones; half a step of the code where a text is
    /// on one side; between two texts, less than a step, so that figures are
    /// equal. A side that is BUFR adds half a step of its own.
    ///
    /// Temperature in a text may be 0.15 K off: rounded to tenths, of which only
    /// every second has a figure (table 3931).
    #[must_use]
    pub fn coarser(left: &Report, right: &Report) -> Self {
        let mut tolerance = Self::of_text(left, right);
        for report in [left, right] {
            tolerance.widen(report);
        }
        tolerance
    }

    /// One step of the code between two texts: what a level that moved to the next
    /// figure may differ by.
    ///
    /// Temperatures have a figure for every second tenth (table 3931).
    #[must_use]
    pub fn one_step(left: &Report, right: &Report) -> Self {
        let half = Self::of_text(left, right);
        Self {
            pressure_hpa: 2.0 * half.pressure_hpa,
            pressure_aloft_hpa: 2.0 * half.pressure_aloft_hpa,
            height_gpm: 2.0 * half.height_gpm,
            height_aloft_gpm: 2.0 * half.height_aloft_gpm,
            height_pilot_gpm: 2.0 * half.height_pilot_gpm,
            height_maximum_gpm: 2.0 * half.height_maximum_gpm,
            temperature_k: 0.2 + HAIR,
            depression_k: 2.0 * half.depression_k,
            depression_dry_k: 2.0 * half.depression_dry_k,
            humidity_pct: half.humidity_pct,
            wind_dir_deg: 2.0 * half.wind_dir_deg,
            wind_speed_ms: 2.0 * half.wind_speed_ms,
        }
    }

    /// Adds half a step of BUFR for a side that is.
    fn widen(&mut self, report: &Report) {
        if report.resolution != Resolution::Bufr {
            return;
        }
        let named = report.context.bufr.template.as_deref();
        let template = named.and_then(bufr_template);
        let pressure = template.and_then(|t| t.pressure_pa).unwrap_or(10.0) / 200.0;
        let height = template.and_then(|t| t.height_gpm).unwrap_or(1.0) / 2.0;
        self.pressure_hpa += pressure;
        self.pressure_aloft_hpa += pressure;
        for own in [
            &mut self.height_gpm,
            &mut self.height_aloft_gpm,
            &mut self.height_pilot_gpm,
            &mut self.height_maximum_gpm,
        ] {
            *own += height;
        }
        self.temperature_k += 0.005;
        // Both temperature and dew point are rounded.
        self.depression_k += 0.01;
        self.depression_dry_k += 0.01;
        // Relative humidity of a dew point 0.005 K off, at most (near 0 °C, 100 %).
        self.humidity_pct += 0.1;
        self.wind_dir_deg += 0.5;
        self.wind_speed_ms += 0.05;
    }

    fn of_text(left: &Report, right: &Report) -> Self {
        let text = |report: &Report| report.resolution == Resolution::Text;
        if !text(left) && !text(right) {
            return Self::all(HAIR);
        }
        let texts = text(left) && text(right);
        // Half a unit of speed, m/s, and half a step of PILOT heights, gpm.
        let unit = |report: &Report| report.context.coding.wind_unit.to_ms(0.5);
        let step = |report: &Report| match report.context.coding.pilot_levels {
            Some(PilotLevels::Height500) if report.form == Form::Pilot => 250.0,
            _ => 150.0,
        };
        let of = |each: &dyn Fn(&Report) -> f64| match (text(left), text(right)) {
            (true, false) => each(left),
            (false, true) => each(right),
            _ => each(left).max(each(right)),
        };
        let units = (
            left.context.coding.wind_unit,
            right.context.coding.wind_unit,
        );
        let speed = if texts && units.0 != units.1 {
            // Rounded twice, each in its own unit.
            unit(left) + unit(right)
        } else {
            of(&unit)
        };
        Self {
            pressure_hpa: 0.5 + HAIR,
            pressure_aloft_hpa: 0.05 + HAIR,
            height_gpm: 0.5 + HAIR,
            height_aloft_gpm: 5.0 + HAIR,
            height_pilot_gpm: of(&step) + HAIR,
            height_maximum_gpm: 5.0 + HAIR,
            // The figures 00 and 01, 0.0 and -0.1 °C, are only a tenth apart.
            temperature_k: if texts { 0.05 } else { 0.15 } + HAIR,
            depression_k: 0.05 + HAIR,
            depression_dry_k: 0.5 + HAIR,
            humidity_pct: HAIR,
            wind_dir_deg: 2.5 + HAIR,
            wind_speed_ms: speed + HAIR,
        }
    }

    /// The same for everything.
    fn all(value: f64) -> Self {
        Self {
            pressure_hpa: value,
            pressure_aloft_hpa: value,
            height_gpm: value,
            height_aloft_gpm: value,
            height_pilot_gpm: value,
            height_maximum_gpm: value,
            temperature_k: value,
            depression_k: value,
            depression_dry_k: value,
            humidity_pct: value,
            wind_dir_deg: value,
            wind_speed_ms: value,
        }
    }

    /// For a pressure, hPa.
    #[must_use]
    pub fn pressure_at(&self, pressure_hpa: f64) -> f64 {
        if is_upper(pressure_hpa) {
            self.pressure_aloft_hpa
        } else {
            self.pressure_hpa
        }
    }

    /// For the height of a level at a pressure, hPa.
    #[must_use]
    pub fn height_at(&self, pressure_hpa: f64) -> f64 {
        if pressure_hpa > 500.0 {
            self.height_gpm
        } else {
            self.height_aloft_gpm
        }
    }

    /// For two depressions, K: the figure 5.0 stands for all that is nearer to it
    /// than to 6 (table 0777).
    #[must_use]
    pub fn depression_between(&self, left_k: f64, right_k: f64) -> f64 {
        if left_k.max(right_k) > 5.0 + HAIR && left_k.min(right_k) > 5.0 - HAIR {
            self.depression_dry_k
        } else {
            self.depression_k
        }
    }
}
