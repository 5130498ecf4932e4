//! Inversions, isothermal layers and layers without data.

use std::collections::VecDeque;

use super::column::{Column, Grid};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Element, LayerKind, MissingLayer};
use crate::profile::gaps::Lost;
use crate::tables::limits;

/// A layer between two points of a column, `base` below `top`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Layer {
    pub base: usize,
    pub top: usize,
}

/// Points of a temperature chain, as columns of one length.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Chain<'a> {
    /// Pressure, hPa.
    pub p: &'a [f64],
    /// Temperature, °C.
    pub t: &'a [f64],
    /// Relative humidity, %; NaN where missing.
    pub u: &'a [f64],
}

/// The rises of a curve of at least `least`, as (foot, peak), lowest first: falls of less
/// than `least` on the way do not end a rise. The foot is the last of equal
/// lowest points, the peak the first of equal highest ones.
pub(crate) fn rises(values: &[f64], least: f64) -> impl Iterator<Item = Layer> {
    let mut rest = values.iter().copied().enumerate();
    let first = rest.next().unwrap_or((0, f64::NAN));
    let (mut low, mut high, mut rising) = (first, first, false);
    std::iter::from_fn(move || {
        for here in rest.by_ref() {
            if rising {
                if here.1 > high.1 {
                    high = here;
                }
                if high.1 - here.1 >= least {
                    let found = Layer {
                        base: low.0,
                        top: high.0,
                    };
                    (rising, low) = (false, here);
                    return Some(found);
                }
            } else {
                if here.1 <= low.1 {
                    low = here;
                }
                if here.1 - low.1 >= least {
                    (rising, high) = (true, here);
                }
            }
        }
        std::mem::take(&mut rising).then_some(Layer {
            base: low.0,
            top: high.0,
        })
    })
}

#[expect(
    clippy::indexing_slicing,
    reason = "layers are made of indices into the columns of the chain"
)]
impl Chain<'_> {
    fn thickness(&self, layer: Layer) -> f64 {
        self.p[layer.base] - self.p[layer.top]
    }

    fn warming(&self, layer: Layer) -> f64 {
        self.t[layer.top] - self.t[layer.base]
    }

    fn humidity_change(&self, layer: Layer) -> f64 {
        (self.u[layer.top] - self.u[layer.base]).abs()
    }

    fn counts(&self, layer: Layer) -> Option<LayerKind> {
        let lim = limits();
        if self.thickness(layer) >= lim.inversion_thickness_hpa {
            Some(LayerKind::ThickInversion)
        } else if self.warming(layer) >= lim.inversion_temperature_k {
            Some(LayerKind::StrongInversion)
        } else if self.humidity_change(layer) >= lim.inversion_humidity_pct {
            Some(LayerKind::HumidityChange)
        } else {
            None
        }
    }

    /// Inversions joined where a thin layer of lapse parts them: the top is to
    /// be such that no further inversion follows within 20 hPa (note to
    /// 35.3.1.2). A dip colder than the base ends the layer. Those with base at or above
    /// the ceiling are not looked for.
    fn joined(&self, ceiling_hpa: f64) -> Vec<(Layer, Option<LayerKind>)> {
        let lim = limits();
        let mut found: Vec<(Layer, Option<LayerKind>)> = Vec::new();
        for next in rises(self.t, lim.hysteresis_k) {
            if let Some((layer, counts)) = found.last_mut()
                && self.p[layer.top] - self.p[next.base] < lim.inversion_thickness_hpa
                && self.t[next.base] >= self.t[layer.base]
            {
                let own = self.counts(next);
                layer.top = next.top;
                *counts = self.counts(*layer).or(*counts).or(own);
            } else if self.p[next.base] > ceiling_hpa {
                found.push((next, self.counts(next)));
            } else {
                break;
            }
        }
        found
    }

    /// Layers in which temperature varies by no more than the isothermal limit
    /// over at least 20 hPa; of overlapping ones the thickest. Above the ceiling those that
    /// overlap none from below it are not looked for.
    fn isothermal(&self, ceiling_hpa: f64) -> Vec<Layer> {
        let lim = limits();
        let n = self.t.len();
        let mut found: Vec<Layer> = Vec::new();
        let mut warmest: VecDeque<usize> = VecDeque::new();
        let mut coldest: VecDeque<usize> = VecDeque::new();
        let mut best: Option<Layer> = None;
        let mut base = 0;
        for k in 0..n {
            while warmest.back().is_some_and(|&j| self.t[j] <= self.t[k]) {
                warmest.pop_back();
            }
            warmest.push_back(k);
            while coldest.back().is_some_and(|&j| self.t[j] >= self.t[k]) {
                coldest.pop_back();
            }
            coldest.push_back(k);
            while let (Some(&w), Some(&c)) = (warmest.front(), coldest.front())
                && self.t[w] - self.t[c] > lim.isothermal_k + 1e-9
            {
                if w == base {
                    warmest.pop_front();
                }
                if c == base {
                    coldest.pop_front();
                }
                base += 1;
            }
            if self.p[base] <= ceiling_hpa && best.is_none_or(|b| base > b.top) {
                break;
            }
            let window = Layer { base, top: k };
            if self.thickness(window) < lim.inversion_thickness_hpa {
                continue;
            }
            match best {
                Some(b) if base > b.top => {
                    found.push(b);
                    best = Some(window);
                }
                Some(b) if self.thickness(window) <= self.thickness(b) => {}
                _ => best = Some(window),
            }
        }
        found.extend(best);
        found
    }

    /// The inversions and isothermal layers whose two ends must be reported,
    /// with base at a pressure above `ceiling_hpa`, lowest base first.
    pub fn reported(&self, ceiling_hpa: f64) -> Vec<(Layer, LayerKind)> {
        let lim = limits();
        let below = |layer: &Layer| self.p[layer.base] > ceiling_hpa;
        let mut found: Vec<(Layer, LayerKind)> = self
            .joined(ceiling_hpa)
            .into_iter()
            .filter_map(|(layer, counts)| counts.map(|c| (layer, c)))
            .collect();
        let holds = |found: &[(Layer, LayerKind)], layer: Layer| {
            found
                .iter()
                .any(|(f, _)| f.base <= layer.base && layer.top <= f.top)
        };
        for layer in rises(self.t, lim.humidity_hysteresis_k).take_while(below) {
            if self.humidity_change(layer) >= lim.inversion_humidity_pct && !holds(&found, layer) {
                found.push((layer, LayerKind::HumidityChange));
            }
        }
        for mut layer in self.isothermal(ceiling_hpa) {
            for (other, _) in &found {
                if other.base <= layer.base && other.top > layer.base {
                    layer.base = other.top.min(layer.top);
                } else if other.base < layer.top && other.top >= layer.top {
                    layer.top = other.base.max(layer.base);
                }
            }
            if below(&layer) && self.thickness(layer) >= lim.inversion_thickness_hpa {
                found.push((layer, LayerKind::Isothermal));
            }
        }
        found.sort_by_key(|(layer, _)| (layer.base, layer.top));
        found
    }
}

impl Chain<'_> {
    /// An isothermal layer that begins less than 20 hPa below a tropopause begins
    /// there: the little below it is the end of the lapse, which half a kelvin
    /// lets in.
    pub fn joined_to(&self, layer: Layer, counts: LayerKind, tropopauses: &[usize]) -> Layer {
        let p = |k: usize| self.p.get(k).copied().unwrap_or(f64::NAN);
        let near = |k: &&usize| {
            **k > layer.base
                && **k < layer.top
                && p(layer.base) - p(**k) < limits().inversion_thickness_hpa
        };
        match tropopauses.iter().find(near) {
            Some(&base) if counts == LayerKind::Isothermal => Layer { base, ..layer },
            _ => layer,
        }
    }
}

/// A stretch of rows without an element: the last row with it below and the
/// first row with it above.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Hole {
    pub below: Option<usize>,
    pub above: Option<usize>,
}

impl Hole {
    /// The layer as the report has it, and the finding that names it.
    pub fn reported(&self, element: Element, column: &Column) -> (MissingLayer, Finding) {
        let p = |k: Option<usize>| k.and_then(|k| column.p.get(k)).copied();
        let (from_hpa, to_hpa) = (p(self.below), p(self.above));
        let layer = MissingLayer {
            element,
            from_hpa,
            to_hpa,
        };
        let name = element.name();
        let clause = match (element, column.grid) {
            (Element::Temperature | Element::Humidity, _) => "WMO-No. 306, 35.3.1.6",
            (Element::Wind, Grid::Pressure) => "WMO-No. 306, 35.3.2.2",
            (Element::Wind, Grid::Metres(_)) => "WMO-No. 306, 32.3.1.5, from memory",
        };
        let at =
            |p: Option<f64>, end: &str| p.map_or_else(|| end.to_owned(), |p| format!("{p:.1} hPa"));
        let from = at(from_hpa, "the lowest row");
        let to = at(to_hpa, "the highest row");
        let place = from_hpa
            .or(to_hpa)
            .map_or(Place::default(), Place::pressure);
        let finding = finding!(
            LayerNotObserved,
            place,
            element = name,
            from = from,
            to = to
        );
        let finding = finding.clause(clause);
        (layer, finding)
    }
}

/// Layers without an element, of which these are the values.
pub(crate) fn holes_of(
    column: &Column,
    lost: Lost,
    values: &[f64],
    depth: impl Fn(usize, usize) -> f64,
) -> Vec<Hole> {
    if column.is_whole(values) {
        return Vec::new();
    }
    let present = |k: usize| values.get(k).is_some_and(|value| value.is_finite());
    let is_missing = |low: usize, high: usize| column.is_missing(lost, values, low, high);
    holes(values.len(), present, is_missing, depth)
}

/// Layers without an element (35.3.1.6, 35.3.2.2): between two successive rows
/// that have it where it `is_missing`, below the first and above the last by `depth` in units
/// of the limit.
fn holes(
    rows: usize,
    present: impl Fn(usize) -> bool,
    is_missing: impl Fn(usize, usize) -> bool,
    depth: impl Fn(usize, usize) -> f64,
) -> Vec<Hole> {
    let mut found = Vec::new();
    let mut last: Option<usize> = None;
    for k in (0..rows).filter(|&k| present(k)) {
        let is_hole = match last {
            Some(l) => is_missing(l, k),
            None => depth(0, k) >= 1.0,
        };
        if is_hole {
            found.push(Hole {
                below: last,
                above: Some(k),
            });
        }
        last = Some(k);
    }
    if let Some(l) = last
        && l + 1 < rows
        && depth(l, rows - 1) >= 1.0
    {
        found.push(Hole {
            below: Some(l),
            above: None,
        });
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rises_have_feet_and_peaks() {
        let all = |values: &[f64], least| rises(values, least).collect::<Vec<_>>();
        //            0    1    2    3    4    5    6    7
        let values = [5.0, 4.0, 4.0, 4.2, 6.0, 5.9, 6.0, 3.0];
        assert_eq!(all(&values, 0.3), [Layer { base: 2, top: 4 }]);
        assert_eq!(all(&values, 3.0), []);
        // A dip of 0.2 does not end a rise at 0.3, but does at 0.1.
        let dip = [1.0, 2.0, 1.8, 2.5];
        assert_eq!(all(&dip, 0.3), [Layer { base: 0, top: 3 }]);
        assert_eq!(
            all(&dip, 0.1),
            [Layer { base: 0, top: 1 }, Layer { base: 2, top: 3 }]
        );
    }

    fn reported(p: &[f64], t: &[f64], u: &[f64]) -> Vec<(usize, usize, LayerKind)> {
        Chain { p, t, u }
            .reported(300.0)
            .into_iter()
            .map(|(l, c)| (l.base, l.top, c))
            .collect()
    }

    #[test]
    fn an_inversion_counts_by_thickness_strength_or_humidity() {
        let dry = [50.0; 4];
        // 20 hPa thick, 0.5 K: counts; 19 hPa: not (and not isothermal, since
        // a layer of 19 hPa is too thin for that as well).
        assert_eq!(
            reported(&[1000.0, 900.0, 880.0, 800.0], &[10.0, 4.0, 4.6, 0.0], &dry),
            [(1, 2, LayerKind::ThickInversion)]
        );
        assert_eq!(
            reported(&[1000.0, 900.0, 881.0, 800.0], &[10.0, 4.0, 4.6, 0.0], &dry),
            []
        );
        // 5 hPa thick: 2.5 K counts, 2.4 K does not.
        assert_eq!(
            reported(&[1000.0, 900.0, 895.0, 800.0], &[10.0, 4.0, 6.5, 0.0], &dry),
            [(1, 2, LayerKind::StrongInversion)]
        );
        assert_eq!(
            reported(&[1000.0, 900.0, 895.0, 800.0], &[10.0, 4.0, 6.4, 0.0], &dry),
            []
        );
        // 0.2 K and 20 % RH: the wider hysteresis must not hide it.
        assert_eq!(
            reported(
                &[1000.0, 900.0, 895.0, 800.0],
                &[10.0, 4.0, 4.2, 0.0],
                &[80.0, 70.0, 50.0, 50.0]
            ),
            [(1, 2, LayerKind::HumidityChange)]
        );
        assert_eq!(
            reported(
                &[1000.0, 900.0, 895.0, 800.0],
                &[10.0, 4.0, 4.2, 0.0],
                &[80.0, 70.0, 51.0, 50.0]
            ),
            []
        );
    }

    #[test]
    fn the_ceiling_is_for_the_base() {
        let (t, u) = ([0.0, -9.0, -3.0, -9.0], [50.0; 4]);
        assert_eq!(reported(&[400.0, 301.0, 280.0, 250.0], &t, &u).len(), 1);
        assert_eq!(reported(&[400.0, 300.0, 280.0, 250.0], &t, &u).len(), 0);
    }

    #[test]
    fn isothermal_layers_are_half_a_kelvin_wide() {
        let u = [50.0; 5];
        assert_eq!(
            reported(
                &[1000.0, 900.0, 890.0, 880.0, 800.0],
                &[9.0, 4.0, 3.8, 3.5, 0.0],
                &u
            ),
            [(1, 3, LayerKind::Isothermal)]
        );
        assert_eq!(
            reported(
                &[1000.0, 900.0, 890.0, 880.0, 800.0],
                &[9.0, 4.0, 3.8, 3.4, 0.0],
                &u
            ),
            []
        );
    }

    #[test]
    fn thin_inversions_join_across_a_thin_lapse() {
        // Two of 12 hPa and 1 K, parted by 10 hPa with a dip above the base.
        let p = [1000.0, 900.0, 888.0, 878.0, 866.0, 700.0];
        let t = [10.0, 2.0, 3.0, 2.4, 3.4, -8.0];
        assert_eq!(
            reported(&p, &t, &[50.0; 6]),
            [(1, 4, LayerKind::ThickInversion)]
        );
        // Parted by 20 hPa they stay two thin ones.
        let p = [1000.0, 900.0, 888.0, 868.0, 856.0, 700.0];
        assert_eq!(reported(&p, &t, &[50.0; 6]), []);
    }

    #[test]
    fn holes_are_found_at_the_limit() {
        let p: [f64; 6] = [1000.0, 990.0, 980.0, 970.0, 960.0, 950.0];
        let present = |gone: [usize; 2]| move |k: usize| !gone.contains(&k);
        // Rows 2 and 3 missing: 990 to 960 is 30 hPa.
        let hole = Hole {
            below: Some(1),
            above: Some(4),
        };
        let found = |gone, least: f64| {
            let depth = |a: usize, b: usize| (p[a] - p[b]) / least;
            holes(6, present(gone), |a, b| depth(a, b) >= 1.0, depth)
        };
        assert_eq!(found([2, 3], 30.0), [hole]);
        assert_eq!(found([2, 3], 30.1), []);
        // From the ground, and to the top.
        assert_eq!(
            found([0, 1], 20.0),
            [Hole {
                below: None,
                above: Some(2)
            }]
        );
        assert_eq!(
            found([4, 5], 20.0),
            [Hole {
                below: Some(3),
                above: None
            }]
        );
    }
}
