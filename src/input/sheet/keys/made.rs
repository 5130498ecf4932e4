//! The schema of the sheet, drawn from its types.

use schemars::generate::SchemaSettings;
use serde_json::{Map, Value, json};

use super::{ORDERS, Orders, SheetKeys};
use crate::model::Order;
use crate::model::schema::assert_kept;

/// The most orders of one table.
const MAX_ORDERS: usize = 1000;
/// The meaning of each table of orders.
const ABOUT: [&str; 3] = [
    "Orders that take one level in or out.",
    "Orders that treat an element as missing in a layer.",
    "Layers that are reported as doubtful.",
];

impl Orders {
    /// The schema of the table.
    fn schema(&self, about: &str, settings: &SchemaSettings) -> Value {
        let generator = settings.clone().into_generator();
        let order = generator.into_root_schema_for::<Order>().to_value();
        let kinds = order.get("anyOf").and_then(Value::as_array);
        let own = |kind: &&Value| kind.pointer(&format!("/properties/{}", self.own)).is_some();
        let mut kinds = kinds.into_iter().flatten();
        let mut items = kinds.find(own).cloned().unwrap_or_default();
        if let Some(Value::Object(keys)) = items.get_mut("properties")
            && let Some(own) = keys.remove(self.own)
        {
            keys.insert(self.key.to_owned(), own);
        }
        let required = items.get_mut("required").and_then(Value::as_array_mut);
        for key in required.into_iter().flatten() {
            if key == self.own {
                *key = self.key.into();
            }
        }
        json!({ "type": "array", "description": about, "maxItems": MAX_ORDERS, "items": items })
    }
}

pub(crate) fn schema() -> Value {
    let settings = SchemaSettings::draft2020_12().with(|s| s.inline_subschemas = true);
    let mut schema = settings
        .clone()
        .into_generator()
        .into_root_schema_for::<SheetKeys>()
        .to_value();
    if let Some(Value::Object(tables)) = schema.get_mut("properties") {
        let orders = ORDERS.iter().zip(ABOUT);
        tables.extend(
            orders
                .map(|(orders, about)| (orders.table.to_owned(), orders.schema(about, &settings))),
        );
    }
    without_null(&mut schema);
    schema
}

/// TOML has no null: an optional key is simply left out.
fn without_null(value: &mut Value) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(without_null),
        Value::Object(object) => {
            // A table has the defaults of its keys.
            let none = |held: &Value| held.is_null() || held.is_object();
            if object.get("default").is_some_and(none) {
                object.remove("default");
            }
            if let Some(Value::Array(types)) = object.get_mut("type") {
                types.retain(|t| t != "null");
                if let [only] = types.as_slice() {
                    let only = only.clone();
                    object.insert("type".into(), only);
                }
            }
            for word in ["enum", "oneOf", "anyOf"] {
                if let Some(Value::Array(choices)) = object.get_mut(word) {
                    choices.retain(|c| !c.is_null() && c["type"] != "null");
                }
            }
            if let Some(Value::Array(choices)) = object.get("anyOf")
                && let [Value::Object(only)] = choices.as_slice()
            {
                let only: Map<String, Value> = only.clone();
                object.remove("anyOf");
                for (key, value) in only {
                    object.entry(key).or_insert(value);
                }
            }
            object.values_mut().for_each(without_null);
        }
        _ => {}
    }
}

#[test]
fn the_file_holds_the_schema_of_the_keys() {
    assert_kept(&schema(), "input/sheet/schema.json");
}
