//! leadhandd: configuration, composition, private database.
//!
//! It ends with 0 when all went well, with 1 when something failed or `verify` found a fault, and
//! with 2 when the command line or the configuration is wrong.

use anyhow::Context;
use clap::Parser;
use leadhand_server::cli::{Cli, Command};
use leadhand_server::configuration::Configuration;
use leadhand_server::traces::Traces;
use leadhand_server::{backup, commands, healthy, logs, operators, serve, transfer, upgrade};
use mimalloc::MiMalloc;
use std::process::ExitCode;

/// Every command allocates much that is small and short-lived, from several threads.
#[global_allocator]
static ALLOCATOR: MiMalloc = MiMalloc;

fn main() -> ExitCode {
    let cli = Cli::parse();
    let configuration = match Configuration::load(&cli.flags) {
        Ok(configuration) => configuration,
        Err(faults) => {
            eprintln!("leadhandd: {faults}");
            return ExitCode::from(2);
        }
    };
    match run(&cli.command(), &configuration) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("leadhandd: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn run(command: &Command, configuration: &Configuration) -> anyhow::Result<bool> {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    let serves = matches!(command, Command::Serve);
    let traces = runtime.block_on(async {
        let settings = configuration.traces.as_ref().filter(|_| serves);
        settings.map(Traces::begin).transpose().context("traces can't be made")
    })?;
    logs::begin(&configuration.log, traces.as_ref())?;
    let done = runtime.block_on(async {
        if serves {
            return serve::until_told(configuration).await.map(|()| true);
        }
        // What a command has begun is cleared away as it is dropped, so that nothing half done stays.
        tokio::select! {
            done = carry_out(command, configuration) => done,
            told = serve::told_to_stop() => {
                told?;
                anyhow::bail!("stopped before it was finished; what was begun is gone, what was there is as it was")
            }
        }
    });
    if let Some(traces) = traces {
        traces.end();
    }
    // Connections that were cut off may still hold tasks; nothing of theirs is waited for.
    runtime.shutdown_background();
    done
}

async fn carry_out(command: &Command, configuration: &Configuration) -> anyhow::Result<bool> {
    let out = &mut std::io::stdout();
    match command {
        Command::Serve => serve::until_told(configuration).await.map(|()| true),
        Command::Backup { into } => backup::backup(configuration, into, out).await.map(|()| true),
        Command::Restore { from } => backup::restore(configuration, from, out).await,
        Command::UpgradeDatabase => upgrade::upgrade(configuration, out).await.map(|()| true),
        Command::Export(args) => transfer::export(configuration, args, out).await.map(|()| true),
        Command::Import { from } => transfer::import(configuration, from, out).await,
        Command::Init(args) => commands::init(configuration, args, out).await.map(|()| true),
        Command::Migrate => commands::migrate(configuration, out).await.map(|()| true),
        Command::Operator(command) => operators::operator(configuration, command, out).await.map(|()| true),
        Command::Verify(args) => commands::verify(configuration, args, out).await,
        Command::Healthy => healthy::healthy(configuration).await.map(|()| true),
    }
}
