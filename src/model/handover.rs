//! How messages are handed over to the service: targets, and what goes to each.

use serde::{Deserialize, Serialize};

use super::Wis2Options;

/// How the files of an issue are named outside its folder.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum FileNames {
    /// One file per bulletin, named by heading and time.
    #[default]
    Gts,
    /// One file per issue, named by centre and running number.
    Sequence,
    /// One file per output, named by issue and output.
    Issue,
}

/// What of an issue is handed over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Sent {
    /// The symbolic code.
    Text,
    /// Its bulletins.
    Bulletin,
    /// The JSON document.
    Json,
    /// BUFR.
    Bufr,
    /// BUFR as a bulletin.
    BufrBulletin,
    /// Bulletins in text and BUFR in one file, each with its length.
    Gts,
}

/// The request by which a file is uploaded.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub enum Upload {
    /// To an address of its own.
    #[default]
    #[serde(rename = "PUT")]
    Put,
    /// To one address for all.
    #[serde(rename = "POST")]
    Post,
}

/// How a connection to a mail server is encrypted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum MailSecurity {
    /// From its start.
    #[default]
    Tls,
    /// After a command (RFC 3207), or not at all where the server does not offer it: then
    /// nothing is sent.
    Starttls,
    /// Not at all.
    None,
}

/// How files are carried to a target.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum TargetKind {
    /// Into a folder of the machine.
    Folder,
    /// By the OpenSSH client of the machine.
    Sftp,
    /// By an upload over HTTPS.
    Https,
    /// By mail.
    Smtp,
    /// As a notification to a broker, of a file that another target has.
    Mqtt,
}

impl TargetKind {
    /// Its word in sheets.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Folder => "folder",
            Self::Sftp => "sftp",
            Self::Https => "https",
            Self::Smtp => "smtp",
            Self::Mqtt => "mqtt",
        }
    }
}

/// A receiver of messages.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Target {
    /// Its name in the sheet.
    pub name: String,
    /// What it gets of an issue.
    pub send: Vec<Sent>,
    /// How the files are named.
    pub names: FileNames,
    /// Minutes after the issue by which it must have accepted every file.
    pub limit_min: u16,
    /// The age of an issue at which it is given up, hours.
    pub max_age_h: u16,
    /// How files are carried there.
    pub means: Means,
}

/// How files are carried, with all that it takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Means {
    /// A folder of the machine.
    Folder {
        /// Its path.
        folder: String,
    },
    /// A folder of another machine.
    Sftp {
        /// Name or address.
        host: String,
        /// Port; `None`: that of the client.
        port: Option<u16>,
        /// User there.
        user: String,
        /// File of the private key.
        key_file: String,
        /// File of the keys of hosts; no other is trusted.
        known_hosts_file: String,
        /// Folder there; `None`: that of the user.
        folder: Option<String>,
    },
    /// A web server.
    Https {
        /// Address before the file name, or of all uploads.
        url: String,
        /// How files are uploaded.
        method: Upload,
        /// File of the token.
        token_file: Option<String>,
        /// File of the certificates that are trusted; `None`: those of the system.
        ca_file: Option<String>,
    },
    /// A mail server.
    Smtp {
        /// Name or address.
        host: String,
        /// Port; `None`: that of the kind of encryption.
        port: Option<u16>,
        /// Encryption.
        security: MailSecurity,
        /// User and the file of the password.
        access: Option<(String, String)>,
        /// File of the certificates that are trusted; `None`: those of the system.
        ca_file: Option<String>,
        /// Address of the sender.
        from: String,
        /// Addresses of the receivers.
        to: Vec<String>,
        /// Subject; `None`: the name of the file.
        subject: Option<String>,
    },
    /// A broker.
    Mqtt {
        /// Name or address.
        host: String,
        /// Port; `None`: 8883, unencrypted 1883.
        port: Option<u16>,
        /// Whether the connection is encrypted.
        tls: bool,
        /// User and the file of the password.
        access: Option<(String, String)>,
        /// File of the certificates that are trusted; `None`: those of the system.
        ca_file: Option<String>,
        /// The target that puts the file where the notification says it is.
        after: String,
        /// Topic; `None`: that of WIS2.
        topic: Option<String>,
        /// What the notification needs of the sheet.
        wis2: Wis2Options,
    },
}

impl Means {
    /// Which kind it is.
    #[must_use]
    pub fn kind(&self) -> TargetKind {
        match self {
            Self::Folder { .. } => TargetKind::Folder,
            Self::Sftp { .. } => TargetKind::Sftp,
            Self::Https { .. } => TargetKind::Https,
            Self::Smtp { .. } => TargetKind::Smtp,
            Self::Mqtt { .. } => TargetKind::Mqtt,
        }
    }

    /// The target that must have accepted an issue before this one gets it.
    #[must_use]
    pub fn after(&self) -> Option<&str> {
        match self {
            Self::Mqtt { after, .. } => Some(after),
            _ => None,
        }
    }
}
