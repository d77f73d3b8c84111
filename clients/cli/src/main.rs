//! The command line leadhand.

fn main() {}
