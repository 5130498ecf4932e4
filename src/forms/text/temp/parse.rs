//! The strict reader: exactly the TEMP form, by position.
//!
//! Groups are never identified by what they look like: `21212` can be +21.2 °C with
//! a depression of 1.2, so a section ends only where a level must begin.

use super::{Maximum, Placed, SignificantPart, StandardPart, Surface};
use crate::forms::text::groups::{Groups, Result, number, numbered};
use crate::forms::text::sections::{Sonde, read_clouds, read_last_sections};
use crate::model::{DepartureKind, Part};
use crate::tables;
use crate::tables::StandardLevel;
use crate::tables::figure::HeightFigure;

/// Reads Part A or C after the identification.
pub(in crate::forms::text) fn standard(
    g: &mut Groups<'_>,
    part: Part,
    id: Option<u8>,
) -> Result<StandardPart> {
    let upper = part.is_upper();
    g.enter(2);
    let mut out = StandardPart::default();
    if part == Part::A {
        let group = g.next("99PPP is expected")?;
        g.begin_level(3);
        if !group.starts_with("99") {
            return Err(g.error("99PPP is expected"));
        }
        if group == "99///" {
            // A drop that ended above the surface.
            if g.thermal()? != (None, None) || g.wind()?.is_some() {
                return Err(g.error("99/// is followed by ///// /////"));
            }
        } else {
            let pressure = g.pressure(group, upper)?;
            out.surface = Some(Placed {
                pressure,
                thermal: g.thermal()?,
                wind: g.wind()?,
            });
        }
    }
    let levels = g.standard_levels();
    let with_wind = match id {
        None => 0,
        Some(_) => match levels.iter().rposition(|l| l.id_figure == id) {
            Some(last) => last + 1,
            None => return Err(g.error("Id is not a figure of table 1734")),
        },
    };
    // Id cannot name 7 to 1 hPa: some services write winds there and some do not.
    let mut trial = g.clone();
    out.standard = match surfaces(&mut trial, &levels, with_wind, true) {
        Ok(read)
            if trial.ends_here() || ["88", "77", "66"].iter().any(|&next| trial.peek_is(next)) =>
        {
            *g = trial;
            read
        }
        _ => surfaces(g, &levels, with_wind, false)?,
    };
    // In a damaged part a section is absent only where groups are lost or the part ends.
    let absent = g.ends_here() && g.may_lack(2, out.standard.len());
    let without = (g.peek_is("77") || g.peek_is("66")) && g.may_lack(2, out.standard.len());
    if !(absent || without || g.peek_is("88")) {
        g.any();
        return Err(g.error("the next standard surface, 88PPP or 88999 is expected"));
    }
    if out.id_figure() != id {
        if !(absent || g.is_damaged()) {
            g.enter(3);
            return Err(g.error("Id does not name the last standard surface with wind"));
        }
        // The surface that Id names is lost.
        out.id = id;
    }
    g.enter(3);
    if !g.peek_is("88") {
        if !g.depart(DepartureKind::Absent, 3) {
            return Err(g.error("88PPP or 88999 is expected"));
        }
    } else if !g.take("88999") {
        loop {
            while g.take_lost(out.tropopauses.len()) {}
            if !g.peek_is("88") {
                break;
            }
            let group = g.next("88PPP is expected")?;
            g.begin_level(3);
            let pressure = g.pressure(group, upper)?;
            out.tropopauses.push(Placed {
                pressure,
                thermal: g.thermal()?,
                wind: g.wind()?,
            });
        }
    }
    g.enter(4);
    let ends = g.ends_here() && g.may_lack(3, out.tropopauses.len());
    if ends && g.depart(DepartureKind::Absent, 4) {
        // Nothing is known of maximum winds.
    } else if !g.take("77999") {
        loop {
            while g.take_lost(out.maxima.len()) {}
            if !(g.peek_is("77") || g.peek_is("66")) {
                break;
            }
            let group = g.next("77PPP is expected")?;
            g.begin_level(2);
            let pressure = g.pressure(group, upper)?;
            let wind = g.wind()?;
            let shear = g.shear()?;
            out.maxima.push(Maximum {
                top: group.starts_with("66"),
                pressure,
                wind,
                shear,
            });
        }
        if out.maxima.is_empty() {
            let ends = g.ends_here() && g.may_lack(4, 0);
            if !(ends && g.depart(DepartureKind::Absent, 4)) {
                g.any();
                return Err(g.error("77PPP, 66PPP or 77999 is expected"));
            }
        }
    }
    g.enter(7);
    out.sonde = Sonde::read(g)?;
    g.enter(9);
    (out.regional, out.national) = read_last_sections(g)?;
    Ok(out)
}

/// The standard surfaces of section 2: the first `with_wind` of the list have a
/// wind group, and those that Id cannot name where `unnamed` says so.
fn surfaces(
    g: &mut Groups<'_>,
    levels: &[StandardLevel],
    with_wind: usize,
    unnamed: bool,
) -> Result<Vec<Surface>> {
    let mut out = Vec::new();
    for (i, level) in levels.iter().enumerate() {
        while g.take_lost(out.len()) {}
        if !g.peek_names(level.pp) {
            continue;
        }
        let group = g.next("PPhhh is expected")?;
        let above = tables::id_figure(level.pressure_hpa).is_none();
        let has_wind = i < with_wind || (unnamed && above);
        g.begin_level(if has_wind { 3 } else { 2 });
        let height = number(group.get(2..).unwrap_or_default())
            .map_err(|()| g.error("hhh is three figures or ///"))?;
        out.push(Surface {
            pressure_hpa: level.pressure_hpa,
            pp: level.pp,
            id_figure: level.id_figure,
            height: height
                .and_then(|h| u16::try_from(h).ok())
                .and_then(HeightFigure::from_code),
            thermal: g.thermal()?,
            wind: if has_wind { g.wind()? } else { None },
        });
    }
    while g.take_lost(out.len()) {}
    Ok(out)
}

/// Reads Part B or D after the identification.
pub(in crate::forms::text) fn significant(
    g: &mut Groups<'_>,
    part: Part,
    measuring: Option<u8>,
) -> Result<SignificantPart> {
    let start = usize::from(part == Part::D);
    let upper = part.is_upper();
    g.enter(5);
    let mut out = SignificantPart {
        measuring,
        ..SignificantPart::default()
    };
    out.thermal = numbered(g, start, upper, Groups::thermal)?;
    if g.take("21212") {
        g.enter(6);
        out.winds = numbered(g, start, upper, Groups::wind)?;
        let nothing = out.winds.is_empty();
        if nothing && !(g.ends_here() && g.depart(DepartureKind::NoLevels, 6)) {
            g.any();
            return Err(g.error("21212 is followed by levels"));
        }
    }
    g.enter(7);
    out.sonde = Sonde::read(g)?;
    if part == Part::B {
        g.enter(8);
        out.clouds = read_clouds(g)?;
    }
    if !out.winds.is_empty() && g.peek_is("21212") {
        let sets = out.winds_sets(part, &g.departures).into_iter();
        let again: Vec<String> = sets.flat_map(|(_, groups)| groups).collect();
        let mut trial = g.clone();
        if trial.take_all(&again) && trial.depart(DepartureKind::Again, 6) {
            *g = trial;
        }
    }
    g.enter(9);
    (out.regional, out.national) = read_last_sections(g)?;
    Ok(out)
}
