//! The samples that are drawn and reviewed.

use std::path::{Path, PathBuf};

use fivefig::model::Form;

/// Every sample in the forms that it can have.
pub const SAMPLES: [(&str, Form); 16] = [
    ("winter_jet", Form::Temp),
    ("winter_jet", Form::Pilot),
    ("low_burst", Form::Temp),
    ("tropical", Form::Temp),
    ("polar_night", Form::Temp),
    ("gaps", Form::Temp),
    ("plateau", Form::Temp),
    ("twin_levels", Form::Temp),
    ("windless", Form::Temp),
    ("minute", Form::Temp),
    ("ship", Form::Temp),
    ("mobile", Form::Temp),
    ("drop", Form::Temp),
    ("pilot", Form::Pilot),
    ("descent", Form::Temp),
    ("descent", Form::Descent),
];

/// Their folder.
pub fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("samples")
}
