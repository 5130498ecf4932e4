//! An ascent as delimited text, with the decimals a ground system prints.

use super::{Place, Row, Scene, Wind};

/// The names of the columns.
pub const HEADER: &str = "time_s,pressure_hpa,height_gpm,temperature_c,humidity_pct,\
                          wind_dir_deg,wind_speed_ms,latitude_deg,longitude_deg";

/// The whole file.
pub fn file(scene: &Scene) -> String {
    let mut text = format!(
        "# invented station, invented flight: {}\n\
         # invented station, invented flight: written by tests/suite/generate.rs, measured by no one\n\
         {HEADER}\n",
        scene.about
    );
    let mut rows = scene.rows();
    if scene.falls {
        let last = rows.last().map_or(0, |row| row.time_s);
        rows.reverse();
        // Going down it drifts with the same winds: the way is mirrored, and
        // begins at the place of the sheet.
        let top = rows.first().and_then(|row| row.place);
        for row in &mut rows {
            row.time_s = last - row.time_s;
            row.place = row.place.zip(top).map(|(here, top)| Place {
                latitude_deg: scene.place.latitude_deg + top.latitude_deg - here.latitude_deg,
                longitude_deg: scene.place.longitude_deg + top.longitude_deg - here.longitude_deg,
            });
        }
    }
    for row in rows {
        line(&mut text, scene, &row);
    }
    text
}

fn line(text: &mut String, scene: &Scene, row: &Row) {
    let pressure = Some(row.pressure_hpa).filter(|p| *p >= scene.pressure_fails_hpa);
    let thermal = |value: Option<f64>| value.filter(|_| !scene.winds_alone);
    let cells = [
        fixed(pressure, 2),
        fixed(Some(row.height_gpm), 1),
        fixed(thermal(row.temperature_c), 2),
        fixed(thermal(row.humidity_pct), 1),
        fixed(row.wind.map(|wind| wind.dir_deg), 1),
        fixed(row.wind.map(|wind| wind.speed_ms), 2),
        fixed(row.place.map(|place| place.latitude_deg), 5),
        fixed(row.place.map(|place| place.longitude_deg), 5),
    ];
    text.push_str(&format!(
        "{},{}
",
        row.time_s,
        cells.join(",")
    ));
}

/// With a number of decimals, no negative zero, and nothing for a missing value.
fn fixed(value: Option<f64>, decimals: usize) -> String {
    let Some(value) = value else {
        return String::new();
    };
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|b| matches!(b, b'0' | b'.')) => digits.to_owned(),
        _ => text,
    }
}

/// Reads such a file back: the rows as printed, or the first line that is not
/// such a row.
pub fn read(text: &str) -> Result<Vec<Row>, String> {
    text.lines()
        .filter(|line| !line.starts_with('#') && *line != HEADER)
        .map(|line| row(line).ok_or_else(|| line.to_owned()))
        .collect()
}

fn row(line: &str) -> Option<Row> {
    let (time, rest) = line.split_once(',')?;
    let cells: Vec<Option<f64>> = rest
        .split(',')
        .map(|cell| match cell {
            "" => Some(None),
            digits => digits.parse().ok().map(Some),
        })
        .collect::<Option<_>>()?;
    let &[p, z, temperature_c, humidity_pct, dir, speed, lat, lon] = cells.as_slice() else {
        return None;
    };
    Some(Row {
        time_s: time.parse().ok()?,
        pressure_hpa: p?,
        height_gpm: z?,
        temperature_c,
        humidity_pct,
        wind: dir
            .zip(speed)
            .map(|(dir_deg, speed_ms)| Wind { dir_deg, speed_ms }),
        place: lat.zip(lon).map(|(latitude_deg, longitude_deg)| Place {
            latitude_deg,
            longitude_deg,
        }),
    })
}
