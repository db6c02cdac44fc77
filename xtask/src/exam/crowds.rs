//! Crowds at the door of a console: writers, slow visitors, wrong passwords, reports of a large ledger, and two weeks
//! of use. What was acknowledged is in the ledger, others are served meanwhile, and memory stays flat.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use event::{Body, Event, EventId, Note};
use jiff::Timestamp;
use store::{Ledger, SqliteLedger, Verification};

use super::board::{Board, Outcome};
use crate::http::Client;
use crate::scratch::Scratch;
use crate::served::Served;

const WRITERS: usize = 50;
const SLOW: usize = 1000;
const SIGN_INS: usize = 200;
const SIGN_IN_MEMORY_MB: f64 = 600.0;
/// Rows of the ledger whose reports are asked for by many at once.
const LARGE: i64 = 500_000;
const REPORTS: usize = 30;
const REPORTS_MEMORY_MB: f64 = 1500.0;
/// Health answers within this whatever goes on.
const HEALTH: Duration = Duration::from_secs(1);
/// What two weeks of use may add to memory.
const GROWTH_MB: f64 = 15.0;

/// Puts every crowd on the board.
pub fn examine(board: &mut Board, quick: bool) {
    let seconds = if quick { 5 } else { 30 };
    board.put("50 writers", "all acknowledged entries are there, once", writers(seconds));
    board.put("1,000 slow connections", "health within 1 s; all let go", slow());
    board.put("200 sign-ins at once", "< 600 MB, health within 1 s", sign_ins());
    let rows = if quick { LARGE / 10 } else { LARGE };
    board.put("30 season pages at once", "health within 1 s, < 1,500 MB", reports(rows));
    board.put("14 days of use", "memory grows by < 15 MB", soak(if quick { 3 } else { 14 }));
}

fn say(error: impl std::fmt::Display) -> String {
    error.to_string()
}

fn memory(server: &Served, what: &str) -> Result<f64, String> {
    let path = format!("/proc/{}/status", server.id());
    let text = std::fs::read_to_string(&path).map_err(say)?;
    let line = text.lines().find_map(|line| line.strip_prefix(what)).ok_or("no such line of memory")?;
    let kib: f64 = line.trim_start_matches(':').trim().trim_end_matches("kB").trim().parse().map_err(say)?;
    Ok(kib * 1024.0 / 1e6)
}

fn health(origin: &str) -> Result<Duration, String> {
    let begun = Instant::now();
    let reply = Client::to(origin).get("/health")?;
    if reply.status == 200 { Ok(begun.elapsed()) } else { Err(format!("health: status {}", reply.status)) }
}

/// The slowest answer of health until some threads are done.
fn health_until<T>(origin: &str, threads: &[std::thread::JoinHandle<T>]) -> Result<Duration, String> {
    let mut slowest = Duration::ZERO;
    loop {
        slowest = slowest.max(health(origin)?);
        if threads.iter().all(std::thread::JoinHandle::is_finished) {
            return Ok(slowest);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

fn form(number: u64) -> String {
    format!("entry_id={}&author=Pat&text=note+{number}", uuid::Uuid::now_v7())
}

fn writers(seconds: u64) -> Result<Outcome, String> {
    let folder = Scratch::new("writers")?;
    let database = folder.path().join("ledger.db");
    let server = Served::yard(&database)?;
    static ACKNOWLEDGED: AtomicU64 = AtomicU64::new(0);
    ACKNOWLEDGED.store(0, Ordering::SeqCst);
    let until = Instant::now() + Duration::from_secs(seconds);
    let writer = |origin: String| {
        move || -> Result<(), String> {
            let client = Client::to(&origin);
            while Instant::now() < until {
                client.post("/ledger/note", &form(ACKNOWLEDGED.fetch_add(1, Ordering::SeqCst)))?;
            }
            Ok(())
        }
    };
    let threads: Vec<_> = (0..WRITERS).map(|_| std::thread::spawn(writer(server.origin.clone()))).collect();
    let slowest = health_until(&server.origin, &threads)?;
    for thread in threads {
        thread.join().map_err(|_| "a writer ended badly".to_string())??;
    }
    drop(server);
    let acknowledged = ACKNOWLEDGED.load(Ordering::SeqCst);
    let rows = sound_rows(&database)?;
    let said = format!("{acknowledged} acknowledged, {rows} rows, health {:.0} ms at worst", ms(slowest));
    Ok(Outcome::new(rows == acknowledged && slowest < HEALTH, said))
}

fn sound_rows(database: &Path) -> Result<u64, String> {
    match SqliteLedger::open_existing(database).map_err(say)?.verify().map_err(say)? {
        Verification::Sound(head) => Ok(head.seq),
        Verification::Damaged { seq, reason } => Err(format!("row {seq}: {reason}")),
    }
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

fn slow() -> Result<Outcome, String> {
    let folder = Scratch::new("slow")?;
    let server = Served::yard(&folder.path().join("ledger.db"))?;
    let address = server.origin.trim_start_matches("http://").to_owned();
    let mut held = Vec::with_capacity(SLOW);
    for number in 0..SLOW {
        // By hand: a client of a library sends whole requests or none.
        let mut stream =
            TcpStream::connect(&address).map_err(|error| format!("visitor {number}: {error}"))?;
        stream.write_all(b"GET / HTTP/1.1\r\nHost: loc").map_err(say)?;
        stream.set_read_timeout(Some(Duration::from_secs(30))).map_err(say)?;
        held.push(stream);
    }
    let slowest = (0..20).map(|_| health(&server.origin)).collect::<Result<Vec<_>, _>>()?;
    let slowest = slowest.into_iter().max().unwrap_or_default();
    let begun = Instant::now();
    let mut gone = 0;
    for mut stream in held {
        let mut rest = Vec::new();
        // A reset is an end as well.
        gone += usize::from(
            stream
                .read_to_end(&mut rest)
                .map_or_else(|e| e.kind() != std::io::ErrorKind::WouldBlock, |_| true),
        );
    }
    let said = format!(
        "{gone} let go within {:.0} s, health {:.0} ms at worst",
        begun.elapsed().as_secs_f64(),
        ms(slowest)
    );
    Ok(Outcome::new(gone == SLOW && slowest < HEALTH, said))
}

fn sign_ins() -> Result<Outcome, String> {
    let folder = Scratch::new("sign-ins")?;
    let server = Served::yard(&folder.path().join("ledger.db"))?;
    Client::to(&server.origin).post("/first", "name=Ines&password=gravel+otter+lantern&pin=7193")?;
    let threads: Vec<_> = (0..SIGN_INS)
        .map(|number| {
            let origin = server.origin.clone();
            std::thread::spawn(move || {
                // Refused, or told to wait: what matters is what it costs.
                let form = format!("name=Ines{}&password=wrong+password&back=", number % 7);
                let _ = Client::to(&origin).post("/sign-in", &form);
            })
        })
        .collect();
    let slowest = health_until(&server.origin, &threads)?;
    let most = memory(&server, "VmHWM")?;
    let said = format!("{most:.0} MB at most, health {:.0} ms at worst", ms(slowest));
    Ok(Outcome::new(most < SIGN_IN_MEMORY_MB && slowest < HEALTH, said))
}

fn reports(rows: i64) -> Result<Outcome, String> {
    let folder = Scratch::new("reports")?;
    let database = folder.path().join("ledger.db");
    {
        let ledger = SqliteLedger::open(&database).map_err(say)?;
        let begin = Timestamp::now() - jiff::SignedDuration::from_hours(24 * 200);
        for part in 0..rows / 5_000 {
            let note = |number: i64| Event {
                id: EventId(uuid::Uuid::now_v7()),
                occurred_at: begin + jiff::SignedDuration::from_secs(30 * number),
                author: "Pat".into(),
                device: "exam".into(),
                body: Body::Note(Note { text: format!("note {number}") }),
            };
            let events: Vec<Event> = (5_000 * part..5_000 * (part + 1)).map(note).collect();
            ledger.append(&events, Timestamp::now()).map_err(say)?;
        }
    }
    let server = Served::yard(&database)?;
    // The fold and the check of the chain are not what is examined.
    Client::to(&server.origin).get("/")?;
    let begun = Instant::now();
    let threads: Vec<_> = (0..REPORTS)
        .map(|_| {
            let origin = server.origin.clone();
            std::thread::spawn(move || Client::patient(&origin).get("/books"))
        })
        .collect();
    let slowest = health_until(&server.origin, &threads)?;
    for thread in threads {
        let reply = thread.join().map_err(|_| "a reader ended badly".to_string())??;
        if reply.status != 200 {
            return Err(format!("/books: status {}", reply.status));
        }
    }
    let (took, most) = (begun.elapsed().as_secs_f64(), memory(&server, "VmHWM")?);
    let said =
        format!("{rows} rows: all within {took:.1} s, {most:.0} MB, health {:.0} ms at worst", ms(slowest));
    Ok(Outcome::new(slowest < HEALTH && most < REPORTS_MEMORY_MB, said))
}

fn soak(days: u32) -> Result<Outcome, String> {
    const PAGES: [&str; 10] =
        ["/", "/tanks", "/storm", "/load", "/bench", "/due", "/ledger", "/run", "/books", "/meters"];
    let folder = Scratch::new("soak")?;
    let server = Served::demo(folder.path())?;
    let mut client = Client::to(&server.origin);
    let (mut after_first, mut entries) = (0.0, 0_u64);
    for day in 0..days {
        for _ in 0..40 {
            entries += 1;
            client.post("/ledger/note", &form(entries))?;
            for page in PAGES {
                let reply = client.get(page)?;
                if reply.status != 200 {
                    return Err(format!("{page}: status {}", reply.status));
                }
            }
        }
        // A new connection now and then, as tablets have.
        client = Client::to(&server.origin);
        if day == 1 {
            after_first = memory(&server, "VmRSS")?;
        }
    }
    let end = memory(&server, "VmRSS")?;
    let said = format!(
        "{entries} entries, {} pages: {after_first:.1} MB after two days, {end:.1} at the end",
        10 * entries
    );
    Ok(Outcome::new(end - after_first < GROWTH_MB, said))
}
