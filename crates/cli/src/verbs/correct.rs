//! `correct`: what to put into a tank so that it comes to a strength, by mass. Exit code 1 when it cannot be done so.

use chemistry::correction::{Content, Fit, Means};
use chemistry::recipe::{RockSalt, reference_temperature};
use chemistry::{Brine, MassFraction};
use message::Tell;
use quantity::{
    Mass, ThermodynamicTemperature, Volume, celsius, fahrenheit, gallons, gallons_per_hour, in_celsius,
    in_cubic_metres, in_kilograms, in_minutes, litres, pounds,
};
use report::correction_words::{CorrectionWords, correction_words};
use report::{Display, Words};
use serde_json::{Value, json};
use site::UnitSystem;
use site::Yard;
use yard::put_right::{self, Advice, Ask, Helps, Refusal, UNSTATED_UNCERTAINTY_PERCENT, With};
use yard::stock::Books;

use crate::args::{self, Units};
use crate::errors::{not_read, sentence};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Purity and moisture of rock salt when nothing is said: as a yard file that says nothing has them.
const PURITY_PERCENT: f64 = 95.0;
const MOISTURE_PERCENT: f64 = 1.5;
/// Tank volumes to circulate when nothing is said: common practice, no source.
const TURNOVERS: f64 = 3.0;

/// Largest figures accepted: beyond any yard.
const MOST_GALLONS: f64 = 1e8;

/// Flags that must be above zero and within reason.
fn check(args: &args::Correct) -> Result<(), Failure> {
    let flags = [
        ("--volume-gal", args.volume_gal, MOST_GALLONS),
        ("--volume-l", args.volume_l, 4.0 * MOST_GALLONS),
        ("--capacity-gal", args.capacity_gal, MOST_GALLONS),
        ("--bucket-lb", args.bucket_lb, 1e6),
        ("--pump-gpm", args.pump_gpm, 1e5),
        ("--circulation-gpm", args.circulation_gpm, 1e5),
        ("--uncertainty-pct", args.uncertainty_pct.map(|value| value + 1e-9), 5.0),
        ("--purity-pct", args.purity_pct, 100.0),
    ];
    for (flag, value, most) in flags {
        if let Some(value) = value.filter(|value| !(*value > 0.0 && *value <= most)) {
            return Err(Failure::Input(format!("{flag} = {value}: accepted: above 0, at most {most}")));
        }
    }
    match args.moisture_pct.filter(|value| !(0.0..50.0).contains(value)) {
        Some(value) => Err(Failure::Input(format!("--moisture-pct = {value}: accepted: 0…50"))),
        None => Ok(()),
    }
}

/// Runs the verb.
pub fn run(args: &args::Correct, units: Option<Units>) -> Outcome {
    check(args)?;
    let with = with(&args.with)?;
    let words = input::words();
    let (display, answer) = match &args.yard {
        Some(path) => {
            let yard = input::yard(path)?;
            let answer = of_yard(args, &yard, &with)?;
            (input::display(&yard, units)?, answer)
        }
        None => {
            let units = units.map_or(UnitSystem::Us, input::system);
            (Display::new(units, jiff::tz::TimeZone::UTC), of_numbers(args, &with)?)
        }
    };
    match answer {
        Ok(advice) => {
            let told = correction_words(&display, &words, &with, &advice);
            let text = if args.json { document(&advice, &told) } else { text(&words, &told) };
            print(&text)?;
            Ok(if told.fits { Done::Yes } else { Done::No })
        }
        Err(refusal) => Err(Failure::No(display.tell(&refusal.message()))),
    }
}

fn with(text: &str) -> Result<With, Failure> {
    match text {
        "water" => Ok(With::Water),
        "salt" => Ok(With::Salt),
        "plant" => Ok(With::Plant),
        other => match other.split_once('=') {
            Some(("tank", tank)) if !tank.is_empty() => Ok(With::Tank(tank.to_string())),
            Some(("lot", strength)) => {
                let value = entry::parse_number(strength)
                    .map_err(|problem| Failure::Input(format!("--with = {text}: {}", not_read(problem))))?;
                percent("--with lot", value).map(With::Lot)
            }
            _ => Err(Failure::Input(format!(
                "--with = {text}: not known; accepted: water, salt, tank=ID (with --yard), lot=PERCENT"
            ))),
        },
    }
}

/// Per cent by mass from a flag.
fn percent(flag: &str, value: f64) -> Result<MassFraction, Failure> {
    if 0.0 < value && value < 0.27 {
        return Err(Failure::Input(format!(
            "{flag} = {value}: looks like a fraction; write {}; accepted: per cent by mass",
            value * 100.0
        )));
    }
    MassFraction::from_percent(value).map_err(|error| Failure::Input(format!("{flag}: {}", sentence(&error))))
}

fn temperature(f: Option<f64>, c: Option<f64>) -> Option<ThermodynamicTemperature> {
    f.map(fahrenheit).or(c.map(celsius))
}

fn volume(args: &args::Correct) -> Option<Volume> {
    args.volume_gal.map(gallons).or(args.volume_l.map(litres))
}

/// A tank of a yard: what is not typed stands in its books.
fn of_yard(args: &args::Correct, yard: &Yard, with: &With) -> Result<Result<Advice, Refusal>, Failure> {
    let Some(tank) = &args.tank else {
        return Err(Failure::Input("--tank is missing; accepted: a tank of the yard file".into()));
    };
    let books = match &args.ledger {
        Some(path) => Books::fold(yard, &input::events(path)?),
        None => Books::opening(yard),
    };
    let prefilled = match put_right::prefilled(yard, &books, tank) {
        Ok(prefilled) => prefilled,
        Err(refusal) => return Ok(Err(refusal)),
    };
    let typed = args.strength_pct.map(|value| percent("--strength-pct", value)).transpose()?;
    let Some(strength) = typed.or(prefilled.strength.map(|(strength, _)| strength)) else {
        return Ok(Err(Refusal::StrengthUnknown(tank.clone())));
    };
    let uncertainty = args.uncertainty_pct.map(MassFraction::from_percent).transpose();
    let ask = Ask {
        tank: tank.clone(),
        volume: volume(args).unwrap_or(prefilled.volume),
        strength,
        uncertainty: uncertainty
            .map_err(|error| Failure::Input(format!("--uncertainty-pct: {}", sentence(&error))))?
            .unwrap_or(prefilled.uncertainty),
        temperature: temperature(args.temp_f, args.temp_c).unwrap_or(prefilled.temperature),
        target: args
            .target_pct
            .map(|value| percent("--target-pct", value))
            .transpose()?
            .unwrap_or(prefilled.target),
        with: with.clone(),
        with_temperature: temperature(args.with_temp_f, args.with_temp_c)
            .unwrap_or(yard.plant.water_temperature),
    };
    Ok(put_right::advise(yard, &books, &ask))
}

/// A tank of which only numbers are known.
fn of_numbers(args: &args::Correct, with: &With) -> Result<Result<Advice, Refusal>, Failure> {
    let missing = |what: &str| Failure::Input(format!("{what} is missing; accepted: a number, or --yard"));
    let refuse = |error: chemistry::Error| Failure::Input(sentence(&error));
    let volume = volume(args).ok_or_else(|| missing("--volume-gal"))?;
    let strength = args.strength_pct.ok_or_else(|| missing("--strength-pct"))?;
    let brine =
        percent("--strength-pct", strength).and_then(|w| Brine::sodium_chloride(w).map_err(refuse))?;
    let target = percent("--target-pct", args.target_pct.unwrap_or(23.3))?;
    let at = temperature(args.temp_f, args.temp_c).unwrap_or_else(reference_temperature);
    let with_at = temperature(args.with_temp_f, args.with_temp_c).unwrap_or_else(reference_temperature);
    let means = match with {
        With::Water => Means::Water(with_at),
        With::Salt => {
            let rock = RockSalt {
                purity: percent("--purity-pct", args.purity_pct.unwrap_or(PURITY_PERCENT))?,
                moisture: MassFraction::from_percent(args.moisture_pct.unwrap_or(MOISTURE_PERCENT))
                    .map_err(refuse)?,
            };
            Means::Salt(rock, with_at)
        }
        With::Lot(strength) => Means::Lot(Brine::sodium_chloride(*strength).map_err(refuse)?, with_at),
        With::Tank(_) => return Err(missing("--yard, which --with tank=… needs,")),
        With::Plant => return Err(missing("--yard, which --with plant needs,")),
    };
    let uncertainty = args.uncertainty_pct.unwrap_or(UNSTATED_UNCERTAINTY_PERCENT);
    let content = Content {
        brine,
        strength_uncertainty: MassFraction::from_percent(uncertainty).map_err(refuse)?,
        mass: volume * brine.density(reference_temperature()).map_err(refuse)?,
        temperature: at,
    };
    let helps = Helps {
        bucket: args.bucket_lb.map(pounds),
        pump: args.pump_gpm.map(|gpm| gallons_per_hour(60.0 * gpm)),
        circulation: args.circulation_gpm.map(|gpm| gallons_per_hour(60.0 * gpm)),
        turnovers: TURNOVERS,
        capacity: args.capacity_gal.map(gallons),
    };
    Ok(put_right::work_out(content, target, means, &helps).map_err(Refusal::from))
}

fn text(words: &Words, told: &CorrectionWords) -> String {
    let mut lines = vec![told.headline.clone()];
    lines.extend(told.facts.iter().map(|(name, value)| format!("  {name}: {value}")));
    lines.extend(told.steps.iter().enumerate().map(|(place, step)| format!("{}. {step}", place + 1)));
    lines.extend(told.cares.iter().map(|care| format!("! {care}")));
    lines.push(words.say("care.policy-first").to_string());
    lines.join("\n")
}

fn document(advice: &Advice, told: &CorrectionWords) -> String {
    let kg = |mass: Mass| in_kilograms(mass);
    let m3 = |volume: Volume| in_cubic_metres(volume);
    let correction = &advice.correction;
    let draw: Value = match advice.fit {
        Some(Fit::DrawFirst { draw, draw_volume, add, add_volume }) => json!({
            "draw_kg": kg(draw),
            "draw_m3": m3(draw_volume),
            "add_kg": kg(add),
            "add_m3": add_volume.map(m3),
        }),
        _ => Value::Null,
    };
    let all = json!({
        "add_kg": kg(correction.add),
        "add_m3": correction.add_volume.map(m3),
        "add_low_kg": kg(correction.add_between.0),
        "add_high_kg": kg(correction.add_between.1),
        "buckets": advice.buckets,
        "pumping_min": advice.pumping.map(in_minutes),
        "circulating_min": advice.circulating.map(in_minutes),
        "turnovers": advice.turnovers,
        "after_kg": kg(correction.after.mass),
        "after_m3": m3(correction.volume_after),
        "after_pct": correction.after.brine.strength().percent(),
        "after_c": in_celsius(correction.after.temperature),
        "insolubles_kg": kg(correction.after.insolubles),
        "fits": told.fits,
        "draw_first": draw,
        "says": told.headline,
    });
    format!("{all:#}")
}
