//! What stands against handing a job over, before anybody tries.

use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::out::{self, Table};
use leadhand_sdk::v1::{GetJobRequest, GetJobResponse, GetStripRequest, GetStripResponse, JobState, StageState};
use serde_json::json;

/// Says what stands against it; the exit code says whether anything does.
pub async fn dry_run(app: &App, job: i64) -> Outcome {
    let found = app.client.get_job(GetJobRequest { job }).await?;
    let book = app.client.get_strip(GetStripRequest { job }).await?;
    let lines = lines(&found, &book);
    if app.out.is_json() {
        let all: Vec<_> =
            lines.iter().map(|[about, what, may]| json!({ "about": about, "open": what, "override": may })).collect();
        out::value(&json!({ "job": job, "open": all }))?;
    } else if lines.is_empty() {
        out::note(&format!("nothing stands against handing job {job} over"));
    } else {
        let mut table = Table::new("open lines", &["about", "open", "override"]);
        for line in &lines {
            table.row(line.clone());
        }
        app.out.table(&table)?;
    }
    if lines.is_empty() {
        return Ok(());
    }
    Err(Failure::Found(format!("job {job} can't be handed over yet: {} line(s) are open", lines.len())))
}

fn lines(found: &GetJobResponse, book: &GetStripResponse) -> Vec<[String; 3]> {
    let mut lines = Vec::new();
    let mut add = |about: String, what: &str, may: &str| lines.push([about, what.to_owned(), may.to_owned()]);
    if let Some(job) = &found.job
        && job.state() != JobState::Open
    {
        add(format!("job {}", job.job), "closed already", "nobody");
    }
    for stage in &found.stages {
        if !matches!(stage.state(), StageState::Finished | StageState::Skipped) {
            add(format!("stage {}", stage.stage), "not finished or skipped", "finish or skip it");
        }
    }
    for blocker in found.blockers.iter().filter(|blocker| blocker.cleared_at.is_none()) {
        add(format!("blocker {}", blocker.blocker), "open", "clear it");
    }
    for line in &book.open {
        let (about, what) = line.text.split_once(": ").unwrap_or((line.position.as_str(), line.text.as_str()));
        add(about.to_owned(), what, if line.r#final { "nobody" } else { "lead, with a reason" });
    }
    lines
}
