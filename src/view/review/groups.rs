//! The message, each group an element of its own, and the meanings of all groups.

use super::markup::{Page, numbers};
use super::{Group, Sheet};
use crate::model::Part;

/// The message as it is sent: every group leads to its meaning.
pub(super) fn message(page: &mut Page, sheet: &Sheet<'_>, groups: &[Group]) {
    page.section("message", "Message");
    let Some(message) = sheet.message else {
        let what = "A descent has no text code; BUFR carries it. Levels and diagram stand below.";
        page.element("p", &[], what);
        let help = "Point at a level of the diagram or a row of the table: both are marked.";
        page.element("p", &[("id", "readout")], help);
        page.end_section();
        return;
    };
    page.raw("<div class=\"parts\">\n");
    for part in Part::ALL {
        let Some(lines) = message.lines(part) else {
            continue;
        };
        let mut of_part = groups.iter().filter(|group| group.part == part);
        let letters = message.letters(part);
        page.open(
            "div",
            &[
                ("class", "code"),
                ("role", "group"),
                ("aria-label", &format!("Part {}", part.letter())),
                ("data-letters", &letters),
            ],
        );
        for line in lines {
            page.raw("<span class=\"line\">");
            let count = line.split(' ').count();
            for (i, group) in of_part.by_ref().take(count).enumerate() {
                if i > 0 {
                    page.raw(" ");
                }
                one(page, group);
            }
            if line.ends_with('=') {
                page.raw("=");
            }
            page.raw("</span>\n");
        }
        page.raw("</div>\n");
    }
    page.raw("</div>\n");
    let help = "Point at a group, a level of the diagram or a row of the table: what belongs \
         together is marked, and its meaning stands here. A click keeps the mark.";
    page.element("p", &[("id", "readout")], help);
    page.raw("\n");
    page.end_section();
}

fn one(page: &mut Page, group: &Group) {
    let told = &group.told;
    page.element(
        "a",
        &[
            ("class", "group"),
            ("id", &group.id()),
            ("href", &format!("#{}", group.meaning_id())),
            ("title", &told.meaning),
            ("aria-describedby", &group.meaning_id()),
            ("data-levels", &numbers(&told.levels)),
        ],
        &told.group,
    );
}

/// What every group says, a table a part, for those who read without pointing.
pub(super) fn meanings(page: &mut Page, sheet: &Sheet<'_>, groups: &[Group]) {
    if groups.is_empty() {
        return;
    }
    page.section("meanings", "Group by group");
    for part in Part::ALL {
        let of_part: Vec<&Group> = groups.iter().filter(|group| group.part == part).collect();
        if of_part.is_empty() {
            continue;
        }
        let name = format!("Part {}: {} groups", part.letter(), of_part.len());
        page.raw("<details>");
        page.element("summary", &[], &name);
        page.raw("<div class=\"wide\"><table>");
        let columns = [("group", false), ("says", false), ("level", false)];
        page.head(&name, &columns);
        for group in of_part {
            page.raw("<tr>");
            page.open("th", &[("scope", "row")]);
            page.element(
                "a",
                &[("href", &format!("#{}", group.id())), ("class", "m")],
                &group.told.group,
            );
            page.close("th");
            page.element("td", &[("id", &group.meaning_id())], &group.told.meaning);
            page.raw("<td>");
            for (i, level) in group.told.levels.iter().enumerate() {
                if i > 0 {
                    page.raw(" ");
                }
                let place = sheet.report.levels.get(*level);
                let place = place.map_or_else(String::new, super::levels::place);
                page.element("a", &[("href", &format!("#row-{level}"))], &place);
            }
            page.raw("</td></tr>\n");
        }
        page.raw("</tbody></table></div></details>\n");
    }
    page.end_section();
}
