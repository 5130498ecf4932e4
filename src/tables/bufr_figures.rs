//! What figures of BUFR code and flag tables mean, in words.

use serde::Deserialize;

use super::bufr::{BufrUnit, Descriptor, bufr_element};
use super::file::Rows;
use super::{BUFR_FIGURES, FigureTable, Once, measuring, radiation};

/// The figures of one table.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Figures {
    #[serde(rename = "fxy")]
    _descriptor: Descriptor,
    from: u32,
    to: u32,
    meaning: &'static str,
}

pub(super) static FIGURES: Once<Rows<Descriptor, Figures>> = Once::new(|| Rows::new(BUFR_FIGURES));

/// What a figure of a code table means, or the bits of a flag table that are set;
/// `None` where the open tables here do not say.
#[must_use]
pub fn bufr_figure(descriptor: Descriptor, figure: u32) -> Option<String> {
    match bufr_element(descriptor)?.unit {
        BufrUnit::Code => code(descriptor, figure).map(str::to_owned),
        BufrUnit::Flags => {
            let set = (0..32).rev().map(|bit| 1_u32 << bit);
            let set = set.filter(|bit| figure & bit != 0);
            let meanings: Option<Vec<&str>> = set.map(|bit| code(descriptor, bit)).collect();
            meanings.filter(|m| !m.is_empty()).map(|m| m.join(", "))
        }
        _ => None,
    }
}

/// Whether a figure has a meaning in the table of its element, or every flag of it that
/// is set; `None` where no table of the element is here.
#[must_use]
pub fn bufr_figure_listed(descriptor: Descriptor, figure: u32) -> Option<bool> {
    if let Some(table) = FigureTable::of(descriptor) {
        return Some(u8::try_from(figure).is_ok_and(|figure| table.lists(figure)));
    }
    let rows = || FIGURES.of(descriptor);
    rows().next()?;
    let listed = |figure| rows().any(|row| (row.from..=row.to).contains(&figure));
    Some(match bufr_element(descriptor)?.unit {
        BufrUnit::Flags => {
            let mut bits = (0..32).map(|bit| figure & (1_u32 << bit));
            bits.all(|bit| bit == 0 || listed(bit))
        }
        _ => listed(figure),
    })
}

fn code(descriptor: Descriptor, figure: u32) -> Option<&'static str> {
    let small = u8::try_from(figure).ok();
    match (descriptor.x(), descriptor.y()) {
        (2, 3) => {
            let own = measuring()
                .iter()
                .find(|m| m.bufr.is_some() && m.bufr == small);
            own.map(|m| m.meaning)
        }
        (2, 13) => {
            let own = radiation().iter().find(|r| Some(r.bufr) == small);
            own.map(|r| r.meaning)
        }
        _ => own_table(descriptor, small).or_else(|| {
            let mut rows = FIGURES.of(descriptor);
            let own = rows.find(|f| (f.from..=f.to).contains(&figure));
            own.map(|f| f.meaning)
        }),
    }
}

/// A figure of a table with a file of its own.
fn own_table(descriptor: Descriptor, figure: Option<u8>) -> Option<&'static str> {
    let row = FigureTable::of(descriptor)?
        .figures()
        .iter()
        .find(|row| Some(row.figure) == figure);
    row.map(|row| row.meaning)
}
