//! What is wrong with a file: everything at once, each at its line.

use crate::small::{SMALL, accepted, near, one_wrong, only, problems, shown, what, yard};
use proptest::prelude::*;
use site::yard_file::{field_docs, read_yard, sample_yard_file};

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
    let shown: Vec<String> = found.iter().map(shown).collect();
    assert_eq!(found.iter().map(|problem| problem.line).collect::<Vec<_>>(), expected, "{shown:#?}");
    let wanted = [
        "yard.toml:4: yard.time_zone = \"America/Denvr\": site.file.time_zone; accepted: site.accepted.time_zone; did you mean \"America/Denver\"?",
        "yard.toml:6: plant.making_rate_gal_h = -5: site.file.above_zero; accepted: site.accepted.quantity (low = 1, high = 100000, unit = gal/h)",
        "yard.toml:7: plant.water_rate_gpm = \"60\": site.file.number_unquoted; accepted: site.accepted.quantity (low = 0.1, high = 5000, unit = gal/min)",
        "yard.toml:8: plant.target_strength_pct = 0.233: site.file.fraction (write = 23.3); accepted: site.accepted.percent (low = 0, high = 26.3)",
        "yard.toml:9: plant.colour = \"red\": site.file.no_key (table = [plant]); accepted: product, making_rate_gal_h, ",
        "yard.toml:12: tank[1].orientation = \"upright\": site.file.word; accepted: \"vertical\", \"horizontal\"",
        "yard.toml:14: tank[1].diameter_m = 3.6: site.file.given_as_well (key = diameter_ft)",
        "yard.toml:16: tank[2].diameter_ft: site.file.missing_from_one (table = [[tank]], number = 2, line = 16); accepted: site.accepted.or_keys (accepted = site.accepted.quantity (low = 1, high = 100, unit = ft), keys = diameter_in, diameter_m, diameter_mm)",
        "yard.toml:21: loading.pump_rate_gpm = nan: site.file.finite; accepted: site.accepted.quantity (low = 1, high = 5000, unit = gal/min)",
        "yard.toml:28: route[1].class = \"mian\": site.file.no_such_id (table = [[route_class]]); accepted: main; did you mean \"main\"?",
        "yard.toml:32: policy.waste_share = 5: site.file.percent (write = 0.05); accepted: site.accepted.number (low = 0, high = 0.5)",
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
    assert!(what(&problem) == "site.file.unit_ending", "{problem}");
    assert!(accepted(&problem).unwrap().starts_with("water_rate_gpm, water_rate_l_min"));
    let problem = one_wrong("tank_gal = 1800", "tank_bbl = 40");
    assert_eq!(accepted(&problem).as_deref(), Some("tank_gal, tank_l, tank_m3"));
    let problem = one_wrong("[loading]\n", "[loading]\nmaking_hours = \"00:00-24:00\"\n");
    assert_eq!(what(&problem), "site.file.key_elsewhere (table = [loading], home = [crew])");
}

#[test]
fn unknown_and_misplaced_tables() {
    let problem = only(&SMALL.replace("[plant]", "[plnat]"));
    assert_eq!((problem.line, problem.suggestion.as_deref()), (7, Some("plant")));
    let problem = only(&SMALL.replace("[[tank]]", "[tank]"));
    assert_eq!((problem.line, what(&problem).as_str()), (11, "site.file.write_many (table = [[tank]])"));
    let problem = only(&SMALL.replace("[plant]", "[[plant]]"));
    assert_eq!((problem.line, what(&problem).as_str()), (7, "site.file.write_once (table = [plant])"));
    let problem = only(&SMALL.replace("format = 1\n", "format = 1\nwarn_wind_mph = 20\n"));
    assert_eq!((problem.line, what(&problem).as_str()), (2, "site.file.above_tables (home = [policy])"));
    let problem = only(&format!("{SMALL}\n[quartz]\nx = 1\n"));
    assert!(accepted(&problem).unwrap().starts_with("yard, plant, salt, product, tank"));
    let problem = only(&SMALL.replace("[loading]\npump_rate_gpm = 200\n", ""));
    assert_eq!(shown(&problem), "yard.toml:1: loading: site.file.no_table (table = [loading])");
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
fn references_must_exist() {
    let problem = one_wrong("lanes = 2", "lanes = 2\ntruck = \"K2\"");
    assert_eq!((accepted(&problem).as_deref(), problem.suggestion), (Some("K1"), None));
    let problem = one_wrong("lanes = 2", "lanes = 2\ntruck = \"k1\"");
    assert_eq!(problem.suggestion.as_deref(), Some("K1"));
    assert!(
        what(&one_wrong("class = \"main\"", "class = \"maim\""))
            .contains("site.file.no_such_id (table = [[route_class]])")
    );
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
    assert_eq!(what(&problem), "site.file.id_twice (table = [[truck]], number = 1)");
    assert_eq!((problem.key.as_str(), problem.line), ("truck[2].id", 37));
}

#[test]
fn one_clear_problem_for_a_newer_layout_and_for_broken_toml() {
    let problem = only("format = 2\n[something]\nnew = true\n");
    assert_eq!(shown(&problem), "yard.toml:1: format = 2: site.file.newer; accepted: 1");
    let problem = only(&SMALL.replace("lanes = 2", "lanes = = 2"));
    assert_eq!((problem.line, problem.key.as_str()), (34, ""));
    assert!(shown(&problem).starts_with("yard.toml:34: : site.file.not_toml (reason = "), "{problem}");
    let problem = only(&SMALL.replace("lanes = 2", "lanes = 2\nlanes = 2"));
    assert!(what(&problem).contains("duplicate key") && problem.line == 35, "{problem}");
    assert_eq!(only(&SMALL.replace("format = 1\n", "")).key, "format");
    assert_eq!(only(&SMALL.replace("format = 1\n", "format = \"1\"\n")).key, "format");
}

#[test]
fn windows_line_ends_and_wrong_types() {
    yard(&SMALL.replace('\n', "\r\n"));
    let problem = only(&SMALL.replace("lanes = 2", "lanes = true").replace('\n', "\r\n"));
    assert_eq!((problem.line, what(&problem).as_str()), (34, "site.file.number"));
    assert_eq!(what(&one_wrong("anti_icing = true", "anti_icing = \"yes\"")), "site.file.switch");
    assert_eq!(what(&one_wrong("id = \"T1\"", "id = 1")), "site.file.text");
    assert_eq!(what(&one_wrong("id = \"T1\"", "id = \" \"")), "site.file.blank");
    assert_eq!(
        what(&one_wrong("pump_rate_gpm = 200", "pump_rate_gpm = 200\nplaces = 1.5")),
        "site.file.whole_number"
    );
    assert_eq!(what(&one_wrong("pump_rate_gpm = 200", "pump_rate_gpm = inf")), "site.file.finite");
    assert_eq!(what(&one_wrong("length_mi = 10", "length_mi = { a = 1 }")), "site.file.number");
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
