use super::*;

#[test]
fn every_spelling_is_plain_and_stands_once() {
    for units in [
        SECONDS,
        PRESSURE,
        GEOPOTENTIAL,
        METRES,
        TEMPERATURE,
        SHARE,
        SPEED,
        DEGREES,
        DEGREES_NORTH,
        DEGREES_EAST,
    ] {
        let mut seen = Vec::new();
        for unit in units {
            for spelling in unit.spellings.concat().iter() {
                assert_eq!(plain(spelling).as_deref(), Some(*spelling));
                assert!(!seen.contains(spelling), "{spelling}");
                seen.push(*spelling);
                assert_eq!(of(units, spelling).unwrap().name, unit.name);
            }
            assert_eq!(of(units, unit.name).unwrap().name, unit.name);
        }
        assert!(units[0].convert.is_none());
    }
}

#[test]
fn spellings_of_files_are_known() {
    // As CF files, UDUNITS and tables of the trade write them (from memory).
    for (units, text, name) in [
        (TEMPERATURE, "degC", "°C"),
        (TEMPERATURE, "deg_C", "°C"),
        (TEMPERATURE, "deg C", "°C"),
        (TEMPERATURE, "[Celsius]", "°C"),
        (TEMPERATURE, "degree_Celsius", "°C"),
        (TEMPERATURE, "ºC", "°C"),
        (TEMPERATURE, "℃", "°C"),
        (TEMPERATURE, "k", "K"),
        (TEMPERATURE, "Kelvin", "K"),
        (TEMPERATURE, "(K)", "K"),
        (PRESSURE, "mb", "hPa"),
        (PRESSURE, "mbar", "hPa"),
        (PRESSURE, "Millibar", "hPa"),
        (PRESSURE, "HPA", "hPa"),
        (PRESSURE, "pa", "Pa"),
        (SPEED, "m s-1", "m/s"),
        (SPEED, "m.s-1", "m/s"),
        (SPEED, "m s^-1", "m/s"),
        (SPEED, "m s**-1", "m/s"),
        (SPEED, "m·s−1", "m/s"),
        (SPEED, "M/S", "m/s"),
        (SPEED, "knots", "kt"),
        (SPEED, "kn", "kt"),
        (SPEED, "KT", "kt"),
        (SPEED, "km h-1", "km/h"),
        (SHARE, "1", "fraction"),
        (SHARE, "percent", "%"),
        (DEGREES, "degrees", "deg"),
        (DEGREES_NORTH, "degrees_north", "deg"),
        (DEGREES_NORTH, "degree_N", "deg"),
        (DEGREES_EAST, "degrees_east", "deg"),
        (GEOPOTENTIAL, "m", "gpm"),
        (GEOPOTENTIAL, "feet", "ft"),
        (METRES, "km", "km"),
        (SECONDS, "seconds", "s"),
        (SECONDS, "h", "h"),
        (METRES, "meters above Mean Sea Level", "m"),
        (GEOPOTENTIAL, "metres above mean sea level", "gpm"),
        (METRES, "m ü. NN", "m"),
        (SECONDS, "seconds since launch", "s"),
        (SECONDS, "Sekunden", "s"),
        (SECONDS, "HH:MM:SS", "hh:mm:ss"),
        (PRESSURE, "гПа", "hPa"),
        (PRESSURE, "百帕", "hPa"),
        // A Cyrillic letter behind the sign.
        (TEMPERATURE, "°С", "°C"),
        (TEMPERATURE, "Grad Celsius", "°C"),
        (SHARE, "％", "%"),
        (SPEED, "м/с", "m/s"),
        (SPEED, "Knoten", "kt"),
        (DEGREES, "度", "deg"),
        (DEGREES_NORTH, "Grad", "deg"),
    ] {
        assert_eq!(of(units, text).map(|u| u.name), Some(name), "{text}");
    }
    for (units, text) in [
        (TEMPERATURE, "F"),
        (TEMPERATURE, ""),
        (TEMPERATURE, "[]"),
        (PRESSURE, "mPa"),
        (PRESSURE, "kPa"),
        (DEGREES_NORTH, "degrees_east"),
        (SPEED, "m"),
        (SPEED, "mm s-1"),
    ] {
        assert!(of(units, text).is_none(), "{text}");
    }
    assert!(of(SPEED, &"m".repeat(1000)).is_none());
}

#[test]
fn conversions_are_exact() {
    // Hand-worked from the definitions: 1 kn = 1852/3600 m/s, 1 ft = 0.3048 m,
    // 0 °C = 273.15 K, 1 hPa = 100 Pa, 1 h = 3600 s (SI Brochure).
    for (units, text, value, ours) in [
        (SECONDS, "h", 1.5, 5400.0),
        (SECONDS, "min", 1.5, 90.0),
        (PRESSURE, "Pa", 98840.0, 988.4),
        (PRESSURE, "mb", 988.4, 988.4),
        (GEOPOTENTIAL, "km", 1.25, 1250.0),
        (METRES, "feet", 1000.0, 304.8),
        (SHARE, "1", 0.5, 50.0),
        (SPEED, "kn", 36.0, 18.52),
        (SPEED, "km/h", 36.0, 10.0),
        (TEMPERATURE, "K", 273.15, 0.0),
    ] {
        let found = of(units, text).unwrap().ours(value);
        assert!((found - ours).abs() < 1e-9, "{text}: {found}");
    }
}
