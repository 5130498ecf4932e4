//! A flight beside the last ones of its station: in `check`, in the spool, and by hand.

use std::fs;
use std::path::Path;

use crate::support::{run, warmer_flight};

/// The invented winter flight with another day and hour, its temperature from 600 to
/// 400 hPa warmer.
fn put(folder: &Path, name: &str, day: u8, warmer_k: f64) {
    fs::write(folder.join(format!("{name}.csv")), warmer_flight(warmer_k)).unwrap();
    let sheet = fs::read_to_string("samples/winter_jet.toml").unwrap();
    let sheet = sheet.replace("2031-01-15T", &format!("2021-01-{day}T"));
    fs::write(folder.join(format!("{name}.toml")), sheet).unwrap();
}

fn place() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("in")).unwrap();
    put(&folder.path().join("in"), "a", 15, 0.0);
    folder
}

/// 24 h allow 4 + 0.5 × 24 = 16 K at 500 hPa (`tables/continuity_limits.csv`); at the
/// levels 300 and 100 hPa nothing changes.
const JUMP: &str = "K higher than 24 h ago";

#[test]
fn a_profile_is_compared_with_messages_and_issues() {
    let place = place();
    let folder = place.path();
    put(folder, "b", 16, 17.0);
    put(folder, "c", 16, 15.9);
    let encode = |to: &str, out: &str| {
        let args = [
            "encode",
            "in/a.csv",
            "--sheet",
            "in/a.toml",
            "-q",
            "--to",
            to,
            "-o",
            out,
        ];
        let (code, _, errors) = run(folder, &args, "");
        assert_eq!(code, 0, "{errors}");
    };
    for form in ["text", "json", "bufr"] {
        encode(form, &format!("was.{form}"));
    }
    encode("text,bufr", "issues");
    let issue = "issues/0-20000-0-99011_202101151200_temp";
    let check = |name: &str, previous: &str| {
        let (profile, sheet) = (format!("{name}.csv"), format!("{name}.toml"));
        let args = ["check", &profile, "--sheet", &sheet, "--previous", previous];
        run(folder, &args, "")
    };
    for previous in ["was.text", "was.json", "was.bufr", issue, "issues"] {
        let (_, out, errors) = check("b", previous);
        let found = out.lines().filter(|line| line.contains(" h ago ("));
        let found: Vec<&str> = found.collect();
        assert_eq!(found.len(), 1, "{previous}: {out}{errors}");
        assert!(
            found[0].contains("the temperature at 500 hPa is 17."),
            "{found:?}"
        );
        // A text alone gives the hour of its release, 11 UTC, to which 0.2 K are added by
        // its resolution.
        assert_eq!(found[0].contains(JUMP), previous != "was.text", "{found:?}");
        let (_, out, errors) = check("c", previous);
        assert!(!out.contains("h ago"), "{previous}: {out}{errors}");
    }
    // Another station, one of the same time, one that is later, and none.
    let other = fs::read_to_string(folder.join("b.toml")).unwrap();
    let other = other
        .replace("99011", "99012")
        .replace("wmo_number = 11", "wmo_number = 12");
    fs::write(folder.join("other.toml"), other).unwrap();
    fs::copy(folder.join("b.csv"), folder.join("other.csv")).unwrap();
    let (code, _, errors) = check("other", "was.bufr");
    assert_eq!(code, 1);
    assert!(
        errors.contains("give an earlier report of the same station"),
        "{errors}"
    );
    let (_, _, errors) = check("other", "issues");
    assert!(errors.contains("nothing is compared"), "{errors}");
    let (code, _, errors) = check("in/a", "was.json");
    assert_eq!(code, 1);
    assert!(
        errors.contains("it is not of the 36 h before the profile"),
        "{errors}"
    );
    let (code, _, errors) = check("b", "none");
    assert_eq!(code, 3, "{errors}");
}

/// With `hold` the flight is not issued and somebody has to look; with `warn`, the default,
/// it goes out with the warning in its document; with `ignore` nothing is compared.
#[cfg(all(unix, feature = "spool"))]
#[test]
fn the_spool_warns_or_holds_by_the_sheet() {
    for (word, code, issued) in [("warn", 0, true), ("hold", 1, false), ("ignore", 0, true)] {
        let place = place();
        let folder = place.path();
        let keys = format!("[schedule]\nmax_age_h = 1000000\ncontinuity = \"{word}\"\n");
        fs::write(folder.join("age.toml"), keys).unwrap();
        let spool = [
            "spool",
            "--in",
            "in",
            "--out",
            "out",
            "--sheet",
            "age.toml",
            "--once",
            "--settle",
            "0",
            "--to",
            "text,json",
        ];
        let (first, _, errors) = run(folder, &spool, "");
        assert_eq!(first, 0, "{errors}");
        put(&folder.join("in"), "b", 16, 17.0);
        let (found, out, errors) = run(folder, &spool, "");
        assert_eq!(found, code, "{word}: {errors}");
        let issue = "out/0-20000-0-99011_202101161200_temp";
        assert_eq!(out.contains(issue), issued, "{word}: {out}");
        let document = fs::read_to_string(folder.join(issue).join("report.json"));
        let has = document.is_ok_and(|text| text.contains(JUMP));
        assert_eq!(has, word == "warn", "{word}");
        let book = fs::read_to_string(folder.join("out/spool/book.csv")).unwrap();
        assert_eq!(book.contains(",continuity,"), word == "hold", "{book}");
        assert_eq!(errors.contains(JUMP), word == "hold", "{errors}");
    }
}
