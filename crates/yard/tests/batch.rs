//! A batch by every way it can be found, against worked examples of the trade and against each other.
//!
//! Outside checks: AASHTO M 143-14 (23.3 % brine has a specific gravity of 1.176) and the worked examples that follow
//! from it: 2.285 lb of salt in a gallon of brine, 2.53 lb to a gallon of water, 5,000 gal from 5.725 short tons, 873
//! gal from one (trade figure 2.29 lb/gal: common practice, no source). The seasons are drawn.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use chemistry::Brine;
use chemistry::recipe::RockSalt;
use chemistry::{Estimate, MassFraction};
use quantity::{
    celsius, gallons, in_cubic_metres, in_gallons, in_hours, in_kilograms, in_metres, in_pounds, kilograms,
    metres,
};
use site::Yard;
use yard::batch::{
    Between, Counted, Dipped, ahead, by_dips, by_hours, by_making_meter, by_mass, by_water_meter,
};

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml").unwrap()
}

fn percent(value: f64) -> Result<MassFraction, chemistry::Error> {
    MassFraction::from_percent(value)
}

fn target() -> MassFraction {
    percent(23.3).unwrap()
}

/// Salt of a batch as pure sodium chloride, lb, and water, gal at 8.34 lb.
fn salt_and_water(volume_gal: f64) -> (f64, f64) {
    let yard = yard();
    let batch = by_mass(&yard, gallons(volume_gal), target()).unwrap();
    let pure = in_pounds(batch.rock_salt) * yard.rock_salt().sodium_chloride();
    // What the salt brings along of water counts as water.
    let moisture = in_pounds(batch.rock_salt) * yard.salt.moisture.fraction();
    (pure, (in_pounds(batch.water) + moisture) / 8.34)
}

#[test]
fn a_batch_weighs_and_holds_what_the_trade_says() {
    let (salt, water) = salt_and_water(1.0);
    assert!((salt - 2.285).abs() < 0.01, "W02: {salt} lb of salt in a gallon");
    assert!((salt / water - 2.53).abs() < 0.02, "W03: {} lb to a gallon of water", salt / water);
    let (salt, _) = salt_and_water(5000.0);
    assert!((salt / 11_450.0 - 1.0).abs() < 0.005, "W04: {salt} lb for 5,000 gal");
    let (salt, _) = salt_and_water(873.0);
    assert!((salt / 2000.0 - 1.0).abs() < 0.01, "W05: {salt} lb for 873 gal");
    let brine = Brine::sodium_chloride(target()).unwrap();
    let counted = Counted { volume: gallons(1000.0), factor_uncertainty: 0.005 };
    let made = by_making_meter(&counted, &brine, Some(celsius(20.0))).unwrap().unwrap();
    // W01: 1.176 times water at 20 °C, 998.2 kg/m³ (CRC).
    let by_print = 1.176 * 998.2 * in_cubic_metres(gallons(1000.0));
    assert!((in_kilograms(made.mass.value) / by_print - 1.0).abs() < 0.002, "W01: {:?}", made.mass);
}

/// By hand: 900 gal of water weigh 7,506 lb (8.34 lb); brine of pure, dry salt at 23.3 % is 76.7 % of it: 9,786 lb.
#[test]
fn the_water_of_a_batch_gives_its_mass() {
    let counted = Counted { volume: gallons(900.0), factor_uncertainty: 0.005 };
    let strength = Estimate { value: target(), uncertainty: percent(0.3).unwrap() };
    let pure = RockSalt { purity: percent(100.0).unwrap(), moisture: MassFraction::ZERO };
    let made = by_water_meter(&counted, strength, pure).unwrap().unwrap();
    assert!((in_pounds(made.mass.value) / 9786.0 - 1.0).abs() < 0.001, "{:?}", made.mass);
    // Wet salt brings water of its own: more brine from the same meter.
    let wet = RockSalt { purity: percent(100.0).unwrap(), moisture: percent(2.0).unwrap() };
    assert!(by_water_meter(&counted, strength, wet).unwrap().unwrap().mass.value > made.mass.value);
}

#[test]
fn a_run_to_come_is_told_in_salt_water_and_hours() {
    let yard = yard();
    let one = ahead(&yard, gallons(2000.0), None).unwrap();
    let pure = in_pounds(one.batch.rock_salt) * yard.rock_salt().sodium_chloride();
    assert!((pure / (2.0 * 2285.0) - 1.0).abs() < 0.005, "{pure}");
    let slow = ahead(&yard, gallons(2000.0), Some(0.5)).unwrap();
    let making = |ahead: &yard::batch::Ahead| in_hours(ahead.time - yard.plant.start_up);
    assert!((making(&slow) / making(&one) - 2.0).abs() < 1e-9 && slow.is_learned && !one.is_learned);
    let brine = Brine::sodium_chloride(target()).unwrap();
    let rate = yard::batch::making_rate(&yard, &brine).unwrap();
    let by_time = by_hours(one.time - yard.plant.start_up, rate, &brine).unwrap().unwrap();
    let volume = by_time.volume(&brine, chemistry::recipe::reference_temperature()).unwrap();
    assert!((in_gallons(volume.value) / 2000.0 - 1.0).abs() < 1e-6);
}

/// Numbers from 0 to 1 by Knuth's MMIX constants, and normal ones by the sum of twelve.
struct Draws(u64);

impl Draws {
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    fn normal(&mut self, deviation: f64) -> f64 {
        deviation * ((0..12).map(|_| self.share()).sum::<f64>() - 6.0)
    }
}

/// A season's batches, each by its water meter and by dips of its tank: the same gallons, as sure as each says.
#[test]
fn water_meter_and_dips_come_to_the_same_gallons_over_a_season() {
    const BATCHES: usize = 400;
    let yard = yard();
    let shape = &yard.tank("1").unwrap().shape;
    let at = celsius(5.0);
    let rho = |w: f64| {
        let brine = Brine::sodium_chloride(MassFraction::from_fraction(w).unwrap()).unwrap();
        quantity::in_kg_per_m3(brine.density(at).unwrap())
    };
    let water_rho = 999.0;
    let salt = yard.rock_salt();
    let (purity, moisture) = (salt.purity.fraction(), salt.moisture.fraction());
    let mut draws = Draws(20_261_129);
    let (mut agree, mut sum) = (0, 0.0);
    for _ in 0..BATCHES {
        let held_w = 0.233 + draws.normal(0.003);
        let made_w = 0.233 + draws.normal(0.004);
        let first = in_cubic_metres(gallons(draws.between(600.0, 2500.0))) * rho(held_w);
        let made = in_cubic_metres(gallons(draws.between(1200.0, 3200.0))) * rho(made_w);
        let mixed = (first * held_w + made * made_w) / (first + made);
        let depth = |mass: f64, w: f64, slip: f64| {
            let truly = in_metres(shape.depth_of(quantity::cubic_metres(mass / rho(w))).unwrap());
            Dipped { depth: metres(truly + slip), temperature: Some(at) }
        };
        let before = depth(first, held_w, draws.normal(0.005));
        let after = depth(first + made, mixed, draws.normal(0.005));
        // The bench reads the batch within 0.3 %, and the tank's strength is known within 0.2.
        let read = made_w + draws.normal(0.0015);
        let strength = Estimate {
            value: MassFraction::from_fraction(read).unwrap(),
            uncertainty: percent(0.3).unwrap(),
        };
        let known = MassFraction::from_fraction(held_w + draws.normal(0.001)).unwrap();
        let nothing = Between { mass: kilograms(0.0), sodium_chloride: kilograms(0.0) };
        let by_dip = by_dips(shape, (before, after), known, nothing, strength.value).unwrap().unwrap();
        // Water that went in: of the brine, less the salt's own; some of it stays in the plant or comes from there.
        let own = made_w * moisture / (purity * (1.0 - moisture));
        let water = made * (1.0 - made_w - own) * (1.0 + draws.normal(0.02)) * (1.0 + draws.normal(0.005));
        let volume = quantity::cubic_metres((water + draws.normal(20.0)) / water_rho);
        let counted = Counted { volume, factor_uncertainty: 0.005 };
        let by_water = by_water_meter(&counted, strength, salt).unwrap().unwrap();
        let apart = in_kilograms(by_dip.mass.value - by_water.mass.value);
        let within = in_kilograms(by_dip.mass.uncertainty).hypot(in_kilograms(by_water.mass.uncertainty));
        agree += usize::from(apart.abs() <= within);
        sum += apart / made;
    }
    // 95 % by what each says of itself; three standard deviations of 400 draws below that is 91.7 %.
    assert!(agree * 1000 >= BATCHES * 917, "{agree} of {BATCHES}");
    assert!((sum / BATCHES as f64).abs() < 0.004, "apart by {} on the mean", sum / BATCHES as f64);
}
