//! The heading, and a summary in words for those who do not see the diagram.

use super::data::Data;
use super::labels::cut;
use super::page::{LARGE, PLAIN, Page, sheet};
use super::path::Spot;
use super::thermal::minus;
use super::uprights::{hpa, tropopause};
use crate::forms::text::form_name;
use crate::model::fidelity::Fidelity;
use crate::model::{Level, Reach, Report, Roles, When, Wind};

/// Title and second line at the head of the page.
pub(super) fn heading(page: &mut Page, data: &Data<'_>) {
    let at: Spot = (12.0, 31.0);
    let room = sheet().right - at.0;
    let start = super::labels::Anchor::Start;
    let title = cut(&title(data.report), LARGE, "b", room);
    page.text("b", LARGE, 0, &title, &[(at.0, at.1, start)]);
    let second = cut(&second(data), PLAIN, "soft", room);
    page.text("soft", PLAIN, 0, &second, &[(at.0, at.1 + 20.0, start)]);
}

/// Form and station.
pub(crate) fn title(report: &Report) -> String {
    let station = &report.context.station;
    let number = station
        .wmo_block
        .zip(station.wmo_number)
        .map(|(block, number)| format!("{block:02}{number:03}"));
    let sign = number.or_else(|| station.call_sign.clone());
    let sign = sign.or_else(|| station.wigos_id.clone());
    let mut words = vec![form_name(report.form, station.kind).to_owned()];
    words.extend(sign);
    words.extend(station.name.clone());
    words.join(" \u{b7} ")
}

/// Times, place and top.
fn second(data: &Data<'_>) -> String {
    let report = data.report;
    let mut words = Vec::new();
    let minute = "%Y-%m-%d %H:%M";
    match report.when {
        When::Full { release, standard } => {
            words.push(format!("for {} UTC", standard.strftime(minute)));
            let begun = report.start.and_then(|start| start.time);
            match begun {
                Some(time) => words.push(format!("fell from {} UTC", time.strftime(minute))),
                None => words.push(format!("released {} UTC", release.strftime(minute))),
            }
        }
        When::Coded { day, hour, .. } => words.push(format!("day {day:02}, {hour:02} UTC")),
    }
    let station = &report.context.station;
    if let Some((north, east)) = station.latitude_deg.zip(station.longitude_deg) {
        let side = |value: f64, plus: &str, minus: &str| {
            let side = if value < 0.0 { minus } else { plus };
            format!("{:.2}° {side}", value.abs())
        };
        words.push(format!(
            "{} {}",
            side(north, "N", "S"),
            side(east, "E", "W")
        ));
    }
    words.extend(station.elevation_m.map(|m| format!("{} m", minus(m, 0))));
    words.extend(top(data).map(|top| format!("top {top}")));
    if report.reach == Reach::To100 {
        words.push("early message, to 100 hPa".to_owned());
    }
    words.join(" \u{b7} ")
}

/// Pressure and height of the highest row.
fn top(data: &Data<'_>) -> Option<String> {
    let row = data.rows.last()?;
    let parts = [
        row.pressure_hpa.map(hpa),
        row.height_gpm.map(|z| format!("{} gpm", minus(z, 0))),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// How many rows and levels there are.
pub(super) fn counts(data: &Data<'_>) -> Vec<String> {
    let levels = &data.report.levels;
    let with = |role: Roles| levels.iter().filter(|l| l.roles.any(role)).count();
    let mut lines = vec![format!(
        "{} rows of the flight, {} levels reported:",
        data.rows.len(),
        levels.len()
    )];
    let mut parts = vec![format!("{} standard", with(Roles::STANDARD))];
    if data.thermal {
        parts.push(format!(
            "{} significant for T or U",
            with(Roles::SIG_T_OR_U)
        ));
    }
    if data.windy {
        parts.push(format!("{} for wind", with(Roles::SIG_WIND)));
    }
    let regional = with(Roles::REGIONAL);
    if regional > 0 {
        parts.push(format!("{regional} of the Region"));
    }
    lines.push(parts.join(", "));
    lines
}

/// The whole in words.
pub(super) fn summary(data: &Data<'_>, fidelity: Option<&Fidelity>) -> String {
    let levels = &data.report.levels;
    let mut out = vec![
        format!("{}.", second(data)),
        format!("{}.", counts(data).join(" ")),
    ];
    let unit = data.unit.symbol();
    let wind = |w: Wind| format!("{:.0}° {:.0} {unit}", w.dir_deg, data.speed(w));
    let place = |l: &Level| {
        l.row
            .pressure_hpa
            .map(hpa)
            .or(l.row.height_gpm.map(|z| format!("{} gpm", minus(z, 0))))
    };
    if let Some(surface) = levels.iter().find(|l| l.roles.any(Roles::SURFACE)) {
        let row = &surface.row;
        let mut words: Vec<String> = place(surface).into_iter().collect();
        words.extend(row.temperature_c.map(|t| format!("{} °C", minus(t, 1))));
        words.extend(
            row.dewpoint_c
                .map(|t| format!("dew point {} °C", minus(t, 1))),
        );
        words.extend(row.wind.map(|w| format!("wind {}", wind(w))));
        out.push(format!("Surface: {}.", words.join(", ")));
    }
    let tropopauses = levels.iter().filter(|l| l.roles.any(Roles::TROPOPAUSE));
    for (i, level) in tropopauses.enumerate() {
        let text = tropopause(level, i + 1);
        out.push(format!("{}.", text.replacen('t', "T", 1)));
    }
    for level in levels.iter().filter(|l| l.roles.any(Roles::MAX_WIND)) {
        if let Some((w, at)) = level.row.wind.zip(place(level)) {
            out.push(format!("Maximum wind: {} at {at}.", wind(w)));
        }
    }
    let held = fidelity
        .map(|f| f.departures.as_slice())
        .unwrap_or_default();
    for held in held.iter().filter(|held| held.after_rounding.rows > 0) {
        out.push(format!(
            "Greatest departure of {} from the coded levels: {:.2} {} (limit {}).",
            held.quantity.name(),
            held.after_rounding.greatest,
            held.quantity.unit(),
            held.limit
        ));
    }
    out.join(" ")
}
