//! The one error that a user of the library meets.

use std::error::Error as StdError;
use std::fmt;

use crate::forms::bufr::{BufrError, NotSounding, NotWritten};
use crate::forms::json::JsonError;
use crate::forms::text::{BulletinError, CodeError, ParseError};
use crate::forms::wis2::Wis2Error;
use crate::input::SourceError;
use crate::input::messages::NoReport;
use crate::input::sheet::SheetError;
use crate::issue::folder::FolderError;
use crate::issue::outputs::{IssueError, OutputError};
use crate::issue::report::NotReported;
use crate::issue::{FlightError, NoCorrection, Refused};
use crate::model::InvalidValue;
use crate::model::finding::Place;
use crate::profile::ProfileError;
use crate::tables::figure::FigureError;
use crate::verify::rows::RowFault;
use crate::verify::station::ListError;

/// What kind of error it is, and so where to look for the cause.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ErrorKind {
    /// A value that a type cannot hold: an identifier, a position, a time.
    InvalidValue,
    /// Station, flight or practice: a value is missing or outside its range.
    Context,
    /// The rows are not an ascent, or a row has a value outside its range.
    Rows,
    /// The file is not a profile or a table of stations.
    File,
    /// The form cannot hold this flight; another form may.
    Form,
    /// A value does not fit its figure in the text or its bits in BUFR.
    Unfit,
    /// A text is not a message of the code form.
    Text,
    /// Bytes are not a BUFR message, or not one of a sounding.
    Bufr,
    /// A text is not a JSON document of reports.
    Json,
    /// No bulletin, correction, notification or folder of an issue is made.
    Issue,
}

/// Why something was not read, made or written.
///
/// Every error of the library converts into it, so that `?` works everywhere. It prints
/// what happened, where, and what is allowed; [`Error::get_ref`] gives the error of the
/// module that it came from.
///
/// ```
/// use fivefig::prelude::*;
/// use fivefig::ErrorKind;
///
/// // Invented; the direction of the surface wind has a letter in it.
/// let text = "TTAA 15110 99011 99004 04430 23X06 88999 77999=";
/// let error = Error::from(Message::parse(text).unwrap_err());
/// assert_eq!(error.kind(), ErrorKind::Text);
/// assert_eq!((error.place().part, error.place().group), (Some('A'), Some(6)));
/// ```
pub struct Error(Box<Inner>);

struct Inner {
    kind: ErrorKind,
    place: Place,
    source: Box<dyn StdError + Send + Sync>,
}

impl Error {
    fn new(kind: ErrorKind, place: Place, source: impl StdError + Send + Sync + 'static) -> Self {
        Self(Box::new(Inner {
            kind,
            place,
            source: Box::new(source),
        }))
    }

    /// What kind of error it is.
    #[must_use]
    pub fn kind(&self) -> ErrorKind {
        self.0.kind
    }

    /// Where the cause is, as far as it is known: file and line, key of the sheet, part
    /// and group of the message. Rows of a program count as lines, from 1.
    #[must_use]
    pub fn place(&self) -> &Place {
        &self.0.place
    }

    /// The error of the module that it came from, to be downcast.
    #[must_use]
    pub fn get_ref(&self) -> &(dyn StdError + Send + Sync + 'static) {
        &*self.0.source
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.source.fmt(f)
    }
}

impl fmt::Debug for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Error")
            .field("kind", &self.0.kind)
            .field("place", &self.0.place)
            .field("source", &self.0.source)
            .finish()
    }
}

impl StdError for Error {
    // What is printed is the text of the inner error, so the chain goes on below it.
    fn source(&self) -> Option<&(dyn StdError + 'static)> {
        self.0.source.source()
    }
}

/// Where each error of a module comes from: its kind and its place.
trait Cause: StdError + Send + Sync + Sized + 'static {
    fn kind(&self) -> ErrorKind;

    fn place(&self) -> Place {
        Place::default()
    }
}

/// For each error of a module its kind, its place where it has one, and the conversion.
macro_rules! causes {
    ($($(#[$on:meta])* $cause:ty: |$error:ident| $kind:expr $(, $place:expr)?;)+) => {$(
        $(#[$on])*
        impl Cause for $cause {
            #[allow(unused_variables, reason = "many have one kind, whatever they say")]
            fn kind(&self) -> ErrorKind {
                let $error = self;
                $kind
            }

            $(fn place(&self) -> Place {
                let $error = self;
                $place
            })?
        }

        $(#[$on])*
        impl From<$cause> for Error {
            fn from(cause: $cause) -> Self {
                Self::new(Cause::kind(&cause), Cause::place(&cause), cause)
            }
        }
    )+};
}

causes! {
    InvalidValue: |e| ErrorKind::InvalidValue;
    jiff::Error: |e| ErrorKind::InvalidValue;
    SheetError: |e| ErrorKind::Context, {
        e.faults().first().map_or_else(Place::default, |fault| fault.place.clone())
    };
    SourceError: |e| ErrorKind::File, e.place();
    ListError: |e| ErrorKind::File, match e {
        ListError::Row { line, .. } => Place {
            line: usize::try_from(*line).ok(),
            ..Place::default()
        },
        _ => Place::default(),
    };
    ProfileError: |e| ErrorKind::Rows, e.place();
    RowFault: |e| ErrorKind::Rows, match e {
        RowFault::TooFew { .. } => Place::default(),
        RowFault::NoCoordinate { number, .. }
        | RowFault::Order { number, .. }
        | RowFault::OutOfBounds { number, .. } => Place {
            line: Some(*number),
            ..Place::default()
        },
    };
    NotReported: |e| match e {
        NotReported::Rows(fault) => Cause::kind(fault),
        _ => ErrorKind::Context,
    }, match e {
        NotReported::NoRelease => Place::key("flight.release"),
        NotReported::Context(faults) => Cause::place(faults),
        NotReported::Rows(fault) => Cause::place(fault),
        NotReported::Order(order) => Place::key(&order.key),
    };
    Refused: |e| match e {
        Refused::Report(why) => Cause::kind(why),
        Refused::Code(why) => Cause::kind(why),
        Refused::NoStandard => ErrorKind::Context,
        Refused::Stopped(_) => ErrorKind::Rows,
        _ => ErrorKind::Form,
    }, match e {
        Refused::Report(why) => Cause::place(why),
        Refused::Code(why) => Cause::place(why),
        Refused::NoStandard => Place::key("flight.standard_time"),
        Refused::Stopped(findings) => {
            findings.first().map_or_else(Place::default, |f| f.place.clone())
        }
        _ => Place::default(),
    };
    FlightError: |e| match e {
        FlightError::Sheets(_) | FlightError::NoSheet { .. } => ErrorKind::Context,
        FlightError::Source(why) => Cause::kind(why),
        FlightError::Profile(why) => Cause::kind(why),
        FlightError::Refused { why, .. } => Cause::kind(why),
    }, match e {
        FlightError::Sheets(faults) => Cause::place(faults),
        FlightError::NoSheet { name } => Place::default().in_file(name),
        FlightError::Source(why) => Cause::place(why),
        FlightError::Profile(why) => Cause::place(why),
        FlightError::Refused { name, why } => {
            let place = Cause::place(why);
            if place.file.is_some() { place } else { place.in_file(name) }
        }
    };
    FigureError: |e| ErrorKind::Unfit;
    CodeError: |e| match e {
        CodeError::Lacks(_) => ErrorKind::Context,
        CodeError::NoForm | CodeError::NoTextCode => ErrorKind::Form,
        CodeError::Figure { .. } | CodeError::Ident(_) | CodeError::NotReadBack { .. } => {
            ErrorKind::Unfit
        }
    }, match e {
        CodeError::Figure { pressure_hpa, .. } => Place::pressure(*pressure_hpa),
        CodeError::NotReadBack { part, group, .. } => Place {
            part: Some(*part),
            group: Some(*group),
            ..Place::default()
        },
        _ => Place::default(),
    };
    ParseError: |e| ErrorKind::Text, e.place();
    NotWritten: |e| match e {
        NotWritten::Template { .. } | NotWritten::Time | NotWritten::Text { .. } => {
            ErrorKind::Context
        }
        NotWritten::NoTemplate(_) => ErrorKind::Form,
        NotWritten::NoStart => ErrorKind::Rows,
        NotWritten::Value(_) | NotWritten::Count { .. } | NotWritten::Message(_) => {
            ErrorKind::Unfit
        }
    }, match e {
        NotWritten::Text { key, .. } => Place::key(key),
        _ => Place::default(),
    };
    NoReport: |e| ErrorKind::Text, Place::default().in_file(&e.name);
    BufrError: |e| ErrorKind::Bufr;
    NotSounding: |e| ErrorKind::Bufr;
    JsonError: |e| ErrorKind::Json, match e {
        JsonError::Form { line, column, .. } => Place {
            line: Some(*line),
            column: Some(*column),
            ..Place::default()
        },
        _ => Place::default(),
    };
    serde_json::Error: |e| ErrorKind::Json;
    BulletinError: |e| ErrorKind::Issue;
    Wis2Error: |e| ErrorKind::Issue;
    FolderError: |e| ErrorKind::Issue;
    NoCorrection: |e| ErrorKind::Issue;
    OutputError: |e| match e {
        OutputError::NeedsFlight(_) => ErrorKind::Issue,
        OutputError::Code(why) => Cause::kind(why),
        OutputError::Bulletin(why) => Cause::kind(why),
        OutputError::Json(why) => Cause::kind(why),
        OutputError::Bufr(why) => Cause::kind(why),
        #[cfg(feature = "parquet")]
        OutputError::Arrow(_) | OutputError::Parquet(_) => ErrorKind::Issue,
        OutputError::NetCdf(_) | OutputError::Igra(_) | OutputError::Sheet(_) => ErrorKind::Issue,
    }, match e {
        OutputError::Code(why) => Cause::place(why),
        OutputError::Bufr(why) => Cause::place(why),
        _ => Place::default(),
    };
    IssueError: |e| match e {
        IssueError::Output(why) => Cause::kind(why),
        IssueError::Flight(why) => Cause::kind(why),
        _ => ErrorKind::Issue,
    }, match e {
        IssueError::Output(why) => Cause::place(why),
        IssueError::Flight(why) => Cause::place(why),
        _ => Place::default(),
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_chain_of_causes_repeats_no_text() {
        let inner = NotReported::NoRelease;
        let error = Error::from(FlightError::Refused {
            name: "x.csv".to_owned(),
            why: Refused::Report(inner.clone()),
        });
        assert_eq!(error.kind(), ErrorKind::Context);
        assert_eq!(error.place().file.as_deref(), Some("x.csv"));
        assert_eq!(error.place().key.as_deref(), Some("flight.release"));
        assert!(error.get_ref().downcast_ref::<FlightError>().is_some());
        let printed = error.to_string();
        let mut cause = error.source();
        while let Some(error) = cause {
            assert_ne!(error.to_string(), printed);
            cause = error.source();
        }
    }

    #[test]
    fn it_crosses_threads() {
        fn sent<T: Send + Sync + 'static>(_: &T) {}
        sent(&Error::from(InvalidValue::new("latitude", 91, "-90 to 90")));
    }
}
