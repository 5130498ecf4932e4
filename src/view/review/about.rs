//! Station, flight, surface, clouds and equipment in words.

use maud::Markup;

use super::Sheet;
use crate::forms::text::{cloud_figures, cloud_words};
use crate::model::{
    Action, Doubted, Motion, Order, PressureAt, Reach, Region, Report, Sky, StationKind, When,
};
use crate::profile;
use crate::tables;
use crate::tables::FigureTable;
use crate::view::diagram::{hpa, minus};
use crate::view::html;
use crate::view::html::Entry;

/// The head of the page.
pub(super) fn header(sheet: &Sheet<'_>, title: &str) -> Markup {
    let report = sheet.report;
    let lists = [
        ("station", station(report)),
        ("flight", flight(sheet)),
        ("surface and sky", surface(report)),
        ("equipment", equipment(report)),
    ];
    html::header("review sheet", title, &lists)
}

fn metres(value: Option<f64>) -> Option<String> {
    value.map(|m| format!("{} m", minus(m, 1).trim_end_matches(".0")))
}

fn known(entries: Vec<(&'static str, Option<String>)>) -> Vec<Entry> {
    let known = entries
        .into_iter()
        .filter_map(|(name, text)| Some((name, text?)));
    known.collect()
}

fn station(report: &Report) -> Vec<Entry> {
    let s = &report.context.station;
    let kind = match s.kind {
        StationKind::Land => "fixed station",
        StationKind::Ship => "ship",
        StationKind::Mobile => "mobile land station",
        StationKind::Drop => "sonde dropped from an aircraft",
    };
    let number = s.wmo_block.zip(s.wmo_number);
    let place = s.latitude_deg.zip(s.longitude_deg).map(|(north, east)| {
        let side = |v: f64, sides: [&str; 2]| {
            let [plus, minus] = sides;
            format!("{:.2}° {}", v.abs(), if v < 0.0 { minus } else { plus })
        };
        format!("{}, {}", side(north, ["N", "S"]), side(east, ["E", "W"]))
    });
    known(vec![
        ("kind", Some(kind.to_owned())),
        ("name", s.name.clone()),
        ("number", number.map(|(b, n)| format!("{b:02}{n:03}"))),
        ("WIGOS id.", s.wigos_id.clone()),
        ("call sign", s.call_sign.clone()),
        ("position", place),
        ("ground", metres(s.elevation_m)),
        ("barometer", metres(s.barometer_m)),
        ("release point", metres(s.release_m)),
    ])
}

fn flight(sheet: &Sheet<'_>) -> Vec<Entry> {
    let report = sheet.report;
    let f = &report.context.flight;
    let minute = "%Y-%m-%d %H:%M UTC";
    let second = "%Y-%m-%d %H:%M:%S UTC";
    let (standard, release) = match report.when {
        When::Full { release, standard } => (
            Some(standard.strftime(minute).to_string()),
            Some(release.strftime(second).to_string()),
        ),
        When::Coded { day, hour, .. } => (Some(format!("day {day:02}, {hour:02} UTC")), None),
    };
    let start = report.start.and_then(|start| start.time);
    let top = sheet.profile.rows.last().map(|row| {
        let parts = [
            row.pressure_hpa.map(hpa),
            row.height_gpm.map(|z| format!("{} gpm", minus(z, 0))),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        parts.join(", ")
    });
    let rows = match report.motion {
        Motion::Rising => format!("{}, rising", sheet.profile.rows.len()),
        Motion::Falling => format!("{}, falling", sheet.profile.rows.len()),
    };
    let number = |n: Option<u32>| n.map(|n| n.to_string());
    let mut out = known(vec![
        ("for", standard),
        ("released", release),
        (
            "fell from",
            start.map(|time| time.strftime(second).to_string()),
        ),
        (
            "reach",
            (report.reach == Reach::To100).then(|| "early message, to 100 hPa".to_owned()),
        ),
        ("top", top),
        ("rows", Some(rows)),
        ("ascent", number(f.ascent)),
        ("release no.", number(f.release_number.map(u32::from))),
        ("sonde", f.serial.clone()),
        ("observer", f.observer.clone()),
        (
            "ended by",
            f.termination
                .map(|figure| meaning(FigureTable::Termination, figure)),
        ),
        ("not reported", f.not_reported.clone()),
    ]);
    if let Some(check) = &report.context.ground_check {
        let verdict = profile::ground_check(check, f.release);
        out.push(("ground check", verdict.to_string()));
    }
    out.extend(practice(report));
    out
}

fn surface(report: &Report) -> Vec<Entry> {
    let context = &report.context;
    let unit = context.coding.wind_unit;
    let mut out = Vec::new();
    if let Some(s) = &context.surface {
        let at = match s.pressure_at {
            PressureAt::Release => "release point",
            PressureAt::Barometer => "barometer",
        };
        let celsius = |t: Option<f64>| t.map(|t| format!("{} °C", minus(t, 1)));
        let wind = s.wind_speed_ms.map(|ms| {
            let speed = format!("{:.1} {}", unit.from_ms(ms), unit.symbol());
            match s.wind_dir_deg {
                Some(dir) => format!("from {dir:03.0}°, {speed}"),
                None => speed,
            }
        });
        out = known(vec![
            (
                "pressure",
                s.pressure_hpa.map(|p| format!("{p:.1} hPa at the {at}")),
            ),
            ("temperature", celsius(s.temperature_c)),
            ("dew point", celsius(s.dewpoint_c)),
            ("humidity", s.humidity_pct.map(|u| format!("{u:.0} %"))),
            ("wind", wind),
            ("sea", celsius(s.sea_temperature_c)),
        ]);
    }
    if let Some(clouds) = context.clouds {
        let words = match clouds.sky {
            Some(Sky::Clear) => "no cloud".to_owned(),
            Some(Sky::Obscured) => "the sky is hidden".to_owned(),
            Some(Sky::Unseen) => "not observed".to_owned(),
            None => {
                out.extend(cloud_words(&cloud_figures(clouds)));
                return out;
            }
        };
        out.push(("clouds", words));
    }
    out
}

/// A figure of a table with its meaning.
fn meaning(table: FigureTable, figure: u8) -> String {
    let rows = table.figures().iter();
    let words: Vec<&str> = if table.is_flags() {
        rows.filter(|row| row.figure & figure != 0)
            .map(|row| row.meaning)
            .collect()
    } else {
        rows.filter(|row| row.figure == figure)
            .map(|row| row.meaning)
            .collect()
    };
    if words.is_empty() {
        format!("figure {figure}")
    } else {
        format!("{} ({figure})", words.join(", "))
    }
}

fn equipment(report: &Report) -> Vec<Entry> {
    let e = &report.context.equipment;
    let b = &report.context.balloon;
    let radiation = e.radiation.map(|figure| {
        let row = tables::radiation().iter().find(|row| row.bufr == figure);
        format!(
            "{} ({figure})",
            row.map_or("not in the table", |r| r.meaning)
        )
    });
    let tracking = e.tracking.map(|figure| {
        let word = tables::tracking(figure).map_or("not in the table", |row| row.meaning);
        format!("{word} ({figure})")
    });
    let measuring = e.measuring.map(|figure| {
        let row = tables::measuring().iter().find(|row| row.figure == figure);
        format!(
            "{} ({figure})",
            row.map_or("not in the table", |r| r.meaning)
        )
    });
    let of = |table: FigureTable, figure: Option<u8>| figure.map(|f| meaning(table, f));
    let balloon: Vec<String> = [
        b.mass_kg.map(|kg| format!("{kg} kg")),
        of(FigureTable::Gas, b.gas),
        b.train_m.map(|m| format!("train {m} m")),
    ]
    .into_iter()
    .flatten()
    .collect();
    known(vec![
        (
            "radiosonde",
            e.radiosonde
                .map(|figure| format!("figure {figure} of Common Code Table C-2")),
        ),
        ("radiation", radiation),
        ("tracking", tracking),
        ("measuring", measuring),
        ("frequency", e.frequency_mhz.map(|f| format!("{f} MHz"))),
        (
            "pressure",
            of(FigureTable::PressureSensor, e.pressure_sensor),
        ),
        (
            "temperature",
            of(FigureTable::TemperatureSensor, e.temperature_sensor),
        ),
        (
            "humidity",
            of(FigureTable::HumiditySensor, e.humidity_sensor),
        ),
        (
            "heights",
            of(FigureTable::HeightCalculation, e.height_calculation),
        ),
        ("software", e.software.clone()),
        ("balloon", (!balloon.is_empty()).then(|| balloon.join(", "))),
    ])
}

/// Choices of the sheet that change what is reported, and the orders.
fn practice(report: &Report) -> Vec<Entry> {
    let coding = &report.context.coding;
    let mut out = vec![("speeds in", coding.wind_unit.symbol().to_owned())];
    if coding.region != Region::None {
        out.push(("Region", format!("{:?}", coding.region)));
    }
    out.extend(report.context.orders.iter().map(|o| ("order", order(o))));
    out
}

/// An order of the sheet in words.
pub(crate) fn order(order: &Order) -> String {
    let (what, reason) = match order {
        Order::Level {
            action,
            pressure_hpa,
            reason,
        } => {
            let word = match action {
                Action::Force => "in",
                Action::Drop => "out",
            };
            (format!("level at {pressure_hpa} hPa {word}"), reason)
        }
        Order::Withhold {
            element,
            from_hpa,
            to_hpa,
            reason,
        } => {
            let word = element.name();
            (
                format!("{word} withheld from {from_hpa} to {to_hpa} hPa"),
                reason,
            )
        }
        Order::Doubtful {
            doubtful,
            from_hpa,
            to_hpa,
            reason,
        } => {
            let word = match doubtful {
                Doubted::Geopotential => "geopotential",
                Doubted::Temperature => "temperature",
                Doubted::Both => "geopotential and temperature",
            };
            (
                format!("{word} doubtful from {from_hpa} to {to_hpa} hPa"),
                reason,
            )
        }
    };
    format!("{what}: {reason}")
}
