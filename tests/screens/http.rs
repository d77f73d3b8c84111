//! HTTP as a browser speaks it, no more than is needed. HTTP/1.0, whose answers end with the connection (RFC 9112).

use serde_json::Value;
use std::net::SocketAddr;
use std::time::Duration;
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::TcpStream;
use tokio::time::timeout;

/// Nothing here takes so long.
pub const SOON: Duration = Duration::from_secs(40);

/// An answer.
#[derive(Debug)]
pub struct Answer {
    /// Of what was asked for, without what was asked behind it.
    pub path: String,
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Answer {
    /// A header's value.
    pub fn header(&self, name: &str) -> Option<&str> {
        let mut lines = self.head.lines().filter_map(|line| line.split_once(": "));
        lines.find(|(known, _)| known.eq_ignore_ascii_case(name)).map(|(_, value)| value)
    }

    /// What a browser would send of the cookie that was set.
    pub fn cookie(&self) -> Option<String> {
        Some(self.header("set-cookie")?.split(';').next()?.to_owned())
    }

    /// The value of a hidden field: the first one, or the first behind a mark on the page.
    pub fn field(&self, behind: &str, name: &str) -> String {
        let from = self.body.find(behind).unwrap_or_else(|| panic!("no {behind} on the page: {}", self.body));
        let mark = format!("name=\"{name}\" value=\"");
        let found = self.body[from..].split_once(&mark).unwrap_or_else(|| panic!("no {name} behind {behind}")).1;
        found.split('"').next().unwrap().to_owned()
    }
}

/// Asks, with these headers.
pub async fn ask(at: SocketAddr, line: &str, headers: &[(&str, &str)], body: &str) -> Answer {
    let mut stream = TcpStream::connect(at).await.unwrap();
    stream.write_all(request(at, line, headers, body).as_bytes()).await.unwrap();
    let mut text = String::new();
    timeout(SOON, stream.read_to_string(&mut text)).await.expect("no answer").unwrap();
    let (head, body) = text.split_once("\r\n\r\n").unwrap();
    let status = head.split(' ').nth(1).unwrap().parse().unwrap();
    let path = line.split(' ').nth(1).and_then(|path| path.split('?').next()).unwrap_or_default().to_owned();
    Answer { path, status, head: head.to_owned(), body: body.to_owned() }
}

fn request(at: SocketAddr, line: &str, headers: &[(&str, &str)], body: &str) -> String {
    let more: Vec<String> = headers.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
    let more = more.concat();
    format!("{line} HTTP/1.0\r\nHost: {at}\r\n{more}Content-Length: {}\r\n\r\n{body}", body.len())
}

pub async fn get(at: SocketAddr, path: &str, cookie: &str) -> Answer {
    ask(at, &format!("GET {path}"), &[("Cookie", cookie)], "").await
}

/// Sends a form as a page of the screen does.
pub async fn post(at: SocketAddr, path: &str, cookie: &str, fields: &[(&str, &str)]) -> Answer {
    post_from(at, path, cookie, Some(&format!("http://{at}")), fields).await
}

/// Sends a form from somewhere.
pub async fn post_from(
    at: SocketAddr,
    path: &str,
    cookie: &str,
    origin: Option<&str>,
    fields: &[(&str, &str)],
) -> Answer {
    let mut headers = vec![("Cookie", cookie), ("Content-Type", "application/x-www-form-urlencoded")];
    headers.extend(origin.map(|origin| ("Origin", origin)));
    let body: Vec<String> = fields.iter().map(|(name, value)| format!("{name}={}", escape(value))).collect();
    ask(at, &format!("POST {path}"), &headers, &body.join("&")).await
}

/// As a form's field is sent (WHATWG URL, 5.2).
fn escape(value: &str) -> String {
    let each = value.bytes().map(|byte| match byte {
        b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'.' => char::from(byte).to_string(),
        byte => format!("%{byte:02X}"),
    });
    each.collect()
}

/// A stream of server-sent events.
pub struct Events {
    lines: BufReader<TcpStream>,
    /// The last id that was heard.
    pub id: String,
}

impl Events {
    /// Opens it, with what was heard last.
    pub async fn open(at: SocketAddr, last: Option<&str>) -> Self {
        let mut stream = TcpStream::connect(at).await.unwrap();
        let headers: Vec<(&str, &str)> = last.iter().map(|last| ("Last-Event-ID", *last)).collect();
        stream.write_all(request(at, "GET /events", &headers, "").as_bytes()).await.unwrap();
        let mut lines = BufReader::new(stream);
        let mut line = String::new();
        while line != "\r\n" {
            line.clear();
            timeout(SOON, lines.read_line(&mut line)).await.expect("no stream").unwrap();
        }
        Self { lines, id: String::new() }
    }

    /// The next event's data; nothing when the stream is over.
    pub async fn next(&mut self) -> Option<Value> {
        let mut data = String::new();
        loop {
            let mut line = String::new();
            if timeout(SOON, self.lines.read_line(&mut line)).await.expect("no word").unwrap_or(0) == 0 {
                return None;
            }
            match line.trim_end().split_once(':') {
                Some(("data", text)) => data.push_str(text.trim_start()),
                Some(("id", id)) => id.trim().clone_into(&mut self.id),
                Some(_) => {}
                None if data.is_empty() => {}
                None => return Some(serde_json::from_str(&data).unwrap()),
            }
        }
    }

    /// The next event of which this holds.
    pub async fn until(&mut self, what: impl Fn(&Value) -> bool) -> Value {
        let found = async {
            loop {
                let word = self.next().await.expect("the stream is over");
                if what(&word) {
                    return word;
                }
            }
        };
        timeout(SOON, found).await.expect("it never came")
    }
}
