//! Levels that share their coded coordinate become one, in templates whose steps are
//! coarser than the rows of a profile.

use super::Field;
use crate::model::finding::{Finding, Place, finding};
use crate::model::{At, Level, Roles};

/// Whether a coordinate is coarser than 1 Pa or 0.1 gpm.
pub(super) fn coarse(field: &Field) -> bool {
    match field.descriptor.y() {
        4 => field.scale < 0,
        _ => field.scale < 1,
    }
}

/// A level as it is, or one that took in others of its coded coordinate.
pub(super) enum Thinned<'a> {
    Own(&'a Level),
    United(Box<Level>),
}

impl Thinned<'_> {
    pub(super) fn as_ref(&self) -> &Level {
        match self {
            Self::Own(level) => level,
            Self::United(level) => level,
        }
    }

    /// Whether the level has a role.
    pub(super) fn is_flagged(&self) -> bool {
        !self.as_ref().roles.is_empty()
    }

    /// Takes in another level. The bits of the flag table fall with rank, as levels
    /// of one coded pressure give way in the text code (surface, standard,
    /// tropopause, maximum wind …): the one whose roles weigh more gives the values.
    pub(super) fn unite(&mut self, other: &Level, findings: &mut Vec<Finding>) {
        let own = self.as_ref();
        let weight = |l: &Level| (l.roles & Roles::FLAG_TABLE).bits();
        if weight(other) == 0 {
            return;
        }
        let (first, second) = if weight(own) >= weight(other) {
            (own, other)
        } else {
            (other, own)
        };
        let mut united = first.clone();
        united.roles |= second.roles;
        let (row, less) = (&mut united.row, &second.row);
        row.height_gpm = row.height_gpm.or(less.height_gpm);
        if row.temperature_c.is_none() {
            row.temperature_c = less.temperature_c;
            row.dewpoint_c = less.dewpoint_c;
            row.humidity_pct = less.humidity_pct;
        }
        row.wind = row.wind.or(less.wind);
        row.place = row.place.or(less.place);
        row.time_s = row.time_s.or(less.time_s);
        if weight(own) > 0 {
            let at = first
                .row
                .pressure_hpa
                .map_or(Place::default(), Place::pressure);
            findings.push(finding!(
                LevelsUnited,
                at,
                first = first.roles,
                second = second.roles
            ));
        }
        if united.at == At::Interpolated && matches!(second.at, At::Row(_)) {
            united.at = second.at;
        }
        *self = Self::United(Box::new(united));
    }
}
