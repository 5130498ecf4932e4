//! A context that a program made, checked as if a sheet gave it.

use super::{Fault, SheetError, SheetFault, Source, keys, read};
use crate::model::Context;
use crate::model::finding::Place;

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
/// context.station.wmo_block = Some(250);
/// context.station.wmo_number = Some(7);
/// context.flight.release = Some(jiff::civil::date(2031, 1, 15).at(11, 23, 40, 0));
/// let error = check_context(&context).unwrap_err();
/// assert_eq!(error.to_string(), "`station.wmo_block` = 250 is out of range (1 to 99)");
/// ```
pub fn check_context(context: &Context) -> Result<(), SheetError> {
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
    read(&[source]).map_err(|error| error.map(of_the_key))?;
    Ok(())
}

/// The fault with its key alone: the text it was found in is of no file.
fn of_the_key(fault: SheetFault) -> SheetFault {
    let place = Place {
        key: fault.place.key,
        ..Place::default()
    };
    SheetFault { place, ..fault }
}
