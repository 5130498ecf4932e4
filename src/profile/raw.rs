//! What a row of a file says of wind and position.

use crate::model::raw::RawRow;
use crate::model::{Position, Wind};
use crate::physics::drift::wrapped;

impl RawRow {
    /// Direction and speed; a calm needs no direction.
    #[must_use]
    pub fn wind(&self) -> Option<Wind> {
        Wind::from_polar(self.wind_dir_deg, self.wind_speed_ms)
    }

    /// The position, longitude −180…180.
    #[must_use]
    pub fn place(&self) -> Option<Position> {
        let (latitude_deg, longitude) = self.latitude_deg.zip(self.longitude_deg)?;
        Some(Position {
            latitude_deg,
            longitude_deg: wrapped(longitude),
        })
    }
}
