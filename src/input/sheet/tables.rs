//! The tables of a sheet, each in one place.

/// A table of the sheet.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub struct SheetTable {
    /// Its name.
    pub name: &'static str,
    /// Its title on the desk; `None` where the desk has no fields for it.
    pub title: Option<&'static str>,
    /// Whether a sheet to start from has it; the others are for those who look for them.
    pub in_starter: bool,
}

/// The tables in the order in which a sheet is written.
pub const SHEET_TABLES: [SheetTable; 22] = {
    const fn table(
        name: &'static str,
        title: Option<&'static str>,
        in_starter: bool,
    ) -> SheetTable {
        SheetTable {
            name,
            title,
            in_starter,
        }
    }
    [
        table("station", Some("Station"), true),
        table("flight", Some("Flight"), true),
        table("ground_check", Some("Ground check of the sonde"), false),
        table("surface", Some("Surface observation"), true),
        table("clouds", Some("Clouds"), true),
        table("equipment", Some("Equipment"), true),
        table("balloon", Some("Balloon"), true),
        table("tracking", Some("Winds from angles"), true),
        table("coding", Some("Coding"), true),
        table("profile", Some("Meaning of the profile"), true),
        table("text", None, false),
        table("columns", None, false),
        table("bulletin", Some("Bulletin"), true),
        table("section9", None, false),
        table("section10", None, false),
        table("bufr", Some("BUFR"), false),
        table("wis2", Some("WIS2"), false),
        table("schedule", None, false),
        table("handover", None, false),
        table("level", None, false),
        table("withhold", None, false),
        table("doubtful", None, false),
    ]
};
