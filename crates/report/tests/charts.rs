//! Charts: SVG that any reader of XML takes, with its marks where the data are.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use chemistry::MassFraction;
use common::{january, reader, readers, yard};
use jiff::Timestamp;
use quantity::{fahrenheit, in_cubic_metres, in_gallons, in_litres};
use report::Language;
use report::chart::{
    CoverChart, FreezeMap, ReadingsChart, Size, TankLevel, TankMark, Timeline, cover_chart, freeze_map,
    readings_chart, tank_level, timeline,
};
use roxmltree::{Document, Node};
use site::{Spec, UnitSystem};

fn of_class<'a>(svg: &'a Document<'_>, tag: &str, class: &str) -> Vec<Node<'a, 'a>> {
    let has = |node: &Node<'_, '_>| node.tag_name().name() == tag;
    let classed = |node: &Node<'_, '_>| {
        node.attribute("class").is_some_and(|all| all.split(' ').any(|one| one == class))
    };
    svg.descendants().filter(|node| has(node) && classed(node)).collect()
}

fn at(node: Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name).unwrap().parse().unwrap()
}

/// The middle of a rectangle.
fn middle(rect: Node<'_, '_>) -> (f64, f64) {
    (at(rect, "x") + 0.5 * at(rect, "width"), at(rect, "y") + 0.5 * at(rect, "height"))
}

/// Corners of a path.
fn points(path: Node<'_, '_>) -> Vec<(f64, f64)> {
    let text = path.attribute("d").unwrap().trim_end_matches('Z');
    let pair = |pair: &str| {
        let (x, y) = pair.split_once(' ').unwrap();
        (x.parse().unwrap(), y.parse().unwrap())
    };
    text.split(['M', 'L']).filter(|part| !part.is_empty()).map(pair).collect()
}

/// Ids are there once, and what is named by one is there.
fn well_formed(svg: &str) {
    let parsed = Document::parse(svg).unwrap_or_else(|error| panic!("{error}\n{svg}"));
    let mut ids: Vec<&str> = parsed.descendants().filter_map(|node| node.attribute("id")).collect();
    let count = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), count, "{svg}");
    let named = parsed.root_element().attribute("aria-labelledby").unwrap();
    assert!(named.split(' ').all(|id| ids.contains(&id)), "{svg}");
    for fill in parsed.descendants().filter_map(|node| node.attribute("fill")) {
        let id = fill.trim_start_matches("url(#").trim_end_matches(')');
        assert!(ids.contains(&id), "{fill}\n{svg}");
    }
    assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
}

#[test]
fn every_chart_is_xml_for_every_reader() {
    let yard = yard();
    let (plan, _) = january(&yard);
    let says = "Tom & \"Jo\" say <3 gal>.";
    for display in readers() {
        for size in Size::ALL {
            let words = &display.words;
            well_formed(&cover_chart(&CoverChart { id: "c", plan: &plan, says }, size, &display, words));
            well_formed(&timeline(&Timeline { id: "t", plan: &plan, says }, size, &display, words));
            let map = FreezeMap { id: "m", marks: &[], ahead: None, says };
            let map = freeze_map(&map, size, &display, words);
            well_formed(&map);
            let parsed = Document::parse(&map).unwrap();
            let told = parsed.descendants().find(|node| node.tag_name().name() == "desc").unwrap();
            assert_eq!(told.text(), Some(says));
        }
    }
}

#[test]
fn readings_lie_by_their_strength_and_only_those_out_of_the_band_are_heavy() {
    let percent = |value| MassFraction::from_percent(value).unwrap();
    let spec = Spec { low: percent(23.0), target: percent(23.3), high: percent(23.6), reason: None };
    let when = |hour: i64| Timestamp::from_second(1_800_000_000 + 3600 * hour).unwrap();
    let readings = [(when(0), 23.3, 0.2), (when(9), 22.5, 0.4), (when(10), 23.6, 0.1)];
    let chart = ReadingsChart { id: "r", readings: &readings, spec: &spec, says: "" };
    let display = reader(Language::En, UnitSystem::Us);
    for size in Size::ALL {
        let svg = readings_chart(&chart, size, &display, &display.words);
        well_formed(&svg);
        let svg = Document::parse(&svg).unwrap();
        let marks: Vec<(f64, f64)> = of_class(&svg, "rect", "c-mark").into_iter().map(middle).collect();
        let heavy: Vec<(f64, f64)> = of_class(&svg, "rect", "c-act").into_iter().map(middle).collect();
        assert_eq!((marks.len(), &heavy[..]), (3, &marks[1..2]));
        // A pixel a per cent by the first two; the third must lie where they say. Coordinates have one decimal.
        let each = (marks[1].1 - marks[0].1) / (23.3 - 22.5);
        assert!((marks[2].1 - (marks[0].1 - each * 0.3)).abs() < 0.2, "{marks:?}");
        assert!((marks[2].0 - 2.0 * marks[1].0 + marks[0].0).abs() < 0.2, "evenly apart: {marks:?}");
        let bars = of_class(&svg, "line", "c-pass");
        for ((bar, mark), (_, _, half)) in bars.iter().zip(&marks).zip(&readings) {
            let (top, foot) = (at(*bar, "y2"), at(*bar, "y1"));
            assert!((0.5 * (top + foot) - mark.1).abs() < 0.2 && (at(*bar, "x1") - mark.0).abs() < 0.2);
            assert!((foot - top - 2.0 * half * each).abs() < 0.3, "{half}: {top} to {foot}");
        }
        // The band reaches from its low to its high end.
        let band = of_class(&svg, "rect", "c-liquid")[0];
        assert!((at(band, "height") - 0.6 * each).abs() < 0.3);
        assert!((at(band, "y") - marks[2].1).abs() < 0.2, "23.6% is its top");
    }
}

#[test]
fn a_level_is_as_long_as_the_tank_is_full() {
    let level = TankLevel { id: "l", title: "Tank 1", says: "", filled: 0.6, heel: 0.05, working: 0.95 };
    let svg = tank_level(&level);
    well_formed(&svg);
    let svg = Document::parse(&svg).unwrap();
    let (shell, fill) = (of_class(&svg, "rect", "c-shell")[0], of_class(&svg, "rect", "c-fill")[0]);
    let (start, whole) = (at(shell, "x"), at(shell, "width"));
    assert!((at(fill, "width") - 0.6 * whole).abs() < 0.1);
    assert!((at(of_class(&svg, "line", "c-limit")[0], "x1") - start - 0.95 * whole).abs() < 0.1);
    let heel = points(of_class(&svg, "path", "c-ice")[0]);
    let end = heel.iter().map(|(x, _)| *x).fold(0.0, f64::max);
    assert!((end - start - 0.05 * whole).abs() < 0.1);
}

#[test]
fn tanks_lie_on_the_freeze_map_by_strength_and_temperature() {
    let mark = |label: &str, percent: f64, f: f64, needs_act: bool| TankMark {
        label: label.into(),
        strength: MassFraction::from_percent(percent).unwrap(),
        temperature: fahrenheit(f),
        needs_act,
    };
    let marks = [mark("1", 18.0, 40.0, false), mark("2", 22.0, 20.0, false), mark("3", 26.0, 0.0, true)];
    let display = reader(Language::En, UnitSystem::Us);
    for size in Size::ALL {
        let map =
            FreezeMap { id: "m", marks: &marks, ahead: Some([fahrenheit(0.0), fahrenheit(20.0)]), says: "" };
        let svg = freeze_map(&map, size, &display, &display.words);
        well_formed(&svg);
        let svg = Document::parse(&svg).unwrap();
        let plain: Vec<(f64, f64)> = of_class(&svg, "rect", "c-mark").into_iter().map(middle).collect();
        let urgent = points(of_class(&svg, "path", "c-act")[0]);
        let third = urgent.iter().map(|(x, _)| *x).sum::<f64>() / 3.0;
        assert_eq!(plain.len(), 2);
        // Four per cent and twenty degrees apart, each.
        assert!((third - plain[1].0 - (plain[1].0 - plain[0].0)).abs() < 0.2, "{third} {plain:?}");
        let twenty = plain[1].1 - plain[0].1;
        let band = of_class(&svg, "rect", "c-band")[0];
        assert!((at(band, "height") - twenty).abs() < 0.3, "0 to 20 °F is as far as 20 to 40 °F");
        assert!((at(band, "y") - plain[1].1).abs() < 0.2, "its top is at 20 °F");
    }
}

#[test]
fn the_cover_chart_ends_at_the_plans_need() {
    let yard = yard();
    let (plan, _) = january(&yard);
    for units in [UnitSystem::Us, UnitSystem::Si] {
        let display = reader(Language::En, units);
        let chart = CoverChart { id: "c", plan: &plan, says: "" };
        let svg = cover_chart(&chart, Size::Wide, &display, &display.words);
        let svg = Document::parse(&svg).unwrap();
        // Figures beside the axis say what a height is.
        let ticks: Vec<(f64, f64)> = of_class(&svg, "text", "c-end")
            .into_iter()
            .map(|text| {
                let shown = text.text().unwrap().replace(',', "");
                let value = shown.strip_suffix('k').map_or_else(
                    || shown.parse::<f64>().unwrap(),
                    |thousands| 1000.0 * thousands.parse::<f64>().unwrap(),
                );
                (value, at(text, "y") - 5.0)
            })
            .collect();
        let (first, last) = (ticks[0], ticks[ticks.len() - 1]);
        let value = |y: f64| first.0 + (y - first.1) * (last.0 - first.0) / (last.1 - first.1);
        let shown = |m3: f64| match units {
            UnitSystem::Us => in_gallons(quantity::cubic_metres(m3)),
            UnitSystem::Si => in_litres(quantity::cubic_metres(m3)),
        };
        let pixel = (last.0 / (first.1 - last.1)).abs();
        let end = |class: &str| value(points(of_class(&svg, "path", class)[0]).last().unwrap().1);
        let need = shown(*plan.brine_band.mid.last().unwrap());
        assert!((end("c-need") - need).abs() < 0.3 * pixel, "{} for {need}", end("c-need"));
        let have = shown(in_cubic_metres(plan.in_hand) + plan.schedule.ready_by.last().unwrap());
        assert!((end("c-have") - have).abs() < 0.3 * pixel, "{} for {have}", end("c-have"));
    }
}
