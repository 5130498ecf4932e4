//! Where an issue stands on its way to the service. The hand-over itself is no part of the
//! desk: this is the one place that asks for its state.

use std::path::Path;

use crate::issue::folder::Name;

/// How far an issue has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum State {
    /// It lies in the folder of issues, and nothing has been handed over.
    NotSent,
}

impl State {
    /// In words, for the list of issues and the answer beside the button.
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::NotSent => "not sent yet",
        }
    }
}

/// The state of an issue in the folder of issues.
pub(super) fn state(_out: &Path, _name: &Name) -> State {
    State::NotSent
}
