//! Calls as they are on the wire, so that any method can be called with any bytes.

use leadhand_proto::DESCRIPTOR_SET;
use leadhand_sdk::Client;
use prost::Message;
use prost::bytes::{Buf, BufMut};
use prost_types::FileDescriptorSet;
use std::time::Duration;
use tokio::time::timeout;
use tonic::codec::{Codec, DecodeBuf, Decoder, EncodeBuf, Encoder};
use tonic::{Code, Request, Status};
use tonic_types::StatusExt;

/// Messages as they are on the wire.
#[derive(Default)]
struct Bytes;

impl Codec for Bytes {
    type Encode = Vec<u8>;
    type Decode = Vec<u8>;
    type Encoder = Self;
    type Decoder = Self;

    fn encoder(&mut self) -> Self {
        Self
    }

    fn decoder(&mut self) -> Self {
        Self
    }
}

impl Encoder for Bytes {
    type Item = Vec<u8>;
    type Error = Status;

    fn encode(&mut self, item: Vec<u8>, buffer: &mut EncodeBuf<'_>) -> Result<(), Status> {
        buffer.put_slice(&item);
        Ok(())
    }
}

impl Decoder for Bytes {
    type Item = Vec<u8>;
    type Error = Status;

    fn decode(&mut self, buffer: &mut DecodeBuf<'_>) -> Result<Option<Vec<u8>>, Status> {
        let all = buffer.remaining();
        Ok(Some(buffer.copy_to_bytes(all).to_vec()))
    }
}

pub struct Method {
    pub path: String,
    /// The full name of what it is asked with.
    pub input: String,
    /// Whether its request carries a write's circumstances.
    pub writes: bool,
}

/// The methods as the contract has them, not as the server's table does.
pub fn methods() -> Vec<Method> {
    let set = FileDescriptorSet::decode(DESCRIPTOR_SET).unwrap();
    let files: Vec<_> = set.file.iter().filter(|file| file.package() == "leadhand.v1").collect();
    let writes = |message: &str| {
        let name = message.trim_start_matches(".leadhand.v1.");
        let found = files.iter().flat_map(|file| &file.message_type).find(|found| found.name() == name).unwrap();
        found.field.iter().any(|field| field.name() == "write")
    };
    let services = files.iter().flat_map(|file| &file.service);
    let all = services.flat_map(|service| service.method.iter().map(move |method| (service, method)));
    let method = |(service, method): (&prost_types::ServiceDescriptorProto, &prost_types::MethodDescriptorProto)| {
        let path = format!("/leadhand.v1.{}/{}", service.name(), method.name());
        let input = method.input_type().trim_start_matches('.').to_owned();
        Method { path, input, writes: writes(method.input_type()) }
    };
    all.map(method).collect()
}

/// Calls with these bytes and takes the first answer; a unary answer is a stream of one.
pub async fn call(client: &Client, path: &str, authorization: Option<&str>, bytes: Vec<u8>) -> Result<Vec<u8>, Status> {
    let mut grpc = tonic::client::Grpc::new(client.channel());
    grpc.ready().await.unwrap();
    let mut asked = Request::new(tokio_stream::once(bytes));
    if let Some(said) = authorization {
        asked.metadata_mut().insert("authorization", said.parse().unwrap());
    }
    let answer = timeout(Duration::from_secs(30), async {
        let mut stream = grpc.streaming(asked, path.parse().unwrap(), Bytes).await?.into_inner();
        stream.message().await.map(Option::unwrap_or_default)
    });
    answer.await.unwrap_or_else(|_| panic!("{path} gave no answer"))
}

pub fn code(answer: &Result<Vec<u8>, Status>) -> Code {
    answer.as_ref().map_or_else(Status::code, |_| Code::Ok)
}

/// The reason of a refusal.
pub fn said(answer: &Result<Vec<u8>, Status>) -> String {
    answer.as_ref().err().map(reason).unwrap_or_default()
}

pub fn reason(status: &Status) -> String {
    status.get_details_error_info().map(|info| info.reason).unwrap_or_default()
}

/// The fields that a refusal names.
pub fn fields(status: &Status) -> Vec<String> {
    let found = status.get_details_bad_request().map(|found| found.field_violations).unwrap_or_default();
    found.into_iter().map(|violation| violation.field).collect()
}

/// Whether it says that the server is broken, or nothing that a client could use.
pub fn broken(status: &Status) -> bool {
    matches!(status.code(), Code::Internal | Code::Unknown | Code::DataLoss | Code::Unimplemented | Code::Unavailable)
        || reason(status).is_empty()
}
