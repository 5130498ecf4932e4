//! The JSON Schemas of the types, from which tests make the files that are printed.

use std::borrow::Cow;
use std::{env, fs};

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde_json::Value;

use super::rule::{Reason, Rule};
use super::significance::Roles;

/// Asserts that a file under `src` holds the schema of the types; with
/// `FIVEFIG_WRITE_GUIDE` it writes the file.
pub(crate) fn assert_kept(made: &Value, file: &str) {
    let path = format!("{}/src/{file}", env!("CARGO_MANIFEST_DIR"));
    if env::var_os("FIVEFIG_WRITE_GUIDE").is_some() {
        let text = serde_json::to_string_pretty(made).unwrap();
        fs::write(&path, text + "\n").unwrap();
    }
    let kept: Value = serde_json::from_slice(&fs::read(&path).unwrap()).unwrap();
    assert!(
        kept == *made,
        "{file}: FIVEFIG_WRITE_GUIDE=1 writes it anew"
    );
}

/// A time in UTC.
pub(crate) struct Text;

impl JsonSchema for Text {
    fn schema_name() -> Cow<'static, str> {
        "Utc".into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "format": "date-time" })
    }
}

impl JsonSchema for Roles {
    fn schema_name() -> Cow<'static, str> {
        "Roles".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let names: Vec<&str> = Self::NAMED.names().collect();
        json_schema!({
            "description": "What the level is: bits 1 to 17 of BUFR flag table 0 08 042, and `forced` (put in by an order).",
            "type": "array",
            "items": { "enum": names },
            "uniqueItems": true
        })
    }
}

impl JsonSchema for Rule {
    fn schema_name() -> Cow<'static, str> {
        Reason::schema_name()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        Reason::json_schema(generator)
    }
}
