//! The rows of a report as a NetCDF file of the classic format, for an archive, by the CF
//! conventions 1.11.
//!
//! - Where every level has a time and a position, the file is a trajectory (CF 9 and
//!   appendix H.4): time, latitude and longitude are coordinates of each level. Otherwise it is
//!   a profile (H.3) at the position of the station and the time of release, and times and
//!   positions of levels that have them are variables beside it.
//! - The vertical axis is pressure or height, whichever every level has.
//! - Standard names are those of `tables/cf_names.csv`; values are doubles as they are
//!   known, in our units, so that nothing is lost.
//! - The roles of levels are a flag variable (BUFR flag table 0 08 042).
//! - Every key of the sheet is an attribute of the file, `station_elevation_m`; the whole
//!   sheet is the attribute [`SHEET`], from which it is read again.

use thiserror::Error;

/// The attribute that has the whole sheet.
pub const SHEET: &str = "fivefig_sheet";

/// Why a report is no NetCDF file.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum NotWritten {
    /// There is no position to give.
    #[error(
        "a NetCDF profile needs the position of the station; give latitude_deg and longitude_deg under [station]"
    )]
    NoPosition,
    /// The time of release is not known.
    #[error("a NetCDF profile needs the release; give release under [flight]")]
    NoRelease,
    /// There is no level with its vertical coordinate.
    #[error("a NetCDF profile needs levels with pressure or height; the report has none")]
    NoLevel,
    /// The library refused.
    #[error("the NetCDF file cannot be written: {0}")]
    Library(String),
    /// This build has no writer.
    #[error("this build has no NetCDF; build with the feature `netcdf`")]
    NotBuilt,
}

/// Refuses: this build has no writer of NetCDF.
///
/// # Errors
/// Always.
#[cfg(not(feature = "netcdf"))]
pub fn write(_: &crate::model::Report, _: &toml::Table) -> Result<Vec<u8>, NotWritten> {
    Err(NotWritten::NotBuilt)
}

#[cfg(feature = "netcdf")]
pub use writer::write;

#[cfg(feature = "netcdf")]
mod writer {
    use netcdf_writer::{
        DimensionId, Error, NcAttrValue, NcFileBuilder, NcWriteOptions, VariableId,
    };

    use super::{NotWritten, SHEET};
    use crate::model::{Axis, Level, Motion, Report, Roles, Row, When};
    use crate::tables::cf_names;

    /// The fill value that NetCDF itself gives to doubles (NC_FILL_DOUBLE).
    const FILL: f64 = 9.969_209_968_386_869e36;

    const CELSIUS: &str = "degree_Celsius";

    impl From<Error> for NotWritten {
        fn from(error: Error) -> Self {
            Self::Library(error.to_string())
        }
    }

    /// A variable along the levels: our column, its unit, and its value.
    struct Variable {
        column: &'static str,
        unit: &'static str,
        long_name: &'static str,
        get: fn(&Row) -> Option<f64>,
    }

    const TIME: Variable = Variable {
        column: "time_s",
        unit: "",
        long_name: "time",
        get: |row| row.time_s,
    };
    const LATITUDE: Variable = Variable {
        column: "latitude_deg",
        unit: "degrees_north",
        long_name: "latitude of the sonde",
        get: |row| row.place.map(|place| place.latitude_deg),
    };
    const LONGITUDE: Variable = Variable {
        column: "longitude_deg",
        unit: "degrees_east",
        long_name: "longitude of the sonde",
        get: |row| row.place.map(|place| place.longitude_deg),
    };
    const PRESSURE: Variable = Variable {
        column: "pressure_hpa",
        unit: "hPa",
        long_name: "pressure",
        get: |row| row.pressure_hpa,
    };
    const HEIGHT: Variable = Variable {
        column: "height_gpm",
        unit: "m",
        long_name: "geopotential height above mean sea level",
        get: |row| row.height_gpm,
    };
    const OBSERVATIONS: [Variable; 5] = [
        Variable {
            column: "temperature_c",
            unit: CELSIUS,
            long_name: "air temperature",
            get: |row| row.temperature_c,
        },
        Variable {
            column: "humidity_pct",
            unit: "%",
            long_name: "relative humidity over water",
            get: |row| row.humidity_pct,
        },
        Variable {
            column: "dewpoint_c",
            unit: CELSIUS,
            long_name: "dew point over water",
            get: |row| row.dewpoint_c,
        },
        Variable {
            column: "wind_dir_deg",
            unit: "degree",
            long_name: "direction the wind blows from",
            get: |row| row.wind.map(|wind| wind.dir_deg),
        },
        Variable {
            column: "wind_speed_ms",
            unit: "m s-1",
            long_name: "wind speed",
            get: |row| row.wind.map(|wind| wind.speed_ms),
        },
    ];

    /// The file under construction.
    struct File<'a> {
        builder: NcFileBuilder,
        levels: &'a [&'a Level],
        samples: DimensionId,
        /// Names of the auxiliary coordinates.
        coordinates: String,
        /// The unit of times.
        since: String,
    }

    fn text(text: impl Into<String>) -> NcAttrValue {
        NcAttrValue::Chars(text.into())
    }

    fn standard_name(column: &str) -> &'static str {
        let row = cf_names().iter().find(|name| name.column == column);
        row.map_or("", |name| name.standard_name)
    }

    /// The report as a file of the classic format, with the sheet of its flight.
    ///
    /// # Errors
    /// See [`NotWritten`].
    pub fn write(report: &Report, sheet: &toml::Table) -> Result<Vec<u8>, NotWritten> {
        let (axis, other) = match report.axis {
            Axis::Pressure => (PRESSURE, HEIGHT),
            Axis::Height => (HEIGHT, PRESSURE),
        };
        let levels = report.levels.iter();
        let mut levels: Vec<&Level> = levels.filter(|l| (axis.get)(&l.row).is_some()).collect();
        if report.motion == Motion::Falling {
            // In the order of time.
            levels.reverse();
        }
        if levels.is_empty() {
            return Err(NotWritten::NoLevel);
        }
        let When::Full { release, .. } = report.when else {
            return Err(NotWritten::NoRelease);
        };
        let full = |level: &&Level| level.row.time_s.is_some() && level.row.place.is_some();
        let trajectory = levels.iter().all(full);
        let mut builder = NcFileBuilder::new();
        let count = u64::try_from(levels.len()).unwrap_or(u64::MAX);
        let samples = builder.add_dimension("level", count)?;
        let mut file = File {
            builder,
            levels: &levels,
            samples,
            coordinates: format!("time latitude longitude {}", standard_name(axis.column)),
            since: format!("seconds since {}Z", release.strftime("%Y-%m-%dT%H:%M:%S")),
        };
        file.globals(report, sheet, trajectory)?;
        if trajectory {
            file.along("time", &TIME, &[("axis", text("T"))])?;
            file.along("latitude", &LATITUDE, &[("axis", text("Y"))])?;
            file.along("longitude", &LONGITUDE, &[("axis", text("X"))])?;
        } else {
            let station = &report.context.station;
            let (latitude, longitude) =
                (station.latitude_deg.zip(station.longitude_deg)).ok_or(NotWritten::NoPosition)?;
            file.once("time", &TIME, 0.0, "T")?;
            file.once("latitude", &LATITUDE, latitude, "Y")?;
            file.once("longitude", &LONGITUDE, longitude, "X")?;
        }
        let up = if report.axis == Axis::Height {
            "up"
        } else {
            "down"
        };
        let vertical = [("axis", text("Z")), ("positive", text(up))];
        file.along(standard_name(axis.column), &axis, &vertical)?;
        if !trajectory {
            // Beside the coordinates, as CF appendix H names what is precise.
            for (name, variable) in [
                ("precise_time", &TIME),
                ("precise_latitude", &LATITUDE),
                ("precise_longitude", &LONGITUDE),
            ] {
                file.observed(name, variable)?;
            }
        }
        file.observed(standard_name(other.column), &other)?;
        for variable in &OBSERVATIONS {
            file.observed(standard_name(variable.column), variable)?;
        }
        file.roles()?;
        let (_, octets) = file.builder.to_vec(NcWriteOptions::default())?;
        Ok(octets)
    }

    impl File<'_> {
        /// The attributes of the file, and the variable that names the flight.
        fn globals(
            &mut self,
            report: &Report,
            sheet: &toml::Table,
            trajectory: bool,
        ) -> Result<(), NotWritten> {
            let feature = if trajectory { "trajectory" } else { "profile" };
            let station = &report.context.station;
            let id = station.identifier();
            let id = id.unwrap_or_else(|| "unnamed".to_owned());
            let release = self.since.trim_start_matches("seconds since ").to_owned();
            let version = env!("CARGO_PKG_VERSION");
            for (name, value) in [
                ("Conventions", "CF-1.11".to_owned()),
                ("featureType", feature.to_owned()),
                (
                    "title",
                    format!("Upper-air sounding of {id}, released {release}"),
                ),
                (
                    "institution",
                    station.name.clone().unwrap_or_else(|| id.clone()),
                ),
                (
                    "source",
                    "processed ascent of a sounding balloon or dropsonde".to_owned(),
                ),
                ("history", format!("written by fivefig {version}")),
                ("references", "WMO-No. 306; CF conventions 1.11".to_owned()),
                (
                    "comment",
                    "every key of the sheet is an attribute, table and key joined by _".to_owned(),
                ),
            ] {
                self.builder.add_attribute(name, text(value))?;
            }
            self.builder.add_attribute(SHEET, text(sheet.to_string()))?;
            for (table, keys) in sheet {
                for (key, value) in keys.as_table().into_iter().flatten() {
                    let value = match value {
                        toml::Value::String(value) => text(value.clone()),
                        toml::Value::Float(value) => NcAttrValue::Doubles(vec![*value]),
                        toml::Value::Integer(value) => match i32::try_from(*value) {
                            Ok(value) => NcAttrValue::Ints(vec![value]),
                            Err(_) => text(value.to_string()),
                        },
                        other => text(other.to_string()),
                    };
                    self.builder
                        .add_attribute(format!("{table}_{key}"), value)?;
                }
            }
            let name = format!("{id} {release}");
            let length = u64::try_from(name.len()).unwrap_or(1);
            let length = self.builder.add_dimension("name_strlen", length)?;
            let variable = self.builder.add_char_variable(feature, &[length])?;
            self.builder
                .write_char_variable(variable, name.as_bytes())?;
            self.attributes(
                variable,
                &[
                    ("cf_role", text(format!("{feature}_id"))),
                    ("long_name", text("station and release")),
                ],
            )
        }

        fn attributes(
            &mut self,
            variable: VariableId,
            attributes: &[(&str, NcAttrValue)],
        ) -> Result<(), NotWritten> {
            for (name, value) in attributes {
                self.builder
                    .add_variable_attribute(variable, *name, value.clone())?;
            }
            Ok(())
        }

        /// Names and units.
        fn described(&mut self, id: VariableId, variable: &Variable) -> Result<(), NotWritten> {
            let mut attributes = vec![
                ("standard_name", text(standard_name(variable.column))),
                ("long_name", text(variable.long_name)),
            ];
            if variable.column == TIME.column {
                attributes.push(("units", text(self.since.clone())));
                attributes.push(("calendar", text("standard")));
                attributes.push(("units_metadata", text("leap_seconds: none")));
            } else {
                attributes.push(("units", text(variable.unit)));
            }
            if variable.unit == CELSIUS {
                attributes.push(("units_metadata", text("temperature: on_scale")));
            }
            self.attributes(id, &attributes)
        }

        /// A coordinate along the levels, which every one of them has.
        fn along(
            &mut self,
            name: &str,
            variable: &Variable,
            attributes: &[(&str, NcAttrValue)],
        ) -> Result<(), NotWritten> {
            let id = self.builder.add_variable::<f64>(name, &[self.samples])?;
            self.described(id, variable)?;
            self.attributes(id, attributes)?;
            let values = self.values(variable);
            Ok(self.builder.write_variable(id, &values)?)
        }

        /// A coordinate of the whole profile.
        fn once(
            &mut self,
            name: &str,
            variable: &Variable,
            value: f64,
            axis: &str,
        ) -> Result<(), NotWritten> {
            let id = self.builder.add_variable::<f64>(name, &[])?;
            self.described(id, variable)?;
            self.attributes(id, &[("axis", text(axis))])?;
            Ok(self.builder.write_variable(id, &[value])?)
        }

        /// A quantity along the levels.
        fn observed(&mut self, name: &str, variable: &Variable) -> Result<(), NotWritten> {
            let id = self.builder.add_variable::<f64>(name, &[self.samples])?;
            self.builder.set_variable_fill_value(id, FILL)?;
            self.described(id, variable)?;
            let coordinates = text(self.coordinates.clone());
            self.attributes(id, &[("coordinates", coordinates)])?;
            let values = self.values(variable);
            Ok(self.builder.write_variable(id, &values)?)
        }

        fn values(&self, variable: &Variable) -> Vec<f64> {
            let levels = self.levels.iter();
            levels
                .map(|level| (variable.get)(&level.row).unwrap_or(FILL))
                .collect()
        }

        /// The roles of the levels.
        fn roles(&mut self) -> Result<(), NotWritten> {
            let bits = |roles: Roles| i32::try_from(roles.bits()).unwrap_or(0);
            let known = Roles::FLAG_TABLE | Roles::FORCED;
            let id = self
                .builder
                .add_variable::<i32>("station_flags", &[self.samples])?;
            let names: Vec<&str> = known.names().collect();
            let attributes = [
                (
                    "long_name",
                    text("roles of the level (BUFR flag table 0 08 042)"),
                ),
                ("standard_name", text("status_flag")),
                (
                    "flag_masks",
                    NcAttrValue::Ints(known.iter().map(bits).collect()),
                ),
                ("flag_meanings", text(names.join(" "))),
                ("coordinates", text(self.coordinates.clone())),
            ];
            self.attributes(id, &attributes)?;
            let levels = self.levels.iter();
            let values: Vec<i32> = levels.map(|level| bits(level.roles & known)).collect();
            Ok(self.builder.write_variable(id, &values)?)
        }
    }
}
