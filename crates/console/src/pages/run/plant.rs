//! What the plant's own sensors say of the run that goes on.

use jiff::{SignedDuration, Timestamp};
use link::Quality;
use plant::expect::Band;
use plant::judge::check_of;
use plant::layout::{End, Layout, LineKind, Sensed, Way};
use plant::procedure::Watch;
use quantity::{hours, in_cubic_metres};
use report::chart::{BuildUp, Size, build_up};
use report::display::number;
use report::run_words::RunTeller;
use site::points::PointKind;
use yard::run_log::Run;
use yard::stock::Books;

use crate::following::Following;
use crate::page_frame::Visitor;
use crate::pages::charts::{ChartPair, KeyEntry, key};
use crate::watch::Thought;

/// Time over which a flow is looked at before it is called none, s.
const FLOW_SECONDS: i64 = 15;
/// Columns of the build-up.
const COLUMNS: usize = 120;
/// A panel above this shows that salt has begun to dissolve, per cent.
const HAS_BEGUN: f64 = 2.0;
/// Causes that are named.
const NAMED: usize = 3;
/// Less chance than this for the likeliest, and none is named.
const UNDECIDED: f64 = 0.2;
/// Less chance than this is not named.
const SLIM: f64 = 0.04;

/// A value as shown.
pub(crate) struct ValueView {
    pub(crate) name: String,
    pub(crate) value: String,
    /// Why it is not to be used, or how old it is.
    pub(crate) state: String,
    pub(crate) is_bad: bool,
}

/// A likely cause.
pub(crate) struct CauseView {
    pub(crate) text: String,
    pub(crate) chance: String,
}

/// What the plant says.
pub(crate) struct PlantView {
    /// Stop, and why.
    pub(crate) stop: Option<String>,
    pub(crate) head: String,
    pub(crate) is_wrong: bool,
    pub(crate) ahead: Option<String>,
    pub(crate) chart: Option<ChartPair>,
    pub(crate) values: Vec<ValueView>,
    pub(crate) causes: Vec<CauseView>,
    pub(crate) next: Option<String>,
    pub(crate) notes: Vec<String>,
}

/// What the plant says of a step.
pub(crate) struct WatchView {
    pub(crate) line: String,
    pub(crate) is_met: bool,
}

/// The value of a point with what can be said of it.
pub(crate) fn value(visitor: &Visitor, following: &Following, place: usize) -> Option<ValueView> {
    let point = following.live.points().get(place)?;
    let shown = following.live.shown(place)?;
    let words = visitor.words;
    let is_told = point.shows.as_deref().is_some_and(|part| {
        let layout = visitor.app.yard.making.as_ref();
        layout.is_some_and(|layout| layout.sensors.iter().all(|sensor| sensor.id != part))
    });
    let value = shown.value.map_or_else(
        || "–".to_string(),
        |value| match point.unit.kind() {
            PointKind::Share if is_told && value <= 0.0 => words.say("live.off").to_string(),
            kind => visitor.display.point(kind, value),
        },
    );
    let age = shown.age.map_or_else(String::new, |age| {
        visitor.display.duration(SignedDuration::try_from(age).unwrap_or(SignedDuration::MAX))
    });
    let state = match &shown.quality {
        Quality::Good => String::new(),
        Quality::Stale => words.fill("live.stale", &[("age", &age)]),
        Quality::Kept => words.say("live.kept").to_string(),
        Quality::Never => words.say("live.never").to_string(),
        Quality::Refused(why) => words.fill("live.refused", &[("why", &visitor.display.tell(why))]),
    };
    Some(ValueView { name: point.name.clone(), value, is_bad: !shown.quality.is_good(), state })
}

/// Flow at full, m³/s.
fn full(layout: &Layout, line: usize) -> f64 {
    match layout.lines.get(line).map(|line| line.kind) {
        Some(LineKind::Pump(rate) | LineKind::Valve(rate)) => in_cubic_metres(rate * hours(1.0)) / 3600.0,
        _ => 0.0,
    }
}

/// The sensor of a line's flow.
fn meter(layout: &Layout, line: usize) -> Option<&str> {
    let is_it = |of: &Sensed| matches!(of, Sensed::Flow { line: one } if *one == line);
    layout.sensors.iter().find(|sensor| is_it(&sensor.of)).map(|sensor| sensor.id.as_str())
}

/// Means over the last seconds: how far a line is told to be open, and what flows in it.
fn flow(following: &Following, layout: &Layout, line: usize, now: Timestamp) -> Option<(f64, f64)> {
    let from = now - SignedDuration::from_secs(FLOW_SECONDS);
    let told = following.mean(&layout.lines.get(line)?.id, from, now)?;
    Some((told, following.mean(meter(layout, line)?, from, now)?))
}

/// A pump that is told to run and carries nothing.
fn dry(visitor: &Visitor, following: &Following, layout: &Layout) -> Option<String> {
    let now = visitor.app.clock.now();
    (0..layout.lines.len()).find_map(|line| {
        let one = &layout.lines[line];
        let (told, flows) =
            matches!(one.kind, LineKind::Pump(_)).then(|| flow(following, layout, line, now))??;
        let is_fresh = following.live.of_part(&one.id).is_some_and(|share| 0.0 < share);
        (is_fresh && 0.9 < told && flows < 0.05 * full(layout, line)).then(|| {
            let shown = visitor.display.pipe_flow(flows);
            visitor.words.fill("plant.dry", &[("pump", &one.id), ("flow", &shown)])
        })
    })
}

/// What the plant's sensors say of a step; nothing where they cannot.
pub(crate) fn watched(visitor: &Visitor, watch: Watch) -> Option<WatchView> {
    let (following, layout) = (visitor.app.following.as_ref()?, visitor.app.yard.making.as_ref()?);
    let (words, now) = (visitor.words, visitor.app.clock.now());
    let panel = || {
        let sensor = &layout.sensors[layout.control.panel];
        following.live.of_part(&sensor.id)
    };
    let flow_of = |line: usize, key: (&str, &str)| {
        let (_, flows) = flow(following, layout, line, now)?;
        following.live.of_part(meter(layout, line)?)?;
        let is_met = 0.15 * full(layout, line) < flows;
        let is_off = following.live.of_part(&layout.lines[line].id)? <= 0.0;
        let key = match (is_met, is_off) {
            (true, _) => key.0,
            (false, true) => "plant.is-off",
            (false, false) => key.1,
        };
        let values = [
            ("line", layout.lines[line].id.clone()),
            ("flow", visitor.display.pipe_flow(flows)),
            ("full", visitor.display.pipe_flow(full(layout, line))),
        ];
        let line = words.fill_with(key, &values);
        Some(WatchView { line, is_met })
    };
    match watch {
        Watch::Circulation => match layout.control.way {
            Way::Batch { stir, .. } | Way::Fed { stir, .. } => {
                flow_of(stir, ("plant.goes-round", "plant.does-not-go-round"))
            }
            Way::Upflow { .. } => None,
        },
        Watch::Water => {
            let line = layout.lines.iter().position(|line| line.from == End::Supply)?;
            flow_of(line, ("plant.water-comes", "plant.no-water"))
        }
        Watch::Climbing => {
            let sensor = &layout.sensors[layout.control.panel];
            let span = SignedDuration::from_mins(2);
            let earlier = following.mean(&sensor.id, now - span * 3, now - span * 2)?;
            let later = following.mean(&sensor.id, now - span, now)?;
            let is_met = 0.05 < later - earlier;
            let key = if is_met { "plant.climbs" } else { "plant.stands" };
            let values = [("from", number(earlier, 1)), ("to", number(later, 1))];
            let line = words.fill_with(key, &values);
            Some(WatchView { line, is_met })
        }
        Watch::InBand => {
            let shown = panel()?;
            let target = layout.control.target.percent();
            let is_met = (shown - target).abs() <= 100.0 * layout.control.band;
            let key = if is_met { "plant.in-band" } else { "plant.out-of-band" };
            Some(WatchView { line: words.fill(key, &[("panel", &number(shown, 2))]), is_met })
        }
    }
}

/// What the plant says of the run; nothing where nothing is read of it.
pub(crate) fn view(visitor: &Visitor, books: &Books, run: &Run) -> Option<PlantView> {
    let app = &visitor.app;
    let following = app.following.as_ref()?;
    let words = visitor.words;
    let values = (0..following.live.points().len()).filter_map(|place| value(visitor, following, place));
    let mut plain = PlantView {
        stop: None,
        head: words.say("plant.read").to_string(),
        is_wrong: false,
        ahead: None,
        chart: None,
        values: values.collect(),
        causes: Vec::new(),
        next: None,
        notes: following.trouble().iter().map(|trouble| visitor.display.tell(trouble)).collect(),
    };
    for (place, machine) in following.live.machines().iter().enumerate() {
        if let Some(trouble) = following.live.state(place).and_then(|state| state.trouble) {
            let why = visitor.display.tell(&trouble);
            plain.notes.push(words.fill("live.away", &[("machine", machine.name.as_str()), ("why", &why)]));
        }
    }
    let Some(layout) = app.yard.making.as_ref().filter(|_| app.is_making(&run.procedure)) else {
        return Some(plain);
    };
    let thought = app.watch.thought();
    plain.stop = dry(visitor, following, layout);
    if let Some(stop) = &plain.stop {
        plain.head.clone_from(stop);
        plain.is_wrong = true;
    } else {
        judged(visitor, layout, &thought, &mut plain);
    }
    plain.ahead = ahead(visitor, layout, following, &thought);
    plain.chart = chart(visitor, books, run, layout, following, &thought);
    Some(plain)
}

/// What the judge says.
fn judged(visitor: &Visitor, layout: &Layout, thought: &Thought, view: &mut PlantView) {
    let words = visitor.words;
    if thought.too_fast {
        view.notes.push(words.say("plant.too-fast").to_string());
        return;
    }
    if !thought.missing.is_empty() {
        view.notes.push(words.fill("plant.missing", &[("parts", &thought.missing.join(", "))]));
        return;
    }
    let Some(verdict) = &thought.verdict else {
        view.notes.push(words.say("plant.settling").to_string());
        return;
    };
    if verdict.causes.is_empty() {
        view.head = words.say("plant.as-it-should").to_string();
        return;
    }
    view.head = words.say("plant.not-as-it-should").to_string();
    view.is_wrong = true;
    // Right after something has begun, everything is as likely as anything: one more look tells.
    if verdict.causes.first().is_none_or(|(_, chance)| *chance < UNDECIDED) {
        view.notes.push(words.say("plant.undecided").to_string());
        return;
    }
    let teller = RunTeller { words: &words, display: &visitor.display, layout };
    for (place, (cause, chance)) in verdict.causes.iter().take(NAMED).enumerate() {
        if place == 0 || SLIM <= *chance {
            // Never quite sure: a model is not the plant.
            let chance = visitor.display.percent(100.0 * chance.min(0.99), 0);
            let chance = visitor.words.fill("plant.chance", &[("chance", &chance)]);
            view.causes.push(CauseView { text: teller.cause(cause), chance });
        }
    }
    view.next = verdict.causes.first().map(|(cause, _)| teller.check(check_of(cause)));
}

/// When the panel will be in its band.
fn ahead(visitor: &Visitor, layout: &Layout, following: &Following, thought: &Thought) -> Option<String> {
    let words = visitor.words;
    let sensor = &layout.sensors[layout.control.panel];
    let panel = following.live.of_part(&sensor.id)?;
    let target = layout.control.target.percent();
    if (panel - target).abs() <= 100.0 * layout.control.band {
        return Some(words.fill("plant.in-band", &[("panel", &number(panel, 2))]));
    }
    let ([low, middle, high], at) = thought.ahead?;
    let passed = visitor.app.clock.now().duration_since(at).as_secs_f64();
    let minutes = |seconds: f64| number(((seconds - passed) / 60.0).max(0.0), 0);
    // Before salt has begun to tell, that it will not come there by itself says nothing.
    let Some(middle) = middle else {
        return (HAS_BEGUN < panel).then(|| words.say("plant.not-soon").to_string());
    };
    let values = [
        ("panel", number(panel, 1)),
        ("minutes", minutes(middle)),
        ("low", low.map_or_else(|| "0".to_string(), minutes)),
        ("high", high.map_or_else(|| "180".to_string(), minutes)),
    ];
    let key = if high.is_some() { "plant.in-about" } else { "plant.in-about-or-more" };
    Some(words.fill_with(key, &values))
}

/// A plant that makes one batch after another falls back when the next begins, per cent.
const FALLS_BACK: f64 = 1.5;

/// The first climb of a band, minutes from its begin: what comes after is the next batch.
fn first_climb(band: &Band, began: f64) -> Vec<(f64, [f64; 3])> {
    let mut highest: f64 = 0.0;
    let rows = band.seconds.iter().zip(&band.panel);
    rows.take_while(|(_, [low, ..])| {
        highest = highest.max(*low);
        highest - FALLS_BACK <= *low
    })
    .map(|(seconds, panel)| (began + seconds / 60.0, *panel))
    .collect()
}

/// What a run begun now should look like; nothing until it is worked out, or where the plant is not described.
pub(crate) fn before(visitor: &Visitor) -> Option<ChartPair> {
    let (band, _) = visitor.app.watch.thought().before?;
    let words = visitor.words;
    let expected = first_climb(&band, 0.0);
    let span = |seconds: f64| visitor.display.duration(SignedDuration::from_secs_f64(seconds));
    let [early, middle, late] = band.reached;
    let says = match (early, middle, late) {
        (Some(early), Some(middle), Some(late)) => words.fill(
            "plant.before-why",
            &[("middle", &span(middle)), ("early", &span(early)), ("late", &span(late))],
        ),
        (_, Some(middle), None) => words.fill("plant.before-half", &[("middle", &span(middle))]),
        _ => words.say("plant.before-never").to_string(),
    };
    let note = visitor.app.yard.making.as_ref().zip(middle).and_then(|(layout, middle)| {
        let teller = RunTeller { words: &words, display: &visitor.display, layout };
        teller.startup_note(visitor.app.yard.plant.start_up, middle)
    });
    let says = note.map_or_else(|| says.clone(), |note| format!("{says} {note}"));
    let spec = visitor.app.yard.made_spec();
    let drawing = BuildUp {
        id: "before",
        panel: &[],
        expected: &expected,
        begin: None,
        bench: &[],
        spec: &spec,
        says: &says,
    };
    let draw = |size| build_up(&drawing, size, &visitor.display, &words);
    let entries = [("k-spec", "chart.key.spec"), ("k-band", "chart.key.expected")];
    Some(ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says, key: key(visitor, &entries) })
}

fn chart(
    visitor: &Visitor,
    books: &Books,
    run: &Run,
    layout: &Layout,
    following: &Following,
    thought: &Thought,
) -> Option<ChartPair> {
    let app = &visitor.app;
    let sensor = &layout.sensors[layout.control.panel];
    let now = app.clock.now();
    let minute = |at: Timestamp| at.duration_since(run.at).as_secs_f64() / 60.0;
    let panel: Vec<(f64, f64, f64, f64)> = following
        .window(&sensor.id, run.at, now, COLUMNS)
        .into_iter()
        .map(|column| (minute(column.from), column.least, column.most, column.mean))
        .collect();
    let last = panel.last()?;
    let began = thought.since.map_or(0.0, minute);
    let expected = thought.band.as_ref().map_or_else(Vec::new, |band| first_climb(band, began));
    let bench: Vec<(f64, f64, f64)> = books
        .bench
        .readings_since(run.at)
        .map(|(at, percent, within)| (minute(at), percent, within))
        .collect();
    let spec = app.yard.made_spec();
    let says = visitor.words.fill("plant.chart-says", &[("panel", &number(last.3, 1))]);
    let drawing = BuildUp {
        id: "build-up",
        panel: &panel,
        expected: &expected,
        begin: Some(run.at),
        bench: &bench,
        spec: &spec,
        says: &says,
    };
    let draw = |size| build_up(&drawing, size, &visitor.display, &visitor.words);
    let mut entries = vec![("k-have", "chart.key.panel"), ("k-spec", "chart.key.spec")];
    if !expected.is_empty() {
        entries.push(("k-band", "chart.key.expected"));
    }
    if !bench.is_empty() {
        entries.push(("k-reading", "chart.key.reading"));
    }
    let key: Vec<KeyEntry> = key(visitor, &entries);
    Some(ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says, key })
}
