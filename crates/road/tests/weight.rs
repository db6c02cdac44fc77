//! The bridge formula against the printed table, and what a truck's axles carry against trucks worked out by hand.
//!
//! Outside checks: the federal bridge table (data/bridge_table.csv, with its source); the two trucks of the FHWA
//! brochure Bridge Formula Weights, FHWA-HOP-19-028 (read in a transcription); worked examples W37, W38 (23 USC 127)
//! and W47 (limits of 23 CFR 658.17).

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use quantity::{feet, in_pounds, pounds};
use road::weight::{Axle, GroupLoad, Rule, WeightError, bridge_formula, groups, loaded, most_liquid};

fn axle(at_ft: f64, load_lb: f64) -> Axle {
    Axle { at: feet(at_ft), load: pounds(load_lb), limit: None }
}

fn of(groups: &[GroupLoad], axles: (usize, usize), rule: Rule) -> GroupLoad {
    *groups.iter().find(|group| group.axles == axles && group.rule == rule).unwrap()
}

fn is_lb(mass: quantity::Mass, lb: f64) -> bool {
    (in_pounds(mass) - lb).abs() < 0.5
}

#[test]
fn the_printed_table() {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(include_str!("data/bridge_table.csv").as_bytes());
    // Printed 500 lb below the formula; the law is the formula.
    let below = [(39.0, 5), (53.0, 9), (54.0, 9), (55.0, 9), (56.0, 9)];
    let mut cells = 0;
    for record in reader.records() {
        let record = record.unwrap();
        let l: f64 = record[0].parse().unwrap();
        for n in 2..=9_usize {
            let Ok(printed) = record[n - 1].parse::<f64>() else { continue };
            let is_below = below.iter().any(|(at, axles)| (*at - l).abs() < 0.1 && *axles == n);
            let expected = if is_below { printed + 500.0 } else { printed };
            let found = in_pounds(bridge_formula(n, feet(l)).unwrap());
            assert!((found - expected).abs() < 0.5, "L {l} N {n}: {found}, printed {printed}");
            cells += 1;
        }
    }
    assert_eq!(cells, 265);
    assert!(is_lb(bridge_formula(3, feet(20.0)).unwrap(), 51_000.0), "W37");
    assert!(is_lb(bridge_formula(5, feet(51.0)).unwrap(), 80_000.0), "W38");
    assert!(bridge_formula(10, feet(40.0)).is_none() && bridge_formula(5, feet(61.0)).is_none());
}

#[test]
fn the_brochures_two_trucks() {
    let five: Vec<Axle> = std::iter::once(axle(0.0, 12_000.0))
        .chain([16.0, 20.0, 47.0, 51.0].map(|at| axle(at, 17_000.0)))
        .collect();
    let found = groups(&five, None);
    let first_three = of(&found, (0, 2), Rule::Bridge);
    assert!(is_lb(first_three.load, 46_000.0) && is_lb(first_three.limit, 51_000.0));
    assert!(is_lb(of(&found, (0, 4), Rule::Bridge).limit, 80_000.0));
    let last_four = of(&found, (1, 4), Rule::Bridge);
    assert!(is_lb(last_four.load, 68_000.0) && is_lb(last_four.limit, 65_500.0));
    assert_eq!(found[0], last_four, "the tightest stands first");

    let four = [axle(0.0, 12_000.0), axle(14.0, 15_000.0), axle(18.5, 15_000.0), axle(23.0, 15_000.0)];
    let found = groups(&four, None);
    assert!(is_lb(of(&found, (0, 3), Rule::Bridge).limit, 57_500.0));
    assert!(is_lb(of(&found, (1, 3), Rule::Bridge).limit, 42_500.0));

    // Two tandems 36 ft apart may carry 34,000 lb each; 35 ft apart (above) they may not.
    let apart: Vec<Axle> = [0.0, 4.0, 32.0, 36.0].map(|at| axle(at, 17_000.0)).to_vec();
    assert!(is_lb(of(&groups(&apart, None), (0, 3), Rule::Bridge).limit, 68_000.0));
}

#[test]
fn a_tandem_that_is_over() {
    // W47: steer 19,200 lb, tandem 35,400 lb with its axles 52 in apart.
    let truck = [axle(0.0, 19_200.0), axle(15.0, 17_700.0), axle(15.0 + 52.0 / 12.0, 17_700.0)];
    let found = groups(&truck, None);
    assert!(is_lb(of(&found, (0, 0), Rule::Single).margin(), 800.0), "the steering axle is within");
    assert!(is_lb(of(&found, (1, 2), Rule::Tandem).margin(), -1_400.0), "the tandem is over by 1,400 lb");
    // By hand: 500 · (19 · 3/2 + 36 + 36) = 50,250, a tie, down to 50,000 lb; the whole truck weighs 54,600 lb.
    assert!(is_lb(of(&found, (0, 2), Rule::Bridge).margin(), -4_600.0));
    assert_eq!(found[0].rule, Rule::Bridge, "the tightest stands first");
}

#[test]
fn a_lever_shares_the_load() {
    // By hand: 10,000 lb, 12 ft behind the front axle, tandem middle at 16 ft: three quarters on the tandem.
    let empty = [axle(0.0, 12_000.0), axle(14.0, 7_000.0), axle(18.0, 7_000.0)];
    let full = loaded(&empty, &[(feet(12.0), pounds(10_000.0))]).unwrap();
    assert!(is_lb(full[0].load, 14_500.0) && is_lb(full[1].load, 10_750.0) && is_lb(full[2].load, 10_750.0));
    // Behind the tandem it takes weight off the steering axle.
    let behind = loaded(&empty, &[(feet(20.0), pounds(1_000.0))]).unwrap();
    assert!(is_lb(behind[0].load, 11_750.0));
    // By hand: the bridge formula allows 500 · (18 · 3/2 + 36 + 36) = 49,500 lb on all three, 23,500 lb more than
    // empty; the tandem's 20,000 lb of room would take 26,667 lb, the steering axle's 8,000 lb 32,000 lb.
    let (most, group) = most_liquid(&empty, &[], feet(12.0), None).unwrap().unwrap();
    assert!(is_lb(most, 23_500.0) && group.rule == Rule::Bridge, "{group:?}");
    let at_limit = loaded(&empty, &[(feet(12.0), most)]).unwrap();
    assert!(in_pounds(groups(&at_limit, None)[0].margin()).abs() < 0.5);
    // The truck's own papers may bind first.
    let (most, group) = most_liquid(&empty, &[], feet(12.0), Some(pounds(40_000.0))).unwrap().unwrap();
    assert!(is_lb(most, 14_000.0) && group.rule == Rule::OwnGross);
    let over = [axle(0.0, 20_500.0), axle(14.0, 7_000.0)];
    assert!(most_liquid(&over, &[], feet(7.0), None).unwrap().is_none(), "over before anything is loaded");
}

#[test]
fn what_a_lever_cannot_share_is_refused() {
    let together = [axle(0.0, 8_000.0), axle(4.0, 8_000.0)];
    assert_eq!(loaded(&together, &[]), Err(WeightError::Groups { groups: 1 }));
    let trailer = [axle(0.0, 8_000.0), axle(14.0, 8_000.0), axle(40.0, 8_000.0)];
    assert_eq!(loaded(&trailer, &[]), Err(WeightError::Groups { groups: 3 }));
}
