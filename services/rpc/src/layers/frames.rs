//! The frame around a request's message: a flag and a length (gRPC over HTTP/2, "Length-Prefixed-Message"). What is
//! wrong with it is the client's mistake and is said as such, before a byte of the message is kept; tonic would say
//! INTERNAL, or name no limit that a person can do something about.

use super::{Answered, Asked};
use crate::Limits;
use crate::status::unfit_request;
use http_body::Frame;
use std::pin::Pin;
use std::task::{Context, Poll};
use tonic::Status;
use tonic::body::Body;
use tonic::codegen::Bytes;
use tower::{Layer, Service};

/// The contract's calls each ask with one message.
const ONE_MESSAGE: &str = "/leadhand.";
/// A flag and a length of four bytes.
const PREFIX: usize = 5;

/// Looks at the frames of every request.
#[derive(Debug, Clone, Copy)]
pub struct FramesLayer {
    limits: Limits,
}

impl FramesLayer {
    /// Messages are as long as these limits say, at most.
    pub fn new(limits: Limits) -> Self {
        Self { limits }
    }
}

impl<S> Layer<S> for FramesLayer {
    type Service = Frames<S>;

    fn layer(&self, inner: S) -> Self::Service {
        Frames { limits: self.limits, inner }
    }
}

/// The service behind [`FramesLayer`].
#[derive(Debug, Clone)]
pub struct Frames<S> {
    limits: Limits,
    inner: S,
}

impl<S> Service<Asked> for Frames<S>
where
    S: Service<Asked, Response = Answered>,
{
    type Response = Answered;
    type Error = S::Error;
    type Future = S::Future;

    fn poll_ready(&mut self, cx: &mut Context<'_>) -> Poll<Result<(), Self::Error>> {
        self.inner.poll_ready(cx)
    }

    fn call(&mut self, asked: Asked) -> Self::Future {
        let path = asked.uri().path();
        let look = Look::new(self.limits.of(path), path.starts_with(ONE_MESSAGE));
        self.inner.call(asked.map(|body| Body::new(Looked { body, look, over: false })))
    }
}

/// A request's body whose frames are looked at as they pass.
struct Looked {
    body: Body,
    look: Look,
    over: bool,
}

impl http_body::Body for Looked {
    type Data = Bytes;
    type Error = Status;

    fn poll_frame(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<Option<Result<Frame<Bytes>, Status>>> {
        if self.over {
            return Poll::Ready(None);
        }
        let Poll::Ready(next) = Pin::new(&mut self.body).poll_frame(cx) else { return Poll::Pending };
        let fault = match &next {
            Some(Ok(frame)) => frame.data_ref().and_then(|data| self.look.pass(data).err()),
            Some(Err(_)) => None,
            None => self.look.end().err(),
        };
        self.over = fault.is_some() || next.is_none();
        Poll::Ready(fault.map_or(next, |why| Some(Err(unfit_request(&why)))))
    }

    fn is_end_stream(&self) -> bool {
        // Only the end itself tells whether the last frame was whole.
        self.over
    }
}

/// Where in a frame the bytes so far end.
#[derive(Debug, Clone, Copy)]
struct Look {
    limit: usize,
    one: bool,
    prefix: [u8; PREFIX],
    /// Bytes of the prefix that were seen.
    seen: usize,
    /// Bytes of the message that are still to come.
    left: usize,
    messages: usize,
}

impl Look {
    fn new(limit: usize, one: bool) -> Self {
        Self { limit, one, prefix: [0; PREFIX], seen: 0, left: 0, messages: 0 }
    }

    /// What is wrong with these bytes, if anything is.
    fn pass(&mut self, mut data: &[u8]) -> Result<(), String> {
        while !data.is_empty() {
            if self.seen == PREFIX {
                let taken = self.left.min(data.len());
                self.left -= taken;
                data = &data[taken..];
            } else {
                let taken = (PREFIX - self.seen).min(data.len());
                self.prefix[self.seen..self.seen + taken].copy_from_slice(&data[..taken]);
                self.seen += taken;
                data = &data[taken..];
                if self.seen == PREFIX {
                    self.begin()?;
                }
            }
            if self.seen == PREFIX && self.left == 0 {
                self.seen = 0;
            }
        }
        Ok(())
    }

    fn begin(&mut self) -> Result<(), String> {
        let [flag, a, b, c, d] = self.prefix;
        self.left = usize::try_from(u32::from_be_bytes([a, b, c, d])).unwrap_or(usize::MAX);
        self.messages += 1;
        match flag {
            0 => {}
            1 => return Err("it is compressed, and nothing compressed is taken here; send it as it is".to_owned()),
            other => return Err(format!("its frame has the flag {other}, where only 0 has a meaning; send 0")),
        }
        if self.left > self.limit {
            let (has, most) = (self.left, self.limit);
            return Err(format!("it has {has} bytes and at most {most} are taken here; send less at a time"));
        }
        if self.one && self.messages > 1 {
            return Err("it has more than one message; send one".to_owned());
        }
        Ok(())
    }

    fn end(&self) -> Result<(), String> {
        if self.seen > 0 {
            let missing = if self.seen < PREFIX { PREFIX - self.seen } else { self.left };
            return Err(format!("it ends {missing} bytes too early; send all of it"));
        }
        if self.one && self.messages == 0 {
            return Err("it has no message; send one, if only an empty one".to_owned());
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(bytes: &[u8], at_a_time: usize) -> Result<(), String> {
        let mut look = Look::new(10, true);
        for part in bytes.chunks(at_a_time) {
            look.pass(part)?;
        }
        look.end()
    }

    // gRPC over HTTP/2: Compressed-Flag (0 or 1), then the length as a big-endian number of four bytes.
    #[test]
    fn whole_frames_pass_however_they_are_cut() {
        for at_a_time in 1..=8 {
            assert_eq!(told(&[0, 0, 0, 0, 3, 7, 8, 9], at_a_time), Ok(()), "{at_a_time}");
            assert_eq!(told(&[0, 0, 0, 0, 0], at_a_time), Ok(()), "{at_a_time}");
        }
        let mut many = Look::new(10, false);
        assert_eq!(many.pass(&[0, 0, 0, 0, 1, 7, 0, 0, 0, 0, 0]).and_then(|()| many.end()), Ok(()));
        assert_eq!(many.messages, 2);
    }

    #[test]
    fn what_is_wrong_is_said_as_soon_as_it_is_seen() {
        let cases: [(&[u8], &str); 8] = [
            (&[], "no message"),
            (&[0, 0, 0], "2 bytes too early"),
            (&[0, 0, 0, 0, 3, 7], "2 bytes too early"),
            (&[1, 0, 0, 0, 1, 7], "compressed"),
            (&[9, 0, 0, 0, 1, 7], "the flag 9"),
            (&[0, 0, 0, 0, 11], "11 bytes and at most 10"),
            (&[0, 255, 255, 255, 255], "4294967295 bytes and at most 10"),
            (&[0, 0, 0, 0, 0, 0, 0, 0, 0, 0], "more than one message"),
        ];
        for (bytes, expected) in cases {
            for at_a_time in [1, 4, 99] {
                let why = told(bytes, at_a_time).unwrap_err();
                assert!(why.contains(expected), "{bytes:?} by {at_a_time}: {why}");
            }
        }
    }
}
