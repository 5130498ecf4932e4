//! What is entered: the profile, the observation, the orders, the rest of the sheet.

use maud::{Markup, html};

use super::super::labels::{self, keys, label, label_of, labelled};
use super::super::profile::MAX_PROFILE;
use super::super::session::{Answered, Session};
use super::super::typing;
use super::super::view::{Fault, Outcome, View};
use super::answer;
use crate::input::sheet::{Key, KeyKind, keys_of};
use crate::input::starter::figures_of;
use crate::model::quantity::SpeedUnit;
use crate::model::{Form, GroundCheckResult, Reach};

/// The fields of the flight, of the surface and of the clouds, in their order.
const FLIGHT: [&str; 2] = ["release", "standard_time"];
const SURFACE: [&str; 8] = [
    "pressure_hpa",
    "pressure_at",
    "temperature_c",
    "humidity_pct",
    "wind_dir_deg",
    "wind_speed_ms",
    "dewpoint_c",
    "sea_temperature_c",
];
const CLOUDS: [&str; 7] = ["nh", "h", "cl", "cm", "ch", "sky", "base_m"];

/// The table with the result of its own.
const GROUND_CHECK: &str = "ground_check";

/// The most figures that a list of words has.
const MAX_WORDS: usize = 40;

/// The column of entries.
pub(super) fn entry(view: &View, session: &Session) -> Markup {
    html! {
        (profile(session))
        form #sheet method="post" action="/do/show" autocomplete="off" {
            button.show type="submit" formaction="/do/show" { "Show the message" }
            (table("flight", "Flight", &FLIGHT, view, session))
            (table("surface", &label_of("surface"), &SURFACE, view, session))
            (table("clouds", &label_of("clouds"), &CLOUDS, view, session))
            (orders(session))
            (rest(view, session))
        }
    }
}

/// The parts of the column that change without being typed into.
pub(super) fn parts(view: &View, session: &Session) -> Vec<(String, Markup)> {
    let mut parts = vec![
        ("loaded".to_owned(), loaded(session)),
        ("grown".to_owned(), grown(session)),
        ("profile-load".to_owned(), load(session)),
        (
            "answer-profile".to_owned(),
            answer_line(session, "answer-profile", Answered::Profile),
        ),
        ("given".to_owned(), given(session)),
        (
            "answer-orders".to_owned(),
            answer_line(session, "answer-orders", Answered::Orders),
        ),
        ("sheet-now".to_owned(), sheet_now(view)),
        ("ground-now".to_owned(), ground_now(view)),
        (
            format!("label-{}", typing::WIND_SPEED),
            speed_label(session),
        ),
        ("other-speed".to_owned(), other_speed(session)),
    ];
    let fault = |key: &Key| (format!("fault-{}", key.name), fault_line(view, &key.name));
    parts.extend(keys().iter().map(fault));
    parts
}

/// The answer to an action, beside its buttons.
fn answer_line(session: &Session, id: &str, at: Answered) -> Markup {
    html! { p.answer id=(id) { (answer(session, at)) } }
}

fn profile(session: &Session) -> Markup {
    html! {
        section #profile aria-labelledby="profile-h" tabindex="-1" {
            h2 #profile-h { "Profile" }
            div.row {
                (loaded(session))
                button.quiet #anew type="submit" form="sheet" formaction="/do/anew" { "New flight" }
            }
            (grown(session))
            (load(session))
            (answer_line(session, "answer-profile", Answered::Profile))
            div.row {
                label for="form" { "Form" }
                select #form name="form" form="sheet" data-live {
                    @let form = session.state.form;
                    option value="" selected[form.is_none()] { "as read" }
                    option value="temp" selected[form == Some(Form::Temp)] { "TEMP" }
                    option value="pilot" selected[form == Some(Form::Pilot)] { "PILOT" }
                    option value="descent" selected[form == Some(Form::Descent)] { "descent" }
                }
                label for="reach" { "Reach" }
                select #reach name="reach" form="sheet" data-live {
                    @let early = session.state.reach == Reach::To100;
                    option value="whole" selected[!early] { "whole" }
                    option value="to100" selected[early] { "to 100 hPa" }
                }
            }
        }
    }
}

fn loaded(session: &Session) -> Markup {
    html! {
        p #loaded {
            @match session.profile() {
                Some(profile) => { b { (profile.name) } " · " (size(profile.bytes.len())) }
                None => { "None is loaded." }
            }
        }
    }
}

/// That the file of the profile has grown.
fn grown(session: &Session) -> Markup {
    let words = session
        .growth
        .as_ref()
        .and_then(|growth| growth.words.as_deref());
    html! {
        p.row #grown role="status" hidden[words.is_none()] {
            @if let Some(words) = words {
                span { (words) }
                button.quiet #grow type="submit" form="sheet" formaction="/do/grow" { "Load again" }
            }
        }
    }
}

/// A number of bytes, rounded up.
fn size(bytes: usize) -> String {
    match bytes {
        0..1000 => format!("{bytes} bytes"),
        1000..1_000_000 => format!("{} kB", bytes.div_ceil(1000)),
        _ => format!("{} MB", bytes.div_ceil(1_000_000)),
    }
}

fn load(session: &Session) -> Markup {
    html! {
        details #profile-load open[session.profile().is_none()] {
            summary { @if session.profile().is_none() { "Load one" } @else { "Load another" } }
            form #upload method="post" action="/profile" enctype="multipart/form-data"
                data-most=(MAX_PROFILE) {
                label for="profile-file" { "From a file" }
                div.row {
                    input #profile-file type="file" name="profile" required;
                    button type="submit" { "Load" }
                }
            }
            @if session.setup.watched.is_some() {
                h3 { "From the watched folder" }
                @if session.files.is_empty() { p.hint { "It has no file." } }
                ul.files {
                    @for (number, name) in session.files.iter().enumerate() {
                        li {
                            button.quiet type="submit" id={ "file-" (number) } form="sheet"
                                formaction="/do/file" name="number" value=(number) { (name) }
                        }
                    }
                }
            }
        }
    }
}

/// The faults that are about a key.
fn faults<'a>(view: &'a View, key: &str) -> Vec<&'a Fault> {
    let all = match &view.outcome {
        Outcome::NoProfile(faults) | Outcome::Refused(faults) => faults.as_slice(),
        Outcome::Coded(_) => &[],
    };
    let about = |fault: &&Fault| fault.key.as_deref() == Some(key);
    all.iter().filter(about).collect()
}

/// What is wrong with a field; what is only missing before a profile is loaded is needed,
/// and nothing is wrong yet.
fn fault_line(view: &View, key: &str) -> Markup {
    let faults = faults(view, key);
    let needed = is_needed(view, &faults);
    html! {
        p.fault.needed[needed] id={ "fault-" (key) } hidden[faults.is_empty()] {
            @if needed { "needed" } @else {
                @for fault in faults { span { (super::mark("error")) " " (labelled(&fault.text)) } }
            }
        }
    }
}

fn is_needed(view: &View, faults: &[&Fault]) -> bool {
    let begins = matches!(view.outcome, Outcome::NoProfile(_));
    begins && !faults.is_empty() && faults.iter().all(|fault| fault.missing)
}

/// The label of the wind speed, in the unit of the code.
fn speed_label(session: &Session) -> Markup {
    let name = typing::WIND_SPEED;
    let unit = typing::wind_unit(&session.state.draft);
    html! {
        label id={ "label-" (name) } for=(name) {
            "Wind speed, "
            @match unit { SpeedUnit::Knots => "knots (kt)", SpeedUnit::MetresPerSecond => "m/s" }
        }
    }
}

/// The same speed in the other unit.
fn other_speed(session: &Session) -> Markup {
    let other = typing::other_speed(&session.state.draft);
    html! { p.hint #other-speed { (other.as_deref().unwrap_or_default()) } }
}

fn table(name: &str, title: &str, fields: &[&str], view: &View, session: &Session) -> Markup {
    let keys = keys_of(name);
    let rest = keys.iter().filter(|key| {
        let (_, short) = key.name.split_once('.').unwrap_or_default();
        !fields.contains(&short)
    });
    let rest: Vec<&Key> = rest.collect();
    html! {
        section id=(name) aria-labelledby={ (name) "-h" } tabindex="-1" {
            h2 id={ (name) "-h" } { (title) }
            div.fields {
                @for field in fields {
                    @if let Some(key) = keys.iter().find(|key| key.name == format!("{name}.{field}")) {
                        (input(key, view, session))
                    }
                }
            }
            @if !rest.is_empty() {
                details id={ (name) "-more" } {
                    summary { "More" }
                    div.fields.wide { @for key in rest { (input(key, view, session)) } }
                }
            }
        }
    }
}

fn input(key: &Key, view: &View, session: &Session) -> Markup {
    let name = key.name.as_str();
    let value = typing::shown(&session.state.draft, name);
    let faults = faults(view, name);
    let wrong = !faults.is_empty() && !is_needed(view, &faults);
    let described = format!("fault-{name}");
    let (invalid, about) = (wrong.then_some("true"), wrong.then_some(described.as_str()));
    let mut words = figures_of(key);
    if words.len() > MAX_WORDS {
        words.clear();
    }
    let is_time = key.kind == KeyKind::Time;
    let none = key
        .default
        .as_ref()
        .map_or("–".to_owned(), |held| format!("– ({held})"));
    html! {
        div.field.wide[!words.is_empty() || is_time] {
            @if name == typing::WIND_SPEED { (speed_label(session)) }
            @else { label for=(name) { (label(key)) } }
            @if !words.is_empty() {
                (select(name, &value, words.iter().map(|(figure, words)| {
                    (figure.to_string(), format!("{figure} – {words}"))
                }), "/ – not given or not seen", invalid, about))
            } @else if let KeyKind::Choice(choices) = &key.kind {
                (select(name, &value, choices.iter().map(|c| (c.clone(), c.clone())),
                    &none, invalid, about))
            } @else if key.kind == KeyKind::Flag {
                (select(name, &value, ["true", "false"].iter().map(|c| ((*c).to_owned(), (*c).to_owned())),
                    &none, invalid, about))
            } @else {
                input id=(name) name=(name) value=(value) type="text" data-live
                    class=[is_time.then_some("time")] maxlength="500" spellcheck="false" title=(key.about)
                    placeholder=[is_time.then_some("11:23 or 2031-01-15 11:23")]
                    inputmode=[mode(&key.kind)] aria-invalid=[invalid] aria-describedby=[about];
            }
            @if name == typing::WIND_SPEED { (other_speed(session)) }
            (fault_line(view, name))
        }
    }
}

fn mode(kind: &KeyKind) -> Option<&'static str> {
    match kind {
        KeyKind::Integer(..) => Some("numeric"),
        KeyKind::Number(..) => Some("decimal"),
        _ => None,
    }
}

fn select(
    name: &str,
    value: &str,
    choices: impl Iterator<Item = (String, String)>,
    none: &str,
    invalid: Option<&str>,
    about: Option<&str>,
) -> Markup {
    let choices: Vec<(String, String)> = choices.collect();
    let known = value.is_empty() || choices.iter().any(|(choice, _)| choice == value);
    html! {
        select id=(name) name=(name) data-live aria-invalid=[invalid] aria-describedby=[about] {
            option value="" selected[value.is_empty()] { (none) }
            @for (choice, words) in &choices {
                option value=(choice) selected[choice == value] { (words) }
            }
            @if !known { option value=(value) selected { (value) } }
        }
    }
}

/// Levels taken in or out, elements withheld.
fn orders(session: &Session) -> Markup {
    html! {
        section #orders aria-labelledby="orders-h" tabindex="-1" {
            h2 #orders-h { "Orders" }
            (given(session))
            fieldset {
                legend { "A level" }
                div.row {
                    label.unseen for="level.action" { "In or out" }
                    select id="level.action" name="level.action" data-enter="do-level" {
                        option value="drop" { "leave out" }
                        option value="force" { "take in" }
                    }
                    label for="level.pressure_hpa" { "at hPa" }
                    input.short id="level.pressure_hpa" name="level.pressure_hpa" type="text"
                        inputmode="decimal" maxlength="20" value=(session.pick) data-enter="do-level";
                }
                div.row {
                    label for="level.reason" { "Reason" }
                    input id="level.reason" name="level.reason" type="text" maxlength="200" data-enter="do-level";
                    button #do-level type="submit" formaction="/do/level" { "Order" }
                }
            }
            fieldset {
                legend { "Withhold in a layer" }
                div.row {
                    label.unseen for="withhold.element" { "Element" }
                    select id="withhold.element" name="withhold.element" data-enter="do-withhold" {
                        option value="humidity" { "humidity" }
                        option value="temperature" { "temperature" }
                        option value="wind" { "wind" }
                    }
                    label for="withhold.from_hpa" { "from hPa" }
                    input.short id="withhold.from_hpa" name="withhold.from_hpa" type="text"
                        inputmode="decimal" maxlength="20" data-enter="do-withhold";
                    label for="withhold.to_hpa" { "to" }
                    input.short id="withhold.to_hpa" name="withhold.to_hpa" type="text"
                        inputmode="decimal" maxlength="20" data-enter="do-withhold";
                }
                div.row {
                    label for="withhold.reason" { "Reason" }
                    input id="withhold.reason" name="withhold.reason" type="text" maxlength="200" data-enter="do-withhold";
                    button #do-withhold type="submit" formaction="/do/withhold" { "Order" }
                }
            }
            (answer_line(session, "answer-orders", Answered::Orders))
        }
    }
}

/// The orders that stand.
fn given(session: &Session) -> Markup {
    let draft = &session.state.draft;
    html! {
        ul.orders #given {
            @for table in ["level", "withhold", "doubtful"] {
                @for (number, order) in draft.orders(table).iter().enumerate() {
                    li {
                        span { (order_in_words(table, order)) }
                        button.quiet type="submit" id={ "back-" (table) "-" (number) } form="sheet" formaction="/do/back"
                            name="which" value={ (table) " " (number) }
                            aria-label={ "Take back: " (order_in_words(table, order)) } { "Take back" }
                    }
                }
            }
        }
    }
}

/// An order in words.
fn order_in_words(table: &str, order: &[(String, String)]) -> String {
    let get = |name: &str| {
        let found = order.iter().find(|(key, _)| key == name);
        found.map_or("", |(_, value)| value.as_str())
    };
    let what = match (table, get("action")) {
        ("level", "force") => format!("level at {} hPa in", get("pressure_hpa")),
        ("level", _) => format!("level at {} hPa out", get("pressure_hpa")),
        _ => {
            let word = if table == "withhold" {
                "withheld"
            } else {
                "doubtful"
            };
            format!(
                "{} {word} from {} to {} hPa",
                get("element"),
                get("from_hpa"),
                get("to_hpa")
            )
        }
    };
    match get("reason") {
        "" => format!("{what}: no reason given"),
        reason => format!("{what}: {reason}"),
    }
}

fn rest(view: &View, session: &Session) -> Markup {
    html! {
        section #rest aria-labelledby="rest-h" tabindex="-1" {
            h2 #rest-h { "The rest of the sheet" }
            @for (name, title) in labels::rest() {
                details id={ "rest-" (name) } {
                    summary { (title) }
                    @if name == GROUND_CHECK { (ground_now(view)) }
                    div.fields.wide {
                        @for key in keys_of(name) { (input(&key, view, session)) }
                    }
                }
            }
            details #sheet-text {
                summary { "The sheet as text" }
                (sheet_now(view))
            }
            p { a href="/sheet.toml" download="sheet.toml" { "Save the sheet" } }
        }
    }
}

/// What came of the ground check, before anything is released.
fn ground_now(view: &View) -> Markup {
    html! {
        p.hint #ground-now role="status" hidden[view.ground_check.is_none()] {
            @if let Some(verdict) = &view.ground_check {
                @let sign = match verdict.result {
                    GroundCheckResult::Go => "good",
                    GroundCheckResult::LookAgain | GroundCheckResult::Incomplete => "warning",
                };
                (super::mark(sign)) " Before release: " b { (verdict) }
            }
        }
    }
}

fn sheet_now(view: &View) -> Markup {
    html! { pre #sheet-now tabindex="0" role="region" aria-label="The sheet as text" { (view.sheet_text) } }
}
