//! The samples.

use std::fs;
use std::path::Path;

use super::*;
use crate::input::sheet;
use crate::input::sheet::Source;
use crate::model::Form;
use crate::{input, profile};

/// The findings of a sample.
fn sample(name: &str, form: Form) -> Vec<Finding> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let toml = fs::read_to_string(root.join(format!("{name}.toml"))).unwrap();
    let csv = fs::read(root.join(format!("{name}.csv"))).unwrap();
    let (sheet, _) = sheet::read(&[Source { name, text: &toml }]).unwrap();
    let raw = input::text::read(&csv, name, &sheet.reading).unwrap().value;
    let ascent = profile::build_for(form, &raw, &sheet.context)
        .unwrap()
        .value;
    check(&ascent, &sheet.context)
}

#[test]
fn the_samples_have_no_warning() {
    for name in [
        "minute",
        "winter_jet",
        "low_burst",
        "tropical",
        "polar_night",
        "gaps",
        "plateau",
        "twin_levels",
        "windless",
        "ship",
        "mobile",
        "drop",
        "descent",
    ] {
        let findings = sample(name, Form::Temp);
        let mut warned = warnings(&findings);
        if name == "gaps" {
            // Whole rows are lost in two layers; the longer may be a gap.
            warned.retain(|(code, _)| code != "time-gap");
            let layers = findings.iter().filter(|f| f.code == "element-missing");
            assert!(layers.count() >= 6);
        }
        assert_eq!(warned, [], "{name}");
        assert!(verdict(&findings).starts_with("go"), "{name}");
    }
    assert_eq!(warnings(&sample("pilot", Form::Pilot)), []);
    assert_eq!(warnings(&sample("descent", Form::Descent)), []);
}
