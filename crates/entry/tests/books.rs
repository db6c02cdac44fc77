//! Accounts, lots, tickets, meters, salt receiving, chores: sums over what the ledger holds.
//!
//! Outside checks: worked examples W13–W15 (MnDOT moisture worksheet; Ohio DOT 712.03), W36, W40–W48 (EPA 440/5-88-001
//! values as MPCA prints them; WisDOT; Iowa DOT); 8.337 lb a gallon of water at 60 °F and 231 in³ a gallon (NIST
//! Handbook 44, appendix C); chloride by atomic weights (IUPAC).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use accounts::{Journal, Line, Period};
use chemistry::MassFraction;
use entry::ticket::{Oddity, Standing};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use proptest::prelude::*;
use quantity::*;
use site::Yard;
use uuid::Uuid;
use yard::due::Pressing;
use yard::event::*;
use yard::stock::{BookProblem, Books, End, NotCounted};

const FILE: &str = include_str!("../../../examples/alder_fork.toml");

fn yard() -> Yard {
    site::yard_file::read_yard(FILE, "alder_fork.toml").unwrap()
}

fn m3(gal: f64) -> f64 {
    in_cubic_metres(gallons(gal))
}

fn at(hours: f64) -> Timestamp {
    "2012-12-01T12:00:00Z".parse::<Timestamp>().unwrap() + SignedDuration::from_secs_f64(3600.0 * hours)
}

/// A ledger of events so many hours into December 2012, recorded as they happen.
#[derive(Default)]
struct Season(Vec<Recorded>);

impl Season {
    fn add(&mut self, hours: f64, body: Body) -> EventId {
        self.late(hours, hours, body)
    }

    fn late(&mut self, hours: f64, recorded: f64, body: Body) -> EventId {
        let seq = self.0.len() as u64 + 1;
        let id = EventId(Uuid::from_u128(u128::from(seq)));
        let (author, device) = ("Pat".into(), "test".into());
        let event = Event { id, occurred_at: at(hours), author, device, body };
        self.0.push(Recorded { seq, recorded_at: at(recorded), event });
        id
    }
}

fn made(tank: &str, gal: f64, pct: f64) -> Body {
    let (tank, volume_m3, strength_pct) = (tank.into(), m3(gal), pct);
    Body::MakingRun(MakingRun {
        tank,
        volume_m3,
        strength_pct,
        duration_h: Some(1.0),
        ..MakingRun::default()
    })
}

fn load(tank: &str, truck: &str, route: Option<&str>, gal: f64) -> Body {
    let (tank, truck, route) = (tank.into(), truck.into(), route.map(str::to_owned));
    Body::LoadOut(LoadOut { tank, truck, route, volume_m3: m3(gal), ..LoadOut::default() })
}

fn back(tank: &str, truck: &str, gal: f64) -> Body {
    let (tank, truck, volume_m3) = (tank.into(), truck.into(), m3(gal));
    Body::ReturnToTank(ReturnToTank { tank, truck, volume_m3, ..ReturnToTank::default() })
}

fn spread(route: &str, truck: Option<&str>, gal: f64, salt_lb: f64) -> Body {
    let some = |figure: f64| (figure > 0.0).then_some(figure);
    Body::Application(Application {
        route: route.into(),
        truck: truck.map(str::to_owned),
        volume_m3: some(m3(gal)),
        salt_kg: some(in_kilograms(pounds(salt_lb))),
        ..Application::default()
    })
}

fn delivery(tons: f64, usd: f64) -> Body {
    let mass_kg = in_kilograms(short_tons(tons));
    Body::SaltDelivery(SaltDelivery { mass_kg, price_usd: Some(usd), ..SaltDelivery::default() })
}

fn reading(tank: &str, pct: f64, within: f64) -> Body {
    let (tank, strength_pct, uncertainty_pct) = (tank.into(), pct, Some(within));
    Body::Reading(Reading { tank: Some(tank), strength_pct, uncertainty_pct, ..Reading::default() })
}

fn whole() -> Period {
    Period { from: at(-1.0), until: at(100_000.0) }
}

fn gal_of(content: &yard::stock::Content, yard: &Yard) -> f64 {
    in_gallons(content.volume(yard, None))
}

fn is(found: f64, expected: f64, share: f64) -> bool {
    (found / expected - 1.0).abs() <= share
}

/// A small season: two tanks, two trucks, a return, an issue, a spill.
fn small() -> Season {
    let mut season = Season::default();
    season.add(0.0, delivery(50.0, 3500.0));
    season.add(1.0, made("1", 4000.0, 23.3));
    season.add(2.0, made("2", 1000.0, 22.0));
    season.add(3.0, load("1", "T1", Some("R1"), 1500.0));
    season.add(5.0, back("1", "T1", 300.0));
    season.add(6.0, load("1", "T2", Some("R2"), 1000.0));
    season.add(8.0, spread("R2", Some("T2"), 900.0, 0.0));
    season.add(8.5, spread("R4", Some("T2"), 100.0, 2000.0));
    let agency = "School district".to_owned();
    let issue = IssueOut { tank: "2".into(), agency, volume_m3: m3(200.0), ..IssueOut::default() };
    season.add(9.0, Body::IssueOut(issue));
    let loss = Loss { tank: "2".into(), volume_m3: m3(50.0), reason: "hose".into() };
    season.add(10.0, Body::Loss(loss));
    let transfer =
        Transfer { from_tank: "2".into(), to_tank: "1".into(), volume_m3: m3(400.0), temp_c: None };
    season.add(11.0, Body::Transfer(transfer));
    season
}

#[test]
fn every_line_is_what_was_entered() {
    let (yard, season) = (yard(), small());
    let journal = Journal::new(&yard, &season.0);
    let accounts = journal.accounts(whole());
    let all = &accounts.liquids;
    let gal = |line| gal_of(&all.line(line), &yard);
    for (line, expected) in [
        (Line::Made, 5000.0),
        (Line::Loaded, 2500.0),
        (Line::Returned, 300.0),
        (Line::Issued, 200.0),
        (Line::Lost, 50.0),
        (Line::FromTank, 400.0),
        (Line::ToTank, 400.0),
    ] {
        assert!(is(gal(line), expected, 1e-4), "{line:?}: {} gal", gal(line));
    }
    assert!(in_kilograms(all.error()).abs() < 1e-6 && in_kilograms(accounts.salt.error()).abs() < 1e-6);
    assert!(accounts.tanks.iter().all(|(_, tank)| in_kilograms(tank.error()).abs() < 1e-6));
    // The closing of the account is the book.
    for (tank, account) in &accounts.tanks {
        let book = journal.books.tank(tank).unwrap();
        assert!((in_kilograms(account.closing.mass) - in_kilograms(book.content.mass)).abs() < 1e-6);
    }
    // W36: 1,800 gal weigh 17,650 lb; here 1,500.
    let of_load = journal.walk.liquids.iter().find(|flow| matches!(flow.to, End::Truck(_))).unwrap();
    assert!(is(in_pounds(of_load.liquid.mass) * 1800.0 / 1500.0, 17_650.0, 0.005));
    let route = |id: &str| &accounts.routes.iter().find(|(route, _)| route.as_deref() == Some(id)).unwrap().1;
    assert!(is(gal_of(&route("R1").liquid, &yard), 1200.0, 1e-4), "what came back was not put down");
    assert!(is(gal_of(&route("R2").liquid, &yard), 900.0, 1e-3));
    assert!(
        is(gal_of(&route("R4").liquid, &yard), 100.0, 1e-3),
        "sprayed on another route than it was loaded for"
    );
    let on_roads: f64 = accounts.routes.iter().map(|(_, route)| in_kilograms(route.liquid.mass)).sum();
    let net = in_kilograms(all.line(Line::Loaded).mass) - in_kilograms(all.line(Line::Returned).mass);
    assert!((on_roads - net).abs() < 1e-6, "routes add up to loaded less returned");
    // W41: chloride of 1,000 gal is 1,389 lb; 1,200 gal of it went on R1.
    assert!(is(in_pounds(route("R1").chloride(&yard)), 1389.0 * 1.2, 0.005));
    // 2,000 lb of rock salt, 96 % pure when dry and 1.8 % wet: by hand 2,000 · 0.982 · 0.96 · 0.6066.
    let dry = in_pounds(route("R4").chloride(&yard)) - 138.9;
    assert!(is(dry, 2000.0 * 0.982 * 0.96 * 0.6066, 0.005), "{dry}");
    // 40 cents a gallon.
    assert_eq!(accounts.agencies.len(), 1);
    assert!((accounts.agencies[0].2 - 80.0).abs() < 0.011 && (accounts.money.billed - 80.0).abs() < 0.011);
}

/// Gallons are stated at 60 °F. Water: NIST's density of water (Tanaka and others, Metrologia 38 (2001) 301) is
/// 999.975 kg/m³ at 4 °C and 999.016 at 60 °F. Brine of 20 %: Melinder's tables (CoolProp 8.0.0, MNA), as kept with
/// the chemistry's tests.
#[test]
fn gallons_are_stated_at_sixty_degrees() {
    let yard = yard();
    let at_60 = |pct: f64, temp_c: f64| {
        let Body::MakingRun(run) = made("1", 1000.0, pct) else { unreachable!() };
        let mut season = Season::default();
        season.add(0.0, Body::MakingRun(MakingRun { temp_c: Some(temp_c), ..run }));
        gal_of(&Journal::new(&yard, &season.0).accounts(whole()).liquids.line(Line::Made), &yard)
    };
    assert!((at_60(0.0, 4.0) - 1000.0 * 999.975 / 999.016).abs() < 0.05, "{}", at_60(0.0, 4.0));
    let density = |temp: &str| -> f64 {
        let rows = include_str!("../../chemistry/tests/data/density.csv").lines();
        let of = |line: &str| {
            let cells: Vec<&str> = line.split(',').collect();
            (cells[..3] == ["NaCl", "20", temp] && cells[5] == "coolprop_mna")
                .then(|| cells[3].parse().unwrap())
        };
        rows.filter(|line| line.starts_with("NaCl,20,")).find_map(of).unwrap()
    };
    let published = 1000.0 * density("0") / density("15.56");
    assert!((at_60(20.0, 0.0) - published).abs() < 1.0, "{} {published}", at_60(20.0, 0.0));
    assert!((at_60(20.0, 15.56) - 1000.0).abs() < 0.05);
}

#[test]
fn a_period_opens_where_the_one_before_closes() {
    let (yard, season) = (yard(), small());
    let journal = Journal::new(&yard, &season.0);
    let first = journal.accounts(Period { from: at(-1.0), until: at(5.5) });
    let second = journal.accounts(Period { from: at(5.5), until: at(100.0) });
    let all = journal.accounts(whole());
    let kg = |content: &yard::stock::Content| in_kilograms(content.mass);
    assert!((kg(&first.liquids.closing) - kg(&second.liquids.opening)).abs() < 1e-9);
    for line in Line::ALL {
        let parts = kg(&first.liquids.line(line)) + kg(&second.liquids.line(line));
        assert!((parts - kg(&all.liquids.line(line))).abs() < 1e-9, "{line:?}");
    }
    assert!(
        in_kilograms(second.liquids.error()).abs() < 1e-6 && in_kilograms(second.salt.error()).abs() < 1e-6
    );
}

#[test]
fn money_and_savings() {
    let yard = yard();
    let mut season = Season::default();
    season.add(0.0, delivery(50.0, 3500.0));
    season.add(1.0, made("1", 1000.0, 23.3));
    season.add(2.0, load("1", "T1", Some("R1"), 1000.0));
    season.add(3.0, spread("R1", Some("T1"), 1000.0, 0.0));
    let accounts = Journal::new(&yard, &season.0).accounts(whole());
    let money = accounts.money;
    assert!((money.salt_usd_per_ton - 70.0).abs() < 1e-9);
    // By hand: 2,286 lb of salt in it, by 0.982 · 0.96 to rock salt, at 70 dollars a ton.
    let rock = 2286.0 / (0.982 * 0.96);
    assert!(is(money.making_salt, rock / 2000.0 * 70.0, 0.003), "{}", money.making_salt);
    // 7,524 lb of water are 902 gal at 6.40 dollars a thousand.
    assert!(is(money.making_water, 0.902 * 6.40, 0.01), "{}", money.making_water);
    assert!((money.making_hours - 50.0).abs() < 1e-9, "an hour of plant and one person");
    let per_gal = money.usd_per_m3_made * m3(1.0);
    assert!(is(per_gal, (money.making_salt + money.making_water + 50.0) / 1000.0, 1e-4));
    assert!(is(money.liquid_on_road, 1000.0 * per_gal, 1e-3));
    // R1 has 28 lane-miles; 300 lb each would have been 8,400 lb.
    let saved = accounts.saved.unwrap();
    assert!(is(in_pounds(saved.baseline), 8400.0, 1e-9) && is(in_pounds(saved.used), rock, 0.003));
    assert!(saved.source.contains("our own tickets"));
}

/// By hand: what was paid for a bought liquid goes before the yard file's price.
#[test]
fn bought_liquid_costs_what_was_paid() {
    let yard = yard();
    let bought = yard.tanks.iter().find(|tank| tank.product != yard.plant.product).unwrap();
    let on_road = |price_usd: Option<f64>| {
        let mut season = Season::default();
        let (tank, volume_m3) = (bought.id.clone(), m3(100.0));
        season.add(
            0.0,
            Body::LiquidDelivery(LiquidDelivery { tank, volume_m3, price_usd, ..LiquidDelivery::default() }),
        );
        season.add(1.0, load(&bought.id, "T1", Some("R1"), 50.0));
        season.add(2.0, spread("R1", Some("T1"), 50.0, 0.0));
        Journal::new(&yard, &season.0).accounts(whole()).money.liquid_on_road
    };
    let by_file = 50.0 * m3(1.0) * yard.product(&bought.product).unwrap().usd_per_m3;
    assert!(is(on_road(None), by_file, 0.01), "{} {by_file}", on_road(None));
    // 100 gal for 250 dollars.
    assert!(is(on_road(Some(250.0)), 125.0, 0.01), "{}", on_road(Some(250.0)));
}

/// A tank out of use keeps its past in the books, and is offered no more.
#[test]
fn a_retired_tank_keeps_its_past() {
    let retire = |id: &str| {
        let head = format!("[[tank]]\nid = \"{id}\"\n");
        assert!(FILE.contains(&head), "{head}");
        let text = FILE.replace(&head, &format!("{head}retired = true\n"));
        site::yard_file::read_yard(&text, "yard.toml").unwrap()
    };
    let yard = retire("2");
    assert!(yard.tanks_in_use().all(|tank| tank.id != "2"));
    let mut season = Season::default();
    season.add(0.0, delivery(10.0, 700.0));
    season.add(0.5, made("2", 500.0, 23.3));
    season.add(1.0, load("2", "T1", Some("R1"), 300.0));
    let journal = Journal::new(&yard, &season.0);
    assert!(journal.books.problems.is_empty());
    let accounts = journal.accounts(whole());
    let (_, account) = accounts.tanks.iter().find(|(tank, _)| tank == "2").unwrap();
    assert!(is(in_gallons(account.line(Line::Loaded).volume(&yard, None)), 300.0, 0.01));
    // Taken out of the file, its events are a problem of the books that says what to do.
    let cut = FILE.replace("[[tank]]\nid = \"2\"\n", "[[tank]]\nid = \"2b\"\n");
    let without = site::yard_file::read_yard(&cut, "yard.toml").unwrap();
    let books = Books::fold(&without, &season.0);
    let is_of_it = |problem: &BookProblem| match problem {
        BookProblem::NotCounted { reason, .. } => *reason == NotCounted::NoTank("2".into()),
        _ => false,
    };
    assert!(!books.problems.is_empty() && books.problems.iter().all(is_of_it), "{:?}", books.problems);
}

#[test]
fn published_figures_of_accounting() {
    // W40: 35,000 gal at 0.90 dollars, as a bill to an agency of that price.
    let text = FILE.replace("usd_per_gal = 0.40", "usd_per_gal = 0.90");
    let yard = site::yard_file::read_yard(&text, "yard.toml").unwrap();
    let mut season = Season::default();
    season.add(0.0, made("1", 35_000.0, 23.3));
    let (tank, agency, volume_m3) = ("1".into(), "School district".into(), m3(35_000.0));
    season.add(1.0, Body::IssueOut(IssueOut { tank, agency, volume_m3, ..IssueOut::default() }));
    let accounts = Journal::new(&yard, &season.0).accounts(whole());
    let (.., billed) = accounts.agencies[0].clone();
    assert!(is(billed, 31_500.0, 1e-6), "W40: {billed}");
    // W42: 50 lb of salt, 230 mg/L: 15,800 gal. The concentration of a watershed is worked out by the same figures.
    let text = FILE.replace(
        "id = \"mill\"\nname = \"Mill Brook\"\narea_sqmi = 9.5\nrunoff_in = 7\nbackground_mg_l = 18",
        "id = \"mill\"\narea_acres = 1\nrunoff_in = 0.5820",
    );
    let yard = site::yard_file::read_yard(&text, "yard.toml").unwrap();
    // An acre under 0.5820 in holds 15,803 gal (27,154 gal to the acre-inch).
    let water = yard.watersheds[0].runoff.unwrap();
    assert!(is(in_gallons(water), 27_154.3 * 0.5820, 1e-4));
    let mut season = Season::default();
    season.add(0.0, delivery(1.0, 70.0));
    // 50 lb of pure salt as this yard's rock salt.
    season.add(1.0, spread("R1", None, 0.0, 50.0 / (0.982 * 0.96)));
    let accounts = Journal::new(&yard, &season.0).accounts(whole());
    let found = accounts.watersheds[0].in_runoff_mg_l.unwrap();
    assert!(is(found, 230.0, 0.01), "W42: {found}");
    assert!(is(in_pounds(accounts.watersheds[0].chloride), 50.0 * 0.6066, 0.001));
    // W43: a teaspoon (6 g) in 5 gal, about 190 mg/L.
    let teaspoon = 0.006 * chemistry::Salt::SodiumChloride.chloride_fraction().fraction();
    assert!(is(1000.0 * teaspoon / m3(5.0), 190.0, 0.25), "W43");
}

#[test]
fn published_figures_of_cost_and_saving() {
    // W44: 1,000 dollars of salt for 70 lane-miles as rock salt and 175 as brine: 14.29 and 5.71 dollars, 60 % less.
    let yard = yard();
    let per_lane_mile = |lane_miles: f64| {
        let mut season = Season::default();
        season.add(0.0, delivery(10.0, 1000.0));
        let Body::Application(all) = spread("R1", None, 0.0, 20_000.0) else { unreachable!() };
        let lane_m = Some(1609.344 * lane_miles);
        season.add(1.0, Body::Application(Application { lane_m, ..all }));
        let accounts = Journal::new(&yard, &season.0).accounts(whole());
        accounts.money.dry_on_road / (in_metres(accounts.roads.lane) / 1609.344)
    };
    let (dry, brine) = (per_lane_mile(70.0), per_lane_mile(175.0));
    assert!(is(dry, 14.29, 0.01) && is(brine, 5.71, 0.01) && is(1.0 - brine / dry, 0.60, 0.01), "W44");
    // W45: 770 tons where 1,000 would have gone is 23 % less. 1,000 tons are the baseline of 6,667 lane-miles at 300
    // lb.
    let mut season = Season::default();
    season.add(0.0, delivery(1000.0, 70_000.0));
    let Body::Application(all) = spread("R1", None, 0.0, 770.0 * 2000.0) else { unreachable!() };
    let lane_m = Some(1609.344 * 2_000_000.0 / 300.0);
    season.add(1.0, Body::Application(Application { lane_m, ..all }));
    let saved = Journal::new(&yard, &season.0).accounts(whole()).saved.unwrap();
    assert!(
        is(in_short_tons(saved.baseline), 1000.0, 1e-9) && is(in_short_tons(saved.used), 770.0, 1e-9),
        "W45"
    );
    // W46: 200,000 tons over 113 points are 1,770 tons each: one order a point, and its samples.
    let each = 200_000.0 / 113.0;
    assert!(is(each, 1770.0, 0.001));
    assert_eq!(accounts::receiving::samples(short_tons(each), yard.receiving.sample_each), 1);
}

#[test]
fn samples_of_a_stream() {
    // W48: four-day means of 240 and 251 mg/L within three years, none above 860: impaired by the first, not the
    // second.
    let yard = yard();
    let sample = |mg_l: f64, sampled: Sampled| {
        let watershed = "mill".to_owned();
        Body::WaterSample(WaterSample { watershed, chloride_mg_l: mg_l, sampled, remark: None })
    };
    let of = |season: &Season| {
        let accounts = Journal::new(&yard, &season.0).accounts(whole());
        let mill = accounts.watersheds.iter().find(|water| water.watershed.as_deref() == Some("mill"));
        mill.map_or_else(Default::default, |water| water.samples)
    };
    let mut season = Season::default();
    let year = 365.0 * 24.0;
    // Four years before the end of the period it counts no more.
    season.add(100_000.0 - 4.0 * year, sample(500.0, Sampled::FourDays));
    season.add(100_000.0 - year, sample(240.0, Sampled::FourDays));
    season.add(100_000.0 - 0.5 * year, sample(300.0, Sampled::Grab));
    let found = of(&season);
    assert_eq!((found.count, found.above_chronic, found.above_acute, found.is_impaired()), (2, 1, 0, false));
    season.add(100_000.0 - 0.1 * year, sample(251.0, Sampled::FourDays));
    let found = of(&season);
    assert!(found.above_chronic == 2 && found.above_acute == 0 && found.is_impaired(), "W48");
    let mut season = Season::default();
    season.add(0.0, sample(900.0, Sampled::Grab));
    assert!(!of(&season).is_impaired(), "eleven years ago");
    season.add(99_000.0, sample(900.0, Sampled::Grab));
    assert!(of(&season).is_impaired() && of(&season).above_acute == 1);
    assert!(
        (yard.accounts.chronic_mg_l - 230.0).abs() < 1e-9 && (yard.accounts.acute_mg_l - 860.0).abs() < 1e-9
    );
}

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

/// A total misread by a digit has no plausible cause: the books do not close all the same.
#[test]
fn what_nothing_explains_is_not_called_closed() {
    let yard = yard();
    let mut season = Season::default();
    season.add(0.0, made("1", 6000.0, 23.3));
    season.add(0.5, Body::MeterReading(MeterReading { meter: "loading".into(), total_m3: 0.0 }));
    season.add(1.0, load("1", "T1", None, 601.0));
    season.add(2.0, Body::MeterReading(MeterReading { meter: "loading".into(), total_m3: m3(2600.0) }));
    let journal = Journal::new(&yard, &season.0);
    let found = accounts::reconcile::reconcile(&journal, whole()).unwrap();
    assert!(!found.closes(), "{found:?}");
    // Hundreds of totals are thinned, not refused.
    let mut season = Season::default();
    for n in 0..700 {
        let total_m3 = f64::from(n);
        season.add(f64::from(n), Body::MeterReading(MeterReading { meter: "loading".into(), total_m3 }));
    }
    let journal = Journal::new(&yard, &season.0);
    assert!(accounts::reconcile::reconcile(&journal, whole()).unwrap().balances <= 520);
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
    assert!(back_dated.iter().any(|doubt| doubt.problem.contains("2012-12")), "{back_dated:?}");
    let again = time_doubts(&Body::LoadOut(ticketed.clone()), 955.0);
    assert!(again.iter().any(|doubt| doubt.field == "ticket"), "{again:?}");
    let unticketed = LoadOut { ticket: None, ..ticketed };
    let again = time_doubts(&Body::LoadOut(unticketed), 4.1);
    assert!(again.iter().any(|doubt| doubt.problem.contains("row 5")), "{again:?}");
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

/// Clocks of New York: forward on 2026-03-08, back on 2026-11-01, both at 02:00 (IANA time zone database).
#[test]
fn an_hour_that_was_not_and_one_that_was_twice_are_refused() {
    let yard = yard();
    let zone = TimeZone::get(&yard.time_zone).unwrap();
    let now = "2026-11-20T12:00:00Z".parse::<Timestamp>().unwrap();
    let route = &yard.routes[0].id;
    let read = |at: &str| {
        let rows = format!("at,route,treated,salt_lb\n{at},{route},dry,100\n");
        entry::import(&rows, "application", (&yard, &Books::empty(&yard)), &zone, now)
            .map(|rows| rows[0].at)
            .map_err(|all| all.iter().map(ToString::to_string).collect::<String>())
    };
    assert!(read("2026-03-08 02:30").unwrap_err().contains("yard.time.left_out"));
    assert!(read("2026-11-01 01:30").unwrap_err().contains("yard.time.twice"));
    assert!(read("0026-11-01 03:30").unwrap_err().contains("yard.time.long_ago"));
    let text = |at: Timestamp| at.to_string();
    assert_eq!(read("2026-03-08 03:30").map(text), Ok("2026-03-08T07:30:00Z".into()));
    assert_eq!(read("2026-11-01T05:30:00Z").map(text), Ok("2026-11-01T05:30:00Z".into()));
    let twice =
        entry::import("at,route,at\n", "application", (&yard, &Books::empty(&yard)), &zone, now).unwrap_err();
    assert!(twice[0].to_string().contains("has the column at twice"));
}

#[test]
fn chores_fall_due() {
    let yard = yard();
    let mut season = Season::default();
    let start = SeasonStart { season: "winter".into() };
    season.add(0.0, Body::SeasonStart(start));
    let due = |season: &Season, hours: f64| yard::due::due(&yard, &Books::fold(&yard, &season.0), at(hours));
    let pressing = |all: &[yard::due::Standing], id: &str| {
        all.iter().find(|one| one.chore.id == id).map(|one| one.pressing)
    };
    let now = due(&season, 1.0);
    assert_eq!(pressing(&now, "calibrate"), Some(Pressing::Due), "before season");
    assert_eq!(pressing(&now, "walk"), Some(Pressing::NotYet));
    assert_eq!(pressing(&now, "batch-test"), Some(Pressing::NotYet), "nothing was made");
    assert_eq!(pressing(&now, "wash-bay"), Some(Pressing::NotYet), "the yard's own");
    season.add(20.0, made("1", 1000.0, 23.3));
    season.add(21.0, load("1", "T1", None, 100.0));
    let now = due(&season, 30.0);
    assert_eq!(pressing(&now, "batch-test"), Some(Pressing::Due));
    assert_eq!(pressing(&now, "walk"), Some(Pressing::Due), "a day has passed");
    assert_eq!(pressing(&now, "flush"), Some(Pressing::NotYet), "the storm may go on");
    assert_eq!(pressing(&due(&season, 40.0), "flush"), Some(Pressing::Due));
    let done = |chore: &str| Body::ChoreDone(ChoreDone { chore: chore.into(), done: "done".into() });
    season.add(31.0, done("batch-test"));
    season.add(31.0, done("walk"));
    let now = due(&season, 32.0);
    assert_eq!(pressing(&now, "batch-test"), Some(Pressing::NotYet));
    let walk = now.iter().find(|one| one.chore.id == "walk").unwrap();
    assert_eq!((walk.pressing, walk.at), (Pressing::NotYet, Some(at(31.0 + 24.0))));
    assert_eq!(walk.last.as_ref().unwrap().author, "Pat");
    // 100,000 gal of brine between two clean-outs; 85,001 made are near.
    season.add(33.0, made("1", 84_001.0, 23.3));
    assert_eq!(pressing(&due(&season, 34.0), "sludge-out"), Some(Pressing::Near));
    season.add(35.0, made("1", 15_000.0, 23.3));
    assert_eq!(pressing(&due(&season, 36.0), "sludge-out"), Some(Pressing::Due));
    assert!(due(&season, 36.0).windows(2).all(|pair| pair[0].pressing <= pair[1].pressing));
    // Half a year after its start the season's chores rest, unless the yard is still at work.
    let late = 200.0 * 24.0;
    assert_eq!(pressing(&due(&season, late), "walk"), Some(Pressing::NotYet));
    season.add(late - 24.0, load("1", "T1", None, 100.0));
    assert_eq!(pressing(&due(&season, late), "walk"), Some(Pressing::Due));
}

/// The operator's page lists what ships, no more and no less.
#[test]
fn the_page_on_what_is_due_lists_every_chore() {
    let page = include_str!("../../../docs/due.md");
    let plain = FILE.replace(
        "[[chore]]\nid = \"wash-bay\"\ntask = \"Empty the sump of the wash bay\"\n\
        who = \"operator\"\nevery_days = 14\n",
        "",
    );
    let yard = site::yard_file::read_yard(&plain, "yard.toml").unwrap();
    let chores = site::chores::chores(&yard);
    for chore in &chores {
        assert!(page.contains(&format!("| `{}` | ", chore.id)) && page.contains(&chore.task), "{}", chore.id);
    }
    assert_eq!(page.matches("| `").count(), chores.len());
}

#[test]
fn storms_are_named_or_seen() {
    let yard = yard();
    let mut season = Season::default();
    season.add(0.0, load("1", "T1", None, 100.0));
    season.add(5.0, spread("R1", None, 0.0, 100.0));
    season.add(30.0, load("1", "T1", None, 100.0));
    let storms = |season: &Season| Books::fold(&yard, &season.0).calendar.storms();
    let found = storms(&season);
    assert_eq!((found.len(), found[0].from, found[1].from), (2, at(0.0), at(30.0)));
    assert!(found.iter().all(|storm| storm.name.is_none()));
    let named = Storm { name: "First ice".into(), until: at(10.0).to_string() };
    season.late(-1.0, 31.0, Body::Storm(named));
    let found = storms(&season);
    assert_eq!(found.len(), 2);
    assert_eq!((found[0].name.as_deref(), found[0].from), (Some("First ice"), at(-1.0)));
}

#[test]
fn what_the_yard_file_refuses() {
    let read = |from: &str, to: &str| {
        assert!(FILE.contains(from), "{from}");
        let problems = site::yard_file::read_yard(&FILE.replacen(from, to, 1), "yard.toml").unwrap_err();
        problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    };
    assert!(read("at_ft = 15\n", "at_ft = 0.2\n").contains("site.axle.order"));
    assert!(read("at_ft = 0\n", "at_ft = 2\n").contains("site.axle.first"));
    assert!(read("liquid_at_ft = 15.5", "").contains("site.axle.liquid_at"));
    assert!(read("watershed = \"mill\"", "watershed = \"mil\"").contains("suggestion = mill"));
    assert!(read("runoff_in = 7", "").contains("site.why.area_alone"));
    assert!(
        read("baseline_source = \"mean of our own tickets, winters 2008 to 2011 (invented)\"", "")
            .contains("site.why.baseline")
    );
    assert!(read("every_days = 14", "").contains("site.why.rhythm"));
    assert!(read("on = \"loading\"", "on = \"lading\"").contains("loading"));
}

fn any_body() -> impl Strategy<Value = Body> {
    let tank = prop::sample::select(vec!["1", "2", "3"]);
    let truck = prop::sample::select(vec!["T1", "T2"]);
    let route = prop::sample::select(vec![None, Some("R1"), Some("R2")]);
    (0..9_u8, tank.clone(), tank, truck, route, 1.0..900.0_f64, 18.0..25.0_f64).prop_map(
        |(kind, a, b, truck, route, gal, pct)| match kind {
            0 | 1 => made(a, 2.0 * gal, pct),
            2 => load(a, truck, route, gal),
            3 => back(a, truck, 0.3 * gal),
            4 => spread(route.unwrap_or("R4"), Some(truck), 0.5 * gal, gal),
            5 => delivery(gal / 20.0, gal),
            6 if a != b => {
                let (from_tank, to_tank) = (a.into(), b.into());
                Body::Transfer(Transfer { from_tank, to_tank, volume_m3: m3(0.2 * gal), temp_c: None })
            }
            7 => {
                let volume_m3 = Some(m3(gal));
                let (tank, reason) = (Some(a.into()), "counted".into());
                Body::Settlement(Settlement {
                    tank,
                    volume_m3,
                    strength_pct: Some(pct),
                    salt_kg: None,
                    reason,
                })
            }
            _ => {
                Body::CleanOut(CleanOut { tank: a.into(), volume_m3: m3(0.1 * gal), disposal: "pad".into() })
            }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever happens: accounts balance, routes add up to loaded less returned, and a period splits anywhere.
    #[test]
    fn accounts_balance(bodies in prop::collection::vec(any_body(), 1..60), split in 0.0..60.0_f64) {
        let yard = yard();
        let mut season = Season::default();
        bodies.into_iter().enumerate().for_each(|(n, body)| { season.add(n as f64, body); });
        let journal = Journal::new(&yard, &season.0);
        let all = journal.accounts(whole());
        prop_assert!(in_kilograms(all.liquids.error()).abs() < 1e-6);
        prop_assert!(in_kilograms(all.salt.error()).abs() < 1e-6);
        for (tank, account) in &all.tanks {
            let book = in_kilograms(journal.books.tank(tank).unwrap().content.mass);
            prop_assert!((in_kilograms(account.closing.mass) - book).abs() < 1e-6);
        }
        prop_assert!((in_kilograms(all.salt.closing) - in_kilograms(journal.books.rock_salt)).abs() < 1e-6);
        let net = in_kilograms(all.liquids.line(Line::Loaded).mass - all.liquids.line(Line::Returned).mass);
        prop_assert!((in_kilograms(all.roads.liquid.mass) - net).abs() < 1e-6);
        let first = journal.accounts(Period { from: at(-1.0), until: at(split) });
        let second = journal.accounts(Period { from: at(split), until: at(100_000.0) });
        let parts = in_kilograms(first.roads.liquid.mass) + in_kilograms(second.roads.liquid.mass);
        prop_assert!((parts - net).abs() < 1e-6);
        // Shares of a load add up to one; a lot is nowhere twice.
        for recorded in &season.0 {
            if let Some(origins) = journal.origins_of(recorded.event.id) {
                let sum: f64 = origins.lots.iter().map(|lot| lot.share).sum();
                prop_assert!(sum <= 1.0 + 1e-9 && origins.lots.iter().all(|lot| lot.share >= 0.0));
            }
            if let Some(found) = journal.whereabouts(recorded.event.id) {
                let parts: f64 = found.reached.iter().map(|one| in_kilograms(one.mass)).sum::<f64>()
                    + found.in_tanks.iter().map(|(_, mass)| in_kilograms(*mass)).sum::<f64>()
                    + in_kilograms(found.written_off);
                prop_assert!(parts <= in_kilograms(found.mass).abs() * (1.0 + 1e-6) + 1e-6);
            }
        }
    }
}

#[test]
fn books_without_evidence_say_so() {
    let (yard, season) = (yard(), small());
    let journal = Journal::new(&yard, &season.0);
    let found = accounts::reconcile::reconcile(&journal, whole());
    assert_eq!(found, Err(accounts::reconcile::ReconcileError::NoEvidence));
}

#[test]
fn a_leak_is_named_by_hand_made_dips() {
    use accounts::reconcile::{Balance, Cause};
    let yard = yard();
    let mut season = Season::default();
    season.add(0.0, made("1", 6000.0, 23.3));
    let shape = &yard.tanks[0].shape;
    // Nothing is made and nothing loaded; from the tenth day 40 gal a day are missing.
    for day in 0..20 {
        let left = 6000.0 - 40.0 * f64::from((day - 10).max(0));
        let depth_m = in_metres(shape.depth_of(gallons(left)).unwrap());
        season.add(1.0 + 24.0 * f64::from(day), Body::Dip(Dip { tank: "1".into(), depth_m, temp_c: None }));
    }
    let journal = Journal::new(&yard, &season.0);
    let found = accounts::reconcile::reconcile(&journal, whole()).unwrap();
    assert!(!found.closes() && found.balances == 19);
    let first = &found.suspects[0];
    let Cause::Leak { tank, since } = &first.cause else { panic!("{:?}", found.suspects) };
    assert!(tank == "1" && *since == at(1.0 + 240.0), "{since}");
    // 40 gal of brine weigh 392.4 lb.
    assert!((first.size + in_kilograms(pounds(392.4))).abs() < first.interval, "{first:?}");
    let left_over = &found.left_over[0];
    assert_eq!(left_over.of, Balance::Tank("1".into()));
    assert!(is(in_pounds(left_over.mass), -9.0 * 392.4, 0.005), "{left_over:?}");
}
