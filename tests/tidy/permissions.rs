//! Every method stands in the permission table, and the table names no other.

use std::collections::BTreeSet;

use leadhand_app::access::{OPERATOR, PERMISSIONS};
use prost::Message;
use prost_types::FileDescriptorSet;

/// The full path of every method, as a call carries it: `/leadhand.v1.JobService/OpenJob`.
fn contract() -> BTreeSet<String> {
    let set = FileDescriptorSet::decode(leadhand_proto::DESCRIPTOR_SET).expect("the descriptor set decodes");
    let mut paths = BTreeSet::new();
    for file in set.file.iter().filter(|file| file.package().starts_with("leadhand.")) {
        for service in &file.service {
            let start = format!("/{}.{}", file.package(), service.name());
            paths.extend(service.method.iter().map(|method| format!("{start}/{}", method.name())));
        }
    }
    paths
}

#[test]
fn the_table_and_the_contract_name_the_same_methods() {
    let contract = contract();
    let paths = PERMISSIONS.iter().map(|(path, _)| *path).chain(OPERATOR.iter().copied());
    let table: BTreeSet<String> = paths.map(str::to_owned).collect();
    assert!(!contract.is_empty(), "the contract has no method");
    assert_eq!(table.len(), PERMISSIONS.len() + OPERATOR.len(), "a method stands twice in the permission table");
    let missing: Vec<_> = contract.difference(&table).collect();
    let unknown: Vec<_> = table.difference(&contract).collect();
    assert!(missing.is_empty(), "these methods stand in no permission table, so nobody may call them: {missing:?}");
    assert!(unknown.is_empty(), "the permission table names methods that the contract doesn't have: {unknown:?}");
}

#[test]
fn every_method_is_allowed_to_somebody() {
    for (path, roles) in PERMISSIONS {
        assert!(!roles.is_empty(), "{path} is allowed to nobody");
    }
}
