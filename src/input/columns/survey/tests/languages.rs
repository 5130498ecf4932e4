//! Invented files as stations of many countries write them: every language in every
//! encoding that has its letters, with clock times and decimal commas.

use encoding_rs::{Encoding as Table, GB18030, SHIFT_JIS, WINDOWS_1251, WINDOWS_1252};
use proptest::prelude::*;

use super::*;
use crate::input::sheet;
use crate::input::text;
use crate::input::{Contents, SourceError};
use crate::model::Encoding;

/// The seven quantities, with units as people write them.
const HEADERS: [(&str, &[Option<Encoding>]); 8] = [
    (
        "Time (UTC);Pressure [hPa];Altitude (meters above Mean Sea Level);Temperature (degrees Celsius);Relative Humidity [%];Wind Direction (degrees);Wind Speed (knots)",
        &[None],
    ),
    (
        "Uhrzeit;Luftdruck [hPa];Seehöhe [m ü. NN];Temperatur [°C];rel. Feuchte [%];Windrichtung [Grad];Windgeschwindigkeit [Knoten]",
        &[None, Some(Encoding::Windows1252)],
    ),
    (
        "Heure;Pression [hPa];Altitude [m];Température [°C];Humidité relative [%];Direction du vent [degrés];Vitesse du vent [nœuds]",
        &[None, Some(Encoding::Windows1252)],
    ),
    (
        "Hora;Presión (hPa);Altitud (m);Temperatura (°C);Humedad relativa (%);Dirección del viento (grados);Velocidad del viento (nudos)",
        &[None, Some(Encoding::Windows1252)],
    ),
    (
        "Hora;Pressão (hPa);Altitude (m);Temperatura (°C);Umidade relativa (%);Direção do vento (graus);Velocidade do vento (nós)",
        &[None, Some(Encoding::Windows1252)],
    ),
    (
        "Время;Давление, гПа;Высота над уровнем моря, м;Температура, °С;Относительная влажность, %;Направление ветра, град;Скорость ветра, уз",
        &[Some(Encoding::Windows1251)],
    ),
    (
        "时间;气压(百帕);海拔高度（米）;温度(℃);相对湿度(%);风向(度);风速(节)",
        &[Some(Encoding::Gb18030)],
    ),
    (
        "時刻;気圧(hPa);海抜高度（m）;気温(℃);相対湿度(％);風向(度);風速(ノット)",
        &[Some(Encoding::ShiftJis)],
    ),
];
const ROWS: &str = "23:59:59;1004,3;84,0;4,5;81;230;10\r\n00:00:00;1003,7;89,0;4,5;82;231;10,5\r\n00:00:01;1003,1;94,0;\u{2212}0,4;83;231;11\r\n";

fn utf16(text: &str, big: bool, mark: bool) -> Vec<u8> {
    let mark = mark.then_some(0xfeff_u16);
    let units = mark.into_iter().chain(text.encode_utf16());
    let of = |unit: u16| {
        if big {
            unit.to_be_bytes()
        } else {
            unit.to_le_bytes()
        }
    };
    units.flat_map(of).collect()
}

/// What the file is read as with the sheet that is shown for it.
fn read(bytes: &[u8], encoding: Option<Encoding>) -> Result<Contents, SourceError> {
    let first = Reading {
        encoding,
        ..Reading::default()
    };
    let found = columns(bytes, "x.csv", &first)?;
    let text = found.sheet().unwrap();
    let file = sheet::Source {
        name: "s.toml",
        text: &text,
    };
    let mut reading = sheet::reading(&[file]).unwrap();
    reading.encoding = encoding;
    text::contents(bytes, "x.csv", &reading)
}

#[test]
fn every_language_is_read_in_every_encoding() {
    for (header, tables) in HEADERS {
        let text = format!("{header}\r\n{ROWS}");
        let mut files = vec![
            (text.clone().into_bytes(), None),
            (format!("\u{feff}{text}").into_bytes(), None),
            (utf16(&text, false, true), None),
            (utf16(&text, true, true), None),
            (utf16(&text, false, true), Some(Encoding::Utf16)),
        ];
        for encoding in tables {
            let table: &'static Table = match encoding {
                Some(Encoding::Windows1251) => WINDOWS_1251,
                Some(Encoding::Gb18030) => GB18030,
                Some(Encoding::ShiftJis) => SHIFT_JIS,
                _ => WINDOWS_1252,
            };
            // No code page of these has the sign, but that of Chinese.
            let text = text.replace('\u{2212}', "-");
            let (bytes, _, unmappable) = table.encode(&text);
            assert!(!unmappable, "{header}");
            files.push((bytes.into_owned(), *encoding));
        }
        for (i, (bytes, encoding)) in files.iter().enumerate() {
            let contents = read(bytes, *encoding).unwrap();
            let rows = &contents.raw.rows;
            let of = |get: fn(&crate::input::RawRow) -> Option<f64>| -> Vec<Option<f64>> {
                rows.iter().map(get).collect()
            };
            let at = format!("{header} ({i})");
            assert_eq!(of(|r| r.time_s), [0.0, 1.0, 2.0].map(Some), "{at}");
            assert_eq!(
                of(|r| r.pressure_hpa),
                [1004.3, 1003.7, 1003.1].map(Some),
                "{at}"
            );
            assert_eq!(of(|r| r.altitude_m), [84.0, 89.0, 94.0].map(Some), "{at}");
            assert_eq!(of(|r| r.temperature_c), [4.5, 4.5, -0.4].map(Some), "{at}");
            assert_eq!(of(|r| r.humidity_pct), [81.0, 82.0, 83.0].map(Some), "{at}");
            assert_eq!(
                of(|r| r.wind_dir_deg),
                [230.0, 231.0, 231.0].map(Some),
                "{at}"
            );
            // 10 kn = 10 × 1852 / 3600 m/s.
            let speed = rows[0].wind_speed_ms.unwrap();
            assert!((speed - 5.144_444_444).abs() < 1e-6, "{at}: {speed}");
            let clock = contents.clock.map(|clock| clock.to_string());
            assert_eq!(clock.as_deref(), Some("23:59:59"), "{at}");
        }
    }
}

#[test]
fn an_encoding_that_is_assumed_is_reported_and_a_wrong_one_refused() {
    let western = "time_s;pressure_hpa;Böe\n0;1000;1\n";
    let (bytes, _, _) = WINDOWS_1252.encode(western);
    let found = columns(&bytes, "x.csv", &Reading::default()).unwrap();
    assert_eq!(found.columns[2].column, "Böe");
    assert_eq!(found.findings[0].code, "encoding-assumed");
    // UTF-8 is what it is, and damaged UTF-8 is not Windows-1252.
    let found = columns(western.as_bytes(), "x.csv", &Reading::default()).unwrap();
    assert!(found.findings.is_empty());
    let refused = |bytes: &[u8], encoding| {
        let reading = Reading {
            encoding,
            ..Reading::default()
        };
        text::contents(bytes, "x.csv", &reading)
            .unwrap_err()
            .to_string()
    };
    assert_eq!(
        refused(b"time_s;pressure_hpa;B\xc3\xb6e\n0;1000;\xb0\n", None),
        "x.csv:2: not UTF-8 at byte 8 of the line; save the file as UTF-8 text, or give encoding under [text]"
    );
    let utf8 = Some(Encoding::Utf8);
    assert!(refused(&bytes, utf8).starts_with("x.csv:1: not UTF-8 at byte 22"));
    // 0x81 0x20 is no pair of Shift_JIS (JIS X 0208).
    assert_eq!(
        refused(b"time_s\n\x81 \n", Some(Encoding::ShiftJis)),
        "x.csv:2: not all of it is Shift_JIS; give encoding under [text], or save the file as UTF-8 text"
    );
    // Half a character at the end.
    let mut half = utf16("time_s\n0\n1", false, true);
    half.pop();
    assert!(refused(&half, None).starts_with("x.csv:3: not all of it is UTF-16LE"));
}

#[test]
fn commas_in_quotes_are_decimal_unless_they_may_be_thousands() {
    let of = |cell: &str| {
        let text = format!("pressure_hpa,altitude_m\n1000,\"{cell}\"\n");
        let read = text::contents(text.as_bytes(), "x.csv", &Reading::default());
        read.map(|c| c.raw.rows[0].altitude_m)
            .map_err(|e| e.to_string())
    };
    assert_eq!(of("84,5"), Ok(Some(84.5)));
    assert_eq!(of("\u{2212}4,25"), Ok(Some(-4.25)));
    assert!(
        of("12,345")
            .unwrap_err()
            .contains("altitude_m is `12,345` (a number is expected")
    );
}

#[test]
fn clock_times_that_do_not_fit_are_refused_with_their_place() {
    let of = |cell: &str| {
        let text = format!("time_s,pressure_hpa\n05:32:00,1000\n{cell},999\n");
        text::contents(text.as_bytes(), "x.csv", &Reading::default())
            .unwrap_err()
            .to_string()
    };
    assert_eq!(
        of("05:32:61"),
        "x.csv:3:1: time_s is `05:32:61` (hh:mm:ss is expected, alone or after a date YYYY-MM-DD or DD.MM.YYYY, in UTC or with its zone)"
    );
    assert!(
        of("05:33").contains("(hh:mm or mm:ss; give unit = \"hh:mm\""),
        "{}",
        of("05:33")
    );
    assert!(of("60").contains("hh:mm:ss is expected"));
    assert!(of("2031-01-15T05:32:01Z").contains("hh:mm:ss is expected"));
    let far = "time_s,pressure_hpa\n2031-01-15T05:32:00Z,1000\n2031-02-15T05:32:00Z,999\n";
    let refused = text::contents(far.as_bytes(), "x.csv", &Reading::default()).unwrap_err();
    assert!(
        refused
            .to_string()
            .contains("more than 11 days after the first row"),
        "{refused}"
    );
}

proptest! {
    #[test]
    fn any_bytes_in_any_encoding_are_read_or_refused(
        bytes in prop::collection::vec(any::<u8>(), 0..200),
        text in "[-0-9.,:;Tt \\t\\nPZ时°]{0,100}",
        encoding in prop::sample::select(vec![
            None, Some(Encoding::Utf8), Some(Encoding::Utf16), Some(Encoding::Windows1250),
            Some(Encoding::Windows1251), Some(Encoding::Windows1252), Some(Encoding::Gb18030),
            Some(Encoding::ShiftJis),
        ]),
        big in any::<bool>(),
    ) {
        let reading = Reading { encoding, ..Reading::default() };
        for bytes in [bytes, utf16(&text, big, true), text.into_bytes()] {
            let _ = columns(&bytes, "x", &reading);
            let _ = text::contents(&bytes, "x", &reading);
        }
    }
}
