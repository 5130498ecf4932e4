//! Elements the operator withholds.

use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::{Element, Order, Row};

/// Masks what the orders withhold, both ends of each layer included.
pub(super) fn apply(rows: &mut [Row], orders: &[Order], findings: &mut Vec<Finding>) {
    for order in orders {
        if let Order::Withhold {
            element,
            from_hpa,
            to_hpa,
            reason,
        } = order
        {
            let layer = from_hpa.min(*to_hpa)..=from_hpa.max(*to_hpa);
            let inside = |r: &&mut Row| r.pressure_hpa.is_some_and(|p| layer.contains(&p));
            let mut count = 0;
            for row in rows.iter_mut().filter(inside) {
                count += 1;
                mask(row, *element);
            }
            let element = match element {
                Element::Temperature => "temperature (and humidity)",
                Element::Humidity | Element::Wind => element.name(),
            };
            let place = Place::key("withhold");
            findings.push(if count == 0 {
                finding!(
                    NothingWithheld,
                    place,
                    element = element,
                    from_hpa = from_hpa,
                    to_hpa = to_hpa
                )
            } else {
                finding!(
                    Withheld,
                    place,
                    element = element,
                    from_hpa = from_hpa,
                    to_hpa = to_hpa,
                    rows = counted(count, "row"),
                    reason = reason
                )
            });
        }
    }
}

fn mask(row: &mut Row, element: Element) {
    match element {
        Element::Wind => row.wind = None,
        Element::Humidity => (row.humidity_pct, row.dewpoint_c) = (None, None),
        Element::Temperature => {
            row.temperature_c = None;
            mask(row, Element::Humidity);
        }
    }
}
