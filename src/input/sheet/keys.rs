//! The keys of the sheet: those of [`Context`] and [`Reading`], where each stands once
//! with its meaning, range and default, and the tables of orders.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::Value;

#[cfg(test)]
pub(super) mod made;

use super::entry::Entry;
use super::handover::Targets;
use super::{Fault, Schedule, SheetError, SheetFault};
use crate::forms::json::what;
use crate::model::finding::Place;
use crate::model::{Clouds, ColumnSource, Context, GroundCheck, Order, Reading, Surface};

/// A table of orders: its name, and the key that no other order has, as [`Order`] and as
/// the sheet name it.
struct Orders {
    table: &'static str,
    own: &'static str,
    key: &'static str,
}

/// The tables of orders, in the order in which they are carried out.
const ORDERS: [Orders; 3] = [
    Orders {
        table: "level",
        own: "action",
        key: "action",
    },
    Orders {
        table: "withhold",
        own: "element",
        key: "element",
    },
    Orders {
        table: "doubtful",
        own: "doubtful",
        key: "element",
    },
];

impl Orders {
    /// Takes the orders out of a sheet.
    fn take(&self, sheet: &mut toml::Table) -> Result<Vec<Order>, SheetError> {
        let Some(toml::Value::Array(orders)) = sheet.remove(self.table) else {
            return Ok(Vec::new());
        };
        let one = |mut order: toml::Value| {
            if let Some(keys) = order.as_table_mut()
                && let Some(own) = keys.remove(self.key)
            {
                keys.insert(self.own.to_owned(), own);
            }
            typed(&order)
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

/// The schema as a file, which a test keeps equal to the types.
const SCHEMA: &str = include_str!("schema.json");

/// The JSON Schema of one sheet file (draft 2020-12): all keys are optional,
/// since files are merged before anything is missed.
#[must_use]
pub fn schema() -> Value {
    serde_json::from_str(SCHEMA).unwrap_or_default()
}

/// What the same says of a sheet.
pub(super) fn all() -> &'static Entry {
    static ALL: LazyLock<Entry> =
        LazyLock::new(|| serde_json::from_str(SCHEMA).unwrap_or_default());
    &ALL
}

/// A sheet: what is known about station and flight besides the profile.
#[derive(Default, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[cfg_attr(test, schemars(title = "sheet", extend("additionalProperties" = false)))]
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
            all.extend(orders.take(&mut merged)?);
        }
        let mut keys: Self = typed(&merged)?;
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

/// Checked keys as their type, by way of JSON: so the types are read from one form only.
fn typed<T: DeserializeOwned>(keys: &impl Serialize) -> Result<T, SheetError> {
    let text = serde_json::to_string(keys).map_err(unread)?;
    serde_json::from_str(&text).map_err(unread)
}

/// What passed the checks and still has no place in the keys.
#[expect(clippy::needless_pass_by_value, reason = "as `map_err` gives it")]
fn unread(error: serde_json::Error) -> SheetError {
    let fault = SheetFault {
        place: Place::default(),
        fault: Fault::Syntax {
            message: what(&error),
        },
    };
    fault.into()
}
