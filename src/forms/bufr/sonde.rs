//! Sonde, balloon and ground equipment: 3 01 128 and the four figures of 3 01 111.

use super::Descriptor;
use super::figure::Figure;
use crate::model::{Context, Report};
use crate::tables;

/// Whether the sheet gives anything that 3 01 128 carries.
pub(super) fn is_known(context: &Context) -> bool {
    tables::bufr_sequence(Descriptor::from_bits(0xC180))
        .into_iter()
        .flatten()
        .any(|&member| known(context, member) != Figure::Missing)
}

/// One field of what is known of sonde and balloon.
pub(super) fn figure(report: &Report, descriptor: Descriptor) -> Figure {
    match (descriptor.x(), descriptor.y()) {
        (2, 3) => {
            let part = report.parts.values().find_map(|kept| kept.measuring);
            let figure = part.or(report.context.equipment.measuring);
            Figure::code(figure.and_then(tables::measuring_bufr))
        }
        _ => known(&report.context, descriptor),
    }
}

fn known(context: &Context, descriptor: Descriptor) -> Figure {
    let (flight, equipment, balloon) = (&context.flight, &context.equipment, &context.balloon);
    match (descriptor.x(), descriptor.y()) {
        (2, 11) => Figure::code(equipment.radiosonde),
        (2, 13) => Figure::code(equipment.radiation),
        (2, 14) => Figure::code(equipment.tracking),
        (1, 81) => Figure::text(flight.serial.as_deref()),
        (1, 82) => Figure::code(flight.ascent),
        (1, 83) => Figure::code(flight.release_number),
        (2, 67) => Figure::value(equipment.frequency_mhz.map(|mhz| mhz * 1e6)),
        (1, 95) => Figure::text(flight.observer.as_deref()),
        (35, 35) => Figure::code(flight.termination),
        (25, 61) => Figure::text(equipment.software.as_deref()),
        (2, 15) => Figure::code(equipment.completeness),
        (2, 16) => Figure::code(equipment.configuration),
        (2, 17) => Figure::code(equipment.humidity_correction),
        (2, 66) => Figure::code(equipment.receiver),
        (2, 95) => Figure::code(equipment.pressure_sensor),
        (2, 96) => Figure::code(equipment.temperature_sensor),
        (2, 97) => Figure::code(equipment.humidity_sensor),
        (2, 103) => Figure::code(equipment.radome),
        (2, 191) => Figure::code(equipment.height_calculation),
        (2, 80) => Figure::code(balloon.maker),
        (2, 81) => Figure::code(balloon.kind),
        (2, 82) => Figure::value(balloon.mass_kg),
        (2, 83) => Figure::code(balloon.shelter),
        (2, 84) => Figure::code(balloon.gas),
        (2, 85) => Figure::value(balloon.gas_kg),
        (2, 86) => Figure::value(balloon.train_m),
        _ => Figure::Missing,
    }
}

/// A field as it was read.
pub(super) struct Given {
    pub(super) code: Option<i64>,
    pub(super) value: Option<f64>,
    pub(super) text: Option<String>,
}

/// Reads back what [`figure`] writes.
pub(super) fn read(given: impl Fn(Descriptor) -> Given, context: &mut Context) {
    fn small<T: TryFrom<i64>>(given: Given) -> Option<T> {
        given.code.and_then(|n| T::try_from(n).ok())
    }
    let of = |x: u16, y: u16| given(Descriptor::from_bits((x << 8) | y));
    let flight = &mut context.flight;
    let (equipment, balloon) = (&mut context.equipment, &mut context.balloon);
    equipment.measuring = small(of(2, 3)).and_then(tables::measuring_figure);
    equipment.radiosonde = small(of(2, 11));
    equipment.radiation = small(of(2, 13));
    equipment.tracking = small(of(2, 14));
    flight.serial = of(1, 81).text;
    flight.ascent = small(of(1, 82));
    flight.release_number = small(of(1, 83));
    equipment.frequency_mhz = of(2, 67).value.map(|hz| hz / 1e6);
    flight.observer = of(1, 95).text;
    flight.termination = small(of(35, 35));
    equipment.software = of(25, 61).text;
    equipment.completeness = small(of(2, 15));
    equipment.configuration = small(of(2, 16));
    equipment.humidity_correction = small(of(2, 17));
    equipment.receiver = small(of(2, 66));
    equipment.pressure_sensor = small(of(2, 95));
    equipment.temperature_sensor = small(of(2, 96));
    equipment.humidity_sensor = small(of(2, 97));
    equipment.radome = small(of(2, 103));
    equipment.height_calculation = small(of(2, 191));
    balloon.maker = small(of(2, 80));
    balloon.kind = small(of(2, 81));
    balloon.mass_kg = of(2, 82).value;
    balloon.shelter = small(of(2, 83));
    balloon.gas = small(of(2, 84));
    balloon.gas_kg = of(2, 85).value;
    balloon.train_m = of(2, 86).value;
}

/// The key of the sheet that gives a text.
pub(super) fn key(descriptor: Descriptor) -> &'static str {
    match (descriptor.x(), descriptor.y()) {
        (1, 6 | 11) => "station.call_sign",
        (1, 128) => "station.wigos_id",
        (1, 81) => "flight.serial",
        (1, 95) => "flight.observer",
        _ => "equipment.software",
    }
}

/// What a text of so many characters may be.
pub(super) const fn allowed(most: usize) -> &'static str {
    match most {
        4 => "at most 4 characters of CCITT IA5",
        8 => "at most 8 characters of CCITT IA5",
        9 => "at most 9 characters of CCITT IA5",
        12 => "at most 12 characters of CCITT IA5",
        16 => "at most 16 characters of CCITT IA5 in its last piece",
        _ => "at most 20 characters of CCITT IA5",
    }
}
