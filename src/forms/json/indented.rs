//! The layout of a document: two blanks for each depth, as `serde_json` indents, but each
//! line break with its blanks in one piece, and the marks around a key with it. Most of a
//! document is such breaks.

use std::io::{self, Write};

use serde_json::ser::Formatter;

/// Blanks for each depth.
const STEP: &[u8] = b"  ";

/// Writes each value on a line of its own.
pub(super) struct Indented {
    /// What stands between two values and before a key: a comma, a line break, the blanks
    /// of the depth and a quotation mark.
    line: Vec<u8>,
    has_value: bool,
    /// Whether the key that is being written is the first of its object.
    first_key: Option<bool>,
}

impl Indented {
    /// The layout of what stands at a depth.
    pub(super) fn new(depth: usize) -> Self {
        let mut line = b",\n".to_vec();
        (0..depth).for_each(|_| line.extend_from_slice(STEP));
        line.push(b'"');
        Self {
            line,
            has_value: false,
            first_key: None,
        }
    }

    /// A line break, with a comma before it after another value.
    fn line<W: ?Sized + Write>(&self, out: &mut W, first: bool) -> io::Result<()> {
        let end = self.line.len() - 1;
        out.write_all(self.line.get(usize::from(first)..end).unwrap_or_default())
    }

    fn begin<W: ?Sized + Write>(&mut self, out: &mut W, bracket: &[u8]) -> io::Result<()> {
        self.line.pop();
        self.line.extend_from_slice(STEP);
        self.line.push(b'"');
        self.has_value = false;
        out.write_all(bracket)
    }

    fn end<W: ?Sized + Write>(&mut self, out: &mut W, bracket: &[u8]) -> io::Result<()> {
        self.line.truncate(self.line.len() - 1 - STEP.len());
        self.line.push(b'"');
        if self.has_value {
            self.line(out, true)?;
        }
        out.write_all(bracket)
    }
}

impl Formatter for Indented {
    fn begin_string<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        match self.first_key {
            Some(first) => out.write_all(self.line.get(usize::from(first)..).unwrap_or_default()),
            None => out.write_all(b"\""),
        }
    }

    fn end_string<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        match self.first_key.take() {
            Some(_) => out.write_all(b"\": "),
            None => out.write_all(b"\""),
        }
    }

    fn begin_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.begin(out, b"[")
    }

    fn end_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.end(out, b"]")
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.line(out, first)
    }

    fn end_array_value<W: ?Sized + Write>(&mut self, _: &mut W) -> io::Result<()> {
        self.has_value = true;
        Ok(())
    }

    fn begin_object<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.begin(out, b"{")
    }

    fn end_object<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.end(out, b"}")
    }

    /// A key is a string, which writes what stands around it.
    fn begin_object_key<W: ?Sized + Write>(&mut self, _: &mut W, first: bool) -> io::Result<()> {
        self.first_key = Some(first);
        Ok(())
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, _: &mut W) -> io::Result<()> {
        Ok(())
    }

    fn end_object_value<W: ?Sized + Write>(&mut self, _: &mut W) -> io::Result<()> {
        self.has_value = true;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use serde::Serialize;
    use serde_json::ser::Serializer;
    use serde_json::{Value, json};

    use super::*;

    #[test]
    fn the_layout_is_that_of_serde_json() {
        let deep = (0..50).fold(json!(1), |inner, _| json!([{ "a": inner }]));
        for value in [
            json!([]),
            json!({}),
            json!([[], {}, [1], {"a": []}, null]),
            json!({"a": {"b": [1, 2, {"c": "d\n"}]}, "e": [], "f": {}}),
            deep,
        ] {
            let mut out = Vec::new();
            let mut serializer = Serializer::with_formatter(&mut out, Indented::new(0));
            value.serialize(&mut serializer).unwrap();
            let expected = serde_json::to_string_pretty::<Value>(&value).unwrap();
            assert_eq!(String::from_utf8(out).unwrap(), expected);
        }
    }
}
