//! A console on a fresh ledger, for every test of the pages.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]
#![allow(dead_code, reason = "each test program uses its part")]

pub mod forms;
pub mod page;
pub mod staff;

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;

use axum::body::{Body, to_bytes};
use axum::extract::ConnectInfo;
use axum::http::{Request, StatusCode, header};
use console::routes::router;
use console::{App, AppOptions, Clock, NamedForecast};
use cookie::Cookie;
use event::{Body as EventBody, Event, EventId, LiquidDelivery, Settlement};
use jiff::Timestamp;
use store::{Ledger, SqliteLedger};
use tower::ServiceExt;
use uuid::Uuid;

use page::Page;

pub const HERE: &str = "127.0.0.1:50000";
pub const ELSEWHERE: &str = "192.0.2.7:50000";

/// A console on a fresh ledger.
pub struct TestApp {
    pub app: Arc<App>,
    pub ledger: Arc<SqliteLedger>,
    pub folder: PathBuf,
}

impl Drop for TestApp {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

pub struct Answer {
    pub status: StatusCode,
    pub location: Option<String>,
    pub cookie: Option<Cookie<'static>>,
    pub policy: String,
    pub body: String,
}

impl Answer {
    pub fn page(&self) -> Page {
        Page::of(&self.body)
    }

    /// What is said to be wrong with an entry that was refused.
    #[track_caller]
    pub fn refusals(&self) -> Vec<String> {
        let page = self.page();
        assert_eq!(self.status, StatusCode::UNPROCESSABLE_ENTITY, "{page}");
        page.problems()
    }

    /// The cookie that it sets, as a browser sends it back.
    pub fn kept(&self) -> Option<String> {
        Some(self.cookie.as_ref()?.stripped().to_string())
    }
}

impl TestApp {
    pub fn new() -> Self {
        Self::at_base("")
    }

    pub fn at_base(base: &str) -> Self {
        Self::made(base, 0)
    }

    /// The same ledger in another yard: its file after an edit.
    pub fn in_yard(&self, edit: impl Fn(&str) -> String) -> Later<'_> {
        self.in_yard_at(edit, 0)
    }

    /// The same ledger in another yard whose machines are read.
    pub fn in_read_yard(&self, edit: impl Fn(&str) -> String) -> Later<'_> {
        let now = "2013-01-24T18:00:00Z".parse().unwrap();
        let file = store::telemetry::TelemetryFile::open(&self.folder.join("telemetry.db")).unwrap();
        let mut options = options_of(&edit(YARD), &self.ledger, "", now, (&self.folder, 0));
        options.telemetry = Some(Arc::new(file));
        Later { app: Arc::new(App::new(options).unwrap()), test: self }
    }

    /// The same, so many minutes after the beginning.
    pub fn in_yard_at(&self, edit: impl Fn(&str) -> String, minutes: i64) -> Later<'_> {
        let start: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
        let now = start + jiff::SignedDuration::from_mins(minutes);
        let yard = edit(YARD);
        Later { app: Arc::new(app_of(&yard, &self.ledger, "", now, (&self.folder, 0))), test: self }
    }

    /// With a file of people, and nobody in it yet.
    pub fn peopled() -> Self {
        let mut test = Self::new();
        let file = store::people::PeopleFile::open(&test.folder.join("people.db")).unwrap();
        let people = console::people::People::new(file, test.app.clock.now()).unwrap();
        Arc::get_mut(&mut test.app).unwrap().people = Some(Arc::new(people));
        test
    }

    /// Comes in with a password; the answer is the cookie.
    pub async fn sign_in(&self, name: &str, password: &str) -> Option<String> {
        let answer = self.post("/sign-in", &format!("name={name}&password={password}&back=")).await;
        answer.kept()
    }

    /// With the practice plant served at a port.
    pub fn with_practice_at(port: u16) -> Self {
        Self::made("", port)
    }

    fn made(base: &str, port: u16) -> Self {
        let folder = std::env::temp_dir().join(format!("brinewright-console-{}", Uuid::now_v7()));
        std::fs::create_dir_all(&folder).unwrap();
        let ledger = Arc::new(SqliteLedger::open(&folder.join("ledger.db")).unwrap());
        let issued: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
        let opening = |n: u128, tank: &str, gal: f64, pct: Option<f64>| Event {
            id: EventId(Uuid::from_u128(n)),
            occurred_at: issued,
            author: "Pat".into(),
            device: "test".into(),
            body: EventBody::Settlement(Settlement {
                tank: Some(tank.into()),
                volume_m3: Some(gal * 0.003_785_411_784),
                strength_pct: pct,
                salt_kg: None,
                reason: "opening".into(),
            }),
        };
        let openings = [opening(1, "1", 4300.0, Some(23.2)), opening(2, "3", 1900.0, Some(25.1))];
        ledger.append(&openings, issued).unwrap();
        let app = app(&ledger, base, issued, (&folder, port));
        Self { app: Arc::new(app), ledger, folder }
    }

    /// The same ledger, so many minutes after the beginning.
    pub fn after_minutes(&self, minutes: i64) -> Later<'_> {
        let start: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
        let now = start + jiff::SignedDuration::from_mins(minutes);
        let mut later = app(&self.ledger, "", now, (&self.folder, 0));
        later.people.clone_from(&self.app.people);
        Later { app: Arc::new(later), test: self }
    }

    /// The same ledger, so many minutes after the beginning, with other forecasts.
    pub fn with_forecasts(
        &self,
        minutes: i64,
        change: impl FnOnce(Vec<NamedForecast>) -> Vec<NamedForecast>,
    ) -> Later<'_> {
        let start: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
        let now = start + jiff::SignedDuration::from_mins(minutes);
        let mut options = options_of(YARD, &self.ledger, "", now, (&self.folder, 0));
        options.forecasts = change(options.forecasts);
        Later { app: Arc::new(App::new(options).unwrap()), test: self }
    }

    pub async fn send(&self, peer: &str, request: Request<Body>) -> Answer {
        let mut request = request;
        request.extensions_mut().insert(ConnectInfo(peer.parse::<SocketAddr>().unwrap()));
        answer(&self.app, request).await
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.send(HERE, Request::get(path).body(Body::empty()).unwrap()).await
    }

    pub async fn post(&self, path: &str, form: &str) -> Answer {
        self.send(HERE, post(path, form)).await
    }
}

pub fn post(path: &str, form: &str) -> Request<Body> {
    Request::post(path)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from(form.to_string()))
        .unwrap()
}

/// The console on a ledger, at a time.
pub const YARD: &str = include_str!("../../../../examples/alder_fork.toml");

fn app(ledger: &Arc<SqliteLedger>, base: &str, now: Timestamp, place: (&std::path::Path, u16)) -> App {
    app_of(YARD, ledger, base, now, place)
}

fn app_of(
    yard: &str,
    ledger: &Arc<SqliteLedger>,
    base: &str,
    now: Timestamp,
    place: (&std::path::Path, u16),
) -> App {
    App::new(options_of(yard, ledger, base, now, place)).unwrap()
}

fn options_of(
    yard: &str,
    ledger: &Arc<SqliteLedger>,
    base: &str,
    now: Timestamp,
    (folder, port): (&std::path::Path, u16),
) -> AppOptions {
    let issued: Timestamp = "2013-01-24T18:00:00Z".parse().unwrap();
    let yard = site::yard_file::read_yard(yard, "alder_fork.toml").unwrap();
    let options = weather::ReadOptions { station: Some("KEWR".into()), ..Default::default() };
    let weather =
        weather::read(include_str!("../../../weather/tests/data/nyc_winter_2013.csv"), &options).unwrap();
    let forecast = NamedForecast {
        key: "january".into(),
        label: "January".into(),
        weather: Arc::new(weather.as_perfect_forecast(issued)),
        issued,
        hours: 48,
        source: None,
        trouble: None,
    };
    AppOptions {
        yard,
        rates: road::RateTable::published().unwrap(),
        procedures: [plant::procedure::SHIPPED, plant::procedure::END_OF_SEASON]
            .map(|text| toml_edit::de::from_str(text).unwrap())
            .to_vec(),
        ledger: Arc::clone(ledger) as Arc<dyn Ledger>,
        forecasts: vec![forecast],
        clock: Clock::Fixed(now),
        base_path: base.into(),
        hosts: vec!["brine.example".into()],
        is_demo: false,
        telemetry: None,
        practice: Some(console::practice::PracticeOptions {
            folder: folder.join("practice"),
            modbus: SocketAddr::from(([127, 0, 0, 1], port)),
            mqtt: None,
            speed: 60,
        }),
        plant: None,
        people: None,
        is_secure: false,
        is_behind_proxy: false,
        authority: None,
        backup: None,
        folder: std::path::PathBuf::new(),
    }
}

async fn answer(app: &Arc<App>, request: Request<Body>) -> Answer {
    let response = router(Arc::clone(app)).oneshot(request).await.unwrap();
    let text = |name| response.headers().get(name).and_then(|v| v.to_str().ok()).map(str::to_string);
    let (status, location) = (response.status(), text(header::LOCATION));
    let cookie = text(header::SET_COOKIE).map(|set| Cookie::parse(set).unwrap());
    let policy = text(header::CONTENT_SECURITY_POLICY).unwrap_or_default();
    let bytes = to_bytes(response.into_body(), 10_000_000).await.unwrap();
    Answer { status, location, cookie, policy, body: String::from_utf8_lossy(&bytes).replace('\u{a0}', " ") }
}

/// A console at a later time on the ledger of another.
pub struct Later<'a> {
    pub app: Arc<App>,
    pub test: &'a TestApp,
}

impl Later<'_> {
    pub async fn get(&self, path: &str) -> Answer {
        self.send(Request::get(path).body(Body::empty()).unwrap()).await
    }

    pub async fn post(&self, path: &str, form: &str) -> Answer {
        self.send(post(path, form)).await
    }

    pub async fn send(&self, mut request: Request<Body>) -> Answer {
        request.extensions_mut().insert(ConnectInfo(HERE.parse::<SocketAddr>().unwrap()));
        answer(&self.app, request).await
    }
}

/// A request with a cookie.
pub fn with_cookie(mut request: Request<Body>, cookie: &str) -> Request<Body> {
    request.headers_mut().append(header::COOKIE, cookie.parse().unwrap());
    request
}

/// Asks for a page.
pub fn get(path: &str) -> Request<Body> {
    Request::get(path).body(Body::empty()).unwrap()
}

/// An entry of the beginning.
pub fn happened(n: u128, body: EventBody) -> Event {
    Event {
        id: EventId(Uuid::from_u128(n)),
        occurred_at: "2013-01-24T18:00:00Z".parse().unwrap(),
        author: "Pat".into(),
        device: "test".into(),
        body,
    }
}

/// A cubic meter of bought liquid.
pub fn delivered(tank: &str, product: Option<&str>) -> EventBody {
    EventBody::LiquidDelivery(LiquidDelivery {
        tank: tank.into(),
        volume_m3: 1.0,
        temp_c: None,
        strength_pct: None,
        product: product.map(Into::into),
        ticket: None,
        price_usd: None,
    })
}

/// Answers every reading of registers with a number, as a machine that is well does.
pub fn machine(number: u8) -> u16 {
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    std::thread::spawn(move || {
        for mut stream in listener.incoming().map_while(Result::ok) {
            std::thread::spawn(move || {
                let mut asked = [0_u8; 12];
                while std::io::Read::read_exact(&mut stream, &mut asked).is_ok() {
                    let count = usize::from(u16::from_be_bytes([asked[10], asked[11]]));
                    let length = u16::try_from(3 + 2 * count).unwrap().to_be_bytes();
                    let mut answer = vec![asked[0], asked[1], 0, 0, length[0], length[1], asked[6], asked[7]];
                    answer.push(u8::try_from(2 * count).unwrap());
                    answer.extend((0..count).flat_map(|_| [0_u8, number]));
                    if std::io::Write::write_all(&mut stream, &answer).is_err() {
                        break;
                    }
                }
            });
        }
    });
    port
}
