//! Messages among other octets: headings before them, several in a file.

/// A message found in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Framed<'a> {
    /// Where `BUFR` stands, octets from the start of the file.
    pub offset: usize,
    /// From `BUFR` to the end of the file.
    pub bytes: &'a [u8],
    /// What stands between the message before and this one.
    pub before: &'a [u8],
}

/// The messages of a file: every `BUFR` that no earlier message has inside.
///
/// A message whose length reaches past the end of the file, or too short to be
/// one, is given once; the search goes on after its first four octets.
#[must_use]
pub fn frames(file: &[u8]) -> Vec<Framed<'_>> {
    const START: &[u8] = b"BUFR";
    let mut found = Vec::new();
    let mut at = 0;
    let mut last = 0;
    while let Some(rest) = file.get(at..) {
        let Some(step) = rest.windows(START.len()).position(|w| w == START) else {
            break;
        };
        let offset = at + step;
        let bytes = file.get(offset..).unwrap_or_default();
        found.push(Framed {
            offset,
            bytes,
            before: file.get(last..offset).unwrap_or_default(),
        });
        let length = match *bytes {
            [_, _, _, _, a, b, c, ..] => {
                usize::from(a) << 16 | usize::from(b) << 8 | usize::from(c)
            }
            _ => 0,
        };
        let whole = bytes
            .get(..length)
            .is_some_and(|message| message.ends_with(b"7777"));
        at = offset + if whole { length } else { START.len() };
        last = at;
    }
    found
}
