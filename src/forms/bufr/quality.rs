//! What a message says of its values, sorted by the values it is about.

use std::collections::HashMap;

use super::dump::unit;
use super::field::{Field, Kind};
use super::fields::Given;
use super::figure::real;
use super::seen::SIGNIFICANCE_OF_ASSOCIATED;
use super::{Layout, Received, Value};
use crate::model::Quality;
use crate::tables::{associated_field, bufr_element, bufr_figure};

/// The values that say something of the values of a subset.
#[derive(Default)]
pub(super) struct About<'v> {
    /// By the value that they are about: a value is known by its place in memory.
    of: HashMap<*const Value, Vec<(Field, u16, &'v Value)>>,
}

impl<'v> About<'v> {
    /// What is attached to the values of a subset of a message.
    pub(super) fn new(
        received: &Received,
        layout: &Layout,
        subset: usize,
        values: &'v [Value],
    ) -> Self {
        let mut about = Self::default();
        let attached = received.attached(subset);
        if attached.is_empty() {
            return about;
        }
        let fields = layout.fields_by(|n| values.get(n)?.number());
        for one in attached {
            let (Some(of), Some(value), Some(field)) = (
                values.get(one.of),
                values.get(one.value),
                fields.get(one.value),
            ) else {
                continue;
            };
            let about = about.of.entry(std::ptr::from_ref(of)).or_default();
            about.push((*field, one.operator.x(), value));
        }
        about
    }

    /// Adds what is attached to the values of another subset.
    pub(super) fn extend(&mut self, other: Self) {
        self.of.extend(other.of);
    }

    /// What is said of these values; `significance`: the last figure of 0 31 021 before
    /// them.
    pub(super) fn fields(
        &self,
        given: &[Given<'v>],
        mut significance: Option<i64>,
    ) -> Vec<Quality> {
        let mut out = Vec::new();
        let mut before: Option<(Field, &Value)> = None;
        for &(field, value) in given {
            if field.descriptor == SIGNIFICANCE_OF_ASSOCIATED {
                significance = value.number();
                continue;
            }
            if field.kind == Kind::Associated {
                before = Some((field, value));
                continue;
            }
            let associated = before
                .take()
                .and_then(|(f, v)| associated(&f, v, significance));
            let attached = self.of.get(&std::ptr::from_ref(value));
            let attached = attached.into_iter().flatten();
            let attached = attached.map(|(f, operator, v)| attached_value(f, *operator, v));
            out.extend(
                associated
                    .into_iter()
                    .chain(attached)
                    .map(|quality| Quality {
                        element: field.descriptor.to_string(),
                        name: element_name(&field),
                        ..quality
                    }),
            );
        }
        out
    }
}

fn element_name(field: &Field) -> String {
    let element = field.element.or_else(|| bufr_element(field.descriptor));
    element.map_or("local element", |e| e.name).to_owned()
}

/// An associated field; all bits one say nothing.
fn associated(field: &Field, value: &Value, significance: Option<i64>) -> Option<Quality> {
    let number = value.number()?;
    let figure = u32::try_from(number).ok()?;
    if u64::from(figure) == field.ones() && field.width_bits > 1 {
        return None;
    }
    let words = |value| significance.and_then(|s| associated_field(s, value));
    Some(Quality {
        element: String::new(),
        name: String::new(),
        kind: words(None).unwrap_or("associated field").to_owned(),
        value: Some(real(number, 0)),
        unit: String::new(),
        meaning: words(Some(figure)).map(str::to_owned),
    })
}

/// A value after a bit-map.
fn attached_value(field: &Field, operator: u16, value: &Value) -> Quality {
    let kind = match operator {
        22 => element_name(field),
        23 => "substituted value".to_owned(),
        24 => "first-order statistical value".to_owned(),
        25 => "difference statistical value".to_owned(),
        _ => "replaced or retained value".to_owned(),
    };
    let number = value.number();
    let figure = number.and_then(|n| u32::try_from(n).ok());
    Quality {
        element: String::new(),
        name: String::new(),
        kind,
        value: number.map(|n| real(n, field.scale)),
        unit: unit(field).to_owned(),
        meaning: figure.and_then(|figure| bufr_figure(field.descriptor, figure)),
    }
}
