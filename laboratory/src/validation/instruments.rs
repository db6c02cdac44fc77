//! The bench's instruments: print read as an instrument would have shown it, and turned into strength.

use bench::instrument::{HydrometerScale, RefractometerScale, Scale};
use bench::measure::{Instrument, Sample, measure};
use bench::solute::Solute;
use chemistry::Salt;
use quantity::{celsius, kelvins};

use super::table::{Data, Table, note, number, part, point, text};

/// Sources of print, by file.
const DENSITIES: [&str; 5] = ["crc", "rogers", "ppb84", "etb", "wnt"];
const CONDUCTIVITIES: [&str; 3] = ["crc_k", "kohlrausch", "handbook_sat"];
/// Weaker brine than this is the last digit of the print.
const WEAKEST_PERCENT: f64 = 0.2;

const PARTS: [(&str, f64); 7] = [
    ("hydrometer, 10 to 35 °C", 0.10),
    ("hydrometer, elsewhere", 0.20),
    ("density meter, 10 to 35 °C", 0.10),
    ("density meter, elsewhere", 0.20),
    ("refractive index, 20 °C", 0.12),
    ("conductivity, 20 °C", 1.0),
    ("conductivity, elsewhere", 3.5),
];

pub(super) fn table(mut load: impl FnMut(&str) -> Result<Data, String>) -> Result<Table, String> {
    let index = Scale::Refractometer { scale: RefractometerScale::Index, compensated: false };
    let cell = Scale::Conductivity { compensation: None, cell_factor: 1.0 };
    let floating = Scale::Hydrometer(HydrometerScale::Relative60);
    let files = [
        ("hydrometer.csv", "reading", floating, 0, &["hydrometer"][..]),
        ("density.csv", "density_kg_m3", Scale::DensityMeter, 2, &DENSITIES[..]),
        ("refractive_index.csv", "n_d", index, 4, &["crc"][..]),
        ("conductivity.csv", "ms_per_cm", cell, 5, &CONDUCTIVITIES[..]),
    ];
    let mut points = Vec::new();
    for (file, column, scale, place, sources) in files {
        for row in &load(file)?.rows {
            let is_salt = text(row, "salt").map_or(true, |salt| salt == "NaCl");
            let (percent, t) = (number(row, "wt_pct")?, number(row, "temp_c")?);
            if !is_salt || percent < WEAKEST_PERCENT || !sources.contains(&text(row, "source")?) {
                continue;
            }
            let found = strength(scale.clone(), number(row, column)?, t)?;
            let at_best = match scale {
                Scale::Conductivity { .. } => (t - 20.0).abs() < 0.5,
                _ => (10.0..=35.0).contains(&t),
            };
            let place = place + usize::from(!at_best);
            points.push(point(row, place, vec![percent, t], found - percent)?);
        }
    }
    Ok(Table {
        title: "Strength read with the bench's instruments",
        about: "Errors in per cent by mass; tolerances are what the bench states at least for the equation alone, 95 %. Print is \
                read as an instrument without fault would have shown it."
            .into(),
        unit: "% by mass",
        decimals: 3,
        axes: &[" %", " °C"],
        parts: PARTS.map(|(name, tolerance)| part(name, tolerance)).into(),
        points,
        notes: vec![note("hydrometer", "Not print: Laliberté's densities and 25e-6 /K for the glass.")],
    })
}

fn strength(scale: Scale, reading: f64, temp_celsius: f64) -> Result<f64, String> {
    let instrument = Instrument { scale, resolution: 0.0, calibration: 0.0, repeatability: 0.0 };
    let sample = Sample {
        solute: Solute::of(Salt::SodiumChloride),
        readings: vec![reading],
        temperature: Some(celsius(temp_celsius)),
        temperature_half_width: kelvins(0.0),
    };
    let found = measure(&instrument, &sample).map_err(|e| format!("{reading} at {temp_celsius} °C: {e}"))?;
    Ok(found.brine.strength().percent())
}
