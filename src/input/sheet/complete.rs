//! From merged keys to a complete context.

use std::ops::RangeInclusive;

use jiff::civil::DateTime;
use jiff::{SignedDuration, ToSpan};

use super::keys::{
    BalloonKeys, BufrKeys, BulletinKeys, CloudKeys, CodingKeys, EquipmentKeys, FlightKeys,
    PartKeys, SheetKeys, StationKeys, SurfaceKeys, Wis2Keys,
};
use super::{Fault, Places, Sheet, SheetError, reading};
use crate::model::finding::{Finding, Place};
use crate::model::{
    Balloon, BufrOptions, Bulletin, Clouds, Coding, Context, Equipment, Flight, GivenGroups,
    Meaning, Order, Part, Sky, Station, StationKind, Surface, Wis2Options,
};
use crate::tables;
use crate::tables::{FigureTable, Follows, Practice};

/// Years of a flight: no radiosonde flew before, and 0 04 001 of BUFR has 12 bits,
/// all of which mean missing.
const YEARS: RangeInclusive<i16> = 1900..=4094;

/// Deserialises what passed the checks, requires what must be there, and
/// finds the standard time.
pub(super) fn complete(
    merged: toml::Table,
    places: &Places,
) -> Result<(Sheet, Vec<Finding>), Vec<SheetError>> {
    let mut keys = reading::keys(merged)?;
    let mut whole = Whole {
        places,
        errors: Vec::new(),
        findings: Vec::new(),
    };
    whole.require(&keys);
    let flight = whole.flight(&keys.flight);
    if let (Some(release), Some(time)) = (flight.release, &keys.surface.time) {
        whole.surface_age(release, time.0);
    }
    whole.clouds(&keys.clouds);
    whole.figures(&keys);
    let withheld = keys.withhold.iter_mut();
    whole.layers(
        "withhold",
        withheld.map(|l| (&mut l.from_hpa, &mut l.to_hpa)),
    );
    let doubted = keys.doubtful.iter_mut();
    whole.layers(
        "doubtful",
        doubted.map(|l| (&mut l.from_hpa, &mut l.to_hpa)),
    );
    whole.wigos(&keys.station);
    whole.groups(&keys);
    if !whole.errors.is_empty() {
        return Err(whole.errors);
    }
    let levels = keys.level.into_iter().map(|order| Order::Level {
        action: order.action,
        pressure_hpa: order.pressure_hpa,
        reason: order.reason,
    });
    let layers = keys.withhold.into_iter().map(|order| Order::Withhold {
        element: order.element,
        from_hpa: order.from_hpa,
        to_hpa: order.to_hpa,
        reason: order.reason,
    });
    let doubts = keys.doubtful.into_iter().map(|order| Order::Doubtful {
        doubtful: order.element,
        from_hpa: order.from_hpa,
        to_hpa: order.to_hpa,
        reason: order.reason,
    });
    let context = Context {
        station: station(keys.station),
        flight,
        meaning: Meaning {
            height_reference: keys.profile.height_reference,
            height_kind: keys.profile.height_kind,
            humidity_over: keys.profile.humidity_over,
            release_time_s: keys.profile.release_time_s,
            track_window_s: keys.profile.track_window_s,
        },
        surface: surface(keys.surface),
        clouds: clouds(keys.clouds),
        equipment: equipment(keys.equipment),
        balloon: balloon(&keys.balloon),
        coding: coding(keys.coding),
        bulletin: bulletin(keys.bulletin),
        bufr: bufr(keys.bufr),
        wis2: wis2(keys.wis2),
        section9: given(keys.section9),
        section10: given(keys.section10),
        orders: levels.chain(layers).chain(doubts).collect(),
    };
    let reading = reading::reading(keys.text, keys.columns);
    Ok((Sheet { context, reading }, whole.findings))
}

struct Whole<'a> {
    places: &'a Places,
    errors: Vec<SheetError>,
    findings: Vec<Finding>,
}

impl Whole<'_> {
    fn place(&self, key: &str) -> Place {
        let place = self.places.get(key).cloned();
        place.unwrap_or_else(|| Place::key(key))
    }

    fn missing(&mut self, key: &str, what: &str, example: &str) {
        let fault = Fault::Missing {
            key: key.to_owned(),
            what: what.to_owned(),
            example: example.to_owned(),
        };
        let place = Place::key(key);
        self.errors.push(SheetError { place, fault });
    }

    fn conflict(&mut self, key: &str, what: String) {
        let place = self.place(key);
        let key = key.to_owned();
        let fault = Fault::Conflict { key, what };
        self.errors.push(SheetError { place, fault });
    }

    fn require(&mut self, keys: &SheetKeys) {
        let station = &keys.station;
        let by_number = "no sheet gives it, and a land station is named by its number";
        let by_call = "no sheet gives it, and a ship or mobile station is named by it";
        match station.kind {
            StationKind::Land => {
                if station.wmo_block.is_none() {
                    let example = "wmo_block = 99 under [station]";
                    self.missing("station.wmo_block", by_number, example);
                }
                if station.wmo_number.is_none() {
                    let example = "wmo_number = 7 under [station]";
                    self.missing("station.wmo_number", by_number, example);
                }
            }
            StationKind::Ship | StationKind::Mobile if station.call_sign.is_none() => {
                let example = "call_sign = \"XXXX9\" under [station]";
                self.missing("station.call_sign", by_call, example);
            }
            StationKind::Ship | StationKind::Mobile | StationKind::Drop => {}
        }
        if station.kind != StationKind::Land {
            let by_place = "no sheet gives it, and such a report says where it was made";
            if station.latitude_deg.is_none() {
                let example = "latitude_deg = 51.25 under [station]";
                self.missing("station.latitude_deg", by_place, example);
            }
            if station.longitude_deg.is_none() {
                let example = "longitude_deg = -3.4 under [station]";
                self.missing("station.longitude_deg", by_place, example);
            }
        }
        if station.kind == StationKind::Mobile {
            let by_height = "no sheet gives it, and a mobile station reports its elevation";
            if station.elevation_m.is_none() {
                let example = "elevation_m = 210 under [station]";
                self.missing("station.elevation_m", by_height, example);
            }
            if station.elevation_quality.is_none() {
                let example = "elevation_quality = 1 (good to 3 m, table 1845) under [station]";
                self.missing("station.elevation_quality", by_height, example);
            }
        }
        // A report that there is none (NIL) has a standard time only.
        if keys.flight.release.is_none() && keys.flight.standard_time.is_none() {
            let example = "release = \"2031-01-15T11:23:40Z\" under [flight]";
            self.missing("flight.release", "no sheet gives it", example);
        }
    }

    fn flight(&mut self, keys: &FlightKeys) -> Flight {
        let release = keys.release.as_ref().map(|time| time.0);
        let mut standard_time = keys.standard_time.as_ref().map(|time| time.0);
        for (key, time) in [
            ("flight.release", release),
            ("flight.standard_time", standard_time),
        ] {
            if let Some(time) = time.filter(|time| !YEARS.contains(&time.year())) {
                let (first, last) = (YEARS.start(), YEARS.end());
                let what = format!("= {time}Z is out of range (years {first} to {last})");
                self.conflict(key, what);
            }
        }
        if let (Some(release), None) = (release, standard_time) {
            let place = self.place("flight.release");
            match main_hour(release) {
                Some(hour) => {
                    let what = format!("standard time {hour}Z assumed from release {release}Z");
                    let finding = Finding::info("standard-time-assumed", place, what);
                    self.findings.push(
                        finding.allowed("write standard_time under [flight] to choose another"),
                    );
                    standard_time = Some(hour);
                }
                None => {
                    let what = format!("= {release}Z leaves no standard time in the calendar");
                    self.conflict("flight.release", what);
                }
            }
        }
        if let (Some(release), Some(standard)) = (release, standard_time) {
            let late = release.duration_since(standard);
            let window = SignedDuration::from_mins(-45)..=SignedDuration::from_mins(15);
            if !window.contains(&late) {
                let what = format!("release {release}Z is off the standard time {standard}Z");
                let place = self.place("flight.release");
                let finding = Finding::warning("release-off-schedule", place, what);
                self.findings
                    .push(finding.allowed("45 min before to 15 min after"));
            }
        }
        Flight {
            release,
            standard_time,
            ascent: keys.ascent,
            release_number: keys.release_number,
            serial: keys.serial.clone(),
            observer: keys.observer.clone(),
            termination: keys.termination,
            reason: keys.reason,
            not_reported: keys.not_reported.clone(),
        }
    }

    /// A figure without a meaning in its table may have one in a later version.
    fn figures(&mut self, keys: &SheetKeys) {
        for (table, key, figure) in given_figures(keys) {
            let Some(figure) = figure.filter(|&figure| !table.lists(figure)) else {
                continue;
            };
            let kind = if table.is_flags() { "flag" } else { "code" };
            let what = format!(
                "{key} = {figure} has no meaning in BUFR {kind} table {} of version 45",
                table.descriptor()
            );
            let finding = Finding::warning("figure-without-meaning", self.place(key), what);
            self.findings.push(finding.clause("WMO-No. 306 Vol. I.2"));
        }
    }

    /// The surface observation belongs to the time of release.
    fn surface_age(&mut self, release: DateTime, time: DateTime) {
        let off = time.duration_since(release).as_secs_f64();
        let most = tables::limits().surface_age_s;
        if off.abs() > most {
            let minutes = (off / 60.0).round();
            let what = format!("the surface observation is {minutes} min off the release");
            let place = self.place("surface.time");
            let finding = Finding::warning("surface-observation-old", place, what);
            let allowed = format!("at most {} min before or after", most / 60.0);
            self.findings.push(
                finding
                    .allowed(allowed)
                    .clause("common practice, no source"),
            );
        }
    }

    /// A layer is given from below; one that is given from above is turned round.
    fn layers<'l>(
        &mut self,
        table: &str,
        layers: impl Iterator<Item = (&'l mut f64, &'l mut f64)>,
    ) {
        for (i, (from, to)) in layers.enumerate() {
            let key = format!("{table}[{}].from_hpa", i + 1);
            if from == to {
                let what = format!(
                    "= {from} must be greater than to_hpa = {to}: a layer is given from below"
                );
                self.conflict(&key, what);
            } else if from < to {
                let what =
                    format!("the layer is given from {from} to {to} hPa: the ends are swapped");
                let finding = Finding::info("bounds-swapped", self.place(&key), what);
                self.findings
                    .push(finding.allowed("from_hpa is the lower end, the greater pressure"));
                std::mem::swap(from, to);
            }
        }
    }

    /// Identifiers of the series 0-20000-0 are the WMO number (WMO-No. 1160).
    fn wigos(&mut self, station: &StationKeys) {
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
    fn groups(&mut self, keys: &SheetKeys) {
        for (table, parts, free) in [
            ("section9", &keys.section9, false),
            ("section10", &keys.section10, true),
        ] {
            for (letter, groups) in [
                ("A", &parts.A),
                ("B", &parts.B),
                ("C", &parts.C),
                ("D", &parts.D),
            ] {
                for (i, group) in groups.iter().enumerate() {
                    let fault = if free {
                        national_fault(group)
                    } else {
                        regional_fault(group)
                    };
                    if let Some(fault) = fault {
                        let shown: String = group.chars().take(20).collect();
                        let key = format!("{table}.{letter}[{}]", i + 1);
                        self.conflict(&key, format!("= {shown:?}: {fault}"));
                    }
                }
                if table == "section9"
                    && tables::practice(keys.coding.region, Practice::Reason).is_some()
                    && let Some(fault) = additional_fault(groups)
                {
                    self.conflict(&format!("section9.{letter}"), fault);
                }
            }
        }
    }

    /// Figures beside `sky` contradict it; only the vertical visibility of an
    /// obscured sky may stand there.
    fn clouds(&mut self, keys: &CloudKeys) {
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

/// The figures that a table of BUFR explains, with their keys.
fn given_figures(keys: &SheetKeys) -> [(FigureTable, &'static str, Option<u8>); 12] {
    use FigureTable as T;
    let (e, b) = (&keys.equipment, &keys.balloon);
    let by_flight = keys.flight.termination;
    [
        (T::Completeness, "equipment.completeness", e.completeness),
        (T::Configuration, "equipment.configuration", e.configuration),
        (
            T::HumidityCorrection,
            "equipment.humidity_correction",
            e.humidity_correction,
        ),
        (T::Balloon, "balloon.kind", b.kind),
        (T::Shelter, "balloon.shelter", b.shelter),
        (T::Gas, "balloon.gas", b.gas),
        (
            T::PressureSensor,
            "equipment.pressure_sensor",
            e.pressure_sensor,
        ),
        (
            T::TemperatureSensor,
            "equipment.temperature_sensor",
            e.temperature_sensor,
        ),
        (
            T::HumiditySensor,
            "equipment.humidity_sensor",
            e.humidity_sensor,
        ),
        (T::Radome, "equipment.radome", e.radome),
        (
            T::HeightCalculation,
            "equipment.height_calculation",
            e.height_calculation,
        ),
        (T::Termination, "flight.termination", by_flight),
    ]
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

/// Parts that have groups.
fn given(keys: PartKeys) -> GivenGroups {
    [
        (Part::A, keys.A),
        (Part::B, keys.B),
        (Part::C, keys.C),
        (Part::D, keys.D),
    ]
    .into_iter()
    .filter(|(_, groups)| !groups.is_empty())
    .collect()
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

fn station(keys: StationKeys) -> Station {
    Station {
        kind: keys.kind,
        wmo_block: keys.wmo_block,
        wmo_number: keys.wmo_number,
        wigos_id: keys.wigos_id,
        call_sign: keys.call_sign,
        name: keys.name,
        latitude_deg: keys.latitude_deg,
        longitude_deg: keys.longitude_deg,
        elevation_m: keys.elevation_m,
        barometer_m: keys.barometer_m,
        release_m: keys.release_m,
        elevation_quality: keys.elevation_quality,
    }
}

fn surface(keys: SurfaceKeys) -> Option<Surface> {
    let surface = Surface {
        pressure_hpa: keys.pressure_hpa,
        pressure_at: keys.pressure_at,
        temperature_c: keys.temperature_c,
        dewpoint_c: keys.dewpoint_c,
        humidity_pct: keys.humidity_pct,
        wind_dir_deg: keys.wind_dir_deg,
        wind_speed_ms: keys.wind_speed_ms,
        sea_temperature_c: keys.sea_temperature_c,
        time: keys.time.map(|time| time.0),
    };
    let nothing = Surface {
        pressure_at: surface.pressure_at,
        ..Surface::default()
    };
    (surface != nothing).then_some(surface)
}

fn clouds(keys: CloudKeys) -> Option<Clouds> {
    let clouds = Clouds {
        sky: keys.sky,
        nh: keys.nh,
        h: keys.h,
        cl: keys.cl,
        cm: keys.cm,
        ch: keys.ch,
        base_m: keys.base_m,
    };
    (clouds != Clouds::default()).then_some(clouds)
}

fn equipment(keys: EquipmentKeys) -> Equipment {
    Equipment {
        radiosonde: keys.radiosonde,
        radiation: keys.radiation,
        tracking: keys.tracking,
        measuring: keys.measuring,
        frequency_mhz: keys.frequency_mhz,
        completeness: keys.completeness,
        configuration: keys.configuration,
        humidity_correction: keys.humidity_correction,
        receiver: keys.receiver,
        pressure_sensor: keys.pressure_sensor,
        temperature_sensor: keys.temperature_sensor,
        humidity_sensor: keys.humidity_sensor,
        radome: keys.radome,
        height_calculation: keys.height_calculation,
        software: keys.software,
    }
}

fn balloon(keys: &BalloonKeys) -> Balloon {
    Balloon {
        maker: keys.maker,
        kind: keys.kind,
        mass_kg: keys.mass_kg,
        shelter: keys.shelter,
        gas: keys.gas,
        gas_kg: keys.gas_kg,
        train_m: keys.train_m,
    }
}

fn coding(keys: CodingKeys) -> Coding {
    Coding {
        wind_unit: keys.wind_unit,
        hour: keys.hour,
        region: keys.region,
        shear: keys.shear,
        below_station: keys.below_station,
        above_top: keys.above_top,
        section7: keys.section7,
        advise_below_hpa: keys.advise_below_hpa,
        humidity_min_temperature_c: keys.humidity_min_temperature_c,
        pilot_levels: keys.pilot_levels,
        surfaces_by_height: keys.surfaces_by_height,
    }
}

fn bulletin(keys: BulletinKeys) -> Bulletin {
    Bulletin {
        area: keys.area,
        bufr_area: keys.bufr_area.and_then(|letter| letter.chars().next()),
        ii: keys.ii,
        centre: keys.centre,
        parts: keys.parts,
        repeat_early: keys.repeat_early,
    }
}

fn bufr(keys: BufrKeys) -> BufrOptions {
    BufrOptions {
        template: keys.template,
        centre: keys.centre,
        sub_centre: keys.sub_centre,
        update: keys.update,
        reused: keys.reused,
    }
}

fn wis2(keys: Wis2Keys) -> Wis2Options {
    Wis2Options {
        centre_id: keys.centre_id,
        base_url: keys.base_url,
        policy: keys.policy,
        metadata_id: keys.metadata_id,
    }
}
