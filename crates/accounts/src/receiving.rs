//! Rock salt as it comes in: moisture, what it takes off the price, and how many samples an order needs.

use chemistry::MassFraction;
use quantity::{Mass, in_kilograms, kilograms};

use event::{Body, Recorded};
use site::Receiving;

/// What is done with a delivery because of its moisture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Verdict {
    /// Taken at its price.
    Accept,
    /// Taken, with this share off its price.
    Deduct(f64),
    /// Refused and sent back.
    Reject,
}

/// Moisture by weighing a sample wet and dried.
///
/// # Equation
/// (wet − dry) / wet.
///
/// # Range
/// 0 < dry ≤ wet.
///
/// # Error
/// None: a definition; the scale's goes on top.
///
/// # Source
/// Minnesota field handbook for snowplow operators, moisture worksheet.
///
/// # Examples
/// ```
/// use quantity::kilograms;
/// let moisture = accounts::receiving::moisture(kilograms(0.500), kilograms(0.491));
/// assert!(moisture.is_some_and(|found| (found.percent() - 1.8).abs() < 1e-9));
/// assert!(accounts::receiving::moisture(kilograms(0.4), kilograms(0.5)).is_none());
/// ```
pub fn moisture(wet: Mass, dry: Mass) -> Option<MassFraction> {
    let (wet, dry) = (in_kilograms(wet), in_kilograms(dry));
    if !(0.0 < dry && dry <= wet) {
        return None;
    }
    MassFraction::from_fraction((wet - dry) / wet).ok()
}

/// What a moisture means by the contract's figures.
///
/// # Equation
/// Up to the first limit: accept. Above it: the deduction. Above the second: as much more for every tenth of a per cent
/// begun. Above the last: reject.
///
/// # Range
/// 0…100 %.
///
/// # Error
/// None: a rule.
///
/// # Source
/// Example specification of MnDOT in the Minnesota field handbook, moisture worksheet, p. 88; figures from the yard
/// file.
pub fn verdict(rules: &Receiving, moisture: MassFraction) -> Verdict {
    // A per cent with one decimal is not exact in binary.
    let pct = (1e6 * moisture.percent()).round() / 1e6;
    if pct > rules.reject_above.percent() + 1e-9 {
        return Verdict::Reject;
    }
    if pct <= rules.accept_to.percent() + 1e-9 {
        return Verdict::Accept;
    }
    let over = (pct - rules.more_from.percent()).max(0.0);
    let tenths = (10.0 * over - 1e-6).ceil().max(0.0);
    Verdict::Deduct((rules.deduction + tenths * rules.more_per_tenth).min(1.0))
}

/// Samples that an order needs.
///
/// # Equation
/// One for each full mass or part of it.
///
/// # Range
/// Masses above zero.
///
/// # Error
/// None: a rule.
///
/// # Source
/// Ohio DOT 712.03, sampling, 2005: one for 3,000 tons or fraction, of three increments each.
///
/// # Examples
/// ```
/// use quantity::short_tons;
/// assert_eq!(accounts::receiving::samples(short_tons(7000.0), short_tons(3000.0)), 3);
/// ```
pub fn samples(order: Mass, each: Mass) -> usize {
    let ratio = in_kilograms(order) / in_kilograms(each);
    if ratio <= 0.0 { 0 } else { (ratio - 1e-9).ceil() as usize }
}

/// An order of salt as far as it was delivered.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// Its name; none for deliveries without one.
    pub order: Option<String>,
    /// Delivered so far.
    pub mass: Mass,
    /// Loads of it.
    pub deliveries: usize,
    /// Number of samples taken.
    pub taken: usize,
    /// Samples that it needs.
    pub needed: usize,
}

/// Orders of salt in the order of their first delivery.
pub fn orders(events: &[&Recorded], rules: &Receiving) -> Vec<Order> {
    let mut found: Vec<Order> = Vec::new();
    for recorded in events {
        let Body::SaltDelivery(delivery) = &recorded.event.body else { continue };
        let place = found.iter().position(|order| order.order == delivery.order);
        let place = place.unwrap_or_else(|| {
            let order = delivery.order.clone();
            found.push(Order { order, mass: kilograms(0.0), deliveries: 0, taken: 0, needed: 0 });
            found.len() - 1
        });
        let order = &mut found[place];
        order.mass += kilograms(delivery.mass_kg);
        order.deliveries += 1;
        order.taken += delivery.samples_number.unwrap_or(0.0) as usize;
        order.needed = samples(order.mass, rules.sample_each);
    }
    found
}
