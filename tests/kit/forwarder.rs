//! A port that leads to another one and can be pointed elsewhere: what stands before a database whose primary may
//! change.

use std::{
    net::Ipv4Addr,
    sync::{Arc, Mutex, PoisonError},
};

use anyhow::{Context, Result};
use tokio::{
    io::copy_bidirectional,
    net::{TcpListener, TcpStream},
};
use tokio_util::sync::CancellationToken;

use crate::postgres::free_port;

/// Forwards connections as long as this value lives.
pub struct Forwarder {
    port: u16,
    way: Arc<Mutex<Way>>,
    over: CancellationToken,
}

struct Way {
    /// Where new connections go; nowhere while it is cut.
    to: Option<u16>,
    /// Ends the connections that went this way.
    end: CancellationToken,
}

impl Forwarder {
    /// Begins to forward to a port of this machine.
    pub async fn to(port: u16) -> Result<Self> {
        let own = free_port()?;
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, own)).await.context("cannot listen")?;
        let over = CancellationToken::new();
        let way = Arc::new(Mutex::new(Way { to: Some(port), end: over.child_token() }));
        tokio::spawn(over.clone().run_until_cancelled_owned(accept(listener, way.clone())));
        Ok(Self { port: own, way, over })
    }

    /// Where it listens, on 127.0.0.1.
    pub fn port(&self) -> u16 {
        self.port
    }

    /// Ends what is connected, and takes nobody in until it is pointed somewhere.
    pub fn cut(&self) {
        self.turn(None);
    }

    /// Ends what is connected, and leads whoever comes to another port.
    pub fn point_at(&self, port: u16) {
        self.turn(Some(port));
    }

    fn turn(&self, to: Option<u16>) {
        let next = Way { to, end: self.over.child_token() };
        let before = std::mem::replace(&mut *self.way.lock().unwrap_or_else(PoisonError::into_inner), next);
        before.end.cancel();
    }
}

impl Drop for Forwarder {
    fn drop(&mut self) {
        self.over.cancel();
    }
}

async fn accept(listener: TcpListener, way: Arc<Mutex<Way>>) {
    // A connection that can't be accepted is its client's to try again.
    loop {
        let Ok((mut near, _)) = listener.accept().await else { continue };
        let (to, end) = {
            let way = way.lock().unwrap_or_else(PoisonError::into_inner);
            (way.to, way.end.clone())
        };
        let Some(to) = to else { continue };
        tokio::spawn(end.run_until_cancelled_owned(async move {
            if let Ok(mut far) = TcpStream::connect((Ipv4Addr::LOCALHOST, to)).await {
                // However it ends, both sides are closed.
                copy_bidirectional(&mut near, &mut far).await.ok();
            }
        }));
    }
}
