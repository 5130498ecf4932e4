//! How profiles lie in the dimensions of a file (CF conventions, chapter 9).

use netcdf_reader::{NcSliceInfo, NcSliceInfoElem, NcVariable};

use crate::input::SourceError;
use crate::input::elements::known::shown;
use crate::input::netcdf::file::{File, MAX_ROWS};
use crate::input::netcdf::find::Candidate;
use crate::input::netcdf::{attributes, values};

/// The columns that say what a profile is made of; place and time may belong to
/// the profile as a whole.
pub(super) const QUANTITIES: &[&str] = &[
    "pressure_hpa",
    "height_gpm",
    "altitude_m",
    "temperature_c",
    "humidity_pct",
    "dewpoint_c",
    "wind_dir_deg",
    "wind_speed_ms",
    "wind_u_ms",
    "wind_v_ms",
];

/// A dimension.
struct Dimension {
    name: String,
    size: u64,
}

/// Where the rows of the profile are.
pub(super) struct Layout {
    /// The dimension along which they lie.
    samples: Option<Dimension>,
    /// The dimension of profiles, where the file has several.
    profiles: Option<Dimension>,
    /// The profile that is read, from 0.
    profile: u64,
    /// The part of the samples that are its rows, in a contiguous ragged array.
    span: (u64, u64),
    /// Whether each sample of the span is one of its rows, in an indexed ragged array.
    of_profile: Option<Vec<bool>>,
}

/// How a variable stands to the rows.
pub(super) enum Shape {
    /// A value a row.
    Rows(NcSliceInfo),
    /// One value for the profile.
    Once(NcSliceInfo),
    /// Neither.
    Other,
}

/// The dimensions of a variable, for messages.
pub(super) fn words(variable: &NcVariable) -> String {
    let dimensions: Vec<String> = (variable.dimensions.iter().take(8))
        .map(|d| format!("{} = {}", shown(&d.name), d.size))
        .collect();
    format!("({})", dimensions.join(", "))
}

impl Layout {
    /// Finds the dimension of the samples, by most of the variables that could be
    /// quantities, and that of profiles; picks the one of that number.
    pub(super) fn of(
        file: &File<'_>,
        candidates: &[Candidate],
        number: Option<usize>,
    ) -> Result<Self, SourceError> {
        let variables: Vec<&NcVariable> = (candidates.iter())
            .filter(|c| QUANTITIES.contains(&c.target))
            .filter_map(|c| file.variables().get(c.at))
            .collect();
        let samples = samples(&variables).or_else(|| samples(&any(file, candidates)));
        let size = samples.as_ref().map_or(0, |s| s.size);
        let mut layout = Self {
            profiles: None,
            profile: 0,
            span: (0, size),
            of_profile: None,
            samples,
        };
        let ragged = layout.ragged(file)?;
        layout.profiles = match &ragged {
            Some((_, profiles)) => Some(Dimension {
                name: profiles.name.clone(),
                size: profiles.size,
            }),
            None => layout.beside(&variables),
        };
        let count = layout.profiles.as_ref().map_or(1, |p| p.size);
        layout.profile = chosen(file, number, count)?;
        if let Some((variable, _)) = ragged {
            layout.take(file, variable)?;
        }
        if layout.width() > MAX_ROWS {
            return file.fail(format!(
                "dimension `{}` has {} samples; at most {MAX_ROWS} are read",
                shown(layout.samples.as_ref().map_or("", |s| s.name.as_str())),
                layout.width()
            ));
        }
        Ok(layout)
    }

    /// Samples that are read.
    pub(super) fn width(&self) -> u64 {
        self.span.1.saturating_sub(self.span.0)
    }

    /// The name of the dimension of the samples.
    pub(super) fn samples(&self) -> &str {
        self.samples.as_ref().map_or("", |s| s.name.as_str())
    }

    /// Leaves out what belongs to other profiles.
    pub(super) fn of_profile(&self, values: Vec<Option<f64>>) -> Vec<Option<f64>> {
        match &self.of_profile {
            None => values,
            Some(own) => {
                let pairs = values.into_iter().zip(own);
                pairs.filter(|(_, own)| **own).map(|(v, _)| v).collect()
            }
        }
    }

    /// How a variable stands to the rows.
    pub(super) fn shape(&self, variable: &NcVariable) -> Shape {
        let mut rows = 0;
        let mut selections = Vec::with_capacity(variable.dimensions.len());
        for dimension in &variable.dimensions {
            let is = |d: &Option<Dimension>| d.as_ref().is_some_and(|d| d.name == dimension.name);
            selections.push(if is(&self.samples) {
                rows += 1;
                let (start, end) = self.span;
                NcSliceInfoElem::Slice {
                    start,
                    end,
                    step: 1,
                }
            } else if is(&self.profiles) {
                NcSliceInfoElem::Index(self.profile)
            } else if dimension.size == 1 {
                NcSliceInfoElem::Index(0)
            } else {
                return Shape::Other;
            });
        }
        let selection = NcSliceInfo { selections };
        match rows {
            0 => Shape::Once(selection),
            1 => Shape::Rows(selection),
            _ => Shape::Other,
        }
    }

    /// The dimension beside the samples, of more than one, that quantities have.
    fn beside(&self, variables: &[&NcVariable]) -> Option<Dimension> {
        let samples = self.samples();
        let along = |v: &&&NcVariable| v.dimensions.iter().any(|d| d.name == samples);
        let others = (variables.iter().filter(along))
            .flat_map(|v| &v.dimensions)
            .find(|d| d.name != samples && d.size != 1);
        others.map(|d| Dimension {
            name: d.name.clone(),
            size: d.size,
        })
    }

    /// The counts (`sample_dimension`) or the numbers (`instance_dimension`) of a
    /// ragged array (CF 9.3.3, 9.3.4), and the dimension of its profiles.
    fn ragged<'f>(
        &self,
        file: &'f File<'_>,
    ) -> Result<Option<(&'f NcVariable, Dimension)>, SourceError> {
        for variable in file.variables() {
            let text = |name: &str| attributes::text(&variable.attributes, name);
            let [dimension] = variable.dimensions.as_slice() else {
                continue;
            };
            if text("sample_dimension").is_some_and(|d| d == self.samples()) {
                let name = dimension.name.clone();
                let size = dimension.size;
                return Ok(Some((variable, Dimension { name, size })));
            }
            let Some(name) =
                text("instance_dimension").filter(|_| dimension.name == self.samples())
            else {
                continue;
            };
            return match file.dimension(&name) {
                Some(size) => Ok(Some((variable, Dimension { name, size }))),
                None => file.fail(format!(
                    "variable `{}`, attribute instance_dimension: there is no dimension `{}`",
                    shown(&variable.name),
                    shown(&name)
                )),
            };
        }
        Ok(None)
    }

    /// Takes the rows of the profile out of a ragged array.
    fn take(&mut self, file: &File<'_>, variable: &NcVariable) -> Result<(), SourceError> {
        let size = variable.dimensions.iter().map(|d| d.size).product();
        let read = values::read(file, variable, &NcSliceInfo::all(1), size)?;
        if attributes::text(&variable.attributes, "sample_dimension").is_none() {
            let own = |v: &Option<f64>| v.and_then(whole) == Some(self.profile);
            self.of_profile = Some(read.values.iter().map(own).collect());
            return Ok(());
        }
        let counts = read.values.iter().map(|v| v.and_then(whole));
        let mut start = 0_u64;
        for (profile, count) in (0..).zip(counts) {
            let end = count.and_then(|count| start.checked_add(count));
            let Some(end) = end.filter(|end| *end <= self.span.1) else {
                return file.fail(format!(
                    "variable `{}` counts more samples than dimension `{}` has, or no whole number of them",
                    shown(&variable.name),
                    shown(self.samples())
                ));
            };
            if profile == self.profile {
                self.span = (start, end);
                return Ok(());
            }
            start = end;
        }
        Ok(())
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held to be a whole number in range"
)]
fn whole(value: f64) -> Option<u64> {
    let fits = (0.0..=1e15).contains(&value) && value.fract() == 0.0;
    fits.then_some(value as u64)
}

/// The number of the profile that is read, from 0.
fn chosen(file: &File<'_>, number: Option<usize>, count: u64) -> Result<u64, SourceError> {
    match number.map(|n| n as u64) {
        None if count == 1 => Ok(0),
        None if count == 0 => file.fail("the file has no profile"),
        None => Err(SourceError::Several {
            name: file.name.to_owned(),
            count: usize::try_from(count).unwrap_or(usize::MAX),
            of: "profiles".to_owned(),
        }),
        Some(number) if (1..=count).contains(&number) => Ok(number - 1),
        Some(number) => file.fail(format!(
            "there is no profile {number}; the file has {count}"
        )),
    }
}

/// Where no quantity is known: the variables of which anything is known, or all
/// with numbers, so that they can be shown.
fn any<'f>(file: &'f File<'_>, candidates: &[Candidate]) -> Vec<&'f NcVariable> {
    let known: Vec<&NcVariable> = (candidates.iter())
        .filter_map(|c| file.variables().get(c.at))
        .filter(|v| v.dimensions.iter().any(|d| d.size != 1))
        .collect();
    if known.is_empty() {
        let all = file.variables().iter();
        all.filter(|v| values::is_number(&v.dtype)).collect()
    } else {
        known
    }
}

/// The dimension of samples: the one that most quantities have alone or last, one
/// that some have alone before others.
fn samples(variables: &[&NcVariable]) -> Option<Dimension> {
    let mut votes: Vec<(Dimension, usize, usize)> = Vec::new();
    for variable in variables {
        let long: Vec<_> = variable.dimensions.iter().filter(|d| d.size != 1).collect();
        let (dimension, alone) = match long.as_slice() {
            [] => match variable.dimensions.last() {
                Some(last) => (last, true),
                None => continue,
            },
            [only] => (*only, true),
            [.., last] => (*last, false),
        };
        let vote = match votes.iter_mut().find(|v| v.0.name == dimension.name) {
            Some(vote) => vote,
            None => {
                let (name, size) = (dimension.name.clone(), dimension.size);
                votes.push((Dimension { name, size }, 0, 0));
                match votes.last_mut() {
                    Some(vote) => vote,
                    None => continue,
                }
            }
        };
        vote.1 += 1;
        vote.2 += usize::from(alone);
    }
    // Of equals the first.
    votes.reverse();
    votes.into_iter().max_by_key(|v| (v.1, v.2)).map(|v| v.0)
}
