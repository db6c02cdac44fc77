//! How to put a tank right, as sentences and figures: the same for the page and for the command line.

use chemistry::correction::Fit;
use quantity::{Mass, Volume, in_kilograms};
use yard::put_right::{Advice, FIRST_PART, With};

use crate::display::{Display, number};
use crate::words::Words;

/// What is said of one piece of advice.
#[derive(Debug, Clone, PartialEq)]
pub struct CorrectionWords {
    /// The one act, in a sentence.
    pub headline: String,
    /// Name and figure, in order.
    pub facts: Vec<(String, String)>,
    /// What to do, step by step; empty where there is no room yet.
    pub steps: Vec<String>,
    /// Cautions for this correction, one sentence each.
    pub cares: Vec<String>,
    /// There is room for it.
    pub fits: bool,
    /// What goes in first.
    pub first_part: String,
    /// All of it.
    pub all_of_it: String,
}

/// Tells how to put a tank right.
pub fn correction_words(display: &Display, words: &Words, with: &With, advice: &Advice) -> CorrectionWords {
    let correction = &advice.correction;
    let amount = |mass: Mass, volume: Option<Volume>| match volume {
        Some(volume) => display.volume(volume),
        None => display.mass(mass),
    };
    let told = amount(correction.add, correction.add_volume);
    let headline = match with {
        With::Water => words.fill("right.put-water", &[("amount", &told)]),
        With::Plant => words.fill("right.put-plant", &[("amount", &told)]),
        With::Salt => words.fill("right.put-salt", &[("amount", &told)]),
        With::Tank(tank) => words.fill("right.put-brine", &[("amount", &told), ("tank", tank)]),
        With::Lot(strength) => {
            words.fill("right.put-lot", &[("amount", &told), ("strength", &display.strength(*strength))])
        }
    };
    let part = amount(correction.add * FIRST_PART, correction.add_volume.map(|volume| volume * FIRST_PART));
    CorrectionWords {
        first_part: words.fill("right.first-is-in", &[("amount", &part)]),
        all_of_it: words.fill("right.all-is-in", &[("amount", &told)]),
        headline,
        facts: facts(display, words, advice),
        steps: steps(display, words, (with, advice), &part),
        cares: cares(words, with),
        fits: !matches!(advice.fit, Some(Fit::DrawFirst { .. })),
    }
}

fn facts(display: &Display, words: &Words, advice: &Advice) -> Vec<(String, String)> {
    let correction = &advice.correction;
    let mut facts = Vec::new();
    let mut fact = |key: &str, value: String| facts.push((words.say(key).to_string(), value));
    if let Some(volume) = correction.add_volume {
        fact("right.by-volume", format!("{} ({})", display.volume(volume), display.volume_beside(volume)));
    }
    fact(
        "right.by-mass",
        format!("{} ({})", display.mass(correction.add), display.mass_beside(correction.add)),
    );
    if let Some(buckets) = advice.buckets {
        fact("right.buckets", number(buckets, 1));
    }
    if let Some(time) = advice.plant {
        fact("right.plant-time", display.time_span(time));
    }
    if let Some(time) = advice.pumping {
        fact("right.pumping", display.time_span(time));
    }
    let (low, high) = correction.add_between;
    let fits = !matches!(advice.fit, Some(Fit::DrawFirst { .. }));
    let between = |mass: Mass| match correction.add_volume {
        // In proportion: the volume of what is put in is its mass over one density.
        Some(volume) => display.volume(volume * (in_kilograms(mass) / in_kilograms(correction.add))),
        None => display.mass(mass),
    };
    // With some drawn off first, all of it is less, and so is what it lies between.
    if fits {
        let (low, high) = (between(low), between(high));
        fact("right.between", words.fill("right.between-value", &[("low", &low), ("high", &high)]));
    }
    let after = &correction.after;
    fact(
        "right.after",
        words.fill(
            "right.after-value",
            &[
                ("volume", &display.volume(correction.volume_after)),
                ("strength", &display.strength(after.brine.strength())),
                ("temp", &display.temperature(after.temperature)),
            ],
        ),
    );
    if in_kilograms(after.insolubles) > 0.5 {
        let mass = display.mass(after.insolubles);
        fact("right.sludge", words.fill("right.sludge-value", &[("mass", &mass)]));
    }
    match (advice.fit, advice.capacity) {
        (Some(Fit::Fits), Some(capacity)) => {
            let room = display.volume(capacity - correction.volume_after);
            fact("right.room", words.fill("right.fits", &[("room", &room)]));
        }
        (Some(Fit::DrawFirst { draw_volume, add, add_volume, .. }), _) => {
            let add = add_volume.map_or_else(|| display.mass(add), |volume| display.volume(volume));
            let draw = display.volume(draw_volume);
            fact("right.room", words.fill("right.no-room", &[("draw", &draw), ("add", &add)]));
        }
        _ => {}
    }
    facts
}

fn steps(display: &Display, words: &Words, (with, advice): (&With, &Advice), part: &str) -> Vec<String> {
    if matches!(advice.fit, Some(Fit::DrawFirst { .. })) {
        return Vec::new();
    }
    if *with == With::Plant {
        return ["right.plant-suction", "right.plant-salt", "right.plant-panel", "right.sample"]
            .map(|key| words.say(key).to_string())
            .to_vec();
    }
    let times = number(advice.turnovers, if advice.turnovers.fract() == 0.0 { 0 } else { 1 });
    let round = match advice.circulating {
        Some(time) => words.fill("right.circulate", &[("time", &display.time_span(time)), ("times", &times)]),
        None => words.fill("right.circulate-times", &[("times", &times)]),
    };
    vec![words.fill("right.first-part", &[("amount", part)]), round, words.say("right.sample").to_string()]
}

fn cares(words: &Words, with: &With) -> Vec<String> {
    let keys: &[&str] = match with {
        With::Water => &["care.tank", "care.backflow", "care.lockout", "care.slip"],
        With::Salt => &["care.tank", "care.hopper", "care.cold-mix", "right.per-water", "care.slip"],
        With::Plant => &["care.tank", "care.hopper", "care.lockout", "care.slip"],
        With::Tank(_) | With::Lot(_) => &["care.tank", "care.lockout", "care.slip", "care.heavy"],
    };
    keys.iter().map(|key| words.say(key).to_string()).collect()
}
