//! Message → report: the values that its figures stand for.

use super::choose::NotSounding;
use super::meaning::Meaning;
use super::seen::Seen;
use super::{Layout, Received, Sounding, pieces, unused};
use crate::model::finding::{Finding, Place};
use crate::tables::BUFR_TABLE_VERSION;

/// The reports of a message, one a subset.
///
/// A report has the message's own roles; levels without one are rows of the whole
/// profile. Layers without data follow from the bits that begin and end them.
///
/// # Errors
/// A template without a sounding in it, or a message without its time.
pub fn to_report(received: &Received) -> Result<Vec<Sounding>, NotSounding> {
    let message = &received.message;
    let layout = Layout::of(&message.template, &message.section1).map_err(|(_, fault)| fault)?;
    let meaning = Meaning::of(message, &layout)?;
    let mut common = Vec::new();
    if message.section1.table_version > BUFR_TABLE_VERSION {
        let what = format!(
            "the message uses master table version {}; the tables here are version {BUFR_TABLE_VERSION}",
            message.section1.table_version
        );
        common.push(
            Finding::info("newer-tables", Place::default(), what)
                .allowed("elements keep their meaning from version to version"),
        );
    }
    if let Some(fault) = &received.unread {
        let what = format!("what follows the levels was not read: {fault}");
        common.push(Finding::info("descriptors-unread", Place::default(), what));
    } else if received.spare_bits >= 32 {
        let what = format!(
            "section 4 has {} bits after the last value",
            received.spare_bits
        );
        common.push(Finding::warning("bits-left-over", Place::default(), what));
    }
    if meaning.level_by_subset {
        let mut sounding = pieces::sounding(&layout, &meaning, message)?;
        sounding.findings.splice(0..0, common);
        return Ok(vec![sounding]);
    }
    message
        .values
        .iter()
        .map(|values| {
            let seen = Seen::of(&layout, values)?;
            let mut sounding = seen.sounding(&meaning, &message.section1)?;
            sounding.findings.extend(unused::tell(&seen));
            sounding.findings.splice(0..0, common.iter().cloned());
            Ok(sounding)
        })
        .collect()
}
