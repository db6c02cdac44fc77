//! Encryption on the yard's own network: a certificate authority of the yard, which each device is told to trust once,
//! and a server certificate that renews itself; or a certificate of the yard's own.
//!
//! Browsers keep pages for use without network only where the connection is trusted.

use std::fs;
use std::io;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant, SystemTime};

use jiff::{Timestamp, ToSpan};
use message::{Arg, Message, Tell, message};
use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType, ExtendedKeyUsagePurpose,
    GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose, NameConstraints, date_time_ymd,
};
use rustls::crypto::ring::default_provider;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::server::{ClientHello, ResolvesServerCert};
use rustls::sign::CertifiedKey;
use sha2::{Digest, Sha256};
use tokio_rustls::TlsAcceptor;

/// Years that a yard's authority is valid: installing it on every tablet again is work.
const AUTHORITY_YEARS: i64 = 10;
/// Days a server's certificate is good for: phones take none from a user's authority that is good for more than 825.
const SERVER_DAYS: i64 = 365;
/// With fewer days left, it is made anew.
const RENEW_DAYS: i64 = 90;
/// How often files are looked at for a change, and the certificate for its age.
const CHECK_EVERY: Duration = Duration::from_secs(600);

/// Endings of names that no one else can hold: only these, addresses of private networks, and the yard's own names may
/// stand in a certificate of the authority. A stolen authority is worth nothing for the rest of the world.
const PRIVATE_ENDINGS: [&str; 6] = ["local", "lan", "internal", "home.arpa", "localhost", "test"];

/// Why there is no certificate.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.message())]
pub enum TlsError {
    /// A file of the authority or certificate cannot be read or written.
    File {
        /// Path of the file.
        path: String,
        /// What the system said.
        reason: String,
    },
    /// There is an authority already: a new one would have to be installed on every device again.
    Already {
        /// Folder that the authority is in.
        path: String,
    },
    /// A name that cannot be in a certificate.
    Name {
        /// The name, as it was given.
        name: String,
    },
    /// A file that holds no usable certificate or key.
    Bad {
        /// File; none for what concerns the listener.
        path: Option<String>,
        /// What is wrong: what the library said; none where there is no certificate in it.
        reason: Option<String>,
    },
    /// The library could not make a key or certificate.
    Making(#[from] rcgen::Error),
}

impl Tell for TlsError {
    fn message(&self) -> Message {
        match self {
            TlsError::File { path, reason } => message!("console.tls.file", path = path, reason = reason),
            TlsError::Already { path } => message!("console.tls.already", path = path),
            TlsError::Name { name } => {
                message!("console.tls.name", name = name, reason = message!("console.tls.not-a-name"))
            }
            TlsError::Bad { path, reason } => {
                let said = |text: &String| Arg::from(text);
                let path = path.as_ref().map_or_else(|| message!("console.tls.listener").into(), said);
                let reason =
                    reason.as_ref().map_or_else(|| message!("console.tls.no-certificate").into(), said);
                message!("console.tls.bad", path = path, reason = reason)
            }
            TlsError::Making(error) => message!("console.tls.making", reason = error.to_string()),
        }
    }
}

/// Where the certificate comes from.
#[derive(Debug, Clone)]
pub enum Source {
    /// The yard's authority in a folder, for these names.
    Authority {
        /// Folder that the authority's files are in.
        folder: PathBuf,
        /// Names and addresses that visitors use, besides those the certificate has.
        hosts: Vec<String>,
    },
    /// Two PEM files of the yard's own.
    Files {
        /// Certificate and those above it.
        certificate: PathBuf,
        /// Its private key.
        key: PathBuf,
    },
}

/// A yard's authority.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Authority {
    /// Its certificate (DER), as devices install it.
    pub certificate: Vec<u8>,
    /// SHA-256 of it in pairs, to compare by eye.
    pub fingerprint: String,
    /// Time at which it expires.
    pub until: Timestamp,
}

fn file_error(path: &Path) -> impl Fn(io::Error) -> TlsError + '_ {
    |error| TlsError::File { path: path.display().to_string(), reason: error.to_string() }
}

/// Makes a yard's authority and its first server certificate.
///
/// # Errors
/// [`TlsError`]; nothing is replaced unless asked.
pub fn init(
    folder: &Path,
    yard: &str,
    hosts: &[String],
    again: bool,
    now: Timestamp,
) -> Result<Authority, TlsError> {
    let at = folder.join("authority.pem");
    if at.exists() && !again {
        return Err(TlsError::Already { path: folder.display().to_string() });
    }
    hosts.iter().try_for_each(|host| fit_host(host))?;
    fs::create_dir_all(folder).map_err(file_error(folder))?;
    let key = KeyPair::generate()?;
    let mut params = CertificateParams::default();
    let mut name = DistinguishedName::new();
    name.push(DnType::CommonName, format!("{yard}: brine authority"));
    params.distinguished_name = name;
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    params.name_constraints =
        Some(NameConstraints { permitted_subtrees: permitted(hosts), excluded_subtrees: Vec::new() });
    set_span(&mut params, now, AUTHORITY_YEARS * 365);
    let certificate = params.self_signed(&key)?;
    put_private(&folder.join("authority.key"), &key.serialize_pem())?;
    put(&at, &certificate.pem())?;
    issue(folder, hosts, now)?;
    authority(folder)
}

/// The authority in a folder.
///
/// # Errors
/// [`TlsError`].
pub fn authority(folder: &Path) -> Result<Authority, TlsError> {
    let path = folder.join("authority.pem");
    let der = CertificateDer::from_pem_file(&path).map_err(|error| bad(&path, error))?;
    let hash = Sha256::digest(&der);
    let fingerprint = hash.iter().map(|byte| format!("{byte:02X}")).collect::<Vec<_>>().join(":");
    Ok(Authority {
        until: until(&der)
            .ok_or_else(|| TlsError::Bad { path: Some(path.display().to_string()), reason: None })?,
        fingerprint,
        certificate: der.to_vec(),
    })
}

fn bad(path: &Path, reason: impl std::fmt::Display) -> TlsError {
    TlsError::Bad { path: Some(path.display().to_string()), reason: Some(reason.to_string()) }
}

fn fit_host(host: &str) -> Result<(), TlsError> {
    if host.parse::<IpAddr>().is_ok() {
        return Ok(());
    }
    let label = |label: &str| {
        (1..=63).contains(&label.len())
            && label.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
            && !label.starts_with('-')
            && !label.ends_with('-')
    };
    let is_fit = host.len() <= 253 && host.split('.').all(label);
    if is_fit { Ok(()) } else { Err(TlsError::Name { name: host.to_owned() }) }
}

fn permitted(hosts: &[String]) -> Vec<GeneralSubtree> {
    let names = hosts.iter().filter(|host| host.parse::<IpAddr>().is_err()).cloned();
    let endings = PRIVATE_ENDINGS.iter().map(|ending| (*ending).to_owned());
    let addresses = hosts.iter().filter_map(|host| host.parse::<IpAddr>().ok()).map(|address| {
        let whole = if address.is_ipv4() { 32 } else { 128 };
        CidrSubnet::from_addr_prefix(address, whole)
    });
    let private = [
        ([127, 0, 0, 0], 8),
        ([10, 0, 0, 0], 8),
        ([172, 16, 0, 0], 12),
        ([192, 168, 0, 0], 16),
        ([169, 254, 0, 0], 16),
    ]
    .map(|(address, length)| CidrSubnet::from_v4_prefix(address, length));
    let six = ["::1/128", "fc00::/7", "fe80::/10"].iter().filter_map(|net| {
        let (address, length) = net.split_once('/')?;
        Some(CidrSubnet::from_addr_prefix(address.parse().ok()?, length.parse().ok()?))
    });
    endings
        .chain(names)
        .map(GeneralSubtree::DnsName)
        .chain(private.into_iter().chain(six).chain(addresses).map(GeneralSubtree::IpAddress))
        .collect()
}

/// From yesterday, for clocks that are a little behind, for so many days.
fn set_span(params: &mut CertificateParams, now: Timestamp, days: i64) {
    let today = jiff::tz::TimeZone::UTC.to_datetime(now).date();
    let day = |days: i64| {
        let date = today.saturating_add(days.days());
        date_time_ymd(i32::from(date.year()), date.month().unsigned_abs(), date.day().unsigned_abs())
    };
    params.not_before = day(-1);
    params.not_after = day(days);
}

/// Makes a server certificate, keeping the names it had.
fn issue(folder: &Path, hosts: &[String], now: Timestamp) -> Result<(), TlsError> {
    let authority = folder.join("authority.pem");
    let pem = fs::read_to_string(&authority).map_err(file_error(&authority))?;
    let key_path = folder.join("authority.key");
    let key = fs::read_to_string(&key_path).map_err(file_error(&key_path))?;
    let issuer = Issuer::from_ca_cert_pem(&pem, KeyPair::from_pem(&key)?)?;
    let own = KeyPair::generate()?;
    let mut names: Vec<String> = server(folder).map(|(_, names)| names).unwrap_or_default();
    names.extend(hosts.iter().cloned());
    names.extend(["localhost", "127.0.0.1", "::1"].map(str::to_owned));
    names.sort();
    names.dedup();
    names.iter().try_for_each(|name| fit_host(name))?;
    let mut params = CertificateParams::new(names)?;
    let mut name = DistinguishedName::new();
    name.push(DnType::CommonName, "brinewright");
    params.distinguished_name = name;
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    params.use_authority_key_identifier_extension = true;
    set_span(&mut params, now, SERVER_DAYS);
    let certificate = params.signed_by(&own, &issuer)?;
    // One file: certificate and key are never of two different makings.
    put_private(&folder.join("server.pem"), &format!("{}{}", certificate.pem(), own.serialize_pem()))
}

/// Time at which the server's certificate expires, and its names; none when there is none.
fn server(folder: &Path) -> Option<(Timestamp, Vec<String>)> {
    let der = CertificateDer::from_pem_file(folder.join("server.pem")).ok()?;
    let (_, parsed) = x509_parser::parse_x509_certificate(&der).ok()?;
    let names =
        parsed.subject_alternative_name().ok()??.value.general_names.iter().filter_map(|name| match name {
            x509_parser::extensions::GeneralName::DNSName(name) => Some((*name).to_owned()),
            x509_parser::extensions::GeneralName::IPAddress(bytes) => match bytes.len() {
                4 => <[u8; 4]>::try_from(*bytes).ok().map(|four| IpAddr::from(four).to_string()),
                _ => <[u8; 16]>::try_from(*bytes).ok().map(|all| IpAddr::from(all).to_string()),
            },
            _ => None,
        });
    Some((Timestamp::from_second(parsed.validity().not_after.timestamp()).ok()?, names.collect()))
}

fn until(der: &[u8]) -> Option<Timestamp> {
    let (_, parsed) = x509_parser::parse_x509_certificate(der).ok()?;
    Timestamp::from_second(parsed.validity().not_after.timestamp()).ok()
}

fn put(path: &Path, text: &str) -> Result<(), TlsError> {
    let draft = path.with_extension("new");
    fs::write(&draft, text).and_then(|()| fs::rename(&draft, path)).map_err(file_error(path))
}

/// Writes a file that its owner alone may read, from its first byte on.
fn put_private(path: &Path, text: &str) -> Result<(), TlsError> {
    let draft = path.with_extension("new");
    let mut options = fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    options
        .open(&draft)
        .and_then(|mut file| io::Write::write_all(&mut file, text.as_bytes()))
        .and_then(|()| fs::rename(&draft, path))
        .map_err(file_error(path))
}

fn load(certificate: &Path, key: &Path) -> Result<CertifiedKey, TlsError> {
    let chain = CertificateDer::pem_file_iter(certificate)
        .and_then(Iterator::collect::<Result<Vec<_>, _>>)
        .map_err(|error| bad(certificate, error))?;
    let key_der = PrivateKeyDer::from_pem_file(key).map_err(|error| bad(key, error))?;
    let loaded = CertifiedKey::from_der(chain, key_der, &default_provider())
        .map_err(|error| bad(certificate, error))?;
    loaded.keys_match().map_err(|error| bad(key, error))?;
    Ok(loaded)
}

/// The certificate in use, renewed or read again when its time comes. If that fails, the old one stays in use.
#[derive(Debug)]
struct Renewing {
    source: Source,
    held: Mutex<(Instant, Option<SystemTime>, Arc<CertifiedKey>)>,
}

impl Renewing {
    fn new(source: Source) -> Result<Self, TlsError> {
        let loaded = Arc::new(Self::made(&source)?);
        let changed = changed(&source);
        Ok(Self { source, held: Mutex::new((Instant::now(), changed, loaded)) })
    }

    fn made(source: &Source) -> Result<CertifiedKey, TlsError> {
        match source {
            Source::Files { certificate, key } => load(certificate, key),
            Source::Authority { folder, hosts } => {
                let now = Timestamp::now();
                let known = server(folder);
                let is_good = known.is_some_and(|(until, names)| {
                    until.duration_since(now).as_hours() > RENEW_DAYS * 24
                        && hosts.iter().all(|host| names.contains(host))
                });
                if !is_good {
                    issue(folder, hosts, now)?;
                }
                let path = folder.join("server.pem");
                load(&path, &path)
            }
        }
    }

    fn current(&self) -> Arc<CertifiedKey> {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        if held.0.elapsed() >= CHECK_EVERY {
            held.0 = Instant::now();
            let now = changed(&self.source);
            let is_due = matches!(self.source, Source::Authority { .. }) || now != held.1;
            if is_due && let Ok(loaded) = Self::made(&self.source) {
                held.1 = now;
                held.2 = Arc::new(loaded);
            }
        }
        Arc::clone(&held.2)
    }
}

fn changed(source: &Source) -> Option<SystemTime> {
    let path = match source {
        Source::Files { certificate, .. } => certificate.clone(),
        Source::Authority { folder, .. } => folder.join("server.pem"),
    };
    fs::metadata(path).and_then(|file| file.modified()).ok()
}

impl ResolvesServerCert for Renewing {
    fn resolve(&self, _hello: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(self.current())
    }
}

/// Returns what answers TLS connections, with a certificate that is renewed as it ages.
///
/// # Errors
/// [`TlsError`] when there is no certificate to begin with.
pub fn acceptor(source: Source) -> Result<TlsAcceptor, TlsError> {
    let listener = |error: rustls::Error| TlsError::Bad { path: None, reason: Some(error.to_string()) };
    let mut config = rustls::ServerConfig::builder_with_provider(Arc::new(default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(listener)?
        .with_no_client_auth()
        .with_cert_resolver(Arc::new(Renewing::new(source)?));
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(TlsAcceptor::from(Arc::new(config)))
}
