//! A collector of traces that keeps what it is sent.

use std::{
    net::SocketAddr,
    sync::{
        Arc, Mutex,
        atomic::{AtomicUsize, Ordering},
    },
};

use opentelemetry_proto::tonic::{
    collector::trace::v1::{
        ExportTraceServiceRequest, ExportTraceServiceResponse,
        trace_service_server::{TraceService, TraceServiceServer},
    },
    trace::v1::Span,
};
use tokio::net::TcpListener;
use tonic::{Request, Response, Status, transport::server::TcpIncoming};

#[derive(Clone, Default)]
pub struct Collector {
    spans: Arc<Mutex<Vec<Span>>>,
    calls: Arc<AtomicUsize>,
}

#[tonic::async_trait]
impl TraceService for Collector {
    async fn export(
        &self,
        request: Request<ExportTraceServiceRequest>,
    ) -> Result<Response<ExportTraceServiceResponse>, Status> {
        self.calls.fetch_add(1, Ordering::SeqCst);
        let scopes = request.into_inner().resource_spans.into_iter().flat_map(|resource| resource.scope_spans);
        self.spans.lock().unwrap().extend(scopes.flat_map(|scope| scope.spans));
        Ok(Response::new(ExportTraceServiceResponse::default()))
    }
}

impl Collector {
    /// Serves on a free port until the test ends.
    pub async fn begin() -> (Self, SocketAddr) {
        let collector = Self::default();
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let server = tonic::transport::Server::builder().add_service(TraceServiceServer::new(collector.clone()));
        tokio::spawn(server.serve_with_incoming(TcpIncoming::from(listener)));
        (collector, address)
    }

    pub fn spans(&self) -> Vec<Span> {
        self.spans.lock().unwrap().clone()
    }

    /// How often anything was sent.
    pub fn calls(&self) -> usize {
        self.calls.load(Ordering::SeqCst)
    }
}
