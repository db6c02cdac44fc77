//! How tanks stand, as sentences: in spec, freezing, doubted, apart from the book.

use bench::Conformity;
use planner::TankStock;
use yard::estimate::{Apart, BookApart, Mismatch};
use yard::stock::BookProblem;

use crate::Teller;

impl Teller<'_> {
    /// A strength against the band, in a word or two.
    pub fn conformity(&self, conformity: Conformity) -> &str {
        self.words.say(match conformity {
            Conformity::InSpec => "spec.in",
            Conformity::TooWeak => "spec.weak",
            Conformity::TooStrong => "spec.strong",
            Conformity::CannotTell => "spec.cannot-tell",
        })
    }

    /// A tank's state in a sentence: spec, first solid, margin to the coldest ahead.
    pub fn tank_state(
        &self,
        tank: &TankStock,
        coldest: Option<quantity::ThermodynamicTemperature>,
    ) -> String {
        let mut parts: Vec<String> = tank.doubted.iter().map(|doubted| self.doubted(doubted)).collect();
        parts.push(self.content_state(tank, coldest));
        parts.extend(
            tank.corrected_at
                .map(|at| self.words.fill("tanks.after-correction", &[("at", &self.display.time(at))])),
        );
        if !tank.is_counted {
            parts.push(self.words.say("tanks.uncounted").to_owned());
        }
        parts.join(" ")
    }

    /// Evidence that does not fit, and what it asks for.
    pub fn doubted(&self, doubted: &Mismatch) -> String {
        let d = self.display;
        match doubted.of {
            Apart::Strength { seen, expected } => {
                let values = [("seen", d.strength(seen)), ("expected", d.strength(expected))];
                self.words.fill_with("tanks.doubt-strength", &values)
            }
            Apart::Volume { seen, expected } => {
                let values = [("seen", d.volume(seen)), ("expected", d.volume(expected))];
                self.words.fill_with("tanks.doubt-volume", &values)
            }
        }
    }

    /// How a tank's book stands apart from what is there, in a sentence.
    pub fn book_apart(&self, apart: &BookApart) -> String {
        if apart.is_first_count {
            return self.words.say("tanks.first-count").to_owned();
        }
        let metres = quantity::in_cubic_metres(apart.volume);
        let by = self.display.volume(quantity::cubic_metres(metres.abs()));
        let mut told = Vec::new();
        if metres.abs() > quantity::in_cubic_metres(apart.within) {
            let key = if metres > 0.0 { "tanks.book-less" } else { "tanks.book-more" };
            told.push(self.words.fill(key, &[("by", &by)]));
        }
        if let Some((thought, booked)) = apart.strength {
            let values =
                [("thought", self.display.strength(thought)), ("booked", self.display.strength(booked))];
            told.push(self.words.fill_with("tanks.book-strength", &values));
        }
        told.join(" ")
    }

    /// What is in it, against spec and cold.
    fn content_state(&self, tank: &TankStock, coldest: Option<quantity::ThermodynamicTemperature>) -> String {
        let d = self.display;
        if !tank.unlike.is_empty() {
            return self.mixed_state(tank, coldest);
        }
        let Some(conformity) = tank.conformity else { return self.declared_state(tank, coldest) };
        let Some(first) = tank.first_solid else { return self.conformity(conformity).to_string() };
        let solid = self.solid(first.solid);
        let mut text = self.words.fill(
            "tank.state",
            &[
                ("spec", self.conformity(conformity)),
                ("solid", solid),
                ("first", &d.temperature(first.temperature)),
                ("u", &d.degrees(first.uncertainty)),
            ],
        );
        text.push_str(&self.freeze_margin(tank, coldest));
        text
    }

    /// Whether a tank asks for something: mixed, a second look, out of spec, or not colder-proof enough.
    pub fn tank_needs_act(
        &self,
        tank: &TankStock,
        coldest: Option<quantity::ThermodynamicTemperature>,
    ) -> bool {
        let is_off = !tank.unlike.is_empty() || tank.doubted.is_some();
        is_off
            || tank.freezes_in(coldest)
            || tank.conformity.is_some_and(|conformity| conformity != Conformity::InSpec)
    }

    /// What the freeze map says.
    pub fn freeze_map(
        &self,
        tanks: &[TankStock],
        coldest: Option<quantity::ThermodynamicTemperature>,
    ) -> String {
        let lines: Vec<String> = tanks
            .iter()
            .filter(|tank| tank.conformity.is_some())
            .map(|tank| {
                let strength = tank.strength.map_or_else(String::new, |w| self.display.strength(w));
                self.words.fill(
                    "chart.tank-says",
                    &[
                        ("tank", &tank.tank),
                        ("strength", &strength),
                        ("state", &self.tank_state(tank, coldest)),
                    ],
                )
            })
            .collect();
        lines.join(" ")
    }

    /// What does not add up, in a sentence.
    pub fn book_problem(&self, problem: &BookProblem) -> String {
        match problem {
            BookProblem::TankBelowZero { tank, event } => {
                self.words.fill("books.tank-below-zero", &[("tank", tank), ("event", &event.to_string())])
            }
            BookProblem::SaltBelowZero { event } => {
                self.words.fill("books.salt-below-zero", &[("event", &event.to_string())])
            }
            BookProblem::NotCounted { event, reason } => {
                let reason = self.display.tell(&message::Tell::message(reason));
                self.words.fill("books.not-counted", &[("event", &event.to_string()), ("reason", &reason)])
            }
        }
    }
}
