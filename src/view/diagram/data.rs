//! What is drawn, brought into one order: the rows as they are reported, what the
//! message says at each of them, and where the levels lie.

use super::wind_symbol::Hemisphere;
use crate::forms::text;
use crate::levels::every_row;
use crate::model::quantity::SpeedUnit;
use crate::model::{At, Axis, Form, Level, Profile, Report, Roles, Row, Wind};
use crate::physics::hydrostatic::{standard_height_gpm, standard_pressure_hpa};
use crate::verify::fidelity::{Rebuilt, rebuilt};

/// Everything that is drawn.
pub(super) struct Data<'a> {
    pub report: &'a Report,
    pub axis: Axis,
    pub rows: Vec<Row>,
    /// What the coded levels say at each row.
    pub rebuilt: Vec<Rebuilt>,
    /// Whether temperature is reported, and whether there are humidities and winds.
    pub thermal: bool,
    pub humid: bool,
    pub windy: bool,
    pub unit: SpeedUnit,
    pub hemisphere: Hemisphere,
}

impl<'a> Data<'a> {
    pub(super) fn new(profile: &Profile, report: &'a Report) -> Self {
        let coding = &report.context.coding;
        // A descent has no text: its levels stand for themselves.
        let coded = text::message(report).ok().map(|noted| noted.value.report());
        let coded = coded.as_ref().unwrap_or(report);
        let rows: Vec<Row> = every_row(profile, coding).collect();
        let thermal = report.form != Form::Pilot && rows.iter().any(|r| r.temperature_c.is_some());
        let latitude = report.context.station.latitude_deg;
        let latitude = latitude.or_else(|| Some(rows.first()?.place?.latitude_deg));
        Self {
            axis: profile.axis,
            rebuilt: rebuilt(profile, coding, coded),
            thermal,
            humid: thermal && rows.iter().any(|r| r.humidity_pct.is_some()),
            windy: rows.iter().any(|r| r.wind.is_some()),
            unit: coding.wind_unit,
            hemisphere: Hemisphere::of(latitude),
            rows,
            report,
        }
    }

    /// Where a row lies along the vertical axis: hPa, or gpm.
    pub(super) fn up(&self, row: &Row) -> Option<f64> {
        match self.axis {
            Axis::Pressure => row.pressure_hpa.filter(|&p| p > 0.0),
            Axis::Height => row.height_gpm,
        }
    }

    /// The same of a level; one without such a value takes that of the standard
    /// atmosphere, a surface that of the lowest row.
    pub(super) fn up_level(&self, level: &Level) -> Option<f64> {
        let of_row = || match level.at {
            At::Row(k) => self.rows.get(k).and_then(|r| self.up(r)),
            _ => None,
        };
        let standard = || match self.axis {
            Axis::Pressure => level.row.height_gpm.map(standard_pressure_hpa),
            Axis::Height => level.row.pressure_hpa.map(standard_height_gpm),
        };
        let lowest = || {
            let surface = level.roles.any(Roles::SURFACE);
            self.rows
                .first()
                .filter(|_| surface)
                .and_then(|r| self.up(r))
        };
        self.up(&level.row)
            .or_else(of_row)
            .or_else(lowest)
            .or_else(standard)
    }

    /// A speed in the unit of the message.
    pub(super) fn speed(&self, wind: Wind) -> f64 {
        self.unit.from_ms(wind.speed_ms)
    }

    /// The greatest and the least of something over all rows.
    pub(super) fn range(&self, of: impl Fn(&Row) -> Option<f64>) -> Option<(f64, f64)> {
        let values = self.rows.iter().filter_map(of).filter(|v| v.is_finite());
        values.fold(None, |range, v| match range {
            None => Some((v, v)),
            Some((low, high)) => Some((v.min(low), v.max(high))),
        })
    }
}
