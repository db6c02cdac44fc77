//! Catch tests: the flow of a sprayer's nozzles, the discharge of a spreader, and the application rate that follows at
//! a road speed.

use message::{Arg, Message, Tell, message};
use quantity::{
    Length, Mass, MassDensity, Time, Velocity, Volume, VolumeRate, cubic_metres, hours, in_cubic_metres,
    in_kilograms, in_metres_per_second, kilograms,
};
use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::{LiquidRate, SolidRate};

/// A nozzle whose flow is off from the mean by more than this share needs cleaning or replacing. Usual rule for
/// sprayers, from memory.
const NOZZLE_LIMIT: f64 = 0.10;

/// Why a catch test cannot be evaluated.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}", self.message())]
pub enum CatchError {
    /// An entered number that is out of range.
    Figure {
        /// What it is: the id of its text, which names the unit.
        what: &'static str,
        /// Its value; of a mass, kg.
        value: f64,
        /// What is accepted: the id of its text.
        accepted: &'static str,
    },
}

impl Tell for CatchError {
    fn message(&self) -> Message {
        let CatchError::Figure { what, value, accepted } = *self;
        let (shown, accepted) = match what {
            CATCH_MASS => {
                let most = Arg::MassKg(MOST_IN_A_CATCH_KG);
                (Arg::MassKg(value), message!("road.accepted.catch_mass", most = most))
            }
            _ => (Arg::Number(value), Message::new(accepted)),
        };
        message!("road.figure", what = Message::new(what), value = shown, accepted = accepted)
    }
}

/// The id of what one catch of a spreader weighs: a mass, shown in the reader's unit.
const CATCH_MASS: &str = "road.catch_mass";
/// Most salt that one catch can be, kg: a guard against a slip of the keyboard, no source.
const MOST_IN_A_CATCH_KG: f64 = 5000.0;

/// Checks the speed of a pass, above 0 to 45 m/s, and the lanes it treats at once, 0.25 to 6.
fn check_pass(speed: Velocity, lanes: f64) -> Result<(), CatchError> {
    let metres_per_second = in_metres_per_second(speed);
    let is_drivable = 0.0 < metres_per_second && metres_per_second <= 45.0;
    check("road.speed", metres_per_second, "road.accepted.speed", is_drivable)?;
    check("road.lanes", lanes, "road.accepted.lanes", (0.25..=6.0).contains(&lanes))
}

fn check(what: &'static str, value: f64, accepted: &'static str, is_good: bool) -> Result<(), CatchError> {
    if is_good && value.is_finite() { Ok(()) } else { Err(CatchError::Figure { what, value, accepted }) }
}

/// Result of a catch test of a sprayer.
#[derive(Debug, Clone, PartialEq)]
pub struct Sprayer {
    /// Flow of each nozzle, in their order, of the liquid it was caught in.
    pub nozzles: Vec<VolumeRate>,
    /// Each nozzle against the mean of the good ones: +0.12 is 12 % more.
    pub off: Vec<f64>,
    /// Nozzles that need cleaning or replacing, counted from 0.
    pub outliers: Vec<usize>,
    /// Flow of the whole boom: the sum of its nozzles.
    pub boom: VolumeRate,
    /// Half of the 95 % interval of that flow, from how well each catch was read.
    pub interval: VolumeRate,
}

/// Evaluates a catch test of a sprayer.
///
/// # Equation
/// Flow = caught / time. The mean is that of the nozzles within 10 % of the median; a nozzle more than 10 % from the
/// mean is an outlier. The boom gives the sum of all. Its interval is that of n readings of a jug, each within
/// `reading`.
///
/// # Range
/// 2…100 nozzles, 5…600 s.
///
/// # Error
/// As the interval says. A wrong stopwatch is not in it.
///
/// # Source
/// Common practice; no published source. The 10 % rule is from memory.
///
/// # Errors
/// [`CatchError::Figure`].
///
/// # Examples
/// ```
/// use quantity::{gallons, hours, in_gallons, in_minutes, minutes};
/// // Ten nozzles, 64 fl oz in 15 s each: 2 gal/min each, 20 in all.
/// let caught = vec![gallons(0.5); 10];
/// let found = road::catch::sprayer(&caught, minutes(0.25), gallons(0.01))?;
/// assert!((in_gallons(found.boom * minutes(1.0)) - 20.0).abs() < 1e-9 && found.outliers.is_empty());
/// # Ok::<(), road::catch::CatchError>(())
/// ```
pub fn sprayer(caught: &[Volume], time: Time, reading: Volume) -> Result<Sprayer, CatchError> {
    let seconds = quantity::in_seconds(time);
    check("road.nozzles", caught.len() as f64, "road.accepted.nozzles", (2..=100).contains(&caught.len()))?;
    check("road.catch_seconds", seconds, "road.accepted.seconds", (5.0..=600.0).contains(&seconds))?;
    for volume in caught {
        let ml = 1e6 * in_cubic_metres(*volume);
        check("road.nozzle_ml", ml, "road.accepted.nozzle_ml", (0.0..=1e5).contains(&ml))?;
    }
    let sum: f64 = caught.iter().map(|volume| in_cubic_metres(*volume)).sum();
    check("road.caught_ml", 1e6 * sum, "road.accepted.above_zero", sum > 0.0)?;
    let mut sorted: Vec<f64> = caught.iter().map(|volume| in_cubic_metres(*volume)).collect();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    let median =
        if sorted.len().is_multiple_of(2) { 0.5 * (sorted[half - 1] + sorted[half]) } else { sorted[half] };
    let good: Vec<f64> =
        sorted.iter().copied().filter(|one| (one - median).abs() <= NOZZLE_LIMIT * median).collect();
    let mean = if good.is_empty() { median } else { good.iter().sum::<f64>() / good.len() as f64 };
    let off: Vec<f64> = caught.iter().map(|volume| in_cubic_metres(*volume) / mean - 1.0).collect();
    let is_off = |(place, off): (usize, &f64)| (off.abs() > NOZZLE_LIMIT + 1e-9).then_some(place);
    let outliers = off.iter().enumerate().filter_map(is_off).collect();
    // A jug is read to within its mark, either way: a rectangle.
    let of_one = in_cubic_metres(reading) / 3f64.sqrt();
    let of_sum = 1.96 * of_one * (caught.len() as f64).sqrt();
    let flow = |volume: f64| cubic_metres(volume) / time;
    Ok(Sprayer {
        nozzles: caught.iter().map(|volume| *volume / time).collect(),
        off,
        outliers,
        boom: flow(sum),
        interval: flow(of_sum),
    })
}

/// Flow of a nozzle at another pressure.
///
/// # Equation
/// q₂ = q₁·√(p₂/p₁).
///
/// # Range
/// Pressures within a factor of four: beyond, a nozzle's pattern changes and so may its law.
///
/// # Error
/// 2 %, of a nozzle in good order.
///
/// # Source
/// Orifice law; standard sprayer practice.
///
/// # Errors
/// [`CatchError::Figure`] outside the range.
///
/// # Examples
/// ```
/// use quantity::{gallons, minutes};
/// let flow = gallons(2.0) / minutes(1.0);
/// let twice = road::catch::at_pressure(flow, 20.0, 80.0)?;
/// assert!((f64::from(twice / flow) - 2.0).abs() < 1e-12);
/// assert!(road::catch::at_pressure(flow, 20.0, 100.0).is_err());
/// # Ok::<(), road::catch::CatchError>(())
/// ```
pub fn at_pressure(flow: VolumeRate, from: f64, to: f64) -> Result<VolumeRate, CatchError> {
    check("road.pressure", from, "road.accepted.above_zero", from > 0.0)?;
    check("road.pressure", to, "road.accepted.pressure", (0.25..=4.0).contains(&(to / from)))?;
    Ok(flow * (to / from).sqrt())
}

/// Flow of a liquid through nozzles that were caught in another, at the same pressure.
///
/// # Equation
/// q₂ = q₁·√(ρ₁/ρ₂).
///
/// # Range
/// Thin liquids: water, brine.
///
/// # Error
/// 1 %: what a thicker liquid loses more is left out.
///
/// # Source
/// Orifice law; 0.922 for brine of specific gravity 1.176.
///
/// # Examples
/// ```
/// use quantity::{gallons, kg_per_m3, minutes};
/// let water = gallons(2.0) / minutes(1.0);
/// let brine = road::catch::of_liquid(water, kg_per_m3(1000.0), kg_per_m3(1176.0));
/// assert!((f64::from(brine / water) - 0.922).abs() < 0.0005);
/// ```
pub fn of_liquid(flow: VolumeRate, caught_in: MassDensity, used_with: MassDensity) -> VolumeRate {
    flow * f64::from(caught_in / used_with).sqrt()
}

/// Application rate of a flow at a road speed, over a number of lanes.
///
/// # Equation
/// rate = flow / (speed · lanes).
///
/// # Range
/// Speeds above zero.
///
/// # Error
/// None: a definition.
///
/// # Source
/// Definition; gal/min · 60 / (mph · lanes).
///
/// # Errors
/// [`CatchError::Figure`].
///
/// # Examples
/// ```
/// use quantity::{gallons, miles_per_hour, minutes};
/// let rate = road::catch::on_road(gallons(20.0) / minutes(1.0), miles_per_hour(30.0), 1.0)?;
/// assert!((rate.gallons_per_lane_mile() - 40.0).abs() < 1e-9);
/// # Ok::<(), road::catch::CatchError>(())
/// ```
pub fn on_road(flow: VolumeRate, speed: Velocity, lanes: f64) -> Result<LiquidRate, CatchError> {
    check_pass(speed, lanes)?;
    let hour: Time = hours(1.0);
    let lane: Length = speed * hour * lanes;
    Ok(LiquidRate::of(flow * hour, lane))
}

/// Flow needed for an application rate at a road speed, over a number of lanes.
///
/// # Equation
/// flow = rate · speed · lanes.
///
/// # Range
/// Any.
///
/// # Error
/// None: a definition.
///
/// # Source
/// Definition; gal per lane-mile · mph · lanes / 60 gal/min.
///
/// # Examples
/// ```
/// use quantity::{gallons, in_gallons, miles_per_hour, minutes};
/// use road::{amount::lane_mile, LiquidRate};
/// let rate = LiquidRate::of(gallons(40.0), lane_mile());
/// let flow = road::catch::flow_for(rate, miles_per_hour(30.0), 1.0);
/// assert!((in_gallons(flow * minutes(1.0)) - 20.0).abs() < 1e-9);
/// ```
pub fn flow_for(rate: LiquidRate, speed: Velocity, lanes: f64) -> VolumeRate {
    let hour: Time = hours(1.0);
    rate.on(speed * hour * lanes) / hour
}

/// Highest road speed at which a flow still gives an application rate.
///
/// # Equation
/// speed = flow / (rate · lanes).
///
/// # Range
/// Rates above zero.
///
/// # Error
/// None: a definition.
///
/// # Source
/// Definition.
///
/// # Examples
/// ```
/// use quantity::{gallons, in_miles_per_hour, minutes};
/// use road::{amount::lane_mile, LiquidRate};
/// let rate = LiquidRate::of(gallons(40.0), lane_mile());
/// let fastest = road::catch::fastest(gallons(60.0) / minutes(1.0), rate, 2.0);
/// assert!((in_miles_per_hour(fastest) - 45.0).abs() < 1e-9);
/// ```
pub fn fastest(flow: VolumeRate, rate: LiquidRate, lanes: f64) -> Velocity {
    let metre: Length = quantity::metres(1.0);
    let per_metre = in_cubic_metres(rate.on(metre)) * lanes;
    let hourly = in_cubic_metres(flow * hours(1.0));
    quantity::metres_per_second(hourly / per_metre / 3600.0)
}

/// Result of a discharge test of a spreader.
#[derive(Debug, Clone, PartialEq)]
pub struct Spreader {
    /// Salt per turn of the auger or conveyor shaft: mean of the catches.
    pub per_turn: Mass,
    /// Half of the 95 % interval of that, from how the catches differ; none for a single catch.
    pub interval: Option<Mass>,
    /// Salt per hour at the shaft speed of the test.
    pub hourly: Mass,
}

/// Evaluates a discharge test of a spreader.
///
/// # Equation
/// Mass per turn = mean of the catches / turns; mass per minute = mass per turn · turns per minute. Interval:
/// Student's t over the catches.
///
/// # Range
/// 1…20 catches.
///
/// # Error
/// As the interval says.
///
/// # Source
/// Minnesota Snow and Ice Control: Field Handbook for Snowplow Operators, 2005-01 (2012), calibration page.
///
/// # Errors
/// [`CatchError::Figure`].
///
/// # Examples
/// ```
/// use quantity::{in_pounds, kilograms, miles_per_hour, pounds};
/// use road::catch::{spreader, spread_on_road};
/// // 200 lb a minute at 20 mph (3 minutes a mile) is 600 lb a mile.
/// let found = spreader(&[pounds(100.0), pounds(100.0), pounds(100.0)], 5.0, 10.0)?;
/// let rate = spread_on_road(&found, miles_per_hour(20.0), 1.0)?;
/// assert!((rate.pounds_per_lane_mile() - 600.0).abs() < 1e-6);
/// # Ok::<(), road::catch::CatchError>(())
/// ```
pub fn spreader(caught: &[Mass], turns: f64, turns_per_minute: f64) -> Result<Spreader, CatchError> {
    check("road.catches", caught.len() as f64, "road.accepted.catches", (1..=20).contains(&caught.len()))?;
    check("road.turns", turns, "road.accepted.turns", 0.0 < turns && turns <= 1000.0)?;
    let is_good = 0.0 < turns_per_minute && turns_per_minute <= 1000.0;
    check("road.rpm", turns_per_minute, "road.accepted.turns", is_good)?;
    for mass in caught {
        let kg = in_kilograms(*mass);
        check(CATCH_MASS, kg, "road.accepted.catch_mass", 0.0 < kg && kg <= MOST_IN_A_CATCH_KG)?;
    }
    let n = caught.len() as f64;
    let mean = caught.iter().map(|mass| in_kilograms(*mass)).sum::<f64>() / n;
    let squares: f64 = caught.iter().map(|mass| (in_kilograms(*mass) - mean).powi(2)).sum();
    let interval = StudentsT::new(0.0, 1.0, n - 1.0).ok().filter(|_| caught.len() > 1).map(|t| {
        let of_mean = (squares / (n - 1.0) / n).sqrt();
        kilograms(t.inverse_cdf(0.975) * of_mean / turns)
    });
    let per_turn = kilograms(mean / turns);
    Ok(Spreader { per_turn, interval, hourly: per_turn * turns_per_minute * 60.0 })
}

/// Application rate of a spreader at a road speed, over a number of lanes.
///
/// # Equation
/// rate = mass an hour / (speed · lanes).
///
/// # Range
/// Speeds above zero.
///
/// # Error
/// As the test's.
///
/// # Source
/// Definition: lb a minute · minutes a mile.
///
/// # Errors
/// [`CatchError::Figure`].
pub fn spread_on_road(found: &Spreader, speed: Velocity, lanes: f64) -> Result<SolidRate, CatchError> {
    check_pass(speed, lanes)?;
    Ok(SolidRate::of(found.hourly, speed * hours(1.0) * lanes))
}
