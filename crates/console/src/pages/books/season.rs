//! The report of a season, of a storm, of any stretch: page, print, CSV and spreadsheet.

use accounts::{Accounts, Journal, Period};
use askama::Template;
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};
use jiff::Timestamp;
use message::message;
use report::Words;
use report::table::Table;
use serde::Deserialize;

use super::{Leaf, as_day, as_moment, day, leaves, ledger, this_season, views};
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::form_messages::bad_value;
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::entry::{self, Asks, Form, Refused, Typed};
use crate::pages::moments;
use crate::pages::parts;
use crate::pages::table_view::TableView;

/// The stretch of time asked for: days, or a storm by its moments.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct PeriodQuery {
    /// First day of the report, in the yard's time; the season's first when not given.
    from: Option<String>,
    /// Last day of the report, counted whole, in the yard's time.
    until: Option<String>,
    /// A storm's first and last moment, UTC.
    begin: Option<String>,
    end: Option<String>,
    name: Option<String>,
    /// csv, or xlsx.
    r#as: Option<String>,
    /// Which table, for CSV.
    table: Option<String>,
    saved: Option<u64>,
}

/// A fact at the top of a report.
struct Fact {
    value: String,
    label: String,
}

#[derive(Template)]
#[template(path = "report.html")]
struct ReportPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    period: String,
    facts: Vec<Fact>,
    lines: Vec<String>,
    tables: Vec<TableView>,
    /// Days of the form; none for a storm.
    days: Option<(String, String)>,
    form_url: String,
    xlsx_url: String,
    csvs: Vec<Link>,
}

/// Shows the season, or the days asked for.
pub(crate) async fn season(
    visitor: Visitor,
    QueryOf(query): QueryOf<PeriodQuery>,
) -> Result<Html<String>, PageError> {
    let whole = ledger(&visitor)?;
    let journal = whole.journal(&visitor.app.yard);
    let page = page(&visitor, &journal, &query)?;
    render(&visitor, &page)
}

/// The report as a file.
pub(crate) async fn file(
    visitor: Visitor,
    QueryOf(query): QueryOf<PeriodQuery>,
) -> Result<Response, PageError> {
    let whole = ledger(&visitor)?;
    let journal = whole.journal(&visitor.app.yard);
    let (period, title) = period(&visitor, &journal, &query)?;
    let accounts = journal.accounts(period);
    let tables = tables(&visitor, &journal, &accounts);
    let name = format!("{}-{}", as_day(&visitor, period.from), as_day(&visitor, period.until));
    if query.r#as.as_deref() == Some("xlsx") {
        let bytes = report::table::workbook(&title, &tables, &visitor.display)
            .map_err(|error| PageError::broken(&visitor, &error))?;
        let kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
        return Ok(attached(&format!("books-{name}.xlsx"), kind, bytes));
    }
    let wanted = query.table.as_deref().unwrap_or("liquids");
    let table =
        tables.iter().find(|table| table.key == wanted).ok_or_else(|| PageError::missing(&visitor))?;
    let text = table.csv(&visitor.display).map_err(|error| PageError::broken(&visitor, &error))?;
    Ok(attached(&format!("books-{wanted}-{name}.csv"), "text/csv; charset=utf-8", text.into_bytes()))
}

/// Bytes as a file to keep.
pub(crate) fn attached(name: &str, kind: &'static str, bytes: Vec<u8>) -> Response {
    let disposition = format!("attachment; filename=\"{name}\"");
    ([(header::CONTENT_TYPE, kind.to_owned()), (header::CONTENT_DISPOSITION, disposition)], bytes)
        .into_response()
}

fn tables(visitor: &Visitor, journal: &Journal<'_>, accounts: &Accounts) -> Vec<Table> {
    let flags: Vec<_> = ::entry::ticket::flags(journal, &visitor.app.zone)
        .into_iter()
        .filter(|flag| accounts.period.holds(flag.at))
        .collect();
    visitor.teller().account_tables(accounts, &flags)
}

/// The stretch that is asked for, and what it is called.
fn period(
    visitor: &Visitor,
    journal: &Journal<'_>,
    query: &PeriodQuery,
) -> Result<(Period, String), PageError> {
    let words = visitor.words;
    if let (Some(begin), Some(end)) = (&query.begin, &query.end) {
        let moment = |text: &str| {
            text.parse::<Timestamp>().map_err(|_| {
                PageError::bad_form(visitor, &bad_value("begin, end", text, "console.accepted.utc"))
            })
        };
        let name = query.name.clone().filter(|name| !name.trim().is_empty());
        let title = name.unwrap_or_else(|| words.say("books.storm").to_owned());
        return in_order(visitor, Period { from: moment(begin)?, until: moment(end)? }).map(|p| (p, title));
    }
    let season = this_season(visitor, journal);
    let given = |text: &Option<String>| text.clone().filter(|text| !text.trim().is_empty());
    let from = given(&query.from).map(|text| day(visitor, &text)).transpose()?;
    let until = given(&query.until).map(|text| day(visitor, &text)).transpose()?;
    let is_whole = from.is_none() && until.is_none();
    // The last day counts whole.
    let until = until.map(|at| next_day(visitor, at)).transpose()?;
    let period = Period { from: from.unwrap_or(season.from), until: until.unwrap_or(season.until) };
    let title = words.say(if is_whole { "books.season" } else { "books.days" });
    in_order(visitor, period).map(|period| (period, title.to_owned()))
}

/// First moment of the day after one; the days that clocks change are not 24 h long.
fn next_day(visitor: &Visitor, at: Timestamp) -> Result<Timestamp, PageError> {
    let zone = &visitor.app.zone;
    let next = at.to_zoned_datetime(zone.clone()).date().tomorrow();
    next.and_then(|day| zone.to_timestamp(day.at(0, 0, 0, 0))).map_err(|_| {
        PageError::bad_form(
            visitor,
            &message!("console.of-field", field = "until", what = message!("console.time.not-a-day")),
        )
    })
}

fn in_order(visitor: &Visitor, period: Period) -> Result<Period, PageError> {
    if period.from < period.until {
        return Ok(period);
    }
    Err(PageError::bad_form(
        visitor,
        &message!("console.period.backward", from = period.from, until = period.until),
    ))
}

fn page(visitor: &Visitor, journal: &Journal<'_>, query: &PeriodQuery) -> Result<ReportPage, PageError> {
    let (app, words, d) = (&visitor.app, visitor.words, &visitor.display);
    let (period, title) = period(visitor, journal, query)?;
    let accounts = journal.accounts(period);
    let tables = tables(visitor, journal, &accounts);
    let is_storm = query.begin.is_some();
    let fact = |value: String, key: &str| Fact { value, label: words.say(key).to_owned() };
    let roads = &accounts.roads;
    let facts = vec![
        fact(d.volume(roads.all_liquid().volume(&app.yard, None)), "books.fact-liquid"),
        fact(d.mass(roads.dry_salt), "books.fact-dry"),
        fact(d.mass(roads.chloride(&app.yard)), "books.fact-chloride"),
        fact(d.lane_length(roads.lane), "books.fact-lane"),
        fact(d.dollars(accounts.money.on_road()), "books.fact-money"),
    ];
    let code = crate::encoded::form_encoded;
    let mut asked = String::new();
    for (name, value) in [
        ("from", &query.from),
        ("until", &query.until),
        ("begin", &query.begin),
        ("end", &query.end),
        ("name", &query.name),
    ] {
        if let Some(value) = value {
            asked.push_str(&format!("&{name}={}", code(value)));
        }
    }
    let csvs = tables
        .iter()
        .map(|table| Link {
            label: table.title.clone(),
            url: app.url(&format!("/books/file?as=csv&table={}{asked}", table.key)),
            current: false,
        })
        .collect();
    let flagged = tables.iter().find(|table| table.key == "odd").map_or(0, |table| table.rows.len());
    let mut lines: Vec<String> = visitor.teller().saved(&accounts).into_iter().collect();
    if app.yard.accounts.baseline_kg_per_m.is_none() {
        lines.push(words.say("books.no-baseline").to_owned());
    }
    if flagged > 0 {
        lines.push(words.fill("books.flagged", &[("count", &flagged.to_string())]));
    }
    let (from, until) = (d.time(period.from), d.time(period.until));
    let here = if is_storm { "/books/storms" } else { "/books" };
    Ok(ReportPage {
        c: PageFrame::new(visitor, Place::Books, &title, here),
        w: words,
        leaves: leaves(visitor, if is_storm { Leaf::Storms } else { Leaf::Season }),
        title,
        period: words.fill("books.period", &[("from", &from), ("until", &until)]),
        facts,
        lines,
        tables: views(visitor, &tables),
        days: (!is_storm).then(|| {
            let last = period.until - jiff::SignedDuration::from_secs(2);
            (as_day(visitor, period.from), as_day(visitor, last))
        }),
        form_url: app.url("/books"),
        xlsx_url: app.url(&format!("/books/file?as=xlsx{asked}")),
        csvs,
    })
}

/// What naming a storm asks.
pub(crate) const STORM: Asks = Asks::of("storm", &["name", "at", "until"]);

struct StormRow {
    line: String,
    url: String,
    name_url: Option<String>,
}

#[derive(Template)]
#[template(path = "storms.html")]
struct StormsPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    storms: Vec<StormRow>,
    form: Form,
}

/// Shows the storms, or the report of one.
pub(crate) async fn storms(
    visitor: Visitor,
    QueryOf(query): QueryOf<PeriodQuery>,
) -> Result<Html<String>, PageError> {
    if query.begin.is_some() && query.end.is_some() && query.r#as.is_none() {
        let whole = ledger(&visitor)?;
        let journal = whole.journal(&visitor.app.yard);
        return render(&visitor, &page(&visitor, &journal, &query)?);
    }
    let mut typed = Typed::new();
    for (name, value) in [("at", &query.from), ("until", &query.until), ("name", &query.name)] {
        typed.extend(value.clone().map(|value| (name.to_owned(), value)));
    }
    let mut page = storms_page(&visitor, &typed, Refused::default())?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

fn storms_page(visitor: &Visitor, typed: &Typed, refused: Refused) -> Result<StormsPage, PageError> {
    let (app, words) = (&visitor.app, visitor.words);
    let books = app.books().map_err(|error| PageError::store(visitor, &error))?;
    let code = crate::encoded::form_encoded;
    let row = |storm: yard::calendar::StormPeriod| {
        let name = storm.name.clone().unwrap_or_else(|| words.say("books.unnamed").to_owned());
        let values = [
            ("name", name),
            ("from", visitor.display.time(storm.from)),
            ("until", visitor.display.time(storm.until)),
        ];
        let (begin, end) = (code(&storm.from.to_string()), code(&storm.until.to_string()));
        let called = storm.name.as_ref().map_or_else(String::new, |name| format!("&name={}", code(name)));
        let (from, until) = (
            as_moment(visitor, storm.from),
            as_moment(visitor, storm.until + jiff::SignedDuration::from_secs(59)),
        );
        StormRow {
            line: words.fill_with("books.storm-line", &values),
            url: app.url(&format!("/books/storms?begin={begin}&end={end}{called}")),
            name_url: storm
                .name
                .is_none()
                .then(|| app.url(&format!("/books/storms?from={}&until={}#name", code(&from), code(&until)))),
        }
    };
    let mut storms: Vec<StormRow> = books.calendar.storms().into_iter().map(row).collect();
    storms.reverse();
    let mut form = entry::form(visitor, ("/books/storms", "storm", "books.name-it"), &STORM, typed, refused)?;
    form.asks_time = false;
    let title = words.say(if storms.is_empty() { "books.no-storms" } else { "books.storms" }).to_owned();
    Ok(StormsPage {
        c: PageFrame::new(visitor, Place::Books, words.say("books.storms"), "/books/storms"),
        w: words,
        leaves: leaves(visitor, Leaf::Storms),
        title,
        storms,
        form,
    })
}

/// Names a storm.
pub(crate) async fn name_storm(
    visitor: Visitor,
    FormOf(typed): FormOf<Typed>,
) -> Result<Response, PageError> {
    let given = |name: &str| typed.get(name).map_or("", |text| text.trim());
    let mut problems = Vec::new();
    let mut moment = |name: &str, label: &str| {
        let text = given(name);
        let found = if text.is_empty() {
            Err(visitor.words.fill("books.moment-needed", &[("field", label)]))
        } else {
            moments::moment_of(&visitor, label, text)
        };
        found.map_err(|problem| problems.push(problem)).ok()
    };
    let from = moment("at", visitor.words.say("ask.storm-from"));
    let until = moment("until", visitor.words.say("ask.storm-until"));
    if let (Some(from), Some(until)) = (from, until)
        && until <= from
    {
        problems.push(visitor.words.say("books.ends-before").to_owned());
    }
    let mut sent = typed.clone();
    if let Some(until) = until {
        sent.insert("until".into(), until.to_string());
    }
    let refused = if problems.is_empty() {
        match entry::record(&visitor, &STORM, &sent).await? {
            Ok(seq) => {
                let url = visitor.app.url(&format!("/books/storms?saved={seq}"));
                return Ok(Redirect::to(&url).into_response());
            }
            Err(refused) => refused,
        }
    } else {
        Refused { problems, ask_confirm: None }
    };
    let page = storms_page(&visitor, &typed, refused)?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, render(&visitor, &page)?).into_response())
}
