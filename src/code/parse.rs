//! The strict reader: exactly the TEMP form of a land station, by position.
//!
//! Groups are never told by what they look like: `21212` can be +21.2 °C with
//! a depression of 1.2, so a section ends only where a level must begin.

use std::iter::Peekable;
use std::vec::IntoIter;

use thiserror::Error;

use super::{Maximum, Message, Placed, SignificantPart, Sonde, StandardPart, Surface, Thermal};
use crate::figure::{
    DepressionFigure, HeightFigure, PressureFigure, TemperatureFigure, WindFigure,
};
use crate::quantity::SpeedUnit;
use crate::sounding::{Part, Region};
use crate::tables;

/// Longest message, octets.
const MAX_TEXT: usize = 1 << 20;

/// Why a text is not a message of this form.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("part {part} group {group}: `{read}`: {what}")]
#[non_exhaustive]
pub struct ParseError {
    /// Part letter, `?` before one is known.
    pub part: char,
    /// Group within the part, from 1.
    pub group: usize,
    /// The group as read; empty at the end.
    pub read: String,
    /// What is expected.
    pub what: &'static str,
}

/// The groups of one part.
struct Groups {
    part: char,
    taken: usize,
    last: String,
    rest: Peekable<IntoIter<String>>,
}

type Result<T> = std::result::Result<T, ParseError>;

impl Groups {
    fn error(&self, what: &'static str) -> ParseError {
        ParseError {
            part: self.part,
            group: self.taken,
            read: self.last.clone(),
            what,
        }
    }

    /// The next group; all but the first have five characters.
    fn next(&mut self, what: &'static str) -> Result<String> {
        self.taken += 1;
        self.last = self.rest.next().unwrap_or_default();
        let ok = self.last.bytes().all(|b| b.is_ascii_digit() || b == b'/');
        if self.last.len() == 5 && ok {
            Ok(self.last.clone())
        } else {
            Err(self.error(what))
        }
    }

    fn peek_is(&mut self, start: &str) -> bool {
        self.rest.peek().is_some_and(|g| g.starts_with(start))
    }

    /// Takes the next group if it is this one.
    fn take(&mut self, group: &str) -> bool {
        let found = self.rest.peek().is_some_and(|g| g == group);
        if found {
            self.taken += 1;
            self.last = self.rest.next().unwrap_or_default();
        }
        found
    }

    fn thermal(&mut self) -> Result<Thermal> {
        let group = self.next("TTTaDD is expected")?;
        let (t, d) = group.split_at(3);
        let temperature = number(t).map_err(|()| self.error("TTTa is three figures or ///"))?;
        let depression = number(d).map_err(|()| self.error("DD is two figures or //"))?;
        if temperature.is_none() && depression.is_some() {
            return Err(self.error("a depression without a temperature"));
        }
        let t = temperature
            .map(|t| u16::try_from(t).ok().and_then(TemperatureFigure::from_code))
            .map(|t| t.ok_or_else(|| self.error("TTTa is 000 to 999")))
            .transpose()?;
        let d = depression
            .map(|d| u8::try_from(d).ok().and_then(DepressionFigure::from_code))
            .map(|d| d.ok_or_else(|| self.error("DD 51 to 55 are not used")))
            .transpose()?;
        Ok((t, d))
    }

    fn wind(&mut self) -> Result<Option<WindFigure>> {
        let group = self.next("ddfff is expected")?;
        let code = number(&group).map_err(|()| self.error("ddfff is five figures or /////"))?;
        code.map(|c| WindFigure::from_code(c).ok_or_else(|| self.error("dd is 00 to 36")))
            .transpose()
    }

    fn pressure(&self, group: &str, upper: bool) -> Result<PressureFigure> {
        let code = group.get(2..).and_then(|p| p.parse().ok());
        code.and_then(|c| PressureFigure::from_code(c, upper))
            .ok_or_else(|| self.error("PPP is three figures"))
    }
}

/// Figures, or `None` for solidi throughout.
fn number(text: &str) -> std::result::Result<Option<u32>, ()> {
    if text.bytes().all(|b| b == b'/') {
        return Ok(None);
    }
    text.parse().map(Some).map_err(|_| ())
}

fn small(text: Option<&str>) -> std::result::Result<Option<u8>, ()> {
    let value = number(text.unwrap_or("x"))?;
    value.map(|v| u8::try_from(v).map_err(|_| ())).transpose()
}

/// Reads a TEMP message of a land station: its parts in any order, each from
/// `TTAA` … to `=`, one of each at most, all of one station and time.
///
/// # Errors
/// The first group that breaks the form, with part and number.
pub fn parse(text: &str) -> Result<Message> {
    let mut whole: Option<Message> = None;
    let lost = |read: &str, what| ParseError {
        part: '?',
        group: 1,
        read: read.chars().take(20).collect(),
        what,
    };
    if text.len() > MAX_TEXT {
        return Err(lost("", "a message longer than 1 MiB"));
    }
    let (body, rest) = text
        .rsplit_once('=')
        .ok_or_else(|| lost("", "a part ends with ="))?;
    if !rest.trim().is_empty() {
        return Err(lost(rest.trim(), "a part ends with ="));
    }
    for one in body.split('=') {
        let groups: Vec<String> = one.split_ascii_whitespace().map(str::to_owned).collect();
        let first = groups.first().map_or("", String::as_str);
        let part = Part::ALL
            .into_iter()
            .find(|p| first == format!("TT{0}{0}", p.letter()))
            .ok_or_else(|| lost(first, "TTAA, TTBB, TTCC or TTDD is expected"))?;
        let mut g = Groups {
            part: part.letter(),
            taken: 1,
            last: String::new(),
            rest: groups.into_iter().peekable(),
        };
        g.rest.next();
        read_part(&mut g, part, &mut whole)?;
    }
    whole.ok_or_else(|| lost("", "there is no part"))
}

fn read_part(g: &mut Groups, part: Part, whole: &mut Option<Message>) -> Result<()> {
    let group = g.next("YYGGId or YYGGa4 is expected")?;
    let yy: Option<u8> = group.get(..2).and_then(|v| v.parse().ok());
    let hour: Option<u8> = group.get(2..4).and_then(|v| v.parse().ok());
    let figure = small(group.get(4..)).map_err(|()| g.error("a figure or / is expected"))?;
    let (day, unit) = match yy {
        Some(yy @ 1..=31) => (yy, SpeedUnit::MetresPerSecond),
        Some(yy @ 51..=81) => (yy - 50, SpeedUnit::Knots),
        _ => return Err(g.error("YY is 01 to 31, or 51 to 81 with knots")),
    };
    let hour = hour
        .filter(|&h| h <= 23)
        .ok_or_else(|| g.error("GG is 00 to 23"))?;
    let group = g.next("IIiii is expected")?;
    let block = group.get(..2).and_then(|v| v.parse().ok());
    let number = group.get(2..).and_then(|v| v.parse().ok());
    let (Some(block), Some(number)) = (block, number) else {
        return Err(g.error("IIiii is five figures"));
    };
    let own = Message {
        block,
        number,
        day,
        hour,
        unit,
        a: None,
        b: None,
        c: None,
        d: None,
    };
    let message = whole.get_or_insert_with(|| own.clone());
    if (message.block, message.number) != (block, number) {
        return Err(g.error("another station than the part before"));
    }
    if (message.day, message.hour, message.unit) != (day, hour, unit) {
        return Err(g.error("another time or unit than the part before"));
    }
    let doubled = match part {
        Part::A => message.a.replace(standard_part(g, part, figure)?).is_some(),
        Part::C => message.c.replace(standard_part(g, part, figure)?).is_some(),
        Part::B => message
            .b
            .replace(significant_part(g, part, figure)?)
            .is_some(),
        Part::D => message
            .d
            .replace(significant_part(g, part, figure)?)
            .is_some(),
    };
    if doubled {
        Err(g.error("the part is there twice"))
    } else {
        Ok(())
    }
}

fn standard_part(g: &mut Groups, part: Part, id: Option<u8>) -> Result<StandardPart> {
    let upper = part.is_upper();
    let mut out = StandardPart::default();
    if part == Part::A {
        let group = g.next("99PPP is expected")?;
        if !group.starts_with("99") {
            return Err(g.error("99PPP is expected"));
        }
        let pressure = g.pressure(&group, upper)?;
        out.surface = Some(Placed {
            pressure,
            thermal: g.thermal()?,
            wind: g.wind()?,
        });
    }
    let levels: Vec<_> = tables::temp_levels(Region::IV, part).collect();
    let with_wind = match id {
        None => 0,
        Some(_) => match levels.iter().rposition(|l| l.id_figure == id) {
            Some(last) => last + 1,
            None => return Err(g.error("Id is not a figure of table 1734")),
        },
    };
    for (i, level) in levels.into_iter().enumerate() {
        if !g.peek_is(&format!("{:02}", level.pp)) {
            continue;
        }
        let group = g.next("PPhhh is expected")?;
        let height = number(group.get(2..).unwrap_or_default())
            .map_err(|()| g.error("hhh is three figures or ///"))?;
        out.standard.push(Surface {
            pressure_hpa: level.pressure_hpa,
            pp: level.pp,
            id_figure: level.id_figure,
            height: height
                .and_then(|h| u16::try_from(h).ok())
                .and_then(HeightFigure::from_code),
            thermal: g.thermal()?,
            wind: if i < with_wind { g.wind()? } else { None },
        });
    }
    let named = out
        .last_with_wind()
        .and_then(|i| out.standard.get(i))
        .and_then(|s| s.id_figure);
    if named != id {
        return Err(g.error("Id does not name the last standard surface with wind"));
    }
    if !g.take("88999") {
        while g.peek_is("88") {
            let group = g.next("88PPP is expected")?;
            let pressure = g.pressure(&group, upper)?;
            out.tropopauses.push(Placed {
                pressure,
                thermal: g.thermal()?,
                wind: g.wind()?,
            });
        }
        if out.tropopauses.is_empty() {
            g.next("")?;
            return Err(g.error("88PPP or 88999 is expected"));
        }
    }
    if !g.take("77999") {
        while g.peek_is("77") || g.peek_is("66") {
            let group = g.next("77PPP is expected")?;
            let pressure = g.pressure(&group, upper)?;
            let wind = g.wind()?;
            let shear = if g.peek_is("4") {
                let group = g.next("4vbvbvava is expected")?;
                let bad = |()| g.error("vbvb and vava are two figures or //");
                Some((
                    small(group.get(1..3)).map_err(bad)?,
                    small(group.get(3..)).map_err(bad)?,
                ))
            } else {
                None
            };
            out.maxima.push(Maximum {
                top: group.starts_with("66"),
                pressure,
                wind,
                shear,
            });
        }
        if out.maxima.is_empty() {
            g.next("77PPP, 66PPP or 77999 is expected")?;
            return Err(g.error("77PPP, 66PPP or 77999 is expected"));
        }
    }
    out.sonde = sonde(g)?;
    (out.regional, out.national) = kept(g)?;
    Ok(out)
}

fn significant_part(g: &mut Groups, part: Part, measuring: Option<u8>) -> Result<SignificantPart> {
    let start = usize::from(part == Part::D);
    let upper = part.is_upper();
    let mut out = SignificantPart {
        measuring,
        ..SignificantPart::default()
    };
    while g.peek_is(&super::print::indicator(start + out.thermal.len())) {
        let group = g.next("nnPPP is expected")?;
        let level = if group.ends_with("///") {
            if g.next("///// is expected")? != "/////" {
                return Err(g.error("nn/// is followed by /////"));
            }
            None
        } else {
            Some((g.pressure(&group, upper)?, g.thermal()?))
        };
        out.thermal.push(level);
    }
    if g.take("21212") {
        while g.peek_is(&super::print::indicator(start + out.winds.len())) {
            let group = g.next("nnPPP is expected")?;
            let level = if group.ends_with("///") {
                if g.next("///// is expected")? != "/////" {
                    return Err(g.error("nn/// is followed by /////"));
                }
                None
            } else {
                Some((g.pressure(&group, upper)?, g.wind()?))
            };
            out.winds.push(level);
        }
        if out.winds.is_empty() {
            return Err(g.error("21212 is followed by levels"));
        }
    }
    out.sonde = sonde(g)?;
    if part == Part::B && g.take("41414") {
        let group = g.next("NhCLhCMCH is expected")?;
        let mut clouds = [None; 5];
        for (slot, c) in clouds.iter_mut().zip(group.chars()) {
            *slot = c.to_digit(10).and_then(|d| u8::try_from(d).ok());
        }
        out.clouds = Some(clouds);
    }
    (out.regional, out.national) = kept(g)?;
    Ok(out)
}

fn sonde(g: &mut Groups) -> Result<Option<Sonde>> {
    if !g.take("31313") {
        return Ok(None);
    }
    let group = g.next("srrarasasa is expected")?;
    let bad = |()| g.error("srrarasasa is figures or solidi");
    let (radiation, radiosonde, tracking) = (
        small(group.get(..1)).map_err(bad)?,
        small(group.get(1..3)).map_err(bad)?,
        small(group.get(3..)).map_err(bad)?,
    );
    let group = g.next("8GGgg is expected")?;
    if !group.starts_with('8') {
        return Err(g.error("8GGgg is expected"));
    }
    let bad = |()| g.error("GGgg is a clock time or ////");
    let clock = (
        small(group.get(1..3)).map_err(bad)?,
        small(group.get(3..)).map_err(bad)?,
    );
    let release = match clock {
        (Some(hour @ 0..=23), Some(minute @ 0..=59)) => Some((hour, minute)),
        (None, None) => None,
        _ => return Err(bad(())),
    };
    let sea = if g.peek_is("9") {
        let group = g.next("9snTwTwTw is expected")?;
        let sign = small(group.get(1..2)).ok().flatten().filter(|&s| s <= 1);
        let tenths = group.get(2..).and_then(|t| t.parse().ok());
        match (sign, tenths) {
            (Some(sign), Some(tenths)) => Some((sign, tenths)),
            _ => return Err(g.error("9snTwTwTw is figures, sn 0 or 1")),
        }
    } else {
        None
    };
    Ok(Some(Sonde {
        radiation,
        radiosonde,
        tracking,
        release,
        sea,
    }))
}

/// Sections 9 and 10 as they stand; nothing may follow.
fn kept(g: &mut Groups) -> Result<(Vec<String>, Vec<String>)> {
    let (mut regional, mut national) = (Vec::new(), Vec::new());
    if g.take("51515") {
        while g.rest.peek().is_some_and(|next| next != "61616") {
            regional.extend(g.rest.next());
            g.taken += 1;
        }
    }
    if g.take("61616") {
        national.extend(g.rest.by_ref());
    }
    if let Some(next) = g.rest.next() {
        g.taken += 1;
        g.last = next;
        return Err(g.error("nothing of this form can stand here"));
    }
    Ok((regional, national))
}
