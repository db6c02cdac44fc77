//! Tanks of a plan: freeze points of purchased liquids by their sheets, and mixed tanks.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use event::{Body, Event, EventId, LiquidDelivery, MakingRun, Recorded};
use jiff::Timestamp;
use planner::{TankStock, tank_stock};
use quantity::{celsius, fahrenheit, gallons, in_celsius, in_cubic_metres, in_fahrenheit};
use site::Yard;
use yard::stock::Books;

fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../examples/alder_fork.toml"), "alder_fork.toml").unwrap()
}

fn delivered(tank: &str, product: Option<&str>, gal: f64) -> Body {
    Body::LiquidDelivery(LiquidDelivery {
        tank: tank.into(),
        volume_m3: in_cubic_metres(gallons(gal)),
        temp_c: None,
        strength_pct: None,
        product: product.map(Into::into),
        ticket: None,
        price_usd: None,
    })
}

fn made(tank: &str, gal: f64) -> Body {
    Body::MakingRun(MakingRun {
        tank: tank.into(),
        volume_m3: in_cubic_metres(gallons(gal)),
        temp_c: None,
        strength_pct: 23.3,
        salt_kg: None,
        water_m3: None,
        duration_h: None,
        ..MakingRun::default()
    })
}

fn stock(yard: &Yard, bodies: &[Body], tank: &str) -> TankStock {
    let recorded = |(n, body): (usize, &Body)| {
        let at = Timestamp::from_second(1_700_000_000 + n as i64).unwrap();
        let id: EventId = format!("{n:032x}").parse().unwrap();
        let event =
            Event { id, occurred_at: at, author: "Pat".into(), device: "test".into(), body: body.clone() };
        Recorded { seq: n as u64 + 1, recorded_at: at, event }
    };
    let events: Vec<Recorded> = bodies.iter().enumerate().map(recorded).collect();
    let all = tank_stock(yard, &Books::fold(yard, &events));
    all.into_iter().find(|stock| stock.tank == tank).unwrap()
}

#[test]
fn a_bought_liquid_freezes_where_its_sheet_says() {
    let mut yard = yard();
    let held = [delivered("4", None, 400.0)];
    let tank = stock(&yard, &held, "4");
    assert!((in_fahrenheit(tank.sheet_freezing.unwrap()) - 2.0).abs() < 1e-9, "as delivered, not 75 or 50 %");
    assert!(tank.first_solid.is_none() && tank.unlike.is_empty());
    assert!(!tank.freezes_in(Some(fahrenheit(3.0))) && !tank.freezes_in(None));
    assert!(tank.freezes_in(Some(fahrenheit(1.9))) && tank.freezes_in(Some(celsius(-30.0))));
    // The plan still uses what is in it.
    assert!((in_cubic_metres(tank.usable) - in_cubic_metres(gallons(340.0))).abs() < 1e-6);
    // Empty, or without a table: no freeze point.
    assert!(stock(&yard, &[], "4").freezes_at().is_none());
    let mut unsaid = yard.clone();
    for product in &mut unsaid.products {
        if let site::ProductKind::Declared { freezing, .. } = &mut product.kind {
            freezing.retain(|row| row.share_pct < 99.0);
        }
    }
    assert!(stock(&unsaid, &held, "4").freezes_at().is_none(), "never read from the other rows");
    yard.tanks[3].insulation = site::Insulation::Indoors;
    assert!(!stock(&yard, &held, "4").freezes_in(Some(celsius(-40.0))), "its air is the building's");
}

#[test]
fn a_mixed_tank_is_predicted_and_not_counted() {
    let yard = yard();
    let clean = stock(&yard, &[made("1", 3000.0)], "1");
    assert!(clean.is_brine && clean.freezes_at().is_some() && in_cubic_metres(clean.usable) > 10.0);
    let mixed = [made("1", 3000.0), delivered("1", Some("mag"), 100.0)];
    let tank = stock(&yard, &mixed, "1");
    assert_eq!(tank.unlike.len(), 2);
    assert!(tank.strength.is_none() && tank.conformity.is_none() && tank.mix.is_some());
    // 3,000 gal of 23.3 % brine with 100 gal of a 30 % magnesium chloride liquid: salt long before ice
    // (reference notes: 90/10 by mass near −13 °C, ice near −24 °C).
    let first = tank.first_solid.unwrap();
    assert_eq!(first.solid, chemistry::freezing::Solid::Hydrohalite);
    assert!(in_celsius(first.temperature) > in_celsius(first.ice.unwrap()) + 1.0);
    assert!(in_cubic_metres(tank.usable).abs() < 1e-12, "not counted for anything");
    assert!(!tank.is_brine, "and no room for a making run");
    let water = Body::Correction(event::Correction { tank: "4".into(), water_m3: Some(0.2), salt_kg: None });
    let thinned = stock(&yard, &[delivered("4", None, 400.0), water], "4");
    assert!(thinned.freezes_at().is_some() && in_cubic_metres(thinned.usable).abs() < 1e-12);
}
