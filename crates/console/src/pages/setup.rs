//! What the yard file says, in groups, with what is still missing first; and what this device shows and how.

use askama::Template;
use axum::response::Html;
use quantity::hours;
use report::{Language, Words};
use site::UnitSystem;
use yard::stock::Books;

use crate::error::{PageError, render};
use crate::page_frame::{PageFrame, Place, Visitor};

/// One of several answers.
struct Answer {
    value: &'static str,
    label: String,
    lang: &'static str,
    is_chosen: bool,
}

/// A choice of this device.
struct Pick {
    url: String,
    name: &'static str,
    label: String,
    answers: Vec<Answer>,
}

/// A line of a group: what it is, what stands, and where it is changed or looked at.
struct Row {
    name: String,
    value: String,
    url: Option<String>,
    is_missing: bool,
}

struct Group {
    head: String,
    state: String,
    missing: usize,
    rows: Vec<Row>,
}

#[derive(Template)]
#[template(path = "setup.html")]
struct SetupPage {
    w: Words,
    c: PageFrame,
    title: String,
    why: Vec<String>,
    act: Option<(String, String)>,
    groups: Vec<Group>,
    picks: Vec<Pick>,
}

/// Shows the page.
pub(crate) async fn show(visitor: Visitor) -> Result<Html<String>, PageError> {
    let words = visitor.words;
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    let groups = groups(&visitor, &books);
    let missing = || groups.iter().flat_map(|group| &group.rows).filter(|row| row.is_missing);
    let count = missing().count();
    let first = missing().next();
    let title = match first {
        Some(row) => words.fill("setup.missing", &[("what", &row.name), ("state", &row.value)]),
        None => words.say("setup.complete").to_owned(),
    };
    let mut why = Vec::new();
    if count > 1 {
        why.push(words.fill("setup.missing-count", &[("count", &count.to_string())]));
    }
    why.push(words.say("setup.file").to_owned());
    let act = first.and_then(|row| Some((row.name.clone(), row.url.clone()?)));
    let page = SetupPage {
        c: PageFrame::new(&visitor, Place::SetUp, words.say("setup.nav"), "/setup"),
        w: words,
        title,
        why,
        act,
        groups,
        picks: picks(&visitor),
    };
    render(&visitor, &page)
}

fn groups(visitor: &Visitor, books: &Books) -> Vec<Group> {
    let words = visitor.words;
    [
        ("setup.plant", plant(visitor, books)),
        ("setup.roads", roads(visitor, books)),
        ("setup.people", people(visitor)),
    ]
    .into_iter()
    .map(|(head, rows)| {
        let missing = rows.iter().filter(|row| row.is_missing).count();
        let state = match missing {
            0 => words.say("setup.group-complete").to_owned(),
            n => words.fill("setup.group-missing", &[("count", &n.to_string())]),
        };
        Group { head: words.say(head).to_owned(), state, missing, rows }
    })
    .collect()
}

/// A row; missing where its value is the text that says so.
fn row(visitor: &Visitor, name: &str, value: Result<String, &str>, url: Option<&str>) -> Row {
    let words = visitor.words;
    let url = url.map(|path| visitor.app.url(path));
    match value {
        Ok(value) => Row { name: words.say(name).to_owned(), value, url, is_missing: false },
        Err(key) => {
            Row { name: words.say(name).to_owned(), value: words.say(key).to_owned(), url, is_missing: true }
        }
    }
}

fn plant(visitor: &Visitor, books: &Books) -> Vec<Row> {
    let (yard, words, d) = (&visitor.app.yard, visitor.words, &visitor.display);
    let plant = &yard.plant;
    let rate = plant.making_rate * hours(1.0);
    let of_plant = [
        ("rate", d.volume(rate)),
        ("start", d.time_span(plant.start_up)),
        ("test", d.time_span(plant.settle_and_test)),
    ];
    let of_brine = [
        ("target", d.strength(plant.target_strength)),
        ("low", report::display::number(plant.spec_low.percent(), 1)),
        ("high", d.strength(plant.spec_high)),
    ];
    let tanks =
        yard.tanks_in_use().map(|tank| d.volume(tank.shape.full_volume())).collect::<Vec<_>>().join(", ");
    let uncounted: Vec<&str> = planner::tank_stock(yard, books)
        .iter()
        .filter(|tank| !tank.is_counted)
        .filter_map(|tank| yard.tank(&tank.tank).map(|tank| tank.id.as_str()))
        .collect();
    let instruments = yard.instruments.iter().map(|one| one.name.as_str()).collect::<Vec<_>>().join(", ");
    let now = visitor.app.clock.now();
    let due = books.bench.due(yard, now).len();
    let mut rows = vec![
        row(visitor, "setup.yard", Ok(format!("{}, {}", yard.name, yard.time_zone)), None),
        row(visitor, "setup.maker", Ok(words.fill_with("setup.maker-line", &of_plant)), Some("/run")),
        row(visitor, "setup.brine", Ok(words.fill_with("setup.brine-line", &of_brine)), None),
        row(visitor, "setup.tanks", Ok(tanks), Some("/tanks")),
    ];
    if !uncounted.is_empty() {
        let mut one = row(visitor, "setup.first-dip", Err("setup.never-dipped"), Some("/tanks#dip"));
        one.value = words.fill("setup.never-dipped", &[("tanks", &uncounted.join(", "))]);
        rows.push(one);
    }
    let checked = if yard.instruments.is_empty() {
        Err("setup.no-instrument")
    } else if due > 0 {
        Err("setup.checks-due")
    } else {
        Ok(instruments)
    };
    rows.push(row(visitor, "menu.instruments", checked, Some("/bench/instruments")));
    let meters = match yard.meters.len() {
        0 => Ok(words.say("setup.no-meter").to_owned()),
        n => Ok(words.fill("setup.count", &[("count", &n.to_string())])),
    };
    rows.push(row(visitor, "books.leaf-meters", meters, Some("/meters")));
    if visitor.app.following.is_some() {
        let count = yard.points.len().to_string();
        rows.push(row(
            visitor,
            "live.title",
            Ok(words.fill("setup.count", &[("count", &count)])),
            Some("/live"),
        ));
    }
    rows
}

fn roads(visitor: &Visitor, books: &Books) -> Vec<Row> {
    let (yard, words, d) = (&visitor.app.yard, visitor.words, &visitor.display);
    let lanes = yard.routes.iter().map(|route| route.lane_length).reduce(|a, b| a + b);
    let routes = lanes.map(|lanes| {
        words.fill_with(
            "setup.routes-line",
            &[("count", yard.routes.len().to_string()), ("lanes", d.lane_length(lanes))],
        )
    });
    let classes = yard.route_classes.iter().map(|class| class.id.as_str()).collect::<Vec<_>>().join(", ");
    let forecast = visitor.app.forecast(None).map(|forecast| forecast.label.clone());
    let now = visitor.app.clock.now();
    let is_due = |truck: &site::Truck| {
        yard::due::calibration(books, &truck.id, "sprayer").is_none_or(|(_, due)| due <= now)
    };
    let sprayers = if yard.trucks.iter().any(is_due) {
        Err("setup.sprayers-due")
    } else {
        Ok(words.fill("setup.count", &[("count", &yard.trucks.len().to_string())]))
    };
    let below = d.temperature(yard.policy.block_below);
    vec![
        row(visitor, "setup.forecast", forecast.ok_or("setup.no-forecast"), Some("/storm")),
        row(visitor, "setup.routes", routes.ok_or("setup.no-route"), None),
        row(visitor, "setup.classes", Ok(classes), None),
        row(visitor, "sprayers.nav", sprayers, Some("/sprayers")),
        row(visitor, "setup.policy", Ok(words.fill("setup.policy-line", &[("below", &below)])), None),
    ]
}

fn people(visitor: &Visitor) -> Vec<Row> {
    let (app, words) = (&visitor.app, visitor.words);
    let yard = &app.yard;
    let contacts = match yard.contacts.len() {
        0 => Err("setup.no-contact"),
        n => Ok(words.fill("setup.contacts-line", &[("count", &n.to_string())])),
    };
    let mut rows = Vec::new();
    if app.people.is_some() {
        rows.push(row(visitor, "people.nav", Ok(words.say("setup.people-line").to_owned()), Some("/people")));
    }
    rows.extend([
        row(visitor, "setup.contacts", contacts, Some("/night")),
        row(visitor, "alerts.nav", Ok(words.say("setup.alerts-line").to_owned()), Some("/alerts")),
        row(visitor, "offline.nav", Ok(words.say("setup.offline-line").to_owned()), Some("/offline")),
    ]);
    rows
}

fn picks(visitor: &Visitor) -> Vec<Pick> {
    let (app, words) = (&visitor.app, visitor.words);
    let answer =
        |value, key: &str, is_chosen| Answer { value, label: words.say(key).to_owned(), lang: "", is_chosen };
    let is_us = visitor.display.units == UnitSystem::Us;
    let is_half = visitor.display.has_half_days();
    let languages = Language::ALL.iter().map(|language| Answer {
        value: language.tag(),
        label: language.name().to_owned(),
        lang: language.tag(),
        is_chosen: *language == words.language(),
    });
    let pick = |path: &str, name, key: &str, answers| Pick {
        url: app.url(path),
        name,
        label: words.say(key).to_owned(),
        answers,
    };
    vec![
        pick(
            "/units",
            "units",
            "setup.units",
            vec![answer("us", "setup.units-us", is_us), answer("si", "setup.units-si", !is_us)],
        ),
        pick("/language", "language", "setup.language", languages.collect()),
        pick(
            "/clock",
            "clock",
            "setup.clock",
            vec![answer("12", "setup.clock-12", is_half), answer("24", "setup.clock-24", !is_half)],
        ),
        pick(
            "/keys",
            "keys",
            "setup.keys",
            vec![
                answer("big", "setup.keys-big", visitor.has_pad),
                answer("own", "setup.keys-own", !visitor.has_pad),
            ],
        ),
    ]
}
