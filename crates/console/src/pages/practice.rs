//! The practice plant as the trainee sees it: a simple picture, and everything that is done by hand there.

use askama::Template;
use axum::response::{Html, IntoResponse, Redirect, Response};
use chemistry::{Brine, MassFraction};
use jiff::SignedDuration;
use message::{Message, Tell};
use plant::judge::Check;
use plant::layout::{End, Layout, LineKind, Sensed, Way};
use plant::practice::{Act as Hand, Danger, Mend, Session, What};
use quantity::{celsius, kilograms};
use report::Words;
use report::chart::{PlantPicture, Size, VesselMark, plant_picture};
use report::display::number;
use report::run_words::RunTeller;
use serde::Deserialize;
use site::points::PointKind;

use super::charts::ChartPair;
use crate::error::{PageError, render};
use crate::extract::FormOf;
use crate::form_messages::bad_field;
use crate::languages;
use crate::page_frame::{PageFrame, Place, Visitor};
use crate::practice::PracticePlant;

/// Looks in the order they are offered.
const CHECKS: [(&str, Check); 10] = [
    ("circulation", Check::Circulation),
    ("hopper", Check::Hopper),
    ("catch_feed", Check::CatchFeed),
    ("dip_bed", Check::DipBed),
    ("meter", Check::MeterAgainstRise),
    ("supply", Check::SupplyTemperature),
    ("valve", Check::Valve),
    ("cell", Check::Cell),
    ("sludge", Check::Sludge),
    ("sample", Check::Sample),
];
/// Settings offered of a valve or a feeder.
const SHARES: [(&str, f64); 4] = [("0", 0.0), ("0.25", 0.25), ("0.5", 0.5), ("1", 1.0)];

/// Something done at the picture.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct HandForm {
    /// line, feed, lock, free, trim, back, mend, look or sample.
    act: String,
    /// Place of the part, or name of the look, the mend or the instrument.
    #[serde(default)]
    at: String,
    /// Share or number.
    #[serde(default)]
    much: String,
}

struct Setting {
    value: &'static str,
    label: String,
    is_now: bool,
}

struct PartView {
    kind: &'static str,
    at: usize,
    name: String,
    now: String,
    settings: Vec<Setting>,
    /// A feeder: whether it is locked out.
    locked: Option<bool>,
}

struct Choice {
    value: String,
    label: String,
}

#[derive(Template)]
#[template(path = "practice.html")]
struct PracticePage {
    w: Words,
    c: PageFrame,
    title: String,
    task: String,
    clock: String,
    pace: String,
    is_over: bool,
    told: Vec<String>,
    said: Option<(String, bool)>,
    /// The last act was refused because the feeder is not locked out.
    asks_lock: bool,
    panel: String,
    dry: Option<String>,
    /// A pump that runs dry: its place, and the button that stops it.
    stop: Option<(usize, String)>,
    wanted: String,
    picture: ChartPair,
    by_hand: bool,
    parts: Vec<PartView>,
    inspections: Vec<Choice>,
    instruments: Vec<Choice>,
    mends: Vec<Choice>,
    trim: String,
    url: String,
    run_url: String,
}

/// Shows the plant.
pub(crate) async fn show(visitor: Visitor) -> Result<Html<String>, PageError> {
    let Some(plant) = visitor.app.plant.clone() else { return Err(PageError::missing(&visitor)) };
    let page = page(&visitor, &plant);
    render(&visitor, &page)
}

/// Does something at the plant.
pub(crate) async fn act(visitor: Visitor, FormOf(form): FormOf<HandForm>) -> Result<Response, PageError> {
    let Some(plant) = visitor.app.plant.clone() else { return Err(PageError::missing(&visitor)) };
    let said = {
        let mut session = plant.now();
        let layout = session.plant().layout().clone();
        let teller = RunTeller { words: &visitor.words, display: &visitor.display, layout: &layout };
        done(&visitor, &mut session, &teller, &form)?
    };
    plant.say(said);
    Ok(Redirect::to(&visitor.app.url("/plant")).into_response())
}

/// Does it; answers what to say, and whether it was refused.
fn done(
    visitor: &Visitor,
    session: &mut Session,
    teller: &RunTeller<'_>,
    form: &HandForm,
) -> Result<(String, bool), PageError> {
    let wrong = |field: &str| PageError::bad_form(visitor, &bad_field(field, "console.accepted.offered"));
    let place = || form.at.parse::<usize>().map_err(|_| wrong("at"));
    let much = || entry::parse_number(&form.much).map_err(|_| wrong("much"));
    let hand = match form.act.as_str() {
        "look" => {
            let (_, check) = CHECKS.iter().find(|(name, _)| *name == form.at).ok_or_else(|| wrong("look"))?;
            return Ok((teller.found(&session.look(*check)), false));
        }
        "sample" => return sample(visitor, session, &form.at).map(|said| (said, false)),
        "line" => Hand::Line { line: place()?, share: much()? },
        "feed" => Hand::Feed { feeder: place()?, share: much()? },
        "lock" => Hand::LockOut { feeder: place()?, locked: true },
        "free" => Hand::LockOut { feeder: place()?, locked: false },
        "trim" => Hand::Trim { number: much()? },
        "back" => Hand::ReturnToAuto,
        "mend" => {
            let all = mends(teller.layout);
            Hand::Mend(all.into_iter().find(|mend| mend_name(*mend) == form.at).ok_or_else(|| wrong("mend"))?)
        }
        _ => return Err(wrong("act")),
    };
    match session.act(hand) {
        Ok(None) => Ok((teller.act(&hand), false)),
        Ok(Some(danger)) => Ok((teller.danger(&hand, danger), true)),
        Err(error) => Err(PageError::bad_form(visitor, &error.message())),
    }
}

/// What an instrument of the bench shows in a sample of the first vessel.
fn sample(visitor: &Visitor, session: &mut Session, instrument: &str) -> Result<String, PageError> {
    let broken = |error: Message| PageError::failed(visitor, &error);
    let instrument =
        visitor.app.yard.instrument(instrument).ok_or_else(|| {
            PageError::bad_form(visitor, &bad_field("instrument", "console.accepted.bench"))
        })?;
    let vessel = panel_vessel(session.plant().layout());
    let drawn = session.sample(vessel).ok_or_else(|| PageError::missing(visitor))?;
    let is_refractometer = matches!(instrument.card.scale, bench::instrument::Scale::Refractometer { .. });
    let off = if is_refractometer { drawn.not_zeroed / 100.0 } else { 0.0 };
    let strength = MassFraction::from_fraction((drawn.strength + off).clamp(0.0, 0.262))
        .map_err(|error| broken(error.message()))?;
    let brine = Brine::sodium_chloride(strength).map_err(|error| broken(error.message()))?;
    let at = celsius(drawn.degrees.max(0.5));
    let shown = instrument.card.scale.shows(&brine, at).map_err(|error| broken(error.message()))?;
    let scattered = shown + instrument.card.repeatability * drawn.chance[usize::from(is_refractometer)];
    let step = instrument.card.resolution;
    let read = if 0.0 < step { (scattered / step).round() * step } else { scattered };
    let decimals = bench::instrument::reading_decimals(step);
    let values = [
        ("instrument", instrument.name.clone()),
        ("shown", number(read, decimals)),
        ("degrees", visitor.display.temperature(at)),
    ];
    Ok(visitor.words.fill_with("practice.sampled", &values))
}

/// The vessel that the panel and the sample tap look at.
fn panel_vessel(layout: &Layout) -> usize {
    match layout.sensors.get(layout.control.panel).map(|sensor| sensor.of) {
        Some(Sensed::Strength { vessel, .. }) => vessel,
        _ => 0,
    }
}

/// Everything that can be put right in a plant, whether it is broken or not: what is offered gives nothing away.
fn mends(layout: &Layout) -> Vec<Mend> {
    let mut all = Vec::new();
    for (line, one) in layout.lines.iter().enumerate() {
        match one.kind {
            LineKind::Pump(_) => all.push(Mend::Prime(line)),
            LineKind::Valve(_) => all.push(Mend::Valve(line)),
            LineKind::Overflow { .. } => {}
        }
        if one.from == End::Supply {
            all.push(Mend::Strainer(line));
        }
    }
    for feeder in 0..layout.feeders.len() {
        all.extend([Mend::Rod(feeder), Mend::Gate(feeder)]);
    }
    all.extend((0..layout.stores.len()).map(Mend::Refill));
    for (vessel, one) in layout.vessels.iter().enumerate() {
        if one.dissolving.is_some() {
            all.extend([Mend::Sludge(vessel), Mend::Rake(vessel), Mend::Seat(vessel)]);
        }
    }
    for (sensor, one) in layout.sensors.iter().enumerate() {
        match one.of {
            Sensed::Strength { .. } => all.push(Mend::Cell(sensor)),
            Sensed::Flow { .. } => all.push(Mend::Meter(sensor)),
            _ => {}
        }
    }
    all.push(Mend::Zero);
    all
}

fn mend_name(mend: Mend) -> String {
    let (kind, place) = match mend {
        Mend::Prime(place) => ("prime", place),
        Mend::Rod(place) => ("rod", place),
        Mend::Gate(place) => ("gate", place),
        Mend::Refill(place) => ("refill", place),
        Mend::Sludge(place) => ("sludge", place),
        Mend::Rake(place) => ("rake", place),
        Mend::Strainer(place) => ("strainer", place),
        Mend::Valve(place) => ("valve", place),
        Mend::Seat(place) => ("seat", place),
        Mend::Cell(place) => ("cell", place),
        Mend::Zero => ("zero", 0),
        Mend::Meter(place) => ("meter", place),
    };
    format!("{kind}-{place}")
}

fn page(visitor: &Visitor, plant: &PracticePlant) -> PracticePage {
    let (words, display, app) = (visitor.words, &visitor.display, &visitor.app);
    let mut session = plant.now();
    let layout = session.plant().layout().clone();
    let teller = RunTeller { words: &words, display, layout: &layout };
    let shown = session.sensors();
    let panel = shown[layout.control.panel];
    let dry = session
        .dry_running()
        .first()
        .map(|line| words.fill("practice.sounds-dry", &[("pump", &layout.lines[*line].id)]));
    let stop = session
        .dry_running()
        .first()
        .map(|line| (*line, words.fill("practice.stop-it", &[("pump", &layout.lines[*line].id)])));
    let spec = app.yard.made_spec();
    let wanted = words.fill(
        "practice.wanted",
        &[("low", &number(spec.low.percent(), 1)), ("high", &number(spec.high.percent(), 1))],
    );
    let ruined = (0..layout.lines.len())
        .find(|line| session.is_ruined(*line))
        .map(|line| words.fill("practice.ruined", &[("pump", &layout.lines[line].id)]));
    let commands = session.plant().commands().clone();
    let settings = |now: f64, is_pump: bool| -> Vec<Setting> {
        let offered = SHARES.iter().filter(|(_, share)| !is_pump || *share <= 0.0 || 1.0 <= *share);
        offered
            .map(|(value, share)| Setting {
                value,
                label: match (*share <= 0.0, is_pump) {
                    (true, true) => words.say("practice.stop").to_string(),
                    (true, false) => words.say("practice.shut").to_string(),
                    (false, true) => words.say("practice.start").to_string(),
                    (false, false) => visitor.display.percent(100.0 * share, 0),
                },
                is_now: (now - share).abs() < 0.01,
            })
            .collect()
    };
    let mut parts = Vec::new();
    for (line, one) in layout.lines.iter().enumerate() {
        let is_pump = matches!(one.kind, LineKind::Pump(_));
        if !matches!(one.kind, LineKind::Overflow { .. }) {
            parts.push(PartView {
                kind: "line",
                at: line,
                name: one.id.clone(),
                now: now(visitor, commands.lines[line], is_pump),
                settings: settings(commands.lines[line], is_pump),
                locked: None,
            });
        }
    }
    for (feeder, one) in layout.feeders.iter().enumerate() {
        parts.push(PartView {
            kind: "feed",
            at: feeder,
            name: one.id.clone(),
            now: now(visitor, commands.feeders[feeder], false),
            settings: settings(commands.feeders[feeder], false),
            locked: Some(session.is_locked_out(feeder)),
        });
    }
    let clock = SignedDuration::from_secs_f64(session.seconds());
    let exercise = session.exercise();
    let pace = match (plant.is_over(), plant.clock.is_paused()) {
        (true, _) => words.say("practice.over").to_string(),
        (false, true) => words.say("practice.paused").to_string(),
        (false, false) => self::pace(visitor, plant.clock.speed()),
    };
    PracticePage {
        c: PageFrame::new(visitor, Place::Plant, words.say("practice.nav"), "/plant"),
        w: words,
        title: languages::exercise(visitor.words.language(), exercise).title.clone(),
        task: languages::exercise(visitor.words.language(), exercise).task.clone(),
        clock: words.fill("practice.clock", &[("time", &display.duration(clock))]),
        pace,
        is_over: plant.is_over(),
        told: session.told().map(|fault| teller.fault(&fault)).collect(),
        said: plant.said(),
        asks_lock: matches!(
            session.log().last().map(|entry| &entry.what),
            Some(What::Dangerous(_, Danger::FeederNotLockedOut))
        ),
        panel: display.point(PointKind::Strength, panel),
        dry: ruined.or(dry),
        stop,
        wanted,
        picture: picture(visitor, &session, &layout, &shown),
        by_hand: session.is_by_hand(),
        parts,
        inspections: CHECKS
            .iter()
            .filter(|(_, check)| *check != Check::Sample)
            .map(|(name, check)| Choice { value: (*name).to_string(), label: teller.check(*check) })
            .collect(),
        instruments: app
            .yard
            .instruments
            .iter()
            .map(|one| Choice { value: one.id.clone(), label: one.name.clone() })
            .collect(),
        mends: mends(&layout)
            .into_iter()
            .map(|mend| Choice { value: mend_name(mend), label: teller.mend(mend) })
            .collect(),
        trim: number(session.trim(), 3),
        url: app.url("/plant"),
        run_url: app.url("/run"),
    }
}

fn now(visitor: &Visitor, share: f64, is_pump: bool) -> String {
    let words = visitor.words;
    match (share <= 0.0, is_pump) {
        (true, true) => words.say("practice.stopped").to_string(),
        (true, false) => words.say("practice.is-shut").to_string(),
        (false, true) => words.say("practice.runs").to_string(),
        (false, false) => visitor.display.percent(100.0 * share, 0),
    }
}

/// The picture: what an eye sees from outside, and what the meters show.
fn picture(visitor: &Visitor, session: &Session, layout: &Layout, shown: &[f64]) -> ChartPair {
    let (words, display) = (visitor.words, &visitor.display);
    let (plant, commands) = (session.plant(), session.plant().commands());
    let vessels: Vec<VesselMark> = layout
        .vessels
        .iter()
        .enumerate()
        .map(|(place, vessel)| {
            let holds = plant.holds(place);
            let volume = quantity::in_cubic_metres(vessel.volume);
            let solids = (holds.level - holds.liquid_m3 / volume).max(0.0);
            let level = number(100.0 * holds.level.max(0.0), 0);
            let says = words.fill("practice.full", &[("level", &level)]);
            VesselMark { name: vessel.id.clone(), level: holds.level, solids, says }
        })
        .collect();
    let meter = |line: usize| {
        let is_it = |of: &Sensed| matches!(of, Sensed::Flow { line: one } if *one == line);
        let place = layout.sensors.iter().position(|sensor| is_it(&sensor.of))?;
        // A meter's hand does not tremble where nothing flows.
        let flows = if plant.flow_share(line) < 0.01 { 0.0 } else { shown[place] };
        Some(display.pipe_flow(flows))
    };
    let (water, outlet, feeder, round) = match layout.control.way {
        Way::Batch { water, outlet, feeder, stir, .. } | Way::Fed { water, outlet, feeder, stir, .. } => {
            (water, outlet, feeder, Some(stir))
        }
        Way::Upflow { water, outlet, feeder, .. } => (water, outlet, feeder, None),
    };
    let water_text = meter(water).unwrap_or_default();
    let salt = display.mass(kilograms(plant.store_kg(layout.feeders[feeder].from)));
    let out = layout.lines[outlet].id.clone();
    let round_text = round.map(|line| meter(line).unwrap_or_default());
    let says = words.fill("practice.picture-says", &[("salt", &salt), ("water", &water_text)]);
    let drawing = PlantPicture {
        id: "plant",
        title: words.say("practice.picture"),
        says: &says,
        vessels: &vessels,
        hopper: (layout.feeders[feeder].to, &salt, 0.0 < commands.feeders[feeder]),
        water: (&water_text, 0.0 < commands.lines[water]),
        outlet: (&out, 0.0 < plant.flow(outlet)),
        round: round.zip(round_text.as_deref()).map(|(line, text)| (text, 0.0 < commands.lines[line])),
    };
    let draw = |size| plant_picture(&drawing, size);
    ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says, key: Vec::new() }
}

/// How fast time goes, in words.
pub(crate) fn pace(visitor: &Visitor, speed: u32) -> String {
    match speed {
        1 => visitor.words.say("practice.real-time").to_string(),
        _ => visitor.words.fill("practice.pace", &[("speed", &speed.to_string())]),
    }
}
