//! A sounding as a BUFR list of values, for benches and tests.

use fivefig::forms::bufr::{Descriptor, Kind, Layout, Message, Section1, Value};

/// Values of a template with these counts of its replications, every seventh of
/// those that can be missing missing. Numbers run over all that fit.
pub fn sounding(template: &[&str], counts: &[u64]) -> Message {
    let template: Vec<_> = (template.iter())
        .map(|d| Descriptor::from_figures(d).unwrap())
        .collect();
    let layout = Layout::new(&template, 0).unwrap();
    let left = std::cell::RefCell::new(counts.iter());
    let fields = layout.fields(|_| left.borrow_mut().next().copied());
    let mut counts = counts.iter();
    let values = fields
        .iter()
        .enumerate()
        .map(|(n, field)| match field.kind {
            Kind::Factor => Value::Number(i64::try_from(*counts.next().unwrap()).unwrap()),
            _ if n % 7 == 6 => Value::Missing,
            Kind::Text => Value::text("ABC 12"),
            _ => {
                let step = u64::try_from(n)
                    .unwrap()
                    .wrapping_mul(0x9E37_79B9_7F4A_7C15)
                    >> 16;
                let raw = step % ((1 << field.width_bits) - 1);
                Value::Number(i64::try_from(raw).unwrap() + field.reference)
            }
        });
    Message {
        section1: Section1::default(),
        values: vec![values.collect()],
        template,
    }
}
