//! The review sheet: one page of HTML on which an operator and a checker look at a
//! report before it is sent.
//!
//! Station and flight, what was found, the diagram, the message group by group with
//! its meaning, the levels with their reasons, and how well the message gives the
//! flight back. A group of the message and the level it stands for mark each other.
//!
//! The page needs nothing besides itself: style and script are in it, and its own
//! policy allows only these two, by hash. The markup is XML as well. Nothing is
//! read or written here, and the same report gives the same bytes.

mod about;
mod groups;
mod levels;
mod markup;
mod verdict;

use std::fmt::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, PreEscaped, html};
use sha2::{Digest as _, Sha256};

use crate::forms::text::{GroupMeaning, Message};
use crate::levels::report::with_every_row;
use crate::model::fidelity::Fidelity;
use crate::model::finding::Finding;
use crate::model::{Part, Profile, Report, Resolution};
use crate::verify::compare::{Difference, Tolerance, compare};
use crate::view::diagram::{Style, Theme, diagram, outside_xml, title};
#[cfg(feature = "cli")]
pub(crate) use about::order;
use markup::section;

/// Our style sheet and our script.
const STYLE: &str = include_str!("sheet.css");
const SCRIPT: &str = include_str!("sheet.js");

/// What a review sheet shows.
#[derive(Clone, Copy, Debug)]
pub struct Sheet<'a> {
    /// The rows of the flight.
    pub profile: &'a Profile,
    /// What is reported of it.
    pub report: &'a Report,
    /// The report in the text code; `None` for a descent, which has none.
    pub message: Option<&'a Message>,
    /// How well the message gives the flight back.
    pub fidelity: &'a Fidelity,
    /// What was found.
    pub findings: &'a [Finding],
    /// What changed since an earlier message.
    pub was: Option<&'a Was>,
    /// Light or dark.
    pub theme: Theme,
}

/// An earlier message, and what differs from it.
#[derive(Clone, Debug)]
pub struct Was {
    /// What it is called: a file name.
    pub name: String,
    /// What differs, the earlier message on the left.
    pub differences: Vec<Difference>,
}

impl Was {
    /// Holds a report against an earlier one: with its figures where the
    /// earlier one was read from text, and with every row where it was read from
    /// BUFR.
    #[must_use]
    pub fn new(
        name: &str,
        earlier: &Report,
        report: &Report,
        message: Option<&Message>,
        profile: &Profile,
    ) -> Self {
        let now = match (earlier.resolution, message) {
            (Resolution::Text, Some(message)) => message.report(),
            (Resolution::Bufr, _) => with_every_row(report, profile),
            _ => report.clone(),
        };
        Self {
            name: name.to_owned(),
            differences: compare(earlier, &now, &Tolerance::coarser(earlier, &now)),
        }
    }
}

/// A group of the message with its place.
struct Group {
    part: Part,
    /// From 1 in its part.
    number: usize,
    reported: GroupMeaning,
}

impl Group {
    /// What the page calls its element.
    fn id(&self) -> String {
        format!("g-{}-{}", self.part.letter(), self.number)
    }

    /// What the page calls its meaning.
    fn meaning_id(&self) -> String {
        format!("m-{}-{}", self.part.letter(), self.number)
    }
}

/// Makes the page.
///
/// ```
/// use fivefig::view::diagram::Theme;
/// use fivefig::view::review::{Sheet, page};
/// use fivefig::input::sheet;
/// use fivefig::input::sheet::Source;
/// use fivefig::model::{Form, Noted, Reach};
/// use fivefig::{input, issue, profile};
///
/// let name = "winter_jet";
/// let text = std::fs::read_to_string(format!("samples/{name}.toml"))?;
/// let rows = std::fs::read(format!("samples/{name}.csv"))?;
/// let (sheet, _) = sheet::read(&[Source { name, text: &text }])?;
/// let raw = input::text::read(&rows, name, &sheet.reading)?.value;
/// let Noted { value: ascent, findings } = profile::build(&raw, &sheet.context)?;
/// let coded = issue::code(Form::Temp, &ascent, &sheet.context, Reach::Whole)?;
/// let html = page(&Sheet {
///     profile: &ascent,
///     report: &coded.report,
///     message: Some(&coded.message),
///     fidelity: &coded.fidelity,
///     findings: &findings,
///     was: None,
///     theme: Theme::Auto,
/// });
/// assert!(html.starts_with("<!DOCTYPE html>") && html.contains(">TTAA</a>"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn page(sheet: &Sheet<'_>) -> String {
    let groups = all_groups(sheet);
    let style = Style {
        theme: sheet.theme,
        inside: true,
    };
    let picture = diagram(sheet.profile, sheet.report, Some(sheet.fidelity), &style);
    let title = title(sheet.report);
    let own = format!("{}{}", themed(sheet.theme), foot(&title));
    let policy = policy(&[&own, &picture.css]);
    let scheme = match sheet.theme {
        Theme::Auto => "light dark",
        Theme::Light => "light",
        Theme::Dark => "dark",
    };
    let shape = html! {
        div class="picture" tabindex="0" role="group" aria-label="diagram, wider than a narrow window" {
            (PreEscaped(picture.to_string()))
        }
    };
    let body = html! {
        (PreEscaped("<!DOCTYPE html>\n"))
        html xmlns="http://www.w3.org/1999/xhtml" lang="en" xml:lang="en" { "\n"
            head { "\n"
                (meta("charset", "utf-8", None))
                (meta("http-equiv", "Content-Security-Policy", Some(&policy)))
                (meta("name", "viewport", Some("width=device-width, initial-scale=1")))
                (meta("name", "color-scheme", Some(scheme)))
                title { (title) " \u{2013} review sheet" } "\n"
                style { (PreEscaped(&own)) } "\n"
            } "\n"
            body { "\n"
                a class="skip" href="#message" { "To the message" } "\n"
                (about::header(sheet, &title))
                main {
                    (verdict::findings(sheet))
                    @if let Some(was) = sheet.was { (verdict::differences(sheet, was)) }
                    (groups::message(sheet, &groups))
                    (section("diagram", "Diagram", shape))
                    (levels::all(sheet, &groups, &picture.levels))
                    (verdict::fidelity(sheet))
                    (groups::meanings(sheet, &groups))
                } "\n"
                script { (PreEscaped(SCRIPT)) } "\n"
            } "\n"
        } "\n"
    };
    body.into_string().replace(outside_xml, "\u{FFFD}")
}

/// A `meta` element, closed as XML asks.
fn meta(name: &str, value: &str, content: Option<&str>) -> Markup {
    html! {
        (PreEscaped(format!("<meta {name}=\"{value}\"")))
        @if let Some(content) = content { (PreEscaped(" content=\"")) (content) (PreEscaped("\"")) }
        (PreEscaped("/>\n"))
    }
}

/// Every group of the message in its order.
fn all_groups(sheet: &Sheet<'_>) -> Vec<Group> {
    let mut out = Vec::new();
    let Some(message) = sheet.message else {
        return out;
    };
    for part in Part::ALL {
        let reported = message.meanings(part, sheet.report).unwrap_or_default();
        out.extend(reported.into_iter().enumerate().map(|(i, reported)| Group {
            part,
            number: i + 1,
            reported,
        }));
    }
    out
}

/// The style sheet for a theme: the dark colours after the light ones, for a
/// reader who asks for dark, for all, or not at all.
fn themed(theme: Theme) -> String {
    let (shapes, dark) = STYLE.split_once("/* dark */\n").unwrap_or((STYLE, ""));
    match theme {
        Theme::Light => shapes.to_owned(),
        Theme::Dark => format!("{shapes}@media screen {{\n{dark}}}\n"),
        Theme::Auto => {
            format!("{shapes}@media screen and (prefers-color-scheme:dark) {{\n{dark}}}\n")
        }
    }
}

/// What stands at the foot of every printed page: the station, and the page of all pages
/// (CSS Paged Media Level 3, 5).
fn foot(title: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '.' | '-');
    let mut text = String::new();
    for c in title.chars() {
        if plain(c) {
            text.push(c);
        } else {
            // An escape of CSS, which is no markup either.
            let _ = write!(text, "\\{:x} ", u32::from(c));
        }
    }
    let font = "font:7pt sans-serif;vertical-align:top";
    format!(
        "@page{{@bottom-left{{content:\"{text}\";{font}}}@bottom-right{{content:counter(page) \" / \" counter(pages);{font}}}}}\n"
    )
}

/// What the page may do: its own styles and script, nothing else, no network.
fn policy(styles: &[&str]) -> String {
    let hash = |text: &str| {
        let digest = Sha256::digest(text.as_bytes());
        format!("'sha256-{}'", STANDARD.encode(digest))
    };
    let styles: Vec<String> = styles.iter().map(|text| hash(text)).collect();
    format!(
        "default-src 'none'; style-src {}; script-src {}; base-uri 'none'; form-action 'none'",
        styles.join(" "),
        hash(SCRIPT)
    )
}
