//! Aim: whatever a controller, a broker or a visitor sends is a finite number or an error, and the next one is heard.
//! Method: registers and messages at random, and good ones damaged; peers that answer with anything; visitors of the
//! practice plant's server that ask anything, after whom a good question is answered still.

mod common;

use std::sync::Arc;
use std::time::Duration;

use any_bytes::{bytes, cases, damaged, number, soon};
use common::{QUICK, live, machine, modbus, register, topic, value};
use link::decode::{LONGEST_MESSAGE, every_form, number as of_registers, number_in};
use link::follow;
use link::practice::{Showing, serve_modbus};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use site::points::{Form, Protocol, Table};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

/// Messages as sensors send them, and where in them the figure is.
const MESSAGES: [&[u8]; 5] = [
    b"23.4",
    br#"{"value": 7.5, "unit": "pct"}"#,
    br#"{"a": [{"b": "8"}, {"b": -1.25e1}], "on": true}"#,
    br#"{"sensor":{"readings":[{"t":"2027-01-14T05:40:00Z","v":23.25}]}}"#,
    b"\xef\xbb\xbf23.4\r\n",
];
const POINTERS: [&str; 7] =
    ["", "/", "/value", "/a/0/b", "/a/1/b", "/sensor/readings/0/v", "/~1/~0/99999999999999999999"];

/// Pauses after which a peer that sends anything has been heard.
const HEARD: Duration = Duration::from_millis(150);
/// Most peers that are tried, however many cases are asked for: each takes its time.
const MOST_PEERS: u32 = 200;

fn read(bytes: &[u8], pointer: Option<&str>) -> Result<(), TestCaseError> {
    match soon(|| number_in(bytes, pointer)) {
        Ok(number) => {
            prop_assert!(number.is_finite() && bytes.len() <= LONGEST_MESSAGE);
        }
        Err(why) => {
            let is_plain =
                why.to_string().chars().count() < 200 && !why.to_string().chars().any(char::is_control);
            prop_assert!(!why.to_string().is_empty() && is_plain, "{why:?}");
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(256))]

    #[test]
    fn any_registers_are_a_finite_number_or_none(
        words in prop::collection::vec(any::<u16>(), 0..6), form in 0..Form::ALL.len(), low_first: bool,
    ) {
        let (_, form) = Form::ALL[form];
        let found = of_registers(&words, form, low_first);
        prop_assert!(found.is_none_or(f64::is_finite));
        prop_assert!(found.is_none() || words.len() == usize::from(form.length()));
        prop_assert!(every_form(&words).iter().all(|(.., value)| value.is_finite()));
    }

    #[test]
    fn any_message_is_a_finite_number_or_refused(
        bytes in prop_oneof![bytes(), damaged(&MESSAGES), number().prop_map(String::into_bytes)],
        pointer in prop::option::of(prop::sample::select(&POINTERS[..])),
    ) {
        read(&bytes, pointer)?;
    }

    #[test]
    fn any_pointer_is_answered(pointer in any_bytes::text(), bytes in prop::sample::select(&MESSAGES[..])) {
        read(bytes, Some(&pointer))?;
    }
}

/// Draws of a strategy, as many as the examination asks for, up to what time allows.
fn draws<S: Strategy>(few: u32, strategy: &S) -> Vec<S::Value> {
    let mut runner = TestRunner::new(cases(few));
    let count = cases(few).cases.min(MOST_PEERS);
    (0..count).map(|_| strategy.new_tree(&mut runner).expect("is drawn").current()).collect()
}

/// A peer that sends the next of some answers to every visitor, and then waits a little and hangs up.
async fn peer(answers: Vec<Vec<u8>>) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("binds");
    let address = listener.local_addr().expect("an address").to_string();
    tokio::spawn(async move {
        for answer in answers.into_iter().cycle() {
            let Ok((mut stream, _)) = listener.accept().await else { return };
            tokio::spawn(async move {
                let mut asked = [0; 256];
                let _ = stream.read(&mut asked).await;
                let _ = stream.write_all(&answer).await;
                let _ = stream.read(&mut asked).await;
            });
        }
    });
    address
}

/// The answer of a controller to a question for two input registers, and what a broker says to a new visitor.
const ANSWERS: [&[u8]; 4] = [
    &[0, 0, 0, 0, 0, 7, 1, 4, 4, 0x41, 0xbb, 0x33, 0x33],
    &[0, 0, 0, 0, 0, 3, 1, 0x84, 2],
    &[0x20, 2, 0, 0, 0x90, 3, 0, 1, 0],
    &[0x20, 2, 0, 0, 0x90, 3, 0, 1, 0, 0x30, 9, 0, 1, b't', b'2', b'3', b'.', b'4', b'5', b'6'],
];

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn peers_that_send_anything_are_left_and_found_again() {
    let answers = draws(12, &prop_oneof![bytes(), damaged(&ANSWERS), damaged(&ANSWERS)]);
    for some in answers.chunks(4) {
        let address = peer(some.to_vec()).await;
        let (by_registers, _) =
            live(machine(address.clone(), modbus()), vec![register("panel", Table::Input, 0, Form::F32)]);
        let mqtt = Protocol::Mqtt { user: None, password_file: None };
        let (by_messages, _) = live(machine(address, mqtt), vec![topic("panel", "t", None)]);
        let both = [by_registers, by_messages];
        let tasks: Vec<_> = both.iter().map(|one| tokio::spawn(follow(Arc::clone(one), 0, QUICK))).collect();
        tokio::time::sleep(HEARD).await;
        for (one, task) in both.iter().zip(tasks) {
            assert!(!task.is_finished(), "nobody follows any more after {some:02x?}");
            assert!(value(one, 0).is_none_or(f64::is_finite), "{some:02x?}");
            task.abort();
        }
    }
}

struct Fixed;

impl Showing for Fixed {
    fn values(&self) -> Vec<f64> {
        vec![1.0, f64::NAN, f64::INFINITY]
    }
}

/// Questions as they are asked: whole frames.
const QUESTIONS: [&[u8]; 3] = [
    &[0, 9, 0, 0, 0, 6, 1, 4, 0, 0, 0, 2],
    &[0, 9, 0, 0, 0, 6, 1, 3, 0, 0, 0, 4],
    &[0, 9, 0, 0, 0, 9, 1, 16, 0, 0, 0, 1, 2, 0, 1],
];

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whatever_is_asked_of_the_practice_plant_the_next_is_answered() {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("binds");
    let address = listener.local_addr().expect("an address");
    tokio::spawn(async move {
        let _ = serve_modbus(listener, Arc::new(Fixed)).await;
    });
    for question in draws(40, &prop_oneof![bytes(), damaged(&QUESTIONS)]) {
        let mut visitor = TcpStream::connect(address).await.expect("connects");
        let _ = visitor.write_all(&question).await;
        let mut good = TcpStream::connect(address).await.expect("connects");
        good.write_all(QUESTIONS[0]).await.expect("sends");
        let mut answer = [0; 13];
        let read = tokio::time::timeout(Duration::from_secs(10), good.read_exact(&mut answer)).await;
        assert!(read.is_ok_and(|read| read.is_ok()), "nobody answers after {question:02x?}");
        assert_eq!(answer[7..], [4, 4, 0x3f, 0x80, 0, 0]);
    }
}
