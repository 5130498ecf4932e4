//! What the computed groups of section 9 say.

use super::wind_words;
use crate::forms::text::temp::regional::{self, Says};
use crate::model::quantity::SpeedUnit;
use crate::model::{Part, Report};
use crate::tables;
use crate::tables::PracticeUnit;

/// The groups of a part that follow from the report's regional values, each with
/// what it says.
pub(super) fn explained(report: &Report, part: Part) -> Vec<(String, String)> {
    let groups = regional::explained(report, part, &mut Vec::new()).unwrap_or_default();
    let unit = report.context.coding.wind_unit;
    let words = |(group, says)| (group, words(says, unit));
    groups.into_iter().map(words).collect()
}

fn words(says: Says<'_>, unit: SpeedUnit) -> String {
    match says {
        Says::StabilityFollows => "a stability index follows".to_owned(),
        Says::Stability(index) => format!("stability index {index} K"),
        Says::Doubtful(row) => tables::additional(&row.group)
            .map_or("", |row| row.meaning)
            .to_owned(),
        Says::Layer([from, to]) => {
            format!("in tens of hPa, the layer from {from:02} to {to:02}")
        }
        Says::ExtrapolatedFollows => {
            "the geopotential of a standard surface just above the top follows".to_owned()
        }
        Says::Extrapolated {
            pressure_hpa,
            height_gpm,
        } => format!("{pressure_hpa} hPa at {height_gpm} gpm, extrapolated"),
        Says::MeanWindsFollow => "mean winds follow".to_owned(),
        Says::MeanWind(layer, wind) => {
            let from = layer
                .from
                .map_or("the ground".to_owned(), |m| m.to_string());
            let to = layer.to.unwrap_or(f64::NAN);
            format!(
                "mean wind from {from} to {to} m: {}",
                wind_words(wind, unit)
            )
        }
        Says::WindAt(row, pressure) => {
            let at = pressure.value_hpa();
            match (row.unit, row.from) {
                (Some(PracticeUnit::Ground), Some(m)) => {
                    format!("wind {m} m above the ground, at {at} hPa follows")
                }
                _ => format!("wind at {at} hPa follows"),
            }
        }
        Says::LowWind(wind) => wind_words(Some(wind), unit),
    }
}
