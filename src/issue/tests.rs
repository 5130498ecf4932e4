//! Issues: names, folders, and what a correction carries.

use std::fs;
use std::path::Path;

use super::folder::{self, FolderError, Name};
use super::outputs::{self, Earlier, IssueError, Options, Output, Wanted};
use super::sent;
use super::{Ascent, Flight, NoCorrection, Which};
use crate::forms::text::Bbb;
use crate::input::sheet::Source;
use crate::model::{Form, Part, Reach};

fn flight(more: &str) -> Flight {
    loaded("winter_jet", more)
        .code(Form::Temp, Reach::Whole)
        .unwrap()
}

/// A sample with more in its sheet.
fn loaded(name: &str, more: &str) -> Ascent {
    let text = fs::read_to_string(format!("samples/{name}.toml")).unwrap();
    let rows = fs::read(format!("samples/{name}.csv")).unwrap();
    let sheets = [
        Source {
            name: "sample.toml",
            text: &text,
        },
        Source {
            name: "more.toml",
            text: more,
        },
    ];
    Ascent::read(&rows, name, Which::default(), &sheets).unwrap()
}

/// Any report, for tests of what does not depend on its levels.
pub(super) fn report() -> crate::model::Report {
    flight("").report
}

fn all() -> Wanted {
    Output::issued().collect()
}

fn cca() -> Options {
    Options {
        bbb: Bbb::new("CCA"),
        ..Options::default()
    }
}

fn earlier(flight: &Flight) -> Earlier {
    Earlier {
        name: "sent.txt".to_owned(),
        message: flight.message.clone(),
        report: flight.message.as_ref().unwrap().report(),
        last: None,
        of_early: 0,
    }
}

fn name(text: &str) -> Name {
    Name::parse(text).unwrap()
}

#[test]
fn a_name_is_station_standard_time_and_form() {
    let flight = flight("");
    let id = folder::id(&flight.report).unwrap();
    let made = Name::of(&id, &flight.report, Bbb::new("CCA").as_ref()).unwrap();
    // The sheet's WIGOS identifier and standard time.
    assert_eq!(made.to_string(), "0-20000-0-99011_203101151200_temp_CCA");
    assert_eq!(Name::parse(&made.to_string()), Some(made.clone()));
    assert_eq!(made.standard().unwrap().to_string(), "2031-01-15T12:00:00");
    assert_eq!(
        Name::parse("a_b_203101151200_pilot-nil").unwrap().id(),
        "a_b"
    );
    for bad in [
        "",
        "x",
        "a_203101151200",
        "a_20310115120_temp",
        "a_2031011512000_temp",
        "a_203101151200_wind",
        "_203101151200_temp",
        ".._203101151200_temp",
        "a_203101151200_temp_CCY",
        ".a_203101151200_temp.part0",
    ] {
        assert_eq!(Name::parse(bad), None, "{bad}");
    }
}

proptest::proptest! {
    /// Whatever can be an identifier comes back out of a name, and a name is one
    /// plain piece of a path.
    #[test]
    fn names_come_back(id in "[A-Za-z0-9][A-Za-z0-9._-]{0,63}", any in ".{0,80}") {
        let text = format!("{id}_203101151200_temp_CCB");
        let name = name(&text);
        proptest::prop_assert_eq!(name.id(), id);
        proptest::prop_assert_eq!(name.to_string(), text.clone());
        proptest::prop_assert_eq!(Path::new(&text).components().count(), 1);
        if let Some(name) = Name::parse(&any) {
            proptest::prop_assert_eq!(name.to_string(), any);
        }
    }
}

#[test]
fn what_is_no_identifier_becomes_no_name() {
    let report = flight("").report;
    for bad in [
        "",
        ".",
        "..",
        "../x",
        "a/b",
        "a\\b",
        "a b",
        "a\0b",
        "a\nb",
        "-a",
        ".a",
        "é",
        "a:b",
        &"a".repeat(65),
    ] {
        assert!(
            matches!(Name::of(bad, &report, None), Err(FolderError::Id(_))),
            "{bad:?}"
        );
    }
    assert!(Name::of(&"a".repeat(64), &report, None).is_ok());
}

#[test]
fn each_output_is_what_is_made_alone() {
    let flight = flight("");
    let made = outputs::make(&flight, &all(), &Options::default(), None).unwrap();
    assert_eq!(made.files.len(), 8);
    for (output, octets) in &made.files {
        let alone = outputs::one(&flight, *output, &Options::default())
            .unwrap()
            .value;
        assert_eq!(*octets, alone, "{output:?}");
    }
    let none = outputs::make(&flight, &Wanted::new(), &Options::default(), None);
    assert!(matches!(none, Err(IssueError::Nothing)));
}

#[test]
fn a_correction_carries_the_parts_that_changed() {
    let was = flight("");
    // Above 100 hPa only the end of the ascent: one significant level of Part D goes.
    let level = was.report.levels.iter().rev().find(|l| {
        let roles = l.roles;
        l.row.pressure_hpa.is_some_and(|p| p < 90.0)
            && roles.any(crate::model::Roles::SIG_TEMPERATURE)
            && !roles.any(crate::model::Roles::TOP_OF_WIND)
    });
    let p = level.unwrap().row.pressure_hpa.unwrap();
    let order =
        format!("[[level]]\naction = \"drop\"\npressure_hpa = {p}\nreason = \"invented\"\n");
    let now = flight(&order);
    let made = outputs::make(&now, &all(), &cca(), Some(&earlier(&was))).unwrap();
    let text = String::from_utf8(made.files[0].1.clone()).unwrap();
    assert!(
        text.starts_with("TTDD ") && !text.contains("TTAA"),
        "{text}"
    );
    let bulletin = String::from_utf8(made.files[1].1.clone()).unwrap();
    assert!(bulletin.contains("151200 CCA\r\r\n"), "{bulletin:?}");
    assert!(!made.differences.is_empty());
    // The update number of CCA is 1.
    let soundings = crate::input::bufr::soundings(&made.files[3].1, "x").value;
    assert_eq!(soundings[0].report.context.bufr.update, Some(1));
    // Nothing changed, and not the next letter.
    let same = outputs::make(&was, &all(), &cca(), Some(&earlier(&was)));
    assert!(
        matches!(same, Err(IssueError::NoCorrection(NoCorrection::Nothing))),
        "{same:?}"
    );
    let options = Options {
        bbb: Bbb::new("CCB"),
        ..Options::default()
    };
    let skipped = outputs::make(&now, &all(), &options, Some(&earlier(&was)));
    assert!(matches!(skipped, Err(IssueError::NotNext { .. })));
}

/// The entries of a folder, sorted.
fn entries(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn an_issue_is_written_atomically() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path();
    let name = name("x_203101151200_temp");
    // The second file cannot be written: it lies in a folder that is not there.
    let broken = folder::place(out, &name, &[("a.txt", b"a"), ("no/b.txt", b"b")]);
    assert!(matches!(broken, Err(FolderError::Io { .. })), "{broken:?}");
    assert_eq!(entries(out), Vec::<String>::new());
    let path = folder::place(out, &name, &[("a.txt", b"a"), ("b.txt", b"b")]).unwrap();
    assert_eq!(path, out.join("x_203101151200_temp"));
    assert_eq!(entries(&path), ["a.txt", "b.txt"]);
    // Again: refused, and the first is as it was.
    let again = folder::place(out, &name, &[("a.txt", b"other")]);
    assert!(matches!(again, Err(FolderError::Issued(_))), "{again:?}");
    assert_eq!(fs::read(path.join("a.txt")).unwrap(), b"a");
    assert_eq!(entries(out), ["x_203101151200_temp"]);
}

#[test]
fn what_stands_in_the_place_of_an_issue_stays() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path();
    fs::create_dir(out.join("empty_203101151200_temp")).unwrap();
    fs::write(out.join("file_203101151200_temp"), "ours").unwrap();
    for id in ["empty", "file"] {
        let name = name(&format!("{id}_203101151200_temp"));
        let placed = folder::place(out, &name, &[("a.txt", b"a")]);
        assert!(matches!(placed, Err(FolderError::Issued(_))), "{placed:?}");
    }
    assert_eq!(
        fs::read(out.join("file_203101151200_temp")).unwrap(),
        b"ours"
    );
    let none = folder::place(&out.join("none"), &name("a_203101151200_temp"), &[]);
    assert!(matches!(none, Err(FolderError::Io { .. })), "{none:?}");
}

#[test]
fn what_a_crash_left_does_no_harm_and_goes() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path();
    for left in [
        ".x_203101151200_temp.part0",
        ".x_203101151200_temp.part7",
        ".y_203101151200_temp.part0",
        ".x_203101151200_temp.partial",
    ] {
        fs::create_dir(out.join(left)).unwrap();
        fs::write(out.join(left).join("text.txt"), "half").unwrap();
    }
    assert_eq!(folder::issued(out, 9).unwrap(), []);
    folder::place(out, &name("x_203101151200_temp"), &[("text.txt", b"whole")]).unwrap();
    // Those of another name are not touched.
    assert_eq!(
        entries(out),
        [
            ".x_203101151200_temp.partial",
            ".y_203101151200_temp.part0",
            "x_203101151200_temp"
        ]
    );
    let found = folder::issued(out, 9).unwrap();
    assert_eq!(found.len(), 1);
    assert!(found[0].at_s.unwrap() > 1_600_000_000);
}

#[test]
fn of_many_at_once_one_issues() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path();
    let name = name("x_203101151200_temp");
    let results: Vec<_> = std::thread::scope(|scope| {
        let start = std::sync::Arc::new(std::sync::Barrier::new(8));
        let threads: Vec<_> = (0..8_u8)
            .map(|k| {
                let (name, start) = (&name, start.clone());
                scope.spawn(move || {
                    start.wait();
                    folder::place(out, name, &[("a.txt", &[k; 1000]), ("b.txt", &[k; 1000])])
                })
            })
            .collect();
        threads.into_iter().map(|t| t.join().unwrap()).collect()
    });
    let won = results.iter().position(Result::is_ok).unwrap();
    for (k, result) in results.iter().enumerate() {
        if k != won {
            assert!(matches!(result, Err(FolderError::Issued(_))), "{result:?}");
        }
    }
    let won = [u8::try_from(won).unwrap(); 1000];
    for file in ["a.txt", "b.txt"] {
        let path = out.join("x_203101151200_temp").join(file);
        assert_eq!(fs::read(path).unwrap(), won);
    }
    assert_eq!(entries(out), ["x_203101151200_temp"]);
}

/// Text after text: the second correction is compared with the first report with the
/// parts of the first correction.
#[test]
fn corrections_are_taken_together() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path();
    let base = name("x_203101151200_temp");
    let put = |name: &Name, text: &str| {
        folder::place(out, name, &[("text.txt", text.as_bytes())]).unwrap();
    };
    assert!(sent::earlier(out, &base).unwrap().is_none());
    // Invented.
    let a = "TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999=\n";
    let b = "TTBB 15118 99011 00004 04430 11876 03105=\n";
    let a2 = "TTAA 15110 99011 99004 04630 23006 00119 04226 22507 88999 77999=\n";
    put(&base, &format!("{a}\n{b}"));
    put(&base.with(Bbb::new("CCA")), a2);
    // A letter too far does not count.
    put(&base.with(Bbb::new("CCC")), a);
    let earlier = sent::earlier(out, &base.with(Bbb::new("CCA")))
        .unwrap()
        .unwrap();
    assert_eq!(earlier.last, Bbb::new("CCA"));
    let message = earlier.message.unwrap();
    assert_eq!(message.to_string(), format!("{a2}\n{b}"));
    assert_eq!(earlier.report, message.report());
}

/// WMO-No. 386 Part II, BBB: RRA is the first delayed bulletin, RRB the second; there is
/// none after RRX.
#[test]
fn letters_of_late_reports_follow_each_other() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path();
    let base = name("x_203101151200_temp");
    let late = || folder::late(out, &base).map(|letter| letter.as_str().to_owned());
    let put = |text: &str| fs::create_dir(out.join(text)).unwrap();
    assert_eq!(late().as_deref(), Some("RRA"));
    assert_eq!(folder::first(out, &base), None);
    assert!(!folder::nil_is_out(out, &base));
    // Of another time, station or family.
    put("x_203101151800_temp_RRC");
    put("y_203101151200_temp_RRC");
    put("x_203101151200_pilot_RRC");
    put("x_203101151200_pilot-nil");
    assert_eq!(late().as_deref(), Some("RRA"));
    assert!(!folder::nil_is_out(out, &base));
    put("x_203101151200_temp-nil");
    assert!(folder::nil_is_out(out, &base));
    put("x_203101151200_temp-to100_RRA");
    assert_eq!(late().as_deref(), Some("RRB"));
    assert_eq!(folder::first(out, &base), None);
    put("x_203101151200_temp_RRB");
    assert_eq!(folder::first(out, &base), Some(base.with(Bbb::new("RRB"))));
    assert_eq!(late().as_deref(), Some("RRC"));
    put("x_203101151200_temp_RRX");
    assert_eq!(late(), None);
    // Without a letter it is the first of all.
    put("x_203101151200_temp");
    assert_eq!(
        folder::first(out, &base.with(Bbb::new("CCA"))),
        Some(base.clone())
    );
    let times = base.of_the_same_time().map(|name| name.to_string());
    assert!(
        times
            .collect::<Vec<_>>()
            .contains(&"x_203101151200_pilot-nil".to_owned())
    );
}

/// Parts A and B of an invented report; the sample's own.
const SENT: &str = "\
TTAA 15111 99011 99004 04430 23006 00119 04226 22507 92748 00306
23512 85421 01756 25015 70946 09562 25518 50547 24158 26037 40706
35947 26537 30900 50756 27549 25017 51960 28061 20162 52771 29046
15347 56571 29528 10598 66969 30016 88280 53957 28057 77262 28064
41711 77432 26046 40815 31313 49008 81123=

TTBB 15118 99011 00004 04430 11876 03105 22842 01158 33642 13164
44441 30756 55280 53957 66226 51566 77162 54572 88100 66969 21212
00004 23006 11690 25519 22432 26046 33363 27028 44262 28064 55155
29529 66100 30016 31313 49008 81123 41414 65470=
";

/// What a desk corrects in an early message: a standard level, tropopause, maximum wind,
/// Id, the surface or a significant level by more than one step of the code, worked by
/// hand from the code forms (WMO-No. 306, FM 35): temperatures have a figure for every
/// second tenth, so 014 to 016 is one step and 014 to 018 two; hhh is in gpm below 500
/// hPa and in tens above; a wind has steps of 5° and 1 m/s.
#[test]
fn what_matters_is_more_than_a_step_of_the_code() {
    let table = [
        // 850 hPa, 1.7 °C below zero against 1.9 and 2.1; 1421 gpm against 1422, 1423.
        ("85421 01756", "85421 01956", ""),
        ("85421 01756", "85421 02156", "A"),
        ("85421 01756", "85422 01756", ""),
        ("85421 01756", "85423 01756", "A"),
        // Its depression, 6 °C against 7 and 8; missing.
        ("85421 01756 25015", "85421 01757 25015", ""),
        ("85421 01756 25015", "85421 01758 25015", "A"),
        ("85421 01756 25015", "85421 017// 25015", "A"),
        // Its wind, 250° 15 m/s.
        ("01756 25015", "01756 25516", ""),
        ("01756 25015", "01756 26015", "A"),
        ("01756 25015", "01756 25017", "A"),
        // 300 hPa, 9000 gpm against 9010 and 9020.
        ("30900", "30901", ""),
        ("30900", "30902", "A"),
        // The surface in Part A: 1004 hPa against 1005 and 1006.
        ("99004 04430", "99005 04430", ""),
        ("99004 04430", "99006 04430", "A"),
        ("99004 04430", "99004 04830", "A"),
        // The tropopause at 280 hPa against 281 and 283, and none.
        ("88280", "88281", ""),
        ("88280", "88283", "A"),
        ("88280 53957 28057", "88999", "A"),
        // A maximum wind at 262 hPa, 64 m/s; its shear above, 11 m/s; one less.
        ("77262 28064", "77263 28065", ""),
        ("77262 28064", "77262 28066", "A"),
        ("41711", "41712", ""),
        ("41711", "417//", "A"),
        ("77432 26046 40815 ", "", "A"),
        // Id: wind up to 150 hPa.
        ("15111 99011 99004", "15111 99011 99004", ""),
        ("10598 66969 30016", "10598 66969 /////", "A"),
        // A significant level at 842 hPa against 843 and 844; without it; more of it.
        ("22842 01158", "22843 01158", ""),
        ("22842 01158", "22844 01158", "B"),
        ("22842 01158", "22842 01358", ""),
        ("22842 01158", "22842 01558", "B"),
        ("55155\n29529 66100 30016", "55100 30016", "B"),
        ("77162 54572 88100 66969 21212", "77100 66969 21212", "B"),
        // Clouds are of the sheet: no rounding moves them.
        ("65470", "55470", "B"),
        ("65470", "65470", ""),
    ];
    let was = crate::forms::text::parse(SENT).unwrap();
    for (from, to, wanted) in table {
        assert!(SENT.contains(from), "{from}");
        let text = SENT.replace(from, to);
        let now = crate::forms::text::parse(&text).unwrap_or_else(|e| panic!("{to}: {e}"));
        let parts = super::early::matters(&was, &now);
        let letters: String = parts.iter().map(|part| part.letter()).collect();
        assert_eq!(letters, wanted, "{from} → {to}");
    }
}

/// An issue into a folder.
fn put(out: &Path, name: &Name, made: &outputs::Outputs) {
    let files: Vec<_> = made.files().collect();
    folder::place(out, name, &files).unwrap();
}

/// The early message of the sample.
fn up_to_100() -> Flight {
    let loaded = loaded("winter_jet", "");
    loaded.code(Form::Temp, Reach::To100).unwrap()
}

/// The sample as an ascent that ended at its last row at or below 100 hPa, and its early
/// message, made when it had just passed.
fn ended() -> (Flight, Flight) {
    let mut loaded = loaded("winter_jet", "");
    let early = loaded.clone().code(Form::Temp, Reach::To100).unwrap();
    let pressure = |row: &crate::input::RawRow| row.pressure_hpa.unwrap();
    loaded.raw.rows.retain(|row| pressure(row) >= 100.0);
    (loaded.code(Form::Temp, Reach::Whole).unwrap(), early)
}

fn wanted(outputs: &[Output]) -> Wanted {
    outputs.iter().copied().collect()
}

fn text(made: &outputs::Outputs, output: Output) -> String {
    let (_, octets) = made.files.iter().find(|(o, _)| *o == output).unwrap();
    String::from_utf8(octets.clone()).unwrap()
}

/// The letters of the parts in a text.
fn letters(text: &str) -> Vec<&str> {
    let groups = text.split_ascii_whitespace();
    groups
        .filter(|group| group.len() == 4 && group.starts_with("TT"))
        .collect()
}

/// The whole path of letters: early message, its correction, the rest, and a correction
/// of the whole report. WMO-No. 386 Part II: CCA, CCB … under the same heading, so no
/// letter comes twice for Part A.
#[test]
fn after_an_early_message_the_rest_goes_out_and_letters_go_on() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path();
    let all = wanted(&[Output::Text, Output::Bulletin, Output::Bufr]);
    let plain = Options::default();
    let early = up_to_100();
    let id = folder::id(&early.report).unwrap();
    let early_name = Name::of(&id, &early.report, None).unwrap();
    let whole = flight("");
    let name = Name::of(&id, &whole.report, None).unwrap();
    assert_eq!(name.early(), Some(early_name.clone()));
    let remaining =
        |flight: &Flight| super::early::remaining(flight, out, &name, &all, &plain).unwrap();
    assert!(remaining(&whole).is_none());
    put(
        out,
        &early_name,
        &outputs::make(&early, &all, &plain, None).unwrap(),
    );

    // The same flight: C and D alone, without BBB; BUFR is whole.
    let found = remaining(&whole).unwrap();
    assert!(found.correction.is_none());
    let rest = found.rest.unwrap();
    assert_eq!(letters(&text(&rest, Output::Text)), ["TTCC", "TTDD"]);
    assert!(text(&rest, Output::Bulletin).starts_with("ULXX01 XXXX 151200\r\r\n"));
    let (_, octets) = rest.files.iter().find(|(o, _)| *o == Output::Bufr).unwrap();
    let soundings = crate::input::bufr::soundings(octets, "x").value;
    assert!(soundings[0].report.levels.len() > 4000);
    // A sheet may want everything again.
    assert!(remaining(&flight("[bulletin]\nrepeat_early = true")).is_none());
    // A table of practices may say which parts follow, of those that went out too.
    let after = |parts: &str| {
        let table = format!("form,practice,parts;temp,after_early,{parts}");
        remaining(&flight(&format!("[coding]\npractice = \"{table}\"")))
    };
    assert!(after("ABCD").is_none());
    let rest = after("ACD").unwrap().rest.unwrap();
    assert_eq!(
        letters(&text(&rest, Output::Text)),
        ["TTAA", "TTCC", "TTDD"]
    );
    let rest = after("C").unwrap().rest.unwrap();
    assert_eq!(letters(&text(&rest, Output::Text)), ["TTCC"]);

    // 1 K less at the surface: A and B as CCA, with nothing but its groups changed:
    // TTT of 4.5 °C is 044 and of 3.5 °C 034 (table 3931: an even figure is positive).
    let colder = flight("[surface]\ntemperature_c = 3.5");
    let found = remaining(&colder).unwrap();
    let (cca, correction) = found.correction.unwrap();
    assert_eq!(cca, early_name.with(Bbb::new("CCA")));
    let sent = text(&correction, Output::Text);
    assert_eq!(letters(&sent), ["TTAA", "TTBB"]);
    let was = early.message.as_ref().unwrap().to_string();
    let changed: Vec<(&str, &str)> = was
        .split_whitespace()
        .zip(sent.split_whitespace())
        .filter(|(a, b)| a != b)
        .collect();
    assert_eq!(changed.len(), 2, "{changed:?}");
    for (was, now) in changed {
        assert!(
            was.starts_with("044") && now.starts_with("034"),
            "{was} {now}"
        );
    }
    assert_eq!(correction.files.len(), 2, "no BUFR: the whole one follows");
    assert!(text(&correction, Output::Bulletin).contains("151200 CCA\r\r\n"));
    assert_eq!(
        letters(&text(found.rest.as_ref().unwrap(), Output::Text)),
        ["TTCC", "TTDD"]
    );
    put(out, &cca, &correction);
    // Once it is out, nothing is left to correct.
    let found = remaining(&colder).unwrap();
    assert!(found.correction.is_none());
    put(out, &name, &found.rest.unwrap());

    // Both together are the whole report, and the next letter is CCB.
    let earlier = sent::earlier(out, &name).unwrap().unwrap();
    assert_eq!(earlier.message, found.flight.message);
    assert_eq!(earlier.last, Bbb::new("CCA"));
    let early_again = sent::earlier(out, &early_name).unwrap().unwrap();
    assert_eq!(early_again.last, Bbb::new("CCA"));
    let ccb = Options {
        bbb: outputs::following(earlier.last.as_ref()),
        ..Options::default()
    };
    let now = flight("[surface]\ntemperature_c = 4.5")
        .after(&earlier)
        .unwrap();
    let made = outputs::make(&now, &all, &ccb, Some(&earlier)).unwrap();
    assert!(text(&made, Output::Bulletin).contains("151200 CCB\r\r\n"));
    assert_eq!(letters(&text(&made, Output::Text)), ["TTAA", "TTBB"]);
}

/// Of a sounding with nothing above 100 hPa all is out with its early message but BUFR.
#[test]
fn nothing_may_be_left_after_an_early_message() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path();
    let (ended, early) = ended();
    let id = folder::id(&ended.report).unwrap();
    let name = Name::of(&id, &ended.report, None).unwrap();
    let texts = wanted(&[Output::Text]);
    let made = outputs::make(&early, &texts, &Options::default(), None).unwrap();
    put(out, &name.early().unwrap(), &made);
    let found = |outputs: &[Output]| {
        let wanted = wanted(outputs);
        super::early::remaining(&ended, out, &name, &wanted, &Options::default()).unwrap()
    };
    let text_alone = found(&[Output::Text]).unwrap();
    assert!(text_alone.rest.is_none() && text_alone.parts.is_empty());
    let bufr = found(&[Output::Text, Output::Bufr]).unwrap().rest.unwrap();
    assert_eq!(bufr.files.len(), 1);
}

/// Parts that were not sent go along with a correction, but under headings without BBB.
#[test]
fn a_part_that_was_not_sent_is_no_correction() {
    let early = up_to_100();
    let was = Earlier {
        message: early.message.clone(),
        ..earlier(&early)
    };
    let now = flight("[surface]\ntemperature_c = 3.5")
        .after(&was)
        .unwrap();
    let mut options = cca();
    options.envelope.channel = Some(998);
    let made = outputs::make(&now, &wanted(&[Output::Bulletin]), &options, Some(&was)).unwrap();
    let text = text(&made, Output::Bulletin);
    let heads: Vec<&str> = text
        .split("\r\r\n")
        .filter(|line| line.contains(" XXXX ") || line.len() == 3)
        .collect();
    // The numbers go on over all four, 001 after 999.
    assert_eq!(
        heads,
        [
            "998",
            "USXX01 XXXX 151200 CCA",
            "999",
            "UKXX01 XXXX 151200 CCA",
            "001",
            "ULXX01 XXXX 151200",
            "002",
            "UEXX01 XXXX 151200",
        ]
    );
}

#[test]
fn some_parts_of_a_message() {
    let parts = |letters: &str| letters.chars().filter_map(Part::from_letter).collect();
    let mut some = flight("");
    outputs::only_parts(&mut some, &parts("DC")).unwrap();
    assert_eq!(
        letters(&some.message.as_ref().unwrap().to_string()),
        ["TTCC", "TTDD"]
    );
    let json = outputs::one(&some, Output::Json, &Options::default())
        .unwrap()
        .value;
    let read = crate::forms::json::read(&String::from_utf8(json).unwrap()).unwrap();
    let report = read[0].report(1).unwrap();
    assert_eq!(
        report.parts.keys().copied().collect::<Vec<_>>(),
        [Part::C, Part::D]
    );
    let mut early = up_to_100();
    let none = outputs::only_parts(&mut early, &parts("CD"));
    assert_eq!(
        none.unwrap_err().to_string(),
        "the message has no Part C or D: it has Part A and B"
    );
    assert_eq!(
        letters(&early.message.unwrap().to_string()),
        ["TTAA", "TTBB"]
    );
}

/// No NIL once a report of the station and time is out, corrected or late, but for a
/// reason, which is kept.
#[test]
fn nil_does_not_follow_a_report() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path();
    let nil = name("x_203101151200_temp-nil");
    let despite = |reason: Option<&str>| folder::nil_despite_report(out, &nil, reason);
    assert_eq!(despite(None).unwrap(), None);
    for other in [
        "x_203101151800_temp",
        "y_203101151200_temp",
        "x_203101151200_temp-nil",
    ] {
        fs::create_dir(out.join(other)).unwrap();
    }
    assert_eq!(despite(None).unwrap(), None);
    for report in ["temp-to100", "temp_RRB", "pilot", "temp"] {
        let path = out.join(format!("x_203101151200_{report}"));
        fs::create_dir(&path).unwrap();
        for reason in [None, Some(""), Some(" \n")] {
            let refused = despite(reason).unwrap_err();
            assert!(
                matches!(refused, FolderError::ReportOut(ref p) if *p == path),
                "{refused}"
            );
        }
        let kept = despite(Some(" sent for \n another station "))
            .unwrap()
            .unwrap();
        assert_eq!(
            kept,
            format!("NIL although x_203101151200_{report} is out: sent for another station\n")
        );
        fs::remove_dir(&path).unwrap();
    }
}

/// 1 K at the surface changes its two groups alone, where the limits still hold; a
/// choice that knows of no earlier message moves others as well. The sample of a ship:
/// 26.8 °C is 268, 27.8 °C 278 (table 3931).
#[test]
fn a_kelvin_at_the_surface_changes_the_surface() {
    let was = loaded("ship", "").code(Form::Temp, Reach::Whole).unwrap();
    let warmer = loaded("ship", "[surface]\ntemperature_c = 27.8");
    let anew = warmer.code(Form::Temp, Reach::Whole).unwrap();
    let now = anew.after(&earlier(&was)).unwrap();
    let groups = |flight: &Flight| -> Vec<String> {
        let message = flight.message.as_ref().unwrap();
        Part::ALL
            .iter()
            .filter_map(|&p| message.groups(p))
            .flatten()
            .collect()
    };
    let (was_groups, now_groups) = (groups(&was), groups(&now));
    assert_eq!(was_groups.len(), now_groups.len());
    let changed: Vec<_> = was_groups
        .iter()
        .zip(&now_groups)
        .filter(|(a, b)| a != b)
        .collect();
    assert_eq!(changed.len(), 2, "{changed:?}");
    for (a, b) in changed {
        assert!(a.starts_with("268") && b.starts_with("278"), "{a} {b}");
    }
    assert!(
        groups(&anew)
            .iter()
            .filter(|g| !was_groups.contains(g))
            .count()
            > 2
    );
    // Every limit holds, before and after rounding.
    for held in &now.fidelity.departures {
        for end in [&held.before_rounding, &held.after_rounding] {
            assert_eq!(end.outside, 0, "{held:?}");
        }
    }
}

/// What is read back from the text of every sample chooses the same levels again.
#[test]
fn nothing_is_corrected_where_nothing_changed() {
    for name in [
        "winter_jet",
        "tropical",
        "polar_night",
        "plateau",
        "gaps",
        "low_burst",
        "ship",
        "mobile",
        "drop",
        "twin_levels",
        "windless",
    ] {
        let was = loaded(name, "").code(Form::Temp, Reach::Whole).unwrap();
        let again = was.after(&earlier(&was)).unwrap();
        assert_eq!(again.message, was.message, "{name}");
    }
    let was = loaded("pilot", "").code(Form::Pilot, Reach::Whole).unwrap();
    assert_eq!(was.after(&earlier(&was)).unwrap().message, was.message);
}

/// 35.2.2: a row at 100.0 hPa is the surface of 100 hPa, so nothing of it is pending,
/// whether or not the file goes on.
#[test]
fn a_file_that_ends_at_100_hpa_lacks_nothing_there() {
    let mut loaded = loaded("winter_jet", "");
    loaded
        .raw
        .rows
        .retain(|row| row.pressure_hpa.unwrap() > 100.0);
    let last = loaded.raw.rows.last_mut().unwrap();
    last.pressure_hpa = Some(100.0);
    let t = last.temperature_c.unwrap();
    let flight = loaded.code(Form::Temp, Reach::To100).unwrap();
    let pending = |f: &crate::model::finding::Finding| f.code == "standard-surface-pending";
    assert!(
        !flight.findings.iter().any(pending),
        "{:?}",
        flight.findings
    );
    let surface = flight
        .report
        .levels
        .iter()
        .rev()
        .find(|l| l.row.pressure_hpa == Some(100.0));
    assert_eq!(surface.unwrap().row.temperature_c, Some(t));
}

/// What the invented winter flight is refused for, with a sheet more.
fn refused(more: &str) -> String {
    let text = fs::read_to_string("samples/winter_jet.toml").unwrap();
    let rows = fs::read("samples/winter_jet.csv").unwrap();
    let named = |name, text| Source { name, text };
    let sheets = [
        named("winter_jet.toml", text.as_str()),
        named("more.toml", more),
    ];
    let loaded = Ascent::read(&rows, "winter_jet.csv", Which::default(), &sheets);
    let coded = loaded.and_then(|loaded| loaded.code(Form::Temp, Reach::Whole));
    coded.map_or_else(|error| error.to_string(), |_| String::new())
}

#[test]
fn what_stands_against_a_report_stops_it() {
    assert_eq!(refused(""), "");
    // The sample begins at 51.25 N, 3.4 W.
    assert!(
        refused("[station]\nlongitude_deg = 3.4\n").starts_with(
            "winter_jet.csv: station.longitude_deg: the station is at 51.2500, 3.4000"
        )
    );
    // 1004.3 hPa without its first figure but one.
    let surface = refused("[surface]\npressure_hpa = 904.3\n");
    assert!(
        surface.contains(
            "is 1004.3 hPa by the first row and 904.3 hPa by the surface observation (+100.0 hPa)"
        ),
        "{surface}"
    );
    // The number is in the WIGOS identifier of the sample.
    assert_eq!(
        refused("[station]\nwmo_number = 12\n"),
        "winter_jet.toml:7:12: `station.wigos_id` ends in 99011, but wmo_block and wmo_number give \
         99012: an identifier 0-20000-0-NNNNN has the WMO number; correct one of them"
    );
    let order = "[[level]]\naction = \"force\"\npressure_hpa = 1050\nreason = \"a test\"\n";
    assert_eq!(
        refused(order).split(", 1004.3 to").next(),
        Some("winter_jet.csv: `level[1]`: 1050 hPa lies outside the flight")
    );
    // Geopotential that is said to be length, and the reverse, is not the file's.
    let kind = "[columns]\naltitude_m = { column = \"height_gpm\", unit = \"m\" }\n";
    let heights = refused(kind);
    assert!(
        heights.contains("under [profile] write height_kind = \"geopotential\""),
        "{heights}"
    );
    assert_eq!(
        refused(&format!(
            "{kind}[profile]\nheight_kind = \"geopotential\"\n"
        )),
        ""
    );
}

#[test]
fn the_same_message_comes_of_heights_of_either_name() {
    let kind = "[columns]\naltitude_m = { column = \"height_gpm\", unit = \"m\" }\n\
                [profile]\nheight_kind = \"geopotential\"\n";
    let text = |more| flight(more).message.unwrap().to_string();
    assert_eq!(text(kind), text(""));
}

#[test]
fn what_the_sheet_lacks_is_a_warning_and_comes_first() {
    let codes = |text: &str| {
        let rows = fs::read("samples/winter_jet.csv").unwrap();
        let sheets = [Source {
            name: "s.toml",
            text,
        }];
        let loaded = Ascent::read(&rows, "winter_jet.csv", Which::default(), &sheets).unwrap();
        let flight = loaded.code(Form::Temp, Reach::Whole).unwrap();
        let warnings = flight.findings.into_iter();
        let warnings = warnings.filter(|f| f.severity > crate::model::finding::Severity::Info);
        warnings.map(|f| f.to_string()).collect::<Vec<_>>()
    };
    let least = "[station]\nwmo_block = 99\nwmo_number = 11\n[flight]\n\
                 release = 2031-01-15T11:23:40Z\nstandard_time = 2031-01-15T12:00:00Z\n";
    assert_eq!(
        codes(least),
        [
            "warning: surface: no sheet gives a surface observation; the first row of the profile is coded as the surface level (give pressure_hpa, temperature_c, humidity_pct, wind_dir_deg and wind_speed_ms under [surface]) [WMO-No. 306, 35.2.1 and 32.2]",
            "warning: equipment.radiosonde: no sheet gives radiosonde, radiation, tracking, measuring; coded as solidi (give the code figures under [equipment]) [WMO-No. 306, FM 32 to 38, a4 and section 7]",
        ]
    );
    let given = "[surface]\npressure_hpa = 1004.3\n[equipment]\nradiosonde = 90\nradiation = 4\n\
                 tracking = 8\n";
    let lacks = codes(&format!("{least}{given}"));
    assert_eq!(lacks.len(), 1);
    assert!(lacks[0].starts_with("warning: equipment.measuring: no sheet gives measuring;"));
}

/// Positions from the wind are made only where something tells them; the levels and their text
/// do not depend on them.
#[cfg(feature = "cli")]
#[test]
fn text_needs_no_positions() {
    use crate::profile::Positions;

    for name in ["winter_jet", "tropical", "low_burst"] {
        let coded = |positions| {
            let mut ascent = loaded(name, "");
            for row in &mut ascent.raw.rows {
                (row.latitude_deg, row.longitude_deg) = (None, None);
            }
            ascent
                .into_coded(Form::Temp, Reach::Whole, positions)
                .unwrap()
        };
        let (with, without) = (coded(Positions::FromWind), coded(Positions::Unasked));
        let placed = |flight: &Flight| {
            let levels = flight.report.levels.iter();
            levels.filter(|level| level.row.place.is_some()).count()
        };
        assert!(placed(&with) > placed(&without) + 10, "{name}");
        assert!(placed(&without) <= 1, "{name}: the station's alone");
        assert_eq!(with.message, without.message, "{name}");
        let unlike = |flight: &Flight| {
            let found = flight.findings.iter();
            let others = found.filter(|f| !f.is(crate::model::finding::Code::PositionFromWind));
            others.cloned().collect::<Vec<_>>()
        };
        assert_eq!(unlike(&with), unlike(&without), "{name}");
    }
    let made = [Output::Text, Output::Bulletin, Output::Json, Output::Bufr];
    let made = made.map(|output| output.positions() == Positions::FromWind);
    assert_eq!(made, [false, false, true, true]);
}
