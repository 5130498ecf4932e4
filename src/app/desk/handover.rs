//! Where issues stand on their way to the service. The hand-over itself is no part of the
//! desk: this is the one place that asks for its state.

use std::path::Path;

#[cfg(feature = "spool")]
use crate::app::spool::handover::{Delivery, DeliveryState, deliveries, is_running};
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
}

#[cfg(feature = "spool")]
impl States {
    /// The states of the issues of a folder.
    pub(super) fn read(out: &Path) -> Self {
        Self {
            deliveries: deliveries(out).map_err(|error| error.to_string()),
            running: is_running(out),
        }
    }

    /// How far an issue has come, in words: a line for each target.
    pub(super) fn of(&self, name: &Name) -> Vec<String> {
        let all = match &self.deliveries {
            Ok(all) => all,
            Err(why) => return vec![format!("state not known: {why}")],
        };
        let name = name.to_string();
        let own = all.iter().filter(|one| one.issue == name);
        let mut lines: Vec<String> = own.clone().map(ToString::to_string).collect();
        let waits = own.clone().any(|one| one.state == DeliveryState::Waiting);
        if waits && !self.running {
            lines.push("no process hands over now".to_owned());
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
        std::fs::write(&journal, "no line\n").unwrap();
        assert!(of().iter().all(|line| line.starts_with("state not known")));
    }
}
