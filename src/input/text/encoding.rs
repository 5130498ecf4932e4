//! The encoding of a text.

use std::borrow::Cow;

use encoding_rs::{
    GB18030, SHIFT_JIS, UTF_16BE, UTF_16LE, WINDOWS_1250, WINDOWS_1251, WINDOWS_1252,
};

use crate::input::SourceError;
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Encoding, Reading};

/// The bytes by which UTF-16 without a mark is recognised.
const SAMPLE: usize = 1000;

/// A text in UTF-8, as far as it is text at all: what is no UTF-8 after this is refused
/// with its line.
///
/// # Errors
/// Bytes that are none of the encoding.
pub(in crate::input) fn utf8<'a>(
    bytes: &'a [u8],
    name: &str,
    reading: &Reading,
    findings: &mut Vec<Finding>,
) -> Result<Cow<'a, [u8]>, SourceError> {
    let big = is_big_endian(bytes);
    let (encoding, body) = match reading.encoding {
        Some(Encoding::Utf8) => return Ok(Cow::Borrowed(bytes)),
        Some(Encoding::Windows1250) => (WINDOWS_1250, bytes),
        Some(Encoding::Windows1251) => (WINDOWS_1251, bytes),
        Some(Encoding::Windows1252) => (WINDOWS_1252, bytes),
        Some(Encoding::Gb18030) => (GB18030, bytes),
        Some(Encoding::ShiftJis) => (SHIFT_JIS, bytes),
        Some(Encoding::Utf16) if big == Some(true) => (UTF_16BE, bytes),
        Some(Encoding::Utf16) => (UTF_16LE, bytes),
        None => match big {
            Some(true) => (UTF_16BE, bytes),
            Some(false) => (UTF_16LE, bytes),
            None if is_windows_1252(bytes) => {
                findings.push(finding!(EncodingAssumed, Place::default().in_file(name)));
                (WINDOWS_1252, bytes)
            }
            None => return Ok(Cow::Borrowed(bytes)),
        },
    };
    let (text, faulty) = encoding.decode_with_bom_removal(body);
    if faulty {
        let before = text.split('\u{fffd}').next().unwrap_or_default();
        return Err(SourceError::Encoding {
            name: name.to_owned(),
            line: before.matches('\n').count().saturating_add(1),
            encoding: encoding.name(),
        });
    }
    Ok(match text {
        Cow::Borrowed(text) => Cow::Borrowed(text.as_bytes()),
        Cow::Owned(text) => Cow::Owned(text.into_bytes()),
    })
}

/// Whether a text is UTF-16 with the high byte first, or with the low byte; `None` when it
/// is neither. Without a mark it is where most characters are ASCII and no other zero
/// stands between them.
fn is_big_endian(bytes: &[u8]) -> Option<bool> {
    match bytes {
        [0xfe, 0xff, ..] => return Some(true),
        [0xff, 0xfe, ..] => return Some(false),
        _ => {}
    }
    let sample = bytes.get(..SAMPLE).unwrap_or(bytes);
    let zeros = |at: usize| {
        sample
            .iter()
            .skip(at)
            .step_by(2)
            .filter(|b| **b == 0)
            .count()
    };
    let (first, second) = (zeros(0), zeros(1));
    let most = sample.len() / 4;
    match (first, second) {
        (0, low) if low > most => Some(false),
        (high, 0) if high > most => Some(true),
        _ => None,
    }
}

/// Whether a text is no UTF-8 and may be Windows-1252: before the first byte that is no
/// UTF-8 there is ASCII alone, and no byte is one that the code page leaves free or a
/// control character that no text has.
fn is_windows_1252(bytes: &[u8]) -> bool {
    let Err(error) = std::str::from_utf8(bytes) else {
        return false;
    };
    let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
    let free = |b: &u8| {
        matches!(b, 0x81 | 0x8d | 0x8f | 0x90 | 0x9d | 0x7f)
            || (*b < 0x20 && !matches!(b, b'\t' | b'\n' | b'\r' | 0x0c | 0x1a))
    };
    before.is_ascii() && !bytes.iter().any(free)
}
