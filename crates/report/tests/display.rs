//! Quantities as each reader reads them. Expected figures are worked by hand from the exact factors of NIST Handbook
//! 44, appendix C: 231 in³ a gallon, 0.45359237 kg a pound, 2000 lb a ton, 1609.344 m a mile.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use chemistry::MassFraction;
use common::{reader, readers};
use jiff::{SignedDuration, Timestamp};
use message::{Arg, Message, message};
use planner::treatment::Spread;
use quantity::{celsius, fahrenheit, gallons, kelvins, kilograms, metres, pounds};
use report::Language;
use report::display::number;
use road::LiquidRate;
use road::amount::lane_mile;
use site::UnitSystem::{Si, Us};
use site::points::PointKind;

#[test]
fn a_quantity_reads_in_the_units_of_its_reader() {
    let (us, si) = (reader(Language::En, Us), reader(Language::En, Si));
    let volume = gallons(6254.0);
    assert_eq!((us.volume(volume), si.volume(volume)), ("6,250 gal".into(), "23,670 L".into()));
    assert_eq!((us.volume_beside(volume), si.volume_beside(volume)), ("23,670 L".into(), "6,250 gal".into()));
    // Below a thousand to the nearest one, and a gallon is 3.785411784 L.
    assert_eq!((us.volume(gallons(999.4)), si.volume(gallons(100.0))), ("999 gal".into(), "379 L".into()));
    let mass = pounds(19_999.0);
    assert_eq!((us.mass(mass), si.mass(mass)), ("20,000 lb".into(), "9,070 kg".into()));
    assert_eq!(
        (us.mass(pounds(20_000.0)), si.mass(kilograms(10_000.0))),
        ("10.0 tons".into(), "10.0 t".into())
    );
    assert_eq!((us.exact_mass(mass), si.exact_mass(mass)), ("19,999 lb".into(), "9,071 kg".into()));
    let cold = fahrenheit(-6.0);
    assert_eq!((us.temperature(cold), si.temperature(cold)), ("−6 °F".into(), "−21.1 °C".into()));
    assert_eq!((us.degrees(kelvins(-2.5)), si.degrees(kelvins(-2.5))), ("4 °F".into(), "2.5 °C".into()));
    assert_eq!(us.degrees_between(celsius(-10.0), celsius(-20.0)), "18 °F");
    assert_eq!((us.depth(metres(1.4)), si.depth(metres(1.4))), ("4 ft 7 in".into(), "1.40 m".into()));
    assert_eq!((us.water(metres(0.0254)), si.water(metres(0.0254))), ("1.00 in".into(), "25.4 mm".into()));
    let lane = metres(16_093.44);
    assert_eq!((us.lane_length(lane), si.lane_length(lane)), ("10.0 lane-mi".into(), "16.1 lane-km".into()));
    assert_eq!((us.pipe_flow(0.001), si.pipe_flow(0.001)), ("15.9 gal/min".into(), "60 L/min".into()));
    let strength = MassFraction::from_percent(23.26).unwrap();
    assert_eq!((us.strength(strength), si.strength(strength)), ("23.3%".into(), "23.3%".into()));
    assert_eq!(us.dollars(1234.5), "$1,234");
}

#[test]
fn a_range_names_its_unit_once_and_one_figure_is_no_range() {
    let spread = |low: f64, high: f64| Spread { low: gallons(low), mid: gallons(low), high: gallons(high) };
    let of = |language| reader(language, Us).volume_range(spread(400.0, 1254.0));
    assert_eq!(of(Language::En), "400 to 1,250 gal");
    assert_eq!(of(Language::Es), "400 a 1,250 gal");
    assert_eq!(of(Language::Fr), "400 à 1,250 gal");
    // Both ends read alike: 1,251 and 1,249 gal are 1,250 gal here.
    assert_eq!(reader(Language::En, Us).volume_range(spread(1249.0, 1251.0)), "1,250 gal");
    let rate = |volume: f64| LiquidRate::of(gallons(volume), lane_mile());
    let us = reader(Language::En, Us);
    assert_eq!(us.liquid_rate_range(rate(30.0), rate(50.0)), "30 to 50 gal per lane-mile");
}

#[test]
fn times_are_the_yards_and_days_the_readers() {
    // A quarter to five in the afternoon of a Thursday, five hours behind UTC.
    let at: Timestamp = "2027-01-14T21:45:00Z".parse().unwrap();
    let told = |language| (reader(language, Us).time(at), reader(language, Us).day(at));
    assert_eq!(told(Language::En), ("4:45\u{a0}PM Thu Jan 14".into(), "Thu Jan 14, 2027".into()));
    assert_eq!(told(Language::Es), ("4:45\u{a0}p.m., jue 14 ene".into(), "jue 14 ene 2027".into()));
    assert_eq!(told(Language::Fr), ("jeu. 14 janv., 16 h 45".into(), "jeu. 14 janv. 2027".into()));
    // The night on which clocks go back: half past one comes twice.
    for twice in ["2027-11-07T05:30:00Z", "2027-11-07T06:30:00Z"] {
        assert_eq!(reader(Language::En, Us).clock(twice.parse().unwrap()), "1:30\u{a0}AM");
    }
    // Either clock in either language, at the hours that twelve and nought make hard.
    let clocks = |language, half_days: Option<bool>| {
        let display = report::display::Display { half_days, ..reader(language, Us) };
        let at = ["2027-01-14T05:05:00Z", "2027-01-14T17:00:00Z"].map(|at| at.parse::<Timestamp>().unwrap());
        [display.clock(at[0]), display.hour(at[0]), display.hour(at[1])]
            .map(|text| text.replace('\u{a0}', " "))
    };
    for (language, half_days, expected) in [
        (Language::En, None, ["12:05 AM", "12 AM", "12 PM"]),
        (Language::En, Some(false), ["00:05", "00:00", "12:00"]),
        (Language::Es, None, ["12:05 a.m.", "12 a.m.", "12 p.m."]),
        (Language::Es, Some(false), ["00:05", "00:00", "12:00"]),
        (Language::Fr, None, ["00 h 05", "00 h", "12 h"]),
        (Language::Fr, Some(true), ["12 h 05 a.m.", "12 h a.m.", "12 h p.m."]),
    ] {
        assert_eq!(clocks(language, half_days), expected, "{language:?} {half_days:?}");
    }
    let display = reader(Language::En, Us);
    let minutes = [(0, "0 min"), (59, "59 min"), (60, "1 hr"), (61, "1 hr 1 min"), (1440, "24 hr")];
    for (count, expected) in minutes {
        assert_eq!(display.duration(SignedDuration::from_mins(count)), expected);
    }
    assert_eq!((display.short_time(119.4), display.short_time(119.5)), ("119 s".into(), "2 min".into()));
}

#[test]
fn a_number_has_its_decimals_its_sign_and_no_sign_of_nothing() {
    let cases =
        [(1234.5, 0, "1,234"), (-1_234_567.89, 1, "−1,234,567.9"), (-0.004, 2, "0.00"), (0.005, 2, "0.01")];
    for (value, decimals, expected) in cases {
        assert_eq!(number(value, decimals), expected);
    }
    let us = reader(Language::En, Us);
    let points = [
        (PointKind::Strength, 23.256, "23.26%"),
        (PointKind::Temperature, -5.0, "23 °F"),
        (PointKind::Share, 0.455, "46%"),
        (PointKind::Mass, 453.592_37, "1,000 lb"),
        (PointKind::Plain, 0.12345, "0.123"),
    ];
    for (kind, value, expected) in points {
        assert_eq!(us.point(kind, value), expected, "{kind:?}");
    }
}

#[test]
fn a_message_is_told_with_what_it_holds_in_the_readers_words() {
    let at: Timestamp = "2027-01-14T21:45:00Z".parse().unwrap();
    let from = message!("console.period.backward", from = at, until = "noon");
    let told = |language| reader(language, Us).tell(&from);
    assert_eq!(told(Language::En), "4:45\u{a0}PM Thu Jan 14 to noon: ends before it begins");
    assert_eq!(told(Language::Es), "4:45\u{a0}p.m., jue 14 ene a noon: termina antes de empezar");
    assert_eq!(told(Language::Fr), "jeu. 14 janv., 16 h 45 à noon : finit avant d’avoir commencé");
    // A message within a message, and a quantity in the reader's units.
    let of = |what: Arg| message!("console.of-field", field = "volume", what = what);
    let inner = of(Message::new("console.time.to-come").into());
    assert_eq!(reader(Language::Fr, Us).tell(&inner), "volume : c’est dans le futur");
    for (display, expected) in
        [(reader(Language::En, Us), "2,000 gal"), (reader(Language::En, Si), "7,570 L")]
    {
        assert_eq!(display.tell(&of(gallons(2000.0).into())), format!("volume: {expected}"));
        assert_eq!(display.tell(&of(Arg::List(vec![2.into(), gallons(2000.0).into()]))), {
            format!("volume: 2 and {expected}")
        });
    }
    // None is left without words, and no blank without its value.
    for display in readers() {
        assert!(!display.tell(&from).contains(['{', '}']));
    }
}
