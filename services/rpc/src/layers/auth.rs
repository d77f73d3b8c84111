//! Who calls, and whether they may: every path stands in one table, and what does not is refused.

use super::attempts::{Attempts, Verdict};
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

/// Lets nobody through without a token that allows the call.
#[derive(Clone)]
pub struct AuthLayer {
    door: Door,
}

impl AuthLayer {
    /// Tokens are those that the application knows. Beyond so many failures a minute, of one address or
    /// of one secret, they are not looked at.
    pub fn new(app: App, failures: u32) -> Self {
        Self { door: Door { app, attempts: Arc::new(Mutex::new(Attempts::new(failures))) } }
    }
}

/// Where everybody comes in.
#[derive(Clone)]
struct Door {
    app: App,
    attempts: Arc<Mutex<Attempts>>,
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
            match door.let_in(&mut asked).await {
                Ok(()) => inner.call(asked).await,
                Err(status) => Ok(status.into_http()),
            }
        })
    }
}

impl Door {
    async fn let_in(&self, asked: &mut Asked) -> Result<(), Status> {
        let path = asked.uri().path().to_owned();
        let from = address(asked.extensions());
        let secret: Arc<str> = match bearer(asked.headers()) {
            Ok(secret) => secret.into(),
            Err(refusal) => {
                if self.attempts().failed(Instant::now(), from, None) {
                    tracing::warn!(path, ?from, "refused a call: {}", refusal.message());
                }
                count("unreadable");
                return Err(refusal);
            }
        };
        let holder = self.holder(&secret, from).await.map_err(|error| status(&error))?;
        if let Err(error) = permit(&path, &holder) {
            tracing::warn!(path, ?holder, "refused a call: the role may not do this");
            return Err(status(&error));
        }
        match holder {
            Holder::Shop(who) => asked.extensions_mut().insert(who).map(drop),
            Holder::Operator(who) => asked.extensions_mut().insert(who).map(drop),
        };
        asked.extensions_mut().insert(Secret(secret));
        Ok(())
    }

    async fn holder(&self, secret: &str, from: Option<IpAddr>) -> Result<Holder, AppError> {
        let hash = token_hash(secret);
        let verdict = self.attempts().ask(Instant::now(), from, &hash);
        if let Verdict::Refuse { wait, tell } = verdict {
            count("too_many");
            if let Some(failures) = tell {
                tracing::warn!(
                    ?from,
                    failures,
                    wait,
                    "too many failed attempts; more are refused unseen, without a line each"
                );
            }
            return Err(AppError::TooManyFailures { wait });
        }
        let found = self.app.authenticate(secret).await;
        let now = Instant::now();
        match &found {
            Ok(_) => self.attempts().valid(now, &hash),
            Err(AppError::Unauthenticated(why)) => {
                count(why);
                if self.attempts().failed(now, from, Some(&hash)) {
                    let prefix: String = secret.chars().take(PREFIX).collect();
                    tracing::warn!(prefix, ?from, why, "refused a secret");
                }
            }
            Err(_) => {}
        }
        found
    }

    fn attempts(&self) -> std::sync::MutexGuard<'_, Attempts> {
        self.attempts.lock().unwrap_or_else(PoisonError::into_inner)
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

    #[test]
    fn a_secret_is_not_shown() {
        assert!(!format!("{:?}", Secret("lhd_1".into())).contains("lhd"));
    }
}
