//! Pieces of markup that every room of the page uses. All of it is HTML and XML at
//! once: every element is closed.

use itertools::Itertools as _;
use maud::{Markup, html};

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
        |v| crate::view::diagram::minus(v, decimals),
    )
}
