//! The second browser: Firefox, over WebDriver BiDi (<https://www.w3.org/TR/webdriver-bidi/>), walked through a shift's
//! entries on a phone's width, with the same checks of every page.

use std::fmt::Write as _;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::checks::PAGE_CHECKS;
use super::protocol::Connection;
use super::view::{PHONE_WIDTH, Scheme, View};
use crate::running;
use crate::scratch::Scratch;
use crate::served::Served;

const START_LIMIT: Duration = Duration::from_secs(90);
const WAIT_LIMIT: Duration = Duration::from_secs(20);
const HEIGHT_PX: u32 = 740;

/// Pages that are looked at.
const PAGES: [&str; 19] = [
    "/",
    "/storm",
    "/tanks",
    "/run",
    "/bench",
    "/bench/trim",
    "/bench/instruments",
    "/put-right?tank=1&strength_pct=25&with=water",
    "/put-right/blend",
    "/load",
    "/load/applied",
    "/books",
    "/night",
    "/roads",
    "/salt",
    "/due",
    "/sprayers",
    "/setup",
    "/trainer",
];

/// Looks at an element's place before it is taken to move for ever.
const STANDS: usize = 12;

/// A Firefox with one tab. Dropping it ends it and removes its profile.
struct Firefox {
    connection: Connection,
    context: String,
    process: Child,
    _profile: Scratch,
}

impl Drop for Firefox {
    fn drop(&mut self) {
        let _ = self.connection.call(None, "browser.close", json!({}));
        let _ = running::wait(&mut self.process, Duration::from_secs(5));
        running::end(&mut self.process);
    }
}

impl Firefox {
    fn start() -> Result<Self, String> {
        let profile = Scratch::new("firefox")?;
        // A phone's bar lies over the page and takes no width of it.
        let preferences = "user_pref(\"widget.gtk.overlay-scrollbars.enabled\", true);\n\
                           user_pref(\"ui.useOverlayScrollbars\", 1);\n";
        std::fs::write(profile.path().join("user.js"), preferences).map_err(|e| e.to_string())?;
        let mut command = Command::new("firefox-esr");
        command
            .args(["--headless", "--no-remote", "--remote-debugging-port=0", "--profile"])
            .arg(profile.path());
        command.env("HOME", profile.path()).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        let mut process = command.spawn().map_err(|e| {
            format!("could not start `firefox-esr`: {e}; on Debian: apt-get install firefox-esr")
        })?;
        let file = profile.path().join("WebDriverBiDiServer.json");
        let start = Instant::now();
        let port = loop {
            let told = std::fs::read_to_string(&file).ok();
            let told = told.and_then(|text| serde_json::from_str::<Value>(&text).ok());
            if let Some(port) = told.and_then(|told| u16::try_from(told["ws_port"].as_u64()?).ok()) {
                break port;
            }
            if start.elapsed() > START_LIMIT {
                running::end(&mut process);
                return Err(format!("firefox did not open its port within {} s", START_LIMIT.as_secs()));
            }
            std::thread::sleep(Duration::from_millis(50));
        };
        let mut connection = Connection::open(port, "/session")?;
        connection.call(None, "session.new", json!({ "capabilities": {} }))?;
        let made = connection.call(None, "browsingContext.create", json!({ "type": "tab" }))?;
        let context = made["context"].as_str().ok_or("firefox named no tab")?.to_owned();
        let size = json!({ "width": PHONE_WIDTH, "height": HEIGHT_PX });
        connection.call(
            None,
            "browsingContext.setViewport",
            json!({ "context": context, "viewport": size }),
        )?;
        Ok(Self { connection, context, process, _profile: profile })
    }

    fn go_to(&mut self, url: &str) -> Result<(), String> {
        let ask = json!({ "context": self.context, "url": url, "wait": "complete" });
        self.connection.call(None, "browsingContext.navigate", ask).map(|_| ())
    }

    /// What an expression gives, through JSON.
    fn ask(&mut self, expression: &str) -> Result<Value, String> {
        let asked = json!({
            "expression": format!("JSON.stringify({expression})"),
            "target": { "context": self.context },
            "awaitPromise": true,
        });
        let answer = self.connection.call(None, "script.evaluate", asked)?;
        if answer["type"] == "exception" {
            return Err(format!("{expression}: {}", answer["exceptionDetails"]["text"]));
        }
        let text = answer["result"]["value"].as_str().unwrap_or("null");
        serde_json::from_str(text).map_err(|error| format!("{expression}: {error}"))
    }

    fn wait_until(&mut self, what: &str, expression: &str) -> Result<(), String> {
        let start = Instant::now();
        while start.elapsed() < WAIT_LIMIT {
            // While a page is being left, there is none to ask.
            if self.ask(expression).is_ok_and(|answer| answer == Value::Bool(true)) {
                return Ok(());
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        let at = self.ask("[location.href, document.querySelector('h1')?.textContent]").unwrap_or_default();
        Err(format!("waited in vain for {what}, at {at}"))
    }

    /// Clicks the middle of what is shown of an element, as a thumb would; what lies over it is an error.
    fn click(&mut self, selector: &str) -> Result<(), String> {
        let place = format!(
            "(() => {{ const one = document.querySelector({s}); if (!one) return null; \
             one.scrollIntoView({{ block: 'center', behavior: 'instant' }}); const box = one.getBoundingClientRect(); \
             const [x, y] = [box.x + box.width / 2, box.y + box.height / 2]; \
             const hit = document.elementFromPoint(x, y); \
             const is_free = !!hit && (one === hit || one.contains(hit) || \
             (hit.contains(one) && hit.matches('label'))); \
             return [Math.round(x), Math.round(y), is_free, hit ? hit.tagName + '.' + hit.className : '']; }})()",
            s = Value::from(selector)
        );
        // A page that was just loaded still scrolls to what it points at: a thumb waits until it stands.
        let mut at = self.ask(&place)?;
        for _ in 0..STANDS {
            std::thread::sleep(Duration::from_millis(80));
            let before = std::mem::replace(&mut at, self.ask(&place)?);
            if before == at {
                break;
            }
        }
        let (Some(x), Some(y)) = (at[0].as_i64(), at[1].as_i64()) else {
            return Err(format!("{selector} is not there"));
        };
        if at[2] != true {
            return Err(format!("something lies over {selector}: {}", at[3]));
        }
        let steps = json!([
            { "type": "pointerMove", "x": x, "y": y },
            { "type": "pointerDown", "button": 0 },
            { "type": "pointerUp", "button": 0 },
        ]);
        let pointer = json!({
            "type": "pointer", "id": "thumb", "parameters": { "pointerType": "mouse" }, "actions": steps,
        });
        let act = json!({ "context": self.context, "actions": [pointer] });
        self.connection.call(None, "input.performActions", act).map(|_| ())
    }

    /// Types into a field, in place of what stands there.
    fn fill(&mut self, selector: &str, text: &str) -> Result<(), String> {
        self.click(selector)?;
        self.ask(&format!("(document.querySelector({}).select(), true)", Value::from(selector)))?;
        let keys: Vec<Value> = text
            .chars()
            .flat_map(|key| {
                let key = key.to_string();
                [json!({ "type": "keyDown", "value": key }), json!({ "type": "keyUp", "value": key })]
            })
            .collect();
        let act =
            json!({ "context": self.context, "actions": [{ "type": "key", "id": "keys", "actions": keys }] });
        self.connection.call(None, "input.performActions", act).map(|_| ())
    }

    /// Clicks what leads to another page, and waits for it.
    fn push(&mut self, selector: &str) -> Result<(), String> {
        self.ask("(document.documentElement.dataset.left = 'yes', true)")?;
        self.click(selector)?;
        let there =
            "document.readyState === 'complete' && document.documentElement.dataset.left === undefined";
        self.wait_until(&format!("the page behind {selector}"), there)
    }

    fn says(&mut self, selector: &str, wanted: &str) -> Result<(), String> {
        let said =
            self.ask(&format!("document.querySelector({})?.innerText ?? ''", Value::from(selector)))?;
        let said = said.as_str().unwrap_or_default().replace('\u{a0}', " ");
        if said.contains(wanted) {
            Ok(())
        } else {
            Err(format!("{selector} does not say \"{wanted}\": {said}"))
        }
    }
}

/// Walks the demo in Firefox; the answer is its line for the exam.
pub fn walk() -> Result<String, String> {
    let folder = Scratch::new("demo-firefox")?;
    let server = Served::demo(folder.path())?;
    let origin = &server.origin;
    let mut firefox = Firefox::start()?;
    let mut faults = String::new();
    for path in PAGES {
        let view = View { path, width_px: PHONE_WIDTH, scheme: Scheme::Light };
        firefox.go_to(&format!("{origin}{path}"))?;
        firefox.ask("document.fonts.ready.then(() => true)")?;
        let tallest = view.tallest_px().map_or_else(|| "null".to_owned(), |most| most.to_string());
        let checks = PAGE_CHECKS.trim().trim_end_matches(';');
        let found = firefox.ask(&format!("({checks})({PHONE_WIDTH}, {tallest})"))?;
        for fault in found.as_array().into_iter().flatten() {
            let _ = writeln!(faults, "{path}: {}", fault.as_str().unwrap_or_default());
        }
    }
    // A dip that is refused at its field, then taken; and taken back by one button.
    firefox.go_to(&format!("{origin}/tanks#dip-1"))?;
    firefox.fill("[data-form=dip-1] [name=depth_ft]", "four")?;
    firefox.fill("[data-form=dip-1] [name=author]", "Walker Fox")?;
    firefox.push("[data-form=dip-1] .go")?;
    let at = firefox.ask("document.activeElement.name")?;
    if at != "depth_ft" {
        return Err(format!("what was refused does not have the focus: {at}"));
    }
    firefox.says(".bad-says", "four is not a number")?;
    firefox.fill("[data-form=dip-1] [name=depth_ft]", "7 ft 4 in")?;
    firefox.push("[data-form=dip-1] .go")?;
    firefox.says(".saved", "Dip saved")?;
    firefox.push("[data-form=undo] [type=submit]")?;
    // A sample at the bench.
    firefox.go_to(&format!("{origin}/bench?tank=1"))?;
    firefox.click("[data-form=bench-ask] [name=instrument][value=hydrometer]")?;
    firefox.fill("[data-form=bench-ask] [name=temp_f]", "60")?;
    firefox.fill("[data-form=bench-ask] [name=reading]", "1.177")?;
    firefox.push("[data-form=bench-ask] .pad-next")?;
    firefox.says("#answer", "%")?;
    firefox.push("[data-form=bench] .go")?;
    firefox.says(".saved", "Reading saved")?;
    // A planned load in two taps.
    firefox.go_to(&format!("{origin}/load"))?;
    firefox.push("#planned .row-link")?;
    firefox.push("[data-form=load] .go")?;
    firefox.says("main", "Load ticket")?;
    // The menu, and what this device shows.
    firefox.click(".words > button")?;
    firefox.wait_until("the menu", "document.querySelector('#menu').matches(':popover-open')")?;
    firefox.push("#menu a[href$='/setup']")?;
    firefox.push("#device button[value=si]")?;
    firefox.go_to(&format!("{origin}/"))?;
    firefox.says("main", " L")?;
    if faults.is_empty() {
        Ok(format!("{} pages and a dip, a sample, a load and the menu in Firefox", PAGES.len()))
    } else {
        Err(faults)
    }
}
