//! The tables and keys of a sheet in the order in which they are defined.

use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, MapAccess, Visitor};
use serde_json::value::RawValue;

use crate::model::{Clouds, Context, Surface};

/// The members of a JSON object, in the order of the text.
struct Members(Vec<(String, Box<RawValue>)>);

impl<'de> Deserialize<'de> for Members {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct InOrder;
        impl<'de> Visitor<'de> for InOrder {
            type Value = Members;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Members, A::Error> {
                let mut members = Vec::new();
                while let Some(member) = map.next_entry()? {
                    members.push(member);
                }
                Ok(Members(members))
            }
        }
        from.deserialize_map(InOrder)
    }
}

fn members(text: &str) -> Vec<(String, Box<RawValue>)> {
    let members = serde_json::from_str::<Members>(text);
    members.map_or_else(|_| Vec::new(), |members| members.0)
}

/// Every table with its keys: a context that is written has its fields in their order.
pub(super) fn tables() -> Vec<(String, Vec<String>)> {
    let context = Context {
        surface: Some(Surface::default()),
        clouds: Some(Clouds::default()),
        ..Context::default()
    };
    let text = serde_json::to_string(&context).unwrap_or_default();
    let keys = |table: &RawValue| {
        members(table.get())
            .into_iter()
            .map(|(key, _)| key)
            .collect()
    };
    let one = |(name, table): (String, Box<RawValue>)| (name, keys(&table));
    members(&text).into_iter().map(one).collect()
}
