//! A number that makes no sense as it was read, and would otherwise: the decimal mark left out, another instrument.

use bench::measure::{Measured, Sample, measure};
use bench::register;
use bench::solute::Solute;
use chemistry::Salt;
use entry::EntryProblem;
use message::{message, said};
use quantity::{in_celsius, in_fahrenheit};
use report::bench_words::reading_decimals;
use report::display::number;
use site::Instrument;

use super::{Read, SENSELESS, TAP};
use crate::page_frame::Visitor;
use crate::pages::parts;

/// What a number that makes no sense was perhaps meant to be.
#[derive(Default)]
pub(super) struct Meant {
    pub(super) text: String,
    /// The same sample as it was perhaps read: what a button says, and where it leads.
    pub(super) instead: Vec<(String, String)>,
}

/// Weakest and strongest brine that a slip of the decimal mark is taken to mean, per cent by mass. Our own figures.
const SLIP: std::ops::RangeInclusive<f64> = 15.0..=26.4;

/// What it was perhaps meant to be; nothing where no other reading of it makes sense.
pub(super) fn or_meant(visitor: &Visitor, read: &Read<'_>, is_off_scale: bool) -> Option<Meant> {
    let (words, target) = (visitor.words, visitor.app.yard.spec(&read.tank).target.percent());
    let strength = |instrument: &Instrument, divided: f64| {
        let sample = Sample {
            solute: Solute::of(Salt::SodiumChloride),
            readings: read.shown.iter().map(|shown| shown / divided - instrument.offset).collect(),
            temperature: read.temperature,
            temperature_half_width: visitor.app.yard.bench.thermometer,
        };
        measure(&instrument.card, &sample).ok().map(|found| found.brine.strength().percent())
    };
    let mut found = Meant::default();
    // 1150 for 1.150: the mark was left out.
    let is_slip = |by: &f64| strength(read.instrument, *by).is_some_and(|w| SLIP.contains(&w));
    if let Some(by) = [1000.0, 100.0, 10.0].into_iter().find(is_slip).filter(|_| is_off_scale) {
        let decimals = reading_decimals(read.instrument.card.resolution);
        let shown: Vec<String> = read.shown.iter().map(|shown| number(shown / by, decimals)).collect();
        let shown = shown.join(" ");
        found.text = words.fill("bench.meant-slip", &[("typed", &read.typed), ("shown", &shown)]);
        let url = again_at(visitor, read, &read.instrument.id, &shown);
        found.instead.push((words.fill("bench.it-was", &[("what", &shown)]), url));
        return Some(found);
    }
    // A number of another instrument of the yard.
    let fits = |other: &&Instrument| {
        let is_other = other.id != read.instrument.id;
        is_other && strength(other, 1.0).is_some_and(|w| (w - target).abs() <= SENSELESS)
    };
    let others: Vec<&Instrument> = visitor.app.yard.instruments.iter().filter(fits).collect();
    let names: Vec<String> = if others.is_empty() {
        let (scale, solute) = (&read.instrument.card.scale, Solute::of(Salt::SodiumChloride));
        let scales = register::likely_scales(read.mean(), scale, &solute, read.temperature, target);
        scales.iter().map(|scale| words.say(&format!("scale.{scale}")).to_owned()).collect()
    } else {
        others.iter().map(|other| other.name.clone()).collect()
    };
    for other in others {
        let label = words.fill("bench.it-was", &[("what", &other.name)]);
        found.instead.push((label, again_at(visitor, read, &other.id, &read.typed)));
    }
    found.text = words.fill("bench.meant", &[("scales", &names.join(", "))]);
    (!names.is_empty()).then_some(found)
}

/// The same sample with another instrument, or another number.
fn again_at(visitor: &Visitor, read: &Read<'_>, instrument: &str, shown: &str) -> String {
    let code = crate::encoded::form_encoded;
    let temp = read.temperature.map_or_else(String::new, |at| match visitor.is_us() {
        true => format!("&temp_f={}", parts::plain(in_fahrenheit(at))),
        false => format!("&temp_c={}", parts::plain(in_celsius(at))),
    });
    let sample = read.sample.map_or_else(String::new, |id| format!("&sample={id}"));
    let (tank, instrument, shown) = (code(&read.tank), code(instrument), code(shown));
    let level = if read.tank == TAP { String::new() } else { format!("&level={}", code(read.level.word())) };
    // What is of now stays of now.
    let age = visitor.now().duration_since(read.at).as_secs().abs();
    let at = if age < 60 { String::new() } else { format!("&at={}", read.at) };
    let occasion = &read.occasion;
    let asked = format!("tank={tank}&instrument={instrument}&reading={shown}{temp}{level}{at}{sample}");
    visitor.app.url(&format!("/bench?{asked}&occasion={occasion}"))
}

/// A reading that makes no sense as it was typed, and would otherwise: asked about before it is logged.
pub(super) fn meant_otherwise(visitor: &Visitor, read: &Read<'_>, found: &Measured) -> Option<EntryProblem> {
    let meant =
        or_meant(visitor, read, false).filter(|_| read.is_plain && is_senseless(visitor, read, found))?;
    let accepted = message!("bench.meant-accepted");
    Some(EntryProblem::new("reading", &read.typed, said(meant.text), accepted))
}

/// Whether a strength is far from everything that a tank should hold.
pub(super) fn is_senseless(visitor: &Visitor, read: &Read<'_>, found: &Measured) -> bool {
    let spec = visitor.app.yard.spec(&read.tank);
    let (low, high) = (spec.low.percent(), spec.high.percent());
    !(low - SENSELESS..=high + SENSELESS).contains(&found.brine.strength().percent())
}
