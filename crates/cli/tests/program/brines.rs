//! `correct`, `measure`, `trim`, `blend`, `phase-diagram`, `simulate`: brines and plants.

use super::folder::*;

/// Below −21.1 °C, −6 °F, all of plain brine is solid (CRC): nothing is told to happen there.
#[test]
fn plain_brine_is_told_no_ice_below_its_eutectic() {
    let folder = Folder::new();
    for percent in ["10", "20", "22.8", "23.2", "23.4", "24", "25", "26.5"] {
        let told = folder.expect(&["properties", "--strength-pct", percent, "--temp-f", "40"], 0, &[]);
        assert!(!told.contains("Ice would") && told.contains("All of it is solid below −6.0 °F"), "{told}");
        for before in told.split(" °F").map(|text| text.rsplit(' ').next().unwrap_or_default()) {
            let Some(below) = before.strip_prefix('−') else { continue };
            assert!(below.parse::<f64>().unwrap() < 6.15, "{before}: {told}");
        }
    }
    let blend = ["properties", "--strength-pct", "20.97", "--mgcl2-pct", "3", "--temp-f", "40"];
    // ColdChem has 24.7 % ice at −22.74 °C, −8.9 °F (blend_phases.csv).
    let told = folder.expect(&blend, 0, &[]);
    assert!(told.contains("Beside the salt, ice comes at −7.5 °F"), "{told}");
    assert!(told.contains("All of it is solid below −3"), "{told}");
}

/// W12 of the worked examples, and what cannot be done so.
#[test]
fn a_tank_is_put_right() {
    let folder = Folder::new();
    let w12 = ["correct", "--volume-gal", "5000", "--strength-pct", "25", "--with", "water"];
    assert!(folder.expect(&w12, 0, &[]).contains("Add 435 gal of water."));
    let json = folder.expect(&[&w12[..], &["--json"]].concat(), 0, &[]);
    let document: serde_json::Value = serde_json::from_str(&json).unwrap();
    let gallons = document["add_m3"].as_f64().unwrap() / 0.003_785_411_784;
    assert!((gallons / 434.0 - 1.0).abs() < 0.02, "{gallons}");
    let full = [&w12[..], &["--capacity-gal", "5200"]].concat();
    assert!(folder.expect(&full, 1, &[]).contains("First draw off"));
    let weak = ["correct", "--volume-gal", "5000", "--strength-pct", "20", "--with", "water"];
    folder.expect(&weak, 1, &["water can only make it weaker; add salt or stronger brine"]);
    folder.expect(&["correct", "--strength-pct", "25", "--with", "water"], 2, &["--volume-gal is missing"]);
    folder.expect(
        &["correct", "--volume-gal", "5000", "--strength-pct", "25", "--with", "sand"],
        2,
        &["sand", "accepted"],
    );
}

/// Hard water by hand: 300 mg/L as CaCO3 is 3.00 mmol/L of calcium (molar mass 100.09 g/mol), which as CaCl2
/// (110.98 g/mol) is 0.0333 % of the water and so 0.0255 % of a brine that is 76.7 % water. Insolubles of salt with
/// 96 % NaCl and 1 % CaSO4 are 3 %, 0.728 % of that brine. Molar masses: CIAAW standard atomic weights, from memory.
#[test]
fn what_comes_with_the_salt_is_told() {
    let folder = Folder::new();
    let with = |nacl: &str, caso4: &str, more: &[&'static str]| -> Vec<String> {
        let salt = ["impurities", "--nacl-pct", nacl, "--caso4-pct", caso4];
        salt.iter().chain(more).map(|word| (*word).to_owned()).collect()
    };
    let run = |words: &[String], code: i32, why: &[&str]| {
        folder.expect(&words.iter().map(String::as_str).collect::<Vec<_>>(), code, why)
    };
    let hard = ["--hardness-mg-l", "300"];
    let text = run(&with("96", "1", &hard), 0, &[]);
    assert!(
        text.starts_with("Brine with 23.3 % NaCl, from this salt and water.\nDissolved beside"),
        "{text}"
    );
    assert!(
        text.contains("hydrometer, density meter  +0.") && text.contains("gypsum stays dissolved"),
        "{text}"
    );
    let json = |nacl: &str, caso4: &str| -> serde_json::Value {
        let words = with(nacl, caso4, &["--hardness-mg-l", "300", "--json"]);
        serde_json::from_str(&run(&words, 0, &[])).unwrap()
    };
    let close = |value: &serde_json::Value, by_hand: f64| {
        let value = value.as_f64().unwrap();
        assert!((value - by_hand).abs() < 0.01 * by_hand, "{value}, by hand {by_hand}");
    };
    let of_water = json("97", "0");
    close(&of_water["dissolved"]["cacl2_pct"], 0.0255);
    close(&of_water["sludge_pct"], 23.3 * 3.0 / 97.0);
    assert!(of_water["gypsum_index"].is_null(), "no sulfate, no gypsum");
    let of_both = json("96", "1");
    close(&of_both["sludge_pct"], 0.728);
    close(&of_both["sludge_kg_m3"], 0.00728 * 1181.0);
    run(&with("96", "1", &["--hardness-mg-l", "5000"]), 2, &["5000", "2000"]);
    run(&with("99.9", "1", &[]), 2, &["100"]);
    run(&with("96", "1", &["--temp-c", "70"]), 2, &["158 °F", "104 °F"]);
}

/// A hydrometer in cold brine: good brine that looks 0.9 % too strong (the project's own table of readings:
/// 1.1855 is 24.2 % at 60 °F). In spec is exit code 0, anything else 1.
#[test]
fn measure_judges_a_sample() {
    let folder = Folder::new();
    let cold = ["measure", "--instrument", "sg_60_60", "--reading", "1.1855", "--temp-c", "0"];
    assert!(folder.expect(&cold, 0, &[]).starts_with("In spec: 23.3"));
    let warm = ["measure", "--instrument", "sg_60_60", "--reading", "1.1855", "--temp-c", "15.6"];
    assert!(folder.expect(&warm, 1, &[]).starts_with("Too strong: 24.2"));
    let budget = folder.expect(&[&cold[..], &["--budget"]].concat(), 0, &[]);
    assert!(budget.contains("95 % interval ± 0.2") && budget.contains("temperature"), "{budget}");
    let json = folder.expect(&[&cold[..], &["--json"]].concat(), 0, &[]);
    let document: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(document["verdict"], "in");
    assert_eq!(document["budget"].as_array().unwrap().len(), 5);
    // A sugar scale read as a salt scale.
    let wrong = ["measure", "--instrument", "nacl_pct", "--reading", "26.2", "--temp-c", "20"];
    assert!(folder.expect(&wrong, 1, &[]).contains("another scale: brix"));
}

#[test]
fn measure_refuses_what_it_cannot_read() {
    let folder = Folder::new();
    let measure = |rest: &[&str], error: &[&str]| {
        folder.expect(&[&["measure"][..], rest].concat(), 2, error);
    };
    measure(&["--instrument", "brix", "--reading", "26.2"], &["sample temperature"]);
    measure(&["--instrument", "brx", "--reading", "26.2"], &["did you mean \"brix\"", "salometer"]);
    measure(&["--instrument", "baume", "--reading", "88", "--temp-c", "15"], &["not possible", "salometer"]);
    measure(
        &["--instrument", "brix", "--reading", "26", "--temp-c", "20", "--risk-pct", "60"],
        &["--risk-pct"],
    );
    measure(
        &["--instrument", "brix", "--reading", "26", "--temp-c", "20", "--low-pct", "24"],
        &["--high-pct"],
    );
    measure(
        &["--instrument", "conductivity", "--reading", "150", "--temp-c", "20", "--solute", "mgcl2=1"],
        &["two strengths"],
    );
    measure(
        &["--instrument", "brix", "--reading", "26", "--temp-c", "20", "--solute", "salt=1"],
        &["nacl, cacl2"],
    );
    folder.write("bad.csv", "instrument,value\nbrix,26\n");
    measure(&["--csv", "bad.csv"], &["bad.csv", "column reading is missing"]);
}

/// Rows come back with columns added; one that cannot be read says why and spoils no other.
#[test]
fn measure_reads_a_table() {
    let folder = Folder::new();
    folder.write(
        "readings.csv",
        "who,instrument,reading,temp_c,compensated\n\
         Pat,sg_60_60,1.178,15.6,\nLee,brix,26.2,,yes\nPat,brix,26.2,,no\nLee,density,1174.6,20,\n",
    );
    let out = folder.expect(&["measure", "--csv", "readings.csv"], 0, &[]);
    let rows: Vec<&str> = out.lines().collect();
    assert_eq!(
        rows[0],
        "who,instrument,reading,temp_c,compensated,strength_pct,uncertainty_pct,verdict,doubt,error"
    );
    assert!(rows[1].starts_with("Pat,sg_60_60,1.178,15.6,,23.3") && rows[1].contains(",in,"));
    assert!(rows[2].contains(",23.") && rows[3].contains("needs it"));
    assert!(rows[4].contains(",23.3"), "{}", rows[4]);
}

/// Pairs in, advice out: a trial while the sign is not known, then the right way, agreement, and a wait in between.
#[test]
fn trim_advises_row_by_row() {
    let folder = Folder::new();
    folder.write(
        "pairs.csv",
        "time,trim,panel,bench,temp_c\n\
         2026-01-14T05:00:00Z,500,23.3,22.5,5\n2026-01-14T05:10:00Z,510,23.3,22.5,5\n\
         2026-01-14T05:40:00Z,510,23.3,22.0,5\n2026-01-14T06:20:00Z,500,23.3,22.5,5\n\
         2026-01-14T07:00:00Z,490,23.3,23.2,5\n2026-01-14T06:00:00Z,490,23.3,23.2,5\nsoon,490,23.3,23.2,5\n\
         2026-01-14T07:30:00Z,490,23.3,23.3,5\n",
    );
    let out = folder.expect(&["trim", "--csv", "pairs.csv"], 0, &[]);
    let mut reader = csv::Reader::from_reader(out.as_bytes());
    let headers = reader.headers().unwrap().clone();
    let place = |name: &str| headers.iter().position(|header| header == name).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let advice: Vec<&str> = rows.iter().map(|row| &row[place("advice")]).collect();
    assert_eq!(advice, ["try", "wait", "set", "set", "agreed", "", "", "agreed"]);
    assert!(rows[2][place("next_trim")].parse::<f64>().unwrap() < 510.0);
    assert!(rows[5][place("error")].contains("not before the pair above it"));
    assert!(rows[6][place("error")].contains("time \"soon\""));
    let json = folder.expect(&["trim", "--csv", "pairs.csv", "--json"], 0, &[]);
    assert!(json.contains("\"advice\": \"agreed\""), "{json}");
    folder.expect(&["trim", "--csv", "pairs.csv", "--largest-step-pct", "50", "--json"], 2, &["pairs.csv"]);
    folder.write("none.csv", "time,trim,panel\n0,500,23.3\n");
    folder.expect(&["trim", "--csv", "none.csv"], 2, &["column bench is missing"]);
}

/// A yard's own procedure is read, or refused before anything is served.
#[test]
fn a_procedure_that_does_not_hang_together_is_refused() {
    let folder = Folder::new();
    let good = plant::procedure::SHIPPED;
    for (text, said) in [
        (good.replace("id = \"salt_on\"", "id = \"prime\""), "is there twice"),
        (good.replace("kind = \"see\"", "kind = \"look\""), "unknown variant"),
        (good.replace("if_not = \"Do not start.", "act2 = \"Do not start."), "unknown field"),
        ("title = \"x\"\nstep = []".to_string(), "has no step"),
    ] {
        let bad = folder.write("procedure.toml", &text);
        let args = ["serve", "--procedure", bad.to_str().unwrap(), "--address", "127.0.0.1:0"];
        folder.expect(&args, 2, &[said]);
    }
}

/// Every fault a scenario may hold stands in the operator's page of it.
#[test]
fn every_fault_is_explained() {
    let page = include_str!("../../../../docs/plant.md");
    for (kind, ..) in plant::scenario::KINDS {
        assert!(page.contains(&format!("`{kind}`")), "{kind}");
    }
}

/// A scenario is played, told and refused; the same file gives the same rows.
#[test]
fn a_plant_is_simulated() {
    let folder = Folder::new();
    let path = folder.write("run.toml", include_str!("../../../../examples/bridging.toml"));
    let file = path.to_str().unwrap();
    let rows = folder.expect(&["simulate", file], 0, &[]);
    assert_eq!(rows, folder.expect(&["simulate", file], 0, &[]), "the same seed, the same run");
    let lines: Vec<&str> = rows.lines().collect();
    assert_eq!(lines.len(), 1 + 3 * 360, "a row every ten seconds");
    assert!(lines[0].starts_with(
        "seconds,panel_pct,temperature_c,level_share,water_meter_m3_s,circulation_meter_m3_s,true_mixing_tank_strength"
    ));
    let column = |row: &str, place: usize| row.split(',').nth(place).unwrap().parse::<f64>().unwrap();
    assert!((column(lines[1], 0) - 10.0).abs() < 0.01 && (column(lines[1080], 0) - 10_800.0).abs() < 0.01);
    // Nothing falls once it bridges: what lies there dissolves and no more comes, until the loader helps.
    let strength = |minute: usize| column(lines[minute * 6], 6);
    assert!(strength(60) < 12.0 && strength(60) - strength(45) < 2.0 && strength(120) > strength(60) + 3.0);
    assert!(folder.expect(&["simulate", file, "--summary"], 0, &[]).contains("Nothing was let out."));
    let band = folder.expect(&["simulate", file, "--band", "20"], 0, &[]);
    assert_eq!(band.lines().next(), Some("seconds,panel_low_pct,panel_middle_pct,panel_high_pct"));
    assert_eq!(band.lines().count(), 1 + 3 * 360);
    let told = folder.expect(&["simulate", file, "--band", "20", "--summary"], 0, &[]);
    assert!(told.contains("20 plants") && told.contains("In its band after"), "{told}");
    folder.expect(&["simulate", file, "--band", "3"], 2, &["10..=10000"]);
    let document = folder.expect(&["simulate", file, "--json"], 0, &[]);
    assert!(document.contains("\"salt_used_kg\""), "{document}");
    for (text, said) in [
        ("layout = \"bed\"", "accepted: batch, fed, upflow"),
        ("layout = \"batch\"\nhour = 3", "unknown field `hour`"),
        ("layout = \"batch\"\nwater_c = 60", "water_c: 60; accepted: 0.5 to 38"),
        ("layout = \"batch\"\n[[fault]]\nat_min = 1\nkind = \"bridge\"", "bridging"),
        (
            "layout = \"batch\"\n[[fault]]\nat_min = 1\nkind = \"stuck\"\nat = \"drain\"",
            "water, circulation, outlet",
        ),
        ("layout = \"batch\"\n[[dump]]\nat_min = 1\nkg = -5", "above zero"),
        ("layout", "expected"),
    ] {
        let bad = folder.write("bad.toml", text);
        folder.expect(&["simulate", bad.to_str().unwrap()], 2, &[said]);
    }
}

/// A layout that ships is printed as tables, put into a yard file, and run as the yard's own: the same run.
#[test]
fn a_plant_of_ones_own_is_simulated() {
    let folder = Folder::new();
    let tables = folder.expect(&["simulate", "--tables", "batch"], 0, &[]);
    let own = YARD.replace("[making]\nlayout = \"batch\"\n", &tables);
    assert_ne!(own, YARD);
    folder.write("own.toml", &own);
    folder.expect(&["doctor", "own.toml"], 0, &[]);
    let scenario =
        "layout = \"batch\"\nhours = 1\nwater_c = 7\nair_c = 2\npurity_pct = 96\nmoisture_pct = 1.8\n";
    folder.write("run.toml", scenario);
    let rows = |yard: &str| folder.expect(&["simulate", "run.toml", "--yard", yard], 0, &[]);
    assert_eq!(rows("own.toml"), rows("yard.toml"), "as tables or by name, the same plant");
    let smaller = own.replace("volume_m3 = 6.0566", "volume_m3 = 3.0566");
    assert_ne!(smaller, own);
    folder.write("smaller.toml", &smaller);
    assert_ne!(rows("smaller.toml"), rows("own.toml"));
    folder.write("none.toml", &YARD.replace("[making]\nlayout = \"batch\"\n", ""));
    folder.expect(&["simulate", "run.toml", "--yard", "none.toml"], 2, &["none.toml", "[making]"]);
    folder.expect(&["simulate", "--tables", "tower"], 2, &["batch, fed, upflow"]);
    folder.expect(&["simulate"], 2, &["SCENARIO"]);
}

/// 90 parts of 23.3 % brine with 10 of 30 % MgCl2 by mass: ColdChem has hydrohalite at −12.74 °C and ice at −24.38 °C.
#[test]
fn a_phase_diagram_is_written_as_csv_and_svg() {
    let folder = Folder::new();
    let salts = ["phase-diagram", "--salts", "nacl=20.97,mgcl2=3", "--points", "500", "--svg", "blend.svg"];
    let csv = folder.expect(&salts, 0, &[]);
    assert!(csv.starts_with("total_wt_pct,by_mass_pct,nacl_wt_pct"), "{csv}");
    let mut reader = csv_rows(&csv);
    assert_eq!(reader.len(), 500);
    let near = |row: &Vec<String>| (row[0].parse::<f64>().unwrap() - 23.97).abs();
    reader.sort_by(|a, b| near(a).total_cmp(&near(b)));
    let row = &reader[0];
    assert!((row[7].parse::<f64>().unwrap() - -24.38).abs() < 0.6, "{row:?}");
    assert!(row[8] == "hydrohalite" && (row[9].parse::<f64>().unwrap() - -12.74).abs() < 2.0, "{row:?}");
    assert_eq!(row[10], "hydrohalite");
    let svg = std::fs::read_to_string(folder.0.join("blend.svg")).unwrap();
    assert!(svg.starts_with("<svg xmlns=") && svg.contains("c-curve c-dash") && svg.ends_with("</svg>"));
    let two = ["phase-diagram", "--liquid", "nacl=23.3", "--liquid", "mgcl2=30", "--points", "11"];
    let shares = folder.expect(&two, 0, &[]);
    assert!(shares.starts_with("second_vol_pct") && shares.contains("100.0000,100.0000,0.0000"), "{shares}");
    assert_eq!(csv_rows(&shares).len(), 11);
    folder.expect(&["phase-diagram", "--salts", "nacl=90,beet=10"], 2, &["\"beet\" is not known", "cacl2"]);
    folder.expect(&["phase-diagram", "--salts", "nacl=0"], 2, &["at least one above zero"]);
    folder.expect(&["phase-diagram", "--salts", "nacl=1", "--points", "1"], 2, &["2 to 5000"]);
    folder.expect(&["phase-diagram", "--liquid", "nacl=23.3"], 2, &["accepted: two"]);
    folder.expect(&["phase-diagram", "--liquid", "nacl=40", "--liquid", "mgcl2=30"], 2, &["26.67"]);
}

fn csv_rows(text: &str) -> Vec<Vec<String>> {
    text.lines().skip(1).map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

#[test]
fn a_blend_is_worked_out_from_numbers_and_from_a_yard() {
    let folder = Folder::new();
    let lots =
        ["blend", "--lot", "nacl=23.3,usd_gal=0.12", "--lot", "mgcl2=30,usd_gal=1.05", "--lot", "water"];
    let asked = ["--ice-f", "-10", "--clear-f", "0", "--volume-gal", "1000"];
    let told = folder.expect(&[&lots[..], &asked].concat(), 0, &[]);
    for part in ["Add ", "gal of water", "jar", "no ice", "$"] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let json = folder.expect(&[&lots[..], &asked, &["--json"]].concat(), 0, &[]);
    let found: serde_json::Value = serde_json::from_str(&json).unwrap();
    let c = |f: f64| (f - 32.0) / 1.8;
    assert!(found["ice_c"].as_f64().unwrap() <= c(-10.0) + 1e-3, "{json}");
    assert!(found["salt_c"].as_f64().unwrap() <= c(0.0) + 1e-3, "{json}");
    assert!((found["m3_60f"].as_f64().unwrap() - 3.785_411_784).abs() < 1e-3, "{json}");
    let cold = ["--ice-f", "-80", "--volume-gal", "1000"];
    folder.expect(&[&lots[..5], &cold].concat(), 2, &["outside"]);
    let none = ["--ice-f", "-60", "--volume-gal", "1000"];
    folder.expect(&[&lots[..3], &none].concat(), 1, &["no mixture of these", "first solid at"]);
    folder.expect(
        &["blend", "--lot", "nacl=23.3,colour=3", "--ice-f", "0", "--volume-gal", "9"],
        2,
        &["colour"],
    );
    folder.expect(
        &["blend", "--lot", "usd_gal=3", "--ice-f", "0", "--volume-gal", "9"],
        2,
        &["accepted: water"],
    );
    folder.expect(&["blend", "--lot", "nacl=23.3", "--ice-f", "0", "--volume-gal=-9"], 2, &["above zero"]);
    demo(&folder);
    let yard = ["blend", "--yard", "yard.toml", "--ledger", "ledger.db", "--tank", "2"];
    let from = ["--from", "tank=4", "--from", "water", "--clear-f", "0", "--ice-f", "-9"];
    let told = folder.expect(&[&yard[..], &from].concat(), 0, &[]);
    assert!(
        told.contains("already in the tank") && told.contains("Magnesium chloride liquid (tank 4)"),
        "{told}"
    );
    let gone = ["--from", "tank=9", "--clear-f", "0", "--ice-f", "-9"];
    folder.expect(&[&yard[..], &gone].concat(), 1, &["9 is not in the yard file"]);
    let much = ["--volume-gal", "900000", "--ice-f", "-9"];
    folder.expect(&[&yard[..], &much].concat(), 2, &["no more than"]);
}
