//! Axle weights of a truck, and the federal limits on them.
//!
//! The limits apply on the Interstate System; a state or a town may have others, on other roads and for snow work.

use message::{Message, Tell, message};
use quantity::{Length, Mass, feet, in_feet, in_kilograms, kilograms, pounds};

/// Axles no farther apart than this count as one: 40 in.
const ONE_AXLE_FT: f64 = 40.0 / 12.0;
/// Axles no farther apart than this, and not one, are a tandem: 96 in.
const TANDEM_FT: f64 = 8.0;
/// Just beyond a tandem the table has a row of its own, up to here.
const JUST_BEYOND_FT: f64 = 9.0;
/// Most on a single axle, lb.
const SINGLE_LB: f64 = 20_000.0;
/// Most on a tandem, lb.
const TANDEM_LB: f64 = 34_000.0;
/// Most gross weight of a truck, lb.
const GROSS_LB: f64 = 80_000.0;
/// Two tandems in a row may carry 34,000 lb each when their outer axles stand this far apart.
const TWO_TANDEMS_FT: f64 = 36.0;
/// Axles farther apart than this are two groups, when the load is shared between front and rear.
const GROUP_FT: f64 = 9.0;

/// One axle: where it is and what it weighs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axle {
    /// Distance behind the first axle.
    pub at: Length,
    /// Weight on it.
    pub load: Mass,
    /// Most it may carry by its own plate or a local rule.
    pub limit: Option<Mass>,
}

/// Which rule a group of axles is held to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rule {
    /// The axle's own plate, or a local rule.
    OwnLimit,
    /// 20,000 lb on one axle.
    Single,
    /// 34,000 lb on a tandem.
    Tandem,
    /// The bridge formula.
    Bridge,
    /// 80,000 lb in all.
    Gross,
    /// The truck's own papers.
    OwnGross,
}

/// Neighboring axles of a truck with their weight and the limit for them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupLoad {
    /// First and last axle, counted from 0.
    pub axles: (usize, usize),
    /// Weight on all of them.
    pub load: Mass,
    /// Most they may carry.
    pub limit: Mass,
    /// Rule that sets the limit.
    pub rule: Rule,
}

impl GroupLoad {
    /// Weight over limit: above one when overweight.
    pub fn share(&self) -> f64 {
        f64::from(self.load / self.limit)
    }

    /// Weight that may still be added; below zero when overweight.
    pub fn margin(&self) -> Mass {
        self.limit - self.load
    }
}

/// Most that some axles in a row may carry.
///
/// # Equation
/// W = 500·(L·N/(N − 1) + 12·N + 36), to the nearest 500 lb, a tie down; L in ft between the outer axles, to the
/// nearest foot. Within 8 ft 34,000 lb; between 8 and 9 ft 38,000 lb on two axles, 42,000 lb on three. Never above
/// 20,000 lb an axle.
///
/// # Range
/// 2…9 axles, up to 60 ft apart.
///
/// # Error
/// None: a rule. Five cells of the printed table stand 500 lb below the formula (5 axles at 39 ft, 9 axles at 53…56
/// ft).
///
/// # Source
/// 23 USC 127(a)(2); 23 CFR 658.17(e); FHWA, Report to Congress, May 2015, exhibit 3.
///
/// # Examples
/// ```
/// use quantity::{feet, in_pounds};
/// use road::weight::bridge_formula;
/// assert!((in_pounds(bridge_formula(3, feet(20.0)).unwrap_or_default()) - 51_000.0).abs() < 1e-6);
/// assert!(bridge_formula(1, feet(20.0)).is_none());
/// ```
pub fn bridge_formula(axles: usize, apart: Length) -> Option<Mass> {
    let feet_apart = in_feet(apart);
    if !(2..=9).contains(&axles) || !(0.0..=60.5).contains(&feet_apart) {
        return None;
    }
    let n = axles as f64;
    let most = SINGLE_LB * n;
    if feet_apart <= TANDEM_FT + 1e-9 {
        return Some(pounds(TANDEM_LB.min(most)));
    }
    if feet_apart < JUST_BEYOND_FT - 1e-9 && axles <= 3 {
        return Some(pounds(if axles == 2 { 38_000.0 } else { 42_000.0 }));
    }
    let l = feet_apart.round();
    let steps = l * n / (n - 1.0) + 12.0 * n + 36.0;
    // The printed table rounds a tie down.
    Some(pounds((500.0 * (steps - 0.5 - 1e-9).ceil()).min(most)))
}

/// Every group of axles with what it carries and may carry, the tightest (by its share) first.
///
/// # Equation
/// Every axle against 20,000 lb and its own plate, tandems against 34,000 lb, every longer group against
/// [`bridge_formula`], all against 80,000 lb. Two tandems in a row whose outer axles stand 36 ft apart or more may
/// carry 34,000 lb each.
///
/// # Range
/// Axles first to last, on the Interstate System; other roads and snow work may have other limits.
///
/// # Error
/// None: a rule.
///
/// # Source
/// 23 USC 127; 23 CFR 658.17; FHWA questions and answers on it, for what is a single axle and a tandem.
pub fn groups(axles: &[Axle], own_gross: Option<Mass>) -> Vec<GroupLoad> {
    let mut found = Vec::new();
    for first in 0..axles.len() {
        for last in first..axles.len() {
            found.extend(group(axles, first, last));
        }
    }
    let all = (0, axles.len().saturating_sub(1));
    let load = total(axles, all);
    let limits = [(Some(pounds(GROSS_LB)), Rule::Gross), (own_gross, Rule::OwnGross)];
    for (limit, rule) in limits {
        found.extend(limit.map(|limit| GroupLoad { axles: all, load, limit, rule }));
    }
    found.sort_by(|a, b| b.share().total_cmp(&a.share()));
    found
}

fn total(axles: &[Axle], (first, last): (usize, usize)) -> Mass {
    axles.iter().skip(first).take(last + 1 - first).fold(Mass::default(), |sum, axle| sum + axle.load)
}

fn apart(axles: &[Axle], first: usize, last: usize) -> f64 {
    in_feet(axles[last].at - axles[first].at)
}

fn group(axles: &[Axle], first: usize, last: usize) -> Vec<GroupLoad> {
    let load = total(axles, (first, last));
    let held = |limit: Mass, rule| GroupLoad { axles: (first, last), load, limit, rule };
    if first == last {
        let own = axles[first].limit.map(|limit| held(limit, Rule::OwnLimit));
        return std::iter::once(held(pounds(SINGLE_LB), Rule::Single)).chain(own).collect();
    }
    let l = apart(axles, first, last);
    if l <= ONE_AXLE_FT {
        return vec![held(pounds(SINGLE_LB), Rule::Single)];
    }
    if l <= TANDEM_FT {
        return vec![held(pounds(TANDEM_LB), Rule::Tandem)];
    }
    let is_two_tandems = last - first == 3
        && l.round() >= TWO_TANDEMS_FT
        && (ONE_AXLE_FT..=TANDEM_FT).contains(&apart(axles, first, first + 1))
        && (ONE_AXLE_FT..=TANDEM_FT).contains(&apart(axles, last - 1, last));
    let formula = bridge_formula(last + 1 - first, feet(l));
    let exception = pounds(2.0 * TANDEM_LB);
    let limit = formula.map(|limit| if is_two_tandems && limit < exception { exception } else { limit });
    limit.map(|limit| held(limit, Rule::Bridge)).into_iter().collect()
}

/// Why axle weights cannot be calculated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.message())]
pub enum WeightError {
    /// One group of axles, or more than two: a lever alone does not divide the load between them.
    Groups {
        /// Number of groups.
        groups: usize,
    },
}

impl Tell for WeightError {
    fn message(&self) -> Message {
        let WeightError::Groups { groups } = self;
        message!("road.axle_groups", groups = *groups)
    }
}

/// Axle weights of a truck with a load, from its empty weights and where the load sits.
///
/// # Equation
/// The lever about the middles of the two groups of axles; within a group all axles take the same.
///
/// # Range
/// Two groups: axles nearer than 9 ft to each other are one. A load behind the last group takes weight off the front.
///
/// # Error
/// 3 % of the added load: springs do not share it evenly, and liquid moves.
///
/// # Source
/// Statics. The error is a program default; no published source.
///
/// # Errors
/// [`WeightError::Groups`] for axles in one group, or in more than two.
pub fn loaded(empty: &[Axle], added: &[(Length, Mass)]) -> Result<Vec<Axle>, WeightError> {
    let mut starts = vec![0];
    starts.extend((1..empty.len()).filter(|place| apart(empty, place - 1, *place) > GROUP_FT));
    let &[_, rear_start] = starts.as_slice() else {
        return Err(WeightError::Groups { groups: if empty.is_empty() { 0 } else { starts.len() } });
    };
    let middle = |axles: &[Axle]| axles.iter().map(|axle| in_feet(axle.at)).sum::<f64>() / axles.len() as f64;
    let (front, rear) = empty.split_at(rear_start);
    let (at_front, at_rear) = (middle(front), middle(rear));
    let mut on_rear = 0.0;
    let mut all = 0.0;
    for (at, mass) in added {
        let share = (in_feet(*at) - at_front) / (at_rear - at_front);
        on_rear += share * in_kilograms(*mass);
        all += in_kilograms(*mass);
    }
    let each_front = kilograms((all - on_rear) / front.len() as f64);
    let each_rear = kilograms(on_rear / rear.len() as f64);
    let more = |place: usize| if place < rear_start { each_front } else { each_rear };
    Ok(empty.iter().enumerate().map(|(i, axle)| Axle { load: axle.load + more(i), ..*axle }).collect())
}

/// Most liquid a truck may take before the first group of axles is over its limit; none where it is over already with
/// what it carries.
///
/// # Equation
/// Loads grow in a straight line with the liquid: the least of the room of each group over its share.
///
/// # Range
/// As [`loaded`].
///
/// # Error
/// As [`loaded`].
///
/// # Source
/// Statics and [`groups`].
///
/// # Errors
/// As [`loaded`].
pub fn most_liquid(
    empty: &[Axle],
    aboard: &[(Length, Mass)],
    liquid_at: Length,
    own_gross: Option<Mass>,
) -> Result<Option<(Mass, GroupLoad)>, WeightError> {
    let unit = kilograms(1000.0);
    let without = groups_of(&loaded(empty, aboard)?, own_gross);
    let more: Vec<(Length, Mass)> = aboard.iter().copied().chain([(liquid_at, unit)]).collect();
    let with = groups_of(&loaded(empty, &more)?, own_gross);
    let mut least: Option<(Mass, GroupLoad)> = None;
    for (before, after) in without.iter().zip(&with) {
        if in_kilograms(before.margin()) < 0.0 {
            return Ok(None);
        }
        let per_unit = in_kilograms(after.load - before.load) / in_kilograms(unit);
        if per_unit > 1e-9 {
            let room = kilograms(in_kilograms(before.margin()) / per_unit);
            if least.is_none_or(|(mass, _)| room < mass) {
                least = Some((room, *before));
            }
        }
    }
    Ok(least)
}

/// Groups in a fixed order, for comparing two loads.
fn groups_of(axles: &[Axle], own_gross: Option<Mass>) -> Vec<GroupLoad> {
    let mut found = groups(axles, own_gross);
    found.sort_by_key(|group| (group.axles, group.rule as u8));
    found
}
