//! Where the server is, and how patient a client is with it.

use std::fmt;
use std::time::Duration;

/// What proves the server, and this client, over TLS.
#[derive(Clone, Default)]
pub struct Tls {
    /// PEM of the authorities that may have signed the server's certificate; the machine's own
    /// when there is none.
    pub authorities: Option<String>,
    /// PEM of this client's certificate and of its private key, where the server asks for one.
    pub client: Option<(String, String)>,
}

/// Without the key.
impl fmt::Debug for Tls {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Tls")
            .field("authorities", &self.authorities.is_some())
            .field("client", &self.client.as_ref().map(|_| "…"))
            .finish()
    }
}

/// Where the server is, what proves who calls, and how long to wait.
#[derive(Clone)]
pub struct Endpoint {
    /// The server: `https://host:port`, or `http://host:port` on this machine.
    pub url: String,
    /// What proves the server, and this client, over TLS.
    pub tls: Tls,
    /// The token; none for calls that need none.
    pub token: Option<String>,
    /// How long one attempt of a unary call may take; the server is told.
    pub deadline: Duration,
    /// How long a server that can't be reached is tried again.
    pub budget: Duration,
    /// How often the server says on a stream that it lives. Three of these without a word, and
    /// the stream is taken for dead.
    pub heartbeat: Duration,
    /// The caller's place in a trace, as W3C Trace Context writes `traceparent`; the server's part goes on below it.
    pub traceparent: Option<String>,
}

impl Endpoint {
    /// The server at `url`, with the usual patience.
    pub fn new(url: impl Into<String>) -> Self {
        Self {
            url: url.into(),
            tls: Tls::default(),
            token: None,
            deadline: Duration::from_secs(10),
            budget: Duration::from_secs(20),
            heartbeat: Duration::from_secs(5),
            traceparent: None,
        }
    }

    /// With this token.
    pub fn token(mut self, token: impl Into<String>) -> Self {
        self.token = Some(token.into());
        self
    }

    /// With these certificates.
    pub fn tls(mut self, tls: Tls) -> Self {
        self.tls = tls;
        self
    }

    /// With this long for one attempt.
    pub fn deadline(mut self, deadline: Duration) -> Self {
        self.deadline = deadline;
        self
    }

    /// With this long for trying again.
    pub fn budget(mut self, budget: Duration) -> Self {
        self.budget = budget;
        self
    }

    /// With the server's heartbeat.
    pub fn heartbeat(mut self, heartbeat: Duration) -> Self {
        self.heartbeat = heartbeat;
        self
    }

    /// Within this trace (`traceparent`).
    pub fn traceparent(mut self, traceparent: impl Into<String>) -> Self {
        self.traceparent = Some(traceparent.into());
        self
    }

    /// How long a stream may be silent.
    pub(crate) fn silence(&self) -> Duration {
        self.heartbeat * 3
    }
}

/// Without the token: what is logged must not let anybody in.
impl fmt::Debug for Endpoint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Endpoint")
            .field("url", &self.url)
            .field("tls", &self.tls)
            .field("token", &self.token.as_ref().map(|_| "…"))
            .field("deadline", &self.deadline)
            .field("budget", &self.budget)
            .field("heartbeat", &self.heartbeat)
            .field("traceparent", &self.traceparent)
            .finish()
    }
}
