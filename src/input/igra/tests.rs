use jiff::civil::date;
use proptest::prelude::*;

use super::*;
use crate::input::sheet::Source;

/// Two soundings of an invented station, written by hand to the columns of the
/// format; the second is winds by height with its release on the day before.
const STATION: &str = "\
#ZZM00099007 2031 01 15 12 1123    6 invented invented  512500   -34000
21     0 100430B   84B   45B  810    31   230    61
20    20  99000A  194B-9999 -9999 -9999 -8888 -8888
10   255  92500B  748B    3B  720 -9999   225   120
22  1030  27650B 9890B -621A-8888   120   250   305
30  1100 -9999  10500 -9999 -9999 -9999   251   310
10 -9999  10000 16180 -9999 -9999 -9999 -9999 -9999
#ZZM00099007 2031 01 16 00 2331    2          invented  512500   -34000
31     0 -9999     84 -9999 -9999 -9999   230    61
30 -9999 -9999    500 -9999 -9999 -9999   235    80
";

fn lines(from: usize, to: usize) -> String {
    let lines: Vec<&str> = STATION.lines().collect();
    lines[from..to].join("\n") + "\n"
}

fn refused(text: &str, number: Option<usize>) -> String {
    read(text.as_bytes(), "x.txt", number)
        .unwrap_err()
        .to_string()
}

#[test]
fn the_first_sounding_is_read_column_by_column() {
    let read = read(STATION.as_bytes(), "x.txt", Some(1)).unwrap();
    let rows = &read.raw.rows;
    assert_eq!(rows.len(), 6);
    // 100430 Pa, 84 m, 4.5 °C, 81.0 %, depression 3.1 K, 230°, 6.1 m/s.
    assert_eq!(
        rows[0],
        RawRow {
            line: 2,
            time_s: Some(0.0),
            pressure_hpa: Some(1004.3),
            height_gpm: Some(84.0),
            temperature_c: Some(4.5),
            humidity_pct: Some(81.0),
            // 4.5 − 3.1 °C, of the figures 45 and 31.
            dewpoint_c: Some(1.4),
            wind_dir_deg: Some(230.0),
            wind_speed_ms: Some(6.1),
            flags: Roles::SURFACE,
            ..RawRow::default()
        }
    );
    assert_eq!(rows[1].pressure_hpa, Some(990.0));
    assert_eq!(rows[1].wind_speed_ms, None);
    // 2 min 55 s.
    assert_eq!(rows[2].time_s, Some(175.0));
    assert_eq!(
        (rows[2].humidity_pct, rows[2].dewpoint_c),
        (Some(72.0), None)
    );
    assert_eq!(rows[2].flags, Roles::STANDARD);
    // 10 min 30 s, −62.1 °C and 12.0 K below it.
    assert_eq!(rows[3].flags, Roles::TROPOPAUSE);
    assert_eq!(rows[3].time_s, Some(630.0));
    assert_eq!(rows[3].temperature_c, Some(-62.1));
    assert_eq!(
        (rows[3].humidity_pct, rows[3].dewpoint_c),
        (None, Some(-74.1))
    );
    assert_eq!(
        (rows[4].pressure_hpa, rows[4].height_gpm),
        (None, Some(10500.0))
    );
    assert_eq!(rows[5].time_s, None);
    let reported: Vec<String> = read.findings.iter().map(ToString::to_string).collect();
    assert_eq!(
        reported,
        [
            "info: x.txt: station.elevation_m: the file gives no elevation; 84 m is the height of its surface level (give elevation_m under [station] if it is another)",
            "info: x.txt:1: 3 values removed by quality assurance are treated as missing: WDIR 1, WSPD 1, RH 1",
        ]
    );
    let sheet = read.sheet.unwrap();
    let source = Source {
        name: "x.txt",
        text: &sheet,
    };
    let (sheet, _) = sheet::read(&[source]).unwrap();
    let context = sheet.context;
    assert_eq!(context.station.wmo_block, Some(99));
    assert_eq!(context.station.wmo_number, Some(7));
    assert_eq!(context.station.name.as_deref(), Some("ZZM00099007"));
    assert_eq!(context.station.latitude_deg, Some(51.25));
    assert_eq!(context.station.longitude_deg, Some(-3.4));
    assert_eq!(context.station.elevation_m, Some(84.0));
    let at = |d, h, m| Some(date(2031, 1, d).at(h, m, 0, 0));
    assert_eq!(context.flight.release, at(15, 11, 23));
    assert_eq!(context.flight.standard_time, at(15, 12, 0));
}

#[test]
fn a_release_before_midnight_is_of_the_day_before() {
    let read = read(STATION.as_bytes(), "x.txt", Some(2)).unwrap();
    assert_eq!(read.raw.rows.len(), 2);
    assert!(read.raw.rows.iter().all(|r| r.pressure_hpa.is_none()));
    assert_eq!(read.raw.rows[1].height_gpm, Some(500.0));
    let sheet = read.sheet.unwrap();
    assert!(sheet.contains("2031-01-15T23:31:00Z"), "{sheet}");
    assert!(sheet.contains("2031-01-16T00:00:00Z"), "{sheet}");
}

#[test]
fn a_time_that_is_not_known_is_reported() {
    let second = lines(7, 10);
    for (release, reported) in [
        (
            "9999",
            "warning: x.txt:1:28: the file does not give the time of release (give release under [flight])",
        ),
        (
            "2399",
            "warning: x.txt:1:28: the minute of the release is not known; 23:00 is used (give release under [flight] if it is known)",
        ),
    ] {
        let read = read(second.replace("2331", release).as_bytes(), "x.txt", None).unwrap();
        assert!(
            read.findings.iter().any(|f| f.to_string() == reported),
            "{reported}"
        );
    }
    // Without a standard hour the sheet finds one from the release.
    let read = read(
        second.replace(" 00 2331", " 99 2331").as_bytes(),
        "x.txt",
        None,
    )
    .unwrap();
    let sheet = read.sheet.unwrap();
    assert!(sheet.contains("2031-01-16T23:31:00Z"), "{sheet}");
    assert!(!sheet.contains("standard_time"), "{sheet}");
}

#[test]
fn ships_are_named_by_their_call_sign_and_others_not_at_all() {
    let named = |id: &str| {
        let text = lines(7, 10).replace("ZZM00099007", id);
        let sheet = read(text.as_bytes(), "x.txt", None).unwrap().sheet.unwrap();
        sheet.parse::<toml::Table>().unwrap()["station"].clone()
    };
    let ship = named("ZZV000XXXX9");
    assert_eq!(ship["kind"].as_str(), Some("ship"));
    assert_eq!(ship["call_sign"].as_str(), Some("XXXX9"));
    let other = named("ZZX00099007");
    assert_eq!(other.get("wmo_block"), None);
    assert_eq!(other["name"].as_str(), Some("ZZX00099007"));
    // A ship without a position.
    let text = lines(7, 10).replace(" 512500   -34000", "-988888 -9988888");
    let sheet = read(text.as_bytes(), "x.txt", None).unwrap().sheet.unwrap();
    assert!(!sheet.contains("latitude_deg"), "{sheet}");
}

#[test]
fn one_of_several_is_to_be_named() {
    assert_eq!(
        refused(STATION, None),
        "x.txt: there are 2 soundings, from 2031-01-15T12:00:00Z to 2031-01-16T00:00:00Z; give the number of one, 1 to 2"
    );
    assert_eq!(
        refused(STATION, Some(3)),
        "x.txt: there is no sounding 3; the file has 2"
    );
    assert!(read(lines(7, 10).as_bytes(), "x.txt", None).is_ok());
}

#[test]
fn broken_records_are_refused_with_line_and_column() {
    let good = lines(7, 10);
    for (from, to, reported) in [
        (
            " 01 16",
            " 13 16",
            "x.txt:1:19: MONTH is 13; 1 to 12 is allowed",
        ),
        (
            " 01 16",
            " 02 30",
            "x.txt:1:22: DAY is 30, which month 2 has not",
        ),
        (
            " 00 2331",
            " 24 2331",
            "x.txt:1:25: HOUR is 24; 0 to 23 is allowed",
        ),
        (
            "2331",
            "2361",
            "x.txt:1:28: RELTIME is 2361; the minute is at most 59",
        ),
        (
            "2331",
            "x331",
            "x.txt:1:28: RELTIME is `x331`; a whole number is expected in columns 28 to 31",
        ),
        (
            "   2  ",
            "   3  ",
            "x.txt:1:33: NUMLEV is 3, but 2 levels follow",
        ),
        (
            "   2  ",
            "   1  ",
            "x.txt:1:33: NUMLEV is 1, but more levels follow (line 3)",
        ),
        (
            " 512500",
            " 5125.0",
            "x.txt:1:56: LAT is ` 5125.0`; a whole number is expected in columns 56 to 62",
        ),
        ("\n30", "\n40", "x.txt:3:1: LVLTYP1 is 4; 1 to 3 is allowed"),
        ("\n31", "\n33", "x.txt:2:2: LVLTYP2 is 3; 0 to 2 is allowed"),
        (
            "   235",
            "   365",
            "x.txt:3:41: WDIR gives wind_dir_deg 365 (0 to 360 deg is allowed)",
        ),
        (
            "    80\n",
            "  80\n",
            "x.txt:3:47: WSPD is not there: the line ends before column 51",
        ),
        (
            "31     0",
            "31    75",
            "x.txt:2:4: ETIME is 75; minutes and seconds (MMMSS) are expected",
        ),
        (
            "    84 ",
            "   é84 ",
            "x.txt:2:19: an octet that is no ASCII character",
        ),
    ] {
        let text = good.replacen(from, to, 1);
        assert_ne!(text, good, "{reported}");
        assert_eq!(refused(&text, None), reported);
    }
    assert_eq!(
        refused(&lines(1, 3), None),
        "x.txt:1:1: a station file begins with a header record (#)"
    );
    assert_eq!(
        refused("\n\n", None),
        "x.txt: the file is empty; a header row and rows of numbers are expected"
    );
    let long = format!("#{}", "1".repeat(2000));
    assert_eq!(
        refused(&long, None),
        "x.txt:1:1: the line has 2001 octets; a record has at most 71 (is this a station file?)"
    );
    let none = lines(7, 8).replace("   2  ", "   0  ");
    assert_eq!(
        refused(&none, None),
        "x.txt: the sounding has no level: there is no profile in it"
    );
}

#[test]
fn a_station_file_is_known_by_its_first_record() {
    assert!(is_igra(STATION.as_bytes()));
    assert!(is_igra(STATION.replace('\n', "\r\n").as_bytes()));
    for text in ["", "#", "# a comment\ntime_s\n", "time_s,pressure_hpa\n"] {
        assert!(!is_igra(text.as_bytes()), "{text}");
    }
    let comment = format!("# {}\ntime_s\n", "a long comment of a table ".repeat(5));
    assert!(!is_igra(comment.as_bytes()));
}

proptest! {
    #[test]
    fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        let _ = is_igra(&bytes);
        let _ = read(&bytes, "x", None);
    }

    #[test]
    fn a_changed_station_file_is_read_or_refused(
        at in 0_usize..600,
        new in "[-0-9 #\n]{1,12}",
    ) {
        let mut text = STATION.to_owned();
        let at = at.min(text.len() - 20);
        text.replace_range(at..at + new.len(), &new);
        for number in [None, Some(1), Some(2)] {
            if let Ok(read) = read(text.as_bytes(), "x", number) {
                for row in &read.raw.rows {
                    prop_assert!(row.pressure_hpa.is_none_or(|p| p > 0.0 && p <= 1100.0));
                    prop_assert!(row.wind_dir_deg.is_none_or(|d| (0.0..=360.0).contains(&d)));
                }
            }
        }
    }
}
