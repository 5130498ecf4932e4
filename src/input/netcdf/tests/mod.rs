mod classic;
mod shapes;
mod times;

use jiff::civil::date;

use crate::input::elements::known::known;
use crate::input::netcdf::{columns, is_netcdf, read};
use crate::input::sheet;
use crate::input::sheet::Source;
use crate::input::{By, Contents, Format, SourceError, detect};
use crate::model::Reading;
use crate::tables::cf_names;
use classic::{Classic, Data};

/// Four invented rows with CF attributes, along the record dimension.
fn ascent() -> Classic {
    Classic::new(&[("time", 0)], 4)
        .global("Conventions", "CF-1.8")
        .var(
            "time",
            &["time"],
            Data::Double(vec![40.0, 41.0, 42.5, 44.0]),
        )
        .with("standard_name", "time")
        .with("units", "seconds since 2031-01-15 11:23:00 0:00")
        .var(
            "p",
            &["time"],
            Data::Float(vec![100_430.0, 99_985.5, 99_000.0, 98_000.0]),
        )
        .with("standard_name", "air_pressure")
        .with("units", "Pa")
        .var(
            "t",
            &["time"],
            Data::Float(vec![275.5, 275.4, 273.15, 263.05]),
        )
        .with("standard_name", "air_temperature")
        .with("units", "K")
        .var("rh", &["time"], Data::Float(vec![0.98, 0.5, 1.0, 0.123]))
        .with("standard_name", "relative_humidity")
        .with("units", "1")
        .var("ff", &["time"], Data::Float(vec![3.2, 10.0, 12.3, 0.0]))
        .with("standard_name", "wind_speed")
        .with("units", "m s-1")
        .var("dd", &["time"], Data::Short(vec![270, 280, 359, 0]))
        .with("standard_name", "wind_from_direction")
        .with("units", "degree")
}

fn got(file: &Classic) -> Result<Contents, SourceError> {
    sheeted(file, "")
}

fn reading(text: &str) -> Reading {
    let source = Source {
        name: "s.toml",
        text,
    };
    sheet::reading(&[source]).unwrap()
}

fn sheeted(file: &Classic, text: &str) -> Result<Contents, SourceError> {
    read(&file.bytes(), "f.nc", None, &reading(text))
}

fn refusal(file: &Classic, text: &str) -> String {
    sheeted(file, text).unwrap_err().to_string()
}

fn column(contents: &Contents, get: fn(&crate::input::RawRow) -> Option<f64>) -> Vec<Option<f64>> {
    contents.raw.rows.iter().map(get).collect()
}

#[test]
fn a_profile_with_standard_names_reads() {
    let contents = got(&ascent()).unwrap();
    let raw = &contents.raw;
    // 11:23:00 and 40 s; the rows count from there.
    assert_eq!(raw.start, Some(date(2031, 1, 15).at(11, 23, 40, 0)));
    assert_eq!(
        column(&contents, |r| r.time_s),
        [Some(0.0), Some(1.0), Some(2.5), Some(4.0)]
    );
    // Pa / 100.
    assert_eq!(
        column(&contents, |r| r.pressure_hpa),
        [Some(1004.3), Some(999.855), Some(990.0), Some(980.0)]
    );
    // K - 273.15; 0.98 * 100.
    assert_eq!(
        column(&contents, |r| r.temperature_c),
        [Some(2.35), Some(2.25), Some(0.0), Some(-10.1)]
    );
    assert_eq!(
        column(&contents, |r| r.humidity_pct),
        [Some(98.0), Some(50.0), Some(100.0), Some(12.3)]
    );
    assert_eq!(
        column(&contents, |r| r.wind_speed_ms),
        [Some(3.2), Some(10.0), Some(12.3), Some(0.0)]
    );
    assert_eq!(
        column(&contents, |r| r.wind_dir_deg),
        [Some(270.0), Some(280.0), Some(359.0), Some(0.0)]
    );
    assert_eq!(
        raw.rows.iter().map(|r| r.line).collect::<Vec<_>>(),
        [1, 2, 3, 4]
    );
    assert_eq!(contents.findings, []);
    let taken: Vec<_> = (contents.columns.iter())
        .map(|t| (t.number, t.column.as_str(), t.ours, t.present))
        .collect();
    assert_eq!(taken[1], (2, "p", Some(("pressure_hpa", By::Attribute)), 4));
    assert_eq!(contents.columns[2].range, Some((263.05, 275.5)));
    assert_eq!(contents.columns[2].unit.as_deref(), Some("K"));
}

#[test]
fn the_first_time_is_the_release_of_the_sheet_it_brings() {
    let text = got(&ascent()).unwrap().sheet.unwrap();
    let station = Source {
        name: "s",
        text: "[station]\nwmo_block = 99\nwmo_number = 7",
    };
    let own = Source {
        name: "f.nc",
        text: &text,
    };
    let (sheet, _) = sheet::read(&[own, station]).unwrap();
    assert_eq!(
        sheet.context.flight.release,
        Some(date(2031, 1, 15).at(11, 23, 40, 0))
    );
}

#[test]
fn formats_are_known_by_their_first_octets() {
    assert_eq!(detect(&ascent().bytes()), Format::NetCdf);
    for start in [
        &b"CDF\x01"[..],
        b"CDF\x02",
        b"CDF\x05",
        b"\x89HDF\r\n\x1a\n",
    ] {
        assert!(is_netcdf(start));
    }
    for start in [
        &b"CDF\x03"[..],
        b"CDF",
        b"\x89HDF\n\n\x1a\n",
        b"time,CDF\x01",
        b"",
    ] {
        assert!(!is_netcdf(start));
        assert_eq!(detect(start), Format::Text);
    }
    // The word in an attribute makes no BUFR of it.
    let converted = ascent().global("source", "BUFR");
    assert_eq!(detect(&converted.bytes()), Format::NetCdf);
    let error = read(b"time_s,pressure_hpa\n", "f.csv", None, &Reading::default()).unwrap_err();
    assert!(
        error.to_string().starts_with("f.csv: not NetCDF"),
        "{error}"
    );
}

#[test]
fn what_a_file_calls_missing_is_missing() {
    let mut file = ascent();
    let t = file.of("t");
    t.data = Data::Float(vec![-9999.0, f32::NAN, 273.15, 9.969_21e36]);
    t.attributes
        .push(("missing_value".into(), Data::Double(vec![-9999.0])));
    // Fill values of the type of another; a vector of missing values.
    let rh = file.of("rh");
    rh.data = Data::Float(vec![-1.0, 0.5, -99.9, -999.0]);
    rh.attributes
        .push(("_FillValue".into(), Data::Float(vec![-1.0])));
    rh.attributes
        .push(("missing_value".into(), Data::Float(vec![-99.9, -999.0])));
    // The default of short integers is -32767 (netcdf.h).
    file.of("dd").data = Data::Short(vec![270, -32767, 359, 0]);
    let contents = got(&file).unwrap();
    assert_eq!(
        column(&contents, |r| r.temperature_c),
        [None, None, Some(0.0), None]
    );
    assert_eq!(
        column(&contents, |r| r.humidity_pct),
        [None, Some(50.0), None, None]
    );
    assert_eq!(
        column(&contents, |r| r.wind_dir_deg),
        [Some(270.0), None, Some(359.0), Some(0.0)]
    );
    // With a fill value of its own the default is a value, here out of bounds.
    file.of("dd")
        .attributes
        .push(("_FillValue".into(), Data::Short(vec![-1])));
    let stated = refusal(&file, "");
    assert!(
        stated.starts_with("f.nc: variable `dd`, sample 2: -32767 degree as wind_dir_deg"),
        "{stated}"
    );
}

#[test]
fn the_valid_range_counts_and_does_not_blank() {
    let mut file = ascent();
    // -90 degC is no bound of the stratosphere.
    let t = file.of("t");
    t.data = Data::Float(vec![2.0, -92.5, -95.0, -90.0]);
    t.attributes[1].1 = "degC".into();
    t.attributes
        .push(("valid_min".into(), Data::Float(vec![-90.0])));
    t.attributes
        .push(("valid_max".into(), Data::Float(vec![50.0])));
    let contents = got(&file).unwrap();
    assert_eq!(
        column(&contents, |r| r.temperature_c),
        [Some(2.0), Some(-92.5), Some(-95.0), Some(-90.0)]
    );
    assert_eq!(
        contents.findings[0].to_string(),
        "info: f.nc: variable `t`: 2 values outside its valid range -90 to 50; they are used"
    );
}

#[test]
fn packed_values_are_unpacked() {
    let mut file = ascent();
    // 0.01 K steps from 200 K; the fill value and the range are of the packed values.
    let t = file.of("t");
    t.data = Data::Short(vec![7315, 7314, -1, 0]);
    t.attributes
        .push(("scale_factor".into(), Data::Float(vec![0.01])));
    t.attributes
        .push(("add_offset".into(), Data::Float(vec![200.0])));
    t.attributes
        .push(("_FillValue".into(), Data::Short(vec![-1])));
    t.attributes
        .push(("valid_range".into(), Data::Short(vec![1, 10_000])));
    // Octets without sign: 200 is stored as -56, the fill value 255 as -1.
    let rh = file.of("rh");
    rh.data = Data::Byte(vec![100, -56, -1, 0]);
    rh.attributes[1].1 = "%".into();
    rh.attributes.push(("_Unsigned".into(), "true".into()));
    rh.attributes
        .push(("scale_factor".into(), Data::Double(vec![0.5])));
    rh.attributes
        .push(("_FillValue".into(), Data::Byte(vec![-1])));
    let contents = got(&file).unwrap();
    // 200 + 73.15 = 273.15 K; 200 K = -73.15 degC.
    assert_eq!(
        column(&contents, |r| r.temperature_c),
        [Some(0.0), Some(-0.01), None, Some(-73.15)]
    );
    assert_eq!(
        column(&contents, |r| r.humidity_pct),
        [Some(50.0), Some(100.0), None, Some(0.0)]
    );
    let stated = contents.findings[0].to_string();
    assert!(
        stated.contains("1 value outside its valid range 1 to 10000"),
        "{stated}"
    );
    let t = file.of("t");
    t.attributes[2].1 = "tenth".into();
    assert_eq!(
        refusal(&file, ""),
        "f.nc: variable `t`, attribute scale_factor: `tenth` is no number"
    );
}

#[test]
fn a_single_is_its_shortest_decimal() {
    use crate::input::netcdf::attributes::shortest;
    assert_eq!(shortest(12.3), 12.3);
    assert!(f64::from(12.3_f32) != 12.3);
    assert_eq!(shortest(-9999.0), -9999.0);
    assert_eq!(shortest(1.0e-20), 1.0e-20);
    assert!(shortest(f32::NAN).is_nan() && shortest(f32::INFINITY).is_infinite());
}

#[test]
fn wrong_units_name_variable_and_value() {
    let mut file = ascent();
    file.of("t").attributes[1].1 = "rankine".into();
    assert_eq!(
        refusal(&file, ""),
        "f.nc: variable `t`, attribute units: `rankine` is no unit of temperature_c (°C, K); \
         `temperature_c = { column = \"t\", unit = \"…\" }` under [columns] in the sheet overrides it"
    );
    // The sheet has the last word, for the unit alone too.
    let contents = sheeted(&file, "[columns]\ntemperature_c = { unit = \"K\" }").unwrap();
    assert_eq!(contents.raw.rows[0].temperature_c, Some(2.35));
    assert_eq!(
        refusal(&file, "[columns]\ntemperature_c = { unit = \"F\" }"),
        "f.nc: [columns] temperature_c: unknown unit `F`; it may be °C, K"
    );
    file.of("t").attributes.truncate(1);
    assert_eq!(
        refusal(&file, ""),
        "f.nc: variable `t` has no attribute units; say `temperature_c = { unit = \"…\" }` \
         under [columns] in the sheet (°C, K)"
    );
    let mut file = ascent();
    file.of("time").attributes[1].1 = "fortnights since 2031-01-15".into();
    let stated = refusal(&file, "");
    assert!(
        stated.contains("attribute units: `fortnights since 2031-01-15` is no unit of time"),
        "{stated}"
    );
}

#[test]
fn units_of_cf_files_convert_exactly() {
    let unit = |ours: &str, text: &str, value: f64| {
        let unit = crate::input::elements::known::unit(known(ours).unwrap(), text).unwrap();
        crate::input::netcdf::units::ours(unit, value)
    };
    assert_eq!(unit("pressure_hpa", "Pa", 101_325.0), 1013.25);
    for same in ["mb", "mbar", "millibar", "millibars", "hPa"] {
        assert_eq!(unit("pressure_hpa", same, 850.1), 850.1);
    }
    assert_eq!(unit("altitude_m", "km", 12.345), 12_345.0);
    // A foot is 0.3048 m, a knot 1852/3600 m/s.
    assert_eq!(unit("altitude_m", "ft", 1000.0), 304.8);
    assert_eq!(unit("wind_speed_ms", "knots", 36.0), 18.52);
    for same in ["m s-1", "m/s", "m s^-1", "m s**-1", "m.s-1"] {
        assert_eq!(unit("wind_u_ms", same, -3.5), -3.5);
    }
    for same in ["degC", "C", "celsius", "degrees_Celsius"] {
        assert_eq!(unit("dewpoint_c", same, -40.1), -40.1);
    }
    // 275.5 - 273.15 is 2.3500000000000227 in doubles.
    assert_eq!(unit("temperature_c", "kelvin", 275.5), 2.35);
    assert_eq!(unit("humidity_pct", "percent", 55.5), 55.5);
    assert_eq!(unit("humidity_pct", "1", 0.555), 55.5);
    assert_eq!(unit("wind_dir_deg", "degree", 7.5), 7.5);
    assert_eq!(unit("longitude_deg", "degree_E", 7.5), 7.5);
    assert_eq!(unit("latitude_deg", "degrees_north", 7.5), 7.5);
}

#[test]
fn nothing_is_guessed() {
    let mut file = ascent();
    file.of("p").attributes.remove(0);
    assert_eq!(
        refusal(&file, ""),
        "f.nc: no variable is known as pressure, geopotential height or altitude, by standard_name \
         or by a name of ours; it has `time` (seconds since 2031-01-15 11:23:00 0:00), `p` (Pa), \
         `t` (K), `rh` (1), `ff` (m s-1), `dd` (degree); name them under [columns] in the sheet"
    );
    // What is there is still reported, with its range.
    let reported = columns(&file.bytes(), "f.nc", None, &Reading::default()).unwrap();
    assert_eq!(reported.rows, 4);
    let p = &reported.columns[1];
    // What it could be is shown, with the words for a sheet.
    assert_eq!((p.column.as_str(), p.present), ("p", 4));
    assert_eq!(p.ours, Some(("pressure_hpa", By::Guess)));
    assert_eq!(p.range, Some((98_000.0, 100_430.0)));
    let sheet = reported.sheet().unwrap();
    assert_eq!(
        sheet,
        "[columns]\npressure_hpa = { column = \"p\", unit = \"Pa\" }\n"
    );
    let contents = sheeted(&file, &sheet).unwrap();
    assert_eq!(contents.raw.rows[0].pressure_hpa, Some(1004.3));
    let contents = sheeted(&file, "[columns]\npressure_hpa = { column = \"p\" }").unwrap();
    assert_eq!(contents.raw.rows[0].pressure_hpa, Some(1004.3));
    assert_eq!(contents.columns[1].ours, Some(("pressure_hpa", By::Sheet)));
    let stated = refusal(&file, "[columns]\npressure_hpa = { column = \"pp\" }");
    assert!(
        stated.starts_with(
            "f.nc: [columns] pressure_hpa: the file has no variable `pp`; it has `time`"
        ),
        "{stated}"
    );
    let stated = refusal(&file, "[columns]\npressure_hpa = { unit = \"Pa\" }");
    assert!(
        stated.starts_with("f.nc: [columns] pressure_hpa: no variable is known as it"),
        "{stated}"
    );
    // Our own name is known, in the unit it says where the file says none.
    let named = Classic::new(&[("n", 2)], 0)
        .var("pressure_hpa", &["n"], Data::Double(vec![1000.0, 990.0]))
        .var("Temperature_C", &["n"], Data::Double(vec![1.5, 1.0]));
    let contents = got(&named).unwrap();
    assert_eq!(contents.raw.rows[1].temperature_c, Some(1.0));
    assert_eq!(contents.columns[0].ours, Some(("pressure_hpa", By::Name)));
    assert_eq!((contents.raw.start, contents.sheet), (None, None));
    // A standard name that is not read says that it is something else.
    let other = named.with("standard_name", "sea_surface_temperature");
    assert!(refusal(&other, "").contains("known as temperature, humidity or wind"));
}

#[test]
fn calendars_other_than_ours_are_refused() {
    let file = ascent().with("calendar", "noleap");
    assert!(
        got(&file).is_ok(),
        "an attribute of the wind says nothing of time"
    );
    let mut file = ascent();
    file.of("time")
        .attributes
        .push(("calendar".into(), "noleap".into()));
    let stated = refusal(&file, "");
    assert!(
        stated.starts_with("f.nc: variable `time`, attribute calendar: `noleap` from"),
        "{stated}"
    );
    file.of("time").attributes[2].1 = "proleptic_gregorian".into();
    assert!(got(&file).is_ok());
    let mut file = ascent();
    file.of("time").attributes[1].1 = "days since 1-1-1".into();
    assert!(refusal(&file, "").contains("calendar: `standard`"));
}

#[test]
fn the_standard_names_lead_to_columns_and_keys() {
    for name in cf_names() {
        let key = ["station.elevation_m", "station.wigos_id"].contains(&name.column);
        assert!(key || known(name.column).is_some(), "{}", name.column);
        if let (Some(known), Some(unit)) = (known(name.column), name.canonical_unit)
            && name.column != "time_s"
        {
            let known = crate::input::elements::known::unit(known, unit);
            assert!(known.is_some(), "{unit}");
        }
    }
}
