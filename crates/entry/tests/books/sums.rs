//! What a period comes to: lines, money, savings, published figures.

use accounts::{Journal, Line, Period};
use event::*;
use proptest::prelude::*;
use quantity::*;
use yard::stock::{BookProblem, Books, End, NotCounted};

use super::season::*;

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
        let rows = include_str!("../../../chemistry/tests/data/density.csv").lines();
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
    // W43: a teaspoon (6 g) in 5 gal, about 190 mg/L; by hand 6,000 mg × 0.606 6 in 18.927 L are 192.3. The agency's
    // text says 230, for a teaspoon that it does not weigh: 6 g is the round figure, and no test of ours.
    let teaspoon = 0.006 * chemistry::Salt::SodiumChloride.chloride_fraction().fraction();
    let found = 1000.0 * teaspoon / m3(5.0);
    assert!(is(found, 192.3, 0.001) && is(found, 190.0, 0.015), "W43: {found}");
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
