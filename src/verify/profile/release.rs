//! Sonde against station at release: the second row, the first that is the
//! sonde's own, against what the sheet says.
//!
//! A first row far from the release point is an error: it would be coded as the
//! surface.

use itertools::Itertools as _;

use super::series::{Series, seconds};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{Context, Row, Surface};
use crate::physics::gravity::{MIDDLE_LATITUDE_DEG, geopotential_gpm};
use crate::physics::hydrostatic::pressure_below;
use crate::tables::profile_limits;

/// Why nothing of the sonde is compared with the surface observation.
const NOT_GIVEN: &str = "the sheet gives none at the surface";

/// Temperature of the air near the ground when nothing gives one, °C: 10 K more
/// or less are 0.05 hPa over 10 m.
const MIDDLE_TEMPERATURE_C: f64 = 15.0;

/// Makes the checks, and says which could not be made.
pub(super) fn check(series: &Series, context: &Context, findings: &mut Vec<Finding>) {
    let release = context.flight.release;
    let ground_check = context.ground_check.as_ref();
    let verdict = ground_check.map(|check| crate::profile::ground_check(check, release));
    findings.extend(verdict.into_iter().flat_map(|verdict| verdict.findings));
    let mut open = Vec::new();
    let (Some(ground), Some(sonde)) = (series.row(0), series.row(1)) else {
        return;
    };
    if series.rising() {
        let surface = context.surface.clone().unwrap_or_default();
        let pair = Pair {
            series,
            ground,
            sonde,
            seconds: seconds(ground, sonde),
        };
        let made = [
            pair.pressure(&surface),
            pair.temperature(&surface),
            pair.humidity(&surface),
            pair.height(context),
        ];
        findings.extend(pair.surface(context));
        for made in made {
            match made {
                Ok(finding) => findings.extend(finding),
                Err(not_made) => open.push(not_made),
            }
        }
    } else {
        let why = "a falling sonde was not released from the ground";
        let what = "the sonde with the surface observation";
        open.push(NotMade { what, why });
    }
    if !open.is_empty() {
        findings.push(finding!(
            NotCompared,
            Place::default(),
            quantities = words(&open)
        ));
    }
}

/// What was not compared, a reason that several have once.
fn words(open: &[NotMade]) -> String {
    let reasons = open.iter().map(|one| one.why).unique();
    let words = reasons.map(|why| {
        let all = open.iter().filter(|one| one.why == why);
        format!("{} ({why})", all.map(|one| one.what).join(", "))
    });
    words.collect::<Vec<_>>().join("; ")
}

/// A comparison that could not be made, and why.
#[derive(Clone, Copy)]
struct NotMade {
    what: &'static str,
    why: &'static str,
}

/// A comparison: a finding outside the limit, or that it could not be made.
type Compared = Result<Option<Finding>, NotMade>;

/// The surface row and the first row of the sonde.
struct Pair<'a> {
    series: &'a Series<'a>,
    ground: &'a Row,
    sonde: &'a Row,
    seconds: f64,
}

impl Pair<'_> {
    /// Pressure of the sonde carried down to the release point.
    fn pressure(&self, surface: &Surface) -> Compared {
        let lim = profile_limits();
        let why = |why| NotMade {
            what: "pressure",
            why,
        };
        if surface.pressure_hpa.is_none() {
            return Err(why(NOT_GIVEN));
        }
        if self.series.pressures_derived {
            return Err(why("it was computed from height"));
        }
        let both = self.ground.pressure_hpa.zip(self.sonde.pressure_hpa);
        let (barometer, read) = both.ok_or_else(|| why("row 2 has none"))?;
        let usual = lim.ascent_usual_ms * self.seconds;
        let heights = self.ground.height_gpm.zip(self.sonde.height_gpm);
        let timed = self.ground.time_s.and(self.sonde.time_s).is_some();
        // Heights that follow from the pressure say nothing of it.
        let (depth, loose) = match heights.filter(|_| !self.series.heights_derived) {
            Some((low, high)) => (high - low, 0.0),
            None if timed => (usual, usual / 2.0),
            None => return Err(why("neither height nor time tells how far up row 2 is")),
        };
        if depth.abs() > lim.release_depth_gpm {
            return Err(why("row 2 is too far from the release point"));
        }
        let t = self.sonde.temperature_c.or(self.ground.temperature_c);
        let t = t.unwrap_or(MIDDLE_TEMPERATURE_C);
        let down = |dz: f64| pressure_below(read, t, self.sonde.any_dewpoint_c(), dz);
        let sonde = down(depth);
        let loose = (down(depth + loose) - sonde).abs();
        let off = sonde - barometer;
        let allowed = lim.release_pressure_hpa + loose;
        Ok((off.abs() > allowed).then(|| {
            finding!(
                SondePressure,
                self.series.place(1),
                sonde_hpa = sonde,
                barometer_hpa = barometer,
                off_hpa = off,
                [most_hpa = allowed]
            )
        }))
    }

    fn temperature(&self, surface: &Surface) -> Compared {
        let lim = profile_limits();
        if surface.temperature_c.is_none() {
            return Err(NotMade {
                what: "temperature",
                why: NOT_GIVEN,
            });
        }
        let pair = self.ground.temperature_c.zip(self.sonde.temperature_c);
        let most = lim.release_temperature_k;
        let found = self.compared(pair, "temperature", most)?;
        Ok(found.map(|(sonde, surface, off)| {
            finding!(
                SondeTemperature,
                self.series.place(1),
                sonde = sonde,
                surface = surface,
                off = off,
                [most = most]
            )
        }))
    }

    fn humidity(&self, surface: &Surface) -> Compared {
        let lim = profile_limits();
        if surface.humidity_pct.or(surface.dewpoint_c).is_none() {
            return Err(NotMade {
                what: "humidity",
                why: NOT_GIVEN,
            });
        }
        let pair = self.ground.humidity_pct.zip(self.sonde.humidity_pct);
        let most = lim.release_humidity_pct;
        let found = self.compared(pair, "humidity", most)?;
        Ok(found.map(|(sonde, surface, off)| {
            finding!(
                SondeHumidity,
                self.series.place(1),
                sonde = sonde,
                surface = surface,
                off = off,
                [most = most]
            )
        }))
    }

    /// The sonde, the surface observation and their difference, where it is over `most`.
    fn compared(
        &self,
        pair: Option<(f64, f64)>,
        name: &'static str,
        most: f64,
    ) -> Result<Option<(f64, f64, f64)>, NotMade> {
        let Some((surface, sonde)) = pair else {
            return Err(NotMade {
                what: name,
                why: "row 2 has none",
            });
        };
        if self.seconds > profile_limits().release_s {
            return Err(NotMade {
                what: name,
                why: "row 2 is too late after release",
            });
        }
        let off = sonde - surface;
        Ok((off.abs() > most).then_some((sonde, surface, off)))
    }

    /// Height of the second row, less what the balloon rose, against the sheet.
    fn height(&self, context: &Context) -> Compared {
        let lim = profile_limits();
        let station = &context.station;
        let why = |why| NotMade {
            what: "height",
            why,
        };
        let release = station.release_m.or(station.elevation_m);
        let release = release.ok_or_else(|| why("the sheet gives none of the release point"))?;
        if self.series.heights_derived {
            return Err(why("it was computed from pressure"));
        }
        let read = self.sonde.height_gpm.ok_or_else(|| why("row 2 has none"))?;
        if self.seconds > lim.release_height_s {
            return Err(why("row 2 is too late after release"));
        }
        let latitude = station.latitude_deg.unwrap_or(MIDDLE_LATITUDE_DEG);
        let ground = geopotential_gpm(release, latitude);
        // The balloon may have risen at any rate up to twice the usual one.
        let rise = lim.ascent_usual_ms * self.seconds;
        let off = read - rise - ground;
        let allowed = lim.release_height_m + rise;
        Ok((off.abs() > allowed).then(|| {
            finding!(
                ReleaseHeight,
                self.series.place(1),
                height_gpm = read,
                seconds = self.seconds,
                ground_gpm = ground,
                off_gpm = off,
                [most_gpm = allowed]
            )
        }))
    }

    /// Height of the first row, which is coded as the surface, against the sheet.
    ///
    /// It must not lie far from the release point; and one that is there long after
    /// release follows rows that were left out as below the ground.
    fn surface(&self, context: &Context) -> Option<Finding> {
        let lim = profile_limits();
        let station = &context.station;
        let release = station.release_m.or(station.elevation_m)?;
        let read = self
            .ground
            .height_gpm
            .filter(|_| !self.series.heights_derived)?;
        let latitude = station.latitude_deg.unwrap_or(MIDDLE_LATITUDE_DEG);
        let ground = geopotential_gpm(release, latitude);
        let up = read - ground;
        let time_s = self.ground.time_s.unwrap_or(0.0).max(0.0);
        // The balloon may have risen at any rate up to twice the usual one.
        let rise = 2.0 * lim.ascent_usual_ms * time_s.min(lim.release_s);
        let most = lim.surface_height_m + rise;
        let least = lim.ascent_slow_ms * time_s - lim.surface_height_m;
        let place = self.series.place(0);
        if up.abs() > most {
            return Some(finding!(
                SurfaceHeight,
                place,
                height_gpm = read,
                seconds = time_s,
                ground_gpm = ground,
                off_gpm = up,
                [most_gpm = most]
            ));
        }
        (time_s > lim.release_height_s && up < least).then(|| {
            finding!(
                SurfaceHeightLate,
                place,
                height_gpm = read,
                off_gpm = up,
                ground_gpm = ground,
                seconds = time_s,
                [least_gpm = least, least_ms = lim.ascent_slow_ms]
            )
        })
    }
}
