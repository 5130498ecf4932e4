//! The month: its page, and the command on folders of issues, also on damaged ones. Flights
//! and stations are invented.

use std::collections::BTreeSet;
use std::fs;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use fivefig::input::sheet::Schedule;
use fivefig::jiff::civil::date;
use fivefig::model::{GroundCheckResult, GroundQuantity};
use fivefig::verify::month::{
    Ascent, Cause, Checked, HandedOver, Month, Period, Records, Refusal, SurfaceValues, sum,
};
use fivefig::view::diagram::Theme;
use fivefig::view::month::page;
use roxmltree::{Document, Node};
use sha2::{Digest as _, Sha256};

use crate::support::{parsed, text_of};

const SVG: &str = "http://www.w3.org/2000/svg";
const XHTML: &str = "http://www.w3.org/1999/xhtml";

/// An invented January with an ascent at 00 and 12 UTC of most days, and its December.
pub fn records(batch: &str) -> Records {
    let mut ascents = Vec::new();
    for (year, month, warmer) in [(2030, 12, 0.0), (2031, 1, 8.5)] {
        for half in (0..62_i8).filter(|half| half % 9 != 4) {
            let (day, hour) = (half / 2 + 1, half % 2 * 12);
            let wave = f64::from(half % 7) - 3.0;
            let surface = |pressure_hpa, height_gpm: f64, temperature_c: f64| SurfaceValues {
                pressure_hpa,
                height_gpm: Some(height_gpm + 12.0 * wave + 9.0 * warmer),
                temperature_c: Some(temperature_c + wave + warmer),
            };
            ascents.push(Ascent {
                station: "0-20000-0-99011".to_owned(),
                standard: date(year, month, day).at(hour, 0, 0, 0),
                in_book: half != 9,
                after_min: (half != 9).then(|| 95 + i64::from(half % 11) * 8),
                in_time: (half != 9).then_some(half % 11 < 7),
                top_hpa: Some(if half == 20 { 180.0 } else { 14.0 + 4.0 * wave }),
                top_gpm: Some(if half == 20 {
                    12_400.0
                } else {
                    29_500.0 - 900.0 * wave
                }),
                ended_by: (half != 9).then_some(if half == 20 { 7 } else { 1 }),
                within_limits: Some(half % 13 != 0),
                batch: batch.to_owned(),
                checked: Some(Checked {
                    result: Some(if half == 33 {
                        GroundCheckResult::LookAgain
                    } else {
                        GroundCheckResult::Go
                    }),
                    differences: vec![(GroundQuantity::Temperature, 0.006 * f64::from(half))],
                }),
                codes: vec!["continuity-height".to_owned(); usize::from(half == 30)],
                released: half == 30,
                levels: vec![
                    surface(850, 1420.0, -2.0),
                    surface(500, 5450.0, -25.0),
                    surface(100, 16_000.0, -58.0),
                    surface(30, 23_400.0, -55.0),
                ],
            });
        }
    }
    let at = |day: i8, hour: i8| date(2031, 1, day).at(hour, 0, 0, 0);
    Records {
        ascents,
        early: vec![at(3, 0)],
        nil: vec![at(7, 12), at(5, 0)],
        corrections: vec![
            (at(2, 0), Cause::Temperature),
            (at(4, 12), Cause::EarlyMessage),
        ],
        refusals: vec![Refusal {
            at: at(7, 12),
            reason: "profile".to_owned(),
            batch: batch.to_owned(),
            ..Refusal::default()
        }],
        handover: [(
            "hub".to_owned(),
            HandedOver {
                accepted: 54,
                in_time: 50,
                of: 55,
            },
        )]
        .into(),
        findings: Vec::new(),
    }
}

pub fn month(records: &Records) -> Month {
    let schedule = Schedule {
        hours: vec![0, 12],
        limit_min: Some(150),
        ..Schedule::default()
    };
    sum(records, Period::parse("2031-01").unwrap(), &schedule, None)
}

fn named<'a>(
    document: &'a Document<'_>,
    space: &'static str,
    name: &'static str,
) -> Vec<Node<'a, 'a>> {
    let of = |n: &Node<'_, '_>| n.has_tag_name((space, name));
    document.descendants().filter(of).collect()
}

#[test]
fn the_page_is_well_formed_and_has_its_figures_twice() {
    let month = month(&records("7"));
    for month in [
        month.clone(),
        sum(
            &Records::default(),
            Period::parse("2031-01").unwrap(),
            &Schedule::default(),
            None,
        ),
    ] {
        let html = page(&month, Theme::Auto);
        assert_eq!(html, page(&month, Theme::Auto));
        let document = parsed(&html);
        let mut ids = BTreeSet::new();
        for node in document.descendants() {
            if let Some(id) = node.attribute("id") {
                assert!(ids.insert(id), "{id} stands twice");
            }
        }
        for node in document.descendants() {
            let link = node.attribute("href").map(|h| h.strip_prefix('#').unwrap());
            let named = node.attribute("aria-labelledby").unwrap_or_default();
            for id in named.split_whitespace().chain(link) {
                assert!(ids.contains(id), "no {id}");
            }
            for attribute in node.attributes() {
                let key = attribute.name();
                assert!(
                    key != "style" && key != "src" && !key.starts_with("on"),
                    "{key}"
                );
            }
            assert!(!node.has_tag_name((XHTML, "script")));
        }
        for th in named(&document, XHTML, "th") {
            assert!(th.has_attribute("scope"));
        }
        for landmark in ["header", "main", "title", "h1"] {
            assert_eq!(named(&document, XHTML, landmark).len(), 1, "{landmark}");
        }
        for table in named(&document, XHTML, "table") {
            let caption = table
                .descendants()
                .find(|n| n.has_tag_name((XHTML, "caption")));
            assert!(!text_of(caption.unwrap()).is_empty());
        }
    }
    // Every chart has a title and a text, and is in a section with a table; a bar says
    // nothing that does not stand beside it.
    let html = page(&month, Theme::Light);
    let document = parsed(&html);
    let pictures = named(&document, SVG, "svg");
    let charts = pictures
        .iter()
        .filter(|svg| svg.attribute("role") == Some("img"));
    assert_eq!(charts.clone().count(), 2);
    for chart in charts {
        for name in ["title", "desc"] {
            let found = chart.children().find(|n| n.has_tag_name((SVG, name)));
            assert!(text_of(found.unwrap()).len() > 20);
        }
        let section = chart
            .ancestors()
            .find(|n| n.has_tag_name((XHTML, "section")));
        let mut inside = section.unwrap().descendants();
        assert!(inside.any(|n| n.has_tag_name((XHTML, "table"))));
    }
    let others = pictures
        .iter()
        .filter(|svg| svg.attribute("role").is_none());
    for bar in others {
        assert_eq!(bar.attribute("aria-hidden"), Some("true"));
    }
    let rows = |id: &str| {
        let section = document
            .descendants()
            .find(|n| n.attribute("id") == Some(id));
        let rows = section.unwrap().descendants();
        let rows = rows.filter(|n| n.has_tag_name((XHTML, "tbody")));
        rows.flat_map(|body| body.children())
            .filter(|n| n.has_tag_name((XHTML, "tr")))
            .map(text_of)
            .collect::<Vec<String>>()
    };
    assert_eq!(rows("ascents").len(), month.ascents);
    assert_eq!(rows("levels").len(), 4);
    assert_eq!(rows("requirements").len(), month.requirements.len());
    // By the table 180 gpm and 8 K are allowed at 500 hPa: 76.5 gpm are within, 8.5 K outside.
    let five = rows("levels")
        .into_iter()
        .find(|row| row.starts_with("500"))
        .unwrap();
    assert!(
        five.contains("+8.5*") && !five.contains("76*") && !five.contains("77*"),
        "{five}"
    );
}

#[test]
fn the_policy_allows_the_style_and_nothing_else() {
    let html = page(&month(&records("7")), Theme::Auto);
    let document = parsed(&html);
    let policy = document
        .descendants()
        .find(|n| n.attribute("http-equiv") == Some("Content-Security-Policy"))
        .and_then(|n| n.attribute("content"))
        .unwrap();
    let (_, style) = html.split_once("<style>").unwrap();
    let (style, _) = style.split_once("</style>").unwrap();
    let digest = STANDARD.encode(Sha256::digest(style.as_bytes()));
    assert_eq!(
        policy,
        format!(
            "default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
        )
    );
}

/// What a sheet calls a batch is text on the page, in the text, and in the table.
#[test]
fn hostile_names_are_text() {
    let name = "\"><script>alert(1)</script>\u{1b}[31m\n=1,2";
    let month = month(&records(name));
    let html = page(&month, Theme::Auto);
    let document = parsed(&html);
    assert!(named(&document, XHTML, "script").is_empty());
    assert!(!html.contains('\u{1b}'));
    let shown = month.to_string();
    assert!(!shown.contains('\u{1b}') && shown.contains("<script>"));
}

#[cfg(all(unix, feature = "spool"))]
mod command {
    use std::path::Path;

    use super::*;
    use crate::support::{run, warmer_flight};

    /// The invented winter flight of another day, its temperature at 600 to 400 hPa warmer.
    fn put(folder: &Path, name: &str, day: u8, hour: u8, warmer_k: f64) {
        fs::write(folder.join(format!("{name}.csv")), warmer_flight(warmer_k)).unwrap();
        let sheet = fs::read_to_string("samples/winter_jet.toml").unwrap();
        let release = format!("2021-01-{day}T{:02}:23:40Z", (hour + 23) % 24);
        let release = match hour {
            0 => release.replace(&format!("-{day}T"), &format!("-{:02}T", day - 1)),
            _ => release,
        };
        let sheet = sheet.replace("2031-01-15T11:23:40Z", &release).replace(
            "2031-01-15T12:00:00Z",
            &format!("2021-01-{day}T{hour:02}:00:00Z"),
        );
        fs::write(folder.join(format!("{name}.toml")), sheet).unwrap();
    }

    const SCHEDULE: &str =
        "[schedule]\nhours = [0, 12]\nmax_age_h = 1000000\ncontinuity = \"hold\"\n";

    fn place() -> tempfile::TempDir {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path();
        fs::create_dir(folder.join("in")).unwrap();
        put(&folder.join("in"), "a", 15, 12, 0.0);
        fs::write(folder.join("station.toml"), SCHEDULE).unwrap();
        place
    }

    const SPOOL: [&str; 12] = [
        "spool",
        "--in",
        "in",
        "--out",
        "out",
        "--sheet",
        "station.toml",
        "--once",
        "--settle",
        "0",
        "--to",
        "text,bufr",
    ];

    fn issue(folder: &Path) -> (i32, String, String) {
        run(folder, &SPOOL, "")
    }

    fn summary(folder: &Path, more: &[&str]) -> (i32, String, String) {
        let args = ["spool", "--summary", "2021-01", "--out", "out"];
        run(folder, &[&args[..], more].concat(), "")
    }

    fn document(folder: &Path, more: &[&str]) -> serde_json::Value {
        let (code, out, errors) = summary(folder, &[&["--to", "json"][..], more].concat());
        assert_eq!(code, 0, "{errors}");
        serde_json::from_str(&out).unwrap()
    }

    const WITH: [&str; 2] = ["--sheet", "station.toml"];

    /// A flight by the spool, one by hand, a correction of each kind: 15 January 12 UTC was
    /// corrected in its surface temperature, which is in one part alone.
    #[test]
    fn book_and_folder_are_one_month() {
        let place = place();
        let folder = place.path();
        assert_eq!(issue(folder).0, 0);
        put(folder, "b", 16, 12, 0.0);
        let by_hand = [
            "encode",
            "b.csv",
            "--sheet",
            "b.toml",
            "-q",
            "--to",
            "text,json",
            "-o",
            "out",
        ];
        let (code, _, errors) = run(folder, &by_hand, "");
        assert_eq!(code, 0, "{errors}");
        let sheet = fs::read_to_string(folder.join("in/done/a.toml")).unwrap();
        fs::write(
            folder.join("corrected.toml"),
            sheet.replace("temperature_c = 4.5", "temperature_c = 5.5"),
        )
        .unwrap();
        let correct = [
            "encode",
            "in/done/a.csv",
            "--sheet",
            "corrected.toml",
            "-q",
            "--correct",
            "CCA",
            "--was",
            "out/0-20000-0-99011_202101151200_temp",
            "--to",
            "text,bufr",
            "-o",
            "out",
        ];
        let (code, _, errors) = run(folder, &correct, "");
        assert_eq!(code, 0, "{errors}");
        let month = document(folder, &WITH);
        assert_eq!(month["ascents"], 2);
        assert_eq!(month["by_hand"], 1);
        assert_eq!(month["standard_times"]["reported"]["count"], 2);
        assert_eq!(month["standard_times"]["reported"]["of"], 62);
        assert_eq!(month["stations"]["0-20000-0-99011"], 2);
        let corrections = month["corrections"].as_object().unwrap();
        assert_eq!(
            corrections.values().filter_map(|n| n.as_u64()).sum::<u64>(),
            1
        );
        assert!(!corrections.contains_key("unknown"), "{corrections:?}");
        // Both flights have the same rows: the means have two values and no spread.
        let levels = month["levels"].as_array().unwrap();
        assert!(levels.len() > 10);
        for level in levels {
            let height = &level["height_gpm"]["now"];
            assert_eq!(height["count"], 2, "{level}");
            assert!(height["deviation"].as_f64().unwrap() < 4.0, "{level}");
        }
        let validator = jsonschema::draft202012::new(&fivefig::verify::month::schema()).unwrap();
        assert!(validator.is_valid(&month));
        // The other forms, and a file.
        let (_, csv, _) = summary(folder, &["--sheet", "station.toml", "--to", "csv"]);
        let mut reader = csv::Reader::from_reader(csv.as_bytes());
        assert_eq!(
            reader.headers().unwrap(),
            vec!["of", "which", "figure", "value"]
        );
        let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        let has = |row: [&str; 4]| rows.iter().any(|one| *one == row.to_vec());
        assert!(has(["month", "2021-01", "ascents", "2"]));
        assert!(has(["hour", "12", "reported", "2"]));
        let (code, out, _) = summary(folder, &["--to", "html", "-o", "month.html"]);
        assert_eq!((code, out.as_str()), (0, ""));
        let html = fs::read_to_string(folder.join("month.html")).unwrap();
        assert!(html.contains("2021-01, 0-20000-0-99011"));
        let (_, out, _) = summary(folder, &[]);
        assert!(out.contains("no schedule is given"), "{out}");
        // A month without anything.
        let args = [
            "spool",
            "--summary",
            "2021-05",
            "--out",
            "out",
            "--to",
            "json",
        ];
        let (code, out, _) = run(folder, &args, "");
        let empty: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert_eq!((code, &empty["ascents"]), (0, &0.into()));
    }

    /// What cannot be read is a finding that names it; the rest is added up.
    #[test]
    fn damage_does_not_stop_the_month() {
        let place = place();
        let folder = place.path();
        assert_eq!(issue(folder).0, 0);
        put(&folder.join("in"), "b", 16, 0, 0.0);
        put(&folder.join("in"), "c", 16, 12, 0.0);
        assert_eq!(issue(folder).0, 0);
        let name = |time: &str| folder.join(format!("out/0-20000-0-99011_{time}_temp"));
        fs::write(name("202101160000").join("sounding.bufr"), "BUFR").unwrap();
        fs::remove_dir_all(name("202101161200")).unwrap();
        let book = folder.join("out/spool/book.csv");
        let mut text = fs::read_to_string(&book).unwrap();
        text.push_str("4,never,flight\n5,2021-01-17T00:00:00Z,lunch");
        text.push_str(&",".repeat(25));
        text.push_str("\n6,torn");
        fs::write(&book, text).unwrap();
        fs::create_dir_all(folder.join("out/handover")).unwrap();
        fs::write(folder.join("out/handover/journal.jsonl"), "{}\n{}\n").unwrap();
        let (code, out, errors) = summary(folder, &WITH);
        assert_eq!(code, 0, "{errors}");
        assert!(out.contains("flights issued                    3"), "{out}");
        for found in [
            "out/spool/book.csv:5",
            "out/spool/book.csv:6",
            "out/0-20000-0-99011_202101160000_temp",
            "1 flight of the book without an issue in the folder, the first of them 0-20000-0-99011_202101161200_temp",
            "what was handed over is not counted",
        ] {
            assert!(errors.contains(found), "{found}: {errors}");
        }
        assert!(!errors.contains("book.csv:7"), "{errors}");
        let month = document(folder, &WITH);
        assert_eq!(month["levels"][5]["height_gpm"]["now"]["count"], 1);
        // Without the book the issues are what there is.
        fs::remove_file(&book).unwrap();
        let (code, out, errors) = summary(folder, &WITH);
        assert_eq!(code, 0, "{errors}");
        assert!(out.contains("flights issued                    2"), "{out}");
        assert!(errors.contains("there is no flight book"), "{errors}");
    }

    #[test]
    fn what_is_no_month_or_no_folder_is_reported() {
        let place = place();
        let folder = place.path();
        assert_eq!(issue(folder).0, 0);
        fs::create_dir(folder.join("empty")).unwrap();
        for (args, code, what) in [
            (
                &["--summary", "2021-1", "--out", "out"][..],
                2,
                "is not a month; write it as 2031-01",
            ),
            (
                &["--summary", "2021-01", "--out", "empty"],
                3,
                "neither a flight book",
            ),
            (
                &["--summary", "2021-01", "--out", "out", "--to", "bufr"],
                2,
                "text, csv, json or html",
            ),
            (
                &["--summary", "2021-01", "--out", "out", "--to", "text,csv"],
                2,
                "text, csv, json or html",
            ),
            (
                &["--in", "in", "--out", "out", "--to", "csv"],
                2,
                "csv is a form of the month",
            ),
            (&["--in", "in", "--out", "out", "-o", "x"], 2, "--summary"),
            (&["--out", "out", "--release", "a.csv"], 2, "--in"),
            (
                &["--in", "in", "--out", "empty", "--release", "a.csv"],
                3,
                "no spool has issued",
            ),
            (
                &["--in", "in", "--out", "out", "--release", "a.csv"],
                2,
                "no refused file of that name",
            ),
        ] {
            let (found, _, errors) = run(folder, &[&["spool"][..], args].concat(), "");
            assert_eq!(found, code, "{args:?}: {errors}");
            assert!(errors.contains(what), "{args:?}: {errors}");
        }
    }

    /// From 16 January the station has another identifier: without a sheet both are added up,
    /// with the sheet of one its own.
    #[test]
    fn a_station_that_changed_is_reported() {
        let place = place();
        let folder = place.path();
        assert_eq!(issue(folder).0, 0);
        put(&folder.join("in"), "b", 16, 12, 0.0);
        let sheet = fs::read_to_string(folder.join("in/b.toml")).unwrap();
        let sheet = sheet
            .replace("99011", "99012")
            .replace("wmo_number = 11", "wmo_number = 12");
        fs::write(folder.join("in/b.toml"), &sheet).unwrap();
        fs::write(folder.join("new.toml"), sheet).unwrap();
        assert_eq!(issue(folder).0, 0);
        let (_, out, errors) = summary(folder, &[]);
        assert!(out.contains("flights issued                    2"), "{out}");
        assert!(
            errors.contains("several stations (0-20000-0-99011, 0-20000-0-99012)"),
            "{errors}"
        );
        let (_, out, errors) = summary(folder, &["--sheet", "new.toml"]);
        assert!(out.contains("flights issued                    1"), "{out}");
        let other =
            "1 standard time of 0-20000-0-99011 not counted: the sheet is that of 0-20000-0-99012";
        assert!(errors.contains(other), "{errors}");
    }

    /// Held, looked at, released: issued once with its warnings, and entered as such.
    #[test]
    fn a_held_flight_is_released() {
        let place = place();
        let folder = place.path();
        assert_eq!(issue(folder).0, 0);
        put(&folder.join("in"), "b", 16, 12, 17.0);
        assert_eq!(issue(folder).0, 1);
        let reason = folder.join("in/refused/b.csv.reason.txt");
        let text = fs::read_to_string(&reason).unwrap();
        assert!(text.contains("fivefig spool --release b.csv"), "{text}");
        let month = document(folder, &WITH);
        assert_eq!(
            (&month["ascents"], &month["refused"]["continuity"]),
            (&1.into(), &1.into())
        );
        assert_eq!(month["batches"][0]["codes"]["continuity-temperature"], 1);
        // Moved back without a release it is held again.
        for ending in ["csv", "toml"] {
            let (from, to) = (format!("in/refused/b.{ending}"), format!("in/b.{ending}"));
            fs::rename(folder.join(from), folder.join(to)).unwrap();
        }
        fs::remove_file(&reason).unwrap();
        assert_eq!(issue(folder).0, 1);
        let release = ["spool", "--release", "b.csv", "--in", "in", "--out", "out"];
        // What has changed since is not what was held, and nothing is moved.
        let profile = folder.join("in/refused/b.csv");
        let rows = fs::read_to_string(&profile).unwrap();
        fs::write(&profile, format!("{rows}\n")).unwrap();
        let (code, _, errors) = run(folder, &release, "");
        assert_eq!(code, 2);
        assert!(
            errors.contains("b.csv: profile or sheet have changed since"),
            "{errors}"
        );
        fs::write(&profile, &rows).unwrap();
        // Another file of the name is not written over.
        fs::write(folder.join("in/b.toml"), "other").unwrap();
        let (code, _, errors) = run(folder, &release, "");
        assert_eq!(code, 3);
        assert!(errors.contains("another sheet of that name"), "{errors}");
        fs::remove_file(folder.join("in/b.toml")).unwrap();
        let (code, out, errors) = run(folder, &release, "");
        assert_eq!(
            (code, out.as_str()),
            (0, "in/b.csv: released; the spool issues it\n"),
            "{errors}"
        );
        assert!(!reason.exists() && !profile.exists());
        let (code, out, errors) = issue(folder);
        assert_eq!(code, 0, "{errors}");
        assert_eq!(out, "out/0-20000-0-99011_202101161200_temp\n");
        assert!(errors.contains("released at 2"), "{errors}");
        let journal = fs::read_to_string(folder.join("out/spool/journal.jsonl")).unwrap();
        let entered = |line: &str| {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            let released = line["line"]["released"].as_str().unwrap_or_default().len();
            line["kind"] == "flight" && released == 20
        };
        assert_eq!(
            journal.lines().filter(|line| entered(line)).count(),
            1,
            "{journal}"
        );
        let orders = fs::read_dir(folder.join("out/spool/released")).unwrap();
        assert_eq!(orders.count(), 0);
        let month = document(folder, &WITH);
        assert_eq!(
            (&month["ascents"], &month["released"]),
            (&2.into(), &1.into())
        );
        assert_eq!(month["codes"]["continuity-temperature"], 1);
        // A second release has nothing to release.
        let (code, _, errors) = run(folder, &release, "");
        assert_eq!(code, 3, "{errors}");
        // What was refused for another reason is not held.
        fs::write(
            folder.join("in/bad.csv"),
            "time_s,pressure_hpa\n0,1000\n1,999\n",
        )
        .unwrap();
        fs::copy(folder.join("in/done/a.toml"), folder.join("in/bad.toml")).unwrap();
        assert_eq!(issue(folder).0, 1);
        let bad = [
            "spool",
            "--release",
            "bad.csv",
            "--in",
            "in",
            "--out",
            "out",
        ];
        let (code, _, errors) = run(folder, &bad, "");
        assert_eq!(code, 2);
        assert!(errors.contains("bad.csv: it was refused ("), "{errors}");
    }
}
