//! What the wind can do from level to level.

use super::Check;
use crate::forms::text::{Body, Maximum, Set};
use crate::model::Part;
use crate::model::finding::finding;
use crate::model::quantity::SpeedUnit;
use crate::physics::hydrostatic::standard_height_gpm;
use crate::tables::figure::WindFigure;
use crate::tables::{limits, message_limits};

/// A level with wind.
#[derive(Clone, Copy)]
struct Windy {
    part: Part,
    set: Set,
    p: f64,
    dir: f64,
    ms: f64,
}

impl Check<'_> {
    /// Wind does not turn or grow by more in a kilometre.
    pub(super) fn shear(&mut self) {
        let lim = message_limits();
        let winds = self.windy();
        for pair in winds.windows(2) {
            let [low, high] = pair else { continue };
            let uv = |w: &Windy| {
                let (sin, cos) = w.dir.to_radians().sin_cos();
                (w.ms * sin, w.ms * cos)
            };
            let ((u0, v0), (u1, v1)) = (uv(low), uv(high));
            let change = (u1 - u0).hypot(v1 - v0);
            let deep = standard_height_gpm(high.p) - standard_height_gpm(low.p);
            // Thin layers are as coarse as the code.
            let allowed = lim.shear_ms * (deep.max(300.0) / 1000.0).max(0.6);
            if change > allowed {
                self.findings.push(finding!(
                    WindShear,
                    self.place(high.part, high.set, high.p),
                    change_ms = change,
                    low_hpa = low.p,
                    high_hpa = high.p,
                    [most_ms = allowed]
                ));
            }
        }
    }

    /// 66 stands at the top of the wind, and a speed that falls again above is a maximum.
    pub(super) fn maxima(&mut self) {
        let winds = self.windy();
        for part in [Part::A, Part::C] {
            let Some(a) = self.message.standard(part) else {
                continue;
            };
            for (i, maximum) in a.maxima.iter().enumerate().filter(|(_, m)| m.top) {
                let p = maximum.pressure.value_hpa();
                let above = winds.iter().rev().find(|w| w.p < p);
                if let Some(above) = above {
                    let place = self.place(part, Set::Maximum(i), p);
                    let (top_hpa, above_hpa) = (p, above.p);
                    self.findings.push(finding!(
                        WindAboveTop,
                        place,
                        top_hpa = top_hpa,
                        above_hpa = above_hpa
                    ));
                }
            }
            if a.maxima.is_empty() {
                self.maximum_left_out(part, &winds, &a.maxima);
            }
        }
    }

    /// The greatest wind of a part without maximum winds, where it is one.
    fn maximum_left_out(&mut self, part: Part, winds: &[Windy], maxima: &[Maximum]) {
        let lim = limits();
        let own = |w: &&Windy| w.p < lim.max_wind_floor_hpa && (w.p < 100.0) == part.is_upper();
        let greatest = winds
            .iter()
            .filter(own)
            .max_by(|a, b| a.ms.total_cmp(&b.ms));
        let Some(greatest) = greatest.filter(|_| maxima.is_empty()) else {
            return;
        };
        // Half a unit is the code's; a maximum has weaker wind on both sides.
        let unit = self.message.unit;
        let least = lim.max_wind_speed_ms + unit.to_ms(0.5);
        let fall = message_limits().maximum_fall_ms;
        let weaker = |w: &&Windy| w.ms < greatest.ms - fall;
        let below = winds
            .iter()
            .filter(|w| w.p > greatest.p)
            .any(|w| weaker(&w));
        let above = winds
            .iter()
            .filter(|w| w.p < greatest.p)
            .any(|w| weaker(&w));
        if greatest.ms <= least || !below || !above {
            return;
        }
        let place = self.place(greatest.part, greatest.set, greatest.p);
        self.findings.push(finding!(
            MaximumWindLeftOut,
            place,
            speed = greatest.ms / unit.to_ms(1.0),
            unit = unit.symbol(),
            pressure_hpa = greatest.p,
            part = part.letter(),
            [least_ms = lim.max_wind_speed_ms]
        ));
    }

    /// Significant winds, or those of standard surfaces where there are none.
    fn windy(&self) -> Vec<Windy> {
        let unit: SpeedUnit = self.message.unit;
        let level = |part, set, p: f64, wind: Option<WindFigure>| {
            let wind = wind?;
            Some(Windy {
                part,
                set,
                p,
                dir: wind.dir_deg(),
                ms: wind.speed_ms(unit),
            })
        };
        let mut out = Vec::new();
        for upper in [false, true] {
            let before = out.len();
            for (&part, body) in self
                .message
                .parts
                .iter()
                .filter(|(p, _)| p.is_upper() == upper)
            {
                if let Body::Significant(b) = body {
                    let winds = b.winds.iter().flatten().enumerate();
                    out.extend(winds.filter_map(|(i, (p, wind))| {
                        level(part, Set::Wind(i), p.value_hpa(), *wind)
                    }));
                }
            }
            if out.len() > before {
                continue;
            }
            for (&part, body) in self
                .message
                .parts
                .iter()
                .filter(|(p, _)| p.is_upper() == upper)
            {
                if let Body::Standard(a) = body {
                    out.extend(a.standard.iter().enumerate().filter_map(|(i, s)| {
                        level(part, Set::Standard(i), f64::from(s.pressure_hpa), s.wind)
                    }));
                }
            }
        }
        out.sort_by(|a, b| b.p.total_cmp(&a.p));
        out
    }
}
