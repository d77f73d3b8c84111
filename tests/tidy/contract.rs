//! The published contract, read from its own descriptor.

use prost::Message;
use prost_types::{DescriptorProto, FileDescriptorSet, MethodDescriptorProto};

/// What a method's name begins with when it only reads.
const READS: [&str; 11] =
    ["Audit", "Check", "Draft", "Explain", "Follow", "Forecast", "Get", "List", "Read", "Reckon", "Watch"];
const READS_BY_NAME: [&str; 2] = ["ProposePlan", "WhoAmI"];

fn contract() -> FileDescriptorSet {
    let mut set = FileDescriptorSet::decode(leadhand_proto::DESCRIPTOR_SET).expect("the descriptor set decodes");
    set.file.retain(|file| file.package().starts_with("leadhand."));
    set
}

fn methods(set: &FileDescriptorSet) -> impl Iterator<Item = &MethodDescriptorProto> {
    set.file.iter().flat_map(|file| &file.service).flat_map(|service| &service.method)
}

fn message<'a>(set: &'a FileDescriptorSet, full_name: &str) -> Option<&'a DescriptorProto> {
    let name = full_name.rsplit('.').next().unwrap_or_default();
    set.file.iter().flat_map(|file| &file.message_type).find(|message| message.name() == name)
}

/// A request carries its id in a field of its own or in a message that it holds.
fn carries_request_id(set: &FileDescriptorSet, request: &DescriptorProto) -> bool {
    request.field.iter().any(|field| {
        let held = message(set, field.type_name());
        field.name() == "request_id"
            || held.is_some_and(|held| held.field.iter().any(|field| field.name() == "request_id"))
    })
}

/// Outside source: AIP-155, request identification.
#[test]
fn every_write_carries_a_request_id_and_no_read_does() {
    let set = contract();
    assert!(methods(&set).count() > 0, "the contract has no method");
    let mut wrong = Vec::new();
    for method in methods(&set) {
        let name = method.name();
        let reads = READS_BY_NAME.contains(&name) || READS.iter().any(|read| name.starts_with(read));
        let request = message(&set, method.input_type()).expect("a method's request is in the contract");
        match (reads, carries_request_id(&set, request)) {
            (false, false) => wrong.push(format!("{name} writes, but its request carries no request_id")),
            (true, true) => wrong.push(format!("{name} is called like a read, but its request carries a request_id")),
            _ => {}
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
