//! What each truck carries, and for which route.

use crate::Journal;
use event::Body;
use quantity::in_kilograms;
use std::collections::HashMap;
use yard::stock::{Content, End, Flow};

/// What each truck carries, and for which route it was loaded.
#[derive(Default)]
pub(crate) struct Parcels {
    pub(crate) trucks: HashMap<String, Vec<(Option<String>, Content)>>,
}

impl Parcels {
    /// What a flow means for the routes: amounts they got (or, below zero, gave back).
    pub(crate) fn take(&mut self, flow: &Flow, journal: &Journal<'_>) -> Vec<(Option<String>, Content)> {
        match (&flow.from, &flow.to) {
            (End::Tank(_), End::Truck(truck)) => {
                let route = match journal.event(flow.event).map(|recorded| &recorded.event.body) {
                    Some(Body::LoadOut(load)) => load.route.clone(),
                    _ => None,
                };
                let parcel = (route, flow.liquid.clone());
                self.trucks.entry(truck.clone()).or_default().push(parcel.clone());
                vec![parcel]
            }
            (End::Truck(truck), End::Tank(_)) => {
                let (parts, beyond) = self.draw(truck, &flow.liquid, None);
                let back = |(route, content): (Option<String>, Content)| (route, content.times(-1.0));
                parts.into_iter().chain(beyond.map(|rest| (None, rest))).map(back).collect()
            }
            (End::Truck(truck), End::Road(Some(route))) => {
                let (parts, _) = self.draw(truck, &flow.liquid, Some(route));
                let mut moved = Vec::new();
                for (from, content) in parts {
                    if from.as_ref() != Some(route) {
                        moved.push((Some(route.clone()), content.clone()));
                        moved.push((from, content.times(-1.0)));
                    }
                }
                moved
            }
            // Put down where it was loaded for: nothing moves between routes.
            (End::Truck(truck), End::Road(None)) => {
                self.draw(truck, &flow.liquid, None);
                Vec::new()
            }
            _ => Vec::new(),
        }
    }

    /// Takes an amount off a truck: of the parcels for a route first, then of the last loaded; and what is beyond all.
    fn draw(
        &mut self,
        truck: &str,
        amount: &Content,
        first: Option<&String>,
    ) -> (Vec<(Option<String>, Content)>, Option<Content>) {
        let parcels = self.trucks.entry(truck.to_owned()).or_default();
        let total = in_kilograms(amount.mass);
        let mut left = total;
        let mut parts = Vec::new();
        let mut order: Vec<usize> = (0..parcels.len()).rev().collect();
        order.sort_by_key(|place| first.is_some() && parcels[*place].0.as_ref() != first);
        for place in order {
            if left <= 1e-9 {
                break;
            }
            let (route, parcel) = &mut parcels[place];
            let held = in_kilograms(parcel.mass);
            if held <= 1e-9 {
                continue;
            }
            let taken = held.min(left);
            parts.push((route.clone(), amount.times(taken / total)));
            *parcel = parcel.times(1.0 - taken / held);
            left -= taken;
        }
        parcels.retain(|(_, content)| in_kilograms(content.mass) > 1e-9);
        (parts, (left > 1e-9).then(|| amount.times(left / total)))
    }
}
