//! Word to people, against a mail server and a web server of our own that write down what they are told.
//!
//! The mail server speaks as much of SMTP (RFC 5321) as a mail takes.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpListener;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use axum::http::StatusCode;
use common::{TestApp, get, post};
use console::alerts::look;
use console::people::People;
use jiff::SignedDuration;
use std::sync::Arc;
use store::people::PeopleFile;

/// Takes mails, whole ones; the answer is its port and what it took.
fn mail_server() -> (u16, Receiver<String>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let (send, taken) = channel();
    std::thread::spawn(move || {
        for stream in listener.incoming().map_while(Result::ok) {
            let mut writer = stream.try_clone().unwrap();
            let lines = BufReader::new(stream).lines().map_while(Result::ok);
            writer.write_all(b"220 mail.yard.example\r\n").unwrap();
            let (mut mail, mut is_text) = (String::new(), false);
            for line in lines {
                if is_text {
                    mail.push_str(&format!("{line}\n"));
                    if line == "." {
                        is_text = false;
                        writer.write_all(b"250 taken\r\n").unwrap();
                    }
                    continue;
                }
                mail.push_str(&format!("{line}\n"));
                let answer: &[u8] = match line.split(' ').next().unwrap_or("") {
                    "EHLO" => b"250 mail.yard.example\r\n",
                    "DATA" => {
                        is_text = true;
                        b"354 go on\r\n"
                    }
                    "QUIT" => b"221 bye\r\n",
                    _ => b"250 good\r\n",
                };
                writer.write_all(answer).unwrap();
                if line == "QUIT" {
                    break;
                }
            }
            let _ = send.send(mail);
        }
    });
    (port, taken)
}

/// Takes what is posted, and answers with a status.
fn web_server(status: &'static str) -> (u16, Receiver<String>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let (send, taken) = channel();
    std::thread::spawn(move || {
        for mut stream in listener.incoming().map_while(Result::ok) {
            let mut reader = BufReader::new(stream.try_clone().unwrap());
            let (mut line, mut length) = (String::new(), 0);
            while reader.read_line(&mut line).unwrap() > 2 {
                let lower = line.to_lowercase();
                if let Some(text) = lower.strip_prefix("content-length:") {
                    length = text.trim().parse().unwrap();
                }
                line.clear();
            }
            let mut body = vec![0; length];
            reader.read_exact(&mut body).unwrap();
            let answer = format!("HTTP/1.1 {status}\r\ncontent-length: 0\r\nconnection: close\r\n\r\n");
            stream.write_all(answer.as_bytes()).unwrap();
            let _ = send.send(String::from_utf8(body).unwrap());
        }
    });
    (port, taken)
}

fn with_alerts(yard: &str, lines: &str) -> String {
    format!("{yard}\n[alerts]\n{lines}\n")
}

fn people(test: &TestApp) -> Arc<People> {
    let file = PeopleFile::open(&test.folder.join("people.db")).unwrap();
    Arc::new(People::new(file, test.app.clock.now()).unwrap())
}

const WAIT: Duration = Duration::from_secs(10);

#[tokio::test]
async fn word_goes_out_once_and_again_until_somebody_has_seen_it() {
    let test = TestApp::new();
    let (mail_port, mails) = mail_server();
    let (hook_port, posts) = web_server("204 No Content");
    let lines = format!(
        "mail_to = [\"lead@yard.example\", \"office@yard.example\"]\nmail_from = \"brine@yard.example\"\n\
         smtp_host = \"127.0.0.1\"\nsmtp_port = {mail_port}\nsmtp_security = \"none\"\n\
         webhook = \"http://127.0.0.1:{hook_port}/brine\"\nagain_h = 6"
    );
    let people = people(&test);
    let at = |minutes: i64| {
        let mut later = test.in_yard_at(|yard| with_alerts(yard, &lines), minutes);
        Arc::get_mut(&mut later.app).unwrap().people = Some(Arc::clone(&people));
        later
    };
    // The yard is short of brine and salt, a tank will drop salt tonight, and instruments were never checked.
    let told = look(&at(0).app).unwrap();
    assert!(told >= 3, "{told}");
    let mail = mails.recv_timeout(WAIT).unwrap();
    for part in [
        "MAIL FROM:<brine@yard.example>",
        "RCPT TO:<lead@yard.example>",
        "RCPT TO:<office@yard.example>",
        "Subject: ",
    ] {
        assert!(mail.contains(part), "{part} in {mail}");
    }
    let post_body: serde_json::Value = serde_json::from_str(&posts.recv_timeout(WAIT).unwrap()).unwrap();
    let kinds: Vec<&str> =
        post_body["alerts"].as_array().unwrap().iter().map(|alert| alert["kind"].as_str().unwrap()).collect();
    assert!(kinds.contains(&"freeze") && kinds.contains(&"cover") && kinds.contains(&"due"), "{kinds:?}");
    assert_eq!(kinds.len(), told);
    // Once told, it is told again after six hours only.
    assert_eq!(look(&at(60).app).unwrap(), 0);
    assert!(look(&at(6 * 60).app).unwrap() >= told - 1);
    mails.recv_timeout(WAIT).unwrap();
    posts.recv_timeout(WAIT).unwrap();
    // Seen on the page, it is told no more.
    let later = at(7 * 60);
    let key = post_body["alerts"][0]["key"].as_str().unwrap();
    let page = later.send(get("/alerts")).await;
    assert!(page.body.contains("I have seen it") && page.body.contains("lead@yard.example"), "{}", page.body);
    let seen = later.send(post("/alerts", &format!("key={key}&author=Pat"))).await;
    assert_eq!(seen.status, StatusCode::SEE_OTHER, "{}", seen.body);
    assert!(later.send(get("/alerts")).await.body.contains("Seen by Pat"));
    assert_eq!(
        later.send(post("/alerts", "key=freeze:nowhere&author=Pat")).await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    look(&at(13 * 60).app).unwrap();
    posts.recv_timeout(WAIT).map(|body| assert!(!body.contains(&format!("\"{key}\"")), "{body}")).unwrap();
}

#[tokio::test]
async fn at_night_only_what_wakes_is_told() {
    let test = TestApp::new();
    let (port, posts) = web_server("200 OK");
    // It is 13:00 in the yard.
    for (quiet, wake, wanted) in [
        ("12:00-15:00", "[\"freeze\"]", Some(vec!["freeze"])),
        ("20:00-05:00", "[\"freeze\"]", None),
        ("12:00-15:00", "[]", Some(vec![])),
    ] {
        let lines = format!("webhook = \"http://127.0.0.1:{port}/\"\nquiet = \"{quiet}\"\nwake = {wake}");
        let mut later = test.in_yard(|yard| with_alerts(yard, &lines));
        Arc::get_mut(&mut later.app).unwrap().people = Some(people(&test));
        let told = look(&later.app).unwrap();
        match wanted {
            Some(kinds) if kinds.is_empty() => assert_eq!(told, 0, "{quiet}"),
            wanted => {
                let body: serde_json::Value =
                    serde_json::from_str(&posts.recv_timeout(WAIT).unwrap()).unwrap();
                let found = body["alerts"].as_array().unwrap();
                match wanted {
                    Some(kinds) => {
                        assert!(found.iter().all(|alert| kinds.contains(&alert["kind"].as_str().unwrap())))
                    }
                    None => assert!(found.len() > 2, "by day all is told"),
                }
            }
        }
        std::fs::remove_file(test.folder.join("people.db")).unwrap();
        for more in ["people.db-wal", "people.db-shm"] {
            let _ = std::fs::remove_file(test.folder.join(more));
        }
    }
}

#[tokio::test]
async fn what_does_not_get_through_is_said_and_tried_again() {
    let test = TestApp::new();
    let (port, posts) = web_server("500 Oops");
    let lines = format!("webhook = \"http://127.0.0.1:{port}/\"");
    let mut later = test.in_yard(|yard| with_alerts(yard, &lines));
    Arc::get_mut(&mut later.app).unwrap().people = Some(people(&test));
    for _ in 0..2 {
        assert_eq!(look(&later.app).unwrap(), 0);
        posts.recv_timeout(WAIT).unwrap();
    }
    let page = later.send(get("/alerts")).await.body;
    assert!(page.contains("Word did not get through") && page.contains("500"), "{page}");
}

#[test]
fn a_backup_is_a_ledger_and_its_failure_is_told() {
    let test = TestApp::new();
    let folder = test.folder.join("backup");
    let backup = console::Backup::new(test.folder.join("ledger.db"), folder.clone());
    let now = test.app.clock.now();
    backup.run_when_due(now);
    backup.run_when_due(now + SignedDuration::from_hours(23));
    let copies = || std::fs::read_dir(&folder).unwrap().count();
    assert_eq!(copies(), 1);
    let copy = std::fs::read_dir(&folder).unwrap().next().unwrap().unwrap().path();
    let ledger = store::SqliteLedger::open_existing(&copy).unwrap();
    let (head, there) = (store::Ledger::head(&ledger).unwrap(), store::Ledger::head(&*test.ledger).unwrap());
    assert_eq!(head, there);
    drop(ledger);
    for night in 1..20 {
        backup.run_when_due(now + SignedDuration::from_hours(24 * night));
    }
    let kept = std::fs::read_dir(&folder)
        .unwrap()
        .filter(|one| one.as_ref().unwrap().file_name().to_string_lossy().ends_with(".db"));
    assert_eq!(kept.count(), 14);
    // A folder that is a file: it fails, and says so.
    let broken = console::Backup::new(test.folder.join("ledger.db"), test.folder.join("ledger.db"));
    broken.run_when_due(now);
    let words = report::Words::of(report::Language::En);
    let display = report::Display::new(test.app.yard.units, test.app.zone.clone());
    let trouble = broken.trouble(&test.app.yard.alerts, now, &words, &display).unwrap();
    assert!(trouble.contains("The backup failed"), "{trouble}");
    let late =
        backup.trouble(&test.app.yard.alerts, now + SignedDuration::from_hours(24 * 30), &words, &display);
    assert!(late.unwrap().contains("The last backup is of"));
}

#[tokio::test]
async fn a_machine_that_is_silent_is_told() {
    let test = TestApp::new();
    let machine = "[[machine]]\nid = \"plc\"\nname = \"Plant controller\"\nprotocol = \"modbus\"\naddress = \"127.0.0.1:9\"\n\
                   [[point]]\nid = \"flow\"\nmachine = \"plc\"\nregister = 0\n";
    let later = test.in_read_yard(|yard| format!("{yard}\n{machine}"));
    let page = later.send(get("/alerts")).await.body;
    assert!(page.contains("Plant controller has been silent: 1 of its points"), "{page}");
}
