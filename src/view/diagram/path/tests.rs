#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test stops at the first fault"
)]

use super::*;
use proptest::prelude::*;

#[test]
fn a_missing_value_breaks_a_curve() {
    let values = [None, Some(1), Some(2), None, None, Some(3), None];
    assert_eq!(runs(values.into_iter()), [vec![1, 2], vec![3]]);
    assert!(runs([None::<i32>].into_iter()).is_empty());
}

#[test]
fn a_straight_line_keeps_its_ends() {
    let line: Vec<Spot> = (0..100)
        .map(|i| (f64::from(i), 2.0 * f64::from(i)))
        .collect();
    assert_eq!(thinned(&line), [(0.0, 0.0), (99.0, 198.0)]);
    assert_eq!(thinned(&[(1.0, 2.0)]), [(1.0, 2.0)]);
    assert!(thinned(&[]).is_empty());
    // A corner stays.
    let corner = [
        (0.0, 0.0),
        (5.0, 0.0),
        (10.0, 0.0),
        (10.0, 5.0),
        (10.0, 9.0),
    ];
    assert_eq!(thinned(&corner), [(0.0, 0.0), (10.0, 0.0), (10.0, 9.0)]);
}

#[test]
fn path_data_go_from_each_to_the_next() {
    let data = polyline(&[(10.04, 5.0), (10.5, 4.96), (10.52, 4.98), (-3.0, 0.0)]);
    // 10.0 5.0; 10.5 5.0; the third rounds to the second; -3.0 0.0.
    assert_eq!(data, "M10.0 5.0l.5 .0l-13.5-5.0");
    assert_eq!(polyline(&[(f64::NAN, 1.0)]), "M.0 1.0");
    assert_eq!(polyline(&[]), "");
}

#[test]
fn a_direction_over_north_ends_at_one_edge_and_begins_at_the_other() {
    // 350 to 20 degrees: 30 degrees of arc, a third of it before north.
    let points = unwrapped(&[(350.0, 0.0), (20.0, 30.0), (340.0, 70.0)]);
    assert_eq!(points, [(350.0, 0.0), (380.0, 30.0), (340.0, 70.0)]);
    assert_eq!(
        wrapped(&points),
        [
            vec![(350.0, 0.0), (360.0, 10.0)],
            vec![(0.0, 10.0), (20.0, 30.0), (0.0, 50.0)],
            vec![(360.0, 50.0), (340.0, 70.0)],
        ]
    );
    assert_eq!(wrapped(&[(360.0, 1.0)]), [vec![(0.0, 1.0)]]);
}

#[test]
fn very_many_rows_keep_their_outline() {
    // 100 rows to 0.4 units of height, swinging between 0 and 10.
    let rows = 50_000_u32;
    let points: Vec<Spot> = (0..rows)
        .map(|i| (if i % 2 == 0 { 0.0 } else { 10.0 }, 0.004 * f64::from(i)))
        .collect();
    let few = thinned_up(&points);
    // 500 slices of four points at most.
    assert!(few.len() <= 2004, "{}", few.len());
    assert_eq!(
        (few[0], few[few.len() - 1]),
        (points[0], points[points.len() - 1])
    );
    assert!(few.iter().any(|p| p.0 == 0.0) && few.iter().any(|p| p.0 == 10.0));
    // A few rows are as they are.
    let some: Vec<Spot> = points.iter().copied().step_by(100).collect();
    assert_eq!(thinned_up(&some), thinned(&some));
}

proptest! {
    /// Every point lies within the stated distance of the thinned curve.
    #[test]
    fn a_thinned_curve_is_true(
        steps in prop::collection::vec((-3.0..3.0_f64, 0.0..0.5_f64), 1..1500),
    ) {
        let mut at = (100.0, 0.0);
        let points: Vec<Spot> = steps
            .iter()
            .map(|(dx, dy)| {
                at = (at.0 + dx * 0.1, at.1 + dy);
                at
            })
            .collect();
        let thin = thinned(&points);
        prop_assert_eq!(thin.first(), points.first());
        prop_assert_eq!(thin.last(), points.last());
        let mut chord = 0;
        for &point in &points {
            // Kept points come in order; a chord ends where its point is met.
            let off = |i: usize| match thin.get(i + 1) {
                Some(&next) => from_chord(point, thin[i], next),
                None => f64::INFINITY,
            };
            while off(chord) > THIN_PX + 1e-9 && chord + 2 < thin.len() {
                chord += 1;
            }
            prop_assert!(thin.len() == 1 || off(chord) <= THIN_PX + 1e-9);
        }
    }

    /// However the wind turns, no piece has a step of half a circle or leaves the
    /// strip.
    #[test]
    fn no_piece_crosses_the_strip(dirs in prop::collection::vec(0.0..=360.0_f64, 1..60)) {
        let points: Vec<_> = dirs.iter().enumerate().map(|(i, &d)| {
            (d, f64::from(u32::try_from(i).unwrap()))
        }).collect();
        for piece in wrapped(&unwrapped(&points)) {
            prop_assert!(piece.iter().all(|p| (0.0..=360.0).contains(&p.0)));
            for pair in piece.windows(2) {
                prop_assert!((pair[0].0 - pair[1].0).abs() <= 180.0 + 1e-9);
                prop_assert!(pair[0].1 <= pair[1].1);
            }
        }
    }
}
