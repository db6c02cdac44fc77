//! Entries of every kind at random, as a person types them and as the ledger keeps them: drawn by what each field is
//! described to hold, so that a kind added tomorrow is drawn too.

#![allow(dead_code, reason = "each test program uses its part")]
#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use event::{Field, Figure, Holds, Kind, Named};
use proptest::prelude::*;
use serde_json::{Map, Value};
use site::Yard;

/// An id that some event of a test may have.
const SOME_EVENT: &str = "00000000-0000-0000-0000-000000000001";

pub fn sample_yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../../examples/alder_fork.toml"), "alder_fork.toml")
        .unwrap()
}

/// Names that a field of names may take in a yard.
fn names(named: Named, yard: &Yard) -> Vec<String> {
    let some_words = || vec!["some words".to_owned()];
    match named {
        Named::Tank => yard.tanks.iter().map(|one| one.id.clone()).collect(),
        Named::Truck => yard.trucks.iter().map(|one| one.id.clone()).collect(),
        Named::Route => yard.routes.iter().map(|one| one.id.clone()).collect(),
        Named::Road => {
            let classes = yard.route_classes.iter().map(|one| one.id.clone());
            classes.chain(yard.segments.iter().map(|one| one.id.clone())).collect()
        }
        Named::Product => yard.products.iter().map(|one| one.id.clone()).collect(),
        Named::Liquid => yard.products.iter().map(|one| one.id.clone()).chain(some_words()).collect(),
        Named::Meter => yard.meters.iter().map(|one| one.id.clone()).collect(),
        Named::MeterOrAny if yard.meters.is_empty() => some_words(),
        Named::MeterOrAny => yard.meters.iter().map(|one| one.id.clone()).collect(),
        Named::Agency => yard.agencies.iter().map(|one| one.name.clone()).chain(some_words()).collect(),
        Named::Chore => site::chores::chores(yard).into_iter().map(|one| one.id).collect(),
        Named::Watershed => yard.watersheds.iter().map(|one| one.id.clone()).collect(),
        Named::Instrument => yard.instruments.iter().map(|one| one.id.clone()).collect(),
        Named::Scale => bench::register::registered().into_iter().map(str::to_owned).collect(),
    }
}

/// A figure that a field takes, in the unit it is kept in; more often a small one, as figures of a yard are.
fn figure(Figure { low, high, is_above_low, .. }: Figure) -> BoxedStrategy<f64> {
    let least = if is_above_low { low + 1e-6 * (high - low).min(1.0) } else { low };
    let usual = least.max(-20.0)..=high.min(40.0);
    prop_oneof![6 => usual, 2 => least..=high, 1 => Just(least), 1 => Just(high)].boxed()
}

/// What a field may hold, as the ledger keeps it.
fn kept(field: &'static Field, yard: &Yard) -> BoxedStrategy<Value> {
    let text = |strategy: BoxedStrategy<String>| strategy.prop_map(Value::String).boxed();
    match field.spec.holds {
        Holds::Figure(one) => figure(one).prop_map(Value::from).boxed(),
        Holds::Figures(_) => text(prop::collection::vec(0.1..200.0_f64, 2..12).prop_map(joined).boxed()),
        Holds::OneOf(words, _) => text(prop::sample::select(words).prop_map(str::to_owned).boxed()),
        Holds::Name(named) => match names(named, yard) {
            none if none.is_empty() => text(Just("none".to_owned()).boxed()),
            names => text(prop::sample::select(names).boxed()),
        },
        Holds::Event => text(Just(SOME_EVENT.to_owned()).boxed()),
        Holds::Time => text(Just("2027-01-14T22:00:00Z".to_owned()).boxed()),
        Holds::Month => text("20[2-9][0-9]-(0[1-9]|1[0-2])".boxed()),
        Holds::Text | Holds::Lines => text("[a-zA-Zé]{3,8}( [a-z0-9]{1,6}){0,3}".boxed()),
    }
}

fn joined(figures: Vec<f64>) -> String {
    figures.iter().map(|figure| format!("{figure:.1}")).collect::<Vec<_>>().join(" ")
}

/// Some fields with what they hold, all that are needed among them.
fn fields(all: &'static [Field], yard: &Yard) -> BoxedStrategy<Vec<(&'static Field, Value)>> {
    let mut drawn = Just(Vec::new()).boxed();
    for field in all {
        let value = if field.is_needed {
            kept(field, yard).prop_map(Some).boxed()
        } else {
            prop::option::weighted(0.3, kept(field, yard)).boxed()
        };
        drawn = (drawn, value)
            .prop_map(move |(mut fields, value): (Vec<(&'static Field, Value)>, _)| {
                fields.extend(value.map(|value| (field, value)));
                fields
            })
            .boxed();
    }
    drawn
}

/// A body of a kind as the ledger keeps it: JSON that fits its fields, and may yet say what cannot be.
pub fn kept_body(kind: &'static Kind, yard: &Yard) -> BoxedStrategy<String> {
    let object = |fields: Vec<(&'static Field, Value)>| {
        let object: Map<String, Value> =
            fields.into_iter().map(|(field, value)| (field.name.to_owned(), value)).collect();
        Value::Object(object).to_string()
    };
    fields(kind.fields, yard).prop_map(object).boxed()
}

/// Fields of a kind as a person types them, each in one of the units that it takes.
pub fn typed_fields(kind: &'static Kind, yard: &Yard) -> BoxedStrategy<Vec<(String, String)>> {
    (fields(kind.fields, yard), any::<u64>())
        .prop_map(|(fields, draw)| {
            let typed = fields.into_iter().enumerate().map(|(place, (field, value))| {
                let names = field.names();
                // Another unit for each field of one entry.
                let (name, unit) = &names[(draw.rotate_left(7 * place as u32) % names.len() as u64) as usize];
                let text = match (value, unit) {
                    (Value::String(text), _) => text,
                    (Value::Number(number), Some(unit)) => unit.of_base(number.as_f64().unwrap()).to_string(),
                    (other, _) => other.to_string(),
                };
                (name.clone(), text)
            });
            typed.collect()
        })
        .boxed()
}

/// One of all kinds.
pub fn any_kind() -> impl Strategy<Value = &'static Kind> {
    (0..event::KINDS.len()).prop_map(|place| &event::KINDS[place])
}
