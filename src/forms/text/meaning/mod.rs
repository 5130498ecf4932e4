//! What each group of a message says, in words: from the figures of the message,
//! group by group beside what is printed of them.

mod pilot;
mod regional;
mod sections;
mod temp;
#[cfg(test)]
mod tests;

pub(crate) use sections::cloud_words;

use super::groups::Thermal;
use super::{Body, Ident, Message, NoLevel, Set};
use crate::model::quantity::SpeedUnit;
use crate::model::{DepartureKind, Form, Part, Report, StationKind};
use crate::tables;
use crate::tables::figure::{PositionFigure, WindFigure};
use crate::tables::{ElevationConfidence, ElevationUnit};

/// A group of a message with what it says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GroupMeaning {
    /// The group as it stands in the text.
    pub group: String,
    /// What it says, in words.
    pub meaning: String,
    /// The levels of the report that it is about, from 0 in the report's order;
    /// none for identification, indicators and sections 7 to 10, several for the
    /// group that says where the next winds of PILOT are.
    pub levels: Vec<usize>,
}

/// The name of a code form (WMO-No. 306, FM 32 to 38).
#[must_use]
pub fn form_name(form: Form, kind: StationKind) -> &'static str {
    match (form, kind) {
        (Form::Temp, StationKind::Land) => "TEMP",
        (Form::Temp, StationKind::Ship) => "TEMP SHIP",
        (Form::Temp, StationKind::Mobile) => "TEMP MOBIL",
        (Form::Temp, StationKind::Drop) => "TEMP DROP",
        (Form::Pilot, StationKind::Ship) => "PILOT SHIP",
        (Form::Pilot, StationKind::Mobile) => "PILOT MOBIL",
        (Form::Pilot, _) => "PILOT",
        (Form::Descent, _) => "descent after burst",
    }
}

impl Message {
    /// The groups of a part, in the order of the text, with what each says and the
    /// levels it is about; `None` when the message has no such part.
    ///
    /// `report` is the one that the message was made from, as in
    /// [`Message::beside`], or the one that it gives ([`Message::report`]). What the
    /// practice of a Region puts into section 9 is reported where the report has it;
    /// other groups of sections 9 and 10 stand as they are.
    #[must_use]
    pub fn meanings(&self, part: Part, report: &Report) -> Option<Vec<GroupMeaning>> {
        let body = self.parts.get(&part)?;
        let groups = self.groups(part)?;
        let sets = self.sets(part);
        let mut words = self.head(part, body);
        let mut levels = vec![Vec::new(); words.len()];
        let reported = self.words(part, report, body, &sets);
        for (i, ((set, _), stated)) in sets.iter().zip(reported).enumerate() {
            let own: Vec<usize> = self.level_of(report, part, *set).into_iter().collect();
            let begins = stated.len() > 1 && begins_block(*set, self.form, body);
            for k in 0..stated.len() {
                let mut of = own.clone();
                if k == 0 && begins {
                    let more = sets.get(i + 1..).unwrap_or_default();
                    let block = more.iter().take_while(|(_, groups)| groups.len() == 1);
                    of.extend(block.filter_map(|(set, _)| self.level_of(report, part, *set)));
                }
                levels.push(of);
            }
            words.extend(stated);
        }
        let reported = groups.into_iter().zip(words).zip(levels);
        let reported = reported.map(|((group, meaning), levels)| GroupMeaning {
            group,
            meaning,
            levels,
        });
        Some(reported.collect())
    }

    /// What the sets of a part say, a text a group.
    fn words(
        &self,
        part: Part,
        report: &Report,
        body: &Body,
        sets: &[(Set, Vec<String>)],
    ) -> Vec<Vec<String>> {
        match body {
            Body::Standard(p) => temp::standard(self, part, report, p, sets),
            Body::Significant(p) => temp::significant(part, report, p, self.unit, sets),
            Body::Winds(p) => pilot::winds(self, part, report, p, sets),
            Body::Levels(p) => pilot::levels(part, report, p, self.unit, sets),
            Body::Nil(nil) => sets
                .iter()
                .map(|(set, groups)| match set {
                    Set::Other(NoLevel::Nil) => {
                        let mut words = vec!["the reason, in words".to_owned(); groups.len()];
                        words.splice(..1, other(NoLevel::Nil));
                        words
                    }
                    _ => sections::last_sections(part, report, &nil.reason, &[]),
                })
                .collect(),
        }
    }

    /// What the groups of section 1 say.
    fn head(&self, part: Part, body: &Body) -> Vec<String> {
        let kind = self.ident.kind();
        let mut out = vec![format!(
            "{}, Part {}: {}",
            form_name(self.form, kind),
            part.letter(),
            content(self.form, part)
        )];
        out.extend(self.ident.sign().map(|sign| format!("call sign {sign}")));
        let speeds = match self.unit {
            SpeedUnit::Knots => "speeds in knots (50 is added to the day)",
            SpeedUnit::MetresPerSecond => "speeds in m/s",
        };
        let last = match body {
            Body::Standard(p) => match p.last_with_wind().and_then(|i| p.standard.get(i)) {
                Some(s) => format!("standard surfaces have winds up to {} hPa", s.pressure_hpa),
                None => "no standard surface has a wind".to_owned(),
            },
            Body::Significant(p) => equipment(p.measuring),
            Body::Winds(p) => equipment(p.measuring),
            Body::Levels(p) => equipment(p.measuring),
            Body::Nil(_) => "nothing was measured".to_owned(),
        };
        if !self.departures(part).has(DepartureKind::NoTime, 1) {
            out.push(format!(
                "day {} of the month, {:02} UTC; {speeds}; {last}",
                self.day, self.hour
            ));
        }
        out.extend(of_ident(&self.ident));
        out
    }
}

/// Whether the first group of a set says where this wind and the next ones are.
fn begins_block(set: Set, form: Form, body: &Body) -> bool {
    match (form, set) {
        (Form::Pilot, Set::Standard(_)) => true,
        (Form::Pilot, Set::Wind(_)) => match body {
            Body::Levels(p) => matches!(p.levels, super::WindLevels::Heights(_)),
            _ => false,
        },
        _ => false,
    }
}

/// What a part is about.
fn content(form: Form, part: Part) -> &'static str {
    match (form, part) {
        (Form::Pilot, Part::A) => "winds at standard surfaces up to 100 hPa",
        (Form::Pilot, Part::C) => "winds at standard surfaces above 100 hPa",
        (Form::Pilot, Part::B) => "winds at significant levels up to 100 hPa",
        (Form::Pilot, Part::D) => "winds at significant levels above 100 hPa",
        (_, Part::A) => "surface, standard surfaces, tropopause and maximum wind up to 100 hPa",
        (_, Part::C) => "standard surfaces, tropopause and maximum wind above 100 hPa",
        (_, Part::B) => "significant levels up to 100 hPa",
        (_, Part::D) => "significant levels above 100 hPa",
    }
}

/// a4 (table 0265).
fn equipment(figure: Option<u8>) -> String {
    let row = figure.and_then(|figure| tables::measuring().iter().find(|m| m.figure == figure));
    match row {
        Some(row) => format!("measured by {}", row.meaning),
        None => "measuring equipment not given".to_owned(),
    }
}

/// The groups after the time group.
fn of_ident(ident: &Ident) -> Vec<String> {
    match ident {
        Ident::Land { block, number } => {
            vec![format!("station: block {block:02}, number {number:03}")]
        }
        Ident::Ship { position, .. } | Ident::Drop { position } => of_position(*position),
        Ident::Mobile {
            position,
            elevation,
            ..
        } => {
            let mut out = of_position(*position);
            let row = tables::elevations()
                .iter()
                .find(|row| row.figure == elevation.quality);
            let how = row.map_or_else(String::new, |row| {
                let unit = match row.unit {
                    ElevationUnit::Metres => "m",
                    ElevationUnit::Feet => "ft",
                };
                let word = match row.confidence {
                    ElevationConfidence::Excellent => "excellent",
                    ElevationConfidence::Good => "good",
                    ElevationConfidence::Fair => "fair",
                    ElevationConfidence::Poor => "poor",
                };
                format!(" {unit}, confidence {word}")
            });
            out.push(format!("elevation {}{how}", elevation.height));
            out
        }
    }
}

fn of_position(p: PositionFigure) -> Vec<String> {
    let (south, west) = tables::quadrant_signs(p.quadrant()).unwrap_or_default();
    let (ns, ew) = (if south { "S" } else { "N" }, if west { "W" } else { "E" });
    let degrees = |tenths: u16| format!("{}.{}°", tenths / 10, tenths % 10);
    vec![
        format!("latitude {} {ns}", degrees(p.latitude())),
        format!(
            "quadrant {} of the globe ({ns}, {ew}), longitude {} {ew}",
            p.quadrant(),
            degrees(p.longitude())
        ),
        format!(
            "the same place in Marsden square {}: whole degrees end in {} and {}",
            p.square(),
            p.units() / 10,
            p.units() % 10
        ),
    ]
}

/// A wind in words.
fn wind_words(wind: Option<WindFigure>, unit: SpeedUnit) -> String {
    match wind {
        None => "wind missing".to_owned(),
        Some(WindFigure::CALM) => "calm".to_owned(),
        Some(w) => format!(
            "wind from {:03.0}°, {} {}",
            w.dir_deg(),
            w.speed(),
            unit.symbol()
        ),
    }
}

/// Temperature and depression in words.
fn thermal_words((t, d): Thermal) -> String {
    let t = match t {
        Some(t) => format!("temperature {} °C", signed(t.value_c())),
        None => "temperature missing".to_owned(),
    };
    let d = match d {
        Some(d) => format!("dew point {} K lower", d.value_k()),
        None => "humidity missing".to_owned(),
    };
    format!("{t}, {d}")
}

/// Tenths with a true minus sign.
fn signed(value: f64) -> String {
    format!("{value:.1}").replace('-', "\u{2212}")
}

/// The shear group in words.
fn shear_words((below, above): (Option<u8>, Option<u8>), unit: SpeedUnit) -> String {
    let one = |v: Option<u8>| match v {
        Some(v) => format!("{v} {}", unit.symbol()),
        None => "not known".to_owned(),
    };
    format!(
        "vector difference of the wind to that 1 km below: {}; to that 1 km above: {}",
        one(below),
        one(above)
    )
}

/// What groups without a level say, where that is the same in every form.
fn other(stated: NoLevel) -> Vec<String> {
    let words: &[&str] = match stated {
        NoLevel::NoSurface => &[
            "the surface was not reached",
            "no temperature of the surface",
            "no wind of the surface",
        ],
        NoLevel::NoTropopause => &["no tropopause in this part"],
        NoLevel::NoMaximum => &["no maximum wind in this part"],
        NoLevel::Winds => &["significant levels for wind follow"],
        NoLevel::Gap => &[
            "a layer without data lies between the neighbouring levels",
            "nothing to report in it",
        ],
        NoLevel::Nil => &["there is no report"],
        NoLevel::End => &[],
    };
    words.iter().map(|w| (*w).to_owned()).collect()
}
