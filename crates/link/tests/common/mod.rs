//! Machines and points for the tests, and waiting for something to become true.

#![allow(dead_code, reason = "each test uses some of it")]

use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use link::{Live, Patience};
use quantity::hours;
use site::points::{At, Form, Machine, Point, PointUnit, Protocol, Table};

pub const QUICK: Patience = Patience {
    answer: Duration::from_millis(150),
    first_wait: Duration::from_millis(20),
    longest_wait: Duration::from_millis(200),
};

pub type Kept = Arc<Mutex<Vec<(usize, f64)>>>;

pub fn machine(address: String, protocol: Protocol) -> Machine {
    Machine { id: "plant".into(), name: "Plant".into(), address, protocol, every: hours(0.02 / 3600.0) }
}

pub fn modbus() -> Protocol {
    Protocol::Modbus { unit: 1, base: 0 }
}

pub fn register(id: &str, table: Table, number: u16, form: Form) -> Point {
    let at = At::Register { table, number, form, low_first: false };
    point(id, at)
}

pub fn topic(id: &str, topic: &str, pointer: Option<&str>) -> Point {
    point(id, At::Topic { topic: topic.into(), pointer: pointer.map(str::to_string) })
}

fn point(id: &str, at: At) -> Point {
    Point {
        id: id.into(),
        name: id.into(),
        machine: 0,
        at,
        scale: 1.0,
        offset: 0.0,
        unit: PointUnit::Plain,
        age_limit: hours(0.4 / 3600.0),
        shows: None,
        tank: None,
        road: None,
    }
}

pub fn live(machine: Machine, points: Vec<Point>) -> (Arc<Live>, Kept) {
    let kept: Kept = Arc::default();
    let keeps = Arc::clone(&kept);
    let live = Live::new(
        vec![machine],
        points,
        Arc::new(Timestamp::now),
        Arc::new(move |values| {
            let mut kept = keeps.lock().expect("whole");
            kept.extend(values.iter().map(|(point, _, value)| (*point, *value)));
        }),
    );
    (Arc::new(live), kept)
}

/// Waits until something holds, and fails after so long.
pub async fn until(what: &str, within: Duration, mut holds: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !holds() {
        assert!(begun.elapsed() < within, "{what}: not within {within:?}");
        tokio::time::sleep(Duration::from_millis(5)).await;
    }
}

pub fn value(live: &Live, point: usize) -> Option<f64> {
    live.shown(point).filter(|shown| shown.quality.is_good()).and_then(|shown| shown.value)
}
