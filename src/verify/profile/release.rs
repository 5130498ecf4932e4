//! Sonde against station at release: the second row, the first that is the
//! sonde's own, against what the sheet says.
//!
//! A first row far from the release point is an error: it would be coded as the
//! surface.

use itertools::Itertools as _;

use super::NOT_COMPARED;
use super::series::{Series, source};
use crate::model::finding::{Finding, Place};
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
            seconds: series.between_s(0, 1),
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
        open.push(NotMade { what: "all", why });
    }
    if !open.is_empty() {
        let what = format!("not compared: {}", words(&open));
        findings.push(Finding::info(NOT_COMPARED, Place::default(), what));
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
        let down = |dz: f64| pressure_below(read, t, self.sonde.dewpoint_c, dz);
        let sonde = down(depth);
        let loose = (down(depth + loose) - sonde).abs();
        let off = sonde - barometer;
        let what = format!(
            "the sonde's pressure carried down to the release point is {sonde:.1} hPa, the \
             barometer's there {barometer:.1} hPa ({off:+.1} hPa)"
        );
        let allowed = lim.release_pressure_hpa + loose;
        Ok((off.abs() > allowed).then(|| {
            Finding::warning("sonde-pressure", self.series.place(1), what)
                .allowed(format!("at most {allowed:.1} hPa apart"))
                .clause(source("release_pressure_hpa"))
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
        let words = ("sonde-temperature", "temperature", "°C", "K");
        let limit = ("release_temperature_k", lim.release_temperature_k);
        self.compared(pair, words, limit)
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
        let words = ("sonde-humidity", "humidity", "%", "%");
        let limit = ("release_humidity_pct", lim.release_humidity_pct);
        self.compared(pair, words, limit)
    }

    fn compared(
        &self,
        pair: Option<(f64, f64)>,
        (code, name, unit, difference): (&'static str, &'static str, &str, &str),
        (limit, allowed): (&str, f64),
    ) -> Compared {
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
        Ok((off.abs() > allowed).then(|| {
            let what = format!(
                "the sonde's {name} in row 2 is {sonde:.1} {unit}, the surface observation has \
                 {surface:.1} {unit} ({off:+.1} {difference})"
            );
            Finding::warning(code, self.series.place(1), what)
                .allowed(format!("at most {allowed} {difference} apart"))
                .clause(source(limit))
        }))
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
        let what = format!(
            "row 2 is at {read:.1} gpm, {:.0} s after release from {ground:.1} gpm by the \
             sheet ({off:+.0} gpm)",
            self.seconds
        );
        Ok((off.abs() > allowed).then(|| {
            Finding::warning("release-height", self.series.place(1), what)
                .allowed(format!("at most {allowed:.0} gpm apart"))
                .clause(source("release_height_m"))
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
        let (words, allowed) = if up.abs() > most {
            (
                "which is coded as the surface,",
                format!(
                    "at most {most:.0} gpm apart; correct station.elevation_m or release_m, give \
                     the surface observation under [surface], or write height_reference = \
                     \"ellipsoid\" under [profile] if the heights are above the ellipsoid"
                ),
            )
        } else if time_s > lim.release_height_s && up < least {
            (
                "so long after release,",
                format!(
                    "{least:.0} gpm above it or more at {} m/s; correct station.elevation_m or \
                     release_m, or give release_time_s under [profile]",
                    lim.ascent_slow_ms
                ),
            )
        } else {
            return None;
        };
        let what = format!(
            "row 1, {words} is at {read:.1} gpm {time_s:.0} s after release, the release point of \
             the sheet at {ground:.1} gpm ({up:+.0} gpm)"
        );
        Some(
            Finding::error("surface-height", self.series.place(0), what)
                .allowed(allowed)
                .clause(source("surface_height_m")),
        )
    }
}
