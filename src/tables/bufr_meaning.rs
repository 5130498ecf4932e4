//! What stands in BUFR messages of soundings: roles of older tables, other kinds of
//! data, ascents in several messages.

use super::bufr::Descriptor;
use super::file::{Fault, File, Order, Row, read};
use super::{B08001, B08040, BUFR_OTHER, BUFR_PIECES, Once, loaded};
use crate::model::Roles;

type RoleRows = Vec<(u32, Roles)>;

static FLAGS: Once<RoleRows> = Once::new(|| loaded(read_roles(B08001)));
static FIGURES: Once<RoleRows> = Once::new(|| loaded(read_roles(B08040)));

fn read_roles(file: File) -> Result<RoleRows, Fault> {
    read(file, &["figure", "roles"], Order::Unique, |row| {
        let mut roles = Roles::empty();
        for name in row.text("roles")?.split(' ') {
            let role = Roles::of_name(name);
            roles |= role.ok_or_else(|| row.fault(format!("`{name}` is no role")))?;
        }
        Ok((row.number("figure")?, roles))
    })
}

/// The roles that the bits of 0 08 001 stand for.
#[must_use]
pub fn roles_of_flags(bits: u32) -> Roles {
    let set = FLAGS.iter().filter(|(bit, _)| bits & bit != 0);
    set.fold(Roles::empty(), |all, (_, roles)| all | *roles)
}

/// The roles that a figure of 0 08 040 stands for.
#[must_use]
pub fn roles_of_figure(figure: u32) -> Roles {
    let own = FIGURES.iter().find(|(own, _)| *own == figure);
    own.map_or(Roles::empty(), |(_, roles)| *roles)
}

static OTHER: Once<Vec<(Descriptor, &'static str)>> = Once::new(|| loaded(read_other(BUFR_OTHER)));

fn read_other(file: File) -> Result<Vec<(Descriptor, &'static str)>, Fault> {
    read(file, &["element", "meaning"], Order::Unique, |row| {
        Ok((descriptor(row, "element")?, row.text("meaning")?))
    })
}

fn descriptor(row: &Row, column: &str) -> Result<Descriptor, Fault> {
    let figures = row.text(column)?;
    Descriptor::from_figures(figures)
        .ok_or_else(|| row.fault(format!("`{figures}` is no descriptor")))
}

/// Elements that show another kind of data than an ascent, with what it is; the first
/// that stands in a message decides.
#[must_use]
pub fn bufr_other_data() -> &'static [(Descriptor, &'static str)] {
    &OTHER
}

/// What a message holds of an ascent that comes in several.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PieceKind {
    /// Launch, surface observation and end.
    Registration,
    /// Levels as they were received.
    Raw,
    /// Levels as they are reported.
    Processed,
}

/// A template that holds a piece of an ascent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BufrPiece {
    /// Its sequence.
    pub descriptor: Descriptor,
    /// What it holds.
    pub kind: PieceKind,
    /// In words.
    pub meaning: &'static str,
}

static PIECES: Once<Vec<BufrPiece>> = Once::new(|| loaded(read_pieces(BUFR_PIECES)));

fn read_pieces(file: File) -> Result<Vec<BufrPiece>, Fault> {
    let kinds = [
        ("registration", PieceKind::Registration),
        ("raw", PieceKind::Raw),
        ("processed", PieceKind::Processed),
    ];
    read(
        file,
        &["template", "kind", "meaning"],
        Order::Unique,
        |row| {
            Ok(BufrPiece {
                descriptor: descriptor(row, "template")?,
                kind: row.word("kind", &kinds)?,
                meaning: row.text("meaning")?,
            })
        },
    )
}

/// The templates that hold an ascent in several messages.
#[must_use]
pub fn bufr_pieces() -> &'static [BufrPiece] {
    &PIECES
}
