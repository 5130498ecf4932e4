//! Where issues stand on their way to the service. The hand-over itself is no part of the
//! desk: this is the one place that asks for its state.

use std::path::Path;
#[cfg(feature = "spool")]
use std::path::PathBuf;
use std::time::SystemTime;

#[cfg(feature = "spool")]
use crate::app::spool::Machine;
#[cfg(feature = "spool")]
use crate::app::spool::handover::{
    Delivery, DeliveryState, deliveries, is_being_marked, is_running, mark, state_files,
};
#[cfg(feature = "spool")]
use crate::input::sheet::Source;
use crate::issue::folder::Name;

/// What is shown of an issue that no target is known of.
const NOT_SENT: &str = "not sent yet";

/// Where the issues of a folder stand.
pub(super) struct States {
    /// Every issue on its way to a target, or why that is not known.
    #[cfg(feature = "spool")]
    deliveries: Result<Vec<Delivery>, String>,
    /// Whether a process hands them over.
    #[cfg(feature = "spool")]
    running: bool,
    #[cfg(feature = "spool")]
    out: PathBuf,
}

/// What the states depend on: the same again gives the same states.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Stamp(Vec<(u64, Option<SystemTime>)>, bool);

#[cfg(feature = "spool")]
impl States {
    /// The states of the issues of a folder.
    pub(super) fn read(out: &Path) -> Self {
        Self {
            deliveries: deliveries(out).map_err(|error| error.to_string()),
            running: is_running(out),
            out: out.to_owned(),
        }
    }

    /// What the states depend on.
    pub(super) fn stamp(out: &Path) -> Stamp {
        let files = state_files(out)
            .map(std::fs::metadata)
            .into_iter()
            .flatten();
        let stamps = files.map(|about| (about.len(), about.modified().ok()));
        Stamp(stamps.collect(), is_running(out))
    }

    /// Whether an issue can be marked as handed over by other means: some target waits
    /// for it, or nothing is known of it.
    pub(super) fn can_mark(&self, name: &Name) -> bool {
        let Ok(all) = &self.deliveries else {
            return false;
        };
        let name_text = name.to_string();
        let mut own = all.iter().filter(|one| one.issue == name_text).peekable();
        let waits = own.peek().is_none() || own.any(|one| one.state == DeliveryState::Waiting);
        waits && !is_being_marked(&self.out, name)
    }

    /// Marks an issue as handed over by other means.
    pub(super) fn mark(out: &Path, name: &Name, sheets: &[(String, String)]) -> Result<(), String> {
        let sources = sheets.iter().map(|(name, text)| Source { name, text });
        let sources: Vec<Source<'_>> = sources.collect();
        mark(out, name, &sources, &Machine::default()).map_err(|error| error.to_string())
    }

    /// How far an issue has come, in words: a line for each target.
    pub(super) fn of(&self, issue: &Name) -> Vec<String> {
        let all = match &self.deliveries {
            Ok(all) => all,
            Err(why) => return vec![format!("state not known: {why}")],
        };
        let name = issue.to_string();
        let own = all.iter().filter(|one| one.issue == name);
        let mut lines: Vec<String> = own.clone().map(ToString::to_string).collect();
        let waits = own.clone().any(|one| one.state == DeliveryState::Waiting);
        if waits && !self.running {
            lines.push("no process hands over now".to_owned());
        }
        if is_being_marked(&self.out, issue) {
            lines.push(
                "marked as handed over; to be taken up by the process that hands over".to_owned(),
            );
        }
        if lines.is_empty() {
            lines.push(NOT_SENT.to_owned());
        }
        lines
    }
}

#[cfg(not(feature = "spool"))]
impl States {
    pub(super) fn read(_: &Path) -> Self {
        Self {}
    }

    pub(super) fn stamp(_: &Path) -> Stamp {
        Stamp::default()
    }

    pub(super) fn can_mark(&self, _: &Name) -> bool {
        false
    }

    pub(super) fn mark(_: &Path, _: &Name, _: &[(String, String)]) -> Result<(), String> {
        Err("this build does not hand over; use a build with the feature `spool`".to_owned())
    }

    pub(super) fn of(&self, _: &Name) -> Vec<String> {
        vec![NOT_SENT.to_owned()]
    }
}

#[cfg(all(test, feature = "spool"))]
mod tests {
    use super::*;

    #[test]
    fn the_states_are_those_of_the_journal() {
        let out = tempfile::tempdir().unwrap();
        let name = Name::parse("99007_203101151200_temp").unwrap();
        let of = || States::read(out.path()).of(&name);
        assert_eq!(of(), [NOT_SENT]);
        let folder = out.path().join("handover");
        std::fs::create_dir(&folder).unwrap();
        let journal = folder.join("journal.jsonl");
        std::fs::write(
            &journal,
            r#"{"at_s":1926590400,"target":"hub","issue":"99007_203101151200_temp","step":"queued","files":["a.txt"],"issued_s":1926590400,"due_s":1926594000}
"#,
        )
        .unwrap();
        assert_eq!(of(), ["hub: waiting", "no process hands over now"]);
        assert!(States::read(out.path()).can_mark(&name));
        std::fs::create_dir(out.path().join(name.to_string())).unwrap();
        let before = States::stamp(out.path());
        States::mark(out.path(), &name, &[]).unwrap();
        assert!(before != States::stamp(out.path()));
        assert!(
            of()[0].starts_with("hub: marked as handed over at "),
            "{:?}",
            of()
        );
        assert!(!States::read(out.path()).can_mark(&name));
        std::fs::write(&journal, "no line\n").unwrap();
        assert!(of().iter().all(|line| line.starts_with("state not known")));
        assert!(!States::read(out.path()).can_mark(&name));
        // No target at all.
        std::fs::remove_file(&journal).unwrap();
        assert!(States::read(out.path()).can_mark(&name));
        States::mark(out.path(), &name, &[]).unwrap();
        assert!(
            of()[0].starts_with("other means: marked as handed over at "),
            "{:?}",
            of()
        );
    }
}
