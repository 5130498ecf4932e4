use jiff::civil::date;

use crate::input::netcdf::read;
use crate::input::netcdf::tests::classic::{Classic, Data};
use crate::input::netcdf::tests::{ascent, column, got, refusal, sheeted};
use crate::input::sheet;
use crate::input::sheet::Source;
use crate::model::Reading;

#[test]
fn coordinates_are_known_by_what_cf_says_of_units() {
    let file = Classic::new(&[("time", 2)], 0)
        .var("time", &["time"], Data::Int(vec![0, 60]))
        .with("units", "minutes since 2031-01-15T11:00Z")
        .var("offset", &["time"], Data::Int(vec![0, 60]))
        .with("units", "minutes since 2031-01-15")
        .var("lev", &["time"], Data::Float(vec![1000.0, 900.0]))
        .with("units", "mb")
        .with("axis", "Z")
        .with("positive", "down")
        .var("y", &["time"], Data::Float(vec![46.5, 46.6]))
        .with("units", "degrees_north")
        .var("x", &["time"], Data::Float(vec![7.5, 7.25]))
        .with("units", "degree_E")
        .var("height_gpm", &["time"], Data::Float(vec![100.0, 1000.0]))
        .var("humidity_pct", &["time"], Data::Float(vec![50.0, 40.0]));
    let contents = got(&file).unwrap();
    let row = &contents.raw.rows[1];
    assert_eq!((row.time_s, row.pressure_hpa), (Some(3600.0), Some(900.0)));
    assert_eq!(
        (row.latitude_deg, row.longitude_deg),
        (Some(46.6), Some(7.25))
    );
    let stated = contents.findings[0].to_string();
    assert!(
        stated.contains("not one that is read: `offset`"),
        "{stated}"
    );
}

#[test]
fn two_of_one_kind_are_named() {
    let double = || Data::Double(vec![1.0, 2.0, 3.0, 4.0]);
    let file = ascent()
        .var("t2", &["time"], double())
        .with("standard_name", "air_temperature")
        .with("units", "degC");
    assert_eq!(
        refusal(&file, ""),
        "f.nc: variables `t` and `t2` could both be temperature_c; name one under [columns] temperature_c in the sheet"
    );
    let contents = sheeted(&file, "[columns]\ntemperature_c = { column = \"t2\" }").unwrap();
    assert_eq!(contents.raw.rows[3].temperature_c, Some(4.0));
    let stated = refusal(
        &file,
        "[columns]\ntemperature_c = { column = \"t2\" }\ndewpoint_c = { column = \"t2\" }",
    );
    assert!(
        stated.contains("variable `t2` is already taken as"),
        "{stated}"
    );
    // One along the rows and one beside: the rows have it.
    let beside = ascent()
        .var("surface", &[], Data::Double(vec![1.0]))
        .with("standard_name", "air_temperature")
        .with("units", "degC");
    assert_eq!(got(&beside).unwrap().raw.rows[0].temperature_c, Some(2.35));
    let stated = refusal(
        &beside,
        "[columns]\ntemperature_c = { column = \"surface\" }",
    );
    assert!(
        stated.starts_with("f.nc: variable `surface` () cannot be temperature_c"),
        "{stated}"
    );
}

#[test]
fn shapes_that_are_no_profile_are_named() {
    let mut file = ascent();
    file.dimensions.push(("bin".to_owned(), 2));
    file.dimensions.push(("letter".to_owned(), 1));
    file.variables
        .retain(|v| matches!(&v.data, Data::Double(_) | Data::Float(_)));
    let text = file
        .clone()
        .var("sky", &["time", "letter"], Data::Char("abcd".into()))
        .with("standard_name", "wind_from_direction");
    assert_eq!(
        refusal(
            &text,
            "[columns]\nwind_dir_deg = { column = \"sky\", unit = \"deg\" }"
        ),
        "f.nc: variable `sky` holds text, numbers are expected"
    );
    let flat = file
        .var("dd", &["bin"], Data::Short(vec![1, 2]))
        .with("standard_name", "wind_from_direction")
        .with("units", "degree");
    assert_eq!(
        refusal(&flat, ""),
        "f.nc: variable `dd` (bin = 2) cannot be wind_dir_deg: one value a sample of `time` is expected, or two dimensions, profiles and samples"
    );
}

#[test]
fn heights_count_upward_from_the_sea() {
    let mut file = ascent()
        .var("z", &["time"], Data::Float(vec![50.0, 60.0, 70.0, 80.0]))
        .with("standard_name", "altitude")
        .with("units", "m")
        .with("positive", "down");
    assert_eq!(
        refusal(&file, ""),
        "f.nc: variable `z`, attribute positive: `down`; a height counts upward"
    );
    file.of("z").attributes[2].1 = "up".into();
    assert_eq!(got(&file).unwrap().raw.rows[3].altitude_m, Some(80.0));
    // Above the ellipsoid: the sheet of the file says so, and what makes the ascent
    // takes the difference off.
    file.of("z").attributes[0].1 = "height_above_reference_ellipsoid".into();
    let contents = got(&file).unwrap();
    assert_eq!(contents.raw.rows[3].altitude_m, Some(80.0));
    let text = contents.sheet.unwrap();
    assert!(
        text.contains("[profile]\nheight_reference = \"ellipsoid\""),
        "{text}"
    );
    let own = Source {
        name: "f.nc",
        text: &text,
    };
    let index = Source {
        name: "s",
        text: "[station]\nwmo_block = 99\nwmo_number = 7",
    };
    let (sheet, _) = sheet::read(&[own, index]).unwrap();
    let reference = sheet.context.meaning.height_reference;
    assert_eq!(reference, crate::model::HeightReference::Ellipsoid);
    // Geopotential height is before it.
    let file = file
        .var("gph", &["time"], Data::Float(vec![30.0, 40.0, 50.0, 60.0]))
        .with("standard_name", "geopotential_height")
        .with("units", "m");
    let contents = got(&file).unwrap();
    assert_eq!(contents.raw.rows[3].altitude_m, None);
    assert_eq!(contents.raw.rows[3].height_gpm, Some(60.0));
    assert_eq!(contents.findings[0].code, "ellipsoid-height-not-used");
    assert!(!contents.sheet.unwrap().contains("ellipsoid"));
}

#[test]
fn scalars_are_the_place_of_the_station() {
    let file = ascent()
        .global("platform_id", "0-20000-0-99007")
        .var("lat", &[], Data::Float(vec![46.25]))
        .with("standard_name", "latitude")
        .with("units", "degrees_north")
        .var("lon", &[], Data::Double(vec![352.5]))
        .with("standard_name", "longitude")
        .with("units", "degrees_east")
        .var("ground", &[], Data::Float(vec![0.4915]))
        .with("standard_name", "surface_altitude")
        .with("units", "km");
    let contents = got(&file).unwrap();
    assert_eq!(contents.raw.rows[0].latitude_deg, None);
    let text = contents.sheet.unwrap();
    let own = Source {
        name: "f.nc",
        text: &text,
    };
    let index = Source {
        name: "s",
        text: "[station]\nwmo_block = 99\nwmo_number = 7",
    };
    let (sheet, _) = sheet::read(&[own, index]).unwrap();
    let station = sheet.context.station;
    assert_eq!(
        (station.latitude_deg, station.longitude_deg),
        (Some(46.25), Some(-7.5))
    );
    assert_eq!(station.elevation_m, Some(491.5));
    assert_eq!(station.wigos_id.as_deref(), Some("0-20000-0-99007"));
    // An index of five figures, and an identifier that is none of ours.
    let five = ascent().global("platform_id", "99007");
    let text = got(&five).unwrap().sheet.unwrap();
    assert!(
        text.contains("wmo_block = 99") && text.contains("wmo_number = 7"),
        "{text}"
    );
    let other = ascent().global("platform_id", "tower");
    assert!(!got(&other).unwrap().sheet.unwrap().contains("tower"));
}

/// Two invented profiles of three rows in two dimensions.
fn pair() -> Classic {
    Classic::new(&[("profile", 2), ("z", 3)], 0)
        .var("time", &["profile"], Data::Double(vec![0.5, 6.0]))
        .with("standard_name", "time")
        .with("units", "hours since 2031-01-15")
        .var("lat", &["profile"], Data::Float(vec![46.0, 47.0]))
        .with("standard_name", "latitude")
        .with("units", "degrees_north")
        .var(
            "p",
            &["profile", "z"],
            Data::Float(vec![1000.0, 990.0, 980.0, 950.0, 940.0, 930.0]),
        )
        .with("standard_name", "air_pressure")
        .with("units", "hPa")
        .var(
            "t",
            &["profile", "z"],
            Data::Float(vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0]),
        )
        .with("standard_name", "air_temperature")
        .with("units", "degC")
}

#[test]
fn one_of_several_profiles_is_named_by_number() {
    let file = pair();
    assert_eq!(
        refusal(&file, ""),
        "f.nc: there are 2 profiles; give the number of one, 1 to 2"
    );
    let number = |n| read(&file.bytes(), "f.nc", Some(n), &Reading::default());
    let second = number(2).unwrap();
    assert_eq!(
        column(&second, |r| r.pressure_hpa),
        [Some(950.0), Some(940.0), Some(930.0)]
    );
    assert_eq!(
        column(&second, |r| r.temperature_c),
        [Some(4.0), Some(5.0), Some(6.0)]
    );
    assert_eq!(second.raw.start, Some(date(2031, 1, 15).at(6, 0, 0, 0)));
    assert!(second.sheet.unwrap().contains("latitude_deg = 47.0"));
    let first = number(1).unwrap();
    assert_eq!(
        column(&first, |r| r.temperature_c),
        [Some(1.0), Some(2.0), Some(3.0)]
    );
    assert_eq!(first.raw.start, Some(date(2031, 1, 15).at(0, 30, 0, 0)));
    let stated = number(3).unwrap_err().to_string();
    assert_eq!(stated, "f.nc: there is no profile 3; the file has 2");
    // A file of one profile takes 1.
    assert!(read(&ascent().bytes(), "f.nc", Some(1), &Reading::default()).is_ok());
    assert!(read(&ascent().bytes(), "f.nc", Some(2), &Reading::default()).is_err());
}

#[test]
fn ragged_arrays_are_taken_apart() {
    let samples = |file: Classic| {
        file.var(
            "p",
            &["obs"],
            Data::Float(vec![1000.0, 990.0, 950.0, 940.0, 930.0]),
        )
        .with("standard_name", "air_pressure")
        .with("units", "hPa")
        .var("t", &["obs"], Data::Float(vec![1.0, 2.0, 4.0, 5.0, 6.0]))
        .with("standard_name", "air_temperature")
        .with("units", "degC")
    };
    let file = || Classic::new(&[("profile", 2), ("obs", 5)], 0);
    let counted = samples(
        file()
            .var("count", &["profile"], Data::Int(vec![2, 3]))
            .with("sample_dimension", "obs"),
    );
    let numbered = samples(
        file()
            .var("of", &["obs"], Data::Int(vec![0, 0, 1, 1, 1]))
            .with("instance_dimension", "profile"),
    );
    for file in [counted, numbered] {
        let number = |n| read(&file.bytes(), "f.nc", Some(n), &Reading::default()).unwrap();
        assert_eq!(
            column(&number(1), |r| r.temperature_c),
            [Some(1.0), Some(2.0)]
        );
        assert_eq!(
            column(&number(2), |r| r.pressure_hpa),
            [Some(950.0), Some(940.0), Some(930.0)]
        );
        assert!(refusal(&file, "").contains("there are 2 profiles"));
    }
    let over = samples(
        file()
            .var("count", &["profile"], Data::Int(vec![2, 4]))
            .with("sample_dimension", "obs"),
    );
    let stated = read(&over.bytes(), "f.nc", Some(2), &Reading::default()).unwrap_err();
    assert!(
        stated.to_string().contains("`count` counts more samples"),
        "{stated}"
    );
}

#[test]
fn a_file_that_is_cut_off_is_refused_or_whole() {
    let bytes = ascent().bytes();
    let whole = got(&ascent()).unwrap();
    let mut refused = 0;
    for end in (0..bytes.len()).step_by(64).chain([bytes.len() - 1]) {
        match read(&bytes[..end], "f.nc", None, &Reading::default()) {
            Ok(contents) => assert_eq!(contents, whole, "{end}"),
            Err(error) => {
                refused += 1;
                assert!(error.to_string().starts_with("f.nc: "), "{error}");
            }
        }
    }
    // The last octets are values: none of the shorter files is whole.
    assert_eq!(refused, bytes.len().div_ceil(64) + 1);
}

#[test]
fn lengths_that_no_file_of_that_size_has_are_refused() {
    // A fixed dimension, and the count of records, of two thousand million.
    let mut file = Classic::new(&[("n", 2)], 0)
        .var("pressure_hpa", &["n"], Data::Double(vec![1000.0, 990.0]))
        .var("temperature_c", &["n"], Data::Double(vec![1.5, 1.0]));
    let mut bytes = file.bytes();
    let at = bytes
        .windows(8)
        .position(|w| w == [0, 0, 0, 1, b'n', 0, 0, 0])
        .unwrap()
        + 8;
    bytes[at..at + 4].copy_from_slice(&2_000_000_000_u32.to_be_bytes());
    let stated = read(&bytes, "f.nc", None, &Reading::default()).unwrap_err();
    assert_eq!(
        stated.to_string(),
        "f.nc: dimension `n` has 2000000000 samples; at most 2000000 are read"
    );
    bytes[at..at + 4].copy_from_slice(&1_000_000_u32.to_be_bytes());
    let stated = read(&bytes, "f.nc", None, &Reading::default())
        .unwrap_err()
        .to_string();
    assert!(
        stated.contains("would have 1000000 values, more than a file of"),
        "{stated}"
    );
    file = ascent();
    let mut bytes = file.bytes();
    bytes[4..8].copy_from_slice(&2_000_000_000_u32.to_be_bytes());
    let stated = read(&bytes, "f.nc", None, &Reading::default())
        .unwrap_err()
        .to_string();
    assert!(stated.contains("may be cut off or damaged"), "{stated}");
    // No record at all.
    let empty = Classic {
        records: 0,
        ..ascent()
    };
    assert_eq!(
        refusal(&empty, ""),
        "f.nc: dimension `time` has no samples: there is no row to read"
    );
}
