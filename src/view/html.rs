//! The frame of a page and pieces of markup that pages share. All of it is HTML and XML at
//! once: every element is closed.
//!
//! A page needs nothing besides itself: style and script are in it, and its own policy allows
//! only these, by hash.

use std::fmt::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use itertools::Itertools as _;
use maud::{Markup, PreEscaped, html};
use sha2::{Digest as _, Sha256};

use super::diagram::{Theme, outside_xml};

/// The style sheet that pages share.
const STYLE: &str = include_str!("sheet.css");

/// A name and what it stands for.
pub(super) type Entry = (&'static str, String);

/// The head of a page: its kind, its title, and lists beside each other; an empty one is
/// left out.
pub(super) fn header(kind: &str, title: &str, lists: &[(&str, Vec<Entry>)]) -> Markup {
    html! {
        header {
            p class="kind" { (kind) }
            h1 { (title) } "\n"
            div class="about" { "\n"
                @for (name, entries) in lists { @if !entries.is_empty() {
                    section {
                        h2 { (name) }
                        dl { "\n"
                            @for (term, words) in entries {
                                div { dt { (term) } dd { (words) } } "\n"
                            }
                        }
                    } "\n"
                } }
            } "\n"
        } "\n"
    }
}

/// The frame of a page.
pub(super) struct Shell<'a> {
    /// The title.
    pub(super) title: &'a str,
    /// What kind of page it is.
    pub(super) kind: &'a str,
    /// Light or dark.
    pub(super) theme: Theme,
    /// Style of its own, after what pages share.
    pub(super) style: &'a str,
    /// Style sheets that stand in the body.
    pub(super) styles: &'a [&'a str],
    /// The script that stands in the body.
    pub(super) script: Option<&'a str>,
}

impl Shell<'_> {
    /// The page with that body.
    pub(super) fn page(&self, body: Markup) -> String {
        let own = format!("{}{}{}", themed(self.theme), foot(self.title), self.style);
        let styles: Vec<&str> = std::iter::once(own.as_str())
            .chain(self.styles.iter().copied())
            .collect();
        let policy = policy(&styles, self.script);
        let scheme = match self.theme {
            Theme::Auto => "light dark",
            Theme::Light => "light",
            Theme::Dark => "dark",
        };
        let page = html! {
            (PreEscaped("<!DOCTYPE html>\n"))
            html xmlns="http://www.w3.org/1999/xhtml" lang="en" xml:lang="en" { "\n"
                head { "\n"
                    (meta("charset", "utf-8", None))
                    (meta("http-equiv", "Content-Security-Policy", Some(&policy)))
                    (meta("name", "viewport", Some("width=device-width, initial-scale=1")))
                    (meta("name", "color-scheme", Some(scheme)))
                    title { (self.title) " \u{2013} " (self.kind) } "\n"
                    style { (PreEscaped(&own)) } "\n"
                } "\n"
                body { "\n"
                    (body)
                } "\n"
            } "\n"
        };
        page.into_string().replace(outside_xml, "\u{FFFD}")
    }
}

/// A `meta` element, closed as XML asks.
fn meta(name: &str, value: &str, content: Option<&str>) -> Markup {
    html! {
        (PreEscaped(format!("<meta {name}=\"{value}\"")))
        @if let Some(content) = content { (PreEscaped(" content=\"")) (content) (PreEscaped("\"")) }
        (PreEscaped("/>\n"))
    }
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

/// What stands at the foot of every printed page: the title, and the page of all pages
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
fn policy(styles: &[&str], script: Option<&str>) -> String {
    let hash = |text: &str| {
        let digest = Sha256::digest(text.as_bytes());
        format!("'sha256-{}'", STANDARD.encode(digest))
    };
    let styles = styles.iter().map(|text| hash(text)).join(" ");
    let script = script.map_or_else(String::new, |text| format!(" script-src {};", hash(text)));
    format!("default-src 'none'; style-src {styles};{script} base-uri 'none'; form-action 'none'")
}

/// A section under a heading, which names it.
pub(super) fn section(id: &str, heading: &str, body: Markup) -> Markup {
    let named = format!("{id}-heading");
    html! {
        "\n"
        section id=(id) aria-labelledby=(named) {
            h2 id=(named) { (heading) } "\n"
            (body)
        }
        "\n"
    }
}

/// A table with its caption and its row of headings; the columns that hold figures
/// stand on the right.
pub(super) fn table(
    class: Option<&str>,
    caption: &str,
    columns: &[(&str, bool)],
    rows: Markup,
) -> Markup {
    html! {
        div class="wide" {
            table class=[class] {
                caption { (caption) }
                thead { tr {
                    @for (column, figures) in columns {
                        th scope="col" class=[figures.then_some("n")] { (column) }
                    }
                } } "\n"
                tbody { "\n" (rows) }
            }
        }
    }
}

/// A cell with figures.
pub(super) fn figure(text: &str) -> Markup {
    html! { td class="n" { (text) } }
}

/// Levels as the script finds them: numbers with blanks between.
pub(super) fn numbers(levels: &[usize]) -> String {
    levels.iter().join(" ")
}

/// A value with this number of decimals, or a dash.
pub(super) fn value(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(
        || "\u{2013}".to_owned(),
        |v| super::diagram::minus(v, decimals),
    )
}
