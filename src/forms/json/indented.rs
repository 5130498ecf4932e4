//! The layout of a document: two blanks for each depth, as `serde_json` indents, but each
//! line break with its blanks in one piece. Most of a document is such breaks.

use std::io::{self, Write};

use serde_json::ser::Formatter;

/// What stands between two values: a comma, a line break and blanks.
const BREAK: &[u8] = b",\n                                                                ";

/// Blanks for each depth.
const STEP: usize = 2;

/// Writes each value on a line of its own.
pub(super) struct Indented {
    depth: usize,
    has_value: bool,
}

impl Indented {
    /// The layout of what stands at a depth.
    pub(super) fn new(depth: usize) -> Self {
        Self {
            depth,
            has_value: false,
        }
    }

    /// A line break, with a comma before it after another value.
    fn line<W: ?Sized + Write>(&self, out: &mut W, first: bool) -> io::Result<()> {
        let blanks = STEP * self.depth;
        let start = usize::from(first);
        if let Some(whole) = BREAK.get(start..2 + blanks) {
            return out.write_all(whole);
        }
        out.write_all(BREAK.get(start..2).unwrap_or_default())?;
        (0..blanks).try_for_each(|_| out.write_all(b" "))
    }

    fn begin<W: ?Sized + Write>(&mut self, out: &mut W, bracket: &[u8]) -> io::Result<()> {
        self.depth += 1;
        self.has_value = false;
        out.write_all(bracket)
    }

    fn end<W: ?Sized + Write>(&mut self, out: &mut W, bracket: &[u8]) -> io::Result<()> {
        self.depth = self.depth.saturating_sub(1);
        if self.has_value {
            self.line(out, true)?;
        }
        out.write_all(bracket)
    }
}

impl Formatter for Indented {
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

    fn begin_object_key<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.line(out, first)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        out.write_all(b": ")
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
