//! The demo, and what is reported of its season.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

use super::folder::*;

#[test]
fn the_demo_prints_both_plans_and_starts_again_on_its_folder() {
    let folder = Folder::new();
    for _ in 0..2 {
        let out = folder.expect(&["demo", "--print-only", "--folder", "demo"], 0, &[]);
        assert_eq!(out.matches("Storm plan for").count(), 2);
        assert!(
            out.contains("1.26 in (melted)")
                && out.contains("OK to pretreat")
                && out.contains("Do not pretreat")
        );
    }
    let verified = folder.expect(&["ledger", "verify", "--database", "demo/ledger.db"], 0, &[]);
    assert!(verified.contains("Sound"), "{verified}");
    let si = folder.expect(&["demo", "--print-only", "--folder", "demo", "--units", "si"], 0, &[]);
    assert!(si.contains(" L (") && si.contains("°C"));
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
    assert!(storms.contains("Long snow") && storms.contains("No name"));
    let empty = Folder::new();
    empty.expect(&["report", "close"], 2, &["ledger.db"]);
    folder.expect(&["report", "season", "--from", "2013-01-20", "--until", "2013-01-10"], 2, &["--until"]);
    folder.expect(&["report", "season", "--csv", "salty"], 2, &["accepted: liquids"]);
}

#[test]
fn a_catch_test_gives_a_card() {
    let folder = Folder::new();
    // W33: ten nozzles, 64 fl oz each in 15 s: 20 gal/min; in brine 0.922 of it (04-calibration).
    let caught = ["64"; 10].join(" ");
    let args = ["calibrate", "sprayer", "--truck", "T1", "--seconds", "15", "--caught-floz", &caught];
    let card = folder.expect(&args, 0, &[]);
    assert!(card.contains("10 nozzles: 20.0 gal/min") && card.contains("18.4 gal/min"), "{card}");
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
