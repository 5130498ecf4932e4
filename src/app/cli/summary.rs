//! `summary`: what a day's traffic holds.

use std::path::{Path, PathBuf};

use clap::ValueEnum;

use super::bounded::{MAX_TABLE, text};
use super::decode::{Holds, Options, each_received, files, open};
use super::output::Sink;
use super::{DatedArgs, Line, Stop};
use crate::model::Form;
use crate::model::finding::{Severity, shown_path};
use crate::verify::station::numbers;
use crate::verify::traffic::{Checker, Collector, Counts, Summary, identify};

/// How the summary is written.
#[derive(Clone, Copy, Default, ValueEnum)]
enum SummaryForm {
    /// Counts, then every station and time with something missing or wrong
    #[default]
    Text,
    /// A JSON document
    Json,
    /// One row per station, time and code form
    Csv,
    /// The same as a Parquet file
    #[cfg(feature = "parquet")]
    Parquet,
}

/// What is summed up, and how.
#[derive(clap::Args)]
pub(super) struct SummaryArgs {
    /// Traffic in groups, or folders of such files; - for standard input
    #[arg(required = true)]
    traffic: Vec<PathBuf>,
    /// Table of the stations whose parts are expected, such as an export of station metadata
    #[arg(long, value_name = "FILE", help_heading = "Input")]
    station_list: Option<PathBuf>,
    #[command(flatten)]
    dated: DatedArgs,
    /// Form of the summary
    #[arg(long, value_enum, default_value_t, help_heading = "Output")]
    to: SummaryForm,
    /// Output path; - for standard output
    #[arg(
        short,
        long,
        value_name = "PATH",
        default_value = "-",
        help_heading = "Output"
    )]
    output: PathBuf,
}

/// Reads and checks all traffic and writes the counts.
pub(super) fn summary(asked: &SummaryArgs) -> Result<u8, Stop> {
    let listed = match &asked.station_list {
        Some(list) => {
            let name = shown_path(list);
            let found = numbers(&text(list, MAX_TABLE)?);
            found.map_err(|e| Stop::data(format!("{name}: {e}")))?
        }
        None => Vec::new(),
    };
    let mut collector = Collector::dated(asked.dated.date);
    let mut checker = Checker::dated(asked.dated.date);
    let mut reports = 0;
    for path in &asked.traffic {
        for file in files(path)? {
            let name = shown_path(&file);
            let opened = open(&file)?;
            collector.add_findings(&Vec::from_iter(opened.finding));
            for mut input in opened.inputs {
                if input.holds != Holds::Groups {
                    let what = format!("{name}: not traffic in groups, and left out");
                    Line::new(Severity::Warning, &what).print();
                    continue;
                }
                let options = Options::default();
                each_received(&mut *input.from, &file, options, |findings, received| {
                    collector.add_findings(&findings);
                    for one in received {
                        reports += 1;
                        let mut findings = checker.check(&one, &name);
                        findings.extend(one.findings.iter().cloned());
                        identify(&mut findings, &one, asked.dated.date);
                        collector.add(&one, &findings);
                    }
                    Ok(())
                })?;
            }
        }
    }
    if reports == 0 {
        let names: Vec<String> = asked.traffic.iter().map(|p| shown_path(p)).collect();
        let names = names.join(", ");
        return Err(Stop::data(format!("{names}: no report could be read")));
    }
    collector.add_findings(&checker.finish());
    let summary = collector.finish(&listed);
    let mut sink = Sink::open(Path::new(&asked.output))?;
    let written = match asked.to {
        SummaryForm::Text => summary.to_string().into_bytes(),
        SummaryForm::Json => {
            let text = serde_json::to_string_pretty(&summary).map_err(Stop::data)?;
            (text + "\n").into_bytes()
        }
        SummaryForm::Csv => rows(&summary).into_bytes(),
        #[cfg(feature = "parquet")]
        SummaryForm::Parquet => {
            super::parquet::refuse_terminal(&asked.output)?;
            let rows = summary.table().map_err(Stop::data)?;
            crate::forms::columnar::parquet::file(&rows).map_err(Stop::data)?
        }
    };
    sink.write_bytes(&written)?;
    sink.close()?;
    Ok(0)
}

/// One row per station, time and code form. No value needs quotes: stations are figures,
/// letters and blanks.
fn rows(summary: &Summary) -> String {
    let names = Counts::NAMES.join(",");
    let mut out = format!("station,time,form,{names},missing_parts\n");
    for line in &summary.lines {
        let form = if line.form == Form::Pilot {
            "pilot"
        } else {
            "temp"
        };
        let counts = line.counts.values().map(|count| count.to_string());
        let counts = counts.join(",");
        let (station, time, missing) = (&line.station, &line.time, &line.missing_parts);
        out.push_str(&format!("{station},{time},{form},{counts},{missing}\n"));
    }
    out
}
