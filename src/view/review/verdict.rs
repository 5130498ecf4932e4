//! What is to be judged: findings, differences to an earlier message, and how well
//! the message gives the flight back.

use super::markup::{Page, value};
use super::{Sheet, Was};
use crate::model::Form;
use crate::model::finding::{Finding, Severity};
use crate::tables::figure::PressureFigure;
use crate::verify::compare::Difference;

/// What was found, the most severe first.
pub(super) fn findings(page: &mut Page, sheet: &Sheet<'_>) {
    let count = |severity: Severity| {
        let of = sheet.findings.iter().filter(|f| f.severity == severity);
        of.count()
    };
    let [errors, warnings, infos] = [Severity::Error, Severity::Warning, Severity::Info].map(count);
    page.section("findings", "Findings");
    let verdict = match (errors, warnings, infos) {
        (0, 0, 0) => "Nothing was found.".to_owned(),
        _ => format!("errors: {errors}, warnings: {warnings}, notes: {infos}"),
    };
    page.element("p", &[("class", "verdict")], &verdict);
    page.raw("\n");
    if !sheet.findings.is_empty() {
        let mut sorted: Vec<&Finding> = sheet.findings.iter().collect();
        sorted.sort_by_key(|f| std::cmp::Reverse(f.severity));
        page.raw("<ul class=\"findings\">\n");
        for finding in sorted {
            one(page, sheet, finding);
        }
        page.raw("</ul>\n");
    }
    page.end_section();
}

fn one(page: &mut Page, sheet: &Sheet<'_>, finding: &Finding) {
    let (class, sign) = match finding.severity {
        Severity::Error => ("error", "\u{2716} error"),
        Severity::Warning => ("warning", "\u{25b2} warning"),
        Severity::Info => ("info", "\u{25cb} note"),
    };
    page.open("li", &[("class", class)]);
    page.element("strong", &[], sign);
    page.raw(" ");
    if !finding.place.is_empty() {
        let place = finding.place.to_string();
        match level_at(sheet, finding.place.pressure_hpa) {
            Some(level) => page.element("a", &[("href", &format!("#row-{level}"))], &place),
            None => page.element("span", &[], &place),
        }
        page.raw(": ");
    }
    page.text(&finding.what);
    if let Some(allowed) = &finding.allowed {
        page.raw(" ");
        page.element("span", &[("class", "allowed")], &format!("({allowed})"));
    }
    if let Some(clause) = &finding.clause {
        page.raw(" ");
        page.element("cite", &[], clause);
    }
    page.raw("</li>\n");
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
pub(super) fn differences(page: &mut Page, sheet: &Sheet<'_>, was: &Was) {
    page.section("differences", "Changed since the earlier message");
    let told = match was.differences.len() {
        0 => format!("Nothing differs from {}.", was.name),
        1 => format!("1 difference; left is {}, right is this report.", was.name),
        n => format!(
            "{n} differences; left is {}, right is this report.",
            was.name
        ),
    };
    page.element("p", &[], &told);
    page.raw("\n");
    if !was.differences.is_empty() {
        page.raw("<ul class=\"differences\">\n");
        for difference in &was.differences {
            page.raw("<li>");
            page.text(&difference.to_string());
            if let Some(level) = level_at(sheet, pressure_of(difference)) {
                page.raw(" ");
                let href = format!("#row-{level}");
                page.element("a", &[("href", &href)], &format!("level {}", level + 1));
            }
            page.raw("</li>\n");
        }
        page.raw("</ul>\n");
    }
    page.end_section();
}

fn pressure_of(difference: &Difference) -> Option<f64> {
    match difference {
        Difference::Missing { pressure_hpa, .. }
        | Difference::Value { pressure_hpa, .. }
        | Difference::Role { pressure_hpa, .. } => *pressure_hpa,
        _ => None,
    }
}

/// How well the message gives the flight back, and the counts of levels.
pub(super) fn fidelity(page: &mut Page, sheet: &Sheet<'_>) {
    let heading = if sheet.report.form == Form::Descent {
        "What the chosen levels give back"
    } else {
        "What the message gives back"
    };
    page.section("fidelity", heading);
    page.raw("<div class=\"wide\"><table>");
    page.head(
        "Departure of every row from straight lines between the significant levels, before \
         and after they are rounded to the code",
        &[
            ("quantity", false),
            ("limit", true),
            ("rms before", true),
            ("greatest", true),
            ("rms coded", true),
            ("greatest", true),
            ("at hPa", true),
            ("rows beyond", true),
            ("rule", false),
        ],
    );
    for held in &sheet.fidelity.departures {
        let (before, after) = (&held.before_rounding, &held.after_rounding);
        if before.rows == 0 && after.rows == 0 {
            continue;
        }
        let beyond = after.beyond > 0;
        page.open("tr", &[("class", if beyond { "beyond" } else { "" })]);
        let name = format!("{}, {}", held.quantity.name(), held.quantity.unit());
        page.element("th", &[("scope", "row")], &name);
        page.figure(&format!("{}", held.limit));
        page.figure(&value(Some(before.rms), 2));
        page.figure(&value(Some(before.greatest), 2));
        page.figure(&value(Some(after.rms), 2));
        page.figure(&value(Some(after.greatest), 2));
        page.figure(&value(after.pressure_hpa, 1));
        page.figure(&format!("{} of {}", after.beyond, after.rows));
        page.element("td", &[], held.quantity.clause());
        page.raw("</tr>\n");
    }
    page.raw("</tbody></table></div>\n");
    if let Some(counts) = &sheet.fidelity.counts {
        page.raw("<ul class=\"counts\">\n");
        for (name, count) in [
            ("temperature and humidity", counts.thermal),
            ("wind", counts.wind),
        ] {
            let least = if count.bound_only { "at least " } else { "" };
            let text = format!(
                "{name}: {} levels by rule, {} additional; the fewest before rounding is {least}{}",
                count.fixed, count.additional, count.fewest
            );
            page.element("li", &[], &text);
            page.raw("\n");
        }
        page.raw("</ul>\n");
    }
    page.end_section();
}
