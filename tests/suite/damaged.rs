//! Messages damaged on purpose: each fault is found, by the reader or by the
//! checks, and named as what it is.
//!
//! The message is the real one of `tests/vectors/land_parts_abcd.toml`.

use std::fs;
use std::path::Path;

use fivefig::forms::text::Traffic;
use fivefig::model::finding::{Finding, Severity};
use fivefig::verify::message::check;

fn published() -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors");
    let file = fs::read_to_string(root.join("land_parts_abcd.toml")).unwrap();
    let table: toml::Table = file.parse().unwrap();
    table["text"].as_str().unwrap().to_owned()
}

/// Everything that is said of a text, and how many parts were read.
fn reported(text: &str) -> (Vec<Finding>, usize) {
    let mut traffic = Traffic::new("x");
    for line in text.lines() {
        traffic.push(line);
    }
    traffic.finish();
    let mut findings = traffic.take_findings();
    let mut parts = 0;
    for one in traffic.take() {
        parts += one.message.parts.len();
        findings.extend(one.findings.clone());
        findings.extend(one.placed("x", check(&one.message)));
    }
    (findings, parts)
}

/// The text, each report on one line, so that a fault may be put in anywhere.
fn sound() -> String {
    let mut out = String::new();
    for line in published().lines() {
        let heading = line.contains("KWBC");
        if !out.is_empty() && !out.ends_with('\n') {
            out.push(if heading { '\n' } else { ' ' });
        }
        out.push_str(line);
        if heading {
            out.push('\n');
        }
    }
    out
}

#[test]
fn the_sound_message_is_read_whole() {
    let (findings, parts) = reported(&sound());
    assert_eq!(parts, 4);
    let loud: Vec<_> = findings
        .iter()
        .filter(|f| f.severity > Severity::Info)
        .collect();
    assert!(loud.is_empty(), "{loud:?}");
}

/// What is replaced, by what, and what must be said.
const DAMAGE: &[(&str, &str, &str)] = &[
    // Identification.
    ("TTAA 56121", "TTAA 00121", "YY is 01 to 31"),
    ("TTAA 56121", "TTAA 32121", "YY is 01 to 31"),
    ("TTAA 56121", "TTAA 82121", "YY is 01 to 31"),
    ("TTAA 56121", "TTAA 56241", "GG is 00 to 23"),
    ("TTAA 56121", "TTAA 5612", "YYGGId or YYGGa4 is expected"),
    ("TTAA 56121", "TTAA 561211", "YYGGId or YYGGa4 is expected"),
    ("TTAA 56121 72403", "TTAA 72403", "GG is 00 to 23"),
    ("72403 99013", "7240 99013", "IIiii is expected"),
    ("72403 99013", "7240O 99013", "IIiii is expected"),
    ("TTAA 56121", "TTAQ 56121", "belongs to no report"),
    ("TTAA 56121", "TTAA 56122", "`56122`: Id does not give"),
    ("TTAA 56121", "TTAA 56126", "`56126`: Id does not give"),
    ("TTAA 56121", "TTAA 5612/", "`5612/`: Id does not give"),
    ("TTCC 56121", "TTCC 56123", "`56123`: Id does not give"),
    (
        "TTAA 56121 72403 99013 08642 30503",
        "TTAA 56122 72403 99013 08642",
        "dd is 00 to 36",
    ),
    // Section 2.
    ("99013 08642", "98013 08642", "99PPP is expected"),
    ("99013 08642 30503", "99013 30503", "dd is 00 to 36"),
    ("00195 10258 34010", "00195 34010", "dd is 00 to 36"),
    (
        "00195 10258 34010",
        "00195 10258 10258 34010",
        "88PPP or 88999 is expected",
    ),
    (
        "00195 10258 34010",
        "00195 10251 34010",
        "DD 51 to 55 are not used",
    ),
    (
        "85530 06078 31519",
        "85530 06052 31519",
        "DD 51 to 55 are not used",
    ),
    ("85530 06078 31519", "85530 /////  37519", "dd is 00 to 36"),
    (
        "85530 06078 31519",
        "85530 ///78 31519",
        "a depression without a temperature",
    ),
    (
        "85530 06078 31519",
        "85530 0607X 31519",
        "TTTaDD is expected",
    ),
    ("85530 06078 31519", "85530 06078 3151", "ddfff is expected"),
    (
        "70125 04079 28530",
        "04079 28530",
        "88PPP or 88999 is expected",
    ),
    (
        "70125 04079 28530 50579 10762 29035",
        "50579 10762 29035 70125 04079 28530",
        "88PPP or 88999 is expected",
    ),
    ("30950 38366 28054 ", "", "standard-surface-missing"),
    ("50579 10762 29035", "50479 10762 29035", "hydrostatic"),
    ("50579 10762 29035", "50597 10762 29035", "hydrostatic"),
    ("40746 23374", "40764 23374", "hydrostatic"),
    ("85530 06078", "85503 06078", "hydrostatic"),
    ("70125 04079", "70152 04079", "hydrostatic"),
    ("50579 10762", "50579 10662", "sign-slip"),
    ("20218 54564", "20218 54464", "sign-slip"),
    ("70125 04079", "70125 24079", "superadiabatic"),
    // Sections 3 and 4.
    (
        "88105 67767 27049",
        "67767 27049",
        "88PPP or 88999 is expected",
    ),
    ("88105 67767 27049", "88105 27049", "dd is 00 to 36"),
    (
        "88105 67767 27049",
        "88105 66767 27049",
        "tropopause-differs",
    ),
    (
        "88105 67767 27049",
        "88115 67767 27049",
        "tropopause-not-significant",
    ),
    (
        "77159 26573 41314",
        "26573 41314",
        "77PPP, 66PPP or 77999 is expected",
    ),
    (
        "77159 26573 41314",
        "77159 26523 41314",
        "maximum-wind-weak",
    ),
    (
        "77159 26573 41314",
        "77159 26576 41314",
        "maximum-wind-differs",
    ),
    (
        "77159 26573 41314",
        "77195 26573 41314",
        "maximum-wind-not-significant",
    ),
    (
        "77159 26573 41314",
        "77159 26573 4131X",
        "4vbvbvava is expected",
    ),
    (
        "77159 26573 41314",
        "77559 26573 41314",
        "maximum-wind-weak",
    ),
    // Section 7.
    (
        "44108 81106=\nUK",
        "44108 81166=\nUK",
        "GGgg is a clock time",
    ),
    ("44108 81106=\nUK", "44108 71106=\nUK", "8GGgg is expected"),
    ("44108 81106=\nUK", "44108=\nUK", "sonde-short"),
    // Section 5.
    (
        "00013 08642 11004",
        "00013 08642 22004",
        "nothing of this form",
    ),
    ("00013 08642 11004", "11004", "nothing of this form"),
    ("00013 08642 11004", "00013 11004", "nothing of this form"),
    (
        "00013 08642 11004",
        "00013 08642 08642 11004",
        "nothing of this form",
    ),
    ("00013 08642 11004", "00013 09042 11004", "surface-differs"),
    ("00013 08642 11004", "00031 08642 11004", "surface-differs"),
    (
        "22963 08458 33935 06861",
        "22935 06861 33963 08458",
        "pressure-not-falling",
    ),
    ("44924 07071", "44942 07071", "pressure-not-falling"),
    ("11869 05870", "11869 05953", "DD 51 to 55 are not used"),
    ("66481 13362", "66481 13262", "sign-slip"),
    ("99322 34370", "99322 34270", "sign-slip"),
    ("77353 29367", "77353 39367", "superadiabatic"),
    ("66229 50961", "66229 50061", "sign-slip"),
    // Section 6.
    ("21212 00013 30503", "21212 00013 3050", "ddfff is expected"),
    (
        "21212 00013 30503",
        "21213 00013 30503",
        "nothing of this form",
    ),
    ("21212 00013 30503", "21212 00013 37503", "dd is 00 to 36"),
    (
        "21212 00013 30503",
        "21212 00013 30506",
        "surface-wind-differs",
    ),
    (
        "66759 29025 77574 28532",
        "66574 28532 77759 29025",
        "pressure-not-falling",
    ),
    (
        "88539 29535 99159",
        "88539 29535 99195",
        "maximum-wind-not-significant",
    ),
    ("55823 32020 66759", "55823 14099 66759", "wind-shear"),
    // Section 8 and the end.
    ("41414 00900", "41414 0090", "NhCLhCMCH is expected"),
    ("41414 00900", "41414", "nothing of this form"),
    (
        "41414 00900 51515",
        "41414 00900 12345 51515",
        "nothing of this form",
    ),
    // Parts C and D.
    (
        "TTCC 56121 72403",
        "TTCC 56121 72430",
        "read as a report of its own",
    ),
    ("TTCC 56121", "TTCC 56131", "release-off-hour"),
    ("70864 63375 26030", "70864 63275 26030", "sign-slip"),
    ("50072 59778 23019", "50027 59778 23019", "hydrostatic"),
    (
        "10112 45987 26520 88999",
        "10112 45987 26520",
        "tropopause-absent",
    ),
    ("11974 67969", "00974 67969", "nothing of this form"),
    (
        "22941 66571 33929",
        "22914 66571 33929",
        "pressure-not-falling",
    ),
    ("TTDD 5612/", "TTDD 56/12", "GG is 00 to 23"),
    ("11919 29041 22793", "11919 22793", "nothing of this form"),
    // The envelope.
    ("81106=\nUKUS01", "81106\nUKUS01", "end-missing"),
    (
        "TTBB 56128 72403",
        "TTBB 56128 72403 NIL= TTBB 56128 72403",
        "nil-replaced",
    ),
];

#[test]
fn every_damage_is_reported() {
    let sound = sound();
    let mut wrong = Vec::new();
    for &(from, to, wanted) in DAMAGE {
        let text = sound.replacen(from, to, 1);
        if text == sound {
            wrong.push(format!("`{from}` is not in the message"));
            continue;
        }
        let (findings, parts) = reported(&text);
        let stderr: Vec<String> = findings
            .iter()
            .map(|f| format!("{}: {f}", f.code))
            .collect();
        let hit = match wanted {
            "read as a report of its own" => {
                parts == 4 && findings.len() == reported(&sound).0.len()
            }
            // A wrong Id is reported, and costs no part.
            _ if wanted.contains("Id does not give") => {
                parts == 4 && findings.len() == reported(&sound).0.len() + 1
            }
            _ => stderr.iter().any(|s| s.contains(wanted)),
        };
        if !hit {
            wrong.push(format!(
                "`{from}` -> `{to}`: {wanted}? {parts} parts, {stderr:#?}"
            ));
        }
    }
    assert!(DAMAGE.len() >= 60);
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
