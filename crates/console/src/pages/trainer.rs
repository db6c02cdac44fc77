//! The trainer's page: pick an exercise, drive time, break things, and talk it over afterwards.

pub(crate) mod debrief;

use std::net::SocketAddr;
use std::sync::Arc;

use askama::Template;
use axum::Extension;
use axum::extract::{ConnectInfo, OriginalUri, Request, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use chemistry::MassFraction;
use event::{Body, Event, EventId, Recorded};
use jiff::SignedDuration;
use message::{Message, Tell, message};
use plant::practice::What;
use plant::scenario::{Broken, KINDS};
use quantity::kilograms;
use report::Words;
use report::display::number;
use report::run_words::RunTeller;
use serde::Deserialize;
use store::Ledger;
use tower::ServiceExt;

use self::debrief::{ResultView, result, result_view};
use super::parts;
use crate::access::{Caller, Role};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::form_messages::{bad_choice, bad_value};
use crate::languages;
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::people::Who;
use crate::practice::{PracticeError, Running, SPEEDS, Trainer, exercises};
use crate::state::App;
use crate::ways::Ways;

/// Results that are listed.
const LISTED: usize = 40;

/// The form that begins an exercise.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct BeginForm {
    who: String,
    exercise: String,
    speed: u32,
}

/// The form that drives the exercise that is running.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct DriveForm {
    /// What to do: `pause`, `go`, `speed`, `rewind`, `break` or `end`.
    act: String,
    #[serde(default)]
    much: String,
    #[serde(default)]
    kind: String,
    #[serde(default)]
    at: String,
    #[serde(default)]
    size: String,
    told: Option<String>,
}

/// Query of the page: trainee whose results are listed; everyone's when not given.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct WhoQuery {
    who: Option<String>,
}

struct ExerciseView {
    id: String,
    title: String,
    task: String,
    for_trainer: String,
}

struct SpeedView {
    speed: u32,
    is_now: bool,
}

struct RunningView {
    who: String,
    title: String,
    for_trainer: String,
    clock: String,
    pace: String,
    is_paused: bool,
    is_over: bool,
    speeds: Vec<SpeedView>,
    modbus: String,
    trainee_url: String,
    kinds: Vec<(String, String)>,
    log: Vec<String>,
    truth: Vec<String>,
}

#[derive(Template)]
#[template(path = "trainer.html")]
struct TrainerPage {
    w: Words,
    c: PageFrame,
    title: String,
    running: Option<RunningView>,
    exercises: Vec<ExerciseView>,
    speeds: Vec<SpeedView>,
    results: Vec<ResultView>,
    people: Vec<(String, String)>,
    whose: Option<String>,
    all_url: String,
    begin_url: String,
    drive_url: String,
    form: BeginForm,
    problems: Vec<String>,
}

/// An exercise goes back, or a fault comes, by so many minutes at most.
const LONGEST_MIN: f64 = 600.0;

fn trainer(visitor: &Visitor) -> Result<&Trainer, PageError> {
    visitor.app.trainer.as_ref().ok_or_else(|| PageError::missing(visitor))
}

fn failed(visitor: &Visitor, error: &PracticeError) -> PageError {
    match error {
        PracticeError::Store(error) => PageError::store(visitor, error),
        other => PageError::failed(visitor, &other.message()),
    }
}

/// Hands a request to the trainee's own console.
pub(crate) async fn hand_over(
    visitor: Visitor,
    State(app): State<Arc<App>>,
    OriginalUri(uri): OriginalUri,
    request: Request,
) -> Response {
    let Some(running) = app.trainer.as_ref().and_then(Trainer::running) else {
        let to = app.url("/trainer");
        return Redirect::to(&to).into_response();
    };
    let caller = match visitor.caller.who {
        // On the practice plant everybody at a device of the yard may try; no act of it is signed.
        Who::Device(_) => Caller { role: Role::Operator, who: Who::Nobody, signed: None },
        Who::Person(_) | Who::Nobody => visitor.caller,
    };
    // What this router has noted of the path must not reach the other: only who asks goes along.
    let peer = request.extensions().get::<ConnectInfo<SocketAddr>>().copied();
    let (parts, body) = request.into_parts();
    let mut handed = Request::new(body);
    *handed.method_mut() = parts.method;
    *handed.uri_mut() = uri;
    *handed.headers_mut() = parts.headers;
    if let Some(peer) = peer {
        handed.extensions_mut().insert(peer);
    }
    handed.extensions_mut().insert(caller);
    match running.router().oneshot(handed).await {
        Ok(answer) => answer,
        Err(never) => match never {},
    }
}

/// Shows what goes on, or what can begin.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<WhoQuery>,
) -> Result<Html<String>, PageError> {
    let page = page(&visitor, BeginForm::default(), Vec::new(), query.who)?;
    render(&visitor, &page)
}

/// Begins an exercise.
pub(crate) async fn begin(
    visitor: Visitor,
    Extension(ways): Extension<Ways>,
    FormOf(form): FormOf<BeginForm>,
) -> Result<Response, PageError> {
    let trainer = trainer(&visitor)?;
    let all = exercises().map_err(|error| failed(&visitor, &error))?;
    let mut problems: Vec<String> = parts::author_problem(&visitor, &form.who).into_iter().collect();
    let exercise = all.into_iter().find(|one| one.id == form.exercise);
    if exercise.is_none() {
        problems.push(visitor.words.say("trainer.which").to_string());
    }
    if !SPEEDS.contains(&form.speed) {
        problems.push(visitor.display.tell(&bad_choice("speed", form.speed, SPEEDS)));
    }
    let (Some(exercise), true) = (exercise, problems.is_empty()) else {
        let page = page(&visitor, form, problems, None)?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response());
    };
    let who = form.who.trim().to_string();
    trainer
        .begin(&visitor.app, exercise, (who, form.speed), ways.router)
        .await
        .map_err(|error| failed(&visitor, &error))?;
    Ok(Redirect::to(&visitor.app.url("/trainer")).into_response())
}

/// Drives what goes on.
pub(crate) async fn drive(visitor: Visitor, FormOf(form): FormOf<DriveForm>) -> Result<Response, PageError> {
    let trainer = trainer(&visitor)?;
    let back = Redirect::to(&visitor.app.url("/trainer")).into_response();
    let Some(running) = trainer.running() else { return Ok(back) };
    let wrong = |what: Message| PageError::bad_form(&visitor, &what);
    let minutes_of = |value: &str| {
        let range = message!("console.accepted.range", least = 0, most = LONGEST_MIN);
        message!("console.form.value", field = "minutes", value = value, accepted = range)
    };
    match form.act.as_str() {
        "pause" => running.plant.clock.pause(true),
        "go" if !running.plant.is_over() => running.plant.clock.pause(false),
        "go" => {}
        "speed" => {
            let speed = form.much.parse().ok().filter(|speed| SPEEDS.contains(speed));
            trainer.set_speed(speed.ok_or_else(|| wrong(bad_choice("speed", form.much.as_str(), SPEEDS)))?);
        }
        "rewind" => {
            let minutes =
                form.much.parse::<f64>().ok().filter(|minutes| (0.0..=LONGEST_MIN).contains(minutes));
            let minutes = minutes.ok_or_else(|| wrong(minutes_of(&form.much)))?;
            let reason = visitor.words.say("trainer.went-back");
            running.rewind(minutes, reason).map_err(|error| PageError::store(&visitor, &error))?;
        }
        "break" => {
            let number = |text: &str| -> Result<Option<f64>, PageError> {
                if text.trim().is_empty() {
                    return Ok(None);
                }
                entry::parse_number(text).map(Some).map_err(|(what, accepted)| {
                    wrong(message!(
                        "console.form.bad",
                        field = "much",
                        value = text,
                        problem = what,
                        accepted = accepted
                    ))
                })
            };
            let at_min = number(&form.much)?.unwrap_or(0.0);
            if !(0.0..=LONGEST_MIN).contains(&at_min) {
                return Err(wrong(minutes_of(&form.much)));
            }
            let at = Some(form.at.trim().to_string()).filter(|at| !at.is_empty());
            let broken = Broken { at_min, kind: form.kind.clone(), at, much: number(&form.size)? };
            let begun = running.plant.now().begin(&broken, form.told.is_some());
            begun.map_err(|error| wrong(error.message()))?;
        }
        "end" => {
            let row = end(&visitor, trainer, &running).await?;
            return Ok(Redirect::to(&visitor.app.url(&format!("/trainer/debrief?row={row}"))).into_response());
        }
        other => return Err(wrong(bad_value("act", other, "console.accepted.offered"))),
    }
    Ok(back)
}

/// Ends the exercise, keeps what came of it, and answers its row.
async fn end(visitor: &Visitor, trainer: &Trainer, running: &Arc<Running>) -> Result<u64, PageError> {
    running.plant.clock.pause(true);
    let plant = Arc::clone(&running.plant);
    let debrief = tokio::task::spawn_blocking(move || plant.now().debrief()).await;
    let debrief = match debrief {
        Ok(Ok(debrief)) => debrief,
        Ok(Err(error)) => return Err(PageError::failed(visitor, &error.message())),
        Err(error) => return Err(PageError::broken(visitor, &error)),
    };
    let body = Body::PracticeRun(result(visitor, running, &debrief)?);
    let now = jiff::Timestamp::now();
    let event = Event {
        id: EventId(uuid::Uuid::now_v7()),
        occurred_at: now,
        author: running.plant.who.clone(),
        device: "practice".into(),
        body,
    };
    let people = trainer.people().map_err(|error| failed(visitor, &error))?;
    let kept = tokio::task::spawn_blocking(move || people.append(&[event], now)).await;
    let row = match kept {
        Ok(Ok(places)) => places.first().map_or(0, |place| place.seq()),
        Ok(Err(error)) => return Err(PageError::store(visitor, &error)),
        Err(error) => return Err(PageError::broken(visitor, &error)),
    };
    trainer.stop();
    Ok(row)
}

fn page(
    visitor: &Visitor,
    form: BeginForm,
    problems: Vec<String>,
    whose: Option<String>,
) -> Result<TrainerPage, PageError> {
    let trainer = trainer(visitor)?;
    let words = visitor.words;
    let all = exercises().map_err(|error| failed(visitor, &error))?;
    let running = trainer.running().map(|running| running_view(visitor, &running));
    let first = if form.speed == 0 { trainer.first_speed() } else { form.speed };
    let people = trainer.people().map_err(|error| failed(visitor, &error))?;
    let kept = people.events_after(0).map_err(|error| PageError::store(visitor, &error))?;
    let mut names: Vec<String> = kept.iter().map(|recorded| recorded.event.author.clone()).collect();
    names.sort();
    names.dedup();
    let is_asked = |recorded: &&Recorded| whose.as_ref().is_none_or(|who| recorded.event.author == *who);
    let title = match &running {
        Some(running) => words.fill("trainer.goes-on", &[("title", &running.title)]),
        None => words.say("trainer.none").to_string(),
    };
    let address = |who: &str| {
        let encoded: String = who.bytes().map(|byte| format!("%{byte:02X}")).collect();
        visitor.app.url(&format!("/trainer?who={encoded}"))
    };
    Ok(TrainerPage {
        c: PageFrame::new(visitor, Place::Elsewhere, words.say("trainer.title"), "/trainer"),
        w: words,
        title,
        running,
        exercises: all
            .into_iter()
            .map(|one| {
                let read = languages::exercise(words.language(), &one);
                ExerciseView {
                    title: read.title.clone(),
                    task: read.task.clone(),
                    for_trainer: read.for_trainer.clone(),
                    id: one.id,
                }
            })
            .collect(),
        speeds: speeds(first),
        results: kept
            .iter()
            .rev()
            .filter(is_asked)
            .take(LISTED)
            .filter_map(|recorded| result_view(visitor, recorded))
            .collect(),
        people: names.into_iter().map(|name| (address(&name), name)).collect(),
        whose,
        all_url: visitor.app.url("/trainer"),
        begin_url: visitor.app.url("/trainer/begin"),
        drive_url: visitor.app.url("/trainer/drive"),
        form,
        problems,
    })
}

fn speeds(now: u32) -> Vec<SpeedView> {
    SPEEDS.into_iter().map(|speed| SpeedView { speed, is_now: speed == now }).collect()
}

fn running_view(visitor: &Visitor, running: &Running) -> RunningView {
    let (words, display) = (visitor.words, &visitor.display);
    let plant = &running.plant;
    let session = plant.now();
    let layout = session.plant().layout().clone();
    let teller = RunTeller { words: &words, display, layout: &layout };
    let at = |seconds: f64| display.duration(SignedDuration::from_secs_f64(seconds));
    let truth = layout.vessels.iter().enumerate().map(|(place, vessel)| {
        let holds = session.plant().holds(place);
        let strength = MassFraction::from_fraction(holds.strength.clamp(0.0, 1.0));
        let values = [
            ("vessel", vessel.id.clone()),
            ("strength", strength.map_or_else(|_| String::new(), |w| display.strength(w))),
            ("level", number(100.0 * holds.level, 0)),
            ("salt", display.mass(kilograms(holds.undissolved_kg))),
        ];
        words.fill_with("trainer.truth", &values)
    });
    let pace = if plant.is_over() {
        words.say("practice.over").to_string()
    } else if plant.clock.is_paused() {
        words.say("practice.paused").to_string()
    } else {
        super::practice::pace(visitor, plant.clock.speed())
    };
    let log = session.log().iter().rev().take(30);
    RunningView {
        who: plant.who.clone(),
        title: languages::exercise(visitor.words.language(), session.exercise()).title.clone(),
        for_trainer: languages::exercise(visitor.words.language(), session.exercise()).for_trainer.clone(),
        clock: words.fill("practice.clock", &[("time", &at(session.seconds()))]),
        pace,
        is_paused: plant.clock.is_paused(),
        is_over: plant.is_over(),
        speeds: speeds(plant.clock.speed()),
        modbus: running.modbus.to_string(),
        trainee_url: running.app.url("/plant"),
        kinds: KINDS
            .iter()
            .map(|(kind, much, usual)| {
                let label = words.say(&format!("break.{kind}")).to_string();
                let size =
                    if much.is_empty() { String::new() } else { format!(" ({}, {usual})", words.say(much)) };
                ((*kind).to_string(), format!("{label}{size}"))
            })
            .collect(),
        log: log
            .map(|entry| {
                let hidden = matches!(entry.what, What::Began { told: false, .. });
                let note = if hidden { words.say("trainer.hidden") } else { "" };
                format!("{}  {}{note}", at(entry.seconds), teller.what(&entry.what))
            })
            .collect(),
        truth: truth.collect(),
    }
}
