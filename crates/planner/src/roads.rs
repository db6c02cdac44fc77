//! What the roads do in a forecast and what crews must do about it: surfaces with their spread, treatments of the
//! middle story, and call-outs with their chance.
//!
//! Every class of route is a road and, where it has bridges, a deck. Each member of the forecast is one storm that goes
//! through all of them; a chance is the share of members, a range its quantiles, taken at the end.

use chemistry::Brine;
use jiff::{SignedDuration, Timestamp, tz::TimeZone};
use quantity::{ThermodynamicTemperature, Time, celsius, in_hours};
use road::RateTable;
use road::course::{Act, Course, Hazard, Service, Start};
use road::score::quantile;
use road::section::Section;
use road::sky::Place;
use road::spraying::Limits;
use road::story::Story;
use site::{Policy, Yard};
use weather::{GridOptions, Pressure, WeatherFile};

use calls::{Called, Calls, hazard_hours};
pub(crate) use draws::draws;

mod calls;
mod draws;

/// Hours of the past that a road is brought through, where the file has them: a week.
const PAST: usize = 168;
/// Members drawn where a forecast has none: with fewer a chance of 5 % is one member.
const MEMBERS: u64 = 40;
/// Seed of all draws. One for all plans, so that a change of the forecast and not of the draw changes a plan.
const SEED: u64 = 1;
/// Latitude of a yard that does not say where it is: the middle of the northern states.
const USUAL_LATITUDE: f64 = 43.0;
/// Chance from which a call-out is told at all.
pub const TOLD: f64 = 0.10;
/// Chance from which crews act on it.
pub const ACTED_ON: f64 = 0.30;

/// What a call-out is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CallKind {
    /// Spray before it begins.
    Pretreat,
    /// First treatment of an event.
    FirstTreatment,
    /// Another pass.
    Repeat,
    /// The last pass after nothing falls any more.
    CleanUp,
    /// Plowing where salt does not work.
    PlowOnly,
    /// Dry snow drifts back over the road.
    BlowingSnow,
    /// Vapor settles as ice.
    Frost,
    /// Water freezes that was not frozen before.
    WetFreeze,
    /// What had melted freezes again.
    Refreeze,
    /// Nothing is to be done.
    NoAction,
}

/// Why a call-out is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CallWhy {
    /// The road itself.
    Road,
    /// Bridges only: the road holds.
    Bridges,
    /// Snow banks beside the road melt by day and their water freezes.
    Banks,
}

/// A call on the crew.
#[derive(Debug, Clone)]
pub struct CallOut {
    /// What for.
    pub kind: CallKind,
    /// Indexes of the routes in the yard.
    pub routes: Vec<usize>,
    /// When it begins and ends.
    pub span: [Timestamp; 2],
    /// Chance that it will be needed, 0…1.
    pub chance: f64,
    /// Why.
    pub why: CallWhy,
    /// Coldest road in it, of the middle story.
    pub coldest: ThermodynamicTemperature,
}

/// A surface in one hour over all members.
#[derive(Debug, Clone, Copy)]
pub struct StripHour {
    /// Start of the hour.
    pub start: Timestamp,
    /// Mean surface temperature that 10, 50 and 90 of 100 members are below, °C.
    pub surface: [f64; 3],
    /// Road at the end of the hour in the middle story, as served.
    pub middle: road::course::RoadAt,
    /// Share of members in which the road is slippery as served.
    pub slippery: f64,
}

/// A road of a class over the hours of the plan.
#[derive(Debug, Clone)]
pub struct Strip {
    /// Index of the class in the yard.
    pub class: usize,
    /// Whether it is a deck.
    pub is_deck: bool,
    /// Its hours.
    pub hours: Vec<StripHour>,
}

/// One class of route: what is done for it in the middle story and in every member.
#[derive(Debug, Clone)]
pub struct ClassCourse {
    /// Index of the class in the yard.
    pub class: usize,
    /// The middle story, served.
    pub middle: Course,
    /// The same without treatment.
    pub untreated: Course,
    /// Treatments of every member.
    pub members: Vec<Vec<Act>>,
}

/// What the roads do in a forecast.
#[derive(Debug, Clone, Default)]
pub struct Roads {
    /// Each class.
    pub classes: Vec<ClassCourse>,
    /// Roads and decks.
    pub strips: Vec<Strip>,
    /// Calls on the crew, in order of time.
    pub callouts: Vec<CallOut>,
    /// Whether frost settles on an untreated road, hour by hour: in a warm story, the middle one, a cold one.
    pub frost: Vec<[bool; 3]>,
    /// Hours that the trucks take to pretreat all that is pretreated; none without a truck.
    pub work: Option<f64>,
    /// Whether the sun is that of the yard's own place, or of its time zone.
    pub place_known: bool,
    /// Whether nobody knows the cloud in some hour of the plan.
    pub cloud_unknown: bool,
}

/// What roads are asked of.
pub(crate) struct Asked<'a> {
    pub(crate) yard: &'a Yard,
    pub(crate) rates: &'a RateTable,
    pub(crate) weather: &'a WeatherFile,
    pub(crate) brine: &'a Brine,
    pub(crate) from: Timestamp,
    pub(crate) hours: usize,
    pub(crate) use_suspect: bool,
}

/// Where the sun is taken from: the yard's time zone, in winter, where it does not say where it is.
fn place_of(yard: &Yard) -> Place {
    /// Midwinter of a year, s since 1970.
    const WINTER: i64 = 1_768_435_200;
    let winter = Timestamp::from_second(WINTER).unwrap_or(Timestamp::UNIX_EPOCH);
    let seconds = TimeZone::get(&yard.time_zone).map_or(0, |zone| zone.to_offset(winter).seconds());
    Place { latitude: USUAL_LATITUDE, longitude: f64::from(seconds) / 240.0 }
}

impl Asked<'_> {
    fn pressure(&self) -> Pressure {
        weather::psychrometrics::standard_pressure(self.yard.elevation).unwrap_or(Pressure::STANDARD)
    }

    /// The middle story and its members.
    fn stories(&self) -> Option<(Story, Vec<Story>)> {
        let begin = self.from - SignedDuration::from_hours(PAST as i64);
        let options = GridOptions { use_suspect: self.use_suspect, pressure: Some(self.pressure()) };
        let grid = self.weather.hourly(begin, PAST + self.hours, options);
        let place = place_of(self.yard);
        // Hours before the file's first temperature tell nothing.
        let first = grid.hours[..PAST].iter().position(|hour| hour.air.is_some()).unwrap_or(PAST);
        let story = Story::of(&grid.hours[first..], PAST - first, place, self.pressure())?;
        let own: Vec<Story> = self
            .weather
            .member_grids(begin, PAST + self.hours, options)
            .iter()
            .filter_map(|(_, grid)| Story::of(&grid.hours[first..], PAST - first, place, self.pressure()))
            .enumerate()
            .map(|(number, story)| story.with_road_error(SEED, number as u64))
            .collect();
        let members = if own.len() >= 5 {
            own
        } else {
            (0..MEMBERS).map(|number| story.member(SEED, number, None)).collect()
        };
        Some((story, members))
    }

    /// Hours from the first hook-up to the last spray, of all routes that are pretreated, at a middle rate.
    fn work(&self) -> Result<Option<f64>, chemistry::Error> {
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

    /// What the roads do; none where the file tells nothing of the air.
    pub(crate) fn answer(&self) -> Result<Option<Roads>, chemistry::Error> {
        let Some((story, members)) = self.stories() else { return Ok(None) };
        let policy = &self.yard.policy;
        let mut roads = Roads {
            classes: Vec::new(),
            strips: Vec::new(),
            callouts: Vec::new(),
            frost: Vec::new(),
            work: self.work()?,
            place_known: false,
            cloud_unknown: story.hours[story.past..].iter().any(|hour| hour.cloud_unknown),
        };
        // Roads of all classes are alike until the yard says otherwise: what they do untreated is worked out once.
        let ground = Kind::of(Section { sky_view: 0.95, ..Section::ASPHALT }, &story, &members);
        roads.frost = frost(&ground);
        let mut deck_story = story.clone();
        let mut deck_members = members.clone();
        for one in std::iter::once(&mut deck_story).chain(&mut deck_members) {
            // A forecast of the road says nothing of a deck.
            for hour in &mut one.hours {
                hour.pavement = None;
            }
        }
        let deck = Kind::of(Section { sky_view: 0.95, ..Section::DECK }, &deck_story, &deck_members);
        let mut calls = Calls { yard: self.yard, story: &story, found: Vec::new() };
        for (place, class) in self.yard.route_classes.iter().enumerate() {
            let routes: Vec<usize> = (0..self.yard.routes.len())
                .filter(|route| self.yard.routes[*route].class == class.id)
                .collect();
            if routes.is_empty() {
                continue;
            }
            let service = service(class.anti_icing, class.cycle, policy, roads.work);
            let served = ground.served(&service, self.rates, self.brine, &story, &members)?;
            let by_deck = deck.served(&service, self.rates, self.brine, &deck_story, &deck_members)?;
            let cycle = in_hours(class.cycle).round() as usize;
            calls.of_class(&routes, cycle, &ground, &served, &deck);
            for (kind, served, is_deck) in [(&ground, &served, false), (&deck, &by_deck, true)] {
                roads.strips.push(strip(place, is_deck, kind, served, &story));
            }
            roads.classes.push(ClassCourse {
                class: place,
                untreated: ground.middle.clone(),
                members: served.members.iter().map(|course| course.acts.clone()).collect(),
                middle: served.middle,
            });
        }
        roads.callouts = calls.joined();
        Ok(Some(roads))
    }
}

/// Frost on a road by the hour: in four of five members, in the middle story, in one of five.
fn frost(road: &Kind) -> Vec<[bool; 3]> {
    let members: Vec<Called> = road.members.iter().map(|one| hazard_hours(one, Hazard::Frost)).collect();
    let total = members.len().max(1) as f64;
    let share = |hour: usize| members.iter().filter(|one| one[hour]).count() as f64 / total;
    let middle = hazard_hours(&road.middle, Hazard::Frost);
    middle
        .iter()
        .enumerate()
        .map(|(hour, middle)| [share(hour) >= 0.8, *middle, share(hour) >= 0.2])
        .collect()
}

fn service(anti_icing: bool, cycle: Time, policy: &Policy, work: Option<f64>) -> Service {
    Service {
        cycle: in_hours(cycle),
        anti_icing,
        work: work.unwrap_or(f64::MAX),
        lead: in_hours(policy.lead_min),
        limits: Limits {
            block_below: policy.block_below,
            warn_below: policy.warn_below,
            warn_wind: policy.warn_wind,
        },
    }
}

/// A sort of road through all stories, untreated.
struct Kind {
    start: Start,
    starts: Vec<Start>,
    middle: Course,
    members: Vec<Course>,
}

/// A sort of road as served for one class.
struct Served {
    middle: Course,
    members: Vec<Course>,
}

impl Kind {
    fn of(section: Section, story: &Story, members: &[Story]) -> Self {
        let begin = |story: &Story| Start::new(section, story, &|_| None);
        let start = begin(story);
        let starts: Vec<Start> = members.iter().map(begin).collect();
        let middle = Course::untreated(&start, story);
        let members =
            starts.iter().zip(members).map(|(start, story)| Course::untreated(start, story)).collect();
        Self { start, starts, middle, members }
    }

    fn served(
        &self,
        service: &Service,
        rates: &RateTable,
        brine: &Brine,
        story: &Story,
        members: &[Story],
    ) -> Result<Served, chemistry::Error> {
        let middle = Course::served(&self.start, story, service, rates, brine, &self.middle)?;
        let members = self
            .starts
            .iter()
            .zip(members)
            .zip(&self.members)
            .map(|((start, story), untreated)| Course::served(start, story, service, rates, brine, untreated))
            .collect::<Result<_, _>>()?;
        Ok(Served { middle, members })
    }
}

fn strip(class: usize, is_deck: bool, kind: &Kind, served: &Served, story: &Story) -> Strip {
    let hours = (0..served.middle.hours.len())
        .map(|hour| {
            let mut surfaces: Vec<f64> = kind.members.iter().map(|course| course.hours[hour].mean).collect();
            surfaces.push(kind.middle.hours[hour].mean);
            surfaces.sort_by(f64::total_cmp);
            let at = |share: f64| quantile(&surfaces, share).unwrap_or(0.0);
            let slippery = served.members.iter().filter(|one| one.hours[hour].slippery).count() as f64;
            StripHour {
                start: story.at(story.past + hour),
                surface: [at(0.1), at(0.5), at(0.9)],
                middle: served.middle.hours[hour],
                slippery: slippery / served.members.len().max(1) as f64,
            }
        })
        .collect();
    Strip { class, is_deck, hours }
}

/// Whether a class of route is pretreated.
pub(crate) fn is_sprayed_ahead(yard: &Yard, class: &str) -> bool {
    yard.route_classes.iter().any(|c| c.id == class && c.anti_icing)
}
