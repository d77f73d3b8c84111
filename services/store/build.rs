//! Migrations are embedded; they lie outside of this crate, so cargo has to be told about them.

fn main() {
    println!("cargo:rerun-if-changed=../../migrations");
}
