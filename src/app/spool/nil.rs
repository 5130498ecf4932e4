//! The deadline: a standard time without a report gets its NIL.

use super::clock::{self, civil, seconds};
use super::flight;
use super::journal::Kind;
use super::{Spool, Turn};
use crate::issue::folder;
use crate::issue::folder::Name;
use crate::model::finding::Severity;

/// How long after its deadline a NIL still goes out, s: later nobody waits for it.
const LATEST_S: i64 = 6 * 3600;

pub(super) const DAY_S: i64 = 24 * 3600;

impl Spool<'_> {
    /// Issues NIL for every standard time that is due and has no report.
    pub(super) fn nil(&mut self, turn: &mut Turn) {
        let now = self.clock.now();
        let Some(limit_min) = self.schedule.limit_min.filter(|_| self.schedule.nil) else {
            return;
        };
        if !self.watch.is_trusted(now) {
            return;
        }
        let hours = self.schedule.hours.clone();
        let midnight = now.wall_s.div_euclid(DAY_S) * DAY_S;
        for day_s in [midnight - DAY_S, midnight] {
            for hour in &hours {
                let standard_s = day_s + i64::from(*hour) * 3600;
                let due_s = standard_s + i64::from(limit_min) * 60;
                let since = now.wall_s - due_s;
                // One that began before the spool did is not the spool's.
                let ours = standard_s >= self.journal.begun_s;
                if ours && (0..LATEST_S).contains(&since) && !self.settled.contains(&standard_s) {
                    self.nil_for(standard_s, turn);
                }
            }
        }
    }

    fn nil_for(&mut self, standard_s: i64, turn: &mut Turn) {
        let Some(standard) = civil(standard_s) else {
            return;
        };
        match flight::nil(&self.setup, standard) {
            Ok(issue) => {
                if self.has_report(&issue.name) {
                    // Looked up once; a report is never taken back.
                    self.settled.insert(standard_s);
                } else {
                    self.issue(Kind::Nil, None, issue, turn);
                }
            }
            Err(why) => {
                self.settled.insert(standard_s);
                let time = clock::shown(standard_s);
                let text = format!("NIL for {time} cannot be made: {why}");
                self.tell(Severity::Error, "no-nil", text.clone(), None, None);
                self.no_nil.push(text);
            }
        }
    }

    /// Whether anything was issued for the station and time, NIL too.
    pub(super) fn has_report(&self, name: &Name) -> bool {
        debug_assert!(name.standard().and_then(seconds).is_some());
        name.of_the_same_time()
            .any(|name| self.journal.has(&name) || folder::first(&self.setup.out, &name).is_some())
    }
}
