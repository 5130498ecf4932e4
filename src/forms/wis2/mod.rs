//! Sharing a file through WIS2: the notification message that says where it is,
//! the topic it goes to, and the file's name.
//!
//! Sources: Manual on WIS, WMO-No. 1060 Vol. II; WIS2 Notification Message
//! 1.3.0 (wmo-im/wis2-notification-message); WIS2 Topic Hierarchy 1.3.0
//! (wmo-im/wis2-topic-hierarchy).
//!
//! Nothing here sends anything or looks at a clock: the same report, file and
//! time of publication give the same octets. Feature `mqtt` adds `publish`,
//! which sends one notification to one broker that the caller names.

mod digest;
pub(crate) mod names;
#[cfg(feature = "mqtt")]
pub mod publish;
#[cfg(test)]
mod tests;

use jiff::civil::DateTime;
use serde::Serialize;
use thiserror::Error;

use crate::model::shape::{Shape, metadata_centre};
use crate::model::{Report, Station, When, utc};
use names::Identity;

/// The conformance class that the message states.
pub const CONFORMS_TO: &str = "http://wis.wmo.int/spec/wnm/1/conf/core";

/// The longest message, octets.
pub const MAX_MESSAGE: usize = 8192;

/// The longest inline value, octets after encoding.
pub const MAX_CONTENT: usize = 4096;

/// The media type of a BUFR file.
const MEDIA_TYPE: &str = "application/bufr";

/// What the publisher decides for one file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Publication {
    /// Time of publication, UTC.
    pub pubtime: DateTime,
    /// Update sequence number: 0 for a new file, 1 for its first correction …
    pub update: u8,
}

/// All it takes to share a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Share {
    /// The topic the notification goes to.
    pub topic: String,
    /// Name of the file without its ending; the notification's own file is
    /// called the same.
    pub stem: String,
    /// The notification.
    pub notification: Notification,
}

impl Share {
    /// Name of the file as the notification's link has it.
    #[must_use]
    pub fn file_name(&self) -> String {
        names::file_name(&self.stem)
    }
}

/// A notification message: a GeoJSON feature that tells of one file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Notification {
    /// A UUID that follows from link, `data_id`, `pubtime` and digest, so that
    /// the same notification has the same id however often it is made.
    pub id: String,
    /// [`CONFORMS_TO`].
    #[serde(rename = "conformsTo")]
    pub conforms_to: [&'static str; 1],
    /// `Feature`.
    #[serde(rename = "type")]
    pub kind: &'static str,
    /// Where the sounding was made; `None` when its position is not known.
    pub geometry: Option<Point>,
    /// What the message says of the file.
    pub properties: Properties,
    /// Where the file is: one link.
    pub links: [Link; 1],
}

/// A point in WGS 84.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Point {
    /// `Point`.
    #[serde(rename = "type")]
    pub kind: &'static str,
    /// Degrees east, degrees north and, where known, height of the ground, m.
    pub coordinates: Vec<f64>,
}

/// What a notification says of its file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Properties {
    /// Time of publication, UTC.
    #[serde(with = "utc::required")]
    pub pubtime: DateTime,
    /// Time of the data, UTC: the release of the sounding, when its first level
    /// was measured. The standard time stands in `data_id`.
    #[serde(with = "utc::required")]
    pub datetime: DateTime,
    /// Identifier of the sounding; a correction keeps it.
    pub data_id: String,
    /// Identifier of the discovery metadata record.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub metadata_id: Option<String>,
    /// The file's digest.
    pub integrity: Integrity,
    /// The file itself, when it is short.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub content: Option<Content>,
}

/// The digest of a file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Integrity {
    /// `sha256`.
    pub method: &'static str,
    /// The digest, base64.
    pub value: String,
}

/// A file inside the message.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Content {
    /// `base64`.
    pub encoding: &'static str,
    /// Octets of the file.
    pub size: usize,
    /// The file, encoded.
    pub value: String,
}

/// Where a file is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Link {
    /// Its address.
    pub href: String,
    /// `canonical` for a new file, `update` for a correction.
    pub rel: &'static str,
    /// Its media type.
    #[serde(rename = "type")]
    pub media_type: &'static str,
    /// Its octets.
    pub length: usize,
}

/// Why a file cannot be shared.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum Wis2Error {
    /// An option is missing.
    #[error("wis2.{0}: missing from the sheet; write {1} under [wis2]")]
    Lacks(&'static str, &'static str),
    /// An option of the wrong shape.
    #[error("wis2.{key} is {value:?}; {wanted} is expected")]
    Malformed {
        /// The key.
        key: &'static str,
        /// Its value.
        value: String,
        /// What is wanted.
        wanted: &'static str,
    },
    /// The metadata record of another centre.
    #[error(
        "wis2.metadata_id is of the centre `{found}`, wis2.centre_id is `{wanted}`; both name the same centre"
    )]
    OtherCentre {
        /// The centre in the identifier.
        found: String,
        /// The centre that publishes.
        wanted: String,
    },
    /// Day and hour alone.
    #[error(
        "the report has no complete release and standard time; text messages give day and hour only, so use JSON, BUFR or the profile"
    )]
    NoTime,
    /// Published before it was made.
    #[error(
        "the time of publication {pubtime}Z is before the release {release}Z; check the clock and flight.release"
    )]
    TooEarly {
        /// Time of publication.
        pubtime: DateTime,
        /// Time of release.
        release: DateTime,
    },
    /// Nothing says which station it is.
    #[error(
        "the station has no identifier: give station.wigos_id, or wmo_block and wmo_number of a land station, or call_sign"
    )]
    NoIdentity,
    /// An identifier that cannot be part of a name.
    #[error(
        "the station's identifier {0:?} cannot be part of a name (1 to 40 letters, figures and dashes)"
    )]
    Identity(String),
    /// No topic for this kind of sounding.
    #[error("WIS2 has no topic for dropped sondes; arrange with your node how they are shared")]
    NoTopic,
    /// A position that cannot be.
    #[error("the station's {key} is {value}; {low} to {high} is allowed")]
    Position {
        /// Which coordinate.
        key: &'static str,
        /// Its value.
        value: f64,
        /// The least.
        low: f64,
        /// The greatest.
        high: f64,
    },
    /// Not a whole BUFR message.
    #[error("the file is not a BUFR message: it {0}")]
    NotBufr(&'static str),
    /// The message is too long.
    #[error(
        "the notification has {octets} bytes, at most {MAX_MESSAGE} are allowed; shorten wis2.base_url"
    )]
    TooLong {
        /// Its octets.
        octets: usize,
    },
}

/// Makes the notification of a file, its topic and its name.
///
/// The sheet's `[wis2]` options, the station, the times and the reach are taken
/// from the report; `file` is the BUFR message as it will be given out. The early
/// message and the whole sounding are two objects, each `canonical`; a correction
/// (`update` above 0) keeps `data_id`, has a file of its own and is linked as
/// `update`.
///
/// # Errors
/// An option or identifier that is missing or of the wrong shape, a report
/// without its full time, a dropped sonde (there is no topic), a file that is no
/// BUFR message, and a message beyond [`MAX_MESSAGE`].
pub fn share(report: &Report, file: &[u8], publication: &Publication) -> Result<Share, Wis2Error> {
    let stem = Identity::of(report).map(|identity| identity.stem(publication.update));
    let name = stem.as_deref().map(names::file_name).unwrap_or_default();
    share_as(report, file, &name, publication)
}

/// The same of a file that has a name of its own below `base_url`.
///
/// # Errors
/// As [`share`].
pub fn share_as(
    report: &Report,
    file: &[u8],
    name: &str,
    publication: &Publication,
) -> Result<Share, Wis2Error> {
    let options = &report.context.wis2;
    let centre = options.centre_id.as_deref();
    let centre = centre.ok_or(Wis2Error::Lacks("centre_id", "centre_id = \"xx-name\""))?;
    if !Shape::CentreId.fits(centre) {
        return Err(malformed("centre_id", centre, Shape::CentreId));
    }
    let base = options.base_url.as_deref();
    let base = base.ok_or(Wis2Error::Lacks(
        "base_url",
        "base_url = \"https://HOST/FOLDER/\"",
    ))?;
    if !Shape::BaseUrl.fits(base) {
        return Err(malformed("base_url", base, Shape::BaseUrl));
    }
    if let Some(id) = &options.metadata_id {
        match metadata_centre(id) {
            None => return Err(malformed("metadata_id", id, Shape::MetadataId)),
            Some(found) if found != centre => {
                return Err(Wis2Error::OtherCentre {
                    found: found.to_owned(),
                    wanted: centre.to_owned(),
                });
            }
            Some(_) => {}
        }
    }
    let When::Full { release, .. } = report.when else {
        return Err(Wis2Error::NoTime);
    };
    if publication.pubtime < release {
        return Err(Wis2Error::TooEarly {
            pubtime: publication.pubtime,
            release,
        });
    }
    whole_bufr(file)?;
    let identity = Identity::of(report)?;
    let stem = identity.stem(publication.update);
    let separator = if base.ends_with('/') { "" } else { "/" };
    let href = format!("{base}{separator}{name}");
    let data_id = identity.data_id(centre);
    let value = digest::base64(&digest::sha256(file));
    let name = format!(
        "{href} {data_id} {} {value}",
        utc::print(publication.pubtime)
    );
    let notification = Notification {
        id: digest::uuid(&digest::URL_NAMESPACE, name.as_bytes()),
        conforms_to: [CONFORMS_TO],
        kind: "Feature",
        geometry: point(&report.context.station)?,
        properties: Properties {
            pubtime: publication.pubtime,
            datetime: release,
            data_id,
            metadata_id: options.metadata_id.clone(),
            integrity: Integrity {
                method: "sha256",
                value,
            },
            content: content(file),
        },
        links: [Link {
            href,
            rel: if publication.update == 0 {
                "canonical"
            } else {
                "update"
            },
            media_type: MEDIA_TYPE,
            length: file.len(),
        }],
    };
    let octets = notification.to_string().len();
    if octets > MAX_MESSAGE {
        return Err(Wis2Error::TooLong { octets });
    }
    Ok(Share {
        topic: identity.topic(centre, options.policy),
        stem,
        notification,
    })
}

impl std::fmt::Display for Notification {
    /// The message as it is published: JSON on one line, without a line end.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let text = serde_json::to_string(self).map_err(|_| std::fmt::Error)?;
        f.write_str(&text)
    }
}

fn malformed(key: &'static str, value: &str, shape: Shape) -> Wis2Error {
    Wis2Error::Malformed {
        key,
        value: value.to_owned(),
        wanted: shape.wanted(),
    }
}

/// Whether a file begins and ends as a BUFR message does; its inside is the
/// encoder's.
fn whole_bufr(file: &[u8]) -> Result<(), Wis2Error> {
    if !file.starts_with(b"BUFR") {
        return Err(Wis2Error::NotBufr("does not begin with BUFR"));
    }
    if !file.ends_with(b"7777") {
        return Err(Wis2Error::NotBufr("does not end with 7777"));
    }
    Ok(())
}

/// The file inside the message, when its encoded form is short enough.
fn content(file: &[u8]) -> Option<Content> {
    let value = digest::base64(file);
    (value.len() <= MAX_CONTENT).then_some(Content {
        encoding: "base64",
        size: file.len(),
        value,
    })
}

/// Where a station stands: longitude, latitude and height of the ground.
fn point(station: &Station) -> Result<Option<Point>, Wis2Error> {
    let (Some(latitude), Some(longitude)) = (station.latitude_deg, station.longitude_deg) else {
        return Ok(None);
    };
    // The height of ground anywhere on Earth lies far inside these bounds.
    let height = station.elevation_m;
    for (key, value, low, high) in [
        ("latitude_deg", Some(latitude), -90.0, 90.0),
        ("longitude_deg", Some(longitude), -180.0, 180.0),
        ("elevation_m", height, -1000.0, 10_000.0),
    ] {
        if let Some(value) = value.filter(|v| !(low..=high).contains(v)) {
            return Err(Wis2Error::Position {
                key,
                value,
                low,
                high,
            });
        }
    }
    Ok(Some(Point {
        kind: "Point",
        coordinates: [longitude, latitude].into_iter().chain(height).collect(),
    }))
}
