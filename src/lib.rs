//! Turns a processed radiosonde ascent into the coded messages of the WMO upper-air code
//! forms (TEMP and PILOT in five-figure groups, BUFR) and into JSON, and reads them back.
//!
//! Every level carries the rule that chose it, every message is read back before it is
//! given out, and every error says where and what is allowed.
//!
//! # Rows to messages
//!
//! ```
//! use fivefig::prelude::*;
//!
//! // An invented station and the first kilometres of an invented flight.
//! let station = Station::land(WmoNumber::new(99, 11)?, Position::new(51.25, -3.4)?, 84.0);
//! let context = Context::new(station, "2031-01-15T11:23:40Z".parse()?);
//! let row = |time_s, pressure_hpa, temperature_c, humidity_pct| RawRow {
//!     time_s: Some(time_s),
//!     pressure_hpa: Some(pressure_hpa),
//!     temperature_c: Some(temperature_c),
//!     humidity_pct: Some(humidity_pct),
//!     wind_dir_deg: Some(230.0),
//!     wind_speed_ms: Some(6.0),
//!     ..RawRow::default()
//! };
//! let rows = vec![
//!     row(0.0, 1004.3, 4.5, 73.0),
//!     row(180.0, 925.0, -0.3, 92.0),
//!     row(300.0, 861.0, -3.9, 95.0),
//!     row(420.0, 850.0, -0.2, 40.0),
//!     row(780.0, 700.0, -9.1, 31.0),
//! ];
//!
//! let report = Ascent::from_rows(rows, &context)?.report(Form::Temp)?;
//! assert!(report.text()?.starts_with("TTAA 15117 99011 99004 04444 23006"));
//! let octets = report.bufr()?.value;
//! let document = report.json()?;
//! for level in report.levels() {
//!     println!("{:?} hPa: {}", level.row.pressure_hpa, level.why[0].text());
//! }
//! for finding in report.findings() {
//!     eprintln!("{finding}");
//! }
//! # assert!(octets.starts_with(b"BUFR") && document.starts_with('{'));
//! # Ok::<(), Error>(())
//! ```
//!
//! [`Ascent::from_file`](issue::Ascent::from_file) does the same with a file and its
//! sheets: delimited text, NetCDF, BUFR, IGRA or JSON Lines.
//! [`samples/rows_to_temp.rs`](https://docs.rs/crate/fivefig/latest/source/samples/rows_to_temp.rs)
//! is a whole program.
//!
//! # Messages to values
//!
//! ```
//! use fivefig::prelude::*;
//!
//! // Invented.
//! let sent = "TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999=";
//! let corrected = sent.replace("04226", "04626");
//! let (sent, corrected) = (Message::parse(sent)?.report(), Message::parse(&corrected)?.report());
//! assert_eq!(sent.levels[0].row.temperature_c, Some(4.4));
//!
//! let differences = compare(&sent, &corrected);
//! assert_eq!(
//!     differences[0].to_string(),
//!     "temperature at 1000 hPa (standard): 4.2 °C on the left, 4.6 °C on the right"
//! );
//! # Ok::<(), Error>(())
//! ```
//!
//! Traffic with bulletins and faults in it is read by [`forms::text::Traffic`], BUFR by
//! [`input::bufr::soundings`], JSON by [`forms::json::read`]; [`verify`] checks messages,
//! profiles and stations.
//! [`samples/traffic_folder.rs`](https://docs.rs/crate/fivefig/latest/source/samples/traffic_folder.rs)
//! checks a folder of traffic.
//!
//! # Where to read on
//!
//! The [`guide`] has a page for each topic, from a quick start to what was measured; the
//! same pages are printed by the command `fivefig guide`. The modules follow the way of the
//! data: [`profile`] makes the ascent, [`levels`] chooses the levels (see there for levels
//! of your own), [`issue`] builds the report, [`forms`] write and read it.
//!
//! # Features
//!
//! | feature | what it adds | by default |
//! |---|---|---|
//! | `cli` | the command, its argument parser and progress bar | yes |
//! | `desk` | the local page for preparing a report by hand | yes |
//! | `spool` | unattended export from a folder | yes |
//! | `netcdf` | NetCDF profiles | yes |
//! | `mqtt` | publishing a WIS2 notification to a broker that is named | no |
//! | `arrow` | tables of levels, reports and findings as Arrow record batches; profiles from Arrow tables | no |
//! | `parquet` | the same tables as Parquet files, written by the command | no |
//! | `python` | the Python package in `src/python` | no |
//!
//! With `--no-default-features` there is the library alone: no argument parser, no
//! server, no threads of its own, no clock and no environment.

pub use jiff;

pub use ascent::compare;
pub use error::{Error, ErrorKind};

mod ascent;
mod error;
pub mod prelude;

/// The command; not a part of the library's interface.
#[cfg(feature = "cli")]
#[doc(hidden)]
pub mod app;
pub mod forms;
pub mod guide;
pub mod input;
pub mod issue;
pub mod levels;
pub mod model;
pub mod physics;
pub mod profile;
#[cfg(feature = "python")]
mod python;
pub mod tables;
pub mod verify;
pub mod view;
