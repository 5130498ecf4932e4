//! Winds, pressures and heights that are made.

use super::*;
use approx::assert_abs_diff_eq;

// Winds.

/// A track north-east at 10 m/s, one fix per second, in degrees with a number of decimals.
fn track(decimals: usize, seconds: i32) -> String {
    let mut csv =
        "time_s,pressure_hpa,height_gpm,temperature_c,latitude_deg,longitude_deg\n".to_owned();
    let component = 10.0 / 2.0_f64.sqrt();
    for t in 0..=seconds {
        let way = component * f64::from(t);
        let (lat, lon) = crate::physics::drift::moved((45.0, 7.0), way, way).unwrap();
        let z = 100.0 + 5.0 * f64::from(t);
        csv += &format!(
            "{t},{:.3},{z},10,{lat:.decimals$},{lon:.decimals$}\n",
            standard_pressure_hpa(z)
        );
    }
    csv
}

#[test]
fn winds_come_from_the_track() {
    let (profile, findings) = build(&raw(&track(5, 300)), &context(Meaning::default())).unwrap();
    for row in &profile.rows {
        let wind = row.wind.unwrap();
        // From the south-west; the step of 1.1 m leaves a little.
        assert!((wind.speed_ms - 10.0).abs() < 0.1, "{wind:?}");
        assert!((wind.dir_deg - 225.0).abs() < 0.6, "{wind:?}");
    }
    let reported = reported(&findings, "wind-from-positions");
    assert!(
        reported.starts_with(
            "info: x.csv:2: winds are missing and computed from positions for 301 of 301 rows, \
             over 30 s each, 0 of them calm for a distance below the position step of 1.1 m; 0 \
             positions out of reach are not used, and the standard error of a component is 0.0"
        ),
        "{reported}"
    );
    assert!(profile.derived.contains(&Derivation::WindFromPositions));
}

#[test]
fn coarse_positions_give_no_wind_but_in_a_longer_window() {
    // Three decimals are 111 m: over 30 s, winds below 3.7 m/s would not show.
    let csv = track(3, 600);
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert!(profile.rows.iter().all(|r| r.wind.is_none()));
    assert_eq!(
        reported(&findings, "positions-coarse"),
        "warning: x.csv:2: winds are missing, and positions in steps of 111 m are too coarse to compute them from 30 s of the track (set track_window_s under [profile] to at least 45)"
    );
    let wide = Meaning {
        track_window_s: Some(120.0),
        ..Meaning::default()
    };
    let (profile, _) = build(&raw(&csv), &context(wide)).unwrap();
    let middle = profile.rows[300].wind.unwrap();
    assert!((middle.speed_ms - 10.0).abs() < 1.0, "{middle:?}");
}

#[test]
fn a_balloon_that_stays_within_a_step_is_in_calm() {
    let csv: String = track(5, 100)
        .lines()
        .enumerate()
        .map(|(i, l)| match i {
            0 => format!("{l}\n"),
            _ => format!(
                "{}45.00000,7.00001\n",
                l.split_at(l.find(",10,").unwrap() + 4).0
            ),
        })
        .collect();
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert!(profile.rows.iter().all(|r| r.wind.unwrap().speed_ms == 0.0));
    assert!(reported(&findings, "wind-from-positions").contains("101 of them calm"));
}

#[test]
fn wrong_positions_are_left_out() {
    let mut lines: Vec<String> = track(5, 300).lines().map(str::to_owned).collect();
    let put = |line: &mut String, place: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        *line = format!("{},{place}", cells[..4].join(","));
    };
    put(&mut lines[100], "0,0");
    put(&mut lines[101], "0,0");
    put(&mut lines[150], "45.01000,7.01000");
    let (profile, findings) = build(
        &raw(&(lines.join("\n") + "\n")),
        &context(Meaning::default()),
    )
    .unwrap();
    let reported = reported(&findings, "wind-from-positions");
    assert!(
        reported.contains("; 3 positions out of reach are not used"),
        "{reported}"
    );
    for row in &profile.rows {
        assert!(
            row.wind.is_none_or(|w| (w.speed_ms - 10.0).abs() < 0.2),
            "{row:?}"
        );
    }
}

#[test]
fn winds_that_fail_go_on_with_the_track() {
    let csv: String = track(5, 600)
        .lines()
        .enumerate()
        .map(|(i, l)| match i {
            0 => format!("{l},wind_dir_deg,wind_speed_ms\n"),
            1..=300 => format!("{l},225,10\n"),
            _ => format!("{l},,\n"),
        })
        .collect();
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert!(reported(&findings, "wind-from-positions").contains("for 301 of 601 rows"));
    let top = profile.rows.last().unwrap().wind.unwrap();
    assert!((top.speed_ms - 10.0).abs() < 0.2 && (top.dir_deg - 225.0).abs() < 1.0);
}

#[test]
fn a_gap_in_the_track_has_no_wind() {
    let csv: String = track(5, 300)
        .lines()
        .enumerate()
        .filter(|(i, _)| !(100..200).contains(i))
        .map(|(_, l)| format!("{l}\n"))
        .collect();
    let (profile, _) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    // Half a window to each side is enough, and there is nothing between.
    assert_eq!(profile.rows.len(), 201);
    assert!(profile.rows.iter().all(|r| r.wind.is_some()));
    // Fixes a minute apart are too few for a window of 30 s.
    let sparse: String = track(5, 600)
        .lines()
        .enumerate()
        .filter(|(i, _)| i % 60 < 2)
        .map(|(_, l)| format!("{l}\n"))
        .collect();
    let (profile, findings) = build(&raw(&sparse), &context(Meaning::default())).unwrap();
    assert!(profile.rows.iter().all(|r| r.wind.is_none()));
    assert!(reported(&findings, "positions-sparse").contains("set a longer track_window_s"));
}

// Pressures.

/// A column with heights and temperatures alone.
const BARE: &str = "time_s,height_gpm,temperature_c\n0,100,15\n100,600,12\n200,1100,9\n";

#[test]
fn pressures_come_from_heights_and_the_surface() {
    let (profile, findings) = build(&raw(BARE), &with_surface(1000.0)).unwrap();
    assert_eq!(profile.axis, Axis::Pressure);
    // By hand: 500 gpm of dry air, mean 286.65 K: 1000 exp(-500 / (29.27127 x
    // 286.65)) = 942.15 hPa; the next 283.65 K: 942.15 x 0.941559 = 887.09 hPa.
    for (row, p) in profile.rows.iter().zip([1000.0, 942.15, 887.09]) {
        assert!((row.pressure_hpa.unwrap() - p).abs() < 0.01, "{row:?}");
    }
    assert_eq!(
        reported(&findings, "pressure-integrated"),
        "info: x.csv:2: pressures are missing and computed hydrostatically with virtual temperature from 1000.0 hPa at the surface for 3 rows, 0 of them without temperature"
    );
    assert!(profile.derived.contains(&Derivation::PressureByIntegration));
}

#[test]
fn a_barometer_above_the_release_point_counts() {
    let mut context = with_surface(1000.0);
    context.station.barometer_m = Some(112.0);
    if let Some(surface) = &mut context.surface {
        surface.pressure_at = crate::model::PressureAt::Barometer;
    }
    let (profile, _) = build(&raw(BARE), &context).unwrap();
    // 12 m of air at 15 °C: 1000 (1 + 12 / (29.27 x 288.15)) = 1001.42 hPa.
    assert_abs_diff_eq!(
        profile.rows[0].pressure_hpa.unwrap(),
        1001.42,
        epsilon = 0.01
    );
}

#[test]
fn rows_that_begin_aloft_start_from_the_release_point() {
    let aloft = "time_s,height_gpm,temperature_c\n100,600,12\n200,1100,9\n";
    let (profile, _) = build(&raw(aloft), &with_surface(1000.0)).unwrap();
    // The layer below the first row is as warm as it: 1000 exp(-500 / (29.27127 x
    // 285.15)) = 941.86 hPa (500 gpm less the 0.05 gpm of 100 m in 45 degrees).
    assert!(
        (profile.rows[1].pressure_hpa.unwrap() - 941.86).abs() < 0.02,
        "{profile:?}"
    );
    assert_eq!(profile.rows[0].pressure_hpa, Some(1000.0));
}

#[test]
fn where_pressure_cannot_be_had_it_stays_missing() {
    let missing = |csv: &str, context: &Context| {
        let (profile, findings) = build(&raw(csv), context).unwrap();
        assert_eq!(profile.axis, Axis::Height, "{findings:?}");
        assert!(!codes(&findings).contains(&"pressure-integrated"));
    };
    // No surface pressure; no temperature; first row far above the ground.
    missing(BARE, &context(Meaning::default()));
    missing(
        "time_s,height_gpm,wind_dir_deg,wind_speed_ms\n0,100,270,5\n100,600,270,6\n",
        &with_surface(1000.0),
    );
    missing(
        "time_s,height_gpm,temperature_c\n3000,15100,-55\n3100,15600,-55\n3200,16100,-55\n",
        &with_surface(1000.0),
    );
    // A drop is not released at the surface.
    let mut drop = with_surface(1000.0);
    drop.station.kind = StationKind::Drop;
    missing(
        "time_s,height_gpm,temperature_c\n0,1100,9\n50,600,12\n100,100,15\n",
        &drop,
    );
}

#[test]
fn rows_without_temperature_are_bridged_and_told() {
    let csv = "time_s,height_gpm,temperature_c\n0,100,15\n50,350,\n100,600,12\n150,850,\n";
    let (profile, findings) = build(&raw(csv), &with_surface(1000.0)).unwrap();
    assert!(
        reported(&findings, "pressure-integrated")
            .ends_with("for 3 rows, 1 of them without temperature")
    );
    // Half-way, 286.65 K there: mean of 288.15 and 286.65 over 250 gpm: 1000
    // exp(-250 / (29.27127 x 287.4)) = 970.72 hPa.
    let there = profile
        .rows
        .iter()
        .find(|r| r.height_gpm == Some(350.0))
        .unwrap();
    assert!(
        (there.pressure_hpa.unwrap() - 970.72).abs() < 0.01,
        "{there:?}"
    );
}

#[test]
fn a_layer_without_pressure_is_integrated_and_its_end_compared() {
    // The dry column of the standard atmosphere with pressures lost between 600 gpm
    // and 1600 gpm, and the height of the failing row too.
    let mut csv = "time_s,pressure_hpa,height_gpm,temperature_c\n".to_owned();
    for k in 0..=50 {
        let z = 100.0 + 40.0 * f64::from(k);
        let lost = (600.0..1600.0).contains(&z);
        let p = if lost {
            String::new()
        } else {
            format!("{:.2}", standard_pressure_hpa(z))
        };
        let height = if k == 12 {
            String::new()
        } else {
            z.to_string()
        };
        csv += &format!("{},{p},{height},{:.3}\n", 8 * k, 15.0 - 0.0065 * z);
    }
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    assert_eq!(profile.rows.len(), 51);
    for row in profile.rows.iter().filter(|r| r.height_gpm.is_some()) {
        let p = standard_pressure_hpa(row.height_gpm.unwrap());
        assert!((row.pressure_hpa.unwrap() - p).abs() < 0.05, "{row:?} {p}");
    }
    // 1620 gpm: 1013.25 (1 - 0.0065 x 1620 / 288.15)^5.2559 = 833.2 hPa.
    let reported = reported(&findings, "pressure-gap-integrated");
    assert!(
        reported.ends_with("where it returns 833.2 hPa was measured and 833.2 hPa computed"),
        "{reported}"
    );
}

#[test]
fn heights_that_fail_go_on_hydrostatically() {
    let mut csv = "time_s,pressure_hpa,height_gpm,temperature_c\n".to_owned();
    for k in 0..=50 {
        let z = 100.0 + 40.0 * f64::from(k);
        let height = if k > 20 { String::new() } else { z.to_string() };
        csv += &format!(
            "{},{:.3},{height},{:.3}\n",
            8 * k,
            standard_pressure_hpa(z),
            15.0 - 0.0065 * z
        );
    }
    let (profile, findings) = build(&raw(&csv), &context(Meaning::default())).unwrap();
    // 900 gpm: 1013.25 (1 - 0.0065 x 900 / 288.15)^5.2559 = 909.7 hPa.
    assert_eq!(
        reported(&findings, "height-integrated"),
        "info: x.csv: heights above 909.7 hPa are missing and computed hydrostatically with virtual temperature, across 0 rows without temperature; 0 rows at the top without height"
    );
    let top = profile.rows.last().unwrap().height_gpm.unwrap();
    assert!((top - 2100.0).abs() < 0.2, "{top}");
}

#[test]
fn a_pressure_sensor_that_is_off_is_no_other_kind_of_height() {
    let mut csv = "pressure_hpa,height_gpm,temperature_c\n".to_owned();
    for k in 0..=56 {
        let z = 500.0 * f64::from(k);
        // 0.25 hPa too much: 17 hPa and more than 100 gpm at the top.
        let p = 1000.0 * (-z / 7_317.817_5).exp() + 0.25;
        csv += &format!("{p:.5},{z},-23.15\n");
    }
    let mut context = context(Meaning::default());
    context.station.elevation_m = Some(0.0);
    let (_, findings) = build(&raw(&csv), &context).unwrap();
    assert!(
        !codes(&findings).contains(&"kind-of-height"),
        "{findings:?}"
    );
}
