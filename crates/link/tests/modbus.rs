//! Aim: a machine over Modbus TCP is read and never written to, whatever it does; and the practice plant lets nobody
//! write to it.
//! Method: our server for the good case, hand-made peers for the bad ones, and a wire-tap between the two that keeps
//! every request. Frames by MODBUS Messaging on TCP/IP Implementation Guide V1.0b and MODBUS Application Protocol
//! V1.1b3 (from memory).

mod common;

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use common::{QUICK, live, machine, modbus, register, until, value};
use link::practice::{Showing, serve_modbus};
use link::{Live, Quality, follow};
use site::points::{At, Form, Table};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

const SOON: Duration = Duration::from_secs(10);

struct Fixed(Vec<f64>);

impl Showing for Fixed {
    fn values(&self) -> Vec<f64> {
        self.0.clone()
    }
}

async fn practice(values: Vec<f64>) -> (String, tokio::task::JoinHandle<()>) {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("binds");
    let address = listener.local_addr().expect("an address").to_string();
    let task = tokio::spawn(async move {
        let _ = serve_modbus(listener, Arc::new(Fixed(values))).await;
    });
    (address, task)
}

#[tokio::test]
async fn the_practice_plant_is_read_as_any_other() {
    let (address, _server) = practice(vec![23.25, -4.5, 1e-4]).await;
    let points = vec![
        register("panel", Table::Input, 0, Form::F32),
        register("temperature", Table::Holding, 2, Form::F32),
        register("flow", Table::Input, 4, Form::F32),
    ];
    let (live, kept) = live(machine(address, modbus()), points);
    let _task = tokio::spawn(follow(Arc::clone(&live), 0, QUICK));
    until("all three", SOON, || (0..3).all(|point| value(&live, point).is_some())).await;
    assert_eq!(value(&live, 0), Some(23.25));
    assert_eq!(value(&live, 1), Some(-4.5));
    assert_eq!(value(&live, 2), Some(f64::from(1e-4_f32)));
    assert!(live.state(0).expect("a state").connected);
    until("many looks", SOON, || 30 < kept.lock().expect("whole").len()).await;
}

/// A raw request and the answer to it.
async fn ask(stream: &mut TcpStream, pdu: &[u8]) -> Vec<u8> {
    let length = (pdu.len() + 1) as u16;
    let mut frame = vec![0, 9, 0, 0];
    frame.extend(length.to_be_bytes());
    frame.push(1);
    frame.extend(pdu);
    stream.write_all(&frame).await.expect("sends");
    let mut head = [0; 7];
    stream.read_exact(&mut head).await.expect("answers");
    let mut body = vec![0; usize::from(u16::from_be_bytes([head[4], head[5]])) - 1];
    stream.read_exact(&mut body).await.expect("answers");
    body
}

#[tokio::test]
async fn the_practice_plant_refuses_every_function_that_writes() {
    let (address, _server) = practice(vec![1.0]).await;
    let mut stream = TcpStream::connect(address).await.expect("connects");
    let writes: [&[u8]; 7] = [
        &[5, 0, 0, 0xff, 0],
        &[6, 0, 0, 0, 1],
        &[15, 0, 0, 0, 1, 1, 1],
        &[16, 0, 0, 0, 1, 2, 0, 1],
        &[22, 0, 0, 0, 0, 0, 0],
        &[23, 0, 0, 0, 1, 0, 0, 0, 1, 2, 0, 1],
        &[1, 0, 0, 0, 1],
    ];
    for pdu in writes {
        assert_eq!(ask(&mut stream, pdu).await, [pdu[0] | 0x80, 1], "function {}", pdu[0]);
    }
    // Outside of what there is: exception 2; more than the standard allows: 3. What is there goes on being answered.
    assert_eq!(ask(&mut stream, &[4, 0, 1, 0, 4]).await, [0x84, 2]);
    assert_eq!(ask(&mut stream, &[4, 0, 0, 0, 126]).await, [0x84, 3]);
    assert_eq!(ask(&mut stream, &[4, 0, 0, 0, 2]).await, [4, 4, 0x3f, 0x80, 0, 0]);
}

/// Stands between two ends and keeps what the client sends.
async fn tap(to: String) -> (String, Arc<Mutex<Vec<u8>>>) {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("binds");
    let address = listener.local_addr().expect("an address").to_string();
    let sent: Arc<Mutex<Vec<u8>>> = Arc::default();
    let keeps = Arc::clone(&sent);
    tokio::spawn(async move {
        while let Ok((client, _)) = listener.accept().await {
            let Ok(server) = TcpStream::connect(&to).await else { continue };
            let (mut from_client, mut to_client) = client.into_split();
            let (mut from_server, mut to_server) = server.into_split();
            let keeps = Arc::clone(&keeps);
            tokio::spawn(async move {
                let mut bytes = [0; 512];
                while let Ok(count @ 1..) = from_client.read(&mut bytes).await {
                    keeps.lock().expect("whole").extend(&bytes[..count]);
                    if to_server.write_all(&bytes[..count]).await.is_err() {
                        break;
                    }
                }
            });
            tokio::spawn(async move { tokio::io::copy(&mut from_server, &mut to_client).await });
        }
    });
    (address, sent)
}

#[tokio::test]
async fn nothing_but_reading_functions_goes_over_the_wire() {
    let (server, _task) = practice((0..40).map(f64::from).collect()).await;
    let (address, sent) = tap(server).await;
    let points = vec![
        register("a", Table::Input, 0, Form::F32),
        register("b", Table::Input, 60, Form::F32),
        register("c", Table::Holding, 4, Form::U16),
        register("d", Table::Coil, 1, Form::Bit),
        register("e", Table::Discrete, 1, Form::Bit),
        register("f", Table::Input, 4000, Form::I16),
    ];
    let (live, kept) = live(machine(address, modbus()), points);
    let _follow = tokio::spawn(follow(Arc::clone(&live), 0, QUICK));
    until("looks", SOON, || 60 < kept.lock().expect("whole").len()).await;
    let sent = sent.lock().expect("whole").clone();
    let (mut rest, mut functions) = (&sent[..], BTreeSet::new());
    while 8 <= rest.len() {
        let length = usize::from(u16::from_be_bytes([rest[4], rest[5]]));
        functions.insert(rest[7]);
        rest = rest.get(6 + length..).unwrap_or(&[]);
    }
    assert_eq!(functions, BTreeSet::from([1, 2, 3, 4]));
    // Tables and registers that are not there are said, and hide nothing.
    for refused in [3, 4, 5] {
        let shown = live.shown(refused).expect("a point");
        assert!(matches!(shown.quality, Quality::Refused(_)), "{shown:?}");
    }
    assert_eq!(value(&live, 1), Some(30.0));
}

#[tokio::test]
async fn a_register_that_is_not_there_does_not_hide_its_neighbour() {
    let (address, _server) = practice(vec![5.0, 6.0]).await;
    let points = vec![
        register("there", Table::Input, 2, Form::F32),
        register("not there", Table::Input, 4, Form::F32),
    ];
    let (live, _) = live(machine(address, modbus()), points);
    let _task = tokio::spawn(follow(Arc::clone(&live), 0, QUICK));
    until("the neighbour", SOON, || value(&live, 0) == Some(6.0)).await;
    assert!(matches!(live.shown(1).expect("a point").quality, Quality::Refused(_)));
}

/// What a hand-made peer does with a request for two registers at 0 and two at 100; right answers are 1.0 and 2.0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Peer {
    Good,
    Late,
    Half,
    Swapped,
    OtherFunction,
    OtherCount,
    OtherUnit,
    Silent,
    Reset,
    Garbage,
    Both,
}

async fn peer(mut stream: TcpStream, does: Peer) {
    let mut last: Option<Vec<u8>> = None;
    loop {
        let mut request = [0; 12];
        if stream.read_exact(&mut request).await.is_err() {
            return;
        }
        let bits = if request[9] == 0 { 1.0_f32 } else { 2.0 }.to_bits().to_be_bytes();
        let mut answer = vec![request[0], request[1], 0, 0, 0, 7, request[6], request[7], 4];
        answer.extend(bits);
        match does {
            Peer::Good => {}
            Peer::Late => tokio::time::sleep(2 * QUICK.answer).await,
            Peer::Half => answer.truncate(10),
            Peer::Swapped => {
                // The answer to the last question under this one's number, or under a number of its own.
                let before = last.replace(answer.clone());
                answer = before.unwrap_or(answer);
                answer[1] = answer[1].wrapping_add(7);
            }
            Peer::OtherFunction => answer[7] = 3,
            Peer::OtherCount => {
                answer[5] = 5;
                answer[8] = 2;
                answer.truncate(11);
            }
            Peer::OtherUnit => answer[6] = 77,
            Peer::Silent => continue,
            Peer::Reset => return,
            Peer::Garbage => answer = b"HTTP/1.1 400 Bad Request\r\n\r\n".to_vec(),
            Peer::Both => {
                let twice = answer.clone();
                answer.extend(twice);
            }
        }
        if stream.write_all(&answer).await.is_err() {
            return;
        }
        if does == Peer::Half {
            return;
        }
    }
}

#[tokio::test]
async fn a_hostile_peer_gives_no_value_at_the_wrong_point_and_is_come_back_to() {
    let bad = [
        Peer::Late,
        Peer::Half,
        Peer::Swapped,
        Peer::OtherFunction,
        Peer::OtherCount,
        Peer::OtherUnit,
        Peer::Silent,
        Peer::Reset,
        Peer::Garbage,
        Peer::Both,
    ];
    let mut all = tokio::task::JoinSet::new();
    for does in bad {
        all.spawn(meet(does));
    }
    all.join_all().await;
}

async fn meet(does: Peer) {
    {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("binds");
        let address = listener.local_addr().expect("an address").to_string();
        let accepts = tokio::spawn(async move {
            // Good, then three times bad, then good again.
            for does in [Peer::Good, does, does, does] {
                let Ok((stream, _)) = listener.accept().await else { return };
                let length = if does == Peer::Good { 4 } else { 12 };
                let _ = tokio::time::timeout(QUICK.answer * length, peer(stream, does)).await;
            }
            while let Ok((stream, _)) = listener.accept().await {
                tokio::spawn(peer(stream, Peer::Good));
            }
        });
        let points =
            vec![register("one", Table::Input, 0, Form::F32), register("two", Table::Input, 100, Form::F32)];
        let (live, kept) = live(machine(address, modbus()), points);
        let task = tokio::spawn(follow(Arc::clone(&live), 0, QUICK));
        until("the second time it is good", SOON, || {
            live.state(0).is_some_and(|state| 5 <= state.connections) && value(&live, 0).is_some()
        })
        .await;
        until("fresh", SOON, || value(&live, 0) == Some(1.0) && value(&live, 1) == Some(2.0)).await;
        for (point, value) in kept.lock().expect("whole").iter() {
            let right = if *point == 0 { 1.0 } else { 2.0 };
            assert!((value - right).abs() < 1e-9, "{does:?}: {value} at {point}");
        }
        task.abort();
        accepts.abort();
    }
}

#[tokio::test]
async fn what_is_not_heard_of_any_more_is_stale_and_back_when_the_machine_is() {
    let (address, server) = practice(vec![7.0]).await;
    let port = address.clone();
    let (live, _) = live(machine(address, modbus()), vec![register("panel", Table::Input, 0, Form::F32)]);
    let _task = tokio::spawn(follow(Arc::clone(&live), 0, QUICK));
    until("good", SOON, || value(&live, 0) == Some(7.0)).await;
    server.abort();
    until("stale", SOON, || live.shown(0).expect("a point").quality == Quality::Stale).await;
    let shown = live.shown(0).expect("a point");
    assert_eq!(shown.value, Some(7.0), "what was last known is still shown, as stale");
    assert!(Duration::from_millis(400) < shown.age.expect("an age"));
    let state = live.state(0).expect("a state");
    assert!(!state.connected && state.trouble.is_some(), "{state:?}");
    let listener = loop {
        if let Ok(listener) = TcpListener::bind(&port).await {
            break listener;
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    };
    tokio::spawn(serve_modbus(listener, Arc::new(Fixed(vec![8.0]))));
    until("back", SOON, || value(&live, 0) == Some(8.0)).await;
}

#[tokio::test]
async fn a_list_that_counts_from_one_and_the_low_word_first() {
    let (address, _server) = practice(vec![23.25]).await;
    let mut turned = register("turned", Table::Input, 1, Form::F32);
    turned.at = At::Register { table: Table::Input, number: 1, form: Form::F32, low_first: true };
    let points = vec![register("panel", Table::Input, 1, Form::F32), turned];
    let protocol = site::points::Protocol::Modbus { unit: 1, base: 1 };
    let (live, _) = live(machine(address, protocol), points);
    let _task = tokio::spawn(follow(Arc::clone(&live), 0, QUICK));
    until("read", SOON, || value(&live, 0).is_some()).await;
    assert_eq!(value(&live, 0), Some(23.25));
    let registers = live.shown(1).expect("a point").registers;
    let forms = link::decode::every_form(&registers);
    assert!(forms.contains(&("f32", false, 23.25)), "the preview shows which order is right: {forms:?}");
    assert_ne!(value(&live, 1), Some(23.25));
}

#[tokio::test]
async fn a_clock_that_is_set_makes_nothing_stale_and_nothing_fresh() {
    let (address, server) = practice(vec![7.0]).await;
    // The machine's own clock jumps by a day, forward and back, at every look.
    let looks = Arc::new(std::sync::atomic::AtomicI64::new(0));
    let jumps = Arc::clone(&looks);
    let now = move || {
        let look = jumps.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        jiff::Timestamp::now() + jiff::SignedDuration::from_hours(if look % 2 == 0 { 24 } else { -24 })
    };
    let points = vec![register("panel", Table::Input, 0, Form::F32)];
    let live = Live::new(vec![machine(address, modbus())], points, Arc::new(now), Arc::new(|_| ()));
    let live = Arc::new(live);
    let _task = tokio::spawn(follow(Arc::clone(&live), 0, QUICK));
    until("many looks", SOON, || 20 < looks.load(std::sync::atomic::Ordering::Relaxed)).await;
    let shown = live.shown(0).expect("a point");
    assert_eq!(shown.quality, Quality::Good);
    assert!(shown.age.expect("an age") < Duration::from_secs(1), "{shown:?}");
    server.abort();
    until("stale", SOON, || live.shown(0).expect("a point").quality == Quality::Stale).await;
}
