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
mod verdict;

use maud::{PreEscaped, html};

use crate::forms::text::{GroupMeaning, Message};
use crate::levels::report::with_every_row;
use crate::model::fidelity::Fidelity;
use crate::model::finding::Finding;
use crate::model::{Part, Profile, Report, Resolution};
use crate::verify::compare::{Difference, Tolerance, compare};
use crate::view::diagram::{Style, Theme, diagram, title};
use crate::view::html;
use crate::view::html::section;
#[cfg(feature = "cli")]
pub(crate) use about::order;

/// Our script.
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
    let shape = html! {
        div class="picture" tabindex="0" role="group" aria-label="diagram, wider than a narrow window" {
            (PreEscaped(picture.to_string()))
        }
    };
    let body = html! {
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
    };
    html::Shell {
        title: &title,
        kind: "review sheet",
        theme: sheet.theme,
        style: "",
        styles: &[&picture.css],
        script: Some(SCRIPT),
    }
    .page(body)
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
