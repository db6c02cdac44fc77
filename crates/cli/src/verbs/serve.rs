//! `serve`: the console of a yard on its ledger.

use std::net::SocketAddr;
use std::sync::Arc;

use console::{App, AppOptions, Clock, NamedForecast};
use jiff::Timestamp;
use store::{ServingLock, SqliteLedger};
use tokio::net::TcpListener;

use crate::args;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Runs the verb.
pub fn run(args: &args::Serve) -> Outcome {
    if !args.base_path.is_empty() && (!args.base_path.starts_with('/') || args.base_path.ends_with('/')) {
        return Err(Failure::Input(format!(
            "--base-path = {}: accepted: empty, or like /brine, without a slash at the end",
            args.base_path
        )));
    }
    let yard = input::yard(&args.yard)?;
    let rates = input::rates(&yard)?;
    let mut forecasts = Vec::new();
    for path in &args.forecast {
        let (weather, issued) = input::forecast(path, &args.reading, &yard, Timestamp::now())?;
        let label =
            path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
        forecasts.push(NamedForecast {
            key: format!("f{}", forecasts.len() + 1),
            label,
            weather: Arc::new(weather),
            issued,
            hours: args.hours,
        });
    }
    let database = args.database.display().to_string();
    if database.contains("://") {
        return Err(Failure::Input(format!(
            "--database {database}: accepted: a file; other databases are not built in"
        )));
    }
    // The folder's lock first: a second server must not even open the ledger.
    let _lock = ServingLock::acquire(&args.database, &format!("process {}", std::process::id()))?;
    let ledger = SqliteLedger::open(&args.database)?;
    let app = App::new(AppOptions {
        yard,
        rates,
        ledger: Arc::new(ledger),
        ledger_path: args.database.clone(),
        forecasts,
        clock: Clock::System,
        base_path: args.base_path.clone(),
        is_demo: false,
    })
    .map_err(|error| Failure::Input(error.to_string()))?;
    listen(Arc::new(app), &[args.address])?;
    Ok(Done::Yes)
}

/// Serves on the first of some addresses that is free, until the program is told to stop.
pub fn listen(app: Arc<App>, addresses: &[SocketAddr]) -> Result<(), Failure> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|error| Failure::Machine(format!("the console could not start: {error}")))?;
    runtime.block_on(async {
        let listener = TcpListener::bind(addresses).await.map_err(|error| {
            let asked = addresses.first().map_or_else(String::new, ToString::to_string);
            Failure::Machine(format!(
                "{asked}: cannot listen there ({error}); accepted: --address with a free port"
            ))
        })?;
        let address = listener.local_addr().map_err(|error| Failure::Machine(error.to_string()))?;
        print(&format!("console: http://{address}{}/", app.base_path))?;
        console::serve(listener, app, stopped())
            .await
            .map_err(|error| Failure::Machine(format!("the console stopped: {error}")))
    })
}

/// Waits for an interrupt or, where there is one, a request to end.
async fn stopped() {
    let interrupt = async {
        // Without a handler the system's own still ends the program.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    let end = async {
        match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(mut end) => {
                end.recv().await;
            }
            Err(_) => std::future::pending::<()>().await,
        }
    };
    #[cfg(not(unix))]
    let end = std::future::pending::<()>();
    tokio::select! {
        () = interrupt => {}
        () = end => {}
    }
}
