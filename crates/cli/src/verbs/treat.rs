//! `treat`: one road condition now; which rate, until when it holds, and why.

use jiff::{SignedDuration, Timestamp};
use quantity::units::INCH;
use quantity::{celsius, fahrenheit, in_celsius, metres};
use report::{Display, Words};
use road::course::given::{Works, works};
use road::course::{Course, Crew, Form, Purpose, STEP, Service, Start, film_of};
use road::film::Film;
use road::score::quantile;
use road::section::Section;
use road::sky::Place;
use road::spraying::Limits;
use road::story::Story;
use serde_json::json;
use weather::{Fraction, Hour, Pressure};

use crate::args::{self, Falls, Lies, Units};
use crate::errors::sentence;
use crate::input;
use crate::outcome::{Done, Failure, Outcome, print};

/// Hours that are looked ahead.
const AHEAD: usize = 24;
/// Members drawn for the range of times, and their seed.
const MEMBERS: u64 = 40;
const SEED: u64 = 1;
/// What lies on a damp, a wet and an icy road, mm, and under snow, mm of water.
const DAMP: f64 = 0.06;
const WET: f64 = 0.4;
const GLAZE: f64 = 0.1;
const SNOW: f64 = 1.0;

/// Runs the verb.
pub fn run(args: &args::Treat, units: Option<Units>) -> Outcome {
    let yard = match &args.yard {
        Some(path) => input::yard(path)?,
        None => site::yard_file::read_yard(&site::yard_file::sample_yard_file(), "sample")
            .map_err(|_| Failure::Machine("the sample yard cannot be read".into()))?,
    };
    let rates = input::rates(&yard)?;
    let display = input::display(&yard, units)?;
    let words = input::words();
    let brine = chemistry::Brine::sodium_chloride(yard.plant.target_strength)
        .map_err(|error| Failure::Input(sentence(&error)))?;
    let story = story(args)?;
    let section = Section { sky_view: 0.95, ..Section::ASPHALT };
    let start = Start::new(section, &story, &[], &[]).with_film(lies(args, &brine)?);
    let forcing = story.forcing(STEP, 0);
    let policy = &yard.policy;
    let service = Service {
        cycle: args.cycle_h,
        anti_icing: args.before,
        work: 0.0,
        lead: quantity::in_hours(policy.lead_min).max(1.0),
        limits: Limits {
            block_below: policy.block_below,
            warn_below: policy.warn_below,
            warn_wind: policy.warn_wind,
        },
    };
    let failed = |error: chemistry::Error| Failure::Input(sentence(&error));
    let crew = Crew::new(service, &rates, &brine).map_err(failed)?;
    let untreated = Course::untreated(&start, &story, &forcing);
    let served = Course::served(&start, &story, &forcing, &crew, &untreated);
    let cycle = SignedDuration::from_secs((3600.0 * args.cycle_h) as i64);
    let act = served.acts.first().filter(|act| act.at <= story.at(0) + cycle);
    let film = match act {
        Some(act) => {
            let [_, liquid, _] = act.liquid(&brine).map_err(failed)?;
            let [_, salt, _] = act.salt();
            film_of(metres(1.0), liquid.on(metres(1.0)), salt.on(metres(1.0)), &brine).map_err(failed)?
        }
        None => Film::default(),
    };
    let is_plowed = act.is_some_and(|act| act.form != Form::Brine);
    let mut road = start.road().clone();
    if is_plowed && road.film.snow > 0.7 {
        road.film.plow();
    }
    road.film = road.film.plus(film);
    let middle = works(&road, 0.0, &story, &forcing);
    let members: Vec<Works> = (0..MEMBERS)
        .map(|number| {
            let member = story.member(SEED, number, None);
            works(&road, 0.0, &member, &member.forcing(STEP, 0))
        })
        .collect();
    let times = |of: fn(&Works) -> Option<f64>| -> [f64; 3] {
        let mut all: Vec<f64> = members.iter().map(|one| of(one).unwrap_or(AHEAD as f64)).collect();
        all.push(of(&middle).unwrap_or(AHEAD as f64));
        all.sort_by(f64::total_cmp);
        [0.1, 0.5, 0.9].map(|share| quantile(&all, share).unwrap_or(AHEAD as f64))
    };
    let (first_ice, half_ice) = (times(|one| one.first_ice), times(|one| one.half_ice));
    let teller = report::Teller { words: &words, display: &display, yard: &yard };
    let reasons: Vec<String> = served
        .refused
        .iter()
        .take(1)
        .flat_map(|refused| &refused.reasons)
        .map(|reason| teller.reason(reason))
        .collect();
    let told = Told { args, display: &display, words: &words, act, first_ice, half_ice, reasons: &reasons };
    let text = if args.json { format!("{:#}", told.document(&brine)) } else { told.lines(&brine).join("\n") };
    print(&text)?;
    Ok(if act.is_some() || served.refused.is_empty() { Done::Yes } else { Done::No })
}

/// What is said.
struct Told<'a> {
    args: &'a args::Treat,
    display: &'a Display,
    words: &'a Words,
    act: Option<&'a road::course::Act>,
    first_ice: [f64; 3],
    half_ice: [f64; 3],
    reasons: &'a [String],
}

fn form_code(act: &road::course::Act) -> &'static str {
    match act.form {
        Form::Brine => "brine",
        Form::PrewetSalt if act.liquid_class().is_none() => "dry_salt",
        Form::PrewetSalt => "prewet_salt",
        Form::Plow => "plow",
    }
}

impl Told<'_> {
    fn lines(&self, brine: &chemistry::Brine) -> Vec<String> {
        let (d, w) = (self.display, self.words);
        let mut lines = Vec::new();
        match self.act {
            None if !self.reasons.is_empty() => {
                lines.push(w.say("treat.no-brine").to_owned());
                lines.extend(self.reasons.iter().map(|reason| format!("  {reason}")));
            }
            None => lines.push(w.say("treat.nothing").to_owned()),
            Some(act) => {
                let salt = act.salt();
                let liquid = act.liquid(brine).ok();
                let line = match (act.form, liquid) {
                    (Form::Plow, _) => w.say("treat.plow").to_owned(),
                    (Form::Brine, Some([low, mid, high])) => w.fill_with(
                        "treat.brine",
                        &[("rate", d.liquid_rate(mid)), ("range", d.liquid_rate_range(low, high))],
                    ),
                    _ => w.fill_with(
                        "treat.salt",
                        &[("rate", d.salt_rate(salt[1])), ("range", d.salt_rate_range(salt[0], salt[2]))],
                    ),
                };
                let wait = act.at.duration_since(Timestamp::UNIX_EPOCH);
                lines.push(if wait.is_zero() {
                    line
                } else {
                    w.fill("treat.in", &[("wait", &d.duration(wait)), ("line", &line)])
                });
                if act.form != Form::Plow {
                    lines.push(self.holds("treat.first-ice", self.first_ice));
                    lines.push(self.holds("treat.half-ice", self.half_ice));
                }
                lines.push(
                    w.say(match act.purpose {
                        Purpose::Pretreat => "treat.why-pretreat",
                        Purpose::PlowOnly => "treat.why-plow",
                        _ => "treat.why-salt",
                    })
                    .to_owned(),
                );
                if let Some(rate) = &act.rate {
                    lines.push(w.fill("treat.source", &[("source", &rate.source)]));
                }
            }
        }
        lines.push(w.say("treat.care").to_owned());
        lines
    }

    /// Until when something holds, with its range.
    fn holds(&self, key: &str, [low, mid, high]: [f64; 3]) -> String {
        let time = |hours: f64| {
            if hours >= AHEAD as f64 {
                self.words.fill("treat.longer", &[("hours", &AHEAD.to_string())])
            } else {
                self.display.duration(SignedDuration::from_secs((hours * 3600.0) as i64))
            }
        };
        self.words.fill_with(key, &[("mid", time(mid)), ("low", time(low)), ("high", time(high))])
    }

    fn document(&self, brine: &chemistry::Brine) -> serde_json::Value {
        let hours = |[low, mid, high]: [f64; 3]| {
            let one = |hours: f64| (hours < AHEAD as f64).then_some(hours);
            json!({ "p10_h": one(low), "p50_h": one(mid), "p90_h": one(high) })
        };
        let salt = self.act.map(|act| act.salt().map(|rate| rate.pounds_per_lane_mile()));
        let liquid = self
            .act
            .and_then(|act| act.liquid(brine).ok())
            .map(|rates| rates.map(|rate| rate.gallons_per_lane_mile()));
        json!({
            "in_h": self.act.map(|act| act.at.duration_since(Timestamp::UNIX_EPOCH).as_secs_f64() / 3600.0),
            "form": self.act.map_or("none", form_code),
            "rate_lb_per_lane_mile": salt,
            "rate_gal_per_lane_mile": liquid,
            "holds_to_first_ice": hours(self.first_ice),
            "holds_to_half_ice": hours(self.half_ice),
            "source": self.act.and_then(|act| act.rate.as_ref()).map(|rate| rate.source.clone()),
            "reasons_against_brine": self.reasons,
            "surface_c": surface(self.args),
        })
    }
}

fn surface(args: &args::Treat) -> f64 {
    args.surface_f.map(|value| in_celsius(fahrenheit(value))).or(args.surface_c).unwrap_or(0.0)
}

/// The hours ahead as they are told: one condition that goes on, then nothing falls any more.
fn story(args: &args::Treat) -> Result<Story, Failure> {
    let within = |name: &str, value: f64, (low, high): (f64, f64)| {
        if (low..=high).contains(&value) {
            Ok(value)
        } else {
            Err(Failure::Input(format!("--{name} = {value}: accepted: {low}…{high}")))
        }
    };
    let surface = within("surface", surface(args), (-45.0, 45.0))?;
    let trend = within("trend-f-per-h", args.trend_f_per_h, (-10.0, 10.0))? / 1.8;
    let air = args.air_f.map_or(Ok(surface), |air| {
        within("air-f", air, (-50.0, 110.0)).map(|air| in_celsius(fahrenheit(air)))
    })?;
    let humidity = within("humidity-pct", args.humidity_pct, (1.0, 100.0))? / 100.0;
    let wind = within("wind-mph", args.wind_mph, (0.0, 80.0))?;
    let water = within("water-in-per-h", args.water_in_per_h, (0.0, 3.0))?;
    within("for-h", args.for_h as f64, (1.0, AHEAD as f64))?;
    within("cycle-h", args.cycle_h, (0.25, 48.0))?;
    within("salt-lb-lane-mile", args.salt_lb_lane_mile, (0.0, 2000.0))?;
    let now = Timestamp::UNIX_EPOCH;
    // Before it begins there are two hours, enough to spray.
    let begins = if args.before { 2 } else { 0 };
    let hours: Vec<Hour> = (0..AHEAD)
        .map(|hour| {
            let falls = args.falls != Falls::Nothing && (begins..begins + args.for_h).contains(&hour);
            let is_rain = matches!(args.falls, Falls::Rain | Falls::FreezingRain);
            Hour {
                air: Some(celsius(air + trend * hour as f64)),
                relative_humidity: Fraction::from_ratio(humidity).ok(),
                wind: Some(quantity::miles_per_hour(wind)),
                pavement: Some(celsius(surface + trend * (hour as f64 + 0.5))),
                cloud: Some(Fraction::ONE),
                precipitation: Some(if falls { metres(INCH.to_base(water)) } else { metres(0.0) }),
                frozen_share: Some(if is_rain { Fraction::ZERO } else { Fraction::ONE }),
                freezing_rain: falls && args.falls == Falls::FreezingRain,
                ..Hour::unknown(now + SignedDuration::from_hours(hour as i64))
            }
        })
        .collect();
    let place = Place { latitude: 43.0, longitude: -90.0 };
    Story::of(&hours, 0, place, Pressure::STANDARD)
        .ok_or_else(|| Failure::Input("no road temperature".into()))
}

/// What lies on the road as it begins.
fn lies(args: &args::Treat, brine: &chemistry::Brine) -> Result<Film, Failure> {
    let mile = metres(quantity::units::MILE.to_base(1.0));
    let salt = film_of(mile, quantity::cubic_metres(0.0), quantity::pounds(args.salt_lb_lane_mile), brine)
        .map_err(|error| Failure::Input(sentence(&error)))?;
    // It is told as it lies there: none of it is lost on the way any more.
    let salt = Film { salt: salt.salt / road::course::DRY_STAYS, ..salt };
    let film = match args.lies {
        Lies::Dry => Film::default(),
        Lies::Damp => Film { water: DAMP, ..Film::default() },
        Lies::Wet => Film { water: WET, ..Film::default() },
        Lies::Snow => Film { snow: SNOW, ..Film::default() },
        Lies::Ice => Film { ice: GLAZE, ..Film::default() },
    };
    Ok(film.plus(salt))
}
