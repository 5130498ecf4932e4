//! What the name of a column says of it, by the words of `tables/column_words.csv`.

use crate::input::elements::known::{known, unit};
use crate::tables::{ColumnWord, column_word};

#[cfg(test)]
mod tests;

/// Longest name that is looked at, characters.
const MAX_NAME: usize = 80;
/// Shorter words name a column only when they are its whole name.
const LEAST_PART: usize = 3;

/// What a name says: our columns it can stand for, and the unit in it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::input) struct NameMatch {
    pub(in crate::input) names: Vec<&'static str>,
    pub(in crate::input) unit: Option<String>,
    pub(in crate::input) whole: bool,
    /// Whether a word of the table was found at all.
    pub(in crate::input) found: bool,
}

/// Our names that a column may have by words of its own name alone.
pub(in crate::input) fn by_name(name: &str) -> Vec<&'static str> {
    of_name(name).names
}

/// What a name says.
pub(in crate::input) fn of_name(name: &str) -> NameMatch {
    if name.chars().count() > MAX_NAME {
        return NameMatch::default();
    }
    let (stem, bracket) = without_bracket(name);
    let whole = |word: &ColumnWord, unit: Option<String>| NameMatch {
        names: word.names.clone(),
        unit,
        whole: true,
        found: true,
    };
    if let Some(word) = column_word(&words(&stem).concat()) {
        return whole(word, bracket);
    }
    // A unit behind the name: `Speed_kt`, `Temp C`.
    for (at, c) in stem.char_indices() {
        if !matches!(c, ' ' | '_' | '-' | ',' | '/') {
            continue;
        }
        let (Some(before), Some(after)) = (stem.get(..at), stem.get(at + c.len_utf8()..)) else {
            continue;
        };
        let after = after.trim();
        let of_unit = |name: &&&str| known(name).is_some_and(|k| unit(k, after).is_some());
        if let Some(word) = column_word(&words(before).concat())
            && word.names.iter().find(of_unit).is_some()
        {
            return whole(word, Some(after.to_owned()));
        }
    }
    let words = words(&stem);
    match part(&words) {
        Some(word) => NameMatch {
            names: word.names.clone(),
            unit: bracket,
            whole: false,
            found: true,
        },
        None => NameMatch {
            unit: bracket,
            ..NameMatch::default()
        },
    }
}

/// A name without what stands in brackets at its end, and that.
fn without_bracket(name: &str) -> (String, Option<String>) {
    let name = name.trim();
    for (open, close) in [('[', ']'), ('(', ')'), ('（', '）')] {
        if let Some(inner) = name.strip_suffix(close)
            && let Some((stem, unit)) = inner.rsplit_once(open)
        {
            return (stem.trim().to_owned(), Some(unit.trim().to_owned()));
        }
    }
    (name.to_owned(), None)
}

/// The words of a name in small letters, parted at signs and where a capital
/// begins a word; numbers are left out.
fn words(name: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word = String::new();
    let letters: Vec<char> = name.chars().collect();
    for (i, &c) in letters.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|i| letters.get(i));
        let after = i.checked_add(1).and_then(|i| letters.get(i));
        let begins = c.is_uppercase()
            && (before.is_some_and(|b| b.is_lowercase())
                || (before.is_some_and(|b| b.is_uppercase())
                    && after.is_some_and(|a| a.is_lowercase())));
        if begins || !c.is_alphabetic() {
            words.push(std::mem::take(&mut word));
        }
        if c.is_alphabetic() {
            word.extend(c.to_lowercase());
        }
    }
    words.push(word);
    words.retain(|w| !w.is_empty());
    words
}

/// The longest word of the table within a name; none where a word stands beside
/// it that makes it something else (`temperature error`).
fn part(words: &[String]) -> Option<&'static ColumnWord> {
    let mut found: Vec<(usize, usize, &'static ColumnWord)> = Vec::new();
    for from in 0..words.len() {
        for to in from..words.len() {
            let letters = words.get(from..=to).unwrap_or_default().concat();
            if letters.len() >= LEAST_PART
                && let Some(word) = column_word(&letters)
            {
                found.push((from, to, word));
            }
        }
    }
    let within = |a: &(usize, usize, _), b: &(usize, usize, _)| {
        b.0 <= a.0 && a.1 <= b.1 && b.1 - b.0 > a.1 - a.0
    };
    let longest = |a: &&(usize, usize, &'static ColumnWord)| !found.iter().any(|b| within(a, b));
    let mut kept = found.iter().filter(longest).map(|(_, _, word)| *word);
    let first = kept.next()?;
    if first.names.is_empty() {
        return Some(first);
    }
    for next in kept {
        if next.names.is_empty() {
            return Some(next);
        }
        if next.names != first.names {
            return None;
        }
    }
    Some(first)
}
