//! The other kinds and forms: hand-worked cases of ships, drops, PILOT, regional
//! sections, bulletins, NIL and the early message.

use approx::assert_abs_diff_eq;
use fivefig::forms::text::{Bbb, Bulletins, CodeError, Envelope, bulletins, message, parse};
use fivefig::input::sheet::Source;
use fivefig::input::{RawProfile, RawRow};
use fivefig::issue;
use fivefig::issue::outputs;
use fivefig::issue::outputs::{Options, Output};
use fivefig::issue::{Ascent, Coded, Refused, Which};
use fivefig::model::finding::{Finding, Severity};
use fivefig::model::{
    Clouds, Context, Doubted, Form, Order, Part, PilotLevels, Position, Profile, Reach, Region,
    Sky, Station, StationKind, Surface, WmoNumber,
};
use fivefig::profile;
use jiff::civil::date;

/// A column of air: 7500 gpm a factor e, 6.5 K/km to 11 km, then even; a row
/// every 50 gpm.
struct Air {
    top_gpm: f64,
    dir_deg: fn(f64) -> f64,
    speed_ms: fn(f64) -> f64,
    /// Heights from which pressure, temperature and humidity are gone.
    pressure_to_gpm: f64,
    temperature_to_gpm: f64,
    falling: bool,
    lowest_gpm: f64,
}

impl Default for Air {
    fn default() -> Self {
        Self {
            top_gpm: 20_000.0,
            dir_deg: |_| 270.0,
            speed_ms: |_| 10.0,
            pressure_to_gpm: f64::INFINITY,
            temperature_to_gpm: f64::INFINITY,
            falling: false,
            lowest_gpm: 0.0,
        }
    }
}

fn pressure(z: f64) -> f64 {
    1000.0 * (-z / 7500.0).exp()
}

impl Air {
    fn raw(&self) -> RawProfile {
        let mut rows: Vec<RawRow> = Vec::new();
        let mut z = self.lowest_gpm;
        while z <= self.top_gpm {
            let warm = z <= self.temperature_to_gpm;
            rows.push(RawRow {
                pressure_hpa: (z <= self.pressure_to_gpm).then(|| pressure(z)),
                height_gpm: Some(z),
                temperature_c: warm.then(|| 15.0 - 0.0065 * z.min(11_000.0)),
                humidity_pct: warm.then_some(50.0),
                wind_dir_deg: Some((self.dir_deg)(z)),
                wind_speed_ms: Some((self.speed_ms)(z)),
                ..RawRow::default()
            });
            z += 50.0;
        }
        if self.falling {
            rows.reverse();
        }
        for (k, row) in rows.iter_mut().enumerate() {
            row.line = k + 2;
        }
        RawProfile {
            start: None,
            name: "air".to_owned(),
            rows,
        }
    }
}

fn context(region: Region) -> Context {
    let mut context = Context {
        station: Station::default().with_wmo(WmoNumber::new(99, 11).unwrap()),
        ..Context::default()
    };
    context.station.elevation_m = Some(0.0);
    context.flight.release = Some(date(2031, 1, 15).at(11, 23, 40, 0));
    context.flight.standard_time = Some(date(2031, 1, 15).at(12, 0, 0, 0));
    context.equipment.measuring = Some(8);
    context.coding.region = region;
    context
}

fn built(form: Form, air: &Air, context: &Context) -> (Profile, Vec<Finding>) {
    profile::build_for(form, &air.raw(), context)
        .unwrap()
        .into()
}

fn code(form: Form, air: &Air, context: &Context) -> Coded {
    issue::code(form, &built(form, air, context).0, context, Reach::Whole).unwrap()
}

/// The groups of a part as one line.
fn line(coded: &Coded, part: Part) -> String {
    let groups = coded.message.groups(part);
    groups.map(|g| g.join(" ")).unwrap_or_default()
}

fn codes(findings: &[Finding]) -> Vec<&str> {
    findings.iter().map(|f| f.code.as_ref()).collect()
}

// PILOT (FM 32).

#[test]
fn pilot_by_height_has_the_fixed_levels_of_region_iv() {
    // A wind that never changes needs no level of its own: the surface, the
    // fixed levels in steps of 300 m (B/C20.10.4: 1, 2, 3, 4, 6, 7, 8, 9, 12,
    // 14, 16, 20, 25, 30, 50, 60 …) and the top. 100 hPa is at 17 269 gpm, so
    // that 50 steps (15 000 m) are in B and 60 (18 000 m) in D; the last row at
    // or below it, 17 250 gpm, closes B (57.5 steps, half up: 58).
    let coded = code(Form::Pilot, &Air::default(), &context(Region::IV));
    let wind = " 27010";
    let three = |head: &str, n: usize| format!("{head}{}", wind.repeat(n));
    let b = [
        three("PPBB 15118 99011 90012", 3),
        three("90346", 3),
        three("90789", 3),
        three("91246", 3),
        three("9205/", 2),
        three("930//", 1),
        three("9508/", 2),
    ];
    assert_eq!(line(&coded, Part::B), b.join(" "));
    // The top, 20 000 gpm, is 66.7 steps: 67.
    let d = three("PPDD 15118 99011 9607/", 2);
    assert_eq!(line(&coded, Part::D), d);
    let a = [
        three("PPAA 15118 99011 44385", 3),
        three("44340", 3),
        three("44320", 3),
    ];
    assert_eq!(line(&coded, Part::A), format!("{} 77999", a.join(" ")));
    // 20 000 gpm is 69.5 hPa: 70 hPa was passed.
    let c = three("PPCC 15118 99011 44170", 1);
    assert_eq!(line(&coded, Part::C), format!("{c} 77999"));
}

#[test]
fn every_region_has_its_fixed_levels() {
    // Published lists (B/C20.10.1 to 10.5), in steps of 300 m up to 15 km.
    for (region, steps) in [
        (Region::I, "2 3 7 13 15 17"),
        (Region::II, "1 2 3 7 12 15 20"),
        (Region::III, "1 2 3 7 8 14 20 27"),
        (Region::V, "3 7 14"),
    ] {
        let air = Air {
            top_gpm: 14_900.0,
            ..Air::default()
        };
        let report = code(Form::Pilot, &air, &context(region)).message.report();
        let own: Vec<String> = report
            .levels
            .iter()
            .filter_map(|l| l.row.height_gpm)
            .map(|z| format!("{}", z / 300.0))
            .collect();
        // The top, 14 900 m, is step 50.
        assert_eq!(own.join(" "), format!("{steps} 50"), "{region:?}");
    }
}

#[test]
fn region_vi_gives_pilot_levels_by_pressure() {
    // 6/32: 900, 800 and 600 hPa; the surface is 00, the last row at or below
    // 100 hPa (17 250 gpm, 100.3 hPa) closes B.
    let coded = code(Form::Pilot, &Air::default(), &context(Region::VI));
    assert_eq!(
        line(&coded, Part::B),
        "PPBB 15118 99011 21212 00000 27010 11900 27010 22800 27010 33600 27010 44100 27010"
    );
    assert_eq!(line(&coded, Part::D), "PPDD 15118 99011 21212 11695 27010");
}

#[test]
fn pilot_above_30_km_and_in_steps_of_500_m() {
    let air = Air {
        top_gpm: 33_000.0,
        ..Air::default()
    };
    // Region IV: 90 steps (27 000 m), then 100 and 110 under the figure 1.
    let coded = code(Form::Pilot, &air, &context(Region::IV));
    assert!(
        line(&coded, Part::D).ends_with("990// 27010 100// 27010 110// 27010"),
        "{}",
        line(&coded, Part::D)
    );
    let mut context = context(Region::None);
    context.coding.pilot_levels = Some(PilotLevels::Height500);
    let coded = code(Form::Pilot, &air, &context);
    // No fixed levels without a Region: the surface; 17 250 m is 34.5 steps, 35.
    assert_eq!(
        line(&coded, Part::B),
        "PPBB 15118 99011 800// 27010 835// 27010"
    );
    assert_eq!(line(&coded, Part::D), "PPDD 15118 99011 866// 27010");
}

/// 10 m/s, a peak of 50 m/s at 9 km.
fn jet(z: f64) -> f64 {
    (50.0 - (z - 9000.0).abs() / 100.0).max(10.0)
}

#[test]
fn a_maximum_wind_by_pressure_or_by_height() {
    let air = Air {
        speed_ms: jet,
        ..Air::default()
    };
    // 9000 gpm is 301.2 hPa.
    let coded = code(Form::Pilot, &air, &context(Region::IV));
    assert!(line(&coded, Part::A).ends_with("77301 27050"));
    // Without pressure: tens of gpm.
    let blind = Air {
        pressure_to_gpm: -1.0,
        temperature_to_gpm: -1.0,
        speed_ms: jet,
        ..Air::default()
    };
    let mut heights = context(Region::IV);
    heights.surface = None;
    let coded = code(Form::Pilot, &blind, &heights);
    let a = line(&coded, Part::A);
    assert!(a.ends_with("70900 27050"), "{a}");
    assert!(a.contains(" 55385 ") && !a.contains(" 44"), "{a}");
    // At the top of the wind sounding 6 and 66 stand instead.
    let to_the_peak = Air {
        top_gpm: 9000.0,
        speed_ms: jet,
        ..Air::default()
    };
    let coded = code(Form::Pilot, &to_the_peak, &context(Region::IV));
    assert!(line(&coded, Part::A).ends_with("66301 27050"));
    let blind = Air {
        top_gpm: 9000.0,
        ..blind
    };
    let coded = code(Form::Pilot, &blind, &heights);
    assert!(line(&coded, Part::A).ends_with("60900 27050"));
}

#[test]
fn pilot_ends_where_the_wind_ends() {
    // The wind, 250° 8 m/s, ends at 12 500 gpm (188.9 hPa), the ascent at 20 000
    // gpm: 200 hPa is the last level, one of its block, and there is no Part C.
    let air = Air {
        dir_deg: |_| 250.0,
        speed_ms: |_| 8.0,
        ..Air::default()
    };
    let ending_by = |rises: f64, reach: Reach| {
        let mut raw = air.raw();
        for row in &mut raw.rows {
            if row.height_gpm.is_some_and(|z| z > rises) {
                (row.wind_dir_deg, row.wind_speed_ms) = (None, None);
            }
        }
        let context = context(Region::VI);
        let ascent = profile::build_for(Form::Pilot, &raw, &context)
            .unwrap()
            .value;
        issue::code(Form::Pilot, &ascent, &context, reach).unwrap()
    };
    let ending = |rises: f64| ending_by(rises, Reach::Whole);
    let coded = ending(12_500.0);
    assert_eq!(
        line(&coded, Part::A),
        "PPAA 15118 99011 44385 25008 25008 25008 44340 25008 25008 25008 44120 25008 77999"
    );
    assert!(coded.message.groups(Part::C).is_none());
    assert!(coded.message.groups(Part::D).is_none());
    // 188.9 hPa is the highest level with wind.
    assert!(line(&coded, Part::B).ends_with("44189 25008"));
    // While the ascent goes on the wind may return: 150 and 100 hPa go without,
    // and the early message says so.
    let early = ending_by(12_500.0, Reach::To100);
    assert!(line(&early, Part::A).ends_with("44320 25008 ///// ///// 77999"));
    assert!(codes(&early.findings).contains(&"wind-pending"));
    // To 19 000 gpm (79.4 hPa) wind lies above 100 hPa, but no standard surface.
    let coded = ending(19_000.0);
    assert!(line(&coded, Part::A).contains("44320 25008 25008 25008 77999"));
    assert_eq!(line(&coded, Part::D), "PPDD 15118 99011 21212 11794 25008");
    assert_eq!(line(&coded, Part::C), "PPCC 15118 99011 77999");
}

#[test]
fn pilot_by_height_marks_a_layer_without_wind() {
    // No wind from 6050 to 8950 gpm: 3000 gpm from row to row, twice 1500. The
    // rows around are 20 and 30 steps of 300 m, the middle one is 25: 32.3.1.5,
    // from memory. 25 is a fixed level of Region I at no height here.
    let mut raw = Air {
        pressure_to_gpm: -1.0,
        temperature_to_gpm: -1.0,
        top_gpm: 12_000.0,
        ..Air::default()
    }
    .raw();
    for row in &mut raw.rows {
        if row.height_gpm.is_some_and(|z| z > 6000.0 && z < 9000.0) {
            (row.wind_dir_deg, row.wind_speed_ms) = (None, None);
        }
    }
    let context = context(Region::None);
    let ascent = profile::build_for(Form::Pilot, &raw, &context)
        .unwrap()
        .value;
    let coded = issue::code(Form::Pilot, &ascent, &context, Reach::Whole).unwrap();
    // Steps 0, 20, 25 without wind, 30, 40.
    assert_eq!(
        line(&coded, Part::B),
        "PPBB 15118 99011 900// 27010 9205/ 27010 ///// 930// 27010 940// 27010"
    );
    let codes = codes(&coded.findings);
    assert!(codes.contains(&"layer-not-observed"), "{codes:?}");
    // 400 and 300 hPa stand for 7200 and 9200 gpm: 400 is inside.
    assert!(line(&coded, Part::A).contains("55340 ///// 27010"));
    // Heights that stand for pressures are regional practice: a warning, unless
    // the sheet says that the Region does so.
    assert!(codes.contains(&"surfaces-by-height"), "{codes:?}");
    let mut known = context.clone();
    known.coding.surfaces_by_height = true;
    let coded = issue::code(Form::Pilot, &ascent, &known, Reach::Whole).unwrap();
    assert!(!self::codes(&coded.findings).contains(&"surfaces-by-height"));
}

#[test]
fn winds_after_loss_of_pressure_leave_temp_and_go_to_pilot() {
    // WMO-No. 306, 35.1.5: pressure is lost at 6000 gpm (449 hPa), and with it
    // temperature, from which it could be computed.
    let air = Air {
        pressure_to_gpm: 6000.0,
        temperature_to_gpm: 6000.0,
        ..Air::default()
    };
    let mut context = context(Region::IV);
    context.equipment.measuring = Some(0);
    let (ascent, findings) = built(Form::Temp, &air, &context);
    assert!(
        codes(&findings).contains(&"wind-without-pressure"),
        "{findings:?}"
    );
    let coded = issue::code(Form::Temp, &ascent, &context, Reach::Whole).unwrap();
    assert!(coded.message.groups(Part::C).is_none());
    let coded = code(Form::Pilot, &air, &context);
    let a = line(&coded, Part::A);
    // 850, 700 and 500 hPa by pressure, 400 and higher by height; a4 says that
    // the pressure element failed.
    assert!(a.starts_with("PPAA 15114 99011 44385"), "{a}");
    assert!(a.contains(" 55340 ") && a.contains(" 55320 "), "{a}");
    assert!(coded.message.groups(Part::D).is_some());
}

#[test]
fn a_failed_pressure_sensor_is_made_good_by_height_and_temperature() {
    let whole = Air::default();
    let failed = Air {
        pressure_to_gpm: 6000.0,
        ..Air::default()
    };
    let (ascent, findings) = built(Form::Temp, &failed, &context(Region::None));
    assert!(codes(&findings).contains(&"pressure-end-integrated"));
    // The column has no weight of its own (7500 gpm a factor e at any
    // temperature): above 449 hPa pressures follow the air instead. By hand: from
    // 249.15 K at 6000 gpm to 216.65 K at 11 000 gpm the mean is 32.5 / ln(249.15 /
    // 216.65) = 232.51 K, so 449.33 exp(-5000 / (29.271 x 232.51)) = 215.53 hPa of
    // dry air; vapour makes it a little more.
    let there = |z: f64| {
        let row = ascent.rows.iter().find(|r| r.height_gpm == Some(z));
        row.and_then(|r| r.pressure_hpa).unwrap()
    };
    assert_abs_diff_eq!(there(6000.0), 449.33, epsilon = 0.01);
    assert!(
        (there(11_000.0) - 215.58).abs() < 0.1,
        "{}",
        there(11_000.0)
    );
    assert_eq!(
        ascent.rows.len(),
        built(Form::Temp, &whole, &context(Region::None))
            .0
            .rows
            .len()
    );
    // PILOT keeps to what was measured: 44 below, 55 above.
    let coded = code(Form::Pilot, &failed, &context(Region::IV));
    let a = line(&coded, Part::A);
    assert!(a.contains(" 44385 ") && a.contains(" 55340 "), "{a}");
}

// Drops (FM 37).

fn drop_context() -> Context {
    let mut context = context(Region::None);
    context.station.kind = StationKind::Drop;
    context.station = context.station.at(Position::new(25.62, -77.53).unwrap());
    context
}

#[test]
fn a_drop_is_reported_from_the_surface_up() {
    let air = Air {
        top_gpm: 9000.0,
        falling: true,
        ..Air::default()
    };
    let coded = code(Form::Temp, &air, &drop_context());
    let a = line(&coded, Part::A);
    assert!(
        a.starts_with("XXAA 15114 99256 70775 08057 99000 15"),
        "{a}"
    );
    // The aircraft level is the highest significant level; there is no Part C
    // and no section 8.
    let b = line(&coded, Part::B);
    assert!(b.contains(" 21212 00000 27010 11301 27010"), "{b}");
    assert!(!b.contains("41414"), "{b}");
    assert!(coded.message.groups(Part::C).is_none());
}

#[test]
fn the_wind_sounding_of_a_drop_ends_at_its_lowest_level() {
    // B/C26.6.4.4: a wind that grows all the way down to 450 hPa, where the drop
    // ends (6000 gpm); the surface was not observed.
    let air = Air {
        top_gpm: 9000.0,
        lowest_gpm: 6000.0,
        falling: true,
        speed_ms: |z| 60.0 - (z - 6000.0) / 200.0,
        ..Air::default()
    };
    let coded = code(Form::Temp, &air, &drop_context());
    let a = line(&coded, Part::A);
    assert!(a.contains("99/// ///// /////"), "{a}");
    assert!(a.contains(" 66449 27060"), "{a}");
    let b = line(&coded, Part::B);
    assert!(
        b.starts_with("XXBB 15118 99256 70775 08057 00/// ///// 11449"),
        "{b}"
    );
    assert_eq!(
        parse(&coded.message.to_string()).as_ref(),
        Ok(&coded.message)
    );
    // A rising sonde over the same air has no such rule: its strongest wind at
    // the lowest level is no maximum.
    let rising = Air {
        falling: false,
        ..air
    };
    let mut high = context(Region::None);
    high.station.elevation_m = Some(6000.0);
    assert!(line(&code(Form::Temp, &rising, &high), Part::A).contains("77999"));
}

#[test]
fn heights_below_the_sea_keep_their_sign() {
    // In the eye of a typhoon 1000 and 925 hPa lie below the sea: surface
    // 915 hPa, 25 °C, 50 % (virtual temperature 300.1 K), the standard lapse rate
    // below. By hand: 29.27 × 300.1 × ln(1000/915) = 780 gpm and more (over 499:
    // ///), and 29.27 × 300.4 (mean of the layer) × ln(925/915) = 95.6 gpm.
    let mut air = Air {
        top_gpm: 3000.0,
        falling: true,
        ..Air::default()
    };
    air.falling = true;
    let mut raw = air.raw();
    for row in &mut raw.rows {
        row.pressure_hpa = row.pressure_hpa.map(|p| p * 0.915);
        row.temperature_c = row.temperature_c.map(|t| t + 10.0);
    }
    let context = drop_context();
    let ascent = profile::build_for(Form::Temp, &raw, &context)
        .unwrap()
        .value;
    let coded = issue::code(Form::Temp, &ascent, &context, Reach::Whole).unwrap();
    let a = line(&coded, Part::A);
    assert!(a.contains(" 00/// ///// ///// 92596 ///// ///// "), "{a}");
    let read = parse(&coded.message.to_string()).unwrap().report();
    let level = read
        .levels
        .iter()
        .find(|l| l.row.pressure_hpa == Some(925.0));
    assert_eq!(level.unwrap().row.height_gpm, Some(-96.0));
}

#[test]
fn a_fixed_platform_at_sea_has_a_number_and_a_sea_temperature() {
    let mut context = context(Region::None);
    context.surface = Some(Surface {
        sea_temperature_c: Some(-1.25),
        ..Surface::default()
    });
    let coded = code(Form::Temp, &Air::default(), &context);
    let a = line(&coded, Part::A);
    // −1.25 to the nearest tenth, half away from zero: −1.3.
    assert!(
        a.starts_with("TTAA 15111 99011 ") && a.ends_with(" 91013"),
        "{a}"
    );
}

// Sections 8 to 10.

#[test]
fn clouds_from_figures_or_plain_words() {
    // Decision 26 and B/C25.5: clear, obscured (h is the vertical visibility),
    // unseen, high cloud alone, a low overcast; 600 m is h 5 (table 1600).
    let figures = |nh, h, cl, cm, ch| Clouds {
        nh,
        h,
        cl,
        cm,
        ch,
        ..Clouds::default()
    };
    let sky = |sky| Clouds {
        sky: Some(sky),
        ..Clouds::default()
    };
    for (clouds, group) in [
        (sky(Sky::Clear), "00900"),
        (sky(Sky::Unseen), "/////"),
        (
            Clouds {
                base_m: Some(80.0),
                ..sky(Sky::Obscured)
            },
            "9/1//",
        ),
        (figures(None, None, None, None, Some(2)), "00902"),
        (figures(Some(8), Some(3), Some(5), None, None), "853//"),
        (
            Clouds {
                base_m: Some(600.0),
                ..figures(Some(2), None, Some(1), Some(0), Some(1))
            },
            "21501",
        ),
        (
            figures(Some(2), Some(7), Some(1), Some(0), Some(1)),
            "21701",
        ),
    ] {
        let mut context = context(Region::None);
        context.clouds = Some(clouds);
        let b = line(&code(Form::Temp, &Air::default(), &context), Part::B);
        assert!(b.ends_with(&format!("41414 {group}")), "{group}: {b}");
    }
}

#[test]
fn a_drop_that_covers_part_of_a_layer_has_no_mean_wind_of_it() {
    // Lowest row at 1400 m: 100 m of the layer from the surface to 1500 m, all of
    // 1500 to 3000 m. At 1600 m: part of the second layer, no mean at all.
    let mean = |lowest_gpm: f64| {
        let air = Air {
            top_gpm: 6000.0,
            lowest_gpm,
            falling: true,
            ..Air::default()
        };
        let mut context = context(Region::IV);
        context.station = Station::dropsonde(Position::new(20.0, -60.0).unwrap());
        context.station.elevation_m = Some(0.0);
        let ascent = built(Form::Temp, &air, &context).0;
        let coded = issue::code(Form::Temp, &ascent, &context, Reach::Whole).unwrap();
        coded.report.regional.mean_winds
    };
    let west = fivefig::model::Wind {
        dir_deg: 270.0,
        speed_ms: 10.0,
    };
    assert_eq!(mean(0.0), Some(vec![Some(west), Some(west)]));
    assert_eq!(mean(1400.0), Some(vec![None, Some(west)]));
    assert_eq!(mean(1600.0), None);
}

#[test]
fn region_iv_adds_stability_and_mean_winds() {
    // West 10 m/s to 1500 m, south 20 m/s above: mean winds 270/10 and 180/20.
    let air = Air {
        dir_deg: |z| if z <= 1500.0 { 270.0 } else { 180.0 },
        speed_ms: |z| if z <= 1500.0 { 10.0 } else { 20.0 },
        ..Air::default()
    };
    let coded = code(Form::Temp, &air, &context(Region::IV));
    let b = line(&coded, Part::B);
    let at = b.find("51515 10164 000").unwrap_or_else(|| panic!("{b}"));
    assert!(b[at..].ends_with("10194 27010 18020"), "{b}");
    // 850 hPa lies at 1219 gpm (7.1 °C, 50 %), 500 hPa at 5199 gpm (−18.8 °C):
    // the parcel is saturated near 720 hPa and some 8 K colder than the air.
    let index: i32 = b[at + 15..at + 17].parse().unwrap();
    assert!((5..=11).contains(&index), "{index}");
    // Elsewhere there is no section 9.
    assert!(!line(&code(Form::Temp, &air, &context(Region::II)), Part::B).contains("51515"));
}

#[test]
fn region_iv_adds_a_height_just_above_the_top() {
    // 35.2.2.4: the top at 6850 gpm is 401.2 hPa, 400 hPa at 6872 gpm: `40687`.
    let air = Air {
        top_gpm: 6850.0,
        ..Air::default()
    };
    let a = line(&code(Form::Temp, &air, &context(Region::IV)), Part::A);
    assert!(a.contains("51515 10190 40687"), "{a}");
    // Elsewhere the sheet may ask for the level itself, height alone.
    let mut context = context(Region::None);
    context.coding.above_top = fivefig::model::AboveTop::Extrapolate;
    let a = line(&code(Form::Temp, &air, &context), Part::A);
    assert!(a.contains(" 40687 ///// 88999"), "{a}");
    // 25 hPa and a quarter of the pressure bound it: 430 hPa is too far below.
    let low = Air {
        top_gpm: 6300.0,
        ..Air::default()
    };
    let a = line(&code(Form::Temp, &low, &context), Part::A);
    assert!(!a.contains(" 40"), "{a}");
}

#[test]
fn doubtful_layers_and_given_groups() {
    let mut context = context(Region::IV);
    context.orders.push(Order::Doubtful {
        doubtful: Doubted::Temperature,
        from_hpa: 320.0,
        to_hpa: 300.0,
        reason: "jumps".to_owned(),
    });
    context.section9.insert(Part::A, vec!["10148".to_owned()]);
    context
        .section10
        .insert(Part::B, vec!["WET".to_owned(), "BALLOON".to_owned()]);
    let coded = code(Form::Temp, &Air::default(), &context);
    // A real drop (13 September 1999, NOAA HRD) says 10167 03230 of the layer from 320
    // to 300 hPa, in Part A and in Part B; the groups that B computes come first.
    assert!(line(&coded, Part::A).ends_with("51515 10167 03230 10148"));
    let b = line(&coded, Part::B);
    assert!(
        b.contains(" 51515 10164 ") && b.contains(" 10167 03230 "),
        "{b}"
    );
    assert!(b.ends_with("61616 WET BALLOON"));
    let about = |region: Region, form: Form, to_hpa: f64| {
        let mut context = self::context(region);
        context.orders.push(Order::Doubtful {
            doubtful: Doubted::Temperature,
            from_hpa: 320.0,
            to_hpa,
            reason: "a test".to_owned(),
        });
        let coded = code(form, &Air::default(), &context);
        let mut found = coded.findings.into_iter();
        let of = found.find(|f| f.code.starts_with("doubtful"));
        of.map(|f| (f.code.to_string(), f.severity))
    };
    let reported = ("doubtful-layer".to_owned(), Severity::Info);
    let silent = ("doubtful-not-coded".to_owned(), Severity::Warning);
    assert_eq!(about(Region::IV, Form::Temp, 300.0), Some(reported));
    // Nothing says so above 100 hPa, in PILOT, and in the other Regions.
    assert_eq!(about(Region::IV, Form::Temp, 90.0), Some(silent.clone()));
    assert_eq!(about(Region::IV, Form::Pilot, 300.0), Some(silent.clone()));
    for region in [Region::None, Region::I, Region::II, Region::VI] {
        assert_eq!(about(region, Form::Temp, 300.0), Some(silent.clone()));
    }
}

#[test]
fn a_radiation_figure_without_a_text_code_is_a_finding() {
    // Table 3849 has 0 to 7; 8 and 9 are BUFR's (0 02 013).
    for (figure, group, findings) in [(7, " 7//// 8", 0), (8, " ///// 8", 1), (9, " ///// 8", 1)] {
        let mut context = context(Region::None);
        context.equipment.radiation = Some(figure);
        let coded = code(Form::Temp, &Air::default(), &context);
        let a = line(&coded, Part::A);
        assert!(a.contains(&format!(" 31313{group}")), "{a}");
        let reported = codes(&coded.findings);
        let reported = reported.iter().filter(|c| **c == "no-text-figure").count();
        assert_eq!(reported, findings, "{figure}");
    }
}

#[test]
fn region_iv_keeps_id_at_10_hpa_and_has_winds_above() {
    // Air of the standard lapse, then isothermal, to 38 km: 7500 ln(1000/7) is
    // 37 214 gpm; 50 % at -56.5 °C is a depression of 0.693 × 216.65² / 5700 = 5.7 K,
    // 56. Traffic of the Region has three groups at 7 hPa under Id 1:
    // `10155 39776 09032 07405 31182 08552` (72440, 13 July 2022).
    let air = Air {
        top_gpm: 38_000.0,
        ..Air::default()
    };
    let c = line(&code(Form::Temp, &air, &context(Region::IV)), Part::C);
    assert!(c.starts_with("TTCC 15111 99011 70"), "{c}");
    assert!(c.contains(" 07721 56556 27010 88999"), "{c}");
    // Wind to 7 hPa alone of the upper ones, and not at 10 hPa: Id says 20 hPa, and
    // the groups of 10 hPa are two.
    let lost = Air {
        speed_ms: |z| {
            if (30_000.0..36_000.0).contains(&z) {
                f64::NAN
            } else {
                10.0
            }
        },
        ..air
    };
    let mut raw = lost.raw();
    for row in &mut raw.rows {
        if row.wind_speed_ms.is_some_and(f64::is_nan) {
            (row.wind_speed_ms, row.wind_dir_deg) = (None, None);
        }
    }
    let context = context(Region::IV);
    let ascent = profile::build_for(Form::Temp, &raw, &context)
        .unwrap()
        .value;
    let coded = issue::code(Form::Temp, &ascent, &context, Reach::Whole).unwrap();
    let c = line(&coded, Part::C);
    assert!(c.starts_with("TTCC 15112 99011 70"), "{c}");
    assert!(c.contains(" 10454 56556 07721 56556 27010 88999"), "{c}");
    assert_eq!(
        parse(&coded.message.to_string()).as_ref(),
        Ok(&coded.message)
    );
}

#[test]
fn a_text_that_would_not_be_read_back_is_refused() {
    // Groups that no context can give, but a report of a program can: a section 9 in
    // which a group says that section 10 begins.
    let context = context(Region::None);
    let (ascent, _) = built(Form::Temp, &Air::default(), &context);
    let mut report = issue::code(Form::Temp, &ascent, &context, Reach::Whole)
        .unwrap()
        .report;
    report.parts.get_mut(&Part::B).unwrap().regional =
        ["10148", "61616", "10149"].map(str::to_owned).to_vec();
    let error = message(&report).unwrap_err();
    let CodeError::NotReadBack { part, .. } = &error else {
        panic!("{error}");
    };
    assert_eq!(*part, 'B');
    let text = error.to_string();
    assert!(
        text.starts_with("the message would not be read back: part B, group ")
            && text.ends_with("nothing was written"),
        "{text}"
    );
}

#[test]
fn a_mobile_station_below_the_sea_has_no_text_but_bufr_and_json() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let sheet = std::fs::read_to_string(root.join("mobile.toml")).unwrap();
    let sheet = sheet.replace("elevation_m = 612.0", "elevation_m = -12.0");
    let rows = std::fs::read(root.join("mobile.csv")).unwrap();
    let sheets = [Source {
        name: "sheet",
        text: &sheet,
    }];
    let loaded = Ascent::read(&rows, "mobile.csv", Which::default(), &sheets).unwrap();
    let flight = loaded.code(Form::Temp, Reach::Whole).unwrap();
    assert!(flight.message().is_none());
    assert!(codes(flight.findings()).contains(&"no-text-code"));
    assert!(
        flight
            .text()
            .unwrap_err()
            .to_string()
            .contains("elevation -12 m")
    );
    let options = Options::default();
    for output in [Output::Json, Output::Bufr] {
        assert!(
            !outputs::one(&flight, output, &options)
                .unwrap()
                .value
                .is_empty()
        );
    }
    let error = outputs::one(&flight, Output::Text, &options).unwrap_err();
    assert!(error.to_string().contains("elevation -12 m"), "{error}");
}

#[test]
fn region_vi_adds_the_lower_winds() {
    // 900 m above ground is 886.9 hPa; a real message of the Region has
    // `51515 11897 27014` in Part B.
    let b = line(
        &code(Form::Temp, &Air::default(), &context(Region::VI)),
        Part::B,
    );
    assert!(
        b.ends_with("51515 11887 27010 22800 27010 33600 27010"),
        "{b}"
    );
}

// Bulletins, NIL, early and late.

fn headed(mut context: Context) -> Context {
    context.bulletin.area = Some("XX".to_owned());
    context.bulletin.ii = Some(1);
    context.bulletin.centre = Some("XXXX".to_owned());
    context
}

#[test]
fn a_bulletin_has_heading_lines_and_envelope() {
    let context = headed(context(Region::None));
    let air = Air {
        top_gpm: 1000.0,
        ..Air::default()
    };
    let coded = code(Form::Temp, &air, &context);
    let one = [(&coded.report, &coded.message)];
    let bbb = Bbb::new("CCA");
    let envelope = Envelope { channel: Some(999) };
    let text = bulletins(&one, bbb.as_ref(), envelope).unwrap();
    // WMO-No. 386 Part II: starting line, heading, text, end of message.
    let lines = |part| coded.message.lines(part).unwrap();
    assert!(lines(Part::A).len() > 1 && lines(Part::A).iter().all(|l| l.len() <= 69));
    let (a, b) = (lines(Part::A).join("\r\r\n"), lines(Part::B).join("\r\r\n"));
    assert!(a.ends_with('=') && a.starts_with("TTAA 15119 99011 99000 "));
    assert_eq!(
        text,
        format!(
            "\u{1}\r\r\n999\r\r\nUSXX01 XXXX 151200 CCA\r\r\n{a}\r\r\n\u{3}\
             \u{1}\r\r\n001\r\r\nUKXX01 XXXX 151200 CCA\r\r\n{b}\r\r\n\u{3}"
        )
    );
}

#[test]
fn bulletins_of_a_stream_are_those_of_its_pieces() {
    let one = headed(context(Region::None));
    let mut two = one.clone();
    two.station = two.station.with_wmo(WmoNumber::new(99, 12).unwrap());
    let [one, two] = [one, two].map(|context| code(Form::Temp, &Air::default(), &context));
    let envelope = |channel| Envelope {
        channel: Some(channel),
    };
    let mut stream = Bulletins::new(None, envelope(998));
    stream.add(&one.report, &one.message).unwrap();
    assert_eq!(stream.reports(), 1);
    let first = stream.take();
    stream.add(&two.report, &two.message).unwrap();
    let second = stream.take();
    assert_eq!((stream.reports(), stream.take()), (0, String::new()));
    // Parts A to D have a bulletin each: 998, 999, 001 and 002, then 003 to 006.
    let alone = |coded: &Coded, channel| {
        let messages = [(&coded.report, &coded.message)];
        bulletins(&messages, None, envelope(channel)).unwrap()
    };
    assert_eq!(first.matches('\u{1}').count(), 4);
    assert_eq!((first, second), (alone(&one, 998), alone(&two, 3)));
}

#[test]
fn reports_of_one_heading_share_a_bulletin() {
    let one = headed(context(Region::None));
    let mut two = one.clone();
    two.station = two.station.with_wmo(WmoNumber::new(99, 12).unwrap());
    let coded: Vec<Coded> = [&one, &two]
        .into_iter()
        .map(|c| code(Form::Temp, &Air::default(), c))
        .collect();
    let pairs: Vec<_> = coded.iter().map(|c| (&c.report, &c.message)).collect();
    let text = bulletins(&pairs, None, Envelope::default()).unwrap();
    assert_eq!(text.matches(" XXXX 151200\r\r\n").count(), 4);
    let first = text.split("UKXX01").next().unwrap();
    assert_eq!(first.matches("TTAA 15111 990").count(), 2);
    assert!(text.split("\r\r\n").all(|l| l.len() <= 69));
    assert!(!text.contains('\u{1}'));
    // PILOT and drops have headings of their own (Table B1).
    let pilot = code(Form::Pilot, &Air::default(), &one);
    let text = bulletins(
        &[(&pilot.report, &pilot.message)],
        None,
        Envelope::default(),
    )
    .unwrap();
    for designator in ["UPXX01", "UGXX01", "UHXX01", "UQXX01"] {
        assert!(text.contains(designator), "{text}");
    }
    let drop = headed(drop_context());
    let air = Air {
        falling: true,
        top_gpm: 9000.0,
        ..Air::default()
    };
    let drop = code(Form::Temp, &air, &drop);
    let text = bulletins(&[(&drop.report, &drop.message)], None, Envelope::default()).unwrap();
    assert_eq!(text.matches("UZXX01").count(), 1, "{text}");
    let bare = code(Form::Temp, &Air::default(), &context(Region::None));
    let error = bulletins(&[(&bare.report, &bare.message)], None, Envelope::default());
    assert!(error.unwrap_err().to_string().contains("bulletin.area"));
}

#[test]
fn nil_for_every_scheduled_part() {
    let mut context = context(Region::None);
    context.flight.release = None;
    let (_, message) = issue::nil(Form::Temp, &context).unwrap();
    assert_eq!(
        message.to_string(),
        "TTAA 1512/ 99011 NIL=\n\nTTBB 1512/ 99011 NIL=\n\n\
         TTCC 1512/ 99011 NIL=\n\nTTDD 1512/ 99011 NIL=\n"
    );
    assert_eq!(parse(&message.to_string()).as_ref(), Ok(&message));
    let again = fivefig::forms::text::message(&message.report())
        .unwrap()
        .value;
    assert_eq!(again, message);
    context.bulletin.parts = Some("AB".to_owned());
    let (_, message) = issue::nil(Form::Pilot, &context).unwrap();
    assert_eq!(
        message.to_string(),
        "PPAA 1512/ 99011 NIL=\n\nPPBB 1512/ 99011 NIL=\n"
    );
    // Region IV gives the reason (table 0421: 44 is a power failure).
    context.coding.region = Region::IV;
    context.flight.reason = Some(44);
    let (_, message) = issue::nil(Form::Temp, &context).unwrap();
    assert_eq!(
        message.to_string(),
        "TTAA 1512/ 99011 51515 10144=\n\nTTBB 1512/ 99011 51515 10144=\n"
    );
    assert_eq!(parse(&message.to_string()).as_ref(), Ok(&message));
    context.flight.standard_time = None;
    assert!(matches!(
        issue::nil(Form::Temp, &context),
        Err(Refused::NoStandard)
    ));
}

#[test]
fn a_short_ascent_gives_its_reason_and_advises_a_second() {
    let air = Air {
        top_gpm: 4000.0,
        ..Air::default()
    };
    let mut context = context(Region::IV);
    context.flight.reason = Some(47);
    context.coding.advise_below_hpa = Some(400.0);
    context.flight.not_reported = Some("flight 31, valve stuck".to_owned());
    context.flight.release_number = Some(2);
    let coded = code(Form::Temp, &air, &context);
    assert_eq!(line(&coded, Part::C), "TTCC 1511/ 99011 51515 10147");
    let reported = codes(&coded.findings);
    assert!(reported.contains(&"second-release-advised"), "{reported:?}");
    assert!(reported.contains(&"flight-not-reported"), "{reported:?}");
    let high = code(Form::Temp, &Air::default(), &context);
    assert!(!codes(&high.findings).contains(&"second-release-advised"));
    assert!(line(&high, Part::C).contains("88999"));
}

#[test]
fn an_early_message_waits_for_100_hpa() {
    let context = context(Region::None);
    let (short, _) = built(
        Form::Temp,
        &Air {
            top_gpm: 17_000.0,
            ..Air::default()
        },
        &context,
    );
    assert!(matches!(
        issue::code(Form::Temp, &short, &context, Reach::To100),
        Err(Refused::NotYet)
    ));
    let (long, _) = built(Form::Temp, &Air::default(), &context);
    let early = issue::code(Form::Temp, &long, &context, Reach::To100).unwrap();
    assert_eq!(early.message.parts.len(), 2);
    let last = code(Form::Temp, &Air::default(), &context);
    assert_eq!(line(&early, Part::A), line(&last, Part::A));
    assert_eq!(line(&early, Part::B), line(&last, Part::B));
}

#[test]
fn what_is_pending_is_reported_and_later_offered_as_a_correction() {
    // A tropopause at 16 km, 100 hPa at 17 269 gpm: when the sonde passes it,
    // the 2 km above the tropopause are not there yet.
    let mut raw = Air::default().raw();
    for row in &mut raw.rows {
        let z = row.height_gpm.unwrap();
        row.temperature_c = Some(25.0 - 0.0065 * z.min(16_000.0));
    }
    let context = context(Region::None);
    let ascent = profile::build_for(Form::Temp, &raw, &context)
        .unwrap()
        .value;
    let mut so_far = ascent.clone();
    so_far.rows.retain(|r| r.height_gpm.unwrap() <= 17_400.0);
    let early = issue::code(Form::Temp, &so_far, &context, Reach::To100).unwrap();
    assert!(line(&early, Part::A).contains("88999"));
    assert!(codes(&early.findings).contains(&"tropopause-pending"));
    let last = issue::code(Form::Temp, &ascent, &context, Reach::Whole).unwrap();
    assert!(
        line(&last, Part::A).contains(" 88118 "),
        "{}",
        line(&last, Part::A)
    );
    assert!(codes(&last.findings).contains(&"early-message-differs"));
}
