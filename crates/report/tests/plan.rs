//! A plan as text and as a document: both tell the plan's own figures, to every reader.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use bench::Conformity;
use common::{january, reader, readers, yard};
use planner::outlook::Case;
use planner::production::Bound;
use planner::treatment::Spread;
use planner::{Caution, Shortage};
use quantity::{Volume, fahrenheit, gallons, in_cubic_metres, in_gallons, in_kilograms, kilograms};
use report::plan_document::plan_document;
use report::plan_text::plan_text;
use report::{Language, Teller};
use serde_json::Value;
use site::UnitSystem;

fn close(value: &Value, expected: f64) {
    let found = value.as_f64().unwrap();
    assert!((found - expected).abs() <= 1e-9 * expected.abs().max(1.0), "{found} for {expected}");
}

fn same_volumes(value: &Value, expected: &Spread<Volume>) {
    for (name, volume) in [("low", expected.low), ("mid", expected.mid), ("high", expected.high)] {
        close(&value[format!("{name}_m3")], in_cubic_metres(volume));
        close(&value[format!("{name}_gal")], in_gallons(volume));
    }
}

#[test]
fn the_document_holds_the_plan_whoever_reads_it() {
    let yard = yard();
    let (plan, weather) = january(&yard);
    for display in readers() {
        let teller = Teller { words: &display.words, display: &display, yard: &yard };
        let document = plan_document(&plan, &weather, &teller);
        assert_eq!(document["format"], "brinewright-plan");
        assert_eq!(document["issued"], plan.issued.to_string());
        same_volumes(&document["need"]["brine"], &plan.brine);
        same_volumes(&document["need"]["other_liquid"], &plan.other);
        close(&document["need"]["dry_salt"]["mid_kg"], in_kilograms(plan.salt.mid));
        close(&document["stock"]["brine_in_hand_m3"], in_cubic_metres(plan.in_hand));
        close(&document["making"]["made_m3"], in_cubic_metres(plan.made));
        let routes = document["routes"].as_array().unwrap();
        assert_eq!(routes.len(), plan.routes.len());
        for (value, need) in routes.iter().zip(&plan.routes) {
            assert_eq!(value["id"], yard.routes[need.route].id);
            same_volumes(&value["brine"], &need.brine);
        }
        // What the routes need is what the yard needs, less what is spilled on the way.
        let sum: f64 = routes.iter().map(|route| route["brine"]["mid_m3"].as_f64().unwrap()).sum();
        close(&Value::from(sum * (1.0 + plan.waste_share)), in_cubic_metres(plan.brine.mid));
        assert_eq!(document["storms"].as_array().unwrap().len(), plan.storms.len());
        let runs = document["making"]["runs"].as_array().unwrap();
        for (value, run) in runs.iter().zip(&plan.schedule.runs) {
            assert_eq!(value["latest_start"], run.latest_start.to_string());
            close(&value["volume_m3"], in_cubic_metres(run.volume));
        }
        assert_eq!(document["next"]["act"], teller.next_act(&plan).act);
    }
}

#[test]
fn the_text_tells_every_storm_route_shortage_and_caution() {
    let yard = yard();
    let (plan, weather) = january(&yard);
    let mut texts = Vec::new();
    for display in readers() {
        let teller = Teller { words: &display.words, display: &display, yard: &yard };
        let text = plan_text(&plan, &weather, &teller);
        let holds = |part: &str| assert!(text.contains(part), "{part}\n\n{text}");
        holds(&yard.name);
        holds(&display.time(plan.window[0]));
        holds(&teller.next_act(&plan).act);
        plan.storms.iter().for_each(|(storm, _)| holds(&teller.storm_line(storm)));
        plan.shortages.iter().for_each(|shortage| holds(&teller.shortage(shortage)));
        plan.cautions.iter().for_each(|caution| holds(&teller.caution(caution)));
        for need in plan.routes.iter().filter(|need| in_gallons(need.brine.high) > 0.0) {
            holds(&yard.routes[need.route].name);
        }
        assert!(!text.contains(['{', '}']), "a blank is left in\n{text}");
        assert!(!text.contains("NaN"), "{text}");
        texts.push(text);
    }
    // Three languages and two systems: no two readers read the same text.
    let different: std::collections::BTreeSet<&String> = texts.iter().collect();
    assert_eq!(different.len(), texts.len());
}

/// What may happen is told as that, loads with the rate they are for, and pretreating in freezing rain the same way
/// wherever it is told.
#[test]
fn what_is_forecast_is_not_told_as_a_fact() {
    let mut yard = yard();
    let (plan, weather) = january(&yard);
    let display = reader(Language::En, UnitSystem::Us);
    let shortages = [
        Shortage::Brine { at: plan.issued, by: gallons(500.0), bound_by: Bound::Time },
        Shortage::OtherLiquid { by: gallons(50.0) },
        Shortage::RockSalt { by: kilograms(5000.0) },
    ];
    let told = |yard: &site::Yard| -> Vec<String> {
        let teller = Teller { words: &display.words, display: &display, yard };
        let short = shortages.iter().map(|shortage| teller.shortage(shortage));
        short.chain([teller.cover(&plan), plan_text(&plan, &weather, &teller)]).collect()
    };
    for text in told(&yard) {
        assert!(!text.contains(" runs short "), "{text}");
    }
    let words = &display.words;
    for key in ["cover.plan-covers", "cover.short", "chart.short-from", "chart.short-without"] {
        assert!(words.say(key).contains("could run short from"), "{key}");
    }
    let high = told(&yard);
    assert!(high[..3].iter().all(|text| text.contains("could run short") && text.contains("by up to")));
    assert!(high[4].contains("Loads are for the rate advised."), "{}", high[4]);
    yard.policy.cover_for = site::CoverFor::Mid;
    let mid = told(&yard);
    assert!(mid[..3].iter().all(|text| text.contains("will likely run short") && !text.contains("up to")));
    assert!(mid[4].contains("Loads are for the rate advised."), "{}", mid[4]);
    let teller = Teller { words, display: &display, yard: &yard };
    let refreeze = Caution::MayRefreeze { at: plan.issued, pavement: fahrenheit(12.0) };
    let told = teller.caution(&refreeze);
    assert!(!told.contains("melt") && !told.contains("does not work"), "{told}");
    for key in ["care.no-spray", "reason.freezing-rain"] {
        assert!(words.say(key).contains("unless your policy allows it"), "{key}");
    }
    let books = teller.caution(&Caution::BooksDoNotClose);
    assert!(books.starts_with("Book error") && books != words.say("close.does-not"), "{books}");
}

/// Nothing to do is said only where there is nothing: no storm, and every tank in spec.
#[test]
fn nothing_to_do_is_said_where_nothing_is() {
    let yard = yard();
    let (mut plan, _) = january(&yard);
    plan.storms.clear();
    plan.loadings.clear();
    plan.schedule.runs.clear();
    plan.shortages.clear();
    plan.cautions.clear();
    for tank in &mut plan.tanks {
        tank.conformity = tank.conformity.map(|_| Conformity::InSpec);
    }
    let display = reader(Language::En, UnitSystem::Us);
    let teller = Teller { words: &display.words, display: &display, yard: &yard };
    assert_eq!(teller.next_act(&plan).act, "No brine work needed now.");
    plan.tanks[0].conformity = Some(Conformity::TooWeak);
    assert_eq!(teller.next_act(&plan).act, "Correct tank 1.");
}

/// The passes that are told are those of all routes together in the middle case, no more and no fewer.
#[test]
fn the_passes_told_are_all_of_them() {
    let yard = yard();
    let (plan, _) = january(&yard);
    let display = reader(Language::En, UnitSystem::Us);
    let teller = Teller { words: &display.words, display: &display, yard: &yard };
    for (_, treatment) in &plan.storms {
        let passes = &treatment.passes[Case::Mid as usize];
        let count = |line: &str| -> usize {
            let (_, rest) = line.split_once("Routes driven: ").unwrap_or_else(|| panic!("{line}"));
            rest.trim_end_matches('.').parse().unwrap()
        };
        let told: usize = teller.pass_lines(treatment).iter().map(|(line, _)| count(line)).sum();
        assert_eq!(told, passes.iter().filter(|pass| pass.rate.is_some()).count());
        assert!(told > 0);
    }
}

/// No text names a unit that its reader did not choose.
#[test]
fn a_plan_has_one_system_of_units() {
    let yard = yard();
    let (plan, weather) = january(&yard);
    for display in readers() {
        let teller = Teller { words: &display.words, display: &display, yard: &yard };
        let text = plan_text(&plan, &weather, &teller);
        let others: &[&str] = match display.units {
            UnitSystem::Us => &["L", "kg", "t", "°C", "mm", "m³", "km"],
            UnitSystem::Si => &["gal", "lb", "tons", "°F", "in", "ft", "mi"],
        };
        // A number and its unit.
        let words: Vec<&str> = text.split_whitespace().collect();
        for pair in words.windows(2) {
            let is_number = pair[0].ends_with(|end: char| end.is_ascii_digit());
            let unit = pair[1].trim_end_matches(['.', ',', ':', ';', ')']);
            let is_other = is_number && others.contains(&unit);
            assert!(!is_other, "{} {} in\n{text}", pair[0], pair[1]);
        }
    }
}
