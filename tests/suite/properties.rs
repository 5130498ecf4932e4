//! The laws of the design, for generated flights.

use crate::within;

use fivefig::forms::text::{Message, message, parse};
use fivefig::forms::{bufr, json};
use fivefig::input::{RawProfile, RawRow};
use fivefig::issue;
use fivefig::levels::{choose, choose_winds, mark_sent, up_to_100};
use fivefig::model::finding::Finding;
use fivefig::model::quantity::SpeedUnit;
use fivefig::model::{
    Action, Axis, CallSign, Clouds, Coding, Context, Doubted, Flight, Form, Motion, Noted, Order,
    Part, PilotLevels, Position, Profile, Reach, Region, Row, Station, StationKind, Surface, Wind,
    WmoNumber,
};
use fivefig::physics::humidity::relative_humidity_pct;
use fivefig::profile;
use jiff::civil::date;
use proptest::prelude::*;

/// One stretch of a flight: lapse K/km, depression K, turn ° and rise m/s.
type Stretch = (f64, f64, f64, f64);

/// A flight of stretches of 1.5 km, a row every 60 gpm.
fn flight(surface_hpa: f64, stretches: &[Stretch]) -> Profile {
    let (mut p, mut t, mut dir, mut speed) = (surface_hpa, 12.0_f64, 200.0_f64, 5.0_f64);
    let mut rows = Vec::new();
    let mut z = 50.0;
    for &(lapse, depression, turn, rise) in stretches {
        for _ in 0..25 {
            let td = t - depression;
            rows.push(Row {
                time_s: Some(z / 5.0),
                pressure_hpa: Some((p * 100.0).round() / 100.0),
                height_gpm: Some(z),
                temperature_c: Some(t),
                dewpoint_c: Some(td),
                humidity_pct: Some(relative_humidity_pct(t, td)),
                wind: Some(Wind {
                    dir_deg: dir.rem_euclid(360.0),
                    speed_ms: speed.clamp(0.0, 120.0),
                }),
                ..Row::default()
            });
            p *= (-60.0 * 0.034_163 / (t + 273.15)).exp();
            t = (t - lapse * 0.06).clamp(-95.0, 45.0);
            dir += turn / 25.0;
            speed += rise / 25.0;
            z += 60.0;
        }
    }
    rows.dedup_by(|b, a| b.pressure_hpa >= a.pressure_hpa);
    Profile {
        rows,
        ..Profile::default()
    }
}

fn coded(profile: &Profile) -> Message {
    coded_in(profile, SpeedUnit::MetresPerSecond)
}

fn coded_in(profile: &Profile, wind_unit: SpeedUnit) -> Message {
    code(Form::Temp, profile, &context(wind_unit), Reach::Whole)
}

fn context(wind_unit: SpeedUnit) -> Context {
    Context {
        station: Station::default().with_wmo(WmoNumber::new(99, 1).unwrap()),
        flight: Flight {
            release: Some(date(2031, 1, 15).at(11, 30, 0, 0)),
            ..Flight::default()
        },
        coding: Coding {
            shear: true,
            wind_unit,
            ..Coding::default()
        },
        ..Context::default()
    }
}

fn code(form: Form, profile: &Profile, context: &Context, reach: Reach) -> Message {
    let choose = match form {
        Form::Pilot => choose_winds,
        _ => choose,
    };
    let levels = choose(profile, &context.coding, &context.orders, reach);
    let report = issue::report::build(form, profile, levels, context, reach)
        .unwrap()
        .value;
    message(&report).unwrap().value
}

fn stretches() -> impl Strategy<Value = Vec<Stretch>> {
    let one = (
        -8.0..9.0_f64,
        0.0..40.0_f64,
        -150.0..150.0_f64,
        -20.0..20.0_f64,
    );
    prop::collection::vec(one, 2..18)
}

/// What is missing: which element, from which share of the rows, how many.
type Hole = (usize, f64, usize);

fn holed(mut profile: Profile, holes: &[Hole]) -> Profile {
    let n = profile.rows.len() as f64;
    for &(element, from, count) in holes {
        let rows = profile.rows.iter_mut().skip(1 + (from * n) as usize);
        for row in rows.take(count) {
            if element == 0 {
                row.temperature_c = None;
            }
            if element < 2 {
                row.humidity_pct = None;
                row.dewpoint_c = None;
            }
            if element == 2 {
                row.wind = None;
            }
        }
    }
    profile
}

fn holes() -> impl Strategy<Value = Vec<Hole>> {
    prop::collection::vec((0..3_usize, 0.0..1.0_f64, 1..60_usize), 0..4)
}

fn unit() -> impl Strategy<Value = SpeedUnit> {
    prop_oneof![Just(SpeedUnit::MetresPerSecond), Just(SpeedUnit::Knots)]
}

fn region() -> impl Strategy<Value = Region> {
    prop::sample::select(vec![
        Region::None,
        Region::I,
        Region::II,
        Region::III,
        Region::IV,
        Region::V,
        Region::VI,
    ])
}

fn manner() -> impl Strategy<Value = Option<PilotLevels>> {
    prop::sample::select(vec![
        None,
        Some(PilotLevels::Height300),
        Some(PilotLevels::Height500),
        Some(PilotLevels::Pressure),
    ])
}

fn form() -> impl Strategy<Value = Form> {
    prop_oneof![Just(Form::Temp), Just(Form::Pilot)]
}

/// The rows as a file without times has them.
fn file(rows: &[Row]) -> RawProfile {
    let rows = rows.iter().enumerate().map(|(k, row)| RawRow {
        line: k + 2,
        pressure_hpa: row.pressure_hpa,
        height_gpm: row.height_gpm,
        temperature_c: row.temperature_c,
        humidity_pct: row.humidity_pct,
        wind_dir_deg: row.wind.map(|w| w.dir_deg),
        wind_speed_ms: row.wind.map(|w| w.speed_ms),
        ..RawRow::default()
    });
    RawProfile {
        start: None,
        name: "generated".to_owned(),
        rows: rows.collect(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// With holes, in both units, from a surface below sea level too.
    #[test]
    fn a_message_with_holes_reads_back(
        (surface, sea) in (780.0..1060.0_f64, -400.0..200.0_f64),
        s in stretches(), holes in holes(), unit in unit(),
    ) {
        let mut profile = holed(flight(surface, &s), &holes);
        for row in &mut profile.rows {
            row.height_gpm = row.height_gpm.map(|z| z + sea);
        }
        let m = coded_in(&profile, unit);
        let read = parse(&m.to_string());
        prop_assert_eq!(read.as_ref(), Ok(&m));
        prop_assert_eq!(message(&m.report()).unwrap().value, m);
    }

    /// PILOT by height or by pressure, pressure lost on the way or not.
    #[test]
    fn a_pilot_reads_back_and_stands_for_itself(
        surface in 780.0..1040.0_f64, s in stretches(), holes in holes(), unit in unit(),
        (region, manner) in (region(), manner()), lost in prop::option::of(0.0..1.0_f64),
    ) {
        let mut profile = holed(flight(surface, &s), &holes);
        let by_height = manner != Some(PilotLevels::Pressure);
        let n = profile.rows.len() as f64;
        if by_height {
            profile.axis = Axis::Height;
            let from = lost.map_or(usize::MAX, |share| (share * n) as usize);
            for row in profile.rows.iter_mut().skip(from) {
                row.pressure_hpa = None;
            }
        }
        prop_assume!(profile.rows.iter().any(|r| r.wind.is_some()));
        let mut context = context(unit);
        context.coding.region = region;
        context.coding.pilot_levels = manner;
        context.equipment.measuring = Some(0);
        let m = code(Form::Pilot, &profile, &context, Reach::Whole);
        let read = parse(&m.to_string());
        prop_assert_eq!(read.as_ref(), Ok(&m));
        prop_assert_eq!(message(&m.report()).unwrap().value, m);
    }

    /// Ships, mobile stations and drops, anywhere, with the practice of any
    /// Region.
    #[test]
    fn other_kinds_read_back_and_stand_for_themselves(
        surface in 850.0..1040.0_f64, s in stretches(), holes in holes(), unit in unit(),
        region in region(), kind in 0..3_usize, place in (-90.0..=90.0_f64, -180.0..=180.0_f64),
        (elevation, quality, aloft) in (0.0..3000.0_f64, 1..=8_u8, any::<bool>()),
    ) {
        let mut profile = holed(flight(surface, &s), &holes);
        let mut context = context(unit);
        let kinds = [StationKind::Ship, StationKind::Mobile, StationKind::Drop];
        let sign = CallSign::new("XQ7INV").unwrap();
        let position = Position::new(place.0, place.1).unwrap();
        context.station = Station::mobile(sign, position, elevation, quality);
        context.station.kind = kinds[kind];
        context.coding.region = region;
        if kinds[kind] == StationKind::Drop {
            profile.motion = Motion::Falling;
            profile.ends_aloft = aloft;
        }
        let m = code(Form::Temp, &profile, &context, Reach::Whole);
        let read = parse(&m.to_string());
        prop_assert_eq!(read.as_ref(), Ok(&m));
        prop_assert_eq!(message(&m.report()).unwrap().value, m);
    }

    /// The early message says what the final one does in A and B, unless it
    /// says itself that something is pending.
    #[test]
    fn an_early_message_agrees_with_the_final_one(
        s in stretches(), holes in holes(), unit in unit(), form in form(), more in 0..60_usize,
    ) {
        let low: Vec<Stretch> = s.iter().cycle().take(18).copied().collect();
        let mut profile = holed(flight(1010.0, &low), &holes);
        if form == Form::Pilot {
            profile.axis = Axis::Height;
        }
        prop_assume!(profile.rows.iter().any(|r| r.wind.is_some()));
        let context = context(unit);
        prop_assert!(up_to_100(&profile, &context.coding).is_some());
        // So far the ascent has gone a few rows further.
        let mut so_far = profile.clone();
        so_far.rows.truncate(up_to_100(&profile, &context.coding).unwrap().rows.len() + more);
        let early = issue::code(form, &so_far, &context, Reach::To100).unwrap();
        let last = issue::code(form, &profile, &context, Reach::Whole).unwrap();
        prop_assert_eq!(early.message.parts.len(), 2);
        let says = |found: &[Finding], what: &str| found.iter().any(|f| f.code.contains(what));
        let same = [Part::A, Part::B]
            .iter()
            .all(|&part| early.message.groups(part) == last.message.groups(part));
        if !same {
            let pending = says(&early.findings, "pending");
            prop_assert!(pending, "{}\n{}", early.message, last.message);
        }
        // Reported is only what has to be corrected, and then it is not the same.
        if more == 0 && says(&last.findings, "early-message-differs") {
            prop_assert!(!same);
        }
    }

    /// A report chosen again from its own levels is the same, and one whose surface
    /// changed by up to 1 K still keeps every limit.
    #[test]
    fn sent_levels_stay_and_the_limits_hold(
        surface in 780.0..1040.0_f64, s in stretches(), holes in holes(), unit in unit(),
        off in -1.0..=1.0_f64,
    ) {
        let profile = holed(flight(surface, &s), &holes);
        prop_assume!(profile.rows.iter().any(|r| r.wind.is_some()));
        let context = context(unit);
        let was = issue::code(Form::Temp, &profile, &context, Reach::Whole).unwrap();
        let mut again = profile.clone();
        mark_sent(&mut again, &was.report, &context.coding);
        let same = issue::code(Form::Temp, &again, &context, Reach::Whole).unwrap();
        prop_assert_eq!(&same.message, &was.message);
        let mut changed = profile.clone();
        let first = &mut changed.rows[0];
        if let (Some(t), Some(td)) = (first.temperature_c, first.dewpoint_c) {
            first.temperature_c = Some(t + off);
            first.dewpoint_c = Some(td + off);
            first.humidity_pct = Some(relative_humidity_pct(t + off, td + off));
        }
        for sent in [&was.report, &was.message.report()] {
            let mut changed = changed.clone();
            mark_sent(&mut changed, sent, &context.coding);
            let levels = choose(&changed, &context.coding, &[], Reach::Whole);
            let [held, ..] = within::every_row("changed", &changed, &levels);
            prop_assert!(held > 0 || !holes.is_empty());
        }
    }

    /// WMO-No. 306, 35.3.1.3 and 35.3.2.1, before rounding.
    #[test]
    fn every_row_is_within_the_limits(
        surface in 780.0..1040.0_f64, s in stretches(), holes in holes(), unit in unit(),
    ) {
        let profile = holed(flight(surface, &s), &holes);
        let coding = Coding { wind_unit: unit, ..Coding::default() };
        let levels = choose(&profile, &coding, &[], Reach::Whole);
        let [held, ..] = within::every_row("generated", &profile, &levels);
        prop_assert!(held > 0 || !holes.is_empty());
    }

    /// Pressures to whole hPa tie aloft; the order of such rows in the file is
    /// of no account, for their heights say it.
    #[test]
    fn rows_of_equal_pressure_come_in_any_order(s in stretches(), seed in any::<u64>()) {
        let mut rows = flight(1010.0, &s).rows;
        for row in &mut rows {
            row.pressure_hpa = row.pressure_hpa.map(f64::round);
        }
        let mut turned = rows.clone();
        for (k, run) in turned.chunk_by_mut(|a, b| a.pressure_hpa == b.pressure_hpa).enumerate() {
            let by = (seed >> (k % 60)) as usize % run.len();
            run.rotate_left(by);
            if by == 1 {
                run.reverse();
            }
        }
        let build = |rows: &[Row]| profile::build(&file(rows), &Context::default()).unwrap().value;
        let (one, two) = (build(&rows), build(&turned));
        prop_assert_eq!(&one, &two);
        prop_assert_eq!(coded(&one), coded(&two));
    }

    #[test]
    fn a_message_reads_back_and_stands_for_itself(surface in 780.0..1040.0_f64, s in stretches()) {
        let m = coded(&flight(surface, &s));
        let read = parse(&m.to_string());
        prop_assert_eq!(read.as_ref(), Ok(&m));
        let again = message(&m.report()).unwrap().value;
        prop_assert_eq!(again, m);
    }

    /// Whatever lies more than 2 km above 100 hPa leaves A and B as they are, but for the
    /// maximum winds: whether a peak is one depends on the minimum above it, wherever that
    /// lies (35.2.4 speaks of the sounding), and it is a significant level as well.
    #[test]
    fn a_and_b_rest_on_what_lies_below(s in stretches(), other in stretches()) {
        let low: Vec<Stretch> = s.iter().cycle().take(18).copied().collect();
        let profile = flight(1010.0, &low);
        let top = profile.rows.last().unwrap().pressure_hpa.unwrap();
        prop_assert!(top < 70.0);
        let mut changed = low.clone();
        changed.extend(other);
        let (one, two) = (coded(&profile), coded(&flight(1010.0, &changed)));
        let maxima = |m: &Message| m.standard(Part::A).map(|part| part.maxima.clone());
        if maxima(&one) == maxima(&two) {
            for part in [Part::A, Part::B] {
                prop_assert_eq!(one.groups(part), two.groups(part));
            }
        } else {
            let rest = |m: &Message| {
                let part = m.standard(Part::A).unwrap();
                (part.surface, part.standard.clone(), part.tropopauses.clone())
            };
            prop_assert_eq!(rest(&one), rest(&two));
        }
    }

    #[test]
    fn any_text_reads_or_is_refused(text in "(TT(AA|BB|CC|DD) )?([0-9/ =]{0,200})") {
        if let Ok(m) = parse(&text) {
            prop_assert_eq!(parse(&m.to_string()), Ok(m));
        }
    }
}

/// Where a change falls, a number, a whole number and a text for it.
type Change = (u8, f64, u16, String);

/// Anything a program may put into a public field of a context.
fn put(context: &mut Context, (field, number, whole, text): &Change) {
    let (number, whole, text) = (*number, *whole, text.clone());
    let byte = u8::try_from(whole % 256).unwrap();
    let kinds = [
        StationKind::Land,
        StationKind::Ship,
        StationKind::Mobile,
        StationKind::Drop,
    ];
    let station = &mut context.station;
    match field % 24 {
        0 | 1 => {
            if let Ok(wmo) = WmoNumber::new(byte, whole) {
                *station = station.clone().with_wmo(wmo);
            }
        }
        2 | 3 => {
            if let Ok(position) = Position::new(number, f64::from(byte)) {
                *station = station.clone().at(position);
            }
        }
        4 => station.elevation_m = Some(number),
        5 => station.wigos_id = Some(text),
        6 => {
            if let Ok(sign) = CallSign::new(&text) {
                *station = station.clone().with_call_sign(sign);
            }
        }
        7 => station.kind = kinds[usize::from(whole % 4)],
        8 => station.elevation_quality = Some(byte),
        9 => {
            context.flight.release =
                Some(date(i16::try_from(whole % 9999).unwrap(), 7, 3).at(23, 45, 0, 0))
        }
        10 => context.flight.reason = Some(byte),
        11 => context.equipment.radiosonde = Some(byte),
        12 => context.equipment.radiation = Some(byte),
        13 => context.equipment.tracking = Some(byte),
        14 => context.equipment.measuring = Some(byte),
        15 => context.equipment.software = Some(text),
        16 => {
            let figure = Some(byte % 16);
            context.clouds = Some(Clouds {
                nh: figure,
                h: figure,
                cl: figure,
                cm: figure,
                ch: figure,
                ..Clouds::default()
            });
        }
        17 => {
            context.surface = Some(Surface {
                pressure_hpa: Some(number),
                sea_temperature_c: Some(number),
                ..Surface::default()
            });
        }
        18 => drop(context.section9.insert(Part::A, vec![text])),
        19 => drop(context.section10.insert(Part::B, vec![text])),
        20 => context.orders.push(Order::Level {
            action: Action::Force,
            pressure_hpa: number,
            reason: text,
        }),
        21 => context.orders.push(Order::Doubtful {
            doubtful: Doubted::Both,
            from_hpa: number,
            to_hpa: 400.0,
            reason: text,
        }),
        22 => context.bufr.centre = Some(whole),
        _ => context.balloon.mass_kg = Some(number),
    }
}

/// Anything a program may put into the rows of a profile.
fn disturb(profile: &mut Profile, (field, number, whole, _): &Change) {
    let length = profile.rows.len();
    let at = usize::from(*whole) % length;
    let row = &mut profile.rows[at];
    match field % 8 {
        0 => profile.rows.reverse(),
        1 => profile.rows.swap(at, (at * 7 + 1) % length),
        2 => profile.rows.truncate(usize::from(*whole) % 4),
        3 => row.pressure_hpa = Some(*number),
        4 => row.height_gpm = Some(*number),
        5 => row.temperature_c = Some(*number),
        6 => {
            row.wind = Some(Wind {
                dir_deg: *number,
                speed_ms: number.abs(),
            })
        }
        _ => row.pressure_hpa = None,
    }
}

fn changes(most: usize) -> impl Strategy<Value = Vec<Change>> {
    let number = prop_oneof![any::<f64>(), -200.0..1200.0_f64, Just(f64::NAN), Just(0.0),];
    let text = prop_oneof![
        ".{0,6}",
        "[A-Z0-9/]{0,9}",
        "[0-9/]{5}",
        "0-20000-0-990[0-9]{2}"
    ];
    let one = (any::<u8>(), number, any::<u16>(), text);
    prop::collection::vec(one, 0..=most)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// What the public interface returns as `Ok` is read back by the strict readers
    /// of text, JSON and BUFR, whatever a program put into context and rows.
    #[test]
    fn what_is_accepted_reads_back(
        s in prop::collection::vec((4.0..8.0_f64, 0.0..30.0_f64, -60.0..60.0_f64, -5.0..10.0_f64), 6..10),
        form in form(),
        fields in changes(2),
        rows in changes(1),
    ) {
        let mut profile = flight(1000.0, &s);
        let mut context = context(SpeedUnit::MetresPerSecond);
        context.station = context.station
            .at(Position::new(51.25, -3.4).unwrap())
            .with_call_sign(CallSign::new("XQ7INV").unwrap());
        context.station.elevation_m = Some(50.0);
        context.station.elevation_quality = Some(1);
        for change in &fields {
            put(&mut context, change);
        }
        for change in &rows {
            disturb(&mut profile, change);
        }
        let coded = issue::code(form, &profile, &context, Reach::Whole);
        if fields.is_empty() && rows.is_empty() {
            prop_assert!(coded.is_ok(), "{:?}", coded.err());
        }
        if let Ok(coded) = coded {
            let text = coded.message.to_string();
            let read = parse(&text);
            prop_assert_eq!(read.as_ref(), Ok(&coded.message), "{}", text);
            let record = json::Record::new(&coded.report, Some(&coded.message), &[], None);
            let document = json::write(vec![record]).unwrap();
            let back = json::read(&document).unwrap();
            let report = back[0].report(1).unwrap();
            prop_assert_eq!(message(&report).unwrap().value, coded.message);
            if let Ok(Noted { value: octets, .. }) = bufr::write(&coded.report) {
                let received = bufr::read(&octets).unwrap();
                let soundings = bufr::to_report(&received).unwrap();
                let station = &soundings[0].report.context.station;
                prop_assert_eq!(station.wmo(), context.station.wmo().filter(|_| station.wmo().is_some()));
                prop_assert_eq!(soundings.len(), 1);
            }
        }
    }
}
