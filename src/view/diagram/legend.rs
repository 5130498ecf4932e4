//! Below the panels: what the marks and lines mean, and how well the message
//! gives the flight back.

use super::data::Data;
use super::labels::{Anchor, Area, cut};
use super::marks;
use super::marks::Shape;
use super::page::{Page, SMALL};
use super::panels::Panels;
use super::path::Spot;
use super::thermal::minus;
use super::uprights::{calm, hpa};
use super::wind_symbol::WindSymbol;
use crate::model::Form;
use crate::model::fidelity::Fidelity;

/// First line of text, and the way to the next.
const FIRST: f64 = 690.0;
const LINE: f64 = 18.0;

/// Draws marks, lines and wind symbols with their names.
pub(super) fn draw(page: &mut Page, data: &Data<'_>, panels: &Panels) {
    let left = 20.0;
    page.fixed("b", "levels", (left - 8.0, FIRST));
    let mut y = FIRST;
    let shapes = Shape::ALL.into_iter().filter(|(shape, _)| {
        panels.temperature.is_some() || !matches!(shape, Shape::Tropopause | Shape::Thermal)
    });
    for (shape, name) in shapes {
        y += LINE;
        shape.draw(page, (left + 8.0, y - 4.0));
        page.fixed("", name, (left + 28.0, y));
    }
    y += LINE;
    marks::tick(page, (left + 6.0, y - 4.0));
    page.fixed("", "every level (at the edge)", (left + 28.0, y));
    y += LINE;
    page.rect("ground", Area::new(left, y - 9.0, left + 18.0, y + 1.0));
    page.fixed("", "below the surface", (left + 28.0, y));
    let y = lines(page, data, panels, 232.0);
    if data.windy {
        symbols(page, data, (232.0, y + LINE + 4.0));
    }
}

/// The lines; where the last one stands.
fn lines(page: &mut Page, data: &Data<'_>, panels: &Panels, left: f64) -> f64 {
    page.fixed("b", "lines", (left, FIRST));
    let thermal = panels.temperature.is_some();
    let mut y = FIRST;
    let of_panel = [
        ("c t", "temperature"),
        ("c td", "dew point"),
        ("dry", "dry adiabat, °C at 1000 hPa"),
        ("sat", "saturated adiabat, the same"),
        ("mix", "mixing ratio, g/kg"),
        ("tr", "tropopause, across all panels"),
        ("z", "0 °C; no departure"),
    ];
    let message = if data.report.form == Form::Descent {
        "from the chosen levels"
    } else {
        "from the coded message"
    };
    let of_strips = [("h", "flight, every row"), ("m", message)];
    let all = of_panel.iter().filter(|_| thermal).chain(&of_strips);
    for (class, name) in all {
        y += LINE;
        page.line(class, (left, y - 4.0), (left + 28.0, y - 4.0));
        page.fixed("", name, (left + 36.0, y));
    }
    y += LINE;
    page.rect("band", Area::new(left, y - 9.0, left + 28.0, y + 1.0));
    page.fixed("", "limits around it", (left + 36.0, y));
    y
}

fn symbols(page: &mut Page, data: &Data<'_>, (left, y): Spot) {
    let mut x = left;
    for (speed, name) in [(5.0, "5 kt"), (10.0, "10 kt"), (50.0, "50 kt")] {
        let strokes = WindSymbol::of_knots(speed).strokes(data.hemisphere);
        page.raw(&format!(
            r#"<g transform="translate({x:.1} {:.1}) rotate(270.0)">"#,
            y - 4.0
        ));
        // From the west, the level at the right end.
        page.raw(r#"<g transform="translate(0.0 25.0)">"#);
        page.path("s", &strokes.lines);
        page.path("p", &strokes.filled);
        page.end();
        page.end();
        page.fixed("", name, (x + 30.0, y));
        x += 70.0;
    }
    calm(page, (x + 6.0, y - 4.0));
    page.fixed("", "calm", (x + 16.0, y));
}

/// The table of departures.
pub(super) fn fidelity(page: &mut Page, data: &Data<'_>, fidelity: &Fidelity, left: f64) {
    let heading = if data.report.form == Form::Descent {
        "what the chosen levels give back"
    } else {
        "how well the message reproduces the flight"
    };
    page.fixed("b", heading, (left, FIRST));
    // Right ends of the columns of figures.
    let columns = [left + 190.0, left + 240.0, left + 306.0, left + 392.0];
    let line = |page: &mut Page, y: f64, class: &'static str, cells: [String; 4]| {
        for (text, x) in cells.iter().zip(columns) {
            page.small(class, 0, text, &[(x, y, Anchor::End)]);
        }
    };
    let heads = ["limit", "rms", "greatest", "at"].map(str::to_owned);
    line(page, FIRST + LINE, "soft", heads);
    let mut y = FIRST + LINE;
    let held = fidelity
        .departures
        .iter()
        .filter(|held| held.after_rounding.rows > 0);
    for held in held {
        y += LINE;
        let after = &held.after_rounding;
        let name = format!("{}, {}", held.quantity.name(), held.quantity.unit());
        let outside = after.outside > 0;
        let class = if outside { "b" } else { "" };
        page.fixed(class, &name, (left, y));
        let row = after.row.and_then(|row| data.rows.get(row.checked_sub(1)?));
        let height = row.and_then(|row| row.height_gpm);
        let at = after.pressure_hpa.map(hpa);
        let at = at.or(height.map(|z| format!("{} gpm", minus(z, 0))));
        let at = at.unwrap_or_else(|| "\u{2013}".to_owned());
        let cells = [
            format!("{}", held.limit),
            format!("{:.2}", after.rms),
            format!("{:.2}", after.greatest),
            at,
        ];
        line(page, y, class, cells);
        if outside {
            y += LINE * 0.8;
            let text = format!("{} of {} rows outside the limit", after.outside, after.rows);
            page.fixed("b", &text, (left + 12.0, y));
        }
    }
    y += LINE;
    for text in super::words::counts(data) {
        page.fixed("soft", &cut(&text, SMALL, "soft", 400.0), (left, y + 4.0));
        y += LINE * 0.85;
    }
}
