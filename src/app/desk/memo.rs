//! What was read of a profile, so that it is read once.

use std::cell::RefCell;
use std::path::Path;
use std::sync::Arc;

use super::profile::Profile;
use crate::input;
use crate::input::{Contents, SourceError};
use crate::issue::folder::{Issued, Name};
use crate::issue::previous;
use crate::model::Reading;
use crate::verify::continuity::Previous;

/// What was read last of a profile: the sheet's other tables leave it as it is.
#[derive(Default)]
pub(super) struct Memo {
    last: RefCell<Option<Read>>,
    /// The last issues before another, by their names.
    previous: RefCell<(Vec<Name>, Vec<Previous>)>,
}

struct Read {
    profile: Arc<Profile>,
    reading: Reading,
    contents: Contents,
}

impl Memo {
    /// The contents of a profile, read where another was read last.
    pub(super) fn read(
        &self,
        profile: &Arc<Profile>,
        reading: Reading,
    ) -> Result<Contents, SourceError> {
        let mut last = self.last.borrow_mut();
        let same = |read: &&Read| Arc::ptr_eq(&read.profile, profile) && read.reading == reading;
        if let Some(read) = last.as_ref().filter(same) {
            return Ok(read.contents.clone());
        }
        let (bytes, name) = (&profile.bytes, &profile.name);
        let contents = input::read(bytes, name, input::detect(bytes), None, &reading)?;
        *last = Some(Read {
            profile: Arc::clone(profile),
            reading,
            contents: contents.clone(),
        });
        Ok(contents)
    }

    /// The last issues before one of that name, read where others were read last.
    pub(super) fn previous(&self, out: &Path, issued: &[Issued], own: &Name) -> Vec<Previous> {
        let names = previous::before(issued.iter().map(|one| &one.name), own);
        let mut last = self.previous.borrow_mut();
        if last.0 != names {
            let read = previous::read(out, &names);
            *last = (names, read);
        }
        last.1.clone()
    }
}
