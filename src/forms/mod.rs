//! The forms of a report, each written from the report and read back into one: the
//! text of the code forms, BUFR, JSON, files of bulletins, and the notification of WIS2.
//!
//! Siblings: what is rounded is rounded once, in the units of the form.

pub mod bufr;
#[cfg(feature = "arrow")]
pub mod columnar;
pub mod gts;
pub mod json;
pub mod text;
pub mod wis2;
