//! The page under way: shapes in the order of drawing, labels for the end.

use std::fmt::Write as _;

use super::labels::{Anchor, Area, Label, Stand, place};
use super::path::{Spot, polyline, tenth};

/// Width and height of the view box; 297 to 210 as A4 across.
pub const WIDTH: f64 = 1280.0;
/// See [`WIDTH`].
pub const HEIGHT: f64 = 905.0;

/// Left free at every edge.
const MARGIN: f64 = 8.0;

/// Sizes of text, in units of the view box: 7 points on A4 across at the least, where
/// 905 units fill 188 mm or more.
pub(super) const SMALL: f64 = 12.0;
pub(super) const PLAIN: f64 = 13.0;
pub(super) const LARGE: f64 = 20.0;

/// What may be written on.
pub(super) fn sheet() -> Area {
    Area::new(MARGIN, MARGIN, WIDTH - MARGIN, HEIGHT - MARGIN)
}

/// A diagram under way.
#[derive(Default)]
pub(super) struct Page {
    out: String,
    labels: Vec<Label>,
    /// Where no label may stand, and where none should.
    pub hard: Vec<Area>,
    pub soft: Vec<Area>,
}

impl Page {
    /// Markup as it stands.
    pub(super) fn raw(&mut self, markup: &str) {
        self.out.push_str(markup);
        self.out.push('\n');
    }

    pub(super) fn path(&mut self, class: &str, data: &str) {
        if !data.is_empty() {
            let _ = writeln!(self.out, r#"<path class="{class}" d="{data}"/>"#);
        }
    }

    /// Curves of one kind as one path.
    pub(super) fn curves<'a>(&mut self, class: &str, curves: impl IntoIterator<Item = &'a [Spot]>) {
        let data: String = curves.into_iter().map(polyline).collect();
        self.path(class, &data);
    }

    pub(super) fn line(&mut self, class: &str, from: Spot, to: Spot) {
        self.path(class, &polyline(&[from, to]));
    }

    pub(super) fn rect(&mut self, class: &str, area: Area) {
        let _ = writeln!(
            self.out,
            r#"<rect class="{class}" x="{:.1}" y="{:.1}" width="{:.1}" height="{:.1}"/>"#,
            area.left,
            area.top,
            area.width(),
            area.height()
        );
    }

    pub(super) fn circle(&mut self, class: &str, (x, y): Spot, radius: f64) {
        let _ = writeln!(
            self.out,
            r#"<circle class="{class}" cx="{:.1}" cy="{:.1}" r="{radius:.1}"/>"#,
            tenth(x),
            tenth(y)
        );
    }

    /// Begins a group that is cut at an area.
    pub(super) fn clipped(&mut self, id: &str, area: Area) {
        let _ = write!(self.out, r#"<clipPath id="clip-{id}">"#);
        let _ = write!(
            self.out,
            r#"<rect x="{:.1}" y="{:.1}" width="{:.1}" height="{:.1}"/></clipPath>"#,
            area.left,
            area.top,
            area.width(),
            area.height()
        );
        let _ = writeln!(self.out, r#"<g id="{id}" clip-path="url(#clip-{id})">"#);
    }

    /// Ends a group.
    pub(super) fn end(&mut self) {
        self.out.push_str("</g>\n");
    }

    /// A curve over which no label should stand: marked every few units.
    pub(super) fn shun(&mut self, points: &[Spot]) {
        const EVERY: f64 = 5.0;
        let mut last: Option<Spot> = None;
        for &at in points {
            if let Some(from) = last {
                let way = (at.0 - from.0).hypot(at.1 - from.1);
                if way < EVERY {
                    continue;
                }
                let steps = (way / EVERY).min(400.0);
                let mut step = 1.0;
                while step < steps {
                    let share = step / steps;
                    let there = (
                        from.0 + (at.0 - from.0) * share,
                        from.1 + (at.1 - from.1) * share,
                    );
                    self.soft.push(Area::around(there, 1.5));
                    step += 1.0;
                }
            }
            self.soft.push(Area::around(at, 1.5));
            last = Some(at);
        }
    }

    /// A text with the places where it may stand.
    pub(super) fn label(&mut self, label: Label) {
        self.labels.push(label);
    }

    /// A small text anywhere on the sheet.
    pub(super) fn small(&mut self, class: &'static str, rank: u8, text: &str, stands: &[Stand]) {
        self.text(class, SMALL, rank, text, stands);
    }

    /// A text of any size anywhere on the sheet.
    pub(super) fn text(
        &mut self,
        class: &'static str,
        size: f64,
        rank: u8,
        text: &str,
        stands: &[Stand],
    ) {
        self.label(Label {
            text: text.to_owned(),
            size,
            class,
            rank,
            stands: stands.to_vec(),
            within: sheet(),
            clear: false,
        });
    }

    /// A text that has its place before all others.
    pub(super) fn fixed(&mut self, class: &'static str, text: &str, at: Spot) {
        self.small(class, 0, text, &[(at.0, at.1, Anchor::Start)]);
    }

    /// What stands before and after the style sheet in SVG 1.1.
    pub(super) fn finish(mut self, title: &str, summary: &str) -> (String, String) {
        let placed = place(std::mem::take(&mut self.labels), &self.hard, &self.soft);
        let mut head = String::new();
        let _ = writeln!(
            head,
            r#"<svg xmlns="http://www.w3.org/2000/svg" class="aero" viewBox="0 0 {WIDTH:.0} {HEIGHT:.0}" width="{WIDTH:.0}" height="{HEIGHT:.0}" role="img" aria-labelledby="aero-title aero-desc">"#
        );
        let (title, summary) = (escaped(title), escaped(summary));
        let _ = writeln!(head, r#"<title id="aero-title">{title}</title>"#);
        let _ = writeln!(head, r#"<desc id="aero-desc">{summary}</desc>"#);
        let mut out = String::with_capacity(self.out.len() + 16_384);
        let _ = writeln!(
            out,
            "\n<rect class=\"paper\" width=\"{WIDTH:.0}\" height=\"{HEIGHT:.0}\"/>"
        );
        out.push_str(&self.out);
        for label in placed {
            let (x, y, anchor) = label.stand;
            let _ = write!(
                out,
                r#"<text x="{:.1}" y="{:.1}" font-size="{:.1}""#,
                tenth(x),
                tenth(y),
                label.size
            );
            if anchor != Anchor::Start {
                let _ = write!(out, r#" text-anchor="{}""#, anchor.word());
            }
            if !label.class.is_empty() {
                let _ = write!(out, r#" class="{}""#, label.class);
            }
            let _ = writeln!(out, ">{}</text>", escaped(&label.text));
        }
        out.push_str("</svg>\n");
        (head, out)
    }
}

/// A text as XML: marks escaped, characters that XML 1.0 cannot hold replaced.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\t' | '\n' | '\r' => out.push(' '),
            _ if outside_xml(c) => out.push('\u{FFFD}'),
            _ => out.push(c),
        }
    }
    out
}

/// Whether a character has no place in a text of XML 1.0 (W3C, 2.2), or is discouraged there.
pub(crate) fn outside_xml(c: char) -> bool {
    !matches!(c, '\t' | '\n' | '\r')
        && matches!(c, '\0'..='\u{1F}' | '\u{7F}'..='\u{9F}' | '\u{FFFE}' | '\u{FFFF}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_escaped() {
        assert_eq!(
            escaped("<script>&\"\u{1}\n'é"),
            "&lt;script&gt;&amp;&quot;\u{FFFD} 'é"
        );
    }
}
