//! Loading trucks: loads, the queue at the pump, and the time from the first hook-up to the last spray.

use jiff::{SignedDuration, Timestamp};
use quantity::{Length, MassDensity, Volume, cubic_metres, hours, in_cubic_metres, in_hours, in_metres};
use site::Truck;
use site::Yard;

/// Most loads of one plan; it only keeps the loop finite.
const MOST_LOADS: usize = 10_000;

/// One truck load of liquid for pretreating.
#[derive(Debug, Clone, PartialEq)]
pub struct TruckLoad {
    /// Index of the route in the yard.
    pub route: usize,
    /// Index of the truck in the yard.
    pub truck: usize,
    /// Volume of liquid.
    pub volume: Volume,
    /// Time the truck is hooked up to the pump.
    pub load_from: Timestamp,
    /// Time the truck leaves the yard.
    pub leaves: Timestamp,
    /// Time the last of the load is sprayed.
    pub sprayed: Timestamp,
}

/// All loads of one pretreatment, timed to end at a deadline.
#[derive(Debug, Clone)]
pub struct Loading {
    /// Loads in the order they are hooked up.
    pub loads: Vec<TruckLoad>,
    /// Time of the first hook-up.
    pub begin: Timestamp,
    /// Time of the last spray.
    pub end: Timestamp,
}

/// Returns the most liquid a truck may take: its tank, or less where its weight limit says so.
pub fn usable(truck: &Truck, density: MassDensity) -> Volume {
    match truck.liquid_limit {
        Some(limit) if limit / density < truck.tank => limit / density,
        _ => truck.tank,
    }
}

impl Loading {
    /// Returns the time the last truck is back in the yard.
    pub fn back(&self, yard: &Yard) -> Timestamp {
        let back = |load: &TruckLoad| load.sprayed + duration(in_hours(yard.routes[load.route].drive));
        self.loads.iter().map(back).max().unwrap_or(self.end)
    }

    /// Returns the same loads, each delayed by `by`.
    pub fn later(mut self, by: SignedDuration) -> Self {
        for load in &mut self.loads {
            load.load_from += by;
            load.leaves += by;
            load.sprayed += by;
        }
        self.begin += by;
        self.end += by;
        self
    }
}

/// A load in the queue, before its time is known.
struct Job {
    route: usize,
    volume: f64,
    drive_hours: f64,
    spray_hours: f64,
}

/// Returns the loads for a volume and a lane length per route, all on the road by a deadline: the queue is run forward
/// from zero, then moved so that its end meets the deadline. None when there is no truck, or nothing to carry.
pub(crate) fn load_by(
    yard: &Yard,
    per_route: &[(usize, Volume, Length)],
    density: MassDensity,
    deadline: Timestamp,
) -> Option<Loading> {
    let mut queues = assign(yard, per_route, density)?;
    let mut place_free = vec![0.0_f64; yard.loading.places.max(1)];
    let mut truck_free = vec![0.0_f64; yard.trucks.len()];
    let mut done: Vec<(usize, usize, f64, f64, f64, f64)> = Vec::new();
    while done.len() < MOST_LOADS {
        // The truck that is back first goes next; ties go to the first in the file.
        let Some(truck) = (0..queues.len())
            .filter(|t| !queues[*t].is_empty())
            .min_by(|a, b| truck_free[*a].total_cmp(&truck_free[*b]))
        else {
            break;
        };
        let job = queues[truck].remove(0);
        let place =
            (0..place_free.len()).min_by(|a, b| place_free[*a].total_cmp(&place_free[*b])).unwrap_or(0);
        let from = place_free[place].max(truck_free[truck]);
        let pumping = in_hours(road::amount::pumping_time(cubic_metres(job.volume), yard.loading.pump_rate));
        let leaves = from + in_hours(yard.loading.hook_up) + pumping;
        let sprayed = leaves + job.drive_hours + job.spray_hours;
        place_free[place] = leaves;
        truck_free[truck] = sprayed + job.drive_hours;
        done.push((job.route, truck, job.volume, from, leaves, sprayed));
    }
    let end = done.iter().map(|d| d.5).reduce(f64::max)?;
    let begin = deadline - duration(end);
    let loads = done
        .into_iter()
        .map(|(route, truck, volume, from, leaves, sprayed)| TruckLoad {
            route,
            truck,
            volume: cubic_metres(volume),
            load_from: begin + duration(from),
            leaves: begin + duration(leaves),
            sprayed: begin + duration(sprayed),
        })
        .collect();
    Some(Loading { loads, begin, end: deadline })
}

/// Splits each route's liquid into equal loads for its truck; a route without one goes to the truck with least to do.
fn assign(yard: &Yard, per_route: &[(usize, Volume, Length)], density: MassDensity) -> Option<Vec<Vec<Job>>> {
    let mut queues: Vec<Vec<Job>> = yard.trucks.iter().map(|_| Vec::new()).collect();
    let mut any = false;
    for (route, volume, lanes) in per_route {
        let volume = in_cubic_metres(*volume);
        if volume <= 0.0 {
            continue;
        }
        let site = &yard.routes[*route];
        let named = site.truck.as_ref().and_then(|id| yard.trucks.iter().position(|truck| truck.id == *id));
        let work =
            |t: &usize| queues[*t].iter().map(|job: &Job| job.spray_hours + job.drive_hours).sum::<f64>();
        let truck = named.or_else(|| (0..queues.len()).min_by(|a, b| work(a).total_cmp(&work(b))))?;
        let most = in_cubic_metres(usable(&yard.trucks[truck], density));
        let loads = (volume / most - 1e-9).ceil().max(1.0);
        let spray = in_hours(*lanes / yard.trucks[truck].spray_speed) / loads;
        for _ in 0..(loads as usize).min(MOST_LOADS) {
            queues[truck].push(Job {
                route: *route,
                volume: volume / loads,
                drive_hours: in_hours(site.drive),
                spray_hours: if in_metres(*lanes) > 0.0 { spray } else { 0.0 },
            });
            any = true;
        }
    }
    any.then_some(queues)
}

fn duration(in_hours: f64) -> SignedDuration {
    SignedDuration::from_secs((hours(in_hours).get::<uom::si::time::second>()).round() as i64)
}
