//! How salt dissolves in a vessel.

use super::{Equations, Liquid, Place};
use crate::layout::SIZES;
use crate::model::grains::{COHORTS, LAST_SHARE};
use crate::properties::HALITE;

/// Diameter³ of a spherical grain divided by its mass, m³/kg.
const SPHERE: f64 = 6.0 / (std::f64::consts::PI * HALITE);

impl Equations {
    /// Salt that dissolves in a vessel, kg/s by cohort and size, by Ranz and Marshall's transfer from spheres: Sh = 2 +
    /// 0.6 Re^½ Sc^⅓ (Chem. Eng. Prog. 48 (1952) 141, 173; from memory), with the speed past the grains.
    pub(super) fn dissolve(
        &self,
        place: usize,
        liquid: &Liquid,
        speed: f64,
        reached: f64,
        state: &[f64],
        rates: &mut [f64],
    ) -> f64 {
        let Place { grains: Some(first), fed: Some(fed), .. } = self.places[place] else { return 0.0 };
        let saturated = self.properties.saturated(liquid.degrees);
        let density = liquid.known.density;
        let at_saturation = self.properties.of(saturated, liquid.degrees).density;
        let lacking = saturated * at_saturation - liquid.strength * density;
        if lacking <= 0.0 {
            return 0.0;
        }
        let viscosity = liquid.known.viscosity;
        let diffusion = self.properties.diffusion(viscosity, liquid.degrees);
        let schmidt = (viscosity / (density * diffusion)).cbrt();
        let past = speed * density / viscosity;
        // From a grain's mass m, in n grains: d³ = 6 m/(n π ρ); all of them lose n π d² · Sh D/d · (what is lacking to
        // saturation).
        let each = std::f64::consts::PI * diffusion * reached * lacking;
        let across = 0.6 * past.sqrt() * schmidt;
        let mut all = 0.0;
        for cohort in 0..COHORTS {
            for size in 0..SIZES {
                let mass = state[first + cohort * SIZES + size];
                let root = if cohort == 0 {
                    state[fed + size].max(0.0).cbrt()
                } else {
                    self.roots[place][cohort][size]
                };
                if root <= 0.0 {
                    continue;
                }
                // The last of a grain dissolves linearly: its true end has no slope that a step could follow.
                let last = LAST_SHARE * root * root * root * self.whole[size];
                let seen = mass.max(last);
                let diameter = (seen * SPHERE).cbrt() / root;
                let of_seen = each * root * root * root * diameter * (2.0 + across * diameter.sqrt());
                let gone = of_seen * (mass / seen);
                rates[first + cohort * SIZES + size] -= gone;
                all += gone;
            }
        }
        all
    }
}
