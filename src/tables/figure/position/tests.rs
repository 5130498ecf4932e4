use super::*;
use approx::assert_abs_diff_eq;

fn place(latitude_deg: f64, longitude_deg: f64) -> Position {
    Position {
        latitude_deg,
        longitude_deg,
    }
}

/// LaLaLa, Qc LoLoLoLo, MMMULaULo as the groups write them.
fn groups(f: PositionFigure) -> String {
    format!(
        "99{:03} {}{:04} {:03}{:02}",
        f.latitude(),
        f.quadrant(),
        f.longitude(),
        f.square(),
        f.units()
    )
}

#[test]
fn published_drops_round_to_the_nearest_tenth() {
    // Real drops (AOML/HRD page "NHOP sonde drop format", 1999; US NHC
    // reconnaissance archive, 2017): release positions and coded groups.
    for (lat, lon, text) in [
        (25.6, -77.5, "99256 70775 08057"),
        (15.32, -65.87, "99153 70659 04355"),
        (29.39, -86.07, "99294 70861 08196"),
    ] {
        let f = PositionFigure::from_value(place(lat, lon), Tenths::Nearest).unwrap();
        assert_eq!(groups(f), text);
    }
}

#[test]
fn ships_cut_tenths_off() {
    // Hand-worked: 29.39 -> 29.3, 86.07 -> 86.0.
    let f = PositionFigure::from_value(place(29.39, -86.07), Tenths::Truncated).unwrap();
    assert_eq!(groups(f), "99293 70860 08196");
    // 29.3 × 10 is 292.99999999999994 in binary: it stays 293.
    let f = PositionFigure::from_value(place(-29.3, 0.3), Tenths::Truncated).unwrap();
    assert_eq!(groups(f), "99293 30003 40790");
}

/// Table 2590, corner squares, worked by hand from its layout: 1 to 288 from
/// the equator to 80° N, numbered westward from Greenwich, 36 a belt; 300 to
/// 623 the same in the south; 901 to 936 north of 80° N (layout from memory).
#[test]
fn squares_over_the_whole_globe() {
    for (lat, lon, square) in [
        (5.0, -5.0, 1),
        (5.0, -175.0, 18),
        (5.0, 175.0, 19),
        (5.0, 5.0, 36),
        (15.0, -5.0, 37),
        (75.0, 5.0, 288),
        (85.0, -5.0, 901),
        (85.0, -175.0, 918),
        (85.0, 175.0, 919),
        (85.0, 5.0, 936),
        (-5.0, -5.0, 300),
        (-5.0, 5.0, 335),
        (-15.0, -5.0, 336),
        (-85.0, -5.0, 588),
        (-85.0, 5.0, 623),
        // The poles and the date line belong to the last square.
        (90.0, 0.0, 936),
        (-90.0, 0.0, 623),
        (90.0, -180.0, 918),
        (0.0, 180.0, 19),
        (0.0, -180.0, 18),
        (0.0, 0.0, 36),
    ] {
        let f = PositionFigure::from_value(place(lat, lon), Tenths::Truncated).unwrap();
        assert_eq!(f.square(), square, "{lat} {lon}");
    }
}

/// Every square of ten degrees has a number of its own; every figure reads
/// back, over the whole globe.
#[test]
fn every_tenth_degree_line_reads_back() {
    let mut squares = std::collections::BTreeSet::new();
    for lat in (-90..=90).map(|l| f64::from(l) * 0.999) {
        for lon in (-180..180).map(|l| f64::from(l) + 0.05) {
            for how in [Tenths::Truncated, Tenths::Nearest] {
                let f = PositionFigure::from_value(place(lat, lon), how).unwrap();
                let square = u32::from(f.square()) * 100 + u32::from(f.units());
                let read =
                    PositionFigure::from_code(f.latitude(), f.quadrant(), f.longitude(), square);
                assert_eq!(read, Some(f), "{lat} {lon}");
                let resolution = if how == Tenths::Nearest { 0.05 } else { 0.1 };
                assert_abs_diff_eq!(f.place().latitude_deg, lat, epsilon = resolution + 1e-9);
                assert_abs_diff_eq!(f.place().longitude_deg, lon, epsilon = resolution + 1e-9);
                squares.insert(f.square());
            }
        }
    }
    assert_eq!(squares.len(), 18 * 36);
}

#[test]
fn the_date_line_may_be_written_from_either_side() {
    for (lon, qc) in [(180.0, 1), (-180.0, 7), (359.95, 7), (200.0, 7)] {
        let f = PositionFigure::from_value(place(10.0, lon), Tenths::Nearest).unwrap();
        assert_eq!(f.quadrant(), qc, "{lon}");
    }
    // Either quadrant on a zero line, in Qc and in MMM.
    for (qc, square) in [
        (1, 36),
        (7, 36),
        (1, 1),
        (7, 1),
        (3, 335),
        (1, 335),
        (5, 300),
    ] {
        let f = PositionFigure::from_code(0, qc, 0, square * 100);
        assert_eq!(f.map(PositionFigure::quadrant), Some(qc), "{qc} {square}");
    }
}

#[test]
fn what_does_not_belong_together_is_refused() {
    assert_eq!(PositionFigure::from_code(256, 7, 775, 8056), None);
    assert_eq!(PositionFigure::from_code(256, 7, 775, 8157), None);
    assert_eq!(PositionFigure::from_code(256, 2, 775, 8057), None);
    assert_eq!(PositionFigure::from_code(901, 7, 775, 32757), None);
    assert_eq!(PositionFigure::from_code(256, 7, 1801, 8057), None);
    for (lat, lon) in [(90.1, 0.0), (0.0, 361.0), (f64::NAN, 0.0)] {
        assert!(PositionFigure::from_value(place(lat, lon), Tenths::Nearest).is_err());
    }
}

#[test]
fn elevations_in_metres_and_feet() {
    // Hand-worked: 210.5 m half up; 210.5 m / 0.3048 = 690.6 ft.
    for (m, im, height) in [
        (210.5, 1, 211),
        (210.5, 5, 691),
        (0.0, 4, 0),
        (3048.0, 8, 10_000),
    ] {
        let f = ElevationFigure::from_value(m, im);
        if height > 9999 {
            assert!(f.is_err());
        } else {
            assert_eq!(
                f.unwrap(),
                ElevationFigure {
                    height,
                    quality: im
                }
            );
        }
    }
    assert!(ElevationFigure::from_value(-1.0, 1).is_err());
    assert!(ElevationFigure::from_value(1.0, 0).is_err());
    assert_eq!(ElevationFigure::from_code(100, 9), None);
    let f = ElevationFigure::from_code(1000, 6).unwrap();
    assert_abs_diff_eq!(f.value_m(), 304.8, epsilon = 1e-9);
}
