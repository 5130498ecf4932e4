//! Operator 2 04: associated fields stand beside the values.

use super::*;

/// Block and station, date and time, then one level of 3 03 050 under 2 04 004 with
/// 0 31 021 = 6 (quality class in 4 bits). Every element but those of class 31 has
/// four bits in front of it (WMO-No. 306 Vol. I.2, Table C, 2 04).
fn octets() -> Vec<u8> {
    let template = "204004 031021 301001 301011 301013 101000 031002 303050 204000 301021";
    let parts = [
        // 0 31 021: 6 bits, no associated field of its own.
        (6, 6),
        // Block 99 (7 bits), station 11 (10 bits); 15: no quality is given.
        (15, 4),
        (99, 7),
        (15, 4),
        (11, 10),
        // Year (12), month (4), day (6), hour (5), minute (6), second (6).
        (15, 4),
        (2025, 12),
        (15, 4),
        (6, 4),
        (15, 4),
        (17, 6),
        (15, 4),
        (11, 5),
        (15, 4),
        (30, 6),
        (15, 4),
        (0, 6),
        // 0 31 002: one level; class 31 again.
        (1, 16),
        // 0 04 086: 60 s less the reference -8192; 15 bits.
        (15, 4),
        (8252, 15),
        // 0 08 042: standard level, bit 2 of 18 is 2^16.
        (15, 4),
        (1 << 16, 18),
        // 0 07 004: 850 hPa in 10 Pa; class 1, correct. As a value it would be 10 Pa.
        (1, 4),
        (8500, 14),
        // 0 05 015 and 0 06 015: missing.
        (15, 4),
        ((1 << 25) - 1, 25),
        (15, 4),
        ((1 << 26) - 1, 26),
        // 0 11 001: 270 degrees; class 2.
        (2, 4),
        (270, 9),
        // 0 11 002: 12.3 m/s in 0.1 m/s; class 4, bad.
        (4, 4),
        (123, 12),
        // After 2 04 000 without: 50.00000 and 10.00000 degrees, references -9000000
        // and -18000000.
        (14_000_000, 25),
        (19_000_000, 26),
    ];
    message(template, 1, 128, &packed(&parts))
}

#[test]
fn values_are_those_of_the_elements() {
    let received = read(&octets()).unwrap();
    let soundings = to_report(&received).unwrap();
    let report = &soundings[0].report;
    let station = &report.context.station;
    assert_eq!(
        (station.wmo_block, station.wmo_number),
        (Some(99), Some(11))
    );
    assert_eq!(
        (station.latitude_deg, station.longitude_deg),
        (Some(50.0), Some(10.0))
    );
    let launch = jiff::civil::date(2025, 6, 17).at(11, 30, 0, 0);
    assert_eq!(report.context.flight.release, Some(launch));
    assert_eq!(report.levels.len(), 1);
    let row = &report.levels[0].row;
    assert_eq!((row.time_s, row.pressure_hpa), (Some(60.0), Some(850.0)));
    let wind = row.wind.unwrap();
    assert_eq!((wind.dir_deg, wind.speed_ms), (270.0, 12.3));
}

/// Code table 0 31 021, figure 6: 1 correct, 2 probably good, 4 bad.
#[test]
fn a_dump_has_the_field_in_words_in_front_of_its_value() {
    let (text, _) = dump(&octets()).unwrap();
    let ends = |fxy: &str| -> Vec<String> {
        let lines = text
            .lines()
            .filter(|l| l.starts_with('4') && l[24..30] == *fxy);
        lines.map(|l| l[109..].trim().to_owned()).collect()
    };
    assert_eq!(ends("031021"), ["6 quality control class in 4 bits"]);
    assert_eq!(ends("007004"), ["1 correct, all checks passed", "85000 Pa"]);
    assert_eq!(
        ends("011001"),
        [
            "2 probably good but inconsistent with statistics",
            "270 degree true"
        ]
    );
    assert_eq!(ends("011002"), ["4 bad, impossible value", "12.3 m/s"]);
    assert_eq!(ends("005001"), ["50.00000 deg"]);
}

/// Each value has its class beside it; what says nothing (15) is left out.
#[test]
fn quality_stands_beside_its_element() {
    let sounding = to_report(&read(&octets()).unwrap()).unwrap().remove(0);
    let of = |quality: &[crate::model::Quality]| -> Vec<(String, Option<f64>, String)> {
        let one = |q: &crate::model::Quality| {
            assert_eq!(q.kind, "quality control class in 4 bits");
            (q.element.clone(), q.value, q.meaning.clone().unwrap())
        };
        quality.iter().map(one).collect()
    };
    assert_eq!(sounding.quality.head, []);
    let [level] = sounding.quality.levels.as_slice() else {
        panic!("{:?}", sounding.quality);
    };
    let stated =
        |element: &str, value, meaning: &str| (element.to_owned(), Some(value), meaning.to_owned());
    assert_eq!(
        of(level),
        [
            stated("007004", 1.0, "correct, all checks passed"),
            stated(
                "011001",
                2.0,
                "probably good but inconsistent with statistics"
            ),
            stated("011002", 4.0, "bad, impossible value"),
        ]
    );
}

/// Operator 2 22 over two levels that stand in falling order of pressure in the report and
/// in rising order in the message: per cent confidence (0 33 007, 7 bits) stays with its
/// level. The bit-map of 8 bits is about the 2 x (0 07 004, 0 12 101) and what stands
/// in front of them; a bit 0 points at an element.
#[test]
fn confidence_goes_with_its_level_when_levels_are_sorted() {
    let template = "301001 301011 301012 102000 031001 007004 012101 222000 101005 031031 \
                    001031 001032 101002 033007";
    let parts = [
        (99, 7),
        (11, 10),
        (2025, 12),
        (6, 4),
        (17, 6),
        (11, 5),
        (30, 6),
        // Two levels: 500 hPa, 250.15 K; 850 hPa, 280.15 K.
        (2, 8),
        (5000, 14),
        (25_015, 16),
        (8500, 14),
        (28_015, 16),
        // The bit-map is about the last five elements: 0 31 001, then 500 hPa, its
        // temperature, 850 hPa, its temperature. Quality of both temperatures.
        (1, 1),
        (1, 1),
        (0, 1),
        (1, 1),
        (0, 1),
        (98, 16),
        (201, 8),
        (70, 7),
        (95, 7),
    ];
    let octets = message(template, 1, 128, &packed(&parts));
    let sounding = to_report(&read(&octets).unwrap()).unwrap().remove(0);
    let stated: Vec<_> = (sounding.report.levels.iter())
        .zip(&sounding.quality.levels)
        .map(|(level, quality)| {
            let [q] = quality.as_slice() else {
                panic!("{quality:?}");
            };
            (
                level.row.pressure_hpa,
                q.element.as_str(),
                q.kind.as_str(),
                q.value,
                q.unit.as_str(),
            )
        })
        .collect();
    assert_eq!(
        stated,
        [
            (
                Some(850.0),
                "012101",
                "Per cent confidence",
                Some(95.0),
                "%"
            ),
            (
                Some(500.0),
                "012101",
                "Per cent confidence",
                Some(70.0),
                "%"
            ),
        ]
    );
}
