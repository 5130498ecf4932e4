//! The hodograph: the ends of all wind vectors, drawn from one point.

use super::data::Data;
use super::labels::{Anchor, Area};
use super::marks::Shape;
use super::page::Page;
use super::path::{Spot, runs, thinned};
use crate::model::quantity::SpeedUnit;
use crate::model::{Roles, Row, Wind};
use crate::physics::hydrostatic::standard_height_gpm;

/// The most rings.
const MOST_RINGS: f64 = 30.0;

/// The layers of the curve: class, lower end in km, and what the scale says.
const LAYERS: [(&str, f64, &str); 5] = [
    ("c k0", f64::NEG_INFINITY, "below 3"),
    ("c k1", 3.0, "3 to 6"),
    ("c k2", 6.0, "6 to 10"),
    ("c k3", 10.0, "10 to 16"),
    ("c k4", 16.0, "from 16"),
];

/// Width of the scale of heights at the right.
const SCALE: f64 = 78.0;

/// The most rows that are drawn, evenly taken out of more.
const MOST_ROWS: usize = 8000;

/// Draws it into an area, with a title above, as large as it fits with every wind and the origin.
pub(super) fn draw(page: &mut Page, data: &Data<'_>, area: Area, title_y: f64) {
    let unit = data.unit.symbol();
    let title = format!("hodograph, {unit}");
    page.small("b", 0, &title, &[(area.left, title_y, Anchor::Start)]);
    let (area, scale) = (
        Area::new(area.left, area.top, area.right - SCALE, area.bottom),
        (area.right - SCALE + 6.0, area.top + 10.0),
    );
    layers(page, scale);
    let place = Place::of(data, area);
    page.clipped("hodograph", area);
    let step = match data.unit {
        SpeedUnit::MetresPerSecond => 10.0,
        SpeedUnit::Knots => 20.0,
    };
    let origin = place.spot((0.0, 0.0));
    page.line("g", (area.left, origin.1), (area.right, origin.1));
    page.line("g", (origin.0, area.top), (origin.0, area.bottom));
    let mut ring = step;
    let far = place.farthest(area);
    while ring <= far.min(MOST_RINGS * step) {
        page.circle("g", origin, ring * place.per_unit);
        let at = |dx: f64, dy: f64| {
            let spot = place.spot((dx * ring, dy * ring));
            (spot.0, spot.1 + 4.0, Anchor::Middle)
        };
        let half = std::f64::consts::FRAC_1_SQRT_2;
        let stands = [
            at(half, -half),
            at(-half, -half),
            at(half, half),
            at(-half, half),
            at(0.0, -1.0),
            at(0.0, 1.0),
            at(-1.0, 0.0),
            at(1.0, 0.0),
        ];
        page.label(super::labels::Label {
            text: format!("{ring:.0}"),
            size: super::page::SMALL,
            class: "soft",
            rank: 6,
            stands: stands.to_vec(),
            within: area,
            clear: true,
        });
        ring += step;
    }
    let every = data.rows.len().div_ceil(MOST_ROWS).max(1);
    let spots = data
        .rows
        .iter()
        .step_by(every)
        .map(|row| Some((place.wind(data, row.wind?), layer(row))));
    for run in runs(spots) {
        let mut from: Option<Spot> = None;
        for of_layer in run.chunk_by(|a, b| a.1 == b.1) {
            // Each layer begins where the one before it ends.
            let spots = from
                .into_iter()
                .chain(of_layer.iter().map(|(spot, _)| *spot));
            let piece = thinned(&spots.collect::<Vec<_>>());
            from = piece.last().copied();
            page.shun(&piece);
            let class = of_layer.first().and_then(|(_, k)| LAYERS.get(*k));
            page.curves(class.map_or("h", |(class, ..)| *class), [piece.as_slice()]);
        }
    }
    names(page, data, &place, area);
    page.end();
    page.rect("f", area);
}

/// The number of the layer that a row lies in; by the standard atmosphere where it has no
/// height.
fn layer(row: &Row) -> usize {
    let height_gpm = row.height_gpm.or(row.pressure_hpa.map(standard_height_gpm));
    let km = height_gpm.unwrap_or(0.0) / 1000.0;
    LAYERS
        .iter()
        .rposition(|(_, from, _)| km >= *from)
        .unwrap_or(0)
}

/// The scale of heights, the highest layer at the top.
fn layers(page: &mut Page, (left, top): Spot) {
    page.fixed("b", "km", (left, top));
    let mut y = top;
    for (class, _, text) in LAYERS.iter().rev() {
        y += 17.0;
        page.line(class, (left, y - 4.0), (left + 14.0, y - 4.0));
        page.fixed("", text, (left + 19.0, y));
    }
}

/// Marks and names the standard surfaces along the curve.
fn names(page: &mut Page, data: &Data<'_>, place: &Place, area: Area) {
    for level in &data.report.levels {
        let surface = level.roles.any(Roles::SURFACE);
        let Some(wind) = level
            .row
            .wind
            .filter(|_| surface || level.roles.any(Roles::STANDARD))
        else {
            continue;
        };
        let (x, y) = place.wind(data, wind);
        let shape = if surface {
            Shape::Surface
        } else {
            Shape::Standard
        };
        shape.draw(page, (x, y));
        let text = match level.row.pressure_hpa {
            _ if surface => "surface".to_owned(),
            Some(p) => format!("{p:.0}"),
            None => match level.row.height_gpm {
                Some(z) => format!("{:.1} km", z / 1000.0),
                None => continue,
            },
        };
        let rank = match level.row.pressure_hpa {
            _ if surface => 4,
            Some(p) if [850.0, 500.0, 300.0, 100.0].contains(&p) => 3,
            Some(p) if [700.0, 200.0, 50.0, 10.0].contains(&p) => 4,
            _ => 5,
        };
        page.label(super::labels::Label {
            text,
            size: super::page::SMALL,
            class: "b",
            rank,
            stands: vec![
                (x + 7.0, y - 5.0, Anchor::Start),
                (x + 7.0, y + 13.0, Anchor::Start),
                (x - 7.0, y - 5.0, Anchor::End),
                (x - 7.0, y + 13.0, Anchor::End),
                (x + 8.0, y + 4.0, Anchor::Start),
                (x - 8.0, y + 4.0, Anchor::End),
                (x, y - 8.0, Anchor::Middle),
                (x, y + 17.0, Anchor::Middle),
            ],
            within: area,
            clear: rank > 3,
        });
    }
}

/// Where the origin is, and how long a unit of speed.
struct Place {
    origin: Spot,
    per_unit: f64,
}

impl Place {
    fn of(data: &Data<'_>, area: Area) -> Self {
        /// Free at each side.
        const FREE: f64 = 20.0;
        let (mut low, mut high) = ((0.0_f64, 0.0_f64), (0.0_f64, 0.0_f64));
        for wind in data.rows.iter().filter_map(|r| r.wind) {
            let (east, north) = ends(data, wind);
            low = (low.0.min(east), low.1.min(north));
            high = (high.0.max(east), high.1.max(north));
        }
        // A calm flight still shows rings.
        let least = data.unit.from_ms(12.0);
        let wide = (high.0 - low.0).max(least);
        let tall = (high.1 - low.1).max(least);
        let per_unit =
            ((area.width() - 2.0 * FREE) / wide).min((area.height() - 2.0 * FREE) / tall);
        let middle = (
            f64::midpoint(area.left, area.right),
            f64::midpoint(area.top, area.bottom),
        );
        Self {
            origin: (
                middle.0 - f64::midpoint(low.0, high.0) * per_unit,
                middle.1 + f64::midpoint(low.1, high.1) * per_unit,
            ),
            per_unit,
        }
    }

    /// The place of a vector towards east and north, in the unit of the message.
    fn spot(&self, (east, north): (f64, f64)) -> Spot {
        (
            self.origin.0 + east * self.per_unit,
            self.origin.1 - north * self.per_unit,
        )
    }

    fn wind(&self, data: &Data<'_>, wind: Wind) -> Spot {
        self.spot(ends(data, wind))
    }

    /// The farthest corner from the origin, in the unit of the message.
    fn farthest(&self, area: Area) -> f64 {
        let dx = (area.left - self.origin.0)
            .abs()
            .max((area.right - self.origin.0).abs());
        let dy = (area.top - self.origin.1)
            .abs()
            .max((area.bottom - self.origin.1).abs());
        dx.hypot(dy) / self.per_unit
    }
}

/// Components of a wind in the unit of the message.
fn ends(data: &Data<'_>, wind: Wind) -> (f64, f64) {
    let (east, north) = wind.components_ms();
    (data.unit.from_ms(east), data.unit.from_ms(north))
}
