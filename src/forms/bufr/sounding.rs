//! The values of a message → report: what its figures stand for.

use super::choose::NotSounding;
use super::fields::Fields;
use super::level::{level, says_nothing, tell_geometric, tell_half_winds};
use super::meaning::Meaning;
use super::moments::{launch, nominal};
use super::named::name_surfaces;
use super::seen::Seen;
use super::surfaces::settle_surfaces;
use super::{Descriptor, Section1, clouds, sonde};
use crate::levels::report::{Holds, nil, parts};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{
    Axis, Context, Element, Form, Level, MaxWind, MissingLayer, Motion, Part, Position, Reach,
    Report, Resolution, Roles, Shear, Start, StationKind, Surface, When,
};
use crate::tables;
use crate::tables::{PieceKind, level_manner};

/// A report that was read, and what is to be said about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Sounding {
    /// The report, every level that the message has.
    pub report: Report,
    /// Findings.
    pub findings: Vec<Finding>,
    /// What the message holds of an ascent that comes in several (3 09 060 to
    /// 3 09 066).
    pub piece: Option<PieceKind>,
}

impl Seen<'_> {
    /// The report that the values stand for.
    pub(super) fn sounding(
        &self,
        meaning: &Meaning,
        section1: &Section1,
    ) -> Result<Sounding, NotSounding> {
        let head = Fields(&self.head);
        let mut findings = Vec::new();
        let standard = nominal(section1);
        let release = launch(&head);
        let (release, standard) = match (release, standard) {
            (Some(release), Some(standard)) => (release, standard),
            (Some(one), None) | (None, Some(one)) => {
                findings.push(if release.is_none() {
                    finding!(LaunchTimeMissing, Place::default())
                } else {
                    finding!(StandardTimeMissing, Place::default())
                });
                (one, one)
            }
            (None, None) => return Err(NotSounding::Time),
        };
        let mut context = context(&head, meaning, section1);
        let station = &mut context.station;
        let from = station.latitude_deg.zip(station.longitude_deg);
        // A descent gives where it began, not the station.
        let start = (meaning.form == Form::Descent).then(|| {
            let height_m = station.release_m.take();
            (station.latitude_deg, station.longitude_deg) = (None, None);
            Start {
                time: Some(release),
                time_s: Some(0.0),
                place: from.map(|(latitude_deg, longitude_deg)| Position {
                    latitude_deg,
                    longitude_deg,
                }),
                height_m,
            }
        });
        let mut geometric = 0;
        let mut levels: Vec<Level> = self
            .levels
            .iter()
            .map(|fields| level(&Fields(fields), &head, from, &mut geometric))
            .filter(|level| !says_nothing(level))
            .collect();
        tell_geometric(geometric, &mut findings);
        tell_half_winds(&self.levels, &mut findings);
        let up = |l: &Level| match meaning.axis {
            Axis::Pressure => l.row.pressure_hpa.map_or(f64::INFINITY, |p| -p),
            Axis::Height => l.order(),
        };
        if !levels.is_sorted_by(|l, r| up(l) <= up(r)) {
            findings.push(finding!(LevelsOutOfOrder, Place::default()));
            levels.sort_by(|l, r| up(l).total_cmp(&up(r)));
        }
        match meaning.axis {
            Axis::Height => name_surfaces(&mut levels, &mut findings),
            Axis::Pressure => settle_surfaces(&mut levels, &mut findings),
        }
        // A surface without any wind has nothing of a wind level.
        if levels.iter().all(|l| l.row.wind.is_none()) {
            for level in &mut levels {
                level.roles -= Roles::SIG_WIND;
            }
        }
        let missing = missing(&levels);
        let maxima = self.maxima(&levels);
        let mut report = Report {
            form: meaning.form,
            when: When::Full { release, standard },
            axis: meaning.axis,
            motion: match meaning.form {
                Form::Descent => Motion::Falling,
                _ if meaning.drop => Motion::Falling,
                _ => Motion::Rising,
            },
            start,
            levels,
            missing,
            maxima,
            resolution: Resolution::Bufr,
            reach: Reach::Whole,
            ..Report::empty(context)
        };
        divide_parts(&mut report);
        Ok(Sounding {
            report,
            findings,
            piece: meaning.piece,
        })
    }

    /// The maximum winds in the order of their shears, or else the strongest
    /// first, part by part.
    fn maxima(&self, levels: &[Level]) -> Vec<MaxWind> {
        let of = |level: &Level, shear: Option<Shear>| MaxWind {
            part: match level.row.pressure_hpa {
                Some(p) if tables::figure::is_upper(p) => Part::C,
                _ => Part::A,
            },
            pressure_hpa: level.row.pressure_hpa,
            height_gpm: level
                .row
                .height_gpm
                .filter(|_| level.row.pressure_hpa.is_none()),
            shear,
        };
        let mut found: Vec<&Level> = levels
            .iter()
            .filter(|l| l.roles.any(Roles::MAX_WIND))
            .collect();
        let speed = |l: &Level| l.row.wind.map_or(0.0, |w| w.speed_ms);
        found.sort_by(|l, r| speed(r).total_cmp(&speed(l)));
        let mut out = Vec::new();
        for fields in &self.shears {
            let fields = Fields(fields);
            let place = (fields.hectopascals(&[(7, 4)]), fields.value(7, 9));
            // Shears have their coordinate in 10 Pa or 1 gpm, also where the levels
            // are finer: the nearest level within one such step.
            let apart = |l: &Level| match place {
                (Some(p), _) => l.row.pressure_hpa.map(|own| (own - p).abs() / 0.1),
                (None, Some(z)) => l.row.height_gpm.map(|own| (own - z).abs()),
                (None, None) => None,
            };
            let nearest = found
                .iter()
                .enumerate()
                .filter_map(|(at, l)| Some((at, apart(l)?)))
                .filter(|(_, apart)| *apart < 1.0)
                .min_by(|(_, a), (_, b)| a.total_cmp(b));
            if let Some((at, _)) = nearest {
                let shear = Shear {
                    below_ms: fields.value(11, 61),
                    above_ms: fields.value(11, 62),
                };
                out.push(of(found.remove(at), Some(shear)));
            }
        }
        out.extend(found.into_iter().map(|level| of(level, None)));
        out.sort_by_key(|maximum| maximum.part);
        out
    }
}

/// What parts a report has, by its levels.
pub(super) fn divide_parts(report: &mut Report) {
    if report.form == Form::Pilot {
        let manner = level_manner(&report.context.coding, report.axis);
        report.context.coding.pilot_levels = Some(manner);
        report.divide_gpm = divide_gpm(report);
    }
    report.parts = if report.levels.is_empty() {
        Part::ALL
            .into_iter()
            .map(|part| (part, nil(None)))
            .collect()
    } else {
        parts(&Holds {
            form: report.form,
            context: &report.context,
            levels: &report.levels,
            divide_gpm: report.divide_gpm,
            reach: report.reach,
        })
    };
}

/// The height above which PILOT levels by height belong to Part D: that of the
/// last level not above the height that stands for 100 hPa.
fn divide_gpm(report: &Report) -> Option<f64> {
    if report.axis == Axis::Pressure {
        return None;
    }
    let stands = tables::height_approximations()
        .iter()
        .find(|h| h.pressure_hpa == 100)
        .map(|h| f64::from(h.height_gpm))?;
    let heights = || report.levels.iter().filter_map(|l| l.row.height_gpm);
    heights().any(|z| z > stands).then_some(())?;
    heights().filter(|z| *z <= stands).reduce(f64::max)
}

/// Station, flight, equipment, clouds and surface.
pub(super) fn context(head: &Fields<'_, '_>, meaning: &Meaning, section1: &Section1) -> Context {
    let mut context = Context::default();
    let station = &mut context.station;
    station.wmo_block = head.small(1, 1);
    station.wmo_number = head.small(1, 2);
    station.call_sign = head.text(1, 11).or_else(|| head.text(1, 6));
    station.wigos_id = wigos(head);
    station.latitude_deg = head.first(&[(5, 1), (5, 2)]);
    station.longitude_deg = head.first(&[(6, 1), (6, 2)]);
    station.elevation_m = head.first(&[(7, 30), (7, 1)]);
    station.barometer_m = head.value(7, 31);
    station.release_m = head.value(7, 7);
    station.elevation_quality = head.small(33, 24);
    let listed = tables::subcategories()
        .iter()
        .find(|s| s.form == meaning.form && s.figure == section1.subcategory);
    let land = station.wmo_block.is_some() && station.call_sign.is_none();
    station.kind = match listed {
        _ if meaning.drop => StationKind::Drop,
        Some(listed) if listed.kind != StationKind::Drop => listed.kind,
        _ if land => StationKind::Land,
        _ if station.elevation_quality.is_some() => StationKind::Mobile,
        _ => StationKind::Ship,
    };
    context.bufr.reused = listed.is_some_and(|s| s.reused);
    context.bufr.template = meaning.template.map(|t| t.descriptor.to_string());
    context.bufr.centre = Some(section1.centre).filter(|c| *c != u16::MAX);
    context.bufr.sub_centre = Some(section1.sub_centre).filter(|s| *s != 0);
    context.bufr.update = Some(section1.update).filter(|u| *u != 0);
    context.flight.release = launch(head);
    context.flight.standard_time = nominal(section1);
    sonde::read(head_of(head), &mut context);
    let nth = |x, y, n| head.nth(x, y, n).and_then(|(_, value)| value.number());
    let clouds = clouds::Read {
        significance: nth(8, 2, 0),
        amount: nth(20, 11, 0),
        base_m: head.value(20, 13),
        types: [nth(20, 12, 0), nth(20, 12, 1), nth(20, 12, 2)],
    };
    context.clouds = clouds.clouds();
    let surface = Surface {
        pressure_hpa: head.hectopascals(&[(10, 4)]),
        temperature_c: head.celsius(&[(12, 101), (12, 1)]),
        dewpoint_c: head.celsius(&[(12, 103), (12, 3)]),
        humidity_pct: head.value(13, 3),
        wind_dir_deg: head.wind().map(|w| w.dir_deg),
        wind_speed_ms: head.wind().map(|w| w.speed_ms),
        sea_temperature_c: head.celsius(&[(22, 43), (22, 42)]),
        ..Surface::default()
    };
    context.surface = (surface != Surface::default()).then_some(surface);
    context
}

/// Looks a descriptor up among the fields outside the levels.
fn head_of<'a>(head: &'a Fields<'_, '_>) -> impl Fn(Descriptor) -> sonde::Given + 'a {
    |descriptor| {
        let (x, y) = (descriptor.x(), descriptor.y());
        sonde::Given {
            code: head.code(x, y),
            value: head.value(x, y),
            text: head.text(x, y),
        }
    }
}

fn wigos(head: &Fields<'_, '_>) -> Option<String> {
    let (series, issuer, number) = (head.code(1, 125)?, head.code(1, 126)?, head.code(1, 127)?);
    let local = head.text(1, 128)?;
    Some(format!("{series}-{issuer}-{number}-{local}"))
}

/// Layers without data, from the bits that begin and end them.
fn missing(levels: &[Level]) -> Vec<MissingLayer> {
    let mut out = Vec::new();
    for (element, begin, end) in [
        (
            Element::Temperature,
            Roles::BEGIN_MISSING_TEMPERATURE,
            Roles::END_MISSING_TEMPERATURE,
        ),
        (
            Element::Humidity,
            Roles::BEGIN_MISSING_HUMIDITY,
            Roles::END_MISSING_HUMIDITY,
        ),
        (
            Element::Wind,
            Roles::BEGIN_MISSING_WIND,
            Roles::END_MISSING_WIND,
        ),
    ] {
        let mut open: Option<Option<f64>> = None;
        for level in levels {
            if level.roles.any(end)
                && let Some(from_hpa) = open.take()
            {
                out.push(MissingLayer {
                    element,
                    from_hpa,
                    to_hpa: level.row.pressure_hpa,
                });
            }
            if level.roles.any(begin) {
                open = Some(level.row.pressure_hpa);
            }
        }
        if let Some(from_hpa) = open {
            out.push(MissingLayer {
                element,
                from_hpa,
                to_hpa: None,
            });
        }
    }
    out
}
