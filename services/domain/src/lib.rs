//! The rules: decide and apply.
