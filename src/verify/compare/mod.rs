//! Report against report: what one says and the other does not.
//!
//! Levels are matched role by role, because a text gives them section by
//! section: by the pressure as it is coded, then by the nearest within one step
//! of the code. Where a side was read from a text, only what the text carries in
//! that section is held together.

mod difference;
mod form;
mod groups;
mod pairs;
mod tolerance;

use jiff::civil::DateTime;

use crate::forms::text::{time, time_by};
use crate::model::{
    Axis, Element, Finding, Form, Hour, Level, MissingLayer, Noted, Part, PilotLevels, Position,
    Report, Resolution, Roles, Start, StationKind, When,
};
use crate::tables::figure::{ElevationFigure, PositionFigure, Tenths, is_upper};

pub use difference::{Difference, Presence, Quantity, Side};
pub use tolerance::Tolerance;

use form::Given;
use groups::{Group, Pairing};
use pairs::Open;

/// What differs between two reports: first who and when, then the parts, then
/// the levels from the ground up, then layers without data and the order of the
/// maximum winds.
///
/// A part that only one side has (or has as more than NIL) is one difference,
/// and its levels are not listed. Reports of different code forms are not
/// compared further than who and when. Levels without a role, the rows of a whole
/// profile, are compared where both sides have as many levels. Clouds, instruments, and the groups of
/// sections 7 to 10 are not compared. What the form of one side cannot give is no
/// difference ([`compare_forms`] names it).
///
/// ```
/// use fivefig::forms::text::parse;
/// use fivefig::verify::compare::{Tolerance, compare};
///
/// // Invented.
/// let left = parse("TTAA 15110 99011 99004 04430 23006 00119 04226 22507 88999 77999=");
/// let right = parse("TTAA 15110 99011 99004 04430 23006 00119 04626 22507 88999 77999=");
/// let (left, right) = (left?.report(), right?.report());
/// let found = compare(&left, &right, &Tolerance::coarser(&left, &right));
/// let lines: Vec<String> = found.iter().map(ToString::to_string).collect();
/// assert_eq!(
///     lines,
///     ["temperature at 1000 hPa (standard): 4.2 °C on the left, 4.6 °C on the right"]
/// );
/// # Ok::<(), fivefig::forms::text::ParseError>(())
/// ```
#[must_use]
pub fn compare(left: &Report, right: &Report, tolerance: &Tolerance) -> Vec<Difference> {
    compare_forms(left, right, tolerance).value
}

/// What differs, as [`compare`] gives it, and as findings what the form of one side
/// cannot give: a maximum wind without pressure in TEMP, a height of -898 gpm or a
/// temperature below -99.95 °C in a text, levels of PILOT by height where the other side
/// has them by pressure.
pub fn compare_forms(
    left: &Report,
    right: &Report,
    tolerance: &Tolerance,
) -> Noted<Vec<Difference>> {
    let mut out = identity(left, right);
    if left.form != right.form {
        return (out, Vec::new()).into();
    }
    let mut findings = Vec::new();
    let both = Both {
        left,
        right,
        tolerance,
        text: left.resolution == Resolution::Text || right.resolution == Resolution::Text,
    };
    out.extend(both.parts());
    let manners = both.manners();
    let mut levels = Vec::new();
    let mut order = Vec::new();
    for group in Group::of(left.form, both.text) {
        // Texts by height and by pressure have no level in common.
        if group == Group::Wind && both.texts() && manners.is_some() {
            continue;
        }
        both.levels(group, &mut levels, &mut order, &mut findings);
    }
    out.extend(manners);
    if whole(left) && whole(right) && !both.rows() {
        let count = |report: &Report| report.levels.len().to_string();
        out.extend(named("number of levels", &count(left), &count(right)));
    }
    difference::arrange(&mut levels);
    let [l, r] = both.sides();
    levels.retain(|difference| {
        let side = [&l, &r].into_iter().find(|s| s.lacks_figure(difference));
        findings.extend(side.map(|side| side.value(difference)));
        side.is_none()
    });
    out.extend(levels);
    out.extend(both.layers());
    out.extend(order);
    (out, findings).into()
}

/// A difference of what names the report, if there is one.
fn named(what: &'static str, left: &str, right: &str) -> Option<Difference> {
    (left != right).then(|| Difference::Identity {
        what: what.into(),
        left: left.to_owned(),
        right: right.to_owned(),
    })
}

/// What names a report, in words.
fn names(report: &Report) -> [(&'static str, String); 4] {
    let station = &report.context.station;
    let form = match report.form {
        Form::Temp => "TEMP",
        Form::Pilot => "PILOT",
        Form::Descent => "descent",
    };
    let kind = match station.kind {
        StationKind::Land => "land",
        StationKind::Ship => "ship",
        StationKind::Mobile => "mobile",
        StationKind::Drop => "drop",
    };
    let number = match (station.wmo_block, station.wmo_number) {
        (None, None) => "none".to_owned(),
        (block, number) => {
            let figures = |value: Option<u16>, width: usize| {
                value.map_or_else(|| "/".repeat(width), |v| format!("{v:0width$}"))
            };
            figures(block.map(u16::from), 2) + &figures(number, 3)
        }
    };
    let sign = station.call_sign.as_deref().unwrap_or("none");
    [
        ("code form", form.to_owned()),
        ("kind of station", kind.to_owned()),
        ("station", number),
        ("call sign", sign.to_owned()),
    ]
}

/// Differences of who reports, from where and when.
fn identity(left: &Report, right: &Report) -> Vec<Difference> {
    let mut out = Vec::new();
    for ((what, l), (_, r)) in names(left).into_iter().zip(names(right)) {
        out.extend(named(what, &l, &r));
    }
    let text = left.resolution == Resolution::Text || right.resolution == Resolution::Text;
    // BUFR 3 09 056 gives the start of a descent alone, neither station nor release.
    let started = (left.form, right.form) == (Form::Descent, Form::Descent)
        && (left.resolution == Resolution::Bufr || right.resolution == Resolution::Bufr);
    if !started {
        out.extend(place(left, right, text));
        out.extend(elevation(left, right, text));
    }
    out.extend(start(left, right));
    if let (When::Full { .. }, When::Full { .. }) = (left.when, right.when) {
        let both = |report: &Report| match report.when {
            When::Full { release, standard } => (format!("{release}Z"), format!("{standard}Z")),
            When::Coded { .. } => <(String, String)>::default(),
        };
        let (l, r) = (both(left), both(right));
        if !started {
            out.extend(named("time of release", &l.0, &r.0));
        }
        out.extend(named("standard time", &l.1, &r.1));
        return out;
    }
    // Practices of the hour differ by a day at most.
    if let (Some((_, l)), Some((_, r))) = (left.when.in_full(), right.when.in_full())
        && (l.date() - r.date()).get_days().abs() > 1
    {
        let (l, r) = (l.date().to_string(), r.date().to_string());
        out.extend(named("date", &l, &r));
    }
    let ((day, hour, clock), (other_day, other_hour, other_clock)) = (time(left), time(right));
    let coded = |day: u8, hour: u8| format!("day {day:02} hour {hour:02}");
    // BUFR gives both times and does not say which of them a text would code.
    let served = |report: &Report, (day, hour): (u8, u8)| {
        let (own_day, own_hour, _) = time_by(report.when, Hour::Synoptic);
        report.resolution == Resolution::Bufr && (own_day, own_hour) == (day, hour)
    };
    if !served(right, (day, hour)) && !served(left, (other_day, other_hour)) {
        out.extend(named(
            "day and hour",
            &coded(day, hour),
            &coded(other_day, other_hour),
        ));
    }
    // Only section 7 has the clock time.
    if let (Some(l), Some(r)) = (clock, other_clock) {
        let shown = |(hour, minute): (u8, u8)| format!("{hour:02}:{minute:02}");
        out.extend(named("time of release", &shown(l), &shown(r)));
    }
    out
}

/// Another start of a descent, where both sides give one: by more than half a step
/// of BUFR 3 09 056 (a second, a hundred-thousandth of a degree, a metre).
fn start(left: &Report, right: &Report) -> Vec<Difference> {
    const HALF_S: f64 = 0.5;
    const HALF_DEG: f64 = 0.5e-5;
    const HALF_M: f64 = 0.5;
    let (Some(l), Some(r)) = (left.start, right.start) else {
        return Vec::new();
    };
    let near = |a: f64, b: f64, half: f64| (a - b).abs() <= half + 1e-6 * half;
    let later = |(a, b): (DateTime, DateTime)| near(a.duration_since(b).as_secs_f64(), 0.0, HALF_S);
    let placed = |(a, b): (Position, Position)| {
        near(a.latitude_deg, b.latitude_deg, HALF_DEG)
            && near(a.longitude_deg, b.longitude_deg, HALF_DEG)
    };
    let time = |s: Start| s.time.map_or("none".to_owned(), |t| format!("{t}Z"));
    let height = |s: Start| s.height_m.map_or("none".to_owned(), |z| format!("{z} m"));
    let place = |s: Start| s.place.map_or("none".to_owned(), shown);
    let differs = |same: bool, what, left: String, right: String| {
        named(what, &left, &right).filter(|_| !same)
    };
    [
        differs(
            l.time.zip(r.time).is_some_and(later),
            "start of the descent",
            time(l),
            time(r),
        ),
        differs(
            l.place.zip(r.place).is_some_and(placed),
            "place of its start",
            place(l),
            place(r),
        ),
        differs(
            l.height_m
                .zip(r.height_m)
                .is_some_and(|(a, b)| near(a, b, HALF_M)),
            "height of its start",
            height(l),
            height(r),
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// A position in words.
fn shown(place: Position) -> String {
    format!(
        "{}° north, {}° east",
        place.latitude_deg, place.longitude_deg
    )
}

/// A position in another place: in tenths of a degree, as the kind of station
/// makes them, when a side is a text, which for a land station has none.
fn place(left: &Report, right: &Report, text: bool) -> Option<Difference> {
    let position = |report: &Report| {
        let station = &report.context.station;
        let (latitude_deg, longitude_deg) = station.latitude_deg.zip(station.longitude_deg)?;
        Some(Position {
            latitude_deg,
            longitude_deg,
        })
    };
    let (l, r) = (position(left), position(right));
    let land = StationKind::Land;
    if text && (left.context.station.kind == land || right.context.station.kind == land) {
        return None;
    }
    let how = if left.context.station.kind == StationKind::Drop {
        Tenths::Nearest
    } else {
        Tenths::Truncated
    };
    // Sides of the equator and of a meridian are those of the tenths.
    let tenths = |place: Option<Position>| {
        let figure = PositionFigure::from_value(place?, how).ok()?.place();
        Some((figure.latitude_deg, figure.longitude_deg))
    };
    let bufr = left.resolution == Resolution::Bufr || right.resolution == Resolution::Bufr;
    // BUFR gives a hundred-thousandth of a degree.
    let hair = if bufr { 0.5e-5 + 1e-9 } else { 1e-6 };
    let near = |a: f64, b: f64| (a - b).abs() <= hair;
    let same = match (l, r) {
        (None, None) => true,
        (Some(a), Some(b)) if text => match (tenths(l), tenths(r)) {
            (Some(a), Some(b)) => a == b,
            _ => a == b,
        },
        (Some(a), Some(b)) => {
            near(a.latitude_deg, b.latitude_deg) && near(a.longitude_deg, b.longitude_deg)
        }
        _ => false,
    };
    let shown = |place: Option<Position>| place.map_or("none".to_owned(), shown);
    (!same).then(|| Difference::Identity {
        what: "position".into(),
        left: shown(l),
        right: shown(r),
    })
}

/// Another elevation of a mobile station: in its figures when a side is a text.
fn elevation(left: &Report, right: &Report, text: bool) -> Option<Difference> {
    let stations = (&left.context.station, &right.context.station);
    let mobile = StationKind::Mobile;
    if stations.0.kind != mobile || stations.1.kind != mobile {
        return None;
    }
    let (Some(l), Some(r)) = (stations.0.elevation_m, stations.1.elevation_m) else {
        return None;
    };
    let quality = stations.0.elevation_quality;
    // BUFR gives tenths of a metre.
    let bufr = left.resolution == Resolution::Bufr || right.resolution == Resolution::Bufr;
    let figure = |metres: f64| ElevationFigure::from_value(metres, quality?).ok();
    let same = match (figure(l), figure(r)) {
        (Some(a), Some(b)) if text => a == b,
        _ if bufr => (l - r).abs() <= 0.05 + 1e-6,
        _ => (l - r).abs() <= 1e-6,
    };
    (!same).then(|| Difference::Identity {
        what: "elevation".into(),
        left: format!("{l} m"),
        right: format!("{r} m"),
    })
}

/// Whether a part has levels, is there as NIL, or is not there.
fn presence(report: &Report, part: Part) -> Presence {
    match report.parts.get(&part) {
        Some(kept) if kept.nil => Presence::Nil,
        Some(_) => Presence::Present,
        None => Presence::Missing,
    }
}

/// How the levels of PILOT Parts B and D are given.
fn manner(report: &Report) -> PilotLevels {
    let unsaid = match report.axis {
        Axis::Pressure => PilotLevels::Pressure,
        Axis::Height => PilotLevels::Height300,
    };
    report.context.coding.pilot_levels.unwrap_or(unsaid)
}

/// Whether a report has the rows of the whole profile.
fn whole(report: &Report) -> bool {
    report.levels.iter().any(|l| l.roles.is_empty())
}

/// Two reports of one code form.
struct Both<'a> {
    left: &'a Report,
    right: &'a Report,
    tolerance: &'a Tolerance,
    /// Whether one of them at least was read from a text.
    text: bool,
}

impl Both<'_> {
    /// Each side by itself.
    fn sides(&self) -> [Given<'_>; 2] {
        let of = |report, side| Given { report, side };
        [of(self.left, Side::Left), of(self.right, Side::Right)]
    }

    /// Whether both were read from a text.
    fn texts(&self) -> bool {
        self.left.resolution == Resolution::Text && self.right.resolution == Resolution::Text
    }

    /// Whether rows of a whole profile are compared: both sides have all of them.
    fn rows(&self) -> bool {
        let all = whole(self.left) && whole(self.right);
        all && self.left.levels.len() == self.right.levels.len()
    }

    /// Whether one of them at least was read from BUFR.
    fn bufr(&self) -> bool {
        self.left.resolution == Resolution::Bufr || self.right.resolution == Resolution::Bufr
    }

    /// Whether both sides have the levels of a part.
    fn common(&self, part: Part) -> bool {
        let is = |report| presence(report, part) == Presence::Present;
        is(self.left) && is(self.right)
    }

    fn parts(&self) -> impl Iterator<Item = Difference> {
        Part::ALL.into_iter().filter_map(|part| {
            let (left, right) = (presence(self.left, part), presence(self.right, part));
            // BUFR has no parts, and so none that says only that it has nothing.
            let nothing = |p| matches!(p, Presence::Nil | Presence::Missing);
            if self.bufr() && nothing(left) && nothing(right) {
                return None;
            }
            (left != right).then_some(Difference::Part { part, left, right })
        })
    }

    /// A difference in how the levels of PILOT Parts B and D are given.
    fn manners(&self) -> Option<Difference> {
        let levels = self.common(Part::B) || self.common(Part::D);
        // BUFR gives its levels in one coordinate, and does not say what a text would have.
        if self.left.form != Form::Pilot || !levels || self.bufr() {
            return None;
        }
        let shown = |report| match manner(report) {
            PilotLevels::Height300 => "300 m",
            PilotLevels::Height500 => "500 m",
            PilotLevels::Pressure => "hPa",
        };
        named("manner of levels", shown(self.left), shown(self.right))
    }

    /// The step in which heights of PILOT levels are matched, m.
    fn step_m(&self) -> u16 {
        let of = |report: &Report| match manner(report) {
            PilotLevels::Height500 => 500,
            _ => 300,
        };
        let text = |report: &Report| report.resolution == Resolution::Text;
        match (text(self.left), text(self.right)) {
            (true, false) => of(self.left),
            (false, true) => of(self.right),
            _ => of(self.left).max(of(self.right)),
        }
    }

    /// Compares the levels of a group.
    fn levels(
        &self,
        group: Group,
        out: &mut Vec<Difference>,
        order: &mut Vec<Difference>,
        findings: &mut Vec<Finding>,
    ) {
        let held = Pairing {
            group,
            text: self.text,
            bufr: self.bufr(),
            bufr_by_height: [self.left, self.right]
                .iter()
                .any(|r| r.resolution == Resolution::Bufr && r.axis == Axis::Height),
            step_m: self.step_m(),
            units: [self.left, self.right].map(|r| r.context.coding.wind_unit),
            texts: [self.left, self.right].map(|r| r.resolution == Resolution::Text),
            tolerance: self.tolerance,
        };
        let rows = self.rows();
        let of = |report| {
            let mut entries = groups::entries(report, group);
            entries.retain(|e| e.part.is_none_or(|part| self.common(part)));
            entries.retain(|e| rows || !e.is_plain());
            entries
        };
        let (left, right) = (of(self.left), of(self.right));
        let mut open = Open::new(left.iter().collect(), right.iter().collect());
        held.pair(&mut open);
        // A row that has a role on the other side is no row that is missing there.
        let right = |e: &&groups::Entry<'_>| !e.is_plain() || !held.stands(self.right, e);
        open.left.retain(right);
        let left = |e: &&groups::Entry<'_>| !e.is_plain() || !held.stands(self.left, e);
        open.right.retain(left);
        for &(l, r) in &open.pairs {
            held.values(l, r, out);
        }
        let [left, right] = self.sides();
        for (own, lacking) in [(right, open.left), (left, open.right)] {
            let (lacking, not_given): (Vec<_>, Vec<_>) =
                lacking.into_iter().partition(|e| own.can_place(e, group));
            out.extend(lacking.iter().map(|entry| entry.missing(own.side, group)));
            findings.extend(own.levels(not_given, group));
        }
        if group == Group::Maximum {
            order.extend(held.order(&open.pairs));
        }
    }

    /// Layers without data.
    fn layers(&self) -> Vec<Difference> {
        let (left, right) = (self.layers_of(self.left), self.layers_of(self.right));
        let mut out = Vec::new();
        for element in [Element::Temperature, Element::Humidity, Element::Wind] {
            let of = |layers: &[MissingLayer]| -> Vec<MissingLayer> {
                let mut own: Vec<_> = layers.to_vec();
                own.retain(|layer| layer.element == element);
                own
            };
            let (left, right) = (of(&left), of(&right));
            let mut open = Open::new(left.iter().collect(), right.iter().collect());
            let end = |layer: &&MissingLayer| Some(layer.to_hpa.map_or(0.0, groups::coded));
            open.match_by(end, |l, r, apart| {
                apart <= groups::pressure_step(end(l), end(r))
            });
            for &(l, r) in &open.pairs {
                if !self.same_layer(*l, *r) {
                    out.push(Difference::Layer {
                        left: Some(*l),
                        right: Some(*r),
                    });
                }
            }
            out.extend(open.left.iter().map(|&&l| Difference::Layer {
                left: Some(l),
                right: None,
            }));
            out.extend(open.right.iter().map(|&&r| Difference::Layer {
                left: None,
                right: Some(r),
            }));
        }
        out
    }

    /// Whether the ends of two layers agree. A text that begins with Part D does
    /// not say where a layer begins.
    fn same_layer(&self, l: MissingLayer, r: MissingLayer) -> bool {
        let near = |l: f64, r: f64| {
            let allowed = self.tolerance.pressure_at(l.max(r));
            (l - r).abs() <= allowed
        };
        let from = match (l.from_hpa, r.from_hpa) {
            (Some(l), Some(r)) => near(l, r),
            (l, r) => self.text || l == r,
        };
        from && match (l.to_hpa, r.to_hpa) {
            (Some(l), Some(r)) => near(l, r),
            (l, r) => l == r,
        }
    }

    /// The layers of a report that can be compared: where a side is a text, only
    /// those that end at a level of a common part with the element again; levels
    /// of PILOT by height have no mark for layers.
    fn layers_of(&self, report: &Report) -> Vec<MissingLayer> {
        let by_height = |report: &Report| {
            report.form == Form::Pilot
                && report.resolution == Resolution::Text
                && manner(report) != PilotLevels::Pressure
        };
        let unmarked = by_height(self.left) || by_height(self.right);
        let returns = |layer: &MissingLayer| {
            let Some(to) = layer.to_hpa else {
                return false;
            };
            let part = if is_upper(to) { Part::D } else { Part::B };
            let ends = |roles: Roles, there: fn(&Level) -> bool| {
                let here = |l: &&Level| l.roles.any(roles) && l.row.pressure_hpa == Some(to);
                report.levels.iter().any(|l| here(&l) && there(l))
            };
            self.common(part)
                && match layer.element {
                    Element::Temperature => {
                        ends(Roles::SIG_T_OR_U, |l| l.row.temperature_c.is_some())
                    }
                    Element::Humidity => false,
                    Element::Wind => {
                        !unmarked
                            && ends(Roles::SIG_WIND | Roles::REGIONAL, |l| l.row.wind.is_some())
                    }
                }
        };
        let mut layers = report.missing.clone();
        layers.retain(|layer| !self.text || returns(layer));
        layers
    }
}

#[cfg(test)]
mod tests;
