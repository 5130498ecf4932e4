//! The rooms of `src/` and the arrows between them: a module uses what stands before it,
//! never what stands after it, and no two modules use each other.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use itertools::Itertools as _;

/// The rooms from the ground up: each uses only those before it.
const ROOMS: &[&str] = &[
    "model", "physics", "tables", "profile", "levels", "forms", "input", "verify", "view", "issue",
    "app", "python",
];

/// What holds the rooms together and belongs to none.
const FRONT: &[&str] = &["lib", "main", "guide", "prelude", "error", "ascent"];

/// Modules of tests, which may look at everything.
fn is_test(module: &[String]) -> bool {
    module.iter().any(|name| name == "tests")
}

/// Every source file with the path of its module, `forms::text::print` as a list.
pub fn modules() -> Vec<(Vec<String>, String)> {
    fn walk(folder: &Path, root: &Path, out: &mut Vec<(Vec<String>, String)>) {
        let mut entries: Vec<PathBuf> = (fs::read_dir(folder).expect("a folder of sources"))
            .map(|entry| entry.expect("an entry").path())
            .collect();
        entries.sort();
        for path in entries {
            if path.is_dir() {
                walk(&path, root, out);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let relative = path.strip_prefix(root).expect("below src");
                let mut module: Vec<String> = (relative.with_extension("").iter())
                    .map(|name| name.to_string_lossy().into_owned())
                    .collect();
                if module.last().is_some_and(|name| name == "mod") {
                    module.pop();
                }
                out.push((module, fs::read_to_string(&path).expect("a source file")));
            }
        }
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut out = Vec::new();
    walk(&root, &root, &mut out);
    out
}

/// A source without comments, texts and its inner module of tests.
fn bare(source: &str) -> String {
    let mut out: String = source
        .lines()
        .map(|line| line.split("//").next().unwrap_or_default())
        .join("\n");
    if let Some(at) = out.find("#[cfg(test)]\nmod tests {") {
        out.truncate(at);
    }
    out
}

/// The paths that a tree of a `use` item names: `a::{b, c::d}` is `a::b` and `a::c::d`.
fn flatten(tree: &str) -> Vec<Vec<String>> {
    let tree = tree.trim();
    let Some((before, inner)) = tree.split_once('{') else {
        let path = tree.split(" as ").next().unwrap_or_default();
        return vec![path.split("::").map(|s| s.trim().to_owned()).collect()];
    };
    let before: Vec<String> = (before.trim_end_matches("::").split("::"))
        .filter(|s| !s.is_empty())
        .map(|s| s.trim().to_owned())
        .collect();
    let inner = inner.trim_end().strip_suffix('}').unwrap_or(inner);
    let (mut depth, mut items, mut start) = (0_i32, Vec::new(), 0);
    for (at, c) in inner.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                items.push(&inner[start..at]);
                start = at + 1;
            }
            _ => {}
        }
    }
    items.push(&inner[start..]);
    items
        .into_iter()
        .filter(|item| !item.trim().is_empty())
        .flat_map(flatten)
        .map(|rest| before.iter().cloned().chain(rest).collect())
        .collect()
}

/// A path from the root of the crate, if it is one of ours.
fn absolute(path: &[String], module: &[String]) -> Option<Vec<String>> {
    let (first, rest) = path.split_first()?;
    match first.as_str() {
        "crate" => Some(rest.to_vec()),
        "self" => Some(module.iter().chain(rest).cloned().collect()),
        "super" => {
            let (_, outer) = module.split_last()?;
            let mut next = rest.to_vec();
            if next.first().is_some_and(|name| name == "super") {
                return absolute(&next, outer);
            }
            let mut whole = outer.to_vec();
            whole.append(&mut next);
            Some(whole)
        }
        _ => None,
    }
}

/// Every path of ours that a source names, in `use` items and in the code.
fn named(source: &str, module: &[String]) -> BTreeSet<Vec<String>> {
    let source = bare(source);
    let mut out = BTreeSet::new();
    let mut rest = source.as_str();
    while let Some(at) = rest.find("use ") {
        let starts = at == 0 || rest[..at].ends_with(['\n', ' ', ')']);
        rest = &rest[at + 4..];
        if let Some(end) = rest.find(';').filter(|_| starts) {
            let tree = &rest[..end];
            if ["crate::", "super::", "self::"]
                .iter()
                .any(|p| tree.starts_with(p))
            {
                out.extend(
                    flatten(tree)
                        .iter()
                        .filter_map(|path| absolute(path, module)),
                );
            }
        }
    }
    let word = |c: char| c.is_alphanumeric() || c == '_' || c == ':';
    for path in source.split(|c| !word(c)) {
        let ours = path.starts_with("crate::") || path.starts_with("super::");
        if ours && !path.ends_with("::") {
            let path: Vec<String> = (path.split("::").filter(|s| !s.is_empty()))
                .map(str::to_owned)
                .collect();
            out.extend(absolute(&path, module));
        }
    }
    out
}

/// Which module of `known` a path lies in.
fn home<'a>(path: &[String], known: &'a BTreeSet<Vec<String>>) -> Option<&'a Vec<String>> {
    (1..=path.len()).rev().find_map(|n| known.get(&path[..n]))
}

/// From each module to those it uses.
fn arrows() -> Vec<(Vec<String>, Vec<String>)> {
    let modules = modules();
    let known: BTreeSet<Vec<String>> = modules.iter().map(|(module, _)| module.clone()).collect();
    let mut out = Vec::new();
    for (module, source) in &modules {
        if is_test(module) || FRONT.contains(&module[0].as_str()) {
            continue;
        }
        for path in named(source, module) {
            if let Some(to) = home(&path, &known).filter(|to| *to != module && !is_test(to)) {
                out.push((module.clone(), to.clone()));
            }
        }
    }
    out
}

#[test]
fn every_file_is_in_a_room() {
    for (module, _) in modules() {
        let first = module[0].as_str();
        assert!(
            ROOMS.contains(&first) || FRONT.contains(&first),
            "src/{first} is no room"
        );
    }
}

#[test]
fn a_room_uses_only_those_before_it() {
    let place = |room: &str| ROOMS.iter().position(|r| *r == room);
    let wrong: BTreeSet<String> = (arrows().iter())
        .filter(|(from, to)| place(&from[0]) < place(&to[0]))
        .map(|(from, to)| format!("{} uses {}", from.join("::"), to.join("::")))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.iter().join("\n"));
}

/// In every folder: the entries in it, and which of them use which. An entry stands for
/// everything below it; what a module uses of the folder's own front page is not counted.
#[test]
fn no_two_modules_of_a_folder_use_each_other() {
    let mut folders: BTreeMap<Vec<String>, BTreeSet<(String, String)>> = BTreeMap::new();
    for (from, to) in arrows() {
        let shared = (from.iter().zip(&to)).take_while(|(a, b)| a == b).count();
        if let (Some(a), Some(b)) = (from.get(shared), to.get(shared)) {
            let entry = folders.entry(from[..shared].to_vec()).or_default();
            entry.insert((a.clone(), b.clone()));
        }
    }
    let mut circles = Vec::new();
    for (folder, arrows) in &folders {
        // What is used by nothing is taken away until nothing is left, or a circle is.
        let mut left: BTreeSet<&(String, String)> = arrows.iter().collect();
        loop {
            let before = left.len();
            let used: BTreeSet<&String> = left.iter().map(|(_, to)| to).collect();
            left.retain(|(from, _)| used.contains(from));
            let uses: BTreeSet<String> = left.iter().map(|(from, _)| from.clone()).collect();
            left.retain(|(_, to)| uses.contains(to));
            if left.len() == before {
                break;
            }
        }
        for (from, to) in left {
            circles.push(format!("{}: {from} uses {to}", folder.join("::")));
        }
    }
    assert!(circles.is_empty(), "circles:\n{}", circles.join("\n"));
}

#[test]
fn paths_are_read_from_trees() {
    let module = ["a".to_owned(), "b".to_owned(), "c".to_owned()];
    let source = "use crate::x::{y, z::{self, w}};\nuse super::d;\nfn f() { super::super::e::g() }";
    let paths: Vec<String> = named(source, &module)
        .iter()
        .map(|p| p.join("::"))
        .collect();
    assert_eq!(
        paths,
        ["a::b::d", "a::e::g", "x::y", "x::z::self", "x::z::w"]
    );
}
