//! The published contract `leadhand.v1`: its generated types, and the codec that reads and writes them.

pub mod codec;

/// Version 1 of the contract.
#[allow(
    clippy::pedantic,
    missing_docs,
    unused_qualifications,
    reason = "generated from the contract, which carries the documentation"
)]
pub mod v1 {
    tonic::include_proto!("leadhand.v1");
}

/// The contract as a serialised `google.protobuf.FileDescriptorSet`, for reflection and checks.
pub const DESCRIPTOR_SET: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/leadhand.binpb"));
