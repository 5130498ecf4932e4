//! From a file of the watched folder to a case: a flight, an early message, a refusal.

use super::flight::{self, InputFile, NotIssued, Outcome, Refusal, Unread};
use super::journal::{Input, Kind};
use super::moves;
use super::watch::{self, DONE, Look};
use super::{Spool, SpoolError, Turn, clock, release};
use crate::forms::text::Bbb;
use crate::input::sheet::Continuity;
use crate::issue::age::{OutOfTime, out_of_time};
use crate::issue::folder;
use crate::issue::folder::Name;
use crate::model::finding::{Severity, printable};
use crate::model::{Reach, Report};

impl Spool<'_> {
    /// Takes a finished file.
    pub(super) fn take(&mut self, name: &str, turn: &mut Turn) {
        let Some(seen) = self.watched.files.get(name) else {
            return;
        };
        let (look, sheet) = (seen.look, seen.sheet.clone());
        let beside = sheet.as_ref().map(|(name, _)| name.as_str());
        let taken = match InputFile::read(&self.setup.watched, name, beside) {
            Ok(taken) => taken,
            Err(Unread::Refused(why)) => {
                // Its octets are not known, and need not be.
                let refusal = Refusal::new("file", why);
                return self.refuse(name, beside, Default::default(), refusal, turn);
            }
            Err(Unread::Io(error)) => {
                let path = self.setup.watched.join(name);
                return self.failed(SpoolError::io(&path, error));
            }
        };
        if let Some(before) = self.journal.out(&taken.digest).map(str::to_owned) {
            let why = format!("the same octets are out as {before}");
            return self.same(&taken, beside, why, turn);
        }
        let outcome = self.code(&taken, Reach::Whole);
        // What has changed since it was read is looked at again before it goes out.
        let same = |name: &str, look| Look::at(&self.setup.watched.join(name)).ok() == Some(look);
        if !same(name, look)
            || sheet
                .as_ref()
                .is_some_and(|(name, look)| !same(name, *look))
        {
            return;
        }
        match outcome {
            Outcome::Issue(issue) => {
                let input = self.input(&taken.name, beside, (taken.digest, taken.alone), DONE);
                if input.is_some() {
                    self.issue(Kind::Flight, input, *issue, turn);
                }
            }
            Outcome::Remaining {
                correction,
                rest,
                early,
            } => {
                if let Some(mut issue) = correction {
                    taken.name.clone_into(&mut issue.line.input);
                    let name = issue.name.clone();
                    self.issue(Kind::Correction, None, *issue, turn);
                    if !folder::is_issued(&self.setup.out, &name) {
                        return; // the next turn tries both again
                    }
                }
                let Some(issue) = rest else {
                    let why = format!("all that is wanted of it is out as {early}");
                    return self.same(&taken, beside, why, turn);
                };
                let input = self.input(&taken.name, beside, (taken.digest, taken.alone), DONE);
                if input.is_some() {
                    self.issue(Kind::Flight, input, *issue, turn);
                }
            }
            Outcome::NoSheet | Outcome::NotYet => {
                let what = "keys are lacking (the release, say); it waits for a sheet beside it";
                let text = format!("{}: {what}", printable(name));
                self.tell(Severity::Warning, "waits", text, Some(name), None);
                if let Some(seen) = self.watched.files.get_mut(name) {
                    seen.waits = Some("a sheet beside it".to_owned());
                }
            }
            Outcome::Wait(why) => self.failed(format!("{}: {why}", printable(name))),
            Outcome::Refused(refusal) => {
                self.refuse(name, beside, (taken.digest, taken.alone), *refusal, turn);
            }
        }
    }

    fn code(&self, taken: &InputFile, reach: Reach) -> Outcome {
        let released = release::order(&self.setup.out, &taken.digest);
        let continuity = match (self.schedule.continuity, &released) {
            (Continuity::Hold, Some(_)) => Continuity::Warn,
            (continuity, _) => continuity,
        };
        let letter = |report: &Report, name: &Name| {
            let refused = |(word, why)| NotIssued::Refused(word, why);
            self.not_again(name, reach).map_err(refused)?;
            self.in_time(report)?;
            self.late(name).map_err(|why| refused(("letters", why)))
        };
        let mut outcome = flight::code(&self.setup, taken, reach, continuity, letter);
        if let Some(released) = released {
            for line in outcome.lines() {
                line.released.clone_from(&released);
            }
        }
        outcome
    }

    /// Holds back what by the clock is not released yet, or too old; while the clock is
    /// not trusted it is not judged, and nothing is moved.
    fn in_time(&self, report: &Report) -> Result<(), NotIssued> {
        let now = self.clock.now();
        let (word, why) = match out_of_time(report, now.wall_s, Some(self.schedule.max_age_h)) {
            None => return Ok(()),
            Some(OutOfTime::Future(why)) => ("future", why),
            Some(OutOfTime::TooOld(why)) => ("too-old", why),
        };
        Err(if self.watch.is_trusted(now) {
            NotIssued::Refused(word, why)
        } else {
            NotIssued::Waits(format!(
                "{why}; it waits until the clock has been right for 5 minutes"
            ))
        })
    }

    /// Refuses what is out already, by the folder or by the journal.
    fn not_again(&self, name: &Name, reach: Reach) -> Result<(), (&'static str, String)> {
        if self.journal.has(name) || folder::first(&self.setup.out, name).is_some() {
            let what = "issued already, and this is not the same file; what changed goes out as a correction (encode --correct, or the desk)";
            return Err(("issued-before", format!("{name}: {what}")));
        }
        if reach == Reach::To100 && folder::whole_is_out(&self.setup.out, name) {
            return Err(("issued-before", format!("{name}: the whole report is out")));
        }
        Ok(())
    }

    /// The letter of a report that is late: NIL is out for it, or the limit has passed.
    fn late(&self, name: &Name) -> Result<Option<Bbb>, String> {
        let now = self.clock.now();
        let nil_is_out = folder::nil_is_out(&self.setup.out, name);
        let standard = name.standard().and_then(clock::seconds);
        let limit = self
            .schedule
            .limit_min
            .map(|minutes| i64::from(minutes) * 60);
        let passed = standard
            .zip(limit)
            .is_some_and(|(standard, limit)| now.wall_s > standard.saturating_add(limit));
        let late = nil_is_out || passed;
        if !late {
            return Ok(None);
        }
        match folder::late(&self.setup.out, name) {
            Some(letter) => Ok(Some(letter)),
            None => Err("RRX is out already: there is no letter left".to_owned()),
        }
    }

    pub(super) fn input(
        &mut self,
        name: &str,
        sheet: Option<&str>,
        (digest, alone): (String, String),
        folder: &str,
    ) -> Option<Input> {
        // What open cases will be called there is no longer free.
        let open = self.journal.cases.values();
        let open = open.filter_map(|case| case.meant.input.as_ref());
        let taken: Vec<&str> = (open.filter(|input| input.folder == folder))
            .map(|input| watch::stem(&input.name))
            .collect();
        match moves::free(&self.setup.watched.join(folder), name, &taken) {
            Ok(free) => Some(Input {
                profile: name.to_owned(),
                sheet: sheet.map(str::to_owned),
                digest,
                alone,
                folder: folder.to_owned(),
                name: free,
            }),
            Err(error) => {
                self.failed(error);
                None
            }
        }
    }

    /// The early message of an ascent that goes on.
    pub(super) fn early(&mut self, name: &str, turn: &mut Turn) {
        let Some(seen) = self.watched.files.get_mut(name) else {
            return;
        };
        seen.tried = Some(seen.look.length);
        let beside = seen.sheet.as_ref().map(|(name, _)| name.clone());
        let Ok(mut taken) = InputFile::read(&self.setup.watched, name, beside.as_deref()) else {
            return; // the whole flight will tell
        };
        if self.journal.out(&taken.digest).is_some() {
            return;
        }
        taken.without_torn_line();
        if let Outcome::Issue(mut issue) = self.code(&taken, Reach::To100) {
            name.clone_into(&mut issue.line.input);
            self.issue(Kind::Early, None, *issue, turn);
        }
    }
}
