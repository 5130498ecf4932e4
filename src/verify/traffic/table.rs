//! The summary as a table.

use arrow_array::RecordBatch;
use arrow_array::builder::{Int32Builder, StringBuilder};
use arrow_schema::ArrowError;

use super::summary::Summary;
use crate::forms::columnar::{table, whole};
use crate::model::Form;

table! {
    /// One row per station, time and code form.
    Rows = "summary" {
        /// Station number, call sign or position
        station: StringBuilder;
        /// Day and hour, or the date in full where it is known
        time: StringBuilder;
        /// temp or pilot
        form: StringBuilder;
        /// Parts expected of a listed station
        expected: Int32Builder;
        /// Parts with data
        received: Int32Builder;
        /// Parts that report NIL
        nil: Int32Builder;
        /// Parts expected and neither received nor reported NIL
        missing: Int32Builder;
        /// Parts under a heading with RRx
        late: Int32Builder;
        /// Parts under a heading with CCx
        corrected: Int32Builder;
        /// Parts of which groups could not be read
        damaged: Int32Builder;
        /// Findings of severity error
        errors: Int32Builder;
        /// Findings of severity warning
        warnings: Int32Builder;
        /// Letters of the parts that are missing
        missing_parts: StringBuilder;
    }
}

impl Summary {
    /// The lines of the summary as a table.
    ///
    /// # Errors
    /// Never in practice: columns of one length make a batch.
    pub fn table(&self) -> Result<RecordBatch, ArrowError> {
        let mut rows = Rows::new();
        for line in &self.lines {
            rows.rows += 1;
            rows.station.append_value(&line.station);
            rows.time.append_value(&line.time);
            rows.form.append_value(match line.form {
                Form::Pilot => "pilot",
                _ => "temp",
            });
            let counts = &line.counts;
            rows.expected.append_value(whole(counts.expected));
            rows.received.append_value(whole(counts.received));
            rows.nil.append_value(whole(counts.nil));
            rows.missing.append_value(whole(counts.missing));
            rows.late.append_value(whole(counts.late));
            rows.corrected.append_value(whole(counts.corrected));
            rows.damaged.append_value(whole(counts.damaged));
            rows.errors.append_value(whole(counts.errors));
            rows.warnings.append_value(whole(counts.warnings));
            rows.missing_parts.append_value(&line.missing_parts);
        }
        rows.take()
    }
}
