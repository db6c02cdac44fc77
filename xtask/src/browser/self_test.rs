//! The browser checker checked: pages with known faults, served from here, must be found out, and good ones must pass.
//! Needs Chromium, so it is a chore and not a test.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use axum::http::StatusCode;
use axum::response::{Html, Redirect};
use axum::routing::{get, post};
use axum::{Form, Router};
use tokio::net::TcpListener;

use super::chromium::Chromium;
use super::view::Scheme;
use super::{checks, walk};

/// Nothing wrong with it.
const GOOD: &str = "<!doctype html><html lang=en><meta name=viewport content='width=device-width'>\
<link rel=icon href='data:,'><title>Good</title>\
<style>main a.big, main button, main input { display: inline-block; min-height: 48px } \
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
        let faults = checks::judge(&mut tab, &origin, Some(2220))?;
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
        found.extend(checks::judge(&mut tab, &origin, Some(10))?);
        tab.close()?;
    }
    println!("bad pages:");
    for fault in &found {
        println!("  {fault}");
    }
    let expected = FAULTS
        .iter()
        .map(|(_, said)| *said)
        .chain(HEAD_FAULTS)
        .chain(["answered with status 500", "px high; at most 10"]);
    let missed = expected.filter(|said| !found.iter().any(|fault| fault.contains(said)));
    Ok(missed.map(|said| format!("not found out: {said}")).collect())
}

/// What a made-up console has been sent: the entries by their form's key.
type Entries = Mutex<BTreeMap<String, BTreeMap<String, String>>>;

/// Starts a made-up console and gives its origin. It lives as long as the chore.
fn serve(memory: Memory) -> Result<String, String> {
    let say = |error: std::io::Error| error.to_string();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(say)?;
    let listener = runtime.block_on(TcpListener::bind("127.0.0.1:0")).map_err(say)?;
    let address = listener.local_addr().map_err(say)?;
    let console = made_up(memory);
    std::thread::spawn(move || runtime.block_on(axum::serve(listener, console).into_future()));
    Ok(format!("http://{address}"))
}

fn made_up(memory: Memory) -> Router {
    let entries = Arc::new(Entries::default());
    let listed = Arc::clone(&entries);
    let faults: String = FAULTS.iter().map(|(html, _)| *html).collect();
    let head = "<meta name=viewport content='width=device-width'><title>Bad</title>";
    let bad = Html(format!("<!doctype html><html lang=en>{head}<main>{faults}</main>"));
    let bare = (StatusCode::INTERNAL_SERVER_ERROR, Html("<!doctype html><main><h1>Bare</h1></main>"));
    let take = move |Form(entry): Form<BTreeMap<String, String>>| async move {
        let mut entries = entries.lock().unwrap_or_else(PoisonError::into_inner);
        let key = match memory {
            Memory::Keeps | Memory::Silent => entry.get("key").cloned().unwrap_or_default(),
            Memory::Forgets => entries.len().to_string(),
        };
        entries.insert(key, entry);
        Redirect::to(if memory == Memory::Silent { "/tanks?silent" } else { "/saved" })
    };
    Router::new()
        .route("/good", get(Html(GOOD)))
        .route("/bad", get(bad))
        .route("/bare", get(bare))
        .route("/tanks", get(async || Html(tanks_page())))
        .route("/saved", get(Html("<!doctype html><p role=status>Recorded.</p><main>4.37 ft</main>")))
        .route("/ledger", get(async move || Html(ledger_page(&listed))))
        .route("/dips", post(take))
}

fn tanks_page() -> String {
    static KEYS: AtomicUsize = AtomicUsize::new(0);
    let key = KEYS.fetch_add(1, Ordering::Relaxed);
    format!(
        "<!doctype html><meta name=viewport content='width=device-width'><p role=status>Made up.</p>\
         <main style='padding-top: 1500px'>\
         <form data-form=dip-1 method=post action=dips><input type=hidden name=tank value=1>\
         <input name=depth_ft type=number step=any><input name=author>\
         <input type=hidden name=key value={key}><button type=submit>Save</button></form></main>"
    )
}

fn ledger_page(entries: &Entries) -> String {
    let entries = entries.lock().unwrap_or_else(PoisonError::into_inner);
    let cells = |entry: &BTreeMap<String, String>| {
        entry.values().map(|value| format!("<td>{value}</td>")).collect::<String>()
    };
    let rows = entries.values().map(|entry| format!("<tr>{}</tr>", cells(entry)));
    format!("<!doctype html><main><table>{}</table></main>", rows.collect::<String>())
}
