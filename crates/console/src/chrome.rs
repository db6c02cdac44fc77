//! What stands around every page: head, navigation, notices; and the reader it is made for.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::extract::{ConnectInfo, FromRequestParts};
use axum::http::header;
use axum::http::request::Parts;
use report::plan_words::Teller;
use report::{Display, Language, Words};
use yard::site::UnitSystem;

use crate::access::{Act, Role, authorise, role_at};
use crate::error::PageError;
use crate::state::App;

/// Headers by which a proxy gives itself away.
const FORWARDING: [&str; 4] = ["forwarded", "x-forwarded-for", "x-real-ip", "via"];
/// Name of the cookie that keeps a device's units.
pub(crate) const UNITS_COOKIE: &str = "units";

/// Who looks, how they read, and what the app knows.
pub(crate) struct Visitor {
    pub(crate) app: Arc<App>,
    pub(crate) role: Role,
    pub(crate) display: Display,
    pub(crate) words: Words,
}

impl Visitor {
    /// The one authorisation call of a handler.
    pub(crate) fn may(&self, act: Act) -> Result<(), PageError> {
        authorise(self.role, act).map_err(|_| PageError::refused(self))
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
        // Without a known peer, as in a test that names none, a visitor may only look.
        let role = parts
            .extensions
            .get::<ConnectInfo<SocketAddr>>()
            .map_or(Role::Viewer, |ConnectInfo(peer)| role_at(peer.ip()));
        // Behind a proxy everybody seems to be at this machine: who came through one may only look.
        let came_through = FORWARDING.iter().any(|name| parts.headers.contains_key(*name));
        let role = if came_through { Role::Viewer } else { role };
        let cookies = parts.headers.get(header::COOKIE).and_then(|value| value.to_str().ok()).unwrap_or("");
        let units = cookies
            .split(';')
            .filter_map(|pair| pair.trim().split_once('='))
            .find(|(name, _)| *name == UNITS_COOKIE)
            .and_then(|(_, value)| match value {
                "us" => Some(UnitSystem::Us),
                "si" => Some(UnitSystem::Si),
                _ => None,
            })
            .unwrap_or(app.yard.units);
        Ok(Self {
            app: Arc::clone(app),
            role,
            display: Display::new(units, app.zone.clone()),
            words: Words::of(Language::En),
        })
    }
}

/// Which entry of the navigation is the present page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    Plant,
    Today,
    Storm,
    Tanks,
    Run,
    Bench,
    PutRight,
    Load,
    Due,
    Books,
    Ledger,
    Elsewhere,
}

/// An entry of the navigation.
pub(crate) struct Link {
    pub(crate) label: String,
    pub(crate) url: String,
    pub(crate) current: bool,
}

/// Everything around a page's own content.
pub(crate) struct Chrome {
    pub(crate) lang: &'static str,
    pub(crate) title: String,
    pub(crate) yard: String,
    pub(crate) now: String,
    pub(crate) links: Vec<Link>,
    pub(crate) css: String,
    pub(crate) script: String,
    pub(crate) icon: String,
    pub(crate) units_url: String,
    pub(crate) other_units: &'static str,
    pub(crate) other_units_label: String,
    pub(crate) here: String,
    pub(crate) look_url: String,
    /// The practice plant's pages, not the yard's.
    pub(crate) is_practice: bool,
    pub(crate) trainer_url: Option<String>,
    /// Shown above everything: the ledger is damaged, this is the demo.
    pub(crate) banners: Vec<String>,
    /// What the last act did.
    pub(crate) saved: Option<String>,
    /// The visitor may make entries.
    pub(crate) may_enter: bool,
}

impl Chrome {
    /// Around a page with a title, at a path.
    pub(crate) fn new(visitor: &Visitor, place: Place, title: &str, path: &str) -> Self {
        let (app, words) = (&visitor.app, &visitor.words);
        let link = |key: &str, path: &str, is: Place| Link {
            label: words.say(key).to_string(),
            url: app.url(path),
            current: is == place,
        };
        let mut banners = Vec::new();
        if let Some(damage) = app.damage() {
            banners.push(words.fill("banner.damaged", &[("what", &damage)]));
        }
        banners.extend(app.forecasts().into_iter().filter_map(|forecast| forecast.trouble));
        if let Some(plant) = &app.plant {
            banners.push(words.fill("banner.practice", &[("who", &plant.who)]));
        }
        if app.is_demo {
            banners.push(words.say("banner.demo").to_string());
        }
        if visitor.role == Role::Viewer {
            banners.push(words.say("banner.viewer").to_string());
        }
        let other = if visitor.is_us() { "si" } else { "us" };
        Self {
            lang: words.language().tag(),
            title: title.to_string(),
            yard: app.yard.name.clone(),
            now: visitor.display.time(app.clock.now()),
            is_practice: app.plant.is_some(),
            trainer_url: match (&app.trainer, &app.plant) {
                (Some(_), _) => Some(app.url("/trainer")),
                // Back from the practice plant to the yard's own console.
                (None, Some(_)) => {
                    app.base_path.strip_suffix("/practice").map(|base| format!("{base}/trainer"))
                }
                (None, None) => None,
            },
            links: app
                .plant
                .iter()
                .map(|_| link("practice.nav", "/plant", Place::Plant))
                .chain([
                    link("nav.today", "/", Place::Today),
                    link("nav.storm", "/storm", Place::Storm),
                    link("nav.tanks", "/tanks", Place::Tanks),
                    link("run.nav", "/run", Place::Run),
                    link("bench.nav", "/bench", Place::Bench),
                    link("right.nav", "/put-right", Place::PutRight),
                    link("load.nav", "/load", Place::Load),
                    link("due.nav", "/due", Place::Due),
                    link("books.nav", "/books", Place::Books),
                    link("nav.ledger", "/ledger", Place::Ledger),
                ])
                .collect(),
            css: app.url(&crate::statics::path("console.css")),
            script: app.url(&crate::statics::path("console.js")),
            icon: app.url(&crate::statics::path("mark.svg")),
            units_url: app.url("/units"),
            other_units: other,
            other_units_label: words
                .say(if other == "si" { "units.to-si" } else { "units.to-us" })
                .to_string(),
            here: path.to_string(),
            look_url: app.url("/look"),
            banners,
            saved: None,
            may_enter: authorise(visitor.role, Act::Record).is_ok(),
        }
    }
}
