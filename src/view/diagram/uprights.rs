//! What runs along the vertical axis: isobars or lines of equal height, their
//! figures, geopotentials, the ground, tropopauses, and the column of winds.

use super::data::Data;
use super::labels::{Anchor, Area};
use super::page::Page;
use super::panels::{FOOT, Panels, TOP};
use super::path::{Spot, tenth};
use super::thermal::minus;
use super::wind_symbol::WindSymbol;
use crate::model::quantity::SpeedUnit;
use crate::model::{Axis, Level, Roles};
use crate::tables::standard_levels;

/// Lines across all panels, and the ground; behind everything else.
pub(super) fn behind(page: &mut Page, data: &Data<'_>, panels: &Panels) {
    ground(page, data, panels);
    for (value, text, rank) in marks(panels) {
        let y = panels.vertical.px(value);
        for area in areas(panels) {
            page.line("g", (area.left, y), (area.right, y));
        }
        if let Some(strip) = panels.strips.first() {
            page.line("g", (panels.winds().left, y), (strip.area().left, y));
        }
        page.small("", rank, &text, &[(panels.figures(), y + 4.0, Anchor::End)]);
    }
    let unit = match panels.axis {
        Axis::Pressure => "hPa",
        Axis::Height => "km",
    };
    page.small("b", 0, unit, &[(panels.figures(), TOP - 22.0, Anchor::End)]);
}

/// The areas that share the vertical axis.
fn areas(panels: &Panels) -> Vec<Area> {
    let first = panels.temperature.map(|_| panels.first());
    let strips = panels.strips.iter().map(super::panels::Strip::area);
    first.into_iter().chain(strips).collect()
}

/// Values that have a line: the standard surfaces, or whole kilometres.
fn marks(panels: &Panels) -> Vec<(f64, String, u8)> {
    let vertical = panels.vertical;
    if panels.axis == Axis::Height {
        let step = if vertical.to - vertical.from > 12_000.0 {
            2.0
        } else {
            1.0
        };
        let mut marks = Vec::new();
        let mut km = (vertical.from / 1000.0 / step).ceil() * step;
        while km * 1000.0 <= vertical.to {
            marks.push((km * 1000.0, format!("{km:.0}"), 1));
            km += step;
        }
        return marks;
    }
    let mut surfaces: Vec<u16> = standard_levels().iter().map(|l| l.pressure_hpa).collect();
    surfaces.sort_unstable();
    surfaces.dedup();
    let rank = |hpa: u16| match hpa {
        1000 | 500 | 100 | 10 => 1,
        850 | 700 | 300 | 200 | 50 | 20 => 2,
        _ => 3,
    };
    surfaces
        .into_iter()
        .filter(|&hpa| vertical.holds(f64::from(hpa)))
        .map(|hpa| (f64::from(hpa), hpa.to_string(), rank(hpa)))
        .collect()
}

/// What lies below the surface of the ascent.
fn ground(page: &mut Page, data: &Data<'_>, panels: &Panels) {
    let surface = data
        .report
        .levels
        .iter()
        .find(|l| l.roles.any(Roles::SURFACE));
    let Some(up) = surface.and_then(|level| data.up_level(level)) else {
        return;
    };
    let y = panels.vertical.px(up);
    if y >= FOOT {
        return;
    }
    for area in areas(panels) {
        page.rect("ground", Area::new(area.left, y, area.right, FOOT));
    }
}

/// Tropopauses as lines across, with a label each in the first panel.
pub(super) fn tropopauses(page: &mut Page, data: &Data<'_>, panels: &Panels) {
    let tropopauses = data
        .report
        .levels
        .iter()
        .filter(|l| l.roles.any(Roles::TROPOPAUSE));
    for (i, level) in tropopauses.enumerate() {
        let Some(up) = data.up_level(level) else {
            continue;
        };
        let y = panels.vertical.px(up);
        for area in areas(panels) {
            page.line("tr", (area.left, y), (area.right, y));
        }
        let text = tropopause(level, i + 1);
        let area = panels.first();
        let (left, right) = (area.left + 6.0, area.right - 6.0);
        let stands = [
            (right, y - 4.0, Anchor::End),
            (left, y - 4.0, Anchor::Start),
            (right, y + 12.0, Anchor::End),
            (left, y + 12.0, Anchor::Start),
            (left, y - 18.0, Anchor::Start),
            (left, y + 26.0, Anchor::Start),
            (right, y - 18.0, Anchor::End),
            (right, y + 26.0, Anchor::End),
        ];
        page.small("b", 2, &text, &stands);
    }
}

/// A tropopause in words.
pub(super) fn tropopause(level: &Level, number: usize) -> String {
    let row = &level.row;
    let mut text = format!("tropopause {number}:");
    let parts = [
        row.pressure_hpa.map(|p| format!(" {}", hpa(p))),
        row.temperature_c.map(|t| format!(", {} °C", minus(t, 1))),
        row.height_gpm.map(|z| format!(", {} gpm", minus(z, 0))),
    ];
    for part in parts.into_iter().flatten() {
        text.push_str(&part);
    }
    text
}

/// A pressure with as many decimals as the code has: whole hPa up to 100 hPa,
/// tenths above.
pub(crate) fn hpa(pressure_hpa: f64) -> String {
    if crate::tables::figure::is_upper(pressure_hpa) {
        format!("{pressure_hpa:.1} hPa")
    } else {
        format!("{pressure_hpa:.0} hPa")
    }
}

/// Geopotentials and wind symbols of standard surfaces and of the surface.
pub(super) fn winds(page: &mut Page, data: &Data<'_>, panels: &Panels) {
    let area = panels.winds();
    let heights = panels.axis == Axis::Pressure;
    let right = area.left + 44.0;
    if heights {
        page.small("b", 0, "gpm", &[(right, TOP - 22.0, Anchor::End)]);
    }
    let mut levels: Vec<(&Level, f64)> = data
        .report
        .levels
        .iter()
        .filter(|l| l.roles.any(Roles::STANDARD | Roles::SURFACE))
        .filter_map(|l| Some((l, data.up_level(l)?)))
        .filter(|&(_, up)| panels.vertical.holds(up))
        .collect();
    // Whole hundreds first; where two are too near, the later one goes.
    let rank = |level: &Level| match level.row.pressure_hpa {
        _ if !level.roles.any(Roles::STANDARD) => 1_u8,
        Some(p) if p == 1000.0 || p == 925.0 => 2,
        _ => 0,
    };
    levels.sort_by_key(|(level, _)| rank(level));
    let mut taken: Vec<Area> = Vec::new();
    let mut any = false;
    for (level, up) in levels {
        let y = panels.vertical.px(up);
        if heights && let Some(z) = level.row.height_gpm {
            let order = 4 + rank(level);
            page.small(
                "soft",
                order,
                &minus(z, 0),
                &[(right, y + 4.0, Anchor::End)],
            );
        }
        let Some(wind) = level.row.wind else {
            continue;
        };
        any |= symbol(
            page,
            data,
            panels,
            (y, wind.dir_deg),
            wind.speed_ms,
            &mut taken,
        );
    }
    if any {
        let middle = f64::midpoint(area.left + 46.0, area.right);
        page.small("b", 0, "wind", &[(middle, TOP - 22.0, Anchor::Middle)]);
    }
}

/// The symbol of calm.
pub(super) fn calm(page: &mut Page, at: Spot) {
    page.circle("s c", at, 4.5);
    page.circle("p", at, 1.5);
}

/// Draws one symbol in the first column where it touches no other.
fn symbol(
    page: &mut Page,
    data: &Data<'_>,
    panels: &Panels,
    (y, dir_deg): (f64, f64),
    speed_ms: f64,
    taken: &mut Vec<Area>,
) -> bool {
    const COLUMNS: [f64; 3] = [78.0, 112.0, 146.0];
    let symbol = WindSymbol::of_knots(SpeedUnit::Knots.from_ms(speed_ms));
    let strokes = symbol.strokes(data.hemisphere);
    let (sin, cos) = dir_deg.to_radians().sin_cos();
    let column = panels.winds();
    for offset in COLUMNS {
        let x = column.left + offset;
        // The corners of what is drawn, turned with the wind.
        let corners = [
            (0.0, 0.0),
            (strokes.wide, 0.0),
            (0.0, -strokes.length),
            (strokes.wide, -strokes.length),
        ];
        let mut own = Area::around((x, y), 2.0);
        for (cx, cy) in corners {
            let (px, py) = (x + cx * cos - cy * sin, y + cx * sin + cy * cos);
            own = Area::new(
                own.left.min(px),
                own.top.min(py),
                own.right.max(px),
                own.bottom.max(py),
            );
        }
        if taken.iter().any(|other| other.meets(&own)) {
            continue;
        }
        taken.push(own);
        if symbol == WindSymbol::Calm {
            calm(page, (x, y));
            return true;
        }
        page.raw(&format!(
            r#"<g transform="translate({:.1} {:.1}) rotate({:.1})">"#,
            tenth(x),
            tenth(y),
            tenth(dir_deg)
        ));
        page.path("s", &strokes.lines);
        page.path("p", &strokes.filled);
        page.circle("p", (0.0, 0.0), 1.6);
        page.end();
        return true;
    }
    false
}
