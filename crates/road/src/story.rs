//! One story of the weather, hour by hour, as a surface feels it; and members drawn from it where a feed gives none.
//!
//! A member is one storm: what its air, cloud and snow do goes through road and film together, and quantiles are
//! taken at the end. The error model is that of docs/roads.md, §*How far a forecast is off*.

use jiff::{SignedDuration, Timestamp};
use quantity::{celsius, in_celsius, in_metres_per_second, in_millimetres};
use rand::rngs::StdRng;
use rand::{RngExt, SeedableRng};
use statrs::distribution::{ContinuousCDF, Normal};
use weather::phase::{ReportedPhase, frozen_share};
use weather::psychrometrics::{relative_humidity, saturation_over_water, wet_bulb};
use weather::{Fraction, Hour, Pressure};

use crate::section::Horizon;
use crate::sky::{Place, Sun, bridged, clear_sky, cloud_of, through_cloud};
use crate::surface::{Forcing, Weather};

/// What a trace is taken as, mm in an hour: more than nothing, less than a gauge shows.
const TRACE: f64 = 0.03;
/// Water in an hour of precipitation whose amount no file tells, mm: light snow or rain.
const UNSAID: f64 = 0.4;
/// Chance from which an hour without an amount counts as wet in the middle story.
const LIKELY: f64 = 0.5;
/// Humidity and wind where the file has none: a damp winter day with a light wind, m/s.
const USUAL_HUMIDITY: f64 = 0.80;
const USUAL_WIND: f64 = 2.0;
/// Cloud of the middle story where nobody knows it: not the mean of a winter's sky, which is clear or covered, but the
/// cover whose longwave, by its fourth power, is the mean.
const USUAL_CLOUD: f64 = 0.82;
/// Winter skies are covered more often than clear: 1 would be as often.
const COVERED: f64 = 0.6;
/// Hours of a night over which cloud is bridged.
const NIGHT: usize = 20;
/// Variance of air temperature's error, K², at no lead and for each hour of it, of 10,000 pairs a lead.
const AIR_VARIANCE: [f64; 2] = [2.44, 0.039];
/// Where the newest observation is in the forecast, the error grows to that from this share, with this time, h.
const AT_ONCE: (f64, f64) = (0.35, 6.0);
/// Share of the error that stays along one forecast, and the time in which the rest turns over, h.
const STAYS: f64 = 0.3;
const TURNS: f64 = 6.0;
/// Errors of cloud (share) with its time, h; of wind (as a factor's log); dew point (share of the air's error and its
/// own, K).
const CLOUD: (f64, f64) = (0.30, 5.0);
const WIND: f64 = 0.3;
const DEW_POINT: (f64, f64) = (0.8, 1.3);
/// Error of a storm's water (a factor's log), and of when it comes, h for each hour of lead, at most.
const AMOUNT: f64 = 0.8;
const COMES: (f64, f64) = (0.125, 3.0);
/// The road's own model: a bias that stays, and an error that dies away with 8 h, K.
const ROAD_BIAS: f64 = 0.5;
const ROAD_ERROR: (f64, f64) = (0.58, 8.0);

/// Where a file says nothing of air, humidity or wind, what stands there is off by so many times as much: judgement.
const GUESSED: f64 = 2.0;
/// Hours of a month.
const MONTH: usize = 720;
/// Tells the stream of the road's error from that of the weather.
const ROAD_STREAM: u64 = 0x524F_4144;

/// One hour of a story.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StoryHour {
    /// Weather in the middle of the hour; rain and snow over it.
    pub weather: Weather,
    /// Temperature of the road that the file forecasts, °C.
    pub pavement: Option<f64>,
    /// What is to be added to the road's temperature, K: how far its model is off.
    pub road_error: f64,
    /// Whether freezing rain is reported.
    pub freezing_rain: bool,
    /// Whether nobody knows the cloud.
    pub cloud_unknown: bool,
    /// What stands there because the file says nothing: air, humidity, wind.
    pub guessed: [bool; 3],
}

/// What falls in an hour, mm as water.
impl StoryHour {
    /// Rain and snow together, mm.
    pub fn falls(&self) -> f64 {
        self.weather.rain + self.weather.snow
    }
}

/// One story of the weather, from some hours before it was told.
#[derive(Debug, Clone, PartialEq)]
pub struct Story {
    /// Start of the first hour.
    pub start: Timestamp,
    /// Its hours, without a break.
    pub hours: Vec<StoryHour>,
    /// How many of them lie in the past: the forecast begins after them.
    pub past: usize,
    /// Where the sun is taken from.
    pub place: Place,
    /// Reported phases, and chances where no amount was given, to tell members by.
    phases: Vec<Option<ReportedPhase>>,
    chances: Vec<Option<f64>>,
    pressure: Pressure,
}

fn vapour_at(dew_point: f64) -> f64 {
    saturation_over_water(celsius(dew_point.clamp(-65.0, 60.0)))
        .map_or(0.0, |pressure| pressure.hectopascals())
}

fn dew_point_of(vapour: f64) -> f64 {
    let x = (vapour.max(1e-3) / 6.112).ln();
    243.12 * x / (17.62 - x)
}

/// A value at each hour: where it is missing the line between its neighbors, at the ends the nearest; none where none
/// is known.
fn filled(known: &[Option<f64>]) -> Option<Vec<f64>> {
    let all = bridged(known, known.len());
    let first = all.iter().flatten().next().copied()?;
    let last = all.iter().flatten().last().copied()?;
    let begin = all.iter().position(Option::is_some)?;
    Some(
        all.iter()
            .enumerate()
            .map(|(place, value)| value.unwrap_or(if place < begin { first } else { last }))
            .collect(),
    )
}

impl Story {
    /// The story that hours of a file tell, with so many of them in the past; none where neither the air's nor the
    /// road's temperature is known at all.
    ///
    /// Dew point, wind and cloud that are missing are filled: between neighbors, out of the sun, or by what is usual,
    /// and marked where nobody knows the cloud. An hour next to a wet one whose amount is missing has its neighbors'
    /// mean.
    pub fn of(hours: &[Hour], past: usize, place: Place, pressure: Pressure) -> Option<Self> {
        let start = hours.first()?.start;
        let own = |hour: &Hour| hour.air.or(hour.pavement).map(in_celsius);
        let air = filled(&hours.iter().map(own).collect::<Vec<_>>())?;
        let humidity =
            filled(&hours.iter().map(|hour| hour.relative_humidity.map(Fraction::ratio)).collect::<Vec<_>>());
        let wind = filled(&hours.iter().map(|hour| hour.wind.map(in_metres_per_second)).collect::<Vec<_>>());
        let suns: Vec<Sun> =
            hours.iter().map(|hour| Sun::at(place, hour.start + SignedDuration::from_mins(30))).collect();
        let shone: Vec<Option<f64>> = hours
            .iter()
            .map(|hour| hour.shortwave.map(|sun| sun.watts_per_square_metre().max(0.0)))
            .collect();
        let clouds: Vec<Option<f64>> = hours
            .iter()
            .zip(&suns)
            .zip(&shone)
            .map(|((hour, sun), shone)| hour.cloud.map(Fraction::ratio).or_else(|| cloud_of((*shone)?, *sun)))
            .collect();
        let clouds = bridged(&clouds, NIGHT);
        let water = water(hours);
        let told = (0..hours.len())
            .map(|place| {
                let hour = &hours[place];
                let falls = water[place];
                let cloud = clouds[place].or((falls > 0.0).then_some(1.0));
                let sky = cloud.unwrap_or(USUAL_CLOUD);
                let share = hour.frozen_share.map_or(f64::from(air[place] < 1.0), Fraction::ratio);
                StoryHour {
                    weather: Weather {
                        air: air[place],
                        vapour: humidity.as_ref().map_or(USUAL_HUMIDITY, |all| all[place])
                            * vapour_at(air[place]),
                        wind: wind.as_ref().map_or(USUAL_WIND, |all| all[place]),
                        cloud: sky,
                        shortwave: shone[place]
                            .unwrap_or_else(|| clear_sky(suns[place]) * through_cloud(sky)),
                        longwave: None,
                        rain: falls * (1.0 - share),
                        snow: falls * share,
                    },
                    pavement: hour.pavement.map(in_celsius),
                    road_error: 0.0,
                    freezing_rain: hour.freezing_rain,
                    cloud_unknown: cloud.is_none(),
                    guessed: [own(hour).is_none(), hour.relative_humidity.is_none(), hour.wind.is_none()],
                }
            })
            .collect();
        let no_amount = |hour: &Hour| hour.precipitation.is_none() && !hour.trace;
        Some(Self {
            start,
            hours: told,
            past: past.min(hours.len()),
            place,
            phases: hours.iter().map(|hour| hour.reported_phase).collect(),
            chances: hours
                .iter()
                .map(|hour| hour.probability.map(Fraction::ratio).filter(|_| no_amount(hour)))
                .collect(),
            pressure,
        })
    }

    /// Start of an hour.
    pub fn at(&self, hour: usize) -> Timestamp {
        self.start + SignedDuration::from_hours(hour as i64)
    }

    /// The same with what a road's readings say: a correction and its standard deviation at each lead, h, in place of
    /// what is known of an unread road.
    fn road_errors(&self, draw: Option<&mut Draw>, read: Option<&dyn Fn(f64) -> (f64, f64)>) -> Vec<f64> {
        let mut stays = 0.0;
        let mut dies = Wave::new(ROAD_ERROR.1);
        let mut draw = draw;
        if let Some(draw) = &mut draw {
            stays = draw.normal();
        }
        (0..self.hours.len())
            .map(|hour| {
                let lead = hour.saturating_sub(self.past) as f64;
                // The past is one for all members: nothing is drawn in it.
                if hour < self.past {
                    return read.map_or(0.0, |read| read(0.0).0);
                }
                let wave = draw.as_mut().map_or(0.0, |draw| dies.next(draw));
                match read {
                    Some(read) => {
                        let (mean, deviation) = read(lead);
                        mean + if draw.is_some() {
                            deviation * (0.5_f64.sqrt() * stays + 0.5_f64.sqrt() * wave)
                        } else {
                            0.0
                        }
                    }
                    None if draw.is_some() => ROAD_BIAS * stays + ROAD_ERROR.0 * wave,
                    None => 0.0,
                }
            })
            .collect()
    }

    /// The middle story of a road that is read: its correction is in it.
    #[must_use]
    pub fn corrected(&self, read: &dyn Fn(f64) -> (f64, f64)) -> Self {
        let errors = self.road_errors(None, Some(read));
        let mut told = self.clone();
        for (hour, error) in told.hours.iter_mut().zip(errors) {
            hour.road_error = error;
        }
        told
    }

    /// A member that a forecast gives itself, with the road's own error drawn for it.
    #[must_use]
    pub fn with_road_error(
        mut self,
        seed: u64,
        number: u64,
        read: Option<&dyn Fn(f64) -> (f64, f64)>,
    ) -> Self {
        let errors = self.road_errors(Some(&mut Draw::new(seed ^ ROAD_STREAM, number)), read);
        for (hour, error) in self.hours.iter_mut().zip(errors) {
            hour.road_error = error;
        }
        self
    }

    /// One member of a forecast that has none: the same story with errors as forecasts have them. The same seed and
    /// number give the same member. The past stays as it was seen.
    ///
    /// # Equation
    /// Air: var(L) = 2.44 + 0.039 L K² at a lead of L h, a third of it constant, the rest turning over with 6 h;
    /// where the past is in the file the first hours are nearer. Dew point 0.8 of it and 1.3 K; cloud ± 0.30; wind ×
    /// exp(0.3 z), water × exp(0.8 z); the storm comes up to 3 h sooner or later. A sky that nobody knows is drawn
    /// anew, clear or covered rather than half.
    ///
    /// # Source
    /// Air: 10,000 pairs a lead, 70 cities (`road/tests/data/forecast_error_us_cold_season.csv`); the rest judgement.
    #[must_use]
    pub fn member(&self, seed: u64, number: u64, read: Option<&dyn Fn(f64) -> (f64, f64)>) -> Self {
        // The road's own error has a stream of its own: what a member's weather does in an hour depends neither on how
        // long the story is nor on how much of the past is known.
        let errors = self.road_errors(Some(&mut Draw::new(seed ^ ROAD_STREAM, number)), read);
        let mut draw = Draw::new(seed, number);
        let (air_stays, wind_stays, amount, comes) =
            (draw.normal(), draw.normal(), draw.normal(), draw.normal());
        let (wet, sky_stays) = (draw.uniform(), draw.normal());
        let [mut air_wave, mut dew_wave, mut cloud_wave, mut wind_wave, mut sky_wave] =
            [TURNS, TURNS, CLOUD.1, TURNS, 12.0].map(Wave::new);
        let mut told = self.clone();
        for (hour, error) in errors.into_iter().enumerate() {
            told.hours[hour].road_error = error;
            if hour < self.past {
                continue;
            }
            let lead = (hour - self.past) as f64 + 0.5;
            let is_blended = self.past > 0;
            let growth = if is_blended {
                AT_ONCE.0 + (1.0 - AT_ONCE.0) * (1.0 - (-lead / AT_ONCE.1).exp())
            } else {
                1.0
            };
            let [air_guess, dew_guess, wind_guess] =
                self.hours[hour].guessed.map(|is_guessed| if is_guessed { GUESSED } else { 1.0 });
            let air_error = growth.max(if air_guess > 1.0 { 1.0 } else { 0.0 })
                * air_guess
                * air_deviation(lead)
                * (STAYS.sqrt() * air_stays + (1.0 - STAYS).sqrt() * air_wave.next(&mut draw));
            let own = &self.hours[hour].weather;
            let air = own.air + air_error;
            let dew_point = dew_point_of(own.vapour)
                + DEW_POINT.0 * air_error
                + growth.max(if dew_guess > 1.0 { 1.0 } else { 0.0 })
                    * dew_guess
                    * DEW_POINT.1
                    * dew_wave.next(&mut draw);
            let wind = own.wind
                * (wind_guess
                    * WIND
                    * (STAYS.sqrt() * wind_stays + (1.0 - STAYS).sqrt() * wind_wave.next(&mut draw)))
                .exp();
            let cloud_error = CLOUD.0 * cloud_wave.next(&mut draw);
            let sky = 0.5_f64.sqrt() * (sky_stays + sky_wave.next(&mut draw));
            let cloud = if self.hours[hour].cloud_unknown {
                // Skies are clear or covered more often than in between.
                let even = Normal::standard().cdf(sky).powf(COVERED);
                (0.5 * std::f64::consts::PI * even).sin().powi(2)
            } else {
                (own.cloud + cloud_error).clamp(0.0, 1.0)
            };
            let shift = (comes * (COMES.0 * lead).min(COMES.1)).round() as i64;
            let from = (hour as i64 - shift).clamp(self.past as i64, self.hours.len() as i64 - 1) as usize;
            let falls = match self.chances[from] {
                Some(chance) if wet < chance => UNSAID,
                Some(_) => 0.0,
                None => self.hours[from].falls(),
            } * (AMOUNT * amount).exp();
            let vapour = vapour_at(dew_point.min(air));
            let share = self.share_of(from, air, vapour);
            let weather = &mut told.hours[hour].weather;
            *weather = Weather {
                air,
                vapour,
                wind,
                cloud: if falls > 0.0 { cloud.max(0.9) } else { cloud },
                shortwave: own.shortwave * through_cloud(cloud) / through_cloud(own.cloud),
                longwave: None,
                rain: falls * (1.0 - share),
                snow: falls * share,
            };
            told.hours[hour].freezing_rain = self.hours[from].freezing_rain;
        }
        told
    }

    /// Share that falls as snow in a member's air: what is reported stays unless its air forbids it.
    fn share_of(&self, from: usize, air: f64, vapour: f64) -> f64 {
        let own = &self.hours[from].weather;
        let told = if self.hours[from].falls() > 0.0 { own.snow / self.hours[from].falls() } else { 0.5 };
        let humidity = relative_humidity(celsius(air), celsius(dew_point_of(vapour).min(air)));
        let Ok(bulb) = humidity.and_then(|humidity| wet_bulb(celsius(air), humidity, self.pressure)) else {
            return told;
        };
        let by_bulb = frozen_share(bulb).ratio();
        match self.phases[from] {
            // A report holds within a kelvin and a half of what it may be.
            Some(ReportedPhase::Snow | ReportedPhase::IcePellets) if in_celsius(bulb) < 2.5 => 1.0,
            Some(ReportedPhase::FreezingRain) => 0.0,
            Some(ReportedPhase::Rain) if in_celsius(bulb) > -1.0 => 0.0,
            Some(ReportedPhase::Mixed) => told,
            _ => by_bulb,
        }
    }

    /// What acts on surfaces in steps of so many seconds, for all hours from one on.
    pub fn forcing(&self, seconds: u32, from: usize) -> Vec<Forcing> {
        let weather: Vec<Weather> = self.hours.iter().map(|hour| hour.weather).collect();
        Forcing::series(self.place, self.start, &weather, true, seconds, from)
    }

    /// Temperature of the ground as the story begins, °C by depth in m, and the one that stays 3 m down.
    ///
    /// # Equation
    /// At the top the mean of the air's first day, at 1 m that of its first month (or what is known of it) and 2 K, at
    /// 3 m the wave of the year; straight lines between.
    ///
    /// # Source
    /// Top and 1 m: docs/roads.md. Wave of the year: form of Kusuda and Achenbach 1965, with a mean of 32 − 0.45 K a
    /// degree of latitude and 6.5 K less a km up, and 12 K at the top, by judgement: 3 K off is 0.1 K on the road.
    pub fn ground(&self) -> (impl Fn(f64) -> f64 + use<>, f64) {
        let mean = |hours: &[StoryHour]| {
            hours.iter().map(|hour| hour.weather.air).sum::<f64>() / hours.len().max(1) as f64
        };
        let known = if self.past >= 24 { self.past } else { self.hours.len().min(24) };
        let top = mean(&self.hours[..known.min(24)]);
        let near = mean(&self.hours[..known.min(MONTH)]) + 2.0;
        let deep = self.deep_ground();
        let at = move |depth: f64| {
            if depth < 1.0 {
                top + (near - top) * depth
            } else {
                near + (deep - near) * ((depth - 1.0) / 2.0).min(1.0)
            }
        };
        (at, deep)
    }

    fn deep_ground(&self) -> f64 {
        let kilometres = -8.0 * (self.pressure.hectopascals() / 1013.25).ln();
        let mean = 32.0 - 0.45 * self.place.latitude.abs() - 6.5 * kilometres;
        // Warmest at the top in late July, in the south in late January; 3 m down 73 days later, and 0.29 of it.
        let day = f64::from(self.start.to_zoned_datetime(jiff::tz::TimeZone::UTC).day_of_year());
        let latest = if self.place.latitude >= 0.0 { 279.0 } else { 96.0 };
        mean + 0.29 * 12.0 * (std::f64::consts::TAU * (day - latest) / 365.25).cos()
    }
}

/// Standard deviation of the model of a road that nobody reads, K: its bias and its error together.
pub fn unread_deviation() -> f64 {
    ROAD_BIAS.hypot(ROAD_ERROR.0)
}

/// Standard deviation of a forecast air temperature at a lead, h, in K.
///
/// # Range
/// Leads of 12 to 48 h are measured; beyond, the line goes on.
pub fn air_deviation(lead: f64) -> f64 {
    (AIR_VARIANCE[0] + AIR_VARIANCE[1] * lead.max(0.0)).sqrt()
}

/// Water of each hour, mm.
fn water(hours: &[Hour]) -> Vec<f64> {
    let known: Vec<Option<f64>> = hours
        .iter()
        .map(|hour| match (hour.precipitation.map(in_millimetres), hour.probability) {
            (Some(amount), _) if amount > 0.0 => Some(amount),
            (_, _) if hour.trace => Some(TRACE),
            (Some(_), _) => Some(0.0),
            (None, Some(chance)) => Some(if chance.ratio() >= LIKELY { UNSAID } else { 0.0 }),
            (None, None) if hour.reported_phase.is_some() || hour.freezing_rain => None,
            (None, None) => None,
        })
        .collect();
    let bridged = bridged(&known, 2);
    (0..hours.len()).map(|place| known[place].or(bridged[place]).unwrap_or(0.0)).collect()
}

/// Draws of one member.
struct Draw {
    random: StdRng,
    normal: Normal,
}

impl Draw {
    fn new(seed: u64, number: u64) -> Self {
        // Weyl's step keeps neighboring numbers apart.
        let mixed = seed ^ number.wrapping_mul(0x9E37_79B9_7F4A_7C15);
        Self { random: StdRng::seed_from_u64(mixed), normal: Normal::standard() }
    }

    fn uniform(&mut self) -> f64 {
        self.random.random_range(1e-9..1.0 - 1e-9)
    }

    fn normal(&mut self) -> f64 {
        let even = self.uniform();
        self.normal.inverse_cdf(even)
    }
}

/// A normal error of deviation 1 that turns over in a time, hour by hour.
struct Wave {
    kept: f64,
    value: Option<f64>,
}

impl Wave {
    fn new(hours: f64) -> Self {
        Self { kept: (-1.0 / hours).exp(), value: None }
    }

    fn next(&mut self, draw: &mut Draw) -> f64 {
        let fresh = draw.normal();
        let value = match self.value {
            None => fresh,
            Some(before) => self.kept * before + (1.0 - self.kept * self.kept).sqrt() * fresh,
        };
        self.value = Some(value);
        value
    }
}

/// What a road's horizon is where only a share of the sky is told, 0…1: an edge all around.
pub fn horizon_of(sky_view: f64) -> Horizon {
    if sky_view >= 1.0 {
        Horizon::Open
    } else {
        Horizon::Around { elevation: sky_view.clamp(0.05, 1.0).sqrt().acos().to_degrees() }
    }
}
