//! A road through a story with treatments that are given, not chosen: what was measured, what is asked of one
//! condition, and how long a treatment holds.

use super::{LOOSE, PLOWS, PutDown, RoadAt, STEP, STEPS_AN_HOUR, Story, is_slippery};
use crate::film::Formed;
use crate::section::Section;
use crate::surface::{Forcing, Road};

/// How a road is gone through.
#[derive(Debug, Clone, Copy)]
pub struct Given<'a> {
    /// What it is made of and sees.
    pub section: Section,
    /// Treatments in order of time.
    pub put_down: &'a [PutDown],
    /// Whether snow is plowed where a crew would.
    pub is_plowed: bool,
}

impl Given<'_> {
    /// The road at the end of every hour of a story, its past included. `forcing` covers all of it.
    ///
    /// # Error
    /// Its surface: docs/roads.md, *How sure it is*.
    pub fn through(&self, story: &Story, forcing: &[Forcing]) -> Vec<RoadAt> {
        let (profile, deep) = story.ground();
        let mut road = Road::new(self.section, profile, Some(deep));
        let mut put_down = self.put_down.iter().peekable();
        let mut hours = Vec::with_capacity(story.hours.len());
        for (hour, told) in story.hours.iter().enumerate() {
            let (mut formed, mut sum) = (Formed::default(), 0.0);
            for (place, step) in forcing[hour * STEPS_AN_HOUR..(hour + 1) * STEPS_AN_HOUR].iter().enumerate()
            {
                let now = story.at(hour) + jiff::SignedDuration::from_secs(i64::from(STEP) * place as i64);
                while let Some(one) = put_down.next_if(|one| one.at <= now) {
                    road.film = road.film.plus(one.film);
                }
                let ice = one_step(&mut road, story, hour, step);
                formed.hoar += ice.hoar;
                formed.frozen += ice.frozen;
                formed.refrozen += ice.refrozen;
                sum += road.surface();
            }
            if self.is_plowed && road.film.snow > PLOWS {
                road.film.plow();
            }
            let surface = road.surface();
            hours.push(RoadAt {
                surface,
                mean: sum / STEPS_AN_HOUR as f64,
                film: road.film,
                formed,
                fell: [told.weather.rain, told.weather.snow],
                drifts: false,
                slippery: is_slippery(&road.film, surface),
            });
        }
        hours
    }
}

fn one_step(road: &mut Road, story: &Story, hour: usize, step: &Forcing) -> Formed {
    let told = &story.hours[hour];
    match told.pavement {
        Some(given) => road.follow(given + told.road_error, step, f64::from(STEP)),
        None => {
            road.set_bias(told.road_error);
            road.step(step, f64::from(STEP))
        }
    }
}

/// Surface temperature of many sections in many stories, °C at the end of each hour, section by section and member by
/// member: on as many threads as the machine has cores.
///
/// # Cost
/// A third of a microsecond a step of ten minutes on one core; it grows with sections times members times hours.
pub fn surfaces(sections: &[Section], stories: &[Story]) -> Vec<Vec<f32>> {
    let forcings: Vec<Vec<Forcing>> = stories.iter().map(|story| story.forcing(STEP, 0)).collect();
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let each = sections.len().div_ceil(cores).max(1);
    let of = |sections: &[Section]| -> Vec<Vec<f32>> {
        let mut found = Vec::with_capacity(sections.len() * stories.len());
        for section in sections {
            for (story, forcing) in stories.iter().zip(&forcings) {
                let (profile, deep) = story.ground();
                let mut road = Road::new(*section, profile, Some(deep));
                let hours = forcing.chunks(STEPS_AN_HOUR).enumerate().map(|(hour, steps)| {
                    for step in steps {
                        one_step(&mut road, story, hour, step);
                    }
                    if road.film.snow > PLOWS {
                        road.film.plow();
                    }
                    road.surface() as f32
                });
                found.push(hours.collect());
            }
        }
        found
    };
    if cores == 1 || sections.len() == 1 {
        return of(sections);
    }
    std::thread::scope(|scope| {
        let parts: Vec<_> = sections.chunks(each).map(|part| scope.spawn(|| of(part))).collect();
        parts.into_iter().flat_map(|part| part.join().unwrap_or_default()).collect()
    })
}

/// Until when what lies on a road works, hours from now; none where it works to the end of the story.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Works {
    /// First ice in it: passes are planned by this.
    pub first_ice: Option<f64>,
    /// Half of it is ice: snow holds to the road from here on.
    pub half_ice: Option<f64>,
}

/// How long what lies on a road works, from so many hours of the forecast on. `forcing` begins with the forecast.
pub fn works(start: &Road, from: f64, story: &Story, forcing: &[Forcing]) -> Works {
    let mut road = start.clone();
    let mut found = Works { first_ice: None, half_ice: None };
    let first = (from * STEPS_AN_HOUR as f64).round() as usize;
    for (place, step) in forcing.iter().enumerate().skip(first) {
        let hour = story.past + place / STEPS_AN_HOUR;
        if hour >= story.hours.len() {
            break;
        }
        one_step(&mut road, story, hour, step);
        let share = road.film.brine_share(road.surface().min(-1e-3));
        let is_frozen = road.surface() < 0.0 && road.film.all_water() > 1e-3;
        let at = || Some((place + 1 - first) as f64 / STEPS_AN_HOUR as f64);
        if found.first_ice.is_none() && is_frozen && share < 0.999 {
            found.first_ice = at();
        }
        if is_frozen && share < LOOSE {
            found.half_ice = at();
            break;
        }
    }
    found
}
