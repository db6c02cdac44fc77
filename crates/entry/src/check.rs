//! What is refused: names that are not the yard's, figures outside the data, events that cannot be.

use chemistry::Brine;
use chemistry::density::{COLDEST_CELSIUS, WARMEST_CELSIUS};
use message::{Arg, Message, Tell, message};
use quantity::{celsius, metres};

use super::problem::{EntryProblem, none};
use event::{Body, SamplePoint};
use site::{ProductKind, Yard};

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
    fn refuse(&mut self, field: &str, value: impl Into<Arg>, problem: Message, accepted: Message) {
        self.problems.push(EntryProblem::new(field, value, problem, accepted));
    }

    /// What entries of the books say together.
    fn books(&mut self, body: &Body, yard: &Yard) {
        match body {
            Body::BucketCount(b) => {
                let is_weighed = b.bucket_kg.is_some() || yard.put_right.bucket.is_some();
                if !is_weighed {
                    let accepted = message!("entry.accept-bucket");
                    self.refuse("bucket", none(), message!("entry.bucket-unweighed"), accepted);
                }
            }
            Body::SprayerCheck(b) => {
                let caught = crate::figures(&b.caught_ml);
                if caught.len() < 2 || caught.iter().sum::<f64>() <= 0.0 {
                    let accepted = message!("entry.accept-nozzles", example = "64 63 66");
                    self.refuse("caught", &b.caught_ml, message!("entry.one-nozzle"), accepted);
                }
            }
            Body::SpreaderCheck(b) => {
                let caught = crate::figures(&b.caught_kg);
                if caught.is_empty() || caught.iter().any(|kg| *kg <= 0.0) {
                    let accepted = message!("entry.accept-catches", example = "101 98 103");
                    self.refuse("caught", &b.caught_kg, message!("entry.nothing-caught"), accepted);
                }
            }
            Body::TrimSet(b) if b.differs_from_advice() && b.reason.is_none() => {
                let accepted = message!("entry.accept-reason-for-number");
                let advised = b.advised_number.unwrap_or(b.to_number);
                let problem = message!("entry.not-as-advised", set = b.to_number, advised = advised);
                self.refuse("reason", none(), problem, accepted);
            }
            _ => {}
        }
        let reason = match body {
            Body::LoadOut(b) => b.override_reason.as_ref(),
            Body::IssueOut(b) => b.override_reason.as_ref(),
            _ => None,
        };
        if let Some(reason) = reason.filter(|text| text.chars().filter(|c| c.is_alphanumeric()).count() < 3) {
            let accepted = message!("entry.accept-reason-in-words");
            self.refuse("override_reason", reason, message!("entry.no-reason"), accepted);
        }
    }

    fn figures(&mut self, body: &Body) {
        let (strength, temperature) = strength_and_temperature(body);
        let strongest = Brine::STRONGEST_PERCENT;
        let accepted = |high: f64| message!("entry.accept-per-cent", high = high);
        match strength {
            Some(pct) if 0.0 < pct && pct < FRACTION_BELOW => {
                let problem = message!("entry.looks-like-fraction", percent = pct * 100.0);
                self.refuse("strength_pct", pct, problem, accepted(strongest));
            }
            Some(pct) if strongest < pct => {
                self.refuse("strength_pct", pct, message!("entry.too-strong"), accepted(strongest));
            }
            _ => {}
        }
        if let Some(t) = temperature
            && !(COLDEST_CELSIUS..=WARMEST_CELSIUS).contains(&t)
        {
            let (low, high) = (celsius(COLDEST_CELSIUS), celsius(WARMEST_CELSIUS));
            let accepted = message!("entry.accept-temperatures", low = low, high = high);
            self.refuse("temp", celsius(t), message!("entry.beyond-density-data"), accepted);
        }
        if let Body::PanelCheck(b) = body {
            for (field, pct) in [("panel_pct", b.panel_pct), ("bench_pct", b.bench_pct)] {
                if 0.0 < pct && pct < FRACTION_BELOW {
                    self.refuse(field, pct, message!("entry.no-such-strength"), accepted(40.0));
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
        let none_given =
            |water: Option<f64>, salt: Option<f64>| water.unwrap_or(0.0) <= 0.0 && salt.unwrap_or(0.0) <= 0.0;
        let (field, value, problem, accepted) = match body {
            Body::MakingRun(b) if product(&b.tank).is_some_and(|id| id != yard.plant.product) => {
                let accepted = message!("entry.accept-tank-of-plant");
                ("tank", Arg::from(&b.tank), message!("entry.not-plants-product"), accepted)
            }
            Body::Transfer(b) if b.from_tank == b.to_tank => {
                let accepted = message!("entry.accept-another-tank");
                ("to_tank", Arg::from(&b.to_tank), message!("entry.same-tank"), accepted)
            }
            // A declared liquid put to another did happen, and is doubted instead.
            Body::Transfer(b)
                if is_brine(&b.from_tank)
                    && is_brine(&b.to_tank)
                    && product(&b.from_tank) != product(&b.to_tank) =>
            {
                let accepted = message!("entry.accept-tank-of-product");
                ("to_tank", Arg::from(&b.to_tank), message!("entry.other-brine"), accepted)
            }
            Body::Correction(b) if none_given(b.water_m3, b.salt_kg) => {
                let accepted = message!("entry.accept-water-or-salt");
                ("water", none(), message!("entry.nothing-added"), accepted)
            }
            Body::Settlement(b) if b.tank.is_none() && b.salt_kg.is_none() => {
                let accepted = message!("entry.accept-tank-or-salt");
                ("tank", none(), message!("entry.nothing-adjusted"), accepted)
            }
            Body::Settlement(b) if b.tank.is_some() && b.volume_m3.is_none() && b.strength_pct.is_none() => {
                let accepted = message!("entry.accept-volume-or-strength");
                ("volume", none(), message!("entry.nothing-agreed"), accepted)
            }
            Body::LiquidDelivery(b)
                if b.strength_pct.is_none()
                    && b.product.as_ref().map_or_else(|| is_brine(&b.tank), |id| is_brine_product(id)) =>
            {
                let accepted = message!("entry.accept-per-cent", high = Brine::STRONGEST_PERCENT);
                ("strength_pct", none(), message!("entry.bought-brine-strength"), accepted)
            }
            Body::Application(b) if none_given(b.volume_m3, b.salt_kg) => {
                let accepted = message!("entry.accept-liquid-or-salt");
                ("volume", none(), message!("entry.nothing-applied"), accepted)
            }
            Body::Settlement(b)
                if b.strength_pct.is_some()
                    && b.tank.as_ref().is_some_and(|tank| yard.tank(tank).is_some() && !is_brine(tank)) =>
            {
                let tank = b.tank.clone().unwrap_or_default();
                let accepted = message!("entry.accept-no-strength");
                ("strength_pct", Arg::from(tank), message!("entry.bought-liquid"), accepted)
            }
            Body::Reading(b) if b.tank.is_none() != (b.level == Some(SamplePoint::PlantTap)) => {
                let value = b.tank.as_ref().map_or_else(none, Arg::from);
                let accepted = message!("entry.accept-sample-place", tap = "level=plant_tap");
                ("tank", value, message!("entry.sample-from-where"), accepted)
            }
            Body::Reading(b)
                if b.tank.as_ref().is_some_and(|tank| yard.tank(tank).is_some() && !is_brine(tank)) =>
            {
                let tank = b.tank.clone().unwrap_or_default();
                let accepted = message!("entry.accept-brine-tank");
                ("tank", Arg::from(tank), message!("entry.bought-liquid"), accepted)
            }
            Body::Dip(b) => {
                let Some(tank) = yard.tank(&b.tank) else { return };
                let depth = metres(b.depth_m);
                let Err(error) = tank.shape.volume_at(depth) else { return };
                ("depth", Arg::from(depth), error.message(), message!("entry.accept-depth-in-tank"))
            }
            _ => return,
        };
        self.refuse(field, value, problem, accepted);
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
