//! A blend's recipe, as sentences and a table: the same for the page and for the command line.

use chemistry::freezing::FirstSolid;
use entry::blending::{Advice, AtHand, Source, salts};
use quantity::{Mass, ThermodynamicTemperature, Volume, in_celsius, in_cubic_metres, in_kilograms};

use crate::Teller;
use crate::display::number;
use crate::tank_words::solid_with_the_second;

/// A liquid of the recipe.
#[derive(Debug, Clone, PartialEq)]
pub struct BlendRow {
    /// What and where from.
    pub liquid: String,
    /// At 60 °F.
    pub volume: String,
    /// Mass of the liquid, with its unit.
    pub mass: String,
    /// Share of the blend by volume at 60 °F and by mass, per cent.
    pub shares: [String; 2],
    /// Price of the liquid that goes in, US dollars.
    pub cost: String,
}

/// What is said of a recipe.
#[derive(Debug, Clone, PartialEq)]
pub struct BlendWords {
    /// The act, in a sentence.
    pub headline: String,
    /// Every liquid, what is in the tank first.
    pub rows: Vec<BlendRow>,
    /// Name and figure, in order.
    pub facts: Vec<(String, String)>,
    /// What happens between salt and ice.
    pub between: String,
    /// What to do, step by step.
    pub steps: Vec<String>,
    /// Cautions to observe when mixing, one sentence each.
    pub cares: Vec<String>,
}

/// What a blend can do to people, tanks and roads.
const CARES: [&str; 9] = [
    "care.jar-first",
    "care.eyes",
    "care.heat",
    "care.heavy",
    "care.lockout",
    "care.backflow",
    "care.tank",
    "care.slip",
    "care.slick",
];

impl Teller<'_> {
    /// Tells a recipe.
    pub fn blend(&self, advice: &Advice) -> BlendWords {
        let (words, display) = (self.words, self.display);
        let recipe = &advice.recipe;
        let put_in = advice.put_in();
        let volumes: f64 = put_in.iter().map(|(.., volume)| in_cubic_metres(*volume)).sum();
        let base = advice.base.and_then(|brine| {
            let density = brine.density(chemistry::recipe::reference_temperature()).ok()?;
            Some((recipe.base, recipe.base / density))
        });
        let whole = volumes + base.map_or(0.0, |(_, volume)| in_cubic_metres(volume));
        let row = |liquid: String, mass: Mass, volume: Volume, cost: f64| BlendRow {
            liquid,
            volume: display.volume(volume),
            mass: display.mass(mass),
            shares: [
                number(100.0 * in_cubic_metres(volume) / whole, 1),
                number(100.0 * in_kilograms(mass) / in_kilograms(recipe.mass), 1),
            ],
            cost: format!("${}", number(cost, 2)),
        };
        let there = base.map(|(mass, volume)| row(words.say("blend.there").to_owned(), mass, volume, 0.0));
        let rows: Vec<BlendRow> = there
            .into_iter()
            .chain(put_in.iter().map(|(liquid, mass, volume)| {
                row(self.at_hand(liquid), *mass, *volume, liquid.lot.price * in_kilograms(*mass))
            }))
            .collect();
        let parts: Vec<String> = put_in
            .iter()
            .map(|(liquid, _, volume)| {
                let values = [("volume", display.volume(*volume)), ("liquid", self.at_hand(liquid))];
                words.fill_with("blend.part", &values)
            })
            .collect();
        let headline = match parts.as_slice() {
            [] => words.say("blend.nothing").to_owned(),
            _ => words.fill("blend.headline", &[("parts", &parts.join(", "))]),
        };
        BlendWords {
            headline,
            rows,
            facts: self.blend_facts(advice),
            between: self.between(&recipe.brine),
            steps: self.blend_steps(advice),
            cares: CARES.map(|key| words.say(key).to_owned()).to_vec(),
        }
    }

    /// A liquid and where it is.
    pub fn at_hand(&self, liquid: &AtHand) -> String {
        match &liquid.source {
            Source::Water => self.words.say("blend.water").to_owned(),
            Source::Named(name) => name.clone(),
            Source::Tank(tank) => {
                self.words.fill("blend.from-tank", &[("liquid", &liquid.product), ("tank", tank)])
            }
        }
    }

    fn blend_facts(&self, advice: &Advice) -> Vec<(String, String)> {
        let (words, display) = (self.words, self.display);
        let recipe = &advice.recipe;
        let mut facts = Vec::new();
        let mut fact = |key: &str, value: String| facts.push((words.say(key).to_owned(), value));
        if let Ok(first) = recipe.brine.first_solid() {
            fact("blend.first-solid", self.first_solid(&first));
        }
        let onset = &recipe.onset;
        let end = solid_with_the_second(&recipe.brine, onset);
        // With the last liquid gone, it is neither ice nor salt that comes, but both.
        let is_told =
            |at: ThermodynamicTemperature| end.is_none_or(|end| in_celsius(at) > in_celsius(end) + 0.05);
        if let Some(ice) = onset.ice.filter(|at| is_told(*at)) {
            fact("blend.ice-at", display.temperature(ice));
        }
        if let Some((_, salt)) = onset.salt.filter(|(_, at)| is_told(*at)) {
            fact("blend.salt-at", display.temperature(salt));
        }
        if let Some(end) = end {
            fact("blend.solid-below", display.temperature(end));
        }
        let strengths: Vec<String> = salts(&recipe.brine)
            .into_iter()
            .map(|(formula, part)| format!("{formula} {}", display.percent(part.percent(), 2)))
            .collect();
        fact("blend.holds", strengths.join(", "));
        fact("blend.in-all", format!("{}, {}", display.volume(recipe.volume), display.mass(recipe.mass)));
        fact("blend.cost", format!("${}", number(recipe.cost, 2)));
        if let Some(temperature) = recipe.temperature {
            fact("blend.mixed-at", display.temperature(temperature));
        }
        facts
    }

    /// The first solid with its interval.
    pub fn first_solid(&self, first: &FirstSolid) -> String {
        let values = [
            ("solid", self.solid(first.solid).to_owned()),
            ("first", self.display.temperature(first.temperature)),
            ("u", self.display.degrees(first.uncertainty)),
        ];
        self.words.fill_with("tank.mixed-state", &values)
    }

    /// In which order: water, then the weaker liquids, the strongest last and slowly.
    fn blend_steps(&self, advice: &Advice) -> Vec<String> {
        let words = self.words;
        let mut put_in = advice.put_in();
        if put_in.is_empty() {
            return Vec::new();
        }
        let strength = |liquid: &AtHand| liquid.lot.brine.strength().percent();
        put_in.sort_by(|a, b| strength(a.0).total_cmp(&strength(b.0)));
        let mut steps: Vec<String> = vec![words.say("blend.step-jar").to_owned()];
        for (place, (liquid, _, volume)) in put_in.iter().enumerate() {
            let is_last = place + 1 == put_in.len() && (place > 0 || advice.base.is_some());
            let key = if is_last { "blend.step-last" } else { "blend.step-in" };
            let values = [("volume", self.display.volume(*volume)), ("liquid", self.at_hand(liquid))];
            steps.push(words.fill_with(key, &values));
        }
        steps.extend(["blend.step-circulate", "blend.step-log"].map(|key| words.say(key).to_owned()));
        steps
    }
}
