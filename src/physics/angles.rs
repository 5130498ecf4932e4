//! Differences of angles.

/// An angle difference brought to −180…180 degrees.
#[inline]
pub(crate) fn shorter_arc(difference_deg: f64) -> f64 {
    if difference_deg.abs() <= 180.0 {
        difference_deg
    } else {
        let turned = difference_deg.rem_euclid(360.0);
        if turned > 180.0 {
            turned - 360.0
        } else {
            turned
        }
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "the results are exact")]
mod tests {
    use super::*;

    #[test]
    fn arcs_are_short() {
        assert_eq!(shorter_arc(350.0), -10.0);
        assert_eq!(shorter_arc(-350.0), 10.0);
        assert_eq!(shorter_arc(180.0), 180.0);
        assert_eq!(shorter_arc(-540.0), 180.0);
    }
}
