//! A report: the hub between the rules and the forms.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::{Date, DateTime, Time};
use serde::{Deserialize, Serialize};

use super::{
    Axis, Context, Form, Level, MaxWind, MissingLayer, Motion, Part, Position, Regional, Roles,
    StationKind, utc,
};

/// What a part carries besides its levels.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct PartContent {
    /// Whether the part says only that there is no report (NIL, or a reason in
    /// `regional`).
    pub nil: bool,
    /// Whether section 7 (31313) is in the part.
    pub section7: bool,
    /// The groups of section 7 after 31313 as they stand, in a part that was read
    /// where they differ from what equipment and release of the report say; one empty
    /// group stands for the indicator alone.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub section7_groups: Vec<String>,
    /// Whether section 8 (41414) is in the part.
    pub section8: bool,
    /// The a4 figure of parts B and D (table 0265); of a part without report the
    /// last figure of its time group.
    pub measuring: Option<u8>,
    /// Groups of section 9 after 51515, as they stand; one empty group stands for
    /// the indicator alone.
    pub regional: Vec<String>,
    /// Groups of section 10 after 61616, in the same way.
    pub national: Vec<String>,
    /// Where a part that was read departs from its form.
    #[serde(skip_serializing_if = "Departures::is_none")]
    pub departures: Departures,
}

/// Where a part that was read departs from its form, so that what is sound in it can be
/// written again as it was received. Parts that we code have none.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Departures {
    /// Whether the part was damaged, and read as far as it is sound.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub salvaged: bool,
    /// What the sender does otherwise.
    #[serde(skip_serializing_if = "BTreeSet::is_empty")]
    pub practices: BTreeSet<Departure>,
    /// MMMULaULo as received, where it names the square beside the position.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub square: Option<u32>,
    /// Words after NIL.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub text: Vec<String>,
    /// Numbers, from 1, of the groups whose values were lost by damage; they are
    /// written again as solidi.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub damaged: Vec<usize>,
    /// Levels of sections 5 and 6 that were lost by damage, or that the sender leaves out.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lost: Vec<LostLevel>,
}

impl Departures {
    /// Whether the part is as its form wants it.
    #[must_use]
    pub fn is_none(&self) -> bool {
        let Self {
            salvaged,
            practices,
            square,
            text,
            damaged,
            lost,
        } = self;
        let lists = [text.is_empty(), damaged.is_empty(), lost.is_empty()];
        !salvaged && practices.is_empty() && square.is_none() && lists == [true; 3]
    }

    /// Whether the sender does this in a section.
    #[must_use]
    pub fn has(&self, kind: DepartureKind, section: u8) -> bool {
        self.practices.contains(&Departure { kind, section })
    }
}

/// What a sender does otherwise than the form, and in which section.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Departure {
    /// What.
    pub kind: DepartureKind,
    /// The section of the form.
    pub section: u8,
}

/// What a sender does otherwise than the form. Where senders do it is a row of
/// `tables/reading_practices.csv`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum DepartureKind {
    /// NIL without YYGG: the heading gives the time.
    NoTime,
    /// There is no call sign D....D.
    NoSign,
    /// MMMULaULo names the degree beside that of the position.
    SquareBeside,
    /// The section is missing, even 88999 or 77999.
    Absent,
    /// 21212 without a level.
    NoLevels,
    /// The levels begin with 11 instead of 00.
    #[serde(rename = "from_11")]
    From11,
    /// The groups of the section stand once more after section 8.
    Again,
    /// 31313 without all of its groups.
    Short,
    /// Depressions of 5.1 to 5.5 K as 51 to 55, which table 0777 does not use.
    UnusedFigures,
    /// The surface wind of PILOT behind a solidus for its u1: `90/12`.
    SurfaceSolidus,
    /// Heights of PILOT in steps of 500 m from some height on, after steps of 300 m.
    CoarserSteps,
    /// Significant levels of PILOT by height after 21212, in tens of metres.
    Heights,
}

/// A level of section 5 or 6 that is not there: its number stays free.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct LostLevel {
    /// The section: 5 or 6.
    pub section: u8,
    /// How many levels of the section were read before it.
    pub after: usize,
}

/// How far up a report goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Reach {
    /// Only to 100 hPa: an early message.
    To100,
    /// The whole ascent.
    #[default]
    Whole,
}

/// When a report was made, as far as it is known.
///
/// A text message gives only day, hour and the clock time of the release.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(untagged, deny_unknown_fields)]
pub enum When {
    /// Release and standard time, UTC, in full.
    Full {
        /// Time of release.
        #[serde(with = "utc::required")]
        #[cfg_attr(test, schemars(with = "String"))]
        release: DateTime,
        /// Standard time served.
        #[serde(with = "utc::required")]
        #[cfg_attr(test, schemars(with = "String"))]
        standard: DateTime,
    },
    /// What a text message says.
    Coded {
        /// Day of the month YY.
        day: u8,
        /// Hour GG.
        hour: u8,
        /// Clock time of release GGgg, when section 7 is there.
        release: Option<(u8, u8)>,
        /// The date of the day, where year and month are known from elsewhere.
        #[serde(default, skip_serializing_if = "Option::is_none", with = "utc::date")]
        #[cfg_attr(test, schemars(with = "Option<String>"))]
        date: Option<Date>,
    },
}

impl When {
    /// Release and standard time in full; `None` where year and month are not known. The
    /// release of a text is the time nearest to the standard time at which its clock says
    /// GGgg, and `None` without GGgg.
    #[must_use]
    pub fn in_full(self) -> Option<(Option<DateTime>, DateTime)> {
        match self {
            Self::Full { release, standard } => Some((Some(release), standard)),
            Self::Coded {
                hour,
                release,
                date,
                ..
            } => {
                let at = |date: Date, hour: u8, minute: u8| {
                    let small = |value: u8| i8::try_from(value).ok();
                    let clock = Time::new(small(hour)?, small(minute)?, 0, 0).ok()?;
                    Some(date.to_datetime(clock))
                };
                let date = date?;
                let standard = at(date, hour, 0)?;
                let days = [date.yesterday().ok(), Some(date), date.tomorrow().ok()];
                let release = release.and_then(|(hour, minute)| {
                    let times = days.into_iter().flatten();
                    let times = times.filter_map(|day| at(day, hour, minute));
                    times.min_by_key(|time| (*time).duration_since(standard).abs())
                });
                Some((release, standard))
            }
        }
    }
}

/// The resolution of the form a report was read from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Resolution {
    /// Nothing was rounded.
    #[default]
    None,
    /// The text code: 0.2 K, whole hPa or tenths, 5°, whole units of speed.
    Text,
    /// BUFR: 0.01 K, 1 or 10 Pa, 0.1 or 1 gpm, 1°, 0.1 m/s.
    Bufr,
}

/// Where and when a descent begins: the row at the top of the flight.
///
/// BUFR 3 09 056 gives this time and place instead of those of the release, and
/// counts seconds and displacements of its levels from here: a level's seconds
/// are its own `time_s` less the one here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(default, deny_unknown_fields)]
pub struct Start {
    /// Time in UTC, that of release plus `time_s`; `None` when the row has no time.
    #[serde(with = "utc::option")]
    #[cfg_attr(test, schemars(with = "Option<String>"))]
    pub time: Option<DateTime>,
    /// Seconds after release, ≥ 0.
    #[cfg_attr(test, schemars(range(min = 0.0)))]
    pub time_s: Option<f64>,
    /// Position.
    pub place: Option<Position>,
    /// Geometric height above mean sea level, m.
    pub height_m: Option<f64>,
}

/// One ascent as a report: the hub between rules and forms.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// The family of code form.
    pub form: Form,
    /// What the sheet said (or what the message gave).
    pub context: Context,
    /// When.
    pub when: When,
    /// The vertical coordinate.
    pub axis: Axis,
    /// Rising or falling.
    pub motion: Motion,
    /// Where and when a descent begins; `None` in every other form.
    pub start: Option<Start>,
    /// The levels, lowest first; `time_s` of each counts from release, in a
    /// descent too.
    pub levels: Vec<Level>,
    /// Layers without data.
    pub missing: Vec<MissingLayer>,
    /// The maximum winds in the order of reporting, part by part, each with
    /// its shears when they are wanted.
    pub maxima: Vec<MaxWind>,
    /// The parts there are, and what each carries besides levels.
    pub parts: BTreeMap<Part, PartContent>,
    /// What the practice of the Region adds.
    pub regional: Regional,
    /// PILOT levels by height above this, gpm, belong to Part D; `None` in TEMP.
    pub divide_gpm: Option<f64>,
    /// The resolution of the source.
    pub resolution: Resolution,
    /// How far up it goes.
    pub reach: Reach,
}

impl Report {
    /// The maximum winds of a part in the order of reporting, with their levels.
    pub(crate) fn maxima_of(&self, part: Part) -> impl Iterator<Item = (&MaxWind, &Level)> {
        let of_part = self.maxima.iter().filter(move |m| m.part == part);
        of_part.enumerate().filter_map(move |(i, maximum)| {
            let place = |m: &MaxWind| (m.pressure_hpa, m.height_gpm);
            let here = |l: &&Level| {
                l.roles.any(Roles::MAX_WIND)
                    && match maximum.pressure_hpa {
                        Some(p) => l.row.pressure_hpa == Some(p),
                        None => l.row.height_gpm == maximum.height_gpm,
                    }
            };
            // A text that was read may have two maxima at one place.
            let before = self.maxima.iter().filter(|m| m.part == part).take(i);
            let nth = before.filter(|m| place(m) == place(maximum)).count();
            let level = self.levels.iter().filter(here).nth(nth)?;
            Some((maximum, level))
        })
    }

    /// A report without levels and parts; its time is unknown (day 1, hour 0).
    #[must_use]
    pub fn empty(context: Context) -> Self {
        Self {
            form: Form::Temp,
            motion: if context.station.kind == StationKind::Drop {
                Motion::Falling
            } else {
                Motion::Rising
            },
            context,
            when: When::Coded {
                day: 1,
                hour: 0,
                release: None,
                date: None,
            },
            axis: Axis::Pressure,
            start: None,
            levels: Vec::new(),
            missing: Vec::new(),
            maxima: Vec::new(),
            parts: BTreeMap::new(),
            regional: Regional::default(),
            divide_gpm: None,
            resolution: Resolution::None,
            reach: Reach::Whole,
        }
    }
}

impl AsRef<Self> for Report {
    fn as_ref(&self) -> &Self {
        self
    }
}
