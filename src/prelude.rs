//! The names that most programs need.
//!
//! ```
//! use fivefig::prelude::*;
//! ```

pub use crate::forms::text::Message;
pub use crate::input::RawRow;
pub use crate::issue::Ascent;
pub use crate::model::{Context, Form, Position, Station, WmoNumber};
pub use crate::{Error, compare};
