//! leadhandd: configuration, composition, private database.

fn main() {}
