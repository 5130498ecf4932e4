//! A sensor that shows the same to the last digit while the sonde moves on.

use super::series::{Series, rounding, span};
use crate::model::finding::{Finding, finding};
use crate::model::{Element, Row};
use crate::tables::profile_limits;

/// A run of rows in which an element does not change.
pub(super) struct Frozen {
    pub element: Element,
    pub first: usize,
    pub last: usize,
}

/// Tells constant sensors.
pub(super) fn check(series: &Series, findings: &mut Vec<Finding>) -> Vec<Frozen> {
    let mut all = Vec::new();
    let lim = profile_limits();
    for (element, name) in [
        (Element::Temperature, "temperature"),
        (Element::Humidity, "relative humidity"),
        (Element::Wind, "wind"),
    ] {
        let runs = runs(series, element);
        let coarse = !runs.is_empty() && is_whole(series, element);
        for (first, last) in runs {
            let value = series
                .row(first)
                .map_or_else(String::new, |r| shown(r, element));
            let (place, rows) = (series.place(first), span(first, last));
            let seconds = series.between_s(first, last);
            findings.push(match element {
                _ if coarse => finding!(
                    ConstantWholeNumbers,
                    place,
                    element = name,
                    value = value,
                    seconds = seconds,
                    rows = rows,
                    [most_s = lim.frozen_s]
                ),
                Element::Temperature => finding!(
                    TemperatureConstant,
                    place,
                    value = value,
                    seconds = seconds,
                    rows = rows,
                    [most_s = lim.frozen_s]
                ),
                Element::Humidity => finding!(
                    HumidityConstant,
                    place,
                    value = value,
                    seconds = seconds,
                    rows = rows,
                    [
                        most_s = lim.frozen_s,
                        wet_pct = lim.frozen_wet_pct,
                        dry_pct = lim.frozen_dry_pct
                    ]
                ),
                Element::Wind => finding!(
                    WindConstant,
                    place,
                    value = value,
                    seconds = seconds,
                    rows = rows,
                    [most_s = lim.frozen_s]
                ),
            });
            all.push(Frozen {
                element,
                first,
                last,
            });
        }
    }
    all
}

/// What two equal rows have in common.
fn value(row: &Row, element: Element) -> Option<(f64, f64)> {
    match element {
        Element::Temperature => row.temperature_c.map(|t| (t, 0.0)),
        Element::Humidity => row.humidity_pct.map(|u| (u, 0.0)),
        Element::Wind => row.wind.map(|w| (w.dir_deg, w.speed_ms)),
    }
}

fn shown(row: &Row, element: Element) -> String {
    let (a, b) = value(row, element).unwrap_or_default();
    match element {
        Element::Temperature => format!("{a:.2} °C"),
        Element::Humidity => format!("{a:.1} %"),
        Element::Wind => format!("{a:.1}° {b:.2} m/s"),
    }
}

/// Whether all values of an element are whole numbers.
fn is_whole(series: &Series, element: Element) -> bool {
    let values = series.own().filter_map(|(_, row)| value(row, element));
    rounding(values.flat_map(|(a, b)| [a, b])) >= 1.0
}

/// Runs of rows that are constant for too long while something else moves.
fn runs(series: &Series, element: Element) -> Vec<(usize, usize)> {
    let lim = profile_limits();
    let mut out = Vec::new();
    let mut run: Option<(usize, (f64, f64))> = None;
    let end = series.profile.rows.len();
    let mut close = |run: Option<(usize, (f64, f64))>, end: usize| {
        let Some((first, held)) = run else { return };
        let last = end.saturating_sub(1);
        let rows = super::series::count(end - first);
        let exempt = element == Element::Humidity
            && (held.0 == lim.frozen_wet_pct || held.0 < lim.frozen_dry_pct);
        let long = rows >= lim.frozen_rows && series.between_s(first, last) > lim.frozen_s;
        if long && !exempt && others_move(series, element, first, last) {
            out.push((first, last));
        }
    };
    for (at, row) in series.own() {
        let here = value(row, element);
        if run.is_some_and(|(_, held)| here == Some(held)) {
            continue;
        }
        close(run, at);
        run = here.map(|v| (at, v));
    }
    close(run, end);
    out
}

/// Whether another element, pressure or height changes within some rows.
fn others_move(series: &Series, element: Element, first: usize, last: usize) -> bool {
    let rows = series.profile.rows.get(first..=last).unwrap_or_default();
    let moves = |of: &dyn Fn(&Row) -> Option<(f64, f64)>| {
        let mut values = rows.iter().filter_map(of);
        values.next().is_some_and(|held| values.any(|v| v != held))
    };
    [Element::Temperature, Element::Humidity, Element::Wind]
        .into_iter()
        .any(|other| other != element && moves(&|r| value(r, other)))
        || moves(&|r| r.pressure_hpa.map(|p| (p, 0.0)))
        || moves(&|r| r.height_gpm.map(|z| (z, 0.0)))
}
