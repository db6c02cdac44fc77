//! `plan`, `weather` and `doctor`: forecasts and yard files, read and refused.

use std::path::Path;

use super::folder::*;

#[test]
fn the_plan_tells_both_spells() {
    let folder = Folder::new();
    let january = folder.expect(&JANUARY, 0, &[]);
    assert!(january.contains("OK to pretreat") && january.contains("Start making brine by"), "{january}");
    folder.write(
        "yard.toml",
        &YARD.replacen("[policy]", "[policy]\nrates_off = [\"tx-anti-icing-snow\", \"ia-anti-icing\"]", 1),
    );
    assert!(folder.expect(&JANUARY, 0, &[]).contains("covers pretreating"));
    folder.write("yard.toml", YARD);
    // Rock salt runs short in the high case, so the answer is no.
    let february = folder.expect(&FEBRUARY, 1, &[]);
    // In the yard's own units alone.
    assert!(february.contains("1.26 in (melted)"), "weather README: 32.004 mm; {february}");
    assert!(!february.contains(" mm"), "{february}");
    assert!(february.contains("Do not pretreat") && february.contains("First storm pass"), "{february}");
}

#[test]
fn the_plan_as_json_is_versioned_and_adds_up() {
    let folder = Folder::new();
    let plan: serde_json::Value =
        serde_json::from_str(&folder.expect(&[&JANUARY[..], &["--json"]].concat(), 0, &[])).unwrap();
    assert_eq!((plan["format"].as_str(), plan["version"].as_u64()), (Some("brinewright-plan"), Some(1)));
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    let drawn: f64 = plan["by_hour"].as_array().unwrap().iter().map(|h| number(&h["brine_high_m3"])).sum();
    assert!((drawn - number(&plan["need"]["brine"]["high_m3"])).abs() < 1e-9);
    let making = &plan["making"];
    let into = number(&making["rock_salt_kg"]) + number(&making["water_kg"]);
    let out = number(&making["brine_kg"]) + number(&making["insolubles_kg"]);
    assert!((into - out).abs() < 1e-9 * out);
    let runs: f64 = making["runs"].as_array().unwrap().iter().map(|r| number(&r["volume_m3"])).sum();
    assert!((runs - number(&making["made_m3"])).abs() < 1e-9);
    for balance in ["volume", "salt", "water"] {
        assert!(number(&plan["balance"][balance]) < 1e-9);
    }
    let hours = folder.expect(&[&JANUARY[..], &["--table", "csv", "--rows", "hours"]].concat(), 0, &[]);
    assert_eq!(hours.lines().count(), 49);
    let table = folder.expect(&[&JANUARY[..], &["--table", "csv"]].concat(), 0, &[]);
    assert!(table.starts_with("route,name,lane_miles,") && table.lines().count() == 7);
}

#[test]
fn the_other_formats_plan_too() {
    let folder = Folder::new();
    for name in ["nws_gridpoint.json", "met_norway_locationforecast.json", "open_meteo_hourly.json"] {
        let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("../weather/tests/data").join(name);
        let sample = sample.to_str().unwrap();
        let output = folder.run(&["plan", "--forecast", sample, "--hours", "12"]);
        let code = output.status.code();
        assert!(matches!(code, Some(0 | 1)), "{name}: {}", text(&output.stderr));
    }
}

#[test]
fn bad_forecasts_get_one_clear_error() {
    let folder = Folder::new();
    folder.expect(&["plan", "--forecast", "none.csv"], 2, &["none.csv", "cannot be read"]);
    folder.write("notes.txt", "milk, eggs, salt\n1,2,3\n");
    folder.expect(&["plan", "--forecast", "notes.txt"], 2, &["notes.txt"]);
    std::fs::write(folder.0.join("noise.bin"), [0xff, 0xfe, 0x00, 0x81]).unwrap();
    folder.expect(&["plan", "--forecast", "noise.bin"], 2, &["not text"]);
    folder.write("cut.json", "{\"properties\": {\"temperature\": {\"values\": [");
    folder.expect(&["plan", "--forecast", "cut.json"], 2, &["cut.json"]);
    folder.expect(&["plan", "--forecast", "weather.csv"], 2, &["observations", "--issued"]);
    let late = ["plan", "--forecast", "weather.csv", "--issued", "2020-01-01T00:00:00Z"];
    folder.expect(&late, 2, &["holds nothing"]);
    folder.expect(
        &["plan", "--forecast", "weather.csv", "--issued", "soon"],
        2,
        &["--issued = soon", "accepted"],
    );
    folder.expect(&[&JANUARY[..], &["--station", "KXYZ"]].concat(), 2, &["KEWR"]);
    folder.expect(
        &["plan", "--forecast", "weather.csv", "--issued", "2013-01-24T18:00:00Z", "--hours", "0"],
        2,
        &["1 to 240"],
    );
}

#[test]
fn a_gap_inside_the_plan_is_refused_and_a_short_one_is_said() {
    let folder = Folder::new();
    let without = |hours: &[&str]| {
        let keep = |line: &&str| !hours.iter().any(|hour| line.contains(&format!("KEWR,2013-01-25T{hour}:")));
        WEATHER.lines().filter(keep).collect::<Vec<_>>().join("\n")
    };
    folder.write("gap.csv", &without(&["10", "11", "12", "13"]));
    let plan = |file: &'static str| {
        ["plan", "--forecast", file, "--issued", "2013-01-24T18:00:00Z", "--hours", "48"]
    };
    folder.expect(
        &plan("gap.csv"),
        2,
        &["from 5:00\u{a0}AM Fri Jan 25 to 9:00\u{a0}AM Fri Jan 25", "at most 2 h"],
    );
    folder.write("short.csv", &without(&["10"]));
    let out = folder.expect(&plan("short.csv"), 0, &[]);
    assert!(out.contains("1 h of the forecast have no precipitation value"), "{out}");
}

#[test]
fn a_bad_yard_file_says_everything_at_once() {
    let folder = Folder::new();
    let bad = YARD
        .replacen("diameter_ft = 10\n", "diameter_ft = 0\n", 1)
        .replacen("target_strength_pct = 23.3", "target_strength_pct = 0.233", 1)
        .replacen("waste_share = 0.05", "waste_share = 5", 1)
        .replacen("nameplate_gal = 8200", "nameplate_gal = 31000", 1)
        .replacen("class = \"B\"", "class = \"D\"", 1)
        .replacen("hook_up_min", "hookup_min", 1);
    folder.write("bad.toml", &bad);
    let all = ["looks like a fraction", "did you mean 23.3%?", "did you mean", "\"D\"", "diameter_ft"];
    folder.expect(&["plan", "--yard", "bad.toml", "--forecast", "weather.csv"], 2, &all);
    let told = folder.expect(&["doctor", "bad.toml"], 1, &[]);
    all.iter().for_each(|part| assert!(told.contains(part), "{part}: {told}"));
    let litres = YARD.replacen("nameplate_gal = 8200", "nameplate_gal = 31000", 1);
    folder.write("litres.toml", &litres);
    assert!(folder.expect(&["doctor", "litres.toml"], 1, &[]).contains("looks like litres"));
    folder.write("rates.toml", &YARD.replacen("[policy]", "[policy]\nrates_on = [\"nobody\"]", 1));
    folder.expect(
        &["plan", "--yard", "rates.toml", "--forecast", "weather.csv"],
        2,
        &["nobody", "mn-anti-icing-snow"],
    );
    assert!(folder.expect(&["doctor", "yard.toml"], 0, &[]).contains("in order"));
    let sample = folder.expect(&["doctor", "--sample"], 0, &[]);
    folder.write("sample.toml", &sample);
    folder.expect(&["doctor", "sample.toml"], 0, &[]);
}

#[test]
fn a_remembered_rate_is_used_only_when_switched_on() {
    let folder = Folder::new();
    assert!(folder.expect(&JANUARY, 0, &[]).contains("TxDOT San Antonio"));
    folder.write("yard.toml", &YARD.replacen("[policy]", "[policy]\nrates_on = [\"mn-anti-icing-snow\"]", 1));
    let plan = folder.expect(&JANUARY, 0, &[]);
    assert!(plan.contains("20 to 50 gal per lane-mile (Minnesota") && plan.contains("onfirm"), "{plan}");
}

#[test]
fn rows_come_back_with_columns_added() {
    let folder = Folder::new();
    folder
        .write("brines.csv", "name,nacl_wt_pct,temp_c\nfull,23.3,20\nstrong,27,20\nhot,10,90\nword,ten,20\n");
    let out = folder.expect(&["properties", "--csv", "brines.csv"], 0, &[]);
    let lines: Vec<&str> = out.lines().collect();
    assert!(lines[0].starts_with("name,nacl_wt_pct,temp_c,density_kg_m3,"));
    // CRC and AASHTO M 143-14: about 1,174.6 kg/m3 at 20 C.
    assert!(lines[1].starts_with("full,23.3,20,1174."), "{}", lines[1]);
    assert!(lines[2].contains("26.67") && lines[3].contains("40") && lines[4].contains("is not a number"));
    folder.write(
        "salts.csv",
        "cacl2_wt_pct,mgcl2_wt_pct,nacl_wt_pct,temp_c\n32,,,20\n,30,,20\n5,,18,5\n-1,,3,20\n60,60,,20\n,,26.5,0\n",
    );
    let salts = folder.expect(&["properties", "--csv", "salts.csv"], 0, &[]);
    let salts: Vec<&str> = salts.lines().collect();
    assert!(salts[0].ends_with("halite_wt_pct,other_solids_wt_pct,gypsum_index,error"), "{}", salts[0]);
    // CRC, 20 °C: 32 % CaCl2 is 1.3036 g/mL, 30 % MgCl2 1.2763.
    assert!(salts[1].starts_with("32,,,20,1303.") && salts[1].contains("cacl2_6h2o"), "{}", salts[1]);
    assert!(salts[2].starts_with(",30,,20,1275.") || salts[2].starts_with(",30,,20,1276."), "{}", salts[2]);
    // Blends are held against ColdChem in the chemistry crate.
    assert!(salts[3].starts_with("5,,18,5,1") && salts[3].contains(",ice,-2"), "{}", salts[3]);
    assert!(
        salts[4].contains("cacl2_wt_pct: strength −1%") && salts[5].contains("120 % by mass"),
        "{salts:?}"
    );
    assert!(salts[6].contains("will not stay dissolved at 0.0 °C"), "{}", salts[6]);
    let again = folder.run(&["properties", "--csv", "salts.csv"]);
    folder.write("twice.csv", &String::from_utf8(again.stdout).unwrap());
    folder.expect(&["properties", "--csv", "twice.csv"], 2, &["would be written twice"]);
    folder.write("ragged.csv", "nacl_wt_pct,temp_c\n1,2\n1,2,3\n");
    folder.expect(&["properties", "--csv", "ragged.csv"], 2, &["ragged.csv", "line"]);
    folder.write("wrong.csv", "nacl,temp_c\n1,2\n");
    folder.expect(&["properties", "--csv", "wrong.csv"], 2, &["nacl_wt_pct", "did you mean"]);
    folder.expect(&["properties", "--strength-pct", "0.233"], 2, &["looks like a fraction"]);
    assert!(folder.expect(&["properties", "--strength-pct", "23.3"], 0, &[]).contains("2.28"));
    let tanks = include_str!("../../../site/tests/data/tank_volume.csv");
    folder.write("tanks.csv", tanks);
    let strapped = folder.expect(&["strap", "--csv", "tanks.csv"], 0, &[]);
    let head = strapped.lines().find(|line| !line.starts_with('#')).unwrap();
    assert!(head.contains("volume_m3") && strapped.lines().count() > 210);
    folder.expect(&["strap", "--csv", "yard.toml"], 2, &["yard.toml"]);
}

#[test]
fn weather_says_what_it_read() {
    let folder = Folder::new();
    let args = [
        "weather",
        "weather.csv",
        "--station",
        "KEWR",
        "--from",
        "2013-02-08T11:00:00Z",
        "--to",
        "2013-02-09T09:00:00Z",
        "--json",
    ];
    let told: serde_json::Value = serde_json::from_str(&folder.expect(&args, 0, &[])).unwrap();
    assert!((told["precipitation_read_mm"].as_f64().unwrap() - 32.004).abs() < 1e-9);
    assert_eq!(told["rows"].as_u64(), Some(22));
    let half = "# times are the START of the hour\ntime_utc,air_temp_c,precip_mm\n";
    let rows: String = (0..24).map(|h| format!("2026-01-14T{h:02}:00:00Z,-1,0.5\n")).collect();
    folder.write("half.csv", &format!("{half}{rows}"));
    let told: serde_json::Value =
        serde_json::from_str(&folder.expect(&["weather", "half.csv", "--json"], 0, &[])).unwrap();
    assert!((told["precipitation_read_mm"].as_f64().unwrap() - 12.0).abs() < 1e-9, "every row counts");
    folder.write("none.csv", half);
    folder.expect(&["weather", "none.csv"], 2, &["none.csv"]);
}

#[test]
fn every_verb_has_help_with_an_example() {
    let folder = Folder::new();
    for verb in ["demo", "serve", "plan", "weather", "properties", "strap", "doctor", "user", "tls"] {
        assert!(folder.expect(&[verb, "--help"], 0, &[]).contains("Example:"), "{verb}");
    }
    for act in ["add", "list", "balance", "verify", "export", "kinds"] {
        assert!(folder.expect(&["ledger", act, "--help"], 0, &[]).contains("Example:"), "{act}");
    }
    folder.expect(&["plam"], 2, &["plan"]);
    assert!(folder.expect(&["ledger", "kinds"], 0, &[]).contains("making_run"));
}

/// What a shell is given to complete: kinds of event, and the fields of a kind with their units.
#[test]
fn shells_complete_kinds_and_fields() {
    let folder = Folder::new();
    for shell in ["bash", "zsh", "fish"] {
        let script = folder.expect(&["completions", shell], 0, &[]);
        for word in ["making_run", "jar_test", "phase-diagram", "completions"] {
            assert!(script.contains(word), "{shell}: no {word}");
        }
    }
    for shell in ["bash", "zsh"] {
        let script = folder.expect(&["completions", shell], 0, &[]);
        for word in ["depth_ft=", "volume_gal=", "treated=liquid"] {
            assert!(script.contains(word), "{shell}: no {word}");
        }
    }
    folder.expect(&["completions", "tcsh"], 2, &["bash, zsh, fish"]);
}
