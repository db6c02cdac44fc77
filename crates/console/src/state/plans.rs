//! Forecasts, and the plans that are made from them.

use std::borrow::Cow;
use std::sync::Arc;

use jiff::Timestamp;
use planner::roads::Roads;
use planner::{Plan, PlanError, PlanRequest};
use quantity::{ThermodynamicTemperature, Time, in_celsius, in_hours, in_seconds};
use yard::stock::Books;

use crate::clock::Clock;
use crate::state::hold;
use crate::{App, NamedForecast};

/// A plan is made anew when this much of the clock has passed, s: a quarter hour, the step of its schedule.
const PLAN_STEP_SECONDS: i64 = 900;

/// Plans kept: one a forecast and state of the ledger is all that pages ask for.
const PLANS_KEPT: usize = 16;

impl App {
    /// All forecasts, the first shown first, replaced by newer ones where their files changed.
    pub fn forecasts(&self) -> Vec<NamedForecast> {
        let mut held = hold(&self.forecasts);
        for forecast in held.iter_mut() {
            match forecast.source.as_ref().map(|source| source.changed()) {
                Some(Ok(Some(weather))) => {
                    forecast.weather = Arc::new(weather);
                    forecast.trouble = None;
                    hold(&self.plans).clear();
                    hold(&self.roads).clear();
                }
                Some(Err(trouble)) => forecast.trouble = Some(trouble),
                Some(Ok(None)) | None => {}
            }
        }
        held.clone()
    }

    /// A forecast by key, or the first.
    pub fn forecast(&self, key: Option<&str>) -> Option<NamedForecast> {
        let forecasts = self.forecasts();
        match key {
            Some(key) => forecasts.into_iter().find(|forecast| forecast.key == key),
            None => forecasts.into_iter().next(),
        }
    }

    /// The plan for a forecast on the present books, from now (to the quarter hour) where the clock runs.
    ///
    /// # Errors
    /// [`PlanError`].
    pub fn plan(&self, forecast: &NamedForecast, books: &Books) -> Result<Arc<Plan>, PlanError> {
        let now = self.clock.now();
        let step = now.as_second().rem_euclid(PLAN_STEP_SECONDS);
        let quarter = Timestamp::from_second(now.as_second() - step).unwrap_or(now);
        // A forecast that stands still, as of a replay, is planned from its own time; the demo's goes on with its day.
        let goes_on = forecast.source.is_some() || matches!(self.clock, Clock::From { .. });
        let issued = if goes_on { forecast.issued.max(quarter) } else { forecast.issued };
        let start_up = self.start_up();
        let key = (forecast.key.clone(), books.last_seq, issued, in_seconds(start_up).round() as i64);
        if let Some(plan) = hold(&self.plans).get(&key) {
            return Ok(Arc::clone(plan));
        }
        let mut yard = Cow::Borrowed(&self.yard);
        if in_seconds(start_up) > in_seconds(yard.plant.start_up) {
            yard.to_mut().plant.start_up = start_up;
        }
        let request = PlanRequest {
            yard: &yard,
            books,
            rates: &self.rates,
            weather: &forecast.weather,
            issued,
            hours: forecast.hours,
            // A replay is told as of its own time; the demo's clock is its now.
            now: match self.clock {
                Clock::System | Clock::Plant(_) if forecast.source.is_none() => issued,
                Clock::System | Clock::Fixed(_) | Clock::From { .. } | Clock::Plant(_) => now,
            },
            seen: None,
        };
        let made = Arc::new(planner::plan_on(&request, self.roads(forecast, &request)?)?);
        let mut plans = hold(&self.plans);
        if plans.len() >= PLANS_KEPT {
            plans.clear();
        }
        plans.insert(key, Arc::clone(&made));
        Ok(made)
    }

    /// What the roads do under a forecast in this hour: the same for every entry of the ledger.
    fn roads(&self, forecast: &NamedForecast, request: &PlanRequest<'_>) -> Result<Arc<Roads>, PlanError> {
        let hour = request.issued.as_second().div_euclid(3600);
        let key = (forecast.key.clone(), hour, request.books.roads.taken);
        if let Some(roads) = hold(&self.roads).get(&key) {
            return Ok(Arc::clone(roads));
        }
        let seen = self.road_memory.seen(&self.yard, request.issued);
        let request = PlanRequest { seen: Some(&seen), ..*request };
        let made = Arc::new(planner::roads_under(&request)?);
        self.road_memory.note(&forecast.key, &made, request.issued);
        // What a forecast said is held against what came only where it goes on with the clock.
        if forecast.source.is_some()
            && self.forecasts().first().is_some_and(|first| first.key == forecast.key)
        {
            self.road_memory.keep(&self.yard, &made, &forecast.weather, request.issued);
        }
        let mut kept = hold(&self.roads);
        if kept.len() >= PLANS_KEPT {
            kept.clear();
        }
        kept.insert(key, Arc::clone(&made));
        Ok(made)
    }

    /// Time a plan counts for the plant to come up to strength: the yard file's, or what the plant's own model and runs
    /// say of the middle run, where that is longer. One figure for *Plan* and *Make brine*.
    pub(crate) fn start_up(&self) -> Time {
        let own = self.yard.plant.start_up;
        self.watch
            .usual_start_up()
            .map_or(own, |seconds| quantity::hours((seconds / 3600.0).max(in_hours(own))))
    }

    /// Coldest and warmest air ahead: by the plan's hours, and where there is no plan by the first forecast's own.
    pub(crate) fn air_ahead(&self, plan: Option<&Plan>) -> Option<[ThermodynamicTemperature; 2]> {
        let by = |a: &ThermodynamicTemperature, b: &ThermodynamicTemperature| {
            in_celsius(*a).total_cmp(&in_celsius(*b))
        };
        let spread = |air: Vec<ThermodynamicTemperature>| {
            Some([air.iter().copied().min_by(by)?, air.iter().copied().max_by(by)?])
        };
        if let Some(plan) = plan {
            return spread(plan.hours.iter().filter_map(|hour| hour.air).collect());
        }
        let forecast = self.forecast(None)?;
        let now = self.clock.now();
        let goes_on = forecast.source.is_some() || matches!(self.clock, Clock::From { .. });
        let from = if goes_on { forecast.issued.max(now) } else { forecast.issued };
        let grid = forecast.weather.hourly(from, forecast.hours, weather::GridOptions::default());
        spread(grid.hours.iter().filter_map(|hour| hour.air).collect())
    }
}
