//! Places, regional practice and headings.

use serde::Deserialize;

use super::{AREAS, Form, HEADINGS, HEIGHT_APPROXIMATIONS, Once, Part, T0421, T1845, T3333, load};
use crate::model::{Reach, StationKind};

/// The unit of a mobile station's elevation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
pub enum ElevationUnit {
    /// Metres.
    #[serde(rename = "m")]
    Metres,
    /// Feet.
    #[serde(rename = "ft")]
    Feet,
}

/// The confidence in a mobile station's elevation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ElevationConfidence {
    /// Excellent.
    Excellent,
    /// Good.
    Good,
    /// Fair.
    Fair,
    /// Poor: off by more than the limit.
    Poor,
}

/// A figure im (code table 1845, BUFR 0 33 024).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Elevation {
    /// The figure, 1–8.
    pub figure: u8,
    /// The unit.
    pub unit: ElevationUnit,
    /// The confidence.
    pub confidence: ElevationConfidence,
    /// How far off the elevation may be, in that unit.
    pub limit: u8,
}

/// What follows a group 101AdfAdf.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Follows {
    /// Nothing.
    Nothing,
    /// The stability index, 000IsIs.
    StabilityIndex,
    /// A layer, 0P1P1P2P2.
    Layer,
    /// A geopotential, PPhhh.
    Geopotential,
    /// Two mean winds, ddfff ddfff.
    MeanWinds,
    /// Other data.
    Data,
}

pub use crate::model::Standing;

/// The kinds of meaning in table 0421.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AdditionalGroup {
    /// Why there is no report.
    NoObservation,
    /// Why the ascent ended.
    Termination,
    /// Data.
    Data,
    /// A doubtful layer.
    Doubtful,
    /// A correction.
    Correction,
    /// Early data.
    Early,
}

/// A figure AdfAdf of the groups 101AdfAdf of Region IV (table 0421).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AdditionalData {
    /// The figures, 40–98.
    pub figure: u8,
    /// The kind of meaning.
    pub group: AdditionalGroup,
    /// What follows.
    pub follows: Follows,
    /// How sure this is.
    pub standing: Standing,
    /// What it means.
    pub meaning: &'static str,
}

/// A data designator of abbreviated headings (WMO-No. 386 Att. II-5).
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Heading {
    /// T1T2 of the text code, or T1T2A1 of BUFR.
    pub letters: &'static str,
    /// The kind of station; `None` for land, ship and mobile alike.
    pub kind: Option<StationKind>,
    /// The family.
    pub form: Form,
    /// The parts the bulletin carries, or those that describe its reach.
    #[serde(deserialize_with = "super::file::parts")]
    pub parts: Vec<Part>,
    /// The lowest ii customary for the kind, in BUFR.
    pub ii_from: Option<u8>,
    /// The highest.
    pub ii_to: Option<u8>,
}

impl Heading {
    /// Whether it heads BUFR rather than text.
    #[must_use]
    pub fn is_bufr(&self) -> bool {
        self.letters.len() == 3
    }

    /// The range of ii customary for the kind, in BUFR.
    #[must_use]
    pub fn ii(&self) -> Option<(u8, u8)> {
        self.ii_from.zip(self.ii_to)
    }
}

/// A height that stands for a standard surface (WMO-No. 306, 32.2.2.2, from
/// memory and unsure).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HeightApproximation {
    /// The surface, hPa.
    pub pressure_hpa: u16,
    /// The height, gpm.
    pub height_gpm: u32,
    /// A second recollection of it, gpm.
    pub second_gpm: Option<u32>,
}

/// A figure Qc (code table 3333).
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Quadrant {
    figure: u8,
    latitude: Hemisphere,
    longitude: Hemisphere,
}

#[derive(Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Hemisphere {
    North,
    South,
    East,
    West,
}

impl Quadrant {
    /// Whether it is south, and whether west.
    fn signs(&self) -> (bool, bool) {
        let south = self.latitude == Hemisphere::South;
        (south, self.longitude == Hemisphere::West)
    }
}

static ELEVATIONS: Once<Vec<Elevation>> = Once::new(|| load(T1845));
static QUADRANTS: Once<Vec<Quadrant>> = Once::new(|| load(T3333));
static ADDITIONAL: Once<Vec<AdditionalData>> = Once::new(|| load(T0421));
static HEADING: Once<Vec<Heading>> = Once::new(|| load(HEADINGS));
static HEIGHTS: Once<Vec<HeightApproximation>> = Once::new(|| load(HEIGHT_APPROXIMATIONS));

#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Zone {
    North,
    Tropics,
    South,
}

/// A quarter of a zone, by its letter A2.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Area {
    letter: char,
    zone: Zone,
    from_deg: f64,
    to_deg: f64,
}

static AREA: Once<Vec<Area>> = Once::new(|| load(AREAS));

/// All figures im (code table 1845).
#[must_use]
pub fn elevations() -> &'static [Elevation] {
    &ELEVATIONS
}

/// The figure Qc for a quadrant (code table 3333, from memory).
#[must_use]
pub fn quadrant_figure(south: bool, west: bool) -> Option<u8> {
    QUADRANTS
        .iter()
        .find(|row| row.signs() == (south, west))
        .map(|row| row.figure)
}

/// Whether the figure Qc means south and whether west; `None` unless 1, 3, 5 or 7.
#[must_use]
pub fn quadrant_signs(figure: u8) -> Option<(bool, bool)> {
    QUADRANTS
        .iter()
        .find(|row| row.figure == figure)
        .map(Quadrant::signs)
}

/// The figures AdfAdf of Region IV (table 0421), rising.
#[must_use]
pub fn additional_data() -> &'static [AdditionalData] {
    &ADDITIONAL
}

/// The group 101AdfAdf of a figure (table 0421).
#[must_use]
pub fn additional_group(figure: u8) -> String {
    format!("101{figure}")
}

/// What a group 101AdfAdf means (table 0421).
#[must_use]
pub fn additional(group: &str) -> Option<&'static AdditionalData> {
    let mut rows = ADDITIONAL.iter();
    rows.find(|row| additional_group(row.figure) == group)
}

/// All data designators of headings.
#[must_use]
pub fn headings() -> &'static [Heading] {
    &HEADING
}

/// T1T2 for one part in the text code; `None` for a PILOT of a drop.
#[must_use]
pub fn text_heading(form: Form, kind: StationKind, part: Part) -> Option<&'static Heading> {
    HEADING.iter().find(|heading| {
        !heading.is_bufr()
            && heading.form == form
            && match heading.kind {
                None => kind != StationKind::Drop && heading.parts == [part],
                Some(only) => only == kind && heading.parts.contains(&part),
            }
    })
}

/// T1T2A1 for BUFR; a drop has one for either reach, and none for PILOT.
#[must_use]
pub fn bufr_heading(form: Form, kind: StationKind, reach: Reach) -> Option<&'static Heading> {
    let mut fitting = HEADING
        .iter()
        .filter(|heading| heading.is_bufr() && heading.form == form && heading.kind == Some(kind));
    let whole = reach == Reach::Whole;
    fitting.find(|heading| kind == StationKind::Drop || heading.parts.contains(&Part::C) == whole)
}

/// A2 of a BUFR heading for a place, by hemisphere; the tropical belt is not
/// taken (its letters are E to H, its limits not at hand).
#[must_use]
pub fn area_letter(latitude_deg: f64, longitude_deg: f64) -> Option<char> {
    let zone = if latitude_deg < 0.0 {
        Zone::South
    } else {
        Zone::North
    };
    AREA.iter()
        .find(|a| a.zone == zone && (a.from_deg..=a.to_deg).contains(&longitude_deg))
        .map(|a| a.letter)
}

/// The heights that stand for standard surfaces, from the ground up.
#[must_use]
pub fn height_approximations() -> &'static [HeightApproximation] {
    &HEIGHTS
}
