//! The shipped rate table against the agency table it was taken from, band by band.

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use quantity::fahrenheit;
use road::RateTable;
use road::rates::{Amount, Condition, EventKind, LiquidClass, Pass, RateRow, Trend, Use};

/// Maine DOT treatment recommendations, Table A (US DOT ITS report, NTL item 30234, App. A).
const MAINE: &str = include_str!("data/maine_table_a.csv");

/// Printed bands; the coldest has no lower limit, the warmest no upper.
fn bands() -> Vec<(Option<f64>, Option<f64>, csv::StringRecord)> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(MAINE.as_bytes());
    let bands: Vec<_> = reader
        .records()
        .map(|row| row.unwrap())
        .map(|row| (row[0].parse().ok(), row[1].parse().ok(), row))
        .collect();
    assert_eq!(bands.len(), 5);
    bands
}

fn found(table: &RateTable, pavement: f64, pass: Pass, trend: Trend) -> &RateRow {
    let condition = Condition {
        use_for: Use::PrewetSalt,
        event: EventKind::Snow,
        pass,
        pavement: fahrenheit(pavement),
        trend,
    };
    table.find(&condition).unwrap_or_else(|| panic!("no row at {pavement} °F"))
}

fn range(text: &str) -> (f64, f64) {
    let (low, high) = text.split_once('-').unwrap();
    (low.parse().unwrap(), high.parse().unwrap())
}

/// At both edges of each band (the lower belongs to it, the upper to the next) and in its middle.
#[test]
fn every_band_as_printed() {
    let table = RateTable::published().unwrap();
    for (low, high, row) in bands() {
        let coldest = low.unwrap_or(-30.0);
        let warmest = high.map_or(45.0, |high| high - 0.01);
        for pavement in [coldest, 0.5 * (coldest + warmest), warmest] {
            for (pass, column) in [(Pass::First, 6), (Pass::Later, 7)] {
                let rate = found(&table, pavement, pass, Trend::Steady);
                if row[column].is_empty() {
                    assert_eq!(rate.use_for, Use::NoChemical, "{pavement} °F: {row:?}");
                    assert_eq!(rate.amount, Amount::None);
                    continue;
                }
                let Amount::Salt { low, high, prewet } = rate.amount else { panic!("{rate:?}") };
                let printed = range(&row[column]);
                assert!(
                    (low.pounds_per_lane_mile() - printed.0).abs() < 1e-9,
                    "{pavement} °F {pass:?}: {row:?}"
                );
                assert!(
                    (high.pounds_per_lane_mile() - printed.1).abs() < 1e-9,
                    "{pavement} °F {pass:?}: {row:?}"
                );
                let liquid: f64 = row[5].parse().unwrap();
                assert!((prewet.gallons_per_short_ton() - liquid).abs() < 1e-9);
            }
        }
    }
}

/// The liquid the agency names: none without brine above 20 °F, no plain brine below.
#[test]
fn liquids_as_printed() {
    let table = RateTable::published().unwrap();
    for (low, high, row) in bands() {
        let pavement = 0.5 * (low.unwrap_or(-30.0) + high.unwrap_or(45.0));
        let rate = found(&table, pavement, Pass::First, Trend::Steady);
        let names = |word: &str| row[4].contains(word);
        assert_eq!(rate.liquids.contains(&LiquidClass::SaltBrine), names("salt brine"), "{row:?}");
        assert_eq!(rate.liquids.contains(&LiquidClass::MagnesiumOrCalcium), names("MgCl2"), "{row:?}");
    }
}

#[test]
fn a_row_named_twice_still_comes_first() {
    let twice = ["mn-anti-icing-snow".to_string(), "mn-anti-icing-snow".to_string()];
    let table = RateTable::with_choice(&twice, &[]).unwrap();
    assert_eq!((table.rows()[0].id.as_str(), table.rows()[0].on), ("mn-anti-icing-snow", true));
}
