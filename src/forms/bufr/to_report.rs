//! Message → report: the values that its figures stand for.

use super::choose::NotSounding;
use super::meaning::Meaning;
use super::quality::About;
use super::seen::Seen;
use super::{Layout, Received, Sounding, pieces, unused};
use crate::model::finding::{Place, finding};
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
        common.push(finding!(
            NewerTables,
            Place::default(),
            theirs = message.section1.table_version,
            ours = BUFR_TABLE_VERSION
        ));
    }
    if let Some(fault) = &received.unread {
        common.push(finding!(
            DescriptorsUnread,
            Place::default(),
            problem = fault
        ));
    } else if received.spare_bits >= 32 {
        let bits = received.spare_bits;
        common.push(finding!(BitsLeftOver, Place::default(), bits = bits));
    }
    if meaning.level_by_subset {
        let mut sounding = pieces::sounding(&layout, &meaning, received)?;
        sounding.findings.splice(0..0, common);
        return Ok(vec![sounding]);
    }
    message
        .values
        .iter()
        .enumerate()
        .map(|(subset, values)| {
            let seen = Seen::of(&layout, values)?;
            let about = About::new(received, &layout, subset, values);
            let mut sounding = seen.sounding(&meaning, &message.section1, &about)?;
            sounding.findings.extend(unused::tell(&seen));
            sounding.findings.splice(0..0, common.iter().cloned());
            Ok(sounding)
        })
        .collect()
}
