//! The needs of a plan summed: by time, by route, in money and in chloride.

use chemistry::recipe;
use chemistry::{Brine, Salt};
use quantity::{Mass, cubic_metres, in_kilograms, in_short_tons, kilograms};
use site::Yard;
use site::{CoverFor, ProductKind};

use super::{Costs, PlanError, RouteNeed};
use crate::demand::{self, Band, Bins, Course, Draw, Purpose, band};
use crate::loading::Loading;
use crate::outlook::Case;
use crate::treatment::Spread;

/// All needs of a plan, waste share included where liquid is meant, m³ and kg.
pub(super) struct Needs {
    pub(super) brine_band: Band,
    pub(super) purpose_bands: [Band; 3],
    pub(super) uses: MaterialUse,
}

impl Needs {
    /// Sums the draws of all courses.
    pub(super) fn of(yard: &Yard, bins: &Bins, courses: &[Course]) -> Self {
        let waste = 1.0 + yard.policy.waste_share;
        let with_waste = |spread: Spread<f64>| spread.map(|v| v * waste);
        let middle = Case::Mid as usize;
        let all = |_: &Draw| true;
        let purpose_bands = Purpose::ALL.map(|purpose| {
            band(bins, courses, middle, |draw| {
                let counts = if draw.purpose == purpose { waste } else { 0.0 };
                demand::brine_m3(draw).map(|v| v * counts)
            })
        });
        Self {
            brine_band: band(bins, courses, middle, |draw| with_waste(demand::brine_m3(draw))),
            purpose_bands,
            uses: MaterialUse {
                brine: demand::total(courses, middle, all, |d| with_waste(demand::brine_m3(d))),
                other: demand::total(courses, middle, all, |d| with_waste(demand::other_m3(d))),
                salt: demand::total(courses, middle, all, demand::salt_kg),
            },
        }
    }

    /// Returns the cumulative need that the plan covers, m³.
    pub(super) fn covered(&self, cover_for: CoverFor) -> &[f64] {
        match cover_for {
            CoverFor::Mid => &self.brine_band.mid,
            CoverFor::High => &self.brine_band.high,
        }
    }
}

/// Returns the part of a spread that the plan covers.
pub(super) fn covered(spread: Spread<f64>, cover_for: CoverFor) -> f64 {
    match cover_for {
        CoverFor::Mid => spread.mid,
        CoverFor::High => spread.high,
    }
}

pub(super) fn route_needs(
    yard: &Yard,
    courses: &[Course],
    middle: usize,
    loadings: &[(usize, Loading)],
) -> Vec<RouteNeed> {
    (0..yard.routes.len())
        .map(|route| {
            let of = |keep: &dyn Fn(&Draw) -> bool, amount: &dyn Fn(&Draw) -> Spread<f64>| {
                demand::total(courses, middle, |draw| draw.route == route && keep(draw), amount)
            };
            let ahead = |draw: &Draw| draw.purpose == Purpose::AntiIcing;
            RouteNeed {
                route,
                anti_icing: demand::volumes(of(&ahead, &demand::brine_m3)),
                prewet: demand::volumes(of(&|d| !ahead(d), &demand::brine_m3)),
                brine: demand::volumes(of(&|_| true, &demand::brine_m3)),
                other: demand::volumes(of(&|_| true, &demand::other_m3)),
                salt: demand::masses(of(&|_| true, &demand::salt_kg)),
                loads: loadings.iter().flat_map(|(_, l)| &l.loads).filter(|load| load.route == route).count(),
            }
        })
        .collect()
}

/// Amounts used, m³ and kg.
pub(super) struct MaterialUse {
    pub(super) brine: Spread<f64>,
    pub(super) other: Spread<f64>,
    pub(super) salt: Spread<f64>,
}

pub(super) fn materials(
    yard: &Yard,
    uses: &MaterialUse,
    brine: &Brine,
) -> Result<(Spread<Costs>, Spread<Mass>), PlanError> {
    let salt_per_volume = recipe::salt_per_volume_of_brine(brine, recipe::reference_temperature())?;
    let content = yard.rock_salt().sodium_chloride();
    let chloride_share = Salt::SodiumChloride.chloride_fraction().fraction();
    let one = recipe::batch(brine, cubic_metres(1.0), yard.rock_salt())?;
    let water_m3 = in_kilograms(one.water)
        / quantity::in_kg_per_m3(chemistry::density::water_density(recipe::reference_temperature())?);
    let salt_price = |mass: Mass| in_short_tons(mass) * yard.salt.usd_per_short_ton;
    let brine_usd_per_m3 = salt_price(one.rock_salt) + water_m3 * yard.plant.water_usd_per_m3;
    let declared = yard.products.iter().find_map(|product| match &product.kind {
        ProductKind::Declared { density, chloride, .. } if product.kind.is_magnesium_or_calcium() => {
            Some((product.usd_per_m3, in_kilograms(*density * cubic_metres(1.0)) * chloride.fraction()))
        }
        _ => None,
    });
    let (other_usd, other_chloride) = declared.unwrap_or((0.0, 0.0));
    let parts = |brine: f64, other: f64, salt: f64| {
        let costs = Costs {
            brine_usd: brine * brine_usd_per_m3,
            other_usd: other * other_usd,
            salt_usd: salt_price(kilograms(salt)),
        };
        let chloride = in_kilograms(salt_per_volume * cubic_metres(brine)) * chloride_share
            + other * other_chloride
            + salt * content * chloride_share;
        (costs, kilograms(chloride))
    };
    let low = parts(uses.brine.low, uses.other.low, uses.salt.low);
    let mid = parts(uses.brine.mid, uses.other.mid, uses.salt.mid);
    let high = parts(uses.brine.high, uses.other.high, uses.salt.high);
    Ok((Spread { low: low.0, mid: mid.0, high: high.0 }, Spread { low: low.1, mid: mid.1, high: high.1 }))
}
