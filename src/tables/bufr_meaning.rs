//! What stands in BUFR messages of soundings: roles of older tables, other kinds of
//! data, ascents in several messages.

use serde::Deserialize;

use super::bufr::Descriptor;
use super::{B08001, B08040, BUFR_OTHER, BUFR_PIECES, Once, load};
use crate::model::Roles;

/// The roles that a bit or figure stands for.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RoleRow {
    figure: u32,
    #[serde(deserialize_with = "super::file::roles")]
    roles: Roles,
}

static FLAGS: Once<Vec<RoleRow>> = Once::new(|| load(B08001));
static FIGURES: Once<Vec<RoleRow>> = Once::new(|| load(B08040));

/// The roles that the bits of 0 08 001 stand for.
#[must_use]
pub fn roles_of_flags(bits: u32) -> Roles {
    let set = FLAGS.iter().filter(|row| bits & row.figure != 0);
    set.map(|row| row.roles).collect()
}

/// The roles that a figure of 0 08 040 stands for.
#[must_use]
pub fn roles_of_figure(figure: u32) -> Roles {
    let own = FIGURES.iter().find(|row| row.figure == figure);
    own.map_or(Roles::empty(), |row| row.roles)
}

static OTHER: Once<Vec<(Descriptor, &'static str)>> = Once::new(|| load(BUFR_OTHER));

/// Elements that show another kind of data than an ascent, with what it is; the first
/// that stands in a message decides.
#[must_use]
pub fn bufr_other_data() -> &'static [(Descriptor, &'static str)] {
    &OTHER
}

/// What a message holds of an ascent that comes in several.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PieceKind {
    /// Launch, surface observation and end.
    Registration,
    /// Levels as they were received.
    Raw,
    /// Levels as they are reported.
    Processed,
}

/// A template that holds a piece of an ascent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BufrPiece {
    /// Its sequence.
    #[serde(rename = "template")]
    pub descriptor: Descriptor,
    /// What it holds.
    pub kind: PieceKind,
    /// In words.
    pub meaning: &'static str,
}

static PIECES: Once<Vec<BufrPiece>> = Once::new(|| load(BUFR_PIECES));

/// The templates that hold an ascent in several messages.
#[must_use]
pub fn bufr_pieces() -> &'static [BufrPiece] {
    &PIECES
}
