//! The one way a quantity becomes text: rounding, grouping, minus sign, unit.

use chemistry::MassFraction;
use jiff::{SignedDuration, Timestamp, tz::TimeZone};
use planner::treatment::Spread;
use quantity::units::MILE;
use quantity::{
    Length, Mass, TemperatureInterval, ThermodynamicTemperature, Time, Velocity, Volume, celsius,
    cubic_metres, difference, in_celsius, in_fahrenheit, in_feet, in_gallons, in_kelvins, in_kilograms,
    in_litres, in_metres, in_metres_per_second, in_miles_per_hour, in_millimetres, in_pounds, in_seconds,
    in_short_tons, kilograms,
};
use road::{LiquidRate, SolidRate};
use site::UnitSystem;
use site::points::PointKind;

use crate::dates::{self, Precision};
use crate::words::{Language, Words};

/// How one reader sees quantities.
#[derive(Debug, Clone)]
pub struct Display {
    /// Units shown first.
    pub units: UnitSystem,
    /// Zone of clock times.
    pub zone: TimeZone,
    /// Words of units, days and months.
    pub words: Words,
    /// Whether the clock goes to twelve twice a day; none leaves it to the language and the units.
    pub half_days: Option<bool>,
}

/// A number with a fixed count of decimals, thousands grouped, and a true minus sign. Zero has no sign.
///
/// ```
/// use report::display::number;
/// assert_eq!(number(11_400.4, 0), "11,400");
/// assert_eq!(number(-21.06, 1), "−21.1");
/// assert_eq!(number(-0.04, 1), "0.0");
/// ```
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{:.*}", decimals, value.abs());
    let (whole, fraction) = text.split_once('.').map_or((text.as_str(), None), |(w, f)| (w, Some(f)));
    let mut grouped = String::with_capacity(text.len() + 4);
    for (place, digit) in whole.chars().enumerate() {
        if place > 0 && (whole.len() - place).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    if let Some(fraction) = fraction {
        grouped.push('.');
        grouped.push_str(fraction);
    }
    let is_zero = text.bytes().all(|b| matches!(b, b'0' | b'.'));
    if value < 0.0 && !is_zero { format!("−{grouped}") } else { grouped }
}

impl Display {
    /// A reader's view.
    pub fn new(units: UnitSystem, zone: TimeZone) -> Self {
        Self { units, zone, words: Words::of(Language::En), half_days: None }
    }

    /// The same, in other words.
    pub fn in_words(self, words: Words) -> Self {
        Self { words, ..self }
    }

    /// Gallons or litres, to the nearest ten from a thousand up: no tank or pump here is read finer.
    pub fn volume(&self, volume: Volume) -> String {
        let (value, unit) = match self.units {
            UnitSystem::Us => (in_gallons(volume), "gal"),
            UnitSystem::Si => (in_litres(volume), "L"),
        };
        format!("{} {unit}", number(round_reading(value), 0))
    }

    /// Pounds or kilograms to the last one: for tickets and bills.
    pub fn exact_mass(&self, mass: Mass) -> String {
        match self.units {
            UnitSystem::Us => format!("{} lb", number(in_pounds(mass), 0)),
            UnitSystem::Si => format!("{} kg", number(in_kilograms(mass), 0)),
        }
    }

    /// A volume in the other system, to stand beside the first.
    pub fn volume_beside(&self, volume: Volume) -> String {
        Self { units: other(self.units), ..self.clone() }.volume(volume)
    }

    /// The same mass in the other system.
    pub fn mass_beside(&self, mass: Mass) -> String {
        Self { units: other(self.units), ..self.clone() }.mass(mass)
    }

    /// Low to high, with the unit once; one figure where both read the same.
    pub fn volume_range(&self, spread: Spread<Volume>) -> String {
        self.range(&self.volume(spread.low), &self.volume(spread.high))
    }

    /// Low to high of a rate of liquid.
    pub fn liquid_rate_range(&self, low: LiquidRate, high: LiquidRate) -> String {
        self.range(&self.liquid_rate(low), &self.liquid_rate(high))
    }

    /// Low to high of a rate of salt.
    pub fn salt_rate_range(&self, low: SolidRate, high: SolidRate) -> String {
        self.range(&self.salt_rate(low), &self.salt_rate(high))
    }

    /// Pounds or kilograms; short tons or tonnes from ten tons up.
    pub fn mass(&self, mass: Mass) -> String {
        match self.units {
            UnitSystem::Us if in_short_tons(mass).abs() >= 10.0 => {
                format!("{} {}", number(in_short_tons(mass), 1), self.words.say("unit.short-tons"))
            }
            UnitSystem::Us => format!("{} lb", number(round_reading(in_pounds(mass)), 0)),
            UnitSystem::Si if in_kilograms(mass).abs() >= 10_000.0 => {
                format!("{} t", number(in_kilograms(mass) / 1000.0, 1))
            }
            UnitSystem::Si => format!("{} kg", number(round_reading(in_kilograms(mass)), 0)),
        }
    }

    /// A temperature to the whole °F, or to a tenth of a °C.
    pub fn temperature(&self, temperature: ThermodynamicTemperature) -> String {
        match self.units {
            UnitSystem::Us => format!("{} °F", number(in_fahrenheit(temperature), 0)),
            UnitSystem::Si => format!("{} °C", number(in_celsius(temperature), 1)),
        }
    }

    /// The number of a temperature alone, for an axis.
    pub fn temperature_value(&self, temperature: ThermodynamicTemperature) -> f64 {
        match self.units {
            UnitSystem::Us => in_fahrenheit(temperature),
            UnitSystem::Si => in_celsius(temperature),
        }
    }

    /// The unit of temperatures.
    pub fn temperature_unit(&self) -> &'static str {
        match self.units {
            UnitSystem::Us => "°F",
            UnitSystem::Si => "°C",
        }
    }

    /// The key of a name that tells volumes at the temperature at which they are stated, 60 °F, in the reader's unit.
    pub fn at_reference<'k>(&self, key: &'k str) -> &'k str {
        match (self.units, key) {
            (UnitSystem::Si, "account.volume") => "account.volume-l",
            (UnitSystem::Si, "ask.settled-volume") => "ask.settled-volume-l",
            _ => key,
        }
    }

    /// A difference of temperatures, without sign.
    pub fn degrees(&self, interval: TemperatureInterval) -> String {
        let kelvins = in_kelvins(interval).abs();
        match self.units {
            UnitSystem::Us => format!("{} °F", number(kelvins * 1.8, 0)),
            UnitSystem::Si => format!("{} °C", number(kelvins, 1)),
        }
    }

    /// A difference of temperatures to a tenth, without sign.
    pub fn degrees_fine(&self, interval: TemperatureInterval) -> String {
        let kelvins = in_kelvins(interval).abs();
        match self.units {
            UnitSystem::Us => format!("{} °F", number(kelvins * 1.8, 1)),
            UnitSystem::Si => format!("{} °C", number(kelvins, 1)),
        }
    }

    /// How far one temperature lies from another, without sign.
    pub fn degrees_between(&self, a: ThermodynamicTemperature, b: ThermodynamicTemperature) -> String {
        self.degrees(difference(a, b))
    }

    /// Strength, per cent by mass, to a tenth.
    pub fn strength(&self, strength: MassFraction) -> String {
        self.percent(strength.percent(), 1)
    }

    /// A number of per cent, with the sign as the language sets it.
    pub fn percent(&self, value: f64, decimals: usize) -> String {
        self.words.fill("unit.percent", &[("value", &number(value, decimals))])
    }

    /// Depth of water: hundredths of an inch, or tenths of a millimetre.
    pub fn water(&self, depth: Length) -> String {
        match self.units {
            UnitSystem::Us => format!("{} in", number(in_millimetres(depth) / 25.4, 2)),
            UnitSystem::Si => format!("{} mm", number(in_millimetres(depth), 1)),
        }
    }

    /// Depth of liquid in a tank: feet and inches to the half inch, as a dip stick is read, or meters to a hundredth.
    pub fn depth(&self, depth: Length) -> String {
        match self.units {
            UnitSystem::Us => feet_and_inches(in_feet(depth)),
            UnitSystem::Si => format!("{} m", number(in_metres(depth), 2)),
        }
    }

    /// Length of lane.
    pub fn lane_length(&self, length: Length) -> String {
        match self.units {
            UnitSystem::Us => {
                format!("{} {}", number(MILE.of_base(in_metres(length)), 1), self.words.say("unit.lane-mi"))
            }
            UnitSystem::Si => {
                format!("{} {}", number(in_metres(length) / 1000.0, 1), self.words.say("unit.lane-km"))
            }
        }
    }

    /// Liquid per lane length.
    pub fn liquid_rate(&self, rate: LiquidRate) -> String {
        match self.units {
            UnitSystem::Us => format!(
                "{} {}",
                number(rate.gallons_per_lane_mile(), 0),
                self.words.say("unit.gal-per-lane-mile")
            ),
            UnitSystem::Si => {
                let per_km = rate.on(quantity::metres(1000.0));
                format!("{} {}", number(in_litres(per_km), 0), self.words.say("unit.l-per-lane-km"))
            }
        }
    }

    /// Dry salt per lane length.
    pub fn salt_rate(&self, rate: SolidRate) -> String {
        match self.units {
            UnitSystem::Us => format!(
                "{} {}",
                number(rate.pounds_per_lane_mile(), 0),
                self.words.say("unit.lb-per-lane-mile")
            ),
            UnitSystem::Si => {
                let per_km = rate.on(quantity::metres(1000.0));
                format!("{} {}", number(in_kilograms(per_km), 0), self.words.say("unit.kg-per-lane-km"))
            }
        }
    }

    /// Formats a wind speed: whole mph, or m/s with one decimal.
    pub fn wind(&self, wind: Velocity) -> String {
        match self.units {
            UnitSystem::Us => format!("{} mph", number(in_miles_per_hour(wind), 0)),
            UnitSystem::Si => format!("{} m/s", number(in_metres_per_second(wind), 1)),
        }
    }

    /// A flow of liquid in a pipe, m³/s: gal/min to a tenth, or L/min.
    pub fn pipe_flow(&self, m3_per_second: f64) -> String {
        match self.units {
            UnitSystem::Us => {
                format!("{} gal/min", number(60.0 * in_gallons(cubic_metres(m3_per_second)), 1))
            }
            UnitSystem::Si => format!("{} L/min", number(60_000.0 * m3_per_second, 0)),
        }
    }

    /// What a point of the network shows, in the unit it is kept in.
    pub fn point(&self, kind: PointKind, value: f64) -> String {
        match kind {
            PointKind::Strength => self.percent(value, 2),
            PointKind::Temperature => self.temperature(celsius(value)),
            PointKind::Share => self.percent(100.0 * value, 0),
            PointKind::Depth => self.depth(quantity::metres(value)),
            PointKind::Flow => self.pipe_flow(value),
            PointKind::Mass => self.mass(kilograms(value)),
            PointKind::Plain => number(value, 3),
        }
    }

    /// US dollars, whole.
    pub fn dollars(&self, usd: f64) -> String {
        format!("${}", number(usd, 0))
    }

    /// Day and clock time in the yard: `6:10 AM Thu Jan 14`, or `Thu Jan 14, 06:10`.
    pub fn time(&self, at: Timestamp) -> String {
        let (day, date, clock) = (self.day_of_week(at), self.date(at), self.clock(at));
        let key = if self.has_half_days() { "time.half-days" } else { "time.whole-days" };
        self.words.fill(key, &[("day", &day), ("date", &date), ("clock", &clock)])
    }

    /// Clock time in the yard: `6:10 AM`, or `06:10`.
    pub fn clock(&self, at: Timestamp) -> String {
        self.clock_to(at, Precision::Minute)
    }

    fn clock_to(&self, at: Timestamp, precision: Precision) -> String {
        let time = at.to_zoned_datetime(self.zone.clone()).time();
        dates::clock(self.words.language(), self.has_half_days(), time, precision)
    }

    /// Clock time with the day of the week, in little room: `4:00 PM Fri 25`.
    pub fn clock_and_day(&self, at: Timestamp) -> String {
        format!("{} {}", self.clock(at), self.weekday(at))
    }

    /// Two moments of a span, the day said once where both are on it: `5:00 PM` and `8:00 PM Fri Jan 25`, or `Fri Jan
    /// 25, 17:00` and `20:00`.
    pub fn span(&self, from: Timestamp, to: Timestamp) -> (String, String) {
        let day = |at: Timestamp| at.to_zoned_datetime(self.zone.clone()).date();
        match (day(from) == day(to), self.has_half_days()) {
            (false, _) => (self.time(from), self.time(to)),
            (true, true) => (self.clock(from), self.time(to)),
            (true, false) => (self.time(from), self.clock(to)),
        }
    }

    /// A whole hour on an axis: `6 PM`, or `18:00`.
    pub fn hour(&self, at: Timestamp) -> String {
        self.clock_to(at, Precision::Hour)
    }

    /// Day in the yard with its year: `Thu Jan 14, 2027`.
    pub fn day(&self, at: Timestamp) -> String {
        let (day, date) = (self.day_of_week(at), self.date(at));
        let year = at.to_zoned_datetime(self.zone.clone()).year().to_string();
        self.words.fill("time.day", &[("day", &day), ("date", &date), ("year", &year)])
    }

    /// A day of this winter, short: `Jan 25`.
    pub fn date(&self, at: Timestamp) -> String {
        dates::month_and_day(self.words.language(), at.to_zoned_datetime(self.zone.clone()).date())
    }

    /// Day of the week with its date, short: `Sat 16`.
    pub fn weekday(&self, at: Timestamp) -> String {
        format!("{} {}", self.day_of_week(at), at.to_zoned_datetime(self.zone.clone()).day())
    }

    fn day_of_week(&self, at: Timestamp) -> String {
        dates::weekday(self.words.language(), at.to_zoned_datetime(self.zone.clone()).date())
    }

    /// Whether the clock goes to twelve twice a day: as the reader chose, else in US units as the language has it.
    pub fn has_half_days(&self) -> bool {
        let usual = || self.units == UnitSystem::Us && dates::has_half_days(self.words.language());
        self.half_days.unwrap_or_else(usual)
    }

    /// Two figures of one unit as a range, the unit once.
    fn range(&self, low: &str, high: &str) -> String {
        if low == high {
            return high.to_string();
        }
        let low = low.split(' ').next().unwrap_or(low);
        self.words.fill("unit.range", &[("low", low), ("high", high)])
    }

    /// Hours and minutes.
    pub fn duration(&self, duration: SignedDuration) -> String {
        let minutes = (duration.as_secs() as f64 / 60.0).round() as i64;
        match (minutes / 60, minutes % 60) {
            (0, m) => format!("{m} min"),
            (h, 0) => format!("{h} {}", self.hours_unit()),
            (h, m) if self.units == UnitSystem::Us => format!("{h} {} {m} min", self.hours_unit()),
            (h, m) => format!("{h} h {m:02} min"),
        }
    }

    fn hours_unit(&self) -> &'static str {
        if self.units == UnitSystem::Us && self.words.language() == Language::En { "hr" } else { "h" }
    }

    /// A short time: seconds up to two minutes, then minutes.
    pub fn short_time(&self, seconds: f64) -> String {
        if seconds < 119.5 {
            return format!("{} s", number(seconds, 0));
        }
        self.duration(SignedDuration::from_secs(seconds.round() as i64))
    }

    /// A time as hours and minutes.
    pub fn time_span(&self, time: Time) -> String {
        self.duration(SignedDuration::from_secs(in_seconds(time).round() as i64))
    }
}

/// `6 ft 6 in`, to the half inch.
fn feet_and_inches(feet: f64) -> String {
    let halves = (feet * 24.0).round();
    let (whole, inches) = ((halves / 24.0).floor(), halves.rem_euclid(24.0) / 2.0);
    let decimals = usize::from(inches.fract() != 0.0);
    format!("{} ft {} in", number(whole, 0), number(inches, decimals))
}

/// To the nearest ten from a thousand up, to the nearest one below.
fn round_reading(value: f64) -> f64 {
    if value.abs() >= 1000.0 { (value / 10.0).round() * 10.0 } else { value.round() }
}

fn other(units: UnitSystem) -> UnitSystem {
    match units {
        UnitSystem::Us => UnitSystem::Si,
        UnitSystem::Si => UnitSystem::Us,
    }
}
