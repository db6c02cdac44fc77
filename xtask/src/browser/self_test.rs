//! The browser checker checked: pages with known faults, served from here, must be found out, and good ones must pass.
//! Needs Chromium, so it is a chore and not a test.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::atomic::{AtomicUsize, Ordering};

use super::chromium::Chromium;
use super::view::Scheme;
use super::{checks, walk};

/// Nothing wrong with it.
const GOOD: &str = "<!doctype html><html lang=en><meta name=viewport content='width=device-width'>\
<link rel=icon href='data:,'><title>Good</title>\
<style>main a.big, main button, main input { display: inline-block; min-height: 44px } \
@media (prefers-color-scheme: dark) { html { background: black } }</style>\
<main style='padding-bottom: 1500px'><h1>Good</h1><p>A word with <a href=there>a link</a> in it.</p>\
<a class=big href=there>Large</a>\
<svg role=img aria-label='A chart' width=10 height=10></svg><img alt='' src='data:,'>\
<form><label>Depth <input name=depth></label><button>Save</button></form></main>";

/// One fault a line, and what must be said of it.
const FAULTS: [(&str, &str); 13] = [
    ("<h1>One</h1><h1>Two</h1>", "has 2 h1"),
    ("<div style='width: 900px'>wide</div>", "scrolls sideways"),
    ("<svg role=img width=10 height=10></svg>", "picture without a name"),
    ("<img src='data:,x'>", "picture without a name: <img>"),
    ("<input name=bare>", "form control without a label: <input name=bare>"),
    ("<a href=x>low</a>", "px high: <a> \"low\""),
    ("<p><a href=x>alone in it</a></p>", "px high: <a> \"alone in it\""),
    ("<button aria-pressed=true></button>", "nothing says what this does: <button"),
    ("<script>console.error('broken', 3)</script>", "console error: broken 3"),
    ("<script>console.warn('odd')</script>", "console warning: odd"),
    ("<script>throw new Error('fell over')</script>", "exception: Error: fell over"),
    ("<script src=missing.js></script>", "browser error: Failed to load resource"),
    ("<img alt=x src='http://127.0.0.2:9/x.png'>", "asks another host: http://127.0.0.2:9/x.png"),
];

/// Faults of the page's head, seen because they are absent.
const HEAD_FAULTS: [&str; 3] = ["has no lang", "has no title", "laid out 980 px wide for a window of 360 px"];

/// How the made-up console treats what it is sent, a second time too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Memory {
    /// Knows the form's key again.
    Keeps,
    /// Writes a second entry.
    Forgets,
    /// Does not say that anything was recorded.
    Silent,
}

/// Runs every check on every made-up page.
pub fn run() -> Result<(), String> {
    let mut chromium = Chromium::start()?;
    let mut wrong = Vec::new();
    wrong.extend(good_page(&mut chromium)?);
    wrong.extend(bad_page(&mut chromium)?);
    for script in [walk::Script::On, walk::Script::Off] {
        let kept = walk::dip(&mut chromium, &serve(Memory::Keeps)?, script);
        println!("{}, form Keeps: {kept:?}", script.name());
        wrong.extend(kept.err());
        for (memory, must_say) in [(Memory::Forgets, "2 times"), (Memory::Silent, "nothing says")] {
            let walked = walk::dip(&mut chromium, &serve(memory)?, script);
            println!("{}, form {memory:?}: {walked:?}", script.name());
            if !walked.as_ref().is_err_and(|why| why.contains(must_say)) {
                wrong.push(format!("{}: {memory:?} was not found out: {walked:?}", script.name()));
            }
        }
    }
    super::verdict(&wrong)
}

fn good_page(chromium: &mut Chromium) -> Result<Vec<String>, String> {
    let origin = serve(Memory::Keeps)?;
    let mut wrong = Vec::new();
    for (width_px, scheme) in [(360, Scheme::Light), (360, Scheme::Dark), (1400, Scheme::Light)] {
        let mut tab = chromium.open(width_px, scheme)?;
        tab.go_to(&format!("{origin}/good"))?;
        let faults = checks::judge(&mut tab, &origin)?;
        println!("good page, {width_px} px {}: {faults:?}", scheme.word());
        wrong.extend(faults.into_iter().map(|fault| format!("good page: {fault}")));
        let dark =
            tab.ask("getComputedStyle(document.documentElement).backgroundColor === 'rgb(0, 0, 0)'")?;
        if dark.as_bool() != Some(scheme == Scheme::Dark) {
            wrong.push(format!("the page is not shown in {}", scheme.word()));
        }
        wrong.extend(picture_fault(&tab.picture()?, width_px));
        tab.close()?;
    }
    Ok(wrong)
}

/// A PNG says its width in bytes 16 to 19.
fn picture_fault(png: &[u8], width_px: u32) -> Option<String> {
    let width = png.get(16..20).and_then(|bytes| <[u8; 4]>::try_from(bytes).ok()).map(u32::from_be_bytes);
    let is_png = png.starts_with(b"\x89PNG\r\n\x1a\n");
    (!is_png || width != Some(width_px))
        .then(|| format!("the picture is not a PNG {width_px} px wide: {width:?}"))
}

fn bad_page(chromium: &mut Chromium) -> Result<Vec<String>, String> {
    let origin = serve(Memory::Keeps)?;
    let mut found = Vec::new();
    for path in ["/bad", "/bare"] {
        let mut tab = chromium.open(360, Scheme::Light)?;
        tab.go_to(&format!("{origin}{path}"))?;
        found.extend(checks::judge(&mut tab, &origin)?);
        tab.close()?;
    }
    println!("bad pages:");
    for fault in &found {
        println!("  {fault}");
    }
    let expected =
        FAULTS.iter().map(|(_, said)| *said).chain(HEAD_FAULTS).chain(["answered with status 500"]);
    let missed = expected.filter(|said| !found.iter().any(|fault| fault.contains(said)));
    Ok(missed.map(|said| format!("not found out: {said}")).collect())
}

/// Starts a made-up console and gives its origin. It lives as long as the chore.
fn serve(memory: Memory) -> Result<String, String> {
    let listener = TcpListener::bind("127.0.0.1:0").map_err(|e| e.to_string())?;
    let address = listener.local_addr().map_err(|e| e.to_string())?;
    std::thread::spawn(move || {
        let mut entries = BTreeMap::new();
        for stream in listener.incoming().flatten() {
            // A browser opens connections ahead and may leave them silent or broken: those are passed over.
            let _ = answer(stream, memory, &mut entries);
        }
    });
    Ok(format!("http://{address}"))
}

fn answer(
    mut stream: TcpStream,
    memory: Memory,
    entries: &mut BTreeMap<String, String>,
) -> std::io::Result<()> {
    stream.set_read_timeout(Some(std::time::Duration::from_millis(500)))?;
    let (request, body) = read_request(&stream)?;
    let page = |status: &str, html: &str| {
        let length = html.len();
        format!(
            "HTTP/1.1 {status}\r\nContent-Type: text/html\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n{html}"
        )
    };
    let reply = match request.as_str() {
        "GET /good" => page("200 OK", GOOD),
        "GET /bad" => {
            let faults: String = FAULTS.iter().map(|(html, _)| *html).collect();
            let head = "<meta name=viewport content='width=device-width'><title>Bad</title>";
            page("200 OK", &format!("<!doctype html><html lang=en>{head}<main>{faults}</main>"))
        }
        "GET /bare" => page("500 Internal Server Error", "<!doctype html><main><h1>Bare</h1></main>"),
        "GET /tanks" | "GET /tanks?silent" => page("200 OK", &tanks_page()),
        "GET /saved" => page("200 OK", "<!doctype html><p role=status>Recorded.</p><main>4.37 ft</main>"),
        "GET /ledger" => page("200 OK", &ledger_page(entries)),
        "POST /dips" => {
            let key = match memory {
                Memory::Keeps | Memory::Silent => body.split("key=").nth(1).unwrap_or_default().to_string(),
                Memory::Forgets => entries.len().to_string(),
            };
            entries.insert(key, body);
            let next = if memory == Memory::Silent { "/tanks?silent" } else { "/saved" };
            format!(
                "HTTP/1.1 303 See Other\r\nLocation: {next}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"
            )
        }
        _ => page("404 Not Found", ""),
    };
    stream.write_all(reply.as_bytes())
}

/// Method and path of a request, and its body.
fn read_request(stream: &TcpStream) -> std::io::Result<(String, String)> {
    let mut reader = BufReader::new(stream);
    let mut first = String::new();
    reader.read_line(&mut first)?;
    let request = first.split(' ').take(2).collect::<Vec<_>>().join(" ");
    let mut length = 0;
    loop {
        let mut line = String::new();
        if reader.read_line(&mut line)? == 0 || line.trim().is_empty() {
            break;
        }
        if let Some(value) = line.to_ascii_lowercase().strip_prefix("content-length:") {
            length = value.trim().parse().unwrap_or(0);
        }
    }
    let mut body = vec![0; length];
    reader.read_exact(&mut body)?;
    Ok((request, String::from_utf8_lossy(&body).into_owned()))
}

fn tanks_page() -> String {
    static KEYS: AtomicUsize = AtomicUsize::new(0);
    let key = KEYS.fetch_add(1, Ordering::Relaxed);
    format!(
        "<!doctype html><meta name=viewport content='width=device-width'><p role=status>Made up.</p>\
         <main style='padding-top: 1500px'>\
         <form data-form=dip method=post action=dips><input name=depth_ft type=number step=any><input name=author>\
         <input type=hidden name=key value={key}><button type=submit>Save</button></form></main>"
    )
}

fn ledger_page(entries: &BTreeMap<String, String>) -> String {
    let rows = entries.values().map(|entry| format!("<tr><td>{}</td></tr>", entry.replace('+', " ")));
    format!("<!doctype html><main><table>{}</table></main>", rows.collect::<String>())
}
