use super::file::{Order, Shape, rows};
use super::*;
use crate::sounding::{Region, StationKind};
use jiff::civil::date;

#[test]
fn every_table_reads() {
    // A fault in a table halts its first use and names file and line.
    let _ = (standard_levels(), temperature_figure(0, false));
    let _ = (depression_codes(), report_letters(), measuring());
    let _ = (radiation(), radiosondes(), tracking(0), sign_figure(false));
}

#[test]
fn every_file_in_the_folder_is_listed() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tables");
    let mut found: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| format!("tables/{}", entry.unwrap().file_name().to_str().unwrap()))
        .collect();
    found.sort();
    let mut listed: Vec<&str> = FILES.iter().map(|file| file.name).collect();
    listed.sort_unstable();
    assert_eq!(found, listed);
}

/// The pressures of some levels.
fn pressures(levels: impl Iterator<Item = &'static StandardLevel>) -> Vec<u16> {
    levels.map(|level| level.pressure_hpa).collect()
}

#[test]
fn standard_levels_are_those_of_the_regulations() {
    // WMO-No. 306 Vol. I.2, B/C25 25.8.2.1 (35.2.2.1).
    let part_a = [1000, 925, 850, 700, 500, 400, 300, 250, 200, 150, 100];
    assert_eq!(pressures(temp_levels(Region::None, Part::A)), part_a);
    assert_eq!(pressures(temp_levels(Region::IV, Part::A)), part_a);
    let part_c = [70, 50, 30, 20, 10];
    assert_eq!(pressures(temp_levels(Region::VI, Part::C)), part_c);
    // B/C25 25.10.4.1 (4/35.2.1).
    let region_iv = [70, 50, 30, 20, 10, 7, 5, 3, 2, 1];
    assert_eq!(pressures(temp_levels(Region::IV, Part::C)), region_iv);
    // B/C20 20.7.2.1 (32.2.2.1): PILOT has neither 1000 nor 925 hPa.
    assert_eq!(pressures(pilot_levels(Region::None, Part::A)), part_a[2..]);
    assert_eq!(pressures(pilot_levels(Region::IV, Part::C)), part_c);
    assert_eq!(temp_levels(Region::None, Part::B).count(), 0);
    assert_eq!(standard_levels().len(), 21 + 14);
}

#[test]
fn standard_levels_have_figures_steps_and_heights() {
    let of = |pressure: u16| {
        *temp_levels(Region::IV, Part::A)
            .chain(temp_levels(Region::IV, Part::C))
            .find(|level| level.pressure_hpa == pressure)
            .unwrap()
    };
    // PP and Id: code table 1734, from memory. Heights: U.S. Standard
    // Atmosphere, 1976, geopotential, whole metres (7 hPa: computed, see the test below).
    for (pressure, pp, id, step, height) in [
        (1000, 0, Some(0), 1, 111.0),
        (925, 92, Some(9), 1, 762.0),
        (850, 85, Some(8), 1, 1457.0),
        (700, 70, Some(7), 1, 3012.0),
        (500, 50, Some(5), 10, 5574.0),
        (250, 25, Some(2), 10, 10363.0),
        (200, 20, Some(2), 10, 11784.0),
        (150, 15, Some(1), 10, 13608.0),
        (100, 10, Some(1), 10, 16180.0),
        (70, 70, Some(7), 10, 18442.0),
        (10, 10, Some(1), 10, 31055.0),
        (7, 7, None, 10, 33453.0),
    ] {
        let level = of(pressure);
        assert_eq!(level.pp, pp, "{pressure}");
        assert_eq!(level.id_figure, id, "{pressure}");
        assert_eq!(level.height_step_gpm, step, "{pressure}");
        assert_eq!(level.typical_height_gpm, height, "{pressure}");
    }
}

/// Geopotential height of a pressure by the layer formulas of the U.S. Standard
/// Atmosphere, 1976 (its two layer formulas and its table of layers, from memory).
fn standard_height(pressure_hpa: f64) -> f64 {
    let (g, r) = (9.80665, 8314.32 / 28.9644);
    let layers = [
        (0.0, 288.15, -0.0065),
        (11_000.0, 216.65, 0.0),
        (20_000.0, 216.65, 0.001),
        (32_000.0, 228.65, 0.0028),
        (47_000.0, 270.65, 0.0),
        (51_000.0, 270.65, -0.0028),
    ];
    let mut base_pressure: f64 = 1013.25;
    for pair in layers.windows(2) {
        let ((base, t, lapse), (top, ..)) = (pair[0], pair[1]);
        let (height, top_pressure) = if lapse == 0.0 {
            let scale: f64 = r * t / g;
            let height = base - scale * (pressure_hpa / base_pressure).ln();
            (height, base_pressure * (-(top - base) / scale).exp())
        } else {
            let ratio: f64 = (pressure_hpa / base_pressure).powf(-r * lapse / g);
            let top_ratio: f64 = (t + lapse * (top - base)) / t;
            let top_pressure = base_pressure * top_ratio.powf(-g / (r * lapse));
            (base + t / lapse * (ratio - 1.0), top_pressure)
        };
        if height <= top {
            return height;
        }
        base_pressure = top_pressure;
    }
    f64::NAN
}

#[test]
fn typical_heights_follow_the_standard_atmosphere() {
    for level in standard_levels() {
        let height = standard_height(f64::from(level.pressure_hpa));
        let off = (height - level.typical_height_gpm).abs();
        assert!(off <= 0.5, "{} hPa: {height}", level.pressure_hpa);
    }
}

#[test]
fn temperature_figures() {
    // Reading convention of the U.S. Navy, Aerographer's Mate Module 2: 015 is
    // -1.5, 061 is -6.1. The rest of table 3931 from memory.
    for (tenths, negative, figure) in [
        (88, false, 8), // +8.8 088
        (1, false, 0),  // +0.1 000
        (1, true, 1),   // -0.1 001
        (41, true, 1),  // -4.1 041
        (40, true, 1),  // -4.0 041
        (52, true, 3),  // -5.2 053
        (120, true, 1), // -12.0 121
        (15, true, 5),  // -1.5 015
        (61, true, 1),  // -6.1 061
        (9, false, 8),
        (9, true, 9),
        (255, false, 4),
    ] {
        assert_eq!(temperature_figure(tenths, negative), figure, "{tenths}");
    }
    for figure in 0..=9 {
        assert_eq!(temperature_negative(figure), Some(figure % 2 == 1));
    }
    assert_eq!(temperature_negative(10), None);
}

#[test]
fn depressions() {
    assert_eq!(depression_codes().len(), 51 + 44);
    // Published decode of a real message: 27, 58, 63, 69, 86, 99. Ends of the
    // two runs: table 0777 from memory.
    for (code, depression) in [
        (27, 2.7),
        (58, 8.0),
        (63, 13.0),
        (69, 19.0),
        (86, 36.0),
        (99, 49.0),
        (0, 0.0),
        (50, 5.0),
        (56, 6.0),
    ] {
        assert_eq!(depression_k(code), Some(depression), "{code}");
    }
    for code in [51, 52, 53, 54, 55, 100, 255] {
        assert_eq!(depression_k(code), None, "{code}");
    }
}

#[test]
fn letters_of_reports() {
    // PP, QQ, EE: U.S. FMH-3 Appendix E-I; XX: U.S. National Hurricane
    // Operations Plan; TT, UU: U.S. Navy, Aerographer's Mate Module 2; II from memory.
    let known: Vec<_> = report_letters()
        .iter()
        .map(|row| (row.letters, row.form, row.kind))
        .collect();
    assert_eq!(
        known,
        [
            ("TT", Form::Temp, StationKind::Land),
            ("UU", Form::Temp, StationKind::Ship),
            ("II", Form::Temp, StationKind::Mobile),
            ("XX", Form::Temp, StationKind::Drop),
            ("PP", Form::Pilot, StationKind::Land),
            ("QQ", Form::Pilot, StationKind::Ship),
            ("EE", Form::Pilot, StationKind::Mobile),
        ]
    );
    assert_eq!(Part::from_letter('C'), Some(Part::C));
    assert_eq!(Part::from_letter('E'), None);
}

#[test]
fn measuring_equipment_maps_to_bufr() {
    // U.S. FMH-3 Appendix E-III against BUFR code table 0 02 003.
    assert_eq!(measuring().len(), 10);
    for (figure, bufr) in [
        (0, 0),
        (1, 1),
        (2, 2),
        (3, 3),
        (4, 14),
        (5, 4),
        (6, 5),
        (7, 6),
        (8, 7),
    ] {
        assert_eq!(measuring_bufr(figure), Some(bufr), "{figure}");
        assert_eq!(measuring_figure(bufr), Some(figure), "{bufr}");
    }
    assert_eq!(measuring_bufr(9), None);
    assert_eq!(measuring_bufr(10), None);
    // RASS, sodar, lidar and missing have no figure in the text code.
    for bufr in [8, 9, 10, 15] {
        assert_eq!(measuring_figure(bufr), None, "{bufr}");
    }
}

#[test]
fn radiation_corrections() {
    // BUFR code table 0 02 013: 0-7 shared, 8 and 9 only in BUFR.
    let text: Vec<_> = radiation().iter().map(|row| row.text).collect();
    let shared = (0..=7).map(Some).chain([None, None]);
    assert_eq!(text, shared.collect::<Vec<_>>());
}

#[test]
fn radiosonde_types() {
    // Common Code Table C-2.
    assert_eq!(radiosondes().len(), 256);
    let of = |bufr| *radiosonde(bufr).unwrap();
    assert_eq!(
        (of(9).text, of(9).class),
        (Some(9), SondeClass::NoRadiosonde)
    );
    assert_eq!(
        (of(90).text, of(90).class),
        (Some(90), SondeClass::Unspecified)
    );
    assert_eq!(
        (of(96).text, of(96).class),
        (Some(96), SondeClass::Descending)
    );
    assert_eq!(
        (of(123).text, of(123).class),
        (Some(23), SondeClass::Radiosonde)
    );
    assert_eq!(
        (of(136).text, of(136).class),
        (Some(36), SondeClass::Dropsonde)
    );
    assert_eq!((of(101).text, of(101).class), (None, SondeClass::TextOnly));
    assert_eq!((of(190).text, of(190).class), (None, SondeClass::Dropsonde));
    assert_eq!(
        (of(209).text, of(209).class),
        (None, SondeClass::Radiosonde)
    );
    assert_eq!((of(255).text, of(255).class), (None, SondeClass::Missing));
    assert_eq!(of(123).assigned, Some(date(2011, 11, 3)));
}

#[test]
fn text_figures_of_radiosondes_change_with_the_day() {
    let on = |figure, y, m, d| radiosonde_from_text(figure, date(y, m, d)).map(|s| s.bufr);
    // C-2 assigns 123 on 3 November 2011.
    assert_eq!(on(23, 2011, 11, 2), Some(23));
    assert_eq!(on(23, 2011, 11, 3), Some(123));
    assert_eq!(on(1, 2030, 1, 1), Some(1));
    assert_eq!(on(39, 2030, 1, 1), Some(39));
    assert_eq!(on(90, 2030, 1, 1), Some(90));
    assert_eq!(on(100, 2030, 1, 1), None);
    assert_eq!(on(255, 2030, 1, 1), None);
}

#[test]
fn tracking_figures() {
    // Common Code Table C-7.
    let of = |figure| tracking(figure).unwrap();
    assert_eq!(of(8).meaning, "automatic, satellite navigation");
    assert_eq!(of(8).group, TrackingGroup::Tracking);
    assert_eq!(of(20).group, TrackingGroup::Ship);
    assert_eq!(of(37).meaning, "shortage of lifting gas");
    assert_eq!(of(70).group, TrackingGroup::Overall);
    let reserved: Vec<u8> = (0..=127).filter(|f| of(*f).is_reserved()).collect();
    let ranges = [
        9..=18,
        25..=28,
        38..=38,
        54..=58,
        66..=68,
        71..=98,
        100..=126,
    ];
    assert_eq!(reserved, ranges.into_iter().flatten().collect::<Vec<u8>>());
    assert_eq!(tracking(128), None);
}

#[test]
fn signs() {
    // Code table 3845, from memory.
    assert_eq!((sign_figure(false), sign_figure(true)), (0, 1));
    assert_eq!(sign_negative(0), Some(false));
    assert_eq!(sign_negative(1), Some(true));
    assert_eq!(sign_negative(2), None);
}

#[test]
fn faults_name_file_and_line() {
    const RUN: Order = Order::Run(&[(0, 2), (5, 6)]);
    for (text, group, order, fault) in [
        (
            "# x\na,b\n1,2",
            0,
            Order::Unique,
            "t.csv:3: no line feed at the end of the file",
        ),
        (
            "",
            0,
            Order::Unique,
            "t.csv:1: no line feed at the end of the file",
        ),
        (
            "a,b\n1,2\n",
            0,
            Order::Unique,
            "t.csv:1: no header comment: the file must start with `#`, document and date",
        ),
        (
            "\u{feff}# x\na,b\n1,2\n",
            0,
            Order::Unique,
            "t.csv:1: no header comment: the file must start with `#`, document and date",
        ),
        ("# x\n", 0, Order::Unique, "t.csv:1: no rows"),
        ("# x\na,b\n", 0, Order::Unique, "t.csv:2: no rows"),
        (
            "# x\na,c\n1,2\n",
            0,
            Order::Unique,
            "t.csv:2: columns are `a,c`, not `a,b`",
        ),
        ("# x\na,b\n\n1,2\n", 0, Order::Unique, "t.csv:3: blank line"),
        ("# x\na,b\n1,2\n\n", 0, Order::Unique, "t.csv:4: blank line"),
        (
            "# x\na,b\n# y\n1,2\n",
            0,
            Order::Unique,
            "t.csv:3: comment below the column names",
        ),
        (
            "# x\na,b\r\n1,2\n",
            0,
            Order::Unique,
            "t.csv:2: carriage return: lines end with a line feed alone",
        ),
        (
            "# x\na,b\n1\n",
            0,
            Order::Unique,
            "t.csv:3: 1 fields where there are 2 columns",
        ),
        (
            "# x\na,b\n1,2,\n",
            0,
            Order::Unique,
            "t.csv:3: 3 fields where there are 2 columns",
        ),
        (
            "# x\na,b\n1,\"2\n",
            0,
            Order::Unique,
            "t.csv:3: quote never closed in field 2",
        ),
        (
            "# x\na,b\n\"1\"2,3\n",
            0,
            Order::Unique,
            "t.csv:3: text after the closing quote of field 1",
        ),
        (
            "# x\na,b\n1,2\"\n",
            0,
            Order::Unique,
            "t.csv:3: quote inside field 2",
        ),
        (
            "# x\na,b\n1, 2\n",
            0,
            Order::Unique,
            "t.csv:3: space at the edge of field 2",
        ),
        (
            "# x\na,b\n,2\n",
            0,
            Order::Unique,
            "t.csv:3: the key is empty",
        ),
        (
            "# x\na,b\nm,2\nn,2\nm,2\n",
            0,
            Order::Unique,
            "t.csv:5: key `m` stands twice, first on line 3",
        ),
        (
            "# x\na,b\n1,2\n1.0,2\n",
            0,
            Order::Rising,
            "t.csv:4: key `1.0` stands twice",
        ),
        (
            "# x\na,b\n1,2\n0,2\n",
            0,
            Order::Rising,
            "t.csv:4: key `0` after `1`: keys must rise",
        ),
        (
            "# x\na,b\n1,2\n3,2\n",
            0,
            Order::Falling,
            "t.csv:4: key `3` after `1`: keys must fall",
        ),
        (
            "# x\na,b\nm,2\n",
            0,
            Order::Falling,
            "t.csv:3: key `m` is not a number in range",
        ),
        (
            "# x\na,b\n0,2\n2,2\n",
            0,
            RUN,
            "t.csv:4: key `2` where `1` must stand",
        ),
        (
            "# x\na,b\n0,2\n0,2\n",
            0,
            RUN,
            "t.csv:4: key `0` stands twice",
        ),
        (
            "# x\na,b\n0,2\n1,2\n2,2\n3,2\n",
            0,
            RUN,
            "t.csv:6: key `3` where `5` must stand",
        ),
        (
            "# x\na,b\n0,2\n1,2\n2,2\n5,2\n",
            0,
            RUN,
            "t.csv:6: the table ends before key `6`",
        ),
        (
            "# x\na,b\n0,2\n1,2\n2,2\n5,2\n6,2\n7,2\n",
            0,
            RUN,
            "t.csv:8: key `7` is past the last",
        ),
        (
            "# x\na,b\n-1,2\n",
            0,
            RUN,
            "t.csv:3: key `-1` is not a number in range",
        ),
        (
            "# x\na,b\nm,2\nn,2\nm,3\n",
            1,
            Order::Rising,
            "t.csv:5: group `m` comes back after another",
        ),
        (
            "# x\na,b\nm,2\nm,1\n",
            1,
            Order::Rising,
            "t.csv:4: key `1` after `2`: keys must rise",
        ),
    ] {
        let file = File {
            name: "t.csv",
            text,
        };
        let shape = Shape {
            columns: &["a", "b"],
            group,
            order,
        };
        assert_eq!(
            rows(file, shape).unwrap_err().to_string(),
            fault,
            "{text:?}"
        );
    }
}

#[test]
fn cells_are_read_strictly() {
    let file = File {
        name: "t.csv",
        text: "# x\na,b\n1,\"two, three\"\n2,\n300,x\n",
    };
    let shape = Shape {
        columns: &["a", "b"],
        group: 0,
        order: Order::Rising,
    };
    let rows = rows(file, shape).unwrap();
    assert_eq!(rows[0].text("b"), Ok("two, three"));
    assert_eq!(rows[1].optional("b"), Ok(None));
    assert_eq!(rows[1].optional_number::<u8>("b"), Ok(None));
    for (fault, expected) in [
        (rows[1].text("b").unwrap_err(), "t.csv:4: `b` is empty"),
        (
            rows[1].number::<u8>("b").unwrap_err(),
            "t.csv:4: `b` is empty",
        ),
        (
            rows[2].number::<u8>("a").unwrap_err(),
            "t.csv:5: `a` is `300`, not a number in range",
        ),
        (
            rows[2].word("b", &[("y", 1), ("z", 2)]).unwrap_err(),
            "t.csv:5: `b` is `x`, not one of y z",
        ),
        (rows[2].text("c").unwrap_err(), "t.csv:5: no column `c`"),
    ] {
        assert_eq!(fault.to_string(), expected);
    }
}
