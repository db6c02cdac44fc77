//! `serve`, `user`, `tls`, `backup`: the console and who may come in.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Output, Stdio};

use super::folder::*;

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
    assert!(folder.expect(&["user", "list"], 0, &[]).contains("No one is enrolled"));
    let add = |args: &[&str], answer: &str| {
        let output = answered(&folder, args, answer);
        (output.status.code().unwrap(), text(&output.stdout) + &text(&output.stderr))
    };
    let ines = ["user", "add", "Ines", "--role", "supervisor", "--password"];
    assert_eq!(add(&ines, "short\n").0, 2);
    let (code, said) = add(&ines, "a quiet winter\n");
    assert!(code == 0 && said.contains("Ines is taken in"), "{said}");
    assert!(add(&ines, "a quiet winter\n").1.contains("that name is already in use"));
    assert!(add(&["user", "add", "Lou", "--pin"], "2222\n").1.contains("too easy to guess"));
    assert_eq!(add(&["user", "add", "Lou", "--pin"], "4071\n").0, 0);
    assert!(add(&["user", "password", "Ine"], "x\n").1.contains("did you mean \"Ines\""));
    assert!(add(&["user", "password", "Ines"], "a loud summer\n").1.contains("signed out everywhere"));
    folder.expect(&["user", "role", "Lou", "boss"], 2, &["accepted: viewer, operator, trainer, supervisor"]);
    folder.expect(
        &["user", "leave", "Ines"],
        2,
        &["you cannot remove the last supervisor who has a password"],
    );
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
