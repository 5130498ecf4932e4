//! Every value of a message is the same to another reader, of other tables.

use crate::second_reader;
use crate::soundings;

use fivefig::forms::bufr;
use fivefig::forms::bufr::{Layout, Value};
use second_reader::{Event, second_read};
use soundings::sounding;
use tinybufr::{Tables, Value as Theirs};

/// Holds every value of the first subset; how many there are.
fn held(name: &str, octets: &[u8], tables: &Tables) -> usize {
    let message = bufr::read(octets).unwrap().message;
    let layout = Layout::new(&message.template, 0).unwrap();
    let ours = &message.values[0];
    let fields = layout.fields(|n| u64::try_from(ours[n].number()?).ok());
    let theirs = second_read(octets, tables);
    assert_eq!(
        (ours.len(), fields.len()),
        (theirs.len(), theirs.len()),
        "{name}"
    );
    for (n, ((value, field), event)) in ours.iter().zip(&fields).zip(theirs).enumerate() {
        let at = format!("{name}, value {n}, {}", field.descriptor);
        let (xy, theirs) = match event {
            Event::Count(count) => {
                assert_eq!(*value, Value::Number(i64::from(count)), "{at}");
                continue;
            }
            Event::Value(xy, theirs) => (xy, theirs),
        };
        let place = (u16::from(xy.x), u16::from(xy.y));
        assert_eq!((field.descriptor.x(), field.descriptor.y()), place, "{at}");
        let theirs = match theirs {
            Theirs::Missing => Value::Missing,
            Theirs::Integer(number) => {
                assert_eq!(field.scale, 0, "{at}");
                Value::Number(i64::from(number))
            }
            Theirs::Decimal(number, power) => {
                assert_eq!(field.scale, -i32::from(power), "{at}");
                Value::Number(i64::from(number))
            }
            Theirs::String(text) => Value::text(&text),
        };
        assert_eq!(*value, theirs, "{at}");
    }
    ours.len()
}

/// Soundings without operator 2 07, which it does not know.
const KNOWN: [&str; 4] = ["309050", "309051", "309052", "309053"];

#[test]
fn another_reader_reads_the_same_values() {
    let tables = Tables::default();
    let mut values = 0;
    for sequence in KNOWN {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors/bufr");
        let text = std::fs::read_to_string(folder.join(format!("{sequence}.json"))).unwrap();
        let json: serde_json::Value = serde_json::from_str(&text).unwrap();
        let lines = json["octets"].as_array().unwrap();
        let hex: String = lines.iter().map(|line| line.as_str().unwrap()).collect();
        let octets: Vec<u8> = (0..hex.len() / 2)
            .map(|i| u8::from_str_radix(&hex[2 * i..2 * i + 2], 16).unwrap())
            .collect();
        values += held(sequence, &octets, &tables);
        for counts in [[0, 0], [1, 0], [7, 3], [500, 2], [5000, 255]] {
            let octets = sounding(&[sequence], &counts).encode().unwrap();
            values += held(&format!("{sequence}, {counts:?}"), &octets, &tables);
        }
    }
    println!("{values} values");
}

#[test]
fn five_thousand_levels_have_the_octets_worked_out() {
    // 8 + 22 + 9 + 4 octets before the data and 4 after, 346 bits of the fixed part
    // with both counts, 168 bits a level: 47 + (346 + 168 x 5000) / 8, rounded up.
    let octets = sounding(&["309052"], &[5000, 0]).encode().unwrap();
    assert_eq!(octets.len(), 105_091);
    assert_eq!(
        bufr::read(&octets).unwrap().message,
        sounding(&["309052"], &[5000, 0])
    );
}
