//! When a task is due, where a batch went, and what a lot of salt is worth, as sentences.

use accounts::Journal;
use accounts::receiving::Verdict;
use event::EventId;
use jiff::Timestamp;
use quantity::{Volume, cubic_metres, hours, in_cubic_metres, in_hours};
use yard::due::{Pressing, Standing as ChoreStanding};
use yard::stock::End;

use crate::Teller;
use crate::display::number;

impl Teller<'_> {
    /// A lot as people know it: what happened, when, by whom.
    pub fn lot(&self, journal: &Journal<'_>, event: EventId) -> String {
        let Some(recorded) = journal.event(event) else { return event.to_string() };
        let values = [
            ("row", recorded.seq.to_string()),
            ("what", self.event_line(&recorded.event.body)),
            ("at", self.display.time(recorded.event.occurred_at)),
            ("author", recorded.event.author.clone()),
        ];
        self.words.fill_with("lot.line", &values)
    }

    /// Where part of a lot got to.
    pub fn reached(&self, to: &End, route: Option<&str>) -> String {
        match to {
            End::Truck(truck) => {
                self.words.fill("lot.truck", &[("truck", truck), ("route", &self.route_name(route))])
            }
            End::Agency(name) => self.words.fill("lot.agency", &[("agency", name)]),
            End::Lost => self.words.say("account.lost").to_owned(),
            End::CleanedOut => self.words.say("account.cleaned").to_owned(),
            End::Tank(tank) => self.words.fill("close.tank", &[("id", tank)]),
            End::Plant | End::Supplier | End::Added | End::Road(_) | End::Agreed => String::new(),
        }
    }

    /// What a salt's moisture means.
    pub fn salt_verdict(&self, verdict: Verdict, price_usd: Option<f64>) -> String {
        match verdict {
            Verdict::Accept => self.words.say("salt.accept").to_owned(),
            Verdict::Deduct(share) => {
                let percent = number(100.0 * share, 0);
                match price_usd {
                    Some(usd) => self.words.fill(
                        "salt.deduct-usd",
                        &[("percent", &percent), ("usd", &format!("${}", number(usd * share, 2)))],
                    ),
                    None => self.words.fill("salt.deduct", &[("percent", &percent)]),
                }
            }
            Verdict::Reject => self.words.say("salt.reject").to_owned(),
        }
    }

    /// Why and since when a chore is due, or when it will be.
    pub fn chore_when(&self, standing: &ChoreStanding, now: Timestamp) -> String {
        let d = self.display;
        let left = |making: quantity::Time| d.time_span(hours(in_hours(making).max(0.0)));
        match (standing.pressing, standing.at, standing.making_left, standing.made_left) {
            (Pressing::Due, Some(at), ..) if at <= now => {
                self.words.fill("due.since", &[("at", &d.date(at))])
            }
            (Pressing::Due, ..) => self.words.say("due.now").to_owned(),
            (_, Some(at), ..) => self.words.fill("due.by", &[("at", &d.date(at))]),
            (_, _, Some(making), _) => self.words.fill("due.making-left", &[("time", &left(making))]),
            (_, _, _, Some(made)) => {
                let made: Volume = if in_cubic_metres(made) > 0.0 { made } else { cubic_metres(0.0) };
                self.words.fill("due.made-left", &[("volume", &d.volume(made))])
            }
            _ => self.words.say("due.not-yet").to_owned(),
        }
    }
}
