//! A look through a file whose columns are not known: what each of them may be, by its
//! name, its unit and its values. No reader uses a guess.

mod above;
mod guess;
mod stats;
pub(crate) mod survey;
