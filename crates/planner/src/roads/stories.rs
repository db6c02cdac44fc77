//! The weather that roads go through: the middle story, its members, and what acts in each.

use std::sync::Arc;

use chemistry::Brine;
use jiff::{SignedDuration, Timestamp, tz::TimeZone};
use quantity::celsius;
use road::RateTable;
use road::course::STEP;
use road::sky::Place;
use road::story::Story;
use road::surface::Forcing;
use site::Yard;
use weather::{GridOptions, HourlyGrid, Pressure, WeatherFile};
use yard::road_log::{RoadReadingEntry, RoadTreatment};

use super::parts::{RoadsSeen, is_sprayed_ahead};

/// Hours of the past that a road is brought through, where they are known: a week.
const PAST: usize = 168;
/// Members drawn where a forecast has none: with fewer a chance of 5 % is one member.
const MEMBERS: u64 = 40;
/// Least native members that are taken as they are.
const LEAST_MEMBERS: usize = 5;
/// Seed of all draws. One for all plans, so that a change of the forecast and not of the draw changes a plan.
const SEED: u64 = 1;
/// Latitude of a yard that does not say where it is: the middle of the northern states.
const USUAL_LATITUDE: f64 = 43.0;

/// What roads are asked of.
pub(crate) struct Asked<'a> {
    pub(crate) yard: &'a Yard,
    pub(crate) rates: &'a RateTable,
    pub(crate) weather: &'a WeatherFile,
    pub(crate) brine: &'a Brine,
    pub(crate) from: Timestamp,
    pub(crate) hours: usize,
    pub(crate) use_suspect: bool,
    /// Readings and treatments of the ledger, oldest first.
    pub(crate) readings: &'a [RoadReadingEntry],
    pub(crate) treatments: &'a [RoadTreatment],
    /// What is known beside ledger and forecast.
    pub(crate) seen: Option<&'a RoadsSeen>,
}

/// Weather as it is told, with what acts on a surface in every step of it.
pub(super) struct Told {
    pub(super) story: Story,
    pub(super) forcing: Vec<Forcing>,
    /// Members with what acts in the steps of their forecast.
    pub(super) members: Vec<Acting>,
    /// Members as the file gives them; empty where they are drawn.
    own: Vec<Story>,
}

/// A story with what acts in the steps of its forecast, shared by all sorts of road.
pub(super) type Acting = (Arc<Story>, Arc<[Forcing]>);

/// What a road's readings say of its model at a lead, h: correction and standard deviation, K.
pub(super) type Reads = dyn Fn(f64) -> (f64, f64);
pub(super) type Read<'a> = &'a Reads;

impl Told {
    /// The middle story and all members of a road that is read. Their weather is that of the members here.
    pub(super) fn corrected(&self, read: Read<'_>) -> (Story, Vec<Story>) {
        (self.story.corrected(read), members(&self.story, &self.own, Some(read)))
    }
}

fn members(story: &Story, own: &[Story], read: Option<Read<'_>>) -> Vec<Story> {
    if own.is_empty() {
        (0..MEMBERS).map(|number| story.member(SEED, number, read)).collect()
    } else {
        let of = |(number, story): (usize, &Story)| story.clone().with_road_error(SEED, number as u64, read);
        own.iter().enumerate().map(of).collect()
    }
}

/// Where the sun is taken from: the yard's place, or its time zone in winter.
pub fn place_of(yard: &Yard) -> Place {
    /// Midwinter of a year, s since 1970.
    const WINTER: i64 = 1_768_435_200;
    if let Some(place) = yard.place {
        return place;
    }
    let winter = Timestamp::from_second(WINTER).unwrap_or(Timestamp::UNIX_EPOCH);
    let seconds = TimeZone::get(&yard.time_zone).map_or(0, |zone| zone.to_offset(winter).seconds());
    Place { latitude: USUAL_LATITUDE, longitude: f64::from(seconds) / 240.0 }
}

impl Asked<'_> {
    fn pressure(&self) -> Pressure {
        weather::psychrometrics::standard_pressure(self.yard.elevation).unwrap_or(Pressure::STANDARD)
    }

    /// Hours that the file does not tell, as they were seen when they came.
    fn with_seen(&self, mut grid: HourlyGrid) -> HourlyGrid {
        let seen = self.seen.map_or(&[][..], |seen| seen.weather.as_slice());
        for hour in grid.hours.iter_mut().take(PAST).filter(|hour| hour.air.is_none()) {
            if let Ok(place) = seen.binary_search_by_key(&hour.start, |one| one.start) {
                *hour = seen[place].clone();
            }
        }
        grid
    }

    /// The middle story and its members; none where the file tells nothing of the air.
    pub(super) fn told(&self) -> Option<Told> {
        let begin = self.from - SignedDuration::from_hours(PAST as i64);
        let options = GridOptions { use_suspect: self.use_suspect, pressure: Some(self.pressure()) };
        let grid = self.with_seen(self.weather.hourly(begin, PAST + self.hours, options));
        let place = place_of(self.yard);
        // Hours before the first temperature tell nothing.
        let first = grid.hours[..PAST].iter().position(|hour| hour.air.is_some()).unwrap_or(PAST);
        let story = Story::of(&grid.hours[first..], PAST - first, place, self.pressure())?;
        let own: Vec<Story> = self
            .weather
            .member_grids(begin, PAST + self.hours, options)
            .into_iter()
            .filter_map(|(_, member)| {
                let member = self.with_seen(member);
                Story::of(&member.hours[first..], PAST - first, place, self.pressure())
            })
            .collect();
        let own = if own.len() >= LEAST_MEMBERS { own } else { Vec::new() };
        let forcing = story.forcing(STEP, 0);
        let members = members(&story, &own, None)
            .into_iter()
            .map(|member| {
                let forcing = member.forcing(STEP, member.past);
                (Arc::new(member), forcing.into())
            })
            .collect();
        Some(Told { story, forcing, members, own })
    }

    /// Hours from the first hook-up to the last spray, of all routes that are pretreated, at a middle rate.
    pub(super) fn work(&self) -> Result<Option<f64>, chemistry::Error> {
        let condition = road::rates::Condition {
            use_for: road::rates::Use::AntiIcing,
            event: road::rates::EventKind::Snow,
            pass: road::rates::Pass::First,
            pavement: celsius(-2.0),
            trend: road::rates::Trend::Steady,
        };
        let Some(rate) = self.rates.find(&condition) else { return Ok(Some(0.0)) };
        let [_, rate, _] = rate.liquid(self.brine)?;
        let per_route: Vec<_> = self
            .yard
            .routes
            .iter()
            .enumerate()
            .filter(|(_, route)| is_sprayed_ahead(self.yard, &route.class))
            .map(|(place, route)| (place, rate.on(route.lane_length), route.lane_length))
            .collect();
        let density = self.brine.density(chemistry::recipe::reference_temperature())?;
        let loading = crate::loading::load_by(self.yard, &per_route, density, self.from);
        Ok(loading.map(|loading| loading.end.duration_since(loading.begin).as_secs_f64() / 3600.0))
    }
}
