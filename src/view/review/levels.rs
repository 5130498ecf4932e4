//! The table of levels: values, roles, reasons, and the groups of each.

use std::borrow::Cow;
use std::collections::BTreeSet;

use maud::{Markup, html};

use super::{Group, Sheet};
use crate::model::{At, Level, Roles};
use crate::view::diagram::{hpa, minus};
use crate::view::html::{self, figure, section, table};

/// Where a level lies, in words.
pub(super) fn place(level: &Level) -> String {
    let row = &level.row;
    let height = || row.height_gpm.map(|z| format!("{} gpm", minus(z, 0)));
    let surface = || "surface".to_owned();
    row.pressure_hpa
        .map(hpa)
        .or_else(height)
        .unwrap_or_else(surface)
}

/// The roles in words.
pub(super) fn roles(roles: Roles) -> String {
    let names: Vec<String> = roles.names().map(|name| name.replace('_', " ")).collect();
    names.join(", ")
}

/// A level in one line.
fn words(sheet: &Sheet<'_>, level: &Level) -> String {
    let row = &level.row;
    let unit = sheet.report.context.coding.wind_unit;
    let mut words = vec![place(level)];
    if row.pressure_hpa.is_some() {
        words.extend(row.height_gpm.map(|z| format!("{} gpm", minus(z, 0))));
    }
    words.extend(row.temperature_c.map(|t| format!("{} °C", minus(t, 1))));
    words.extend(
        row.dewpoint_c
            .map(|t| format!("dew point {} °C", minus(t, 1))),
    );
    words.extend(row.wind.map(|w| {
        let speed = unit.from_ms(w.speed_ms);
        format!(
            "wind from {:03.0}°, {speed:.1} {}",
            w.dir_deg,
            unit.symbol()
        )
    }));
    format!("{}: {}", words.join(", "), roles(level.roles))
}

/// The table; `drawn` are the levels of the diagram, to which it leads.
pub(super) fn all(sheet: &Sheet<'_>, groups: &[Group], drawn: &BTreeSet<usize>) -> Markup {
    let report = sheet.report;
    let count = |role: Roles| report.levels.iter().filter(|l| l.roles.any(role)).count();
    let mut caption = format!(
        "{} levels from {} rows, lowest first, in unrounded values: {} standard",
        report.levels.len(),
        sheet.profile.rows.len(),
        count(Roles::STANDARD)
    );
    for (role, name) in [
        (Roles::SIG_T_OR_U, "significant for temperature or humidity"),
        (Roles::SIG_WIND, "significant for wind"),
        (Roles::TROPOPAUSE, "tropopause"),
        (Roles::MAX_WIND, "maximum wind"),
        (Roles::REGIONAL, "of the Region"),
    ] {
        let n = count(role);
        if n > 0 {
            caption.push_str(&format!(", {n} {name}"));
        }
    }
    let mut columns = vec![
        ("level", false),
        ("hPa", true),
        ("gpm", true),
        ("°C", true),
        ("dew °C", true),
        ("%", true),
        ("dir °", true),
        (report.context.coding.wind_unit.symbol(), true),
        ("row", true),
        ("roles", false),
        ("why, and the rule", false),
    ];
    if sheet.message.is_some() {
        columns.push(("groups", false));
    }
    let rows = html! {
        @for (i, level) in report.levels.iter().enumerate() {
            (one(sheet, groups, (i, drawn.contains(&i)), level)) "\n"
        }
    };
    section(
        "levels",
        "Levels",
        table(Some("levels"), &caption, &columns, rows),
    )
}

fn one(sheet: &Sheet<'_>, groups: &[Group], (i, drawn): (usize, bool), level: &Level) -> Markup {
    let unit = sheet.report.context.coding.wind_unit;
    let row = &level.row;
    let (wind, number) = (row.wind, i + 1);
    let figures = [
        (row.pressure_hpa, 2),
        (row.height_gpm, 0),
        (row.temperature_c, 1),
        (row.dewpoint_c, 1),
        (row.humidity_pct, 0),
        (wind.map(|w| w.dir_deg), 0),
        (wind.map(|w| unit.from_ms(w.speed_ms)), 1),
    ];
    let source = match level.at {
        At::Row(k) => (k + 1).to_string(),
        At::Interpolated => "between".to_owned(),
        At::Extrapolated => "extrapolated".to_owned(),
        At::Received => "\u{2013}".to_owned(),
        At::Salvaged => "damaged".to_owned(),
    };
    html! {
        tr id={ "row-" (i) } data-level=(i) data-words=(words(sheet, level)) {
            th scope="row" {
                @if drawn {
                    a href={ "#level-" (i) }
                        aria-label={ "level " (number) ", " (place(level)) ", in the diagram" } { (number) }
                } @else {
                    span tabindex="0" { (number) }
                }
            }
            @for (value, decimals) in figures { (figure(&html::value(value, decimals))) }
            (figure(&source))
            td { (roles(level.roles)) }
            td class="why" { (reasons(level)) }
            @if sheet.message.is_some() {
                td class="of" { (links(groups, i)) }
            }
        }
    }
}

/// The reasons, one of the same words once with all its rules.
fn reasons(level: &Level) -> Markup {
    let mut reasons: Vec<(Cow<'_, str>, Vec<&str>)> = Vec::new();
    for rule in &level.why {
        let (text, clause) = (rule.text(), rule.clause());
        match reasons.iter_mut().find(|(known, _)| *known == text) {
            Some((_, clauses)) => clauses.push(clause),
            None => reasons.push((text, vec![clause])),
        }
    }
    html! {
        @for (text, clauses) in reasons {
            span { (text) " " cite { (clauses.join("; ")) } } " "
        }
    }
}

/// Links to the groups of a level, or a dash.
fn links(groups: &[Group], level: usize) -> Markup {
    let own: Vec<&Group> = groups
        .iter()
        .filter(|g| g.reported.levels.contains(&level))
        .collect();
    html! {
        @for (i, group) in own.iter().enumerate() {
            @if i > 0 { " " }
            a href={ "#" (group.id()) } class="m" { (group.reported.group) }
        }
        @if own.is_empty() { "\u{2013}" }
    }
}
