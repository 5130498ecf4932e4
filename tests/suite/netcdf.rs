//! The command with NetCDF: the same message as from text, and what it says of
//! files that it cannot use.
#![cfg(all(feature = "cli", feature = "netcdf"))]

use crate::classic;

use std::fs;

use classic::{Classic, Data};

use crate::support;

fn run(args: &[&str]) -> (i32, String, String) {
    support::run(std::path::Path::new(env!("CARGO_MANIFEST_DIR")), args, "")
}

/// The columns of a sample under names of no meaning, with CF attributes in units of
/// their own.
fn sample(name: &str) -> Classic {
    let text = fs::read_to_string(format!("samples/{name}.csv")).unwrap();
    let mut lines = text.lines().filter(|l| !l.starts_with('#'));
    let header: Vec<&str> = lines.next().unwrap().split(',').collect();
    let rows: Vec<Vec<&str>> = lines.map(|l| l.split(',').collect()).collect();
    let records = u32::try_from(rows.len()).unwrap();
    let mut file = Classic::new(&[("obs", 0)], records);
    for (at, column) in header.iter().enumerate() {
        let (name, unit) = match *column {
            "time_s" => ("time", "s"),
            "pressure_hpa" => ("air_pressure", "hPa"),
            "height_gpm" => ("geopotential_height", "m"),
            "temperature_c" => ("air_temperature", "degC"),
            "humidity_pct" => ("relative_humidity", "%"),
            "wind_dir_deg" => ("wind_from_direction", "degree"),
            "wind_speed_ms" => ("wind_speed", "m s-1"),
            "latitude_deg" => ("latitude", "degrees_north"),
            "longitude_deg" => ("longitude", "degrees_east"),
            _ => continue,
        };
        let value = |row: &Vec<&str>| row[at].parse().unwrap_or(f32::NAN);
        // A second at most has five figures: a single holds every value of a sample.
        let data = Data::Float(rows.iter().map(value).collect());
        file = file
            .var(&format!("v{at}"), &["obs"], data)
            .with("standard_name", name)
            .with("units", unit);
    }
    file
}

#[test]
fn a_message_is_the_same_as_from_text() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["winter_jet", "gaps"] {
        let path = folder.path().join(format!("{name}.nc"));
        fs::write(&path, sample(name).bytes()).unwrap();
        let sheet = format!("samples/{name}.toml");
        let (code, wanted, _) = run(&[
            "encode",
            &format!("samples/{name}.csv"),
            "--sheet",
            &sheet,
            "-q",
        ]);
        assert_eq!(code, 0);
        let path = path.to_str().unwrap();
        for from in [&[][..], &["--from", "netcdf"]] {
            let words = ["encode", path, "--sheet", &sheet, "-q"];
            let (code, text, stderr) = run(&[&words, from].concat());
            assert_eq!((code, stderr.as_str()), (0, ""), "{name}");
            assert_eq!(text, wanted, "{name}");
        }
    }
}

#[test]
fn what_cannot_be_used_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("f.nc");
    let bytes = sample("winter_jet").bytes();
    let shown = path.to_str().unwrap();
    let encode = |bytes: &[u8]| {
        fs::write(&path, bytes).unwrap();
        run(&["encode", shown, "--sheet", "samples/winter_jet.toml"])
    };
    let (code, text, stderr) = encode(&bytes[..bytes.len() / 2]);
    assert_eq!((code, text.as_str()), (1, ""));
    assert!(stderr.contains("may be cut off or damaged"), "{stderr}");
    let (code, _, stderr) = encode(b"\x89HDF\r\n\x1a\nand no more");
    assert_eq!(code, 1);
    assert!(
        stderr.contains("HDF5 and cannot be read as NetCDF-4"),
        "{stderr}"
    );
    fs::write(&path, &bytes).unwrap();
    let (code, _, stderr) = run(&[
        "encode",
        shown,
        "--message",
        "2",
        "--sheet",
        "samples/winter_jet.toml",
    ]);
    assert_eq!(code, 1);
    assert!(
        stderr.contains("there is no profile 2; the file has 1"),
        "{stderr}"
    );
    let (code, _, stderr) = run(&[
        "encode",
        "samples/winter_jet.csv",
        "--from",
        "netcdf",
        "--sheet",
        "samples/winter_jet.toml",
    ]);
    assert_eq!(code, 1);
    assert!(
        stderr.contains("samples/winter_jet.csv: not NetCDF"),
        "{stderr}"
    );
}
