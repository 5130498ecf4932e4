//! Issues: names, folders, and what a correction carries.

use std::fs;
use std::path::Path;

use super::folder::{self, FolderError, Name};
use super::issue::{self, Earlier, IssueError, Manner, Output, Wanted};
use super::{Flight, Loaded, NoCorrection, Which};
use crate::code::Bbb;
use crate::sheet::Source;
use crate::sounding::{Form, Reach};

fn flight(more: &str) -> Flight {
    let text = fs::read_to_string("samples/winter_jet.toml").unwrap();
    let rows = fs::read("samples/winter_jet.csv").unwrap();
    let sheets = [
        Source {
            name: "winter_jet.toml",
            text: &text,
        },
        Source {
            name: "more.toml",
            text: more,
        },
    ];
    let loaded = Loaded::read(&rows, "winter_jet.csv", Which::default(), &sheets).unwrap();
    loaded.code(Form::Temp, Reach::Whole).unwrap()
}

fn all() -> Wanted {
    Output::ALL.into_iter().collect()
}

fn cca() -> Manner {
    Manner {
        bbb: Bbb::new("CCA"),
        ..Manner::default()
    }
}

fn earlier(flight: &Flight) -> Earlier {
    Earlier {
        name: "sent.txt".to_owned(),
        message: flight.message.clone(),
        report: flight.message.as_ref().unwrap().report(),
        last: None,
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
    let made = issue::make(&flight, &all(), &Manner::default(), None).unwrap();
    assert_eq!(made.files.len(), 5);
    for (output, octets) in &made.files {
        let (alone, _) = issue::one(&flight, *output, &Manner::default()).unwrap();
        assert_eq!(*octets, alone, "{output:?}");
    }
    let none = issue::make(&flight, &Wanted::new(), &Manner::default(), None);
    assert!(matches!(none, Err(IssueError::Nothing)));
}

#[test]
fn a_correction_carries_the_parts_that_changed() {
    let was = flight("");
    // Above 100 hPa only the end of the ascent: one significant level of Part D goes.
    let level = was.report.levels.iter().rev().find(|l| {
        let roles = l.roles;
        l.row.pressure_hpa.is_some_and(|p| p < 90.0)
            && roles.any(crate::sounding::Roles::SIG_TEMPERATURE)
            && !roles.any(crate::sounding::Roles::TOP_OF_WIND)
    });
    let p = level.unwrap().row.pressure_hpa.unwrap();
    let order =
        format!("[[level]]\naction = \"drop\"\npressure_hpa = {p}\nreason = \"invented\"\n");
    let now = flight(&order);
    let made = issue::make(&now, &all(), &cca(), Some(&earlier(&was))).unwrap();
    let text = String::from_utf8(made.files[0].1.clone()).unwrap();
    assert!(
        text.starts_with("TTDD ") && !text.contains("TTAA"),
        "{text}"
    );
    let bulletin = String::from_utf8(made.files[1].1.clone()).unwrap();
    assert!(bulletin.contains("151200 CCA\r\r\n"), "{bulletin:?}");
    assert!(!made.differences.is_empty());
    // The update number of CCA is 1.
    let (soundings, _) = crate::source::bufr::soundings(&made.files[3].1, "x");
    assert_eq!(soundings[0].report.context.bufr.update, Some(1));
    // Nothing changed, and not the next letter.
    let same = issue::make(&was, &all(), &cca(), Some(&earlier(&was)));
    assert!(
        matches!(same, Err(IssueError::NoCorrection(NoCorrection::Nothing))),
        "{same:?}"
    );
    let manner = Manner {
        bbb: Bbb::new("CCB"),
        ..Manner::default()
    };
    let skipped = issue::make(&now, &all(), &manner, Some(&earlier(&was)));
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
fn an_issue_is_there_whole_or_not_at_all() {
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

/// Text after text: the second correction is held against the first report with the
/// parts of the first correction.
#[test]
fn corrections_are_taken_together() {
    let out = tempfile::tempdir().unwrap();
    let out = out.path();
    let base = name("x_203101151200_temp");
    let put = |name: &Name, text: &str| {
        folder::place(out, name, &[("text.txt", text.as_bytes())]).unwrap();
    };
    assert!(folder::earlier(out, &base).unwrap().is_none());
    // Invented.
    let a = "TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999=\n";
    let b = "TTBB 15118 99011 00004 04430 11876 03105=\n";
    let a2 = "TTAA 15110 99011 99004 04630 23006 00119 04226 22507 88999 77999=\n";
    put(&base, &format!("{a}\n{b}"));
    put(&base.with(Bbb::new("CCA")), a2);
    // A letter too far does not count.
    put(&base.with(Bbb::new("CCC")), a);
    let earlier = folder::earlier(out, &base.with(Bbb::new("CCA")))
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

/// What the invented winter flight is refused for, with a sheet more.
fn refused(more: &str) -> String {
    let text = fs::read_to_string("samples/winter_jet.toml").unwrap();
    let rows = fs::read("samples/winter_jet.csv").unwrap();
    let named = |name, text| Source { name, text };
    let sheets = [
        named("winter_jet.toml", text.as_str()),
        named("more.toml", more),
    ];
    let loaded = Loaded::read(&rows, "winter_jet.csv", Which::default(), &sheets);
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
        surface.contains("is 1004.3 hPa, by the surface observation 904.3 hPa (+100.0 hPa)"),
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
        heights.contains("write height_kind = \"geopotential\" under [profile]"),
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
        let loaded = Loaded::read(&rows, "winter_jet.csv", Which::default(), &sheets).unwrap();
        let flight = loaded.code(Form::Temp, Reach::Whole).unwrap();
        let warnings = flight.findings.into_iter();
        let warnings = warnings.filter(|f| f.severity > crate::finding::Severity::Info);
        warnings.map(|f| f.to_string()).collect::<Vec<_>>()
    };
    let least = "[station]\nwmo_block = 99\nwmo_number = 11\n[flight]\n\
                 release = 2031-01-15T11:23:40Z\nstandard_time = 2031-01-15T12:00:00Z\n";
    assert_eq!(
        codes(least),
        [
            "warning: surface: no sheet gives a surface observation: the first row of the profile \
             is coded as the surface level (give pressure_hpa, temperature_c, humidity_pct, \
             wind_dir_deg and wind_speed_ms under [surface]) [WMO-No. 306, 35.2.1]",
            "warning: equipment.radiosonde: no sheet gives radiosonde, radiation, tracking, \
             measuring: coded as solidi (give the code figures under [equipment]) [WMO-No. 306, FM \
             32 to 38, a4 and section 7]",
        ]
    );
    let given = "[surface]\npressure_hpa = 1004.3\n[equipment]\nradiosonde = 90\nradiation = 4\n\
                 tracking = 8\n";
    let lacks = codes(&format!("{least}{given}"));
    assert_eq!(lacks.len(), 1);
    assert!(lacks[0].starts_with("warning: equipment.measuring: no sheet gives measuring:"));
}
