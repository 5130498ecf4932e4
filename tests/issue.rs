//! `encode --to text,bulletin,json,bufr,html -o DIR`: an issue in a folder of its own.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test stops at the first fault"
)]

use std::fs;
use std::path::Path;

use assert_cmd::Command;

/// The forms that are sent, and their files.
const FILES: [(&str, &str); 4] = [
    ("text", "text.txt"),
    ("bulletin", "bulletin.txt"),
    ("json", "report.json"),
    ("bufr", "sounding.bufr"),
];

const FOLDER: &str = "out/0-20000-0-99011_203101151200_temp";

/// Runs the command in a folder: exit code, standard output, standard error.
fn run(folder: &Path, args: &[&str]) -> (i32, Vec<u8>, String) {
    let out = Command::cargo_bin("fivefig")
        .unwrap()
        .current_dir(folder)
        .args(args)
        .output()
        .unwrap();
    let said = String::from_utf8(out.stderr).unwrap();
    (out.status.code().unwrap(), out.stdout, said)
}

/// A folder with an invented profile and its sheet.
fn given() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for ending in ["csv", "toml"] {
        let sample = format!("samples/winter_jet.{ending}");
        fs::copy(sample, folder.path().join(format!("p.{ending}"))).unwrap();
    }
    folder
}

fn encode(folder: &Path, more: &[&str]) -> (i32, Vec<u8>, String) {
    let args = [&["encode", "p.csv", "--sheet", "p.toml"], more].concat();
    run(folder, &args)
}

#[test]
fn an_issue_has_what_each_form_has_alone() {
    let folder = given();
    let folder = folder.path();
    let several = ["--to", "bufr,html,text,json,bulletin", "-o", "out"];
    let (code, said, notes) = encode(folder, &several);
    assert_eq!(code, 0, "{notes}");
    assert_eq!(String::from_utf8(said).unwrap(), format!("{FOLDER}\n"));
    for (form, file) in FILES.into_iter().chain([("html", "review.html")]) {
        let (_, alone, _) = encode(folder, &["--to", form, "-q"]);
        assert_eq!(
            fs::read(folder.join(FOLDER).join(file)).unwrap(),
            alone,
            "{form}"
        );
    }
    let (code, said, notes) = encode(folder, &several);
    assert_eq!((code, said.len()), (1, 0));
    assert!(
        notes.contains(&format!("fivefig: error: {FOLDER}: issued already")),
        "{notes}"
    );
}

#[test]
fn a_correction_has_a_folder_of_its_own() {
    let folder = given();
    let folder = folder.path();
    let to = ["--to", "text,bulletin,json,bufr,html", "-q", "-o", "out"];
    assert_eq!(encode(folder, &to).0, 0);
    let order = "[[level]]\naction = \"drop\"\npressure_hpa = 876.43\nreason = \"invented\"\n";
    fs::write(folder.join("order.toml"), order).unwrap();
    let order = ["--sheet", "order.toml"];
    let correct = ["--correct", "CCA", "--was", FOLDER];
    let (code, said, notes) = encode(folder, &[&to[..], &order, &correct].concat());
    assert_eq!(code, 0, "{notes}");
    let path = format!("{FOLDER}_CCA");
    assert_eq!(String::from_utf8(said).unwrap(), format!("{path}\n"));
    assert!(
        notes.contains("fivefig: corrected: the level at 876.43 hPa"),
        "{notes}"
    );
    for (form, file) in FILES {
        let was = if form == "bufr" {
            "sounding.bufr"
        } else {
            "text.txt"
        };
        let was = format!("{FOLDER}/{was}");
        let alone = ["--to", form, "-q", "--correct", "CCA", "--was", &was];
        let (code, alone, notes) = encode(folder, &[&alone[..], &order].concat());
        assert_eq!(code, 0, "{notes}");
        assert_eq!(
            fs::read(folder.join(&path).join(file)).unwrap(),
            alone,
            "{form}"
        );
    }
    let text = fs::read_to_string(folder.join(&path).join("text.txt")).unwrap();
    assert!(
        text.contains("TTBB") && !text.contains("TTCC"),
        "unchanged parts went out: {text}"
    );
    // The review sheet shows the whole flight, and what changed since the issue.
    let review = fs::read_to_string(folder.join(&path).join("review.html")).unwrap();
    let name = FOLDER.strip_prefix("out/").unwrap();
    for text in [name, "876.43 hPa", ">TTCC</a>"] {
        assert!(review.contains(text), "{text}");
    }
    // Once more under the same letter; nothing changed under the next.
    let (code, _, notes) = encode(folder, &[&to[..], &order, &correct].concat());
    assert!(
        code == 1 && notes.contains("the next correction is CCB, not CCA"),
        "{notes}"
    );
    let next = ["--correct", "CCB", "--was", FOLDER];
    let (code, _, notes) = encode(folder, &[&to[..], &order, &next].concat());
    assert!(
        code == 1 && notes.contains("nothing has changed since the earlier message"),
        "{notes}"
    );
    let (code, _, notes) = encode(folder, &[&to[..], &next].concat());
    assert_eq!(code, 0, "back to the first: {notes}");
}

#[test]
fn what_cannot_be_issued_leaves_nothing() {
    let folder = given();
    let folder = folder.path();
    let (code, _, notes) = encode(folder, &["--to", "text,json"]);
    assert!(code == 2 && notes.contains("name a folder"), "{notes}");
    let (code, _, notes) = encode(folder, &["--to", "text,jsonl", "-o", "out"]);
    assert!(
        code == 2 && notes.contains("write the others alone"),
        "{notes}"
    );
    // An earlier message without a correction, and a review sheet of nothing.
    let was = ["--to", "text,html", "-o", "out", "--was", "p.csv"];
    let (code, _, notes) = encode(folder, &was);
    assert!(
        code == 2 && notes.contains("--was needs --correct"),
        "{notes}"
    );
    let (code, _, notes) = encode(folder, &["--to", "html,html", "-o", "out"]);
    assert!(
        code == 1 && notes.contains("html goes along with one"),
        "{notes}"
    );
    // The bulletin cannot be made: no file of the issue is there.
    let sheet = fs::read_to_string(folder.join("p.toml")).unwrap();
    let cut = sheet.split("[bulletin]").next().unwrap();
    fs::write(folder.join("no.toml"), cut).unwrap();
    let args = ["encode", "p.csv", "--sheet", "no.toml", "-q"];
    let to = ["--to", "text,bulletin", "-o", "out"];
    let (code, _, notes) = run(folder, &[&args[..], &to].concat());
    assert!(code == 1 && notes.contains("bulletin.area"), "{notes}");
    assert_eq!(fs::read_dir(folder.join("out")).unwrap().count(), 0);
    // A file stands where the folder should be.
    let (code, _, notes) = encode(folder, &["--to", "text,json", "-q", "-o", "p.csv"]);
    assert!(code == 3 && notes.contains("p.csv: "), "{notes}");
    let (code, _, notes) = encode(folder, &["--to", "text,json", "-o", "p.csv/x"]);
    assert!(code == 3 && notes.contains("p.csv/x: "), "{notes}");
    // An identifier with a separator in it is no name of a folder.
    fs::copy("samples/drop.csv", folder.join("drop.csv")).unwrap();
    let drop = "[station]\nkind = \"drop\"\nlatitude_deg = 25.62\nlongitude_deg = -57.53\n[flight]\nserial = \"../../x\"\nrelease = \"2031-09-12T17:54:00Z\"\n";
    fs::write(folder.join("drop.toml"), drop).unwrap();
    let args = ["encode", "drop.csv", "--sheet", "drop.toml", "-q"];
    let to = ["--to", "text,json", "-o", "out"];
    let (code, _, notes) = run(folder, &[&args[..], &to].concat());
    assert!(
        code == 1 && notes.contains("the identifier \"drop-../../x\" cannot be part"),
        "{notes}"
    );
    assert_eq!(fs::read_dir(folder.join("out")).unwrap().count(), 0);
}

/// An early message and the whole sounding are two issues; so is a NIL.
#[test]
fn an_early_message_is_an_issue_of_its_own() {
    let folder = given();
    let folder = folder.path();
    let to = ["--to", "text,bufr", "-q", "-o", "out"];
    let (code, said, _) = encode(folder, &[&to[..], &["--up-to", "100"]].concat());
    assert_eq!(code, 0);
    assert_eq!(
        String::from_utf8(said).unwrap(),
        format!("{FOLDER}-to100\n")
    );
    assert_eq!(encode(folder, &to).0, 0);
}
