//! Bulletins as the telecommunication system exchanges them in files: many messages in
//! one file, each with its length and a format identifier, and the names of such files
//! (Manual on the GTS, WMO-No. 386 Vol. I, Part II, Attachment II-15).

mod names;
#[cfg(test)]
mod tests;

pub use names::{LAST_NUMBER, general, next_number, running};

use thiserror::Error;

use crate::forms::bufr;
use crate::forms::text::{Heading, read_heading};
use crate::model::finding::{Finding, Place, finding};
use crate::tables::transmission_limits;

/// The alignment function between lines.
const BREAK: &[u8] = b"\r\r\n";

/// Start of heading and end of text: the control characters of a starting line and of an
/// end of message.
const START: u8 = 1;
const END: u8 = 3;

/// Figures of the length, and with the format identifier.
const LENGTH: usize = 8;
const PREFIX: usize = LENGTH + 2;

/// One bulletin: what stands under one abbreviated heading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bulletin<'a> {
    /// Its heading.
    pub heading: Heading,
    /// Its octets, from the starting line or the heading.
    pub octets: &'a [u8],
    /// Whether it has BUFR in it, and not text.
    pub binary: bool,
}

impl<'a> Bulletin<'a> {
    /// The bulletin that octets begin with; `None` where they have no heading.
    fn of(octets: &'a [u8]) -> Option<Self> {
        let octets = octets.strip_prefix(BREAK).unwrap_or(octets);
        let mut lines = octets.split(|&b| b == b'\n').take(4);
        let heading = lines.find_map(|line| read_heading(&String::from_utf8_lossy(line)))?;
        let binary = !bufr::frames(octets).is_empty();
        Some(Self {
            heading,
            octets,
            binary,
        })
    }

    /// Warns where it is longer than what is transmitted.
    #[must_use]
    pub fn too_long(&self) -> Option<Finding> {
        let limits = transmission_limits();
        let most = if self.binary {
            limits.binary_octets
        } else {
            limits.text_octets
        };
        let length = self.octets.len();
        let is_long = u32::try_from(length).map_or(true, |length| length > most);
        let heading = self.heading.to_string();
        let place = Place::default();
        is_long.then(|| {
            finding!(
                BulletinTooLong,
                place,
                heading = heading,
                length = length,
                most = most
            )
        })
    }
}

/// Warns where a file has more messages than are allowed in one.
#[must_use]
pub fn too_many(count: usize) -> Option<Finding> {
    let most = transmission_limits().messages;
    let is_many = u32::try_from(count).map_or(true, |count| count > most);
    let place = Place::default();
    is_many.then(|| finding!(TooManyMessages, place, count = count, most = most))
}

/// The bulletins that stand one after the other, without lengths; what stands before the
/// first heading belongs to none.
#[must_use]
pub fn bulletins(octets: &[u8]) -> Vec<Bulletin<'_>> {
    let mut starts = Vec::new();
    let binary = bufr::frames(octets);
    let inside = |at: usize| {
        let of = binary.iter().take_while(|frame| frame.offset <= at).last();
        of.is_some_and(|frame| at < frame.offset + bufr_length(frame.bytes))
    };
    let mut at = 0;
    // Where a starting line began whose heading has not come yet.
    let mut opened = None;
    for line in octets.split_inclusive(|&b| b == b'\n') {
        if !inside(at) {
            // The end of one message and the start of the next may share a line.
            if let Some(start) = line.iter().position(|&b| b == START) {
                opened = Some(at + start);
            }
            if read_heading(&String::from_utf8_lossy(line)).is_some() {
                starts.push(opened.take().unwrap_or(at));
            }
        }
        at += line.len();
    }
    let ends = starts.iter().skip(1).copied().chain([octets.len()]);
    let pieces = starts.iter().zip(ends);
    pieces
        .filter_map(|(&start, end)| Bulletin::of(octets.get(start..end)?))
        .collect()
}

/// How many octets a BUFR message has by its own word, as far as they are there.
fn bufr_length(bytes: &[u8]) -> usize {
    match *bytes {
        [_, _, _, _, a, b, c, ..] => usize::from(a) << 16 | usize::from(b) << 8 | usize::from(c),
        _ => bytes.len(),
    }
}

/// A bulletin as a message of a file: length, format identifier 00 (with starting line
/// and end of message) or 01 (without), message.
#[must_use]
pub fn framed(bulletin: &Bulletin<'_>) -> Vec<u8> {
    let octets = bulletin.octets;
    let (format, message) = if octets.first() == Some(&START) {
        ("00", octets.to_vec())
    } else {
        let text = octets.strip_suffix(BREAK).unwrap_or(octets);
        ("01", [BREAK, text].concat())
    };
    let mut out = format!("{:0width$}{format}", message.len(), width = LENGTH).into_bytes();
    out.extend(message);
    out
}

/// One message of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Framed<'a> {
    /// Where its length stands, octets from the start of the file.
    pub offset: usize,
    /// Its octets: from SOH to ETX, or from the CR CR LF before the heading.
    pub octets: &'a [u8],
}

impl<'a> Framed<'a> {
    /// The bulletin in it; `None` where it has no heading.
    #[must_use]
    pub fn bulletin(&self) -> Option<Bulletin<'a>> {
        Bulletin::of(self.octets)
    }
}

/// What is wrong with a file of messages.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum FrameError {
    /// No length and format identifier where a message should begin.
    #[error(
        "octet {offset}: 8 figures of length and the format identifier 00 or 01 are expected before each message"
    )]
    NoLength {
        /// Octets from the start of the file.
        offset: usize,
    },
    /// The file ends inside a message.
    #[error(
        "octet {offset}: the message is said to have {length} octets and the file has {there} more"
    )]
    Cut {
        /// Octets from the start of the file.
        offset: usize,
        /// The octets that the length says.
        length: usize,
        /// Those that are there.
        there: usize,
    },
}

/// Whether a file begins as one of messages with their lengths.
#[must_use]
pub fn is_framed(start: &[u8]) -> bool {
    let Some((_, after)) = prefix(start) else {
        return false;
    };
    after.is_empty() || after.first() == Some(&START) || b"\r\r\n".starts_with(lead(after))
}

fn lead(octets: &[u8]) -> &[u8] {
    octets.get(..BREAK.len()).unwrap_or(octets)
}

/// Length, and what stands after length and format identifier.
fn prefix(octets: &[u8]) -> Option<(usize, &[u8])> {
    let (prefix, after) = octets.split_at_checked(PREFIX)?;
    let (length, format) = prefix.split_at_checked(LENGTH)?;
    let known = matches!(format, b"00" | b"01");
    let figures = length.iter().all(u8::is_ascii_digit);
    let length = std::str::from_utf8(length).ok()?.parse().ok()?;
    (known && figures).then_some((length, after))
}

/// The messages of a file, up to the first fault; a message of length zero ends it.
#[must_use]
pub fn messages(file: &[u8]) -> (Vec<Framed<'_>>, Option<FrameError>) {
    let mut out = Vec::new();
    let mut rest = file;
    while !rest.iter().all(u8::is_ascii_whitespace) {
        let offset = file.len() - rest.len();
        let Some((length, after)) = prefix(rest) else {
            return (out, Some(FrameError::NoLength { offset }));
        };
        if length == 0 {
            break;
        }
        let Some((octets, following)) = after.split_at_checked(length) else {
            let there = after.len();
            out.push(Framed {
                offset,
                octets: after,
            });
            return (
                out,
                Some(FrameError::Cut {
                    offset,
                    length,
                    there,
                }),
            );
        };
        out.push(Framed { offset, octets });
        rest = following;
    }
    (out, None)
}

/// The text of a file of messages: what is BUFR or a length is left out, line breaks in
/// it are not, so that lines count as in the file.
#[must_use]
pub fn text_of(file: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(file.len());
    let mut at = 0;
    let breaks =
        |octets: &[u8]| -> Vec<u8> { octets.iter().copied().filter(|&b| b == b'\n').collect() };
    for message in messages(file).0 {
        let is_text = bufr::frames(message.octets).is_empty();
        let start = message.offset + PREFIX;
        let end = start + message.octets.len();
        out.extend(breaks(file.get(at..start).unwrap_or_default()));
        match is_text {
            true => out.extend_from_slice(message.octets),
            false => out.extend(breaks(message.octets)),
        }
        // A message without an end is one all the same.
        if message.octets.last() != Some(&END) {
            out.push(END);
        }
        at = end;
    }
    let rest = file.get(at..).unwrap_or_default();
    if bufr::frames(rest).is_empty() {
        out.extend_from_slice(rest);
    }
    out
}
