//! The groups of TEMP parts in order.

use super::{Placed, SignificantPart, StandardPart};
use crate::forms::text::groups::{
    digits, indicators, placed, push_digits, shear_group, thermal_group, wind_group,
};
use crate::forms::text::sections::{write_clouds, write_last_sections};
use crate::forms::text::{NoLevel, Set, Sets};
use crate::model::{DepartureKind, Departures, Part};
use crate::tables;

fn placed_groups(indicator: &str, level: &Placed) -> Vec<String> {
    vec![
        placed(indicator, level.pressure),
        thermal_group(level.thermal),
        wind_group(level.wind),
    ]
}

impl StandardPart {
    /// Id (table 1734): the highest standard surface with wind that has a figure.
    pub(crate) fn id_figure(&self) -> Option<u8> {
        let last = self
            .last_with_wind()
            .and_then(|last| self.standard.get(last));
        self.id
            .or(last.and_then(|last| tables::id_figure(last.pressure_hpa)))
    }

    /// Everything after the identification.
    pub(in crate::forms::text) fn sets(&self, part: Part, departures: &Departures) -> Sets {
        let mut out: Sets = Vec::new();
        match &self.surface {
            Some(s) => out.push((Set::Surface, placed_groups("99", s))),
            None if part == Part::A => {
                let unknown = ["99///", "/////", "/////"];
                let unknown = unknown.map(str::to_owned).to_vec();
                out.push((Set::Other(NoLevel::NoSurface), unknown));
            }
            None => {}
        }
        let has_wind = self.with_wind_groups();
        for (i, s) in self.standard.iter().enumerate() {
            let mut first = digits(Some(s.pp), 2);
            push_digits(&mut first, s.height.map(|h| h.code()), 3);
            let mut groups = vec![first, thermal_group(s.thermal)];
            if has_wind(s) {
                groups.push(wind_group(s.wind));
            }
            out.push((Set::Standard(i), groups));
        }
        for (i, t) in self.tropopauses.iter().enumerate() {
            out.push((Set::Tropopause(i), placed_groups("88", t)));
        }
        if self.tropopauses.is_empty() && !departures.has(DepartureKind::Absent, 3) {
            out.push((Set::Other(NoLevel::NoTropopause), vec!["88999".to_owned()]));
        }
        for (i, m) in self.maxima.iter().enumerate() {
            let indicator = if m.top { "66" } else { "77" };
            let mut groups = vec![placed(indicator, m.pressure), wind_group(m.wind)];
            if let Some((below, above)) = m.shear {
                groups.push(shear_group((below, above)));
            }
            out.push((Set::Maximum(i), groups));
        }
        if self.maxima.is_empty() && !departures.has(DepartureKind::Absent, 4) {
            out.push((Set::Other(NoLevel::NoMaximum), vec!["77999".to_owned()]));
        }
        let mut end = Vec::new();
        if let Some(sonde) = &self.sonde {
            sonde.write(&mut end);
        }
        write_last_sections(&self.regional, &self.national, &mut end);
        out.push((Set::Other(NoLevel::End), end));
        out
    }
}

impl SignificantPart {
    /// Everything after the identification; the first level has the number 0
    /// in B, 1 in D.
    pub(in crate::forms::text) fn sets(&self, part: Part, departures: &Departures) -> Sets {
        let start = usize::from(part == Part::D);
        let mut out: Sets = Vec::new();
        let mut n = 0;
        let numbers = indicators(start, 5, departures);
        for (level, nn) in self.thermal.iter().zip(numbers) {
            out.push(match level {
                Some((p, thermal)) => {
                    n += 1;
                    let groups = vec![placed(nn, *p), thermal_group(*thermal)];
                    (Set::Thermal(n - 1), groups)
                }
                None => nothing(nn),
            });
        }
        out.extend(self.winds_sets(part, departures));
        let mut end = Vec::new();
        if let Some(sonde) = &self.sonde {
            sonde.write(&mut end);
        }
        write_clouds(self.clouds, &mut end);
        if departures.has(DepartureKind::Again, 6) {
            let again = self.winds_sets(part, departures).into_iter();
            end.extend(again.flat_map(|(_, groups)| groups));
        }
        write_last_sections(&self.regional, &self.national, &mut end);
        out.push((Set::Other(NoLevel::End), end));
        out
    }

    /// Section 6: 21212 and its levels.
    pub(super) fn winds_sets(&self, part: Part, departures: &Departures) -> Sets {
        let mut out = Sets::new();
        if !self.winds.is_empty() || departures.has(DepartureKind::NoLevels, 6) {
            out.push((Set::Other(NoLevel::Winds), vec!["21212".to_owned()]));
        }
        let mut n = 0;
        let numbers = indicators(usize::from(part == Part::D), 6, departures);
        for (level, nn) in self.winds.iter().zip(numbers) {
            out.push(match level {
                Some((p, wind)) => {
                    n += 1;
                    (Set::Wind(n - 1), vec![placed(nn, *p), wind_group(*wind)])
                }
                None => nothing(nn),
            });
        }
        out
    }
}

/// A layer without data.
fn nothing(nn: &str) -> (Set, Vec<String>) {
    let groups = vec![format!("{nn}///"), "/////".to_owned()];
    (Set::Other(NoLevel::Gap), groups)
}
