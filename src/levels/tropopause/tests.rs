use super::*;
use crate::model::{Coding, Profile, Row};

/// A profile by knots of (gpm, °C), a row every 50 gpm; pressure by the rough
/// 1000 exp(-z/7000), so that 500 hPa is near 4852 gpm and 100 hPa near 16118.
fn heights(knots: &[(f64, f64)]) -> Vec<f64> {
    heights_without(knots, (0.0, 0.0))
}

/// The same, without the rows between two heights.
fn heights_without(knots: &[(f64, f64)], (low, high): (f64, f64)) -> Vec<f64> {
    let mut rows = Vec::new();
    for pair in knots.windows(2) {
        let ((z0, t0), (z1, t1)) = (pair[0], pair[1]);
        let mut z = z0;
        while z < z1 {
            rows.push((z, t0 + (t1 - t0) * (z - z0) / (z1 - z0)));
            z += 50.0;
        }
    }
    rows.extend(knots.last());
    let rows = rows
        .into_iter()
        .filter(|&(z, _)| z <= low || z >= high)
        .map(|(z, t)| Row {
            pressure_hpa: Some(1000.0 * (-z / 7000.0_f64).exp()),
            height_gpm: Some(z),
            temperature_c: Some(t),
            ..Row::default()
        })
        .collect();
    let profile = Profile {
        rows,
        ..Profile::default()
    };
    let column = Column::new(&profile, &Coding::default());
    tropopauses(&column)
        .rows
        .into_iter()
        .map(|k| column.z[k])
        .collect()
}

#[test]
fn the_first_row_that_holds_for_two_kilometres() {
    // 6.5 K/km to 10 km, isothermal above.
    assert_eq!(
        heights(&[(0.0, 15.0), (10_000.0, -50.0), (13_000.0, -50.0)]),
        [10_000.0]
    );
    // Exactly 2 K/km still holds, 2.1 K/km does not.
    assert_eq!(
        heights(&[(0.0, 15.0), (10_000.0, -50.0), (13_000.0, -56.0)]),
        [10_000.0]
    );
    assert!(heights(&[(0.0, 15.0), (10_000.0, -50.0), (13_000.0, -56.3)]).is_empty());
}

#[test]
fn a_sounding_that_ends_inside_the_two_kilometres_has_none() {
    assert!(heights(&[(0.0, 15.0), (10_000.0, -50.0), (11_900.0, -50.0)]).is_empty());
    assert_eq!(
        heights(&[(0.0, 15.0), (10_000.0, -50.0), (12_000.0, -50.0)]),
        [10_000.0]
    );
}

#[test]
fn a_gap_of_more_than_a_kilometre_leaves_the_two_above_it_open() {
    // Isothermal from 10 km: a kilometre may be missing (35.2.2.3, `bridge_thermal_gpm`);
    // with more, the lowest row with two kilometres above it is the upper end of the gap.
    let knots = [(0.0, 15.0), (10_000.0, -50.0), (15_000.0, -50.0)];
    for (high, tropopause) in [(11_500.0, 10_000.0), (11_550.0, 11_550.0)] {
        assert_eq!(heights_without(&knots, (10_500.0, high)), [tropopause]);
    }
}

#[test]
fn a_candidate_that_fails_inside_is_passed_over() {
    // Isothermal for 1 km, then 8 K/km for 1 km: from 8 km the mean over 2 km is
    // 4 K/km. The tropopause is at 10 km.
    assert_eq!(
        heights(&[
            (0.0, 10.0),
            (8000.0, -42.0),
            (9000.0, -42.0),
            (10_000.0, -50.0),
            (13_000.0, -50.0)
        ]),
        [10_000.0]
    );
}

#[test]
fn a_further_one_needs_a_kilometre_above_three_kelvins() {
    let up_to = |lapse_k: f64| {
        heights(&[
            (0.0, 15.0),
            (10_000.0, -50.0),
            (12_500.0, -50.0),
            (14_500.0, -50.0 - 2.0 * lapse_k),
            (17_500.0, -50.0 - 2.0 * lapse_k),
        ])
    };
    assert_eq!(up_to(3.5), [10_000.0, 14_500.0]);
    assert_eq!(up_to(3.0), [10_000.0]);
}

#[test]
fn below_500_hpa_only_one_that_stands_alone_counts() {
    // Stable from 3 km up to 13 km, 1 K/km: alone, nothing steeper above.
    assert_eq!(
        heights(&[(0.0, 15.0), (3000.0, -5.0), (13_000.0, -15.0)]),
        [3000.0]
    );
    // The same with an ordinary troposphere above it does not count.
    assert_eq!(
        heights(&[
            (0.0, 0.0),
            (2500.0, -15.0),
            (4500.0, -15.0),
            (10_000.0, -50.0),
            (13_000.0, -50.0)
        ]),
        [10_000.0]
    );
}

#[test]
fn a_further_one_may_lie_inside_the_kilometre() {
    // From 12.5 km 10 K/km for 400 m, then isothermal: the mean over the
    // kilometre is 4 K/km, so the search starts again at 12.5 km and ends at
    // 12.9 km, inside it. With 7 K/km the mean is 2.8 K/km: none.
    let up_to = |lapse_k: f64| {
        let cold = -50.0 - 0.4 * lapse_k;
        heights(&[
            (0.0, 15.0),
            (10_000.0, -50.0),
            (12_500.0, -50.0),
            (12_900.0, cold),
            (16_000.0, cold),
        ])
    };
    assert_eq!(up_to(10.0), [10_000.0, 12_900.0]);
    assert_eq!(up_to(7.0), [10_000.0]);
}

#[test]
fn the_very_next_row_may_hold_where_one_fails() {
    // 4 K/km from 10 000 to 10 050 gpm, isothermal above.
    assert_eq!(
        heights(&[
            (0.0, 15.0),
            (10_000.0, -50.0),
            (10_050.0, -50.2),
            (13_000.0, -50.2)
        ]),
        [10_050.0]
    );
}
