//! The review sheet: well-formed, nothing lost, everything linked, nothing of a
//! sheet's text as markup, and the same every time.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use assert_cmd::Command;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use fivefig::forms::text;
use fivefig::forms::text::{GroupMeaning, Message};
use fivefig::model::fidelity::Fidelity;
use fivefig::model::finding::{Finding, Place, Severity};
use fivefig::model::{Context, Form, Noted, Part, Profile, Reach, Report};
use fivefig::verify::fidelity::fidelity;
use fivefig::view::diagram::Theme;
use fivefig::view::review::{Sheet, Was, page};
use fivefig::{issue, profile};
use roxmltree::{Document, Node};
use sha2::{Digest as _, Sha256};

use crate::support::{self, SAMPLES, parsed, text_of};

struct Flight {
    profile: Profile,
    report: Report,
    message: Option<Message>,
    fidelity: Fidelity,
    findings: Vec<Finding>,
}

impl Flight {
    fn of(name: &str, form: Form, change: impl Fn(&mut Context)) -> Self {
        let (raw, mut sheet) = support::sample(name);
        change(&mut sheet.context);
        let context = &sheet.context;
        let Noted {
            value: profile,
            findings,
        } = profile::build_for(form, &raw, context).unwrap();
        if form == Form::Descent {
            let report = issue::report(form, &profile, context, Reach::Whole)
                .unwrap()
                .value;
            let fidelity = fidelity(&profile, &context.coding, &report, &report);
            return Self {
                profile,
                report,
                message: None,
                fidelity,
                findings,
            };
        }
        let coded = issue::code(form, &profile, context, Reach::Whole).unwrap();
        Self {
            profile,
            report: coded.report,
            message: Some(coded.message),
            fidelity: coded.fidelity,
            findings: coded.findings,
        }
    }

    fn page(&self, was: Option<&Was>) -> String {
        page(&Sheet {
            profile: &self.profile,
            report: &self.report,
            message: self.message.as_ref(),
            fidelity: &self.fidelity,
            findings: &self.findings,
            was,
            theme: Theme::Auto,
        })
    }

    fn reported(&self, part: Part) -> Vec<GroupMeaning> {
        let message = self.message.as_ref();
        let reported = message.and_then(|message| message.meanings(part, &self.report));
        reported.unwrap_or_default()
    }
}

fn every(check: impl Fn(&str, &Flight, &Document<'_>)) {
    for (name, form) in SAMPLES {
        let flight = Flight::of(name, form, |_| {});
        let html = flight.page(None);
        check(&format!("{name} as {form:?}"), &flight, &parsed(&html));
    }
}

fn class<'a>(document: &'a Document<'_>, name: &str) -> Vec<Node<'a, 'a>> {
    let of = |n: &Node<'_, '_>| n.attribute("class") == Some(name);
    document.descendants().filter(of).collect()
}

fn ids<'a>(document: &'a Document<'_>) -> BTreeMap<&'a str, Node<'a, 'a>> {
    let all = document.descendants();
    all.filter_map(|n| Some((n.attribute("id")?, n))).collect()
}

#[test]
fn the_page_is_well_formed_and_everything_it_names_is_there() {
    every(|name, _, document| {
        let root = document.root_element();
        assert_eq!(root.attribute("lang"), Some("en"), "{name}");
        let ids = ids(document);
        let count = document.descendants().filter(|n| n.has_attribute("id"));
        assert_eq!(count.count(), ids.len(), "{name}: an id stands twice");
        for node in document.descendants() {
            let refers = ["aria-describedby", "aria-labelledby"].map(|a| node.attribute(a));
            let link = node.attribute("href").map(|h| h.strip_prefix('#').unwrap());
            let named = refers.into_iter().flatten().flat_map(str::split_whitespace);
            for id in named.chain(link) {
                assert!(ids.contains_key(id), "{name}: no {id}");
            }
            for attribute in node.attributes() {
                let key = attribute.name();
                assert!(key != "style" && !key.starts_with("on"), "{name}: {key}");
                assert!(key != "src", "{name}: something is fetched");
            }
            if node.has_tag_name(("http://www.w3.org/1999/xhtml", "th")) {
                assert!(node.has_attribute("scope"), "{name}: a th without scope");
            }
        }
        for landmark in ["header", "main", "title", "h1"] {
            let of = |n: &Node<'_, '_>| {
                n.tag_name().name() == landmark
                    && n.tag_name().namespace() == Some("http://www.w3.org/1999/xhtml")
            };
            assert_eq!(
                document.descendants().filter(of).count(),
                1,
                "{name}: {landmark}"
            );
        }
    });
}

#[test]
fn the_policy_allows_the_styles_and_the_script_that_are_there_and_nothing_else() {
    let html = Flight::of("winter_jet", Form::Temp, |_| {}).page(None);
    let document = parsed(&html);
    let policy = document
        .descendants()
        .find(|n| n.attribute("http-equiv") == Some("Content-Security-Policy"))
        .and_then(|n| n.attribute("content"))
        .unwrap();
    // The text of style and script by the rules of HTML: as it stands in the file.
    let of = |tag: &str| -> Vec<String> {
        let open = format!("<{tag}>");
        let parts = html.split(open.as_str()).skip(1);
        let parts = parts.map(|p| p.split_once(&format!("</{tag}>")).unwrap().0);
        let digest = |t: &str| STANDARD.encode(Sha256::digest(t.as_bytes()));
        parts.map(|t| format!("'sha256-{}'", digest(t))).collect()
    };
    let (styles, scripts) = (of("style"), of("script"));
    assert_eq!((styles.len(), scripts.len()), (2, 1));
    assert_eq!(
        policy,
        format!(
            "default-src 'none'; style-src {}; script-src {}; base-uri 'none'; form-action 'none'",
            styles.join(" "),
            scripts[0]
        )
    );
    // And XML reads the same script as HTML does.
    let script = document
        .descendants()
        .find(|n| n.tag_name().name() == "script");
    assert!(html.contains(&text_of(script.unwrap())));
}

#[test]
fn every_group_stands_there_once_in_order_with_its_meaning() {
    every(|name, flight, document| {
        let mut codes = class(document, "code").into_iter();
        let ids = ids(document);
        for part in Part::ALL {
            let message = flight.message.as_ref();
            let Some(groups) = message.and_then(|m| m.groups(part)) else {
                continue;
            };
            let reported = flight.reported(part);
            let texts: Vec<&str> = reported.iter().map(|t| t.group.as_str()).collect();
            assert_eq!(texts, groups, "{name} {part:?}");
            let code = codes.next().unwrap();
            let lines = message.unwrap().lines(part).unwrap();
            assert_eq!(
                text_of(code).trim_end(),
                lines.join("\n"),
                "{name} {part:?}"
            );
            let elements = code.descendants();
            let elements: Vec<_> = elements
                .filter(|n| n.attribute("class") == Some("group"))
                .collect();
            assert_eq!(elements.len(), groups.len(), "{name} {part:?}");
            for (element, reported) in elements.into_iter().zip(&reported) {
                assert_eq!(text_of(element), reported.group);
                assert!(reported.meaning.len() > 3, "{name}: {reported:?}");
                assert_eq!(element.attribute("title"), Some(reported.meaning.as_str()));
                let meaning = ids[element.attribute("aria-describedby").unwrap()];
                assert_eq!(text_of(meaning), reported.meaning);
            }
        }
        assert!(codes.next().is_none(), "{name}");
    });
}

#[test]
fn levels_and_groups_are_linked_both_ways() {
    every(|name, flight, document| {
        let ids = ids(document);
        let rows: Vec<_> = document
            .descendants()
            .filter(|n| n.tag_name().name() == "tr" && n.has_attribute("data-level"))
            .collect();
        assert_eq!(rows.len(), flight.report.levels.len(), "{name}");
        // From the groups to the levels.
        let mut of_level: BTreeMap<usize, BTreeSet<&str>> = BTreeMap::new();
        for group in class(document, "group") {
            let levels = group.attribute("data-levels").unwrap_or_default();
            for level in levels.split_whitespace() {
                let level: usize = level.parse().unwrap();
                of_level
                    .entry(level)
                    .or_default()
                    .insert(group.attribute("id").unwrap());
                assert!(ids.contains_key(format!("row-{level}").as_str()), "{name}");
            }
        }
        let beside = flight
            .message
            .as_ref()
            .map(|m| m.beside(&flight.report))
            .unwrap_or_default();
        for (i, row) in rows.into_iter().enumerate() {
            assert_eq!(row.attribute("id"), Some(format!("row-{i}").as_str()));
            // And from the level to its groups, and to the diagram and back.
            let links = row
                .descendants()
                .filter(|n| n.attribute("class") == Some("m"));
            let links: BTreeSet<&str> = links
                .map(|n| n.attribute("href").unwrap().strip_prefix('#').unwrap())
                .collect();
            assert_eq!(
                links,
                of_level.remove(&i).unwrap_or_default(),
                "{name}: level {i}"
            );
            if let Some(mark) = ids.get(format!("level-{i}").as_str()) {
                assert_eq!(mark.attribute("data-level"), Some(i.to_string().as_str()));
            }
            // The groups of `beside`, which the JSON document gives, are among them.
            let texts: Vec<String> = links.iter().map(|id| text_of(ids[id])).collect();
            let own = beside.get(i).into_iter().flat_map(|b| b.values().flatten());
            for group in own {
                assert!(texts.contains(group), "{name}: level {i} lacks {group}");
            }
        }
        assert!(of_level.is_empty(), "{name}");
    });
    // A level that all three know: the surface of the first sample, 1004 hPa.
    let flight = Flight::of("winter_jet", Form::Temp, |_| {});
    let html = flight.page(None);
    let document = parsed(&html);
    let group = ids(&document)["g-A-4"];
    assert_eq!(
        (text_of(group).as_str(), group.attribute("data-levels")),
        ("99004", Some("0"))
    );
    assert!(ids(&document).contains_key("level-0"));
}

#[test]
fn every_mark_of_the_diagram_is_a_level_of_the_table() {
    every(|name, flight, document| {
        let marks = class(document, "level");
        // A surface below the station or above the top may lie outside the panels.
        assert!(marks.len() + 2 >= flight.report.levels.len(), "{name}");
        for mark in marks {
            let row = format!("row-{}", mark.attribute("data-level").unwrap());
            assert!(ids(document).contains_key(row.as_str()), "{name}: {row}");
        }
    });
}

const HOSTILE: &str = "<script>alert(1)</script>\"'&amp;<!--\u{1}";

#[test]
fn a_hostile_text_shows_as_text() {
    let mut flight = Flight::of("winter_jet", Form::Temp, |context| {
        context.station.name = Some(HOSTILE.to_owned());
        context.flight.serial = Some(HOSTILE.to_owned());
        context.flight.not_reported = Some(HOSTILE.to_owned());
    });
    // No sheet gives these; a report that a program made may have them.
    let report = &mut flight.report;
    report.context.equipment.software = Some(HOSTILE.to_owned());
    for kept in report.parts.values_mut() {
        kept.national = vec![HOSTILE.to_owned()];
    }
    flight.message = Some(text::message(report).unwrap().value);
    let place = Place::line(HOSTILE, 3);
    let finding = Finding {
        code: "invented".into(),
        severity: Severity::Warning,
        place,
        what: HOSTILE.to_owned(),
        allowed: Some(HOSTILE.to_owned()),
        clause: None,
    };
    flight.findings.push(finding);
    let was = Was {
        name: HOSTILE.to_owned(),
        differences: Vec::new(),
    };
    let html = flight.page(Some(&was));
    let plain = Flight::of("winter_jet", Form::Temp, |_| {}).page(None);
    assert_eq!(html.matches("<script").count(), 1);
    assert_eq!(html.matches("<!--").count(), plain.matches("<!--").count());
    let document = parsed(&html);
    let shown = HOSTILE.replace('\u{1}', "\u{FFFD}");
    let body = text_of(document.root_element());
    // Title, heading, diagram, serial, software, flight, finding (thrice), earlier
    // message; a group in each of four parts, there and beside its meaning.
    assert!(
        body.matches(&shown).count() >= 10 + 2 * 4,
        "{}",
        body.matches(&shown).count()
    );
}

#[test]
fn the_same_report_gives_the_same_bytes() {
    for (name, form) in SAMPLES {
        let once = Flight::of(name, form, |_| {}).page(None);
        let again = Flight::of(name, form, |_| {}).page(None);
        assert!(once == again, "{name}");
        assert!(once.len() < 1 << 20, "{name}: {} octets", once.len());
    }
}

#[test]
fn themes_are_followed() {
    let flight = Flight::of("low_burst", Form::Temp, |_| {});
    let of = |theme| {
        page(&Sheet {
            profile: &flight.profile,
            report: &flight.report,
            message: flight.message.as_ref(),
            fidelity: &flight.fidelity,
            findings: &flight.findings,
            was: None,
            theme,
        })
    };
    let auto = of(Theme::Auto);
    assert_eq!(auto.matches("prefers-color-scheme:dark").count(), 2);
    let (light, dark) = (of(Theme::Light), of(Theme::Dark));
    for (page, scheme) in [(&auto, "light dark"), (&light, "light"), (&dark, "dark")] {
        assert!(page.contains(&format!("name=\"color-scheme\" content=\"{scheme}\"")));
    }
    let colour = "--paper:#14171b";
    assert!(!light.contains("prefers-color-scheme") && !light.contains(colour));
    assert!(!dark.contains("prefers-color-scheme") && dark.contains(colour));
}

#[test]
fn a_descent_has_levels_and_no_message() {
    let flight = Flight::of("descent", Form::Descent, |_| {});
    let html = flight.page(None);
    let document = parsed(&html);
    assert!(class(&document, "group").is_empty());
    assert!(html.contains("A descent has no text code"));
    assert!(ids(&document).contains_key("row-0"));
    assert!(html.contains("How well the chosen levels reproduce the flight"));
}

#[test]
fn what_changed_since_an_earlier_message_is_reported() {
    let now = Flight::of("winter_jet", Form::Temp, |_| {});
    let text = now.message.as_ref().unwrap().to_string();
    // The standard surface 850 hPa once had -2.7 °C (027) instead of -1.7 (017).
    let earlier = text::parse(&text.replacen("85421 01756", "85421 02756", 1)).unwrap();
    let was = Was::new(
        "sent.txt",
        &earlier.report(),
        &now.report,
        now.message.as_ref(),
        &now.profile,
    );
    assert_eq!(was.differences.len(), 1, "{:?}", was.differences);
    let html = now.page(Some(&was));
    let document = parsed(&html);
    let list = class(&document, "differences")[0];
    let reported = text_of(list);
    assert!(reported.contains("temperature at 850 hPa"), "{reported}");
    assert!(
        reported.contains("\u{2212}2.7") || reported.contains("-2.7"),
        "{reported}"
    );
    assert!(html.contains("1 difference; left is sent.txt, right is this report."));
    let same = Was::new(
        "sent.txt",
        &now.message.as_ref().unwrap().report(),
        &now.report,
        now.message.as_ref(),
        &now.profile,
    );
    assert!(
        now.page(Some(&same))
            .contains("Nothing differs from sent.txt.")
    );
    assert!(!now.page(None).contains("id=\"differences\""));
}

fn fivefig() -> Command {
    let mut command = Command::cargo_bin("fivefig").unwrap();
    command.current_dir(env!("CARGO_MANIFEST_DIR"));
    command
}

fn of_sample(command: &mut Command, verb: &str, name: &str) {
    command.arg(verb).arg(format!("samples/{name}.csv"));
    command.arg("--sheet").arg(format!("samples/{name}.toml"));
    command.arg("-q");
}

#[test]
fn both_commands_write_the_same_octets() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.html");
    let mut draw = fivefig();
    of_sample(&mut draw, "draw", "winter_jet");
    draw.arg("-o").arg(&path).assert().success();
    let mut encode = fivefig();
    of_sample(&mut encode, "encode", "winter_jet");
    let out = encode.args(["--to", "html"]).assert().success();
    let drawn = fs::read(&path).unwrap();
    assert!(drawn == out.get_output().stdout);
    let html = String::from_utf8(drawn).unwrap();
    let document = parsed(&html);
    // The counts that only a report that states them needs are there.
    assert_eq!(class(&document, "counts").len(), 1);
}

#[test]
fn an_earlier_message_is_named_on_the_command_line() {
    let folder = tempfile::tempdir().unwrap();
    for to in ["text", "json", "bufr"] {
        let sent = folder.path().join(format!("sent.{to}"));
        let mut encode = fivefig();
        of_sample(&mut encode, "encode", "winter_jet");
        encode
            .args(["--to", to, "-o"])
            .arg(&sent)
            .assert()
            .success();
        let path = folder.path().join("sheet.html");
        let mut draw = fivefig();
        of_sample(&mut draw, "draw", "winter_jet");
        draw.arg("--was").arg(&sent).arg("-o").arg(&path);
        draw.assert().success();
        let html = fs::read_to_string(&path).unwrap();
        assert!(html.contains("Nothing differs from "), "{to}");
        assert!(html.contains(&format!("sent.{to}")), "{to}");
    }
}

#[test]
fn what_is_asked_wrongly_is_refused() {
    let refused = |args: &[&str], word: &str| {
        let mut command = fivefig();
        of_sample(&mut command, args[0], "winter_jet");
        let out = command.args(&args[1..]).assert().failure().code(2);
        let stderr = String::from_utf8(out.get_output().stderr.clone()).unwrap();
        assert!(stderr.contains(word), "{args:?}: {stderr}");
    };
    refused(&["draw", "-o", "x.png"], ".svg or .html");
    refused(
        &["draw", "--was", "sent.txt"],
        "--was is for the review sheet",
    );
    refused(
        &["encode", "--was", "sent.txt"],
        "--was needs --correct CCx",
    );
    let correct = ["encode", "--to", "html", "--correct", "CCA", "--was", "x"];
    refused(&correct, "--correct is for what is sent");
    refused(
        &["encode", "--to", "html", "--levels", "all"],
        "--levels is for JSON",
    );
    let mut nil = fivefig();
    nil.args(["nil", "--sheet", "samples/winter_jet.toml", "--to", "html"]);
    nil.assert().failure().code(2);
}
