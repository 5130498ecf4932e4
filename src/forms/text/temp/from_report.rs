//! Report → TEMP parts: the one place where their values become figures.

use std::collections::BTreeMap;

use super::regional;
use super::{Maximum, Placed, SignificantPart, StandardPart, Surface, Thermal};
use crate::forms::text::groups::Groups;
use crate::forms::text::sections::{CloudFigures, Sonde, SondeGroups};
use crate::forms::text::templates::with_made;
use crate::forms::text::{Body, CodeError, surfaces_for};
use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::quantity::SpeedUnit;
use crate::model::{
    Clouds, DepartureKind, Element, Form, Level, MaxWind, Part, PartContent, Report, Resolution,
    Roles, Shear, Sky,
};
use crate::tables;
use crate::tables::figure::{
    DepressionFigure, FigureError, HeightFigure, PressureFigure, TemperatureFigure, WindFigure,
    height_tens, is_upper, sea_temperature, shear,
};

/// A level as figures: pressure, TTTaDD, ddfff.
type Figures = (PressureFigure, Thermal, Option<WindFigure>);

/// The TEMP parts of a report.
pub(in crate::forms::text) fn parts(
    report: &Report,
    release: Option<(u8, u8)>,
    findings: &mut Vec<Finding>,
) -> Result<BTreeMap<Part, Body>, CodeError> {
    let sonde = sonde(report, release, findings)?;
    findings.extend(without_figure(report));
    if !report.levels.is_empty() && !report.levels.iter().any(has_figure) {
        return Err(CodeError::Lacks("a level with pressure"));
    }
    let mut parts = BTreeMap::new();
    for (&part, kept) in report.parts.iter().filter(|(_, kept)| !kept.nil) {
        let computed = regional::explained(report, part, findings)?.into_iter();
        let computed = computed.map(|(group, _)| group).collect();
        let kept = &with_made(report, part, kept, computed, findings);
        let body = match part {
            Part::A | Part::C => Body::Standard(Box::new(standard_part(
                report, part, kept, sonde, findings,
            )?)),
            Part::B | Part::D => Body::Significant(Box::new(significant_part(
                report, part, kept, sonde, findings,
            )?)),
        };
        parts.insert(part, body);
    }
    Ok(parts)
}

pub(super) fn sonde(
    report: &Report,
    release: Option<(u8, u8)>,
    findings: &mut Vec<Finding>,
) -> Result<Sonde, CodeError> {
    let equipment = &report.context.equipment;
    let text = equipment
        .radiosonde
        .map(|figure| tables::radiosonde(figure).and_then(|r| r.text));
    if let (Some(figure), Some(None)) = (equipment.radiosonde, text) {
        findings.push(finding!(
            NoTextFigure,
            Place::key("equipment.radiosonde"),
            quantity = "radiosonde type",
            figure = figure,
            solidi = "//"
        ));
    }
    let radiation = equipment.radiation;
    let row = radiation.and_then(|r| tables::radiation().iter().find(|row| row.bufr == r));
    let radiation_text = row.and_then(|row| row.text);
    if let (Some(figure), None) = (radiation, radiation_text) {
        findings.push(finding!(
            NoTextFigure,
            Place::key("equipment.radiation"),
            quantity = "radiation correction",
            figure = figure,
            solidi = "/"
        ));
    }
    let sea = report
        .context
        .surface
        .as_ref()
        .and_then(|s| s.sea_temperature_c);
    Ok(Sonde {
        radiation: radiation_text,
        radiosonde: text.flatten(),
        tracking: equipment.tracking,
        release,
        sea: sea.and_then(|t| held(sea_temperature(t), Place::default(), SOLIDI, findings)),
        groups: SondeGroups::Both,
    })
}

/// Section 7 of a part: that of the report, or the groups that the part gave itself.
fn sonde_of(part: Part, kept: &PartContent, sonde: Sonde) -> Result<Option<Sonde>, CodeError> {
    if !kept.section7 || kept.section7_groups.is_empty() {
        return Ok(kept.section7.then_some(sonde));
    }
    let own = kept.section7_groups.iter().filter(|g| !g.is_empty());
    let mut groups = vec!["", "31313"];
    groups.extend(own.map(String::as_str));
    let mut groups = Groups::new(Form::Temp, part, &groups);
    let read = Sonde::read(&mut groups).and_then(|sonde| groups.end().map(|()| sonde));
    read.map_err(|error| CodeError::NotReadBack {
        part: error.part,
        group: error.group,
        read: error.read,
        what: error.what.to_owned(),
    })
}

pub(in crate::forms::text) fn pressure(level: &Level) -> f64 {
    level.row.pressure_hpa.unwrap_or(0.0)
}

/// Gives an error of a figure the level it is at.
pub(in crate::forms::text) fn at(level: &Level) -> impl Fn(FigureError) -> CodeError {
    let pressure_hpa = pressure(level);
    move |source| CodeError::Figure {
        pressure_hpa,
        source,
    }
}

/// What a group holds in the place of a value without a figure.
const SOLIDI: &str = "solidi";

/// The figure of a value; where the code has none, the message goes out without that
/// element, and a finding says so.
fn held<T>(
    figure: Result<T, FigureError>,
    place: Place,
    coded: &str,
    findings: &mut Vec<Finding>,
) -> Option<T> {
    figure
        .map_err(|problem| {
            findings.push(finding!(
                ValueDoesNotFit,
                place,
                problem = problem,
                coded = coded
            ));
        })
        .ok()
}

/// The finding about levels that no group can place: without a pressure, or with one that
/// has no figure.
fn without_figure(report: &Report) -> Option<Finding> {
    let left_out = |l: &&Level| l.roles.any(OF_TEMP) && !has_figure(l);
    not_in_text(report.levels.iter().filter(left_out))
}

/// Roles of levels that TEMP has groups for.
const OF_TEMP: Roles = Roles::SURFACE
    .union(Roles::STANDARD)
    .union(Roles::TROPOPAUSE)
    .union(Roles::MAX_WIND)
    .union(Roles::SIG_T_OR_U)
    .union(Roles::SIG_WIND);

/// Whether the pressure of a level has a figure.
pub(in crate::forms::text) fn has_figure(level: &Level) -> bool {
    PressureFigure::from_value(pressure(level)).is_ok()
}

/// The finding about levels that no group can place.
pub(in crate::forms::text) fn not_in_text<'a>(
    mut levels: impl Iterator<Item = &'a Level>,
) -> Option<Finding> {
    let first = levels.next()?;
    let row = &first.row;
    let at = match (row.pressure_hpa, row.height_gpm) {
        (Some(p), _) => format!("{p} hPa"),
        (None, Some(z)) => format!("{z} gpm without pressure"),
        (None, None) => "an unknown height".to_owned(),
    };
    let place = row.pressure_hpa.map(Place::pressure).unwrap_or_default();
    Some(finding!(
        LevelDoesNotFit,
        place,
        levels = counted(1 + levels.count(), "level"),
        first = at,
        roles = first.roles
    ))
}

fn thermal(level: &Level, report: &Report, findings: &mut Vec<Finding>) -> Thermal {
    let row = &level.row;
    let Some(t) = row.temperature_c else {
        return (None, None);
    };
    let depression = match (row.dewpoint_c, row.humidity_pct) {
        (Some(td), _) => Some(t - td),
        // No dew point exists at 0 %: the driest figure (a note of the reader).
        (None, Some(u)) if u <= 0.0 => Some(f64::MAX),
        _ => None,
    };
    let place = || Place::pressure(pressure(level));
    let temperature = held(TemperatureFigure::from_value(t), place(), SOLIDI, findings);
    let tenths = |kept: &PartContent| kept.departures.has(DepartureKind::UnusedFigures, 0);
    let figure = if report.parts.values().any(tenths) {
        DepressionFigure::from_tenths
    } else {
        DepressionFigure::from_value
    };
    // A text has no depression without a temperature.
    let depression = depression.filter(|_| temperature.is_some());
    let depression = depression.and_then(|k| held(figure(k), place(), SOLIDI, findings));
    (temperature, depression)
}

pub(in crate::forms::text) fn wind(
    level: &Level,
    report: &Report,
    findings: &mut Vec<Finding>,
) -> Option<WindFigure> {
    let figure = match report.resolution {
        Resolution::Text => WindFigure::from_received,
        Resolution::None | Resolution::Bufr => WindFigure::from_value,
    };
    let unit = report.context.coding.wind_unit;
    let wind = level.row.wind?;
    let place = Place::pressure(pressure(level));
    held(
        figure(wind.dir_deg, wind.speed_ms, unit),
        place,
        SOLIDI,
        findings,
    )
}

fn figures(
    level: &Level,
    report: &Report,
    findings: &mut Vec<Finding>,
) -> Result<Figures, CodeError> {
    let thermal = thermal(level, report, findings);
    Ok((placed_at(level)?, thermal, wind(level, report, findings)))
}

/// The levels of a part that have a role, and a pressure that the part can hold.
pub(in crate::forms::text) fn with(
    report: &Report,
    part: Part,
    roles: Roles,
) -> impl Iterator<Item = &Level> {
    report
        .levels
        .iter()
        .filter(move |l| l.roles.any(roles) && is_in(part, l))
}

/// Whether the groups of a level with a pressure are those of a part.
pub(in crate::forms::text) fn is_in(part: Part, level: &Level) -> bool {
    is_upper(pressure(level)) == part.is_upper() && has_figure(level)
}

/// vbvb and vava.
pub(in crate::forms::text) fn shears(shears: &Shear, unit: SpeedUnit) -> (Option<u8>, Option<u8>) {
    let code = |ms: Option<f64>| ms.and_then(|ms| shear(ms, unit));
    (code(shears.below_ms), code(shears.above_ms))
}

fn standard_part(
    report: &Report,
    part: Part,
    kept: &PartContent,
    sonde: Sonde,
    findings: &mut Vec<Finding>,
) -> Result<StandardPart, CodeError> {
    let context = &report.context;
    let unit = context.coding.wind_unit;
    let placed = |level: &Level, findings: &mut Vec<Finding>| {
        figures(level, report, findings).map(|(pressure, thermal, wind)| Placed {
            pressure,
            thermal,
            wind,
        })
    };
    let mut out = StandardPart {
        id: kept.measuring,
        sonde: sonde_of(part, kept, sonde)?,
        regional: kept.regional.clone(),
        national: kept.national.clone(),
        ..StandardPart::default()
    };
    if part == Part::A {
        out.surface = with(report, part, Roles::SURFACE)
            .next()
            .map(|level| placed(level, findings))
            .transpose()?;
    }
    for standard in surfaces_for(report, Form::Temp, part) {
        let p = f64::from(standard.pressure_hpa);
        let Some(level) =
            with(report, part, Roles::STANDARD).find(|l| l.row.pressure_hpa == Some(p))
        else {
            continue;
        };
        let height = match level
            .row
            .height_gpm
            .map(|z| HeightFigure::from_value(z, standard.height_step_gpm))
        {
            Some(Ok(height)) => Some(height),
            Some(Err(error)) => {
                findings.push(finding!(
                    HeightDoesNotFit,
                    Place::pressure(p),
                    problem = error
                ));
                None
            }
            None => None,
        };
        out.standard.push(Surface {
            pressure_hpa: standard.pressure_hpa,
            pp: standard.pp,
            id_figure: standard.id_figure,
            height,
            thermal: thermal(level, report, findings),
            wind: wind(level, report, findings),
        });
    }
    for level in with(report, part, Roles::TROPOPAUSE) {
        out.tropopauses.push(placed(level, findings)?);
    }
    for (maximum, level) in placed_maxima(report, part) {
        let pressure = placed_at(level)?;
        let wind = wind(level, report, findings);
        out.maxima.push(Maximum {
            top: level.roles.any(Roles::TOP_OF_WIND),
            pressure,
            wind,
            shear: maximum.shear.map(|s| shears(&s, unit)),
        });
    }
    let named = || with(report, part, Roles::TROPOPAUSE | Roles::MAX_WIND);
    for level in named().filter(|level| reads_as_none(level)) {
        findings.push(moved(level));
    }
    Ok(out)
}

/// The maximum winds of a part whose place has a figure: in PILOT also a height.
pub(in crate::forms::text) fn placed_maxima(
    report: &Report,
    part: Part,
) -> impl Iterator<Item = (&MaxWind, &Level)> {
    let pilot = report.form == Form::Pilot;
    report.maxima_of(part).filter(move |(maximum, level)| {
        match (maximum.pressure_hpa, maximum.height_gpm) {
            (None, Some(z)) if pilot => height_tens(z).is_ok(),
            _ => has_figure(level),
        }
    })
}

/// The finding about the maximum winds of a part that no group can place.
pub(in crate::forms::text) fn maxima_not_in_text(report: &Report, part: Part) -> Option<Finding> {
    let here = |level| placed_maxima(report, part).any(|(_, own)| std::ptr::eq(own, level));
    let all = report.maxima_of(part).map(|(_, level)| level);
    not_in_text(all.filter(|level| !here(*level)))
}

/// The figure 999 of Parts C and D.
const READS_AS_NONE: PressureFigure = PressureFigure::Tenths(999);

/// What a tropopause or maximum wind with a pressure is written as: the neighbouring
/// pressure where its own reads as "none".
pub(crate) fn beside_none(figure: PressureFigure) -> PressureFigure {
    if figure == READS_AS_NONE {
        PressureFigure::Tenths(998)
    } else {
        figure
    }
}

/// Whether a level is a tropopause or maximum wind whose pressure, coded, would say
/// that there is none: 88999 or 77999.
pub(in crate::forms::text) fn reads_as_none(level: &Level) -> bool {
    level.roles.any(Roles::TROPOPAUSE | Roles::MAX_WIND)
        && PressureFigure::from_value(pressure(level)) == Ok(READS_AS_NONE)
}

/// The finding about such a level.
pub(in crate::forms::text) fn moved(level: &Level) -> Finding {
    finding!(LevelAt999, Place::pressure(pressure(level)))
}

/// The pressure of a level as every part gives it: one pressure for one level, so
/// that a tropopause or maximum wind at 99.9 hPa is at 99.8 hPa in Parts C and D
/// (our decision, no source).
pub(in crate::forms::text) fn placed_at(level: &Level) -> Result<PressureFigure, CodeError> {
    let figure = PressureFigure::from_value(pressure(level)).map_err(at(level))?;
    Ok(if reads_as_none(level) {
        beside_none(figure)
    } else {
        figure
    })
}

/// Makes room above a level that was moved to 99.8 hPa: the next ones of the section
/// with its pressure are a tenth higher.
pub(in crate::forms::text) fn make_room<T>(
    levels: &mut [Option<(PressureFigure, T)>],
    from: &[&Level],
) {
    if !from.iter().any(|level| reads_as_none(level)) {
        return;
    }
    let mut below: Option<PressureFigure> = None;
    for (figure, _) in levels.iter_mut().flatten() {
        if let (Some(PressureFigure::Tenths(low)), PressureFigure::Tenths(own)) = (below, *figure)
            && own >= low
        {
            *figure = PressureFigure::Tenths(low - 1);
        }
        below = Some(*figure);
    }
}

fn significant_part(
    report: &Report,
    part: Part,
    kept: &PartContent,
    sonde: Sonde,
    findings: &mut Vec<Finding>,
) -> Result<SignificantPart, CodeError> {
    let mut out = SignificantPart {
        measuring: kept.measuring,
        sonde: sonde_of(part, kept, sonde)?,
        regional: kept.regional.clone(),
        national: kept.national.clone(),
        clouds: report
            .context
            .clouds
            .filter(|_| kept.section8)
            .map(|clouds| match report.resolution {
                Resolution::Text => received_clouds(clouds),
                Resolution::None | Resolution::Bufr => cloud_figures(clouds),
            }),
        ..SignificantPart::default()
    };
    // A text may give the level that ends a layer without its value.
    let received = report.resolution == Resolution::Text;
    // A layer without data is marked before the level at which they return.
    let returns = |element: Element, level: &Level| {
        report.missing.iter().any(|m| {
            m.element == element && m.to_hpa.is_some() && m.to_hpa == level.row.pressure_hpa
        })
    };
    for level in with(report, part, Roles::SIG_T_OR_U) {
        if returns(Element::Temperature, level) && (level.row.temperature_c.is_some() || received) {
            out.thermal.push(None);
        }
        let p = placed_at(level)?;
        out.thermal
            .push(Some((p, thermal(level, report, findings))));
    }
    let levels: Vec<&Level> = with(report, part, Roles::SIG_T_OR_U).collect();
    make_room(&mut out.thermal, &levels);
    if ends_in_gap(report, part, Element::Temperature) {
        out.thermal.push(None);
    }
    for level in with(report, part, Roles::SIG_WIND) {
        if returns(Element::Wind, level) && (level.row.wind.is_some() || received) {
            out.winds.push(None);
        }
        let p = placed_at(level)?;
        out.winds.push(Some((p, wind(level, report, findings))));
    }
    let levels: Vec<&Level> = with(report, part, Roles::SIG_WIND).collect();
    make_room(&mut out.winds, &levels);
    if ends_in_gap(report, part, Element::Wind) {
        out.winds.push(None);
    }
    Ok(out)
}

/// Whether a section that was read ends with `nn/// /////`. We do not write that
/// ourselves: where an element never returns, its last level says so.
pub(in crate::forms::text) fn ends_in_gap(report: &Report, part: Part, element: Element) -> bool {
    let mut layers = report.missing.iter();
    report.resolution == Resolution::Text
        && layers.any(|m| {
            m.element == element
                && m.to_hpa.is_none()
                && m.from_hpa.is_some_and(|p| is_upper(p) == part.is_upper())
        })
}

/// The figures of section 8 as a text gave them.
fn received_clouds(clouds: Clouds) -> CloudFigures {
    [clouds.nh, clouds.cl, clouds.h, clouds.cm, clouds.ch]
}

/// Nh CL h CM CH in the order of the group NhCLhCMCH.
pub(crate) fn cloud_figures(clouds: Clouds) -> CloudFigures {
    let h = clouds
        .h
        .or_else(|| clouds.base_m.and_then(tables::cloud_base_figure));
    match clouds.sky {
        Some(Sky::Clear) => [Some(0), Some(0), Some(9), Some(0), Some(0)],
        // h is the vertical visibility.
        Some(Sky::Obscured) => [Some(9), None, h, None, None],
        Some(Sky::Unseen) => [None; 5],
        None => {
            let none = |figure: Option<u8>| figure.is_none_or(|f| f == 0);
            let high_alone = clouds.ch.is_some_and(|c| c > 0) && none(clouds.cl) && none(clouds.cm);
            if high_alone && none(clouds.nh) {
                // Neither low nor middle cloud: Nh 0, h 9 (B/C25.5.2.1).
                return [Some(0), Some(0), h.or(Some(9)), Some(0), clouds.ch];
            }
            // A low overcast hides what is above it: CM and CH stay solidi.
            [clouds.nh, clouds.cl, h, clouds.cm, clouds.ch]
        }
    }
}
