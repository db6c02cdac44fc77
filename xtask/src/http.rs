//! A visitor of the console: one kept connection, answers taken as they are. For timing and for filling memory.

use std::time::Duration;

use cookie::Cookie;
use ureq::http::{HeaderMap, Response};
use ureq::{Agent, Body};

const LIMIT: Duration = Duration::from_secs(20);
const MINUTES: Duration = Duration::from_secs(300);

/// Pages here are some 100 kB; a hundred times that is a fault.
const BODY_MAX_BYTES: u64 = 10_000_000;

/// A visitor of one server, with one connection of its own.
pub struct Client {
    agent: Agent,
    origin: String,
    cookie: Option<String>,
}

/// What the server answered.
#[derive(Debug)]
pub struct Reply {
    /// HTTP status of the answer, such as 200.
    pub status: u16,
    headers: HeaderMap,
    /// Body of the answer, as it came.
    pub body: Vec<u8>,
}

impl Client {
    /// A visitor of `http://host:port`, who connects with the first question.
    pub fn to(origin: &str) -> Self {
        Self::waiting(origin, LIMIT)
    }

    /// The same, for what may take minutes.
    pub fn patient(origin: &str) -> Self {
        Self::waiting(origin, MINUTES)
    }

    fn waiting(origin: &str, limit: Duration) -> Self {
        let config = Agent::config_builder()
            .timeout_global(Some(limit))
            .max_redirects(0)
            .http_status_as_error(false)
            .max_idle_connections_per_host(1)
            .proxy(None)
            .accept("text/html")
            .build();
        Self { agent: config.into(), origin: origin.to_owned(), cookie: None }
    }

    /// Sends a cookie with everything from now on.
    pub fn keep(&mut self, cookie: &str) {
        self.cookie = Some(cookie.to_owned());
    }

    /// POSTs a form to a path, whatever comes back.
    pub fn send(&self, path: &str, form: &str) -> Result<Reply, String> {
        let mut request = self.agent.post(format!("{}{path}", self.origin));
        if let Some(cookie) = &self.cookie {
            request = request.header("Cookie", cookie);
        }
        let request = request.content_type("application/x-www-form-urlencoded");
        request.send(form).and_then(Reply::read).map_err(|error| format!("POST {path}: {error}"))
    }

    /// POSTs a form to a path; anything but an answer that leads on is an error.
    pub fn post(&self, path: &str, form: &str) -> Result<(), String> {
        let reply = self.send(path, form)?;
        if reply.status == 303 { Ok(()) } else { Err(format!("POST {path}: status {}", reply.status)) }
    }

    /// POSTs a form to a path and answers the cookie that it sets.
    pub fn cookie_of(&self, path: &str, form: &str) -> Result<String, String> {
        let reply = self.send(path, form)?;
        let cookie = reply.header("set-cookie").and_then(|set| Cookie::parse(set).ok());
        cookie
            .map(|cookie| cookie.stripped().to_string())
            .ok_or_else(|| format!("POST {path}: status {}, no cookie", reply.status))
    }

    /// GETs a path.
    pub fn get(&self, path: &str) -> Result<Reply, String> {
        let mut request = self.agent.get(format!("{}{path}", self.origin));
        if let Some(cookie) = &self.cookie {
            request = request.header("Cookie", cookie);
        }
        request.call().and_then(Reply::read).map_err(|error| format!("GET {path}: {error}"))
    }
}

impl Reply {
    fn header(&self, name: &str) -> Option<&str> {
        self.headers.get(name)?.to_str().ok()
    }

    /// Milliseconds the server says it worked on this page: `Server-Timing: app;dur=…`.
    pub fn server_ms(&self) -> Option<f64> {
        let metrics = self.header("server-timing")?.split(',');
        let app = metrics.map(str::trim).find(|metric| metric.split(';').next() == Some("app"))?;
        app.split(';').find_map(|part| part.trim().strip_prefix("dur="))?.parse().ok()
    }

    /// Read to its end, so that the next question goes over the same connection.
    fn read(mut response: Response<Body>) -> Result<Self, ureq::Error> {
        let body = response.body_mut().with_config().limit(BODY_MAX_BYTES).read_to_vec()?;
        let (head, _) = response.into_parts();
        Ok(Self { status: head.status.as_u16(), headers: head.headers, body })
    }
}

#[cfg(test)]
mod tests {
    use std::io::{BufRead, BufReader, Write};
    use std::net::TcpListener;

    use super::Client;

    /// A server of raw answers on one connection, which it then closes; it takes no second.
    fn answering(answers: &'static [&str]) -> String {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let origin = format!("http://{}", listener.local_addr().unwrap());
        std::thread::spawn(move || {
            let (mut stream, _) = listener.accept().unwrap();
            drop(listener);
            let mut lines = BufReader::new(stream.try_clone().unwrap()).lines().map_while(Result::ok);
            for answer in answers {
                lines.find(|line| line.is_empty()).unwrap();
                stream.write_all(answer.as_bytes()).unwrap();
            }
        });
        origin
    }

    #[test]
    fn two_replies_come_over_one_connection_whatever_their_status() {
        let client = Client::to(&answering(&[
            "HTTP/1.1 200 OK\r\nServer-Timing: db;dur=9, app;desc=x;dur=1.25\r\nContent-Length: 5\r\n\r\nhello",
            "HTTP/1.1 404 Not Found\r\nTransfer-Encoding: chunked\r\n\r\n3\r\nabc\r\n0\r\n\r\n",
        ]));
        let first = client.get("/").unwrap();
        assert_eq!((first.status, first.body.as_slice()), (200, b"hello".as_slice()));
        assert!((first.server_ms().unwrap() - 1.25).abs() < 1e-12);
        let second = client.get("/").unwrap();
        assert_eq!((second.status, second.body.as_slice()), (404, b"abc".as_slice()));
        assert_eq!(second.server_ms(), None);
        assert!(client.get("/").unwrap_err().starts_with("GET /: "));
    }

    #[test]
    fn what_is_too_long_or_cut_short_is_an_error() {
        let refused = |answers| Client::to(&answering(answers)).get("/").unwrap_err();
        refused(&["HTTP/1.1 200 OK\r\ncontent-length: 99999999999\r\n\r\n"]);
        refused(&["HTTP/1.1 200 OK\r\ncontent-length: 5\r\n\r\nabc"]);
        refused(&["hello\r\n\r\n"]);
    }

    #[test]
    fn an_answer_that_leads_on_is_not_followed_and_its_cookie_is_kept() {
        let client = Client::to(&answering(&["HTTP/1.1 303 See Other\r\nLocation: /\r\n\
             Set-Cookie: a=b; Path=/; HttpOnly\r\nContent-Length: 0\r\n\r\n"]));
        assert_eq!(client.cookie_of("/sign-in", "").as_deref(), Ok("a=b"));
    }
}
