//! The integration tests, in one binary: one file per subject, and what they share.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::print_stderr,
    clippy::print_stdout,
    clippy::unwrap_used,
    reason = "a test may fail at any place"
)]

mod archive;
mod arrows;
mod batch;
mod bufr;
mod bufr_command;
mod bufr_second_reader;
mod bufr_vectors;
mod columns;
mod command;
mod continuity;
mod damaged;
mod derivations;
mod descent;
mod desk;
mod desk_issue;
mod draw;
mod english;
mod flights;
mod forms;
mod generate;
mod ground_check;
mod gts;
mod guide;
mod handover;
mod hostile;
mod init;
mod installed;
mod issue;
mod json;
mod kinks;
mod library;
mod licences;
mod messages;
mod minimum;
mod month;
mod netcdf;
mod odd_flights;
mod output;
mod practice;
mod properties;
mod properties_bufr;
mod rebuild;
mod review;
mod round_trip;
mod slips;
mod spool;
mod spool_kills;
mod standard_atmosphere;
mod streams;
mod vector_files;
mod words;

// What several of them use.
#[cfg(feature = "netcdf")]
#[allow(
    dead_code,
    reason = "the unit tests of the reader write more kinds of file"
)]
#[path = "../../src/input/netcdf/tests/classic.rs"]
mod classic;
mod judge;
mod scene;
#[path = "../bench/second_reader.rs"]
mod second_reader;
#[cfg(all(feature = "desk", unix))]
mod served;
#[path = "../bench/soundings.rs"]
mod soundings;
mod support;
mod within;
