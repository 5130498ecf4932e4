//! The guide and README: their examples run, their sheets are read, their links lead
//! somewhere. What a page prints here is ours; nothing of it is a published value.
#![cfg(unix)]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

use fivefig::guide;
use fivefig::guide::PAGES;
use fivefig::input::sheet;
use fivefig::input::sheet::Source;
use fivefig::model::{GroupRule, Need, PRACTICE_COLUMNS, PRACTICE_RULES, TemplateValue};
use itertools::Itertools as _;
use serde_json::Value;

use crate::support;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// Runs the command in the root of the project.
fn command(args: &[&str]) -> (i32, String, String) {
    support::run(Path::new(ROOT), args, "")
}

/// A fenced block: its info string, its lines, and the line of the page it begins in
/// (from 0, the fence itself not counted).
struct Block {
    info: String,
    lines: Vec<String>,
    at: usize,
}

fn blocks(page: &str) -> Vec<Block> {
    let mut out: Vec<Block> = Vec::new();
    let mut open = false;
    for (number, line) in page.lines().enumerate() {
        match line.strip_prefix("```") {
            Some(info) if !open => {
                open = true;
                out.push(Block {
                    info: info.to_owned(),
                    lines: Vec::new(),
                    at: number + 1,
                });
            }
            Some(_) => open = false,
            None if open => out.last_mut().unwrap().lines.push(line.to_owned()),
            None => (),
        }
    }
    assert!(!open, "a block is not closed");
    out
}

/// README and every page: name, path and text.
fn pages() -> Vec<(String, PathBuf, String)> {
    let file = |name: &str, path: &str| {
        let path = Path::new(ROOT).join(path);
        let text = fs::read_to_string(&path).unwrap();
        (name.to_owned(), path, text)
    };
    let guide = PAGES.iter().map(|page| {
        let at = format!("src/guide/{}.md", page.topic);
        file(page.topic, &at)
    });
    [file("README", "README.md")]
        .into_iter()
        .chain(guide)
        .collect()
}

/// Runs commands in a folder as a shell does that stops at the first fault.
fn run(script: &str, folder: &Path) -> (bool, String, String) {
    let binary = Path::new(env!("CARGO_BIN_EXE_fivefig")).parent().unwrap();
    let path = env::var_os("PATH").unwrap();
    let path = env::join_paths(
        [binary.to_owned()]
            .into_iter()
            .chain(env::split_paths(&path)),
    );
    let out = Command::new("sh")
        .args(["-ec", script])
        .current_dir(folder)
        .env("PATH", path.unwrap())
        .output()
        .unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (out.status.success(), text(out.stdout), text(out.stderr))
}

/// Whether lines are as a block shows them; a line `...` stands for any lines.
fn shows(block: &[String], lines: &[&str]) -> bool {
    let parts: Vec<&[String]> = block.split(|line| line == "...").collect();
    let mut rest = lines;
    for (number, part) in parts.iter().enumerate() {
        let (first, last) = (number == 0, number + 1 == parts.len());
        let fits = |at: usize| {
            rest.get(at..at + part.len())
                .is_some_and(|lines| lines == *part)
        };
        let found = if last && !part.is_empty() {
            rest.len()
                .checked_sub(part.len())
                .filter(|&at| at == 0 || !first)
                .filter(|&at| fits(at))
        } else if first {
            fits(0).then_some(0).filter(|_| !last || rest.is_empty())
        } else {
            (0..=rest.len()).find(|&at| fits(at))
        };
        let Some(at) = found else {
            return false;
        };
        rest = &rest[at + part.len()..];
    }
    true
}

#[test]
fn an_excerpt_is_found_in_its_order() {
    let block = |text: &str| text.split('|').map(str::to_owned).collect::<Vec<_>>();
    let lines = ["a", "b", "c", "d"];
    for fits in [
        "a|b|c|d",
        "a|...",
        "...|d",
        "a|...|d",
        "...|b|c|...",
        "a|...|c|...",
    ] {
        assert!(shows(&block(fits), &lines), "{fits}");
    }
    for differs in [
        "a|b|c",
        "b|...",
        "...|c",
        "a|...|c",
        "...|c|b|...",
        "a|c|...",
        "...|e|...",
    ] {
        assert!(!shows(&block(differs), &lines), "{differs}");
    }
    assert!(shows(&[], &[]));
    assert!(!shows(&[], &["a"]));
}

/// Every block `sh` runs with the built command, the blocks of a page one after the other
/// in one folder; the block `text` after it is what it prints. With `FIVEFIG_WRITE_GUIDE`
/// set, blocks that are no excerpts are written anew: read the difference then.
#[test]
fn shell_examples_print_what_the_pages_show() {
    let writes = env::var_os("FIVEFIG_WRITE_GUIDE").is_some();
    let mut ran = 0;
    let mut faults = Vec::new();
    for (name, path, text) in pages() {
        let folder = tempfile::tempdir().unwrap();
        std::os::unix::fs::symlink(
            Path::new(ROOT).join("samples"),
            folder.path().join("samples"),
        )
        .unwrap();
        let mut page: Vec<String> = text.lines().map(str::to_owned).collect();
        // From the end, so that earlier places stay where they are.
        let mut new = Vec::new();
        let blocks = blocks(&text);
        for (number, block) in blocks.iter().enumerate() {
            if block.info != "sh" {
                continue;
            }
            ran += 1;
            let script = block
                .lines
                .join("\n")
                .replace("cargo run --release --", "fivefig");
            let (good, printed, findings) = run(&script, folder.path());
            let place = format!("{name}, line {}", block.at);
            if !good {
                faults.push(format!("{place}: {findings}"));
                continue;
            }
            let lines: Vec<&str> = printed.lines().collect();
            let shown = blocks.get(number + 1).filter(|next| next.info == "text");
            let expected = shown.map(|shown| shown.lines.clone()).unwrap_or_default();
            if shows(&expected, &lines) {
                continue;
            }
            match shown {
                Some(shown) if writes && !expected.iter().any(|line| line == "...") => {
                    new.push((shown.at, expected.len(), printed));
                }
                _ => faults.push(format!("{place}: this is printed:\n{printed}")),
            }
        }
        if !new.is_empty() {
            for (at, count, printed) in new.into_iter().rev() {
                page.splice(at..at + count, printed.lines().map(str::to_owned));
            }
            fs::write(path, page.join("\n") + "\n").unwrap();
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(ran > 30, "{ran} examples");
}

#[test]
fn the_sheets_of_the_pages_are_read() {
    let base = fs::read_to_string(Path::new(ROOT).join("samples/winter_jet.toml")).unwrap();
    let mut count = 0;
    for (name, _, text) in pages() {
        for block in blocks(&text).iter().filter(|block| block.info == "toml") {
            let text = block.lines.join("\n");
            let sheets = [
                Source {
                    name: "base",
                    text: &base,
                },
                Source {
                    name: "page",
                    text: &text,
                },
            ];
            let read = sheet::read(&sheets);
            assert!(read.is_ok(), "{name}, line {}: {:?}", block.at, read.err());
            count += 1;
        }
    }
    assert!(count >= 7, "{count} sheets");
}

/// What a key may be, by its schema.
fn values(schema: &Value) -> String {
    let default = |value: &str| match &schema["default"] {
        Value::String(text) if format!("{text:?}") == value => " (default)",
        Value::Bool(flag) if flag.to_string() == value => " (default)",
        _ => "",
    };
    let listed = schema["enum"].as_array().into_iter().flatten().cloned();
    let kinds = schema["oneOf"].as_array().into_iter().flatten();
    let kinds = kinds.flat_map(|kind| match &kind["const"] {
        Value::Null => kind["enum"].as_array().cloned().unwrap_or_default(),
        constant => vec![constant.clone()],
    });
    let choices = listed.chain(kinds).map(|value| value.to_string());
    let mut choices = choices.map(|value| format!("`{value}`{}", default(&value)));
    let choices = choices.join(", ");
    let bound = |key: &str| schema[key].as_number().map(ToString::to_string);
    let range = match (bound("minimum"), bound("maximum")) {
        (Some(least), Some(most)) => format!(", {least} to {most}"),
        (Some(least), None) => format!(", {least} or more"),
        _ => String::new(),
    };
    match schema["type"].as_str().unwrap_or_default() {
        _ if !choices.is_empty() => choices,
        "boolean" => ["true", "false"]
            .map(|v| format!("`{v}`{}", default(v)))
            .join(", "),
        "array" => format!("list of: {}", values(&schema["items"])),
        "string" if schema["format"] == "date-time" => "time, UTC".to_owned(),
        "string" => match bound("maxLength") {
            Some(most) => format!("text, at most {most} characters"),
            None => "text".to_owned(),
        },
        number => match schema["default"]
            .as_number()
            .filter(|n| n.as_u64() != Some(0))
        {
            Some(default) => format!("{number}{range} (default {default})"),
            None => format!("{number}{range}"),
        },
    }
}

/// The rows that describe the keys of a table.
fn rows_of(table: &str) -> Vec<String> {
    let schema = &sheet::schema()["properties"][table];
    let inner = ["items", "additionalProperties"].map(|word| &schema[word]);
    let inner = inner.into_iter().find(|inner| inner.is_object());
    let keys = inner.unwrap_or(schema)["properties"].as_object().unwrap();
    let row = |(key, schema): (&String, &Value)| {
        let about = schema["description"].as_str().unwrap().replace('\n', " ");
        assert!(!about.contains('|'), "{table}.{key}");
        let about = about.trim_end_matches('.');
        format!("| `{key}` | {} | {about} |", values(schema))
    };
    keys.iter().map(row).collect()
}

/// The page of the sheet with the rows of its tables as the keys are defined.
#[test]
fn every_key_of_the_sheet_is_described_as_it_is_defined() {
    let path = Path::new(ROOT).join("src/guide/sheet.md");
    let page = fs::read_to_string(&path).unwrap();
    let mut wanted = Vec::new();
    let mut tables = BTreeSet::new();
    let mut lines = page.lines().peekable();
    while let Some(line) = lines.next() {
        wanted.push(line.to_owned());
        let Some(rest) = line.strip_prefix("| key of `[") else {
            continue;
        };
        let table = rest.split(']').next().unwrap().trim_start_matches('[');
        tables.insert(table.to_owned());
        wanted.extend(lines.next().map(str::to_owned));
        wanted.extend(rows_of(table));
        while lines.next_if(|line| line.starts_with('|')).is_some() {}
    }
    let wanted = wanted.join("\n") + "\n";
    if env::var_os("FIVEFIG_WRITE_GUIDE").is_some() {
        fs::write(&path, &wanted).unwrap();
        return;
    }
    assert_eq!(page, wanted, "FIVEFIG_WRITE_GUIDE=1 writes it anew");
    for table in sheet::schema()["properties"].as_object().unwrap().keys() {
        let given = ["section9", "section10"].contains(&table.as_str());
        assert!(given || tables.contains(table), "[{table}]");
        assert!(page.contains(&format!("[{table}]")), "[{table}]");
    }
}

/// A page with the rows below the heads of some tables, and the lines of some blocks, as they
/// are defined; writes them where `FIVEFIG_WRITE_GUIDE` is set.
fn generated(topic: &str, made: &[(&str, Vec<String>)]) {
    let path = Path::new(ROOT).join(format!("src/guide/{topic}.md"));
    let page = fs::read_to_string(&path).unwrap();
    let mut wanted: Vec<String> = Vec::new();
    let mut lines = page.lines().peekable();
    let mut found = 0;
    while let Some(line) = lines.next() {
        wanted.push(line.to_owned());
        let Some((_, rows)) = made.iter().find(|(head, _)| line == *head) else {
            continue;
        };
        found += 1;
        if line.starts_with('|') {
            wanted.extend(lines.next().map(str::to_owned));
            while lines.next_if(|line| line.starts_with('|')).is_some() {}
        } else {
            while lines.next_if(|line| *line != "```").is_some() {}
        }
        wanted.extend(rows.iter().cloned());
    }
    assert_eq!(found, made.len(), "{topic}");
    let wanted = wanted.join("\n") + "\n";
    if env::var_os("FIVEFIG_WRITE_GUIDE").is_some() {
        fs::write(&path, &wanted).unwrap();
        return;
    }
    assert_eq!(page, wanted, "FIVEFIG_WRITE_GUIDE=1 writes it anew");
}

/// The order of a day is that of the desk.
#[test]
fn the_order_of_a_day_is_one_table() {
    let row = |task: &guide::Task| {
        let (when, topic) = (task.when.name(), task.topic);
        format!(
            "| {when} | {} | `{}` | `fivefig guide {topic}` |",
            task.what, task.means
        )
    };
    let rows = guide::DAY.iter().map(row).collect();
    generated("start", &[("| when | what | where | page |", rows)]);
    for task in guide::DAY {
        assert!(
            PAGES.iter().any(|page| page.topic == task.topic),
            "{}",
            task.topic
        );
    }
}

/// The columns, practices and names of a table of practices, and the built-in rows.
#[test]
fn the_page_of_practice_is_as_the_table_is_checked() {
    let columns = PRACTICE_COLUMNS.iter().map(|column| {
        let blank = column.blank;
        format!(
            "| `{}` | {} | {} | {blank} |",
            column.name, column.what, column.allowed
        )
    });
    let practices = PRACTICE_RULES.iter().map(|rule| {
        let forms = rule
            .forms
            .iter()
            .map(|form| format!("{form:?}").to_lowercase());
        let mut needs = Vec::new();
        if !rule.parts.is_empty() {
            let letters: String = rule.parts.iter().map(|part| part.letter()).collect();
            needs.push(format!("`parts` of {letters}"));
        }
        let group = match rule.group {
            GroupRule::Five => Some("`group` of five figures"),
            GroupRule::Two => Some("`group` of two figures"),
            GroupRule::Surface => Some("`group` PP, or blank"),
            GroupRule::Template => Some("`group`, a template"),
            _ => None,
        };
        needs.extend(group.map(str::to_owned));
        if !rule.units.is_empty() {
            let units = rule.units.iter().map(|unit| unit.name()).join(", ");
            needs.push(format!("`unit` {units}"));
        }
        for (name, need) in [("from", rule.from), ("to", rule.to)] {
            match need {
                Need::Required => needs.push(format!("`{name}`")),
                Need::Optional => needs.push(format!("`{name}` or blank")),
                Need::No => (),
            }
        }
        needs.extend(rule.also.iter().map(|name| format!("`{name}` or blank")));
        let forms = forms.format(", ");
        let (name, needs) = (rule.name, needs.join("; "));
        format!(
            "| `{name}` | {forms} | {} | {needs} | {} |",
            rule.what, rule.source
        )
    });
    let values = TemplateValue::ALL.iter().map(|value| {
        let level = if value.is_of_level() { "yes" } else { "" };
        format!("| `{}` | {} | {level} |", value.name(), value.what())
    });
    let rows = fs::read_to_string(Path::new(ROOT).join("tables/practices.csv")).unwrap();
    let rows = rows.lines().filter(|line| !line.starts_with('#'));
    let (columns, practices) = (columns.collect(), practices.collect());
    generated(
        "practice",
        &[
            ("| column | what | allowed | blank stands for |", columns),
            (
                "| practice | forms | what it does | needs | source |",
                practices,
            ),
            ("| name | what | of a level |", values.collect()),
            ("```csv", rows.map(str::to_owned).collect()),
        ],
    );
}

#[test]
fn the_command_prints_the_pages() {
    let (code, list, _) = command(&["guide"]);
    assert_eq!(code, 0);
    for page in PAGES {
        assert!(page.text.starts_with("# "), "{}", page.topic);
        let line = format!("{:<13}{}", page.topic, page.title());
        assert!(list.lines().any(|listed| listed == line), "{line}");
        assert_eq!(
            command(&["guide", page.topic]),
            (0, page.text.to_owned(), String::new())
        );
    }
    let (code, printed, error) = command(&["guide", "strat"]);
    assert_eq!((code, printed.as_str()), (2, ""));
    assert!(error.contains("'start'"), "{error}");
}

#[test]
fn the_command_alone_shows_three_things_that_work() {
    let (code, printed, shown) = command(&[]);
    assert_eq!((code, printed.as_str()), (2, ""));
    let commands: Vec<&str> = shown
        .lines()
        .filter_map(|line| line.strip_prefix("  fivefig "))
        .collect();
    assert_eq!(commands.len(), 3, "{shown}");
    for line in commands {
        let args: Vec<&str> = line.split_whitespace().collect();
        let (code, printed, error) = command(&args);
        assert_eq!(code, 0, "{line}: {error}");
        assert!(!printed.is_empty(), "{line}");
    }
}

/// Limits of this project, so that the first page stays one to read at a sitting.
#[test]
fn the_first_pages_stay_short() {
    for (name, most) in [("README.md", 8 << 10), ("DEVELOPERS.md", 10 << 10)] {
        let size = fs::metadata(Path::new(ROOT).join(name)).unwrap().len();
        assert!(size <= most, "{name} has {size} bytes, at most {most}");
    }
}

#[test]
fn links_of_readme_lead_to_files_and_to_every_page() {
    let readme = fs::read_to_string(Path::new(ROOT).join("README.md")).unwrap();
    let links = readme
        .split("](")
        .skip(1)
        .filter_map(|rest| rest.split(')').next());
    let links: BTreeSet<&str> = links.collect();
    for link in &links {
        assert!(Path::new(ROOT).join(link).is_file(), "{link}");
    }
    for page in PAGES {
        let link = format!("src/guide/{}.md", page.topic);
        assert!(links.contains(link.as_str()), "{link}");
    }
}

#[test]
fn pages_named_in_the_guide_exist() {
    let topics: BTreeSet<&str> = PAGES.iter().map(|page| page.topic).collect();
    for (name, _, text) in pages() {
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for rest in flat.split("`fivefig guide ").skip(1) {
            let topic = rest.split('`').next().unwrap();
            assert!(
                topic == "TOPIC" || topics.contains(topic),
                "{name}: {topic}"
            );
        }
    }
}

/// The page of performance has the counts that `tests/bench/instructions` compares.
#[test]
fn the_counts_of_instructions_are_those_of_the_bench() {
    let read = |name: &str| fs::read_to_string(Path::new(ROOT).join(name)).unwrap();
    let page = read("src/guide/performance.md");
    let counts = read("tests/bench/instructions.csv");
    let rows = counts.lines().filter(|line| !line.starts_with('#')).skip(1);
    let mut compared = 0;
    for row in rows {
        let (_, count) = row.split_once(',').unwrap();
        let count: f64 = count.parse().unwrap();
        let cell = format!("| {:.1} |", count / 1e6);
        assert!(page.contains(&cell), "{row}: {cell} is not in the page");
        compared += 1;
    }
    assert!(compared > 5, "{compared}");
}
