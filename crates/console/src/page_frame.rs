//! What stands around every page: head, navigation, notices; and the reader it is made for.

use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::FromRequestParts;
use axum::http::header;
use axum::http::request::Parts;
use jiff::Timestamp;
use message::{Message, Tell};
use plant::procedure::Procedure;
use report::Teller;
use report::{Display, Language, Words};
use site::UnitSystem;

use crate::access::{Act, Caller, Kept, authorise};
use crate::field_messages::Wrong;
use crate::languages;
use crate::page_alarms::{Alarm, alarms};
use crate::page_menu::{BarLink, MenuGroup, bar, menu};
pub(crate) use crate::page_menu::{Link, Place};
use crate::people::{OnShift, Who};
use crate::refusals::Refusals;
use crate::signing;
use crate::state::App;

/// Who looks, how they read, and what the app knows.
pub(crate) struct Visitor {
    pub(crate) app: Arc<App>,
    pub(crate) caller: Caller,
    pub(crate) display: Display,
    pub(crate) words: Words,
    /// Whether large number keys are shown on a screen that is touched.
    pub(crate) has_pad: bool,
    /// What was asked after the question mark, with it; empty for nothing.
    pub(crate) search: String,
    /// The name this device last entered under, while nobody is enrolled.
    pub(crate) name: String,
    /// Who signed at this shared device and need not again.
    pub(crate) on_shift: Option<OnShift>,
    /// Fields that were refused while this request was answered: their page marks them.
    wrong: Mutex<Vec<Wrong>>,
    /// Where refusals are noted as data, for whoever sent the form on a person's behalf.
    refusals: Option<Refusals>,
}

impl Visitor {
    /// Remembers that a field was refused, or asked about.
    pub(crate) fn note_wrong(&self, wrong: Wrong) {
        self.wrong.lock().unwrap_or_else(PoisonError::into_inner).push(wrong);
    }

    /// The sentence of a refusal, which is noted.
    pub(crate) fn refuse(&self, refusal: Message) -> String {
        let sentence = self.display.tell(&refusal);
        self.note_refusal(&sentence, refusal);
        sentence
    }

    /// Notes of which refusal a sentence is.
    pub(crate) fn note_refusal(&self, sentence: &str, refusal: Message) {
        if let Some(refusals) = &self.refusals {
            refusals.note(sentence, refusal);
        }
    }

    /// Fields that were refused.
    pub(crate) fn wrong(&self) -> Vec<Wrong> {
        self.wrong.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// A number that stands in the address under a name.
    pub(crate) fn asked_number(&self, name: &str) -> Option<u64> {
        let pairs = self.search.trim_start_matches('?').split('&').filter_map(|pair| pair.split_once('='));
        pairs.filter(|(known, _)| *known == name).find_map(|(_, value)| value.parse().ok())
    }

    /// Whether the visitor may do an act, besides the one of the route.
    pub(crate) fn may(&self, act: Act) -> bool {
        authorise(self.caller.role, act).is_ok()
    }

    /// The one who asks by these parts of a request.
    pub(crate) fn of(parts: &Parts, app: &Arc<App>) -> Self {
        let caller = Caller::of(parts, app);
        let units = Kept::Units
            .read(app, &parts.headers)
            .and_then(|value| match value {
                "us" => Some(UnitSystem::Us),
                "si" => Some(UnitSystem::Si),
                _ => None,
            })
            .unwrap_or(app.yard.units);
        let wished = parts.headers.get(header::ACCEPT_LANGUAGE).and_then(|value| value.to_str().ok());
        let language = Kept::Language
            .read(app, &parts.headers)
            .and_then(Language::tagged)
            .or_else(|| wished.and_then(Language::wished))
            .unwrap_or_default();
        let words = Words::of(language);
        let half_days = match Kept::Clock.read(app, &parts.headers) {
            Some("12") => Some(true),
            Some("24") => Some(false),
            _ => None,
        };
        let on_shift = match &caller.who {
            Who::Device(device) => signing::on_shift(app, device, &parts.headers),
            Who::Nobody | Who::Person(_) => None,
        };
        Self {
            app: Arc::clone(app),
            caller,
            display: Display { half_days, ..Display::new(units, app.zone.clone()).in_words(words) },
            has_pad: Kept::Keys.read(app, &parts.headers) != Some("own"),
            words,
            search: parts.uri.query().map_or_else(String::new, |query| format!("?{query}")),
            name: signing::kept_name(app, &parts.headers),
            on_shift,
            wrong: Mutex::default(),
            refusals: parts.extensions.get::<Refusals>().cloned(),
        }
    }

    /// When the act is done that this request brings: now, or earlier on a device without network.
    pub(crate) fn now(&self) -> Timestamp {
        self.caller.signed.as_ref().and_then(|signed| signed.at).unwrap_or_else(|| self.app.clock.now())
    }

    /// Whether what the visitor enters is recorded: by their own right, or signed.
    fn may_enter(&self) -> bool {
        authorise(self.caller.role, Act::Record).is_ok() || matches!(self.caller.who, Who::Device(_))
    }

    /// The procedure of a title as the visitor reads it.
    pub(crate) fn procedure(&self, title: &str) -> Option<&Procedure> {
        self.app.procedure(title).map(|asked| languages::procedure(self.words.language(), asked))
    }

    pub(crate) fn teller(&self) -> Teller<'_> {
        Teller { words: &self.words, display: &self.display, yard: &self.app.yard }
    }

    pub(crate) fn is_us(&self) -> bool {
        self.display.units == UnitSystem::Us
    }
}

impl FromRequestParts<Arc<App>> for Visitor {
    type Rejection = std::convert::Infallible;

    async fn from_request_parts(parts: &mut Parts, app: &Arc<App>) -> Result<Self, Self::Rejection> {
        Ok(Self::of(parts, app))
    }
}

/// Everything around a page's own content.
pub(crate) struct PageFrame {
    pub(crate) lang: &'static str,
    pub(crate) title: String,
    pub(crate) yard: String,
    pub(crate) now: String,
    /// What is opened most, then everything else.
    pub(crate) bar: Vec<BarLink>,
    pub(crate) menu: Vec<MenuGroup>,
    /// What is wrong now; the page *Today* tells it in full.
    pub(crate) alarms: Vec<Alarm>,
    is_today: bool,
    pub(crate) css: String,
    pub(crate) script: String,
    pub(crate) queue_script: String,
    pub(crate) zone: String,
    /// Number keys of this device: `big` ones of ours, or its `own`.
    pub(crate) keys: &'static str,
    pub(crate) icon: String,
    pub(crate) units_url: String,
    pub(crate) other_units: &'static str,
    pub(crate) other_units_label: String,
    /// Other languages: tag and own name.
    pub(crate) languages: Vec<(&'static str, &'static str)>,
    pub(crate) language_url: String,
    pub(crate) here: String,
    /// What this device keeps, and how many entries wait for a supervisor.
    pub(crate) offline_url: String,
    pub(crate) waiting: Option<(String, String)>,
    /// For the script: where the worker is, and when this page was made.
    pub(crate) worker_url: String,
    pub(crate) clock_url: String,
    pub(crate) manifest_url: String,
    pub(crate) made_ms: i64,
    /// For what question it was made: one that shows it for another knows by this.
    pub(crate) search: String,
    /// The practice plant's pages, not the yard's.
    pub(crate) is_practice: bool,
    /// Back to the run that goes on.
    pub(crate) run: Option<Link>,
    /// Shown above everything: the ledger is damaged, this is the demo.
    pub(crate) banners: Vec<String>,
    /// What the last act did.
    pub(crate) saved: Option<String>,
    /// What of it can be taken back here and now.
    pub(crate) undo: Option<Undo>,
    pub(crate) void_url: String,
    /// The name that this device last entered under.
    pub(crate) name: String,
    /// Where somebody else signs at a shared device.
    pub(crate) over_url: String,
    /// The visitor may make entries.
    pub(crate) may_enter: bool,
    /// How an entry is signed.
    pub(crate) sign: signing::Ask,
    /// The ledger's last row and hash, for what is printed.
    pub(crate) ledger_end: String,
    /// Who came in with a password.
    pub(crate) signed_in: Option<String>,
    pub(crate) sign_out_url: String,
    pub(crate) password_url: String,
    /// Where to come in with a password, at a shared device.
    pub(crate) sign_in_url: Option<String>,
}

impl PageFrame {
    /// The first alarm, on pages that tell them in one line.
    pub(crate) fn alarm_line(&self) -> Option<&Alarm> {
        self.alarms.first().filter(|_| !self.is_today)
    }

    /// Whether an act asks for nobody's name or PIN.
    pub(crate) fn is_quick(&self) -> bool {
        match &self.sign {
            signing::Ask::Known(_) | signing::Ask::Shift(..) => true,
            signing::Ask::Name => !self.name.is_empty(),
            signing::Ask::Pin(_) => false,
        }
    }

    /// Around a page with a title, at a path.
    pub(crate) fn new(visitor: &Visitor, place: Place, title: &str, path: &str) -> Self {
        let (app, words) = (&visitor.app, &visitor.words);
        let mut banners = Vec::new();
        if let Some(first) = app.ahead().first() {
            let values = [("row", first.to_string()), ("count", app.ahead().len().to_string())];
            banners.push(words.fill_with("banner.ahead", &values));
        }
        let troubles = app.forecasts().into_iter().filter_map(|forecast| forecast.trouble);
        banners.extend(troubles.map(|trouble| visitor.display.tell(&trouble)));
        if let Some(plant) = &app.plant {
            banners.push(words.fill("banner.practice", &[("who", &plant.who)]));
        }
        if app.is_demo {
            banners.push(words.say("banner.demo").to_string());
        }
        if !visitor.may_enter() && !matches!(place, Place::Door) {
            banners.push(words.say("banner.viewer").to_string());
        }
        let trainer_url = match (&app.trainer, &app.plant) {
            (Some(_), _) => Some(app.url("/trainer")),
            // Back from the practice plant to the yard's own console.
            (None, Some(_)) => app.base_path.strip_suffix("/practice").map(|base| format!("{base}/trainer")),
            (None, None) => None,
        };
        let other = if visitor.is_us() { "si" } else { "us" };
        Self {
            lang: words.language().tag(),
            title: title.to_string(),
            yard: app.yard.name.clone(),
            now: visitor.display.time(app.clock.now()),
            is_practice: app.plant.is_some(),
            bar: bar(app, words, place),
            menu: menu(app, words, place, (visitor.may(Act::Manage), trainer_url)),
            alarms: alarms(app, &visitor.teller(), place),
            is_today: place == Place::Today,
            css: app.url(&crate::statics::path("console.css")),
            script: app.url(&crate::statics::path("console.js")),
            queue_script: app.url(&crate::statics::path("queue.js")),
            keys: if visitor.has_pad { "big" } else { "own" },
            zone: app.yard.time_zone.clone(),
            icon: app.url(&crate::statics::path("mark.svg")),
            units_url: app.url("/units"),
            other_units: other,
            other_units_label: words
                .say(if other == "si" { "units.to-si" } else { "units.to-us" })
                .to_string(),
            languages: Language::ALL
                .iter()
                .filter(|language| **language != words.language())
                .map(|language| (language.tag(), language.name()))
                .collect(),
            language_url: app.url("/language"),
            here: path.to_string(),
            offline_url: app.url("/offline"),
            waiting: waiting(visitor),
            worker_url: app.url("/worker.js"),
            clock_url: app.url("/offline/clock"),
            manifest_url: app.url("/manifest.webmanifest"),
            search: visitor.search.clone(),
            made_ms: app.clock.now().as_millisecond(),
            run: run_that_goes_on(visitor, place),
            banners,
            saved: None,
            undo: undo(visitor),
            void_url: app.url("/ledger/void"),
            name: visitor.name.clone(),
            over_url: app.url("/sign-over"),
            may_enter: visitor.may_enter(),
            sign: signing::ask(visitor, None),
            ledger_end: app.ledger.head().map_or_else(
                |error| visitor.display.tell(&error.message()),
                |head| {
                    words
                        .fill("page.end", &[("seq", &head.seq.to_string()), ("hash", &head.hash.to_string())])
                },
            ),
            signed_in: match &visitor.caller.who {
                Who::Person(person) => Some(person.name.clone()),
                Who::Device(_) | Who::Nobody => None,
            },
            sign_out_url: app.url("/sign-out"),
            password_url: app.url("/password"),
            sign_in_url: matches!(visitor.caller.who, Who::Device(_)).then(|| app.url("/sign-in")),
        }
    }
}

/// The entry that was just made, where it can be taken back.
pub(crate) struct Undo {
    pub(crate) event: String,
    pub(crate) entry_id: String,
    pub(crate) row: u64,
}

/// Rows after an entry that may follow it, and it still counts as just made.
const JUST_MADE_ROWS: u64 = 20;

/// The entry that the address says was saved.
fn undo(visitor: &Visitor) -> Option<Undo> {
    let row = visitor.asked_number("saved").filter(|row| *row > 0 && visitor.may_enter())?;
    let head = visitor.app.ledger.head().ok()?.seq;
    if head.saturating_sub(row) > JUST_MADE_ROWS {
        return None;
    }
    let events = visitor.app.ledger.events_after(row - 1).ok()?;
    let first = events.first().filter(|recorded| recorded.seq == row)?;
    let is_void = first.event.body.voids().is_some();
    let is_voided = events.iter().any(|recorded| recorded.event.body.voids() == Some(first.event.id));
    let entry_id = uuid::Uuid::now_v7().to_string();
    (!is_void && !is_voided).then(|| Undo { event: first.event.id.to_string(), entry_id, row })
}

/// The way back to a run that goes on, on the pages that its steps speak of.
fn run_that_goes_on(visitor: &Visitor, place: Place) -> Option<Link> {
    let is_near = matches!(place, Place::Bench | Place::PutRight | Place::Tanks | Place::Books);
    let books = if is_near { visitor.app.books().ok()? } else { return None };
    books.runs.open()?;
    let label = visitor.words.say("run.back-to").to_owned();
    Some(Link { label, url: visitor.app.url("/run"), current: false })
}

/// How many entries wait for a decision, and where; none for who cannot decide, or when none wait.
fn waiting(visitor: &Visitor) -> Option<(String, String)> {
    let people = visitor.app.people.as_ref()?;
    let may =
        authorise(visitor.caller.role, Act::Settle).is_ok() || matches!(visitor.caller.who, Who::Device(_));
    let count = people.file().waiting().ok().filter(|count| *count > 0 && may)?;
    let text = visitor.words.fill("waiting.title", &[("count", &count.to_string())]);
    Some((text, visitor.app.url("/waiting")))
}
