//! Messages of an independent writer, byte for byte through the list of values.

use std::path::Path;

use fivefig::forms::bufr;
use fivefig::forms::bufr::{Descriptor, Field, Layout, Message, Section1, Value};
use serde_json::Value as Json;

struct Vector {
    name: String,
    octets: Vec<u8>,
    message: Message,
}

/// The value of a field, from the number or text that the vector gives.
fn value(field: &Field, given: &Json) -> Value {
    match given {
        Json::Null => Value::Missing,
        Json::String(text) => Value::text(text),
        number => {
            let scaled = number.as_f64().unwrap() * 10f64.powi(field.scale);
            let whole = scaled.round();
            // The vectors give values on the grid of their element.
            assert!((scaled - whole).abs() < 1e-3, "{field:?} {given}");
            Value::Number(format!("{whole}").parse().unwrap())
        }
    }
}

fn vectors() -> Vec<Vector> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors/bufr");
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    files.sort();
    files
        .iter()
        .map(|path| {
            let text = std::fs::read_to_string(path).unwrap();
            let json: Json = serde_json::from_str(&text).unwrap();
            let strings = |key: &str| -> Vec<String> {
                let list = json[key].as_array().unwrap();
                list.iter()
                    .map(|v| v.as_str().unwrap().to_owned())
                    .collect()
            };
            let template: Vec<Descriptor> = strings("descriptors")
                .iter()
                .map(|d| Descriptor::from_figures(d).unwrap())
                .collect();
            let layout = Layout::new(&template, 0).unwrap();
            let given = json["values"].as_array().unwrap();
            let values = layout
                .fields(|n| given.get(n).and_then(Json::as_u64))
                .iter()
                .zip(given)
                .map(|(field, given)| value(field, given))
                .collect::<Vec<_>>();
            assert_eq!(values.len(), given.len());
            let hex = strings("octets").concat();
            let octets = (0..hex.len() / 2)
                .map(|i| u8::from_str_radix(&hex[2 * i..2 * i + 2], 16).unwrap())
                .collect();
            Vector {
                name: path.file_stem().unwrap().to_str().unwrap().to_owned(),
                octets,
                message: Message {
                    section1: Section1::default(),
                    template,
                    values: vec![values],
                },
            }
        })
        .collect()
}

#[test]
fn every_vector_is_written_and_read_byte_for_byte() {
    let vectors = vectors();
    assert_eq!(vectors.len(), 8);
    for Vector {
        name,
        octets,
        mut message,
    } in vectors
    {
        let read = bufr::read(&octets).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(
            read.spare_bits < 8 && !read.compressed && read.observed,
            "{name}"
        );
        message.section1 = read.message.section1.clone();
        assert_eq!(read.message.values, message.values, "{name}");
        assert_eq!(message.encode().unwrap(), octets, "{name}");
    }
}
