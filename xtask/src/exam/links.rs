//! The link beside programs of others: pymodbus as server and as client, mosquitto as broker; and what a crash costs.

use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use link::practice::{Showing, publish_mqtt, serve_modbus};
use link::{Live, Patience, follow};
use quantity::hours;
use site::points::{At, Form, Machine, Point, PointUnit, Protocol, Table};

use super::board::{Board, Outcome};
use crate::scratch::Scratch;
use crate::{running, workspace};

/// What the peers need from the Python registry.
const PYMODBUS: [&str; 1] = ["pymodbus==3.16.1"];
/// A machine or broker that comes back is found within this.
const BACK_WITHIN: Duration = Duration::from_secs(30);
const SOON: Duration = Duration::from_secs(20);
/// A crash may cost this much, and a little for the writing itself.
const LOST_AT_MOST: f64 = 5.0 + 0.3;
const CRASHES: [u64; 3] = [6_300, 9_100, 12_700];

/// Puts all of it on the board.
pub fn examine(board: &mut Board) {
    board.put("Modbus TCP: pymodbus serves", "every table, form and order", modbus_server());
    board.put("Modbus TCP: pymodbus asks", "reads answered, writes refused", modbus_client());
    board.put("MQTT: mosquitto", "heard; back within 30 s of a restart", mqtt());
    board.put("telemetry after a kill", "at most 5 s lost", crashes());
    let bench = workspace::cargo(&["bench", "-p", "cli", "--bench", "telemetry", "--", "--check"]);
    let told = "a season < 1 GB, a window < 50 ms, 4,800 points a second without loss";
    board.put("telemetry at length", told, running::pass_through(bench).map(|()| Outcome::pass("as above")));
}

fn python() -> Result<Command, String> {
    running::python("link-peers", &PYMODBUS)
}

fn script(name: &str) -> std::path::PathBuf {
    workspace::root().join("crates/link/tests/peers").join(name)
}

fn free_port() -> Result<u16, String> {
    let listener = TcpListener::bind("127.0.0.1:0").map_err(|error| error.to_string())?;
    listener.local_addr().map(|address| address.port()).map_err(|error| error.to_string())
}

/// A process that is ended when the value goes.
struct Peer(Child);

impl Drop for Peer {
    fn drop(&mut self) {
        running::end(&mut self.0);
    }
}

fn start(mut command: Command) -> Result<Peer, String> {
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command.spawn().map(Peer).map_err(|error| format!("{command:?}: {error}"))
}

fn runtime() -> Result<tokio::runtime::Runtime, String> {
    tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|error| error.to_string())
}

fn point(at: At) -> Point {
    Point {
        id: "point".into(),
        name: "point".into(),
        machine: 0,
        at,
        scale: 1.0,
        offset: 0.0,
        unit: PointUnit::Plain,
        age_limit: hours(3.0 / 3600.0),
        shows: None,
        tank: None,
        road: None,
    }
}

fn live(address: String, protocol: Protocol, points: Vec<Point>) -> Arc<Live> {
    let every = hours(0.2 / 3600.0);
    let machine = Machine { id: "peer".into(), name: "Peer".into(), address, protocol, every };
    Arc::new(Live::new(vec![machine], points, Arc::new(Timestamp::now), Arc::new(|_| ())))
}

fn value(live: &Live, point: usize) -> Option<f64> {
    live.shown(point).filter(|shown| shown.quality.is_good()).and_then(|shown| shown.value)
}

async fn until(what: &str, within: Duration, mut holds: impl FnMut() -> bool) -> Result<Duration, String> {
    let begun = Instant::now();
    while !holds() {
        if within < begun.elapsed() {
            return Err(format!("{what}: not within {} s", within.as_secs()));
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    Ok(begun.elapsed())
}

/// We read what pymodbus serves; the expected values stand in its script.
fn modbus_server() -> Result<Outcome, String> {
    let port = free_port()?;
    let mut server = python()?;
    server.arg(script("modbus_server.py")).arg(port.to_string());
    let _server = start(server)?;
    let register = |table, number, form, low_first| point(At::Register { table, number, form, low_first });
    let expected = [
        (register(Table::Input, 0, Form::F32, false), 23.25),
        (register(Table::Input, 2, Form::F32, true), 23.25),
        (register(Table::Input, 4, Form::I16, false), -125.0),
        (register(Table::Input, 5, Form::U32, false), 123_456.0),
        (register(Table::Input, 7, Form::F64, false), -1.5),
        (register(Table::Input, 11, Form::I32, false), -70_000.0),
        (register(Table::Holding, 0, Form::F32, false), -4.5),
        (register(Table::Coil, 0, Form::Bit, false), 1.0),
        (register(Table::Coil, 1, Form::Bit, false), 0.0),
        (register(Table::Discrete, 1, Form::Bit, false), 1.0),
    ];
    let points = expected.iter().map(|(point, _)| point.clone()).collect();
    let live = live(format!("127.0.0.1:{port}"), Protocol::Modbus { unit: 1, base: 0 }, points);
    runtime()?.block_on(async {
        let task = tokio::spawn(follow(Arc::clone(&live), 0, Patience::default()));
        let all =
            until("every point", SOON, || (0..expected.len()).all(|one| value(&live, one).is_some())).await;
        task.abort();
        all
    })?;
    for (place, (_, right)) in expected.iter().enumerate() {
        let found = value(&live, place).unwrap_or(f64::NAN);
        if (found - right).abs().is_nan() || 1e-9 <= (found - right).abs() {
            return Err(format!("point {place}: {found}, and pymodbus serves {right}"));
        }
    }
    Ok(Outcome::pass(format!("{} points right", expected.len())))
}

/// What the practice plant would show.
struct Fixed(Vec<f64>);

impl Showing for Fixed {
    fn values(&self) -> Vec<f64> {
        self.0.clone()
    }
}

/// pymodbus reads our server and tries every way to write to it.
fn modbus_client() -> Result<Outcome, String> {
    let values = vec![23.25, -4.5, 0.0625, 1e6];
    let mut client = python()?;
    let runtime = runtime()?;
    let (port, _server) = runtime.block_on(async {
        let listener =
            tokio::net::TcpListener::bind("127.0.0.1:0").await.map_err(|error| error.to_string())?;
        let port = listener.local_addr().map_err(|error| error.to_string())?.port();
        let showing = Arc::new(Fixed(values.clone()));
        let server = tokio::spawn(async move { serve_modbus(listener, showing).await.is_ok() });
        Ok::<_, String>((port, server))
    })?;
    client.arg(script("modbus_client.py")).arg(port.to_string());
    client.args(values.iter().map(ToString::to_string));
    running::pass_through(client).map(|()| Outcome::pass("as above"))
}

fn broker(port: u16, folder: &Path) -> Result<Peer, String> {
    let config = folder.join("mosquitto.conf");
    let text = format!("listener {port} 127.0.0.1\nallow_anonymous true\npersistence false\n");
    std::fs::write(&config, text).map_err(|error| format!("{}: {error}", config.display()))?;
    let mut command = Command::new("mosquitto");
    command.arg("-c").arg(&config);
    start(command)
        .map_err(|why| format!("{why}; accepted: Debian's packages mosquitto and mosquitto-clients"))
}

fn say(port: u16, topic: &str, message: &str, kept: bool) -> Result<(), String> {
    let mut command = Command::new("mosquitto_pub");
    command.args(["-h", "127.0.0.1", "-p", &port.to_string(), "-t", topic, "-m", message]);
    if kept {
        command.arg("-r");
    }
    running::pass_through(command)
}

/// mosquitto_pub speaks, we hear; the broker goes and comes; the practice plant speaks, mosquitto_sub hears.
fn mqtt() -> Result<Outcome, String> {
    let folder = Scratch::new("broker")?;
    let port = free_port()?;
    let first = broker(port, folder.path())?;
    let topic = |topic: &str, pointer: Option<&str>| {
        point(At::Topic { topic: topic.into(), pointer: pointer.map(str::to_string) })
    };
    let points = vec![topic("plant/panel", None), topic("plant/level", Some("/value"))];
    let protocol = Protocol::Mqtt { user: None, password_file: None };
    let live = live(format!("127.0.0.1:{port}"), protocol, points);
    let runtime = runtime()?;
    let task = runtime.spawn(follow(Arc::clone(&live), 0, Patience::default()));
    let wait = |what: &str, within, holds: &dyn Fn() -> bool| runtime.block_on(until(what, within, holds));
    let connected = || live.state(0).is_some_and(|state| state.connected);
    wait("a connection", SOON, &connected)?;
    // A subscription is sent right after the connection; mosquitto says nothing of when it has it.
    let spoken = Mutex::new(Instant::now() - Duration::from_secs(10));
    let hear = |message: f64| {
        wait("a message", BACK_WITHIN, &|| {
            let mut last = spoken.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
            if Duration::from_millis(500) < last.elapsed() {
                *last = Instant::now();
                let _ = say(port, "plant/panel", &message.to_string(), false);
            }
            value(&live, 0).is_some_and(|heard| (heard - message).abs() < 1e-9)
        })
    };
    hear(22.5)?;
    say(port, "plant/level", "{\"value\": 0.5}", false)?;
    wait("a JSON message", SOON, &|| value(&live, 1).is_some_and(|level| (level - 0.5).abs() < 1e-9))?;
    drop(first);
    wait("the broker is missed", SOON, &|| !connected())?;
    std::thread::sleep(Duration::from_secs(4));
    wait("what it said is stale", SOON, &|| value(&live, 0).is_none())?;
    let _second = broker(port, folder.path())?;
    let back = hear(23.5)?;
    let names = vec!["panel".to_string()];
    let showing = Arc::new(Fixed(vec![21.75]));
    let every = Duration::from_millis(200);
    let publisher =
        runtime.spawn(publish_mqtt(("127.0.0.1".into(), port), "practice".into(), names, every, showing));
    let mut listen = Command::new("mosquitto_sub");
    listen.args(["-h", "127.0.0.1", "-p", &port.to_string(), "-t", "practice/panel", "-C", "1", "-W", "10"]);
    let heard = running::catch(listen, SOON)?;
    publisher.abort();
    task.abort();
    let heard = heard.stdout;
    if !heard.contains("21.75") {
        return Err(format!("mosquitto_sub heard \"{heard}\" of the practice plant"));
    }
    Ok(Outcome::new(back < BACK_WITHIN, format!("back after {:.1} s", back.as_secs_f64())))
}

/// This program where it lies now: the exam's own tests may have built it anew since it was started.
fn own_program() -> Result<std::path::PathBuf, String> {
    let started = std::env::current_exe().map_err(|error| error.to_string())?;
    let name = started.to_string_lossy().replace(" (deleted)", "");
    Ok(std::path::PathBuf::from(name))
}

/// A process that takes ten samples a second and saves every five seconds is killed; what of it is left?
fn crashes() -> Result<Outcome, String> {
    use store::telemetry::{Channel, Telemetry, TelemetryFile};
    let mut worst: f64 = 0.0;
    for (round, after) in CRASHES.into_iter().enumerate() {
        let folder = Scratch::new("crash")?;
        let path = folder.path().join("telemetry.db");
        let mut writer = Command::new(own_program()?);
        writer.arg("telemetry-writer").arg(&path);
        let writer = start(writer)?;
        std::thread::sleep(Duration::from_millis(after));
        drop(writer);
        let killed = Timestamp::now();
        let kept = TelemetryFile::open(&path).map_err(|error| format!("round {round}: {error}"))?;
        let samples = kept.samples(Channel(0), Timestamp::UNIX_EPOCH, Timestamp::MAX);
        let samples = samples.map_err(|error| error.to_string())?;
        let last = samples.last().ok_or_else(|| format!("round {round}: nothing is left"))?;
        worst = worst.max(killed.duration_since(last.at).as_secs_f64());
        let whole = samples.windows(2).all(|two| (two[1].value - two[0].value - 1.0).abs() < 1e-9);
        if !whole {
            return Err(format!("round {round}: samples are missing in between"));
        }
    }
    Ok(Outcome::new(worst <= LOST_AT_MOST, format!("{worst:.1} s lost at worst of {}", CRASHES.len())))
}

/// The process that is killed.
pub fn write_telemetry(path: &str) -> Result<(), String> {
    use store::telemetry::{SAVE_EVERY, Sample, Telemetry, TelemetryFile};
    let say = |error: store::StoreError| error.to_string();
    let kept = TelemetryFile::open(Path::new(path)).map_err(say)?;
    let channel = kept.channel("count").map_err(say)?;
    let (mut count, mut saved) = (0.0, Instant::now());
    loop {
        kept.take(&[Sample { channel, at: Timestamp::now(), value: count }]);
        count += 1.0;
        if SAVE_EVERY <= saved.elapsed() {
            saved = Instant::now();
            kept.save().map_err(say)?;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
}
