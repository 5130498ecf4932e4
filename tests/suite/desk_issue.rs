//! What the desk issues is what the command makes of the saved sheet, octet for octet.
#![cfg(all(feature = "desk", unix))]

use crate::served;

use std::fs;

use served::{Desk, NAME, between, entries, notice, text};

#[test]
fn what_the_desk_issues_the_command_makes() {
    let desk = Desk::start(|sheet| sheet);
    let page = desk.get("/").body;
    assert!(page.contains("Load a profile to see its message"));
    desk.load();
    let page = desk.get("/").body;
    let message = text(&page);
    assert!(message.contains("TTAA 15111 99011") && message.contains("41414 65470="));
    // The words of the code tables are at hand: CM 7 of table 0515, h 4 of 1600.
    assert!(page.contains("7 – altocumulus in several layers or thick"));
    assert!(page.contains("4 – 300 to 600 m"));
    // The reasons and their clauses are there.
    assert!(page.contains("base of an inversion at least 20 hPa thick"));
    assert!(page.contains("WMO-No. 306, 35.3.1.2"));
    // Section 8 is Nh CL h CM CH: 65470 of the sheet with 5 oktas is 55470.
    let page = desk.press("show", &[("clouds.nh", "5")]).body;
    assert!(
        text(&page).contains("41414 55470="),
        "Nh is the first figure"
    );
    assert!(page.contains("Undo<span class=\"what\">: Nh: amount"));
    let order = [
        ("level.action", "drop"),
        ("level.pressure_hpa", "876.43"),
        ("level.reason", "sensor wet"),
    ];
    let page = desk.press("level", &order).body;
    assert!(page.contains("level at 876.43 hPa out: sensor wet"));
    assert!(page.contains("left out by order: sensor wet"));
    assert!(
        !text(&page).contains("11876 03105"),
        "the level is still in Part B"
    );
    // A layer without humidity, and back again.
    let layer = [
        ("withhold.element", "humidity"),
        ("withhold.from_hpa", "480"),
        ("withhold.to_hpa", "430"),
        ("withhold.reason", "icing"),
    ];
    let page = desk.press("withhold", &layer).body;
    assert!(page.contains("humidity withheld from 480 to 430 hPa"));
    let page = desk.press("undo", &[]);
    assert!(notice(&page).contains("taken back: order: withhold"));
    assert!(!page.body.contains("withheld from"));
    assert!(page.body.contains("level at 876.43 hPa out"));
    // An order that cannot be is refused, and nothing changes.
    let wrong = [("level.action", "drop"), ("level.pressure_hpa", "much")];
    let page = desk.press("level", &wrong);
    assert!(
        notice(&page).contains("a number is expected"),
        "{}",
        notice(&page)
    );
    assert_eq!(page.body.matches("Take back: ").count(), 1);
    // So is one without a reason, and one for a level that the flight did not reach.
    let silent = [("level.action", "drop"), ("level.pressure_hpa", "612")];
    let page = desk.press("level", &silent);
    assert!(notice(&page).contains("Reason: empty"), "{}", notice(&page));
    let outside = [
        ("level.action", "force"),
        ("level.pressure_hpa", "1030"),
        ("level.reason", "wanted"),
    ];
    let page = desk.press("level", &outside);
    assert!(
        notice(&page).contains("1030 hPa lies outside the flight")
            && notice(&page).contains("nearest row is at 1004.3 hPa"),
        "{}",
        notice(&page)
    );
    assert_eq!(page.body.matches("Take back: ").count(), 1);
    // What was not shown is not issued.
    let stale = desk.press("issue", &[("shown", "0"), ("letter", "")]);
    assert!(notice(&stale).contains("not issued"), "{}", notice(&stale));
    assert_eq!(entries(&desk.path("out")), Vec::<String>::new());

    let page = desk.issue("issue");
    assert!(notice(&page).contains(&format!("{NAME} – not sent yet (")));
    assert_eq!(entries(&desk.path("out")), [NAME]);
    let all = [
        "bulletin.txt",
        "report.json",
        "review.html",
        "sheet.toml",
        "sounding.bufr",
        "text.txt",
    ];
    assert_eq!(entries(&desk.path("out").join(NAME)), all);
    desk.held(NAME, &["encode", "p.csv"], |_| Vec::new());
    // The list of today: issued by the system clock.
    assert!(page.body.contains(">text</a>") && page.body.contains("open again"));
    let text = desk.get("/issued/0/text.txt");
    assert_eq!(
        text.body,
        fs::read_to_string(desk.path("out").join(NAME).join("text.txt")).unwrap()
    );
    assert!(text.head.contains("content-type: text/plain"));

    // Again: nothing changed, nothing is issued.
    assert!(
        page.body
            .contains("nothing has changed since the earlier message")
    );
    assert!(!page.body.contains("id=\"issue-now\""));
    let again = desk.issue("issue");
    assert!(notice(&again).contains("issued once"), "{}", notice(&again));
    assert_eq!(entries(&desk.path("out")), [NAME]);

    // A correction: the list of changes first, then the parts that changed.
    let page = desk
        .press(
            "show",
            &[("clouds.nh", "4"), ("surface.temperature_c", "4.9")],
        )
        .body;
    assert!(page.contains("Issue correction CCA"));
    let changes = between(&page, "id=\"changes\"", "</ul>");
    assert!(
        changes.contains("1004 hPa, temperature: 4.5 °C → 4.9 °C"),
        "{changes}"
    );
    assert!(
        changes.contains("55470 → ") || changes.contains("45470"),
        "{changes}"
    );
    let page = desk.issue("issue");
    let cca = format!("{NAME}_CCA");
    assert!(
        notice(&page).contains(&format!("{cca} – not sent yet (")),
        "{}",
        notice(&page)
    );
    // Beside the first issue the correction itself would count as sent.
    let sent = desk.path("sent").join(NAME);
    fs::create_dir_all(&sent).unwrap();
    for file in all {
        fs::copy(desk.path("out").join(NAME).join(file), sent.join(file)).unwrap();
    }
    let was = |_: &str| {
        let was = format!("sent/{NAME}");
        ["--correct", "CCA", "--was", &was]
            .map(str::to_owned)
            .to_vec()
    };
    desk.held(&cca, &["encode", "p.csv"], was);
    let review = fs::read_to_string(desk.path("out").join(&cca).join("review.html")).unwrap();
    assert!(review.contains(NAME) && review.contains(">TTCC</a>"));
    let text = fs::read_to_string(desk.path("out").join(&cca).join("text.txt")).unwrap();
    assert!(
        text.contains("TTAA") && text.contains("TTBB") && !text.contains("TTCC"),
        "{text}"
    );

    // Open the first again: CCB would take the correction back.
    let page = desk.get("/").body;
    let number = if between(&page, "id=\"reopen-0\"", ">").contains("CCA") {
        "1"
    } else {
        "0"
    };
    let page = desk.press("reopen", &[("number", number)]);
    assert!(
        notice(&page).contains(&format!("the sheet of {NAME} is open")),
        "{}",
        notice(&page)
    );
    assert!(page.body.contains("Issue correction CCB"));

    // NIL is an issue of its own; after a report it wants a reason, which is kept.
    let page = desk.get("/").body;
    assert!(between(&page, "id=\"nil\"", "</details>").contains("A report is out for this time"));
    let refused = desk.issue_with("nil", &[("nil_reason", "  ")]);
    assert!(
        notice(&refused).contains("a report of this station and time is issued"),
        "{}",
        notice(&refused)
    );
    assert_eq!(entries(&desk.path("out")), [NAME.to_owned(), cca.clone()]);
    let page = desk.issue_with("nil", &[("nil_reason", "invented reason")]);
    let nil = format!("{NAME}-nil");
    assert!(
        notice(&page).contains(&format!("{nil} – not sent yet (")),
        "{}",
        notice(&page)
    );
    assert!(notice(&page).contains("there is no flight to show; review.html is not written"));
    desk.held(&nil, &["nil"], |_| Vec::new());
    let reason = fs::read_to_string(desk.path("out").join(&nil).join("reason.txt")).unwrap();
    assert_eq!(
        reason,
        format!("NIL although {NAME} is out: invented reason\n")
    );
    let again = desk.issue_with("nil", &[("nil_reason", "invented reason")]);
    assert!(
        notice(&again).contains("already issued, and not overwritten"),
        "{}",
        notice(&again)
    );
    assert_eq!(entries(&desk.path("out")), [NAME.to_owned(), nil, cca]);
}

/// NIL first: the report is late then, and says so in name and heading.
#[test]
fn what_comes_after_nil_goes_out_late() {
    let desk = Desk::start(|sheet| sheet);
    desk.load();
    let nil = format!("{NAME}-nil");
    let sure = desk.issue_with("nil", &[("nil_sure", "yes")]);
    assert!(notice(&sure).contains(&format!("{nil} – not sent yet (")));
    let page = desk.get("/").body;
    assert!(page.contains("the report goes out late, as RRA"));
    let late = format!("{NAME}_RRA");
    let page = desk.issue("issue");
    assert!(
        notice(&page).contains(&format!("{late} – not sent yet (")),
        "{}",
        notice(&page)
    );
    let text = fs::read_to_string(desk.path("out").join(&late).join("bulletin.txt")).unwrap();
    assert_eq!(text.matches("USXX01 XXXX 151200 RRA\r\r\n").count(), 1);
    // A correction of it is CCA.
    let page = desk.press("show", &[("clouds.nh", "5")]).body;
    assert!(page.contains("Issue correction CCA"));
    desk.issue("issue");
    let cca = format!("{NAME}_CCA");
    assert_eq!(entries(&desk.path("out")), [nil, cca, late]);
}

/// After an early message Parts C and D go out alone, and what changed in A and B as its
/// correction (WMO-No. 386 Part II: the same heading twice is a duplicate).
#[test]
fn after_an_early_message_the_rest_goes_out() {
    let desk = Desk::start(|sheet| sheet);
    desk.load();
    desk.press("show", &[("reach", "to100")]);
    let early = format!("{NAME}-to100");
    let page = desk.issue("issue");
    assert!(
        notice(&page).contains(&format!("{early} – not sent yet (")),
        "{}",
        notice(&page)
    );
    // 4.5 °C is 044 in the early message, 3.5 °C 034 (table 3931).
    let fields = [("reach", ""), ("surface.temperature_c", "3.5")];
    let page = desk.press("show", &fields).body;
    assert!(page.contains("The early message is out."));
    assert!(page.contains("Part C and Part D"));
    let changes = between(&page, "id=\"changes\"", "</ul>");
    assert!(
        changes.contains("1004 hPa, temperature: 4.4 °C → 3.4 °C"),
        "{changes}"
    );
    let page = desk.issue("issue");
    let cca = format!("{early}_CCA");
    for name in [&cca, &NAME.to_owned()] {
        assert!(
            notice(&page).contains(&format!("{name} – not sent yet (")),
            "{}",
            notice(&page)
        );
    }
    let text = |name: &str| {
        let path = desk.path("out").join(name).join("bulletin.txt");
        fs::read_to_string(path).unwrap()
    };
    let correction = text(&cca);
    assert_eq!(correction.matches("151200 CCA\r\r\n").count(), 2);
    assert!(correction.contains("TTAA 15111 99011 99004 034"));
    assert!(!correction.contains("TTCC"));
    let rest = text(NAME);
    assert!(rest.starts_with("ULXX01 XXXX 151200\r\r\nTTCC") && rest.contains("TTDD"));
    assert!(!rest.contains("TTAA") && !rest.contains("TTBB"));
    // A further correction goes on with the letters.
    let page = desk.press("show", &[("surface.temperature_c", "4.5")]).body;
    assert!(page.contains("Issue correction CCB"));
}

#[test]
fn steps_are_taken_back_in_their_order() {
    let desk = Desk::start(|sheet| sheet);
    let first = desk.get("/sheet.toml").body;
    // Two changes of one field are one step.
    desk.press("show", &[("surface.temperature_c", "5")]);
    desk.press("show", &[("surface.temperature_c", "5.5")]);
    desk.press("show", &[("clouds.nh", "")]);
    let changed = desk.get("/sheet.toml");
    assert!(changed.head.contains("attachment; filename=\"sheet.toml\""));
    assert!(changed.body.contains("temperature_c = 5.5") && !changed.body.contains("nh = 6"));
    desk.press("undo", &[]);
    assert!(desk.get("/sheet.toml").body.contains("nh = 6"));
    desk.press("undo", &[]);
    assert_eq!(desk.get("/sheet.toml").body, first);
    let page = desk.press("undo", &[]);
    assert!(notice(&page).contains("nothing to take back"));
}

/// The ground check has its verdict before a profile is loaded, and with it.
#[test]
fn the_ground_check_is_judged_before_anything_is_released() {
    let desk = Desk::start(|sheet| sheet);
    let now = |page: &str| text(between(page, "id=\"ground-now\"", "</p>"));
    let page = desk.get("/").body;
    assert!(between(&page, "id=\"ground-now\"", ">").contains("hidden"));
    let given = [
        ("ground_check.reference_temperature_c", "19,6"),
        ("ground_check.sonde_temperature_c", "20,2"),
    ];
    let page = desk.press("show", &given).body;
    assert!(
        now(&page).contains("look again: at the ground check"),
        "{}",
        now(&page)
    );
    desk.load();
    let page = desk.get("/").body;
    let verdict = between(&page, "Before release: <b>look again", "</b>");
    assert!(verdict.contains("20.2 °C"), "{verdict}");
    let page = desk
        .press("show", &[("ground_check.sonde_temperature_c", "20.1")])
        .body;
    assert!(now(&page).contains("Before release: go"), "{}", now(&page));
}

/// An issue of the day before, and a flight that is 17 K warmer at 500 hPa: said beside
/// the button that issues it. Marked by hand, the first issue waits for nothing.
#[test]
fn a_flight_is_compared_with_the_last_issues_before_it_goes_out() {
    let desk = Desk::start(|sheet| sheet);
    desk.load();
    desk.issue("issue");
    let page = desk.press("mark", &[("mark", "0")]);
    let wanted = format!("{NAME}: other means: marked as handed over at ");
    assert!(notice(&page).contains(&wanted), "{}", notice(&page));
    let again = desk.press("mark", &[("mark", "0")]);
    assert!(
        notice(&again).contains("no target waits for it"),
        "{}",
        notice(&again)
    );
    let wrong = desk.press("mark", &[("mark", "7")]);
    assert!(
        notice(&wrong).contains("no such issue in the list"),
        "{}",
        notice(&wrong)
    );

    let times = [
        ("flight.release", "2021-01-16T11:23:40Z"),
        ("flight.standard_time", "2021-01-16T12:00:00Z"),
    ];
    let page = desk.press("show", &times).body;
    assert!(page.contains("Nothing changed more than the air does."));
    let rows = fs::read_to_string(desk.path("p.csv")).unwrap();
    let warmer = rows.lines().map(|line| {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        let pressure = cells.get(1).and_then(|p| p.parse::<f64>().ok());
        if pressure.is_some_and(|p| (400.0..=600.0).contains(&p)) {
            cells[3] = format!("{:.2}", cells[3].parse::<f64>().unwrap() + 17.0);
        }
        cells.join(",") + "\n"
    });
    let warmer: String = warmer.collect();
    assert_eq!(desk.upload("warmer.csv", warmer.as_bytes()).status, 303);
    let page = desk.get("/").body;
    let issue = text(between(&page, "id=\"issue\"", "id=\"issue-now\""));
    let jump = "the temperature at 500 hPa is 17.0 K higher than 24 h ago";
    assert!(issue.contains(jump), "{issue}");
    assert_eq!(page.matches(jump).count(), 2, "in the findings, too");
}
