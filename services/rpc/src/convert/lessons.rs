//! Lessons on the wire.

use super::count;
use leadhand_app::Taught;
use leadhand_domain::lessons::{JOBS_MAX, Kind, Lesson, StageLessons};
use leadhand_proto::v1;

/// What a template's finished jobs teach.
pub fn taught(taught: Taught) -> v1::GetLessonsResponse {
    let revisions = taught.lessons.revisions.iter();
    v1::GetLessonsResponse {
        template: taught.latest.template.to_string(),
        revision: taught.latest.revision,
        jobs: count(taught.lessons.jobs),
        jobs_max: count(JOBS_MAX),
        revisions: revisions
            .map(|(revision, jobs)| v1::RevisionJobs { revision: *revision, jobs: count(*jobs) })
            .collect(),
        stages: taught.lessons.stages.iter().map(stage).collect(),
        proposal: taught.proposal.unwrap_or_default(),
        number: taught.number,
    }
}

fn stage(stage: &StageLessons) -> v1::StageLessons {
    let minutes = |minutes: leadhand_facts::template::Minutes| v1::Minutes {
        low: minutes.low,
        likely: minutes.likely,
        high: minutes.high,
    };
    v1::StageLessons {
        stage: stage.stage.to_string(),
        title: stage.title.clone(),
        jobs: count(stage.jobs),
        estimate: stage.estimate.map(minutes),
        worked_minutes: stage.worked.clone(),
        told: stage.told(),
        lessons: stage.lessons.iter().map(lesson).collect(),
    }
}

fn lesson(lesson: &Lesson) -> v1::Lesson {
    let kind = match lesson.kind {
        Kind::Step => v1::LessonKind::Step,
        Kind::Position => v1::LessonKind::Position,
        Kind::Tool => v1::LessonKind::Tool,
        Kind::Shortage => v1::LessonKind::Shortage,
        Kind::Finding => v1::LessonKind::Finding,
        Kind::Override => v1::LessonKind::Override,
        Kind::Seized => v1::LessonKind::Seized,
        Kind::Way => v1::LessonKind::Way,
        Kind::Fluid => v1::LessonKind::Fluid,
    };
    v1::Lesson {
        kind: kind.into(),
        what: lesson.what.clone(),
        met: count(lesson.met),
        of: count(lesson.of),
        minutes: lesson.minutes,
    }
}
