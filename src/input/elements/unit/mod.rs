//! Units a column may come in, their spellings and their conversions: stated
//! here once, for every format that names a unit in words.
//!
//! Spellings are those of the CF conventions, of UDUNITS and of the trade (from
//! memory); the conversions are exact by definition (SI Brochure).

use crate::model::quantity::{METRES_PER_FOOT, METRES_PER_SECOND_PER_KNOT, celsius_from_kelvin};

#[cfg(test)]
mod tests;

/// A unit a column may come in.
pub(in crate::input) struct Unit {
    /// The spelling that messages and sheets show.
    pub(in crate::input) name: &'static str,
    /// Other spellings, each as [`plain`] leaves it.
    spellings: &'static [&'static str],
    /// To the unit of our column name; `None` when it is that unit.
    pub(in crate::input) convert: Option<fn(f64) -> f64>,
}

impl Unit {
    /// A value in our unit.
    pub(in crate::input) fn ours(&self, value: f64) -> f64 {
        self.convert.map_or(value, |convert| convert(value))
    }
}

const fn own(name: &'static str, spellings: &'static [&'static str]) -> Unit {
    Unit {
        name,
        spellings,
        convert: None,
    }
}

const fn other(
    name: &'static str,
    spellings: &'static [&'static str],
    convert: fn(f64) -> f64,
) -> Unit {
    Unit {
        name,
        spellings,
        convert: Some(convert),
    }
}

const FEET: Unit = other("ft", &["feet", "foot"], |v| v * METRES_PER_FOOT);
const KILOMETRES: Unit = other(
    "km",
    &["kilometre", "kilometres", "kilometer", "kilometers"],
    |v| v * 1000.0,
);
const METRE: &[&str] = &["metre", "metres", "meter", "meters", "m amsl", "m msl"];

pub(in crate::input) const SECONDS: &[Unit] = &[
    own("s", &["sec", "secs", "second", "seconds"]),
    other("min", &["mins", "minute", "minutes"], |v| v * 60.0),
    other("h", &["hr", "hrs", "hour", "hours"], |v| v * 3600.0),
];
pub(in crate::input) const PRESSURE: &[Unit] = &[
    own(
        "hPa",
        &[
            "hectopascal",
            "hectopascals",
            "mb",
            "mbar",
            "mbars",
            "millibar",
            "millibars",
        ],
    ),
    other("Pa", &["pascal", "pascals"], |v| v / 100.0),
];
pub(in crate::input) const GEOPOTENTIAL: &[Unit] = &[
    own(
        "gpm",
        &[
            "m",
            "metre",
            "metres",
            "meter",
            "meters",
            "m amsl",
            "m msl",
            "geopotential metre",
            "geopotential metres",
            "geopotential meter",
            "geopotential meters",
        ],
    ),
    FEET,
    KILOMETRES,
];
pub(in crate::input) const METRES: &[Unit] = &[own("m", METRE), FEET, KILOMETRES];
pub(in crate::input) const TEMPERATURE: &[Unit] = &[
    own(
        "°C",
        &[
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
        ],
    ),
    other(
        "K",
        &[
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
        ],
        celsius_from_kelvin,
    ),
];
pub(in crate::input) const SHARE: &[Unit] = &[
    own("%", &["percent", "per cent", "pct", "%rh", "% rh", "rh %"]),
    other("fraction", &["1", "0-1"], |v| v * 100.0),
];
pub(in crate::input) const SPEED: &[Unit] = &[
    own(
        "m/s",
        &[
            "m s-1",
            "ms-1",
            "mps",
            "m/sec",
            "m sec-1",
            "metre per second",
            "metres per second",
            "meter per second",
            "meters per second",
        ],
    ),
    other("kt", &["kts", "kn", "knot", "knots"], |v| {
        v * METRES_PER_SECOND_PER_KNOT
    }),
    other("km/h", &["km h-1", "kmh", "kmh-1", "kph", "km/hr"], |v| {
        v / 3.6
    }),
];
pub(in crate::input) const DEGREES: &[Unit] = &[own(
    "deg",
    &[
        "°",
        "degree",
        "degrees",
        "degree true",
        "degrees true",
        "deg true",
        "degt",
        "deg t",
    ],
)];
pub(in crate::input) const DEGREES_NORTH: &[Unit] = &[own(
    "deg",
    &[
        "°",
        "degree",
        "degrees",
        "degree north",
        "degrees north",
        "degree n",
        "degrees n",
        "degreen",
        "degreesn",
        "deg n",
        "°n",
    ],
)];
pub(in crate::input) const DEGREES_EAST: &[Unit] = &[own(
    "deg",
    &[
        "°",
        "degree",
        "degrees",
        "degree east",
        "degrees east",
        "degree e",
        "degrees e",
        "degreee",
        "degreese",
        "deg e",
        "°e",
    ],
)];

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
        .find(|u| plain(u.name).as_deref() == Some(&*wanted) || u.spellings.contains(&&*wanted))
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
            '℃' => out.push_str("°c"),
            '_' | '.' | '·' | '*' => out.push(' '),
            c if c.is_whitespace() => out.push(' '),
            c => out.extend(c.to_lowercase()),
        }
    }
    let words: Vec<&str> = out.split(' ').filter(|w| !w.is_empty()).collect();
    Some(words.join(" "))
}
