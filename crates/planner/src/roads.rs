//! What the roads do in a forecast and what crews must do about it: surfaces with their spread, treatments of the
//! middle story, and call-outs with their chance.
//!
//! Every class of route is a road and, where it has bridges, a deck. Each member of the forecast is one storm that goes
//! through all of them; a chance is the share of members, a range its quantiles, taken at the end.

use std::sync::Arc;

use quantity::{Length, Time, in_hours};
use road::course::{Crew, Hazard, PutDown, Service};
use road::score::quantile;
use road::section::Section;
use road::spraying::Limits;
use site::Policy;

use calls::{Called, Calls, Other, hazard_hours};
pub(crate) use draws::draws;
use kinds::{Kind, Served};
pub(crate) use parts::is_sprayed_ahead;
pub use parts::{
    ACTED_ON, CallKind, CallOut, CallWhy, ClassCourse, KEPT_MEMBERS, ReadRoad, RoadOf, Roads, RoadsSeen,
    Sensed, Strip, StripHour, TOLD,
};
pub use road::correction::{Compared, Use};
pub(crate) use stories::Asked;
pub use stories::place_of;
use stories::{Reads, Told};

mod calls;
mod draws;
mod kinds;
mod parts;
mod readings;
mod stories;

impl Asked<'_> {
    /// What the roads do; none where the file tells nothing of the air.
    pub(crate) fn answer(&self) -> Result<Option<Roads>, chemistry::Error> {
        let Some(told) = self.told() else { return Ok(None) };
        let policy = &self.yard.policy;
        let story = &told.story;
        let mut roads = Roads {
            work: self.work()?,
            place_known: self.yard.place.is_some(),
            cloud_unknown: story.hours[story.past..].iter().any(|hour| hour.cloud_unknown),
            past_hours: story.past,
            ..Roads::default()
        };
        let mut kinds = Kinds { asked: self, told: &told, alike: Vec::new(), read: Vec::new() };
        let mut calls = Calls { yard: self.yard, story, found: Vec::new() };
        for (place, class) in self.yard.route_classes.iter().enumerate() {
            let routes: Vec<usize> = (0..self.yard.routes.len())
                .filter(|route| self.yard.routes[*route].class == class.id)
                .collect();
            if routes.is_empty() {
                continue;
            }
            let service = service(class.anti_icing, class.cycle, policy, roads.work);
            let crew = Crew::new(service, self.rates, self.brine)?;
            let put_down = self.put_down(&routes)?;
            let of_class = RoadOf { class: place, is_deck: false, segment: None };
            let ground = kinds.of(of_class, &put_down);
            if roads.frost.is_empty() {
                roads.frost = frost(&ground);
            }
            let mut served = ground.served(&crew);
            roads.strips.push(strip(of_class, &ground, &served, &told));
            let mut others = Vec::new();
            if class.has_bridges {
                let road = RoadOf { is_deck: true, ..of_class };
                let deck = kinds.of(road, &put_down);
                let by_deck = deck.served(&crew);
                roads.strips.push(strip(road, &deck, &by_deck, &told));
                others.push(Other { why: CallWhy::Bridges, routes: routes.clone(), kind: deck });
            }
            for (number, segment) in self.yard.segments.iter().enumerate() {
                let Some(route) = routes.iter().find(|route| self.yard.routes[**route].id == segment.route)
                else {
                    continue;
                };
                let road = RoadOf { class: place, is_deck: segment.is_bridge, segment: Some(number) };
                let kind = kinds.of(road, &put_down);
                roads.strips.push(strip(road, &kind, &kind.served(&crew), &told));
                others.push(Other { why: CallWhy::Segment(number), routes: vec![*route], kind });
            }
            let cycle = in_hours(class.cycle).round() as usize;
            calls.of_class(&routes, cycle, &ground, &served, &others);
            let works_until = ground.works_until(&served.middle);
            // The roads themselves are asked no more.
            served.middle.after = Vec::new();
            roads.classes.push(ClassCourse {
                class: place,
                untreated: ground.middle.clone(),
                works_until,
                members: served.members.iter().map(|course| course.acts.clone()).collect(),
                middle: served.middle,
            });
        }
        roads.callouts = calls.joined();
        roads.read = kinds.read;
        Ok(Some(roads))
    }

    /// What the ledger knows was put on some routes, spread over all of them.
    fn put_down(&self, routes: &[usize]) -> Result<Vec<PutDown>, chemistry::Error> {
        let yard = self.yard;
        let lanes: Length = routes.iter().map(|route| yard.routes[*route].lane_length).sum();
        let of_routes = |id: &str| routes.iter().any(|route| yard.routes[*route].id == id);
        self.treatments
            .iter()
            .filter(|one| one.at <= self.from && of_routes(&one.route))
            .map(|one| {
                let liquid = one.liquid.unwrap_or_default();
                let film = road::course::film_of(lanes, liquid, one.salt.unwrap_or_default(), self.brine)?;
                Ok(PutDown { at: one.at, film })
            })
            .collect()
    }
}

/// Sorts of road as they are worked out: roads that are alike, were treated alike and are not read, are one.
struct Kinds<'a> {
    asked: &'a Asked<'a>,
    told: &'a Told,
    alike: Vec<(Section, bool, Vec<PutDown>, Arc<Kind>)>,
    read: Vec<ReadRoad>,
}

impl Kinds<'_> {
    fn of(&mut self, road: RoadOf, put_down: &[PutDown]) -> Arc<Kind> {
        let section = road.section(self.asked.yard);
        let is_alike = |one: &&(Section, bool, Vec<PutDown>, Arc<Kind>)| {
            one.0 == section && one.1 == road.is_deck && one.2 == put_down
        };
        let plain = match self.alike.iter().find(is_alike) {
            Some((.., kind)) => Arc::clone(kind),
            None => {
                let kind = Arc::new(Kind::of(section, road.is_deck, self.told, put_down));
                self.alike.push((section, road.is_deck, put_down.to_vec(), Arc::clone(&kind)));
                kind
            }
        };
        let own = readings::compared(self.asked, self.told, road, plain.start.past());
        // A segment that nobody reads borrows from its class; a deck never from a road.
        let lender = road.segment.filter(|_| !road.is_deck).and_then(|_| {
            let class = RoadOf { segment: None, is_deck: false, ..road };
            self.read.iter().find(|read| read.road == class)?.correction
        });
        let read: Option<Box<Reads>> = match (own.as_ref().and_then(|own| own.correction), lender) {
            (Some(correction), _) => Some(Box::new(move |lead| correction.ahead(lead))),
            (None, Some(lender)) => Some(Box::new(move |lead| lender.borrowed(lead))),
            (None, None) => None,
        };
        self.read.extend(own);
        match read {
            Some(read) => {
                Arc::new(Kind::corrected(section, road.is_deck, self.told, put_down, read.as_ref()))
            }
            None => plain,
        }
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

fn strip(road: RoadOf, kind: &Kind, served: &Served, told: &Told) -> Strip {
    let story = &told.story;
    let hours = (0..served.middle.hours.len())
        .map(|hour| {
            let mut surfaces: Vec<f64> = kind.members.iter().map(|course| course.hours[hour].mean).collect();
            surfaces.push(kind.middle.hours[hour].mean);
            surfaces.sort_by(f64::total_cmp);
            let at = |share: f64| quantile(&surfaces, share).unwrap_or(0.0);
            let mut members = [kind.middle.hours[hour].mean; KEPT_MEMBERS];
            for (kept, member) in members.iter_mut().zip(&kind.members) {
                *kept = member.hours[hour].mean;
            }
            let below = surfaces.iter().filter(|surface| **surface < 0.0).count() as f64;
            let slippery = served.members.iter().filter(|one| one.hours[hour].slippery).count() as f64;
            StripHour {
                start: story.at(story.past + hour),
                surface: [at(0.1), at(0.5), at(0.9)],
                middle: served.middle.hours[hour],
                slippery: slippery / served.members.len().max(1) as f64,
                members,
                below_freezing: below / surfaces.len() as f64,
            }
        })
        .collect();
    let past = kind.start.past().iter().enumerate().map(|(hour, at)| (story.at(hour + 1), *at)).collect();
    let treated = served.middle.acts.iter().map(|act| act.at).collect();
    Strip { road, hours, treated, past }
}
