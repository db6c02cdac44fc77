//! Notices to people: by mail, and as JSON posted to an address of the yard's own. It never touches the plant.

use std::path::Path;
use std::time::Duration;

use lettre::message::header::ContentType;
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Tls, TlsParameters};
use lettre::{SmtpTransport, Transport};
use message::{Message, Tell, message};
use site::{Mail, MailSecurity};

/// Longest wait for a server.
const PATIENCE: Duration = Duration::from_secs(20);

/// Why a notice was not delivered.
#[derive(Debug)]
pub enum PostError {
    /// The mail could not be built: an address or a text is not allowed in mail.
    Writing(String),
    /// The file with the mail password cannot be read.
    Password {
        /// Path of that file.
        path: String,
        /// What the operating system said.
        reason: String,
    },
    /// The server refused, or could not be reached.
    Sending {
        /// Server that was tried: host and port for mail, scheme and host for a web address, without any secret in it.
        to: String,
        /// What the server, the network or a library said.
        reason: Message,
    },
}

/// Sends one mail to every recipient of the yard file; all of them get it, or none.
///
/// # Errors
/// [`PostError`].
pub fn mail(way: &Mail, folder: &Path, subject: &str, text: &str) -> Result<(), PostError> {
    let writing = |error: &dyn std::fmt::Display| PostError::Writing(error.to_string());
    let mut mail = lettre::Message::builder()
        .from(way.from.parse().map_err(|error| writing(&error))?)
        .subject(subject.replace(['\r', '\n'], " "))
        .header(ContentType::TEXT_PLAIN);
    for to in &way.to {
        mail = mail.to(to.parse().map_err(|error| writing(&error))?);
    }
    let mail = mail.body(text.to_owned()).map_err(|error| writing(&error))?;
    let sending = |error: lettre::transport::smtp::Error| PostError::Sending {
        to: format!("{}:{}", way.host, way.port),
        reason: outside(error.to_string()),
    };
    let tls = || TlsParameters::new(way.host.clone()).map_err(sending);
    let security = match way.security {
        MailSecurity::None => Tls::None,
        MailSecurity::StartTls => Tls::Required(tls()?),
        MailSecurity::Tls => Tls::Wrapper(tls()?),
    };
    let mut transport =
        SmtpTransport::builder_dangerous(&way.host).port(way.port).tls(security).timeout(Some(PATIENCE));
    if let Some(user) = &way.user {
        let password = way.password_file.as_deref().map(|file| password(&folder.join(file))).transpose()?;
        transport = transport.credentials(Credentials::new(user.clone(), password.unwrap_or_default()));
    }
    transport.build().send(&mail).map(|_| ()).map_err(sending)
}

fn password(path: &Path) -> Result<String, PostError> {
    let text = std::fs::read_to_string(path).map_err(|error| PostError::Password {
        path: path.display().to_string(),
        reason: error.to_string(),
    })?;
    Ok(text.lines().next().unwrap_or_default().to_owned())
}

/// Scheme and host of an address. The rest is left out: it often holds a secret.
fn host_of(address: &str) -> String {
    let (scheme, rest) = address.split_once("://").unwrap_or(("", address));
    let host = rest.split(['/', '?', '#']).next().unwrap_or_default();
    let host = host.rsplit_once('@').map_or(host, |(_, host)| host);
    if scheme.is_empty() { host.to_owned() } else { format!("{scheme}://{host}") }
}

/// Posts a JSON document to an address. Any answer below 300 is taken for received; nothing is followed elsewhere.
///
/// # Errors
/// [`PostError::Sending`].
pub fn hook(address: &str, document: &serde_json::Value) -> Result<(), PostError> {
    let config = ureq::Agent::config_builder().timeout_global(Some(PATIENCE)).max_redirects(0).build();
    let agent: ureq::Agent = config.into();
    let host = host_of(address);
    let sending = |reason: Message| PostError::Sending { to: host.clone(), reason };
    let answer = agent
        .post(address)
        .header("content-type", "application/json")
        .send(document.to_string())
        .map_err(|error| sending(outside(error.to_string().replace(address, &host))))?;
    let status = answer.status().as_u16();
    if status < 300 { Ok(()) } else { Err(sending(message!("link.post.status", status = u32::from(status)))) }
}

/// What the system, a server or a library said, in its own words.
fn outside(words: String) -> Message {
    message!("link.outside", words = words)
}

impl Tell for PostError {
    fn message(&self) -> Message {
        match self {
            PostError::Writing(words) => message!("link.post.writing", words = words),
            PostError::Password { path, reason } => {
                message!("link.post.password", path = path, words = reason)
            }
            PostError::Sending { to, reason } => {
                message!("link.post.sending", to = to, reason = reason.clone())
            }
        }
    }
}

impl std::fmt::Display for PostError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.message())
    }
}

impl std::error::Error for PostError {}
