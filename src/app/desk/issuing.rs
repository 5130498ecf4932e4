//! What is done with the message as the page shows it: orders, a report, NIL.

use super::fields::Fields;
use super::handover::States;
use super::profile::Profile;
use super::session::{LastIssue, Session};
use super::{typing, view};
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
        let tidied = |(key, name): (&&str, &String)| {
            let text = fields.get(name);
            let is_number = key.ends_with("_hpa");
            (
                (*key).to_owned(),
                if is_number {
                    typing::number(text.trim())
                } else {
                    text.to_owned()
                },
            )
        };
        let mut values: Vec<(String, String)> = keys.iter().zip(&given).map(tidied).collect();
        upright(&mut values);
        let values: Vec<(&str, &str)> = values
            .iter()
            .map(|(key, text)| (key.as_str(), text.as_str()))
            .collect();
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
                .map(|fault| {
                    let key = fault.place.key.as_deref().unwrap_or_default();
                    format!("{}: {}", order_label(key), view::words(&fault.fault))
                })
                .collect();
            if !lines.is_empty() {
                self.state = before;
                self.notify(false, lines);
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

    /// Issues what the page showed. A second press of the button that issued it finds
    /// it issued, and issues nothing more.
    pub(super) fn issue(&mut self, fields: &Fields) {
        let (shown, letters) = (fields.get("shown"), fields.get("letter"));
        let again = |last: &&LastIssue| last.shown == shown && last.letters == letters;
        if let Some(last) = self.last_issue.as_ref().filter(again) {
            let mut lines = vec!["issued once: a second press issues nothing more".to_owned()];
            lines.extend(last.lines.iter().cloned());
            return self.notify(true, lines);
        }
        let view = view::view(self);
        if shown != view.digest {
            self.refused("not issued: what was typed had not been shown yet. Look at the message and issue again");
            return;
        }
        let coded = match &view.outcome {
            view::Outcome::Coded(coded) => coded,
            _ => return self.refused("not issued: there is no message"),
        };
        if let Some(Err(why)) = self.profile().map(Profile::is_current) {
            return self.refused(format!("not issued: {why}"));
        }
        let made = coded.make(&self.setup.out, &self.wanted, letters);
        let placed = made.and_then(|issues| {
            let mut lines = Vec::new();
            for (name, made) in issues {
                lines.extend(self.place(&name, made, &view.sheet_text, None)?);
            }
            Ok(lines)
        });
        match placed {
            Ok(lines) => {
                self.last_issue = Some(LastIssue {
                    shown: shown.to_owned(),
                    letters: letters.to_owned(),
                    lines: lines.clone(),
                });
                self.notify(true, lines);
            }
            Err(error) => self.refused(format!("not issued: {error}")),
        }
    }

    /// Issues that there is no report.
    pub(super) fn nil(&mut self, fields: &Fields) {
        let view = view::view(self);
        if fields.get("shown") != view.digest {
            self.refused("not issued: what was typed had not been shown yet. Look at the NIL and issue again");
            return;
        }
        let (loaded, sure) = (self.profile().is_some(), fields.has("nil_sure"));
        let placed = view.nil.and_then(|nil| {
            if loaded && nil.report_out.is_none() && !sure {
                let what = "a profile is loaded; tick the box above the button if there is no report of it all the same";
                return Err(what.to_owned());
            }
            let out = &self.setup.out;
            let reason = Some(fields.get("nil_reason"));
            let reason = folder::nil_despite_report(out, &nil.name, reason);
            let reason = reason.map_err(|error| error.to_string())?;
            let made = nil.make(&self.wanted)?;
            self.place(&nil.name, made, &view.sheet_text, reason.as_deref())
        });
        match placed {
            Ok(lines) => self.notify(true, lines),
            Err(error) => self.refused(format!("not issued: {error}")),
        }
    }

    /// Marks an issue as handed over by other means.
    pub(super) fn mark(&mut self, number: &str) {
        let Some(name) = self.issue_of(number).cloned() else {
            return self.refused("no such issue in the list");
        };
        let out = &self.setup.out;
        if !States::read(out).can_mark(&name) {
            return self.refused(format!("{name}: no target waits for it"));
        }
        match States::mark(out, &name, &self.setup.sheets) {
            Ok(()) => {
                let states = States::read(&self.setup.out).of(&name).join("; ");
                self.done(format!("{name}: {states}"));
            }
            Err(why) => self.refused(format!("{name} is not marked: {why}")),
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
        let path = placed.map_err(|error| error.to_string())?;
        let names: Vec<&str> = files.iter().map(|(name, _)| *name).collect();
        let state = States::read(&self.setup.out).of(name).join("; ");
        let (path, names) = (path.display(), names.join(", "));
        let mut lines = vec![format!("written to {path} – {state} ({names})")];
        lines.extend(made.findings.iter().map(ToString::to_string));
        Ok(lines)
    }
}

/// Turns a layer that was typed upside down: it begins at the greater pressure.
fn upright(values: &mut [(String, String)]) {
    let place = |values: &[(String, String)], key: &str| values.iter().position(|(k, _)| k == key);
    let Some((from, to)) = place(values, "from_hpa").zip(place(values, "to_hpa")) else {
        return;
    };
    let number = |at: usize| {
        values
            .get(at)
            .and_then(|(_, text)| text.parse::<f64>().ok())
    };
    if number(from) < number(to) && number(from).is_some() {
        let texts = [from, to].map(|at| values.get(at).map(|(_, text)| text.clone()));
        if let [Some(lower), Some(upper)] = texts {
            for (at, text) in [(from, upper), (to, lower)] {
                if let Some(value) = values.get_mut(at) {
                    value.1 = text;
                }
            }
        }
    }
}

/// The label of a field of an order.
fn order_label(key: &str) -> &str {
    match key.rsplit('.').next().unwrap_or_default() {
        "pressure_hpa" => "at hPa",
        "from_hpa" => "from hPa",
        "to_hpa" => "to",
        "reason" => "Reason",
        "element" => "Element",
        other => other,
    }
}
