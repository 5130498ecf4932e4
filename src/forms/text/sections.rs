//! Sections that several forms share: 31313, 41414, 51515, 61616.

use super::groups::{Groups, Result, digits, small};
use crate::model::DepartureKind;

/// Section 7: sounding system and time of release.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sonde {
    /// sr (table 3849).
    pub radiation: Option<u8>,
    /// rara (Common Code Table C-2).
    pub radiosonde: Option<u8>,
    /// sasa (Common Code Table C-7).
    pub tracking: Option<u8>,
    /// GGgg, time of release.
    pub release: Option<(u8, u8)>,
    /// sn and TwTwTw.
    pub sea: Option<(u8, u16)>,
    /// Which of its two first groups there are.
    pub groups: SondeGroups,
}

/// The groups after 31313 that a part has; those we write have both.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SondeGroups {
    /// srrarasasa and 8GGgg.
    #[default]
    Both,
    /// srrarasasa alone.
    Equipment,
    /// 8GGgg alone.
    Release,
    /// The indicator alone.
    Neither,
}

/// Nh CL h CM CH, `None` for a solidus.
pub type CloudFigures = [Option<u8>; 5];

impl Sonde {
    pub(super) fn write(&self, out: &mut Vec<String>) {
        out.push("31313".to_owned());
        if matches!(self.groups, SondeGroups::Both | SondeGroups::Equipment) {
            out.push(
                digits(self.radiation, 1) + &digits(self.radiosonde, 2) + &digits(self.tracking, 2),
            );
        }
        if matches!(self.groups, SondeGroups::Both | SondeGroups::Release) {
            match self.release {
                Some((hour, minute)) => out.push(format!("8{hour:02}{minute:02}")),
                None => out.push("8////".to_owned()),
            }
        }
        if let Some((sign, tenths)) = self.sea {
            out.push(format!("9{sign}{tenths:03}"));
        }
    }

    pub(super) fn read(g: &mut Groups<'_>) -> Result<Option<Self>> {
        if !g.take("31313") {
            return Ok(None);
        }
        let mut out = Self {
            radiation: None,
            radiosonde: None,
            tracking: None,
            release: None,
            sea: None,
            groups: SondeGroups::Neither,
        };
        if g.ends_here() && g.depart(DepartureKind::Short, 7) {
            return Ok(Some(out));
        }
        // sr has no figure 8 (table 3849): a group that begins with it is 8GGgg.
        if !g.peek_is("8") {
            let group = g.next("srrarasasa is expected")?;
            let bad = |()| g.error("srrarasasa is figures or solidi");
            out.radiation = small(group.get(..1)).map_err(bad)?;
            out.radiosonde = small(group.get(1..3)).map_err(bad)?;
            out.tracking = small(group.get(3..)).map_err(bad)?;
            out.groups = SondeGroups::Equipment;
            if g.ends_here() && g.depart(DepartureKind::Short, 7) {
                return Ok(Some(out));
            }
        }
        let group = g.next("8GGgg is expected")?;
        if !group.starts_with('8') {
            return Err(g.error("8GGgg is expected"));
        }
        let bad = |()| g.error("GGgg is a clock time or ////");
        let clock = (
            small(group.get(1..3)).map_err(bad)?,
            small(group.get(3..)).map_err(bad)?,
        );
        out.release = match clock {
            (Some(hour @ 0..=23), Some(minute @ 0..=59)) => Some((hour, minute)),
            (None, None) => None,
            _ => return Err(bad(())),
        };
        out.groups = if out.groups == SondeGroups::Equipment {
            SondeGroups::Both
        } else if g.depart(DepartureKind::Short, 7) {
            SondeGroups::Release
        } else {
            return Err(g.error("srrarasasa is expected before 8GGgg"));
        };
        if g.peek_is("9") {
            let group = g.next("9snTwTwTw is expected")?;
            let sign = small(group.get(1..2)).ok().flatten().filter(|&s| s <= 1);
            let tenths = group.get(2..).and_then(|t| t.parse().ok());
            match (sign, tenths) {
                (Some(sign), Some(tenths)) => out.sea = Some((sign, tenths)),
                _ => return Err(g.error("9snTwTwTw is figures, sn 0 or 1")),
            }
        }
        Ok(Some(out))
    }
}

/// Writes section 8.
pub(super) fn write_clouds(clouds: Option<CloudFigures>, out: &mut Vec<String>) {
    if let Some(clouds) = clouds {
        out.push("41414".to_owned());
        out.push(clouds.into_iter().map(|c| digits(c, 1)).collect());
    }
}

/// Reads section 8.
pub(super) fn read_clouds(g: &mut Groups<'_>) -> Result<Option<CloudFigures>> {
    if !g.take("41414") {
        return Ok(None);
    }
    let group = g.next("NhCLhCMCH is expected")?;
    let mut clouds = [None; 5];
    for (slot, c) in clouds.iter_mut().zip(group.chars()) {
        *slot = c.to_digit(10).and_then(|d| u8::try_from(d).ok());
    }
    Ok(Some(clouds))
}

/// Writes sections 9 and 10; one empty group stands for an indicator alone.
pub(super) fn write_last_sections(regional: &[String], national: &[String], out: &mut Vec<String>) {
    for (indicator, groups) in [("51515", regional), ("61616", national)] {
        if !groups.is_empty() {
            out.push(indicator.to_owned());
            out.extend(groups.iter().filter(|g| !g.is_empty()).cloned());
        }
    }
}

/// Sections 9 and 10 as they stand; nothing may follow. A section without groups has
/// one that is empty.
pub(super) fn read_last_sections(g: &mut Groups<'_>) -> Result<(Vec<String>, Vec<String>)> {
    let (mut regional, mut national) = (Vec::new(), Vec::new());
    if g.take("51515") {
        while g.peek().is_some_and(|next| next != "61616") {
            regional.push(g.any().to_owned());
        }
        if regional.is_empty() {
            regional.push(String::new());
        }
    }
    if g.take("61616") {
        while g.peek().is_some() {
            national.push(g.any().to_owned());
        }
        if national.is_empty() {
            national.push(String::new());
        }
    }
    g.end()?;
    Ok((regional, national))
}
