//! The messages of a stream, one after the other, of which one alone is in memory.

use std::io::{self, Read};

/// What is read at once, octets.
const CHUNK: usize = 1 << 16;
const START: &[u8] = b"BUFR";

/// One message of a stream.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Message {
    /// Where `BUFR` stands, octets from the start of the stream.
    pub offset: usize,
    /// The message, or what is left of the stream where its length reaches past the end.
    pub bytes: Vec<u8>,
}

/// Finds messages as [`crate::forms::bufr::frames`] does, in a stream of any length.
#[derive(Debug)]
pub struct Messages<R> {
    from: R,
    window: Vec<u8>,
    /// Where the window begins, octets from the start of the stream.
    offset: usize,
}

impl<R: Read> Messages<R> {
    /// The messages of a stream.
    pub const fn new(from: R) -> Self {
        Self {
            from,
            window: Vec::new(),
            offset: 0,
        }
    }

    /// The next message; `None` at the end of the stream.
    ///
    /// # Errors
    /// The stream cannot be read.
    pub fn next_message(&mut self) -> io::Result<Option<Message>> {
        loop {
            let found = self.window.windows(START.len()).position(|w| w == START);
            if let Some(at) = found {
                self.forget(at);
                break;
            }
            // `BUFR` may begin in the last octets.
            self.forget(self.window.len().saturating_sub(START.len() - 1));
            let had = self.window.len();
            if !self.fill(had + 1)? {
                return Ok(None);
            }
        }
        self.fill(8)?;
        let length = match *self.window.as_slice() {
            [_, _, _, _, a, b, c, ..] => {
                usize::from(a) << 16 | usize::from(b) << 8 | usize::from(c)
            }
            _ => 0,
        };
        self.fill(length)?;
        let whole = self
            .window
            .get(..length)
            .filter(|message| message.ends_with(b"7777"));
        let length = whole.map(<[u8]>::len);
        // Of a broken one the search goes on after its first four octets.
        let bytes = match whole {
            Some(message) => message.to_vec(),
            None => self.window.clone(),
        };
        let offset = self.offset;
        self.forget(length.unwrap_or(START.len()));
        Ok(Some(Message { offset, bytes }))
    }

    fn forget(&mut self, octets: usize) {
        let octets = octets.min(self.window.len());
        self.window.drain(..octets);
        self.offset += octets;
    }

    /// Whether the window has a number of octets, more read where it has not.
    fn fill(&mut self, octets: usize) -> io::Result<bool> {
        while self.window.len() < octets {
            let missing = octets - self.window.len();
            let most = u64::try_from(missing.max(CHUNK)).unwrap_or(u64::MAX);
            let read = self
                .from
                .by_ref()
                .take(most)
                .read_to_end(&mut self.window)?;
            if read == 0 {
                return Ok(false);
            }
        }
        Ok(true)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops at the first fault")]

    use super::*;
    use crate::forms::bufr::frames;

    /// A stream gives what a file in memory gives: offsets and messages, among other
    /// octets, cut short, one inside another.
    #[test]
    fn a_stream_has_the_messages_of_the_file() {
        let message = |octets: usize| {
            let mut bytes = vec![b'B', b'U', b'F', b'R', 0, 0, 0, 4];
            bytes.resize(octets - 4, 1);
            bytes.extend(b"7777");
            let length = u32::try_from(octets).unwrap().to_be_bytes();
            bytes[4..7].copy_from_slice(&length[1..]);
            bytes
        };
        let large = message(3 * CHUNK);
        let cases = [
            vec![],
            b"no message BUF".to_vec(),
            [
                b"heading ".to_vec(),
                message(20),
                b"\r\nBU".to_vec(),
                message(40),
            ]
            .concat(),
            [vec![0; CHUNK - 2], message(20), large.clone(), message(16)].concat(),
            // The length of the first reaches past the end; another stands inside.
            [large[..100].to_vec(), message(24), vec![0; 9]].concat(),
            b"BUFR".to_vec(),
        ];
        for bytes in cases {
            let mut stream = Messages::new(bytes.as_slice());
            let mut found = Vec::new();
            while let Some(message) = stream.next_message().unwrap() {
                found.push((message.offset, message.bytes));
            }
            let wanted = frames(&bytes);
            assert_eq!(found.len(), wanted.len());
            for ((offset, own), frame) in found.iter().zip(&wanted) {
                assert_eq!(*offset, frame.offset);
                assert!(frame.bytes.starts_with(own));
            }
        }
    }
}
