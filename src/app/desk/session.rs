//! What one operator is working on: the sheet as edited, the profile, and the way
//! back.

use std::collections::VecDeque;
use std::fs;
use std::sync::Arc;
use std::time::SystemTime;

use itertools::Itertools as _;

use super::fields::Fields;
use super::growth::Growth;
use super::handover::{Stamp, States};
use super::labels::{keys, label_of};
use super::memo::Memo;
use super::parts::Parts;
use super::profile::Profile;
use super::saved::{Saved, Saver, Store};
use super::{Setup, typing};
use crate::input::sheet::{Draft, Key, MAX_SHEET_BYTES, SheetError, Source};
use crate::issue::folder;
use crate::issue::folder::{IssueKind, Issued, Name};
use crate::issue::outputs;
use crate::issue::outputs::{Output, SHEET, Wanted};
use crate::model::{Form, Reach};

/// How long token and port of a run are taken up again, seconds.
const MAX_ACCESS_S: i64 = 24 * 3600;

/// The most steps that can be taken back.
const MAX_HISTORY: usize = 200;

/// The most bytes of profiles that steps bring back.
const MAX_HELD: usize = 256 << 20;

/// The most revisions of which it is known what a page showed.
const MAX_REVISIONS: usize = 200;

/// The most files of the watched folder, and issues, that are shown.
const MAX_LISTED: usize = 100;

/// The longest name of a profile, characters.
pub(super) const MAX_NAME: usize = 100;

/// What can be edited, and taken back.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct State {
    pub(super) draft: Draft,
    /// The form; `None`: that of the profile, or TEMP.
    pub(super) form: Option<Form>,
    pub(super) reach: Reach,
    pub(super) profile: Option<Arc<Profile>>,
}

impl State {
    /// A flight of which nothing but the sheet is known.
    pub(super) fn new(draft: Draft) -> Self {
        Self {
            draft,
            form: None,
            reach: Reach::Whole,
            profile: None,
        }
    }
}

/// What the fields of a page show.
#[derive(Clone, PartialEq)]
pub(super) struct Shown {
    state: State,
    wanted: Wanted,
}

/// What becomes of a field that was posted.
enum Change {
    /// The page does not change it.
    None,
    /// The page changes it.
    Take,
    /// So has another page since this one was shown.
    Conflict,
}

impl Change {
    /// By what was posted, what stands there now, and what the page showed, where that
    /// is still known.
    fn of(posted: &str, now: &str, showed: Option<&str>) -> Self {
        if posted == now || showed == Some(posted) {
            Self::None
        } else if showed == Some(now) {
            Self::Take
        } else {
            Self::Conflict
        }
    }
}

/// Where on the page the answer to an action stands, beside its button.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Answered {
    /// At the head of the page.
    #[default]
    Head,
    Profile,
    Orders,
    Issue,
    Nil,
    Issued,
}

/// The answer to an action; it stays until it is read.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Notice {
    pub(super) good: bool,
    pub(super) lines: Vec<String>,
    pub(super) at: Answered,
}

/// What was issued last: a second press of the same button issues nothing more.
pub(super) struct LastIssue {
    pub(super) shown: String,
    pub(super) letters: String,
    pub(super) lines: Vec<String>,
}

/// The work of an earlier run.
pub(super) struct Offer {
    pub(super) saved: Saved,
    pub(super) profile: Option<Arc<Profile>>,
}

/// What a page depends on: the same again gives the same page.
#[derive(PartialEq)]
pub(super) struct Basis {
    state: State,
    issued: Vec<Issued>,
    /// Of the clock, minutes: lateness is shown in minutes.
    minute: i64,
}

impl Basis {
    pub(super) fn of(session: &Session) -> Self {
        Self {
            state: session.state.clone(),
            issued: session.issued.clone(),
            minute: (session.clock)().div_euclid(60),
        }
    }
}

/// What the folders and the clock have.
#[derive(PartialEq)]
pub(super) struct Looked {
    basis: Basis,
    files: Vec<String>,
    growth: Option<Growth>,
    unsaved: Option<String>,
    states: Stamp,
}

impl Looked {
    pub(super) fn at(session: &Session) -> Self {
        Self {
            basis: Basis::of(session),
            files: session.files.clone(),
            growth: session.growth.clone(),
            unsaved: session.unsaved(),
            states: States::stamp(&session.setup.out),
        }
    }
}

/// The operator's work.
pub(super) struct Session {
    pub(super) setup: Setup,
    pub(super) clock: fn() -> i64,
    /// The number of this run.
    pub(super) boot: String,
    /// Token and port of this run.
    pub(super) access: (String, u16),
    pub(super) first: Draft,
    pub(super) state: State,
    pub(super) wanted: Wanted,
    pub(super) history: Vec<(String, State)>,
    /// What the last pages showed, the newest last.
    pub(super) shown: VecDeque<Shown>,
    /// The number of the newest.
    pub(super) revision: usize,
    /// The pressure that was picked in the table of levels.
    pub(super) pick: String,
    pub(super) notice: Option<Notice>,
    /// Where the answer to the action that is under way stands.
    pub(super) answered: Answered,
    pub(super) last_issue: Option<LastIssue>,
    /// What the page shows, so that it can be chosen by number.
    pub(super) issued: Vec<Issued>,
    pub(super) files: Vec<String>,
    /// What the file of the profile has that was not there when it was loaded.
    pub(super) growth: Option<Growth>,
    /// The work of an earlier run, until it is continued or discarded.
    pub(super) offer: Option<Offer>,
    pub(super) store: Option<Arc<Store>>,
    pub(super) saver: Saver,
    /// What was saved last, but for the time.
    pub(super) last_saved: Option<Saved>,
    pub(super) parts: Parts,
    /// For what the diagram and the levels of the parts were made.
    pub(super) drawn: Option<Basis>,
    pub(super) memo: Memo,
    /// What was there when the folders were looked at last.
    pub(super) looked: Option<Looked>,
}

impl Session {
    /// A session that begins with the sheets of the setup.
    pub(super) fn new(setup: Setup, clock: fn() -> i64) -> Result<Self, SheetError> {
        let sheets = setup.sheets.iter();
        let sheets = sheets.map(|(name, text)| Source { name, text });
        let first = Draft::merged(&sheets.collect::<Vec<_>>())?;
        let (store, last, offer) = match Store::open(&setup.out) {
            Ok(store) => {
                let (last, offer) = store.find();
                (Ok(Arc::new(store)), last, offer)
            }
            Err(error) => (Err(error), None, None),
        };
        // Pages that are open find the desk again after a short while.
        let soon = |saved: &Saved| (0..MAX_ACCESS_S).contains(&clock().saturating_sub(saved.at_s));
        let access = last.filter(soon).map(|last| (last.token, last.port));
        Ok(Self {
            wanted: setup.wanted.clone(),
            state: State::new(first.clone()),
            first,
            setup,
            clock,
            boot: String::new(),
            access: access.unwrap_or_default(),
            history: Vec::new(),
            shown: VecDeque::new(),
            revision: 0,
            pick: String::new(),
            notice: None,
            answered: Answered::default(),
            last_issue: None,
            issued: Vec::new(),
            files: Vec::new(),
            growth: None,
            offer: offer.map(|(saved, profile)| Offer {
                saved,
                profile: profile.map(Arc::new),
            }),
            store: store.as_ref().ok().cloned(),
            saver: Saver::new(store),
            last_saved: None,
            parts: Parts::default(),
            drawn: None,
            memo: Memo::default(),
            looked: None,
        })
    }

    /// The profile that is loaded.
    pub(super) fn profile(&self) -> Option<&Profile> {
        self.state.profile.as_deref()
    }

    /// Why the work is not saved on the disk, where it is not.
    pub(super) fn unsaved(&self) -> Option<String> {
        self.saver.fault()
    }

    /// What the fields show, by their ids.
    pub(super) fn values(&self) -> Vec<(String, String)> {
        let shown = |key: &Key| {
            (
                key.name.clone(),
                typing::shown(&self.state.draft, &key.name),
            )
        };
        let mut values: Vec<(String, String)> = keys().iter().map(shown).collect();
        values.push(("form".to_owned(), form_word(self.state.form).to_owned()));
        values.push(("reach".to_owned(), reach_word(self.state.reach).to_owned()));
        values
    }

    pub(super) fn notify(&mut self, good: bool, lines: Vec<String>) {
        let at = self.answered;
        self.notice = Some(Notice { good, lines, at });
    }

    /// Something was done, in a line.
    pub(super) fn done(&mut self, line: impl Into<String>) {
        self.notify(true, vec![line.into()]);
    }

    /// Something was refused, in lines.
    pub(super) fn refused(&mut self, text: impl ToString) {
        let text = text.to_string();
        self.notify(false, text.lines().map(str::to_owned).collect());
    }

    /// Keeps the state before a change of fields; those of the same fields one after the
    /// other are one step.
    fn keep_field(&mut self, label: String, before: State) {
        if self.history.last().is_none_or(|(last, _)| *last != label) {
            self.keep(label, before);
        }
    }

    /// Keeps the state before a change.
    pub(super) fn keep(&mut self, label: String, before: State) {
        if before == self.state {
            return;
        }
        if self.history.len() == MAX_HISTORY {
            self.history.remove(0);
        }
        self.history.push((label, before));
        // What is too much goes, the oldest first.
        while self.held() > MAX_HELD && self.history.len() > 1 {
            self.history.remove(0);
        }
    }

    /// The bytes of the profiles of all steps.
    fn held(&self) -> usize {
        let profiles = self
            .history
            .iter()
            .filter_map(|(_, state)| state.profile.as_ref());
        let different = profiles.dedup_by(|a, b| Arc::ptr_eq(a, b));
        different.map(|profile| profile.bytes.len()).sum()
    }

    /// What would be taken back.
    pub(super) fn last_step(&self) -> Option<&str> {
        self.history.last().map(|(label, _)| label.as_str())
    }

    /// Counts a revision where something has changed since the last page.
    pub(super) fn revise(&mut self) {
        let now = Shown {
            state: self.state.clone(),
            wanted: self.wanted.clone(),
        };
        if self.shown.back() == Some(&now) {
            return;
        }
        if self.shown.len() == MAX_REVISIONS {
            self.shown.pop_front();
        }
        self.shown.push_back(now);
        self.revision += 1;
    }

    /// What the page of a request showed; `None`: too long ago, or it does not say.
    fn showed(&self, fields: &Fields) -> Option<&Shown> {
        let revision: usize = fields.get("revision").parse().ok()?;
        let back = self.revision.checked_sub(revision)?;
        let at = self.shown.len().checked_sub(back.checked_add(1)?)?;
        self.shown.get(at)
    }

    /// Takes what a page has changed since it was shown. False: another page has changed
    /// the same field; its value stays, and the notice says so.
    pub(super) fn apply(&mut self, fields: &Fields) -> bool {
        self.revise();
        let showed = self.showed(fields).cloned();
        let before = self.state.clone();
        let now_s = (self.clock)();
        let (mut changed, mut conflicts) = (Vec::new(), Vec::new());
        let mut change = |name: &str, posted: &str, now: &str, showed: Option<&str>| {
            let change = Change::of(posted, now, showed);
            if let Change::Conflict = change {
                let what = |value: &str| match value {
                    "" => "nothing".to_owned(),
                    value => format!("`{value}`"),
                };
                let name = label_of(name);
                conflicts.push(format!(
                    "{name}: {} was not taken, because another page has changed it to {} meanwhile",
                    what(posted),
                    what(now)
                ));
            }
            matches!(change, Change::Take)
        };
        for key in keys().iter().filter(|key| fields.has(&key.name)) {
            let name = key.name.as_str();
            let draft = &self.state.draft;
            let posted = typing::tidied(key, fields.get(name), draft, now_s);
            let now = typing::shown(draft, name);
            let was = showed.as_ref();
            let was = was.map(|shown| typing::shown(&shown.state.draft, name));
            if change(name, &posted, &now, was.as_deref()) {
                let posted = typing::stored(draft, name, &posted);
                if self.state.draft.set(key, &posted) {
                    changed.push(name);
                }
            }
        }
        if fields.has("form") {
            let posted = fields.get("form");
            let was = showed.as_ref().map(|shown| form_word(shown.state.form));
            if change("form", posted, form_word(self.state.form), was) {
                self.state.form = [Form::Temp, Form::Pilot, Form::Descent]
                    .into_iter()
                    .find(|form| form_word(Some(*form)) == posted);
            }
        }
        if fields.has("reach") {
            let posted = fields.get("reach");
            let was = showed.as_ref().map(|shown| reach_word(shown.state.reach));
            if change("reach", posted, reach_word(self.state.reach), was) {
                self.state.reach = match posted {
                    "to100" => Reach::To100,
                    _ => Reach::Whole,
                };
            }
        }
        if fields.has("outputs") {
            let posted: Wanted = fields.all("output").filter_map(Output::from_name).collect();
            let was = showed.as_ref().map(|shown| words(&shown.wanted));
            let (given, now) = (words(&posted), words(&self.wanted));
            if change("what goes out", &given, &now, was.as_deref()) {
                self.wanted = posted;
            }
        }
        let label = match changed.as_slice() {
            [] => "form of the report".to_owned(),
            [one] => label_of(one),
            [first, rest @ ..] => {
                let first = label_of(first);
                format!("{first} and {} more fields", rest.len())
            }
        };
        self.keep_field(label, before);
        let taken = conflicts.is_empty();
        if !taken {
            let what = "Look at what stands there now; enter a value again to replace it.";
            conflicts.push(what.to_owned());
            self.notify(false, conflicts);
        }
        taken
    }

    /// Takes an order back, by its number in the list that the page showed.
    pub(super) fn take_back(&mut self, fields: &Fields) {
        let before = self.state.clone();
        let parts = fields.get("which").split_once(' ');
        let same = |table: &str| {
            let showed = self.showed(fields).map(|shown| &shown.state.draft);
            showed.is_some_and(|draft| draft.orders(table) == before.draft.orders(table))
        };
        if parts.is_some_and(|(table, _)| !same(table)) {
            let what = "another page has changed the orders meanwhile; look at the list and take back again";
            self.refused(what);
            return;
        }
        let taken = parts.is_some_and(|(table, index)| {
            let index = index.parse().ok();
            index.is_some_and(|index| self.state.draft.take_back(table, index))
        });
        if taken {
            self.keep("an order taken back".to_owned(), before);
            self.done("the order is taken back");
        } else {
            self.refused("no such order");
        }
    }

    /// One step back.
    pub(super) fn undo(&mut self) {
        match self.history.pop() {
            Some((label, state)) => {
                self.state = state;
                self.done(format!("taken back: {label}"));
            }
            None => self.refused("there is nothing to take back"),
        }
    }

    /// Back to the sheets that were given at the start, for another flight.
    pub(super) fn anew(&mut self) {
        let before = self.state.clone();
        self.state = State::new(self.first.clone());
        self.keep("a new flight".to_owned(), before);
        self.done("a new flight: the sheet is that of the start, and no profile is loaded");
    }

    /// Lists the watched folder anew, the newest file first.
    pub(super) fn list_files(&mut self) {
        let Some(folder) = &self.setup.watched else {
            return;
        };
        let entries = fs::read_dir(folder).into_iter().flatten().flatten();
        let mut all: Vec<(SystemTime, String)> = entries
            .filter_map(|entry| {
                let name = entry.file_name().into_string().ok()?;
                let about = entry.metadata().ok()?;
                let seen = about.is_file() && !name.starts_with('.');
                seen.then_some((about.modified().ok()?, name))
            })
            .collect();
        all.sort_by(|a, b| (b.0, &a.1).cmp(&(a.0, &b.1)));
        let names = all.into_iter().map(|(_, name)| name);
        self.files = names.take(MAX_LISTED).collect();
    }

    /// Lists the issues anew.
    pub(super) fn list_issued(&mut self) {
        self.issued = folder::issued(&self.setup.out, MAX_LISTED).unwrap_or_default();
    }

    /// The issue of a number in the list shown.
    pub(super) fn issue_of(&self, number: &str) -> Option<&Name> {
        let issue = self.issued.get(number.parse::<usize>().ok()?)?;
        Some(&issue.name)
    }

    /// Takes the sheet of an issue, to look at it again or to correct it.
    pub(super) fn reopen(&mut self, number: &str) {
        let Some(name) = self.issue_of(number).cloned() else {
            self.refused("no such issue in the list");
            return;
        };
        let read = folder::file(&self.setup.out, &name, SHEET);
        let octets = match read {
            Ok(Some(octets)) if octets.len() <= MAX_SHEET_BYTES => octets,
            Ok(_) => {
                self.refused(format!(
                    "{name}: there is no {SHEET} in this issue; only those of desk and spool have one"
                ));
                return;
            }
            Err(error) => return self.refused(error),
        };
        let text = String::from_utf8_lossy(&octets).into_owned();
        let source = Source {
            name: SHEET,
            text: &text,
        };
        let draft = match Draft::merged(&[source]) {
            Ok(draft) => draft,
            Err(error) => return self.refused(error.faults().iter().join("\n")),
        };
        let before = self.state.clone();
        self.state = State {
            draft,
            form: Some(name.form()),
            reach: match name.kind() {
                IssueKind::Early => Reach::To100,
                IssueKind::Whole | IssueKind::Nil => Reach::Whole,
            },
            profile: before.profile.clone(),
        };
        self.keep(format!("{name} opened again"), before);
        let of = outputs::profile_of(&text);
        let wanted = of.filter(|of| self.profile().is_none_or(|p| p.name != *of));
        self.done(match wanted {
            Some(profile) => {
                format!("the sheet of {name} is open; now load its profile, {profile}")
            }
            None => format!("the sheet of {name} is open"),
        });
    }

    /// The sheet as it would be saved: what `encode` is given.
    pub(super) fn sheet_text(&self) -> String {
        let profile = self.profile().map(|profile| profile.name.as_str());
        outputs::sheet_text(&self.state.draft, profile)
    }
}

/// The form as its field has it.
fn form_word(form: Option<Form>) -> &'static str {
    match form {
        None => "",
        Some(Form::Temp) => "temp",
        Some(Form::Pilot) => "pilot",
        Some(Form::Descent) => "descent",
    }
}

/// The reach as its field has it.
fn reach_word(reach: Reach) -> &'static str {
    match reach {
        Reach::Whole => "whole",
        Reach::To100 => "to100",
    }
}

/// Outputs in words.
fn words(wanted: &Wanted) -> String {
    let names: Vec<&str> = wanted.iter().map(|output| output.name()).collect();
    names.join(", ")
}
