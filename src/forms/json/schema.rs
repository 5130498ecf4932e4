//! The schema of the document, drawn from its types.

use schemars::SchemaGenerator;
use schemars::generate::SchemaSettings;
use serde_json::Value;

use super::Document;
use crate::model::Context;
use crate::model::schema::assert_kept;

fn made() -> Value {
    let mut schema = SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<Document>()
        .to_value();
    // A report holds what was received, also where no sheet may give it.
    let mut sheet = SchemaGenerator::default();
    sheet.subschema_for::<Context>();
    for name in sheet.definitions().keys().chain([&"Order".to_owned()]) {
        if let Some(keys) = schema.pointer_mut(&format!("/$defs/{name}")) {
            unbounded(keys);
        }
    }
    schema
}

/// Takes the bounds of a sheet away: those of the type itself stay.
fn unbounded(schema: &mut Value) {
    match schema {
        Value::Array(schemas) => schemas.iter_mut().for_each(unbounded),
        Value::Object(keys) => {
            let listed = keys.get("type").is_some_and(Value::is_array);
            keys.retain(|key, value| match key.as_str() {
                "minimum" | "maximum" | "pattern" => false,
                // A single character stays one.
                "maxLength" => *value == 1,
                "enum" => !listed,
                _ => true,
            });
            let (least, most) = match keys.get("format").and_then(Value::as_str) {
                Some("uint8") => (Some(0), Some(u32::from(u8::MAX))),
                Some("uint16") => (Some(0), Some(u32::from(u16::MAX))),
                Some("uint32") => (Some(0), None),
                _ => (None, None),
            };
            keys.extend(least.map(|least| ("minimum".to_owned(), least.into())));
            keys.extend(most.map(|most| ("maximum".to_owned(), most.into())));
            keys.values_mut().for_each(unbounded);
        }
        _ => {}
    }
}

#[test]
fn the_file_holds_the_schema_of_the_document() {
    assert_kept(&made(), "forms/json/schema.json");
}
