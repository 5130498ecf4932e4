//! The files in `samples/` are what the invented ascents of `tests/scene` give,
//! byte for byte, and have the features they were made for.
//!
//! `FIVEFIG_WRITE_SAMPLES=1 cargo test --test suite generate::` writes them anew.

#![expect(
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a helper that fails is the failure of the test that called it"
)]

use crate::judge;
use crate::scene;
use approx::assert_abs_diff_eq;

use std::fs;
use std::path::PathBuf;

use scene::{Row, Scene, catalogue};

fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("samples")
        .join(name)
}

/// The rows as the file gives them.
fn rows(scene: &Scene) -> Vec<Row> {
    scene::print::read(&scene::print::file(scene)).expect("rows as printed")
}

/// Pressures, hPa, of the tropopauses.
fn tropopauses_hpa(scene: &Scene) -> Vec<f64> {
    let rows = rows(scene);
    judge::tropopauses(&rows)
        .into_iter()
        .map(|i| rows[i].pressure_hpa)
        .collect()
}

/// The row that lies at a pressure to the last printed decimal.
fn row_at(rows: &[Row], pressure_hpa: f64) -> &Row {
    let mut there = rows
        .iter()
        .filter(|row| (row.pressure_hpa - pressure_hpa).abs() < 0.001);
    let row = there
        .next()
        .unwrap_or_else(|| panic!("a row at {pressure_hpa} hPa"));
    assert_eq!(there.next(), None, "one row at {pressure_hpa} hPa");
    row
}

fn between(value: f64, low: f64, high: f64) -> bool {
    (low..=high).contains(&value)
}

#[test]
fn samples_are_what_the_scenes_give() {
    let write = std::env::var_os("FIVEFIG_WRITE_SAMPLES").is_some();
    let mut total = 0;
    for scene in catalogue::ALL.into_iter().chain(catalogue::OTHERS) {
        let fresh = scene::print::file(scene);
        let path = path(&format!("{}.csv", scene.name));
        if write {
            fs::write(&path, &fresh).expect("samples can be written");
        }
        let kept = fs::read_to_string(&path).expect("the sample is there");
        let differs = kept.lines().zip(fresh.lines()).position(|(a, b)| a != b);
        assert_eq!(differs, None, "{}: first differing line", scene.name);
        assert_eq!(kept.len(), fresh.len(), "{}: length", scene.name);
        total += kept.len();
    }
    assert!(total < 5_000_000, "{total} bytes of samples");
}

/// The notebook of the theodolite, which has no rows of a sonde.
#[test]
fn the_angles_are_those_of_the_known_winds() {
    let fresh = scene::theodolite::file();
    let path = path("theodolite.csv");
    if std::env::var_os("FIVEFIG_WRITE_SAMPLES").is_some() {
        fs::write(&path, &fresh).expect("samples can be written");
    }
    let kept = fs::read_to_string(&path).expect("the sample is there");
    assert_eq!(kept, fresh);
}

/// Angles read to 0.1° and a real rate of ascent equal to the assumed one leave a metre per
/// second, and less while the balloon is high above the horizon.
#[test]
fn the_theodolite_gives_the_known_winds_back() {
    let (profile, _) = crate::support::ascent("theodolite", fivefig::model::Form::Pilot);
    let mut checked = 0;
    for row in profile.rows.iter().skip(1) {
        let Some((wind, time_s)) = row.wind.zip(row.time_s) else {
            continue;
        };
        let (u, v) = scene::theodolite::mean_ms(time_s - 60.0, time_s + 60.0);
        let (own_u, own_v) = wind.components_ms();
        let off = (own_u - u).hypot(own_v - v);
        assert!(off < 1.0, "{time_s}: {off}");
        if time_s < 900.0 {
            assert!(off < 0.25, "{time_s}: {off}");
        }
        checked += 1;
    }
    assert!(checked > 35, "{checked}");
}

#[test]
fn every_sheet_tells_of_its_scene() {
    for scene in catalogue::ALL {
        let text = fs::read_to_string(path(&format!("{}.toml", scene.name))).expect("a sheet");
        let sheet: toml::Table = text.parse().expect("the sheet is TOML");
        let number = |table: &str, key: &str| {
            let value = sheet.get(table)?.get(key)?;
            value.as_float().or_else(|| {
                let whole = i32::try_from(value.as_integer()?).ok()?;
                Some(f64::from(whole))
            })
        };
        let name = scene.name;
        assert!(text.starts_with("# Invented station"), "{name}");
        assert_eq!(number("station", "wmo_block"), Some(99.0), "{name}");
        let place = scene.place;
        assert_eq!(
            number("station", "latitude_deg"),
            Some(place.latitude_deg),
            "{name}"
        );
        assert_eq!(
            number("station", "longitude_deg"),
            Some(place.longitude_deg),
            "{name}"
        );
        assert_eq!(
            number("station", "release_m"),
            Some(scene.elevation_m),
            "{name}"
        );
        if sheet.contains_key("surface") {
            let first = rows(scene).remove(0);
            let wind = first.wind.expect("a wind at the surface");
            let near = |key: &str, value: f64, within: f64| {
                let stderr = number("surface", key).expect(key);
                assert!((stderr - value).abs() <= within, "{name}: {key} {stderr}");
            };
            near("pressure_hpa", first.pressure_hpa, 0.001);
            near("temperature_c", first.temperature_c.expect("T"), 0.3);
            near("humidity_pct", first.humidity_pct.expect("RH"), 2.0);
            near("wind_dir_deg", wind.dir_deg, 10.0);
            near("wind_speed_ms", wind.speed_ms, 1.0);
        }
    }
}

#[test]
fn every_ascent_rises_evenly() {
    for scene in catalogue::ALL {
        let rows = rows(scene);
        let name = scene.name;
        let least = if name == "low_burst" { 1500 } else { 3000 };
        assert!(
            between(
                f64::from(u32::try_from(rows.len()).expect("few")),
                f64::from(least),
                7500.0
            ),
            "{name}: {} rows",
            rows.len()
        );
        for pair in rows.windows(2) {
            let (a, b) = (&pair[0], &pair[1]);
            let seconds = f64::from(b.time_s - a.time_s);
            assert!(b.pressure_hpa < a.pressure_hpa, "{name}: {b:?}");
            let rise = (b.height_gpm - a.height_gpm) / seconds;
            let least = if scene.pins.is_empty() { 4.2 } else { 0.3 };
            assert!(between(rise, least, 6.3), "{name}: {rise} m/s at {b:?}");
        }
        let last = rows.last().expect("rows");
        assert!(
            between(last.pressure_hpa, scene.top_hpa, scene.top_hpa + 0.3),
            "{name}"
        );
        for row in &rows {
            assert!(
                row.humidity_pct.is_none_or(|rh| between(rh, 0.0, 100.0)),
                "{name}: {row:?}"
            );
            assert!(
                row.wind.is_none_or(|w| between(w.dir_deg, 0.0, 360.0)),
                "{name}: {row:?}"
            );
            assert_eq!(row.wind.is_some(), row.place.is_some(), "{name}: {row:?}");
            assert!(
                row.temperature_c.is_some() || row.humidity_pct.is_none(),
                "{name}: {row:?}"
            );
        }
    }
}

/// Unrounded the residual stays within 1 gpm; as printed, pressure to 0.005 hPa
/// at both ends adds its own share aloft.
#[test]
fn every_ascent_is_hydrostatic() {
    for scene in catalogue::ALL {
        let exact = judge::hydrostatic_residuals(&scene.rows());
        let printed = judge::hydrostatic_residuals(&rows(scene));
        let least = match scene.name {
            "gaps" | "low_burst" => 4,
            _ => 9,
        };
        assert!(
            exact.len() >= least,
            "{}: {} layers",
            scene.name,
            exact.len()
        );
        for (low, high, residual) in exact {
            assert!(
                residual.abs() <= 1.0,
                "{} {low}-{high}: {residual}",
                scene.name
            );
        }
        for (low, high, residual) in printed {
            let resolution = 0.1 + 0.005 * 7500.0 * (1.0 / low + 1.0 / high);
            assert!(
                residual.abs() <= 1.0 + resolution,
                "{} {low}-{high}: {residual}",
                scene.name
            );
        }
    }
}

#[test]
fn winter_jet_has_two_maxima_and_two_tropopauses() {
    let rows = rows(&catalogue::WINTER_JET);
    let peaks = judge::wind_peaks(&rows, 10.0);
    let [lower, upper] = peaks[..] else {
        panic!("two peaks: {peaks:?}")
    };
    assert!(
        between(lower.0, 400.0, 499.0) && lower.1 > 30.0 && lower.2 >= 12.0,
        "{lower:?}"
    );
    assert!(
        between(upper.0, 255.0, 270.0) && between(upper.1, 61.0, 66.0),
        "{upper:?}"
    );
    let tropopauses = tropopauses_hpa(&catalogue::WINTER_JET);
    let [first, second] = tropopauses[..] else {
        panic!("two: {tropopauses:?}")
    };
    assert!(
        between(first, 250.0, 300.0) && between(second, 85.0, 95.0),
        "{tropopauses:?}"
    );
    assert!(rows.last().expect("rows").pressure_hpa <= 20.0);
}

#[test]
fn low_burst_ends_below_the_tropopause() {
    assert_eq!(tropopauses_hpa(&catalogue::LOW_BURST), Vec::<f64>::new());
    let rows = rows(&catalogue::LOW_BURST);
    assert!(between(
        rows.last().expect("rows").pressure_hpa,
        350.0,
        350.3
    ));
    // An inversion of more than 2.5 K, and a direction that crosses north.
    let t = |low: f64, high: f64| {
        rows.iter()
            .filter(move |row| between(row.height_gpm, low, high))
            .filter_map(|row| row.temperature_c)
    };
    let base = t(800.0, 920.0).fold(f64::MAX, f64::min);
    let top = t(1080.0, 1200.0).fold(f64::MIN, f64::max);
    assert!(top - base > 2.6, "{base} to {top}");
    let crosses = rows.windows(2).any(|two| match (two[0].wind, two[1].wind) {
        (Some(a), Some(b)) => a.dir_deg > 300.0 && b.dir_deg < 60.0,
        _ => false,
    });
    assert!(crosses);
}

#[test]
fn tropical_has_its_tropopause_in_part_c() {
    let tropopauses = tropopauses_hpa(&catalogue::TROPICAL);
    assert!(
        matches!(tropopauses[..], [p] if between(p, 93.0, 98.0)),
        "{tropopauses:?}"
    );
    let rows = rows(&catalogue::TROPICAL);
    let first = rows.first().expect("rows");
    assert!(between(first.temperature_c.expect("T"), 27.5, 28.5));
    assert!(
        rows.iter()
            .all(|row| row.wind.is_some_and(|w| w.speed_ms < 30.0))
    );
    assert!(
        rows.iter()
            .any(|row| row.wind.is_some_and(|w| w.speed_ms < 2.5))
    );
}

#[test]
fn polar_night_starts_below_1000_hpa_in_an_inversion() {
    let rows = rows(&catalogue::POLAR_NIGHT);
    let first = rows.first().expect("rows");
    // The 1000 hPa surface by the hypsometric equation, dry, is under the sea.
    let kelvins = first.temperature_c.expect("T") + 273.15;
    let down = 29.2713 * kelvins * (1000.0 / first.pressure_hpa).ln();
    assert!(between(first.height_gpm - down, -80.0, -50.0), "{down}");
    let warmest = rows
        .iter()
        .filter(|row| row.pressure_hpa > 800.0)
        .filter_map(|row| row.temperature_c)
        .fold(f64::MIN, f64::max);
    assert!(warmest - first.temperature_c.expect("T") > 12.0);
    // The strongest wind of all is that of the last row: indicator 66.
    let strongest = rows
        .iter()
        .filter_map(|row| row.wind)
        .map(|w| w.speed_ms)
        .fold(0.0, f64::max);
    let last = rows
        .last()
        .and_then(|row| row.wind)
        .expect("wind at the top")
        .speed_ms;
    assert!(last > 45.0 && strongest <= last, "{strongest}, {last}");
    let tropopauses = tropopauses_hpa(&catalogue::POLAR_NIGHT);
    assert!(
        matches!(tropopauses[..], [p] if between(p, 280.0, 295.0)),
        "{tropopauses:?}"
    );
}

#[test]
fn gaps_are_as_thick_as_they_should_be() {
    let rows = rows(&catalogue::GAPS);
    let temperature = judge::gaps(&rows, |row| row.temperature_c.is_some());
    let humidity = judge::gaps(&rows, |row| row.humidity_pct.is_some());
    let wind = judge::gaps(&rows, |row| row.wind.is_some());
    let lines = judge::gaps(&rows, |_| true);
    let thick =
        |gap: &&(f64, Option<f64>, f64), hpa: f64| gap.1.is_some_and(|to| gap.0 - to >= hpa);
    let ends = |gaps: &[(f64, Option<f64>, f64)], hpa: f64| -> Vec<(f64, f64)> {
        gaps.iter()
            .filter(|gap| thick(gap, hpa))
            .map(|gap| (gap.0.round(), gap.1.unwrap_or(0.0).round()))
            .collect()
    };
    assert_eq!(lines.len(), 2);
    assert_eq!(ends(&temperature, 20.0), [(815.0, 774.0), (224.0, 185.0)]);
    assert_eq!(
        ends(&humidity, 20.0),
        [(815.0, 774.0), (642.0, 590.0), (224.0, 185.0)]
    );
    assert_eq!(ends(&wind, 50.0), [(446.0, 375.0)]);
    assert!(
        temperature.iter().any(|gap| between(gap.2, 1001.0, 1500.0)),
        "over a kilometre"
    );
    let deep: Vec<_> = wind
        .iter()
        .filter(|gap| gap.2 > 1500.0 && !thick(gap, 50.0))
        .collect();
    assert!(
        matches!(deep[..], [&(from, Some(to), _)] if from > 70.0 && to < 70.0),
        "{deep:?}"
    );
    assert!(matches!(humidity.last(), Some(&(from, None, _)) if between(from, 47.0, 47.1)));
    // The two losses of rows, and one short one of each element besides.
    assert_eq!((temperature.len(), humidity.len(), wind.len()), (5, 7, 5));
    let tropopauses = tropopauses_hpa(&catalogue::GAPS);
    assert!(
        matches!(tropopauses[..], [p] if between(p, 310.0, 320.0)),
        "{tropopauses:?}"
    );
}

#[test]
fn plateau_starts_above_three_standard_surfaces() {
    let rows = rows(&catalogue::PLATEAU);
    let first = rows.first().expect("rows");
    assert!(between(first.pressure_hpa, 775.0, 785.0));
    // 2204 m at 33.6° N: gravity there is 0.1 % short of the standard one.
    assert!(
        between(first.height_gpm, 2199.0, 2203.0),
        "{}",
        first.height_gpm
    );
    let tropopauses = tropopauses_hpa(&catalogue::PLATEAU);
    assert!(
        matches!(tropopauses[..], [p] if between(p, 135.0, 145.0)),
        "{tropopauses:?}"
    );
    let peaks = judge::wind_peaks(&rows, 10.0);
    assert!(
        matches!(peaks[..], [(p, v, _)] if between(p, 180.0, 200.0) && v > 30.0),
        "{peaks:?}"
    );
}

#[test]
fn twin_levels_share_a_coded_pressure() {
    let rows = rows(&catalogue::TWIN_LEVELS);
    let (base, top) = (row_at(&rows, 620.4), row_at(&rows, 619.6));
    let warmer = top.temperature_c.expect("T") - base.temperature_c.expect("T");
    let drier = base.humidity_pct.expect("RH") - top.humidity_pct.expect("RH");
    assert!(warmer >= 2.5 && drier >= 20.0, "{base:?} {top:?}");
    // Both ends are turning points of the temperature.
    let t = |row: &Row| row.temperature_c.expect("T");
    let around = |at: &Row| {
        let i = rows
            .iter()
            .position(|row| row == at)
            .expect("one of the rows");
        (t(&rows[i - 1]), t(&rows[i]), t(&rows[i + 1]))
    };
    let (before, low, after) = around(base);
    assert!(before > low && after > low);
    let (before, high, after) = around(top);
    assert!(before < high && after < high);

    let (last_b, first_d) = (row_at(&rows, 99.96), row_at(&rows, 99.94));
    assert_eq!(first_d.time_s, last_b.time_s + 1);
    assert_eq!(tropopauses_hpa(&catalogue::TWIN_LEVELS), [99.94]);
    let peaks = judge::wind_peaks(&rows, 10.0);
    assert!(
        matches!(peaks[..], [(99.96, v, _)] if v > 40.0),
        "{peaks:?}"
    );
}

#[test]
fn minute_rows_stand_220_to_300_gpm_apart() {
    let rows = rows(&catalogue::MINUTE);
    for pair in rows.windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        assert_eq!(b.time_s - a.time_s, 60);
        assert!(between(b.height_gpm - a.height_gpm, 220.0, 300.0), "{b:?}");
    }
    let gaps = |has: fn(&Row) -> bool| -> Vec<(f64, f64)> {
        let gaps = judge::gaps(&rows, has);
        let ends = |gap: &(f64, Option<f64>, f64)| (gap.0.round(), gap.1.unwrap_or(0.0).round());
        gaps.iter().map(ends).collect()
    };
    let [thin, thick] = gaps(|row| row.temperature_c.is_some())[..] else {
        panic!("two gaps of temperature")
    };
    // One row is two steps, about 60 hPa there; the gap is four steps or more.
    assert!(between(thin.0 - thin.1, 50.0, 65.0), "{thin:?}");
    assert!(between(thick.0 - thick.1, 90.0, 160.0), "{thick:?}");
    assert!(thick.0 > 500.0 && thick.1 < 500.0, "{thick:?}");
    let [thin, thick] = gaps(|row| row.wind.is_some())[..] else {
        panic!("two gaps of wind")
    };
    assert!(between(thin.0 - thin.1, 40.0, 60.0), "{thin:?}");
    assert!(thick.0 - thick.1 > 75.0, "{thick:?}");
    assert!(thick.0 > 400.0 && thick.1 < 400.0, "{thick:?}");
}

#[test]
fn windless_has_the_columns_and_nothing_in_them() {
    let rows = rows(&catalogue::WINDLESS);
    assert!(
        rows.iter()
            .all(|row| row.wind.is_none() && row.place.is_none())
    );
    assert!(
        rows.iter()
            .all(|row| row.temperature_c.is_some() && row.humidity_pct.is_some())
    );
    let text = scene::print::file(&catalogue::WINDLESS);
    assert!(text.lines().skip(3).all(|line| line.ends_with(",,,,")));
    let tropopauses = tropopauses_hpa(&catalogue::WINDLESS);
    assert!(
        matches!(tropopauses[..], [p] if between(p, 210.0, 225.0)),
        "{tropopauses:?}"
    );
}

#[test]
fn the_standard_atmosphere_has_its_published_heights() {
    let text = include_str!("../vectors/std_atmosphere_1976.toml");
    let vector: toml::Table = text.parse().expect("TOML");
    let rows = scene::standard::rows();
    assert_eq!((rows.len(), rows[6300].height_gpm), (6301, 31_500.0));
    let height_at = |pressure: f64| {
        let i = rows.partition_point(|row| row.pressure_hpa > pressure);
        let (below, above) = (&rows[i - 1], &rows[i]);
        let share =
            (below.pressure_hpa / pressure).ln() / (below.pressure_hpa / above.pressure_hpa).ln();
        below.height_gpm + share * (above.height_gpm - below.height_gpm)
    };
    let levels = vector["levels"].as_array().expect("levels");
    assert_eq!(levels.len(), 16);
    for level in levels {
        let pressure = level["pressure_hpa"].as_integer().expect("hPa");
        let pressure = f64::from(i32::try_from(pressure).expect("small"));
        let height = level["height_gpm"].as_float().expect("gpm");
        // Printed to 0.1 gpm.
        let ours = height_at(pressure);
        assert!(
            (ours - height).abs() < 0.06,
            "{pressure} hPa: {ours}, {height}"
        );
    }
    let tropopause = &vector["tropopause"];
    let there = &rows[2200];
    assert_eq!(tropopause["height_gpm"].as_float(), Some(there.height_gpm));
    let pressure = tropopause["pressure_hpa"].as_float().expect("hPa");
    assert_abs_diff_eq!(there.pressure_hpa, pressure, epsilon = 0.05);
    let temperature = tropopause["temperature_c"].as_float().expect("°C");
    assert_abs_diff_eq!(there.temperature_c.expect("T"), temperature, epsilon = 1e-9);
    assert_eq!(judge::tropopauses(&rows), [2200]);
}
