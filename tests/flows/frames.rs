//! Bytes that are no request: they are refused as the client's mistake, and the connection goes on.

use crate::raw::{broken, call, fields, methods, reason};
use crate::shop::Shop;
use futures::future::join_all;
use prost::bytes::Bytes;
use tonic::body::Body;
use tonic::codegen::Service;
use tonic::transport::Channel;
use tonic::{Code, Status};

/// Sends a body as it is.
async fn send(channel: &Channel, path: &str, secret: &str, body: Vec<u8>, headers: usize) -> Result<Status, String> {
    let mut asked = http::Request::post(path)
        .header("content-type", "application/grpc")
        .header("te", "trailers")
        .header("authorization", format!("Bearer {secret}"));
    for n in 0..headers {
        asked = asked.header(format!("x-{n}"), "y");
    }
    let body = Body::new(http_body_util::Full::new(Bytes::from(body)));
    let mut channel = channel.clone();
    std::future::poll_fn(|cx| channel.poll_ready(cx)).await.map_err(|error| error.to_string())?;
    let answered = channel.call(asked.body(body).unwrap()).await.map_err(|error| format!("{error:?}"))?;
    let code = answered.status();
    Status::from_header_map(answered.headers()).ok_or_else(|| format!("HTTP {code}"))
}

fn framed(flag: u8, length: u32, message: &[u8]) -> Vec<u8> {
    [&[flag][..], &length.to_be_bytes(), message].concat()
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_no_message_is_the_client_s_mistake_at_every_method() {
    let shop = Shop::open().await;
    let lead = format!("Bearer {}", shop.secret());
    let operator = format!("Bearer {}", shop.app().issue_operator("Night desk", None).await.unwrap().secret);
    let before = shop.head().await;
    // Protocol Buffers' encoding: a tag of field 0, a length beyond the end, a varint without an end, a group's end.
    let garbage: [&[u8]; 4] = [&[0x00], &[0x0a, 0x7f, 1], &[0xff; 11], &[0x0c]];
    let mut cases = 0;
    for method in methods() {
        let who = if method.path.contains("Operator") { &operator } else { &lead };
        for bytes in garbage {
            cases += 1;
            let status = call(&shop.lead, &method.path, Some(who), bytes.to_vec()).await.unwrap_err();
            let told = (status.code(), reason(&status));
            assert_eq!(told, (Code::InvalidArgument, "REQUEST_UNREADABLE".to_owned()), "{} {bytes:?}", method.path);
        }
    }
    println!("{cases} messages that are none");
    // The field in which it lies is named: "bay" (2) { "bay" (1): no UTF-8 }.
    let bad = vec![0x12, 0x03, 0x0a, 0x01, 0xff];
    let status = call(&shop.lead, "/leadhand.v1.ShopService/AddBay", Some(&lead), bad).await.unwrap_err();
    assert_eq!(fields(&status), ["bay.bay"]);
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

// gRPC over HTTP/2, "Length-Prefixed-Message".
#[tokio::test(flavor = "multi_thread")]
async fn frames_that_are_none_are_refused_with_a_sentence() {
    const GET_SHOP: &str = "/leadhand.v1.ShopService/GetShop";
    const IMPORT: &str = "/leadhand.v1.StockService/ImportStock";
    const CHECK: &str = "/leadhand.v1.TemplateService/CheckTemplate";
    const MIB: u32 = 1024 * 1024;
    let shop = Shop::open().await;
    let before = shop.head().await;
    let cases = [
        (GET_SHOP, vec![], "no message"),
        (GET_SHOP, vec![0, 0, 0], "too early"),
        (GET_SHOP, framed(0, 9, &[1]), "8 bytes too early"),
        (GET_SHOP, framed(1, 0, &[]), "compressed"),
        (GET_SHOP, framed(7, 0, &[]), "the flag 7"),
        (GET_SHOP, framed(0, MIB + 1, &[]), "at most 1048576"),
        (GET_SHOP, framed(0, u32::MAX, &[0; 64]), "at most 1048576"),
        (CHECK, framed(0, 2 * MIB + 1, &[]), "at most 2097152"),
        (IMPORT, framed(0, 4 * MIB + 1, &[]), "at most 4194304"),
    ];
    for (path, body, expected) in cases {
        let status = send(&shop.lead.channel(), path, shop.secret(), body, 0).await.unwrap();
        let fits = status.code() == Code::InvalidArgument && status.message().contains(expected) && !broken(&status);
        assert!(fits, "{path} {expected}: {status:?}");
    }
    // All the way up to the limit the message is looked at.
    let whole = framed(0, MIB, &vec![0; usize::try_from(MIB).unwrap()]);
    let status = send(&shop.lead.channel(), GET_SHOP, shop.secret(), whole, 0).await.unwrap();
    assert!(status.message().starts_with("the request: it can't be read"), "{status:?}");
    assert_eq!(shop.head().await, before);
    shop.verified().await;
}

// RFC 9113, 6.5.2: SETTINGS_MAX_HEADER_LIST_SIZE; RFC 6585, 5: 431 Request Header Fields Too Large.
#[tokio::test(flavor = "multi_thread")]
async fn ten_thousand_headers_are_refused_and_the_server_goes_on() {
    let shop = Shop::open().await;
    let channel = shop.lead.channel();
    let many =
        (0..8).map(|_| send(&channel, "/leadhand.v1.ShopService/GetShop", shop.secret(), framed(0, 0, &[]), 10_000));
    for refused in join_all(many).await {
        assert!(refused.is_err(), "{refused:?}");
    }
    shop.head().await;
    shop.verified().await;
}
