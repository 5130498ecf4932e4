//! What is done with the message as the page shows it: orders, a report, NIL.

use super::fields::Fields;
use super::session::{Profile, Session};
use super::view;
use crate::input::sheet::{Draft, SheetFault, Source};
use crate::issue::folder;
use crate::issue::folder::Name;
use crate::issue::outputs;
use crate::issue::outputs::SHEET;

/// The fields of each kind of order.
const ORDERS: [(&str, &[&str]); 2] = [
    ("level", &["action", "pressure_hpa", "reason"]),
    ("withhold", &["element", "from_hpa", "to_hpa", "reason"]),
];

impl Session {
    /// Adds the order that stands in the fields of its kind.
    pub(super) fn order(&mut self, kind: &str, fields: &Fields) {
        let Some((table, keys)) = ORDERS.iter().find(|(table, _)| *table == kind) else {
            self.refused("no such order");
            return;
        };
        let before = self.state.clone();
        let given: Vec<String> = keys.iter().map(|key| format!("{table}.{key}")).collect();
        let values = keys.iter().zip(&given);
        let values: Vec<(&str, &str)> =
            values.map(|(key, name)| (*key, fields.get(name))).collect();
        self.state.draft.order(table, &values);
        // A faulty order would stand in the way of everything.
        let text = self.sheet_text();
        let source = Source {
            name: SHEET,
            text: &text,
        };
        if let Err(error) = Draft::merged(&[source]) {
            let ours = |fault: &&SheetFault| {
                let key = fault.place.key.as_deref().unwrap_or_default();
                key.starts_with(*table)
            };
            let lines: Vec<String> = error
                .faults()
                .iter()
                .filter(ours)
                .map(|f| f.fault.to_string())
                .collect();
            if !lines.is_empty() {
                self.state = before;
                self.reported(false, lines);
                return;
            }
        }
        if let Some(fault) = view::order_fault(self) {
            self.state = before;
            self.refused(fault);
            return;
        }
        self.keep(format!("order: {table}"), before);
        self.pick.clear();
        self.done("ordered; the message below follows it");
    }

    /// Issues what the page showed.
    pub(super) fn issue(&mut self, fields: &Fields) {
        let view = view::view(self);
        if fields.get("shown") != view.digest {
            self.refused("not issued: what was typed had not been shown yet. Look at the message below and issue again");
            return;
        }
        let coded = match &view.outcome {
            view::Outcome::Coded(coded) => coded,
            _ => return self.refused("not issued: there is no message"),
        };
        if let Some(Err(why)) = self.profile.as_ref().map(Profile::is_current) {
            return self.refused(format!("not issued: {why}"));
        }
        let made = coded.make(&self.setup.out, &self.wanted, fields.get("letter"));
        let placed = made.and_then(|issues| {
            let mut lines = Vec::new();
            for (name, made) in issues {
                lines.extend(self.place(&name, made, &view.sheet_text, None)?);
            }
            Ok(lines)
        });
        match placed {
            Ok(lines) => self.reported(true, lines),
            Err(error) => self.refused(format!("not issued: {error}")),
        }
    }

    /// Issues that there is no report.
    pub(super) fn nil(&mut self, fields: &Fields) {
        let view = view::view(self);
        if fields.get("shown") != view.digest {
            self.refused("not issued: what was typed had not been shown yet. Look at the NIL below and issue again");
            return;
        }
        let placed = view.nil.and_then(|nil| {
            let out = &self.setup.out;
            let reason = Some(fields.get("nil_reason"));
            let reason = folder::nil_despite_report(out, &nil.name, reason);
            let reason = reason.map_err(|error| error.to_string())?;
            let made = nil.make(&self.wanted)?;
            self.place(&nil.name, made, &view.sheet_text, reason.as_deref())
        });
        match placed {
            Ok(lines) => self.reported(true, lines),
            Err(error) => self.refused(format!("not issued: {error}")),
        }
    }

    /// Puts an issue into the folder of issues, beside it its sheet and, where there is
    /// one, the reason why it went out.
    fn place(
        &self,
        name: &Name,
        made: outputs::Outputs,
        sheet: &str,
        reason: Option<&str>,
    ) -> Result<Vec<String>, String> {
        let mut files: Vec<(&str, &[u8])> = made.files().collect();
        files.push((SHEET, sheet.as_bytes()));
        files.extend(reason.map(|text| (folder::REASON, text.as_bytes())));
        let placed = folder::place(&self.setup.out, name, &files);
        placed.map_err(|error| error.to_string())?;
        let names: Vec<&str> = files.iter().map(|(name, _)| *name).collect();
        let mut lines = vec![format!("issued: {name} ({})", names.join(", "))];
        lines.extend(made.findings.iter().map(ToString::to_string));
        Ok(lines)
    }
}
