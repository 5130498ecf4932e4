//! Handing over as the command does it: with the spool, without it, and killed again and
//! again.
#![cfg(all(unix, feature = "spool"))]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

use crate::support::{fivefig, run};

const ISSUE: &str = "0-20000-0-99011_202101151200_temp";

/// A station with a flight in its watched folder and a folder as its target.
fn place(more: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::create_dir(at("in")).unwrap();
    fs::create_dir(at("hub")).unwrap();
    fs::copy("samples/winter_jet.csv", at("in/a.csv")).unwrap();
    let sheet = fs::read_to_string("samples/winter_jet.toml").unwrap();
    let sheet = sheet.replace("2031-", "2021-");
    let own =
        "[schedule]\nmax_age_h = 1000000\n[handover.hub]\nkind = \"folder\"\nfolder = \"hub\"\n";
    fs::write(at("s.toml"), format!("{sheet}\n{own}{more}\n")).unwrap();
    folder
}

const SPOOL: [&str; 10] = [
    "spool", "--in", "in", "--out", "out", "--sheet", "s.toml", "--once", "--settle", "0",
];

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    let mut names: Vec<String> = names.collect();
    names.sort();
    names
}

#[test]
fn the_spool_hands_over_what_it_issues() {
    let place = place("");
    let folder = place.path();
    // The outputs of the target are issued although they are not asked for.
    let (code, out, errors) = run(folder, &[&SPOOL[..], &["--to", "text"]].concat(), "");
    assert_eq!((code, out), (0, format!("out/{ISSUE}\n")), "{errors}");
    let wanted = format!("hub: {ISSUE} handed over, 5 files, 0 min after its issue");
    assert!(errors.contains(&wanted), "{errors}");
    let there = names(&folder.join("hub"));
    assert_eq!(there.len(), 5, "{there:?}");
    let text: Vec<u8> = fs::read(folder.join("out").join(ISSUE).join("bulletin.txt")).unwrap();
    let sent = there.iter().filter(|name| name.ends_with(".txt"));
    let sent = sent.map(|name| fs::read(folder.join("hub").join(name)).unwrap());
    let sent: Vec<Vec<u8>> = sent.collect();
    assert_eq!(sent.iter().map(Vec::len).sum::<usize>(), text.len());
    // What was handed over is read again.
    let binary = there.iter().find(|name| name.ends_with(".bin")).unwrap();
    let (code, out, errors) = run(folder, &["decode", &format!("hub/{binary}"), "-q"], "");
    assert_eq!(code, 0, "{errors}");
    assert!(out.contains("99011"), "{out}");

    let (code, out, _) = run(folder, &["spool", "--status", "--out", "out"], "");
    assert_eq!(code, 3);
    assert!(
        out.contains(&format!("handover      {ISSUE}: hub: handed over at ")),
        "{out}"
    );
    let summary = ["spool", "--summary", "2021-01", "--out", "out"];
    let (_, out, _) = run(folder, &summary, "");
    assert!(
        out.contains("handed over to hub                1 of 1, 1 in time"),
        "{out}"
    );
    let json = [&summary[..], &["--notes", "json"]].concat();
    let (_, out, _) = run(folder, &json, "");
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(json["handover"]["hub"]["accepted"], 1);
    // Again: nothing goes twice.
    let (code, ..) = run(folder, &SPOOL, "");
    assert_eq!((code, names(&folder.join("hub"))), (0, there));
}

#[test]
fn a_target_that_refuses_leaves_the_issue_in_the_queue() {
    let place = place("");
    let folder = place.path();
    fs::remove_dir(folder.join("hub")).unwrap();
    let (code, out, errors) = run(folder, &SPOOL, "");
    assert_eq!((code, out), (1, format!("out/{ISSUE}\n")), "{errors}");
    assert!(errors.contains("not handed over: "), "{errors}");
    assert!(errors.contains("tried again in 10 s"), "{errors}");
    let status = ["handover", "--status", "--out", "out"];
    let (code, out, _) = run(folder, &status, "");
    assert_eq!(code, 1);
    assert!(
        out.contains("hub: not handed over after 1 attempt: "),
        "{out}"
    );
    // Without the spool, at once.
    fs::create_dir(folder.join("hub")).unwrap();
    let once = ["handover", "--out", "out", "--sheet", "s.toml", "--once"];
    let (code, _, errors) = run(folder, &once, "");
    assert_eq!(code, 0, "{errors}");
    assert_eq!(names(&folder.join("hub")).len(), 5);
    let (code, ..) = run(folder, &status, "");
    assert_eq!(code, 0);
}

#[test]
fn what_cannot_begin_is_reported() {
    let place = place("");
    let folder = place.path();
    let sheet = |text: &str| fs::write(folder.join("t.toml"), text).unwrap();
    let mut cases = vec![
        ("", 2, "the sheet names no target"),
        (
            "[handover.hub]\nkind = \"sftp\"\nhost = \"h\"\nuser = \"u\"\nkey_file = \"none.key\"\nknown_hosts_file = \"none\"\n",
            1,
            "handover.hub: none.key: ",
        ),
        (
            "[handover.hub]\nkind = \"folder\"\n",
            1,
            "handover.hub.folder",
        ),
    ];
    if cfg!(not(feature = "https")) {
        cases.push((
            "[handover.hub]\nkind = \"https\"\nurl = \"https://h.example.org/\"\n",
            1,
            "use a build with the feature `https`",
        ));
    }
    if cfg!(not(feature = "smtp")) {
        cases.push((
            "[handover.hub]\nkind = \"smtp\"\nhost = \"h\"\nfrom = \"a@example.org\"\nto = [\"b@example.org\"]\n",
            1,
            "use a build with the feature `smtp`",
        ));
    }
    if cfg!(not(feature = "mqtt")) {
        cases.push((
            "[wis2]\ncentre_id = \"xx-invented\"\nbase_url = \"https://h.example.org/\"\n[handover.web]\nkind = \"folder\"\nfolder = \"hub\"\nsend = [\"bufr\"]\nnames = \"issue\"\n[handover.broker]\nkind = \"mqtt\"\nhost = \"h\"\nafter = \"web\"\n",
            1,
            "use a build with the feature `mqtt`",
        ));
    }
    let args = ["handover", "--out", "out", "--sheet", "s.toml", "--once"];
    let (code, _, errors) = run(folder, &args, "");
    assert_eq!(code, 3);
    assert!(errors.contains("out: No such file"), "{errors}");
    fs::create_dir(folder.join("out")).unwrap();
    for (text, code, what) in cases {
        sheet(text);
        let args = ["handover", "--out", "out", "--sheet", "t.toml", "--once"];
        let (found, _, errors) = run(folder, &args, "");
        assert_eq!(found, code, "{text}: {errors}");
        assert!(errors.contains(what), "{text}: {errors}");
    }
}

/// A sheet is checked with its targets.
#[test]
fn a_target_that_lacks_a_key_is_found_before_anything_is_issued() {
    let place = place("[handover.web]\nkind = \"https\"");
    let check = ["check", "--sheet", "s.toml"];
    let (code, out, errors) = run(place.path(), &check, "");
    assert_eq!(code, 1, "{out}{errors}");
    assert!(out.contains("missing key `handover.web.url`"), "{out}");
}

/// Killed at random moments: every issue reaches the target once, whole, under one name.
#[test]
fn every_issue_is_handed_over_once_however_often_the_process_is_killed() {
    let kills: u64 = std::env::var("FIVEFIG_KILLS").map_or(20, |n| n.parse().unwrap());
    let place = place("");
    let folder = place.path();
    fs::create_dir(folder.join("out")).unwrap();
    let mut wanted = BTreeMap::new();
    let mut issued = 0_u64;
    let mut issue = || {
        issued += 1;
        let (day, hour) = (issued / 24 % 28 + 1, issued % 24);
        let name = format!(
            "0-20000-0-99011_2021{:02}{day:02}{hour:02}00_temp",
            issued / 672 + 1
        );
        let heading = format!("USXX{:02} ABCD {day:02}{hour:02}00", issued % 99 + 1);
        let text = format!("{heading}\r\r\nTTAA 65121 99011 NIL=\r\r\n");
        // As an issue comes: made beside its place, then renamed.
        let part = folder.join(format!(".{name}"));
        fs::create_dir(&part).unwrap();
        fs::write(part.join("bulletin.txt"), &text).unwrap();
        fs::rename(&part, folder.join("out").join(&name)).unwrap();
        wanted.insert(heading.replace(' ', ""), text);
    };
    let args = [
        "handover", "--out", "out", "--sheet", "s.toml", "--once", "-q",
    ];
    // Steps of a linear congruential generator (Knuth's MMIX): the moments of the kills.
    let mut dice = 20_310_115_u64;
    for _ in 0..kills {
        (0..3).for_each(|_| issue());
        let mut command = fivefig(folder, &args);
        let mut child = command
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        dice = dice
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        std::thread::sleep(Duration::from_micros(3000 + (dice >> 33) % 60_000));
        child.kill().unwrap();
        child.wait().unwrap();
    }
    let (code, _, errors) = run(folder, &args, "");
    assert_eq!(code, 0, "{errors}");
    let there = names(&folder.join("hub"));
    assert_eq!(there.len(), wanted.len(), "{there:?}");
    for name in &there {
        let heading = name.split('_').nth(1).unwrap();
        let octets = fs::read_to_string(folder.join("hub").join(name)).unwrap();
        assert_eq!(octets, wanted[heading], "{name}");
    }
    let journal = fs::read_to_string(folder.join("out/handover/journal.jsonl")).unwrap();
    let accepted = journal.matches("\"step\":\"accepted\"").count();
    assert_eq!(accepted, wanted.len());
}
