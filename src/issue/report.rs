//! The one place where a report is made: what it is made of is checked first.

use itertools::Itertools as _;
use thiserror::Error;

use crate::input::sheet;
use crate::input::sheet::SheetError;
use crate::levels;
use crate::levels::{Levels, OutsideFlight};
use crate::model::{Context, Form, Noted, Profile, Reach, Report};
use crate::verify::rows::{RowFault, check_levels, check_rows};

/// Why no report is made.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum NotReported {
    /// No time of release.
    #[error(
        "flight.release: missing from the sheet; write release = \"2031-01-15T11:23:40Z\" under [flight]"
    )]
    NoRelease,
    /// Values that no sheet may have, a line each.
    #[error("{}", .0.faults().iter().join("\n"))]
    Context(SheetError),
    /// Rows or levels.
    #[error(transparent)]
    Rows(#[from] RowFault),
    /// An order.
    #[error(transparent)]
    Order(#[from] OutsideFlight),
}

/// Where a context comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Origin {
    /// Sheets, which were checked when they were read.
    Sheets,
    /// A program, which may put anything into it.
    Program,
}

/// Builds the report of a profile from the levels that were chosen.
///
/// Parts C and D are there only when something lies above 100 hPa. In TEMP
/// section 7 goes where the sheet says, section 8 into Part B; a sheet that says
/// nothing of clouds gives `/////` (with a finding).
///
/// A descent has no text, so no sections and no groups of the sheet.
/// [`Report::start`] says where it begins.
///
/// # Errors
/// A context that no sheet could give ([`sheet::check_context`]), rows that are no
/// profile ([`check_rows`]), levels out of order, an order that lies outside the
/// flight, no release time.
pub fn build(
    form: Form,
    profile: &Profile,
    levels: Levels,
    context: &Context,
    reach: Reach,
) -> Result<Noted<Report>, NotReported> {
    build_of(form, profile, levels, (context, Origin::Program), reach)
}

/// The same of a context that a sheet may have given.
pub(super) fn build_of(
    form: Form,
    profile: &Profile,
    levels: Levels,
    (context, origin): (&Context, Origin),
    reach: Reach,
) -> Result<Noted<Report>, NotReported> {
    let release = context.flight.release.ok_or(NotReported::NoRelease)?;
    if origin == Origin::Program {
        sheet::check_context(context).map_err(NotReported::Context)?;
    }
    check_rows(profile)?;
    check_levels(profile.axis, levels.levels.iter().map(|l| &l.row))?;
    if let Some(order) = levels::outside(&context.orders, profile, reach) {
        return Err(order.into());
    }
    Ok(levels::report::build(form, profile, levels, context, reach, release).into())
}
