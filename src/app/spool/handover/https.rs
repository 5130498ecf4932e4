//! An upload over HTTPS.

use std::io;
use std::io::ErrorKind;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use ureq::Agent;
use ureq::http::Response;
use ureq::tls::{Certificate, PemItem, RootCerts, TlsConfig, parse_pem};

use super::carrier::{Carrier, Failure, LIMIT, Presence, secret, small};
use crate::issue::flat::FlatFile;
use crate::model::{Means, Upload};

/// How long a connection may take.
const CONNECT: Duration = Duration::from_secs(15);

struct Https {
    agent: Agent,
    url: String,
    method: Upload,
    token_file: Option<String>,
}

/// The way to a target of that kind.
pub(super) fn carrier(means: &Means) -> Result<Box<dyn Carrier>, String> {
    let Means::Https {
        url,
        method,
        token_file,
        ca_file,
    } = means
    else {
        return Err("it is not of kind https".to_owned());
    };
    if let Some(path) = token_file {
        secret(path)?;
    }
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let tls = TlsConfig::builder()
        .unversioned_rustls_crypto_provider(provider)
        .root_certs(RootCerts::Specific(Arc::new(roots(ca_file.as_deref())?)))
        .build();
    let config = Agent::config_builder()
        .tls_config(tls)
        .https_only(true)
        .http_status_as_error(false)
        .max_redirects(0)
        .timeout_connect(Some(CONNECT))
        .timeout_global(Some(LIMIT))
        .build();
    Ok(Box::new(Https {
        agent: config.new_agent(),
        url: url.clone(),
        method: *method,
        token_file: token_file.clone(),
    }))
}

/// The certificates that are trusted.
fn roots(ca_file: Option<&str>) -> Result<Vec<Certificate<'static>>, String> {
    let Some(path) = ca_file else {
        let found = rustls_native_certs::load_native_certs().certs;
        let owned = found
            .iter()
            .map(|one| Certificate::from_der(one).to_owned());
        return Ok(owned.collect());
    };
    let mut found = Vec::new();
    for item in parse_pem(&small(path)?) {
        if let PemItem::Certificate(certificate) = item.map_err(|e| format!("{path}: {e}"))? {
            found.push(certificate);
        }
    }
    match found.is_empty() {
        true => Err(format!("{path}: there is no CERTIFICATE in it (PEM)")),
        false => Ok(found),
    }
}

impl Https {
    fn address(&self, file: &FlatFile) -> String {
        match self.method {
            Upload::Post => self.url.clone(),
            Upload::Put => format!("{}/{}", self.url.trim_end_matches('/'), file.name),
        }
    }

    /// The header of the token, where there is one.
    fn token(&self) -> Result<Option<String>, Failure> {
        let path = self.token_file.as_deref();
        let token = path.map(secret).transpose().map_err(Failure::certain)?;
        Ok(token.map(|token| format!("Bearer {token}")))
    }
}

/// Whether an error came before anything was sent.
fn is_before(error: &ureq::Error) -> bool {
    use ureq::{Error, Timeout};
    matches!(
        error,
        Error::HostNotFound
            | Error::ConnectionFailed
            | Error::Tls(_)
            | Error::Rustls(_)
            | Error::Pem(_)
            | Error::BadUri(_)
            | Error::Timeout(Timeout::Resolve | Timeout::Connect)
    ) || matches!(error, Error::Io(io) if io.kind() == ErrorKind::ConnectionRefused || is_tls(io))
}

/// Why there was no answer, and what to look at.
fn failed(error: &ureq::Error) -> Failure {
    let what = match error {
        ureq::Error::Io(io) if io.kind() == ErrorKind::UnexpectedEof => {
            "the server closed the connection before it answered".to_owned()
        }
        ureq::Error::Io(io) if is_tls(io) => {
            format!("{io}; check the certificate of the server, url and ca_file")
        }
        _ => format!("{error}; check url, and whether the server is running"),
    };
    Failure {
        what,
        certain: is_before(error),
    }
}

/// Whether an encrypted connection failed.
fn is_tls(error: &io::Error) -> bool {
    let inner = error.get_ref();
    inner.is_some_and(|inner| inner.is::<rustls::Error>())
}

fn answered<T>(answer: &Response<T>) -> Failure {
    let status = answer.status();
    let advice = match status.as_u16() {
        401 | 403 => "; check token_file",
        404 | 405 => "; check url and method",
        _ => "",
    };
    Failure::certain(format!("the server answers {status}{advice}"))
}

impl Carrier for Https {
    fn send(&self, file: &FlatFile, _: &AtomicBool) -> Result<(), Failure> {
        let address = self.address(file);
        let mut request = match self.method {
            Upload::Put => self.agent.put(address),
            Upload::Post => self.agent.post(address),
        };
        request = request
            .header("Content-Type", "application/octet-stream")
            .header(
                "Content-Disposition",
                format!("attachment; filename=\"{}\"", file.name),
            );
        if let Some(token) = self.token()? {
            request = request.header("Authorization", token);
        }
        let answer = request.send(&file.octets[..]).map_err(|e| failed(&e))?;
        match answer.status().is_success() {
            true => Ok(()),
            false => Err(answered(&answer)),
        }
    }

    fn look(&self, file: &FlatFile, _: &AtomicBool) -> Result<Presence, Failure> {
        if self.method == Upload::Post {
            return Ok(Presence::Unknown);
        }
        let mut request = self.agent.head(self.address(file));
        if let Some(token) = self.token()? {
            request = request.header("Authorization", token);
        }
        let answer = request.call().map_err(Failure::unsure)?;
        let length = answer.headers().get("content-length");
        let length = length.and_then(|value| value.to_str().ok()?.parse::<usize>().ok());
        Ok(match answer.status().as_u16() {
            200 if length == Some(file.octets.len()) => Presence::There,
            200 if length.is_some() => Presence::Absent,
            404 | 410 => Presence::Absent,
            _ => Presence::Unknown,
        })
    }
}
