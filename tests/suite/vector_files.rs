//! The vectors are whole: every file is TOML of the shape its README describes,
//! and a recount of the groups agrees with the levels listed.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "a helper that fails is the failure of the test that called it"
)]

use std::fs;
use std::path::PathBuf;

use toml::{Table, Value};

const KEYS: [&str; 14] = [
    "part",
    "section",
    "number",
    "pressure_hpa",
    "height_gpm",
    "height_300m",
    "temperature_c",
    "depression_k",
    "wind_dir_deg",
    "wind_speed",
    "shear_below",
    "shear_above",
    "at_top",
    "published_wind_ms",
];

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/vectors")
}

fn tables() -> Vec<(String, Table)> {
    let mut found: Vec<(String, Table)> = fs::read_dir(folder())
        .expect("the folder of vectors")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|ext| ext == "toml"))
        .map(|path| {
            let text = fs::read_to_string(&path).expect("text");
            let name = path
                .file_stem()
                .expect("a name")
                .to_string_lossy()
                .into_owned();
            let table = text.parse().unwrap_or_else(|e| panic!("{name}: {e}"));
            (name, table)
        })
        .collect();
    found.sort_by(|a, b| a.0.cmp(&b.0));
    found
}

fn messages() -> Vec<(String, Table)> {
    let mut all = tables();
    all.retain(|(_, table)| table.contains_key("text"));
    all
}

fn texts<'a>(table: &'a Table, key: &str) -> &'a str {
    table
        .get(key)
        .and_then(Value::as_str)
        .unwrap_or_else(|| panic!("{key} in {table:?}"))
}

fn list<'a>(table: &'a Table, key: &str) -> Vec<&'a Table> {
    let values = table.get(key).and_then(Value::as_array);
    values
        .into_iter()
        .flatten()
        .filter_map(Value::as_table)
        .collect()
}

fn levels(table: &Table) -> Vec<&Table> {
    list(table["decoded"].as_table().expect("decoded"), "levels")
}

fn number(level: &Table, key: &str) -> Option<f64> {
    let value = level.get(key)?;
    value
        .as_float()
        .or_else(|| Some(f64::from(i32::try_from(value.as_integer()?).ok()?)))
}

#[test]
fn every_vector_names_its_source_and_standing() {
    let all = tables();
    assert!(
        all.len() >= 13,
        "files: {:?}",
        all.iter().map(|(n, _)| n).collect::<Vec<_>>()
    );
    for (name, table) in &all {
        assert!(texts(table, "source").len() > 20, "{name}");
        let whole = [
            "published decode",
            "published in part",
            "our arithmetic",
            "published standard",
        ];
        let stderr: Vec<&str> = match table.get("fragment").and_then(Value::as_array) {
            Some(_) => list(table, "fragment")
                .into_iter()
                .map(|f| texts(f, "standing"))
                .collect(),
            None => vec![texts(table, "standing")],
        };
        assert!(
            !stderr.is_empty() && stderr.iter().all(|s| whole.contains(s)),
            "{name}: {stderr:?}"
        );
    }
}

#[test]
fn every_level_belongs_to_a_part_and_uses_known_keys() {
    let all = messages();
    assert!(all.len() >= 10);
    for (name, table) in &all {
        let parts: Vec<String> = list(table, "part")
            .into_iter()
            .map(|part| texts(part, "letters")[3..].to_owned())
            .collect();
        let text = texts(table, "text");
        for part in list(table, "part") {
            assert!(text.contains(texts(part, "letters")), "{name}");
            let unit = texts(part, "unit");
            assert!(matches!(unit, "kt" | "m/s"), "{name}: {unit}");
        }
        for level in levels(table) {
            assert!(
                parts.iter().any(|p| p == texts(level, "part")),
                "{name}: {level:?}"
            );
            for key in level.keys() {
                assert!(KEYS.contains(&key.as_str()), "{name}: {key}");
            }
            let dir = number(level, "wind_dir_deg");
            assert!(
                dir.is_none_or(|d| d % 5.0 == 0.0 && d <= 360.0),
                "{name}: {level:?}"
            );
            assert_eq!(
                dir.is_some(),
                number(level, "wind_speed").is_some(),
                "{name}: {level:?}"
            );
        }
    }
}

/// Within a section pressures fall (PILOT: heights rise) and level numbers run
/// 0, 11, … 99, 11, …; Part D starts at 11.
#[test]
fn levels_stand_in_order() {
    for (name, table) in messages() {
        let levels = levels(&table);
        for pair in levels.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let same = |key: &str| texts(a, key) == texts(b, key);
            if !(same("part") && same("section")) {
                continue;
            }
            if let (Some(p), Some(q)) = (number(a, "pressure_hpa"), number(b, "pressure_hpa")) {
                let below_ground = texts(b, "section") == "standard" && p > 1000.0;
                assert!(q < p || below_ground, "{name}: {a:?} {b:?}");
            }
            if let (Some(m), Some(n)) = (number(a, "number"), number(b, "number")) {
                assert!(
                    n == m + 11.0 || (m, n) == (99.0, 11.0),
                    "{name}: {a:?} {b:?}"
                );
            }
            if let (Some(low), Some(high)) = (number(a, "height_300m"), number(b, "height_300m")) {
                assert!(low < high, "{name}: {a:?} {b:?}");
            }
        }
    }
}

/// A recount by the length of the text alone: in Parts B and D of TEMP every
/// pair of groups between the time group and section 7 is a level.
#[test]
fn every_pair_of_groups_is_listed() {
    let mut counted = 0;
    for (name, table) in messages() {
        if texts(&table, "form") != "TEMP" {
            continue;
        }
        let groups: Vec<&str> = texts(&table, "text").split_whitespace().collect();
        for part in list(&table, "part") {
            let letters = texts(part, "letters");
            if !matches!(letters, "TTBB" | "TTDD") {
                continue;
            }
            let start = groups.iter().position(|g| *g == letters).expect("the part");
            let body: Vec<&&str> = groups[start + 3..]
                .iter()
                .take_while(|g| **g != "31313")
                .filter(|g| **g != "21212")
                .collect();
            let listed = levels(&table)
                .into_iter()
                .filter(|level| {
                    texts(level, "part") == &letters[3..]
                        && texts(level, "section").starts_with("significant")
                })
                .count();
            assert_eq!(listed * 2, body.len(), "{name} {letters}");
            counted += listed;
        }
    }
    assert!(counted > 200, "{counted}");
}
