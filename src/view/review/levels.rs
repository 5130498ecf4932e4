//! The table of levels: values, roles, reasons, and the groups of each.

use std::collections::BTreeSet;

use super::markup::{Page, value};
use super::{Group, Sheet};
use crate::model::{At, Level, Part, Roles};
use crate::view::diagram::{hpa, minus};

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

/// Draws up the table; `drawn` are the levels of the diagram, to which it leads.
pub(super) fn table(page: &mut Page, sheet: &Sheet<'_>, groups: &[Group], drawn: &BTreeSet<usize>) {
    let report = sheet.report;
    let unit = report.context.coding.wind_unit;
    page.section("levels", "Levels");
    page.raw("<div class=\"wide\"><table class=\"levels\">");
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
    let speed = unit.symbol();
    let mut columns = vec![
        ("level", false),
        ("hPa", true),
        ("gpm", true),
        ("°C", true),
        ("dew °C", true),
        ("%", true),
        ("dir °", true),
        (speed, true),
        ("row", true),
        ("roles", false),
        ("why, and the rule", false),
    ];
    if sheet.message.is_some() {
        columns.push(("groups", false));
    }
    page.head(&caption, &columns);
    for (i, level) in report.levels.iter().enumerate() {
        one(page, sheet, groups, (i, drawn.contains(&i)), level);
    }
    page.raw("</tbody></table></div>\n");
    page.end_section();
}

fn one(
    page: &mut Page,
    sheet: &Sheet<'_>,
    groups: &[Group],
    (i, drawn): (usize, bool),
    level: &Level,
) {
    let unit = sheet.report.context.coding.wind_unit;
    let row = &level.row;
    page.open(
        "tr",
        &[
            ("id", &format!("row-{i}")),
            ("data-level", &i.to_string()),
            ("data-words", &words(sheet, level)),
        ],
    );
    page.open("th", &[("scope", "row")]);
    let (to, number) = (format!("#level-{i}"), (i + 1).to_string());
    if drawn {
        let label = format!("level {number}, {}, in the diagram", place(level));
        page.element("a", &[("href", &to), ("aria-label", &label)], &number);
    } else {
        page.element("span", &[("tabindex", "0")], &number);
    }
    page.close("th");
    let wind = row.wind;
    for (figure, decimals) in [
        (row.pressure_hpa, 2),
        (row.height_gpm, 0),
        (row.temperature_c, 1),
        (row.dewpoint_c, 1),
        (row.humidity_pct, 0),
        (wind.map(|w| w.dir_deg), 0),
        (wind.map(|w| unit.from_ms(w.speed_ms)), 1),
    ] {
        page.figure(&value(figure, decimals));
    }
    page.figure(&match level.at {
        At::Row(k) => (k + 1).to_string(),
        At::Interpolated => "between".to_owned(),
        At::Extrapolated => "beyond".to_owned(),
        At::Received => "\u{2013}".to_owned(),
    });
    page.element("td", &[], &roles(level.roles));
    reasons(page, level);
    if sheet.message.is_some() {
        page.raw("<td class=\"of\">");
        links(page, groups, i);
        page.raw("</td>");
    }
    page.raw("</tr>\n");
}

/// The reasons, one of the same words once with all its rules.
fn reasons(page: &mut Page, level: &Level) {
    let mut told: Vec<(&str, Vec<&str>)> = Vec::new();
    for reason in &level.why {
        let clause = reason.clause.as_ref();
        match told.iter_mut().find(|(text, _)| *text == reason.text) {
            Some((_, clauses)) => clauses.push(clause),
            None => told.push((&reason.text, vec![clause])),
        }
    }
    page.raw("<td class=\"why\">");
    for (text, clauses) in told {
        page.raw("<span>");
        page.text(text);
        page.raw(" ");
        page.element("cite", &[], &clauses.join("; "));
        page.raw("</span> ");
    }
    page.raw("</td>");
}

/// Links to the groups of a level: a run of groups at a time.
fn links(page: &mut Page, groups: &[Group], level: usize) {
    let mut first = true;
    for part in Part::ALL {
        let own = groups
            .iter()
            .filter(|g| g.part == part && g.told.levels.contains(&level));
        for group in own {
            page.raw(if first { "" } else { " " });
            first = false;
            let href = format!("#{}", group.id());
            page.element("a", &[("href", &href), ("class", "m")], &group.told.group);
        }
    }
    if first {
        page.raw("\u{2013}");
    }
}
