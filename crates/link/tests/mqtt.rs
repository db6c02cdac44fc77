//! Aim: topics of a broker are listened to and nothing is ever published; a broker that goes and comes is found again.
//! Method: a small broker of our own that says what a test wants and keeps every packet it gets. Packets by the OASIS
//! standard MQTT 3.1.1 (from memory).

mod common;

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use common::{QUICK, live, machine, topic, until, value};
use link::{Quality, follow};
use site::points::Protocol;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

const SOON: Duration = Duration::from_secs(10);

/// Packets a broker got: kind and content.
type Got = Arc<Mutex<Vec<(u8, Vec<u8>)>>>;
/// A message to send: topic, payload, whether it was kept from before.
type Message = (&'static str, &'static [u8], bool);

fn packet(kind: u8, body: &[u8]) -> Vec<u8> {
    let mut bytes = vec![kind];
    let mut length = body.len();
    loop {
        let digit = (length % 128) as u8;
        length /= 128;
        bytes.push(if 0 < length { digit | 0x80 } else { digit });
        if length == 0 {
            break;
        }
    }
    bytes.extend(body);
    bytes
}

fn publish((topic, payload, kept): Message) -> Vec<u8> {
    let mut body = (topic.len() as u16).to_be_bytes().to_vec();
    body.extend(topic.as_bytes());
    body.extend(payload);
    packet(0x30 | u8::from(kept), &body)
}

async fn next(stream: &mut TcpStream) -> Option<(u8, Vec<u8>)> {
    let kind = stream.read_u8().await.ok()?;
    let (mut length, mut factor) = (0, 1);
    loop {
        let digit = stream.read_u8().await.ok()?;
        length += usize::from(digit & 0x7f) * factor;
        factor *= 128;
        if digit & 0x80 == 0 {
            break;
        }
    }
    let mut body = vec![0; length];
    stream.read_exact(&mut body).await.ok()?;
    Some((kind >> 4, body))
}

/// Serves one visitor: says the messages after it has subscribed, then hangs up or waits.
async fn broker(mut stream: TcpStream, messages: Vec<Message>, hangs_up: bool, got: Got) {
    while let Some((kind, body)) = next(&mut stream).await {
        let answer = match kind {
            1 => packet(0x20, &[0, 0]),
            8 => {
                // A filter is a length of two bytes, the topic, and the quality asked for.
                let (mut rest, mut codes) = (&body[2..], vec![body[0], body[1]]);
                while 2 < rest.len() {
                    codes.push(0);
                    rest = &rest[3 + usize::from(u16::from_be_bytes([rest[0], rest[1]]))..];
                }
                packet(0x90, &codes)
            }
            12 => packet(0xd0, &[]),
            _ => Vec::new(),
        };
        got.lock().expect("whole").push((kind, body));
        if stream.write_all(&answer).await.is_err() {
            return;
        }
        if kind == 8 {
            for message in &messages {
                if stream.write_all(&publish(*message)).await.is_err() {
                    return;
                }
            }
            if hangs_up {
                tokio::time::sleep(Duration::from_millis(100)).await;
                return;
            }
        }
    }
}

fn mqtt() -> Protocol {
    Protocol::Mqtt { user: Some("yard".into()), password_file: None }
}

#[tokio::test]
async fn topics_are_heard_and_a_broker_that_was_away_is_asked_again() {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("binds");
    let address = listener.local_addr().expect("an address").to_string();
    let got: Got = Arc::default();
    let keeps = Arc::clone(&got);
    tokio::spawn(async move {
        let first: Vec<Message> = vec![
            ("plant/panel", b"22.5", false),
            ("plant/other", b"99", false),
            ("plant/level", b"{\"value\": 0.5}", false),
            ("plant/level", b"{\"value\": \"half\"", false),
        ];
        let second: Vec<Message> =
            vec![("plant/panel", b"23.5", false), ("plant/level", b"{\"value\": 0.6}", true)];
        for (messages, hangs_up) in [(first, true), (second, false)] {
            let Ok((stream, _)) = listener.accept().await else { return };
            broker(stream, messages, hangs_up, Arc::clone(&keeps)).await;
        }
    });
    let points = vec![topic("panel", "plant/panel", None), topic("level", "plant/level", Some("/value"))];
    let (live, kept) = live(machine(address, mqtt()), points);
    let _task = tokio::spawn(follow(Arc::clone(&live), 0, QUICK));
    until("the first broker", SOON, || value(&live, 0) == Some(22.5)).await;
    until("a damaged message is said", SOON, || {
        matches!(live.shown(1).expect("a point").quality, Quality::Refused(_))
    })
    .await;
    assert_eq!(live.shown(1).expect("a point").value, Some(0.5), "the last good value stays");
    until("the second broker", SOON, || value(&live, 0) == Some(23.5)).await;
    // Kept by the broker from before: shown, of unknown age, and not taken for news.
    until("kept", SOON, || live.shown(1).expect("a point").quality == Quality::Kept).await;
    let mut kept = kept.lock().expect("whole").clone();
    kept.dedup();
    assert_eq!(kept, [(0, 22.5), (1, 0.5), (0, 23.5)]);
    assert_eq!(live.state(0).expect("a state").connections, 2);
    let kinds: BTreeSet<u8> = got.lock().expect("whole").iter().map(|(kind, _)| *kind).collect();
    // CONNECT and SUBSCRIBE; a ping or an acknowledgement would do, a PUBLISH (3) never.
    assert!(kinds.is_subset(&BTreeSet::from([1, 4, 8, 12, 14])), "{kinds:?}");
    assert!(kinds.contains(&8));
    let subscribed = got.lock().expect("whole").iter().filter(|(kind, _)| *kind == 8).count();
    assert_eq!(subscribed, 2, "once on each connection");
}

#[tokio::test]
async fn what_a_broker_does_not_say_any_more_is_stale() {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("binds");
    let address = listener.local_addr().expect("an address").to_string();
    tokio::spawn(async move {
        while let Ok((stream, _)) = listener.accept().await {
            tokio::spawn(broker(stream, vec![("plant/panel", b"1", false)], false, Arc::default()));
        }
    });
    let (live, _) = live(machine(address, mqtt()), vec![topic("panel", "plant/panel", None)]);
    let _task = tokio::spawn(follow(Arc::clone(&live), 0, QUICK));
    until("heard", SOON, || value(&live, 0) == Some(1.0)).await;
    until("stale", SOON, || live.shown(0).expect("a point").quality == Quality::Stale).await;
    assert!(live.state(0).expect("a state").connected);
}

#[tokio::test]
async fn something_else_than_a_broker_is_said_and_tried_again() {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("binds");
    let address = listener.local_addr().expect("an address").to_string();
    let tries = Arc::new(Mutex::new(0));
    let counts = Arc::clone(&tries);
    tokio::spawn(async move {
        while let Ok((mut stream, _)) = listener.accept().await {
            *counts.lock().expect("whole") += 1;
            let _ = stream.write_all(b"SSH-2.0-something\r\n").await;
        }
    });
    let (live, kept) = live(machine(address, mqtt()), vec![topic("panel", "plant/panel", None)]);
    let _task = tokio::spawn(follow(Arc::clone(&live), 0, QUICK));
    until("several tries", SOON, || 3 <= *tries.lock().expect("whole")).await;
    until("said", SOON, || live.state(0).is_some_and(|state| state.trouble.is_some())).await;
    assert!(kept.lock().expect("whole").is_empty());
}
