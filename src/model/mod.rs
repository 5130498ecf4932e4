//! The data every stage speaks of: context, rows, profile, levels, report.
//!
//! It holds no rule. Values are unrounded; missing is `None`.

mod catalogue;
mod context;
mod dated;
pub mod fidelity;
pub mod finding;
mod form;
mod ground_check;
mod handover;
mod identity;
mod level;
mod noted;
mod practice;
mod profile;
mod quality;
pub mod quantity;
pub mod raw;
mod reading;
mod regional;
mod report;
mod row;
mod rule;
#[cfg(test)]
pub(crate) mod schema;
mod severity;
pub(crate) mod shape;
mod significance;
mod station;
pub(crate) mod utc;

pub use context::*;
pub use dated::{Dated, NotDated};
pub use finding::{Code, Finding};
pub use form::{Form, Part};
pub use ground_check::{GroundCheck, GroundCheckResult, GroundDifference, GroundQuantity};
pub use handover::{FileNames, MailSecurity, Means, Sent, Target, TargetKind, Upload};
pub use identity::{CallSign, InvalidValue, WmoNumber};
pub use level::{At, Level, MaxWind, MissingLayer, Shear};
pub use noted::Noted;
pub(crate) use practice::first_hours;
pub use practice::{
    COLUMNS as PRACTICE_COLUMNS, GroupRule, Need, PRACTICE_RULES, Practice, PracticeColumn,
    PracticeError, PracticeRow, PracticeRule, PracticeTable, PracticeUnit, Standing, Template,
    TemplateField, TemplateLevel, TemplatePiece, TemplateRounding, TemplateValue,
};
pub use profile::{Axis, Derivation, Motion, Profile};
pub use quality::{Qualities, Quality};
pub use reading::{ColumnSource, Encoding, Reading};
pub use regional::{DoubtfulLayer, Extrapolated, LowWind, Regional};
pub use report::{
    Departure, DepartureKind, Departures, LostLevel, PartContent, Reach, Report, Resolution, Start,
    When,
};
pub use row::{Position, Row, Wind};
pub use rule::{LayerEnd, LayerKind, Rule, Significant, SurfaceFrom};
pub use significance::Roles;
pub use station::{Station, StationKind};
