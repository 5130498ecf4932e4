//! A month that was worked out by hand, the limits to either side, and sums that add up.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test stops at the first fault"
)]

use jiff::civil::{DateTime, date};
use proptest::prelude::*;
use schemars::generate::SchemaSettings;

use super::*;
use crate::model::Code;
use crate::model::schema::assert_kept;

const STATION: &str = "0-20000-0-99011";

fn at(month: i8, day: i8, hour: i8) -> DateTime {
    date(2031, month, day).at(hour, 0, 0, 0)
}

fn period(text: &str) -> Period {
    Period::parse(text).unwrap()
}

fn schedule() -> Schedule {
    Schedule {
        hours: vec![0, 12],
        limit_min: Some(150),
        ..Schedule::default()
    }
}

fn ascent(standard: DateTime) -> Ascent {
    Ascent {
        station: STATION.to_owned(),
        standard,
        in_book: true,
        ..Ascent::default()
    }
}

fn at_500(height_gpm: f64, temperature_c: f64) -> Vec<SurfaceValues> {
    vec![SurfaceValues {
        pressure_hpa: 500,
        height_gpm: Some(height_gpm),
        temperature_c: Some(temperature_c),
    }]
}

fn checked(result: GroundCheckResult, temperature_k: f64) -> Option<Checked> {
    Some(Checked {
        result: Some(result),
        differences: vec![(GroundQuantity::Temperature, temperature_k)],
    })
}

/// Invented: four ascents of February 2031, the last at 06 UTC outside the schedule, and two
/// of January.
fn records() -> Records {
    let flight = |day, hour, after_min, top: (f64, f64), values| Ascent {
        after_min: Some(after_min),
        in_time: Some(after_min <= 150),
        top_hpa: Some(top.0),
        top_gpm: Some(top.1),
        ended_by: Some(1),
        within_limits: Some(true),
        batch: "7".to_owned(),
        levels: values,
        ..ascent(at(2, day, hour))
    };
    Records {
        ascents: vec![
            Ascent {
                checked: checked(GroundCheckResult::Go, 0.1),
                ..flight(1, 0, 70, (8.0, 32_000.0), at_500(5500.0, -20.0))
            },
            Ascent {
                checked: checked(GroundCheckResult::LookAgain, 0.7),
                codes: vec!["ground-temperature".to_owned()],
                within_limits: Some(false),
                ..flight(1, 12, 110, (30.0, 24_000.0), at_500(5520.0, -22.0))
            },
            Ascent {
                batch: "8".to_owned(),
                released: true,
                codes: vec![
                    "continuity-height".to_owned(),
                    "ground-temperature".to_owned(),
                ],
                ..flight(2, 0, 240, (30.1, 23_900.0), at_500(5540.0, -24.0))
            },
            Ascent {
                ended_by: None,
                in_book: false,
                batch: String::new(),
                ..flight(2, 6, 60, (250.0, 10_000.0), at_500(5560.0, -26.0))
            },
            Ascent {
                levels: at_500(5400.0, -30.0),
                ..ascent(at(1, 30, 0))
            },
            Ascent {
                levels: at_500(5420.0, -28.0),
                ..ascent(at(1, 31, 12))
            },
        ],
        early: vec![at(2, 1, 12), at(2, 3, 12)],
        nil: vec![at(2, 2, 0), at(2, 3, 0)],
        corrections: vec![
            (at(2, 1, 12), Cause::EarlyMessage),
            (at(2, 2, 0), Cause::Temperature),
            (at(1, 31, 12), Cause::Wind),
        ],
        refusals: vec![Refusal {
            at: at(2, 4, 0),
            reason: "profile".to_owned(),
            batch: "8".to_owned(),
            checked: checked(GroundCheckResult::Go, -0.1),
            codes: Vec::new(),
        }],
        ..Records::default()
    }
}

/// By hand. February 2031 has 28 days: 56 standard times, of which 1 February 00 and 12 and
/// 2 February 00 UTC have a report, 3 February 12 UTC the early message alone, 3 February 00
/// UTC NIL alone; 56 − 5 = 51 are missing, 25 of 00 UTC and 26 of 12 UTC.
#[test]
fn the_standard_times_of_a_month() {
    let month = sum(&records(), period("2031-02"), &schedule(), None);
    let times = &month.standard_times;
    assert_eq!((times.reported.count, times.reported.of), (3, 56));
    assert_eq!(times.unscheduled, 1);
    let hour = |hour, reported, late, early_only, nil, missing| Hour {
        hour,
        expected: 28,
        reported,
        late,
        early_only,
        nil,
        missing,
    };
    assert_eq!(
        times.hours,
        [hour(0, 2, 1, 0, 1, 25), hour(12, 1, 0, 1, 0, 26)]
    );
    assert_eq!((month.ascents, month.by_hand, month.released), (4, 1, 1));
    assert_eq!((month.early, month.nil), (2, 2));
    // 60, 70, 110 and 240 minutes: median (70 + 110) / 2; the last is 240 − 150 past the limit.
    let delay = |count, median_min, greatest_min| {
        Some(Delay {
            count,
            median_min,
            greatest_min,
        })
    };
    assert_eq!(month.punctuality.after, delay(4, 90.0, 240));
    assert_eq!(month.punctuality.late, delay(1, 90.0, 90));
    assert_eq!(month.punctuality.in_time, Share { count: 3, of: 4 });
    assert_eq!(month.within_limits, Share { count: 3, of: 4 });
    let causes: Vec<(Cause, usize)> = month.corrections.into_iter().collect();
    assert_eq!(causes, [(Cause::EarlyMessage, 1), (Cause::Temperature, 1)]);
    assert_eq!(month.ended_by["balloon burst"], 3);
    assert_eq!(month.ended_by["not stated"], 1);
    assert_eq!(month.refused["profile"], 1);
}

/// By hand: (8 + 30 + 30.1 + 250) / 4 = 79.525 hPa, (32000 + 24000 + 23900 + 10000) / 4 =
/// 22475 gpm. 30 hPa is reached at 30, not at 30.1. Of the days, 1 February alone has two
/// ascents to 30 hPa, and one to 10 hPa.
#[test]
fn the_heights_of_a_month_and_what_networks_ask() {
    let month = sum(&records(), period("2031-02"), &schedule(), None);
    let counts: Vec<usize> = month.tops.reached.iter().map(|r| r.count).collect();
    assert_eq!(counts, [3, 2, 1]);
    let pressure = month.tops.pressure_hpa.unwrap();
    assert_eq!(
        (
            pressure.count,
            pressure.mean,
            pressure.least,
            pressure.greatest
        ),
        (4, 79.525, 8.0, 250.0)
    );
    assert_eq!(month.tops.height_gpm.unwrap().mean, 22_475.0);
    let judged: Vec<(&str, usize, usize, bool)> = month
        .requirements
        .iter()
        .map(|j| (j.name.as_str(), j.count, j.needed, j.met))
        .collect();
    assert_eq!(
        judged,
        [
            ("gbon_30_hpa", 1, 28, false),
            ("gbon_10_hpa", 1, 28, false),
            ("guan_30_hpa", 2, 25, false),
            ("guan_5_hpa", 0, 28, false),
        ]
    );
}

/// By hand: (5500 + 5520 + 5540 + 5560) / 4 = 5530, deviations −30, −10, 10, 30, so
/// √(2000 / 3) = 25.820; (−20 − 22 − 24 − 26) / 4 = −23, √(20 / 3) = 2.582. January: 5410,
/// √(200 / 1) = 14.142, and −29. Two ascents are too few for the limit.
#[test]
fn the_means_of_a_month_beside_the_month_before() {
    let month = sum(&records(), period("2031-02"), &schedule(), None);
    assert_eq!(
        (month.compared_with.as_str(), month.levels.len()),
        ("2031-01", 1)
    );
    let level = month.levels[0];
    let spread = |count, mean, deviation| {
        Some(Spread {
            count,
            mean,
            deviation: Some(deviation),
        })
    };
    assert_eq!(
        level.height_gpm,
        MeanBeside {
            now: spread(4, 5530.0, 25.82),
            before: spread(2, 5410.0, 14.142),
            difference: Some(120.0),
            limit: None,
            moved: false,
        }
    );
    assert_eq!(level.temperature_c.now, spread(4, -23.0, 2.582));
    assert_eq!(level.temperature_c.difference, Some(6.0));
}

/// Five ascents in each month at 500 hPa: the limits of the table are 180 gpm and 8 K; at the
/// limit itself nothing has moved.
#[test]
fn a_mean_that_moved_is_marked() {
    let found = |now: (f64, f64), count: i8| {
        let of = |month, values: (f64, f64)| {
            (1..=count).map(move |day| Ascent {
                levels: at_500(values.0, values.1),
                ..ascent(at(month, day, 0))
            })
        };
        let records = Records {
            ascents: of(1, (5400.0, -30.0)).chain(of(2, now)).collect(),
            ..Records::default()
        };
        let month = sum(&records, period("2031-02"), &schedule(), None);
        let findings = month.findings.iter();
        findings.map(|f| f.text()).collect::<Vec<_>>()
    };
    assert_eq!(found((5580.0, -22.0), 5), [""; 0]);
    assert_eq!(found((5581.0, -21.9), 4), [""; 0]);
    assert_eq!(
        found((5581.0, -38.1), 5),
        [
            "the mean geopotential height of the month at 500 hPa differs from that of 2031-01 by more than the limit, most at 500 hPa by +181 gpm (there at most 180 gpm; compare the heights with neighbouring stations, and look for a change of instrument or of the height of the station) [common practice, no source]",
            "the mean temperature of the month at 500 hPa differs from that of 2031-01 by more than the limit, most at 500 hPa by -8.1 K (there at most 8.0 K; compare the temperatures with neighbouring stations, and look for a change of instrument) [common practice, no source]",
        ]
    );
}

/// February has 28 days: two ascents to 30 hPa on each, then one of them less, or only to
/// 30.1 hPa; 25 ascents in all, then 24.
#[test]
fn a_requirement_is_met_at_its_figure() {
    let judged = |ascents: Vec<Ascent>, name: &str| {
        let records = Records {
            ascents,
            ..Records::default()
        };
        let month = sum(&records, period("2031-02"), &schedule(), None);
        let mut judged = month.requirements.into_iter();
        let judged = judged.find(|judged| judged.name == name).unwrap();
        (judged.figure(), judged.verdict())
    };
    let every: Vec<Ascent> = (1..=28)
        .flat_map(|day| [0, 12].map(|hour| at(2, day, hour)))
        .map(|standard| Ascent {
            top_hpa: Some(30.0),
            ..ascent(standard)
        })
        .collect();
    let full = ("28 of 28 days".to_owned(), "met");
    assert_eq!(judged(every.clone(), "gbon_30_hpa"), full);
    let less = ("27 of 28 days".to_owned(), "not met");
    assert_eq!(judged(every[1..].to_vec(), "gbon_30_hpa"), less);
    let mut lower = every.clone();
    lower[55].top_hpa = Some(30.1);
    assert_eq!(judged(lower, "gbon_30_hpa"), less);
    let met = ("25 ascents, 25 needed".to_owned(), "met");
    assert_eq!(judged(every[..25].to_vec(), "guan_30_hpa"), met);
    let not = ("24 ascents, 25 needed".to_owned(), "not met");
    assert_eq!(judged(every[..24].to_vec(), "guan_30_hpa"), not);
}

/// At 14:00 on 3 February the report of 12 UTC is not due before 14:30, but its early message
/// is out; of 00 UTC NIL is. Two days are over.
#[test]
fn a_month_that_is_not_over_expects_what_is_due() {
    let now = at(2, 3, 14);
    let month = sum(&records(), period("2031-02"), &schedule(), Some(now));
    assert_eq!(month.until, Some(now));
    assert_eq!(month.standard_times.reported, Share { count: 3, of: 6 });
    assert_eq!(month.requirements[0].needed, 2);
    let mut bare = records();
    bare.early.pop();
    let month = sum(&bare, period("2031-02"), &schedule(), Some(now));
    assert_eq!(month.standard_times.reported.of, 5);
    let over = sum(&bare, period("2031-02"), &schedule(), Some(at(3, 1, 0)));
    assert_eq!((over.until, over.standard_times.reported.of), (None, 56));
}

/// Five checks one day apart. By hand: 0, 0.1, 0.2, 0.3, 0.4 K lie on a line, which changes by
/// 0.4 K; the limit is half of 0.5 K, and three standard errors. Of 0, 0, 0.3, 0, 0 K the line does not change.
#[test]
fn a_batch_that_drifts_is_seen() {
    let changes = |offs: &[f64]| {
        let ascents = (1..).zip(offs).map(|(day, off)| Ascent {
            batch: "9".to_owned(),
            checked: checked(GroundCheckResult::Go, *off),
            ..ascent(at(2, day, 0))
        });
        let records = Records {
            ascents: ascents.collect(),
            ..Records::default()
        };
        let month = sum(&records, period("2031-02"), &schedule(), None);
        let drifts = month.findings.iter().any(|f| f.is(Code::MonthBatchDrift));
        let difference = month.batches[0].differences[0];
        assert_eq!(drifts, difference.drifts);
        (difference.change, drifts)
    };
    assert_eq!(changes(&[0.0, 0.1, 0.2, 0.3, 0.4]), (Some(0.4), true));
    assert_eq!(changes(&[0.2, 0.15, 0.1, 0.05, 0.0]), (Some(-0.2), false));
    assert_eq!(changes(&[0.0, 0.0, 0.3, 0.0, 0.0]), (Some(0.0), false));
    assert_eq!(changes(&[0.0, 0.1, 0.2, 0.4]), (None, false));
    // 0.32 K, but its standard error is 0.261 K: residuals −0.08, 0.24, −0.24, 0.08 and 0 K,
    // √(0.128 / 3 / 10) × 4.
    assert_eq!(changes(&[0.0, 0.4, 0.0, 0.4, 0.4]), (Some(0.32), false));
}

/// Batch 7 has 0.1 and 0.7 K: mean 0.4, deviation √(2 × 0.3²) = 0.424. Batch 8 has one ascent
/// without a check and one refused file with −0.1 K.
#[test]
fn faults_are_counted_by_batch() {
    let month = sum(&records(), period("2031-02"), &schedule(), None);
    let names: Vec<&str> = month.batches.iter().map(|b| b.batch.as_str()).collect();
    assert_eq!(names, ["", "7", "8"]);
    let [_, seven, eight] = &month.batches[..] else {
        unreachable!("three batches")
    };
    assert_eq!((seven.ascents, seven.refused), (2, 0));
    assert_eq!((seven.checked, seven.look_again), (2, 1));
    let spread = seven.differences[0].spread;
    assert_eq!((spread.mean, spread.deviation), (0.4, Some(0.424)));
    assert_eq!((eight.ascents, eight.refused, eight.checked), (1, 1, 1));
    assert_eq!(eight.codes["continuity-height"], 1);
}

#[test]
fn a_month_as_text_and_as_a_document() {
    let month = sum(&records(), period("2031-02"), &schedule(), None);
    insta::assert_snapshot!("text", month.to_string());
    insta::assert_snapshot!("json", serde_json::to_string_pretty(&month).unwrap());
    let table = month.table().into_iter();
    let rows: Vec<String> = table
        .map(|row| [row.of, &row.which, &row.figure, &row.value].join(","))
        .collect();
    insta::assert_snapshot!("table", rows.join("\n"));
}

/// JSON Schema, draft 2020-12, by a general validator from the registry.
#[test]
fn a_document_is_valid_by_the_schema_and_reads_back() {
    let validator = jsonschema::draft202012::new(&schema()).unwrap();
    for records in [records(), Records::default()] {
        let month = sum(&records, period("2031-02"), &schedule(), Some(at(2, 20, 0)));
        let value = serde_json::to_value(&month).unwrap();
        let faults = validator.iter_errors(&value);
        let faults: Vec<String> = faults
            .map(|e| format!("{}: {e}", e.instance_path()))
            .collect();
        assert!(faults.is_empty(), "{faults:?}");
        let text = serde_json::to_string(&month).unwrap();
        assert_eq!(serde_json::from_str::<Month>(&text).unwrap(), month);
        let mut wrong = value;
        wrong["standard_times"]["hours"] = "none".into();
        assert!(!validator.is_valid(&wrong));
    }
}

#[test]
fn an_empty_month_has_nothing() {
    let month = sum(&Records::default(), period("2032-02"), &schedule(), None);
    // 2032 is a leap year.
    assert_eq!(month.standard_times.reported, Share { count: 0, of: 58 });
    assert_eq!((month.ascents, month.levels.len()), (0, 0));
    assert!(month.requirements.iter().all(|judged| !judged.met));
    assert!(month.findings.is_empty());
    let none = sum(
        &Records::default(),
        period("2032-02"),
        &Schedule::default(),
        None,
    );
    assert_eq!(none.standard_times, Times::default());
}

#[test]
fn a_month_is_a_year_and_a_month() {
    for wrong in [
        "2031",
        "2031-13",
        "2031-00",
        "31-02",
        "2031-2",
        "2031-02-01",
        "+031-02",
        "",
        "-",
        "0000-12",
        "9999-12",
    ] {
        assert_eq!(Period::parse(wrong), None, "{wrong}");
    }
    let march = period("2031-03");
    assert_eq!(march.previous(), period("2031-02"));
    assert_eq!(period("2031-01").previous(), period("2030-12"));
    assert!(march.has(at(3, 31, 23)) && !march.has(march.end()));
    assert_eq!((march.days().count(), march.end()), (31, at(4, 1, 0)));
}

#[test]
fn a_share_is_rounded_to_tenths() {
    let of = |count, of| Share { count, of }.to_string();
    assert_eq!(of(2, 3), "2 of 3 (66.7 %)");
    assert_eq!(of(1, 16), "1 of 16 (6.3 %)");
    assert_eq!(of(0, 0), "0 of 0");
}

/// By hand: −0.1, 0.2 and 0.5 have the mean 0.2 and the deviation √(0.18 / 2) = 0.3.
#[test]
fn values_have_mean_and_deviation() {
    let spread = |values: &[f64]| Spread::of(values.iter().copied());
    let found = spread(&[-0.1, 0.2, 0.5]).unwrap();
    assert_eq!(
        (found.count, found.mean, found.deviation),
        (3, 0.2, Some(0.3))
    );
    assert_eq!(found.to_string(), "+0.20 ± 0.30");
    assert_eq!(spread(&[-1.0]).unwrap().to_string(), "-1.00");
    assert_eq!(spread(&[]), None);
}

#[test]
fn several_stations_are_reported() {
    let mut records = records();
    records.ascents[1].station = "0-20000-0-99012".to_owned();
    let month = sum(&records, period("2031-02"), &schedule(), None);
    assert_eq!(month.stations.len(), 2);
    assert!(month.findings.iter().any(|f| f.is(Code::MonthStations)));
}

prop_compose! {
    fn any_records()(
        flights in prop::collection::vec((1..=28_i8, 0..24_i8, 0..300_i64, 0..4_usize, 1.0..900.0_f64), 0..40),
        nil in prop::collection::vec((1..=28_i8, 0..24_i8), 0..20),
        early in prop::collection::vec((1..=28_i8, 0..24_i8), 0..20),
        refused in 0..5_usize,
    ) -> Records {
        let batches = ["", "7", "8", "9"];
        let mut ascents: Vec<Ascent> = flights.into_iter().map(|(day, hour, after, batch, top)| Ascent {
            after_min: Some(after),
            in_time: (after % 3 > 0).then_some(after <= 150),
            top_hpa: Some(top),
            batch: batches[batch].to_owned(),
            codes: vec!["continuity-height".to_owned(); batch],
            ended_by: u8::try_from(batch).ok(),
            levels: at_500(5000.0 + top, -top / 10.0),
            ..ascent(at(2, day, hour))
        }).collect();
        ascents.sort_by_key(|ascent| ascent.standard);
        ascents.dedup_by_key(|ascent| ascent.standard);
        let times = |times: Vec<(i8, i8)>| times.into_iter().map(|(day, hour)| at(2, day, hour)).collect();
        Records {
            ascents,
            nil: times(nil),
            early: times(early),
            refusals: vec![Refusal { at: at(2, 1, 0), ..Refusal::default() }; refused],
            ..Records::default()
        }
    }
}

proptest! {
    /// The parts are the whole: standard times by hour and state, ascents by batch, reason of
    /// ending and mark on the page.
    #[test]
    fn the_parts_add_up(records in any_records()) {
        let month = sum(&records, period("2031-02"), &schedule(), None);
        let times = &month.standard_times;
        let mut expected = 0;
        for hour in &times.hours {
            let parts = hour.reported + hour.early_only + hour.nil + hour.missing;
            prop_assert_eq!(parts, hour.expected);
            prop_assert!(hour.late <= hour.reported);
            expected += hour.expected;
        }
        prop_assert_eq!((expected, times.reported.of), (56, 56));
        prop_assert_eq!(times.reported.count + times.unscheduled, month.ascents);
        prop_assert_eq!(month.list.len(), month.ascents);
        prop_assert_eq!(month.batches.iter().map(|b| b.ascents).sum::<usize>(), month.ascents);
        let refused = month.refused.values().sum::<usize>();
        prop_assert_eq!(month.batches.iter().map(|b| b.refused).sum::<usize>(), refused);
        prop_assert_eq!(month.ended_by.values().sum::<usize>(), month.ascents);
        let codes = month.batches.iter().flat_map(|b| b.codes.values()).sum::<usize>();
        prop_assert_eq!(month.codes.values().sum::<usize>(), codes);
        let reached: Vec<usize> = month.tops.reached.iter().map(|r| r.count).collect();
        prop_assert!(reached.is_sorted_by(|a, b| a >= b));
        let used = month.levels.iter().filter_map(|l| l.height_gpm.now).map(|s| s.count);
        prop_assert!(used.eq((month.ascents > 0).then(|| u32::try_from(month.ascents).unwrap())));
    }
}

#[test]
fn the_file_holds_the_schema_of_a_month() {
    let generator = SchemaSettings::draft2020_12().into_generator();
    let made = generator.into_root_schema_for::<Month>().to_value();
    assert_kept(&made, "verify/month/schema.json");
}
