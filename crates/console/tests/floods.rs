//! Visitors who come in crowds, dawdle or never leave keep nobody else waiting, and the console ends when it is told.

#![allow(clippy::unwrap_used, reason = "a test that cannot be set up must stop")]

mod common;

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use common::TestApp;
use console::Limits;
use event::{Event, EventId};
use jiff::Timestamp;
use store::{Appended, Head, Ledger, Row, SqliteLedger, StoreError, Verification};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

/// Far longer than anything here takes; short enough to notice that something hangs.
const LONG: Duration = Duration::from_secs(20);

fn quick() -> Limits {
    let short = Duration::from_millis(300);
    Limits { greeting: short, head: short, form: short, reading: short, ending: short, ..Limits::default() }
}

struct Serving {
    address: SocketAddr,
    stop: oneshot::Sender<()>,
    task: JoinHandle<()>,
}

async fn serving(test: &TestApp, limits: Limits) -> Serving {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let (stop, told) = oneshot::channel();
    let app = Arc::clone(&test.app);
    let told = async {
        let _ = told.await;
    };
    let task = tokio::spawn(console::serve(listener, None, app, limits, told));
    Serving { address, stop, task }
}

/// What comes back until the other side closes.
async fn to_the_end(mut stream: TcpStream) -> String {
    let mut bytes = Vec::new();
    let read = tokio::time::timeout(LONG, stream.read_to_end(&mut bytes)).await;
    assert!(read.is_ok(), "the connection was not closed");
    String::from_utf8_lossy(&bytes).into_owned()
}

async fn sent(address: SocketAddr, text: &str) -> TcpStream {
    let mut stream = TcpStream::connect(address).await.unwrap();
    stream.write_all(text.as_bytes()).await.unwrap();
    stream
}

async fn is_well(address: SocketAddr) -> bool {
    let request = "GET /health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n";
    to_the_end(sent(address, request).await).await.starts_with("HTTP/1.1 200")
}

#[tokio::test]
async fn who_does_not_ask_or_send_to_the_end_is_let_go() {
    let test = TestApp::new();
    let serving = serving(&test, quick()).await;
    let at = serving.address;
    let silent = sent(at, "").await;
    let half = sent(at, "GET / HTTP/1.1\r\nHost: local").await;
    let idle = sent(at, "GET /health HTTP/1.1\r\nHost: localhost\r\n\r\n").await;
    let form = "POST /tanks/dip HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/x-www-form-urlencoded\r\n\
                Content-Length: 100\r\n\r\ntank=1";
    let form = sent(at, form).await;
    assert!(is_well(at).await, "others are served meanwhile");
    assert_eq!(to_the_end(silent).await, "");
    assert_eq!(to_the_end(half).await, "");
    assert!(to_the_end(idle).await.starts_with("HTTP/1.1 200"));
    let told = to_the_end(form).await;
    let (head, body) = told.split_once("\r\n\r\n").unwrap();
    assert!(head.starts_with("HTTP/1.1 408"), "{told}");
    assert_eq!(body, "the form did not arrive in time");
    assert_eq!(test.ledger.head().unwrap().seq, 2, "nothing was recorded of it");
}

#[tokio::test]
async fn who_does_not_read_on_is_let_go() {
    let test = TestApp::new();
    let serving = serving(&test, quick()).await;
    let at = serving.address;
    // More than all buffers between us hold, asked for at once and never read.
    let asked = 4_000;
    let request = "GET /look HTTP/1.1\r\nHost: localhost\r\n\r\n".repeat(asked);
    let mut stream = TcpStream::connect(at).await.unwrap();
    let _ = tokio::time::timeout(Duration::from_secs(3), stream.write_all(request.as_bytes())).await;
    tokio::time::sleep(Duration::from_millis(1500)).await;
    let mut bytes = Vec::new();
    // What was on its way arrives; then it ends, by a close or a reset.
    let ended = tokio::time::timeout(LONG, stream.read_to_end(&mut bytes)).await;
    assert!(ended.is_ok(), "it is served on");
    let answers = String::from_utf8_lossy(&bytes).matches("HTTP/1.1 200").count();
    assert!(answers < asked, "{answers}");
    assert!(is_well(at).await);
}

#[tokio::test]
async fn crowds_wait_outside_and_come_in_as_others_leave() {
    let test = TestApp::new();
    let serving = serving(&test, Limits { all: 8, ..quick() }).await;
    let at = serving.address;
    let mut crowd = Vec::new();
    for _ in 0..40 {
        crowd.push(sent(at, "GET / HTTP/1.1\r\n").await);
    }
    // Behind all of them in the queue.
    assert!(tokio::time::timeout(LONG, is_well(at)).await.unwrap());
}

#[tokio::test]
async fn it_ends_in_time_whatever_hangs() {
    let test = TestApp::new();
    let serving = serving(&test, Limits { head: LONG, form: LONG, reading: LONG, ..quick() }).await;
    let at = serving.address;
    let form = "POST /tanks/dip HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n\r\ntank=1";
    let (_silent, _form) = (sent(at, "GET / HT").await, sent(at, form).await);
    assert!(is_well(at).await);
    serving.stop.send(()).unwrap();
    let begun = Instant::now();
    tokio::time::timeout(LONG, serving.task).await.expect("it does not end").unwrap();
    assert!(begun.elapsed() < LONG);
    assert!(TcpStream::connect(at).await.is_err(), "nobody listens any more");
}

/// A ledger that counts how often it is read from its beginning.
struct Counting {
    ledger: Arc<SqliteLedger>,
    whole_reads: AtomicUsize,
}

impl Ledger for Counting {
    fn append(&self, events: &[Event], at: Timestamp) -> Result<Vec<Appended>, StoreError> {
        self.ledger.append(events, at)
    }
    fn head(&self) -> Result<Head, StoreError> {
        self.ledger.head()
    }
    fn rows_after(&self, seq: u64) -> Result<Vec<Row>, StoreError> {
        self.whole_reads.fetch_add(usize::from(seq == 0), Ordering::Relaxed);
        self.ledger.rows_after(seq)
    }
    fn place_of(&self, id: EventId) -> Result<Option<u64>, StoreError> {
        self.ledger.place_of(id)
    }
    fn verify(&self) -> Result<Verification, StoreError> {
        self.ledger.verify()
    }
    fn holds(&self, end: Head) -> Result<(), StoreError> {
        self.ledger.holds(end)
    }
}

#[tokio::test]
async fn reports_asked_for_by_many_are_read_from_the_ledger_once() {
    let mut test = TestApp::new();
    let ledger = Arc::new(Counting { ledger: Arc::clone(&test.ledger), whole_reads: AtomicUsize::new(0) });
    Arc::get_mut(&mut test.app).unwrap().ledger = Arc::clone(&ledger) as Arc<dyn Ledger>;
    let pages = ["/books", "/books/lots", "/salt", "/meters", "/books/close", "/books/bills", "/books"];
    let ask = || async {
        let all = pages.map(|page| test.get(page));
        let mut answers = Vec::new();
        for answer in all {
            answers.push(answer.await);
        }
        answers
    };
    let (one, two, three) = tokio::join!(ask(), ask(), ask());
    for answer in one.into_iter().chain(two).chain(three) {
        assert_eq!(answer.status, axum::http::StatusCode::OK, "{}", answer.body);
    }
    // Once for what stands in the tanks, once for the reports.
    assert_eq!(ledger.whole_reads.load(Ordering::Relaxed), 2);
    // A row more, and it is read anew, once.
    let sent =
        test.post("/ledger/note", &format!("entry_id={}&author=Pat&text=more", uuid::Uuid::now_v7())).await;
    assert_eq!(sent.status, axum::http::StatusCode::SEE_OTHER, "{}", sent.body);
    for page in pages {
        test.get(page).await;
    }
    assert_eq!(ledger.whole_reads.load(Ordering::Relaxed), 3);
}
