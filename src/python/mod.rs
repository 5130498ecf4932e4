//! The Python package: what Python gives becomes input of the library, and what the
//! library gives becomes objects of Python. Every call gives up the interpreter lock while
//! it works, and a panic becomes an exception.
//!
//! Public names, defaults and texts for people are in `fivefig/`, beside this file; here
//! is only what needs the library.

mod codec;
mod error;
mod kernels;
mod report;
mod source;
mod table;

use pyo3::prelude::*;

/// The native module of the package.
#[pymodule(gil_used = false)]
mod _native {
    use super::{PyModule, PyResult, pymodule_init};
    use pyo3::Bound;

    #[pymodule_export]
    use super::codec::Workers;
    #[pymodule_export]
    use super::codec::{
        check_messages, check_profile, choose_levels, compare, decode, decode_table, encode,
    };
    #[pymodule_export]
    use super::error::{Difference, Finding};
    #[pymodule_export]
    use super::kernels::{dewpoint, interpolate, thickness, tropopause};
    #[pymodule_export]
    use super::report::Report;
    #[pymodule_export]
    use super::source::{Source, sheet_to_toml};
    #[pymodule_export]
    use super::table::Table;

    #[pymodule_init]
    fn init(module: &Bound<'_, PyModule>) -> PyResult<()> {
        pymodule_init(module)
    }
}

fn pymodule_init(module: &Bound<'_, PyModule>) -> PyResult<()> {
    module.add("__version__", env!("CARGO_PKG_VERSION"))?;
    module.add("TABLE_VERSION", crate::forms::columnar::VERSION)?;
    let bits = crate::model::Roles::FLAG_TABLE.iter();
    let bits: Vec<_> = bits
        .flat_map(|role| role.names().map(move |name| (name, role.bits())))
        .chain([("forced", crate::model::Roles::FORCED.bits())])
        .collect();
    module.add("SIGNIFICANCE", bits)?;
    let columns: Vec<_> = crate::input::frame::known_columns().collect();
    module.add("COLUMNS", columns)
}
