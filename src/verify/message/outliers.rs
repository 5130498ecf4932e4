//! Significant levels that stand out between the levels next to them.

use super::Check;
use super::pilot::HeightLine;
use crate::forms::text::{Body, Set};
use crate::model::Part;
use crate::model::finding::{Place, finding};
use crate::physics::humidity::relative_humidity_pct;
use crate::physics::hydrostatic::standard_height_gpm;
use crate::tables::message_limits;

/// A level with a value, its height for the depth of layers.
struct Point<V> {
    place: (Part, Set),
    p: Option<f64>,
    z: f64,
    value: V,
}

impl Check<'_> {
    /// Wind and humidity of a level beside those of both levels next to it.
    pub(super) fn outliers(&mut self) {
        let winds = self.winds();
        for three in winds.windows(3) {
            self.wind_outlier(three);
        }
        let humidities = self.humidities();
        for three in humidities.windows(3) {
            self.humidity_outlier(three);
        }
    }

    fn wind_outlier(&mut self, three: &[Point<[f64; 2]>]) {
        let [low, own, high] = three else { return };
        let depth = high.z - low.z;
        if own.z < low.z || high.z < own.z || depth <= 0.0 {
            return;
        }
        let share = (own.z - low.z) / depth;
        let line = |i: fn(&[f64; 2]) -> f64| {
            i(&own.value) - (i(&low.value) + (i(&high.value) - i(&low.value)) * share)
        };
        let off = line(|v| v[0]).hypot(line(|v| v[1]));
        let lim = message_limits();
        let most = lim.outlier_wind_ms + lim.outlier_wind_ms_per_km * depth / 1000.0;
        if off > most {
            let place = self.outlier_place(own);
            let level = match own.p {
                Some(p) => format!("{p} hPa"),
                None => format!("{} gpm", own.z),
            };
            self.findings.push(finding!(
                WindOutlier,
                place,
                level = level,
                off = off,
                depth_gpm = depth,
                [most = most]
            ));
        }
    }

    fn humidity_outlier(&mut self, three: &[Point<f64>]) {
        let [low, own, high] = three else { return };
        let depth = high.z - low.z;
        // Higher or lower than both.
        let apart = [own.value - low.value, own.value - high.value];
        let off = match apart {
            [a, b] if a > 0.0 && b > 0.0 => a.min(b),
            [a, b] if a < 0.0 && b < 0.0 => (-a).min(-b),
            _ => return,
        };
        let lim = message_limits();
        let most = lim.outlier_humidity_pct + lim.outlier_humidity_pct_per_km * depth / 1000.0;
        if off > most {
            self.findings.push(finding!(
                HumidityOutlier,
                self.outlier_place(own),
                p = own.p.unwrap_or_default(),
                off = off,
                depth_gpm = depth,
                [most = most]
            ));
        }
    }

    fn outlier_place<V>(&self, own: &Point<V>) -> Place {
        let (part, set) = own.place;
        Place {
            pressure_hpa: own.p,
            ..self.place(part, set, 0.0)
        }
    }

    /// The significant winds, lowest first: by pressure at the heights of the standard
    /// atmosphere, or by height.
    fn winds(&self) -> Vec<Point<[f64; 2]>> {
        let mut out = Vec::new();
        for (&part, body) in &self.message.parts {
            if let Body::Significant(b) = body {
                let levels = b.winds.iter().flatten().enumerate();
                out.extend(levels.filter_map(|(i, (p, wind))| {
                    let p = p.value_hpa();
                    Some(Point {
                        place: (part, Set::Wind(i)),
                        p: Some(p),
                        z: standard_height_gpm(p),
                        value: super::between::vector((*wind)?, self.message.unit),
                    })
                }));
            }
        }
        let by_height = HeightLine::of(self.message).0.into_iter();
        out.extend(by_height.map(|level| Point {
            place: (level.part, level.set),
            p: None,
            z: level.z,
            value: level.wind,
        }));
        out
    }

    /// Relative humidities of section 5, lowest first.
    fn humidities(&self) -> Vec<Point<f64>> {
        let mut out = Vec::new();
        for part in [Part::B, Part::D] {
            let Some(b) = self.message.significant(part) else {
                continue;
            };
            let levels = b.thermal.iter().flatten().enumerate();
            out.extend(levels.filter_map(|(i, (p, (t, d)))| {
                let (p, t, d) = (p.value_hpa(), t.as_ref()?.value_c(), d.as_ref()?.value_k());
                Some(Point {
                    place: (part, Set::Thermal(i)),
                    p: Some(p),
                    z: standard_height_gpm(p),
                    value: relative_humidity_pct(t, t - d),
                })
            }));
        }
        out
    }
}
