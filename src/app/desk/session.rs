//! What one operator is working on: the sheet as edited, the profile, and the way
//! back.

use std::collections::VecDeque;
use std::fs::{self, File};
use std::io::Read as _;
use std::path::PathBuf;
use std::sync::LazyLock;
use std::time::SystemTime;

use itertools::Itertools as _;

use super::Setup;
use super::fields::Fields;
use crate::input::sheet::{Draft, Key, MAX_SHEET_BYTES, SheetError, Source, keys_of};
use crate::issue::folder;
use crate::issue::folder::{IssueKind, Issued, Name};
use crate::issue::outputs;
use crate::issue::outputs::{Output, SHEET, Wanted};
use crate::model::{Form, Reach};

/// The longest profile that is taken, octets.
pub(super) const MAX_PROFILE: usize = 64 << 20;

/// The most steps that can be taken back.
const MAX_HISTORY: usize = 200;

/// The most revisions of which it is known what a page showed.
const MAX_REVISIONS: usize = 200;

/// The most files of the watched folder, and issues, that are shown.
const MAX_LISTED: usize = 100;

/// The longest name of a profile, characters.
const MAX_NAME: usize = 100;

/// The tables whose keys stand in fields.
const TABLES: [&str; 11] = [
    "station",
    "flight",
    "surface",
    "clouds",
    "equipment",
    "balloon",
    "coding",
    "profile",
    "bulletin",
    "bufr",
    "wis2",
];

/// Every key that has a field.
static KEYS: LazyLock<Vec<Key>> =
    LazyLock::new(|| TABLES.iter().flat_map(|table| keys_of(table)).collect());

/// What can be edited, and taken back.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct State {
    pub(super) draft: Draft,
    /// The form; `None`: that of the profile, or TEMP.
    pub(super) form: Option<Form>,
    pub(super) reach: Reach,
}

/// A profile in memory.
pub(super) struct Profile {
    pub(super) name: String,
    pub(super) bytes: Vec<u8>,
    /// The file of the watched folder that it is from.
    file: Option<PathBuf>,
}

/// What the fields of a page show.
#[derive(Clone, PartialEq)]
struct Shown {
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

/// What is to be said after an action.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Notice {
    pub(super) good: bool,
    pub(super) lines: Vec<String>,
}

/// The operator's work.
pub(super) struct Session {
    pub(super) setup: Setup,
    pub(super) clock: fn() -> i64,
    first: Draft,
    pub(super) state: State,
    pub(super) profile: Option<Profile>,
    pub(super) wanted: Wanted,
    history: Vec<(String, State)>,
    /// What the last pages showed, the newest last.
    shown: VecDeque<Shown>,
    /// The number of the newest.
    pub(super) revision: usize,
    /// The pressure that was picked in the table of levels.
    pub(super) pick: String,
    pub(super) notice: Option<Notice>,
    /// What the page shows, so that it can be chosen by number.
    pub(super) issued: Vec<Issued>,
    pub(super) files: Vec<String>,
}

impl Session {
    /// A session that begins with the sheets of the setup.
    pub(super) fn new(setup: Setup, clock: fn() -> i64) -> Result<Self, SheetError> {
        let sheets = setup.sheets.iter();
        let sheets = sheets.map(|(name, text)| Source { name, text });
        let first = Draft::merged(&sheets.collect::<Vec<_>>())?;
        Ok(Self {
            wanted: setup.wanted.clone(),
            state: State {
                draft: first.clone(),
                form: None,
                reach: Reach::Whole,
            },
            first,
            setup,
            clock,
            profile: None,
            history: Vec::new(),
            shown: VecDeque::new(),
            revision: 0,
            pick: String::new(),
            notice: None,
            issued: Vec::new(),
            files: Vec::new(),
        })
    }

    pub(super) fn reported(&mut self, good: bool, lines: Vec<String>) {
        self.notice = Some(Notice { good, lines });
    }

    /// Something was done, in a line.
    pub(super) fn done(&mut self, line: impl Into<String>) {
        self.reported(true, vec![line.into()]);
    }

    /// Something was refused, in lines.
    pub(super) fn refused(&mut self, text: impl ToString) {
        let text = text.to_string();
        self.reported(false, text.lines().map(str::to_owned).collect());
    }

    /// Keeps the state before a change; changes of one field after the other are one
    /// step.
    pub(super) fn keep(&mut self, label: String, before: State) {
        if before == self.state {
            return;
        }
        let same = self.history.last().is_some_and(|(last, _)| *last == label);
        if same && label.contains('.') {
            return;
        }
        if self.history.len() == MAX_HISTORY {
            self.history.remove(0);
        }
        self.history.push((label, before));
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
        let (mut changed, mut conflicts) = (Vec::new(), Vec::new());
        let mut change = |name: &str, posted: &str, now: &str, showed: Option<&str>| {
            let change = Change::of(posted, now, showed);
            if let Change::Conflict = change {
                let what = |value: &str| match value {
                    "" => "nothing".to_owned(),
                    value => format!("`{value}`"),
                };
                conflicts.push(format!(
                    "{name}: {} was not taken, because another page has changed it to {} meanwhile",
                    what(posted),
                    what(now)
                ));
            }
            matches!(change, Change::Take)
        };
        for key in KEYS.iter().filter(|key| fields.has(&key.name)) {
            let (name, posted) = (key.name.as_str(), fields.get(&key.name));
            let now = self.state.draft.get(name);
            let was = showed.as_ref().map(|shown| shown.state.draft.get(name));
            if change(name, posted, &now, was.as_deref()) && self.state.draft.set(key, posted) {
                changed.push(name);
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
            [one] => (*one).to_owned(),
            [first, rest @ ..] => format!("{first} and {} more fields", rest.len()),
        };
        self.keep(label, before);
        let taken = conflicts.is_empty();
        if !taken {
            let what = "Look at what stands there now; enter a value again to replace it.";
            conflicts.push(what.to_owned());
            self.reported(false, conflicts);
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
        self.state = State {
            draft: self.first.clone(),
            form: None,
            reach: Reach::Whole,
        };
        self.profile = None;
        self.keep("a new flight".to_owned(), before);
        self.done("a new flight: the sheet is that of the start, and no profile is loaded");
    }

    /// Takes a profile into memory under the last piece of a name.
    pub(super) fn load(&mut self, name: &str, bytes: Vec<u8>) {
        let name = name.rsplit(['/', '\\']).next().unwrap_or_default();
        let plain = name.chars().filter(|c| !c.is_control()).take(MAX_NAME);
        let mut name: String = plain.collect();
        if name.is_empty() {
            name = "profile".to_owned();
        }
        self.done(format!("profile {name}, {} octets", bytes.len()));
        self.profile = Some(Profile {
            name,
            bytes,
            file: None,
        });
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

    /// Loads a file of the watched folder by its number in the list shown.
    pub(super) fn load_file(&mut self, number: &str) {
        let name = number.parse().ok().and_then(|k: usize| self.files.get(k));
        let found = self.setup.watched.as_ref().zip(name.cloned());
        let Some((folder, name)) = found else {
            self.refused("no such file in the list");
            return;
        };
        let path = folder.join(&name);
        match read_file(&path) {
            Ok(bytes) => {
                self.load(&name, bytes);
                if let Some(profile) = &mut self.profile {
                    profile.file = Some(path);
                }
            }
            Err(error) => self.refused(format!("{name}: {error}")),
        }
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
        };
        self.keep(format!("{name} opened again"), before);
        let of = outputs::profile_of(&text);
        let wanted = of.filter(|of| self.profile.as_ref().is_none_or(|p| p.name != *of));
        self.done(match wanted {
            Some(profile) => {
                format!("the sheet of {name} is open; now load its profile, {profile}")
            }
            None => format!("the sheet of {name} is open"),
        });
    }

    /// The sheet as it would be saved: what `encode` is given.
    pub(super) fn sheet_text(&self) -> String {
        let profile = self.profile.as_ref().map(|profile| profile.name.as_str());
        outputs::sheet_text(&self.state.draft, profile)
    }
}

impl Profile {
    /// Whether its file still holds what was loaded of it.
    pub(super) fn is_current(&self) -> Result<(), String> {
        let Some(path) = &self.file else {
            return Ok(());
        };
        let name = &self.name;
        match read_file(path) {
            Ok(now) if now == self.bytes => Ok(()),
            Ok(now) => Err(format!(
                "{name} has changed since it was loaded ({} octets then, {} now); load it again",
                self.bytes.len(),
                now.len()
            )),
            Err(why) => Err(format!(
                "{name} can no longer be read in the watched folder ({why}); load it again"
            )),
        }
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

/// A file of at most [`MAX_PROFILE`] octets, no link.
fn read_file(path: &PathBuf) -> Result<Vec<u8>, String> {
    let about = fs::symlink_metadata(path).map_err(|e| e.to_string())?;
    if !about.is_file() {
        return Err("no plain file".to_owned());
    }
    let mut bytes = Vec::new();
    let limit = u64::try_from(MAX_PROFILE).unwrap_or(u64::MAX);
    let read = File::open(path).and_then(|f| f.take(limit + 1).read_to_end(&mut bytes));
    read.map_err(|e| e.to_string())?;
    if bytes.len() > MAX_PROFILE {
        return Err(format!("more than {MAX_PROFILE} octets"));
    }
    Ok(bytes)
}
