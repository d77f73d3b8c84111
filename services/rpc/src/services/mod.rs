//! One file a service of the contract: what it is asked, in the domain's words, and the answer
//! back in the wire's.

pub mod access;
pub mod asked;
pub mod board;
pub mod condition;
pub mod customer;
pub mod hand_over;
pub mod job;
pub mod journal;
pub mod operator;
pub mod plan;
pub mod reading;
pub mod reckoner;
pub mod shop;
pub mod stock;
pub mod strip;
pub mod template;
pub mod time;
pub mod told;
pub mod tool;
pub mod work;

use leadhand_app::{AppError, Outcome};

/// Implements the trait of a service: each unary method calls the function of its name, and what
/// stands behind `also` is taken as it is.
macro_rules! serve {
    ($trait:ident for $service:ident { $($methods:tt)* } also { $($more:tt)* }) => {
        crate::services::serve! { $trait for $service as crate::call::Call { $($methods)* } also { $($more)* } }
    };
    ($trait:ident for $service:ident as $call:path {
        $($name:ident($request:ident) -> $answer:ident;)+
    } also { $($more:tt)* }) => {
        #[tonic::async_trait]
        impl $trait for $service {
            $(async fn $name(
                &self,
                request: tonic::Request<v1::$request>,
            ) -> Result<tonic::Response<v1::$answer>, tonic::Status> {
                let call = <$call>::of(&self.app, &request).map_err(|error| crate::status::status(&error))?;
                match $name(&call, request.into_inner()).await {
                    Ok(answer) => Ok(tonic::Response::new(answer)),
                    Err(error) => Err(crate::status::status(&error)),
                }
            })+
            $($more)*
        }
    };
}
pub(crate) use serve;

/// The error for an answer that does not fit its command. A first answer of another kind is another request's: its
/// fingerprint went with words that were erased.
pub(crate) fn unfit(what: &str, outcome: &Outcome) -> AppError {
    if outcome.repeated {
        return AppError::RequestReused(outcome.request);
    }
    AppError::Internal(format!("{what} came to be without its name"))
}
