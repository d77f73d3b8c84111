//! Jobs, their stages and what holds them up.

use super::time::{stamp, timestamp};
use super::{condition, count, enums, refit, seized, stock, told};
use leadhand_app::{JobLine, WholeJob, Words};
use leadhand_domain::plan::view::PlannedWork;
use leadhand_domain::view::board::Standing;
use leadhand_domain::view::job::{StageDetail, StepLine};
use leadhand_domain::view::parts::{BlockerLine, PersonOn, Title};
use leadhand_facts::Instant;
use leadhand_facts::safety::Fill;
use leadhand_facts::template::Caution;
use leadhand_proto::v1;

/// The template's words, or the typed ones.
pub fn title(title: &Title, words: &Words) -> String {
    words.either(title.words.as_deref(), title.text).to_owned()
}

/// The version of a job for a client.
pub fn etag(version: i64) -> String {
    format!("v{version}")
}

/// A job of a list.
pub fn job_line(line: &JobLine, words: &Words) -> v1::Job {
    let row = &line.row;
    v1::Job {
        job: row.job.0,
        title: title(&Title::of_job(row), words),
        template: row.template.as_ref().map(ToString::to_string).unwrap_or_default(),
        revision: row.revision.unwrap_or_default(),
        vehicle_label: words.get(line.label).to_owned(),
        vehicle: row.vehicle.to_string(),
        priority: row.priority,
        promised_at: stamp(row.promised_at),
        state: enums::job_state(row.state),
        options: row.options.iter().map(ToString::to_string).collect(),
        opened_at: Some(timestamp(row.opened_at)),
        closed_at: stamp(row.closed_at),
        bay: line.bay.as_ref().map(ToString::to_string).unwrap_or_default(),
        etag: etag(row.version),
        reason: words.get(row.reason).to_owned(),
        vehicle_plate: words.get(line.plate).to_owned(),
        customer: row.customer.map(|customer| customer.to_string()).unwrap_or_default(),
        customer_name: words.get(line.customer).to_owned(),
    }
}

/// A job with all its stages.
pub fn whole(whole: &WholeJob) -> v1::GetJobResponse {
    let WholeJob { view, line, short, words } = whole;
    let blockers = view.stages.iter().flat_map(|stage| &stage.blockers);
    let (open, cleared): (Vec<_>, Vec<_>) = blockers.partition(|line| line.cleared_at.is_none());
    v1::GetJobResponse {
        job: Some(job_line(line, words)),
        stages: view.stages.iter().map(|line| stage(line, words)).collect(),
        blockers: open.into_iter().chain(cleared).map(|line| blocker(line, words)).collect(),
        number: view.number,
        soaking: view.soaking.iter().map(|line| seized::soaking(line, words)).collect(),
        states: condition::states(&view.condition, words),
        fluids: condition::fluids(&view.condition, words),
        ways: condition::ways(&view.condition, words),
        shortages: short.iter().map(stock::short).collect(),
        to_get: view.to_get.iter().map(|line| refit::to_get(line, words)).collect(),
        told: view.told.iter().map(|line| told::line(line, words)).collect(),
    }
}

fn stage(line: &StageDetail, words: &Words) -> v1::Stage {
    let after =
        line.after.iter().map(|after| v1::After { stage: after.stage.to_string(), wait_minutes: after.wait_minutes });
    v1::Stage {
        stage: line.stage.to_string(),
        ordinal: count(line.place),
        title: title(&line.title, words),
        kind: enums::stage_kind(line.kind),
        minutes: Some(v1::Minutes { low: line.minutes.low, likely: line.minutes.likely, high: line.minutes.high }),
        bays: line.bays.iter().map(|kind| enums::bay_kind(*kind)).collect(),
        skills: line.skills.clone(),
        hands: line.hands,
        tools: line.tools.clone(),
        after: after.collect(),
        may_leave: line.may_leave,
        in_one_go: line.in_one_go,
        unplanned: line.unplanned,
        state: enums::stage_state(line.standing),
        ready_at: stamp(ready_at(line.standing)),
        started_at: stamp(line.started_at),
        ended_at: stamp(ended_at(line.standing)),
        reason: words.get(line.reason).to_owned(),
        steps: line.steps.iter().map(|step_line| step(step_line, words)).collect(),
        persons: line.persons.iter().map(|person| on_stage(person, words)).collect(),
        wanted: condition::wanted(&line.wanted),
        planned: line.planned.as_ref().map(|planned| planned_work(planned, words)),
    }
}

/// Where, by whom and when the accepted plan has a stage.
pub fn planned_work(planned: &PlannedWork, words: &Words) -> v1::PlannedWork {
    let name = |text: &Option<leadhand_facts::TextId>| match words.get(*text) {
        "" => "somebody who was forgotten".to_owned(),
        name => name.to_owned(),
    };
    v1::PlannedWork {
        bay: planned.bay.as_ref().map(ToString::to_string).unwrap_or_default(),
        people: planned.people.iter().map(name).collect(),
        from_at: Some(timestamp(planned.from)),
        until_at: Some(timestamp(planned.until)),
    }
}

/// From when a stage may start, while that is of interest.
pub fn ready_at(standing: Standing) -> Option<Instant> {
    match standing {
        Standing::Ready(at) | Standing::Waiting(at) => Some(at),
        _ => None,
    }
}

fn ended_at(standing: Standing) -> Option<Instant> {
    match standing {
        Standing::Finished(at) | Standing::Skipped(at) => Some(at),
        _ => None,
    }
}

fn step(line: &StepLine, words: &Words) -> v1::Step {
    v1::Step {
        step: line.step.0,
        instruction: title(&line.instruction, words),
        tools: line.tools.clone(),
        cautions: line.cautions.iter().map(caution).collect(),
        needs: needs(line),
        unplanned: line.unplanned,
        state: enums::step_state(line.state),
        done_at: stamp(line.done_at),
        done_by: words.get(line.done_by_name).to_owned(),
        reason: words.get(line.reason).to_owned(),
        shared_tools: line.shared_tools.iter().map(ToString::to_string).collect(),
        needed_states: line.safety.needs.iter().map(|state| enums::vehicle_state(*state)).collect(),
        set_states: line.safety.sets.iter().map(|state| enums::vehicle_state(*state)).collect(),
        hold: line.safety.hold.as_ref().map(|hold| hold.what.clone()).unwrap_or_default(),
        hold_second: line.safety.hold.as_ref().is_some_and(|hold| hold.second),
        hazards: line.safety.hazards.iter().map(|hazard| enums::hazard(*hazard)).collect(),
        override_reason: words.get(line.overridden).to_owned(),
        skills: line.safety.skills.clone(),
        fill: line.safety.fill.as_ref().map(fill),
    }
}

fn fill(fill: &Fill) -> v1::StepFill {
    let reckoned = fill.reckoned.as_ref();
    let need = |need: &leadhand_facts::template::Need| v1::Need {
        item: need.item.to_string(),
        quantity: need.quantity.0,
        unit: need.unit.code().to_owned(),
    };
    v1::StepFill {
        fluid: fill.fluid.to_string(),
        recipe: reckoned.map(|reckoned| reckoned.recipe.clone()).unwrap_or_default(),
        from: reckoned.map(|reckoned| reckoned.from.iter().map(ToString::to_string).collect()).unwrap_or_default(),
        instead: reckoned.map(|reckoned| reckoned.instead.iter().map(need).collect()).unwrap_or_default(),
    }
}

fn needs(line: &StepLine) -> Vec<v1::StepNeed> {
    let need = |need: &leadhand_facts::template::Need| {
        let demand = line.demand.iter().find(|demand| demand.item == need.item);
        v1::StepNeed {
            item: need.item.to_string(),
            quantity: need.quantity.0,
            unit: need.unit.code().to_owned(),
            reserved: demand.map_or(0, |demand| demand.reserved.0),
            issued: demand.map_or(0, |demand| demand.issued.0),
            short: demand.map_or(0, |demand| demand.short.0),
            name: line.names.get(&need.item).cloned().unwrap_or_default(),
        }
    };
    line.needs.iter().map(need).collect()
}

/// A caution.
pub fn caution(caution: &Caution) -> v1::Caution {
    v1::Caution { word: enums::signal_word(caution.word), text: caution.text.clone() }
}

/// A person on a stage.
pub fn on_stage(person: &PersonOn, words: &Words) -> v1::OnStage {
    v1::OnStage {
        person: person.person.to_string(),
        name: words.get(person.name).to_owned(),
        since: Some(timestamp(person.since)),
    }
}

/// What holds a stage up.
pub fn blocker(line: &BlockerLine, words: &Words) -> v1::Blocker {
    let notes = [words.get(line.note), words.get(line.cleared_note)];
    let notes: Vec<&str> = notes.into_iter().filter(|note| !note.is_empty()).collect();
    v1::Blocker {
        blocker: line.blocker.0,
        stage: line.stage.to_string(),
        stage_title: title(&line.title, words),
        cause: enums::cause(line.cause),
        owner: words.get(line.owner_name).to_owned(),
        expected_at: stamp(line.expected_at),
        note: notes.join("; "),
        step: line.step.map(|step| step.0).unwrap_or_default(),
        item: line.item.as_ref().map(ToString::to_string).unwrap_or_default(),
        since: Some(timestamp(line.since)),
        cleared_at: stamp(line.cleared_at),
        tool: line.tool.as_ref().map(ToString::to_string).unwrap_or_default(),
        reading: line.reading.as_ref().map(ToString::to_string).unwrap_or_default(),
    }
}

/// A shortage, and whether one of these blockers stands for it.
pub fn shortage(line: &leadhand_domain::view::parts::ShortageLine, blockers: &[BlockerLine]) -> v1::Shortage {
    let holds_up = blockers.iter().any(|blocker| {
        blocker.stage == line.stage && blocker.step == Some(line.step) && blocker.item.as_ref() == Some(&line.item)
    });
    stock::shortage(line, holds_up)
}
