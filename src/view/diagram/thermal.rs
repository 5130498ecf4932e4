//! The temperature panel: isobars, isotherms, adiabats, lines of equal mixing
//! ratio, and the two curves.

use super::data::Data;
use super::labels::{Anchor, Area, Label};
use super::page::{Page, SMALL};
use super::panels::{FOOT, Leaning, Panels, TOP};
use super::path::{Spot, runs, thinned, thinned_up};
use crate::model::Row;
use crate::physics::adiabat::{dry_c, saturated_c};
use crate::physics::mixing::dewpoint_of_ratio_c;

/// Mixing ratios that have a line, g/kg.
const RATIOS: [f64; 11] = [0.1, 0.4, 1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 18.0, 25.0, 35.0];

/// Up to here lines of mixing ratio and saturated adiabats are drawn, hPa: there
/// is next to no vapour above.
const MOIST_TOP_HPA: f64 = 400.0;
const SATURATED_TOP_HPA: f64 = 200.0;

/// Units of the view box between two computed points of a line.
const STEP_PX: f64 = 8.0;

/// Draws the panel.
pub(super) fn draw(page: &mut Page, data: &Data<'_>, panels: &Panels, leaning: &Leaning) {
    let area = panels.first();
    let middle = f64::midpoint(area.left, area.right);
    for y in [TOP - 22.0, FOOT + 28.0] {
        page.small("b", 0, "temperature, °C", &[(middle, y, Anchor::Middle)]);
    }
    page.clipped("temperature", area);
    isotherms(page, panels, leaning);
    lines(page, panels, leaning);
    curve(page, "c td", data, panels, leaning, |r| r.dewpoint_c);
    curve(page, "c t", data, panels, leaning, |r| r.temperature_c);
    page.end();
    page.rect("f", area);
}

fn curve(
    page: &mut Page,
    class: &str,
    data: &Data<'_>,
    panels: &Panels,
    leaning: &Leaning,
    of: impl Fn(&Row) -> Option<f64>,
) {
    let spots = data.rows.iter().map(|row| {
        let p = data.up(row)?;
        Some((leaning.px(of(row)?, p), panels.vertical.px(p)))
    });
    let pieces: Vec<Vec<Spot>> = runs(spots).iter().map(|run| thinned_up(run)).collect();
    for piece in &pieces {
        page.shun(piece);
    }
    page.curves(class, pieces.iter().map(Vec::as_slice));
}

fn isotherms(page: &mut Page, panels: &Panels, leaning: &Leaning) {
    let vertical = panels.vertical;
    let top = leaning.lean_k * (leaning.foot_hpa / vertical.to).ln();
    let mut t = ((leaning.foot.from - top) / 10.0).ceil() * 10.0;
    let area = panels.first();
    while t <= leaning.foot.to {
        let (foot, head) = (leaning.px(t, vertical.from), leaning.px(t, vertical.to));
        let class = if t == 0.0 { "z" } else { "g" };
        page.line(class, (foot, FOOT), (head, TOP));
        let text = minus(t, 0);
        if foot >= area.left {
            page.small("", 1, &text, &[(foot, FOOT + 14.0, Anchor::Middle)]);
        }
        if head <= area.right {
            page.small("soft", 3, &text, &[(head, TOP - 5.0, Anchor::Middle)]);
        }
        t += 10.0;
    }
}

/// A number with a true minus sign.
pub(crate) fn minus(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        Some(rest) => format!("\u{2212}{rest}"),
        None => text,
    }
}

fn lines(page: &mut Page, panels: &Panels, leaning: &Leaning) {
    let area = panels.first();
    // Potential temperatures from the left foot to the right head of the panel.
    let head = potential(panels, leaning);
    let step = if head - leaning.foot.from > 250.0 {
        20.0
    } else {
        10.0
    };
    let mut at_1000 = (leaning.foot.from / step).floor() * step;
    while at_1000 <= head {
        let of = |p: f64| Some(dry_c(at_1000, p));
        let line = family(page, "dry", panels, leaning, panels.vertical.to, of);
        name(page, area, &line, 0.94, &minus(at_1000, 0), "n-dry");
        at_1000 += if at_1000 >= 200.0 { 2.0 * step } else { step };
    }
    let mut at_1000 = -28.0;
    while at_1000 <= 36.0 {
        let of = |p: f64| Some(saturated_c(at_1000, 1000.0, p));
        let line = family(page, "sat", panels, leaning, SATURATED_TOP_HPA, of);
        name(page, area, &line, 1.0, &minus(at_1000, 0), "n-sat");
        at_1000 += 8.0;
    }
    for ratio in RATIOS {
        let of = |p: f64| dewpoint_of_ratio_c(ratio, p);
        let line = family(page, "mix", panels, leaning, MOIST_TOP_HPA, of);
        name(page, area, &line, 1.0, &format!("{ratio}"), "n-mix");
    }
}

/// The temperature at 1000 hPa, °C, of the dry adiabat in the upper right corner.
fn potential(panels: &Panels, leaning: &Leaning) -> f64 {
    let p = panels.vertical.to;
    let lean = leaning.lean_k * (leaning.foot_hpa / p).ln();
    let corner = leaning.foot.to - lean;
    let kelvin = crate::physics::adiabat::potential_temperature_k(corner, p);
    crate::model::quantity::celsius_from_kelvin(kelvin).min(1500.0)
}

/// A line of a family from the foot up to a pressure, as far as it is in the panel.
fn family(
    page: &mut Page,
    class: &str,
    panels: &Panels,
    leaning: &Leaning,
    top_hpa: f64,
    of: impl Fn(f64) -> Option<f64>,
) -> Vec<Spot> {
    let area = panels.first();
    let end = panels.vertical.px(top_hpa).max(TOP);
    let mut spots = Vec::new();
    let mut y = FOOT;
    loop {
        let p = panels.vertical.value(y);
        let x = of(p).map(|t| leaning.px(t, p));
        // A little over the edges, so that the cut is at the edge itself.
        spots.push(
            x.filter(|x| (area.left - 60.0..=area.right + 60.0).contains(x))
                .map(|x| (x, y)),
        );
        if y <= end {
            break;
        }
        y = (y - STEP_PX).max(end);
    }
    let pieces: Vec<Vec<Spot>> = runs(spots.into_iter())
        .iter()
        .map(|run| thinned(run))
        .collect();
    page.curves(class, pieces.iter().map(Vec::as_slice));
    pieces.into_iter().flatten().collect()
}

/// Names a line some way along what is seen of it, where nothing is covered.
fn name(page: &mut Page, area: Area, line: &[Spot], share: f64, text: &str, class: &'static str) {
    let room = Area::new(
        area.left + 2.0,
        area.top + 2.0,
        area.right - 2.0,
        area.bottom - 2.0,
    );
    let inside: Vec<Spot> = line
        .iter()
        .copied()
        .filter(|&(x, y)| x > room.left && x < room.right && y > room.top && y < room.bottom)
        .collect();
    let (Some(first), Some(last)) = (inside.first(), inside.last()) else {
        return;
    };
    let wanted = first.1 + (last.1 - first.1) * share;
    let near = |spot: &&Spot| (spot.1 - wanted).abs();
    let Some(&(x, y)) = inside.iter().min_by(|a, b| near(a).total_cmp(&near(b))) else {
        return;
    };
    page.label(Label {
        text: text.to_owned(),
        size: SMALL,
        class,
        rank: 9,
        stands: vec![
            (x, y - 3.0, Anchor::Middle),
            (x, y + 12.0, Anchor::Middle),
            (x + 4.0, y + 4.0, Anchor::Start),
        ],
        within: room,
        clear: true,
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_with_a_minus_sign() {
        for (value, decimals, text) in [
            (-58.06, 1, "\u{2212}58.1"),
            (-0.04, 1, "0.0"),
            (12.0, 0, "12"),
        ] {
            assert_eq!(minus(value, decimals), text);
        }
    }
}
