//! `road`: weather in, a road's surface and what lies on it out, hour by hour.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use quantity::{celsius, fahrenheit, gallons, in_celsius, kilograms, metres, pounds};
use report::road_document::state_code;
use road::correction::{Held, Instrument, Reading, Use, held};
use road::course::given::Given;
use road::course::{LANE, PutDown, RoadAt, STEP, film_of};
use road::film::Film;
use road::score::quantile;
use road::section::{Horizon, Section, Traffic};
use road::sky::Place;
use road::story::{Story, unread_deviation};
use serde_json::json;
use weather::{GridOptions, Pressure};

use crate::args;
use crate::errors::{english, sentence};
use crate::input;
use crate::outcome::{Done, Failure, Outcome, note, print};

/// Members drawn for the range, and their seed: as the plan's.
const MEMBERS: u64 = 40;
const SEED: u64 = 1;
/// Eight in ten of a normal error lie within so many standard deviations.
const EIGHT_IN_TEN: f64 = 1.2816;

/// The road, and where it lies.
struct Where {
    section: Section,
    place: Place,
    pressure: Pressure,
    name: String,
}

/// Runs the verb.
pub fn run(args: &args::RoadOne) -> Outcome {
    let yard = args.yard.as_deref().map(input::yard).transpose()?;
    let zone = yard.as_ref().map_or(Ok(TimeZone::UTC), input::zone)?;
    let station = yard.as_ref().and_then(|yard| yard.weather_station.as_deref());
    let issued =
        args.reading.issued.as_deref().map(|text| input::time("--issued", text, &zone)).transpose()?;
    let file = input::weather(&args.weather, &args.reading, station, issued.unwrap_or_else(Timestamp::now))?;
    let found = whereabouts(args, yard.as_ref())?;
    let refuse = |what: String| Failure::Input(format!("{}: {what}", args.weather.display()));
    let temperatures = [weather::Quantity::AirTemperature, weather::Quantity::PavementTemperature];
    let first = temperatures.iter().flat_map(|one| file.samples.of(*one)).map(|sample| sample.start).min();
    let first = first.ok_or_else(|| refuse("holds no air temperature; accepted: a file with one".into()))?;
    let last = file.samples.all().iter().map(|one| one.end.max(one.start)).max().unwrap_or(first);
    let to = match (issued, args.hours) {
        (Some(issued), Some(hours)) => issued + jiff::SignedDuration::from_hours(hours as i64),
        (None, Some(hours)) => first + jiff::SignedDuration::from_hours(hours as i64),
        (_, None) => last,
    };
    let count =
        |from: Timestamp, to: Timestamp| (to.duration_since(from).as_secs_f64() / 3600.0).ceil() as usize;
    let options = GridOptions { use_suspect: false, pressure: Some(found.pressure) };
    let mut grid = file.hourly(first, count(first, to.min(last)).max(1), options);
    // Nothing is known after the last temperature.
    while grid.hours.last().is_some_and(|hour| hour.air.is_none() && hour.pavement.is_none()) {
        grid.hours.pop();
    }
    let past =
        issued.map_or(grid.hours.len(), |at| grid.hours.iter().filter(|hour| hour.end() <= at).count());
    let story = Story::of(&grid.hours, past, found.place, found.pressure)
        .ok_or_else(|| refuse("holds no air temperature; accepted: a file with one".into()))?;
    let readings =
        args.readings.as_deref().map(|path| readings(path, &zone)).transpose()?.unwrap_or_default();
    let put_down = match &args.treatments {
        Some(path) => treatments(path, &zone, args.strength_pct)?,
        None => Vec::new(),
    };
    let rows = rows(args, &found, &story, &readings, &put_down);
    let notices: Vec<String> =
        file.notices.iter().chain(&grid.notices).map(|notice| english(&notice.text)).collect();
    if args.json {
        print(&format!("{:#}", document(&rows, &found, &story, &notices)))?;
    } else {
        notices.iter().for_each(|notice| note(notice));
        if let Some(why) = unused(&rows.held) {
            note(&why);
        }
        print(&csv(&rows, &story))?;
    }
    Ok(Done::Yes)
}

/// What was worked out of a road.
struct Rows {
    hours: Vec<RoadAt>,
    /// The same without readings, °C at the end of each hour.
    model: Vec<f64>,
    /// What 10, 50 and 90 of 100 are below, °C, mean of each hour.
    range: Vec<[f64; 3]>,
    held: Option<Held>,
}

fn rows(
    args: &args::RoadOne,
    found: &Where,
    story: &Story,
    readings: &[Reading],
    put_down: &[PutDown],
) -> Rows {
    let given = Given { section: found.section, put_down, is_plowed: !args.no_plow };
    let through = |story: &Story| given.through(story, &story.forcing(STEP, 0));
    let plain = through(story);
    let model: Vec<f64> = plain.iter().map(|hour| hour.surface).collect();
    let until = story.at(story.past);
    // Of the past, and of what was read later, nothing is known yet as the forecast begins.
    let known: Vec<Reading> = readings.iter().filter(|one| one.at <= until).copied().collect();
    let held = (!known.is_empty()).then(|| held(&known, story.at(0), &model[..story.past], until));
    let correction = held.as_ref().and_then(|held| held.correction);
    let read = |lead: f64| correction.map_or((0.0, unread_deviation()), |correction| correction.ahead(lead));
    let mut corrected = story.clone();
    if let Some(held) = &held {
        for (hour, told) in corrected.hours.iter_mut().enumerate() {
            let ahead = hour.saturating_sub(story.past) as f64;
            told.road_error = held.by_hour.get(hour).map_or_else(|| read(ahead).0, |(mean, _)| *mean);
        }
    }
    let hours = if held.is_some() { through(&corrected) } else { plain };
    let narrow = |hour: usize, mean: f64| {
        let deviation = match held.as_ref().and_then(|held| held.by_hour.get(hour)) {
            Some((_, deviation)) => *deviation,
            None => read(hour.saturating_sub(story.past) as f64).1,
        };
        [mean - EIGHT_IN_TEN * deviation, mean, mean + EIGHT_IN_TEN * deviation]
    };
    let range = if args.as_measured || story.past == story.hours.len() {
        hours.iter().enumerate().map(|(hour, one)| narrow(hour, one.mean)).collect()
    } else {
        let by_readings: Option<&dyn Fn(f64) -> (f64, f64)> =
            if correction.is_some() { Some(&read) } else { None };
        let members: Vec<Vec<RoadAt>> = (0..MEMBERS)
            .map(|number| {
                let mut member = story.member(SEED, number, by_readings);
                for (own, told) in member.hours.iter_mut().zip(&corrected.hours).take(story.past) {
                    own.road_error = told.road_error;
                }
                through(&member)
            })
            .collect();
        (0..hours.len())
            .map(|hour| {
                if hour < story.past {
                    return narrow(hour, hours[hour].mean);
                }
                let mut all: Vec<f64> = members.iter().map(|member| member[hour].mean).collect();
                all.push(hours[hour].mean);
                all.sort_by(f64::total_cmp);
                [0.1, 0.5, 0.9].map(|share| quantile(&all, share).unwrap_or(hours[hour].mean))
            })
            .collect()
    };
    Rows { hours, model, range, held }
}

/// Why readings were not used, where any were not.
fn unused(held: &Option<Held>) -> Option<String> {
    let held = held.as_ref()?;
    let count = |of: fn(&Use) -> bool| held.readings.iter().filter(|one| of(&one.used)).count();
    let off = count(|used| matches!(used, Use::LeftOut { .. }));
    let no_weather = count(|used| matches!(used, Use::NoWeather));
    let clock = held.readings.iter().find_map(|one| match one.used {
        Use::WrongClock { hours } => Some(hours),
        _ => None,
    });
    let mut why = Vec::new();
    if off > 0 {
        why.push(format!("{off} too far from what was expected (more than four standard deviations)"));
    }
    if no_weather > 0 {
        why.push(format!("{no_weather} before the weather of the file begins"));
    }
    if let Some(hours) = clock {
        why.push(format!("those of the sensor, whose clock is {hours} h off"));
    }
    (!why.is_empty()).then(|| format!("Readings not used: {}.", why.join("; ")))
}

const COLUMNS: [&str; 15] = [
    "start",
    "end",
    "surface_c",
    "surface_c_p10",
    "surface_c_p50",
    "surface_c_p90",
    "surface_end_c",
    "model_end_c",
    "water_mm",
    "ice_mm",
    "snow_mm",
    "salt_g_m2",
    "freezing_c",
    "state",
    "is_forecast",
];

/// One hour as values, in the order of the columns.
fn values(rows: &Rows, story: &Story, hour: usize) -> Vec<serde_json::Value> {
    let (at, range) = (&rows.hours[hour], rows.range[hour]);
    let film = at.film;
    let figure = |value: f64| json!((value * 1e4).round() / 1e4);
    vec![
        json!(story.at(hour).to_string()),
        json!(story.at(hour + 1).to_string()),
        figure(at.mean),
        figure(range[0]),
        figure(range[1]),
        figure(range[2]),
        figure(at.surface),
        figure(rows.model[hour]),
        figure(film.water.max(0.0)),
        figure(film.ice.max(0.0)),
        figure(film.snow.max(0.0)),
        figure(film.salt.max(0.0)),
        figure(film.freezing_point().min(0.0)),
        json!(state_code(at)),
        json!(hour >= story.past),
    ]
}

fn csv(rows: &Rows, story: &Story) -> String {
    let mut lines = vec![COLUMNS.join(",")];
    for hour in 0..rows.hours.len() {
        let cells = values(rows, story, hour);
        let cell =
            |value: &serde_json::Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
        lines.push(cells.iter().map(cell).collect::<Vec<_>>().join(","));
    }
    lines.join("\n")
}

fn document(rows: &Rows, found: &Where, story: &Story, notices: &[String]) -> serde_json::Value {
    let hours: Vec<serde_json::Value> = (0..rows.hours.len())
        .map(|hour| {
            COLUMNS
                .iter()
                .map(|name| (*name).to_owned())
                .zip(values(rows, story, hour))
                .collect::<serde_json::Map<_, _>>()
        })
        .map(serde_json::Value::Object)
        .collect();
    let readings = rows.held.iter().flat_map(|held| &held.readings).map(|one| {
        let (used, off) = match one.used {
            Use::Used => ("used", None),
            Use::LeftOut { off } => ("too_far_off", Some(off)),
            Use::WrongClock { hours } => ("wrong_clock", Some(hours as f64)),
            Use::NoWeather => ("no_weather", None),
        };
        json!({ "at": one.reading.at.to_string(), "surface_c": one.reading.surface, "expected_c": one.expected,
                "use": used, "off": off })
    });
    let unknown = story.hours[story.past..].iter().filter(|hour| hour.cloud_unknown).count();
    json!({
        "road": found.name,
        "latitude_deg": found.place.latitude,
        "longitude_deg": found.place.longitude,
        "sky_view": found.section.sky_view,
        "hours_known_before": story.past,
        "hours_without_cloud": unknown,
        "readings": readings.collect::<Vec<_>>(),
        "hours": hours,
        "notices": notices,
    })
}

/// The road that is meant.
fn whereabouts(args: &args::RoadOne, yard: Option<&site::Yard>) -> Result<Where, Failure> {
    let flags = &args.place;
    let Some(yard) = yard else {
        let within = |name: &str, value: f64, low: f64, high: f64| {
            if (low..=high).contains(&value) {
                Ok(value)
            } else {
                Err(Failure::Input(format!("--{name} = {value}: accepted: {low}…{high}")))
            }
        };
        let place = Place {
            latitude: within("latitude-deg", flags.latitude_deg, -66.0, 72.0)?,
            longitude: within("longitude-deg", flags.longitude_deg, -180.0, 180.0)?,
        };
        let height = metres(within("elevation-m", flags.elevation_m, -100.0, 4500.0)?);
        let material = match (args.bridge, flags.concrete) {
            (true, _) => Section::DECK,
            (false, true) => Section::CONCRETE,
            (false, false) => Section::ASPHALT,
        };
        let mut section = match flags.shade_deg {
            Some(angle) => material.shaded(within("shade-deg", angle, 0.0, 80.0)?),
            None => material,
        };
        if let Some([axis, left, right, width, road]) = flags.street.as_deref() {
            within("street GAP", *width, 3.0, 300.0)?;
            within("street ROAD", *road, 2.0, *width)?;
            let horizon =
                Horizon::Street { axis: *axis, heights: [*left, *right], width: *width, road: *road };
            section = section.in_street(horizon, 0.0, 1.0);
        }
        if let Some(share) = flags.sky_view {
            section.sky_view = within("sky-view", share, 0.05, 1.0)?;
        }
        section.wall_excess = within("wall-warmer-k", flags.wall_warmer_k, 0.0, 10.0)?;
        section.wind_share = within("wind-share", flags.wind_share, 0.1, 1.0)?;
        section.base_water = within("wet-base-pct", flags.wet_base_pct, 0.0, 10.0)? / 100.0;
        section.traffic = Traffic {
            light: within("light-per-h", flags.light_per_h, 0.0, 5000.0)?,
            heavy: within("heavy-per-h", flags.heavy_per_h, 0.0, 5000.0)?,
            speed: within("speed-km-h", flags.speed_km_h, 1.0, 140.0)?,
        };
        let pressure = weather::psychrometrics::standard_pressure(height).unwrap_or(Pressure::STANDARD);
        let name = if args.bridge { "bridge" } else { "road" };
        return Ok(Where { section, place, pressure, name: name.to_owned() });
    };
    let pressure = weather::psychrometrics::standard_pressure(yard.elevation).unwrap_or(Pressure::STANDARD);
    let named = match &args.road {
        Some(id) => planner::roads::RoadOf::named(yard, id, args.bridge).ok_or_else(|| {
            let classes = yard.route_classes.iter().map(|one| one.id.as_str());
            let all: Vec<&str> = classes.chain(yard.segments.iter().map(|one| one.id.as_str())).collect();
            Failure::Input(format!("--road = {id}: no such class or segment; accepted: {}", all.join(", ")))
        })?,
        None if yard.route_classes.is_empty() => {
            return Err(Failure::Input("the yard file has no route_class; accepted: a file with one".into()));
        }
        None => planner::roads::RoadOf { class: 0, is_deck: args.bridge, segment: None },
    };
    let place = planner::roads::place_of(yard);
    Ok(Where { section: named.section(yard), place, pressure, name: named.id(yard).to_owned() })
}

fn table(path: &std::path::Path) -> Result<(Vec<String>, Vec<csv::StringRecord>), Failure> {
    let text = input::text(path)?;
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(text.as_bytes());
    let refuse = |error: csv::Error| Failure::Input(format!("{}: {error}", path.display()));
    let heads = reader.headers().map_err(refuse)?.iter().map(str::to_owned).collect();
    let rows = reader.records().collect::<Result<_, _>>().map_err(refuse)?;
    Ok((heads, rows))
}

/// A figure of a row; none where the column or the cell is not there.
fn figure(
    path: &std::path::Path,
    (heads, row, line): (&[String], &csv::StringRecord, usize),
    column: &str,
    (low, high): (f64, f64),
) -> Result<Option<f64>, Failure> {
    let Some(text) = heads.iter().position(|head| head == column).and_then(|at| row.get(at)) else {
        return Ok(None);
    };
    if text.is_empty() {
        return Ok(None);
    }
    let accepted = || {
        Failure::Input(format!("{}: line {line}: {column} = {text}: accepted: {low}…{high}", path.display()))
    };
    let value: f64 = text.parse().map_err(|_| accepted())?;
    if (low..=high).contains(&value) { Ok(Some(value)) } else { Err(accepted()) }
}

fn moment(
    path: &std::path::Path,
    (heads, row, line): (&[String], &csv::StringRecord, usize),
    zone: &TimeZone,
) -> Result<Timestamp, Failure> {
    let at = heads.iter().position(|head| head == "time").and_then(|at| row.get(at)).ok_or_else(|| {
        Failure::Input(format!(
            "{}: has no column \"time\"; accepted: time, UTC like 2026-01-14T06:00Z",
            path.display()
        ))
    })?;
    input::time(&format!("{}: line {line}: time", path.display()), at, zone)
}

fn readings(path: &std::path::Path, zone: &TimeZone) -> Result<Vec<Reading>, Failure> {
    let (heads, rows) = table(path)?;
    let mut found = Vec::with_capacity(rows.len());
    for (place, row) in rows.iter().enumerate() {
        let here = (heads.as_slice(), row, place + 2);
        let at = moment(path, here, zone)?;
        let celsius_read = figure(path, here, "surface_c", (-60.0, 80.0))?;
        let fahrenheit_read = figure(path, here, "surface_f", (-76.0, 176.0))?;
        let surface = match (celsius_read, fahrenheit_read) {
            (Some(value), None) => value,
            (None, Some(value)) => in_celsius(fahrenheit(value)),
            (None, None) => continue,
            (Some(_), Some(_)) => {
                let what = "has surface_c and surface_f; accepted: one of them";
                return Err(Failure::Input(format!("{}: line {}: {what}", path.display(), place + 2)));
            }
        };
        let word =
            heads.iter().position(|head| head == "instrument").and_then(|at| row.get(at)).unwrap_or("");
        let instrument = match word {
            "" | "infrared" => Instrument::Infrared,
            "vehicle_infrared" => Instrument::VehicleInfrared,
            "station" => Instrument::Station,
            other => {
                let accepted = "accepted: infrared, vehicle_infrared, station";
                return Err(Failure::Input(format!(
                    "{}: line {}: instrument = {other}: {accepted}",
                    path.display(),
                    place + 2
                )));
            }
        };
        found.push(Reading { at, surface: in_celsius(celsius(surface)), instrument });
    }
    found.sort_by_key(|one| one.at);
    Ok(found)
}

fn treatments(path: &std::path::Path, zone: &TimeZone, strength_pct: f64) -> Result<Vec<PutDown>, Failure> {
    let strength = chemistry::MassFraction::from_percent(strength_pct)
        .map_err(|error| Failure::Input(format!("--strength-pct = {strength_pct}: {}", sentence(&error))))?;
    let brine = chemistry::Brine::sodium_chloride(strength)
        .map_err(|error| Failure::Input(format!("--strength-pct = {strength_pct}: {}", sentence(&error))))?;
    let (heads, rows) = table(path)?;
    let mile = metres(quantity::units::MILE.to_base(1.0));
    let mut found = Vec::with_capacity(rows.len());
    for (place, row) in rows.iter().enumerate() {
        let here = (heads.as_slice(), row, place + 2);
        let at = moment(path, here, zone)?;
        let get = |column: &str, most: f64| figure(path, here, column, (0.0, most));
        let liquid = get("brine_gal_lane_mile", 1000.0)?.unwrap_or(0.0);
        let salt = get("salt_lb_lane_mile", 5000.0)?.unwrap_or(0.0);
        let failed = |error: chemistry::Error| Failure::Input(sentence(&error));
        let mut film = film_of(mile, gallons(liquid), pounds(salt), &brine).map_err(failed)?;
        if let Some(ml) = get("brine_ml_m2", 2000.0)? {
            let area = metres(1000.0 / LANE);
            let volume = quantity::litres(ml);
            film = film.plus(film_of(area, volume, kilograms(0.0), &brine).map_err(failed)?);
        }
        // What lies there as salt is told as it lies: nothing of it is lost on the way.
        if let Some(grams) = get("salt_g_m2", 1000.0)? {
            film = film.plus(Film { salt: grams, ..Film::default() });
        }
        if let Some(water) = get("water_mm", 10.0)? {
            film = film.plus(Film { water, ..Film::default() });
        }
        found.push(PutDown { at, film });
    }
    found.sort_by_key(|one| one.at);
    Ok(found)
}
