//! No RPC of the contract is forgotten here.

use leadhand_proto::DESCRIPTOR_SET;
use leadhand_sdk::RPCS;
use prost::Message;
use std::collections::BTreeSet;

#[test]
fn every_unary_rpc_of_the_contract_has_a_method() {
    let contract = prost_types::FileDescriptorSet::decode(DESCRIPTOR_SET).unwrap();
    let methods = contract.file.iter().flat_map(|file| &file.service).flat_map(|service| &service.method);
    let unary: BTreeSet<String> = methods
        .filter(|method| !method.server_streaming())
        .map(|method| method.name().replace('_', "").to_lowercase())
        .collect();
    let here: BTreeSet<String> = RPCS.iter().map(|name| name.replace('_', "")).collect();
    assert_eq!(here, unary);
    assert_eq!(here.len(), RPCS.len(), "a name stands twice");
}
