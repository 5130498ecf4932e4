//! The table of levels.

use std::sync::Arc;

use arrow_array::builder::{
    Float64Builder, Int8Builder, Int32Builder, Int64Builder, StringBuilder,
    TimestampMicrosecondBuilder,
};
use arrow_array::{Int64Array, RecordBatch};
use arrow_schema::ArrowError;
use itertools::Itertools as _;

use super::{TextsBuilder, micros, table, texts, whole};
use crate::forms::text;
use crate::forms::text::{Beside, Ident, Message};
use crate::model::quantity::trim;
use crate::model::{At, Form, Level, Report};
use crate::physics::humidity::reported_dewpoint_c;

table! {
    /// Levels, one per row, those of each report lowest first.
    Levels = "levels" {
        /// Name of the file or flight
        file: StringBuilder;
        /// Number of the report in the input, from 1
        report: Int64Builder;
        /// temp, pilot or descent
        form: StringBuilder;
        /// Station number, call sign, position or WIGOS identifier
        station: StringBuilder;
        /// Standard time, UTC, of a text its day and hour; null where year and month are not known
        time: TimestampMicrosecondBuilder;
        /// Time of release, UTC, where it is known
        release: TimestampMicrosecondBuilder;
        /// Day of the month (YY)
        day: Int8Builder;
        /// Hour (GG)
        hour: Int8Builder;
        /// Number of the level in the report, from 1, lowest first
        level: Int32Builder;
        /// Letters of the parts in which the level stands, such as A or AB
        parts: StringBuilder;
        /// Time after release
        time_s: Float64Builder, "s";
        /// Pressure
        pressure_hpa: Float64Builder, "hPa";
        /// Geopotential height above mean sea level
        height_gpm: Float64Builder, "gpm";
        /// Temperature
        temperature_c: Float64Builder, "°C";
        /// Dew point over water; at a humidity of 0 % that of 0.1 %
        dewpoint_c: Float64Builder, "°C";
        /// Relative humidity over water
        humidity_pct: Float64Builder, "%";
        /// Direction from which the wind blows, true
        wind_dir_deg: Float64Builder, "°";
        /// Wind speed
        wind_speed_ms: Float64Builder, "m/s";
        /// Latitude
        latitude_deg: Float64Builder, "degrees north";
        /// Longitude
        longitude_deg: Float64Builder, "degrees east";
        /// Vertical significance: names of BUFR flag table 0 08 042
        significance: TextsBuilder;
        /// Why the level was chosen
        reasons: TextsBuilder;
        /// The published rule of each reason
        clauses: TextsBuilder;
        /// The five-figure groups of the level, part by part
        groups: TextsBuilder;
        /// row, interpolated, extrapolated, received or salvaged
        origin: StringBuilder;
        /// Number of the row of the profile, from 1
        row: Int32Builder;
    }
}

/// Where a report is from.
#[derive(Clone, Copy, Debug, Default)]
pub struct Source<'a> {
    /// The file or flight.
    pub file: &'a str,
    /// Number of the report in the input, from 1.
    pub report: usize,
}

/// What all levels of a report have in common.
pub(super) struct Head {
    pub(super) form: &'static str,
    pub(super) station: Option<String>,
    pub(super) time: Option<i64>,
    pub(super) release: Option<i64>,
    pub(super) day: Option<i8>,
    pub(super) hour: Option<i8>,
}

impl Head {
    fn bare(form: Form) -> Self {
        Self {
            form: match form {
                Form::Temp => "temp",
                Form::Pilot => "pilot",
                Form::Descent => "descent",
            },
            station: None,
            time: None,
            release: None,
            day: None,
            hour: None,
        }
    }

    pub(super) fn of(report: &Report, message: Option<&Message>) -> Self {
        let station = match message {
            Some(message) => Some(message.ident.name()),
            None => Ident::of(&report.context).ok().map(|ident| ident.name()),
        };
        let station = station.or_else(|| report.context.station.wigos_id.clone());
        let (release, time) = report.when.in_full().unzip();
        let (day, hour, _) = text::time(report);
        Self {
            station,
            time: time.and_then(micros),
            release: release.flatten().and_then(micros),
            day: i8::try_from(day).ok(),
            hour: i8::try_from(hour).ok(),
            ..Self::bare(report.form)
        }
    }
}

/// The levels of one report under another number in the input, from 1.
///
/// # Errors
/// A batch that is none of levels.
pub fn renumbered(levels: &RecordBatch, report: usize) -> Result<RecordBatch, ArrowError> {
    let number = i64::try_from(report).unwrap_or(i64::MAX);
    let numbers: Int64Array = std::iter::repeat_n(Some(number), levels.num_rows()).collect();
    let schema = levels.schema();
    let at = schema.index_of("report")?;
    let mut columns = levels.columns().to_vec();
    if let Some(column) = columns.get_mut(at) {
        *column = Arc::new(numbers);
    }
    RecordBatch::try_new(schema, columns)
}

impl Levels {
    /// Adds the levels of a report, with the groups of its message where it has one.
    pub fn add(&mut self, source: Source<'_>, report: &Report, message: Option<&Message>) {
        let head = Head::of(report, message);
        let beside = message.map(|message| message.beside(report));
        self.rows(source, &head, &report.levels, beside);
    }

    /// Adds levels that belong to no report.
    pub fn add_levels(&mut self, source: Source<'_>, form: Form, levels: &[Level]) {
        self.rows(source, &Head::bare(form), levels, None);
    }

    fn rows(
        &mut self,
        source: Source<'_>,
        head: &Head,
        levels: &[Level],
        beside: Option<Vec<Beside>>,
    ) {
        let number = i64::try_from(source.report).unwrap_or(i64::MAX);
        let coded = beside.is_some();
        let mut beside = beside.unwrap_or_default().into_iter();
        for (level, at) in levels.iter().zip(1..) {
            let row = &level.row;
            self.rows += 1;
            self.file.append_value(source.file);
            self.report.append_value(number);
            self.form.append_value(head.form);
            self.station.append_option(head.station.as_deref());
            self.time.append_option(head.time);
            self.release.append_option(head.release);
            self.day.append_option(head.day);
            self.hour.append_option(head.hour);
            self.level.append_value(at);
            let groups = beside.next();
            let parts = groups.iter().flat_map(|groups| groups.keys());
            let parts = parts.map(|part| part.letter()).join("");
            self.parts.append_option(coded.then_some(&*parts));
            self.time_s.append_option(row.time_s.map(trim));
            self.pressure_hpa.append_option(row.pressure_hpa.map(trim));
            self.height_gpm.append_option(row.height_gpm.map(trim));
            self.temperature_c
                .append_option(row.temperature_c.map(trim));
            let dewpoint = reported_dewpoint_c(row.temperature_c, row.dewpoint_c, row.humidity_pct);
            self.dewpoint_c.append_option(dewpoint.map(trim));
            self.humidity_pct.append_option(row.humidity_pct.map(trim));
            self.wind_dir_deg
                .append_option(row.wind.map(|w| trim(w.dir_deg)));
            self.wind_speed_ms
                .append_option(row.wind.map(|w| trim(w.speed_ms)));
            let place = row.place;
            self.latitude_deg
                .append_option(place.map(|p| trim(p.latitude_deg())));
            self.longitude_deg
                .append_option(place.map(|p| trim(p.longitude_deg())));
            texts(&mut self.significance, level.roles.names());
            texts(&mut self.reasons, level.why.iter().map(|why| why.text()));
            texts(&mut self.clauses, level.why.iter().map(|why| why.clause()));
            texts(
                &mut self.groups,
                groups.iter().flat_map(|groups| groups.values().flatten()),
            );
            let (origin, row) = match level.at {
                At::Row(at) => ("row", Some(whole(at).saturating_add(1))),
                At::Interpolated => ("interpolated", None),
                At::Extrapolated => ("extrapolated", None),
                At::Received => ("received", None),
                At::Salvaged => ("salvaged", None),
            };
            self.origin.append_value(origin);
            self.row.append_option(row);
        }
    }
}
