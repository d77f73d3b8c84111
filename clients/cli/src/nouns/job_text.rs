//! A job in words: what `leadhand job show` prints.

use super::{condition_text, reckon, strip_lines, told};
use crate::app::App;
use crate::failure::{Failure, Outcome};
use crate::moment;
use crate::out::{Table, clean};
use crate::quantity;
use crate::words::word;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{
    Blocker, Cause, Caution, GetJobResponse, GetStripRequest, GetStripResponse, Job, JobState, Minutes, OnStage,
    OtherWay, PlannedWork, SignalWord, Stage, StageKind, StageState, Step, StepNeed, StepState,
};

/// Prints a job with its stages, and the steps that were asked for.
pub async fn show(app: &App, answer: &GetJobResponse, stage: Option<&str>, steps: bool) -> Outcome {
    if app.out.is_json() {
        return crate::out::json(answer);
    }
    let zone = app.zone().await?;
    let job = answer.job.clone().unwrap_or_default();
    if let Some(key) = stage {
        let found = answer.stages.iter().find(|found| found.stage == key);
        let missing =
            || Failure::Missing(format!("job {} has no stage '{key}'; see 'leadhand job show {}'", job.job, job.job));
        let book = app.client.get_strip(GetStripRequest { job: job.job, ..Default::default() }).await?;
        stage_steps(found.ok_or_else(missing)?, &answer.ways, &book, zone)?;
        return reckon::of_stage(app, job.job, key).await;
    }
    head(&job, answer.number, zone)?;
    crate::out::line("")?;
    app.out.table(&stages(&answer.stages, zone))?;
    if !answer.blockers.is_empty() {
        crate::out::line("")?;
        app.out.table(&blockers(&answer.blockers, zone))?;
    }
    for line in &answer.soaking {
        let state = if line.ready { "has soaked, ready since" } else { "soaks until" };
        let until = moment::show(line.until.as_ref(), zone);
        crate::out::line(&clean(&format!("{} ({}) {state} {until}", line.position, line.what)))?;
    }
    for line in &answer.to_get {
        crate::out::line(&clean(&strip_lines::to_get(line)))?;
    }
    condition_text::show(app, answer, zone)?;
    told::show(app, answer, zone)?;
    if steps {
        let book = app.client.get_strip(GetStripRequest { job: job.job, ..Default::default() }).await?;
        for stage in &answer.stages {
            crate::out::line("")?;
            stage_steps(stage, &answer.ways, &book, zone)?;
            reckon::of_stage(app, job.job, &stage.stage).await?;
        }
    }
    Ok(())
}

fn head(job: &Job, number: i64, zone: &TimeZone) -> Outcome {
    let mut parts = vec![word::<JobState>(job.state)];
    let is_open = job.state == i32::from(JobState::Open);
    match (job.bay.as_str(), is_open) {
        ("", true) => parts.push("outside".to_owned()),
        ("", false) => {}
        (bay, _) => parts.push(format!("in bay {bay}")),
    }
    parts.push(format!("priority {}", job.priority));
    parts.push(match &job.promised_at {
        Some(at) => format!("promised {}", moment::show(Some(at), zone)),
        None => "nothing promised".to_owned(),
    });
    parts.push(format!("opened {}", moment::show(job.opened_at.as_ref(), zone)));
    if job.closed_at.is_some() {
        parts.push(format!("closed {}", moment::show(job.closed_at.as_ref(), zone)));
    }
    if !job.reason.is_empty() {
        parts.push(format!("reason: {}", job.reason));
    }
    let origin = match job.template.as_str() {
        "" => "blank".to_owned(),
        template => format!("after {}", template_revision(template, job.revision)),
    };
    let label = if job.vehicle_label.is_empty() { "(vehicle forgotten)" } else { &job.vehicle_label };
    crate::out::line(&clean(&format!("job {}: {}, {label}, {origin}", job.job, job.title)))?;
    crate::out::line(&clean(&parts.join(", ")))?;
    let whose = whose(job);
    if !whose.is_empty() {
        crate::out::line(&clean(&whose.join(", ")))?;
    }
    if !job.options.is_empty() {
        crate::out::line(&clean(&format!("options: {}", job.options.join(", "))))?;
    }
    crate::out::line(&format!("as of fact {number}"))
}

/// The vehicle's plate and whose job it is, as far as the answer says.
fn whose(job: &Job) -> Vec<String> {
    let mut parts = Vec::new();
    if !job.vehicle_plate.is_empty() {
        parts.push(format!("plate {}", job.vehicle_plate));
    }
    match (job.customer.as_str(), job.customer_name.as_str()) {
        ("", _) => {}
        (_, "") => parts.push("customer forgotten".to_owned()),
        (_, name) => parts.push(format!("customer {name}")),
    }
    parts
}

/// `key 3`, or nothing for a blank job.
pub fn template_revision(template: &str, revision: i32) -> String {
    if template.is_empty() { String::new() } else { format!("{template} {revision}") }
}

fn stages(stages: &[Stage], zone: &TimeZone) -> Table {
    let header = ["#", "stage", "title", "state", "minutes", "after", "when", "who", "steps#"];
    let mut table = Table::new("stages", &header);
    for stage in stages {
        let ended = stage.steps.iter().filter(|step| step.state != i32::from(StepState::Pending)).count();
        let steps = if stage.steps.is_empty() { String::new() } else { format!("{ended}/{}", stage.steps.len()) };
        let mark = if stage.unplanned { " (unplanned)" } else { "" };
        let kind = if stage.kind == i32::from(StageKind::Wait) { " (wait)" } else { "" };
        table.row([
            stage.ordinal.to_string(),
            stage.stage.clone(),
            format!("{}{mark}{kind}", stage.title),
            word::<StageState>(stage.state).replace('-', " "),
            minutes(stage.minutes.as_ref()),
            after(stage),
            when(stage, zone),
            who(stage),
            steps,
        ]);
    }
    table
}

/// Three points as `low-likely-high`.
pub fn minutes(minutes: Option<&Minutes>) -> String {
    match minutes {
        Some(Minutes { low, likely, high }) if *high > 0 => format!("{low}/{likely}/{high}"),
        _ => String::new(),
    }
}

fn after(stage: &Stage) -> String {
    let parts: Vec<String> = stage
        .after
        .iter()
        .map(|after| match after.wait_minutes {
            0 => after.stage.clone(),
            wait => format!("{} + {}", after.stage, moment::show_length(i64::from(wait) * 60)),
        })
        .collect();
    parts.join(", ")
}

fn when(stage: &Stage, zone: &TimeZone) -> String {
    match (&stage.started_at, &stage.ended_at, &stage.ready_at) {
        (Some(from), Some(until), _) => {
            format!("{} to {}", moment::show(Some(from), zone), moment::show(Some(until), zone))
        }
        (None, Some(ended), _) => moment::show(Some(ended), zone),
        (Some(from), None, _) => format!("since {}", moment::show(Some(from), zone)),
        (None, None, ready) => match (&stage.planned, ready) {
            (Some(planned), _) => planned_when(planned, zone),
            (None, Some(ready)) => format!("ready {}", moment::show(Some(ready), zone)),
            (None, None) => String::new(),
        },
    }
}

/// `planned 2026-05-04 08:00 in lift-1`.
pub fn planned_when(planned: &PlannedWork, zone: &TimeZone) -> String {
    let bay = if planned.bay.is_empty() { String::new() } else { format!(" in {}", planned.bay) };
    format!("planned {}{bay}", moment::show(planned.from_at.as_ref(), zone))
}

/// Who is on a stage, else whom the accepted plan has on it.
fn who(stage: &Stage) -> String {
    match &stage.planned {
        Some(planned) if stage.persons.is_empty() && !planned.people.is_empty() => {
            format!("{} (planned)", planned.people.join(", "))
        }
        _ => names(&stage.persons),
    }
}

/// Persons by name.
pub fn names(persons: &[OnStage]) -> String {
    let names: Vec<&str> =
        persons.iter().map(|person| if person.name.is_empty() { "(forgotten)" } else { &person.name }).collect();
    names.join(", ")
}

fn blockers(blockers: &[Blocker], zone: &TimeZone) -> Table {
    let header = ["blocker#", "stage", "cause", "what", "owner", "since", "until", "state"];
    let mut table = Table::new("blockers", &header);
    for blocker in blockers {
        // A shortage names an item, a shared tool that is elsewhere the tool.
        let named = if blocker.item.is_empty() { &blocker.tool } else { &blocker.item };
        let what = match named.as_str() {
            "" if !blocker.reading.is_empty() => format!("reading {} is out of its limits", blocker.reading),
            "" => blocker.note.clone(),
            item => format!("{item} for step {} {}", blocker.step, blocker.note).trim_end().to_owned(),
        };
        let state = match &blocker.cleared_at {
            Some(at) => format!("cleared {}", moment::show(Some(at), zone)),
            None => "open".to_owned(),
        };
        table.row([
            blocker.blocker.to_string(),
            blocker.stage.clone(),
            word::<Cause>(blocker.cause),
            what,
            blocker.owner.clone(),
            moment::show(blocker.since.as_ref(), zone),
            moment::show(blocker.expected_at.as_ref(), zone),
            state,
        ]);
    }
    table
}

/// A stage's steps: what the hand does, with what, and what to mind first.
fn stage_steps(stage: &Stage, ways: &[OtherWay], book: &GetStripResponse, zone: &TimeZone) -> Outcome {
    crate::out::line(&clean(&format!(
        "stage {}: {}, {}",
        stage.stage,
        stage.title,
        word::<StageState>(stage.state).replace('-', " ")
    )))?;
    if stage.in_one_go {
        crate::out::line("  in one go: what was begun is left neither over a break nor overnight")?;
    }
    for (what, list) in [("skills", &stage.skills), ("tools", &stage.tools)] {
        if !list.is_empty() {
            crate::out::line(&clean(&format!("  {what}: {}", list.join(", "))))?;
        }
    }
    for step in &stage.steps {
        let way = ways.iter().find(|way| (&way.stage, way.step) == (&stage.stage, step.step));
        for line in step_lines(step, way, zone).into_iter().chain(strip_lines::of_step(book, &stage.stage, step.step)) {
            crate::out::line(&clean(&line))?;
        }
    }
    strip_lines::of_stage(book, &stage.stage).iter().try_for_each(|line| crate::out::line(&clean(line)))
}

fn step_lines(step: &Step, way: Option<&OtherWay>, zone: &TimeZone) -> Vec<String> {
    // What can hurt comes before what to do, and stands apart from the step before.
    let mut lines = vec![String::new()];
    lines.extend(step.cautions.iter().map(|said| caution(step.step, said)));
    let mark = if step.unplanned { " (unplanned)" } else { "" };
    let state = match (step.state == i32::from(StepState::Pending), step.done_by.as_str()) {
        (true, _) => "to do".to_owned(),
        (false, "") => format!("{} {}", word::<StepState>(step.state), moment::show(step.done_at.as_ref(), zone)),
        (false, by) => {
            format!("{} {} by {by}", word::<StepState>(step.state), moment::show(step.done_at.as_ref(), zone))
        }
    };
    lines.push(format!("  {}. {}{mark} [{state}]", step.step, step.instruction));
    lines.extend(way.map(condition_text::of_way));
    if !step.reason.is_empty() {
        lines.push(format!("     reason: {}", step.reason));
    }
    if !step.tools.is_empty() {
        lines.push(format!("     tools: {}", step.tools.join(", ")));
    }
    if !step.shared_tools.is_empty() {
        lines.push(format!("     shared tools: {}", step.shared_tools.join(", ")));
    }
    lines.extend(condition_text::of_step(step));
    lines.extend(step.needs.iter().map(need));
    lines
}

fn caution(step: i32, caution: &Caution) -> String {
    format!("  {} before step {step}: {}", word::<SignalWord>(caution.word), caution.text)
}

fn need(need: &StepNeed) -> String {
    let amount = |quantity: i64| quantity::show(quantity, &need.unit);
    let mut states = Vec::new();
    for (quantity, what) in [(need.issued, "issued"), (need.reserved, "reserved"), (need.short, "SHORT")] {
        if quantity > 0 {
            states.push(format!("{} {what}", amount(quantity)));
        }
    }
    let states = if states.is_empty() { "not reserved".to_owned() } else { states.join(", ") };
    let what = format!("     needs: {} of {}", amount(need.quantity), need.item);
    if need.name.is_empty() || need.name == need.item {
        return format!("{what} ({states})");
    }
    format!("{what} ({}): {states}", need.name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stage_that_was_not_started_says_where_by_whom_and_when_it_is_planned() {
        let at = |seconds| Some(prost_types::Timestamp { seconds, nanos: 0 });
        let people = vec!["Flint".to_owned(), "Moss".to_owned()];
        // 2026-05-04 08:00 UTC.
        let planned =
            PlannedWork { bay: "lift-1".into(), people, from_at: at(1_777_881_600), until_at: at(1_777_885_200) };
        let mut stage = Stage { planned: Some(planned), ready_at: at(1_777_870_000), ..Default::default() };
        assert_eq!(when(&stage, &TimeZone::UTC), "planned 2026-05-04 08:00 in lift-1");
        assert_eq!(who(&stage), "Flint, Moss (planned)");
        stage.started_at = at(1_777_881_660);
        stage.persons = vec![OnStage { name: "Wren".into(), ..Default::default() }];
        assert_eq!((when(&stage, &TimeZone::UTC).as_str(), who(&stage).as_str()), ("since 2026-05-04 08:01", "Wren"));
    }

    #[test]
    fn a_caution_stands_before_the_step_that_it_is_for() {
        let step = Step {
            step: 2,
            instruction: "Open the drain".into(),
            cautions: vec![Caution {
                word: SignalWord::Warning.into(),
                text: "Hot fluid burns: let it cool first.".into(),
            }],
            needs: vec![StepNeed {
                item: "coolant".into(),
                quantity: 4500,
                unit: "mL".into(),
                short: 1500,
                reserved: 3000,
                ..Default::default()
            }],
            state: StepState::Pending.into(),
            ..Default::default()
        };
        assert_eq!(
            step_lines(&step, None, &TimeZone::UTC),
            [
                "",
                "  WARNING before step 2: Hot fluid burns: let it cool first.",
                "  2. Open the drain [to do]",
                "     needs: 4.5 L of coolant (3 L reserved, 1.5 L SHORT)",
            ]
        );
        let [mut named] = <[StepNeed; 1]>::try_from(step.needs).unwrap();
        named.name = "Coolant, ready mixed".into();
        assert_eq!(need(&named), "     needs: 4.5 L of coolant (Coolant, ready mixed): 3 L reserved, 1.5 L SHORT");
        named.name = named.item.clone();
        assert!(need(&named).ends_with("of coolant (3 L reserved, 1.5 L SHORT)"), "a key is no name");
    }
}
