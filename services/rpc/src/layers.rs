//! What every call passes through: observation outermost, then the deadline, then the token,
//! then the frame of the message.

mod attempts;
pub mod auth;
pub mod deadline;
pub mod frames;
mod known;
pub mod observe;

use futures::future::BoxFuture;
use tonic::body::Body;

/// What comes in.
pub type Asked = http::Request<Body>;
/// What goes out.
pub type Answered = http::Response<Body>;
/// An answer on its way.
pub type Answering<E> = BoxFuture<'static, Result<Answered, E>>;

/// Calls the service that was found ready, and leaves its clone for the next call.
macro_rules! ready_one {
    ($self:ident) => {{
        let next = $self.inner.clone();
        std::mem::replace(&mut $self.inner, next)
    }};
}
pub(crate) use ready_one;
