//! Counts of what was done to rows, a finding a kind.

use crate::model::finding::{Finding, Place, Severity};
use crate::model::{Axis, Derivation};

/// What can be told of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    ComputedBelowGround,
    BelowGround,
    NoCoordinate,
    WindWithoutPressure,
    NoObservation,
    BelowSurface,
    PressureRises,
    AfterBurst,
    BeforeTop,
    BeforeDescent,
    PressureFalls,
    NothingBelow,
    HumidityBeyond,
    Supersaturated,
    DewpointAbove,
    Disagree,
    HumidityAlone,
    WindIncomplete,
    AltitudeUsed,
    DewpointUsed,
    HumidityUsed,
    ComponentsUsed,
}

/// Severity, code, words after "n rows", and what to do.
type Words = (Severity, &'static str, &'static str, Option<&'static str>);

impl Kind {
    /// In the order in which findings are told.
    const ALL: [Self; 22] = [
        Self::ComputedBelowGround,
        Self::BelowGround,
        Self::NoCoordinate,
        Self::WindWithoutPressure,
        Self::NoObservation,
        Self::BelowSurface,
        Self::PressureRises,
        Self::AfterBurst,
        Self::BeforeTop,
        Self::BeforeDescent,
        Self::PressureFalls,
        Self::NothingBelow,
        Self::HumidityBeyond,
        Self::Supersaturated,
        Self::DewpointAbove,
        Self::Disagree,
        Self::HumidityAlone,
        Self::WindIncomplete,
        Self::AltitudeUsed,
        Self::DewpointUsed,
        Self::HumidityUsed,
        Self::ComponentsUsed,
    ];

    /// Whether the rows themselves are left out, not one of their values.
    fn leaves_out(self) -> bool {
        match self {
            Self::ComputedBelowGround
            | Self::BelowGround
            | Self::NoCoordinate
            | Self::WindWithoutPressure
            | Self::NoObservation
            | Self::BelowSurface
            | Self::PressureRises
            | Self::AfterBurst
            | Self::BeforeTop
            | Self::BeforeDescent
            | Self::PressureFalls
            | Self::NothingBelow => true,
            Self::HumidityBeyond
            | Self::Supersaturated
            | Self::DewpointAbove
            | Self::Disagree
            | Self::HumidityAlone
            | Self::WindIncomplete
            | Self::AltitudeUsed
            | Self::DewpointUsed
            | Self::HumidityUsed
            | Self::ComponentsUsed => false,
        }
    }

    /// `None` for what only goes into the list of derived values.
    fn words(self, axis: Axis) -> Option<Words> {
        let pressure = axis == Axis::Pressure;
        let info = |code, what| Some((Severity::Info, code, what, None));
        match self {
            Self::ComputedBelowGround => info(
                "below-ground",
                "below the ground, without observations, left out",
            ),
            Self::BelowGround => Some((
                Severity::Warning,
                "below-ground",
                "with observations more than 5 m below the ground left out",
                Some("check release_m and elevation_m, and that heights are above mean sea level"),
            )),
            Self::NoCoordinate if pressure => info("no-pressure", "without pressure left out"),
            Self::NoCoordinate => info("no-height", "without height left out"),
            Self::WindWithoutPressure => Some((
                Severity::Info,
                "wind-without-pressure",
                "with wind but without pressure left out",
                Some("PILOT carries such winds (--form pilot); WMO-No. 306, 35.1.5"),
            )),
            Self::NoObservation => {
                info("no-observation", "without observations at the top left out")
            }
            Self::BelowSurface => info("below-surface", "below the surface level left out"),
            Self::PressureRises if pressure => info(
                "pressure-rises",
                "with a pressure greater than an earlier one left out",
            ),
            Self::PressureRises => info(
                "height-falls",
                "with a height not above an earlier one left out",
            ),
            Self::AfterBurst => info("after-burst", "after the top of the ascent left out"),
            Self::BeforeTop => info(
                "before-top",
                "before the highest level of the drop left out",
            ),
            Self::BeforeDescent => {
                info("before-descent", "before the start of the descent left out")
            }
            Self::PressureFalls if pressure => info(
                "pressure-falls",
                "with a pressure less than an earlier one of the descent left out",
            ),
            Self::PressureFalls => info(
                "height-rises",
                "with a height not below an earlier one of the descent left out",
            ),
            Self::NothingBelow => info(
                "no-observation",
                "without observations at the end of the descent left out",
            ),
            Self::HumidityBeyond => Some((
                Severity::Warning,
                "humidity-over-105",
                "with a humidity over 105 %, taken as missing",
                Some(
                    "0 to 105 % over water; where it is over ice, write humidity_over = \"ice\" under [profile]",
                ),
            )),
            Self::Supersaturated => info(
                "humidity-over-100",
                "with a humidity over 100 % read as 100 %",
            ),
            Self::DewpointAbove => info(
                "dewpoint-above-temperature",
                "with a dew point above the temperature; humidity taken as 100 %",
            ),
            Self::Disagree => Some((
                Severity::Info,
                "humidity-dewpoint-disagree",
                "whose humidity and dew point disagree by more than 0.5 K",
                Some("each is used as given"),
            )),
            Self::HumidityAlone => info(
                "humidity-without-temperature",
                "with humidity but no temperature; humidity taken as missing",
            ),
            Self::WindIncomplete => info(
                "wind-incomplete",
                "with only one half of a wind; wind taken as missing",
            ),
            Self::AltitudeUsed | Self::DewpointUsed | Self::HumidityUsed | Self::ComponentsUsed => {
                None
            }
        }
    }

    /// What was computed.
    fn derived(self) -> Option<Derivation> {
        match self {
            Self::AltitudeUsed => Some(Derivation::HeightFromAltitude),
            Self::DewpointUsed => Some(Derivation::HumidityFromDewpoint),
            Self::HumidityUsed => Some(Derivation::DewpointFromHumidity),
            Self::ComponentsUsed => Some(Derivation::WindFromComponents),
            _ => None,
        }
    }
}

/// A count and the first line, by kind.
#[derive(Default)]
pub(super) struct Tally([(usize, usize); Kind::ALL.len()]);

impl Tally {
    pub(super) fn add(&mut self, kind: Kind, line: usize) {
        if let Some((count, first)) = self.0.get_mut(kind as usize) {
            if *count == 0 {
                *first = line;
            }
            *count += 1;
        }
    }

    fn seen(&self) -> impl Iterator<Item = (Kind, usize, usize)> {
        Kind::ALL.into_iter().filter_map(|kind| {
            let &(count, first) = self.0.get(kind as usize)?;
            (count > 0).then_some((kind, count, first))
        })
    }

    pub(super) fn derived(&self) -> Vec<Derivation> {
        let derived = self.seen().filter_map(|(kind, ..)| kind.derived());
        derived.collect()
    }

    /// What was left out, for the text of an error.
    pub(super) fn words(&self) -> Vec<String> {
        self.seen()
            .filter_map(|(kind, count, _)| {
                let (_, _, what, _) = kind.words(Axis::Pressure)?;
                kind.leaves_out().then(|| rows(count, what))
            })
            .collect()
    }

    pub(super) fn findings(&self, name: &str, axis: Axis) -> Vec<Finding> {
        let computed: Vec<String> = self
            .seen()
            .filter_map(|(kind, count, _)| Some(rows(count, &format!("with {}", kind.derived()?))))
            .collect();
        let computed = (!computed.is_empty()).then(|| {
            let what = format!("computed: {}", computed.join("; "));
            Finding::info("derived", Place::default().in_file(name), what)
        });
        let told = self.seen().filter_map(|(kind, count, first)| {
            let (severity, code, what, advice) = kind.words(axis)?;
            let place = Place::line(name, first);
            let what = rows(count, what);
            let finding = match severity {
                Severity::Info => Finding::info(code, place, what),
                Severity::Warning => Finding::warning(code, place, what),
                Severity::Error => Finding::error(code, place, what),
            };
            Some(match advice {
                Some(advice) => finding.allowed(advice),
                None => finding,
            })
        });
        told.chain(computed).collect()
    }
}

fn rows(count: usize, what: &str) -> String {
    let noun = if count == 1 { "row" } else { "rows" };
    format!("{count} {noun} {what}")
}
