//! The published contract `leadhand.v1` and its generated types.
#![allow(
    clippy::pedantic,
    missing_docs,
    unused_qualifications,
    reason = "generated from the contract, which carries the documentation"
)]

/// Version 1 of the contract.
pub mod v1 {
    tonic::include_proto!("leadhand.v1");
}

/// The contract as a serialised `google.protobuf.FileDescriptorSet`, for reflection and checks.
pub const DESCRIPTOR_SET: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/leadhand.binpb"));
