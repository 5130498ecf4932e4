//! A sheet of what a message says about station and flight.

use super::{Source, check, keys};
use crate::model::{Context, StationKind};

/// The tables of a sheet that a message can give.
const TABLES: [&str; 6] = [
    "station",
    "flight",
    "surface",
    "clouds",
    "equipment",
    "balloon",
];

/// Station, flight, equipment, clouds and sea temperature of a context as a sheet
/// that [`super::read`] takes. Values that no sheet may have are left out and named.
#[must_use]
pub fn print(context: &Context) -> (String, Vec<String>) {
    let mut left_out = Vec::new();
    let mut all = keys::tables(context).unwrap_or_default();
    all.retain(|name, _| TABLES.contains(&name));
    for (name, table) in &mut all {
        let Some(table) = table.as_table_mut() else {
            continue;
        };
        table.retain(|key, _| match (name.as_str(), key) {
            // Where a drop began is not where its lowest level is, which a sheet gives.
            ("station", "release_m") => context.station.kind != StationKind::Drop,
            ("surface", key) => key == "sea_temperature_c",
            _ => true,
        });
        table.retain(|key, value| {
            let alone = format!("[{name}]\n{key} = {value}\n");
            let source = Source {
                name: "",
                text: &alone,
            };
            let fits = check::file(&source).errors.is_empty();
            if !fits {
                left_out.push(format!("{name}.{key}"));
            }
            fits
        });
    }
    all.retain(|_, table| table.as_table().is_some_and(|t| !t.is_empty()));
    (all.to_string(), left_out)
}

/// The sheet of a message without its clouds, where a sheet that comes after has
/// its own: figures of the two would contradict each other.
#[must_use]
pub fn without_clouds(sheet: &str, later: &[&str]) -> String {
    const CLOUDS: &str = "clouds";
    let has = |text: &&str| {
        let table = text.parse::<toml::Table>().unwrap_or_default();
        let clouds = table.get(CLOUDS).and_then(toml::Value::as_table);
        clouds.is_some_and(|clouds| !clouds.is_empty())
    };
    match sheet.parse::<toml::Table>() {
        Ok(mut own) if later.iter().any(has) => {
            own.remove(CLOUDS);
            own.to_string()
        }
        _ => sheet.to_owned(),
    }
}
