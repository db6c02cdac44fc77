//! What a person waits for: start, page; and what the old PC in the yard must hold in memory.

use std::time::{Duration, Instant};

use super::board::{Board, Outcome};
use crate::browser::PAGES;
use crate::http::Client;
use crate::scratch::Scratch;
use crate::served::Served;

const STARTS: usize = 5;
const START_BUDGET: Duration = Duration::from_millis(300);

const PAGE_ROUNDS: usize = 200;
const PAGE_BUDGET_MS: f64 = 5.0;
/// A load of the demo's season.
const TICKET: &str = "/ticket?row=354";
const TICKET_BUDGET_MS: f64 = 10.0;

const SHELL_BUDGET_KB: f64 = 150.0;
const TABLETS: usize = 200;
const TABLET_EVERY: Duration = Duration::from_secs(5);
const TABLET_LOADS: usize = 6;
const TABLET_BUDGET_MS: f64 = 25.0;

const IDLE: Duration = Duration::from_secs(1);
const MEMORY_BUDGET_MB: f64 = 60.0;

/// Puts every timing and the memory on the board.
pub fn examine(board: &mut Board) {
    board.put("cold start, median of 5", "<= 300 ms", cold_start());
    let folder = Scratch::new("speed");
    match folder.and_then(|folder| Served::demo(folder.path()).map(|server| (folder, server))) {
        Ok((_folder, server)) => {
            // Memory first: two hundred pages later it would not be an idle yard's.
            board.put("idle memory", "<= 60 MB", idle_memory(&server));
            board.put("first page, median of 200", "<= 5 ms", page_time(&server, "/", PAGE_BUDGET_MS));
            for (name, page) in [("load page", "/load"), ("ticket page", TICKET)] {
                let name = format!("{name}, median of 200");
                board.put(&name, "<= 10 ms", page_time(&server, page, TICKET_BUDGET_MS));
            }
            board.put("first load of the shell", "< 150 kB", shell_size(&server));
            board.put("200 tablets, a page every 5 s", "p99 < 25 ms", tablets(&server));
        }
        Err(why) => board.put("demo server", "starts", Err(why)),
    }
}

fn cold_start() -> Result<Outcome, String> {
    let folder = Scratch::new("start")?;
    let mut times = Vec::with_capacity(STARTS);
    for _ in 0..STARTS {
        let server = Served::yard(&folder.path().join("ledger.db"))?;
        times.push(server.ready_in.as_secs_f64() * 1e3);
    }
    let median = median(&mut times);
    Ok(Outcome::new(median <= START_BUDGET.as_secs_f64() * 1e3, format!("{median:.0} ms")))
}

fn idle_memory(server: &Served) -> Result<Outcome, String> {
    let client = Client::to(&server.origin);
    for page in PAGES {
        expect_ok(&client, page)?;
    }
    // The one wait that has no condition to wait for: idle means that nothing happens.
    std::thread::sleep(IDLE);
    let status = format!("/proc/{}/status", server.id());
    let text = std::fs::read_to_string(&status).map_err(|e| format!("{status}: {e}"))?;
    let megabytes = resident_kib(&text).ok_or("no VmRSS in the process status")? * 1024.0 / 1e6;
    Ok(Outcome::new(megabytes <= MEMORY_BUDGET_MB, format!("{megabytes:.1} MB")))
}

fn resident_kib(status: &str) -> Option<f64> {
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"))?;
    line.trim().strip_suffix("kB")?.trim().parse().ok()
}

/// By the server's own clock where it gives one, else by ours.
fn page_time(server: &Served, page: &str, budget_ms: f64) -> Result<Outcome, String> {
    let client = Client::to(&server.origin);
    let mut times = Vec::with_capacity(PAGE_ROUNDS);
    let mut clock = "its own clock";
    for _ in 0..PAGE_ROUNDS {
        let start = Instant::now();
        let served_ms = expect_ok(&client, page)?;
        let seen_ms = start.elapsed().as_secs_f64() * 1e3;
        times.push(served_ms.unwrap_or_else(|| {
            clock = "ours";
            seen_ms
        }));
    }
    let median = median(&mut times);
    Ok(Outcome::new(median <= budget_ms, format!("{median:.2} ms by {clock}")))
}

/// Bytes of the first page with all that it asks for, as a tablet that has nothing yet loads them.
fn shell_size(server: &Served) -> Result<Outcome, String> {
    let client = Client::to(&server.origin);
    let page = client.get("/")?;
    let text = String::from_utf8_lossy(&page.body).into_owned();
    let mut bytes = page.body.len();
    let version =
        text.split_once("/static/").and_then(|(_, rest)| rest.split('/').next()).ok_or("no shell")?;
    for name in ["console.css", "console.js", "queue.js", "mark.svg", "atkinson.woff2"] {
        bytes += client.get(&format!("/static/{version}/{name}"))?.body.len();
    }
    for path in ["/worker.js", "/manifest.webmanifest"] {
        bytes += client.get(path)?.body.len();
    }
    let kilobytes = bytes as f64 / 1e3;
    Ok(Outcome::new(kilobytes < SHELL_BUDGET_KB, format!("{kilobytes:.0} kB, nothing compressed")))
}

/// Two hundred tablets, each loading a page every five seconds whether the one before came or not: the time from when a
/// page was due to its last byte.
fn tablets(server: &Served) -> Result<Outcome, String> {
    const PATHS: [&str; 8] = ["/", "/tanks", "/storm", "/load", "/bench", "/due", "/ledger", "/run"];
    let begin = Instant::now() + Duration::from_millis(500);
    let tablet = |number: usize, origin: String| {
        move || -> Result<Vec<f64>, String> {
            let client = Client::to(&origin);
            let mut times = Vec::with_capacity(TABLET_LOADS);
            for load in 0..TABLET_LOADS {
                let phase = Duration::from_millis(25 * number as u64);
                let due = begin + phase + TABLET_EVERY * load as u32;
                std::thread::sleep(due.saturating_duration_since(Instant::now()));
                expect_ok(&client, PATHS[(number + load) % PATHS.len()])?;
                times.push(due.elapsed().as_secs_f64() * 1e3);
            }
            Ok(times)
        }
    };
    let threads: Vec<_> =
        (0..TABLETS).map(|number| std::thread::spawn(tablet(number, server.origin.clone()))).collect();
    let mut times = Vec::new();
    for thread in threads {
        times.extend(thread.join().map_err(|_| "a tablet's thread ended badly".to_string())??);
    }
    times.sort_by(f64::total_cmp);
    let p99 = times[times.len() * 99 / 100];
    let worst = times.last().copied().unwrap_or(f64::NAN);
    let said = format!("p99 {p99:.1} ms, worst {worst:.1} ms of {} loads", times.len());
    Ok(Outcome::new(p99 < TABLET_BUDGET_MS, said))
}

fn expect_ok(client: &Client, page: &str) -> Result<Option<f64>, String> {
    let reply = client.get(page)?;
    if reply.status == 200 && !reply.body.is_empty() {
        return Ok(reply.server_ms());
    }
    Err(format!("GET {page}: status {}, {} bytes", reply.status, reply.body.len()))
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    if values.len() % 2 == 1 { values[middle] } else { f64::midpoint(values[middle - 1], values[middle]) }
}

#[cfg(test)]
mod tests {
    use super::{median, resident_kib};

    #[test]
    fn median_of_odd_and_even() {
        assert!((median(&mut [3.0, 1.0, 2.0]) - 2.0).abs() < 1e-12);
        assert!((median(&mut [4.0, 1.0, 3.0, 2.0]) - 2.5).abs() < 1e-12);
    }

    #[test]
    fn resident_memory_is_read_from_its_line() {
        let status = "VmPeak:\t  999 kB\nVmRSS:\t   41232 kB\nRssAnon:\t 1 kB\n";
        assert!((resident_kib(status).unwrap() - 41232.0).abs() < 1e-9);
        assert_eq!(resident_kib("VmPeak:\t  999 kB\n"), None);
    }
}
