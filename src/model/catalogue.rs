//! The catalogue of findings: the one place for the code, severity, wording, advice and
//! clause of each.
//!
//! It is Rust and not a table under `tables/` so that the compiler checks it: a misspelt
//! code, a value that a text lacks and a value that no text uses fail to compile.
//!
//! An entry is `Variant "code" Class "clause" "what" "allowed"`, where the class is a severity
//! or `Detail`: severity info of what every ordinary flight has. Texts name their values
//! (`{pressure_hpa:.1}`) with their resolution; an empty clause or advice is none. `finding!`
//! creates a finding: the code, the place, the values of `what`, and in brackets those of
//! `allowed`.

use std::collections::HashMap;
use std::fmt;
use std::str::FromStr;
use std::sync::LazyLock;

use super::severity::Severity;

macro_rules! catalogue {
    ($d:tt $($name:ident $code:literal $class:ident $clause:literal $what:literal $allowed:literal;)*) => {
        /// What a finding reports: its stable code, with the wording in the catalogue.
        ///
        /// `fivefig explain` prints them all.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[non_exhaustive]
        pub enum Code {
            $(
                #[doc = concat!("`", $code, "`:\n\n```text\n", $what, "\n```\n\n", $clause)]
                $name,
            )*
        }

        impl Code {
            /// Every code, room by room.
            pub const ALL: &'static [Self] = &[$(Self::$name),*];

            const fn entry(self) -> &'static Entry {
                match self {
                    $(Self::$name => &Entry {
                        code: $code,
                        class: Class::$class,
                        clause: $clause,
                        what: $what,
                        allowed: $allowed,
                    },)*
                }
            }
        }

        /// Creates a finding by its code, place and values.
        macro_rules! finding {
            $(
                ($name, $d place:expr $d(, $d key:ident = $d value:expr)*
                    $d(, [$d($d own:ident = $d limit:expr),+ $d(,)?])? $d(,)?) => {
                    $crate::model::Finding::new(
                        $crate::model::Code::$name,
                        $d place,
                        ::std::fmt::format(::std::format_args!(
                            $what $d(, $d key = $d value)*
                        )),
                        ::std::fmt::format(::std::format_args!(
                            $allowed $d($d(, $d own = $d limit)+)?
                        )),
                    )
                };
            )*
        }
    };
}

/// A severity, with details apart.
#[derive(Clone, Copy)]
enum Class {
    Error,
    Warning,
    Info,
    /// Severity info of what every ordinary flight has: values computed from others, rates
    /// that were measured.
    Detail,
}

/// One entry of the catalogue.
struct Entry {
    code: &'static str,
    class: Class,
    clause: &'static str,
    what: &'static str,
    allowed: &'static str,
}

catalogue! { $
    // Levels and the report.
    LayerNotObserved "layer-not-observed" Info "WMO-No. 306, 35.3.1.6"
        "{element} was not observed from {from} to {to}; standard surfaces in that layer are coded without it"
        "";
    EqualPressureMoved "equal-pressure-moved" Info ""
        "{level}: its coded pressure equals that of its neighbour, so it is moved to {pressure_hpa} hPa"
        "levels of one section differ in coded pressure";
    EqualPressureRemoved "equal-pressure-removed" Info ""
        "{level}: its coded pressure equals that of its neighbour, so it is left out"
        "levels of one section differ in coded pressure";
    EqualPressureOthers "equal-pressure-others" Info ""
        "{levels} from here on moved or left out, since their coded pressure equals that of their neighbours"
        "levels of one section differ in coded pressure";
    LevelForced "level-forced" Info ""
        "a level at {pressure_hpa} hPa is added by order: {reason}"
        "";
    LevelRemoved "level-removed" Warning ""
        "the level at {pressure_hpa} hPa, {role}, is left out by order: {reason}"
        "";
    LevelWithheld "level-withheld" Warning ""
        "the level at {pressure_hpa} hPa, {role}, has its temperature, humidity and wind withheld by order: {reason}"
        "";
    OrderWithoutLevel "order-without-level" Warning ""
        "the order at {pressure_hpa} hPa has no effect: no level is near that pressure"
        "compare pressure_hpa of the order with the table of levels";
    NoClouds "no-clouds" Info "WMO-No. 306, FM 35 section 8"
        "no sheet gives the clouds; coded as /////"
        "give them under [clouds]";
    NoSurface "no-surface" Warning "WMO-No. 306, 35.2.1 and 32.2"
        "no sheet gives a surface observation; the first row of the profile is coded as the surface level"
        "give pressure_hpa, temperature_c, humidity_pct, wind_dir_deg and wind_speed_ms under [surface]";
    NoEquipment "no-equipment" Warning "WMO-No. 306, FM 32 to 38, a4 and section 7"
        "no sheet gives {keys}; coded as solidi"
        "give the code figures under [equipment]";
    TropopauseInDoubt "tropopause-in-doubt" Info "WMO-No. 306, 35.2.3.1"
        "the first tropopause depends on small-scale variations: {found} in the profile, {smoothed} in the smoothed profile"
        "the one in the profile is reported; compare it with the diagram";
    TropopausePending "tropopause-pending" Info "WMO-No. 306, 35.2.3.1"
        "whether a tropopause lies at {pressure_hpa} hPa or just above is not yet decided"
        "a correction may follow from the complete ascent";
    MaximumWindPending "maximum-wind-pending" Info "WMO-No. 306, 35.2.4"
        "the wind has reached {speed_ms:.1} m/s at {pressure_hpa} hPa and has not yet fallen by {fall_ms} m/s, so a maximum wind there or above is not yet decided"
        "up to 100 hPa a correction may follow from the complete ascent; above, Part C reports it";
    StandardSurfacePending "standard-surface-pending" Info "WMO-No. 306, 35.2.2.3"
        "the 100 hPa surface lacks {element}, which was not measured again so far"
        "a correction may follow from the complete ascent";
    WindPending "wind-pending" Info "WMO-No. 306, 32.2.2"
        "wind was not observed above {pressure_hpa:.1} hPa, and may return"
        "PILOT ends with its last wind once the ascent is complete";
    ShearPending "shear-pending" Info "WMO-No. 306, 35.2.4.4"
        "the shear above a maximum wind is not yet known"
        "a correction may follow from the complete ascent";
    SurfacesByHeight "surfaces-by-height" Warning "WMO-No. 306, 32.2.2.2"
        "from {pressure_hpa} hPa up, standard surfaces are located by the heights that approximate them (55nPP), which is regional practice"
        "set surfaces_by_height = true under [coding] if the Region does so, or give pressure in every row";

    // Rows of a file to a profile.
    ComputedBelowGround "below-ground-computed" Info ""
        "{rows} below the ground, without observations, left out"
        "";
    BelowGround "below-ground" Warning ""
        "{rows} with observations more than 5 m below the ground left out"
        "check release_m and elevation_m, and that heights are above mean sea level";
    NoPressure "no-pressure" Info ""
        "{rows} without pressure left out"
        "";
    NoHeight "no-height" Info ""
        "{rows} without height left out"
        "";
    WindWithoutPressure "wind-without-pressure" Info "WMO-No. 306, 35.1.5"
        "{rows} with wind but without pressure left out"
        "PILOT reports such winds";
    NoObservationAtTop "no-observation" Info ""
        "{rows} without observations at the top left out"
        "";
    NoObservationAtEnd "no-observation-at-end" Info ""
        "{rows} without observations at the end of the descent left out"
        "";
    BelowSurface "below-surface" Info ""
        "{rows} below the surface level left out"
        "";
    PressureRises "pressure-rises" Info ""
        "{rows} with a pressure greater than an earlier one left out"
        "";
    HeightFalls "height-falls" Info ""
        "{rows} with a height not above an earlier one left out"
        "";
    AfterBurst "after-burst" Info ""
        "{rows} after the top of the ascent left out"
        "";
    BeforeTop "before-top" Info ""
        "{rows} before the highest level of the dropsonde left out"
        "";
    BeforeDescent "before-descent" Info ""
        "{rows} before the start of the descent left out"
        "";
    PressureFalls "pressure-falls" Info ""
        "{rows} with a pressure less than an earlier one of the descent left out"
        "";
    HeightRises "height-rises" Info ""
        "{rows} with a height not below an earlier one of the descent left out"
        "";
    HumidityOver105 "humidity-over-105" Warning ""
        "{rows} with a humidity over 105 %, treated as missing"
        "0 to 105 % over water; if it is over ice, write humidity_over = \"ice\" under [profile]";
    HumidityOver100 "humidity-over-100" Info ""
        "{rows} with a humidity over 100 %, used as 100 %"
        "";
    DewpointAboveTemperature "dewpoint-above-temperature" Info ""
        "{rows} with a dew point above the temperature; humidity is used as 100 %"
        "";
    HumidityDewpointDisagree "humidity-dewpoint-disagree" Info ""
        "{rows} in which humidity and dew point differ by more than 0.5 K"
        "each is used as given";
    HumidityWithoutTemperature "humidity-without-temperature" Info ""
        "{rows} with humidity but without temperature; humidity is treated as missing"
        "";
    WindIncomplete "wind-incomplete" Info ""
        "{rows} with only one of wind direction and speed; the wind is treated as missing"
        "";
    Derived "derived" Detail ""
        "computed: {quantities}"
        "";
    HeightMissing "height-missing" Warning ""
        "no row has a height"
        "heights are computed where temperature and station.elevation_m are given";
    DescentHeightMissing "descent-height-missing" Warning ""
        "no row of the descent has a height"
        "heights of a descent are not computed: give them in the file";
    Withheld "withheld" Info ""
        "{element} withheld from {from_hpa} to {to_hpa} hPa in {rows}: {reason}"
        "";
    NothingWithheld "nothing-withheld" Warning ""
        "the order to withhold {element} from {from_hpa} to {to_hpa} hPa has no effect: no row has a pressure in this layer"
        "correct from_hpa and to_hpa of the order";
    SurfacePressure "surface-pressure" Error "common practice, no source"
        "the pressure at the release point is {carried_hpa:.1} hPa by the first row and {barometer_hpa:.1} hPa by the surface observation ({off_hpa:+.1} hPa)"
        "at most {most_hpa} hPa apart; correct surface.pressure_hpa, or station.elevation_m and release_m";
    HeightIntegrated "height-integrated" Info ""
        "heights above {start} are missing and computed hydrostatically with virtual temperature, across {bridged} without temperature; {left} at the top without height"
        "";
    PositionFromWind "position-from-wind" Info ""
        "positions are missing and computed from the wind and the station's position for {count} of {rows}"
        "";
    TemperatureMissing "temperature-missing" Info ""
        "no row has a temperature"
        "PILOT is the form for winds alone";
    DescentTemperatureMissing "descent-temperature-missing" Info ""
        "no row of the descent has a temperature"
        "";
    TemperatureEnds "temperature-ends" Info ""
        "temperature ends at {temperature_hpa:.1} hPa, wind continues to {wind_hpa:.1} hPa"
        "TEMP is coded without temperature above; PILOT reports winds alone";
    WindMissing "wind-missing" Warning ""
        "no row has a wind"
        "check the names and units of the wind columns";
    BalloonFloats "balloon-floats" Warning "common practice, no source"
        "the balloon floats from {from} to {to}: it rises {rise_gpm:.0} gpm in {minutes:.0} min"
        "at least {least_ms} m/s over {window_min:.0} min; check the heights of these rows";
    Bounce "bounce" Warning ""
        "the balloon falls and rises again {count}, the first by {depth_gpm:.0} gpm{times}"
        "the rows of each fall and of the way back are left out";
    HumidityOverIce "humidity-over-ice" Info ""
        "humidity over ice is converted to humidity over water in {rows}"
        "";
    EllipsoidHeight "ellipsoid-height" Info ""
        "heights are above the ellipsoid: {off_m:+.1} m is subtracted, so that the sonde is released at {ground_m} m"
        "";
    HeightOffset "height-offset" Warning ""
        "the sonde is released at {released_m:.1} m by its heights and at {ground_m} m by the sheet ({off_m:+.1} m)"
        "at most {most_m} m apart; check release_m, or write height_reference = \"ellipsoid\" under [profile] if heights are above the ellipsoid";
    PositionsCoarse "positions-coarse" Warning ""
        "winds are missing, and positions in steps of {step_m:.0} m are too coarse to compute them from {window_s} s of the track"
        "set track_window_s under [profile] to at least {least_s:.0}";
    PositionsSparse "positions-sparse" Warning ""
        "winds are missing, and positions are too far apart to compute them from {window_s} s of the track: {found} of {rows} have a wind"
        "set a longer track_window_s under [profile], such as {longer_s:.0}";
    WindFromPositions "wind-from-positions" Info ""
        "winds are missing and computed from positions for {found} of {rows}, over {window_s} s each, {calm} of them calm for a distance below the position step of {step_m:.1} m; {skipped} out of reach are not used, and the standard error of a component is {rms_ms:.2} m/s (rms), at most {greatest_ms:.2} m/s"
        "track_window_s under [profile] sets the window";
    AnglesUnused "angles-unused" Info ""
        "angles are not used: the rows have positions"
        "";
    AnglesIncomplete "angles-incomplete" Warning ""
        "elevation or azimuth is missing in {rows} with the other one, the first of them this"
        "these rows have no wind of their own; complete them where the notebook has the angle";
    AnglesWithoutHeight "angles-without-height" Warning ""
        "angles without a height above the instrument give no position: {rows}, the first of them this"
        "give the height of these rows, or ascent_rate_ms under [tracking]";
    PositionFromAngles "position-from-angles" Info "WMO-No. 8 Volume I chapter 13"
        "positions are computed from angles and heights for {count} of {rows}, with the curvature of the Earth and a refraction of {refraction}"
        "winds are means over {window_s:.0} s; track_window_s under [profile] sets another interval";
    HeightFromAscentRate "height-from-ascent-rate" Info "WMO-No. 8 Volume I chapter 13"
        "heights are missing and computed from an assumed rate of ascent of {rates} m/s"
        "winds are wrong in proportion to this rate: by a tenth where the balloon rises a tenth faster";
    TwoTheodolites "two-theodolites" Info "WMO-No. 8 Volume I chapter 13"
        "the angles of two theodolites fit each other to {rms_deg:.2} deg (rms), at most {greatest_deg:.2} deg, in {count} of {rows}; an error of {error_deg} deg moves the position by up to {error_m:.0} m"
        "";
    TheodolitesApart "theodolites-apart" Warning "our method"
        "the lines of sight of two theodolites do not meet in {rows}, the first of them this"
        "residuals of at most {most_deg} deg are allowed; check the angles of these rows, base_azimuth_deg and azimuth_zero_deg under [tracking]";
    ElevationLow "elevation-low" Warning "WMO-No. 8 Volume I chapter 13"
        "the balloon is as low as {least_deg:.1} deg above the horizon, below {low_deg} deg in {rows}: there an error of {error_deg} deg in elevation makes an error of {error_ms:.1} m/s in the wind"
        "";
    ElevationTooLow "elevation-too-low" Warning "FMH-3 (1997), from memory"
        "the balloon is lower than {most_deg} deg above the horizon in {rows}, the first of them this: they give no wind"
        "";
    AzimuthReversed "azimuth-reversed" Warning "our method"
        "azimuth {read} deg lies {off_m:.0} m off the track, and reversed by 180 deg it fits"
        "the row gives no wind; write {fits} if the instrument was read from the other side";
    AzimuthQuadrant "azimuth-quadrant" Warning "our method"
        "azimuth {read} deg lies {off_m:.0} m off the track, and {fits} deg, in another quadrant, fits"
        "the row gives no wind; correct the angle if it was misread";
    ElevationQuadrant "elevation-quadrant" Warning "our method"
        "elevation {read} deg lies {off_m:.0} m off the track, and {fits} deg, counted from the zenith, fits"
        "the row gives no wind; correct the angle if it was misread";
    AngleJump "angle-jump" Warning "our method"
        "elevation {elevation_deg} deg and azimuth {azimuth_deg} deg lie {off_m:.0} m off the track of the rows beside"
        "at most {most_m:.0} m is allowed; the row gives no wind, correct the angle if it was misread";
    AzimuthOpposite "azimuth-opposite" Warning "our method"
        "the balloon starts with a wind from {balloon_deg:.0} deg, and the surface wind is from {surface_deg:.0} deg"
        "at most {most_deg} deg apart; check whether azimuth 0 points to the south (azimuth_zero_deg = 180 under [tracking])";
    HeightKindGiven "height-kind-given" Info ""
        "heights are used as {used}, by height_kind of the sheet; the file gives them as {given} in {rows}"
        "";
    KindOfHeight "kind-of-height" Error "our method"
        "used as {used}, the heights differ by {used_gpm:+.0} gpm from those computed from pressure and temperature; used as {other}, by {other_gpm:+.0} gpm"
        "at most {most_gpm} gpm; under [profile] write height_kind = \"{other_key}\" if they are {other}, height_kind = \"{used_key}\" if they are {used}";
    KindOfHeightGiven "kind-of-height-given" Warning "our method"
        "used as {used}, the heights differ by {used_gpm:+.0} gpm from those computed from pressure and temperature; used as {other}, by {other_gpm:+.0} gpm"
        "at most {most_gpm} gpm; height_kind under [profile] states {used}";
    ReleaseGiven "release-given" Info ""
        "times count from time_s {time_s}, by release_time_s of the sheet"
        "";
    ReleaseApart "release-apart" Warning ""
        "the balloon rises from {begins} by the file; the release in the sheet is {release}"
        "the times of the rows are used; correct flight.release";
    ReleaseFar "release-far" Warning ""
        "the first row is {time_s} s after release by its time_s"
        "release_time_s under [profile] gives the time_s of the release";
    ReleaseFound "release-found" Info ""
        "the sonde is released{at}, and times count from there; {rows} before it left out"
        "release_time_s under [profile] sets another time; 0 keeps the times of the file";
    BeforeRelease "before-release" Info ""
        "{rows} before release left out"
        "";
    PressureIntegrated "pressure-integrated" Info ""
        "pressures are missing and computed hydrostatically with virtual temperature from {pressure_hpa:.1} hPa at the surface for {rows}, {bridged} of them without temperature"
        "";
    PressureEndIntegrated "pressure-end-integrated" Info ""
        "pressure ends at {pressure_hpa:.1} hPa and is computed hydrostatically with virtual temperature from there for {rows}, {bridged} of them without temperature"
        "";
    PressureGapIntegrated "pressure-gap-integrated" Info ""
        "pressure is missing above {pressure_hpa:.1} hPa and computed hydrostatically with virtual temperature for {rows}, {bridged} of them without temperature; where it returns {read_hpa:.1} hPa was measured and {made_hpa:.1} hPa computed"
        "";

    // A profile checked.
    MeanAscentRate "ascent-rate" Detail "common practice, no source"
        "the mean rate of ascent is {mean_ms:.1} m/s; over {window_s} s the slowest is {slowest}, the fastest {fastest}"
        "usually {usual_ms} m/s, in the mean {least_ms} to {most_ms} m/s";
    AscentRateUnusual "ascent-rate-unusual" Warning "common practice, no source"
        "the mean rate of ascent is {mean_ms:.1} m/s; over {window_s} s the slowest is {slowest}, the fastest {fastest}"
        "usually {usual_ms} m/s, in the mean {least_ms} to {most_ms} m/s; check times and heights";
    AscentSlow "ascent-slow" Warning "common practice, no source"
        "the balloon rises slowly, {rate_ms:.1} m/s over {window_s} s, {rows}"
        "at least {least_ms} m/s";
    Floating "floating" Warning "common practice, no source"
        "the balloon floats, {rate_ms:.1} m/s over {window_s} s, {rows}"
        "at least {least_ms} m/s";
    Falling "falling" Warning "common practice, no source"
        "the balloon falls, {rate_ms:.1} m/s over {window_s} s, {rows}"
        "at least {least_ms} m/s";
    AscentFast "ascent-fast" Warning "common practice, no source"
        "the balloon rises fast, {rate_ms:.1} m/s over {window_s} s, {rows}"
        "at most {most_ms} m/s; check times and heights";
    HumidityZero "humidity-zero" Error "common practice, no source"
        "humidity is exactly 0 % in {rows} between {from_hpa} and {to_hpa} hPa, {seconds:.0} s in total"
        "at most {most_s} s below the {top_hpa} hPa surface; give the mark of missing values as missing under [text], or withhold the humidity of the layer";
    TemperatureConstant "temperature-constant" Warning "common practice, no source"
        "temperature is unchanged at {value} for {seconds:.0} s, {rows}"
        "at most {most_s} s to the last digit; withhold the layer if the sensor failed";
    HumidityConstant "humidity-constant" Warning "common practice, no source"
        "relative humidity is unchanged at {value} for {seconds:.0} s, {rows}"
        "at most {most_s} s to the last digit, except {wet_pct} % or less than {dry_pct} %; withhold the layer if the sensor failed";
    WindConstant "wind-constant" Warning "common practice, no source"
        "wind speed and direction are unchanged at {value} for {seconds:.0} s, {rows}"
        "at most {most_s} s to the last digit; withhold the layer if tracking failed";
    ConstantWholeNumbers "constant-whole-numbers" Info "common practice, no source"
        "{element} is unchanged at {value} for {seconds:.0} s, {rows}; the column has whole numbers only"
        "at most {most_s} s to the last digit";
    TimeGap "time-gap" Warning "common practice, no source"
        "there is no row for {seconds:.1} s, {rows}"
        "at most {most_s} s, or {ratio} times the usual step of {usual_s} s";
    TimeStepIrregular "time-step-irregular" Info "our method"
        "{count} of {steps} are irregular, from {least_s} to {most_s} s, the first at row {row}"
        "usually {usual_s} s";
    ElementMissing "element-missing" Info "our method"
        "{element} is missing from {from} to {to}, {rows}"
        "reported where the layer is {least_gpm} gpm deep or deeper";
    ElementMissingThroughout "element-missing-throughout" Info "our method"
        "{element} is missing in every row"
        "";
    HeightAgainstPressure "height-against-pressure" Warning "common practice, no source"
        "height differs from hydrostatic integration by {there_gpm:+.0} gpm at row {row} and by {top_gpm:+.0} gpm at row {top_row}"
        "at most {most_gpm} gpm and the effect of {loose_hpa} hPa, {sum_gpm:.0} gpm there; check heights, temperatures and the surface observation";
    TemperatureJump "temperature-jump" Warning "common practice, no source"
        "temperature changes by {size:.1} K in {seconds:.1} s, {rows}"
        "at most {rate} K/s";
    HumidityJump "humidity-jump" Warning "common practice, no source"
        "relative humidity changes by {size:.1} % in {seconds:.1} s, {rows}"
        "at most {rate} %/s";
    WindJump "wind-jump" Warning "common practice, no source"
        "wind changes by {size:.1} m/s in {seconds:.1} s, {rows}"
        "at most {rate} m/s per second";
    HeightJump "height-jump" Warning "common practice, no source"
        "height changes by {size:.1} gpm in {seconds:.1} s, {rows}"
        "at most {rate} gpm/s";
    StationDistance "station-distance" Error "common practice, no source"
        "the station is at {sheet_lat:.4}, {sheet_lon:.4} (degrees north, east) by the sheet, row {row} of the flight at {row_lat:.4}, {row_lon:.4}: {off_km:.0} km apart"
        "at most {most_km:.0} km; compare latitude_deg and longitude_deg of the sheet with the file";
    StationPositionSlip "station-position-slip" Error "common practice, no source"
        "the station is at {sheet_lat:.4}, {sheet_lon:.4} (degrees north, east) by the sheet, row {row} of the flight at {row_lat:.4}, {row_lon:.4}: {off_km:.0} km apart"
        "at most {most_km:.0} km; check {slip}: {meant_lat:.4}, {meant_lon:.4} agrees with the flight";
    NotCompared "not-compared" Info ""
        "not compared: {quantities}"
        "";
    SondePressure "sonde-pressure" Warning "common practice, no source"
        "the sonde's pressure reduced to the release point is {sonde_hpa:.1} hPa, that of the barometer {barometer_hpa:.1} hPa ({off_hpa:+.1} hPa)"
        "at most {most_hpa:.1} hPa apart; check the surface observation and the ground check of the sonde";
    SondeTemperature "sonde-temperature" Warning "common practice, no source"
        "the sonde's temperature in row 2 is {sonde:.1} °C, that of the surface observation {surface:.1} °C ({off:+.1} K)"
        "at most {most} K apart; check the surface observation and the ground check of the sonde";
    SondeHumidity "sonde-humidity" Warning "common practice, no source"
        "the sonde's humidity in row 2 is {sonde:.1} %, that of the surface observation {surface:.1} % ({off:+.1} %)"
        "at most {most} % apart; check the surface observation and the ground check of the sonde";
    GroundPressure "ground-pressure" Warning "common practice, no source"
        "at the ground check the sonde's pressure is {sonde:.1} hPa, that of the reference {reference:.1} hPa ({off:+.1} hPa)"
        "at most {most} hPa apart; repeat the check or take another sonde";
    GroundTemperature "ground-temperature" Warning "common practice, no source"
        "at the ground check the sonde's temperature is {sonde:.1} °C, that of the reference {reference:.1} °C ({off:+.1} K)"
        "at most {most} K apart; repeat the check or take another sonde";
    GroundHumidity "ground-humidity" Warning "common practice, no source"
        "at the ground check the sonde's humidity is {sonde:.1} %, that of the reference {reference:.1} % ({off:+.1} %)"
        "at most {most} % apart; repeat the check or take another sonde";
    GroundDryHumidity "ground-dry-humidity" Warning "common practice, no source"
        "in dry air the sonde's humidity is {sonde:.1} %"
        "at most {most} % from 0; heat or dry the sensor and repeat the check, or take another sonde";
    GroundBattery "ground-battery" Warning ""
        "the battery has {battery:.1} V at the ground check"
        "at least {least:.1} V by the sheet; replace the battery";
    GroundTime "ground-time" Warning "common practice, no source"
        "the ground check was at {time}, the release at {release}"
        "at most {most:.0} min before the release and not after it; correct the time or repeat the check";
    GroundCheckHalf "ground-check-half" Info ""
        "the ground check has one value of {quantities} without the other"
        "give the value of the reference and that of the sonde";
    ContinuityHeight "continuity-height" Warning "common practice, no source"
        "{level} is {off:.0} gpm {side} than {hours} h ago ({now:.0} after {then:.0} gpm)"
        "at most {most:.0} gpm in that time; compare the temperatures below with those of {name}";
    ContinuityHeightShift "continuity-height-shift" Warning "common practice, no source"
        "{level} is {off:.0} gpm {side} than {hours} h ago ({now:.0} after {then:.0} gpm), and the thickness below it is nearly unchanged ({thickness:+.0} gpm)"
        "at most {most:.0} gpm in that time; check the surface pressure and the height of the station";
    ContinuityThickness "continuity-thickness" Warning "common practice, no source"
        "the thickness {level} is {off:.0} gpm {side} than {hours} h ago ({now:.0} after {then:.0} gpm)"
        "at most {most:.0} gpm in that time; compare the temperatures of the layer with those of {name}";
    ContinuityTemperature "continuity-temperature" Warning "common practice, no source"
        "the temperature at {level} is {off:.1} K {side} than {hours} h ago ({now:.1} after {then:.1} °C)"
        "at most {most:.1} K in that time; compare with {name} and look at the sensor";
    ContinuityPressure "continuity-pressure" Warning "common practice, no source"
        "the pressure of the {level} is {off:.1} hPa {side} than {hours} h ago ({now:.1} after {then:.1} hPa)"
        "at most {most:.1} hPa in that time; compare with {name}";
    ContinuityWind "continuity-wind" Warning "common practice, no source"
        "the wind at {level} differs by a vector of {off:.1} m/s from that of {hours} h ago ({now} after {then})"
        "at most {most:.1} m/s in that time; compare with {name} and look at the tracking";
    MonthHeightMoved "month-height-moved" Warning "common practice, no source"
        "the mean geopotential height of the month at {surfaces} hPa differs from that of {before} by more than the limit, most at {worst} hPa by {off:+.0} gpm"
        "there at most {most:.0} gpm; compare the heights with neighbouring stations, and look for a change of instrument or of the height of the station";
    MonthTemperatureMoved "month-temperature-moved" Warning "common practice, no source"
        "the mean temperature of the month at {surfaces} hPa differs from that of {before} by more than the limit, most at {worst} hPa by {off:+.1} K"
        "there at most {most:.1} K; compare the temperatures with neighbouring stations, and look for a change of instrument";
    MonthBatchDrift "month-batch-drift" Warning "common practice, no source"
        "{batch}: the {quantity} of the sonde less that of the reference changed by {change:+.2} {unit} over {count} ground checks"
        "at most {most:.2} {unit} in a month; check the reference, then report the batch to the manufacturer";
    MonthStations "month-stations" Warning ""
        "the month has ascents of several stations ({names}), which are added up together"
        "give the sheet of one station to count its ascents alone";
    MonthOtherStation "month-other-station" Warning ""
        "{times} of {name} not counted: the sheet is that of {own}"
        "give the sheet of that station for its month, or no sheet to add up all";
    MonthNoBook "month-no-book" Warning ""
        "there is no flight book, so what was refused, late or held is not known"
        "the figures are those of the issues in the folder; keep spool/book.csv with them";
    MonthBookLine "month-book-line" Warning ""
        "the line is not counted: {why}"
        "correct the line of the flight book, then make the summary again";
    MonthIssueUnread "month-issue-unread" Warning ""
        "the issue is not read, so its values are not in the means: {why}"
        "put the files of the issue right, then make the summary again";
    MonthIssueGone "month-issue-gone" Warning ""
        "{flights} of the book without an issue in the folder, the first of them {first}: their values are not in the means"
        "put the issues back into the folder to have them in the means";
    MonthNoHandover "month-no-handover" Warning ""
        "what was handed over is not counted: {why}"
        "correct the journal of handing over, then make the summary again";
    ReleaseHeight "release-height" Warning "common practice, no source"
        "row 2 is at {height_gpm:.1} gpm, {seconds:.0} s after release from {ground_gpm:.1} gpm by the sheet ({off_gpm:+.0} gpm)"
        "at most {most_gpm:.0} gpm apart; check elevation_m and release_m";
    SurfaceHeight "surface-height" Error "common practice, no source"
        "row 1, which is coded as the surface, is at {height_gpm:.1} gpm {seconds:.0} s after release, the release point of the sheet at {ground_gpm:.1} gpm ({off_gpm:+.0} gpm)"
        "at most {most_gpm:.0} gpm apart; correct station.elevation_m or release_m, give the surface observation under [surface], or write height_reference = \"ellipsoid\" under [profile] if the heights are above the ellipsoid";
    SurfaceHeightLate "surface-height-late" Error "common practice, no source"
        "row 1 is at {height_gpm:.1} gpm, only {off_gpm:+.0} gpm from the release point of the sheet at {ground_gpm:.1} gpm, {seconds:.0} s after release"
        "{least_gpm:.0} gpm above it or more, at {least_ms} m/s; correct station.elevation_m or release_m, or give release_time_s under [profile]";
    Superadiabatic "superadiabatic" Warning "common practice, no source"
        "temperature falls by {lapse:.1} K/km over {depth_gpm:.0} gpm, the top {colder_k:.1} K below the dry adiabat, {rows}"
        "at most {dry} K/km and {more} K/km more, over {deep_gpm} gpm and deeper, higher than {ground_gpm} gpm above the ground";
    WindSpike "wind-spike" Warning "common practice, no source"
        "wind differs from its neighbours by up to {off_ms:.1} m/s and returns, {rows}"
        "at most {most_ms} m/s from the median within {window_s} s";
    DriftWind "drift-wind" Detail "common practice, no source"
        "the wind of the track differs from the reported wind by {rms_ms:.1} m/s (root mean square of {windows} windows of {window_s} s), at most by {most_ms:.1} m/s, {rows}"
        "at most {mean_ms:.1} m/s in the mean and {anywhere_ms:.1} m/s anywhere";
    DriftAgainstWind "drift-against-wind" Warning "common practice, no source"
        "the wind of the track differs from the reported wind by {rms_ms:.1} m/s (root mean square of {windows} windows of {window_s} s), at most by {most_ms:.1} m/s, {rows}"
        "at most {mean_ms:.1} m/s in the mean and {anywhere_ms:.1} m/s anywhere; check positions and wind columns";

    // A report compared with its profile.
    LimitPassedAfterRounding "limit-passed-after-rounding" Warning ""
        "{quantity} reconstructed from the coded levels differs by {greatest:.2} {unit}; {rows} outside the limit"
        "at most {most} {unit}";
    LimitPassedByHeightSteps "limit-passed-by-height-steps" Info ""
        "{quantity} reconstructed from the coded levels differs by {greatest:.2} {unit}; {rows} outside the limit, since heights are coded in steps of 300 m or 500 m"
        "at most {most} {unit}";

    // A message checked.
    PressureNotFalling "pressure-not-falling" Error "WMO-No. 306, 35.3.1"
        "{here_hpa} hPa is not above {below_hpa} hPa, the level before"
        "";
    SurfaceDiffers "surface-differs" Error "WMO-No. 306, 35.3.1.2"
        "the surface is not the same in Part A and Part B"
        "";
    SurfaceWindDiffers "surface-wind-differs" Error "WMO-No. 306, 35.3.2.1"
        "the surface wind is not the same in Part A and Part B"
        "";
    SharedLevelDiffers "shared-level-differs" Warning "common practice, no source"
        "{pressure_hpa} hPa has {standard_c} °C in Part {standard} and {significant_c} °C in Part {significant}"
        "at most {most_k} K apart";
    StandardSurfaceMissing "standard-surface-missing" Error "WMO-No. 306, 35.2.2.1"
        "the standard surface {pressure_hpa} hPa is missing"
        "";
    TropopauseNotSignificant "tropopause-not-significant" Info "WMO-No. 306, 35.3.1.2"
        "the tropopause at {pressure_hpa} hPa is not among the significant levels"
        "";
    TropopauseDiffers "tropopause-differs" Error "WMO-No. 306, 35.3.1.2"
        "the tropopause at {pressure_hpa} hPa is not the same among the significant levels"
        "";
    MaximumWindWeak "maximum-wind-weak" Error "WMO-No. 306, 35.2.4.1"
        "the wind of {speed} {unit} at {pressure_hpa} hPa is not a maximum wind"
        "more than {least_ms} m/s, above {floor_hpa} hPa";
    MaximumWindNotSignificant "maximum-wind-not-significant" Info "WMO-No. 306, 35.2.4.1"
        "the maximum wind at {pressure_hpa} hPa is not among the significant wind levels"
        "";
    MaximumWindDiffers "maximum-wind-differs" Error "WMO-No. 306, 35.2.4.1"
        "the maximum wind at {pressure_hpa} hPa is not the same among the significant levels"
        "";
    GrossTemperature "gross-temperature" Warning "common practice, no source"
        "the temperature at {pressure_hpa} hPa is {temperature_c} °C"
        "{low_c} to {high_c} °C";
    GrossHeight "gross-height" Warning "common practice, no source"
        "the height of {pressure_hpa} hPa is {height_gpm} gpm"
        "{low_gpm} to {high_gpm} gpm";
    HydrostaticHeight "hydrostatic-height" Warning "common practice, no source"
        "the height of {pressure_hpa} hPa differs by about {off_gpm:+.0} gpm from that computed through the layers below and above it"
        "at most {most_gpm:.0} gpm; check its group";
    HydrostaticLayer "hydrostatic" Warning "common practice, no source"
        "the thickness of the layer from {from_hpa} to {to_hpa} hPa differs by {off_gpm:+.0} gpm from that computed from its temperatures"
        "at most {most_gpm:.0} gpm; check the heights and temperatures of the layer";
    SuperadiabaticLevels "superadiabatic-levels" Warning "common practice, no source"
        "from {low_hpa} hPa at {low_c} °C to {high_hpa} hPa at {high_c} °C temperature falls faster than along the dry adiabat"
        "potential temperature falls by at most {most_k} K, apart from the resolution of the code";
    SignSlip "sign-slip" Error "code table 3931"
        "{temperature_c} °C at {pressure_hpa} hPa differs from its neighbours by {off_k:.0} K; {turned_c} °C would agree"
        "check the tenths figure, which gives the sign";
    WindShear "wind-shear" Warning "common practice, no source"
        "the wind changes by {change_ms:.0} m/s from {low_hpa} to {high_hpa} hPa"
        "at most {most_ms:.0} m/s";

    TemperatureOffLine "temperature-off-line" Warning "WMO-No. 306, 35.3.1.3"
        "the temperature at {p} hPa is {own} in Part {part}; a straight line through the significant levels around it gives {line}"
        "at most {most:.0} K apart; check this group, then the significant levels beside it";
    DepressionOffLine "depression-off-line" Warning "WMO-No. 306, 35.3.1.3"
        "the dew-point depression at {p} hPa is {own} in Part {part}; a straight line through the significant levels around it gives {line}"
        "at most {most:.0} K apart; check this group, then the significant levels beside it";
    WindOffLine "wind-off-line" Warning "WMO-No. 306, 35.3.2.1"
        "the wind at {p} hPa is {own} in Part {part}; a straight line through the significant levels around it gives {line}"
        "at most {most:.0} m/s apart as vectors; check this group, then the significant levels beside it";
    WindOffPilot "wind-off-pilot" Warning "common practice, no source"
        "the wind at {p} hPa is {own} in TEMP Part {part}; PILOT Part {other} of the same station and time gives {line}"
        "at most {most:.0} m/s apart as vectors; check this group, then unit, station and time of both";
    WindOutlier "wind-outlier" Warning "common practice, no source"
        "the wind at {level} departs by {off:.1} m/s from the straight line between the levels next to it, {depth_gpm:.0} gpm apart"
        "at most {most:.1} m/s; check this group";
    HumidityOutlier "humidity-outlier" Warning "common practice, no source"
        "the relative humidity at {p} hPa is {off:.0} % higher or lower than at both levels next to it, {depth_gpm:.0} gpm apart"
        "at most {most:.0} %; check DD of this group";
    WindAboveTop "wind-above-top" Error "WMO-No. 306, 35.2.4"
        "66 gives {top_hpa} hPa as the top of the wind sounding, and wind is reported up to {above_hpa} hPa"
        "77 if it is a maximum wind below the top";
    MaximumWindLeftOut "maximum-wind-left-out" Warning "WMO-No. 306, 35.2.4.1"
        "the wind of {speed:.0} {unit} at {pressure_hpa} hPa is a maximum, and Part {part} reports none"
        "a maximum of more than {least_ms} m/s above 500 hPa is reported under 77";
    SondeDiffers "sonde-differs" Warning "WMO-No. 306, FM 35 section 7"
        "section 7 is {own} in Part {part} and {usual} in Part {other}"
        "the same in all parts";
    ReleaseOffHour "release-off-hour" Warning "WMO-No. 306, FM 35 section 7"
        "the release at {hour:02}{minute:02} UTC does not belong to a sounding of {gg:02} UTC"
        "{before} min before to {after} min after the hour GG; check YYGG and 8GGgg";
    TemperatureBelowGround "temperature-below-ground" Warning "WMO-No. 306, 35.2.2"
        "{pressure_hpa} hPa has a temperature of {temperature_c} °C and is below the ground"
        "solidi below the surface, which is at {ground_hpa} hPa; check both pressures";
    HeightBelowGround "height-below-ground" Warning "our method"
        "the thickness of the layer from {low_hpa} hPa, below the ground, to {high_hpa} hPa differs by {off_gpm:+.0} gpm from that of air of the surface temperature"
        "at most {most_gpm:.0} gpm; check the heights and the surface pressure";
    EqualPressures "equal-pressures" Info "WMO-No. 306, 35.3.1"
        "two levels of the section have {pressure_hpa} hPa"
        "";
    OneStepApart "one-step-apart" Info ""
        "{what} at {pressure_hpa} hPa differs by one step of the code between Part {part} and Part {other}"
        "";

    // A stream of messages checked.
    PartOrphaned "part-orphaned" Warning ""
        "Part {part} of {who} stands alone, and agrees with {other_part} of {other}: {slips} differs"
        "check the identification of both; they are one report if it is corrected";
    HeadingTime "heading-time" Warning "WMO-No. 386 Part II, from memory"
        "the heading {heading} gives another time than day {day} and hour {hour} of the message"
        "at most {most_h} h apart";
    HeadingUnusual "heading-unusual" Info ""
        "headings of this station usually have A1A2 {usual}, this one is {heading}"
        "";

    // The sheet compared with station metadata.
    StationNotListed "station-not-listed" Warning ""
        "{station} is not in the table of {count}"
        "check the identifiers in the sheet, or use a newer table";
    StationIdentifiersDiffer "station-identifiers-differ" Error ""
        "the WIGOS identifier is on line {wigos_line} and the WMO number on line {number_line}: they are two stations"
        "correct wigos_id, or wmo_block and wmo_number";
    StationNumberDiffers "station-number-differs" Error ""
        "the table has WMO number {block:02}{number:03} for this WIGOS identifier"
        "correct wmo_block and wmo_number of the sheet";
    StationDiffers "station-differs" Warning ""
        "{key} is {sheet}{unit} in the sheet and {table}{unit} in the record of the station"
        "within {within}{unit}";
    StationLacks "station-lacks" Info ""
        "{key} is missing from the sheet; the record of the station has {table}{unit}"
        "";
    StationIdentifierDiffers "station-identifier-differs" Error "WMO-No. 1192"
        "the record is one of {record}, and the sheet is one of {sheet}"
        "give the record of this station, or correct wigos_id, wmo_block and wmo_number of the sheet";
    StationRegionDiffers "station-region-differs" Warning "WMO-No. 1192"
        "the record of the station is one of Region {record}, and the sheet follows the practice of Region {sheet}"
        "correct coding.region, or the record";
    StationNameDiffers "station-name-differs" Info "WMO-No. 1192"
        "the station is called {sheet} in the sheet and {record} in its record"
        "";
    StationRecord "station-record" Info "WMO-No. 1192"
        "the record of the station was compared: territory {territory}, {observations} of the upper air, equipment {equipment}"
        "compare the equipment with [equipment] of the sheet: a record names models, a sheet code figures";

    // Text code.
    HeadingOfTemp "heading-of-temp" Info "WMO-No. 386 Att. II-5, table C3"
        "descents have no heading of their own; that of a complete TEMP is used"
        "IUS or IUX by national agreement";
    AreaAssumed "area-assumed" Info ""
        "A2 of the heading is {letter}, by the quarter of the hemisphere"
        "stations in the tropical belt may have E to H: set bufr_area under [bulletin]";
    IiUnusual "ii-unusual" Info "WMO-No. 386 Att. II-5, table C3"
        "ii is {ii:02}; customary for this kind of station are {from:02} to {to:02}"
        "";
    LevelBelowFirstStep "level-below-first-step" Warning "WMO-No. 306, 32.3.1.4"
        "the wind level at {height_gpm:.0} gpm is left out: above the surface (0) coded heights begin at {step_m} m"
        "winds by pressure (21212) have such levels";
    NoTextFigure "no-text-figure" Warning "code table 3849; Common Code Table C-2"
        "the {quantity} {figure} has no figure in the text code; coded as {solidi}"
        "radiation corrections 0 to 7 have one, and radiosonde type 90 is \"not specified\"; BUFR and JSON report what the sheet gives";
    HeightDoesNotFit "height-does-not-fit" Warning ""
        "{problem}; coded as ///"
        "check the heights of the profile";
    ValueDoesNotFit "value-does-not-fit" Warning ""
        "{problem}; coded as {coded}"
        "BUFR and JSON hold the value";
    LevelDoesNotFit "level-does-not-fit" Warning ""
        "the text has no figure for the place of {levels}, the first at {first} ({roles}): left out"
        "BUFR and JSON hold such levels";
    NotInForm "not-in-form" Info ""
        "{what}: the {form} on the {side} cannot give this"
        "this is no difference of the flights";
    LevelAt999 "level-at-99.9" Warning "WMO-No. 306, 35.2.3.2"
        "a tropopause or maximum wind at 99.9 hPa would read as \"none\"; Parts C and D give it at 99.8 hPa"
        "";
    StabilityDoesNotFit "stability-does-not-fit" Warning ""
        "the stability index {index_k:.1} K does not fit two figures and is left out"
        "";
    DoubtfulLayer "doubtful-layer" Info "code table 0421"
        "{element} doubtful from {from_hpa} to {to_hpa} hPa: the values are coded, and section 9 reports the layer"
        "";
    DoubtfulNotCoded "doubtful-not-coded" Warning ""
        "{element} doubtful from {from_hpa} to {to_hpa} hPa: no group of this message reports it, so the values are coded as good"
        "withhold the element in the layer if it must not be used";
    NoTextCode "no-text-code" Warning ""
        "no text code: {problem}"
        "BUFR and JSON have no such limit";
    GroupsDisagree "groups-disagree" Warning ""
        "the group in the document is {given}, the values give {own}"
        "the values are used";

    // Traffic.
    HeadingBbb "heading-bbb" Info ""
        "`{word}` in the heading is not a BBB group"
        "RRA to RRX, CCA to CCX, AAA to AAX";
    PartTooLong "part-too-long" Error ""
        "the part has more than {most} words; the rest is not read"
        "check that the part ends with =";
    LettersMissing "letters-missing" Info ""
        "a report without letters is read as {letters}"
        "";
    BulletinTooLong "bulletin-too-long" Warning "WMO-No. 386 Part II, from memory"
        "the bulletin {heading} has {length} octets, at most {most} are transmitted"
        "ask the centre that receives it, or send fewer levels";
    TooManyMessages "too-many-messages" Warning "WMO-No. 386 Att. II-15, from memory"
        "the file has {count} messages, at most {most} are allowed in one"
        "write several files";
    FileOfMessages "file-of-messages" Warning "WMO-No. 386 Att. II-15"
        "{problem}"
        "ask the sender for the file, or correct its lengths";
    BulletinNil "bulletin-nil" Info ""
        "the bulletin has no reports"
        "";
    ReportLine "report-line" Info ""
        "`{word}` after the heading names the product and is not used"
        "";
    PrintedTime "printed-time" Info ""
        "`{word}` belongs to a printed date and time, and is not used"
        "";
    StationAhead "station-ahead" Warning ""
        "`{word}` stands before a report of {station}; the report is read as that of {station}"
        "the station number before the letters repeats that of the report";
    MarkInPart "mark-in-part" Info ""
        "`{word}` after the letters is read as a mark of correction"
        "CCA to CCX belong to the heading";
    NilTime "nil-time" Info ""
        "NIL without YYGG is read as of day {day}, {hour} UTC, by its heading"
        "";
    DayNotInMonth "day-not-in-month" Warning ""
        "day {day} is not in {month}; the report keeps day and hour without year and month"
        "check day and month";
    NilReplaced "nil-replaced" Info ""
        "the part replaces an earlier NIL"
        "";
    NilNotUsed "nil-not-used" Info ""
        "NIL is not used, since the part was received before"
        "";
    SquareBeside "square-beside" Warning "WMO-No. 306, code table 2590"
        "`{group}` names the degree beside the position; the position is read as it stands"
        "MMMULaULo follows from the tenths of latitude and longitude";
    TropopauseAbsent "tropopause-absent" Warning "WMO-No. 306, 35.2.3"
        "section 3 is missing; nothing is known of the tropopause"
        "88PPP for each tropopause, or 88999";
    MaximumAbsent "maximum-absent" Warning "WMO-No. 306, 35.2.4"
        "the section of maximum winds is missing; nothing is known of them"
        "77PPP or 66PPP for each maximum wind, or 77999";
    WindsEmpty "winds-empty" Warning "WMO-No. 306, 35.3.2"
        "21212 has no level"
        "";
    SondeShort "sonde-short" Warning "WMO-No. 306, FM 35 section 7"
        "section 7 lacks srrarasasa or 8GGgg"
        "";
    DepressionTenths "depression-tenths" Warning "WMO-No. 306, code table 0777"
        "`{group}`: DD 51 to 55 are not used; it is read as a depression of 5.1 to 5.5 K"
        "50 up to 5.4 K, 56 from 5.5 K";
    SurfaceSolidus "surface-solidus" Info "common practice, no source"
        "the solidus in `{group}` is read as the surface, whose wind comes first"
        "900u2u3 names the surface";
    Units500From30Km "units-500-from-30-km" Info "common practice, no source"
        "`{group}` and the next heights are read in units of 500 m, after units of 300 m below 30 km"
        "";
    HeightsAfter21212 "heights-after-21212" Info "common practice, no source"
        "the groups after 21212 are read as heights in tens of metres"
        "";
    CallSignAbsent "call-sign-absent" Warning "WMO-No. 306, FM 33, FM 36"
        "there is no call sign before `{group}`; the report is named by its position"
        "D....D is the call sign, or SHIP";
    FirstLevelAbsent "first-level-absent" Warning "WMO-No. 306, 35.3.2"
        "the levels begin with 11 instead of 00; nothing is known of the surface"
        "00 names the surface";
    SectionAgain "section-again" Info "common practice, no source"
        "section {section} stands once more after section 8, with the same groups"
        "";
    StrayWord "stray-word" Warning ""
        "`{word}` belongs to no report"
        "a part begins with its letters, such as TTAA";
    EndMissing "end-missing" Info "WMO-No. 386 Part II, from memory"
        "the part does not end with ="
        "";
    SmallLetters "small-letters" Info ""
        "small letters are read as capitals"
        "";
    IdWrong "id-wrong" Error "WMO-No. 306, code table 1734"
        "`{word}`: Id does not give the last standard surface with wind, {fits} does; the part is read with {fits}"
        "";
    Malformed "malformed" Error ""
        "{read}: {problem}"
        "the part is left out: {raw}";
    GroupDamaged "group-damaged" Error ""
        "{read}: {problem}; its values are missing"
        "the other groups are read";
    LevelDamaged "level-damaged" Error ""
        "{read}: {problem}; a group of the level is missing or one too many, so its values are missing"
        "the other levels are read";
    LevelLost "level-lost" Error ""
        "{read}: {problem}; {groups} left out, and what they report"
        "the other levels are read";
    LevelAbsent "level-absent" Error ""
        "{read}: {problem}; the number of a level is passed over"
        "the other levels are read";
    GroupExtra "group-extra" Error ""
        "{read}: {problem}; the group is left out"
        "the other groups are read";
    GroupsRunTogether "groups-run-together" Warning ""
        "{read} is read as `{first} {second}`, the only reading that fits"
        "one blank between groups";
    GroupSplit "group-split" Warning ""
        "{read} and the next word are read as `{group}`, the only reading that fits"
        "groups have five figures";
    IndicatorDamaged "indicator-damaged" Warning ""
        "{read} is read as the indicator {name}, the only reading that fits"
        "21212 before the winds, 31313 before section 7";
    PartCut "part-cut" Error ""
        "{read}: {problem}; what comes before is read"
        "groups that are left out: {left}";
    PartTwice "part-twice" Info ""
        "the same part was received twice"
        "";
    PartCorrected "part-corrected" Info ""
        "the part replaces an earlier one"
        "";
    PartDiffers "part-differs" Warning ""
        "the part differs from an earlier one of the same station and time; it is read as a report of its own"
        "a corrected part has CCA to CCX in its heading";

    // BUFR.
    LevelsUnited "levels-united" Info ""
        "two levels have the same coded coordinate and are coded as one level: {first} and {second}"
        "";
    LevelsThinned "levels-thinned" Info ""
        "{levels} left out, with the same coded {coordinate} as another"
        "";
    MessagesJoined "messages-joined" Info ""
        "{messages} of one ascent are joined"
        "";
    RawNotUsed "raw-not-used" Info ""
        "{messages} of raw data are not used, since there are processed data"
        "";
    AlwaysReported "always-reported" Warning "WMO-No. 306 Vol. I.2, B/C25"
        "{element}, is mandatory but missing from the sheet"
        "give it in the sheet";
    PositionMissing "position-missing" Warning "WMO-No. 306 Vol. I.2, B/C25"
        "the launch position is missing from the sheet; displacements of levels are not coded"
        "give latitude_deg and longitude_deg under [station]";
    HeightBelowRange "height-below-range" Warning ""
        "the geopotential height {height_gpm:.0} gpm below the ground is coded as missing"
        "-1000 gpm or more";
    ValuesNotUsed "values-not-used" Info ""
        "values that have no place in a report: {elements}"
        "a dump of the message lists them";
    SurfacesNamedByHeight "surfaces-named-by-height" Info ""
        "{surfaces} given by height are identified by it"
        "";
    SurfacesNotNamed "surfaces-not-named" Warning ""
        "no standard surface agrees with the levels flagged as standard at {heights} gpm; they stay without a pressure and have no group in Parts A and C"
        "a height within {off_gpm} gpm and {off_pct} % of that in the standard atmosphere";
    NewerTables "newer-tables" Info ""
        "the message uses master table version {theirs}; version {ours} is built in"
        "elements keep their meaning from version to version";
    DescriptorsUnread "descriptors-unread" Info ""
        "the data after the levels were not read: {problem}"
        "";
    BitsLeftOver "bits-left-over" Warning ""
        "section 4 has {bits} bits after the last value"
        "fewer than 32; check the message with its sender";
    LaunchTimeMissing "launch-time-missing" Warning "WMO-No. 306 Vol. I.2, B/C25"
        "the launch time is missing or not a time; the standard time is used instead"
        "";
    StandardTimeMissing "standard-time-missing" Warning "WMO-No. 306 Vol. I.2, B/C25"
        "section 1 has no standard time; the launch time is used instead"
        "";
    LevelsOutOfOrder "levels-out-of-order" Warning "WMO-No. 306 Vol. I.2, B/C25"
        "levels are not in order of falling pressure (or rising height); they are sorted"
        "";
    StandardOffSurface "standard-off-surface" Info ""
        "the level flagged as standard at {flagged_hpa} hPa is read as {surface_hpa} hPa"
        "";
    WindVariable "wind-variable" Warning "WMO-No. 306 Vol. I.2, Table B, class 11"
        "{levels} with a light and variable wind, which is read as from the north"
        "";
    HeightInMetres "height-in-metres" Info ""
        "{levels} with a height in metres, converted to geopotential metres"
        "";
    BufrUnreadable "bufr-unreadable" Error ""
        "{problem}"
        "";
    BufrNoSounding "bufr-no-sounding" Error ""
        "{problem}"
        "a dump lists what the message contains";

    // Files and sheets.
    SheetFault "sheet-fault" Error ""
        "{problem}"
        "the guide describes each key of the sheet";
    NotForASheet "not-for-a-sheet" Info ""
        "{key} of the file is outside what a sheet allows and is left out"
        "";
    UnknownColumn "unknown-column" Info ""
        "column `{name}` is not used"
        "give its name under [columns] if it is needed";
    MisspeltColumn "misspelt-column" Info ""
        "column `{name}` is not used"
        "did you mean {nearest}?";
    MoreUnknownColumns "more-unknown-columns" Info ""
        "{count} more columns are not used"
        "";
    UnknownVariable "unknown-variable" Info ""
        "not used, since their standard name is missing or not one that is read: {names}"
        "give them under [columns] if they are needed";
    LikelyColumn "likely-column" Info ""
        "not used, but {columns}"
        "give them under [columns] if they are these quantities";
    UnitsRow "units-row" Info ""
        "the row below the header gives units: {units}"
        "";
    UnitsDisagree "units-disagree" Warning ""
        "the row of units gives `{row}` for {column}, the sheet {sheet}"
        "the sheet is used";
    UnitAgainstName "unit-against-name" Warning ""
        "the row of units gives {row} for a column named {column}"
        "the row of units is used; give unit under [columns] to override it";
    EllipsoidHeightNotUsed "ellipsoid-height-not-used" Info ""
        "variable `{name}`, a height above the ellipsoid, is not used, since there is geopotential height"
        "";
    OutsideValidRange "outside-valid-range" Info ""
        "variable `{name}`: {values} outside its {range}; they are used"
        "";
    CoarseTime "coarse-time" Warning ""
        "variable `{name}` resolves times to {step_s:.0} s only: its type has too few digits for its unit"
        "";
    StandardTimeAssumed "standard-time-assumed" Info ""
        "standard time {standard}Z is assumed from release {release}Z"
        "write standard_time under [flight] to choose another";
    ReleaseOffSchedule "release-off-schedule" Warning ""
        "release {release}Z is off the standard time {standard}Z"
        "45 min before to 15 min after";
    FigureWithoutMeaning "figure-without-meaning" Warning "WMO-No. 306 Vol. I.2"
        "{key} = {figure} has no meaning in BUFR {kind} table {table} of version 45"
        "";
    SurfaceObservationOld "surface-observation-old" Warning "common practice, no source"
        "the surface observation is {minutes} min from the release"
        "at most {most} min before or after";
    BoundsSwapped "bounds-swapped" Info ""
        "the layer is given from {from_hpa} to {to_hpa} hPa; its ends are swapped"
        "from_hpa is the lower end, the greater pressure";
    IgraReleaseMinute "igra-release-minute" Warning ""
        "the minute of the release is not known; {hour:02}:00 is used"
        "give release under [flight] if it is known";
    IgraRemoved "igra-removed" Info ""
        "{values} removed by quality assurance are treated as missing: {fields}"
        "";
    IgraElevation "igra-elevation" Info ""
        "the file gives no elevation; {height_m} m is the height of its surface level"
        "give elevation_m under [station] if it is another";
    IgraNoRelease "igra-no-release" Warning ""
        "the file does not give the time of release"
        "give release under [flight]";
    RowsOfAnotherLength "rows-of-another-length" Warning ""
        "{odd} of {rows} do not have {cells} cells and are left out here; the first is on line {line}"
        "coding refuses them; set skip_lines, delimiter or widths under [text]";
    LinesAboveTheHeader "lines-above-the-header" Info ""
        "{lines} above the header are not rows; coding needs skip_lines under [text] for them"
        "give skip_lines under [text]";
    NoHeader "no-header" Info ""
        "the first row has numbers only: the file is read without a header row"
        "";
    EncodingAssumed "encoding-assumed" Info ""
        "the text is not UTF-8 and is read as Windows-1252"
        "give encoding under [text] if names of columns are not readable";
    ClockApart "clock-apart" Warning ""
        "the clock times begin at {begins}, more than 6 h from the release at {release}; times count from the first row"
        "check flight.release, and that the clock times are UTC";

    // Issue.
    TextUnchanged "text-unchanged" Info ""
        "no part of the text has changed; {file} is not written"
        "";
    NoReview "no-review" Info ""
        "there is no flight to show; {file} is not written"
        "";
    SecondReleaseAdvised "second-release-advised" Warning ""
        "the ascent ended at {top_hpa} hPa; a second release is advised"
        "the sheet asks for {wanted_hpa} hPa or higher; release_number counts releases";
    FlightNotReported "flight-not-reported" Info ""
        "another flight for this standard time is archived and not reported: {flight}"
        "";
    EarlyMessageStands "early-message-stands" Info ""
        "{parts} would differ from the early message by at most one step of the code; no correction is needed"
        "";
    EarlyMessageDiffers "early-message-differs" Info ""
        "an early message of this ascent would differ in {parts}"
        "if one was sent, send these parts again as a correction (CCA)";
}

pub(crate) use finding;

impl Code {
    /// The stable name, lower case with hyphens.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        self.entry().code
    }

    /// How severe it is.
    #[must_use]
    pub const fn severity(self) -> Severity {
        match self.entry().class {
            Class::Error => Severity::Error,
            Class::Warning => Severity::Warning,
            Class::Info | Class::Detail => Severity::Info,
        }
    }

    /// Whether every ordinary flight has it: a value computed from others, a rate that was
    /// measured.
    #[must_use]
    pub const fn is_detail(self) -> bool {
        matches!(self.entry().class, Class::Detail)
    }

    /// The rule ("WMO-No. 306, 35.3.1"); `None` where no rule is cited, or one that depends
    /// on the element.
    #[must_use]
    pub const fn clause(self) -> Option<&'static str> {
        given(self.entry().clause)
    }

    /// What is reported and what is allowed, with the names of its values in braces.
    pub(super) const fn texts(self) -> (&'static str, &'static str) {
        (self.entry().what, self.entry().allowed)
    }

    /// What is reported, with the names of its values in angle brackets.
    #[must_use]
    pub fn what(self) -> String {
        named(self.entry().what)
    }

    /// What is allowed, or what to do next, with the names of its values in angle brackets.
    #[must_use]
    pub fn allowed(self) -> Option<String> {
        given(self.entry().allowed).map(named)
    }
}

const fn given(text: &'static str) -> Option<&'static str> {
    if text.is_empty() { None } else { Some(text) }
}

/// `{rate_ms:.1}` as `<rate_ms>`.
fn named(template: &str) -> String {
    let mut out = String::with_capacity(template.len());
    let mut precision = false;
    for c in template.chars() {
        match c {
            '{' => out.push('<'),
            '}' => {
                precision = false;
                out.push('>');
            }
            ':' if out.rfind('<') > out.rfind('>') => precision = true,
            _ if precision => {}
            c => out.push(c),
        }
    }
    out
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// A code that is not in the catalogue.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not the code of a finding")]
pub struct UnknownCode(pub String);

impl FromStr for Code {
    type Err = UnknownCode;

    fn from_str(text: &str) -> Result<Self, UnknownCode> {
        static CODES: LazyLock<HashMap<&str, Code>> = LazyLock::new(|| {
            Code::ALL
                .iter()
                .map(|code| (code.as_str(), *code))
                .collect()
        });
        let found = CODES.get(text).copied();
        found.ok_or_else(|| UnknownCode(text.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn codes_are_unique_and_lower_case_with_hyphens() {
        let codes: BTreeSet<&str> = Code::ALL.iter().map(|c| c.as_str()).collect();
        assert_eq!(codes.len(), Code::ALL.len());
        for code in codes {
            let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || "-.".contains(c);
            assert!(code.chars().all(plain), "{code}");
            assert_eq!(code.parse::<Code>().map(Code::as_str), Ok(code));
        }
        assert_eq!("x".parse::<Code>(), Err(UnknownCode("x".to_owned())));
    }

    #[test]
    fn a_warning_says_what_is_allowed_or_cites_a_rule() {
        for &code in Code::ALL {
            let advised = code.allowed().is_some() || code.clause().is_some();
            let exempt = code.severity() == Severity::Info
                || [
                    // The order of the operator is the reason, and in the text.
                    Code::LevelRemoved,
                    Code::LevelWithheld,
                    Code::StabilityDoesNotFit,
                    Code::CoarseTime,
                    // The problem is the text of an error, with its own advice.
                    Code::BufrUnreadable,
                ]
                .contains(&code);
            assert!(advised || exempt, "{code}");
        }
    }

    #[test]
    fn texts_are_at_most_two_sentences_and_name_no_option() {
        for &code in Code::ALL {
            for text in [Some(code.what()), code.allowed()].into_iter().flatten() {
                assert!(
                    text.matches(". ").count() <= 1 && !text.ends_with('.'),
                    "{code}: {text}"
                );
                assert!(
                    !text.contains("--") && !text.contains("fivefig"),
                    "{code}: {text}"
                );
            }
        }
    }

    #[test]
    fn a_template_names_its_values() {
        assert_eq!(named("{rate:.1} m/s: {a}, b: c"), "<rate> m/s: <a>, b: c");
    }
}
