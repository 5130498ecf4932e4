//! The last issues of a station before another.

use std::fs;
use std::path::Path;

use super::folder::{IssueKind, Name};
use super::sent;
use crate::model::{Form, When};
use crate::verify::continuity::{MOST, Previous, REACH_H};

/// The issues among names that come before another and are near enough to be compared
/// with it, the latest first; those of one standard time stand together, corrections with
/// them.
#[must_use]
pub fn before<'a>(names: impl IntoIterator<Item = &'a Name>, own: &Name) -> Vec<Name> {
    let hours = |name: &Name| {
        let span = own.standard()?.duration_since(name.standard()?);
        Some(span.as_secs_f64() / 3600.0)
    };
    let is_descent = |name: &Name| name.form() == Form::Descent;
    let mut found: Vec<Name> = names
        .into_iter()
        .filter(|name| name.id() == own.id() && !name.is_nil())
        .filter(|name| is_descent(name) == is_descent(own))
        .filter(|name| hours(name).is_some_and(|hours| hours > 0.0 && hours <= REACH_H))
        .cloned()
        .collect();
    found.sort_by_key(|name| (std::cmp::Reverse(name.standard()), name.to_string()));
    found
}

/// Reads the reports of such issues: of each standard time one, the whole report where it
/// is there, with its corrections. What cannot be read is not compared.
#[must_use]
pub fn read(out: &Path, names: &[Name]) -> Vec<Previous> {
    let mut found: Vec<Previous> = Vec::new();
    let mut times = Vec::new();
    for name in names {
        if found.len() == MOST {
            break;
        }
        if times.contains(&name.standard()) {
            continue;
        }
        times.push(name.standard());
        let same = names.iter().filter(|one| one.standard() == name.standard());
        let whole = same.clone().find(|one| one.kind() == IssueKind::Whole);
        let name = whole.unwrap_or(name).with(None);
        if let Ok(Some(mut earlier)) = sent::earlier(out, &name) {
            // A text alone has day and hour of the release.
            if let Some(standard) = name.standard() {
                earlier.report.when = When::Full {
                    release: standard,
                    standard,
                };
            }
            found.push(Previous {
                name: earlier.name,
                report: earlier.report,
            });
        }
    }
    found
}

/// The last issues of a folder before one of that name; none where the folder cannot be
/// read.
#[must_use]
pub fn in_folder(out: &Path, own: &Name) -> Vec<Previous> {
    let entries = fs::read_dir(out).into_iter().flatten().flatten();
    let names: Vec<Name> = entries
        .filter_map(|entry| Name::parse(entry.file_name().to_str()?))
        .collect();
    read(out, &before(&names, own))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of one station, within 36 h, no NIL, the latest first.
    #[test]
    fn the_last_issues_of_a_station() {
        let name = |text: &str| Name::parse(text).into_iter();
        let all = [
            "99011_203101150000_temp",
            "99011_203101150000_temp_CCA",
            "99011_203101141200_temp-to100",
            "99011_203101140000_pilot",
            "99011_203101131800_temp",
            "99011_203101150600_temp-nil",
            "99011_203101150000_descent",
            "99012_203101150000_temp",
            "99011_203101151200_temp",
            "99011_203101160000_temp",
        ];
        let all: Vec<Name> = all.into_iter().flat_map(name).collect();
        let found: Vec<String> = name("99011_203101151200_temp")
            .flat_map(|own| before(&all, &own))
            .map(|name| name.to_string())
            .collect();
        assert_eq!(
            found,
            [
                "99011_203101150000_temp",
                "99011_203101150000_temp_CCA",
                "99011_203101141200_temp-to100",
                "99011_203101140000_pilot",
            ]
        );
    }
}
