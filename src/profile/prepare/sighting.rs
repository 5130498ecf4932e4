//! Where instruments stand that follow a balloon, and what they see.

use super::Prepared;
use crate::model::quantity::trim;
use crate::model::raw::Angles;
use crate::physics::theodolite::{Point, Sight, effective_radius_m, single};
use crate::profile::ProfileError;
use crate::tables::joining_limits;

/// Figures a4 (code table 0265) of instruments that follow radio waves.
const RADIO: [u8; 2] = [2, 3];

/// Where the instruments stand and how they are read.
pub(super) struct Site {
    /// Degrees north and east.
    pub(super) place_deg: (f64, f64),
    /// Height of the release point, m.
    pub(super) ground_m: f64,
    pub(super) first: Point,
    pub(super) second: Point,
    /// Where azimuth 0 of each points, degrees true.
    zero_deg: [f64; 2],
    pub(super) refraction: f64,
    pub(super) radius_m: f64,
}

/// A row with a position: its number, s, and what was seen.
pub(super) struct Fix {
    pub(super) row: usize,
    pub(super) time_s: f64,
    pub(super) sight: Sight,
    pub(super) point: Point,
    /// Error of the position, m, by the error of an angle that is reckoned with.
    pub(super) error_m: f64,
    /// Whether the height follows from the angles, by two theodolites.
    pub(super) height_seen: bool,
}

impl Site {
    /// The point at which one instrument sees a balloon of a height, m.
    pub(super) fn at(&self, sight: Sight, height_m: f64) -> Option<Point> {
        single(sight, self.first.height_m, height_m, self.radius_m)
    }

    /// Height above the instrument, m.
    pub(super) fn above_m(&self, point: Point) -> f64 {
        point.height_m - self.first.height_m
    }

    pub(super) fn sight(&self, angles: &Angles) -> Option<Sight> {
        self.turned(angles.elevation_deg, angles.azimuth_deg, 0)
    }

    pub(super) fn second_sight(&self, angles: &Angles) -> Option<Sight> {
        self.turned(angles.elevation_2_deg, angles.azimuth_2_deg, 1)
    }

    fn turned(&self, elevation: Option<f64>, azimuth: Option<f64>, of: usize) -> Option<Sight> {
        Some(Sight {
            elevation_deg: elevation?,
            azimuth_deg: (azimuth? + self.zero_deg.get(of)?).rem_euclid(360.0),
        })
    }

    /// An azimuth, degrees true, as the instrument reads it.
    pub(super) fn read_deg(&self, azimuth_deg: f64) -> f64 {
        trim((azimuth_deg - self.zero_deg[0]).rem_euclid(360.0))
    }
}

pub(super) fn no_tracking(
    prepared: &Prepared,
    lacks: &'static str,
    advice: &'static str,
) -> ProfileError {
    ProfileError::NoTracking {
        name: prepared.raw.name.clone(),
        lacks,
        advice,
    }
}

/// Where the instruments stand.
pub(super) fn site(prepared: &Prepared) -> Result<Site, ProfileError> {
    let context = prepared.context;
    let station = &context.station;
    let tracking = &context.tracking;
    let place = station.latitude_deg.zip(station.longitude_deg);
    let place_deg = place.ok_or_else(|| {
        let lacks = "no sheet gives the position of the theodolite";
        no_tracking(
            prepared,
            lacks,
            "give latitude_deg and longitude_deg under [station]",
        )
    })?;
    let ground = prepared.ground_m().or(tracking.instrument_m);
    let ground_m = ground.ok_or_else(|| {
        let lacks = "no sheet gives the height of the release point";
        no_tracking(
            prepared,
            lacks,
            "give release_m or elevation_m under [station]",
        )
    })?;
    let instrument_m = tracking.instrument_m.unwrap_or(ground_m);
    let lim = joining_limits();
    let radio = context
        .equipment
        .measuring
        .is_some_and(|a4| RADIO.contains(&a4));
    let refraction = if radio {
        lim.refraction_radio_ratio
    } else {
        lim.refraction_optical_ratio
    };
    let zero_deg = tracking.azimuth_zero_deg.unwrap_or(0.0);
    let (sin, cos) = tracking
        .base_azimuth_deg
        .unwrap_or(0.0)
        .to_radians()
        .sin_cos();
    let length_m = tracking.base_length_m.unwrap_or(0.0);
    Ok(Site {
        place_deg,
        ground_m,
        first: Point {
            east_m: 0.0,
            north_m: 0.0,
            height_m: instrument_m,
        },
        second: Point {
            east_m: length_m * sin,
            north_m: length_m * cos,
            height_m: tracking.instrument_2_m.unwrap_or(instrument_m),
        },
        zero_deg: [zero_deg, tracking.azimuth_zero_2_deg.unwrap_or(zero_deg)],
        refraction,
        radius_m: effective_radius_m(refraction),
    })
}
