//! JSON Lines of flights to JSON Lines of reports, one after the other.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read as _};
use std::path::Path;

use serde::Serialize;

use super::flight::{FlightArgs, Named, ProfileFormat, prepared, sheet_files, sources};
use super::output::Sink;
use super::{Stop, tell};
use crate::finding::Severity;
use crate::json::Record;
use crate::product::Loaded;
use crate::sheet;
use crate::source::{self, Format, SourceError, jsonl};

/// A line out.
#[derive(Serialize)]
struct Done<'a> {
    id: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    report: Option<Record>,
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<String>,
}

/// Whether the file holds flights, all of which are asked for. Nothing is taken
/// from standard input.
pub(super) fn are_asked(args: &FlightArgs) -> Result<bool, Stop> {
    let source = &args.source;
    match source.from {
        _ if source.message.is_some() => return Ok(false),
        Some(ProfileFormat::Jsonl) => return Ok(true),
        Some(_) => return Ok(false),
        None => {}
    }
    let path = &source.profile;
    let mut start = Vec::new();
    if path == Path::new("-") {
        let mut input = io::stdin().lock();
        let begun = input.fill_buf().map_err(|e| Stop::io(path, &e))?;
        start.extend_from_slice(begun);
    } else {
        let file = File::open(path).map_err(|e| Stop::io(path, &e))?;
        let mut begun = file.take(4096);
        begun
            .read_to_end(&mut start)
            .map_err(|e| Stop::io(path, &e))?;
    }
    Ok(source::detect(&start) == Format::Jsonl)
}

/// Codes every flight: a line out for a line in, in their order, whether it could
/// be coded or not. Only one flight is held at a time.
///
/// Exit code 1 when one was refused, or has a warning under `--strict`.
pub(super) fn encode(args: &FlightArgs) -> Result<u8, Stop> {
    let path = &args.source.profile;
    let name = path.display().to_string();
    let files = sheet_files(&args.source.sheet)?;
    sheet::joined(&sources(&files)).map_err(|errors| Stop {
        code: 1,
        lines: errors.iter().map(ToString::to_string).collect(),
    })?;
    let mut input: Box<dyn BufRead> = if path == Path::new("-") {
        Box::new(io::stdin().lock())
    } else {
        let file = File::open(path).map_err(|e| Stop::io(path, &e))?;
        Box::new(BufReader::new(file))
    };
    let mut sink = Sink::open(&args.output)?;
    let mut code = 0;
    let mut number = 0;
    let mut line = Vec::new();
    while take_line(&mut *input, &mut line).map_err(|e| Stop::io(path, &e))? {
        number += 1;
        let text = if number == 1 {
            line.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&line)
        } else {
            &line
        };
        if text.trim_ascii().is_empty() {
            continue;
        }
        let (id, coded) = one(args, text, &name, number, &files);
        let done = match coded {
            Ok(report) => {
                let warned = report
                    .findings
                    .iter()
                    .any(|f| f.severity >= Severity::Warning);
                code = code.max(u8::from(args.strict && warned));
                Done {
                    id: id.as_deref(),
                    report: Some(report),
                    error: None,
                }
            }
            Err(why) => {
                code = 1;
                for line in why.lines() {
                    tell(&format!("fivefig: error: {line}"));
                }
                Done {
                    id: id.as_deref(),
                    report: None,
                    error: Some(why),
                }
            }
        };
        let text = serde_json::to_string(&done).map_err(Stop::data)?;
        sink.write(&text)?;
        sink.write("\n")?;
    }
    sink.close()?;
    Ok(code)
}

/// The name of a flight, as far as the line says it, and its record or why there
/// is none.
fn one(
    args: &FlightArgs,
    text: &[u8],
    name: &str,
    number: usize,
    files: &[Named],
) -> (Option<String>, Result<Record, String>) {
    match jsonl::flight(text, name, number) {
        Ok((id, contents)) => {
            let place = contents.raw.name.clone();
            let named = |line: &str| match line.starts_with(name) {
                true => line.to_owned(),
                false => format!("{name}:{number}: flight `{}`: {line}", source::shown(&id)),
            };
            let coded = Loaded::of(&place, contents, &sources(files))
                .map_err(Stop::from)
                .and_then(|loaded| prepared(args, loaded))
                .map(|prepared| prepared.record(args.levels.map(Into::into)))
                .map_err(|stop| {
                    stop.lines
                        .iter()
                        .flat_map(|l| l.lines())
                        .map(named)
                        .collect::<Vec<_>>()
                        .join("\n")
                });
            (Some(id), coded)
        }
        Err(error) => {
            let id = match &error {
                SourceError::Flight { id, .. } => id.clone(),
                _ => None,
            };
            (id, Err(error.to_string()))
        }
    }
}

/// Reads a line without its end; of one that is too long only so much that it is
/// known to be. False at the end of the input.
fn take_line(input: &mut dyn BufRead, line: &mut Vec<u8>) -> io::Result<bool> {
    line.clear();
    let mut any = false;
    loop {
        let part = match input.fill_buf() {
            Ok(part) => part,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(e),
        };
        if part.is_empty() {
            return Ok(any);
        }
        any = true;
        let end = part.iter().position(|&b| b == b'\n');
        let text = part.get(..end.unwrap_or(part.len())).unwrap_or_default();
        let room = (jsonl::MAX_LINE + 1).saturating_sub(line.len());
        line.extend_from_slice(text.get(..room.min(text.len())).unwrap_or_default());
        let used = end.map_or(part.len(), |end| end + 1);
        input.consume(used);
        if end.is_some() {
            return Ok(true);
        }
    }
}
