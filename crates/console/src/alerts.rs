//! What somebody must be told of, wherever they are: a tank that will freeze, brine that runs short, what falls due,
//! machines that fell silent, a backup that failed.
//!
//! What stands is worked out anew each time from the same state as the pages; what is remembered is only since when,
//! whether word went out, and who has seen it.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use jiff::{SignedDuration, Timestamp};
use link::post::PostError;
use planner::tank_stock;
use report::plan_words::Teller;
use report::{Display, Language, Words};
use store::StoreError;
use store::people::AlertRow;
use yard::site::Alerts;

use crate::pages::parts;
use crate::state::App;

/// How often it is looked whether anybody must be told.
const LOOK_EVERY: Duration = Duration::from_secs(60);

/// The first look after the start.
const FIRST_LOOK: Duration = Duration::from_secs(120);

/// Something that somebody must be told of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Alert {
    /// What it is of: its kind, a colon, and which.
    pub(crate) key: String,
    /// In words.
    pub(crate) text: String,
    /// Where it is looked at.
    pub(crate) path: &'static str,
}

impl Alert {
    fn kind(&self) -> &str {
        self.key.split(':').next().unwrap_or_default()
    }
}

/// How word goes out, and what became of it.
#[derive(Default)]
pub(crate) struct Outbox {
    folder: PathBuf,
    failed: Mutex<Option<String>>,
}

impl Outbox {
    /// With the folder that names in the yard file start from.
    pub(crate) fn new(folder: PathBuf) -> Self {
        Self { folder, ..Self::default() }
    }

    /// Why the last word did not get through.
    pub(crate) fn failed(&self) -> Option<String> {
        self.failed.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn note(&self, failed: Option<String>) {
        *self.failed.lock().unwrap_or_else(PoisonError::into_inner) = failed;
    }
}

/// What stands now.
///
/// # Errors
/// When the ledger cannot be read.
pub(crate) fn standing(app: &App, words: &Words, display: &Display) -> Result<Vec<Alert>, StoreError> {
    let books = app.books()?;
    let now = app.clock.now();
    let teller = Teller { words, display, yard: &app.yard };
    let mut found = Vec::new();
    let plan = app.forecast(None).and_then(|forecast| app.plan(&forecast, &books).ok());
    let coldest = plan.as_ref().and_then(|plan| parts::air_ahead(&plan.hours)).map(|[low, _]| low);
    for stock in tank_stock(&app.yard, &books).iter().filter(|stock| stock.freezes_in(coldest)) {
        if let (Some(first), Some(coldest)) = (stock.freezes_at(), coldest) {
            let values = [("first", display.temperature(first)), ("coldest", display.temperature(coldest))];
            let what = words.fill_with("alerts.freeze-what", &values);
            let text = words.fill("alerts.freeze", &[("tank", &stock.tank), ("what", &what)]);
            found.push(Alert { key: format!("freeze:{}", stock.tank), text, path: "/tanks" });
        }
    }
    for (place, shortage) in plan.iter().flat_map(|plan| plan.shortages.iter().enumerate()) {
        found.push(Alert { key: format!("cover:{place}"), text: teller.shortage(shortage), path: "/storm" });
    }
    for one in yard::due::due(&app.yard, &books, now) {
        if one.pressing == yard::due::Pressing::Due {
            let text =
                words.fill("alerts.due", &[("what", report::chores::task(words.language(), &one.chore))]);
            found.push(Alert { key: format!("due:{}", one.chore.id), text, path: "/due" });
        }
    }
    for due in books.bench.due(&app.yard, now) {
        let text = words.fill("alerts.due", &[("what", &teller.due(&due))]);
        found.push(Alert { key: format!("due:{}", due.key), text, path: "/bench/instruments" });
    }
    found.extend(silent(app, words));
    found.extend(app.backup.as_ref().and_then(|backup| {
        let text = backup.trouble(&app.yard.alerts, now, words, display)?;
        Some(Alert { key: "backup:ledger".into(), text, path: "/alerts" })
    }));
    Ok(found)
}

fn silent(app: &App, words: &Words) -> Vec<Alert> {
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
            found.push(Alert { key: format!("telemetry:{}", machine.id), text, path: "/live" });
        }
    }
    if let Some(trouble) = following.trouble() {
        let text = words.fill("alerts.not-kept", &[("what", &trouble)]);
        found.push(Alert { key: "telemetry:kept".into(), text, path: "/live" });
    }
    found
}

/// Whether an alert is told now: not yet told, or told long ago and seen by nobody; in quiet hours only what wakes.
fn is_due(alert: &Alert, row: &AlertRow, way: &Alerts, hour: i8, now: Timestamp) -> bool {
    let again =
        SignedDuration::from_secs(chemistry::quantity::in_hours(way.again).mul_add(3600.0, 0.0) as i64);
    let is_new = match (row.told_at, row.seen_at) {
        (None, None) => true,
        (Some(told), None) => now.duration_since(told) >= again,
        (_, Some(_)) => false,
    };
    let is_quiet = way.quiet.is_some_and(|(from, to)| {
        if from <= to { (from..to).contains(&hour) } else { hour >= from || hour < to }
    });
    is_new && (!is_quiet || way.wake.iter().any(|kind| kind == alert.kind()))
}

/// Looks once: what rose is remembered, what must be told is sent, in English. The answer is how many were told.
///
/// # Errors
/// When state cannot be read or written; what could not be sent is tried again, and said on the page.
pub fn look(app: &App) -> Result<usize, StoreError> {
    let Some(people) = &app.people else { return Ok(0) };
    let words = Words::of(Language::En);
    let display = Display::new(app.yard.units, app.zone.clone());
    let standing = standing(app, &words, &display)?;
    let now = app.clock.now();
    let keys: Vec<String> = standing.iter().map(|alert| alert.key.clone()).collect();
    people.file().keep_alerts(&keys, now)?;
    let rows = people.file().alerts()?;
    let way = &app.yard.alerts;
    let hour = now.to_zoned_datetime(app.zone.clone()).hour();
    let due: Vec<&Alert> = standing
        .iter()
        .filter(|alert| rows.iter().any(|row| row.key == alert.key && is_due(alert, row, way, hour, now)))
        .collect();
    let Some(first) = due.first() else { return Ok(0) };
    if way.mail.is_none() && way.webhook.is_none() {
        return Ok(0);
    }
    let what = match due.len() {
        1 => first.text.clone(),
        count => words.fill("alerts.more", &[("what", &first.text), ("count", &(count - 1).to_string())]),
    };
    let subject = words.fill("alerts.subject", &[("yard", &app.yard.name), ("what", &what)]);
    let text: String = due.iter().map(|alert| format!("{}\n", alert.text)).collect();
    let sent = send(app, &subject, &text, &due, now);
    app.outbox.note(sent.as_ref().err().map(ToString::to_string));
    if sent.is_ok() {
        let keys: Vec<String> = due.iter().map(|alert| alert.key.clone()).collect();
        people.file().alerts_told(&keys, now)?;
        return Ok(due.len());
    }
    Ok(0)
}

fn send(app: &App, subject: &str, text: &str, due: &[&Alert], now: Timestamp) -> Result<(), PostError> {
    if let Some(mail) = &app.yard.alerts.mail {
        link::post::mail(mail, &app.outbox.folder, subject, text)?;
    }
    if let Some(address) = &app.yard.alerts.webhook {
        let alerts: Vec<serde_json::Value> = due
            .iter()
            .map(|alert| serde_json::json!({ "key": alert.key, "kind": alert.kind(), "text": alert.text }))
            .collect();
        let document = serde_json::json!({
            "yard": app.yard.name, "at": now.to_string(), "subject": subject, "alerts": alerts,
        });
        link::post::hook(address, &document)?;
    }
    Ok(())
}

/// Looks every minute until it is dropped.
pub(crate) async fn keep_looking(app: Arc<App>) {
    // Machines that are just being asked for the first time are not silent.
    let begin = tokio::time::Instant::now() + FIRST_LOOK;
    let mut ticks = tokio::time::interval_at(begin, LOOK_EVERY);
    ticks.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        ticks.tick().await;
        let app = Arc::clone(&app);
        // A ledger that cannot be read says so on every page; there is nobody else to tell.
        let _ = tokio::task::spawn_blocking(move || {
            if let Some(backup) = &app.backup {
                backup.run_when_due(app.clock.now());
            }
            look(&app)
        })
        .await;
    }
}
