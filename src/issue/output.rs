//! Each output of a flight, described once: the command, the desk, the spool and the
//! folders of issues follow from the descriptions. A new output is a new entry here.

use std::collections::BTreeSet;

use thiserror::Error;

use super::{Earlier, Flight, LevelContent};
use crate::forms::bufr::NotWritten;
#[cfg(feature = "parquet")]
use crate::forms::columnar;
use crate::forms::json::Record;
use crate::forms::text::{Bbb, BulletinError, CodeError, Envelope, Message};
use crate::forms::{bufr, gts, igra, json, netcdf, text};
use crate::input::sheet;
use crate::model::finding::Finding;
use crate::model::{At, Form, Noted, Part, Report};
#[cfg(feature = "cli")]
use crate::profile::Positions;
use crate::view::diagram::Theme;

/// The octets of an output, and what was found in writing them.
pub type Written = Noted<Vec<u8>>;

/// The outputs that are wanted.
pub type Wanted = BTreeSet<Output>;

/// How outputs are written.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Options {
    /// The levels of JSON and BUFR; `None`: chosen in JSON, all in BUFR.
    pub levels: Option<LevelContent>,
    /// BBB of the headings.
    pub bbb: Option<Bbb>,
    /// Parts that go out for the first time beside a correction: their headings have
    /// no BBB.
    pub unsent: BTreeSet<Part>,
    /// What stands around each bulletin.
    pub envelope: Envelope,
    /// What is left out of an output that carries both text and BUFR.
    pub without: Option<Content>,
}

/// Why an output is not written.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum OutputError {
    /// An output that shows a flight, of NIL.
    #[error("{} needs a flight, and NIL has none", .0.name())]
    NeedsFlight(Output),
    /// No text code.
    #[error(transparent)]
    Code(#[from] CodeError),
    /// A piece of the heading.
    #[error(transparent)]
    Bulletin(#[from] BulletinError),
    /// A number that JSON cannot hold.
    #[error("the JSON document cannot be written: {0}")]
    Json(#[from] serde_json::Error),
    /// BUFR cannot hold the report.
    #[error(transparent)]
    Bufr(#[from] NotWritten),
    /// A table that is not made.
    #[cfg(feature = "parquet")]
    #[error(transparent)]
    Arrow(#[from] arrow_schema::ArrowError),
    /// A table that is not written.
    #[cfg(feature = "parquet")]
    #[error(transparent)]
    Parquet(#[from] parquet::errors::ParquetError),
    /// NetCDF cannot hold the report.
    #[error(transparent)]
    NetCdf(#[from] netcdf::NotWritten),
    /// A station file cannot hold the report.
    #[error(transparent)]
    Igra(#[from] igra::NotWritten),
    /// The context cannot be written as a sheet.
    #[error("the sheet cannot be written: {0}")]
    Sheet(#[from] toml::ser::Error),
}

/// What an output carries of a report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Content {
    /// The parts of the text code: after an earlier message those that changed, or that
    /// were not sent.
    Parts,
    /// The whole sounding in BUFR, octets rather than text: a correction has the next
    /// update number.
    Sounding,
    /// Both of these.
    Both,
    /// The levels as a table for other programs. It is not sent.
    Table,
    /// The whole flight for the eye. It is not sent, so it goes along with another output.
    Review,
    /// The whole flight for an archive. It is not sent either.
    Archive,
}

impl Content {
    /// Whether it is sent to anyone.
    #[must_use]
    pub fn is_sent(self) -> bool {
        !matches!(self, Self::Review | Self::Archive)
    }

    /// Whether parts of the text code are in it.
    #[must_use]
    pub fn has_parts(self) -> bool {
        matches!(self, Self::Parts | Self::Both)
    }

    /// Whether the sounding in BUFR is in it.
    #[must_use]
    pub fn has_sounding(self) -> bool {
        matches!(self, Self::Sounding | Self::Both)
    }
}

/// Everything about an output but its name in Rust.
struct Description {
    /// The name in options and fields.
    name: &'static str,
    /// The file in the folder of an issue; `None`: it is written by itself.
    file: Option<&'static str>,
    media_type: &'static str,
    content: Content,
    /// What stands between the outputs of two flights in one file; `None`: a file holds
    /// one flight.
    between: Option<&'static str>,
    /// Whether NIL, which has no flight, cannot be written.
    needs_flight: bool,
    /// Whether it tells where the sonde was.
    #[cfg_attr(not(feature = "cli"), expect(dead_code, reason = "the command asks"))]
    has_positions: bool,
    write: fn(&Subject<'_>, &Options) -> Result<Written, OutputError>,
}

macro_rules! outputs {
    ($($(#[$on:meta])* $variant:ident: $help:literal, $description:expr;)*) => {
        /// An output of a flight.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum Output {
            $(#[doc = $help] $(#[$on])* $variant,)*
        }

        impl Output {
            /// All of them, in the order in which they are written.
            pub const ALL: &[Self] = &[$($(#[$on])* Self::$variant),*];

            /// What it is, in one line.
            #[must_use]
            pub fn help(self) -> &'static str {
                match self { $($(#[$on])* Self::$variant => $help,)* }
            }

            fn description(self) -> Description {
                match self { $($(#[$on])* Self::$variant => $description,)* }
            }
        }
    };
}

outputs! {
    Text: "The symbolic code, Parts A to D", Description {
        name: "text",
        file: Some("text.txt"),
        media_type: "text/plain; charset=us-ascii",
        content: Content::Parts,
        between: Some("\n"),
        needs_flight: false,
        has_positions: false,
        write: |subject, _| Ok(plain(subject.message()?.to_string())),
    };
    Bulletin: "Bulletins: one heading for each part, lines after CR CR LF", Description {
        name: "bulletin",
        file: Some("bulletin.txt"),
        media_type: "text/plain; charset=us-ascii",
        content: Content::Parts,
        between: Some(""),
        needs_flight: false,
        has_positions: false,
        write: bulletins,
    };
    Json: "A JSON document: values, reasons, groups, findings, fidelity", Description {
        name: "json",
        file: Some("report.json"),
        media_type: "application/json",
        content: Content::Parts,
        between: None,
        needs_flight: false,
        has_positions: true,
        write: |subject, options| {
            Ok(plain(json::write(vec![subject.record(options.levels)])?))
        },
    };
    Jsonl: "The same, one line per report; of JSON Lines of flights one line for each, with its id and the report or the error", Description {
        name: "jsonl",
        file: None,
        media_type: "application/jsonl",
        content: Content::Parts,
        between: Some(""),
        needs_flight: false,
        has_positions: true,
        write: |subject, options| {
            Ok(plain(json::write_line(&subject.record(options.levels))?))
        },
    };
    Bufr: "BUFR edition 4", Description {
        name: "bufr",
        file: Some("sounding.bufr"),
        media_type: "application/bufr",
        content: Content::Sounding,
        between: Some(""),
        needs_flight: false,
        has_positions: true,
        write: |subject, options| Ok(bufr::write(&subject.for_bufr(options.levels))?),
    };
    BufrBulletin: "BUFR as a bulletin, under a heading such as IUK or IUS", Description {
        name: "bufr-bulletin",
        file: Some("bulletin.bin"),
        media_type: "application/octet-stream",
        content: Content::Sounding,
        between: Some(""),
        needs_flight: false,
        has_positions: true,
        write: bufr_bulletin,
    };
    Gts: "Bulletins in text and BUFR in one file, each with its length and format identifier", Description {
        name: "gts",
        file: None,
        media_type: "application/octet-stream",
        content: Content::Both,
        between: Some(""),
        needs_flight: false,
        has_positions: true,
        write: gathered,
    };
    Wis2: "BUFR and its WIS2 notification, two files in the output folder", Description {
        name: "wis2",
        file: None,
        media_type: "application/bufr",
        content: Content::Sounding,
        between: None,
        needs_flight: true,
        has_positions: true,
        write: |subject, options| Ok(bufr::write(&subject.for_bufr(options.levels))?),
    };
    #[cfg(feature = "parquet")]
    Parquet: "The levels as a table, a Parquet file", Description {
        name: "parquet",
        file: None,
        media_type: "application/vnd.apache.parquet",
        content: Content::Table,
        between: None,
        needs_flight: true,
        has_positions: true,
        write: |subject, options| {
            let mut levels = columnar::Levels::new();
            subject.levels(options.levels, &mut levels);
            let file = columnar::parquet::file(&levels.take()?)?;
            Ok((file, Vec::new()).into())
        },
    };
    NetCdf: "NetCDF by the CF conventions, every row, for an archive", Description {
        name: "netcdf",
        file: Some("sounding.nc"),
        media_type: "application/x-netcdf",
        content: Content::Archive,
        between: None,
        needs_flight: true,
        has_positions: true,
        write: |subject, options| {
            let report = subject.for_archive(options.levels);
            let sheet = sheet::context_tables(&report.context)?;
            Ok((netcdf::write(&report, &sheet)?, Vec::new()).into())
        },
    };
    Igra: "A sounding of an IGRA v2 station file, every row, for an archive", Description {
        name: "igra",
        file: Some("sounding.igra.txt"),
        media_type: "text/plain; charset=us-ascii",
        content: Content::Archive,
        between: Some(""),
        needs_flight: true,
        has_positions: true,
        write: |subject, options| {
            Ok(plain(igra::write(&subject.for_archive(options.levels))?))
        },
    };
    Html: "A review sheet, to be checked before the message is sent", Description {
        name: "html",
        file: Some("review.html"),
        media_type: "text/html; charset=utf-8",
        content: Content::Review,
        between: None,
        needs_flight: true,
        has_positions: true,
        write: |subject, _| subject.review(),
    };
}

impl Output {
    /// Its name in options and fields.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.description().name
    }

    /// The output of that name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        let mut all = Self::ALL.iter().copied();
        all.find(|output| output.name() == name)
    }

    /// The file it is in the folder of an issue; `None` where it is written by itself.
    #[must_use]
    pub fn file(self) -> Option<&'static str> {
        self.description().file
    }

    /// The file in an issue, or the name of what is written by itself.
    pub(super) fn file_or_name(self) -> &'static str {
        self.file().unwrap_or(self.name())
    }

    /// Those that go together into the folder of an issue.
    pub fn issued() -> impl Iterator<Item = Self> {
        let all = Self::ALL.iter().copied();
        all.filter(|output| output.file().is_some())
    }

    /// Its media type.
    #[must_use]
    pub fn media_type(self) -> &'static str {
        self.description().media_type
    }

    /// Which positions a flight needs that is written as this alone.
    #[cfg(feature = "cli")]
    pub(crate) fn positions(self) -> Positions {
        if self.description().has_positions {
            Positions::FromWind
        } else {
            Positions::Unasked
        }
    }

    /// What it carries of a report.
    #[must_use]
    pub fn content(self) -> Content {
        self.description().content
    }

    /// What stands between the outputs of two flights in one file; `None` where a file
    /// holds one flight.
    #[must_use]
    pub fn between(self) -> Option<&'static str> {
        self.description().between
    }

    /// Whether it needs a flight, so that there is none of NIL.
    #[must_use]
    pub fn needs_flight(self) -> bool {
        self.description().needs_flight
    }

    pub(super) fn write(
        self,
        subject: &Subject<'_>,
        options: &Options,
    ) -> Result<Written, OutputError> {
        (self.description().write)(subject, options)
    }
}

/// What outputs are written from.
#[derive(Clone, Copy)]
pub(super) enum Subject<'a> {
    /// A flight, and what a review sheet compares it with.
    Flight {
        /// What has parts of the text is written from this one.
        flight: &'a Flight,
        /// What is whole, from this one.
        whole: &'a Flight,
        earlier: Option<&'a Earlier>,
    },
    /// That there is no report.
    Nil {
        report: &'a Report,
        message: &'a Message,
        /// Those of the sheet.
        findings: &'a [Finding],
    },
}

impl Subject<'_> {
    fn report(&self) -> &Report {
        match self {
            Self::Flight { flight, .. } => &flight.report,
            Self::Nil { report, .. } => report,
        }
    }

    /// The text code, or why there is none.
    fn message(&self) -> Result<&Message, CodeError> {
        match self {
            Self::Nil { message, .. } => Ok(message),
            Self::Flight { flight, .. } => flight.message.as_ref().ok_or_else(|| {
                let why = text::message(&flight.report).err();
                why.unwrap_or(CodeError::NoTextCode)
            }),
        }
    }

    fn record(&self, levels: Option<LevelContent>) -> Record {
        match *self {
            Self::Flight { flight, .. } => flight.record(levels),
            Self::Nil {
                report,
                message,
                findings,
            } => Record::new(report, Some(message), findings, None),
        }
    }

    /// The levels as rows of a table.
    #[cfg(feature = "parquet")]
    fn levels(&self, levels: Option<LevelContent>, table: &mut columnar::Levels) {
        if let Self::Flight { flight, .. } = self {
            flight.add_levels(levels, table);
        }
    }

    fn for_bufr(&self, levels: Option<LevelContent>) -> Report {
        match self {
            Self::Flight { whole, .. } => whole.for_bufr(levels),
            Self::Nil { report, .. } => (*report).clone(),
        }
    }

    /// The rows alone, unless the chosen levels are asked for: readers of an archive would
    /// take levels between rows for rows.
    fn for_archive(&self, levels: Option<LevelContent>) -> Report {
        let mut report = self.for_bufr(levels);
        if levels != Some(LevelContent::Chosen) {
            let made = |at: At| matches!(at, At::Interpolated | At::Extrapolated);
            report.levels.retain(|level| !made(level.at));
        }
        report
    }

    /// The review sheet, in the colours that the reader's system asks for.
    fn review(&self) -> Result<Written, OutputError> {
        let Self::Flight { whole, earlier, .. } = self else {
            return Err(OutputError::NeedsFlight(Output::Html));
        };
        let was = earlier.map(|earlier| (earlier.name.as_str(), &earlier.report));
        Ok(plain(whole.review(was, Theme::Auto)))
    }
}

/// A text in writing which nothing was found.
fn plain(text: String) -> Written {
    (text.into_bytes(), Vec::new()).into()
}

/// The bulletins of a message, those of parts that go out for the first time last.
fn bulletins(subject: &Subject<'_>, options: &Options) -> Result<Written, OutputError> {
    let (report, message) = (subject.report(), subject.message()?);
    let mut envelope = options.envelope;
    let with = |unsent: bool| {
        let mut some = message.clone();
        some.parts
            .retain(|part, _| options.unsent.contains(part) == unsent);
        some
    };
    let (known, unsent) = (with(false), with(true));
    let mut text = text::bulletins(&[(report, &known)], options.bbb.as_ref(), envelope)?;
    // The channel numbers go on.
    envelope.channel = known
        .parts
        .iter()
        .fold(envelope.channel, |number, _| number.map(text::next_channel));
    text.push_str(&text::bulletins(&[(report, &unsent)], None, envelope)?);
    let octets = text.into_bytes();
    let findings = too_long(&octets);
    Ok((octets, findings).into())
}

/// Bulletins that are longer than what is transmitted.
fn too_long(octets: &[u8]) -> Vec<Finding> {
    let found = gts::bulletins(octets);
    found.iter().filter_map(gts::Bulletin::too_long).collect()
}

/// Bulletins in text and in BUFR as one file of messages with their lengths.
fn gathered(subject: &Subject<'_>, options: &Options) -> Result<Written, OutputError> {
    let mut written: Written = (Vec::new(), Vec::new()).into();
    let mut count = 0_usize;
    let mut add = |one: Written| {
        for bulletin in gts::bulletins(&one.value) {
            written.value.extend(gts::framed(&bulletin));
            count += 1;
        }
        written.findings.extend(one.findings);
    };
    let mut options = options.clone();
    // What has no text code goes out in BUFR alone.
    if options.without != Some(Content::Parts) && subject.report().form != Form::Descent {
        let parts = subject.message()?.parts.len();
        add(bulletins(subject, &options)?);
        let channel = &mut options.envelope.channel;
        (0..parts).for_each(|_| *channel = channel.map(text::next_channel));
    }
    if options.without != Some(Content::Sounding) {
        add(bufr_bulletin(subject, &options)?);
    }
    written.findings.extend(gts::too_many(count));
    Ok(written)
}

fn bufr_bulletin(subject: &Subject<'_>, options: &Options) -> Result<Written, OutputError> {
    let report = subject.for_bufr(options.levels);
    let Noted { value, findings } = bufr::write(&report)?;
    let (bbb, envelope) = (options.bbb.as_ref(), options.envelope);
    let (octets, notes) = text::bufr_bulletin(&report, &value, bbb, envelope)?;
    let long = too_long(&octets);
    Ok((octets, [findings, notes, long].concat()).into())
}
