//! `leadhand template lessons`.

use super::template::write_new;
use crate::app::App;
use crate::failure::Outcome;
use crate::out::{self, clean};
use crate::words::word;
use leadhand_sdk::v1::{GetLessonsRequest, GetLessonsResponse, Lesson, LessonKind, StageLessons};
use std::path::PathBuf;

/// Asks, shows, and writes the proposal where one is wanted.
pub async fn run(app: &App, template: String, propose: Option<PathBuf>) -> Outcome {
    let answer = app.client.get_lessons(GetLessonsRequest { template, propose: propose.is_some() }).await?;
    if app.out.is_json() {
        out::json(&answer)?;
    } else {
        for line in lines(&answer) {
            out::line(&clean(&line))?;
        }
    }
    let Some(path) = propose else { return Ok(()) };
    write_new(&path, &answer.proposal)?;
    let todo = "read it through, check it and publish it; nothing is published by itself";
    out::note(&format!("the proposed revision {} is in {}; {todo}", answer.revision + 1, path.display()));
    Ok(())
}

fn lines(answer: &GetLessonsResponse) -> Vec<String> {
    if answer.jobs == 0 {
        return vec![format!("no job of template {} is finished yet", answer.template)];
    }
    let revisions: Vec<String> =
        answer.revisions.iter().map(|line| format!("revision {}: {}", line.revision, jobs(line.jobs))).collect();
    let mut all = vec![format!(
        "{} of template {} finished last, at most {} ({})",
        jobs(answer.jobs),
        answer.template,
        answer.jobs_max,
        revisions.join(", ")
    )];
    for stage in &answer.stages {
        all.push(String::new());
        all.push(heading(stage));
        all.extend(stage.lessons.iter().map(lesson));
    }
    all
}

fn jobs(count: i32) -> String {
    if count == 1 { "1 job".to_owned() } else { format!("{count} jobs") }
}

fn heading(stage: &StageLessons) -> String {
    let title = if stage.title.is_empty() { "only on jobs" } else { &stage.title };
    format!("{}, {title}: {}", stage.stage, stage.told)
}

fn lesson(lesson: &Lesson) -> String {
    let lost = if lesson.minutes > 0 { format!(", {} min lost", lesson.minutes) } else { String::new() };
    format!("  {} in {} of {}: {}{lost}", word::<LessonKind>(lesson.kind), lesson.met, jobs(lesson.of), lesson.what)
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::RevisionJobs;

    #[test]
    fn it_says_of_how_many_jobs_it_speaks() {
        let empty = GetLessonsResponse { template: "belt".into(), ..Default::default() };
        assert_eq!(lines(&empty), ["no job of template belt is finished yet"]);
        let kind = LessonKind::Tool.into();
        let tool = Lesson { kind, what: "the lock".into(), met: 2, of: 3, minutes: 25 };
        let told = "30 min in 3 jobs".to_owned();
        let stage = StageLessons {
            stage: "strip".into(),
            title: "Strip".into(),
            told,
            lessons: vec![tool],
            ..Default::default()
        };
        let revisions = vec![RevisionJobs { revision: 1, jobs: 3 }];
        let answer = GetLessonsResponse { jobs: 3, jobs_max: 50, revisions, stages: vec![stage], ..empty };
        assert_eq!(
            lines(&answer),
            [
                "3 jobs of template belt finished last, at most 50 (revision 1: 3 jobs)",
                "",
                "strip, Strip: 30 min in 3 jobs",
                "  tool in 2 of 3 jobs: the lock, 25 min lost",
            ]
        );
    }
}
