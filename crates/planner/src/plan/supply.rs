//! What the yard has and makes: tanks, brine runs, where they go, what runs short, and whether the plan balances.

use bench::Conformity;
use chemistry::freezing::FirstSolid;
use chemistry::recipe::{self, Batch};
use chemistry::{Brine, MassFraction};
use jiff::SignedDuration;
use jiff::tz::TimeZone;
use plant::MakingRate;
use quantity::{Mass, Volume, cubic_metres, in_celsius, in_cubic_metres, in_kilograms, kilograms};
use site::Yard;
use site::{CoverFor, Insulation, ProductKind, Tank};
use yard::stock::Books;

use super::needs::{MaterialUse, covered};
use super::{Balance, BalanceOf, PlanError, PlanRequest, Shortage, TankStock, TankUse};
use crate::demand::Bins;
use crate::production::{self, Schedule};

/// Largest error of a balance, as a share of the amount.
const BALANCE_TOLERANCE: f64 = 1e-9;

/// Stock and what is made.
pub(super) struct Supply {
    pub(super) tanks: Vec<TankStock>,
    pub(super) in_hand: Volume,
    pub(super) other_in_hand: Volume,
    pub(super) schedule: Schedule,
    pub(super) tank_uses: Vec<Vec<TankUse>>,
    pub(super) made: Volume,
    pub(super) batch: Batch,
}

/// Schedules brine runs for a cumulative need, m³ by the end of each bin.
pub(super) fn supply(
    request: &PlanRequest<'_>,
    zone: &TimeZone,
    bins: &Bins,
    need: &[f64],
    brine: &Brine,
) -> Result<Supply, PlanError> {
    let yard = request.yard;
    let tanks = tank_stock(yard, request.books);
    let sum = |keep: &dyn Fn(&TankStock) -> bool, of: &dyn Fn(&TankStock) -> Volume| {
        tanks.iter().filter(|t| keep(t)).map(of).fold(cubic_metres(0.0), |a, b| a + b)
    };
    let in_hand = sum(&|t| t.is_brine, &|t| t.usable);
    let other_in_hand = sum(&|t| !t.is_brine, &|t| t.usable);
    let takes_brine = |t: &TankStock| {
        t.is_brine
            && t.product == yard.plant.product
            && matches!(t.conformity, None | Some(Conformity::InSpec))
    };
    let rate = MakingRate {
        rated: yard.plant.making_rate,
        rated_water_temperature: yard.plant.rated_water_temperature,
        loss_per_kelvin: yard.plant.rate_loss_per_kelvin,
        water_supply: yard.plant.water_rate,
    }
    .at(yard.plant.water_temperature, brine)?;
    let salt_per_volume = recipe::salt_per_volume_of_brine(brine, recipe::reference_temperature())?;
    let content = yard.rock_salt().sodium_chloride();
    let limits = production::Limits {
        plant: &yard.plant,
        crew: &yard.crew,
        zone,
        now: request.issued,
        rate,
        in_hand,
        room: sum(&takes_brine, &|t| t.room),
        salt_allows: production::salt_allows(request.books.rock_salt, content, salt_per_volume),
    };
    let schedule = production::schedule(bins, need, &limits);
    let made = schedule.runs.iter().fold(cubic_metres(0.0), |sum, run| sum + run.volume);
    let batch = recipe::batch(brine, made, yard.rock_salt())?;
    let tank_uses = fill_tanks(&schedule, bins, need, &tanks, &takes_brine);
    Ok(Supply { tanks, in_hand, other_in_hand, schedule, tank_uses, made, batch })
}

/// Returns the tanks in use with their content as estimated from entries and measurements.
pub fn tank_stock(yard: &Yard, books: &Books) -> Vec<TankStock> {
    yard.tanks_in_use().filter_map(|tank| stock_of(yard, books, tank)).collect()
}

fn stock_of(yard: &Yard, books: &Books, tank: &Tank) -> Option<TankStock> {
    let product = yard.product(&tank.product)?;
    let (one, stands) = (books.estimate(&tank.id)?, books.standing(yard, &tank.id)?);
    let unlike = stands.content.unlike(product);
    let is_own = unlike.is_empty();
    let is_brine = is_own && matches!(product.kind, ProductKind::SodiumChlorideBrine);
    let is_empty = stands.content.parts().is_empty();
    let strength = stands.strength.filter(|_| is_brine);
    let conformity = stands.conformity.filter(|_| is_brine);
    let mix = if is_own { None } else { stands.content.brine_of(yard) };
    let above_heel = in_cubic_metres(stands.least - tank.heel).max(0.0);
    let serves = product.kind.is_magnesium_or_calcium() || conformity == Some(Conformity::InSpec);
    let counts = is_own && serves;
    let solid = |w: MassFraction| Brine::sodium_chloride(w).ok().and_then(|brine| brine.first_solid().ok());
    // While a sample waits for a second one, the higher of the two freeze points is the one that counts.
    let of_doubt = one.doubted().and_then(|doubted| doubted.strength()).filter(|_| is_brine);
    let of_thought = one.strength().filter(|_| is_brine).and_then(|strength| solid(strength.value));
    let warmer =
        |a: &FirstSolid, b: &FirstSolid| in_celsius(a.temperature).total_cmp(&in_celsius(b.temperature));
    let of_brine =
        of_doubt.and_then(|strength| solid(strength.value)).into_iter().chain(of_thought).max_by(warmer);
    Some(TankStock {
        tank: tank.id.clone(),
        product: product.id.clone(),
        is_brine,
        unlike,
        volume: stands.volume.value,
        volume_within: stands.volume.uncertainty,
        strength: strength.map(|strength| strength.value),
        strength_within: strength.map(|strength| strength.uncertainty),
        doubted: stands.doubted,
        corrected_at: one.corrected_at(),
        is_counted: one.counted_at().is_some(),
        book_apart: books.book_apart(yard, &tank.id),
        conformity,
        usable: cubic_metres(if counts { above_heel } else { 0.0 }),
        room: cubic_metres(in_cubic_metres(tank.working_capacity() - stands.most).max(0.0)),
        is_indoors: tank.insulation == Insulation::Indoors,
        first_solid: of_brine.or_else(|| mix.and_then(|brine| brine.first_solid().ok())),
        mix,
        sheet_freezing: product.kind.freezing_as_delivered().filter(|_| is_own && !is_empty),
    })
}

/// Content and space left of a tank while the plan is carried out, m³.
struct TankLevel {
    tank: String,
    usable: f64,
    room: f64,
}

/// Assigns runs to tanks, those with most space left first, after trucks have drawn from the fullest.
fn fill_tanks(
    schedule: &Schedule,
    bins: &Bins,
    need: &[f64],
    tanks: &[TankStock],
    takes_brine: &dyn Fn(&TankStock) -> bool,
) -> Vec<Vec<TankUse>> {
    let mut levels: Vec<TankLevel> = tanks
        .iter()
        .filter(|tank| takes_brine(tank))
        .map(|tank| TankLevel {
            tank: tank.tank.clone(),
            usable: in_cubic_metres(tank.usable),
            room: in_cubic_metres(tank.room),
        })
        .collect();
    let mut drawn = 0.0;
    schedule
        .runs
        .iter()
        .map(|run| {
            let due = need[bins.bin(run.making_to - SignedDuration::from_secs(1))];
            draw(&mut levels, due - drawn);
            drawn = drawn.max(due);
            pour(&mut levels, in_cubic_metres(run.volume))
        })
        .collect()
}

/// Takes a volume from the fullest tanks first, as far as they hold any.
fn draw(levels: &mut [TankLevel], volume: f64) {
    let mut left = volume.max(0.0);
    levels.sort_by(|a, b| b.usable.total_cmp(&a.usable));
    for level in levels {
        let part = f64::min(left, level.usable);
        level.usable -= part;
        level.room += part;
        left -= part;
    }
}

/// Puts a volume into the tanks with most space left first.
fn pour(levels: &mut [TankLevel], volume: f64) -> Vec<TankUse> {
    let mut left = volume;
    let mut uses: Vec<TankUse> = Vec::new();
    levels.sort_by(|a, b| b.room.total_cmp(&a.room));
    for level in levels.iter_mut() {
        let part = f64::min(left, level.room);
        if part > 0.0 {
            uses.push(TankUse { tank: level.tank.clone(), volume: cubic_metres(part) });
            level.room -= part;
            level.usable += part;
            left -= part;
        }
    }
    // The schedule has made sure of space; what is left over is rounding, and goes with the first tank.
    match (uses.first_mut(), levels.first()) {
        (Some(first), _) => first.volume += cubic_metres(left.max(0.0)),
        (None, Some(level)) => uses.push(TankUse { tank: level.tank.clone(), volume: cubic_metres(left) }),
        (None, None) => {}
    }
    uses
}

pub(super) fn shortages(
    bins: &Bins,
    supply: &Supply,
    uses: &MaterialUse,
    cover_for: CoverFor,
    rock_salt: Mass,
) -> Vec<Shortage> {
    let schedule = &supply.schedule;
    let salt_need = kilograms(covered(uses.salt, cover_for)) + supply.batch.rock_salt;
    let mut found = Vec::new();
    if let (Some(bound_by), Some(first)) =
        (schedule.bound_by, schedule.stock.iter().position(|stock| *stock < -1e-4))
    {
        let worst = schedule.stock.iter().copied().fold(0.0, f64::min);
        found.push(Shortage::Brine { at: bins.at(first), by: cubic_metres(-worst), bound_by });
    }
    let other = covered(uses.other, cover_for) - in_cubic_metres(supply.other_in_hand);
    if other > 1e-4 {
        found.push(Shortage::OtherLiquid { by: cubic_metres(other) });
    }
    let salt = in_kilograms(salt_need - rock_salt);
    if salt > 1e-3 {
        found.push(Shortage::RockSalt { by: kilograms(salt) });
    }
    found
}

/// Checks the plan's own balances and refuses a plan that does not close.
pub(super) fn balance(supply: &Supply, need: &[f64], content: f64) -> Result<Balance, PlanError> {
    let Supply { schedule, in_hand, made, batch, .. } = supply;
    let share = |residual: f64, scale: f64| (residual / scale.abs().max(1.0)).abs();
    let drawn = need.last().copied().unwrap_or(0.0);
    let ready = schedule.ready_by.last().copied().unwrap_or(0.0);
    let unsettled = in_cubic_metres(*made) - ready;
    let left = schedule.stock.last().copied().unwrap_or(0.0) + unsettled;
    let total = in_cubic_metres(*in_hand) + in_cubic_metres(*made);
    let (rock, brine) = (in_kilograms(batch.rock_salt), in_kilograms(batch.brine));
    let found = Balance {
        volume: share(total - drawn - left, total.max(drawn)),
        salt: share(rock * content - in_kilograms(batch.sodium_chloride), rock),
        water: share(rock + in_kilograms(batch.water) - brine - in_kilograms(batch.insolubles), brine),
    };
    let balances =
        [(BalanceOf::Brine, found.volume), (BalanceOf::Salt, found.salt), (BalanceOf::Water, found.water)];
    for (balance, share) in balances {
        if share > BALANCE_TOLERANCE {
            return Err(PlanError::DoesNotClose { balance, share });
        }
    }
    Ok(found)
}
