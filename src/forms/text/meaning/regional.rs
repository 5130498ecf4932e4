//! What the computed groups of section 9 say.

use super::wind_words;
use crate::forms::text::temp::regional::{self, MeanLayer, Says};
use crate::model::quantity::SpeedUnit;
use crate::model::{Part, Report};
use crate::tables;

/// The groups of a part that follow from the report's regional values, each with
/// what it says.
pub(super) fn explained(report: &Report, part: Part) -> Vec<(String, String)> {
    let groups = regional::explained(report, part, &mut Vec::new()).unwrap_or_default();
    let unit = report.context.coding.wind_unit;
    let words = |(group, says)| (group, words(says, unit));
    groups.into_iter().map(words).collect()
}

fn words(says: Says, unit: SpeedUnit) -> String {
    match says {
        Says::StabilityFollows => "a stability index follows".to_owned(),
        Says::Stability(index) => format!("stability index {index} K"),
        Says::Doubtful(figure) => tables::additional_data()
            .iter()
            .find(|row| row.figure == figure)
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
        Says::MeanWindsFollow => "two mean winds follow".to_owned(),
        Says::MeanWind(layer, wind) => {
            let layer = match layer {
                MeanLayer::Lower => "from the ground to 1500 m",
                MeanLayer::Upper => "from 1500 to 3000 m",
            };
            format!("mean wind {layer}: {}", wind_words(wind, unit))
        }
        Says::WindAt900m(pressure) => {
            let at = pressure.value_hpa();
            format!("wind 900 m above the ground, at {at} hPa follows")
        }
        Says::WindAt(pressure) => format!("wind at {} hPa follows", pressure.value_hpa()),
        Says::LowWind(wind) => wind_words(Some(wind), unit),
    }
}
