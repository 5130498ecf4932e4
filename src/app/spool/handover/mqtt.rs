//! A notification published to a broker, with quality of service 1.

use std::sync::atomic::AtomicBool;

use super::carrier::{Carrier, Failure, Presence, secret, small};
use crate::forms::wis2::publish::{Access, Broker, PublishError, publish_to};
use crate::issue::flat::FlatFile;
use crate::model::Means;

struct Mqtt {
    broker: Broker,
    password_file: Option<String>,
    ca_file: Option<String>,
}

/// The way to a target of that kind.
pub(super) fn carrier(means: &Means) -> Result<Box<dyn Carrier>, String> {
    let Means::Mqtt {
        host,
        port,
        tls,
        access,
        ca_file,
        ..
    } = means
    else {
        return Err("it is not of kind mqtt".to_owned());
    };
    let (user, password_file) = access.clone().unzip();
    let carrier = Mqtt {
        broker: Broker::at(host.clone(), *port, *tls, user),
        password_file,
        ca_file: ca_file.clone(),
    };
    if carrier.password_file.is_some() && carrier.broker.is_open() {
        return Err("a password is not sent unencrypted; write security = \"tls\"".to_owned());
    }
    carrier.with_access(|access| access.check(&carrier.broker).map_err(|e| e.to_string()))??;
    Ok(Box::new(carrier))
}

impl Mqtt {
    /// Works with what the broker asks for, as the files have it now.
    fn with_access<T>(&self, work: impl FnOnce(&Access<'_>) -> T) -> Result<T, String> {
        let password = self.password_file.as_deref().map(secret).transpose()?;
        let ca_pem = self.ca_file.as_deref().map(small).transpose()?;
        Ok(work(&Access {
            password: password.as_deref(),
            ca_pem: ca_pem.as_deref(),
        }))
    }
}

impl Carrier for Mqtt {
    fn send(&self, file: &FlatFile, _: &AtomicBool) -> Result<(), Failure> {
        let text = std::str::from_utf8(&file.octets).ok();
        let lines = text.and_then(|text| text.trim_end().split_once('\n'));
        let (topic, notification) =
            lines.ok_or_else(|| Failure::certain("the file is not a notification"))?;
        let published =
            self.with_access(|access| publish_to(&self.broker, access, topic, notification));
        published
            .map_err(Failure::certain)?
            .map_err(|error| Failure {
                certain: !matches!(error, PublishError::NotAcknowledged { .. }),
                what: error.to_string(),
            })
    }

    fn look(&self, _: &FlatFile, _: &AtomicBool) -> Result<Presence, Failure> {
        Ok(Presence::Unknown)
    }
}
