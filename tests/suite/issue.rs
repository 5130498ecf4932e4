//! `encode --to text,bulletin,json,bufr,html -o DIR`: an issue in a folder of its own.

use std::fs;
use std::path::Path;

use crate::support;

/// Runs the command: exit code, standard output as bytes, standard error.
fn run(folder: &Path, args: &[&str]) -> (i32, Vec<u8>, String) {
    support::bytes(folder, args, "")
}

/// The forms that are sent, and their files.
const FILES: [(&str, &str); 4] = [
    ("text", "text.txt"),
    ("bulletin", "bulletin.txt"),
    ("json", "report.json"),
    ("bufr", "sounding.bufr"),
];

const FOLDER: &str = "out/0-20000-0-99011_203101151200_temp";

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
    let (code, stderr, notes) = encode(folder, &several);
    assert_eq!(code, 0, "{notes}");
    assert_eq!(String::from_utf8(stderr).unwrap(), format!("{FOLDER}\n"));
    for (form, file) in FILES.into_iter().chain([("html", "review.html")]) {
        let (_, alone, _) = encode(folder, &["--to", form, "-q"]);
        assert_eq!(
            fs::read(folder.join(FOLDER).join(file)).unwrap(),
            alone,
            "{form}"
        );
    }
    let (code, stderr, notes) = encode(folder, &several);
    assert_eq!((code, stderr.len()), (1, 0));
    assert!(
        notes.contains(&format!("fivefig: error: {FOLDER}: already issued")),
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
    let (code, stderr, notes) = encode(folder, &[&to[..], &order, &correct].concat());
    assert_eq!(code, 0, "{notes}");
    let path = format!("{FOLDER}_CCA");
    assert_eq!(String::from_utf8(stderr).unwrap(), format!("{path}\n"));
    assert!(
        notes.contains("fivefig: corrected: the level at 876.43 hPa"),
        "{notes}"
    );
    // Beside the first issue the correction itself would count as sent.
    let name = FOLDER.strip_prefix("out/").unwrap();
    let was = format!("sent/{name}");
    fs::create_dir_all(folder.join(&was)).unwrap();
    for (_, file) in FILES {
        let from = folder.join(FOLDER).join(file);
        fs::copy(from, folder.join(&was).join(file)).unwrap();
    }
    for (form, file) in FILES {
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
        code == 2 && notes.contains("--to jsonl: it is written by itself"),
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
        code == 1 && notes.contains("and html with one of them"),
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
    let (code, stderr, _) = encode(folder, &[&to[..], &["--up-to", "100"]].concat());
    assert_eq!(code, 0);
    assert_eq!(
        String::from_utf8(stderr).unwrap(),
        format!("{FOLDER}-to100\n")
    );
    // The whole sounding has what was not sent (WMO-No. 386 Part II: the same heading
    // twice is a duplicate); BUFR is whole.
    let (code, stderr, notes) = encode(folder, &to);
    assert_eq!(
        (code, String::from_utf8(stderr).unwrap()),
        (0, format!("{FOLDER}\n")),
        "{notes}"
    );
    let text = fs::read_to_string(folder.join(FOLDER).join("text.txt")).unwrap();
    assert_eq!(letters(&text), ["TTCC", "TTDD"]);
    let (_, alone, _) = encode(folder, &["--to", "bufr", "-q"]);
    assert_eq!(
        fs::read(folder.join(FOLDER).join("sounding.bufr")).unwrap(),
        alone
    );
}

/// The letters of the parts in a text.
fn letters(text: &str) -> Vec<&str> {
    let groups = text.split_ascii_whitespace();
    groups
        .filter(|group| group.len() == 4 && group.starts_with("TT"))
        .collect()
}

/// What changed in A and B is the correction of the early message, one folder before the
/// rest; every part again only where it is asked for.
#[test]
fn an_early_message_is_corrected_before_the_rest_goes_out() {
    let folder = given();
    let folder = folder.path();
    let to = ["--to", "text,bulletin", "-q", "-o", "out"];
    assert_eq!(
        encode(folder, &[&to[..], &["--up-to", "100"]].concat()).0,
        0
    );
    fs::write(folder.join("more.toml"), "[surface]\ntemperature_c = 3.5\n").unwrap();
    let more = ["--sheet", "more.toml"];
    let (code, stderr, notes) = encode(folder, &[&to[..], &more].concat());
    assert_eq!(code, 0, "{notes}");
    assert_eq!(
        String::from_utf8(stderr).unwrap(),
        format!("{FOLDER}-to100_CCA\n{FOLDER}\n")
    );
    assert!(
        notes.contains("fivefig: corrected: temperature at 1004"),
        "{notes}"
    );
    let bulletin = |name: &str| {
        let path = folder.join(format!("{FOLDER}{name}")).join("bulletin.txt");
        fs::read_to_string(path).unwrap()
    };
    assert_eq!(letters(&bulletin("-to100_CCA")), ["TTAA", "TTBB"]);
    assert_eq!(letters(&bulletin("")), ["TTCC", "TTDD"]);
    // Many flights take the same way.
    fs::remove_dir_all(folder.join(FOLDER)).unwrap();
    fs::remove_dir_all(folder.join(format!("{FOLDER}-to100_CCA"))).unwrap();
    let sheet = fs::read_to_string(folder.join("p.toml")).unwrap();
    let colder = sheet.replace("temperature_c = 4.5", "temperature_c = 3.5");
    fs::write(folder.join("p.toml"), colder).unwrap();
    fs::write(folder.join("list"), "p.csv\n").unwrap();
    let (code, stderr, notes) = run(folder, &[&["encode", "--list", "list"][..], &to].concat());
    assert_eq!(code, 0, "{notes}");
    assert_eq!(
        String::from_utf8(stderr).unwrap(),
        format!("{FOLDER}-to100_CCA\n{FOLDER}\n")
    );
    fs::remove_dir_all(folder.join(FOLDER)).unwrap();
    assert_eq!(
        encode(folder, &[&to[..], &["--repeat-early"]].concat()).0,
        0
    );
    assert_eq!(letters(&bulletin("")), ["TTAA", "TTBB", "TTCC", "TTDD"]);
}

/// Parts of the text in every form that has parts; BUFR has none.
#[test]
fn some_parts_alone() {
    let folder = given();
    let folder = folder.path();
    let text = |args: &[&str]| {
        let (code, stderr, notes) = encode(folder, &[args, &["-q"]].concat());
        assert_eq!(code, 0, "{notes}");
        String::from_utf8(stderr).unwrap()
    };
    let whole = text(&[]);
    let cd = text(&["--parts", "CD"]);
    assert_eq!(letters(&cd), ["TTCC", "TTDD"]);
    assert!(whole.ends_with(&cd));
    assert_eq!(
        letters(&text(&["--parts", "BA", "--to", "bulletin"])),
        ["TTAA", "TTBB"]
    );
    let json: serde_json::Value =
        serde_json::from_str(&text(&["--parts", "D", "--to", "json"])).unwrap();
    let message = json["reports"][0].to_string();
    assert!(message.contains("TTDD") && !message.contains("TTCC"));
    for to in ["bufr", "bufr-bulletin", "text,bufr"] {
        let (code, _, notes) = encode(folder, &["--parts", "CD", "--to", to, "-o", "x"]);
        assert_eq!(code, 2);
        assert!(
            notes.contains("BUFR and the review sheet have the whole flight"),
            "{notes}"
        );
        assert!(!folder.join("x").exists());
    }
    let (code, _, notes) = encode(folder, &["--parts", "AX"]);
    assert_eq!(code, 2);
    assert!(notes.contains("letters A, B, C and D"), "{notes}");
    let early = ["--parts", "CD", "--up-to", "100"];
    let (code, stderr, notes) = encode(folder, &early);
    assert_eq!((code, stderr.len()), (1, 0));
    assert!(
        notes.contains("the message has no Part C or D: it has Part A and B"),
        "{notes}"
    );
}

/// NIL into a folder of issues: not after TEMP or its corrections, but for a reason.
#[test]
fn nil_does_not_follow_a_report() {
    let folder = given();
    let folder = folder.path();
    let nil = |more: &[&str]| {
        run(
            folder,
            &[&["nil", "--sheet", "p.toml", "-o", "out"], more].concat(),
        )
    };
    // A folder that is there is a folder of issues.
    fs::create_dir(folder.join("out")).unwrap();
    fs::create_dir(folder.join(format!("{FOLDER}_CCA"))).unwrap();
    fs::create_dir(folder.join(FOLDER)).unwrap();
    for blank in [&[][..], &["--despite-report", " "]] {
        let (code, stderr, notes) = nil(blank);
        assert_eq!((code, stderr.len()), (1, 0));
        let wanted = format!("{FOLDER}: a report of this station and time is issued");
        assert!(
            notes.contains(&wanted) && notes.contains("--despite-report"),
            "{notes}"
        );
    }
    let (code, stderr, notes) =
        nil(&["--to", "text,bulletin", "--despite-report", "wrong station"]);
    assert_eq!(code, 0, "{notes}");
    assert_eq!(
        String::from_utf8(stderr).unwrap(),
        format!("{FOLDER}-nil\n")
    );
    let read =
        |name: &str| fs::read_to_string(folder.join(format!("{FOLDER}-nil")).join(name)).unwrap();
    let name = FOLDER.strip_prefix("out/").unwrap();
    assert_eq!(
        read("reason.txt"),
        format!("NIL although {name} is out: wrong station\n")
    );
    assert!(read("text.txt").starts_with("TTAA 1512/ 99011 NIL=\n"));
    assert!(read("bulletin.txt").contains("USXX01 XXXX 151200\r\r\n"));
    // Without a report no reason is needed, and none is kept.
    fs::remove_dir_all(folder.join("out")).unwrap();
    let (code, _, notes) = nil(&["--to", "text,bulletin"]);
    assert_eq!(code, 0, "{notes}");
    assert!(
        !folder
            .join(format!("{FOLDER}-nil"))
            .join("reason.txt")
            .exists()
    );
    // Where no folder is looked into, no reason has a place.
    let (code, _, notes) = run(
        folder,
        &["nil", "--sheet", "p.toml", "--despite-report", "x"],
    );
    assert_eq!(code, 2, "{notes}");
}
