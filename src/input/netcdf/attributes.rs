//! Attributes of variables.

use netcdf_reader::{NcAttrValue, NcAttribute, NcVariable};

/// An attribute by its name.
pub(super) fn find<'a>(attributes: &'a [NcAttribute], name: &str) -> Option<&'a NcAttrValue> {
    attributes.iter().find(|a| a.name == name).map(|a| &a.value)
}

/// An attribute as one line of text; a number is its figures.
pub(super) fn text(attributes: &[NcAttribute], name: &str) -> Option<String> {
    let value = find(attributes, name)?;
    let text = match value {
        NcAttrValue::Chars(text) => text.clone(),
        NcAttrValue::Strings(texts) => texts.first()?.clone(),
        _ => numbers_of(value)?.first()?.to_string(),
    };
    let text = text.trim_matches(|c: char| c == '\0' || c.is_whitespace());
    Some(text.to_owned())
}

/// An attribute as numbers, singles as the shortest decimal; text that is a number
/// counts. `Err` has the text that is none.
pub(super) fn numbers(variable: &NcVariable, name: &str) -> Result<Option<Vec<f64>>, String> {
    let Some(value) = find(&variable.attributes, name) else {
        return Ok(None);
    };
    match numbers_of(value) {
        Some(numbers) if !numbers.is_empty() => Ok(Some(numbers)),
        _ => {
            let text = text(&variable.attributes, name).unwrap_or_default();
            text.parse().map(|n| Some(vec![n])).map_err(|_| text)
        }
    }
}

fn numbers_of(value: &NcAttrValue) -> Option<Vec<f64>> {
    match value {
        NcAttrValue::Floats(values) => Some(values.iter().map(|v| shortest(*v)).collect()),
        other => other.as_f64_vec(),
    }
}

/// Whether an attribute has the type of floating point.
pub(super) fn is_floating(attributes: &[NcAttribute], name: &str) -> bool {
    let value = find(attributes, name);
    matches!(
        value,
        Some(NcAttrValue::Floats(_) | NcAttrValue::Doubles(_))
    )
}

/// The shortest decimal that is a single.
pub(super) fn shortest(value: f32) -> f64 {
    // Display of a single is this decimal; NaN and infinities are read back too.
    value.to_string().parse().unwrap_or(f64::from(value))
}
