//! A file with all that its reading has to know.

use netcdf_reader::{NcSliceInfo, NcVariable};

use crate::input::elements::known::{Known, shown};
use crate::input::netcdf::attributes;
use crate::input::netcdf::file::File;
use crate::input::netcdf::find;
use crate::input::netcdf::find::Candidate;
use crate::input::netcdf::layout::Layout;
use crate::input::netcdf::time;
use crate::input::netcdf::time::TimeUnit;
use crate::input::{By, SourceError};
use crate::model::Reading;

/// Most faults of values reported for one file.
pub(super) const MAX_FAULTS: usize = 20;

/// A variable that is a column, and how it is read.
pub(super) struct Chosen {
    pub(super) known: &'static Known,
    pub(super) at: usize,
    pub(super) by: By,
    pub(super) selection: NcSliceInfo,
}

/// A file, what its variables could be and how its profile lies.
pub(super) struct Reader<'a> {
    pub(super) file: &'a File<'a>,
    pub(super) candidates: Vec<Candidate>,
    pub(super) layout: Layout,
    pub(super) reading: &'a Reading,
}

impl<'a> Reader<'a> {
    /// Looks through a file.
    pub(super) fn new(
        file: &'a File<'a>,
        number: Option<usize>,
        reading: &'a Reading,
    ) -> Result<Self, SourceError> {
        let candidates = find::candidates(file, reading)?;
        let layout = Layout::of(file, &candidates, number)?;
        Ok(Self {
            file,
            candidates,
            layout,
            reading,
        })
    }

    /// The unit of a variable: what the sheet says, or its attribute.
    pub(super) fn unit(&self, known: &Known, at: usize) -> Option<String> {
        let given = self.reading.columns.get(known.name);
        let given = given.and_then(|g| g.unit.as_deref());
        given
            .map(|u| u.trim().to_owned())
            .or_else(|| self.attribute(at, "units"))
    }

    /// The unit of a time, in the calendar we all live in.
    pub(super) fn time_unit(&self, at: usize, unit: &str) -> Result<TimeUnit, SourceError> {
        let Some(parsed) = time::parse(unit) else {
            return self.file.fail(format!(
                "variable `{}`, attribute units: `{}` is no unit of time ({})",
                self.name(at),
                shown(unit),
                time::ALLOWED
            ));
        };
        let calendar = self
            .attribute(at, "calendar")
            .unwrap_or_default()
            .to_lowercase();
        let standard = matches!(calendar.as_str(), "" | "standard" | "gregorian");
        // Before 15 October 1582 the standard calendar is another one (CF 4.4.1).
        let early = parsed
            .epoch
            .is_some_and(|(e, _)| e.date() < jiff::civil::date(1582, 10, 15));
        let known = calendar == "proleptic_gregorian" || (standard && !early);
        if parsed.epoch.is_some() && !known {
            return self.file.fail(format!(
                "variable `{}`, attribute calendar: `{}` from `{}` on is not read (standard from 1582-10-15 on, or proleptic_gregorian)",
                self.name(at),
                if calendar.is_empty() { "standard" } else { calendar.as_str() },
                shown(unit)
            ));
        }
        Ok(parsed)
    }

    pub(super) fn variable(&self, at: usize) -> Option<&NcVariable> {
        self.file.variables().get(at)
    }

    /// An attribute of a variable as text.
    pub(super) fn attribute(&self, at: usize, name: &str) -> Option<String> {
        attributes::text(&self.variable(at)?.attributes, name).filter(|text| !text.is_empty())
    }

    /// The name of a variable, for messages.
    pub(super) fn name(&self, at: usize) -> String {
        self.variable(at)
            .map(|v| shown(&v.name))
            .unwrap_or_default()
    }
}
