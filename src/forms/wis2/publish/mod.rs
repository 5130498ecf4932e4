//! Sends one notification to one broker over MQTT 5.0 (OASIS Standard, 2019) and
//! waits until the broker has it.
//!
//! The broker is the one the caller names; there is no other. MQTT 5.0 because in
//! 3.1.1 a broker acknowledges a message that it then throws away for want of
//! rights, and nobody learns of it.

#[cfg(test)]
mod tests;

use std::fmt;
use std::sync::Arc;
use std::time::{Duration, Instant};

use rumqttc::Transport;
use rumqttc::v5::mqttbytes::QoS;
use rumqttc::v5::mqttbytes::v5::{ConnectReturnCode, Packet, PubAckReason};
use rumqttc::v5::{Client, Connection, ConnectionError, Event, MqttOptions, StateError, TlsError};
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject as _;
use rustls::{CertificateError, ClientConfig, RootCertStore};
use thiserror::Error;
use url::Url;

use super::{Share, digest};

/// How long each step, connecting and being acknowledged, may take. Ours: a
/// broker in reach answers within a second.
pub const PATIENCE: Duration = Duration::from_secs(10);

/// The ports of plain and of encrypted connections, unless another is given (IANA).
const PORT: u16 = 1883;
const TLS_PORT: u16 = 8883;

/// Which broker.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Broker {
    tls: bool,
    user: Option<String>,
    host: String,
    port: u16,
}

/// Who publishes, as an error names them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct User(Option<String>);

impl fmt::Display for User {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Some(user) => write!(f, "user {user:?}"),
            None => f.write_str("a connection without user (USER@ in the address)"),
        }
    }
}

/// What a broker asks for. No `Debug`: a password is not for logs.
#[derive(Clone, Copy, Default)]
pub struct Access<'a> {
    /// The user's password.
    pub password: Option<&'a str>,
    /// Certificates, PEM, that alone are trusted to sign the broker's; `None` for
    /// those of the operating system.
    pub ca_pem: Option<&'a [u8]>,
}

/// Why a notification was not published.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum PublishError {
    /// The address of the broker cannot be read.
    #[error(
        "{url:?} is not the URL of a broker: {what}; write mqtt://[USER@]HOST[:PORT] or mqtts://[USER@]HOST[:PORT]"
    )]
    Address {
        /// As given, up to a password in it.
        url: String,
        /// What is wrong.
        what: &'static str,
    },
    /// A password without a user.
    #[error("{0}: a password needs a user; write the broker as mqtts://USER@HOST")]
    NoUser(Broker),
    /// Certificates without encryption.
    #[error("{0}: a CA file is for mqtts:// only; use mqtts:// or leave it out")]
    NeedlessCa(Broker),
    /// No certificate to trust.
    #[error("no certificate to trust: {0}")]
    NoCertificate(String),
    /// No connection.
    #[error(
        "{broker}: cannot connect: {what}; check host and port, and whether the broker is running"
    )]
    Connect {
        /// The broker.
        broker: Broker,
        /// What the system said.
        what: String,
    },
    /// User or password are refused.
    #[error("{broker}: user {user} is refused; check the user and the password file")]
    Credentials {
        /// The broker.
        broker: Broker,
        /// The user.
        user: User,
    },
    /// The encrypted connection fails.
    #[error("{broker}: no encrypted connection: {what}; check the certificate and the CA file")]
    Tls {
        /// The broker.
        broker: Broker,
        /// What is wrong and what to do.
        what: String,
    },
    /// Refused for another reason.
    #[error("{broker}: the broker refuses: {what}")]
    Refused {
        /// The broker.
        broker: Broker,
        /// Its reason.
        what: String,
    },
    /// The user may not publish to the topic.
    #[error("{broker}: {user} may not publish to {topic}; ask for the right to do so")]
    NotAllowed {
        /// The broker.
        broker: Broker,
        /// The user.
        user: User,
        /// The topic.
        topic: String,
    },
    /// No acknowledgement came.
    #[error(
        "{broker}: the broker did not acknowledge ({what}); it may or may not have the notification: publish it again"
    )]
    NotAcknowledged {
        /// The broker.
        broker: Broker,
        /// What happened instead.
        what: String,
    },
}

impl Broker {
    /// The broker at a host; the port is 1883, with TLS 8883, unless given.
    #[must_use]
    pub fn at(host: String, port: Option<u16>, tls: bool, user: Option<String>) -> Self {
        let port = port.unwrap_or(if tls { TLS_PORT } else { PORT });
        Self {
            tls,
            user,
            host,
            port,
        }
    }

    /// Reads `mqtt://[USER@]HOST[:PORT]` or `mqtts://[USER@]HOST[:PORT]`; the port
    /// is 1883 or 8883 unless given. HOST is a name or an IPv4 address.
    ///
    /// # Errors
    /// Anything else, and a password in the address, where the list of processes
    /// would show it.
    pub fn parse(url: &str) -> Result<Self, PublishError> {
        let wrong = |url: &str, what| PublishError::Address {
            url: url.to_owned(),
            what,
        };
        // Before anything that repeats the address.
        let user = url.rsplit_once('@').map(|(user, _)| user);
        let named = user.map(|user| user.split_once("://").map_or(user, |(_, user)| user));
        if named.is_some_and(|user| user.contains(':')) {
            let what = "a password does not belong in the address, use a password file";
            return Err(wrong("mqtt://USER:…", what));
        }
        let address = Url::parse(url).map_err(|_| wrong(url, "it is not a URL"))?;
        let tls = match address.scheme() {
            "mqtt" => false,
            "mqtts" => true,
            _ => return Err(wrong(url, "it does not begin with mqtt:// or mqtts://")),
        };
        let user = match address.username() {
            "" if url.contains('@') => return Err(wrong(url, "the user is empty")),
            "" => None,
            // `url` writes what an address may not hold as %XX.
            user if user.contains('%') => {
                return Err(wrong(url, "the user has characters such as / ? #"));
            }
            user => Some(user.to_owned()),
        };
        if !matches!(address.path(), "" | "/")
            || address.query().is_some()
            || address.fragment().is_some()
        {
            return Err(wrong(url, "something stands after host and port"));
        }
        let port = address.port();
        if port == Some(0) || url.trim_end_matches('/').ends_with(':') {
            return Err(wrong(url, "the port is not 1 to 65535"));
        }
        let named = |host: &&str| !host.is_empty() && !host.contains(['[', '%']);
        let host = address.host_str().filter(named);
        let host = host.ok_or_else(|| wrong(url, "the host is not a name or an IPv4 address"))?;
        Ok(Self::at(host.to_owned(), port, tls, user))
    }

    /// Whether a password sent to it can be read on the way.
    #[must_use]
    pub fn is_open(&self) -> bool {
        !self.tls && self.host != "localhost" && !self.host.starts_with("127.")
    }

    fn user(&self) -> User {
        User(self.user.clone())
    }
}

impl fmt::Display for Broker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let scheme = if self.tls { "mqtts" } else { "mqtt" };
        write!(f, "{scheme}://{}:{}", self.host, self.port)
    }
}

/// Publishes a notification with quality of service 1 and waits for the broker's
/// acknowledgement, [`PATIENCE`] for connecting and as long for the rest.
///
/// # Errors
/// Whatever keeps the broker from acknowledging, with what to do.
pub fn publish(broker: &Broker, access: &Access<'_>, share: &Share) -> Result<(), PublishError> {
    publish_to(
        broker,
        access,
        &share.topic,
        &share.notification.to_string(),
    )
}

/// The same of a notification that was written before.
///
/// # Errors
/// As [`publish`].
pub fn publish_to(
    broker: &Broker,
    access: &Access<'_>,
    topic: &str,
    notification: &str,
) -> Result<(), PublishError> {
    publish_within(PATIENCE, broker, access, topic, notification)
}

fn publish_within(
    patience: Duration,
    broker: &Broker,
    access: &Access<'_>,
    topic: &str,
    notification: &str,
) -> Result<(), PublishError> {
    let mut options = options(broker, access, notification)?;
    options.set_connection_timeout(patience.as_secs());
    let (client, mut connection) = Client::new(options, 2);
    client
        .publish(topic, QoS::AtLeastOnce, false, notification.to_owned())
        .map_err(|e| PublishError::Refused {
            broker: broker.clone(),
            what: e.to_string(),
        })?;
    acknowledged(patience, broker, &mut connection, topic)?;
    // The broker has it; how the connection ends no longer matters.
    if client.disconnect().is_ok() {
        while let Ok(Ok(event)) = connection.recv_timeout(patience) {
            if matches!(event, Event::Outgoing(rumqttc::Outgoing::Disconnect)) {
                break;
            }
        }
    }
    Ok(())
}

/// What the checks of broker and access give the client.
fn options(
    broker: &Broker,
    access: &Access<'_>,
    notification: &str,
) -> Result<MqttOptions, PublishError> {
    // Up to 23 letters and figures are taken by every broker (MQTT 5.0, 3.1.3.1).
    let id = digest::uuid(&digest::URL_NAMESPACE, notification.as_bytes());
    let id = id.chars().filter(|&c| c != '-').take(16);
    let id = format!("fivefig{}", id.collect::<String>());
    let mut options = MqttOptions::new(id, broker.host.as_str(), broker.port);
    let trusted = access.trusted(broker)?;
    if let Some(user) = &broker.user {
        options.set_credentials(user, access.password.unwrap_or_default());
    }
    if let Some(config) = trusted {
        options.set_transport(Transport::tls_with_config(config.into()));
    }
    Ok(options)
}

impl Access<'_> {
    /// Whether a broker can be asked with this: users, and certificates to trust.
    ///
    /// # Errors
    /// A password without a user, certificates without encryption, or none that
    /// could be trusted.
    pub fn check(&self, broker: &Broker) -> Result<(), PublishError> {
        self.trusted(broker).map(|_| ())
    }

    /// What an encrypted connection is to trust; `None` for a plain one.
    fn trusted(&self, broker: &Broker) -> Result<Option<ClientConfig>, PublishError> {
        if broker.user.is_none() && self.password.is_some() {
            return Err(PublishError::NoUser(broker.clone()));
        }
        if !broker.tls {
            return match self.ca_pem {
                Some(_) => Err(PublishError::NeedlessCa(broker.clone())),
                None => Ok(None),
            };
        }
        let config = trusting(roots(self.ca_pem)?);
        config.map(Some).map_err(|e| PublishError::Tls {
            broker: broker.clone(),
            what: e.to_string(),
        })
    }
}

/// The certificates that are trusted.
fn roots(ca_pem: Option<&[u8]>) -> Result<RootCertStore, PublishError> {
    let mut store = RootCertStore::empty();
    let Some(pem) = ca_pem else {
        store.add_parsable_certificates(rustls_native_certs::load_native_certs().certs);
        if store.is_empty() {
            return Err(PublishError::NoCertificate(
                "the operating system has none; give a CA file".to_owned(),
            ));
        }
        return Ok(store);
    };
    let unfit =
        |e: &dyn fmt::Display| PublishError::NoCertificate(format!("the CA file is unfit: {e}"));
    for certificate in CertificateDer::pem_slice_iter(pem) {
        let certificate = certificate.map_err(|e| unfit(&e))?;
        store.add(certificate).map_err(|e| unfit(&e))?;
    }
    if store.is_empty() {
        return Err(unfit(&"there is no CERTIFICATE in it (PEM)"));
    }
    Ok(store)
}

fn trusting(roots: RootCertStore) -> Result<ClientConfig, rustls::Error> {
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    Ok(ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()?
        .with_root_certificates(roots)
        .with_no_client_auth())
}

/// Runs the connection until the broker has acknowledged.
fn acknowledged(
    patience: Duration,
    broker: &Broker,
    connection: &mut Connection,
    topic: &str,
) -> Result<(), PublishError> {
    let mut connected = false;
    let not = |what: String| PublishError::NotAcknowledged {
        broker: broker.clone(),
        what,
    };
    // The client itself gives up connecting after half of this.
    let deadline = Instant::now() + 2 * patience;
    loop {
        let left = deadline.saturating_duration_since(Instant::now());
        let event = match connection.recv_timeout(left) {
            Err(_) => return Err(not("no answer in time".to_owned())),
            Ok(Err(error)) if connected => return Err(not(error.to_string())),
            Ok(Err(error)) => return Err(unconnected(broker, error)),
            Ok(Ok(event)) => event,
        };
        match event {
            Event::Incoming(Packet::ConnAck(_)) => connected = true,
            Event::Incoming(Packet::PubAck(ack)) => {
                return match ack.reason {
                    PubAckReason::Success | PubAckReason::NoMatchingSubscribers => Ok(()),
                    PubAckReason::NotAuthorized => Err(PublishError::NotAllowed {
                        broker: broker.clone(),
                        user: broker.user(),
                        topic: topic.to_owned(),
                    }),
                    other => Err(PublishError::Refused {
                        broker: broker.clone(),
                        what: format!("{other:?}"),
                    }),
                };
            }
            _ => {}
        }
    }
}

/// Why there is no connection.
fn unconnected(broker: &Broker, error: ConnectionError) -> PublishError {
    use ConnectReturnCode as Code;
    let broker = broker.clone();
    let refused = |broker, what: &str| PublishError::Refused {
        broker,
        what: what.to_owned(),
    };
    match error {
        ConnectionError::ConnectionRefused(Code::BadUserNamePassword | Code::NotAuthorized) => {
            let user = broker.user();
            PublishError::Credentials { broker, user }
        }
        ConnectionError::ConnectionRefused(
            Code::RefusedProtocolVersion | Code::UnsupportedProtocolVersion,
        ) => refused(broker, "it does not speak MQTT 5.0"),
        ConnectionError::ConnectionRefused(code) => refused(broker, &format!("{code:?}")),
        ConnectionError::NotConnAck(_)
        | ConnectionError::MqttState(StateError::Deserialization(_)) => {
            let plain = !broker.tls;
            let hint = if plain { "; is it mqtts:// there?" } else { "" };
            refused(
                broker,
                &format!("it does not answer as MQTT 5.0 asks{hint}"),
            )
        }
        ConnectionError::Tls(error) => {
            let what = tls_fault(&broker, &error);
            PublishError::Tls { broker, what }
        }
        ConnectionError::Timeout(_) => PublishError::Connect {
            broker,
            what: "no answer in time".to_owned(),
        },
        ConnectionError::MqttState(StateError::ConnectionAborted) if !broker.tls => {
            refused(broker, "it closes the connection; is it mqtts:// there?")
        }
        ConnectionError::Io(error) => PublishError::Connect {
            broker,
            what: error.to_string(),
        },
        other => PublishError::Connect {
            broker,
            what: other.to_string(),
        },
    }
}

/// What is wrong with an encrypted connection, and what to do.
fn tls_fault(broker: &Broker, error: &TlsError) -> String {
    let inner = match error {
        TlsError::TLS(inner) => Some(inner),
        TlsError::Io(io) => io.get_ref().and_then(|e| e.downcast_ref()),
        _ => None,
    };
    match inner {
        Some(rustls::Error::InvalidCertificate(CertificateError::UnknownIssuer)) => {
            "the broker's certificate is not signed by a trusted CA; give the right one as CA file"
                .to_owned()
        }
        Some(rustls::Error::InvalidCertificate(
            CertificateError::NotValidForName | CertificateError::NotValidForNameContext { .. },
        )) => format!(
            "the broker's certificate is not for the host {}; use the name it was made for",
            broker.host
        ),
        Some(rustls::Error::InvalidMessage(_)) => {
            "the broker does not speak TLS at this port; is it mqtt:// there?".to_owned()
        }
        Some(inner) => inner.to_string(),
        None => format!("{error}; check that the port is one for TLS"),
    }
}
