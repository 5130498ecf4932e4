//! Velocity from a track: the straight line through positions that leaves the
//! least squares.

/// A velocity and how well the positions determine it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Velocity {
    /// Towards east and north, m/s.
    pub components_ms: (f64, f64),
    /// Standard error of one component, m/s: from the scatter about the line,
    /// which is at least that of positions rounded to their step.
    pub error_ms: f64,
    /// Way along the line over the time of the fixes, m.
    pub way_m: f64,
}

/// The velocity of fixes (time s; metres east and north of any point), by linear
/// regression on time. `step_m` is the step to which positions are rounded.
///
/// `None` for fewer than two fixes, or all at one time.
///
/// ```
/// use fivefig::physics::track::velocity;
/// let fixes = [(0.0, 0.0, 0.0), (1.0, 3.0, -4.0), (2.0, 6.0, -8.0)];
/// let v = velocity(&fixes, 0.0).unwrap();
/// assert_eq!((v.components_ms, v.way_m), ((3.0, -4.0), 10.0));
/// ```
#[must_use]
pub fn velocity(fixes: &[(f64, f64, f64)], step_m: f64) -> Option<Velocity> {
    let count = f64::from(u32::try_from(fixes.len()).ok()?);
    let mean = |of: fn(&(f64, f64, f64)) -> f64| fixes.iter().map(of).sum::<f64>() / count;
    let (t, x, y) = (mean(|f| f.0), mean(|f| f.1), mean(|f| f.2));
    let (mut tt, mut tx, mut ty) = (0.0, 0.0, 0.0);
    for f in fixes {
        tt += (f.0 - t).powi(2);
        tx += (f.0 - t) * (f.1 - x);
        ty += (f.0 - t) * (f.2 - y);
    }
    if fixes.len() < 2 || tt.is_nan() || tt <= 0.0 {
        return None;
    }
    let (east, north) = (tx / tt, ty / tt);
    let squares: f64 = fixes
        .iter()
        .map(|f| (f.1 - x - east * (f.0 - t)).powi(2) + (f.2 - y - north * (f.0 - t)).powi(2))
        .sum();
    // Two components, each with two parameters.
    let freedom = 2.0 * (count - 2.0);
    let scatter = if freedom > 0.0 {
        squares / freedom
    } else {
        0.0
    };
    // Rounding to a step spreads evenly: its variance is a twelfth of the square.
    let variance = scatter.max(step_m * step_m / 12.0);
    let times = fixes.iter().map(|f| f.0);
    let last = times.clone().fold(f64::NEG_INFINITY, f64::max);
    let span = last - times.fold(f64::INFINITY, f64::min);
    Some(Velocity {
        components_ms: (east, north),
        error_ms: (variance / tt).sqrt(),
        way_m: east.hypot(north) * span,
    })
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn a_line_by_hand() {
        // Times 0, 1, 2, 3 (mean 1.5, squares 5), metres east 0, 3, 5, 8: the sum of
        // products is -1.5*0 - 0.5*3 + 0.5*5 + 1.5*8 = 13, so 2.6 m/s. Residuals
        // about 4 + 2.6 (t - 1.5): -0.1, 0.3, -0.3, 0.1, squares 0.2. North stands
        // still. Four degrees of freedom: variance 0.05, error sqrt(0.05 / 5) = 0.1.
        let fixes = [
            (0.0, 0.0, 7.0),
            (1.0, 3.0, 7.0),
            (2.0, 5.0, 7.0),
            (3.0, 8.0, 7.0),
        ];
        let v = velocity(&fixes, 0.0).unwrap();
        assert!((v.components_ms.0 - 2.6).abs() < 1e-12 && v.components_ms.1 == 0.0);
        assert!((v.error_ms - 0.1).abs() < 1e-12, "{v:?}");
        assert_abs_diff_eq!(v.way_m, 7.8, epsilon = 1e-12);
        // A step of 12 m: variance 12, error sqrt(12 / 5).
        let v = velocity(&fixes, 12.0).unwrap();
        assert_abs_diff_eq!(v.error_ms, 2.4_f64.sqrt(), epsilon = 1e-12);
    }

    #[test]
    fn too_little_for_a_line() {
        assert_eq!(velocity(&[], 1.0), None);
        assert_eq!(velocity(&[(1.0, 2.0, 3.0)], 1.0), None);
        assert_eq!(velocity(&[(1.0, 2.0, 3.0), (1.0, 4.0, 5.0)], 1.0), None);
        assert_eq!(
            velocity(&[(f64::NAN, 2.0, 3.0), (1.0, 4.0, 5.0)], 1.0),
            None
        );
    }
}
