//! `demo`: an invented yard, two real storms, and the console on them.

use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;

use console::people::{Change, People};
use console::practice::PracticeOptions;
use console::{App, AppOptions, Clock, NamedForecast};
use jiff::Timestamp;
use planner::PlanRequest;
use report::Teller;
use report::Words;
use report::plan_text::plan_text;
use site::people::Role;
use store::people::PeopleFile;
use store::{Ledger, ServingLock, SqliteLedger};
use yard::stock::Books;

use crate::args::{self, Units};
use crate::demo::{self, Spell};
use crate::errors::sentence;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// The demo's own port, where it is free.
const PORT: u16 = 8417;

/// A folder that is removed when the demo made it.
struct Folder {
    path: PathBuf,
    is_ours: bool,
}

impl Drop for Folder {
    fn drop(&mut self) {
        if self.is_ours {
            // It lies in the system's temporary folder: what cannot be removed now will be.
            let _ = std::fs::remove_dir_all(&self.path);
        }
    }
}

/// People of the demo: name, role, password, PIN. Invented, and known to everybody.
const PEOPLE: [(&str, Role, Option<&str>, Option<&str>); 4] = [
    ("Ines", Role::Supervisor, Some("a quiet winter"), Some("7193")),
    ("Lou", Role::Operator, None, Some("4071")),
    ("Pat", Role::Operator, None, Some("2864")),
    ("Vic", Role::Viewer, Some("only looking 3"), None),
];

/// Makes them, where nobody is there yet, and says who they are and how a tablet is enrolled.
fn make_people(people: &People, now: Timestamp, words: &Words) -> Result<(), Failure> {
    let refused = |error: console::people::Refused| Failure::Input(sentence(&error));
    let is_new = !people.is_set_up()?;
    for (name, role, password, pin) in PEOPLE {
        if is_new {
            match (role, password) {
                (Role::Supervisor, Some(password)) => {
                    people.first(name, password, pin, now).map_err(refused)?;
                }
                _ => {
                    let change = Change {
                        name: Some(name.into()),
                        role: Some(role),
                        password: password.map(str::to_owned),
                        pin: pin.map(str::to_owned),
                        is_active: None,
                    };
                    people.add(&change, PEOPLE[0].0, now).map_err(refused)?;
                }
            }
        }
        let role = words.say(&format!("role.{}", role.name())).to_owned();
        let values = [
            ("name", name),
            ("role", role.as_str()),
            ("password", password.unwrap_or("–")),
            ("pin", pin.unwrap_or("–")),
        ];
        print(&words.fill("demo.person", &values))?;
    }
    let code = people.give_code("device", PEOPLE[0].0, now)?;
    print(&words.fill("demo.tablet", &[("code", &code)]))
}

/// Runs the verb.
pub fn run(args: &args::Demo, units: Option<Units>) -> Outcome {
    let folder = match &args.folder {
        Some(path) => Folder { path: path.clone(), is_ours: false },
        None => {
            let name = format!("brinewright-demo-{}", uuid::Uuid::now_v7());
            Folder { path: std::env::temp_dir().join(name), is_ours: true }
        }
    };
    std::fs::create_dir_all(&folder.path)
        .map_err(|error| Failure::Machine(format!("{}: cannot be made: {error}", folder.path.display())))?;
    let yard = demo::yard()?;
    // Beside the ledger, so that the other verbs can be tried on the same yard.
    crate::outcome::write_file(&folder.path.join("yard.toml"), demo::YARD)?;
    let rates = input::rates(&yard)?;
    let database = folder.path.join("ledger.db");
    let _lock = ServingLock::acquire(&database, &format!("process {}", std::process::id()))?;
    let ledger = SqliteLedger::open(&database)?;
    if ledger.head()?.seq == 0 {
        ledger
            .append(&demo::season(&yard)?, demo::NOW.parse().map_err(|e| Failure::Input(format!("{e}")))?)?;
    }
    let books = Books::fold(&yard, &ledger.events_after(0)?);
    let (display, words) = (input::display(&yard, units)?, input::words());
    let teller = Teller { words: &words, display: &display, yard: &yard };
    let mut forecasts = Vec::new();
    for spell in Spell::ALL {
        let (weather, issued) = spell.forecast()?;
        let request = PlanRequest {
            yard: &yard,
            books: &books,
            rates: &rates,
            weather: &weather,
            issued,
            hours: Spell::HOURS,
            now: issued,
            seen: None,
        };
        let plan = planner::plan(&request).map_err(|error| Failure::Input(sentence(&error)))?;
        print(&plan_text(&plan, &weather, &teller))?;
        forecasts.push(NamedForecast {
            key: spell.key().to_string(),
            label: words.say(spell.label_key()).to_string(),
            weather: Arc::new(weather),
            issued,
            hours: Spell::HOURS,
            source: None,
            trouble: None,
        });
    }
    if args.print_only {
        return Ok(Done::Yes);
    }
    let first: Timestamp = demo::NOW.parse().map_err(|e| Failure::Input(format!("{e}")))?;
    // Opened again, the demo's day goes on after its last entry.
    let at = books.last_recorded_at.map_or(first, |last| last.max(first));
    let clock =
        if args.standing_clock { Clock::Fixed(first) } else { Clock::From { at, begun: Timestamp::now() } };
    let file = PeopleFile::open(&folder.path.join("people.db"))?;
    let people = Arc::new(People::new(file, clock.now())?);
    if args.people {
        make_people(&people, clock.now(), &words)?;
    }
    let procedures = input::procedures(&[], &yard)?;
    let app = App::new(AppOptions {
        yard,
        rates,
        procedures,
        ledger: Arc::new(ledger),
        forecasts,
        clock,
        base_path: String::new(),
        hosts: Vec::new(),
        is_demo: true,
        telemetry: None,
        practice: Some(PracticeOptions {
            folder: folder.path.join("practice"),
            modbus: SocketAddr::from((Ipv4Addr::LOCALHOST, 0)),
            mqtt: None,
            speed: 10,
        }),
        plant: None,
        people: Some(people),
        is_secure: false,
        is_behind_proxy: false,
        authority: None,
        backup: None,
        folder: std::path::PathBuf::new(),
    })
    .map_err(|error| Failure::Input(error.to_string()))?;
    let local = |port| SocketAddr::from((Ipv4Addr::LOCALHOST, port));
    let addresses = args.address.map_or_else(|| vec![local(PORT), local(0)], |address| vec![address]);
    super::serve::listen(Arc::new(app), &addresses, super::serve::Door::default())?;
    Ok(Done::Yes)
}
