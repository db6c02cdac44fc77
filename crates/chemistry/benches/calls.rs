//! One call of each property of a brine, in nanoseconds. `cargo bench -p chemistry --bench calls`; with `-- --check` it
//! fails at twice a budget. `peers.py` beside it sets the figures against other programs.

#![allow(clippy::print_stdout, reason = "a bench prints what it measured")]

use std::hint::black_box;
use std::process::ExitCode;
use std::time::Instant;

use chemistry::inverse::{Reading, by_density};
use chemistry::properties::properties;
use chemistry::{
    Brine, MassFraction, Salt, conductivity, density, equilibrium, freezing, phases, refraction, viscosity,
    water_activity,
};
use quantity::{ThermodynamicTemperature, celsius};

/// Calls timed together.
const CALLS: usize = 20_000;
/// Rounds, of which the median counts.
const ROUNDS: usize = 15;

/// Brines of the four chlorides over all their strengths.
fn brines() -> Vec<(Brine, ThermodynamicTemperature)> {
    let salts =
        [Salt::SodiumChloride, Salt::CalciumChloride, Salt::MagnesiumChloride, Salt::PotassiumChloride];
    (0..CALLS)
        .filter_map(|n| {
            let salt = salts[n % 4];
            let part = (n / 4) as f64 / (CALLS / 4) as f64;
            let strength = MassFraction::from_percent(0.85 * part * salt.strongest_percent()).ok()?;
            Some((Brine::of(salt, strength).ok()?, celsius(20.0 + 15.0 * part)))
        })
        .collect()
}

/// Blends of sodium chloride with calcium and magnesium chloride, and of sodium with magnesium alone.
fn blends() -> Vec<(Brine, ThermodynamicTemperature)> {
    let part = |percent: f64| MassFraction::from_percent(percent);
    (0..CALLS / 40)
        .filter_map(|n| {
            let x = n as f64 / (CALLS / 40) as f64;
            let (ca, mg) = (4.0 * (x * 7.0).fract(), 1.0 + 5.0 * x);
            let parts = [
                (Salt::SodiumChloride, part(20.0 - 12.0 * x).ok()?),
                (Salt::CalciumChloride, part(ca).ok()?),
                (Salt::MagnesiumChloride, part(mg).ok()?),
            ];
            Some((Brine::blend(&parts).ok()?, celsius(-8.0)))
        })
        .collect()
}

fn nanoseconds(
    brines: &[(Brine, ThermodynamicTemperature)],
    call: impl Fn(&Brine, ThermodynamicTemperature),
) -> f64 {
    let mut times: Vec<f64> = (0..ROUNDS)
        .map(|_| {
            let begun = Instant::now();
            for (brine, at) in brines {
                call(black_box(brine), black_box(*at));
            }
            begun.elapsed().as_secs_f64() * 1e9 / brines.len() as f64
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[ROUNDS / 2]
}

/// Keeps a result from being worked out for nothing, then lets it go.
fn keep<T>(found: T) {
    black_box(found);
}

fn main() -> ExitCode {
    let brines = brines();
    type Call = Box<dyn Fn(&Brine, ThermodynamicTemperature)>;
    let calls: Vec<(&str, f64, Call)> = vec![
        ("freezing point", 200.0, Box::new(|b, _| keep(freezing::first_solid(b)))),
        ("density", 200.0, Box::new(|b, t| keep(density::density(b, t)))),
        ("viscosity", 500.0, Box::new(|b, t| keep(viscosity::viscosity(b, t)))),
        ("conductivity", 500.0, Box::new(|b, t| keep(conductivity::conductivity(b, t)))),
        ("refractive index", 500.0, Box::new(|b, t| keep(refraction::refractive_index(b, t)))),
        ("water activity", 500.0, Box::new(|b, t| keep(water_activity::water_activity(b, t)))),
        ("amounts", 500.0, Box::new(|b, t| keep(phases::phases(b, t)))),
        ("all properties", 4000.0, Box::new(|b, t| keep(properties(b, t)))),
        (
            "strength from density",
            20_000.0,
            Box::new(|b, t| {
                if let (Some(salt), Ok(value)) = (b.only_salt(), density::density(b, t)) {
                    keep(by_density(salt, &Reading::exact(value, t)));
                }
            }),
        ),
    ];
    let blends = blends();
    let of_blends: Vec<(&str, f64, Call)> = vec![
        ("ice point of a blend", 50_000.0, Box::new(|b, _| keep(equilibrium::ice_point(b)))),
        ("first solid of a blend", 250_000.0, Box::new(|b, _| keep(freezing::first_solid(b)))),
        ("solids of a blend", 250_000.0, Box::new(|b, t| keep(equilibrium::assemblage(b, t)))),
    ];
    // 500 points of one ratio, as `phase-diagram` draws them: one call of these is the whole diagram.
    let diagram: Vec<Brine> = (0..500_u32)
        .filter_map(|n| {
            let w = 0.28 * f64::from(n) / 499.0;
            let part = |share: f64| MassFraction::from_fraction(w * share).ok();
            Brine::blend(&[(Salt::SodiumChloride, part(0.9)?), (Salt::MagnesiumChloride, part(0.1)?)]).ok()
        })
        .collect();
    let whole: Call = Box::new(move |_, _| diagram.iter().for_each(|brine| keep(equilibrium::onset(brine))));
    let one = vec![blends[0]];
    let wholes: Vec<(&str, f64, Call)> = vec![("phase diagram, 500", 100e6, whole)];
    let check = std::env::args().any(|argument| argument == "--check");
    let mut slow = false;
    let all = calls
        .iter()
        .map(|one| (&brines, one))
        .chain(of_blends.iter().map(|one| (&blends, one)))
        .chain(wholes.iter().map(|whole| (&one, whole)));
    for (brines, (name, budget, call)) in all {
        let median = nanoseconds(brines, call);
        let over = check && median > 2.0 * budget;
        slow |= over;
        println!(
            "{name:<24} {median:>10.1} ns   budget {budget} ns{}",
            if over { "   TOO SLOW" } else { "" }
        );
    }
    if slow { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}
