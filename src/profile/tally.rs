//! Counts of what was done to rows, one finding per kind.

use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::{Axis, Derivation};

/// What is reported about a row.
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
    HumidityOver105,
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

impl Kind {
    /// In the order in which findings are reported.
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
        Self::HumidityOver105,
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
            Self::HumidityOver105
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
    fn finding(self, axis: Axis, place: Place, count: usize) -> Option<Finding> {
        let pressure = axis == Axis::Pressure;
        let rows = counted(count, "row");
        Some(match self {
            Self::ComputedBelowGround => finding!(ComputedBelowGround, place, rows = rows),
            Self::BelowGround => finding!(BelowGround, place, rows = rows),
            Self::NoCoordinate if pressure => finding!(NoPressure, place, rows = rows),
            Self::NoCoordinate => finding!(NoHeight, place, rows = rows),
            Self::WindWithoutPressure => finding!(WindWithoutPressure, place, rows = rows),
            Self::NoObservation => finding!(NoObservationAtTop, place, rows = rows),
            Self::BelowSurface => finding!(BelowSurface, place, rows = rows),
            Self::PressureRises if pressure => finding!(PressureRises, place, rows = rows),
            Self::PressureRises => finding!(HeightFalls, place, rows = rows),
            Self::AfterBurst => finding!(AfterBurst, place, rows = rows),
            Self::BeforeTop => finding!(BeforeTop, place, rows = rows),
            Self::BeforeDescent => finding!(BeforeDescent, place, rows = rows),
            Self::PressureFalls if pressure => finding!(PressureFalls, place, rows = rows),
            Self::PressureFalls => finding!(HeightRises, place, rows = rows),
            Self::NothingBelow => finding!(NoObservationAtEnd, place, rows = rows),
            Self::HumidityOver105 => finding!(HumidityOver105, place, rows = rows),
            Self::Supersaturated => finding!(HumidityOver100, place, rows = rows),
            Self::DewpointAbove => finding!(DewpointAboveTemperature, place, rows = rows),
            Self::Disagree => finding!(HumidityDewpointDisagree, place, rows = rows),
            Self::HumidityAlone => finding!(HumidityWithoutTemperature, place, rows = rows),
            Self::WindIncomplete => finding!(WindIncomplete, place, rows = rows),
            Self::AltitudeUsed | Self::DewpointUsed | Self::HumidityUsed | Self::ComponentsUsed => {
                return None;
            }
        })
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
    pub(super) fn left_out(&self) -> Vec<String> {
        self.seen()
            .filter(|(kind, ..)| kind.leaves_out())
            .filter_map(|(kind, count, _)| {
                let finding = kind.finding(Axis::Pressure, Place::default(), count)?;
                Some(finding.what)
            })
            .collect()
    }

    pub(super) fn findings(&self, name: &str, axis: Axis) -> Vec<Finding> {
        let computed: Vec<String> = self
            .seen()
            .filter_map(|(kind, count, _)| {
                Some(format!(
                    "{} with {}",
                    counted(count, "row"),
                    kind.derived()?
                ))
            })
            .collect();
        let place = Place::default().in_file(name);
        let computed = (!computed.is_empty())
            .then(|| finding!(Derived, place, quantities = computed.join("; ")));
        self.seen()
            .filter_map(|(kind, count, first)| kind.finding(axis, Place::line(name, first), count))
            .chain(computed)
            .collect()
    }
}
