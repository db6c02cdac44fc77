//! Water, salt, insolubles and heat balance in every layout, whatever commands and faults it gets.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::sync::Arc;

use plant::fault::{Fault, Onset};
use plant::layout::{Layout, LineKind};
use plant::layouts;
use plant::model::{Amounts, Commands, Plant, Start};
use plant::properties::Properties;
use proptest::prelude::*;

fn plant(layout: &Layout, properties: &Arc<Properties>, seed: u64) -> Plant {
    let mut start = Start::empty(layout, 8000.0);
    start.seed = seed;
    if layout.name == "upflow" {
        start.in_vessels_kg[0] = 6000.0;
    }
    Plant::new(layout.clone(), Arc::clone(properties), &start).unwrap()
}

/// Checks that balances close to 1e-9 of the turnover. Heat is compared with what warms that water by a kelvin too,
/// since its zero at 25 °C is arbitrary.
fn closes(plant: &Plant) {
    let (off, all): (Amounts, Amounts) = (plant.imbalance(), plant.turned_over());
    let heat = all.heat.abs().max(4186.0 * all.water);
    for (name, off, all) in [
        ("water", off.water, all.water),
        ("salt", off.salt, all.salt),
        ("insolubles", off.insolubles, all.insolubles),
        ("heat", off.heat, heat),
    ] {
        assert!(off.abs() <= 1e-9 * all, "{} of {}: {off:e} of {all:e}", name, plant.layout().name);
    }
}

#[test]
fn a_day_of_every_layout_closes() {
    let properties = Arc::new(Properties::new().unwrap());
    for layout in layouts::all() {
        let mut plant = plant(&layout, &properties, 7);
        for _ in 0..48 {
            plant.advance(900.0).unwrap();
            closes(&plant);
        }
        assert!(plant.made().salt > 500.0, "{} made brine", layout.name);
        assert!((plant.seconds() - 43_200.0).abs() < 1e-6);
    }
}

/// The same seed gives the same run, to the last bit; a copy continues like its original.
#[test]
fn runs_can_be_repeated() {
    let properties = Arc::new(Properties::new().unwrap());
    for layout in layouts::all() {
        let (mut one, mut other) = (plant(&layout, &properties, 3), plant(&layout, &properties, 3));
        one.advance(3600.0).unwrap();
        other.advance(3600.0).unwrap();
        assert_eq!(format!("{:?}", one.holds(0)), format!("{:?}", other.holds(0)));
        let mut copy = one.clone();
        one.advance(1800.0).unwrap();
        copy.advance(1800.0).unwrap();
        assert_eq!(format!("{:?}", one.sensors()), format!("{:?}", copy.sensors()));
    }
}

fn any_fault(layout: &Layout) -> impl Strategy<Value = Fault> + use<> {
    let (lines, vessels, sensors) = (layout.lines.len(), layout.vessels.len(), layout.sensors.len());
    prop_oneof![
        (0..lines).prop_map(|line| Fault::Unprimed { line }),
        Just(Fault::Bridging { feeder: 0 }),
        (1.0..3.0).prop_map(|factor| Fault::TooOpen { feeder: 0, factor }),
        (0.0..1.0).prop_map(|share| Fault::TooClosed { feeder: 0, share }),
        Just(Fault::SaltOut { store: 0 }),
        (0..vessels).prop_map(|vessel| Fault::SludgeFull { vessel }),
        (0..vessels, 0.05..1.0).prop_map(|(vessel, share)| Fault::Channelled { vessel, share }),
        (0.0..8.0).prop_map(|colder| Fault::ColdSupply { colder }),
        (0.0..1.0).prop_map(|share| Fault::WeakSupply { share }),
        (0..lines, 0.0..1.0).prop_map(|(line, at)| Fault::Stuck { line, at }),
        (0..vessels, 0.0..1e-3).prop_map(|(vessel, flow)| Fault::LeakingFill { vessel, flow }),
        (0..sensors, 0.5..1.0).prop_map(|(sensor, share)| Fault::FouledCell { sensor, share }),
        (0..sensors).prop_map(|sensor| Fault::UncoveredCell { sensor }),
        (0.9..1.1).prop_map(|factor| Fault::DriftedTrim { factor }),
        (0..sensors, 0.8..1.2).prop_map(|(sensor, factor)| Fault::MeterDrift { sensor, factor }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// With any commands and faults balances close, nothing is negative, and no brine is stronger than brine can be.
    #[test]
    fn balances_close_with_any_commands_and_faults(
        which in 0..3usize,
        seed in any::<u64>(),
        acts in prop::collection::vec(
            (prop::collection::vec(0.0..1.0f64, 8), 60.0..1500.0f64, prop::bool::ANY),
            1..8,
        ),
        faults in prop::collection::vec((0.0..6000.0f64, any_fault(&layouts::all()[1])), 0..4),
    ) {
        let properties = Arc::new(Properties::new().unwrap());
        let layout = layouts::all()[which].clone();
        let mut plant = plant(&layout, &properties, seed);
        for (seconds, fault) in faults {
            let fits = match fault {
                Fault::Unprimed { line } | Fault::Stuck { line, .. } => line < layout.lines.len(),
                Fault::SludgeFull { vessel } | Fault::Channelled { vessel, .. } | Fault::LeakingFill { vessel, .. } => {
                    vessel < layout.vessels.len()
                }
                _ => true,
            };
            if fits {
                plant.begin(Onset { seconds, fault });
            }
        }
        for (told, seconds, by_hand) in acts {
            plant.by_hand(by_hand);
            if by_hand {
                let mut lines = told.clone();
                lines.truncate(layout.lines.len());
                for (one, line) in lines.iter_mut().zip(&layout.lines) {
                    if matches!(line.kind, LineKind::Overflow { .. }) {
                        *one = 1.0;
                    }
                }
                plant.tell(Commands { lines, feeders: vec![told[7]] });
            } else {
                plant.dump(0, 50.0 + 500.0 * told[6]).unwrap();
            }
            plant.advance(seconds).unwrap();
            closes(&plant);
            for vessel in 0..layout.vessels.len() {
                let holds = plant.holds(vessel);
                prop_assert!((0.0..0.27).contains(&holds.strength), "{holds:?}");
                prop_assert!((-20.0..45.0).contains(&holds.degrees), "{holds:?}");
                prop_assert!(0.0 <= holds.level && holds.level < 1.2, "{holds:?}");
                prop_assert!(-1.0 < holds.undissolved_kg && 0.0 <= holds.sludge_kg, "{holds:?}");
            }
        }
    }
}
