//! `calibrate`: works out the cab card from a catch test of a sprayer or a discharge test of a spreader.

use event::Body;
use report::Teller;
use report::calibration::{Card, sprayer_card, spreader_card};
use yard::stock::Books;

use crate::args::{self, CalibrateWhat, Units};
use crate::errors::{lines, sentence};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Runs the verb.
pub fn run(args: &args::Calibrate, units: Option<Units>) -> Outcome {
    let path = match &args.what {
        CalibrateWhat::Sprayer(args) => &args.yard,
        CalibrateWhat::Spreader(args) => &args.yard,
    };
    let yard = input::yard(path)?;
    let (display, words) = (input::display(&yard, units)?, input::words());
    let teller = Teller { words: &words, display: &display, yard: &yard };
    // The same way in as for the ledger and the page: units, ranges and names are checked there.
    let (kind, fields) = match &args.what {
        CalibrateWhat::Sprayer(args) => ("sprayer_check", sprayer(args)),
        CalibrateWhat::Spreader(args) => ("spreader_check", spreader(args)),
    };
    let fields: Vec<(String, String)> =
        fields.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value?))).collect();
    let body = entry::read_body(kind, &fields, (&yard, &Books::empty(&yard)))
        .map_err(|problems| Failure::Input(lines(teller.display, &problems)))?;
    let card = match &body {
        Body::SprayerCheck(check) => {
            let truck = yard.truck(&check.truck).ok_or_else(|| Failure::Input("no such truck".into()))?;
            sprayer_card(&teller, truck, check)
        }
        Body::SpreaderCheck(check) => spreader_card(&teller, check),
        _ => Ok(Card::default()),
    };
    let card = card.map_err(|error| Failure::Input(sentence(&error)))?;
    let mut text = String::new();
    for line in card.warnings.iter().chain(&card.lines) {
        text.push_str(&format!("{line}\n"));
    }
    for table in &card.tables {
        text.push_str(&super::report::aligned(table, &teller));
    }
    print(&text)?;
    Ok(if card.warnings.is_empty() { Done::Yes } else { Done::No })
}

fn sprayer(args: &args::CalibrateSprayer) -> Vec<(&'static str, Option<String>)> {
    vec![
        ("truck", Some(args.truck.clone())),
        ("liquid", Some(args.liquid.clone())),
        ("caught_floz", args.caught_floz.clone()),
        ("caught_ml", args.caught_ml.clone()),
        ("catch_s", Some(args.seconds.clone())),
        ("lanes_number", Some(args.lanes.clone())),
        ("pressure_psi", args.psi.clone()),
        ("pressure_kpa", args.kpa.clone()),
    ]
}

fn spreader(args: &args::CalibrateSpreader) -> Vec<(&'static str, Option<String>)> {
    vec![
        ("truck", Some(args.truck.clone())),
        ("material", Some(args.material.clone())),
        ("setting", Some(args.setting.clone())),
        ("caught_lb", args.caught_lb.clone()),
        ("caught_kg", args.caught_kg.clone()),
        ("turns_number", Some(args.turns.clone())),
        ("per_minute_number", Some(args.per_minute.clone())),
    ]
}
