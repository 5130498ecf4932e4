//! The sheet that is saved beside the outputs of an issue.

use crate::input::sheet::Draft;

/// The file of the sheet in an issue that was made with the wish to correct it later.
pub const SHEET: &str = "sheet.toml";

/// How a saved sheet names the profile it was written for.
const FOR: &str = "# sheet for the profile ";

/// A sheet as it is saved beside the outputs; its first line names the profile.
#[must_use]
pub fn sheet_text(draft: &Draft, profile: Option<&str>) -> String {
    let sheet = draft.print();
    match profile {
        Some(profile) => format!("{FOR}{profile}\n\n{sheet}"),
        None => sheet,
    }
}

/// The profile that a saved sheet was written for.
#[must_use]
pub fn profile_of(sheet: &str) -> Option<&str> {
    sheet.lines().next()?.strip_prefix(FOR)
}
