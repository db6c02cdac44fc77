//! A small yard and its ledger, event by event.

use accounts::Period;
use event::*;
use jiff::{SignedDuration, Timestamp};
use quantity::*;
use site::Yard;
use uuid::Uuid;

pub(crate) const FILE: &str = include_str!("../../../../examples/alder_fork.toml");

pub(crate) fn yard() -> Yard {
    site::yard_file::read_yard(FILE, "alder_fork.toml").unwrap()
}

pub(crate) fn m3(gal: f64) -> f64 {
    in_cubic_metres(gallons(gal))
}

pub(crate) fn at(hours: f64) -> Timestamp {
    "2012-12-01T12:00:00Z".parse::<Timestamp>().unwrap() + SignedDuration::from_secs_f64(3600.0 * hours)
}

/// A ledger of events so many hours into December 2012, recorded as they happen.
#[derive(Default)]
pub(crate) struct Season(pub(crate) Vec<Recorded>);

impl Season {
    pub(crate) fn add(&mut self, hours: f64, body: Body) -> EventId {
        self.late(hours, hours, body)
    }

    pub(crate) fn late(&mut self, hours: f64, recorded: f64, body: Body) -> EventId {
        let seq = self.0.len() as u64 + 1;
        let id = EventId(Uuid::from_u128(u128::from(seq)));
        let (author, device) = ("Pat".into(), "test".into());
        let event = Event { id, occurred_at: at(hours), author, device, body };
        self.0.push(Recorded { seq, recorded_at: at(recorded), event });
        id
    }
}

pub(crate) fn made(tank: &str, gal: f64, pct: f64) -> Body {
    let (tank, volume_m3, strength_pct) = (tank.into(), m3(gal), pct);
    Body::MakingRun(MakingRun {
        tank,
        volume_m3,
        strength_pct,
        duration_h: Some(1.0),
        ..MakingRun::default()
    })
}

pub(crate) fn load(tank: &str, truck: &str, route: Option<&str>, gal: f64) -> Body {
    let (tank, truck, route) = (tank.into(), truck.into(), route.map(str::to_owned));
    Body::LoadOut(LoadOut { tank, truck, route, volume_m3: m3(gal), ..LoadOut::default() })
}

pub(crate) fn back(tank: &str, truck: &str, gal: f64) -> Body {
    let (tank, truck, volume_m3) = (tank.into(), truck.into(), m3(gal));
    Body::ReturnToTank(ReturnToTank { tank, truck, volume_m3, ..ReturnToTank::default() })
}

pub(crate) fn spread(route: &str, truck: Option<&str>, gal: f64, salt_lb: f64) -> Body {
    let some = |figure: f64| (figure > 0.0).then_some(figure);
    Body::Application(Application {
        route: route.into(),
        truck: truck.map(str::to_owned),
        volume_m3: some(m3(gal)),
        salt_kg: some(in_kilograms(pounds(salt_lb))),
        ..Application::default()
    })
}

pub(crate) fn delivery(tons: f64, usd: f64) -> Body {
    let mass_kg = in_kilograms(short_tons(tons));
    Body::SaltDelivery(SaltDelivery { mass_kg, price_usd: Some(usd), ..SaltDelivery::default() })
}

pub(crate) fn reading(tank: &str, pct: f64, within: f64) -> Body {
    let (tank, strength_pct, uncertainty_pct) = (tank.into(), pct, Some(within));
    Body::Reading(Reading { tank: Some(tank), strength_pct, uncertainty_pct, ..Reading::default() })
}

pub(crate) fn whole() -> Period {
    Period { from: at(-1.0), until: at(100_000.0) }
}

pub(crate) fn gal_of(content: &yard::stock::Content, yard: &Yard) -> f64 {
    in_gallons(content.volume(yard, None))
}

pub(crate) fn is(found: f64, expected: f64, share: f64) -> bool {
    (found / expected - 1.0).abs() <= share
}

/// A small season: two tanks, two trucks, a return, an issue, a spill.
pub(crate) fn small() -> Season {
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
