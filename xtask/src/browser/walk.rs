//! Walks through the console on a phone: a dip, a tank put right, and the bench from a sample out of spec to its
//! record.

use std::time::{Duration, Instant};

use serde_json::Value;

use super::chromium::Chromium;
use super::tab::{Key, Tab};
use super::view::{PHONE_WIDTH, Scheme};

/// Longer than the walk's yard makes anybody wait.
const LONGEST_WAIT: Duration = Duration::from_secs(60);

const FORM: &str = "form[data-form=\"dip-1\"]";

/// Whether the pages' own scripts run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Script {
    /// Scripts run, as in any browser.
    On,
    /// Switched off in the browser.
    Off,
}

impl Script {
    /// Name of the walk in the messages of a check.
    pub fn name(self) -> &'static str {
        match self {
            Self::On => "walk",
            Self::Off => "walk without script",
        }
    }

    /// A depth nobody else writes, so that the page after it cannot be the page before.
    fn depth_ft(self) -> &'static str {
        match self {
            Self::On => "4.37",
            Self::Off => "4.61",
        }
    }

    /// A name nobody else has, so that the entry can be told from the demo's own.
    fn author(self) -> &'static str {
        match self {
            Self::On => "Walker Alpha",
            Self::Off => "Walker Bravo",
        }
    }
}

/// The walk; the error says which step failed.
pub fn dip(chromium: &mut Chromium, origin: &str, script: Script) -> Result<(), String> {
    let mut tab = chromium.open(PHONE_WIDTH, Scheme::Light)?;
    if script == Script::Off {
        tab.turn_script_off()?;
    }
    let author = script.author();
    let tanks = format!("{origin}/tanks#dip-1");
    tab.go_to(&tanks)?;
    let before = entries(&mut tab, origin, author)?;
    if before != 0 {
        return Err(format!("the ledger lists {before} entries by {author} before the walk"));
    }

    tab.go_to(&tanks)?;
    let (main_before, said_before) = (main_text(&mut tab)?, announced(&mut tab)?);
    fill(&mut tab, script)?;
    send(&mut tab).map_err(|why| format!("sending the dip: {why}"))?;
    // A demo may announce itself on every page: only what is new says that the dip was recorded.
    if announced(&mut tab)?.iter().all(|said| said_before.contains(said)) {
        return Err("after sending, nothing says that the dip was recorded".to_string());
    }
    if main_text(&mut tab)? == main_before {
        return Err("after sending, the tanks page reads as before".to_string());
    }

    tab.go_back()?;
    // The browser may bring back the filled form or a fresh one; the person sees to it that it is filled.
    fill(&mut tab, script).map_err(|why| format!("after Back: {why}"))?;
    send(&mut tab).map_err(|why| format!("sending the same dip again: {why}"))?;
    match entries(&mut tab, origin, author)? {
        1 => tab.close(),
        count => Err(format!("sent once, then again after Back: the ledger lists it {count} times")),
    }
}

/// A tank is put right on a phone: from the tanks page to the form, the answer held against a mass balance
/// worked by hand, and the first part recorded once, also after Back and sending again.
///
/// By hand: 5,000 gal at 60 °F of 25.0 % brine (relative density 1.1923 there, 999.0 kg/m³ water) are 22,545
/// kg with 5,636 kg of salt; at 23.3 % that salt is in 24,190 kg: 1,645 kg of water, 435 gal. Worked example
/// W12 says 434 gal, ±2 %.
pub fn put_right(chromium: &mut Chromium, origin: &str) -> Result<(), String> {
    const AUTHOR: &str = "Walker Charlie";
    const ASK: &str = "form[data-form=\"right-ask\"]";
    const RECORD: &str = "form[data-form=\"put-right\"]";
    let mut tab = chromium.open(PHONE_WIDTH, Scheme::Light)?;
    tab.go_to(&format!("{origin}/tanks#dip-1"))?;
    tab.ask("(document.documentElement.dataset.sent = 'yes', true)")?;
    tab.click("a[href*=\"put-right?tank=1\"]")?;
    settled(&mut tab, "the page to put a tank right")?;
    for (name, value) in [("strength_pct", "25"), ("target_pct", "23.3"), ("volume_gal", "5000")] {
        tab.type_into(&format!("{ASK} [name={name}]"), value)?;
    }
    tab.click(&format!("{ASK} [value=water]"))?;
    press(&mut tab, ASK)?;
    let answer = tab.ask("document.querySelector('#answer')?.textContent ?? ''")?;
    let answer = answer.as_str().unwrap_or_default().to_string();
    let gallons: Option<f64> = answer
        .split_whitespace()
        .find_map(|word| word.replace(',', "").parse::<f64>().ok().filter(|number| *number > 1.0));
    if !gallons.is_some_and(|found| (found / 434.0 - 1.0).abs() < 0.02 && (found - 435.0).abs() <= 1.5) {
        return Err(format!("5,000 gal at 25% to 23.3%: the page says \"{answer}\", by hand it is 435 gal"));
    }
    for round in ["recording", "recording again after Back"] {
        tab.type_into(&format!("{RECORD} [name=author]"), AUTHOR)?;
        press(&mut tab, RECORD).map_err(|why| format!("{round}: {why}"))?;
        if round == "recording" {
            tab.go_back()?;
        }
    }
    match entries(&mut tab, origin, AUTHOR)? {
        1 => tab.close(),
        count => Err(format!("recorded once, sent twice: the ledger lists it {count} times")),
    }
}

/// How a person works the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hand {
    /// With a finger or a mouse.
    Pointer,
    /// With the keyboard alone.
    Keyboard,
}

impl Hand {
    /// How it is named in the messages of a check.
    pub fn name(self) -> &'static str {
        match self {
            Self::Pointer => "by pointer",
            Self::Keyboard => "by keyboard alone",
        }
    }

    /// Types into a field, in place of what it held.
    pub fn fill(self, tab: &mut Tab, selector: &str, text: &str) -> Result<(), String> {
        match self {
            Self::Pointer => tab.type_into(selector, text),
            Self::Keyboard => {
                tab.tab_to(selector)?;
                tab.type_here(text)
            }
        }
    }

    /// Presses a button or follows a link, and waits for the page that answers.
    pub fn push(self, tab: &mut Tab, selector: &str) -> Result<(), String> {
        tab.ask("(document.documentElement.dataset.sent = 'yes', true)")?;
        match self {
            Self::Pointer => tab.click(selector)?,
            Self::Keyboard => {
                tab.tab_to(selector)?;
                tab.press_key(Key::Enter)?;
            }
        }
        settled(tab, "the next page")?;
        match tab.heard().document_status {
            Some(200..=299) => Ok(()),
            status => {
                let alert = tab.ask("document.querySelector('[role=alert]')?.textContent ?? ''")?;
                Err(format!("{selector} answered with status {status:?} {alert}"))
            }
        }
    }
}

/// The bench on a phone, from a sample out of spec to the calibration record. The yard's lag must be a few seconds.
///
/// 1.1782 on a 60/60 °F hydrometer at 60 °F is 23.3 %, and near it 0.0082 is 1 % (the project's notes on instruments):
/// 1.1690 is 22.2 %.
pub fn bench(chromium: &mut Chromium, origin: &str, hand: Hand, script: Script) -> Result<(), String> {
    const AUTHOR: &str = "Walker Delta";
    let mut tab = chromium.open(PHONE_WIDTH, Scheme::Light)?;
    if script == Script::Off {
        tab.turn_script_off()?;
    }
    tab.go_to(&format!("{origin}/bench?tank=tap"))?;
    let says = |tab: &mut Tab, what: &str, wanted: &str| -> Result<(), String> {
        let answer = tab.ask("document.querySelector('#answer')?.textContent ?? ''")?;
        let answer = answer.as_str().unwrap_or_default().replace('\u{a0}', " ");
        if answer.contains(wanted) { Ok(()) } else { Err(format!("{what}: the page says \"{answer}\"")) }
    };
    let sample = |tab: &mut Tab, reading: &str, wanted: &str| -> Result<(), String> {
        hand.fill(tab, "[data-form=bench-ask] [name=temp_f]", "60")?;
        hand.fill(tab, "[data-form=bench-ask] [name=reading]", reading)?;
        hand.push(tab, "[data-form=bench-ask] [type=submit]")?;
        says(tab, reading, wanted)?;
        hand.fill(tab, "[data-form=bench] [name=author]", AUTHOR)?;
        hand.push(tab, "[data-form=bench] [type=submit]")?;
        hand.push(tab, "a[href*='/bench/trim?reading=']")
    };
    let look = |tab: &mut Tab, number: Option<&str>, wanted: &str| -> Result<(), String> {
        if let Some(number) = number {
            hand.fill(tab, "[data-form=trim-look] [name=trim_number]", number)?;
        }
        hand.fill(tab, "[data-form=trim-look] [name=panel_pct]", "23.3")?;
        hand.fill(tab, "[data-form=trim-look] [name=author]", AUTHOR)?;
        hand.push(tab, "[data-form=trim-look] [type=submit]")?;
        says(tab, "panel against bench", wanted)
    };
    sample(&mut tab, "1.1690", "Too weak: 22.2%")?;
    look(&mut tab, Some("1"), "Set trim to")?;
    hand.fill(&mut tab, "[data-form=trim-set] [name=author]", AUTHOR)?;
    hand.push(&mut tab, "[data-form=trim-set] [type=submit]")?;
    says(&mut tab, "right after the setting", "Wait until")?;
    let begun = Instant::now();
    while says(&mut tab, "waiting", "second sample").is_err() {
        if LONGEST_WAIT < begun.elapsed() {
            return Err("the wait never ends".to_string());
        }
        std::thread::sleep(Duration::from_secs(1));
        tab.go_to(&format!("{origin}/bench/trim"))?;
    }
    hand.push(&mut tab, "main .go[href$='/bench?tank=tap']")?;
    sample(&mut tab, "1.1782", "In spec: 23.3%")?;
    look(&mut tab, None, "Panel and bench agree")?;
    hand.push(&mut tab, "main a[href$='/bench/record']")?;
    says(&mut tab, "the record", "Panel and bench agree")?;
    let record = main_text(&mut tab)?;
    for part in [AUTHOR, "Hydrometer 60/60", "trim 1.000", "Checked by"] {
        if !record.contains(part) {
            return Err(format!("the record does not hold \"{part}\""));
        }
    }
    match entries(&mut tab, origin, AUTHOR)? {
        5 => tab.close(),
        count => Err(format!("two readings, two looks and one setting: the ledger lists {count} entries")),
    }
}

/// A night at the pump by keyboard alone: a planned load, its ticket, what came back, and the storm's report, which
/// must add up to it.
pub fn load_out(chromium: &mut Chromium, origin: &str) -> Result<(), String> {
    const AUTHOR: &str = "Walker Foxtrot";
    let hand = Hand::Keyboard;
    let mut tab = chromium.open(PHONE_WIDTH, Scheme::Light)?;
    tab.go_to(&format!("{origin}/"))?;
    hand.push(&mut tab, "nav a[href$='/load']")?;
    hand.push(&mut tab, "#planned a.row-link")?;
    // The plan's truck, tank, route and gallons stand in the form; a little less is loaded, and found by the scale.
    hand.fill(&mut tab, "[data-form=load] [name=volume_gal]", "500")?;
    tab.tab_to("[data-form=load] [name=how]:checked")?;
    tab.press_key(Key::Down)?;
    hand.fill(&mut tab, "[data-form=load] [name=author]", AUTHOR)?;
    hand.push(&mut tab, "[data-form=load] [type=submit]")?;
    let ticket = main_text(&mut tab)?.replace('\u{a0}', " ");
    for part in ["Load ticket", "500 gal", "Axle weights", AUTHOR, "You are responsible for legal weight"] {
        if !ticket.contains(part) {
            return Err(format!("the ticket does not hold \"{part}\": {ticket}"));
        }
    }
    hand.push(&mut tab, "nav a[href$='/load/return']")?;
    hand.fill(&mut tab, "[data-form=return] [name=volume_gal]", "120")?;
    hand.fill(&mut tab, "[data-form=return] [name=author]", AUTHOR)?;
    hand.push(&mut tab, "[data-form=return] [type=submit]")?;
    // The seldom opened pages stand behind a button on a phone.
    tab.tab_to("button[popovertarget=menu]")?;
    tab.press_key(Key::Enter)?;
    hand.push(&mut tab, ".menu a[href$='/books']")?;
    hand.push(&mut tab, "nav a[href$='/books/storms']")?;
    hand.push(&mut tab, "main .picks a.step")?;
    // On a phone the tables lie folded under their names.
    tab.ask("(document.querySelectorAll('details').forEach((one) => { one.open = true; }), true)")?;
    let report = main_text(&mut tab)?.replace('\u{a0}', " ");
    // 500 gal out and 120 back at the same strength and temperature: 380 gal on the road.
    for part in ["liquid applied", "380 gal", "R1 Mill Road"] {
        if !report.contains(part) {
            return Err(format!("the storm's report does not hold \"{part}\": {report}"));
        }
    }
    match entries(&mut tab, origin, AUTHOR)? {
        2 => tab.close(),
        count => Err(format!("a load and a return: the ledger lists {count} entries")),
    }
}

/// A trainee starts the practice plant with a pump that was never primed, and the run sheet stops them in time.
///
/// The plant's time goes ten times as fast: the pump, ruined after three minutes dry, has eighteen seconds of ours.
pub fn trainee(chromium: &mut Chromium, origin: &str) -> Result<(), String> {
    const WHO: &str = "Walker Echo";
    let hand = Hand::Pointer;
    let mut tab = chromium.open(PHONE_WIDTH, Scheme::Light)?;
    tab.go_to(&format!("{origin}/trainer"))?;
    tab.type_into("[name=who]", WHO)?;
    tab.click("[name=exercise][value=first_start]")?;
    tab.click("[name=speed][value='10']")?;
    hand.push(&mut tab, "form[action$='/trainer/begin'] [type=submit]")?;
    hand.push(&mut tab, "main .next a.go")?;
    let main = main_text(&mut tab)?;
    if !main.contains("First start") {
        return Err(format!("the trainee's page does not name the exercise: {main}"));
    }
    hand.push(&mut tab, "main .next a.go")?;
    tab.type_into("[data-form=run-start] [name=author]", WHO)?;
    hand.push(&mut tab, "[data-form=run-start] [type=submit]")?;
    tab.go_to(&format!("{origin}/practice/plant"))?;
    let part = |line: u32, share: &str| {
        format!("form:has([name=act][value=line]):has([name=at][value='{line}']) button[value='{share}']")
    };
    hand.push(&mut tab, &part(0, "1"))?;
    hand.push(&mut tab, &part(1, "1"))?;
    // The page is not loaded again: it must tell by itself.
    tab.go_to(&format!("{origin}/practice/run"))?;
    tab.wait_until(
        "the sheet says stop",
        "(document.querySelector('#plant-stop')?.textContent ?? '').includes('Stop circulation now')",
    )?;
    tab.go_to(&format!("{origin}/practice/plant"))?;
    hand.push(&mut tab, &part(1, "0"))?;
    let stopped = main_text(&mut tab)?;
    if stopped.contains("ruined") {
        return Err("the sheet said stop, and the pump is ruined all the same".to_string());
    }
    tab.ask("(document.querySelector('form:has([name=act][value=mend]) select').value = 'prime-1', true)")?;
    hand.push(&mut tab, "form:has([name=act][value=mend]) [type=submit]")?;
    hand.push(&mut tab, &part(1, "1"))?;
    tab.go_to(&format!("{origin}/practice/run"))?;
    tab.wait_until(
        "the sheet takes it back",
        "!(document.querySelector('#plant-stop')?.textContent ?? '').includes('Stop')",
    )?;
    tab.go_to(&format!("{origin}/trainer"))?;
    hand.push(&mut tab, "button[value=end]")?;
    let debrief = main_text(&mut tab)?.replace('\u{a0}', " ");
    for part in [WHO, "1/1", "Prime pump circulation", "Fault: Pump circulation"] {
        if !debrief.contains(part) {
            return Err(format!("the debrief does not hold \"{part}\": {debrief}"));
        }
    }
    if debrief.contains("its seal is gone") {
        return Err("the debrief says that the pump was ruined".to_string());
    }
    tab.close()
}

fn fill(tab: &mut Tab, script: Script) -> Result<(), String> {
    tab.type_into(&format!("{FORM} [name=depth_ft]"), script.depth_ft())?;
    tab.type_into(&format!("{FORM} [name=author]"), script.author())
}

/// Presses the dip form's button and waits for the page that answers.
fn send(tab: &mut Tab) -> Result<(), String> {
    press(tab, FORM)
}

/// Waits for the page after one that was marked as sent.
fn settled(tab: &mut Tab, what: &str) -> Result<(), String> {
    let answered =
        "document.readyState === 'complete' && document.documentElement.dataset.sent === undefined";
    tab.wait_until(&format!("{what} was there"), answered)
}

/// Presses a form's button and waits for the page that answers.
fn press(tab: &mut Tab, form: &str) -> Result<(), String> {
    tab.ask("(document.documentElement.dataset.sent = 'yes', true)")?;
    tab.click(&format!("{form} [type=submit], {form} button:not([type])"))?;
    settled(tab, "the answer to the form")?;
    let status = tab.heard().document_status;
    if matches!(status, Some(200..=299)) {
        return Ok(());
    }
    let alert = tab.ask("document.querySelector('[role=alert]')?.textContent ?? ''")?;
    Err(format!("answered with status {status:?} {alert}"))
}

/// How many entries of the ledger page name an author: the innermost rows or items that hold the name.
fn entries(tab: &mut Tab, origin: &str, author: &str) -> Result<u64, String> {
    tab.go_to(&format!("{origin}/ledger"))?;
    let count = tab.ask(&format!(
        "(() => {{ const name = {}; const rows = [...document.querySelectorAll('main tr, main li, main article')] \
         .filter((row) => row.textContent.includes(name)); \
         return rows.filter((row) => !rows.some((other) => other !== row && row.contains(other))).length; }})()",
        Value::from(author)
    ))?;
    count.as_u64().ok_or_else(|| format!("counting entries gave {count}"))
}

/// What the page's own part says.
pub fn main_text(tab: &mut Tab) -> Result<String, String> {
    let text = tab.ask("document.querySelector('main')?.innerText ?? ''")?;
    Ok(text.as_str().unwrap_or_default().to_string())
}

/// What the page tells of its own accord.
fn announced(tab: &mut Tab) -> Result<Vec<Value>, String> {
    let said =
        tab.ask("[...document.querySelectorAll('[role=status]')].map((status) => status.textContent)")?;
    said.as_array().cloned().ok_or_else(|| format!("asking what the page announces gave {said}"))
}
