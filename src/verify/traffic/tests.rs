use super::*;
use crate::forms::text::Traffic;

/// The findings of a stream.
fn found(lines: &[&str]) -> Vec<Finding> {
    let mut traffic = Traffic::new("t");
    lines.iter().for_each(|line| traffic.push(line));
    traffic.finish();
    let mut checker = Checker::default();
    let all = traffic.take();
    let mut out: Vec<Finding> = all.iter().flat_map(|r| checker.check(r, "t")).collect();
    out.extend(checker.finish());
    out
}

fn codes(lines: &[&str]) -> Vec<String> {
    let found = found(lines).into_iter();
    found.map(|f| f.code.into_owned()).collect()
}

/// An invented station; temperature at 1000 hPa as in Part B by a straight line.
const A: &str = "TTAA 15000 99011 99004 04430 23006 00119 04226 22507 88999 77999=";
const B: &str = "TTBB 15000 99011 00004 04430 11990 03827 22970 03022=";

#[test]
fn a_part_one_slip_from_its_report_is_named() {
    assert!(codes(&[A, B]).is_empty());
    for (from, to, what, group) in [
        ("99011", "99017", "the station", 3),
        ("99011", "99101", "the station", 3),
        ("15000", "16000", "the day", 2),
        ("15000", "15010", "the hour", 2),
        ("15000", "65000", "the unit of speed", 2),
    ] {
        let slipped = B.replacen(from, to, 1);
        let all = found(&[A, &slipped]);
        let orphan = all
            .iter()
            .find(|f| f.is(crate::model::finding::Code::PartOrphaned) && f.place.part == Some('B'));
        let orphan = orphan.unwrap_or_else(|| panic!("{to}: {all:?}"));
        assert!(
            orphan.what.ends_with(&format!("{what} differs")),
            "{}",
            orphan.what
        );
        assert_eq!(
            (orphan.place.line, orphan.place.group),
            (Some(2), Some(group))
        );
    }
}

#[test]
fn parts_of_other_soundings_stay_apart() {
    // Another surface; two figures that differ; a part that both have.
    let other = B
        .replacen("99011", "99017", 1)
        .replacen("00004", "00008", 1);
    assert!(codes(&[A, &other]).is_empty());
    assert!(codes(&[A, &B.replacen("99011", "99377", 1)]).is_empty());
    let second = A.replacen("99011", "99017", 1);
    assert!(codes(&[A, &second]).is_empty());
}

#[test]
fn a_heading_agrees_with_day_and_hour() {
    for (heading, off) in [
        ("USXX01 XXXX 150000", false),
        // Six hours are the limit: 150600 is within it, 150601 is not.
        ("USXX01 XXXX 150600", false),
        ("USXX01 XXXX 150601", true),
        ("USXX01 XXXX 140000", true),
        ("USXX01 XXXX 141800", false),
    ] {
        let hit = codes(&[heading, A]).contains(&"heading-time".to_owned());
        assert_eq!(hit, off, "{heading}");
    }
    // The last day of a month and the first of the next are neighbours.
    let late = A.replacen("15000", "31230", 1);
    assert!(codes(&["USXX01 XXXX 010000", &late]).is_empty());
}

#[test]
fn a_station_under_another_heading_is_noted() {
    let mut lines = Vec::new();
    for day in 10..19 {
        let heading = if day == 18 {
            "USYY01 YYYY"
        } else {
            "USXX01 XXXX"
        };
        lines.push(format!("{heading} {day}0000"));
        lines.push(A.replacen("15000", &format!("{day}000"), 1));
    }
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    assert_eq!(codes(&lines), ["heading-unusual"]);
}

/// Of two listed stations one sends Parts A and B late and C as NIL, the other nothing.
#[test]
fn a_summary_counts_parts() {
    let mut traffic = Traffic::new("t");
    for line in [
        "USXX01 XXXX 150000 RRA",
        A,
        "UKXX01 XXXX 150000 CCA",
        B,
        "ULXX01 YYYY 150000",
        "TTCC 1500/ 99011 NIL=",
        "USXX01 XXXX 150000",
        "TTAA 15000 99012 NOT=",
    ] {
        traffic.push(line);
    }
    traffic.finish();
    let mut collector = Collector::default();
    collector.add_findings(&traffic.take_findings());
    for received in traffic.take() {
        collector.add(&received, &received.findings);
    }
    let listed = ["99011".to_owned(), "99019".to_owned()];
    let summary = collector.finish(&listed);
    let expected = Counts {
        expected: 8,
        received: 3,
        nil: 1,
        missing: 5,
        late: 1,
        corrected: 1,
        damaged: 1,
        errors: 1,
        warnings: 2,
    };
    assert_eq!(summary.total, expected);
    let missing: Vec<(&str, &str)> = summary
        .lines
        .iter()
        .map(|line| (line.station.as_str(), line.missing_parts.as_str()))
        .collect();
    // What a station that is not listed lacks is not known.
    assert_eq!(missing, [("99011", "D"), ("99012", ""), ("99019", "ABCD")]);
    assert_eq!(summary.centres.keys().collect::<Vec<_>>(), ["XXXX", "YYYY"]);
    let codes: Vec<_> = summary.codes.iter().map(|c| c.code.as_str()).collect();
    assert_eq!(codes, ["level-lost", "maximum-absent", "tropopause-absent"]);
}

/// Winds of a TEMP at 850 hPa, 1421 gpm, and of a PILOT at 1200 and 1500 m of the same
/// station and time. By hand: 15 and 26 m/s are 11 apart, 15 and 28 m/s 13; 12 are allowed.
#[test]
fn temp_and_pilot_of_one_station_agree() {
    let temp = "TTAA 15118 99011 99004 04430 23006 00119 04226 22507 92748 00306 23512 \
        85421 01756 25015 88999 77999=";
    let pilot = |speed: u8| format!("PPBB 15118 99011 9045/ 250{speed} 250{speed}=");
    let check = |text: &str| {
        let mut traffic = Traffic::new("x");
        text.lines().for_each(|line| traffic.push(line));
        traffic.finish();
        let mut checker = Checker::default();
        let all = traffic.take().into_iter();
        let found: Vec<Finding> = all.flat_map(|one| checker.check(&one, "x")).collect();
        let off = found.into_iter().filter(|f| f.code == "wind-off-pilot");
        off.collect::<Vec<Finding>>()
    };
    assert!(check(&format!("{temp}\n{}", pilot(26))).is_empty());
    let found = check(&format!("{temp}\n{}", pilot(28)));
    assert_eq!(found.len(), 1);
    assert_eq!(
        (found[0].place.part, found[0].place.line),
        (Some('B'), Some(2))
    );
    // In the other order it stands at the level of the TEMP.
    let found = check(&format!("{}\n{temp}", pilot(28)));
    assert_eq!(found.len(), 1);
    assert_eq!(
        (found[0].place.part, found[0].place.pressure_hpa),
        (Some('A'), Some(850.0))
    );
    // Another station or time is not compared.
    for (from, to) in [
        ("15118 99011 9045", "15118 99012 9045"),
        ("15118 99011 9045", "15128 99011 9045"),
    ] {
        assert!(check(&format!("{temp}\n{}", pilot(28).replace(from, to))).is_empty());
    }
}
