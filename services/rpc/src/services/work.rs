//! What happens to the stages of a job: the other half of the service of jobs.

use super::unfit;
use crate::call::Call;
use crate::convert::time::instant_some;
use crate::convert::{enums, fields, invalid, notice::receipt};
use leadhand_app::AppError;
use leadhand_domain::answer::Made;
use leadhand_domain::command::{
    AddStage, AddStep, ClearBlocker, FinishStage, OwnBlocker, RaiseBlocker, ReopenStage, ReopenStep, SkipStage,
    SkipStep, StartStage, TickSteps,
};
use leadhand_facts::StepNo;
use leadhand_facts::fact::JobAfter;
use leadhand_facts::safety::{Fill, Hold, StepSafety};
use leadhand_facts::template::Minutes;
use leadhand_facts::words::StageKind;
use leadhand_proto::v1;

pub(super) async fn add_stage(call: &Call, asked: v1::AddStageRequest) -> Result<v1::AddStageResponse, AppError> {
    fields::bounded("skills", &asked.skills)?;
    fields::bounded("tools", &asked.tools)?;
    fields::bounded("steps", &asked.steps)?;
    let kind = enums::read_stage_kind("kind", asked.kind)?;
    let usual_hands = i32::from(kind == StageKind::Work);
    let command = AddStage {
        job: fields::job(asked.job)?,
        stage: fields::key_some("stage", &asked.stage)?,
        title: asked.title,
        kind,
        minutes: some_minutes(asked.minutes)?,
        bays: enums::each("bays", &asked.bays, enums::read_bay_kind)?,
        skills: asked.skills,
        hands: fields::positive_some("hands", asked.hands)?.unwrap_or(usual_hands),
        tools: asked.tools,
        after: after(&asked.after)?,
        after_last: asked.after_last,
        before: fields::keys("before", &asked.before)?,
        may_leave: asked.may_leave,
        in_one_go: asked.in_one_go,
        steps: asked.steps,
    };
    let outcome = call.execute(asked.write, command).await?;
    let receipt = receipt(&outcome);
    let Made::Stage { stage, .. } = outcome.answer.made else { return Err(unfit("a stage", &outcome)) };
    Ok(v1::AddStageResponse { receipt, stage: stage.to_string() })
}

/// Minutes that were said; nothing takes none, and what nobody knows is left out.
fn some_minutes(said: Option<v1::Minutes>) -> Result<Minutes, AppError> {
    let read = fields::minutes(said);
    if said.is_some() && read == (Minutes { low: 0, likely: 0, high: 0 }) {
        return Err(invalid("minutes", "nothing takes 0 minutes; leave it out where nobody knows how long it takes"));
    }
    Ok(read)
}

fn after(said: &[v1::After]) -> Result<Vec<JobAfter>, AppError> {
    fields::bounded("after", said)?;
    let read = |(at, after): (usize, &v1::After)| {
        let stage = fields::key(&format!("after[{at}].stage"), &after.stage)?;
        Ok(JobAfter { stage, wait_minutes: after.wait_minutes })
    };
    said.iter().enumerate().map(read).collect()
}

pub(super) async fn add_step(call: &Call, asked: v1::AddStepRequest) -> Result<v1::AddStepResponse, AppError> {
    fields::bounded("tools", &asked.tools)?;
    let safety = safety(&asked)?;
    let command = AddStep {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        instruction: asked.instruction,
        tools: asked.tools,
        shared_tools: fields::keys("shared_tools", &asked.shared_tools)?,
        cautions: fields::cautions("cautions", asked.cautions)?,
        needs: fields::needs("needs", &asked.needs)?,
        follow_up: fields::text_some(asked.follow_up),
        safety,
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Step { step, .. } = outcome.answer.made else { return Err(unfit("a step", &outcome)) };
    Ok(v1::AddStepResponse { receipt: receipt(&outcome), step: step.0 })
}

/// What makes a step safe. Fluids that come out are said when they do.
fn safety(asked: &v1::AddStepRequest) -> Result<StepSafety, AppError> {
    fields::bounded("skills", &asked.skills)?;
    let hold = fields::text_some(asked.hold.clone());
    for (field, said, what) in
        [("hold_second", asked.hold_second, "who passes"), ("hold_whole", asked.hold_whole, "what has to be done at")]
    {
        if said && hold.is_none() {
            return Err(invalid(
                field,
                format!("it says {what} a hold point, and there is none; say what is looked at"),
            ));
        }
    }
    Ok(StepSafety {
        needs: enums::each("needed_states", &asked.needed_states, enums::read_vehicle_state)?,
        sets: enums::each("set_states", &asked.set_states, enums::read_vehicle_state)?,
        hold: hold.map(|what| Hold { what, second: asked.hold_second, whole: asked.hold_whole }),
        hazards: enums::each("hazards", &asked.hazards, enums::read_hazard)?,
        fluids: Vec::new(),
        fill: fields::key_some("fills", &asked.fills)?.map(|fluid| Fill { fluid, reckoned: None }),
        skills: asked.skills.clone(),
        only_here: asked.only_here,
    })
}

pub(super) async fn start_stage(call: &Call, asked: v1::StartStageRequest) -> Result<v1::StartStageResponse, AppError> {
    let command = StartStage {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        override_reason: fields::text_some(asked.override_reason),
    };
    Ok(v1::StartStageResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

pub(super) async fn finish_stage(
    call: &Call,
    asked: v1::FinishStageRequest,
) -> Result<v1::FinishStageResponse, AppError> {
    let command = FinishStage {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        as_listed: asked.as_listed,
    };
    Ok(v1::FinishStageResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

pub(super) async fn skip_stage(call: &Call, asked: v1::SkipStageRequest) -> Result<v1::SkipStageResponse, AppError> {
    let command =
        SkipStage { job: fields::job(asked.job)?, stage: fields::key("stage", &asked.stage)?, reason: asked.reason };
    Ok(v1::SkipStageResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

pub(super) async fn tick_steps(call: &Call, asked: v1::TickStepsRequest) -> Result<v1::TickStepsResponse, AppError> {
    fields::bounded("steps", &asked.steps)?;
    let steps = asked.steps.iter().enumerate().map(|(at, step)| fields::step(&format!("steps[{at}]"), *step));
    let steps: Result<Vec<StepNo>, AppError> = steps.collect();
    let command = TickSteps {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        steps: steps?,
        override_reason: fields::text_some(asked.override_reason),
    };
    Ok(v1::TickStepsResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

pub(super) async fn skip_step(call: &Call, asked: v1::SkipStepRequest) -> Result<v1::SkipStepResponse, AppError> {
    let command = SkipStep {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        step: fields::step("step", asked.step)?,
        reason: asked.reason,
    };
    Ok(v1::SkipStepResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

pub(super) async fn reopen_step(call: &Call, asked: v1::ReopenStepRequest) -> Result<v1::ReopenStepResponse, AppError> {
    let command = ReopenStep {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        step: fields::step("step", asked.step)?,
        reason: asked.reason,
    };
    Ok(v1::ReopenStepResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

pub(super) async fn reopen_stage(
    call: &Call,
    asked: v1::ReopenStageRequest,
) -> Result<v1::ReopenStageResponse, AppError> {
    let command =
        ReopenStage { job: fields::job(asked.job)?, stage: fields::key("stage", &asked.stage)?, reason: asked.reason };
    Ok(v1::ReopenStageResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

pub(super) async fn raise_blocker(
    call: &Call,
    asked: v1::RaiseBlockerRequest,
) -> Result<v1::RaiseBlockerResponse, AppError> {
    let command = RaiseBlocker {
        job: fields::job(asked.job)?,
        stage: fields::key("stage", &asked.stage)?,
        cause: enums::read_cause("cause", asked.cause)?,
        owner: call.person_some("owner", &asked.owner).await?,
        expected_at: instant_some("expected_at", asked.expected_at)?,
        note: fields::text_some(asked.note),
    };
    let outcome = call.execute(asked.write, command).await?;
    let Made::Blocker { blocker, .. } = outcome.answer.made else { return Err(unfit("a blocker", &outcome)) };
    Ok(v1::RaiseBlockerResponse { receipt: receipt(&outcome), blocker: blocker.0 })
}

pub(super) async fn own_blocker(call: &Call, asked: v1::OwnBlockerRequest) -> Result<v1::OwnBlockerResponse, AppError> {
    let command = OwnBlocker {
        job: fields::job(asked.job)?,
        blocker: fields::blocker(asked.blocker)?,
        owner: call.person_some("owner", &asked.owner).await?,
        expected_at: instant_some("expected_at", asked.expected_at)?,
    };
    Ok(v1::OwnBlockerResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}

pub(super) async fn clear_blocker(
    call: &Call,
    asked: v1::ClearBlockerRequest,
) -> Result<v1::ClearBlockerResponse, AppError> {
    let command = ClearBlocker {
        job: fields::job(asked.job)?,
        blocker: fields::blocker(asked.blocker)?,
        note: fields::text_some(asked.note),
    };
    Ok(v1::ClearBlockerResponse { receipt: receipt(&call.execute(asked.write, command).await?) })
}
