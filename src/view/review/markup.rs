//! Markup that is HTML and XML at once: every element closed, every attribute
//! quoted, every text escaped.

use crate::view::diagram::escaped;

/// A page under way.
#[derive(Default)]
pub(super) struct Page {
    out: String,
}

impl Page {
    /// Markup of our own, as it stands.
    pub(super) fn raw(&mut self, markup: &str) {
        self.out.push_str(markup);
    }

    /// A text of any content.
    pub(super) fn text(&mut self, text: &str) {
        self.out.push_str(&escaped(text));
    }

    /// Opens an element with attributes of any content.
    pub(super) fn open(&mut self, name: &str, attributes: &[(&str, &str)]) {
        self.out.push('<');
        self.out.push_str(name);
        for (key, value) in attributes.iter().filter(|(_, value)| !value.is_empty()) {
            self.out.push_str(&format!(" {key}=\"{}\"", escaped(value)));
        }
        self.out.push('>');
    }

    /// Closes an element.
    pub(super) fn close(&mut self, name: &str) {
        self.out.push_str(&format!("</{name}>"));
    }

    /// An element that holds a text.
    pub(super) fn element(&mut self, name: &str, attributes: &[(&str, &str)], text: &str) {
        self.open(name, attributes);
        self.text(text);
        self.close(name);
    }

    /// Begins a section under a heading, which names it.
    pub(super) fn section(&mut self, id: &str, heading: &str) {
        let named = format!("{id}-heading");
        self.raw("\n");
        self.open("section", &[("id", id), ("aria-labelledby", &named)]);
        self.element("h2", &[("id", &named)], heading);
        self.raw("\n");
    }

    /// Ends it.
    pub(super) fn end_section(&mut self) {
        self.raw("</section>\n");
    }

    /// The row of headings of a table, begun with its caption; the columns that
    /// hold figures stand on the right.
    pub(super) fn head(&mut self, caption: &str, columns: &[(&str, bool)]) {
        self.element("caption", &[], caption);
        self.raw("<thead><tr>");
        for (column, figures) in columns {
            let class = if *figures { "n" } else { "" };
            self.element("th", &[("scope", "col"), ("class", class)], column);
        }
        self.raw("</tr></thead>\n<tbody>\n");
    }

    /// A cell with figures.
    pub(super) fn figure(&mut self, text: &str) {
        self.element("td", &[("class", "n")], text);
    }

    pub(super) fn finish(self) -> String {
        self.out
    }
}

/// Levels as the script finds them: numbers with blanks between.
pub(super) fn numbers(levels: &[usize]) -> String {
    let numbers: Vec<String> = levels.iter().map(usize::to_string).collect();
    numbers.join(" ")
}

/// A value with so many decimals, or a dash.
pub(super) fn value(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(
        || "\u{2013}".to_owned(),
        |v| crate::view::diagram::minus(v, decimals),
    )
}
