//! `serve`: the console of a yard on its ledger.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant, SystemTime};

use console::people::People;
use console::practice::PracticeOptions;
use console::tls::{Source, TlsError};
use console::{App, AppOptions, Backup, Clock, ForecastSource, Limits, NamedForecast};
use jiff::Timestamp;
use message::Message;
use site::Yard;
use store::backup::Sources;
use store::people::PeopleFile;
use store::telemetry::{Telemetry, TelemetryFile};
use store::{ServingLock, SqliteLedger};
use tokio::net::TcpListener;
use weather::WeatherFile;

use crate::args;
use crate::errors::sentence;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// How often a forecast file is looked at for a change.
const LOOK_EVERY: Duration = Duration::from_secs(10);
/// Told to end, the program has ended after no longer than this.
const LONGEST_END: Duration = Duration::from_millis(9_500);

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
    let shared_yard = Arc::new(yard.clone());
    for path in &args.forecast {
        let source = FileSource::new(path, &args.reading, &shared_yard);
        // A forecast that cannot be read is said on the pages and as an alert; the console starts all the same, and
        // takes the file once it is good. A replay with a given time is typed by hand: that is refused at once.
        let (weather, issued, trouble) = match input::forecast(path, &args.reading, &yard, Timestamp::now()) {
            Ok((weather, issued)) => (weather, issued, None),
            Err(failure) if args.reading.issued.is_some() => return Err(failure),
            Err(Failure::No(text) | Failure::Input(text) | Failure::Machine(text)) => {
                (WeatherFile::nothing(), Timestamp::now(), Some(text))
            }
        };
        let label =
            path.file_name().map_or_else(|| path.display().to_string(), |n| n.to_string_lossy().into_owned());
        forecasts.push(NamedForecast {
            key: format!("f{}", forecasts.len() + 1),
            label,
            weather: Arc::new(weather),
            issued,
            hours: args.hours,
            // With a given issue time this is a replay, and stands still.
            source: args.reading.issued.is_none().then(|| Arc::new(source) as Arc<dyn ForecastSource>),
            trouble: trouble.map(message::said),
        });
    }
    let procedures = input::procedures(&args.procedure, &yard)?;
    let mqtt = args.practice_mqtt.as_deref().map(broker).transpose()?;
    let database = args.database.display().to_string();
    if database.contains("://") {
        return Err(Failure::Input(format!(
            "--database {database}: accepted: a file; other databases are not built in"
        )));
    }
    let beside = |given: Option<&PathBuf>, name: &str| {
        given.cloned().unwrap_or_else(|| args.database.with_file_name(name))
    };
    let tls = source(args, &beside(args.tls.as_ref(), "tls"))?;
    let authority = match &tls {
        Some(Source::Authority { folder, .. }) => Some(console::tls::authority(folder).map_err(tls_failure)?),
        Some(Source::Files { .. }) | None => None,
    };
    if args.trust_address.is_some() && authority.is_none() {
        return Err(Failure::Input(
            "--trust-address: there is no authority of the yard to trust; accepted: with \"brinewright tls init\" first".into(),
        ));
    }
    // The folder's lock first: a second server must not even open the ledger.
    let _lock = ServingLock::acquire(&args.database, &format!("process {}", std::process::id()))?;
    let ledger = SqliteLedger::open(&args.database)?;
    let file = PeopleFile::open(&beside(args.people.as_ref(), "people.db"))?;
    let people = Arc::new(People::new(file, Timestamp::now())?);
    let path = beside(args.telemetry.as_ref(), "telemetry.db");
    let telemetry =
        Arc::new(TelemetryFile::open_or_set_aside(&path, Timestamp::now())?) as Arc<dyn Telemetry>;
    let app = App::new(AppOptions {
        yard,
        rates,
        procedures,
        ledger: Arc::new(ledger),
        forecasts,
        clock: Clock::System,
        base_path: args.base_path.clone(),
        hosts: args.host.clone(),
        is_demo: false,
        telemetry: Some(telemetry),
        practice: Some(PracticeOptions {
            folder: beside(args.practice.as_ref(), "practice"),
            modbus: args.practice_modbus,
            mqtt,
            speed: 10,
        }),
        plant: None,
        people: Some(Arc::clone(&people)),
        is_secure: tls.is_some() || args.behind_proxy,
        is_behind_proxy: args.behind_proxy,
        authority,
        backup: args.backup.as_ref().map(|folder| {
            let sources = Sources {
                ledger: args.database.clone(),
                people: Some(beside(args.people.as_ref(), "people.db")),
                yard: Some(args.yard.clone()),
                keys: None,
            };
            Backup::new(sources, folder.clone())
        }),
        folder: args.yard.parent().map_or_else(PathBuf::new, Path::to_path_buf),
    })
    .map_err(|error| Failure::Input(error.to_string()))?;
    let first = match people.is_set_up()? {
        true => None,
        false => Some(people.give_code("first", "the console's start", Timestamp::now())?),
    };
    let door = Door { tls, trust: args.trust_address, first };
    listen(Arc::new(app), &[args.address], door)?;
    Ok(Done::Yes)
}

/// Where the certificate comes from; none on this machine alone, or behind a proxy.
fn source(args: &args::Serve, folder: &Path) -> Result<Option<Source>, Failure> {
    if let (Some(certificate), Some(key)) = (&args.certificate, &args.key) {
        return Ok(Some(Source::Files { certificate: certificate.clone(), key: key.clone() }));
    }
    if args.behind_proxy {
        return Ok(None);
    }
    if folder.join("authority.pem").exists() {
        return Ok(Some(Source::Authority { folder: folder.to_path_buf(), hosts: args.host.clone() }));
    }
    if !args.address.ip().is_loopback() {
        return Err(Failure::Input(format!(
            "--address {}: others would come in without encryption; accepted: after \"brinewright tls init --host NAME\", \
             or with --certificate and --key, or --behind-proxy",
            args.address
        )));
    }
    Ok(None)
}

/// A failure of certificates as the program tells it.
pub(super) fn tls_failure(error: TlsError) -> Failure {
    let text = sentence(&error);
    match error {
        TlsError::File { .. } | TlsError::Making(_) => Failure::Machine(text),
        TlsError::Already { .. } | TlsError::Name { .. } | TlsError::Bad { .. } => Failure::Input(text),
    }
}

/// A broker's host and port.
fn broker(text: &str) -> Result<(String, u16), Failure> {
    let parts = text.rsplit_once(':').and_then(|(host, port)| Some((host.to_string(), port.parse().ok()?)));
    parts.filter(|(host, _)| !host.is_empty()).ok_or_else(|| {
        Failure::Input(format!("--practice-mqtt = {text}: accepted: a host and a port, like localhost:1883"))
    })
}

/// A forecast file that may be replaced while the console runs.
struct FileSource {
    path: PathBuf,
    reading: args::Reading,
    yard: Arc<Yard>,
    seen: Mutex<(Instant, Option<SystemTime>)>,
}

impl FileSource {
    fn new(path: &Path, reading: &args::Reading, yard: &Arc<Yard>) -> Self {
        let seen = Mutex::new((Instant::now(), modified(path)));
        Self { path: path.to_path_buf(), reading: reading.clone(), yard: Arc::clone(yard), seen }
    }
}

fn modified(path: &Path) -> Option<SystemTime> {
    std::fs::metadata(path).and_then(|file| file.modified()).ok()
}

impl ForecastSource for FileSource {
    fn changed(&self) -> Result<Option<WeatherFile>, Message> {
        let mut seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        if seen.0.elapsed() < LOOK_EVERY {
            return Ok(None);
        }
        let now = modified(&self.path);
        let is_same = now == seen.1;
        *seen = (Instant::now(), now);
        if is_same {
            return Ok(None);
        }
        match input::forecast(&self.path, &self.reading, &self.yard, Timestamp::now()) {
            Ok((weather, _)) => Ok(Some(weather)),
            Err(Failure::No(text) | Failure::Input(text) | Failure::Machine(text)) => {
                Err(message::said(text))
            }
        }
    }
}

/// How visitors come in.
#[derive(Default)]
pub struct Door {
    /// The certificate; none for plain http.
    pub tls: Option<Source>,
    /// Where the page that tells how to trust this console is shown without encryption.
    pub trust: Option<SocketAddr>,
    /// Code for the first supervisor, where there is none yet.
    pub first: Option<String>,
}

/// Serves on the first of some addresses that is free, until the program is told to stop.
pub fn listen(app: Arc<App>, addresses: &[SocketAddr], door: Door) -> Result<(), Failure> {
    raise_descriptors();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|error| Failure::Machine(format!("the console could not start: {error}")))?;
    let stop = stopped()?;
    let served = runtime.block_on(async {
        let (listener, address) = bind(addresses).await?;
        let scheme = if door.tls.is_some() { "https" } else { "http" };
        let at = format!("{scheme}://{address}{}", app.base_path);
        print(&format!("console: {at}/"))?;
        if app.trainer.is_some() {
            print(&format!("practice plant: {at}/trainer"))?;
        }
        if let Some(code) = &door.first {
            print(&format!(
                "nobody is enrolled: make the first supervisor at {at}/first, code {code}, within 24 hours"
            ))?;
        }
        let trust = match door.trust {
            Some(asked) => {
                let (listener, at) = bind(&[asked]).await?;
                print(&format!("how a device comes to trust it: http://{at}/"))?;
                Some(tokio::spawn(console::serve_trust(listener, Arc::clone(&app), address.port())))
            }
            None => None,
        };
        let tls = door.tls.map(console::tls::acceptor).transpose().map_err(tls_failure)?;
        console::serve(listener, tls, app, Limits::default(), async {
            // Whoever was to tell is gone: the program ends.
            let _ = stop.await;
        })
        .await;
        if let Some(trust) = trust {
            trust.abort();
        }
        Ok(())
    });
    // A check of the chain or a report may go on for long: it only reads, and is left.
    runtime.shutdown_timeout(Duration::from_secs(1));
    served
}

/// Connections are files: lets this program have as many as the system allows.
fn raise_descriptors() {
    #[cfg(unix)]
    {
        use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
        let now = getrlimit(Resource::Nofile);
        // What the system does not allow stays: visitors wait earlier then.
        let _ = setrlimit(Resource::Nofile, Rlimit { current: now.maximum, maximum: now.maximum });
    }
}

async fn bind(addresses: &[SocketAddr]) -> Result<(TcpListener, SocketAddr), Failure> {
    let listener = TcpListener::bind(addresses).await.map_err(|error| {
        let asked = addresses.first().map_or_else(String::new, ToString::to_string);
        Failure::Machine(format!(
            "{asked}: cannot listen there ({error}); accepted: --address with a free port"
        ))
    })?;
    let address = listener.local_addr().map_err(|error| Failure::Machine(error.to_string()))?;
    Ok((listener, address))
}

/// Told once the program is asked to end: by an interrupt or, where there is one, a request to end.
///
/// A thread of its own listens, so that it is heard whatever the console is busy with; and when the console has not
/// ended in time, that thread ends the program. Nothing is lost by it: what was acknowledged is on the disk.
fn stopped() -> Result<tokio::sync::oneshot::Receiver<()>, Failure> {
    let failed = |error: std::io::Error| Failure::Machine(format!("the console could not start: {error}"));
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(failed)?;
    let (tell, told) = tokio::sync::oneshot::channel();
    // Listened for from here on: a request that comes before the thread runs is not the system's to answer.
    let asked = {
        let _inside = runtime.enter();
        asked_to_end().map_err(failed)?
    };
    let listen = move || {
        runtime.block_on(async {
            asked.await;
            // The console may have ended by itself.
            let _ = tell.send(());
            tokio::time::sleep(LONGEST_END).await;
        });
        // Nobody may be left to read it.
        let _ = print("the console did not end in time, and is ended; what was recorded is kept");
        std::process::exit(1)
    };
    std::thread::Builder::new().name("ending".into()).spawn(listen).map_err(failed)?;
    Ok(told)
}

/// What ends with an interrupt or a request to end.
#[cfg(unix)]
fn asked_to_end() -> std::io::Result<impl Future<Output = ()> + Send> {
    use tokio::signal::unix::{SignalKind, signal};
    let (mut interrupt, mut end) = (signal(SignalKind::interrupt())?, signal(SignalKind::terminate())?);
    Ok(async move {
        tokio::select! {
            _ = interrupt.recv() => {}
            _ = end.recv() => {}
        }
    })
}

/// What ends with an interrupt.
#[cfg(not(unix))]
fn asked_to_end() -> std::io::Result<impl Future<Output = ()> + Send> {
    Ok(async {
        // Without a handler the system's own still ends the program.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    })
}
