//! The parts of the page as they were last made, and since when each is so: a page says
//! what it has seen, and is sent what is newer.

use std::collections::BTreeMap;

use serde::Serialize;

/// One text of the page and when it became so.
struct Part {
    text: String,
    since: u64,
}

/// Parts of the page (markup) and values of its fields, by id.
#[derive(Default)]
pub(super) struct Parts {
    markup: BTreeMap<String, Part>,
    values: BTreeMap<String, Part>,
    /// The number of the last change.
    now: u64,
}

/// What is newer than what a page has seen.
#[derive(Debug, PartialEq, Serialize)]
pub(super) struct News<'a> {
    /// The run of the desk that numbers the changes.
    pub(super) boot: &'a str,
    /// The number of the last change.
    pub(super) seen: u64,
    /// Markup by id, each the whole element.
    pub(super) parts: BTreeMap<&'a str, &'a str>,
    /// Values of fields by id.
    pub(super) values: BTreeMap<&'a str, &'a str>,
    /// Whether diagram and table of levels are still to be made.
    pub(super) more: bool,
}

impl Parts {
    /// Takes parts and values as they are now; those that are not given stay.
    pub(super) fn take(
        &mut self,
        markup: impl IntoIterator<Item = (String, String)>,
        values: impl IntoIterator<Item = (String, String)>,
    ) {
        let next = self.now + 1;
        let of_markup = put(&mut self.markup, markup, next);
        let of_values = put(&mut self.values, values, next);
        if of_markup || of_values {
            self.now = next;
        }
    }

    /// The number of the last change.
    pub(super) fn now(&self) -> u64 {
        self.now
    }

    /// What has changed since a page looked; everything for one of another run.
    pub(super) fn news<'a>(&'a self, boot: &'a str, seen: u64, more: bool) -> News<'a> {
        News {
            boot,
            seen: self.now,
            parts: newer(&self.markup, seen),
            values: newer(&self.values, seen),
            more,
        }
    }
}

/// Puts texts where they differ from what stands there; whether any did.
fn put(
    into: &mut BTreeMap<String, Part>,
    texts: impl IntoIterator<Item = (String, String)>,
    since: u64,
) -> bool {
    let mut any = false;
    for (id, text) in texts {
        if into.get(&id).is_none_or(|part| part.text != text) {
            into.insert(id, Part { text, since });
            any = true;
        }
    }
    any
}

fn newer(parts: &BTreeMap<String, Part>, seen: u64) -> BTreeMap<&str, &str> {
    let newer = parts.iter().filter(|(_, part)| part.since > seen);
    newer
        .map(|(id, part)| (id.as_str(), part.text.as_str()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        let one = |(id, text): &(&str, &str)| ((*id).to_owned(), (*text).to_owned());
        pairs.iter().map(one).collect()
    }

    #[test]
    fn a_page_gets_what_it_has_not_seen() {
        let mut parts = Parts::default();
        parts.take(texts(&[("a", "1"), ("b", "1")]), texts(&[("f", "x")]));
        let all = parts.news("boot", 0, false);
        assert_eq!((all.seen, all.parts.len(), all.values.len()), (1, 2, 1));
        // The same again changes nothing; what is not given stays.
        parts.take(texts(&[("a", "1"), ("b", "1")]), texts(&[]));
        assert_eq!(parts.now(), 1);
        parts.take(texts(&[("b", "2")]), texts(&[("f", "x")]));
        let news = parts.news("boot", 1, true);
        assert_eq!((news.seen, news.more), (2, true));
        assert_eq!(news.parts, [("b", "2")].into());
        assert!(news.values.is_empty());
        // A page that has missed several looks once; one of the future gets nothing.
        parts.take(texts(&[("a", "3")]), texts(&[("f", "y")]));
        let news = parts.news("boot", 1, false);
        assert_eq!(news.parts, [("a", "3"), ("b", "2")].into());
        assert_eq!(news.values, [("f", "y")].into());
        assert!(parts.news("boot", 99, false).parts.is_empty());
    }
}
