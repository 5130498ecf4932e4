//! Figures of instruments, balloon and flight for BUFR.

use super::*;
use crate::model::{Balloon, Equipment};
use crate::tables::FigureTable;

/// Keys of `[flight]`, `[equipment]` and `[balloon]` with the width of their
/// elements, bits, and the scale (BUFR Table B).
const WIDTHS: [(&str, u32, i32); 19] = [
    ("flight.termination", 5, 0),
    ("equipment.completeness", 4, 0),
    ("equipment.configuration", 5, 0),
    ("equipment.humidity_correction", 5, 0),
    ("equipment.receiver", 6, 0),
    ("equipment.pressure_sensor", 5, 0),
    ("equipment.temperature_sensor", 5, 0),
    ("equipment.humidity_sensor", 5, 0),
    ("equipment.radome", 2, 0),
    ("equipment.height_calculation", 4, 0),
    ("balloon.maker", 6, 0),
    ("balloon.kind", 5, 0),
    ("balloon.mass_kg", 12, 3),
    ("balloon.shelter", 4, 0),
    ("balloon.gas", 4, 0),
    ("balloon.gas_kg", 13, 3),
    ("balloon.train_m", 10, 1),
    ("flight.ascent", 14, 0),
    ("flight.release_number", 3, 0),
];

/// The least sheet with one more key.
fn with(key: &str, value: &str) -> Result<(Sheet, Vec<Finding>), SheetError> {
    one(&format!("{key} = {value}\n{LEAST}"))
}

#[test]
fn ranges_end_below_all_ones() {
    let schema = schema();
    for (key, bits, scale) in WIDTHS {
        let (table, name) = key.split_once('.').unwrap();
        let inner = &schema["properties"][table]["properties"][name];
        let most = f64::from(2_u32.pow(bits) - 2) / 10_f64.powi(scale);
        assert_eq!(inner["maximum"].as_f64(), Some(most), "{key}");
        assert_eq!(inner["minimum"].as_f64(), Some(0.0), "{key}");
    }
}

#[test]
fn what_an_element_cannot_hold_is_refused() {
    for (tail, stated) in [
        (
            "[equipment]\ncompleteness = 15",
            "`equipment.completeness` = 15 is out of range (0 to 14)",
        ),
        (
            "[equipment]\nradome = 3",
            "`equipment.radome` = 3 is out of range (0 to 2)",
        ),
        (
            "[balloon]\nmass_kg = 4.095",
            "`balloon.mass_kg` = 4.095 is out of range (0 to 4.094)",
        ),
        (
            "[balloon]\ntrain_m = -1",
            "`balloon.train_m` = -1 is out of range (0 to 102.2)",
        ),
        (
            "[equipment]\nsoftware = \"thirteen chars\"",
            "`equipment.software` = \"thirteen chars\" is not 1 to 12 printable ASCII characters \
             without blanks at the ends",
        ),
        (
            "[balloon]\nmaker = \"Q\"",
            "`balloon.maker` is a string; an integer is expected",
        ),
        (
            "[bufr]\nreused = 1",
            "`bufr.reused` is an integer; true or false is expected",
        ),
    ] {
        let errors = texts(&one(&format!("{LEAST}{tail}")).unwrap_err());
        assert_eq!(errors.len(), 1, "{errors:?}");
        assert!(errors[0].ends_with(stated), "{errors:?}");
    }
}

#[test]
fn figures_without_a_meaning_are_reported() {
    // BUFR code tables: 0 02 084 has 0 to 2 and 14, 0 35 035 starts at 1,
    // 0 02 016 has no flag of value 1.
    for (tail, stated) in [
        ("[balloon]\ngas = 2", None),
        ("[balloon]\ngas = 14", None),
        (
            "[balloon]\ngas = 3",
            Some("balloon.gas = 3 has no meaning in BUFR code table 0 02 084 of version 45"),
        ),
        ("[equipment]\nconfiguration = 30", None),
        ("[equipment]\nconfiguration = 0", None),
        (
            "[equipment]\nconfiguration = 5",
            Some(
                "equipment.configuration = 5 has no meaning in BUFR flag table 0 02 016 of version 45",
            ),
        ),
        // No table is compared with these two.
        ("[equipment]\nreceiver = 40", None),
        ("[balloon]\nmaker = 40", None),
    ] {
        let (_, findings) = one(&format!("{LEAST}{tail}")).unwrap();
        let reported: Vec<&str> = findings.iter().map(|f| f.code.as_ref()).collect();
        assert_eq!(
            reported.len(),
            usize::from(stated.is_some()),
            "{tail}: {reported:?}"
        );
        if let Some(stated) = stated {
            assert_eq!(reported[0], "figure-without-meaning");
            assert_eq!(findings[0].severity, Severity::Warning);
            assert_eq!(findings[0].place.line, Some(8), "{tail}");
            assert!(findings[0].to_string().contains(stated), "{}", findings[0]);
        }
    }
    let text = LEAST.to_owned() + "termination = 0";
    let (_, findings) = one(&text).unwrap();
    assert_eq!(findings[0].code, "figure-without-meaning");
}

/// Every key with a table is compared with that table: the least figure that it
/// does not list is reported, a listed one is not.
#[test]
fn every_table_has_its_key() {
    let keys = [
        ("equipment.completeness", FigureTable::Completeness),
        ("equipment.configuration", FigureTable::Configuration),
        (
            "equipment.humidity_correction",
            FigureTable::HumidityCorrection,
        ),
        ("balloon.kind", FigureTable::Balloon),
        ("balloon.shelter", FigureTable::Shelter),
        ("balloon.gas", FigureTable::Gas),
        ("equipment.pressure_sensor", FigureTable::PressureSensor),
        (
            "equipment.temperature_sensor",
            FigureTable::TemperatureSensor,
        ),
        ("equipment.humidity_sensor", FigureTable::HumiditySensor),
        ("equipment.radome", FigureTable::Radome),
        (
            "equipment.height_calculation",
            FigureTable::HeightCalculation,
        ),
    ];
    for (key, table) in keys {
        let listed = table.figures()[0].figure;
        let bare = (0..).find(|&figure| !table.lists(figure)).unwrap();
        for (figure, count) in [(listed, 0), (bare, 1)] {
            let (_, findings) = with(key, &figure.to_string()).unwrap();
            assert_eq!(findings.len(), count, "{key} = {figure}: {findings:?}");
        }
    }
}

#[test]
fn texts_are_printable_without_blanks_at_the_ends() {
    for (shape, text, fits) in [
        (Shape::Observer, "Q", true),
        (Shape::Observer, "A B", true),
        (Shape::Observer, "ABCD", true),
        (Shape::Observer, "ABCDE", false),
        (Shape::Observer, " AB", false),
        (Shape::Observer, "AB ", false),
        (Shape::Observer, "é", false),
        (Shape::Observer, "A\tB", false),
        (Shape::Software, "~12345678901", true),
        (Shape::Software, "1234567890123", false),
    ] {
        assert_eq!(shape.fits(text), fits, "{shape:?} {text:?}");
    }
}

#[test]
fn what_is_not_said_is_not_there() {
    let (sheet, _) = one(LEAST).unwrap();
    assert_eq!(sheet.context.equipment, Equipment::default());
    assert_eq!(sheet.context.balloon, Balloon::default());
    assert!(!sheet.context.bufr.reused);
    assert_eq!(sheet.context.flight.observer, None);
    assert_eq!(sheet.context.flight.termination, None);
}
