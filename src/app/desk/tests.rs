use std::io::{Read as _, Write as _};
use std::net::TcpStream;

use super::*;
use crate::issue::outputs::Output;

fn session() -> (Session, tempfile::TempDir) {
    session_at(|| 0)
}

/// A session by a clock, with a watched folder.
fn session_at(clock: fn() -> i64) -> (Session, tempfile::TempDir) {
    let place = tempfile::tempdir().unwrap();
    let (out, watched) = (place.path().join("out"), place.path().join("in"));
    std::fs::create_dir(&out).unwrap();
    std::fs::create_dir(&watched).unwrap();
    let sheet = std::fs::read_to_string("samples/winter_jet.toml").unwrap();
    let setup = Setup {
        sheets: vec![("s.toml".to_owned(), sheet)],
        out,
        watched: Some(watched),
        wanted: [Output::Text].into(),
        port: 0,
    };
    (Session::new(setup, clock).unwrap(), place)
}

/// Fields as a page posts them.
fn fields(pairs: &[(&str, &str)]) -> fields::Fields {
    let one = |(name, value): &(&str, &str)| format!("{name}={value}");
    let pairs: Vec<String> = pairs.iter().map(one).collect();
    fields::Fields::parse(pairs.join("&").as_bytes()).unwrap()
}

/// Issues what the page shows; the lines of the notice.
fn issue(session: &mut Session) -> String {
    let view = view::view(session);
    let letters = match &view.outcome {
        view::Outcome::Coded(coded) => coded.standing.letters(),
        _ => String::new(),
    };
    session.issue(&fields(&[("shown", &view.digest), ("letter", &letters)]));
    session.notice.take().unwrap().lines.join("\n")
}

/// How many issues there are; the folder of the desk is hidden.
fn issues(place: &tempfile::TempDir) -> usize {
    let out = std::fs::read_dir(place.path().join("out")).unwrap();
    let names = out.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    names.filter(|name| !name.starts_with('.')).count()
}

/// Release of the invented flight: 2031-01-15T11:23:40Z, 22294 days of 86400 s and 41020 s
/// after 1970; the clock is 5 minutes and 1 second, then 5 minutes behind it.
#[test]
fn a_release_in_the_future_is_not_issued() {
    let rows = std::fs::read("samples/winter_jet.csv").unwrap();
    for (clock, goes) in [
        ((|| 22_294 * 86_400 + 41_020 - 301) as fn() -> i64, false),
        (|| 22_294 * 86_400 + 41_020 - 300, true),
        // Years later: the desk corrects old reports too.
        (|| 32_294 * 86_400, true),
    ] {
        let (mut session, place) = session_at(clock);
        session.load("p.csv", rows.clone());
        let page = page_of(&session);
        assert_eq!(page.contains("id=\"issue-now\""), goes);
        let reported = "flight.release: 2031-01-15T11:23:40Z is 5 min ahead of the system clock (at most 5 min is allowed)";
        // The page has the label of the field.
        let labelled = reported.replace("flight.release", "Release, UTC");
        assert_eq!(page.contains(&labelled), !goes);
        let notice = issue(&mut session);
        assert_eq!(notice.starts_with("written to "), goes, "{notice}");
        assert_eq!(notice.contains(reported), !goes, "{notice}");
        assert_eq!(issues(&place), usize::from(goes));
    }
}

/// The file is the beginning of the flight when it is loaded, and grows.
#[test]
fn a_file_that_grows_after_it_was_loaded_is_not_issued_as_it_was() {
    let (mut session, place) = session_at(|| 32_294 * 86_400);
    let path = place.path().join("in/p.csv");
    let text = std::fs::read_to_string("samples/winter_jet.csv").unwrap();
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    std::fs::write(&path, lines[..lines.len() / 2].concat()).unwrap();
    session.list_files();
    session.load_file("0");
    std::fs::write(&path, &text).unwrap();
    let notice = issue(&mut session);
    assert!(
        notice.starts_with("not issued: p.csv has changed since it was loaded (")
            && notice.ends_with("load it again"),
        "{notice}"
    );
    // Gone, for instance to the folder of files that are done.
    std::fs::rename(&path, place.path().join("away")).unwrap();
    let notice = issue(&mut session);
    assert!(notice.contains("p.csv can no longer be read in the watched folder"));
    std::fs::rename(place.path().join("away"), &path).unwrap();
    session.load_file("0");
    assert!(issue(&mut session).starts_with("written to "));
    // One octet is another, the length and time the same: it is no longer that file.
    let about = std::fs::metadata(&path).unwrap();
    std::fs::write(&path, text.replacen("17", "18", 1)).unwrap();
    let file = std::fs::File::options().write(true).open(&path).unwrap();
    file.set_modified(about.modified().unwrap()).unwrap();
    assert!(issue(&mut session).contains("has changed since it was loaded"));
}

/// Two pages post all their fields, as they do without the script. By hand: what is
/// posted, what the page showed, what stands there now; only what the page changed and
/// no other is taken.
#[test]
fn two_pages_do_not_write_over_each_other() {
    let (mut session, _place) = session();
    session.revise();
    let get = |session: &Session| {
        let draft = &session.state.draft;
        (
            draft.get("surface.temperature_c"),
            draft.get("flight.serial"),
        )
    };
    let (t, s) = get(&session);
    let first = session.revision.to_string();
    let post = |session: &mut Session, revision: &str, t: &str, s: &str| {
        session.notice = None;
        let posted = [
            ("revision", revision),
            ("surface.temperature_c", t),
            ("flight.serial", s),
        ];
        let taken = session.apply(&fields(&posted));
        session.revise();
        let lines = session.notice.take().map(|notice| notice.lines);
        assert_eq!(taken, lines.is_none());
        lines.unwrap_or_default()
    };
    // One page changes the temperature, the other the serial number: both stand.
    assert!(post(&mut session, &first, "5.5", &s).is_empty());
    assert!(post(&mut session, &first, &t, "B2").is_empty());
    assert_eq!(get(&session), ("5.5".to_owned(), "B2".to_owned()));
    // Both change the temperature: the second is shown the conflict, and its other field
    // is taken.
    let lines = post(&mut session, &first, "6.5", "B2");
    assert_eq!(
        lines,
        [
            "Surface observation: Temperature, °C: `6.5` was not taken, because another page has changed it to `5.5` meanwhile",
            "Look at what stands there now; enter a value again to replace it."
        ]
    );
    assert_eq!(get(&session), ("5.5".to_owned(), "B2".to_owned()));
    // On the page that shows it the value is entered again, and taken.
    let now = session.revision.to_string();
    assert!(post(&mut session, &now, "6.5", "B2").is_empty());
    // The same value from two pages is no conflict; nor is one that went and came back.
    assert!(post(&mut session, &first, "6.5", "B2").is_empty());
    let now = session.revision.to_string();
    assert!(post(&mut session, &now, &t, &s).is_empty());
    assert!(post(&mut session, &first, "7.5", &s).is_empty());
    assert_eq!(get(&session).0, "7.5");
    // A page of which nothing is known changes nothing in silence.
    for revision in ["", "0", "999999", "x"] {
        assert_eq!(
            post(&mut session, revision, "8.5", &s).len(),
            2,
            "{revision}"
        );
        assert!(post(&mut session, revision, "7.5", &s).is_empty());
    }
    // Form and reach too.
    let two = |session: &mut Session, form, reach| {
        let posted = [
            ("revision", first.as_str()),
            ("form", form),
            ("reach", reach),
        ];
        session.apply(&fields(&posted))
    };
    assert!(two(&mut session, "pilot", "whole") && two(&mut session, "", "to100"));
    assert_eq!(session.state.form, Some(crate::model::Form::Pilot));
    assert!(!two(&mut session, "temp", "whole"));
    assert_eq!(session.state.form, Some(crate::model::Form::Pilot));
}

/// An order is taken back by its number on the page; where the list has changed, none is.
#[test]
fn an_order_is_taken_back_from_the_list_that_was_shown() {
    let (mut session, _place) = session();
    let order = |session: &mut Session, pressure: &str| {
        let fields = fields(&[
            ("level.action", "drop"),
            ("level.pressure_hpa", pressure),
            ("level.reason", "wet"),
        ]);
        session.order("level", &fields);
        session.revise();
        session.revision.to_string()
    };
    let first = order(&mut session, "876.43");
    let second = order(&mut session, "500.1");
    let back = |session: &mut Session, revision: &str| {
        session.take_back(&fields(&[("revision", revision), ("which", "level+0")]));
        session.state.draft.orders("level").len()
    };
    assert_eq!(back(&mut session, &first), 2);
    let notice = session.notice.take().unwrap().lines;
    assert!(notice[0].contains("another page has changed the orders"));
    assert_eq!(back(&mut session, &second), 1);
}

fn page_of(session: &Session) -> String {
    page::page(&view::view(session), session).into_string()
}

/// The labels and the keys that the page lists as still empty, in their order.
fn empty_of(session: &Session) -> Vec<(String, String)> {
    let page = page_of(session);
    let Some((_, list)) = page.split_once("id=\"empty\"") else {
        return Vec::new();
    };
    let list = list.split("</ul>").next().unwrap();
    let one = |item: &str| {
        let (key, rest) = item.split_once('"').unwrap();
        let label = rest.split(['>', '<']).nth(1).unwrap();
        (key.to_owned(), label.to_owned())
    };
    list.split("data-field=\"").skip(1).map(one).collect()
}

/// By hand: the surface observation first, then what a4 and section 7 of TEMP code of the
/// equipment (WMO-No. 306, FM 35), then clouds (section 8).
#[test]
fn what_is_still_empty_stands_beside_the_button() {
    let (mut session, _place) = session_at(|| 32_294 * 86_400);
    let rows = std::fs::read_to_string("samples/winter_jet.csv").unwrap();
    session.load("p.csv", rows.into_bytes());
    let set = |session: &mut Session, table: &str, value: &str| {
        for key in crate::input::sheet::keys_of(table) {
            session.state.draft.set(&key, value);
        }
    };
    assert_eq!(empty_of(&session), []);
    for table in ["surface", "clouds", "equipment"] {
        set(&mut session, table, "");
    }
    let all = empty_of(&session);
    let keys: Vec<&str> = all.iter().map(|(key, _)| key.as_str()).collect();
    let surface = [
        "surface.pressure_hpa",
        "surface.temperature_c",
        "surface.humidity_pct",
        "surface.wind_dir_deg",
        "surface.wind_speed_ms",
    ];
    let rest = [
        "equipment.radiosonde",
        "equipment.radiation",
        "equipment.tracking",
        "equipment.measuring",
        "clouds",
    ];
    assert_eq!(keys, [surface, rest].concat());
    assert_eq!(all[0].1, "Surface observation: Pressure, hPa");
    assert_eq!(all[9].1, "Clouds");
    // Every entry leads to a place of the page.
    let page = page_of(&session);
    for (key, _) in &all {
        assert!(page.contains(&format!(" id=\"{key}\"")), "{key}");
    }
    // One that was begun: what is left of it; the dew point stands for the humidity.
    for key in crate::input::sheet::keys_of("surface") {
        match key.name.as_str() {
            "surface.pressure_hpa" => session.state.draft.set(&key, "1003.2"),
            "surface.dewpoint_c" => session.state.draft.set(&key, "-3"),
            _ => false,
        };
    }
    let keys: Vec<String> = empty_of(&session).into_iter().map(|(key, _)| key).collect();
    assert_eq!(keys[..3], [surface[1], surface[3], surface[4]]);
    assert_eq!(keys[3..], rest);
    // PILOT has neither section 7 nor clouds, but a4.
    session.state.form = Some(crate::model::Form::Pilot);
    let keys: Vec<String> = empty_of(&session).into_iter().map(|(key, _)| key).collect();
    assert_eq!(keys[3..], ["equipment.measuring"]);
    // Without a profile: what the sheet must give.
    session.state.profile = None;
    set(&mut session, "station", "");
    let keys: Vec<String> = empty_of(&session).into_iter().map(|(key, _)| key).collect();
    assert_eq!(keys, ["station.wmo_block", "station.wmo_number"]);
}

/// The picture stands in the page without a style of its own, which the policy would
/// refuse, and every row of the table has the number of a level in it.
#[test]
fn the_picture_has_its_place() {
    let (mut session, _place) = session();
    assert!(!page_of(&session).contains("<svg"));
    let rows = std::fs::read("samples/winter_jet.csv").unwrap();
    session.load("p.csv", rows);
    let page = page_of(&session);
    assert_eq!(page.matches("<svg ").count(), 1);
    assert!(!page.contains("<style") && !page.contains("style=\""));
    assert!(page::picture_style().starts_with(".aero "));
    let rows = page.matches("<tr id=\"row-").count();
    assert!(rows > 20, "{rows} levels");
    for i in 0..rows {
        assert!(
            page.contains(&format!("<tr id=\"row-{i}\" data-level=\"{i}\"")),
            "row {i}"
        );
        assert!(page.contains(&format!("<g id=\"level-{i}\"")), "level {i}");
    }
    assert!(!page.contains(&format!("id=\"level-{rows}\"")));
}

/// Rows of the invented flight, and the same cut short.
fn rows() -> Vec<u8> {
    std::fs::read("samples/winter_jet.csv").unwrap()
}

fn notice(session: &mut Session) -> (bool, String) {
    let notice = session.notice.take().unwrap();
    (notice.good, notice.lines.join("\n"))
}

#[test]
fn what_cannot_be_read_replaces_no_flight() {
    let (mut session, place) = session();
    // Without a flight whatever comes is taken, and its fault shown.
    session.load("bad.csv", b"no,rows\n1,2\n".to_vec());
    assert!(session.notice.take().unwrap().good);
    session.load("p.csv", rows());
    assert!(session.notice.take().unwrap().good);
    for (name, bytes) in [
        ("bad.csv", b"no,rows\n1,2\n".to_vec()),
        ("noise.bin", vec![0, 159, 146, 150]),
        ("half.csv", b"pressure_hpa,temperature_c\n".to_vec()),
    ] {
        session.load(name, bytes);
        let (good, lines) = notice(&mut session);
        assert!(!good && lines.starts_with("not loaded: "), "{lines}");
        assert!(lines.ends_with("p.csv stays loaded"), "{lines}");
        assert_eq!(session.profile().unwrap().name, "p.csv");
    }
    std::fs::write(place.path().join("in/x.csv"), "x").unwrap();
    session.list_files();
    session.load_file("0");
    assert!(!notice(&mut session).0);
    assert_eq!(session.profile().unwrap().bytes, rows());
}

#[test]
fn undo_brings_the_profile_back() {
    let (mut session, _place) = session();
    session.load("p.csv", rows());
    session.load("q.csv", rows());
    session.undo();
    assert_eq!(session.profile().unwrap().name, "p.csv");
    session.anew();
    assert!(session.profile().is_none());
    session.undo();
    assert_eq!(session.profile().unwrap().name, "p.csv");
    session.undo();
    assert!(session.profile().is_none() && session.last_step().is_none());
}

/// The desk ends in the middle of the work and is started again: the work is offered with
/// its profile; a page of the first run goes on as if nothing had been, at its revision.
#[test]
fn work_is_offered_after_a_restart() {
    let (mut session, place) = session_at(|| 1_000_000);
    session.boot = "first".to_owned();
    session.access = ("token".to_owned(), 8000);
    session.refresh(false);
    session.load("p.csv", rows());
    let revision = session.revision.to_string();
    let typed =
        |t: &str, revision: &str| fields(&[("revision", revision), ("surface.temperature_c", t)]);
    assert!(session.apply(&typed("5,5", &revision)));
    session.refresh(false);
    let seen = session.revision.to_string();
    let setup = session.setup.clone();
    drop(session);
    let again = |clock| Session::new(setup.clone(), clock).unwrap();
    let mut session = again(|| 1_000_100);
    assert_eq!(session.access, ("token".to_owned(), 8000));
    assert!(session.profile().is_none());
    let page = page_of(&session);
    assert!(page.contains("Unfinished work") && page.contains("p.csv"));
    session.boot = "second".to_owned();
    session.refresh(false);
    session.meet("another");
    assert!(session.offer.is_some());
    session.meet("first");
    assert!(session.offer.is_none());
    assert_eq!(session.state.draft.get("surface.temperature_c"), "5.5");
    assert_eq!(session.profile().unwrap().bytes, rows());
    // The page had shown that revision: what it changed meanwhile is no conflict.
    assert!(session.apply(&typed("6.5", &seen)));
    assert_eq!(session.state.draft.get("surface.temperature_c"), "6.5");
    session.refresh(false);
    drop(session);
    // Continued by its button, and taken back again; then discarded for good.
    let mut session = again(|| 1_000_200);
    session.resume();
    assert_eq!(session.state.draft.get("surface.temperature_c"), "6.5");
    session.undo();
    assert!(session.profile().is_none());
    session.resume();
    assert!(!notice(&mut session).0);
    session.load("p.csv", rows());
    session.refresh(false);
    drop(session);
    let mut session = again(|| 1_000_300);
    session.discard();
    session.refresh(false);
    drop(session);
    // A day later the token is another.
    let session = again(|| 1_000_300 + 25 * 3600);
    assert!(session.offer.is_none());
    assert_eq!(session.access.0, "");
    assert!(place.path().join("out/.desk/1/session.json").is_file());
}

#[test]
fn a_second_press_issues_nothing_more() {
    let (mut session, place) = session_at(|| 32_294 * 86_400);
    session.load("p.csv", rows());
    let digest = view::view(&session).digest;
    let press = |session: &mut Session| {
        session.issue(&fields(&[("shown", &digest), ("letter", "")]));
        notice(session)
    };
    let (good, first) = press(&mut session);
    assert!(good && first.contains(" – not sent yet ("), "{first}");
    let (good, second) = press(&mut session);
    assert!(good && second.starts_with("issued once: "), "{second}");
    assert!(second.ends_with(&first));
    assert_eq!(issues(&place), 1);
    // What is issued is no open work.
    session.refresh(false);
    let setup = session.setup.clone();
    drop(session);
    assert!(Session::new(setup, || 0).unwrap().offer.is_none());
}

#[test]
fn nil_asks_where_a_profile_is_loaded() {
    let (mut session, _place) = session_at(|| 32_294 * 86_400);
    session.load("p.csv", rows());
    let digest = view::view(&session).digest;
    session.nil(&fields(&[("shown", &digest)]));
    let (good, lines) = notice(&mut session);
    assert!(!good && lines.contains("a profile is loaded"), "{lines}");
    session.nil(&fields(&[("shown", &digest), ("nil_sure", "yes")]));
    assert!(notice(&mut session).0);
}

#[test]
fn a_layer_upside_down_is_turned() {
    let (mut session, _place) = session();
    for (from, to) in [("480", "430,5"), ("430,5", "480")] {
        session.order(
            "withhold",
            &fields(&[
                ("withhold.element", "humidity"),
                ("withhold.from_hpa", from),
                ("withhold.to_hpa", to),
                ("withhold.reason", "icing"),
            ]),
        );
        assert!(notice(&mut session).0);
    }
    let orders = session.state.draft.orders("withhold");
    assert_eq!(orders.len(), 2);
    assert_eq!(orders[0], orders[1]);
    let get = |key: &str| {
        orders[1]
            .iter()
            .find(|(k, _)| k == key)
            .map(|(_, v)| v.as_str())
    };
    assert_eq!(
        (get("from_hpa"), get("to_hpa")),
        (Some("480"), Some("430.5"))
    );
}

/// By hand: the file has a header of two comment lines and names, then 4,979 rows; the
/// first half is loaded, then the whole is there.
#[test]
fn a_file_that_grows_is_offered() {
    let (mut session, place) = session();
    let path = place.path().join("in/p.csv");
    let text = String::from_utf8(rows()).unwrap();
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    std::fs::write(&path, lines[..1003].concat()).unwrap();
    session.list_files();
    session.load_file("0");
    session.refresh(false);
    let words = |session: &Session| session.growth.as_ref().and_then(|g| g.words.clone());
    assert_eq!(words(&session), None);
    // A line that is not whole yet is one that cannot be read, or a row more.
    std::fs::write(&path, lines[..2203].concat()).unwrap();
    session.refresh(false);
    let grown = words(&session).unwrap();
    assert!(grown.starts_with("1,200 new rows, top now "), "{grown}");
    session.load_again();
    session.refresh(false);
    assert_eq!(words(&session), None);
    assert_eq!(
        session.profile().unwrap().bytes,
        std::fs::read(&path).unwrap()
    );
}

#[test]
fn every_start_has_a_word_of_its_own() {
    let (one, other) = (random(32).unwrap(), random(32).unwrap());
    assert_ne!(one, other);
    for word in [one, other] {
        assert!(word.len() == 64 && word.bytes().all(|b| b.is_ascii_hexdigit()));
    }
}

/// A head that does not end, a body that does not, a connection that asks for nothing
/// more: each is closed, and the desk answers meanwhile. The harness ends a test that
/// waits for ever.
#[test]
fn half_open_connections_are_closed() {
    let (session, _place) = session();
    let listener = std::net::TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    listener.set_nonblocking(true).unwrap();
    let port = listener.local_addr().unwrap().port();
    let desk = Arc::new(Desk {
        token: "invented".to_owned(),
        port,
        session: Mutex::new(session),
        changes: watch::Sender::new(0),
        arrives: Duration::from_secs(1),
    });
    std::thread::spawn(move || {
        let mut runtime = tokio::runtime::Builder::new_current_thread();
        runtime.enable_all().build().unwrap().block_on(async {
            let listener = TcpListener::from_std(listener).unwrap();
            answer(listener, &desk, std::future::pending()).await;
        });
    });
    let head = format!("Host: 127.0.0.1:{port}\r\nCookie: desk-{port}=invented\r\n");
    let origin = format!("Origin: http://127.0.0.1:{port}\r\n");
    let send = |text: &str| {
        let mut stream = TcpStream::connect((Ipv4Addr::LOCALHOST, port)).unwrap();
        stream.write_all(text.as_bytes()).unwrap();
        stream
    };
    let answer = |mut stream: TcpStream| {
        let mut octets = Vec::new();
        // A reset is an end as well.
        let _ = stream.read_to_end(&mut octets);
        String::from_utf8_lossy(&octets).into_owned()
    };
    let whole = format!("GET /page.css HTTP/1.1\r\n{head}Connection: close\r\n\r\n");
    let form = "Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 100";
    let begun = [
        String::new(),
        format!("GET / HTTP/1.1\r\n{head}"),
        format!("GET /page.css HTTP/1.1\r\n{head}\r\n"),
        format!("POST /do/show HTTP/1.1\r\n{head}{origin}Content-Length: 100\r\n\r\na=1"),
        format!("POST /profile HTTP/1.1\r\n{head}{origin}{form}\r\n\r\n--x\r\n"),
    ];
    let open: Vec<TcpStream> = begun.iter().map(|text| send(text)).collect();
    assert!(answer(send(&whole)).starts_with("HTTP/1.1 200"));
    let answers: Vec<String> = open.into_iter().map(answer).collect();
    assert!(answers[2].starts_with("HTTP/1.1 200"), "{}", answers[2]);
    for late in &answers[3..] {
        assert!(late.starts_with("HTTP/1.1 408"), "{late}");
        let why = "the request did not arrive within 1 s";
        assert!(late.contains(why), "{late}");
    }
    assert!(answer(send(&whole)).starts_with("HTTP/1.1 200"));
    // What the desk itself waits, which no test has time for.
    assert_eq!(ARRIVES, Duration::from_secs(20));
}
