//! Entries of the ledger as lines.

use event::Body;
use quantity::celsius;

use crate::Teller;

impl Teller<'_> {
    /// Name of an event's kind, for a list.
    pub fn event_kind(&self, kind: &str) -> String {
        let key = format!("event.{kind}");
        if self.words.knows(&key) { self.words.say(&key).to_string() } else { kind.to_string() }
    }

    /// What an event says, in a line.
    pub fn event_line(&self, body: &Body) -> String {
        let d = self.display;
        let volume = |m3: f64| d.volume(quantity::cubic_metres(m3));
        let mass = |kg: f64| d.mass(quantity::kilograms(kg));
        let pct = |p: f64| d.percent(p, 1);
        let temp =
            |c: Option<f64>| c.map_or_else(String::new, |c| format!(", {}", d.temperature(celsius(c))));
        let fill = |key: &str, values: &[(&str, &str)]| self.words.fill(key, values);
        match body {
            Body::SaltDelivery(b) => fill("line.salt_delivery", &[("mass", &mass(b.mass_kg))]),
            Body::LiquidDelivery(b) => {
                let volume = volume(b.volume_m3);
                match &b.product {
                    Some(id) => fill(
                        "line.liquid_delivery-of",
                        &[("volume", &volume), ("product", self.called(id)), ("tank", &b.tank)],
                    ),
                    None => fill("line.liquid_delivery", &[("volume", &volume), ("tank", &b.tank)]),
                }
            }
            Body::MakingRun(b) => fill(
                "line.making_run",
                &[("volume", &volume(b.volume_m3)), ("strength", &pct(b.strength_pct)), ("tank", &b.tank)],
            ),
            Body::Reading(b) => {
                let (strength, temp) = (pct(b.strength_pct), temp(b.temp_c));
                match &b.tank {
                    Some(tank) => {
                        fill("line.reading", &[("strength", &strength), ("tank", tank), ("temp", &temp)])
                    }
                    None => fill("line.reading-tap", &[("strength", &strength), ("temp", &temp)]),
                }
            }
            Body::Dip(b) => fill(
                "line.dip",
                &[
                    ("depth", &d.depth(quantity::metres(b.depth_m))),
                    ("tank", &b.tank),
                    ("temp", &temp(b.temp_c)),
                ],
            ),
            Body::JarTest(b) => self.jar_test(b),
            Body::Transfer(b) => fill(
                "line.transfer",
                &[("volume", &volume(b.volume_m3)), ("from", &b.from_tank), ("to", &b.to_tank)],
            ),
            Body::Correction(b) => fill(
                "line.correction",
                &[
                    ("tank", &b.tank),
                    ("water", &volume(b.water_m3.unwrap_or(0.0))),
                    ("salt", &mass(b.salt_kg.unwrap_or(0.0))),
                ],
            ),
            Body::LoadOut(b) => fill(
                "line.load_out",
                &[
                    ("volume", &volume(b.volume_m3)),
                    ("tank", &b.tank),
                    ("truck", &b.truck),
                    ("route", b.route.as_deref().unwrap_or("-")),
                ],
            ),
            Body::ReturnToTank(b) if b.volume_m3 <= 0.0 => fill("line.home-empty", &[("truck", &b.truck)]),
            Body::ReturnToTank(b) => fill(
                "line.return_to_tank",
                &[("volume", &volume(b.volume_m3)), ("tank", &b.tank), ("truck", &b.truck)],
            ),
            Body::Application(b) => {
                let liquid = b.volume_m3.map(|m3| fill("line.liquid-part", &[("volume", &volume(m3))]));
                let salt = b.salt_kg.map(|kg| fill("line.salt-part", &[("salt", &mass(kg))]));
                let what: Vec<String> = liquid.into_iter().chain(salt).collect();
                fill("line.application", &[("route", &b.route), ("what", &what.join(", "))])
            }
            Body::IssueOut(b) => fill(
                "line.issue_out",
                &[("volume", &volume(b.volume_m3)), ("tank", &b.tank), ("agency", &b.agency)],
            ),
            Body::Loss(b) => fill(
                "line.loss",
                &[("volume", &volume(b.volume_m3)), ("tank", &b.tank), ("reason", &b.reason)],
            ),
            Body::CleanOut(b) => fill(
                "line.clean_out",
                &[("volume", &volume(b.volume_m3)), ("tank", &b.tank), ("disposal", &b.disposal)],
            ),
            Body::MeterReading(b) => {
                fill("line.meter_reading", &[("meter", &b.meter), ("volume", &volume(b.total_m3))])
            }
            Body::Settlement(b) => {
                let salt = b.salt_kg.map(|kg| fill("line.salt-part", &[("salt", &mass(kg))]));
                let parts = [b.volume_m3.map(volume), b.strength_pct.map(pct), salt];
                let what = parts.into_iter().flatten().collect::<Vec<_>>().join(", ");
                match &b.tank {
                    Some(tank) => {
                        fill("line.settlement", &[("tank", tank), ("what", &what), ("reason", &b.reason)])
                    }
                    None => fill("line.settlement-salt", &[("what", &what), ("reason", &b.reason)]),
                }
            }
            Body::MeterCheck(b) => fill(
                "line.meter_check",
                &[("meter", &b.meter), ("volume", &volume(b.shown_m3)), ("mass", &mass(b.weighed_kg))],
            ),
            Body::BucketCount(b) => fill(
                "line.bucket_count",
                &[
                    ("count", &crate::display::number(b.buckets_number, 0)),
                    ("to", &self.words.say(&format!("buckets.{}", b.to)).to_lowercase()),
                ],
            ),
            Body::PileSurvey(b) => fill(
                "line.pile_survey",
                &[("mass", &mass(b.mass_kg)), ("within", &crate::display::number(b.uncertainty_pct, 0))],
            ),
            Body::WaterSample(b) => fill(
                "line.water_sample",
                &[
                    ("water", &b.watershed),
                    ("chloride", &crate::display::number(b.chloride_mg_l, 0)),
                    ("sampled", &self.words.say(&format!("sampled.{}", b.sampled)).to_lowercase()),
                ],
            ),
            Body::RoadReading(b) => {
                let road = self.road_name(&b.road, b.part == Some(event::RoadPart::Bridge));
                let surface = self.display.temperature(quantity::celsius(b.surface_c));
                let instrument = self
                    .words
                    .say(&format!("road-instrument.{}", b.instrument.unwrap_or_default()))
                    .to_lowercase();
                let looked = b.looked.map_or_else(String::new, |looked| {
                    format!(", {}", self.words.say(&format!("road-look.{looked}")).to_lowercase())
                });
                let values = [
                    ("road", road.as_str()),
                    ("surface", &surface),
                    ("instrument", &instrument),
                    ("looked", &looked),
                ];
                fill("line.road_reading", &values)
            }
            Body::SprayerCheck(b) => fill(
                "line.sprayer_check",
                &[
                    ("truck", &b.truck),
                    ("count", &entry::figures(&b.caught_ml).len().to_string()),
                    ("liquid", &self.words.say(&format!("caught-in.{}", b.liquid)).to_lowercase()),
                ],
            ),
            Body::SpreaderCheck(b) => fill(
                "line.spreader_check",
                &[("truck", &b.truck), ("setting", &b.setting), ("material", &b.material)],
            ),
            Body::Storm(b) => {
                let until = b.until.parse().map_or_else(|_| b.until.clone(), |at| d.time(at));
                fill("line.storm", &[("name", &b.name), ("until", &until)])
            }
            Body::MonthClose(b) => fill("line.month_close", &[("month", &b.month)]),
            Body::ChoreDone(b) => {
                fill("line.chore_done", &[("chore", &self.chore_task(&b.chore)), ("done", &b.done)])
            }
            Body::Maintenance(b) => fill("line.maintenance", &[("subject", &b.subject), ("done", &b.done)]),
            Body::PanelCheck(b) => self.panel_check(b),
            Body::TrimSet(b) => self.trim_set(b),
            Body::InstrumentCheck(b) => self.instrument_check(b),
            Body::WaterChange(b) => b.what.clone(),
            Body::RunStart(b) => b.procedure.clone(),
            Body::RunStep(b) => self.run_step(b),
            Body::RunEnd(b) => self.run_end(b),
            Body::PlantFit(b) => self.plant_fit(b),
            Body::PracticeRun(b) => fill("line.practice_run", &[("title", &b.title)]),
            Body::SeasonStart(b) => b.season.clone(),
            Body::CheckSeen(b) => b.done.clone(),
            Body::Note(b) => b.text.clone(),
            Body::Void(b) => fill("line.void", &[("event", &b.event), ("reason", &b.reason)]),
        }
    }
}
