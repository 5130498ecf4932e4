//! A profile rebuilt from a message: its levels as rows.

use std::fmt::Write as _;

use super::Message;
use crate::model::{Derivation, Element, Form, Level, MissingLayer, Profile, Roles, Row, Wind};
use crate::physics::angles::shorter_arc;
use crate::physics::humidity::{dewpoint_c, relative_humidity_pct};

impl Message {
    /// The levels as rows of a profile, lowest first: the values of one pressure
    /// (or height) together, those of significant levels first. Between the
    /// levels of a section temperature, humidity and wind lie on straight lines
    /// (in ln p), so that a level that only winds have gets a temperature and the
    /// other way round. A layer without data holds one row without values, so
    /// that it is known for one.
    ///
    /// Significant levels are marked as such and to be kept ([`Roles::FORCED`]), so
    /// that coding the profile again keeps them.
    ///
    /// Standard surfaces below the ground are left out. What a message does not
    /// say (times, positions, most heights) is missing.
    #[must_use]
    pub fn profile(&self) -> Profile {
        let report = self.report();
        let surface = report
            .levels
            .iter()
            .find(|l| l.roles.any(Roles::SURFACE))
            .and_then(|l| l.row.pressure_hpa);
        let below = |p: Option<f64>| surface.zip(p).is_some_and(|(s, p)| p > s);
        let rank = |l: &Level| {
            let first = Roles::SURFACE | Roles::SIG_T_OR_U | Roles::SIG_WIND;
            u8::from(!l.roles.any(first))
        };
        let up = |l: &Level| match (self.form, l.row.pressure_hpa) {
            (Form::Temp | Form::Descent, Some(p)) => -p,
            _ => l.order(),
        };
        let mut levels: Vec<&Level> = report
            .levels
            .iter()
            .filter(|l| !below(l.row.pressure_hpa))
            .collect();
        levels.sort_by(|a, b| up(a).total_cmp(&up(b)).then(rank(a).cmp(&rank(b))));
        let mut rows: Vec<Row> = Vec::with_capacity(levels.len());
        for level in levels {
            let own = &level.row;
            let same = |r: &&mut Row| match (r.pressure_hpa, own.pressure_hpa) {
                (Some(a), Some(b)) => a == b,
                _ => r.height_gpm.is_some() && r.height_gpm == own.height_gpm,
            };
            let significant = Roles::SIG_T_OR_U | Roles::SIG_WIND;
            let given = if level.roles.any(significant) {
                (level.roles & significant) | Roles::FORCED
            } else {
                Roles::empty()
            };
            match rows.iter_mut().rev().take(4).find(same) {
                Some(row) => {
                    row.given |= given;
                    if row.temperature_c.is_none() {
                        row.temperature_c = own.temperature_c;
                        row.dewpoint_c = own.dewpoint_c;
                    }
                    row.height_gpm = row.height_gpm.or(own.height_gpm);
                    row.wind = row.wind.or(own.wind);
                }
                None => rows.push(Row {
                    given,
                    ..own.clone()
                }),
            }
        }
        for layer in &report.missing {
            if let (Some(from), Some(to)) = (layer.from_hpa, layer.to_hpa) {
                let middle = Row {
                    pressure_hpa: Some(f64::midpoint(from, to)),
                    ..Row::default()
                };
                let at = rows.partition_point(|r| r.pressure_hpa > middle.pressure_hpa);
                let between = |r: &&Row| r.pressure_hpa.is_some_and(|p| p < from && p > to);
                if !rows.iter().any(|r| between(&r)) {
                    rows.insert(at, middle);
                }
            }
        }
        if self.form != Form::Pilot {
            fill(&mut rows, &report.missing);
        }
        Profile {
            axis: report.axis,
            motion: report.motion,
            ends_aloft: report.form == Form::Temp && surface.is_none(),
            descent: report.form == Form::Descent,
            rows,
            derived: vec![Derivation::RowsFromMessage],
            ..Profile::default()
        }
    }
}

/// Puts missing temperatures, humidities and winds on the straight lines between
/// the rows that have them, but not into layers without data.
fn fill(rows: &mut [Row], missing: &[MissingLayer]) {
    let gone = |element: Element, low: f64, high: f64| {
        missing.iter().any(|m| {
            m.element == element
                && m.from_hpa.is_none_or(|p| p > high)
                && m.to_hpa.is_none_or(|p| p < low)
        })
    };
    let p = |row: &Row| row.pressure_hpa.unwrap_or(f64::NAN);
    let own: Vec<Row> = rows.to_vec();
    for (i, row) in rows.iter_mut().enumerate() {
        let around = |has: &dyn Fn(&Row) -> bool| {
            let (below, above) = (own.get(..i)?, own.get(i + 1..)?);
            let low = below.iter().rev().find(|r| has(r))?;
            let high = above.iter().find(|r| has(r))?;
            Some((low, high, (p(low) / p(row)).ln() / (p(low) / p(high)).ln()))
        };
        let mut thermal = None;
        if row.temperature_c.is_none()
            && let Some((low, high, w)) = around(&|r| r.temperature_c.is_some())
            && !gone(Element::Temperature, p(low), p(high))
        {
            let t = low.temperature_c.zip(high.temperature_c);
            let t = t.map(|(a, b)| a + (b - a) * w);
            let u = |r: &Row| Some(relative_humidity_pct(r.temperature_c?, r.dewpoint_c?));
            let u = u(low).zip(u(high)).map(|(a, b)| a + (b - a) * w);
            thermal = t.map(|t| (t, u.and_then(|u| dewpoint_c(t, u))));
        }
        let mut wind = None;
        if row.wind.is_none()
            && let Some((low, high, w)) = around(&|r| r.wind.is_some())
            && !gone(Element::Wind, p(low), p(high))
            && let (Some(a), Some(b)) = (low.wind, high.wind)
        {
            wind = Some(Wind {
                dir_deg: (a.dir_deg + shorter_arc(b.dir_deg - a.dir_deg) * w).rem_euclid(360.0),
                speed_ms: a.speed_ms + (b.speed_ms - a.speed_ms) * w,
            });
        }
        if let Some((t, td)) = thermal {
            row.temperature_c = Some(t);
            row.dewpoint_c = td;
        }
        row.wind = row.wind.or(wind);
    }
}

/// Rows as delimited text with our column names; missing values are empty. Times,
/// humidity and positions have columns where a row has them.
#[must_use]
pub fn rows_as_text(profile: &Profile) -> String {
    type Cell = fn(&Row) -> Option<f64>;
    /// A column: its name, whether it is there without a value, its cell.
    const COLUMNS: [(&str, bool, Cell); 10] = [
        ("time_s", false, |r| r.time_s),
        ("pressure_hpa", true, |r| r.pressure_hpa),
        ("height_gpm", true, |r| r.height_gpm),
        ("temperature_c", true, |r| r.temperature_c),
        ("dewpoint_c", true, |r| r.dewpoint_c),
        ("humidity_pct", false, |r| r.humidity_pct),
        ("wind_dir_deg", true, |r| r.wind.map(|w| w.dir_deg)),
        ("wind_speed_ms", true, |r| r.wind.map(|w| w.speed_ms)),
        ("latitude_deg", false, |r| r.place.map(|p| p.latitude_deg)),
        ("longitude_deg", false, |r| r.place.map(|p| p.longitude_deg)),
    ];
    let columns: Vec<_> = COLUMNS
        .into_iter()
        .filter(|(_, always, cell)| *always || profile.rows.iter().any(|r| cell(r).is_some()))
        .collect();
    let mut out = String::new();
    for (name, ..) in &columns {
        out.push_str(name);
        out.push(',');
    }
    out.push_str("station_flags\n");
    for row in &profile.rows {
        for (_, _, cell) in &columns {
            if let Some(value) = cell(row) {
                let _ = write!(out, "{}", crate::model::quantity::trim(value));
            }
            out.push(',');
        }
        let _ = writeln!(out, "{}", row.given.bits());
    }
    out
}
