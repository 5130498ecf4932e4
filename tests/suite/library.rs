//! What a program writes: rows to a report, messages to reports, errors with kind and
//! place; and the two programs under `samples/`.

use std::fs;

use fivefig::model::{CallSign, Clouds, StationKind};
use fivefig::prelude::*;
use fivefig::{ErrorKind, forms, input};

#[path = "../../samples/rows_to_temp.rs"]
#[allow(dead_code, reason = "its main function is called alone")]
mod rows_to_temp;
#[path = "../../samples/traffic_folder.rs"]
#[allow(dead_code, reason = "its main function is not called")]
mod traffic_folder;

/// The part of a message that begins with these letters, group by group.
fn part<'a>(text: &'a str, letters: &str) -> Vec<&'a str> {
    let parts = text.split('=').map(str::split_ascii_whitespace);
    let mut found = parts.filter(|groups| groups.clone().next() == Some(letters));
    found.next().expect("the part is there").collect()
}

#[test]
fn rows_become_a_message_json_and_bufr() {
    let ascent = Ascent::from_rows(rows_to_temp::rows(), &rows_to_temp::context().unwrap());
    let report = ascent.unwrap().report(Form::Temp).unwrap();
    let text = report.text().unwrap();
    let a = part(&text, "TTAA");
    // YYGGId: day 15 in m/s; 11:23:40 is nearest to 11 UTC (hour of release); the last
    // standard surface with a wind is 150 hPa, Id 1 (table 1734).
    // 1004.3 hPa; 4.5 °C; with es = 6.112 exp(17.62 t / (243.12 + t)) (WMO-No. 8, 4.B) a
    // humidity of 73 % is e = 6.145 hPa, dew point 0.07 °C, depression 4.4 °C; 230° 5.8 m/s.
    assert_eq!(a[1..6], ["15111", "99011", "99004", "04444", "23006"]);
    // The highest wind of the ascent, 55.2 m/s at 299.3 hPa from 271°: 270° in fives.
    assert!(a.windows(2).any(|g| g == ["77299", "27055"]), "{a:?}");
    // The inversion: 870.4 hPa, -4.1 °C and 853.6 hPa, -0.6 °C in Part B;
    // of tenths below zero every second has a figure, the odd one (table 3931).
    let b = part(&text, "TTBB");
    let temperatures: Vec<&str> = b.iter().map(|g| g.get(..3).unwrap_or_default()).collect();
    for (pressure, temperature) in [("870", "041"), ("854", "007")] {
        let at = b
            .iter()
            .position(|g| g.len() == 5 && g.get(2..) == Some(pressure));
        assert_eq!(
            temperatures[at.expect("the level is there") + 1],
            temperature
        );
    }

    // Every form gives back what the rows said at the surface.
    let parsed = Message::parse(&text).unwrap().report();
    assert_eq!(compare(&report, &parsed), []);
    let octets = report.bufr().unwrap();
    let soundings = input::bufr::soundings(&octets.value, "x.bufr").value;
    let levels = &soundings[0].report.levels;
    for row in rows_to_temp::rows() {
        let same = |l: &fivefig::model::Level| l.row.pressure_hpa == row.pressure_hpa;
        assert!(levels.iter().any(same), "{row:?}");
    }
    assert_eq!(levels[0].row.pressure_hpa, Some(1004.3));
    let records = forms::json::read(&report.json().unwrap()).unwrap();
    assert_eq!(
        records[0].station.wmo(),
        Some(WmoNumber::new(99, 11).unwrap())
    );
    assert_eq!(records[0].levels.len(), report.levels().len());
    // The hour of 12 UTC follows from the release and is reported as assumed.
    let codes: Vec<&str> = report.findings().iter().map(|f| &*f.code).collect();
    assert!(codes.contains(&"standard-time-assumed"), "{codes:?}");
}

#[test]
fn an_early_report_has_two_parts_of_the_whole() {
    let mut rows = rows_to_temp::rows();
    let context = rows_to_temp::context().unwrap();
    let early = |rows: Vec<RawRow>| Ascent::from_rows(rows, &context)?.early_report(Form::Temp);
    // The flight ends at 132.4 hPa.
    let error = early(rows.clone()).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::Form);
    let last = rows.last().unwrap().clone();
    for (time_s, pressure_hpa) in [(3000.0, 103.0), (3300.0, 80.0)] {
        rows.push(RawRow {
            time_s: Some(time_s),
            pressure_hpa: Some(pressure_hpa),
            ..last.clone()
        });
    }
    let early = early(rows.clone()).unwrap();
    let letters: Vec<char> = early.report().parts.keys().map(|p| p.letter()).collect();
    assert_eq!(letters, ['A', 'B']);
}

#[test]
fn rows_out_of_range_are_refused_with_their_number() {
    let context = rows_to_temp::context().unwrap();
    for (change, what) in [
        (
            (|row: &mut RawRow| row.temperature_c = Some(277.6)) as fn(&mut RawRow),
            "row 3: temperature_c is 277.6; -120 to 60 °C is allowed",
        ),
        (
            |row| row.pressure_hpa = Some(f64::NAN),
            "row 3: pressure_hpa is NaN; more than 0 and at most 1100 hPa is allowed",
        ),
        (
            |row| row.latitude_deg = Some(-90.5),
            "row 3: latitude_deg is -90.5; -90 to 90 deg is allowed",
        ),
    ] {
        let mut rows = rows_to_temp::rows();
        change(&mut rows[2]);
        let error = Ascent::from_rows(rows, &context).unwrap_err();
        assert_eq!(error.to_string(), what);
        assert_eq!(
            (error.kind(), error.place().line),
            (ErrorKind::Rows, Some(3))
        );
    }
    let mut rows = rows_to_temp::rows();
    rows[4].time_s = Some(10.0);
    let ascent = Ascent::from_rows(rows, &context).unwrap();
    let error = ascent.report(Form::Temp).unwrap_err();
    assert_eq!(
        (error.kind(), error.place().line),
        (ErrorKind::Rows, Some(5))
    );
    let none = Ascent::from_rows(Vec::new(), &context).unwrap();
    assert_eq!(none.report(Form::Temp).unwrap_err().kind(), ErrorKind::Rows);
}

#[test]
fn a_context_out_of_range_is_refused_with_its_key() {
    let mut context = rows_to_temp::context().unwrap();
    context.station.elevation_m = Some(9001.0);
    let error = Ascent::from_rows(rows_to_temp::rows(), &context).unwrap_err();
    assert_eq!(error.kind(), ErrorKind::Context);
    assert_eq!(error.place().key.as_deref(), Some("station.elevation_m"));
    let mut context = rows_to_temp::context().unwrap();
    context.flight.release = None;
    let error = Ascent::from_rows(rows_to_temp::rows(), &context).unwrap_err();
    assert_eq!(error.place().key.as_deref(), Some("flight.release"));
}

#[test]
fn the_form_says_what_it_cannot_hold() {
    let context = rows_to_temp::context().unwrap();
    let mut rows = rows_to_temp::rows();
    for row in &mut rows {
        (row.temperature_c, row.humidity_pct) = (None, None);
    }
    let winds = Ascent::from_rows(rows, &context).unwrap();
    assert_eq!(
        winds.report(Form::Temp).unwrap_err().kind(),
        ErrorKind::Form
    );
    let pilot = winds.report(Form::Pilot).unwrap();
    // YYGGa4: nothing says with what the wind was measured.
    assert!(pilot.text().unwrap().starts_with("PPAA 1511/ 99011"));
}

#[test]
fn stations_are_what_their_constructors_say() {
    let position = Position::new(14.38, -38.27).unwrap();
    let ship = Station::ship(CallSign::new("XXXX9").unwrap(), position);
    assert_eq!((ship.kind, ship.wmo()), (StationKind::Ship, None));
    assert_eq!(ship.position(), Some(position));
    let mut context = Context::new(ship, "2031-06-01T23:31:00Z".parse().unwrap());
    context.clouds = Some(Clouds::default());
    let report = Ascent::from_rows(rows_to_temp::rows(), &context).unwrap();
    let report = report.report(Form::Temp).unwrap();
    // 23:31 is nearest to 00 UTC of the next day. FM 36: 14.38° N in tenths, cut off, 143;
    // Qc 7 (north and west, table 3333), 38.2° W; the Marsden square of 10 to 20° N, 30 to
    // 40° W is the fourth of the second row of 36, 040 (table 2590); units of degrees 4, 8.
    let text = report.text().unwrap();
    let start = ["UUAA", "XXXX9", "02001", "99143", "70382", "04048"];
    assert_eq!(part(&text, "UUAA")[..6], start);

    for wrong in ["", "XXXX99999X", "XX 9", "xxxx9", "ÄÖ"] {
        assert!(CallSign::new(wrong).is_err(), "{wrong}");
    }
    for wrong in ["", "9901", "990111", "00011", "9901a", "+9011", "९९०"] {
        assert!(wrong.parse::<WmoNumber>().is_err(), "{wrong}");
    }
    assert_eq!(
        Position::new(51.25, 183.4).unwrap_err().to_string(),
        "longitude: 183.4 is not valid; -180 to 180 degrees east is allowed"
    );
}

#[test]
fn the_program_for_a_folder_of_traffic_finds_the_fault() {
    let folder = tempfile::tempdir().unwrap();
    // Invented.
    let good = "TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999=\n";
    fs::write(folder.path().join("a.txt"), good).unwrap();
    let summary = traffic_folder::check(folder.path(), &mut Vec::new()).unwrap();
    let one = traffic_folder::Summary {
        reports: 1,
        errors: 0,
    };
    assert_eq!(summary, one);

    let wrong = good.replace("22507", "22X07");
    fs::write(
        folder.path().join("b.txt"),
        format!("\u{1}{wrong}").as_bytes(),
    )
    .unwrap();
    fs::write(folder.path().join("c.txt"), b"\xff\xfe nothing of ours\n").unwrap();
    let mut out = Vec::new();
    let summary = traffic_folder::check(folder.path(), &mut out).unwrap();
    let out = String::from_utf8(out).unwrap();
    assert!(summary.errors >= 1, "{out}");
    assert!(
        out.lines()
            .any(|l| l.contains("b.txt:") && l.contains("22X07")),
        "{out}"
    );
    assert!(!out.contains("a.txt"), "{out}");
}

#[test]
fn the_program_for_rows_runs() {
    rows_to_temp::main().unwrap();
}
