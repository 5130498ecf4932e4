//! Section 1: who reports, from where (WMO-No. 306, FM 32 to 38).

use super::CodeError;
use super::groups::{Groups, Result, digits, number};
use crate::model::{Context, DepartureKind, Departures, Position, Station, StationKind};
use crate::tables::figure::{ElevationFigure, FigureError, PositionFigure, Tenths};

/// The identification of a report.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Ident {
    /// A fixed station, on land or on a platform at sea: IIiii.
    Land {
        /// II, block number.
        block: u8,
        /// iii, station number.
        number: u16,
    },
    /// A ship: D…D and position.
    Ship {
        /// D…D.
        sign: String,
        /// 99LaLaLa QcLoLoLoLo MMMULaULo.
        position: PositionFigure,
    },
    /// A mobile land station: D…D, position and elevation.
    Mobile {
        /// D…D.
        sign: String,
        /// 99LaLaLa QcLoLoLoLo MMMULaULo.
        position: PositionFigure,
        /// h0h0h0h0im.
        elevation: ElevationFigure,
    },
    /// A sonde dropped from an aircraft: its position.
    Drop {
        /// 99LaLaLa QcLoLoLoLo MMMULaULo.
        position: PositionFigure,
    },
}

fn place(station: &Station, how: Tenths) -> std::result::Result<PositionFigure, CodeError> {
    let (Some(latitude_deg), Some(longitude_deg)) = (station.latitude_deg, station.longitude_deg)
    else {
        return Err(CodeError::Lacks("a position (latitude and longitude)"));
    };
    let position = Position {
        latitude_deg,
        longitude_deg,
    };
    PositionFigure::from_value(position, how).map_err(CodeError::Ident)
}

fn sign(station: &Station) -> std::result::Result<String, CodeError> {
    let sign = station.call_sign.as_deref().unwrap_or_default();
    if is_sign(sign) {
        Ok(sign.to_owned())
    } else {
        Err(CodeError::Lacks(
            "a call sign of 1 to 9 capital letters or figures",
        ))
    }
}

fn is_sign(text: &str) -> bool {
    (1..=9).contains(&text.len())
        && text
            .bytes()
            .all(|b| b.is_ascii_uppercase() || b.is_ascii_digit())
}

impl Ident {
    /// The identification that a context gives.
    ///
    /// # Errors
    /// What the kind of station needs and the context lacks, or a value that
    /// does not fit.
    pub fn of(context: &Context) -> std::result::Result<Self, CodeError> {
        Self::with(context, sign)
    }

    /// The same of a message that was received without a call sign.
    pub(super) fn unsigned(context: &Context) -> std::result::Result<Self, CodeError> {
        Self::with(context, |station| match &station.call_sign {
            Some(_) => sign(station),
            None => Ok(String::new()),
        })
    }

    fn with(
        context: &Context,
        sign: impl Fn(&Station) -> std::result::Result<String, CodeError>,
    ) -> std::result::Result<Self, CodeError> {
        let station = &context.station;
        Ok(match station.kind {
            StationKind::Land => Self::Land {
                block: station
                    .wmo_block
                    .ok_or(CodeError::Lacks("a WMO block number"))?,
                number: station
                    .wmo_number
                    .ok_or(CodeError::Lacks("a WMO station number"))?,
            },
            StationKind::Ship => Self::Ship {
                sign: sign(station)?,
                position: place(station, Tenths::Truncated)?,
            },
            StationKind::Mobile => {
                let elevation = station
                    .elevation_m
                    .ok_or(CodeError::Lacks("the elevation of the mobile station"))?;
                let quality = station.elevation_quality.ok_or(CodeError::Lacks(
                    "the confidence figure im of its elevation (elevation_quality)",
                ))?;
                Self::Mobile {
                    sign: sign(station)?,
                    position: place(station, Tenths::Truncated)?,
                    elevation: ElevationFigure::from_value(elevation, quality)
                        .map_err(CodeError::Ident)?,
                }
            }
            StationKind::Drop => Self::Drop {
                position: place(station, Tenths::Nearest)?,
            },
        })
    }

    /// The kind of station.
    #[must_use]
    pub fn kind(&self) -> StationKind {
        match self {
            Self::Land { .. } => StationKind::Land,
            Self::Ship { .. } => StationKind::Ship,
            Self::Mobile { .. } => StationKind::Mobile,
            Self::Drop { .. } => StationKind::Drop,
        }
    }

    /// D…D, where the kind has it and the sender gives it.
    #[must_use]
    pub fn sign(&self) -> Option<&str> {
        match self {
            Self::Ship { sign, .. } | Self::Mobile { sign, .. } => {
                Some(sign.as_str()).filter(|sign| !sign.is_empty())
            }
            _ => None,
        }
    }

    /// The call sign, or the groups: station number or position.
    #[must_use]
    pub fn name(&self) -> String {
        let sign = self.sign().map(str::to_owned);
        sign.unwrap_or_else(|| self.groups().join(" "))
    }

    fn position(&self) -> Option<PositionFigure> {
        match self {
            Self::Land { .. } => None,
            Self::Ship { position, .. }
            | Self::Mobile { position, .. }
            | Self::Drop { position } => Some(*position),
        }
    }

    fn elevation(&self) -> Option<ElevationFigure> {
        match self {
            Self::Mobile { elevation, .. } => Some(*elevation),
            _ => None,
        }
    }

    /// The groups after the time group.
    #[must_use]
    pub fn groups(&self) -> Vec<String> {
        self.groups_with(&Departures::default())
    }

    /// The same of a part as it was received.
    pub(super) fn groups_with(&self, departures: &Departures) -> Vec<String> {
        let mut out = Vec::new();
        if let Self::Land { block, number } = self {
            out.push(format!("{block:02}{number:03}"));
        }
        if let Some(p) = self.position() {
            out.push(format!("99{:03}", p.latitude()));
            out.push(format!("{}{:04}", p.quadrant(), p.longitude()));
            let own = u32::from(p.square()) * 100 + u32::from(p.units());
            out.push(format!("{:05}", departures.square.unwrap_or(own)));
        }
        if let Some(e) = self.elevation() {
            out.push(digits(Some(e.height), 4) + &digits(Some(e.quality), 1));
        }
        out
    }

    /// The station as far as the identification tells.
    pub(super) fn station(&self) -> Station {
        let (wmo_block, wmo_number) = match self {
            Self::Land { block, number } => (Some(*block), Some(*number)),
            _ => (None, None),
        };
        let place = self.position().map(PositionFigure::place);
        Station {
            kind: self.kind(),
            wmo_block,
            wmo_number,
            call_sign: self.sign().map(str::to_owned),
            latitude_deg: place.map(|p| p.latitude_deg),
            longitude_deg: place.map(|p| p.longitude_deg),
            elevation_m: self.elevation().map(ElevationFigure::value_m),
            elevation_quality: self.elevation().map(|e| e.quality),
            ..Station::default()
        }
    }

    /// Reads D…D; `None` for the kinds without.
    pub(super) fn read_sign(g: &mut Groups<'_>, kind: StationKind) -> Result<Option<String>> {
        if !matches!(kind, StationKind::Ship | StationKind::Mobile) {
            return Ok(None);
        }
        let mut ahead = g.clone();
        let time = ahead.next("").is_ok();
        if time && ahead.peek_is("99") && g.depart(DepartureKind::NoSign, 1) {
            return Ok(Some(String::new()));
        }
        let what = "D....D, a call sign of capital letters or figures, is expected";
        let sign = g.any();
        // Some are longer than the nine that BUFR can hold.
        if !sign.is_empty() && sign.bytes().all(|b| b.is_ascii_alphanumeric()) {
            Ok(Some(sign.to_owned()))
        } else {
            Err(g.error(what))
        }
    }

    /// Reads the groups after the time group.
    pub(super) fn read(
        g: &mut Groups<'_>,
        kind: StationKind,
        sign: Option<String>,
    ) -> Result<Self> {
        let sign = sign.unwrap_or_default();
        if kind == StationKind::Land {
            let group = g.next("IIiii is expected")?;
            let block = group.get(..2).and_then(|v| v.parse().ok());
            let number = group.get(2..).and_then(|v| v.parse().ok());
            return match (block, number) {
                (Some(block), Some(number)) => Ok(Self::Land { block, number }),
                _ => Err(g.error("IIiii is five figures")),
            };
        }
        let position = position(g)?;
        Ok(match kind {
            StationKind::Mobile => {
                let group = g.next("h0h0h0h0im is expected")?;
                let height = group.get(..4).and_then(|v| v.parse().ok());
                let quality = group.get(4..).and_then(|v| v.parse().ok());
                let elevation = height
                    .zip(quality)
                    .and_then(|(h, q)| ElevationFigure::from_code(h, q))
                    .ok_or_else(|| g.error("h0h0h0h0 is four figures, im 1 to 8"))?;
                Self::Mobile {
                    sign,
                    position,
                    elevation,
                }
            }
            StationKind::Drop => Self::Drop { position },
            _ => Self::Ship { sign, position },
        })
    }
}

fn position(g: &mut Groups<'_>) -> Result<PositionFigure> {
    let group = g.next("99LaLaLa is expected")?;
    let latitude = group
        .strip_prefix("99")
        .and_then(|v| v.parse().ok())
        .ok_or_else(|| g.error("99LaLaLa is expected"))?;
    let group = g.next("QcLoLoLoLo is expected")?;
    let quadrant = group.get(..1).and_then(|v| v.parse().ok());
    let longitude = group.get(1..).and_then(|v| v.parse().ok());
    let (Some(quadrant), Some(longitude)) = (quadrant, longitude) else {
        return Err(g.error("QcLoLoLoLo is five figures"));
    };
    let group = g.next("MMMULaULo is expected")?;
    let Ok(Some(square)) = number(group) else {
        return Err(g.error("MMMULaULo is five figures"));
    };
    if let Some(position) = PositionFigure::from_code(latitude, quadrant, longitude, square) {
        return Ok(position);
    }
    // The position says where it is; MMMULaULo of a neighbouring degree is a slip.
    let read = PositionFigure::beside(latitude, quadrant, longitude, square)
        .ok_or_else(|| g.error("MMMULaULo does not belong to 99LaLaLa QcLoLoLoLo"))?;
    if !g.depart(DepartureKind::SquareBeside, 1) {
        return Err(g.error("MMMULaULo does not belong to 99LaLaLa QcLoLoLoLo"));
    }
    g.departures.square = Some(square);
    Ok(read)
}

impl From<FigureError> for CodeError {
    fn from(source: FigureError) -> Self {
        Self::Ident(source)
    }
}
