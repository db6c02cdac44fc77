//! The program as a person runs it: answers, exit codes, and one clear error for each kind of bad input.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

use uuid::Uuid;

const YARD: &str = include_str!("../../../examples/alder_fork.toml");
const WEATHER: &str = include_str!("../../weather/tests/data/nyc_winter_2013.csv");

struct Folder(PathBuf);

impl Folder {
    fn new() -> Self {
        let path = std::env::temp_dir().join(format!("brinewright-cli-{}", Uuid::now_v7()));
        std::fs::create_dir_all(&path).unwrap();
        std::fs::write(path.join("yard.toml"), YARD).unwrap();
        std::fs::write(path.join("weather.csv"), WEATHER).unwrap();
        Self(path)
    }
    fn write(&self, name: &str, text: &str) -> PathBuf {
        let path = self.0.join(name);
        std::fs::write(&path, text).unwrap();
        path
    }
    fn run(&self, args: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_brinewright")).current_dir(&self.0).args(args).output().unwrap()
    }
    /// Runs and expects an exit code, with what must stand in the error; answers the output.
    fn expect(&self, args: &[&str], code: i32, error: &[&str]) -> String {
        let output = self.run(args);
        let (out, err) = (text(&output.stdout), text(&output.stderr));
        assert_eq!(output.status.code(), Some(code), "{args:?}\n{out}\n{err}");
        for part in error {
            assert!(err.contains(part), "{args:?}: no \"{part}\" in: {err}");
        }
        out
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

const FEBRUARY: [&str; 7] =
    ["plan", "--forecast", "weather.csv", "--issued", "2013-02-07T18:00:00Z", "--hours", "48"];
const JANUARY: [&str; 7] =
    ["plan", "--forecast", "weather.csv", "--issued", "2013-01-24T18:00:00Z", "--hours", "48"];

#[test]
fn the_plan_tells_both_spells() {
    let folder = Folder::new();
    let january = folder.expect(&JANUARY, 0, &[]);
    assert!(
        january.contains("Spray ahead, with care") && january.contains("Start the plant by"),
        "{january}"
    );
    folder.write(
        "yard.toml",
        &YARD.replacen("[policy]", "[policy]\nrates_off = [\"tx-anti-icing-snow\", \"ia-anti-icing\"]", 1),
    );
    assert!(folder.expect(&JANUARY, 1, &[]).contains("covers spraying ahead"));
    folder.write("yard.toml", YARD);
    // Rock salt runs short in the high case, so the answer is no.
    let february = folder.expect(&FEBRUARY, 1, &[]);
    assert!(february.contains("32.004 mm"), "weather README: 32.004 mm; {february}");
    assert!(february.contains("Do not spray ahead") && february.contains("First useful pass"), "{february}");
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
        &["1…240"],
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
    folder.expect(&plan("gap.csv"), 2, &["2013-01-25T10:00:00Z", "2013-01-25T14:00:00Z", "at most 2 h"]);
    folder.write("short.csv", &without(&["10"]));
    let out = folder.expect(&plan("short.csv"), 0, &[]);
    assert!(out.contains("1 h of the forecast have no value for precipitation"), "{out}");
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
    let all = ["looks like a fraction", "looks like per cent", "did you mean", "\"D\"", "diameter_ft"];
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
    assert!(
        plan.contains("20 to 50 gal per lane-mile (Minnesota") && plan.contains("confirm before use"),
        "{plan}"
    );
}

#[test]
fn a_mix_is_doubted_recorded_and_told_and_a_jar_test_is_kept() {
    let folder = Folder::new();
    let add = |code: i32, fields: &[&str]| {
        let mut args = vec!["ledger", "add", "--author", "Pat", "--at", "2026-01-05T08:00:00Z"];
        args.extend(fields);
        folder.expect(&args, code, &[])
    };
    add(0, &["salt_delivery", "mass_tons=95"]);
    add(0, &["making-run", "tank=1", "volume_gal=2000", "strength_pct=23.3"]);
    add(0, &["liquid-delivery", "tank=4", "product=mag", "volume_gal=600"]);
    let mix = ["transfer", "from_tank=4", "to_tank=1", "volume_gal=200"];
    add(2, &mix);
    add(0, &[&["--confirm"][..], &mix].concat());
    let test = ["liquid_a=brine", "liquid_b=mag", "share_a_pct=90", "temp_f=0", "duration_h=24", "tank=1"];
    add(2, &[&["jar-test"][..], &test, &["result=fine"]].concat());
    add(0, &[&["jar-test"][..], &test, &["result=crystals"]].concat());
    let list = folder.expect(&["ledger", "list", "--tank", "1"], 0, &[]);
    assert!(
        list.contains("Jar test: 90 % Salt brine with 10 % Magnesium chloride liquid by volume"),
        "{list}"
    );
    let balance = folder.expect(&["ledger", "balance"], 0, &[]);
    assert!(balance.contains("Mixed: 90 % salt brine or water by mass"), "{balance}");
    let told: serde_json::Value =
        serde_json::from_str(&folder.expect(&["ledger", "balance", "--json"], 0, &[])).unwrap();
    let (one, four) = (&told["tanks"][0], &told["tanks"][3]);
    assert_eq!((one["mixed"].as_bool(), four["mixed"].as_bool()), (Some(true), Some(false)));
    assert!(one["strength_pct"].is_null());
    // 200 gal of 1283 kg/m³ with 22.3 % of chloride.
    let mag = 200.0 * 0.003_785_411_784 * 1283.0;
    assert!((one["declared_kg"]["mag"].as_f64().unwrap() - mag).abs() < 1e-6);
    let of_salt = one["sodium_chloride_kg"].as_f64().unwrap() * 0.6066;
    assert!((one["chloride_kg"].as_f64().unwrap() - of_salt - mag * 0.223).abs() < 0.05);
}

#[test]
fn the_ledger_is_kept_listed_balanced_verified_and_handed_out() {
    let folder = Folder::new();
    let add = |fields: &[&str]| {
        let mut args = vec!["ledger", "add", "--author", "Pat", "--at", "2026-01-05T08:00:00Z"];
        args.extend(fields);
        folder.expect(&args, 0, &[])
    };
    add(&["salt_delivery", "mass_tons=95", "ticket=S-1"]);
    add(&["making-run", "tank=1", "volume_gal=2000", "strength_pct=23.3"]);
    add(&["reading", "tank=1", "strength_pct=23.2"]);
    add(&["load-out", "tank=1", "truck=T1", "route=R1", "volume_gal=1200"]);
    let balance: serde_json::Value =
        serde_json::from_str(&folder.expect(&["ledger", "balance", "--json"], 0, &[])).unwrap();
    let volume = balance["tanks"][0]["volume_m3"].as_f64().unwrap() / 0.003_785_411_784;
    assert!((volume - 800.0).abs() < 1e-6, "{volume}");
    let list = folder.expect(&["ledger", "list", "--tank", "1"], 0, &[]);
    assert!(list.lines().count() == 3 && list.contains("route R1"), "{list}");
    assert!(folder.expect(&["ledger", "verify"], 0, &[]).contains("4 rows"));
    folder.expect(&["ledger", "export", "--format", "jsonl", "--output", "out.jsonl"], 0, &[]);
    let exported = std::fs::read_to_string(folder.0.join("out.jsonl")).unwrap();
    let first: serde_json::Value = serde_json::from_str(exported.lines().next().unwrap()).unwrap();
    assert!((first["body"]["mass_kg"].as_f64().unwrap() - 95.0 * 907.184_74).abs() < 1e-6);
    assert_eq!(folder.expect(&["ledger", "export", "--format", "csv"], 0, &[]).lines().count(), 5);
    // The plan takes its stock from the ledger; no other liquid is on its books, so something is short.
    let plan = folder.expect(&[&JANUARY[..], &["--ledger", "ledger.db", "--json"]].concat(), 1, &[]);
    let plan: serde_json::Value = serde_json::from_str(&plan).unwrap();
    let in_hand = plan["stock"]["brine_in_hand_gal"].as_f64().unwrap();
    // By what is thought to be there: the reading in the ledger says a little of the volume, too.
    assert!((in_hand - 550.0).abs() < 2.0, "800 gal less the heel of 250: {in_hand}");
}

#[test]
fn a_doubtful_or_wrong_entry_is_not_recorded() {
    let folder = Folder::new();
    let add = |fields: &[&'static str], code, error: &[&str]| {
        let mut args = vec!["ledger", "add", "--author", "Pat"];
        args.extend(fields);
        folder.expect(&args, code, error)
    };
    add(
        &["making_run", "tank=1", "volume_gal=2000", "strength_pct=0.233"],
        2,
        &["looks like a fraction", "23.3"],
    );
    add(&["making_run", "tank=7", "volume_gal=2000", "strength_pct=23"], 2, &["no such tank"]);
    add(&["making_run", "tank=1", "2000"], 2, &["name=value"]);
    add(
        &["load_out", "tank=1", "truck=T1", "volume_gal=6813"],
        2,
        &["litres entered as gallons", "--confirm"],
    );
    folder.expect(&["ledger", "add", "--author", " ", "note", "text=x"], 2, &["--author"]);
    folder.expect(
        &["ledger", "add", "--author", "Pat", "--at", "2999-01-01T00:00:00Z", "note", "text=x"],
        2,
        &["ahead of now"],
    );
    assert!(folder.expect(&["ledger", "verify"], 0, &[]).contains("0 rows"));
    let id = Uuid::now_v7().to_string();
    for _ in 0..2 {
        folder.expect(&["ledger", "add", "--author", "Pat", "--id", &id, "note", "text=once"], 0, &[]);
    }
    folder.expect(
        &["ledger", "add", "--author", "Pat", "--id", &id, "note", "text=twice"],
        2,
        &["recorded already"],
    );
    assert!(folder.expect(&["ledger", "verify"], 0, &[]).contains("1 rows"));
}

#[test]
fn a_damaged_ledger_answers_no_and_takes_nothing() {
    let folder = Folder::new();
    for text in ["text=one", "text=two"] {
        folder.expect(&["ledger", "add", "--author", "Pat", "note", text], 0, &[]);
    }
    let file = rusqlite::Connection::open(folder.0.join("ledger.db")).unwrap();
    file.execute_batch(
        "drop trigger event_is_never_changed; update event set body = replace(body, 'two', 'ten')",
    )
    .unwrap();
    drop(file);
    assert!(folder.expect(&["ledger", "verify"], 1, &[]).contains("row 2"));
    folder.expect(&["ledger", "add", "--author", "Pat", "note", "text=three"], 1, &["damaged"]);
    folder.expect(&["ledger", "balance"], 1, &["damaged"]);
    folder.write("not.db", "this is no database at all, only words, and enough of them");
    folder.expect(&["ledger", "verify", "--database", "not.db"], 2, &["not a ledger"]);
    folder.expect(&["ledger", "verify", "--database", "none.db"], 2, &["none.db", "no such ledger"]);
    folder.write("empty.db", "");
    folder.expect(&["ledger", "verify", "--database", "empty.db"], 2, &["empty"]);
}

#[test]
fn an_output_that_cannot_be_written_is_this_machines_fault() {
    let folder = Folder::new();
    folder.expect(&["ledger", "add", "--author", "Pat", "note", "text=x"], 0, &[]);
    folder.expect(
        &["ledger", "export", "--output", "no/such/folder/out.jsonl"],
        4,
        &["could not be written"],
    );
    if Path::new("/dev/full").exists() {
        let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let output = Command::new(env!("CARGO_BIN_EXE_brinewright"))
            .current_dir(&folder.0)
            .args(JANUARY)
            .stdout(full)
            .stderr(Stdio::piped())
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(4), "{}", text(&output.stderr));
    }
}

/// A console that is killed at the end.
struct Console {
    child: Child,
    address: String,
}

impl Drop for Console {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn console(folder: &Folder) -> Console {
    let mut child = Command::new(env!("CARGO_BIN_EXE_brinewright"))
        .current_dir(&folder.0)
        .args(["serve", "--address", "127.0.0.1:0"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let address = line.trim().trim_start_matches("console: http://").trim_end_matches('/').to_string();
    Console { child, address }
}

#[cfg(unix)]
#[test]
fn told_to_end_it_ends_within_ten_seconds_whatever_hangs() {
    use std::io::Write;
    use std::net::TcpStream;
    let folder = Folder::new();
    let mut console = console(&folder);
    let mut hanging = Vec::new();
    for text in
        ["", "GET / HT", "POST /tanks/dip HTTP/1.1\r\nHost: localhost\r\nContent-Length: 90\r\n\r\ntank="]
    {
        let mut stream = TcpStream::connect(&console.address).unwrap();
        stream.write_all(text.as_bytes()).unwrap();
        hanging.push(stream);
    }
    let begun = std::time::Instant::now();
    let told = Command::new("kill").arg(console.child.id().to_string()).status().unwrap();
    assert!(told.success());
    let ended = console.child.wait().unwrap();
    assert!(begun.elapsed() < std::time::Duration::from_secs(10), "{:?}", begun.elapsed());
    assert_eq!(ended.code(), Some(0));
    folder.expect(&["ledger", "verify"], 0, &[]);
}

#[test]
fn a_backup_is_made_read_back_and_put_into_an_empty_folder() {
    let folder = Folder::new();
    let add = ["ledger", "add", "--author", "Pat", "note", "text=before the backup"];
    folder.expect(&add, 0, &[]);
    let told = folder.expect(&["backup", "copies"], 0, &[]);
    assert!(told.contains("Backed up and read back") && told.contains("ledger.db"), "{told}");
    let copy = std::fs::read_dir(folder.0.join("copies")).unwrap().next().unwrap().unwrap().path();
    let copy = copy.to_str().unwrap();
    folder.expect(&["ledger", "add", "--author", "Pat", "note", "text=after it"], 0, &[]);
    assert!(folder.expect(&["restore", copy, "--check"], 0, &[]).starts_with("Whole:"));
    folder.expect(&["restore", copy, "--into", "home"], 0, &[]);
    let verdict = folder.expect(&["ledger", "verify", "--json", "--database", "home/ledger.db"], 0, &[]);
    assert!(verdict.contains("\"rows\": 1") || verdict.contains("\"rows\":1"), "{verdict}");
    assert_eq!(std::fs::read_to_string(folder.0.join("home/yard.toml")).unwrap(), YARD);
    // Never over what is there, and never what is not whole.
    folder.expect(&["restore", copy, "--into", "home"], 4, &["home", "not empty"]);
    let ledger = Path::new(copy).join("ledger.db");
    let mut bytes = std::fs::read(&ledger).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&ledger, bytes).unwrap();
    let output = folder.run(&["restore", copy, "--into", "other"]);
    assert!(!output.status.success(), "{}", text(&output.stdout));
    assert!(!folder.0.join("other/ledger.db").exists());
}

#[test]
fn a_taken_port_and_a_second_server_are_refused() {
    let folder = Folder::new();
    let first = console(&folder);
    assert!(first.address.starts_with("127.0.0.1:"), "{}", first.address);
    folder.expect(&["serve", "--address", "127.0.0.1:0"], 4, &["in use by another brinewright"]);
    let other = Folder::new();
    other.expect(&["serve", "--address", &first.address], 4, &["cannot listen there", "--address"]);
    other.expect(&["serve", "--base-path", "brine/"], 2, &["--base-path"]);
    other.expect(&["serve", "--database", "postgres://x/y"], 2, &["not built in"]);
    drop(first);
    let again = console(&folder);
    assert!(again.address.starts_with("127.0.0.1:"), "the lock goes with the program");
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
    assert!(lines[2].contains("26.67") && lines[3].contains("40") && lines[4].contains("not a number"));
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
        salts[4].contains("cacl2_wt_pct: strength -1 %") && salts[5].contains("120 % by mass"),
        "{salts:?}"
    );
    assert!(salts[6].contains("does not stay dissolved at 0 °C"), "{}", salts[6]);
    let again = folder.run(&["properties", "--csv", "salts.csv"]);
    folder.write("twice.csv", &String::from_utf8(again.stdout).unwrap());
    folder.expect(&["properties", "--csv", "twice.csv"], 2, &["would be written twice"]);
    folder.write("ragged.csv", "nacl_wt_pct,temp_c\n1,2\n1,2,3\n");
    folder.expect(&["properties", "--csv", "ragged.csv"], 2, &["ragged.csv", "line"]);
    folder.write("wrong.csv", "nacl,temp_c\n1,2\n");
    folder.expect(&["properties", "--csv", "wrong.csv"], 2, &["nacl_wt_pct", "did you mean"]);
    folder.expect(&["properties", "--strength-pct", "0.233"], 2, &["looks like a fraction"]);
    assert!(folder.expect(&["properties", "--strength-pct", "23.3"], 0, &[]).contains("2.28"));
    let tanks = include_str!("../../site/tests/data/tank_volume.csv");
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

/// Runs with an answer on the input.
fn answered(folder: &Folder, args: &[&str], answer: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_brinewright"))
        .current_dir(&folder.0)
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // One that refuses before it asks has closed its end.
    let _ = std::io::Write::write_all(&mut child.stdin.take().unwrap(), answer.as_bytes());
    child.wait_with_output().unwrap()
}

#[test]
fn people_are_taken_in_and_a_lost_password_is_set_anew_at_the_machine() {
    let folder = Folder::new();
    assert!(folder.expect(&["user", "list"], 0, &[]).contains("Nobody is enrolled"));
    let add = |args: &[&str], answer: &str| {
        let output = answered(&folder, args, answer);
        (output.status.code().unwrap(), text(&output.stdout) + &text(&output.stderr))
    };
    let ines = ["user", "add", "Ines", "--role", "supervisor", "--password"];
    assert_eq!(add(&ines, "short\n").0, 2);
    let (code, said) = add(&ines, "a quiet winter\n");
    assert!(code == 0 && said.contains("Ines is taken in"), "{said}");
    assert!(add(&ines, "a quiet winter\n").1.contains("another has this name"));
    assert!(add(&["user", "add", "Lou", "--pin"], "2222\n").1.contains("first that anybody tries"));
    assert_eq!(add(&["user", "add", "Lou", "--pin"], "4071\n").0, 0);
    assert!(add(&["user", "password", "Ine"], "x\n").1.contains("did you mean \"Ines\""));
    assert!(add(&["user", "password", "Ines"], "a loud summer\n").1.contains("signed out everywhere"));
    folder.expect(&["user", "role", "Lou", "boss"], 2, &["accepted: viewer, operator, trainer, supervisor"]);
    folder.expect(&["user", "leave", "Ines"], 2, &["the last supervisor with a password stays"]);
    folder.expect(&["user", "leave", "Lou"], 0, &[]);
    let list: serde_json::Value =
        serde_json::from_str(&folder.expect(&["user", "list", "--json"], 0, &[])).unwrap();
    assert_eq!(list["people"][1]["is_active"], false, "{list}");
}

#[test]
fn other_machines_come_in_encrypted_only() {
    let folder = Folder::new();
    folder.expect(&["serve", "--address", "0.0.0.0:0"], 2, &["without encryption", "tls init"]);
    folder.expect(&["tls", "init", "--host", "not a name"], 2, &["--host not a name"]);
    folder.expect(&["tls", "show"], 2, &["authority.pem"]);
    let made = folder.expect(&["tls", "init", "--host", "brine.test"], 0, &[]);
    let shown = folder.expect(&["tls", "show"], 0, &[]);
    let fingerprint = shown.lines().next().unwrap();
    assert!(made.contains(fingerprint) && fingerprint.len() == "Fingerprint: ".len() + 95, "{shown}");
    folder.expect(&["tls", "init", "--host", "brine.test"], 2, &["--again"]);
    folder.write("broken.pem", "no certificate");
    let own = ["serve", "--address", "127.0.0.1:0", "--certificate", "broken.pem", "--key", "broken.pem"];
    folder.expect(&own, 2, &["broken.pem"]);
    folder.expect(&["serve", "--trust-address", "127.0.0.1:0", "--behind-proxy"], 2, &["--trust-address"]);
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

#[test]
fn the_demo_prints_both_plans_and_starts_again_on_its_folder() {
    let folder = Folder::new();
    for _ in 0..2 {
        let out = folder.expect(&["demo", "--print-only", "--folder", "demo"], 0, &[]);
        assert_eq!(out.matches("Storm plan for").count(), 2);
        assert!(
            out.contains("32.004 mm")
                && out.contains("Spray ahead, with care")
                && out.contains("Hold the brine")
        );
    }
    let verified = folder.expect(&["ledger", "verify", "--database", "demo/ledger.db"], 0, &[]);
    assert!(verified.contains("Sound"), "{verified}");
    let si = folder.expect(&["demo", "--print-only", "--folder", "demo", "--units", "si"], 0, &[]);
    assert!(si.contains(" L (") && si.contains("°C"));
}

/// W12 of the worked examples, and what cannot be done so.
#[test]
fn a_tank_is_put_right() {
    let folder = Folder::new();
    let w12 = ["correct", "--volume-gal", "5000", "--strength-pct", "25", "--with", "water"];
    assert!(folder.expect(&w12, 0, &[]).contains("Put in 435 gal of water."));
    let json = folder.expect(&[&w12[..], &["--json"]].concat(), 0, &[]);
    let document: serde_json::Value = serde_json::from_str(&json).unwrap();
    let gallons = document["add_m3"].as_f64().unwrap() / 0.003_785_411_784;
    assert!((gallons / 434.0 - 1.0).abs() < 0.02, "{gallons}");
    let full = [&w12[..], &["--capacity-gal", "5200"]].concat();
    assert!(folder.expect(&full, 1, &[]).contains("First draw off"));
    let weak = ["correct", "--volume-gal", "5000", "--strength-pct", "20", "--with", "water"];
    folder.expect(&weak, 1, &["water only makes it weaker"]);
    folder.expect(&["correct", "--strength-pct", "25", "--with", "water"], 2, &["--volume-gal is missing"]);
    folder.expect(
        &["correct", "--volume-gal", "5000", "--strength-pct", "25", "--with", "sand"],
        2,
        &["sand", "accepted"],
    );
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
    measure(&["--instrument", "brix", "--reading", "26.2"], &["temperature missing"]);
    measure(&["--instrument", "brx", "--reading", "26.2"], &["did you mean \"brix\"", "salometer"]);
    measure(&["--instrument", "baume", "--reading", "88", "--temp-c", "15"], &["off the scale", "salometer"]);
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
    assert!(rows[2].contains(",23.") && rows[3].contains("temperature missing"));
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
    let page = include_str!("../../../docs/plant.md");
    for (kind, ..) in plant::scenario::KINDS {
        assert!(page.contains(&format!("`{kind}`")), "{kind}");
    }
}

/// A scenario is played, told and refused; the same file gives the same rows.
#[test]
fn a_plant_is_simulated() {
    let folder = Folder::new();
    let path = folder.write("run.toml", include_str!("../../../examples/bridging.toml"));
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
        ("layout = \"batch\"\nwater_c = 60", "water_c: 60; accepted: 0.5…38"),
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

/// What the practice plant and the points need is refused before anything is served, and nothing is left behind.
#[test]
fn what_is_served_besides_pages_is_checked_first() {
    let folder = Folder::new();
    let serve = ["serve", "--address", "127.0.0.1:0"];
    let with = |more: &[&'static str]| [serve.as_slice(), more].concat();
    folder.expect(&with(&["--practice-mqtt", "broker"]), 2, &["--practice-mqtt = broker", "host and a port"]);
    folder.expect(&with(&["--practice-modbus", "here"]), 2, &["--practice-modbus"]);
    assert!(!folder.0.join("ledger.db").exists(), "no ledger is made for what is not served");
    folder.write(
        "points.toml",
        &format!(
            "{YARD}\n[[machine]]\nid = \"c\"\nprotocol = \"modbus\"\naddress = \"192.0.2.1:502\"\n\
             [[point]]\nid = \"panel\"\nmachine = \"c\"\nregister = 1\n"
        ),
    );
    folder.write("telemetry.db", &"a file of somebody else, and long enough to be looked at\n".repeat(200));
    folder.expect(&with(&["--yard", "points.toml"]), 2, &["telemetry.db"]);
    let text = std::fs::read_to_string(folder.0.join("telemetry.db")).unwrap();
    assert!(text.starts_with("a file of somebody else"), "it is left as it was");
}

/// A demo yard with its ledger, in a folder.
fn demo(folder: &Folder) {
    folder.expect(&["demo", "--print-only", "--folder", "."], 0, &[]);
}

const NOW: [&str; 2] = ["--now", "2013-01-24T18:00:00Z"];

/// The report of the demo's season against sums made here from the exported ledger, line by line to the pound. The
/// brine's density is worked out here from the ledger's own rows: by a straight line through two handbook values for 22
/// and 24 % (1.1640 and 1.1804 at 20 °C; CRC handbook, from memory), 0.6 % denser at 6 °C by its expansion of 0.00043 a
/// kelvin (the same), which is good to 0.15 %.
#[test]
fn the_demos_report_ties_to_its_ledger() {
    let folder = Folder::new();
    demo(&folder);
    let report: serde_json::Value =
        serde_json::from_str(&folder.expect(&[&["report", "season", "--json"][..], &NOW].concat(), 0, &[]))
            .unwrap();
    let exported = folder.expect(&["ledger", "export", "--format", "jsonl"], 0, &[]);
    let rows: Vec<serde_json::Value> =
        exported.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let taken_back: Vec<&str> = rows
        .iter()
        .filter(|row| row["kind"] == "void")
        .filter_map(|row| row["body"]["event"].as_str())
        .collect();
    let season: &str =
        rows.iter().find(|row| row["kind"] == "season_start").unwrap()["occurred_at"].as_str().unwrap();
    let standing = |kind: &str| {
        let of = |row: &&serde_json::Value| {
            row["kind"] == kind
                && !taken_back.contains(&row["id"].as_str().unwrap())
                && row["occurred_at"].as_str().unwrap() >= season
        };
        rows.iter().filter(of).map(|row| row["body"].clone()).collect::<Vec<_>>()
    };
    let sum =
        |kind: &str, field: &str| standing(kind).iter().filter_map(|body| body[field].as_f64()).sum::<f64>();
    let kg = |pointer: &str| report.pointer(pointer).unwrap().as_f64().unwrap();
    let pound = 0.453_592_37;
    // Masses that stand in the ledger themselves: to the pound.
    for (pointer, kind, field) in [
        ("/rock_salt_kg/delivered", "salt_delivery", "mass_kg"),
        ("/rock_salt_kg/spread", "application", "salt_kg"),
    ] {
        let (told, added) = (kg(pointer), sum(kind, field));
        assert!((told - added).abs() < pound, "{pointer}: {told} {added}");
    }
    let salt = |name: &str| kg(&format!("/rock_salt_kg/{name}"));
    let closing = salt("opening") + salt("delivered") + salt("agreed")
        - salt("made")
        - salt("corrected")
        - salt("spread");
    assert!((closing - salt("closing")).abs() < 1e-6 && (salt("opening") / 907.184_74 - 120.0).abs() < 1e-9);
    // Route by route: dry salt, lane length, hours, loads.
    for route in report["routes"].as_array().unwrap() {
        let id = route["route"].as_str().unwrap();
        let of_route =
            |kind: &str| standing(kind).into_iter().filter(|body| body["route"] == id).collect::<Vec<_>>();
        let add = |bodies: &[serde_json::Value], field: &str| {
            bodies.iter().filter_map(|b| b[field].as_f64()).sum::<f64>()
        };
        let (treated, loads) = (of_route("application"), of_route("load_out"));
        for (told, added) in [
            (&route["dry_salt_kg"], add(&treated, "salt_kg")),
            (&route["lane_m"], add(&treated, "lane_m")),
            (&route["truck_h"], add(&treated, "duration_h")),
            (&route["planned_m3"], add(&loads, "planned_m3")),
        ] {
            assert!((told.as_f64().unwrap() - added).abs() < pound, "{id}: {told} {added}");
        }
        assert_eq!(route["loads"].as_u64().unwrap() as usize, loads.len());
        assert_eq!(route["treatments"].as_u64().unwrap() as usize, treated.len());
    }
    // Liquids: the books' lines against volumes of the ledger, by densities of a handbook.
    let density = |pct: f64| 1164.0 + (1180.4 - 1164.0) / 2.0 * (pct - 22.0);
    let made: f64 = standing("making_run")
        .iter()
        .map(|run| run["volume_m3"].as_f64().unwrap() * density(run["strength_pct"].as_f64().unwrap()))
        .sum();
    // Runs are stated at 6 °C.
    let told = kg("/liquids/made/mass_kg");
    assert!((told / made - 1.006).abs() < 0.0015, "{told} {made}");
    let in_runs: f64 = standing("making_run")
        .iter()
        .map(|run| {
            let pct = run["strength_pct"].as_f64().unwrap();
            run["volume_m3"].as_f64().unwrap() * density(pct) * pct / 100.0
        })
        .sum();
    assert!((kg("/liquids/made/sodium_chloride_kg") / in_runs - 1.006).abs() < 0.0015);
    let chloride = 35.453 / (22.990 + 35.453);
    let ratio = kg("/liquids/made/chloride_kg") / kg("/liquids/made/sodium_chloride_kg");
    assert!((ratio - chloride).abs() < 1e-4, "atomic weights (IUPAC): {ratio}");
    for (line, kind) in
        [("loaded", "load_out"), ("returned", "return_to_tank"), ("issued", "issue_out"), ("lost", "loss")]
    {
        // Loads are at 2 °C: their volume at 60 °F is up to 0.8 % more.
        let ratio = kg(&format!("/liquids/{line}/volume_m3")) / sum(kind, "volume_m3");
        assert!((0.999..1.009).contains(&ratio), "{line}: {ratio}");
    }
    // Opening with all lines is the closing, tank by tank, to the gram.
    let lines = ["made", "bought", "added", "from_tank", "returned", "agreed"];
    let out = ["to_tank", "loaded", "issued", "lost", "cleaned_out"];
    let tanks = report["tanks"].as_object().unwrap();
    for account in tanks.values().chain([&report["liquids"]]) {
        for field in ["mass_kg", "sodium_chloride_kg", "chloride_kg"] {
            let of = |name: &str| account[name][field].as_f64().unwrap();
            let closing = of("opening") + lines.iter().map(|l| of(l)).sum::<f64>()
                - out.iter().map(|l| of(l)).sum::<f64>();
            assert!((closing - of("closing")).abs() < 1e-3, "{field}");
        }
    }
    // The same figures by every way out: text, CSV and JSON agree to the pound.
    let csv = folder.expect(&[&["report", "season", "--csv", "rock-salt"][..], &NOW].concat(), 0, &[]);
    let delivered: f64 = csv
        .lines()
        .find(|line| line.starts_with("delivered (+)"))
        .unwrap()
        .rsplit(',')
        .next()
        .unwrap()
        .parse()
        .unwrap();
    assert!((delivered * pound - salt("delivered")).abs() < 1e-3);
    let text = folder.expect(&[&["report", "season"][..], &NOW].concat(), 0, &[]);
    let shown = format!("{:.0}", salt("delivered") / pound);
    assert!(text.replace(',', "").contains(&shown), "{shown}");
    folder.expect(&[&["report", "season", "--xlsx", "season.xlsx"][..], &NOW].concat(), 0, &[]);
    assert!(std::fs::read(folder.0.join("season.xlsx")).unwrap().starts_with(b"PK"));
}

#[test]
fn the_demos_books_do_not_close_for_a_reason() {
    let folder = Folder::new();
    demo(&folder);
    // Planted: the loading meter lets 6 % more out than it shows.
    let told = folder.expect(&[&["report", "close", "--json"][..], &NOW].concat(), 1, &[]);
    let told: serde_json::Value = serde_json::from_str(&told).unwrap();
    assert_eq!(told["suspects"][0]["cause"], "LoadingMeter");
    let (size, within) =
        (told["suspects"][0]["size"].as_f64().unwrap(), told["suspects"][0]["interval_95"].as_f64().unwrap());
    assert!((size - 0.06).abs() < within, "{size} {within}");
    let due = folder.expect(&[&["report", "due"][..], &NOW].concat(), 0, &[]);
    assert!(due.contains("wash bay") && due.contains("due since"));
    let storms = folder.expect(&[&["report", "storms"][..], &NOW].concat(), 0, &[]);
    assert!(storms.contains("Long snow") && storms.contains("Not named"));
    let empty = Folder::new();
    empty.expect(&["report", "close"], 2, &["ledger.db"]);
    folder.expect(&["report", "season", "--from", "2013-01-20", "--until", "2013-01-10"], 2, &["--until"]);
    folder.expect(&["report", "season", "--csv", "salty"], 2, &["accepted: liquids"]);
}

#[test]
fn a_table_is_imported_whole_or_not_at_all() {
    let folder = Folder::new();
    let write = |text: &str| std::fs::write(folder.0.join("treated.csv"), text).unwrap();
    let import = ["ledger", "import", "application", "treated.csv", "--author", "Lou"];
    write("at,route,treated,salt_lb\n2026-01-05 05:00,R1,dry,500\n2026-01-05 06:00,R99,dry,500\n,R2,dry,1\n");
    folder.expect(&import, 2, &["line 3", "R99", "line 4", "at = (none)", "Nothing was recorded"]);
    write("route,salt_lb\nR1,500\n");
    folder.expect(&import, 2, &["no column says when"]);
    write("at,route,treated,salt_lb,blah\n2026-01-05 05:00,R1,dry,500,x\n");
    folder.expect(&import, 2, &["blah", "no such field"]);
    assert!(!folder.0.join("ledger.db").exists(), "nothing was made");
    // Semicolons, a mark of byte order, a decimal comma, a row twice: two entries; the file twice: once.
    write("\u{feff}at;route;treated;salt_lb\n2026-01-05 05:00;R1;dry;500,5\n2026-01-05 05:00;R1;dry;500,5\n");
    assert!(folder.expect(&import, 0, &[]).contains("Recorded 2 of 2"));
    assert!(folder.expect(&import, 0, &[]).contains("Recorded 0 of 2"));
    assert!(folder.expect(&["ledger", "verify"], 0, &[]).contains("2 rows"));
    let list = folder.expect(&["ledger", "list"], 0, &[]);
    assert!(list.contains("500 lb") || list.contains("501 lb"), "{list}");
    // Blank lines above count as lines.
    write("\n\nat,route,treated,salt_lb\n2026-01-05 05:00,R99,dry,1\n");
    folder.expect(&import, 2, &["line 4", "R99"]);
    // A row that was taken back is asked about, and comes again as a new entry.
    write("at,route,treated,salt_lb\n2026-01-06 05:00,R2,dry,300\n");
    assert!(folder.expect(&import, 0, &[]).contains("Recorded 1 of 1"));
    let rows = folder.expect(&["ledger", "export"], 0, &[]);
    let last: serde_json::Value = serde_json::from_str(rows.lines().last().unwrap()).unwrap();
    let event = format!("event={}", last["id"].as_str().unwrap());
    folder.expect(&["ledger", "add", "void", &event, "reason=wrong", "--author", "Lou"], 0, &[]);
    folder.expect(&import, 2, &["line 2", "was imported before, and taken back"]);
    let confirmed = [&import[..], &["--confirm"]].concat();
    assert!(folder.expect(&confirmed, 0, &[]).contains("Recorded 1 of 1"));
    assert!(folder.expect(&confirmed, 0, &[]).contains("Recorded 0 of 1"));
}

#[test]
fn a_catch_test_gives_a_card() {
    let folder = Folder::new();
    // W33: ten nozzles, 64 fl oz each in 15 s: 20 gal/min; in brine 0.922 of it (04-calibration).
    let caught = ["64"; 10].join(" ");
    let args = ["calibrate", "sprayer", "--truck", "T1", "--seconds", "15", "--caught-floz", &caught];
    let card = folder.expect(&args, 0, &[]);
    assert!(card.contains("10 nozzles gave 20.0 gal/min") && card.contains("18.4 gal/min"), "{card}");
    assert!(card.contains("30 mph") && card.contains("37 gal per lane-mile"), "18.4 · 60 / 30: {card}");
    let args = ["calibrate", "sprayer", "--truck", "T1", "--seconds", "15", "--caught-floz", "64 64 80"];
    folder.expect(&args, 1, &[]);
    let args = ["calibrate", "sprayer", "--truck", "T9", "--seconds", "15", "--caught-floz", "64 64"];
    folder.expect(&args, 2, &["T9"]);
    let args = [
        "calibrate",
        "spreader",
        "--truck",
        "T1",
        "--setting",
        "4",
        "--caught-lb",
        "100 100 100",
        "--turns",
        "5",
        "--per-minute",
        "10",
    ];
    assert!(folder.expect(&args, 0, &[]).contains("600 lb per lane-mile"), "W30");
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
    for part in ["Put in ", "gal of water", "First a jar", "salt comes out of it, not ice", "$"] {
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
        told.contains("in the tank already") && told.contains("Magnesium chloride liquid (tank 4)"),
        "{told}"
    );
    let gone = ["--from", "tank=9", "--clear-f", "0", "--ice-f", "-9"];
    folder.expect(&[&yard[..], &gone].concat(), 1, &["\"9\" is not in the yard file"]);
    let much = ["--volume-gal", "900000", "--ice-f", "-9"];
    folder.expect(&[&yard[..], &much].concat(), 2, &["no more than"]);
}

#[test]
fn an_event_is_taken_back_by_its_row() {
    let folder = Folder::new();
    folder.write("yard.toml", include_str!("../../../examples/alder_fork.toml"));
    let add = ["ledger", "add", "--author", "Pat", "salt_delivery", "mass_tons=24", "ticket=S-1"];
    assert!(folder.expect(&add, 0, &[]).contains("row 1"));
    let void = |row: &'static str, reason: &'static str| {
        ["ledger", "void", row, "--author", "Lou", "--reason", reason]
    };
    folder.expect(&void("2", "x y z"), 2, &["row 2: not in the ledger; accepted: 1 to 1"]);
    let said = folder.expect(&void("1", "wrong ticket"), 0, &[]);
    assert!(said.contains("Row 1 is taken back, by row 2"), "{said}");
    folder.expect(&void("1", "again"), 2, &["was taken back already, in row 2"]);
    let balance = folder.expect(&["ledger", "balance", "--json"], 0, &[]);
    let balance: serde_json::Value = serde_json::from_str(&balance).unwrap();
    assert!(balance["rock_salt_kg"].as_f64().unwrap().abs() < 1e-9, "{balance}");
}

#[test]
fn the_demos_clock_runs_and_its_people_can_be_tried() {
    let folder = Folder::new();
    let mut child = Command::new(env!("CARGO_BIN_EXE_brinewright"))
        .current_dir(&folder.0)
        .args(["demo", "--people", "--folder", "demo", "--address", "127.0.0.1:0"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut said = String::new();
    let mut lines = BufReader::new(child.stdout.take().unwrap());
    let address = loop {
        let mut line = String::new();
        assert!(lines.read_line(&mut line).unwrap() > 0, "{said}");
        said.push_str(&line);
        if let Some(address) = line.trim().strip_prefix("console: http://") {
            break address.trim_end_matches('/').to_owned();
        }
    };
    let console = Console { child, address };
    assert!(said.contains("Lou, ") && said.contains("PIN 4071") && said.contains("/enrol"), "{said}");
    let now = || -> i64 {
        let mut stream = std::net::TcpStream::connect(&console.address).unwrap();
        let ask = "GET /offline/clock HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\n\r\n";
        std::io::Write::write_all(&mut stream, ask.as_bytes()).unwrap();
        let mut answer = String::new();
        std::io::Read::read_to_string(&mut stream, &mut answer).unwrap();
        let (_, rest) = answer.split_once("\"now_ms\":").unwrap_or_else(|| panic!("{answer}"));
        rest.split([',', '}']).next().unwrap().trim().parse().unwrap()
    };
    // 2013-01-24T18:00:00Z.
    let start = 1_359_050_400_000;
    let first = now();
    assert!((start..start + 120_000).contains(&first), "{first}");
    std::thread::sleep(std::time::Duration::from_millis(1100));
    assert!(now() - first >= 1000, "the clock runs");
}

/// A bad row is named, the others are saved, and an end that was written down tells what was cut off.
#[test]
fn damage_is_named_the_rest_is_saved_and_an_end_is_held_against() {
    let folder = Folder::new();
    folder.write("yard.toml", include_str!("../../../examples/alder_fork.toml"));
    for text in ["one", "two", "three"] {
        folder.expect(&["ledger", "add", "--author", "Pat", "note", &format!("text={text}")], 0, &[]);
    }
    let said = folder.expect(&["ledger", "verify"], 0, &[]);
    let end = said.lines().last().unwrap().trim().to_owned();
    assert!(end.starts_with("3:") && end.len() == 66, "{said}");
    folder.expect(&["ledger", "verify", "--expect", &end], 0, &[]);
    folder.expect(&["ledger", "verify", "--expect", "3:zz"], 2, &["ROW:HASH"]);
    let other = format!("3:{}", "0".repeat(64));
    let said = folder.expect(&["ledger", "verify", "--expect", &other], 1, &[]);
    assert!(said.contains("not the row that was recorded there"), "{said}");
    let later = format!("9:{}", "0".repeat(64));
    let said = folder.expect(&["ledger", "verify", "--expect", &later], 1, &[]);
    assert!(said.contains("row 9 was recorded and is not there"), "{said}");
    // One bad letter in a row's text.
    let path = folder.0.join("ledger.db");
    let mut bytes = std::fs::read(&path).unwrap();
    let place = bytes.windows(12).position(|part| part == b"{\"text\":\"two").unwrap();
    bytes[place + 9] = 0xff;
    std::fs::write(&path, bytes).unwrap();
    let said = folder.expect(&["ledger", "verify"], 1, &[]);
    assert!(said.contains("Damaged at row 2"), "{said}");
    folder.expect(&["ledger", "add", "--author", "Pat", "note", "text=four"], 1, &["damaged at row 2"]);
    let out = folder.expect(&["ledger", "export", "--output", "kept.jsonl"], 1, &["row 2:", "were left out"]);
    assert!(out.contains("2 rows written"), "{out}");
    let kept = std::fs::read_to_string(folder.0.join("kept.jsonl")).unwrap();
    assert!(kept.contains("one") && kept.contains("three") && !kept.contains("two"), "{kept}");
}
