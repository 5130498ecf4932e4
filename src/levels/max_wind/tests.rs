//! Hand-worked cases of WMO-No. 306, 35.2.4 and 32.2.3: knots of (hPa, m/s),
//! speeds linear in ln p between them, a row every 0.1 % of the pressure.

use crate::levels::{choose, choose_winds, up_to_100};
use crate::model::{Coding, Level, Part, Profile, Reach, Roles, Row, Wind};

fn profile(knots: &[(f64, f64)]) -> Profile {
    let mut rows: Vec<(f64, f64)> = Vec::new();
    for pair in knots.windows(2) {
        let ((p0, s0), (p1, s1)) = (pair[0], pair[1]);
        let mut p = p0;
        while p > p1 * 1.0005 {
            let share = (p0 / p).ln() / (p0 / p1).ln();
            rows.push((p, s0 + (s1 - s0) * share));
            p *= 0.999;
        }
    }
    rows.extend(knots.last());
    let row = |(p, speed_ms): (f64, f64)| Row {
        pressure_hpa: Some(p),
        height_gpm: Some(7500.0 * (1000.0 / p).ln()),
        temperature_c: Some(-50.0),
        wind: Some(Wind {
            dir_deg: 270.0,
            speed_ms,
        }),
        ..Row::default()
    };
    Profile {
        rows: rows.into_iter().map(row).collect(),
        ..Profile::default()
    }
}

/// The maxima by TEMP, which are those by PILOT too, each a significant level.
fn maxima(knots: &[(f64, f64)]) -> Vec<(Part, f64)> {
    let profile = profile(knots);
    let coding = Coding::default();
    let found = |levels: crate::levels::Levels| -> Vec<(Part, f64)> {
        let places = levels
            .maxima
            .iter()
            .map(|m| (m.part, m.pressure_hpa.unwrap()));
        let places: Vec<(Part, f64)> = places.collect();
        for (_, p) in &places {
            let at = |l: &&Level| l.row.pressure_hpa == Some(*p);
            let level = levels.levels.iter().find(at).unwrap();
            assert!(level.roles.any(Roles::SIG_WIND) && level.roles.any(Roles::MAX_WIND));
        }
        let marked = levels
            .levels
            .iter()
            .filter(|l| l.roles.any(Roles::MAX_WIND));
        assert_eq!(marked.count(), places.len());
        places
    };
    let temp = found(choose(&profile, &coding, &[], Reach::Whole));
    assert_eq!(
        found(choose_winds(&profile, &coding, &[], Reach::Whole)),
        temp
    );
    temp
}

#[test]
fn a_peak_beside_100_hpa_is_in_one_part() {
    // From 5 to 50 m/s at the peak and back: 100.0 hPa by rounding to tenths is
    // the limit, so 99.96 belongs to A and 99.94 to C.
    for (peak, part) in [
        (100.2, Part::A),
        (100.0, Part::A),
        (99.96, Part::A),
        (99.94, Part::C),
        (99.8, Part::C),
    ] {
        let knots = [(1000.0, 5.0), (peak, 50.0), (50.0, 5.0)];
        assert_eq!(maxima(&knots), [(part, peak)], "{peak}");
    }
}

#[test]
fn a_flat_top_across_100_hpa_is_reported_at_its_lowest_level() {
    let knots = [(1000.0, 5.0), (103.0, 50.0), (97.0, 50.0), (50.0, 5.0)];
    assert_eq!(maxima(&knots), [(Part::A, 103.0)]);
}

#[test]
fn a_peak_at_or_below_500_hpa_makes_none_above() {
    for peak in [500.0, 500.4, 503.0, 505.0, 700.0] {
        let knots = [(1000.0, 5.0), (peak, 45.0), (100.0, 5.0)];
        assert_eq!(maxima(&knots), [], "{peak}");
    }
    let knots = [(1000.0, 5.0), (499.9, 45.0), (100.0, 5.0)];
    assert_eq!(maxima(&knots), [(Part::A, 499.9)]);
    // Flat from 505 to 495 hPa: its lowest level counts, and is too low.
    let flat = [(1000.0, 5.0), (505.0, 45.0), (495.0, 45.0), (100.0, 5.0)];
    assert_eq!(maxima(&flat), []);
}

#[test]
fn below_a_stronger_peak_under_500_hpa_the_next_one_counts() {
    // 45 m/s at 300 hPa is the greatest above the 500 hPa surface.
    let knots = [
        (1000.0, 5.0),
        (520.0, 60.0),
        (400.0, 38.0),
        (300.0, 45.0),
        (50.0, 5.0),
    ];
    assert_eq!(maxima(&knots), [(Part::A, 300.0)]);
}

#[test]
fn minima_count_on_both_sides_of_100_hpa() {
    // 34 m/s at 110 hPa between 20 (150 hPa) and 12 (80 hPa): 14 and 22 m/s
    // above them. At 100 hPa the speed is 34 - 22 × ln 1.1 / ln 1.375 = 27.4,
    // only 6.6 below it. Order of reporting: 60, 50, 34 m/s.
    let knots = [
        (1000.0, 5.0),
        (400.0, 50.0),
        (330.0, 25.0),
        (250.0, 60.0),
        (150.0, 20.0),
        (110.0, 34.0),
        (80.0, 12.0),
        (50.0, 14.0),
    ];
    let found = maxima(&knots);
    assert_eq!(
        found,
        [(Part::A, 250.0), (Part::A, 400.0), (Part::A, 110.0)]
    );
    // 9 m/s above the lower minimum are not enough.
    let mut less = knots;
    less[4].1 = 25.0;
    assert_eq!(maxima(&less), [(Part::A, 250.0), (Part::A, 400.0)]);
}

#[test]
fn the_top_of_the_wind_counts_when_nothing_is_stronger() {
    assert_eq!(maxima(&[(1000.0, 5.0), (60.0, 50.0)]), [(Part::C, 60.0)]);
    // Also with the same speed in the rows below it.
    let flat = [(1000.0, 5.0), (61.0, 50.0), (60.0, 50.0)];
    assert_eq!(maxima(&flat), [(Part::C, 60.0)]);
}

/// Places of pending maxima of an early message, and its maxima.
fn early(knots: &[(f64, f64)]) -> (Vec<f64>, usize) {
    let cut = up_to_100(&profile(knots), &Coding::default()).unwrap();
    let levels = choose(&cut, &Coding::default(), &[], Reach::To100);
    let pending = levels.findings.iter();
    let pending = pending.filter(|f| f.code == "maximum-wind-pending");
    let places = pending.map(|f| f.place.pressure_hpa.unwrap());
    (places.map(f64::round).collect(), levels.maxima.len())
}

#[test]
fn a_maximum_is_pending_until_the_wind_has_fallen_by_10_ms() {
    // At 100 hPa: 41.2 m/s, fallen by 8.8; 39 m/s, by 11; some 45 m/s and still
    // rising; 34 m/s fallen by less than 10 to under 30 m/s, the fastest so far.
    let peak = |end: f64| [(1000.0, 5.0), (110.0, 50.0), (99.0, end)];
    let at_100 = |speed: f64| 50.0 - (50.0 - speed) * (110.0f64 / 99.0).ln() / 1.1f64.ln();
    assert_eq!(early(&peak(at_100(41.2))), (vec![110.0], 1));
    assert_eq!(early(&peak(at_100(39.0))), (vec![], 1));
    let (pending, found) = early(&[(1000.0, 5.0), (90.0, 45.0)]);
    assert_eq!((pending, found), (vec![100.0], 0));
    let low = [(1000.0, 5.0), (110.0, 34.0), (99.0, 25.0)];
    assert_eq!(early(&low), (vec![], 1));
    // With 60 m/s at 250 hPa the same peak depends on how far the wind falls.
    let lesser = [
        (1000.0, 5.0),
        (250.0, 60.0),
        (150.0, 20.0),
        (110.0, 34.0),
        (99.0, 25.0),
    ];
    assert_eq!(early(&lesser), (vec![110.0], 1));
    // The strongest wind has fallen long ago; a second rise is open.
    let second = [
        (1000.0, 5.0),
        (250.0, 60.0),
        (150.0, 20.0),
        (105.0, 38.0),
        (90.0, 36.0),
    ];
    assert_eq!(early(&second), (vec![105.0], 1));
}
