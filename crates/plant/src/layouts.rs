//! The three shipped layouts: invented plants sized by round figures, none of them a machine on the market.

use chemistry::MassFraction;
use quantity::{Time, VolumeRate, celsius, gallons, kelvins, kilograms, metres, minutes};

use crate::layout::{
    Control, Dissolving, End, Feeder, Grain, Layout, Line, LineKind, SIZES, Sensed, Sensor, Store, Supply,
    Vessel, Way,
};

/// Grains of road salt: three sizes in the middle of ASTM D632's grading band for rock salt (as quoted in a town's bid:
/// 20 to 90 % passes 4.75 mm, 10 to 60 % passes 2.36 mm, up to 15 % passes 0.6 mm).
const SIZES_METRES: [(f64, f64); SIZES] = [(0.0066, 0.45), (0.0034, 0.30), (0.0013, 0.25)];
/// Speed past grains stirred by a jet, m/s, and the share of their surface reached: wide priors, no published source.
const STIRRED: (f64, f64) = (0.05, 0.6);

fn per_minute(gal: f64) -> VolumeRate {
    gallons(gal) / minutes(1.0)
}

fn seconds(value: f64) -> Time {
    minutes(value / 60.0)
}

fn fraction(value: f64) -> MassFraction {
    MassFraction::from_fraction(value).unwrap_or(MassFraction::ZERO)
}

fn common(
    name: &str,
    vessels: Vec<Vessel>,
    lines: Vec<Line>,
    feeder: Feeder,
    sensors: Vec<Sensor>,
    way: Way,
) -> Layout {
    Layout {
        name: name.into(),
        vessels,
        lines,
        stores: vec![Store { id: "hopper".into() }],
        feeders: vec![feeder],
        supply: Supply { temperature: celsius(8.0), air: celsius(2.0) },
        salt: Grain {
            purity: fraction(0.96),
            moisture: fraction(0.015),
            sizes: SIZES_METRES.map(|(d, share)| (metres(d), share)),
            temperature: celsius(2.0),
        },
        sensors,
        control: Control { period: seconds(30.0), target: fraction(0.233), band: 0.005, panel: 0, way },
    }
}

fn vessel(id: &str, gal: f64, loss: f64, dissolving: Option<Dissolving>) -> Vessel {
    let volume = gallons(gal);
    Vessel { id: id.into(), volume, loss_watts_per_kelvin: loss, dissolving, sludge_room: volume * 0.1 }
}

fn line(id: &str, from: End, to: End, kind: LineKind) -> Line {
    Line { id: id.into(), from, to, kind }
}

fn feeder(to: usize, kg_per_minute: f64) -> Feeder {
    Feeder { id: "feeder".into(), from: 0, to, rate: kilograms(kg_per_minute) / minutes(1.0) }
}

fn sensors(panel_at: usize, level_at: usize, flow_in: usize) -> Vec<Sensor> {
    let sensor =
        |id: &str, of: Sensed, lag: f64, noise: f64| Sensor { id: id.into(), of, lag: seconds(lag), noise };
    vec![
        sensor("panel", Sensed::Strength { vessel: panel_at, probe: kelvins(0.0) }, 20.0, 0.05),
        sensor("temperature", Sensed::Temperature { vessel: panel_at }, 30.0, 0.05),
        sensor("level", Sensed::Level { vessel: level_at }, 5.0, 0.002),
        sensor("water meter", Sensed::Flow { line: flow_in }, 5.0, 2e-6),
    ]
}

fn with_circulation(mut sensors: Vec<Sensor>) -> Vec<Sensor> {
    let of = Sensed::Flow { line: 1 };
    sensors.push(Sensor { id: "circulation meter".into(), of, lag: seconds(5.0), noise: 1e-4 });
    sensors
}

fn with_gauge(mut sensors: Vec<Sensor>) -> Vec<Sensor> {
    sensors.push(Sensor {
        id: "bed gauge".into(),
        of: Sensed::Bed { vessel: 0 },
        lag: seconds(10.0),
        noise: 20.0,
    });
    sensors
}

/// A round tank stirred by a jet: filled, salted, stirred, settled, let out, again.
pub fn batch() -> Layout {
    let stirred = Dissolving::Stirred { speed: STIRRED.0, by: 1, reached: STIRRED.1 };
    let tank = End::Vessel(0);
    common(
        "batch",
        vec![vessel("mixing tank", 1600.0, 40.0, Some(stirred))],
        vec![
            line("water", End::Supply, tank, LineKind::Valve(per_minute(60.0))),
            line("circulation", tank, tank, LineKind::Pump(per_minute(150.0))),
            line("outlet", tank, End::Out, LineKind::Pump(per_minute(120.0))),
        ],
        feeder(0, 60.0),
        with_circulation(sensors(0, 0, 0)),
        Way::Batch {
            vessel: 0,
            water: 0,
            stir: 1,
            outlet: 2,
            feeder: 0,
            fill: (0.8, 0.12),
            settle: minutes(20.0),
        },
    )
}

/// A vessel fed and drawn all the time, with a settling tank it runs over into.
pub fn fed() -> Layout {
    let stirred = Dissolving::Stirred { speed: 2.0 * STIRRED.0, by: 1, reached: 1.4 * STIRRED.1 };
    let tank = End::Vessel(0);
    common(
        "fed",
        vec![vessel("dissolver", 900.0, 30.0, Some(stirred)), vessel("settling tank", 700.0, 25.0, None)],
        vec![
            line("water", End::Supply, tank, LineKind::Valve(per_minute(50.0))),
            line("circulation", tank, tank, LineKind::Pump(per_minute(200.0))),
            line("to settling", tank, End::Vessel(1), LineKind::Pump(per_minute(60.0))),
            line(
                "overflow",
                End::Vessel(1),
                End::Out,
                LineKind::Overflow { above: 0.8, within: seconds(60.0) },
            ),
        ],
        feeder(0, 45.0),
        with_circulation(sensors(0, 0, 0)),
        Way::Fed { vessel: 0, water: 0, stir: 1, outlet: 2, feeder: 0, level: 0.75 },
    )
}

/// Water rises through a bed of salt, runs over nearly saturated into a pot, and is thinned there to strength.
pub fn upflow() -> Layout {
    let bed = Dissolving::Bed { cross_section: 2.4, reached: 0.9 };
    common(
        "upflow",
        vec![
            vessel("bed", 1900.0, 45.0, Some(bed)),
            vessel("pot", 160.0, 8.0, None),
            vessel("holding", 800.0, 25.0, None),
        ],
        vec![
            line("water", End::Supply, End::Vessel(0), LineKind::Valve(per_minute(16.0))),
            line(
                "run-over",
                End::Vessel(0),
                End::Vessel(1),
                LineKind::Overflow { above: 0.8, within: seconds(45.0) },
            ),
            line("thinning", End::Supply, End::Vessel(1), LineKind::Valve(per_minute(15.0))),
            line(
                "to holding",
                End::Vessel(1),
                End::Vessel(2),
                LineKind::Overflow { above: 0.7, within: seconds(30.0) },
            ),
            line(
                "outlet",
                End::Vessel(2),
                End::Out,
                LineKind::Overflow { above: 0.8, within: seconds(60.0) },
            ),
        ],
        feeder(0, 120.0),
        with_gauge(sensors(1, 2, 0)),
        Way::Upflow { bed: 0, water: 0, thin: 2, outlet: 4, feeder: 0, salt_kg: 6000.0 },
    )
}

/// All of them.
pub fn all() -> [Layout; 3] {
    [batch(), fed(), upflow()]
}
