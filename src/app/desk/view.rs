//! What the page shows: worked out anew, by the same steps as the command takes.

use std::path::Path;
use std::sync::Arc;

use sha2::{Digest as _, Sha256};

use super::labels::label_of;
use super::profile::Profile;
use super::session::Session;
use crate::forms::text::{Bbb, Message};
use crate::input::sheet;
use crate::input::sheet::{Draft, SheetError, SheetFault, Source};
use crate::issue;
use crate::issue::age::{OutOfTime, out_of_time, standard_ahead};
use crate::issue::early;
use crate::issue::early::Remaining;
use crate::issue::folder;
use crate::issue::folder::Name;
use crate::issue::outputs;
use crate::issue::outputs::{Earlier, Options, Output, Outputs, SHEET, Wanted};
use crate::issue::report::NotReported;
use crate::issue::sent;
use crate::issue::{Ascent, Flight, FlightError, Refused};
use crate::levels::report::missing_equipment;
use crate::model::finding::Finding;
use crate::model::{Form, Part, Report};
use crate::profile;
use crate::profile::GroundVerdict;
use crate::verify;
use crate::verify::compare::Difference;

/// Everything the page shows of the work.
pub(super) struct View {
    pub(super) sheet_text: String,
    /// A word for exactly this work: what was shown is what is issued.
    pub(super) digest: String,
    pub(super) outcome: Outcome,
    pub(super) nil: Result<Nil, String>,
    /// The keys that the sheet should give and does not, the most important first; a
    /// table where none of its keys is given.
    pub(super) empty: Vec<String>,
    /// What came of the ground check, where the sheet has one.
    pub(super) ground_check: Option<GroundVerdict>,
}

/// The profile of a session with its sheet.
fn ascent(session: &Session, profile: &Arc<Profile>, sheet: &str) -> Result<Ascent, FlightError> {
    let sheets = [source(sheet)];
    let reading = sheet::reading(&sheets).map_err(FlightError::Sheets)?;
    let contents = session.memo.read(profile, reading)?;
    Ascent::of(&profile.name, contents, &sheets)
}

/// Why the profile of a session is no flight, whatever its sheet says.
pub(super) fn fault_of_profile(session: &Session) -> Option<String> {
    let profile = session.state.profile.as_ref()?;
    let built = ascent(session, profile, &session.sheet_text()).and_then(|loaded| {
        let form = loaded.form(session.state.form);
        let built = profile::build_for(form, &loaded.raw, &loaded.sheet.context)?;
        Ok(built.value)
    });
    match built {
        Err(error @ (FlightError::Source(_) | FlightError::Profile(_))) => Some(error.to_string()),
        _ => None,
    }
}

/// Whether there is a profile that is a flight.
pub(super) fn reads(session: &Session) -> bool {
    session.state.profile.is_some() && fault_of_profile(session).is_none()
}

/// What became of profile and sheet.
pub(super) enum Outcome {
    /// No profile yet; what the sheet alone lacks.
    NoProfile(Vec<Fault>),
    /// No message, and why.
    Refused(Vec<Fault>),
    /// A message.
    Coded(Box<Coded>),
}

/// Why there is no message, and the field it is about.
pub(super) struct Fault {
    pub(super) key: Option<String>,
    pub(super) text: String,
    /// Whether the sheet lacks the key.
    pub(super) missing: bool,
}

impl From<&SheetFault> for Fault {
    fn from(fault: &SheetFault) -> Self {
        Self {
            key: fault.place.key.clone(),
            text: words(&fault.fault),
            missing: matches!(fault.fault, sheet::Fault::Missing { .. }),
        }
    }
}

/// A fault in the words of the page, which names the field beside it.
pub(super) fn words(fault: &sheet::Fault) -> String {
    use sheet::Fault as F;
    match fault {
        F::Missing { .. } => "empty, and mandatory".to_owned(),
        F::OutOfRange { value, allowed, .. } => {
            let value = value.strip_suffix(".0").unwrap_or(value);
            format!("{value} is out of range ({allowed})")
        }
        F::Mistyped { wanted, .. } => format!("{wanted} is expected"),
        F::NotListed { value, allowed, .. } => {
            format!("{value} is not one of {}", allowed.join(", "))
        }
        F::Malformed { value, wanted, .. } => format!("{value} is not {wanted}"),
        F::NotUtc { value, .. } => format!("{value} is not in UTC; write Z at the end"),
        F::Conflict { what, .. } => what.clone(),
        other => other.to_string(),
    }
}

impl From<&Finding> for Fault {
    fn from(finding: &Finding) -> Self {
        let allowed = finding.allowed.as_deref();
        let advice = allowed.map_or_else(String::new, |allowed| format!(" ({allowed})"));
        Self {
            key: finding.place.key.clone(),
            text: format!("{}{advice}", finding.what),
            missing: false,
        }
    }
}

/// A flight that has a message.
pub(super) struct Coded {
    pub(super) flight: Flight,
    /// What the checks of the profile say.
    pub(super) checks: Vec<Finding>,
    pub(super) verdict: String,
    /// What changed since the last issues more than the air does.
    pub(super) continuity: Vec<Finding>,
    /// How many issues were compared.
    pub(super) compared: usize,
    /// The name it would be issued under, without a letter.
    pub(super) name: Result<Name, String>,
    pub(super) standing: Standing,
    /// Why it cannot go out yet by the system clock.
    pub(super) early: Option<String>,
}

/// Whether the same was issued before.
pub(super) enum Standing {
    /// Not issued; with the letter of a late report where NIL is out.
    New(Option<Bbb>),
    /// Not issued, but its early message is: what still goes out.
    Remaining(Box<Left>),
    Issued(Box<Sent>),
    /// Something is there that cannot be read.
    Unread(String),
}

/// What still goes out after an early message.
pub(super) struct Left {
    /// The letter of the parts that were not sent, where NIL is out.
    pub(super) late: Option<Bbb>,
    /// The name of the correction of the early message, and what it changes.
    pub(super) correction: Option<(Name, Vec<Difference>)>,
    /// The parts that were not sent.
    pub(super) parts: Vec<Part>,
    /// What is to be said of it.
    pub(super) findings: Vec<Finding>,
}

/// What was issued before.
pub(super) struct Sent {
    earlier: Earlier,
    /// The letter of the correction that comes next.
    pub(super) next: Option<Bbb>,
    /// What it would change, or why there is none.
    pub(super) changes: Result<Changes, String>,
}

impl Sent {
    /// The last letter.
    pub(super) fn last(&self) -> Option<&Bbb> {
        self.earlier.last.as_ref()
    }
}

/// What a correction would change.
pub(super) struct Changes {
    /// Levels and values, what was issued on the left.
    pub(super) differences: Vec<Difference>,
    /// The parts that go out again, and the groups that are not the same.
    pub(super) parts: Vec<(Part, String)>,
}

/// That there is no report.
pub(super) struct Nil {
    pub(super) report: Report,
    pub(super) message: Message,
    findings: Vec<Finding>,
    pub(super) name: Name,
    /// The report that is out for the same time: NIL needs a reason then.
    pub(super) report_out: Option<Name>,
}

impl Nil {
    /// Its outputs.
    pub(super) fn make(&self, wanted: &Wanted) -> Result<Outputs, String> {
        let options = Options::default();
        let (report, message) = (&self.report, &self.message);
        let made = outputs::make_nil(report, message, &self.findings, wanted, &options);
        made.map_err(|error| error.to_string())
    }
}

/// The faults of sheets.
fn faults(error: &SheetError) -> Vec<Fault> {
    error.faults().iter().map(Fault::from).collect()
}

/// Works out what the page shows.
pub(super) fn view(session: &Session) -> View {
    let sheet_text = session.sheet_text();
    let outcome = outcome(session, &sheet_text);
    let nil = nil(session, &sheet_text);
    let check = sheet::ground_check(&[source(&sheet_text)]).ok().flatten();
    let ground_check = check.map(|(check, flight)| profile::ground_check(&check, flight.release));
    View {
        empty: empty(&outcome, &session.state.draft),
        digest: digest(session, &sheet_text),
        sheet_text,
        outcome,
        nil,
        ground_check,
    }
}

/// The keys of a surface observation that are coded, in the order of the page.
const SURFACE: [&str; 5] = [
    "surface.pressure_hpa",
    "surface.temperature_c",
    "surface.humidity_pct",
    "surface.wind_dir_deg",
    "surface.wind_speed_ms",
];

/// What the sheet should give and does not.
fn empty(outcome: &Outcome, draft: &Draft) -> Vec<String> {
    let coded = match outcome {
        Outcome::NoProfile(faults) | Outcome::Refused(faults) => {
            let missing = faults.iter().filter(|fault| fault.missing);
            return missing.filter_map(|fault| fault.key.clone()).collect();
        }
        Outcome::Coded(coded) => coded,
    };
    let report = &coded.flight.report;
    let found = |code: &str| coded.flight.findings.iter().any(|f| f.code == code);
    let is_given = |key: &str| !draft.get(key).is_empty();
    let mut empty = Vec::new();
    // One that was begun is to be complete, too.
    if found("no-surface") || SURFACE.iter().any(|key| is_given(key)) {
        let other = |key: &str| key == "surface.humidity_pct" && is_given("surface.dewpoint_c");
        let missing = SURFACE.iter().filter(|key| !is_given(key) && !other(key));
        empty.extend(missing.map(|key| (*key).to_owned()));
    }
    let equipment = missing_equipment(report.form, &report.context.equipment);
    empty.extend(equipment.iter().map(|key| format!("equipment.{key}")));
    if found("no-clouds") {
        empty.push("clouds".to_owned());
    }
    empty
}

pub(super) fn digest(session: &Session, sheet: &str) -> String {
    let mut hash = Sha256::new();
    hash.update(sheet.as_bytes());
    hash.update(format!("{:?} {:?}", session.state.form, session.state.reach).as_bytes());
    if let Some(profile) = session.profile() {
        hash.update(&profile.hash);
    }
    let octets = hash.finalize();
    let octets = octets.iter().take(16);
    octets.map(|octet| format!("{octet:02x}")).collect()
}

fn source(text: &str) -> Source<'_> {
    Source { name: SHEET, text }
}

fn outcome(session: &Session, sheet_text: &str) -> Outcome {
    let Some(profile) = &session.state.profile else {
        let error = sheet::read(&[source(sheet_text)]).err();
        return Outcome::NoProfile(error.as_ref().map(faults).unwrap_or_default());
    };
    match coded(session, profile, sheet_text) {
        Ok(coded) => Outcome::Coded(Box::new(coded)),
        Err(FlightError::Sheets(error)) => Outcome::Refused(faults(&error)),
        Err(FlightError::Refused {
            why: Refused::Stopped(findings),
            ..
        }) => Outcome::Refused(findings.iter().map(Fault::from).collect()),
        Err(other) => {
            let text = other.to_string();
            let lines = text.lines().map(|line| Fault {
                key: None,
                text: line.to_owned(),
                missing: false,
            });
            Outcome::Refused(lines.collect())
        }
    }
}

fn coded(
    session: &Session,
    profile: &Arc<Profile>,
    sheet_text: &str,
) -> Result<Coded, FlightError> {
    let loaded = ascent(session, profile, sheet_text)?;
    let form = loaded.form(session.state.form);
    let flight = loaded.code(form, session.state.reach)?;
    let name = folder::id(&flight.report).and_then(|id| Name::of(&id, &flight.report, None));
    let (flight, standing) = match &name {
        Ok(name) => standing(session, flight, name)?,
        Err(_) => (flight, Standing::New(None)),
    };
    let mut checks = verify::profile::check(&flight.ascent, &flight.report.context);
    let verdict = verify::profile::verdict(&checks);
    // Those that every coded flight has are among its own findings.
    checks.retain(|check| !flight.findings.contains(check));
    let early = match out_of_time(&flight.report, (session.clock)(), None) {
        Some(OutOfTime::Future(why) | OutOfTime::TooOld(why)) => Some(why),
        None => None,
    };
    let previous = match &name {
        Ok(name) => session
            .memo
            .previous(&session.setup.out, &session.issued, name),
        Err(_) => Vec::new(),
    };
    Ok(Coded {
        checks,
        verdict,
        continuity: verify::continuity::check(&flight.report, &previous),
        compared: previous.len(),
        flight,
        early,
        name: name.map_err(|error| error.to_string()),
        standing,
    })
}

/// Why an order of the sheet cannot be carried out on the profile that is loaded.
pub(super) fn order_fault(session: &Session) -> Option<String> {
    let profile = session.state.profile.as_ref()?;
    match coded(session, profile, &session.sheet_text()) {
        Err(FlightError::Refused {
            why: Refused::Report(NotReported::Order(fault)),
            ..
        }) => Some(fault.to_string()),
        _ => None,
    }
}

/// Where a report stands, and the flight with the levels that were sent as far as they
/// still keep the limits.
fn standing(
    session: &Session,
    flight: Flight,
    name: &Name,
) -> Result<(Flight, Standing), FlightError> {
    let out = &session.setup.out;
    let practice = flight.report.context.coding.practice.clone();
    Ok(match sent::earlier_with(out, name, practice.as_ref()) {
        Ok(None) => {
            let late = folder::nil_is_out(out, name).then(|| folder::late(out, name));
            let late = late.flatten();
            let options = Options {
                bbb: late.clone(),
                ..Options::default()
            };
            // The other outputs follow from the text.
            let text = Wanted::from([Output::Text]);
            match early::remaining(&flight, out, name, &text, &options) {
                Ok(None) => (flight, Standing::New(late)),
                Ok(Some(remaining)) => {
                    let left = Left::of(&remaining, late);
                    (remaining.flight, Standing::Remaining(Box::new(left)))
                }
                Err(error) => (flight, Standing::Unread(error.to_string())),
            }
        }
        Err(error) => (flight, Standing::Unread(error.to_string())),
        Ok(Some(earlier)) => {
            let flight = flight.after(&earlier)?;
            let next = outputs::following(earlier.last.as_ref());
            let changes = changes(&flight, &earlier, next.as_ref());
            let sent = Sent {
                earlier,
                next,
                changes,
            };
            (flight, Standing::Issued(Box::new(sent)))
        }
    })
}

impl Left {
    fn of(remaining: &Remaining, late: Option<Bbb>) -> Self {
        let words = |made: &Outputs| made.differences.clone();
        let correction = remaining.correction.as_ref();
        let rest = remaining.rest.as_ref();
        Self {
            late,
            correction: correction.map(|(name, made)| (name.clone(), words(made))),
            parts: remaining.parts.iter().copied().collect(),
            findings: rest.map(|made| made.findings.clone()).unwrap_or_default(),
        }
    }
}

impl Standing {
    /// The letters that the page shows: what is issued is what was shown.
    pub(super) fn letters(&self) -> String {
        let text = |letter: Option<&Bbb>| letter.map_or("", Bbb::as_str).to_owned();
        match self {
            Self::New(late) => text(late.as_ref()),
            Self::Remaining(left) => {
                let correction = left.correction.as_ref().and_then(|(name, _)| name.bbb());
                format!("{}+{}", text(left.late.as_ref()), text(correction))
            }
            Self::Issued(sent) => text(sent.next.as_ref()),
            Self::Unread(_) => String::new(),
        }
    }
}

/// What would go out again; JSON says nothing of its own and takes long.
fn changes(flight: &Flight, earlier: &Earlier, next: Option<&Bbb>) -> Result<Changes, String> {
    let wanted: Wanted = match flight.message {
        Some(_) => [Output::Text, Output::Bufr].into(),
        None => [Output::Bufr].into(),
    };
    let options = Options {
        bbb: next.cloned(),
        ..Options::default()
    };
    let made =
        outputs::make(flight, &wanted, &options, Some(earlier)).map_err(|e| e.to_string())?;
    let parts = match (&earlier.message, &flight.message) {
        (Some(was), Some(now)) => parts(was, now),
        _ => Vec::new(),
    };
    Ok(Changes {
        differences: made.differences,
        parts,
    })
}

/// The parts that are not the same, with the groups between the first and the last
/// that differ.
fn parts(was: &Message, now: &Message) -> Vec<(Part, String)> {
    let one = |part: Part| {
        let now = now.groups(part)?;
        let Some(was) = was.groups(part) else {
            return Some((part, "new".to_owned()));
        };
        if was == now {
            return None;
        }
        let alike = |(a, b): &(&String, &String)| a == b;
        let front = was.iter().zip(&now).take_while(alike).count();
        let most = was.len().min(now.len()) - front;
        let back = was.iter().rev().zip(now.iter().rev());
        let back = back.take_while(alike).take(most).count();
        let middle = |groups: &[String]| {
            let end = groups.len() - back;
            let middle = groups.get(front..end).unwrap_or_default();
            if middle.is_empty() {
                "nothing".to_owned()
            } else {
                middle.join(" ")
            }
        };
        let (old, new) = (middle(&was), middle(&now));
        Some((part, format!("from group {}: {old} → {new}", front + 1)))
    };
    Part::ALL.into_iter().filter_map(one).collect()
}

impl Coded {
    /// The outputs of what is issued with the letters that the page showed, and the
    /// names they go under: a report, a correction, or what follows an early message.
    pub(super) fn make(
        &self,
        out: &Path,
        wanted: &Wanted,
        letters: &str,
    ) -> Result<Vec<(Name, Outputs)>, String> {
        if let Some(why) = &self.early {
            return Err(why.clone());
        }
        let name = self.name.clone()?;
        if let Standing::Unread(why) = &self.standing {
            return Err(why.clone());
        }
        if self.standing.letters() != letters {
            let what = "something was issued under this name since the page was shown; look again";
            return Err(what.to_owned());
        }
        let options = |bbb: &Option<Bbb>| Options {
            bbb: bbb.clone(),
            ..Options::default()
        };
        let one = |bbb: &Option<Bbb>, earlier| {
            let made = outputs::make(&self.flight, wanted, &options(bbb), earlier);
            made.map(|made| vec![(name.with(bbb.clone()), made)])
                .map_err(|error| error.to_string())
        };
        match &self.standing {
            Standing::New(late) => one(late, None),
            Standing::Issued(sent) => one(&sent.next, Some(&sent.earlier)),
            Standing::Unread(why) => Err(why.clone()),
            Standing::Remaining(left) => {
                let flight = &self.flight;
                let found = early::remaining(flight, out, &name, wanted, &options(&left.late));
                let gone = || "the early message is not there any more; look again".to_owned();
                let found = found.map_err(|error| error.to_string())?.ok_or_else(gone)?;
                let rest = found.rest.map(|made| (name.with(left.late.clone()), made));
                let issues: Vec<_> = found.correction.into_iter().chain(rest).collect();
                if issues.is_empty() {
                    return Err("all that is wanted is out with the early message".to_owned());
                }
                Ok(issues)
            }
        }
    }
}

fn nil(session: &Session, sheet_text: &str) -> Result<Nil, String> {
    let read = sheet::read(&[source(sheet_text)]);
    let (sheet, findings) = read.map_err(|error| {
        let faults = faults(&error);
        let named = faults.iter().map(|fault| match &fault.key {
            Some(key) => format!("{}: {}", label_of(key), fault.text),
            None => fault.text.clone(),
        });
        named.collect::<Vec<_>>().join("; ")
    })?;
    if sheet.context.flight.standard_time.is_none() {
        let label = label_of("flight.standard_time");
        return Err(format!("{label}: empty, and NIL needs it"));
    }
    let form = match session.state.form {
        Some(Form::Pilot) => Form::Pilot,
        _ => Form::Temp,
    };
    let (report, message) = issue::nil(form, &sheet.context).map_err(|e| e.to_string())?;
    let standard = sheet.context.flight.standard_time;
    if let Some(why) = standard.and_then(|time| standard_ahead(time, (session.clock)())) {
        return Err(why);
    }
    let name = folder::id(&report).and_then(|id| Name::of(&id, &report, None));
    let name = name.map_err(|e| e.to_string())?;
    Ok(Nil {
        report_out: folder::report_is_out(&session.setup.out, &name),
        name,
        report,
        message,
        findings,
    })
}
