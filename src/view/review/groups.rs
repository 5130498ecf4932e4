//! The message, each group an element of its own, and the meanings of all groups.

use maud::{Markup, html};

use super::{Group, Sheet};
use crate::model::Part;
use crate::view::html::{numbers, section, table};

/// The message as it is sent: every group leads to its meaning.
pub(super) fn message(sheet: &Sheet<'_>, groups: &[Group]) -> Markup {
    let Some(message) = sheet.message else {
        let body = html! {
            p { "A descent has no text code; BUFR carries it. Levels and diagram stand below." }
            p id="readout" { "Point at a level of the diagram or a row of the table: both are marked." }
        };
        return section("message", "Message", body);
    };
    let body = html! {
        div class="parts" {
            @for part in Part::ALL { @if let Some(lines) = message.lines(part) {
                @let mut of_part = groups.iter().filter(|group| group.part == part);
                div class="code" role="group" aria-label=(format!("Part {}", part.letter()))
                    data-letters=(message.letters(part)) {
                    @for line in lines {
                        span class="line" {
                            @for (i, group) in of_part.by_ref().take(line.split(' ').count()).enumerate() {
                                @if i > 0 { " " }
                                (one(group))
                            }
                            @if line.ends_with('=') { "=" }
                        } "\n"
                    }
                } "\n"
            } }
        } "\n"
        p id="readout" {
            "Point at a group, a level of the diagram or a row of the table: what belongs \
             together is marked, and its meaning stands here. A click keeps the mark."
        }
    };
    section("message", "Message", body)
}

fn one(group: &Group) -> Markup {
    let reported = &group.reported;
    html! {
        a class="group" id=(group.id()) href={ "#" (group.meaning_id()) } title=(reported.meaning)
            aria-describedby=(group.meaning_id()) data-levels=(numbers(&reported.levels)) { (reported.group) }
    }
}

/// The meaning of every group, one table per part, for those who read without pointing.
pub(super) fn meanings(sheet: &Sheet<'_>, groups: &[Group]) -> Markup {
    if groups.is_empty() {
        return Markup::default();
    }
    let place = |level: &usize| {
        let level = sheet.report.levels.get(*level);
        level.map_or_else(String::new, super::levels::place)
    };
    let columns = [("group", false), ("meaning", false), ("level", false)];
    let body = html! {
        @for part in Part::ALL {
            @let of_part: Vec<&Group> = groups.iter().filter(|group| group.part == part).collect();
            @let name = format!("Part {}: {} groups", part.letter(), of_part.len());
            @let rows = html! {
                @for group in &of_part {
                    tr {
                        th scope="row" { a href={ "#" (group.id()) } class="m" { (group.reported.group) } }
                        td id=(group.meaning_id()) { (group.reported.meaning) }
                        td {
                            @for (i, level) in group.reported.levels.iter().enumerate() {
                                @if i > 0 { " " }
                                a href={ "#row-" (level) } { (place(level)) }
                            }
                        }
                    } "\n"
                }
            };
            @if !of_part.is_empty() {
                details {
                    summary { (name) }
                    (table(None, &name, &columns, rows))
                } "\n"
            }
        }
    };
    section("meanings", "Group by group", body)
}
