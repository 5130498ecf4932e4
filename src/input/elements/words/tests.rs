use super::*;

#[test]
fn every_word_of_the_table_names_columns_of_ours() {
    for word in crate::tables::column_words() {
        for name in &word.names {
            assert!(known(name).is_some(), "{}", word.word);
        }
        let from = ["CF standard name table", "common practice, no source"];
        assert!(from.contains(&word.source), "{}", word.word);
    }
}

#[test]
fn names_are_read_by_their_words() {
    for (name, ours, unit) in [
        ("T", "temperature_c", None),
        ("Temp [K]", "temperature_c", Some("K")),
        ("air_temperature", "temperature_c", None),
        ("AirTemperature", "temperature_c", None),
        ("Temp_C", "temperature_c", Some("C")),
        ("sonde temperature", "temperature_c", None),
        ("P(hPa)", "pressure_hpa", Some("hPa")),
        ("press", "pressure_hpa", None),
        ("GPS altitude", "altitude_m", None),
        ("alt_m", "altitude_m", Some("m")),
        ("geopotential_height", "height_gpm", None),
        ("gpm", "height_gpm", None),
        ("RH", "humidity_pct", None),
        ("relative_humidity", "humidity_pct", None),
        ("Td", "dewpoint_c", None),
        ("dew point", "dewpoint_c", None),
        ("DewPoint", "dewpoint_c", None),
        ("dewpoint_temperature", "dewpoint_c", None),
        ("wdir", "wind_dir_deg", None),
        ("dd", "wind_dir_deg", None),
        ("wind_from_direction", "wind_dir_deg", None),
        ("ff", "wind_speed_ms", None),
        ("Speed_kt", "wind_speed_ms", Some("kt")),
        ("WSPD m/s", "wind_speed_ms", Some("m/s")),
        ("eastward_wind", "wind_u_ms", None),
        ("lat", "latitude_deg", None),
        ("lon [°]", "longitude_deg", Some("°")),
        ("elapsed", "time_s", None),
        ("Time", "time_s", None),
    ] {
        let stated = of_name(name);
        assert_eq!(stated.names.first(), Some(&ours), "{name}");
        assert_eq!(stated.unit.as_deref(), unit, "{name}");
    }
    // Words that make a quantity another one, parts too short, and nothing.
    for name in [
        "potential temperature",
        "virtual_temperature",
        "temperature error",
        "Battery",
        "tx",
        "pt",
        "",
        "—",
        "pressure temperature",
    ] {
        assert_eq!(by_name(name), Vec::<&str>::new(), "{name}");
    }
    assert_eq!(by_name(&"temp ".repeat(1000)), Vec::<&str>::new());
    assert_eq!(by_name("u"), ["wind_u_ms", "humidity_pct"]);
}

#[test]
fn words_part_at_signs_and_capitals() {
    assert_eq!(words("GPSAlt_m2"), ["gps", "alt", "m"]);
    assert_eq!(words("airTemp"), ["air", "temp"]);
    assert_eq!(words("RH"), ["rh"]);
    assert_eq!(words("Höhe über"), ["höhe", "über"]);
    assert_eq!(words(" 1 "), Vec::<String>::new());
}
