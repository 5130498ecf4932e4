//! Section 9 of TEMP: the groups that the practice of a Region adds.

use itertools::Itertools;

use crate::forms::text::groups::{digits, placed, wind_group};
use crate::forms::text::{CodeError, surfaces_for};
use crate::model::finding::{Finding, Place, finding};
use crate::model::quantity::SpeedUnit;
use crate::model::{Doubted, Form, Order, Part, Report, Wind};
use crate::tables::figure::{HeightFigure, PressureFigure, WindFigure, is_upper, stability};
use crate::tables::{Practice, PracticeRow, practice, practice_rows};

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
pub(in crate::forms::text) enum Says<'a> {
    /// A stability index follows.
    StabilityFollows,
    /// The index as coded, K.
    Stability(i16),
    /// Which element is doubtful: a row whose group is one of code table 0421.
    Doubtful(&'a PracticeRow),
    /// The layer in which it is doubtful, tens of hPa.
    Layer([u8; 2]),
    /// The geopotential of a standard surface above the top follows.
    ExtrapolatedFollows,
    /// That geopotential.
    Extrapolated { pressure_hpa: f64, height_gpm: f64 },
    /// Mean winds follow.
    MeanWindsFollow,
    /// The mean wind of a layer.
    MeanWind(&'a PracticeRow, Option<WindFigure>),
    /// The wind of a low level follows.
    WindAt(&'a PracticeRow, PressureFigure),
    /// That wind.
    LowWind(WindFigure),
}

/// A group with what it says.
type Explained<'a> = (String, Says<'a>);

/// The groups of a part with what each says.
pub(in crate::forms::text) fn explained<'a>(
    report: &'a Report,
    part: Part,
    findings: &mut Vec<Finding>,
) -> Result<Vec<Explained<'a>>, CodeError> {
    if report.form != Form::Temp {
        return Ok(Vec::new());
    }
    let regional = &report.regional;
    let coding = &report.context.coding;
    let unit = coding.wind_unit;
    let rows = |what: Practice, upper: bool| {
        let stands = move |row: &&PracticeRow| {
            let twin = |lower: &Part| match (lower, upper) {
                (Part::A, true) => Part::C,
                (Part::B, true) => Part::D,
                (lower, _) => *lower,
            };
            row.parts.iter().map(twin).contains(&part)
        };
        practice_rows(coding, what).filter(stands)
    };
    let here = |what: Practice, upper: bool| rows(what, upper).next();
    let mut out = Vec::new();
    if let (Some(row), Some(index)) = (here(Practice::Stability, false), regional.stability_k) {
        match stability(index) {
            Some(code) => {
                let coded = i16::from(code);
                let coded = if coded > 50 { 50 - coded } else { coded };
                out.extend([
                    (row.group.clone(), Says::StabilityFollows),
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
        if is_upper(layer.to_hpa) {
            continue;
        }
        for row in elements(layer.doubtful)
            .iter()
            .filter_map(|what| here(*what, false))
        {
            out.push((row.group.to_owned(), Says::Doubtful(row)));
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
        let Some(level) = surfaces_for(
            report,
            Form::Temp,
            if is_upper(p) { Part::C } else { Part::A },
        )
        .into_iter()
        .find(|l| f64::from(l.pressure_hpa) == p) else {
            continue;
        };
        let height = HeightFigure::from_value(one.height_gpm, level.height_step_gpm);
        let bad = |source| CodeError::Figure {
            pressure_hpa: p,
            source,
        };
        let height = height.map_err(bad)?;
        out.push((row.group.to_owned(), Says::ExtrapolatedFollows));
        let height_gpm = height.nearest_gpm(level.height_step_gpm, one.height_gpm);
        out.push((
            format!("{:02}{}", level.pp, digits(Some(height.code()), 3)),
            Says::Extrapolated {
                pressure_hpa: p,
                height_gpm,
            },
        ));
    }
    if let (Some(row), Some(winds)) = (here(Practice::MeanWind, false), &regional.mean_winds) {
        out.push((row.group.to_owned(), Says::MeanWindsFollow));
        for (mean, layer) in winds.iter().zip(rows(Practice::MeanWind, false)) {
            let figure = mean.map(|m| wind(m, unit, 0.0)).transpose()?;
            out.push((wind_group(figure), Says::MeanWind(layer, figure)));
        }
    }
    for low in &regional.low_winds {
        let number = usize::from(low.indicator).saturating_sub(1);
        let Some(row) = rows(Practice::LowWind, false).nth(number) else {
            continue;
        };
        let p = low.pressure_hpa;
        let pressure = figure(p)?;
        out.push((placed(&row.group, pressure), Says::WindAt(row, pressure)));
        let figure = wind(low.wind, unit, p)?;
        out.push((wind_group(Some(figure)), Says::LowWind(figure)));
    }
    Ok(out)
}

/// The practices that a doubtful layer needs. Figure 65 for both elements is from memory
/// and unsure, so both are given one by one.
fn elements(doubtful: Doubted) -> &'static [Practice] {
    use Practice::{DoubtfulGeopotential, DoubtfulTemperature};
    match doubtful {
        Doubted::Geopotential => &[DoubtfulGeopotential],
        Doubted::Temperature => &[DoubtfulTemperature],
        Doubted::Both => &[DoubtfulGeopotential, DoubtfulTemperature],
    }
}

/// What becomes of each layer that the operator gave as doubtful: one finding for
/// each, in every form and Region.
pub(in crate::forms::text) fn doubtful_layers(report: &Report) -> Vec<Finding> {
    let has_group = |what: &Practice| {
        let row = practice(&report.context.coding, *what);
        row.is_some_and(|row| row.form == report.form)
    };
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
        let coded = elements(*doubtful).iter().all(has_group);
        Some(if coded && !is_upper(*to_hpa) {
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
