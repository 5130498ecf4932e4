//! The page, written out by the server; every text in it is escaped by `maud`, in the
//! picture by [`crate::view::diagram`].

mod entry;
mod issue;
mod result;

pub(super) use result::picture_style;

use maud::{DOCTYPE, Markup, html};

use super::session::Session;
use super::view::{Outcome, View};
use crate::model::finding::{Finding, Severity};

/// The places of the page: key, name, where. The keys are letters, since browsers
/// take Alt with figures for themselves, and none of D, E, F.
const PLACES: [(char, &str, &str); 11] = [
    ('P', "Profile", "profile"),
    ('G', "Flight", "flight"),
    ('S', "Surface", "surface"),
    ('C', "Clouds", "clouds"),
    ('O', "Orders", "orders"),
    ('M', "Message", "message"),
    ('I', "Issue", "issue"),
    ('N', "Findings", "findings"),
    ('R', "Diagram", "diagram"),
    ('L', "Levels", "levels"),
    ('U', "Issued", "issued"),
];

/// What the keyboard does.
const KEYS: [(&str, &str); 7] = [
    (
        "Alt + letter",
        "goes to the place that shows the letter at the top (some browsers: Alt + Shift)",
    ),
    ("Alt + Z", "takes the last step back"),
    ("Tab, Shift + Tab", "to the next field or button, and back"),
    ("a figure in a cloud list", "chooses that figure"),
    (
        "Enter in a field",
        "shows the message; in an order, gives the order",
    ),
    ("Space or Enter on a button", "presses it"),
    (
        "arrow keys in a table",
        "move it sideways where it is wider than the window",
    ),
];

/// The whole page.
pub(super) fn page(view: &View, session: &Session) -> Markup {
    let station = &session.state.draft;
    let name = station.get("station.name");
    let id = ["station.wigos_id", "station.call_sign"].map(|key| station.get(key));
    let id = id.into_iter().find(|id| !id.is_empty()).unwrap_or_default();
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { "desk" @if !name.is_empty() { ": " (name) } }
                link rel="stylesheet" href="/page.css";
                link rel="icon" href="data:,";
                script src="/page.js" defer {}
            }
            body {
                a.skip href="#message" { "Skip to the message" }
                a.skip href="#issue" { "Skip to issuing" }
                header {
                    div.who #who data-part {
                        h1 { "Desk" }
                        p {
                            b { @if name.is_empty() { "station without a name" } @else { (name) } }
                            @if !id.is_empty() { " " span.id { (id) } }
                        }
                    }
                    (summary(view, session))
                    nav aria-label="Places of the page" {
                        ol {
                            @for (key, place, at) in PLACES {
                                li { a href={ "#" (at) } accesskey=(key) { kbd { (key) } " " (place) } }
                            }
                        }
                    }
                }
                p.unseen #say role="status" aria-live="polite" {}
                main {
                    (notice(session))
                    div.columns {
                        div.entry { (entry::entry(view, session)) }
                        div.result {
                            div.first {
                                (result::message(view))
                                (issue::issue(view, session))
                            }
                            (result::findings(view))
                            (result::diagram(view))
                            (result::levels(view))
                            (issue::issued(session))
                        }
                    }
                }
                footer {
                    details #keys {
                        summary { "Keyboard" }
                        table {
                            caption.unseen { "What the keyboard does" }
                            tbody {
                                @for (key, does) in KEYS {
                                    tr { th scope="row" { kbd { (key) } } td { (does) } }
                                }
                            }
                        }
                    }
                    p { "The desk edits the sheet: " code { "fivefig encode" } " makes the same octets of the saved sheet and the profile." }
                }
            }
        }
    }
}

/// A line on how things stand; read out when it changes.
fn summary(view: &View, session: &Session) -> Markup {
    let (word, kind) = match &view.outcome {
        Outcome::NoProfile(_) => ("no profile yet".to_owned(), "wait"),
        Outcome::Refused(faults) => (
            match faults.len() {
                1 => "no message: 1 thing to fix".to_owned(),
                n => format!("no message: {n} things to fix"),
            },
            "error",
        ),
        Outcome::Coded(coded) => {
            let all = coded.flight.findings.iter().chain(&coded.checks);
            let count = |wanted: Severity| all.clone().filter(|f| f.severity == wanted).count();
            let (errors, warnings) = (count(Severity::Error), count(Severity::Warning));
            let kind = match (errors, warnings) {
                (0, 0) => "good",
                (0, _) => "warning",
                _ => "error",
            };
            let text = format!(
                "message ready; {}, {}",
                counted(errors, "error"),
                counted(warnings, "warning")
            );
            (text, kind)
        }
    };
    html! {
        input #revision data-part type="hidden" name="revision" form="sheet" value=(session.revision);
        div.standing #standing data-part {
            p.chip.(kind) #summary { (mark(kind)) " " (word) }
            @if let Some(step) = session.last_step() {
                button.quiet #undo type="submit" form="sheet" formaction="/do/undo" accesskey="z" {
                    "Undo" span.what { ": " (step) }
                }
            }
        }
    }
}

fn counted(count: usize, noun: &str) -> String {
    match count {
        1 => format!("1 {noun}"),
        _ => format!("{count} {noun}s"),
    }
}

/// A sign that tells what a colour tells.
fn mark(kind: &str) -> Markup {
    let sign = match kind {
        "error" | "bad" => "✖",
        "warning" => "▲",
        "good" => "✔",
        "info" => "i",
        _ => "…",
    };
    html! { span.mark aria-hidden="true" { (sign) } }
}

fn notice(session: &Session) -> Markup {
    let kind = match &session.notice {
        Some(notice) if notice.good => "notice good",
        Some(_) => "notice bad",
        None => "notice",
    };
    html! {
        div #notice class=(kind) data-part tabindex="-1" role="alert" hidden[session.notice.is_none()] {
            @if let Some(notice) = &session.notice {
                @for (k, line) in notice.lines.iter().enumerate() {
                    p { @if k == 0 { (mark(if notice.good { "good" } else { "bad" })) " " } (line) }
                }
            }
        }
    }
}

/// A finding: how much it weighs, where, what, what is allowed, and the clause.
fn finding(finding: &Finding) -> Markup {
    let kind = match finding.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Info => "info",
    };
    let place = &finding.place;
    html! {
        li.(kind) {
            span.severity { (mark(kind)) " " (finding.severity) }
            @if let Some(key) = &place.key {
                a data-field=(key) href={ "#" (key) } { (key) } ": "
            }
            @if let Some(p) = place.pressure_hpa { b { (p) " hPa" } ": " }
            (finding.what)
            @if let Some(allowed) = &finding.allowed { " " span.allowed { "(" (allowed) ")" } }
            @if let Some(clause) = &finding.clause { " " cite { (clause) } }
        }
    }
}
