//! Moves of liquid and salt between plant, tanks, trucks, roads and the pile, one method an event.

use chemistry::MassFraction;
use jiff::Timestamp;
use quantity::{Mass, Volume, cubic_metres, in_kilograms, kilograms};

use super::books::Books;
use super::content::{Content, ROUNDING_KG, put_in};
use super::flow::{End, SaltEnd};
use super::load::{Load, Rest};
use super::problem::{BookProblem, NotCounted};
use super::tank_book::{Lot, TankBook};
use event::{Correction, EventId, MakingRun, ReturnToTank, Settlement};
use site::{Product, Tank, Yard};

impl Books {
    pub(super) fn making_run(
        &mut self,
        yard: &Yard,
        id: EventId,
        at: Timestamp,
        run: &MakingRun,
    ) -> Result<(), NotCounted> {
        let (tank, own) = place(yard, &run.tank)?;
        // Whatever the tank is for, the plant makes its own product.
        let product = yard.product(&yard.plant.product).unwrap_or(own);
        let strength = percent(Some(run.strength_pct))?;
        let liquid = Content::of_product(product, cubic_metres(run.volume_m3), run.temp_c, strength);
        let rock_salt = match run.salt_kg {
            Some(kg) => kilograms(kg),
            None => liquid.sodium_chloride / yard.rock_salt().sodium_chloride(),
        };
        self.book(tank)?.put(&liquid, id, at);
        self.totals.made += liquid.mass;
        self.totals.salt_dissolved += rock_salt;
        self.use_salt(id, rock_salt);
        self.note_salt(SaltEnd::Made, rock_salt);
        self.note(End::Plant, End::Tank(run.tank.clone()), liquid);
        Ok(())
    }

    pub(super) fn correction(
        &mut self,
        yard: &Yard,
        id: EventId,
        at: Timestamp,
        correction: &Correction,
    ) -> Result<(), NotCounted> {
        let (tank, _) = place(yard, &correction.tank)?;
        let rock_salt = kilograms(correction.salt_kg.unwrap_or(0.0));
        let liquid = put_in(yard, correction)?;
        self.book(tank)?.put(&liquid, id, at);
        self.totals.salt_dissolved += rock_salt;
        self.use_salt(id, rock_salt);
        self.note_salt(SaltEnd::Corrected, rock_salt);
        // Whatever was put in to change its strength: it is to be measured again.
        let book = self.book(tank)?;
        book.put_since_reading = book.content.mass;
        self.note(End::Added, End::Tank(correction.tank.clone()), liquid);
        Ok(())
    }

    /// Puts back what a truck brings: the answer is that, and what of another product was counted off the truck first.
    pub(super) fn come_back(
        &mut self,
        yard: &Yard,
        id: EventId,
        at: Timestamp,
        back: &ReturnToTank,
    ) -> Result<(Content, Option<Rest>), NotCounted> {
        let (tank, product) = place(yard, &back.tank)?;
        if self.carries_other(yard, &back.truck, &product.id) {
            let carried = self.trucks.get(&back.truck).map_or("", |load| load.product.as_str());
            return Err(NotCounted::OtherProduct {
                truck: back.truck.clone(),
                carried: carried.to_owned(),
                tank: tank.id.clone(),
                held: product.id.clone(),
            });
        }
        let emptied = self.empty_of_other(&back.truck, &product.id);
        // What comes back is what the truck took; without a load on the books it counts as what is in the tank.
        let load = self
            .trucks
            .get(&back.truck)
            .filter(|load| in_kilograms(load.content.mass) > ROUNDING_KG)
            .cloned();
        let carried = load.as_ref().and_then(Load::strength);
        let book = self.book(tank)?;
        let strength = carried.or(book.strength()).or(book.last_strength);
        let held = load.as_ref().map_or(&book.content, |load| &load.content);
        let liquid = held.drawn(yard, product, cubic_metres(back.volume_m3), back.temp_c, strength);
        let last = book.reading;
        let measured = load.map_or(kilograms(0.0), |load| load.measured_part(liquid.mass, &tank.id, last));
        book.put(&liquid, id, at);
        // What left this tank after its reading and comes back is what was measured.
        book.put_since_reading -= measured;
        if let Some(load) = self.trucks.get_mut(&back.truck) {
            load.lose(liquid.mass);
        }
        self.totals.returned += liquid.mass;
        self.note(End::Truck(back.truck.clone()), End::Tank(back.tank.clone()), liquid.clone());
        Ok((liquid, emptied))
    }

    pub(super) fn settle(
        &mut self,
        yard: &Yard,
        id: EventId,
        at: Timestamp,
        agreed: &Settlement,
    ) -> Result<(), NotCounted> {
        let tank = agreed.tank.as_ref().map(|tank| place(yard, tank)).transpose()?;
        if let Some(salt) = agreed.salt_kg {
            self.note_salt(SaltEnd::Agreed, kilograms(salt) - self.rock_salt);
            self.rock_salt = kilograms(salt);
        }
        let Some((tank, product)) = tank else { return Ok(()) };
        let book = self.book(tank)?;
        let strength = percent(agreed.strength_pct)?.or(book.strength()).or(book.last_strength);
        let volume = agreed.volume_m3.map_or_else(|| book.volume(yard), cubic_metres);
        // What was agreed is an amount of the tank's product: a mix on the book ends here.
        let liquid = Content::of_product(product, volume, None, strength);
        let mass = liquid.mass;
        let mut change = liquid.clone();
        change.add(&book.content.times(-1.0));
        book.content = liquid;
        book.last_strength = strength;
        book.moved_at = Some(at);
        book.settled_at = Some(at);
        // The content still came from where it came; only how much of it is there was agreed.
        let known: f64 = book.lots.iter().map(|lot| in_kilograms(lot.mass)).sum();
        if known > 0.0 && in_kilograms(mass) > 0.0 {
            book.lots.iter_mut().for_each(|lot| lot.mass *= in_kilograms(mass) / known);
        } else {
            book.lots = vec![Lot { event: Some(id), at, mass }];
        }
        self.note(End::Agreed, End::Tank(tank.id.clone()), change);
        Ok(())
    }

    /// Takes a volume out of a tank at its book strength, or of all parts of a mix in proportion, and flags a book that
    /// falls below zero.
    pub(super) fn draw(
        &mut self,
        yard: &Yard,
        id: EventId,
        at: Timestamp,
        tank: &str,
        volume_m3: f64,
        temp_c: Option<f64>,
    ) -> Result<Content, NotCounted> {
        let (tank, product) = place(yard, tank)?;
        let book = self.book(tank)?;
        let strength = book.strength().or(book.last_strength);
        let liquid = book.content.drawn(yard, product, cubic_metres(volume_m3), temp_c, strength);
        let was_sound = -ROUNDING_KG <= in_kilograms(book.content.mass);
        book.draw(&liquid, at);
        if was_sound && in_kilograms(book.content.mass) < -ROUNDING_KG {
            self.problems.push(BookProblem::TankBelowZero { tank: tank.id.clone(), event: id });
        }
        Ok(liquid)
    }

    /// Takes a sprayed volume off a truck, at what it carries.
    pub(super) fn spray(&mut self, yard: &Yard, truck: &str, route: &str, volume: Volume) {
        let Some(load) = self.trucks.get_mut(truck) else { return };
        if load.volume(yard) > cubic_metres(0.0) {
            let before = load.content.clone();
            load.lose_volume(yard, volume);
            let mut sprayed = before;
            sprayed.add(&load.content.times(-1.0));
            self.note(End::Truck(truck.into()), End::Road(Some(route.into())), sprayed);
        }
    }

    pub(super) fn use_salt(&mut self, id: EventId, salt: Mass) {
        let was_sound = -ROUNDING_KG <= in_kilograms(self.rock_salt);
        self.rock_salt -= salt;
        if was_sound && in_kilograms(self.rock_salt) < -ROUNDING_KG {
            self.problems.push(BookProblem::SaltBelowZero { event: id });
        }
    }

    pub(super) fn book(&mut self, tank: &Tank) -> Result<&mut TankBook, NotCounted> {
        self.tanks
            .iter_mut()
            .find(|book| book.tank == tank.id)
            .ok_or_else(|| NotCounted::NoTank(tank.id.clone()))
    }
}

/// A tank of the yard, and the product that belongs in it.
pub(super) fn place<'y>(yard: &'y Yard, tank: &str) -> Result<(&'y Tank, &'y Product), NotCounted> {
    let tank = yard.tank(tank).ok_or_else(|| NotCounted::NoTank(tank.to_owned()))?;
    let product = yard.product(&tank.product).ok_or_else(|| NotCounted::NoProductOfTank(tank.id.clone()))?;
    Ok((tank, product))
}

/// A strength as an event states it, per cent by mass.
pub(super) fn percent(value: Option<f64>) -> Result<Option<MassFraction>, NotCounted> {
    Ok(value.map(MassFraction::from_percent).transpose()?)
}
