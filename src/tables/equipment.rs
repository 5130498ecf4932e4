//! Letters of reports, and figures of instruments and how they were used.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::element::Sign;
use super::file::Rows;
use super::{C02, C07, Form, Once, T0265, T2582, T3845, T3849, load};
use crate::model::StationKind;

/// The letters MiMi of a report (code table 2582).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReportLetters {
    /// The two letters.
    pub letters: &'static str,
    /// The family of the form.
    pub form: Form,
    /// The kind of station.
    pub kind: StationKind,
}

/// A figure a4 (code table 0265).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Measuring {
    /// The figure of the text code, 0–9.
    pub figure: u8,
    /// The figure of BUFR 0 02 003, where there is one.
    pub bufr: Option<u8>,
    /// What it means.
    pub meaning: &'static str,
}

/// A solar and infrared correction (BUFR 0 02 013, code table 3849).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Radiation {
    /// The figure of BUFR 0 02 013.
    pub bufr: u8,
    /// The figure sr of the text code, where there is one.
    pub text: Option<u8>,
    /// What it means.
    pub meaning: &'static str,
}

/// What a figure of Common Code Table C-2 stands for, without its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SondeClass {
    /// A type of radiosonde.
    Radiosonde,
    /// A type of dropsonde.
    Dropsonde,
    /// A target or a ground-based profiler, no radiosonde.
    NoRadiosonde,
    /// A radiosonde not specified or not known.
    Unspecified,
    /// A radiosonde of pressure only.
    PressureOnly,
    /// A radiosonde without pressure.
    NoPressure,
    /// A descending radiosonde.
    Descending,
    /// Blocked, because the text figure is still in use for an older type.
    TextOnly,
    /// Free to be assigned.
    Vacant,
    /// Reserved.
    Reserved,
    /// The missing value of BUFR.
    Missing,
}

/// A figure of Common Code Table C-2.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Radiosonde {
    /// The figure of BUFR 0 02 011.
    pub bufr: u8,
    /// The figure rara of the text code, 0–99, where there is one.
    pub text: Option<u8>,
    /// What it stands for.
    pub class: SondeClass,
    /// From which day, where the table says so.
    pub assigned: Option<Date>,
}

/// The groups of Common Code Table C-7.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TrackingGroup {
    /// Technique of wind finding.
    Tracking,
    /// Status of the ship system.
    Ship,
    /// Status of the sounding system.
    SoundingSystem,
    /// Status of the launch facilities.
    Launch,
    /// Status of the data acquisition system.
    DataAcquisition,
    /// Status of communications.
    Communications,
    /// The system as a whole.
    Overall,
}

/// A figure of Common Code Table C-7.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tracking {
    /// The figure of BUFR 0 02 014; up to 99 also sasa of the text code.
    pub figure: u8,
    /// The group of meanings.
    pub group: TrackingGroup,
    /// Whether the figure has no meaning yet.
    pub reserved: bool,
    /// What it means.
    pub meaning: &'static str,
}

/// A figure sn (code table 3845).
#[derive(Deserialize)]
struct SignFigure {
    figure: u8,
    sign: Sign,
}

static LETTERS: Once<Vec<ReportLetters>> = Once::new(|| load(T2582));
static MEASURING: Once<Vec<Measuring>> = Once::new(|| load(T0265));
static RADIATION: Once<Vec<Radiation>> = Once::new(|| load(T3849));
static RADIOSONDES: Once<Vec<Radiosonde>> = Once::new(|| load(C02));
/// The same, of which a message needs one.
static RADIOSONDE: Once<Rows<u8, Radiosonde>> = Once::new(|| Rows::new(C02));
static TRACKING: Once<Vec<Tracking>> = Once::new(|| load(C07));
static SN: Once<Vec<SignFigure>> = Once::new(|| load(T3845));

/// All letters MiMi (code table 2582).
#[must_use]
pub fn report_letters() -> &'static [ReportLetters] {
    &LETTERS
}

/// All figures a4 (code table 0265).
#[must_use]
pub fn measuring() -> &'static [Measuring] {
    &MEASURING
}

/// The figure of BUFR 0 02 003 for an a4 figure; `None` for 9 (reserved) and above.
#[must_use]
pub fn measuring_bufr(figure: u8) -> Option<u8> {
    MEASURING.get(usize::from(figure))?.bufr
}

/// The a4 figure for a figure of BUFR 0 02 003, where there is one.
#[must_use]
pub fn measuring_figure(bufr: u8) -> Option<u8> {
    let found = MEASURING.iter().find(|row| row.bufr == Some(bufr))?;
    Some(found.figure)
}

/// All radiation corrections (BUFR 0 02 013, code table 3849).
#[must_use]
pub fn radiation() -> &'static [Radiation] {
    &RADIATION
}

/// All figures of Common Code Table C-2, 0–255.
#[must_use]
pub fn radiosondes() -> &'static [Radiosonde] {
    &RADIOSONDES
}

/// A figure of Common Code Table C-2 (BUFR 0 02 011).
#[must_use]
pub fn radiosonde(bufr: u8) -> Option<&'static Radiosonde> {
    RADIOSONDE.get(bufr)
}

/// What a text figure rara meant on a day.
///
/// Text figures were used again: xx stands for BUFR 1xx from the day that was
/// assigned, and for BUFR xx before and where 1xx has none. `None` above 99.
#[must_use]
pub fn radiosonde_from_text(figure: u8, on: Date) -> Option<&'static Radiosonde> {
    let old = radiosonde(figure).filter(|sonde| sonde.text == Some(figure))?;
    let new = radiosonde(figure + 100).filter(|sonde| {
        sonde.text == Some(figure) && sonde.assigned.is_some_and(|assigned| assigned <= on)
    });
    Some(new.unwrap_or(old))
}

/// A figure of Common Code Table C-7 (BUFR 0 02 014, sasa up to 99); `None`
/// above 127.
#[must_use]
pub fn tracking(figure: u8) -> Option<&'static Tracking> {
    TRACKING.get(usize::from(figure))
}

/// The figure sn for a sign (code table 3845, from memory).
#[must_use]
pub fn sign_figure(negative: bool) -> u8 {
    let sign = Sign::of(negative);
    let own = SN.iter().find(|row| row.sign == sign);
    // The table has both signs, which a test checks.
    own.map_or(0, |row| row.figure)
}

/// Whether the figure sn means a negative temperature; `None` above 1.
#[must_use]
pub fn sign_negative(figure: u8) -> Option<bool> {
    let row = SN.iter().find(|row| row.figure == figure)?;
    Some(row.sign.is_negative())
}
