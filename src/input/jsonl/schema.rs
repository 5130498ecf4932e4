//! The schema of a line, drawn from its types.

use schemars::generate::SchemaSettings;
use schemars::{Schema, SchemaGenerator};
use serde_json::{Map, Value, json};

use super::{FLAGS, Flight, MAX_ROWS};
use crate::input::elements::known::KNOWN;
use crate::input::sheet;
use crate::model::schema::assert_kept;

pub(super) fn sheet(_: &mut SchemaGenerator) -> Schema {
    let mut schema = sheet::made_schema();
    if let Value::Object(object) = &mut schema {
        object.remove("$schema");
        object.remove("title");
    }
    Schema::try_from(schema).unwrap_or_default()
}

pub(super) fn columns(_: &mut SchemaGenerator) -> Schema {
    let mut columns = Map::new();
    for known in KNOWN {
        let least = if known.open {
            "exclusiveMinimum"
        } else {
            "minimum"
        };
        let unit = known.units.first().map_or("", |unit| unit.name);
        let values = json!({
            "type": "array",
            "description": unit,
            "maxItems": MAX_ROWS,
            "items": { "type": ["number", "null"], least: known.low, "maximum": known.high },
        });
        columns.insert(known.name.to_owned(), values);
    }
    let flags = json!({
        "type": "array",
        "description": "roles received from a station: BUFR flag table 0 08 042",
        "maxItems": MAX_ROWS,
        "items": { "type": ["integer", "null"], "minimum": 0 },
    });
    columns.insert(FLAGS.to_owned(), flags);
    let schema = json!({
        "type": "object",
        "properties": columns,
        "additionalProperties": false,
        "minProperties": 1,
    });
    Schema::try_from(schema).unwrap_or_default()
}

#[test]
fn the_file_holds_the_schema_of_a_flight() {
    let made = SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<Flight<'_>>()
        .to_value();
    assert_kept(&made, "input/jsonl/schema.json");
}
