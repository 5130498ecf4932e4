//! Files of bulletins: written with lengths and names by the convention, and read back.
#![cfg(unix)]

use std::fs;
use std::path::Path;

use crate::support::run;

/// The samples as the command finds them from a folder of its own.
fn place() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in ["winter_jet.csv", "winter_jet.toml"] {
        fs::copy(format!("samples/{name}"), folder.path().join(name)).unwrap();
    }
    folder
}

fn encode(folder: &Path, more: &[&str]) -> (i32, String, String) {
    let flight = [
        "encode",
        "winter_jet.csv",
        "--sheet",
        "winter_jet.toml",
        "-q",
    ];
    run(folder, &[&flight[..], more].concat(), "")
}

fn read(folder: &Path, args: &[&str]) -> String {
    let (code, out, errors) = run(folder, args, "");
    assert_eq!(code, 0, "{args:?}: {errors}");
    out
}

/// Text and BUFR in one file: every reader of messages finds both.
#[test]
fn a_file_of_text_and_bufr_is_read_back() {
    let place = place();
    let folder = place.path();
    let (code, _, errors) = encode(folder, &["--to", "gts", "-o", "file"]);
    assert_eq!(code, 0, "{errors}");
    let file = fs::read(folder.join("file")).unwrap();
    // Four parts and BUFR, each with its length; the lengths lead from one to the next
    // (WMO-No. 386 Att. II-15).
    let mut at = 0;
    let mut headings = Vec::new();
    while at < file.len() {
        let length = std::str::from_utf8(&file[at..at + 8]).unwrap();
        let length: usize = length.parse().unwrap();
        assert_eq!(&file[at + 8..at + 10], b"01");
        let message = &file[at + 10..at + 10 + length];
        assert!(message.starts_with(b"\r\r\n"));
        let line = message[3..].split(|&b| b == b'\r').next().unwrap();
        headings.push(String::from_utf8(line.to_vec()).unwrap());
        at += 10 + length;
    }
    let letters: Vec<&str> = headings.iter().map(|line| &line[..2]).collect();
    assert_eq!(letters, ["US", "UK", "UL", "UE", "IU"], "{headings:?}");

    encode(folder, &["--to", "text", "-o", "text"]);
    let text = fs::read_to_string(folder.join("text")).unwrap();
    let both = read(folder, &["decode", "file", "-q"]);
    // The text as it was, then that of BUFR.
    assert!(both.starts_with(&text), "{both}");
    let lines = read(folder, &["decode", "file", "-q", "--to", "jsonl"]);
    assert_eq!(lines.lines().count(), 2);
    read(folder, &["check", "file", "-q"]);
    let summary = read(folder, &["summary", "file", "--to", "csv"]);
    assert!(summary.contains("99011"), "{summary}");

    // A file that was cut: what is there is read, and the fault has its place.
    fs::write(folder.join("cut"), &file[..file.len() - 100]).unwrap();
    let (_, out, errors) = run(folder, &["decode", "cut"], "");
    assert!(out.starts_with(&text), "{out}");
    assert!(errors.contains("the file has"), "{errors}");
}

#[test]
fn files_are_named_by_the_convention_asked_for() {
    let place = place();
    let folder = place.path();
    let to = [
        "--to",
        "bulletin,bufr-bulletin",
        "-o",
        "flat",
        "--names",
        "gts",
    ];
    let (code, out, errors) = encode(folder, &to);
    assert_eq!(code, 0, "{errors}");
    let names: Vec<&str> = out.lines().collect();
    assert_eq!(names.len(), 5, "{out}");
    for name in &names {
        let file = Path::new(name).file_name().unwrap().to_str().unwrap();
        // pflag A, heading without blanks, oflag C, CCCC, yyyyMMddhhmmss (Att. II-15).
        let pieces: Vec<&str> = file.split('_').collect();
        assert_eq!(
            (pieces[0], pieces[2], pieces.len()),
            ("A", "C", 5),
            "{file}"
        );
        assert_eq!(&pieces[1][6..10], pieces[3], "{file}");
        let kind = if pieces[1].starts_with("IU") {
            ".bin"
        } else {
            ".txt"
        };
        assert!(file.ends_with(kind) && pieces[4].len() == 14 + 4, "{file}");
    }
    let again: Vec<String> = names
        .iter()
        .filter(|name| name.ends_with(".txt"))
        .map(|name| fs::read_to_string(folder.join(name)).unwrap())
        .collect();
    encode(folder, &["--to", "bulletin", "-o", "bulletin"]);
    let bulletin = fs::read_to_string(folder.join("bulletin")).unwrap();
    assert_eq!(again.len(), 4);
    // The folder gives them in another order.
    assert!(again.iter().all(|one| bulletin.contains(one.as_str())));

    for number in 0..3 {
        let to = ["--to", "gts", "-o", "flat", "--names", "sequence"];
        let (code, out, errors) = encode(folder, &to);
        assert_eq!(code, 0, "{errors}");
        assert!(out.ends_with(&format!("{number:08}.b\n")), "{out}");
    }
    let to = ["--to", "text,bufr", "-o", "flat", "--names", "issue"];
    let (code, out, errors) = encode(folder, &to);
    assert_eq!(code, 0, "{errors}");
    let issue = "flat/0-20000-0-99011_203101151200_temp";
    assert_eq!(out, format!("{issue}.text.txt\n{issue}.sounding.bufr\n"));

    let (code, _, errors) = encode(
        folder,
        &["--to", "text", "-o", "flat", "--names", "sequence"],
    );
    assert_eq!(code, 2);
    assert!(errors.contains("--to text: "), "{errors}");
    // Nothing unfinished is left.
    let left = fs::read_dir(folder.join("flat")).unwrap();
    let mut left = left.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    assert!(left.all(|name| !name.ends_with(".tmp")));
}

#[test]
fn a_nil_is_named_by_the_convention_asked_for() {
    let place = place();
    let folder = place.path();
    let nil = |more: &[&str]| {
        let args = ["nil", "--sheet", "winter_jet.toml", "-q", "-o", "flat"];
        run(folder, &[&args[..], more].concat(), "")
    };
    let (code, out, errors) = nil(&["--to", "bulletin,bufr-bulletin", "--names", "gts"]);
    assert_eq!(code, 0, "{errors}");
    let names: Vec<&str> = out.lines().collect();
    let kinds = names.iter().filter(|name| name.ends_with(".bin")).count();
    assert!(names.len() > 1 && kinds == 1, "{out}");
    assert!(
        names.iter().all(|name| name.starts_with("flat/A_")),
        "{out}"
    );
    let (code, out, errors) = nil(&["--to", "gts", "--names", "sequence"]);
    assert_eq!(
        (code, out.as_str()),
        (0, "flat/XXXX00000000.b\n"),
        "{errors}"
    );
    let read = read(folder, &["decode", "flat/XXXX00000000.b", "-q"]);
    assert!(read.contains("NIL="), "{read}");
    let (code, out, errors) = nil(&["--to", "text", "--names", "issue"]);
    let name = "flat/0-20000-0-99011_203101151200_temp-nil.text.txt\n";
    assert_eq!((code, out.as_str()), (0, name), "{errors}");
    let (code, _, errors) = nil(&["--to", "text", "--names", "gts"]);
    assert_eq!(code, 2);
    assert!(errors.contains("--to text: "), "{errors}");
}

/// A flight has five messages (Parts A to D and BUFR): twenty flights are as many as are
/// allowed in one file (100, WMO-No. 386 Att. II-15, from memory), one more is too many.
#[test]
fn the_messages_of_a_file_are_counted_over_all_its_flights() {
    let place = place();
    let folder = place.path();
    let encode = |flights: usize| {
        let mut args = vec!["encode"];
        args.extend(vec!["winter_jet.csv"; flights]);
        args.extend(["--sheet", "winter_jet.toml", "--to", "gts", "-o", "file"]);
        run(folder, &args, "")
    };
    let (code, _, errors) = encode(20);
    assert_eq!(code, 0, "{errors}");
    assert!(!errors.contains("messages"), "{errors}");
    let (code, _, errors) = encode(21);
    assert_eq!(code, 0, "{errors}");
    let wanted = "the file has 105 messages, at most 100 are allowed in one";
    assert_eq!(errors.matches(wanted).count(), 1, "{errors}");
}
