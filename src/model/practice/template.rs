//! Templates: groups of five with names of values of the report.
//!
//! Groups stand with a blank between them. A group is figures and solidi (in section 10
//! capital letters too) and fields in braces, five characters in all: `{NAME:WIDTH}` is a
//! value in whole units, `{NAME:sign}` its sign as 0 or 1. Options follow with colons.

use itertools::Itertools;

/// Most groups of one template.
const MAX_GROUPS: usize = 50;

/// How many characters a group has.
const GROUP: usize = 5;

macro_rules! values {
    ($($value:ident $name:literal $what:literal,)+) => {
        /// A value of the report that a template can name.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        #[non_exhaustive]
        pub enum TemplateValue {
            $(#[doc = $what] $value,)+
        }

        impl TemplateValue {
            /// All of them.
            pub const ALL: &[Self] = &[$(Self::$value),+];

            /// Its name, that of the report in JSON.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$value => $name,)+ }
            }

            /// What it is, with its unit.
            #[must_use]
            pub const fn what(self) -> &'static str {
                match self { $(Self::$value => $what,)+ }
            }
        }
    };
}

values! {
    Pressure "pressure_hpa" "pressure, hPa",
    Height "height_gpm" "geopotential height, gpm",
    Temperature "temperature_c" "temperature, °C",
    DewPoint "dewpoint_c" "dew point over water, °C",
    Depression "depression_k" "temperature less dew point, K",
    Humidity "humidity_pct" "relative humidity over water, %",
    WindDirection "wind_dir_deg" "wind direction, degrees true",
    WindSpeed "wind_speed_ms" "wind speed, m/s",
    Time "time_s" "time after release, s",
    Latitude "latitude_deg" "latitude, degrees north",
    Longitude "longitude_deg" "longitude, degrees east",
    Elevation "station.elevation_m" "elevation of the station, m",
    Ascent "flight.ascent" "number of the ascent",
    Release "flight.release_number" "number of the release",
    Termination "flight.termination" "reason of ending, BUFR code table 0 35 035",
    Reason "flight.reason" "reason of no or a short report, table 0421",
    Radiosonde "equipment.radiosonde" "radiosonde, Common Code Table C-2",
    Tracking "equipment.tracking" "tracking, Common Code Table C-7",
    BalloonMass "balloon.mass_kg" "mass of the balloon, kg",
    SeaTemperature "surface.sea_temperature_c" "temperature of the sea surface, °C",
    Stability "regional.stability_k" "stability index, K",
}

impl TemplateValue {
    /// Whether it is one of a level.
    #[must_use]
    pub fn is_of_level(self) -> bool {
        !self.name().contains('.')
    }
}

/// A level that a template can name in front of a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TemplateLevel {
    /// The surface.
    Surface,
    /// The first tropopause.
    Tropopause,
    /// The strongest maximum wind.
    MaxWind,
    /// The lowest freezing level.
    Freezing,
    /// The highest level.
    Top,
}

impl TemplateLevel {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Surface,
        Self::Tropopause,
        Self::MaxWind,
        Self::Freezing,
        Self::Top,
    ];

    /// Its name: that of the role in JSON, and `top`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Surface => "surface",
            Self::Tropopause => "tropopause",
            Self::MaxWind => "max_wind",
            Self::Freezing => "freezing",
            Self::Top => "top",
        }
    }
}

/// How a value becomes whole steps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum TemplateRounding {
    /// To the nearest, halves away from zero.
    #[default]
    Nearest,
    /// Downwards.
    Down,
    /// Upwards.
    Up,
}

/// A field of a template: a value as figures.
#[derive(Clone, Debug, PartialEq)]
pub struct TemplateField {
    /// The level that is named; `None`: that of the row.
    pub level: Option<TemplateLevel>,
    /// The value.
    pub value: TemplateValue,
    /// How many figures it has.
    pub width: usize,
    /// The value of one unit of the figures.
    pub step: f64,
    /// How it is rounded.
    pub rounding: TemplateRounding,
    /// Whether figures in front that do not fit are left out, as in hhh.
    pub last: bool,
    /// Whether the sign is left out.
    pub unsigned: bool,
    /// Whether it is the sign alone: 0, and 1 below zero (code table 3845).
    pub sign: bool,
}

/// A piece of a group.
#[derive(Clone, Debug, PartialEq)]
pub enum TemplatePiece {
    /// Characters as they stand.
    Literal(String),
    /// A value.
    Field(TemplateField),
}

/// Groups of five with names of values of the report.
#[derive(Clone, Debug, PartialEq)]
pub struct Template {
    groups: Vec<Vec<TemplatePiece>>,
}

impl Template {
    /// Reads a template; one of section 10 may have letters.
    ///
    /// # Errors
    /// What is wrong, and what is allowed.
    pub fn parse(text: &str, letters: bool) -> Result<Self, String> {
        let groups: Vec<&str> = text.split_ascii_whitespace().collect();
        if groups.is_empty() {
            return Err("a template of groups is expected, such as 1{height_gpm:4}".to_owned());
        }
        if groups.len() > MAX_GROUPS {
            return Err(format!("at most {MAX_GROUPS} groups are allowed"));
        }
        let groups = groups.into_iter().map(|text| group(text, letters));
        Ok(Self {
            groups: groups.collect::<Result<_, _>>()?,
        })
    }

    /// The groups, each in its pieces.
    #[must_use]
    pub fn groups(&self) -> &[Vec<TemplatePiece>] {
        &self.groups
    }

    /// The fields of all groups.
    pub fn fields(&self) -> impl Iterator<Item = &TemplateField> {
        self.groups
            .iter()
            .flatten()
            .filter_map(|piece| match piece {
                TemplatePiece::Field(field) => Some(field),
                TemplatePiece::Literal(_) => None,
            })
    }

    /// Whether a field is a value of the level that the row is about.
    #[must_use]
    pub fn needs_level(&self) -> bool {
        self.fields()
            .any(|field| field.value.is_of_level() && field.level.is_none())
    }
}

/// One group.
fn group(text: &str, letters: bool) -> Result<Vec<TemplatePiece>, String> {
    let shown: String = text.chars().take(80).collect();
    let at = |what: String| format!("`{shown}`: {what}");
    let mut pieces = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        if let Some(inner) = rest.strip_prefix('{') {
            let (inner, after) = inner
                .split_once('}')
                .ok_or_else(|| at("the brace `{` is not closed".to_owned()))?;
            pieces.push(TemplatePiece::Field(field(inner).map_err(at)?));
            rest = after;
            continue;
        }
        let end = rest.find('{').unwrap_or(rest.len());
        let (literal, after) = rest.split_at(end);
        let good = |c: char| c.is_ascii_digit() || c == '/' || (letters && c.is_ascii_uppercase());
        if let Some(other) = literal.chars().find(|&c| !good(c)) {
            let allowed = match letters {
                true => "figures, capital letters, solidi",
                false => "figures, solidi",
            };
            let what = format!(
                "`{other}` is not allowed outside braces; allowed are {allowed} and {{NAME:WIDTH}}"
            );
            return Err(at(what));
        }
        pieces.push(TemplatePiece::Literal(literal.to_owned()));
        rest = after;
    }
    let width: usize = pieces
        .iter()
        .map(|piece| match piece {
            TemplatePiece::Literal(text) => text.len(),
            TemplatePiece::Field(field) => field.width,
        })
        .sum();
    if width != GROUP {
        return Err(at(format!(
            "the group has {width} characters; a group has {GROUP}"
        )));
    }
    if ["51515", "61616"].contains(&text) {
        return Err(at("this group begins a section; leave it out".to_owned()));
    }
    Ok(pieces)
}

/// The content of a pair of braces.
fn field(text: &str) -> Result<TemplateField, String> {
    let mut pieces = text.split(':');
    let (level, value) = named(pieces.next().unwrap_or_default())?;
    let width = pieces.next().unwrap_or_default();
    let mut out = TemplateField {
        level,
        value,
        width: 1,
        step: 1.0,
        rounding: TemplateRounding::Nearest,
        last: false,
        unsigned: false,
        sign: width == "sign",
    };
    if !out.sign {
        let figures = width.parse().ok().filter(|w| (1..=GROUP).contains(w));
        out.width = figures.ok_or_else(|| {
            format!(
                "`{width}` is no width of {}; 1 to {GROUP} figures, or `sign`, are expected after the colon",
                value.name()
            )
        })?;
    }
    for option in pieces {
        let step = option.strip_prefix("step=");
        let step = step.and_then(|step| step.parse().ok());
        match (option, step) {
            _ if out.sign => return Err(format!("`{option}` does not go with `sign`")),
            (_, Some(step)) if (1e-6..=1e6).contains(&step) => out.step = step,
            ("down", _) => out.rounding = TemplateRounding::Down,
            ("up", _) => out.rounding = TemplateRounding::Up,
            ("last", _) => out.last = true,
            ("abs", _) => out.unsigned = true,
            _ => {
                let what = "allowed are step=NUMBER (0.000001 to 1000000), down, up, last, abs";
                return Err(format!("`{option}` is unknown; {what}"));
            }
        }
    }
    Ok(out)
}

/// The level and the value of a name.
fn named(name: &str) -> Result<(Option<TemplateLevel>, TemplateValue), String> {
    let find = |name: &str| {
        let mut values = TemplateValue::ALL.iter().copied();
        values.find(|value| value.name() == name)
    };
    if let Some(value) = find(name) {
        return Ok((None, value));
    }
    let of_level = name.split_once('.').and_then(|(level, value)| {
        let mut levels = TemplateLevel::ALL.into_iter();
        let level = levels.find(|one| one.name() == level)?;
        let value = find(value).filter(|value| value.is_of_level())?;
        Some((Some(level), value))
    });
    of_level.ok_or_else(|| {
        let values = TemplateValue::ALL.iter().map(|value| value.name());
        let levels = TemplateLevel::ALL.map(TemplateLevel::name);
        let shown: String = name.chars().take(40).collect();
        format!(
            "`{shown}` is no value of the report; allowed are {}, the first eleven also after {}",
            values.format(", "),
            levels.map(|level| format!("{level}.")).iter().format(", ")
        )
    })
}
