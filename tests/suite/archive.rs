//! Outputs for an archive: what is written is read again without loss.

use fivefig::forms::igra;
use fivefig::input;
use fivefig::issue;
use fivefig::levels::report::with_every_row;
use fivefig::model::raw::RawRow;
use fivefig::model::{Form, Level, Motion, Reach, Report, Roles, Row};

use crate::support;

/// The report of a sample with every row of its profile.
fn whole(name: &str, form: Form) -> Report {
    let (ascent, sheet) = support::ascent(name, form);
    let report = issue::report(form, &ascent, &sheet.context, Reach::Whole);
    with_every_row(&report.unwrap().value, &ascent)
}

/// The levels in the order in which an archive has them.
fn levels(report: &Report) -> Vec<&Level> {
    let mut levels: Vec<&Level> = report.levels.iter().collect();
    if report.motion == Motion::Falling {
        levels.reverse();
    }
    levels
}

const SAMPLES: [(&str, Form); 7] = [
    ("winter_jet", Form::Temp),
    ("minute", Form::Temp),
    ("gaps", Form::Temp),
    ("windless", Form::Temp),
    ("ship", Form::Temp),
    ("drop", Form::Temp),
    ("theodolite", Form::Pilot),
];

#[cfg(feature = "netcdf")]
#[test]
fn netcdf_reads_back_to_the_last_figure() {
    use fivefig::forms::netcdf;
    use fivefig::model::Reading;

    for (name, form) in SAMPLES {
        let report = whole(name, form);
        let octets = netcdf::write(&report, &toml::Table::new()).unwrap();
        let read = input::netcdf::read(&octets, "x.nc", None, &Reading::default()).unwrap();
        let wanted = levels(&report);
        assert_eq!(read.raw.rows.len(), wanted.len(), "{name}");
        let begins = read.raw.rows.first().and_then(|row| row.time_s);
        let offset = wanted.first().and_then(|l| l.row.time_s).zip(begins);
        // Times count from the whole second of the first row.
        let offset = offset.map_or(0.0, |(own, read)| own - read);
        for (read, level) in read.raw.rows.iter().zip(wanted) {
            let row = &level.row;
            let own = Row {
                time_s: row.time_s.map(|t| t - offset),
                given: Roles::empty(),
                ..row.clone()
            };
            let again = Row {
                time_s: read.time_s,
                pressure_hpa: read.pressure_hpa,
                height_gpm: read.height_gpm,
                temperature_c: read.temperature_c,
                dewpoint_c: read.dewpoint_c,
                humidity_pct: read.humidity_pct,
                wind: read.wind(),
                place: read.place(),
                given: Roles::empty(),
            };
            assert_eq!(again, own, "{name}");
            assert_eq!(
                read.flags,
                level.roles & (Roles::FLAG_TABLE | Roles::FORCED),
                "{name}"
            );
        }
    }
}

/// The file has its sheet, so that it is coded again alone: the same message.
#[cfg(all(feature = "netcdf", feature = "cli"))]
#[test]
fn a_file_of_the_archive_codes_the_same_message() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["winter_jet", "tropical", "ship", "minute"] {
        let (csv, sheet) = (
            support::path(&format!("{name}.csv")),
            support::path(&format!("{name}.toml")),
        );
        let run = |args: &[&str]| support::run(folder.path(), args, "");
        let (code, _, stderr) = run(&[
            "encode",
            &csv,
            "--sheet",
            &sheet,
            "-q",
            "--to",
            "netcdf",
            "-o",
            "flight.nc",
        ]);
        assert_eq!((code, stderr.as_str()), (0, ""), "{name}");
        let (_, wanted, _) = run(&["encode", &csv, "--sheet", &sheet, "-q"]);
        let (code, own, stderr) = run(&["encode", "flight.nc", "-q"]);
        assert_eq!((code, own), (0, wanted), "{name}: {stderr}");
    }
}

/// In the steps of the format: 1 Pa, 1 m, 0.1 °C, 0.1 %, 1°, 0.1 m/s, 1 s.
#[test]
fn a_station_file_reads_back_within_half_a_step() {
    // A drop has neither number nor call sign.
    for (name, form) in SAMPLES.into_iter().filter(|(name, _)| *name != "drop") {
        let report = whole(name, form);
        let text = igra::write(&report).unwrap();
        let read = input::igra::read(text.as_bytes(), "x.txt", None).unwrap();
        let wanted = &report.levels;
        assert_eq!(read.raw.rows.len(), wanted.len(), "{name}");
        for (read, level) in read.raw.rows.iter().zip(wanted) {
            near(name, read, &level.row);
            let surface = level.roles.any(Roles::SURFACE);
            assert_eq!(read.flags.any(Roles::SURFACE), surface, "{name}");
        }
    }
}

fn near(name: &str, read: &RawRow, row: &Row) {
    let pairs = [
        ("time", read.time_s, row.time_s, 0.5),
        ("pressure", read.pressure_hpa, row.pressure_hpa, 0.005),
        ("height", read.height_gpm, row.height_gpm, 0.5),
        ("temperature", read.temperature_c, row.temperature_c, 0.05),
        ("humidity", read.humidity_pct, row.humidity_pct, 0.05),
        ("wind", read.wind_dir_deg, row.wind.map(|w| w.dir_deg), 0.5),
        (
            "speed",
            read.wind_speed_ms,
            row.wind.map(|w| w.speed_ms),
            0.05,
        ),
    ];
    for (what, read, own, half) in pairs {
        assert_eq!(read.is_some(), own.is_some(), "{name}: {what}");
        if let Some((read, own)) = read.zip(own) {
            assert!(
                (read - own).abs() <= half + 1e-9,
                "{name}: {what} {read} {own}"
            );
        }
    }
}

/// The columns of the format, by hand from its open description (from memory): the header
/// record of an invented station and its surface level.
#[test]
fn the_columns_are_those_of_the_format() {
    let text = igra::write(&whole("winter_jet", Form::Temp)).unwrap();
    let mut lines = text.lines();
    let head = lines.next().unwrap();
    assert_eq!(head.get(0..1), Some("#"));
    assert_eq!(head.get(1..12), Some("ZZM00099011"));
    assert_eq!(head.get(13..26), Some("2031 01 15 12"));
    assert_eq!(head.get(27..31), Some("1123"));
    assert_eq!(head.get(55..62), Some(" 512500"));
    assert_eq!(head.get(63..71), Some("  -34000"));
    assert_eq!(head.len(), 71);
    let surface = lines.next().unwrap();
    assert_eq!(surface.get(0..2), Some("21"));
    assert_eq!(surface.get(3..8), Some("    0"));
    assert_eq!(surface.len(), 51);
}

#[test]
fn what_a_station_file_cannot_hold_is_refused() {
    let mut report = whole("winter_jet", Form::Temp);
    report.context.station = fivefig::model::Station::default();
    let refused = igra::write(&report).unwrap_err().to_string();
    assert_eq!(
        refused,
        "a station file needs a WMO number or a call sign; give it under [station]"
    );
}
