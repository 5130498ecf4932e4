//! The diagram of a flight as SVG: what was measured, what is reported of it, and
//! how well the message gives the flight back.
//!
//! A temperature panel (logarithm of pressure upwards, isotherms leaning over to
//! the right, adiabats and lines of equal mixing ratio), wind symbols, strips of
//! departure, humidity and wind with the tolerance around the curve that a
//! receiver of the message draws, and a hodograph. Without temperatures, or by
//! height, the hodograph takes the place of the temperature panel.
//!
//! Nothing is read or written here, and the same report gives the same bytes.

mod data;
mod hodograph;
mod labels;
mod legend;
mod marks;
mod page;
mod panels;
mod path;
mod scale;
mod strips;
mod theme;
mod thermal;
mod uprights;
mod wind_symbol;
mod words;

pub(crate) use page::outside_xml;
pub use page::{HEIGHT, WIDTH};
pub use panels::{Leaning, Panels, Strip};
pub use scale::Scale;
pub(crate) use theme::style_sheet;
pub use theme::{Style, Theme};
pub(crate) use thermal::minus;
pub(crate) use uprights::hpa;
pub use wind_symbol::{Hemisphere, WindSymbol};
pub(crate) use words::title;

use std::collections::BTreeSet;
use std::fmt;

use crate::model::fidelity::Fidelity;
use crate::model::{Profile, Report};
use data::Data;
use labels::Area;

/// A diagram in its pieces, for a page around it. Its `Display` is the whole as SVG 1.1.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    head: String,
    /// The style sheet.
    pub css: String,
    body: String,
    /// The levels that are drawn, by their number in [`Report::levels`] from 0; the others
    /// lie outside the panels.
    pub levels: BTreeSet<usize>,
}

impl Drawing {
    /// The picture without its style sheet, for a page that has it elsewhere.
    #[must_use]
    pub fn without_css(&self) -> String {
        format!("{}{}", self.head, self.body)
    }
}

impl fmt::Display for Drawing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            head, css, body, ..
        } = self;
        write!(f, "{head}<style>{css}</style>{body}")
    }
}

/// Draws a flight and its report; `fidelity` adds the table of departures.
///
/// The curve of the message is rebuilt from the report as it is coded; a descent,
/// which has no text code, from the levels themselves. Every level of the report
/// is a group with the attributes `id="level-N"`, `data-level="N"`, N from 0 in the
/// order of [`Report::levels`].
///
/// ```
/// use fivefig::view::diagram::{Style, diagram};
/// use fivefig::input::sheet;
/// use fivefig::input::sheet::Source;
/// use fivefig::model::{Form, Reach};
/// use fivefig::{input, issue, profile};
///
/// let name = "winter_jet";
/// let sheet = std::fs::read_to_string(format!("samples/{name}.toml"))?;
/// let rows = std::fs::read(format!("samples/{name}.csv"))?;
/// let (sheet, _) = sheet::read(&[Source { name, text: &sheet }])?;
/// let raw = input::text::read(&rows, name, &sheet.reading)?.value;
/// let ascent = profile::build(&raw, &sheet.context)?.value;
/// let coded = issue::code(Form::Temp, &ascent, &sheet.context, Reach::Whole)?;
/// let drawing = diagram(&ascent, &coded.report, Some(&coded.fidelity), &Style::default());
/// let svg = drawing.to_string();
/// assert!(svg.starts_with("<svg ") && svg.contains("id=\"level-0\""));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn diagram(
    profile: &Profile,
    report: &Report,
    fidelity: Option<&Fidelity>,
    style: &Style,
) -> Drawing {
    let data = Data::new(profile, report);
    let panels = Panels::of(&data);
    let mut page = page::Page::default();
    words::heading(&mut page, &data);
    uprights::behind(&mut page, &data, &panels);
    if let Some(leaning) = &panels.temperature {
        thermal::draw(&mut page, &data, &panels, leaning);
    }
    strips::draw(&mut page, &data, &panels);
    uprights::tropopauses(&mut page, &data, &panels);
    uprights::winds(&mut page, &data, &panels);
    if data.windy {
        let (area, title_y) = hodograph_area(&panels);
        hodograph::draw(&mut page, &data, area, title_y);
    }
    let levels = marks::draw(&mut page, &data, &panels);
    legend::draw(&mut page, &data, &panels);
    if let Some(fidelity) = fidelity {
        legend::fidelity(&mut page, &data, fidelity, FIDELITY);
    }
    let summary = words::summary(&data, fidelity);
    let (head, body) = page.finish(&title(report), &summary);
    Drawing {
        head,
        css: format!("\n{}", style_sheet(*style)),
        body,
        levels,
    }
}

/// The panels and scales of a diagram: where a page around it finds a value.
#[must_use]
pub fn panels(profile: &Profile, report: &Report) -> Panels {
    Panels::of(&Data::new(profile, report))
}

/// Left edge of the table of departures.
const FIDELITY: f64 = 500.0;

/// Where the hodograph and its title stand: beside the table, or in the place of
/// the temperatures.
fn hodograph_area(panels: &Panels) -> (Area, f64) {
    match panels.temperature {
        Some(_) => (Area::new(930.0, 692.0, 1260.0, 893.0), 684.0),
        None => (panels.first(), panels::TOP - 22.0),
    }
}
