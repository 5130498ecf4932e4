//! Levels as a Parquet file on its way out.

use std::io::IsTerminal as _;
use std::path::Path;

use arrow_array::RecordBatch;

use super::Stop;
use crate::forms::columnar;
use crate::forms::columnar::Source;
use crate::forms::columnar::parquet::Writer;
use crate::forms::text::Message;
use crate::issue::outputs::OutputError;
use crate::model::Report;

/// The levels of many reports.
pub(super) struct Levels {
    rows: columnar::Levels,
    /// `None` after the end.
    writer: Option<Writer>,
}

impl Levels {
    pub(super) fn new() -> Result<Self, OutputError> {
        Ok(Self {
            rows: columnar::Levels::new(),
            writer: Some(Writer::new(columnar::Levels::schema())?),
        })
    }

    /// Adds a report of a file.
    pub(super) fn add(
        &mut self,
        file: &str,
        number: usize,
        report: &Report,
        message: Option<&Message>,
    ) {
        let source = Source {
            file,
            report: number,
        };
        self.rows.add(source, report, message);
    }

    /// What is ready to be written, where enough rows are collected.
    pub(super) fn ready(&mut self) -> Result<Option<Vec<u8>>, OutputError> {
        if !self.rows.is_full() {
            return Ok(None);
        }
        let rows = self.rows.take()?;
        Ok(self.put(&rows)?.into())
    }

    /// Adds the levels of a report under its number.
    pub(super) fn write(
        &mut self,
        levels: &RecordBatch,
        number: usize,
    ) -> Result<Vec<u8>, OutputError> {
        self.put(&columnar::renumbered(levels, number)?)
    }

    fn put(&mut self, rows: &RecordBatch) -> Result<Vec<u8>, OutputError> {
        match &mut self.writer {
            Some(writer) => Ok(writer.write(rows)?),
            None => Ok(Vec::new()),
        }
    }

    /// The end of the file.
    pub(super) fn finish(&mut self) -> Result<Vec<u8>, OutputError> {
        let rows = self.rows.take()?;
        let mut octets = self.put(&rows)?;
        if let Some(writer) = self.writer.take() {
            octets.extend(writer.finish()?);
        }
        Ok(octets)
    }
}

/// Refuses to write a table to a terminal.
pub(super) fn refuse_terminal(output: &Path) -> Result<(), Stop> {
    if output == Path::new("-") && std::io::stdout().is_terminal() {
        return Err(Stop::usage(
            "Parquet is not written to a terminal; give --output FILE or a pipe",
        ));
    }
    Ok(())
}
