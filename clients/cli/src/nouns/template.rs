//! `leadhand template`.

use super::{PAGE, all_pages};
use crate::app::{App, read_text};
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out::{self, Table, clean};
use clap::Subcommand;
use leadhand_sdk::v1::{
    CheckTemplateRequest, CheckTemplateResponse, DraftTemplateRequest, GetTemplateRequest, GetTemplateResponse,
    ListTemplatesRequest, Network, PublishTemplateRequest,
};
use std::path::{Path, PathBuf};

/// Templates: how a kind of job is done.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Name every fault of a template file, with line and column
    Check {
        /// The file; - for standard input
        file: PathBuf,
    },
    /// Publish a template file as the next revision
    Publish {
        /// The file; - for standard input
        file: PathBuf,
    },
    /// The latest revision of each template
    List,
    /// One revision: its options and its stages' times
    Show {
        /// The template's key
        key: String,
        /// The revision; the latest when left out
        #[arg(long, default_value_t = 0, hide_default_value = true)]
        revision: i32,
        /// The file's text instead
        #[arg(long)]
        source: bool,
    },
    /// What changed from one revision to another
    Diff {
        /// The template's key
        key: String,
        /// The revision to begin with; the one before the other when left out
        #[arg(long, default_value_t = 0, hide_default_value = true)]
        from: i32,
        /// The revision to end with; the latest when left out
        #[arg(long, default_value_t = 0, hide_default_value = true)]
        to: i32,
    },
    /// What the finished jobs of a template teach: what was met, fetched late, short or found, and how long it took
    Lessons {
        /// The template's key
        key: String,
        /// A file to write the proposed next revision to; read it through, check it, and publish it yourself
        #[arg(long, value_name = "FILE")]
        propose: Option<PathBuf>,
    },
    /// Draft a template file from a job as it went
    Draft {
        /// The job's number
        job: i64,
        /// The key that the template is to have
        #[arg(long)]
        key: String,
        /// The file to write; standard output when left out
        #[arg(short = 'o', long = "into", value_name = "FILE")]
        into: Option<PathBuf>,
    },
}

/// Runs it.
pub async fn run(app: &App, command: Command) -> Outcome {
    match command {
        Command::Check { file } => check(app, &file, read_text(&file)?).await,
        Command::Publish { file } => {
            let source = read_text(&file)?;
            let request = PublishTemplateRequest { write: app.write().await?, source: source.clone() };
            let answer = match app.client.publish_template(request).await {
                // The faults are told as `check` tells them, every one with its place.
                Err(refused) if refused.reason == "TEMPLATE_FAULTS" => {
                    check(app, &file, source).await?;
                    // Since then somebody mended what it lacked; it is still not published.
                    return Err(refused.into());
                }
                answer => answer?,
            };
            let said = format!("template {} is published as revision {}", answer.template, answer.revision);
            app.done(&answer, answer.receipt.as_ref(), Some(&answer.revision.to_string()), &said)
        }
        Command::List => list(app).await,
        Command::Show { key, revision, source } => {
            let answer = app.client.get_template(GetTemplateRequest { template: key, revision }).await?;
            if source && !app.out.is_json() { out::put(&answer.source) } else { show(app, &answer).await }
        }
        Command::Diff { key, from, to } => super::template_diff::run(app, key, from, to).await,
        Command::Lessons { key, propose } => super::lessons::run(app, key, propose).await,
        Command::Draft { job, key, into } => {
            let answer = app.client.draft_template(DraftTemplateRequest { job, template: key }).await?;
            match into {
                None if app.out.is_json() => out::json(&answer),
                None => out::put(&answer.source),
                Some(path) => {
                    write_new(&path, &answer.source)?;
                    // Faults of a draft stand on top of it.
                    let todo = if answer.source.starts_with('#') {
                        "it does not hold together yet; mend what stands on top of it, check it and publish it"
                    } else {
                        "read it through and publish it"
                    };
                    out::note(&format!("the draft is in {}; {todo}", path.display()));
                    Ok(())
                }
            }
        }
    }
}

pub(super) fn write_new(path: &Path, text: &str) -> Outcome {
    use std::io::Write;
    std::fs::File::create_new(path)
        .and_then(|mut file| file.write_all(text.as_bytes()))
        .map_err(|error| Failure::Usage(format!("{} can't be written: {error}", path.display())))
}

async fn check(app: &App, file: &Path, source: String) -> Outcome {
    let answer = app.client.check_template(CheckTemplateRequest { source }).await?;
    if app.out.is_json() {
        out::json(&answer)?;
    } else {
        for fault in &answer.faults {
            let line = format!("{}:{}:{}: {}", file.display(), fault.line, fault.column, fault.message);
            out::line(&clean(&line))?;
        }
    }
    for note in answer.notes.iter().filter(|_| !app.out.is_json()) {
        let line = format!("{}:{}:{}: note: {}", file.display(), note.line, note.column, note.message);
        out::line(&clean(&line))?;
    }
    let CheckTemplateResponse { faults, network, template, stages, .. } = answer;
    match (faults.len(), network) {
        (0, network) => {
            out::note(&clean(&format!("template {template} may be published: {stages} stages, no fault")));
            match network {
                Some(network) if !app.out.is_json() => show_network(app, &network),
                _ => Ok(()),
            }
        }
        (1, _) => Err(Failure::Found("the template has 1 fault; mend it and check again".to_owned())),
        (many, _) => Err(Failure::Found(format!("the template has {many} faults; mend them and check again"))),
    }
}

async fn list(app: &App) -> Outcome {
    let answer =
        all_pages!(app, list_templates, ListTemplatesRequest { page_size: PAGE, ..Default::default() }, templates);
    if app.out.is_json() {
        return out::json(&answer);
    }
    let zone = app.zone().await?;
    let mut table = Table::new("templates", &["template", "title", "revision#", "stages#", "published"])
        .when_empty("no template is published yet; 'leadhand template publish FILE' publishes one");
    for template in answer.templates {
        table.row([
            template.template,
            template.title,
            template.revision.to_string(),
            template.stages.to_string(),
            moment::show(template.published_at.as_ref(), zone),
        ]);
    }
    app.out.table(&table)
}

async fn show(app: &App, answer: &GetTemplateResponse) -> Outcome {
    if app.out.is_json() {
        return out::json(answer);
    }
    let summary = answer.summary.clone().unwrap_or_default();
    let published = moment::show(summary.published_at.as_ref(), app.zone().await?);
    out::line(&clean(&format!(
        "{}: {}, revision {}, published {published}",
        summary.template, summary.title, summary.revision
    )))?;
    for option in &answer.options {
        let usual = if option.on_by_default { "with" } else { "without" };
        out::line(&clean(&format!("option {}: {} (usually {usual})", option.option, option.title)))?;
    }
    match &answer.network {
        Some(network) => show_network(app, network),
        None => Ok(()),
    }
}

fn show_network(app: &App, network: &Network) -> Outcome {
    out::line(&clean(&format!(
        "likely {} from first to last in shop hours, give or take {}; {} of hands; critical: {}",
        moment::show_minutes(network.elapsed_minutes),
        moment::show_minutes(network.elapsed_sd_minutes),
        moment::show_minutes(network.labour_minutes),
        network.critical_path.join(" > "),
    )))?;
    out::line("")?;
    let header = ["stage", "expected#", "may start#", "must start#", "may end#", "must end#", "slack#"];
    let mut table = Table::new("stages", &header);
    for stage in &network.stages {
        table.row([
            stage.stage.clone(),
            moment::show_minutes(stage.expected_minutes),
            moment::show_minutes(stage.earliest_start),
            moment::show_minutes(stage.latest_start),
            moment::show_minutes(stage.earliest_finish),
            moment::show_minutes(stage.latest_finish),
            moment::show_minutes(stage.slack),
        ]);
    }
    app.out.table(&table)
}
