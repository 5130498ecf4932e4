//! The sheet compared with a WIGOS metadata record of its station (WMDR 1.0, XML).
//!
//! Elements of the schema `http://def.wmo.int/wmdr/2017` (WMO-No. 1192; names from memory)
//! are known by their local names: of the `ObservingFacility` its `identifier`, `name`, the
//! `pos` of the last `GeospatialLocation` (degrees north, degrees east, m), `wmoRegion`,
//! `territoryName`, and of each `ObservingCapability` of the upper air the model of its
//! `Equipment`.

use itertools::Itertools;
use roxmltree::{Document, Node, ParsingOptions};
use thiserror::Error;

use super::station::{Listed, index, place};
use crate::model::finding::{Finding, Place, counted, finding};
use crate::model::{Context, Region, Station};

/// Most nodes of a record that are read.
const MAX_NODES: u32 = 1_000_000;
/// Most models named in a finding.
const MAX_MODELS: usize = 20;
/// The series of identifiers of stations with a WMO number.
const WMO_SERIES: &str = "0-20000-0-";

/// Why a record cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum RecordError {
    /// No XML.
    #[error("line {line}: this is no XML that can be read: {what}")]
    Xml {
        /// Line, from 1.
        line: u32,
        /// What is wrong.
        what: String,
    },
    /// XML of another kind.
    #[error("the root element is `{0}`; a WIGOS metadata record begins with `WIGOSMetadataRecord`")]
    Root(String),
    /// A record without a station.
    #[error(
        "the record has no ObservingFacility with an identifier; export the record of the station"
    )]
    NoFacility,
}

/// Compares the station of a sheet with its record.
///
/// # Errors
/// See [`RecordError`].
pub fn check(context: &Context, xml: &str, name: &str) -> Result<Vec<Finding>, RecordError> {
    let options = ParsingOptions {
        nodes_limit: MAX_NODES,
        ..ParsingOptions::default()
    };
    let document =
        Document::parse_with_options(xml, options).map_err(|error| RecordError::Xml {
            line: error.pos().row,
            what: error.to_string(),
        })?;
    let root = document.root_element();
    if !is(root, "WIGOSMetadataRecord") {
        return Err(RecordError::Root(root.tag_name().name().to_owned()));
    }
    let facilities: Vec<Node> = root
        .descendants()
        .filter(|node| is(*node, "ObservingFacility"))
        .collect();
    let station = &context.station;
    let identified: Vec<Node> = facilities
        .into_iter()
        .filter(|node| !identifiers(*node).is_empty())
        .collect();
    let own = |node: &&Node| identifiers(**node).iter().any(|id| names(station, id));
    let facility = identified.iter().find(own).or(identified.first());
    let facility = *facility.ok_or(RecordError::NoFacility)?;
    let at = |node: Node| {
        let row = document.text_pos_at(node.range().start).row;
        Place::line(name, usize::try_from(row).unwrap_or(0))
    };
    let mut findings = Vec::new();
    let ids = identifiers(facility);
    if !ids.iter().any(|id| names(station, id)) {
        findings.push(finding!(
            StationIdentifierDiffers,
            at(facility),
            record = ids.join(", "),
            sheet = called(station)
        ));
        return Ok(findings);
    }
    if let Some((own, theirs)) = station.name.as_deref().zip(child_text(facility, "name"))
        && own != theirs
    {
        findings.push(finding!(
            StationNameDiffers,
            at(facility),
            sheet = own,
            record = theirs
        ));
    }
    if let Some((node, listed)) = location(facility) {
        findings.extend(place(station, &listed, &at(node)));
    }
    let region = facility.descendants().find(|node| is(*node, "wmoRegion"));
    if let Some((node, region)) = region.and_then(|node| Some((node, region_of(node)?)))
        && context.coding.region != Region::None
        && context.coding.region != region
    {
        findings.push(finding!(
            StationRegionDiffers,
            at(node),
            record = number(region),
            sheet = number(context.coding.region)
        ));
    }
    findings.push(about(facility, &at(facility)));
    Ok(findings)
}

/// What the record says besides, which no key of a sheet has.
fn about(facility: Node<'_, '_>, at: &Place) -> Finding {
    let territory = facility
        .descendants()
        .find(|node| is(*node, "territoryName"));
    let capabilities = facility
        .descendants()
        .filter(|node| is(*node, "ObservingCapability") && upper_air(*node));
    let equipment = capabilities.clone().flat_map(|node| {
        let models = node.descendants().filter(|node| is(*node, "model"));
        models.filter_map(|node| node.text().map(str::trim))
    });
    let models = equipment.filter(|model| !model.is_empty()).unique();
    let models = models.take(MAX_MODELS).join(", ");
    let unnamed = || "not named".to_owned();
    finding!(
        StationRecord,
        at.clone(),
        territory = territory
            .and_then(value)
            .map_or_else(unnamed, str::to_owned),
        observations = counted(capabilities.count(), "observation"),
        equipment = if models.is_empty() { unnamed() } else { models }
    )
}

fn is(node: Node<'_, '_>, name: &str) -> bool {
    node.is_element() && node.tag_name().name() == name
}

fn child_text<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    let child = node.children().find(|child| is(*child, name))?;
    child.text().map(str::trim).filter(|text| !text.is_empty())
}

/// The value of an element: the last piece of the address in its attribute `href`, or its text.
fn value<'a>(node: Node<'a, '_>) -> Option<&'a str> {
    let href = node.attributes().find(|a| a.name() == "href");
    let code = href.and_then(|href| href.value().rsplit(['/', '#']).next());
    let text = code.or(node.text()).map(str::trim);
    text.filter(|text| !text.is_empty())
}

/// The WIGOS identifiers of a facility.
fn identifiers<'a>(facility: Node<'a, '_>) -> Vec<&'a str> {
    let own = facility.children().filter(|child| is(*child, "identifier"));
    let texts = own.filter_map(|node| node.text());
    texts
        .flat_map(|text| text.split([' ', ',', '|', ';', '\n']))
        .map(str::trim)
        .filter(|id| !id.is_empty())
        .collect()
}

/// Whether an identifier is that of the station of the sheet.
fn names(station: &Station, id: &str) -> bool {
    let number = id.strip_prefix(WMO_SERIES).and_then(index);
    station.wigos_id.as_deref() == Some(id)
        || number.is_some_and(|(block, number)| {
            station.wigos_id.is_none()
                && (station.wmo_block, station.wmo_number) == (Some(block), Some(number))
        })
}

/// How the sheet names its station.
fn called(station: &Station) -> String {
    let id = station.identifier();
    id.unwrap_or_else(|| "a station without identifiers".to_owned())
}

/// The last position of a facility: the one that begins latest.
fn location<'a, 'b>(facility: Node<'a, 'b>) -> Option<(Node<'a, 'b>, Listed)> {
    let begins = |node: &Node<'_, '_>| {
        let begin = node.descendants().find(|n| is(*n, "beginPosition"));
        begin.and_then(|n| n.text().map(str::to_owned))
    };
    let locations = facility
        .descendants()
        .filter(|node| is(*node, "GeospatialLocation"));
    let last = locations.max_by_key(begins)?;
    let pos = last.descendants().find(|node| is(*node, "pos"))?;
    let mut numbers = pos
        .text()?
        .split_whitespace()
        .map(|n| n.parse::<f64>().ok());
    let mut next = || numbers.next().flatten().filter(|n| n.is_finite());
    let listed = Listed {
        latitude: next(),
        longitude: next(),
        elevation: next(),
        ..Listed::default()
    };
    Some((pos, listed))
}

/// The Region of an element, by the notation of the code list.
fn region_of(node: Node<'_, '_>) -> Option<Region> {
    Some(match value(node)? {
        "africa" | "1" => Region::I,
        "asia" | "2" => Region::II,
        "southAmerica" | "3" => Region::III,
        "northCentralAmericaCaribbean" | "4" => Region::IV,
        "southWestPacific" | "5" => Region::V,
        "europe" | "6" => Region::VI,
        _ => return None,
    })
}

const fn number(region: Region) -> &'static str {
    match region {
        Region::None => "none",
        Region::I => "I",
        Region::II => "II",
        Region::III => "III",
        Region::IV => "IV",
        Region::V => "V",
        Region::VI => "VI",
    }
}

/// Whether a capability observes the upper air: its domain or application says so.
fn upper_air(capability: Node<'_, '_>) -> bool {
    let says = |node: Node<'_, '_>| {
        let code = value(node).unwrap_or_default().to_ascii_lowercase();
        code.contains("upperair") || code.contains("radiosonde")
    };
    let fields = [
        "observedGeometry",
        "stationType",
        "programAffiliation",
        "observedDomain",
    ];
    let named = |node: &Node<'_, '_>| fields.iter().any(|field| is(*node, field));
    capability.descendants().filter(named).any(says)
        || capability
            .descendants()
            .filter(|n| is(*n, "observingMethod"))
            .any(says)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An invented record of an invented station.
    const RECORD: &str = include_str!("../../tests/vectors/invented_station.xml");

    fn context() -> Context {
        let mut context = Context::default();
        let station = &mut context.station;
        station.wigos_id = Some("0-20000-0-99011".to_owned());
        station.wmo_block = Some(99);
        station.wmo_number = Some(11);
        station.name = Some("Hollow Down (invented)".to_owned());
        station.latitude_deg = Some(51.25);
        station.longitude_deg = Some(-3.4);
        station.elevation_m = Some(84.0);
        context.coding.region = Region::VI;
        context
    }

    fn found(context: &Context) -> Vec<String> {
        let findings = check(context, RECORD, "r.xml").unwrap();
        findings.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_sheet_that_agrees_has_one_note() {
        let [only] = found(&context()).try_into().unwrap();
        assert!(
            only.starts_with(
                "info: r.xml:6: the record of the station was compared: territory XYZ, 1 observation \
                 of the upper air, equipment Invented Sonde 9"
            ),
            "{only}"
        );
        let by_number = Context {
            station: Station {
                wigos_id: None,
                ..context().station
            },
            ..context()
        };
        assert_eq!(found(&by_number).len(), 1);
    }

    #[test]
    fn differences_have_their_line() {
        let mut off = context();
        off.station.name = Some("Elsewhere".to_owned());
        // The position of 1998, which the record has replaced.
        off.station.latitude_deg = Some(51.20);
        off.station.elevation_m = None;
        off.coding.region = Region::IV;
        let found = found(&off);
        assert!(found[0].contains("called Elsewhere in the sheet and Hollow Down (invented)"));
        assert!(
            found[1].starts_with("warning: r.xml:27: latitude_deg is 51.2"),
            "{found:?}"
        );
        assert!(
            found[2].contains("elevation_m is missing from the sheet"),
            "{found:?}"
        );
        assert!(found[3].contains("Region VI, and the sheet follows the practice of Region IV"));
        let mut other = context();
        other.station.wigos_id = Some("0-20000-0-99012".to_owned());
        let [only] = self::found(&other).try_into().unwrap();
        assert!(
            only.starts_with("error: r.xml:6: the record is one of 0-20000-0-99011"),
            "{only}"
        );
    }

    #[test]
    fn what_is_no_record_is_refused() {
        let refused = |xml: &str| check(&context(), xml, "r.xml").unwrap_err().to_string();
        assert!(refused("").starts_with("line 1: this is no XML"));
        assert!(refused("<a><b></a>").starts_with("line 1: this is no XML"));
        assert!(refused("<!DOCTYPE a [<!ENTITY x 'y'>]><a>&x;</a>").starts_with("line 1: "));
        assert!(refused("<kml/>").contains("`kml`"));
        assert!(refused("<WIGOSMetadataRecord/>").contains("no ObservingFacility"));
    }
}
