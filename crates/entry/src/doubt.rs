//! What is possible but unlikely: more than a tank, a truck or a load can be, or litres taken for gallons. And what is
//! likely but must be known: that a mix with a declared liquid cannot be predicted.

use quantity::{
    Mass, Volume, cubic_metres, in_cubic_metres, in_kilograms, in_pounds, kilograms, metres, units,
};

use jiff::Timestamp;

/// Names an entry as a whole in what is doubted: made twice just so.
pub(super) const WHOLE_ENTRY: &str = "entry";

mod figures;
mod timing;
mod trimming;

pub use timing::time_doubts;

use super::{EntryProblem, mix_up, volume_text};
use site::{Product, ProductKind, Tank, Yard};
use yard::event::{Body, EventId, Treated};
use yard::stock::{Books, Liquid, Part};

/// More on a lane than any treatment: 200 gal and 1,500 lb a lane-mile. Our own thresholds.
const MOST_GAL_PER_LANE_MILE: f64 = 200.0;
const MOST_LB_PER_LANE_MILE: f64 = 1500.0;

/// Everything that must be confirmed before an entry is recorded: its amounts, and when it is said to have happened.
/// Whoever takes an entry in asks this and nothing less.
pub fn asked(
    (id, body): (EventId, &Body),
    (yard, books): (&Yard, &Books),
    at: Timestamp,
    now: Timestamp,
) -> Vec<EntryProblem> {
    // Sent again, it is the same entry: nothing is asked of it twice.
    if books.flows.iter().rev().any(|old| old.event == id) {
        return Vec::new();
    }
    let amounts = doubts(body, yard, books);
    let trimming = trimming::trimming(body, (yard, books), at);
    amounts.into_iter().chain(trimming).chain(time_doubts((id, body), (yard, books), at, now)).collect()
}

/// What must be confirmed because of its amounts, whenever it happened.
pub fn doubts(body: &Body, yard: &Yard, books: &Books) -> Vec<EntryProblem> {
    let look = Look { yard, books };
    let amounts = match body {
        Body::MakingRun(b) => {
            let mix = look.mix("tank", &b.tank, &[Liquid::Brine], look.name(&Liquid::Brine));
            let rest = look.room(&b.tank, b.volume_m3).into_iter().chain(mix);
            rest.chain(look.out_of_proportion(b)).collect()
        }
        Body::LiquidDelivery(b) => {
            look.room(&b.tank, b.volume_m3).into_iter().chain(look.delivery_mix(b)).collect()
        }
        Body::LoadOut(b) => {
            let rest = [
                look.truck(&b.truck, b.volume_m3).or_else(|| look.with_aboard(b)),
                look.other_product(b),
                look.weight(b),
                look.held(&b.tank, b.volume_m3),
                look.standing(&b.tank, b.override_reason.as_ref()),
                look.scale_and_meter(b),
            ];
            rest.into_iter().flatten().collect()
        }

        Body::Transfer(b) => look
            .room(&b.to_tank, b.volume_m3)
            .into_iter()
            .chain(look.held(&b.from_tank, b.volume_m3))
            .chain(look.transfer_mix(b))
            .collect(),
        Body::ReturnToTank(b) => look
            .load(b)
            .into_iter()
            .chain(look.room(&b.tank, b.volume_m3))
            .chain(look.return_mix(b))
            .collect(),
        Body::IssueOut(b) => {
            let standing = look.standing(&b.tank, b.override_reason.as_ref());
            look.held(&b.tank, b.volume_m3).into_iter().chain(standing).chain(look.priceless(b)).collect()
        }
        Body::Application(b) => look.treatment(b),
        Body::Loss(b) => look.held(&b.tank, b.volume_m3).into_iter().collect(),
        Body::CleanOut(b) => look.held(&b.tank, b.volume_m3).into_iter().collect(),
        Body::Correction(b) => {
            let rest =
                look.room(&b.tank, b.water_m3.unwrap_or(0.0)).into_iter().chain(look.correction_mix(b));
            rest.chain(look.beyond_saturation(b)).collect()
        }
        Body::Settlement(b) => {
            let over = b.tank.as_ref().and_then(|tank| look.capacity(tank, b.volume_m3?));
            [over, look.strengthless(b), look.unmixed(b)].into_iter().flatten().collect()
        }
        Body::SaltDelivery(b) => figures::truckload(kilograms(b.mass_kg)).into_iter().collect(),
        Body::PileSurvey(b) => look.survey(b).into_iter().collect(),
        Body::Dip(b) => look.dip(b).into_iter().collect(),
        _ => Vec::new(),
    };
    amounts.into_iter().chain(look.temperature(body)).collect()
}

struct Look<'a> {
    yard: &'a Yard,
    books: &'a Books,
}

impl<'a> Look<'a> {
    fn site(&self, tank: &str) -> Option<(&'a Tank, &'a Product)> {
        let site = self.yard.tank(tank)?;
        Some((site, self.yard.product(&site.product)?))
    }

    /// What is thought to be in a tank, the least and the most of it while a dip is in doubt.
    fn there(&self, tank: &str) -> Option<[Volume; 2]> {
        let standing = self.books.standing(self.yard, tank)?;
        Some([standing.least, standing.most])
    }

    fn room(&self, tank: &str, given: f64) -> Option<EntryProblem> {
        let room = self.site(tank)?.0.working_capacity() - self.there(tank)?[0];
        over(given, room, "the room left in the tank")
    }

    fn held(&self, tank: &str, given: f64) -> Option<EntryProblem> {
        over(given, self.there(tank)?[1], "what is thought to be in the tank")
    }

    fn capacity(&self, tank: &str, given: f64) -> Option<EntryProblem> {
        over(given, self.site(tank)?.0.working_capacity(), "what the tank should hold")
    }

    fn truck(&self, truck: &str, given: f64) -> Option<EntryProblem> {
        let truck = self.yard.trucks.iter().find(|known| known.id == truck)?;
        over(given, truck.tank, "the truck's tank")
    }

    /// A return of more than the truck took and has left, or of another product, as far as the ledger knows a load.
    fn load(&self, back: &yard::event::ReturnToTank) -> Option<EntryProblem> {
        let truck = self.truck(&back.truck, back.volume_m3).or_else(|| self.load_named(back));
        let Some(load) = self.books.trucks.get(&back.truck) else {
            return truck.or_else(|| {
                Some(EntryProblem {
                    field: "truck".into(),
                    value: back.truck.clone(),
                    problem: "has no load in the ledger to bring back".into(),
                    accepted: "enter its load first; or confirm it: it counts as what the tank holds".into(),
                })
            });
        };
        if back.volume_m3 <= 0.0 {
            return truck;
        }
        let product = self.site(&back.tank)?.1;
        let is_other = self.books.carries_other(self.yard, &back.truck, &product.id);
        let other = is_other.then(|| EntryProblem {
            field: "tank".into(),
            value: back.tank.clone(),
            problem: format!("holds {}, and truck {} took {}", product.id, back.truck, load.product),
            accepted: "a tank of what the truck carries".into(),
        });
        // A hundredth for the difference of two strengths; of a residue of another product nothing comes back.
        let is_own = load.product == product.id;
        let took = if is_own { load.volume(self.yard) * 1.01 } else { cubic_metres(0.0) };
        other.or(truck).or_else(|| over(back.volume_m3, took, "what the truck took and has left"))
    }

    /// A brine tank settled without a strength, whose book has none: it would count as water.
    fn strengthless(&self, agreed: &yard::event::Settlement) -> Option<EntryProblem> {
        let tank = agreed.tank.as_ref()?;
        let book = self.books.tank(tank)?;
        let is_brine = matches!(self.site(tank)?.1.kind, ProductKind::SodiumChlorideBrine);
        let known = agreed.strength_pct.is_some() || book.strength().or(book.last_strength).is_some();
        (is_brine && !known).then(|| EntryProblem {
            field: "strength_pct".into(),
            value: "(none)".into(),
            problem: "the book of this tank has no strength: it would count as water".into(),
            accepted: "the strength found, per cent by mass".into(),
        })
    }

    /// What a liquid is called.
    fn name(&self, liquid: &Liquid) -> String {
        let id = match liquid {
            Liquid::Brine => &self.yard.plant.product,
            Liquid::Declared(id) => id,
        };
        self.yard.product(id).map_or_else(|| id.clone(), |product| product.name.clone())
    }

    fn names(&self, liquids: &[Liquid]) -> String {
        liquids.iter().map(|liquid| self.name(liquid)).collect::<Vec<_>>().join(" and ")
    }

    /// What stands in a tank by the book; in an empty one, what belongs there: its heel is seldom clean.
    fn liquids(&self, tank: &str) -> Option<Vec<Liquid>> {
        let parts = self.books.tank(tank)?.content.parts();
        let own = Liquid::of(self.site(tank)?.1);
        Some(if parts.is_empty() { vec![own] } else { liquids_of(parts) })
    }

    /// A declared liquid that comes together with anything else.
    fn mix(&self, field: &str, tank: &str, comes: &[Liquid], called: String) -> Option<EntryProblem> {
        let held = self.liquids(tank)?;
        let all: Vec<&Liquid> = held.iter().chain(comes).collect();
        let declared = all.iter().find(|liquid| matches!(liquid, Liquid::Declared(_)))?;
        let mixes = all.iter().any(|liquid| liquid != declared);
        mixes.then(|| EntryProblem {
            field: field.into(),
            value: tank.into(),
            problem: format!(
                "mixes {called} with {}: how strong the mix is and where it freezes cannot be predicted, since {} \
                 is known by its supplier's sheet only",
                self.names(&held),
                self.name(declared)
            ),
            accepted: "confirm it if it happened, and record a jar test of the two (jar_test)".into(),
        })
    }

    fn delivery_mix(&self, delivery: &yard::event::LiquidDelivery) -> Option<EntryProblem> {
        let product = match &delivery.product {
            Some(id) => self.yard.product(id)?,
            None => self.site(&delivery.tank)?.1,
        };
        self.mix("tank", &delivery.tank, &[Liquid::of(product)], product.name.clone())
    }

    fn transfer_mix(&self, transfer: &yard::event::Transfer) -> Option<EntryProblem> {
        let comes = self.liquids(&transfer.from_tank)?;
        self.mix("to_tank", &transfer.to_tank, &comes, self.names(&comes))
    }

    fn correction_mix(&self, correction: &yard::event::Correction) -> Option<EntryProblem> {
        let is_given = |amount: Option<f64>| amount.unwrap_or(0.0) > 0.0;
        let what = [(is_given(correction.water_m3), "water"), (is_given(correction.salt_kg), "rock salt")];
        let called: Vec<&str> = what.iter().filter(|(given, _)| *given).map(|(_, name)| *name).collect();
        self.mix("tank", &correction.tank, &[Liquid::Brine], called.join(" and "))
    }

    /// A return of a mix, or into one. A truck that carries another product is doubted by [`Look::load`].
    fn return_mix(&self, back: &yard::event::ReturnToTank) -> Option<EntryProblem> {
        if back.volume_m3 <= 0.0 {
            return None;
        }
        let product = self.site(&back.tank)?.1;
        let load = self.books.trucks.get(&back.truck).filter(|load| load.product == product.id)?;
        let comes = liquids_of(load.content.parts());
        if comes.is_empty() {
            return None;
        }
        self.mix("tank", &back.tank, &comes, self.names(&comes))
    }

    /// A settlement of a tank that holds a mix: it ends the mix on the book.
    fn unmixed(&self, agreed: &yard::event::Settlement) -> Option<EntryProblem> {
        let tank = agreed.tank.as_ref()?;
        let product = self.site(tank)?.1;
        let held = liquids_of(self.books.tank(tank)?.unlike(product));
        (!held.is_empty()).then(|| EntryProblem {
            field: "tank".into(),
            value: tank.clone(),
            problem: format!("holds {}, and would count as {} alone", self.names(&held), product.name),
            accepted: "confirm it if the tank holds that alone now".into(),
        })
    }

    /// A truck that still carries another product.
    fn other_product(&self, load: &yard::event::LoadOut) -> Option<EntryProblem> {
        let product = &self.site(&load.tank)?.1.id;
        let held = self.books.trucks.get(&load.truck)?;
        self.books.carries_other(self.yard, &load.truck, product).then(|| EntryProblem {
            field: "truck".into(),
            value: load.truck.clone(),
            problem: format!(
                "still carries {} by the ledger, and tank {} holds {product}",
                held.product, load.tank
            ),
            accepted: "record its return first; or confirm it if it was emptied".into(),
        })
    }

    /// More than the truck or its axles may carry.
    fn weight(&self, load: &yard::event::LoadOut) -> Option<EntryProblem> {
        let found = crate::ticket::load_weight(self.yard, self.books, load)?;
        let whole = |mass: Mass| format!("{:.0} lb", in_pounds(mass));
        let over = |what: String| {
            Some(EntryProblem {
                field: "volume".into(),
                value: volume_text(load.volume_m3),
                problem: what,
                accepted: "less, or confirm it if it was loaded so".into(),
            })
        };
        // Only this load is sure: what is left of an earlier one may have been sprayed without an entry.
        if let Some(limit) = found.liquid_limit.filter(|limit| found.liquid.mass > *limit * 1.001) {
            let (mass, limit) = (whole(found.liquid.mass), whole(limit));
            return over(format!("weighs {mass}, and the truck may carry {limit}"));
        }
        let group = found.over().first().copied()?;
        let (first, last) = (group.axles.0 + 1, group.axles.1 + 1);
        let axles = if first == last { format!("axle {first}") } else { format!("axles {first} to {last}") };
        let (mass, limit) = (whole(group.load), whole(group.limit));
        over(format!("puts {mass} on {axles}, and {limit} are allowed"))
    }

    /// A tank that is not known to be in spec is loaded from with a reason only.
    fn standing(&self, tank: &str, reason: Option<&String>) -> Option<EntryProblem> {
        use crate::ticket::Standing;
        let standing = crate::ticket::standing(self.yard, self.books, tank)?;
        if standing.may_load() || reason.is_some() {
            return None;
        }
        let problem = match standing {
            Standing::OutOfSpec { reading, .. } => {
                format!("was measured out of spec: {:.1} %", reading.strength.percent())
            }
            Standing::NotMeasured => "was not measured since it was filled".into(),
            Standing::Mixed => "holds a mix, whose strength nobody knows".into(),
            // Said by the volume.
            Standing::Empty | Standing::InSpec { .. } | Standing::Bought => return None,
        };
        Some(EntryProblem {
            field: "override_reason".into(),
            value: tank.into(),
            problem,
            accepted: "log a reading first; or give the reason it was loaded all the same".into(),
        })
    }

    /// A scale and a meter that do not speak of the same load.
    fn scale_and_meter(&self, load: &yard::event::LoadOut) -> Option<EntryProblem> {
        let weighed = load.weighed_kg?;
        let drawn = crate::ticket::drawn(self.yard, self.books, &load.tank, load.volume_m3, load.temp_c)?;
        let ratio = weighed / in_kilograms(drawn.mass);
        (!(0.8..=1.25).contains(&ratio)).then(|| EntryProblem {
            field: "weighed".into(),
            value: format!("{:.0} lb", in_pounds(kilograms(weighed))),
            problem: format!("is {:.0} % of what {} weighs", 100.0 * ratio, volume_text(load.volume_m3)),
            accepted: "the liquid alone: the truck loaded less the truck empty; or confirm it".into(),
        })
    }

    /// A return that names a load of another truck, or none that the books remember.
    fn load_named(&self, back: &yard::event::ReturnToTank) -> Option<EntryProblem> {
        let id = back.load.as_ref()?;
        let named = self.books.tickets.iter().find(|ticket| ticket.recorded.event.id.to_string() == *id);
        let problem = match named.map(|ticket| &ticket.recorded.event.body) {
            Some(Body::LoadOut(load)) if load.truck == back.truck => return None,
            Some(Body::LoadOut(load)) => format!("is a load of truck {}, not of {}", load.truck, back.truck),
            _ => "is none of the last loads in the ledger".into(),
        };
        Some(EntryProblem {
            field: "load".into(),
            value: id.clone(),
            problem,
            accepted: "the id of the load that came back, or none; or confirm it".into(),
        })
    }

    /// An agency that no price was agreed with.
    fn priceless(&self, issue: &yard::event::IssueOut) -> Option<EntryProblem> {
        let has_price = self.yard.agency(&issue.agency).is_some_and(|agency| agency.usd_per_m3 > 0.0);
        (issue.price_usd.is_none() && !has_price).then(|| EntryProblem {
            field: "agency".into(),
            value: issue.agency.clone(),
            problem: "has no price in the yard file: its bill would be nothing".into(),
            accepted: "its name as in the yard file, a price, or confirm it".into(),
        })
    }

    /// A treatment of more than a road gets, a truck holds or the pile has; or of another kind than its amounts.
    fn treatment(&self, done: &yard::event::Application) -> Vec<EntryProblem> {
        let mut found = Vec::new();
        let mut doubt = |field: &str, value: String, problem: String| {
            let accepted = "confirm it if it is right".into();
            found.push(EntryProblem { field: field.into(), value, problem, accepted });
        };
        let (volume, salt) = (done.volume_m3.unwrap_or(0.0), done.salt_kg.unwrap_or(0.0));
        let lane = done
            .lane_m
            .or_else(|| self.yard.route(&done.route).map(|route| quantity::in_metres(route.lane_length)));
        if let Some(lane) = lane.filter(|lane| *lane > 0.0) {
            if volume / lane > units::GALLON_PER_LANE_MILE.to_base(MOST_GAL_PER_LANE_MILE) {
                doubt("volume", volume_text(volume), "is far more than a road gets on that length".into());
            }
            if salt / lane > units::POUND_PER_LANE_MILE.to_base(MOST_LB_PER_LANE_MILE) {
                let text = format!("{:.0} lb", in_pounds(kilograms(salt)));
                doubt("salt", text, "is far more than a road gets on that length".into());
            }
        }
        // A pile that nobody books is flagged in the report, once.
        let is_booked = in_kilograms(self.books.rock_salt) > 0.0;
        if is_booked && kilograms(salt) > self.books.rock_salt {
            let held = in_pounds(self.books.rock_salt).max(0.0);
            let text = format!("{:.0} lb", in_pounds(kilograms(salt)));
            doubt("salt", text, format!("is more than the book says is on the pile, {held:.0} lb"));
        }
        let is_liquid = done.treated == Some(Treated::Liquid);
        if is_liquid && volume <= 0.0 {
            doubt("treated", "liquid".into(), "but no liquid was put down".into());
        }
        let truck = done.truck.as_ref().and_then(|truck| self.truck(truck, volume));
        found.extend(truck.or_else(|| self.sprayed(done)));
        found
    }

    fn dip(&self, dip: &yard::event::Dip) -> Option<EntryProblem> {
        let dipped = self.yard.tank(&dip.tank)?.shape.volume_at(metres(dip.depth_m)).ok()?;
        let held = self.books.standing(self.yard, &dip.tank)?.volume.value;
        let (dipped, held) = (in_cubic_metres(dipped), in_cubic_metres(held));
        let hint = mix_up(dipped, held);
        (!hint.is_empty()).then(|| EntryProblem {
            field: "depth".into(),
            value: volume_text(dipped),
            problem: format!("{} is thought to be in it{hint}", volume_text(held)),
            accepted: "confirm it if it is right".into(),
        })
    }
}

fn liquids_of(parts: Vec<Part>) -> Vec<Liquid> {
    parts.into_iter().map(|part| part.liquid).collect()
}

fn over(given: f64, limit: Volume, limit_name: &str) -> Option<EntryProblem> {
    let limit = in_cubic_metres(limit);
    (given > limit.max(0.0) * 1.001 + 1e-9).then(|| EntryProblem {
        field: "volume".into(),
        value: volume_text(given),
        problem: format!("more than {limit_name}, {}{}", volume_text(limit), mix_up(given, limit)),
        accepted: "confirm it if it is right".into(),
    })
}
