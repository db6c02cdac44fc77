//! Salt receiving: the ticket, the moisture with what it takes off the price, the samples an order needs.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use chemistry::MassFraction;
use event::Body;
use quantity::{in_kilograms, kilograms};
use report::Words;
use report::display::number;
use report::table::{Kind, Table};
use serde::Deserialize;

use super::books::{self, Leaf};
use super::entry::{self, Asks, Form, Refused, Typed};
use super::parts;
use super::table_view::TableView;
use crate::error::{PageError, render};
use crate::extract::{FormOf, QueryOf};
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::table_view;

/// Most deliveries listed, newest first.
const LISTED: usize = 30;

/// Fields of the form of a delivery.
const DELIVERY: Asks = Asks::of(
    "salt_delivery",
    &["mass", "ticket", "supplier", "order", "wet", "dry", "moisture_pct", "samples_number", "price_usd"],
);

/// Fields of the form of a bucket count.
const BUCKETS: Asks = Asks::of("bucket_count", &["to", "buckets_number", "bucket"]);

/// Fields of the form of a pile survey.
const SURVEY: Asks = Asks::of("pile_survey", &["mass", "uncertainty_pct", "how"]);

/// What the last act recorded.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SaltQuery {
    saved: Option<u64>,
}

#[derive(Template)]
#[template(path = "salt.html")]
struct SaltPage {
    w: Words,
    c: PageFrame,
    leaves: Vec<Link>,
    title: String,
    lines: Vec<String>,
    /// The last delivery's verdict.
    verdict: Option<(String, bool)>,
    /// Where to take back a delivery that was sent away.
    went_back: Option<(String, String)>,
    form: Form,
    buckets: Form,
    survey: Form,
    tables: Vec<TableView>,
    rules: Vec<String>,
}

/// Which of the page's forms was sent.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Sheet {
    Delivery,
    Buckets,
    Survey,
}

/// Shows the page.
pub(crate) async fn show(
    visitor: Visitor,
    QueryOf(query): QueryOf<SaltQuery>,
) -> Result<Html<String>, PageError> {
    let mut page = page(&visitor, None)?;
    page.c.saved = parts::saved(&visitor, query.saved)?;
    render(&visitor, &page)
}

/// Records a delivery.
pub(crate) async fn deliver(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &DELIVERY, &typed).await? {
        Ok(seq) => Ok(back(&visitor, seq)),
        Err(refused) => refuse(&visitor, Sheet::Delivery, &typed, refused),
    }
}

/// Records a count of buckets.
pub(crate) async fn count(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &BUCKETS, &typed).await? {
        Ok(seq) => Ok(back(&visitor, seq)),
        Err(refused) => refuse(&visitor, Sheet::Buckets, &typed, refused),
    }
}

/// Records a survey of the pile.
pub(crate) async fn survey(visitor: Visitor, FormOf(typed): FormOf<Typed>) -> Result<Response, PageError> {
    match entry::record(&visitor, &SURVEY, &typed).await? {
        Ok(seq) => Ok(back(&visitor, seq)),
        Err(refused) => refuse(&visitor, Sheet::Survey, &typed, refused),
    }
}

fn back(visitor: &Visitor, seq: u64) -> Response {
    Redirect::to(&visitor.app.url(&format!("/salt?saved={seq}"))).into_response()
}

fn refuse(visitor: &Visitor, sheet: Sheet, typed: &Typed, refused: Refused) -> Result<Response, PageError> {
    let page = page(visitor, Some((sheet, typed, refused)))?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, render(visitor, &page)?).into_response())
}

fn page(visitor: &Visitor, sent: Option<(Sheet, &Typed, Refused)>) -> Result<SaltPage, PageError> {
    let (app, words, teller, d) = (&visitor.app, visitor.words, visitor.teller(), &visitor.display);
    let whole = books::ledger(visitor)?;
    let journal = whole.journal(&app.yard);
    let rules = &app.yard.receiving;
    let columns = [
        (words.say("account.when"), Kind::Text),
        (words.say("account.as-delivered"), Kind::Mass),
        (words.say("ask.suppliers-ticket"), Kind::Text),
        (words.say("salt.moisture"), Kind::Text),
        (words.say("account.dollars"), Kind::Dollars),
        (words.say("salt.verdict"), Kind::Text),
    ];
    let mut table = Table::new("deliveries", words.say("salt.deliveries"), &columns);
    let (mut verdict, mut went_back) = (None, None);
    let deliveries = journal.events().iter().rev().filter_map(|recorded| match &recorded.event.body {
        Body::SaltDelivery(delivery) => Some((recorded.seq, recorded.event.occurred_at, delivery)),
        _ => None,
    });
    for (place, (seq, at, delivery)) in deliveries.take(LISTED).enumerate() {
        let judged = delivery.moisture_pct.and_then(|pct| MassFraction::from_percent(pct).ok());
        let found = judged.map(|moisture| accounts::receiving::verdict(rules, moisture));
        let says = found.map_or_else(
            || words.say("salt.no-moisture").to_owned(),
            |found| teller.salt_verdict(found, delivery.price_usd),
        );
        if place == 0 {
            let is_act = !matches!(found, Some(accounts::receiving::Verdict::Accept));
            let values = [
                ("at", d.time(at)),
                ("mass", d.mass(kilograms(delivery.mass_kg))),
                ("verdict", says.clone()),
            ];
            let values = values.each_ref().map(|(name, text)| (*name, text.as_str()));
            verdict = Some((words.fill("salt.last", &values), is_act));
            if matches!(found, Some(accounts::receiving::Verdict::Reject)) {
                let url = app.url(&format!("/ledger?before={}#event-{seq}", seq + 1));
                went_back = Some((words.fill("salt.went-back", &[("seq", &seq.to_string())]), url));
            }
        }
        table.row(vec![
            d.time(at).into(),
            delivery.mass_kg.into(),
            delivery.ticket.clone().into(),
            delivery.moisture_pct.map(|pct| visitor.display.percent(pct, 1)).into(),
            delivery.price_usd.into(),
            says.into(),
        ]);
    }
    let columns = [
        (words.say("ask.order"), Kind::Text),
        (words.say("salt.so-far"), Kind::Mass),
        (words.say("account.loads"), Kind::Count),
        (words.say("salt.taken"), Kind::Count),
        (words.say("salt.needed"), Kind::Count),
    ];
    let mut orders = Table::new("orders", words.say("salt.orders"), &columns);
    for order in accounts::receiving::orders(journal.events(), rules) {
        let name = order.order.clone().unwrap_or_else(|| words.say("salt.no-order").to_owned());
        orders.row(vec![
            name.into(),
            in_kilograms(order.mass).into(),
            (order.deliveries as f64).into(),
            (order.taken as f64).into(),
            (order.needed as f64).into(),
        ]);
    }
    let per_sample = [("each", d.mass(rules.sample_each)), ("increments", number(rules.increments, 0))];
    orders.notes.push(words.fill_with("salt.sample-rule", &per_sample));
    let values = [
        ("accept", number(rules.accept_to.percent(), 1)),
        ("deduct", number(100.0 * rules.deduction, 0)),
        ("more", number(rules.more_from.percent(), 1)),
        ("tenth", number(100.0 * rules.more_per_tenth, 0)),
        ("reject", number(rules.reject_above.percent(), 1)),
    ];
    let rule_line = words.fill_with("salt.rules", &values);
    let season = books::this_season(visitor, &journal);
    let account = journal.accounts(season).salt;
    let counted = accounts::metering::buckets(&journal, season.from, season.until);
    let mut lines = vec![words.fill("today.salt", &[("salt", &d.mass(journal.books.rock_salt))])];
    if counted.0 > 0.0 {
        let values = [
            ("buckets", number(counted.0, 0)),
            ("mass", d.mass(counted.1)),
            ("book", d.mass(account.made + account.corrected + account.spread)),
        ];
        lines.push(words.fill_with("salt.bucket-line", &values));
    }
    let survey = journal.events().iter().rev().find_map(|recorded| match &recorded.event.body {
        Body::PileSurvey(survey) => Some((recorded.event.occurred_at, survey.clone())),
        _ => None,
    });
    if let Some((at, survey)) = survey {
        let values = [
            ("at", d.time(at)),
            ("mass", d.mass(kilograms(survey.mass_kg))),
            ("within", number(survey.uncertainty_pct, 0)),
        ];
        lines.push(words.fill_with("salt.survey-line", &values));
    }
    let (mut delivery, mut buckets, mut piles) = (None, None, None);
    let nothing = Typed::new();
    let (sheet, typed, refused) = match sent {
        Some((sheet, typed, refused)) => (Some(sheet), typed, refused),
        None => (None, &nothing, Refused::default()),
    };
    match sheet {
        Some(Sheet::Buckets) => buckets = Some((typed, refused)),
        Some(Sheet::Survey) => piles = Some((typed, refused)),
        _ => delivery = Some((typed, refused)),
    }
    let form =
        |path: &str, key: &'static str, button: &str, asks: &Asks, of: &mut Option<(&Typed, Refused)>| {
            let (typed, refused) = of.take().unwrap_or((&nothing, Refused::default()));
            entry::form(visitor, (path, key, button), asks, typed, refused)
        };
    Ok(SaltPage {
        form: form("/salt", "salt", "salt.record", &DELIVERY, &mut delivery)?,
        buckets: form("/salt/buckets", "buckets", "salt.record-buckets", &BUCKETS, &mut buckets)?,
        survey: form("/salt/survey", "survey", "salt.record-survey", &SURVEY, &mut piles)?,
        c: PageFrame::new(visitor, Place::Books, words.say("books.leaf-salt"), "/salt"),
        w: words,
        leaves: books::leaves(visitor, Leaf::Salt),
        title: words.say("salt.title").to_owned(),
        lines,
        verdict,
        went_back,
        tables: vec![table_view::table_view(visitor, &table), table_view::table_view(visitor, &orders)],
        rules: vec![rule_line, words.say("salt.rules-source").to_owned()],
    })
}
