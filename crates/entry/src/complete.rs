//! What an entry leaves unsaid and the yard knows: a volume by the scale or through a meter's factor, the moisture of a
//! sample that was dried, the load that a return is the rest of, the bill at the price agreed, the number that was set
//! before, the sample that a panel was held against. The same for a form, a command and a table.

use message::{Message, Tell, message};
use quantity::{celsius, in_cubic_metres, kilograms};
use serde_json::{Map, Number, Value};

use super::problem::{EntryProblem, none};
use super::typed::without_noise;
use crate::sample::{self, Shown};
use event::{Body, CheckedIn, Field, HowFound, Kind, SamplePoint};
use site::Yard;
use yard::stock::{Books, Ticketed};

/// Fields as they are kept, and what was typed in place of some.
type Fields = Map<String, Value>;

/// Works out what can be; what was typed in place of a field goes.
pub(super) fn complete(
    kind: &Kind,
    fields: &mut Fields,
    (yard, books): (&Yard, &Books),
) -> Result<(), Box<EntryProblem>> {
    match kind.name {
        "salt_delivery" => moisture(fields)?,
        "trim_set" => from_now(fields, books),
        "panel_check" => of_sample(fields, books),
        "reading" => by_instrument(fields, (yard, books))?,
        "instrument_check" => should_show(fields, yard)?,
        "load_out" => {
            through_meter(fields, yard);
            by_weight(fields, (yard, books));
        }
        "return_to_tank" => {
            of_load(fields, books);
            by_weight(fields, (yard, books));
        }
        "issue_out" => {
            by_weight(fields, (yard, books));
            agreed_price(fields, (yard, books));
        }
        _ => {}
    }
    for Field { name, .. } in kind.helpers {
        fields.remove(*name);
    }
    Ok(())
}

fn number(fields: &Fields, name: &str) -> Option<f64> {
    fields.get(name)?.as_f64()
}

fn text<'f>(fields: &'f Fields, name: &str) -> Option<&'f str> {
    fields.get(name)?.as_str()
}

fn put(fields: &mut Fields, name: &str, value: f64) {
    if let Some(value) = Number::from_f64(without_noise(value)) {
        fields.insert(name.to_owned(), Value::Number(value));
    }
}

/// Mass of a sample as it came and dried, as the moisture.
fn moisture(fields: &mut Fields) -> Result<(), Box<EntryProblem>> {
    let (wet, dry) = match (number(fields, "wet"), number(fields, "dry")) {
        (None, None) => return Ok(()),
        (Some(wet), Some(dry)) => (wet, dry),
        (wet, _) => {
            let missing = if wet.is_some() { "dry" } else { "wet" };
            let (problem, accepted) = (message!("entry.weighed-once"), message!("entry.accept-both-masses"));
            return Err(Box::new(EntryProblem::new(missing, none(), problem, accepted)));
        }
    };
    if let Some(given) = number(fields, "moisture_pct") {
        let accepted = message!("entry.accept-moisture-or-masses");
        let problem = message!("entry.moisture-twice");
        return Err(Box::new(EntryProblem::new("moisture_pct", given, problem, accepted)));
    }
    // A ratio: any unit of mass serves as the kilogram.
    let found = accounts::receiving::moisture(kilograms(wet), kilograms(dry)).ok_or_else(|| {
        let accepted = message!("entry.accept-less");
        Box::new(EntryProblem::new("dry", dry, message!("entry.dried-heavier"), accepted))
    })?;
    put(fields, "moisture_pct", to_thousandths(found.percent()));
    Ok(())
}

/// The controller's number is set from what it was last.
fn from_now(fields: &mut Fields, books: &Books) {
    if let (false, Some(number)) = (fields.contains_key("from_number"), books.bench.number_now()) {
        put(fields, "from_number", number);
    }
}

/// The sample that the panel was held against, with its interval.
fn of_sample(fields: &mut Fields, books: &Books) {
    let Some(sample) = text(fields, "reading").and_then(|id| books.tap_sample(id.parse().ok()?)) else {
        return;
    };
    for (name, value) in [
        ("bench_pct", sample.strength.value.percent()),
        ("uncertainty_pct", sample.strength.uncertainty.percent()),
    ] {
        if !fields.contains_key(name) {
            put(fields, name, to_thousandths(value));
        }
    }
    // Of several instruments the readings themselves tell.
    let read = books.tap.iter().filter(|one| one.sample() == sample.sample && one.reading.doubt.is_none());
    let mut read_with: Vec<&String> = read.filter_map(|one| one.reading.instrument.as_ref()).collect();
    read_with.sort_unstable();
    read_with.dedup();
    if let [only] = read_with.as_slice() {
        fields.entry("instrument").or_insert_with(|| Value::String((*only).clone()));
    }
}

/// The strength of what an instrument showed, with its interval, where none was typed.
fn by_instrument(fields: &mut Fields, (yard, books): (&Yard, &Books)) -> Result<(), Box<EntryProblem>> {
    let instrument = text(fields, "instrument").and_then(|id| yard.instrument(id));
    let (Some(instrument), Some(typed), false) =
        (instrument, text(fields, "shown"), fields.contains_key("strength_pct"))
    else {
        return Ok(());
    };
    let refuse =
        |problem: Message, accepted: Message| Box::new(EntryProblem::new("shown", typed, problem, accepted));
    let readings = sample::several(typed)
        .ok_or_else(|| refuse(message!("entry.not-a-number"), message!("entry.accept-readings")))?;
    let is_of_tap = text(fields, "level") == Some(SamplePoint::PlantTap.word());
    let tank = text(fields, "tank").filter(|_| !is_of_tap).map(str::to_owned);
    let temperature = number(fields, "temp_c").map(celsius);
    let mix = tank.clone().unwrap_or_default();
    let shown = Shown::new((yard, books), tank, instrument, readings, temperature).ok_or_else(|| {
        let problem = message!("entry.mix-not-known", tank = mix);
        refuse(problem, message!("entry.accept-strength-typed"))
    })?;
    let found =
        shown.measured().map_err(|error| refuse(error.message(), message!("entry.accept-strength-typed")))?;
    put(fields, "strength_pct", to_thousandths(found.brine.strength().percent()));
    put(fields, "uncertainty_pct", to_thousandths(found.expanded.half_width));
    fields.entry("scale").or_insert_with(|| Value::String(instrument.scale.clone()));
    if let Some(why) = found.doubt.and_then(|why| serde_json::to_string(&why.message()).ok()) {
        fields.insert("doubt".into(), Value::String(why));
    }
    Ok(())
}

/// What an instrument should show in water, or in brine of a strength that is known.
fn should_show(fields: &mut Fields, yard: &Yard) -> Result<(), Box<EntryProblem>> {
    let Some(instrument) = text(fields, "instrument").and_then(|id| yard.instrument(id)) else {
        return Ok(());
    };
    if fields.contains_key("expected_reading") {
        return Ok(());
    }
    let is_water = text(fields, "against") == Some(CheckedIn::Water.word());
    let known = if is_water { Some(0.0) } else { number(fields, "known_pct") };
    let Some(known) = known else {
        let accepted = message!("entry.accept-known-strength");
        return Err(Box::new(EntryProblem::new("known_pct", none(), message!("entry.needed"), accepted)));
    };
    let temperature = number(fields, "temp_c").map(celsius);
    let expected = sample::should_show(instrument, known, temperature).map_err(|error| {
        let accepted = message!("entry.accept-expected-typed");
        Box::new(EntryProblem::new("instrument", &instrument.name, error.message(), accepted))
    })?;
    put(fields, "expected_reading", (1e6 * expected).round() / 1e6);
    Ok(())
}

fn to_thousandths(value: f64) -> f64 {
    (1000.0 * value).round() / 1000.0
}

/// What a meter shows is not what went on, where its factor is known: the ticket keeps both.
fn through_meter(fields: &mut Fields, yard: &Yard) {
    let is_metered = text(fields, "how") == Some(HowFound::Meter.word());
    let factor = yard.loading_meter().map(|meter| meter.factor).filter(|factor| (factor - 1.0).abs() > 1e-9);
    if let (true, Some(factor), Some(shown), false) =
        (is_metered, factor, number(fields, "volume_m3"), fields.contains_key("metered_m3"))
    {
        put(fields, "metered_m3", shown);
        put(fields, "volume_m3", shown * factor);
    }
}

/// Where liquid was weighed and no volume read, the volume that the mass fills.
fn by_weight(fields: &mut Fields, (yard, books): (&Yard, &Books)) {
    if fields.contains_key("volume_m3") {
        return;
    }
    let (Some(kg), Some(tank)) = (number(fields, "weighed_kg"), text(fields, "tank")) else { return };
    let volume = crate::ticket::volume_of(yard, books, tank, kilograms(kg), number(fields, "temp_c"));
    if let Some(volume) = volume {
        put(fields, "volume_m3", in_cubic_metres(volume));
        fields.insert("how".into(), Value::String(HowFound::Weight.word().into()));
    }
}

/// The truck's last load: a return is the rest of it, and goes to its tank where none is said.
fn of_load(fields: &mut Fields, books: &Books) {
    let Some(truck) = text(fields, "truck") else { return };
    let of_truck = |ticket: &&Ticketed| match &ticket.recorded.event.body {
        Body::LoadOut(load) => load.truck == truck,
        _ => false,
    };
    let Some(ticket) = books.tickets.iter().rev().find(of_truck) else { return };
    let Body::LoadOut(load) = &ticket.recorded.event.body else { return };
    let (id, tank) = (ticket.recorded.event.id.to_string(), load.tank.clone());
    fields.entry("load").or_insert(Value::String(id));
    fields.entry("tank").or_insert(Value::String(tank));
}

/// The bill at the price agreed now, kept with the issue: a price that changes later changes no old bill.
fn agreed_price(fields: &mut Fields, (yard, books): (&Yard, &Books)) {
    let (Some(m3), Some(agency), Some(tank), false) = (
        number(fields, "volume_m3"),
        text(fields, "agency"),
        text(fields, "tank"),
        fields.contains_key("price_usd"),
    ) else {
        return;
    };
    let has_price = yard.agency(agency).is_some_and(|agency| agency.usd_per_m3 > 0.0);
    let liquid = crate::ticket::drawn(yard, books, tank, m3, number(fields, "temp_c"));
    if let (true, Some(liquid)) = (has_price, liquid) {
        let usd = accounts::bill(yard, agency, &liquid);
        put(fields, "price_usd", usd);
    }
}
