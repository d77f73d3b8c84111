//! gRPC-Web over HTTP/1.1, where it is asked for. Outside source: the gRPC project's "gRPC Web" (PROTOCOL-WEB): the content
//! type, frames as in gRPC, and trailers in a last frame whose flag has its highest bit set.

use kit::{Leadhandd, fresh_database, process};
use leadhand_sdk::v1::WhoAmIResponse;
use prost::Message;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// One call as a browser makes it: head and body of the answer, as far as the server says anything.
async fn called(server: &Leadhandd, token: &str, path: &str) -> (String, Vec<u8>) {
    let address = server.url().trim_start_matches("http://").to_owned();
    let mut stream = TcpStream::connect(&address).await.unwrap();
    // An empty message: not compressed, no bytes.
    let body = [0_u8; 5];
    let head = format!(
        "POST {path} HTTP/1.1\r\nHost: {address}\r\nContent-Type: application/grpc-web+proto\r\nX-Grpc-Web: 1\r\n\
         Authorization: Bearer {token}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
        body.len()
    );
    stream.write_all(head.as_bytes()).await.unwrap();
    stream.write_all(&body).await.unwrap();
    let mut answer = Vec::new();
    // A server that does not speak it may reset the connection.
    stream.read_to_end(&mut answer).await.ok();
    let Some(end) = answer.windows(4).position(|four| four == b"\r\n\r\n") else { return (String::new(), answer) };
    let head = String::from_utf8_lossy(&answer[..end]).to_lowercase();
    let rest = &answer[end + 4..];
    let body = if head.contains("transfer-encoding: chunked") { unchunked(rest) } else { rest.to_vec() };
    (head, body)
}

/// RFC 9112, 7.1: a length in hexadecimal before each chunk, 0 at the end.
fn unchunked(mut rest: &[u8]) -> Vec<u8> {
    let mut whole = Vec::new();
    while let Some(end) = rest.windows(2).position(|two| two == b"\r\n") {
        let length = usize::from_str_radix(std::str::from_utf8(&rest[..end]).unwrap().trim(), 16).unwrap();
        if length == 0 {
            break;
        }
        whole.extend_from_slice(&rest[end + 2..end + 2 + length]);
        rest = &rest[end + 4 + length..];
    }
    whole
}

/// Flag and content of each frame.
fn frames(mut body: &[u8]) -> Vec<(u8, Vec<u8>)> {
    let mut all = Vec::new();
    while let [flag, a, b, c, d, rest @ ..] = body {
        let length = u32::from_be_bytes([*a, *b, *c, *d]) as usize;
        all.push((*flag, rest[..length].to_vec()));
        body = &rest[length..];
    }
    all
}

#[tokio::test(flavor = "multi_thread")]
async fn a_browsers_call_is_answered_where_it_is_asked_for_and_only_there() {
    const WHO: &str = "/leadhand.v1.ShopService/WhoAmI";
    let database = fresh_database().await;
    let token = process::open_shop(&database.app_url(), "Yard").await.unwrap();
    let mut plain = Leadhandd::over(&database.app_url()).unwrap();
    plain.start().await.unwrap();
    let (head, _) = called(&plain, &token, WHO).await;
    assert!(!head.contains(" 200 "), "{head}");

    let mut web = Leadhandd::over(&database.app_url()).unwrap().with("--grpc-web", "yes");
    web.start().await.unwrap();
    let (head, body) = called(&web, &token, WHO).await;
    assert!(head.starts_with("http/1.1 200") && head.contains("content-type: application/grpc-web"), "{head}");
    let found = frames(&body);
    let [(0, message), (0x80, trailers)] = &found[..] else { panic!("{found:?}") };
    assert_eq!(WhoAmIResponse::decode(&message[..]).unwrap().shop_name, "Yard");
    let trailers = String::from_utf8_lossy(trailers).to_lowercase().replace(' ', "");
    assert!(trailers.contains("grpc-status:0"), "{trailers}");

    // The token is asked for there as well: UNAUTHENTICATED is 16.
    let (head, body) = called(&web, "lhd_wrong", WHO).await;
    let told = head + &String::from_utf8_lossy(&body).to_lowercase();
    assert!(told.replace(' ', "").contains("grpc-status:16"), "{told}");
}
