use arrow_array::Array as _;
use arrow_array::cast::AsArray as _;
use arrow_array::types::Float64Type;

use super::{Levels, Reports, Source};
use crate::forms::text::Message;

#[test]
fn a_table_has_the_values_of_the_message() {
    // Invented: 1000 hPa at 119 gpm, 4.2 °C, depression 2.6 K, 225°/7 m/s.
    let text = "TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999=";
    let message = Message::parse(text).unwrap();
    let report = message.report();
    let mut levels = Levels::new();
    let source = Source {
        file: "a.txt",
        report: 3,
    };
    levels.add(source, &report, Some(&message));
    let batch = levels.take().unwrap();
    assert_eq!(batch.num_rows(), 2);
    let number = |name: &str, row: usize| {
        let column = batch.column_by_name(name).unwrap();
        let column = column.as_primitive::<Float64Type>();
        column.is_valid(row).then(|| column.value(row))
    };
    assert_eq!(number("pressure_hpa", 0), Some(1004.0));
    assert_eq!(number("pressure_hpa", 1), Some(1000.0));
    assert_eq!(number("height_gpm", 1), Some(119.0));
    assert_eq!(number("temperature_c", 1), Some(4.2));
    assert!((number("dewpoint_c", 1).unwrap() - 1.6).abs() < 1e-9);
    assert_eq!(number("wind_dir_deg", 1), Some(225.0));
    assert_eq!(number("latitude_deg", 1), None);
    let groups = batch.column_by_name("groups").unwrap().as_list::<i32>();
    let groups = groups.value(1);
    let groups: Vec<_> = groups.as_string::<i32>().iter().flatten().collect();
    assert_eq!(groups, ["00119", "04226", "22507"]);
    let schema = batch.schema();
    assert_eq!(schema.metadata()["fivefig.table"], "levels");
    assert_eq!(schema.metadata()["fivefig.version"], "1");
    // The next batch begins without rows.
    assert_eq!(levels.take().unwrap().num_rows(), 0);
}

#[test]
fn an_error_is_a_row() {
    let mut reports = Reports::new();
    reports.add_error(Source::default(), "no row has a wind", "form", "");
    let batch = reports.take().unwrap();
    let error = batch.column_by_name("error").unwrap();
    assert_eq!(error.as_string::<i32>().value(0), "no row has a wind");
    assert!(batch.column_by_name("text").unwrap().is_null(0));
}
