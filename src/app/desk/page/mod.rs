//! The page, written out by the server; every text in it is escaped by `maud`, in the
//! picture by [`crate::view::diagram`].

mod entry;
mod issue;
mod result;

pub(super) use result::picture_style;

use itertools::Itertools as _;
use maud::{DOCTYPE, Markup, html};

use super::labels::{label_of, labelled};
use super::session::{Answered, Session};
use super::typing;
use super::view::{Outcome, View};
use crate::guide::DAY;
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
const KEYS: [(&str, &str); 9] = [
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
        "arrow keys on a group of the message",
        "go from group to group; its meaning stands below, its level is marked",
    ),
    ("Escape", "makes an enlarged diagram small again"),
    (
        "arrow keys in a table",
        "move it sideways where it is wider than the window",
    ),
];

/// The parts that are quickly made, each with its id.
pub(super) fn light(view: &View, session: &Session) -> Vec<(String, String)> {
    let mut parts: Vec<(String, Markup)> = vec![
        ("who".to_owned(), who(session)),
        ("revision".to_owned(), revision(session)),
        ("standing".to_owned(), standing(view, session)),
        ("notice".to_owned(), notice(session)),
        ("offer".to_owned(), offer(session)),
        ("saving".to_owned(), saving(session)),
        ("message".to_owned(), result::message(view)),
        ("findings".to_owned(), result::findings(view)),
        ("issue".to_owned(), issue::issue(view, session)),
        ("issued".to_owned(), issue::issued(session)),
    ];
    parts.extend(entry::parts(view, session));
    let text = |(id, markup): (String, Markup)| (id, markup.into_string());
    parts.into_iter().map(text).collect()
}

/// The parts that take longest.
pub(super) fn heavy(view: &View) -> Vec<(String, String)> {
    let parts = [
        ("diagram", result::diagram(view)),
        ("levels", result::levels(view)),
    ];
    let text = |(id, markup): (&str, Markup)| (id.to_owned(), markup.into_string());
    parts.into_iter().map(text).collect()
}

/// The whole page.
pub(super) fn page(view: &View, session: &Session) -> Markup {
    let name = session.state.draft.get("station.name");
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
            body data-boot=(session.boot) data-seen=(session.parts.now())
                data-today=(typing::today((session.clock)())) {
                a.skip href="#message" { "Skip to the message" }
                a.skip href="#issue" { "Skip to issuing" }
                header {
                    (who(session))
                    nav aria-label="Places of the page" {
                        ol {
                            @for (key, place, at) in PLACES {
                                li { a href={ "#" (at) } accesskey=(key) { kbd { (key) } " " (place) } }
                            }
                        }
                    }
                    (revision(session))
                    (standing(view, session))
                }
                p.unseen #say role="status" aria-live="polite" {}
                main {
                    div.columns {
                        div.entry { (entry::entry(view, session)) }
                        div.result {
                            div.screen {
                                (result::message(view))
                                (result::findings(view))
                                (result::diagram(view))
                                (issue::issue(view, session))
                            }
                            (result::levels(view))
                            (issue::issued(session))
                        }
                    }
                    section.notes #notes aria-label="Notices" {
                        p.note.bad #gone role="alert" hidden {}
                        (saving(session))
                        (offer(session))
                        (notice(session))
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
                    details #day {
                        summary { "Order of a day" }
                        div.scroll role="region" aria-label="Order of a day" tabindex="0" {
                            table {
                                caption.unseen { "What is done in the order of a day, and where" }
                                thead {
                                    tr { th scope="col" { "When" } th scope="col" { "What" } th scope="col" { "Desk or command" } th scope="col" { "Guide" } }
                                }
                                tbody {
                                    @for (when, tasks) in &DAY.iter().chunk_by(|task| task.when) {
                                        @for (k, task) in tasks.enumerate() {
                                            tr {
                                                th scope="row" { @if k == 0 { (when.name()) } @else { span.unseen { (when.name()) } } }
                                                td { (task.what) }
                                                td { (task.means) }
                                                td { code { "fivefig guide " (task.topic) } }
                                            }
                                        }
                                    }
                                }
                            }
                        }
                    }
                    p { "The desk edits the sheet: " code { "fivefig encode" } " makes the same bytes of the saved sheet and the profile." }
                }
            }
        }
    }
}

/// The station.
fn who(session: &Session) -> Markup {
    let station = &session.state.draft;
    let name = station.get("station.name");
    let id = ["station.wigos_id", "station.call_sign"].map(|key| station.get(key));
    let id = id.into_iter().find(|id| !id.is_empty()).unwrap_or_default();
    html! {
        div.who #who {
            h1 { "Desk" }
            p {
                b { @if name.is_empty() { "station without a name" } @else { (name) } }
                @if !id.is_empty() { " " span.id { (id) } }
            }
        }
    }
}

fn revision(session: &Session) -> Markup {
    html! { input #revision type="hidden" name="revision" form="sheet" value=(session.revision); }
}

/// The work of an earlier run, to be continued or discarded.
fn offer(session: &Session) -> Markup {
    html! {
        div.note #offer role="status" hidden[session.offer.is_none()] {
            @if let Some(offer) = &session.offer {
                @let saved = &offer.saved;
                p {
                    b { "Unfinished work" } ", saved " (issue::moment(saved.at_s)) " UTC"
                    @if let Some(profile) = &saved.profile { ", with the profile " b { (profile.name) } }
                    "."
                }
                p.row {
                    button #resume type="submit" form="sheet" formaction="/do/resume" { "Continue it" }
                    button.quiet #discard type="submit" form="sheet" formaction="/do/discard" { "Discard it" }
                }
            }
        }
    }
}

/// That the work is not saved on the disk.
fn saving(session: &Session) -> Markup {
    let fault = session.unsaved();
    html! {
        p.note.bad #saving role="alert" hidden[fault.is_none()] {
            @if let Some(fault) = fault {
                (mark("error")) " What is typed is in memory only; it cannot be saved beside the issues ("
                (fault) "). Make room there; it is tried again at every step."
            }
        }
    }
}

/// The answer to the last action at one place.
fn answer(session: &Session, at: Answered) -> Markup {
    html! {
        @if let Some(notice) = session.notice.as_ref().filter(|notice| notice.at == at) {
            @for (k, line) in notice.lines.iter().enumerate() {
                span.{ @if notice.good { "good" } @else { "bad" } } {
                    @if k == 0 { (mark(if notice.good { "good" } else { "bad" })) " " }
                    (labelled(line))
                }
            }
        }
    }
}

/// A line on how things stand; read out when it changes.
fn standing(view: &View, session: &Session) -> Markup {
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
        div.standing #standing {
            p.chip.(kind) #summary { (mark(kind)) " " (word) }
            @if let Some(step) = session.last_step() {
                button.quiet #undo type="submit" form="sheet" formaction="/do/undo" accesskey="z" title={ "Undo: " (step) } {
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

/// The answer to the last action, until it is read.
fn notice(session: &Session) -> Markup {
    let kind = match &session.notice {
        Some(notice) if notice.good => "note good",
        Some(_) => "note bad",
        None => "note",
    };
    html! {
        div #notice class=(kind) role="alert" hidden[session.notice.is_none()] {
            @if let Some(notice) = &session.notice {
                @for (k, line) in notice.lines.iter().enumerate() {
                    p { @if k == 0 { (mark(if notice.good { "good" } else { "bad" })) " " } (labelled(line)) }
                }
                p.row { button.quiet #read type="submit" form="sheet" formaction="/do/read" { "Read" } }
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
                a data-field=(key) href={ "#" (key) } { (label_of(key)) } ": "
            }
            @if let Some(p) = place.pressure_hpa { b { (p) " hPa" } ": " }
            (labelled(&finding.what.to_string()))
            @if let Some(allowed) = &finding.allowed { " " span.allowed { "(" (allowed) ")" } }
            @if let Some(clause) = &finding.clause { " " cite { (clause) } }
        }
    }
}
