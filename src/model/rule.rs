//! Why a level was chosen.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

use super::{Element, Form};

/// Why a level was chosen: the rule, with its figures.
///
/// Text and clause follow from it. A document carries these two; a pair that no rule
/// of ours has is read as [`Rule::Other`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "Reason", into = "Reason")]
#[non_exhaustive]
pub enum Rule {
    /// The surface.
    Surface(Significant),
    /// The first level with the element, above a surface without it.
    First(Significant),
    /// The last level with the element.
    Highest(Significant),
    /// The last level at or below 100 hPa, where the ascent goes on.
    Closes(Significant),
    /// The same, between 110 and 100 hPa.
    Near100,
    /// The lowest level with wind of a drop.
    EndOfDrop,
    /// The lowest level of a drop that ended above the surface.
    LowestOfDrop,
    /// The lowest level of a descent.
    LowestOfDescent,
    /// A tropopause.
    Tropopause {
        /// The first, or a further one.
        first: bool,
        /// As a level of the section for tropopauses, or as a significant one.
        significant: bool,
    },
    /// The end of a layer.
    Layer(LayerEnd, LayerKind),
    /// The last level before a layer without the element.
    BeforeMissing(Element),
    /// The first level after a layer without the element.
    AfterMissing(Element),
    /// A level inside such a layer, which shows it.
    InsideMissing(Element),
    /// The first level with humidity.
    FirstHumidity,
    /// The last level with humidity.
    LastHumidity,
    /// A peak of wind speed, which may be a maximum wind.
    Peak {
        /// Speed, m/s, to a tenth.
        speed_ms: f64,
    },
    /// A maximum wind of this form.
    MaxWind(Form),
    /// The strongest wind, at the top of an ascent.
    StrongestAtTop(Form),
    /// The strongest wind, at the top of a descent.
    StrongestAtTopOfDescent(Form),
    /// A fixed level of the Region.
    FixedRegional,
    /// A standard surface.
    Standard {
        /// Pressure, hPa.
        pressure_hpa: f64,
        /// Where its values come from.
        how: SurfaceFrom,
    },
    /// The freezing level: a row, or between two.
    Freezing {
        /// Whether it is a row.
        row: bool,
    },
    /// Humidity was interpolated at the level.
    HumidityBetween,
    /// Ordered in, with the reason of the order.
    OrderedIn(String),
    /// Ordered out, with the reason of the order.
    OrderedOut(String),
    /// A level of the message that the profile was rebuilt from.
    OfMessage,
    /// A level of the message that was sent before.
    AsSent,
    /// Additional: without it temperature departs too far.
    TemperatureDeparts {
        /// By, K, to a tenth.
        by_k: f64,
        /// Allowed, K.
        limit_k: f64,
    },
    /// Additional: without it humidity departs too far.
    HumidityDeparts {
        /// By, %, whole.
        by_pct: f64,
        /// Allowed, %.
        limit_pct: f64,
    },
    /// Additional: the ratio of the pressures of neighbours.
    PressureRatio {
        /// A level must be above this part of the pressure below.
        limit: f64,
    },
    /// Additional: without it the wind departs too far.
    WindDeparts {
        /// The form.
        form: Form,
        /// Direction: by and allowed, degrees, where it departs.
        direction_deg: Option<(f64, f64)>,
        /// Speed: by (to a tenth) and allowed, m/s, where it departs.
        speed_ms: Option<(f64, f64)>,
    },
    /// Additional: without it the wind would turn through half a circle.
    WindTurns(Form),
    /// A reason of someone else.
    Other {
        /// In words.
        text: String,
        /// The rule, as a clause.
        clause: String,
    },
}

/// Significant levels, by the section that asks for them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Significant {
    /// For temperature and humidity (35.3.1).
    Thermal,
    /// For wind, in this form (35.3.2, 32.3.1).
    Wind(Form),
}

/// What makes an inversion or isothermal layer count (35.3.1.2).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LayerKind {
    /// An inversion at least 20 hPa thick.
    ThickInversion,
    /// An isothermal layer at least 20 hPa thick.
    Isothermal,
    /// An inversion of at least 2.5 K.
    StrongInversion,
    /// An inversion over which humidity changes by at least 20 %.
    HumidityChange,
}

/// An end of a layer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LayerEnd {
    /// The lower one.
    Base,
    /// The upper one.
    Top,
}

/// Where the values of a standard surface come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SurfaceFrom {
    /// A row of the profile.
    Row,
    /// Between rows.
    Between,
    /// Below the station: geopotential extrapolated.
    Below,
    /// Below the station, without a temperature to extrapolate from.
    BelowUnknown,
    /// Just above the top: geopotential extrapolated.
    Above,
    /// Of PILOT, by pressure.
    Pilot,
    /// Of PILOT, by the height that stands for it.
    PilotByHeight,
}

/// A reason as documents carry it.
#[derive(Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[cfg_attr(test, schemars(description = "Why a level was chosen."))]
#[serde(deny_unknown_fields)]
pub(super) struct Reason {
    /// In words.
    text: String,
    /// The rule.
    clause: String,
}

impl Rule {
    /// Additional by departure of temperature.
    pub(crate) fn temperature_departs(by_k: f64, limit_k: f64) -> Self {
        let by_k = tenths(by_k);
        Self::TemperatureDeparts { by_k, limit_k }
    }

    /// Additional by departure of humidity.
    pub(crate) fn humidity_departs(by_pct: f64, limit_pct: f64) -> Self {
        let by_pct = by_pct.round_ties_even();
        Self::HumidityDeparts { by_pct, limit_pct }
    }

    /// Additional by departure of wind, where each is given by its departure and limit.
    pub(crate) fn wind_departs(
        form: Form,
        direction_deg: Option<(f64, f64)>,
        speed_ms: Option<(f64, f64)>,
    ) -> Self {
        Self::WindDeparts {
            form,
            direction_deg: direction_deg.map(|(by, limit)| (by.round_ties_even(), limit)),
            speed_ms: speed_ms.map(|(by, limit)| (tenths(by), limit)),
        }
    }

    /// A peak of wind speed.
    pub(crate) fn peak(speed_ms: f64) -> Self {
        let speed_ms = tenths(speed_ms);
        Self::Peak { speed_ms }
    }

    /// Whether the level is additional by this reason: another choice of levels
    /// may do without it.
    #[must_use]
    pub fn is_additional(&self) -> bool {
        matches!(
            self,
            Self::TemperatureDeparts { .. }
                | Self::HumidityDeparts { .. }
                | Self::PressureRatio { .. }
                | Self::WindDeparts { .. }
                | Self::WindTurns(_)
        )
    }

    /// The reason in words.
    #[must_use]
    pub fn text(&self) -> Cow<'_, str> {
        let fixed = match self {
            Self::Surface(_) => "surface",
            Self::First(Significant::Thermal) => "first level with temperature",
            Self::First(Significant::Wind(_)) => "first level with wind",
            Self::Highest(Significant::Thermal) => "highest level with temperature",
            Self::Highest(Significant::Wind(_)) => "highest level with wind",
            Self::Closes(Significant::Thermal) => "last level with temperature at or below 100 hPa",
            Self::Closes(Significant::Wind(_)) => {
                "last level with wind at or below 100 hPa; it closes Part B"
            }
            Self::Near100 => "one level between 110 and 100 hPa; it closes Part B",
            Self::EndOfDrop => "lowest level with wind, where the sounding of a drop ends",
            Self::LowestOfDrop => "lowest level of a drop that did not reach the surface",
            Self::LowestOfDescent => "lowest level of the descent",
            Self::Tropopause { first: true, .. } => "first tropopause",
            Self::Tropopause { first: false, .. } => "further tropopause",
            Self::Layer(end, kind) => {
                return format!("{} of an {}", end.word(), kind.words()).into();
            }
            Self::BeforeMissing(element) => {
                return format!("last level before {} is missing", element.name()).into();
            }
            Self::AfterMissing(element) => {
                return format!("first level after {} was missing", element.name()).into();
            }
            Self::InsideMissing(element) => {
                return format!("inside a layer without {}", element.name()).into();
            }
            Self::FirstHumidity => "first level with humidity",
            Self::LastHumidity => "last level with humidity",
            Self::Peak { speed_ms } => return format!("maximum of {speed_ms:.1} m/s").into(),
            Self::MaxWind(_) => "maximum wind",
            Self::StrongestAtTop(_) => "strongest wind of the ascent, at its top",
            Self::StrongestAtTopOfDescent(_) => "strongest wind of the descent, at its top",
            Self::FixedRegional => "fixed regional level",
            Self::Standard { pressure_hpa, how } => {
                return format!("standard surface {pressure_hpa} hPa{}", how.words()).into();
            }
            Self::Freezing { row: true } => "freezing level, a row of the profile",
            Self::Freezing { row: false } => "freezing level, between rows",
            Self::HumidityBetween => "humidity from the rows around",
            Self::OrderedIn(reason) => return format!("ordered in: {reason}").into(),
            Self::OrderedOut(reason) => return format!("ordered out: {reason}").into(),
            Self::OfMessage => "level of the message",
            Self::AsSent => "level of the earlier message",
            Self::TemperatureDeparts { by_k, limit_k } => {
                return format!(
                    "without it temperature departs by {by_k:.1} K (limit {limit_k} K)"
                )
                .into();
            }
            Self::HumidityDeparts { by_pct, limit_pct } => {
                return format!(
                    "without it humidity departs by {by_pct:.0} % (limit {limit_pct} %)"
                )
                .into();
            }
            Self::PressureRatio { limit } => {
                return format!("pressure of neighbours must be above {limit} of the one below")
                    .into();
            }
            Self::WindDeparts {
                direction_deg,
                speed_ms,
                ..
            } => {
                let direction = direction_deg
                    .map(|(by, limit)| format!("direction departs by {by:.0}° (limit {limit}°)"));
                let speed = speed_ms
                    .map(|(by, limit)| format!("speed departs by {by:.1} m/s (limit {limit} m/s)"));
                let both: Vec<String> = direction.into_iter().chain(speed).collect();
                return format!("without it {}", both.join(" and ")).into();
            }
            Self::WindTurns(_) => "without it the wind would turn through half a circle",
            Self::Other { text, .. } => text,
        };
        fixed.into()
    }

    /// The published rule, or what stands for one.
    #[must_use]
    pub fn clause(&self) -> &str {
        match self {
            Self::Surface(of) | Self::First(of) | Self::Highest(of) | Self::Closes(of) => {
                of.clause()
            }
            Self::WindDeparts { form, .. } | Self::WindTurns(form) => {
                Significant::Wind(*form).clause()
            }
            Self::Near100
            | Self::Layer(..)
            | Self::Tropopause {
                significant: true, ..
            } => Significant::Thermal.clause(),
            Self::Tropopause { .. } => "WMO-No. 306, 35.2.3.1",
            Self::EndOfDrop => "WMO-No. 306 Vol. I.2, B/C26.6.4.4",
            Self::LowestOfDrop => "WMO-No. 306 Vol. I.2, B/C26.6.5.2",
            Self::LowestOfDescent => "as for a drop, WMO-No. 306 Vol. I.2, B/C26.6.5.2",
            Self::InsideMissing(Element::Wind) => "WMO-No. 306, 32.3.1.5, from memory",
            Self::BeforeMissing(Element::Wind) | Self::AfterMissing(Element::Wind) => {
                "WMO-No. 306, 35.3.2.2"
            }
            Self::BeforeMissing(_)
            | Self::AfterMissing(_)
            | Self::InsideMissing(_)
            | Self::FirstHumidity
            | Self::LastHumidity => "WMO-No. 306, 35.3.1.6",
            Self::Peak { .. } => "WMO-No. 306, 32.2.3.1",
            Self::MaxWind(form)
            | Self::StrongestAtTop(form)
            | Self::StrongestAtTopOfDescent(form) => match form {
                Form::Pilot => "WMO-No. 306, 32.2.3",
                _ => "WMO-No. 306, 35.2.4",
            },
            Self::FixedRegional => "WMO-No. 306 Vol. I.2, B/C20.10",
            Self::Standard { how, .. } => how.clause(),
            Self::Freezing { .. } => "WMO-No. 306 Vol. I.2, 0 08 042 note",
            Self::HumidityBetween => "common practice, no source",
            Self::OrderedIn(_) | Self::OrderedOut(_) | Self::OfMessage => "order of the sheet",
            Self::AsSent => "corrections change only what is wrong; common practice, no source",
            Self::TemperatureDeparts { .. } => "WMO-No. 306, 35.3.1.3 (a)",
            Self::HumidityDeparts { .. } => "WMO-No. 306, 35.3.1.3 (b)",
            Self::PressureRatio { .. } => "WMO-No. 306, 35.3.1.3 (c)",
            Self::Other { clause, .. } => clause,
        }
    }

    /// Every rule that these figures and words can belong to.
    fn candidates(figures: &[f64], words: &str) -> Vec<Self> {
        let mut out = vec![
            Self::Near100,
            Self::EndOfDrop,
            Self::LowestOfDrop,
            Self::LowestOfDescent,
            Self::FirstHumidity,
            Self::LastHumidity,
            Self::FixedRegional,
            Self::Freezing { row: true },
            Self::Freezing { row: false },
            Self::HumidityBetween,
            Self::OfMessage,
            Self::AsSent,
            Self::OrderedIn(words.to_owned()),
            Self::OrderedOut(words.to_owned()),
        ];
        for first in [true, false] {
            out.extend([true, false].map(|significant| Self::Tropopause { first, significant }));
        }
        for element in [Element::Temperature, Element::Humidity, Element::Wind] {
            out.extend([
                Self::BeforeMissing(element),
                Self::AfterMissing(element),
                Self::InsideMissing(element),
            ]);
        }
        for end in [LayerEnd::Base, LayerEnd::Top] {
            out.extend(LayerKind::ALL.map(|kind| Self::Layer(end, kind)));
        }
        let forms = [Form::Temp, Form::Pilot];
        for of in [Significant::Thermal]
            .into_iter()
            .chain(forms.map(Significant::Wind))
        {
            out.extend([
                Self::Surface(of),
                Self::First(of),
                Self::Highest(of),
                Self::Closes(of),
            ]);
        }
        for form in forms {
            out.extend([
                Self::MaxWind(form),
                Self::StrongestAtTop(form),
                Self::StrongestAtTopOfDescent(form),
                Self::WindTurns(form),
            ]);
        }
        match *figures {
            [one] => {
                out.extend(SurfaceFrom::ALL.map(|how| Self::Standard {
                    pressure_hpa: one,
                    how,
                }));
                out.extend([
                    Self::Peak { speed_ms: one },
                    Self::PressureRatio { limit: one },
                ]);
            }
            [by, limit] => {
                out.extend([
                    Self::temperature_departs(by, limit),
                    Self::humidity_departs(by, limit),
                ]);
                for form in forms {
                    out.extend([
                        Self::wind_departs(form, Some((by, limit)), None),
                        Self::wind_departs(form, None, Some((by, limit))),
                    ]);
                }
            }
            [turn, most_deg, by, most_ms] => {
                out.extend(forms.map(|form| {
                    Self::wind_departs(form, Some((turn, most_deg)), Some((by, most_ms)))
                }))
            }
            _ => {}
        }
        out
    }
}

/// By trying: the rule whose own text and clause are these.
impl From<Reason> for Rule {
    fn from(Reason { text, clause }: Reason) -> Self {
        let figures = text.split(|c: char| !c.is_ascii_digit() && c != '.');
        let figures: Vec<f64> = figures.filter_map(|figure| figure.parse().ok()).collect();
        let words = text.split_once(": ").map_or("", |(_, words)| words);
        let own = Self::candidates(&figures, words)
            .into_iter()
            .find(|rule| rule.clause() == clause && rule.text() == text);
        own.unwrap_or(Self::Other { text, clause })
    }
}

impl From<Rule> for Reason {
    fn from(rule: Rule) -> Self {
        Self {
            text: rule.text().into_owned(),
            clause: rule.clause().to_owned(),
        }
    }
}

/// To a tenth, as texts show it.
fn tenths(value: f64) -> f64 {
    (value * 10.0).round_ties_even() / 10.0
}

impl Significant {
    fn clause(self) -> &'static str {
        match self {
            Self::Thermal => "WMO-No. 306, 35.3.1.2",
            Self::Wind(Form::Pilot) => "WMO-No. 306, 32.3.1.1",
            Self::Wind(_) => "WMO-No. 306, 35.3.2.1",
        }
    }
}

impl LayerEnd {
    fn word(self) -> &'static str {
        match self {
            Self::Base => "base",
            Self::Top => "top",
        }
    }
}

impl LayerKind {
    const ALL: [Self; 4] = [
        Self::ThickInversion,
        Self::Isothermal,
        Self::StrongInversion,
        Self::HumidityChange,
    ];

    fn words(self) -> &'static str {
        match self {
            Self::ThickInversion => "inversion at least 20 hPa thick",
            Self::Isothermal => "isothermal layer at least 20 hPa thick",
            Self::StrongInversion => "inversion of at least 2.5 K",
            Self::HumidityChange => "inversion over which humidity changes by at least 20 %",
        }
    }
}

impl SurfaceFrom {
    const ALL: [Self; 7] = [
        Self::Row,
        Self::Between,
        Self::Below,
        Self::BelowUnknown,
        Self::Above,
        Self::Pilot,
        Self::PilotByHeight,
    ];

    fn words(self) -> &'static str {
        match self {
            Self::Row => ", a row of the profile",
            Self::Between => ", between rows",
            Self::Below => ", below the station: geopotential extrapolated from the surface",
            Self::BelowUnknown => ", below the station: no surface temperature to extrapolate from",
            Self::Above => " just above the top: geopotential extrapolated",
            Self::Pilot => "",
            Self::PilotByHeight => ", by the height that stands for it",
        }
    }

    fn clause(self) -> &'static str {
        match self {
            Self::Row | Self::Between => "WMO-No. 306, 35.2.2.1",
            Self::Below | Self::BelowUnknown => "WMO-No. 306, 35.2.2.2",
            Self::Above => "WMO-No. 306, 35.2.2.4",
            Self::Pilot | Self::PilotByHeight => "WMO-No. 306, 32.2.2",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, clause: &str) -> Rule {
        Rule::from(Reason {
            text: text.to_owned(),
            clause: clause.to_owned(),
        })
    }

    #[test]
    fn every_rule_reads_back_from_its_text_and_clause() {
        let figures = [&[][..], &[12.5], &[12.0, 1.5], &[15.0, 10.0, 6.5, 5.0]];
        for rule in figures.map(|f| Rule::candidates(f, "cloud: top")).concat() {
            assert_eq!(read(&rule.text(), rule.clause()), rule);
        }
    }

    #[test]
    fn a_reason_of_someone_else_stays_as_it_is() {
        for (text, clause) in [
            ("without it temperature departs by 1.3 K", "own choice"),
            ("surface", "own choice"),
            ("wanted by a model", "WMO-No. 306, 35.3.1.2"),
        ] {
            let rule = read(text, clause);
            assert!(matches!(rule, Rule::Other { .. }) && !rule.is_additional());
            assert_eq!((&*rule.text(), rule.clause()), (text, clause));
        }
    }
}
