//! The list of values of a BUFR message as a filter, for comparison with other
//! programs. A line of JSON in, a line of JSON out:
//!
//! - `{"descriptors": ["309052"], "subsets": [[…]]}`: values in the order of the
//!   template, as whole numbers in units of the last place, texts, or null for
//!   missing → `{"octets": "42554652…"}`;
//! - `{"octets": "42554652…"}` → descriptors and subsets as above, with edition,
//!   `compressed`, and for each value of each subset its `fields`: descriptor, scale,
//!   reference, bits, whether it is a text; with `"dump": true` also the lines of the dump.
//!
//! - `{"descriptors": ["309052"], "counts": [2, 1]}` → `fields` of one
//!   subset, with the counts of its replications in their order.
//!
//! A message that cannot be written or read gives `{"error": "…"}`. Called with
//! `time FILE RUNS`, it reads and writes that message RUNS times and prints
//! the seconds of both.

use std::cell::RefCell;
use std::io::{self, BufRead as _, Write as _};
use std::process::ExitCode;
use std::time::Instant;

use fivefig::forms::bufr;
use fivefig::forms::bufr::{Descriptor, Field, Kind, Layout, Message, Section1, Value};
use serde_json::{Value as Json, json};

type Answer = Result<Json, Box<dyn std::error::Error>>;

fn value(json: &Json) -> Result<Value, String> {
    match json {
        Json::Null => Ok(Value::Missing),
        Json::String(text) => Ok(Value::text(text)),
        other => (other.as_i64())
            .map(Value::Number)
            .ok_or_else(|| format!("no value: {other}")),
    }
}

fn list(json: &Json) -> Vec<Json> {
    json.as_array().cloned().unwrap_or_default()
}

fn template(question: &Json) -> Result<Vec<Descriptor>, &'static str> {
    let descriptor = |d: &Json| d.as_str().and_then(Descriptor::from_figures);
    let template = list(&question["descriptors"]);
    let template = template.iter().map(descriptor).collect::<Option<_>>();
    template.ok_or("no descriptor")
}

fn fields(layout: &Layout, number: impl Fn(usize) -> Option<i64>) -> Answer {
    let field = |f: &Field| {
        let text = f.kind == Kind::Text;
        json!([
            f.descriptor.to_string(),
            f.scale,
            f.reference,
            f.width_bits,
            text
        ])
    };
    Ok(layout.fields_by(number).iter().map(field).collect())
}

/// What stands in a template whose replications have these counts.
fn expand(question: &Json) -> Answer {
    let counts = list(&question["counts"]);
    let counts = RefCell::new(counts.iter().map(Json::as_i64));
    let layout = Layout::new(&template(question)?, 0).map_err(|(_, fault)| fault)?;
    let fields = fields(&layout, |_| counts.borrow_mut().next().flatten())?;
    Ok(json!({ "fields": fields }))
}

fn write(question: &Json) -> Answer {
    let subsets = list(&question["subsets"]);
    let values = subsets.iter().map(|s| list(s).iter().map(value).collect());
    let message = Message {
        section1: Section1::default(),
        template: template(question)?,
        values: values.collect::<Result<_, _>>()?,
    };
    let octets: String = message
        .encode()?
        .iter()
        .map(|o| format!("{o:02x}"))
        .collect();
    Ok(json!({ "octets": octets }))
}

fn read(question: &Json) -> Answer {
    let hex = question["octets"]
        .as_str()
        .ok_or("neither values nor octets")?;
    let octets: Vec<u8> = (hex.as_bytes().chunks(2))
        .map(|pair| Ok(u8::from_str_radix(std::str::from_utf8(pair)?, 16)?))
        .collect::<Result<_, Box<dyn std::error::Error>>>()?;
    let received = bufr::read(&octets)?;
    let message = &received.message;
    let subsets: Vec<Vec<Json>> = (message.values.iter())
        .map(|subset| {
            let json = |value: &Value| match value {
                Value::Missing => Json::Null,
                Value::Number(number) => json!(number),
                Value::Text(text) => json!(text),
            };
            subset.iter().map(json).collect()
        })
        .collect();
    let layout = Layout::of(&message.template, &message.section1).map_err(|(_, fault)| fault)?;
    let fields = (message.values.iter())
        .map(|subset| fields(&layout, |n: usize| subset.get(n)?.number()))
        .collect::<Result<Vec<_>, _>>()?;
    let descriptors = message.template.iter().map(ToString::to_string);
    let lines = match question.get("dump") {
        Some(Json::Bool(true)) => bufr::dump(&octets)?.0,
        _ => String::new(),
    };
    Ok(json!({
        "edition": received.edition,
        "compressed": received.compressed,
        "descriptors": descriptors.collect::<Vec<_>>(),
        "subsets": subsets,
        "fields": fields,
        "dump": lines.lines().collect::<Vec<_>>(),
    }))
}

/// Seconds of a number of readings and writings of a message.
fn time(path: &str, runs: u32) -> Answer {
    let octets = std::fs::read(path)?;
    let message = bufr::read(&octets)?.message;
    let start = Instant::now();
    for _ in 0..runs {
        std::hint::black_box(bufr::read(std::hint::black_box(&octets))?);
    }
    let read = start.elapsed().as_secs_f64();
    let start = Instant::now();
    for _ in 0..runs {
        std::hint::black_box(std::hint::black_box(&message).encode()?);
    }
    let write = start.elapsed().as_secs_f64();
    Ok(json!({ "read": read, "write": write }))
}

fn main() -> io::Result<ExitCode> {
    let mut out = io::stdout().lock();
    let fault = |answer: Answer| answer.unwrap_or_else(|e| json!({ "error": e.to_string() }));
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.as_slice() {
        [] => {}
        [word, path, runs] if word == "time" => {
            writeln!(out, "{}", fault(time(path, runs.parse().unwrap_or(1))))?;
            return Ok(ExitCode::SUCCESS);
        }
        _ => return Ok(ExitCode::from(2)),
    }
    for line in io::stdin().lock().lines() {
        let question: Json = serde_json::from_str(&line?)?;
        let answer = if question.get("subsets").is_some() {
            write(&question)
        } else if question.get("counts").is_some() {
            expand(&question)
        } else {
            read(&question)
        };
        writeln!(out, "{}", fault(answer))?;
    }
    Ok(ExitCode::SUCCESS)
}
