//! What the groups of the sections say that several forms share.

use super::{regional, signed};
use crate::forms::text::sections::{CloudFigures, Sonde};
use crate::forms::text::templates;
use crate::model::{Part, Practice, PracticeRow, Report};
use crate::tables;
use crate::tables::SondeClass;

/// Where a significant level lies.
pub(super) fn significant(surface: bool, pressure_hpa: f64) -> String {
    if surface {
        format!("surface, {pressure_hpa} hPa")
    } else {
        format!("significant level at {pressure_hpa} hPa")
    }
}

/// Section 7.
pub(super) fn sonde(sonde: &Sonde, report: &Report) -> Vec<String> {
    let radiation = sonde.radiation.and_then(|figure| {
        let mut rows = tables::radiation().iter();
        Some(rows.find(|row| row.text == Some(figure))?.meaning)
    });
    let tracking = sonde
        .tracking
        .and_then(|figure| Some(tables::tracking(figure)?.meaning));
    let release = match sonde.release {
        Some((hour, minute)) => format!("released at {hour:02}:{minute:02} UTC"),
        None => "time of release not given".to_owned(),
    };
    let mut out = vec![
        "sounding system and time of release follow".to_owned(),
        format!(
            "radiation: {}; {}; tracking: {}",
            radiation.unwrap_or("not given"),
            radiosonde(sonde.radiosonde, report),
            tracking.unwrap_or("not given")
        ),
        release,
    ];
    if let Some((sign, tenths)) = sonde.sea {
        let value = f64::from(tenths) / 10.0;
        let below = tables::sign_negative(sign) == Some(true);
        let value = if below { -value } else { value };
        out.push(format!("sea-surface temperature {} °C", signed(value)));
    }
    out
}

/// A text figure of Common Code Table C-2, by what it stood for on the day.
fn radiosonde(figure: Option<u8>, report: &Report) -> String {
    let Some(figure) = figure else {
        return "type of sonde not given".to_owned();
    };
    let standard = report.when.in_full().map(|(_, standard)| standard);
    let row = standard.and_then(|at| tables::radiosonde_from_text(figure, at.date()));
    let class = match row.map(|row| row.class) {
        Some(SondeClass::Dropsonde) => "dropsonde",
        Some(SondeClass::NoRadiosonde) => "no radiosonde",
        Some(SondeClass::Unspecified) => "radiosonde not specified,",
        Some(SondeClass::PressureOnly) => "radiosonde of pressure only",
        Some(SondeClass::NoPressure) => "radiosonde without pressure",
        Some(SondeClass::Descending) => "descending radiosonde",
        Some(SondeClass::Radiosonde) => "radiosonde",
        _ => "sonde",
    };
    format!("{class} {figure:02} of Common Code Table C-2")
}

/// Section 8.
pub(super) fn clouds(figures: &CloudFigures) -> Vec<String> {
    let words = cloud_words(figures).map(|(name, word)| format!("{name}: {word}"));
    vec!["clouds follow".to_owned(), words.join("; ")]
}

/// Nh CL h CM CH in words (tables 2700, 0513, 1600, 0515 and 0509), each after what
/// it is about.
pub(crate) fn cloud_words(
    &[amount, low, base, middle, high]: &CloudFigures,
) -> [(&'static str, String); 5] {
    let find = |rows: &'static [tables::CloudMeaning], figure: Option<u8>| {
        let row = rows.iter().find(|row| Some(row.figure) == figure);
        row.map_or("not seen", |row| row.meaning).to_owned()
    };
    let of = tables::cloud_bases()
        .iter()
        .find(|row| Some(row.figure) == base);
    let base = match of.map(|row| (row.from_m, row.to_m)) {
        Some((from, Some(to))) => format!("{from} to {to} m above the ground"),
        Some((from, None)) => format!("{from} m or higher, or no cloud"),
        None => "not known".to_owned(),
    };
    let amount = find(tables::cloud_amounts(), amount);
    let amount = format!("{amount} (low, or else middle, cloud)");
    [
        ("cloud amount", amount),
        ("low cloud", find(tables::low_clouds(), low)),
        ("cloud base", base),
        ("middle cloud", find(tables::middle_clouds(), middle)),
        ("high cloud", find(tables::high_clouds(), high)),
    ]
}

/// Sections 9 and 10.
pub(super) fn last_sections(
    part: Part,
    report: &Report,
    regional: &[String],
    national: &[String],
) -> Vec<String> {
    let mut out = Vec::new();
    // An empty group stands for an indicator alone.
    let groups = |section: &[String]| -> Vec<String> {
        section.iter().filter(|g| !g.is_empty()).cloned().collect()
    };
    if !regional.is_empty() {
        out.push("groups of the Region follow".to_owned());
        out.extend(of_region(part, report, &groups(regional)));
    }
    if !national.is_empty() {
        out.push("national groups follow".to_owned());
        let computed = templated(part, report, Practice::Section10);
        let named = groups(national).into_iter().enumerate();
        out.extend(named.map(|(i, group)| match computed.get(i) {
            Some((same, meaning)) if *same == group => meaning.clone(),
            _ => "national, as given".to_owned(),
        }));
    }
    out
}

/// The groups that templates make, each with the template.
fn templated(part: Part, report: &Report, section: Practice) -> Vec<(String, String)> {
    let groups = templates::templated(report, part, section, &mut Vec::new());
    let meaning = |row: &PracticeRow| format!("by the template {}", row.group);
    let groups = groups.into_iter();
    groups.map(|(group, row)| (group, meaning(row))).collect()
}

/// The computed groups come first, as [`templates::with_made`] has it; then the reason
/// of a short report, and what the sheet gives.
fn of_region(part: Part, report: &Report, groups: &[String]) -> Vec<String> {
    let mut computed = regional::explained(report, part);
    computed.extend(templated(part, report, Practice::Section9));
    let reason = crate::levels::report::regional_reason(&report.context);
    let word = report.context.flight.reason.and_then(|figure| {
        let row = tables::additional(&tables::additional_group(figure));
        Some(row?.meaning)
    });
    groups
        .iter()
        .enumerate()
        .map(|(i, group)| match (computed.get(i), word) {
            (Some((same, meaning)), _) if same == group => meaning.clone(),
            (_, Some(word)) if reason.as_ref() == Some(group) => format!("reason: {word}"),
            _ => "of the Region, as given".to_owned(),
        })
        .collect()
}
