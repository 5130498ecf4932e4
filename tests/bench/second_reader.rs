//! The general library `tinybufr` as a second reader of BUFR.

use tinybufr::{DataEvent, DataReader, DataSpec, HeaderSections, Tables, Value, XY};

/// An element with its value, or a count of repetitions.
#[derive(Debug)]
pub enum Event {
    #[allow(dead_code, reason = "the bench looks at no value")]
    Value(XY, Value),
    #[allow(dead_code, reason = "the bench looks at no value")]
    Count(u16),
}

/// Every value of a message of one subset, in order.
pub fn second_read(octets: &[u8], tables: &Tables) -> Vec<Event> {
    let mut rest = octets;
    let head = HeaderSections::read(&mut rest).unwrap();
    let spec = DataSpec::from_data_description(&head.data_description_section, tables).unwrap();
    let mut reader = DataReader::new(&mut rest, &spec).unwrap();
    let mut events = Vec::new();
    loop {
        match reader.read_event().unwrap() {
            DataEvent::Data { xy, value, .. } => events.push(Event::Value(xy, value)),
            DataEvent::ReplicationStart { count, .. } => events.push(Event::Count(count)),
            DataEvent::Eof => return events,
            _ => {}
        }
    }
}
