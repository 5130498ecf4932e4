//! What the rows of a file mean: times from release, heights above the sea,
//! humidity over water, positions from angles, winds and pressures where they can be computed.
//!
//! Each step looks at the raw rows and writes into a copy of them that is made
//! when something changes; what was done is reported.

mod angles;
mod flights;
mod geopotential;
mod misread;
mod over_ice;
pub(crate) mod pressures;
mod reference;
mod release;
mod sighting;
#[cfg(test)]
mod tests;
pub(crate) mod track;

pub(crate) use release::date_clock;

use std::borrow::Cow;

use super::{ProfileError, derive, ground_m};
use crate::model::finding::{Finding, Place};
use crate::model::raw::{RawProfile, RawRow};
use crate::model::{Context, Derivation, Form, StationKind};
use crate::physics::hydrostatic::standard_height_gpm;

/// Raw rows under preparation.
pub(super) struct Prepared<'a> {
    /// The rows.
    pub(super) raw: Cow<'a, RawProfile>,
    /// What was computed, in words.
    pub(super) derived: Vec<Derivation>,
    /// What is to be said.
    pub(super) findings: Vec<Finding>,
    /// What the sheet must settle before a report is made.
    pub(super) unsettled: Vec<Finding>,
    context: &'a Context,
    form: Form,
    /// Width of the window of winds from positions, s, where the sheet does not say it and
    /// the positions do.
    window_s: Option<f64>,
}

/// Makes rows of a file ready to be an ascent, a drop or a descent.
pub(super) fn prepare<'a>(
    form: Form,
    raw: &'a RawProfile,
    context: &'a Context,
) -> Result<Prepared<'a>, ProfileError> {
    let mut prepared = Prepared {
        raw: Cow::Borrowed(raw),
        derived: Vec::new(),
        findings: Vec::new(),
        unsettled: Vec::new(),
        context,
        form,
        window_s: None,
    };
    geopotential::as_given(&mut prepared);
    let heights = prepared.heights();
    flights::one(&mut prepared, &heights)?;
    super::in_time(raw)?;
    release::from_release(&mut prepared, &heights)?;
    reference::above_the_sea(&mut prepared)?;
    over_ice::over_water(&mut prepared);
    geopotential::hold(&mut prepared);
    angles::positions(&mut prepared)?;
    track::winds(&mut prepared);
    pressures::complete(&mut prepared);
    Ok(prepared)
}

impl Prepared<'_> {
    /// Whether a balloon is to rise in these rows.
    fn rises(&self) -> bool {
        self.context.station.kind != StationKind::Drop && self.form != Form::Descent
    }

    /// Height of each row by the one coordinate that more rows have: height, or
    /// pressure in the standard atmosphere. It serves to tell rising from falling.
    fn heights(&self) -> Vec<Option<f64>> {
        let latitude = self.context.station.latitude_deg;
        let rows = &self.raw.rows;
        let by_height = |r: &RawRow| derive::height_gpm(r, latitude);
        let by_pressure = |r: &RawRow| r.pressure_hpa.map(standard_height_gpm);
        let pressures = rows.iter().filter(|r| r.pressure_hpa.is_some()).count();
        let heights = rows.iter().filter(|r| by_height(r).is_some()).count();
        if pressures > heights {
            rows.iter().map(by_pressure).collect()
        } else {
            rows.iter().map(by_height).collect()
        }
    }

    /// The place of a row in the file.
    fn place(&self, row: usize) -> Place {
        let line = self.raw.rows.get(row).map_or(0, |r| r.line);
        Place::line(&self.raw.name, line)
    }

    fn file(&self) -> Place {
        Place::default().in_file(&self.raw.name)
    }

    /// Height of the release point, m.
    fn ground_m(&self) -> Option<f64> {
        ground_m(self.context)
    }
}
