//! Compiles the contract without a protoc on the machine.

use prost::Message;
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let files: Vec<String> = [
        "common",
        "shop",
        "access",
        "template",
        "condition",
        "stage",
        "job",
        "supplier",
        "stock",
        "stock_fill",
        "time",
        "board",
        "journal",
        "operator",
        "customer",
        "strip",
        "reading",
        "hand_over",
        "seized",
        "refit",
        "tool",
        "plan",
        "ready",
        "lessons",
        "answer",
        "reckon_fasteners",
        "reckon_coolant",
        "reckon_engine",
        "reckon_shop",
        "reckon_job",
        "reckoner",
    ]
    .iter()
    .map(|name| format!("leadhand/v1/{name}.proto"))
    .collect();
    println!("cargo:rerun-if-changed=leadhand");
    let descriptors = protox::compile(&files, ["."])?;
    let out = PathBuf::from(std::env::var("OUT_DIR")?);
    std::fs::write(out.join("leadhand.binpb"), descriptors.encode_to_vec())?;
    // The codec tells requests from answers by their names.
    let mut config = tonic_prost_build::Config::new();
    config.enable_type_names();
    tonic_prost_build::configure().codec_path("crate::codec::Codec").compile_fds_with_config(descriptors, config)?;
    Ok(())
}
