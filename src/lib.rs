//! Turns a processed radiosonde ascent into the coded messages of the WMO
//! upper-air code forms, and reads them back.
//!
//! One hub, thin spokes: a [`model::Profile`] becomes levels with reasons,
//! those become one [`model::Report`] in unrounded values, and every form
//! is written from the report, rounding once in its own units.
//!
//! The [`guide`] has a page for each topic, from a quick start to what was measured.
//!
//! # From a file to a message
//!
//! Octets and sheets go in, a [`issue::Flight`] comes out: profile, report, message,
//! fidelity and findings.
//!
//! ```
//! use fivefig::issue::{Loaded, Which, outputs};
//! use fivefig::input::sheet::Source;
//! use fivefig::model::{Form, Reach};
//!
//! let rows = std::fs::read("samples/winter_jet.csv")?;
//! let text = std::fs::read_to_string("samples/winter_jet.toml")?;
//! let sheets = [Source { name: "winter_jet.toml", text: &text }];
//! let flight = Loaded::read(&rows, "winter_jet.csv", Which::default(), &sheets)?
//!     .code(Form::Temp, Reach::Whole)?;
//! let message = flight.message.as_ref().expect("TEMP has a text");
//! assert!(message.to_string().starts_with("TTAA 15111 99011"));
//! let (octets, _) = outputs::one(&flight, outputs::Output::Bufr, &outputs::Options::default())?;
//! assert!(octets.starts_with(b"BUFR"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # From a message to values
//!
//! ```
//! use fivefig::forms::{bufr, text};
//!
//! // Invented.
//! let text = "TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999=";
//! let report = text::parse(text)?.report();
//! assert_eq!(report.levels[0].row.pressure_hpa, Some(1004.0));
//! assert_eq!(report.levels[0].row.temperature_c, Some(4.4));
//!
//! // The same as BUFR, and back.
//! use fivefig::model::{Report, When};
//! let time = jiff::civil::date(2031, 1, 15).at(11, 23, 40, 0);
//! let when = When::Full { release: time, standard: jiff::civil::date(2031, 1, 15).at(12, 0, 0, 0) };
//! let (octets, _) = bufr::write(&Report { when, ..report })?;
//! let (soundings, _) = fivefig::input::bufr::soundings(&octets, "sounding.bufr");
//! assert_eq!(soundings[0].report.levels[0].row.pressure_hpa, Some(1004.0));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Levels of one's own
//!
//! [`levels::choose`] gives the levels by the rules, as data: what is taken out, put in
//! or made from scratch goes into the report, and from there into every form. (An
//! operator's own wish is better an order in the sheet, which is checked against
//! the rules and told.)
//!
//! ```
//! use fivefig::input::sheet;
//! use fivefig::input::sheet::Source;
//! use fivefig::model::{At, Form, Level, Reach, Reason, Roles};
//! use fivefig::forms::text;
//! use fivefig::{input, levels, profile};
//! use fivefig::issue::report;
//!
//! let rows = std::fs::read("samples/winter_jet.csv")?;
//! let text = std::fs::read_to_string("samples/winter_jet.toml")?;
//! let (sheet, _) = sheet::read(&[Source { name: "sheet", text: &text }]).map_err(|e| format!("{e:?}"))?;
//! let context = &sheet.context;
//! let (raw, _) = input::text::read(&rows, "winter_jet.csv", &sheet.reading)?;
//! let (ascent, _) = profile::build(&raw, context)?;
//!
//! let mut chosen = levels::choose(&ascent, &context.coding, &context.orders, Reach::Whole);
//! // A level of our own: the first row above 600 hPa.
//! let (number, row) = (ascent.rows.iter().enumerate())
//!     .find(|(_, row)| row.pressure_hpa.is_some_and(|p| p < 600.0))
//!     .expect("the ascent goes further up");
//! chosen.levels.push(Level {
//!     row: row.clone(),
//!     at: At::Row(number),
//!     roles: Roles::SIG_TEMPERATURE,
//!     why: vec![Reason { text: "wanted by a model".to_owned(), clause: "own choice".into() }],
//! });
//! chosen.levels.sort_by(|a, b| a.order().total_cmp(&b.order()));
//!
//! let (report, _) = report::build(Form::Temp, &ascent, chosen, context, Reach::Whole)
//!     .expect("the sheet has a release time");
//! let (message, _) = text::message(&report)?;
//! let coded = row.pressure_hpa.map(f64::round);
//! assert!(message.report().levels.iter().any(|level| {
//!     level.row.pressure_hpa == coded && level.roles.any(Roles::SIG_TEMPERATURE)
//! }));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Features
//!
//! | feature | what it adds | by default |
//! |---|---|---|
//! | `cli` | the command (`cli`), its argument parser and progress bar | yes |
//! | `desk` | the local page for preparing a report by hand | yes |
//! | `spool` | unattended export from a folder | yes |
//! | `netcdf` | NetCDF profiles | yes |
//! | `mqtt` | publishing a WIS2 notification to a broker that is named | no |
//!
//! With `--no-default-features` there is the library alone: no argument parser, no
//! server, no threads of its own, no clock and no environment.

#[cfg(feature = "cli")]
pub mod app;
pub mod forms;
pub mod guide;
pub mod input;
pub mod issue;
pub mod levels;
pub mod model;
pub mod physics;
pub mod profile;
pub mod tables;
pub mod verify;
pub mod view;
