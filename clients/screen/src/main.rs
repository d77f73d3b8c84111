//! The binary leadhand-screen: pages of the shop in a browser.
//!
//! It ends with 0 when it was told to stop, with 1 when something failed, and with 2 when the command line is wrong.

use clap::Parser;
use leadhand_screen::config::Flags;
use leadhand_screen::{logs, serve};
use std::process::ExitCode;

fn main() -> ExitCode {
    let flags = Flags::parse();
    let settings = match flags.settings() {
        Ok(settings) => settings,
        Err(fault) => {
            eprintln!("leadhand-screen: {fault}");
            return ExitCode::from(2);
        }
    };
    match run(&flags, settings) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("leadhand-screen: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn run(flags: &Flags, settings: leadhand_screen::config::Settings) -> anyhow::Result<()> {
    logs::begin(flags.log_format, &flags.log_filter)?;
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    let done = runtime.block_on(serve::until_told(settings));
    runtime.shutdown_background();
    done
}
