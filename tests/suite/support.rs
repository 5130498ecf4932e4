//! What the subjects share: the samples, and the command as a user runs it.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use fivefig::input;
use fivefig::input::RawProfile;
use fivefig::input::sheet::{self, Sheet, Source};
use fivefig::model::{Form, Profile};
use fivefig::profile;
use roxmltree::{Document, Node, ParsingOptions};

/// Every sample in the forms that it can have.
pub const SAMPLES: [(&str, Form); 17] = [
    ("winter_jet", Form::Temp),
    ("winter_jet", Form::Pilot),
    ("low_burst", Form::Temp),
    ("tropical", Form::Temp),
    ("polar_night", Form::Temp),
    ("gaps", Form::Temp),
    ("plateau", Form::Temp),
    ("twin_levels", Form::Temp),
    ("windless", Form::Temp),
    ("minute", Form::Temp),
    ("ship", Form::Temp),
    ("mobile", Form::Temp),
    ("drop", Form::Temp),
    ("pilot", Form::Pilot),
    ("theodolite", Form::Pilot),
    ("descent", Form::Temp),
    ("descent", Form::Descent),
];

/// The samples that have a text, each once in its own form.
pub fn coded() -> impl Iterator<Item = (&'static str, Form)> {
    let own = |&(name, form): &(&str, Form)| match name {
        "pilot" | "theodolite" => form == Form::Pilot,
        _ => form == Form::Temp,
    };
    SAMPLES.into_iter().filter(own)
}

/// The folder of the samples.
pub fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("samples")
}

/// The path of a file among the samples.
pub fn path(name: &str) -> String {
    samples().join(name).display().to_string()
}

/// The rows and the sheet of `NAME.csv` and `NAME.toml` in a folder.
pub fn read(folder: &Path, name: &str) -> (RawProfile, Sheet) {
    let text = fs::read_to_string(folder.join(format!("{name}.toml"))).unwrap();
    let rows = fs::read(folder.join(format!("{name}.csv"))).unwrap();
    let (sheet, _) = sheet::read(&[Source { name, text: &text }]).unwrap();
    let raw = input::text::read(&rows, name, &sheet.reading)
        .unwrap()
        .value;
    (raw, sheet)
}

/// The rows and the sheet of a sample.
pub fn sample(name: &str) -> (RawProfile, Sheet) {
    read(&samples(), name)
}

/// The profile of a sample for a form, and its sheet.
pub fn ascent(name: &str, form: Form) -> (Profile, Sheet) {
    let (raw, sheet) = sample(name);
    let ascent = profile::build_for(form, &raw, &sheet.context)
        .unwrap()
        .value;
    (ascent, sheet)
}

/// The command in a folder, with pipes at its ends.
pub fn fivefig(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_fivefig"));
    command.current_dir(folder).args(args);
    command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

/// Runs the command with an input: exit code, standard output as bytes, standard error.
pub fn bytes(folder: &Path, args: &[&str], input: &str) -> (i32, Vec<u8>, String) {
    let mut child = fivefig(folder, args).spawn().unwrap();
    let mut to = child.stdin.take().unwrap();
    let input = input.to_owned();
    let writer = std::thread::spawn(move || {
        // A command that does not read its input is no fault of the test.
        let _ = to.write_all(input.as_bytes());
    });
    let out = child.wait_with_output().unwrap();
    writer.join().unwrap();
    let errors = String::from_utf8(out.stderr).unwrap();
    assert!(!errors.contains("panicked"), "{errors}");
    (out.status.code().unwrap(), out.stdout, errors)
}

/// Runs the command with an input: exit code, standard output, standard error.
pub fn run(folder: &Path, args: &[&str], input: &str) -> (i32, String, String) {
    let (code, out, errors) = bytes(folder, args, input);
    (code, String::from_utf8(out).unwrap(), errors)
}

/// A JSON document of one report without the counts of its levels, which it must have.
pub fn without_counts(document: &str) -> serde_json::Value {
    let mut document: serde_json::Value = serde_json::from_str(document).unwrap();
    let counts = document["reports"][0]["fidelity"]["counts"].take();
    assert!(counts["wind"]["fewest"].is_u64(), "{counts}");
    document
}

/// A page as XML.
pub fn parsed(html: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(html, options).unwrap()
}

/// The text of an element and of what is in it.
pub fn text_of(node: Node<'_, '_>) -> String {
    let texts = node.descendants().filter(Node::is_text);
    texts.filter_map(|n| n.text()).collect()
}

/// The rows of the invented winter flight, its temperature from 600 to 400 hPa warmer.
pub fn warmer_flight(warmer_k: f64) -> String {
    let rows = fs::read_to_string("samples/winter_jet.csv").unwrap();
    let lines = rows.lines().map(|line| {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        let pressure = cells.get(1).and_then(|p| p.parse::<f64>().ok());
        if pressure.is_some_and(|p| (400.0..=600.0).contains(&p)) {
            let warmer = cells[3].parse::<f64>().unwrap() + warmer_k;
            cells[3] = format!("{warmer:.2}");
        }
        cells.join(",") + "\n"
    });
    lines.collect()
}
