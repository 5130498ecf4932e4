//! The code figures that a key may have, in the words of their tables.

use crate::forms::bufr;
use crate::input::sheet::{Key, KeyKind};
use crate::tables;
use crate::tables::{CloudMeaning, Descriptor, FigureTable, TrackingGroup};

/// Figures and what they mean; none where the key has no table, or one of names that are
/// not here.
pub(crate) fn of(key: &Key) -> Vec<(u32, String)> {
    let clouds = |rows: &[CloudMeaning]| {
        let one = |row: &CloudMeaning| (u32::from(row.figure), row.meaning.to_owned());
        rows.iter().map(one).collect()
    };
    match key.name.as_str() {
        "clouds.nh" => clouds(tables::cloud_amounts()),
        "clouds.cl" => clouds(tables::low_clouds()),
        "clouds.cm" => clouds(tables::middle_clouds()),
        "clouds.ch" => clouds(tables::high_clouds()),
        "clouds.h" => {
            let range = |base: &tables::CloudBase| match base.to_m {
                Some(to) => format!("{} to {to} m", base.from_m),
                None => format!("{} m or higher, or no cloud", base.from_m),
            };
            let one = |base: &tables::CloudBase| (u32::from(base.figure), range(base));
            tables::cloud_bases().iter().map(one).collect()
        }
        "flight.reason" => tables::additional_data()
            .iter()
            .map(|row| (u32::from(row.figure), row.meaning.to_owned()))
            .filter(|(figure, _)| in_range(key, *figure))
            .collect(),
        "equipment.measuring" => tables::measuring()
            .iter()
            .map(|row| (u32::from(row.figure), row.meaning.to_owned()))
            .collect(),
        "equipment.tracking" => (0..=u8::MAX)
            .filter_map(tables::tracking)
            .filter(|row| row.group == TrackingGroup::Tracking && !row.reserved)
            .map(|row| (u32::from(row.figure), row.meaning.to_owned()))
            .collect(),
        "station.elevation_quality" => of_element(key, Descriptor::from_bits(33 << 8 | 24)),
        name => bufr::descriptor(name).map_or_else(Vec::new, |element| of_element(key, element)),
    }
}

fn in_range(key: &Key, figure: u32) -> bool {
    match key.kind {
        KeyKind::Integer(low, high) => {
            let figure = i64::from(figure);
            low.is_none_or(|low| low <= figure) && high.is_none_or(|high| figure <= high)
        }
        _ => false,
    }
}

/// The figures of an element of BUFR; the bits of a flag table.
fn of_element(key: &Key, element: Descriptor) -> Vec<(u32, String)> {
    let flags = FigureTable::of(element).is_some_and(FigureTable::is_flags);
    let figures = (0..=255_u32).filter(|n| in_range(key, *n) && (!flags || n.is_power_of_two()));
    figures
        .filter_map(|n| Some((n, tables::bufr_figure(element, n)?)))
        .collect()
}
