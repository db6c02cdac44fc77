//! A balance for each pair of looks, totals and surveys, before the flows are taken off it.

use std::collections::BTreeMap;

use jiff::{SignedDuration, Timestamp};
use quantity::{in_cubic_metres, in_kilograms};

use super::flows::loading_prior;
use super::looks::{Look, density};
use super::{Alike, Rows};
use crate::reconcile::Balance;
use crate::{Journal, Period};
use event::Body;
use site::Metered;
use yard::stock::{End, Flow, SaltEnd};
use yard::uncertain::{
    BY_METER, BY_WEIGHT_KG, DENSITY, FLOW_PCT, MAKING, READING_PCT, RUNS_ALIKE, SALT_ALIKE, TABLE_ALIKE,
    TOTAL_KG, batch,
};

impl Rows {
    /// Rows between the looks into a tank, with the dips' own errors.
    pub(super) fn tank_rows(&mut self, tank: &str, looks: &[Look]) {
        let mut before: Vec<(usize, f64)> = Vec::new();
        for (place, look) in looks.iter().enumerate() {
            let mut on = std::mem::take(&mut before);
            if let Some(next) = looks.get(place + 1) {
                let change = next.mass - look.mass;
                let row = self.push(Balance::Tank(tank.to_owned()), (look.at, next.at), change);
                self.list[row].change = change;
                self.list[row].strength = 0.5 * (look.strength + next.strength);
                on.push((row, -1.0));
                before.push((row, 1.0));
                // The table is a little off everywhere alike: the change is.
                self.off_alike(Alike::Table(tank.to_owned()), TABLE_ALIKE, &[(row, -change)]);
                if let (Some(salt), Some(next_salt)) = (look.salt, next.salt) {
                    let both = (look.at, next.at);
                    let salt_row = self.push(Balance::TankSalt(tank.to_owned()), both, next_salt - salt);
                    on.push((salt_row, -look.strength));
                    before.push((salt_row, next.strength));
                    for at in [look, next] {
                        self.share_error(READING_PCT / 100.0 * at.mass, vec![(salt_row, 1.0)]);
                    }
                }
            }
            self.share_error(look.mass_uncertainty, on);
        }
    }

    /// The loading meter's totals; what was entered is taken off with the other flows.
    pub(super) fn totals(&mut self, journal: &Journal<'_>, period: Period, apart: SignedDuration) {
        for meter in journal.yard().meters.iter().filter(|meter| meter.on == Metered::Loading) {
            for (from, until, counted) in spans(journal, meter, period, apart) {
                let density = mean_density(journal, from, until);
                let row = self.push(
                    Balance::LoadingTotals(meter.id.clone()),
                    (from, until),
                    in_cubic_metres(counted) * density,
                );
                let scatter = DENSITY * in_cubic_metres(counted) * density;
                self.share_error(scatter.hypot(TOTAL_KG), vec![(row, 1.0)]);
            }
        }
    }

    /// Weighed trucks against the loading meter, a row a month of thirty days.
    pub(super) fn weighed(&mut self, journal: &Journal<'_>, period: Period) {
        let mut months: BTreeMap<i64, (Timestamp, Timestamp, f64, f64, f64)> = BTreeMap::new();
        for recorded in journal.events().iter().filter(|r| period.holds(r.event.occurred_at)) {
            let at = recorded.event.occurred_at;
            let factor = journal.yard().loading_meter().map_or(1.0, |meter| meter.factor);
            let (weighed, shown_kg) = match &recorded.event.body {
                Body::LoadOut(load) => {
                    let (Some(weighed), Some(shown)) = (load.weighed_kg, load.metered_m3) else { continue };
                    let Some(strength) = journal.strength_of(recorded.event.id) else { continue };
                    (weighed, factor * shown * density(strength.fraction(), load.temp_c))
                }
                Body::MeterCheck(check) => {
                    let is_loading = journal.yard().meter(&check.meter).map(|meter| meter.on);
                    if is_loading != Some(Metered::Loading) {
                        continue;
                    }
                    (
                        check.weighed_kg,
                        factor * check.shown_m3 * density(check.strength_pct / 100.0, check.temp_c),
                    )
                }
                _ => continue,
            };
            let month = at.as_second().div_euclid(30 * 86_400);
            let entry = months.entry(month).or_insert((at, at, 0.0, 0.0, 0.0));
            entry.1 = at;
            entry.2 += weighed - shown_kg;
            entry.3 += shown_kg;
            let own = BY_WEIGHT_KG.hypot(BY_METER.0 * shown_kg + BY_METER.1);
            entry.4 = entry.4.hypot(own);
        }
        for (from, until, residual, shown, own) in months.into_values() {
            let row = self.push(Balance::Weighed, (from, until), residual);
            self.share_error(own, vec![(row, 1.0)]);
            self.off_alike(Alike::LoadingMeter, loading_prior(journal), &[(row, shown)]);
        }
    }

    /// Water by its meter against the water of what was made and put right.
    pub(super) fn water(&mut self, journal: &Journal<'_>, period: Period, apart: SignedDuration) {
        for meter in journal.yard().meters.iter().filter(|meter| meter.on == Metered::Water) {
            for (from, until, counted) in spans(journal, meter, period, apart) {
                let counted = in_cubic_metres(counted) * 999.0;
                let row = self.push(Balance::Water(meter.id.clone()), (from, until), counted);
                let (mut runs, mut squares) = (0.0, 20.0_f64.powi(2));
                for flow in journal.walk.liquids.iter().filter(|flow| from <= flow.at && flow.at < until) {
                    let water = in_kilograms(flow.liquid.mass) - in_kilograms(flow.liquid.sodium_chloride);
                    let is_run = flow.from == End::Plant;
                    if is_run || flow.from == End::Added {
                        self.list[row].residual -= water;
                        let known = journal.event(flow.event).map(|recorded| &recorded.event.body);
                        let share = if let Some(Body::MakingRun(run)) = known { batch(run) } else { MAKING };
                        squares += (share * water).powi(2);
                        runs += if is_run { water } else { 0.0 };
                    }
                }
                self.share_error(squares.sqrt(), vec![(row, 1.0)]);
                self.off_alike(
                    Alike::WaterMeter(meter.id.clone()),
                    meter.factor_uncertainty,
                    &[(row, -counted)],
                );
                self.off_alike(Alike::Runs, RUNS_ALIKE, &[(row, runs)]);
            }
        }
    }

    /// The pile between surveys; and salt stated for runs against the salt in their brine, month by month.
    pub(super) fn salt(&mut self, journal: &Journal<'_>, period: Period, apart: SignedDuration) {
        let surveys: Vec<(Timestamp, f64, f64)> = journal
            .events()
            .iter()
            .filter(|recorded| period.holds(recorded.event.occurred_at))
            .filter_map(|recorded| match &recorded.event.body {
                Body::PileSurvey(survey) => {
                    let own = survey.uncertainty_pct / 100.0 * survey.mass_kg / 1.96;
                    Some((recorded.event.occurred_at, survey.mass_kg, own))
                }
                _ => None,
            })
            .collect();
        let mut kept: Vec<(Timestamp, f64, f64)> = Vec::new();
        for survey in surveys {
            if kept.last().is_none_or(|last| survey.0.duration_since(last.0) >= apart) {
                kept.push(survey);
            }
        }
        let surveys = kept;
        let mut before: Vec<(usize, f64)> = Vec::new();
        for (place, (at, mass, own)) in surveys.iter().enumerate() {
            let mut on = std::mem::take(&mut before);
            if let Some((next_at, next_mass, _)) = surveys.get(place + 1) {
                let row = self.push(Balance::Pile, (*at, *next_at), next_mass - mass);
                on.push((row, -1.0));
                before.push((row, 1.0));
                let (mut used, mut squares) = (0.0, 0.0);
                for flow in journal.walk.salt.iter().filter(|flow| *at <= flow.at && flow.at < *next_at) {
                    let mass = in_kilograms(flow.mass);
                    match flow.end {
                        SaltEnd::Agreed => {}
                        SaltEnd::Delivered => {
                            self.list[row].residual -= mass;
                            squares += (0.002 * mass).powi(2);
                        }
                        SaltEnd::Made | SaltEnd::Corrected | SaltEnd::Spread(_) => {
                            self.list[row].residual += mass;
                            used += mass;
                            squares += (0.03 * mass).powi(2);
                        }
                    }
                }
                self.share_error(squares.sqrt(), vec![(row, 1.0)]);
                self.off_alike(Alike::SaltUsed, SALT_ALIKE, &[(row, -used)]);
                let days = self.list[row].days();
                self.off_alike(Alike::SaltLost, 0.0, &[(row, days)]);
            }
            self.share_error(*own, on);
        }
        self.salt_made(journal, period);
    }

    fn salt_made(&mut self, journal: &Journal<'_>, period: Period) {
        let share = journal.yard().rock_salt().sodium_chloride();
        let mut months: BTreeMap<i64, (Timestamp, Timestamp, f64, f64, f64, f64)> = BTreeMap::new();
        for recorded in journal.events().iter().filter(|r| period.holds(r.event.occurred_at)) {
            let at = recorded.event.occurred_at;
            let Body::MakingRun(run) = &recorded.event.body else { continue };
            let Some(salt_kg) = run.salt_kg else { continue };
            let put = journal.walk.liquids.iter().find(|flow| flow.event == recorded.event.id);
            let Some(put) = put else { continue };
            let in_brine = in_kilograms(put.liquid.sodium_chloride);
            let stated = salt_kg * share;
            let entry =
                months.entry(at.as_second().div_euclid(30 * 86_400)).or_insert((at, at, 0.0, 0.0, 0.0, 0.0));
            entry.1 = at;
            entry.2 += stated - in_brine;
            entry.3 += stated;
            entry.4 += in_brine;
            let strength = FLOW_PCT / 100.0 * in_kilograms(put.liquid.mass);
            entry.5 = entry.5.hypot(0.02 * stated).hypot(batch(run) * in_brine).hypot(strength);
        }
        for (from, until, residual, stated, in_brine, own) in months.into_values() {
            let row = self.push(Balance::SaltMade, (from, until), residual);
            self.share_error(own, vec![(row, 1.0)]);
            self.off_alike(Alike::SaltUsed, SALT_ALIKE, &[(row, -stated)]);
            self.off_alike(Alike::Runs, RUNS_ALIKE, &[(row, in_brine)]);
        }
    }
}

/// Mean density of what was loaded in a time, kg/m³; brine of the plant's target where nothing was.
fn mean_density(journal: &Journal<'_>, from: Timestamp, until: Timestamp) -> f64 {
    let (mut mass, mut volume) = (0.0, 0.0);
    let within = |flow: &&Flow| from <= flow.at && flow.at < until && matches!(flow.from, End::Tank(_));
    for flow in journal.walk.liquids.iter().filter(within) {
        let stated = match journal.event(flow.event).map(|recorded| &recorded.event.body) {
            Some(Body::LoadOut(load)) => load.volume_m3,
            Some(Body::IssueOut(issue)) => issue.volume_m3,
            _ => continue,
        };
        mass += in_kilograms(flow.liquid.mass);
        volume += stated;
    }
    if volume > 0.0 { mass / volume } else { density(journal.yard().plant.target_strength.fraction(), None) }
}

/// What a meter counted in a period, from a total to the next that stands far enough from it.
fn spans(
    journal: &Journal<'_>,
    meter: &site::Meter,
    period: Period,
    apart: SignedDuration,
) -> Vec<(Timestamp, Timestamp, quantity::Volume)> {
    let mut found: Vec<(Timestamp, Timestamp, quantity::Volume)> = Vec::new();
    for (from, until, counted) in crate::metering::counts(journal, meter) {
        let Ok(counted) = counted else { continue };
        if !period.holds(from) || !period.holds(until) {
            continue;
        }
        match found.last_mut() {
            Some((first, last, sum)) if *last == from && last.duration_since(*first) < apart => {
                *last = until;
                *sum += counted;
            }
            _ => found.push((from, until, counted)),
        }
    }
    found
}
