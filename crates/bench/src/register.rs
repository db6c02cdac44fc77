//! Instruments by the name of their scale, with default accuracy for one that has not been checked.

use quantity::{ThermodynamicTemperature, fahrenheit, kelvins};

use crate::instrument::{HydrometerScale, RefractometerScale, Scale};
use crate::measure::{Instrument, Sample, measure};
use crate::solute::Solute;

/// Every scale by the name it is registered under.
pub const NAMES: [&str; 14] = [
    "brix",
    "refractive_index",
    "nacl_pct",
    "freezing_c",
    "seawater_permille",
    "sg_60_60",
    "sg_20_20",
    "sg_20_4",
    "baume",
    "salometer",
    "salometer_38",
    "conductivity",
    "density",
    "cup",
];

/// The name of a refractometer's scale that comes with a table of its own ([`crate::instrument::Printed`]).
pub const PRINTED: &str = "printed";

/// Every name an instrument may be registered under: [`NAMES`] and [`PRINTED`].
pub fn registered() -> Vec<&'static str> {
    NAMES.into_iter().chain([PRINTED]).collect()
}

/// Volume of the cup when nothing else is said, mL.
const CUP_MILLILITRES: f64 = 250.0;
/// How far from the target, per cent by mass, a strength may be to count as what was meant. Program default.
const MEANT: f64 = 1.0;

/// The scale of a name. A refractometer is taken without temperature compensation, a conductivity cell as bare, a cup
/// as a quarter of a liter.
pub fn scale(name: &str) -> Option<Scale> {
    let refractometer = |scale| Scale::Refractometer { scale, compensated: false };
    let salometer_38 = HydrometerScale::Salometer {
        full_percent: chemistry::salometer::SATURATION_PERCENT,
        made_for: fahrenheit(38.0),
    };
    Some(match name {
        "brix" => refractometer(RefractometerScale::Brix),
        "refractive_index" => refractometer(RefractometerScale::Index),
        "nacl_pct" => refractometer(RefractometerScale::SodiumChloride),
        "freezing_c" => refractometer(RefractometerScale::FreezingPoint),
        "seawater_permille" => refractometer(RefractometerScale::Seawater),
        "sg_60_60" => Scale::Hydrometer(HydrometerScale::Relative60),
        "sg_20_20" => Scale::Hydrometer(HydrometerScale::Relative20),
        "sg_20_4" => Scale::Hydrometer(HydrometerScale::Relative20To4),
        "baume" => Scale::Hydrometer(HydrometerScale::Baume),
        "salometer" => Scale::Hydrometer(HydrometerScale::salometer()),
        "salometer_38" => Scale::Hydrometer(salometer_38),
        "conductivity" => Scale::Conductivity { compensation: None, cell_factor: 1.0 },
        "density" => Scale::DensityMeter,
        "cup" => Scale::Cup { millilitres: CUP_MILLILITRES },
        _ => return None,
    })
}

/// Default accuracy of an instrument by its scale, until its own is known: resolution, standard uncertainty of its last
/// check and standard deviation of one reading, in the unit of the scale. Common practice; no published source.
pub fn usual(scale: Scale) -> Instrument {
    let (resolution, calibration, repeatability) = match &scale {
        Scale::Refractometer { scale, .. } => match scale {
            RefractometerScale::Index => (0.0005, 0.0002, 0.0001),
            RefractometerScale::Brix | RefractometerScale::SodiumChloride => (0.2, 0.1, 0.08),
            RefractometerScale::FreezingPoint => (1.0, 0.5, 0.3),
            RefractometerScale::Seawater => (1.0, 0.5, 0.4),
            RefractometerScale::Printed(_) => (0.5, 0.25, 0.2),
        },
        Scale::Hydrometer(scale) => match scale {
            HydrometerScale::Baume => (0.1, 0.06, 0.05),
            HydrometerScale::Salometer { .. } => (0.5, 0.25, 0.2),
            _ => (0.001, 0.0005, 0.0004),
        },
        Scale::Conductivity { .. } => (0.1, 2.0, 0.5),
        Scale::DensityMeter => (0.1, 0.5, 0.2),
        // The volume is the weak point: one part in a thousand.
        Scale::Cup { millilitres } => (0.1, 0.001 * *millilitres, 0.000_5 * *millilitres),
    };
    Instrument { scale, resolution, calibration, repeatability }
}

/// Other scales on which a questionable reading, in the unit of `on`, would give about the target strength,
/// `target_percent` in per cent by mass.
pub fn likely_scales(
    reading: f64,
    on: &Scale,
    solute: &Solute,
    temperature: Option<ThermodynamicTemperature>,
    target_percent: f64,
) -> Vec<&'static str> {
    let is_meant = |other: Scale| {
        let sample = Sample {
            solute: solute.clone(),
            readings: vec![reading],
            temperature,
            temperature_half_width: kelvins(0.0),
        };
        measure(&usual(other), &sample)
            .is_ok_and(|found| (found.brine.strength().percent() - target_percent).abs() <= MEANT)
    };
    NAMES
        .into_iter()
        .filter(|name| scale(name).is_some_and(|other| !same_kind(&other, on) && is_meant(other)))
        .collect()
}

/// Whether two scales are engraved alike, compensation and cup apart.
fn same_kind(one: &Scale, other: &Scale) -> bool {
    match (one, other) {
        (Scale::Refractometer { scale: one, .. }, Scale::Refractometer { scale: other, .. }) => one == other,
        (Scale::Conductivity { .. }, Scale::Conductivity { .. }) | (Scale::Cup { .. }, Scale::Cup { .. }) => {
            true
        }
        _ => one == other,
    }
}
