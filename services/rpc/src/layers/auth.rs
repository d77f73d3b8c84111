//! Who calls, and whether they may: every path stands in one table, and what does not is refused.

use super::{Answered, Answering, Asked, ready_one};
use crate::status::{refused, status};
use http::HeaderMap;
use leadhand_app::App;
use leadhand_app::access::permit;
use std::fmt;
use std::sync::Arc;
use std::task::{Context, Poll};
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
    app: App,
}

impl AuthLayer {
    /// Tokens are those that the application knows.
    pub fn new(app: App) -> Self {
        Self { app }
    }
}

impl<S> Layer<S> for AuthLayer {
    type Service = Auth<S>;

    fn layer(&self, inner: S) -> Self::Service {
        Auth { app: self.app.clone(), inner }
    }
}

/// The service behind [`AuthLayer`].
#[derive(Clone)]
pub struct Auth<S> {
    app: App,
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
        let app = self.app.clone();
        Box::pin(async move {
            match let_in(&app, &mut asked).await {
                Ok(()) => inner.call(asked).await,
                Err(status) => Ok(status.into_http()),
            }
        })
    }
}

async fn let_in(app: &App, asked: &mut Asked) -> Result<(), Status> {
    let path = asked.uri().path().to_owned();
    let secret: Arc<str> = match bearer(asked.headers()) {
        Ok(secret) => secret.into(),
        Err(refusal) => {
            tracing::warn!(path, "refused a call: {}", refusal.message());
            return Err(refusal);
        }
    };
    // The application itself logs a token that it does not know.
    let who = app.authenticate(&secret).await.map_err(|error| status(&error))?;
    if let Err(error) = permit(&path, who.role) {
        tracing::warn!(path, token = %who.token, role = %who.role, "refused a call: the role may not do this");
        return Err(status(&error));
    }
    asked.extensions_mut().insert(who);
    asked.extensions_mut().insert(Secret(secret));
    Ok(())
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
