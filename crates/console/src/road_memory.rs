//! What is kept of roads beside the ledger: the weather of every hour as it was last forecast, and what was forecast of
//! each road, to be held against readings later. Both lie in the telemetry, an hour a sample.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use jiff::{SignedDuration, Timestamp};
use planner::roads::{ACTED_ON, CallOut, KEPT_MEMBERS, RoadOf, Roads, RoadsSeen, Sensed, StripHour};
use quantity::{celsius, in_celsius, in_metres_per_second, in_millimetres, metres_per_second, millimetres};
use road::score::Pair;
use site::Yard;
use store::telemetry::{Channel, Sample, Telemetry};
use weather::{Fraction, GridOptions, Hour, Irradiance, WeatherFile};
use yard::road_log::RoadLog;

/// Hours ahead at which forecasts are kept.
pub(crate) const LEADS: [usize; 6] = [1, 3, 6, 12, 24, 48];
/// Hours of weather that a road is brought through.
const PAST_HOURS: i64 = 168;
/// Days of forecasts that are held against readings.
const SCORED_DAYS: i64 = 28;
/// What is kept of a forecast beside its members.
const QUANTILES: [&str; 4] = ["p10", "p50", "p90", "below"];
/// What is kept of an hour of weather.
const WEATHER: [&str; 7] = ["air", "humidity", "wind", "cloud", "shortwave", "water", "frozen"];

/// Hours for which it is said that a call-out was taken back.
const SAID_HOURS: i64 = 12;

/// The last roads of a forecast, and what it took back since.
#[derive(Default)]
struct Last {
    roads: Option<Arc<Roads>>,
    taken_back: Vec<(Timestamp, CallOut)>,
}

/// The memory of a console; without telemetry it knows the last call-outs alone.
pub(crate) struct RoadMemory {
    last: Mutex<HashMap<String, Last>>,
    telemetry: Option<Arc<dyn Telemetry>>,
    /// The last hour that was kept.
    kept: Mutex<Option<i64>>,
}

/// Forecasts of one lead beside what came.
pub(crate) struct Scored {
    /// Hours ahead.
    pub(crate) lead: usize,
    pub(crate) pairs: Vec<Pair>,
}

fn hour_of(at: Timestamp) -> i64 {
    at.as_second().div_euclid(3600)
}

fn start_of(hour: i64) -> Timestamp {
    Timestamp::from_second(3600 * hour).unwrap_or(Timestamp::UNIX_EPOCH)
}

/// Name of what is kept of a road's forecast.
fn name(yard: &Yard, road: RoadOf, lead: usize, what: &str) -> String {
    let part = if road.is_deck && road.segment.is_none() { "deck" } else { "road" };
    format!("forecast {} {part} {lead} h {what}", road.id(yard))
}

impl RoadMemory {
    pub(crate) fn new(telemetry: Option<Arc<dyn Telemetry>>) -> Self {
        Self { last: Mutex::default(), telemetry, kept: Mutex::new(None) }
    }

    /// Notes what new roads of a forecast no longer call for.
    pub(crate) fn note(&self, forecast: &str, roads: &Arc<Roads>, now: Timestamp) {
        let mut all = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        let last = all.entry(forecast.to_owned()).or_default();
        if let Some(earlier) = last.roads.replace(Arc::clone(roads)) {
            last.taken_back.extend(roads.taken_back(&earlier, now).map(|call| (now, call.clone())));
        }
        // What is called for again is taken back no more.
        last.taken_back.retain(|(at, call)| {
            let is_recent = now.duration_since(*at).as_hours() < SAID_HOURS && call.span[1] > now;
            is_recent && !roads.callouts.iter().any(|one| one.kind == call.kind && one.chance >= ACTED_ON)
        });
    }

    /// Call-outs that a forecast took back lately.
    pub(crate) fn taken_back(&self, forecast: &str) -> Vec<CallOut> {
        let all = self.last.lock().unwrap_or_else(PoisonError::into_inner);
        all.get(forecast)
            .map_or_else(Vec::new, |last| last.taken_back.iter().map(|(_, call)| call.clone()).collect())
    }

    /// Keeps the weather up to this hour, and what is forecast of every road, once an hour. What cannot be kept is
    /// missed in the scores and nowhere else.
    pub(crate) fn keep(&self, yard: &Yard, roads: &Roads, weather: &WeatherFile, now: Timestamp) {
        let Some(telemetry) = &self.telemetry else { return };
        let this_hour = hour_of(now);
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.is_some_and(|kept| this_hour <= kept) {
            return;
        }
        let from = kept.map_or(this_hour - PAST_HOURS, |kept| kept + 1).max(this_hour - PAST_HOURS);
        *kept = Some(this_hour);
        drop(kept);
        let mut samples = Vec::new();
        let mut keep = |name: &str, at: Timestamp, value: f64| {
            if let Ok(channel) = telemetry.channel(name) {
                samples.push(Sample { channel, at, value });
            }
        };
        let grid = weather.hourly(start_of(from), (this_hour - from + 1) as usize, GridOptions::default());
        for hour in grid.hours.iter().filter(|hour| hour.air.is_some()) {
            let values = [
                hour.air.map(in_celsius),
                hour.relative_humidity.map(Fraction::ratio),
                hour.wind.map(in_metres_per_second),
                hour.cloud.map(Fraction::ratio),
                hour.shortwave.map(Irradiance::watts_per_square_metre),
                hour.precipitation.map(in_millimetres),
                hour.frozen_share.map(Fraction::ratio),
            ];
            for (what, value) in WEATHER.iter().zip(values) {
                if let Some(value) = value {
                    keep(&format!("weather {what}"), hour.start, value);
                }
            }
        }
        for strip in &roads.strips {
            // Of segments only those that are read are kept: a yard may have thousands.
            let is_read = roads.read.iter().any(|read| read.road == strip.road);
            if strip.road.segment.is_some() && !is_read {
                continue;
            }
            for lead in LEADS {
                let Some(hour) = strip.hours.get(lead) else { continue };
                let StripHour { surface, members, below_freezing, start, .. } = hour;
                let values = [surface[0], surface[1], surface[2], *below_freezing];
                for (what, value) in QUANTILES.iter().zip(values) {
                    keep(&name(yard, strip.road, lead, what), *start, value);
                }
                for (number, member) in members.iter().enumerate() {
                    keep(&name(yard, strip.road, lead, &format!("m{number}")), *start, *member);
                }
            }
        }
        telemetry.take(&samples);
        // The next save tries again.
        let _ = telemetry.save();
    }

    /// What is known of roads beside ledger and forecast: weather of the last week, and what sensors showed.
    pub(crate) fn seen(&self, yard: &Yard, now: Timestamp) -> RoadsSeen {
        let Some(telemetry) = &self.telemetry else { return RoadsSeen::default() };
        let until = hour_of(now);
        let from = until - PAST_HOURS;
        let of = |name: &str| Some((name.to_owned(), telemetry.channel(name).ok()?));
        let mut hours: Vec<Hour> = (from..until).map(|hour| Hour::unknown(start_of(hour))).collect();
        for what in WEATHER {
            let Some((_, channel)) = of(&format!("weather {what}")) else { continue };
            for sample in self.samples(channel, start_of(from), start_of(until)) {
                let Ok(place) = usize::try_from(hour_of(sample.at) - from) else { continue };
                if let Some(hour) = hours.get_mut(place) {
                    set(hour, what, sample.value);
                }
            }
        }
        hours.retain(|hour| hour.air.is_some());
        let mut sensed = Vec::new();
        for point in &yard.points {
            let (Some((road, is_deck)), Ok(channel)) = (&point.road, telemetry.channel(&point.id)) else {
                continue;
            };
            let columns = telemetry
                .window(channel, start_of(from), start_of(until + 1), PAST_HOURS as usize + 1)
                .unwrap_or_default();
            sensed.extend(columns.into_iter().map(|column| Sensed {
                road: road.clone(),
                is_deck: *is_deck,
                at: column.from + SignedDuration::from_mins(30),
                surface: column.mean,
            }));
        }
        sensed.sort_by_key(|one| one.at);
        RoadsSeen { sensed, weather: hours }
    }

    fn samples(&self, channel: Channel, from: Timestamp, to: Timestamp) -> Vec<Sample> {
        self.telemetry
            .as_ref()
            .and_then(|telemetry| telemetry.samples(channel, from, to).ok())
            .unwrap_or_default()
    }

    /// Forecasts of a road in the last four weeks beside its readings, lead by lead.
    pub(crate) fn scored(&self, yard: &Yard, road: RoadOf, log: &RoadLog, now: Timestamp) -> Vec<Scored> {
        let Some(telemetry) = &self.telemetry else { return Vec::new() };
        let from = now - SignedDuration::from_hours(24 * SCORED_DAYS);
        let mut came: Vec<(i64, f64)> = log
            .readings
            .iter()
            .filter(|one| one.at >= from && RoadOf::named(yard, &one.road, one.is_deck) == Some(road))
            .map(|one| (hour_of(one.at), one.surface))
            .collect();
        let is_of = |point: &&site::points::Point| {
            let named = point.road.as_ref().and_then(|(id, is_deck)| RoadOf::named(yard, id, *is_deck));
            named == Some(road)
        };
        for point in yard.points.iter().filter(is_of) {
            let Ok(channel) = telemetry.channel(&point.id) else { continue };
            let columns = telemetry.window(channel, from, now, 24 * SCORED_DAYS as usize).unwrap_or_default();
            came.extend(columns.into_iter().map(|column| (hour_of(column.from), column.mean)));
        }
        let of_lead = |lead: usize| -> Option<Scored> {
            let at_hours = |what: &str| -> Option<HashMap<i64, f64>> {
                let channel = telemetry.channel(&name(yard, road, lead, what)).ok()?;
                let samples = self.samples(channel, from, now);
                Some(samples.into_iter().map(|sample| (hour_of(sample.at), sample.value)).collect())
            };
            let quantiles: Vec<_> = QUANTILES.iter().map(|what| at_hours(what)).collect::<Option<_>>()?;
            let members: Vec<_> =
                (0..KEPT_MEMBERS).map(|number| at_hours(&format!("m{number}"))).collect::<Option<_>>()?;
            let pair = |(hour, came): &(i64, f64)| {
                let at = |all: &HashMap<i64, f64>| all.get(hour).copied();
                Some(Pair {
                    members: members.iter().map(at).collect::<Option<_>>()?,
                    quantiles: [at(&quantiles[0])?, at(&quantiles[1])?, at(&quantiles[2])?],
                    below_freezing: at(&quantiles[3])?,
                    came: *came,
                })
            };
            Some(Scored { lead, pairs: came.iter().filter_map(pair).collect() })
        };
        LEADS.into_iter().filter_map(of_lead).collect()
    }
}

/// Sets one value of an hour as it was kept.
fn set(hour: &mut Hour, what: &str, value: f64) {
    match what {
        "air" => hour.air = Some(celsius(value)),
        "humidity" => hour.relative_humidity = Fraction::from_ratio(value).ok(),
        "wind" => hour.wind = Some(metres_per_second(value)),
        "cloud" => hour.cloud = Fraction::from_ratio(value).ok(),
        "shortwave" => hour.shortwave = Irradiance::from_watts_per_square_metre(value).ok(),
        "water" => hour.precipitation = Some(millimetres(value)),
        _ => hour.frozen_share = Fraction::from_ratio(value).ok(),
    }
}
