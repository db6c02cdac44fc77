//! What the roads of a plan are told as.

use jiff::{SignedDuration, Timestamp};
use quantity::ThermodynamicTemperature;
use road::correction::{Compared, Correction};
use road::course::{Act, Course, RoadAt};
use road::section::Section;
use site::Yard;
use weather::Hour;

/// Members whose temperature is kept for the scores.
pub const KEPT_MEMBERS: usize = 10;
/// A call-out that moves by no more than so many hours is the same one.
const NEAR_HOURS: i64 = 6;
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
    /// One segment only, by its place in the yard: the road of its class holds.
    Segment(usize),
    /// What was put down is used up, or too weak for the cold.
    AsTreated,
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
    pub middle: RoadAt,
    /// Share of members in which the road is slippery as served.
    pub slippery: f64,
    /// Mean surface temperature of the first members, °C, to be held against what came.
    pub members: [f64; KEPT_MEMBERS],
    /// Share of members whose surface is below freezing.
    pub below_freezing: f64,
}

/// Which road of a yard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct RoadOf {
    /// Index of its class in the yard.
    pub class: usize,
    /// Whether it is a deck.
    pub is_deck: bool,
    /// Index of the segment in the yard; none for the class as a whole.
    pub segment: Option<usize>,
}

impl RoadOf {
    /// The road that a reading names: by the id of a segment, or of a class and its part. None where the yard knows no
    /// such road.
    pub fn named(yard: &Yard, road: &str, is_deck: bool) -> Option<Self> {
        if let Some(segment) = yard.segments.iter().position(|one| one.id == road) {
            let route = yard.route(&yard.segments[segment].route)?;
            let class = yard.route_classes.iter().position(|class| class.id == route.class)?;
            return Some(RoadOf { class, is_deck: yard.segments[segment].is_bridge, segment: Some(segment) });
        }
        let class = yard.route_classes.iter().position(|class| class.id == road)?;
        Some(RoadOf { class, is_deck, segment: None })
    }

    /// Id of the class or the segment, as entries name it.
    pub fn id(self, yard: &Yard) -> &str {
        match self.segment {
            Some(segment) => &yard.segments[segment].id,
            None => &yard.route_classes[self.class].id,
        }
    }

    /// What it is made of and sees.
    pub fn section(self, yard: &Yard) -> Section {
        let own = &yard.route_classes[self.class].section;
        match (self.segment, self.is_deck) {
            (Some(segment), _) => yard.segments[segment].section,
            (None, true) => Section {
                sky_view: own.sky_view,
                horizon: own.horizon,
                traffic: own.traffic,
                ..Section::DECK
            },
            (None, false) => *own,
        }
    }
}

/// A road over the hours of the plan.
#[derive(Debug, Clone)]
pub struct Strip {
    /// Which road.
    pub road: RoadOf,
    /// Its hours.
    pub hours: Vec<StripHour>,
    /// When it is treated, in the middle story.
    pub treated: Vec<Timestamp>,
    /// How warm it was before, °C at the end of each hour, where the weather before is known.
    pub past: Vec<(Timestamp, f64)>,
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
    /// Until when each treatment of the middle story works to the first ice: 10, 50 and 90 of 100 members are over
    /// by then. None where it works longer than is looked at.
    pub works_until: Vec<[Option<Timestamp>; 3]>,
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
    /// What was read of roads, and what became of it.
    pub read: Vec<ReadRoad>,
    /// Hours of weather before the plan that are known.
    pub past_hours: usize,
    /// Whether nobody knows the cloud in some hour of the plan.
    pub cloud_unknown: bool,
}

/// What is known of roads beside the ledger and the forecast's file.
#[derive(Debug, Clone, Default)]
pub struct RoadsSeen {
    /// What sensors in roads showed, oldest first.
    pub sensed: Vec<Sensed>,
    /// Weather of hours that a file no longer tells, oldest first.
    pub weather: Vec<Hour>,
}

/// What a sensor in a road showed.
#[derive(Debug, Clone, PartialEq)]
pub struct Sensed {
    /// Class of route, or segment.
    pub road: String,
    /// Whether it is of a bridge deck of the class.
    pub is_deck: bool,
    /// When.
    pub at: Timestamp,
    /// Surface temperature, °C.
    pub surface: f64,
}

/// A road that was read.
#[derive(Debug, Clone)]
pub struct ReadRoad {
    /// Which.
    pub road: RoadOf,
    /// Its readings, oldest first.
    pub readings: Vec<Compared>,
    /// State of the filter as the plan begins; none where no reading could be used.
    pub correction: Option<Correction>,
}

impl Roads {
    /// Call-outs of earlier roads that crews would have acted on, that lie ahead of a moment, and that these roads no
    /// longer ask for: neither the same nor, within six hours, one of its kind.
    pub fn taken_back<'a>(&'a self, earlier: &'a Roads, now: Timestamp) -> impl Iterator<Item = &'a CallOut> {
        let near = SignedDuration::from_hours(NEAR_HOURS);
        let stands = move |call: &CallOut| {
            self.callouts.iter().any(|one| {
                one.kind == call.kind
                    && one.chance >= TOLD
                    && one.span[0] - near < call.span[1]
                    && call.span[0] < one.span[1] + near
            })
        };
        earlier.callouts.iter().filter(move |call| {
            let is_act = call.kind != CallKind::NoAction && call.chance >= ACTED_ON;
            is_act && call.span[0] > now && !stands(call)
        })
    }
}

/// Whether a class of route is pretreated.
pub(crate) fn is_sprayed_ahead(yard: &Yard, class: &str) -> bool {
    yard.route_classes.iter().any(|c| c.id == class && c.anti_icing)
}
