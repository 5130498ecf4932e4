//! What the form of one side cannot give: no difference of the flights.

use super::difference::{Difference, Quantity, Side};
use super::groups::{Entry, Group};
use super::manner;
use crate::forms::text::can_be_coded;
use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::{Axis, Form, Part, PilotLevels, Report, Resolution};
use crate::tables;
use crate::tables::figure::{
    HeightFigure, PressureFigure, TemperatureFigure, WindFigure, height_tens,
};

/// How a report gives its levels.
pub(super) struct Given<'a> {
    pub report: &'a Report,
    pub side: Side,
}

impl Given<'_> {
    /// The form in words.
    fn name(&self) -> &'static str {
        let report = self.report;
        let by_height = match report.resolution {
            Resolution::Text => manner(report) != PilotLevels::Pressure,
            Resolution::None | Resolution::Bufr => report.axis == Axis::Height,
        };
        match (report.resolution, report.form, by_height) {
            (Resolution::Text, Form::Pilot, true) => "PILOT text by height",
            (Resolution::Text, Form::Pilot, false) => "PILOT text by pressure",
            (Resolution::Text, ..) => "TEMP text",
            (Resolution::Bufr, _, true) => "BUFR by height",
            (Resolution::Bufr, _, false) => "BUFR by pressure",
            (Resolution::None, _, true) => "report by height",
            (Resolution::None, _, false) => "report by pressure",
        }
    }

    /// Whether a group of this form can place a level of the other side.
    pub fn can_place(&self, entry: &Entry<'_>, group: Group) -> bool {
        let report = self.report;
        let by_pressure = || {
            let figure = entry.pressure_hpa.map(PressureFigure::from_value);
            figure.is_some_and(|figure| figure.is_ok())
        };
        match (report.resolution, report.form) {
            (Resolution::None, _) => true,
            (Resolution::Bufr, _) => match report.axis {
                Axis::Pressure => entry.pressure_hpa.is_some(),
                Axis::Height => entry.height_gpm.is_some(),
            },
            (Resolution::Text, Form::Pilot) if group == Group::Maximum => {
                // A text gives its maximum winds in one coordinate.
                let height = report.maxima.iter().any(|m| m.pressure_hpa.is_none());
                let pressure = report.maxima.iter().any(|m| m.pressure_hpa.is_some());
                let by_height = || entry.height_gpm.is_some_and(|z| height_tens(z).is_ok());
                (!height || pressure) && by_pressure() || (height || !pressure) && by_height()
            }
            (Resolution::Text, Form::Pilot) if group == Group::Wind => {
                can_be_coded(entry.level, manner(report))
            }
            (Resolution::Text, _) => by_pressure(),
        }
    }

    /// Whether the form has no figure for the value that it lacks.
    pub fn lacks_figure(&self, difference: &Difference) -> bool {
        let Difference::Value {
            pressure_hpa,
            quantity,
            left,
            right,
            ..
        } = difference
        else {
            return false;
        };
        let (own, other) = match self.side {
            Side::Left => (left, right),
            Side::Right => (right, left),
        };
        let (None, Some(value)) = (own, other) else {
            return false;
        };
        let text = self.report.resolution == Resolution::Text;
        match quantity {
            Quantity::Temperature if text => TemperatureFigure::from_value(*value).is_err(),
            Quantity::WindSpeed if text => {
                let unit = self.report.context.coding.wind_unit;
                WindFigure::from_value(0.0, *value, unit).is_err()
            }
            Quantity::Height if text => {
                let here = |p: f64| (1..1100).find(|whole| f64::from(*whole) == p);
                let whole = pressure_hpa.and_then(here).map(tables::standard_level);
                let step = whole.map_or(1, |l| l.height_step_gpm);
                HeightFigure::from_value(*value, step).is_err()
            }
            // 0 10 009 of a level below the ground.
            Quantity::Height if self.report.resolution == Resolution::Bufr => *value < -1000.0,
            _ => false,
        }
    }

    /// The finding about a value that this form cannot give.
    pub fn value(&self, difference: &Difference) -> Finding {
        let place = match difference {
            Difference::Value {
                pressure_hpa: Some(p),
                ..
            } => Place::pressure(*p),
            _ => Place::default(),
        };
        finding!(
            NotInForm,
            place,
            what = difference,
            form = self.name(),
            side = self.side
        )
    }

    /// The finding about levels of the other side that this form cannot give.
    pub fn levels(&self, mut entries: Vec<&Entry<'_>>, group: Group) -> Option<Finding> {
        // From the ground up.
        let up = |e: &Entry<'_>| e.pressure_hpa.map(|p| -p).or(e.height_gpm).unwrap_or(0.0);
        entries.sort_by(|a, b| up(a).total_cmp(&up(b)));
        let first = entries.first()?;
        let Difference::Missing { roles, .. } = first.missing(self.side, group) else {
            return None;
        };
        let at = |entry: &Entry<'_>| match (entry.pressure_hpa, entry.height_gpm) {
            (Some(p), _) => format!("{p} hPa"),
            (None, Some(z)) => format!("{z} gpm"),
            (None, None) => "an unknown height".to_owned(),
        };
        let places = match entries.as_slice() {
            [first, .., last] => format!("from {} to {}", at(first), at(last)),
            _ => format!("at {}", at(first)),
        };
        let levels = counted(entries.len(), "level");
        let mut place = Place::default();
        let one = entries.iter().all(|entry| entry.part == first.part);
        place.part = first.part.filter(|_| one).map(Part::letter);
        let other = match self.side {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        };
        let what = format!("{levels} ({roles}) {places} on the {other}");
        Some(finding!(
            NotInForm,
            place,
            what = what,
            form = self.name(),
            side = self.side
        ))
    }
}
