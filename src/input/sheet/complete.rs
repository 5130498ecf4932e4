//! From merged keys to a complete context.

use std::cmp::Ordering;
use std::ops::RangeInclusive;

use jiff::civil::DateTime;
use jiff::{SignedDuration, ToSpan};

use super::keys::SheetKeys;
use super::{Fault, Places, Sheet, SheetError, SheetFault};
use crate::forms::bufr;
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Clouds, Context, Flight, Order, Sky, Station, StationKind, TrackingMethod};
use crate::tables;
use crate::tables::{BufrUnit, Follows, Practice};

/// Years of a flight: no radiosonde flew before, and 0 04 001 of BUFR has 12 bits,
/// all of which mean missing.
const YEARS: RangeInclusive<i16> = 1900..=4094;

/// Deserialises what passed the checks, requires what must be there, and
/// finds the standard time.
pub(super) fn complete(
    merged: toml::Table,
    places: &Places,
) -> Result<(Sheet, Vec<Finding>), SheetError> {
    let SheetKeys {
        mut context, text, ..
    } = SheetKeys::of(merged)?;
    let mut whole = Whole {
        places,
        errors: Vec::new(),
        findings: Vec::new(),
    };
    whole.require(&context);
    whole.tracking(&context);
    whole.flight(&mut context.flight);
    let observed = context.surface.as_ref().and_then(|surface| surface.time);
    if let (Some(release), Some(time)) = (context.flight.release, observed) {
        whole.surface_age(release, time);
    }
    if let Some(clouds) = &context.clouds {
        whole.clouds(clouds);
    }
    whole.figures(&context);
    whole.layers(&mut context.orders);
    whole.wigos(&context.station);
    whole.groups(&context);
    SheetError::check(whole.errors)?;
    let sheet = Sheet {
        context,
        reading: text,
    };
    Ok((sheet, whole.findings))
}

struct Whole<'a> {
    places: &'a Places,
    errors: Vec<SheetFault>,
    findings: Vec<Finding>,
}

impl Whole<'_> {
    fn place(&self, key: &str) -> Place {
        let place = self.places.get(key).cloned();
        place.unwrap_or_else(|| Place::key(key))
    }

    /// A key that must be there; `what` says why.
    fn need(&mut self, given: bool, key: &str, what: &str, example: &str) {
        if given {
            return;
        }
        let fault = Fault::Missing {
            key: key.to_owned(),
            what: format!("no sheet gives it{what}"),
            example: example.to_owned(),
        };
        let place = Place::key(key);
        self.errors.push(SheetFault { place, fault });
    }

    fn conflict(&mut self, key: &str, what: String) {
        let place = self.place(key);
        let key = key.to_owned();
        let fault = Fault::Conflict { key, what };
        self.errors.push(SheetFault { place, fault });
    }

    fn require(&mut self, context: &Context) {
        let station = &context.station;
        let (block, number) = (station.wmo_block.is_some(), station.wmo_number.is_some());
        match station.kind {
            StationKind::Land => {
                let why = ", and a land station is named by its number";
                let example = "wmo_block = 99 under [station]";
                self.need(block, "station.wmo_block", why, example);
                let example = "wmo_number = 7 under [station]";
                self.need(number, "station.wmo_number", why, example);
            }
            StationKind::Ship | StationKind::Mobile => {
                let why = ", and a ship or mobile station is named by it";
                let example = "call_sign = \"XXXX9\" under [station]";
                self.need(
                    station.call_sign.is_some(),
                    "station.call_sign",
                    why,
                    example,
                );
            }
            StationKind::Drop => {}
        }
        if station.kind != StationKind::Land {
            let why = ", and such a report says where it was made";
            let (latitude, longitude) = (station.latitude_deg, station.longitude_deg);
            let example = "latitude_deg = 51.25 under [station]";
            self.need(latitude.is_some(), "station.latitude_deg", why, example);
            let example = "longitude_deg = -3.4 under [station]";
            self.need(longitude.is_some(), "station.longitude_deg", why, example);
        }
        if station.kind == StationKind::Mobile {
            let why = ", and a mobile station reports its elevation";
            let (elevation, quality) = (station.elevation_m, station.elevation_quality);
            let example = "elevation_m = 210 under [station]";
            self.need(elevation.is_some(), "station.elevation_m", why, example);
            let example = "elevation_quality = 1 (good to 3 m, table 1845) under [station]";
            self.need(quality.is_some(), "station.elevation_quality", why, example);
        }
        // A report that there is none (NIL) has a standard time only.
        let time = context.flight.release.or(context.flight.standard_time);
        let example = "release = \"2031-01-15T11:23:40Z\" under [flight]";
        self.need(time.is_some(), "flight.release", "", example);
    }

    /// What the method of tracking needs.
    fn tracking(&mut self, context: &Context) {
        let t = &context.tracking;
        let line = (t.base_length_m, t.base_azimuth_deg);
        if t.method == Some(TrackingMethod::BaseLine) || line.0.or(line.1).is_some() {
            let why = ", and two theodolites need their base line";
            let example = "base_length_m = 1200 under [tracking]";
            self.need(line.0.is_some(), "tracking.base_length_m", why, example);
            let example = "base_azimuth_deg = 90 under [tracking]";
            self.need(line.1.is_some(), "tracking.base_azimuth_deg", why, example);
        }
        let by_rate = t.method == Some(TrackingMethod::AscentRate) || t.free_lift_g.is_some();
        if by_rate && t.ascent_rate_ms.is_none() && context.balloon.mass_kg.is_none() {
            let why = ", and no rate of ascent either";
            let example = "mass_kg = 0.03 under [balloon], or ascent_rate_ms = 3 under [tracking]";
            self.need(false, "balloon.mass_kg", why, example);
        }
    }

    /// Times of the calendar, and the standard time where it is not given.
    fn flight(&mut self, flight: &mut Flight) {
        let release = flight.release;
        let standard_time = &mut flight.standard_time;
        for (key, time) in [
            ("flight.release", release),
            ("flight.standard_time", *standard_time),
        ] {
            if let Some(time) = time.filter(|time| !YEARS.contains(&time.year())) {
                let (first, last) = (YEARS.start(), YEARS.end());
                let what = format!("= {time}Z is out of range (years {first} to {last})");
                self.conflict(key, what);
            }
        }
        if let (Some(release), None) = (release, *standard_time) {
            let place = self.place("flight.release");
            match main_hour(release) {
                Some(hour) => {
                    self.findings.push(finding!(
                        StandardTimeAssumed,
                        place,
                        standard = hour,
                        release = release
                    ));
                    *standard_time = Some(hour);
                }
                None => {
                    let what = format!("= {release}Z leaves no standard time in the calendar");
                    self.conflict("flight.release", what);
                }
            }
        }
        if let (Some(release), Some(standard)) = (release, *standard_time) {
            let late = release.duration_since(standard);
            let window = SignedDuration::from_mins(-45)..=SignedDuration::from_mins(15);
            if !window.contains(&late) {
                self.findings.push(finding!(
                    ReleaseOffSchedule,
                    self.place("flight.release"),
                    release = release,
                    standard = standard
                ));
            }
        }
    }

    /// A figure without a meaning in its table may have one in a later version.
    fn figures(&mut self, context: &Context) {
        for (key, descriptor, figure) in bufr::codes(context) {
            if tables::bufr_figure_listed(descriptor, figure) != Some(false) {
                continue;
            }
            let unit = tables::bufr_element(descriptor).map(|element| element.unit);
            let kind = match unit {
                Some(BufrUnit::Flags) => "flag",
                _ => "code",
            };
            let table = format!(
                "{} {:02} {:03}",
                descriptor.f(),
                descriptor.x(),
                descriptor.y()
            );
            self.findings.push(finding!(
                FigureWithoutMeaning,
                self.place(key),
                key = key,
                figure = figure,
                kind = kind,
                table = table
            ));
        }
    }

    /// The surface observation belongs to the time of release.
    fn surface_age(&mut self, release: DateTime, time: DateTime) {
        let off = time.duration_since(release).as_secs_f64();
        let most = tables::limits().surface_age_s;
        if off.abs() > most {
            self.findings.push(finding!(
                SurfaceObservationOld,
                self.place("surface.time"),
                minutes = (off / 60.0).round(),
                [most = most / 60.0]
            ));
        }
    }

    /// A layer is given from below; one that is given from above is turned round.
    fn layers(&mut self, orders: &mut [Order]) {
        let (mut withheld, mut doubted) = (0, 0);
        for order in orders {
            let (key, from, to) = match order {
                Order::Level { .. } => continue,
                Order::Withhold {
                    from_hpa, to_hpa, ..
                } => {
                    withheld += 1;
                    (format!("withhold[{withheld}].from_hpa"), from_hpa, to_hpa)
                }
                Order::Doubtful {
                    from_hpa, to_hpa, ..
                } => {
                    doubted += 1;
                    (format!("doubtful[{doubted}].from_hpa"), from_hpa, to_hpa)
                }
            };
            match (*from).total_cmp(to) {
                Ordering::Greater => {}
                Ordering::Equal => {
                    let what = format!(
                        "= {from} must be greater than to_hpa = {to}: a layer is given from below"
                    );
                    self.conflict(&key, what);
                }
                Ordering::Less => {
                    let place = self.place(&key);
                    self.findings.push(finding!(
                        BoundsSwapped,
                        place,
                        from_hpa = from,
                        to_hpa = to
                    ));
                    std::mem::swap(from, to);
                }
            }
        }
    }

    /// Identifiers of the series 0-20000-0 are the WMO number (WMO-No. 1160).
    fn wigos(&mut self, station: &Station) {
        let wigos = station.wigos_id.as_deref();
        let local = wigos.and_then(|id| id.strip_prefix("0-20000-0-"));
        let number = station.wmo_block.zip(station.wmo_number);
        let number = number.map(|(block, number)| format!("{block:02}{number:03}"));
        if let Some((local, number)) = local.zip(number)
            && local != number
        {
            let what = format!(
                "ends in {local}, but wmo_block and wmo_number give {number}: an identifier \
                 0-20000-0-NNNNN has the WMO number; correct one of them"
            );
            self.conflict("station.wigos_id", what);
        }
    }

    /// Groups that are passed on keep the form of their section.
    fn groups(&mut self, context: &Context) {
        if let Some(Err(fault)) = context.coding.practice.as_ref().map(tables::check_practice) {
            self.conflict("coding.practice", fault.to_string());
        }
        let additional = tables::practice(&context.coding, Practice::Reason).is_some();
        for (part, groups) in &context.section9 {
            let key = format!("section9.{}", part.letter());
            self.group_faults(&key, groups, regional_fault);
            if additional && let Some(fault) = additional_fault(groups) {
                self.conflict(&key, fault);
            }
        }
        for (part, groups) in &context.section10 {
            let key = format!("section10.{}", part.letter());
            self.group_faults(&key, groups, national_fault);
        }
    }

    fn group_faults(
        &mut self,
        key: &str,
        groups: &[String],
        fault: fn(&str) -> Option<&'static str>,
    ) {
        for (i, group) in groups.iter().enumerate() {
            if let Some(fault) = fault(group) {
                let shown: String = group.chars().take(20).collect();
                self.conflict(
                    &format!("{key}[{}]", i + 1),
                    format!("= {shown:?}: {fault}"),
                );
            }
        }
    }

    /// Figures beside `sky` contradict it; only the vertical visibility of an
    /// obscured sky may stand there.
    fn clouds(&mut self, keys: &Clouds) {
        if let (Some(h), Some(base)) = (keys.h, keys.base_m) {
            let what = format!("= {base} stands beside h = {h}: keep one of them");
            self.conflict("clouds.base_m", what);
        }
        let Some(sky) = keys.sky else { return };
        let word = match sky {
            Sky::Clear => "clear",
            Sky::Obscured => "obscured",
            Sky::Unseen => "unseen",
        };
        let figures = [
            ("nh", keys.nh),
            ("h", keys.h.filter(|_| sky != Sky::Obscured)),
            ("cl", keys.cl),
            ("cm", keys.cm),
            ("ch", keys.ch),
        ];
        if let (Some(base), true) = (keys.base_m, sky != Sky::Obscured) {
            let what = format!("= {base} contradicts sky = {word:?}: keep one of them");
            self.conflict("clouds.base_m", what);
        }
        for (key, figure) in figures {
            if let Some(figure) = figure {
                let what = format!("= {figure} contradicts sky = {word:?}: keep one of them");
                self.conflict(&format!("clouds.{key}"), what);
            }
        }
    }
}

/// What is wrong with a group of section 9.
fn regional_fault(group: &str) -> Option<&'static str> {
    let ok = group.len() == 5 && group.bytes().all(|b| b.is_ascii_digit() || b == b'/');
    (!ok || group == "61616" || group == "51515")
        .then_some("a group of section 9 is five figures or solidi, without the indicators")
}

/// What is wrong with a word of section 10.
fn national_fault(word: &str) -> Option<&'static str> {
    // International Telegraph Alphabet No. 2 has these and no others.
    let known = |b: u8| b.is_ascii_uppercase() || b.is_ascii_digit() || b"/+-.,:()?'".contains(&b);
    let ok = (1..=60).contains(&word.len())
        && word.bytes().all(known)
        && !["NNNN", "ZCZC", "NIL"].contains(&word);
    (!ok).then_some(
        "a word of section 10 is 1 to 60 capital letters, figures or / + - . , : ( ) ? '",
    )
}

/// What is wrong with the groups 101AdfAdf of Region IV and what follows them.
fn additional_fault(groups: &[String]) -> Option<String> {
    let mut rest = groups.iter();
    while let Some(group) = rest.next() {
        let Some(figure) = group.strip_prefix("101") else {
            return Some(format!(
                "`{group}` stands where a group 101AdfAdf is expected"
            ));
        };
        let Some(row) = tables::additional(group) else {
            return Some(format!("`{group}`: no figure {figure} in table 0421"));
        };
        let following = match row.follows {
            Follows::Nothing => 0,
            Follows::MeanWinds => 2,
            // As many as the correction takes: all up to the next 101.
            Follows::Data => {
                while rest
                    .as_slice()
                    .first()
                    .is_some_and(|g| !g.starts_with("101"))
                {
                    rest.next();
                }
                0
            }
            _ => 1,
        };
        for _ in 0..following {
            if rest.next().is_none() {
                return Some(format!("`{group}` lacks the group that follows it"));
            }
        }
    }
    None
}

/// The main hour (00, 06, 12, 18 UTC) nearest to half an hour after release;
/// of two equally near, the later.
pub(super) fn main_hour(release: DateTime) -> Option<DateTime> {
    let shifted = release.checked_add(30.minutes()).ok()?;
    let midnight = shifted.date().to_datetime(jiff::civil::Time::midnight());
    let since = shifted.duration_since(midnight);
    let quarter = (since.as_secs() + 3 * 3600) / (6 * 3600);
    midnight
        .checked_add(SignedDuration::from_hours(6 * quarter))
        .ok()
}
