//! The page of a month: its figures as tables and small charts, for a screen and for paper.
//!
//! Every chart has a text that says what it shows, and its figures in a table beside it. The
//! page has no script and asks for nothing; the same month gives the same bytes.

mod charts;
mod tables;

use maud::{Markup, html};

use crate::model::finding::Severity;
use crate::verify::month::{Month, Period, SlotState};
use crate::view::diagram::{Theme, minus};
use crate::view::html;
use crate::view::html::{Entry, section};

const STYLE: &str = include_str!("month.css");

/// Makes the page.
///
/// ```
/// use fivefig::input::sheet::Schedule;
/// use fivefig::verify::month::{Period, Records, sum};
/// use fivefig::view::diagram::Theme;
/// use fivefig::view::month::page;
///
/// let period = Period::parse("2031-01").ok_or("no month")?;
/// let month = sum(&Records::default(), period, &Schedule::default(), None);
/// assert!(page(&month, Theme::Auto).starts_with("<!DOCTYPE html>"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn page(month: &Month, theme: Theme) -> String {
    let title = title(month);
    let period = Period::parse(&month.month);
    let body = html! {
        a class="skip" href="#times" { "To the standard times" } "\n"
        (header(month, &title))
        main {
            (findings(month))
            (section("requirements", "What networks ask", tables::requirements(month)))
            (section("times", "Standard times", tables::times(month, period)))
            (section("tops", "Heights reached", tops(month, period)))
            (section("levels", "Standard surfaces", levels(month)))
            (section("counts", "Endings, corrections, refusals, findings", tables::counts(month)))
            (section("batches", "Sondes by batch", tables::batches(month)))
            @if !month.handover.is_empty() {
                (section("handover", "Handed over", tables::handover(month)))
            }
            (section("ascents", "Ascents", tables::ascents(month)))
        } "\n"
    };
    html::Shell {
        title: &title,
        kind: "month",
        theme,
        style: STYLE,
        styles: &[],
        script: None,
    }
    .page(body)
}

/// `2031-01, 0-20000-0-99011`.
fn title(month: &Month) -> String {
    let stations: Vec<&str> = month.stations.keys().map(String::as_str).collect();
    match stations.is_empty() {
        true => month.month.clone(),
        false => format!("{}, {}", month.month, stations.join(", ")),
    }
}

fn header(month: &Month, title: &str) -> Markup {
    let lists: [(&str, Vec<Entry>); 3] = [
        ("reports", reports(month)),
        ("ascents", ascents(month)),
        ("beside them", beside(month)),
    ];
    html::header("month", title, &lists)
}

fn reports(month: &Month) -> Vec<Entry> {
    let times = &month.standard_times;
    let punctuality = &month.punctuality;
    let mut out = Vec::new();
    if let Some(until) = month.until {
        out.push(("until", format!("{until}Z, the month is not over")));
    }
    out.push((
        "expected",
        match times.scheduled {
            true => format!("{} with a report", times.reported),
            false => "no schedule is given".to_owned(),
        },
    ));
    out.push(("in time", punctuality.in_time.to_string()));
    if let Some(after) = &punctuality.after {
        out.push(("after", format!("{after} after the standard time")));
    }
    if let Some(late) = &punctuality.late {
        out.push(("late", format!("{}, {late} past the limit", late.count)));
    }
    out
}

fn ascents(month: &Month) -> Vec<Entry> {
    let mut out = vec![("issued", month.ascents.to_string())];
    for reached in &month.tops.reached {
        let name = match reached.pressure_hpa {
            p if p >= 100.0 => "to 100 hPa",
            p if p >= 30.0 => "to 30 hPa",
            _ => "to 10 hPa",
        };
        out.push((name, format!("{} of {}", reached.count, reached.of)));
    }
    if let Some(top) = &month.tops.pressure_hpa {
        let (mean, least) = (minus(top.mean, 1), minus(top.least, 1));
        out.push(("top", format!("mean {mean} hPa, least {least} hPa")));
    }
    if let Some(top) = &month.tops.height_gpm {
        let (mean, greatest) = (minus(top.mean, 0), minus(top.greatest, 0));
        out.push((
            "height",
            format!("mean {mean} gpm, greatest {greatest} gpm"),
        ));
    }
    out.push(("in limits", month.within_limits.to_string()));
    out
}

fn beside(month: &Month) -> Vec<Entry> {
    vec![
        ("early", format!("{} early messages", month.early)),
        ("NIL", month.nil.to_string()),
        (
            "corrected",
            month.corrections.values().sum::<usize>().to_string(),
        ),
        ("refused", month.refused.values().sum::<usize>().to_string()),
        ("released", format!("{} after a hold", month.released)),
        (
            "by hand",
            format!("{} not in the flight book", month.by_hand),
        ),
    ]
}

fn findings(month: &Month) -> Markup {
    if month.findings.is_empty() {
        return Markup::default();
    }
    let mut sorted: Vec<_> = month.findings.iter().collect();
    sorted.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    let body = html! {
        ul class="findings" { "\n"
            @for finding in sorted {
                @let (class, sign) = match finding.severity {
                    Severity::Error => ("error", "\u{2716} error"),
                    Severity::Warning => ("warning", "\u{25b2} warning"),
                    Severity::Info => ("info", "\u{25cb} note"),
                };
                li class=(class) { strong { (sign) } " " (finding.text()) } "\n"
            }
        }
    };
    section("findings", "Findings", body)
}

fn tops(month: &Month, period: Option<Period>) -> Markup {
    html! {
        @if month.list.iter().any(|one| one.top_hpa.is_some()) {
            (charts::tops(month, period))
        }
        (tables::tops(month))
    }
}

fn levels(month: &Month) -> Markup {
    html! {
        @if month.levels.is_empty() {
            p { "No report of the month or the one before has a standard surface." }
        } @else {
            (charts::levels(month))
            (tables::levels(month))
        }
    }
}

/// The mark of a state in the table of days.
fn mark(state: SlotState) -> &'static str {
    match state {
        SlotState::InTime => "\u{25cf}",
        SlotState::Late => "L",
        SlotState::Reported => "\u{25cb}",
        SlotState::EarlyOnly => "E",
        SlotState::Nil => "N",
        SlotState::Missing => "\u{2013}",
    }
}
