//! The columns of a table of practices, what each practice needs in them, and the checks of
//! a row.

use itertools::Itertools;

use super::{Form, Part, Practice, PracticeRow, PracticeUnit, Template};

/// A column of a table of practices.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub struct PracticeColumn {
    /// Its name in the header row.
    pub name: &'static str,
    /// What it is.
    pub what: &'static str,
    /// What is allowed.
    pub allowed: &'static str,
    /// What a blank cell, or no such column, stands for.
    pub blank: &'static str,
}

/// The columns of a table of practices.
pub const COLUMNS: [PracticeColumn; 12] = {
    const fn column(
        name: &'static str,
        what: &'static str,
        allowed: &'static str,
        blank: &'static str,
    ) -> PracticeColumn {
        PracticeColumn {
            name,
            what,
            allowed,
            blank,
        }
    }
    [
        column(
            "region",
            "the Region under which the row holds",
            "I to VI",
            "every Region",
        ),
        column(
            "form",
            "the family of code forms",
            "temp, pilot",
            "not allowed",
        ),
        column(
            "practice",
            "what the row is about",
            "see below",
            "not allowed",
        ),
        column(
            "parts",
            "the parts that it is about",
            "letters A to D",
            "none",
        ),
        column(
            "group",
            "the group that begins it, figures in front of a pressure, or a template",
            "see below",
            "none",
        ),
        column(
            "unit",
            "the unit of from, to and every",
            "hPa, m (above mean sea level), m above ground, 300 m, 500 m, h (UTC)",
            "none",
        ),
        column(
            "from",
            "the level, the lower end of a layer, or the first hour",
            "more than 0; an hour from 0 to 23",
            "the ground",
        ),
        column("to", "the upper end of a layer", "more than 0", "none"),
        column(
            "every",
            "from there on, one more each so far",
            "more than 0",
            "no more",
        ),
        column(
            "choice",
            "which of the sets that a Region allows",
            "1 to 255",
            "1",
        ),
        column(
            "station_gpm",
            "the highest station for which the row holds, gpm",
            "more than 0",
            "every station",
        ),
        column(
            "standing",
            "how sure the row is",
            "seen, memory, unsure",
            "not stated",
        ),
    ]
};

/// Whether a column is needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// It stays blank.
    No,
    /// It may be blank.
    Optional,
    /// It is needed.
    Required,
}

/// What stands in the column `group`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GroupRule {
    /// Nothing.
    Blank,
    /// A group of five figures.
    Five,
    /// Two figures.
    Two,
    /// PP of a standard surface, or nothing.
    Surface,
    /// A template.
    Template,
}

/// What a practice is, and what its rows need.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub struct PracticeRule {
    /// The practice.
    pub practice: Practice,
    /// Its name in the column `practice`.
    pub name: &'static str,
    /// What it does.
    pub what: &'static str,
    /// The families of forms.
    pub forms: &'static [Form],
    /// The letters allowed in `parts`; empty: it stays blank.
    pub parts: &'static [Part],
    /// What stands in `group`.
    pub group: GroupRule,
    /// The units allowed; empty: it stays blank.
    pub units: &'static [PracticeUnit],
    /// Whether `from` is needed.
    pub from: Need,
    /// Whether `to` is needed.
    pub to: Need,
    /// The further columns it may use.
    pub also: &'static [&'static str],
    /// Whether there is one row of it for a Region and a form.
    pub once: bool,
    /// The published source, or "common practice, no source".
    pub source: &'static str,
}

/// What every practice needs, in the order of the guide.
pub const PRACTICE_RULES: [PracticeRule; 16] = {
    use GroupRule::{Blank, Five, Surface, Template, Two};
    use Need::{No, Optional, Required};
    use Part::{A, B, C, D};
    use PracticeUnit::{Ground, Hour, Pressure, Sea, Steps300, Steps500};
    const NONE: &str = "common practice, no source";
    const FORMS: &[Form] = &[Form::Temp, Form::Pilot];
    const BASE: PracticeRule = PracticeRule {
        practice: Practice::Reason,
        name: "",
        what: "",
        forms: &[Form::Temp],
        parts: &[],
        group: Blank,
        units: &[],
        from: No,
        to: No,
        also: &[],
        once: false,
        source: NONE,
    };
    [
        PracticeRule {
            practice: Practice::Surface,
            name: "surface",
            what: "a standard surface of Part A (tens of hPa) or C (whole hPa) beside those of 35.2.2.1",
            forms: FORMS,
            parts: &[A, C],
            units: &[Pressure],
            from: Required,
            source: "B/C25.10.4.1 (4/35.2.1)",
            ..BASE
        },
        PracticeRule {
            practice: Practice::Hours,
            name: "hours",
            what: "the parts asked for at a standard hour; at hours without a row, all four",
            forms: FORMS,
            parts: &[A, B, C, D],
            units: &[Hour],
            from: Required,
            also: &["every"],
            ..BASE
        },
        PracticeRule {
            practice: Practice::AfterEarly,
            name: "after_early",
            what: "the parts of the whole report that go out after an early message",
            forms: FORMS,
            parts: &[A, B, C, D],
            once: true,
            ..BASE
        },
        PracticeRule {
            practice: Practice::Section7,
            name: "section7",
            what: "the parts that carry section 7 (31313)",
            parts: &[A, B, C, D],
            once: true,
            ..BASE
        },
        PracticeRule {
            practice: Practice::Section9,
            name: "section9",
            what: "groups after 51515 by a template",
            forms: FORMS,
            parts: &[A, B, C, D],
            group: Template,
            units: &[Pressure, Sea],
            from: Optional,
            source: "WMO-No. 306, FM 32 to 38",
            ..BASE
        },
        PracticeRule {
            practice: Practice::Section10,
            name: "section10",
            what: "groups after 61616 by a template",
            forms: FORMS,
            parts: &[A, B, C, D],
            group: Template,
            units: &[Pressure, Sea],
            from: Optional,
            source: "WMO-No. 306, FM 32 to 38",
            ..BASE
        },
        PracticeRule {
            practice: Practice::Stability,
            name: "stability",
            what: "stability index of a parcel lifted from one surface to another",
            parts: &[A, B],
            group: Five,
            units: &[Pressure],
            from: Required,
            to: Required,
            also: &["station_gpm"],
            source: "B/C25 Annex I",
            ..BASE
        },
        PracticeRule {
            practice: Practice::MeanWind,
            name: "mean_wind",
            what: "mean wind of a layer",
            parts: &[A, B],
            group: Five,
            units: &[Sea],
            from: Optional,
            to: Required,
            source: "B/C25 Annex I",
            ..BASE
        },
        PracticeRule {
            practice: Practice::LowWind,
            name: "low_wind",
            what: "wind at a low level",
            parts: &[A, B],
            group: Two,
            units: &[Pressure, Sea, Ground],
            from: Required,
            source: "6/35.2.2, from memory",
            ..BASE
        },
        PracticeRule {
            practice: Practice::Extrapolated,
            name: "extrapolated",
            what: "height of a standard surface just above the top",
            parts: &[A, B],
            group: Five,
            once: true,
            source: "35.2.2.4; WMO-No. 306 Vol. II",
            ..BASE
        },
        PracticeRule {
            practice: Practice::DoubtfulGeopotential,
            name: "doubtful_geopotential",
            what: "layers whose geopotential the operator gave as doubtful",
            parts: &[A, B],
            group: Five,
            once: true,
            source: "WMO-No. 306 Vol. II, table 0421",
            ..BASE
        },
        PracticeRule {
            practice: Practice::DoubtfulTemperature,
            name: "doubtful_temperature",
            what: "layers whose temperature the operator gave as doubtful",
            parts: &[A, B],
            group: Five,
            once: true,
            source: "WMO-No. 306 Vol. II, table 0421",
            ..BASE
        },
        PracticeRule {
            practice: Practice::Reason,
            name: "reason",
            what: "reason of no or a short report",
            parts: &[A, B],
            once: true,
            source: "WMO-No. 306 Vol. II, table 0421",
            ..BASE
        },
        PracticeRule {
            practice: Practice::Levels,
            name: "levels",
            what: "how the levels of PILOT Parts B and D are given",
            forms: &[Form::Pilot],
            units: &[Pressure, Steps300, Steps500],
            once: true,
            source: "WMO-No. 306, 32.3.1.4",
            ..BASE
        },
        PracticeRule {
            practice: Practice::Fixed,
            name: "fixed",
            what: "a fixed level of PILOT Parts B and D",
            forms: &[Form::Pilot],
            units: &[Pressure, Sea],
            from: Required,
            also: &["every", "choice"],
            source: "B/C20.10",
            ..BASE
        },
        PracticeRule {
            practice: Practice::SurfacesByHeight,
            name: "surfaces_by_height",
            what: "heights stand for standard surfaces (55nPP); with PP in group, the height that stands for it",
            forms: &[Form::Pilot],
            group: Surface,
            units: &[Sea],
            from: Optional,
            source: "WMO-No. 306, 32.2.2.2, from memory",
            ..BASE
        },
    ]
};

impl Practice {
    /// What its rows need.
    #[must_use]
    pub fn rule(self) -> Option<&'static PracticeRule> {
        PRACTICE_RULES.iter().find(|rule| rule.practice == self)
    }
}

impl PracticeUnit {
    /// How a table names it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pressure => "hPa",
            Self::Sea => "m",
            Self::Ground => "m above ground",
            Self::Steps300 => "300 m",
            Self::Steps500 => "500 m",
            Self::Hour => "h",
        }
    }
}

/// A column, and what is wrong and allowed in it.
type Refused = (&'static str, String);

/// The hours of a row `hours`, from its first on.
pub fn first_hours(row: &PracticeRow) -> impl Iterator<Item = f64> {
    let first = row.from.unwrap_or(0.0);
    let step = row.every.unwrap_or(24.0);
    (0_u8..24)
        .map(move |n| first + step * f64::from(n))
        .take_while(|hour| *hour < 24.0)
}

impl PracticeRow {
    /// The template of groups of section 9 or 10; `None` in rows of other practices.
    #[must_use]
    pub fn template(&self) -> Option<Template> {
        Template::parse(&self.group, self.practice == Practice::Section10).ok()
    }

    /// Whether the row has what its practice needs; else the column and what is allowed.
    pub(super) fn complete(&self) -> Result<(), Refused> {
        let need = |given: bool, column: &'static str, what: &str| match given {
            true => Ok(()),
            false => Err((column, what.to_owned())),
        };
        let Some(rule) = self.practice.rule() else {
            return Ok(());
        };
        let name = rule.name;
        let forms = rule.forms.iter().map(|form| form.name()).join(" or ");
        let what = format!("the practice {name} is one of {forms}");
        need(rule.forms.contains(&self.form), "form", &what)?;
        self.cells(rule)?;
        let unused = format!("the practice {name} does not use this column; leave it blank");
        for (column, given) in [
            ("every", self.every.is_some()),
            ("choice", self.choice.is_some()),
            ("station_gpm", self.station_gpm.is_some()),
        ] {
            need(!given || rule.also.contains(&column), column, &unused)?;
        }
        if rule.parts.is_empty() {
            need(self.parts.is_empty(), "parts", &unused)?;
        } else {
            let good =
                !self.parts.is_empty() && self.parts.iter().all(|part| rule.parts.contains(part));
            let letters = rule.parts.iter().map(|part| part.letter()).join(", ");
            let twins = match *rule.parts {
                [Part::A, Part::B] => "; C and D follow",
                _ => "",
            };
            let what = format!("letters among {letters} are expected{twins}");
            need(good, "parts", &what)?;
        }
        let figures = |count: usize| {
            self.group.len() == count && self.group.bytes().all(|b| b.is_ascii_digit())
        };
        match rule.group {
            GroupRule::Blank => need(self.group.is_empty(), "group", &unused)?,
            GroupRule::Five => need(figures(5), "group", "a group of five figures is expected")?,
            GroupRule::Two => need(figures(2), "group", "two figures are expected")?,
            GroupRule::Surface => {
                let good = self.group.is_empty() || figures(2);
                let what = "PP of a standard surface, two figures, or nothing is expected";
                need(good, "group", what)?;
                let both = self.group.is_empty() == self.from.is_none();
                let what = "PP in group and the height in from go together";
                need(both, "from", what)?;
            }
            GroupRule::Template => {
                let national = self.practice == Practice::Section10;
                let template =
                    Template::parse(&self.group, national).map_err(|what| ("group", what))?;
                let placed = self.from.is_some();
                let what = "a value without the name of a level needs one: give unit and from, or write \
                            surface., tropopause., max_wind., freezing. or top. in front of it";
                need(placed || !template.needs_level(), "from", what)?;
            }
        }
        self.meaning()
    }

    /// The unit and the ends of a row.
    fn cells(&self, rule: &PracticeRule) -> Result<(), Refused> {
        let name = rule.name;
        let refused = |column: &'static str, what: String| Err((column, what));
        let units = rule.units.iter().map(|unit| unit.name()).join(", ");
        let optional = rule.from == Need::Optional && rule.to == Need::No && self.from.is_none();
        match self.unit {
            Some(unit) if !rule.units.contains(&unit) && rule.units.is_empty() => {
                let what = format!("the practice {name} does not use this column; leave it blank");
                return refused("unit", what);
            }
            Some(unit) if rule.units.contains(&unit) => {}
            None if rule.units.is_empty() || optional => {}
            _ => return refused("unit", format!("{units} is expected")),
        }
        let hour = self.unit == Some(PracticeUnit::Hour);
        let good = |v: f64| {
            v.is_finite()
                && if hour {
                    (0.0..24.0).contains(&v)
                } else {
                    v > 0.0
                }
        };
        for (column, value, rule) in [("from", self.from, rule.from), ("to", self.to, rule.to)] {
            match (value, rule) {
                (Some(_), Need::No) => {
                    let what =
                        format!("the practice {name} does not use this column; leave it blank");
                    return refused(column, what);
                }
                (Some(value), _) if !good(value) => {
                    let what = match hour {
                        true => "an hour is 0 to 23",
                        false => "a level, layer or distance must be more than 0",
                    };
                    return refused(column, what.to_owned());
                }
                (None, Need::Required) => {
                    let what = match column {
                        "to" => "the upper end of the layer is missing",
                        _ if hour => "the first hour is missing",
                        _ => "the level is missing",
                    };
                    return refused(column, what.to_owned());
                }
                _ => {}
            }
        }
        for (column, value) in [("every", self.every), ("station_gpm", self.station_gpm)] {
            if value.is_some_and(|v| !(v.is_finite() && v > 0.0)) {
                let what = "a level, layer or distance must be more than 0";
                return refused(column, what.to_owned());
            }
        }
        Ok(())
    }

    /// What the ends of a row mean together.
    fn meaning(&self) -> Result<(), Refused> {
        let refused = |column: &'static str, what: &str| Err((column, what.to_owned()));
        let whole = |value: Option<f64>| value.is_none_or(|v| v.fract() == 0.0);
        match (self.practice, self.from, self.to) {
            (Practice::Stability, Some(from), Some(to)) if from <= to => {
                refused("to", "a lower and a higher surface are expected")
            }
            (Practice::MeanWind, Some(from), Some(to)) if from >= to => {
                refused("to", "the upper end of the layer is above the lower one")
            }
            (Practice::Hours, ..) if !whole(self.from) || !whole(self.every) => {
                refused("from", "whole hours are expected")
            }
            (Practice::Surface, Some(from), _) => {
                let upper = self.parts == [Part::C];
                let lower = self.parts == [Part::A];
                let (first, last, step) = if upper {
                    (1.0, 99.0, 1.0)
                } else {
                    (100.0, 980.0, 10.0)
                };
                if !(upper || lower) {
                    return refused(
                        "parts",
                        "A, from 980 to 100 hPa, or C, above 100 hPa, is expected",
                    );
                }
                if !(first..=last).contains(&from) || from % step != 0.0 {
                    let what = "Part A has whole tens from 980 to 100 hPa, Part C whole hPa from 99 to 1 hPa";
                    return refused("from", what);
                }
                if [66.0, 77.0, 88.0].contains(&(from / step)) {
                    return refused("from", "its group would begin as 66PPP, 77PPP or 88PPP do");
                }
                Ok(())
            }
            _ => Ok(()),
        }
    }

    /// Whether the row may follow another, which stands in a line.
    pub(super) fn after(&self, before: &Self, line: usize) -> Result<(), Refused> {
        let same = |row: &Self| (row.region, row.form, row.practice);
        let Some(rule) = self.practice.rule().filter(|_| same(self) == same(before)) else {
            return Ok(());
        };
        let again = || {
            let what = format!("line {line} has the same; remove one of them");
            Err(("practice", what))
        };
        if rule.once {
            return again();
        }
        let common = |hour: f64| first_hours(before).any(|other| other == hour);
        if self.practice == Practice::Hours && first_hours(self).any(common) {
            return again();
        }
        let subject = |row: &Self| {
            let place = (row.unit, row.from, row.to, row.station_gpm);
            let group = (rule.group != GroupRule::Five).then(|| row.group.clone());
            (place, row.choice.unwrap_or(1), group, row.parts.clone())
        };
        if self.practice != Practice::Hours && subject(self) == subject(before) {
            return again();
        }
        let list = |row: &Self| (row.unit, row.choice.unwrap_or(1));
        let levels = matches!(self.practice, Practice::Surface | Practice::Fixed);
        if let (true, Some(below), Some(own)) = (levels, before.from, self.from)
            && list(self) == list(before)
        {
            let rises = match self.unit {
                Some(PracticeUnit::Pressure) => own < below,
                _ => own > below,
            };
            if !rises {
                let what =
                    format!("the levels are listed from the ground up; line {line} has {below}");
                return Err(("from", what));
            }
        }
        Ok(())
    }
}
