//! Mail, one message per file: the bulletin of a text is the body, so that its heading is
//! the first line; everything else is an attachment.

use std::sync::atomic::AtomicBool;
use std::time::Duration;

use lettre::message::header::ContentType;
use lettre::message::{Attachment, Mailbox, Message, MultiPart, SinglePart};
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Certificate, CertificateStore, Tls, TlsParameters};
use lettre::{SmtpTransport, Transport as _};
use sha2::{Digest as _, Sha256};

use super::carrier::{Carrier, Failure, Presence, secret, small};
use crate::forms::gts;
use crate::issue::flat::FlatFile;
use crate::model::{MailSecurity, Means};

/// How long each step may take.
const PATIENCE: Duration = Duration::from_secs(20);

struct Smtp {
    host: String,
    port: u16,
    tls: Tls,
    access: Option<(String, String)>,
    from: Mailbox,
    to: Vec<Mailbox>,
    subject: Option<String>,
}

/// The way to a target of that kind.
pub(super) fn carrier(means: &Means) -> Result<Box<dyn Carrier>, String> {
    let Means::Smtp {
        host,
        port,
        security,
        access,
        ca_file,
        from,
        to,
        subject,
    } = means
    else {
        return Err("it is not of kind smtp".to_owned());
    };
    let mailbox = |address: &String| {
        let parsed = address.parse::<Mailbox>();
        parsed.map_err(|error| format!("{address:?} is not a mail address: {error}"))
    };
    if let Some((_, file)) = access {
        secret(file)?;
        if *security == MailSecurity::None {
            return Err("a password is not sent unencrypted; write security = \"tls\"".to_owned());
        }
    }
    let (tls, usual) = match security {
        MailSecurity::None => (Tls::None, 25),
        MailSecurity::Starttls => (Tls::Required(parameters(host, ca_file.as_deref())?), 587),
        MailSecurity::Tls => (Tls::Wrapper(parameters(host, ca_file.as_deref())?), 465),
    };
    Ok(Box::new(Smtp {
        host: host.clone(),
        port: port.unwrap_or(usual),
        tls,
        access: access.clone(),
        from: mailbox(from)?,
        to: to.iter().map(mailbox).collect::<Result<_, _>>()?,
        subject: subject.clone(),
    }))
}

fn parameters(host: &str, ca_file: Option<&str>) -> Result<TlsParameters, String> {
    let mut builder = TlsParameters::builder(host.to_owned());
    if let Some(path) = ca_file {
        let certificate = Certificate::from_pem(&small(path)?);
        let certificate = certificate.map_err(|error| format!("{path}: {error}"))?;
        builder = builder
            .certificate_store(CertificateStore::None)
            .add_root_certificate(certificate);
    }
    builder.build_rustls().map_err(|error| error.to_string())
}

/// A text as the body of a mail: lines that end as mail has them.
fn body(octets: &[u8]) -> Option<String> {
    if gts::is_framed(octets) || !octets.is_ascii() {
        return None;
    }
    let text = std::str::from_utf8(octets).ok()?;
    let text = text.replace("\r\r\n", "\n").replace("\r\n", "\n");
    let plain = !text.contains(|c: char| c.is_control() && c != '\n');
    plain.then(|| text.replace('\n', "\r\n"))
}

impl Smtp {
    fn message(&self, file: &FlatFile) -> Result<Message, String> {
        let digest = Sha256::digest(&file.octets);
        let digest: String = digest.iter().take(8).map(|o| format!("{o:02x}")).collect();
        // The same file has the same identifier however often it is sent (RFC 5322, 3.6.4).
        let domain = self.from.email.domain();
        let id = format!("<{}.{digest}@{domain}>", file.name);
        let subject = self.subject.as_ref().unwrap_or(&file.name).clone();
        let mut message = Message::builder()
            .from(self.from.clone())
            .subject(subject)
            .message_id(Some(id));
        for to in &self.to {
            message = message.to(to.clone());
        }
        let built = match body(&file.octets) {
            Some(text) => message.singlepart(
                SinglePart::builder()
                    .header(ContentType::TEXT_PLAIN)
                    .body(text),
            ),
            None => {
                let kind = ContentType::parse("application/octet-stream");
                let kind = kind.map_err(|error| error.to_string())?;
                let attached = Attachment::new(file.name.clone()).body(file.octets.clone(), kind);
                message.multipart(MultiPart::mixed().singlepart(attached))
            }
        };
        built.map_err(|error| error.to_string())
    }

    fn transport(&self) -> Result<SmtpTransport, String> {
        let mut builder = SmtpTransport::builder_dangerous(&self.host)
            .port(self.port)
            .tls(self.tls.clone())
            .timeout(Some(PATIENCE));
        if let Some((user, file)) = &self.access {
            builder = builder.credentials(Credentials::new(user.clone(), secret(file)?));
        }
        Ok(builder.build())
    }
}

impl Carrier for Smtp {
    fn send(&self, file: &FlatFile, _: &AtomicBool) -> Result<(), Failure> {
        let message = self.message(file).map_err(Failure::certain)?;
        let transport = self.transport().map_err(Failure::certain)?;
        // What fails before the mail is sent leaves no doubt.
        match transport.test_connection() {
            Ok(true) => {}
            Ok(false) => return Err(Failure::certain("the mail server does not answer")),
            Err(error) => return Err(Failure::certain(reason(&error))),
        }
        match transport.send(&message) {
            Ok(_) => Ok(()),
            Err(error) => Err(Failure {
                what: reason(&error),
                certain: error.status().is_some(),
            }),
        }
    }

    fn look(&self, _: &FlatFile, _: &AtomicBool) -> Result<Presence, Failure> {
        Ok(Presence::Unknown)
    }
}

/// An error in words, and what to look at.
fn reason(error: &lettre::transport::smtp::Error) -> String {
    match error.status() {
        // The words of the server.
        Some(_) => format!("the mail server refuses: {error}"),
        None => format!("{error}; check host, port, security and ca_file"),
    }
}

#[cfg(test)]
mod tests {
    use super::body;

    #[test]
    fn a_plain_bulletin_is_the_body_and_nothing_else_is() {
        let text = b"USXX01 ABCD 151200\r\r\nTTAA NIL=\r\r\n";
        let wanted = "USXX01 ABCD 151200\r\nTTAA NIL=\r\n";
        assert_eq!(body(text).as_deref(), Some(wanted));
        for other in [
            &b"\x01\r\r\n001\r\r\nUSXX01 ABCD 151200\r\r\n\x03"[..],
            b"0000004501\r\r\nUSXX01 ABCD 151200",
            b"IUSX01 ABCD 151200\r\r\nBUFR\x00\x01",
            "é".as_bytes(),
        ] {
            assert_eq!(body(other), None, "{other:?}");
        }
    }
}
