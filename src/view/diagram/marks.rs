//! The chosen levels: a group each, with a shape for every role on every curve
//! that the role is about.

use std::collections::BTreeSet;

use super::data::Data;
use super::labels::Area;
use super::page::{Page, escaped};
use super::panels::Panels;
use super::path::{Spot, tenth};
use super::thermal::minus;
use super::uprights::hpa;
use crate::model::fidelity::Quantity;
use crate::model::{Level, Roles};

/// The shape of a role; no two look alike in black and white either.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    Surface,
    Standard,
    Tropopause,
    MaxWind,
    Thermal,
    Wind,
    Forced,
}

impl Shape {
    /// All of them in the order of the legend, with their names.
    pub(super) const ALL: [(Self, &'static str); 7] = [
        (Self::Surface, "surface"),
        (Self::Standard, "standard"),
        (Self::Tropopause, "tropopause"),
        (Self::MaxWind, "maximum wind"),
        (Self::Thermal, "significant T or U"),
        (Self::Wind, "significant wind"),
        (Self::Forced, "by order"),
    ];

    /// The role it stands for.
    pub(super) fn role(self) -> Roles {
        match self {
            Self::Surface => Roles::SURFACE,
            Self::Standard => Roles::STANDARD,
            Self::Tropopause => Roles::TROPOPAUSE,
            Self::MaxWind => Roles::MAX_WIND,
            Self::Thermal => Roles::SIG_T_OR_U,
            Self::Wind => Roles::SIG_WIND,
            Self::Forced => Roles::FORCED,
        }
    }

    /// Draws it; shapes of several roles fit into one another.
    pub(super) fn draw(self, page: &mut Page, at: Spot) {
        let (x, y) = (tenth(at.0), tenth(at.1));
        let (class, data) = match self {
            Self::Standard => {
                page.circle("o", at, 4.5);
                return;
            }
            Self::Thermal => {
                page.circle("d", at, 3.0);
                return;
            }
            Self::Surface => ("d", "m-4.5 -4.5h9v9h-9Z"),
            Self::Tropopause => ("x", "m-11.0 -3.0h22m-22 6h22"),
            Self::MaxWind => ("o", "m-4.5 -6.5l11.0 6.5l-11.0 6.5Z"),
            Self::Wind => ("d", "m0.0 -4.2l4.2 4.2l-4.2 4.2l-4.2 -4.2Z"),
            Self::Forced => ("x", "m-6.0 -6.0l12.0 12.0m0.0 -12.0l-12.0 12.0"),
        };
        page.path(class, &format!("M{x:.1} {y:.1}{data}"));
    }
}

/// Draws all levels, the lowest last, so that the surface lies on top; the numbers of
/// those that lie in the panels.
pub(super) fn draw(page: &mut Page, data: &Data<'_>, panels: &Panels) -> BTreeSet<usize> {
    let mut drawn = BTreeSet::new();
    for (i, level) in data.report.levels.iter().enumerate().rev() {
        let Some(up) = data.up_level(level).filter(|&up| panels.vertical.holds(up)) else {
            continue;
        };
        let y = panels.vertical.px(up);
        drawn.insert(i);
        open(page, i, level);
        // A tick at the edge stands for every level, whatever it is.
        tick(page, (panels.winds().left, y));
        for (spot, shapes) in spots(data, panels, level, y) {
            for shape in shapes {
                if level.roles.any(shape.role()) {
                    page.soft.push(Area::around(spot, 6.0));
                    shape.draw(page, spot);
                }
            }
        }
        page.end();
    }
    drawn
}

/// The tick of a level: a wedge, since a dash before a figure reads as a minus sign.
pub(super) fn tick(page: &mut Page, (x, y): Spot) {
    let (x, y) = (tenth(x), tenth(y));
    page.path("tick", &format!("M{x:.1} {y:.1}l5.0 -3.0v6Z"));
}

/// The group of a level: what a page around the diagram finds it by, and what
/// stands there when one points at it.
fn open(page: &mut Page, i: usize, level: &Level) {
    let row = &level.row;
    let mut head = format!(r#"<g id="level-{i}" class="level" data-level="{i}""#);
    let number = |name: &str, value: Option<f64>, decimals: usize| {
        value.map_or_else(String::new, |v| format!(r#" data-{name}="{v:.decimals$}""#))
    };
    head.push_str(&number("hpa", row.pressure_hpa, 2));
    head.push_str(&number("gpm", row.height_gpm, 0));
    head.push_str(&format!(r#" data-roles="{}">"#, level.roles));
    let mut words: Vec<String> = Vec::new();
    words.extend(row.pressure_hpa.map(hpa));
    words.extend(row.height_gpm.map(|z| format!("{} gpm", minus(z, 0))));
    words.extend(row.temperature_c.map(|t| format!("{} °C", minus(t, 1))));
    words.extend(
        row.dewpoint_c
            .map(|t| format!("dew point {} °C", minus(t, 1))),
    );
    words.extend(
        row.wind
            .map(|w| format!("{:.0}° {:.1} m/s", w.dir_deg, w.speed_ms)),
    );
    let names: Vec<String> = level
        .roles
        .names()
        .map(|name| name.replace('_', " "))
        .collect();
    words.push(names.join(", "));
    words.extend(level.why.iter().map(|rule| rule.text().into_owned()));
    page.raw(&format!(
        "{head}<title>{}</title>",
        escaped(&words.join("; "))
    ));
}

/// Where a level is marked, and with which shapes, in the order of drawing.
fn spots(data: &Data<'_>, panels: &Panels, level: &Level, y: f64) -> Vec<(Spot, Vec<Shape>)> {
    let row = &level.row;
    let mut spots = Vec::new();
    if let Some((leaning, p)) = panels.temperature.zip(row.pressure_hpa) {
        let at = row.temperature_c.map(|t| leaning.px(t, p));
        // A surface below the ground has no temperature: it stands at the edge.
        let x = at.unwrap_or(panels.first().left + 10.0);
        let of = [
            Shape::Tropopause,
            Shape::Forced,
            Shape::Standard,
            Shape::Surface,
            Shape::Thermal,
        ];
        spots.push(((x, y), of.to_vec()));
        let dew = row.dewpoint_c.map(|t| leaning.px(t, p));
        let dew = dew.filter(|x| *x >= panels.first().left);
        spots.extend(dew.map(|x| ((x, y), vec![Shape::Thermal])));
    }
    for strip in &panels.strips {
        let (value, of) = match strip.quantity {
            Quantity::Humidity => (row.humidity_pct, vec![Shape::Thermal]),
            Quantity::WindSpeed => (
                row.wind.map(|w| data.speed(w)),
                vec![
                    Shape::MaxWind,
                    Shape::Forced,
                    Shape::Standard,
                    Shape::Surface,
                    Shape::Wind,
                ],
            ),
            Quantity::WindDirection => (row.wind.map(|w| w.dir_deg), vec![Shape::Wind]),
            Quantity::Temperature | Quantity::TemperatureAloft => continue,
        };
        let forced = |shape: &Shape| *shape != Shape::Forced || panels.temperature.is_none();
        let of: Vec<Shape> = of.into_iter().filter(forced).collect();
        let value = value.filter(|&v| strip.scale.holds(v));
        spots.extend(value.map(|v| ((strip.scale.px(v), y), of)));
    }
    spots
}
