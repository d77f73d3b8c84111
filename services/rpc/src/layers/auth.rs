//! Who calls, and whether they may: every path stands in one table, and what does not is refused.

use super::attempts::{Attempts, TURN, Verdict};
use super::known::Known;
use super::{Answered, Answering, Asked, ready_one};
use crate::status::{refused, status};
use http::{Extensions, HeaderMap};
use leadhand_app::access::{Holder, PREFIX, permit, token_hash};
use leadhand_app::{App, AppError};
use std::fmt;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use tokio::time::Instant;
use tonic::transport::server::{TcpConnectInfo, TlsConnectInfo};
use tonic::{Code, Status};
use tower::{Layer, Service};
use tracing::field::{DisplayValue, display};

/// What anybody may call: they tell nothing about a shop.
const OPEN: [&str; 3] =
    ["/grpc.health.v1.Health/", "/grpc.reflection.v1.ServerReflection/", "/grpc.reflection.v1alpha.ServerReflection/"];

/// The secret that proved who calls, for streams that check it again. Never shown.
#[derive(Clone)]
pub struct Secret(pub Arc<str>);

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(…)")
    }
}

/// Where the call comes from, as far as that is known.
#[derive(Debug, Clone, Copy)]
pub struct From(pub Option<IpAddr>);

/// Lets nobody through without a token that allows the call.
#[derive(Clone)]
pub struct AuthLayer {
    door: Door,
}

impl AuthLayer {
    /// Tokens are those that the application knows. Beyond so many failures a minute of one address new ones
    /// are looked at seldom, and beyond so many of one secret it is not.
    pub fn new(app: App, failures: u32) -> Self {
        Self { door: Door { app, attempts: Arc::new(Mutex::new(Attempts::new(failures))), known: Arc::default() } }
    }
}

/// Where everybody comes in.
#[derive(Clone)]
struct Door {
    app: App,
    attempts: Arc<Mutex<Attempts>>,
    known: Arc<Mutex<Known>>,
}

impl<S> Layer<S> for AuthLayer {
    type Service = Auth<S>;

    fn layer(&self, inner: S) -> Self::Service {
        Auth { door: self.door.clone(), inner }
    }
}

/// The service behind [`AuthLayer`].
#[derive(Clone)]
pub struct Auth<S> {
    door: Door,
    inner: S,
}

impl<S> Service<Asked> for Auth<S>
where
    S: Service<Asked, Response = Answered> + Clone + Send + 'static,
    S::Future: Send,
{
    type Response = Answered;
    type Error = S::Error;
    type Future = Answering<S::Error>;

    fn poll_ready(&mut self, cx: &mut Context<'_>) -> Poll<Result<(), Self::Error>> {
        self.inner.poll_ready(cx)
    }

    fn call(&mut self, mut asked: Asked) -> Self::Future {
        let mut inner = ready_one!(self);
        if OPEN.iter().any(|open| asked.uri().path().starts_with(open)) {
            return Box::pin(inner.call(asked));
        }
        let door = self.door.clone();
        Box::pin(async move {
            let remembered = match door.let_in(&mut asked).await {
                Ok(remembered) => remembered,
                Err(status) => return Ok(status.into_http()),
            };
            let answered = inner.call(asked).await?;
            // What was refused before the writer looked at the token is no answer for whoever was sent away meanwhile.
            match remembered.filter(|_| is_refused(&answered)) {
                Some((secret, from)) => {
                    Ok(door.still_in(&secret, from).await.map_or_else(Status::into_http, |()| answered))
                }
                None => Ok(answered),
            }
        })
    }
}

/// Whether an answer is a refusal: those have no body, and their status in the head.
fn is_refused(answered: &Answered) -> bool {
    answered.headers().get("grpc-status").is_some_and(|status| status != "0")
}

/// Who was let in by memory alone: the secret, and from where.
type Remembered = Option<(Arc<str>, Option<IpAddr>)>;

impl Door {
    /// Looks at the token itself, of a call that was let in by memory.
    async fn still_in(&self, secret: &str, from: Option<IpAddr>) -> Result<(), Status> {
        self.look(secret, &token_hash(secret), from).await.map(drop).map_err(|error| status(&error))
    }

    async fn let_in(&self, asked: &mut Asked) -> Result<Remembered, Status> {
        let path = asked.uri().path().to_owned();
        let from = address(asked.extensions());
        let secret: Arc<str> = match bearer(asked.headers()) {
            Ok(secret) => secret.into(),
            Err(refusal) => {
                if self.attempts().failed(Instant::now(), from, None) {
                    tracing::warn!(path, from = shown(from), "refused a call: {}", refusal.message());
                }
                count("unreadable");
                return Err(refusal);
            }
        };
        let (holder, by_memory) = self.holder(&path, &secret, from).await.map_err(|error| status(&error))?;
        if let Err(error) = permit(&path, &holder) {
            tell_not_allowed(&path, &holder);
            return Err(status(&error));
        }
        match holder {
            Holder::Shop(who) => asked.extensions_mut().insert(who).map(drop),
            Holder::Operator(who) => asked.extensions_mut().insert(who).map(drop),
        };
        asked.extensions_mut().insert(Secret(secret.clone()));
        asked.extensions_mut().insert(From(from));
        Ok(by_memory.then_some((secret, from)))
    }

    /// Who it is, and whether that is only remembered.
    async fn holder(&self, path: &str, secret: &str, from: Option<IpAddr>) -> Result<(Holder, bool), AppError> {
        let hash = token_hash(secret);
        if Known::judged_again(path)
            && let Some(holder) = self.known().get(Instant::now(), &hash)
        {
            return Ok((holder, true));
        }
        let verdict = self.attempts().ask(Instant::now(), from, &hash);
        let (why, tell, refusal) = match verdict {
            Verdict::Look => return Ok((self.look(secret, &hash, from).await?, false)),
            Verdict::Refuse { wait, tell } => ("too_many", tell, AppError::TooManyFailures { wait }),
            Verdict::Later { tell } => ("put_off", tell, AppError::ComeAgain { wait: TURN.as_secs() }),
        };
        count(why);
        if let Some(failures) = tell {
            tracing::warn!(from = shown(from), failures, "too many failed attempts; more get no line each");
        }
        Err(refusal)
    }

    /// Asks the database, and notes what it says.
    async fn look(&self, secret: &str, hash: &str, from: Option<IpAddr>) -> Result<Holder, AppError> {
        let found = self.app.authenticate(secret).await;
        let now = Instant::now();
        match &found {
            Ok(holder) => {
                self.attempts().valid(now, hash);
                if matches!(holder, Holder::Shop(_)) {
                    self.known().keep(now, hash, *holder);
                }
            }
            Err(AppError::Unauthenticated(why)) => {
                count(why);
                if self.attempts().failed(now, from, Some(hash)) {
                    let prefix: String = secret.chars().take(PREFIX).collect();
                    tracing::warn!(prefix, from = shown(from), why, "refused a secret");
                }
            }
            Err(_) => {}
        }
        found
    }

    fn known(&self) -> std::sync::MutexGuard<'_, Known> {
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn attempts(&self) -> std::sync::MutexGuard<'_, Attempts> {
        self.attempts.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// An address for a line of the log; left out when it is not known.
pub fn shown(from: Option<IpAddr>) -> Option<DisplayValue<IpAddr>> {
    from.map(display)
}

/// By ids alone: whoever reads the log finds the token in the shop's list.
fn tell_not_allowed(path: &str, holder: &Holder) {
    const WHY: &str = "refused a call: the role may not do this";
    match holder {
        Holder::Shop(who) => tracing::warn!(path, shop = %who.shop, token = %who.token, "{WHY}"),
        Holder::Operator(who) => tracing::warn!(path, operator = %who.operator, "{WHY}"),
    }
}

fn count(why: &'static str) {
    metrics::counter!("leadhand_failed_attempts_total", "why" => why).increment(1);
}

/// Where a call comes from, over TLS or not.
fn address(found: &Extensions) -> Option<IpAddr> {
    let tls = found.get::<TlsConnectInfo<TcpConnectInfo>>().and_then(|info| info.get_ref().remote_addr());
    let plain = || found.get::<TcpConnectInfo>().and_then(TcpConnectInfo::remote_addr);
    tls.or_else(plain).map(|address| address.ip().to_canonical())
}

/// The secret of `authorization: Bearer SECRET` (RFC 6750, 2.1).
fn bearer(headers: &HeaderMap) -> Result<&str, Status> {
    let said = headers.get(http::header::AUTHORIZATION);
    let missing = "no token was sent; send the metadata 'authorization: Bearer TOKEN'";
    let said = said.ok_or_else(|| refused(Code::Unauthenticated, "TOKEN_MISSING", missing))?;
    let secret = said.to_str().ok().and_then(|said| {
        let (scheme, secret) = said.split_once(' ')?;
        scheme.eq_ignore_ascii_case("bearer").then(|| secret.trim()).filter(|secret| !secret.is_empty())
    });
    let malformed = "the token could not be read; send the metadata 'authorization: Bearer TOKEN'";
    secret.ok_or_else(|| refused(Code::Unauthenticated, "TOKEN_MALFORMED", malformed))
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_app::access::{Operator, Principal};
    use leadhand_facts::words::Role;
    use leadhand_facts::{PrincipalId, ShopId, TokenId};
    use tonic_types::StatusExt;

    fn read(value: Option<&str>) -> Result<String, String> {
        let mut headers = HeaderMap::new();
        if let Some(value) = value {
            headers.insert("authorization", value.parse().unwrap());
        }
        bearer(&headers).map(str::to_owned).map_err(|status| {
            assert_eq!(status.code(), Code::Unauthenticated);
            status.get_details_error_info().unwrap().reason
        })
    }

    // RFC 6750, 2.1; the scheme's case does not matter (RFC 9110, 11.1).
    #[test]
    fn the_token_stands_behind_bearer() {
        assert_eq!(read(Some("Bearer lhd_1")).as_deref(), Ok("lhd_1"));
        assert_eq!(read(Some("bearer  lhd_1 ")).as_deref(), Ok("lhd_1"));
        assert_eq!(read(None).unwrap_err(), "TOKEN_MISSING");
        for wrong in ["lhd_1", "Basic lhd_1", "Bearer ", "Bearer"] {
            assert_eq!(read(Some(wrong)).unwrap_err(), "TOKEN_MALFORMED", "{wrong}");
        }
    }

    /// The lines of the log that this writes.
    fn logged(work: impl FnOnce()) -> String {
        let lines = Arc::new(Mutex::new(Vec::new()));
        let kept = lines.clone();
        let subscriber =
            tracing_subscriber::fmt().with_ansi(false).without_time().with_writer(move || Kept(kept.clone())).finish();
        tracing::subscriber::with_default(subscriber, work);
        String::from_utf8(lines.lock().unwrap().clone()).unwrap()
    }

    struct Kept(Arc<Mutex<Vec<u8>>>);

    impl std::io::Write for Kept {
        fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn lines_of_the_log_say_ids_and_addresses_plainly() {
        let id = |n| uuid::Uuid::from_u128(n);
        let who = Principal {
            shop: ShopId(id(1)),
            token: TokenId(id(2)),
            device: None,
            principal: PrincipalId(id(3)),
            person: None,
            role: Role::Viewer,
            expires_at: None,
        };
        let said = logged(|| tell_not_allowed("/a", &Holder::Shop(who)));
        assert!(said.ends_with(&format!("path=\"/a\" shop={} token={}\n", id(1), id(2))), "{said}");
        let said = logged(|| tell_not_allowed("/a", &Holder::Operator(Operator { operator: PrincipalId(id(4)) })));
        assert!(said.ends_with(&format!("path=\"/a\" operator={}\n", id(4))), "{said}");
        let said = logged(|| tracing::warn!(from = shown(Some(IpAddr::from([192, 0, 2, 7]))), "x"));
        assert!(said.ends_with("x from=192.0.2.7\n"), "{said}");
        assert!(logged(|| tracing::warn!(from = shown(None), "x")).ends_with("x\n"));
    }

    #[test]
    fn a_secret_is_not_shown() {
        assert!(!format!("{:?}", Secret("lhd_1".into())).contains("lhd"));
    }
}
