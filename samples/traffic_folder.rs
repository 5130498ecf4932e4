//! Checks a folder of traffic: `cargo run --example traffic_folder -- FOLDER`.
//!
//! Every file is read as TEMP and PILOT traffic, with or without headings. Findings go to
//! standard output, one line each; the program exits with 1 where one is an error.
#![allow(clippy::print_stdout, reason = "a program prints")]

use std::fs;
use std::io::{self, BufRead, BufReader, Write};
use std::path::Path;
use std::process::ExitCode;

use fivefig::forms::text::Traffic;
use fivefig::model::finding::{Finding, Severity};
use fivefig::verify;

/// What was read and found in a folder.
#[derive(Debug, Default, PartialEq)]
pub struct Summary {
    /// Reports of which a part could be read.
    pub reports: usize,
    /// Findings of severity error.
    pub errors: usize,
}

/// Checks every file of a folder, in the order of their names.
///
/// # Errors
/// A file or the folder that cannot be read.
pub fn check(folder: &Path, out: &mut impl Write) -> io::Result<Summary> {
    let mut paths = fs::read_dir(folder)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<io::Result<Vec<_>>>()?;
    paths.sort();
    let mut summary = Summary::default();
    for path in paths.iter().filter(|path| path.is_file()) {
        let name = path.display().to_string();
        let mut traffic = Traffic::new(&name);
        let mut file = BufReader::new(fs::File::open(path)?);
        let mut line = Vec::new();
        while file.read_until(b'\n', &mut line)? > 0 {
            // Bytes that are not UTF-8 become a sign that no group has.
            traffic.push(&String::from_utf8_lossy(&line));
            line.clear();
            report(&mut traffic, &name, &mut summary, out)?;
        }
        traffic.finish();
        report(&mut traffic, &name, &mut summary, out)?;
    }
    Ok(summary)
}

/// Checks the reports that are complete, and prints what was found since the last call.
fn report(
    traffic: &mut Traffic,
    name: &str,
    summary: &mut Summary,
    out: &mut impl Write,
) -> io::Result<()> {
    let mut findings: Vec<Finding> = traffic.take_findings();
    for received in traffic.take() {
        summary.reports += 1;
        let inconsistent = verify::message::check(&received.message);
        findings.extend(received.placed(name, inconsistent));
        findings.extend(received.findings);
    }
    for finding in &findings {
        summary.errors += usize::from(finding.severity == Severity::Error);
        writeln!(out, "{finding}")?;
    }
    Ok(())
}

fn main() -> io::Result<ExitCode> {
    let Some(folder) = std::env::args_os().nth(1) else {
        let usage = "name the folder of traffic as the first argument";
        return Err(io::Error::new(io::ErrorKind::InvalidInput, usage));
    };
    let summary = check(Path::new(&folder), &mut io::stdout().lock())?;
    println!("{} reports, {} errors", summary.reports, summary.errors);
    Ok(ExitCode::from(u8::from(summary.errors > 0)))
}
