//! A case from what is meant to its end: issued, entered, moved, reported.
//!
//! What fails is tried again in the next turn; a restart goes on where the journal ends.

use std::path::PathBuf;

use super::alarm::{Alarm, Given};
use super::book::Line;
use super::clock::{civil, hour, seconds};
use super::flight::{self, HELD, InputFile, Issue, Refusal};
use super::journal::{Input, Journal, Kind, Meant, Step};
use super::moves::{self, Move};
use super::watch::{DONE, REFUSED};
use super::{Spool, SpoolError, Turn, release, watch};
use crate::issue::age::length;
use crate::issue::folder;
use crate::issue::folder::{FolderError, Name};
use crate::model::finding::{Severity, printable};
use crate::model::utc;

impl Spool<'_> {
    /// Writes down what is meant, puts the issue into its place, and finishes the case.
    pub(super) fn issue(
        &mut self,
        kind: Kind,
        input: Option<Input>,
        issue: Issue,
        turn: &mut Turn,
    ) {
        if self.is_stuck() {
            return;
        }
        let Issue { name, files, line } = issue;
        let content = flight::content(&files);
        let named = name.to_string();
        let meant = self.meant(kind, input, line, Some((named, content)), None);
        let now_s = self.clock.now().wall_s;
        let no = match self.journal.mean(now_s, meant.clone()) {
            Ok(no) => no,
            Err(error) => return self.failed(error),
        };
        let files: Vec<(&str, &[u8])> = files
            .iter()
            .map(|(name, octets)| (name.as_str(), octets.as_slice()))
            .collect();
        let issued = match folder::place(&self.setup.out, &name, &files) {
            Ok(_) => self.journal.step(no, now_s, Step::Issued).map(|()| true),
            Err(error) => {
                // Where another hand was faster, the next turn refuses it by name.
                if !matches!(error, FolderError::Issued(_)) {
                    self.failed(error);
                }
                // It may be in its place all the same.
                self.judge(no, &meant)
            }
        };
        match issued {
            Ok(true) => {
                turn.done += 1;
                self.finish(no);
            }
            Ok(false) => {}
            Err(error) => self.failed(error),
        }
    }

    /// Whether it is not known of a case if it is out; nothing new is begun then.
    fn is_stuck(&self) -> bool {
        !self.journal.undecided().is_empty()
    }

    /// A file that is refused.
    pub(super) fn refuse(
        &mut self,
        name: &str,
        sheet: Option<&str>,
        digests: (String, String),
        refusal: Refusal,
        turn: &mut Turn,
    ) {
        let Some(input) = self.input(name, sheet, digests, REFUSED) else {
            return;
        };
        let mut line = refusal.line;
        refusal.word.clone_into(&mut line.refused);
        let first = refusal.why.lines().next().unwrap_or_default();
        line.why = first.chars().take(300).collect();
        let meant = self.meant(Kind::Refused, Some(input), line, None, Some(refusal.why));
        if self.begin(meant, turn) {
            turn.refused += 1;
        }
    }

    /// A file of which everything is out, and how.
    pub(super) fn same(
        &mut self,
        taken: &InputFile,
        sheet: Option<&str>,
        why: String,
        turn: &mut Turn,
    ) {
        let Some(input) = self.input(
            &taken.name,
            sheet,
            (taken.digest.clone(), taken.alone.clone()),
            DONE,
        ) else {
            return;
        };
        let line = Line {
            why,
            ..Line::default()
        };
        let meant = self.meant(Kind::Same, Some(input), line, None, None);
        self.begin(meant, turn);
    }

    /// Begins a case that issues nothing.
    fn begin(&mut self, meant: Meant, turn: &mut Turn) -> bool {
        if self.is_stuck() {
            return false;
        }
        match self.journal.mean(self.clock.now().wall_s, meant) {
            Ok(no) => {
                turn.done += 1;
                self.finish(no);
                true
            }
            Err(error) => {
                self.failed(error);
                false
            }
        }
    }

    fn meant(
        &self,
        kind: Kind,
        input: Option<Input>,
        mut line: Line,
        issue: Option<(String, String)>,
        reason: Option<String>,
    ) -> Meant {
        line.at(self.clock.now().wall_s, &self.schedule);
        line.event = kind.word().to_owned();
        if let Some(input) = &input {
            line.input.clone_from(&input.profile);
        }
        let (issue, content) = issue.unzip();
        Meant {
            kind,
            input,
            issue,
            content,
            reason,
            alarm: kind != Kind::Same && !self.setup.alarm.is_empty(),
            line,
        }
    }

    /// Judges what an earlier run meant and did not write down as done.
    pub(super) fn recover(&mut self) -> Result<(), SpoolError> {
        for no in self.journal.undecided() {
            let meant = self.journal.cases.get(&no).map(|case| case.meant.clone());
            let Some(meant) = meant else { continue };
            let text = match self.judge(no, &meant)? {
                true => "was issued when the spool ended; the rest follows",
                false => "was not issued when the spool ended; it is tried again",
            };
            let input = meant.input.map(|input| input.profile);
            let text = format!("{}: {text}", meant.issue.unwrap_or_default());
            self.tell(Severity::Warning, "recovered", text, input.as_deref(), None);
        }
        Ok(())
    }

    /// Whether what was meant is out: its octets lie in the folder of issues, or nothing
    /// of it was issued. Written down either way.
    fn judge(&mut self, no: u64, meant: &Meant) -> Result<bool, SpoolError> {
        let out = &self.setup.out;
        let name = meant.issue.as_deref().and_then(Name::parse);
        let there = match &name {
            Some(name) => flight::content_of(out, name)?,
            None => None,
        };
        let ours = there.is_some() && there == meant.content;
        if let (false, Some(name)) = (ours, &name) {
            folder::sweep(out, &name.to_string());
        }
        let step = if ours { Step::Issued } else { Step::Void };
        self.journal.step(no, self.clock.now().wall_s, step)?;
        Ok(ours)
    }

    /// What open cases wait for is tried again.
    pub(super) fn finish_open_cases(&mut self) {
        let open: Vec<u64> = self.journal.cases.keys().copied().collect();
        for no in open {
            self.finish(no);
        }
    }

    /// Everything that follows an issue or a refusal; what fails stays for the next
    /// turn.
    fn finish(&mut self, no: u64) {
        let now_s = self.clock.now().wall_s;
        let Some(case) = self.journal.cases.get(&no) else {
            return;
        };
        let (meant, alarmed) = (case.meant.clone(), case.alarmed);
        let result = self.finish_case(no, now_s, &meant);
        match result {
            Ok(()) if alarmed => self.journal.close(no),
            Ok(()) => self.ask_alarm(no, &meant),
            Err(error) => self.failed(error),
        }
    }

    fn finish_case(&mut self, no: u64, now_s: i64, meant: &Meant) -> Result<(), SpoolError> {
        let state = |journal: &Journal| journal.cases.get(&no).map(|c| (c.decided, c.moved));
        let (decided, moved) = state(&self.journal).unwrap_or((true, true));
        if !decided && !self.judge(no, meant)? {
            return Ok(());
        }
        self.enter(no)?;
        if let (false, Some(input)) = (moved, &meant.input) {
            let reason = meant
                .reason
                .as_deref()
                .map(|why| reason(why, &meant.line.refused, input));
            let moved = moves::go(&self.setup.watched, input, reason.as_deref())?;
            let step = match moved {
                Move::Done => Step::Moved,
                Move::Changed => Step::Left,
            };
            self.journal.step(no, now_s, step)?;
            self.watched.files.remove(&input.profile);
            if moved == Move::Changed {
                let text = format!(
                    "{}: it has changed meanwhile and stays",
                    printable(&input.profile)
                );
                let input = Some(input.profile.as_str());
                self.tell(Severity::Warning, "grew", text, input, None);
            }
        }
        let released = meant.kind.issues() && !meant.line.released.is_empty();
        if let (true, Some(input)) = (released, &meant.input) {
            release::done(&self.setup.out, &input.digest);
        }
        Ok(())
    }

    /// Enters cases up to that number into the book, in their order.
    fn enter(&mut self, no: u64) -> Result<(), SpoolError> {
        let after = self.book.last.saturating_add(1);
        if after > no {
            return Ok(());
        }
        let due = self.journal.cases.range(after..=no);
        let due: Vec<(u64, Meant)> = due
            .filter(|(_, case)| case.decided)
            .map(|(no, case)| (*no, case.meant.clone()))
            .collect();
        for (no, meant) in due {
            self.book.add(no, &meant.line)?;
            // Where the book was taken away, what has long been moved is not reported again.
            let moved = self.journal.cases.get(&no).is_some_and(|case| case.moved);
            if !(moved && meant.input.is_some()) {
                self.log(&meant);
            }
        }
        Ok(())
    }

    /// Where a case has led to.
    fn path(&self, meant: &Meant) -> PathBuf {
        match (&meant.issue, &meant.input) {
            (Some(issue), _) => self.setup.out.join(issue),
            (None, Some(input)) => {
                let folder = self.setup.watched.join(&input.folder);
                folder.join(&input.name)
            }
            (None, None) => self.setup.watched.clone(),
        }
    }

    fn log(&mut self, meant: &Meant) {
        let line = &meant.line;
        let issue = meant.issue.as_ref();
        let path = self.path(meant).display().to_string();
        let (severity, text) = match meant.kind {
            Kind::Refused => {
                self.status.refused += 1;
                let why = meant.reason.as_deref().unwrap_or_default();
                (
                    Severity::Error,
                    format!("{}: refused: {why}", printable(&line.input)),
                )
            }
            Kind::Same => {
                let text = format!("{}: not issued again: {}", printable(&line.input), line.why);
                (Severity::Info, text)
            }
            Kind::Flight | Kind::Early | Kind::Correction | Kind::Nil => {
                self.status.issued += 1;
                let mut text = self.aloud(meant.kind, line);
                text.push_str(&format!(": {}", printable(&path)));
                self.status.last_issue = Some(format!("{} at {}", line.issue, line.at));
                (Severity::Info, text)
            }
        };
        let issue = issue.map(|_| path);
        let input = Some(line.input.as_str()).filter(|name| !name.is_empty());
        self.tell(severity, meant.kind.word(), text, input, issue);
    }

    /// An issue in words that can be read aloud.
    fn aloud(&self, kind: Kind, line: &Line) -> String {
        let now_s = self.clock.now().wall_s;
        let standard = utc::parse(&line.standard_time);
        let time = standard.map(|standard| hour(standard, now_s));
        let time = time.unwrap_or_else(|| line.standard_time.clone());
        let what = match kind {
            Kind::Nil => {
                let limit = self.schedule.limit_min.and_then(|min| {
                    let due_s = seconds(standard?)?.saturating_add(i64::from(min) * 60);
                    civil(due_s)
                });
                let by = limit.map_or_else(String::new, |due| {
                    format!(" by {:02}:{:02}", due.hour(), due.minute())
                });
                return format!("NIL issued for {time}, since no report had come{by}");
            }
            Kind::Early => format!("early message of {time} issued"),
            Kind::Correction => format!("correction of the early message of {time} issued"),
            _ => format!("report of {time} issued"),
        };
        let after_min = line.after_min.unwrap_or_default();
        let side = if after_min < 0 { "before" } else { "after" };
        let after = length(after_min.saturating_mul(60));
        let mut text = format!("{what} {after} {side} the standard time");
        if !line.input.is_empty() {
            text = format!("{}: {text}", printable(&line.input));
        }
        match line.warnings.unwrap_or_default() {
            0 => {}
            1 => text.push_str(", with 1 warning"),
            n => text.push_str(&format!(", with {n} warnings")),
        }
        if !line.released.is_empty() {
            text.push_str(&format!(", released at {}", line.released));
        }
        text
    }

    /// Asks for the alarm of a case, once; the case is closed when it has been given.
    fn ask_alarm(&mut self, no: u64, meant: &Meant) {
        if self.alarms.is_asked(no) {
            return;
        }
        let path = self.path(meant).display().to_string();
        let text = serde_json::json!({
            "event": meant.kind.word(),
            "path": path,
            "reason": meant.reason,
            "line": meant.line,
        });
        let text = format!("{text}\n");
        self.alarms.ask(Alarm {
            no,
            event: meant.kind.word(),
            path,
            text,
        });
    }

    /// Closes the cases whose alarms have been given, or could not be.
    pub(super) fn hear_alarms(&mut self, given: impl IntoIterator<Item = Given>) {
        for (no, result) in given {
            if let Err(what) = result {
                // Once: it is not tried again until the next start.
                let text = format!("the alarm could not be given: {what}");
                self.tell(Severity::Error, "alarm", text, None, None);
            }
            match self
                .journal
                .step(no, self.clock.now().wall_s, Step::Alarmed)
            {
                Ok(()) => self.journal.close(no),
                Err(error) => self.failed(error),
            }
        }
    }
}

/// What is written beside a refused profile.
fn reason(why: &str, word: &str, input: &Input) -> String {
    if word == HELD {
        return format!(
            "{why}\n\n{} was held. If the flight is right, release it with fivefig spool --release {}.\nOtherwise put it right (in the profile, or in a sheet {}.toml beside it) and move it\nback into the watched folder.\n",
            printable(&input.profile),
            printable(&input.name),
            printable(watch::stem(&input.profile)),
        );
    }
    format!(
        "{}\n\n{} was refused. Put right what is said above (in the profile, or in a\nsheet {}.toml beside it) and move it back into the watched folder.\n",
        why,
        printable(&input.profile),
        printable(watch::stem(&input.profile)),
    )
}
