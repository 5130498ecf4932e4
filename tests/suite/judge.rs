//! Small independent computations on the rows of a file as printed: straight
//! loops over the definitions, for samples of a few thousand rows.

use crate::scene::Row;

/// A tropopause as found: index of the row.
///
/// The definition of WMO-No. 182 (International Meteorological Vocabulary,
/// tropopause): the lowest level above which the mean lapse rate to every row
/// within 2 km does not exceed 2 K/km; a further one above a level from which
/// the mean lapse rate to every row within 1 km exceeds 3 K/km. Looked for from
/// 500 hPa up.
pub fn tropopauses(rows: &[Row]) -> Vec<usize> {
    let aloft: Vec<(usize, f64, f64)> = rows
        .iter()
        .enumerate()
        .filter(|(_, row)| row.pressure_hpa <= 500.0)
        .filter_map(|(i, row)| Some((i, row.height_gpm, row.temperature_c?)))
        .collect();
    let mut found = Vec::new();
    let mut rest: &[(usize, f64, f64)] = &aloft;
    while let Some((at, above)) = starts(rest).find(|(_, above)| {
        reaches(above, 2000.0) && lapses(above, 2000.0).all(|lapse| lapse <= 0.002)
    }) {
        found.push(at);
        let next = starts(above).skip(1).find(|(_, above)| {
            reaches(above, 1000.0)
                && lapses(above, 1000.0).count() > 20
                && lapses(above, 1000.0).all(|lapse| lapse > 0.003)
        });
        match next {
            Some((_, again)) => rest = again,
            None => break,
        }
    }
    found
}

type Points = [(usize, f64, f64)];

/// Every tail of the points, with the row its first point came from.
fn starts(points: &Points) -> impl Iterator<Item = (usize, &Points)> {
    (0..points.len()).filter_map(|i| {
        let tail = points.get(i..)?;
        Some((tail.first()?.0, tail))
    })
}

/// Whether the points go on for a number of metres.
fn reaches(points: &Points, depth: f64) -> bool {
    match (points.first(), points.last()) {
        (Some(low), Some(high)) => high.1 >= low.1 + depth,
        _ => false,
    }
}

/// Mean lapse rates, K/m, from the first point to each within `depth`.
fn lapses(points: &Points, depth: f64) -> impl Iterator<Item = f64> {
    let (_, z, t) = points.first().copied().unwrap_or_default();
    points
        .iter()
        .skip(1)
        .take_while(move |point| point.1 <= z + depth)
        .map(move |point| (t - point.2) / (point.1 - z))
}

/// The peaks of the wind that stand at least `prominence` m/s above the minimum
/// on either side: pressure, hPa, speed, m/s, and by how much it stands above
/// the higher of the two minima. An end of the wind counts as a minimum.
pub fn wind_peaks(rows: &[Row], prominence: f64) -> Vec<(f64, f64, f64)> {
    let winds: Vec<(f64, f64)> = rows
        .iter()
        .filter_map(|row| Some((row.pressure_hpa, row.wind?.speed_ms)))
        .collect();
    let mut peaks = Vec::new();
    for (i, &(pressure, speed)) in winds.iter().enumerate() {
        let (below, above) = winds.split_at(i);
        let fall = |side: &mut dyn Iterator<Item = &(f64, f64)>, strict: bool| {
            side.take_while(|other| other.1 < speed || (!strict && other.1 == speed))
                .fold(speed, |least, other| least.min(other.1))
        };
        let low = fall(&mut below.iter().rev(), true);
        let high = fall(&mut above.iter().skip(1), false);
        let stands = speed - low.max(high);
        if stands >= prominence {
            peaks.push((pressure, speed, stands));
        }
    }
    peaks
}

/// Virtual temperature, K, by other formulas than the scene's: saturation of
/// Bolton (1980, equation 10), mixing ratio, 0.608 q.
fn virtual_k(row: &Row) -> Option<f64> {
    let t = row.temperature_c?;
    let saturation = 6.112 * (17.67 * t / (t + 243.5)).exp();
    let vapour = row.humidity_pct? / 100.0 * saturation;
    let mixing = 0.621_98 * vapour / (row.pressure_hpa - vapour);
    let specific = mixing / (1.0 + mixing);
    Some((t + 273.15) * (1.0 + 0.608 * specific))
}

/// For each layer between standard surfaces in which nothing is missing: its
/// lower and upper surface, hPa, and by how much, gpm, its depth by the
/// hypsometric equation, row by row, differs from that of the heights.
pub fn hydrostatic_residuals(rows: &[Row]) -> Vec<(f64, f64, f64)> {
    const SURFACES: [f64; 15] = [
        1000.0, 925.0, 850.0, 700.0, 500.0, 400.0, 300.0, 250.0, 200.0, 150.0, 100.0, 70.0, 50.0,
        30.0, 20.0,
    ];
    let mut residuals = Vec::new();
    for pair in SURFACES.windows(2) {
        let &[low, high] = pair else { continue };
        let inside: Vec<&Row> = rows
            .iter()
            .filter(|row| row.pressure_hpa <= low && row.pressure_hpa >= high)
            .collect();
        let (Some(first), Some(last)) = (inside.first(), inside.last()) else {
            continue;
        };
        let spans = rows.iter().any(|row| row.pressure_hpa >= low)
            && rows.iter().any(|row| row.pressure_hpa <= high);
        let depth: Option<f64> = inside
            .windows(2)
            .map(|two| match two {
                [a, b] if b.time_s == a.time_s + 1 => {
                    let mean = (virtual_k(a)? + virtual_k(b)?) / 2.0;
                    Some(29.2713 * mean * (a.pressure_hpa / b.pressure_hpa).ln())
                }
                _ => None,
            })
            .sum();
        if let (true, Some(depth)) = (spans, depth) {
            residuals.push((low, high, depth - (last.height_gpm - first.height_gpm)));
        }
    }
    residuals
}

/// The runs of rows without something, or without themselves, between two rows
/// that have it: last pressure with, first pressure with again, hPa, and the
/// depth, gpm. `None` above when it does not come back.
pub fn gaps(rows: &[Row], has: impl Fn(&Row) -> bool) -> Vec<(f64, Option<f64>, f64)> {
    let mut found = Vec::new();
    let mut last: Option<&Row> = None;
    let step_s = match rows {
        [first, second, ..] => second.time_s - first.time_s,
        _ => 1,
    };
    for row in rows.iter().filter(|row| has(row)) {
        if let Some(before) = last.filter(|before| row.time_s > before.time_s + step_s) {
            found.push((
                before.pressure_hpa,
                Some(row.pressure_hpa),
                row.height_gpm - before.height_gpm,
            ));
        }
        last = Some(row);
    }
    if let (Some(last), Some(end)) = (last, rows.last())
        && end.time_s > last.time_s
    {
        found.push((last.pressure_hpa, None, end.height_gpm - last.height_gpm));
    }
    found
}
