//! The gRPC edge: conversions, one function from error to status, streams, and what every call
//! passes through. It knows the application and never the store; wire types end here.

// How a call waits is one value, as deep as its way through app, store and driver; an optimised build looks all the
// way down.
#![recursion_limit = "256"]

mod call;
mod convert;
mod layers;
mod services;
mod status;
mod streams;

pub use layers::auth::AuthLayer;
pub use layers::deadline::DeadlineLayer;
pub use layers::frames::FramesLayer;
pub use layers::observe::ObserveLayer;
pub use status::{DOMAIN, status};

use leadhand_app::App;
use leadhand_proto::v1::access_service_server::AccessServiceServer;
use leadhand_proto::v1::board_service_server::BoardServiceServer;
use leadhand_proto::v1::condition_service_server::ConditionServiceServer;
use leadhand_proto::v1::customer_service_server::CustomerServiceServer;
use leadhand_proto::v1::hand_over_service_server::HandOverServiceServer;
use leadhand_proto::v1::job_service_server::JobServiceServer;
use leadhand_proto::v1::journal_service_server::JournalServiceServer;
use leadhand_proto::v1::operator_service_server::OperatorServiceServer;
use leadhand_proto::v1::plan_service_server::PlanServiceServer;
use leadhand_proto::v1::reading_service_server::ReadingServiceServer;
use leadhand_proto::v1::reckoner_service_server::ReckonerServiceServer;
use leadhand_proto::v1::shop_service_server::ShopServiceServer;
use leadhand_proto::v1::stock_service_server::StockServiceServer;
use leadhand_proto::v1::strip_service_server::StripServiceServer;
use leadhand_proto::v1::template_service_server::TemplateServiceServer;
use leadhand_proto::v1::time_service_server::TimeServiceServer;
use leadhand_proto::v1::tool_service_server::ToolServiceServer;
use std::sync::Arc;
use std::time::Duration;
use tokio_util::task::TaskTracker;
use tonic::service::RoutesBuilder;
use tonic::transport::Server;
use tonic::transport::server::Router;
use tonic_web::GrpcWebLayer;
use tower::layer::util::{Identity, Stack};
use tower::util::{Either, option_layer};

const MIB: usize = 1024 * 1024;

/// Bounds of what a client may ask of a connection.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Bytes of a request.
    pub request: usize,
    /// Bytes of a request of the stock service, which takes files of 20,000 rows.
    pub stock_request: usize,
    /// Bytes of a request of the template service, which takes files.
    pub template_request: usize,
    /// Bytes of an answer.
    pub answer: usize,
    /// Calls open at a time on one connection.
    pub streams: u32,
    /// Calls of one connection that were cancelled before they were looked at; with one more the connection ends.
    pub cancelled: usize,
    /// Calls of one connection that broke the protocol; with one more the connection ends.
    pub broken: usize,
    /// Bytes of a request's headers.
    pub headers: u32,
    /// Failed attempts a minute, of one address or with one secret, before more are refused unseen.
    pub failures: u32,
    /// How often a silent connection is probed.
    pub keepalive_every: Duration,
    /// How long a probe may stay without an answer.
    pub keepalive_within: Duration,
    /// Whether gRPC-Web is spoken as well, and with it HTTP/1.1.
    pub web: bool,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            request: MIB,
            stock_request: 4 * MIB,
            template_request: 2 * MIB,
            answer: 16 * MIB,
            streams: 100,
            // A client that cancels all it has open, and again right away, is no flood.
            cancelled: 1_000,
            broken: 1_000,
            headers: 16 * 1024,
            failures: 30,
            keepalive_every: Duration::from_secs(30),
            keepalive_within: Duration::from_secs(20),
            web: false,
        }
    }
}

impl Limits {
    /// Bytes of a request to the method of this path.
    pub fn of(&self, path: &str) -> usize {
        if path.starts_with("/leadhand.v1.StockService/") {
            self.stock_request
        } else if path.starts_with("/leadhand.v1.TemplateService/") {
            self.template_request
        } else {
            self.request
        }
    }
}

/// What every call passes through, outermost last.
pub type Layers =
    Stack<FramesLayer, Stack<AuthLayer, Stack<DeadlineLayer, Stack<ObserveLayer, Stack<MaybeWeb, Identity>>>>>;
/// gRPC-Web, where it is wanted.
pub type MaybeWeb = Either<GrpcWebLayer, Identity>;

/// The services of the contract, beside those that are in `routes` already (health, reflection).
/// Every call, theirs included, is observed, bounded in time and asked for its token. `calls`
/// tracks what is open, so that a shutdown knows what to wait for.
pub fn router(app: &App, limits: Limits, mut routes: RoutesBuilder, calls: &TaskTracker) -> Router<Layers> {
    add_services(app, limits, &mut routes, calls);
    Server::builder()
        .accept_http1(limits.web)
        .layer(option_layer(limits.web.then(GrpcWebLayer::new)))
        .layer(ObserveLayer::new(calls.clone()))
        .layer(DeadlineLayer)
        .layer(AuthLayer::new(app.clone(), limits.failures))
        .layer(FramesLayer::new(limits))
        .max_concurrent_streams(limits.streams)
        .http2_max_header_list_size(limits.headers)
        .http2_max_pending_accept_reset_streams(Some(limits.cancelled))
        .http2_max_local_error_reset_streams(Some(limits.broken))
        .http2_keepalive_interval(Some(limits.keepalive_every))
        .http2_keepalive_timeout(Some(limits.keepalive_within))
        .add_routes(routes.routes())
}

fn add_services(app: &App, limits: Limits, routes: &mut RoutesBuilder, calls: &TaskTracker) {
    macro_rules! add {
        ($server:ident($service:expr), $request:expr) => {
            routes.add_service(
                $server::new($service).max_decoding_message_size($request).max_encoding_message_size(limits.answer),
            )
        };
    }
    let app = app.clone();
    let tokens = Arc::new(streams::guard::Tokens::default());
    let boards = streams::boards::Boards::new(app.clone());
    let calls = calls.clone();
    let board = services::board::Board { app: app.clone(), boards, tokens: tokens.clone(), calls: calls.clone() };
    add!(ShopServiceServer(services::shop::Shop { app: app.clone() }), limits.request);
    add!(AccessServiceServer(services::access::Access { app: app.clone() }), limits.request);
    add!(OperatorServiceServer(services::operator::Operator { app: app.clone() }), limits.request);
    add!(TemplateServiceServer(services::template::Template { app: app.clone() }), limits.template_request);
    add!(JobServiceServer(services::job::Job { app: app.clone() }), limits.request);
    add!(ConditionServiceServer(services::condition::Condition { app: app.clone() }), limits.request);
    add!(CustomerServiceServer(services::customer::Customers { app: app.clone() }), limits.request);
    add!(StockServiceServer(services::stock::Stock { app: app.clone() }), limits.stock_request);
    add!(StripServiceServer(services::strip::Strip { app: app.clone() }), limits.request);
    add!(ReadingServiceServer(services::reading::Readings { app: app.clone() }), limits.request);
    add!(ReckonerServiceServer(services::reckoner::Reckoner { app: app.clone() }), limits.request);
    add!(HandOverServiceServer(services::hand_over::HandOvers { app: app.clone() }), limits.request);
    add!(ToolServiceServer(services::tool::Tools { app: app.clone() }), limits.request);
    add!(PlanServiceServer(services::plan::Plans { app: app.clone() }), limits.request);
    add!(TimeServiceServer(services::time::Time { app: app.clone() }), limits.request);
    add!(BoardServiceServer(board), limits.request);
    add!(
        JournalServiceServer(services::journal::Journal { app, tokens, tails: Arc::default(), calls }),
        limits.request
    );
}
