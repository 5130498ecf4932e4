//! The strips: humidity, wind speed, wind direction, and the departure of
//! temperature, each with the curve that the message gives and the band of the
//! limits around it.

use super::data::Data;
use super::labels::Anchor;
use super::page::Page;
use super::panels::{FOOT, Panels, Strip, TOP};
use super::path::{Spot, polyline, runs, thinned_up, unwrapped, wrapped};
use super::thermal::minus;
use crate::model::fidelity::Quantity;
use crate::model::{Form, Wind};
use crate::verify::fidelity::Rebuilt;

/// So near to an end of a strip a figure is one of the end.
const END: f64 = 9.0;

/// Draws all strips.
pub(super) fn draw(page: &mut Page, data: &Data<'_>, panels: &Panels) {
    for strip in &panels.strips {
        let (id, title) = names(data, strip.quantity);
        grid(page, strip);
        page.small(
            "b",
            0,
            &title,
            &[(strip.scale.from_px, TOP - 22.0, Anchor::Start)],
        );
        page.clipped(id, strip.area());
        match strip.quantity {
            Quantity::WindDirection => direction(page, data, panels, strip),
            _ => values(page, data, panels, strip),
        }
        page.end();
        page.rect("f", strip.area());
    }
}

fn names(data: &Data<'_>, quantity: Quantity) -> (&'static str, String) {
    let unit = data.unit.symbol();
    match quantity {
        Quantity::Humidity => ("humidity", "humidity, %".to_owned()),
        Quantity::WindSpeed => ("speed", format!("speed, {unit}")),
        Quantity::WindDirection => ("direction", "direction, °".to_owned()),
        Quantity::Temperature | Quantity::TemperatureAloft => {
            let other = if data.report.form == Form::Descent {
                "levels"
            } else {
                "coded"
            };
            ("departure", format!("T \u{2212} {other}, K"))
        }
    }
}

/// Lines at round values, with figures below.
fn grid(page: &mut Page, strip: &Strip) {
    let scale = strip.scale;
    let (step, every) = match strip.quantity {
        Quantity::WindDirection => (90.0, 180.0),
        Quantity::Humidity => (25.0, 50.0),
        Quantity::WindSpeed if scale.to > 160.0 => (40.0, 80.0),
        Quantity::WindSpeed if scale.to > 60.0 => (20.0, 40.0),
        Quantity::WindSpeed => (10.0, 20.0),
        Quantity::Temperature | Quantity::TemperatureAloft => (1.0, 1.0),
    };
    let mut value = (scale.from / step).ceil() * step;
    while value <= scale.to {
        let x = scale.px(value);
        let class = if value == 0.0 && scale.from < 0.0 {
            "z"
        } else {
            "g"
        };
        page.line(class, (x, TOP), (x, FOOT));
        let rank = if value % every == 0.0 { 1 } else { 2 };
        // The figures at the ends stay within the strip, apart from those of the next.
        let anchor = match (x - scale.from_px, scale.to_px - x) {
            (from, _) if from < END => Anchor::Start,
            (_, to) if to < END => Anchor::End,
            _ => Anchor::Middle,
        };
        page.small("", rank, &minus(value, 0), &[(x, FOOT + 14.0, anchor)]);
        value += step;
    }
}

/// The measured value of a row, and what the message gives with its limit.
type Pair = (Option<f64>, Option<(f64, f64)>);

/// Both of a strip whose values do not go round.
fn pair(data: &Data<'_>, quantity: Quantity, k: usize) -> Pair {
    let (Some(row), Some(fault)) = (data.rows.get(k), data.rebuilt.get(k)) else {
        return (None, None);
    };
    let speed = |wind: Wind| data.speed(wind);
    match quantity {
        Quantity::Humidity => (
            row.humidity_pct,
            fault.humidity_pct.map(|u| (u, quantity.limit())),
        ),
        Quantity::WindSpeed => (
            row.wind.map(speed),
            fault
                .wind
                .map(|w| (speed(w), data.unit.from_ms(quantity.limit()))),
        ),
        _ => {
            let off = row
                .temperature_c
                .zip(fault.temperature_c)
                .map(|(own, t)| own - t);
            let limit = fault.temperature_c.and(fault.temperature_limit_k);
            (off, limit.map(|limit| (0.0, limit)))
        }
    }
}

fn values(page: &mut Page, data: &Data<'_>, panels: &Panels, strip: &Strip) {
    let x = |value: f64| strip.scale.px(value);
    let each =
        || (0..data.rows.len()).map(|k| (height(data, panels, k), pair(data, strip.quantity, k)));
    let fault = runs(each().map(|(y, (_, fault))| {
        let (value, limit) = fault?;
        Some((value, limit, y?))
    }));
    for run in &fault {
        let edge = |sign: f64| -> Vec<Spot> {
            let spots: Vec<Spot> = run
                .iter()
                .map(|&(v, limit, y)| (x(v + sign * limit), y))
                .collect();
            thinned_up(&spots)
        };
        band(page, edge(-1.0), edge(1.0));
    }
    if strip.quantity != Quantity::Temperature {
        let lines: Vec<Vec<Spot>> = fault
            .iter()
            .map(|run| thinned_up(&run.iter().map(|&(v, _, y)| (x(v), y)).collect::<Vec<_>>()))
            .collect();
        page.curves("m", lines.iter().map(Vec::as_slice));
    }
    let own = runs(each().map(|(y, (own, _))| Some((x(own?), y?))));
    let own: Vec<Vec<Spot>> = own.iter().map(|run| thinned_up(run)).collect();
    page.curves("h", own.iter().map(Vec::as_slice));
}

/// The area between two edges.
fn band(page: &mut Page, low: Vec<Spot>, high: Vec<Spot>) {
    let mut around = low;
    around.extend(high.into_iter().rev());
    let mut data = polyline(&around);
    if !data.is_empty() {
        data.push('Z');
    }
    page.path("band", &data);
}

/// Place of a row along the vertical axis.
fn height(data: &Data<'_>, panels: &Panels, k: usize) -> Option<f64> {
    let up = data.rows.get(k).and_then(|row| data.up(row))?;
    Some(panels.vertical.px(up))
}

fn direction(page: &mut Page, data: &Data<'_>, panels: &Panels, strip: &Strip) {
    let x = |dir: f64| strip.scale.px(dir);
    let limit = Quantity::WindDirection.limit();
    let fault = |counting: bool| {
        let one = |(k, fault): (usize, &Rebuilt)| {
            let wind = fault.wind.filter(|_| fault.direction_counts || !counting)?;
            Some((wind.dir_deg, height(data, panels, k)?))
        };
        runs(data.rebuilt.iter().enumerate().map(one))
    };
    for run in fault(true) {
        let whole = thinned_directions(&unwrapped(&run), strip);
        direction_band(page, strip, &whole, limit);
    }
    let line = |points: &[(f64, f64)]| -> Vec<Vec<Spot>> {
        let thin = thinned_directions(&unwrapped(points), strip);
        let pieces = wrapped(&thin);
        let place = |piece: Vec<(f64, f64)>| piece.into_iter().map(|(d, y)| (x(d), y)).collect();
        pieces.into_iter().map(place).collect()
    };
    let message: Vec<Vec<Spot>> = fault(false).iter().flat_map(|run| line(run)).collect();
    page.curves("m", message.iter().map(Vec::as_slice));
    let own = runs(data.rows.iter().enumerate().map(|(k, row)| {
        // A calm has no direction.
        let wind = row.wind.filter(|w| w.speed_ms > 0.0)?;
        Some((wind.dir_deg, height(data, panels, k)?))
    }));
    let own: Vec<Vec<Spot>> = own.iter().flat_map(|run| line(run)).collect();
    page.curves("h", own.iter().map(Vec::as_slice));
}

/// The band of directions: it goes on beyond both edges of the strip, which cuts
/// it; a stretch near an edge is there a second time, a whole turn away.
fn direction_band(page: &mut Page, strip: &Strip, whole: &[(f64, f64)], limit: f64) {
    let x = |dir: f64| strip.scale.px(dir);
    let mut data = String::new();
    for pair in whole.windows(2) {
        let &[(d0, y0), (d1, y1)] = pair else {
            continue;
        };
        let least = d0.min(d1) - limit;
        let most = d0.max(d1) + limit;
        let mut turn = (least / 360.0).floor() * 360.0;
        while turn < most {
            let corners = [
                (x(d0 - turn - limit), y0),
                (x(d1 - turn - limit), y1),
                (x(d1 - turn + limit), y1),
                (x(d0 - turn + limit), y0),
            ];
            data.push_str(&polyline(&corners));
            data.push('Z');
            turn += 360.0;
        }
    }
    page.path("band", &data);
}

/// Thins directions without jumps as they lie on the page.
fn thinned_directions(points: &[(f64, f64)], strip: &Strip) -> Vec<(f64, f64)> {
    let spots: Vec<Spot> = points
        .iter()
        .map(|&(d, y)| (strip.scale.px(d), y))
        .collect();
    let back = |(x, y): Spot| (strip.scale.value(x), y);
    thinned_up(&spots).into_iter().map(back).collect()
}
