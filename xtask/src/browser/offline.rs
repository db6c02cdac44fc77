//! Work without network, as a yard has it: by https on a name of its network, its own authority trusted in the
//! browser's profile, a tablet enrolled and a shift begun through the pages; then the network is cut.

use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use serde_json::Value;

use super::chromium::Chromium;
use super::tab::Tab;
use super::view::{PHONE_WIDTH, Scheme};
use crate::scratch::Scratch;
use crate::served::Served;
use crate::workspace;

/// A name as a yard's network has it.
pub const NAME: &str = "brine.test";
/// Readings that are entered while the network is cut.
const READINGS: usize = 20;
/// How far a time may be off: from the page's question to its keeping.
const CLOCK_SECONDS: i64 = 5;
const SENDING_LIMIT: Duration = Duration::from_secs(60);

/// The network between the tablet and the machine, which can be cut.
pub struct Network {
    pub port: u16,
    is_cut: Arc<AtomicBool>,
    open: Arc<Mutex<Vec<TcpStream>>>,
}

impl Network {
    pub fn to(server: u16) -> Result<Self, String> {
        let listener = TcpListener::bind("127.0.0.1:0").map_err(|error| error.to_string())?;
        let port = listener.local_addr().map_err(|error| error.to_string())?.port();
        let is_cut = Arc::new(AtomicBool::new(false));
        let open = Arc::new(Mutex::new(Vec::new()));
        let (cut, kept) = (Arc::clone(&is_cut), Arc::clone(&open));
        std::thread::spawn(move || {
            for visitor in listener.incoming().map_while(Result::ok) {
                let machine = TcpStream::connect(("127.0.0.1", server));
                let (Ok(machine), false) = (machine, cut.load(Ordering::Acquire)) else { continue };
                let both =
                    [visitor.try_clone(), machine.try_clone(), visitor.try_clone(), machine.try_clone()];
                let Ok([from, to, back, there]) =
                    both.into_iter().collect::<Result<Vec<_>, _>>().map(|all| {
                        <[TcpStream; 4]>::try_from(all).unwrap_or_else(|_| unreachable!("four were made"))
                    })
                else {
                    continue;
                };
                kept.lock().unwrap_or_else(PoisonError::into_inner).extend([visitor, machine]);
                std::thread::spawn(move || carry(from, to));
                std::thread::spawn(move || carry(there, back));
            }
        });
        Ok(Self { port, is_cut, open })
    }

    pub fn cut(&self) {
        self.is_cut.store(true, Ordering::Release);
        for stream in self.open.lock().unwrap_or_else(PoisonError::into_inner).drain(..) {
            // Closed by the other side already: that is cut, too.
            let _ = stream.shutdown(Shutdown::Both);
        }
    }

    pub fn restore(&self) {
        self.is_cut.store(false, Ordering::Release);
    }
}

fn carry(mut from: TcpStream, mut to: TcpStream) {
    let mut held = [0u8; 16 * 1024];
    while let Ok(count) = from.read(&mut held) {
        if count == 0 || to.write_all(&held[..count]).is_err() {
            break;
        }
    }
    let _ = to.shutdown(Shutdown::Both);
}

/// Runs a command with an answer on its input.
pub fn done(command: &mut Command, answer: &str) -> Result<String, String> {
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().map_err(|error| format!("{command:?}: {error}"))?;
    if let Some(mut input) = child.stdin.take() {
        input.write_all(answer.as_bytes()).map_err(|error| error.to_string())?;
    }
    let output = child.wait_with_output().map_err(|error| error.to_string())?;
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    if output.status.success() {
        return Ok(text);
    }
    Err(format!("{command:?}: {}", String::from_utf8_lossy(&output.stderr)))
}

/// The program under test in a folder.
pub fn program(folder: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(workspace::program());
    command.args(words).current_dir(folder);
    command
}

/// Trusts the yard's authority in the profile of a browser, as a person does on a device.
pub fn trust(home: &Path, authority: &Path) -> Result<(), String> {
    let folder = home.join(".pki/nssdb");
    std::fs::create_dir_all(&folder).map_err(|error| error.to_string())?;
    let base = format!("sql:{}", folder.display());
    let missing = |error: String| format!("{error}; on Debian: apt-get install libnss3-tools");
    done(Command::new("certutil").args(["-d", &base, "-N", "--empty-password"]), "").map_err(missing)?;
    let authority = authority.display().to_string();
    let add = ["-d", &base, "-A", "-n", "yard", "-t", "C,,", "-i", &authority];
    done(Command::new("certutil").args(add), "").map(|_| ())
}

/// A reading as it was entered: what was typed, and when, ms since 1970.
struct Entered {
    reading: String,
    at_ms: i64,
}

/// The whole suite; the answer is its line for the exam.
pub fn suite() -> Result<String, String> {
    let folder = Scratch::new("offline")?;
    let home = folder.path();
    let yard = workspace::example_yard();
    let yard = yard.display().to_string();
    done(&mut program(home, &["tls", "init", "--yard", &yard, "--host", NAME]), "")?;
    done(
        &mut program(home, &["user", "add", "Ines", "--role", "supervisor", "--password"]),
        "a quiet winter\n",
    )?;
    done(&mut program(home, &["user", "add", "Lou", "--pin"]), "4071\n")?;
    let serve = ["serve", "--yard", &yard, "--address", "127.0.0.1:0", "--host", NAME];
    let server = Served::by(program(home, &serve))?;
    let network = Network::to(open_port(&server)?)?;
    let origin = format!("https://{NAME}:{}", network.port);
    trust(home, &home.join("tls/authority.pem"))?;

    let mut browser = Chromium::on_device(home, NAME)?;
    let mut tab = browser.open(PHONE_WIDTH, Scheme::Light)?;
    enrol(&mut tab, &origin, |_, _| Ok(()))?;
    begin_shift(&mut tab, &origin)?;
    for path in ["/bench", "/tanks", "/"] {
        tab.go_to(&format!("{origin}{path}"))?;
    }
    tab.wait_until("the worker", "!!navigator.serviceWorker.controller")?;
    tab.go_to(&format!("{origin}/bench"))?;

    network.cut();
    let mut entered = Vec::new();
    for number in 0..READINGS {
        if number == READINGS / 2 {
            tab.go_to(&format!("{origin}/offline"))?;
            tab.reload()?;
            waits(&mut tab, number)?;
            drop(tab);
            drop(browser);
            browser = Chromium::on_device(home, NAME)?;
            tab = browser.open(PHONE_WIDTH, Scheme::Light)?;
        }
        entered.push(keep(&mut tab, &origin, number)?);
    }
    // Reloaded, and the browser started anew, all of them still wait.
    tab.go_to(&format!("{origin}/offline"))?;
    waits(&mut tab, READINGS)?;
    let picture = tab.picture()?;
    let shots = workspace::target().join("shots");
    std::fs::create_dir_all(&shots)
        .and_then(|()| std::fs::write(shots.join("offline-queue-360.png"), picture))
        .map_err(|e| e.to_string())?;
    tab.go_to(&format!("{origin}/tanks"))?;
    let away = tab.ask("document.querySelector('[data-away]').innerText")?;
    if !away.as_str().is_some_and(|text| text.contains("No network")) {
        return Err(format!("a page without network does not say so: {away}"));
    }
    drop(tab);
    drop(browser);

    network.restore();
    let mut browser = Chromium::on_device(home, NAME)?;
    let mut tab = browser.open(PHONE_WIDTH, Scheme::Light)?;
    tab.go_to(&format!("{origin}/offline"))?;
    let (sent_in, states) = until_sent(&mut tab, READINGS)?;
    if states.iter().any(|state| state.starts_with("held")) {
        return Err(format!("after the network is back: {states:?}"));
    }
    steps_aside(&mut tab, &origin, &network)?;
    goes_in_time(&mut tab, &origin, &network)?;
    drop(tab);
    drop(browser);
    let exported = done(&mut program(home, &["ledger", "export"]), "")?;
    held_against(&entered, &exported)?;
    Ok(format!(
        "{READINGS} of {READINGS} once, in order, by their author and time; sent in {:.1} s",
        sent_in.as_secs_f64()
    ))
}

/// An entry that the console cannot read waits on, and one behind it is sent.
fn steps_aside(tab: &mut Tab, origin: &str, network: &Network) -> Result<(), String> {
    network.cut();
    let keep = "queue.keep('/ledger/note', new URLSearchParams({ entry_id: crypto.randomUUID(), text: 'x', author: 'Lou' }))";
    // Of a version to come: no console of today takes it.
    let spoil = "new Promise((done) => { const asked = indexedDB.open('brine', 1); asked.onsuccess = () => { \
                 const store = asked.result.transaction(['entries'], 'readwrite').objectStore('entries'); \
                 const all = store.getAll(); all.onsuccess = () => { const one = all.result.at(-1); one.packet.v = 2; \
                 store.put(one).onsuccess = () => { asked.result.close(); done(true); }; }; }; })";
    tab.ask(&format!("{keep}.then(() => {spoil})"))?;
    tab.ask(&format!("{keep}.then(() => true)"))?;
    waits(tab, 2)?;
    network.restore();
    tab.go_to(&format!("{origin}/offline"))?;
    tab.wait_until(
        "the entry behind a refused one",
        "queue.all('entries').then((all) => all.at(-1).state !== 'waits' && all.at(-2).state === 'waits')",
    )
}

/// What a device keeps of the yard goes when it was out of touch for longer than a shift, and when a supervisor takes
/// it off the yard.
fn goes_in_time(tab: &mut Tab, origin: &str, network: &Network) -> Result<(), String> {
    let kept = "caches.open('pages').then((cache) => cache.keys()).then((all) => all.map((one) => \
                new URL(one.url).pathname).filter((path) => path !== '/offline').length)";
    let fill = |tab: &mut Tab| {
        tab.go_to(&format!("{origin}/tanks"))?;
        tab.wait_until("kept pages", &format!("{kept}.then((count) => count > 0)"))
    };
    fill(tab)?;
    network.cut();
    tab.ask("queue.setNote('contact', Date.now() - 13 * 3600 * 1000).then(() => true)")?;
    tab.go_to(&format!("{origin}/tanks"))?;
    tab.wait_until("a page kept within the shift", "!!document.querySelector('[data-form=dip-1]')")?;
    tab.ask("queue.setNote('contact', Date.now() - 15 * 3600 * 1000).then(() => true)")?;
    tab.go_to(&format!("{origin}/tanks"))?;
    tab.wait_until("the page without network", "!!document.querySelector('[data-queue]')")?;
    tab.wait_until("no page of the yard after a shift", &format!("{kept}.then((count) => count === 0)"))?;
    network.restore();
    fill(tab)?;
    // On the same browser, the supervisor comes in and takes the device off the yard.
    tab.go_to(&format!("{origin}/sign-in"))?;
    tab.type_into("[data-form=sign-in] [name=name]", "Ines")?;
    tab.type_into("[data-form=sign-in] [name=password]", "a quiet winter")?;
    press(tab, "[data-form=sign-in]", "location.pathname === '/'")?;
    tab.go_to(&format!("{origin}/people"))?;
    press(
        tab,
        "[data-form=revoke]",
        "location.pathname === '/people' && !document.querySelector('[data-form=revoke]')",
    )?;
    fill(tab)?;
    tab.go_to(&format!("{origin}/"))?;
    press(tab, ".menu form[action$='/sign-out']", "location.pathname === '/sign-in'")?;
    fill_by_hand(tab, origin)?;
    tab.go_to(&format!("{origin}/tanks"))?;
    tab.wait_until("the way in", "location.pathname === '/sign-in'")?;
    tab.wait_until("no page of the yard on a revoked device", &format!("{kept}.then((count) => count === 0)"))
}

/// A page left in a device's memory.
fn fill_by_hand(tab: &mut Tab, origin: &str) -> Result<(), String> {
    let put = format!(
        "caches.open('pages').then((cache) => cache.put('{origin}/salt', new Response('kept'))).then(() => true)"
    );
    tab.ask(&put).map(|_| ())
}

/// A supervisor gives out a code, and the tablet is enrolled with it.
pub fn enrol(
    tab: &mut Tab,
    origin: &str,
    mut look: impl FnMut(&mut Tab, &str) -> Result<(), String>,
) -> Result<(), String> {
    tab.go_to(&format!("{origin}/sign-in"))?;
    let secure = tab.ask("window.isSecureContext")?;
    if secure != Value::Bool(true) {
        return Err("the connection is not trusted".into());
    }
    tab.type_into("[data-form=sign-in] [name=name]", "Ines")?;
    tab.type_into("[data-form=sign-in] [name=password]", "a quiet winter")?;
    press(tab, "[data-form=sign-in]", "location.pathname === '/'")?;
    tab.go_to(&format!("{origin}/people"))?;
    look(tab, "people")?;
    tab.go_to(&format!("{origin}/password"))?;
    look(tab, "password")?;
    tab.go_to(&format!("{origin}/people"))?;
    press(tab, "[data-form=code]", "!!document.querySelector('.big-code')")?;
    let code = tab.ask("document.querySelector('.big-code').textContent")?;
    let code = code.as_str().unwrap_or_default().to_owned();
    look(tab, "people with a code")?;
    tab.go_to(&format!("{origin}/"))?;
    press(tab, ".menu form[action$='/sign-out']", "location.pathname === '/sign-in'")?;
    tab.go_to(&format!("{origin}/enrol"))?;
    look(tab, "enrol")?;
    tab.go_to(&format!("{origin}/enrol"))?;
    tab.type_into("[data-form=enrol] [name=code]", &code)?;
    tab.type_into("[data-form=enrol] [name=name]", "Loader")?;
    press(tab, "[data-form=enrol]", "location.pathname === '/'")
}

pub fn begin_shift(tab: &mut Tab, origin: &str) -> Result<(), String> {
    tab.go_to(&format!("{origin}/offline"))?;
    choose_lou(tab, "form[data-shift] [name=who]")?;
    tab.wait_until("the form of a shift", "!document.querySelector('form[data-shift]').hidden")?;
    tab.type_into("form[data-shift] [name=pin]", "4071")?;
    tab.click("form[data-shift] [type=submit]")?;
    tab.wait_until(
        "the shift",
        "document.querySelector('[data-shift-said]').textContent === 'Shift started.'",
    )
}

/// Chooses Lou among those who sign.
pub fn choose_lou(tab: &mut Tab, selector: &str) -> Result<(), String> {
    let chosen = tab.ask(&format!(
        "(() => {{ const all = document.querySelector({}); const lou = [...all.options].find((one) => one.text === 'Lou'); \
         all.value = lou?.value ?? ''; return !!lou; }})()",
        Value::from(selector)
    ))?;
    if chosen == Value::Bool(true) { Ok(()) } else { Err("Lou is not among those who sign".into()) }
}

/// Presses a form's button and waits for what it leads to.
pub fn press(tab: &mut Tab, form: &str, then: &str) -> Result<(), String> {
    tab.click(&format!("{form} [type=submit]"))?;
    tab.wait_until(&format!("the page after {form}"), then)
}

/// One reading at the bench: asked of the machine first, which is away, then kept as it is.
fn keep(tab: &mut Tab, origin: &str, number: usize) -> Result<Entered, String> {
    let reading = format!("1.17{}", 60 + number);
    tab.go_to(&format!("{origin}/bench"))?;
    tab.ask("(document.querySelector('[data-form=bench-ask] [value=hydrometer]').checked = true)")?;
    tab.type_into("[data-form=bench-ask] [name=temp_f]", "60")?;
    tab.type_into("[data-form=bench-ask] [name=reading]", &reading)?;
    press(
        tab,
        "[data-form=bench-ask]",
        "location.search.includes('reading=') && document.querySelector('[data-raw]')?.hidden === false",
    )
    .map_err(|why| format!("reading {number}: {why}"))?;
    choose_lou(tab, "[data-form=bench-raw] [name=sign_who]")?;
    tab.type_into("[data-form=bench-raw] [name=sign_pin]", "4071")?;
    let at_ms = jiff::Timestamp::now().as_millisecond();
    press(tab, "[data-form=bench-raw]", "location.pathname === '/offline'")
        .map_err(|why| format!("keeping reading {number}: {why}"))?;
    waits(tab, number + 1)?;
    Ok(Entered { reading, at_ms })
}

pub fn waits(tab: &mut Tab, count: usize) -> Result<(), String> {
    let asked = format!("queue.waiting().then((all) => all.length === {count})");
    tab.wait_until(&format!("{count} waiting entries"), &asked)
}

/// Waits until nothing waits any more: how long it took, and what became of each entry.
pub fn until_sent(tab: &mut Tab, count: usize) -> Result<(Duration, Vec<String>), String> {
    let begun = Instant::now();
    loop {
        let states = tab.ask(
            "queue.all('entries').then((all) => all.map((one) => `${one.state} ${one.packet.path} ${one.detail}`))",
        )?;
        let states: Vec<String> = serde_json::from_value(states).map_err(|error| error.to_string())?;
        if states.len() == count && states.iter().all(|state| !state.starts_with("waits")) {
            return Ok((begun.elapsed(), states));
        }
        if begun.elapsed() > SENDING_LIMIT {
            return Err(format!("after the network is back, of {count}: {states:?}"));
        }
        std::thread::sleep(Duration::from_millis(200));
    }
}

/// The port a server listens on.
pub fn open_port(server: &Served) -> Result<u16, String> {
    server.origin.rsplit(':').next().and_then(|port| port.parse().ok()).ok_or_else(|| "no port".to_owned())
}

/// What the ledger holds against what was entered.
fn held_against(entered: &[Entered], exported: &str) -> Result<(), String> {
    let rows: Vec<Value> = exported.lines().filter_map(|line| serde_json::from_str(line).ok()).collect();
    let readings: Vec<&Value> = rows.iter().filter(|row| row["kind"] == "reading").collect();
    if readings.len() != entered.len() {
        return Err(format!("{} readings in the ledger, {} were entered", readings.len(), entered.len()));
    }
    for (row, entry) in readings.iter().zip(entered) {
        let text = row.to_string();
        let at: jiff::Timestamp =
            row["occurred_at"].as_str().unwrap_or_default().parse().map_err(|e| format!("{text}: {e}"))?;
        let apart = (at.as_millisecond() - entry.at_ms).abs();
        let is_right = row["author"] == "Lou" && row["device"] == "Loader" && text.contains(&entry.reading);
        if !is_right || apart > CLOCK_SECONDS * 1000 {
            return Err(format!("entered {} at {}, in the ledger: {text}", entry.reading, entry.at_ms));
        }
    }
    Ok(())
}
