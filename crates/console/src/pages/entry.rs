//! A form that records one kind of event: its fields as data, so that every entry is asked, checked, doubted and
//! recorded in the same way.

use std::collections::BTreeMap;

use jiff::Timestamp;
use yard::entry::EntryProblem;
use yard::event::{Body, EventId};

use super::parts;
use crate::chrome::Visitor;
use crate::error::PageError;

/// What a field asks for.
#[derive(Debug, Clone, Copy)]
pub(crate) enum What {
    /// A tank, with how it stands.
    Tank,
    /// A truck.
    Truck,
    /// A route, or none.
    Route,
    /// A route, which must be given.
    OneRoute,
    /// A product, or none.
    Product,
    /// A meter.
    Meter,
    /// An agency: those of the yard file are offered.
    Agency,
    /// A chore.
    Chore,
    /// A watershed.
    Watershed,
    /// One of some words, whose texts are the prefix and the word.
    OneOf(&'static [&'static str], &'static str),
    /// A volume.
    Volume,
    /// A mass, in pounds or kilograms.
    Mass,
    /// A large mass, in short tons or tonnes.
    Tons,
    /// A length of lane.
    Lane,
    /// A depth, in feet or metres, or written with its own unit.
    Depth,
    /// A temperature.
    Temp,
    /// A pressure.
    Pressure,
    /// Volumes of a catch, in fluid ounces or millilitres.
    Caught,
    /// Masses of a catch, in pounds or kilograms.
    CaughtMass,
    /// A plain number whose name is the field's.
    Number,
    /// A line of text.
    Text,
    /// Some lines of text.
    Long,
}

/// One thing a form asks.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ask {
    /// Name of the field, without the unit of a quantity.
    pub(crate) name: &'static str,
    pub(crate) what: What,
    /// Key of its label.
    pub(crate) label: &'static str,
    pub(crate) needed: bool,
    /// Behind "more": seldom given.
    pub(crate) rare: bool,
}

/// A field that must be given.
pub(crate) const fn need(name: &'static str, what: What, label: &'static str) -> Ask {
    Ask { name, what, label, needed: true, rare: false }
}

/// A field that may be given.
pub(crate) const fn may(name: &'static str, what: What, label: &'static str) -> Ask {
    Ask { name, what, label, needed: false, rare: false }
}

/// A field that is seldom given.
pub(crate) const fn seldom(name: &'static str, what: What, label: &'static str) -> Ask {
    Ask { name, what, label, needed: false, rare: true }
}

impl Ask {
    /// Names under which it may be sent, that of the reader's units first.
    fn names(&self, is_us: bool) -> Vec<String> {
        let (us, si) = match self.what {
            What::Volume => ("_gal", "_l"),
            What::Mass | What::CaughtMass => ("_lb", "_kg"),
            What::Tons => ("_tons", "_t"),
            What::Lane => ("_mi", "_km"),
            What::Depth => ("_ft", "_m"),
            What::Temp => ("_f", "_c"),
            What::Pressure => ("_psi", "_kpa"),
            What::Caught => ("_floz", "_ml"),
            _ => return vec![self.name.to_owned()],
        };
        let (first, second) = if is_us { (us, si) } else { (si, us) };
        vec![format!("{}{first}", self.name), format!("{}{second}", self.name)]
    }

    /// Whether a field of an entry, in whatever unit, is this one.
    pub(crate) fn is_named(&self, field: &str) -> bool {
        field.strip_prefix(self.name).is_some_and(|unit| unit.is_empty() || unit.starts_with('_'))
            && (field == self.name || self.names(true) != [self.name])
    }

    /// Its unit as a reader sees it; empty for what has none.
    fn unit(&self, is_us: bool) -> &'static str {
        let (us, si) = match self.what {
            What::Volume => ("gal", "L"),
            What::Mass | What::CaughtMass => ("lb", "kg"),
            What::Tons => ("short tons", "t"),
            What::Lane => ("lane-mi", "lane-km"),
            What::Depth => ("ft", "m"),
            What::Temp => ("°F", "°C"),
            What::Pressure => ("psi", "kPa"),
            What::Caught => ("fl oz", "mL"),
            _ => ("", ""),
        };
        if is_us { us } else { si }
    }
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
    pub(crate) look: &'static str,
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
#[derive(Debug, Default)]
pub(crate) struct Refused {
    pub(crate) problems: Vec<String>,
    /// It can be recorded after a confirmation of what was asked, by the mark of [`parts::mark_of`].
    pub(crate) ask_confirm: Option<String>,
}

/// A form for what is asked, holding what was typed.
pub(crate) fn form(
    visitor: &Visitor,
    (path, key, button): (&str, &'static str, &str),
    asks: &[Ask],
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
    for ask in asks {
        let field = field(visitor, &books, ask, typed);
        if ask.rare { rare.push(field) } else { fields.push(field) }
    }
    let given = |name: &str| typed.get(name).cloned().unwrap_or_default();
    Ok(Form {
        url: visitor.app.url(path),
        key,
        entry_id: typed.get("entry_id").cloned().unwrap_or_else(parts::entry_id),
        is_open: rare.iter().any(|field| !field.value.is_empty()) || !refused.problems.is_empty(),
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
fn again(visitor: &Visitor, asks: &[Ask], typed: &Typed, body: &Body) -> Typed {
    let mut typed = typed.clone();
    let kept: serde_json::Value =
        body.to_json().ok().and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default();
    for ask in asks {
        let name = ask.names(visitor.is_us()).swap_remove(0);
        let is_us = visitor.is_us();
        let (si, per_unit, offset) = match ask.what {
            What::Volume => ("_m3", if is_us { 0.003_785_411_784 } else { 0.001 }, 0.0),
            What::Mass => ("_kg", if is_us { 0.453_592_37 } else { 1.0 }, 0.0),
            What::Tons => ("_kg", if is_us { 907.184_74 } else { 1000.0 }, 0.0),
            What::Depth => ("_m", if is_us { 0.3048 } else { 1.0 }, 0.0),
            What::Lane => ("_m", if is_us { 1609.344 } else { 1000.0 }, 0.0),
            What::Temp => ("_c", if is_us { 5.0 / 9.0 } else { 1.0 }, if is_us { 32.0 } else { 0.0 }),
            What::Pressure => ("_kpa", if is_us { 6.894_757_293_168_361 } else { 1.0 }, 0.0),
            // Figures of a catch are read off the paper again.
            What::Caught | What::CaughtMass => continue,
            _ => ("", 1.0, 0.0),
        };
        let value = match &kept[format!("{}{si}", ask.name)] {
            serde_json::Value::Number(number) => {
                number.as_f64().map(|kept| parts::plain(kept / per_unit + offset))
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
    let names = ask.names(us);
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
    let (look, choices): (&'static str, Vec<Choice>) = match ask.what {
        What::Tank => {
            let tank = |tank: &yard::site::Tank| {
                let standing = yard::ticket::standing(yard, books, &tank.id);
                let held = books.estimate(&tank.id).map(|one| visitor.display.volume(one.volume(yard).value));
                let standing = standing.map(|standing| teller.standing(&standing));
                // A tank that was not measured may still be known to be out of its band.
                let by_book = matches!(
                    yard::ticket::standing(yard, books, &tank.id),
                    Some(yard::ticket::Standing::NotMeasured)
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
        What::Truck => {
            let truck = |truck: &yard::site::Truck| {
                let note = aboard(yard, books, &truck.id).map_or_else(
                    || visitor.words.fill("load.holds", &[("volume", &visitor.display.volume(truck.tank))]),
                    |volume| words.fill("load.aboard", &[("volume", &visitor.display.volume(volume))]),
                );
                choice(&truck.id, truck.id.clone(), note)
            };
            ("radio", yard.trucks.iter().map(truck).collect())
        }
        What::Route | What::OneRoute => {
            let route = |route: &yard::site::Route| {
                choice(&route.id, teller.route_name(Some(&route.id)), String::new())
            };
            let first = if matches!(ask.what, What::Route) { "load.no-route" } else { "form.choose" };
            ("select", std::iter::once(none(first)).chain(yard.routes.iter().map(route)).collect())
        }
        What::Product => {
            let product =
                |product: &yard::site::Product| choice(&product.id, product.name.clone(), String::new());
            let first = none("other.tanks-own");
            ("select", std::iter::once(first).chain(yard.products.iter().map(product)).collect())
        }
        What::Meter => {
            let meter = |meter: &yard::site::Meter| choice(&meter.id, meter.name.clone(), String::new());
            let first = none("form.choose");
            ("select", std::iter::once(first).chain(yard.meters.iter().map(meter)).collect())
        }
        What::Watershed => {
            let water = |water: &yard::site::Watershed| choice(&water.id, water.name.clone(), String::new());
            let first = none("form.choose");
            ("select", std::iter::once(first).chain(yard.watersheds.iter().map(water)).collect())
        }
        What::Chore => {
            let chore = |chore: yard::due::Chore| {
                choice(&chore.id, report::chores::task(words.language(), &chore).to_owned(), String::new())
            };
            let first = none("form.choose");
            ("select", std::iter::once(first).chain(yard::due::chores(yard).into_iter().map(chore)).collect())
        }
        What::Agency => {
            let agency =
                |agency: &yard::site::Agency| choice(&agency.name, agency.name.clone(), String::new());
            ("text", yard.agencies.iter().map(agency).collect())
        }
        What::OneOf(all, prefix) => {
            let one =
                |word: &&str| choice(word, words.say(&format!("{prefix}{word}")).to_owned(), String::new());
            ("radio", all.iter().map(one).collect())
        }
        What::Text => ("text", Vec::new()),
        What::Long => ("long", Vec::new()),
        What::Caught | What::CaughtMass => ("text", Vec::new()),
        _ => ("number", Vec::new()),
    };
    Field {
        look,
        name: sent.clone(),
        label: words.say(ask.label).to_owned(),
        unit: match if *sent == names[0] { ask.unit(us) } else { ask.unit(!us) } {
            "short tons" => words.say("unit.short-tons"),
            "lane-mi" => words.say("unit.lane-mi"),
            "lane-km" => words.say("unit.lane-km"),
            unit => unit,
        },
        value,
        is_tight: choices.len() > 2 && choices.iter().all(|one| one.label.len().max(one.note.len()) < 22),
        choices,
        needed: ask.needed,
    }
}

/// What is still on a truck by the ledger; none where it is no more than a twentieth of its tank: what was sprayed is
/// not entered to the gallon.
pub(crate) fn aboard(
    yard: &yard::Yard,
    books: &yard::stock::Books,
    truck: &str,
) -> Option<chemistry::quantity::Volume> {
    let held = books.trucks.get(truck)?.volume(yard);
    (held > yard.truck(truck)?.tank * 0.05).then_some(held)
}

/// Reads what was sent into an event of a kind, and records it; or says why not.
pub(crate) async fn record(
    visitor: &Visitor,
    kind: &str,
    asks: &[Ask],
    typed: &Typed,
) -> Result<Result<u64, Refused>, PageError> {
    record_with(visitor, kind, asks, &[], typed).await
}

/// As [`record`], with fields that the page itself adds.
pub(crate) async fn record_with(
    visitor: &Visitor,
    kind: &str,
    asks: &[Ask],
    more: &[(&str, String)],
    typed: &Typed,
) -> Result<Result<u64, Refused>, PageError> {
    let (body, at, id) = match read(visitor, kind, asks, more, typed)? {
        Ok(read) => read,
        Err(refused) => return Ok(Err(refused)),
    };
    let books = visitor.app.books().map_err(|error| PageError::store(visitor, &error))?;
    let now = visitor.app.clock.now();
    let doubts = yard::entry::asked((id, &body), (&visitor.app.yard, &books), at, now);
    // A reason is no tick: it must be written.
    let (reasons, others): (Vec<EntryProblem>, Vec<EntryProblem>) =
        doubts.iter().cloned().partition(|doubt| doubt.field == "override_reason");
    let ask_confirm = parts::unconfirmed(&others, typed.get("confirm"));
    if !reasons.is_empty() || ask_confirm.is_some() {
        return Ok(Err(Refused { problems: parts::sentences(visitor, asks, &doubts), ask_confirm }));
    }
    let author = typed.get("author").map_or("", String::as_str);
    let entry_id = typed.get("entry_id").map_or("", String::as_str);
    parts::record_at(visitor, entry_id, author, body, at).await.map(Ok)
}

/// What was sent, as an event: body, time and id.
fn read(
    visitor: &Visitor,
    kind: &str,
    asks: &[Ask],
    more: &[(&str, String)],
    typed: &Typed,
) -> Result<Result<(Body, Timestamp, EventId), Refused>, PageError> {
    let both = |ask: &Ask| ask.names(true).into_iter().chain(ask.names(false));
    let known: Vec<String> = asks.iter().flat_map(both).collect();
    let ours = ["entry_id", "author", "at", "confirm"];
    if let Some(stranger) = typed.keys().find(|name| !known.contains(name) && !ours.contains(&name.as_str()))
    {
        return Err(PageError::bad_form(visitor, format!("{stranger}: no field of this form")));
    }
    let entry_id = typed.get("entry_id").map_or("", String::as_str);
    let id = parts::event_id(visitor, entry_id)?;
    let of_form = typed.iter().filter(|(name, _)| known.contains(name));
    let fields: Vec<(&str, &str)> = of_form
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .chain(more.iter().map(|(name, value)| (*name, value.as_str())))
        .collect();
    let author = typed.get("author").map_or("", String::as_str);
    let body = parts::read_entry(visitor, kind, (asks, &fields), author);
    let at = parts::moment(visitor, typed.get("at").map_or("", String::as_str));
    Ok(match (body, at) {
        (Ok(body), Ok(at)) => Ok((body, at, id)),
        (body, at) => {
            let problems = body.err().unwrap_or_default().into_iter().chain(at.err()).collect();
            Err(Refused { problems, ask_confirm: None })
        }
    })
}

/// What was typed of a quantity, in either unit, with the name it was sent under.
pub(crate) fn sent<'t>(typed: &'t Typed, ask: &Ask) -> Option<(&'t str, &'t str)> {
    let names = ask.names(true);
    let found = names.iter().find_map(|name| typed.get_key_value(name.as_str()))?;
    (!found.1.trim().is_empty()).then_some((found.0.as_str(), found.1.as_str()))
}
