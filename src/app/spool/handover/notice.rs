//! The notification of a file that another target has put in its place.
//!
//! It is written once, when that target has the file: its time of publication and with it
//! its identifier stay the same however often it is published, so that receivers can tell
//! one that comes twice.

use std::path::Path;

use jiff::civil::DateTime;

use crate::forms::wis2;
use crate::forms::wis2::{Publication, Wis2Error};
use crate::issue::flat;
use crate::issue::flat::FlatFile;
use crate::issue::folder::{FolderError, Name};
use crate::issue::outputs::Output;
use crate::issue::sent;
use crate::model::Means;

/// What is published of an issue.
pub(super) enum Notice {
    /// A file of two lines: topic and notification.
    Ready(FlatFile),
    /// Nothing, and why.
    Nothing(String),
    /// It cannot be written, and why.
    Unwritten(Wis2Error),
}

/// The name under which the notification of an issue is staged.
pub(super) fn file_name(issue: &Name) -> String {
    format!("{issue}.notification")
}

/// The notification of an issue.
///
/// # Errors
/// The BUFR of the issue cannot be read.
pub(super) fn of(
    out: &Path,
    issue: &Name,
    means: &Means,
    pubtime: DateTime,
) -> Result<Notice, FolderError> {
    let Means::Mqtt { wis2, topic, .. } = means else {
        return Ok(Notice::Nothing("it is not of kind mqtt".to_owned()));
    };
    let Some((octets, mut report)) = sent::sounding(out, issue)? else {
        return Ok(Notice::Nothing("the issue has no BUFR".to_owned()));
    };
    report.context.wis2 = wis2.clone();
    let publication = Publication {
        pubtime,
        update: report.context.bufr.update.unwrap_or(0),
    };
    let name = flat::own_name(issue, Output::Bufr);
    match wis2::share_as(&report, &octets, &name, &publication) {
        Ok(share) => {
            let topic = topic.as_ref().unwrap_or(&share.topic);
            Ok(Notice::Ready(FlatFile {
                name: file_name(issue),
                octets: format!("{topic}\n{}\n", share.notification).into_bytes(),
            }))
        }
        Err(error @ Wis2Error::NoTopic) if topic.is_none() => {
            Ok(Notice::Nothing(error.to_string()))
        }
        Err(error) => Ok(Notice::Unwritten(error)),
    }
}
