//! leadhandd: configuration, composition, private database.
