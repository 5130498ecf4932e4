//! Units of variables, in the spellings of UDUNITS that files with CF attributes
//! use (from memory of the UDUNITS-2 database), and some that are common beside.

use super::super::columns::Known;
use super::few;
use crate::quantity::{METRES_PER_FOOT, METRES_PER_SECOND_PER_KNOT, celsius_from_kelvin};

/// To the unit of our column.
pub(super) type Convert = fn(f64) -> f64;

/// A unit: its spellings, the first for messages.
struct Unit(&'static [&'static str], Convert);

const PRESSURE: &[Unit] = &[
    Unit(
        &[
            "hPa",
            "hectopascal",
            "hectopascals",
            "mbar",
            "mb",
            "millibar",
            "millibars",
        ],
        |v| v,
    ),
    Unit(&["Pa", "pascal", "pascals"], |v| few(v / 100.0)),
    Unit(&["kPa", "kilopascal", "kilopascals"], |v| few(v * 10.0)),
];
const HEIGHT: &[Unit] = &[
    Unit(
        &[
            "m",
            "meter",
            "meters",
            "metre",
            "metres",
            "gpm",
            "geopotential_meter",
        ],
        |v| v,
    ),
    Unit(
        &["km", "kilometer", "kilometers", "kilometre", "kilometres"],
        |v| few(v * 1000.0),
    ),
    Unit(&["ft", "foot", "feet"], |v| few(v * METRES_PER_FOOT)),
];
const TEMPERATURE: &[Unit] = &[
    Unit(
        &[
            "degC",
            "C",
            "°C",
            "deg C",
            "deg_C",
            "celsius",
            "degree_C",
            "degrees_C",
            "degree_Celsius",
            "degrees_Celsius",
            "degree Celsius",
            "degrees Celsius",
        ],
        |v| v,
    ),
    Unit(
        &[
            "K",
            "degK",
            "kelvin",
            "kelvins",
            "degree_K",
            "degrees_K",
            "degree_Kelvin",
        ],
        |v| few(celsius_from_kelvin(v)),
    ),
];
const SHARE: &[Unit] = &[
    Unit(&["%", "percent"], |v| v),
    Unit(&["1", "fraction"], |v| few(v * 100.0)),
];
const SPEED: &[Unit] = &[
    Unit(
        &[
            "m s-1",
            "m/s",
            "m s^-1",
            "m s**-1",
            "m.s-1",
            "m*s-1",
            "meter/second",
            "metre/second",
            "meters/second",
            "metres/second",
            "meter second-1",
            "meters per second",
            "metres per second",
        ],
        |v| v,
    ),
    Unit(&["knot", "knots", "kt", "kts", "knot_international"], |v| {
        few(v * METRES_PER_SECOND_PER_KNOT)
    }),
    Unit(&["km h-1", "km/h", "km/hr"], |v| few(v / 3.6)),
];
const DIRECTION: &[Unit] = &[Unit(
    &[
        "degree",
        "degrees",
        "deg",
        "degree_true",
        "degrees_true",
        "degree_T",
        "degrees_T",
    ],
    |v| v,
)];
/// The spellings by which alone CF knows a latitude (CF 4.1).
const NORTH: &[&str] = &[
    "degrees_north",
    "degree_north",
    "degree_N",
    "degrees_N",
    "degreeN",
    "degreesN",
];
/// The same of longitudes (CF 4.2).
const EAST: &[&str] = &[
    "degrees_east",
    "degree_east",
    "degree_E",
    "degrees_E",
    "degreeE",
    "degreesE",
];
const LATITUDE: &[Unit] = &[
    Unit(NORTH, |v| v),
    Unit(&["degrees", "degree", "deg"], |v| v),
];
const LONGITUDE: &[Unit] = &[
    Unit(EAST, |v| v),
    Unit(&["degrees", "degree", "deg"], |v| v),
];

fn of(column: &str) -> &'static [Unit] {
    match column {
        "pressure_hpa" => PRESSURE,
        "height_gpm" | "altitude_m" => HEIGHT,
        "temperature_c" | "dewpoint_c" => TEMPERATURE,
        "humidity_pct" => SHARE,
        "wind_speed_ms" | "wind_u_ms" | "wind_v_ms" => SPEED,
        "wind_dir_deg" => DIRECTION,
        "latitude_deg" => LATITUDE,
        "longitude_deg" => LONGITUDE,
        _ => &[],
    }
}

/// Symbols are as they are written; longer words in any case.
fn same(spelling: &str, text: &str) -> bool {
    spelling == text || (spelling.len() > 3 && spelling.eq_ignore_ascii_case(text))
}

/// How a unit becomes that of our column; `None` when it is not known for it.
pub(super) fn find(known: &Known, text: &str) -> Option<Convert> {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let unit = |u: &&Unit| u.0.iter().any(|spelling| same(spelling, &text));
    of(known.name).iter().find(unit).map(|u| u.1)
}

/// The units of our column, for messages.
pub(super) fn allowed(known: &Known) -> String {
    let names = of(known.name).iter().filter_map(|u| u.0.first().copied());
    names.collect::<Vec<_>>().join(", ")
}

/// Whether a unit is one of pressure, by which alone CF knows a vertical
/// coordinate (CF 4.3.1).
pub(super) fn is_pressure(text: &str) -> bool {
    let spelled = |u: &Unit| u.0.iter().any(|s| same(s, text.trim()));
    PRESSURE.iter().any(spelled)
}

/// Whether a unit is one of latitudes.
pub(super) fn is_north(text: &str) -> bool {
    NORTH.iter().any(|s| same(s, text.trim()))
}

/// Whether a unit is one of longitudes.
pub(super) fn is_east(text: &str) -> bool {
    EAST.iter().any(|s| same(s, text.trim()))
}
