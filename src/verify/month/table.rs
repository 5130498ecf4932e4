//! A month as a table of figures: one row for each, of four columns.

use super::figures::{Delay, Extremes, Spread};
use super::{MeanBeside, Month};

/// A row of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// What it belongs to: `hour`, `surface`, `batch` …
    pub of: &'static str,
    /// Which of them: `12`, `500`, the name of the batch; empty where there is one.
    pub which: String,
    /// What it is, the unit at its end.
    pub figure: String,
    /// Its value.
    pub value: String,
}

/// Collects rows.
#[derive(Default)]
struct Table(Vec<Figure>);

impl Table {
    fn put(&mut self, of: &'static str, which: &str, figure: &str, value: impl ToString) {
        self.0.push(Figure {
            of,
            which: which.to_owned(),
            figure: figure.to_owned(),
            value: value.to_string(),
        });
    }

    fn known(&mut self, of: &'static str, which: &str, figure: &str, value: Option<f64>) {
        if let Some(value) = value {
            self.put(of, which, figure, value);
        }
    }

    fn extremes(&mut self, unit: &str, extremes: Option<&Extremes>) {
        let Some(extremes) = extremes else { return };
        for (name, value) in [
            ("mean", extremes.mean),
            ("least", extremes.least),
            ("greatest", extremes.greatest),
        ] {
            self.put("top", "", &format!("{name}_{unit}"), value);
        }
    }

    fn delay(&mut self, which: &str, delay: Option<&Delay>) {
        let Some(delay) = delay else { return };
        self.put("delay", which, "count", delay.count);
        self.put("delay", which, "median_min", delay.median_min);
        self.put("delay", which, "greatest_min", delay.greatest_min);
    }

    fn spread(&mut self, of: &'static str, which: &str, name: &str, unit: &str, spread: &Spread) {
        self.put(of, which, &format!("{name}_count"), spread.count);
        self.put(of, which, &format!("{name}_mean_{unit}"), spread.mean);
        let deviation = format!("{name}_deviation_{unit}");
        self.known(of, which, &deviation, spread.deviation);
    }

    fn beside(&mut self, which: &str, name: &str, unit: &str, mean: &MeanBeside) {
        if let Some(now) = &mean.now {
            self.spread("surface", which, name, unit, now);
        }
        if let Some(before) = &mean.before {
            self.spread("surface", which, &format!("{name}_before"), unit, before);
        }
        let figure = |what: &str| format!("{name}_{what}_{unit}");
        self.known("surface", which, &figure("difference"), mean.difference);
        self.known("surface", which, &figure("limit"), mean.limit);
        if mean.limit.is_some() {
            self.put("surface", which, &format!("{name}_moved"), mean.moved);
        }
    }
}

impl Month {
    /// Every figure as a row; the list of ascents has one row for each value.
    #[must_use]
    pub fn table(&self) -> Vec<Figure> {
        let mut table = Table::default();
        for (figure, value) in [
            ("ascents", self.ascents),
            ("by_hand", self.by_hand),
            ("released", self.released),
            ("early", self.early),
            ("nil", self.nil),
            ("within_limits", self.within_limits.count),
            ("within_limits_of", self.within_limits.of),
            ("in_time", self.punctuality.in_time.count),
            ("in_time_of", self.punctuality.in_time.of),
            ("times_expected", self.standard_times.reported.of),
            ("times_reported", self.standard_times.reported.count),
            ("times_unscheduled", self.standard_times.unscheduled),
        ] {
            table.put("month", &self.month, figure, value);
        }
        for hour in &self.standard_times.hours {
            let which = format!("{:02}", hour.hour);
            for (figure, value) in [
                ("expected", hour.expected),
                ("reported", hour.reported),
                ("late", hour.late),
                ("early_only", hour.early_only),
                ("nil", hour.nil),
                ("missing", hour.missing),
            ] {
                table.put("hour", &which, figure, value);
            }
        }
        table.delay("after_standard_time", self.punctuality.after.as_ref());
        table.delay("past_limit", self.punctuality.late.as_ref());
        for reached in &self.tops.reached {
            let which = reached.pressure_hpa.to_string();
            table.put("reached_hpa", &which, "count", reached.count);
            table.put("reached_hpa", &which, "of", reached.of);
        }
        table.extremes("hpa", self.tops.pressure_hpa.as_ref());
        table.extremes("gpm", self.tops.height_gpm.as_ref());
        let causes = self.corrections.iter();
        for (cause, count) in causes {
            table.put("correction", cause.words(), "count", count);
        }
        for (of, counts) in [
            ("station", &self.stations),
            ("ended_by", &self.ended_by),
            ("refused", &self.refused),
            ("finding", &self.codes),
        ] {
            for (which, count) in counts {
                table.put(of, which, "count", count);
            }
        }
        for batch in &self.batches {
            let name = &batch.batch;
            for (figure, value) in [
                ("ascents", batch.ascents),
                ("refused", batch.refused),
                ("checked", batch.checked),
                ("look_again", batch.look_again),
            ] {
                table.put("batch", name, figure, value);
            }
            for one in &batch.differences {
                let (quantity, unit) = one.quantity.key();
                table.spread("batch", name, quantity, unit, &one.spread);
                table.known(
                    "batch",
                    name,
                    &format!("{quantity}_change_{unit}"),
                    one.change,
                );
                table.put("batch", name, &format!("{quantity}_drifts"), one.drifts);
            }
            for (code, count) in &batch.codes {
                table.put("batch", name, code, count);
            }
        }
        for surface in &self.levels {
            let which = surface.pressure_hpa.to_string();
            table.beside(&which, "height", "gpm", &surface.height_gpm);
            table.beside(&which, "temperature", "c", &surface.temperature_c);
        }
        for judged in &self.requirements {
            table.put("requirement", &judged.name, "count", judged.count);
            table.put("requirement", &judged.name, "needed", judged.needed);
            table.put("requirement", &judged.name, "met", judged.met);
        }
        for (target, handed) in &self.handover {
            table.put("handover", target, "accepted", handed.accepted);
            table.put("handover", target, "in_time", handed.in_time);
            table.put("handover", target, "of", handed.of);
        }
        table.0
    }
}
