//! Section 7 of the parts: instruments and time of release.

use super::Check;
use crate::forms::text::{Body, NoLevel, Set, Sonde};
use crate::model::Part;
use crate::model::finding::{Place, finding};
use crate::tables::message_limits;

const DAY_MIN: i32 = 24 * 60;

impl Check<'_> {
    /// Section 7 is the same in all parts, and the release agrees with GG.
    pub(super) fn release(&mut self) {
        let sondes: Vec<(Part, Sonde)> = self
            .message
            .parts
            .iter()
            .filter_map(|(&part, body)| match body {
                Body::Standard(p) => Some((part, p.sonde?)),
                Body::Significant(p) => Some((part, p.sonde?)),
                _ => None,
            })
            .collect();
        // What most parts have is right; of equal numbers, what the first part has.
        let count = |sonde: &Sonde| sondes.iter().filter(|(_, s)| alike(s, sonde)).count();
        let usual = sondes.iter().rev().max_by_key(|(_, sonde)| count(sonde));
        let Some(&(first, usual)) = usual else { return };
        for (part, sonde) in sondes.iter().filter(|(_, sonde)| !alike(sonde, &usual)) {
            let place = self.release_place(*part);
            self.findings.push(finding!(
                SondeDiffers,
                place,
                part = part.letter(),
                own = shown(sonde),
                other = first.letter(),
                usual = shown(&usual)
            ));
        }
        let Some((hour, minute)) = usual.release else {
            return;
        };
        let after = i32::from(hour) * 60 + i32::from(minute) - i32::from(self.message.hour) * 60;
        let after = (after + DAY_MIN / 2).rem_euclid(DAY_MIN) - DAY_MIN / 2;
        let lim = message_limits();
        if f64::from(after) < -lim.release_before_min || f64::from(after) > lim.release_after_min {
            let place = self.release_place(first);
            self.findings.push(finding!(
                ReleaseOffHour,
                place,
                hour = hour,
                minute = minute,
                gg = self.message.hour,
                [
                    before = lim.release_before_min,
                    after = lim.release_after_min
                ]
            ));
        }
    }

    /// Where 8GGgg stands: after 31313 and srrarasasa.
    fn release_place(&self, part: Part) -> Place {
        let group = self.message.group_of(part, Set::Other(NoLevel::End));
        Place {
            part: Some(part.letter()),
            section: Some(7),
            group: group.map(|group| group + 2),
            ..Place::default()
        }
    }
}

/// Whether two parts say the same; the temperature of the sea stands in one alone.
fn alike(one: &Sonde, other: &Sonde) -> bool {
    Sonde { sea: None, ..*one }
        == Sonde {
            sea: None,
            ..*other
        }
}

/// The groups as they are written.
fn shown(sonde: &Sonde) -> String {
    let figures = |value: Option<u8>, width: usize| {
        value.map_or_else(|| "/".repeat(width), |v| format!("{v:0width$}"))
    };
    let (hour, minute) = sonde.release.unzip();
    format!(
        "{}{}{} 8{}{}",
        figures(sonde.radiation, 1),
        figures(sonde.radiosonde, 2),
        figures(sonde.tracking, 2),
        figures(hour, 2),
        figures(minute, 2)
    )
}
