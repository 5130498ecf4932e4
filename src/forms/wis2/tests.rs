use std::sync::LazyLock;

use insta::assert_snapshot;
use serde_json::{Value, json};

use super::*;
use crate::model::{Context, Flight, Form, Motion, Policy, Reach, StationKind, Wis2Options};

fn at(text: &str) -> DateTime {
    utc::parse(text).unwrap()
}

/// A report of an invented station without levels: nothing here looks at them.
fn report() -> Report {
    let context = Context {
        station: Station {
            wmo_block: Some(99),
            wmo_number: Some(11),
            latitude_deg: Some(51.25),
            longitude_deg: Some(-3.4),
            elevation_m: Some(210.0),
            ..Station::default()
        },
        flight: Flight {
            release_number: Some(1),
            ..Flight::default()
        },
        wis2: Wis2Options {
            centre_id: Some("xx-invented".to_owned()),
            base_url: Some("https://data.example.org/temp/".to_owned()),
            metadata_id: Some("urn:wmo:md:xx-invented:soundings".to_owned()),
            ..Wis2Options::default()
        },
        ..Context::default()
    };
    let mut report = Report::empty(context);
    report.when = When::Full {
        release: at("2031-01-15T11:23:40Z"),
        standard: at("2031-01-15T12:00:00Z"),
    };
    report
}

/// A file of a number of octets that begins and ends as BUFR does.
fn file(octets: usize) -> Vec<u8> {
    let mut file = vec![0; octets];
    file[..4].copy_from_slice(b"BUFR");
    file[octets - 4..].copy_from_slice(b"7777");
    file
}

fn publication(update: u8) -> Publication {
    Publication {
        pubtime: at("2031-01-15T13:05:00Z"),
        update,
    }
}

fn shared(report: &Report, octets: usize) -> Result<Share, Wis2Error> {
    share(report, &file(octets), &publication(0))
}

/// Something to publish.
#[cfg(feature = "mqtt")]
pub(super) fn shared_file() -> Share {
    shared(&report(), 931).unwrap()
}

fn value(share: &Share) -> Value {
    serde_json::from_str(&share.notification.to_string()).unwrap()
}

/// The rules of the WIS2 Notification Message 1.3.0 (JSON Schema of
/// wmo-im/wis2-notification-message and its text), written again here; `version`
/// instead of `conformsTo` is deprecated and left out.
static RULES: LazyLock<jsonschema::Validator> = LazyLock::new(|| {
    let time = json!({"type": "string", "format": "date-time", "pattern": "Z$"});
    let rules = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "type": "object",
        "required": ["id", "conformsTo", "type", "geometry", "properties", "links"],
        "properties": {
            "id": {"type": "string", "format": "uuid"},
            "conformsTo": {
                "type": "array",
                "contains": {"const": "http://wis.wmo.int/spec/wnm/1/conf/core"}
            },
            "type": {"const": "Feature"},
            "geometry": {"oneOf": [
                {"type": "null"},
                {
                    "type": "object",
                    "required": ["type", "coordinates"],
                    "properties": {
                        "type": {"const": "Point"},
                        "coordinates": {
                            "type": "array",
                            "minItems": 2,
                            "maxItems": 3,
                            "items": {"type": "number"},
                            "prefixItems": [
                                {"minimum": -180, "maximum": 180},
                                {"minimum": -90, "maximum": 90}
                            ]
                        }
                    }
                }
            ]},
            "properties": {
                "type": "object",
                "required": ["pubtime", "data_id"],
                "oneOf": [
                    {"required": ["datetime"]},
                    {"required": ["start_datetime", "end_datetime"]}
                ],
                "properties": {
                    "pubtime": time,
                    "datetime": time,
                    "data_id": {"type": "string", "minLength": 1},
                    "metadata_id": {"type": "string", "pattern": "^urn:wmo:md:"},
                    "integrity": {
                        "type": "object",
                        "required": ["method", "value"],
                        "properties": {
                            "method": {"enum": [
                                "sha256", "sha384", "sha512", "sha3-256", "sha3-384", "sha3-512"
                            ]},
                            "value": {"type": "string"}
                        }
                    },
                    "content": {
                        "type": "object",
                        "required": ["encoding", "size", "value"],
                        "properties": {
                            "encoding": {"enum": ["utf-8", "base64", "gzip"]},
                            "size": {"type": "integer", "minimum": 0, "maximum": 4096},
                            "value": {"type": "string", "maxLength": 4096}
                        }
                    }
                }
            },
            "links": {
                "type": "array",
                "minItems": 1,
                "items": {
                    "type": "object",
                    "required": ["href", "rel"],
                    "properties": {
                        "href": {"type": "string", "format": "uri"},
                        "rel": {"type": "string"},
                        "type": {"type": "string"},
                        "length": {"type": "integer"}
                    }
                },
                "contains": {"properties": {"rel": {"enum": ["canonical", "update", "deletion"]}}},
                "minContains": 1,
                "maxContains": 1
            }
        }
    });
    jsonschema::options()
        .should_validate_formats(true)
        .build(&rules)
        .unwrap()
});

fn faults(message: &Value) -> Vec<String> {
    let errors = RULES.iter_errors(message);
    errors.map(|e| e.to_string()).collect()
}

#[test]
fn the_whole_notification_of_an_invented_station() {
    let share = shared(&report(), 931).unwrap();
    let mut message = value(&share);
    let content = &mut message["properties"]["content"]["value"];
    // 931 octets = 310 groups of three and one octet over: 311 * 4.
    assert_eq!(content.as_str().unwrap().len(), 1244);
    *content = "(1244 characters)".into();
    let message = serde_json::to_string_pretty(&message).unwrap();
    assert_snapshot!(format!("{}\n{}\n{message}", share.topic, share.file_name()));
}

#[test]
fn every_message_keeps_the_rules() {
    let mut bare = report();
    bare.context.wis2.metadata_id = None;
    bare.context.station.latitude_deg = None;
    let mut flat = report();
    flat.context.station.elevation_m = None;
    for report in [report(), bare, flat] {
        for octets in [8, 931, 3072, 3073, 100_000] {
            for update in [0, 1, 255] {
                let share = share(&report, &file(octets), &publication(update)).unwrap();
                assert_eq!(faults(&value(&share)), [""; 0]);
                assert!(share.notification.to_string().len() <= 8192);
            }
        }
    }
}

/// The rules above are not empty: each change breaks one.
#[test]
fn the_rules_bite() {
    let sound = value(&shared(&report(), 931).unwrap());
    let changes: &[(&str, Value)] = &[
        ("/id", json!("no-uuid")),
        ("/conformsTo", json!([])),
        ("/type", json!("Point")),
        ("/geometry/coordinates", json!([51.25, -93.4])),
        ("/properties", json!({"pubtime": "2031-01-15T13:05:00Z"})),
        ("/properties/pubtime", json!("2031-01-15T13:05:00+01:00")),
        ("/properties/integrity/method", json!("md5")),
        ("/properties/content/value", json!("A".repeat(4097))),
        ("/links", json!([])),
        ("/links/0/rel", json!("via")),
    ];
    for (place, wrong) in changes {
        let mut message = sound.clone();
        *message.pointer_mut(place).unwrap() = wrong.clone();
        assert_ne!(faults(&message), [""; 0], "{place}");
    }
    let mut twice = sound.clone();
    twice["links"] = json!([sound["links"][0], sound["links"][0]]);
    assert_ne!(faults(&twice), [""; 0]);
}

#[test]
fn the_digest_is_sha256() {
    // FIPS 180-4 example: "abc".
    let abc: String = digest::sha256(b"abc")
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect();
    assert_eq!(
        abc,
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
}

#[test]
fn base64_is_that_of_rfc_4648() {
    // RFC 4648, 10.
    for (octets, text) in [
        ("", ""),
        ("f", "Zg=="),
        ("fo", "Zm8="),
        ("foo", "Zm9v"),
        ("foob", "Zm9vYg=="),
        ("fooba", "Zm9vYmE="),
        ("foobar", "Zm9vYmFy"),
    ] {
        assert_eq!(digest::base64(octets.as_bytes()), text);
    }
    // 0xfb 0xff: 111110 111111 1111(00), the two figures the plain alphabet has
    // beyond letters and digits.
    assert_eq!(digest::base64(&[0xfb, 0xff]), "+/8=");
}

#[test]
fn the_id_is_the_name_based_uuid_of_rfc_9562() {
    // RFC 9562, B.2: name space for domain names, `www.example.com`.
    let domain_names = [
        0x6b, 0xa7, 0xb8, 0x10, 0x9d, 0xad, 0x11, 0xd1, 0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30,
        0xc8,
    ];
    assert_eq!(
        digest::uuid(&domain_names, b"www.example.com"),
        "5c146b14-3c52-8afd-938a-375d0df1fbf6"
    );
}

#[test]
fn content_is_inline_up_to_4096_octets_encoded() {
    // 3072 octets are 1024 groups of three: 4096. One more begins a new group.
    let inline = |octets| {
        shared(&report(), octets)
            .unwrap()
            .notification
            .properties
            .content
    };
    let content = inline(3072).unwrap();
    assert_eq!((content.size, content.value.len()), (3072, 4096));
    assert_eq!(inline(3073), None);
    let share = shared(&report(), 3073).unwrap();
    assert_eq!(share.notification.links[0].length, 3073);
}

#[test]
fn the_message_is_at_most_8192_octets() {
    let long = |more: usize| {
        let mut report = report();
        let folder = "a".repeat(more);
        report.context.wis2.base_url = Some(format!("https://data.example.org/{folder}/"));
        shared(&report, 3072).map(|share| share.notification.to_string().len())
    };
    // Every character of the address is one octet of the message.
    let more = 8192 - long(1).unwrap() + 1;
    assert_eq!(long(more), Ok(8192));
    assert_eq!(long(more + 1), Err(Wis2Error::TooLong { octets: 8193 }));
}

#[test]
fn the_same_input_gives_the_same_octets() {
    let once = shared(&report(), 931).unwrap();
    assert_eq!(once, shared(&report(), 931).unwrap());
    let ids = [
        once.clone(),
        shared(&report(), 932).unwrap(),
        share(
            &report(),
            &file(931),
            &Publication {
                pubtime: at("2031-01-15T13:05:01Z"),
                update: 0,
            },
        )
        .unwrap(),
        share(&report(), &file(931), &publication(1)).unwrap(),
    ]
    .map(|share| share.notification.id);
    for (i, id) in ids.iter().enumerate() {
        assert!(!ids[..i].contains(id), "{id} twice");
    }
}

#[test]
fn a_correction_keeps_its_data_id_and_has_its_own_file() {
    let first = shared(&report(), 931).unwrap();
    let again = share(&report(), &file(940), &publication(2)).unwrap();
    let of = |share: &Share| share.notification.properties.data_id.clone();
    assert_eq!(of(&again), of(&first));
    assert_eq!(
        of(&first),
        "xx-invented/temp/20310115T120000Z/0-20000-0-99011/whole"
    );
    assert_eq!(first.notification.links[0].rel, "canonical");
    assert_eq!(again.notification.links[0].rel, "update");
    assert_eq!(
        again.notification.links[0].href,
        "https://data.example.org/temp/0-20000-0-99011_20310115T120000Z_temp_whole_update2.bufr"
    );
    assert_eq!(again.topic, first.topic);
}

/// Two soundings that are not the same object never share identifier or name.
#[test]
fn parts_releases_and_forms_are_objects_of_their_own() {
    let mut early = report();
    early.reach = Reach::To100;
    let mut second = report();
    second.context.flight.release_number = Some(2);
    let mut descent = report();
    descent.motion = Motion::Falling;
    let mut pilot = report();
    pilot.form = Form::Pilot;
    let mut later = report();
    later.when = When::Full {
        release: at("2031-01-15T11:23:40Z"),
        standard: at("2031-01-15T18:00:00Z"),
    };
    later.context.wis2.base_url = Some("https://data.example.org/temp".to_owned());
    let mut seen = Vec::new();
    for report in [report(), early, second, descent, pilot, later] {
        let publication = Publication {
            pubtime: at("2031-01-15T19:00:00Z"),
            update: 0,
        };
        let share = share(&report, &file(931), &publication).unwrap();
        let data_id = share.notification.properties.data_id;
        assert_eq!(
            share.notification.links[0].href,
            format!("https://data.example.org/temp/{}.bufr", share.stem)
        );
        assert_eq!(share.notification.links[0].rel, "canonical");
        seen.push((data_id, share.stem));
    }
    for (i, (data_id, stem)) in seen.iter().enumerate() {
        assert!(seen[..i].iter().all(|(d, s)| d != data_id && s != stem));
    }
    assert_eq!(
        seen[1].0,
        "xx-invented/temp/20310115T120000Z/0-20000-0-99011/to100"
    );
    assert_eq!(
        seen[2],
        (
            "xx-invented/temp/20310115T120000Z/0-20000-0-99011/release2/whole".to_owned(),
            "0-20000-0-99011_20310115T120000Z_temp_whole_release2".to_owned()
        )
    );
}

#[test]
fn form_kind_and_policy_give_the_topic() {
    use StationKind::{Drop, Land, Mobile, Ship};
    for (form, kind, policy, end) in [
        (Form::Temp, Land, Policy::Core, Some("core/…/temp")),
        (Form::Temp, Mobile, Policy::Core, Some("core/…/temp")),
        (
            Form::Temp,
            Ship,
            Policy::Recommended,
            Some("recommended/…/temp-ship"),
        ),
        (Form::Temp, Drop, Policy::Core, None),
        (Form::Pilot, Land, Policy::Core, Some("core/…/wind-profile")),
        (
            Form::Pilot,
            Ship,
            Policy::Core,
            Some("core/…/wind-profile-ship"),
        ),
    ] {
        let mut report = report();
        report.form = form;
        report.context.station.kind = kind;
        report.context.station.call_sign = Some("XXXX9".to_owned());
        report.context.wis2.policy = policy;
        let topic = shared(&report, 931).map(|share| share.topic);
        let wanted = end.map(|end| {
            let end = end.replace('…', "weather/surface-based-observations");
            format!("origin/a/wis2/xx-invented/data/{end}")
        });
        assert_eq!(topic, wanted.ok_or(Wis2Error::NoTopic));
    }
}

#[test]
fn the_identity_is_wigos_then_number_then_call_sign() {
    let id = |change: fn(&mut Station)| {
        let mut report = report();
        change(&mut report.context.station);
        let share = shared(&report, 931)?;
        Ok(share.stem.split('_').next().unwrap().to_owned())
    };
    assert_eq!(
        id(|s| s.wigos_id = Some("0-752-7-XX11".to_owned())),
        Ok("0-752-7-XX11".to_owned())
    );
    assert_eq!(
        id(|s| s.wmo_block = Some(1)),
        Ok("0-20000-0-01011".to_owned())
    );
    let sign = |s: &mut Station| {
        s.kind = StationKind::Ship;
        s.call_sign = Some("XXXX9".to_owned());
    };
    assert_eq!(id(sign), Ok("XXXX9".to_owned()));
    assert_eq!(id(|s| s.wmo_number = None), Err(Wis2Error::NoIdentity));
    assert_eq!(
        id(|s| s.wigos_id = Some("../etc".to_owned())),
        Err(Wis2Error::Identity("../etc".to_owned()))
    );
    assert!(id(|s| s.wigos_id = Some("a/b".to_owned())).is_err());
    assert!(id(|s| s.wigos_id = Some("A".repeat(41))).is_err());
}

#[test]
fn what_cannot_be_shared_is_said() {
    let reported = |change: fn(&mut Report)| {
        let mut report = report();
        change(&mut report);
        shared(&report, 931).unwrap_err().to_string()
    };
    let messages = [
        reported(|r| r.context.wis2.centre_id = None),
        reported(|r| r.context.wis2.base_url = None),
        reported(|r| r.context.wis2.centre_id = Some("XX-invented".to_owned())),
        reported(|r| r.context.wis2.centre_id = Some("xx-a/#".to_owned())),
        reported(|r| r.context.wis2.base_url = Some("file:///temp/".to_owned())),
        reported(|r| r.context.wis2.metadata_id = Some("urn:wmo:md:soundings".to_owned())),
        reported(|r| r.context.wis2.metadata_id = Some("urn:wmo:md:xx-other:temp".to_owned())),
        reported(|r| {
            r.when = When::Coded {
                day: 15,
                hour: 12,
                release: None,
                date: None,
            }
        }),
        reported(|r| {
            r.when = When::Full {
                release: at("2031-01-15T13:05:01Z"),
                standard: at("2031-01-15T12:00:00Z"),
            }
        }),
        reported(|r| r.context.station.wmo_number = None),
        reported(|r| r.context.station.wigos_id = Some("a b".to_owned())),
        reported(|r| r.context.station.kind = StationKind::Drop),
        reported(|r| r.context.station.latitude_deg = Some(90.1)),
        reported(|r| r.context.station.longitude_deg = Some(f64::NAN)),
        share(&report(), b"7777", &publication(0))
            .unwrap_err()
            .to_string(),
        share(&report(), b"BUFR7778", &publication(0))
            .unwrap_err()
            .to_string(),
    ];
    assert_snapshot!(messages.join("\n"));
}
