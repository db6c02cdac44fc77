//! Which units a key may end with, the one a person of the trade would take first, and how numbers are shown.

use message::Arg;
use quantity::units::{
    ACRE, CELSIUS, CUBIC_METRE, CUBIC_METRE_HOURLY, DAY, FAHRENHEIT, FAHRENHEIT_STEP, FOOT, GALLON,
    GALLON_HOURLY, GALLON_MINUTELY, HOUR, INCH, KELVIN, KILOGRAM, KILOGRAM_MINUTELY,
    KILOGRAM_PER_CUBIC_METRE, KILOGRAM_PER_LANE_KM, KILOMETRE, KILOMETRE_HOURLY, LITRE, LITRE_HOURLY,
    LITRE_MINUTELY, METRE, METRE_SECONDLY, MILE, MILE_HOURLY, MILLIMETRE, MINUTE, POUND, POUND_MINUTELY,
    POUND_PER_GALLON, POUND_PER_LANE_MILE, SECOND, SHORT_TON, SQUARE_KILOMETRE, SQUARE_MILE, TONNE, Unit,
};
use quantity::{VolumeRate, cubic_metres, hours, in_gallons, in_short_tons, kilograms};

pub(super) static SIZE: &[Unit] = &[FOOT, INCH, METRE, MILLIMETRE];
pub(super) static ELEVATION: &[Unit] = &[FOOT, METRE];
pub(super) static ROAD: &[Unit] = &[MILE, KILOMETRE];
pub(super) static LANE: &[Unit] = &[MILE.named("miles", "lane miles"), KILOMETRE.named("km", "lane km")];
pub(super) static VOLUME: &[Unit] = &[GALLON, LITRE, CUBIC_METRE];
pub(super) static LANE_RATE: &[Unit] = &[POUND_PER_LANE_MILE, KILOGRAM_PER_LANE_KM];
pub(super) static SPAN: &[Unit] = &[DAY, HOUR];
pub(super) static AREA: &[Unit] = &[SQUARE_MILE, SQUARE_KILOMETRE, ACRE];
pub(super) static HOURLY_RATE: &[Unit] =
    &[GALLON_HOURLY, LITRE_HOURLY, CUBIC_METRE_HOURLY, GALLON_MINUTELY, LITRE_MINUTELY];
pub(super) static MINUTELY_RATE: &[Unit] =
    &[GALLON_MINUTELY, LITRE_MINUTELY, GALLON_HOURLY, LITRE_HOURLY, CUBIC_METRE_HOURLY];
pub(super) static TEMPERATURE: &[Unit] = &[FAHRENHEIT, CELSIUS];
pub(super) static STEP: &[Unit] = &[KELVIN, CELSIUS, FAHRENHEIT_STEP];
pub(super) static MASS: &[Unit] = &[SHORT_TON, TONNE, POUND, KILOGRAM];
pub(super) static LOAD: &[Unit] = &[POUND, KILOGRAM];
pub(super) static BUCKET: &[Unit] = &[POUND, KILOGRAM, SHORT_TON, TONNE];
pub(super) static SHORT_TIME: &[Unit] = &[MINUTE, HOUR];
pub(super) static LONG_TIME: &[Unit] = &[HOUR, MINUTE];
pub(super) static SECONDS: &[Unit] = &[SECOND, MINUTE];
pub(super) static FEED: &[Unit] = &[POUND_MINUTELY, KILOGRAM_MINUTELY];
pub(super) static SPEED: &[Unit] = &[MILE_HOURLY, KILOMETRE_HOURLY, METRE_SECONDLY];
pub(super) static DENSITY: &[Unit] = &[KILOGRAM_PER_CUBIC_METRE, POUND_PER_GALLON];
/// Base: US dollars per m³. Water is sold by the thousand gallons.
pub(super) static WATER_PRICE: &[Unit] = &[
    Unit::new("kgal", "US dollars per 1,000 gal", |v| v / GALLON.to_base(1000.0)),
    Unit::new("m3", "US dollars per m³", |v| v),
];
pub(super) static LIQUID_PRICE: &[Unit] = &[
    Unit::new("gal", "US dollars per gal", |v| v * in_gallons(cubic_metres(1.0))),
    Unit::new("m3", "US dollars per m³", |v| v),
];
/// Base: US dollars per short ton.
pub(super) static SALT_PRICE: &[Unit] = &[
    Unit::new("ton", "US dollars per short ton", |v| v),
    Unit::new("t", "US dollars per t", |v| v / in_short_tons(kilograms(1000.0))),
];
/// Per cent per kelvin.
pub(super) static RATE_LOSS: &[Unit] =
    &[Unit::new("f", "% per °F", |v| v / FAHRENHEIT_STEP.to_base(1.0)), Unit::new("c", "% per °C", |v| v)];

/// Gallons per hour and the like are read in m³/h; this makes a rate of it.
pub(super) fn rate(cubic_metres_hourly: f64) -> VolumeRate {
    cubic_metres(cubic_metres_hourly) / hours(1.0)
}

/// A number for a message, to the digits that [`show`] gives it.
pub(super) fn figure(value: f64) -> Arg {
    let text = show(value).replace(',', "");
    let decimals = text.split_once('.').map_or(0, |(_, fraction)| fraction.len());
    Arg::Rounded(text.parse().unwrap_or(value), u8::try_from(decimals).unwrap_or(0))
}

/// A number for a person: four significant digits, thousands grouped.
pub fn show(value: f64) -> String {
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
    use quantity::in_gallons_per_hour;

    /// Worked from NIST Handbook 44, appendix C: prices and losses turn their unit over.
    #[test]
    fn prices_are_by_their_unit() {
        let close = |found: f64, expected: f64| {
            assert!((found / expected - 1.0).abs() < 1e-9, "{found} {expected}");
        };
        close(WATER_PRICE[0].to_base(3.785_411_784), 1.0);
        close(LIQUID_PRICE[0].to_base(1.0), 264.172_052_358_148_4);
        close(SALT_PRICE[0].to_base(60.0), 60.0);
        close(SALT_PRICE[1].to_base(60.0), 60.0 * 0.907_184_74);
        close(RATE_LOSS[0].to_base(1.0), 1.8);
        close(in_gallons_per_hour(rate(HOURLY_RATE[0].to_base(3000.0))), 3000.0);
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
