//! What two messages say differently before their levels begin.

use super::dump::shown;
use super::{Kind, Layout, Message, Value};
use crate::tables::bufr_element;

/// A field that differs: its name, and the value on either side with its unit.
pub type Changed = (&'static str, String, String);

/// The centre and the fields in front of the levels that two messages of one
/// template have different; nothing where the templates differ. The update number is
/// left out.
#[must_use]
pub fn head_changes(left: &Message, right: &Message) -> Vec<Changed> {
    let mut out = Vec::new();
    let centre = |m: &Message| (m.section1.centre, m.section1.sub_centre);
    if centre(left) != centre(right) {
        let shown = |m: &Message| format!("{} {}", m.section1.centre, m.section1.sub_centre);
        out.push((
            "Originating centre and sub-centre",
            shown(left),
            shown(right),
        ));
    }
    if left.template != right.template {
        return out;
    }
    let (Some(own), Some(other)) = (left.values.first(), right.values.first()) else {
        return out;
    };
    let Ok(layout) = Layout::of(&left.template, &left.section1) else {
        return out;
    };
    // No repetition: what stands in front of the first count.
    let fields = layout.fields(|_| None);
    let head = fields.iter().take_while(|f| f.kind != Kind::Factor);
    for (field, (l, r)) in head.zip(own.iter().zip(other)) {
        if l != r {
            let name = bufr_element(field.descriptor).map_or("element", |e| e.name);
            let text = |value: &Value| shown(field, value);
            out.push((name, text(l), text(r)));
        }
    }
    out
}
