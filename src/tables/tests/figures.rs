use super::*;

/// The figures with a meaning as runs, as BUFR code and flag tables of WMO-No. 306
/// Vol. I.2 list them (open table repository wmo-im/BUFR4 v45).
#[test]
fn figures_with_a_meaning() {
    use FigureTable as T;
    let of = |table: T| -> Vec<u8> { (0..=254).filter(|&f| table.lists(f)).collect() };
    let codes = |runs: &[std::ops::RangeInclusive<u8>]| -> Vec<u8> {
        runs.iter().cloned().flatten().collect()
    };
    assert_eq!(of(T::Completeness), codes(&[1..=5]));
    assert_eq!(of(T::HumidityCorrection), codes(&[0..=3, 7..=7]));
    assert_eq!(of(T::Balloon), codes(&[0..=8, 30..=30]));
    assert_eq!(of(T::Shelter), codes(&[0..=4, 14..=14]));
    assert_eq!(of(T::Gas), codes(&[0..=2, 14..=14]));
    assert_eq!(of(T::PressureSensor), codes(&[0..=4, 30..=30]));
    assert_eq!(of(T::TemperatureSensor), codes(&[0..=10]));
    assert_eq!(of(T::HumiditySensor), codes(&[0..=24]));
    assert_eq!(of(T::HeightCalculation), codes(&[0..=2]));
    assert_eq!(of(T::Termination), codes(&[1..=9, 11..=17, 30..=30]));
    // Flags: 16, 8, 4, 2 of five bits; 2 of two bits. Any sum of them.
    let even: Vec<u8> = (0..=30).step_by(2).collect();
    assert_eq!(of(T::Configuration), even);
    assert_eq!(of(T::Radome), [0, 2]);
    // From the same tables: helium, parachute, balloon burst.
    let meaning = |table: T, figure| {
        let rows = table.figures();
        rows.iter().find(|r| r.figure == figure).map(|r| r.meaning)
    };
    assert_eq!(meaning(T::Gas, 1), Some("helium"));
    assert_eq!(meaning(T::Configuration, 4), Some("parachute"));
    assert_eq!(meaning(T::Termination, 1), Some("balloon burst"));
    assert_eq!(meaning(T::TemperatureSensor, 1), Some("bead thermistor"));
}

/// WMO-No. 306 Vol. I.2: code table 0 01 003 has 0 to 6 (7: missing), 0 02 084 has 0 to 2
/// and 14; flag table 0 02 002 of four bits has 8, 4 and 2 (all four: missing).
#[test]
fn a_figure_is_listed_where_its_table_is_here() {
    for (fxy, figure, listed) in [
        ("001003", 0, Some(true)),
        ("001003", 6, Some(true)),
        ("001003", 7, Some(false)),
        ("002084", 2, Some(true)),
        ("002084", 3, Some(false)),
        ("002084", 256 + 1, Some(false)),
        ("002002", 0, Some(true)),
        ("002002", 8 + 4, Some(true)),
        ("002002", 8 + 1, Some(false)),
        // No file has 0 02 066; 0 01 082 is a number.
        ("002066", 1, None),
        ("001082", 1, None),
    ] {
        let descriptor = Descriptor::from_figures(fxy).unwrap();
        assert_eq!(
            bufr_figure_listed(descriptor, figure),
            listed,
            "{fxy} {figure}"
        );
    }
}
