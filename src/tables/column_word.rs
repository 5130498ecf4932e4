//! Words that name the columns of profiles.

use std::collections::HashMap;

use serde::Deserialize;

use super::{COLUMN_WORDS, Once, load};

/// A word that names a column.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ColumnWord {
    /// The word, in small letters; perhaps several with blanks between them.
    pub word: &'static str,
    /// Our columns it can stand for, the likeliest first; none for a quantity
    /// that looks like one of ours and is not.
    #[serde(rename = "name", deserialize_with = "super::file::names")]
    pub names: Vec<&'static str>,
    /// Where the word is from.
    pub source: &'static str,
}

static WORDS: Once<Vec<ColumnWord>> = Once::new(|| load(COLUMN_WORDS));
static BY_LETTERS: Once<HashMap<String, &'static ColumnWord>> = Once::new(|| {
    let letters = |word: &'static ColumnWord| (word.word.replace(' ', ""), word);
    WORDS.iter().map(letters).collect()
});

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
