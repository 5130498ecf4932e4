//! Places, clouds, regional practice and headings.

use super::of_region;
use crate::model::{
    Axis, Coding, Departure, DepartureKind, Form, Part, Reach, Region, StationKind,
};
use crate::tables::*;

#[test]
fn elevations_are_those_of_bufr() {
    // BUFR code table 0 33 024.
    let rows: Vec<_> = elevations()
        .iter()
        .map(|row| (row.figure, row.unit, row.limit))
        .collect();
    let (m, ft) = (ElevationUnit::Metres, ElevationUnit::Feet);
    assert_eq!(
        rows,
        [
            (1, m, 3),
            (2, m, 10),
            (3, m, 20),
            (4, m, 20),
            (5, ft, 10),
            (6, ft, 30),
            (7, ft, 60),
            (8, ft, 60)
        ]
    );
    assert_eq!(elevations()[3].confidence, ElevationConfidence::Poor);
}

#[test]
fn quadrants() {
    // Code table 3333, from memory.
    for (figure, south, west) in [
        (1, false, false),
        (3, true, false),
        (5, true, true),
        (7, false, true),
    ] {
        assert_eq!(quadrant_figure(south, west), Some(figure));
        assert_eq!(quadrant_signs(figure), Some((south, west)));
    }
    assert_eq!(quadrant_signs(0), None);
    assert_eq!(quadrant_signs(2), None);
}

#[test]
fn cloud_bases_at_their_limits() {
    // Code table 1600, from memory; a limit takes the higher figure.
    for (height, figure) in [
        (0.0, 0),
        (49.9, 0),
        (50.0, 1),
        (99.9, 1),
        (100.0, 2),
        (200.0, 3),
        (300.0, 4),
        (599.9, 4),
        (600.0, 5),
        (1000.0, 6),
        (1500.0, 7),
        (2000.0, 8),
        (2499.9, 8),
        (2500.0, 9),
        (9000.0, 9),
    ] {
        assert_eq!(cloud_base_figure(height), Some(figure), "{height}");
    }
    assert_eq!(cloud_base_figure(-0.1), None);
    assert_eq!(cloud_base_figure(f64::NAN), None);
}

#[test]
fn cloud_figures_equal_those_of_bufr() {
    // BUFR code tables 0 20 011 and 0 20 012.
    for (table, first) in [
        (cloud_amounts(), 0),
        (high_clouds(), 10),
        (middle_clouds(), 20),
        (low_clouds(), 30),
    ] {
        let figures: Vec<u8> = table.iter().map(|row| row.bufr).collect();
        assert_eq!(figures, (first..first + 10).collect::<Vec<u8>>());
    }
    assert_eq!(
        high_clouds()[7].meaning,
        "cirrostratus covering the whole sky"
    );
    assert_eq!(middle_clouds()[9].meaning, "altocumulus of a chaotic sky");
    assert_eq!(
        low_clouds()[4].meaning,
        "stratocumulus from spreading cumulus"
    );
}

#[test]
fn additional_data_of_region_iv() {
    let of = |figure| {
        *additional_data()
            .iter()
            .find(|row| row.figure == figure)
            .unwrap()
    };
    // WMO-No. 306 Vol. I.2, B/C25 Annex I, and real messages.
    assert_eq!(
        (of(64).follows, of(64).standing),
        (Follows::StabilityIndex, Standing::Seen)
    );
    assert_eq!(
        (of(94).follows, of(94).standing),
        (Follows::MeanWinds, Standing::Seen)
    );
    assert_eq!(
        (of(90).follows, of(90).standing),
        (Follows::Geopotential, Standing::Seen)
    );
    // U.S. National Hurricane Operations Plan.
    assert_eq!(
        (of(66).follows, of(66).group),
        (Follows::Layer, AdditionalGroup::Doubtful)
    );
    assert_eq!(
        (of(67).follows, of(67).group),
        (Follows::Layer, AdditionalGroup::Doubtful)
    );
    assert_eq!(of(65).standing, Standing::Unsure);
    assert!(
        additional_data()
            .iter()
            .all(|row| row.figure != 62 && row.figure != 63)
    );
}

#[test]
fn headings_by_form_kind_and_part() {
    // WMO-No. 386 Att. II-5, table B1.
    let (temp, pilot) = (Form::Temp, Form::Pilot);
    let (land, ship, mobile, drop) = (
        StationKind::Land,
        StationKind::Ship,
        StationKind::Mobile,
        StationKind::Drop,
    );
    for (form, kind, letters) in [
        (temp, land, ["US", "UK", "UL", "UE"]),
        (temp, ship, ["US", "UK", "UL", "UE"]),
        (pilot, mobile, ["UP", "UG", "UH", "UQ"]),
        (temp, drop, ["UZ", "UZ", "UZ", "UZ"]),
    ] {
        let found = Part::ALL.map(|part| text_heading(form, kind, part).unwrap().letters);
        assert_eq!(found, letters);
    }
    assert_eq!(text_heading(pilot, drop, Part::A), None);
    // Table C3 (2009).
    for (form, kind, reach, letters, ii, category) in [
        (temp, land, Reach::To100, "IUK", Some((1, 19)), (2, 4)),
        (temp, mobile, Reach::Whole, "IUS", Some((20, 39)), (2, 6)),
        (temp, ship, Reach::Whole, "IUS", Some((40, 59)), (2, 5)),
        (pilot, land, Reach::To100, "IUW", Some((1, 19)), (2, 1)),
        (pilot, ship, Reach::Whole, "IUJ", Some((40, 59)), (2, 2)),
        (pilot, mobile, Reach::Whole, "IUJ", Some((20, 39)), (2, 3)),
        (temp, drop, Reach::Whole, "IUD", None, (2, 7)),
        (temp, drop, Reach::To100, "IUD", None, (2, 7)),
    ] {
        let heading = bufr_heading(form, kind, reach).unwrap();
        assert_eq!((heading.letters, heading.ii()), (letters, ii));
        // The same table gives the category, here from Common Code Table C-13.
        let listed = subcategories()
            .iter()
            .filter(|s| (s.form, s.kind, s.reused) == (form, kind, false));
        let figures: Vec<(u8, u8)> = listed.map(|s| (2, s.figure)).collect();
        assert_eq!(figures, [category]);
    }
    assert_eq!(bufr_heading(pilot, drop, Reach::Whole), None);
    assert_eq!(headings().len(), 13 + 13);
}

fn coding(region: Region) -> Coding {
    Coding {
        region,
        ..Coding::default()
    }
}

#[test]
fn fixed_levels_of_pilot() {
    let heights = |region, choice| -> Vec<f64> {
        pilot_fixed(&coding(region), Axis::Height, choice).collect()
    };
    // WMO-No. 306 Vol. I.2, B/C20.10.4 (4/32.2).
    let region_iv = heights(Region::IV, 1);
    assert_eq!(
        region_iv[..18],
        [
            300.0, 600.0, 900.0, 1200.0, 1800.0, 2100.0, 2400.0, 2700.0, 3600.0, 4200.0, 4800.0,
            6000.0, 7500.0, 9000.0, 15_000.0, 18_000.0, 21_000.0, 24_000.0
        ]
    );
    assert_eq!(region_iv.last(), Some(&60_000.0));
    // B/C20.10.5, B/C20.10.6.1.
    assert_eq!(heights(Region::V, 1), [900.0, 2100.0, 4200.0]);
    assert_eq!(heights(Region::VI, 2), [900.0, 2100.0, 4200.0]);
    let pressures: Vec<f64> = pilot_fixed(&coding(Region::VI), Axis::Pressure, 1).collect();
    assert_eq!(pressures, [900.0, 800.0, 600.0]);
    assert!(heights(Region::None, 1).is_empty());
}

/// Layers and groups: WMO-No. 306 Vol. I.2, B/C25 Annex I (0 11 044 to 0 11 055), and
/// table 0421; 6/35.2.2 from memory.
#[test]
fn practices_of_regions() {
    let rows = |region, what| -> Vec<(&str, Option<f64>, Option<f64>)> {
        let here = |row: &&PracticeRow| row.region == Some(region) && row.practice == what;
        let rows = practices().iter().filter(here);
        rows.map(|row| (row.group.as_str(), row.from, row.to))
            .collect()
    };
    assert_eq!(
        rows(Region::IV, Practice::MeanWind),
        [
            ("10194", None, Some(1500.0)),
            ("10194", Some(1500.0), Some(3000.0))
        ]
    );
    assert_eq!(
        rows(Region::VI, Practice::LowWind),
        [
            ("11", Some(900.0), None),
            ("22", Some(800.0), None),
            ("33", Some(600.0), None)
        ]
    );
    for row in practices() {
        let of_table = row.region == Some(Region::IV) && !row.group.is_empty();
        assert_eq!(additional(&row.group).is_some(), of_table, "{row:?}");
        assert!(row.every.is_none_or(|every| every > 0.0), "{row:?}");
    }
    assert_eq!(practice(&coding(Region::None), Practice::Stability), None);
}

#[test]
fn heights_that_stand_for_surfaces() {
    // 32.2.2.2, from memory: every PILOT surface has one, near the standard atmosphere.
    let parts = [Part::A, Part::C].into_iter();
    let levels = parts.flat_map(|part| of_region(Form::Pilot, Region::None, part));
    for (row, level) in height_approximations().iter().zip(levels) {
        assert_eq!(row.pressure_hpa, level.pressure_hpa);
        let off = f64::from(row.height_gpm) - level.typical_height_gpm;
        assert!(off.abs() < 200.0, "{}", row.pressure_hpa);
    }
    assert_eq!(height_approximations().len(), 14);
}

/// Each practice of senders is found where its row says, and nowhere else.
#[test]
fn practices_of_senders_have_their_place() {
    for row in reading_practices() {
        let form = row.form.unwrap_or(Form::Temp);
        let departure = Departure {
            kind: row.kind,
            section: row.section.unwrap_or(0),
        };
        for &part in &row.parts {
            let found = reading_practice(form, part, departure);
            assert_eq!(found.map(|row| row.kind), Some(row.kind));
        }
        assert!(!row.example.is_empty());
        assert_eq!(
            row.height_m.is_some(),
            row.kind == DepartureKind::CoarserSteps
        );
    }
    let (kind, section) = (DepartureKind::From11, 6);
    let from_11 = Departure { kind, section };
    assert!(reading_practice(Form::Temp, Part::D, from_11).is_none());
    assert!(reading_practice(Form::Pilot, Part::B, from_11).is_none());
}
