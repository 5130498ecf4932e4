//! A quantity as a function of height: straight lines between knots, each
//! corner sharp or rounded.

/// A corner of a [`Track`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Knot {
    /// Geopotential height, gpm.
    pub height_gpm: f64,
    /// The value there, were the corner sharp.
    pub value: f64,
    /// Half-width of the rounding, gpm; 0 keeps the corner sharp.
    pub radius_gpm: f64,
}

/// A knot with a rounded corner (`radius_gpm` of 0: a sharp one).
pub const fn knot(height_gpm: f64, value: f64, radius_gpm: f64) -> Knot {
    Knot {
        height_gpm,
        value,
        radius_gpm,
    }
}

/// Knots from low to high. Below the first and above the last the outermost
/// straight line goes on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Track(pub &'static [Knot]);

impl Track {
    /// The value at a height.
    ///
    /// The polyline is written as its first straight line plus one change of
    /// slope a knot; rounding a corner is a running mean of the bend, so that
    /// the corners keep out of each other's way.
    pub fn at(self, height_gpm: f64) -> f64 {
        let mut lines = self.0.windows(2).filter_map(|pair| match pair {
            [low, high] => Some((
                low,
                (high.value - low.value) / (high.height_gpm - low.height_gpm),
            )),
            _ => None,
        });
        let Some((first, mut slope)) = lines.next() else {
            return self.0.first().map_or(0.0, |only| only.value);
        };
        let mut value = first.value + slope * (height_gpm - first.height_gpm);
        for (corner, next) in lines {
            value += (next - slope) * bend(height_gpm - corner.height_gpm, corner.radius_gpm);
            slope = next;
        }
        value
    }
}

/// The ramp max(x, 0), its corner rounded over −r…r.
fn bend(x: f64, radius: f64) -> f64 {
    if x <= -radius {
        0.0
    } else if x >= radius {
        x
    } else {
        (x + radius).powi(2) / (4.0 * radius)
    }
}
