//! The tables of the page.

use std::collections::BTreeSet;

use maud::{Markup, html};

use super::mark;
use crate::verify::month::{Batch, Listed, MeanBeside, Month, Period, Slot, SlotState, ended};
use crate::view::diagram::minus;
use crate::view::html::{figure, table, value};

/// What each network asks, with the figure by which it is met or not.
pub(super) fn requirements(month: &Month) -> Markup {
    let columns = [
        ("network", false),
        ("asked", false),
        ("of the month", true),
        ("verdict", false),
        ("document", false),
    ];
    let rows = html! {
        @for judged in &month.requirements {
            tr {
                th scope="row" { (judged.network) ", " (judged.standing.words()) }
                td { (judged.asked()) }
                (figure(&judged.figure()))
                td class="verdict" { (judged.verdict()) }
                td { (judged.clause) " (" (judged.source) ")" }
            } "\n"
        }
    };
    table(None, "Ascents by their standard time, UTC", &columns, rows)
}

/// The days of the month, and the sums by hour.
pub(super) fn times(month: &Month, period: Option<Period>) -> Markup {
    let legend: Vec<String> = SlotState::ALL
        .into_iter()
        .map(|state| format!("{} {}", mark(state), state.words()))
        .collect();
    html! {
        @if let Some(period) = period { (days(month, period, &legend.join(", "))) }
        @if month.standard_times.hours.is_empty() {
            p { "Without a schedule nothing is expected, and nothing is missing." }
        } @else {
            (hours(month))
        }
    }
}

fn days(month: &Month, period: Period, legend: &str) -> Markup {
    let hours: BTreeSet<i8> = month.slots.iter().map(|s| s.standard_time.hour()).collect();
    let days: Vec<_> = period.days().collect();
    let numbers: Vec<String> = days.iter().map(|day| day.day().to_string()).collect();
    let mut columns = vec![("UTC", false)];
    columns.extend(numbers.iter().map(|day| (day.as_str(), false)));
    // Where an hour has several standard times, the last counts here.
    let of = |day: &jiff::civil::Date, hour: i8| -> Option<&Slot> {
        let mut slots = month.slots.iter().rev();
        slots.find(|s| s.standard_time.date() == *day && s.standard_time.hour() == hour)
    };
    let rows = html! {
        @for hour in hours {
            tr {
                th scope="row" { (format!("{hour:02}")) }
                @for day in &days { (cell(of(day, hour))) }
            } "\n"
        }
    };
    table(
        Some("days"),
        &format!("Days of the month: {legend}"),
        &columns,
        rows,
    )
}

fn cell(slot: Option<&Slot>) -> Markup {
    let Some(slot) = slot else {
        return html! { td { } };
    };
    let gap = !slot.state.is_reported();
    html! {
        td class=[gap.then_some("gap")] {
            span aria-hidden="true" { (mark(slot.state)) }
            span class="said" { (slot.state.words()) }
        }
    }
}

fn hours(month: &Month) -> Markup {
    let columns = [
        ("UTC", false),
        ("expected", true),
        ("reported", true),
        ("of these late", true),
        ("early message only", true),
        ("NIL only", true),
        ("missing", true),
    ];
    let rows = html! {
        @for hour in &month.standard_times.hours {
            tr {
                th scope="row" { (format!("{:02}", hour.hour)) }
                @for count in [hour.expected, hour.reported, hour.late, hour.early_only, hour.nil, hour.missing] {
                    (figure(&count.to_string()))
                }
            } "\n"
        }
    };
    let caption = format!(
        "Standard times of the schedule; {} reports at other times",
        month.standard_times.unscheduled
    );
    html! { div class="short" { (table(None, &caption, &columns, rows)) } }
}

/// How many ascents reached each surface, and the tops.
pub(super) fn tops(month: &Month) -> Markup {
    let reached = html! {
        @for one in &month.tops.reached {
            tr {
                th scope="row" { (one.pressure_hpa) " hPa" }
                (figure(&format!("{} of {}", one.count, one.of)))
                td { (bar(one.count, one.of)) }
            } "\n"
        }
    };
    let rows = [
        ("pressure, hPa", month.tops.pressure_hpa, 1),
        ("geopotential height, gpm", month.tops.height_gpm, 0),
    ];
    let extremes = html! {
        @for (name, extremes, decimals) in rows { @if let Some(extremes) = extremes {
            tr {
                th scope="row" { (name) }
                (figure(&extremes.count.to_string()))
                @for one in [extremes.mean, extremes.least, extremes.greatest] {
                    (figure(&minus(one, decimals)))
                }
            } "\n"
        } }
    };
    let columns = [
        ("top", false),
        ("ascents", true),
        ("mean", true),
        ("least", true),
        ("greatest", true),
    ];
    html! {
        div class="pair short" {
            (table(None, "Ascents that reached a surface", &[("surface", false), ("ascents", true), ("share", false)], reached))
            (table(None, "The highest point of each ascent", &columns, extremes))
        }
    }
}

/// Means beside those of the month before.
pub(super) fn levels(month: &Month) -> Markup {
    let columns = [
        ("hPa", true),
        ("n", true),
        ("mean gpm", true),
        ("± gpm", true),
        ("before", true),
        ("change", true),
        ("limit", true),
        ("n", true),
        ("mean °C", true),
        ("± K", true),
        ("before", true),
        ("change", true),
        ("limit", true),
    ];
    let rows = html! {
        @for level in &month.levels {
            tr {
                th scope="row" class="n" { (level.pressure_hpa) }
                (beside(&level.height_gpm, 0))
                (beside(&level.temperature_c, 1))
            } "\n"
        }
    };
    let caption = format!(
        "Geopotential height and temperature: number of ascents, mean and standard deviation, \
         beside the mean of {}; a change of more than its limit is in bold with *",
        month.compared_with
    );
    table(None, &caption, &columns, rows)
}

fn beside(mean: &MeanBeside, decimals: usize) -> Markup {
    let now = mean.now.as_ref();
    let change = mean.difference.map_or_else(
        || "\u{2013}".to_owned(),
        |change| match change > 0.0 {
            true => format!("+{}", minus(change, decimals)),
            false => minus(change, decimals),
        },
    );
    let limit = value(mean.limit, 0);
    html! {
        (figure(&now.map_or(0, |now| now.count).to_string()))
        (figure(&value(now.map(|now| now.mean), decimals)))
        (figure(&value(now.and_then(|now| now.deviation), decimals)))
        (figure(&value(mean.before.map(|before| before.mean), decimals)))
        @if mean.moved {
            td class="n moved" { (change) "*" }
        } @else {
            (figure(&change))
        }
        (figure(&limit))
    }
}

/// Counts with bars: endings, corrections, refusals, findings.
pub(super) fn counts(month: &Month) -> Markup {
    let named = |counts: &std::collections::BTreeMap<String, usize>| {
        let counts = counts.iter();
        counts
            .map(|(name, count)| (name.clone(), *count))
            .collect::<Vec<_>>()
    };
    let corrections = month.corrections.iter();
    let corrections = corrections.map(|(cause, count)| (cause.words().to_owned(), *count));
    let all = [
        (
            "Why ascents ended (0 35 035)",
            "ending",
            named(&month.ended_by),
        ),
        (
            "Corrections by what they changed",
            "changed",
            corrections.collect(),
        ),
        ("Files refused or held", "reason", named(&month.refused)),
        (
            "Warnings and errors of the ascents",
            "code",
            named(&month.codes),
        ),
    ];
    html! {
        div class="pair short" {
            @for (caption, column, counts) in &all {
                @let total: usize = counts.iter().map(|(_, count)| count).sum();
                @let caption = format!("{caption}: {total}");
                @let rows = html! {
                    @for (name, count) in counts {
                        tr {
                            th scope="row" { (name) }
                            (figure(&count.to_string()))
                            td { (bar(*count, total)) }
                        } "\n"
                    }
                    @if counts.is_empty() { tr { td colspan="3" { "none" } } }
                };
                (table(None, &caption, &[(column, false), ("count", true), ("share", false)], rows))
            }
        }
    }
}

/// Sondes by batch.
pub(super) fn batches(month: &Month) -> Markup {
    let columns = [
        ("batch", false),
        ("issued", true),
        ("refused", true),
        ("checked", true),
        ("look again", true),
        (
            "sonde less reference: mean ± standard deviation, change in the month",
            false,
        ),
        ("findings", false),
    ];
    let rows = html! {
        @for batch in &month.batches { (sondes(batch)) "\n" }
        @if month.batches.is_empty() { tr { td colspan="7" { "no ascent and no refused file" } } }
    };
    table(
        None,
        "Ground checks, refused files and findings by batch of sondes",
        &columns,
        rows,
    )
}

fn sondes(batch: &Batch) -> Markup {
    let differences = batch.differences.iter().map(|one| {
        let (name, unit) = (one.quantity.name(), one.quantity.unit());
        let mut text = format!("{name} {} {unit}", one.spread);
        if let Some(change) = one.change {
            text.push_str(&format!(", change {change:+.2}"));
        }
        if one.drifts {
            text.push_str(" (drifts)");
        }
        text
    });
    let codes = batch
        .codes
        .iter()
        .map(|(code, count)| format!("{code} {count}"));
    let (differences, codes): (Vec<String>, Vec<String>) = (differences.collect(), codes.collect());
    let look_again = batch.look_again.to_string();
    html! {
        tr class=[(batch.look_again > 0).then_some("outside")] {
            th scope="row" class="name" { (batch.name()) }
            (figure(&batch.ascents.to_string()))
            (figure(&batch.refused.to_string()))
            (figure(&batch.checked.to_string()))
            (figure(&look_again))
            td { (differences.join("; ")) }
            td { (codes.join(", ")) }
        }
    }
}

/// What was handed over.
pub(super) fn handover(month: &Month) -> Markup {
    let columns = [
        ("target", false),
        ("issues", true),
        ("accepted", true),
        ("in time", true),
    ];
    let rows = html! {
        @for (target, handed) in &month.handover {
            tr {
                th scope="row" { (target) }
                @for count in [handed.of, handed.accepted, handed.in_time] {
                    (figure(&count.to_string()))
                }
            } "\n"
        }
    };
    html! { div class="short" { (table(None, "Issues by target", &columns, rows)) } }
}

/// Every ascent.
pub(super) fn ascents(month: &Month) -> Markup {
    let columns = [
        ("standard time", false),
        ("station", false),
        ("min after", true),
        ("in time", false),
        ("top hPa", true),
        ("top gpm", true),
        ("ended by", false),
        ("batch", false),
        ("warnings", true),
    ];
    let rows = html! {
        @for one in &month.list { (ascent(one)) "\n" }
        @if month.list.is_empty() { tr { td colspan="9" { "no report was issued" } } }
    };
    table(
        None,
        "Ascents of the month whose report is out",
        &columns,
        rows,
    )
}

fn ascent(one: &Listed) -> Markup {
    let time = one.standard_time.strftime("%Y-%m-%d %H:%M").to_string();
    let in_time = match one.in_time {
        Some(true) => "yes",
        Some(false) => "late",
        None => "\u{2013}",
    };
    let after = one
        .after_min
        .map_or_else(|| "\u{2013}".to_owned(), |min| min.to_string());
    html! {
        tr {
            th scope="row" { (time) }
            td { (one.station) }
            (figure(&after))
            td { (in_time) @if one.released { ", released" } }
            (figure(&value(one.top_hpa, 1)))
            (figure(&value(one.top_gpm, 0)))
            td { (ended(one.ended_by)) }
            td { (one.batch) }
            (figure(&one.findings.to_string()))
        }
    }
}

/// A share as a bar; its figure stands beside it.
fn bar(count: usize, of: usize) -> Markup {
    let thousandths = (count * 1000).checked_div(of).unwrap_or(0);
    html! {
        svg xmlns="http://www.w3.org/2000/svg" class="bar" viewBox="0 0 1000 60" preserveAspectRatio="none" aria-hidden="true" {
            rect width=(thousandths) height="60" { }
        }
    }
}
