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
    // Who checked the sonde made the observation, unless the sheet names another.
    if (descriptor.x(), descriptor.y()) == (1, 95) && context.flight.observer.is_none() {
        let check = context.ground_check.as_ref();
        let operator = check.and_then(|check| check.operator.as_deref());
        return Figure::text(operator);
    }
    let mut carried = CARRIED.iter();
    let carried = carried.find(|key| key.descriptor == descriptor);
    carried.map_or(Figure::Missing, |key| (key.figure)(context))
}

/// The code figures of a context, with their keys in the sheet and their elements.
pub(crate) fn codes(context: &Context) -> impl Iterator<Item = (&'static str, Descriptor, u32)> {
    CARRIED
        .iter()
        .filter_map(|key| match (key.figure)(context) {
            Figure::Code(code) => Some((key.name, key.descriptor, u32::try_from(code).ok()?)),
            _ => None,
        })
}

/// The element that carries a key of the sheet.
#[cfg(feature = "cli")]
pub(crate) fn descriptor(key: &str) -> Option<Descriptor> {
    let mut carried = CARRIED.iter();
    carried
        .find(|one| one.name == key)
        .map(|one| one.descriptor)
}

/// A field as it was read.
#[derive(Clone, Debug)]
pub(super) struct Given {
    pub(super) code: Option<i64>,
    pub(super) value: Option<f64>,
    pub(super) text: Option<String>,
}

/// Reads back what [`figure`] writes.
pub(super) fn read(given: impl Fn(Descriptor) -> Given, context: &mut Context) {
    let measuring = given(Descriptor::from_bits(0x0203)).code;
    let measuring = measuring.and_then(|figure| u8::try_from(figure).ok());
    context.equipment.measuring = measuring.and_then(tables::measuring_figure);
    for key in CARRIED {
        (key.read)(context, given(key.descriptor));
    }
}

/// The key of the sheet that gives a text.
pub(super) fn key(descriptor: Descriptor) -> &'static str {
    match (descriptor.x(), descriptor.y()) {
        (1, 6 | 11) => "station.call_sign",
        (1, 128) => "station.wigos_id",
        _ => {
            let mut carried = CARRIED.iter();
            let carried = carried.find(|key| key.descriptor == descriptor);
            carried.map_or("equipment.software", |key| key.name)
        }
    }
}

/// A key of the sheet that an element carries.
struct Carried {
    descriptor: Descriptor,
    name: &'static str,
    figure: fn(&Context) -> Figure,
    read: fn(&mut Context, Given),
}

macro_rules! carried {
    ($($x:literal $y:literal $table:ident.$key:ident $(* $per_unit:literal)?;)+) => {
        /// The keys that elements of class 2, and some of classes 1, 25 and 35, carry; a
        /// factor is the number of units of the element in one unit of the key.
        const CARRIED: &[Carried] = &[$(Carried {
            descriptor: Descriptor::from_bits($x << 8 | $y),
            name: concat!(stringify!($table), ".", stringify!($key)),
            figure: |context| context.$table.$key.figure(1.0 $(* $per_unit)?),
            read: |context, given| {
                context.$table.$key = Carries::given(given, 1.0 $(* $per_unit)?);
            },
        }),+];
    };
}

carried! {
    2 11 equipment.radiosonde;
    2 13 equipment.radiation;
    2 14 equipment.tracking;
    2 15 equipment.completeness;
    2 16 equipment.configuration;
    2 17 equipment.humidity_correction;
    2 66 equipment.receiver;
    2 67 equipment.frequency_mhz * 1e6;
    2 80 balloon.maker;
    2 81 balloon.kind;
    2 82 balloon.mass_kg;
    2 83 balloon.shelter;
    2 84 balloon.gas;
    2 85 balloon.gas_kg;
    2 86 balloon.train_m;
    2 95 equipment.pressure_sensor;
    2 96 equipment.temperature_sensor;
    2 97 equipment.humidity_sensor;
    2 103 equipment.radome;
    2 191 equipment.height_calculation;
    25 61 equipment.software;
    1 81 flight.serial;
    1 82 flight.ascent;
    1 83 flight.release_number;
    1 95 flight.observer;
    35 35 flight.termination;
}

/// A value of a key that an element carries.
trait Carries: Sized {
    fn figure(&self, per_unit: f64) -> Figure;
    fn given(given: Given, per_unit: f64) -> Self;
}

impl Carries for Option<u8> {
    fn figure(&self, _: f64) -> Figure {
        Figure::code(*self)
    }

    fn given(given: Given, _: f64) -> Self {
        given.code.and_then(|code| code.try_into().ok())
    }
}

impl Carries for Option<u32> {
    fn figure(&self, _: f64) -> Figure {
        Figure::code(*self)
    }

    fn given(given: Given, _: f64) -> Self {
        given.code.and_then(|code| code.try_into().ok())
    }
}

impl Carries for Option<f64> {
    fn figure(&self, per_unit: f64) -> Figure {
        Figure::value(self.map(|value| value * per_unit))
    }

    fn given(given: Given, per_unit: f64) -> Self {
        given.value.map(|value| value / per_unit)
    }
}

impl Carries for Option<String> {
    fn figure(&self, _: f64) -> Figure {
        Figure::text(self.as_deref())
    }

    fn given(given: Given, _: f64) -> Self {
        given.text
    }
}

/// What a text of a number of characters may be.
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
