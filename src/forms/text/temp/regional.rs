//! Section 9 of TEMP: the groups that the practice of a Region adds.

use crate::forms::text::CodeError;
use crate::forms::text::groups::{digits, placed, wind_group};
use crate::model::finding::{Finding, Place, finding};
use crate::model::quantity::SpeedUnit;
use crate::model::{Doubted, Order, Part, Report, Wind};
use crate::tables;
use crate::tables::figure::{HeightFigure, PressureFigure, WindFigure, is_upper, stability};
use crate::tables::{Practice, practice};

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

/// What a group of section 9 says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::forms::text) enum Says {
    /// A stability index follows.
    StabilityFollows,
    /// The index as coded, K.
    Stability(i16),
    /// Which element is doubtful: a figure of code table 0421.
    Doubtful(u8),
    /// The layer in which it is doubtful, tens of hPa.
    Layer([u8; 2]),
    /// The geopotential of a standard surface above the top follows.
    ExtrapolatedFollows,
    /// That geopotential.
    Extrapolated { pressure_hpa: f64, height_gpm: f64 },
    /// Two mean winds follow.
    MeanWindsFollow,
    /// The mean wind of a layer.
    MeanWind(MeanLayer, Option<WindFigure>),
    /// The wind 900 m above the ground follows.
    WindAt900m(PressureFigure),
    /// The wind of another low level follows.
    WindAt(PressureFigure),
    /// That wind.
    LowWind(WindFigure),
}

/// The layers of the two mean winds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::forms::text) enum MeanLayer {
    /// From the ground to 1500 m.
    Lower,
    /// From 1500 to 3000 m.
    Upper,
}

/// A group with what it says.
type Explained = (String, Says);

/// The groups of a part that follow from the report's regional values.
pub(super) fn groups(
    report: &Report,
    part: Part,
    findings: &mut Vec<Finding>,
) -> Result<Vec<String>, CodeError> {
    let groups = explained(report, part, findings)?;
    Ok(groups.into_iter().map(|(group, _)| group).collect())
}

/// The groups of a part with what each says.
pub(in crate::forms::text) fn explained(
    report: &Report,
    part: Part,
    findings: &mut Vec<Finding>,
) -> Result<Vec<Explained>, CodeError> {
    let regional = &report.regional;
    let coding = &report.context.coding;
    let unit = coding.wind_unit;
    let here = |what: Practice, upper: bool| {
        practice(coding.region, what).filter(|row| {
            row.parts.iter().any(|&lower| {
                let stands = match (lower, upper) {
                    (Part::A, true) => Part::C,
                    (Part::B, true) => Part::D,
                    (lower, _) => lower,
                };
                stands == part
            })
        })
    };
    let mut out = Vec::new();
    if let (Some(row), Some(index)) = (here(Practice::Stability, false), regional.stability_k) {
        match stability(index) {
            Some(code) => {
                let coded = i16::from(code);
                let coded = if coded > 50 { 50 - coded } else { coded };
                out.extend([
                    (row.value.to_owned(), Says::StabilityFollows),
                    (format!("000{code:02}"), Says::Stability(coded)),
                ]);
            }
            None => findings.push(finding!(
                StabilityDoesNotFit,
                Place::default(),
                index_k = index
            )),
        }
    }
    for layer in &regional.doubtful {
        if here(Practice::Doubtful, false).is_none() || is_upper(layer.to_hpa) {
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
            out.push((format!("101{figure}"), Says::Doubtful(*figure)));
            let layer = [tens(layer.from_hpa, false), tens(layer.to_hpa, true)];
            let [from, to] = layer;
            out.push((format!("0{from:02}{to:02}"), Says::Layer(layer)));
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
        let height = height.map_err(bad)?;
        out.push((row.value.to_owned(), Says::ExtrapolatedFollows));
        let height_gpm = height.nearest_gpm(level.height_step_gpm, one.height_gpm);
        out.push((
            format!("{:02}{}", level.pp, digits(Some(height.code()), 3)),
            Says::Extrapolated {
                pressure_hpa: p,
                height_gpm,
            },
        ));
    }
    if let (Some(row), Some(winds)) = (here(Practice::MeanWinds, false), regional.mean_winds) {
        out.push((row.value.to_owned(), Says::MeanWindsFollow));
        let layers = [MeanLayer::Lower, MeanLayer::Upper];
        for (mean, layer) in winds.into_iter().zip(layers) {
            let figure = mean.map(|m| wind(m, unit, 0.0)).transpose()?;
            out.push((wind_group(figure), Says::MeanWind(layer, figure)));
        }
    }
    if here(Practice::LowWinds, false).is_some() {
        for low in &regional.low_winds {
            let p = low.pressure_hpa;
            let indicator = format!("{0}{0}", low.indicator);
            let pressure = figure(p)?;
            let says = match low.indicator {
                1 => Says::WindAt900m(pressure),
                _ => Says::WindAt(pressure),
            };
            out.push((placed(&indicator, pressure), says));
            let figure = wind(low.wind, unit, p)?;
            out.push((wind_group(Some(figure)), Says::LowWind(figure)));
        }
    }
    Ok(out)
}

/// What becomes of each layer that the operator gave as doubtful: one finding for
/// each, in every form and Region.
pub(in crate::forms::text) fn doubtful_layers(report: &Report) -> Vec<Finding> {
    let groups = practice(report.context.coding.region, Practice::Doubtful)
        .filter(|row| row.form == report.form);
    let one = |order: &Order| {
        let Order::Doubtful {
            doubtful,
            from_hpa,
            to_hpa,
            ..
        } = order
        else {
            return None;
        };
        let element = match doubtful {
            Doubted::Geopotential => "geopotential",
            Doubted::Temperature => "temperature",
            Doubted::Both => "geopotential and temperature",
        };
        let place = Place::pressure(*from_hpa);
        Some(if groups.is_some() && !is_upper(*to_hpa) {
            finding!(
                DoubtfulLayer,
                place,
                element = element,
                from_hpa = from_hpa,
                to_hpa = to_hpa
            )
        } else {
            finding!(
                DoubtfulNotCoded,
                place,
                element = element,
                from_hpa = from_hpa,
                to_hpa = to_hpa
            )
        })
    };
    report.context.orders.iter().filter_map(one).collect()
}

/// PP: tens of hPa; the layer is made wider, never narrower.
fn tens(pressure_hpa: f64, down: bool) -> u8 {
    let tens = pressure_hpa / 10.0;
    let tens = if down { tens.floor() } else { tens.ceil() };
    // 1000 hPa and more lose the thousands, as everywhere.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number from 0 to 99"
    )]
    let figures = tens.max(0.0).rem_euclid(100.0) as u8;
    figures
}
