use crate::forms::text::parse;
use crate::model::Roles;

/// The height that a text gives a standard surface, gpm.
fn height(text: &str, pressure_hpa: f64) -> f64 {
    let report = parse(text).unwrap().report();
    let mut levels = report.levels.iter();
    let level =
        levels.find(|l| l.roles.any(Roles::STANDARD) && l.row.pressure_hpa == Some(pressure_hpa));
    level.unwrap().row.height_gpm.unwrap()
}

/// Air at −40 °C throughout, too dry to matter: its virtual temperature is
/// 233.15 K, and a layer is Rd/g0 × 233.15 × ln(p0/p1) = 6824.6 × ln(p0/p1) gpm
/// thick (Rd 287.05 J/(kg K), g0 9.80665 m/s²: 29.2709 gpm/K).
///
/// Surfaces below ground are extrapolated by 6.5 K/km from the surface: within a few
/// gpm of the same layer, since they lie close below it.
#[test]
fn cold_columns_over_a_low_surface_are_read_by_their_thickness() {
    for (text, expected) in [
        // 870 hPa at 943 gpm. To 850: 6824.6 ln(870/850) = 158.7, 1102; to 700:
        // 6824.6 ln(870/700) = 1483.7, 2427 (coded 426 by one gpm less, as an
        // Antarctic station did). To 500: 3780.0, 4723, coded 472.
        (
            "TTAA 51005 99002 99870 40190 09010 85102 40190 09010 70426 40190 09510 \
             50472 40190 09010 88999 77999=",
            &[(850.0, 1102.0), (700.0, 2426.0), (500.0, 4720.0)][..],
        ),
        // The same without any surface above 700 hPa.
        (
            "TTAA 51007 99002 99870 40190 09010 85102 40190 09010 70426 40190 09510 88999 77999=",
            &[(850.0, 1102.0), (700.0, 2426.0)],
        ),
        // 940 hPa at 20 gpm. To 925: 109.8, 130; to 850: 687.0, 707; to 700:
        // 2011.9, 2032; to 500: 4308.1, 4328, coded 433.
        (
            "TTAA 51005 99002 99940 40190 09010 92130 40190 09010 85707 40190 09010 70032 40190 \
             09510 50433 40190 09010 88999 77999=",
            &[
                (925.0, 130.0),
                (850.0, 707.0),
                (700.0, 2032.0),
                (500.0, 4330.0),
            ],
        ),
        // 960 hPa at 40 gpm, up to 850 hPa alone. To 925: 253.5, 293; to 850: 830.5,
        // 870. 1000 hPa: 40 - 6824.6 ln(1000/960) = -239, coded 739.
        (
            "TTAA 51008 99002 99960 40190 09010 00739 ///// ///// 92293 40190 09010 \
             85870 40190 09010 88999 77999=",
            &[(1000.0, -239.0), (925.0, 293.0), (850.0, 870.0)],
        ),
        // 930 hPa at 8 gpm, to 500 hPa. 1000: 8 - 495 = -487, coded 987; to 925:
        // 36.8, 45; to 850: 614.0, 622; to 700: 1938.9, 1947; to 500: 4235.2, 4243.
        (
            "TTAA 51005 99002 99930 40190 09010 00987 ///// ///// 92045 40190 09010 85622 40190 \
             09010 70947 40190 09010 50424 40190 09010 88999 77999=",
            &[
                (1000.0, -487.0),
                (925.0, 45.0),
                (850.0, 622.0),
                (700.0, 1947.0),
                (500.0, 4240.0),
            ],
        ),
    ] {
        for &(p, z) in expected {
            assert_eq!(height(text, p), z, "{p}: {text}");
        }
        // And a check of the message has nothing to say of its heights.
        let findings = crate::verify::message::check(&parse(text).unwrap());
        let of_heights = |code: &str| ["gross-height", "hydrostatic"].contains(&code);
        let blamed = findings.iter().find(|f| of_heights(&f.code));
        assert_eq!(blamed, None, "{text}");
    }
}

/// Warm air over a ship or in a drop in the eye of a storm: the surface lies at sea
/// level, whatever its pressure. Air of 26 °C and 50 % or so, virtual temperature about
/// 301 K: 29.27 × 301 = 8811 gpm.
#[test]
fn heights_over_the_sea_start_there() {
    // 915 hPa at 0 gpm: 925 hPa 8811 ln(925/915) = 96 gpm below, coded 596; 850 hPa
    // 8811 ln(915/850) = 649 above; 1000 hPa 783 below does not fit: ///.
    let drop = "XXAA 63188 99256 70775 08057 99915 26050 27045 00/// ///// ///// 92596 ///// ///// \
        85645 24050 27045 88999 77999=";
    assert_eq!(height(drop, 925.0), -96.0);
    assert_eq!(height(drop, 850.0), 645.0);
    // A drop over high ground: the heights of a real drop of 13 September 1999 from
    // 850 hPa up (1484, 3127, 5850, 7570 gpm; NOAA HRD), over an invented surface.
    let ashore = "XXAA 63184 99256 70775 08057 99900 20448 01027 85484 18448 04532 70127 10258 04029 \
        50585 04159 03530 40757 15371 03029 88999 77999=";
    assert_eq!(height(ashore, 850.0), 1484.0);
    assert_eq!(height(ashore, 700.0), 3127.0);
    // 1013 hPa and 26 °C: 1000 hPa at 114, 925 at 800, 850 at 1545 gpm.
    let ship = "UUAA XQ7INV 63188 99256 70775 08057 99013 26050 27045 00114 26050 27045 92800 20050 \
        27045 85530 16050 27045 88999 77999=";
    assert_eq!(height(ship, 1000.0), 114.0);
    assert_eq!(height(ship, 850.0), 1530.0);
}

/// A mobile station says how high it is: 1,000 m more or less is no question there.
#[test]
fn a_mobile_station_gives_its_elevation() {
    // 890 hPa at 1000 m and −40 °C: 850 hPa 6824.6 ln(890/850) = 313.8 higher, 1314.
    // By sea-level pressure alone it would be 314 or 1314; by the group it is 1314.
    let high = "IIAA XQ7INV 51008 99256 70775 08057 10001 99890 40190 09010 85314 40190 09010 \
        88999 77999=";
    assert_eq!(height(high, 850.0), 1314.0);
    // The same pressures 30 m above the sea, under an invented depression.
    let low = high.replace(" 10001 ", " 00301 ").replace("85314", "85344");
    assert_eq!(height(&low, 850.0), 344.0);
}

/// One wrong height does not move the others, and one wrong temperature moves none.
#[test]
fn a_wrong_group_does_not_move_other_heights() {
    let sound = "TTAA 51003 99002 99870 40190 09010 85102 40190 09010 70426 40190 09510 \
        50472 40190 09010 40625 40190 09010 30821 40190 09010 88999 77999=";
    for (from, to) in [
        ("50472", "50972"),
        ("85102", "85602"),
        ("85102 40190", "85102 40090"),
        ("40625 40190", "40625 40090"),
    ] {
        let text = sound.replacen(from, to, 1);
        assert_ne!(text, sound);
        assert_eq!(height(&text, 700.0), 2426.0, "{to}");
    }
}

/// Part C alone starts from the standard atmosphere: 70 hPa at 18 442 gpm there. A
/// Region IV station wrote 70882 and 07405 at 18 820 and 34 050 gpm, 50091 at 20 910.
#[test]
fn part_c_alone_starts_from_the_standard_atmosphere() {
    let text = "TTCC 63001 72440 70885 62175 28510 50096 55776 13008 30422 52777 07523 20687 46779 \
        09525 10156 37780 09032 07405 31182 08552 88999 77999 31313 45408 82303=";
    assert_eq!(height(text, 70.0), 18_850.0);
    assert_eq!(height(text, 10.0), 31_560.0);
    assert_eq!(height(text, 7.0), 34_050.0);
}

/// Without temperatures there is the standard atmosphere: 850 hPa at 1457 gpm.
#[test]
fn without_temperatures_there_is_the_standard_atmosphere() {
    let text = "TTAA 5100/ 99002 99990 ///// ///// 00550 ///// 85450 ///// 88999 77999=";
    assert_eq!(height(text, 1000.0), -50.0);
    assert_eq!(height(text, 850.0), 1450.0);
}
