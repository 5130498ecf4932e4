//! What a message is, by its descriptors rather than by its template.

use itertools::Itertools;

use super::choose::{self, NotSounding};
use super::field::Field;
use super::node::Node;
use super::seen::{Body, THERMAL, fields, has, is_level_by_subset};
use super::{Descriptor, Layout, Message};
use crate::model::{Axis, Form, StationKind};
use crate::tables;
use crate::tables::{BufrTemplate, PieceKind};

/// What a message of a sounding is.
#[derive(Clone, Copy, Debug)]
pub(super) struct Meaning {
    pub(super) form: Form,
    pub(super) axis: Axis,
    /// From a dropped sonde.
    pub(super) drop: bool,
    /// The template of ours that it goes by, where it does.
    pub(super) template: Option<&'static BufrTemplate>,
    /// Every subset is a level.
    pub(super) level_by_subset: bool,
    /// What it holds of an ascent that comes in several messages.
    pub(super) piece: Option<PieceKind>,
}

impl Meaning {
    /// # Errors
    /// Data of another kind, with what they are; nothing that repeats as levels do.
    pub(super) fn of(message: &Message, layout: &Layout) -> Result<Self, NotSounding> {
        let levels = Body::levels(&layout.nodes);
        let piece = tables::bufr_pieces()
            .iter()
            .find(|piece| message.template.contains(&piece.descriptor))
            .map(|piece| piece.kind);
        let head = fields(&layout.nodes);
        if piece.is_none() {
            other_data(message, &layout.nodes)?;
        }
        let level_by_subset = is_level_by_subset(&layout.nodes);
        if levels.is_empty() && !level_by_subset {
            return Err(NotSounding::NoLevels(described(message)));
        }
        if let Some(template) = choose::found(message) {
            return Ok(Self {
                form: template.form,
                axis: template.axis,
                drop: template.drop,
                template: Some(template),
                level_by_subset,
                piece,
            });
        }
        let level = if levels.is_empty() { &head } else { &levels };
        let listed = tables::subcategories()
            .iter()
            .find(|s| s.figure == message.section1.subcategory);
        let descends = has(&head, &[(8, 91)]);
        let form = if descends || listed.is_some_and(|s| s.form == Form::Descent) {
            Form::Descent
        } else if has(level, &THERMAL) || piece.is_some() {
            Form::Temp
        } else {
            Form::Pilot
        };
        let drop = listed.is_some_and(|s| s.kind == StationKind::Drop)
            || (has(&head, &[(1, 6)]) && !has(&head, &[(1, 1), (1, 11)]));
        Ok(Self {
            form,
            axis: axis(level),
            drop,
            template: None,
            level_by_subset,
            piece,
        })
    }
}

fn axis(level: &[Field]) -> Axis {
    if has(level, &[(7, 4), (10, 4)]) {
        Axis::Pressure
    } else {
        Axis::Height
    }
}

/// Refuses what is no ascent, with what it is.
fn other_data(message: &Message, nodes: &[Node]) -> Result<(), NotSounding> {
    let mut all = message.template.clone();
    every_descriptor(nodes, &mut all);
    let found = tables::bufr_other_data()
        .iter()
        .find(|(element, _)| all.contains(element));
    match found {
        Some((element, meaning)) => Err(NotSounding::Other {
            template: described(message),
            meaning,
            element: *element,
        }),
        None => Ok(()),
    }
}

fn every_descriptor(nodes: &[Node], out: &mut Vec<Descriptor>) {
    for node in nodes {
        match node {
            Node::Field(field) => out.push(field.descriptor),
            Node::Repeat { body, .. } => every_descriptor(body, out),
            Node::Operator(_) | Node::Marker(_) => {}
        }
    }
}

/// The descriptors of section 3, the first with its title.
fn described(message: &Message) -> String {
    const MOST: usize = 5;
    let names = message.template.iter().take(MOST).join(" ");
    let title = message.template.first();
    let title = title.and_then(|d| tables::bufr_sequence_title(*d));
    let more = if message.template.len() > MOST {
        " …"
    } else {
        ""
    };
    match title.filter(|title| !title.is_empty()) {
        Some(title) => format!("{names}{more} ({title})"),
        None => format!("{names}{more}"),
    }
}
