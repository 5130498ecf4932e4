//! A station's own table of practices in place of those of its Region.
#![cfg(feature = "cli")]

use std::fs;
use std::path::Path;

use fivefig::model::{PracticeTable, TemplateLevel, TemplateValue};

use crate::support;

/// The rows of the built-in table for a Region, with the Region left out.
fn rows_of(region: &str) -> String {
    let table = Path::new(env!("CARGO_MANIFEST_DIR")).join("tables/practices.csv");
    let text = fs::read_to_string(table).unwrap();
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let header = lines.next().unwrap();
    let own = lines.filter_map(|line| line.strip_prefix(&format!("{region},")));
    let rows: Vec<String> = own.map(|rest| format!(",{rest}")).collect();
    assert!(rows.len() > 5, "{region}");
    format!("# rows of the test\n{header}\n{}\n", rows.join("\n"))
}

/// A sample with other keys of coding, in a folder; the message.
fn message(folder: &Path, name: &str, form: &str, coding: &str) -> (i32, String, String) {
    let (csv, toml) = (
        support::path(&format!("{name}.csv")),
        support::path(&format!("{name}.toml")),
    );
    fs::write(folder.join("own.toml"), coding).unwrap();
    let args = [
        "encode", &csv, "--sheet", &toml, "--sheet", "own.toml", "--form", form, "-q",
    ];
    support::run(folder, &args, "")
}

/// Regions IV and VI by their rows in a file: the same octets as by their name, where no
/// Region is named.
#[test]
fn two_regions_in_a_file_give_the_same_messages() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let mut checked = 0;
    for region in ["IV", "VI"] {
        fs::write(folder.join("own.csv"), rows_of(region)).unwrap();
        for (name, form) in [
            ("winter_jet", "temp"),
            ("tropical", "temp"),
            ("winter_jet", "pilot"),
            ("pilot", "pilot"),
            ("minute", "pilot"),
        ] {
            let built_in = format!("[coding]\nregion = \"{region}\"\n");
            let own = "[coding]\nregion = \"none\"\npractice = \"own.csv\"\n";
            let wanted = message(folder, name, form, &built_in);
            assert_eq!(wanted.0, 0, "{wanted:?}");
            assert_eq!(
                message(folder, name, form, own),
                wanted,
                "{region} {name} {form}"
            );
            let none = message(folder, name, form, "[coding]\nregion = \"none\"\n");
            checked += usize::from(none != wanted);
        }
    }
    // Practice is in these messages.
    assert!(checked >= 7, "{checked}");
}

/// A row of the file is used as it stands: a fixed level of 8400 m, which no Region has, adds a
/// level to PILOT.
#[test]
fn a_level_of_the_station_is_in_its_message() {
    let folder = tempfile::tempdir().unwrap();
    let header = "region,form,practice,parts,group,unit,from,to,every,choice,station_gpm,standing";
    let text = format!("{header}\n,pilot,fixed,,,m,8400,,,,,\n");
    fs::write(folder.path().join("own.csv"), text).unwrap();
    let own = "[coding]\nregion = \"none\"\npractice = \"own.csv\"\n";
    let with = message(folder.path(), "winter_jet", "pilot", own).1;
    let without = message(
        folder.path(),
        "winter_jet",
        "pilot",
        "[coding]\nregion = \"none\"\n",
    )
    .1;
    assert_ne!(with, without);
}

#[test]
fn faults_of_a_file_have_their_place() {
    let header = "region,form,practice,parts,group,unit,from,to,every,choice,station_gpm,standing";
    let refused = |row: &str| {
        let text = format!("# a comment\n{header}\n{row}\n");
        text.parse::<PracticeTable>().unwrap_err().to_string()
    };
    for (row, wanted) in [
        (
            ",pilot,fixed,,,ft,900,,,,,",
            "line 3, column `unit`: unknown variant `ft`, expected one of `hPa`, `m`, `m above ground`, `300 m`, `500 m`, `h`",
        ),
        (
            ",pilot,fixed,,,m,,,,,,",
            "line 3, column `from`: the level is missing",
        ),
        (
            ",pilot,fixed,,,m,-5,,,,,",
            "line 3, column `from`: a level, layer or distance must be more than 0",
        ),
        (
            ",temp,fixed,B,,m,900,,,,,",
            "line 3, column `form`: the practice fixed is one of pilot",
        ),
        (
            ",temp,low_wind,B,9,m,900,,,,,",
            "line 3, column `group`: two figures are expected",
        ),
        (
            ",temp,mean_wind,B,1019x,m,,1500,,,,",
            "line 3, column `group`: a group of five figures is expected",
        ),
        (
            ",temp,mean_wind,Q,10194,m,,1500,,,,",
            "line 3, column `parts`: a part is A, B, C or D",
        ),
        (
            ",temp,mean_wind,,10194,m,,1500,,,,",
            "line 3, column `parts`: letters among A, B are expected; C and D follow",
        ),
        (
            ",temp,mean_wind",
            "line 3: the row has 3 cells; the header has 12",
        ),
    ] {
        assert_eq!(refused(row), wanted, "{row}");
    }
    assert!("".parse::<PracticeTable>().is_err());
    let other = "a,b\n1,2".parse::<PracticeTable>().unwrap_err().to_string();
    assert!(
        other.starts_with("line 1: this is no table of practices"),
        "{other}"
    );
}

#[test]
fn a_file_that_is_missing_or_wrong_stops_the_command() {
    let folder = tempfile::tempdir().unwrap();
    let own = "[coding]\npractice = \"own.csv\"\n";
    let (code, out, stderr) = message(folder.path(), "winter_jet", "temp", own);
    assert_eq!((code != 0, out.as_str()), (true, ""), "{stderr}");
    assert!(stderr.contains("own.csv"), "{stderr}");
    fs::write(folder.path().join("own.csv"), "region,practice\n,nothing\n").unwrap();
    let (code, out, stderr) = message(folder.path(), "winter_jet", "temp", own);
    assert_eq!((code != 0, out.as_str()), (true, ""), "{stderr}");
    assert!(stderr.contains("own.csv: line 2"), "{stderr}");
}

/// The columns that the tables of these tests have.
const HEADER: &str = "form,practice,parts,group,unit,from,every\n";

/// An invented country: surfaces of 600 and 60 hPa, section 7 in Part B alone, groups of its
/// own, and Parts A and B alone at 06 and 18 UTC.
const INVENTED: &str = "\
    temp,surface,A,,hPa,600,\n\
    temp,surface,C,,hPa,60,\n\
    temp,section7,B,,,,\n\
    temp,hours,AB,,h,6,12\n\
    temp,section9,A,1{height_gpm:4:step=10} {temperature_c:sign}{temperature_c:4:step=0.1:abs},hPa,500,\n\
    temp,section9,A,{surface.sea_temperature_c:2}{surface.temperature_c:3:step=0.1},,,\n\
    temp,section9,A,9{temperature_c:4},hPa,555,\n\
    temp,section9,B,{tropopause.pressure_hpa:3:last}// 3{max_wind.wind_dir_deg:2:step=10}{max_wind.wind_speed_ms:2},,,\n\
    temp,section10,D,TOP{top.height_gpm:2:step=1000:down},,,\n\
    pilot,section9,A,{station.elevation_m:5},,,\n";

fn invented() -> String {
    format!("{HEADER}{INVENTED}")
}

/// The parts of a message, each with its groups.
fn parts(message: &str) -> Vec<Vec<&str>> {
    let parts = message.split('=');
    let groups = parts.map(|part| part.split_ascii_whitespace().collect());
    groups.filter(|part: &Vec<&str>| !part.is_empty()).collect()
}

/// Hand work, from rows and levels of the sample winter_jet:
/// 600 hPa lies between 600.07 hPa (4121.0 gpm, -16.05 °C) and 599.64 hPa (4126.4 gpm,
/// -16.06 °C) at 0.07 / 0.43 = 0.163 of the way: 4121.9 gpm, hhh 122; -16.05 °C, half away
/// from zero -16.1, TTTa 161 (odd: negative); wind 255.7°, 23.9 m/s: 255 and 24, 25524.
/// 60 hPa lies just below 59.98 hPa (19 076.0 gpm, -63.42 °C): 1907 tens of gpm, hhh 907.
/// 500 hPa: 5473.4 gpm, 547 tens: 10547; -23.97 °C: sign 1, 240 tenths: 10240.
/// The surface, 4.5 °C, has no temperature of the sea: //045. 555 hPa is no level of the
/// report: no group. The first tropopause is at 279.7 hPa: 280//. The strongest wind is
/// 281.1°, 63.7 m/s: 28 and 64, 32864. The top is at 26 941 gpm: 26 whole thousands.
#[test]
fn an_invented_practice_is_in_every_part_of_its_message() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("own.csv"), invented()).unwrap();
    let own = "[coding]\npractice = \"own.csv\"\n";
    let (code, text, stderr) = message(folder, "winter_jet", "temp", own);
    assert_eq!((code, stderr.as_str()), (0, ""));
    let of = parts(&text);
    let has = |part: usize, groups: &str| {
        let wanted: Vec<&str> = groups.split(' ').collect();
        of[part].windows(wanted.len()).any(|own| own == wanted)
    };
    let [a, b, c, d] = [0, 1, 2, 3];
    let at = of[a].iter().position(|group| *group == "60122").unwrap();
    assert!(of[a][at + 1].starts_with("161"), "{text}");
    assert_eq!(of[a][at + 2..at + 4], ["25524", "50547"], "{text}");
    let at = of[c].iter().position(|group| *group == "60907").unwrap();
    assert_eq!(of[c][at + 3], "50020", "{text}");
    assert!(
        of[a].ends_with(&["51515", "10547", "10240", "//045"]),
        "{text}"
    );
    assert!(of[b].ends_with(&["51515", "280//", "32864"]), "{text}");
    assert!(of[d].ends_with(&["61616", "TOP26"]), "{text}");
    assert!(has(b, "31313"), "{text}");
    assert!(
        !has(a, "31313") && !has(c, "31313") && !has(d, "31313"),
        "{text}"
    );
    insta::assert_snapshot!(text);
    let (code, text, stderr) = message(folder, "winter_jet", "pilot", own);
    assert_eq!((code, stderr.as_str()), (0, ""));
    // The elevation of the station is 84 m.
    assert!(parts(&text)[0].ends_with(&["51515", "00084"]), "{text}");
}

/// The hours of the table: 06 UTC has a row, 12 UTC has none.
#[test]
fn parts_that_an_hour_does_not_ask_for_are_left_out() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("own.csv"), invented()).unwrap();
    for (hour, wanted) in [("06", 2), ("18", 2), ("12", 4)] {
        let before: u8 = hour.parse::<u8>().unwrap() - 1;
        let own = format!(
            "[coding]\npractice = \"own.csv\"\n[flight]\nrelease = \"2031-01-15T{before:02}:23:40Z\"\n\
             standard_time = \"2031-01-15T{hour}:00:00Z\"\n"
        );
        let (code, text, stderr) = message(folder.path(), "winter_jet", "temp", &own);
        assert_eq!((code, parts(&text).len()), (0, wanted), "{hour} {stderr}");
    }
}

/// JSON has the table; the text is read with it, and as damaged without it.
#[test]
fn a_message_of_an_own_practice_is_read_and_written_again() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("own.csv"), invented()).unwrap();
    let own = "[coding]\npractice = \"own.csv\"\n";
    let text = message(folder, "winter_jet", "temp", own).1;
    fs::write(folder.join("sent.txt"), &text).unwrap();
    let run = |args: &[&str]| support::run(folder, args, "");
    let (csv, toml) = (
        support::path("winter_jet.csv"),
        support::path("winter_jet.toml"),
    );
    let document = run(&[
        "encode", &csv, "--sheet", &toml, "--sheet", "own.toml", "--to", "json", "-q",
    ]);
    fs::write(folder.join("sent.json"), &document.1).unwrap();
    let back = run(&["decode", "sent.json", "--to", "text"]);
    assert_eq!(back, (0, text.clone(), String::new()));
    let back = run(&[
        "decode",
        "sent.txt",
        "--practice",
        "own.csv",
        "--to",
        "text",
    ]);
    assert_eq!((back.0, back.1.as_str()), (0, text.as_str()), "{}", back.2);
    // Values and groups, and from them the text once more.
    let document = run(&[
        "decode",
        "sent.txt",
        "--practice",
        "own.csv",
        "--to",
        "json",
    ]);
    fs::write(folder.join("read.json"), &document.1).unwrap();
    assert!(document.1.contains("\"TOP26\""), "{}", document.2);
    let back = run(&["decode", "read.json", "--to", "text"]);
    assert_eq!((back.0, back.1.as_str()), (0, text.as_str()), "{}", back.2);
    let (code, read, stderr) = run(&["decode", "sent.txt", "--to", "text"]);
    assert!(code != 0 && read != text, "{stderr}");
    let checked = run(&["check", "sent.txt", "--practice", "own.csv"]);
    assert_eq!(checked.0, 0, "{checked:?}");
}

/// A value that has no room is coded as solidi, with a warning.
#[test]
fn a_value_that_does_not_fit_its_template_is_reported() {
    let folder = tempfile::tempdir().unwrap();
    let table = "form,practice,parts,group\ntemp,section9,A,{top.height_gpm:3}00\n";
    fs::write(folder.path().join("own.csv"), table).unwrap();
    let (csv, toml) = (
        support::path("winter_jet.csv"),
        support::path("winter_jet.toml"),
    );
    fs::write(
        folder.path().join("own.toml"),
        "[coding]\npractice = \"own.csv\"\n",
    )
    .unwrap();
    let args = ["encode", &csv, "--sheet", &toml, "--sheet", "own.toml"];
    let (code, text, stderr) = support::run(folder.path(), &args, "");
    assert_eq!(code, 0);
    assert!(text.contains("51515 ///00="), "{text}");
    assert!(stderr.contains("does not fit 3 figures"), "{stderr}");
}

/// Every name that a template can use is one of the report in JSON.
#[test]
fn the_names_of_templates_are_those_of_json() {
    let (csv, toml) = (
        support::path("winter_jet.csv"),
        support::path("winter_jet.toml"),
    );
    let args = ["encode", &csv, "--sheet", &toml, "--to", "json", "-q"];
    let (_, text, _) = support::run(Path::new("."), &args, "");
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    let report = &document["reports"][0];
    for value in TemplateValue::ALL {
        let name = value.name();
        let found = match value.is_of_level() {
            true => report["levels"][0].get(name),
            false => report.pointer(&format!("/{}", name.replace('.', "/"))),
        };
        assert!(found.is_some(), "{name}");
    }
    let roles = text.split('"').collect::<Vec<_>>();
    for level in TemplateLevel::ALL
        .iter()
        .filter(|l| **l != TemplateLevel::Top)
    {
        assert!(roles.contains(&level.name()), "{}", level.name());
    }
}

#[test]
fn faults_of_templates_and_levels_have_their_place() {
    for (rows, wanted) in [
        (
            "temp,section9,A,{height:5},hPa,500,",
            "line 2, column `group`: `{height:5}`: `height` is no value of the report; allowed are pressure_hpa, height_gpm, ",
        ),
        (
            "temp,section9,A,1{height_gpm:3},hPa,500,",
            "line 2, column `group`: `1{height_gpm:3}`: the group has 4 characters; a group has 5",
        ),
        (
            "temp,section9,A,AB{height_gpm:3},hPa,500,",
            "line 2, column `group`: `AB{height_gpm:3}`: `A` is not allowed outside braces",
        ),
        (
            "temp,section9,A,{height_gpm:5:rounded},hPa,500,",
            "line 2, column `group`: `{height_gpm:5:rounded}`: `rounded` is unknown; allowed are step=NUMBER",
        ),
        (
            "temp,section9,A,{height_gpm:9},hPa,500,",
            "line 2, column `group`: `{height_gpm:9}`: `9` is no width of height_gpm; 1 to 5 figures, or `sign`",
        ),
        (
            "temp,section9,A,{height_gpm:5,hPa,500,",
            "line 2, column `group`: `{height_gpm:5`: the brace `{` is not closed",
        ),
        (
            "temp,section9,A,61616,,,",
            "line 2, column `group`: `61616`: this group begins a section; leave it out",
        ),
        (
            "temp,section9,A,{height_gpm:5},,,",
            "line 2, column `from`: a value without the name of a level needs one",
        ),
        (
            "temp,surface,A,,hPa,-600,",
            "line 2, column `from`: a level, layer or distance must be more than 0",
        ),
        (
            "temp,surface,A,,hPa,605,",
            "line 2, column `from`: Part A has whole tens from 980 to 100 hPa",
        ),
        (
            "temp,surface,C,,hPa,600,",
            "line 2, column `from`: Part A has whole tens from 980 to 100 hPa",
        ),
        (
            "temp,surface,A,,hPa,770,",
            "line 2, column `from`: its group would begin as 66PPP, 77PPP or 88PPP do",
        ),
        (
            "temp,surface,A,,hPa,600,\ntemp,surface,A,,hPa,600,",
            "line 3, column `practice`: line 2 has the same; remove one of them",
        ),
        (
            "temp,surface,A,,hPa,600,\ntemp,surface,A,,hPa,650,",
            "line 3, column `from`: the levels are listed from the ground up; line 2 has 600",
        ),
        (
            "pilot,fixed,,,m,900,\npilot,fixed,,,m,600,",
            "line 3, column `from`: the levels are listed from the ground up; line 2 has 900",
        ),
        (
            "temp,hours,AB,,h,6,12\ntemp,hours,A,,h,18,",
            "line 3, column `practice`: line 2 has the same; remove one of them",
        ),
        (
            "temp,hours,AB,,h,24,",
            "line 2, column `from`: an hour is 0 to 23",
        ),
        (
            "temp,section7,B,,,,\ntemp,section7,A,,,,",
            "line 3, column `practice`: line 2 has the same; remove one of them",
        ),
        (
            "temp,section7,BB,,,,",
            "line 2, column `parts`: Part B is given twice",
        ),
        (
            "temp,section7,B,,hPa,,",
            "line 2, column `unit`: the practice section7 does not use this column; leave it blank",
        ),
        (
            "temp,nonsense,B,,,,",
            "line 2, column `practice`: unknown variant `nonsense`, expected one of ",
        ),
    ] {
        let refused = format!("{HEADER}{rows}\n").parse::<PracticeTable>();
        let refused = refused.unwrap_err().to_string();
        assert!(refused.starts_with(wanted), "{rows}: {refused}");
    }
    let wrong = |text: &str| text.parse::<PracticeTable>().unwrap_err().to_string();
    let unknown = wrong("form,practice,colour\ntemp,reason,x\n");
    assert!(
        unknown
            .starts_with("line 1: the column `colour` is unknown; the columns are region, form, ")
    );
    assert!(wrong(HEADER).starts_with("line 1: the table has no row"));
}

/// What the general surfaces forbid, and files that are none.
#[test]
fn files_that_cannot_be_a_practice_stop_the_command() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let own = "[coding]\npractice = \"own.csv\"\n";
    let table = |rows: &str| format!("{HEADER}{rows}\n").into_bytes();
    for (bytes, wanted) in [
        (Vec::new(), "own.csv: line 1: the table is empty"),
        (
            b"form,practice\n\xff\xfe,x\n".to_vec(),
            "own.csv: not UTF-8 text",
        ),
        (
            table("temp,surface,A,,hPa,500,"),
            "own.csv: line 2, column `from`: 500 hPa is a standard surface already; remove the row",
        ),
        (
            table("temp,surface,A,,hPa,920,"),
            "own.csv: line 2, column `from`: the group of 920 hPa would begin with 92, as that of 925 hPa does",
        ),
        (
            table("pilot,surfaces_by_height,,33,m,9000,"),
            "own.csv: line 2, column `group`: PP is that of a standard surface of PILOT",
        ),
    ] {
        fs::write(folder.join("own.csv"), bytes).unwrap();
        let (code, out, stderr) = message(folder, "winter_jet", "temp", own);
        assert_eq!((code != 0, out.as_str()), (true, ""), "{stderr}");
        assert!(stderr.contains(wanted), "{stderr}");
    }
}

/// The height that stands for 850 hPa where pressure was not measured is that of the table
/// (32.2.2.2): the wind of 55385 is that of 1800 m and no longer that of 1500 m, which the
/// built-in list has.
#[test]
fn heights_for_surfaces_are_those_of_the_table() {
    let folder = tempfile::tempdir().unwrap();
    let table = "form,practice,group,unit,from\npilot,surfaces_by_height,85,m,1800\n";
    fs::write(folder.path().join("own.csv"), table).unwrap();
    let own = "[coding]\nregion = \"none\"\npractice = \"own.csv\"\n";
    let general = "[coding]\nregion = \"none\"\nsurfaces_by_height = true\n";
    let with = message(folder.path(), "theodolite", "pilot", own);
    let without = message(folder.path(), "theodolite", "pilot", general);
    assert_eq!((with.0, without.0), (0, 0), "{with:?}");
    let first = |text: &str| {
        parts(text)[0]
            .iter()
            .position(|g| g.starts_with("55"))
            .unwrap()
    };
    let (at, other) = (first(&with.1), first(&without.1));
    assert_ne!(parts(&with.1)[0][at + 1], parts(&without.1)[0][other + 1]);
}

/// The built-in rows keep the rules of a station's own table.
#[test]
fn the_built_in_rows_are_checked_as_those_of_a_file() {
    let table = Path::new(env!("CARGO_MANIFEST_DIR")).join("tables/practices.csv");
    let table: PracticeTable = fs::read_to_string(table).unwrap().parse().unwrap();
    assert_eq!(table.rows(), fivefig::tables::practices());
    assert_eq!(fivefig::tables::check_practice(&table), Ok(()));
}

/// A text of the station is read for its correction with the surfaces of its practice: it is
/// what was sent, so that nothing is to be corrected.
#[test]
fn what_was_sent_is_read_with_the_practice_of_the_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    fs::write(folder.join("own.csv"), invented()).unwrap();
    let own = "[coding]\npractice = \"own.csv\"\n";
    let text = message(folder, "winter_jet", "temp", own).1;
    fs::write(folder.join("sent.txt"), text.replace("60122", "60123")).unwrap();
    let (csv, toml) = (
        support::path("winter_jet.csv"),
        support::path("winter_jet.toml"),
    );
    let args = [
        "encode",
        &csv,
        "--sheet",
        &toml,
        "--sheet",
        "own.toml",
        "--to",
        "text",
        "--correct",
        "CCA",
        "--was",
        "sent.txt",
        "-q",
    ];
    let (code, out, stderr) = support::run(folder, &args, "");
    assert_eq!(code, 0, "{stderr}");
    let changed = "fivefig: corrected: height at 600 hPa (standard): 4123 gpm on the left, 4122 gpm on the right\n";
    assert_eq!(stderr, changed);
    // Part A alone differs.
    assert!(out.contains("TTAA") && out.contains("60122"), "{out}");
    assert!(!out.contains("TTBB") && !out.contains("TTCC"), "{out}");
    let args = [
        "compare",
        "sent.txt",
        "sent.txt",
        "--practice",
        "own.csv",
        "-q",
    ];
    assert_eq!(
        support::run(folder, &args, ""),
        (0, String::new(), String::new())
    );
}
