//! Putting a tank of a yard right: amounts against balances worked by hand, and every refusal.
//!
//! The hand-worked cases are mass balances with printed densities (CRC at 20 °C; relative density 1.176 of
//! 23.3 % brine, AASHTO M 143-14): salt and water are counted in kilograms, and nothing of the program's own
//! is used for the expectation.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use chemistry::correction::Fit;
use chemistry::{Error, MassFraction};
use event::*;
use jiff::Timestamp;
use quantity::{
    celsius, cubic_metres, fahrenheit, gallons, in_celsius, in_gallons, in_kilograms, in_minutes, in_pounds,
    kilograms,
};
use site::Yard;
use uuid::Uuid;
use yard::put_right::{Ask, FIRST_PART, Refusal, StrengthFrom, With, advise, event, prefilled};
use yard::stock::Books;

const YARD: &str = include_str!("../../../examples/alder_fork.toml");

fn yard() -> Yard {
    let mut yard = site::yard_file::read_yard(YARD, "alder_fork.toml").unwrap();
    yard.put_right.bucket = Some(kilograms(2000.0));
    yard.put_right.circulation_rate = Some(gallons(150.0) / quantity::minutes(1.0));
    yard.put_right.turnovers = 3.0;
    yard
}

fn percent(value: f64) -> MassFraction {
    MassFraction::from_percent(value).unwrap()
}

fn recorded(seq: u64, at: &str, body: Body) -> Recorded {
    let at: Timestamp = at.parse().unwrap();
    let event = Event {
        id: EventId(Uuid::from_u128(u128::from(seq))),
        occurred_at: at,
        author: "Pat".into(),
        device: "test".into(),
        body,
    };
    Recorded { seq, recorded_at: at, event }
}

fn settled(tank: &str, gal: f64, pct: Option<f64>) -> Body {
    Body::Settlement(Settlement {
        tank: Some(tank.into()),
        volume_m3: Some(gal * 0.003_785_411_784),
        strength_pct: pct,
        salt_kg: None,
        reason: "opening".into(),
    })
}

fn reading(tank: &str, pct: f64, off: Option<f64>) -> Body {
    Body::Reading(Reading {
        tank: Some(tank.into()),
        strength_pct: pct,
        uncertainty_pct: off,
        temp_c: None,
        instrument: None,
        level: None,
        occasion: None,
        shown: None,
        scale: None,
        doubt: None,
        sample: None,
    })
}

/// Tank 1 with 5,000 gal at 25 %, tank 2 with 2,000 gal at 20 %.
fn books(yard: &Yard) -> Books {
    let events = [
        recorded(1, "2026-01-10T06:00:00Z", settled("1", 5000.0, Some(25.0))),
        recorded(2, "2026-01-10T06:01:00Z", settled("2", 2000.0, Some(20.0))),
        recorded(3, "2026-01-10T06:02:00Z", settled("4", 600.0, None)),
    ];
    Books::fold(yard, &events)
}

fn ask(strength: f64, target: f64, gal: f64, with: With) -> Ask {
    Ask {
        tank: "1".into(),
        volume: gallons(gal),
        strength: percent(strength),
        uncertainty: percent(0.2),
        temperature: celsius(15.0),
        target: percent(target),
        with,
        with_temperature: celsius(15.0),
    }
}

/// W12 of the project's worked examples: 5,000 gal at 25.0 % (relative density 1.189) need 434 gal of water, ±2 %.
/// By hand: 18,927 L × 1.189 × 0.999 kg/L = 22,482 kg; /23.3·25 − 22,482 = 1,640 kg = 434 gal.
#[test]
fn w12_water_for_a_strong_tank() {
    let yard = yard();
    let advice = advise(&yard, &books(&yard), &ask(25.0, 23.3, 5000.0, With::Water)).unwrap();
    let water = in_gallons(advice.correction.add_volume.unwrap());
    assert!((water / 434.0 - 1.0).abs() < 0.02, "{water}");
    assert!((in_kilograms(advice.correction.add) / 1640.0 - 1.0).abs() < 0.01);
    assert!((advice.correction.after.brine.strength().percent() - 23.3).abs() < 1e-9);
    // 434 gal at the supply's rate; three times 5,430 gal at 150 gal/min is 109 min.
    assert!((in_minutes(advice.circulating.unwrap()) - 3.0 * 5430.0 / 150.0).abs() < 2.0);
    let rate = yard.plant.water_rate;
    assert!((in_minutes(advice.pumping.unwrap()) - in_minutes(gallons(434.0) / rate)).abs() < 0.5);
    // ± 0.2 % of strength: (25.2 − 23.3)/23.3 and (24.8 − 23.3)/23.3 of the mass, by hand 1,833 and 1,447 kg.
    let (low, high) = advice.correction.add_between;
    assert!((in_kilograms(low) / 1447.0 - 1.0).abs() < 0.01, "{}", in_kilograms(low));
    assert!((in_kilograms(high) / 1833.0 - 1.0).abs() < 0.01, "{}", in_kilograms(high));
}

/// Rock salt of 95 % purity and 1.5 % moisture for 4,000 gal at 20 %: CRC 1.1478 g/mL at 20 °C, about 1.1497 at 60 °F.
/// By hand: 15,142 L × 1.1497 = 17,408 kg with 3,482 kg of salt. Of 1 kg delivered 0.93575 kg is NaCl, 0.04925
/// kg stays solid,
/// 0.015 kg is water: x = (0.233·17,408 − 3,482)/(0.93575 − 0.233·0.95075) = 802 kg = 1,768 lb; 0.4 buckets of
/// 2,000 kg.
#[test]
fn salt_for_a_weak_tank() {
    let mut yard = yard();
    (yard.salt.purity, yard.salt.moisture) = (percent(95.0), percent(1.5));
    let advice = advise(&yard, &books(&yard), &ask(20.0, 23.3, 4000.0, With::Salt)).unwrap();
    assert!(
        (in_kilograms(advice.correction.add) / 802.0 - 1.0).abs() < 0.005,
        "{}",
        in_kilograms(advice.correction.add)
    );
    assert!((in_pounds(advice.correction.add) / 1768.0 - 1.0).abs() < 0.005);
    assert!((advice.buckets.unwrap() - 0.401).abs() < 0.003);
    assert!((in_kilograms(advice.correction.after.insolubles) / (802.0 * 0.04925) - 1.0).abs() < 0.01);
    let cooler = 15.0 - in_celsius(advice.correction.after.temperature);
    // Heat taken up by all salt (Pitzer, Peiper & Busey 1984): at 10 °C 45.5 kJ/kg at 20 % and 39.2 at 23.3 %,
    // so 3,482·45.5 before, 4,232·39.2 after; in 18,200 kg of 3.35 kJ/(kg·K) 0.12 K. At 25 °C 37.2 and 33.8:
    // 0.22 K. So 0.155 K at 15 °C; it is the difference of two heats of which 1 % are 0.03 K each.
    assert!((cooler - 0.155).abs() < 0.04, "{cooler}");
    assert!(advice.correction.add_volume.is_none() && advice.pumping.is_none());
}

/// The trap: 2.29 lb to the gallon is per gallon of brine. Salt "by the gallon" for the missing 3.3 % of 4,000
/// gal would be
/// 3.3/23.3 of 9,160 lb = 1,297 lb; by mass 1,650 lb of NaCl are needed, since the salt itself makes more brine.
#[test]
fn per_gallon_of_brine_is_too_little() {
    let yard = yard();
    let advice = advise(&yard, &books(&yard), &ask(20.0, 23.3, 4000.0, With::Salt)).unwrap();
    let rock = yard.rock_salt().sodium_chloride();
    let pure = in_pounds(advice.correction.add) * rock;
    assert!(pure > 1.2 * 1297.0, "{pure}");
}

/// 25 % with 20 % brine of tank 2 to 24 %: by hand M₂ = M₁·(25 − 24)/(24 − 20), a quarter of the mass.
#[test]
fn brine_of_another_tank() {
    let yard = yard();
    let books = books(&yard);
    let advice = advise(&yard, &books, &ask(25.0, 24.0, 5000.0, With::Tank("2".into()))).unwrap();
    let mass = in_kilograms(advice.content.mass);
    assert!((in_kilograms(advice.correction.add) / mass - 0.25).abs() < 1e-9);
    // It is more than tank 2 can give when the target is weaker still.
    let much = advise(&yard, &books, &ask(25.0, 21.0, 5000.0, With::Tank("2".into())));
    assert!(matches!(much, Err(Refusal::TooLittle { .. })), "{much:?}");
}

/// A tank without room: what is drawn off first leaves the same strengths in the same proportion, and then it
/// is just full.
#[test]
fn without_room_some_is_drawn_first() {
    let yard = yard();
    let full = in_gallons(yard.tank("1").unwrap().working_capacity());
    let advice = advise(&yard, &books(&yard), &ask(25.0, 23.3, full - 100.0, With::Water)).unwrap();
    let Some(Fit::DrawFirst { draw_volume, add_volume, .. }) = advice.fit else { panic!("{:?}", advice.fit) };
    let kept = full - 100.0 - in_gallons(draw_volume);
    let again = advise(&yard, &books(&yard), &ask(25.0, 23.3, kept, With::Water)).unwrap();
    assert!((in_gallons(again.correction.add_volume.unwrap()) - in_gallons(add_volume.unwrap())).abs() < 0.5);
    assert!((in_gallons(again.correction.volume_after) - full).abs() < 0.5);
}

/// A reading later than the last movement stands in the form, an older one does not.
#[test]
fn the_form_takes_a_reading_only_when_it_is_of_this_content() {
    let yard = yard();
    let mut events = vec![
        recorded(1, "2026-01-10T06:00:00Z", settled("1", 5000.0, Some(25.0))),
        recorded(2, "2026-01-10T07:00:00Z", reading("1", 24.2, Some(0.15))),
    ];
    let found = prefilled(&yard, &Books::fold(&yard, &events), "1").unwrap();
    let (strength, from) = found.strength.unwrap();
    assert!(
        (strength.percent() - 24.2).abs() < 1e-9 && matches!(from, StrengthFrom::Sample { readings: 1, .. })
    );
    assert!((found.uncertainty.percent() - 0.15).abs() < 0.005, "as the reading states it");
    let water = Body::Correction(Correction { tank: "1".into(), water_m3: Some(1.0), salt_kg: None });
    events.push(recorded(3, "2026-01-10T08:00:00Z", water));
    let found = prefilled(&yard, &Books::fold(&yard, &events), "1").unwrap();
    let (strength, from) = found.strength.unwrap();
    assert!(strength.percent() < 25.0 && matches!(from, StrengthFrom::Corrected(_)));
    assert!(0.05 < found.uncertainty.percent());
}

/// What is recorded is what was put in; folded into the books it brings the book's own strength to the target.
#[test]
fn the_event_brings_the_book_to_the_target() {
    let yard = yard();
    let books = books(&yard);
    let volume = books.tank("1").unwrap().volume(&yard);
    for (with, target) in [(With::Water, 23.3), (With::Tank("2".into()), 24.0)] {
        let ask = Ask { volume, ..ask(25.0, target, 1.0, with) };
        let advice = advise(&yard, &books, &ask).unwrap();
        let mut after = books.clone();
        let put = recorded(9, "2026-01-11T06:00:00Z", event(&ask, &advice, 1.0).unwrap());
        assert!(after.try_append(&yard, &put));
        let strength = after.tank("1").unwrap().strength().unwrap().percent();
        assert!((strength - target).abs() < 0.01, "{strength}");
        let part = event(&ask, &advice, FIRST_PART).unwrap();
        assert_ne!(part, put.event.body);
    }
}

#[test]
fn what_cannot_be_done_so_says_why() {
    let yard = yard();
    let books = books(&yard);
    let refused = |with: With, strength: f64, target: f64| {
        advise(&yard, &books, &ask(strength, target, 5000.0, with)).unwrap_err()
    };
    // Water cannot strengthen, salt cannot weaken, and what is right already needs neither: three different reasons.
    let reasons = [(With::Water, 20.0, 23.3), (With::Salt, 25.0, 23.3), (With::Water, 23.3, 23.3)].map(
        |(with, from, to)| match refused(with, from, to) {
            Refusal::Chemistry(Error::NotCovered { reason, .. }) => reason,
            other => panic!("{other:?}"),
        },
    );
    assert!(reasons[0] != reasons[1] && reasons[1] != reasons[2] && reasons[0] != reasons[2], "{reasons:?}");
    assert_eq!(refused(With::Tank("1".into()), 25.0, 23.3), Refusal::SameTank("1".into()));
    assert_eq!(refused(With::Tank("9".into()), 25.0, 23.3), Refusal::NoTank("9".into()));
    assert_eq!(refused(With::Tank("4".into()), 25.0, 23.3), Refusal::NotPredicted("4".into()));
    // 26.5 % would not stay dissolved in a tank this cold.
    let mut cold = ask(23.0, 26.2, 5000.0, With::Salt);
    (cold.temperature, cold.with_temperature) = (celsius(-8.0), fahrenheit(20.0));
    let refusal = advise(&yard, &books, &cold).unwrap_err();
    assert!(matches!(refusal, Refusal::Chemistry(Error::Supersaturated { .. })), "{refusal:?}");
    let nothing = Ask { volume: cubic_metres(-1.0), ..ask(25.0, 23.3, 1.0, With::Water) };
    assert!(advise(&yard, &books, &nothing).is_err());
}

/// A tank into which a declared liquid went is neither put right nor used to put another right.
#[test]
fn a_mixed_tank_is_refused() {
    let yard = yard();
    let events = [
        recorded(1, "2026-01-10T06:00:00Z", settled("1", 2000.0, Some(25.0))),
        recorded(2, "2026-01-10T06:01:00Z", settled("4", 600.0, None)),
        recorded(
            3,
            "2026-01-10T07:00:00Z",
            Body::Transfer(Transfer {
                from_tank: "4".into(),
                to_tank: "1".into(),
                volume_m3: 0.5,
                temp_c: None,
            }),
        ),
    ];
    let books = Books::fold(&yard, &events);
    assert!(matches!(prefilled(&yard, &books, "1"), Err(Refusal::NotPredicted(_))));
    assert!(matches!(
        advise(&yard, &books, &ask(25.0, 23.3, 100.0, With::Water)),
        Err(Refusal::NotPredicted(_))
    ));
}
