//! What came of it: the message, the findings, the levels.

use maud::{Markup, PreEscaped, html};

use super::super::view::{Coded, Fault, Outcome, Standing, View};
use super::{finding, mark};
use crate::issue::Flight;
use crate::model::finding::{Finding, Severity};
use crate::model::{At, Level, Part};
use crate::view::diagram;
use crate::view::diagram::{Style, Theme};

/// The message, part by part, or why there is none.
pub(super) fn message(view: &View) -> Markup {
    html! {
        section #message data-part aria-labelledby="message-h" tabindex="-1" {
            h2 #message-h { "Message" }
            @match &view.outcome {
                Outcome::NoProfile(faults) => {
                    p { "Load a profile to see its message." }
                    @if !faults.is_empty() { p { "The sheet so far:" } (to_fix(faults)) }
                }
                Outcome::Refused(faults) => { p { "There is no message yet." } (to_fix(faults)) }
                Outcome::Coded(coded) => (parts(coded))
            }
        }
    }
}

/// What is to be fixed, each with a way to its field.
fn to_fix(faults: &[Fault]) -> Markup {
    html! {
        ul.findings {
            @for fault in faults {
                li.error {
                    span.severity { (mark("error")) " error" }
                    (fault.text)
                    @if let Some(key) = &fault.key {
                        " " a data-field=(key) href={ "#" (key) } { "go to the field" }
                    }
                }
            }
        }
    }
}

fn parts(coded: &Coded) -> Markup {
    let changed: Vec<Part> = match &coded.standing {
        Standing::Issued(sent) => {
            let changes = sent.changes.as_ref().ok();
            let parts = changes.into_iter().flat_map(|changes| &changes.parts);
            parts.map(|(part, _)| *part).collect()
        }
        _ => Vec::new(),
    };
    html! {
        @match &coded.flight.message {
            None => { p { "A descent has no text code; it goes out in BUFR and JSON." } }
            Some(message) => {
                @for part in Part::ALL {
                    @if let Some(lines) = message.lines(part) {
                        div.part.changed[changed.contains(&part)] {
                            h3 {
                                "Part " (part.letter())
                                @if changed.contains(&part) { " " span.tag { "changed" } }
                            }
                            pre { (lines.join("\n")) }
                        }
                    }
                }
            }
        }
    }
}

/// Everything that was found, the most severe first.
pub(super) fn findings(view: &View) -> Markup {
    html! {
        section #findings data-part aria-labelledby="findings-h" tabindex="-1" {
            h2 #findings-h { "Findings" }
            @if let Outcome::Coded(coded) = &view.outcome {
                (list(&coded.flight.findings, "Nothing was found in coding."))
                h3 { "Checks of the profile" }
                p { "Before release: " b { (coded.verdict) } }
                (list(&coded.checks, "The checks of the profile found nothing more."))
            } @else {
                p { "They come with the message." }
            }
        }
    }
}

fn list(findings: &[Finding], none: &str) -> Markup {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    sorted.sort_by_key(|f| std::cmp::Reverse(f.severity));
    let grave = sorted.partition_point(|f| f.severity > Severity::Info);
    let (grave, info) = sorted.split_at_checked(grave).unwrap_or_default();
    html! {
        @if findings.is_empty() { p { (mark("good")) " " (none) } }
        ul.findings {
            @for one in grave { (finding(one)) }
            @for one in info { (finding(one)) }
        }
    }
}

/// How the picture looks in the page.
const STYLE: Style = Style {
    theme: Theme::Auto,
    inside: true,
};

/// The style of every picture, which the page's policy takes from a file alone.
pub(in super::super) fn picture_style() -> String {
    diagram::style_sheet(STYLE)
}

/// The picture of the flight, its style left to the style sheet of the page.
fn picture(coded: &Coded) -> String {
    let Flight {
        ascent,
        report,
        fidelity,
        ..
    } = &coded.flight;
    diagram::diagram(ascent, report, Some(fidelity), &STYLE).without_css()
}

/// The picture of the flight; a level of it and its row mark each other.
pub(super) fn diagram(view: &View) -> Markup {
    html! {
        section #diagram data-part aria-labelledby="diagram-h" tabindex="-1" {
            h2 #diagram-h { "Diagram" }
            @if let Outcome::Coded(coded) = &view.outcome {
                div.scroll.picture role="region" aria-label="Diagram, wider than a narrow window" tabindex="0" {
                    (PreEscaped(picture(coded)))
                }
            } @else {
                p { "It comes with the message." }
            }
        }
    }
}

/// The levels with their reasons; each can be left out.
pub(super) fn levels(view: &View) -> Markup {
    html! {
        section #levels data-part aria-labelledby="levels-h" tabindex="-1" {
            h2 #levels-h { "Levels" }
            @if let Outcome::Coded(coded) = &view.outcome {
                div.scroll role="region" aria-label="Table of levels" tabindex="0" {
                    table.levels {
                        thead {
                            tr {
                                @for head in ["hPa", "gpm", "°C", "dew °C", "from °", "m/s", "row"] {
                                    th scope="col" { (head) }
                                }
                                th.why scope="col" { "roles and reasons" }
                                th scope="col" { span.unseen { "order" } }
                            }
                        }
                        tbody {
                            @for (i, level) in coded.flight.report.levels.iter().enumerate().rev() {
                                (row(i, level))
                            }
                        }
                    }
                }
                (fidelity(coded))
            } @else {
                p { "They come with the message." }
            }
        }
    }
}

/// A value, or a dash.
fn cell(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(
        || "–".to_owned(),
        |v| format!("{v:.decimals$}").replace('-', "−"),
    )
}

/// The unit beside a value where the head of the table is not seen.
fn unit(value: Option<f64>, unit: &'static str) -> Option<&'static str> {
    value.map(|_| unit)
}

/// A row of the table, which has the number of its level in the picture.
fn row(i: usize, level: &Level) -> Markup {
    let row = &level.row;
    let (dir, speed) = (row.wind.map(|w| w.dir_deg), row.wind.map(|w| w.speed_ms));
    let pressure = row.pressure_hpa.map(|p| format!("{p:.2}"));
    html! {
        tr data-level=(i) {
            th scope="row" data-unit=[unit(row.pressure_hpa, "hPa")] { (cell(row.pressure_hpa, 2)) }
            td data-unit=[unit(row.height_gpm, "gpm")] { (cell(row.height_gpm, 0)) }
            td data-unit=[unit(row.temperature_c, "°C")] { (cell(row.temperature_c, 1)) }
            td data-unit=[unit(row.dewpoint_c, "°C dew")] { (cell(row.dewpoint_c, 1)) }
            td data-unit=[unit(dir, "°")] { (cell(dir, 0)) }
            td data-unit=[unit(speed, "m/s")] { (cell(speed, 1)) }
            td {
                @match level.at {
                    At::Row(k) => { (k + 1) }
                    At::Interpolated => { "between" }
                    At::Extrapolated => { "beyond" }
                    At::Received => { "–" }
                }
            }
            td.why {
                @for name in level.roles.names() { span.role { (name) } " " }
                ul {
                    @for rule in &level.why { li { (rule.text()) " " cite { (rule.clause()) } } }
                }
            }
            td.order {
                @if let Some(p) = pressure {
                    button.quiet type="submit" form="sheet" formaction="/do/pick" name="pick" value=(p)
                        data-pick aria-label={ "Leave out the level at " (p) " hPa" } { "leave out" }
                }
            }
        }
    }
}

/// How well the levels give the profile back.
fn fidelity(coded: &Coded) -> Markup {
    let held = coded.flight.fidelity.departures.iter();
    let held = held.filter(|d| d.before_rounding.rows > 0 || d.after_rounding.rows > 0);
    html! {
        h3 { "What the levels give back of the profile" }
        div.scroll role="region" aria-label="Fidelity" tabindex="0" {
            table.fidelity {
                thead {
                    tr {
                        @for head in ["", "limit", "rms", "greatest", "coded: rms", "greatest", "beyond"] {
                            th scope="col" { (head) }
                        }
                    }
                }
                tbody {
                    @for d in held {
                        tr {
                            th scope="row" { (d.quantity.name()) ", " (d.quantity.unit()) }
                            td { (d.limit) }
                            @for one in [&d.before_rounding, &d.after_rounding] {
                                td { (format!("{:.2}", one.rms)) }
                                td { (format!("{:.2}", one.greatest)) }
                            }
                            td { (d.after_rounding.outside) }
                        }
                    }
                }
            }
        }
    }
}
