//! A yard with bought liquids, and its events.

use event::*;
use jiff::Timestamp;
use quantity::{gallons, in_cubic_metres, in_kilograms};
use site::Yard;
use uuid::Uuid;
use yard::stock::{BookProblem, Books, Liquid};

pub(crate) const YARD: &str = include_str!("../../../../examples/alder_fork.toml");
/// Tank 4's liquid in the invented yard: kg/m³ and chloride by mass.
pub(crate) const MAG_DENSITY: f64 = 1283.0;
pub(crate) const MAG_CHLORIDE: f64 = 0.223;
/// Chloride in sodium chloride.
pub(crate) const CL: f64 = 35.45 / 58.44;
/// Another declared product and a tank of it; another brine and a tank of that.
pub(crate) const MORE: &str = r#"
[[product]]
id = "cal"
name = "Calcium liquid"
kind = "declared"
base = "calcium"
density_kg_m3 = 1300
chloride_pct = 20
source = "supplier's sheet (invented)"

[[product]]
id = "weak"
name = "Weak brine"
kind = "brine"

[[tank]]
id = "5"
product = "cal"
orientation = "vertical"
diameter_ft = 6
straight_height_ft = 8

[[tank]]
id = "6"
product = "weak"
orientation = "vertical"
diameter_ft = 6
straight_height_ft = 8

[[tank]]
id = "7"
product = "mag"
orientation = "vertical"
diameter_ft = 6
straight_height_ft = 8
"#;

pub(crate) fn yard() -> Yard {
    site::yard_file::read_yard(&format!("{YARD}{MORE}"), "alder_fork.toml").unwrap()
}

pub(crate) fn m3(gal: f64) -> f64 {
    in_cubic_metres(gallons(gal))
}

pub(crate) fn recorded(seq: u64, body: Body) -> Recorded {
    let at = Timestamp::from_second(1_700_000_000 + seq as i64 * 60).unwrap();
    let id = EventId(Uuid::from_u128(u128::from(seq)));
    Recorded {
        seq,
        recorded_at: at,
        event: Event { id, occurred_at: at, author: "Pat".into(), device: "test".into(), body },
    }
}

pub(crate) fn fold(bodies: &[Body]) -> Books {
    let events: Vec<Recorded> =
        bodies.iter().enumerate().map(|(n, body)| recorded(n as u64 + 1, body.clone())).collect();
    Books::fold(&yard(), &events)
}

pub(crate) fn made(tank: &str, gal: f64, pct: f64) -> Body {
    Body::MakingRun(MakingRun {
        tank: tank.into(),
        volume_m3: m3(gal),
        temp_c: None,
        strength_pct: pct,
        salt_kg: None,
        water_m3: None,
        duration_h: None,
        ..MakingRun::default()
    })
}

pub(crate) fn delivered(tank: &str, product: Option<&str>, gal: f64) -> Body {
    Body::LiquidDelivery(LiquidDelivery {
        tank: tank.into(),
        volume_m3: m3(gal),
        temp_c: None,
        strength_pct: None,
        product: product.map(Into::into),
        ticket: None,
        price_usd: None,
    })
}

pub(crate) fn transfer(from: &str, to: &str, gal: f64) -> Body {
    Body::Transfer(Transfer {
        from_tank: from.into(),
        to_tank: to.into(),
        volume_m3: m3(gal),
        temp_c: Some(4.0),
    })
}

pub(crate) fn corrected(tank: &str, water_gal: f64, salt_kg: f64) -> Body {
    Body::Correction(Correction { tank: tank.into(), water_m3: Some(m3(water_gal)), salt_kg: Some(salt_kg) })
}

pub(crate) fn load(tank: &str, truck: &str, gal: f64) -> Body {
    Body::LoadOut(LoadOut {
        tank: tank.into(),
        truck: truck.into(),
        route: None,
        volume_m3: m3(gal),
        temp_c: Some(1.0),
        ..LoadOut::default()
    })
}

pub(crate) fn lost(tank: &str, gal: f64) -> Body {
    Body::Loss(Loss { tank: tank.into(), volume_m3: m3(gal), reason: "hose".into() })
}

pub(crate) fn settled(tank: &str, gal: f64, pct: Option<f64>) -> Body {
    Body::Settlement(Settlement {
        tank: Some(tank.into()),
        volume_m3: Some(m3(gal)),
        strength_pct: pct,
        salt_kg: None,
        reason: "count".into(),
    })
}

pub(crate) fn jar(tank: Option<&str>, result: JarResult) -> Body {
    Body::JarTest(JarTest {
        liquid_a: "brine".into(),
        liquid_b: "mag".into(),
        share_a_pct: 70.0,
        temp_c: -18.0,
        duration_h: 24.0,
        result,
        remark: None,
        tank: tank.map(Into::into),
    })
}

/// Ids of what stands in a tank that is not its product alone, and masses, kg.
pub(crate) fn unlike(books: &Books, tank: &str) -> Vec<(String, f64)> {
    let yard = yard();
    let product = yard.product(&yard.tank(tank).unwrap().product).unwrap();
    let named = |liquid: &Liquid| match liquid {
        Liquid::Brine => "(brine)".to_string(),
        Liquid::Declared(id) => id.clone(),
    };
    let parts = books.tank(tank).unwrap().unlike(product);
    parts.iter().map(|part| (named(&part.liquid), in_kilograms(part.mass))).collect()
}

pub(crate) fn doubts(before: &[Body], body: &Body) -> String {
    let doubts = entry::doubts(body, &yard(), &fold(before));
    doubts.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
}

/// These yards make brine without a salt delivery: that their pile falls below zero is all that may be wrong.
pub(crate) fn only_salt_is_short(books: &Books) -> bool {
    books.problems.iter().all(|problem| matches!(problem, BookProblem::SaltBelowZero { .. }))
}

pub(crate) fn chloride(books: &Books, tank: &str) -> f64 {
    in_kilograms(books.tank(tank).unwrap().chloride(&yard()))
}

pub(crate) fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} is not {expected}");
}
