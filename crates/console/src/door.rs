//! The door: who is let in at once, how long a visitor may take, and how all are shown out.
//!
//! Nobody is known here yet, so that the limits hold for all: each address has its share of connections, whoever does
//! not greet, ask or read on is let go, and at the end those who are being served get a moment, not more.

use std::collections::HashMap;
use std::future::Future;
use std::net::{IpAddr, Ipv6Addr, SocketAddr};
use std::pin::pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{ConnectInfo, Request, State};
use axum::http::{Method, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::{IntoResponse, Response};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::{GracefulShutdown, Watcher};
use message::message;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio_io_timeout::TimeoutWriter;
use tokio_rustls::TlsAcceptor;
use tower::ServiceExt;

use crate::access::LARGEST_FORM;
use crate::plain_refusal::refuse_plainly;

/// How many may come, and how long they may take.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// A greeting under TLS.
    pub greeting: Duration,
    /// The lines of a request before its body; also how long a connection may stand idle.
    pub head: Duration,
    /// A form, from its first byte to its last.
    pub form: Duration,
    /// A visitor who reads on after no longer than this is served on.
    pub reading: Duration,
    /// Connections of one address. This machine's own is excepted, and behind a proxy all are: there everybody comes
    /// from one address.
    pub each: usize,
    /// Connections in all; further visitors wait.
    pub all: usize,
    /// What is under way at the end is waited for so long.
    pub ending: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            greeting: Duration::from_secs(10),
            head: Duration::from_secs(30),
            form: Duration::from_secs(20),
            reading: Duration::from_secs(30),
            each: 64,
            all: 2_000,
            ending: Duration::from_secs(4),
        }
    }
}

/// Who is inside, by address.
#[derive(Debug, Clone, Default)]
struct Inside(Arc<Mutex<HashMap<IpAddr, usize>>>);

/// One of an address's connections; given back when dropped.
#[derive(Debug)]
struct Pass {
    inside: Inside,
    of: IpAddr,
}

impl Inside {
    /// Lets one more in, if the address has any left.
    fn enter(&self, peer: IpAddr, each: usize) -> Option<Pass> {
        let of = household(peer);
        let mut inside = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let count = inside.entry(of).or_default();
        if *count >= each {
            return None;
        }
        *count += 1;
        Some(Pass { inside: self.clone(), of })
    }
}

impl Drop for Pass {
    fn drop(&mut self) {
        let mut inside = self.inside.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = inside.get_mut(&self.of) {
            *count -= 1;
            if *count == 0 {
                inside.remove(&self.of);
            }
        }
    }
}

/// What counts as one address: of IPv6 the network of 64 bits that one machine may choose its own from.
fn household(peer: IpAddr) -> IpAddr {
    match peer.to_canonical() {
        IpAddr::V6(six) => {
            let [a, b, c, d, ..] = six.segments();
            IpAddr::V6(Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0))
        }
        four => four,
    }
}

/// Answers visitors until told to stop.
pub(crate) async fn keep(
    listener: TcpListener,
    tls: Option<TlsAcceptor>,
    pages: Router,
    limits: Limits,
    is_behind_proxy: bool,
    stop: impl Future<Output = ()>,
) {
    let room = Arc::new(Semaphore::new(limits.all));
    let inside = Inside::default();
    let under_way = GracefulShutdown::new();
    let pages = pages.layer(middleware::from_fn_with_state(limits, whole_in_time));
    let mut stop = pin!(stop);
    loop {
        let accepted = async {
            // A closed semaphore is the only error, and nobody closes it.
            let room = Arc::clone(&room).acquire_owned().await;
            (room, listener.accept().await)
        };
        let (room, accepted) = tokio::select! {
            accepted = accepted => accepted,
            () = &mut stop => break,
        };
        let Ok((stream, peer)) = accepted else {
            // Out of file handles, or a visitor who left: go on in a moment.
            tokio::time::sleep(Duration::from_millis(50)).await;
            continue;
        };
        let has_own_share = !is_behind_proxy && !peer.ip().to_canonical().is_loopback();
        let each = if has_own_share { limits.each } else { limits.all };
        let Some(pass) = inside.enter(peer.ip(), each) else { continue };
        // Forms and pages are small; they leave at once.
        let _ = stream.set_nodelay(true);
        let (pages, tls, watcher) = (pages.clone(), tls.clone(), under_way.watcher());
        tokio::spawn(async move {
            match tls {
                None => converse(stream, peer, pages, limits, watcher).await,
                Some(tls) => {
                    if let Ok(Ok(stream)) = tokio::time::timeout(limits.greeting, tls.accept(stream)).await {
                        converse(stream, peer, pages, limits, watcher).await;
                    }
                }
            }
            drop((room, pass));
        });
    }
    drop(listener);
    // Whoever is not done then is left; what is recorded stands in the ledger by then or not at all.
    let _ = tokio::time::timeout(limits.ending, under_way.shutdown()).await;
}

/// Takes in a form whole before anything is thought about it; whoever dawdles is let go.
async fn whole_in_time(State(limits): State<Limits>, request: Request, next: Next) -> Response {
    if request.method() != Method::POST {
        return next.run(request).await;
    }
    let (parts, body) = request.into_parts();
    let body = match tokio::time::timeout(limits.form, to_bytes(body, LARGEST_FORM)).await {
        Ok(Ok(bytes)) => Body::from(bytes),
        // Told further in, on a page: this is as much too large as what came.
        Ok(Err(_)) => Body::from(vec![b'='; LARGEST_FORM + 1]),
        Err(_) => {
            let closing = [(header::CONNECTION, "close")];
            let why = message!("console.refused.too-slow");
            let refusal = refuse_plainly(&parts.headers, StatusCode::REQUEST_TIMEOUT, &why);
            return (closing, refusal).into_response();
        }
    };
    next.run(Request::from_parts(parts, body)).await
}

/// Serves one connection to its end.
async fn converse<S>(stream: S, peer: SocketAddr, pages: Router, limits: Limits, watcher: Watcher)
where
    S: AsyncRead + AsyncWrite + Send + 'static,
{
    let service = service_fn(move |request: hyper::Request<hyper::body::Incoming>| {
        let mut request = request.map(Body::new);
        request.extensions_mut().insert(ConnectInfo(peer));
        pages.clone().oneshot(request)
    });
    let mut stream = TimeoutWriter::new(stream);
    stream.set_timeout(Some(limits.reading));
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(limits.head)
        .serve_connection(TokioIo::new(Box::pin(stream)), service);
    // A visitor who left in the middle is no concern of ours.
    let _ = watcher.watch(connection).await;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_has_its_share_and_gets_it_back() {
        let inside = Inside::default();
        let at = |text: &str| text.parse::<IpAddr>().unwrap_or(IpAddr::V6(Ipv6Addr::LOCALHOST));
        let held: Vec<_> = (0..3).filter_map(|_| inside.enter(at("192.0.2.1"), 3)).collect();
        assert_eq!(held.len(), 3);
        assert!(inside.enter(at("192.0.2.1"), 3).is_none());
        assert!(inside.enter(at("::ffff:192.0.2.1"), 3).is_none(), "the same by another writing");
        assert!(inside.enter(at("192.0.2.2"), 3).is_some(), "another is let in");
        drop(held);
        assert!(inside.enter(at("192.0.2.1"), 3).is_some());
        let _one = inside.enter(at("2001:db8::1"), 1);
        assert!(inside.enter(at("2001:db8::2"), 1).is_none(), "one machine picks many of these");
        assert!(inside.enter(at("2001:db8:0:1::1"), 1).is_some());
        assert_eq!(inside.0.lock().map(|held| held.len()).ok(), Some(1), "who left is forgotten");
    }
}
