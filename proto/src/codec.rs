//! The codec of every call. It reads and writes what tonic's own does; the difference is what is said when a request
//! can't be read: that is the client's mistake (INVALID_ARGUMENT), where tonic says that the server is broken (INTERNAL).

use prost::{DecodeError, Message, Name};
use std::collections::HashMap;
use std::marker::PhantomData;
use tonic::codec::{BufferSettings, DecodeBuf, Decoder};
use tonic::{Code, Status};
use tonic_prost::{ProstCodec, ProstEncoder};
use tonic_types::{ErrorDetails, StatusExt};

/// Whose reasons stand in `google.rpc.ErrorInfo`.
pub const DOMAIN: &str = "leadhand";

/// The reason of a request that can't be read.
pub const UNREADABLE: &str = "REQUEST_UNREADABLE";

/// Writes `T`, reads `U`.
#[derive(Debug, Clone)]
pub struct Codec<T, U>(PhantomData<(T, U)>);

impl<T, U> Default for Codec<T, U> {
    fn default() -> Self {
        Self(PhantomData)
    }
}

impl<T, U> tonic::codec::Codec for Codec<T, U>
where
    T: Message + Send + 'static,
    U: Message + Default + Name + Send + 'static,
{
    type Encode = T;
    type Decode = U;
    type Encoder = ProstEncoder<T>;
    type Decoder = Reader<U>;

    fn encoder(&mut self) -> Self::Encoder {
        ProstCodec::<T, U>::raw_encoder(BufferSettings::default())
    }

    fn decoder(&mut self) -> Self::Decoder {
        Reader(PhantomData)
    }
}

/// Reads `U`.
#[derive(Debug, Clone)]
pub struct Reader<U>(PhantomData<U>);

impl<U: Message + Default + Name> Decoder for Reader<U> {
    type Item = U;
    type Error = Status;

    fn decode(&mut self, buffer: &mut DecodeBuf<'_>) -> Result<Option<U>, Status> {
        // The contract's lint holds the names: whatever is asked ends with this word, and no answer does.
        let asked = U::NAME.ends_with("Request");
        U::decode(buffer).map(Some).map_err(|error| if asked { unreadable(&error) } else { broken_answer(&error) })
    }
}

/// What a client is told of a request that can't be read.
pub fn unreadable(error: &DecodeError) -> Status {
    let (field, why) = place(&error.to_string());
    let about = if field.is_empty() { "the request" } else { field.as_str() };
    let message =
        format!("{about}: it can't be read as the contract has it ({why}); send it in the contract's encoding");
    let mut details = ErrorDetails::with_error_info(UNREADABLE, DOMAIN, HashMap::<String, String>::new());
    if !field.is_empty() {
        details.add_bad_request_violation(field, &message);
    }
    Status::with_error_details(Code::InvalidArgument, message, details)
}

fn broken_answer(error: &DecodeError) -> Status {
    Status::internal(error.to_string())
}

/// The path of the field and the reason, out of prost's sentence: it names each level as `Message.field: `, and gives
/// no other way to them.
fn place(said: &str) -> (String, String) {
    let mut rest = said.strip_prefix("failed to decode Protobuf message: ").unwrap_or(said);
    let mut path: Vec<&str> = Vec::new();
    while let Some((level, after)) = rest.split_once(": ") {
        let Some((message, field)) = level.split_once('.') else { break };
        if message.is_empty() || field.is_empty() || level.contains(' ') {
            break;
        }
        path.push(field);
        rest = after;
    }
    (path.join("."), rest.to_owned())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]
mod tests {
    use super::*;
    use crate::v1;

    fn told(bytes: &[u8]) -> Status {
        unreadable(&v1::AddBayRequest::decode(bytes).unwrap_err())
    }

    // Encoding of Protocol Buffers: tag = field number << 3 | wire type; 2 is length-delimited, 0 a varint.
    #[test]
    fn the_field_that_can_not_be_read_is_named() {
        // bay (2) { bay (1) = 0xFF }: no UTF-8.
        let status = told(&[0x12, 0x03, 0x0a, 0x01, 0xff]);
        assert_eq!(status.code(), Code::InvalidArgument);
        let details = status.get_error_details();
        assert_eq!(details.error_info().unwrap().reason, UNREADABLE);
        assert_eq!(details.bad_request().unwrap().field_violations[0].field, "bay.bay");
        assert!(status.message().starts_with("bay.bay: ") && status.message().contains("UTF-8"), "{status}");
        // write (1) as a varint.
        let status = told(&[0x08, 0x01]);
        assert_eq!(status.get_error_details().bad_request().unwrap().field_violations[0].field, "write");
    }

    #[test]
    fn without_a_field_the_whole_request_is_meant() {
        // Tag 0, and a length beyond the end of an unknown field.
        for bytes in [&[0x00_u8][..], &[0xff, 0xff, 0xff]] {
            let status = told(bytes);
            assert!(status.message().starts_with("the request: "), "{status}");
            assert!(status.get_error_details().bad_request().is_none());
            assert_eq!(status.get_error_details().error_info().unwrap().reason, UNREADABLE);
        }
    }

    #[test]
    fn every_request_ends_with_the_word_and_no_answer_does() {
        let set = prost_types::FileDescriptorSet::decode(crate::DESCRIPTOR_SET).unwrap();
        let methods: Vec<_> =
            set.file.iter().flat_map(|file| &file.service).flat_map(|service| &service.method).collect();
        assert!(methods.len() > 50);
        for method in methods {
            assert!(
                method.input_type().ends_with("Request") && !method.output_type().ends_with("Request"),
                "{method:?}"
            );
        }
    }
}
