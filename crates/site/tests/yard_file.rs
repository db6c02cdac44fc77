//! The yard file: what it accepts, and how it refuses.

use proptest::prelude::*;
use quantity::{
    in_celsius, in_cubic_metres, in_fahrenheit, in_feet, in_gallons, in_gallons_per_hour, in_hours,
    in_kelvins, in_kg_per_m3, in_kilograms, in_metres, in_metres_per_second, in_miles_per_hour, in_minutes,
    in_pounds, in_short_tons, minutes,
};
use site::Yard;
use site::yard_file::{Problem, field_docs, read_yard, sample_yard_file, yard_file_reference};
use site::{CoverFor, Insulation, ProductKind, UnitSystem};

/// The least a yard can be, in gallons and feet.
const SMALL: &str = r#"format = 1

[yard]
name = "Alder Creek yard"
time_zone = "America/Denver"

[plant]
making_rate_gal_h = 3000
water_rate_gpm = 60

[[tank]]
id = "T1"
orientation = "vertical"
diameter_ft = 12
straight_height_ft = 14

[loading]
pump_rate_gpm = 200

[[route_class]]
id = "main"
anti_icing = true
cycle_h = 1.5

[[truck]]
id = "K1"
tank_gal = 1800
spray_speed_mph = 30

[[route]]
id = "R1"
class = "main"
length_mi = 10
lanes = 2
"#;

/// The same yard, in SI.
const SMALL_SI: &str = r#"format = 1

[yard]
name = "Alder Creek yard"
time_zone = "America/Denver"
units = "si"
elevation_m = 0

[plant]
making_rate_m3_h = 11.356235352
rated_water_temp_c = 15.5555555555555556
rate_loss_pct_per_c = 0
water_rate_l_min = 227.12470704
start_up_h = 0.3333333333333333
settle_and_test_h = 1
water_usd_per_m3 = 0

[salt]
on_hand_kg = 0
usd_per_t = 0

[[tank]]
id = "T1"
orientation = "vertical"
diameter_mm = 3657.6
straight_height_m = 4.2672

[loading]
pump_rate_l_min = 757.0823568
hook_up_h = 0.0666666666666667

[[route_class]]
id = "main"
anti_icing = true
cycle_min = 90

[[truck]]
id = "K1"
tank_l = 6813.7412112
spray_speed_km_h = 48.28032

[[route]]
id = "R1"
class = "main"
length_km = 16.09344
lanes = 2
drive_h = 0.1666666666666667

[policy]
lead_min_min = 60
lead_max_min = 1440
block_below_c = -9.4444444444444444
warn_below_c = -6.6666666666666667
warn_wind_m_s = 6.7056
pavement_colder_f = 5.4
pavement_warmer_c = 2
"#;

fn problems(text: &str) -> Vec<Problem> {
    match read_yard(text, "yard.toml") {
        Ok(_) => panic!("reads without a problem:\n{text}"),
        Err(problems) => problems,
    }
}

fn yard(text: &str) -> Yard {
    read_yard(text, "yard.toml").unwrap_or_else(|problems| {
        panic!("{}", problems.iter().map(Problem::to_string).collect::<Vec<_>>().join("\n"))
    })
}

/// The only problem of a text.
fn only(text: &str) -> Problem {
    let mut all = problems(text);
    assert_eq!(all.len(), 1, "{all:#?}");
    all.remove(0)
}

/// The small yard with one line put in place of another, or added below it; exactly one problem, on that line.
fn one_wrong(old: &str, new: &str) -> Problem {
    assert_eq!(SMALL.matches(old).count(), 1, "{old}");
    let text = SMALL.replace(old, new);
    let problem = only(&text);
    let wrong = problem.key.rsplit('.').next().expect("a key").to_owned();
    let line = text.lines().nth(problem.line - 1).expect("a line");
    assert!(line.starts_with(&wrong) || line.starts_with('['), "{problem} is not on line {line:?}");
    problem
}

/// To 1e-7: the US gallon behind `quantity` is rounded to seven digits.
fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() <= 1e-7 * expected.abs().max(1.0), "{found} is not {expected}");
}

#[test]
fn the_small_yard_gets_the_documented_defaults() {
    let yard = yard(SMALL);
    assert_eq!(yard.units, UnitSystem::Us);
    near(in_metres(yard.elevation), 0.0);
    let plant = &yard.plant;
    assert_eq!(plant.product, "brine");
    near(in_gallons_per_hour(plant.making_rate), 3000.0);
    near(in_gallons_per_hour(plant.water_rate), 3600.0);
    near(in_fahrenheit(plant.rated_water_temperature), 60.0);
    near(in_fahrenheit(plant.water_temperature), 60.0);
    near(plant.rate_loss_per_kelvin, 0.0);
    near(in_minutes(plant.start_up), 20.0);
    near(in_minutes(plant.settle_and_test), 60.0);
    near(plant.target_strength.percent(), 23.3);
    near(plant.spec_low.percent(), 22.8);
    near(plant.spec_high.percent(), 23.8);
    near(yard.salt.purity.percent(), 95.0);
    near(yard.salt.moisture.percent(), 1.5);
    near(in_kilograms(yard.salt.opening), 0.0);
    assert_eq!((yard.products[0].id.as_str(), yard.products[0].name.as_str()), ("brine", "Salt brine"));
    assert!(matches!(yard.products[0].kind, ProductKind::SodiumChlorideBrine));
    let tank = &yard.tanks[0];
    assert_eq!((tank.product.as_str(), tank.insulation), ("brine", Insulation::None));
    // π 6² ft² × 14 ft × 1728/231 gal per cubic foot, less 5 %.
    let full = std::f64::consts::PI * 36.0 * 14.0 * 1728.0 / 231.0;
    near(in_gallons(tank.shape.full_volume()), full);
    near(in_gallons(tank.working_capacity()), 0.95 * full);
    assert!(tank.opening.is_none());
    near(in_feet(yard.routes[0].lane_length), 20.0 * 5280.0);
    near(in_minutes(yard.routes[0].drive), 10.0);
    assert_eq!(yard.routes[0].name, "R1");
    assert_eq!(yard.loading.places, 1);
    near(in_minutes(yard.loading.hook_up), 4.0);
    let crew = &yard.crew;
    assert_eq!((crew.making_from_hour, crew.making_to_hour), (6, 22));
    assert_eq!((crew.spraying_from_hour, crew.spraying_to_hour), (0, 24));
    let policy = &yard.policy;
    near(in_hours(policy.lead_min), 1.0);
    near(in_hours(policy.lead_max), 24.0);
    near(policy.waste_share, 0.05);
    assert_eq!(policy.cover_for, CoverFor::High);
    near(in_fahrenheit(policy.block_below), 15.0);
    near(in_fahrenheit(policy.warn_below), 20.0);
    near(in_miles_per_hour(policy.warn_wind), 15.0);
    near(in_kelvins(policy.pavement_colder), 3.0);
    near(in_kelvins(policy.pavement_warmer), 2.0);
    assert!(policy.rates_on.is_empty() && policy.rates_off.is_empty());
}

/// Conversions of the two texts: NIST Handbook 44, appendix C.
#[test]
fn the_same_yard_in_si_is_the_same_yard() {
    let (us, si) = (yard(SMALL), yard(SMALL_SI));
    assert_eq!((us.units, si.units), (UnitSystem::Us, UnitSystem::Si));
    let figures = |yard: &Yard| {
        vec![
            in_metres(yard.elevation),
            in_gallons_per_hour(yard.plant.making_rate),
            in_celsius(yard.plant.rated_water_temperature),
            in_celsius(yard.plant.water_temperature),
            yard.plant.rate_loss_per_kelvin,
            in_gallons_per_hour(yard.plant.water_rate),
            in_hours(yard.plant.start_up),
            in_hours(yard.plant.settle_and_test),
            yard.plant.water_usd_per_m3,
            in_kilograms(yard.salt.opening),
            yard.salt.usd_per_short_ton,
            in_metres(yard.tanks[0].shape.diameter()),
            in_metres(yard.tanks[0].shape.straight_length()),
            in_cubic_metres(yard.tanks[0].working_capacity()),
            in_gallons_per_hour(yard.loading.pump_rate),
            in_hours(yard.loading.hook_up),
            in_hours(yard.route_classes[0].cycle),
            in_cubic_metres(yard.trucks[0].tank),
            in_metres_per_second(yard.trucks[0].spray_speed),
            in_metres(yard.routes[0].length),
            in_metres(yard.routes[0].lane_length),
            in_hours(yard.routes[0].drive),
            in_hours(yard.policy.lead_min),
            in_hours(yard.policy.lead_max),
            in_celsius(yard.policy.block_below),
            in_celsius(yard.policy.warn_below),
            in_metres_per_second(yard.policy.warn_wind),
            in_kelvins(yard.policy.pavement_colder),
            in_kelvins(yard.policy.pavement_warmer),
        ]
    };
    for (place, (a, b)) in figures(&us).into_iter().zip(figures(&si)).enumerate() {
        assert!((a - b).abs() <= 1e-7 * a.abs().max(1.0), "figure {place}: {a} and {b}");
    }
}

#[test]
fn the_sample_file_reads_and_shows_every_key() {
    let text = sample_yard_file();
    let yard = yard(&text);
    assert_eq!((yard.tanks.len(), yard.routes.len(), yard.trucks.len(), yard.products.len()), (3, 2, 2, 2));
    near(in_short_tons(yard.salt.opening), 180.0);
    near(in_pounds(yard.trucks[0].liquid_limit.unwrap()), 17_000.0);
    near(yard.plant.rate_loss_per_kelvin, 0.009);
    let ProductKind::Declared { density, chloride, .. } = &yard.products[1].kind else {
        panic!("the second product is declared")
    };
    near(in_kg_per_m3(*density), 1280.0);
    near(chloride.percent(), 22.3);
    let freezing = yard.products[1].kind.freezing_as_delivered();
    near(in_fahrenheit(freezing.expect("the sample's sheet says where it freezes")), 2.0);
    let put_right = &yard.put_right;
    near(in_pounds(put_right.bucket.unwrap()), 5400.0);
    near(in_gallons(put_right.circulation_rate.unwrap() * minutes(1.0)), 150.0);
    near(in_gallons(put_right.transfer_rate.unwrap() * minutes(1.0)), 200.0);
    near(put_right.turnovers, 3.0);
    for doc in field_docs() {
        assert!(text.contains(&format!("{} = ", doc.keys[0])), "{doc:?}");
        assert!(!doc.meaning.is_empty() && !doc.default.is_empty() && !doc.accepted.is_empty(), "{doc:?}");
    }
    assert!(text.lines().all(|line| line.chars().count() <= 110), "{text}");
}

/// Every default with a number or a word says why, and the reference shows it.
#[test]
fn every_default_has_a_reason() {
    let reference = yard_file_reference();
    for doc in field_docs() {
        let fixed = doc.default.starts_with(|c: char| c.is_ascii_digit() || c == '"');
        assert!(!fixed || !doc.reason.is_empty(), "{doc:?}");
        assert!(doc.keys.iter().all(|key| reference.contains(&format!("`{key}`"))));
        assert!(reference.contains(doc.reason) && reference.contains(doc.meaning));
    }
    assert!(reference.contains("AASHTO M 143-14, clause 5.1"));
    assert!(reference.contains("common practice, no source"));
}

/// Marked lines are wrong; each must be reported, in order, and nothing else.
#[test]
fn eleven_mistakes_are_reported_at_once_by_line() {
    let text = r#"format = 1
[yard]
name = "Alder Creek yard"
time_zone = "America/Denvr" # 1
[plant]
making_rate_gal_h = -5 # 2
water_rate_gpm = "60" # 3
target_strength_pct = 0.233 # 4
colour = "red" # 5
[[tank]]
id = "T1"
orientation = "upright" # 6
diameter_ft = 12
diameter_m = 3.6 # 7
straight_height_ft = 14
[[tank]] # 8
id = "T2"
orientation = "vertical"
straight_height_ft = 14
[loading]
pump_rate_gpm = nan # 9
[[route_class]]
id = "main"
anti_icing = true
cycle_h = 1.5
[[route]]
id = "R1"
class = "mian" # 10
length_mi = 10
lanes = 2
[policy]
waste_share = 5 # 11
"#;
    let expected: Vec<usize> =
        text.lines().enumerate().filter(|(_, line)| line.contains('#')).map(|(at, _)| at + 1).collect();
    let found = problems(text);
    let shown: Vec<String> = found.iter().map(Problem::to_string).collect();
    assert_eq!(found.iter().map(|problem| problem.line).collect::<Vec<_>>(), expected, "{shown:#?}");
    let wanted = [
        "yard.toml:4: yard.time_zone = \"America/Denvr\": is not a time zone that is known here; accepted: an IANA name such as \"America/Denver\"; did you mean \"America/Denver\"?",
        "yard.toml:6: plant.making_rate_gal_h = -5: must be above zero; accepted: 1…100,000 gal/h",
        "yard.toml:7: plant.water_rate_gpm = \"60\": must be a number, without quotation marks; accepted: 0.1…5,000 gal/min",
        "yard.toml:8: plant.target_strength_pct = 0.233: looks like a fraction; write 23.3; accepted: 0…26.3 %",
        "yard.toml:9: plant.colour = \"red\": is not a key of [plant]; accepted: product, making_rate_gal_h, ",
        "yard.toml:12: tank[1].orientation = \"upright\": is not one of the accepted words; accepted: \"vertical\", \"horizontal\"",
        "yard.toml:14: tank[1].diameter_m = 3.6: diameter_ft is given as well; keep one of them",
        "yard.toml:16: tank[2].diameter_ft: is missing from [[tank]] number 2 at line 16; accepted: 1…100 ft; or diameter_in, diameter_m, diameter_mm",
        "yard.toml:21: loading.pump_rate_gpm = nan: must be a finite number; accepted: 1…5,000 gal/min",
        "yard.toml:28: route[1].class = \"mian\": there is no [[route_class]] with this id; accepted: main; did you mean \"main\"?",
        "yard.toml:32: policy.waste_share = 5: looks like per cent; write 0.05; accepted: 0…0.5",
    ];
    for (shown, wanted) in shown.iter().zip(wanted) {
        assert!(shown.starts_with(wanted), "{shown}\n{wanted}");
    }
}

#[test]
fn a_misspelt_key_is_one_problem_with_a_suggestion() {
    let problem = one_wrong("making_rate_gal_h", "makng_rate_gal_h");
    assert_eq!(problem.suggestion.as_deref(), Some("making_rate_gal_h"));
    let problem = one_wrong("diameter_ft", "diamter_ft");
    assert_eq!(problem.suggestion.as_deref(), Some("diameter_ft"));
    let problem = one_wrong("water_rate_gpm", "water_rate");
    assert!(problem.message.contains("must end with a unit"), "{problem}");
    assert!(problem.accepted.unwrap().starts_with("water_rate_gpm, water_rate_l_min"));
    let problem = one_wrong("tank_gal = 1800", "tank_bbl = 40");
    assert_eq!(problem.accepted.as_deref(), Some("tank_gal, tank_l, tank_m3"));
    let problem = one_wrong("[loading]\n", "[loading]\nmaking_hours = \"00:00-24:00\"\n");
    assert_eq!(problem.message, "is not a key of [loading], it belongs under [crew]");
}

#[test]
fn unknown_and_misplaced_tables() {
    let problem = only(&SMALL.replace("[plant]", "[plnat]"));
    assert_eq!((problem.line, problem.suggestion.as_deref()), (7, Some("plant")));
    let problem = only(&SMALL.replace("[[tank]]", "[tank]"));
    assert_eq!(
        (problem.line, problem.message.as_str()),
        (11, "must be written [[tank]], any number of times")
    );
    let problem = only(&SMALL.replace("[plant]", "[[plant]]"));
    assert_eq!((problem.line, problem.message.as_str()), (7, "must be written [plant], once"));
    let problem = only(&SMALL.replace("format = 1\n", "format = 1\nwarn_wind_mph = 20\n"));
    assert_eq!(
        (problem.line, problem.message.as_str()),
        (2, "stands above every table, it belongs under [policy]")
    );
    let problem = only(&format!("{SMALL}\n[quartz]\nx = 1\n"));
    assert!(problem.accepted.unwrap().starts_with("yard, plant, salt, product, tank"));
    let problem = only(&SMALL.replace("[loading]\npump_rate_gpm = 200\n", ""));
    assert_eq!(problem.to_string(), "yard.toml:1: loading: [loading] is missing: it is required");
    let keys: Vec<String> = problems("").into_iter().map(|problem| problem.key).collect();
    assert_eq!(keys, ["yard", "plant", "tank", "loading", "format"]);
}

#[test]
fn inline_tables_are_as_good() {
    let text = SMALL.replace(
        "[[truck]]\nid = \"K1\"\ntank_gal = 1800\nspray_speed_mph = 30\n",
        "[crew]\nmaking_hours = \"22:00-06:00\"\n",
    );
    let text = text.replace(
        "format = 1\n",
        "format = 1\ntruck = [{ id = \"K1\", tank_gal = 1800, spray_speed_mph = 30 },\n { id = \"K2\", tank_gal = 900, spray_speed_mph = 25 }]\nsalt.purity_pct = 97\n",
    );
    let yard = yard(&text);
    assert_eq!(yard.trucks.len(), 2);
    near(yard.salt.purity.percent(), 97.0);
    assert_eq!((yard.crew.making_from_hour, yard.crew.making_to_hour), (22, 6));
    let problem = only(&text.replace("tank_gal = 900", "tank_gal = 0"));
    assert_eq!((problem.line, problem.key.as_str()), (3, "truck[2].tank_gal"));
    let problem = only(&text.replace("purity_pct = 97", "purity_pct = 970"));
    assert_eq!((problem.line, problem.key.as_str()), (4, "salt.purity_pct"));
}

#[test]
fn fractions_and_per_cents_mixed_up() {
    let add = |table: &str, line: &str| only(&format!("{SMALL}\n[{table}]\n{line}\n"));
    assert_eq!(add("salt", "purity_pct = 0.96").message, "looks like a fraction; write 96");
    assert_eq!(add("salt", "purity_pct = 1").message, "looks like a fraction; write 100");
    assert_eq!(add("policy", "waste_share = 5").message, "looks like per cent; write 0.05");
    let problem = one_wrong("making_rate_gal_h = 3000", "making_rate_gal_h = 3000\nspec_low_pct = 0.228");
    assert_eq!(problem.message, "looks like a fraction; write 22.8");
    let problem = one_wrong("diameter_ft = 12", "diameter_ft = 12\nfreeboard_pct = 0.05");
    assert_eq!(problem.message, "looks like a fraction; write 5");
    let problem =
        one_wrong("diameter_ft = 12", "diameter_ft = 12\nopening_gal = 900\nopening_strength_pct = 0.231");
    assert_eq!(problem.message, "looks like a fraction; write 23.1");
    // Half a per cent of moisture is dry salt, not a slip.
    near(yard(&format!("{SMALL}\n[salt]\nmoisture_pct = 0.5\n")).salt.moisture.percent(), 0.5);
}

#[test]
fn gallons_and_litres_mixed_up() {
    // The tank of the small yard holds 11,844 gal, 44,836 L.
    let plate = |line: &str| one_wrong("diameter_ft = 12", &format!("diameter_ft = 12\n{line}"));
    let problem = plate("nameplate_gal = 44800");
    assert!(
        problem.message.starts_with("looks like litres: the plate says 44,800 gal (169.6 m³)"),
        "{problem}"
    );
    assert!(problem.message.ends_with("the measures hold 11,840 gal (44.84 m³)"), "{problem}");
    assert!(plate("nameplate_l = 12000").message.starts_with("looks like gallons: "));
    assert!(plate("nameplate_gal = 3200").message.starts_with("looks like gallons taken for litres"));
    assert!(plate("nameplate_m3 = 170").message.starts_with("looks like litres and gallons mixed up"));
    assert!(plate("nameplate_gal = 8000").message.starts_with("differs from the measures by more than 25 %"));
    for good in ["nameplate_gal = 12000", "nameplate_l = 45000", "nameplate_m3 = 50"] {
        yard(&SMALL.replace("diameter_ft = 12", &format!("diameter_ft = 12\n{good}")));
    }
    let problem = one_wrong("tank_gal = 1800", "tank_gal = 6800");
    assert_eq!(problem.message, "looks like litres; write tank_l = 6800");
    assert_eq!(problem.accepted.as_deref(), Some("20…6,500 gal"));
    let problem = one_wrong("tank_gal = 1800", "tank_gal = 68000");
    assert_eq!(problem.message, "is too large");
    let problem = one_wrong("tank_gal = 1800", "tank_l = 30000");
    assert_eq!(problem.accepted.as_deref(), Some("75.71…24,610 L"));
}

#[test]
fn room_in_a_tank() {
    let tank = |lines: &str| one_wrong("diameter_ft = 12", &format!("diameter_ft = 12\n{lines}"));
    let problem = tank("opening_gal = 11500");
    assert_eq!(problem.key, "tank[1].opening_gal");
    assert_eq!(problem.accepted.as_deref(), Some("up to 11,250 gal (42.59 m³), full less freeboard"));
    let problem = tank("heel_gal = 11400");
    assert!(problem.message.contains("leave nothing of the full 11,840 gal"), "{problem}");
    assert!(tank("freeboard_gal = 11900").message.contains("leave nothing"));
    assert!(tank("freeboard_gal = 600\nfreeboard_pct = 5").message.contains("keep one of them"));
    assert!(tank("opening_strength_pct = 23").message.contains("says nothing without it"));
    let full =
        yard(&SMALL.replace("diameter_ft = 12", "diameter_ft = 12\nopening_gal = 9000\nfreeboard_l = 400"));
    let opening = full.tanks[0].opening.unwrap();
    near(in_gallons(opening.volume), 9000.0);
    near(opening.strength.unwrap().percent(), 23.3);
    near(in_cubic_metres(full.tanks[0].freeboard), 0.4);
}

#[test]
fn shapes_and_the_keys_that_go_with_them() {
    let tank = |lines: &str| SMALL.replace("orientation = \"vertical\"", lines);
    let wrong = |lines: &str| only(&tank(lines)).to_string();
    assert!(
        wrong("orientation = \"vertical\"\nends = \"flat\"").contains("is for a horizontal tank; use bottom")
    );
    assert!(
        wrong("orientation = \"horizontal\"\nbottom = \"flat\"").contains("is for a vertical tank; use ends")
    );
    assert!(
        wrong("orientation = \"vertical\"\nbottom = \"conical\"")
            .contains("tank[1].end_depth_ft: is missing")
    );
    assert!(wrong("orientation = \"vertical\"\nend_depth_ft = 2").contains("not for flat ones"));
    assert!(
        wrong("orientation = \"vertical\"\nbottom = \"flat\"\ncrown_ratio = 1")
            .contains("torispherical ends only")
    );
    let dished = "orientation = \"vertical\"\nbottom = \"torispherical\"";
    assert!(wrong(&format!("{dished}\nknuckle_ratio = 6")).contains("looks like per cent; write 0.06"));
    let problem = only(&tank("orientation = \"vertical\"\nbottom = \"elipticall\"\n"));
    assert_eq!(problem.suggestion.as_deref(), Some("elliptical"));
    // The dished bottom of tank V4 in tests/data/tank_volume.csv (fluids 1.3.1): 1.119730 m³ on 2.4 m.
    let text = tank(dished).replace("diameter_ft = 12", "diameter_m = 2.4");
    let text = text.replace("straight_height_ft = 14", "straight_height_m = 3.0");
    let found = in_cubic_metres(yard(&text).tanks[0].shape.full_volume());
    assert!((found - 14.691410).abs() < 1e-6, "{found}");
    let lying = tank("orientation = \"horizontal\"\nends = \"hemispherical\"");
    let full = in_feet(yard(&lying).tanks[0].shape.full_height());
    near(full, 12.0);
}

#[test]
fn references_must_exist() {
    let problem = one_wrong("lanes = 2", "lanes = 2\ntruck = \"K2\"");
    assert_eq!((problem.accepted.as_deref(), problem.suggestion), (Some("K1"), None));
    let problem = one_wrong("lanes = 2", "lanes = 2\ntruck = \"k1\"");
    assert_eq!(problem.suggestion.as_deref(), Some("K1"));
    assert!(one_wrong("class = \"main\"", "class = \"maim\"").message.contains("no [[route_class]]"));
    let problem = one_wrong("id = \"T1\"", "id = \"T1\"\nproduct = \"brin\"");
    assert_eq!(problem.suggestion.as_deref(), Some("brine"));
    let problem = one_wrong("making_rate_gal_h = 3000", "product = \"brime\"\nmaking_rate_gal_h = 3000");
    assert_eq!((problem.key.as_str(), problem.suggestion.as_deref()), ("plant.product", Some("brine")));
    // A misspelt table does not make every reference to it wrong too.
    assert_eq!(
        only(&SMALL.replace("[[route_class]]", "[[route_clas]]")).suggestion.as_deref(),
        Some("route_class")
    );
}

#[test]
fn ids_are_unique() {
    let text = format!("{SMALL}\n[[truck]]\nid = \"K1\"\ntank_gal = 900\nspray_speed_mph = 25\n");
    let problem = only(&text);
    assert_eq!(problem.message, "is used twice: [[truck]] number 1 has it too");
    assert_eq!((problem.key.as_str(), problem.line), ("truck[2].id", 37));
}

const MAGNESIUM: &str = r#"
[[product]]
id = "mag"
kind = "declared"
density_lb_gal = 10.8
chloride_pct = 22.3
source = "supplier's sheet"
"#;

#[test]
fn products() {
    let problem = only(&format!("{SMALL}{MAGNESIUM}"));
    assert_eq!(problem.message, "no [[product]] is of kind \"brine\"; a plant makes brine");
    let both = format!("{SMALL}{MAGNESIUM}\n[[product]]\nid = \"b\"\nkind = \"brine\"\n");
    let read = yard(&both);
    assert_eq!((read.plant.product.as_str(), read.tanks[0].product.as_str()), ("b", "b"));
    let ProductKind::Declared { density, density_temperature, .. } = read.products[0].kind else {
        panic!("declared")
    };
    // 1 lb/gal = 119.8264 kg/m³, NIST SP 811, B.8.
    assert!((in_kg_per_m3(density) - 10.8 * 119.8264).abs() < 1e-3);
    near(in_fahrenheit(density_temperature), 60.0);
    let problem = only(
        &both
            .replace("making_rate_gal_h", "product = \"mag\"\nmaking_rate_gal_h")
            .replace("id = \"T1\"", "id = \"T1\"\nproduct = \"b\""),
    );
    assert_eq!(problem.message, "is not of kind \"brine\"; a plant makes brine", "{problem}");
    let problem = only(&both.replace("id = \"T1\"", "id = \"T1\"\nproduct = \"mag\""));
    assert_eq!(problem.message, "no [[tank]] is for \"b\", which the plant makes");
    let problem = only(&both.replace("kind = \"brine\"", "kind = \"brine\"\nchloride_pct = 14"));
    assert!(problem.message.contains("is for kind \"declared\" only"), "{problem}");
    let problem = only(&both.replace("source = \"supplier's sheet\"\n", ""));
    assert!(problem.message.contains("kind \"declared\" needs it"), "{problem}");
    assert_eq!(only(&both.replace("22.3", "0.223")).message, "looks like a fraction; write 22.3");
    let problem = only(&format!(
        "{both}\n[[tank]]\nid = \"M\"\nproduct = \"mag\"\norientation = \"vertical\"\ndiameter_ft = 8\nstraight_height_ft = 8\nopening_gal = 100\nopening_strength_pct = 20\n"
    ));
    assert!(problem.message.starts_with("is for brine only"), "{problem}");
}

/// A row of the freezing table of [`MAGNESIUM`] in a yard that also has a brine.
fn freezing_row(share: &str, temperature: &str) -> String {
    format!("\n[[product_freezing]]\nproduct = \"mag\"\nshare_pct = {share}\n{temperature}\n")
}

fn with_magnesium() -> String {
    format!("{SMALL}{MAGNESIUM}\n[[product]]\nid = \"b\"\nkind = \"brine\"\n")
}

#[test]
fn a_freezing_table_is_sorted_and_never_read_between_its_rows() {
    let base = with_magnesium();
    let none = yard(&base);
    assert!(none.products[0].kind.freezing_as_delivered().is_none(), "no table");
    assert_eq!(none.products[0].kind.source(), Some("supplier's sheet"));
    assert!(none.products[1].kind.freezing_as_delivered().is_none(), "brine is predicted");
    assert!(none.products[1].kind.source().is_none());
    let rows = [freezing_row("100", "freezing_temp_c = -16.7"), freezing_row("75", "freezing_temp_f = -17")]
        .concat();
    let read = yard(&format!("{base}{rows}"));
    let ProductKind::Declared { freezing, .. } = &read.products[0].kind else { panic!("declared") };
    let shares: Vec<f64> = freezing.iter().map(|row| row.share_pct).collect();
    assert!(shares.len() == 2 && shares[0] < shares[1], "{shares:?}");
    near(in_fahrenheit(freezing[0].temperature), -17.0);
    near(in_celsius(read.products[0].kind.freezing_as_delivered().unwrap()), -16.7);
    let near_only = format!(
        "{base}{}{}",
        freezing_row("99", "freezing_temp_f = 2"),
        freezing_row("75", "freezing_temp_f = -17")
    );
    assert!(yard(&near_only).products[0].kind.freezing_as_delivered().is_none(), "99 % is not as delivered");
}

#[test]
fn a_wrong_freezing_row_is_named() {
    let base = with_magnesium();
    let wrong = |rows: &str| only(&format!("{base}{rows}"));
    let row = freezing_row("100", "freezing_temp_f = 2");
    let problem = wrong(&row.replace("\"mag\"", "\"b\""));
    assert!(problem.message.contains("the freezing of brine is predicted"), "{problem}");
    assert_eq!(
        (problem.key.as_str(), problem.accepted.as_deref()),
        ("product_freezing[1].product", Some("mag"))
    );
    let problem = wrong(&row.replace("\"mag\"", "\"mga\""));
    assert_eq!((problem.suggestion.as_deref(), problem.value.as_deref()), (Some("mag"), Some("\"mga\"")));
    let problem = wrong(&[row.clone(), freezing_row("100.0", "freezing_temp_f = 3")].concat());
    assert!(problem.message.contains("row 1 of that product has 100 % too"), "{problem}");
    assert_eq!(problem.key, "product_freezing[2].share_pct");
    for (share, message) in [
        ("0", "must be above zero"),
        ("-1", "must be above zero"),
        ("1", "looks like a fraction; write 100"),
        ("0.5", "looks like a fraction; write 50"),
        ("100.1", "is too large"),
    ] {
        let problem = wrong(&freezing_row(share, "freezing_temp_f = 2"));
        assert_eq!((problem.message.as_str(), problem.accepted.as_deref()), (message, Some("1…100 %")));
    }
    let problem = wrong(&freezing_row("100", "freezing_temp = 2"));
    assert_eq!(problem.accepted.as_deref(), Some("freezing_temp_f, freezing_temp_c"));
    assert_eq!(wrong(&freezing_row("100", "freezing_temp_f = 33")).message, "is too large");
    assert!(
        wrong(&freezing_row("100", "")).message.starts_with("is missing from [[product_freezing]] number 1")
    );
}

#[test]
fn what_a_tank_is_put_right_with() {
    let left_out = yard(SMALL).put_right;
    assert!(left_out.bucket.is_none() && left_out.circulation_rate.is_none());
    assert!(left_out.transfer_rate.is_none());
    near(left_out.turnovers, 3.0);
    let given = |lines: &str| format!("{SMALL}\n[put_right]\n{lines}\n");
    let read =
        yard(&given("bucket_tons = 2.7\ncirculation_l_min = 600\nturnovers = 0.5\ntransfer_m3_h = 45"));
    near(in_pounds(read.put_right.bucket.unwrap()), 5400.0);
    near(in_cubic_metres(read.put_right.circulation_rate.unwrap() * minutes(1.0)), 0.6);
    near(in_cubic_metres(read.put_right.transfer_rate.unwrap() * minutes(60.0)), 45.0);
    near(read.put_right.turnovers, 0.5);
    near(in_kilograms(yard(&given("bucket_kg = 2400")).put_right.bucket.unwrap()), 2400.0);
    near(yard(&given("turnovers = 20")).put_right.turnovers, 20.0);
    for (line, message) in [
        ("turnovers = 0.4", "is too small"),
        ("turnovers = 21", "is too large"),
        ("bucket_lb = 0", "must be above zero"),
        ("circulation_gpm = 0", "must be above zero"),
        ("transfer_gpm = 9000", "is too large"),
    ] {
        let problem = only(&given(line));
        assert_eq!(problem.message, message, "{problem}");
    }
    let problem = only(&given("bucket_lb = 5400\nbucket_kg = 2400"));
    assert_eq!(problem.message, "bucket_lb is given as well; keep one of them");
}

#[test]
fn what_must_be_in_order() {
    let plant =
        |line: &str| one_wrong("making_rate_gal_h = 3000", &format!("making_rate_gal_h = 3000\n{line}"));
    let problem = plant("target_strength_pct = 20");
    assert_eq!(problem.message, "target_strength_pct (20) must be above spec_low_pct (22.8)");
    assert_eq!(plant("spec_high_pct = 23").key, "plant.spec_high_pct");
    assert_eq!(plant("spec_high_pct = 27").message, "is too large");
    assert_eq!(plant("rate_loss_pct_per_f = 5\nwater_temp_f = 35").key, "plant.rate_loss_pct_per_f");
    let policy = |lines: &str| only(&format!("{SMALL}\n[policy]\n{lines}\n"));
    assert_eq!(policy("block_below_f = 25").message, "must not be above warn_below");
    assert_eq!(policy("warn_below_c = -12").message, "must not be below block_below, which has its default");
    assert_eq!(policy("lead_min_h = 30").key, "policy.lead_min_h");
    assert!(
        policy("rates_on = [\"a\"]\nrates_off = [\"b\", \"a\"]").message.contains("\"a\" is switched on")
    );
    assert_eq!(policy("rates_on = [1]").message, "must be a list of texts");
}

#[test]
fn lanes_and_lane_length() {
    let problem = one_wrong("lanes = 2", "lanes = 2\nlane_miles = 25");
    assert_eq!(
        problem.message,
        "differs by more than 10 % from length times lanes, 20 lane miles (32.19 lane km)"
    );
    near(
        in_feet(yard(&SMALL.replace("lanes = 2", "lanes = 2\nlane_miles = 21")).routes[0].lane_length),
        21.0 * 5280.0,
    );
    near(yard(&SMALL.replace("lanes = 2", "lane_km = 40.2336")).routes[0].lanes, 2.5);
    assert!(one_wrong("lanes = 2\n", "").message.contains("give it or the lane length"));
}

#[test]
fn hours_of_the_day() {
    let crew = |hours: &str| format!("{SMALL}\n[crew]\nmaking_hours = \"{hours}\"\n");
    let good = yard(&crew("6:00 - 14:00")).crew;
    assert_eq!((good.making_from_hour, good.making_to_hour), (6, 14));
    for (bad, why) in [
        ("06:30-22:00", "whole hours"),
        ("06:00-25:00", "past 24:00"),
        ("06:00", "two times of day"),
        ("6-22", "two times of day"),
        ("06:00-06:00", "same hour"),
        ("24:00-06:00", "write 00:00"),
        ("-1:00-06:00", "two times of day"),
    ] {
        let problem = only(&crew(bad));
        assert!(problem.message.contains(why), "{problem}");
        assert_eq!(problem.line, 37);
    }
}

#[test]
fn one_clear_problem_for_a_newer_layout_and_for_broken_toml() {
    let problem = only("format = 2\n[something]\nnew = true\n");
    assert_eq!(
        problem.to_string(),
        "yard.toml:1: format = 2: this file is of a newer layout than this program reads; use a newer program; accepted: 1"
    );
    let problem = only(&SMALL.replace("lanes = 2", "lanes = = 2"));
    assert_eq!((problem.line, problem.key.as_str()), (34, ""));
    assert!(problem.to_string().starts_with("yard.toml:34: not valid TOML: "), "{problem}");
    let problem = only(&SMALL.replace("lanes = 2", "lanes = 2\nlanes = 2"));
    assert!(problem.message.contains("duplicate key") && problem.line == 35, "{problem}");
    assert_eq!(only(&SMALL.replace("format = 1\n", "")).key, "format");
    assert_eq!(only(&SMALL.replace("format = 1\n", "format = \"1\"\n")).key, "format");
}

#[test]
fn windows_line_ends_and_wrong_types() {
    yard(&SMALL.replace('\n', "\r\n"));
    let problem = only(&SMALL.replace("lanes = 2", "lanes = true").replace('\n', "\r\n"));
    assert_eq!((problem.line, problem.message.as_str()), (34, "must be a number"));
    assert_eq!(
        one_wrong("anti_icing = true", "anti_icing = \"yes\"").message,
        "must be true or false, without quotation marks"
    );
    assert_eq!(one_wrong("id = \"T1\"", "id = 1").message, "must be a text in quotation marks");
    assert_eq!(one_wrong("id = \"T1\"", "id = \" \"").message, "is blank");
    assert_eq!(
        one_wrong("pump_rate_gpm = 200", "pump_rate_gpm = 200\nplaces = 1.5").message,
        "must be a whole number"
    );
    assert_eq!(one_wrong("pump_rate_gpm = 200", "pump_rate_gpm = inf").message, "must be a finite number");
    assert_eq!(one_wrong("length_mi = 10", "length_mi = { a = 1 }").message, "must be a number");
}

proptest! {
    #[test]
    fn any_text_gives_an_answer(text in "(?s).{0,300}") {
        let _ = read_yard(&text, "yard.toml");
    }

    /// The sample, cut and patched at random: problems in order of line, all within the file.
    #[test]
    fn a_damaged_file_gives_an_answer(
        from in 0.0..1.0_f64,
        length in 0usize..40,
        patch in "[ -~\n]{0,12}",
    ) {
        let mut characters: Vec<char> = SMALL.chars().collect();
        let start = (from * characters.len() as f64) as usize;
        let end = (start + length).min(characters.len());
        characters.splice(start..end, patch.chars());
        let text: String = characters.into_iter().collect();
        if let Err(problems) = read_yard(&text, "yard.toml") {
            prop_assert!(!problems.is_empty());
            prop_assert!(problems.is_sorted_by_key(|problem| problem.line));
            prop_assert!(problems.iter().all(|problem| problem.line <= text.lines().count() + 1));
        }
    }

    /// Values of any type and size under every key.
    #[test]
    fn any_value_under_any_key_gives_an_answer(
        index in 0usize..200,
        value in prop_oneof![
            any::<f64>().prop_map(|v| format!("{v:?}").replace("NaN", "nan")),
            any::<i64>().prop_map(|v| v.to_string()),
            Just("\"text\"".to_owned()),
            Just("[]".to_owned()),
            Just("{}".to_owned()),
            Just("1979-05-27".to_owned()),
        ],
    ) {
        let keys: Vec<_> = field_docs()
            .into_iter()
            .flat_map(|doc| doc.keys.into_iter().map(move |key| (doc.table, key)))
            .collect();
        let (table, key) = &keys[index % keys.len()];
        let many = sample_yard_file().contains(&format!("[[{table}]]"));
        let header = match (table.is_empty(), many) {
            (true, _) => String::new(),
            (false, true) => format!("[[{table}]]"),
            (false, false) => format!("[{table}]"),
        };
        let _ = read_yard(&format!("{header}\n{key} = {value}\n"), "yard.toml");
    }
}

/// Instruments as registered, or the two that are supplied; what does not go together is said.
#[test]
fn the_bench_has_instruments() {
    let sample = read_yard(&sample_yard_file(), "yard.toml").unwrap();
    let ids: Vec<&str> = sample.instruments.iter().map(|one| one.id.as_str()).collect();
    assert_eq!(ids, ["hydrometer", "refractometer", "shop"]);
    let compensates = bench::instrument::Scale::Refractometer {
        scale: bench::instrument::RefractometerScale::Brix,
        compensated: true,
    };
    assert_eq!(sample.instruments[1].card.scale, compensates);
    let own = "\n[[instrument]]\nid = \"float\"\nscale = \"baume\"\nresolution = 0.5\n";
    let yard = read_yard(&format!("{SMALL}{own}"), "yard.toml").unwrap();
    assert_eq!(yard.instruments.len(), 1);
    assert!((yard.instruments[0].card.resolution - 0.5).abs() < 1e-12);
    assert_eq!(read_yard(SMALL, "yard.toml").unwrap().instruments.len(), 2, "two are supplied");
    let wrong = "\n[[instrument]]\nid = \"float\"\nscale = \"baum\"\n[[instrument]]\nid = \"f2\"\n\
                 scale = \"baume\"\ncompensated = true\nalpha_pct_per_k = 2\n";
    let problems = read_yard(&format!("{SMALL}{wrong}"), "yard.toml").unwrap_err();
    let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
    assert_eq!(told.len(), 3, "{told:?}");
    assert!(told[0].contains("\"baum\"") && told[0].contains("baume"), "{told:?}");
    assert!(told[1].contains("refractometers only") && told[2].contains("conductivity"), "{told:?}");
}

/// Targets and bands: a tank's own before its product's before the plant's; what does not hang together is said.
#[test]
fn specs_go_by_tank_then_product_then_plant() {
    let percent = |strength: chemistry::MassFraction| strength.percent();
    let of = |text: &str, tank: &str| {
        let spec = read_yard(text, "yard.toml").unwrap().spec(tank);
        (percent(spec.target), percent(spec.low), percent(spec.high))
    };
    let tank = read_yard(SMALL, "yard.toml").unwrap().tanks[0].id.clone();
    assert_eq!(of(SMALL, &tank), (23.3, 22.8, 23.8));
    let product = format!(
        "{SMALL}\n[[spec]]\nproduct = \"brine\"\ntarget_strength_pct = 23.0\nspec_low_pct = 22.0\nspec_high_pct = 23.5\n"
    );
    assert_eq!(of(&product, &tank), (23.0, 22.0, 23.5));
    let both = format!(
        "{product}[[spec]]\ntank = \"{tank}\"\ntarget_strength_pct = 23.2\nspec_low_pct = 22.9\nspec_high_pct = 23.6\n"
    );
    assert_eq!(of(&both, &tank), (23.2, 22.9, 23.6));
    let wrong = format!(
        "{SMALL}\n[[spec]]\ntarget_strength_pct = 23.0\nspec_low_pct = 22.0\nspec_high_pct = 23.5\n\
         [[spec]]\ntank = \"no\"\ntarget_strength_pct = 23.0\nspec_low_pct = 23.2\nspec_high_pct = 23.5\n"
    );
    let told: Vec<String> =
        read_yard(&wrong, "yard.toml").unwrap_err().iter().map(ToString::to_string).collect();
    assert!(
        told.len() == 2 && told[0].contains("or a product") && told[1].contains("no [[tank]]"),
        "{told:?}"
    );
}

/// A printed scale by its points: two at least, one way, for an instrument that has such a scale.
#[test]
fn a_printed_scale_comes_with_its_points() {
    let points = |rows: &[(f64, f64)]| {
        let row = |(pct, shown): &(f64, f64)| {
            format!("[[printed_scale]]\ninstrument = \"own\"\nstrength_pct = {pct}\nshown = {shown}\n")
        };
        let all: String = rows.iter().map(row).collect();
        format!("{SMALL}\n[[instrument]]\nid = \"own\"\nscale = \"printed\"\n{all}")
    };
    assert!(read_yard(&points(&[(26.0, 100.0), (0.0, 0.0)]), "yard.toml").is_ok(), "any order");
    for (wrong, said) in
        [(&[(0.0, 0.0)][..], "at least 2"), (&[(0.0, 0.0), (9.0, 1.0), (20.0, 0.5)], "the way")]
    {
        let told = read_yard(&points(wrong), "yard.toml").unwrap_err()[0].to_string();
        assert!(told.contains("[[printed_scale]] cannot be used") && told.contains(said), "{told}");
    }
    let other = points(&[(26.0, 100.0), (0.0, 0.0)]).replace("\"printed\"", "\"brix\"");
    assert!(read_yard(&other, "yard.toml").unwrap_err()[0].to_string().contains("another kind"));
}
