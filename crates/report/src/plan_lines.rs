//! Sentences of a plan that stand both in its text and on its page.

use planner::loading::Loading;
use planner::outlook::Case;
use planner::production::MakingRun;
use planner::treatment::Treatment;
use planner::{Plan, SuspectWater, TankUse};
use weather::WeatherFile;

use crate::Teller;
use crate::display::number;

impl Teller<'_> {
    /// Which forecast, as known when.
    pub fn forecast_line(&self, plan: &Plan, weather: &WeatherFile) -> String {
        let named = weather.station.as_deref().map(|s| self.words.fill("text.station", &[("station", s)]));
        self.words.fill(
            "text.forecast",
            &[
                ("format", weather.format.name()),
                ("station", &named.unwrap_or_default()),
                ("issued", &self.display.time(plan.issued)),
                ("zone", self.display.zone.iana_name().unwrap_or("UTC")),
            ],
        )
    }

    /// What fell in the window by the file, or that it gives no amounts.
    pub fn precipitation_line(&self, plan: &Plan) -> String {
        if !plan.amounts_given {
            return self.words.say("caution.no-amounts").to_string();
        }
        self.words.fill("text.precipitation", &[("water", &self.display.water(plan.precipitation))])
    }

    /// The plan if suspect water is real.
    pub fn suspect_line(&self, suspect: &SuspectWater) -> String {
        let d = self.display;
        self.words.fill(
            "plan.suspect",
            &[
                ("water", &d.water(suspect.liquid)),
                ("mid", &d.volume(suspect.brine.mid)),
                ("range", &d.volume_range(suspect.brine)),
                ("other", &d.volume_range(suspect.other)),
                ("salt", &d.mass(suspect.salt.mid)),
            ],
        )
    }

    /// When trucks load, leave and are done, and what rate the loads are for.
    pub fn loading_line(&self, loading: &Loading) -> String {
        let d = self.display;
        let sized = "text.loads-advised";
        let told = self.words.fill(
            "text.loading",
            &[
                ("begin", &d.time(loading.begin)),
                ("first", &loading.loads.first().map_or_else(String::new, |load| d.time(load.leaves))),
                ("end", &d.time(loading.end)),
                ("loads", &loading.loads.len().to_string()),
            ],
        );
        format!("{told} {}", self.words.say(sized))
    }

    /// When a run is made, how long and how much.
    pub fn making_line(&self, run: &MakingRun) -> String {
        let d = self.display;
        let (from, to) = d.span(run.making_from, run.making_to);
        self.words.fill(
            "storm.run-making",
            &[
                ("from", &from),
                ("to", &to),
                ("length", &d.duration(run.making_to.duration_since(run.making_from))),
                ("volume", &d.volume(run.volume)),
            ],
        )
    }

    /// Which tanks a run fills.
    pub fn into_line(&self, uses: &[TankUse]) -> String {
        let part = |part: &TankUse| {
            let volume = self.display.volume(part.volume);
            self.words.fill("text.into-tank", &[("volume", &volume), ("tank", &part.tank)])
        };
        uses.iter().map(part).collect::<Vec<_>>().join(", ")
    }

    /// Salt and water of all runs.
    pub fn batch_line(&self, plan: &Plan) -> String {
        let d = self.display;
        let density = chemistry::density::water_density(chemistry::recipe::reference_temperature())
            .unwrap_or(quantity::kg_per_m3(999.0));
        self.words.fill(
            "text.batch",
            &[
                ("salt", &d.mass(plan.batch.rock_salt)),
                ("on_hand", &d.mass(plan.rock_salt)),
                ("water", &d.volume(plan.batch.water / density)),
                ("sludge", &d.mass(plan.batch.insolubles)),
            ],
        )
    }

    /// All that is needed.
    pub fn total_line(&self, plan: &Plan) -> String {
        let d = self.display;
        self.words.fill(
            "text.total",
            &[
                ("waste", &number(plan.waste_share * 100.0, 0)),
                ("mid", &d.volume(plan.brine.mid)),
                ("range", &d.volume_range(plan.brine)),
                ("other", &d.volume_range(plan.other)),
            ],
        )
    }

    /// Dry salt, money and chloride.
    pub fn cost_line(&self, plan: &Plan) -> String {
        let d = self.display;
        self.words.fill(
            "text.salt-cost",
            &[
                ("salt", &d.mass(plan.salt.mid)),
                ("salt_high", &d.mass(plan.salt.high)),
                ("usd", &d.dollars(plan.costs.mid.total_usd())),
                ("usd_high", &d.dollars(plan.costs.high.total_usd())),
                ("chloride", &d.mass(plan.chloride.mid)),
                ("chloride_high", &d.mass(plan.chloride.high)),
            ],
        )
    }

    /// Passes of the middle case, told by rate row: how many, first and last, how much; with the source of each.
    pub fn pass_lines(&self, treatment: &Treatment) -> Vec<(String, String)> {
        let passes = &treatment.passes[Case::Mid as usize];
        let mut seen: Vec<&str> = Vec::new();
        let mut lines = Vec::new();
        for rate in passes.iter().filter_map(|pass| pass.rate.as_ref()) {
            if seen.contains(&rate.id.as_str()) {
                continue;
            }
            seen.push(&rate.id);
            let same = passes.iter().filter(|pass| pass.rate.as_ref().is_some_and(|r| r.id == rate.id));
            let times: Vec<_> = same.map(|pass| pass.at).collect();
            let when = match (times.iter().min(), times.iter().max()) {
                (Some(from), Some(to)) if from < to => {
                    let (from, to) = self.display.span(*from, *to);
                    self.words.fill("text.from-to", &[("from", &from), ("to", &to)])
                }
                (only, _) => only.map_or_else(String::new, |at| self.display.time(*at)),
            };
            let values = [("count", times.len().to_string()), ("when", when), ("amount", self.amount(rate))];
            let values = values.each_ref().map(|(name, value)| (*name, value.as_str()));
            let line = (self.words.fill("text.passes", &values), rate.source.clone());
            lines.push((times.iter().min().copied(), line));
        }
        lines.sort_by_key(|(first, _)| *first);
        lines.into_iter().map(|(_, line)| line).collect()
    }

    /// How much salt a row puts down, and what wets it.
    fn amount(&self, rate: &road::RateRow) -> String {
        let liquid = match rate.liquids.first() {
            Some(road::rates::LiquidClass::SaltBrine) => "liquid.brine",
            Some(road::rates::LiquidClass::MagnesiumOrCalcium) => "liquid.other",
            None => return self.words.say("text.no-chemical").to_string(),
        };
        let [low, _, high] = rate.salt();
        let rate = self.display.salt_rate_range(low, high);
        self.words.fill("text.salt-rate", &[("rate", &rate), ("liquid", self.words.say(liquid))])
    }
}
