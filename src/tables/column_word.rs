//! Words that name the columns of profiles.

use std::collections::{HashMap, HashSet};

use super::file::{Fault, File, Order, read};
use super::{COLUMN_WORDS, Once, loaded};

/// A word that names a column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColumnWord {
    /// The word, in small letters; perhaps several with blanks between them.
    pub word: &'static str,
    /// Our columns it can stand for, the likeliest first; none for a quantity
    /// that looks like one of ours and is not.
    pub names: Vec<&'static str>,
    /// Where the word is from.
    pub source: &'static str,
}

static WORDS: Once<Vec<ColumnWord>> = Once::new(|| loaded(read_words(COLUMN_WORDS)));
static BY_LETTERS: Once<HashMap<String, &'static ColumnWord>> = Once::new(|| {
    let letters = |word: &'static ColumnWord| (word.word.replace(' ', ""), word);
    WORDS.iter().map(letters).collect()
});

pub(super) fn read_words(file: File) -> Result<Vec<ColumnWord>, Fault> {
    let columns = &["word", "name", "source"];
    let mut seen = HashSet::new();
    read(file, columns, Order::Unique, |row| {
        let word = row.text("word")?;
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == ' ';
        if !word.chars().all(plain) {
            return Err(row.fault(format!("`{word}` has more than small letters and blanks")));
        }
        let name = row.text("name")?;
        let names = match name {
            "-" => Vec::new(),
            names => names.split(' ').collect(),
        };
        let source = row.text("source")?;
        Ok((
            row.clone(),
            ColumnWord {
                word,
                names,
                source,
            },
        ))
    })?
    .into_iter()
    .map(|(row, word)| {
        if seen.insert(word.word.replace(' ', "")) {
            Ok(word)
        } else {
            Err(row.fault(format!("`{}` stands twice but for blanks", word.word)))
        }
    })
    .collect()
}

/// Every word, in the order of the table.
#[must_use]
pub fn column_words() -> &'static [ColumnWord] {
    &WORDS
}

/// The word of these letters, blanks left out.
#[must_use]
pub fn column_word(letters: &str) -> Option<&'static ColumnWord> {
    BY_LETTERS.get(letters).copied()
}
