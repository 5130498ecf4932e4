//! What a file says of the profile as a whole: station and start.

use jiff::civil::DateTime;
use netcdf_reader::{NcAttrValue, NcSliceInfo, NcType};

use crate::input::SourceError;
use crate::input::elements::known;
use crate::input::netcdf::attributes;
use crate::input::netcdf::layout::Shape;
use crate::input::netcdf::reader::Reader;
use crate::input::netcdf::time;
use crate::input::netcdf::{units, values};
use crate::input::sheet;
use crate::model::Context;
use crate::model::finding::{Finding, Place, finding};
use crate::physics::drift::wrapped;

/// Values that stand once for the profile.
#[derive(Default)]
pub(super) struct Once {
    latitude_deg: Option<f64>,
    longitude_deg: Option<f64>,
    elevation_m: Option<f64>,
    station: Option<String>,
    /// Date and time, UTC, of the profile.
    pub(super) start: Option<DateTime>,
    /// The variables they come from, and what they are interpreted as.
    pub(super) used: Vec<(usize, &'static str)>,
}

/// Reads them. A place that two variables give is not taken; what cannot be read is
/// left to the sheet, but a time that is given is held to its unit.
pub(super) fn once(reader: &Reader<'_>) -> Result<Once, SourceError> {
    let mut once = Once::default();
    once.latitude_deg = number(reader, "latitude_deg", &mut once.used);
    once.longitude_deg = number(reader, "longitude_deg", &mut once.used);
    // The height of the surface before that of the platform.
    once.elevation_m = number(reader, "station.elevation_m", &mut once.used);
    if once.elevation_m.is_none() {
        once.elevation_m = number(reader, "altitude_m", &mut once.used);
    }
    once.start = start(reader, &mut once.used)?;
    once.station = station(reader, &mut once.used);
    Ok(once)
}

/// The one variable of a kind with a single value.
fn single(reader: &Reader<'_>, target: &str) -> Option<(usize, NcSliceInfo)> {
    let mut found = None;
    for c in reader.candidates.iter().filter(|c| c.target == target) {
        if let Shape::Once(selection) = reader.layout.shape(reader.variable(c.at)?) {
            if found.is_some() {
                return None;
            }
            found = Some((c.at, selection));
        }
    }
    found
}

/// The value of the one variable of a kind, in our unit and within its bounds; the
/// attribute of the file with the standard name where there is none.
fn number(
    reader: &Reader<'_>,
    target: &'static str,
    used: &mut Vec<(usize, &'static str)>,
) -> Option<f64> {
    let column = if target == "station.elevation_m" {
        "altitude_m"
    } else {
        target
    };
    let known = known::known(column)?;
    let value = match single(reader, target) {
        Some((at, selection)) => {
            let variable = reader.variable(at)?;
            let read = values::read(reader.file, variable, &selection, 1).ok()?;
            let value = read.values.first().copied().flatten()?;
            let unit = match reader.unit(known, at) {
                Some(unit) => known::unit(known, &unit)?,
                None => known.units.first()?,
            };
            used.push((at, column));
            units::ours(unit, value)
        }
        None => {
            let names = crate::tables::cf_names()
                .iter()
                .filter(|n| n.column == target);
            let mut values = names.filter_map(|n| {
                let value = attributes::find(reader.file.attributes(), n.standard_name)?;
                value.as_f64_vec()?.first().copied()
            });
            values.next()?
        }
    };
    known.allows(value).then_some(value)
}

/// The time of the profile as a whole.
fn start(
    reader: &Reader<'_>,
    used: &mut Vec<(usize, &'static str)>,
) -> Result<Option<DateTime>, SourceError> {
    let Some((at, selection)) = single(reader, "time_s") else {
        return Ok(None);
    };
    let (Some(variable), Some(unit)) = (reader.variable(at), reader.attribute(at, "units")) else {
        return Ok(None);
    };
    if time::parse(&unit).is_none_or(|u| u.epoch.is_none()) {
        return Ok(None);
    }
    let unit = reader.time_unit(at, &unit)?;
    let read = values::read(reader.file, variable, &selection, 1)?;
    let value = read.values.first().copied().flatten();
    used.push((at, "time_s"));
    Ok(value.and_then(|v| unit.moment(v, variable.dtype == NcType::Float)))
}

/// The identifier of the station: the variable `platform_id`, or the attribute of the
/// file `wigos_station_identifier` or `platform_id`.
fn station(reader: &Reader<'_>, used: &mut Vec<(usize, &'static str)>) -> Option<String> {
    let of_file = |name: &str| attributes::text(reader.file.attributes(), name);
    let mut candidates = reader
        .candidates
        .iter()
        .filter(|c| c.target == "station.wigos_id");
    let variable = match (candidates.next(), candidates.next()) {
        (Some(one), None) => Some(one.at),
        _ => None,
    };
    let text = variable.and_then(|at| reader.file.text(reader.variable(at)?));
    if let Some(at) = variable.filter(|_| text.is_some()) {
        used.push((at, "wigos_id"));
    }
    let text = text.or_else(|| of_file("wigos_station_identifier"));
    text.or_else(|| of_file("platform_id"))
}

/// The sheet a file brings: station, release, and whether heights are above the
/// ellipsoid; `None` when it says nothing of these.
pub(super) fn sheet(
    reader: &Reader<'_>,
    once: &Once,
    start: Option<DateTime>,
    ellipsoid: bool,
    findings: &mut Vec<Finding>,
) -> Option<String> {
    // A file that we wrote has its whole sheet.
    if let Some(NcAttrValue::Chars(sheet)) =
        attributes::find(reader.file.attributes(), crate::forms::netcdf::SHEET)
    {
        return Some(sheet.clone());
    }
    let mut context = Context::default();
    let station = &mut context.station;
    station.latitude_deg = once.latitude_deg;
    station.longitude_deg = once.longitude_deg.map(wrapped);
    station.elevation_m = once.elevation_m;
    match once.station.as_deref().map(index) {
        Some(Id::Wigos(id)) => station.wigos_id = Some(id),
        Some(Id::Number(block, number)) => {
            station.wmo_block = Some(block);
            station.wmo_number = Some(number);
        }
        _ => {}
    }
    context.flight.release = start;
    if context.station == Context::default().station && start.is_none() && !ellipsoid {
        return None;
    }
    let (mut sheet, left_out) = sheet::print(&context);
    for key in left_out {
        let place = Place::key(&key).in_file(reader.file.name);
        findings.push(finding!(NotForASheet, place, key = key));
    }
    if ellipsoid {
        sheet.push_str("\n[profile]\nheight_reference = \"ellipsoid\"\n");
    }
    Some(sheet)
}

/// An identifier of a station in a form we know.
enum Id {
    Wigos(String),
    /// Block and number of the WMO index.
    Number(u8, u16),
    Other,
}

/// A WIGOS identifier (four parts, WMO-No. 1160) or an index of five figures IIiii;
/// whatever else an institution calls its stations says nothing.
fn index(text: &str) -> Id {
    let parts: Vec<&str> = text.split('-').collect();
    let figures = |text: &&str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    if let [series, issuer, number, local] = parts.as_slice()
        && [series, issuer, number].into_iter().all(figures)
        && !local.is_empty()
    {
        return Id::Wigos(text.to_owned());
    }
    if text.len() == 5 && figures(&text) {
        let (block, number) = text.split_at(2);
        if let (Ok(block), Ok(number)) = (block.parse(), number.parse()) {
            return Id::Number(block, number);
        }
    }
    Id::Other
}
