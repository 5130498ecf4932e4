//! Sheets, profiles and messages from strangers: they name no file outside the folder
//! that the operator named, and none of them fills the memory.
#![cfg(unix)]

use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::os::unix::fs::symlink;
use std::path::Path;

use crate::support::{self, fivefig};

/// Exit code and standard error.
fn run(folder: &Path, args: &[&str]) -> (i32, String) {
    let (code, _, errors) = support::bytes(folder, args, "");
    (code, errors)
}

/// Every path below a folder, with what a file holds; links are not followed.
fn tree(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(one) = open.pop() {
        for entry in fs::read_dir(one).unwrap() {
            let entry = entry.unwrap();
            let path = entry.path();
            let kind = entry.file_type().unwrap();
            let name = path.strip_prefix(folder).unwrap().display().to_string();
            let octets = match kind.is_file() {
                true => fs::read(&path).unwrap(),
                false => Vec::new(),
            };
            all.insert(name, octets);
            if kind.is_dir() {
                open.push(path);
            }
        }
    }
    all
}

/// The invented winter flight in every fortieth row, and its sheet.
fn given() -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().unwrap();
    let rows = fs::read_to_string("samples/winter_jet.csv").unwrap();
    let mut count = 0;
    let rows: String = rows
        .lines()
        .filter(|line| {
            count += 1;
            line.starts_with('#') || line.starts_with("time_s") || count % 40 == 0
        })
        .flat_map(|line| [line, "\n"])
        .collect();
    fs::write(folder.path().join("p.csv"), rows).unwrap();
    let sheet = fs::read_to_string("samples/winter_jet.toml").unwrap();
    (folder, sheet)
}

/// What a stranger may want an identifier to be, as TOML strings.
const NAMES: [&str; 12] = [
    "../../outside",
    "/tmp/outside",
    "..",
    ".",
    ".hidden",
    "a/b",
    "a\\\\b",
    "a\\u0000b",
    "a\\nb",
    "\\u202Etxt",
    "-o",
    "0-20000-0-../../x",
];

/// Sheets in which each identifier is each of these names.
fn sheets(sheet: &str) -> Vec<String> {
    let mut all = Vec::new();
    let long = "x".repeat(100_000);
    for name in NAMES.iter().copied().chain([long.as_str()]) {
        let ship = sheet
            .replace("kind = \"land\"", "kind = \"ship\"")
            .replace("wmo_block = 99\n", "")
            .replace("wmo_number = 11\n", "")
            .replace(
                "wigos_id = \"0-20000-0-99011\"",
                &format!("call_sign = \"{name}\""),
            );
        let drop = ship
            .replace("kind = \"ship\"", "kind = \"drop\"")
            .replace(&format!("call_sign = \"{name}\"\n"), "")
            .replace("serial = \"INV0029\"", &format!("serial = \"{name}\""));
        all.push(sheet.replace("0-20000-0-99011", name));
        all.push(ship);
        all.push(drop);
        all.push(format!(
            "{sheet}\n[wis2]\ncentre_id = \"{name}\"\nbase_url = \"https://data.example.org/\"\n"
        ));
        all.push(sheet.replace("Hollow Down (invented)", name));
    }
    all
}

#[test]
fn a_sheet_names_nothing_outside_the_folder_of_issues() {
    let (folder, sheet) = given();
    let at = folder.path().join("work");
    fs::create_dir(&at).unwrap();
    fs::rename(folder.path().join("p.csv"), at.join("p.csv")).unwrap();
    fs::write(folder.path().join("precious"), "as it was").unwrap();
    let (mut issued, mut refused) = (0, 0);
    for text in sheets(&sheet) {
        fs::write(at.join("s.toml"), &text).unwrap();
        let before = tree(folder.path());
        for args in [
            &[
                "encode",
                "p.csv",
                "--sheet",
                "s.toml",
                "--to",
                "text,json,bufr",
                "-o",
                "out",
                "-q",
            ][..],
            &[
                "encode",
                "p.csv",
                "--sheet",
                "s.toml",
                "--to",
                "wis2",
                "--pubtime",
                "2031-01-15T13:05:00Z",
                "-o",
                "out",
                "-q",
            ],
            &[
                "encode",
                "p.csv",
                "p.csv",
                "--sheet",
                "s.toml",
                "--to",
                "text,bulletin",
                "-o",
                "out",
                "-q",
            ],
        ] {
            let (code, stderr) = run(&at, args);
            assert!(code == 0 || code == 1 || code == 2, "{code}: {stderr}");
            assert!(!stderr.contains("panicked"), "{stderr}");
            match code {
                0 => issued += 1,
                _ => refused += 1,
            }
        }
        // Whatever was written stands in the folder, one or two steps down.
        let mut after = tree(folder.path());
        after.retain(|path, _| path != "work/out" && !path.starts_with("work/out/"));
        assert!(after == before, "{text}");
        if let Ok(entries) = fs::read_dir(at.join("out")) {
            for entry in entries {
                let name = entry.unwrap().file_name().into_string().unwrap();
                assert!(
                    name.starts_with(|c: char| c.is_ascii_alphanumeric()),
                    "{name}"
                );
                assert!(name.len() < 120, "{name}");
            }
            fs::remove_dir_all(at.join("out")).unwrap();
        }
    }
    assert!(
        issued >= 10 && refused > 100,
        "{issued} issued, {refused} refused"
    );
}

/// The same from the file itself: lines of flights, and BUFR.
#[test]
fn a_file_that_brings_its_sheet_names_nothing_either() {
    let (folder, sheet) = given();
    let at = folder.path();
    fs::write(at.join("s.toml"), &sheet).unwrap();
    let out = fivefig(
        at,
        &["profile", "p.csv", "--sheet", "s.toml", "--to", "jsonl"],
    )
    .output()
    .unwrap();
    let line = String::from_utf8(out.stdout).unwrap();
    let mut lines = String::new();
    for name in NAMES {
        lines.push_str(
            &line
                .replace("0-20000-0-99011", name)
                .replace("\"p\"", &format!("\"{name}\"")),
        );
    }
    fs::write(at.join("f.jsonl"), lines).unwrap();
    let before = tree(at);
    let (code, stderr) = run(
        at,
        &[
            "encode",
            "f.jsonl",
            "--to",
            "text,json",
            "-o",
            "out",
            "--threads",
            "2",
        ],
    );
    assert_eq!(code, 1, "{stderr}");
    assert!(!stderr.contains("panicked"), "{stderr}");
    let mut after = tree(at);
    after.retain(|path, _| path != "out" && !path.starts_with("out/"));
    assert!(after == before);

    // A ship's call sign in BUFR has any eight characters.
    let ship = sheet
        .replace("kind = \"land\"", "kind = \"ship\"")
        .replace("wmo_block = 99\n", "")
        .replace("wmo_number = 11\n", "")
        .replace("wigos_id = \"0-20000-0-99011\"", "call_sign = \"ABCDEFG\"");
    fs::write(
        at.join("ship.toml"),
        ship + "\n[bufr]\ntemplate = \"309052\"\n",
    )
    .unwrap();
    let (code, stderr) = run(
        at,
        &[
            "encode",
            "p.csv",
            "--sheet",
            "ship.toml",
            "--to",
            "bufr",
            "-o",
            "ship.bufr",
            "-q",
        ],
    );
    assert_eq!(code, 0, "{stderr}");
    let octets = fs::read(at.join("ship.bufr")).unwrap();
    // The characters may begin anywhere in the bits: each shift is tried.
    let mut tried = 0;
    for name in ["../../x", "/tmp/xx", ".hidden"] {
        if let Some(hostile) = replaced(&octets, b"ABCDEFG", name.as_bytes()) {
            fs::write(at.join("hostile.bufr"), hostile).unwrap();
            let before = tree(at);
            let (code, stderr) = run(
                at,
                &[
                    "encode",
                    "hostile.bufr",
                    "--to",
                    "text,bufr",
                    "-o",
                    "out2",
                    "-q",
                ],
            );
            assert_eq!(code, 1, "{name}: {stderr}");
            let mut after = tree(at);
            after.remove("out2");
            assert!(after == before, "{name}");
            fs::remove_dir(at.join("out2")).unwrap();
            tried += 1;
        }
    }
    assert_eq!(tried, 3);
}

/// Octets with seven characters replaced by others, at whatever bit they begin.
fn replaced(octets: &[u8], from: &[u8; 7], to: &[u8]) -> Option<Vec<u8>> {
    let bits = |octets: &[u8]| -> Vec<bool> {
        octets
            .iter()
            .flat_map(|octet| (0..8).rev().map(move |k| octet >> k & 1 == 1))
            .collect()
    };
    let (mut all, from, to) = (bits(octets), bits(from), bits(to));
    let start = all.windows(from.len()).position(|window| window == from)?;
    all.splice(start..start + from.len(), to);
    let octet = |eight: &[bool]| {
        eight
            .iter()
            .fold(0_u8, |sum, &bit| sum << 1 | u8::from(bit))
    };
    Some(all.chunks(8).map(octet).collect())
}

#[test]
fn a_link_in_the_place_of_an_issue_is_not_followed() {
    let (folder, sheet) = given();
    let at = folder.path();
    fs::write(at.join("s.toml"), sheet).unwrap();
    fs::create_dir_all(at.join("elsewhere")).unwrap();
    fs::create_dir(at.join("out")).unwrap();
    symlink(
        "../elsewhere",
        at.join("out/0-20000-0-99011_203101151200_temp"),
    )
    .unwrap();
    let (code, stderr) = run(
        at,
        &[
            "encode",
            "p.csv",
            "--sheet",
            "s.toml",
            "--to",
            "text,json",
            "-o",
            "out",
        ],
    );
    assert_eq!(code, 1);
    assert!(stderr.contains("already issued"), "{stderr}");
    assert_eq!(fs::read_dir(at.join("elsewhere")).unwrap().count(), 0);
    // The product of a path that the operator names: what a link leads to is replaced,
    // the link stays.
    fs::write(at.join("target"), "as it was").unwrap();
    symlink("target", at.join("message.txt")).unwrap();
    let (code, _) = run(
        at,
        &[
            "encode",
            "p.csv",
            "--sheet",
            "s.toml",
            "-o",
            "message.txt",
            "-q",
        ],
    );
    assert_eq!(code, 0);
    let text = fs::read_to_string(at.join("target")).unwrap();
    assert!(text.starts_with("TTAA 15111 99011"), "{text}");
    let link = fs::symlink_metadata(at.join("message.txt")).unwrap();
    assert!(link.is_symlink());
}

/// What has no end is not read to its end.
#[test]
fn input_without_end_is_refused() {
    let (folder, sheet) = given();
    let at = folder.path();
    fs::write(at.join("s.toml"), sheet).unwrap();
    fs::write(at.join("m.txt"), "TTAA 15110 99011 NIL=\n").unwrap();
    for (args, what) in [
        (
            &["encode", "p.csv", "--sheet", "/dev/zero"][..],
            "/dev/zero: the file has more than 1048576 bytes",
        ),
        (
            &[
                "check",
                "p.csv",
                "--sheet",
                "s.toml",
                "--station-list",
                "/dev/zero",
            ],
            "/dev/zero: the file has more than 67108864 bytes",
        ),
        (
            &["compare", "m.txt", "m.txt", "--tolerance", "/dev/zero"],
            "/dev/zero: the file has more than 1048576 bytes",
        ),
    ] {
        let (code, stderr) = run(at, args);
        assert_eq!(code, 1, "{stderr}");
        assert!(stderr.contains(what), "{stderr}");
    }
    // Lines without end on standard input, of which no more is kept than a flight may have.
    let args = ["encode", "-", "--to", "jsonl", "--from", "jsonl", "-q"];
    let mut child = fivefig(at, &args).spawn().unwrap();
    let mut to = child.stdin.take().unwrap();
    let writer = std::thread::spawn(move || {
        let part = vec![b'x'; 1 << 20];
        for _ in 0..300 {
            to.write_all(&part).unwrap();
        }
        to.write_all(b"\n").unwrap();
        to
    });
    let to = writer.join().unwrap();
    let status = fs::read_to_string(format!("/proc/{}/status", child.id()));
    drop(to);
    let out = child.wait_with_output().unwrap();
    assert_eq!(out.status.code(), Some(1));
    let line: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    assert!(
        line["error"]
            .as_str()
            .unwrap()
            .contains("at most 33554432 are read"),
        "{line}"
    );
    if let Ok(status) = status {
        let most = status
            .lines()
            .find(|line| line.starts_with("VmHWM:"))
            .unwrap();
        let most: u64 = most.split_whitespace().nth(1).unwrap().parse().unwrap();
        assert!(most < 400 << 10, "{most} kB for a line of 300 MB");
    }
}
