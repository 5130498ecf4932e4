//! The text of a message: groups in order, lines of at most 69 characters.

use std::fmt;

use super::{Message, Placed, SignificantPart, Sonde, StandardPart, Thermal};
use crate::figure::{PressureFigure, WindFigure};
use crate::quantity::SpeedUnit;
use crate::sounding::Part;

/// The longest line (WMO-No. 386 Part II, from memory).
const LINE: usize = 69;

/// A figure in a fixed number of digits, or solidi.
fn digits(value: Option<impl Into<u32>>, width: usize) -> String {
    match value {
        Some(value) => format!("{:0width$}", value.into()),
        None => "/".repeat(width),
    }
}

fn thermal_group((t, d): Thermal) -> String {
    digits(t.map(|t| t.code()), 3) + &digits(d.map(|d| d.code()), 2)
}

fn wind_group(wind: Option<WindFigure>) -> String {
    digits(wind.map(WindFigure::code), 5)
}

/// The indicator of the nth level of a section: 00, 11 … 99, 11 …
pub(super) fn indicator(n: usize) -> String {
    let figure = if n == 0 { 0 } else { (n - 1) % 9 + 1 };
    format!("{figure}{figure}")
}

fn placed(indicator: &str, pressure: PressureFigure) -> String {
    format!("{indicator}{:03}", pressure.code())
}

impl Message {
    /// The groups of a part; `None` when the message has no such part.
    #[must_use]
    pub fn groups(&self, part: Part) -> Option<Vec<String>> {
        let letter = part.letter();
        let yy = u32::from(self.day) + if self.unit == SpeedUnit::Knots { 50 } else { 0 };
        let yygg = format!("{yy:02}{:02}", self.hour);
        let station = format!("{:02}{:03}", self.block, self.number);
        let head = |last: String| {
            vec![
                format!("TT{letter}{letter}"),
                yygg.clone() + &last,
                station.clone(),
            ]
        };
        let standard = |p: &StandardPart| {
            let id = p
                .last_with_wind()
                .and_then(|i| p.standard.get(i))
                .and_then(|s| s.id_figure);
            let mut out = head(digits(id, 1));
            out.extend(p.sets().into_iter().flat_map(|(_, groups)| groups));
            out
        };
        let significant = |p: &SignificantPart| {
            let mut out = head(digits(p.measuring, 1));
            let sets = p.sets(usize::from(part == Part::D));
            out.extend(sets.into_iter().flat_map(|(_, groups)| groups));
            out
        };
        match part {
            Part::A => self.a.as_ref().map(standard),
            Part::B => self.b.as_ref().map(significant),
            Part::C => self.c.as_ref().map(standard),
            Part::D => self.d.as_ref().map(significant),
        }
    }
}

impl fmt::Display for Message {
    /// Parts A, B, C, D from a new line each, `=` last, a blank line between.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = true;
        for groups in Part::ALL.into_iter().filter_map(|part| self.groups(part)) {
            if !first {
                f.write_str("\n")?;
            }
            first = false;
            let last = groups.len().saturating_sub(1);
            let mut column = 0;
            for (i, group) in groups.iter().enumerate() {
                let width = group.len() + usize::from(i == last);
                if column > 0 && column + 1 + width > LINE {
                    f.write_str("\n")?;
                    column = 0;
                } else if column > 0 {
                    f.write_str(" ")?;
                    column += 1;
                }
                f.write_str(group)?;
                column += width;
            }
            f.write_str("=\n")?;
        }
        Ok(())
    }
}

/// What a set of groups stands for: the nth of its kind in the part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Set {
    Surface,
    Standard(usize),
    Tropopause(usize),
    Maximum(usize),
    Thermal(usize),
    Wind(usize),
    /// Indicators, layers without data, sections 7 to 10.
    Other,
}

/// Sets of groups in the order of the text.
type Sets = Vec<(Set, Vec<String>)>;

fn placed_groups(indicator: &str, level: &Placed) -> Vec<String> {
    vec![
        placed(indicator, level.pressure),
        thermal_group(level.thermal),
        wind_group(level.wind),
    ]
}

impl StandardPart {
    /// Everything after the identification.
    pub(super) fn sets(&self) -> Sets {
        let mut out: Sets = Vec::new();
        if let Some(s) = &self.surface {
            out.push((Set::Surface, placed_groups("99", s)));
        }
        // Above the surfaces that share the figure of Id there is no wind group.
        let last = self.last_with_wind();
        let id = last
            .and_then(|i| self.standard.get(i))
            .and_then(|s| s.id_figure);
        for (i, s) in self.standard.iter().enumerate() {
            let height = digits(s.height.map(|h| h.code()), 3);
            let mut groups = vec![format!("{:02}{height}", s.pp), thermal_group(s.thermal)];
            if last.is_some_and(|l| i <= l) || (last.is_some() && s.id_figure == id) {
                groups.push(wind_group(s.wind));
            }
            out.push((Set::Standard(i), groups));
        }
        for (i, t) in self.tropopauses.iter().enumerate() {
            out.push((Set::Tropopause(i), placed_groups("88", t)));
        }
        if self.tropopauses.is_empty() {
            out.push((Set::Other, vec!["88999".to_owned()]));
        }
        for (i, m) in self.maxima.iter().enumerate() {
            let indicator = if m.top { "66" } else { "77" };
            let mut groups = vec![placed(indicator, m.pressure), wind_group(m.wind)];
            if let Some((below, above)) = m.shear {
                groups.push(format!("4{}{}", digits(below, 2), digits(above, 2)));
            }
            out.push((Set::Maximum(i), groups));
        }
        if self.maxima.is_empty() {
            out.push((Set::Other, vec!["77999".to_owned()]));
        }
        let mut end = Vec::new();
        if let Some(sonde) = &self.sonde {
            sonde.write(&mut end);
        }
        kept(&self.regional, &self.national, &mut end);
        out.push((Set::Other, end));
        out
    }
}

/// Sections 9 and 10.
fn kept(regional: &[String], national: &[String], out: &mut Vec<String>) {
    for (indicator, groups) in [("51515", regional), ("61616", national)] {
        if !groups.is_empty() {
            out.push(indicator.to_owned());
            out.extend_from_slice(groups);
        }
    }
}

impl SignificantPart {
    /// Everything after the identification; `start` is the number of the first
    /// level: 0 in B, 1 in D.
    pub(super) fn sets(&self, start: usize) -> Sets {
        let mut out: Sets = Vec::new();
        let nothing = |nn: &str| (Set::Other, vec![format!("{nn}///"), "/////".to_owned()]);
        let mut n = 0;
        for (i, level) in self.thermal.iter().enumerate() {
            let nn = indicator(start + i);
            out.push(match level {
                Some((p, thermal)) => {
                    n += 1;
                    let groups = vec![placed(&nn, *p), thermal_group(*thermal)];
                    (Set::Thermal(n - 1), groups)
                }
                None => nothing(&nn),
            });
        }
        if !self.winds.is_empty() {
            out.push((Set::Other, vec!["21212".to_owned()]));
        }
        let mut n = 0;
        for (i, level) in self.winds.iter().enumerate() {
            let nn = indicator(start + i);
            out.push(match level {
                Some((p, wind)) => {
                    n += 1;
                    (Set::Wind(n - 1), vec![placed(&nn, *p), wind_group(*wind)])
                }
                None => nothing(&nn),
            });
        }
        let mut end = Vec::new();
        if let Some(sonde) = &self.sonde {
            sonde.write(&mut end);
        }
        if let Some(clouds) = self.clouds {
            end.push("41414".to_owned());
            end.push(clouds.into_iter().map(|c| digits(c, 1)).collect());
        }
        kept(&self.regional, &self.national, &mut end);
        out.push((Set::Other, end));
        out
    }
}

impl Sonde {
    fn write(&self, out: &mut Vec<String>) {
        out.push("31313".to_owned());
        out.push(
            digits(self.radiation, 1) + &digits(self.radiosonde, 2) + &digits(self.tracking, 2),
        );
        match self.release {
            Some((hour, minute)) => out.push(format!("8{hour:02}{minute:02}")),
            None => out.push("8////".to_owned()),
        }
        if let Some((sign, tenths)) = self.sea {
            out.push(format!("9{sign}{tenths:03}"));
        }
    }
}
