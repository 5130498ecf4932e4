//! One sheet file, checked alone against the schema.

use std::cmp::Reverse;
use std::ops::Range;

use jiff::Timestamp;
use jiff::civil::DateTime;
use serde_json::Number;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::entry::Entry;
use super::{Fault, MAX_FAULTS, MAX_SHEET_BYTES, Places, SheetFault, Source, keys};
use crate::model::finding::Place;
use crate::model::shape::Shape;
use crate::model::utc;

/// The longest piece of a value or key that a message repeats, characters.
const MAX_SHOWN: usize = 64;

/// What a file gives when it is checked.
pub(super) struct Checked {
    /// The keys that passed.
    pub table: toml::Table,
    /// Where each stands.
    pub places: Places,
    /// The faults.
    pub errors: Vec<SheetFault>,
}

/// Parses and checks one file.
pub(super) fn file(source: &Source<'_>) -> Checked {
    let mut checker = Checker {
        name: source.name,
        text: source.text.strip_prefix('\u{feff}').unwrap_or(source.text),
        places: Places::new(),
        errors: Vec::new(),
        lines: LineIndex::default(),
    };
    checker.lines = LineIndex::new(checker.text);
    let table = checker.run();
    Checked {
        table,
        places: checker.places,
        errors: checker.errors,
    }
}

/// The offsets at which lines start.
#[derive(Default)]
struct LineIndex(Vec<usize>);

impl LineIndex {
    fn new(text: &str) -> Self {
        let breaks = text.bytes().enumerate().filter(|&(_, b)| b == b'\n');
        Self(
            std::iter::once(0)
                .chain(breaks.map(|(i, _)| i + 1))
                .collect(),
        )
    }

    /// Line and offset of its start.
    fn line(&self, offset: usize) -> (usize, usize) {
        let line = self.0.partition_point(|&start| start <= offset);
        let start = line.checked_sub(1).and_then(|i| self.0.get(i));
        (line.max(1), start.copied().unwrap_or(0))
    }
}

struct Checker<'a> {
    name: &'a str,
    text: &'a str,
    places: Places,
    errors: Vec<SheetFault>,
    lines: LineIndex,
}

impl Checker<'_> {
    fn run(&mut self) -> toml::Table {
        if self.text.len() > MAX_SHEET_BYTES {
            let fault = Fault::TooLong {
                bytes: self.text.len(),
                limit: MAX_SHEET_BYTES,
            };
            self.errors.push(SheetFault {
                place: Place::default().in_file(self.name),
                fault,
            });
            return toml::Table::new();
        }
        let (document, mut faults) = DeTable::parse_recoverable(self.text);
        faults.sort_by_key(|fault| fault.span().map(|span| span.start));
        let mut sound = true;
        for fault in faults.iter().take(MAX_FAULTS) {
            let span = fault.span().unwrap_or(0..0);
            if self.is_given_again(document.get_ref(), &span) {
                let key = shown(self.text.get(span.clone()).unwrap_or_default());
                self.fault(span, None, Fault::Duplicate { key });
            } else {
                let message = fault.message().to_owned();
                self.fault(span, None, Fault::Syntax { message });
                sound = false;
            }
        }
        if !sound {
            // What recovery makes of broken text would only add noise.
            return toml::Table::new();
        }
        self.table(keys::all(), document.get_ref(), document.span(), "")
    }

    /// Whether a fault of the parser lies on a key that the document has in another place:
    /// the key is the whole span, and its value or the end of a heading follows.
    fn is_given_again(&self, document: &DeTable<'_>, span: &Range<usize>) -> bool {
        let after = self.text.get(span.end..).unwrap_or_default().trim_start();
        let key = self.text.get(span.clone()).unwrap_or_default();
        !key.is_empty()
            && after.starts_with(['=', '.', ']'])
            && self.has_elsewhere(document, key, span)
    }

    fn has_elsewhere(&self, table: &DeTable<'_>, key: &str, but: &Range<usize>) -> bool {
        table.iter().any(|(own, value)| {
            let at = own.span();
            let here = at != *but && self.text.get(at) == Some(key);
            here || self.value_has(value.get_ref(), key, but)
        })
    }

    fn value_has(&self, value: &DeValue<'_>, key: &str, but: &Range<usize>) -> bool {
        match value {
            DeValue::Table(table) => self.has_elsewhere(table, key, but),
            DeValue::Array(items) => {
                let mut items = items.iter();
                items.any(|item| self.value_has(item.get_ref(), key, but))
            }
            _ => false,
        }
    }

    fn place(&self, offset: usize, key: Option<&str>) -> Place {
        let (line, start) = self.lines.line(offset.min(self.text.len()));
        let before = self.text.get(start..offset).unwrap_or_default();
        let mut place = Place::line(self.name, line).at_column(before.chars().count() + 1);
        place.key = key.map(str::to_owned);
        place
    }

    fn fault(&mut self, span: Range<usize>, key: Option<&str>, fault: Fault) {
        if self.errors.len() < MAX_FAULTS {
            let place = self.place(span.start, key);
            self.errors.push(SheetFault { place, fault });
        }
    }

    fn table(
        &mut self,
        entry: &Entry,
        table: &DeTable<'_>,
        span: Range<usize>,
        path: &str,
    ) -> toml::Table {
        let mut out = toml::Table::new();
        let mut entries: Vec<_> = table.iter().collect();
        entries.sort_by_key(|(key, _)| key.span().start);
        for (key, value) in entries {
            if self.errors.len() >= MAX_FAULTS {
                break;
            }
            let name = key.get_ref().as_ref();
            let Some(inner) = entry.property(name).or_else(|| entry.other()) else {
                self.unknown(entry, name, key.span(), path);
                continue;
            };
            let inner_path = join(path, name);
            if let Some(value) = self.value(inner, value, &inner_path) {
                let place = self.place(self.value_start(table, name), Some(&inner_path));
                self.places.insert(inner_path, place);
                out.insert(name.to_owned(), value);
            }
        }
        for &key in &entry.required {
            let empty = table.get(key).is_some_and(|v| is_empty(v.get_ref()));
            if !table.contains_key(key) || empty {
                let fault = Fault::Missing {
                    key: join(path, key),
                    what: format!("every {} needs it", heading(path)),
                    example: example(entry.property(key), key),
                };
                self.fault(span.clone(), Some(&join(path, key)), fault);
            }
        }
        out
    }

    fn value_start(&self, table: &DeTable<'_>, name: &str) -> usize {
        table.get(name).map_or(0, |value| value.span().start)
    }

    fn unknown(&mut self, entry: &Entry, name: &str, span: Range<usize>, path: &str) {
        let mut known: Vec<String> = entry.properties.keys().map(ToString::to_string).collect();
        let elsewhere = || {
            let mut tables = keys::all().properties.iter();
            tables.find_map(|(table, inside)| {
                inside.property(name).map(|_| format!("{table}.{name}"))
            })
        };
        let nearest = nearest(name, &known).or_else(elsewhere);
        known.sort();
        let fault = Fault::UnknownKey {
            key: shown(name),
            table: if path.is_empty() {
                "at the top of the sheet".to_owned()
            } else {
                format!("in {}", heading(path))
            },
            nearest,
            known,
        };
        self.fault(span, Some(&join(path, &shown(name))), fault);
    }

    /// Checks a value; `None` when it is at fault or an empty string.
    fn value(
        &mut self,
        entry: &Entry,
        value: &Spanned<DeValue<'_>>,
        path: &str,
    ) -> Option<toml::Value> {
        let span = value.span();
        let wanted = entry.kind();
        match (wanted, value.get_ref()) {
            ("object", DeValue::Table(table)) => {
                Some(toml::Value::Table(self.table(entry, table, span, path)))
            }
            ("array", DeValue::Array(items)) => {
                if let Some(most) = entry.max_items
                    && u64::try_from(items.len()).is_ok_and(|n| n > most)
                {
                    let value = format!("[… {} items]", items.len());
                    self.out_of_range(span, path, value, format!("at most {most}"));
                    return None;
                }
                let inner = entry.items.as_deref()?;
                let mut out = Vec::with_capacity(items.len());
                for (i, item) in items.iter().enumerate() {
                    // A string of a list may well be empty.
                    if inner.kind() == "string" && is_empty(item.get_ref()) {
                        out.push(toml::Value::String(String::new()));
                    } else {
                        out.extend(self.value(inner, item, &format!("{path}[{}]", i + 1)));
                    }
                }
                Some(toml::Value::Array(out))
            }
            ("string" | "integer" | "number" | "boolean", found) if is_empty(found) => None,
            ("string", DeValue::String(text)) => self.string(entry, text, span, path),
            ("string", DeValue::Datetime(time)) if entry.is_time() => {
                self.string(entry, &time.to_string(), span, path)
            }
            ("boolean", DeValue::Boolean(flag)) => Some(toml::Value::Boolean(*flag)),
            ("integer" | "number", DeValue::Integer(figures)) => {
                match i64::from_str_radix(figures.as_str(), figures.radix()) {
                    Ok(number) => {
                        #[expect(
                            clippy::cast_precision_loss,
                            reason = "bounds are far below 2^53, and rounding keeps the order"
                        )]
                        let at = number as f64;
                        let passed = if wanted == "integer" {
                            toml::Value::Integer(number)
                        } else {
                            toml::Value::Float(at)
                        };
                        self.bounded(entry, at, &figures.to_string(), span, path)
                            .then_some(passed)
                    }
                    Err(_) => self.too_big(entry, figures.as_str(), span, path),
                }
            }
            ("number", DeValue::Float(figures)) => match figures.as_str().parse::<f64>() {
                Ok(number) => self
                    .bounded(entry, number, figures.as_str(), span, path)
                    .then_some(toml::Value::Float(number)),
                Err(_) => self.too_big(entry, figures.as_str(), span, path),
            },
            (_, found) => {
                let fault = Fault::Mistyped {
                    key: path.to_owned(),
                    found: found_name(found),
                    wanted: if entry.is_time() {
                        "a time"
                    } else {
                        wanted_name(wanted)
                    },
                };
                self.fault(span, Some(path), fault);
                None
            }
        }
    }

    fn out_of_range(&mut self, span: Range<usize>, path: &str, value: String, allowed: String) {
        let key = path.to_owned();
        let fault = Fault::OutOfRange {
            key,
            value,
            allowed,
        };
        self.fault(span, Some(path), fault);
    }

    fn too_big(
        &mut self,
        entry: &Entry,
        figures: &str,
        span: Range<usize>,
        path: &str,
    ) -> Option<toml::Value> {
        self.out_of_range(span, path, shown(figures), range(entry));
        None
    }

    fn bounded(
        &mut self,
        entry: &Entry,
        number: f64,
        written: &str,
        span: Range<usize>,
        path: &str,
    ) -> bool {
        let bound = |number: &Option<Number>| number.as_ref().and_then(Number::as_f64);
        let least = bound(&entry.minimum).unwrap_or(f64::MIN);
        let most = bound(&entry.maximum).unwrap_or(f64::MAX);
        let inside = (least..=most).contains(&number);
        if !inside {
            self.out_of_range(span, path, shown(written), range(entry));
        }
        inside
    }

    fn string(
        &mut self,
        entry: &Entry,
        text: &str,
        span: Range<usize>,
        path: &str,
    ) -> Option<toml::Value> {
        let key = path.to_owned();
        let value = shown(text);
        let listed: Vec<String> = entry.choices().into_iter().map(str::to_owned).collect();
        let shape = Shape::ALL
            .into_iter()
            .find(|shape| entry.pattern == shape.pattern());
        let most = entry.max_length.unwrap_or(u64::MAX);
        let length = u64::try_from(text.chars().count()).unwrap_or(u64::MAX);
        let fault = if !listed.is_empty() && !listed.iter().any(|choice| choice == text) {
            let nearest = nearest(text, &listed);
            Fault::NotListed {
                key,
                value,
                nearest,
                allowed: listed,
            }
        } else if length > most {
            let allowed = format!("at most {most} characters");
            Fault::OutOfRange {
                key,
                value,
                allowed,
            }
        } else if let Some(shape) = shape.filter(|shape| !shape.fits(text)) {
            Fault::Malformed {
                key,
                value,
                wanted: shape.wanted(),
            }
        } else if entry.is_time() && utc::parse(text).is_none() {
            time_fault(key, text)
        } else {
            return Some(toml::Value::String(text.to_owned()));
        };
        self.fault(span, Some(path), fault);
        None
    }
}

/// Why a text is no time in UTC: its zone, or all of it.
fn time_fault(key: String, text: &str) -> Fault {
    let value = shown(text);
    let local = text.len() <= MAX_SHOWN && {
        let zoned = text.parse::<Timestamp>().is_ok();
        zoned || (text.len() > 10 && text.parse::<DateTime>().is_ok())
    };
    if local {
        Fault::NotUtc { key, value }
    } else {
        Fault::Malformed {
            key,
            value,
            wanted: "a time in UTC (RFC 3339) such as 2031-01-15T11:23:40Z",
        }
    }
}

fn is_empty(value: &DeValue<'_>) -> bool {
    value.as_str().is_some_and(str::is_empty)
}

fn range(entry: &Entry) -> String {
    match (&entry.minimum, &entry.maximum) {
        (Some(least), Some(most)) => format!("{least} to {most}"),
        (Some(least), None) => format!("{least} or more"),
        (None, Some(most)) => format!("{most} or less"),
        (None, None) => "a finite number".to_owned(),
    }
}

/// What might be written for a key that is missing in an order.
fn example(entry: Option<&Entry>, key: &str) -> String {
    match entry.and_then(|entry| entry.choices().into_iter().next()) {
        Some(choice) => format!("{key} = {choice:?}"),
        None if entry.is_none_or(|entry| entry.kind() == "string") => {
            format!("{key} = \"sensor wet\"")
        }
        None => format!("{key} = 500"),
    }
}

/// The known word that another most resembles, if it resembles any.
fn nearest(word: &str, known: &[String]) -> Option<String> {
    if word.chars().count() > MAX_SHOWN {
        return None;
    }
    let lower = word.to_lowercase();
    let shared = |k: &str| {
        lower
            .chars()
            .zip(k.chars())
            .take_while(|(a, b)| a == b)
            .count()
    };
    known
        .iter()
        .map(|k| {
            let other = k.to_lowercase();
            let distance = strsim::damerau_levenshtein(&lower, &other);
            // Of equally near words, the one that begins alike.
            (distance, Reverse(shared(&other)), k)
        })
        .min()
        .filter(|&(distance, _, k)| distance <= (k.chars().count() / 3).max(1))
        .map(|(_, _, k)| k.clone())
}

fn join(path: &str, name: &str) -> String {
    if path.is_empty() {
        name.to_owned()
    } else {
        format!("{path}.{name}")
    }
}

/// The heading of a table as TOML writes it.
fn heading(path: &str) -> String {
    match path.split_once('[') {
        Some((name, _)) => format!("[[{name}]]"),
        None => format!("[{path}]"),
    }
}

fn shown(text: &str) -> String {
    let mut short: String = text.chars().take(MAX_SHOWN).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    short
}

fn found_name(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a string",
        DeValue::Integer(_) => "an integer",
        DeValue::Float(_) => "a number with a point",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a time",
        DeValue::Array(_) => "an array",
        DeValue::Table(_) => "a table",
    }
}

fn wanted_name(kind: &str) -> &'static str {
    match kind {
        "object" => "a table",
        "array" => "an array",
        "boolean" => "true or false",
        "integer" => "an integer",
        "number" => "a number",
        _ => "a string",
    }
}
