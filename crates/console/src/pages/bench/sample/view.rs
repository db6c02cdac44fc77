//! The page of a sample as it is drawn: what the readings say together, and what to do.

use askama::Template;
use bench::Conformity;
use bench::conformity::Known;
use bench::consensus::{Answer, consensus};
use bench::drift::Steadiness;
use bench::measure::Measured;
use entry::sample::dissolved;
use event::{Choice as _, EventId, Occasion, SamplePoint};
use jiff::Timestamp;
use message::Tell;
use quantity::celsius;
use report::Words;
use report::chart::{ReadingsChart, Size, readings_chart};
use report::display::number;
use site::{Instrument, Spec};
use yard::stock::{Books, LoggedReading};

use super::meant::{Meant, or_meant};
use super::{K95, Leaf, due_lines, leaves};
use crate::error::PageError;
use crate::page_frame::{Link, PageFrame, Place, Visitor};
use crate::pages::bench::sample::{
    BenchQuery, CHARTED, Choice, LISTED, Read, TAP, brine_tanks, chosen_tank, named, read, tank_of,
};
use crate::pages::charts;
use crate::pages::charts::ChartPair;
use crate::pages::parts::{self};

/// A verdict in the operator's words.
pub(super) struct Told {
    pub(super) mark: &'static str,
    pub(super) headline: String,
    pub(super) is_out: bool,
    pub(super) next: String,
    pub(super) why: String,
    pub(super) doubt: Option<String>,
    /// How cold this sample may get, of plain brine.
    pub(super) liquid: Option<String>,
    /// What was typed, and on which instrument.
    pub(super) typed: String,
    /// It lies far from the tank's last reading.
    pub(super) jump: Option<String>,
    pub(super) right_url: Option<String>,
    pub(super) budget: Vec<(String, String)>,
    pub(super) together: String,
    pub(super) within: String,
    pub(super) reason: String,
}

/// What several instruments say of one sample.
pub(super) struct Together {
    pub(super) headline: String,
    pub(super) lines: Vec<String>,
    pub(super) warning: Option<String>,
}

/// What may be done with a reading that was just logged.
pub(super) struct After {
    pub(super) another_url: String,
    /// Where the panel is held against it: only a sample of the plant's tap.
    pub(super) trim_url: Option<String>,
}

#[derive(Template)]
#[template(path = "bench_sample.html")]
pub(super) struct BenchPage {
    pub(super) w: Words,
    pub(super) c: PageFrame,
    pub(super) page_url: String,
    pub(super) tank: String,
    /// "Tank 1", in the reader's words.
    pub(super) tank_named: String,
    pub(super) tanks: Vec<Link>,
    pub(super) instruments: Vec<Choice>,
    pub(super) instrument: String,
    pub(super) levels: Vec<Choice>,
    pub(super) level: String,
    pub(super) occasions: Vec<Choice>,
    pub(super) occasion: String,
    pub(super) reading: String,
    pub(super) temp_name: &'static str,
    pub(super) temp_label: String,
    pub(super) temp_unasked: String,
    pub(super) temp: String,
    pub(super) problems: Vec<String>,
    pub(super) told: Option<Told>,
    /// Why no strength can be given; empty when it can.
    pub(super) refusal: String,
    pub(super) meant: Option<Meant>,
    pub(super) together: Option<Together>,
    pub(super) after: Option<After>,
    pub(super) leaves: Vec<Link>,
    pub(super) due: Vec<String>,
    pub(super) due_url: String,
    pub(super) sample: String,
    pub(super) at: String,
    pub(super) blend: Option<String>,
    pub(super) history: Vec<String>,
    pub(super) chart: Option<ChartPair>,
    pub(super) entry_id: String,
    pub(super) author: String,
    pub(super) ask_confirm: Option<String>,
    pub(super) record_problems: Vec<String>,
}

pub(super) fn page(visitor: &Visitor, query: &BenchQuery) -> Result<BenchPage, PageError> {
    let (app, words, us) = (&visitor.app, visitor.words, visitor.is_us());
    let tank = chosen_tank(visitor, query);
    let books = app.books().map_err(|error| PageError::store(visitor, &error))?;
    // Newest first.
    let mut readings = books.readings_from(tank_of(&tank).as_deref()).to_vec();
    readings.reverse();
    let (mut problems, mut told, mut refusal, mut meant) = (Vec::new(), None, String::new(), None);
    let spec = app.yard.spec(&tank);
    match read(visitor, &books, query) {
        Ok(Some(read)) => {
            let found = read.shown.measured();
            let is_senseless = found.as_ref().map_or(true, |found| read.shown.is_senseless(found));
            let is_asked = is_senseless && read.shown.is_plain;
            meant = is_asked.then(|| or_meant(visitor, &read, found.is_err())).flatten();
            match found.and_then(|found| tell(visitor, &read, &found)) {
                Ok(verdict) => told = Some(verdict),
                Err(error) => refusal = format!("{}.", visitor.display.tell(&error.message())),
            }
        }
        Ok(None) => {}
        Err(wrong) => problems = wrong,
    }
    let logged = parts::given(query.logged.as_ref()).and_then(|id| id.parse::<EventId>().ok());
    let logged = logged.and_then(|id| readings.iter().find(|one| one.event == id));
    let sample = logged.map(LoggedReading::sample).or(query.sample.as_ref().and_then(|id| id.parse().ok()));
    // Remembered: the instrument of the last reading of this tank.
    let last = readings.iter().find_map(|one| one.reading.instrument.clone());
    let known = |id: &String| app.yard.instruments.iter().any(|one| one.id == *id);
    let first = app.yard.instruments.first().map(|one| one.id.clone());
    let instrument = query.instrument.clone().or(last.filter(known)).or(first).unwrap_or_default();
    let choices = |key: &dyn Fn(&str) -> String, accepted: &[&str], chosen: &str| -> Vec<Choice> {
        let choice = |value: &&str| Choice {
            value: (*value).to_string(),
            label: words.say(&key(value)).to_string(),
            word: String::new(),
            is_compensated: false,
            chosen: *value == chosen,
        };
        accepted.iter().map(choice).collect()
    };
    let level = query.level.clone().unwrap_or_else(|| SamplePoint::Outlet.word().to_owned());
    let occasion = query.occasion.clone().unwrap_or_else(|| Occasion::Usual.word().to_owned());
    let levels = SamplePoint::OF_TANK.each_ref().map(SamplePoint::word);
    let link = |id: String| Link {
        url: app.url(&format!("/bench?tank={}", crate::encoded::form_encoded(&id))),
        current: id == tank,
        label: if id == TAP {
            words.say("bench.tap").to_owned()
        } else {
            format!("{} {id}", words.say("tanks.tank"))
        },
    };
    Ok(BenchPage {
        c: PageFrame::new(visitor, Place::Bench, words.say("bench.title"), "/bench"),
        w: words,
        page_url: app.url("/bench"),
        tanks: brine_tanks(visitor).into_iter().chain([TAP.to_owned()]).map(link).collect(),
        instruments: app
            .yard
            .instruments
            .iter()
            .map(|one| Choice {
                value: one.id.clone(),
                label: one.name.clone(),
                word: word_of(visitor, &books, one),
                is_compensated: !one.card.scale.needs_temperature(),
                chosen: one.id == instrument,
            })
            .collect(),
        levels: if tank == TAP {
            Vec::new()
        } else {
            choices(&|level| format!("level.{level}"), &levels, &level)
        },
        occasions: choices(&|occasion| format!("occasion.{occasion}"), Occasion::WORDS, &occasion),
        reading: query.reading.clone().unwrap_or_default(),
        temp_name: if us { "temp_f" } else { "temp_c" },
        temp_unasked: {
            let [low, high] = bench::sugar::COMPENSATED.map(|c| visitor.display.temperature(celsius(c)));
            words.fill_with("bench.temp-unasked", &[("low", low), ("high", high)])
        },
        temp_label: words.say(if us { "bench.temp-f" } else { "bench.temp-c" }).to_string(),
        temp: if us { query.temp_f.clone() } else { query.temp_c.clone() }.unwrap_or_default(),
        history: readings.iter().take(LISTED).map(|one| line(visitor, one)).collect(),
        chart: chart(visitor, &spec, &readings),
        together: sample.and_then(|sample| together(visitor, &books, &tank, sample)),
        after: logged.map(|one| after(visitor, &tank, one)),
        leaves: leaves(visitor, Leaf::Sample),
        due: due_lines(visitor, &books),
        due_url: app.url("/bench/instruments#due"),
        sample: sample.filter(|_| logged.is_none()).map_or_else(String::new, |id| id.to_string()),
        at: query.at.clone().unwrap_or_default(),
        blend: blend_line(visitor, &books, &tank),
        tank_named: named(visitor, &tank),
        tank,
        instrument,
        level,
        occasion,
        problems,
        told,
        refusal,
        meant,
        entry_id: parts::entry_id(),
        author: String::new(),
        ask_confirm: None,
        record_problems: Vec::new(),
    })
}

/// A logged reading in a line.
pub(super) fn line(visitor: &Visitor, logged: &LoggedReading) -> String {
    let reading = &logged.reading;
    let within = reading.uncertainty_pct.map_or(String::new(), |u| format!(" ± {}", number(u, 1)));
    let name = reading.instrument.as_ref().map(|id| visitor.teller().instrument_called(id));
    let shown = reading.shown.as_ref().map(|shown| format!(" {shown}")).unwrap_or_default();
    let by = name.map_or(String::new(), |name| format!(", {name}{shown}"));
    let doubt = reading.doubt.as_ref().map_or("", |_| visitor.words.say("bench.doubtful-short"));
    let strength = visitor.display.percent(reading.strength_pct, 1);
    format!("{}: {strength}{within}{by}, {}{doubt}", visitor.display.time(logged.at), logged.author)
}

/// The readings of a tank as a picture, from two on; newest come first in, oldest stand left.
pub(super) fn chart(visitor: &Visitor, spec: &Spec, readings: &[LoggedReading]) -> Option<ChartPair> {
    let with_interval = readings
        .iter()
        .take(CHARTED)
        .rev()
        .filter_map(|one| Some((one.at, one.reading.strength_pct, one.reading.uncertainty_pct?)));
    let points: Vec<(Timestamp, f64, f64)> = with_interval.collect();
    if points.len() < 2 {
        return None;
    }
    let (low, high) = (number(spec.low.percent(), 1), number(spec.high.percent(), 1));
    let count = points.len().to_string();
    let values = [("count", count.as_str()), ("low", &low), ("high", &high)];
    let says = visitor.words.fill("chart.readings-says", &values);
    let of = ReadingsChart { id: "readings", readings: &points, spec, says: &says };
    let key = charts::key(visitor, &[("k-reading", "chart.key.interval"), ("k-spec", "chart.key.spec")]);
    let draw = |size| readings_chart(&of, size, &visitor.display, &visitor.words);
    Some(ChartPair { phone: draw(Size::Phone), wide: draw(Size::Wide), says, key })
}

pub(super) fn word_of(visitor: &Visitor, books: &Books, instrument: &Instrument) -> String {
    let word = books
        .bench
        .drift(instrument)
        .map(|drift| drift.steadiness)
        .filter(|word| *word != Steadiness::Steady);
    word.map_or_else(String::new, |word| visitor.teller().drift_word(word).to_string())
}

/// What is in a tank beside sodium chloride, in a sentence.
pub(super) fn blend_line(visitor: &Visitor, books: &Books, tank: &str) -> Option<String> {
    let (solute, is_plain) = dissolved(&visitor.app.yard, books, tank_of(tank).as_deref())?;
    if is_plain {
        return None;
    }
    let shares: Vec<String> = solute
        .shares()
        .map(|(salt, share)| format!("{} {}", visitor.display.percent(100.0 * share, 0), salt.formula()))
        .collect();
    Some(visitor.words.fill("bench.blend-of", &[("shares", &shares.join(", "))]))
}

/// What may be done with a reading that was logged.
pub(super) fn after(visitor: &Visitor, tank: &str, logged: &LoggedReading) -> After {
    let reading = &logged.reading;
    let mut another =
        format!("/bench?tank={}&sample={}", crate::encoded::form_encoded(tank), logged.sample());
    if let Some(level) = reading.level.as_ref().filter(|level| **level != SamplePoint::PlantTap) {
        another = format!("{another}&level={}", crate::encoded::form_encoded(level.word()));
    }
    if let Some(occasion) = reading.occasion {
        another = format!("{another}&occasion={occasion}");
    }
    // Another instrument than the one just read, where there is one.
    let others = &visitor.app.yard.instruments;
    let other = others.iter().find(|one| Some(&one.id) != reading.instrument.as_ref());
    if let Some(other) = other {
        another = format!("{another}&instrument={}", crate::encoded::form_encoded(&other.id));
    }
    let trim = format!("/bench/trim?reading={}", logged.event);
    After { another_url: visitor.app.url(&another), trim_url: (tank == TAP).then(|| visitor.app.url(&trim)) }
}

/// What the instruments that read a sample say together, once there are two.
pub(super) fn together(visitor: &Visitor, books: &Books, tank: &str, sample: EventId) -> Option<Together> {
    let read = books.bench.of_sample(sample);
    let said: Vec<Answer> =
        read.iter().map(|(_, strength, u)| Answer { strength: *strength, uncertainty: *u }).collect();
    let found = consensus(&said).ok()?;
    let words = visitor.words;
    let within = number(K95 * found.uncertainty, 1);
    let values =
        [("strength", &*number(found.strength, 1)), ("within", &within), ("count", &read.len().to_string())];
    let headline = words.fill("bench.together", &values);
    let lines = read.iter().map(|(id, strength, u)| {
        let name = visitor.teller().instrument_called(id);
        format!("{name}: {} ± {}", visitor.display.percent(*strength, 1), number(K95 * u, 1))
    });
    let warning = match found.outlier {
        Some(place) => {
            let name = visitor.teller().instrument_called(&read[place].0);
            Some(words.fill("bench.outlier", &[("instrument", &name)]))
        }
        None if !found.is_consistent => Some(words.say("bench.disagree").to_string()),
        None => None,
    };
    let verdict = in_a_word(visitor, tank, found.strength, found.uncertainty);
    let headline = verdict.map_or(headline.clone(), |verdict| format!("{headline} {verdict}"));
    Some(Together { headline, lines: lines.collect(), warning })
}

/// A verdict in a word, for a strength with its standard uncertainty.
pub(in crate::pages::bench) fn in_a_word(
    visitor: &Visitor,
    tank: &str,
    percent: f64,
    uncertainty: f64,
) -> Option<&'static str> {
    let of = chemistry::MassFraction::from_percent;
    let known = Known {
        strength: of(percent).ok()?,
        standard_uncertainty: of(uncertainty).ok()?,
        degrees_of_freedom: None,
    };
    let verdict =
        visitor.app.yard.spec(tank).band().judge_at_risk(&known, visitor.app.yard.bench.risk).ok()?;
    Some(visitor.words.say(match verdict {
        Conformity::InSpec => "bench.word-in",
        Conformity::TooWeak => "bench.word-weak",
        Conformity::TooStrong => "bench.word-strong",
        Conformity::CannotTell => "bench.word-cannot",
    }))
}

/// Further from what a tank is thought to hold than this, and than its own interval, a reading is taken once more. Our
/// own figure.
pub(super) const JUMP_PERCENT: f64 = 0.5;

/// What a tank is thought to hold is known when it is within this, per cent by mass. Our own figure.
pub(super) const JUMP_KNOWN: f64 = 1.0;

pub(super) fn tell(visitor: &Visitor, read: &Read<'_>, found: &Measured) -> Result<Told, bench::Error> {
    let (words, spec) = (visitor.words, visitor.app.yard.spec(&read.tank));
    let band = spec.band();
    let known = found.known()?;
    let (verdict, chances) =
        (band.judge_at_risk(&known, visitor.app.yard.bench.risk)?, band.chances(&known)?);
    let (key, next, mark) = match verdict {
        Conformity::InSpec => ("bench.in", "bench.next-in", "✓"),
        Conformity::TooWeak => ("bench.too_weak", "bench.next-out", "▲"),
        Conformity::TooStrong => ("bench.too_strong", "bench.next-out", "▲"),
        Conformity::CannotTell => ("bench.cannot_tell", "bench.next-cannot_tell", "?"),
    };
    let (key, next, mark) =
        if read.shown.is_plain { (key, next, mark) } else { ("bench.blend", "bench.next-blend", "•") };
    let is_out = read.shown.is_plain && matches!(verdict, Conformity::TooWeak | Conformity::TooStrong);
    let strength = found.brine.strength().percent();
    let within = number(found.expanded.half_width, 1);
    let share = |chance: f64| number(100.0 * chance, 0);
    let limit = |limit: chemistry::MassFraction| number(limit.percent(), 1);
    let doubt = found
        .doubt
        .as_ref()
        .map(|why| words.fill("bench.doubtful", &[("why", &visitor.display.tell(&why.message()))]));
    // A tank does not change by itself: a reading far from the last is taken once more.
    let books = visitor.app.books().ok();
    let before = books.as_ref().and_then(|books| {
        let other = books.estimate(&read.tank)?.strength()?;
        (other.uncertainty.percent() < JUMP_KNOWN).then_some(other.value)
    });
    let jump = before.filter(|before| {
        let apart = (before.percent() - strength).abs();
        apart > JUMP_PERCENT + found.expanded.half_width
    });
    let jump = jump.map(|before| words.fill("bench.jump", &[("before", &number(before.percent(), 1))]));
    let is_far = jump.is_some();
    let first = found.brine.first_solid().ok();
    let liquid = first.filter(|_| read.shown.is_plain).map(|first| {
        let (at, u) =
            (visitor.display.temperature(first.temperature), visitor.display.degrees(first.uncertainty));
        let solid = visitor.teller().solid(first.solid).to_owned();
        words.fill_with("bench.liquid-to", &[("first", at), ("u", u), ("solid", solid)])
    });
    let right = (read.tank != TAP).then(|| {
        format!(
            "/put-right?tank={}&strength_pct={strength:.2}&uncertainty_pct={:.2}",
            crate::encoded::form_encoded(&read.tank),
            found.expanded.half_width
        )
    });
    Ok(Told {
        mark,
        headline: words.fill(key, &[("strength", &number(strength, 1)), ("within", &within)]),
        is_out,
        next: words.say(if is_out && jump.is_some() { "bench.next-again" } else { next }).to_string(),
        why: if !read.shown.is_plain {
            String::new()
        } else {
            words.fill(
                "bench.why",
                &[
                    ("low", &limit(spec.low)),
                    ("high", &limit(spec.high)),
                    ("in", &share(chances.in_spec)),
                    ("weak", &share(chances.too_weak)),
                    ("strong", &share(chances.too_strong)),
                ],
            )
        },
        doubt,
        liquid,
        typed: format!("{}: {}", read.shown.instrument.name, read.typed),
        jump,
        // Nothing is corrected on one reading that lies far from what the tank should be at.
        right_url: right.filter(|_| is_out && !is_far).map(|right| visitor.app.url(&right)),
        reason: if read.shown.is_plain { visitor.teller().spec_reason(&spec) } else { String::new() },
        budget: found
            .budget
            .components()
            .iter()
            .map(|line| {
                (words.say(&format!("bench-of.{}", line.name)).to_string(), number(line.contribution(), 3))
            })
            .collect(),
        together: words.fill("bench.budget-all", &[("k", &number(found.expanded.coverage_factor, 2))]),
        within: number(found.expanded.half_width, 2),
    })
}
