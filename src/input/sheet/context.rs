//! A context that a program made, checked as if a sheet gave it.

use serde::Serialize;

use super::{SheetError, Source, read};
use crate::model::finding::Place;
use crate::model::{
    Action, Balloon, BufrOptions, Bulletin, Clouds, Coding, Context, Doubted, Element, Equipment,
    Flight, GivenGroups, Meaning, Noted, Order, Station, Surface, Wis2Options,
};

/// A context as the tables of a sheet.
#[derive(Serialize)]
struct Tables<'a> {
    station: &'a Station,
    flight: &'a Flight,
    profile: &'a Meaning,
    surface: Option<&'a Surface>,
    clouds: Option<&'a Clouds>,
    equipment: &'a Equipment,
    balloon: &'a Balloon,
    coding: &'a Coding,
    bulletin: &'a Bulletin,
    section9: &'a GivenGroups,
    section10: &'a GivenGroups,
    bufr: &'a BufrOptions,
    wis2: &'a Wis2Options,
    level: Vec<Level<'a>>,
    withhold: Vec<Layer<'a, Element>>,
    doubtful: Vec<Layer<'a, Doubted>>,
}

#[derive(Serialize)]
struct Level<'a> {
    action: Action,
    pressure_hpa: f64,
    reason: &'a str,
}

#[derive(Serialize)]
struct Layer<'a, E> {
    element: E,
    from_hpa: f64,
    to_hpa: f64,
    reason: &'a str,
}

impl<'a> Tables<'a> {
    fn of(context: &'a Context) -> Self {
        let mut tables = Self {
            station: &context.station,
            flight: &context.flight,
            profile: &context.meaning,
            surface: context.surface.as_ref(),
            clouds: context.clouds.as_ref(),
            equipment: &context.equipment,
            balloon: &context.balloon,
            coding: &context.coding,
            bulletin: &context.bulletin,
            section9: &context.section9,
            section10: &context.section10,
            bufr: &context.bufr,
            wis2: &context.wis2,
            level: Vec::new(),
            withhold: Vec::new(),
            doubtful: Vec::new(),
        };
        for order in &context.orders {
            match order {
                Order::Level {
                    action,
                    pressure_hpa,
                    reason,
                } => tables.level.push(Level {
                    action: *action,
                    pressure_hpa: *pressure_hpa,
                    reason,
                }),
                Order::Withhold {
                    element,
                    from_hpa,
                    to_hpa,
                    reason,
                } => tables.withhold.push(Layer {
                    element: *element,
                    from_hpa: *from_hpa,
                    to_hpa: *to_hpa,
                    reason,
                }),
                Order::Doubtful {
                    doubtful,
                    from_hpa,
                    to_hpa,
                    reason,
                } => tables.doubtful.push(Layer {
                    element: *doubtful,
                    from_hpa: *from_hpa,
                    to_hpa: *to_hpa,
                    reason,
                }),
            }
        }
        tables
    }
}

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
/// let faults = check_context(&context).unwrap_err();
/// let first = faults[0].to_string();
/// assert_eq!(first, "`station.elevation_m` = 9001.0 is out of range (-450 to 9000)");
/// ```
pub fn check_context(context: &Context) -> Result<(), Vec<SheetError>> {
    complete_context(context).map(|_| ())
}

/// A context that a program made, checked as [`check_context`] does and completed as a
/// sheet is: the standard time that a release serves, where none is given.
///
/// # Errors
/// As [`check_context`].
pub(crate) fn complete_context(context: &Context) -> Result<Noted<Context>, Vec<SheetError>> {
    let text = match toml::to_string(&Tables::of(context)) {
        Ok(text) => text,
        Err(error) => {
            let message = error.to_string();
            let fault = super::Fault::Syntax { message };
            let place = Place::default();
            return Err(vec![SheetError { place, fault }]);
        }
    };
    let source = Source {
        name: "",
        text: &text,
    };
    match read(&[source]) {
        Ok((sheet, mut findings)) => {
            for finding in &mut findings {
                finding.place = of_the_key(&finding.place);
            }
            Ok(Noted {
                value: sheet.context,
                findings,
            })
        }
        Err(faults) => Err(faults
            .into_iter()
            .map(|error| SheetError {
                place: of_the_key(&error.place),
                ..error
            })
            .collect()),
    }
}

/// The key of a place alone: the text it stands in is of no file.
fn of_the_key(place: &Place) -> Place {
    Place {
        key: place.key.clone(),
        ..Place::default()
    }
}
