//! What several pages show: charts in both sizes, tanks in a row, an event in a paragraph, entries into the ledger.

use crate::form_messages::bad_value;
use ::entry::EntryProblem;
use chemistry::{Brine, recipe};
use jiff::Timestamp;
use message::{Message, message};
use planner::outlook::RoadHour;
use planner::storm::{Storm, StormKind};
use planner::treatment::Treatment;
use planner::{Plan, TankStock};
use quantity::{ThermodynamicTemperature, in_celsius, in_cubic_metres};
use report::chart::{
    CoverChart, FreezeMap, PhaseDiagram, Size, TankLevel, TankMark, Timeline, cover_chart, freeze_map,
    in_its_ratio, phase_diagram, tank_level, timeline,
};
use report::plan_words::Teller;
use yard::event::{Body, Event, EventId};
use yard::stock::Books;

use super::entry::{self, Refused};
use crate::chrome::Visitor;
use crate::error::PageError;

/// A chart for phones and one for wider screens, with what it says and its key.
pub(crate) struct ChartPair {
    pub(crate) phone: String,
    pub(crate) wide: String,
    pub(crate) says: String,
    pub(crate) key: Vec<KeyEntry>,
}

/// A line of a chart's key.
pub(crate) struct KeyEntry {
    pub(crate) class: &'static str,
    pub(crate) label: String,
}

pub(crate) fn key(visitor: &Visitor, entries: &[(&'static str, &str)]) -> Vec<KeyEntry> {
    entries
        .iter()
        .map(|(class, text)| KeyEntry { class, label: visitor.words.say(text).to_string() })
        .collect()
}

/// The freeze map of the tanks that hold brine; none when there is none.
pub(crate) fn map(
    visitor: &Visitor,
    tanks: &[TankStock],
    books: &Books,
    hours: &[RoadHour],
) -> Option<ChartPair> {
    let teller = visitor.teller();
    let ahead = air_ahead(hours);
    let coldest = ahead.map(|[low, _]| low);
    let air_now = hours.first().and_then(|hour| hour.air);
    let marks: Vec<TankMark> = tanks
        .iter()
        .filter_map(|tank| {
            let dipped = books.tank(&tank.tank).and_then(|book| book.dip).and_then(|dip| dip.temperature);
            Some(TankMark {
                label: tank.tank.clone(),
                strength: tank.strength?,
                temperature: dipped.or(air_now).unwrap_or_else(recipe::reference_temperature),
                needs_act: teller.tank_needs_act(tank, coldest),
            })
        })
        .collect();
    if marks.is_empty() {
        return None;
    }
    let says = teller.freeze_map(tanks, coldest);
    let drawing = FreezeMap { id: "map", marks: &marks, ahead, says: &says };
    let draw = |size| freeze_map(&drawing, size, &visitor.display, &visitor.words);
    let worst = tanks.iter().find(|tank| teller.tank_needs_act(tank, coldest));
    // An empty tank freezes nothing; one of an unknown liquid may.
    let is_known = |tank: &TankStock| {
        tank.is_indoors || tank.freezes_at().is_some() || in_cubic_metres(tank.volume) <= 0.0
    };
    let well = match ahead {
        None => "map.no-air",
        Some(_) if tanks.iter().all(is_known) => "map.all-well",
        Some(_) => "map.well-as-known",
    };
    let caption = worst.map_or_else(
        || visitor.words.say(well).to_string(),
        |tank| {
            let state = teller.tank_state(tank, coldest);
            visitor.words.fill("map.worst", &[("tank", &tank.tank), ("state", &state)])
        },
    );
    let key = key(visitor, if ahead.is_some() { &[("k-band", "chart.key.band")] } else { &[] });
    Some(ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says: caption, key })
}

/// The freeze map of a blend: its salts in their ratio at every strength, and the tank at its own.
pub(crate) fn blend_map(
    visitor: &Visitor,
    (id, tank): (&str, &str),
    brine: &Brine,
    temperature: ThermodynamicTemperature,
    ahead: Option<[ThermodynamicTemperature; 2]>,
) -> ChartPair {
    let says = visitor.words.say("blend.ratio");
    let points = in_its_ratio(brine);
    let marks =
        [TankMark { label: tank.to_owned(), strength: brine.strength(), temperature, needs_act: false }];
    let words = &visitor.words;
    let axis = words.say("chart.strength-axis");
    let drawing = PhaseDiagram { id, axis, points: &points, marks: &marks, ahead, says };
    let draw = |size| phase_diagram(&drawing, size, &visitor.display, words);
    let mut entries = vec![("k-line", "chart.key.salt-line"), ("k-ice-line", "chart.key.ice-line")];
    if ahead.is_some() {
        entries.push(("k-band", "chart.key.band"));
    }
    let key = key(visitor, &entries);
    ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says: says.to_owned(), key }
}

/// Coldest and warmest air of some hours.
pub(crate) fn air_ahead(hours: &[RoadHour]) -> Option<[ThermodynamicTemperature; 2]> {
    let by = |a: &ThermodynamicTemperature, b: &ThermodynamicTemperature| {
        in_celsius(*a).total_cmp(&in_celsius(*b))
    };
    let air = || hours.iter().filter_map(|hour| hour.air);
    Some([air().min_by(by)?, air().max_by(by)?])
}

/// The cover chart of a plan.
pub(crate) fn cover(visitor: &Visitor, plan: &Plan) -> ChartPair {
    let says = visitor.teller().cover(plan);
    let drawing = CoverChart { id: "cover", plan, says: &says };
    let draw = |size| cover_chart(&drawing, size, &visitor.display, &visitor.words);
    let mut entries = vec![("k-need", "chart.key.need"), ("k-have", "chart.key.have")];
    if !plan.schedule.runs.is_empty() {
        entries.push(("k-dash", "chart.key.nothing"));
    }
    ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says, key: key(visitor, &entries) }
}

/// The timeline of a plan.
pub(crate) fn hours_ahead(visitor: &Visitor, plan: &Plan) -> ChartPair {
    let teller = visitor.teller();
    let says = match plan.storms.first() {
        None => visitor.words.say("plan.no-storm").to_string(),
        Some(_) => {
            plan.storms.iter().map(|(storm, _)| teller.storm_line(storm)).collect::<Vec<_>>().join(" ")
        }
    };
    let drawing = Timeline { id: "hours", plan, says: &says };
    let draw = |size| timeline(&drawing, size, &visitor.display, &visitor.words);
    let caption = visitor.words.say("timeline.caption").to_string();
    ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says: caption, key: Vec::new() }
}

/// A tank as pages show it.
pub(crate) struct TankView {
    /// Freeze map of a mix.
    pub(crate) blend_map: Option<ChartPair>,
    pub(crate) id: String,
    pub(crate) product: String,
    pub(crate) volume: String,
    /// Half of the interval of each; empty where there is none to say.
    pub(crate) volume_within: String,
    pub(crate) strength_within: String,
    pub(crate) beside: String,
    pub(crate) strength: String,
    /// How its book stands apart from this, and whether one act may set it.
    pub(crate) book_apart: Option<String>,
    pub(crate) may_set: bool,
    /// Identity of the entry that sets it.
    pub(crate) set_id: String,
    pub(crate) state: String,
    /// For a tank whose content is not predicted: what a jar has shown.
    pub(crate) jar_test: Option<String>,
    pub(crate) needs_act: bool,
    pub(crate) level: String,
    pub(crate) usable: String,
    pub(crate) room: String,
    pub(crate) dip: String,
    pub(crate) reading: String,
    pub(crate) lots: Vec<String>,
    /// Where it is put right, for our own brine.
    pub(crate) right_url: Option<String>,
    /// Where a jar test for it is recorded, for a mix.
    pub(crate) jar_url: Option<String>,
}

/// All tanks.
pub(crate) fn tanks(
    visitor: &Visitor,
    stock: &[TankStock],
    books: &Books,
    coldest: Option<ThermodynamicTemperature>,
) -> Vec<TankView> {
    let view = |(place, tank)| tank_view(visitor, place, tank, books, coldest);
    stock.iter().enumerate().map(view).collect()
}

fn tank_view(
    visitor: &Visitor,
    place: usize,
    stock: &TankStock,
    books: &Books,
    coldest: Option<ThermodynamicTemperature>,
) -> TankView {
    let (d, w, teller) = (&visitor.display, &visitor.words, visitor.teller());
    let site = visitor.app.yard.tank(&stock.tank);
    let book = books.tank(&stock.tank);
    let product = visitor.app.yard.product(&stock.product);
    let full = site.map_or(1.0, |tank| in_cubic_metres(tank.shape.full_volume()));
    let share = |volume| in_cubic_metres(volume) / full;
    let none = match (stock.unlike.is_empty(), stock.is_brine) {
        (false, _) => "tanks.not-predicted",
        (true, true) => "tanks.no-brine",
        (true, false) => "tanks.no-strength",
    };
    let strength = match (stock.strength, stock.mix) {
        (Some(strength), _) => d.strength(strength),
        (None, Some(mix)) => {
            let salts = ::entry::blending::salts(&mix).into_iter();
            let each: Vec<String> =
                salts.map(|(formula, part)| format!("{} {formula}", d.strength(part))).collect();
            each.join(" + ")
        }
        (None, None) => w.say(none).to_string(),
    };
    let level = tank_level(&TankLevel {
        id: &format!("level-{place}"),
        title: &w.fill("tanks.level", &[("tank", &stock.tank)]),
        says: &w.fill(
            "tanks.level-says",
            &[("volume", &d.volume(stock.volume)), ("room", &d.volume(stock.room))],
        ),
        filled: share(stock.volume),
        heel: site.map_or(0.0, |tank| share(tank.heel)),
        working: site.map_or(1.0, |tank| share(tank.working_capacity())),
    });
    let dip = book.and_then(|b| b.dip).map_or_else(
        || w.say("tanks.never").to_string(),
        |dip| {
            let values = [
                ("volume", d.volume(dip.volume)),
                ("book", d.volume(dip.book_volume)),
                ("at", d.time(dip.at)),
            ];
            w.fill_with("tanks.dip-line", &values)
        },
    );
    let reading = book.and_then(|b| b.reading).map_or_else(
        || w.say("tanks.never").to_string(),
        |reading| {
            w.fill(
                "tanks.reading-line",
                &[("strength", &d.strength(reading.strength)), ("at", &d.time(reading.at))],
            )
        },
    );
    let blend_map = stock.mix.map(|brine| {
        let dipped = book.and_then(|b| b.dip).and_then(|dip| dip.temperature);
        let at = dipped.unwrap_or_else(recipe::reference_temperature);
        blend_map(visitor, (&format!("mix-{place}"), &stock.tank), &brine, at, None)
    });
    TankView {
        blend_map,
        id: stock.tank.clone(),
        product: product.map_or_else(String::new, |p| p.name.clone()),
        volume: d.volume(stock.volume),
        volume_within: if stock.is_counted { d.volume(stock.volume_within) } else { String::new() },
        strength_within: stock
            .strength_within
            .filter(|_| stock.is_counted && stock.doubted.is_none())
            .map_or_else(String::new, |within| d.strength(within)),
        book_apart: stock
            .book_apart
            .filter(|_| stock.doubted.is_none())
            .map(|apart| teller.book_apart(&apart)),
        set_id: entry_id(),
        may_set: stock.doubted.is_none()
            && books.set_to_estimate(&visitor.app.yard, &stock.tank, "").is_some(),
        beside: d.volume_beside(stock.volume),
        strength,
        state: teller.tank_state(stock, coldest),
        jar_test: (!stock.unlike.is_empty())
            .then(|| teller.jar_evidence(book.and_then(|book| book.jar_test.as_ref()))),
        needs_act: teller.tank_needs_act(stock, coldest),
        level,
        usable: d.volume(stock.usable),
        room: d.volume(stock.room),
        dip,
        reading,
        lots: book.map_or_else(Vec::new, |book| lots(visitor, book)),
        jar_url: (!stock.unlike.is_empty()).then(|| {
            visitor.app.url(&format!("/jar-test?tank={}", crate::encoded::form_encoded(&stock.tank)))
        }),
        right_url: stock.is_brine.then(|| {
            visitor.app.url(&format!("/put-right?tank={}", crate::encoded::form_encoded(&stock.tank)))
        }),
    }
}

fn lots(visitor: &Visitor, book: &yard::stock::TankBook) -> Vec<String> {
    let whole = quantity::in_kilograms(book.mass);
    book.lots
        .iter()
        .rev()
        .filter(|lot| quantity::in_kilograms(lot.mass) > 0.005 * whole)
        .map(|lot| {
            let share = 100.0 * quantity::in_kilograms(lot.mass) / whole;
            let key = if lot.event.is_some() { "tanks.lot" } else { "tanks.lot-older" };
            let (share, at) = (report::display::number(share, 0), visitor.display.time(lot.at));
            visitor.words.fill(key, &[("share", &share), ("at", &at)])
        })
        .collect()
}

/// A reason with its source.
pub(crate) struct ReasonView {
    pub(crate) text: String,
    pub(crate) source: String,
}

/// An event of a plan.
pub(crate) struct StormView {
    pub(crate) title: String,
    pub(crate) line: String,
    pub(crate) first_useful: Option<String>,
    pub(crate) verdict: Option<String>,
    pub(crate) reasons: Vec<ReasonView>,
    pub(crate) rate: String,
    pub(crate) rate_source: String,
    pub(crate) passes: Vec<ReasonView>,
}

/// Tells one event.
pub(crate) fn storm_view(visitor: &Visitor, storm: &Storm, treatment: &Treatment) -> StormView {
    let (d, w, teller) = (&visitor.display, &visitor.words, visitor.teller());
    let pre_spray = treatment.pre_spray.as_ref();
    StormView {
        title: w
            .fill("storm.title", &[("kind", teller.storm_kind(storm.kind)), ("at", &d.time(storm.start))]),
        line: teller.storm_line(storm),
        first_useful: teller.first_useful(treatment).filter(|_| storm.kind != StormKind::Frost),
        verdict: pre_spray.map(|p| teller.verdict(treatment, p).to_string()),
        reasons: pre_spray.map_or_else(Vec::new, |p| {
            p.reasons
                .iter()
                .map(|reason| ReasonView { text: teller.reason(reason), source: reason.source().to_string() })
                .collect()
        }),
        rate: pre_spray.map_or_else(String::new, |p| {
            w.fill("storm.rate", &[("rate", &d.liquid_rate_range(p.liquid.low, p.liquid.high))])
        }),
        rate_source: pre_spray.map_or_else(String::new, |p| p.rate.source.clone()),
        passes: teller
            .pass_lines(treatment)
            .into_iter()
            .map(|(text, source)| ReasonView { text, source })
            .collect(),
    }
}

/// A new id for an entry: made with the form, so that sending it twice records it once.
pub(crate) fn entry_id() -> String {
    uuid::Uuid::now_v7().to_string()
}

/// Typed fields of a form as a body, problems as sentences. The id is the one that the form came with.
pub(crate) fn read_entry(
    visitor: &Visitor,
    (kind, id): (&str, &str),
    fields: &[(&str, &str)],
    author: &str,
) -> Result<Result<Body, Vec<String>>, PageError> {
    let books = visitor.app.books_for(event_id(visitor, id)?);
    let books = books.map_err(|error| PageError::store(visitor, &error))?;
    let nameless: Vec<String> = author_problem(visitor, author).into_iter().collect();
    let fields: Vec<(String, String)> =
        fields.iter().map(|(name, value)| ((*name).to_string(), (*value).to_string())).collect();
    Ok(match ::entry::read_body(kind, &fields, (&visitor.app.yard, &books)) {
        Ok(body) if nameless.is_empty() => Ok(body),
        Ok(_) => Err(nameless),
        Err(problems) => Err(nameless.into_iter().chain(sentences(visitor, kind, &problems)).collect()),
    })
}

/// Problems of an entry of a kind as sentences, by the names on forms and the yard's clock; without a kind, by the
/// names of fields.
pub(crate) fn sentences(visitor: &Visitor, kind: &str, problems: &[EntryProblem]) -> Vec<String> {
    let sentence = |problem: &EntryProblem| {
        visitor.note_wrong(&problem.field);
        let label = entry::label_of(kind, &problem.field);
        let field = label.map_or(problem.field.as_str(), |label| visitor.words.say(label)).to_owned();
        let sentence = refusal(visitor, (&field, &problem.value), (&problem.problem, &problem.accepted));
        let label = label.map_or_else(|| message::said(&problem.field), Message::new);
        let (value, what, accepted) = (&problem.value, problem.problem.clone(), problem.accepted.clone());
        let as_data =
            message!("console.form.bad", field = label, value = value, problem = what, accepted = accepted);
        visitor.note_refusal(&sentence, as_data);
        sentence
    };
    problems.iter().map(sentence).collect()
}

/// What is wrong with a field, and what is accepted, in the reader's language and by the yard's clock.
pub(crate) fn refusal(
    visitor: &Visitor,
    (field, value): (&str, &str),
    (problem, accepted): (&str, &str),
) -> String {
    let words = visitor.words;
    let values = [
        ("field", field),
        ("value", value),
        ("problem", &words.retell(problem)),
        ("accepted", &words.retell(accepted)),
    ];
    let key = if value == "(none)" || value.is_empty() { "form.refused-empty" } else { "form.refused" };
    local(visitor, &words.fill(key, &values))
}

/// A text with its times, written in UTC, by the yard's clock.
fn local(visitor: &Visitor, text: &str) -> String {
    let mut is_example = false;
    let mut word = |word: &str| {
        // "such as 2027-11-07T05:40:00Z" is how to write one.
        if std::mem::replace(&mut is_example, matches!(word, "as" | "como" | "comme")) {
            return word.to_owned();
        }
        let bare = word.trim_end_matches([',', ';', ':', '.']);
        match bare.parse::<Timestamp>() {
            Ok(at) => format!("{}{}", visitor.display.time(at), &word[bare.len()..]),
            Err(_) => word.to_owned(),
        }
    };
    text.split(' ').map(&mut word).collect::<Vec<_>>().join(" ")
}

/// What a tick is to say that confirms these doubts; none when there are none, or when it was said.
pub(crate) fn unconfirmed(doubts: &[EntryProblem], confirm: Option<&String>) -> Option<String> {
    let mark = mark_of(doubts);
    (!doubts.is_empty() && confirm != Some(&mark)).then_some(mark)
}

/// A mark of what is asked about: a tick confirms these doubts and no others. What the clock alone moves is left out.
fn mark_of(doubts: &[EntryProblem]) -> String {
    let mut hash = <sha2::Sha256 as sha2::Digest>::new();
    for doubt in doubts {
        let by_clock = matches!(doubt.field.as_str(), "at" | "clock");
        let text = if by_clock { doubt.field.clone() } else { doubt.to_string() };
        sha2::Digest::update(&mut hash, text);
        sha2::Digest::update(&mut hash, b"\n");
    }
    sha2::Digest::finalize(hash).iter().take(8).map(|byte| format!("{byte:02x}")).collect()
}

/// What is wrong with a name, if anything.
pub(crate) fn author_problem(visitor: &Visitor, author: &str) -> Option<String> {
    let length = author.trim().chars().count();
    (!(1..=80).contains(&length)).then(|| {
        visitor.note_wrong("author");
        visitor.refuse(Message::new("form.author-needed"))
    })
}

/// An entry as its form sent it.
pub(crate) struct Entered<'f> {
    pub(crate) entry_id: &'f str,
    pub(crate) author: &'f str,
    /// When, as typed; blank is now.
    pub(crate) at: &'f str,
    pub(crate) confirm: Option<&'f String>,
    /// What its page asks besides.
    pub(crate) also: Vec<EntryProblem>,
}

impl<'f> Entered<'f> {
    /// As its form sent it, with nothing besides.
    pub(crate) fn new(entry_id: &'f str, author: &'f str, at: &'f str, confirm: Option<&'f String>) -> Self {
        Self { entry_id, author, at, confirm, also: Vec::new() }
    }
}

/// Records one event after everything that must be confirmed was; else what is wrong, or asked.
pub(crate) async fn record_asked(
    visitor: &Visitor,
    entered: &Entered<'_>,
    body: Result<Body, Vec<String>>,
) -> Result<Result<u64, Refused>, PageError> {
    let (body, at) = match (body, moment(visitor, entered.at)) {
        (Ok(body), Ok(at)) => (body, at),
        (body, at) => {
            let problems = body.err().unwrap_or_default().into_iter().chain(at.err()).collect();
            return Ok(Err(Refused { problems, ask_confirm: None }));
        }
    };
    let books = visitor.app.books().map_err(|error| PageError::store(visitor, &error))?;
    let (id, now) = (event_id(visitor, entered.entry_id)?, visitor.app.clock.now());
    let mut doubts = ::entry::asked((id, &body), (&visitor.app.yard, &books), at, now);
    doubts.extend(entered.also.iter().cloned());
    if let Some(mark) = unconfirmed(&doubts, entered.confirm) {
        return Ok(Err(Refused {
            problems: sentences(visitor, body.kind(), &doubts),
            ask_confirm: Some(mark),
        }));
    }
    record_at(visitor, entered.entry_id, entered.author, body, at).await.map(Ok)
}

/// Records one event as happening now; the answer is its place.
pub(crate) async fn record(
    visitor: &Visitor,
    entry_id: &str,
    author: &str,
    body: Body,
) -> Result<u64, PageError> {
    record_at(visitor, entry_id, author, body, visitor.now()).await
}

/// Records one event; the answer is its place.
pub(crate) async fn record_at(
    visitor: &Visitor,
    entry_id: &str,
    author: &str,
    body: Body,
    occurred_at: Timestamp,
) -> Result<u64, PageError> {
    let id = event_id(visitor, entry_id)?;
    let author = author.trim();
    if let Some(detail) = author_problem(visitor, author) {
        return Err(PageError::bad_form(visitor, &message::said(detail)));
    }
    let now: Timestamp = visitor.app.clock.now();
    let event = Event {
        id,
        occurred_at,
        author: author.to_string(),
        device: visitor.caller.device().to_string(),
        body,
    };
    let app = std::sync::Arc::clone(&visitor.app);
    // The disk may take its time; other visitors must not wait for it.
    let answer = tokio::task::spawn_blocking(move || app.ledger.append(&[event], now)).await;
    match answer {
        Ok(Ok(places)) => Ok(places.first().map_or(0, |place| place.seq())),
        Ok(Err(error)) => Err(PageError::store(visitor, &error)),
        Err(error) => Err(PageError::broken(visitor, &error)),
    }
}

/// The id a form came with.
pub(crate) fn event_id(visitor: &Visitor, entry_id: &str) -> Result<EventId, PageError> {
    entry_id.parse().map_err(|_| {
        PageError::bad_form(visitor, &bad_value("entry_id", entry_id, "console.accepted.came-with"))
    })
}

/// A time as typed, in the yard's zone: a clock time is the last such time that is not to come, a day with a time is
/// that one. Blank is now.
pub(crate) fn moment(visitor: &Visitor, typed: &str) -> Result<Timestamp, String> {
    moment_of(visitor, visitor.words.say("form.at"), typed)
}

/// The same for a field of another name.
pub(crate) fn moment_of(visitor: &Visitor, label: &str, typed: &str) -> Result<Timestamp, String> {
    let now = visitor.now();
    let typed = typed.trim();
    if typed.is_empty() {
        return Ok(now);
    }
    let problem = |what: Message| {
        visitor.note_wrong("at");
        let accepted = message!("console.accepted.moment");
        let bad =
            message!("console.form.bad", field = label, value = typed, problem = what, accepted = accepted);
        visitor.refuse(bad)
    };
    let not_taken = |id: &'static str| problem(Message::new(id));
    let on = |moment: jiff::civil::DateTime| {
        yard::calendar::by_the_clock(moment, &visitor.app.zone).map_err(|why| problem(message::said(why)))
    };
    // In UTC, for the hour that comes twice in autumn.
    if let Ok(at) = typed.parse::<Timestamp>() {
        return match at {
            at if at > now => Err(not_taken("console.time.to-come")),
            at if at.to_zoned_datetime(visitor.app.zone.clone()).date().year() < 2000 => {
                Err(not_taken("console.time.before-2000"))
            }
            at => Ok(at),
        };
    }
    let day_and_time = typed.replace('T', " ");
    if let Ok(moment) = jiff::civil::DateTime::strptime("%Y-%m-%d %H:%M", &day_and_time) {
        let at = on(moment)?;
        return if at <= now { Ok(at) } else { Err(not_taken("console.time.to-come")) };
    }
    let time =
        jiff::civil::Time::strptime("%H:%M", typed).map_err(|_| not_taken("console.time.not-of-day"))?;
    let today = now.to_zoned_datetime(visitor.app.zone.clone()).date();
    let at = on(today.to_datetime(time))?;
    if at <= now {
        return Ok(at);
    }
    let yesterday = today.yesterday().map_err(|_| not_taken("console.time.not-here"))?;
    on(yesterday.to_datetime(time))
}

/// The entry that a form is asked to hold the figures of: `again` in its address, a row that was taken back.
pub(crate) fn to_enter_again(visitor: &Visitor) -> Option<Body> {
    let row = visitor.asked_number("again").filter(|row| *row > 0)?;
    let events = visitor.app.ledger.events_after(row - 1).ok()?;
    Some(events.into_iter().next().filter(|recorded| recorded.seq == row)?.event.body)
}

/// A figure as a person would type it: six digits, no more than it has.
pub(crate) fn plain(value: f64) -> String {
    let digits = 6_i32.saturating_sub(value.abs().max(1.0).log10().floor() as i32 + 1).clamp(0, 6);
    let text = format!("{value:.*}", usize::try_from(digits).unwrap_or(0));
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// A form field as typed, without blanks around it; none when nothing was.
pub(crate) fn given(typed: Option<&String>) -> Option<String> {
    typed.map(|text| text.trim().to_string()).filter(|text| !text.is_empty())
}

/// Cautions of a plan, shortages first.
pub(crate) fn cares(teller: &Teller<'_>, plan: &Plan) -> Vec<String> {
    let mut cares: Vec<String> = plan.shortages.iter().map(|s| teller.shortage(s)).collect();
    cares.extend(plan.cautions.iter().map(|c| teller.caution(c)));
    cares.extend(plan.suspect.as_ref().map(|s| teller.suspect_line(s)));
    cares
}

/// A table as a page shows it.
pub(crate) struct TableView {
    pub(crate) key: &'static str,
    pub(crate) title: String,
    pub(crate) heads: Vec<CellView>,
    pub(crate) rows: Vec<RowView>,
    pub(crate) notes: Vec<String>,
}

/// A row of it.
pub(crate) struct RowView {
    pub(crate) cells: Vec<CellView>,
    pub(crate) is_total: bool,
}

/// A cell of it.
pub(crate) struct CellView {
    pub(crate) text: String,
    pub(crate) is_number: bool,
}

/// A table as the visitor reads it.
pub(crate) fn table_view(visitor: &Visitor, table: &report::table::Table) -> TableView {
    let units = visitor.display.units;
    let is_number = |column: usize| {
        table.columns.get(column).is_some_and(|column| column.kind != report::table::Kind::Text)
    };
    let heads = table.heads_in(units, &visitor.words).into_iter().enumerate();
    let row = |row: &report::table::Row| RowView {
        is_total: row.is_total,
        cells: row
            .cells
            .iter()
            .enumerate()
            .map(|(column, cell)| CellView {
                text: table.shown(column, cell, units),
                is_number: is_number(column),
            })
            .collect(),
    };
    TableView {
        key: table.key,
        title: table.title.clone(),
        heads: heads.map(|(column, text)| CellView { text, is_number: is_number(column) }).collect(),
        rows: table.rows.iter().map(row).collect(),
        notes: table.notes.clone(),
    }
}

/// What the last act recorded, in words; none for a row that is not there.
pub(crate) fn saved(visitor: &Visitor, seq: Option<u64>) -> Result<Option<String>, PageError> {
    let head = visitor.app.ledger.head().map_err(|error| PageError::store(visitor, &error))?;
    let recorded = seq.filter(|seq| *seq <= head.seq);
    Ok(recorded.map(|seq| visitor.words.fill("load.saved", &[("seq", &seq.to_string())])))
}
