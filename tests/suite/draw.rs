//! The diagram: well-formed, legible, the same every time, and true to the rows.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;

use assert_cmd::Command;
use fivefig::input::sheet;
use fivefig::input::sheet::Source;
use fivefig::model::fidelity::{Fidelity, Quantity};
use fivefig::model::{Context, Form, Noted, Position, Profile, Reach, Report, Roles, Row, Wind};
use fivefig::verify::fidelity::{fidelity, rebuilt};
use fivefig::view::diagram::{HEIGHT, Panels, Style, Theme, WIDTH, diagram, panels};
use fivefig::{input, issue, profile};
use proptest::prelude::*;
use roxmltree::{Document, Node};

use crate::support::{self, SAMPLES, samples};

struct Flight {
    profile: Profile,
    report: Report,
    fidelity: Fidelity,
}

impl Flight {
    fn of(profile: Profile, context: &Context, form: Form) -> Self {
        if form == Form::Descent {
            let report = issue::report(form, &profile, context, Reach::Whole)
                .unwrap()
                .value;
            let fidelity = fidelity(&profile, &context.coding, &report, &report);
            return Self {
                profile,
                report,
                fidelity,
            };
        }
        let coded = issue::code(form, &profile, context, Reach::Whole).unwrap();
        Self {
            profile,
            report: coded.report,
            fidelity: coded.fidelity,
        }
    }

    fn draw(&self, theme: Theme) -> String {
        diagram(
            &self.profile,
            &self.report,
            Some(&self.fidelity),
            &Style {
                theme,
                ..Style::default()
            },
        )
        .to_string()
    }

    fn panels(&self) -> Panels {
        panels(&self.profile, &self.report)
    }
}

fn sample(name: &str, form: Form) -> Flight {
    changed(name, form, |_| {})
}

/// A sample whose sheet says something else.
fn changed(name: &str, form: Form, change: impl Fn(&mut Context)) -> Flight {
    let (raw, mut sheet) = support::sample(name);
    change(&mut sheet.context);
    let flight = profile::build_for(form, &raw, &sheet.context)
        .unwrap()
        .value;
    Flight::of(flight, &sheet.context, form)
}

fn attribute(node: Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name)
        .unwrap_or_else(|| panic!("{node:?} has no {name}"))
        .parse()
        .unwrap()
}

/// The box of a text, each character as wide as 0.6 of the size of the font (0.68
/// where it is bold), which is wider than the mean of any common sans-serif; left,
/// top, right, bottom.
fn text_box(node: Node<'_, '_>) -> [f64; 4] {
    let (x, y) = (attribute(node, "x"), attribute(node, "y"));
    let size = attribute(node, "font-size");
    let letters = node.text().unwrap().chars().count();
    let em = match node.attribute("class") {
        Some("b") => 0.68,
        _ => 0.6,
    };
    let width = em * size * f64::from(u32::try_from(letters).unwrap());
    let left = match node.attribute("text-anchor") {
        None => x,
        Some("middle") => x - width / 2.0,
        Some("end") => x - width,
        other => panic!("{other:?}"),
    };
    [left, y - 0.8 * size, left + width, y + 0.2 * size]
}

/// Nothing is written over anything else or beyond the sheet.
fn assert_legible(name: &str, document: &Document<'_>) {
    let texts: Vec<_> = document
        .descendants()
        .filter(|n| n.has_tag_name("text"))
        .map(|n| (n.text().unwrap(), text_box(n)))
        .collect();
    assert!(texts.len() > 20, "{name}");
    for (i, (text, [left, top, right, bottom])) in texts.iter().enumerate() {
        assert!(!text.trim().is_empty(), "{name}");
        assert!(
            *left >= 0.0 && *top >= 0.0 && *right <= WIDTH && *bottom <= HEIGHT,
            "{name}: {text} leaves the sheet"
        );
        for (other, [l, t, r, b]) in &texts[..i] {
            let apart = left >= r || l >= right || top >= b || t >= bottom;
            assert!(apart, "{name}: `{text}` over `{other}`");
        }
    }
}

#[test]
fn every_sample_is_well_formed_and_legible() {
    for (name, form) in SAMPLES {
        let flight = sample(name, form);
        let svg = flight.draw(Theme::Auto);
        assert_eq!(svg, flight.draw(Theme::Auto), "{name}: not the same twice");
        assert!(svg.len() < 400_000, "{name}: {} octets", svg.len());
        let document = Document::parse(&svg).unwrap();
        let root = document.root_element();
        assert!(root.has_tag_name(("http://www.w3.org/2000/svg", "svg")));
        assert_eq!(root.attribute("role"), Some("img"));
        let described = |tag: &str| {
            let node = root.children().find(|n| n.has_tag_name(tag)).unwrap();
            let id = node.attribute("id").unwrap();
            assert!(root.attribute("aria-labelledby").unwrap().contains(id));
            node.text().unwrap().to_owned()
        };
        assert!(!described("title").is_empty());
        assert!(described("desc").contains("levels reported"), "{name}");
        assert_legible(name, &document);
        // No number got lost on the way.
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{name}");
        let mut ids = BTreeSet::new();
        for id in document.descendants().filter_map(|n| n.attribute("id")) {
            assert!(ids.insert(id), "{name}: {id} twice");
        }
        // Every level is a group by its number.
        for (i, level) in flight.report.levels.iter().enumerate() {
            let group = document
                .descendants()
                .find(|n| n.attribute("id") == Some(&format!("level-{i}")))
                .unwrap_or_else(|| panic!("{name}: level {i}"));
            assert_eq!(group.attribute("data-level"), Some(&*i.to_string()));
            assert_eq!(
                group.attribute("data-roles"),
                Some(&*level.roles.to_string())
            );
            assert!(group.children().any(|n| n.has_tag_name("title")));
        }
    }
}

/// What a diagram is made of, and what is written on it.
fn structure(svg: &str) -> String {
    let document = Document::parse(svg).unwrap();
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    let mut texts = Vec::new();
    for node in document.descendants().filter(Node::is_element) {
        *counts.entry(node.tag_name().name()).or_default() += 1;
        if node.has_tag_name("text") {
            texts.push(node.text().unwrap());
        }
    }
    let desc = document.descendants().find(|n| n.has_tag_name("desc"));
    let mut out = String::new();
    writeln!(out, "{}", desc.unwrap().text().unwrap()).unwrap();
    for (tag, count) in counts {
        writeln!(out, "{tag}: {count}").unwrap();
    }
    for text in texts {
        writeln!(out, "| {text}").unwrap();
    }
    out
}

#[test]
fn the_structure_of_the_samples() {
    for (name, form) in SAMPLES {
        let svg = sample(name, form).draw(Theme::Light);
        let word = format!("{form:?}").to_lowercase();
        insta::assert_snapshot!(format!("{name}_{word}"), structure(&svg));
    }
}

#[test]
fn the_pictures_in_the_samples_are_what_the_command_draws() {
    for (name, form) in [("winter_jet", "temp"), ("pilot", "pilot")] {
        let out = Command::cargo_bin("fivefig")
            .unwrap()
            .current_dir(samples())
            .args(["draw", &format!("{name}.csv"), "--form", form])
            .args(["--sheet", &format!("{name}.toml")])
            .output()
            .unwrap();
        assert!(out.status.success());
        let kept = samples().join(format!("{name}.svg"));
        if std::env::var_os("FIVEFIG_WRITE_SAMPLES").is_some() {
            fs::write(&kept, &out.stdout).unwrap();
        }
        let kept = fs::read(kept).unwrap();
        assert!(kept.len() < 150_000, "{}", kept.len());
        assert!(
            kept == out.stdout,
            "samples/{name}.svg is not what the command draws; FIVEFIG_WRITE_SAMPLES=1 writes it anew"
        );
    }
}

#[test]
fn the_command_wants_a_name_that_ends_in_svg() {
    let folder = tempfile::tempdir().unwrap();
    let run = |name: &str, more: &[&str]| {
        let path = folder.path().join(name);
        let out = Command::cargo_bin("fivefig")
            .unwrap()
            .current_dir(samples())
            .args(["draw", "windless.csv", "--sheet", "windless.toml", "-q"])
            .args(more)
            .arg("-o")
            .arg(&path)
            .output()
            .unwrap();
        let errors = String::from_utf8(out.stderr).unwrap();
        (out.status.code().unwrap(), errors, path.exists())
    };
    for name in ["x.png", "x", "svg", "x.svg.txt"] {
        let (code, errors, there) = run(name, &[]);
        assert_eq!((code, there), (2, false), "{name}");
        assert!(errors.contains("ends in .svg"), "{errors}");
    }
    let (code, errors, there) = run("x.svg", &["--levels", "all"]);
    assert_eq!((code, there), (2, false));
    assert!(errors.contains("--levels"), "{errors}");
    assert_eq!(run("x.svg", &["--theme", "dark"]), (0, String::new(), true));
    assert_eq!(run("none/x.svg", &[]).0, 3);
    let svg = fs::read_to_string(folder.path().join("x.svg")).unwrap();
    assert!(!svg.contains("prefers-color-scheme"));
}

#[test]
fn a_name_is_text_whatever_it_says() {
    let name = "<script>&\"'\u{7}]]>";
    let flight = changed("low_burst", Form::Temp, |context| {
        context.station.name = Some(name.to_owned());
    });
    let svg = flight.draw(Theme::Auto);
    assert!(!svg.contains("<script"));
    let document = Document::parse(&svg).unwrap();
    let shown = "TEMP \u{b7} 99012 \u{b7} <script>&\"'\u{FFFD}]]>";
    let mut texts = document.descendants().filter(|n| n.has_tag_name("text"));
    assert!(texts.any(|n| n.text() == Some(shown)));
    // A very long name is cut, and hides nothing.
    let long = changed("low_burst", Form::Temp, |context| {
        context.station.name = Some("Ωμέγα ".repeat(33));
    });
    let svg = long.draw(Theme::Auto);
    assert_legible("long", &Document::parse(&svg).unwrap());
}

#[test]
fn themes_differ_in_colours_alone() {
    let flight = sample("low_burst", Form::Temp);
    let without = |theme| {
        let svg = flight.draw(theme);
        let (head, rest) = svg.split_once("<style>").unwrap();
        let (css, rest) = rest.split_once("</style>").unwrap();
        (css.to_owned(), format!("{head}{rest}"))
    };
    let (auto, light, dark) = (
        without(Theme::Auto),
        without(Theme::Light),
        without(Theme::Dark),
    );
    assert!(auto.1 == light.1 && light.1 == dark.1);
    assert!(auto.0 != light.0 && light.0 != dark.0);
    assert!(
        auto.0
            .contains("@media screen and (prefers-color-scheme:dark)")
    );
}

/// The polylines of path data: `M`, and `l` from each to the next.
fn polylines(data: &str) -> Vec<Vec<(f64, f64)>> {
    let mut lines = Vec::new();
    for line in data.split('M').skip(1) {
        let mut points: Vec<(f64, f64)> = Vec::new();
        for step in line.split('l') {
            let cut = step[1..].find(['-', ' ']).unwrap() + 1;
            let (a, b) = step.split_at(cut);
            let number = |text: &str| text.trim().parse::<f64>().unwrap();
            let (dx, dy) = (number(a), number(b));
            let (x, y) = points.last().copied().unwrap_or_default();
            points.push((x + dx, y + dy));
        }
        lines.push(points);
    }
    lines
}

/// The curves of a class in a panel.
fn curves(svg: &str, panel: &str, class: &str) -> Vec<Vec<(f64, f64)>> {
    let document = Document::parse(svg).unwrap();
    let group = document
        .descendants()
        .find(|n| n.attribute("id") == Some(panel));
    group
        .unwrap()
        .children()
        .filter(|n| n.attribute("class") == Some(class))
        .flat_map(|n| polylines(n.attribute("d").unwrap()))
        .collect()
}

fn from_curve(at: (f64, f64), lines: &[Vec<(f64, f64)>]) -> f64 {
    let chord = |a: (f64, f64), b: (f64, f64)| {
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let length = dx * dx + dy * dy;
        let share = ((at.0 - a.0) * dx + (at.1 - a.1) * dy) / length;
        let share = if length > 0.0 {
            share.clamp(0.0, 1.0)
        } else {
            0.0
        };
        (at.0 - a.0 - share * dx).hypot(at.1 - a.1 - share * dy)
    };
    lines
        .iter()
        .flat_map(|line| line.windows(2))
        .filter(|pair| (pair[0].1 - at.1).abs() < 40.0 || (pair[1].1 - at.1).abs() < 40.0)
        .map(|pair| chord(pair[0], pair[1]))
        .fold(f64::INFINITY, f64::min)
}

#[test]
fn the_curves_are_true_to_the_rows() {
    // As stated in `draw::path`: thinned to 0.15, rounded by 0.07, and 0.4 of height
    // where the rows lie closer than four to that.
    const OFF_PX: f64 = 0.63;
    let flight = sample("tropical", Form::Temp);
    let svg = flight.draw(Theme::Light);
    let panels = flight.panels();
    let leaning = panels.temperature.unwrap();
    let temperature = curves(&svg, "temperature", "c t");
    let humidity = curves(&svg, "humidity", "h");
    let strip = panels
        .strips
        .iter()
        .find(|s| s.quantity == Quantity::Humidity);
    let scale = strip.unwrap().scale;
    let (mut worst, mut sum, mut rows) = (0.0_f64, 0.0, 0.0);
    for row in flight.profile.rows.iter().step_by(7) {
        let p = row.pressure_hpa.unwrap();
        let y = panels.vertical.px(p);
        let t = (leaning.px(row.temperature_c.unwrap(), p), y);
        let u = (scale.px(row.humidity_pct.unwrap()), y);
        for off in [from_curve(t, &temperature), from_curve(u, &humidity)] {
            worst = worst.max(off);
            sum += off;
            rows += 1.0;
        }
    }
    assert!(rows > 1000.0 && worst <= OFF_PX, "{worst}");
    assert!(sum / rows < 0.1, "{}", sum / rows);
}

#[test]
fn a_turning_wind_never_crosses_its_strip() {
    // The sample turns through north several times.
    let flight = sample("tropical", Form::Temp);
    let svg = flight.draw(Theme::Light);
    let panels = flight.panels();
    let strip = panels
        .strips
        .iter()
        .find(|s| s.quantity == Quantity::WindDirection);
    let scale = strip.unwrap().scale;
    let half = (scale.to_px - scale.from_px) / 2.0;
    let mut crossings = 0;
    for class in ["h", "m"] {
        let lines = curves(&svg, "direction", class);
        for line in &lines {
            for pair in line.windows(2) {
                assert!(
                    (pair[0].0 - pair[1].0).abs() <= half + 0.1,
                    "{class}: {pair:?}"
                );
            }
            assert!(
                line.iter()
                    .all(|p| p.0 >= scale.from_px - 0.1 && p.0 <= scale.to_px + 0.1)
            );
        }
        crossings += lines.len() - 1;
    }
    assert!(crossings >= 2, "{crossings}");
}

#[test]
fn barbs_are_mirrored_south_of_the_equator() {
    let north = sample("winter_jet", Form::Temp).draw(Theme::Light);
    let (mut raw, mut sheet) = support::sample("winter_jet");
    let station = &mut sheet.context.station;
    let east = station.position().unwrap().longitude_deg();
    *station = station.clone().at(Position::new(-51.25, east).unwrap());
    for row in &mut raw.rows {
        row.latitude_deg = row.latitude_deg.map(|north| -north);
    }
    let flight = profile::build(&raw, &sheet.context).unwrap().value;
    let south = Flight::of(flight, &sheet.context, Form::Temp).draw(Theme::Light);
    // The feather of a barb in the frame of a wind from the north: 10 to the east
    // (right) north of the equator, to the west south of it.
    let barbs = |svg: &str, side: &str| svg.matches(&format!("l{side} -4.0")).count();
    assert!(barbs(&north, "10.0") > 10 && barbs(&north, "-10.0") == 0);
    assert!(barbs(&south, "-10.0") > 10 && barbs(&south, "10.0") == 0);
    assert_legible("south", &Document::parse(&south).unwrap());
}

#[test]
fn what_is_drawn_is_what_fidelity_holds() {
    for (name, form) in [
        ("winter_jet", Form::Temp),
        ("gaps", Form::Temp),
        ("pilot", Form::Pilot),
    ] {
        let flight = sample(name, form);
        let coding = &flight.report.context.coding;
        let message = fivefig::forms::text::message(&flight.report).unwrap().value;
        let stderr = rebuilt(&flight.profile, coding, &message.report());
        assert_eq!(stderr.len(), flight.profile.rows.len());
        let rows = || flight.profile.rows.iter().zip(&stderr);
        let most = |of: &dyn Fn(&Row, Wind) -> f64| {
            rows()
                .filter_map(|(row, stderr)| Some(of(row, stderr.wind?)))
                .filter(|off| off.is_finite())
                .fold(0.0, f64::max)
        };
        let speed = most(&|row, wind| {
            let own = row.wind.map_or(f64::NAN, |w| w.speed_ms);
            (own - wind.speed_ms).abs()
        });
        let temperature = |limit: f64| {
            rows()
                .filter(|(_, stderr)| stderr.temperature_limit_k == Some(limit))
                .filter_map(|(row, stderr)| {
                    Some((row.temperature_c? - stderr.temperature_c?).abs())
                })
                .fold(0.0, f64::max)
        };
        for held in &flight.fidelity.departures {
            let own = match held.quantity {
                Quantity::Temperature => temperature(1.0),
                Quantity::TemperatureAloft => temperature(2.0),
                Quantity::WindSpeed => speed,
                _ => continue,
            };
            let reported = held.after_rounding.greatest;
            assert!(
                (own - reported).abs() < 1e-6,
                "{name} {:?}: {own} {reported}",
                held.quantity
            );
        }
    }
}

#[test]
fn a_level_by_order_has_its_mark() {
    let (raw, _) = support::sample("winter_jet");
    let order = "[[level]]\naction = \"force\"\npressure_hpa = 612\nreason = \"a test\"\n";
    let toml = fs::read_to_string(samples().join("winter_jet.toml")).unwrap();
    let sources = [
        Source {
            name: "winter_jet",
            text: &toml,
        },
        Source {
            name: "order",
            text: order,
        },
    ];
    let context = sheet::read(&sources).unwrap().0.context;
    let flight = profile::build(&raw, &context).unwrap().value;
    let flight = Flight::of(flight, &context, Form::Temp);
    let svg = flight.draw(Theme::Light);
    let number = flight
        .report
        .levels
        .iter()
        .position(|l| l.roles.any(Roles::FORCED))
        .unwrap();
    let document = Document::parse(&svg).unwrap();
    let group = document
        .descendants()
        .find(|n| n.attribute("id") == Some(&format!("level-{number}")))
        .unwrap();
    assert!(group.attribute("data-hpa").unwrap().starts_with("61"));
    assert!(group.attribute("data-roles").unwrap().contains("forced"));
    assert_legible("order", &document);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    /// Any few rows give a legible picture.
    #[test]
    fn any_rows_are_drawn(
        start in 300.0..1090.0_f64,
        rows in prop::collection::vec(
            (
                0.5..0.999_f64,
                prop::option::weighted(0.9, -95.0..45.0_f64),
                prop::option::weighted(0.9, 0.0..100.0_f64),
                prop::option::weighted(0.9, (0.0..360.0_f64, 0.0..120.0_f64)),
            ),
            2..30,
        ),
        latitude in -90.0..90.0_f64,
        pilot: bool,
    ) {
        let (_, mut sheet) = support::sample("winter_jet");
        sheet.context.surface = None;
        let station = &mut sheet.context.station;
        let east = station.position().unwrap().longitude_deg();
        *station = station.clone().at(Position::new(latitude, east).unwrap());
        let mut csv = String::from(
            "time_s,pressure_hpa,height_gpm,temperature_c,humidity_pct,wind_dir_deg,wind_speed_ms\n",
        );
        let mut p = start;
        for (i, (ratio, t, u, wind)) in rows.iter().enumerate() {
            let cell = |value: Option<f64>| value.map_or(String::new(), |v| format!("{v:.2}"));
            writeln!(
                csv,
                "{i},{p:.3},{:.1},{},{},{},{}",
                fivefig::physics::hydrostatic::standard_height_gpm(p),
                cell(*t),
                cell(*u),
                cell(wind.map(|w| w.0)),
                cell(wind.map(|w| w.1)),
            )
            .unwrap();
            p = (p * ratio).max(0.5);
        }
        let form = if pilot { Form::Pilot } else { Form::Temp };
        let Ok(Noted { value: raw, .. }) = input::text::read(csv.as_bytes(), "rows", &sheet.reading) else {
            return Ok(());
        };
        let Ok(Noted { value: flight, .. }) = profile::build_for(form, &raw, &sheet.context) else {
            return Ok(());
        };
        let Ok(coded) = issue::code(form, &flight, &sheet.context, Reach::Whole) else {
            return Ok(());
        };
        let drawing = diagram(&flight, &coded.report, Some(&coded.fidelity), &Style::default());
        let svg = drawing.to_string();
        prop_assert!(!svg.contains("NaN"));
        assert_legible("rows", &Document::parse(&svg).unwrap());
    }
}
