//! What is refused: names that are not the yard's, figures outside the data, events that cannot be.

use chemistry::Brine;
use chemistry::density::{COLDEST_CELSIUS, WARMEST_CELSIUS};
use chemistry::quantity::metres;

use super::{EntryProblem, did_you_mean};
use crate::event::{
    ADJUSTED, AGAINST, BATCH_FOUND, BUCKETS_TO, Body, HOW_FOUND, JAR_RESULTS, JarTest, PLANT_TAP, RUN_ENDS,
    SAMPLED, STEP_ANSWERS, TOTALS_OF, TREATED,
};
use crate::site::{ProductKind, Yard};

/// Per cent that is taken for a fraction: no brine is so weak, and 0.265 is the strongest as a fraction.
const FRACTION_BELOW: f64 = 0.27;

/// Chloride of saturated brine is a little less, mg/L.
const MOST_CHLORIDE_MG_L: f64 = 200_000.0;

/// Temperatures a jar can be kept at, °C: from a deep freezer's to a warm shop's.
const JAR_CELSIUS: std::ops::RangeInclusive<f64> = -60.0..=60.0;

/// Everything wrong with a body in a yard.
pub(super) fn problems(body: &Body, yard: &Yard) -> Vec<EntryProblem> {
    let mut found = Found { problems: Vec::new() };
    found.names(body, yard);
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

    fn known<'a>(&mut self, field: &str, name: &str, names: impl Iterator<Item = &'a str> + Clone) {
        if !names.clone().any(|known| known == name) {
            let hint = did_you_mean(name, names.clone());
            let accepted = names.collect::<Vec<_>>().join(", ");
            self.refuse(field, name, &format!("no such {field}{hint}"), &accepted);
        }
    }

    fn names(&mut self, body: &Body, yard: &Yard) {
        for tank in body.tanks() {
            self.known("tank", tank, yard.tanks.iter().map(|t| t.id.as_str()));
        }
        let (truck, route) = match body {
            Body::LoadOut(b) => (Some(&b.truck), b.route.as_ref()),
            Body::ReturnToTank(b) => (Some(&b.truck), None),
            Body::Application(b) => (b.truck.as_ref(), Some(&b.route)),
            Body::SprayerCheck(b) => (Some(&b.truck), None),
            Body::SpreaderCheck(b) => (Some(&b.truck), None),
            _ => (None, None),
        };
        if let Some(truck) = truck {
            self.known("truck", truck, yard.trucks.iter().map(|t| t.id.as_str()));
        }
        if let Body::Reading(reading) = body {
            if let Some(occasion) = &reading.occasion {
                self.known("occasion", occasion, crate::event::OCCASIONS.into_iter());
            }
            if let Some(scale) = &reading.scale {
                self.known("scale", scale, bench::register::registered().into_iter());
            }
        }
        match body {
            Body::RunStep(step) => self.known("answer", &step.answer, STEP_ANSWERS.into_iter()),
            Body::RunEnd(end) => self.known("how", &end.how, RUN_ENDS.into_iter()),
            _ => {}
        }
        self.books(body, yard);
        if let Body::InstrumentCheck(check) = body {
            self.known("instrument", &check.instrument, yard.instruments.iter().map(|one| one.id.as_str()));
            self.known("against", &check.against, AGAINST.into_iter());
            self.known("adjusted", &check.adjusted, ADJUSTED.into_iter());
        }
        if let Body::LiquidDelivery(crate::event::LiquidDelivery { product: Some(product), .. }) = body {
            self.known("product", product, yard.products.iter().map(|p| p.id.as_str()));
        }
        if let Some(route) = route {
            self.known("route", route, yard.routes.iter().map(|r| r.id.as_str()));
        }
    }

    /// Names of the books and the load-out.
    fn books(&mut self, body: &Body, yard: &Yard) {
        let how = match body {
            Body::LoadOut(b) => b.how.as_ref(),
            Body::ReturnToTank(b) => b.how.as_ref(),
            Body::IssueOut(b) => b.how.as_ref(),
            _ => None,
        };
        if let Some(how) = how {
            self.known("how", how, HOW_FOUND.into_iter());
        }
        if let Body::MakingRun(run) = body
            && let Some(how) = &run.how
        {
            self.known("how", how, BATCH_FOUND.into_iter());
        }
        if let Body::RunStep(step) = body
            && let Some(of) = &step.total_of
        {
            self.known("total_of", of, TOTALS_OF.into_iter());
        }
        let meter = match body {
            Body::LoadOut(b) => b.meter.as_ref(),
            Body::MeterCheck(b) => Some(&b.meter),
            // A total of a meter that the yard file does not describe is kept as a remark is.
            Body::MeterReading(b) => Some(&b.meter).filter(|_| !yard.meters.is_empty()),
            _ => None,
        };
        if let Some(meter) = meter {
            self.known("meter", meter, yard.meters.iter().map(|m| m.id.as_str()));
        }
        match body {
            Body::Application(b) => {
                if let Some(treated) = &b.treated {
                    self.known("treated", treated, TREATED.into_iter());
                }
            }
            Body::WaterSample(b) => {
                self.known("watershed", &b.watershed, yard.watersheds.iter().map(|w| w.id.as_str()));
                self.known("sampled", &b.sampled, SAMPLED.into_iter());
                if b.chloride_mg_l > MOST_CHLORIDE_MG_L {
                    let value = format!("{} mg/L", b.chloride_mg_l);
                    self.refuse("chloride_mg_l", &value, "is brine, not water", "0 to 200,000 mg/L");
                }
            }
            Body::BucketCount(b) => {
                self.known("to", &b.to, BUCKETS_TO.into_iter());
                let is_weighed = b.bucket_kg.is_some() || yard.put_right.bucket.is_some();
                if !is_weighed {
                    let accepted = "bucket_lb, or [put_right] bucket in the yard file";
                    self.refuse("bucket", "(none)", "nobody has said what a bucket weighs", accepted);
                }
            }
            Body::ChoreDone(b) => {
                let chores = crate::due::chores(yard);
                self.known("chore", &b.chore, chores.iter().map(|chore| chore.id.as_str()));
            }
            Body::Storm(b) if b.until.parse::<jiff::Timestamp>().is_err() => {
                self.refuse("until", &b.until, "is not a time", "2027-01-14T22:00:00Z");
            }
            Body::MonthClose(b)
                if crate::calendar::month_span(&b.month, &jiff::tz::TimeZone::UTC).is_none() =>
            {
                self.refuse("month", &b.month, "is not a month", "a year and a month such as 2027-01");
            }
            Body::SprayerCheck(b) => {
                let caught = crate::entry::figures(&b.caught_ml);
                if caught.len() < 2 || caught.iter().sum::<f64>() <= 0.0 {
                    let accepted = "what each nozzle gave, with blanks between: 64 63 66";
                    self.refuse("caught", &b.caught_ml, "a boom has two nozzles or more", accepted);
                }
                self.known("liquid", &b.liquid, ["water", "brine"].into_iter());
                if !(5.0..=600.0).contains(&b.catch_s) {
                    let value = format!("{} s", b.catch_s);
                    self.refuse("catch_s", &value, "is no time to catch for", "5 to 600 seconds");
                }
                if !(0.25..=6.0).contains(&b.lanes_number) {
                    let value = b.lanes_number.to_string();
                    self.refuse("lanes_number", &value, "is no width of a boom", "0.25 to 6 lanes");
                }
            }
            Body::SpreaderCheck(b) => {
                let caught = crate::entry::figures(&b.caught_kg);
                if caught.is_empty() || caught.iter().any(|kg| *kg <= 0.0) {
                    let accepted = "the mass of each catch, with blanks between: 101 98 103";
                    self.refuse("caught", &b.caught_kg, "nothing was caught", accepted);
                }
                for (field, number) in
                    [("turns_number", b.turns_number), ("per_minute_number", b.per_minute_number)]
                {
                    if !(0.0 < number && number <= 1000.0) {
                        self.refuse(
                            field,
                            &number.to_string(),
                            "is no number of turns",
                            "above zero, to 1,000",
                        );
                    }
                }
            }
            _ => {}
        }
        self.nothing_moved(body);
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

    /// A volume or mass that moves must be above zero.
    fn nothing_moved(&mut self, body: &Body) {
        let volume = match body {
            Body::LoadOut(b) => b.volume_m3,
            // Nothing at all: it came home empty.
            Body::ReturnToTank(b) if b.volume_m3 < 0.0 => b.volume_m3,
            Body::IssueOut(b) => b.volume_m3,
            Body::MeterCheck(b) => b.shown_m3.min(b.weighed_kg),
            Body::BucketCount(b) => b.buckets_number,
            _ => return,
        };
        if volume <= 0.0 {
            self.refuse("volume", &volume.to_string(), "nothing was moved", "more than zero");
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
        let numbers: &[(&str, f64)] = match body {
            Body::PanelCheck(b) => &[("trim_number", b.trim_number)],
            Body::TrimSet(b) => &[("from_number", b.from_number), ("to_number", b.to_number)],
            Body::PlantFit(b) => &[
                ("reached_number", b.reached_number),
                ("reached_spread_number", b.reached_spread_number),
                ("feed_number", b.feed_number),
                ("feed_spread_number", b.feed_spread_number),
                ("water_number", b.water_number),
                ("water_spread_number", b.water_spread_number),
            ],
            _ => &[],
        };
        for (field, number) in numbers.iter().filter(|(_, number)| *number <= 0.0) {
            self.refuse(field, &number.to_string(), "is no number of a controller", "a number above zero");
        }
        if let Body::PanelCheck(b) = body {
            if !(0.0 < b.uncertainty_pct && b.uncertainty_pct <= 10.0) {
                let value = b.uncertainty_pct.to_string();
                self.refuse(
                    "uncertainty_pct",
                    &value,
                    "is no interval",
                    "± per cent by mass, above 0, up to 10",
                );
            }
            for (field, pct) in [("panel_pct", b.panel_pct), ("bench_pct", b.bench_pct)] {
                if !(0.0..=40.0).contains(&pct) || (0.0 < pct && pct < FRACTION_BELOW) {
                    let accepted = "per cent by mass, 0…40";
                    self.refuse(field, &pct.to_string(), "is no strength a plant makes", accepted);
                }
            }
        }
        if let Body::Reading(b) = body
            && b.uncertainty_pct.is_some_and(|u| u > 10.0)
        {
            let value = b.uncertainty_pct.unwrap_or(0.0).to_string();
            self.refuse("uncertainty_pct", &value, "too wide to say anything", "± per cent by mass, 0…10");
        }
    }

    fn jar_test(&mut self, jar: &JarTest) {
        self.known("result", &jar.result, JAR_RESULTS.iter().copied());
        if !(0.0..=100.0).contains(&jar.share_a_pct) {
            let value = jar.share_a_pct.to_string();
            self.refuse(
                "share_a_pct",
                &value,
                "is no share",
                "per cent by volume of the first liquid, 0…100",
            );
        }
        if !JAR_CELSIUS.contains(&jar.temp_c) {
            let value = format!("{:.1} °C", jar.temp_c);
            self.refuse("temp", &value, "is no temperature to keep a jar at", "−60…60 °C, −76…140 °F");
        }
        if jar.duration_h <= 0.0 {
            self.refuse(
                "duration",
                &format!("{} h", jar.duration_h),
                "is no time at all",
                "a time above zero",
            );
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
            Body::SaltDelivery(b) if b.mass_kg <= 0.0 => {
                self.refuse("mass", &b.mass_kg.to_string(), "nothing was received", "a mass above zero");
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
            Body::Reading(b) if b.tank.is_none() != (b.level.as_deref() == Some(PLANT_TAP)) => {
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
            Body::JarTest(b) => self.jar_test(b),
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
