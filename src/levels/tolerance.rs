//! How far the curve between chosen levels may depart from the profile: the
//! limits that depend on where or how strong (WMO-No. 306, 35.3.1.3, 35.3.2.1).

use crate::tables::limits;

/// Tolerance of temperature, K, on a stretch whose lower level is at `lower_hpa`.
///
/// The tighter one holds up to the first chosen level above 300 hPa or the
/// first tropopause, whichever is lower (35.3.1.3 (a)).
#[inline]
pub(crate) fn temperature_k(lower_hpa: f64, first_tropopause_hpa: Option<f64>) -> f64 {
    let lim = limits();
    let high = lower_hpa < lim.thermal_bound_hpa
        || first_tropopause_hpa.is_some_and(|tropopause| lower_hpa <= tropopause);
    if high {
        lim.temperature_high_k
    } else {
        lim.temperature_low_k
    }
}

/// Whether a departure of direction counts: not when both winds are below the limit of
/// light winds (our method, no source).
#[inline]
pub(crate) fn direction_counts(own_ms: f64, rebuilt_ms: f64, light_ms: f64) -> bool {
    own_ms >= light_ms || rebuilt_ms >= light_ms
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temperature_is_held_tighter_below_the_bound() {
        // Hand-worked from 35.3.1.3 (a): tropopause above and below 300 hPa,
        // none at all; a stretch that starts at the tropopause lies above it.
        for (lower, tropopause, limit) in [
            (500.0, Some(200.0), 1.0),
            (300.0, Some(200.0), 1.0),
            (299.9, Some(200.0), 2.0),
            (321.0, Some(320.0), 1.0),
            (320.0, Some(320.0), 2.0),
            (301.0, None, 1.0),
            (299.0, None, 2.0),
        ] {
            assert_eq!(temperature_k(lower, tropopause), limit, "{lower}");
        }
    }

    #[test]
    fn direction_does_not_count_in_light_winds() {
        let light = limits().light_wind_ms;
        assert!(!direction_counts(2.4, 2.4, light));
        assert!(direction_counts(2.5, 0.0, light));
        assert!(direction_counts(0.0, 2.5, light));
    }
}
