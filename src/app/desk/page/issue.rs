//! Issuing, and what was issued.

use jiff::civil::DateTime;
use jiff::{Timestamp, tz::Offset};
use maud::{Markup, html};

use super::super::handover::States;
use super::super::labels::{label_of, labelled, role_words};
use super::super::session::{Answered, Session};
use super::super::view::{Changes, Coded, Left, Outcome, Standing, View};
use super::{answer, mark};
use crate::forms::text;
use crate::forms::text::Bbb;
use crate::input::sheet::{Draft, Source};
use crate::issue::age::length;
use crate::issue::folder;
use crate::issue::folder::{Issued, Name};
use crate::issue::outputs::Output;
use crate::issue::outputs::SHEET;
use crate::model::{Part, When, utc};
use crate::verify::compare::{Difference, Presence, Side};

/// The place where a report is issued, corrected, or said not to be.
pub(super) fn issue(view: &View, session: &Session) -> Markup {
    html! {
        section #issue aria-labelledby="issue-h" tabindex="-1" {
            h2 #issue-h { "Issue" }
            input type="hidden" name="shown" form="sheet" value=(view.digest);
            fieldset {
                legend { "What goes out" }
                input type="hidden" name="outputs" form="sheet" value="1";
                div.checks {
                    @for output in Output::issued() {
                        label {
                            input type="checkbox" id={ "output-" (output.name()) } name="output" form="sheet" data-now
                                value=(output.name()) checked[session.wanted.contains(&output)];
                            " " (output.name())
                        }
                    }
                }
            }
            (empty(view, session))
            @match &view.outcome {
                Outcome::Coded(coded) => (ready(coded, session))
                _ => { p.hint { "There is no message to issue." } }
            }
            p.answer #answer-issue { (answer(session, Answered::Issue)) }
            (nil(view, session))
        }
    }
}

/// What the headings of bulletins need.
const HEADING: [&str; 3] = ["bulletin.area", "bulletin.ii", "bulletin.centre"];

/// What should be entered and is still empty, each with a way to its field.
fn empty(view: &View, session: &Session) -> Markup {
    let mut keys: Vec<&str> = view.empty.iter().map(String::as_str).collect();
    if session.wanted.contains(&Output::Bulletin) && matches!(view.outcome, Outcome::Coded(_)) {
        let draft = &session.state.draft;
        keys.extend(HEADING.iter().filter(|key| draft.get(key).is_empty()));
    }
    let begins = matches!(view.outcome, Outcome::NoProfile(_));
    html! {
        @if !keys.is_empty() {
            h3 #empty-h { @if begins { "Needed" } @else { (mark("warning")) " Still empty" } }
            ul.empty #empty aria-labelledby="empty-h" {
                @for key in keys {
                    li { a data-field=(key) href={ "#" (key) } { (label_of(key)) } }
                }
            }
        }
    }
}

/// The BBB with which a part goes out; `None`: it does not go out.
pub(super) fn goes_out(coded: &Coded, part: Part) -> Option<Option<Bbb>> {
    match &coded.standing {
        Standing::New(late) => Some(late.clone()),
        Standing::Remaining(left) => left.parts.contains(&part).then(|| left.late.clone()),
        Standing::Issued(sent) => {
            let changes = sent.changes.as_ref().ok()?;
            let changed = changes.parts.iter().any(|(one, _)| *one == part);
            changed.then(|| sent.next.clone())
        }
        Standing::Unread(_) => None,
    }
}

/// The heading that goes out above a part, where the sheet has all of it.
pub(super) fn heading(coded: &Coded, part: Part) -> Option<String> {
    let message = coded.flight.message.as_ref()?;
    let bbb = goes_out(coded, part)?;
    let heading = text::heading(&coded.flight.report, message, part, bbb.as_ref());
    Some(heading.ok()?.to_string())
}

fn ready(coded: &Coded, session: &Session) -> Markup {
    html! {
        @if let When::Full { release, standard } = coded.flight.report.when {
            dl {
                dt { "Release, UTC" } dd { (minutes(release)) " " (since(session, release)) }
                dt { "Standard time" } dd { (minutes(standard)) " " (since(session, standard)) }
            }
        }
        @if let Some(why) = &coded.early {
            p.advice { (mark("error")) " " (labelled(why)) }
        } @else { (standing(coded)) }
    }
}

fn standing(coded: &Coded) -> Markup {
    html! {
        @match (&coded.name, &coded.standing) {
            (Err(why), _) | (_, Standing::Unread(why)) => {
                p.advice { (mark("error")) " " (labelled(why)) }
            }
            (Ok(name), Standing::New(late)) => {
                (letters(&coded.standing))
                @for finding in &coded.continuity {
                    p.advice { (mark("warning")) " " (finding.what) }
                }
                @if let Some(late) = late {
                    p.hint { "NIL is out for this time: the report goes out late, as " (late.as_str()) "." }
                }
                p.folder { code { (name.with(late.clone())) } }
                button.main #issue-now type="submit" form="sheet" formaction="/do/issue" { "Issue" }
            }
            (Ok(name), Standing::Remaining(left)) => { (remaining(name, coded, left)) }
            (Ok(name), Standing::Issued(sent)) => {
                p.advice {
                    (mark("good")) " Issued already"
                    @if let Some(last) = sent.last() { ", last as " (last.as_str()) }
                    "."
                }
                @match (&sent.changes, &sent.next) {
                    (Ok(changes), Some(next)) => {
                        (letters(&coded.standing))
                        (change_list(changes, next))
                        p.folder { code { (name.with(Some(next.clone()))) } }
                        button.main #issue-now type="submit" form="sheet" formaction="/do/issue" {
                            "Issue correction " (next.as_str())
                        }
                    }
                    (Err(why), _) => { p.hint { (labelled(why)) } }
                    (_, None) => { p.hint { "No letter is left for a further correction." } }
                }
            }
        }
    }
}

/// The letters that are shown, to be sent back.
fn letters(standing: &Standing) -> Markup {
    html! { input type="hidden" name="letter" form="sheet" value=(standing.letters()); }
}

/// What still goes out after an early message.
fn remaining(name: &Name, coded: &Coded, left: &Left) -> Markup {
    let parts: Vec<String> = left
        .parts
        .iter()
        .map(|part| part.letter().to_string())
        .collect();
    html! {
        p.advice { (mark("good")) " The early message is out." }
        (letters(&coded.standing))
        @if let Some((name, differences)) = &left.correction {
            h3 { "What must be corrected in it" }
            (changes(differences, &[]))
            p.folder { code { (name) } }
        }
        @for finding in &left.findings { p.hint { (finding) } }
        @if parts.is_empty() {
            p.hint { "No part of the text is left: nothing lies above 100 hPa." }
        } @else {
            p.hint { "Of the whole report go out: Part " (parts.join(" and Part ")) ". BUFR is whole." }
        }
        p.folder { code { (name.with(left.late.clone())) } }
        button.main #issue-now type="submit" form="sheet" formaction="/do/issue" { "Issue" }
    }
}

fn change_list(all: &Changes, next: &Bbb) -> Markup {
    html! {
        h3 { "What " (next.as_str()) " changes: was → now" }
        (changes(&all.differences, &all.parts))
    }
}

/// Differences from what was issued, was → now, and the groups that are not the same.
fn changes(differences: &[Difference], parts: &[(Part, String)]) -> Markup {
    html! {
        ul.changes #changes tabindex="0" role="list" aria-label="Changes, was → now" {
            @for difference in differences { li { (was_now(difference)) } }
            @for (part, groups) in parts {
                li { b { "Part " (part.letter()) } " " (groups) }
            }
        }
    }
}

/// A difference as was → now.
fn was_now(difference: &Difference) -> String {
    let at = |pressure_hpa: &Option<f64>, height_gpm: &Option<f64>| match (pressure_hpa, height_gpm)
    {
        (Some(p), _) => crate::view::diagram::hpa(*p),
        (None, Some(z)) => format!("{z:.0} gpm"),
        (None, None) => "surface".to_owned(),
    };
    let there = |there: &Presence| match there {
        Presence::Present => "there",
        Presence::Nil => "NIL",
        Presence::Missing => "not there",
    };
    let moved = |side: &Side| match side {
        Side::Left => "not there → there",
        Side::Right => "there → not there",
    };
    match difference {
        Difference::Identity { what, left, right } => format!("{what}: {left} → {right}"),
        Difference::Part { part, left, right } => {
            format!("Part {}: {} → {}", part.letter(), there(left), there(right))
        }
        Difference::Missing {
            side,
            pressure_hpa,
            height_gpm,
            roles,
            ..
        } => {
            let (at, roles) = (at(pressure_hpa, height_gpm), role_words(*roles));
            format!("level at {at} ({roles}): {}", moved(side))
        }
        Difference::Role {
            side,
            pressure_hpa,
            height_gpm,
            roles,
        } => {
            let (at, roles) = (at(pressure_hpa, height_gpm), role_words(*roles));
            format!("{at}, {roles}: {}", moved(side))
        }
        Difference::Value {
            pressure_hpa,
            height_gpm,
            quantity,
            left,
            right,
            ..
        } => {
            let value = |value: &Option<f64>| {
                value.map_or_else(
                    || "nothing".to_owned(),
                    |v| {
                        let rounded = (v * 1000.0).round() / 1000.0;
                        format!("{rounded} {}", quantity.unit()).replace('-', "−")
                    },
                )
            };
            let (at, name) = (at(pressure_hpa, height_gpm), quantity.name());
            format!("{at}, {name}: {} → {}", value(left), value(right))
        }
        other => other.to_string(),
    }
}

fn nil(view: &View, session: &Session) -> Markup {
    let loaded = session.profile().is_some();
    html! {
        details #nil {
            summary { "No report: NIL" }
            @match &view.nil {
                Ok(nil) => {
                    pre { (nil.message) }
                    p.folder { code { (nil.name) } }
                    @if let Some(report) = &nil.report_out {
                        p.advice { (mark("warning")) " A report is out for this time: " code { (report) } }
                        p {
                            label for="nil-reason" { "Reason for a NIL all the same" }
                            " "
                            input #nil-reason type="text" name="nil_reason" form="sheet" maxlength="200";
                        }
                        button #nil-now type="submit" form="sheet" formaction="/do/nil" { "Issue NIL despite the report" }
                    } @else {
                        @if loaded {
                            p.advice {
                                label {
                                    input #nil-sure type="checkbox" name="nil_sure" form="sheet" value="yes";
                                    " A profile is loaded; there is no report of it all the same"
                                }
                            }
                        }
                        button #nil-now type="submit" form="sheet" formaction="/do/nil" { "Issue NIL" }
                    }
                }
                Err(why) => { p.hint { (labelled(why)) } }
            }
            p.answer #answer-nil { (answer(session, Answered::Nil)) }
        }
    }
}

/// A moment of the system clock, UTC.
pub(super) fn moment(at_s: i64) -> String {
    let at = Timestamp::from_second(at_s).ok();
    at.map_or_else(String::new, |at| minutes(Offset::UTC.to_datetime(at)))
}

fn minutes(time: DateTime) -> String {
    time.strftime("%Y-%m-%d %H:%M").to_string()
}

/// How long ago a time is, by the system clock.
fn since(session: &Session, time: DateTime) -> Markup {
    let Some(then_s) = seconds(time) else {
        return html! {};
    };
    let (text, late) = ago((session.clock)(), then_s);
    html! { span.since.late[late] { (text) } }
}

/// Seconds since 1970 of a time in UTC.
fn seconds(time: DateTime) -> Option<i64> {
    Some(Offset::UTC.to_timestamp(time).ok()?.as_second())
}

fn ago(now_s: i64, then_s: i64) -> (String, bool) {
    let past = now_s.saturating_sub(then_s);
    let length = length(past);
    if past >= 0 {
        (format!("{length} ago"), true)
    } else {
        (format!("in {length}"), false)
    }
}

/// What was issued today.
pub(super) fn issued(session: &Session) -> Markup {
    let now_s = (session.clock)();
    let today: Vec<(usize, &Issued)> = session
        .issued
        .iter()
        .enumerate()
        .filter(|(_, one)| is_today(one, now_s))
        .collect();
    let states = States::read(&session.setup.out);
    html! {
        section #issued aria-labelledby="issued-h" tabindex="-1" {
            h2 #issued-h { "Issued today" }
            p.answer #answer-issued { (answer(session, Answered::Issued)) }
            @if today.is_empty() { p { "Nothing yet." } } @else {
                div.scroll role="region" aria-label="What was issued today" tabindex="0" {
                    table.issued {
                        thead {
                            tr {
                                @for head in ["issue (times UTC)", "release", "standard time", "written", "after standard time", "hand-over"] {
                                    th scope="col" { (head) }
                                }
                                th scope="col" { "files" }
                            }
                        }
                        tbody { @for (number, one) in today { (line(session, &states, number, one)) } }
                    }
                }
            }
        }
    }
}

fn is_today(one: &Issued, now_s: i64) -> bool {
    const DAY: i64 = 86_400;
    let at = one.at_s.unwrap_or(now_s);
    at.div_euclid(DAY) == now_s.div_euclid(DAY)
}

fn line(session: &Session, states: &States, number: usize, one: &Issued) -> Markup {
    let name = &one.name;
    let release = release(session, one);
    let standard = name.standard();
    let late = standard.and_then(seconds).zip(one.at_s).map(|(due, at)| {
        let past = at.saturating_sub(due);
        let length = length(past);
        if past >= 0 {
            length
        } else {
            format!("{length} before it")
        }
    });
    let at = one.at_s.and_then(|at| Timestamp::from_second(at).ok());
    html! {
        tr {
            th scope="row" { (name.id()) " " (name.label()) @if let Some(bbb) = name.bbb() { " " b { (bbb.as_str()) } } }
            td { @match release { Some(time) => { (minutes(time)) } None => { "–" } } }
            td { @match standard { Some(time) => { (minutes(time)) } None => { "–" } } }
            td { @match at { Some(at) => { (minutes(Offset::UTC.to_datetime(at))) } None => { "–" } } }
            td { (late.as_deref().unwrap_or("–")) }
            td {
                @for state in states.of(name) { div { (state) } }
                @if states.can_mark(name) {
                    details id={ "mark-of-" (number) } {
                        summary id={ "mark-" (number) } aria-label={ "Handed over by other means: " (name) } { "by other means …" }
                        button.quiet type="submit" id={ "mark-now-" (number) } form="sheet" formaction="/do/mark"
                            name="mark" value=(number) aria-label={ "Mark as handed over by other means: " (name) } {
                            "Mark as handed over"
                        }
                    }
                }
            }
            td.of {
                @for output in Output::issued() {
                    @if let Some(file) = output.file().filter(|file| folder::has(&session.setup.out, name, file)) {
                        a href={ "/issued/" (number) "/" (file) } download
                            aria-label={ "Save " (output.name()) " of " (name) } { (output.name()) } " "
                    }
                }
                button.quiet type="submit" id={ "reopen-" (number) } form="sheet" formaction="/do/reopen"
                    name="number" value=(number) aria-label={ "open again: " (name) } { "open again" }
            }
        }
    }
}

/// The release that the sheet of an issue gives.
fn release(session: &Session, one: &Issued) -> Option<DateTime> {
    let octets = folder::file(&session.setup.out, &one.name, SHEET).ok()??;
    let text = String::from_utf8(octets).ok()?;
    let source = Source {
        name: SHEET,
        text: &text,
    };
    let draft = Draft::merged(&[source]).ok()?;
    utc::parse(&draft.get("flight.release"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_past_or_to_come() {
        assert_eq!(ago(7_200, 0), ("2 h 0 min ago".to_owned(), true));
        assert_eq!(ago(0, 600), ("in 10 min".to_owned(), false));
    }
}
