//! Invented ascents: smooth or layered descriptions of an atmosphere, and the
//! rows a sonde would bring back from it.
//!
//! For use by any test: `#[path = "scene/scene.rs"] mod scene;` (with
//! `#[allow(dead_code, reason = "…")]` where only a part is wanted).

pub mod catalogue;
pub mod noise;
pub mod physics;
pub mod print;
pub mod standard;
pub mod theodolite;
pub mod track;

use noise::Wander;
use track::Track;

/// Depth in which the density of the air falls to 1/e, gpm.
const DENSITY_GPM: f64 = 8000.0;

/// One row of an ascent. `None` is missing.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Seconds since release.
    pub time_s: u32,
    /// Pressure, hPa.
    pub pressure_hpa: f64,
    /// Geopotential height, gpm.
    pub height_gpm: f64,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
    /// Relative humidity over water, %.
    pub humidity_pct: Option<f64>,
    /// Wind.
    pub wind: Option<Wind>,
    /// Position.
    pub place: Option<Place>,
}

/// A wind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wind {
    /// Direction it blows from, degrees true.
    pub dir_deg: f64,
    /// Speed, m/s.
    pub speed_ms: f64,
}

/// A position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Degrees north.
    pub latitude_deg: f64,
    /// Degrees east.
    pub longitude_deg: f64,
}

/// Sizes (standard deviations) of the noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Temperature, K.
    pub temperature_k: f64,
    /// Humidity, % RH.
    pub humidity_pct: f64,
    /// Either component of the wind, m/s.
    pub wind_ms: f64,
}

impl Noise {
    /// What a good sonde shows.
    pub const USUAL: Self = Self {
        temperature_k: 0.03,
        humidity_pct: 0.4,
        wind_ms: 0.2,
    };
    /// None at all.
    pub const NONE: Self = Self {
        temperature_k: 0.0,
        humidity_pct: 0.0,
        wind_ms: 0.0,
    };
}

/// What is lost in a [`Gap`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lost {
    /// Temperature and humidity.
    Temperature,
    /// Humidity alone.
    Humidity,
    /// Wind and position.
    Wind,
    /// Whole rows: the file has no line for them.
    Rows,
}

/// A layer in which something is missing, its ends excluded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// What is missing.
    pub lost: Lost,
    /// Lower end, hPa.
    pub from_hpa: f64,
    /// Upper end, hPa.
    pub to_hpa: f64,
}

/// An invented ascent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scene {
    /// Name of the files.
    pub name: &'static str,
    /// What is in it, for the head of the file.
    pub about: &'static str,
    /// Where the sonde is released.
    pub place: Place,
    /// Height of the release point, m.
    pub elevation_m: f64,
    /// Pressure at release, hPa.
    pub surface_hpa: f64,
    /// The last row is the last one with at least this pressure, hPa.
    pub top_hpa: f64,
    /// Mean rate of ascent, m/s.
    pub ascent_ms: f64,
    /// Temperature by height, °C.
    pub temperature_c: Track,
    /// Relative humidity over water by height, %.
    pub humidity_pct: Track,
    /// Wind direction by height, degrees; may run past 0 and 360.
    pub wind_dir_deg: Track,
    /// Wind speed by height, m/s.
    pub wind_speed_ms: Track,
    /// The noise.
    pub noise: Noise,
    /// Where the noise starts.
    pub seed: u64,
    /// Pressures, hPa, falling, on which a row must lie exactly.
    pub pins: &'static [f64],
    /// What is missing where.
    pub gaps: &'static [Gap],
    /// Seconds from row to row.
    pub step_s: u32,
    /// Whether the file gives it as a fall, from the top down.
    pub falls: bool,
    /// Whether the file leaves temperature and humidity out.
    pub winds_alone: bool,
    /// Below this pressure, hPa, the file leaves pressure out.
    pub pressure_fails_hpa: f64,
    /// How the sonde comes down after the top, where the file tells of it.
    pub descent: Option<Descent>,
}

/// The way down after burst, under a parachute.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Descent {
    /// Rate of fall at sea level, m/s; it grows aloft with the root of the
    /// thinning of the air.
    pub fall_ms: f64,
    /// Height at which the signal is lost, gpm.
    pub lost_gpm: f64,
}

impl Scene {
    /// The rows from release, unrounded; with a descent those too, all in the
    /// steps of the scene.
    pub fn rows(&self) -> Vec<Row> {
        let mut air = Air::new(self);
        let mut rows = Vec::new();
        let mut height = physics::geopotential_gpm(self.place.latitude_deg, self.elevation_m);
        let mut pressure = self.surface_hpa;
        let mut place = self.place;
        let mut state = air.still(height);
        let mut falls = None;
        for time_s in 0_u32..20_000 {
            if pressure < self.top_hpa {
                falls = self.descent;
                if falls.is_none() {
                    break;
                }
            }
            if falls.is_some_and(|d| height < d.lost_gpm) {
                break;
            }
            if let Some(row) = self.seen(time_s, pressure, height, &state, place) {
                rows.push(row);
            }
            let step = match falls {
                Some(d) => -d.fall_ms * (height / DENSITY_GPM / 2.0).exp(),
                None => self.rate_ms(height),
            };
            let (next_pressure, next_height, next) =
                self.climb(step, pressure, height, &state, &mut air);
            place = physics::drift(place, &state.wind, 1.0);
            (pressure, height, state) = (next_pressure, next_height, next);
        }
        rows.retain(|row| row.time_s % self.step_s == 0);
        rows
    }

    /// One second further up, or down where the step (m) is negative.
    fn climb(
        &self,
        step: f64,
        pressure: f64,
        height: f64,
        state: &State,
        air: &mut Air<'_>,
    ) -> (f64, f64, State) {
        let virtual_k = |s: &State, p: f64| physics::virtual_k(s.temperature_c, s.humidity_pct, p);
        let below_k = virtual_k(state, pressure);
        let noise = air.step();
        let at = |to: f64| self.state(to, noise);
        let land = |to: f64| {
            let next = at(to);
            let guess = pressure * physics::pressure_ratio(to - height, below_k);
            let mean_k = (below_k + virtual_k(&next, guess)) / 2.0;
            pressure * physics::pressure_ratio(to - height, mean_k)
        };
        let mut to = height + step;
        let mut reached = land(to);
        let pin = self.pins.iter().find(|&&pin| pin < pressure);
        if let Some(&pin) = pin.filter(|&&pin| pin > reached) {
            // The same step, shortened until it ends on the pin.
            for _ in 0..20 {
                to += (reached / pin).ln() * physics::scale_height_gpm(below_k);
                reached = land(to);
            }
            reached = pin;
        }
        (reached, to, at(to))
    }

    /// The rate of ascent at a height, m/s: the mean one with slow waves.
    fn rate_ms(&self, height: f64) -> f64 {
        self.ascent_ms + 0.35 * (height / 410.0).sin() + 0.2 * (height / 93.0).cos()
    }

    fn state(&self, height: f64, noise: Kick) -> State {
        let dir = self.wind_dir_deg.at(height).to_radians();
        let speed = self.wind_speed_ms.at(height).max(0.0);
        State {
            temperature_c: self.temperature_c.at(height) + noise.temperature_k,
            humidity_pct: (self.humidity_pct.at(height) + noise.humidity_pct).clamp(0.5, 100.0),
            wind: Components {
                east_ms: -speed * dir.sin() + noise.east_ms,
                north_ms: -speed * dir.cos() + noise.north_ms,
            },
        }
    }

    /// What the file says of a moment; `None` when the row is lost.
    fn seen(
        &self,
        time_s: u32,
        pressure_hpa: f64,
        height_gpm: f64,
        state: &State,
        place: Place,
    ) -> Option<Row> {
        let lost = |what: Lost| {
            self.gaps.iter().any(|gap| {
                gap.lost == what && pressure_hpa < gap.from_hpa && pressure_hpa > gap.to_hpa
            })
        };
        let no_temperature = lost(Lost::Temperature);
        let no_humidity = no_temperature || lost(Lost::Humidity);
        let no_wind = lost(Lost::Wind);
        (!lost(Lost::Rows)).then(|| Row {
            time_s,
            pressure_hpa,
            height_gpm,
            temperature_c: (!no_temperature).then_some(state.temperature_c),
            humidity_pct: (!no_humidity).then_some(state.humidity_pct),
            wind: (!no_wind).then(|| state.wind.polar()),
            place: (!no_wind).then_some(place),
        })
    }
}

/// The air around the sonde at one moment.
#[derive(Clone, Copy, Debug)]
struct State {
    temperature_c: f64,
    humidity_pct: f64,
    wind: Components,
}

/// A wind by components, towards which it blows.
#[derive(Clone, Copy, Debug)]
pub struct Components {
    /// Towards east, m/s.
    pub east_ms: f64,
    /// Towards north, m/s.
    pub north_ms: f64,
}

impl Components {
    fn polar(self) -> Wind {
        let dir = (-self.east_ms).atan2(-self.north_ms).to_degrees();
        Wind {
            dir_deg: dir.rem_euclid(360.0),
            speed_ms: self.east_ms.hypot(self.north_ms),
        }
    }
}

/// What the noise adds in one row.
#[derive(Clone, Copy, Debug, Default)]
struct Kick {
    temperature_k: f64,
    humidity_pct: f64,
    east_ms: f64,
    north_ms: f64,
}

/// The scene with its running noise.
struct Air<'a> {
    scene: &'a Scene,
    temperature: Wander,
    humidity: Wander,
    east: Wander,
    north: Wander,
}

impl<'a> Air<'a> {
    fn new(scene: &'a Scene) -> Self {
        let noise = scene.noise;
        let seed = scene.seed.wrapping_mul(1000);
        Self {
            scene,
            temperature: Wander::new(seed + 1, noise.temperature_k, 0.5),
            humidity: Wander::new(seed + 2, noise.humidity_pct, 0.9),
            east: Wander::new(seed + 3, noise.wind_ms, 0.95),
            north: Wander::new(seed + 4, noise.wind_ms, 0.95),
        }
    }

    /// The state without noise: the surface is what the sheet says.
    fn still(&self, height: f64) -> State {
        self.scene.state(height, Kick::default())
    }

    fn step(&mut self) -> Kick {
        Kick {
            temperature_k: self.temperature.step(),
            humidity_pct: self.humidity.step(),
            east_ms: self.east.step(),
            north_ms: self.north.step(),
        }
    }
}
