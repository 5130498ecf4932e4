//! Odd flights, coded and read again in every form: from stations between the Dead
//! Sea and the high plateaus, under surface pressures from 870 to 1065 hPa, up to
//! 1 hPa, in every Region, with holes, calms and lost winds.

use fivefig::forms::bufr;
use fivefig::forms::json;
use fivefig::forms::json::Record;
use fivefig::forms::text::{CodeError, message, parse};
use fivefig::input;
use fivefig::input::{RawProfile, RawRow};
use fivefig::issue;
use fivefig::issue::{Coded, Refused};
use fivefig::model::quantity::SpeedUnit;
use fivefig::model::{
    CallSign, Coding, Context, Equipment, Flight, Form, Level, PilotLevels, Position, Reach,
    Region, Report, Roles, Station, StationKind, WmoNumber,
};
use fivefig::physics::hydrostatic::standard_pressure_hpa;
use fivefig::profile;
use fivefig::tables::figure::FigureError;
use fivefig::verify::compare::{Tolerance, compare};
use jiff::civil::date;
use proptest::prelude::*;
use proptest::sample::select;

/// One stretch of 1.5 km: lapse K/km, humidity %, turn ° and rise m/s.
type Stretch = (f64, f64, f64, f64);

/// What is missing: which element, from which share of the rows, how many.
type Hole = (usize, f64, usize);

#[derive(Clone, Debug)]
struct Odd {
    form: Form,
    kind: StationKind,
    region: Region,
    unit: SpeedUnit,
    pilot_levels: Option<PilotLevels>,
    /// No pressure in the file, of PILOT.
    by_height: bool,
    elevation_m: f64,
    surface_hpa: f64,
    surface_c: f64,
    step_gpm: f64,
    stretches: Vec<Stretch>,
    holes: Vec<Hole>,
    calm: bool,
}

fn odd() -> impl Strategy<Value = Odd> {
    let station = prop_oneof![
        // Any sea-level pressure at low stations.
        (-430.0..300.0_f64, 870.0..1065.0_f64),
        (-430.0..5000.0_f64, 0.88..1.05_f64)
            .prop_map(|(z, share)| (z, (standard_pressure_hpa(z) * share).min(1098.0))),
    ];
    let stretch = (
        -15.0..9.5_f64,
        0.0..100.0_f64,
        -150.0..150.0_f64,
        -25.0..25.0_f64,
    );
    let what = (
        select(vec![Form::Temp, Form::Temp, Form::Pilot]),
        select(vec![
            StationKind::Land,
            StationKind::Land,
            StationKind::Ship,
            StationKind::Mobile,
            StationKind::Drop,
        ]),
        select(vec![
            Region::None,
            Region::I,
            Region::II,
            Region::III,
            Region::IV,
            Region::IV,
            Region::V,
            Region::VI,
        ]),
        select(vec![SpeedUnit::MetresPerSecond, SpeedUnit::Knots]),
        select(vec![
            None,
            Some(PilotLevels::Height300),
            Some(PilotLevels::Height500),
            Some(PilotLevels::Pressure),
        ]),
        any::<bool>(),
    );
    let air = (
        station,
        -60.0..45.0_f64,
        select(vec![30.0, 60.0, 150.0]),
        prop::collection::vec(stretch, 1..33),
        prop::collection::vec((0..3_usize, 0.0..1.0_f64, 1..200_usize), 0..4),
        prop::bool::weighted(0.1),
    );
    (what, air).prop_map(
        |(
            (form, kind, region, unit, pilot_levels, by_height),
            ((elevation_m, surface_hpa), surface_c, step_gpm, stretches, holes, calm),
        )| Odd {
            form,
            // There is no PILOT of drops; ships are at sea.
            kind: if form == Form::Pilot && kind == StationKind::Drop {
                StationKind::Land
            } else {
                kind
            },
            region,
            unit,
            pilot_levels,
            by_height,
            elevation_m: match kind {
                StationKind::Ship | StationKind::Drop => elevation_m.clamp(0.0, 30.0),
                _ => elevation_m,
            },
            surface_hpa: match kind {
                StationKind::Ship | StationKind::Drop => surface_hpa.max(870.0),
                _ => surface_hpa,
            },
            surface_c,
            step_gpm,
            stretches,
            holes,
            calm,
        },
    )
}

impl Odd {
    fn raw(&self) -> RawProfile {
        // 9.80665 / 287.05 K/gpm: dry air in balance.
        const RATE: f64 = 0.034_163;
        let (mut p, mut t) = (self.surface_hpa, self.surface_c);
        let (mut dir, mut speed, mut z) = (200.0_f64, 4.0_f64, self.elevation_m);
        let mut rows = Vec::new();
        let per_stretch = (1500.0 / self.step_gpm) as usize;
        for &(lapse, humidity, turn, rise) in &self.stretches {
            for _ in 0..per_stretch {
                if p < 1.0 {
                    break;
                }
                rows.push(RawRow {
                    line: rows.len() + 2,
                    time_s: Some(((z - self.elevation_m) / 5.0).round()),
                    pressure_hpa: Some((p * 1000.0).round() / 1000.0),
                    height_gpm: Some((z * 10.0).round() / 10.0),
                    temperature_c: Some((t * 100.0).round() / 100.0),
                    // The air of the balance is nearly dry.
                    humidity_pct: Some((humidity * if t > 0.0 { 0.3 } else { 1.0 }).round()),
                    wind_dir_deg: Some(dir.rem_euclid(360.0).round()),
                    wind_speed_ms: Some(if self.calm {
                        0.0
                    } else {
                        (speed.clamp(0.0, 120.0) * 10.0).round() / 10.0
                    }),
                    ..RawRow::default()
                });
                // No air is warmer; figures of height are completed by that.
                let warmest = (50.0 - 5.0 * z / 1000.0).max(0.0);
                let next = (t - lapse * self.step_gpm / 1000.0).clamp(-95.0, warmest);
                p *= (-self.step_gpm * RATE / (f64::midpoint(t, next) + 273.15)).exp();
                t = next;
                dir += turn / per_stretch as f64;
                speed = (speed + rise / per_stretch as f64).clamp(0.0, 125.0);
                z += self.step_gpm;
            }
        }
        let n = rows.len() as f64;
        for &(element, from, count) in &self.holes {
            let first = (from * n) as usize;
            for row in rows.iter_mut().skip(first).take(count) {
                match element {
                    0 => (row.temperature_c, row.humidity_pct) = (None, None),
                    1 => row.humidity_pct = None,
                    _ => (row.wind_dir_deg, row.wind_speed_ms) = (None, None),
                }
            }
        }
        if self.form == Form::Pilot {
            for row in &mut rows {
                (row.temperature_c, row.humidity_pct) = (None, None);
                if self.by_height {
                    row.pressure_hpa = None;
                }
            }
        }
        if self.kind == StationKind::Drop {
            let last = rows.last().and_then(|r| r.time_s).unwrap_or(0.0);
            rows.reverse();
            for row in &mut rows {
                row.time_s = row.time_s.map(|t| last - t);
            }
        }
        RawProfile {
            name: "odd".to_owned(),
            rows,
            start: None,
        }
    }

    fn context(&self) -> Context {
        let land = self.kind == StationKind::Land;
        let ship = matches!(self.kind, StationKind::Ship | StationKind::Mobile);
        let mut station = Station::dropsonde(Position::new(-12.34, 56.78).unwrap());
        if land {
            station = station.with_wmo(WmoNumber::new(99, 1).unwrap());
        }
        if ship {
            station = station.with_call_sign(CallSign::new("XQ7INV").unwrap());
        }
        station.kind = self.kind;
        station.elevation_m = Some(self.elevation_m);
        station.elevation_quality = Some(1);
        Context {
            station,
            flight: Flight {
                release: Some(date(2031, 1, 15).at(11, 30, 0, 0)),
                standard_time: Some(date(2031, 1, 15).at(12, 0, 0, 0)),
                ..Flight::default()
            },
            equipment: Equipment {
                measuring: Some(0),
                ..Equipment::default()
            },
            coding: Coding {
                shear: true,
                wind_unit: self.unit,
                region: self.region,
                pilot_levels: self.pilot_levels,
                ..Coding::default()
            },
            ..Context::default()
        }
    }

    /// Whether the text tells the heights of a short flight: by 500 hPa, whose tens of
    /// gpm leave nothing open, by a known elevation, or by a sea-level pressure that
    /// occurs.
    fn heights_are_reported(&self, report: &Report) -> bool {
        let at_500 = |l: &Level| {
            l.row.pressure_hpa == Some(500.0)
                && l.roles.any(Roles::STANDARD)
                && l.row.height_gpm.is_some()
                && l.row.temperature_c.is_some()
        };
        let sea_level = self.surface_hpa / standard_pressure_hpa(self.elevation_m) * 1013.25;
        self.kind != StationKind::Land
            || (935.0..1045.0).contains(&sea_level)
            || report.levels.iter().any(at_500)
    }

    /// The flight, coded; `None` when it is no flight, or not for this form.
    fn coded(&self) -> Option<Coded> {
        let context = self.context();
        let ascent = profile::build_for(self.form, &self.raw(), &context)
            .ok()?
            .value;
        match issue::code(self.form, &ascent, &context, Reach::Whole) {
            Ok(coded) => Some(coded),
            Err(Refused::Code(CodeError::Ident(FigureError::Elevation(z, _)))) => {
                assert!(z < 0.0, "{z}");
                None
            }
            Err(Refused::Code(error)) => panic!("{error}"),
            Err(_) => None,
        }
    }
}

/// The report without what no figure of the text can hold, which findings name:
/// heights below -499 gpm.
fn as_text_can_say(report: &Report) -> Report {
    let mut report = report.clone();
    for level in &mut report.levels {
        level.row.height_gpm = level.row.height_gpm.filter(|z| *z >= -499.5);
    }
    report
}

/// The levels of a report that its BUFR does not have: to 10 Pa (or 1 gpm, of winds by
/// height), 0.01 K, 0.1 m/s and 1 degree, with all their roles.
fn lost(report: &Report, bufr: &Report) -> Vec<Level> {
    let near = |a: Option<f64>, b: Option<f64>, off: f64| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= off + 1e-6,
        (a, b) => a.is_none() && b.is_none(),
    };
    let pilot = report.form == Form::Pilot;
    let same = |l: &Level, r: &Level| {
        let (a, b) = (&l.row, &r.row);
        let placed = match (a.pressure_hpa, b.pressure_hpa) {
            (Some(_), Some(_)) => near(a.pressure_hpa, b.pressure_hpa, 0.05),
            _ => near(a.height_gpm, b.height_gpm, 0.5),
        };
        let wind = match (a.wind, b.wind) {
            (Some(v), Some(w)) => {
                let turned = (v.dir_deg - w.dir_deg).rem_euclid(360.0);
                (v.speed_ms - w.speed_ms).abs() <= 0.05 + 1e-6
                    && (turned.min(360.0 - turned) <= 0.5 + 1e-6 || w.speed_ms == 0.0)
            }
            (v, w) => v.is_none() && w.is_none(),
        };
        let roles = l.roles & Roles::FLAG_TABLE;
        placed
            && wind
            && (pilot || near(a.temperature_c, b.temperature_c, 0.005))
            && (pilot || r.roles.contains(roles))
    };
    let found = |l: &&Level| bufr.levels.iter().any(|r| same(l, r));
    report
        .levels
        .iter()
        .filter(|l| !found(l))
        .cloned()
        .collect()
}

/// What differs between a report and the same read again, line by line.
fn differences(report: &Report, again: &Report) -> Vec<String> {
    let tolerance = Tolerance::coarser(report, again);
    let found = compare(report, again, &tolerance);
    let found = found.iter();
    found.map(ToString::to_string).collect()
}

/// Winds by height of a profile with pressure throughout: the level that marks a layer
/// without wind has its pressure as well, so that BUFR has the message by pressure
/// (3 09 050). The layer ends at row 51 of steps of 30 m (1530 m), 17 rows from row 34
/// (1020 m) being lost: the mark stands between the steps 3 (900 m) and 5 (1500 m).
#[test]
fn a_level_without_wind_in_a_gap_has_its_pressure() {
    let odd = Odd {
        form: Form::Pilot,
        kind: StationKind::Land,
        region: Region::None,
        unit: SpeedUnit::MetresPerSecond,
        pilot_levels: None,
        by_height: false,
        elevation_m: 0.0,
        surface_hpa: 870.0,
        surface_c: 0.0,
        step_gpm: 30.0,
        stretches: vec![(0.0, 0.0, 0.0, 0.0); 3],
        holes: vec![(2, 0.2274, 17)],
        calm: false,
    };
    let report = odd.coded().unwrap().report;
    let level = report.levels.iter().find(|l| l.row.wind.is_none()).unwrap();
    assert_eq!(level.row.height_gpm, Some(1200.0));
    // The air of `raw` is at 0 °C: p = 870 hPa * exp(-0.034163 * 1200 / 273.15).
    let p = level.row.pressure_hpa.unwrap();
    assert!((p - 748.8).abs() < 0.1, "{p}");
    let bufr = bufr::write(&report).unwrap().value;
    let soundings = input::bufr::soundings(&bufr, "gap").value;
    assert!(lost(&report, &soundings.first().unwrap().report).is_empty());
}

proptest! {
    #![proptest_config(ProptestConfig::default())]

    /// Through text, JSON and BUFR and back: the same figures, the same report.
    #[test]
    fn odd_flights_come_back_in_every_form(odd in odd()) {
        let Some(coded) = odd.coded() else {
            return Ok(());
        };
        let (report, text) = (&coded.report, coded.message.to_string());
        let read = parse(&text);
        prop_assert_eq!(read.as_ref(), Ok(&coded.message));
        let from_text = coded.message.report();
        prop_assert_eq!(&message(&from_text).unwrap().value, &coded.message);
        let differs = differences(&as_text_can_say(report), &from_text);
        prop_assert!(
            differs.is_empty() || !odd.heights_are_reported(report),
            "{}\n{}", text, differs.join("\n")
        );

        let document = json::write(vec![Record::new(report, Some(&coded.message), &[], None)]);
        let records = json::read(&document.unwrap()).unwrap();
        let from_json = records.first().unwrap().report(1).unwrap();
        prop_assert_eq!(&message(&from_json).unwrap().value, &coded.message);
        let differs = differences(report, &from_json);
        prop_assert!(differs.is_empty(), "JSON\n{}", differs.join("\n"));

        let (octets, notes) = match bufr::write(report) {
            Ok(written) => written.into(),
            // 0 07 030 begins at -400 m.
            Err(_) if odd.elevation_m < -400.0 => return Ok(()),
            Err(error) => panic!("{error}"),
        };
        let soundings = input::bufr::soundings(&octets, "odd").value;
        prop_assert_eq!(soundings.len(), 1);
        // Levels that share their coded coordinate are one there, which a finding says.
        prop_assume!(notes.iter().all(|f| f.code != "levels-united"));
        let lost = lost(report, &soundings.first().unwrap().report);
        prop_assert!(lost.is_empty(), "BUFR\n{}\n{:?}", text, lost);
    }
}
