//! The browser's debugging protocol over one web socket: numbered calls, their answers, and events in between.

use std::collections::VecDeque;
use std::net::TcpStream;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tungstenite::protocol::WebSocketConfig;
use tungstenite::{Message, WebSocket};

const CALL_LIMIT: Duration = Duration::from_secs(30);

/// How long one read may block; only sets how often deadlines are looked at.
const READ_SLICE: Duration = Duration::from_millis(20);

/// A page that causes more events than this between two looks is out of hand.
const EVENTS_MAX: usize = 20_000;

/// Something the browser tells unasked.
#[derive(Debug)]
pub struct Event {
    /// Which tab it is about.
    pub session: String,
    /// Its name, `Domain.event`.
    pub method: String,
    /// What it says.
    pub params: Value,
}

/// The connection to a browser.
pub struct Connection {
    socket: WebSocket<TcpStream>,
    calls: u64,
    events: VecDeque<Event>,
}

impl Connection {
    /// Connects to the browser's own end point.
    pub fn open(port: u16, path: &str) -> Result<Self, String> {
        let stream =
            TcpStream::connect(("127.0.0.1", port)).map_err(|e| format!("the browser's port: {e}"))?;
        stream.set_nodelay(true).map_err(|e| e.to_string())?;
        // A full-page picture comes as one frame, larger than the default limit when the page is long.
        let config = WebSocketConfig::default().max_message_size(None).max_frame_size(None);
        let address = format!("ws://127.0.0.1:{port}{path}");
        let (socket, _) = tungstenite::client::client_with_config(address, stream, Some(config))
            .map_err(|e| format!("the browser refused the connection: {e}"))?;
        socket.get_ref().set_read_timeout(Some(READ_SLICE)).map_err(|e| e.to_string())?;
        Ok(Self { socket, calls: 0, events: VecDeque::new() })
    }

    /// Calls a method, of a tab or of the browser, and waits for its answer.
    pub fn call(&mut self, session: Option<&str>, method: &str, params: Value) -> Result<Value, String> {
        self.calls += 1;
        let id = self.calls;
        let mut message = json!({ "id": id, "method": method, "params": params });
        if let Some(session) = session {
            message["sessionId"] = json!(session);
        }
        let sent = self.socket.send(Message::text(message.to_string()));
        sent.map_err(|e| format!("{method}: {e}"))?;
        let deadline = Instant::now() + CALL_LIMIT;
        while Instant::now() < deadline {
            let Some(mut answer) = self.read()? else { continue };
            if answer["id"].as_u64() != Some(id) {
                // An answer to a call that was given up.
                continue;
            }
            if let Some(error) = answer.get("error") {
                return Err(format!(
                    "{method}: {}",
                    error["message"].as_str().or(answer["message"].as_str()).unwrap_or("refused")
                ));
            }
            return Ok(answer["result"].take());
        }
        Err(format!("{method}: no answer within {} s", CALL_LIMIT.as_secs()))
    }

    /// Reads what came in, for one slice of time at most.
    pub fn listen(&mut self) -> Result<(), String> {
        self.read().map(|_| ())
    }

    /// Events of one tab since the last time.
    pub fn take_events(&mut self, session: &str) -> Vec<Event> {
        let (mine, others) = self.events.drain(..).partition(|event| event.session == session);
        self.events = others;
        Vec::from(mine)
    }

    /// One message: an answer is returned, an event kept. None when nothing came within the slice.
    fn read(&mut self) -> Result<Option<Value>, String> {
        let text = match self.socket.read() {
            Ok(Message::Text(text)) => text,
            Ok(_) => return Ok(None),
            Err(tungstenite::Error::Io(e))
                if matches!(e.kind(), std::io::ErrorKind::WouldBlock | std::io::ErrorKind::TimedOut) =>
            {
                return Ok(None);
            }
            Err(e) => return Err(format!("lost the browser: {e}")),
        };
        let mut message: Value =
            serde_json::from_str(text.as_str()).map_err(|e| format!("the browser's message: {e}"))?;
        let Some(method) = message["method"].as_str().map(str::to_string) else {
            return Ok(Some(message));
        };
        if self.events.len() >= EVENTS_MAX {
            return Err(format!("more than {EVENTS_MAX} events, the last {method}"));
        }
        let session = message["sessionId"].as_str().unwrap_or_default().to_string();
        self.events.push_back(Event { session, method, params: message["params"].take() });
        Ok(None)
    }
}
