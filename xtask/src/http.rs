//! Just enough of an HTTP client: GET over one kept connection, for timing and for filling memory.

use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::time::Duration;

const LIMIT: Duration = Duration::from_secs(20);

/// Pages here are some 100 kB; a hundred times that is a fault.
const BODY_MAX_BYTES: usize = 10_000_000;

/// One kept connection to a server.
pub struct Client {
    stream: BufReader<TcpStream>,
    host: String,
    cookie: Option<String>,
}

/// What the server answered.
#[derive(Debug)]
pub struct Reply {
    /// Status code.
    pub status: u16,
    /// Header fields, names in small letters.
    pub headers: Vec<(String, String)>,
    /// The body.
    pub body: Vec<u8>,
}

impl Client {
    /// Connects to `http://host:port`.
    pub fn connect(origin: &str) -> Result<Self, String> {
        let host = origin.strip_prefix("http://").unwrap_or(origin).to_string();
        let stream = TcpStream::connect(&host).map_err(|e| format!("{host}: {e}"))?;
        let set = stream.set_read_timeout(Some(LIMIT)).and_then(|()| stream.set_nodelay(true));
        set.map_err(|e| e.to_string())?;
        Ok(Self { stream: BufReader::new(stream), host, cookie: None })
    }

    /// Connects anew where the server has let an idle connection go, as a browser does.
    fn freshen(&mut self) -> Result<(), String> {
        let stream = self.stream.get_ref();
        stream.set_nonblocking(true).map_err(|e| e.to_string())?;
        let is_there = match stream.peek(&mut [0]) {
            Ok(read) => read > 0,
            Err(error) => error.kind() == std::io::ErrorKind::WouldBlock,
        };
        stream.set_nonblocking(false).map_err(|e| e.to_string())?;
        if !is_there {
            let cookie = self.cookie.take();
            *self = Self { cookie, ..Self::connect(&self.host.clone())? };
        }
        Ok(())
    }

    /// The same, for what may take minutes.
    pub fn patient(origin: &str) -> Result<Self, String> {
        let client = Self::connect(origin)?;
        let minutes = Some(Duration::from_secs(300));
        client.stream.get_ref().set_read_timeout(minutes).map_err(|e| e.to_string())?;
        Ok(client)
    }

    /// Sends a cookie with everything from now on.
    pub fn keep(&mut self, cookie: &str) {
        self.cookie = Some(cookie.to_owned());
    }

    fn cookie_line(&self) -> String {
        self.cookie.as_ref().map_or_else(String::new, |cookie| format!("Cookie: {cookie}\r\n"))
    }

    /// POSTs a form to a path, whatever comes back.
    pub fn send(&mut self, path: &str, form: &str) -> Result<Reply, String> {
        let failed = |why: String| format!("POST {path}: {why}");
        self.freshen().map_err(failed)?;
        let request = format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\n{}Content-Type: application/x-www-form-urlencoded\r\n\
             Content-Length: {}\r\n\r\n{form}",
            self.host,
            self.cookie_line(),
            form.len()
        );
        self.stream.get_mut().write_all(request.as_bytes()).map_err(|e| failed(e.to_string()))?;
        Reply::read(&mut self.stream).map_err(failed)
    }

    /// POSTs a form to a path; anything but an answer that leads on is an error.
    pub fn post(&mut self, path: &str, form: &str) -> Result<(), String> {
        let reply = self.send(path, form)?;
        if reply.status == 303 { Ok(()) } else { Err(format!("POST {path}: status {}", reply.status)) }
    }

    /// POSTs a form to a path and answers the cookie that it sets.
    pub fn cookie_of(&mut self, path: &str, form: &str) -> Result<String, String> {
        let reply = self.send(path, form)?;
        let cookie = reply.header("set-cookie").and_then(|set| set.split(';').next());
        cookie.map(str::to_owned).ok_or_else(|| format!("POST {path}: status {}, no cookie", reply.status))
    }

    /// GETs a path.
    pub fn get(&mut self, path: &str) -> Result<Reply, String> {
        let request = format!(
            "GET {path} HTTP/1.1\r\nHost: {}\r\n{}Accept: text/html\r\n\r\n",
            self.host,
            self.cookie_line()
        );
        self.freshen().map_err(|why| format!("GET {path}: {why}"))?;
        self.stream.get_mut().write_all(request.as_bytes()).map_err(|e| format!("GET {path}: {e}"))?;
        Reply::read(&mut self.stream).map_err(|why| format!("GET {path}: {why}"))
    }
}

impl Reply {
    /// A header field's value.
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(have, _)| have == name).map(|(_, value)| value.as_str())
    }

    /// Milliseconds the server says it worked on this page: `Server-Timing: app;dur=…`.
    pub fn server_ms(&self) -> Option<f64> {
        let metrics = self.header("server-timing")?.split(',');
        let app = metrics.map(str::trim).find(|metric| metric.split(';').next() == Some("app"))?;
        app.split(';').find_map(|part| part.trim().strip_prefix("dur="))?.parse().ok()
    }

    /// Reads one reply and leaves the stream at the next.
    fn read(stream: &mut impl BufRead) -> Result<Self, String> {
        let first = line(stream)?;
        let status = first.split(' ').nth(1).and_then(|code| code.parse().ok());
        let status = status.ok_or_else(|| format!("not a status line: {first:?}"))?;
        let mut headers = Vec::new();
        loop {
            let field = line(stream)?;
            if field.is_empty() {
                break;
            }
            let (name, value) = field.split_once(':').ok_or_else(|| format!("not a header: {field:?}"))?;
            headers.push((name.to_ascii_lowercase(), value.trim().to_string()));
        }
        let mut reply = Self { status, headers, body: Vec::new() };
        if reply.header("transfer-encoding").is_some_and(|value| value.eq_ignore_ascii_case("chunked")) {
            reply.body = chunks(stream)?;
        } else {
            let length = reply.header("content-length").unwrap_or("0");
            let length = length.parse().map_err(|_| format!("content-length: {length:?}"))?;
            reply.body = bytes(stream, length)?;
        }
        Ok(reply)
    }
}

fn line(stream: &mut impl BufRead) -> Result<String, String> {
    let mut text = String::new();
    let read = stream.read_line(&mut text).map_err(|e| e.to_string())?;
    if read == 0 {
        return Err("the connection was closed".to_string());
    }
    Ok(text.trim_end_matches(['\r', '\n']).to_string())
}

fn bytes(stream: &mut impl BufRead, length: usize) -> Result<Vec<u8>, String> {
    if length > BODY_MAX_BYTES {
        return Err(format!("a body of {length} bytes"));
    }
    let mut body = vec![0; length];
    stream.read_exact(&mut body).map_err(|e| e.to_string())?;
    Ok(body)
}

fn chunks(stream: &mut impl BufRead) -> Result<Vec<u8>, String> {
    let mut body = Vec::new();
    loop {
        let head = line(stream)?;
        let size = head.split(';').next().unwrap_or_default().trim();
        let size = usize::from_str_radix(size, 16).map_err(|_| format!("not a chunk size: {head:?}"))?;
        body.extend(bytes(stream, size)?);
        // The empty line after each chunk; after the last one it ends the body (we send no `TE: trailers`).
        line(stream)?;
        if size == 0 {
            return Ok(body);
        }
        if body.len() > BODY_MAX_BYTES {
            return Err(format!("a body of more than {BODY_MAX_BYTES} bytes"));
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::Reply;

    #[test]
    fn two_replies_on_one_connection_stay_apart() {
        let text = concat!(
            "HTTP/1.1 200 OK\r\nServer-Timing: db;dur=9, app;desc=x;dur=1.25\r\nContent-Length: 5\r\n\r\nhello",
            "HTTP/1.1 404 Not Found\r\nTransfer-Encoding: chunked\r\n\r\n",
            "3\r\nabc\r\nA;x=1\r\n0123456789\r\n0\r\n\r\n",
        );
        let mut stream = Cursor::new(text);
        let first = Reply::read(&mut stream).unwrap();
        assert_eq!((first.status, first.body.as_slice()), (200, b"hello".as_slice()));
        assert!((first.server_ms().unwrap() - 1.25).abs() < 1e-12);
        let second = Reply::read(&mut stream).unwrap();
        assert_eq!((second.status, second.body.as_slice()), (404, b"abc0123456789".as_slice()));
        assert_eq!(second.server_ms(), None);
        assert!(Reply::read(&mut stream).unwrap_err().contains("closed"));
    }

    #[test]
    fn refuses_what_it_cannot_read() {
        let refused = |text: &str| Reply::read(&mut Cursor::new(text.to_string())).unwrap_err();
        assert!(refused("hello\r\n\r\n").contains("status line"));
        assert!(refused("HTTP/1.1 200 OK\r\nnonsense\r\n\r\n").contains("header"));
        assert!(refused("HTTP/1.1 200 OK\r\ncontent-length: 99999999999\r\n\r\n").contains("99999999999"));
        assert!(refused("HTTP/1.1 200 OK\r\ncontent-length: 5\r\n\r\nabc").contains("fill"));
    }
}
