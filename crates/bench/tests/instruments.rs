//! Readings to strength against published tables, against the readings worked out when the project's data were
//! gathered, and against the limits the project sets itself. The tables are those kept with the chemistry they
//! also check.

use std::collections::BTreeMap;
use std::path::Path;

use bench::Error;
use bench::instrument::{Compensation, HydrometerScale, Printed, RefractometerScale, Scale};
use bench::measure::{Instrument, Measured, Sample, measure};
use bench::solute::Solute;
use chemistry::{Brine, MassFraction, Salt};
use proptest::prelude::*;
use quantity::{celsius, fahrenheit, kelvins};

/// One row of a table, by column.
type Row = BTreeMap<String, String>;

fn rows(file: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../chemistry/tests/data").join(file);
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(path).expect("a table");
    reader.deserialize().collect::<Result<_, _>>().expect("rows of cells")
}

fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|_| panic!("{column} in {row:?}"))
}

fn of(row: &Row, salt: &str, sources: &[&str]) -> bool {
    row["salt"] == salt && sources.contains(&row["source"].as_str())
}

const HYDROMETER: Scale = Scale::Hydrometer(HydrometerScale::Relative60);
const INDEX: Scale = Scale::Refractometer { scale: RefractometerScale::Index, compensated: false };
const BRIX: Scale = Scale::Refractometer { scale: RefractometerScale::Brix, compensated: false };
const BARE_CELL: Scale = Scale::Conductivity { compensation: None, cell_factor: 1.0 };

/// An instrument without a fault of its own: what is left is the equation's.
fn perfect(scale: Scale) -> Instrument {
    Instrument { scale, resolution: 0.0, calibration: 0.0, repeatability: 0.0 }
}

fn read(scale: Scale, solute: Solute, reading: f64, temp_celsius: f64) -> Result<Measured, Error> {
    let temperature = Some(celsius(temp_celsius));
    let sample =
        Sample { solute, readings: vec![reading], temperature, temperature_half_width: kelvins(0.0) };
    measure(&perfect(scale), &sample)
}

fn salt(scale: Scale, reading: f64, temp_celsius: f64) -> Measured {
    read(scale.clone(), Solute::of(Salt::SodiumChloride), reading, temp_celsius)
        .unwrap_or_else(|error| panic!("{scale:?} {reading} at {temp_celsius} °C: {error}"))
}

/// What an error of density may be, per cent by mass: the project's own limits.
fn density_limit(temp_celsius: f64) -> f64 {
    if (10.0..=35.0).contains(&temp_celsius) { 0.10 } else { 0.20 }
}

fn holds(found: &Measured, percent: f64, limit: f64, row: &dyn std::fmt::Debug) {
    let error = (found.brine.strength().percent() - percent).abs();
    assert!(error <= limit, "off by {error} of {limit} in {row:?}");
    assert!(limit <= found.expanded.half_width + 1e-9, "states {:?} in {row:?}", found.expanded);
}

/// A 60/60 °F hydrometer's readings at nine temperatures, and what they look like when nobody corrects.
#[test]
fn hydrometer_readings() {
    for row in rows("hydrometer.csv") {
        let (percent, t) = (number(&row, "wt_pct"), number(&row, "temp_c"));
        holds(&salt(HYDROMETER, number(&row, "reading"), t), percent, density_limit(t), &row);
        let apparent = number(&row, "apparent_wt_pct");
        // Above it the reading is no brine's at all.
        if apparent > 26.6 {
            continue;
        }
        let uncorrected = salt(HYDROMETER, number(&row, "reading"), 15.556).brine.strength().percent();
        assert!((uncorrected - apparent).abs() <= 0.06, "{uncorrected} for {apparent} in {row:?}");
    }
}

/// Printed densities (CRC, Rogers & Pitzer and others), read as a density meter and as a cup would.
#[test]
fn density_meter_and_cup() {
    let printed = ["crc", "rogers", "ppb84", "etb", "wnt"];
    let mut held = 0;
    for row in rows("density.csv").iter().filter(|row| of(row, "NaCl", &printed)) {
        let (percent, t, rho) = (number(row, "wt_pct"), number(row, "temp_c"), number(row, "density_kg_m3"));
        // Off the data of the equation itself, or weaker than water by its last digit.
        if percent < 0.2 {
            continue;
        }
        holds(&salt(Scale::DensityMeter, rho, t), percent, density_limit(t), row);
        holds(&salt(Scale::Cup { millilitres: 250.0 }, rho * 0.25, t), percent, density_limit(t), row);
        held += 1;
    }
    assert!(held > 80, "{held} rows");
}

/// Printed refractive indices at 20 °C (CRC), and the sugar scale's reading of good brine: 26.2.
#[test]
fn refractometer() {
    for row in rows("refractive_index.csv").iter().filter(|row| of(row, "NaCl", &["crc"])) {
        holds(&salt(INDEX, number(row, "n_d"), 20.0), number(row, "wt_pct"), 0.12, row);
    }
    assert!((salt(BRIX, 26.23, 20.0).brine.strength().percent() - 23.3).abs() < 0.12);
    let own = Scale::Refractometer { scale: RefractometerScale::SodiumChloride, compensated: false };
    assert!((salt(own, 23.3, 20.0).brine.strength().percent() - 23.3).abs() < 0.005);
    // A raw sugar scale reads cold brine high; what compensation is made for sugar leaves of that is less.
    let shown = |compensated, t| {
        let scale = Scale::Refractometer { scale: RefractometerScale::Brix, compensated };
        scale.shows(&brine(23.3), celsius(t)).expect("within the scale")
    };
    assert!(shown(false, 10.0) - shown(false, 20.0) > 0.8);
    assert!((0.0..0.5).contains(&(shown(true, 10.0) - shown(true, 20.0))));
}

/// Printed conductivities: CRC at 20 °C (NaCl line from memory), saturated brine at 0…35 °C.
#[test]
fn conductivity() {
    for row in rows("conductivity.csv")
        .iter()
        .filter(|row| of(row, "NaCl", &["crc_k", "kohlrausch", "handbook_sat"]))
    {
        let (percent, t, shown) = (number(row, "wt_pct"), number(row, "temp_c"), number(row, "ms_per_cm"));
        let limit = if (t - 20.0).abs() < 0.5 { 1.0 } else { 3.5 };
        holds(&salt(BARE_CELL, shown, t), percent, limit, row);
    }
    // Saturated brine at 0 °C, its conductivity taken to 25 °C by 2 % a kelvin as a panel does: 269 where
    // 251.3 is true.
    let panel = |t: f64| {
        let compensation = Some(Compensation { per_kelvin: 0.02, reference: celsius(25.0) });
        let scale = Scale::Conductivity { compensation, cell_factor: 1.0 };
        scale.shows(&brine(26.28), celsius(t)).expect("within the data")
    };
    assert!((panel(0.0) - 269.0).abs() < 6.0, "{}", panel(0.0));
    assert!((panel(25.0) - 251.3).abs() < 4.0, "{}", panel(25.0));
}

fn brine(percent: f64) -> Brine {
    MassFraction::from_percent(percent).and_then(Brine::sodium_chloride).expect("a brine in range")
}

/// Scale definitions: 23.3 % is 88.27 salometer degrees of 26.395 %; with 100 at 26.5 % or 25 % it is another
/// number, and a salometer for 38 °F reads 23.3 % right at 38 °F. 145 − 145/1.178 is 21.9 °Baumé.
#[test]
fn engraved_scales() {
    let shows = |scale, t| Scale::Hydrometer(scale).shows(&brine(23.3), t).expect("within the scale");
    assert!((shows(HydrometerScale::salometer(), fahrenheit(60.0)) - 88.27).abs() < 0.005);
    for (full_percent, made_for) in [(26.5, 60.0), (25.0, 60.0), (26.395, 38.0)] {
        let made_for = fahrenheit(made_for);
        let scale = HydrometerScale::Salometer { full_percent, made_for };
        assert!((shows(scale, made_for) - 100.0 * 23.3 / full_percent).abs() < 1e-3);
    }
    assert!((shows(HydrometerScale::Baume, fahrenheit(60.0)) - 21.9).abs() < 0.1);
    assert!((shows(HydrometerScale::Relative60, fahrenheit(60.0)) - 1.1782).abs() < 0.0006);
    assert!((shows(HydrometerScale::Relative20To4, celsius(20.0)) - 1.1746).abs() < 0.0006);
    assert!(
        shows(HydrometerScale::Relative20, celsius(20.0))
            > shows(HydrometerScale::Relative20To4, celsius(20.0))
    );
}

/// 3.65 % salt has the index of seawater of 35 ‰ (CRC, 57th ed., as quoted by a public article: 1.3394). Plant
/// brine is far off any seawater scale, and the refusal says so.
#[test]
fn seawater_scale() {
    let scale = Scale::Refractometer { scale: RefractometerScale::Seawater, compensated: false };
    let shown = scale.shows(&brine(3.65), celsius(20.0)).expect("within the scale");
    assert!((shown - 35.0).abs() < 1.0, "{shown}");
    let refused = scale.shows(&brine(23.3), celsius(20.0)).expect_err("off the scale");
    assert!(
        matches!(
            refused,
            Error::Value { what: "bench.quantity.salinity", accepted: "bench.accepted.seawater", .. }
        ),
        "{refused}"
    );
}

#[test]
fn what_cannot_be_read_is_refused() {
    let nacl = || Solute::of(Salt::SodiumChloride);
    assert!(matches!(read(HYDROMETER, nacl(), 1.35, 15.0), Err(Error::OffScale { .. })));
    let far = read(BRIX, nacl(), 45.0, 20.0);
    assert!(matches!(far, Err(Error::OffScale { .. })), "{far:?}");
    assert!(read(BRIX, nacl(), f64::NAN, 20.0).is_err());
    assert!(read(HYDROMETER, nacl(), 1.17, 60.0).is_err());
    assert!(matches!(
        read(BARE_CELL, Solute::of(Salt::MagnesiumChloride), 108.0, 20.0),
        Err(Error::Undetermined { .. })
    ));
    let atc = Scale::Refractometer { scale: RefractometerScale::Brix, compensated: true };
    assert!(matches!(read(atc.clone(), nacl(), 26.2, 5.0), Err(Error::Compensation { .. })));
    let mut sample = Sample {
        solute: nacl(),
        readings: vec![26.2],
        temperature: None,
        temperature_half_width: kelvins(0.0),
    };
    assert!(matches!(measure(&perfect(BRIX), &sample), Err(Error::TemperatureMissing)));
    assert!(measure(&perfect(atc.clone()), &sample).is_ok(), "it compensates by itself");
    sample.readings.clear();
    assert!(matches!(measure(&perfect(atc.clone()), &sample), Err(Error::TooFew { .. })));
    assert!(measure(&Instrument { resolution: -1.0, ..perfect(atc.clone()) }, &sample).is_err());
    assert!(Solute::blend(&[(Salt::SodiumChloride, -1.0)]).is_err());
    assert!(Solute::blend(&[]).is_err());
}

/// A reading that the brine can only give half frozen, or with salt dropped out, is answered and doubted.
#[test]
fn a_sample_that_cannot_be_liquid_is_doubted() {
    let shown = HYDROMETER.shows(&brine(10.0), celsius(-12.0)).expect("density reaches there");
    assert!(salt(HYDROMETER, shown, -12.0).doubt.is_some());
    let shown = HYDROMETER.shows(&brine(26.5), celsius(-8.0)).expect("density reaches there");
    assert!(salt(HYDROMETER, shown, -8.0).doubt.is_some());
    assert!(salt(HYDROMETER, 1.178, 15.556).doubt.is_none());
}

fn any_scale() -> impl Strategy<Value = Scale> {
    let refractometer = |scale, compensated| Scale::Refractometer { scale, compensated };
    let panel = Some(Compensation { per_kelvin: 0.02, reference: celsius(25.0) });
    prop::sample::select(vec![
        INDEX,
        BRIX,
        refractometer(RefractometerScale::Brix, true),
        refractometer(RefractometerScale::SodiumChloride, false),
        HYDROMETER,
        Scale::Hydrometer(HydrometerScale::Relative20),
        Scale::Hydrometer(HydrometerScale::Relative20To4),
        Scale::Hydrometer(HydrometerScale::Baume),
        Scale::Hydrometer(HydrometerScale::salometer()),
        Scale::DensityMeter,
        Scale::Cup { millilitres: 100.0 },
        BARE_CELL,
        Scale::Conductivity { compensation: panel, cell_factor: 1.03 },
    ])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// What an instrument shows is read back as the strength it was shown in, to 0.005 %, with no smaller a
    /// stated interval.
    #[test]
    fn round_trip(scale in any_scale(), percent in 5.0..24.0f64, t in 11.0..29.0f64) {
        let shown = scale.shows(&brine(percent), celsius(t)).expect("within the scale");
        let found = salt(scale, shown, t);
        prop_assert!((found.brine.strength().percent() - percent).abs() < 0.005);
        prop_assert!(0.1 <= found.expanded.half_width);
    }

    /// Blends of known ratio, by density and by refraction.
    #[test]
    fn round_trip_of_blends(
        scale in prop::sample::select(vec![HYDROMETER, INDEX, BRIX, Scale::DensityMeter]),
        percent in 5.0..24.0f64,
        calcium in 0.0..0.5f64,
        magnesium in 0.0..0.5f64,
        t in 0.0..30.0f64,
    ) {
        let parts = [
            (Salt::SodiumChloride, 1.0 - calcium - magnesium + 1e-6),
            (Salt::CalciumChloride, calcium),
            (Salt::MagnesiumChloride, magnesium),
        ];
        let solute = Solute::blend(&parts).expect("parts add up");
        let strength = MassFraction::from_percent(percent).expect("in range");
        let shown = scale.shows(&solute.at(strength).expect("covered"), celsius(t)).expect("within the scale");
        let found = read(scale, solute, shown, t).expect("what was shown can be read");
        prop_assert!((found.brine.strength().percent() - percent).abs() < 0.005);
    }
}

/// A scale that is only known by its own points: freezing points as a handbook has them, read back to strength. CRC
/// Handbook, concentrative properties of sodium chloride: −6.56 °C at 10 %, −16.46 °C at 20 %.
#[test]
fn a_printed_scale_is_read_by_its_points() {
    let points = [(0.0, 0.0), (10.0, 6.56), (20.0, 16.46), (24.0, 20.5)];
    let printed = RefractometerScale::Printed(Printed::new(&points).unwrap());
    let scale = Scale::Refractometer { scale: printed, compensated: false };
    for (percent, shown) in points {
        let found = salt(scale.clone(), shown, 20.0).brine.strength().percent();
        assert!((found - percent).abs() < 0.005, "{shown} is {found}");
    }
    let middle = salt(scale.clone(), 11.51, 20.0).brine.strength().percent();
    assert!((middle - 15.0).abs() < 0.005, "straight between its points: {middle}");
    assert!(read(scale, Solute::of(Salt::SodiumChloride), 21.0, 20.0).is_err());
    for wrong in [vec![(0.0, 0.0)], vec![(0.0, 0.0), (10.0, 5.0), (20.0, 4.0)], vec![(10.0, 0.0), (5.0, 1.0)]]
    {
        assert!(Printed::new(&wrong).is_err(), "{wrong:?}");
    }
}

/// The line of a measurement's budget.
fn line(found: &Measured, name: &str) -> f64 {
    found.budget.components().iter().find(|one| one.name == name).expect("a line").contribution()
}

/// What the instrument's step and an unsure temperature add, against slopes of the density itself: a step δx is a
/// rectangle, u = δx/√12 (JCGM 100, F.2.2.1); at one reading, dw/dt = −(∂ρ/∂t)/(∂ρ/∂w) (JCGM 100, 5.1.3).
#[test]
fn step_and_temperature_count_by_the_slopes_of_the_density() {
    let density = |percent: f64, t: f64| {
        let brine = Brine::sodium_chloride(MassFraction::from_percent(percent).unwrap()).unwrap();
        quantity::in_kg_per_m3(brine.density(celsius(t)).unwrap())
    };
    let (w, t, step, half) = (20.0, 22.0, 0.002, 1.5);
    let per_percent = (density(w + 0.01, t) - density(w - 0.01, t)) / 0.02;
    let per_kelvin = (density(w, t + half) - density(w, t - half)) / (2.0 * half);
    // A relative density at 60 °F is a density over that of water there, 999.012 kg/m³ (ASTM E 126's 0.999 012 g/mL,
    // from memory).
    let of_water = 999.012;
    let instrument = Instrument { resolution: step, ..perfect(HYDROMETER) };
    let sample = Sample {
        solute: Solute::of(Salt::SodiumChloride),
        readings: vec![density(w, t) / of_water],
        temperature: Some(celsius(t)),
        temperature_half_width: kelvins(half),
    };
    let found = measure(&instrument, &sample).expect("a strength");
    let expected_step = step / 12f64.sqrt() * of_water / per_percent;
    let expected_temperature = half / 3f64.sqrt() * (per_kelvin / per_percent).abs();
    // Glass expands, which the densities alone do not know: some parts in a hundred of the brine's own slope.
    for (name, expected, within) in
        [("resolution", expected_step, 0.01), ("temperature", expected_temperature, 0.1)]
    {
        let ours = line(&found, name);
        assert!((ours / expected - 1.0).abs() < within, "{name}: {ours} and {expected}");
    }
}

/// At an end of the data an unsure temperature is asked of the one side that there is, and counts as much: the slopes
/// are those of the density within it. 40 °C is the warmest that density is known at, −20 °C the coldest.
#[test]
fn at_an_end_of_the_data_the_temperature_counts_from_one_side() {
    let density = |percent: f64, t: f64| {
        let brine = Brine::sodium_chloride(MassFraction::from_percent(percent).unwrap()).unwrap();
        quantity::in_kg_per_m3(brine.density(celsius(t)).unwrap())
    };
    let meter = Scale::DensityMeter;
    for (w, t, inward) in [(20.0, 40.0, -1.0), (22.5, -20.0, 1.0)] {
        let half = 0.5;
        let per_percent = (density(w, t) - density(w - 0.02, t)) / 0.02;
        let per_kelvin = (density(w, t + inward * half) - density(w, t)) / (inward * half);
        let brine = Brine::sodium_chloride(MassFraction::from_percent(w).unwrap()).unwrap();
        let sample = Sample {
            solute: Solute::of(Salt::SodiumChloride),
            readings: vec![meter.shows(&brine, celsius(t)).unwrap()],
            temperature: Some(celsius(t)),
            temperature_half_width: kelvins(half),
        };
        let found = measure(&perfect(meter.clone()), &sample).expect("a strength");
        let expected = half / 3f64.sqrt() * (per_kelvin / per_percent).abs();
        let ours = line(&found, "temperature");
        assert!((ours / expected - 1.0).abs() < 0.02, "{w} % at {t} °C: {ours} and {expected}");
    }
}

/// The strength for a verdict spreads as the interval does: the interval is 1.96 of its standard uncertainties where
/// nothing was repeated (JCGM 100, G.1).
#[test]
fn a_verdict_takes_the_interval() {
    let instrument = Instrument { calibration: 0.004, ..perfect(HYDROMETER) };
    let sample = Sample {
        solute: Solute::of(Salt::SodiumChloride),
        readings: vec![1.17],
        temperature: Some(fahrenheit(60.0)),
        temperature_half_width: kelvins(0.0),
    };
    let found = measure(&instrument, &sample).expect("a strength");
    let known = found.known().expect("in range");
    assert!(
        (known.standard_uncertainty.percent() * 1.959_964 / found.expanded.half_width - 1.0).abs() < 1e-6
    );
    assert_eq!(known.degrees_of_freedom, None);
    assert!((known.strength.percent() - found.brine.strength().percent()).abs() < 1e-12);
}

/// A refractometer that corrects for temperature does so as for sugar, whose index falls less with warmth than that
/// of brine of the same index: cold brine still reads a little high. Direction and size by the index of brine and the
/// table of sugar.
#[test]
fn cold_brine_reads_a_little_high_on_a_scale_corrected_for_sugar() {
    let scale = Scale::Refractometer { scale: RefractometerScale::Brix, compensated: true };
    let strength = MassFraction::from_percent(23.3).unwrap();
    let brine = Brine::sodium_chloride(strength).unwrap();
    let read_as_if_warm = |at: f64| salt(BRIX, scale.shows(&brine, celsius(at)).unwrap(), 20.0);
    let found = read_as_if_warm(10.0).brine.strength().percent();
    assert!(23.3 < found && found < 24.0, "{found}");
    assert!((read_as_if_warm(20.0).brine.strength().percent() - 23.3).abs() < 0.02);
    let [low, high] = bench::sugar::COMPENSATED;
    assert!(bench::sugar::compensation(25.0, low).is_ok() && bench::sugar::compensation(25.0, high).is_ok());
    assert!(bench::sugar::compensation(25.0, low - 1.0).is_err());
    assert!(bench::sugar::compensation(25.0, high + 1.0).is_err());
}
