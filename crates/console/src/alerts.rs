//! Alerts, sent to people wherever they are: a tank that will freeze, brine that runs short, what falls due, equipment
//! that is silent, a backup that failed.
//!
//! Active alerts are worked out anew each time from the same state as the pages. Only when each began, whether it was
//! sent, and who acknowledged it are saved.

use std::sync::Arc;
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use link::post::PostError;
use message::{Message, Tell};
use planner::roads::{ACTED_ON, CallKind};
use planner::{Shortage, tank_stock};
use quantity::{in_celsius, in_cubic_metres, in_kilograms};
use report::Teller;
use report::{Display, Language, Words};
use site::Alerts;
use store::StoreError;
use store::people::{AlertRow, Standing};

use crate::state::App;

/// Time between two checks for alerts to send.
const CHECK_EVERY: Duration = Duration::from_secs(60);

/// Time from the start of the console to the first check.
const FIRST_CHECK: Duration = Duration::from_secs(120);

/// An alert that clears for less than this goes on: a value that swings about its limit is one alert. Our own figure.
const HOLD_OFF: SignedDuration = SignedDuration::from_mins(30);
/// A forecast that was issued longer ago, or ends sooner, is stale, hours: open services issue several a day. Our own
/// figure.
const STALE_HOURS: i64 = 12;

/// Worse by so much than when it was seen, an alert returns: kelvins of freeze margin; what runs short, as a share
/// more; hours that a forecast is old. Our own figures.
const COLDER_K: f64 = 2.0;
const SHORTER: f64 = 0.25;
const OLDER_HOURS: f64 = 12.0;

/// An alert that is active now.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Alert {
    /// Kind and subject, such as `freeze:2`. The subject is an id, never a place in a list.
    pub(crate) key: String,
    /// How bad it is (more is worse), and the rise that makes it count as new after it was acknowledged.
    pub(crate) grade: (f64, f64),
    /// The sentence, in the language and units of the reader.
    pub(crate) text: String,
    /// Path of the page that shows more.
    pub(crate) path: &'static str,
}

/// Grade of an alert that is either active or not, with no degrees.
const PLAIN: (f64, f64) = (0.0, 1.0);

impl Alert {
    fn standing(&self) -> Standing {
        Standing { key: self.key.clone(), grade: self.grade.0, step: self.grade.1 }
    }

    fn kind(&self) -> &str {
        self.key.split(':').next().unwrap_or_default()
    }
}

/// Alerts that are active now, in one reader's language and units.
///
/// # Errors
/// When the ledger cannot be read.
pub(crate) fn standing(app: &App, words: &Words, display: &Display) -> Result<Vec<Alert>, StoreError> {
    // A ledger that cannot be read, or takes no more entries, is what matters; whatever needs it is not known then.
    let books = app.books();
    let mut found: Vec<Alert> =
        app.damage().into_iter().map(|what| ledger((words, display), &what)).collect();
    let books = match books {
        Ok(books) => books,
        Err(error) if found.is_empty() => {
            found.push(ledger((words, display), &error.message()));
            return Ok(found);
        }
        Err(_) => return Ok(found),
    };
    let now = app.clock.now();
    let teller = Teller { words, display, yard: &app.yard };
    found.extend(forecasts(app, words, display, &books));
    let plan = app.forecast(None).and_then(|forecast| app.plan(&forecast, &books).ok());
    // Where no plan can be made, the air alone says how cold it gets.
    let coldest = app.air_ahead(plan.as_deref()).map(|[low, _]| low);
    for stock in tank_stock(&app.yard, &books).iter().filter(|stock| stock.freezes_in(coldest)) {
        if let (Some(first), Some(coldest)) = (stock.freezes_at(), coldest) {
            let values = [("first", display.temperature(first)), ("coldest", display.temperature(coldest))];
            let what = words.fill_with("alerts.freeze-what", &values);
            let text = words.fill("alerts.freeze", &[("tank", &stock.tank), ("what", &what)]);
            let below = in_celsius(first) - in_celsius(coldest);
            let grade = (below, COLDER_K);
            found.push(Alert { key: format!("freeze:{}", stock.tank), grade, text, path: "/tanks" });
        }
    }
    for shortage in plan.iter().flat_map(|plan| &plan.shortages) {
        let (of, short) = match shortage {
            Shortage::Brine { by, .. } => ("brine", in_cubic_metres(*by)),
            Shortage::OtherLiquid { by } => ("other-liquid", in_cubic_metres(*by)),
            Shortage::RockSalt { by } => ("rock-salt", in_kilograms(*by)),
        };
        let grade = (short.max(1e-9).ln(), SHORTER.ln_1p());
        found.push(Alert {
            key: format!("cover:{of}"),
            grade,
            text: teller.shortage(shortage),
            path: "/storm",
        });
    }
    found.extend(plan.iter().flat_map(|plan| calls(app, plan, &teller, now)));
    for one in yard::due::due(&app.yard, &books, now) {
        if one.pressing == yard::due::Pressing::Due {
            let text =
                words.fill("alerts.due", &[("what", report::chores::task(words.language(), &one.chore))]);
            found.push(Alert { key: format!("due:{}", one.chore.id), grade: PLAIN, text, path: "/due" });
        }
    }
    for due in books.bench.due(&app.yard, now) {
        let text = words.fill("alerts.due", &[("what", &teller.due(&due))]);
        let key = format!("due:{}", due.key);
        found.push(Alert { key, grade: PLAIN, text, path: "/bench/instruments" });
    }
    found.extend(silent(app, words, display));
    found.extend(app.backup.as_ref().and_then(|backup| {
        let text = backup.trouble(&app.yard.alerts, now, words, display)?;
        Some(Alert { key: "backup:ledger".into(), grade: PLAIN, text, path: "/alerts" })
    }));
    Ok(found)
}

/// Hours ahead of which a call-out is an alert.
const CALLED_HOURS: i64 = 12;

/// The first call-out of each kind that begins soon, and those that a newer forecast took back.
fn calls(app: &App, plan: &planner::Plan, teller: &Teller<'_>, now: Timestamp) -> Vec<Alert> {
    let soon = now + SignedDuration::from_hours(CALLED_HOURS);
    let mut found: Vec<Alert> = Vec::new();
    for call in &plan.roads.callouts {
        let key = format!("call:{}", report::road_document::call_code(call.kind));
        // While a crew is out, the rest follows by itself.
        let begins = !matches!(call.kind, CallKind::Repeat | CallKind::CleanUp | CallKind::NoAction);
        let is_soon = call.span[0] < soon && call.span[1] > now && call.chance >= ACTED_ON;
        if begins && is_soon && !found.iter().any(|alert| alert.key == key) {
            let (text, grade) = (teller.call_line(call), (call.chance, 0.25));
            found.push(Alert { key, grade, text, path: "/roads" });
        }
    }
    let forecast = app.forecast(None).map(|forecast| forecast.key).unwrap_or_default();
    found.extend(app.road_memory.taken_back(&forecast).iter().map(|call| Alert {
        key: format!("call:taken-back-{}", report::road_document::call_code(call.kind)),
        grade: PLAIN,
        text: teller.taken_back(call),
        path: "/roads",
    }));
    found
}

fn ledger((words, display): (&Words, &Display), what: &Message) -> Alert {
    let text = words.fill("alerts.ledger", &[("what", &display.tell(what))]);
    Alert { key: "ledger:damaged".into(), grade: PLAIN, text, path: "/ledger" }
}

/// Forecasts that are not there, cannot be planned on, or are old: without one, nothing else here can be trusted.
fn forecasts(app: &App, words: &Words, display: &Display, books: &yard::stock::Books) -> Vec<Alert> {
    let all = app.forecasts();
    let now = app.clock.now();
    let alert = |what: &str, hours: f64, text: String| Alert {
        key: format!("forecast:{what}"),
        grade: (hours, OLDER_HOURS),
        text,
        path: "/storm",
    };
    if all.is_empty() {
        return vec![alert("missing", 0.0, words.say("alerts.forecast-missing").to_owned())];
    }
    let mut found = Vec::new();
    for forecast in &all {
        if let Some(trouble) = &forecast.trouble {
            let values = [("label", forecast.label.clone()), ("what", display.tell(trouble))];
            let text = words.fill_with("alerts.forecast-unread", &values);
            found.push(alert(&format!("unread:{}", forecast.key), 0.0, text));
        }
        // A replay stands still: it is neither old nor new.
        let age = forecast.weather.issued.map(|issued| (issued, now.duration_since(issued).as_hours()));
        let old = age.filter(|(_, hours)| STALE_HOURS <= *hours && forecast.source.is_some());
        if let Some((issued, hours)) = old {
            let values = [("label", forecast.label.clone()), ("at", display.time(issued))];
            let text = words.fill_with("alerts.forecast-old", &values);
            found.push(alert(&format!("old:{}", forecast.key), hours as f64, text));
        }
        let ends = forecast.weather.latest.filter(|latest| {
            forecast.source.is_some() && latest.duration_since(now).as_hours() < STALE_HOURS
        });
        if let (Some(ends), None) = (ends, old) {
            let values = [("label", forecast.label.clone()), ("at", display.time(ends))];
            found.push(alert(
                &format!("ends:{}", forecast.key),
                0.0,
                words.fill_with("alerts.forecast-ends", &values),
            ));
        }
    }
    if let Some(first) = all.first()
        && let Err(error) = app.plan(first, books)
    {
        let values = [("label", first.label.clone()), ("what", display.tell(&error.message()))];
        let text = words.fill_with("alerts.forecast-unplanned", &values);
        found.push(alert(&format!("unplanned:{}", first.key), 0.0, text));
    }
    found
}

fn silent(app: &App, words: &Words, display: &Display) -> Vec<Alert> {
    let Some(following) = &app.following else { return Vec::new() };
    let live = &following.live;
    let mut found = Vec::new();
    for (place, machine) in live.machines().iter().enumerate() {
        let points = live.points().iter().enumerate().filter(|(_, point)| point.machine == place);
        let stale = points.filter(|(at, _)| {
            live.shown(*at)
                .is_some_and(|shown| matches!(shown.quality, link::Quality::Stale | link::Quality::Never))
        });
        let count = stale.count();
        if count > 0 {
            let values = [("machine", machine.name.clone()), ("points", count.to_string())];
            let text = words.fill_with("alerts.telemetry", &values);
            let grade = (count as f64, 1.0);
            found.push(Alert { key: format!("telemetry:{}", machine.id), grade, text, path: "/live" });
        }
    }
    if let Some(trouble) = following.trouble() {
        let text = words.fill("alerts.not-kept", &[("what", &display.tell(&trouble))]);
        found.push(Alert { key: "telemetry:kept".into(), grade: PLAIN, text, path: "/live" });
    }
    found
}

/// Whether an alert is sent now: not yet sent, or sent long ago and not acknowledged; in quiet hours only those that
/// may wake someone.
fn is_due(alert: &Alert, row: &AlertRow, by: &str, way: &Alerts, hour: i8, now: Timestamp) -> bool {
    let again = SignedDuration::from_secs(quantity::in_hours(way.again).mul_add(3600.0, 0.0) as i64);
    let is_new = match (row.told_by(by), row.seen_at) {
        (None, None) => true,
        (Some(told), None) => now.duration_since(told) >= again,
        (_, Some(_)) => false,
    };
    let is_quiet = way.quiet.is_some_and(|(from, to)| {
        if from <= to { (from..to).contains(&hour) } else { hour >= from || hour < to }
    });
    is_new && (!is_quiet || way.wake.iter().any(|kind| kind == alert.kind()))
}

/// Saves the active alerts.
///
/// # Errors
/// When it cannot be written.
pub(crate) fn keep(
    people: &crate::people::People,
    standing: &[Alert],
    now: Timestamp,
) -> Result<(), StoreError> {
    let all: Vec<Standing> = standing.iter().map(Alert::standing).collect();
    people.file().keep_alerts(&all, HOLD_OFF, now)
}

/// Checks once: saves the active alerts and sends those that are due, in English. Returns how many were sent.
///
/// # Errors
/// When state cannot be read or written; what could not be sent is tried again, and said on the page.
pub fn check(app: &App) -> Result<usize, StoreError> {
    let Some(people) = &app.people else { return Ok(0) };
    let words = Words::of(Language::En);
    let display = Display::new(app.yard.units, app.zone.clone());
    let standing = standing(app, &words, &display)?;
    let now = app.clock.now();
    keep(people, &standing, now)?;
    let rows = people.file().alerts()?;
    let way = &app.yard.alerts;
    let hour = now.to_zoned_datetime(app.zone.clone()).hour();
    let (mut told, mut failed) = (0, Vec::new());
    for by in Way::ALL.into_iter().filter(|by| by.is_set(way)) {
        let is_now = |alert: &&Alert| {
            rows.iter().any(|row| row.key == alert.key && is_due(alert, row, by.name(), way, hour, now))
        };
        let due: Vec<&Alert> = standing.iter().filter(is_now).collect();
        if due.is_empty() {
            continue;
        }
        match send(app, by, &due, now) {
            Ok(()) => {
                let keys: Vec<String> = due.iter().map(|alert| alert.key.clone()).collect();
                people.file().alerts_told(&keys, by.name(), now)?;
                told = told.max(due.len());
            }
            Err(error) => failed.push(error.message()),
        }
        app.outbox.note(failed.clone());
    }
    Ok(told)
}

/// One way of sending alerts. One that fails is tried again by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Mail,
    Webhook,
}

impl Way {
    const ALL: [Way; 2] = [Way::Mail, Way::Webhook];

    fn name(self) -> &'static str {
        match self {
            Way::Mail => "mail",
            Way::Webhook => "webhook",
        }
    }

    fn is_set(self, alerts: &Alerts) -> bool {
        match self {
            Way::Mail => alerts.mail.is_some(),
            Way::Webhook => alerts.webhook.is_some(),
        }
    }
}

fn send(app: &App, by: Way, due: &[&Alert], now: Timestamp) -> Result<(), PostError> {
    let words = Words::of(Language::En);
    let Some(first) = due.first() else { return Ok(()) };
    let what = match due.len() {
        1 => first.text.clone(),
        count => words.fill("alerts.more", &[("what", &first.text), ("count", &(count - 1).to_string())]),
    };
    let subject = words.fill("alerts.subject", &[("yard", &app.yard.name), ("what", &what)]);
    let way = &app.yard.alerts;
    match by {
        Way::Mail => {
            let Some(mail) = &way.mail else { return Ok(()) };
            let mut text: String = due.iter().map(|alert| format!("{}\n", alert.text)).collect();
            // Kept in a mailbox, the ledger's end shows later that nothing was cut off.
            if let Ok(head) = app.ledger.head() {
                let values = [("seq", head.seq.to_string()), ("hash", head.hash.to_string())];
                text.push_str(&format!("\n{}\n", words.fill_with("page.end", &values)));
            }
            link::post::mail(mail, &app.outbox.folder, &subject, &text)
        }
        Way::Webhook => {
            let Some(address) = &way.webhook else { return Ok(()) };
            let alerts: Vec<serde_json::Value> = due
                .iter()
                .map(
                    |alert| serde_json::json!({ "key": alert.key, "kind": alert.kind(), "text": alert.text }),
                )
                .collect();
            let document = serde_json::json!({
                "yard": app.yard.name, "at": now.to_string(), "subject": subject, "alerts": alerts,
            });
            link::post::hook(address, &document)
        }
    }
}

/// Mails the ledger's end every night; what could not be sent is shown on the page.
fn mail_end(app: &App) {
    let (Some(mail), Ok(head)) = (&app.yard.alerts.mail, app.ledger.head()) else { return };
    let words = Words::of(Language::En);
    let values = [("seq", head.seq.to_string()), ("hash", head.hash.to_string())];
    let end = words.fill_with("page.end", &values);
    let subject = words.fill("alerts.subject", &[("yard", &app.yard.name), ("what", &end)]);
    if let Err(error) = link::post::mail(mail, &app.outbox.folder, &subject, &format!("{end}\n")) {
        app.outbox.note(vec![error.message()]);
    }
}

/// Checks every minute until it is dropped.
pub(crate) async fn check_every_minute(app: Arc<App>) {
    // Machines that are just being asked for the first time are not silent.
    let begin = tokio::time::Instant::now() + FIRST_CHECK;
    let mut ticks = tokio::time::interval_at(begin, CHECK_EVERY);
    ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        ticks.tick().await;
        let app = Arc::clone(&app);
        // A ledger that cannot be read says so on every page; there is nobody else to tell.
        let _ = tokio::task::spawn_blocking(move || {
            let telemetry = app.following.as_ref().map(crate::following::Following::telemetry);
            let now = app.clock.now();
            let made = app.backup.as_ref().is_some_and(|backup| backup.run_when_due(telemetry, now));
            if made {
                mail_end(&app);
            }
            // What cannot be remembered now is remembered a minute later.
            let _ = app.remember_end();
            app.let_go();
            check(&app)
        })
        .await;
    }
}
