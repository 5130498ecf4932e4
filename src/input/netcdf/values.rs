//! Values of a variable: what is missing, unpacked, and compared with its own range.

use netcdf_reader::{NcSliceInfo, NcType, NcVariable};

use crate::input::SourceError;
use crate::input::elements::known::shown;
use crate::input::netcdf::attributes;
use crate::input::netcdf::attributes::shortest;
use crate::input::netcdf::few;
use crate::input::netcdf::file::File;

/// Values in the unit of the file.
pub(super) struct Values {
    /// Each, `None` where it is missing.
    pub(super) values: Vec<Option<f64>>,
    /// How many are outside of the range the file states, and that range.
    pub(super) outside: Option<(usize, String)>,
}

impl Values {
    /// Least and greatest.
    pub(super) fn range(&self) -> Option<(f64, f64)> {
        let mut range: Option<(f64, f64)> = None;
        for v in self.values.iter().flatten() {
            let (low, high) = range.unwrap_or((*v, *v));
            range = Some((low.min(*v), high.max(*v)));
        }
        range
    }
}

/// Whether a type is one of numbers.
pub(super) fn is_number(kind: &NcType) -> bool {
    kind.is_primitive() && !matches!(kind, NcType::Char | NcType::String)
}

/// Reads values: a selection of `count`.
pub(super) fn read(
    file: &File<'_>,
    variable: &NcVariable,
    selection: &NcSliceInfo,
    count: u64,
) -> Result<Values, SourceError> {
    if !is_number(&variable.dtype) {
        return file.fail(format!(
            "variable `{}` holds {}, numbers are expected",
            shown(&variable.name),
            match variable.dtype {
                NcType::Char | NcType::String => "text",
                _ => "values of a type of its own",
            }
        ));
    }
    let packing = Packing::of(file, variable)?;
    let stored = file.numbers(variable, selection, count)?;
    let mut outside = 0;
    let one = |raw: f64| {
        let raw = packing.stored(raw);
        if raw.is_nan() || packing.missing.contains(&raw) {
            return None;
        }
        let value = packing.unpacked(raw);
        let held = if packing.range_is_unpacked {
            value
        } else {
            raw
        };
        outside += usize::from(held < packing.low || held > packing.high);
        Some(value)
    };
    let values = stored.into_iter().map(one).collect();
    Ok(Values {
        values,
        outside: (outside > 0).then(|| (outside, packing.range_words())),
    })
}

/// How a variable stores its values.
struct Packing {
    single: bool,
    /// 2 to the bits of a type whose sign the attribute `_Unsigned` turns.
    wrap: Option<(f64, bool)>,
    scale: Option<f64>,
    offset: Option<f64>,
    missing: Vec<f64>,
    low: f64,
    high: f64,
    range_is_unpacked: bool,
}

impl Packing {
    fn of(file: &File<'_>, variable: &NcVariable) -> Result<Self, SourceError> {
        let numbers = |name: &str| {
            attributes::numbers(variable, name).or_else(|text| {
                file.fail(format!(
                    "variable `{}`, attribute {name}: `{}` is no number",
                    shown(&variable.name),
                    shown(&text)
                ))
            })
        };
        let one =
            |name: &str| Ok::<_, SourceError>(numbers(name)?.and_then(|n| n.first().copied()));
        let mut packing = Self {
            single: variable.dtype == NcType::Float,
            wrap: wrap(variable),
            scale: one("scale_factor")?,
            offset: one("add_offset")?,
            missing: Vec::new(),
            low: f64::NEG_INFINITY,
            high: f64::INFINITY,
            range_is_unpacked: false,
        };
        let fill = numbers("_FillValue")?;
        let default = default_fill(&variable.dtype).filter(|_| fill.is_none());
        let named = numbers("missing_value")?;
        let missing = [fill, named, default.map(|d| vec![d])];
        packing.missing = missing
            .into_iter()
            .flatten()
            .flatten()
            .map(|v| packing.stored(v))
            .collect();
        packing.range(
            variable,
            numbers("valid_range")?,
            one("valid_min")?,
            one("valid_max")?,
        );
        Ok(packing)
    }

    /// The range a file states: of the packed values, unless its type says otherwise
    /// (NetCDF attribute conventions).
    fn range(
        &mut self,
        variable: &NcVariable,
        both: Option<Vec<f64>>,
        low: Option<f64>,
        high: Option<f64>,
    ) {
        let (first, second) = match both.as_deref() {
            Some([low, high]) => (Some(*low), Some(*high)),
            _ => (None, None),
        };
        let name = ["valid_range", "valid_min", "valid_max"];
        let floating = name
            .iter()
            .any(|n| attributes::is_floating(&variable.attributes, n));
        let packed = self.scale.is_some() || self.offset.is_some();
        let whole = !matches!(variable.dtype, NcType::Float | NcType::Double);
        self.range_is_unpacked = packed && whole && floating;
        let bound = |v: f64| {
            if self.range_is_unpacked {
                v
            } else {
                self.stored(v)
            }
        };
        let (low, high) = (low.or(first).map(bound), high.or(second).map(bound));
        self.low = low.filter(|v| !v.is_nan()).unwrap_or(f64::NEG_INFINITY);
        self.high = high.filter(|v| !v.is_nan()).unwrap_or(f64::INFINITY);
    }

    fn range_words(&self) -> String {
        match (self.low.is_finite(), self.high.is_finite()) {
            (true, false) => format!("valid_min {}", self.low),
            (false, true) => format!("valid_max {}", self.high),
            _ => format!("valid range {} to {}", self.low, self.high),
        }
    }

    /// A stored number, or an attribute of the variable's type: a single as its
    /// shortest decimal, an integer with the sign the file means.
    #[expect(clippy::cast_possible_truncation, reason = "the value is a single")]
    fn stored(&self, value: f64) -> f64 {
        match self.wrap {
            _ if self.single => shortest(value as f32),
            Some((wrap, true)) if value < 0.0 => value + wrap,
            Some((wrap, false)) if value >= wrap / 2.0 => value - wrap,
            _ => value,
        }
    }

    fn unpacked(&self, stored: f64) -> f64 {
        match (self.scale, self.offset) {
            (None, None) => stored,
            (scale, offset) => few(stored * scale.unwrap_or(1.0) + offset.unwrap_or(0.0)),
        }
    }
}

/// `_Unsigned = "true"` on a signed type, `"false"` on an unsigned one (NetCDF
/// attribute conventions): 2 to the bits, and whether it is to be unsigned.
fn wrap(variable: &NcVariable) -> Option<(f64, bool)> {
    let stated = attributes::text(&variable.attributes, "_Unsigned")?;
    let unsigned = stated.eq_ignore_ascii_case("true");
    let bits = match (&variable.dtype, unsigned) {
        (NcType::Byte, true) | (NcType::UByte, false) => 8,
        (NcType::Short, true) | (NcType::UShort, false) => 16,
        (NcType::Int, true) | (NcType::UInt, false) => 32,
        _ => return None,
    };
    Some((2f64.powi(bits), unsigned))
}

/// The fill value of a type where a file states none (`netcdf.h`, `NC_FILL_…`);
/// octets are too few to spare one.
fn default_fill(kind: &NcType) -> Option<f64> {
    match kind {
        NcType::Short => Some(-32767.0),
        NcType::UShort => Some(65535.0),
        NcType::Int => Some(-2_147_483_647.0),
        NcType::UInt => Some(4_294_967_295.0),
        NcType::Int64 => Some(-9_223_372_036_854_775_806.0),
        NcType::UInt64 => Some(18_446_744_073_709_551_614.0),
        NcType::Float | NcType::Double => Some(9.969_209_968_386_869e36),
        _ => None,
    }
}
