//! TLS: who may listen where, renewed certificates, and clients that must show one. Certificates
//! are made anew in each test; the protocol is TLS as RFC 8446 and RFC 5246 have it.

mod place;

use leadhand_sdk::{Client, Code, Endpoint, SdkError, Tls, v1};
use leadhand_server::serve::Running;
use leadhand_tls::{Tls as Doors, TlsFiles};
use place::{Place, open_shop, start};
use rcgen::{BasicConstraints, CertificateParams, ExtendedKeyUsagePurpose, IsCa, Issuer, KeyPair};
use std::time::Duration;
use tokio::net::TcpStream;
use tokio_util::sync::CancellationToken;

/// An authority that signs.
struct Authority {
    pem: String,
    issuer: Issuer<'static, KeyPair>,
}

impl Authority {
    fn new() -> Self {
        let key = KeyPair::generate().expect("a key");
        let mut params = CertificateParams::new(Vec::<String>::new()).expect("parameters");
        params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
        let pem = params.self_signed(&key).expect("a certificate").pem();
        Self { pem, issuer: Issuer::new(params, key) }
    }

    /// Certificate and key in PEM.
    fn sign(&self, name: &str, purpose: ExtendedKeyUsagePurpose) -> (String, String) {
        let key = KeyPair::generate().expect("a key");
        let mut params = CertificateParams::new(vec![name.to_owned(), "127.0.0.1".to_owned()]).expect("parameters");
        params.extended_key_usages = vec![purpose];
        let certificate = params.signed_by(&key, &self.issuer).expect("a certificate");
        (certificate.pem(), key.serialize_pem())
    }
}

fn put(place: &Place, authority: &Authority) {
    let (cert, key) = authority.sign("localhost", ExtendedKeyUsagePurpose::ServerAuth);
    std::fs::write(place.path().join("cert.pem"), cert).expect("written");
    std::fs::write(place.path().join("key.pem"), key).expect("written");
}

async fn serving(place: &Place, client_ca: Option<&Authority>) -> Running {
    let path = |name: &str| place.path().join(name);
    let client_ca = client_ca.map(|authority| {
        std::fs::write(path("clients.pem"), &authority.pem).expect("written");
        path("clients.pem")
    });
    let mut configuration = place.configuration();
    configuration.tls = Some(TlsFiles { cert: path("cert.pem"), key: path("key.pem"), client_ca });
    start(&configuration).await
}

fn client(running: &Running, token: &str, tls: Tls) -> Client {
    let url = format!("https://localhost:{}", running.grpc.port());
    let endpoint = Endpoint::new(url).token(token).tls(tls).budget(Duration::from_millis(300));
    Client::connect(endpoint).expect("an endpoint")
}

fn trusting(authority: &Authority) -> Tls {
    Tls { authorities: Some(authority.pem.clone()), client: None }
}

async fn ask(client: &Client) -> Result<v1::WhoAmIResponse, SdkError> {
    client.who_am_i(v1::WhoAmIRequest {}).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_client_that_trusts_the_authority_is_served_and_nobody_else() {
    let (place, authority) = (Place::new(), Authority::new());
    put(&place, &authority);
    let token = open_shop(&place).await;
    let running = serving(&place, None).await;
    ask(&client(&running, &token, trusting(&authority))).await.expect("served");
    let stranger = ask(&client(&running, &token, trusting(&Authority::new()))).await.expect_err("another authority");
    assert_eq!(stranger.code, Code::Unavailable, "{stranger}");
    let plain = Endpoint::new(format!("http://{}", running.grpc)).token(&token).budget(Duration::from_millis(300));
    let refused = ask(&Client::connect(plain).expect("an endpoint")).await.expect_err("plaintext");
    assert_eq!(refused.code, Code::Unavailable, "{refused}");
    running.stop().await.expect("it stops");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_renewed_certificate_is_used_without_a_restart_and_a_broken_one_is_not() {
    let (place, old, new) = (Place::new(), Authority::new(), Authority::new());
    put(&place, &old);
    let token = open_shop(&place).await;
    let running = serving(&place, None).await;
    ask(&client(&running, &token, trusting(&old))).await.expect("served");
    std::fs::write(place.path().join("cert.pem"), "nothing of the kind").expect("written");
    // The files are looked at all the time: a new connection goes on with what was good.
    for _ in 0..3 {
        ask(&client(&running, &token, trusting(&old))).await.expect("served");
    }
    put(&place, &new);
    let renewed = async { while ask(&client(&running, &token, trusting(&new))).await.is_err() {} };
    tokio::time::timeout(place::GRACE, renewed).await.expect("the new certificate is taken up");
    ask(&client(&running, &token, trusting(&old))).await.expect_err("the old one is gone");
    running.stop().await.expect("it stops");
}

#[tokio::test(flavor = "multi_thread")]
async fn where_clients_must_show_a_certificate_none_comes_in_without() {
    let (place, authority, clients) = (Place::new(), Authority::new(), Authority::new());
    put(&place, &authority);
    let token = open_shop(&place).await;
    let running = serving(&place, Some(&clients)).await;
    ask(&client(&running, &token, trusting(&authority))).await.expect_err("no certificate");
    let of = |signer: &Authority| {
        let shown = signer.sign("bay tablet", ExtendedKeyUsagePurpose::ClientAuth);
        Tls { client: Some(shown), ..trusting(&authority) }
    };
    ask(&client(&running, &token, of(&Authority::new()))).await.expect_err("of another authority");
    ask(&client(&running, &token, of(&clients))).await.expect("served");
    running.stop().await.expect("it stops");
}

#[tokio::test]
async fn a_certificate_that_does_not_fit_its_key_is_said_before_anything_is_served() {
    let (place, authority) = (Place::new(), Authority::new());
    put(&place, &authority);
    let (_, other_key) = authority.sign("localhost", ExtendedKeyUsagePurpose::ServerAuth);
    let settings = TlsFiles { cert: place.path().join("cert.pem"), key: place.path().join("key.pem"), client_ca: None };
    let begin = || Doors::begin(settings.clone(), &["h2"], CancellationToken::new());
    assert!(begin().is_ok());
    std::fs::write(&settings.key, other_key).expect("written");
    let said = format!("{:#}", begin().err().expect("refused"));
    assert!(said.contains("key.pem") && said.contains("do not go together"), "{said}");
    std::fs::write(&settings.key, "").expect("written");
    let said = format!("{:#}", begin().err().expect("refused"));
    assert!(said.contains("key.pem holds no private key in PEM"), "{said}");
    std::fs::remove_file(&settings.cert).expect("removed");
    let said = format!("{:#}", begin().err().expect("refused"));
    assert!(said.contains("cert.pem can't be read"), "{said}");
}

#[tokio::test(flavor = "multi_thread")]
async fn connections_that_say_nothing_keep_nobody_out() {
    let (place, authority) = (Place::new(), Authority::new());
    put(&place, &authority);
    let token = open_shop(&place).await;
    let running = serving(&place, None).await;
    let mut silent = Vec::new();
    // More than handshakes are let in at a time.
    for _ in 0..300 {
        silent.push(TcpStream::connect(running.grpc).await.expect("connected"));
    }
    ask(&client(&running, &token, trusting(&authority))).await.expect("served");
    drop(silent);
    running.stop().await.expect("it stops");
}
