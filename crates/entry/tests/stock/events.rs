//! A yard and its events.

use event::*;
use jiff::Timestamp;
use quantity::{Volume, gallons};
use site::Yard;
use uuid::Uuid;
use yard::stock::Books;

pub(crate) fn yard() -> Yard {
    site::yard_file::read_yard(include_str!("../../../../examples/alder_fork.toml"), "alder_fork.toml")
        .unwrap()
}

pub(crate) fn m3(gal: f64) -> f64 {
    quantity::in_cubic_metres(gallons(gal))
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

pub(crate) fn load(tank: &str, gal: f64) -> Body {
    Body::LoadOut(LoadOut {
        tank: tank.into(),
        truck: "T1".into(),
        route: None,
        volume_m3: m3(gal),
        temp_c: None,
        ..LoadOut::default()
    })
}

pub(crate) fn fold(bodies: &[Body]) -> Books {
    let events: Vec<Recorded> =
        bodies.iter().enumerate().map(|(n, body)| recorded(n as u64 + 1, body.clone())).collect();
    Books::fold(&yard(), &events)
}

pub(crate) fn volume(books: &Books, tank: &str) -> Volume {
    books.tank(tank).unwrap().volume(&yard())
}
