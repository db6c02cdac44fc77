//! The bench: one reading of one sample, judged at once, and logged with one tap.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use bench::Conformity;
use bench::conformity::Known;
use bench::consensus::{Said, consensus};
use bench::drift::Word;
use bench::measure::{Measured, Sample, measure};
use bench::solute::Solute;
use chemistry::Salt;
use jiff::Timestamp;
use message::Tell;
use quantity::{ThermodynamicTemperature, celsius, fahrenheit, in_celsius};
use report::Words;
use report::chart::{ReadingsChart, Size, readings_chart};
use report::display::number;
use serde::Deserialize;
use site::{Instrument, ProductKind, Spec};
use yard::event::{Body, Choice as _, EventId, Note, Occasion, Reading, SamplePoint};
use yard::stock::{Books, LoggedReading};

mod meant;

use super::{K95, Leaf, due_lines, leaves};
use crate::asked::{Asked, Sent};
use crate::chrome::{Chrome, Link, Place, Visitor};
use crate::error::{PageError, render};
use crate::pages::entry::Refused;
use crate::pages::parts::{self, ChartPair, Entered};
use meant::{Meant, is_senseless, meant_otherwise, or_meant};

/// Readings in the chart, as many as a phone shows apart; and listed below it.
const CHARTED: usize = 24;
/// See [`CHARTED`].
const LISTED: usize = 8;
/// Per cent by mass outside the band from which a number is held against the other scales.
const SENSELESS: f64 = 1.0;

/// What was asked, as typed; and in the record of it, who says so.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct BenchQuery {
    tank: Option<String>,
    instrument: Option<String>,
    reading: Option<String>,
    temp_f: Option<String>,
    temp_c: Option<String>,
    level: Option<String>,
    occasion: Option<String>,
    /// When it was taken, HH:MM.
    at: Option<String>,
    /// Id of the first reading of the same sample.
    sample: Option<String>,
    /// Id of the reading that was just logged.
    logged: Option<String>,
    saved: Option<u64>,
    /// yes: what cannot be judged is kept as a note.
    as_note: Option<String>,
    entry_id: Option<String>,
    author: Option<String>,
    confirm: Option<String>,
}

/// One of several to choose from.
struct Choice {
    value: String,
    label: String,
    /// Its state in a word; empty for a choice that has none.
    word: String,
    /// It compensates for temperature by itself: none is asked.
    is_compensated: bool,
    chosen: bool,
}

/// A verdict in the operator's words.
struct Told {
    mark: &'static str,
    headline: String,
    is_out: bool,
    next: String,
    why: String,
    doubt: Option<String>,
    /// It lies far from the tank's last reading.
    jump: Option<String>,
    right_url: Option<String>,
    budget: Vec<(String, String)>,
    together: String,
    within: String,
    reason: String,
}

/// What several instruments say of one sample.
struct Together {
    headline: String,
    lines: Vec<String>,
    warning: Option<String>,
}

/// What may be done with a reading that was just logged.
struct After {
    another_url: String,
    /// Where the panel is held against it: only a sample of the plant's tap.
    trim_url: Option<String>,
}

#[derive(Template)]
#[template(path = "bench_sample.html")]
struct BenchPage {
    w: Words,
    c: Chrome,
    page_url: String,
    tank: String,
    /// "Tank 1", in the reader's words.
    tank_named: String,
    tanks: Vec<Link>,
    instruments: Vec<Choice>,
    instrument: String,
    levels: Vec<Choice>,
    level: String,
    occasions: Vec<Choice>,
    occasion: String,
    reading: String,
    temp_name: &'static str,
    temp_label: String,
    temp: String,
    problems: Vec<String>,
    told: Option<Told>,
    /// Why no strength can be given; empty when it can.
    refusal: String,
    meant: Option<Meant>,
    together: Option<Together>,
    after: Option<After>,
    leaves: Vec<Link>,
    due: Vec<String>,
    due_url: String,
    sample: String,
    at: String,
    blend: Option<String>,
    history: Vec<String>,
    chart: Option<ChartPair>,
    entry_id: String,
    author: String,
    ask_confirm: Option<String>,
    record_problems: Vec<String>,
}

/// What was read, once it can be read.
struct Read<'a> {
    tank: String,
    instrument: &'a Instrument,
    /// One reading, or several of the same sample.
    shown: Vec<f64>,
    typed: String,
    temperature: Option<ThermodynamicTemperature>,
    level: SamplePoint,
    occasion: Occasion,
    at: Timestamp,
    sample: Option<EventId>,
    solute: Solute,
    /// The tank holds sodium chloride alone, so that it has a band to be judged by.
    is_plain: bool,
}

impl Read<'_> {
    fn mean(&self) -> f64 {
        self.shown.iter().sum::<f64>() / self.shown.len() as f64
    }
}

/// Shows the form, and the verdict where a reading was given.
pub(crate) async fn show(
    visitor: Visitor,
    Asked(query): Asked<BenchQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, &query)?;
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(&visitor, &error))?;
    let recorded = query.saved.filter(|seq| *seq <= head.seq);
    page.c.saved = recorded.map(|seq| visitor.words.fill("bench.logged", &[("seq", &seq.to_string())]));
    render(&visitor, &page)
}

/// Logs the reading, or shows the page again with what is wrong.
pub(crate) async fn record(visitor: Visitor, Sent(query): Sent<BenchQuery>) -> Result<Response, PageError> {
    let (entry_id, author) =
        (query.entry_id.clone().unwrap_or_default(), query.author.clone().unwrap_or_default());
    let again = |problems: Vec<String>, ask_confirm: Option<String>| -> Result<Response, PageError> {
        let mut page = page(&visitor, &query)?;
        page.record_problems = problems;
        page.ask_confirm = ask_confirm;
        page.entry_id = entry_id.clone();
        page.author = author.clone();
        Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
    };
    let books = visitor.app.books().map_err(|error| PageError::store(&visitor, &error))?;
    // What is wrong with the reading stands on the page itself.
    let Ok(Some(read)) = read(&visitor, &books, &query) else { return again(Vec::new(), None) };
    if let Some(problem) = parts::author_problem(&visitor, &author) {
        return again(vec![problem], None);
    }
    let id = parts::event_id(&visitor, &entry_id)?;
    let found = measured(&visitor, &read);
    let also = found.as_ref().ok().and_then(|found| meant_otherwise(&visitor, &read, found));
    let body = match found {
        Ok(found) => event(&read, &found),
        Err(error) if query.as_note.as_deref() == Some("yes") => note(&visitor, &read, &error),
        Err(_) => return again(Vec::new(), None),
    };
    let is_reading = matches!(body, Body::Reading(_));
    let at = read.at.to_string();
    let entered = Entered::new(&entry_id, &author, &at, query.confirm.as_ref());
    let entered = Entered { also: also.into_iter().collect(), ..entered };
    let seq = match parts::record_asked(&visitor, &entered, Ok(body)).await? {
        Ok(seq) => seq,
        Err(Refused { problems, ask_confirm }) => return again(problems, ask_confirm),
    };
    let tank = crate::encoded::form_encoded(&read.tank);
    let logged = if is_reading { format!("&logged={id}") } else { String::new() };
    Ok(Redirect::to(&visitor.app.url(&format!("/bench?tank={tank}&saved={seq}{logged}"))).into_response())
}

/// A reading that gives no strength, kept in words so that it is not lost.
fn note(visitor: &Visitor, read: &Read<'_>, error: &bench::Error) -> Body {
    let temperature = read.temperature.map_or_else(String::new, |at| visitor.display.temperature(at));
    let values = [
        ("tank", read.tank.as_str()),
        ("instrument", read.instrument.name.as_str()),
        ("shown", read.typed.as_str()),
        ("temp", temperature.as_str()),
        ("why", &visitor.display.tell(&error.message())),
    ];
    Body::Note(Note { text: visitor.words.fill("bench.note", &values) })
}

/// Stands for the plant's tap where a tank is chosen.
pub(crate) const TAP: &str = "tap";

/// The tank of a sample by what was chosen; none for the plant's tap.
pub(crate) fn tank_of(chosen: &str) -> Option<String> {
    (chosen != TAP).then(|| chosen.to_owned())
}

/// What a sample's place is called.
pub(crate) fn named(visitor: &Visitor, chosen: &str) -> String {
    if chosen == TAP {
        return visitor.words.say("bench.tap").to_owned();
    }
    format!("{} {chosen}", visitor.words.say("tanks.tank"))
}

/// The level of a tank that was typed, the outlet where none was; else what was typed.
fn level_of(typed: Option<&str>) -> Result<SamplePoint, &str> {
    let Some(typed) = typed else { return Ok(SamplePoint::Outlet) };
    SamplePoint::OF_TANK.into_iter().find(|level| level.word() == typed).ok_or(typed)
}

fn event(read: &Read<'_>, found: &Measured) -> Body {
    let rounded = |value: f64| (1000.0 * value).round() / 1000.0;
    Body::Reading(Reading {
        tank: tank_of(&read.tank),
        strength_pct: rounded(found.brine.strength().percent()),
        uncertainty_pct: Some(rounded(found.expanded.half_width)),
        temp_c: read.temperature.map(|at| rounded(in_celsius(at))),
        instrument: Some(read.instrument.id.clone()),
        level: Some(if read.tank == TAP { SamplePoint::PlantTap } else { read.level.clone() }),
        occasion: Some(read.occasion),
        shown: Some(read.typed.clone()),
        scale: Some(read.instrument.scale.clone()),
        doubt: found.doubt.as_ref().map(ToString::to_string),
        sample: read.sample.map(|id| id.to_string()),
    })
}

fn measured(visitor: &Visitor, read: &Read<'_>) -> Result<Measured, bench::Error> {
    let sample = Sample {
        solute: read.solute.clone(),
        readings: read.shown.iter().map(|shown| shown - read.instrument.offset).collect(),
        temperature: read.temperature,
        temperature_half_width: visitor.app.yard.bench.thermometer,
    };
    measure(&read.instrument.card, &sample)
}

/// Ids of the tanks that hold our own brine.
pub(super) fn brine_tanks(visitor: &Visitor) -> Vec<String> {
    let yard = &visitor.app.yard;
    let is_brine = |tank: &&site::Tank| {
        let product = yard.product(&tank.product);
        product.is_some_and(|product| matches!(product.kind, ProductKind::SodiumChlorideBrine))
    };
    yard.tanks_in_use().filter(is_brine).map(|tank| tank.id.clone()).collect()
}

fn chosen_tank(visitor: &Visitor, query: &BenchQuery) -> String {
    query.tank.clone().or_else(|| brine_tanks(visitor).into_iter().next()).unwrap_or_default()
}

/// Reads what was typed; none when no reading was typed yet.
fn read<'a>(
    visitor: &'a Visitor,
    books: &Books,
    query: &BenchQuery,
) -> Result<Option<Read<'a>>, Vec<String>> {
    let Some(typed) = query.reading.as_deref().map(str::trim).filter(|text| !text.is_empty()) else {
        return Ok(None);
    };
    let mut problems = Vec::new();
    let mut parse = |name: &str, text: &str| {
        entry::parse_number(text)
            .map_err(|(problem, accepted)| {
                visitor.note_wrong(name);
                let label = visitor.words.say(if name == "reading" { "bench.reading" } else { "ask.temp" });
                problems.push(parts::refusal(visitor, (label, text), (&problem, &accepted)))
            })
            .ok()
    };
    let shown: Option<Vec<f64>> = typed.split_whitespace().map(|one| parse("reading", one)).collect();
    let given =
        |typed: &Option<String>| typed.as_deref().map(str::trim).filter(|t| !t.is_empty()).map(str::to_owned);
    let temperature = given(&query.temp_f)
        .and_then(|text| parse("temp_f", &text).map(fahrenheit))
        .or(given(&query.temp_c).and_then(|text| parse("temp_c", &text).map(celsius)));
    let yard = &visitor.app.yard;
    let wanted = query.instrument.as_deref().unwrap_or_default();
    let instrument = yard.instruments.iter().find(|one| one.id == wanted);
    if instrument.is_none() {
        let ids: Vec<&str> = yard.instruments.iter().map(|one| one.id.as_str()).collect();
        problems.push(format!("instrument = {wanted}: not known; accepted: {}", ids.join(", ")));
    }
    let mut unknown = |name: &str, typed: &str, accepted: Vec<&str>| {
        problems.push(format!("{name} = {typed}: not known; accepted: {}", accepted.join(", ")));
    };
    let level = level_of(query.level.as_deref());
    let level = level.unwrap_or_else(|typed| {
        unknown("level", typed, SamplePoint::OF_TANK.iter().map(SamplePoint::word).collect());
        SamplePoint::Outlet
    });
    let occasion = query.occasion.as_deref().unwrap_or(Occasion::Usual.word());
    let occasion = Occasion::of_word(occasion).unwrap_or_else(|| {
        unknown("occasion", occasion, Occasion::ALL.iter().map(|one| one.word()).collect());
        Occasion::Usual
    });
    let tank = chosen_tank(visitor, query);
    let tanks = brine_tanks(visitor);
    if tank != TAP && !tanks.contains(&tank) {
        problems.push(format!("tank = {tank}: no tank of our own brine; accepted: {}", tanks.join(", ")));
    }
    let at = parts::moment(visitor, query.at.as_deref().unwrap_or_default());
    problems.extend(at.as_ref().err().cloned());
    let sample = match parts::given(query.sample.as_ref()).map(|id| id.parse::<EventId>()).transpose() {
        Ok(sample) => sample,
        Err(_) => {
            problems.push("sample: not an id; accepted: the id of the first reading of the sample".into());
            None
        }
    };
    let (solute, is_plain) = match dissolved(visitor, books, &tank) {
        Ok(found) => found,
        Err(problem) => {
            problems.push(problem);
            (Solute::of(Salt::SodiumChloride), true)
        }
    };
    match (shown, instrument, at, problems.is_empty()) {
        (Some(shown), Some(instrument), Ok(at), true) => Ok(Some(Read {
            tank,
            instrument,
            shown,
            typed: typed.to_string(),
            temperature,
            level,
            occasion,
            at,
            sample,
            solute,
            is_plain,
        })),
        _ => Err(problems),
    }
}

/// What is dissolved in a tank by the book, and whether that is sodium chloride alone.
fn dissolved(visitor: &Visitor, books: &Books, tank: &str) -> Result<(Solute, bool), String> {
    let plain = (Solute::of(Salt::SodiumChloride), true);
    let Some(book) = books.tank(tank).filter(|book| book.content().has_declared()) else { return Ok(plain) };
    match book.content().solute(&visitor.app.yard) {
        Some(solute) => Ok((solute, false)),
        None => Err(visitor.words.fill("bench.unknown-blend", &[("tank", tank)])),
    }
}

fn page(visitor: &Visitor, query: &BenchQuery) -> Result<BenchPage, PageError> {
    let (app, words, us) = (&visitor.app, visitor.words, visitor.is_us());
    let tank = chosen_tank(visitor, query);
    let books = app.books().map_err(|error| PageError::store(visitor, &error))?;
    // Newest first.
    let mut readings = books.readings_from(tank_of(&tank).as_deref()).to_vec();
    readings.reverse();
    let (mut problems, mut told, mut refusal, mut meant) = (Vec::new(), None, String::new(), None);
    let spec = app.yard.spec(&tank);
    match read(visitor, &books, query) {
        Ok(Some(read)) => {
            let found = measured(visitor, &read);
            let is_senseless = found.as_ref().map_or(true, |found| is_senseless(visitor, &read, found));
            let is_asked = is_senseless && read.is_plain;
            meant = is_asked.then(|| or_meant(visitor, &read, found.is_err())).flatten();
            match found.and_then(|found| tell(visitor, &read, &found)) {
                Ok(verdict) => told = Some(verdict),
                Err(error) => refusal = format!("{error}."),
            }
        }
        Ok(None) => {}
        Err(wrong) => problems = wrong,
    }
    let logged = parts::given(query.logged.as_ref()).and_then(|id| id.parse::<EventId>().ok());
    let logged = logged.and_then(|id| readings.iter().find(|one| one.event == id));
    let sample = logged.map(LoggedReading::sample).or(query.sample.as_ref().and_then(|id| id.parse().ok()));
    // Remembered: the instrument of the last reading of this tank.
    let last = readings.iter().find_map(|one| one.reading.instrument.clone());
    let known = |id: &String| app.yard.instruments.iter().any(|one| one.id == *id);
    let first = app.yard.instruments.first().map(|one| one.id.clone());
    let instrument = query.instrument.clone().or(last.filter(known)).or(first).unwrap_or_default();
    let choices = |key: &dyn Fn(&str) -> String, accepted: &[&str], chosen: &str| -> Vec<Choice> {
        let choice = |value: &&str| Choice {
            value: (*value).to_string(),
            label: words.say(&key(value)).to_string(),
            word: String::new(),
            is_compensated: false,
            chosen: *value == chosen,
        };
        accepted.iter().map(choice).collect()
    };
    let level = query.level.clone().unwrap_or_else(|| SamplePoint::Outlet.word().to_owned());
    let occasion = query.occasion.clone().unwrap_or_else(|| Occasion::Usual.word().to_owned());
    let levels = SamplePoint::OF_TANK.each_ref().map(SamplePoint::word);
    let link = |id: String| Link {
        url: app.url(&format!("/bench?tank={}", crate::encoded::form_encoded(&id))),
        current: id == tank,
        label: if id == TAP { words.say("bench.tap").to_owned() } else { id },
    };
    Ok(BenchPage {
        c: Chrome::new(visitor, Place::Bench, words.say("bench.title"), "/bench"),
        w: words,
        page_url: app.url("/bench"),
        tanks: brine_tanks(visitor).into_iter().chain([TAP.to_owned()]).map(link).collect(),
        instruments: app
            .yard
            .instruments
            .iter()
            .map(|one| Choice {
                value: one.id.clone(),
                label: one.name.clone(),
                word: word_of(visitor, &books, one),
                is_compensated: !one.card.scale.needs_temperature(),
                chosen: one.id == instrument,
            })
            .collect(),
        levels: if tank == TAP {
            Vec::new()
        } else {
            choices(&|level| format!("level.{level}"), &levels, &level)
        },
        occasions: choices(&|occasion| format!("occasion.{occasion}"), Occasion::WORDS, &occasion),
        reading: query.reading.clone().unwrap_or_default(),
        temp_name: if us { "temp_f" } else { "temp_c" },
        temp_label: words.say(if us { "bench.temp-f" } else { "bench.temp-c" }).to_string(),
        temp: if us { query.temp_f.clone() } else { query.temp_c.clone() }.unwrap_or_default(),
        history: readings.iter().take(LISTED).map(|one| line(visitor, one)).collect(),
        chart: chart(visitor, &spec, &readings),
        together: sample.and_then(|sample| together(visitor, &books, &tank, sample)),
        after: logged.map(|one| after(visitor, &tank, one)),
        leaves: leaves(visitor, Leaf::Sample),
        due: due_lines(visitor, &books),
        due_url: app.url("/bench/instruments#due"),
        sample: sample.filter(|_| logged.is_none()).map_or_else(String::new, |id| id.to_string()),
        at: query.at.clone().unwrap_or_default(),
        blend: blend_line(visitor, &books, &tank),
        tank_named: named(visitor, &tank),
        tank,
        instrument,
        level,
        occasion,
        problems,
        told,
        refusal,
        meant,
        entry_id: parts::entry_id(),
        author: String::new(),
        ask_confirm: None,
        record_problems: Vec::new(),
    })
}

/// A logged reading in a line.
fn line(visitor: &Visitor, logged: &LoggedReading) -> String {
    let reading = &logged.reading;
    let within = reading.uncertainty_pct.map_or(String::new(), |u| format!(" ± {}", number(u, 1)));
    let name = reading.instrument.as_ref().map(|id| visitor.teller().instrument_called(id));
    let shown = reading.shown.as_ref().map(|shown| format!(" {shown}")).unwrap_or_default();
    let by = name.map_or(String::new(), |name| format!(", {name}{shown}"));
    let doubt = reading.doubt.as_ref().map_or("", |_| visitor.words.say("bench.doubtful-short"));
    let strength = number(reading.strength_pct, 1);
    format!("{}: {strength} %{within}{by}, {}{doubt}", visitor.display.time(logged.at), logged.author)
}

/// The readings of a tank as a picture, from two on; newest come first in, oldest stand left.
fn chart(visitor: &Visitor, spec: &Spec, readings: &[LoggedReading]) -> Option<ChartPair> {
    let with_interval = readings
        .iter()
        .take(CHARTED)
        .rev()
        .filter_map(|one| Some((one.at, one.reading.strength_pct, one.reading.uncertainty_pct?)));
    let points: Vec<(Timestamp, f64, f64)> = with_interval.collect();
    if points.len() < 2 {
        return None;
    }
    let (low, high) = (number(spec.low.percent(), 1), number(spec.high.percent(), 1));
    let count = points.len().to_string();
    let values = [("count", count.as_str()), ("low", &low), ("high", &high)];
    let says = visitor.words.fill("chart.readings-says", &values);
    let of = ReadingsChart { id: "readings", readings: &points, spec, says: &says };
    let key = parts::key(visitor, &[("k-reading", "chart.key.interval"), ("k-spec", "chart.key.spec")]);
    let draw = |size| readings_chart(&of, size, &visitor.display, &visitor.words);
    Some(ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says, key })
}

fn word_of(visitor: &Visitor, books: &Books, instrument: &Instrument) -> String {
    let word = books.bench.drift(instrument).map(|drift| drift.word).filter(|word| *word != Word::Steady);
    word.map_or_else(String::new, |word| visitor.teller().drift_word(word).to_string())
}

/// What is in a tank beside sodium chloride, in a sentence.
fn blend_line(visitor: &Visitor, books: &Books, tank: &str) -> Option<String> {
    let (solute, is_plain) = dissolved(visitor, books, tank).ok()?;
    if is_plain {
        return None;
    }
    let shares: Vec<String> = solute
        .shares()
        .map(|(salt, share)| format!("{} % {}", number(100.0 * share, 0), salt.formula()))
        .collect();
    Some(visitor.words.fill("bench.blend-of", &[("shares", &shares.join(", "))]))
}

/// What may be done with a reading that was logged.
fn after(visitor: &Visitor, tank: &str, logged: &LoggedReading) -> After {
    let reading = &logged.reading;
    let mut another =
        format!("/bench?tank={}&sample={}", crate::encoded::form_encoded(tank), logged.sample());
    if let Some(level) = reading.level.as_ref().filter(|level| **level != SamplePoint::PlantTap) {
        another = format!("{another}&level={}", crate::encoded::form_encoded(level.word()));
    }
    if let Some(occasion) = reading.occasion {
        another = format!("{another}&occasion={occasion}");
    }
    // Another instrument than the one just read, where there is one.
    let others = &visitor.app.yard.instruments;
    let other = others.iter().find(|one| Some(&one.id) != reading.instrument.as_ref());
    if let Some(other) = other {
        another = format!("{another}&instrument={}", crate::encoded::form_encoded(&other.id));
    }
    let trim = format!("/bench/trim?reading={}", logged.event);
    After { another_url: visitor.app.url(&another), trim_url: (tank == TAP).then(|| visitor.app.url(&trim)) }
}

/// What the instruments that read a sample say together, once there are two.
fn together(visitor: &Visitor, books: &Books, tank: &str, sample: EventId) -> Option<Together> {
    let read = books.bench.of_sample(sample);
    let said: Vec<Said> =
        read.iter().map(|(_, strength, u)| Said { strength: *strength, uncertainty: *u }).collect();
    let found = consensus(&said).ok()?;
    let words = visitor.words;
    let within = number(K95 * found.uncertainty, 1);
    let values =
        [("strength", &*number(found.strength, 1)), ("within", &within), ("count", &read.len().to_string())];
    let headline = words.fill("bench.together", &values);
    let lines = read.iter().map(|(id, strength, u)| {
        let name = visitor.teller().instrument_called(id);
        format!("{name}: {} % ± {}", number(*strength, 1), number(K95 * u, 1))
    });
    let warning = match found.outlier {
        Some(place) => {
            let name = visitor.teller().instrument_called(&read[place].0);
            Some(words.fill("bench.outlier", &[("instrument", &name)]))
        }
        None if !found.is_consistent => Some(words.say("bench.disagree").to_string()),
        None => None,
    };
    let verdict = in_a_word(visitor, tank, found.strength, found.uncertainty);
    let headline = verdict.map_or(headline.clone(), |verdict| format!("{headline} {verdict}"));
    Some(Together { headline, lines: lines.collect(), warning })
}

/// A verdict in a word, for a strength with its standard uncertainty.
pub(super) fn in_a_word(
    visitor: &Visitor,
    tank: &str,
    percent: f64,
    uncertainty: f64,
) -> Option<&'static str> {
    let of = chemistry::MassFraction::from_percent;
    let known = Known {
        strength: of(percent).ok()?,
        standard_uncertainty: of(uncertainty).ok()?,
        degrees_of_freedom: None,
    };
    let verdict =
        visitor.app.yard.spec(tank).band().judge_at_risk(&known, visitor.app.yard.bench.risk).ok()?;
    Some(visitor.words.say(match verdict {
        Conformity::InSpec => "bench.word-in",
        Conformity::TooWeak => "bench.word-weak",
        Conformity::TooStrong => "bench.word-strong",
        Conformity::CannotTell => "bench.word-cannot",
    }))
}

/// Further from what a tank is thought to hold than this, and than its own interval, a reading is taken once more. Our
/// own figure.
const JUMP_PERCENT: f64 = 0.5;
/// What a tank is thought to hold is known when it is within this, per cent by mass. Our own figure.
const JUMP_KNOWN: f64 = 1.0;

fn tell(visitor: &Visitor, read: &Read<'_>, found: &Measured) -> Result<Told, bench::Error> {
    let (words, spec) = (visitor.words, visitor.app.yard.spec(&read.tank));
    let band = spec.band();
    let known = found.known()?;
    let (verdict, chances) =
        (band.judge_at_risk(&known, visitor.app.yard.bench.risk)?, band.chances(&known)?);
    let (key, next, mark) = match verdict {
        Conformity::InSpec => ("bench.in", "bench.next-in", "✓"),
        Conformity::TooWeak => ("bench.too_weak", "bench.next-out", "▲"),
        Conformity::TooStrong => ("bench.too_strong", "bench.next-out", "▲"),
        Conformity::CannotTell => ("bench.cannot_tell", "bench.next-cannot_tell", "?"),
    };
    let (key, next, mark) =
        if read.is_plain { (key, next, mark) } else { ("bench.blend", "bench.next-blend", "•") };
    let is_out = read.is_plain && matches!(verdict, Conformity::TooWeak | Conformity::TooStrong);
    let strength = found.brine.strength().percent();
    let within = number(found.expanded.half_width, 1);
    let share = |chance: f64| number(100.0 * chance, 0);
    let limit = |limit: chemistry::MassFraction| number(limit.percent(), 1);
    let doubt = found
        .doubt
        .as_ref()
        .map(|why| words.fill("bench.doubtful", &[("why", &visitor.display.tell(&why.message()))]));
    // A tank does not change by itself: a reading far from the last is taken once more.
    let books = visitor.app.books().ok();
    let before = books.as_ref().and_then(|books| {
        let other = books.estimate(&read.tank)?.strength()?;
        (other.uncertainty.percent() < JUMP_KNOWN).then_some(other.value)
    });
    let jump = before.filter(|before| {
        let apart = (before.percent() - strength).abs();
        apart > JUMP_PERCENT + found.expanded.half_width
    });
    let jump = jump.map(|before| words.fill("bench.jump", &[("before", &number(before.percent(), 1))]));
    let right = (read.tank != TAP).then(|| {
        format!(
            "/put-right?tank={}&strength_pct={strength:.2}&uncertainty_pct={:.2}",
            crate::encoded::form_encoded(&read.tank),
            found.expanded.half_width
        )
    });
    Ok(Told {
        mark,
        headline: words.fill(key, &[("strength", &number(strength, 1)), ("within", &within)]),
        is_out,
        next: words.say(if is_out && jump.is_some() { "bench.next-again" } else { next }).to_string(),
        why: if !read.is_plain {
            String::new()
        } else {
            words.fill(
                "bench.why",
                &[
                    ("low", &limit(spec.low)),
                    ("high", &limit(spec.high)),
                    ("in", &share(chances.in_spec)),
                    ("weak", &share(chances.too_weak)),
                    ("strong", &share(chances.too_strong)),
                ],
            )
        },
        doubt,
        jump,
        right_url: right.filter(|_| is_out).map(|right| visitor.app.url(&right)),
        reason: if read.is_plain { visitor.teller().spec_reason(&spec) } else { String::new() },
        budget: found
            .budget
            .components()
            .iter()
            .map(|line| {
                (words.say(&format!("bench-of.{}", line.name)).to_string(), number(line.contribution(), 3))
            })
            .collect(),
        together: words.fill("bench.budget-all", &[("k", &number(found.expanded.coverage_factor, 2))]),
        within: number(found.expanded.half_width, 2),
    })
}
