//! `ledger`: what is recorded, doubted, refused, voided, imported; and what damage does.

use std::path::Path;
use std::process::{Command, Stdio};
use uuid::Uuid;

use super::folder::*;

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
    assert!(list.contains("Jar test: 90% Salt brine with 10% Magnesium chloride liquid by volume"), "{list}");
    let balance = folder.expect(&["ledger", "balance"], 0, &[]);
    assert!(balance.contains("Mixed: 90% salt brine or water by weight"), "{balance}");
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
    add(&["making_run", "tank=7", "volume_gal=2000", "strength_pct=23"], 2, &["is not a tank of this yard"]);
    add(&["making_run", "tank=1", "2000"], 2, &["name=value"]);
    add(
        &["load_out", "tank=1", "truck=T1", "volume_gal=6813"],
        2,
        &["liters entered as gallons", "--confirm"],
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
        &["already saved"],
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
    folder.expect(&["ledger", "verify", "--database", "not.db"], 2, &["is not a brinewright ledger"]);
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

#[test]
fn a_table_is_imported_whole_or_not_at_all() {
    let folder = Folder::new();
    let write = |text: &str| std::fs::write(folder.0.join("treated.csv"), text).unwrap();
    let import = ["ledger", "import", "application", "treated.csv", "--author", "Lou"];
    write("at,route,treated,salt_lb\n2026-01-05 05:00,R1,dry,500\n2026-01-05 06:00,R99,dry,500\n,R2,dry,1\n");
    folder.expect(&import, 2, &["line 3", "R99", "line 4", "at = (none)", "Nothing was recorded"]);
    write("route,salt_lb\nR1,500\n");
    folder.expect(&import, 2, &["has no \"at\""]);
    write("at,route,treated,salt_lb,blah\n2026-01-05 05:00,R1,dry,500,x\n");
    folder.expect(&import, 2, &["blah", "is not a field"]);
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
    folder.expect(&import, 2, &["line 2", "was imported before, then voided"]);
    let confirmed = [&import[..], &["--confirm"]].concat();
    assert!(folder.expect(&confirmed, 0, &[]).contains("Recorded 1 of 1"));
    assert!(folder.expect(&confirmed, 0, &[]).contains("Recorded 0 of 1"));
}

#[test]
fn an_event_is_taken_back_by_its_row() {
    let folder = Folder::new();
    folder.write("yard.toml", include_str!("../../../../examples/alder_fork.toml"));
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

/// A bad row is named, the others are saved, and an end that was written down tells what was cut off.
#[test]
fn damage_is_named_the_rest_is_saved_and_an_end_is_held_against() {
    let folder = Folder::new();
    folder.write("yard.toml", include_str!("../../../../examples/alder_fork.toml"));
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
    folder.expect(&["ledger", "add", "--author", "Pat", "note", "text=four"], 1, &["damaged at entry 2"]);
    let out = folder.expect(&["ledger", "export", "--output", "kept.jsonl"], 1, &["row 2:", "were left out"]);
    assert!(out.contains("2 rows written"), "{out}");
    let kept = std::fs::read_to_string(folder.0.join("kept.jsonl")).unwrap();
    assert!(kept.contains("one") && kept.contains("three") && !kept.contains("two"), "{kept}");
}
