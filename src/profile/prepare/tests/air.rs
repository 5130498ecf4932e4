//! What heights and humidity mean.

use super::*;
use approx::assert_abs_diff_eq;

// Heights.

#[test]
fn heights_above_the_ellipsoid_come_down_to_the_station() {
    let meaning = Meaning {
        height_reference: HeightReference::Ellipsoid,
        ..Meaning::default()
    };
    let csv = "time_s,altitude_m,pressure_hpa,temperature_c\n0,147.3,1000,15\n1,152.3,999.4,15\n\
               10,197.3,994,14.6\n20,247.3,988,14.2\n";
    let (profile, findings) = build(&raw(csv), &context(meaning.clone())).unwrap();
    assert_eq!(
        reported(&findings, "ellipsoid-height"),
        "info: x.csv:2: heights are above the ellipsoid: +47.3 m is subtracted, so that the sonde is released at 100 m"
    );
    let wanted = |m: f64| geopotential_gpm(m, 45.0);
    let heights: Vec<f64> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    for (z, m) in heights.iter().zip([100.0, 105.0, 150.0, 200.0]) {
        assert!((z - wanted(m)).abs() < 1e-6, "{z} {m}");
    }
    // The same without the word: the station is said to be 47 m lower.
    let (_, findings) = build(&raw(csv), &context(Meaning::default())).unwrap();
    assert_eq!(
        reported(&findings, "height-offset"),
        "warning: x.csv:2: the sonde is released at 147.3 m by its heights and at 100 m by the sheet (+47.3 m) (at most 10 m apart; check release_m, or write height_reference = \"ellipsoid\" under [profile] if heights are above the ellipsoid)"
    );
    // A first row some seconds up: 4 s at the 5 m/s that follow.
    let later = csv
        .replace("0,147.3,1000,15\n1,152.3,999.4,15\n", "4,167.3,997.6,15\n")
        .replace("10,197.3", "9,192.3");
    let (_, findings) = build(&raw(&later), &context(meaning.clone())).unwrap();
    assert!(reported(&findings, "ellipsoid-height").contains("+47.3 m is subtracted"));
    // 300 m is no undulation of the geoid.
    let far = csv
        .replace("147.3", "447.3")
        .replace("152.3", "452.3")
        .replace("197.3", "497.3")
        .replace("247.3", "547.3");
    let error = build(&raw(&far), &context(meaning.clone())).unwrap_err();
    assert!(
        error
            .to_string()
            .starts_with("x.csv:2: as height above the ellipsoid the sonde is released +347.3 m"),
        "{error}"
    );
    // A drop is not released at the station.
    let mut drop = context(meaning.clone());
    drop.station.kind = StationKind::Drop;
    assert!(build(&raw(csv), &drop).is_err());
    // Where geopotential stands beside it, that is left alone.
    let both = "time_s,altitude_m,height_gpm,pressure_hpa,temperature_c\n\
                0,147.3,100,1000,15\n10,,150,994,14.6\n20,247.3,200,988,14.2\n";
    let (profile, _) = build(&raw(both), &context(meaning.clone())).unwrap();
    let heights: Vec<f64> = profile.rows.iter().filter_map(|r| r.height_gpm).collect();
    assert_eq!(heights, [100.0, 150.0, 200.0]);
    // Nothing to hold it against.
    let mut nowhere = context(meaning.clone());
    nowhere.station.elevation_m = None;
    let error = build(&raw(csv), &nowhere).unwrap_err().to_string();
    assert!(error.contains("give release_m or elevation_m"), "{error}");
    let late = "time_s,altitude_m,pressure_hpa,temperature_c\n60,447,960,12\n70,497,955,11\n";
    let error = build(&raw(late), &context(meaning))
        .unwrap_err()
        .to_string();
    assert!(error.contains("no row within 10 s of release"), "{error}");
}

#[test]
fn heights_of_the_other_kind_are_reported() {
    // An isothermal column of 250 K, dry: ln(1000 / p) times 29.27127 x 250 =
    // 7317.8 gpm.
    let mut context = context(Meaning::default());
    context.station.latitude_deg = Some(0.0);
    context.station.elevation_m = Some(0.0);
    let column = |name: &str, height: fn(f64) -> f64| {
        let mut csv = format!("pressure_hpa,{name},temperature_c\n");
        for k in 0..=40 {
            let z = 500.0 * f64::from(k);
            let p = 1000.0 * (-z / 7_317.817_5).exp();
            csv += &format!("{p:.5},{:.2},-23.15\n", height(z));
        }
        build(&raw(&csv), &context).unwrap().1
    };
    let as_it_is = |z: f64| z;
    let as_length = |z: f64| crate::physics::gravity::altitude_m(z, 0.0);
    assert!(!codes(&column("height_gpm", as_it_is)).contains(&"kind-of-height"));
    assert!(!codes(&column("altitude_m", as_length)).contains(&"kind-of-height"));
    // 20 000 m at the equator are 20 000 x 9.780325 / 9.80665 x R / (R + 20 000), R =
    // 6 335.0 km: 19 883.5 gpm, 116.5 less.
    assert_eq!(
        reported(&column("altitude_m", as_it_is), "kind-of-height"),
        "error: x.csv:42: used as geometric height, the heights differ by -116 gpm from those computed from pressure and temperature; used as geopotential, by +0 gpm (at most 30 gpm; under [profile] write height_kind = \"geopotential\" if they are geopotential, height_kind = \"geometric\" if they are geometric height) [our method]"
    );
    // And the length of 20 000 gpm is 118 m more.
    assert_eq!(
        reported(&column("height_gpm", as_length), "kind-of-height"),
        "error: x.csv:42: used as geopotential, the heights differ by +118 gpm from those computed from pressure and temperature; used as geometric height, by +0 gpm (at most 30 gpm; under [profile] write height_kind = \"geometric\" if they are geometric height, height_kind = \"geopotential\" if they are geopotential) [our method]"
    );
}

#[test]
fn the_sheet_says_which_kind_heights_are() {
    let mut context = context(Meaning::default());
    context.station.latitude_deg = Some(0.0);
    context.station.elevation_m = Some(0.0);
    // The column of the test above: 20 000 gpm that the file calls altitude.
    let mut csv = "pressure_hpa,altitude_m,temperature_c\n".to_owned();
    for k in 0..=40 {
        let z = 500.0 * f64::from(k);
        let p = 1000.0 * (-z / 7_317.817_5).exp();
        csv += &format!("{p:.5},{z:.2},-23.15\n");
    }
    let (open, _) = build(&raw(&csv), &context).unwrap();
    assert_eq!(open.unsettled.len(), 1);
    assert_eq!(
        open.unsettled[0].severity,
        crate::model::finding::Severity::Error
    );
    context.meaning.height_kind = Some(HeightKind::Geopotential);
    let (settled, findings) = build(&raw(&csv), &context).unwrap();
    assert_eq!(settled.unsettled, []);
    assert_eq!(settled.rows[40].height_gpm, Some(20_000.0));
    assert_eq!(
        reported(&findings, "height-kind-given"),
        "info: x.csv: heights are used as geopotential, by height_kind of the sheet; the file gives them as geometric height in 41 rows"
    );
    assert!(!codes(&findings).contains(&"kind-of-height"));
    // The sheet insists on lengths: 19 883.5 gpm, as above, and a warning.
    context.meaning.height_kind = Some(HeightKind::Geometric);
    let (insisted, findings) = build(&raw(&csv), &context).unwrap();
    assert_eq!(insisted.unsettled, []);
    assert_abs_diff_eq!(
        insisted.rows[40].height_gpm.unwrap(),
        19_883.5,
        epsilon = 0.5
    );
    assert!(
        reported(&findings, "kind-of-height-given")
            .starts_with("warning: x.csv:42: used as geometric")
    );
    // Geopotential that is said to be lengths is the same in the other column.
    let other = csv.replace("altitude_m", "height_gpm");
    let (stated, _) = build(&raw(&other), &context).unwrap();
    assert_eq!(stated.rows[40].height_gpm, insisted.rows[40].height_gpm);
}

// Humidity.

#[test]
fn humidity_over_ice_is_brought_to_water() {
    let meaning = Meaning {
        humidity_over: HumidityOver::Ice,
        ..Meaning::default()
    };
    let csv = "pressure_hpa,height_gpm,temperature_c,humidity_pct,dewpoint_c\n\
               1000,100,5,80,\n900,1000,-20,90,\n800,2000,-30,,-33\n";
    let (profile, findings) = build(&raw(csv), &context(meaning)).unwrap();
    assert_eq!(
        reported(&findings, "humidity-over-ice"),
        "info: x.csv:3: humidity over ice is converted to humidity over water in 2 rows"
    );
    let rows = &profile.rows;
    assert_eq!(rows[0].humidity_pct, Some(80.0));
    // Smithsonian tables (from memory): 1.032 hPa over ice, 1.254 over water at -20
    // degrees C: 90 % are 74.1 %.
    assert_abs_diff_eq!(rows[1].humidity_pct.unwrap(), 74.1, epsilon = 0.3);
    // A frost point of -33 is the same vapour.
    let td = rows[2].dewpoint_c.unwrap();
    let e = saturation_vapour_pressure_hpa(td);
    let over_ice =
        saturation_vapour_pressure_hpa(-33.0) * humidity_from_ice_pct(-33.0, 100.0) / 100.0;
    assert!((e / over_ice - 1.0).abs() < 1e-6 && td < -33.0);
}

#[test]
fn supersaturation_over_ice_is_less_than_saturation_over_water() {
    let csv = "pressure_hpa,height_gpm,temperature_c,humidity_pct\n\
               1000,100,5,80\n300,9000,-50,140\n280,9500,-52,150\n";
    let (profile, findings) = build(&raw(csv), &context(Meaning::default())).unwrap();
    assert_eq!(
        reported(&findings, "humidity-over-105"),
        "warning: x.csv:3: 2 rows with a humidity over 105 %, treated as missing (0 to 105 % over water; if it is over ice, write humidity_over = \"ice\" under [profile])"
    );
    assert_eq!(profile.rows[1].humidity_pct, None);
    let meaning = Meaning {
        humidity_over: HumidityOver::Ice,
        ..Meaning::default()
    };
    let (profile, _) = build(&raw(csv), &context(meaning)).unwrap();
    // Smithsonian tables (from memory): 0.0394 hPa over ice, 0.0636 over water at -50
    // degrees C: 140 % are 86.7 %.
    assert_abs_diff_eq!(profile.rows[1].humidity_pct.unwrap(), 86.7, epsilon = 1.5);
}
