//! Tickets: where a load comes from, whether it may leave, what it weighs, what is flagged.

use accounts::Journal;
use chemistry::MassFraction;
use entry::ticket::{Oddity, Standing};
use event::*;
use jiff::tz::TimeZone;
use quantity::*;
use uuid::Uuid;
use yard::stock::Books;

use super::season::*;

#[test]
fn a_lot_is_traced_forward_and_back() {
    let yard = yard();
    let mut season = Season::default();
    let salt_a = season.add(0.0, delivery(30.0, 2100.0));
    let salt_b = season.add(0.5, delivery(10.0, 700.0));
    let good = season.add(1.0, made("1", 1000.0, 23.3));
    let bad = season.add(2.0, made("1", 1000.0, 21.0));
    let first = season.add(3.0, load("1", "T1", Some("R1"), 500.0));
    season.add(4.0, back("1", "T1", 100.0));
    let third = season.add(5.0, made("1", 400.0, 23.3));
    let second = season.add(6.0, load("1", "T2", Some("R2"), 1000.0));
    let journal = Journal::new(&yard, &season.0);
    let masses: Vec<f64> = [good, bad, third]
        .iter()
        .map(|id| in_kilograms(journal.walk.liquids.iter().find(|f| f.event == *id).unwrap().liquid.mass))
        .collect();
    let share = |event: EventId, lot: EventId| {
        let origins = journal.origins_of(event).unwrap();
        assert!(origins.unknown < 1e-9);
        origins.lots.iter().find(|one| one.event == lot).map_or(0.0, |one| one.share)
    };
    // By hand: before the first load two lots alone, by mass.
    let of_bad = masses[1] / (masses[0] + masses[1]);
    assert!((share(first, bad) - of_bad).abs() < 1e-9 && (share(first, good) - (1.0 - of_bad)).abs() < 1e-9);
    // What came back was of the same mix; then 400 gal more of another lot.
    let held = masses[0] + masses[1] - 400.0 / 500.0 * moved(&journal, first);
    let expected = of_bad * held / (held + masses[2]);
    assert!((share(second, bad) - expected).abs() < 1e-3, "{} {expected}", share(second, bad));
    let found = journal.whereabouts(bad).unwrap();
    let to = |event: EventId| in_kilograms(found.reached.iter().find(|one| one.event == event).unwrap().mass);
    assert!(is(to(first), of_bad * 0.8 * moved(&journal, first), 1e-3), "less what came back");
    assert_eq!(found.reached[0].route.as_deref(), Some("R1"));
    let left: f64 = found.in_tanks.iter().map(|(_, mass)| in_kilograms(*mass)).sum();
    assert!(is(to(first) + to(second) + left, masses[1], 1e-6), "nothing of the lot is lost on the way");
    // Three quarters of the salt came with the first delivery.
    let salt = journal.salt_of(bad);
    assert_eq!(salt[0].event, salt_a);
    assert!((salt[0].share - 0.75).abs() < 1e-9 && salt[1].event == salt_b);
}

fn moved(journal: &Journal<'_>, event: EventId) -> f64 {
    in_kilograms(journal.walk.liquids.iter().find(|flow| flow.event == event).unwrap().liquid.mass)
}

#[test]
fn a_tank_is_loaded_from_when_it_is_measured_in_spec() {
    let yard = yard();
    let mut season = Season::default();
    let standing = |season: &Season| {
        let books = Books::fold(&yard, &season.0);
        entry::ticket::standing(&yard, &books, "1").unwrap()
    };
    assert_eq!(standing(&season), Standing::Empty);
    season.add(0.0, made("1", 2000.0, 23.3));
    assert_eq!(standing(&season), Standing::NotMeasured);
    season.add(1.0, reading("1", 23.2, 0.2));
    assert!(matches!(standing(&season), Standing::InSpec { is_sure: true, .. }));
    season.add(2.0, reading("1", 23.0, 0.4));
    let unsure = standing(&season);
    assert!(matches!(unsure, Standing::InSpec { is_sure: false, .. }) && unsure.may_load());
    season.add(3.0, reading("1", 22.4, 0.2));
    assert!(matches!(standing(&season), Standing::OutOfSpec { .. }));
    let books = Books::fold(&yard, &season.0);
    let doubts = |reason: Option<&str>| {
        let Body::LoadOut(load) = load("1", "T1", Some("R1"), 500.0) else { unreachable!() };
        let override_reason = reason.map(str::to_owned);
        entry::doubts(&Body::LoadOut(LoadOut { override_reason, ..load }), &yard, &books)
    };
    assert_eq!(doubts(None)[0].field, "override_reason");
    assert!(doubts(Some("ice on the bridge, nothing else left")).is_empty());
    // A return of a little does not take a reading's word away; a new run does.
    season.add(4.0, reading("1", 23.2, 0.2));
    season.add(5.0, load("1", "T1", None, 500.0));
    season.add(6.0, back("1", "T1", 40.0));
    let held = standing(&season);
    assert!(held.may_load(), "{held:?}");
    // Up to a twentieth of what is there now may come in after it.
    let after = |gal: f64| {
        let mut season = Season::default();
        season.add(0.0, made("1", 1500.0, 23.3));
        season.add(1.0, reading("1", 23.3, 0.2));
        season.add(2.0, made("1", gal, 23.3));
        standing(&season)
    };
    // g/(1,500 + g): 4 % is 62.5 gal, 6 % is 95.7 gal.
    assert!(after(62.5).may_load(), "{:?}", after(62.5));
    assert_eq!(after(95.7), Standing::NotMeasured);
    season.add(7.0, made("1", 300.0, 23.3));
    assert_eq!(standing(&season), Standing::NotMeasured);
    assert_eq!(entry::ticket::standing(&yard, &Books::opening(&yard), "4"), Some(Standing::Bought));
}

#[test]
fn what_changes_a_tank_takes_its_readings_word_away() {
    let yard = yard();
    let standing = |more: &[Body]| {
        let mut season = Season::default();
        season.add(0.0, made("1", 6000.0, 23.3));
        season.add(1.0, reading("1", 23.3, 0.2));
        more.iter().enumerate().for_each(|(n, body)| {
            season.add(2.0 + n as f64, body.clone());
        });
        entry::ticket::standing(&yard, &Books::fold(&yard, &season.0), "1").unwrap()
    };
    assert!(standing(&[]).may_load());
    let water = Correction { tank: "1".into(), water_m3: Some(m3(50.0)), salt_kg: None };
    assert_eq!(standing(&[Body::Correction(water)]), Standing::NotMeasured);
    let Body::Reading(plain) = reading("1", 23.3, 0.2) else { unreachable!() };
    let doubted = Body::Reading(Reading { doubt: Some("sample froze".into()), ..plain });
    assert_eq!(standing(&[doubted]), Standing::NotMeasured);
}

/// Found by a reader: what was put down and is on a ticket counts once, in whatever order and with or without its
/// truck.
#[test]
fn liquid_on_a_ticket_counts_once() {
    let yard = yard();
    for (hours, truck) in [(3.5, None), (1.5, Some("T2")), (3.5, Some("T2"))] {
        let mut season = Season::default();
        season.add(0.0, delivery(50.0, 3500.0));
        season.add(1.0, made("1", 4000.0, 23.3));
        season.add(3.0, load("1", "T2", Some("R2"), 1000.0));
        season.add(hours, spread("R2", truck, 1000.0, 0.0));
        let accounts = Journal::new(&yard, &season.0).accounts(whole());
        assert!(is(gal_of(&accounts.roads.all_liquid(), &yard), 1000.0, 1e-3), "{hours} {truck:?}");
    }
    let mut season = Season::default();
    season.add(0.0, delivery(50.0, 3500.0));
    season.add(1.0, spread("R2", None, 400.0, 0.0));
    let accounts = Journal::new(&yard, &season.0).accounts(whole());
    assert!(is(gal_of(&accounts.roads.off_ticket, &yard), 400.0, 1e-3), "no ticket: said as such");
}

#[test]
fn a_load_is_weighed_on_its_axles() {
    let yard = yard();
    let mut season = Season::default();
    season.add(0.0, made("1", 6000.0, 23.3));
    season.add(0.1, reading("1", 23.3, 0.2));
    let books = Books::fold(&yard, &season.0);
    let weight = |gal: f64, hopper_lb: f64| {
        let Body::LoadOut(load) = load("1", "T1", None, gal) else { unreachable!() };
        let hopper_kg = Some(in_kilograms(pounds(hopper_lb)));
        entry::ticket::load_weight(&yard, &books, &LoadOut { hopper_kg, ..load }).unwrap()
    };
    let light = weight(1000.0, 0.0);
    assert!(is(in_pounds(light.liquid.mass), 9810.0, 0.002) && light.over().is_empty());
    // By hand: what is put on 15.5 ft behind the front axle stands by 15.5/17.2 on the tandem, 14,600 lb empty.
    let share = 15.5 / 17.2;
    let heavy = weight(1750.0, 8000.0);
    let tandem = heavy.groups.as_ref().unwrap().as_ref().unwrap()[0];
    assert!(is(in_pounds(tandem.load), 14_600.0 + share * (17_170.0 + 8000.0), 0.002), "{tandem:?}");
    assert!(is(in_pounds(tandem.limit), 34_000.0, 1e-9) && heavy.over()[0] == tandem);
    let (most, _) = heavy.most_by_axles.unwrap();
    assert!(is(in_pounds(most), (34_000.0 - 14_600.0) / share - 8000.0, 1e-6), "{}", in_pounds(most));
    assert!(weight(1800.0, 0.0).liquid.mass < pounds(18_000.0) && weight(1900.0, 0.0).is_over_liquid_limit());
    // A scale gives the volume: 9,810 lb are 1,000 gal.
    let volume = entry::ticket::volume_of(&yard, &books, "1", pounds(9810.0), None).unwrap();
    assert!(is(in_gallons(volume), 1000.0, 0.002));
}

#[test]
fn what_is_odd_is_recorded_and_flagged() {
    let yard = yard();
    let zone = TimeZone::get(&yard.time_zone).unwrap();
    let mut season = Season::default();
    season.add(0.0, made("1", 7000.0, 23.3));
    let too_much = season.add(1.0, load("1", "T1", Some("R1"), 2500.0));
    let more_back = season.add(2.0, back("1", "T2", 500.0));
    let Body::LoadOut(ticketed) = load("1", "T4", None, 300.0) else { unreachable!() };
    let ticketed = LoadOut { ticket: Some("0815".into()), ..ticketed };
    season.add(3.0, Body::LoadOut(ticketed.clone()));
    let twice = season.add(4.0, Body::LoadOut(ticketed.clone()));
    season.add(900.0, Body::MonthClose(MonthClose { month: "2012-12".into() }));
    let late = season.late(5.0, 901.0, made("1", 100.0, 23.3));
    let agency = "Fire company".to_owned();
    let issue = IssueOut { tank: "1".into(), agency, volume_m3: m3(10.0), ..IssueOut::default() };
    let unpriced = season.add(950.0, Body::IssueOut(issue));
    // A tank that the yard file names no more: kept, not counted, and said so.
    let gone = season.add(951.0, load("9", "T1", None, 10.0));
    let empty = season.add(952.0, load("2", "T3", None, 100.0));
    let journal = Journal::new(&yard, &season.0);
    let flags = entry::ticket::flags(&journal, &zone);
    let of = |event: EventId| {
        flags.iter().filter(|flag| flag.event == event).map(|f| &f.oddity).collect::<Vec<_>>()
    };
    assert!(
        matches!(of(too_much)[..], [Oddity::OverTruckTank(_), Oddity::OverWeight(_)]),
        "{:?}",
        of(too_much)
    );
    assert!(matches!(of(more_back)[..], [Oddity::MoreBackThanLoaded(_)]));
    assert!(matches!(of(twice)[..], [Oddity::SameTicket(4)]));
    assert_eq!(of(late), [&Oddity::AfterClosing("2012-12".into())]);
    assert_eq!(of(unpriced), [&Oddity::NoPrice]);
    assert!(matches!(of(gone)[..], [Oddity::NotCounted(_)]), "{:?}", of(gone));
    assert_eq!(of(empty), [&Oddity::BelowZero(Some("2".into()))]);
    // The salt that was never delivered: the first run took the pile below zero.
    assert_eq!(flags.len(), 9, "{flags:?}");
    // Before it is recorded it is doubted, in the same words for every way in.
    let time_doubts = |body: &Body, hours: f64| {
        let id = EventId(Uuid::from_u128(99));
        entry::time_doubts((id, body), (&yard, &journal.books), at(hours), at(960.0))
    };
    let back_dated = time_doubts(&made("1", 100.0, 23.3), 6.0);
    assert!(
        back_dated.iter().any(|doubt| doubt.problem.arg("month") == Some(&"2012-12".into())),
        "{back_dated:?}"
    );
    let again = time_doubts(&Body::LoadOut(ticketed.clone()), 955.0);
    assert!(again.iter().any(|doubt| doubt.field == "ticket"), "{again:?}");
    let unticketed = LoadOut { ticket: None, ..ticketed };
    let again = time_doubts(&Body::LoadOut(unticketed), 4.1);
    let of = again.iter().find(|doubt| doubt.problem.id() == "entry.load-twice").map(|doubt| &doubt.problem);
    assert_eq!(of.and_then(|problem| problem.arg("seq")), Some(&5.into()), "{again:?}");
}

#[test]
fn salt_is_received_by_the_contracts_figures() {
    use accounts::receiving::{Verdict, orders, samples, verdict};
    let yard = yard();
    let of = |pct: f64| verdict(&yard.receiving, MassFraction::from_percent(pct).unwrap());
    // MnDOT's example in the Minnesota handbook: bands 1.6, 2.0, 2.5; W14.
    assert_eq!(of(1.6), Verdict::Accept);
    assert_eq!(of(1.8), Verdict::Deduct(0.05), "W14");
    assert_eq!(of(2.0), Verdict::Deduct(0.05));
    for (pct, share) in [(2.1, 0.08), (2.3, 0.14), (2.5, 0.20)] {
        let Verdict::Deduct(found) = of(pct) else { panic!("{pct}") };
        assert!((found - share).abs() < 1e-12, "{pct}: {found}");
    }
    assert_eq!(of(2.51), Verdict::Reject);
    // W15: 7,000 tons on one order.
    assert_eq!(samples(short_tons(7000.0), yard.receiving.sample_each), 3);
    assert!((yard.receiving.increments - 3.0).abs() < 1e-12);
    let mut season = Season::default();
    for (tons, taken) in [(2000.0, 1.0), (2000.0, 0.0)] {
        let mass_kg = in_kilograms(short_tons(tons));
        let (order, samples_number) = (Some("2012-7".to_owned()), Some(taken));
        let body = SaltDelivery { mass_kg, order, samples_number, ..SaltDelivery::default() };
        season.add(0.0, Body::SaltDelivery(body));
    }
    let all = orders(Journal::new(&yard, &season.0).events(), &yard.receiving);
    assert_eq!((all[0].deliveries, all[0].taken, all[0].needed), (2, 1, 2));
}

#[test]
fn a_meter_is_proven_by_weighed_trucks() {
    let yard = yard();
    let mut season = Season::default();
    season.add(0.0, made("1", 7000.0, 23.3));
    // The meter shows 3 % too little: 1,000 gal shown weigh as 1,030 gal.
    for place in 0..3 {
        let Body::LoadOut(load) = load("1", "T1", None, 1000.0) else { unreachable!() };
        let scatter = [-20.0, 0.0, 20.0][place];
        let weighed_kg = Some(in_kilograms(pounds(9810.0 * 1.03 + scatter)));
        let load = LoadOut { metered_m3: Some(m3(1000.0)), weighed_kg, ..load };
        season.add(1.0 + place as f64, Body::LoadOut(load));
    }
    let check = |shown: f64, lb: f64| {
        let (meter, weighed_kg) = ("loading".to_owned(), in_kilograms(pounds(lb)));
        Body::MeterCheck(MeterCheck { meter, shown_m3: m3(shown), weighed_kg, ..MeterCheck::default() })
    };
    // 500 gal of water at 60 °F weigh 4,168.6 lb (8.337 lb a gallon).
    season.add(5.0, check(500.0 / 1.03, 4168.6));
    let journal = Journal::new(&yard, &season.0);
    let meter = yard.meter("loading").unwrap();
    let found = accounts::metering::meter_factor(&journal, meter).unwrap();
    assert_eq!(found.proofs.len(), 4);
    assert!((found.factor - 1.03).abs() < 0.002 && found.interval < 0.01, "{found:?}");
    assert!((found.proofs[3].factor - 1.03).abs() < 5e-4);
    // A total beyond its roll-over.
    let totals = [999_700.0, 200.0, 150.0];
    let mut season = Season::default();
    for (place, total) in totals.iter().enumerate() {
        let body = MeterReading { meter: "loading".into(), total_m3: m3(*total) };
        season.add(place as f64, Body::MeterReading(body));
    }
    let journal = Journal::new(&yard, &season.0);
    let counts = accounts::metering::counts(&journal, meter);
    assert!(is(in_gallons(counts[0].2.clone().unwrap()), 500.0, 1e-9));
    assert!(
        is(in_gallons(counts[1].2.clone().unwrap()), 999_950.0, 1e-9),
        "or it was set back: doubted when entered"
    );
}
