//! The yard's own certificates, as a client sees them that knows the authority and nothing else.
//!
//! The client is rustls with webpki (a general-purpose library), which checks names, dates and name constraints by RFC
//! 5280.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use message::{Tell, message};
use std::path::Path;
use std::sync::Arc;

use common::TestApp;
use console::Limits;
use console::tls::{Source, acceptor, authority, init};
use jiff::{SignedDuration, Timestamp};
use rustls::pki_types::{CertificateDer, ServerName};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio_rustls::TlsConnector;

async fn asked(address: std::net::SocketAddr, folder: &Path, name: &str) -> Result<String, String> {
    let mut roots = rustls::RootCertStore::empty();
    roots.add(CertificateDer::from(authority(folder).unwrap().certificate)).unwrap();
    let config =
        rustls::ClientConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_root_certificates(roots)
            .with_no_client_auth();
    let stream = TcpStream::connect(address).await.map_err(|error| error.to_string())?;
    let name = ServerName::try_from(name.to_owned()).unwrap();
    let mut stream = TlsConnector::from(Arc::new(config))
        .connect(name, stream)
        .await
        .map_err(|error| error.to_string())?;
    let request = "GET /health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
    stream.write_all(request.as_bytes()).await.map_err(|error| error.to_string())?;
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.map_err(|error| error.to_string())?;
    Ok(answer)
}

async fn serving(test: &TestApp, folder: &Path, hosts: &[&str]) -> std::net::SocketAddr {
    let tcp = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = tcp.local_addr().unwrap();
    let source = Source::Authority {
        folder: folder.to_path_buf(),
        hosts: hosts.iter().map(|host| (*host).to_owned()).collect(),
    };
    let app = Arc::clone(&test.app);
    let tls = acceptor(source).unwrap();
    tokio::spawn(console::serve(tcp, Some(tls), app, Limits::default(), std::future::pending()));
    address
}

#[tokio::test]
async fn a_device_that_trusts_the_yard_comes_in_by_its_names_only() {
    let test = TestApp::new();
    let folder = test.folder.join("tls");
    let hosts = ["brine.test".to_owned(), "192.0.2.20".to_owned()];
    init(&folder, "Alder Fork", &hosts, false, Timestamp::now()).unwrap();
    let address = serving(&test, &folder, &["brine.test"]).await;
    // Somebody who never greets keeps nobody waiting.
    let _silent = TcpStream::connect(address).await.unwrap();
    for name in ["brine.test", "192.0.2.20", "localhost", "127.0.0.1"] {
        let answer = asked(address, &folder, name).await.unwrap();
        assert!(answer.starts_with("HTTP/1.1 200") && answer.ends_with("ok"), "{name}: {answer}");
    }
    assert!(asked(address, &folder, "other.test").await.unwrap_err().contains("not valid for name"));
    // Another authority of the same name is not trusted.
    let stranger = test.folder.join("stranger");
    init(&stranger, "Alder Fork", &hosts, false, Timestamp::now()).unwrap();
    assert!(asked(address, &stranger, "brine.test").await.is_err());
    let again = init(&folder, "Alder Fork", &hosts, false, Timestamp::now()).unwrap_err();
    assert_eq!(again.message(), message!("console.tls.already", path = folder.display().to_string()));
    for name in ["no name", "-x", "a..b", ""] {
        let refused = init(&test.folder.join("bad"), "Y", &[name.to_owned()], false, Timestamp::now());
        let reason = message!("console.tls.not-a-name");
        assert_eq!(
            refused.unwrap_err().message(),
            message!("console.tls.name", name = name, reason = reason)
        );
    }
}

#[tokio::test]
async fn the_certificate_renews_itself_and_the_authority_stays() {
    let test = TestApp::new();
    let folder = test.folder.join("tls");
    let hosts = ["brine.test".to_owned()];
    // Made 300 days ago: 65 are left.
    let then = Timestamp::now() - SignedDuration::from_hours(300 * 24);
    let made = init(&folder, "Alder Fork", &hosts, false, then).unwrap();
    let before = std::fs::read(folder.join("server.pem")).unwrap();
    let address = serving(&test, &folder, &[]).await;
    assert_ne!(before, std::fs::read(folder.join("server.pem")).unwrap());
    assert_eq!(authority(&folder).unwrap().fingerprint, made.fingerprint);
    assert!(asked(address, &folder, "brine.test").await.is_ok(), "it keeps its names");
    // Once more with another name: it is taken in; with nothing new, nothing is made.
    let renewed = std::fs::read(folder.join("server.pem")).unwrap();
    serving(&test, &folder, &["brine.test"]).await;
    assert_eq!(renewed, std::fs::read(folder.join("server.pem")).unwrap());
    let address = serving(&test, &folder, &["plant.lan"]).await;
    for name in ["brine.test", "plant.lan"] {
        assert!(asked(address, &folder, name).await.is_ok(), "{name}");
    }
    // What the authority was not made for, it cannot vouch for: a stolen one is worth nothing elsewhere.
    let address = serving(&test, &folder, &["bank.example"]).await;
    assert!(asked(address, &folder, "bank.example").await.is_err());
    #[cfg(unix)]
    for name in ["authority.key", "server.pem"] {
        use std::os::unix::fs::PermissionsExt;
        let mode = std::fs::metadata(folder.join(name)).unwrap().permissions().mode();
        assert_eq!(mode & 0o077, 0, "{name}");
    }
}
