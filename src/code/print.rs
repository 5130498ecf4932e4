//! The text of a message: groups in order, lines of at most 69 characters.

use std::fmt;

use super::{Message, SignificantPart, Sonde, StandardPart, Thermal};
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
            p.write(&mut out);
            out
        };
        let significant = |p: &SignificantPart| {
            let mut out = head(digits(p.measuring, 1));
            p.write(&mut out, usize::from(part == Part::D));
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

impl StandardPart {
    fn write(&self, out: &mut Vec<String>) {
        if let Some(s) = &self.surface {
            out.push(placed("99", s.pressure));
            out.push(thermal_group(s.thermal));
            out.push(wind_group(s.wind));
        }
        // Above the surfaces that share the figure of Id there is no wind group.
        let last = self.last_with_wind();
        let id = last
            .and_then(|i| self.standard.get(i))
            .and_then(|s| s.id_figure);
        for (i, s) in self.standard.iter().enumerate() {
            out.push(format!(
                "{:02}{}",
                s.pp,
                digits(s.height.map(|h| h.code()), 3)
            ));
            out.push(thermal_group(s.thermal));
            if last.is_some_and(|l| i <= l) || (last.is_some() && s.id_figure == id) {
                out.push(wind_group(s.wind));
            }
        }
        for t in &self.tropopauses {
            out.push(placed("88", t.pressure));
            out.push(thermal_group(t.thermal));
            out.push(wind_group(t.wind));
        }
        if self.tropopauses.is_empty() {
            out.push("88999".to_owned());
        }
        for m in &self.maxima {
            out.push(placed(if m.top { "66" } else { "77" }, m.pressure));
            out.push(wind_group(m.wind));
            if let Some((below, above)) = m.shear {
                out.push(format!("4{}{}", digits(below, 2), digits(above, 2)));
            }
        }
        if self.maxima.is_empty() {
            out.push("77999".to_owned());
        }
        if let Some(sonde) = &self.sonde {
            sonde.write(out);
        }
        kept(&self.regional, &self.national, out);
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
    /// `start` is the number of the first level: 0 in B, 1 in D.
    fn write(&self, out: &mut Vec<String>, start: usize) {
        for (i, level) in self.thermal.iter().enumerate() {
            let nn = indicator(start + i);
            match level {
                Some((p, thermal)) => {
                    out.push(placed(&nn, *p));
                    out.push(thermal_group(*thermal));
                }
                None => out.extend([format!("{nn}///"), "/////".to_owned()]),
            }
        }
        if !self.winds.is_empty() {
            out.push("21212".to_owned());
        }
        for (i, level) in self.winds.iter().enumerate() {
            let nn = indicator(start + i);
            match level {
                Some((p, wind)) => out.extend([placed(&nn, *p), wind_group(*wind)]),
                None => out.extend([format!("{nn}///"), "/////".to_owned()]),
            }
        }
        if let Some(sonde) = &self.sonde {
            sonde.write(out);
        }
        if let Some(clouds) = self.clouds {
            out.push("41414".to_owned());
            out.push(clouds.into_iter().map(|c| digits(c, 1)).collect());
        }
        kept(&self.regional, &self.national, out);
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
