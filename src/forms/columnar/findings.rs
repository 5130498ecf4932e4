//! The table of findings.

use arrow_array::builder::{
    Float64Builder, Int8Builder, Int32Builder, Int64Builder, StringBuilder,
};

use super::{printed, table, whole};
use crate::model::finding::{Finding, Place};

table! {
    /// Findings, one per row.
    Findings = "findings" {
        /// Name of the file
        file: StringBuilder;
        /// Number of the report in the input, from 1; null: of no single report
        report: Int64Builder;
        /// Station number, call sign or position
        station: StringBuilder;
        /// Day and hour, or the date in full where it is known
        time: StringBuilder;
        /// Heading of the bulletin
        heading: StringBuilder;
        /// Stable name of the finding
        code: StringBuilder;
        /// error, warning or info
        severity: StringBuilder;
        /// What was found
        what: StringBuilder;
        /// What is allowed, or what to do
        allowed: StringBuilder;
        /// The published rule
        clause: StringBuilder;
        /// Line of the file, from 1
        line: Int64Builder;
        /// Column, from 1
        column: Int32Builder;
        /// Key of the sheet
        key: StringBuilder;
        /// Part of the message
        part: StringBuilder;
        /// Section of the part
        section: Int8Builder;
        /// Group of the part, from 1
        group: Int32Builder;
        /// Pressure of the level
        pressure_hpa: Float64Builder, "hPa";
    }
}

impl Findings {
    /// Adds a finding about a report of this number, from 1.
    pub fn add(&mut self, report: Option<usize>, finding: &Finding) {
        let Finding {
            code,
            severity,
            place,
            what,
            allowed,
            clause,
        } = finding;
        let Place {
            file,
            line,
            column,
            key,
            pressure_hpa,
            part,
            section,
            group,
            station,
            time,
            heading,
        } = place;
        let long = |value: Option<usize>| value.and_then(|v| i64::try_from(v).ok());
        self.rows += 1;
        self.file.append_option(file.as_deref());
        self.report.append_option(long(report));
        self.station.append_option(station.as_deref());
        self.time.append_option(time.as_deref());
        self.heading.append_option(heading.as_deref());
        self.code.append_value(code);
        printed(&mut self.severity, Some(severity));
        self.what.append_value(what);
        self.allowed.append_option(allowed.as_deref());
        self.clause.append_option(clause.as_deref());
        self.line.append_option(long(*line));
        self.column.append_option(column.map(whole));
        self.key.append_option(key.as_deref());
        printed(&mut self.part, *part);
        self.section
            .append_option(section.and_then(|s| i8::try_from(s).ok()));
        self.group.append_option(group.map(whole));
        self.pressure_hpa.append_option(*pressure_hpa);
    }
}
