//! The targets of the sheet: the keys of each kind, checked as a whole.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::{Fault, SheetError, SheetFault};
use crate::model::finding::Place;
#[cfg(test)]
use crate::model::shape::Shape;
use crate::model::{FileNames, MailSecurity, Means, Sent, Target, TargetKind, Upload, Wis2Options};

/// The longest path, address or name.
#[cfg(test)]
const MAX: u32 = 500;

/// A receiver of messages.
#[derive(Clone, Debug, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub(super) struct TargetKeys {
    /// How files are carried: into a folder of the machine, by the OpenSSH client, by an
    /// upload over HTTPS, or by mail; with `mqtt` a WIS2 notification is published.
    kind: TargetKind,
    /// What is handed over of each issue; absent: `bulletin` and `bufr-bulletin`.
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = 6)))]
    send: Vec<Sent>,
    /// How the files are named: by heading and time, by a running number (with `gts`), or
    /// by issue and output.
    #[serde(default)]
    names: FileNames,
    /// Minutes after the issue by which the target must have it; after them the alarm is
    /// given.
    #[serde(default = "limit_min")]
    #[cfg_attr(test, schemars(range(min = 1, max = 720)))]
    limit_min: u16,
    /// The age of an issue at which it is given up, hours.
    #[serde(default = "max_age_h")]
    #[cfg_attr(test, schemars(range(min = 1, max = 720)))]
    max_age_h: u16,
    /// Folder that the files go into (`folder`, `sftp`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = MAX), extend("pattern" = Shape::Path.pattern())))]
    folder: Option<String>,
    /// Host name or address (`sftp`, `smtp`, `mqtt`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = 253), extend("pattern" = Shape::Host.pattern())))]
    host: Option<String>,
    /// Port, where it is not the usual one (`sftp`, `smtp`, `mqtt`).
    #[serde(default)]
    #[cfg_attr(test, schemars(range(min = 1, max = 65535)))]
    port: Option<u16>,
    /// User (`sftp`, `smtp`, `mqtt`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = 100), extend("pattern" = Shape::User.pattern())))]
    user: Option<String>,
    /// File of the private key (`sftp`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = MAX)))]
    key_file: Option<String>,
    /// File of the keys of hosts that are trusted (`sftp`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = MAX)))]
    known_hosts_file: Option<String>,
    /// Address before the file name, or with POST of all uploads (`https`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = MAX), extend("pattern" = Shape::BaseUrl.pattern())))]
    url: Option<String>,
    /// How files are uploaded (`https`).
    #[serde(default)]
    method: Option<Upload>,
    /// File of the token that is sent as Bearer (`https`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = MAX)))]
    token_file: Option<String>,
    /// File of certificates (PEM), the only ones trusted; absent: those of the operating
    /// system (`https`, `smtp`, `mqtt`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = MAX)))]
    ca_file: Option<String>,
    /// How the connection is encrypted; absent: `tls` (`smtp`, `mqtt`; `starttls` is for
    /// `smtp`).
    #[serde(default)]
    security: Option<MailSecurity>,
    /// File of the user's password (`smtp`, `mqtt`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = MAX)))]
    password_file: Option<String>,
    /// Address of the sender (`smtp`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = 254)))]
    from: Option<String>,
    /// Addresses of the receivers (`smtp`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = 20)))]
    to: Vec<String>,
    /// Subject; absent: the name of the file (`smtp`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = 200)))]
    subject: Option<String>,
    /// Target that puts the BUFR file of an issue where `wis2.base_url` says; the
    /// notification is published when that target has accepted it (`mqtt`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = 40)))]
    after: Option<String>,
    /// Topic; absent: that of WIS2 for station and centre (`mqtt`).
    #[serde(default)]
    #[cfg_attr(test, schemars(length(max = MAX), extend("pattern" = Shape::Topic.pattern())))]
    topic: Option<String>,
}

fn limit_min() -> u16 {
    10
}

fn max_age_h() -> u16 {
    24
}

/// The targets whose keys fit their kinds; otherwise the faults.
pub(super) fn all(keys: Targets, wis2: &Wis2Options) -> Result<Vec<Target>, SheetError> {
    let mut faults = Vec::new();
    let targets = keys.into_iter();
    let targets = targets.filter_map(|(name, keys)| checked(&name, keys, wis2, &mut faults));
    let targets: Vec<Target> = targets.collect();
    for target in &targets {
        if let Some(after) = target
            .means
            .after()
            .filter(|after| !serves(&targets, after))
        {
            faults.push(SheetFault {
                place: Place::key(&format!("handover.{}.after", target.name)),
                fault: Fault::Malformed {
                    key: format!("handover.{}.after", target.name),
                    value: after.to_owned(),
                    wanted: "the name of a target of kind folder, sftp or https (PUT) with send = [\"bufr\"] and names = \"issue\"",
                },
            });
        }
    }
    SheetError::check(faults)?;
    Ok(targets)
}

/// Whether a target puts the BUFR file of an issue where it can be fetched.
fn serves(targets: &[Target], name: &str) -> bool {
    let target = targets.iter().find(|target| target.name == name);
    target.is_some_and(|target| {
        let puts = match &target.means {
            Means::Folder { .. } | Means::Sftp { .. } => true,
            Means::Https { method, .. } => *method == Upload::Put,
            Means::Smtp { .. } | Means::Mqtt { .. } => false,
        };
        puts && target.names == FileNames::Issue && target.send.contains(&Sent::Bufr)
    })
}

/// The table of targets, by their names.
pub(super) type Targets = BTreeMap<String, TargetKeys>;

/// The keys of a target that are read one by one; what is left is not for its kind.
struct Reading<'a> {
    name: &'a str,
    kind: TargetKind,
    faults: &'a mut Vec<SheetFault>,
}

impl Reading<'_> {
    fn fault(&mut self, key: &str, fault: impl FnOnce(String) -> Fault) {
        let key = format!("handover.{}.{key}", self.name);
        let place = Place::key(&key);
        let fault = fault(key);
        self.faults.push(SheetFault { place, fault });
    }

    /// A key that the kind needs.
    fn needed(&mut self, key: &str, value: Option<String>, example: &str) -> String {
        if value.is_none() {
            let kind = self.kind.word();
            self.fault(key, |name| Fault::Missing {
                key: name,
                what: format!("a target of kind {kind:?} needs it"),
                example: format!("{key} = {example:?}"),
            });
        }
        value.unwrap_or_default()
    }

    /// User and the file of the password, both or none.
    fn access(&mut self, user: Option<String>, file: Option<String>) -> Option<(String, String)> {
        match (user, file) {
            (Some(user), Some(file)) => return Some((user, file)),
            (Some(_), None) => {
                self.needed("password_file", None, "/etc/fivefig/password");
            }
            (None, Some(_)) => {
                self.needed("user", None, "station");
            }
            (None, None) => {}
        }
        None
    }

    /// What a notification needs of the table `wis2`.
    fn wis2(&mut self, wis2: &Wis2Options) {
        for (key, value, example) in [
            ("centre_id", &wis2.centre_id, "xx-invented"),
            ("base_url", &wis2.base_url, "https://data.example.org/temp/"),
        ] {
            if value.is_none() {
                let key = format!("wis2.{key}");
                let place = Place::key(&key);
                let what = format!("handover.{} publishes a notification", self.name);
                let example = format!("{key} = {example:?}");
                let fault = Fault::Missing { key, what, example };
                self.faults.push(SheetFault { place, fault });
            }
        }
    }
}

/// A target whose keys fit its kind; otherwise the faults.
fn checked(
    name: &str,
    keys: TargetKeys,
    wis2: &Wis2Options,
    faults: &mut Vec<SheetFault>,
) -> Option<Target> {
    let before = faults.len();
    let mut reading = Reading {
        name,
        kind: keys.kind,
        faults,
    };
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    if name.is_empty() || name.len() > 40 || !name.chars().all(plain) {
        reading.fault("kind", |_| Fault::Malformed {
            key: "handover".to_owned(),
            value: name.chars().take(64).collect(),
            wanted: "the name of a target, 1 to 40 letters, figures, dashes and underscores",
        });
    }
    // Every key that is not of all kinds: its name, whether it is there, whose it is.
    use TargetKind::{Folder, Https, Mqtt, Sftp, Smtp};
    let given: [(&str, bool, &[TargetKind]); 19] = [
        ("send", !keys.send.is_empty(), &[Folder, Sftp, Https, Smtp]),
        (
            "names",
            keys.names != FileNames::Gts,
            &[Folder, Sftp, Https, Smtp],
        ),
        ("after", keys.after.is_some(), &[Mqtt]),
        ("topic", keys.topic.is_some(), &[Mqtt]),
        ("folder", keys.folder.is_some(), &[Folder, Sftp]),
        ("host", keys.host.is_some(), &[Sftp, Smtp, Mqtt]),
        ("port", keys.port.is_some(), &[Sftp, Smtp, Mqtt]),
        ("user", keys.user.is_some(), &[Sftp, Smtp, Mqtt]),
        ("key_file", keys.key_file.is_some(), &[Sftp]),
        ("known_hosts_file", keys.known_hosts_file.is_some(), &[Sftp]),
        ("url", keys.url.is_some(), &[Https]),
        ("method", keys.method.is_some(), &[Https]),
        ("token_file", keys.token_file.is_some(), &[Https]),
        ("ca_file", keys.ca_file.is_some(), &[Https, Smtp, Mqtt]),
        ("security", keys.security.is_some(), &[Smtp, Mqtt]),
        ("password_file", keys.password_file.is_some(), &[Smtp, Mqtt]),
        ("from", keys.from.is_some(), &[Smtp]),
        ("to", !keys.to.is_empty(), &[Smtp]),
        ("subject", keys.subject.is_some(), &[Smtp]),
    ];
    for (key, is_given, kinds) in given {
        if is_given && !kinds.contains(&keys.kind) {
            let words: Vec<&str> = kinds.iter().map(|kind| kind.word()).collect();
            let what = format!("is for targets of kind {}", words.join(" or "));
            reading.fault(key, |key| Fault::Conflict { key, what });
        }
    }
    if keys.names == FileNames::Sequence && keys.send != [Sent::Gts] {
        reading.fault("names", |key| Fault::Conflict {
            key,
            what: "= \"sequence\" names files of messages; write send = [\"gts\"]".to_owned(),
        });
    }
    let mut send = keys.send;
    if keys.kind == Mqtt {
        send = vec![Sent::Bufr];
    } else if send.is_empty() {
        send = vec![Sent::Bulletin, Sent::BufrBulletin];
    }
    let bulletins = [Sent::Bulletin, Sent::BufrBulletin, Sent::Gts];
    if keys.kind != Mqtt
        && keys.names == FileNames::Gts
        && send.iter().any(|one| !bulletins.contains(one))
    {
        reading.fault("send", |key| Fault::Conflict {
            key,
            what: "has an output without a heading, by which names = \"gts\" names files; write names = \"issue\"".to_owned(),
        });
    }
    let means = match keys.kind {
        Folder => Means::Folder {
            folder: reading.needed("folder", keys.folder, "/var/spool/outgoing"),
        },
        Sftp => Means::Sftp {
            host: reading.needed("host", keys.host, "hub.example.org"),
            port: keys.port,
            user: reading.needed("user", keys.user, "station"),
            key_file: reading.needed("key_file", keys.key_file, "/etc/fivefig/key"),
            known_hosts_file: reading.needed(
                "known_hosts_file",
                keys.known_hosts_file,
                "/etc/fivefig/known_hosts",
            ),
            folder: keys.folder,
        },
        Https => {
            let url = reading.needed("url", keys.url, "https://hub.example.org/in/");
            if !url.is_empty() && !url.starts_with("https://") {
                reading.fault("url", |key| Fault::Malformed {
                    key,
                    value: url.clone(),
                    wanted: "an address that begins with https://",
                });
            }
            Means::Https {
                url,
                method: keys.method.unwrap_or_default(),
                token_file: keys.token_file,
                ca_file: keys.ca_file,
            }
        }
        Smtp => {
            if keys.to.is_empty() {
                reading.needed("to", None, "hub@example.org");
            }
            let access = reading.access(keys.user, keys.password_file);
            Means::Smtp {
                host: reading.needed("host", keys.host, "mail.example.org"),
                port: keys.port,
                security: keys.security.unwrap_or_default(),
                access,
                ca_file: keys.ca_file,
                from: reading.needed("from", keys.from, "station@example.org"),
                to: keys.to,
                subject: keys.subject,
            }
        }
        Mqtt => {
            if keys.security == Some(MailSecurity::Starttls) {
                reading.fault("security", |key| Fault::Conflict {
                    key,
                    what: "= \"starttls\" is for targets of kind smtp; write \"tls\" or \"none\""
                        .to_owned(),
                });
            }
            reading.wis2(wis2);
            Means::Mqtt {
                host: reading.needed("host", keys.host, "broker.example.org"),
                port: keys.port,
                tls: keys.security != Some(MailSecurity::None),
                access: reading.access(keys.user, keys.password_file),
                ca_file: keys.ca_file,
                after: reading.needed("after", keys.after, "web"),
                topic: keys.topic.filter(|topic| !topic.is_empty()),
                wis2: wis2.clone(),
            }
        }
    };
    (reading.faults.len() == before).then(|| Target {
        name: name.to_owned(),
        send,
        names: keys.names,
        limit_min: keys.limit_min,
        max_age_h: keys.max_age_h,
        means,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops at the first fault")]

    use super::*;
    use crate::input::sheet::{Source, targets};

    fn read(text: &str) -> Result<Vec<Target>, String> {
        let name = "s.toml";
        let error = |e: SheetError| {
            let faults = e.faults().iter().map(ToString::to_string);
            faults.collect::<Vec<_>>().join("\n")
        };
        targets(&[Source { name, text }]).map_err(error)
    }

    #[test]
    fn nothing_is_handed_over_unless_the_sheet_names_targets() {
        assert_eq!(read("[station]\nwmo_block = 99"), Ok(Vec::new()));
    }

    #[test]
    fn a_target_has_the_keys_of_its_kind() {
        let mail = "[handover.mail]\nkind = \"smtp\"\nhost = \"h.example.org\"\nfrom = \"a@example.org\"\nto = [\"b@example.org\"]\n";
        let found = read(mail).unwrap();
        assert!(
            matches!(&found[..], [Target { send, means: Means::Smtp { security: MailSecurity::Tls, access: None, .. }, .. }] if *send == [Sent::Bulletin, Sent::BufrBulletin])
        );
        for (text, wanted) in [
            (
                "[handover.hub]\nfolder = \"x\"",
                "missing key `handover.hub.kind`",
            ),
            (
                "[handover.hub]\nkind = \"folder\"",
                "missing key `handover.hub.folder`: a target of kind \"folder\" needs it; write folder = \"/var/spool/outgoing\"",
            ),
            (
                "[handover.hub]\nkind = \"ftp\"\nfolder = \"x\"",
                "`handover.hub.kind` = \"ftp\" is not one of ",
            ),
            (
                "[handover.hub]\nkind = \"folder\"\nfolder = \"x\"\nhost = \"y\"",
                "`handover.hub.host` is for targets of kind sftp or smtp",
            ),
            (
                "[handover.hub]\nkind = \"sftp\"\nhost = \"-oProxyCommand=x\"",
                "`handover.hub.host` = \"-oProxyCommand=x\" is not a host name",
            ),
            (
                "[handover.hub]\nkind = \"https\"\nurl = \"http://hub.example.org/\"",
                "is not an address that begins with https://",
            ),
            (
                "[handover.hub]\nkind = \"folder\"\nfolder = \"x\"\nnames = \"sequence\"",
                "write send = [\"gts\"]",
            ),
            (
                "[handover.hub]\nkind = \"folder\"\nfolder = \"x\"\nsend = [\"json\"]",
                "write names = \"issue\"",
            ),
            (
                "[handover.\"../x\"]\nkind = \"folder\"\nfolder = \"x\"",
                "the name of a target",
            ),
            (
                "[handover.hub]\nkind = \"folder\"\nfolder = \"x\"\nafter = \"y\"",
                "`handover.hub.after` is for targets of kind mqtt",
            ),
        ] {
            let error = read(text).unwrap_err();
            assert!(error.contains(wanted), "{text}: {error}");
        }
    }

    #[test]
    fn a_notification_needs_a_file_that_another_target_serves() {
        let wis2 =
            "[wis2]\ncentre_id = \"xx-invented\"\nbase_url = \"https://data.example.org/temp/\"\n";
        let web = "[handover.web]\nkind = \"folder\"\nfolder = \"x\"\nsend = [\"bufr\"]\nnames = \"issue\"\n";
        let broker =
            "[handover.broker]\nkind = \"mqtt\"\nhost = \"b.example.org\"\nafter = \"web\"\n";
        let found = read(&[wis2, web, broker].concat()).unwrap();
        assert!(matches!(
            &found[0],
            Target { send, means: Means::Mqtt { tls: true, topic: None, after, .. }, .. }
                if *send == [Sent::Bufr] && after == "web"
        ));
        let with = |more: &str| [wis2, web, broker, more].concat();
        for (text, wanted) in [
            (
                [web, broker].concat(),
                "missing key `wis2.centre_id`: handover.broker publishes a notification",
            ),
            (
                [wis2, broker].concat(),
                "`handover.broker.after` = \"web\" is not the name of a target of kind folder",
            ),
            (
                with("").replace("send = [\"bufr\"]", "send = [\"json\"]"),
                "with send = [\"bufr\"] and names = \"issue\"",
            ),
            (
                with("").replace("after = \"web\"", "after = \"broker\""),
                "`handover.broker.after` = \"broker\" is not",
            ),
            (
                with("").replace("after = \"web\"", ""),
                "missing key `handover.broker.after`",
            ),
            (
                with("user = \"node\""),
                "missing key `handover.broker.password_file`",
            ),
            (
                with("security = \"starttls\""),
                "is for targets of kind smtp",
            ),
            (
                with("send = [\"bufr\"]"),
                "`handover.broker.send` is for targets of kind folder or sftp or https or smtp",
            ),
            (with("topic = \"a/#\""), "is not a topic"),
        ] {
            let error = read(&text).unwrap_err();
            assert!(error.contains(wanted), "{text}: {error}");
        }
    }
}
