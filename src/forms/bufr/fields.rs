//! Fields with their values, found by descriptor.

use super::figure::real;
use super::{Field, Kind, Value};
use crate::model::Wind;
use crate::model::quantity::{celsius_from_kelvin, trim};

/// A field and its value.
pub(super) type Given<'v> = (Field, &'v Value);

/// Fields with their values, by descriptor.
#[derive(Clone, Copy)]
pub(super) struct Fields<'a, 'v>(pub(super) &'a [Given<'v>]);

impl<'v> Fields<'_, 'v> {
    /// The value of that number (from 0) of a descriptor.
    pub(super) fn nth(&self, x: u16, y: u16, nth: usize) -> Option<Given<'v>> {
        // An associated field stands under the descriptor of its element.
        let here = |f: &Field| {
            f.descriptor.f() == 0
                && (f.descriptor.x(), f.descriptor.y()) == (x, y)
                && !matches!(f.kind, Kind::Associated | Kind::Reference)
        };
        let mut found = self.0.iter().filter(|(field, _)| here(field));
        found.nth(nth).copied()
    }

    /// The first value of a descriptor that is not missing.
    fn given(&self, x: u16, y: u16) -> Option<Given<'v>> {
        let mut all = (0..).map_while(|n| self.nth(x, y, n));
        all.find(|(_, value)| **value != Value::Missing)
    }

    /// The first value of a descriptor in units of the last place.
    pub(super) fn code(&self, x: u16, y: u16) -> Option<i64> {
        self.nth(x, y, 0).and_then(|(_, value)| value.number())
    }

    /// A small figure.
    pub(super) fn small<T: TryFrom<i64>>(&self, x: u16, y: u16) -> Option<T> {
        self.code(x, y).and_then(|n| T::try_from(n).ok())
    }

    /// A value of a descriptor in the element's unit.
    pub(super) fn value(&self, x: u16, y: u16) -> Option<f64> {
        let (field, value) = self.given(x, y)?;
        value.number().map(|n| real(n, field.scale))
    }

    /// The first of some descriptors that has a value.
    pub(super) fn first(&self, of: &[(u16, u16)]) -> Option<f64> {
        of.iter().find_map(|&(x, y)| self.value(x, y))
    }

    /// The first of some descriptors in kelvins, °C.
    pub(super) fn celsius(&self, of: &[(u16, u16)]) -> Option<f64> {
        self.first(of).map(|k| trim(celsius_from_kelvin(k)))
    }

    /// hPa from Pa, one division.
    pub(super) fn hectopascals(&self, of: &[(u16, u16)]) -> Option<f64> {
        of.iter().find_map(|&(x, y)| {
            let (field, value) = self.given(x, y)?;
            value.number().map(|n| real(n, field.scale + 2))
        })
    }

    pub(super) fn text(&self, x: u16, y: u16) -> Option<String> {
        match self.nth(x, y, 0)? {
            (_, Value::Text(text)) => {
                // Some writers begin a missing text with octets of all bits one and leave
                // the rest blank.
                let text = text.trim_matches(['\0', ' ', '\u{FF}']);
                (!text.is_empty()).then(|| text.to_owned())
            }
            _ => None,
        }
    }

    /// A wind: calm has neither direction nor speed; direction 0 with a speed is
    /// light and variable, kept as it stands. Else from components.
    pub(super) fn wind(&self) -> Option<Wind> {
        Wind::from_polar(self.value(11, 1), self.value(11, 2)).or_else(|| {
            let (east, north) = (self.value(11, 3)?, self.value(11, 4)?);
            Some(Wind::from_components_ms(east, north))
        })
    }
}
