//! Section 9 of TEMP: the groups that the practice of a Region adds.

use crate::code::CodeError;
use crate::code::groups::{digits, placed, wind_group};
use crate::figure::{HeightFigure, PressureFigure, WindFigure, is_upper, stability};
use crate::finding::{Finding, Place};
use crate::quantity::SpeedUnit;
use crate::sounding::{Doubted, Part, Report, Wind};
use crate::tables::{self, Practice, practice};

fn figure(pressure_hpa: f64) -> Result<PressureFigure, CodeError> {
    PressureFigure::from_value(pressure_hpa).map_err(|source| CodeError::Figure {
        pressure_hpa,
        source,
    })
}

fn wind(wind: Wind, unit: SpeedUnit, pressure_hpa: f64) -> Result<WindFigure, CodeError> {
    let bad = |source| CodeError::Figure {
        pressure_hpa,
        source,
    };
    WindFigure::from_value(wind.dir_deg, wind.speed_ms, unit).map_err(bad)
}

/// The groups of a part that follow from the report's regional values.
pub(super) fn groups(
    report: &Report,
    part: Part,
    findings: &mut Vec<Finding>,
) -> Result<Vec<String>, CodeError> {
    let regional = &report.regional;
    let coding = &report.context.coding;
    let unit = coding.wind_unit;
    let here = |what: Practice, upper: bool| {
        practice(coding.region, what).filter(|row| {
            let stands = match (row.part, upper) {
                (Some(Part::A), true) => Some(Part::C),
                (Some(Part::B), true) => Some(Part::D),
                (other, _) => other,
            };
            stands == Some(part)
        })
    };
    let mut out = Vec::new();
    if let (Some(row), Some(index)) = (here(Practice::Stability, false), regional.stability_k) {
        match stability(index) {
            Some(code) => out.extend([row.value.to_owned(), format!("000{code:02}")]),
            None => findings.push(Finding::warning(
                "stability-does-not-fit",
                Place::default(),
                format!("stability index {index:.1} K does not fit two figures: left out"),
            )),
        }
    }
    for layer in &regional.doubtful {
        let upper = is_upper(layer.to_hpa);
        if here(Practice::Doubtful, false).is_none() {
            continue;
        }
        if upper {
            findings.push(Finding::info(
                "doubtful-above-100",
                Place::pressure(layer.from_hpa),
                "a doubtful layer above 100 hPa has no group that is known to us: not coded",
            ));
            continue;
        }
        // Geopotential and temperature; 65 for both is from memory and unsure,
        // so both are given one by one.
        let figures: &[u8] = match layer.doubtful {
            Doubted::Geopotential => &[66],
            Doubted::Temperature => &[67],
            Doubted::Both => &[66, 67],
        };
        for figure in figures {
            out.push(format!("101{figure}"));
            out.push(format!(
                "0{}{}",
                tens(layer.from_hpa, false),
                tens(layer.to_hpa, true)
            ));
        }
    }
    for one in &regional.extrapolated {
        let p = one.pressure_hpa;
        let Some(row) = here(Practice::Extrapolated, is_upper(p)) else {
            continue;
        };
        let level = tables::standard_levels()
            .iter()
            .find(|l| f64::from(l.pressure_hpa) == p);
        let Some(level) = level else { continue };
        let height = HeightFigure::from_value(one.height_gpm, level.height_step_gpm);
        let bad = |source| CodeError::Figure {
            pressure_hpa: p,
            source,
        };
        let height = height.map_err(bad)?.code();
        out.push(row.value.to_owned());
        out.push(format!("{:02}{}", level.pp, digits(Some(height), 3)));
    }
    if let (Some(row), Some(winds)) = (here(Practice::MeanWinds, false), regional.mean_winds) {
        out.push(row.value.to_owned());
        for mean in winds {
            let figure = mean.map(|m| wind(m, unit, 0.0)).transpose()?;
            out.push(wind_group(figure));
        }
    }
    if here(Practice::LowWinds, false).is_some() {
        for low in &regional.low_winds {
            let p = low.pressure_hpa;
            let indicator = format!("{0}{0}", low.indicator);
            out.push(placed(&indicator, figure(p)?));
            out.push(wind_group(Some(wind(low.wind, unit, p)?)));
        }
    }
    Ok(out)
}

/// PP: tens of hPa; the layer is made wider, never narrower.
fn tens(pressure_hpa: f64, down: bool) -> String {
    let tens = pressure_hpa / 10.0;
    let tens = if down { tens.floor() } else { tens.ceil() };
    let text = format!("{tens:02.0}");
    // 1000 hPa and more lose the thousands, as everywhere.
    text.get(text.len().saturating_sub(2)..)
        .unwrap_or("00")
        .to_owned()
}
