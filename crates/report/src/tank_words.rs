//! What stands in a tank where it is not our own brine, as sentences: bought liquids, mixes, jar tests.

use chemistry::Brine;
use chemistry::equilibrium::Onset;
use chemistry::freezing::{Solid, on_cooling};
use chemistry::phases::phases;
use event::{JarResult, JarTest};
use planner::TankStock;
use quantity::{
    Mass, ThermodynamicTemperature, celsius, hours, in_celsius, in_cubic_metres, in_kilograms, kilograms,
};
use yard::stock::{JarTestEvidence, Liquid, Part};

use crate::Teller;
use crate::display::number;

/// A content of less than a litre is an empty tank, m³.
const EMPTY_M3: f64 = 1e-3;

/// A second solid this near to the last liquid, K, comes with it: the eutectic of a brine of one salt.
const TOGETHER: f64 = 0.05;

/// Returns where the second solid comes and the last liquid goes with it: ice or salt alone is said of no temperature
/// below it.
pub(crate) fn solid_with_the_second(brine: &Brine, found: &Onset) -> Option<ThermodynamicTemperature> {
    let second = in_celsius(found.ice?).min(in_celsius(found.salt?.1));
    // Of a blend that has no equilibrium found there nothing is said.
    let is_dry = phases(brine, celsius(second - TOGETHER)).is_ok_and(|there| there.liquid <= 0.0);
    is_dry.then(|| celsius(second))
}

impl Teller<'_> {
    /// A bought liquid's state in a sentence: where it freezes by its sheet, margin to the coldest ahead.
    pub(crate) fn declared_state(
        &self,
        tank: &TankStock,
        coldest: Option<ThermodynamicTemperature>,
    ) -> String {
        if tank.is_brine || in_cubic_metres(tank.volume) < EMPTY_M3 {
            return self.words.say("tank.empty").to_string();
        }
        let Some(freezing) = tank.sheet_freezing else {
            return self.words.say("tank.declared-unknown").to_string();
        };
        let source = self.yard.product(&tank.product).and_then(|product| product.kind.source());
        let text = self.words.fill(
            "tank.declared",
            &[("first", &self.display.temperature(freezing)), ("source", source.unwrap_or_default())],
        );
        text + &self.freeze_margin(tank, coldest)
    }

    /// The margin to the coldest air ahead, as a sentence to append; empty where there is nothing to compare.
    pub(crate) fn freeze_margin(
        &self,
        tank: &TankStock,
        coldest: Option<ThermodynamicTemperature>,
    ) -> String {
        let (Some(first), Some(coldest), false) = (tank.freezes_at(), coldest, tank.is_indoors) else {
            return String::new();
        };
        let key = if in_celsius(first) < in_celsius(coldest) { "tank.margin" } else { "tank.no-margin" };
        let (margin, coldest) =
            (self.display.degrees_between(coldest, first), self.display.temperature(coldest));
        format!(" {}", self.words.fill(key, &[("margin", &margin), ("coldest", &coldest)]))
    }

    /// A mix in a tank: its parts, what leaves it first, and what happens between salt and ice.
    pub(crate) fn mixed_state(&self, tank: &TankStock, coldest: Option<ThermodynamicTemperature>) -> String {
        let parts = self.not_its_own(&tank.unlike);
        let Some(first) = tank.first_solid else {
            return format!("{parts} {}", self.words.say("tank.mixed-unknown"));
        };
        let state = self.words.fill(
            "tank.mixed-state",
            &[
                ("solid", self.solid(first.solid)),
                ("first", &self.display.temperature(first.temperature)),
                ("u", &self.display.degrees(first.uncertainty)),
            ],
        );
        let between = tank.mix.map_or_else(String::new, |brine| self.between(&brine));
        let told = format!("{parts} {state}{}", self.freeze_margin(tank, coldest));
        if between.is_empty() { told } else { format!("{told} {between}") }
    }

    /// What happens in a brine between the temperatures at which salt and ice appear, in plain words: at equilibrium,
    /// since a tank has days for it.
    pub fn between(&self, brine: &Brine) -> String {
        let Ok(found) = on_cooling(brine) else { return String::new() };
        let t = |at: ThermodynamicTemperature| self.display.temperature(at);
        let end = solid_with_the_second(brine, &found);
        match (found.ice, found.salt.map(|(_, at)| at), end) {
            (Some(ice), Some(salt), Some(end)) if in_celsius(salt) > in_celsius(ice) => {
                self.words.fill("blend.plain-salt-first", &[("salt", &t(salt)), ("end", &t(end))])
            }
            (Some(ice), Some(_), Some(end)) => {
                self.words.fill("blend.plain-ice-first", &[("ice", &t(ice)), ("end", &t(end))])
            }
            (Some(ice), Some(salt), None) if in_celsius(salt) > in_celsius(ice) => {
                self.words.fill("blend.salt-first", &[("salt", &t(salt)), ("ice", &t(ice))])
            }
            (Some(ice), Some(salt), None) => {
                self.words.fill("blend.ice-first", &[("salt", &t(salt)), ("ice", &t(ice))])
            }
            (Some(ice), None, _) => self.words.fill("blend.only-ice", &[("ice", &t(ice))]),
            (None, Some(salt), _) => self.words.fill("blend.only-salt", &[("salt", &t(salt))]),
            (None, None, _) => String::new(),
        }
    }

    /// What comes out, as an operator calls it.
    pub fn solid(&self, solid: Solid) -> &str {
        self.words.say(match solid {
            Solid::Ice => "solid.ice",
            Solid::IceOrHydrohalite => "solid.either",
            _ => "solid.salt",
        })
    }

    /// What a tank holds that is not its product alone, in a sentence.
    pub fn not_its_own(&self, parts: &[Part]) -> String {
        let whole: Mass = parts.iter().fold(kilograms(0.0), |sum, part| sum + part.mass);
        let share = |part: &Part| number(100.0 * in_kilograms(part.mass) / in_kilograms(whole), 0);
        match parts {
            [only] => self.words.fill("tank.other-liquid", &[("liquid", self.liquid(&only.liquid))]),
            _ => {
                let part = |part: &Part| {
                    let (share, liquid) = (share(part), self.liquid(&part.liquid));
                    self.words.fill("tank.mixed-part", &[("share", &share), ("liquid", liquid)])
                };
                let parts: Vec<String> = parts.iter().map(part).collect();
                self.words.fill("tank.mixed", &[("parts", &parts.join(", "))])
            }
        }
    }

    /// The latest jar test meant for a tank, in a sentence.
    pub fn jar_evidence(&self, test: Option<&JarTestEvidence>) -> String {
        let Some(test) = test else { return self.words.say("tank.no-jar-test").to_string() };
        let what = self.jar_line(
            &test.liquid_a,
            &test.liquid_b,
            test.share_a_pct,
            test.temperature,
            test.duration,
            test.result,
        );
        let remark = self.remark(test.remark.as_deref());
        self.words.fill(
            "tank.jar-test",
            &[("at", &self.display.time(test.at)), ("what", &what), ("remark", &remark)],
        )
    }

    /// A jar test as the ledger's line.
    pub(crate) fn jar_test(&self, test: &JarTest) -> String {
        let what = self.jar_line(
            &test.liquid_a,
            &test.liquid_b,
            test.share_a_pct,
            celsius(test.temp_c),
            hours(test.duration_h),
            test.result,
        );
        let tank = test
            .tank
            .as_ref()
            .map_or_else(String::new, |tank| self.words.fill("line.for-tank", &[("tank", tank)]));
        let remark = self.remark(test.remark.as_deref());
        self.words.fill("line.jar_test", &[("what", &what), ("tank", &tank), ("remark", &remark)])
    }

    fn jar_line(
        &self,
        liquid_a: &str,
        liquid_b: &str,
        share_a_pct: f64,
        kept_at: ThermodynamicTemperature,
        kept_for: quantity::Time,
        result: JarResult,
    ) -> String {
        let share = |pct: f64| number(pct, if (pct - pct.round()).abs() < 1e-9 { 0 } else { 1 });
        self.words.fill(
            "line.jar-mix",
            &[
                ("a", self.called(liquid_a)),
                ("b", self.called(liquid_b)),
                ("share_a", &share(share_a_pct)),
                ("share_b", &share(100.0 - share_a_pct)),
                ("temp", &self.display.temperature(kept_at)),
                ("time", &self.display.time_span(kept_for)),
                ("result", self.jar_result(result)),
            ],
        )
    }

    fn jar_result(&self, result: JarResult) -> &'static str {
        self.words.say(match result {
            JarResult::Clear => "jar.clear",
            JarResult::Crystals => "jar.crystals",
            JarResult::Sludge => "jar.sludge",
            JarResult::Layers => "jar.layers",
            JarResult::Gel => "jar.gel",
        })
    }

    fn remark(&self, remark: Option<&str>) -> String {
        remark.map_or_else(String::new, |text| self.words.fill("line.remark", &[("text", text)]))
    }

    /// A liquid by what people call it: the name of a product, or the words that were written.
    pub(crate) fn called<'k>(&'k self, id: &'k str) -> &'k str {
        self.yard.product(id).map_or(id, |product| &product.name)
    }

    fn liquid<'k>(&'k self, liquid: &'k Liquid) -> &'k str {
        match liquid {
            Liquid::Brine => self.words.say("liquid.brine-or-water"),
            Liquid::Declared(id) => self.called(id),
        }
    }
}
