//! One connection, and what every unary call has in common.

use crate::endpoint::{Endpoint, Tls};
use crate::error::SdkError;
use crate::retry::{Backoff, Trouble, asked_delay, is_decisive};
use std::future::Future;
use std::net::IpAddr;
use std::time::Duration;
use tokio::time::{Instant, sleep, timeout};
use tonic::metadata::Ascii;
use tonic::metadata::MetadataValue;
use tonic::transport::{Certificate, Channel, ClientTlsConfig, Identity};
use tonic::{Code, Request, Response, Status};

/// How long making a connection may take.
const CONNECT_TIMEOUT: Duration = Duration::from_secs(5);
/// A silent connection is probed this often, and given up after so long.
const KEEP_ALIVE: (Duration, Duration) = (Duration::from_secs(30), Duration::from_secs(20));
/// What the server may add to a deadline before the client stops waiting for its answer.
const GRACE: Duration = Duration::from_secs(1);
/// The largest trailers taken: a file that was refused is answered there, with every fault of it.
const TRAILERS_MAX: u32 = 1024 * 1024;
/// The largest answer taken: a page of a thousand facts, or the board of a large shop.
pub(crate) const ANSWER_MAX: usize = 32 * 1024 * 1024;

/// Whether a server's address asks for TLS. Plaintext shows a token to whoever listens, so that it
/// stays on this machine.
fn secured(url: &str) -> Result<bool, String> {
    if url.starts_with("https://") {
        return Ok(true);
    }
    let Some(rest) = url.strip_prefix("http://") else {
        return Err(format!(
            "the server's address '{url}' does not begin with https:// or http://; give it as https://HOST:PORT"
        ));
    };
    let authority = rest.split('/').next().unwrap_or_default();
    let host = authority.rsplit_once(':').map_or(authority, |(host, _)| host).trim_matches(['[', ']']);
    let here = host == "localhost" || host.parse::<IpAddr>().is_ok_and(|address| address.is_loopback());
    if here {
        Ok(false)
    } else {
        Err(format!("'{url}' would send the token in plaintext to another machine; give it as https://{rest}"))
    }
}

fn tls_config(tls: &Tls) -> ClientTlsConfig {
    let config = match &tls.authorities {
        Some(pem) => ClientTlsConfig::new().ca_certificate(Certificate::from_pem(pem)),
        None => ClientTlsConfig::new().with_native_roots(),
    };
    match &tls.client {
        Some((certificate, key)) => config.identity(Identity::from_pem(certificate, key)),
        None => config,
    }
}

/// A client of one server. Cheap to clone; clones share the connection.
#[derive(Clone)]
pub struct Client {
    channel: Channel,
    authorization: Option<MetadataValue<Ascii>>,
    endpoint: Endpoint,
}

/// What a call may change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Effect {
    /// Nothing.
    Reads,
    /// Something, once, under this request id.
    Writes(String),
}

impl Client {
    /// A client of the server at an endpoint, within a tokio runtime. The connection is made with
    /// the first call.
    pub fn connect(endpoint: Endpoint) -> Result<Self, SdkError> {
        let wrong = |why: String| SdkError::local(Code::InvalidArgument, why);
        let secured = secured(&endpoint.url).map_err(wrong)?;
        let authorization = match &endpoint.token {
            None => None,
            Some(token) => Some(bearer(token).ok_or_else(|| {
                wrong("the token holds characters that no token has; give the one that was issued".to_owned())
            })?),
        };
        let mut way = Channel::from_shared(endpoint.url.clone())
            .map_err(|error| wrong(format!("the server's address '{}' can't be read: {error}", endpoint.url)))?;
        if secured {
            way = way
                .tls_config(tls_config(&endpoint.tls))
                .map_err(|error| wrong(format!("the certificates given can't be used: {error}")))?;
        }
        let channel = way
            .connect_timeout(CONNECT_TIMEOUT)
            .http2_keep_alive_interval(KEEP_ALIVE.0)
            .keep_alive_timeout(KEEP_ALIVE.1)
            .tcp_nodelay(true)
            .http2_max_header_list_size(TRAILERS_MAX)
            .connect_lazy();
        Ok(Self { channel, authorization, endpoint })
    }

    /// The same client with another deadline for one attempt.
    pub fn with_deadline(&self, deadline: Duration) -> Self {
        Self { endpoint: self.endpoint.clone().deadline(deadline), ..self.clone() }
    }

    /// Where it calls.
    pub fn endpoint(&self) -> &Endpoint {
        &self.endpoint
    }

    /// The connection, for a call that is made by hand.
    pub fn channel(&self) -> Channel {
        self.channel.clone()
    }

    /// A request with the token.
    pub(crate) fn request<M>(&self, message: M) -> Request<M> {
        let mut request = Request::new(message);
        if let Some(value) = &self.authorization {
            request.metadata_mut().insert("authorization", value.clone());
        }
        // One that can't be a header can't be a trace either: it begins anew at the server.
        if let Some(Ok(traceparent)) = self.endpoint.traceparent.as_ref().map(|text| text.parse()) {
            request.metadata_mut().insert("traceparent", traceparent);
        }
        request
    }

    /// Makes a unary call: with the token and a deadline, and again where that is safe.
    pub(crate) async fn unary<M, A, F, Fut>(&self, effect: Effect, message: M, send: F) -> Result<A, SdkError>
    where
        M: Clone,
        F: Fn(Channel, Request<M>) -> Fut,
        Fut: Future<Output = Result<Response<A>, Status>>,
    {
        let end = Instant::now() + self.endpoint.budget;
        let mut backoff = Backoff::new();
        let (mut perhaps_taken, mut was_late) = (false, false);
        loop {
            let status = match self.attempt(message.clone(), &send).await {
                Ok(answer) => return Ok(answer),
                Err(status) => status,
            };
            let trouble = Trouble::of(&status);
            perhaps_taken |= matches!(trouble, Trouble::Broken | Trouble::TooLate);
            let wait = asked_delay(&status).unwrap_or_default().max(backoff.wait());
            let again = match trouble {
                Trouble::Refused => false,
                Trouble::NotSent | Trouble::Broken => Instant::now() + wait < end,
                Trouble::TooLate => effect != Effect::Reads && !std::mem::replace(&mut was_late, true),
            };
            if !again {
                return Err(self.give_up(&status, trouble, effect, perhaps_taken));
            }
            tracing::debug!(code = ?status.code(), ?wait, "trying again: {}", status.message());
            sleep(wait).await;
        }
    }

    async fn attempt<M, A, F, Fut>(&self, message: M, send: &F) -> Result<A, Status>
    where
        F: Fn(Channel, Request<M>) -> Fut,
        Fut: Future<Output = Result<Response<A>, Status>>,
    {
        let deadline = self.endpoint.deadline;
        let mut request = self.request(message);
        request.set_timeout(deadline);
        match timeout(deadline + GRACE, send(self.channel.clone(), request)).await {
            Ok(answer) => answer.map(Response::into_inner),
            Err(_) => Err(Status::deadline_exceeded("no answer in time")),
        }
    }

    fn give_up(&self, status: &Status, trouble: Trouble, effect: Effect, perhaps_taken: bool) -> SdkError {
        let mut error = self.explain(status, trouble);
        if let Effect::Writes(request_id) = effect {
            error.unknown = perhaps_taken && !(trouble == Trouble::Refused && is_decisive(status.code()));
            error.request_id = Some(request_id);
        }
        if error.unknown {
            error.message.push_str("; it is not known whether the request took effect");
        }
        error
    }

    /// The error in words, with the standard code that fits even when the transport chose another.
    pub(crate) fn explain(&self, status: &Status, trouble: Trouble) -> SdkError {
        let url = &self.endpoint.url;
        let mut error = SdkError::from(status);
        match trouble {
            Trouble::NotSent => {
                error.code = Code::Unavailable;
                let todo = if url.starts_with("https://") {
                    "see that leadhandd is running there, that it speaks TLS, and that you trust its certificate"
                } else {
                    "see that leadhandd is running there, and without TLS"
                };
                error.message = format!("can't reach the server at {url}; {todo}");
            }
            Trouble::TooLate => {
                error.code = Code::DeadlineExceeded;
                error.message = format!("the server at {url} gave no answer within {:?}", self.endpoint.deadline);
            }
            Trouble::Broken if error.reason.is_empty() => {
                error.code = Code::Unavailable;
                error.message = if std::error::Error::source(status).is_none() && !status.message().is_empty() {
                    format!("the server at {url} can't answer now: {}", status.message())
                } else {
                    format!("the connection to the server at {url} broke")
                };
            }
            Trouble::Broken | Trouble::Refused => {}
        }
        error
    }
}

fn bearer(token: &str) -> Option<MetadataValue<Ascii>> {
    let mut value: MetadataValue<Ascii> = format!("Bearer {}", token.trim()).parse().ok()?;
    value.set_sensitive(true);
    Some(value)
}

/// Without the token.
impl std::fmt::Debug for Client {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Client").field("endpoint", &self.endpoint).finish_non_exhaustive()
    }
}
