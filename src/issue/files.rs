//! The files of an issue: its outputs, and the sheet it was made with.

use crate::input::sheet::Draft;

/// An output of a flight.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Output {
    /// The symbolic code.
    Text,
    /// The same under its headings.
    Bulletin,
    /// The JSON document.
    Json,
    /// BUFR edition 4.
    Bufr,
    /// The review sheet, which goes along with one of the others.
    Html,
}

impl Output {
    /// All of them, in the order in which they are made.
    pub const ALL: [Self; 5] = [
        Self::Text,
        Self::Bulletin,
        Self::Json,
        Self::Bufr,
        Self::Html,
    ];

    /// Its name, as `--to` has it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Text => "text",
            Self::Bulletin => "bulletin",
            Self::Json => "json",
            Self::Bufr => "bufr",
            Self::Html => "html",
        }
    }

    /// The output of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|output| output.name() == name)
    }

    /// The file it is in the folder of an issue.
    #[must_use]
    pub fn file(self) -> &'static str {
        match self {
            Self::Text => "text.txt",
            Self::Bulletin => "bulletin.txt",
            Self::Json => "report.json",
            Self::Bufr => "sounding.bufr",
            Self::Html => "review.html",
        }
    }
}

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
