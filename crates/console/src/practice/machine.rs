//! The practice plant as a machine that is read like any other: its address and its points.

use std::net::SocketAddr;

use quantity::{Time, hours};
use site::points::{At, Form, Machine, Point, PointUnit, Protocol, Table};

pub(super) fn practice_machine(address: SocketAddr) -> Machine {
    Machine {
        id: "practice".into(),
        name: "Practice plant".into(),
        address: address.to_string(),
        protocol: Protocol::Modbus { unit: 1, base: 0 },
        every: seconds(1.0),
    }
}

fn seconds(value: f64) -> Time {
    hours(value / 3600.0)
}

/// The points of the practice plant, as its server has them in order.
pub(super) fn practice_points(layout: &plant::layout::Layout) -> Vec<Point> {
    use plant::layout::Sensed;
    let sensors = layout.sensors.iter().map(|sensor| {
        let unit = match sensor.of {
            Sensed::Strength { .. } => PointUnit::Percent,
            Sensed::Temperature { .. } => PointUnit::Celsius,
            Sensed::Bed { .. } => PointUnit::Kilograms,
            Sensed::Level { .. } => PointUnit::Share,
            // Cubic metres a second, as the model has it.
            Sensed::Flow { .. } => PointUnit::CubicMetresPerHour,
        };
        (sensor.id.clone(), unit)
    });
    let share = |id: &String| (id.clone(), PointUnit::Share);
    let lines = layout.lines.iter().map(|line| share(&line.id));
    let feeders = layout.feeders.iter().map(|feeder| share(&feeder.id));
    (0..)
        .zip(sensors.chain(lines).chain(feeders))
        .map(|(place, (id, unit))| Point {
            name: id.clone(),
            shows: Some(id.clone()),
            tank: None,
            road: None,
            id,
            machine: 0,
            at: At::Register { table: Table::Input, number: 2 * place, form: Form::F32, low_first: false },
            // The server speaks in the units things are kept in.
            scale: if unit == PointUnit::CubicMetresPerHour { 3600.0 } else { 1.0 },
            offset: 0.0,
            unit,
            age_limit: seconds(10.0),
        })
        .collect()
}
