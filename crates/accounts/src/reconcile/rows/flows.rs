//! What flowed, taken off the balances with its uncertainty.

use quantity::in_kilograms;

use super::{Alike, Row, Rows};
use crate::reconcile::Balance;
use crate::{Journal, Period};
use event::{Body, HowFound, Recorded};
use yard::stock::{End, Flow};
use yard::uncertain::{
    BY_MARKS, BY_METER, BY_WEIGHT_KG, FLOW_PCT, MAKING, MARKS_ALIKE, OTHER, ROUNDING_KG, RUNS_ALIKE, SLUDGE,
    SPILL, TRANSFER, batch,
};

impl Rows {
    /// Takes what flowed off the tanks' rows, with its uncertainty.
    pub(super) fn flows(&mut self, journal: &Journal<'_>, period: Period) {
        let index = self.index();
        let of_meter = |(place, row): (usize, &Row)| match &row.balance {
            Balance::LoadingTotals(id) => Some((place, row.from, row.until, id.clone())),
            _ => None,
        };
        let totals: Vec<_> = self.list.iter().enumerate().filter_map(of_meter).collect();
        for flow in journal.walk.liquids.iter().filter(|flow| period.holds(flow.at)) {
            let mass = in_kilograms(flow.liquid.mass);
            let salt = in_kilograms(flow.liquid.sodium_chloride);
            let mut on: Vec<(usize, f64)> = Vec::new();
            for (end, sign) in [(&flow.from, 1.0), (&flow.to, -1.0)] {
                let End::Tank(tank) = end else { continue };
                let share = if mass > 0.0 { salt / mass } else { 0.0 };
                for (row, is_salt) in index.at(tank, flow.at) {
                    // A settlement is no flow: only what was seen counts.
                    if matches!(flow.from, End::Agreed) {
                        continue;
                    }
                    self.list[row].residual += sign * if is_salt { salt } else { mass };
                    on.push((row, sign * if is_salt { share } else { 1.0 }));
                    if is_salt {
                        self.share_error(FLOW_PCT / 100.0 * mass, vec![(row, 1.0)]);
                    }
                }
            }
            let known = journal.event(flow.event);
            // What goes onto a truck runs through the loading meter, whatever its ticket was written by.
            // What was counted off the truck with the same entry does not.
            let leaves = matches!(flow.from, End::Tank(_));
            let body = known.map(|recorded| &recorded.event.body).filter(|body| leaves && is_loaded(body));
            if let Some(body) = body {
                let of = loaded_by(journal, body);
                for (row, from, until, id) in &totals {
                    if of.is_some_and(|of| of == id) && *from <= flow.at && flow.at < *until {
                        self.list[*row].residual -= mass;
                        if is_by_loading_meter(body) {
                            self.share_error(ROUNDING_KG, vec![(*row, 1.0)]);
                        } else {
                            on.push((*row, -1.0));
                            self.off_alike(Alike::LoadingMeter, loading_prior(journal), &[(*row, -mass)]);
                        }
                    }
                }
            }
            if on.is_empty() {
                continue;
            }
            let (random, alike) = uncertainty(journal, flow, known, mass);
            self.share_error(random, on.clone());
            if let Some((what, prior)) = alike {
                // Residual is evidence less book: if more truly flowed out, the evidence stands lower.
                let signed: Vec<(usize, f64)> = on.iter().map(|(row, f)| (*row, -f * mass)).collect();
                self.off_alike(what, prior, &signed);
            }
        }
    }
}

/// Whether an entry puts liquid on a truck, or another agency's.
fn is_loaded(body: &Body) -> bool {
    matches!(body, Body::LoadOut(_) | Body::IssueOut(_))
}

/// The loading meter that an entry ran through: the one it names, else the yard's only one.
fn loaded_by<'j>(journal: &Journal<'j>, body: &'j Body) -> Option<&'j str> {
    let named = match body {
        Body::LoadOut(load) => load.meter.as_deref(),
        _ => None,
    };
    named.or_else(|| journal.yard().loading_meter().map(|meter| meter.id.as_str()))
}

/// Whether an entry's volume was taken from the loading meter.
fn is_by_loading_meter(body: &Body) -> bool {
    match body {
        Body::LoadOut(load) => load.how.is_none_or(|how| how == HowFound::Meter),
        Body::IssueOut(issue) => issue.how.is_none_or(|how| how == HowFound::Meter),
        _ => false,
    }
}

/// Standard uncertainty of the loading meter's factor, as a share; 2 % where the yard has no such meter (our own
/// figure).
pub(super) fn loading_prior(journal: &Journal<'_>) -> f64 {
    journal.yard().loading_meter().map_or(0.02, |meter| meter.factor_uncertainty)
}

/// Uncertainty of a flow's mass each time, kg; and what it is off with for all of its kind alike, as a share.
fn uncertainty(
    journal: &Journal<'_>,
    flow: &Flow,
    recorded: Option<&Recorded>,
    mass: f64,
) -> (f64, Option<(Alike, f64)>) {
    let by = |how: HowFound, truck: &str| match how {
        HowFound::Weight => (BY_WEIGHT_KG, None),
        HowFound::Marks | HowFound::Dip => {
            let alike = Alike::Marks(truck.to_owned());
            (BY_MARKS.0 * mass + BY_MARKS.1, Some((alike, MARKS_ALIKE)))
        }
        HowFound::Meter => {
            (BY_METER.0 * mass + BY_METER.1, Some((Alike::LoadingMeter, loading_prior(journal))))
        }
    };
    match (recorded.map(|recorded| &recorded.event.body), &flow.from, &flow.to) {
        (Some(Body::LoadOut(load)), ..) => by(load.how.unwrap_or(HowFound::Meter), &load.truck),
        (Some(Body::IssueOut(issue)), ..) => by(issue.how.unwrap_or(HowFound::Meter), &issue.agency),
        // What comes back is seldom metered: the marks, where nothing is said.
        (Some(Body::ReturnToTank(back)), ..) => by(back.how.unwrap_or(HowFound::Marks), &back.truck),
        (Some(Body::MakingRun(run)), End::Plant, _) => (batch(run) * mass, Some((Alike::Runs, RUNS_ALIKE))),
        (_, End::Plant, _) => (MAKING * mass, Some((Alike::Runs, RUNS_ALIKE))),
        (_, End::Tank(_), End::Tank(_)) => (TRANSFER * mass, None),
        (_, _, End::Lost) => (SPILL * mass, None),
        (_, _, End::CleanedOut) => (SLUDGE * mass, None),
        _ => (OTHER * mass, None),
    }
}
