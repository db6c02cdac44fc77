//! Serving a console from its start to its end.

use std::future::Future;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use tokio::net::TcpListener;
use tokio_rustls::TlsAcceptor;

use crate::door::{self, Limits};
use crate::routes::{router, trust_router};
use crate::state::App;

/// Longest wait at the end for what is still being written.
const LAST_WRITES: Duration = Duration::from_secs(3);

/// What a console says once it listens.
#[derive(Debug, Clone)]
pub struct Ready {
    /// Address it listens on, with the port it was given.
    pub address: SocketAddr,
}

/// Serves until told to stop, when requests under way get a moment to finish. The ledger is verified in the background
/// meanwhile.
pub async fn serve(
    listener: TcpListener,
    tls: Option<TlsAcceptor>,
    app: Arc<App>,
    limits: Limits,
    stop: impl Future<Output = ()>,
) {
    let checked = Arc::clone(&app);
    let tasks = crate::practice::tasks(&app);
    let checking = tokio::spawn(crate::alerts::check_every_minute(Arc::clone(&app)));
    // A ledger that cannot be read says so on the pages; there is nothing more to do about it here.
    drop(tokio::task::spawn_blocking(move || checked.verify().is_ok()));
    let pages = router(Arc::clone(&app));
    door::keep(listener, tls, pages, limits, app.is_behind_proxy, stop).await;
    checking.abort();
    drop(tasks);
    let ending = tokio::task::spawn_blocking(move || {
        if let Some(trainer) = &app.trainer {
            trainer.stop();
        }
        if let Some(following) = &app.following {
            following.finish();
        }
        // What cannot be remembered now is held against an older end, which is as true.
        let _ = app.remember_end();
    });
    // A disk that hangs keeps no console from ending.
    let _ = tokio::time::timeout(LAST_WRITES, ending).await;
}

/// Shows, without encryption, how a device comes to trust the console on a port, and nothing else.
pub async fn serve_trust(listener: TcpListener, app: Arc<App>, port: u16) {
    let is_behind_proxy = app.is_behind_proxy;
    let pages = trust_router(app, port);
    door::keep(listener, None, pages, Limits::default(), is_behind_proxy, std::future::pending()).await;
}
