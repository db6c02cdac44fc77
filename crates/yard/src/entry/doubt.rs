//! What is possible but unlikely: more than a tank, a truck or a load can be, or litres taken for gallons.

use chemistry::quantity::{
    Mass, Volume, in_cubic_metres, in_kilograms, in_pounds, in_short_tons, kilograms, metres,
};

use super::{EntryProblem, mix_up, volume_text};
use crate::event::Body;
use crate::site::{Product, ProductKind, Tank, Yard};
use crate::stock::Books;

/// More rock salt than one delivery brings, short tons: a shipload. Our own threshold.
const MOST_TONS_DELIVERED: f64 = 5000.0;

/// What must be confirmed before it is recorded.
pub fn doubts(body: &Body, yard: &Yard, books: &Books) -> Vec<EntryProblem> {
    let look = Look { yard, books };
    match body {
        Body::MakingRun(b) => look.room(&b.tank, b.volume_m3).into_iter().collect(),
        Body::LiquidDelivery(b) => look.room(&b.tank, b.volume_m3).into_iter().collect(),
        Body::LoadOut(b) => {
            [look.truck(&b.truck, b.volume_m3), look.weight(b), look.held(&b.tank, b.volume_m3)]
                .into_iter()
                .flatten()
                .collect()
        }

        Body::Transfer(b) => look
            .room(&b.to_tank, b.volume_m3)
            .into_iter()
            .chain(look.held(&b.from_tank, b.volume_m3))
            .collect(),
        Body::ReturnToTank(b) => look.load(b).into_iter().chain(look.room(&b.tank, b.volume_m3)).collect(),
        Body::IssueOut(b) => look.held(&b.tank, b.volume_m3).into_iter().collect(),
        Body::Loss(b) => look.held(&b.tank, b.volume_m3).into_iter().collect(),
        Body::CleanOut(b) => look.held(&b.tank, b.volume_m3).into_iter().collect(),
        Body::Correction(b) => look.room(&b.tank, b.water_m3.unwrap_or(0.0)).into_iter().collect(),
        Body::Settlement(b) => {
            let over = b.tank.as_ref().and_then(|tank| look.capacity(tank, b.volume_m3?));
            [over, look.strengthless(b)].into_iter().flatten().collect()
        }
        Body::SaltDelivery(b) => shipload(kilograms(b.mass_kg)).into_iter().collect(),
        Body::Dip(b) => look.dip(b).into_iter().collect(),
        _ => Vec::new(),
    }
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

    fn book(&self, tank: &str) -> Option<Volume> {
        Some(self.books.tank(tank)?.volume(self.site(tank)?.1))
    }

    fn room(&self, tank: &str, given: f64) -> Option<EntryProblem> {
        let room = self.site(tank)?.0.working_capacity() - self.book(tank)?;
        over(given, room, "the room left in the tank")
    }

    fn held(&self, tank: &str, given: f64) -> Option<EntryProblem> {
        over(given, self.book(tank)?, "what the book says is in the tank")
    }

    fn capacity(&self, tank: &str, given: f64) -> Option<EntryProblem> {
        over(given, self.site(tank)?.0.working_capacity(), "what the tank should hold")
    }

    fn truck(&self, truck: &str, given: f64) -> Option<EntryProblem> {
        let truck = self.yard.trucks.iter().find(|known| known.id == truck)?;
        over(given, truck.tank, "the truck's tank")
    }

    /// A return of more than the truck took and has left, or of another product, as far as the ledger knows a load.
    fn load(&self, back: &crate::event::ReturnToTank) -> Option<EntryProblem> {
        let truck = self.truck(&back.truck, back.volume_m3);
        let load = self.books.trucks.get(&back.truck)?;
        let product = self.site(&back.tank)?.1;
        let is_loaded = in_kilograms(load.mass) > 1.0;
        let other = (is_loaded && load.product != product.id).then(|| EntryProblem {
            field: "tank".into(),
            value: back.tank.clone(),
            problem: format!("holds {}, and truck {} took {}", product.id, back.truck, load.product),
            accepted: "a tank of what the truck carries".into(),
        });
        // A hundredth for the difference of two strengths.
        let took = load.volume(self.yard) * 1.01;
        other.or(truck).or_else(|| over(back.volume_m3, took, "what the truck took and has left"))
    }

    /// A brine tank settled without a strength, whose book has none: it would count as water.
    fn strengthless(&self, agreed: &crate::event::Settlement) -> Option<EntryProblem> {
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

    /// More than the truck's own limit of mass.
    fn weight(&self, load: &crate::event::LoadOut) -> Option<EntryProblem> {
        let truck = self.yard.trucks.iter().find(|known| known.id == load.truck)?;
        let limit = truck.liquid_limit?;
        let book = self.books.tank(&load.tank)?;
        let volume = in_cubic_metres(book.volume(self.site(&load.tank)?.1));
        let per_m3 = in_kilograms(book.mass) / volume;
        let mass = kilograms(per_m3 * load.volume_m3);
        (volume > 0.0 && mass > limit * 1.001).then(|| EntryProblem {
            field: "volume".into(),
            value: volume_text(load.volume_m3),
            problem: format!(
                "weighs {:.0} lb, and the truck may carry {:.0} lb",
                in_pounds(mass),
                in_pounds(limit)
            ),
            accepted: "less, or confirm it if the limit is wrong".into(),
        })
    }

    fn dip(&self, dip: &crate::event::Dip) -> Option<EntryProblem> {
        let dipped = self.yard.tank(&dip.tank)?.shape.volume_at(metres(dip.depth_m)).ok()?;
        let (dipped, held) = (in_cubic_metres(dipped), in_cubic_metres(self.book(&dip.tank)?));
        let hint = mix_up(dipped, held);
        (!hint.is_empty()).then(|| EntryProblem {
            field: "depth".into(),
            value: volume_text(dipped),
            problem: format!("the book says {}{hint}", volume_text(held)),
            accepted: "confirm it if it is right".into(),
        })
    }
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

fn shipload(mass: Mass) -> Option<EntryProblem> {
    (in_short_tons(mass) > MOST_TONS_DELIVERED).then(|| EntryProblem {
        field: "mass".into(),
        value: format!("{:.0} tons", in_short_tons(mass)),
        problem: format!("more than {MOST_TONS_DELIVERED:.0} tons in one delivery"),
        accepted: "confirm it if it is right".into(),
    })
}
