//! Faults before release.

use super::*;

#[test]
fn a_barometer_off_by_three_hectopascals_is_found() {
    // The sheet reads 3 hPa more; the first row has what the sheet says.
    let high = with(1, 1, |r| *r.pressure_hpa.as_mut().unwrap() += 3.0);
    let mut context = sheet();
    context.surface.as_mut().unwrap().pressure_hpa = high.rows[0].pressure_hpa;
    let found = only(&high, &context, "sonde-pressure", "(-3.0 hPa)");
    let line = verdict(&check(&high, &context));
    assert_eq!(line, format!("look again: {}", found.what));
    // 3 hPa less: rows below the surface go, 25 gpm or five of them.
    let mut low = clean();
    let ground = low.rows[0].pressure_hpa.unwrap() - 3.0;
    low.rows[0].pressure_hpa = Some(ground);
    low.rows.retain(|r| r.pressure_hpa.unwrap() <= ground);
    assert!((3994..=3996).contains(&low.rows.len()));
    context.surface.as_mut().unwrap().pressure_hpa = Some(ground);
    only(&low, &context, "sonde-pressure", "(+3.0 hPa)");
    // 1 hPa is within 1.5 hPa.
    let near = with(1, 1, |r| *r.pressure_hpa.as_mut().unwrap() += 1.0);
    assert_eq!(warnings(&check(&near, &context)), []);
}

#[test]
fn heights_from_pressure_do_not_vouch_for_the_barometer() {
    // The heights stand on the false pressure; 5 m/s for the 1 s to row 2 are
    // 5 gpm, 0.6 hPa, and half of that widens the limit.
    let mut high = with(1, 1, |r| *r.pressure_hpa.as_mut().unwrap() += 3.0);
    high.derived = vec![Derivation::HeightByIntegration];
    for row in high.rows.iter_mut().skip(1) {
        *row.height_gpm.as_mut().unwrap() += 25.0;
    }
    only(&high, &sheet(), "sonde-pressure", "(-3.0 hPa)");
}

#[test]
fn temperature_and_humidity_of_the_sonde_against_the_surface() {
    // Surface 5 K warmer (limit 2 K) and 15 % moister (limit 10 %).
    let faulty = with(1, 1, |r| *r.temperature_c.as_mut().unwrap() += 5.0);
    only(&faulty, &sheet(), "sonde-temperature", "(-5.");
    let faulty = with(1, 1, |r| *r.humidity_pct.as_mut().unwrap() += 15.0);
    only(&faulty, &sheet(), "sonde-humidity", "(-1");
}

#[test]
fn a_station_height_off_by_thirty_metres_is_found() {
    for (height, words) in [(20.0, "(+30 gpm)"), (80.0, "(-30 gpm)")] {
        let mut context = sheet();
        context.station.elevation_m = Some(height);
        only(&clean(), &context, "release-height", words);
    }
}

#[test]
fn what_the_sheet_does_not_say_is_not_compared() {
    let findings = check(&clean(), &Context::default());
    assert_eq!(warnings(&findings), []);
    // One reason is given once for all that it holds for.
    assert_eq!(
        verdict(&findings),
        "go; not compared: pressure, temperature, humidity (the sheet gives none at the surface); \
         height (the sheet gives none of the release point)"
    );
}
