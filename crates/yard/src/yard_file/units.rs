//! The unit endings of keys, and how numbers are shown.

use chemistry::quantity::{
    FEET_PER_MILE, VolumeRate, cubic_metres, difference, fahrenheit, feet, gallons, gallons_per_hour, hours,
    in_celsius, in_cubic_metres, in_gallons, in_hours, in_kelvins, in_kilograms, in_metres,
    in_metres_per_second, in_pounds_per_gallon, in_short_tons, kg_per_m3, kilograms, litres,
    metres_per_second, miles_per_hour, millimetres, minutes, pounds, short_tons,
};

/// One ending a key may have, with the factor to the unit the quantity is read in (its base): m, m³, m³/h, kg, °C, K,
/// h, m/s, kg/m³ or US dollars per m³ or short ton. All conversions are straight lines.
#[derive(Debug)]
pub(super) struct Unit {
    /// Ending of the key, without the underscore.
    pub suffix: &'static str,
    /// How the unit is written for a person.
    pub shown: &'static str,
    /// Value in the base unit.
    pub to_base: fn(f64) -> f64,
}

impl Unit {
    /// Value in this unit of a value in the base unit.
    pub fn of_base(&self, base: f64) -> f64 {
        let zero = (self.to_base)(0.0);
        (base - zero) / ((self.to_base)(1.0) - zero)
    }
}

const fn unit(suffix: &'static str, shown: &'static str, to_base: fn(f64) -> f64) -> Unit {
    Unit { suffix, shown, to_base }
}

fn cubic_metres_per_hour(rate: VolumeRate) -> f64 {
    in_cubic_metres(rate * hours(1.0))
}

const FOOT: Unit = unit("ft", "ft", |v| in_metres(feet(v)));
const METRE: Unit = unit("m", "m", |v| v);
const GALLON_HOURLY: Unit = unit("gal_h", "gal/h", |v| cubic_metres_per_hour(gallons_per_hour(v)));
const GALLON_MINUTELY: Unit = unit("gpm", "gal/min", |v| cubic_metres_per_hour(gallons(v) / minutes(1.0)));
const LITRE_HOURLY: Unit = unit("l_h", "L/h", |v| cubic_metres_per_hour(litres(v) / hours(1.0)));
const LITRE_MINUTELY: Unit = unit("l_min", "L/min", |v| cubic_metres_per_hour(litres(v) / minutes(1.0)));
const CUBIC_METRE_HOURLY: Unit = unit("m3_h", "m³/h", |v| v);
const MINUTE: Unit = unit("min", "min", |v| in_hours(minutes(v)));
const HOUR: Unit = unit("h", "h", |v| v);
const KELVIN: Unit = unit("k", "K", |v| v);
const FAHRENHEIT_STEP: Unit = unit("f", "°F", |v| in_kelvins(difference(fahrenheit(v), fahrenheit(0.0))));
const MILE: Unit = unit("mi", "mi", |v| in_metres(feet(v * FEET_PER_MILE)));
const KILOMETRE: Unit = unit("km", "km", |v| v * 1000.0);

pub(super) static SIZE: &[Unit] = &[
    FOOT,
    unit("in", "in", |v| in_metres(feet(v / 12.0))),
    METRE,
    unit("mm", "mm", |v| in_metres(millimetres(v))),
];
pub(super) static ELEVATION: &[Unit] = &[FOOT, METRE];
pub(super) static ROAD: &[Unit] = &[MILE, KILOMETRE];
pub(super) static LANE: &[Unit] =
    &[unit("miles", "lane miles", MILE.to_base), unit("km", "lane km", KILOMETRE.to_base)];
pub(super) static VOLUME: &[Unit] = &[
    unit("gal", "gal", |v| in_cubic_metres(gallons(v))),
    unit("l", "L", |v| in_cubic_metres(litres(v))),
    unit("m3", "m³", |v| v),
];
/// Base: kg/m of lane.
pub(super) static LANE_RATE: &[Unit] = &[
    unit("lb_lane_mile", "lb per lane-mile", |v| in_kilograms(pounds(v)) / in_metres(feet(FEET_PER_MILE))),
    unit("kg_lane_km", "kg per lane-km", |v| v / 1000.0),
];
/// Base: h.
pub(super) static SPAN: &[Unit] = &[unit("days", "days", |v| v * 24.0), unit("h", "h", |v| v)];
/// Base: m².
pub(super) static AREA: &[Unit] = &[
    unit("sqmi", "square miles", |v| v * in_metres(feet(FEET_PER_MILE)).powi(2)),
    unit("km2", "km²", |v| v * 1e6),
    unit("acres", "acres", |v| v * in_metres(feet(FEET_PER_MILE)).powi(2) / 640.0),
];
pub(super) static HOURLY_RATE: &[Unit] =
    &[GALLON_HOURLY, LITRE_HOURLY, CUBIC_METRE_HOURLY, GALLON_MINUTELY, LITRE_MINUTELY];
pub(super) static MINUTELY_RATE: &[Unit] =
    &[GALLON_MINUTELY, LITRE_MINUTELY, GALLON_HOURLY, LITRE_HOURLY, CUBIC_METRE_HOURLY];
pub(super) static TEMPERATURE: &[Unit] =
    &[unit("f", "°F", |v| in_celsius(fahrenheit(v))), unit("c", "°C", |v| v)];
pub(super) static STEP: &[Unit] = &[KELVIN, unit("c", "°C", |v| v), FAHRENHEIT_STEP];
pub(super) static MASS: &[Unit] = &[
    unit("tons", "short tons", |v| in_kilograms(short_tons(v))),
    unit("t", "t", |v| in_kilograms(kilograms(v * 1000.0))),
    unit("lb", "lb", |v| in_kilograms(pounds(v))),
    unit("kg", "kg", |v| v),
];
pub(super) static LOAD: &[Unit] = &[unit("lb", "lb", |v| in_kilograms(pounds(v))), unit("kg", "kg", |v| v)];
pub(super) static BUCKET: &[Unit] = &[
    unit("lb", "lb", |v| in_kilograms(pounds(v))),
    unit("kg", "kg", |v| v),
    unit("tons", "short tons", |v| in_kilograms(short_tons(v))),
    unit("t", "t", |v| in_kilograms(kilograms(v * 1000.0))),
];
pub(super) static SHORT_TIME: &[Unit] = &[MINUTE, HOUR];
pub(super) static LONG_TIME: &[Unit] = &[HOUR, MINUTE];
/// Base: h.
pub(super) static SECONDS: &[Unit] = &[unit("s", "s", |v| v / 3600.0), MINUTE];
/// Base: kg/s.
pub(super) static FEED: &[Unit] =
    &[unit("lb_min", "lb/min", |v| in_kilograms(pounds(v)) / 60.0), unit("kg_min", "kg/min", |v| v / 60.0)];
pub(super) static SPEED: &[Unit] = &[
    unit("mph", "mph", |v| in_metres_per_second(miles_per_hour(v))),
    unit("km_h", "km/h", |v| v / 3.6),
    unit("m_s", "m/s", |v| in_metres_per_second(metres_per_second(v))),
];
pub(super) static DENSITY: &[Unit] =
    &[unit("kg_m3", "kg/m³", |v| v), unit("lb_gal", "lb/gal", |v| v / in_pounds_per_gallon(kg_per_m3(1.0)))];
pub(super) static WATER_PRICE: &[Unit] = &[
    unit("kgal", "US dollars per 1,000 gal", |v| v / in_cubic_metres(gallons(1000.0))),
    unit("m3", "US dollars per m³", |v| v),
];
pub(super) static LIQUID_PRICE: &[Unit] = &[
    unit("gal", "US dollars per gal", |v| v * in_gallons(cubic_metres(1.0))),
    unit("m3", "US dollars per m³", |v| v),
];
pub(super) static SALT_PRICE: &[Unit] = &[
    unit("ton", "US dollars per short ton", |v| v),
    unit("t", "US dollars per t", |v| v / in_short_tons(kilograms(1000.0))),
];
/// Per cent per kelvin.
pub(super) static RATE_LOSS: &[Unit] = &[
    unit("f", "% per °F", |v| v / in_kelvins(difference(fahrenheit(1.0), fahrenheit(0.0)))),
    unit("c", "% per °C", |v| v),
];

/// Gallons per hour and the like are read in m³/h; this makes a rate of it.
pub(super) fn rate(cubic_metres_hourly: f64) -> VolumeRate {
    cubic_metres(cubic_metres_hourly) / hours(1.0)
}

/// A number for a person: four significant digits, thousands grouped.
pub(super) fn show(value: f64) -> String {
    if value.abs() < 1e-12 {
        return "0".to_owned();
    }
    let digits = 3 - value.abs().log10().floor() as i32;
    let text = if digits > 0 {
        let text = format!("{value:.0$}", digits.min(12) as usize);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        let step = 10_f64.powi(-digits);
        format!("{:.0}", (value / step).round() * step)
    };
    let (sign, unsigned) = text.strip_prefix('-').map_or(("", text.as_str()), |rest| ("-", rest));
    let (whole, rest) = unsigned.split_at(unsigned.find('.').unwrap_or(unsigned.len()));
    let mut grouped = String::new();
    for (place, digit) in whole.char_indices() {
        if place > 0 && (whole.len() - place).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    format!("{sign}{grouped}{rest}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use chemistry::quantity::{in_gallons_per_hour, in_kg_per_m3};

    /// Every straight line runs through its own inverse.
    #[test]
    fn units_invert() {
        for list in [
            SIZE,
            ROAD,
            LANE,
            VOLUME,
            HOURLY_RATE,
            TEMPERATURE,
            STEP,
            MASS,
            SPEED,
            DENSITY,
            RATE_LOSS,
            BUCKET,
        ] {
            for unit in list {
                let back = unit.of_base((unit.to_base)(12.5));
                assert!((back - 12.5).abs() < 1e-9, "{unit:?}");
            }
        }
    }

    /// NIST Handbook 44, appendix C: 1 US gallon = 3.785411784 L, 1 short ton = 907.18474 kg, 1 mile = 1609.344 m;
    /// 1 lb/gal = 119.8264 kg/m³ (NIST SP 811, B.8).
    #[test]
    fn factors_of_the_handbook() {
        let close = |found: f64, expected: f64| {
            assert!((found / expected - 1.0).abs() < 1e-6, "{found} {expected}");
        };
        close((VOLUME[0].to_base)(1000.0), 3.785411784);
        close((MASS[0].to_base)(1.0), 907.18474);
        close((ROAD[0].to_base)(1.0), 1609.344);
        close((DENSITY[1].to_base)(1.0), 119.8264);
        close((MINUTELY_RATE[0].to_base)(100.0), 22.712470704);
        close((SPEED[1].to_base)(36.0), 10.0);
        close((RATE_LOSS[0].to_base)(1.0), 1.8);
        close((WATER_PRICE[0].to_base)(3.785411784), 1.0);
        close(in_gallons_per_hour(rate((HOURLY_RATE[0].to_base)(3000.0))), 3000.0);
        close(in_kg_per_m3(kg_per_m3((DENSITY[1].to_base)(10.0))), 1198.264);
    }

    #[test]
    fn numbers_for_a_person() {
        let cases = [
            (100_000.0, "100,000"),
            (378_541.2, "378,500"),
            (26.3, "26.3"),
            (-28.888_9, "-28.89"),
            (-1234.5, "-1,235"),
            (0.0, "0"),
            (0.003_048, "0.003048"),
            (999_999.0, "1,000,000"),
        ];
        for (value, text) in cases {
            assert_eq!(show(value), text);
        }
    }
}
