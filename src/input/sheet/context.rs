//! A context that a program made, checked as if a sheet gave it.

use super::{Fault, SheetError, SheetFault, Source, keys, read};
use crate::model::finding::Place;
use crate::model::{Context, Noted};

/// Checks a context by the rules of a sheet: ranges, shapes of texts, keys that
/// must be there and keys that exclude each other.
///
/// A context that [`read`] gave passes.
///
/// # Errors
/// Every fault, each with the key of the sheet that the value belongs to.
///
/// ```
/// use fivefig::input::sheet::check_context;
/// use fivefig::model::Context;
///
/// let mut context = Context::default();
/// context.station.elevation_m = Some(9001.0);
/// context.flight.release = Some(jiff::civil::date(2031, 1, 15).at(11, 23, 40, 0));
/// let error = check_context(&context).unwrap_err().to_string();
/// assert_eq!(error, "`station.elevation_m` = 9001.0 is out of range (-450 to 9000)");
/// ```
pub fn check_context(context: &Context) -> Result<(), SheetError> {
    complete_context(context).map(|_| ())
}

/// A context that a program made, checked as [`check_context`] does and completed as a
/// sheet is: the standard time that a release serves, where none is given.
///
/// # Errors
/// As [`check_context`].
pub(crate) fn complete_context(context: &Context) -> Result<Noted<Context>, SheetError> {
    let tables = keys::tables(context).map_err(|error| SheetFault {
        place: Place::default(),
        fault: Fault::Syntax {
            message: error.to_string(),
        },
    })?;
    let source = Source {
        name: "",
        text: &tables.to_string(),
    };
    let (sheet, mut findings) = read(&[source]).map_err(|error| {
        error.map(|fault| SheetFault {
            place: of_the_key(&fault.place),
            ..fault
        })
    })?;
    for finding in &mut findings {
        finding.place = of_the_key(&finding.place);
    }
    Ok((sheet.context, findings).into())
}

/// The key of a place alone: the text it stands in is of no file.
fn of_the_key(place: &Place) -> Place {
    Place {
        key: place.key.clone(),
        ..Place::default()
    }
}
