use super::*;
use crate::model::finding::Severity;

const A: &str = "TTAA 15111 99011 99004 04430 23006 00119 04226 22507 92748 00306 23512 \
    85421 01756 25015 70946 09562 25518 50547 24158 26037 40706 35947 26537 30900 50756 \
    27549 25017 51960 28061 20162 52771 29046 15347 56571 29528 10598 66969 30016 88280 \
    53957 28057 77262 28064 41711 31313 49008 81123";
const B: &str = "TTBB 15118 99011 00004 04430 11876 03105 22842 01158 33642 13164 21212 \
    00004 23006 11690 25519 31313 49008 81123 41414 65470";

/// Everything that comes out of a text: reports, and findings in order.
fn read(text: &str) -> (Vec<Received>, Vec<Finding>) {
    let mut traffic = Traffic::new("x.txt");
    let mut findings = Vec::new();
    let mut reports = Vec::new();
    for line in text.lines() {
        traffic.push(line);
        findings.extend(traffic.take_findings());
        reports.extend(traffic.take());
    }
    traffic.finish();
    findings.extend(traffic.take_findings());
    reports.extend(traffic.take());
    for report in &reports {
        findings.extend(report.findings.clone());
    }
    (reports, findings)
}

fn codes(findings: &[Finding]) -> Vec<&str> {
    findings.iter().map(|f| f.code.as_ref()).collect()
}

#[test]
fn parts_of_one_report_join_across_bulletins() {
    let text = format!(
        "\u{1}\r\r\n123\r\r\nUSXX01 XXXX 151200\r\r\n{A}=\r\r\nTTAA 1511/ 99012 NIL=\r\r\n\u{3}\
         \u{1}\r\r\n124\r\r\nUKXX01 XXXX 151200 RRA\r\r\n{B}=\r\r\n\u{3}"
    );
    let (reports, findings) = read(&text);
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(reports.len(), 2);
    assert_eq!(reports[0].message.parts.len(), 2);
    let headings: Vec<String> = reports[0]
        .headings
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(headings, ["USXX01 XXXX 151200", "UKXX01 XXXX 151200 RRA"]);
    assert_eq!(reports[1].message.to_string(), "TTAA 1511/ 99012 NIL=\n");
}

#[test]
fn untidy_edges_are_read_and_told() {
    let small = A.to_ascii_lowercase();
    for (text, parts, reported) in [
        // A heading in ITA-2 manner, blanks, blank lines.
        (
            format!("ZCZC 017\n\nUSXX01  XXXX 151200\n\n  {A}  =\n\nNNNN\n"),
            1,
            vec![],
        ),
        (
            format!("usxx1 xxxx 151200\n{small}="),
            1,
            vec!["small-letters"],
        ),
        (
            format!("{A}\nUKXX01 XXXX 151200\n{B}="),
            2,
            vec!["end-missing"],
        ),
        (format!("{B}=\n{A}"), 2, vec!["end-missing"]),
        (
            format!("USXX01 XXXX 151200 COR\n{A}="),
            1,
            vec!["heading-bbb"],
        ),
        (
            format!("hello {A}= world"),
            1,
            vec!["stray-word", "stray-word"],
        ),
        (format!("{A}=\n{A}="), 1, vec!["part-twice"]),
        (
            "USXX01 XXXX 151200\nNIL=".to_owned(),
            0,
            vec!["bulletin-nil"],
        ),
    ] {
        let (reports, findings) = read(&text);
        let count: usize = reports.iter().map(|r| r.message.parts.len()).sum();
        assert_eq!((count, codes(&findings)), (parts, reported), "{text}");
    }
}

#[test]
fn letters_may_stand_once_for_all_reports_of_a_bulletin() {
    let rest = A
        .strip_prefix("TTAA ")
        .unwrap()
        .replacen("99011", "99013", 1);
    let (reports, findings) = read(&format!("USXX01 XXXX 151200\n{A}=\n{rest}="));
    assert_eq!(reports.len(), 2);
    assert_eq!(codes(&findings), ["letters-missing"]);
    assert_eq!(
        reports[1].message.ident,
        Ident::Land {
            block: 99,
            number: 13
        }
    );
}

#[test]
fn a_corrected_part_replaces_and_a_different_one_stands_alone() {
    let other = A.replacen("04430", "04630", 1);
    let (reports, findings) = read(&format!("{A}=\n{B}=\nUSXX01 XXXX 151200 CCA\n{other}="));
    assert_eq!(reports.len(), 1);
    assert_eq!(codes(&findings), ["part-corrected"]);
    assert!(reports[0].message.to_string().contains("99004 04630"));
    let (reports, findings) = read(&format!("{A}=\n{other}="));
    assert_eq!(reports.len(), 2);
    assert_eq!(codes(&findings), ["part-differs"]);
}

#[test]
fn a_broken_part_names_its_place_and_leaves_the_others() {
    let broken = A.replacen("85421", "8X421", 1);
    let (reports, findings) = read(&format!("{broken}=\n{B}="));
    assert_eq!(reports.len(), 1);
    assert_eq!(reports[0].message.parts.len(), 1);
    let f = &findings[0];
    assert_eq!(
        (f.code.as_ref(), f.severity),
        ("malformed", Severity::Error)
    );
    let p = &f.place;
    // Letters 4, three groups of identification, then groups of 5 and a blank
    // each: the thirteenth begins at column 6 + 11 × 6 = 72.
    assert_eq!((p.line, p.column, p.part), (Some(1), Some(72), Some('A')));
    assert_eq!((p.section, p.group), (Some(3), Some(13)));
}

#[test]
fn free_text_is_kept() {
    let text = "XXAA 63183 99256 70775 08057 99007 28448 01027 00064 28047 01028 92752 22419 \
        02525 85484 18448 04532 88999 77999 61616 ACFT 1708A OB 01 62626 SPL 2551N07756W=";
    let (reports, findings) = read(text);
    assert_eq!(
        codes(&findings),
        ["id-wrong"],
        "Id 3, but no wind above 850 hPa"
    );
    assert_eq!(findings[0].place.group, Some(2));
    assert!(reports[0].message.to_string().starts_with("XXAA 63188 "));
    let (reports, findings) = read(&text.replacen("63183", "63188", 1));
    assert!(findings.is_empty(), "{findings:?}");
    let report = reports[0].message.report();
    let national = &report.parts[&Part::A].national;
    assert_eq!(national.join(" "), "ACFT 1708A OB 01 62626 SPL 2551N07756W");
    assert!(reports[0].raw[0].1.ends_with("62626 SPL 2551N07756W"));
}

#[test]
fn the_window_is_bounded_and_nothing_is_lost() {
    let mut traffic = Traffic::new("x");
    let mut seen = 0;
    for k in 0..10_000 {
        // Days 1 to 31, hours 0 to 23, stations: all different.
        let (day, hour, station) = (k % 31 + 1, k % 24, k / 700 + 100);
        traffic.push(&format!("TTAA {day:02}{hour:02}/ 99{station} NIL="));
        assert!(traffic.open.len() <= WINDOW);
        seen += traffic.take().len();
    }
    traffic.finish();
    seen += traffic.take().len();
    let mut all = std::collections::BTreeSet::new();
    for k in 0..10_000 {
        all.insert((k % 31, k % 24, k / 700));
    }
    assert_eq!(seen, all.len());
}

#[test]
fn a_pilot_group_may_begin_with_a_solidus() {
    let (reports, findings) = read("PPBB 56008 99694 90/12 27508 26008 90346 26007 28006 24509=");
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(
        reports[0].message.to_string(),
        "PPBB 56008 99694 90123 27508 26008 26007 9046/ 28006 24509=\n"
    );
}
