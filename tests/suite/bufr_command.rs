//! The command with BUFR: written, read, listed, compared, corrected; and what it
//! says of files that are broken.

use std::fs;
use std::path::PathBuf;

use crate::support::{self, path as sample};

struct Scene {
    folder: tempfile::TempDir,
}

impl Scene {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Exit code, standard output and standard error.
    fn run(&self, args: &[&str]) -> (i32, Vec<u8>, String) {
        support::bytes(self.folder.path(), args, "")
    }

    fn text(&self, args: &[&str]) -> String {
        let (code, out, stderr) = self.run(args);
        assert_eq!(code, 0, "{args:?}: {stderr}");
        String::from_utf8(out).unwrap()
    }

    /// `encode` of a sample into a file.
    fn encode(&self, sample: &str, more: &[&str], output: &str) {
        let samples = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/");
        let profile = format!("{samples}{sample}.csv");
        let sheet = format!("{samples}{sample}.toml");
        let args = ["encode", &profile, "--sheet", &sheet, "-q", "-o", output];
        let (code, _, stderr) = self.run(&[&args, more].concat());
        assert_eq!(code, 0, "{stderr}");
    }
}

/// Every field of a small message with its place, checked against the layout in
/// WMO-No. 306 Vol. I.2 (octets 23 and on of section 3, widths of 3 09 052).
#[test]
fn a_message_is_listed_field_by_field() {
    let scene = Scene::new();
    let narrow = "[bufr]\ntemplate = \"309052\"\ncentre = 7\n";
    fs::write(scene.path("narrow.toml"), narrow).unwrap();
    let more = [
        "--sheet",
        "narrow.toml",
        "--levels",
        "chosen",
        "--to",
        "bufr",
    ];
    scene.encode("low_burst", &more, "m.bufr");
    let listing = scene.text(&["decode", "m.bufr", "--to", "dump"]);
    // The fields tile the message: each begins where the one before ends.
    let mut at = 32;
    for line in listing.lines().skip(1) {
        let cells: Vec<&str> = line.split_whitespace().collect();
        let (bit, bits): (usize, usize) = (cells[1].parse().unwrap(), cells[2].parse().unwrap());
        // Octet 4 of sections 3 and 4 is set to zero and has no name.
        assert!(bit == at || bit == at + 8, "{line}");
        at = bit + bits;
    }
    assert_eq!(at, 8 * fs::read(scene.path("m.bufr")).unwrap().len());
    let head: Vec<&str> = listing.lines().take(75).collect();
    insta::assert_snapshot!(head.join("\n"));
}

/// Text, JSON and BUFR of one flight: no pair differs.
#[test]
fn every_pair_of_forms_is_compared_without_a_difference() {
    for name in ["winter_jet", "ship", "gaps", "drop", "plateau"] {
        let scene = Scene::new();
        for (to, output) in [("text", "m.txt"), ("json", "m.json"), ("bufr", "m.bufr")] {
            scene.encode(name, &["--to", to], output);
        }
        for pair in [
            ("m.txt", "m.bufr"),
            ("m.json", "m.bufr"),
            ("m.bufr", "m.bufr"),
        ] {
            let (code, out, stderr) = scene.run(&["compare", pair.0, pair.1]);
            let out = String::from_utf8(out).unwrap();
            assert_eq!((code, out.as_str()), (0, ""), "{name} {pair:?} {stderr}");
        }
    }
}

/// The hour of a text may be that of the release or the one served; BUFR has both.
#[test]
fn either_practice_of_the_hour_agrees_with_bufr() {
    let scene = Scene::new();
    // Released at 11:23: GG is 11, the standard hour 12.
    for (practice, hour) in [("launch", "15111"), ("synoptic", "15121")] {
        let sheet = format!("[coding]\nhour = \"{practice}\"\n");
        fs::write(scene.path("hour.toml"), sheet).unwrap();
        scene.encode("winter_jet", &["--sheet", "hour.toml"], "m.txt");
        scene.encode("winter_jet", &["--to", "bufr"], "m.bufr");
        let text = fs::read_to_string(scene.path("m.txt")).unwrap();
        assert!(text.starts_with(&format!("TTAA {hour} ")), "{text}");
        for pair in [["m.txt", "m.bufr"], ["m.bufr", "m.txt"]] {
            let (code, out, _) = scene.run(&["compare", pair[0], pair[1]]);
            assert_eq!((code, out.len()), (0, 0), "{practice}");
        }
    }
}

/// A BUFR file stands in the place of a profile, without any sheet; a sheet that is
/// given has the last word.
#[test]
fn bufr_is_interpreted_as_a_profile() {
    let scene = Scene::new();
    scene.encode("winter_jet", &["--to", "bufr"], "flight.bufr");
    scene.encode("winter_jet", &[], "first.txt");
    let first = fs::read_to_string(scene.path("first.txt")).unwrap();
    let again = scene.text(&["encode", "flight.bufr", "-q"]);
    // The same station, time and parts; values are rounded twice.
    assert_eq!(again.lines().count(), first.lines().count());
    assert!(
        again.starts_with("TTAA 15111 99011 99004 04430 23006"),
        "{again}"
    );
    let (code, out, stderr) = scene.run(&["compare", "first.txt", "flight.bufr"]);
    assert_eq!((code, out.len()), (0, 0), "{stderr}");
    fs::write(scene.path("knots.toml"), "[coding]\nwind_unit = \"kt\"\n").unwrap();
    let knots = scene.text(&["encode", "flight.bufr", "--sheet", "knots.toml", "-q"]);
    assert!(knots.starts_with("TTAA 65111 99011"), "{knots}");
    // Clouds of a later sheet replace those of the message.
    fs::write(scene.path("clear.toml"), "[clouds]\nsky = \"clear\"\n").unwrap();
    let clear = scene.text(&["encode", "flight.bufr", "--sheet", "clear.toml", "-q"]);
    assert!(clear.contains("41414 00900"), "{clear}");
    for command in ["levels", "check"] {
        let args = [command, "flight.bufr"];
        let (code, _, stderr) = scene.run(&args);
        assert_eq!(code, 0, "{command}: {stderr}");
    }
    // Its own flags beside ours.
    let (code, out, _) = scene.run(&[
        "compare",
        "flight.bufr",
        "flight.bufr",
        "--sheet",
        "knots.toml",
    ]);
    let out = String::from_utf8(out).unwrap();
    assert!(
        code < 2 && out.contains("fidelity of the significant levels"),
        "{out}"
    );
}

/// The profile in a message as delimited text gives what the message itself gives.
#[test]
fn the_profile_of_a_message_is_coded_like_the_message() {
    for name in ["winter_jet", "gaps", "drop"] {
        let scene = Scene::new();
        scene.encode(name, &["--to", "bufr"], "flight.bufr");
        scene.text(&[
            "decode",
            "flight.bufr",
            "--to",
            "profile",
            "-o",
            "flight.csv",
        ]);
        let sheet = sample(&format!("{name}.toml"));
        let coded = |file: &str| scene.text(&["encode", file, "--sheet", &sheet, "-q"]);
        assert_eq!(coded("flight.csv"), coded("flight.bufr"), "{name}");
    }
}

/// Several messages in one file, headings between them.
#[test]
fn messages_of_a_file_are_read_one_by_one() {
    let scene = Scene::new();
    let mut file = Vec::new();
    let heading = "[bulletin]\nii = 1\ncentre = \"XXXX\"\n";
    fs::write(scene.path("heading.toml"), heading).unwrap();
    for name in ["winter_jet", "low_burst"] {
        let more = ["--to", "bufr-bulletin", "--channel", "17"];
        let more = [&more[..], &["--sheet", "heading.toml"]].concat();
        scene.encode(name, &more, "b.bin");
        file.extend(fs::read(scene.path("b.bin")).unwrap());
    }
    fs::write(scene.path("two.bin"), &file).unwrap();
    let text = scene.text(&["decode", "two.bin"]);
    assert_eq!(text.matches("TTAA").count(), 2);
    let lines = scene.text(&["decode", "two.bin", "--to", "jsonl"]);
    assert_eq!(lines.lines().count(), 2);
    let (code, _, stderr) = scene.run(&["encode", "two.bin"]);
    assert_eq!(code, 1);
    assert!(
        stderr.contains("there are 2 soundings; give the number of one, 1 to 2"),
        "{stderr}"
    );
    let second = scene.text(&["encode", "two.bin", "--message", "2", "-q"]);
    assert!(
        second.starts_with("TTAA") && !second.contains("TTCC"),
        "{second}"
    );
    let (code, _, stderr) = scene.run(&["encode", "two.bin", "--message", "3"]);
    assert_eq!(code, 1);
    assert!(
        stderr.contains("there is no sounding 3; the file has 2"),
        "{stderr}"
    );
    // The first one broken: the second is read, the exit code tells.
    let start = file.windows(4).position(|w| w == b"BUFR").unwrap();
    let mut broken = file.clone();
    broken[start + 40] ^= 0xFF;
    fs::write(scene.path("broken.bin"), &broken).unwrap();
    let (code, out, stderr) = scene.run(&["decode", "broken.bin"]);
    assert_eq!(code, 1);
    assert_eq!(String::from_utf8(out).unwrap().matches("TTAA").count(), 1);
    assert!(stderr.contains("broken.bin: message 1 (octet "), "{stderr}");
}

/// IUK to 100 hPa, IUS whole, by kind and form; A2 by the quarter of the globe.
#[test]
fn bulletins_have_the_headings_of_bufr() {
    let scene = Scene::new();
    for (name, more, heading) in [
        ("winter_jet", &[][..], "IUSA01 XXXX 151200"),
        ("winter_jet", &["--up-to", "100"], "IUKA01 XXXX 151200"),
        ("winter_jet", &["--bbb", "RRA"], "IUSA01 XXXX 151200 RRA"),
        ("ship", &[], "IUSA20 XXXX 030000"),
        ("pilot", &["--form", "pilot"], "IUJA01 XXXX 161800"),
        (
            "pilot",
            &["--form", "pilot", "--up-to", "100"],
            "IUWA01 XXXX 161800",
        ),
        ("drop", &[], "IUD"),
    ] {
        let more = [&["--to", "bufr-bulletin"], more].concat();
        scene.encode(name, &more, "b.bin");
        let octets = fs::read(scene.path("b.bin")).unwrap();
        let head = String::from_utf8_lossy(&octets[..40]).into_owned();
        assert!(head.starts_with(heading), "{name}: {head}");
        let line = head.find("\r\r\n").unwrap();
        assert_eq!(&octets[line + 3..line + 7], b"BUFR", "{name}");
        assert!(octets.ends_with(b"7777\r\r\n"), "{name}");
    }
    // A station in the belt says so, a number beside its custom is reported.
    fs::write(
        scene.path("belt.toml"),
        "[bulletin]\nbufr_area = \"E\"\nii = 30\n",
    )
    .unwrap();
    let args = [
        "encode",
        &sample("winter_jet.csv"),
        "--sheet",
        &sample("winter_jet.toml"),
        "--sheet",
        "belt.toml",
        "--to",
        "bufr-bulletin",
    ];
    let (code, out, stderr) = scene.run(&args);
    assert_eq!(code, 0);
    assert!(out.starts_with(b"IUSE30 XXXX 151200"));
    assert!(
        stderr.contains("ii is 30; customary for this kind of station are 01 to 19"),
        "{stderr}"
    );
}

/// The update number goes with CCx; another station or time is refused, and so is
/// a correction of nothing.
#[test]
fn a_correction_moves_the_update_number() {
    let scene = Scene::new();
    scene.encode("winter_jet", &["--to", "bufr"], "sent.bufr");
    let base = [
        "encode".to_owned(),
        sample("winter_jet.csv"),
        "--sheet".to_owned(),
        sample("winter_jet.toml"),
    ];
    let base: Vec<&str> = base.iter().map(String::as_str).collect();
    let again = [
        "--to",
        "bufr",
        "--correct",
        "CCA",
        "--was",
        "sent.bufr",
        "-o",
        "new.bufr",
    ];
    let (code, _, stderr) = scene.run(&[&base[..], &again].concat());
    assert_eq!(code, 1);
    assert!(
        stderr.contains("nothing has changed since the earlier message"),
        "{stderr}"
    );
    fs::write(scene.path("wet.toml"), "[surface]\nhumidity_pct = 96\n").unwrap();
    let changed = [&base[..], &["--sheet", "wet.toml"], &again].concat();
    let (code, _, stderr) = scene.run(&changed);
    assert_eq!(code, 0, "{stderr}");
    assert!(
        stderr.contains("corrected: dew-point depression at 1004.3 hPa"),
        "{stderr}"
    );
    let octets = fs::read(scene.path("new.bufr")).unwrap();
    // Octet 9 of section 1.
    assert_eq!(octets[8 + 8], 1);
    // CCB follows CCA, not the original.
    let skipped: Vec<&str> = changed
        .iter()
        .map(|a| if *a == "CCA" { "CCB" } else { a })
        .collect();
    let (code, _, stderr) = scene.run(&skipped);
    assert_eq!(code, 1);
    assert!(
        stderr.contains("its update number is 0, so the next one is 1"),
        "{stderr}"
    );
    scene.encode("low_burst", &["--to", "bufr"], "other.bufr");
    let other: Vec<&str> = changed
        .iter()
        .map(|a| if *a == "sent.bufr" { "other.bufr" } else { a })
        .collect();
    let (code, _, stderr) = scene.run(&other);
    assert_eq!(code, 1);
    assert!(
        stderr.contains("the earlier message is of another station or form"),
        "{stderr}"
    );
}

/// The whole sounding does not correct the early message, nor the other way round; a
/// correction names what changed and nothing else.
#[test]
fn a_correction_is_of_the_same_message() {
    let scene = Scene::new();
    scene.encode("winter_jet", &["--to", "bufr"], "whole.bufr");
    scene.encode(
        "winter_jet",
        &["--to", "bufr", "--up-to", "100"],
        "early.bufr",
    );
    let (profile, sheet) = (sample("winter_jet.csv"), sample("winter_jet.toml"));
    let correct = |more: &[&str], was: &str| {
        let base = [
            "encode",
            &profile,
            "--sheet",
            &sheet,
            "--to",
            "bufr",
            "--correct",
            "CCA",
        ];
        scene.run(&[&base[..], &["--was", was, "-q", "-o", "new.bufr"], more].concat())
    };
    let (code, _, stderr) = correct(&["--up-to", "100"], "whole.bufr");
    assert_eq!(code, 1);
    assert!(
        stderr.contains("Part C was sent and is missing now"),
        "{stderr}"
    );
    let (code, _, stderr) = correct(&[], "early.bufr");
    assert_eq!(code, 1);
    assert!(
        stderr.contains("the second message of the flight"),
        "{stderr}"
    );
    assert!(!scene.path("new.bufr").exists());
    let change = |text: &str| {
        fs::write(scene.path("change.toml"), text).unwrap();
        let (code, _, stderr) = correct(&["--sheet", "change.toml"], "whole.bufr");
        assert_eq!(code, 0, "{stderr}");
        stderr
    };
    assert_eq!(
        change("[flight]\ntermination = 14\n"),
        "fivefig: corrected: Reason for termination: 1 balloon burst on the left, 14 sudden loss of signal on the right\n"
    );
    assert_eq!(
        change("[bufr]\ncentre = 7\n"),
        "fivefig: corrected: Originating centre and sub-centre: 65535 0 on the left, 7 0 on the right\n"
    );
    let stderr = change("[surface]\nwind_speed_ms = 6.4\n");
    assert!(stderr.contains("wind speed at 1004.3 hPa"), "{stderr}");
    assert!(stderr.lines().all(|l| l.contains("1004.3 hPa")), "{stderr}");
}

/// A correction is shared under the same data_id, by an `update` link to a file of
/// its own.
#[test]
fn a_correction_is_shared_as_an_update() {
    let scene = Scene::new();
    let node = "[wis2]\ncentre_id = \"xx-invented\"\nbase_url = \"https://data.example.org/\"\n";
    fs::write(scene.path("node.toml"), node).unwrap();
    fs::write(scene.path("wet.toml"), "[surface]\nhumidity_pct = 96\n").unwrap();
    fs::create_dir(scene.path("out")).unwrap();
    scene.encode("winter_jet", &["--to", "bufr"], "sent.bufr");
    let (profile, sheet) = (sample("winter_jet.csv"), sample("winter_jet.toml"));
    let share = |more: &[&str]| {
        let base = [
            "encode",
            &profile,
            "--sheet",
            &sheet,
            "--sheet",
            "node.toml",
            "-q",
        ];
        let line = scene.text(&[&base[..], &["--to", "wis2", "-o", "out"], more].concat());
        let path = line.trim_end().split_once(' ').unwrap().1.to_owned();
        let text = fs::read_to_string(scene.path(&path)).unwrap();
        serde_json::from_str::<serde_json::Value>(&text).unwrap()
    };
    let first = share(&["--pubtime", "2031-01-15T13:05:00Z"]);
    let correct = [
        "--correct",
        "CCA",
        "--was",
        "sent.bufr",
        "--sheet",
        "wet.toml",
    ];
    let second = share(&[&correct[..], &["--pubtime", "2031-01-15T14:00:00Z"]].concat());
    assert_eq!(first["links"][0]["rel"], "canonical");
    assert_eq!(second["links"][0]["rel"], "update");
    assert_eq!(
        first["properties"]["data_id"],
        second["properties"]["data_id"]
    );
    assert_ne!(first["links"][0]["href"], second["links"][0]["href"]);
    assert_ne!(first["id"], second["id"]);
}

/// What is mandatory and missing is reported; an early message does not
/// say why the ascent ended.
#[test]
fn what_a_message_lacks_is_reported() {
    let scene = Scene::new();
    let samples = [sample("drop.csv"), sample("drop.toml")];
    let args = [
        "encode",
        &samples[0],
        "--sheet",
        &samples[1],
        "--to",
        "bufr",
        "-o",
        "m.bufr",
    ];
    let (code, _, stderr) = scene.run(&args);
    assert_eq!(code, 0);
    assert!(
        stderr.contains("0 01 006, aircraft flight number, is mandatory"),
        "{stderr}"
    );
    let fields = |file: &str, fxy: &str| {
        let listing = scene.text(&["decode", file, "--to", "dump"]);
        let line = listing
            .lines()
            .find(|l| l.get(24..30) == Some(fxy))
            .unwrap();
        // The value, a figure and its meaning.
        line[109..].split_whitespace().next().unwrap().to_owned()
    };
    scene.encode(
        "winter_jet",
        &["--to", "bufr", "--up-to", "100"],
        "early.bufr",
    );
    assert_eq!(fields("early.bufr", "035035"), "missing");
    scene.encode("winter_jet", &["--to", "bufr"], "whole.bufr");
    assert_eq!(fields("whole.bufr", "035035"), "1");
    // A light and variable wind: direction 0 with a speed.
    let mut octets = fs::read(scene.path("whole.bufr")).unwrap();
    let listing = scene.text(&["decode", "whole.bufr", "--to", "dump"]);
    let line = listing
        .lines()
        .filter(|l| l.get(24..30) == Some("011001"))
        .nth(3)
        .unwrap();
    let bit: usize = line.split_whitespace().nth(1).unwrap().parse().unwrap();
    for at in bit..bit + 9 {
        octets[at / 8] &= !(0x80 >> (at % 8));
    }
    fs::write(scene.path("light.bufr"), &octets).unwrap();
    let (code, _, stderr) = scene.run(&["decode", "light.bufr"]);
    assert_eq!(code, 0);
    assert!(
        stderr.contains("1 level with a light and variable wind"),
        "{stderr}"
    );
}

/// A web server under another user can read what was written: the umask alone says
/// who may.
#[cfg(unix)]
#[test]
fn files_are_as_open_as_the_umask_lets() {
    use std::os::unix::fs::PermissionsExt as _;
    let scene = Scene::new();
    let plain = scene.path("plain");
    fs::write(&plain, "").unwrap();
    scene.encode("low_burst", &["--to", "bufr"], "m.bufr");
    let mode = |path: &PathBuf| fs::metadata(path).unwrap().permissions().mode();
    assert_eq!(mode(&scene.path("m.bufr")), mode(&plain));
}

/// NIL in BUFR is NIL in text.
#[test]
fn nil_goes_through_bufr() {
    let scene = Scene::new();
    let args = ["nil", "--sheet", &sample("winter_jet.toml"), "--to"];
    let (code, _, stderr) = scene.run(&[&args[..], &["bufr", "-o", "nil.bufr"]].concat());
    assert_eq!(code, 0, "{stderr}");
    let text = scene.text(&["decode", "nil.bufr"]);
    assert_eq!(text.matches("99011 NIL=").count(), 4, "{text}");
    let (code, _, stderr) = scene.run(&["encode", "nil.bufr"]);
    assert_eq!(code, 1);
    assert!(
        stderr.contains("the message has no level (NIL)"),
        "{stderr}"
    );
    let (code, _, stderr) = scene.run(&[&args[..], &["wis2", "-o", "."]].concat());
    assert_eq!(code, 2);
    assert!(stderr.contains("invalid value 'wis2'"), "{stderr}");
}

/// Broken files: section and bit, exit code 1, nothing written.
#[test]
fn broken_files_are_refused_with_section_and_bit() {
    let scene = Scene::new();
    scene.encode(
        "low_burst",
        &["--levels", "chosen", "--to", "bufr"],
        "m.bufr",
    );
    let whole = fs::read(scene.path("m.bufr")).unwrap();
    type Damage = fn(&mut Vec<u8>);
    let damages: [(&str, Damage); 9] = [
        ("cut short", |b| b.truncate(b.len() / 2)),
        ("two octets", |b| b.truncate(6)),
        ("edition 1", |b| b[7] = 1),
        ("total length", |b| b[6] ^= 1),
        ("length of section 1", |b| b[10] = 200),
        ("no subset", |b| b[35] = 0),
        ("unknown descriptor", |b| {
            b[13 + 8] = 77;
            b[37] = 0x09;
            b[38] = 0xFF;
        }),
        ("another template", |b| {
            // 3 01 021 alone: latitude and longitude.
            b[37] = 0xC1;
            b[38] = 0x15;
        }),
        ("end", |b| {
            let n = b.len();
            b[n - 1] = b'8';
        }),
    ];
    let mut reported = Vec::new();
    for (what, damage) in damages {
        let mut octets = whole.clone();
        damage(&mut octets);
        fs::write(scene.path("bad.bufr"), &octets).unwrap();
        for (command, output) in [("decode", "o1"), ("encode", "o2")] {
            let (code, out, stderr) = scene.run(&[command, "bad.bufr", "-o", output]);
            assert_eq!((code, out.len()), (1, 0), "{what} {command}: {stderr}");
            assert!(!scene.path(output).exists(), "{what} {command}");
            if command == "decode" {
                reported.push(format!("{what}: {}", stderr.lines().next().unwrap_or("")));
            }
        }
    }
    // A template with more levels than there are bits.
    let mut octets = whole.clone();
    let listing = scene.text(&["decode", "m.bufr", "--to", "dump"]);
    let counter = listing.lines().find(|l| l.contains("031002")).unwrap();
    let bit: usize = counter.split_whitespace().nth(1).unwrap().parse().unwrap();
    for i in 0..16 {
        octets[(bit + i) / 8] |= 0x80 >> ((bit + i) % 8);
    }
    fs::write(scene.path("bad.bufr"), &octets).unwrap();
    let (code, _, stderr) = scene.run(&["decode", "bad.bufr"]);
    assert_eq!(code, 1);
    reported.push(format!("absurd count: {}", stderr.lines().next().unwrap()));
    insta::assert_snapshot!(reported.join("\n"));
}

/// What is no BUFR, and forms that do not go together.
#[test]
fn orders_that_do_not_fit_are_refused() {
    let scene = Scene::new();
    scene.encode("low_burst", &[], "m.txt");
    scene.encode("low_burst", &["--to", "bufr"], "m.bufr");
    let refused = |args: &[&str], code: i32, words: &str| {
        let (found, out, stderr) = scene.run(args);
        assert_eq!((found, out.len()), (code, 0), "{args:?}: {stderr}");
        assert!(stderr.contains(words), "{args:?}: {stderr}");
    };
    refused(
        &["decode", "m.txt", "--to", "dump"],
        1,
        "--to dump lists the bits of BUFR",
    );
    refused(
        &["decode", "m.txt", "--to", "bufr"],
        1,
        "gives only day and hour",
    );
    refused(
        &["encode", &sample("ship.csv")],
        2,
        "name it with --sheet FILE",
    );
    refused(
        &[
            "encode",
            &sample("ship.csv"),
            "--sheet",
            &sample("ship.toml"),
            "--message",
            "1",
        ],
        1,
        "but this file is one flight; leave it out",
    );
    fs::write(scene.path("t.toml"), "[bufr]\ntemplate = \"309050\"\n").unwrap();
    let args = [
        "encode", "m.bufr", "--sheet", "t.toml", "--to", "bufr", "-o", "x.bufr",
    ];
    refused(&args, 1, "template 309050: is for PILOT");
    assert!(!scene.path("x.bufr").exists());
    // JSON keeps the full date and goes into BUFR.
    scene.encode("low_burst", &["--to", "json", "--levels", "all"], "m.json");
    let (code, out, stderr) = scene.run(&["decode", "m.json", "--to", "bufr"]);
    assert_eq!(code, 0, "{stderr}");
    assert_eq!(out, fs::read(scene.path("m.bufr")).unwrap());
}

/// A folder is read file by file in the order of names; what cannot be read costs
/// itself, and the exit code says so.
#[test]
fn a_folder_is_decoded_and_a_broken_message_costs_itself() {
    let scene = Scene::new();
    fs::create_dir(scene.path("in")).unwrap();
    let args = ["--levels", "chosen", "--to", "bufr"];
    scene.encode("low_burst", &args, "in/a.bufr");
    scene.encode("winter_jet", &args, "in/c.bufr");
    let whole = fs::read(scene.path("in/a.bufr")).unwrap();
    // A broken message in front of a good one.
    let mut broken = whole.clone();
    broken[7] = 5;
    fs::write(scene.path("in/b.bufr"), [broken, whole].concat()).unwrap();
    let (code, out, stderr) = scene.run(&["decode", "in", "--to", "jsonl"]);
    let out = String::from_utf8(out).unwrap();
    assert_eq!((code, out.lines().count()), (1, 3), "{stderr}");
    let error = stderr.lines().find(|l| l.contains("error")).unwrap();
    assert!(
        error.contains("b.bufr: message 1 (octet 0): section 0, bit 56: edition 5"),
        "{error}"
    );
    let (code, listed, _) = scene.run(&["decode", "in", "--to", "dump"]);
    let listed = String::from_utf8(listed).unwrap();
    assert_eq!(code, 1);
    let heads: Vec<&str> = listed
        .lines()
        .filter(|l| l.contains(", message "))
        .collect();
    assert_eq!(heads.len(), 3, "{heads:?}");
    fs::create_dir(scene.path("empty")).unwrap();
    let (code, _, stderr) = scene.run(&["decode", "empty"]);
    assert_eq!(code, 1);
    assert!(stderr.contains("the folder has no file"), "{stderr}");
}

/// What a BUFR message says of its values stays in JSON, and is no difference.
#[test]
fn quality_goes_from_json_to_json() {
    let scene = Scene::new();
    scene.encode("winter_jet", &["--to", "json"], "m.json");
    let mut document: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(scene.path("m.json")).unwrap()).unwrap();
    let quality = |element: &str, value: f64| {
        serde_json::json!([{
            "element": element, "name": "invented", "kind": "per cent confidence",
            "value": value, "unit": "%"
        }])
    };
    document["reports"][0]["quality"] = quality("004005", 90.0);
    document["reports"][0]["levels"][3]["quality"] = quality("012101", 70.0);
    fs::write(scene.path("q.json"), document.to_string()).unwrap();
    for to in ["json", "jsonl"] {
        let written = scene.text(&["decode", "q.json", "--to", to, "-q"]);
        let again: serde_json::Value = serde_json::from_str(&written).unwrap();
        let report = again["reports"].get(0).unwrap_or(&again);
        assert_eq!(report["quality"], quality("004005", 90.0), "{to}");
        let levels = report["levels"].as_array().unwrap();
        for (i, level) in levels.iter().enumerate() {
            let own = (i == 3).then(|| quality("012101", 70.0));
            assert_eq!(level.get("quality"), own.as_ref(), "{to} {i}");
        }
    }
    assert_eq!(scene.text(&["compare", "q.json", "m.json"]), "");
}
