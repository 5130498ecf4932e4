//! Identifiers, topic and names: what they are made of and which characters they
//! may have. None of them can become a path of its own.

use jiff::civil::DateTime;

use super::Wis2Error;
use crate::model::{Form, Motion, Policy, Reach, Report, Station, StationKind, When};

/// The name of the file that a stem stands for.
pub(super) fn file_name(stem: &str) -> String {
    format!("{stem}.bufr")
}

/// Which sounding it is.
pub(super) struct Identity {
    station: String,
    standard: DateTime,
    /// Which release for the standard time, where it is not the first.
    release: Option<u8>,
    /// Last word of the topic.
    tail: &'static str,
    /// Which part of the flight: two parts are two objects.
    part: &'static str,
}

impl Identity {
    /// The identity that a report gives.
    pub(super) fn of(report: &Report) -> Result<Self, Wis2Error> {
        let When::Full { standard, .. } = report.when else {
            return Err(Wis2Error::NoTime);
        };
        let station = &report.context.station;
        let tail = tail(report.form, station.kind)?;
        let id = station_id(station)?;
        if id.len() > 40 || !id.chars().all(|c| c.is_ascii_alphanumeric() || c == '-') {
            return Err(Wis2Error::Identity(id));
        }
        Ok(Self {
            station: id,
            standard,
            release: report.context.flight.release_number.filter(|&n| n > 1),
            tail,
            part: match (report.motion, report.reach) {
                (Motion::Falling, _) => "descent",
                (Motion::Rising, Reach::To100) => "to100",
                (Motion::Rising, Reach::Whole) => "whole",
            },
        })
    }

    fn standard(&self) -> String {
        self.standard.strftime("%Y%m%dT%H%M%SZ").to_string()
    }

    fn release(&self, before: &str) -> String {
        (self.release).map_or_else(String::new, |n| format!("{before}release{n}"))
    }

    /// The identifier of the sounding in the messages of a centre.
    pub(super) fn data_id(&self, centre: &str) -> String {
        format!(
            "{centre}/{}/{}/{}{}/{}",
            self.tail,
            self.standard(),
            self.station,
            self.release("/"),
            self.part
        )
    }

    /// The name of the file without its ending; a correction has its own, so that
    /// it does not take the place of the file it corrects.
    pub(super) fn stem(&self, update: u8) -> String {
        let mut stem = format!(
            "{}_{}_{}_{}{}",
            self.station,
            self.standard(),
            self.tail,
            self.part,
            self.release("_")
        );
        if update > 0 {
            stem.push_str(&format!("_update{update}"));
        }
        stem
    }

    /// The topic of a centre.
    pub(super) fn topic(&self, centre: &str, policy: Policy) -> String {
        let policy = match policy {
            Policy::Core => "core",
            Policy::Recommended => "recommended",
        };
        format!(
            "origin/a/wis2/{centre}/data/{policy}/weather/surface-based-observations/{}",
            self.tail
        )
    }
}

/// WIGOS identifier, or the one that stations with a WMO number have (issuer
/// 20000; WMO-No. 1165, from memory), or call sign.
pub(crate) fn station_id(station: &Station) -> Result<String, Wis2Error> {
    let number = match (station.kind, station.wmo_block, station.wmo_number) {
        (StationKind::Land, Some(block), Some(number)) => {
            Some(format!("0-20000-0-{block:02}{number:03}"))
        }
        _ => None,
    };
    (station.wigos_id.clone())
        .or(number)
        .or_else(|| station.call_sign.clone())
        .filter(|id| !id.is_empty())
        .ok_or(Wis2Error::NoIdentity)
}

/// The last word of the topic (WIS2 Topic Hierarchy 1.3.0,
/// weather/surface-based-observations).
fn tail(form: Form, kind: StationKind) -> Result<&'static str, Wis2Error> {
    Ok(match (form, kind) {
        (_, StationKind::Drop) => return Err(Wis2Error::NoTopic),
        (Form::Temp | Form::Descent, StationKind::Ship) => "temp-ship",
        (Form::Temp | Form::Descent, StationKind::Land | StationKind::Mobile) => "temp",
        (Form::Pilot, StationKind::Ship) => "wind-profile-ship",
        (Form::Pilot, StationKind::Land | StationKind::Mobile) => "wind-profile",
    })
}
