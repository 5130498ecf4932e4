//! Why a level was chosen.

use std::borrow::Cow;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Why a level was chosen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reason {
    /// In words.
    pub text: String,
    /// The rule.
    pub clause: Cow<'static, str>,
}

impl Reason {
    /// How the reason of an additional level begins, which is there for the limits
    /// alone.
    pub(crate) const WITHOUT: &str = "without it";

    /// The same for one that the ratio of neighbouring pressures asks for.
    pub(crate) const RATIO: &str = "pressure of neighbours";

    /// Whether the level is additional by this reason: another choice of levels
    /// may do without it.
    #[must_use]
    pub fn is_additional(&self) -> bool {
        self.text.starts_with(Self::WITHOUT) || self.text.starts_with(Self::RATIO)
    }
}
