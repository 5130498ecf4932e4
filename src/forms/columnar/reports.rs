//! The table of reports.

use arrow_array::builder::{
    BinaryBuilder, Int8Builder, Int32Builder, Int64Builder, StringBuilder,
    TimestampMicrosecondBuilder,
};
use itertools::Itertools as _;

use super::levels::Head;
use super::{Source, TextsBuilder, printed, table, texts, whole};
use crate::forms::text::Message;
use crate::model::Report;
use crate::model::finding::{Finding, Severity};

table! {
    /// Reports, one per row, and what could not be made into one, with the error.
    Reports = "reports" {
        /// Name of the file or flight
        file: StringBuilder;
        /// Number of the report or flight in the input, from 1
        report: Int64Builder;
        /// temp, pilot or descent
        form: StringBuilder;
        /// Station number, call sign, position or WIGOS identifier
        station: StringBuilder;
        /// Standard time, UTC, of a text its day and hour; null where year and month are not known
        time: TimestampMicrosecondBuilder;
        /// Time of release, UTC, where it is known
        release: TimestampMicrosecondBuilder;
        /// Day of the month (YY)
        day: Int8Builder;
        /// Hour (GG)
        hour: Int8Builder;
        /// Letters of the parts
        parts: StringBuilder;
        /// Number of levels
        levels: Int32Builder;
        /// The message in five-figure groups; null: the form has none
        text: StringBuilder;
        /// The BUFR message, where it was asked for
        bufr: BinaryBuilder;
        /// Findings of severity warning or error
        warnings: TextsBuilder;
        /// Why there is no report
        error: StringBuilder;
        /// Kind of the error
        error_kind: StringBuilder;
        /// Place of the error
        error_place: StringBuilder;
    }
}

impl Reports {
    /// Adds a report.
    pub fn add(
        &mut self,
        source: Source<'_>,
        report: &Report,
        message: Option<&Message>,
        bufr: Option<&[u8]>,
        findings: &[Finding],
    ) {
        let head = Head::of(report, message);
        self.source(source);
        self.form.append_value(head.form);
        self.station.append_option(head.station);
        self.time.append_option(head.time);
        self.release.append_option(head.release);
        self.day.append_option(head.day);
        self.hour.append_option(head.hour);
        let parts = report.parts.keys().map(|part| part.letter()).join("");
        self.parts.append_value(parts);
        self.levels.append_value(whole(report.levels.len()));
        printed(&mut self.text, message);
        self.bufr.append_option(bufr);
        let grave = (findings.iter()).filter(|finding| finding.severity >= Severity::Warning);
        texts(&mut self.warnings, grave.map(Finding::text));
        self.error.append_null();
        self.error_kind.append_null();
        self.error_place.append_null();
    }

    /// Adds a flight of which there is no report: why, of which kind and where.
    pub fn add_error(&mut self, source: Source<'_>, error: &str, kind: &str, place: &str) {
        self.source(source);
        self.form.append_null();
        self.station.append_null();
        self.time.append_null();
        self.release.append_null();
        self.day.append_null();
        self.hour.append_null();
        self.parts.append_null();
        self.levels.append_null();
        self.text.append_null();
        self.bufr.append_null();
        self.warnings.append(false);
        self.error.append_value(error);
        self.error_kind.append_value(kind);
        self.error_place.append_value(place);
    }

    fn source(&mut self, source: Source<'_>) {
        self.rows += 1;
        self.file.append_value(source.file);
        self.report
            .append_value(i64::try_from(source.report).unwrap_or(i64::MAX));
    }
}
