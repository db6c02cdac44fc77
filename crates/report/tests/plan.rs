//! A plan as text and as a document: both tell the plan's own figures, to every reader.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use common::{january, readers, yard};
use planner::treatment::Spread;
use quantity::{Volume, in_cubic_metres, in_gallons, in_kilograms};
use report::Teller;
use report::plan_document::plan_document;
use report::plan_text::plan_text;
use serde_json::Value;

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
