//! The invented ascents whose files stand in `samples/`.
//!
//! Places, stations and flights are invented; the shapes are those the coded
//! forms must cope with. Knots are (height gpm, value, half-width of the
//! rounding gpm).

use super::track::{Track, knot};
use super::{Descent, Gap, Lost, Noise, Place, Scene};

/// All of them.
pub const ALL: [&Scene; 8] = [
    &WINTER_JET,
    &LOW_BURST,
    &TROPICAL,
    &POLAR_NIGHT,
    &GAPS,
    &PLATEAU,
    &TWIN_LEVELS,
    &WINDLESS,
];

/// Those of other kinds of station and form, by what is changed in the ones
/// above.
pub const OTHERS: [&Scene; 6] = [&SHIP, &MOBILE, &DROP, &PILOT, &DESCENT, &MINUTE];

/// One row per minute: a row without temperature and one without wind, which are
/// bridged, and layers without that are gaps at this resolution too.
pub const MINUTE: Scene = Scene {
    name: "minute",
    about: "spring, one row per minute, with losses",
    place: Place {
        latitude_deg: 57.62,
        longitude_deg: -21.35,
    },
    elevation_m: 52.0,
    surface_hpa: 1002.8,
    top_hpa: 24.0,
    ascent_ms: 4.3,
    seed: 14,
    gaps: &[
        // One row each.
        gap(Lost::Temperature, 862.0, 840.0),
        gap(Lost::Wind, 720.0, 700.0),
        // Six rows and more than 100 hPa each; 500 and 400 hPa among them.
        gap(Lost::Temperature, 560.0, 466.0),
        gap(Lost::Wind, 430.0, 350.0),
    ],
    step_s: 60,
    ..WINTER_JET
};

/// A ship in the trade winds.
pub const SHIP: Scene = Scene {
    name: "ship",
    about: "a ship in the trade winds",
    place: Place {
        latitude_deg: 14.38,
        longitude_deg: -38.27,
    },
    elevation_m: 12.0,
    surface_hpa: 1013.2,
    top_hpa: 60.0,
    seed: 9,
    ..TROPICAL
};

/// A mobile station in the hills.
pub const MOBILE: Scene = Scene {
    name: "mobile",
    about: "a mobile station in the hills",
    place: Place {
        latitude_deg: 46.83,
        longitude_deg: 9.42,
    },
    elevation_m: 612.0,
    surface_hpa: 941.6,
    top_hpa: 80.0,
    seed: 10,
    ..WINTER_JET
};

/// A sonde dropped from 300 hPa into a low over the sea, falling fast: the
/// rows come from above.
pub const DROP: Scene = Scene {
    name: "drop",
    about: "a sonde dropped over the sea",
    place: Place {
        latitude_deg: 25.62,
        longitude_deg: -57.53,
    },
    elevation_m: 0.0,
    surface_hpa: 963.4,
    top_hpa: 300.0,
    ascent_ms: 14.0,
    seed: 11,
    falls: true,
    ..LOW_BURST
};

/// Winds alone; the pressure element fails at 380 hPa.
pub const PILOT: Scene = Scene {
    name: "pilot",
    about: "winds alone, pressure lost at 380 hPa",
    top_hpa: 40.0,
    seed: 12,
    winds_alone: true,
    pressure_fails_hpa: 380.0,
    ..WINTER_JET
};

/// A flight with its fall after burst: a row every two seconds, the signal lost
/// some 700 m above the ground.
pub const DESCENT: Scene = Scene {
    name: "descent",
    about: "autumn, burst near 29 hPa, and the descent",
    place: Place {
        latitude_deg: 41.15,
        longitude_deg: -21.6,
    },
    elevation_m: 27.0,
    surface_hpa: 1013.6,
    top_hpa: 28.6,
    seed: 13,
    gaps: &[],
    descent: Some(Descent {
        fall_ms: 6.5,
        lost_gpm: 750.0,
    }),
    step_s: 2,
    ..GAPS
};

/// Winter, middle latitudes: a jet with a second maximum below it, two
/// tropopauses, the first below 100 hPa, the second above.
pub const WINTER_JET: Scene = Scene {
    name: "winter_jet",
    about: "winter, two wind maxima, two tropopauses",
    place: Place {
        latitude_deg: 51.25,
        longitude_deg: -3.4,
    },
    elevation_m: 84.0,
    surface_hpa: 1004.3,
    top_hpa: 17.0,
    ascent_ms: 5.4,
    temperature_c: Track(&[
        knot(0.0, 5.0, 0.0),
        knot(1180.0, -3.2, 20.0),
        knot(1510.0, -1.1, 20.0),
        knot(5500.0, -24.0, 400.0),
        knot(9450.0, -54.0, 60.0),
        knot(10_450.0, -51.0, 200.0),
        knot(13_000.0, -54.5, 200.0),
        knot(16_500.0, -69.0, 60.0),
        knot(18_200.0, -64.0, 300.0),
        knot(22_000.0, -61.5, 500.0),
        knot(28_000.0, -54.0, 0.0),
    ]),
    humidity_pct: Track(&[
        knot(0.0, 80.0, 0.0),
        knot(700.0, 96.0, 60.0),
        knot(1180.0, 97.0, 20.0),
        knot(1510.0, 52.0, 20.0),
        knot(3600.0, 30.0, 200.0),
        knot(6900.0, 63.0, 300.0),
        knot(9450.0, 44.0, 100.0),
        knot(11_200.0, 7.0, 200.0),
        knot(28_000.0, 2.0, 0.0),
    ]),
    wind_dir_deg: Track(&[
        knot(0.0, 224.0, 0.0),
        knot(1400.0, 248.0, 150.0),
        knot(6500.0, 262.0, 500.0),
        knot(9800.0, 281.0, 500.0),
        knot(16_000.0, 302.0, 800.0),
        knot(28_000.0, 338.0, 0.0),
    ]),
    wind_speed_ms: Track(&[
        knot(0.0, 5.5, 0.0),
        knot(900.0, 14.0, 100.0),
        knot(3600.0, 19.0, 300.0),
        knot(6450.0, 47.0, 150.0),
        knot(7750.0, 27.0, 150.0),
        knot(9850.0, 64.5, 150.0),
        knot(13_200.0, 29.0, 400.0),
        knot(17_000.0, 12.0, 400.0),
        knot(20_500.0, 9.0, 400.0),
        knot(28_000.0, 27.0, 0.0),
    ]),
    noise: Noise::USUAL,
    seed: 1,
    pins: &[],
    gaps: &[],
    step_s: 1,
    falls: false,
    winds_alone: false,
    pressure_fails_hpa: 0.0,
    descent: None,
};

/// Autumn, over the sea: the balloon bursts at 350 hPa.
pub const LOW_BURST: Scene = Scene {
    name: "low_burst",
    about: "autumn, burst at 350 hPa",
    place: Place {
        latitude_deg: 44.1,
        longitude_deg: -11.75,
    },
    elevation_m: 16.0,
    surface_hpa: 1017.8,
    top_hpa: 350.0,
    ascent_ms: 4.9,
    temperature_c: Track(&[
        knot(0.0, 16.4, 0.0),
        knot(860.0, 9.2, 20.0),
        knot(1130.0, 12.6, 20.0),
        knot(3000.0, 1.5, 200.0),
        knot(9000.0, -39.0, 0.0),
    ]),
    humidity_pct: Track(&[
        knot(0.0, 74.0, 0.0),
        knot(860.0, 94.0, 30.0),
        knot(1130.0, 38.0, 30.0),
        knot(2900.0, 16.0, 100.0),
        knot(5200.0, 58.0, 100.0),
        knot(9000.0, 25.0, 0.0),
    ]),
    wind_dir_deg: Track(&[
        knot(0.0, 318.0, 0.0),
        knot(1000.0, 345.0, 100.0),
        knot(3200.0, 372.0, 300.0),
        knot(9000.0, 341.0, 0.0),
    ]),
    wind_speed_ms: Track(&[
        knot(0.0, 6.2, 0.0),
        knot(700.0, 11.0, 100.0),
        knot(2400.0, 7.0, 200.0),
        knot(9000.0, 31.0, 0.0),
    ]),
    noise: Noise::USUAL,
    seed: 2,
    pins: &[],
    gaps: &[],
    step_s: 1,
    falls: false,
    winds_alone: false,
    pressure_fails_hpa: 0.0,
    descent: None,
};

/// Moist tropics: the tropopause lies above 100 hPa, no strong wind, easterlies
/// that back through north.
pub const TROPICAL: Scene = Scene {
    name: "tropical",
    about: "moist tropics, tropopause near 95 hPa",
    place: Place {
        latitude_deg: 4.3,
        longitude_deg: 163.05,
    },
    elevation_m: 3.0,
    surface_hpa: 1008.6,
    top_hpa: 26.0,
    ascent_ms: 5.6,
    temperature_c: Track(&[
        knot(0.0, 28.0, 0.0),
        knot(650.0, 22.4, 60.0),
        knot(2100.0, 15.0, 80.0),
        knot(2350.0, 15.2, 60.0),
        knot(4900.0, 0.6, 60.0),
        knot(5150.0, 0.0, 60.0),
        knot(10_200.0, -34.0, 600.0),
        knot(16_850.0, -83.0, 80.0),
        knot(18_300.0, -77.0, 200.0),
        knot(20_500.0, -65.0, 500.0),
        knot(26_500.0, -50.0, 0.0),
    ]),
    humidity_pct: Track(&[
        knot(0.0, 81.0, 0.0),
        knot(620.0, 95.0, 80.0),
        knot(2100.0, 84.0, 60.0),
        knot(2400.0, 61.0, 60.0),
        knot(4900.0, 88.0, 100.0),
        knot(5400.0, 63.0, 100.0),
        knot(9800.0, 79.0, 400.0),
        knot(15_000.0, 46.0, 400.0),
        knot(17_600.0, 6.0, 300.0),
        knot(26_500.0, 3.0, 0.0),
    ]),
    wind_dir_deg: Track(&[
        knot(0.0, 76.0, 0.0),
        knot(3000.0, 98.0, 300.0),
        knot(6500.0, 44.0, 400.0),
        knot(9500.0, -28.0, 500.0),
        knot(13_000.0, 22.0, 500.0),
        knot(18_000.0, 84.0, 600.0),
        knot(26_500.0, 92.0, 0.0),
    ]),
    wind_speed_ms: Track(&[
        knot(0.0, 4.6, 0.0),
        knot(900.0, 9.0, 100.0),
        knot(5200.0, 4.0, 300.0),
        knot(8300.0, 2.2, 200.0),
        knot(14_000.0, 17.0, 500.0),
        knot(18_200.0, 6.0, 400.0),
        knot(26_500.0, 25.0, 0.0),
    ]),
    noise: Noise::USUAL,
    seed: 3,
    pins: &[],
    gaps: &[],
    step_s: 1,
    falls: false,
    winds_alone: false,
    pressure_fails_hpa: 0.0,
    descent: None,
};

/// Polar night: an inversion from the ground, low pressure at a low station, the
/// wind strongest at the top.
pub const POLAR_NIGHT: Scene = Scene {
    name: "polar_night",
    about: "polar night, surface inversion, wind still rising at the top, knots",
    place: Place {
        latitude_deg: 78.4,
        longitude_deg: 27.6,
    },
    elevation_m: 11.0,
    surface_hpa: 989.7,
    top_hpa: 22.0,
    ascent_ms: 5.2,
    temperature_c: Track(&[
        knot(0.0, -33.9, 0.0),
        knot(160.0, -26.5, 30.0),
        knot(980.0, -19.4, 60.0),
        knot(2600.0, -23.0, 200.0),
        knot(8500.0, -63.0, 80.0),
        knot(9700.0, -61.0, 200.0),
        knot(15_000.0, -68.5, 600.0),
        knot(21_500.0, -81.0, 600.0),
        knot(26_500.0, -80.0, 0.0),
    ]),
    humidity_pct: Track(&[
        knot(0.0, 69.0, 0.0),
        knot(980.0, 72.0, 60.0),
        knot(2200.0, 44.0, 100.0),
        knot(5600.0, 61.0, 300.0),
        knot(8500.0, 42.0, 100.0),
        knot(10_200.0, 5.0, 200.0),
        knot(26_500.0, 2.0, 0.0),
    ]),
    wind_dir_deg: Track(&[
        knot(0.0, 128.0, 0.0),
        knot(500.0, 184.0, 80.0),
        knot(2600.0, 226.0, 200.0),
        knot(9000.0, 251.0, 500.0),
        knot(26_500.0, 287.0, 0.0),
    ]),
    wind_speed_ms: Track(&[
        knot(0.0, 2.1, 0.0),
        knot(700.0, 9.5, 100.0),
        knot(3000.0, 8.0, 300.0),
        knot(8600.0, 24.0, 400.0),
        knot(12_000.0, 17.0, 500.0),
        knot(23_500.0, 49.0, 0.0),
        knot(26_500.0, 139.0, 0.0),
    ]),
    noise: Noise::USUAL,
    seed: 4,
    pins: &[],
    gaps: &[],
    step_s: 1,
    falls: false,
    winds_alone: false,
    pressure_fails_hpa: 0.0,
    descent: None,
};

/// Autumn with losses: layers without humidity, temperature, wind; lost rows.
pub const GAPS: Scene = Scene {
    name: "gaps",
    about: "autumn, temperature, humidity, wind and whole rows missing in layers",
    place: Place {
        latitude_deg: 39.85,
        longitude_deg: -28.2,
    },
    elevation_m: 38.0,
    surface_hpa: 1011.2,
    top_hpa: 28.0,
    ascent_ms: 5.5,
    temperature_c: Track(&[
        knot(0.0, 18.6, 0.0),
        knot(1450.0, 8.8, 60.0),
        knot(1700.0, 9.6, 60.0),
        knot(5000.0, -14.0, 300.0),
        knot(8900.0, -44.5, 80.0),
        knot(10_200.0, -42.5, 300.0),
        knot(16_500.0, -52.5, 300.0),
        knot(26_500.0, -48.0, 0.0),
    ]),
    humidity_pct: Track(&[
        knot(0.0, 72.0, 0.0),
        knot(1450.0, 91.0, 60.0),
        knot(1750.0, 55.0, 60.0),
        knot(4200.0, 33.0, 200.0),
        knot(7600.0, 62.0, 300.0),
        knot(8900.0, 40.0, 100.0),
        knot(10_600.0, 6.0, 300.0),
        knot(26_500.0, 2.0, 0.0),
    ]),
    wind_dir_deg: Track(&[
        knot(0.0, 205.0, 0.0),
        knot(1500.0, 228.0, 150.0),
        knot(6000.0, 246.0, 500.0),
        knot(9300.0, 259.0, 500.0),
        knot(26_500.0, 285.0, 0.0),
    ]),
    wind_speed_ms: Track(&[
        knot(0.0, 5.0, 0.0),
        knot(1000.0, 12.0, 100.0),
        knot(6000.0, 22.0, 500.0),
        knot(9300.0, 42.0, 300.0),
        knot(17_000.0, 11.0, 500.0),
        knot(26_500.0, 17.0, 0.0),
    ]),
    noise: Noise::USUAL,
    seed: 5,
    pins: &[],
    gaps: &[
        // Short ones, that are bridged.
        gap(Lost::Rows, 968.0, 962.0),
        gap(Lost::Temperature, 905.0, 898.0),
        gap(Lost::Wind, 880.0, 862.0),
        // 41 hPa without temperature (and so without humidity).
        gap(Lost::Temperature, 815.0, 774.0),
        // 52 hPa without humidity, 500 hPa not among them.
        gap(Lost::Humidity, 642.0, 590.0),
        // 71 hPa without wind, 400 hPa among them.
        gap(Lost::Wind, 446.0, 375.0),
        // 39 hPa and more than a kilometre without temperature, over 200 hPa.
        gap(Lost::Temperature, 224.0, 185.0),
        gap(Lost::Rows, 142.0, 139.5),
        // Less than 50 hPa, but more than 1500 gpm without wind, over 70 hPa.
        gap(Lost::Wind, 84.0, 62.0),
        // The humidity does not come back.
        gap(Lost::Humidity, 47.0, 0.0),
    ],
    step_s: 1,
    falls: false,
    winds_alone: false,
    pressure_fails_hpa: 0.0,
    descent: None,
};

const fn gap(lost: Lost, from_hpa: f64, to_hpa: f64) -> Gap {
    Gap {
        lost,
        from_hpa,
        to_hpa,
    }
}

/// Summer on a high plateau: three standard surfaces below the ground.
pub const PLATEAU: Scene = Scene {
    name: "plateau",
    about: "summer on a high plateau, surface near 780 hPa",
    place: Place {
        latitude_deg: 33.6,
        longitude_deg: 92.15,
    },
    elevation_m: 2204.0,
    surface_hpa: 780.4,
    top_hpa: 24.0,
    ascent_ms: 5.3,
    temperature_c: Track(&[
        knot(2200.0, 24.5, 0.0),
        knot(2290.0, 22.6, 20.0),
        knot(5300.0, -6.0, 60.0),
        knot(5650.0, -5.2, 60.0),
        knot(9000.0, -28.5, 500.0),
        knot(14_600.0, -68.0, 80.0),
        knot(16_200.0, -66.0, 200.0),
        knot(18_000.0, -68.0, 200.0),
        knot(26_500.0, -49.0, 0.0),
    ]),
    humidity_pct: Track(&[
        knot(2200.0, 31.0, 0.0),
        knot(5300.0, 86.0, 100.0),
        knot(5650.0, 41.0, 60.0),
        knot(9500.0, 22.0, 300.0),
        knot(12_800.0, 51.0, 300.0),
        knot(16_000.0, 8.0, 400.0),
        knot(26_500.0, 2.0, 0.0),
    ]),
    wind_dir_deg: Track(&[
        knot(2200.0, 212.0, 0.0),
        knot(5500.0, 248.0, 300.0),
        knot(12_500.0, 266.0, 600.0),
        knot(18_500.0, 271.0, 300.0),
        knot(21_000.0, 91.0, 300.0),
        knot(26_500.0, 84.0, 0.0),
    ]),
    wind_speed_ms: Track(&[
        knot(2200.0, 3.4, 0.0),
        knot(5500.0, 9.0, 300.0),
        knot(12_800.0, 38.0, 400.0),
        knot(19_500.0, 2.4, 400.0),
        knot(26_500.0, 17.0, 0.0),
    ]),
    noise: Noise::USUAL,
    seed: 6,
    pins: &[],
    gaps: &[],
    step_s: 1,
    falls: false,
    winds_alone: false,
    pressure_fails_hpa: 0.0,
    descent: None,
};

/// Neighbouring levels that share a coded pressure, and rows on both sides of
/// the limit between the parts; without noise, so that each stands where it is
/// put: an inversion from 620.40 to 619.60 hPa, the strongest wind at 99.96 hPa,
/// the tropopause at 99.94 hPa.
pub const TWIN_LEVELS: Scene = Scene {
    name: "twin_levels",
    about: "neighbouring levels that share a coded pressure; no noise",
    place: Place {
        latitude_deg: 27.9,
        longitude_deg: -52.3,
    },
    elevation_m: 21.0,
    surface_hpa: 1014.1,
    top_hpa: 29.0,
    ascent_ms: 5.6,
    temperature_c: Track(&[
        knot(0.0, 24.6, 0.0),
        knot(1900.0, 11.5, 60.0),
        knot(4125.1, -1.5, 0.0),
        knot(4135.5, 2.0, 0.0),
        knot(9000.0, -31.0, 500.0),
        knot(16_532.6, -78.0, 0.0),
        knot(18_200.0, -70.0, 200.0),
        knot(26_500.0, -50.0, 0.0),
    ]),
    humidity_pct: Track(&[
        knot(0.0, 70.0, 0.0),
        knot(1900.0, 84.0, 100.0),
        knot(4125.1, 78.0, 0.0),
        knot(4135.5, 33.0, 0.0),
        knot(9500.0, 28.0, 300.0),
        knot(16_532.6, 12.0, 0.0),
        knot(18_500.0, 4.0, 200.0),
        knot(26_500.0, 2.0, 0.0),
    ]),
    wind_dir_deg: Track(&[
        knot(0.0, 118.0, 0.0),
        knot(4000.0, 182.0, 500.0),
        knot(9000.0, 251.0, 600.0),
        knot(16_000.0, 268.0, 600.0),
        knot(26_500.0, 259.0, 0.0),
    ]),
    wind_speed_ms: Track(&[
        knot(0.0, 5.8, 0.0),
        knot(4000.0, 7.5, 400.0),
        knot(16_531.4, 41.0, 0.0),
        knot(21_000.0, 8.0, 300.0),
        knot(26_500.0, 12.0, 0.0),
    ]),
    noise: Noise::NONE,
    seed: 7,
    pins: &[620.4, 619.6, 99.96, 99.94],
    gaps: &[],
    step_s: 1,
    falls: false,
    winds_alone: false,
    pressure_fails_hpa: 0.0,
    descent: None,
};

/// Summer, a sonde that finds no wind: those columns are there, and empty.
pub const WINDLESS: Scene = Scene {
    name: "windless",
    about: "summer, no wind and no position at all",
    place: Place {
        latitude_deg: 47.3,
        longitude_deg: 14.9,
    },
    elevation_m: 412.0,
    surface_hpa: 967.3,
    top_hpa: 31.0,
    ascent_ms: 5.4,
    temperature_c: Track(&[
        knot(400.0, 21.3, 0.0),
        knot(2100.0, 6.4, 60.0),
        knot(2350.0, 7.0, 60.0),
        knot(5200.0, -10.0, 300.0),
        knot(11_500.0, -55.5, 80.0),
        knot(12_800.0, -53.0, 300.0),
        knot(26_500.0, -46.0, 0.0),
    ]),
    humidity_pct: Track(&[
        knot(400.0, 58.0, 0.0),
        knot(2100.0, 95.0, 80.0),
        knot(2400.0, 48.0, 60.0),
        knot(5800.0, 71.0, 300.0),
        knot(11_500.0, 36.0, 200.0),
        knot(13_200.0, 5.0, 300.0),
        knot(26_500.0, 2.0, 0.0),
    ]),
    wind_dir_deg: Track(&[]),
    wind_speed_ms: Track(&[]),
    noise: Noise::USUAL,
    seed: 8,
    pins: &[],
    gaps: &[gap(Lost::Wind, 2000.0, 0.0)],
    step_s: 1,
    falls: false,
    winds_alone: false,
    pressure_fails_hpa: 0.0,
    descent: None,
};
