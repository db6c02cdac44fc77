//! Charts: SVG that any reader of XML takes, with its marks where the data are.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use chemistry::{Brine, MassFraction, Salt};
use common::{january, reader, readers, yard};
use jiff::Timestamp;
use quantity::{celsius, fahrenheit, in_celsius, in_cubic_metres, in_gallons, in_litres};
use report::Language;
use report::chart::{
    BuildUp, ColdToSpare, CoverChart, FreezeMap, PhaseDiagram, ReadingsChart, Size, SpareRow, StrengthsChart,
    TankMark, TankSection, Texture, build_up, cold_to_spare, cover_chart, freeze_map, in_its_ratio,
    phase_diagram, readings_chart, strengths_chart, tank_section,
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
            for with_work in [false, true] {
                let chart = CoverChart { id: "c", plan: &plan, with_work, says };
                well_formed(&cover_chart(&chart, size, &display, words));
            }
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
fn a_level_is_as_high_as_the_tank_is_full() {
    let section = TankSection {
        id: "l",
        title: "Tank 1",
        says: "",
        filled: (0.6, "600 gal"),
        heel: (0.05, "50 gal stay in"),
        working: (0.95, "full at 950 gal"),
        room: "space 350 gal",
        strength: "25.1%",
        texture: Texture::Salt,
        needs_act: true,
    };
    let svg = tank_section(&section);
    well_formed(&svg);
    let svg = Document::parse(&svg).unwrap();
    let shell = points(of_class(&svg, "path", "v-shell")[0]);
    let (floor, top) = (shell[0].1, shell[1].1);
    let share = |y: f64| (floor - y) / (floor - top);
    assert!((share(at(of_class(&svg, "rect", "v-fill")[0], "y")) - 0.6).abs() < 0.005);
    let limits: Vec<f64> =
        of_class(&svg, "line", "v-limit").into_iter().map(|line| share(at(line, "y1"))).collect();
    assert!((limits[0] - 0.05).abs() < 0.005 && (limits[1] - 0.95).abs() < 0.005, "{limits:?}");
    // Salt is dotted, and each number is there once.
    assert!(of_class(&svg, "path", "c-solid")[0].attribute("fill").unwrap().contains("salt"));
    for text in ["600 gal", "50 gal stay in", "full at 950 gal", "space 350 gal", "25.1%"] {
        assert_eq!(
            svg.descendants().filter(|node| node.text() == Some(text) && node.is_element()).count(),
            1,
            "{text}"
        );
    }
}

/// Centers of round marks.
fn centers(svg: &Document<'_>, class: &str) -> Vec<(f64, f64)> {
    of_class(svg, "circle", class).into_iter().map(|ring| (at(ring, "cx"), at(ring, "cy"))).collect()
}

/// Points never move, labels do: two tanks on nearly one spot stay there, and their flags part.
#[test]
fn tanks_lie_on_the_freeze_map_by_strength_and_temperature() {
    let mark = |label: &str, percent: f64, f: f64, needs_act: bool| TankMark {
        label: label.into(),
        strength: MassFraction::from_percent(percent).unwrap(),
        temperature: fahrenheit(f),
        needs_act,
    };
    let marks = [
        mark("1", 18.0, 40.0, false),
        mark("2", 22.0, 20.0, false),
        mark("3", 26.0, 0.0, true),
        mark("4", 22.1, 20.0, false),
        // Far beyond what is usually drawn: the drawing grows, the mark stays.
        mark("5", 10.0, 80.0, false),
    ];
    let display = reader(Language::En, UnitSystem::Us);
    for size in Size::ALL {
        let map =
            FreezeMap { id: "m", marks: &marks, ahead: Some([fahrenheit(0.0), fahrenheit(20.0)]), says: "" };
        let svg = freeze_map(&map, size, &display, &display.words);
        well_formed(&svg);
        let svg = Document::parse(&svg).unwrap();
        let all = centers(&svg, "c-mark");
        assert_eq!((all.len(), centers(&svg, "c-act")), (5, vec![all[2]]));
        let (percent, degree) = ((all[1].0 - all[0].0) / 4.0, (all[1].1 - all[0].1) / 20.0);
        for (mark, (x, y)) in marks.iter().zip(&all) {
            let f = quantity::in_fahrenheit(mark.temperature);
            let wanted =
                (all[0].0 + percent * (mark.strength.percent() - 18.0), all[0].1 + degree * (40.0 - f));
            assert!((x - wanted.0).abs() < 0.3 && (y - wanted.1).abs() < 0.4, "{mark:?}: {x} {y} {wanted:?}");
        }
        let band = of_class(&svg, "rect", "c-band")[0];
        assert!((at(band, "height") - 20.0 * degree).abs() < 0.3, "0 to 20 °F is as far as 20 to 40 °F");
        assert!((at(band, "y") - all[1].1).abs() < 0.2, "its top is at 20 °F");
        let flags: Vec<f64> =
            of_class(&svg, "text", "c-mark-label").into_iter().map(|text| at(text, "x")).collect();
        assert_eq!(flags.len(), 5);
        for (one, other) in [(1, 3), (0, 1), (3, 2)] {
            assert!(flags[other] - flags[one] > 20.0, "{flags:?}");
        }
    }
}

/// Below −21.1 °C (CRC) all of plain brine is solid: no field of ice or of salt beside brine is named there, and the
/// line of ice goes no deeper.
#[test]
fn below_the_eutectic_all_is_solid() {
    let display = reader(Language::En, UnitSystem::Si);
    let mark = |degrees: f64| TankMark {
        label: "1".into(),
        strength: MassFraction::from_percent(23.0).unwrap(),
        temperature: celsius(degrees),
        needs_act: false,
    };
    let marks = [mark(0.0), mark(-20.0)];
    let y_of = |svg: &Document<'_>| {
        let (top, base) = (centers(svg, "c-mark")[0].1, centers(svg, "c-mark")[1].1);
        move |celsius: f64| top + (base - top) * celsius / -20.0
    };
    let zones = |svg: &Document<'_>| -> Vec<(String, f64)> {
        let all = of_class(svg, "text", "c-zone").into_iter();
        all.map(|text| (text.text().unwrap().to_owned(), at(text, "y"))).collect()
    };
    let checked = |svg: &Document<'_>, names: &[&str]| {
        let end = y_of(svg)(-21.1);
        let told = zones(svg);
        for name in names {
            assert!(told.iter().any(|(known, _)| known == name), "{name}: {told:?}");
        }
        for (name, y) in told {
            assert_eq!(name == "all solid", y > end, "{name} at {y}, all solid from {end}");
        }
        end
    };
    for size in Size::ALL {
        let map = FreezeMap { id: "m", marks: &marks, ahead: None, says: "" };
        let drawn = freeze_map(&map, size, &display, &display.words);
        well_formed(&drawn);
        let svg = Document::parse(&drawn).unwrap();
        checked(&svg, &["ice and brine", "salt drops out", "liquid", "all solid"]);
        let brine = Brine::sodium_chloride(MassFraction::from_percent(21.0).unwrap()).unwrap();
        let places = in_its_ratio(&brine);
        let end = chemistry::freezing::all_solid_below(&brine).unwrap();
        let solid_below = [(places[0].0, end), (places[16].0, end)];
        let of = PhaseDiagram {
            id: "b",
            axis: "",
            points: &places,
            solid_below: &solid_below,
            marks: &marks,
            ahead: None,
            says: "",
        };
        let drawn = phase_diagram(&of, size, &display, &display.words);
        well_formed(&drawn);
        let svg = Document::parse(&drawn).unwrap();
        let end = checked(&svg, &["ice and brine", "liquid", "all solid"]);
        for line in of_class(&svg, "path", "c-curve") {
            assert!(points(line).iter().all(|(_, y)| *y <= end + 0.3), "{:?} {end}", points(line));
        }
    }
}

/// Wherever salt comes first, ice is known below it, up to the strongest brine that is drawn.
#[test]
fn a_diagram_of_one_ratio_knows_both_to_its_end() {
    for (nacl, mgcl2) in [(25.1, 0.0), (23.3, 0.0), (20.97, 3.0), (18.0, 5.0)] {
        let part = |salt, percent| (salt, MassFraction::from_percent(percent).unwrap());
        let salts = [part(Salt::SodiumChloride, nacl), part(Salt::MagnesiumChloride, mgcl2)];
        let brine = Brine::blend(&salts).unwrap();
        let places = in_its_ratio(&brine);
        let known: Vec<_> = places.iter().filter_map(|(place, onset)| Some((*place, (*onset)?))).collect();
        assert!(known.len() > 10, "{nacl} {mgcl2}: {places:?}");
        for (place, onset) in known {
            let (ice, (_, salt)) = (in_celsius(onset.ice.unwrap()), onset.salt.unwrap());
            assert!(ice.min(in_celsius(salt)) > -24.0, "{nacl} {mgcl2} {place}: {onset:?}");
        }
    }
}

/// A bar ends where its tank's first solid forms and begins where its liquid is; the sentence says what is between.
#[test]
fn cold_to_spare_lies_by_its_temperatures() {
    let row = |label: &str, now: f64, stop: f64, solid: Texture, is_short: bool| SpareRow {
        label: label.into(),
        now: Some(fahrenheit(now)),
        stop: fahrenheit(stop),
        solid,
        says: format!("row {label}"),
        is_short,
    };
    let rows = [row("1", 26.0, -6.0, Texture::Ice, false), row("3", 30.0, 15.0, Texture::Salt, true)];
    let display = reader(Language::En, UnitSystem::Us);
    for size in Size::ALL {
        let chart =
            ColdToSpare { id: "s", rows: &rows, ahead: [fahrenheit(13.0), fahrenheit(24.0)], says: "" };
        let svg = cold_to_spare(&chart, size, &display, &display.words);
        well_formed(&svg);
        let svg = Document::parse(&svg).unwrap();
        let bars = of_class(&svg, "rect", "c-bar");
        let degree = at(bars[0], "width") / 32.0;
        assert!((at(bars[1], "width") - 15.0 * degree).abs() < 0.2);
        assert!((at(bars[1], "x") - at(bars[0], "x") - 21.0 * degree).abs() < 0.2);
        let band = of_class(&svg, "rect", "c-band")[0];
        assert!((at(band, "x") - at(bars[0], "x") - 19.0 * degree).abs() < 0.2, "13 °F");
        assert!((at(band, "width") - 11.0 * degree).abs() < 0.2);
        assert_eq!(of_class(&svg, "line", "c-act").len(), 1, "one tank is short");
    }
}

/// The book's strength, the sample with its ± and the range lie on one axis.
#[test]
fn two_strengths_lie_on_one_axis() {
    let percent = |value| MassFraction::from_percent(value).unwrap();
    let spec = Spec { low: percent(23.0), target: percent(23.3), high: percent(23.6), reason: None };
    let chart = StrengthsChart { id: "s", book: 23.3, sample: (25.1, 0.3), spec: &spec, says: "" };
    let display = reader(Language::En, UnitSystem::Us);
    for size in Size::ALL {
        let svg = strengths_chart(&chart, size, &display, &display.words);
        well_formed(&svg);
        let svg = Document::parse(&svg).unwrap();
        let band = of_class(&svg, "rect", "c-liquid")[0];
        let each = at(band, "width") / 0.6;
        let sample = centers(&svg, "c-act")[0].0;
        assert!((sample - at(band, "x") - 2.1 * each).abs() < 0.5, "{sample}");
        let bar = of_class(&svg, "line", "c-pass")[0];
        assert!((at(bar, "x2") - at(bar, "x1") - 0.6 * each).abs() < 0.3);
        let book = points(of_class(&svg, "path", "c-pointer")[0])[0].0;
        assert!((book - at(band, "x") - 0.3 * each).abs() < 0.3, "{book}");
    }
}

/// The middle run is drawn between its edges, and the clock along the bottom is the yard's.
#[test]
fn a_build_up_has_its_middle_line_and_clock() {
    let percent = |value| MassFraction::from_percent(value).unwrap();
    let spec = Spec { low: percent(23.0), target: percent(23.3), high: percent(23.6), reason: None };
    let expected: Vec<(f64, [f64; 3])> = (0..=120)
        .map(|minute| {
            let climb = |speed: f64| 23.4 * (1.0 - (-f64::from(minute) / speed).exp());
            (f64::from(minute), [climb(40.0), climb(25.0), climb(15.0)])
        })
        .collect();
    let panel = [(0.0, 0.0, 0.0, 0.0), (10.0, 6.0, 8.0, 7.0), (20.0, 11.0, 13.0, 12.0)];
    let begin: Timestamp = "2026-01-16T14:03:00Z".parse().unwrap();
    let chart = BuildUp {
        id: "b",
        panel: &panel,
        expected: &expected,
        begin: Some(begin),
        bench: &[(15.0, 10.5, 0.4)],
        spec: &spec,
        says: "",
    };
    let display = reader(Language::En, UnitSystem::Us);
    for size in Size::ALL {
        let svg = build_up(&chart, size, &display, &display.words);
        well_formed(&svg);
        let parsed = Document::parse(&svg).unwrap();
        let (band, middle) = (
            points(of_class(&parsed, "path", "c-band")[0]),
            points(of_class(&parsed, "path", "c-expected")[0]),
        );
        let count = middle.len();
        for (place, (_, y)) in middle.iter().enumerate() {
            let (low, high) = (band[place].1, band[2 * count - 1 - place].1);
            assert!(high - 0.1 <= *y && *y <= low + 0.1, "{place}: {high} {y} {low}");
        }
        // The first middle run of 23.0 per cent is at minute 101: −25 ln(1 − 23/23.4).
        let texts: Vec<&str> = parsed.descendants().filter_map(|node| node.text()).collect();
        assert!(texts.contains(&"in spec about 10:45\u{a0}AM"), "{texts:?}");
        assert!(texts.contains(&"12.0% now"), "{texts:?}");
    }
}

#[test]
fn the_cover_chart_ends_at_the_plans_need() {
    let yard = yard();
    let (plan, _) = january(&yard);
    for units in [UnitSystem::Us, UnitSystem::Si] {
        let display = reader(Language::En, units);
        let chart = CoverChart { id: "c", plan: &plan, with_work: true, says: "" };
        let svg = cover_chart(&chart, Size::Wide, &display, &display.words);
        let svg = Document::parse(&svg).unwrap();
        // Figures beside the axis say what a height is.
        let ticks: Vec<(f64, f64)> = of_class(&svg, "text", "c-tick")
            .into_iter()
            .filter(|text| text.attribute("class").unwrap().contains("c-end"))
            .filter_map(|text| {
                let shown = text.text().unwrap().split(' ').next().unwrap().replace([',', '\u{202f}'], "");
                Some((shown.parse::<f64>().ok()?, at(text, "y") - 5.0))
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
