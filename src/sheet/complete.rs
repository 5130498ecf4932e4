//! Merged keys become a context: ranges, defaults, what is required.

use jiff::civil::DateTime;
use jiff::{Timestamp, ToSpan, tz::TimeZone};

use super::{Sheet, SheetError, Source, keys, position};
use crate::finding::{Finding, Place};
use crate::sounding::{
    BufrOptions, Bulletin, Clouds, Coding, ColumnSource, Context, Equipment, Flight, Order,
    Reading, Station, StationKind, Surface,
};

/// Looks values over and collects faults.
struct Check<'a> {
    files: &'a [Source<'a>],
    errors: Vec<SheetError>,
}

impl Check<'_> {
    /// The place of a key: the last file that has it.
    fn place(&self, table: &str, key: &str) -> Place {
        for file in self.files.iter().rev() {
            let mut inside = false;
            let mut offset = 0;
            for line in file.text.split_inclusive('\n') {
                let trimmed = line.trim();
                if trimmed.starts_with('[') {
                    inside = trimmed.trim_matches(['[', ']']).trim() == table;
                } else if inside
                    && let Some((name, value)) = line.split_once('=')
                    && name.trim() == key
                {
                    let blanks = value.len() - value.trim_start().len();
                    let (line, column) = position(file.text, offset + name.len() + 1 + blanks);
                    return Place::line(file.name, line).at_column(column);
                }
                offset += line.len();
            }
        }
        Place::key(&format!("{table}.{key}"))
    }

    fn fault(&mut self, table: &str, key: &str, what: String) {
        let place = self.place(table, key);
        self.errors.push(SheetError { place, what });
    }

    fn real(
        &mut self,
        table: &str,
        key: &str,
        value: Option<f64>,
        low: f64,
        high: f64,
    ) -> Option<f64> {
        let v = value?;
        if v >= low && v <= high {
            return Some(v);
        }
        self.fault(
            table,
            key,
            format!("`{table}.{key}` is {v} ({low} to {high} are allowed)"),
        );
        None
    }

    fn whole<T: TryFrom<i64>>(
        &mut self,
        table: &str,
        key: &str,
        value: Option<i64>,
        low: i64,
        high: i64,
    ) -> Option<T> {
        let v = value?;
        if (low..=high).contains(&v) {
            return T::try_from(v).ok();
        }
        self.fault(
            table,
            key,
            format!("`{table}.{key}` is {v} ({low} to {high} are allowed)"),
        );
        None
    }

    fn time(&mut self, key: &str, value: Option<toml::Value>) -> Option<DateTime> {
        let text = match value? {
            toml::Value::String(text) => text,
            toml::Value::Datetime(time) => time.to_string(),
            other => {
                self.fault("flight", key, format!("`flight.{key}` is a {}; a time in UTC such as \"2031-01-15T11:23:40Z\" is expected", other.type_str()));
                return None;
            }
        };
        let utc = text.ends_with(['Z', 'z']) || text.ends_with("+00:00");
        match text.parse::<Timestamp>() {
            Ok(time) if utc => Some(TimeZone::UTC.to_datetime(time)),
            _ => {
                self.fault(
                    "flight",
                    key,
                    format!(
                        "`flight.{key}` is `{text}`; times are UTC, such as 2031-01-15T11:23:40Z"
                    ),
                );
                None
            }
        }
    }

    fn need(&mut self, there: bool, key: &str, advice: &str) {
        if !there {
            self.errors.push(SheetError {
                place: Place::key(key),
                what: format!("no sheet gives `{key}`; {advice}"),
            });
        }
    }
}

fn filled(text: Option<String>) -> Option<String> {
    text.filter(|t| !t.is_empty())
}

pub(super) fn complete(
    keys: keys::SheetFile,
    files: &[Source<'_>],
) -> Result<(Sheet, Vec<Finding>), Vec<SheetError>> {
    let mut c = Check {
        files,
        errors: Vec::new(),
    };
    let mut findings = Vec::new();
    let s = keys.station;
    let call_sign = filled(s.call_sign);
    if let Some(sign) = &call_sign
        && (sign.len() > 9 || !sign.bytes().all(|b| b.is_ascii_alphanumeric()))
    {
        c.fault(
            "station",
            "call_sign",
            format!("`station.call_sign` is `{sign}` (at most nine letters and figures)"),
        );
    }
    let station = Station {
        kind: s.kind.unwrap_or_default(),
        wmo_block: c.whole("station", "wmo_block", s.wmo_block, 1, 99),
        wmo_number: c.whole("station", "wmo_number", s.wmo_number, 0, 999),
        wigos_id: filled(s.wigos_id),
        call_sign,
        name: filled(s.name),
        latitude_deg: c.real("station", "latitude_deg", s.latitude_deg, -90.0, 90.0),
        longitude_deg: c.real("station", "longitude_deg", s.longitude_deg, -180.0, 180.0),
        elevation_m: c.real("station", "elevation_m", s.elevation_m, -450.0, 9000.0),
        barometer_m: c.real("station", "barometer_m", s.barometer_m, -450.0, 9000.0),
        release_m: c.real("station", "release_m", s.release_m, -450.0, 9000.0),
        elevation_quality: c.whole("station", "elevation_quality", s.elevation_quality, 1, 8),
    };
    match station.kind {
        StationKind::Land => {
            c.need(
                s.wmo_block.is_some(),
                "station.wmo_block",
                "a land station needs its block number",
            );
            c.need(
                s.wmo_number.is_some(),
                "station.wmo_number",
                "a land station needs its number",
            );
        }
        StationKind::Ship | StationKind::Mobile => {
            c.need(
                station.call_sign.is_some(),
                "station.call_sign",
                "a ship or mobile station needs one",
            );
        }
        StationKind::Drop => {}
    }
    let f = keys.flight;
    c.need(
        f.release.is_some(),
        "flight.release",
        "write release = \"2031-01-15T11:23:40Z\" under [flight]",
    );
    let release = c.time("release", f.release);
    let given = f.standard_time.is_some();
    let standard_time = c.time("standard_time", f.standard_time).or_else(|| {
        let assumed = release.filter(|_| !given).map(main_hour)?;
        findings.push(Finding::info(
            "standard-time-assumed",
            Place::key("flight.standard_time"),
            format!("not given: {assumed} UTC assumed"),
        ));
        Some(assumed)
    });
    if let (Some(release), Some(standard)) = (release, standard_time)
        && !(standard.saturating_sub(45.minutes())..=standard.saturating_add(15.minutes()))
            .contains(&release)
    {
        findings.push(
            Finding::warning(
                "release-off-schedule",
                Place::key("flight.release"),
                format!("released at {release}, for the standard time {standard}"),
            )
            .allowed("usually between 45 minutes before and 15 minutes after"),
        );
    }
    let flight = Flight {
        release,
        standard_time,
        ascent: c.whole("flight", "ascent", f.ascent, 0, 99_999),
        release_number: c.whole("flight", "release_number", f.release_number, 1, 9),
        serial: filled(f.serial),
    };
    let surface = keys.surface.map(|s| Surface {
        pressure_hpa: c.real("surface", "pressure_hpa", s.pressure_hpa, 1.0, 1100.0),
        pressure_at: s.pressure_at.unwrap_or_default(),
        temperature_c: c.real("surface", "temperature_c", s.temperature_c, -99.9, 60.0),
        dewpoint_c: c.real("surface", "dewpoint_c", s.dewpoint_c, -99.9, 60.0),
        humidity_pct: c.real("surface", "humidity_pct", s.humidity_pct, 0.0, 100.0),
        wind_dir_deg: c.real("surface", "wind_dir_deg", s.wind_dir_deg, 0.0, 360.0),
        wind_speed_ms: c.real("surface", "wind_speed_ms", s.wind_speed_ms, 0.0, 250.0),
        sea_temperature_c: c.real(
            "surface",
            "sea_temperature_c",
            s.sea_temperature_c,
            -5.0,
            45.0,
        ),
    });
    let clouds = keys.clouds.map(|k| {
        let figures = [k.nh, k.cl, k.cm, k.ch];
        if k.sky.is_some() && figures.iter().any(Option::is_some) {
            c.fault(
                "clouds",
                "sky",
                "`clouds.sky` stands alone or with h, not with cloud figures".to_owned(),
            );
        }
        Clouds {
            sky: k.sky,
            nh: c.whole("clouds", "nh", k.nh, 0, 9),
            h: c.whole("clouds", "h", k.h, 0, 9),
            cl: c.whole("clouds", "cl", k.cl, 0, 9),
            cm: c.whole("clouds", "cm", k.cm, 0, 9),
            ch: c.whole("clouds", "ch", k.ch, 0, 9),
        }
    });
    let e = keys.equipment;
    let equipment = Equipment {
        radiosonde: c.whole("equipment", "radiosonde", e.radiosonde, 0, 254),
        radiation: c.whole("equipment", "radiation", e.radiation, 0, 9),
        tracking: c.whole("equipment", "tracking", e.tracking, 0, 99),
        measuring: c.whole("equipment", "measuring", e.measuring, 0, 9),
        frequency_mhz: c.real("equipment", "frequency_mhz", e.frequency_mhz, 1.0, 10_000.0),
    };
    let k = keys.coding;
    let coding = Coding {
        wind_unit: k.wind_unit.unwrap_or_default(),
        hour: k.hour.unwrap_or_default(),
        region: k.region.unwrap_or_default(),
        shear: k.shear.unwrap_or_default(),
        below_station: k.below_station.unwrap_or_default(),
        section7: k.section7.unwrap_or_default(),
        humidity_min_temperature_c: c.real(
            "coding",
            "humidity_min_temperature_c",
            k.humidity_min_temperature_c,
            -100.0,
            0.0,
        ),
    };
    let b = keys.bulletin;
    let bulletin = Bulletin {
        area: filled(b.area),
        ii: c.whole("bulletin", "ii", b.ii, 1, 99),
        centre: filled(b.centre),
    };
    let bufr = BufrOptions {
        template: filled(keys.bufr.template),
        centre: c.whole("bufr", "centre", keys.bufr.centre, 0, 65_534),
        sub_centre: c.whole("bufr", "sub_centre", keys.bufr.sub_centre, 0, 65_534),
        update: c.whole("bufr", "update", keys.bufr.update, 0, 254),
    };
    let levels = keys.level.into_iter().map(|l| Order::Level {
        action: l.action,
        pressure_hpa: l.pressure_hpa,
        reason: l.reason,
    });
    let withheld = keys.withhold.into_iter().map(|w| Order::Withhold {
        element: w.element,
        from_hpa: w.from_hpa,
        to_hpa: w.to_hpa,
        reason: w.reason,
    });
    let orders = levels.chain(withheld).collect();
    let delimiter = filled(keys.text.delimiter);
    if let Some(text) = delimiter.as_ref().filter(|d| d.chars().count() != 1) {
        c.fault(
            "text",
            "delimiter",
            format!("`text.delimiter` is `{text}` (one character is expected)"),
        );
    }
    let reading = Reading {
        delimiter: delimiter.and_then(|d| d.chars().next()),
        missing: keys.text.missing.unwrap_or_default(),
        columns: keys
            .columns
            .into_iter()
            .map(|(ours, k)| {
                (
                    ours,
                    ColumnSource {
                        column: filled(k.column),
                        unit: filled(k.unit),
                    },
                )
            })
            .collect(),
    };
    if !c.errors.is_empty() {
        return Err(c.errors);
    }
    let context = Context {
        station,
        flight,
        surface,
        clouds,
        equipment,
        coding,
        bulletin,
        bufr,
        orders,
    };
    Ok((Sheet { context, reading }, findings))
}

/// The main hour nearest to half an hour after release.
fn main_hour(release: DateTime) -> DateTime {
    let due = release.saturating_add(30.minutes());
    let hours = due.hour() + i8::from(due.minute() >= 30);
    let main = (hours + 3) / 6 * 6;
    let start = due.date().at(0, 0, 0, 0);
    start.saturating_add(i64::from(main).hours())
}
