//! One tab: going places, asking questions, typing and clicking as a person does, and keeping what the browser said.
//!
//! Written here over a web socket, some thirty calls of the protocol, rather than with a crate for the whole of it.
//! headless_chrome generates its types while it builds, with a generator under the GPL, which deny.toml does not take,
//! and takes a minute and a half of a core; chromiumoxide brings 111,000 lines of generated types and a second HTTP
//! client. What the walks need most, that a click fails where something lies over its place, would be ours with either.

use std::time::{Duration, Instant};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value, json};

use super::protocol::{Connection, Event};
use super::view::{PHONE_WIDTH, Scheme};

const LOAD_LIMIT: Duration = Duration::from_secs(20);
const HEIGHT_PX: u32 = 900;

/// What the browser told about a tab since it last went somewhere.
#[derive(Debug, Default)]
pub struct Heard {
    /// Every address something was asked of.
    pub requests: Vec<String>,
    /// Warnings and errors of console, page and browser.
    pub complaints: Vec<String>,
    /// Status of the last document.
    pub document_status: Option<u64>,
}

/// A tab of the browser.
pub struct Tab<'c> {
    connection: &'c mut Connection,
    target: String,
    session: String,
    width_px: u32,
    heard: Heard,
}

/// More stops than any page of ours has.
const MOST_TABS: usize = 150;

/// A key of the keyboard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Key {
    /// To the next field, button or link.
    Tab,
    /// Follows a link, presses a button.
    Enter,
    /// To the next of several to choose from.
    Down,
}

impl<'c> Tab<'c> {
    /// Opens an empty tab of a width and scheme.
    pub fn open(connection: &'c mut Connection, width_px: u32, scheme: Scheme) -> Result<Self, String> {
        let made = connection.call(None, "Target.createTarget", json!({ "url": "about:blank" }))?;
        let target = text_of(&made, "targetId")?;
        let attach = json!({ "targetId": target, "flatten": true });
        let attached = connection.call(None, "Target.attachToTarget", attach)?;
        let session = text_of(&attached, "sessionId")?;
        let mut tab = Self { connection, target, session, width_px, heard: Heard::default() };
        for domain in ["Page", "Runtime", "Log", "Network"] {
            tab.call(&format!("{domain}.enable"), json!({}))?;
        }
        let mobile = width_px <= PHONE_WIDTH;
        tab.call(
            "Emulation.setDeviceMetricsOverride",
            json!({ "width": width_px, "height": HEIGHT_PX, "deviceScaleFactor": 1, "mobile": mobile }),
        )?;
        // A bar beside a long page would take 15 px off its width, and off its picture's.
        tab.call("Emulation.setScrollbarsHidden", json!({ "hidden": true }))?;
        let feature = json!([{ "name": "prefers-color-scheme", "value": scheme.word() }]);
        tab.call("Emulation.setEmulatedMedia", json!({ "features": feature }))?;
        tab.call("Page.bringToFront", json!({}))?;
        Ok(tab)
    }

    /// Closes the tab in the browser.
    pub fn close(self) -> Result<(), String> {
        let Self { connection, target, .. } = self;
        connection.call(None, "Target.closeTarget", json!({ "targetId": target })).map(|_| ())
    }

    /// Width of its window, CSS pixels.
    pub fn width_px(&self) -> u32 {
        self.width_px
    }

    /// What was heard since it last went somewhere.
    pub fn heard(&mut self) -> &Heard {
        for event in self.connection.take_events(&self.session) {
            self.heard.take(&event);
        }
        &self.heard
    }

    /// No script of any page runs from here on; questions are still answered.
    pub fn turn_script_off(&mut self) -> Result<(), String> {
        self.call("Emulation.setScriptExecutionDisabled", json!({ "value": true })).map(|_| ())
    }

    /// Keeps a cookie for an address.
    pub fn keep_cookie(&mut self, url: &str, name: &str, value: &str) -> Result<(), String> {
        let cookie = json!({ "url": url, "name": name, "value": value });
        self.call("Network.setCookie", cookie).map(|_| ())
    }

    /// Goes to an address and waits until it has loaded.
    pub fn go_to(&mut self, url: &str) -> Result<(), String> {
        self.heard();
        self.heard = Heard::default();
        // The answer comes once the new document is there, so the next question is never put to the old one.
        let gone = self.call("Page.navigate", json!({ "url": url }))?;
        if let Some(why) = gone["errorText"].as_str() {
            return Err(format!("could not open {url}: {why}"));
        }
        self.wait_until("the page has loaded", "document.readyState === 'complete'")
    }

    /// Goes one page back, as the Back button does, and waits until it has loaded.
    pub fn go_back(&mut self) -> Result<(), String> {
        let history = self.call("Page.getNavigationHistory", json!({}))?;
        let now = history["currentIndex"].as_u64().unwrap_or(0);
        let back = now.checked_sub(1).and_then(|index| history["entries"].get(usize::try_from(index).ok()?));
        let entry = back.ok_or("there is no page to go back to")?;
        let url = text_of(entry, "url")?;
        self.call("Page.navigateToHistoryEntry", json!({ "entryId": entry["id"] }))?;
        let there =
            format!("document.readyState === 'complete' && location.href === {}", Value::from(url.as_str()));
        self.wait_until("the page before is back", &there)
    }

    /// Loads the page anew, as the Reload button does.
    pub fn reload(&mut self) -> Result<(), String> {
        self.ask("(document.documentElement.dataset.before = 'yes', true)")?;
        self.call("Page.reload", json!({}))?;
        let anew = "!document.documentElement.dataset.before && document.readyState === 'complete'";
        self.wait_until("the page is loaded anew", anew)
    }

    /// Nothing the page itself asks of these addresses gets through; `*` stands for anything.
    pub fn block(&mut self, addresses: &[&str]) -> Result<(), String> {
        self.call("Network.setBlockedURLs", json!({ "urls": addresses })).map(|_| ())
    }

    /// From here on every page that loads puts a new service worker in the place of the old one, as an update does.
    pub fn renew_workers(&mut self) -> Result<(), String> {
        self.call("ServiceWorker.enable", json!({}))?;
        self.call("ServiceWorker.setForceUpdateOnPageLoad", json!({ "forceUpdateOnPageLoad": true }))
            .map(|_| ())
    }

    /// Answers what a person would be asked: whether pages of an origin may have a permission.
    pub fn permit(&mut self, origin: &str, permission: &str, may: bool) -> Result<(), String> {
        let setting = if may { "granted" } else { "denied" };
        let answer = json!({ "permission": { "name": permission }, "setting": setting, "origin": origin });
        self.connection.call(None, "Browser.setPermission", answer).map(|_| ())
    }

    /// The value of an expression in the page; promises are waited for.
    pub fn ask(&mut self, expression: &str) -> Result<Value, String> {
        let question = json!({ "expression": expression, "returnByValue": true, "awaitPromise": true });
        let mut answer = self.call("Runtime.evaluate", question)?;
        if let Some(thrown) = answer.get("exceptionDetails") {
            let what = thrown["exception"]["description"].as_str().or(thrown["text"].as_str());
            return Err(format!("asking the page: {}", what.unwrap_or("an exception")));
        }
        Ok(answer["result"]["value"].take())
    }

    /// Waits until an expression in the page is true. Between two pages there is nothing to ask: that is "not yet".
    pub fn wait_until(&mut self, what: &str, expression: &str) -> Result<(), String> {
        let start = Instant::now();
        let mut last = Ok(Value::Null);
        while start.elapsed() < LOAD_LIMIT {
            last = self.ask(expression);
            if matches!(last, Ok(Value::Bool(true))) {
                return Ok(());
            }
            self.connection.listen()?;
        }
        let why = last.err().map(|why| format!(" ({why})")).unwrap_or_default();
        Err(format!("waited {} s until {what}{why}", LOAD_LIMIT.as_secs()))
    }

    /// Types into the first element of a selector, in place of what it held.
    pub fn type_into(&mut self, selector: &str, text: &str) -> Result<(), String> {
        self.unfold(selector)?;
        let found = self.ask(&format!(
            "(() => {{ const e = document.querySelector({}); if (!e) return false; \
             e.scrollIntoView({{ block: 'center' }}); e.focus(); if (e.select) e.select(); \
             return document.activeElement === e; }})()",
            Value::from(selector)
        ))?;
        if found != Value::Bool(true) {
            return Err(format!("nothing to type into at {selector}"));
        }
        self.call("Input.insertText", json!({ "text": text }))?;
        let now = self.ask(&format!("document.querySelector({}).value", Value::from(selector)))?;
        if now.as_str() == Some(text) {
            Ok(())
        } else {
            Err(format!("typed {text:?} into {selector}, it holds {now}"))
        }
    }

    /// Presses a key of the keyboard.
    pub fn press_key(&mut self, key: Key) -> Result<(), String> {
        let (name, code, number, text) = match key {
            Key::Tab => ("Tab", "Tab", 9, ""),
            Key::Enter => ("Enter", "Enter", 13, "\r"),
            Key::Down => ("ArrowDown", "ArrowDown", 40, ""),
        };
        let event = |kind: &str| json!({ "type": kind, "key": name, "code": code, "windowsVirtualKeyCode": number, "text": text });
        self.call("Input.dispatchKeyEvent", event(if text.is_empty() { "rawKeyDown" } else { "keyDown" }))?;
        self.call("Input.dispatchKeyEvent", json!({ "type": "keyUp", "key": name, "code": code }))?;
        Ok(())
    }

    /// Opens the menu and the folds that an element lies in, as a person would before they can press or type there.
    fn unfold(&mut self, selector: &str) -> Result<(), String> {
        let ask = format!(
            "(() => {{ const one = document.querySelector({}); \
             for (let fold = one?.closest('details'); fold; fold = fold.parentElement.closest('details')) {{ \
             if (!fold.querySelector(':scope > summary').contains(one)) fold.open = true; }} \
             const menu = one?.closest('[popover]:not(:popover-open)'); \
             if (menu) document.querySelector('[popovertarget=' + menu.id + ']').click(); return true; }})()",
            Value::from(selector)
        );
        self.ask(&ask).map(|_| ())
    }

    /// Goes by Tab alone to what a selector names.
    pub fn tab_to(&mut self, selector: &str) -> Result<(), String> {
        self.unfold(selector)?;
        let is_there = format!("!!document.activeElement?.matches({})", Value::from(selector));
        for _ in 0..MOST_TABS {
            self.press_key(Key::Tab)?;
            if self.ask(&is_there)? == Value::Bool(true) {
                return Ok(());
            }
        }
        Err(format!("{MOST_TABS} presses of Tab do not reach {selector}"))
    }

    /// Types into what has the focus.
    pub fn type_here(&mut self, text: &str) -> Result<(), String> {
        self.call("Input.insertText", json!({ "text": text }))?;
        let now = self.ask("document.activeElement?.value ?? null")?;
        if now.as_str() == Some(text) { Ok(()) } else { Err(format!("typed {text:?}, it holds {now}")) }
    }

    /// Chooses one of a group of radio buttons by Tab and arrow keys alone.
    pub fn choose_by_key(&mut self, selector: &str) -> Result<(), String> {
        let group = format!(
            "(() => {{ const one = document.querySelector({}); return one ? '[name=' + CSS.escape(one.name) + ']' : ''; }})()",
            Value::from(selector)
        );
        let group = self.ask(&group)?.as_str().unwrap_or_default().to_owned();
        if group.is_empty() {
            return Err(format!("nothing to choose at {selector}"));
        }
        self.tab_to(&group)?;
        let is_chosen = format!("document.querySelector({}).checked", Value::from(selector));
        for _ in 0..MOST_TABS {
            if self.ask(&is_chosen)? == Value::Bool(true) {
                return Ok(());
            }
            self.press_key(Key::Down)?;
        }
        Err(format!("arrow keys do not choose {selector}"))
    }

    /// Clicks the middle of the first element of a selector; fails if something lies over it.
    pub fn click(&mut self, selector: &str) -> Result<(), String> {
        self.unfold(selector)?;
        let place = self.ask(&format!(
            "(() => {{ const e = document.querySelector({}); if (!e) return null; e.scrollIntoView({{ block: 'center' }}); \
             const b = e.getBoundingClientRect(); const x = b.x + b.width / 2, y = b.y + b.height / 2; \
             const top = document.elementFromPoint(x, y); return {{ x, y, free: e === top || e.contains(top) }}; }})()",
            Value::from(selector)
        ))?;
        if place.is_null() {
            return Err(format!("nothing to click at {selector}"));
        }
        if place["free"] != Value::Bool(true) {
            return Err(format!("something lies over {selector}"));
        }
        for kind in ["mousePressed", "mouseReleased"] {
            self.call(
                "Input.dispatchMouseEvent",
                json!({ "type": kind, "x": place["x"], "y": place["y"], "button": "left", "clickCount": 1 }),
            )?;
        }
        Ok(())
    }

    /// The whole page as PNG bytes.
    pub fn picture(&mut self) -> Result<Vec<u8>, String> {
        let size = self.call("Page.getLayoutMetrics", json!({}))?["cssContentSize"].take();
        let clip = json!({ "x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1 });
        let shot = self.call(
            "Page.captureScreenshot",
            json!({ "format": "png", "captureBeyondViewport": true, "clip": clip }),
        )?;
        STANDARD.decode(text_of(&shot, "data")?).map_err(|error| format!("the picture: {error}"))
    }

    fn call(&mut self, method: &str, params: Value) -> Result<Value, String> {
        self.connection.call(Some(&self.session), method, params)
    }
}

impl Heard {
    fn take(&mut self, event: &Event) {
        let params = &event.params;
        match event.method.as_str() {
            "Network.requestWillBeSent" => {
                self.requests.extend(params["request"]["url"].as_str().map(str::to_string));
            }
            "Network.responseReceived" if params["type"] == "Document" => {
                self.document_status = params["response"]["status"].as_u64();
            }
            "Runtime.consoleAPICalled" => {
                let kind = params["type"].as_str().unwrap_or_default();
                if matches!(kind, "warning" | "error" | "assert") {
                    self.complaints.push(format!("console {kind}: {}", console_text(&params["args"])));
                }
            }
            "Runtime.exceptionThrown" => {
                let details = &params["exceptionDetails"];
                let what = details["exception"]["description"].as_str().or(details["text"].as_str());
                self.complaints.push(format!("exception: {}", what.unwrap_or("unknown")));
            }
            "Log.entryAdded" if params["entry"]["level"] == "error" => {
                let entry = &params["entry"];
                let (text, url) = (entry["text"].as_str(), entry["url"].as_str());
                let text = text.unwrap_or("unknown");
                self.complaints.push(format!("browser error: {text} {}", url.unwrap_or_default()));
            }
            _ => {}
        }
    }
}

fn console_text(arguments: &Value) -> String {
    let said = arguments.as_array().into_iter().flatten().map(|argument| {
        let value = &argument["value"];
        value.as_str().or(argument["description"].as_str()).map_or_else(|| value.to_string(), str::to_string)
    });
    said.collect::<Vec<_>>().join(" ")
}

fn text_of(value: &Value, key: &str) -> Result<String, String> {
    value[key].as_str().map(str::to_string).ok_or_else(|| format!("the browser's answer has no {key}"))
}
