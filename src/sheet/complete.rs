//! From merged keys to a complete context.

use jiff::civil::DateTime;
use jiff::{SignedDuration, ToSpan};

use super::keys::{
    BufrKeys, BulletinKeys, CloudKeys, CodingKeys, EquipmentKeys, FlightKeys, SheetKeys,
    StationKeys, SurfaceKeys, TextKeys,
};
use super::{Fault, Places, Sheet, SheetError};
use crate::finding::{Finding, Place};
use crate::sounding::{
    BufrOptions, Bulletin, Clouds, Coding, ColumnSource, Context, Equipment, Flight, Order,
    Reading, Sky, Station, StationKind, Surface,
};

/// Deserialises what passed the checks, requires what must be there, and
/// finds the standard time.
pub(super) fn complete(
    merged: toml::Table,
    places: &Places,
) -> Result<(Sheet, Vec<Finding>), Vec<SheetError>> {
    let keys: SheetKeys = merged.try_into().map_err(|error: toml::de::Error| {
        let message = error.message().to_owned();
        vec![SheetError {
            place: Place::default(),
            fault: Fault::Syntax { message },
        }]
    })?;
    let mut whole = Whole {
        places,
        errors: Vec::new(),
        findings: Vec::new(),
    };
    whole.require(&keys);
    let flight = whole.flight(keys.flight);
    whole.clouds(&keys.clouds);
    for (i, layer) in keys.withhold.iter().enumerate() {
        if layer.from_hpa <= layer.to_hpa {
            let what = format!(
                "= {} must be greater than to_hpa = {}: a layer is given from below",
                layer.from_hpa, layer.to_hpa
            );
            whole.conflict(&format!("withhold[{}].from_hpa", i + 1), what);
        }
    }
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
    let context = Context {
        station: station(keys.station),
        flight,
        surface: surface(keys.surface),
        clouds: clouds(keys.clouds),
        equipment: equipment(keys.equipment),
        coding: coding(keys.coding),
        bulletin: bulletin(keys.bulletin),
        bufr: bufr(keys.bufr),
        orders: levels.chain(layers).collect(),
    };
    let columns = keys.columns.into_iter().map(|(name, source)| {
        let column = source.column;
        let unit = source.unit;
        (name, ColumnSource { column, unit })
    });
    let reading = Reading {
        columns: columns.collect(),
        ..reading(keys.text)
    };
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
        if keys.flight.release.is_none() {
            let example = "release = \"2031-01-15T11:23:40Z\" under [flight]";
            self.missing("flight.release", "no sheet gives it", example);
        }
    }

    fn flight(&mut self, keys: FlightKeys) -> Flight {
        let release = keys.release.map(|time| time.0);
        let mut standard_time = keys.standard_time.map(|time| time.0);
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
            serial: keys.serial,
        }
    }

    /// Figures beside `sky` contradict it; only the vertical visibility of an
    /// obscured sky may stand there.
    fn clouds(&mut self, keys: &CloudKeys) {
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
        for (key, figure) in figures {
            if let Some(figure) = figure {
                let what = format!("= {figure} contradicts sky = {word:?}: keep one of them");
                self.conflict(&format!("clouds.{key}"), what);
            }
        }
    }
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
    }
}

fn coding(keys: CodingKeys) -> Coding {
    Coding {
        wind_unit: keys.wind_unit,
        hour: keys.hour,
        region: keys.region,
        shear: keys.shear,
        below_station: keys.below_station,
        section7: keys.section7,
        humidity_min_temperature_c: keys.humidity_min_temperature_c,
        pilot_levels: keys.pilot_levels,
    }
}

fn bulletin(keys: BulletinKeys) -> Bulletin {
    Bulletin {
        area: keys.area,
        ii: keys.ii,
        centre: keys.centre,
    }
}

fn bufr(keys: BufrKeys) -> BufrOptions {
    BufrOptions {
        template: keys.template,
        centre: keys.centre,
        sub_centre: keys.sub_centre,
        update: keys.update,
    }
}

fn reading(keys: TextKeys) -> Reading {
    Reading {
        delimiter: keys.delimiter.and_then(|text| text.chars().next()),
        missing: keys.missing,
        ..Reading::default()
    }
}
