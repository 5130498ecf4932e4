//! A NetCDF file with its bounds.

use netcdf_reader::{NcAttribute, NcFile, NcFormat, NcOpenOptions, NcSliceInfo, NcVariable};

use crate::input::SourceError;
use crate::input::elements::known::shown;

/// Largest file that is read, octets.
const MAX_FILE: usize = 256 << 20;
/// Most variables.
const MAX_VARIABLES: usize = 2000;
/// Most rows of one profile.
pub(super) const MAX_ROWS: u64 = 2_000_000;
/// Most that one read, or one chunk, may take in memory, octets.
const MAX_READ: usize = 64 << 20;
/// Most names that a message repeats.
const MAX_LISTED: usize = 20;

/// An open file.
pub(super) struct File<'a> {
    /// Its name, for messages.
    pub(super) name: &'a str,
    octets: u64,
    inner: NcFile,
}

impl<'a> File<'a> {
    /// Opens a file; nothing of its values is read yet.
    pub(super) fn open(bytes: &[u8], name: &'a str) -> Result<Self, SourceError> {
        if bytes.len() > MAX_FILE {
            return Err(SourceError::FileTooLarge {
                name: name.to_owned(),
                octets: bytes.len(),
                limit: MAX_FILE,
            });
        }
        if !crate::input::netcdf::is_netcdf(bytes) {
            return Err(refused(
                name,
                "not NetCDF: neither `CDF` (version 1, 2 or 5) nor the signature of HDF5 is at its beginning",
            ));
        }
        // Links to other files are never followed: no resolver is set.
        let options = NcOpenOptions {
            chunk_cache_bytes: 16 << 20,
            max_chunk_bytes: MAX_READ,
            max_read_bytes: MAX_READ,
            max_object_header_bytes: 4 << 20,
            ..NcOpenOptions::default()
        };
        let unreadable = |error: netcdf_reader::Error| refused(name, unreadable(bytes, &error));
        let inner = NcFile::from_bytes_with_options(bytes, options).map_err(unreadable)?;
        let variables = inner.variables().map_err(unreadable)?;
        if variables.len() > MAX_VARIABLES {
            return Err(refused(
                name,
                format!(
                    "the file has {} variables; at most {MAX_VARIABLES} are read",
                    variables.len()
                ),
            ));
        }
        inner.global_attributes().map_err(unreadable)?;
        Ok(Self {
            name,
            octets: bytes.len() as u64,
            inner,
        })
    }

    /// The variables of the root group.
    pub(super) fn variables(&self) -> &[NcVariable] {
        self.inner.variables().unwrap_or_default()
    }

    /// The attributes of the file.
    pub(super) fn attributes(&self) -> &[NcAttribute] {
        self.inner.global_attributes().unwrap_or_default()
    }

    /// The length of a dimension.
    pub(super) fn dimension(&self, name: &str) -> Option<u64> {
        let dimensions = self.inner.dimensions().ok()?;
        dimensions.iter().find(|d| d.name == name).map(|d| d.size)
    }

    /// Numbers of a variable, `count` of them, as they are stored.
    pub(super) fn numbers(
        &self,
        variable: &NcVariable,
        selection: &NcSliceInfo,
        count: u64,
    ) -> Result<Vec<f64>, SourceError> {
        let size = variable.dtype.size().unwrap_or(8) as u64;
        // Packed by deflate, one value per row still takes a byte of its file: rows of a
        // flight are not all alike. What claims more is refused before it is read.
        let least = match self.inner.format() {
            NcFormat::Nc4 | NcFormat::Nc4Classic => count,
            _ => count.saturating_mul(size),
        };
        if least > self.octets || count > MAX_ROWS {
            return self.fail(format!(
                "variable `{}` would have {count} values, more than a file of {} octets can hold; it is cut off or damaged",
                shown(&variable.name),
                self.octets
            ));
        }
        let read = self
            .inner
            .read_variable_slice_as_f64(&variable.name, selection);
        match read {
            Ok(values) if values.len() as u64 == count => Ok(values.iter().copied().collect()),
            Ok(values) => self.fail(format!(
                "variable `{}` has {} values where its dimensions say {count}; the file is damaged",
                shown(&variable.name),
                values.len()
            )),
            Err(error) => self.fail(format!(
                "variable `{}` cannot be read: {}; the file may be cut off or damaged",
                shown(&variable.name),
                line(&error)
            )),
        }
    }

    /// The text of a variable of characters, when it is one text.
    pub(super) fn text(&self, variable: &NcVariable) -> Option<String> {
        let size: u64 = variable.dimensions.iter().map(|d| d.size).product();
        if size > 1000 {
            return None;
        }
        let text = self.inner.read_variable_as_string(&variable.name).ok()?;
        Some(
            text.trim_matches(|c: char| c == '\0' || c.is_whitespace())
                .to_owned(),
        )
    }

    /// Refuses the file.
    pub(super) fn fail<T>(&self, what: impl Into<String>) -> Result<T, SourceError> {
        Err(refused(self.name, what))
    }

    /// The names of the variables, for messages.
    pub(super) fn listed(&self) -> String {
        let variables = self.variables();
        let mut names: Vec<String> = (variables.iter().take(MAX_LISTED))
            .map(
                |v| match crate::input::netcdf::attributes::text(&v.attributes, "units") {
                    Some(unit) => format!("`{}` ({})", shown(&v.name), shown(&unit)),
                    None => format!("`{}`", shown(&v.name)),
                },
            )
            .collect();
        if variables.len() > MAX_LISTED {
            names.push(format!("{} more", variables.len() - MAX_LISTED));
        }
        match names.is_empty() {
            true => "no variable in its root group".to_owned(),
            false => names.join(", "),
        }
    }
}

/// The error of a file.
pub(super) fn refused(name: &str, what: impl Into<String>) -> SourceError {
    SourceError::NetCdf {
        name: name.to_owned(),
        what: what.into(),
    }
}

fn unreadable(bytes: &[u8], error: &netcdf_reader::Error) -> String {
    if bytes.starts_with(b"CDF") {
        format!(
            "the NetCDF file cannot be read: {}; it may be cut off or damaged",
            line(error)
        )
    } else {
        format!(
            "the file is HDF5 and cannot be read as NetCDF-4: {}; it may be cut off, damaged, or HDF5 that is no NetCDF",
            line(error)
        )
    }
}

/// An error of the reader on one line of no great length.
fn line(error: &netcdf_reader::Error) -> String {
    let text: String = (error.to_string().chars().take(200))
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    text
}
