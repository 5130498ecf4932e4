//! Letters of reports, and figures of instruments and how they were used.

use jiff::civil::Date;
use serde::Serialize;

use super::element::SIGNS;
use super::file::{Fault, File, Order, read};
use super::{C02, C07, Form, Once, T0265, T2582, T3845, T3849, loaded};
use crate::model::StationKind;

/// The letters MiMi of a report (code table 2582).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ReportLetters {
    /// The two letters.
    pub letters: &'static str,
    /// The family of the form.
    pub form: Form,
    /// The kind of station.
    pub kind: StationKind,
}

/// A figure a4 (code table 0265).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Measuring {
    /// The figure of the text code, 0–9.
    pub figure: u8,
    /// The figure of BUFR 0 02 003, where there is one.
    pub bufr: Option<u8>,
    /// What it means.
    pub meaning: &'static str,
}

/// A solar and infrared correction (BUFR 0 02 013, code table 3849).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Radiation {
    /// The figure of BUFR 0 02 013.
    pub bufr: u8,
    /// The figure sr of the text code, where there is one.
    pub text: Option<u8>,
    /// What it means.
    pub meaning: &'static str,
}

/// What a figure of Common Code Table C-2 stands for, without its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tracking {
    /// The figure of BUFR 0 02 014; up to 99 also sasa of the text code.
    pub figure: u8,
    /// The group of meanings.
    pub group: TrackingGroup,
    /// What it means.
    pub meaning: &'static str,
}

impl Tracking {
    /// Whether the figure has no meaning yet.
    #[must_use]
    pub fn is_reserved(&self) -> bool {
        self.meaning == "reserved"
    }
}

static LETTERS: Once<Vec<ReportLetters>> = Once::new(|| loaded(read_letters(T2582)));
static MEASURING: Once<Vec<Measuring>> = Once::new(|| loaded(read_measuring(T0265)));
static RADIATION: Once<Vec<Radiation>> = Once::new(|| loaded(read_radiation(T3849)));
static RADIOSONDES: Once<Vec<Radiosonde>> = Once::new(|| loaded(read_radiosondes(C02)));
static TRACKING: Once<Vec<Tracking>> = Once::new(|| loaded(read_tracking(C07)));
static SN: Once<[u8; 2]> = Once::new(|| loaded(read_sign(T3845)));

fn read_letters(file: File) -> Result<Vec<ReportLetters>, Fault> {
    let forms = [("temp", Form::Temp), ("pilot", Form::Pilot)];
    let kinds = [
        ("land", StationKind::Land),
        ("ship", StationKind::Ship),
        ("mobile", StationKind::Mobile),
        ("drop", StationKind::Drop),
    ];
    read(file, &["letters", "form", "kind"], Order::Unique, |row| {
        Ok(ReportLetters {
            letters: row.text("letters")?,
            form: row.word("form", &forms)?,
            kind: row.word("kind", &kinds)?,
        })
    })
}

fn read_measuring(file: File) -> Result<Vec<Measuring>, Fault> {
    let columns = &["figure", "bufr", "meaning"];
    read(file, columns, Order::Run(&[(0, 9)]), |row| {
        Ok(Measuring {
            figure: row.number("figure")?,
            bufr: row.optional_number("bufr")?,
            meaning: row.text("meaning")?,
        })
    })
}

fn read_radiation(file: File) -> Result<Vec<Radiation>, Fault> {
    let columns = &["bufr", "text", "meaning"];
    read(file, columns, Order::Run(&[(0, 9)]), |row| {
        Ok(Radiation {
            bufr: row.number("bufr")?,
            text: row.optional_number("text")?,
            meaning: row.text("meaning")?,
        })
    })
}

fn read_radiosondes(file: File) -> Result<Vec<Radiosonde>, Fault> {
    let classes = [
        ("radiosonde", SondeClass::Radiosonde),
        ("dropsonde", SondeClass::Dropsonde),
        ("no_radiosonde", SondeClass::NoRadiosonde),
        ("unspecified", SondeClass::Unspecified),
        ("pressure_only", SondeClass::PressureOnly),
        ("no_pressure", SondeClass::NoPressure),
        ("descending", SondeClass::Descending),
        ("text_only", SondeClass::TextOnly),
        ("vacant", SondeClass::Vacant),
        ("reserved", SondeClass::Reserved),
        ("missing", SondeClass::Missing),
    ];
    let columns = &["bufr", "text", "class", "assigned"];
    read(file, columns, Order::Run(&[(0, 255)]), |row| {
        let sonde = Radiosonde {
            bufr: row.number("bufr")?,
            text: row.optional_number("text")?,
            class: row.word("class", &classes)?,
            assigned: row.optional_number("assigned")?,
        };
        if sonde.text.is_some_and(|text| text != sonde.bufr % 100) {
            return Err(row.fault("the text figure is not the last two of the BUFR figure"));
        }
        Ok(sonde)
    })
}

fn read_tracking(file: File) -> Result<Vec<Tracking>, Fault> {
    let groups = [
        ("tracking", TrackingGroup::Tracking),
        ("ship", TrackingGroup::Ship),
        ("sounding_system", TrackingGroup::SoundingSystem),
        ("launch", TrackingGroup::Launch),
        ("data_acquisition", TrackingGroup::DataAcquisition),
        ("communications", TrackingGroup::Communications),
        ("overall", TrackingGroup::Overall),
    ];
    let columns = &["figure", "group", "meaning"];
    read(file, columns, Order::Run(&[(0, 127)]), |row| {
        Ok(Tracking {
            figure: row.number("figure")?,
            group: row.word("group", &groups)?,
            meaning: row.text("meaning")?,
        })
    })
}

/// The figures for zero or above and for below zero.
fn read_sign(file: File) -> Result<[u8; 2], Fault> {
    let columns = &["figure", "sign", "meaning"];
    let pairs: Vec<(u8, bool)> = read(file, columns, Order::Run(&[(0, 1)]), |row| {
        Ok((row.number("figure")?, row.word("sign", &SIGNS)?))
    })?;
    match pairs.as_slice() {
        [(positive, false), (negative, true)] => Ok([*positive, *negative]),
        _ => Err(file.fault_at_end("the signs are not + and then -")),
    }
}

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
    RADIOSONDES.get(usize::from(bufr))
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
    let [zero_or_above, below_zero] = *SN;
    if negative { below_zero } else { zero_or_above }
}

/// Whether the figure sn means a negative temperature; `None` above 1.
#[must_use]
pub fn sign_negative(figure: u8) -> Option<bool> {
    SN.contains(&figure).then(|| figure == sign_figure(true))
}
