//! A form that records one kind of event: its fields as data, so that every entry is asked, checked, doubted and
//! recorded in the same way.

use std::collections::BTreeMap;

use entry::EntryProblem;
use event::{Body, EventId, Figure, Holds, Named, Quantity, Spec, kind_named};
use jiff::Timestamp;
use message::message;

use super::parts;
use crate::error::PageError;
use crate::page_frame::Visitor;
use crate::pages::moments;

/// A form: the kind of event it records, and what it asks of it, in order. How a field is labelled, typed and checked
/// stands in its description, [`event::KINDS`].
#[derive(Debug, Clone, Copy)]
pub(crate) struct Asks {
    /// Kind of event.
    pub(crate) kind: &'static str,
    /// Names of fields, without the unit of a quantity.
    pub(crate) stems: &'static [&'static str],
}

impl Asks {
    /// A form of one kind.
    pub(crate) const fn of(kind: &'static str, stems: &'static [&'static str]) -> Self {
        Asks { kind, stems }
    }

    fn fields(&self) -> impl Iterator<Item = &'static Ask> {
        let kind = kind_named(self.kind);
        self.stems.iter().filter_map(move |stem| match *stem {
            "at" => Some(&WHEN),
            stem => {
                let field = kind.and_then(|kind| kind.field_of_stem(stem));
                // Every form is shown by some test.
                debug_assert!(field.is_some_and(|one| !one.spec.label.is_empty()), "{}: {stem}", self.kind);
                field
            }
        })
    }

    /// A field that the form asks.
    pub(crate) fn field(&self, stem: &str) -> Option<&'static Ask> {
        self.fields().find(|field| field.stem() == stem)
    }
}

/// Roads from which one is chosen from a list.
const MOST_ROADS: usize = 8;

/// One thing a form asks.
pub(crate) type Ask = event::Field;

/// When something began, where that is a field of its own: it is no part of what is kept of it.
static WHEN: Ask = Ask {
    name: "at",
    meaning: "When it began.",
    is_needed: true,
    spec: Spec {
        holds: Holds::Text,
        label: "ask.storm-from",
        is_seldom: false,
        is_worked_out: false,
        is_asked: true,
    },
};

/// Names under which a field may be sent by a form, that of the reader's units first.
fn names(ask: &Ask, is_us: bool) -> Vec<String> {
    let (first, second) = (ask.asked(is_us).0, ask.asked(!is_us).0);
    if first == second { vec![first] } else { vec![first, second] }
}

/// The key of the label of a field of a kind, by whatever name it was typed under.
pub(crate) fn label_of(kind: &str, name: &str) -> Option<&'static str> {
    let kind = kind_named(kind)?;
    let is_named = |ask: &&Ask| ask.stem() == name || ask.names().iter().any(|(known, _)| known == name);
    let label = kind.fields.iter().chain(kind.helpers).find(is_named)?.spec.label;
    (!label.is_empty()).then_some(label)
}

/// What was typed, by the name of its field.
pub(crate) type Typed = BTreeMap<String, String>;

/// One of several to choose from.
pub(crate) struct Choice {
    pub(crate) value: String,
    pub(crate) label: String,
    pub(crate) note: String,
    pub(crate) chosen: bool,
}

/// A field as a page shows it.
pub(crate) struct Field {
    /// radio, select, number, text, long.
    pub(crate) control: &'static str,
    pub(crate) name: String,
    pub(crate) label: String,
    pub(crate) unit: &'static str,
    pub(crate) value: String,
    pub(crate) choices: Vec<Choice>,
    pub(crate) needed: bool,
    /// Its choices are short: two stand side by side on a phone.
    pub(crate) is_tight: bool,
}

/// A form as a page shows it.
pub(crate) struct Form {
    pub(crate) url: String,
    pub(crate) key: &'static str,
    pub(crate) entry_id: String,
    /// What its page adds unseen: name and value.
    pub(crate) hidden: Vec<(&'static str, String)>,
    pub(crate) fields: Vec<Field>,
    pub(crate) rare: Vec<Field>,
    /// What is seldom given was given, or is asked for now.
    pub(crate) is_open: bool,
    pub(crate) author: String,
    pub(crate) at: String,
    pub(crate) problems: Vec<String>,
    pub(crate) ask_confirm: Option<String>,
    pub(crate) button: String,
    pub(crate) asks_time: bool,
}

/// Why something was not recorded.
#[derive(Debug, Clone, Default)]
pub(crate) struct Refused {
    pub(crate) problems: Vec<String>,
    /// It can be recorded after a confirmation of what was asked, by the mark of [`parts::mark_of`].
    pub(crate) ask_confirm: Option<String>,
}

/// A form for what is asked, holding what was typed.
pub(crate) fn form(
    visitor: &Visitor,
    (path, key, button): (&str, &'static str, &str),
    asks: &Asks,
    typed: &Typed,
    refused: Refused,
) -> Result<Form, PageError> {
    let books = visitor.app.books().map_err(|error| PageError::store(visitor, &error))?;
    let with_again;
    let typed = match parts::to_enter_again(visitor).filter(|_| refused.problems.is_empty()) {
        Some(body) => {
            with_again = again(visitor, asks, typed, &body);
            &with_again
        }
        None => typed,
    };
    let mut fields = Vec::new();
    let mut rare = Vec::new();
    for ask in asks.fields() {
        let field = field(visitor, &books, ask, typed);
        if ask.spec.is_seldom { rare.push(field) } else { fields.push(field) }
    }
    let given = |name: &str| typed.get(name).cloned().unwrap_or_default();
    Ok(Form {
        url: visitor.app.url(path),
        key,
        entry_id: typed.get("entry_id").cloned().unwrap_or_else(parts::entry_id),
        // What the plan filled in need not be looked at.
        is_open: rare.iter().any(|field| !field.value.is_empty() && !field.name.starts_with("planned"))
            || !refused.problems.is_empty(),
        hidden: Vec::new(),
        fields,
        rare,
        author: given("author"),
        at: given("at"),
        problems: refused.problems,
        ask_confirm: refused.ask_confirm,
        button: visitor.words.say(button).to_owned(),
        asks_time: true,
    })
}

/// What is typed, with the figures of an entry that was taken back in its place, in the reader's units.
fn again(visitor: &Visitor, asks: &Asks, typed: &Typed, body: &Body) -> Typed {
    let mut typed = typed.clone();
    let kept: serde_json::Value =
        body.to_json().ok().and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default();
    for ask in asks.fields() {
        // Figures of a catch are read off the paper again.
        if matches!(ask.spec.holds, Holds::Figures(_)) {
            continue;
        }
        let (name, unit) = ask.asked(visitor.is_us());
        let value = match &kept[ask.name] {
            serde_json::Value::Number(number) => {
                number.as_f64().map(|kept| parts::plain(unit.map_or(kept, |unit| unit.of_base(kept))))
            }
            serde_json::Value::String(text) => Some(text.clone()),
            _ => None,
        };
        typed.extend(value.map(|value| (name, value)));
    }
    typed
}

fn field(visitor: &Visitor, books: &yard::stock::Books, ask: &Ask, typed: &Typed) -> Field {
    let (yard, words, us) = (&visitor.app.yard, visitor.words, visitor.is_us());
    let names = names(ask, us);
    let sent = names.iter().find(|name| typed.contains_key(*name)).unwrap_or(&names[0]);
    let value = typed.get(sent).cloned().unwrap_or_default();
    let choice = |id: &str, label: String, note: String| Choice {
        value: id.to_owned(),
        label,
        note,
        chosen: id == value,
    };
    let none = |key: &str| choice("", words.say(key).to_owned(), String::new());
    let teller = visitor.teller();
    let (control, choices): (&'static str, Vec<Choice>) = match ask.spec.holds {
        Holds::Name(Named::Tank) => {
            let tank = |tank: &site::Tank| {
                let standing = entry::ticket::standing(yard, books, &tank.id);
                let held = books.estimate(&tank.id).map(|one| visitor.display.volume(one.volume(yard).value));
                let standing = standing.map(|standing| teller.standing(&standing));
                // A tank that was not measured may still be known to be out of its band.
                let by_book = matches!(
                    entry::ticket::standing(yard, books, &tank.id),
                    Some(entry::ticket::Standing::NotMeasured)
                )
                .then(|| {
                    planner::tank_stock(yard, books).into_iter().find(|one| one.tank == tank.id)?.conformity
                })
                .flatten()
                .filter(|found| *found != bench::Conformity::InSpec)
                .map(|found| {
                    format!("▲ {}", words.fill("load.by-book", &[("what", teller.conformity(found))]))
                });
                let note = held.into_iter().chain(by_book).chain(standing).collect::<Vec<_>>().join(", ");
                choice(&tank.id, tank.id.clone(), note)
            };
            ("radio", yard.tanks_in_use().map(tank).collect())
        }
        Holds::Name(Named::Truck) => {
            let truck = |truck: &site::Truck| {
                let note = aboard(yard, books, &truck.id).map_or_else(
                    || visitor.words.fill("load.holds", &[("volume", &visitor.display.volume(truck.tank))]),
                    |volume| words.fill("load.aboard", &[("volume", &visitor.display.volume(volume))]),
                );
                choice(&truck.id, truck.id.clone(), note)
            };
            ("radio", yard.trucks.iter().map(truck).collect())
        }
        Holds::Name(Named::Route) => {
            let route =
                |route: &site::Route| choice(&route.id, teller.route_name(Some(&route.id)), String::new());
            let first = if ask.is_needed { "form.choose" } else { "load.no-route" };
            ("select", std::iter::once(none(first)).chain(yard.routes.iter().map(route)).collect())
        }
        Holds::Name(Named::Road) => {
            let class = |class: &site::RouteClass| {
                choice(&class.id, words.fill("road.class-alone", &[("class", &class.id)]), String::new())
            };
            let segment = |one: &site::Segment| choice(&one.id, one.name.clone(), String::new());
            let all: Vec<Choice> =
                yard.route_classes.iter().map(class).chain(yard.segments.iter().map(segment)).collect();
            if all.len() <= MOST_ROADS {
                ("radio", all)
            } else {
                ("select", std::iter::once(none("form.choose")).chain(all).collect())
            }
        }
        Holds::Name(Named::Product | Named::Liquid) => {
            let product = |product: &site::Product| choice(&product.id, product.name.clone(), String::new());
            let first = none("other.tanks-own");
            ("select", std::iter::once(first).chain(yard.products.iter().map(product)).collect())
        }
        Holds::Name(Named::Meter | Named::MeterOrAny) => {
            let meter = |meter: &site::Meter| choice(&meter.id, meter.name.clone(), String::new());
            let first = none("form.choose");
            ("select", std::iter::once(first).chain(yard.meters.iter().map(meter)).collect())
        }
        Holds::Name(Named::Watershed) => {
            let water = |water: &site::Watershed| choice(&water.id, water.name.clone(), String::new());
            let first = none("form.choose");
            ("select", std::iter::once(first).chain(yard.watersheds.iter().map(water)).collect())
        }
        Holds::Name(Named::Chore) => {
            let chore = |chore: site::chores::Chore| {
                choice(&chore.id, report::chores::task(words.language(), &chore).to_owned(), String::new())
            };
            let first = none("form.choose");
            (
                "select",
                std::iter::once(first).chain(site::chores::chores(yard).into_iter().map(chore)).collect(),
            )
        }
        Holds::Name(Named::Agency) => {
            let agency = |agency: &site::Agency| choice(&agency.name, agency.name.clone(), String::new());
            ("text", yard.agencies.iter().map(agency).collect())
        }
        Holds::OneOf(all, prefix) => {
            let one =
                |word: &&str| choice(word, words.say(&format!("{prefix}{word}")).to_owned(), String::new());
            ("radio", all.iter().map(one).collect())
        }
        Holds::Lines => ("long", Vec::new()),
        Holds::Figure(_) => ("number", Vec::new()),
        _ => ("text", Vec::new()),
    };
    Field {
        control,
        name: sent.clone(),
        label: words.say(visitor.display.at_reference(ask.spec.label)).to_owned(),
        unit: unit_text(visitor, ask, if *sent == names[0] { us } else { !us }),
        value,
        is_tight: choices.len() > 2 && choices.iter().all(|one| one.label.len().max(one.note.len()) < 22),
        choices,
        needed: (ask.is_needed && !ask.spec.is_worked_out) || ask.spec.is_asked,
    }
}

/// The unit of a field as a reader sees it; empty for what has none.
fn unit_text(visitor: &Visitor, ask: &Ask, is_us: bool) -> &'static str {
    let Some(unit) = ask.asked(is_us).1 else { return "" };
    match (ask.spec.holds, unit.ending) {
        (Holds::Figure(Figure { quantity: Quantity::Lane, .. }), "mi") => visitor.words.say("unit.lane-mi"),
        (Holds::Figure(Figure { quantity: Quantity::Lane, .. }), "km") => visitor.words.say("unit.lane-km"),
        (_, "tons") => visitor.words.say("unit.short-tons"),
        _ => unit.symbol,
    }
}

/// What is still on a truck by the ledger; none where it is no more than a twentieth of its tank: what was sprayed is
/// not entered to the gallon.
pub(crate) fn aboard(yard: &site::Yard, books: &yard::stock::Books, truck: &str) -> Option<quantity::Volume> {
    let held = books.trucks.get(truck)?.volume(yard);
    (held > yard.truck(truck)?.tank * 0.05).then_some(held)
}

/// Reads what was sent into an event of a kind, and records it; or says why not.
pub(crate) async fn record(
    visitor: &Visitor,
    asks: &Asks,
    typed: &Typed,
) -> Result<Result<u64, Refused>, PageError> {
    record_with(visitor, asks, &[], typed).await
}

/// As [`record`], with fields that the page itself adds.
pub(crate) async fn record_with(
    visitor: &Visitor,
    asks: &Asks,
    more: &[(&str, String)],
    typed: &Typed,
) -> Result<Result<u64, Refused>, PageError> {
    let (body, at, id) = match read(visitor, asks, more, typed)? {
        Ok(read) => read,
        Err(refused) => return Ok(Err(refused)),
    };
    let books = visitor.app.books().map_err(|error| PageError::store(visitor, &error))?;
    let now = visitor.app.clock.now();
    let doubts = entry::asked((id, &body), (&visitor.app.yard, &books), at, now);
    // A reason is no tick: it must be written.
    let (reasons, others): (Vec<EntryProblem>, Vec<EntryProblem>) =
        doubts.iter().cloned().partition(|doubt| doubt.field == "override_reason");
    let ask_confirm = parts::unconfirmed(&others, typed.get("confirm"));
    if !reasons.is_empty() || ask_confirm.is_some() {
        return Ok(Err(Refused { problems: parts::sentences(visitor, asks.kind, &doubts), ask_confirm }));
    }
    let author = typed.get("author").map_or("", String::as_str);
    let entry_id = typed.get("entry_id").map_or("", String::as_str);
    parts::record_at(visitor, entry_id, author, body, at).await.map(Ok)
}

/// What was sent, as an event: body, time and id.
fn read(
    visitor: &Visitor,
    asks: &Asks,
    more: &[(&str, String)],
    typed: &Typed,
) -> Result<Result<(Body, Timestamp, EventId), Refused>, PageError> {
    let known: Vec<String> = asks.fields().flat_map(|ask| names(ask, true)).collect();
    let ours = ["entry_id", "author", "at", "confirm"];
    if let Some(stranger) = typed.keys().find(|name| !known.contains(name) && !ours.contains(&name.as_str()))
    {
        return Err(PageError::bad_form(visitor, &message!("console.form.no-field", field = stranger)));
    }
    let entry_id = typed.get("entry_id").map_or("", String::as_str);
    let id = parts::event_id(visitor, entry_id)?;
    // When it happened is said beside the event, not in it.
    let of_form = typed.iter().filter(|(name, _)| known.contains(name) && name.as_str() != WHEN.name);
    let fields: Vec<(&str, &str)> = of_form
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .chain(more.iter().map(|(name, value)| (*name, value.as_str())))
        .collect();
    let author = typed.get("author").map_or("", String::as_str);
    let body = parts::read_entry(visitor, (asks.kind, entry_id), &fields, author)?;
    let at = moments::moment(visitor, typed.get("at").map_or("", String::as_str));
    Ok(match (body, at) {
        (Ok(body), Ok(at)) => Ok((body, at, id)),
        (body, at) => {
            let problems = body.err().unwrap_or_default().into_iter().chain(at.err()).collect();
            Err(Refused { problems, ask_confirm: None })
        }
    })
}

/// What was typed of a field, in either unit.
pub(crate) fn sent<'t>(typed: &'t Typed, ask: &Ask) -> Option<&'t str> {
    let text = names(ask, true).iter().find_map(|name| typed.get(name.as_str()))?;
    (!text.trim().is_empty()).then_some(text.as_str())
}
