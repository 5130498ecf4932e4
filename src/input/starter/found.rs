//! What a file says of the station and the flight besides its rows.

use jiff::civil::{Date, Time};

use crate::input::RawProfile;
use crate::input::elements::clock;
use crate::input::elements::clock::ClockTime;
use crate::input::elements::known::known;
use crate::input::elements::words;
use crate::input::text::encoding;
use crate::input::text::head::Head;
use crate::input::text::lines::Lines;
use crate::input::text::number;
use crate::model::{Reading, utc};
use crate::physics::drift::wrapped;

/// Most lines above the rows that are looked at.
const MAX_LINES: usize = 200;

/// A key of the sheet, its value, and where the file says it.
pub(super) type Found = (&'static str, String, String);

/// Position, elevation and time by the rows of an ascent: those of the first that has
/// them. The elevation is the height of the first row, if the sonde rises from there.
pub(super) fn first_row(raw: &RawProfile) -> Vec<Found> {
    let mut found = Vec::new();
    let mut add = |key, value: String| {
        found.push((key, value, "from the first row that has it".to_owned()));
    };
    let place =
        |row: &&crate::input::RawRow| row.latitude_deg.is_some() && row.longitude_deg.is_some();
    if let Some(row) = raw.rows.iter().find(place)
        && let Some((latitude, longitude)) = row.latitude_deg.zip(row.longitude_deg)
    {
        add("station.latitude_deg", decimals(latitude, 4));
        add("station.longitude_deg", decimals(wrapped(longitude), 4));
    }
    let height = |row: &crate::input::RawRow| row.altitude_m.or(row.height_gpm);
    let last = raw.rows.iter().rev().find_map(height);
    if let Some(row) = raw.rows.first()
        && let Some((first, last)) = height(row).zip(last)
        && first < last
    {
        add("station.elevation_m", decimals(first, 1));
    }
    if let Some(start) = raw.start {
        add("flight.release", utc::print(start));
    }
    found
}

fn decimals(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// What comments and lines above the rows of a text say, as `name: value`; of a file with
/// clock times without a date, the day in another column or such a line gives it.
pub(super) fn preamble(
    bytes: &[u8],
    name: &str,
    reading: &Reading,
    clock: Option<Time>,
) -> Vec<Found> {
    let Ok(text) = encoding::utf8(bytes, name, reading, &mut Vec::new()) else {
        return Vec::new();
    };
    let mut found: Vec<Found> = Vec::new();
    let mut date = None;
    let lines = text.split(|b| *b == b'\n').take(MAX_LINES).enumerate();
    for (i, line) in lines {
        let line = String::from_utf8_lossy(line);
        let comment = line.trim_start_matches('\u{feff}').trim().strip_prefix('#');
        let body = match comment {
            Some(comment) => comment.trim_start_matches('#'),
            None if i < reading.skip_lines => &line,
            None => continue,
        };
        let Some((left, value)) = body.split_once([':', '=', '\t', ';', ',']) else {
            continue;
        };
        let value = value.trim().trim_matches('"');
        date = date.or_else(|| clock::day(value));
        if let Some((key, value)) = stated(left.trim(), value)
            && !found.iter().any(|(other, ..)| *other == key)
        {
            found.push((
                key,
                value,
                format!("from line {} of the file", i.saturating_add(1)),
            ));
        }
    }
    if let Some(clock) = clock
        && let Some(date) = day_column(&text, name, reading).or(date)
    {
        let from = "from the day and the clock time of the first row";
        found.push((
            "flight.release",
            utc::print(date.to_datetime(clock)),
            from.to_owned(),
        ));
    }
    found
}

/// What a line says, by the words that name columns.
fn stated(left: &str, value: &str) -> Option<(&'static str, String)> {
    let names = words::by_name(left);
    let has = |name: &str| names.contains(&name);
    if has("time_s") {
        let time = ClockTime::parse(value)?;
        let midnight = time.date?.to_datetime(Time::midnight());
        let since = jiff::SignedDuration::try_from_secs_f64(time.second.floor()).ok()?;
        return Some((
            "flight.release",
            utc::print(midnight.checked_add(since).ok()?),
        ));
    }
    let (column, key) = match () {
        () if has("latitude_deg") => ("latitude_deg", "station.latitude_deg"),
        () if has("longitude_deg") => ("longitude_deg", "station.longitude_deg"),
        () if has("altitude_m") => ("altitude_m", "station.elevation_m"),
        () => return None,
    };
    // `51.25 N`, `-3.4°`, `84 m`.
    let end = value
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '-' | '+' | '.' | ',' | '\u{2212}')));
    let (figures, unit) = value.split_at(end.unwrap_or(value.len()));
    let figure = number(figures, crate::input::text::lines::Split::Blanks)?;
    let sign = match unit.trim_start_matches('°').trim() {
        "S" | "W" => -1.0,
        "" | "N" | "E" | "m" => 1.0,
        _ => return None,
    };
    let figure = figure * sign;
    known(column)?
        .allows(figure)
        .then(|| (key, decimals(figure, 4)))
}

/// The day in a cell of the first row.
fn day_column(text: &[u8], name: &str, reading: &Reading) -> Option<Date> {
    let mut lines = Lines::below(text, name, reading.skip_lines);
    let head = Head::read(&mut lines, name, reading, true).ok()?;
    let (_, line) = lines.next().ok()??;
    let mut cells = Vec::new();
    head.split.cells(line, head.cells.len(), &mut cells).ok()?;
    cells.iter().find_map(|cell| clock::day(cell))
}
