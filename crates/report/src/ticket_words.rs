//! What a load ticket says of its tank and of the axles.

use entry::ticket::Standing;
use event::{Body, HowFound};
use quantity::{in_kilograms, kilograms};
use road::weight::{GroupLoad, Rule};

use crate::Teller;

impl Teller<'_> {
    /// Whether a tank may be loaded from, in a line, with the word that stands first.
    pub fn standing(&self, standing: &Standing) -> String {
        let reading = |reading: &yard::stock::ReadingEvidence| {
            [("strength", self.display.strength(reading.strength)), ("at", self.display.time(reading.at))]
        };
        let fill = |key: &str, values: [(&str, String); 2]| self.words.fill_with(key, &values);
        match standing {
            Standing::InSpec { reading: found, is_sure: true } => fill("standing.in-spec", reading(found)),
            Standing::InSpec { reading: found, is_sure: false } => fill("standing.near", reading(found)),
            Standing::OutOfSpec { reading: found, .. } => fill("standing.out", reading(found)),
            Standing::Bought => self.words.say("standing.bought").to_owned(),
            Standing::NotMeasured => self.words.say("standing.not-measured").to_owned(),
            Standing::Mixed => self.words.say("standing.mixed").to_owned(),
            Standing::Empty => self.words.say("standing.empty").to_owned(),
        }
    }

    /// A group of axles: which, what it carries, what it may, and by which rule.
    pub fn axle_group(&self, group: &GroupLoad) -> String {
        let (first, last) = (group.axles.0 + 1, group.axles.1 + 1);
        let which = match group.rule {
            Rule::Gross | Rule::OwnGross => self.words.say("axles.all").to_owned(),
            _ if first == last => self.words.fill("axles.one", &[("axle", &first.to_string())]),
            _ => self.words.fill("axles.some", &[("first", &first.to_string()), ("last", &last.to_string())]),
        };
        let rule = self.axle_rule(group);
        let margin = in_kilograms(group.margin());
        let key = if margin < 0.0 { "axles.over" } else { "axles.within" };
        let values = [
            ("which", which),
            ("load", self.display.exact_mass(group.load)),
            ("limit", self.display.exact_mass(group.limit)),
            ("margin", self.display.exact_mass(kilograms(margin.abs()))),
            ("rule", rule),
        ];
        self.words.fill_with(key, &values)
    }

    /// By which rule a group of axles is held.
    pub fn axle_rule(&self, group: &GroupLoad) -> String {
        let rule = match group.rule {
            Rule::OwnLimit => "axles.own",
            Rule::Single => "axles.single",
            Rule::Tandem => "axles.tandem",
            Rule::Bridge => "axles.bridge",
            Rule::Gross => "axles.gross",
            Rule::OwnGross => "axles.own-gross",
        };
        self.words.say(rule).to_owned()
    }

    /// What an event says of how its volume was found.
    pub fn how_found(&self, how: HowFound) -> &'static str {
        self.words.say(match how {
            HowFound::Weight => "how.weight",
            HowFound::Dip => "how.dip",
            HowFound::Marks => "how.marks",
            HowFound::Meter => "how.meter",
        })
    }

    /// Whether an event is a ticket that can be printed.
    pub fn is_ticket(body: &Body) -> bool {
        match body {
            Body::LoadOut(_) | Body::IssueOut(_) => true,
            // A truck that came home empty brought nothing.
            Body::ReturnToTank(back) => back.volume_m3 > 0.0,
            _ => false,
        }
    }
}
