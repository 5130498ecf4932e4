mod figures;
mod places;

use super::*;
use crate::model::{Coding, Region, StationKind};
use itertools::Itertools;
use jiff::civil::date;

/// How the keys of a table follow one another.
enum Keys {
    /// Numbers, each greater than the one before.
    Rise,
    /// Numbers, each less.
    Fall,
    /// All of these.
    All(&'static [std::ops::RangeInclusive<u32>]),
    /// Each once.
    Once,
}

/// How many leading columns name a group, and how the keys after them follow; of files
/// not listed, each value of the first column stands once.
fn keys(name: &str) -> (usize, Keys) {
    use Keys::{All, Fall, Once, Rise};
    match name.trim_start_matches("tables/") {
        "standard_levels.csv" => (1, Fall),
        "bufr_figures.csv" | "bufr_local_sequences.csv" | "031021_associated.csv" => (1, Once),
        "headings.csv" => (1, Once),
        "month_limits.csv" => (1, Fall),
        "ascent_rates.csv" => (1, Rise),
        "practices.csv" => (12, Once),
        "reading_practices.csv" => (3, Once),
        "0265_measuring.csv" | "3849_radiation.csv" | "3931_temperature.csv" => (0, All(&[0..=9])),
        "0509_high_cloud.csv" | "0513_low_cloud.csv" | "0515_middle_cloud.csv" => {
            (0, All(&[0..=9]))
        }
        "1600_cloud_base.csv" | "2700_cloud_amount.csv" => (0, All(&[0..=9])),
        "0777_depression.csv" => (0, All(&[0..=50, 56..=99])),
        "1845_elevation.csv" => (0, All(&[1..=8])),
        "3333_quadrant.csv" => (0, All(&[1..=1, 3..=3, 5..=5, 7..=7])),
        "3845_sign.csv" => (0, All(&[0..=1])),
        "c02_radiosonde.csv" => (0, All(&[0..=255])),
        "c07_tracking.csv" => (0, All(&[0..=127])),
        "002016_configuration.csv" | "002103_radome.csv" => (0, Fall),
        "gross_limits.csv" | "height_approximations.csv" => (0, Fall),
        "bufr_elements.csv" | "bufr_sequences.csv" | "c13_soundings.csv" => (0, Rise),
        "0421_region4.csv" => (0, Rise),
        name if name.starts_with("002") || name.starts_with("035") => (0, Rise),
        _ => (0, Once),
    }
}

/// The form of every file: a header with the source, then rows without anything that
/// could hide a slip.
#[test]
fn every_file_is_well_formed() {
    for file in FILES {
        let name = file.name;
        assert!(
            file.text.starts_with("# ") && file.text.ends_with('\n'),
            "{name}"
        );
        assert!(!file.text.contains('\r'), "{name}: a carriage return");
        let rows: Vec<&str> = file
            .text
            .lines()
            .skip_while(|l| l.starts_with('#'))
            .collect();
        assert!(rows.len() > 1, "{name}: no rows");
        let stray = rows
            .iter()
            .find(|row| row.is_empty() || row.starts_with('#'));
        assert_eq!(stray, None, "{name}: a blank or a comment between rows");
        let mut reader = csv::Reader::from_reader(rows.as_slice().join("\n").leak().as_bytes());
        let records: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        let ours = rows.iter().skip(1).map(|row| file::record(row));
        assert!(ours.eq(records.iter().cloned()), "{name}: read otherwise");
        let (group, order) = keys(name);
        let mut seen = std::collections::BTreeSet::new();
        let mut last: Option<(String, f64)> = None;
        let mut found = Vec::new();
        for record in &records {
            assert!(
                record.iter().all(|cell| cell.trim() == cell),
                "{name}: {record:?}"
            );
            let lead: Vec<&str> = record.iter().take(group).collect();
            let key: Vec<&str> = record.iter().take(group + 1).collect();
            assert!(seen.insert(key.join(",")), "{name}: {key:?} stands twice");
            let Some(number) = record.get(group).and_then(|key| key.parse::<f64>().ok()) else {
                assert!(matches!(order, Keys::Once), "{name}: {key:?} is no number");
                continue;
            };
            let before = last.replace((lead.join(","), number));
            let before = before
                .filter(|(of, _)| *of == lead.join(","))
                .map(|(_, n)| n);
            match order {
                Keys::Rise => assert!(before.is_none_or(|n| n < number), "{name}: {key:?}"),
                Keys::Fall => assert!(before.is_none_or(|n| n > number), "{name}: {key:?}"),
                Keys::All(_) => found.push(number),
                Keys::Once => {}
            }
        }
        if let Keys::All(runs) = order {
            let wanted = runs.iter().cloned().flatten().map(f64::from);
            assert_eq!(found, wanted.collect::<Vec<_>>(), "{name}");
        }
    }
}

/// A fault in a table halts its first use and names the file and the line.
#[test]
fn every_table_reads() {
    let _ = (standard_levels(), temperature_figure(0, false));
    let _ = (depression_codes(), report_letters(), measuring());
    let _ = (radiation(), radiosondes(), tracking(0), sign_figure(false));
    let _ = (cloud_amounts(), low_clouds(), middle_clouds());
    let _ = (high_clouds(), cloud_bases(), limits(), gross_limits());
    let _ = (
        elevations(),
        profile_limits(),
        joining_limits(),
        ascent_rates(),
        message_limits(),
        transmission_limits(),
        ground_check_limits(),
        continuity_limits(),
        month_limit(Averaged::Height, 500),
        network_requirements(),
    );
    let _ = (
        column_words(),
        column_word(""),
        cf_names(),
        associated_field(1, None),
    );
    let _ = (
        bufr_other_data(),
        bufr_pieces(),
        roles_of_flags(0),
        roles_of_figure(0),
    );
    for key in bufr_figures::FIGURES.keys() {
        assert!(bufr_figures::FIGURES.of(key).count() > 0, "{key}");
    }
    let _ = bufr_local_sequence(0, Descriptor::from_bits(0));
    let _ = (
        quadrant_signs(1),
        additional_data(),
        headings(),
        practices(),
    );
    let _ = (bufr_templates(), subcategories(), area_letter(0.0, 0.0));
    let _ = (bufr_sequences().count(), height_approximations());
    for table in FigureTable::ALL {
        assert!(!table.figures().is_empty(), "{table:?}");
    }
}

#[test]
fn a_fault_names_the_line() {
    for (text, fault) in [
        ("# x\nfigure,meaning\n1,a\n300,b\n", "line: 4"),
        ("# x\nfigure,meaning\n1,a\n2\n", "line: 4"),
        ("# x\nfigure,meaning,more\n1,a,\n", "unknown field `more`"),
        ("# x\nfigure\n1\n", "missing field `meaning`"),
    ] {
        let file = File {
            name: "t.csv",
            text,
        };
        let reported = file::read::<Figure>(file).unwrap_err().to_string();
        assert!(reported.contains(fault), "{reported}");
    }
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

/// The surfaces of a form in a Region.
fn of_region(form: Form, region: Region, part: Part) -> Vec<StandardLevel> {
    let coding = Coding {
        region,
        ..Coding::default()
    };
    station_levels(form, &coding, part)
}

/// Their pressures.
fn pressures(form: Form, region: Region, part: Part) -> Vec<u16> {
    let levels = of_region(form, region, part).into_iter();
    levels.map(|level| level.pressure_hpa).collect()
}

#[test]
fn standard_levels_are_those_of_the_regulations() {
    // WMO-No. 306 Vol. I.2, B/C25.8.2.1 (35.2.2.1).
    let part_a = [1000, 925, 850, 700, 500, 400, 300, 250, 200, 150, 100];
    assert_eq!(pressures(Form::Temp, Region::None, Part::A), part_a);
    assert_eq!(pressures(Form::Temp, Region::IV, Part::A), part_a);
    let part_c = [70, 50, 30, 20, 10];
    assert_eq!(pressures(Form::Temp, Region::VI, Part::C), part_c);
    // B/C25.10.4.1 (4/35.2.1).
    let region_iv = [70, 50, 30, 20, 10, 7, 5, 3, 2, 1];
    assert_eq!(pressures(Form::Temp, Region::IV, Part::C), region_iv);
    // B/C20.7.2.1 (32.2.2.1): PILOT has neither 1000 nor 925 hPa.
    assert_eq!(pressures(Form::Pilot, Region::None, Part::A), part_a[2..]);
    assert_eq!(pressures(Form::Pilot, Region::IV, Part::C), part_c);
    assert!(of_region(Form::Temp, Region::None, Part::B).is_empty());
    assert_eq!(standard_levels().len(), 21 + 14);
}

#[test]
fn standard_levels_have_figures_steps_and_heights() {
    let of = |pressure: u16| {
        [Part::A, Part::C]
            .into_iter()
            .flat_map(|part| of_region(Form::Temp, Region::IV, part))
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
    let reserved: Vec<u8> = (0..=127).filter(|f| of(*f).reserved).collect();
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
fn gross_limits_of_madis() {
    // NOAA MADIS, level 1 validity limits.
    assert_eq!(gross_limits().len(), 16);
    let of = |pressure| {
        *gross_limits()
            .iter()
            .find(|row| row.pressure_hpa == pressure)
            .unwrap()
    };
    assert_eq!(
        (of(1000).height_low_gpm, of(1000).height_high_gpm),
        (Some(-588.0), 601.0)
    );
    assert_eq!(
        (of(500).temperature_low_c, of(500).temperature_high_c),
        (-57.0, 5.0)
    );
    assert_eq!((of(300).wind_max_kt, of(100).wind_max_kt), (300.0, 200.0));
    assert_eq!(
        (of(0).height_low_gpm, of(0).height_high_gpm),
        (None, 45000.0)
    );
    // No limit contradicts the standard atmosphere.
    for level in standard_levels()
        .iter()
        .filter(|level| level.pressure_hpa >= 10)
    {
        let Some(row) = gross_limits()
            .iter()
            .find(|row| row.pressure_hpa == level.pressure_hpa)
        else {
            assert_eq!(
                level.pressure_hpa, 925,
                "MADIS has no row for 925 hPa alone"
            );
            continue;
        };
        assert!(row.height_low_gpm.unwrap() < level.typical_height_gpm);
        assert!(level.typical_height_gpm < row.height_high_gpm);
    }
}

#[test]
fn limits_of_the_choice_of_levels() {
    let limits = limits();
    // WMO-No. 306 Vol. I.2, B/C25.8.4 to 8.10.
    assert_eq!(limits.missing_thermal_layer_hpa, 20.0);
    assert_eq!(limits.missing_wind_layer_hpa, 50.0);
    assert_eq!(limits.inversion_thickness_hpa, 20.0);
    assert_eq!(limits.inversion_temperature_k, 2.5);
    assert_eq!(limits.inversion_humidity_pct, 20.0);
    assert_eq!(limits.thermal_bound_hpa, 300.0);
    assert_eq!(
        (limits.temperature_low_k, limits.temperature_high_k),
        (1.0, 2.0)
    );
    assert_eq!(limits.humidity_pct, 15.0);
    assert_eq!(limits.pressure_ratio, 0.6);
    assert_eq!(
        (limits.wind_direction_deg, limits.wind_speed_ms),
        (10.0, 5.0)
    );
    assert_eq!(
        (limits.max_wind_speed_ms, limits.max_wind_floor_hpa),
        (30.0, 500.0)
    );
    assert_eq!(limits.max_wind_rise_ms, 10.0);
    // B/C20.7.5.
    assert_eq!(limits.missing_wind_layer_gpm, 1500.0);
    // WMO-No. 182.
    assert_eq!(
        (
            limits.tropopause_lapse_k_per_km,
            limits.tropopause_depth_gpm
        ),
        (2.0, 2000.0)
    );
    assert_eq!(
        (
            limits.next_tropopause_lapse_k_per_km,
            limits.next_tropopause_depth_gpm
        ),
        (3.0, 1000.0)
    );
    // Our method, and common practice without a source.
    assert_eq!((limits.hysteresis_k, limits.light_wind_ms), (0.3, 2.5));
    assert_eq!(
        (limits.bridge_thermal_gpm, limits.gap_spacing_ratio),
        (1000.0, 3.0)
    );
    let row = limit("bridge_thermal_gpm").unwrap();
    assert_eq!(
        (row.unit, row.source),
        ("gpm", "common practice, no source")
    );
    assert_eq!(limit("nothing"), None);
}

/// Ends of names and the units they stand for.
const UNITS: [(&str, &str); 18] = [
    ("_ms_per_km", "m/s/km"),
    ("_pct_per_km", "%/km"),
    ("_k_per_km", "K/km"),
    ("_k_per_s", "K/s"),
    ("_pct_per_s", "%/s"),
    ("_ms_per_s", "m/s2"),
    ("_rows", "1"),
    ("_m", "m"),
    ("_hpa", "hPa"),
    ("_gpm", "gpm"),
    ("_pct", "%"),
    ("_deg", "deg"),
    ("_ms", "m/s"),
    ("_s", "s"),
    ("_k", "K"),
    ("_ratio", "1"),
    ("_min", "min"),
    ("_h", "h"),
];

#[test]
fn limits_are_above_zero_in_the_unit_of_their_name() {
    let (selection, message) = (limit_rows(), message_limit_rows());
    for row in [
        selection,
        message,
        profile_limit_rows(),
        joining_limit_rows(),
    ]
    .concat()
    {
        assert!(row.value.is_finite() && row.value > 0.0, "{}", row.name);
        let unit = UNITS.iter().find(|(end, _)| row.name.ends_with(end));
        assert_eq!(unit.map(|(_, unit)| *unit), Some(row.unit), "{}", row.name);
        assert!(
            !row.clause.is_empty() && !row.source.is_empty(),
            "{}",
            row.name
        );
    }
    for row in gross_limits() {
        assert!(
            row.height_low_gpm
                .is_none_or(|low| low < row.height_high_gpm)
        );
        assert!(row.temperature_low_c < row.temperature_high_c);
    }
}

/// What one row says fits what another does, or another column.
#[test]
fn tables_agree_with_themselves() {
    for pair in cloud_bases().windows(2) {
        assert_eq!(pair[0].to_m, Some(pair[1].from_m));
    }
    assert_eq!(cloud_bases().last().unwrap().to_m, None);
    for sonde in radiosondes() {
        assert!(
            sonde.text.is_none_or(|text| text == sonde.bufr % 100),
            "{sonde:?}"
        );
    }
    for level in standard_levels() {
        let p = level.pressure_hpa;
        assert_eq!(level.part == Part::A, p >= 100, "{p}");
        let pp = if level.part == Part::A {
            p / 10 % 100
        } else {
            p
        };
        assert_eq!(u16::from(level.pp), pp, "{p}");
    }
    for pair in depression_codes().windows(2) {
        assert!(pair[0].1 < pair[1].1, "{pair:?}");
    }
    // Every tenth of both signs has one figure, and two tenths share one.
    for negative in [false, true] {
        let figures = (0..10).map(|tenths| temperature_figure(tenths, negative));
        assert_eq!(figures.chunk_by(|a| *a).into_iter().count(), 5);
    }
    for table in [FigureTable::Configuration, FigureTable::Radome] {
        let bits = table.figures();
        assert!(bits.iter().all(|bit| bit.figure.is_power_of_two()));
    }
    let mut letters = std::collections::BTreeSet::new();
    for row in column_words() {
        let plain = |c: char| (c.is_alphanumeric() && !c.is_uppercase()) || c == ' ';
        assert!(row.word.chars().all(plain), "{}", row.word);
        assert!(letters.insert(row.word.replace(' ', "")), "{}", row.word);
    }
}

/// WMO-No. 306 Vol. I.2, code tables 0 33 003 and 0 08 021, flag table 0 25 069.
#[test]
fn figures_of_code_and_flag_tables_have_meanings() {
    let of = |fxy: &str, figure| bufr_figure(Descriptor::from_figures(fxy).unwrap(), figure);
    assert_eq!(of("033003", 2).as_deref(), Some("Data highly suspect"));
    assert_eq!(of("008021", 18).as_deref(), Some("Radiosonde launch time"));
    let bits = of("025069", 64 + 8);
    assert_eq!(
        bits.as_deref(),
        Some("Baseline adjusted, Plausibility checked")
    );
    assert_eq!(of("033003", 5), None);
    assert_eq!(of("012101", 5), None);
}

#[test]
fn tables_b_and_d_are_whole() {
    let elements: Vec<BufrElement> = file::read(BUFR_ELEMENTS).unwrap();
    assert_eq!(elements.len(), 1874);
    for element in elements {
        let width = element.width_bits;
        let fits = match element.unit {
            BufrUnit::Text => width.is_multiple_of(8),
            _ => width <= 32,
        };
        assert!(
            width > 0 && fits && element.descriptor.f() == 0,
            "{element:?}"
        );
    }
    assert_eq!(bufr_sequences().count(), 665);
    // Every member is there.
    for descriptor in bufr_sequences() {
        assert_eq!(descriptor.f(), 3);
        for member in bufr_sequence(descriptor).unwrap() {
            match member.f() {
                0 => assert!(bufr_element(*member).is_some(), "{member}"),
                3 => assert!(bufr_sequence(*member).is_some(), "{member}"),
                _ => {}
            }
        }
    }
}
