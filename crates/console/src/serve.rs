//! Listening. Any listener that knows its visitors' addresses will do: plain TCP today, TLS over it later.

use std::future::Future;
use std::net::SocketAddr;
use std::sync::Arc;

use axum::serve::{Listener, ListenerExt};

use crate::routes::{router, trust_router};
use crate::state::App;

/// What a console says once it listens.
#[derive(Debug, Clone)]
pub struct Ready {
    /// Where.
    pub address: SocketAddr,
}

/// Serves until told to stop; requests under way are finished. The chain is checked in the background meanwhile.
///
/// # Errors
/// When the listener fails.
pub async fn serve<L>(
    listener: L,
    app: Arc<App>,
    stop: impl Future<Output = ()> + Send + 'static,
) -> std::io::Result<()>
where
    L: Listener<Addr = SocketAddr>,
{
    let checked = Arc::clone(&app);
    let tasks = crate::practice::tasks(&app);
    let looking = tokio::spawn(crate::alerts::keep_looking(Arc::clone(&app)));
    // A ledger that cannot be read says so on the pages; there is nothing more to do about it here.
    let check = tokio::task::spawn_blocking(move || checked.verify().is_ok());
    let ends = Arc::clone(&app);
    let service = router(app).into_make_service_with_connect_info::<SocketAddr>();
    // axum knows the visitor's address for its own TCP listener and for any listener under a tap; this one does
    // nothing else.
    axum::serve(listener.tap_io(|_| {}), service).with_graceful_shutdown(stop).await?;
    looking.abort();
    drop(tasks);
    if let Some(trainer) = &ends.trainer {
        trainer.stop();
    }
    if let Some(following) = &ends.following {
        following.finish();
    }
    let _ = check.await;
    // What cannot be remembered now is held against an older end, which is as true.
    let _ = ends.remember_end();
    Ok(())
}

/// Shows, without encryption, how a device comes to trust the console on a port, and nothing else.
///
/// # Errors
/// When the listener fails.
pub async fn serve_trust(listener: tokio::net::TcpListener, app: Arc<App>, port: u16) -> std::io::Result<()> {
    let service = trust_router(app, port).into_make_service_with_connect_info::<SocketAddr>();
    axum::serve(listener, service).await
}
