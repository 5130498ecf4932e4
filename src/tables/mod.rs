//! The code tables and the numeric limits of the rules, as data.
//!
//! Each table is a file in `tables/`, whose header comment names document,
//! table and any departure. The files are compiled in and each is read once,
//! on first use. A fault in one is a mistake of ours, never of a user, and a
//! test reads them all.

mod ascent_rate;
mod associated;
mod bufr;
mod bufr_figures;
mod bufr_meaning;
mod cf;
mod cloud;
mod column_word;
mod continuity_limit;
mod element;
mod equipment;
pub mod figure;
mod figures;
mod file;
mod ground_check_limit;
mod joining_limit;
mod level;
mod limit;
mod message_limit;
mod month_limit;
mod practice;
mod profile_limit;
mod reading;
mod regional;
mod transmission_limit;

use std::sync::LazyLock;

pub use ascent_rate::{AscentRate, ascent_rates, assumed_rates};
pub use associated::associated_field;
pub use bufr::{
    BUFR_TABLE_VERSION, BufrElement, BufrTemplate, BufrUnit, Descriptor, Subcategory, bufr_element,
    bufr_local_sequence, bufr_sequence, bufr_sequence_title, bufr_sequences, bufr_template,
    bufr_templates, subcategories,
};
pub use bufr_figures::{bufr_figure, bufr_figure_listed};
pub use bufr_meaning::{
    BufrPiece, PieceKind, bufr_other_data, bufr_pieces, roles_of_figure, roles_of_flags,
};
pub use cf::{CfName, cf_name, cf_names};
pub use cloud::{
    CloudBase, CloudMeaning, cloud_amounts, cloud_base_figure, cloud_bases, high_clouds,
    low_clouds, middle_clouds,
};
pub use column_word::{ColumnWord, column_word, column_words};
pub use continuity_limit::{Compared, ContinuityLimit, continuity_limits};
pub use element::{depression_codes, depression_k, temperature_figure, temperature_negative};
pub use equipment::{
    Measuring, Radiation, Radiosonde, ReportLetters, SondeClass, Tracking, TrackingGroup,
    measuring, measuring_bufr, measuring_figure, radiation, radiosonde, radiosonde_from_text,
    radiosondes, report_letters, sign_figure, sign_negative, tracking,
};
pub use figures::{Figure, FigureTable};
pub use ground_check_limit::{GroundCheckLimits, ground_check_limit_rows, ground_check_limits};
pub use joining_limit::{JoiningLimits, joining_limit_rows, joining_limits};
pub use level::{
    StandardLevel, added_surfaces, check_practice, id_figure, known_levels, standard_level,
    standard_levels, station_levels,
};

pub use limit::{GrossLimits, LimitRow, Limits, gross_limits, limit, limit_rows, limits};
pub use message_limit::{MessageLimits, message_limit_rows, message_limits};
pub use month_limit::{
    Averaged, Counted, MonthLimit, NetworkRequirement, NetworkStanding, month_limit,
    network_requirements,
};
pub use profile_limit::{ProfileLimits, profile_limit, profile_limit_rows, profile_limits};
pub use regional::{
    AdditionalData, AdditionalGroup, Elevation, ElevationConfidence, ElevationUnit, Follows,
    Heading, HeightApproximation, Standing, additional, additional_data, additional_group,
    area_letter, bufr_heading, elevations, headings, height_approximations, quadrant_figure,
    quadrant_signs, text_heading,
};
pub use transmission_limit::{TransmissionLimits, transmission_limit_rows, transmission_limits};

pub use practice::{
    Practice, PracticeRow, PracticeUnit, height_for_surface, hours_parts, level_manner,
    level_manner_wanted, parts_after_early, pilot_fixed, practice, practice_rows, practices,
    section7_parts,
};
pub use reading::{ReadingPractice, reading_practice, reading_practices};

use file::{File, load};

pub use crate::model::{Form, Part};

/// Names the embedded files, and for the tests lists them.
macro_rules! embed {
    ($($constant:ident = $name:literal,)+) => {
        $(const $constant: File = File {
            name: concat!("tables/", $name),
            text: include_str!(concat!("../../tables/", $name)),
        };)+
        #[cfg(test)]
        const FILES: &[File] = &[$($constant),+];
    };
}

embed! {
    STANDARD_LEVELS = "standard_levels.csv",
    BUFR_ELEMENTS = "bufr_elements.csv",
    BUFR_SEQUENCES = "bufr_sequences.csv",
    BUFR_FIGURES = "bufr_figures.csv",
    BUFR_LOCAL = "bufr_local_sequences.csv",
    BUFR_TEMPLATES = "bufr_templates.csv",
    BUFR_OTHER = "bufr_other_data.csv",
    BUFR_PIECES = "bufr_pieces.csv",
    B08001 = "008001_significance.csv",
    B08040 = "008040_level.csv",
    C13 = "c13_soundings.csv",
    CF_NAMES = "cf_names.csv",
    T3931 = "3931_temperature.csv",
    T0777 = "0777_depression.csv",
    T2582 = "2582_letters.csv",
    T0265 = "0265_measuring.csv",
    T3849 = "3849_radiation.csv",
    T3845 = "3845_sign.csv",
    C02 = "c02_radiosonde.csv",
    C07 = "c07_tracking.csv",
    B02015 = "002015_completeness.csv",
    B02016 = "002016_configuration.csv",
    B02017 = "002017_humidity_correction.csv",
    B02081 = "002081_balloon.csv",
    B02083 = "002083_shelter.csv",
    B02084 = "002084_gas.csv",
    B02095 = "002095_pressure_sensor.csv",
    B02096 = "002096_temperature_sensor.csv",
    B02097 = "002097_humidity_sensor.csv",
    B02103 = "002103_radome.csv",
    B02191 = "002191_height_calculation.csv",
    B31021 = "031021_associated.csv",
    B35035 = "035035_termination.csv",
    T1845 = "1845_elevation.csv",
    T3333 = "3333_quadrant.csv",
    T1600 = "1600_cloud_base.csv",
    T2700 = "2700_cloud_amount.csv",
    T0513 = "0513_low_cloud.csv",
    T0515 = "0515_middle_cloud.csv",
    T0509 = "0509_high_cloud.csv",
    T0421 = "0421_region4.csv",
    GROSS_LIMITS = "gross_limits.csv",
    SELECTION_LIMITS = "selection_limits.csv",
    MESSAGE_LIMITS = "message_limits.csv",
    PROFILE_LIMITS = "profile_limits.csv",
    GROUND_CHECK_LIMITS = "ground_check_limits.csv",
    CONTINUITY_LIMITS = "continuity_limits.csv",
    MONTH_LIMITS = "month_limits.csv",
    NETWORK_REQUIREMENTS = "network_requirements.csv",
    JOINING_LIMITS = "joining_limits.csv",
    ASCENT_RATES = "ascent_rates.csv",
    TRANSMISSION_LIMITS = "transmission_limits.csv",
    HEADINGS = "headings.csv",
    AREAS = "c3_areas.csv",
    PRACTICES = "practices.csv",
    READING_PRACTICES = "reading_practices.csv",
    COLUMN_WORDS = "column_words.csv",
    HEIGHT_APPROXIMATIONS = "height_approximations.csv",
}

/// A table that is read on first use.
type Once<T> = LazyLock<T>;

#[cfg(test)]
mod tests;
