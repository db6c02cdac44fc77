//! One sort of road through the middle story and all members.

use std::sync::Arc;

use jiff::{SignedDuration, Timestamp};
use road::course::given::works;
use road::course::{Course, Crew, PutDown, Start};
use road::score::quantile;
use road::section::Section;
use road::story::Story;
use road::surface::{Forcing, Road};

use super::stories::{Acting, Read, Told};

/// Hours that a treatment is followed, and of how many members one is: how long it works is told to ten minutes.
const LOOKED_AT: f64 = 12.0;
const EVERY: usize = 4;

/// A sort of road through all stories, untreated.
pub(super) struct Kind {
    pub(super) start: Start,
    story: Story,
    forcing: Vec<Forcing>,
    stories: Vec<Acting>,
    pub(super) middle: Course,
    pub(super) members: Vec<Course>,
}

/// A sort of road as served for one class.
pub(super) struct Served {
    pub(super) middle: Course,
    pub(super) members: Vec<Course>,
}

/// A forecast of the road says nothing of a deck.
fn without_pavement(story: &mut Story) {
    for hour in &mut story.hours {
        hour.pavement = None;
    }
}

/// A member as a road or a deck goes through it.
fn of_road((story, acts): &Acting, is_deck: bool) -> Acting {
    let is_told = is_deck && story.hours.iter().any(|hour| hour.pavement.is_some());
    let mut story = Arc::clone(story);
    if is_told {
        without_pavement(Arc::make_mut(&mut story));
    }
    (story, Arc::clone(acts))
}

impl Kind {
    /// A road that nobody reads.
    pub(super) fn of(section: Section, is_deck: bool, told: &Told, put_down: &[PutDown]) -> Self {
        let mut story = told.story.clone();
        let stories = told.members.iter().map(|member| of_road(member, is_deck)).collect();
        if is_deck {
            without_pavement(&mut story);
        }
        Self::through(section, story, told.forcing.clone(), stories, put_down)
    }

    /// A road with the correction that its readings ask for.
    pub(super) fn corrected(
        section: Section,
        is_deck: bool,
        told: &Told,
        put_down: &[PutDown],
        read: Read<'_>,
    ) -> Self {
        let (mut story, members) = told.corrected(read);
        let stories = members
            .into_iter()
            .zip(&told.members)
            .map(|(story, (_, acts))| of_road(&(Arc::new(story), Arc::clone(acts)), is_deck))
            .collect();
        if is_deck {
            without_pavement(&mut story);
        }
        Self::through(section, story, told.forcing.clone(), stories, put_down)
    }

    fn through(
        section: Section,
        story: Story,
        forcing: Vec<Forcing>,
        stories: Vec<Acting>,
        put_down: &[PutDown],
    ) -> Self {
        // The past is one for all members.
        let start = Start::new(section, &story, &forcing, put_down);
        let ahead = forcing[forcing.len() - stories.first().map_or(0, |(_, acts)| acts.len())..].to_vec();
        let middle = Course::untreated(&start, &story, &ahead);
        let members =
            stories.iter().map(|(story, forcing)| Course::untreated(&start, story, forcing)).collect();
        Self { start, story, forcing: ahead, stories, middle, members }
    }

    /// Until when each treatment of a course of this road works to the first ice, in 10, 50 and 90 of 100 members.
    pub(super) fn works_until(&self, course: &Course) -> Vec<[Option<Timestamp>; 3]> {
        let of = |(from, road): &(f64, Road)| {
            let member = |(story, forcing): &Acting| {
                let ahead = forcing.len().min(((from + LOOKED_AT) * 6.0) as usize);
                works(road, *from, story, &forcing[..ahead]).first_ice.unwrap_or(LOOKED_AT)
            };
            let mut hours: Vec<f64> = self.stories.iter().step_by(EVERY).map(member).collect();
            hours.sort_by(f64::total_cmp);
            [0.1, 0.5, 0.9].map(|share| {
                let hours = quantile(&hours, share).filter(|hours| *hours < LOOKED_AT)?;
                let seconds = ((from + hours) * 3600.0) as i64;
                Some(self.story.at(self.story.past) + SignedDuration::from_secs(seconds))
            })
        };
        course.after.iter().map(of).collect()
    }

    /// The same road as a crew serves it.
    pub(super) fn served(&self, crew: &Crew<'_>) -> Served {
        let keeping = crew.clone().keeping_roads();
        let middle = Course::served(&self.start, &self.story, &self.forcing, &keeping, &self.middle);
        let members = self
            .stories
            .iter()
            .zip(&self.members)
            .map(|((story, forcing), untreated)| Course::served(&self.start, story, forcing, crew, untreated))
            .collect();
        Served { middle, members }
    }
}
