//! Names of files (WMO-No. 386 Att. II-15).

use jiff::civil::DateTime;

use super::Bulletin;

/// The greatest running number; after it they start again with 1.
pub const LAST_NUMBER: u32 = 99_999_999;

/// The general name of the file of one bulletin, made at that time (UTC):
/// `A_TTAAiiCCCCYYGGgg[BBB]_C_CCCC_yyyyMMddhhmmss.txt`, `.bin` for BUFR.
#[must_use]
pub fn general(bulletin: &Bulletin<'_>, made: DateTime) -> String {
    let heading = &bulletin.heading;
    let product: String = heading
        .to_string()
        .chars()
        .filter(|c| !c.is_whitespace())
        .collect();
    let kind = if bulletin.binary { "bin" } else { "txt" };
    format!(
        "A_{product}_C_{}_{:04}{:02}{:02}{:02}{:02}{:02}.{kind}",
        heading.centre,
        made.year(),
        made.month(),
        made.day(),
        made.hour(),
        made.minute(),
        made.second(),
    )
}

/// The name of a file of messages by centre and running number: `CCCCNNNNNNNN.a`, `.b`
/// where one of them is BUFR.
#[must_use]
pub fn running(centre: &str, number: u32, bulletins: &[Bulletin<'_>]) -> String {
    let kind = match bulletins.iter().any(|bulletin| bulletin.binary) {
        true => 'b',
        false => 'a',
    };
    format!("{centre}{number:08}.{kind}")
}

/// The running number after another.
#[must_use]
pub fn next_number(number: u32) -> u32 {
    match number {
        LAST_NUMBER.. => 1,
        number => number + 1,
    }
}
