//! Units a column may come in, their spellings and their conversions: stated
//! here once, for every format that names a unit in words.
//!
//! Spellings are those of the CF conventions, of UDUNITS and, in eight languages, of the
//! trade (from memory); the conversions are exact by definition (SI Brochure).

use crate::model::quantity::{METRES_PER_FOOT, METRES_PER_SECOND_PER_KNOT, celsius_from_kelvin};

#[cfg(test)]
mod tests;

/// How a value is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::input) enum Notation {
    /// As a number.
    Number,
    /// As a time of day with seconds, perhaps with a date before it.
    Clock,
    /// As hours and minutes of the day.
    HoursMinutes,
    /// As elapsed minutes and seconds.
    MinutesSeconds,
}

/// A unit a column may come in.
pub(in crate::input) struct Unit {
    /// The spelling that messages and sheets show.
    pub(in crate::input) name: &'static str,
    /// Other spellings in lists, each as [`plain`] leaves it.
    spellings: &'static [&'static [&'static str]],
    /// The notation, where it is no number.
    pub(in crate::input) notation: Notation,
    /// To the unit of our column name; `None` when it is that unit.
    pub(in crate::input) convert: Option<fn(f64) -> f64>,
}

impl Unit {
    fn is_spelled(&self, plain: &str) -> bool {
        self.spellings.iter().any(|list| list.contains(&plain))
    }

    /// A value in our unit.
    #[inline]
    pub(in crate::input) fn ours(&self, value: f64) -> f64 {
        self.convert.map_or(value, |convert| convert(value))
    }
}

const fn own(name: &'static str, spellings: &'static [&'static [&'static str]]) -> Unit {
    Unit {
        name,
        spellings,
        notation: Notation::Number,
        convert: None,
    }
}

const fn other(
    name: &'static str,
    spellings: &'static [&'static [&'static str]],
    convert: fn(f64) -> f64,
) -> Unit {
    Unit {
        convert: Some(convert),
        ..own(name, spellings)
    }
}

const fn written(
    name: &'static str,
    spellings: &'static [&'static [&'static str]],
    notation: Notation,
) -> Unit {
    Unit {
        notation,
        ..own(name, spellings)
    }
}

const FEET: Unit = other(
    "ft",
    &[&[
        "feet",
        "foot",
        "fuß",
        "pied",
        "pieds",
        "pies",
        "pés",
        "футы",
        "英尺",
        "フィート",
    ]],
    |v| v * METRES_PER_FOOT,
);
const KILOMETRES: Unit = other(
    "km",
    &[&[
        "kilometre",
        "kilometres",
        "kilometer",
        "kilometers",
        "kilomètres",
        "kilómetros",
        "quilômetros",
        "км",
        "公里",
        "千米",
    ]],
    |v| v * 1000.0,
);
/// Heights above mean sea level among them: other reference levels are not metres alone.
const METRE: &[&str] = &[
    "m",
    "metre",
    "metres",
    "meter",
    "meters",
    "m amsl",
    "m asl",
    "m msl",
    "m a s l",
    "m above msl",
    "m above mean sea level",
    "m above sea level",
    "metres above mean sea level",
    "meters above mean sea level",
    "metres above sea level",
    "meters above sea level",
    "mètre",
    "mètres",
    "metro",
    "metros",
    "m über nn",
    "m ü nn",
    "m ü m",
    "m snm",
    "м",
    "метр",
    "метры",
    "米",
    "メートル",
];
const DEGREE: &[&str] = &[
    "°",
    "degree",
    "degrees",
    "degré",
    "degrés",
    "grado",
    "grados",
    "grau",
    "graus",
    "град",
    "градус",
    "градусы",
    "度",
];

pub(in crate::input) const SECONDS: &[Unit] = &[
    own(
        "s",
        &[&[
            "sec",
            "secs",
            "second",
            "seconds",
            "seconds since launch",
            "seconds since release",
            "seconds after launch",
            "seconds after release",
            "s since launch",
            "s since release",
            "sek",
            "sekunde",
            "sekunden",
            "seconde",
            "secondes",
            "seg",
            "segundo",
            "segundos",
            "с",
            "сек",
            "секунды",
            "秒",
        ]],
    ),
    other(
        "min",
        &[&[
            "mins",
            "minute",
            "minutes",
            "minuten",
            "minuto",
            "minutos",
            "мин",
            "минуты",
            "分",
            "分钟",
        ]],
        |v| v * 60.0,
    ),
    other(
        "h",
        &[&[
            "hr", "hrs", "hour", "hours", "std", "stunden", "heures", "horas", "ч", "часы", "小时",
            "時間",
        ]],
        |v| v * 3600.0,
    ),
    written(
        "hh:mm:ss",
        &[&[
            "h:m:s",
            "h:mm:ss",
            "clock",
            "utc",
            "gmt",
            "yyyy-mm-dd hh:mm:ss",
            "yyyy-mm-ddthh:mm:ssz",
            "dd mm yyyy hh:mm:ss",
            "iso 8601",
            "date and time",
        ]],
        Notation::Clock,
    ),
    written("hh:mm", &[], Notation::HoursMinutes),
    written("mm:ss", &[&["m:ss"]], Notation::MinutesSeconds),
];
pub(in crate::input) const PRESSURE: &[Unit] = &[
    own(
        "hPa",
        &[&[
            "hectopascal",
            "hectopascals",
            "mb",
            "mbar",
            "mbars",
            "millibar",
            "millibars",
            "hektopascal",
            "hectopascales",
            "гпа",
            "мбар",
            "百帕",
            "ヘクトパスカル",
        ]],
    ),
    other("Pa", &[&["pascal", "pascals", "па", "帕"]], |v| {
        v / 100.0
    }),
];
pub(in crate::input) const GEOPOTENTIAL: &[Unit] = &[
    own(
        "gpm",
        &[
            METRE,
            &[
                "geopotential metre",
                "geopotential metres",
                "geopotential meter",
                "geopotential meters",
                "mgp",
                "гпм",
                "位势米",
                "m gp",
            ],
        ],
    ),
    FEET,
    KILOMETRES,
];
pub(in crate::input) const METRES: &[Unit] = &[own("m", &[METRE]), FEET, KILOMETRES];
pub(in crate::input) const TEMPERATURE: &[Unit] = &[
    own(
        "°C",
        &[&[
            "c",
            "degc",
            "deg c",
            "celsius",
            "deg celsius",
            "degree c",
            "degrees c",
            "degree celsius",
            "degrees celsius",
            "° c",
            "centigrade",
            "grad c",
            "grad celsius",
            "degré celsius",
            "degrés celsius",
            "grado celsius",
            "grados celsius",
            "grau celsius",
            "graus celsius",
            "°с",
            "с",
            "градус цельсия",
            "градусы цельсия",
            "摄氏度",
            "摂氏度",
        ]],
    ),
    other(
        "K",
        &[&[
            "kelvin",
            "kelvins",
            "degk",
            "deg k",
            "deg kelvin",
            "degree k",
            "degrees k",
            "degree kelvin",
            "degrees kelvin",
            "°k",
            "к",
            "кельвин",
            "开尔文",
            "ケルビン",
        ]],
        celsius_from_kelvin,
    ),
];
pub(in crate::input) const SHARE: &[Unit] = &[
    own(
        "%",
        &[&[
            "percent",
            "per cent",
            "pct",
            "%rh",
            "% rh",
            "rh %",
            "prozent",
            "pour cent",
            "por ciento",
            "por cento",
            "процент",
            "проценты",
            "百分比",
            "パーセント",
        ]],
    ),
    other("fraction", &[&["1", "0-1"]], |v| v * 100.0),
];
pub(in crate::input) const SPEED: &[Unit] = &[
    own(
        "m/s",
        &[&[
            "m s-1",
            "ms-1",
            "mps",
            "m/sec",
            "m sec-1",
            "metre per second",
            "metres per second",
            "meter per second",
            "meters per second",
            "metres/second",
            "meters/second",
            "meter pro sekunde",
            "mètres par seconde",
            "metros por segundo",
            "m/seg",
            "м/с",
            "м/сек",
            "米/秒",
            "米每秒",
            "メートル毎秒",
        ]],
    ),
    other(
        "kt",
        &[&[
            "kts",
            "kn",
            "knot",
            "knots",
            "knoten",
            "nœud",
            "nœuds",
            "noeuds",
            "nudo",
            "nudos",
            "nó",
            "nós",
            "узел",
            "узлы",
            "уз",
            "节",
            "節",
            "ノット",
        ]],
        |v| v * METRES_PER_SECOND_PER_KNOT,
    ),
    other(
        "km/h",
        &[&[
            "km h-1",
            "kmh",
            "kmh-1",
            "kph",
            "km/hr",
            "км/ч",
            "公里/小时",
        ]],
        |v| v / 3.6,
    ),
];
pub(in crate::input) const DEGREES: &[Unit] = &[own(
    "deg",
    &[
        DEGREE,
        &[
            "grad",
            "degree true",
            "degrees true",
            "deg true",
            "degt",
            "deg t",
        ],
    ],
)];
pub(in crate::input) const DEGREES_NORTH: &[Unit] = &[own(
    "deg",
    &[
        DEGREE,
        &[
            "grad",
            "degree north",
            "degrees north",
            "degree n",
            "degrees n",
            "degreen",
            "degreesn",
            "deg n",
            "°n",
        ],
    ],
)];
pub(in crate::input) const DEGREES_EAST: &[Unit] = &[own(
    "deg",
    &[
        DEGREE,
        &[
            "grad",
            "degree east",
            "degrees east",
            "degree e",
            "degrees e",
            "degreee",
            "degreese",
            "deg e",
            "°e",
        ],
    ],
)];

/// Of a theodolite. `grad` is a degree in one language and a gon in another: neither.
pub(in crate::input) const ANGLE: &[Unit] = &[
    own("deg", &[DEGREE]),
    other(
        "gon",
        &[&["gons", "grads", "gradian", "gradians", "neugrad"]],
        |v| v * 0.9,
    ),
];

/// The unit of a list that a text spells, without regard to case, brackets around
/// it, and how its parts are joined (`m.s-1`, `m s^-1`, `deg_C`).
pub(in crate::input) fn of(units: &'static [Unit], text: &str) -> Option<&'static Unit> {
    let text = text.trim();
    if let Some(unit) = units.iter().find(|u| u.name == text) {
        return Some(unit);
    }
    let wanted = plain(text)?;
    units
        .iter()
        .find(|u| plain(u.name).as_deref() == Some(&*wanted) || u.is_spelled(&wanted))
}

/// Longest spelling that is looked at, octets.
const MAX_SPELLING: usize = 40;

/// A spelling in small letters with one blank where parts are joined.
fn plain(text: &str) -> Option<String> {
    if text.is_empty() || text.len() > MAX_SPELLING {
        return None;
    }
    let mut out = String::with_capacity(text.len());
    let inner = match (text.chars().next(), text.chars().next_back()) {
        (Some('['), Some(']')) | (Some('('), Some(')')) => text
            .get(1..text.len().saturating_sub(1))
            .unwrap_or_default(),
        _ => text,
    };
    for c in inner.replace("**", "").chars() {
        match c {
            '^' => {}
            '\u{2212}' => out.push('-'),
            'º' | '˚' => out.push('°'),
            '％' => out.push('%'),
            '℃' => out.push_str("°c"),
            '_' | '.' | '·' | '*' => out.push(' '),
            c if c.is_whitespace() => out.push(' '),
            c => out.extend(c.to_lowercase()),
        }
    }
    let words: Vec<&str> = out.split(' ').filter(|w| !w.is_empty()).collect();
    Some(words.join(" "))
}
