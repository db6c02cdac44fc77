//! What came of an exercise: kept, listed, and shown to talk it over.

use askama::Template;
use axum::response::Html;
use event::{Body, PracticeRun, Recorded};
use jiff::SignedDuration;
use plant::practice::Debrief;
use quantity::kilograms;
use report::Words;
use report::display::number;
use report::run_words::RunTeller;
use serde::Deserialize;
use store::Ledger;

use crate::error::{PageError, render};
use crate::extract::QueryOf;
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::pages::trainer::{failed, trainer};
use crate::practice::Running;

/// Query of the page: row of the result in the ledger of practice runs.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ResultQuery {
    row: u64,
}

pub(super) struct ResultView {
    pub(super) when: String,
    pub(super) who: String,
    pub(super) title: String,
    pub(super) line: String,
    pub(super) url: String,
}

#[derive(Template)]
#[template(path = "debrief.html")]
pub(super) struct DebriefPage {
    pub(super) w: Words,
    pub(super) c: PageFrame,
    pub(super) title: String,
    pub(super) line: String,
    pub(super) rows: Vec<(String, String, String)>,
    pub(super) verdict: String,
    pub(super) breakages: Vec<String>,
    pub(super) timeline: Vec<String>,
    pub(super) back_url: String,
}

/// Result of an exercise, as it is saved.
pub(super) fn result(
    visitor: &Visitor,
    running: &Running,
    debrief: &Debrief,
) -> Result<PracticeRun, PageError> {
    let session = running.plant.now();
    let layout = session.plant().layout().clone();
    let teller = RunTeller { words: &visitor.words, display: &visitor.display, layout: &layout };
    let at = |seconds: f64| visitor.display.duration(SignedDuration::from_secs_f64(seconds));
    let mut lines: Vec<(f64, String)> =
        session.log().iter().map(|entry| (entry.seconds, teller.what(&entry.what))).collect();
    // What the trainee answered on the run sheet belongs between.
    let books = running.app.books().map_err(|error| PageError::store(visitor, &error))?;
    let begin = running.plant.clock.begin();
    for run in books.runs.newest_first() {
        for answer in &run.answers {
            let seconds = answer.at.duration_since(begin).as_secs_f64();
            let word = visitor.words.say(&format!("answer.{}", answer.answer)).to_string();
            let step = answer.step.replace('_', " ");
            let line = visitor.words.fill("trainer.sheet-line", &[("step", &step), ("answer", &word)]);
            lines.push((seconds, line));
        }
    }
    lines.sort_by(|a, b| a.0.total_cmp(&b.0));
    let timeline = lines.iter().map(|(seconds, line)| format!("{}  {line}", at(*seconds)));
    let hours = |seconds: f64| seconds / 3600.0;
    let breakages = debrief.noticed.iter().map(|one| {
        let since = |time: Option<f64>| {
            let never = || visitor.words.say("debrief.never").to_string();
            time.map_or_else(never, |time| visitor.display.short_time(time - one.began))
        };
        let values = [
            ("fault", teller.fault(&one.fault)),
            ("noticed", since(one.noticed)),
            ("mended", since(one.mended)),
        ];
        let values = values.each_ref().map(|(name, text)| (*name, text.as_str()));
        visitor.words.fill("debrief.breakage", &values)
    });
    let breakages = breakages.collect::<Vec<_>>().join("\n");
    let noticed = debrief.noticed.iter().filter(|one| one.noticed.is_some()).count();
    let exercise = session.exercise();
    Ok(PracticeRun {
        exercise: exercise.id.clone(),
        title: exercise.title.clone(),
        length_h: hours(debrief.seconds),
        in_band_h: debrief.run.in_band.map(hours),
        broke_number: debrief.noticed.len() as f64,
        noticed_number: noticed as f64,
        ruined_number: debrief.ruined.len() as f64,
        dangerous_number: debrief.dangerous as f64,
        made_kg: debrief.run.made_kg,
        over_kg: debrief.run.over_kg,
        spilt_kg: debrief.run.spilt_kg,
        used_salt_kg: debrief.run.salt_kg,
        dry_h: hours(debrief.run.dry_seconds),
        other_in_band_h: debrief.reference.in_band.map(hours),
        other_made_kg: debrief.reference.made_kg,
        other_used_salt_kg: debrief.reference.salt_kg,
        breakages,
        timeline: timeline.collect::<Vec<_>>().join("\n"),
    })
}

pub(super) fn result_view(visitor: &Visitor, recorded: &Recorded) -> Option<ResultView> {
    let Body::PracticeRun(run) = &recorded.event.body else { return None };
    let values = [
        ("noticed", number(run.noticed_number, 0)),
        ("broke", number(run.broke_number, 0)),
        ("ruined", number(run.ruined_number, 0)),
        ("dangerous", number(run.dangerous_number, 0)),
    ];
    let values = values.each_ref().map(|(name, text)| (*name, text.as_str()));
    Some(ResultView {
        when: visitor.display.time(recorded.event.occurred_at),
        who: recorded.event.author.clone(),
        title: run.title.clone(),
        line: visitor.words.fill("trainer.result", &values),
        url: visitor.app.url(&format!("/trainer/debrief?row={}", recorded.seq)),
    })
}

/// Shows the debrief of one result.
pub(crate) async fn debrief(
    visitor: Visitor,
    QueryOf(query): QueryOf<ResultQuery>,
) -> Result<Html<String>, PageError> {
    let people = trainer(&visitor)?.people().map_err(|error| failed(&visitor, &error))?;
    let kept = people.events_after(query.row.saturating_sub(1));
    let kept = kept.map_err(|error| PageError::store(&visitor, &error))?;
    let Some(recorded) = kept.first().filter(|recorded| recorded.seq == query.row) else {
        return Err(PageError::missing(&visitor));
    };
    let Body::PracticeRun(run) = &recorded.event.body else { return Err(PageError::missing(&visitor)) };
    let (words, display) = (visitor.words, &visitor.display);
    let hours = |value: f64| display.duration(SignedDuration::from_secs_f64(3600.0 * value));
    let maybe = |value: Option<f64>| value.map_or_else(|| words.say("debrief.never").to_string(), hours);
    let mass = |kg: f64| display.mass(kilograms(kg));
    let row = |key: &str, one: String, other: String| (words.say(key).to_string(), one, other);
    let rows = vec![
        row("debrief.in-band", maybe(run.in_band_h), maybe(run.other_in_band_h)),
        row("debrief.made", mass(run.made_kg), mass(run.other_made_kg)),
        row("debrief.over", mass(run.over_kg), String::new()),
        row("debrief.salt", mass(run.used_salt_kg), mass(run.other_used_salt_kg)),
        row("debrief.spilt", mass(run.spilt_kg), String::new()),
        row("debrief.dry", display.short_time(3600.0 * run.dry_h), String::new()),
        row("debrief.ruined", number(run.ruined_number, 0), "0".to_string()),
        row("debrief.dangerous", number(run.dangerous_number, 0), "0".to_string()),
        row(
            "debrief.noticed",
            format!("{}/{}", number(run.noticed_number, 0), number(run.broke_number, 0)),
            String::new(),
        ),
    ];
    let values =
        [("who", recorded.event.author.as_str()), ("when", &display.time(recorded.event.occurred_at))];
    let page = DebriefPage {
        c: PageFrame::new(&visitor, Place::Elsewhere, words.say("debrief.title"), "/trainer"),
        w: words,
        title: run.title.clone(),
        line: words.fill("debrief.line", &values),
        verdict: {
            let values = [
                ("length", hours(run.length_h)),
                ("made", mass(run.made_kg)),
                ("over", mass(run.over_kg)),
                ("noticed", number(run.noticed_number, 0)),
                ("broke", number(run.broke_number, 0)),
                ("ruined", number(run.ruined_number, 0)),
                ("dangerous", number(run.dangerous_number, 0)),
            ];
            words.fill_with("debrief.verdict", &values)
        },
        rows,
        breakages: run.breakages.lines().map(str::to_string).collect(),
        timeline: run.timeline.lines().map(str::to_string).collect(),
        back_url: visitor.app.url("/trainer"),
    };
    render(&visitor, &page)
}
