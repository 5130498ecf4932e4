//! A month as text.

use std::fmt;

use super::figures::{Extremes, Share};
use super::{Batch, MeanBeside, Month, Surface};
use crate::model::GroundQuantity;
use crate::model::finding::printable;

/// Where the values stand, characters.
const LABEL: usize = 34;

struct Lines<'a, 'b>(&'a mut fmt::Formatter<'b>);

impl Lines<'_, '_> {
    fn put(&mut self, what: &str, value: &dyn fmt::Display) -> fmt::Result {
        let value = value.to_string();
        writeln!(self.0, "{what:<LABEL$}{value}")
    }

    fn head(&mut self, what: &str) -> fmt::Result {
        writeln!(self.0, "{what}")
    }

    fn counts<'a>(&mut self, counts: impl Iterator<Item = (&'a str, &'a usize)>) -> fmt::Result {
        for (what, count) in counts {
            self.put(&format!("  {}", printable(what)), count)?;
        }
        Ok(())
    }
}

impl fmt::Display for Month {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut out = Lines(f);
        out.put("month", &self.month)?;
        if let Some(until) = self.until {
            out.put("  not over; expected until", &format!("{until}Z"))?;
        }
        for (station, ascents) in &self.stations {
            out.put(&format!("  ascents of {}", printable(station)), ascents)?;
        }
        times(&mut out, self)?;
        flights(&mut out, self)?;
        out.head("what networks ask")?;
        for judged in &self.requirements {
            let (network, asked, clause) = (&judged.network, judged.asked(), &judged.clause);
            let (standing, verdict) = (judged.standing.words(), judged.verdict());
            let figure = judged.figure();
            out.head(&format!(
                "  {network}, {standing}, {asked}: {verdict}, {figure} ({clause})"
            ))?;
        }
        for batch in &self.batches {
            sondes(&mut out, batch)?;
        }
        surfaces(&mut out, self)?;
        for (target, handed) in &self.handover {
            out.put(&format!("handed over to {}", printable(target)), handed)?;
        }
        Ok(())
    }
}

fn times(out: &mut Lines<'_, '_>, month: &Month) -> fmt::Result {
    let times = &month.standard_times;
    let label = "standard times with a report";
    match times.scheduled {
        true => out.put(label, &times.reported)?,
        false => out.put(label, &"no schedule is given")?,
    }
    for hour in &times.hours {
        let reported = Share {
            count: hour.reported,
            of: hour.expected,
        };
        let figures = format!(
            "{reported}, late {}, early message only {}, NIL only {}, missing {}",
            hour.late, hour.early_only, hour.nil, hour.missing
        );
        out.put(&format!("  {:02} UTC", hour.hour), &figures)?;
    }
    if times.scheduled {
        out.put("  at other times", &times.unscheduled)?;
    }
    Ok(())
}

fn flights(out: &mut Lines<'_, '_>, month: &Month) -> fmt::Result {
    out.put("flights issued", &month.ascents)?;
    out.put("  not in the flight book", &month.by_hand)?;
    out.put("  released after a hold", &month.released)?;
    let punctuality = &month.punctuality;
    out.put("  in time", &punctuality.in_time)?;
    if let Some(after) = &punctuality.after {
        out.put("  after the standard time", after)?;
    }
    if let Some(late) = &punctuality.late {
        let late = format!("{}, {late} past the limit", late.count);
        out.put("  late", &late)?;
    }
    for reached in &month.tops.reached {
        let share = Share {
            count: reached.count,
            of: reached.of,
        };
        out.put(&format!("  reached {} hPa", reached.pressure_hpa), &share)?;
    }
    let extremes = |extremes: &Extremes, decimals: usize, unit: &str| {
        let Extremes {
            mean,
            least,
            greatest,
            ..
        } = extremes;
        format!(
            "mean {mean:.decimals$} {unit}, least {least:.decimals$}, greatest {greatest:.decimals$}"
        )
    };
    if let Some(pressure) = &month.tops.pressure_hpa {
        out.put("  pressure at the top", &extremes(pressure, 1, "hPa"))?;
    }
    if let Some(height) = &month.tops.height_gpm {
        out.put("  height of the top", &extremes(height, 0, "gpm"))?;
    }
    out.put("  every row within the limits", &month.within_limits)?;
    out.put("early messages", &month.early)?;
    out.put("NIL", &month.nil)?;
    out.put("corrections", &month.corrections.values().sum::<usize>())?;
    let corrections = month.corrections.iter();
    out.counts(corrections.map(|(cause, count)| (cause.words(), count)))?;
    out.put("files refused", &month.refused.values().sum::<usize>())?;
    out.counts(
        month
            .refused
            .iter()
            .map(|(why, count)| (why.as_str(), count)),
    )?;
    if month.ascents > 0 {
        out.head("flights ended by")?;
    }
    out.counts(
        month
            .ended_by
            .iter()
            .map(|(why, count)| (why.as_str(), count)),
    )?;
    out.put("warnings and errors", &month.codes.values().sum::<usize>())?;
    out.counts(
        month
            .codes
            .iter()
            .map(|(code, count)| (code.as_str(), count)),
    )
}

fn sondes(out: &mut Lines<'_, '_>, batch: &Batch) -> fmt::Result {
    let name = batch.name();
    let flights = format!("issued {}, refused {}", batch.ascents, batch.refused);
    out.put(&format!("sondes, {}", printable(&name)), &flights)?;
    if batch.checked > 0 {
        let mut checks = format!("{}, look again {}", batch.checked, batch.look_again);
        if !batch.differences.is_empty() {
            checks.push_str("; sonde less reference");
        }
        for (number, one) in batch.differences.iter().enumerate() {
            let unit = one.quantity.unit();
            let before = match one.quantity {
                GroundQuantity::DryHumidity => "dry air ",
                _ => "",
            };
            let between = if number == 0 { "" } else { "," };
            checks.push_str(&format!("{between} {before}{} {unit}", one.spread));
            if let Some(change) = one.change {
                let mark = if one.drifts { ", drifts" } else { "" };
                checks.push_str(&format!(" (change {change:+.2}{mark})"));
            }
        }
        out.put("  ground checks", &checks)?;
    }
    out.counts(
        batch
            .codes
            .iter()
            .map(|(code, count)| (code.as_str(), count)),
    )
}

fn surfaces(out: &mut Lines<'_, '_>, month: &Month) -> fmt::Result {
    if month.levels.is_empty() {
        return Ok(());
    }
    out.head(&format!(
        "standard surfaces: count, mean ± standard deviation, change from {} (* more than the limit)",
        month.compared_with
    ))?;
    for Surface {
        pressure_hpa,
        height_gpm,
        temperature_c,
    } in &month.levels
    {
        writeln!(
            out.0,
            "  {pressure_hpa:>4} hPa {}  {}",
            mean(height_gpm, 0, "gpm"),
            mean(temperature_c, 1, "°C")
        )?;
    }
    Ok(())
}

/// A mean in columns of fixed width.
fn mean(mean: &MeanBeside, decimals: usize, unit: &str) -> String {
    let Some(now) = mean.now else {
        return format!("{:>4} {:>7} {unit}{:18}", 0, "–", "");
    };
    let value = format!("{:.decimals$}", now.mean);
    let deviation = now
        .deviation
        .map_or_else(String::new, |d| format!("± {d:.decimals$}"));
    let difference = mean.difference.map_or_else(String::new, |d| {
        let mark = if mean.moved { "*" } else { "" };
        format!("{d:+.decimals$}{mark}")
    });
    format!(
        "{:>4} {value:>7} {unit} {deviation:<8} {difference:>8}",
        now.count
    )
}
