//! What the plant holds in all, and what has crossed its border.

use super::Equations;
use crate::layout::SIZES;
use crate::model::amounts::Amounts;
use crate::model::grains::COHORTS;

impl Equations {
    pub(in crate::model) fn inside(&self, state: &[f64]) -> Amounts {
        let mut sum = Amounts::default();
        for at in &self.places {
            sum.water += state[at.water];
            sum.salt += state[at.salt];
            sum.insolubles += state[at.insolubles];
            sum.heat += state[at.heat];
            if let Some(first) = at.grains {
                sum.salt += state[first..first + COHORTS * SIZES].iter().sum::<f64>();
            }
        }
        for kg in &state[self.first_store..self.first_store + self.stores] {
            sum.water += kg * self.delivered.water;
            sum.salt += kg * self.delivered.salt;
            sum.insolubles += kg * self.delivered.insolubles;
            sum.heat += kg * self.delivered.heat;
        }
        sum
    }

    pub(in crate::model) fn out(&self, state: &[f64]) -> Amounts {
        let l = &state[self.ledger..];
        Amounts { water: l[0], salt: l[1], insolubles: l[2], heat: l[3] }
    }

    pub(in crate::model) fn supplied(&self, state: &[f64]) -> Amounts {
        let l = &state[self.ledger..];
        Amounts { water: l[4], heat: l[5], ..Amounts::default() }
    }

    pub(in crate::model) fn spilt(&self, state: &[f64]) -> Amounts {
        let l = &state[self.ledger..];
        Amounts { water: l[7], salt: l[8], insolubles: l[9], heat: l[10] }
    }

    pub(in crate::model) fn lost_heat(&self, state: &[f64]) -> f64 {
        state[self.ledger + 6]
    }
}
