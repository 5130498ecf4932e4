//! The keys of the sheet: those of [`Context`] and [`Reading`], where each stands once
//! with its meaning, range and default, and the tables of orders.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::Deserialize;
use serde_json::{Map, Value, json};

use super::handover::Targets;
use super::{Fault, Schedule, SheetError, SheetFault};
use crate::model::finding::Place;
use crate::model::{Clouds, ColumnSource, Context, GroundCheck, Order, Reading, Surface};

/// The most orders of one table.
const MAX_ORDERS: usize = 1000;

/// A table of orders: its name, its meaning, and the key that no other order has, as
/// [`Order`] and as the sheet name it.
struct Orders {
    table: &'static str,
    about: &'static str,
    own: &'static str,
    key: &'static str,
}

/// The tables of orders, in the order in which they are carried out.
const ORDERS: [Orders; 3] = [
    Orders {
        table: "level",
        about: "Orders that take one level in or out.",
        own: "action",
        key: "action",
    },
    Orders {
        table: "withhold",
        about: "Orders that treat an element as missing in a layer.",
        own: "element",
        key: "element",
    },
    Orders {
        table: "doubtful",
        about: "Layers that are reported as doubtful.",
        own: "doubtful",
        key: "element",
    },
];

impl Orders {
    /// The schema of the table.
    fn schema(&self, settings: &SchemaSettings) -> Value {
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
        json!({ "type": "array", "description": self.about, "maxItems": MAX_ORDERS, "items": items })
    }

    /// Takes the orders out of a sheet.
    fn take(&self, sheet: &mut toml::Table) -> Result<Vec<Order>, toml::de::Error> {
        let Some(toml::Value::Array(orders)) = sheet.remove(self.table) else {
            return Ok(Vec::new());
        };
        let one = |mut order: toml::Value| {
            if let Some(keys) = order.as_table_mut()
                && let Some(own) = keys.remove(self.key)
            {
                keys.insert(self.own.to_owned(), own);
            }
            order.try_into()
        };
        orders.into_iter().map(one).collect()
    }

    /// Puts an order into a sheet where it is one of this table.
    fn put(&self, order: &toml::Table, sheet: &mut toml::Table) {
        let mut keys = order.clone();
        let Some(own) = keys.remove(self.own) else {
            return;
        };
        keys.insert(self.key.to_owned(), own);
        let empty = || toml::Value::Array(Vec::new());
        let table = sheet.entry(self.table).or_insert_with(empty);
        if let Some(orders) = table.as_array_mut() {
            orders.push(keys.into());
        }
    }
}

static SCHEMA: LazyLock<Value> = LazyLock::new(|| {
    let settings = SchemaSettings::draft2020_12().with(|s| s.inline_subschemas = true);
    let mut schema = settings
        .clone()
        .into_generator()
        .into_root_schema_for::<SheetKeys>()
        .to_value();
    if let Some(Value::Object(tables)) = schema.get_mut("properties") {
        tables.extend(
            ORDERS
                .iter()
                .map(|orders| (orders.table.to_owned(), orders.schema(&settings))),
        );
    }
    without_null(&mut schema);
    schema
});

/// The JSON Schema of one sheet file (draft 2020-12): all keys are optional,
/// since files are merged before anything is missed.
#[must_use]
pub fn schema() -> Value {
    SCHEMA.clone()
}

/// The same, for the checks.
pub(super) fn cached() -> &'static Value {
    &SCHEMA
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

/// A sheet: what is known about station and flight besides the profile.
#[derive(Default, Deserialize, JsonSchema)]
#[schemars(title = "sheet", extend("additionalProperties" = false))]
#[serde(default)]
pub(super) struct SheetKeys {
    /// The tables of station and flight.
    #[serde(flatten)]
    pub context: Context,
    /// How to read delimited text.
    pub text: Reading,
    /// Our column name → the profile's own column and unit, where they differ.
    pub columns: BTreeMap<String, ColumnSource>,
    /// When reports are expected, for unattended export.
    pub schedule: Schedule,
    /// Receivers of messages, each a table under a name of your choice.
    pub handover: Targets,
}

impl SheetKeys {
    /// The keys of merged files, each of which was checked.
    pub(super) fn of(mut merged: toml::Table) -> Result<Self, SheetError> {
        let mut all = Vec::new();
        for orders in &ORDERS {
            all.extend(orders.take(&mut merged).map_err(unread)?);
        }
        let mut keys: Self = merged.try_into().map_err(unread)?;
        keys.context.orders = all;
        // A table without a value says as little as none.
        let context = &mut keys.context;
        let observed = |surface: &Surface| {
            let nothing = Surface {
                pressure_at: surface.pressure_at,
                ..Surface::default()
            };
            *surface != nothing
        };
        context.surface = context.surface.take().filter(observed);
        let check = context.ground_check.take();
        context.ground_check = check.filter(|check| *check != GroundCheck::default());
        context.clouds = context.clouds.filter(|clouds| *clouds != Clouds::default());
        context.section9.retain(|_, groups| !groups.is_empty());
        context.section10.retain(|_, groups| !groups.is_empty());
        keys.text.columns = std::mem::take(&mut keys.columns);
        Ok(keys)
    }
}

/// The tables of a sheet that gives a context.
pub(crate) fn tables(context: &Context) -> Result<toml::Table, toml::ser::Error> {
    let mut sheet = toml::Table::try_from(context)?;
    for order in &context.orders {
        let order = toml::Table::try_from(order)?;
        ORDERS
            .iter()
            .for_each(|orders| orders.put(&order, &mut sheet));
    }
    Ok(sheet)
}

/// What passed the checks and still has no place in the keys.
fn unread(error: toml::de::Error) -> SheetError {
    let fault = SheetFault {
        place: Place::default(),
        fault: Fault::Syntax {
            message: error.message().to_owned(),
        },
    };
    fault.into()
}
