//! What is to be judged: findings, differences to an earlier message, and how well
//! the message reproduces the flight.

use itertools::Itertools as _;
use maud::{Markup, html};

use super::{Sheet, Was};
use crate::model::Form;
use crate::model::finding::{Finding, Severity};
use crate::tables::figure::PressureFigure;
use crate::verify::compare::Difference;
use crate::view::html::{figure, section, table, value};

/// The findings, the most severe first.
pub(super) fn findings(sheet: &Sheet<'_>) -> Markup {
    let counts = sheet.findings.iter().counts_by(|f| f.severity);
    let count = |severity| counts.get(&severity).copied().unwrap_or_default();
    let verdict = match [Severity::Error, Severity::Warning, Severity::Info].map(count) {
        [0, 0, 0] => "Nothing was found.".to_owned(),
        [errors, warnings, infos] => {
            format!("errors: {errors}, warnings: {warnings}, notes: {infos}")
        }
    };
    let sorted = sheet
        .findings
        .iter()
        .sorted_by_key(|f| std::cmp::Reverse(f.severity));
    let body = html! {
        p class="verdict" { (verdict) } "\n"
        @if !sheet.findings.is_empty() {
            ul class="findings" { "\n" @for finding in sorted { (one(sheet, finding)) } }
        }
    };
    section("findings", "Findings", body)
}

fn one(sheet: &Sheet<'_>, finding: &Finding) -> Markup {
    let (class, sign) = match finding.severity {
        Severity::Error => ("error", "\u{2716} error"),
        Severity::Warning => ("warning", "\u{25b2} warning"),
        Severity::Info => ("info", "\u{25cb} note"),
    };
    html! {
        li class=(class) {
            strong { (sign) } " "
            @if !finding.place.is_empty() {
                @match level_at(sheet, finding.place.pressure_hpa) {
                    Some(level) => a href={ "#row-" (level) } { (finding.place) },
                    None => span { (finding.place) },
                }
                ": "
            }
            (finding.what)
            @if let Some(allowed) = &finding.allowed { " " span class="allowed" { "(" (allowed) ")" } }
            @if let Some(clause) = &finding.clause { " " cite { (clause) } }
        } "\n"
    }
}

/// The level whose pressure has the same figures.
fn level_at(sheet: &Sheet<'_>, pressure_hpa: Option<f64>) -> Option<usize> {
    let wanted = PressureFigure::from_value(pressure_hpa?).ok()?;
    sheet.report.levels.iter().position(|level| {
        let p = level.row.pressure_hpa;
        p.and_then(|p| PressureFigure::from_value(p).ok()) == Some(wanted)
    })
}

/// What differs from an earlier message.
pub(super) fn differences(sheet: &Sheet<'_>, was: &Was) -> Markup {
    let name = &was.name;
    let summary = match was.differences.len() {
        0 => format!("Nothing differs from {name}."),
        1 => format!("1 difference; left is {name}, right is this report."),
        n => format!("{n} differences; left is {name}, right is this report."),
    };
    let body = html! {
        p { (summary) } "\n"
        @if !was.differences.is_empty() {
            ul class="differences" { "\n"
                @for difference in &was.differences {
                    li {
                        (difference)
                        @if let Some(level) = level_at(sheet, pressure_of(difference)) {
                            " " a href={ "#row-" (level) } { "level " (level + 1) }
                        }
                    } "\n"
                }
            }
        }
    };
    section("differences", "Changed since the earlier message", body)
}

fn pressure_of(difference: &Difference) -> Option<f64> {
    match difference {
        Difference::Missing { pressure_hpa, .. }
        | Difference::Value { pressure_hpa, .. }
        | Difference::Role { pressure_hpa, .. } => *pressure_hpa,
        _ => None,
    }
}

/// How well the message reproduces the flight, and the counts of levels.
pub(super) fn fidelity(sheet: &Sheet<'_>) -> Markup {
    let heading = if sheet.report.form == Form::Descent {
        "How well the chosen levels reproduce the flight"
    } else {
        "How well the message reproduces the flight"
    };
    let caption = "Departure of every row from straight lines between the significant levels, \
         before and after they are rounded to the code";
    let columns = [
        ("quantity", false),
        ("limit", true),
        ("rms before", true),
        ("greatest", true),
        ("rms coded", true),
        ("greatest", true),
        ("at hPa", true),
        ("rows outside", true),
        ("rule", false),
    ];
    let rows = html! {
        @for departure in &sheet.fidelity.departures {
            @let (before, after) = (&departure.before_rounding, &departure.after_rounding);
            @let quantity = departure.quantity;
            @if before.rows > 0 || after.rows > 0 {
                tr class=[(after.outside > 0).then_some("outside")] {
                    th scope="row" { (quantity.name()) ", " (quantity.unit()) }
                    (figure(&departure.limit.to_string()))
                    (figure(&value(Some(before.rms), 2)))
                    (figure(&value(Some(before.greatest), 2)))
                    (figure(&value(Some(after.rms), 2)))
                    (figure(&value(Some(after.greatest), 2)))
                    (figure(&value(after.pressure_hpa, 1)))
                    (figure(&format!("{} of {}", after.outside, after.rows)))
                    td { (quantity.clause()) }
                } "\n"
            }
        }
    };
    let body = html! {
        (table(None, caption, &columns, rows)) "\n"
        @if let Some(counts) = &sheet.fidelity.counts {
            ul class="counts" { "\n"
                @for (name, count) in [("temperature and humidity", counts.thermal), ("wind", counts.wind)] {
                    li {
                        (name) ": " (count.fixed) " levels by rule, " (count.additional)
                        " additional; the fewest before rounding is "
                        @if count.bound_only { "at least " }
                        (count.fewest)
                    } "\n"
                }
            }
        }
    };
    section("fidelity", heading, body)
}
