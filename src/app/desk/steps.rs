//! What a session does beside editing: it shows itself, is saved and found again, and
//! takes profiles.

use std::path::PathBuf;
use std::sync::Arc;

use super::growth::Growth;
use super::profile::{Profile, read_file};
use super::saved::{Saved, saved_profile};
use super::session::{Basis, Looked, MAX_NAME, Offer, Session, State};
use super::view::View;
use super::{page, view};
use crate::input::sheet::Draft;
use crate::issue::outputs::Output;

impl Session {
    /// Saves the work where it has changed.
    fn save(&mut self) {
        let fresh = self.state == State::new(self.first.clone());
        let digest = view::digest(self, &self.sheet_text());
        let is_issued = self.last_issue.as_ref().is_some_and(|l| l.shown == digest);
        let (token, port) = self.access.clone();
        let profile = self.state.profile.clone();
        let mut saved = Saved {
            boot: self.boot.clone(),
            token,
            port,
            at_s: 0,
            revision: self.revision,
            sheet: self.state.draft.print(),
            form: self.state.form,
            reach: self.state.reach,
            outputs: self.wanted.iter().map(|o| o.name().to_owned()).collect(),
            profile: profile.as_deref().map(saved_profile),
            open: !fresh && !is_issued,
        };
        if self.last_saved.as_ref() == Some(&saved) {
            return;
        }
        self.last_saved = Some(saved.clone());
        saved.at_s = (self.clock)();
        self.saver.save(saved, profile);
    }

    /// Waits until the work is saved.
    pub(super) fn finish(&mut self) {
        self.saver.finish();
    }

    /// Continues the work of an earlier run.
    pub(super) fn resume(&mut self) {
        let Some(Offer { saved, profile }) = self.offer.take() else {
            self.refused("there is no saved work to continue");
            return;
        };
        let Some(draft) = Draft::printed(&saved.sheet) else {
            self.refused("the saved work cannot be read; enter it again");
            return;
        };
        let lost = saved.profile.as_ref().filter(|_| profile.is_none());
        let before = self.state.clone();
        self.state = State {
            draft,
            form: saved.form,
            reach: saved.reach,
            profile,
        };
        let outputs = saved.outputs.iter();
        self.wanted = outputs.filter_map(|name| Output::from_name(name)).collect();
        self.keep("saved work continued".to_owned(), before);
        match lost {
            None => self.done("the saved work is continued"),
            Some(lost) => self.refused(format!(
                "the saved work is continued, but its profile {} cannot be read; load it again",
                lost.name
            )),
        }
        self.forget();
    }

    /// Discards the work of an earlier run.
    pub(super) fn discard(&mut self) {
        self.offer = None;
        self.forget();
        self.done("the saved work is discarded");
    }

    fn forget(&self) {
        if let Some(store) = &self.store {
            store.forget();
        }
    }

    /// Meets a page of another run: where that run saved the work that is offered, the
    /// page goes on with it.
    pub(super) fn meet(&mut self, boot: &str) {
        let theirs = |offer: &Offer| offer.saved.boot == boot;
        if !boot.is_empty() && self.history.is_empty() && self.offer.as_ref().is_some_and(theirs) {
            let revision = self.offer.as_ref().map_or(0, |offer| offer.saved.revision);
            self.resume();
            self.shown.clear();
            self.revision = revision.saturating_sub(1);
            self.revise();
        }
    }

    /// Looks at the folders; whether anything is there that the page does not show.
    pub(super) fn look(&mut self) -> bool {
        self.list_files();
        self.list_issued();
        self.look_at_growth();
        let now = Some(Looked::at(self));
        let changed = self.looked != now;
        self.looked = now;
        changed
    }

    /// Looks at the folders and makes the parts of the page anew; with `whole` also the
    /// diagram and the levels, which take longest.
    pub(super) fn refresh(&mut self, whole: bool) -> View {
        self.look();
        self.revise();
        self.save();
        let basis = Basis::of(self);
        let view = view::view(self);
        let mut markup = page::light(&view, self);
        if whole && self.drawn.as_ref() != Some(&basis) {
            markup.extend(page::heavy(&view));
            self.drawn = Some(basis);
        }
        let values = self.values();
        self.parts.take(markup, values);
        view
    }

    /// Takes a profile into memory under the last piece of a name.
    pub(super) fn load(&mut self, name: &str, bytes: Vec<u8>) {
        let name = name.rsplit(['/', '\\']).next().unwrap_or_default();
        let plain = name.chars().filter(|c| !c.is_control()).take(MAX_NAME);
        let mut name: String = plain.collect();
        if name.is_empty() {
            name = "profile".to_owned();
        }
        self.take(Profile::new(name, bytes, None));
    }

    /// Takes a profile; one that cannot be read takes the place of none that can.
    fn take(&mut self, profile: Profile) {
        let before = self.state.clone();
        let had = view::reads(self);
        let line = format!("profile {}, {} bytes", profile.name, profile.bytes.len());
        let label = format!("profile {}", profile.name);
        self.state.profile = Some(Arc::new(profile));
        match view::fault_of_profile(self) {
            Some(why) if had => {
                self.state = before;
                let name = self.profile().map_or("", |profile| &profile.name);
                let why = format!("not loaded: {why}\n{name} stays loaded");
                self.refused(why);
            }
            _ => {
                self.growth = None;
                self.keep(label, before);
                self.done(line);
            }
        }
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
        self.load_path(name, path);
    }

    fn load_path(&mut self, name: String, path: PathBuf) {
        match read_file(&path) {
            Ok(bytes) => self.take(Profile::new(name, bytes, Some(path))),
            Err(error) => self.refused(format!("not loaded: {name}: {error}")),
        }
    }

    /// Loads the file of the profile again, which has grown.
    pub(super) fn load_again(&mut self) {
        let file = self
            .profile()
            .and_then(|one| Some((one.name.clone(), one.file.clone()?)));
        match file {
            Some((name, path)) => self.load_path(name, path),
            None => self.refused("the profile is from no file of the watched folder"),
        }
    }

    /// Looks whether the file of the profile has changed since it was loaded.
    fn look_at_growth(&mut self) {
        let Some(profile) = self.state.profile.clone() else {
            self.growth = None;
            return;
        };
        let known = self.growth.take();
        self.growth = profile
            .file
            .as_deref()
            .and_then(|path| Growth::look(&profile, path, known, &self.sheet_text()));
    }
}
