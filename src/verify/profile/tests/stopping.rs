//! What stands against any report.

use super::*;

/// The one thing that stands against a report.
#[track_caller]
fn stopped(profile: &Profile, context: &Context) -> Finding {
    let mut all = stopping(profile, context);
    assert_eq!(all.len(), 1, "{all:#?}");
    // The checks have it too.
    assert!(check(profile, context).contains(&all[0]));
    all.remove(0)
}

/// The clean ascent with every position moved by degrees north and east.
fn moved(north: f64, east: f64) -> Profile {
    with(1, 4000, |r| {
        let place = r.place.as_mut().unwrap();
        place.latitude_deg += north;
        place.longitude_deg += east;
    })
}

fn at(latitude_deg: f64, longitude_deg: f64) -> Context {
    let mut context = sheet();
    context.station.latitude_deg = Some(latitude_deg);
    context.station.longitude_deg = Some(longitude_deg);
    context
}

#[test]
fn a_clean_ascent_is_not_stopped() {
    assert_eq!(stopping(&clean(), &sheet()), []);
}

#[test]
fn each_slip_of_a_position_is_named() {
    // The flight begins at 48 N, 11 E. A degree of a great circle is 111.195 km
    // (6371 km): 22 degrees of longitude at 48 N are 22 x 111.195 x 0.66913 = 1637 km.
    let found = stopped(&clean(), &at(48.0, -11.0));
    assert_eq!(found.code, "station-position-slip");
    assert_eq!(found.place.key.as_deref(), Some("station.longitude_deg"));
    assert_eq!(
        found.what,
        "the station is at 48.0000, -11.0000 (degrees north, east) by the sheet, row 1 of the \
         flight at 48.0000, 11.0000: 1637 km apart"
    );
    assert_eq!(
        found.allowed.as_deref(),
        Some(
            "at most 10 km; check the sign of the longitude: 48.0000, 11.0000 agrees with the flight"
        )
    );
    assert!(verdict(&check(&clean(), &at(48.0, -11.0))).starts_with("look again: the station"));
    // 48 25' N is 48.41667, 11 40' E is 11.66667; written with a point, 18.5 km
    // and 19.7 km away.
    let (north, east) = (25.0 / 60.0, 40.0 / 60.0);
    for (profile, context, key, words) in [
        (
            clean(),
            at(-48.0, 11.0),
            "latitude",
            "check the sign of the latitude:",
        ),
        (
            clean(),
            at(-48.0, -11.0),
            "latitude",
            "the signs of latitude and longitude",
        ),
        (
            clean(),
            at(11.0, 48.0),
            "latitude",
            "which are swapped: 48.0000, 11.0000",
        ),
        (
            moved(north, 0.0),
            at(48.25, 11.0),
            "latitude",
            "the minutes of the latitude",
        ),
        (
            moved(0.0, east),
            at(48.0, 11.40),
            "longitude",
            "the minutes of the longitude",
        ),
        (
            moved(north, east),
            at(48.25, 11.40),
            "latitude",
            "minutes of latitude and longitude",
        ),
        (
            clean(),
            at(47.0, 12.0),
            "latitude",
            "compare latitude_deg and longitude_deg",
        ),
    ] {
        let found = stopped(&profile, &context);
        let wanted = format!("station.{key}_deg");
        assert_eq!(found.place.key, Some(wanted), "{words}");
        let allowed = found.allowed.unwrap();
        assert!(allowed.contains(words), "{words}: {allowed}");
    }
}

#[test]
fn ten_kilometres_are_allowed() {
    // 0.089 degrees of latitude are 9.90 km, 0.091 are 10.12 km.
    assert_eq!(stopping(&clean(), &at(48.089, 11.0)), []);
    stopped(&clean(), &at(48.091, 11.0));
    // A first row with the station's own position came from the sheet; the next
    // one counts.
    let mut far = moved(1.0, 0.0);
    far.rows[0].place = Some(Position {
        latitude_deg: 48.0,
        longitude_deg: 11.0,
    });
    assert!(stopped(&far, &sheet()).what.contains("row 2 of the flight"));
    // Positions that begin late: 10 km and 50 m/s x 600 s = 40 km; 0.35 degrees are
    // 38.9 km.
    let mut late = clean();
    late.rows.iter_mut().take(600).for_each(|r| r.place = None);
    let begins = late.rows[600].place.unwrap();
    let late_at = |off: f64| at(begins.latitude_deg + off, begins.longitude_deg);
    assert_eq!(stopping(&late, &late_at(0.35)), []);
    stopped(&late, &late_at(0.37));
    // Positions made from the wind say nothing.
    late.derived = vec![Derivation::PositionsFromWind];
    assert_eq!(stopping(&late, &late_at(5.0)), []);
}

#[test]
fn a_drop_begins_at_its_top_and_a_descent_far_away() {
    let mut drop = clean();
    drop.motion = Motion::Falling;
    for (k, row) in drop.rows.iter_mut().enumerate() {
        row.time_s = Some(f64::from(u32::try_from(4000 - k).unwrap()));
    }
    let top = drop.rows[3999].place.unwrap();
    let released = at(top.latitude_deg, top.longitude_deg);
    let (north, east) = (top.latitude_deg - 48.0, top.longitude_deg - 11.0);
    // It drifts by more than 10 km on its way down, which is no fault.
    let across = east * 48.0_f64.to_radians().cos();
    assert!(north.hypot(across) * 111.195 > 10.0, "{north} {east}");
    assert_eq!(stopping(&drop, &released), []);
    assert_eq!(stopped(&drop, &sheet()).code, "station-distance");
    // A descent that begins 4000 s after release: 10 km and 50 m/s x 4000 s.
    let mut descent = clean();
    descent.motion = Motion::Falling;
    descent.descent = true;
    descent
        .rows
        .iter_mut()
        .for_each(|r| *r.time_s.as_mut().unwrap() += 1.0);
    assert_eq!(stopping(&descent, &sheet()), []);
    let wrong = stopped(&descent, &at(48.0, -11.0));
    assert!(wrong.allowed.unwrap().contains("the sign of the longitude"));
    descent.rows.iter_mut().for_each(|r| r.time_s = None);
    assert_eq!(stopping(&descent, &at(48.0, -11.0)), []);
}

#[test]
fn a_first_row_far_from_the_station_is_an_error() {
    // The rows begin at 50 m; the limit is 50 m at the moment of release.
    for (height, words) in [(-10.0, "(+60 gpm)"), (110.0, "(-60 gpm)")] {
        let mut context = sheet();
        context.station.elevation_m = Some(height);
        let found = stopped(&clean(), &context);
        assert_eq!(found.code, "surface-height");
        assert!(found.what.contains(words), "{found}");
        assert!(found.allowed.unwrap().starts_with("at most 50 gpm apart"));
        let verdict = verdict(&check(&clean(), &context));
        assert!(verdict.starts_with("look again: row 1,"), "{verdict}");
    }
    // 10 s after release it may be 100 m further up.
    let mut late = clean();
    late.rows.drain(..10);
    let mut context = sheet();
    context.station.elevation_m = Some(-40.0);
    assert_eq!(stopping(&late, &context), []);
    context.station.elevation_m = Some(-60.0);
    assert!(stopped(&late, &context).what.contains("(+160 gpm)"));
    // A station 800 m too high: the rows below it were left out, and the first one
    // is there 160 s after release; at 2 m/s it would be 320 - 50 = 270 gpm up.
    let mut high = clean();
    high.rows.retain(|r| r.height_gpm.unwrap() >= 850.0);
    let context = Context {
        station: Station {
            elevation_m: Some(850.0),
            ..Station::default()
        },
        ..Context::default()
    };
    let found = stopped(&high, &context);
    assert!(found.what.contains("160 s after release"), "{found}");
    assert!(
        found
            .allowed
            .unwrap()
            .starts_with("270 gpm above it or more, at 2 m/s")
    );
}

#[test]
fn humidity_of_exactly_zero_is_an_error() {
    let zero = |r: &mut Row| {
        r.humidity_pct = Some(0.0);
        r.dewpoint_c = None;
    };
    // 130 rows of 1 s, more than 120 s in all, in two layers or every second row.
    let mut two = with(201, 265, zero);
    two.rows[400..465].iter_mut().for_each(zero);
    let found = stopped(&two, &sheet());
    assert_eq!(found.code, "humidity-zero");
    assert!(
        found
            .what
            .starts_with("humidity is exactly 0 % in 130 rows between"),
        "{found}"
    );
    assert!(found.what.ends_with("130 s in total"));
    // 120 rows are not more than 120 s; above the 300 hPa surface air may be so dry
    // that 0 % is its rounded humidity.
    assert_eq!(stopping(&with(201, 320, zero), &sheet()), []);
    let dry = clean()
        .rows
        .iter()
        .position(|r| r.pressure_hpa < Some(300.0));
    assert_eq!(stopping(&with(dry.unwrap() + 1, 4000, zero), &sheet()), []);
}
