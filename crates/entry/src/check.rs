//! What is refused: names that are not the yard's, figures outside the data, events that cannot be.

use chemistry::Brine;
use chemistry::density::{COLDEST_CELSIUS, WARMEST_CELSIUS};
use quantity::metres;

use super::problem::EntryProblem;
use site::{ProductKind, Yard};
use yard::event::{Body, SamplePoint};

/// Per cent that is taken for a fraction: no brine is so weak, and 0.265 is the strongest as a fraction.
const FRACTION_BELOW: f64 = 0.27;

/// Everything wrong with a body in a yard.
pub(super) fn problems(body: &Body, yard: &Yard) -> Vec<EntryProblem> {
    let mut found = Found { problems: Vec::new() };
    found.books(body, yard);
    found.figures(body);
    found.places(body, yard);
    found.problems
}

struct Found {
    problems: Vec<EntryProblem>,
}

impl Found {
    fn refuse(&mut self, field: &str, value: &str, problem: &str, accepted: &str) {
        let text = str::to_string;
        let problem = EntryProblem {
            field: text(field),
            value: text(value),
            problem: text(problem),
            accepted: text(accepted),
        };
        self.problems.push(problem);
    }

    /// What entries of the books say together.
    fn books(&mut self, body: &Body, yard: &Yard) {
        match body {
            Body::BucketCount(b) => {
                let is_weighed = b.bucket_kg.is_some() || yard.put_right.bucket.is_some();
                if !is_weighed {
                    let accepted = "bucket_lb, or [put_right] bucket in the yard file";
                    self.refuse("bucket", "(none)", "nobody has said what a bucket weighs", accepted);
                }
            }
            Body::SprayerCheck(b) => {
                let caught = crate::figures(&b.caught_ml);
                if caught.len() < 2 || caught.iter().sum::<f64>() <= 0.0 {
                    let accepted = "what each nozzle gave, with blanks between: 64 63 66";
                    self.refuse("caught", &b.caught_ml, "a boom has two nozzles or more", accepted);
                }
            }
            Body::SpreaderCheck(b) => {
                let caught = crate::figures(&b.caught_kg);
                if caught.is_empty() || caught.iter().any(|kg| *kg <= 0.0) {
                    let accepted = "the mass of each catch, with blanks between: 101 98 103";
                    self.refuse("caught", &b.caught_kg, "nothing was caught", accepted);
                }
            }
            _ => {}
        }
        let reason = match body {
            Body::LoadOut(b) => b.override_reason.as_ref(),
            Body::IssueOut(b) => b.override_reason.as_ref(),
            _ => None,
        };
        if let Some(reason) = reason.filter(|text| text.chars().filter(|c| c.is_alphanumeric()).count() < 3) {
            self.refuse(
                "override_reason",
                reason,
                "is no reason",
                "why it was loaded all the same, in words",
            );
        }
    }

    fn figures(&mut self, body: &Body) {
        let (strength, temperature) = strength_and_temperature(body);
        let strongest = Brine::STRONGEST_PERCENT;
        let accepted = format!("per cent by mass, 0…{strongest}");
        match strength {
            Some(pct) if 0.0 < pct && pct < FRACTION_BELOW => {
                let problem = format!("looks like a fraction; write {}", pct * 100.0);
                self.refuse("strength_pct", &pct.to_string(), &problem, &accepted);
            }
            Some(pct) if strongest < pct => {
                let problem = "stronger than brine can be in the cold";
                self.refuse("strength_pct", &pct.to_string(), problem, &accepted);
            }
            _ => {}
        }
        if let Some(t) = temperature
            && !(COLDEST_CELSIUS..=WARMEST_CELSIUS).contains(&t)
        {
            let value = format!("{t:.1} °C");
            self.refuse("temp", &value, "outside the density data", "−20…40 °C, −4…104 °F");
        }
        if let Body::PanelCheck(b) = body {
            for (field, pct) in [("panel_pct", b.panel_pct), ("bench_pct", b.bench_pct)] {
                if 0.0 < pct && pct < FRACTION_BELOW {
                    let accepted = "per cent by mass, 0…40";
                    self.refuse(field, &pct.to_string(), "is no strength a plant makes", accepted);
                }
            }
        }
    }

    fn places(&mut self, body: &Body, yard: &Yard) {
        let product = |tank: &str| yard.tank(tank).map(|tank| tank.product.as_str());
        let is_brine_product = |id: &str| {
            matches!(yard.product(id).map(|product| &product.kind), Some(ProductKind::SodiumChlorideBrine))
        };
        let is_brine = |tank: &str| product(tank).is_some_and(is_brine_product);
        match body {
            Body::MakingRun(b) if product(&b.tank).is_some_and(|id| id != yard.plant.product) => {
                self.refuse(
                    "tank",
                    &b.tank,
                    "holds another product than the plant makes",
                    "a tank for what is made",
                );
            }
            Body::Transfer(b) if b.from_tank == b.to_tank => {
                self.refuse("to_tank", &b.to_tank, "is the tank it comes from", "another tank");
            }
            // A declared liquid put to another did happen, and is doubted instead.
            Body::Transfer(b)
                if is_brine(&b.from_tank)
                    && is_brine(&b.to_tank)
                    && product(&b.from_tank) != product(&b.to_tank) =>
            {
                let problem = "holds another product: mixing is not predicted";
                self.refuse("to_tank", &b.to_tank, problem, "a tank of the same product");
            }
            Body::Correction(b) if b.water_m3.unwrap_or(0.0) <= 0.0 && b.salt_kg.unwrap_or(0.0) <= 0.0 => {
                self.refuse("water", "(none)", "a correction adds something", "water, salt, or both");
            }
            Body::Settlement(b) if b.tank.is_none() && b.salt_kg.is_none() => {
                self.refuse(
                    "tank",
                    "(none)",
                    "a settlement is of a tank or of the salt pile",
                    "tank=…, or salt_tons=…",
                );
            }
            Body::Settlement(b) if b.tank.is_some() && b.volume_m3.is_none() && b.strength_pct.is_none() => {
                self.refuse("volume", "(none)", "nothing is agreed", "a volume, a strength, or both");
            }
            Body::LiquidDelivery(b)
                if b.strength_pct.is_none()
                    && b.product.as_ref().map_or_else(|| is_brine(&b.tank), |id| is_brine_product(id)) =>
            {
                let accepted = format!("0…{}", Brine::STRONGEST_PERCENT);
                self.refuse("strength_pct", "(none)", "bought salt brine needs its strength", &accepted);
            }
            Body::Application(b) if b.volume_m3.unwrap_or(0.0) <= 0.0 && b.salt_kg.unwrap_or(0.0) <= 0.0 => {
                self.refuse("volume", "(none)", "nothing was put down", "liquid, dry salt, or both");
            }
            Body::Settlement(b)
                if b.strength_pct.is_some()
                    && b.tank.as_ref().is_some_and(|tank| yard.tank(tank).is_some() && !is_brine(tank)) =>
            {
                let tank = b.tank.clone().unwrap_or_default();
                self.refuse(
                    "strength_pct",
                    &tank,
                    "holds a bought liquid, whose strength is not kept",
                    "no strength",
                );
            }
            Body::Reading(b) if b.tank.is_none() != (b.level == Some(SamplePoint::PlantTap)) => {
                let accepted = "a tank; or no tank and level=plant_tap, for a sample from the plant's tap";
                let value = b.tank.as_deref().unwrap_or("(none)");
                self.refuse("tank", value, "does not say where the sample comes from", accepted);
            }
            Body::Reading(b)
                if b.tank.as_ref().is_some_and(|tank| yard.tank(tank).is_some() && !is_brine(tank)) =>
            {
                self.refuse(
                    "tank",
                    b.tank.as_deref().unwrap_or_default(),
                    "holds a bought liquid, whose strength is not kept",
                    "a tank of salt brine",
                );
            }
            Body::Dip(b) => {
                if let Some(tank) = yard.tank(&b.tank)
                    && let Err(error) = tank.shape.volume_at(metres(b.depth_m))
                {
                    let value = format!("{:.3} m", b.depth_m);
                    self.refuse("depth", &value, &error.to_string(), "a depth within the tank");
                }
            }
            _ => {}
        }
    }
}

fn strength_and_temperature(body: &Body) -> (Option<f64>, Option<f64>) {
    match body {
        Body::MakingRun(b) => (Some(b.strength_pct), b.temp_c),
        Body::Reading(b) => (Some(b.strength_pct), b.temp_c),
        Body::InstrumentCheck(b) => (None, b.temp_c),
        Body::MeterCheck(b) => (Some(b.strength_pct), b.temp_c),
        Body::LiquidDelivery(b) => (b.strength_pct, b.temp_c),
        Body::Settlement(b) => (b.strength_pct, None),
        Body::Dip(b) => (None, b.temp_c),
        Body::LoadOut(b) => (None, b.temp_c),
        Body::Transfer(b) => (None, b.temp_c),
        Body::ReturnToTank(b) => (None, b.temp_c),
        Body::IssueOut(b) => (None, b.temp_c),
        _ => (None, None),
    }
}
