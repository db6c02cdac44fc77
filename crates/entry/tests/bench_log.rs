//! What the bench remembers: the same however it is folded; what is due, until a person has seen to it.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use bench::drift::Steadiness;
use bench::trim::Advice;
use event::*;
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;
use site::Yard;
use uuid::Uuid;
use yard::bench_log::{DueWhy, TrimState};
use yard::stock::Books;

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml").unwrap()
}

fn at(minutes: f64) -> Timestamp {
    Timestamp::from_second(1_700_000_000).unwrap() + SignedDuration::from_secs_f64(60.0 * minutes)
}

fn recorded(seq: u64, minutes: f64, author: &str, body: Body) -> Recorded {
    let (id, author) = (EventId(Uuid::from_u128(u128::from(seq))), author.to_string());
    let event = Event { id, occurred_at: at(minutes), author, device: "test".into(), body };
    Recorded { seq, recorded_at: at(minutes), event }
}

fn fold(bodies: &[(f64, Body)]) -> Books {
    let events: Vec<Recorded> = (1..)
        .zip(bodies)
        .map(|(seq, (minutes, body))| recorded(seq, *minutes, "Pat", body.clone()))
        .collect();
    Books::fold(&yard(), &events)
}

fn look(number: f64, bench: f64) -> Body {
    Body::PanelCheck(PanelCheck {
        trim_number: number,
        panel_pct: 23.3,
        bench_pct: bench,
        uncertainty_pct: 0.28,
        instrument: Some("hydrometer".into()),
        reading: None,
    })
}

fn set(from: f64, to: f64) -> Body {
    Body::TrimSet(TrimSet {
        from_number: from,
        to_number: to,
        advised_number: None,
        reason: Some("test".into()),
    })
}

fn check(instrument: &str, error: f64, adjusted: Adjusted) -> Body {
    Body::InstrumentCheck(InstrumentCheck {
        instrument: instrument.into(),
        against: CheckedIn::Water,
        expected_reading: 0.0,
        shown_reading: error,
        temp_c: Some(20.0),
        adjusted,
    })
}

fn reading(instrument: &str, percent: f64, sample: Option<u64>) -> Body {
    Body::Reading(Reading {
        tank: Some("1".into()),
        strength_pct: percent,
        uncertainty_pct: Some(0.3),
        temp_c: None,
        instrument: Some(instrument.into()),
        level: None,
        occasion: None,
        shown: None,
        scale: None,
        doubt: None,
        sample: sample.map(|seq| Uuid::from_u128(u128::from(seq)).to_string()),
    })
}

/// Look, set, wait three times the lag from the setting (10 min in this yard), look, agree.
#[test]
fn trimming_goes_its_way() {
    let (yard, empty) = (yard(), fold(&[]));
    assert!(matches!(empty.bench.trim_state(&yard, at(0.0)), TrimState::NeverLooked));
    let mut so_far = vec![(0.0, look(1.0, 22.5))];
    let TrimState::Looked { advice: Ok(Advice::Step(step)), .. } =
        fold(&so_far).bench.trim_state(&yard, at(1.0))
    else {
        panic!("a step");
    };
    assert!((0.97..=1.03).contains(&step.next));
    so_far.push((20.0, set(1.0, 0.98)));
    let waiting = fold(&so_far);
    let TrimState::Waiting { until, .. } = waiting.bench.trim_state(&yard, at(49.9)) else {
        panic!("a wait")
    };
    assert_eq!(until, at(50.0), "from the setting, not from the look");
    assert!(matches!(waiting.bench.trim_state(&yard, at(50.0)), TrimState::SampleAgain { .. }));
    so_far.push((51.0, look(0.98, 23.2)));
    let done = fold(&so_far);
    assert!(matches!(
        done.bench.trim_state(&yard, at(52.0)),
        TrimState::Looked { advice: Ok(Advice::Agreed { .. }), .. }
    ));
    let episodes = done.bench.episodes(&yard);
    assert!(episodes.len() == 1 && episodes[0].entries.len() == 3 && episodes[0].agreed.is_some());
    // A further difference opens another; a new season forgets the looks of the last.
    so_far.push((500.0, look(0.98, 22.4)));
    let open = fold(&so_far);
    let episodes = open.bench.episodes(&yard);
    assert!(episodes.len() == 2 && episodes[1].agreed.is_none() && episodes[1].entries.len() == 1);
    so_far.push((600.0, Body::SeasonStart(SeasonStart { season: "next".into() })));
    so_far.push((700.0, look(0.98, 22.4)));
    let TrimState::Looked { advice: Ok(Advice::Step(step)), .. } =
        fold(&so_far).bench.trim_state(&yard, at(700.0))
    else {
        panic!("a step");
    };
    assert_eq!(step.purpose, bench::trim::Purpose::Trial, "nothing is known of the new season's pull");
}

/// The same is asked whoever takes the entry in: too far at once, too early after a setting, before what went before.
#[test]
fn looks_and_settings_are_asked_about() {
    let yard = yard();
    let books = fold(&[(0.0, look(1.0, 22.5)), (20.0, set(1.0, 0.98))]);
    let asked = |body: &Body, minutes: f64| -> Vec<String> {
        let id = EventId(Uuid::from_u128(99));
        let all = entry::asked((id, body), (&yard, &books), at(minutes), at(60.0));
        all.iter().map(|one| format!("{}: {}", one.field, one.problem)).collect()
    };
    let has = |all: &[String], words: &str| all.iter().any(|one| one.contains(words));
    // The yard's largest step is 3 %.
    assert!(!has(&asked(&set(1.0, 1.03), 59.0), "entry.large-step"));
    assert!(has(
        &asked(&set(1.0, 1.031), 59.0),
        "to_number: entry.large-step (percent = 3.1, from = 1, largest = 3.0)"
    ));
    assert!(has(&asked(&set(1.0, 0.99), 10.0), "clock: entry.before-last-check"));
    // Three times the lag of 10 min after the setting.
    assert!(has(&asked(&look(0.98, 23.2), 49.0), "entry.setting-not-through"));
    assert!(!has(&asked(&look(0.98, 23.2), 50.5), "entry.setting-not-through"));
    // What the number was before is known; without any look it must be said.
    let fields = [("to_number".to_owned(), "0.99".to_owned())];
    let Body::TrimSet(set) = entry::read_body("trim_set", &fields, (&yard, &books)).unwrap() else {
        panic!("a setting")
    };
    assert!((set.from_number - 0.98).abs() < 1e-12);
    let missing = entry::read_body("trim_set", &fields, (&yard, &fold(&[]))).unwrap_err();
    assert_eq!(missing[0].field, "from_number");
}

/// What a look said holds until salt, water or season change: then it asks for a sample, until one is looked at or
/// somebody has signed the change off.
#[test]
fn a_look_from_before_new_salt_no_longer_counts() {
    let yard = yard();
    let salt = Body::SaltDelivery(SaltDelivery { mass_kg: 20_000.0, ..SaltDelivery::default() });
    let mut so_far = vec![(0.0, look(1.0, 23.2)), (10.0, salt)];
    let TrimState::Outdated { at: looked, due } = fold(&so_far).bench.trim_state(&yard, at(11.0)) else {
        panic!("outdated");
    };
    assert_eq!((looked, &due.why), (at(0.0), &DueWhy::NewSalt));
    let seen = Body::CheckSeen(CheckSeen { check: due.key, done: "held side by side".into() });
    let signed_off: Vec<_> = so_far.iter().cloned().chain([(12.0, seen)]).collect();
    assert!(matches!(fold(&signed_off).bench.trim_state(&yard, at(13.0)), TrimState::Looked { .. }));
    so_far.push((20.0, look(1.0, 23.2)));
    assert!(matches!(fold(&so_far).bench.trim_state(&yard, at(21.0)), TrimState::Looked { .. }));
}

/// New salt and changed water ask until they are signed off; instruments until they are checked.
#[test]
fn what_is_due_asks_until_it_is_seen_to() {
    let yard = yard();
    let salt = SaltDelivery {
        mass_kg: 20_000.0,
        ticket: None,
        moisture_pct: None,
        price_usd: None,
        ..SaltDelivery::default()
    };
    let mut so_far = vec![
        (0.0, Body::SaltDelivery(salt)),
        (1.0, Body::WaterChange(WaterChange { what: "from the well".into() })),
        (2.0, check("hydrometer", 0.0, Adjusted::No)),
        (3.0, check("refractometer", 0.1, Adjusted::Yes)),
    ];
    let due = fold(&so_far).bench.due(&yard, at(10.0));
    let whys: Vec<&DueWhy> = due.iter().map(|due| &due.why).collect();
    assert_eq!(whys, [&DueWhy::NewSalt, &DueWhy::WaterChange("from the well".into())]);
    let seen = CheckSeen { check: due[0].key.clone(), done: "panel held against the bench".into() };
    so_far.push((20.0, Body::CheckSeen(seen)));
    assert_eq!(fold(&so_far).bench.due(&yard, at(30.0)).len(), 1, "only the water is left");
    // A refractometer is to be checked daily, a hydrometer weekly; a name quiets the day, a check the matter.
    let later = |hours: f64| at(60.0 * hours);
    let overdue: Vec<DueWhy> =
        fold(&so_far).bench.due(&yard, later(25.0)).into_iter().skip(1).map(|due| due.why).collect();
    assert_eq!(overdue, [DueWhy::Overdue("refractometer".into())]);
    assert_eq!(fold(&so_far).bench.due(&yard, later(170.0)).len(), 3);
    let key = fold(&so_far).bench.due(&yard, later(25.0))[1].key.clone();
    so_far.push((60.0 * 25.1, Body::CheckSeen(CheckSeen { check: key, done: "not used today".into() })));
    assert_eq!(fold(&so_far).bench.due(&yard, later(25.2)).len(), 1);
    assert_eq!(fold(&so_far).bench.due(&yard, later(50.0)).len(), 2, "it asks again the next day");
    so_far.push((60.0 * 50.0, check("refractometer", 0.0, Adjusted::No)));
    assert_eq!(fold(&so_far).bench.due(&yard, later(50.1)).len(), 1);
}

/// A check far off asks at once; setting the instrument right starts its history anew.
#[test]
fn an_instrument_is_told_in_a_word() {
    let yard = yard();
    let refractometer = yard.instrument("refractometer").unwrap();
    let word = |bodies: &[(f64, Body)]| fold(bodies).bench.drift(refractometer).map(|drift| drift.steadiness);
    let mut so_far: Vec<(f64, Body)> = (0..5)
        .map(|n| (f64::from(n), check("refractometer", 0.05 * f64::from(n % 2), Adjusted::No)))
        .collect();
    assert_eq!(word(&[]), None);
    assert_eq!(word(&so_far), Some(Steadiness::Steady));
    so_far.push((6.0, check("refractometer", 0.9, Adjusted::No)));
    assert_eq!(word(&so_far), Some(Steadiness::CheckNow));
    let due = fold(&so_far).bench.due(&yard, at(7.0));
    assert!(due.iter().any(|due| due.why == DueWhy::CheckNow("refractometer".into())));
    so_far.push((8.0, check("refractometer", 0.9, Adjusted::Yes)));
    assert_eq!(word(&so_far), None, "just set right");
    so_far.push((9.0, check("refractometer", 0.0, Adjusted::No)));
    assert_eq!(word(&so_far), Some(Steadiness::Steady));
}

/// Instruments and people are compared on the samples both read, and on no others.
#[test]
fn agreement_is_by_sample() {
    let mut events = Vec::new();
    for n in 0..4u64 {
        let first = 10 * n + 1;
        let minutes = first as f64;
        let percent = 23.0 + 0.1 * n as f64;
        events.push(recorded(first, minutes, "Pat", reading("hydrometer", percent, None)));
        let other = reading("refractometer", percent + 0.4, Some(first));
        events.push(recorded(first + 1, minutes + 0.1, "Pat", other));
        let again = reading("hydrometer", percent - 0.01, Some(first));
        events.push(recorded(first + 2, minutes + 0.2, "Lou", again));
        events.push(recorded(first + 3, minutes + 0.3, "Lou", reading("refractometer", 20.0, None)));
    }
    let compared = Books::fold(&yard(), &events).bench.compared();
    let instruments: Vec<_> = compared.iter().filter(|one| one.instrument.is_none()).collect();
    assert_eq!(instruments.len(), 1);
    assert!(instruments[0].found.is_different && instruments[0].found.samples == 8);
    assert!((instruments[0].found.difference - 0.405).abs() < 1e-9);
    let people: Vec<_> = compared.iter().filter(|one| one.instrument.is_some()).collect();
    assert_eq!(people.len(), 1);
    assert!((people[0].found.difference - 0.01).abs() < 1e-9, "Pat reads a hundredth more than Lou");
}

/// A tank of brine and 30 % magnesium chloride by the book: the ratio is by what each brought in.
#[test]
fn a_blend_is_known_by_its_ratio() {
    let yard = yard();
    let made = MakingRun {
        tank: "1".into(),
        volume_m3: 9.0,
        temp_c: None,
        strength_pct: 23.3,
        salt_kg: None,
        water_m3: None,
        duration_h: None,
        ..MakingRun::default()
    };
    let product = yard.products.iter().find(|product| product.kind.is_magnesium_or_calcium()).unwrap();
    let bought = LiquidDelivery {
        tank: "1".into(),
        volume_m3: 1.0,
        temp_c: None,
        strength_pct: None,
        product: Some(product.id.clone()),
        ticket: None,
        price_usd: None,
    };
    let books = fold(&[(0.0, Body::MakingRun(made)), (1.0, Body::LiquidDelivery(bought))]);
    let content = books.tank("1").unwrap().content.clone();
    let solute = content.solute(&yard).unwrap();
    let shares: Vec<f64> = solute.shares().map(|(_, share)| share).collect();
    // By hand, from the sheet's density and chloride: 9 m³ × 1,177 kg/m³ × 0.233 = 2,468 kg of sodium chloride.
    let site::ProductKind::Declared { density, chloride, .. } = &product.kind else { panic!("declared") };
    let magnesium = quantity::in_kg_per_m3(*density) * chloride.fraction() / 0.7447;
    let expected = 2468.0 / (2468.0 + magnesium);
    assert!((shares[0] - expected).abs() < 0.002, "{shares:?} {expected}");
}

fn any_body() -> impl Strategy<Value = Body> {
    prop_oneof![
        (400.0..600.0, 20.0..26.0).prop_map(|(number, bench)| look(number, bench)),
        (400.0..600.0, 400.0..600.0).prop_map(|(from, to)| set(from, to)),
        (-1.0..1.0, prop::bool::ANY).prop_map(|(error, adjusted)| check(
            "refractometer",
            error,
            if adjusted { Adjusted::Yes } else { Adjusted::No }
        )),
        (20.0..26.0, prop::option::of(1u64..9)).prop_map(|(percent, sample)| reading(
            "hydrometer",
            percent,
            sample
        )),
        Just(Body::SeasonStart(SeasonStart { season: "any".into() })),
        Just(Body::WaterChange(WaterChange { what: "any".into() })),
    ]
}

proptest! {
    /// One by one or all at once: the same log, down to every word.
    #[test]
    fn one_by_one_equals_the_whole(bodies in prop::collection::vec(any_body(), 0..30)) {
        let yard = yard();
        let events: Vec<Recorded> =
            (1..).zip(bodies).map(|(seq, body)| recorded(seq, seq as f64, "Pat", body)).collect();
        let whole = Books::fold(&yard, &events);
        let mut grown = Books::empty(&yard);
        for event in &events {
            prop_assert!(grown.try_append(&yard, event));
        }
        prop_assert_eq!(format!("{:?}", whole.bench), format!("{:?}", grown.bench));
        let now = at(100.0);
        prop_assert_eq!(whole.bench.due(&yard, now), grown.bench.due(&yard, now));
    }
}
