//! The calibration record: who held the panel against the bench, when, with what, and where it ended. Made to print.

use askama::Template;
use axum::response::Html;
use bench::instrument::reading_decimals;
use event::{EventId, PanelCheck};
use report::Words;
use report::display::number;
use serde::Deserialize;
use site::Instrument;
use yard::bench_log::{Episode, TrimAct, TrimEntry, rules};
use yard::stock::Books;

use super::{Leaf, leaves};
use crate::error::{PageError, render};
use crate::extract::QueryOf;
use crate::page_frame::{Link, PageFrame, Place, Visitor};

/// Records offered beside the one shown.
const OFFERED: usize = 12;

/// Which record: the ledger's row of its last entry.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RecordQuery {
    row: Option<u64>,
}

struct Row {
    seq: u64,
    at: String,
    author: String,
    what: String,
    number: String,
    panel: String,
    bench: String,
    difference: String,
}

struct Shown {
    outcome: String,
    is_open: bool,
    facts: Vec<(String, String)>,
    rows: Vec<Row>,
    instruments: Vec<(String, String)>,
    rules: Vec<(String, String)>,
    chain: String,
}

#[derive(Template)]
#[template(path = "bench_record.html")]
struct RecordPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    shown: Option<Shown>,
    others: Vec<Link>,
}

/// Shows one record; the newest where none is asked for.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<RecordQuery>,
) -> Result<Html<String>, PageError> {
    let say = |error| PageError::store(&visitor, &error);
    let books = visitor.app.books().map_err(say)?;
    let head = visitor.app.ledger.head().map_err(say)?;
    let (app, words) = (&visitor.app, visitor.words);
    let episodes = books.bench.episodes(&app.yard);
    let chosen = match query.row {
        Some(row) => {
            let found = episodes.iter().find(|one| last(one).is_some_and(|entry| entry.seq == row));
            Some(found.ok_or_else(|| PageError::missing(&visitor))?)
        }
        None => episodes.last(),
    };
    let link = |episode: &Episode<'_>| {
        let entry = last(episode)?;
        Some(Link {
            label: visitor.display.time(entry.at),
            url: app.url(&format!("/bench/record?row={}", entry.seq)),
            current: chosen.and_then(last).is_some_and(|shown| shown.seq == entry.seq),
        })
    };
    let page = RecordPage {
        c: PageFrame::new(&visitor, Place::Bench, words.say("record.title"), "/bench/record"),
        w: words,
        leaves: leaves(&visitor, Leaf::Record),
        title: words.fill("record.heading", &[("yard", &app.yard.name)]),
        others: episodes.iter().rev().take(OFFERED).filter_map(link).collect(),
        shown: chosen.map(|episode| tell(&visitor, &books, episode, &head.hash.to_string())),
    };
    render(&visitor, &page)
}

fn last<'a>(episode: &Episode<'a>) -> Option<&'a TrimEntry> {
    episode.entries.last()
}

fn tell(visitor: &Visitor, books: &Books, episode: &Episode<'_>, hash: &str) -> Shown {
    let (words, teller, yard) = (visitor.words, visitor.teller(), &visitor.app.yard);
    let checks = || {
        episode.entries.iter().filter_map(|entry| match &entry.act {
            TrimAct::Look(check) => Some(check),
            TrimAct::Set(_) => None,
        })
    };
    let outcome = match episode.agreed {
        Some((difference, within)) => words
            .fill("record.agreed", &[("difference", &number(difference, 2)), ("within", &number(within, 2))]),
        None => words.say("record.open").to_string(),
    };
    let mut authors: Vec<&str> = episode.entries.iter().map(|entry| entry.author.as_str()).collect();
    authors.sort_unstable();
    authors.dedup();
    let fact = |key: &str, value: String| (words.say(key).to_string(), value);
    let mut facts = vec![fact("record.by", authors.join(", "))];
    if let (Some(first), Some(last)) = (episode.entries.first(), last(episode)) {
        let (from, to) = (visitor.display.day(first.at), visitor.display.day(last.at));
        facts.push(fact("record.when", if from == to { to } else { format!("{from}, {to}") }));
    }
    if let (Some(before), Some(after)) = (checks().next(), checks().next_back()) {
        let values = |check: &PanelCheck| {
            words.fill(
                "record.state",
                &[
                    ("name", &yard.trim.name),
                    ("number", &teller.trim_number(check.trim_number)),
                    ("difference", &number(check.panel_pct - check.bench_pct, 2)),
                ],
            )
        };
        facts.push(fact("record.before", values(before)));
        facts.push(fact("record.after", values(after)));
    }
    let mut used: Vec<String> = checks().flat_map(|check| read_with(books, check)).collect();
    used.sort_unstable();
    used.dedup();
    let used: Vec<&Instrument> = used.iter().filter_map(|id| yard.instrument(id)).collect();
    Shown {
        outcome,
        is_open: episode.agreed.is_none(),
        facts,
        rows: episode.entries.iter().map(|entry| row(visitor, entry)).collect(),
        instruments: used.into_iter().map(|one| instrument(visitor, books, one, episode)).collect(),
        rules: rule_lines(visitor),
        chain: words.fill("record.chain", &[("seq", &books.last_seq.to_string()), ("hash", &hash[..16])]),
    }
}

/// What the sample of a check was read with: one, or those of its readings.
fn read_with(books: &Books, check: &PanelCheck) -> Vec<String> {
    if let Some(one) = &check.instrument {
        return vec![one.clone()];
    }
    let sample = check.reading.as_ref().and_then(|id| id.parse::<EventId>().ok());
    let of_it = sample.map(|sample| books.bench.of_sample(sample)).unwrap_or_default();
    of_it.into_iter().map(|(instrument, ..)| instrument).collect()
}

fn row(visitor: &Visitor, entry: &TrimEntry) -> Row {
    let (words, teller) = (visitor.words, visitor.teller());
    let (what, number_shown, panel, bench, difference) = match &entry.act {
        TrimAct::Look(check) => (
            words.say("record.look").to_string(),
            teller.trim_number(check.trim_number),
            number(check.panel_pct, 2),
            format!("{} ± {}", number(check.bench_pct, 2), number(check.uncertainty_pct, 2)),
            number(check.panel_pct - check.bench_pct, 2),
        ),
        TrimAct::Set(_) => {
            (teller.trim_entry(entry), String::new(), String::new(), String::new(), String::new())
        }
    };
    Row {
        seq: entry.seq,
        at: visitor.display.time(entry.at),
        author: entry.author.clone(),
        what,
        number: number_shown,
        panel,
        bench,
        difference,
    }
}

/// An instrument with its last check before the record's end.
fn instrument(
    visitor: &Visitor,
    books: &Books,
    instrument: &Instrument,
    episode: &Episode<'_>,
) -> (String, String) {
    let words = visitor.words;
    let scale = words.say(&format!("scale.{}", instrument.scale)).to_string();
    let ended = last(episode).map(|entry| entry.at);
    let check =
        books.bench.checks(&instrument.id).iter().rev().find(|check| ended.is_none_or(|end| check.at <= end));
    let decimals = reading_decimals(instrument.card.resolution);
    let checked = check.map_or_else(
        || words.say("record.no-check").to_string(),
        |check| {
            let key = if check.is_adjusted { "record.check-set" } else { "record.check" };
            words.fill(
                key,
                &[
                    ("at", &visitor.display.time(check.at)),
                    ("author", &check.author),
                    ("error", &number(check.error, decimals)),
                ],
            )
        },
    );
    let values = [
        ("scale", scale.as_str()),
        ("resolution", &number(instrument.card.resolution, decimals)),
        ("checked", &checked),
    ];
    (instrument.name.clone(), words.fill("record.instrument", &values))
}

/// What the record was judged by.
fn rule_lines(visitor: &Visitor) -> Vec<(String, String)> {
    let (words, yard) = (visitor.words, &visitor.app.yard);
    let (spec, rules) = (yard.made_spec(), rules(yard));
    let pct = |strength: chemistry::MassFraction| number(strength.percent(), 1);
    let fact = |key: &str, value: String| (words.say(key).to_string(), value);
    vec![
        fact(
            "record.target",
            format!(
                "{} ({})",
                visitor.display.strength(spec.target),
                words.fill(
                    "unit.range",
                    &[("low", &pct(spec.low)), ("high", &visitor.display.strength(spec.high))]
                )
            ),
        ),
        fact(
            "record.steps",
            words.fill(
                "record.steps-are",
                &[
                    ("largest", &number(100.0 * rules.largest_step, 1)),
                    ("minutes", &number(rules.wait_minutes().ceil(), 0)),
                ],
            ),
        ),
        fact(
            "record.agree",
            words.fill("record.agree-is", &[("panel", &number(yard.trim.panel_uncertainty_percent, 2))]),
        ),
    ]
}
