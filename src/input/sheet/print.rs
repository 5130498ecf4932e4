//! A sheet of what a message says about station and flight.

use serde::Serialize;

use super::{Source, check};
use crate::model::{Balloon, Clouds, Context, Equipment, Flight, Station, StationKind};

/// The tables of a sheet that a message can give.
#[derive(Serialize)]
struct Tables<'a> {
    station: &'a Station,
    flight: &'a Flight,
    equipment: &'a Equipment,
    balloon: &'a Balloon,
    #[serde(skip_serializing_if = "Option::is_none")]
    clouds: Option<&'a Clouds>,
}

/// Station, flight, equipment, clouds and sea temperature of a context as a sheet
/// that [`super::read`] takes. Values that no sheet may have are left out and named.
#[must_use]
pub fn print(context: &Context) -> (String, Vec<String>) {
    let tables = Tables {
        station: &context.station,
        flight: &context.flight,
        equipment: &context.equipment,
        balloon: &context.balloon,
        clouds: context.clouds.as_ref(),
    };
    let mut left_out = Vec::new();
    let mut all = toml::Table::try_from(&tables).unwrap_or_default();
    // Where a drop began is not where its lowest level is, which a sheet gives.
    if context.station.kind == StationKind::Drop
        && let Some(station) = all.get_mut("station").and_then(toml::Value::as_table_mut)
    {
        station.remove("release_m");
    }
    let sea = context.surface.as_ref().and_then(|s| s.sea_temperature_c);
    if let Some(sea) = sea {
        let surface = toml::Table::from_iter([("sea_temperature_c".to_owned(), sea.into())]);
        all.insert("surface".to_owned(), surface.into());
    }
    for (name, table) in &mut all {
        let Some(table) = table.as_table_mut() else {
            continue;
        };
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
        text.parse::<toml::Table>()
            .is_ok_and(|table| table.contains_key(CLOUDS))
    };
    match sheet.parse::<toml::Table>() {
        Ok(mut own) if later.iter().any(has) => {
            own.remove(CLOUDS);
            own.to_string()
        }
        _ => sheet.to_owned(),
    }
}
