//! What came of it: the message, the findings, the levels.

use maud::{Markup, PreEscaped, html};

use super::super::labels::{label_of, labelled, role_words};
use super::super::view::{Coded, Fault, Outcome, Standing, View};
use super::issue::heading;
use super::{finding, mark};
use crate::forms::text::GroupMeaning;
use crate::issue::Flight;
use crate::model::finding::{Finding, Severity};
use crate::model::quantity::SpeedUnit;
use crate::model::{At, Level, Part};
use crate::view::diagram;
use crate::view::diagram::{Style, Theme};

/// The message, part by part, or why there is none.
pub(super) fn message(view: &View) -> Markup {
    html! {
        section #message aria-labelledby="message-h" tabindex="-1" {
            h2 #message-h { "Message" }
            @match &view.outcome {
                Outcome::NoProfile(faults) => {
                    p { "Load a profile to see its message." }
                    (needed(faults))
                }
                Outcome::Refused(faults) => { p { "There is no message yet." } (to_fix(&faults.iter().collect::<Vec<_>>())) }
                Outcome::Coded(coded) => (parts(coded))
            }
        }
    }
}

/// What the sheet needs before a profile is loaded, and what is wrong in it.
fn needed(faults: &[Fault]) -> Markup {
    let (missing, wrong): (Vec<&Fault>, Vec<&Fault>) = faults.iter().partition(|f| f.missing);
    html! {
        @if !missing.is_empty() {
            p.hint { "Still needed:" }
            ul.needs {
                @for fault in missing { @if let Some(key) = &fault.key {
                    li { a data-field=(key) href={ "#" (key) } { (label_of(key)) } }
                } }
            }
        }
        @if !wrong.is_empty() { (to_fix(&wrong)) }
    }
}

/// What is to be fixed, each with a way to its field.
fn to_fix(faults: &[&Fault]) -> Markup {
    html! {
        ul.findings {
            @for fault in faults {
                li.error {
                    span.severity { (mark("error")) " error" }
                    @if let Some(key) = &fault.key {
                        a data-field=(key) href={ "#" (key) } { (label_of(key)) } ": "
                    }
                    (labelled(&fault.text))
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
                p.copy { button.quiet type="button" data-copy="#message pre" hidden { "Copy" } }
                div.parts {
                    @for part in Part::ALL {
                        @if let Some(lines) = message.lines(part) {
                            @let meanings = message.meanings(part, &coded.flight.report).unwrap_or_default();
                            div.part.changed[changed.contains(&part)] {
                                h3 {
                                    "Part " (part.letter())
                                    @if let Some(heading) = heading(coded, part) { " " span.heading { (heading) } }
                                    @if changed.contains(&part) { " " span.tag { "changed" } }
                                }
                                pre { (groups(part, &lines, &meanings)) }
                            }
                        }
                    }
                }
                p.readout #readout { "Point at a group: its meaning stands here, and its level is marked." }
            }
        }
    }
}

/// The lines of a part, each group with its meaning and its levels.
fn groups(part: Part, lines: &[String], meanings: &[GroupMeaning]) -> Markup {
    let mut number = 0;
    let lines: Vec<Markup> = lines
        .iter()
        .map(|line| {
            let of_line = meanings.iter().skip(number);
            let count = line.split(' ').count();
            let first = number;
            number += count;
            html! {
                @for (i, group) in of_line.take(count).enumerate() {
                    @if i > 0 { " " }
                    (self::group(part, first + i, group))
                }
                @if line.ends_with('=') { "=" }
            }
        })
        .collect();
    html! {
        @for (i, line) in lines.iter().enumerate() {
            @if i > 0 { "\n" }
            (line)
        }
    }
}

/// A group; it leads to the row of its level. The first is in the order of Tab, the arrow
/// keys go on from it.
fn group(part: Part, number: usize, group: &GroupMeaning) -> Markup {
    let levels: Vec<String> = group.levels.iter().map(ToString::to_string).collect();
    let row = group.levels.first().map(|level| format!("#row-{level}"));
    let first = part == Part::A && number == 0;
    html! {
        a.group id={ "group-" (part.letter()) "-" (number) } href=(row.as_deref().unwrap_or("#readout"))
            tabindex=(if first { "0" } else { "-1" }) title=(group.meaning) data-levels=(levels.join(" ")) { (group.group) }
    }
}

/// Everything that was found, the most severe first.
pub(super) fn findings(view: &View) -> Markup {
    html! {
        section #findings aria-labelledby="findings-h" tabindex="0" {
            h2 #findings-h { "Findings" }
            @if let Outcome::Coded(coded) = &view.outcome {
                (list(&coded.flight.findings, "Nothing was found in coding."))
                h3 { "Checks of the profile" }
                p { "Before release: " b { (coded.verdict) } }
                (list(&coded.checks, "The checks of the profile found nothing more."))
                @if coded.compared > 0 {
                    h3 { "Beside the last issues" }
                    (list(&coded.continuity, "Nothing changed more than the air does."))
                }
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
        section #diagram aria-labelledby="diagram-h" tabindex="-1" {
            h2 #diagram-h { "Diagram" }
            @if let Outcome::Coded(coded) = &view.outcome {
                button.quiet.enlarge type="button" data-enlarge aria-pressed="false" hidden { "Enlarge" }
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
        section #levels aria-labelledby="levels-h" tabindex="-1" {
            h2 #levels-h { "Levels" }
            @if let Outcome::Coded(coded) = &view.outcome {
                @let units = units(coded);
                @let of_levels = of_levels(coded);
                div.scroll role="region" aria-label="Table of levels" tabindex="0" {
                    table.levels {
                        thead {
                            tr {
                                @for head in ["hPa", "gpm", "°C", "dew °C", "from °"] {
                                    th scope="col" { (head) }
                                }
                                @for unit in units { th scope="col" { (unit.symbol()) } }
                                th scope="col" { "row" }
                                th.why scope="col" { "significance, and why" }
                                th.of scope="col" { "groups" }
                                th scope="col" { "order" }
                            }
                        }
                        tbody {
                            @for (i, level) in coded.flight.report.levels.iter().enumerate().rev() {
                                (row(i, level, units, of_levels.get(i).map(Vec::as_slice).unwrap_or_default()))
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

/// The unit of the code, then the other.
fn units(coded: &Coded) -> [SpeedUnit; 2] {
    match coded.flight.report.context.coding.wind_unit {
        SpeedUnit::Knots => [SpeedUnit::Knots, SpeedUnit::MetresPerSecond],
        SpeedUnit::MetresPerSecond => [SpeedUnit::MetresPerSecond, SpeedUnit::Knots],
    }
}

/// The groups of every level, each with the id of its place in the message.
fn of_levels(coded: &Coded) -> Vec<Vec<(String, String)>> {
    let report = &coded.flight.report;
    let mut all = vec![Vec::new(); report.levels.len()];
    for part in Part::ALL {
        let message = coded.flight.message.as_ref();
        let meanings = message.and_then(|message| message.meanings(part, report));
        for (number, group) in meanings.unwrap_or_default().into_iter().enumerate() {
            for level in &group.levels {
                if let Some(of) = all.get_mut(*level) {
                    let id = format!("group-{}-{number}", part.letter());
                    of.push((id, group.group.clone()));
                }
            }
        }
    }
    all
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
fn row(i: usize, level: &Level, units: [SpeedUnit; 2], groups: &[(String, String)]) -> Markup {
    let row = &level.row;
    let dir = row.wind.map(|w| w.dir_deg);
    let pressure = row.pressure_hpa.map(|p| format!("{p:.2}"));
    html! {
        tr id={ "row-" (i) } data-level=(i) {
            th scope="row" data-unit=[unit(row.pressure_hpa, "hPa")] { (cell(row.pressure_hpa, 2)) }
            td data-unit=[unit(row.height_gpm, "gpm")] { (cell(row.height_gpm, 0)) }
            td data-unit=[unit(row.temperature_c, "°C")] { (cell(row.temperature_c, 1)) }
            td data-unit=[unit(row.dewpoint_c, "°C dew")] { (cell(row.dewpoint_c, 1)) }
            td data-unit=[unit(dir, "°")] { (cell(dir, 0)) }
            @for one in units {
                @let speed = row.wind.map(|w| one.from_ms(w.speed_ms));
                td data-unit=[unit(speed, one.symbol())] { (cell(speed, 1)) }
            }
            td.row-of {
                @match level.at {
                    At::Row(k) => { (k + 1) }
                    At::Interpolated => { "between" }
                    At::Extrapolated => { "outside" }
                    At::Received => { "–" }
                    At::Salvaged => { "damaged" }
                }
            }
            td.why {
                details id={ "why-" (i) } {
                    summary { (role_words(level.roles)) }
                    ul { @for rule in &level.why { li { (rule.text()) " " cite { (rule.clause()) } } } }
                }
            }
            td.of {
                @for (id, group) in groups { a.of-group href={ "#" (id) } { (group) } " " }
                @if groups.is_empty() { "–" }
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
                        @for head in ["quantity", "limit", "rms", "greatest", "coded: rms", "greatest", "rows outside"] {
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
