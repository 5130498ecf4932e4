//! Sondes by batch: ground checks, refused flights, findings, and whether the batch drifts.

use std::collections::BTreeMap;

use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

use super::figures::{Spread, mean, thousandth};
use super::{Ascent, Checked, Refusal, counted};
use crate::model::finding::{Finding, Place, finding};
use crate::model::{GroundCheckResult, GroundQuantity};
use crate::tables::ground_check_limits;

/// A batch of sondes.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Batch {
    /// As the sheets call it; empty where none does.
    pub batch: String,
    /// Ascents whose report is out.
    pub ascents: usize,
    /// Files that were refused.
    pub refused: usize,
    /// Sondes that were checked.
    pub checked: usize,
    /// Those of them with something outside a limit.
    pub look_again: usize,
    /// Sonde less reference.
    pub differences: Vec<BatchDifference>,
    /// Findings of severity warning or error, by code; of refused files what they were
    /// refused for.
    pub codes: BTreeMap<String, usize>,
}

/// Sonde less reference of a batch.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BatchDifference {
    /// Of what.
    pub quantity: GroundQuantity,
    /// Mean and standard deviation, in the unit of the quantity.
    pub spread: Spread,
    /// The change from the first check of the month to the last, along the line of least
    /// squares; `None` where there are too few checks.
    pub change: Option<f64>,
    /// The greatest change that is not marked (`tables/ground_check_limits.csv`).
    pub limit: f64,
    /// Whether the batch drifts: the change is greater, and certain enough.
    pub drifts: bool,
}

/// Every batch of ascents and refused files.
pub(super) fn all(ascents: &[&Ascent], refusals: &[&Refusal]) -> Vec<Batch> {
    let mut names: Vec<&str> = ascents.iter().map(|a| a.batch.as_str()).collect();
    names.extend(refusals.iter().map(|r| r.batch.as_str()));
    names.sort_unstable();
    names.dedup();
    names
        .into_iter()
        .map(|name| one(name, ascents, refusals))
        .collect()
}

fn one(name: &str, ascents: &[&Ascent], refusals: &[&Refusal]) -> Batch {
    let ascents: Vec<&&Ascent> = ascents.iter().filter(|a| a.batch == name).collect();
    let refusals: Vec<&&Refusal> = refusals.iter().filter(|r| r.batch == name).collect();
    let of_ascents = ascents
        .iter()
        .filter_map(|a| Some((a.standard, a.checked.as_ref()?)));
    let of_refusals = refusals
        .iter()
        .filter_map(|r| Some((r.at, r.checked.as_ref()?)));
    let mut checks: Vec<(DateTime, &Checked)> = of_ascents.chain(of_refusals).collect();
    checks.sort_by_key(|(at, _)| *at);
    let again =
        |(_, check): &&(DateTime, &Checked)| check.result == Some(GroundCheckResult::LookAgain);
    let codes = ascents.iter().flat_map(|a| &a.codes);
    let codes = codes.chain(refusals.iter().flat_map(|r| &r.codes));
    Batch {
        batch: name.to_owned(),
        ascents: ascents.len(),
        refused: refusals.len(),
        checked: checks.len(),
        look_again: checks.iter().filter(again).count(),
        differences: GroundQuantity::ALL
            .into_iter()
            .filter_map(|quantity| difference(quantity, &checks))
            .collect(),
        codes: counted(codes.cloned()),
    }
}

fn difference(
    quantity: GroundQuantity,
    checks: &[(DateTime, &Checked)],
) -> Option<BatchDifference> {
    let values: Vec<(DateTime, f64)> = checks
        .iter()
        .flat_map(|(at, check)| check.differences.iter().map(move |one| (*at, one)))
        .filter(|(_, (of, _))| *of == quantity)
        .map(|(at, (_, off))| (at, *off))
        .collect();
    let spread = Spread::of(values.iter().map(|(_, off)| *off))?;
    let limits = ground_check_limits();
    let most = match quantity {
        GroundQuantity::Pressure => limits.pressure_hpa,
        GroundQuantity::Temperature => limits.temperature_k,
        GroundQuantity::Humidity => limits.humidity_pct,
        GroundQuantity::DryHumidity => limits.dry_humidity_pct,
    };
    let limit = most * limits.drift_share;
    let enough = f64::from(spread.count) >= limits.drift_checks;
    let change = change(&values).filter(|_| enough);
    let drifts = change.is_some_and(|(change, error)| {
        change.abs() > limit && change.abs() > limits.drift_errors * error
    });
    Some(BatchDifference {
        quantity,
        spread,
        change: change.map(|(change, _)| thousandth(change)),
        limit,
        drifts,
    })
}

/// The change from the first time to the last along the line of least squares, and its
/// standard error; `None` of fewer than three values or where all are of one time.
fn change(values: &[(DateTime, f64)]) -> Option<(f64, f64)> {
    let ((first, _), (last, _)) = (values.first()?, values.last()?);
    let hours = |at: &DateTime| at.duration_since(*first).as_secs_f64() / 3600.0;
    let (count, mid) = mean(values.iter().map(|(at, _)| hours(at)))?;
    let (_, level) = mean(values.iter().map(|(_, off)| *off))?;
    let squares: f64 = values.iter().map(|(at, _)| (hours(at) - mid).powi(2)).sum();
    if count < 3 || squares <= 0.0 {
        return None;
    }
    let products = values
        .iter()
        .map(|(at, off)| (hours(at) - mid) * (off - level));
    let slope = products.sum::<f64>() / squares;
    let rest = values
        .iter()
        .map(|(at, off)| (off - level - slope * (hours(at) - mid)).powi(2));
    let error = (rest.sum::<f64>() / f64::from(count - 2) / squares).sqrt();
    Some((slope * hours(last), error * hours(last)))
}

/// A finding for each batch that drifts.
pub(super) fn drifts(batches: &[Batch]) -> Vec<Finding> {
    let of_batch = |batch: &Batch| -> Vec<Finding> {
        let differences = batch.differences.iter().filter(|one| one.drifts);
        let findings = differences.map(|one| {
            let (name, unit) = (one.quantity.name(), one.quantity.unit());
            finding!(
                MonthBatchDrift,
                Place::default(),
                batch = batch.name(),
                quantity = name,
                change = one.change.unwrap_or_default(),
                unit = unit,
                count = one.spread.count,
                [most = one.limit, unit = unit]
            )
        });
        findings.collect()
    };
    batches.iter().flat_map(of_batch).collect()
}

impl Batch {
    /// What it is called: `batch 7`, or that no sheet says it.
    #[must_use]
    pub fn name(&self) -> String {
        match self.batch.is_empty() {
            true => "batch not stated".to_owned(),
            false => format!("batch {}", self.batch),
        }
    }
}
