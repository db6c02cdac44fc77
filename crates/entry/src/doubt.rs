//! What is possible but unlikely: more than a tank, a truck or a load can be, or litres taken for gallons. And what is
//! likely but must be known: that a mix with a declared liquid cannot be predicted.

use jiff::Timestamp;
use message::{Arg, Message, message};
use quantity::{Volume, cubic_metres, in_kilograms, kilograms, metres, units};

/// Field name of a doubt about an entry as a whole, such as one made twice.
pub(super) const WHOLE_ENTRY: &str = "entry";

mod figures;
mod timing;
mod trimming;

pub use timing::time_doubts;

use super::{EntryProblem, mix_up, none, with_mix_up};
use event::{Body, EventId, Treated};
use site::{Product, ProductKind, Tank, Yard};
use yard::stock::{Books, Liquid, Part};

/// More on a lane than any treatment: 200 gal and 1,500 lb a lane-mile. Our own thresholds.
const MOST_GAL_PER_LANE_MILE: f64 = 200.0;
const MOST_LB_PER_LANE_MILE: f64 = 1500.0;

/// Everything that must be confirmed before an entry is recorded: its amounts, and when it is said to have happened.
/// Forms, commands and imports all ask this.
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
            let mix = look.mix("tank", &b.tank, &[Liquid::Brine], look.names(&[Liquid::Brine]));
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
        Body::Reading(b) => figures::meant_otherwise(b, (yard, books)).into_iter().collect(),
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
        over(given, room, message!("entry.over-room", limit = shown(room)))
    }

    fn held(&self, tank: &str, given: f64) -> Option<EntryProblem> {
        let held = self.there(tank)?[1];
        over(given, held, message!("entry.over-held", limit = shown(held)))
    }

    fn capacity(&self, tank: &str, given: f64) -> Option<EntryProblem> {
        let capacity = self.site(tank)?.0.working_capacity();
        over(given, capacity, message!("entry.over-capacity", limit = shown(capacity)))
    }

    fn truck(&self, truck: &str, given: f64) -> Option<EntryProblem> {
        let truck = self.yard.trucks.iter().find(|known| known.id == truck)?;
        over(given, truck.tank, message!("entry.over-truck-tank", limit = truck.tank))
    }

    /// A return of more than the truck took and has left, or of another product, as far as the ledger knows a load.
    fn load(&self, back: &event::ReturnToTank) -> Option<EntryProblem> {
        let truck = self.truck(&back.truck, back.volume_m3).or_else(|| self.load_named(back));
        let Some(load) = self.books.trucks.get(&back.truck) else {
            return truck.or_else(|| {
                let (problem, accepted) = (message!("entry.no-load"), message!("entry.accept-load-first"));
                Some(EntryProblem::new("truck", &back.truck, problem, accepted))
            });
        };
        if back.volume_m3 <= 0.0 {
            return truck;
        }
        let product = self.site(&back.tank)?.1;
        let is_other = self.books.carries_other(self.yard, &back.truck, &product.id);
        let other = is_other.then(|| {
            let (holds, took) = (&product.id, &load.product);
            let problem = message!("entry.truck-took-other", holds = holds, truck = &back.truck, took = took);
            EntryProblem::new("tank", &back.tank, problem, message!("entry.accept-tank-of-truck"))
        });
        // A hundredth for the difference of two strengths; of a residue of another product nothing comes back.
        let is_own = load.product == product.id;
        let took = if is_own { load.volume(self.yard) * 1.01 } else { cubic_metres(0.0) };
        other
            .or(truck)
            .or_else(|| over(back.volume_m3, took, message!("entry.over-taken", limit = shown(took))))
    }

    /// A brine tank settled without a strength, whose book has none: it would count as water.
    fn strengthless(&self, agreed: &event::Settlement) -> Option<EntryProblem> {
        let tank = agreed.tank.as_ref()?;
        let book = self.books.tank(tank)?;
        let is_brine = matches!(self.site(tank)?.1.kind, ProductKind::SodiumChlorideBrine);
        let known = agreed.strength_pct.is_some() || book.strength().or(book.last_strength).is_some();
        (is_brine && !known).then(|| {
            let accepted = message!("entry.accept-strength-found");
            EntryProblem::new("strength_pct", none(), message!("entry.book-without-strength"), accepted)
        })
    }

    /// Name of a liquid, as a reader sees it.
    fn name(&self, liquid: &Liquid) -> String {
        let id = match liquid {
            Liquid::Brine => &self.yard.plant.product,
            Liquid::Declared(id) => id,
        };
        self.yard.product(id).map_or_else(|| id.clone(), |product| product.name.clone())
    }

    fn names(&self, liquids: &[Liquid]) -> Vec<Arg> {
        liquids.iter().map(|liquid| self.name(liquid).into()).collect()
    }

    /// What stands in a tank by the book; in an empty one, what belongs there: its heel is seldom clean.
    fn liquids(&self, tank: &str) -> Option<Vec<Liquid>> {
        let parts = self.books.tank(tank)?.content.parts();
        let own = Liquid::of(self.site(tank)?.1);
        Some(if parts.is_empty() { vec![own] } else { liquids_of(parts) })
    }

    /// A declared liquid that comes together with anything else.
    fn mix(&self, field: &str, tank: &str, comes: &[Liquid], called: Vec<Arg>) -> Option<EntryProblem> {
        let held = self.liquids(tank)?;
        let all: Vec<&Liquid> = held.iter().chain(comes).collect();
        let declared = all.iter().find(|liquid| matches!(liquid, Liquid::Declared(_)))?;
        let mixes = all.iter().any(|liquid| liquid != declared);
        mixes.then(|| {
            let (with, bought) = (self.names(&held), self.name(declared));
            let problem = message!("entry.mixes", comes = called, with = with, bought = bought);
            EntryProblem::new(field, tank, problem, message!("entry.accept-mix", kind = "jar_test"))
        })
    }

    fn delivery_mix(&self, delivery: &event::LiquidDelivery) -> Option<EntryProblem> {
        let product = match &delivery.product {
            Some(id) => self.yard.product(id)?,
            None => self.site(&delivery.tank)?.1,
        };
        self.mix("tank", &delivery.tank, &[Liquid::of(product)], vec![(&product.name).into()])
    }

    fn transfer_mix(&self, transfer: &event::Transfer) -> Option<EntryProblem> {
        let comes = self.liquids(&transfer.from_tank)?;
        self.mix("to_tank", &transfer.to_tank, &comes, self.names(&comes))
    }

    fn correction_mix(&self, correction: &event::Correction) -> Option<EntryProblem> {
        let is_given = |amount: Option<f64>| amount.unwrap_or(0.0) > 0.0;
        let water = is_given(correction.water_m3).then(|| message!("entry.water").into());
        let salt = is_given(correction.salt_kg).then(|| message!("entry.rock-salt").into());
        let called = water.into_iter().chain(salt).collect();
        self.mix("tank", &correction.tank, &[Liquid::Brine], called)
    }

    /// A return of a mix, or into one. A truck that carries another product is doubted by [`Look::load`].
    fn return_mix(&self, back: &event::ReturnToTank) -> Option<EntryProblem> {
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
    fn unmixed(&self, agreed: &event::Settlement) -> Option<EntryProblem> {
        let tank = agreed.tank.as_ref()?;
        let product = self.site(tank)?.1;
        let held = liquids_of(self.books.tank(tank)?.unlike(product));
        (!held.is_empty()).then(|| {
            let problem = message!("entry.ends-mix", holds = self.names(&held), product = &product.name);
            EntryProblem::new("tank", tank, problem, message!("entry.accept-unmixed"))
        })
    }

    /// A truck that still carries another product.
    fn other_product(&self, load: &event::LoadOut) -> Option<EntryProblem> {
        let product = &self.site(&load.tank)?.1.id;
        let held = self.books.trucks.get(&load.truck)?;
        self.books.carries_other(self.yard, &load.truck, product).then(|| {
            let (carries, tank) = (&held.product, &load.tank);
            let problem = message!("entry.still-carries", carries = carries, tank = tank, holds = product);
            EntryProblem::new("truck", &load.truck, problem, message!("entry.accept-return-first"))
        })
    }

    /// More than the truck or its axles may carry.
    fn weight(&self, load: &event::LoadOut) -> Option<EntryProblem> {
        let found = crate::ticket::load_weight(self.yard, self.books, load)?;
        let over = |problem: Message| {
            let accepted = message!("entry.accept-less-load");
            Some(EntryProblem::new("volume", cubic_metres(load.volume_m3), problem, accepted))
        };
        // Only this load is sure: what is left of an earlier one may have been sprayed without an entry.
        if let Some(limit) = found.liquid_limit.filter(|limit| found.liquid.mass > *limit * 1.001) {
            return over(message!("entry.over-liquid-limit", mass = found.liquid.mass, limit = limit));
        }
        let group = found.over().first().copied()?;
        let (first, last) = (group.axles.0 + 1, group.axles.1 + 1);
        let axles = if first == last {
            message!("entry.axle", axle = first)
        } else {
            message!("entry.axles", first = first, last = last)
        };
        over(message!("entry.over-axles", mass = group.load, axles = axles, limit = group.limit))
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
                message!("entry.out-of-spec", percent = (reading.strength.percent(), 1))
            }
            Standing::NotMeasured => message!("entry.not-measured"),
            Standing::Mixed => message!("entry.holds-mix"),
            // Said by the volume.
            Standing::Empty | Standing::InSpec { .. } | Standing::Bought => return None,
        };
        Some(EntryProblem::new("override_reason", tank, problem, message!("entry.accept-reading-first")))
    }

    /// A scale and a meter that do not speak of the same load.
    fn scale_and_meter(&self, load: &event::LoadOut) -> Option<EntryProblem> {
        let weighed = load.weighed_kg?;
        let drawn = crate::ticket::drawn(self.yard, self.books, &load.tank, load.volume_m3, load.temp_c)?;
        let ratio = weighed / in_kilograms(drawn.mass);
        (!(0.8..=1.25).contains(&ratio)).then(|| {
            let (percent, volume) = ((100.0 * ratio, 0), cubic_metres(load.volume_m3));
            let problem = message!("entry.scale-off", percent = percent, volume = volume);
            EntryProblem::new("weighed", kilograms(weighed), problem, message!("entry.accept-net-weight"))
        })
    }

    /// A return that names a load of another truck, or none that the books remember.
    fn load_named(&self, back: &event::ReturnToTank) -> Option<EntryProblem> {
        let id = back.load.as_ref()?;
        let named = self.books.tickets.iter().find(|ticket| ticket.recorded.event.id.to_string() == *id);
        let problem = match named.map(|ticket| &ticket.recorded.event.body) {
            Some(Body::LoadOut(load)) if load.truck == back.truck => return None,
            Some(Body::LoadOut(load)) => {
                message!("entry.load-of-other-truck", other = &load.truck, truck = &back.truck)
            }
            _ => message!("entry.no-recent-load"),
        };
        Some(EntryProblem::new("load", id, problem, message!("entry.accept-load-id")))
    }

    /// An agency that no price was agreed with.
    fn priceless(&self, issue: &event::IssueOut) -> Option<EntryProblem> {
        let has_price = self.yard.agency(&issue.agency).is_some_and(|agency| agency.usd_per_m3 > 0.0);
        (issue.price_usd.is_none() && !has_price).then(|| {
            let accepted = message!("entry.accept-price");
            EntryProblem::new("agency", &issue.agency, message!("entry.no-price"), accepted)
        })
    }

    /// A treatment of more than a road gets, a truck holds or the pile has; or of another kind than its amounts.
    fn treatment(&self, done: &event::Application) -> Vec<EntryProblem> {
        let mut found = Vec::new();
        let mut doubt = |field: &str, value: Arg, problem: Message| {
            found.push(EntryProblem::new(field, value, problem, message!("entry.accept-if-right")));
        };
        let (volume, salt) = (done.volume_m3.unwrap_or(0.0), done.salt_kg.unwrap_or(0.0));
        let lane = done
            .lane_m
            .or_else(|| self.yard.route(&done.route).map(|route| quantity::in_metres(route.lane_length)));
        if let Some(lane) = lane.filter(|lane| *lane > 0.0) {
            if volume / lane > units::GALLON_PER_LANE_MILE.to_base(MOST_GAL_PER_LANE_MILE) {
                doubt("volume", cubic_metres(volume).into(), message!("entry.beyond-any-rate"));
            }
            if salt / lane > units::POUND_PER_LANE_MILE.to_base(MOST_LB_PER_LANE_MILE) {
                doubt("salt", kilograms(salt).into(), message!("entry.beyond-any-rate"));
            }
        }
        // A pile that is never booked is flagged in the report, once.
        let is_booked = in_kilograms(self.books.rock_salt) > 0.0;
        if is_booked && kilograms(salt) > self.books.rock_salt {
            doubt("salt", kilograms(salt).into(), message!("entry.over-pile", limit = self.books.rock_salt));
        }
        let is_liquid = done.treated == Some(Treated::Liquid);
        if is_liquid && volume <= 0.0 {
            doubt("treated", Treated::Liquid.word().into(), message!("entry.no-liquid"));
        }
        let truck = done.truck.as_ref().and_then(|truck| self.truck(truck, volume));
        found.extend(truck.or_else(|| self.sprayed(done)));
        found
    }

    fn dip(&self, dip: &event::Dip) -> Option<EntryProblem> {
        let dipped = self.yard.tank(&dip.tank)?.shape.volume_at(metres(dip.depth_m)).ok()?;
        let held = self.books.standing(self.yard, &dip.tank)?.volume.value;
        // Only a dip that lies as far off as one unit taken for another is asked about.
        mix_up(dipped, held)?;
        let problem = message!("entry.dip-thought-to-hold", volume = held);
        Some(EntryProblem::new("depth", dipped, problem, message!("entry.accept-dip")))
    }
}

fn liquids_of(parts: Vec<Part>) -> Vec<Liquid> {
    parts.into_iter().map(|part| part.liquid).collect()
}

/// A limit as it is shown: never below zero, so that a tank that is over-full already has no room.
fn shown(limit: Volume) -> Volume {
    if limit < cubic_metres(0.0) { cubic_metres(0.0) } else { limit }
}

/// A volume over its limit, with the problem that names the limit.
fn over(given_m3: f64, limit: Volume, problem: Message) -> Option<EntryProblem> {
    let given = cubic_metres(given_m3);
    (given > shown(limit) * 1.001 + cubic_metres(1e-9)).then(|| {
        let problem = with_mix_up(problem, given, limit);
        EntryProblem::new("volume", given, problem, message!("entry.accept-if-right"))
    })
}
