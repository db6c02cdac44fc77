//! Which lot went where, and what a load came from.
//!
//! A tank is taken as mixed: what is drawn holds of every lot in it as much as the tank does, by mass. So is the salt
//! pile, for want of better. A share is then a share of mass, exact as far as the tank was stirred.

use std::collections::{BTreeMap, HashMap};

use jiff::Timestamp;
use quantity::{Mass, in_kilograms, kilograms};

use crate::Journal;
use event::{Body, EventId, Recorded};
use yard::stock::{End, Flow, SaltEnd};

/// Shares below this are not followed: a gram in a tonne.
const SMALLEST: f64 = 1e-6;

/// A lot that something came from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Origin {
    /// The event it came in with: a making run, a delivery, a correction, a settlement.
    pub event: EventId,
    /// When it happened.
    pub at: Timestamp,
    /// Its share, by mass, 0…1.
    pub share: f64,
}

/// What a load, or a tank at a moment, was made of.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Origins {
    /// The lots, largest first.
    pub lots: Vec<Origin>,
    /// What the ledger knows no lot for: drawn from a tank whose book was empty.
    pub unknown: f64,
}

/// Where a lot got to.
#[derive(Debug, Clone, PartialEq)]
pub struct Reached {
    /// The event that took it there.
    pub event: EventId,
    /// When it happened.
    pub at: Timestamp,
    /// Tank it was drawn from.
    pub from: String,
    /// Where: a truck, an agency, lost, cleaned out.
    pub to: End,
    /// Route it was loaded for.
    pub route: Option<String>,
    /// How much of the lot.
    pub mass: Mass,
    /// Its share of what was drawn, 0…1.
    pub share: f64,
}

/// What became of a lot.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Whereabouts {
    /// All of it.
    pub mass: Mass,
    /// Drawn, in order of time; a return is taken off the newest load of its truck.
    pub reached: Vec<Reached>,
    /// Still in tanks.
    pub in_tanks: Vec<(String, Mass)>,
    /// Written off by settlements.
    pub written_off: Mass,
}

/// A place that liquid stands in.
fn place(end: &End) -> Option<&End> {
    matches!(end, End::Tank(_) | End::Truck(_)).then_some(end)
}

/// Whether liquid from here is a lot of its own.
fn is_source(end: &End) -> bool {
    matches!(end, End::Plant | End::Supplier | End::Added | End::Agreed)
}

impl Journal<'_> {
    /// What a flow's amount was made of: that of a load, an issue, a transfer, a loss. None for an event that moved
    /// nothing.
    pub fn origins_of(&self, event: EventId) -> Option<Origins> {
        let flows = &self.walk.liquids;
        let last = flows.iter().rposition(|flow| flow.event == event && place(&flow.from).is_some())?;
        Some(self.backward(flows[last].from.clone(), last))
    }

    /// What a tank was made of just before a moment.
    pub fn origins_in(&self, tank: &str, before: Timestamp) -> Origins {
        let end = self.walk.liquids.partition_point(|flow| flow.at < before);
        self.backward(End::Tank(tank.to_owned()), end)
    }

    /// Goes back through the flows before a place in the list, handing shares to where they came from.
    fn backward(&self, at: End, end: usize) -> Origins {
        let flows = &self.walk.liquids[..end];
        let before = masses_before(flows);
        let mut shares: HashMap<&End, f64> = HashMap::from([(&at, 1.0)]);
        let mut lots: BTreeMap<EventId, Origin> = BTreeMap::new();
        for (flow, held) in flows.iter().zip(&before).rev() {
            let mass = in_kilograms(flow.liquid.mass);
            let Some(to) = place(&flow.to).filter(|_| mass > 0.0) else { continue };
            let Some(share) = shares.get_mut(to).filter(|share| **share > SMALLEST) else { continue };
            let came = *share * mass / (mass + held.max(0.0));
            *share -= came;
            if is_source(&flow.from) {
                let lot = Origin { event: flow.event, at: flow.at, share: 0.0 };
                lots.entry(flow.event).or_insert(lot).share += came;
            } else if let Some(from) = place(&flow.from) {
                *shares.entry(from).or_default() += came;
            }
        }
        let mut lots: Vec<Origin> = lots.into_values().filter(|lot| lot.share > SMALLEST).collect();
        lots.sort_by(|a, b| b.share.total_cmp(&a.share));
        let known: f64 = lots.iter().map(|lot| lot.share).sum();
        Origins { lots, unknown: (1.0 - known).max(0.0) }
    }

    /// What became of a lot: of a making run, a delivery of liquid, a correction. None for an event that brought
    /// nothing.
    pub fn whereabouts(&self, lot: EventId) -> Option<Whereabouts> {
        let flows = &self.walk.liquids;
        let first = flows.iter().position(|flow| flow.event == lot && is_source(&flow.from))?;
        let before = masses_held(flows);
        let mut held: HashMap<&End, f64> = HashMap::new();
        let mut found = Whereabouts { mass: flows[first].liquid.mass, ..Whereabouts::default() };
        for (flow, masses) in flows.iter().zip(&before).skip(first) {
            let mass = in_kilograms(flow.liquid.mass);
            if flow.event == lot && is_source(&flow.from) {
                *held.entry(&flow.to).or_default() += mass;
                continue;
            }
            // A settlement that found less took it off the tank.
            if flow.from == End::Agreed && mass < 0.0 {
                let of_lot = held.entry(&flow.to).or_default();
                let gone = *of_lot * (-mass / masses.to.max(-mass)).min(1.0);
                *of_lot -= gone;
                found.written_off += kilograms(gone);
                continue;
            }
            let Some(from) = place(&flow.from) else { continue };
            let Some(of_lot) = held.get_mut(from).filter(|mass| **mass > 0.0) else { continue };
            let share = if masses.from > 0.0 { (mass / masses.from).min(1.0) } else { 1.0 };
            let taken = *of_lot * share;
            *of_lot -= taken;
            if let Some(to) = place(&flow.to) {
                *held.entry(to).or_default() += taken;
            }
            self.reach(&mut found, flow, kilograms(taken), mass);
        }
        found.reached.retain(|one| in_kilograms(one.mass) > SMALLEST * in_kilograms(found.mass));
        found.in_tanks = held
            .into_iter()
            .filter_map(|(end, mass)| match end {
                End::Tank(tank) if mass > SMALLEST * in_kilograms(found.mass) => {
                    Some((tank.clone(), kilograms(mass)))
                }
                _ => None,
            })
            .collect();
        found.in_tanks.sort_by(|a, b| a.0.cmp(&b.0));
        Some(found)
    }

    fn reach(&self, found: &mut Whereabouts, flow: &Flow, of_lot: Mass, drawn_kg: f64) {
        match (&flow.from, &flow.to) {
            (End::Tank(from), End::Truck(_) | End::Agency(_) | End::Lost | End::CleanedOut) => {
                let route = match self.event(flow.event).map(|recorded| &recorded.event.body) {
                    Some(Body::LoadOut(load)) => load.route.clone(),
                    _ => None,
                };
                found.reached.push(Reached {
                    event: flow.event,
                    at: flow.at,
                    from: from.clone(),
                    to: flow.to.clone(),
                    route,
                    mass: of_lot,
                    share: in_kilograms(of_lot) / drawn_kg,
                });
            }
            (End::Truck(_), End::Tank(_)) => {
                let mut left = of_lot;
                for load in found.reached.iter_mut().rev().filter(|load| load.to == flow.from) {
                    let back = if load.mass < left { load.mass } else { left };
                    load.mass -= back;
                    left -= back;
                }
            }
            _ => {}
        }
    }

    /// Deliveries of salt that a making run's or a correction's salt came from, by share, largest first: as if the pile
    /// were mixed.
    pub fn salt_of(&self, event: EventId) -> Vec<Origin> {
        let flows = &self.walk.salt;
        let Some(last) = flows.iter().rposition(|flow| flow.event == event && !flow.end.comes_in()) else {
            return Vec::new();
        };
        let mut pile = 0.0;
        let mut before = Vec::with_capacity(last);
        for flow in &flows[..last] {
            before.push(pile);
            let mass = in_kilograms(flow.mass);
            pile += if flow.end.comes_in() { mass } else { -mass };
        }
        let mut share = 1.0;
        let mut lots = Vec::new();
        for (flow, held) in flows[..last].iter().zip(&before).rev() {
            let mass = in_kilograms(flow.mass);
            if share < SMALLEST || mass <= 0.0 || !flow.end.comes_in() {
                continue;
            }
            let came = share * mass / (mass + held.max(0.0));
            share -= came;
            if matches!(flow.end, SaltEnd::Delivered | SaltEnd::Agreed) && came > SMALLEST {
                lots.push(Origin { event: flow.event, at: flow.at, share: came });
            }
        }
        lots.sort_by(|a, b| b.share.total_cmp(&a.share));
        lots
    }

    /// Readings of a tank from a moment up to another, in order of time.
    pub fn readings_of(&self, tank: &str, from: Timestamp, until: Timestamp) -> Vec<&Recorded> {
        let is_one = |recorded: &&Recorded| {
            let at = recorded.event.occurred_at;
            let of_tank =
                matches!(&recorded.event.body, Body::Reading(one) if one.tank.as_deref() == Some(tank));
            of_tank && from <= at && at <= until
        };
        self.events().iter().copied().filter(is_one).collect()
    }
}

/// Mass held at both ends of a flow before it, kg.
struct Held {
    from: f64,
    to: f64,
}

fn masses_held(flows: &[Flow]) -> Vec<Held> {
    let mut masses: HashMap<&End, f64> = HashMap::new();
    let mut before = Vec::with_capacity(flows.len());
    for flow in flows {
        let of = |masses: &HashMap<&End, f64>, end: &End| masses.get(end).copied().unwrap_or(0.0);
        before.push(Held { from: of(&masses, &flow.from), to: of(&masses, &flow.to) });
        let mass = in_kilograms(flow.liquid.mass);
        if place(&flow.from).is_some() {
            *masses.entry(&flow.from).or_default() -= mass;
        }
        if place(&flow.to).is_some() {
            *masses.entry(&flow.to).or_default() += mass;
        }
    }
    before
}

/// Mass that each flow found where it went to, kg.
fn masses_before(flows: &[Flow]) -> Vec<f64> {
    masses_held(flows).into_iter().map(|held| held.to).collect()
}
