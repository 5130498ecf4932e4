use std::fs;

use super::*;
use crate::model::{BufrOptions, Context, Station, When, Wis2Options};

fn report(update: u8) -> Report {
    let context = Context {
        station: Station {
            wmo_block: Some(99),
            wmo_number: Some(11),
            ..Station::default()
        },
        wis2: Wis2Options {
            centre_id: Some("xx-invented".to_owned()),
            base_url: Some("https://data.example.org/temp/".to_owned()),
            ..Wis2Options::default()
        },
        bufr: BufrOptions {
            update: Some(update),
            ..BufrOptions::default()
        },
        ..Context::default()
    };
    let at = |text| utc::parse(text).unwrap();
    Report {
        when: When::Full {
            release: at("2031-01-15T11:23:40Z"),
            standard: at("2031-01-15T12:00:00Z"),
        },
        ..Report::empty(context)
    }
}

fn args(time: &str) -> ShareArgs {
    ShareArgs {
        pubtime: Some(pubtime(time).unwrap()),
        ..ShareArgs::default()
    }
}

const NOON: &str = "2031-01-15T13:05:00Z";
const STEM: &str = "0-20000-0-99011_20310115T120000Z_temp_whole";

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> = entries
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

fn code(result: Result<(), Stop>) -> u8 {
    result.unwrap_err().code
}

#[test]
fn file_and_notification_stand_side_by_side() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    assert!(share(&report(0), b"BUFR 7777", &args(NOON), folder).is_ok());
    let (bufr, json) = (format!("{STEM}.bufr"), format!("{STEM}.json"));
    assert_eq!(names(folder), [bufr.clone(), json.clone()]);
    assert_eq!(fs::read(folder.join(bufr)).unwrap(), b"BUFR 7777");
    let text = fs::read_to_string(folder.join(json)).unwrap();
    let publication = Publication {
        pubtime: pubtime(NOON).unwrap(),
        update: 0,
    };
    let made = wis2::share(&report(0), b"BUFR 7777", &publication).unwrap();
    assert_eq!(text, made.notification.to_string());
}

#[test]
fn the_same_again_is_left_and_others_are_never_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let run = |update, octets: &[u8], time| share(&report(update), octets, &args(time), folder);
    assert!(run(0, b"BUFR 7777", NOON).is_ok());
    let first = names(folder);
    assert!(run(0, b"BUFR 7777", NOON).is_ok());
    // Another file, another time of publication.
    assert_eq!(code(run(0, b"BUFR  7777", NOON)), 1);
    assert_eq!(code(run(0, b"BUFR 7777", "2031-01-15T13:06:00Z")), 1);
    assert_eq!(names(folder), first);
    assert_eq!(
        fs::read(folder.join(format!("{STEM}.bufr"))).unwrap(),
        b"BUFR 7777"
    );
    assert!(run(1, b"BUFR  7777", "2031-01-15T13:06:00Z").is_ok());
    assert_eq!(names(folder).len(), 4);
}

#[test]
fn a_notification_that_cannot_be_placed_takes_its_file_back() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    // Seen as free, taken when it is placed: two paths for one name.
    let twice = folder.join("x.json");
    let files: [(PathBuf, &[u8]); 3] = [
        (folder.join("x.bufr"), b"BUFR 7777"),
        (twice.clone(), b"{}"),
        (twice, b"[]"),
    ];
    assert_eq!(code(place(&files)), 1);
    assert_eq!(names(folder), [""; 0]);
}

#[test]
fn a_name_that_is_no_file_is_left() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::create_dir(folder.join(format!("{STEM}.json"))).unwrap();
    assert_eq!(
        code(share(&report(0), b"BUFR 7777", &args(NOON), folder)),
        1
    );
    assert_eq!(names(folder), [format!("{STEM}.json")]);
}

#[cfg(unix)]
#[test]
fn another_user_may_read_what_is_shared() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    assert!(share(&report(0), b"BUFR 7777", &args(NOON), folder).is_ok());
    // As a file made in the usual way, whatever the umask is.
    fs::write(folder.join("usual"), "").unwrap();
    let mode = |name: &str| {
        fs::metadata(folder.join(name))
            .unwrap()
            .permissions()
            .mode()
    };
    assert_eq!(mode(&format!("{STEM}.bufr")), mode("usual"));
    assert_eq!(mode(&format!("{STEM}.json")), mode("usual"));
}

#[test]
fn what_is_missing_is_said_before_anything_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let run = |args: &ShareArgs, folder: &Path| {
        let stop = share(&report(0), b"BUFR 7777", args, folder).unwrap_err();
        (stop.code, stop.lines.join(" "))
    };
    let (code, line) = run(&ShareArgs::default(), folder);
    assert_eq!(code, 2);
    assert!(line.contains("--pubtime"), "{line}");
    let (code, line) = run(&args(NOON), Path::new("-"));
    assert_eq!(code, 2);
    assert!(line.contains("name a folder"), "{line}");
    let (code, line) = run(&args(NOON), &folder.join("none"));
    assert_eq!(code, 3);
    assert!(line.contains("none"), "{line}");
    assert!(pubtime("2031-01-15T13:05:00+01:00").is_err());
    assert!(pubtime("2031-01-15").is_err());
    let mut publish = args(NOON);
    publish.publish = Some("broker.example.org".to_owned());
    let (code, line) = run(&publish, folder);
    assert_eq!(code, 2);
    let wanted = if cfg!(feature = "mqtt") {
        "mqtts://[USER@]HOST"
    } else {
        "--features mqtt"
    };
    assert!(line.contains(wanted), "{line}");
    assert_eq!(names(folder), [""; 0]);
}

#[cfg(feature = "mqtt")]
#[test]
fn a_password_is_one_line_of_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("word");
    for (text, word) in [
        ("a b\n", Some("a b")),
        ("word\r\n", Some("word")),
        ("word", Some("word")),
        ("", None),
        ("\n", None),
        ("one\ntwo\n", None),
    ] {
        fs::write(&path, text).unwrap();
        assert_eq!(password(&path).ok().as_deref(), word, "{text:?}");
    }
    assert_eq!(password(&folder.path().join("none")).err().unwrap().code, 3);
}
