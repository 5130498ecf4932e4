//! Groups of sections 9 and 10 by the templates of a station's own table of practices.

use crate::model::finding::{Finding, Place, finding};
use crate::model::{
    Level, Part, PartContent, Practice, PracticeRow, PracticeUnit, Report, Resolution, Roles,
    TemplateField, TemplateLevel, TemplatePiece, TemplateRounding, TemplateValue,
};
use crate::physics::humidity::reported_dewpoint_c;
use crate::tables;

/// The content of a part with the groups that are made from the report: the computed ones
/// of section 9 first, then those of the templates, then those that the sheet gives.
pub(super) fn with_made(
    report: &Report,
    part: Part,
    content: &PartContent,
    computed: Vec<String>,
    findings: &mut Vec<Finding>,
) -> PartContent {
    let mut content = content.clone();
    let mut regional = computed;
    let made = templated(report, part, Practice::Section9, findings);
    regional.extend(made.into_iter().map(|(group, _)| group));
    content.regional.splice(0..0, regional);
    let made = templated(report, part, Practice::Section10, findings);
    let national = made.into_iter().map(|(group, _)| group);
    content.national.splice(0..0, national);
    content
}

/// The groups of a section of a part, each with the row that it is from.
pub(super) fn templated<'a>(
    report: &'a Report,
    part: Part,
    section: Practice,
    findings: &mut Vec<Finding>,
) -> Vec<(String, &'a PracticeRow)> {
    // A text that was read has its groups as they stand.
    if report.resolution == Resolution::Text {
        return Vec::new();
    }
    let coding = &report.context.coding;
    let rows = tables::practice_rows(coding, section);
    let rows = rows.filter(|row| row.form == report.form && row.parts.contains(&part));
    let mut out = Vec::new();
    for row in rows {
        let Some(template) = row.template() else {
            continue;
        };
        let known = |field: &TemplateField| value(report, row, field).is_some();
        // A row of which the report has nothing is not written.
        if template.fields().next().is_some() && !template.fields().any(known) {
            continue;
        }
        for pieces in template.groups() {
            let mut write = |solidi: bool| -> String {
                let one = |piece: &TemplatePiece| match piece {
                    TemplatePiece::Literal(text) => text.clone(),
                    TemplatePiece::Field(field) if solidi => "/".repeat(field.width),
                    TemplatePiece::Field(field) => figures(report, row, field, findings),
                };
                pieces.iter().map(one).collect()
            };
            let mut group = write(false);
            if ["51515", "61616"].contains(&group.as_str()) {
                group = write(true);
                findings.push(finding!(
                    ValueDoesNotFit,
                    Place::default(),
                    problem = format!(
                        "the template {} makes the indicator of a section",
                        row.group
                    ),
                    coded = &group
                ));
            }
            out.push((group, row));
        }
    }
    out
}

/// The figures of a value, or solidi.
fn figures(
    report: &Report,
    row: &PracticeRow,
    field: &TemplateField,
    findings: &mut Vec<Finding>,
) -> String {
    let width = field.width;
    let Some(value) = value(report, row, field) else {
        return "/".repeat(width);
    };
    if field.sign {
        return tables::sign_figure(value < 0.0).to_string();
    }
    // A value on a step is on it in spite of the binary fraction.
    let steps = value / field.step;
    let near = steps.round();
    let steps = if (steps - near).abs() < 1e-6 {
        near
    } else {
        steps
    };
    let mut whole = match field.rounding {
        TemplateRounding::Nearest => steps.round(),
        TemplateRounding::Down => steps.floor(),
        TemplateRounding::Up => steps.ceil(),
    };
    if field.unsigned {
        whole = whole.abs();
    }
    let most = 10_f64.powi(i32::try_from(width).unwrap_or(i32::MAX));
    if field.last {
        whole = whole.rem_euclid(most);
    }
    // Zero may have a sign.
    if whole == 0.0 {
        whole = 0.0;
    }
    if (0.0..most).contains(&whole) {
        return format!("{:0width$}", whole.abs());
    }
    let solidi = "/".repeat(width);
    findings.push(finding!(
        ValueDoesNotFit,
        Place::default(),
        problem = format!(
            "{} = {value} in steps of {} does not fit {width} figures of the template {}",
            field.value.name(),
            field.step,
            row.group
        ),
        coded = &solidi
    ));
    solidi
}

/// The value of a field, where the report has it.
fn value(report: &Report, row: &PracticeRow, field: &TemplateField) -> Option<f64> {
    use TemplateValue as V;
    let context = &report.context;
    let figure = |figure: Option<u8>| figure.map(f64::from);
    match field.value {
        V::Elevation => context.station.elevation_m,
        V::Ascent => context.flight.ascent.map(f64::from),
        V::Release => figure(context.flight.release_number),
        V::Termination => figure(context.flight.termination),
        V::Reason => figure(context.flight.reason),
        V::Radiosonde => figure(context.equipment.radiosonde),
        V::Tracking => figure(context.equipment.tracking),
        V::BalloonMass => context.balloon.mass_kg,
        V::SeaTemperature => context.surface.as_ref()?.sea_temperature_c,
        V::Stability => report.regional.stability_k,
        of_level => of(level(report, row, field.level)?, of_level, field),
    }
}

/// A value of a level.
fn of(level: &Level, value: TemplateValue, field: &TemplateField) -> Option<f64> {
    use TemplateValue as V;
    let row = &level.row;
    let dewpoint = || reported_dewpoint_c(row.temperature_c, row.dewpoint_c, row.humidity_pct);
    match value {
        V::Pressure => row.pressure_hpa,
        V::Height => row.height_gpm,
        V::Temperature => row.temperature_c,
        V::DewPoint => dewpoint(),
        V::Depression => Some(row.temperature_c? - dewpoint()?),
        V::Humidity => row.humidity_pct,
        // North is 360 degrees, and 0 is calm (code table 0877).
        V::WindDirection => {
            let wind = row.wind?;
            let calm = wind.speed_ms == 0.0;
            let north = wind.dir_deg < field.step / 2.0;
            Some(match (calm, north) {
                (true, _) => 0.0,
                (false, true) => 360.0,
                (false, false) => wind.dir_deg,
            })
        }
        V::WindSpeed => Some(row.wind?.speed_ms),
        V::Time => row.time_s,
        V::Latitude => Some(row.place?.latitude_deg),
        V::Longitude => Some(row.place?.longitude_deg),
        _ => None,
    }
}

/// The level that a field is about.
fn level<'a>(
    report: &'a Report,
    row: &PracticeRow,
    named: Option<TemplateLevel>,
) -> Option<&'a Level> {
    let mut levels = report.levels.iter().filter(|l| !l.roles.is_empty());
    let mut first = |role: Roles| levels.find(|level| level.roles.any(role));
    match named {
        Some(TemplateLevel::Surface) => first(Roles::SURFACE),
        Some(TemplateLevel::Tropopause) => first(Roles::TROPOPAUSE),
        Some(TemplateLevel::Freezing) => first(Roles::FREEZING),
        Some(TemplateLevel::Top) => levels.next_back(),
        Some(TemplateLevel::MaxWind) => {
            let speed = |level: &&Level| level.row.wind.map_or(0.0, |wind| wind.speed_ms);
            levels
                .filter(|level| level.roles.any(Roles::MAX_WIND))
                .max_by(|a, b| speed(a).total_cmp(&speed(b)))
        }
        None => {
            let at = row.from?;
            let own = |level: &Level| match row.unit {
                Some(PracticeUnit::Pressure) => level.row.pressure_hpa,
                _ => level.row.height_gpm,
            };
            let mut here: Vec<&Level> = levels.filter(|level| own(level) == Some(at)).collect();
            here.sort_by_key(|level| !level.roles.any(Roles::STANDARD | Roles::REGIONAL));
            here.into_iter().next()
        }
    }
}
