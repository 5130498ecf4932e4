//! Places, regional practice and headings.

use super::file::{Fault, File, Order, Row, Shape, read, rows};
use super::{
    AREAS, Form, HEADINGS, HEIGHT_APPROXIMATIONS, Once, PILOT_FIXED, Part, T0421, T1845, T3333,
    loaded,
};
use crate::model::{Axis, Reach, Region, StationKind};

/// The unit of a mobile station's elevation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ElevationUnit {
    /// Metres.
    Metres,
    /// Feet.
    Feet,
}

/// The confidence in a mobile station's elevation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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

/// How sure a figure's meaning is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Named in a source that was read, or seen in real messages.
    Seen,
    /// From memory.
    Memory,
    /// From memory and in doubt.
    Unsure,
}

impl Standing {
    /// The words of the tables.
    pub(super) const WORDS: [(&str, Self); 3] = [
        ("seen", Self::Seen),
        ("memory", Self::Memory),
        ("unsure", Self::Unsure),
    ];
}

/// A figure AdfAdf of the groups 101AdfAdf of Region IV (table 0421).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AdditionalData {
    /// The figures, 40–98.
    pub figure: u8,
    /// The kind of meaning: `no_observation termination data doubtful correction early`.
    pub group: &'static str,
    /// What follows.
    pub follows: Follows,
    /// How sure this is.
    pub standing: Standing,
    /// What it means.
    pub meaning: &'static str,
}

/// A data designator of abbreviated headings (WMO-No. 386 Att. II-5).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Heading {
    /// T1T2 of the text code, or T1T2A1 of BUFR.
    pub letters: &'static str,
    /// The kind of station; `None` for land, ship and mobile alike.
    pub kind: Option<StationKind>,
    /// The family.
    pub form: Form,
    /// The parts the bulletin carries, or those that describe its reach.
    pub parts: Vec<Part>,
    /// The range of ii customary for the kind, in BUFR.
    pub ii: Option<(u8, u8)>,
}

impl Heading {
    /// Whether it heads BUFR rather than text.
    #[must_use]
    pub fn is_bufr(&self) -> bool {
        self.letters.len() == 3
    }
}

/// A fixed regional level of PILOT (WMO-No. 306 Vol. I.2, B/C20.10).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FixedLevel {
    /// The Region.
    pub region: Region,
    /// Whether `level` is a height or a pressure.
    pub axis: Axis,
    /// Which of the sets that the Region allows, from 1.
    pub choice: u8,
    /// Height in m, or pressure in hPa.
    pub level: u32,
    /// From here on one more level each so many metres.
    pub every: Option<u32>,
}

/// A height that stands for a standard surface (WMO-No. 306, 32.2.2.2, from
/// memory and unsure).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeightApproximation {
    /// The surface, hPa.
    pub pressure_hpa: u16,
    /// The height, gpm.
    pub height_gpm: u32,
    /// A second recollection of it, gpm.
    pub second_gpm: Option<u32>,
}

static ELEVATIONS: Once<Vec<Elevation>> = Once::new(|| loaded(read_elevations(T1845)));
static QUADRANTS: Once<Vec<(u8, bool, bool)>> = Once::new(|| loaded(read_quadrants(T3333)));
static ADDITIONAL: Once<Vec<AdditionalData>> = Once::new(|| loaded(read_additional(T0421)));
static HEADING: Once<Vec<Heading>> = Once::new(|| loaded(read_headings(HEADINGS)));
static FIXED: Once<Vec<FixedLevel>> = Once::new(|| loaded(read_fixed(PILOT_FIXED)));
static HEIGHTS: Once<Vec<HeightApproximation>> =
    Once::new(|| loaded(read_heights(HEIGHT_APPROXIMATIONS)));

fn read_elevations(file: File) -> Result<Vec<Elevation>, Fault> {
    let columns = &["figure", "unit", "confidence", "limit"];
    let units = [("m", ElevationUnit::Metres), ("ft", ElevationUnit::Feet)];
    let words = [
        ("excellent", ElevationConfidence::Excellent),
        ("good", ElevationConfidence::Good),
        ("fair", ElevationConfidence::Fair),
        ("poor", ElevationConfidence::Poor),
    ];
    read(file, columns, Order::Run(&[(1, 8)]), |row| {
        Ok(Elevation {
            figure: row.number("figure")?,
            unit: row.word("unit", &units)?,
            confidence: row.word("confidence", &words)?,
            limit: row.number("limit")?,
        })
    })
}

/// Figure, whether south, whether west.
fn read_quadrants(file: File) -> Result<Vec<(u8, bool, bool)>, Fault> {
    let columns = &["figure", "latitude", "longitude"];
    let runs = Order::Run(&[(1, 1), (3, 3), (5, 5), (7, 7)]);
    read(file, columns, runs, |row| {
        let south = row.word("latitude", &[("north", false), ("south", true)])?;
        let west = row.word("longitude", &[("east", false), ("west", true)])?;
        Ok((row.number("figure")?, south, west))
    })
}

fn read_additional(file: File) -> Result<Vec<AdditionalData>, Fault> {
    let groups = [
        "no_observation",
        "termination",
        "data",
        "doubtful",
        "correction",
        "early",
    ]
    .map(|group| (group, group));
    let follows = [
        ("nothing", Follows::Nothing),
        ("stability_index", Follows::StabilityIndex),
        ("layer", Follows::Layer),
        ("geopotential", Follows::Geopotential),
        ("mean_winds", Follows::MeanWinds),
        ("data", Follows::Data),
    ];
    let columns = &["figure", "group", "follows", "standing", "meaning"];
    read(file, columns, Order::Rising, |row| {
        Ok(AdditionalData {
            figure: row.number("figure")?,
            group: row.word("group", &groups)?,
            follows: row.word("follows", &follows)?,
            standing: row.word("standing", &Standing::WORDS)?,
            meaning: row.text("meaning")?,
        })
    })
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Zone {
    North,
    Tropics,
    South,
}

/// A quarter of a zone, by its letter A2.
#[derive(Clone, Copy, Debug)]
struct Area {
    letter: char,
    zone: Zone,
    from_deg: f64,
    to_deg: f64,
}

static AREA: Once<Vec<Area>> = Once::new(|| loaded(read_areas(AREAS)));

fn read_areas(file: File) -> Result<Vec<Area>, Fault> {
    let zones = [
        ("north", Zone::North),
        ("tropics", Zone::Tropics),
        ("south", Zone::South),
    ];
    let columns = &["letter", "zone", "from_deg", "to_deg"];
    read(file, columns, Order::Unique, |row| {
        Ok(Area {
            letter: row.number("letter")?,
            zone: row.word("zone", &zones)?,
            from_deg: row.number("from_deg")?,
            to_deg: row.number("to_deg")?,
        })
    })
}

fn read_headings(file: File) -> Result<Vec<Heading>, Fault> {
    let shape = Shape {
        columns: &["letters", "kind", "form", "parts", "ii_from", "ii_to"],
        group: 1,
        order: Order::Unique,
    };
    rows(file, shape)?.iter().map(heading).collect()
}

fn heading(row: &Row) -> Result<Heading, Fault> {
    let kinds = [
        ("any", None),
        ("land", Some(StationKind::Land)),
        ("ship", Some(StationKind::Ship)),
        ("mobile", Some(StationKind::Mobile)),
        ("drop", Some(StationKind::Drop)),
    ];
    let pair = |first: &str, second: &str| -> Result<Option<(u8, u8)>, Fault> {
        let both = (row.optional_number(first)?, row.optional_number(second)?);
        match both {
            (Some(first), Some(second)) => Ok(Some((first, second))),
            (None, None) => Ok(None),
            _ => Err(row.fault(format!("`{first}` and `{second}` stand together"))),
        }
    };
    let parts = row
        .text("parts")?
        .chars()
        .map(|letter| {
            Part::from_letter(letter).ok_or_else(|| row.fault(format!("no part `{letter}`")))
        })
        .collect::<Result<_, _>>()?;
    Ok(Heading {
        letters: row.text("letters")?,
        kind: row.word("kind", &kinds)?,
        form: row.word("form", &[("temp", Form::Temp), ("pilot", Form::Pilot)])?,
        parts,
        ii: pair("ii_from", "ii_to")?,
    })
}

fn read_fixed(file: File) -> Result<Vec<FixedLevel>, Fault> {
    let regions = [
        ("I", Region::I),
        ("II", Region::II),
        ("III", Region::III),
        ("IV", Region::IV),
        ("V", Region::V),
        ("VI", Region::VI),
    ];
    let axes = [("height", Axis::Height), ("pressure", Axis::Pressure)];
    let shape = Shape {
        columns: &["region", "axis", "choice", "level", "every"],
        group: 3,
        order: Order::Rising,
    };
    rows(file, shape)?
        .iter()
        .map(|row| {
            let every: Option<u32> = row.optional_number("every")?;
            if every == Some(0) {
                return Err(row.fault("`every` is 0"));
            }
            Ok(FixedLevel {
                region: row.word("region", &regions)?,
                axis: row.word("axis", &axes)?,
                choice: row.number("choice")?,
                level: row.number("level")?,
                every,
            })
        })
        .collect()
}

fn read_heights(file: File) -> Result<Vec<HeightApproximation>, Fault> {
    let columns = &["pressure_hpa", "height_gpm", "second_gpm"];
    read(file, columns, Order::Falling, |row| {
        Ok(HeightApproximation {
            pressure_hpa: row.number("pressure_hpa")?,
            height_gpm: row.number("height_gpm")?,
            second_gpm: row.optional_number("second_gpm")?,
        })
    })
}

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
        .find(|row| (row.1, row.2) == (south, west))
        .map(|row| row.0)
}

/// Whether the figure Qc means south and whether west; `None` unless 1, 3, 5 or 7.
#[must_use]
pub fn quadrant_signs(figure: u8) -> Option<(bool, bool)> {
    QUADRANTS
        .iter()
        .find(|row| row.0 == figure)
        .map(|row| (row.1, row.2))
}

/// The figures AdfAdf of Region IV (table 0421), rising.
#[must_use]
pub fn additional_data() -> &'static [AdditionalData] {
    &ADDITIONAL
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

/// The fixed levels of PILOT in a Region, on one axis, of one choice (1 unless
/// the Region allows more), rising.
pub fn pilot_fixed(
    region: Region,
    axis: Axis,
    choice: u8,
) -> impl Iterator<Item = &'static FixedLevel> {
    FIXED
        .iter()
        .filter(move |fixed| fixed.region == region && fixed.axis == axis && fixed.choice == choice)
}

/// No sounding balloon comes near this height, m; it bounds repeated levels.
const HIGHEST_M: u32 = 60_000;

/// The heights of the fixed levels of PILOT in a Region, m, rising, repeated
/// ones written out up to 60 000 m.
pub fn pilot_fixed_heights(region: Region, choice: u8) -> impl Iterator<Item = u32> {
    pilot_fixed(region, Axis::Height, choice).flat_map(|fixed| {
        let further = fixed.every.into_iter().flat_map(move |every| {
            (1..)
                .map(move |n| fixed.level.saturating_add(every.saturating_mul(n)))
                .take_while(|level| *level <= HIGHEST_M)
        });
        std::iter::once(fixed.level).chain(further)
    })
}

/// The heights that stand for standard surfaces, from the ground up.
#[must_use]
pub fn height_approximations() -> &'static [HeightApproximation] {
    &HEIGHTS
}
