//! How many flights a file holds, and whether the balloon fell on its way.

use super::Prepared;
use crate::model::StationKind;
use crate::model::finding::{counted, finding};
use crate::profile::{OneRelease, ProfileError};
use crate::tables::joining_limits;

/// A rise of fewer rows is a fault of the heights, no flight.
const LEAST_ROWS: usize = 10;

/// Refuses a file with two releases in it; tells falls after which the balloon
/// rose on.
pub(super) fn one(prepared: &mut Prepared, heights: &[Option<f64>]) -> Result<(), ProfileError> {
    // A drop rises upside down.
    let up = match prepared.context.station.kind {
        StationKind::Drop => -1.0,
        _ => 1.0,
    };
    // What the sheet puts before release is no flight.
    let from = prepared.context.meaning.release_time_s;
    let before = |row: usize| {
        let time = prepared.raw.rows.get(row).and_then(|r| r.time_s);
        time.zip(from).is_some_and(|(time, from)| time < from)
    };
    let mut walk = Walk::default();
    for (row, height) in heights.iter().enumerate() {
        if let Some(z) = height.filter(|_| !before(row)) {
            walk.step(row, z * up);
        }
    }
    if let [first, second, ..] = walk.releases[..] {
        let release = |row: usize| {
            let at = last_standing(heights, row, up);
            let found = prepared.raw.rows.get(at);
            OneRelease {
                line: found.map_or(0, |r| r.line),
                time_s: found.and_then(|r| r.time_s),
            }
        };
        return Err(ProfileError::TwoReleases {
            name: prepared.raw.name.clone(),
            first: release(first),
            second: release(second),
        });
    }
    if prepared.rises()
        && let Some(bounce) = walk.bounces.first()
    {
        prepared.findings.push(finding!(
            Bounce,
            prepared.place(bounce.from),
            count = counted(walk.bounces.len(), "time"),
            depth_gpm = bounce.depth_gpm,
            times = prepared.times(bounce.from, bounce.back)
        ));
    }
    Ok(())
}

impl Prepared<'_> {
    /// The times of two rows, in words after a finding.
    fn times(&self, from: usize, to: usize) -> String {
        let time = |row: usize| self.raw.rows.get(row).and_then(|r| r.time_s);
        match (time(from), time(to)) {
            (Some(from), Some(to)) => format!(", time_s {from} to {to}"),
            _ => String::new(),
        }
    }
}

/// The last row from here on at which the sonde had not left its height.
fn last_standing(heights: &[Option<f64>], from: usize, up: f64) -> usize {
    let noise = joining_limits().release_noise_gpm;
    let height = |row: usize| heights.get(row).copied().flatten().map(|z| z * up);
    let Some(low) = height(from) else { return from };
    let mut last = from;
    for row in from..heights.len() {
        match height(row) {
            Some(z) if z <= low + noise => last = row,
            Some(z) if z > low + joining_limits().flight_rise_gpm => break,
            _ => {}
        }
    }
    last
}

/// A fall on the way up: its first row, the row back at that height, its depth.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Bounce {
    from: usize,
    back: usize,
    depth_gpm: f64,
}

/// A walk along heights.
#[derive(Default)]
struct Walk {
    flight: Option<Flight>,
    /// Lowest row, and its height, since the last flight.
    low: Option<(usize, f64)>,
    /// The row at which each flight began.
    releases: Vec<usize>,
    bounces: Vec<Bounce>,
}

/// A flight that goes on.
struct Flight {
    start_gpm: f64,
    top: (usize, f64),
    /// Lowest row, and its height, since the top.
    least: (usize, f64),
    /// Lowest row, and its height, since the balloon came down.
    landed: Option<(usize, f64)>,
}

impl Walk {
    fn step(&mut self, row: usize, z: f64) {
        let lim = joining_limits();
        let Some(flight) = &mut self.flight else {
            let (from, low) = *self.low.get_or_insert((row, z));
            if z <= low {
                self.low = Some((row, z));
            } else if z - low >= lim.flight_rise_gpm {
                if row - from < LEAST_ROWS {
                    // A jump of the heights: the flight is still to begin.
                    return;
                }
                self.releases.push(from);
                self.flight = Some(Flight {
                    start_gpm: low,
                    top: (row, z),
                    least: (row, z),
                    landed: None,
                });
            }
            return;
        };
        if let Some((low_row, low)) = flight.landed {
            if z <= low {
                flight.landed = Some((row, z));
            } else if z - low < lim.flight_rise_gpm {
                return;
            } else if row - low_row >= LEAST_ROWS {
                self.releases.push(low_row);
                *flight = Flight {
                    start_gpm: low,
                    top: (row, z),
                    least: (row, z),
                    landed: None,
                };
            } else {
                // Up again at once: the heights jumped, the flight goes on.
                flight.landed = None;
                flight.least = flight.top;
            }
            return;
        }
        if z > flight.top.1 {
            let depth_gpm = flight.top.1 - flight.least.1;
            if depth_gpm >= lim.bounce_gpm && flight.least.0 - flight.top.0 >= LEAST_ROWS / 2 {
                self.bounces.push(Bounce {
                    from: flight.top.0,
                    back: row,
                    depth_gpm,
                });
            }
            flight.top = (row, z);
            flight.least = (row, z);
            return;
        }
        if z < flight.least.1 {
            flight.least = (row, z);
        }
        let down = z <= flight.start_gpm + lim.landing_gpm;
        if down && flight.top.1 - z >= lim.flight_rise_gpm {
            flight.landed = Some((row, z));
        }
    }
}
