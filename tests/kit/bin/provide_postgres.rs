//! nextest's set-up script: provides the tests' Postgres and hands its address to every test process.
//! With `--remove` it takes the server away again.

use std::{fs::OpenOptions, io::Write};

use anyhow::{Context, Result, bail};

#[tokio::main(flavor = "current_thread")]
async fn main() -> Result<()> {
    match std::env::args().nth(1).as_deref() {
        None => hand_over(&kit::postgres::provide().await?),
        Some("--remove") => kit::postgres::remove(),
        Some(other) => bail!("unknown argument {other}; there is --remove, or none"),
    }
}

fn hand_over(provided: &kit::postgres::Provided) -> Result<()> {
    let variables = provided.variables()?;
    let Ok(path) = std::env::var("NEXTEST_ENV") else {
        for (name, value) in variables {
            println!("{name}={value}");
        }
        return Ok(());
    };
    let mut file =
        OpenOptions::new().append(true).create(true).open(&path).with_context(|| format!("cannot open {path}"))?;
    for (name, value) in variables {
        writeln!(file, "{name}={value}").with_context(|| format!("cannot write to {path}"))?;
    }
    Ok(())
}
