//! The columns of a profile that we know: names, bounds and units, and where
//! their values go.

use strsim::jaro_winkler;

use crate::input::elements::clock::ClockColumn;
use crate::input::elements::unit;
use crate::input::elements::unit::{Notation, Unit};
use crate::input::{By, ColumnUse, RawRow};
use crate::model::Row;

/// The column of roles received from a station (BUFR 0 08 042).
pub(in crate::input) const FLAGS: &str = "station_flags";

/// Bits of flag table 0 08 042.
pub(in crate::input) const FLAG_BITS: u32 = 18;
/// Most rows.
pub(in crate::input) const MAX_ROWS: usize = 2_000_000;
/// Names more alike than this are proposed.
const ALIKE: f64 = 0.84;
/// Most characters of a cell or name that a message repeats.
pub(in crate::input) const MAX_SHOWN: usize = 40;

/// A column we know: its own unit, its bounds in it, the units it may come in
/// (its own first), and where the value goes.
pub(in crate::input) struct Known {
    pub(in crate::input) name: &'static str,
    pub(in crate::input) low: f64,
    pub(in crate::input) high: f64,
    /// Whether the lower bound itself is outside.
    pub(in crate::input) open: bool,
    pub(in crate::input) units: &'static [Unit],
    pub(in crate::input) get: fn(&RawRow) -> Option<f64>,
    pub(in crate::input) set: fn(&mut RawRow, f64),
}

impl Known {
    /// Whether a value, in our unit, is within the bounds.
    #[inline]
    pub(in crate::input) fn allows(&self, value: f64) -> bool {
        value <= self.high && (value > self.low || (value == self.low && !self.open))
    }

    /// Whether a value may be a clock time.
    pub(in crate::input) fn is_clock(&self) -> bool {
        self.clock_unit().is_some()
    }

    /// The unit of clock times, where there is one.
    pub(in crate::input) fn clock_unit(&self) -> Option<&'static Unit> {
        self.units.iter().find(|u| u.notation == Notation::Clock)
    }

    /// The names that a header may give the column, each with its unit.
    pub(in crate::input) fn headings(
        &self,
    ) -> impl Iterator<Item = (&'static str, Option<&'static Unit>)> {
        let ours = (self.name, self.units.first());
        let others = IN_OTHER_UNITS.iter().filter(|other| other.1 == self.name);
        let others = others.map(|&(name, _, unit)| (name, unit::of(self.units, unit)));
        std::iter::once(ours).chain(others)
    }

    /// The bounds in words.
    pub(in crate::input) fn bounds(&self) -> String {
        let unit = self.units.first().map_or("", |u| u.name);
        let (low, high) = (self.low, self.high);
        if self.open {
            format!("more than {low} and at most {high} {unit} is allowed")
        } else {
            format!("{low} to {high} {unit} is allowed")
        }
    }
}

macro_rules! known {
    ($($name:ident $low:literal $high:literal $open:literal $units:ident),+;
     $($angle:ident $top:literal),+ $(,)?) => {
        /// Whether a row has no angles and all its values are within their bounds.
        #[inline]
        fn allows_row(row: &RawRow) -> bool {
            let allows = |value: Option<f64>, low: f64, high: f64, open: bool| {
                value.is_none_or(|v| v <= high && (v > low || (v == low && !open)))
            };
            row.angles.is_none() $(&& allows(row.$name, $low, $high, $open))+
        }

        /// Every column of values, with bounds no atmosphere leaves (our own choice,
        /// wide enough for records; humidity may be over ice).
        pub(in crate::input) const KNOWN: &[Known] = &[$(Known {
            name: stringify!($name),
            low: $low,
            high: $high,
            open: $open,
            units: unit::$units,
            get: |row| row.$name,
            set: |row, value| row.$name = Some(value),
        },)+ $(Known {
            name: stringify!($angle),
            low: 0.0,
            high: $top,
            open: false,
            units: unit::ANGLE,
            get: |row| row.angles.as_ref().and_then(|angles| angles.$angle),
            set: |row, value| row.angles.get_or_insert_default().$angle = Some(value),
        }),+];
    };
}

known![
    time_s -1_000_000.0 1_000_000.0 false SECONDS,
    pressure_hpa       0.0  1100.0  true PRESSURE,
    height_gpm      -500.0 60000.0 false GEOPOTENTIAL,
    altitude_m      -500.0 60000.0 false METRES,
    temperature_c   -120.0    60.0 false TEMPERATURE,
    humidity_pct       0.0   200.0 false SHARE,
    dewpoint_c      -150.0    60.0 false TEMPERATURE,
    wind_dir_deg       0.0   360.0 false DEGREES,
    wind_speed_ms      0.0   250.0 false SPEED,
    wind_u_ms       -250.0   250.0 false SPEED,
    wind_v_ms       -250.0   250.0 false SPEED,
    latitude_deg     -90.0    90.0 false DEGREES_NORTH,
    longitude_deg   -180.0   360.0 false DEGREES_EAST;
    elevation_deg     90.0,
    azimuth_deg      360.0,
    elevation_2_deg   90.0,
    azimuth_2_deg    360.0,
];

/// Names of ours that say another unit: the name, our column, and the unit.
const IN_OTHER_UNITS: &[(&str, &str, &str)] = &[
    ("time_min", "time_s", "min"),
    ("elevation_gon", "elevation_deg", "gon"),
    ("azimuth_gon", "azimuth_deg", "gon"),
    ("elevation_2_gon", "elevation_2_deg", "gon"),
    ("azimuth_2_gon", "azimuth_2_deg", "gon"),
];

/// The first value of a row that its column does not allow, with the name of the
/// column and the bounds in words.
///
/// A dew point beside a humidity follows from it and has no bounds of its own.
#[inline]
pub(crate) fn out_of_bounds(row: &Row) -> Option<(&'static str, f64, String)> {
    // Of a row that is allowed no raw one is made: its values are compared where they are.
    if allows_row(&as_read(row)) {
        return None;
    }
    first_out_of_bounds(&as_read(row))
}

/// The values of a row as a file would give them.
#[inline]
fn as_read(row: &Row) -> RawRow {
    RawRow {
        time_s: row.time_s,
        pressure_hpa: row.pressure_hpa,
        height_gpm: row.height_gpm,
        temperature_c: row.temperature_c,
        humidity_pct: row.humidity_pct,
        dewpoint_c: row.dewpoint_c.filter(|_| row.humidity_pct.is_none()),
        wind_dir_deg: row.wind.map(|w| w.dir_deg),
        wind_speed_ms: row.wind.map(|w| w.speed_ms),
        latitude_deg: row.place.map(|p| p.latitude_deg),
        longitude_deg: row.place.map(|p| p.longitude_deg),
        ..RawRow::default()
    }
}

/// The same of a row as it was read.
pub(crate) fn raw_out_of_bounds(row: &RawRow) -> Option<(&'static str, f64, String)> {
    if allows_row(row) {
        return None;
    }
    first_out_of_bounds(row)
}

fn first_out_of_bounds(row: &RawRow) -> Option<(&'static str, f64, String)> {
    KNOWN.iter().find_map(|known| {
        let value = (known.get)(row).filter(|&value| !known.allows(value))?;
        Some((known.name, value, known.bounds()))
    })
}

/// A column by our name for it.
pub(in crate::input) fn known(ours: &str) -> Option<&'static Known> {
    KNOWN.iter().find(|k| k.name == ours)
}

/// The unit of a column that a text spells.
pub(in crate::input) fn unit(known: &Known, text: &str) -> Option<&'static Unit> {
    unit::of(known.units, text)
}

/// What a column of the file is interpreted as.
#[derive(Clone, Copy)]
pub(in crate::input) enum Use {
    Value {
        known: &'static Known,
        unit: &'static Unit,
        by: By,
    },
    Flags,
    Nothing,
}

/// Rows with a value, least and greatest.
#[derive(Clone, Copy, Default)]
pub(in crate::input) struct Taking {
    pub(in crate::input) present: usize,
    pub(in crate::input) range: Option<(f64, f64)>,
}

impl Use {
    /// The same as it is reported, with the number of the column from 0.
    pub(in crate::input) fn column_use(
        self,
        at: usize,
        column: &str,
        taking: Taking,
        clock: &ClockColumn,
    ) -> ColumnUse {
        let clock = clock.is_clock();
        let (ours, unit) = match self {
            Self::Value { known, unit, by } if clock && unit.notation == Notation::Number => {
                let unit = known.clock_unit().unwrap_or(unit);
                (Some((known.name, by)), Some(unit.name.to_owned()))
            }
            Self::Value { known, unit, by } => (Some((known.name, by)), Some(unit.name.to_owned())),
            Self::Flags => (Some((FLAGS, By::Name)), None),
            Self::Nothing => (None, None),
        };
        ColumnUse {
            column: column.to_owned(),
            number: at.saturating_add(1),
            ours,
            unit,
            present: taking.present,
            range: taking.range,
        }
    }
}

/// Our names, that of the roles among them.
pub(in crate::input) fn names() -> impl Iterator<Item = &'static str> {
    KNOWN.iter().map(|k| k.name).chain([FLAGS])
}

/// Our name most like a column's, when one is like it.
pub(in crate::input) fn nearest(cell: &str) -> Option<&'static str> {
    let cell = shown(cell).to_lowercase();
    names()
        .map(|name| (jaro_winkler(name, &cell), name))
        .filter(|(alike, _)| *alike > ALIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

/// The beginning of a text from the file, fit for a message of one line.
pub(crate) fn shown(text: &str) -> String {
    let mut out: String = text
        .chars()
        .take(MAX_SHOWN)
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .collect();
    if text.chars().nth(MAX_SHOWN).is_some() {
        out.push('…');
    }
    out
}
