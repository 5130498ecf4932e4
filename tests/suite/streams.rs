//! Streams of messages by the command: year and month of text, and two streams compared.
//! Stations, flights and groups are invented.

use std::fs;

use serde_json::Value;

use crate::support;

struct Folder(tempfile::TempDir);

impl Folder {
    fn new(files: &[(&str, &str)]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in files {
            fs::write(folder.path().join(name), text).unwrap();
        }
        Self(folder)
    }

    fn run(&self, args: &[&str]) -> (i32, String, String) {
        support::run(self.0.path(), args, "")
    }

    fn encode(&self, to: &str, output: &str) {
        let (profile, sheet) = (
            support::path("winter_jet.csv"),
            support::path("winter_jet.toml"),
        );
        let args = ["encode", &profile, "--sheet", &sheet, "-q"];
        let (code, _, errors) = self.run(&[&args[..], &["--to", to, "-o", output]].concat());
        assert_eq!(code, 0, "{errors}");
    }
}

/// The sample was released on 2031-01-15 at 11:23 UTC for 12 UTC; its text gives day 15,
/// hour 11 or 12 and 31313 with 81123.
#[test]
fn text_gets_its_year_and_month() {
    let folder = Folder::new(&[]);
    folder.encode("text", "m.txt");
    folder.encode("bufr", "m.bufr");
    let decode = ["decode", "m.txt", "--to", "bufr", "-o", "from_text.bufr"];
    let (code, _, errors) = folder.run(&decode);
    assert_eq!(code, 1);
    assert!(errors.contains("BUFR needs the complete date"), "{errors}");
    // By hand: 15 January lies 5 days from the 20th, 15 December 36 and 15 February 26.
    for date in ["2031-01", "2031-01-20"] {
        let (code, _, errors) = folder.run(&[&decode[..], &["--date", date]].concat());
        assert_eq!(code, 0, "{errors}");
        let (code, out, errors) = folder.run(&["compare", "from_text.bufr", "m.txt"]);
        assert_eq!((code, out.as_str()), (0, ""), "{errors}");
        let dump = folder.run(&["decode", "from_text.bufr", "--to", "dump"]).1;
        let value = |field: &str| {
            let line = dump.lines().find(|line| line.contains(field)).unwrap();
            line.split_whitespace()
                .map(str::to_owned)
                .collect::<Vec<_>>()
        };
        for (field, figure) in [
            (" 004001 ", "2031"),
            (" 004002 ", "1"),
            (" 004003 ", "15"),
            (" 004004 ", "11"),
            (" 004005 ", "23"),
        ] {
            assert!(
                value(field).iter().any(|word| word == figure),
                "{field}: {dump}"
            );
        }
    }
    // JSON keeps the date, so that BUFR can be written from it.
    let json = ["decode", "m.txt", "--to", "json", "-o", "m.json"];
    assert_eq!(
        folder.run(&[&json[..], &["--date", "2031-01"]].concat()).0,
        0
    );
    let document: Value =
        serde_json::from_str(&fs::read_to_string(folder.0.path().join("m.json")).unwrap()).unwrap();
    assert_eq!(document["reports"][0]["when"]["date"], "2031-01-15");
    let again = ["decode", "m.json", "--to", "bufr", "-o", "again.bufr"];
    assert_eq!(folder.run(&again).0, 0);
    let both = ["again.bufr", "from_text.bufr"].map(|name| fs::read(folder.0.path().join(name)));
    assert_eq!(both[0].as_ref().unwrap(), both[1].as_ref().unwrap());
    // Of another month it is another sounding.
    let compare = ["compare", "m.txt", "m.bufr", "--date"];
    assert_eq!(folder.run(&[&compare[..], &["2031-01"]].concat()).0, 0);
    let (code, out, _) = folder.run(&[&compare[..], &["2031-02"]].concat());
    assert_eq!(code, 1);
    assert!(
        out.contains("date: 2031-02-15 on the left, 2031-01-15 on the right"),
        "{out}"
    );
}

/// The heading is of the 15th, 16 days off.
const UNDER_HEADING: &str = "USXX01 XXXX 151200\n\
    TTAA 31110 99011 99004 04430 23006 00119 04226 22507 88999 77999=\n";

const DAY_31: &str = "TTAA 31110 99011 99004 04430 23006 00119 04226 22507 88999 77999=\n";

/// April has 30 days.
#[test]
fn a_day_that_the_month_lacks_is_found() {
    let folder = Folder::new(&[("m.txt", DAY_31)]);
    for args in [
        &["decode", "m.txt", "--to", "jsonl", "--date", "2031-04"][..],
        &["check", "m.txt", "--date", "2031-04"],
        &["compare", "m.txt", "m.txt", "--date", "2031-04"],
    ] {
        let (code, out, errors) = folder.run(args);
        assert_eq!(code, 0, "{errors}");
        let all = out + &errors;
        assert!(all.contains("day 31 is not in 2031-04"), "{args:?}: {all}");
    }
}

#[test]
fn findings_and_summaries_have_the_date() {
    let folder = Folder::new(&[("m.txt", UNDER_HEADING)]);
    let check = ["check", "m.txt", "--date", "2031-04-01", "--notes", "json"];
    let out = folder.run(&check).1;
    let first: Value = serde_json::from_str(out.lines().next().unwrap()).unwrap();
    assert_eq!(first["place"]["time"], "2031-03-31T11Z");
    let summary = ["summary", "m.txt", "--date", "2031-03", "--to", "csv"];
    assert!(
        folder
            .run(&summary)
            .1
            .contains("99011,2031-03-31T11Z,temp,")
    );
}

#[test]
fn a_bad_date_is_refused() {
    let folder = Folder::new(&[("m.txt", DAY_31)]);
    for command in ["decode", "check", "summary"] {
        for date in ["2031", "2031-13", "2031-02-30", "15.01.2031"] {
            let (code, out, errors) = folder.run(&[command, "m.txt", "--date", date]);
            assert_eq!((code, out.as_str()), (2, ""));
            let expected = "a year and month (2022-07) or a date (2022-07-13) is expected";
            assert!(
                errors.contains(date) && errors.contains(expected),
                "{errors}"
            );
        }
    }
}

/// The left stream: of 99011 Parts A and B, of 99012 Part A.
const LEFT: &str = "USXX01 XXXX 151200
TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999=
TTAA 15110 99012 99009 05430 23006 00119 05226 22507 88999 77999=
UKXX01 XXXX 151200
TTBB 15110 99011 00004 04430 11990 03827 21212 00004 23006 11990 22507=
";

/// The right one: of 99011 Part A with another temperature at 1000 hPa, 99013 Part A.
const RIGHT: &str = "USXX02 YYYY 151205
TTAA 15110 99011 99004 04430 23006 00119 04626 22507 88999 77999=
TTAA 15110 99013 99007 02430 23006 00119 02226 22507 88999 77999=
";

/// By hand, TTTaDD (WMO-No. 306, 35.2.2): 042 is +4.2 °C and 046 is +4.6 °C.
#[test]
fn two_streams_are_matched_by_station_time_and_form() {
    let folder = Folder::new(&[("left.txt", LEFT), ("right.txt", RIGHT)]);
    let compare = ["compare", "left.txt", "right.txt", "-q"];
    let (code, out, _) = folder.run(&compare);
    let value = "temperature at 1000 hPa (standard): 4.2 °C on the left, 4.6 °C on the right";
    let lines: Vec<&str> = out.lines().collect();
    assert_eq!(
        (code, lines.as_slice()),
        (
            1,
            &[
                "99011 15T11Z TEMP: Part B is missing on the right",
                &format!("99011 15T11Z TEMP: {value}"),
                "99012 15T11Z TEMP: only on the left",
                "99013 15T11Z TEMP: only on the right",
            ][..]
        )
    );
    let (code, out, _) = folder.run(&[&compare[..], &["--common"]].concat());
    assert_eq!((code, out), (1, format!("99011 15T11Z TEMP: {value}\n")));
    // One JSON object per report that differs.
    let (code, out, _) = folder.run(&[&compare[..], &["--to", "jsonl"]].concat());
    let all: Vec<Value> = out
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect();
    assert_eq!((code, all.len()), (1, 3));
    let key = |v: &Value| [&v["station"], &v["time"], &v["form"], &v["only"]].map(Value::to_string);
    assert_eq!(
        key(&all[0]),
        ["\"99011\"", "\"15T11Z\"", "\"temp\"", "null"]
    );
    assert_eq!(
        key(&all[1]),
        ["\"99012\"", "\"15T11Z\"", "\"temp\"", "\"left\""]
    );
    assert_eq!(
        key(&all[2]),
        ["\"99013\"", "\"15T11Z\"", "\"temp\"", "\"right\""]
    );
    let differences = all[0]["differences"].as_array().unwrap();
    assert_eq!(differences.len(), 2);
    assert_eq!(differences[1]["quantity"], "temperature");
    // The same with year and month.
    let dated = [&compare[..], &["--common", "--date", "2031-01"]].concat();
    let (_, out, _) = folder.run(&dated);
    assert_eq!(out, format!("99011 2031-01-15T11Z TEMP: {value}\n"));
}

#[test]
fn streams_that_agree_give_nothing() {
    let folder = Folder::new(&[("left.txt", LEFT), ("right.txt", LEFT)]);
    for to in ["table", "jsonl"] {
        let args = ["compare", "left.txt", "right.txt", "-q", "--to", to];
        let (code, out, errors) = folder.run(&args);
        assert_eq!((code, out.as_str()), (0, ""), "{errors}");
    }
}

#[test]
fn a_side_without_reports_is_refused() {
    let words = "no message here\n";
    let folder = Folder::new(&[("left.txt", LEFT), ("none.txt", words), ("empty.txt", "")]);
    for name in ["none.txt", "empty.txt"] {
        let (code, out, errors) = folder.run(&["compare", "left.txt", name, "--common"]);
        assert_eq!((code, out.as_str()), (1, ""));
        assert!(
            errors.contains(&format!("{name}: no report could be read")),
            "{errors}"
        );
    }
    let (code, out, errors) = folder.run(&["compare", "left.txt", "absent.txt", "--common"]);
    assert_eq!((code, out.as_str()), (3, ""));
    assert!(errors.contains("absent.txt"), "{errors}");
    let sheet = [
        "compare", "left.txt", "none.txt", "--common", "--sheet", "s",
    ];
    assert_eq!(folder.run(&sheet).0, 2);
}

/// A damaged part of one stream costs its own values.
#[test]
fn damage_in_a_stream_is_reported_and_the_rest_compared() {
    let damaged = LEFT.replace("00119 05226", "00119 X5226");
    let folder = Folder::new(&[("left.txt", LEFT), ("right.txt", &damaged)]);
    let (code, out, errors) = folder.run(&["compare", "left.txt", "right.txt"]);
    assert_eq!(code, 1);
    assert!(errors.contains("`X5226`"), "{errors}");
    assert!(
        !out.is_empty() && out.lines().all(|line| line.starts_with("99012 ")),
        "{out}"
    );
}

/// The invented ship of the samples, its call sign removed: it is named by its position.
#[test]
fn a_ship_without_call_sign_is_read() {
    let folder = Folder::new(&[]);
    let (profile, sheet) = (support::path("ship.csv"), support::path("ship.toml"));
    let encode = ["encode", &profile, "--sheet", &sheet, "-q"];
    let (code, text, errors) = folder.run(&encode);
    assert_eq!(code, 0, "{errors}");
    let sign = text.split_whitespace().nth(1).unwrap().to_owned();
    let unsigned = text.replace(&format!("{sign} "), "");
    fs::write(folder.0.path().join("u.txt"), &unsigned).unwrap();
    let (code, out, errors) = folder.run(&["decode", "u.txt"]);
    let groups = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!((code, groups(&out)), (0, groups(&unsigned)));
    assert!(
        errors.contains("there is no call sign before `"),
        "{errors}"
    );
    let json = ["decode", "u.txt", "--to", "json", "-o", "u.json", "-q"];
    assert_eq!(folder.run(&json).0, 0);
    let (code, out, errors) = folder.run(&["decode", "u.json"]);
    assert_eq!((code, groups(&out)), (0, groups(&unsigned)), "{errors}");
    // Parts of one position are one report.
    let (_, out, _) = folder.run(&["decode", "u.txt", "--to", "jsonl", "-q"]);
    assert_eq!(out.lines().count(), 1);
}
