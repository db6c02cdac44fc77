//! Every entry form without network, in a yard with a past: what is sent while the network is cut waits on the device,
//! through a reload and an update of the worker, and comes in when it is back. And what the device says meanwhile: how
//! old a page is, that a browser will not promise to keep what waits, that a connection is not trusted.

use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use serde_json::Value;

use super::chromium::Chromium;
use super::offline::{
    NAME, Network, begin_shift, choose_lou, done, enrol, open_port, program, trust, until_sent, waits,
};
use super::tab::Tab;
use super::view::{PHONE_WIDTH, Scheme};
use crate::scratch::Scratch;
use crate::served::Served;

/// Pages with forms whose entries are kept, each asked so that all its forms show.
const PAGES: [&str; 21] = [
    "/tanks",
    "/bench?tank=1&instrument=refractometer&reading=27.9&temp_f=60",
    "/bench/instruments",
    "/bench/lab?method=drying&tank=1&sample_g=50&residue_g=11.65",
    "/put-right?tank=1&strength_pct=25&with=water",
    "/jar-test?tank=4",
    "/run",
    "/run/batch",
    "/load",
    "/load/return",
    "/load/issue",
    "/load/applied",
    "/load/other",
    "/load/other?what=settlement",
    "/books/storms",
    "/roads",
    "/salt",
    "/meters",
    "/due",
    "/sprayers",
    "/ledger",
];

/// Forms an entry is made with that do not stand on a fresh page: they come after an act that itself needs the machine.
const COME_LATER: [(&str, &str); 6] = [
    ("trim-look", "after a sample from the plant's tap"),
    ("trim-set", "after a look that advises a step"),
    ("run-step", "while a run goes on"),
    ("run-end", "when a run is through"),
    ("run-break", "while a run goes on"),
    ("rows", "after a file of rows was read"),
];

/// What is typed into a field that must be filled and is not.
const TYPED: [(&str, &str); 26] = [
    ("uncertainty_pct", "6"),
    ("depth_ft", "4.2"),
    ("done", "held side by side"),
    ("shown", "0.1"),
    ("what", "a new hose on the meter"),
    ("share_a_pct", "90"),
    ("temp_f", "41"),
    ("agency", "School district"),
    ("volume_gal", "110"),
    ("reason", "as written on the sheet"),
    ("name", "First snow"),
    ("at", "2013-01-23 10:00"),
    ("until", "2013-01-23 16:00"),
    ("mass_tons", "12"),
    ("buckets_number", "3"),
    ("total_gal", "41000"),
    ("shown_gal", "100"),
    ("weighed_lb", "980"),
    ("strength_pct", "23.1"),
    ("caught_floz", "96"),
    ("material", "rock salt"),
    ("setting", "4"),
    ("caught_lb", "31"),
    ("turns_number", "10"),
    ("per_minute_number", "20"),
    ("text", "the east gate was frozen shut"),
];

/// The whole suite; the answer is its line for the exam.
pub fn suite() -> Result<String, String> {
    let folder = Scratch::new("forms")?;
    let home = folder.path();
    drop(Served::demo(home)?);
    done(&mut program(home, &["tls", "init", "--host", NAME]), "")?;
    done(
        &mut program(home, &["user", "add", "Ines", "--role", "supervisor", "--password"]),
        "a quiet winter\n",
    )?;
    done(&mut program(home, &["user", "add", "Lou", "--pin"]), "4071\n")?;
    let before = rows(home)?;
    let server = Served::by(program(home, &["serve", "--address", "127.0.0.1:0", "--host", NAME]))?;
    let network = Network::to(open_port(&server)?)?;
    let origin = format!("https://{NAME}:{}", network.port);
    trust(home, &home.join("tls/authority.pem"))?;
    let mut browser = Chromium::on_device(home, NAME)?;
    let mut tab = browser.open(PHONE_WIDTH, Scheme::Light)?;
    enrol(&mut tab, &origin, |_, _| Ok(()))?;
    begin_shift(&mut tab, &origin)?;
    tab.wait_until("the worker", "!!navigator.serviceWorker.controller")?;
    not_promised(&mut tab, &origin)?;

    let mut forms = Vec::new();
    for path in PAGES {
        tab.go_to(&format!("{origin}{path}"))?;
        let found = tab.ask(
            "[...document.querySelectorAll('main form[method=post]')].filter((one) => one.elements.entry_id && \
             !one.closest('[data-raw]')).map((one) => one.dataset.form)",
        )?;
        let mut found: Vec<String> =
            serde_json::from_value(found).map_err(|error| format!("{path}: {error}"))?;
        found.dedup();
        if found.is_empty() {
            return Err(format!("{path}: no form of an entry"));
        }
        forms.extend(found.into_iter().map(|key| (path, key)));
    }
    // A page with its question was seen; the bare form came along when the shift began.
    let seen_at = Instant::now();

    network.cut();
    let mut kept = 0;
    let mut keys = BTreeSet::new();
    for (path, key) in &forms {
        tab.go_to(&format!("{origin}{path}"))?;
        enter(&mut tab, key).map_err(|why| format!("{path}, {key}: {why}"))?;
        kept += 1;
        waits(&mut tab, kept).map_err(|why| format!("{path}, {key}: {why}"))?;
        keys.insert(key.as_str());
    }
    if let Some((key, when)) = COME_LATER.into_iter().find(|(key, _)| keys.contains(key)) {
        return Err(format!("the form {key} stands on a fresh page, and is said to come {when}"));
    }
    raw_numbers(&mut tab, &origin)?;
    kept += 1;
    waits(&mut tab, kept)?;
    needs_the_machine(&mut tab, &origin)?;
    // How old a page is, told on it once it is a minute old.
    std::thread::sleep(Duration::from_secs(61).saturating_sub(seen_at.elapsed()));
    tab.go_to(&format!("{origin}/ledger"))?;
    tab.wait_until(
        "the page says how old it is",
        "/This page is from .+, [1-9][0-9]* min ago/.test(document.querySelector('[data-away-age]').textContent)",
    )?;
    tab.go_to(&format!("{origin}/offline"))?;
    tab.reload()?;
    waits(&mut tab, kept).map_err(|why| format!("after a reload: {why}"))?;

    // The worker is replaced while they wait: the network is there, and nothing may be sent yet.
    tab.block(&["*/offline/clock", "*/offline/send"])?;
    network.restore();
    tab.ask("caches.open('shell-of-before').then(() => true)")?;
    tab.renew_workers()?;
    tab.reload()?;
    tab.wait_until("the new worker", "caches.has('shell-of-before').then((is) => !is)")?;
    waits(&mut tab, kept).map_err(|why| format!("after an update: {why}"))?;
    tab.block(&[])?;
    tab.reload()?;
    let (_, states) = until_sent(&mut tab, kept)?;
    let held = states.iter().filter(|state| state.starts_with("held")).count();
    drop(tab);
    drop(browser);
    drop(server);
    let recorded = rows(home)? - before;
    // A put-right or a delivery may write more than one row.
    if recorded < kept - held {
        return Err(format!("{kept} entries, {held} held: the ledger has {recorded} more: {states:?}"));
    }
    untrusted()?;
    Ok(format!(
        "{kept} entries by {} forms: {} recorded, {held} held for a person, none lost; reload, update of the worker, \
         age, no promise to keep, no trust: each told",
        keys.len() + 1,
        kept - held
    ))
}

/// How many rows the ledger has.
fn rows(home: &std::path::Path) -> Result<usize, String> {
    Ok(done(&mut program(home, &["ledger", "export"]), "")?.lines().count())
}

/// Fills a form as far as it must be, signs it as Lou, and sends it.
fn enter(tab: &mut Tab, key: &str) -> Result<(), String> {
    let typed: serde_json::Map<String, Value> =
        TYPED.iter().map(|(name, value)| ((*name).to_owned(), Value::from(*value))).collect();
    let form = format!("main [data-form={key}]");
    let wanting = tab.ask(&format!(
        "(() => {{ const form = document.querySelector({}); const typed = {}; const wanting = []; \
         const folded = form.closest('details'); if (folded) folded.open = true; \
         for (const one of form.elements) {{ \
           if (one.type === 'hidden' || one.name.startsWith('sign_') || one.tagName === 'BUTTON') continue; \
           if (one.type === 'radio') {{ \
             const all = [...form.elements].filter((other) => other.name === one.name); \
             if (one.required && !all.some((other) => other.checked)) one.checked = true; \
           }} else if (one.tagName === 'SELECT') {{ \
             if (one.required && !one.value) one.value = [...one.options].find((option) => option.value)?.value ?? ''; \
           }} else if (one.required && !one.value) {{ \
             if (one.name in typed) one.value = typed[one.name]; else wanting.push(one.name); \
           }} }} return wanting; }})()",
        Value::from(form.as_str()),
        Value::Object(typed)
    ))?;
    if wanting != Value::Array(Vec::new()) {
        return Err(format!("nothing to type into {wanting}"));
    }
    choose_lou(tab, &format!("{form} [name=sign_who]"))?;
    send(tab, &form)
}

fn send(tab: &mut Tab, form: &str) -> Result<(), String> {
    tab.type_into(&format!("{form} [name=sign_pin]"), "4071")?;
    let wrong = tab.ask(&format!(
        "(() => {{ const form = document.querySelector({}); form.requestSubmit(); \
         return [...form.querySelectorAll(':invalid')].map((one) => one.name).join(', '); }})()",
        Value::from(form)
    ))?;
    if wrong != "" {
        return Err(format!("the browser does not send it: {wrong}"));
    }
    tab.wait_until("it is kept", "location.pathname === '/offline'")
}

/// A weighing is kept as it is, to be worked out later.
fn raw_numbers(tab: &mut Tab, origin: &str) -> Result<(), String> {
    tab.go_to(&format!("{origin}/bench/lab?method=drying&tank=1&sample_g=40&residue_g=9.21&step="))?;
    let form = "[data-form=lab-raw]";
    tab.wait_until(
        "numbers may be kept as they are",
        "document.querySelector('[data-raw]')?.hidden === false",
    )?;
    choose_lou(tab, &format!("{form} [name=sign_who]"))?;
    send(tab, form)
}

/// What cannot be worked out on the device, or be kept on it, says so.
fn needs_the_machine(tab: &mut Tab, origin: &str) -> Result<(), String> {
    tab.go_to(&format!("{origin}/put-right?tank=1&strength_pct=26&with=water"))?;
    tab.wait_until(
        "putting right says that it needs the machine",
        "document.querySelector('[data-raw]')?.hidden === false && \
         !document.querySelector('[data-stand-in]').hidden && !document.querySelector('#answer')",
    )?;
    tab.go_to(&format!("{origin}/ledger"))?;
    tab.ask("document.querySelector('.menu form').requestSubmit()")?;
    tab.wait_until(
        "what is not kept says so",
        "location.pathname === '/offline' && document.querySelector('[data-needs-network]')?.hidden === false",
    )
}

/// A browser that will not promise to keep what waits is told of; one that does is not.
fn not_promised(tab: &mut Tab, origin: &str) -> Result<(), String> {
    for is_kept in [false, true] {
        tab.permit(origin, "persistent-storage", is_kept)?;
        tab.go_to(&format!("{origin}/offline"))?;
        tab.wait_until("the browser is asked", "!!document.body.dataset.asked")?;
        let promised = tab.ask("navigator.storage.persisted()")?;
        let is_told = tab.ask("!document.querySelector('[data-not-kept]').hidden")?;
        if promised != Value::Bool(is_kept) || is_told != Value::Bool(!is_kept) {
            return Err(format!(
                "kept for good: {promised}, wanted {is_kept}; told that it is not: {is_told}"
            ));
        }
    }
    Ok(())
}

/// Asked without encryption by the name it has in the yard, the page says that entries without network are off.
fn untrusted() -> Result<(), String> {
    let folder = Scratch::new("untrusted")?;
    let home = folder.path();
    drop(Served::demo(home)?);
    let serve = ["serve", "--address", "127.0.0.1:0", "--host", NAME];
    let server = Served::by(program(home, &serve))?;
    let mut browser = Chromium::on_device(home, NAME)?;
    let mut tab = browser.open(PHONE_WIDTH, Scheme::Light)?;
    let origin = format!("http://{NAME}:{}", open_port(&server)?);
    tab.go_to(&format!("{origin}/offline"))?;
    if tab.ask("window.isSecureContext")? != Value::Bool(false) {
        return Err(format!("{origin} counts as trusted"));
    }
    tab.wait_until(
        "the page says that the connection is not trusted",
        "document.querySelector('[data-insecure]')?.hidden === false",
    )
}
