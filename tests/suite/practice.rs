//! A station's own table of practices in place of those of its Region.
#![cfg(feature = "cli")]

use std::fs;
use std::path::Path;

use fivefig::model::PracticeTable;

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
