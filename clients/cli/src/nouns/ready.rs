//! Ready lists: what a stage, a bay's day or a person's shift needs in hand.

use super::job_text::planned_when;
use super::tool::{calibrated, holder_since};
use crate::app::App;
use crate::failure::Outcome;
use crate::out::{self, clean};
use crate::quantity;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{
    GetReadyListRequest, GetReadyListResponse, ReadyFastener, ReadyItem, ReadyPeople, ReadyPerson, ReadyPlace,
    ReadySharedTool, ReadyStage,
};

/// Asks and shows.
pub async fn show(app: &App, request: GetReadyListRequest) -> Outcome {
    let answer = app.client.get_ready_list(request).await?;
    if app.out.is_json() {
        return out::json(&answer);
    }
    for line in lines(&answer, app.zone().await?) {
        out::line(&clean(&line))?;
    }
    Ok(())
}

/// The list as it is read in front of a bay: what is missing first.
fn lines(list: &GetReadyListResponse, zone: &TimeZone) -> Vec<String> {
    if list.stages.is_empty() {
        return vec!["nothing is left to get ready for".to_owned()];
    }
    let of = Span::of(list);
    let at = |place: &Option<ReadyPlace>| place.as_ref().map_or_else(String::new, |place| first(place, of));
    let mut all: Vec<String> = list.stages.iter().map(|stage| head(stage, zone)).collect();
    let missing = list.missing.iter().map(|line| {
        let when = if line.next { "now" } else { "later" };
        format!("{} ({when}, {})", line.text, at(&line.first))
    });
    section(&mut all, "MISSING", missing);
    section(&mut all, "tools", list.tools.iter().map(|line| format!("{} ({})", line.text, at(&line.first))));
    section(
        &mut all,
        "fasteners",
        list.fasteners.iter().map(|line| format!("{} ({})", fastener(line), at(&line.first))),
    );
    let stuck = list.stuck_tools.iter().map(|line| format!("{} ({})", line.text, at(&line.first)));
    section(&mut all, "if something will not move", stuck);
    let shared = list.shared_tools.iter().map(|line| format!("{} ({})", shared(line, zone), at(&line.first)));
    section(&mut all, "shared tools", shared);
    section(
        &mut all,
        "parts and fluids",
        list.items.iter().map(|line| format!("{} ({})", item(line), at(&line.first))),
    );
    let used_up = list.consumables.iter().map(|line| format!("{} ({})", line.text, at(&line.first)));
    section(&mut all, "consumables", used_up);
    let asked = list.people.iter().map(|line| match &line.place {
        Some(place) if of != Span::Stage || place.step > 0 => format!("{}: {}", first(place, of), people(line)),
        _ => people(line),
    });
    section(&mut all, "people", asked);
    let holds = list.hold_points.iter().map(|line| format!("{} ({})", line.text, at(&line.place)));
    section(&mut all, "hold points", holds);
    all.push(String::new());
    all.push("Manufacturer's data, local codes and licensed practice come before this list.".to_owned());
    all
}

/// `job 3, strip: Strip; planned 2026-05-04 08:00 in lift-1 by Flint`.
fn head(stage: &ReadyStage, zone: &TimeZone) -> String {
    let planned = stage.planned.as_ref().map_or_else(String::new, |planned| {
        let by =
            if planned.people.is_empty() { String::new() } else { format!(" by {}", joined(&planned.people, "and")) };
        format!("; {}{by}", planned_when(planned, zone))
    });
    format!("job {}, {}: {}{planned}", stage.job, stage.stage, stage.title)
}

fn section(all: &mut Vec<String>, title: &str, lines: impl Iterator<Item = String>) {
    let lines: Vec<String> = lines.map(|line| format!("  {line}")).collect();
    if !lines.is_empty() {
        all.push(String::new());
        all.push(format!("{title}:"));
        all.extend(lines);
    }
}

/// What a list is of, so that a place says no more than it has to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Span {
    /// One stage.
    Stage,
    /// Several stages of a job.
    Job,
    /// Several jobs.
    Jobs,
}

impl Span {
    fn of(list: &GetReadyListResponse) -> Self {
        match list.stages.as_slice() {
            [] | [_] => Self::Stage,
            [first, rest @ ..] if rest.iter().all(|stage| stage.job == first.job) => Self::Job,
            _ => Self::Jobs,
        }
    }
}

/// Where something is needed first; the stage only where there are several, and the job where there are several of these.
fn first(place: &ReadyPlace, of: Span) -> String {
    let stage = match of {
        Span::Stage => String::new(),
        Span::Job => place.stage.clone(),
        Span::Jobs => format!("job {}, {}", place.job, place.stage),
    };
    match (stage.is_empty(), place.step) {
        (true, 0) => "whole stage".to_owned(),
        (true, step) => format!("step {step}"),
        (false, 0) => stage,
        (false, step) => format!("{stage}, step {step}"),
    }
}

fn shared(line: &ReadySharedTool, zone: &TimeZone) -> String {
    let tool = line.tool.clone().unwrap_or_default();
    let called = if tool.what.is_empty() { tool.name.clone() } else { format!("{}, {}", tool.name, tool.what) };
    let whose = match &line.loan {
        _ if line.gone => "not in use any more".to_owned(),
        None => "free".to_owned(),
        Some(_) if line.here => "here".to_owned(),
        Some(loan) => format!("with {}", holder_since(loan, zone)),
    };
    let due = if tool.calibration_due.is_empty() {
        String::new()
    } else {
        format!(", calibrated until {}", calibrated(&tool, line.out_of_calibration))
    };
    let named = if called.is_empty() { String::new() } else { format!(" ({called})") };
    format!("{}{named}: {whose}{due}", tool.tool)
}

/// `12 mm socket: 7 of manifold-nuts, M8 x 1.25 x 25`.
fn fastener(line: &ReadyFastener) -> String {
    let tool = if line.tool.is_empty() { "no head is listed" } else { &line.tool };
    match line.of.as_slice() {
        [one] => format!("{tool}: {one}"),
        several => format!("{tool}: {} in all, {}", line.count, several.join("; ")),
    }
}

fn item(line: &ReadyItem) -> String {
    let called =
        if line.name.is_empty() || line.name == line.item { String::new() } else { format!(" ({})", line.name) };
    format!("{} of {}{called}: {}", quantity::show(line.wanted, &line.unit), line.item, line.standing)
}

/// `one person with the skill 'engine': Moss (on job 3, strip) or Flint can`.
fn people(line: &ReadyPeople) -> String {
    let asked = if line.hands == 1 { "one person".to_owned() } else { format!("{} persons", line.hands) };
    let skills: Vec<String> = line.skills.iter().map(|skill| format!("'{skill}'")).collect();
    let skills = match skills.as_slice() {
        [] => String::new(),
        [one] => format!(" with the skill {one}"),
        _ => format!(" with the skills {}", joined(&skills, "and")),
    };
    let able: Vec<String> = line.able.iter().map(able).collect();
    let able = if able.is_empty() { "nobody in the shop".to_owned() } else { joined(&able, "or") };
    format!("{asked}{skills}: {able} can")
}

/// `Moss`, `Moss or Flint`, `Moss, Flint or Wren`.
fn joined(all: &[String], last: &str) -> String {
    match all {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., end] => format!("{} {last} {end}", first.join(", ")),
    }
}

fn able(person: &ReadyPerson) -> String {
    match (person.on_job, person.on_shift) {
        (0, true) => format!("{} (on shift)", person.name),
        (0, false) => person.name.clone(),
        (job, _) => format!("{} (on job {job}, {})", person.name, person.on_stage),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{Loan, ReadyConsumable, ReadyMissing, ReadyStage, ReadyTool, Tool};

    #[test]
    fn what_is_missing_comes_first_and_everything_says_where_it_is_needed() {
        let at = |step| Some(ReadyPlace { job: 7, stage: "strip".into(), step });
        let tool = Tool { tool: "cam-lock-20".into(), name: "Camshaft lock".into(), ..Default::default() };
        let loan = Loan { job: 8, bay: "lift-2".into(), ..Default::default() };
        let list = GetReadyListResponse {
            stages: vec![ReadyStage { job: 7, stage: "strip".into(), title: "Strip".into(), planned: None }],
            missing: vec![ReadyMissing {
                first: at(2),
                next: false,
                text: "shared tool 'cam-lock-20', which job 8 has".into(),
            }],
            consumables: vec![ReadyConsumable { text: "absorbent".into(), first: at(2) }],
            tools: vec![ReadyTool { text: "8 and 10 mm sockets".into(), first: at(1) }],
            shared_tools: vec![ReadySharedTool {
                tool: Some(tool),
                first: at(2),
                loan: Some(loan),
                ..Default::default()
            }],
            ..Default::default()
        };
        let said = lines(&list, &TimeZone::UTC);
        let place =
            |part: &str| said.iter().position(|line| line.contains(part)).unwrap_or_else(|| panic!("{part}: {said:?}"));
        assert!(place("job 8 has (later, step 2)") < place("8 and 10 mm sockets (step 1)"));
        assert_eq!(said[place("consumables:") + 1], "  absorbent (step 2)");
        assert!(said[place("cam-lock-20 (Camshaft lock)")].contains("with job 8 in lift-2"));
        assert!(!said.iter().any(|line| line.starts_with("people")), "{said:?}");
        assert_eq!(lines(&GetReadyListResponse::default(), &TimeZone::UTC).len(), 1);
    }

    /// Two jobs come to one bay, and both have a stage of that key.
    #[test]
    fn what_several_jobs_need_says_for_which_of_them() {
        let told = |stages: &[(i64, &str)]| {
            let stage = |&(job, stage): &(i64, &str)| ReadyStage { job, stage: stage.into(), ..Default::default() };
            let first = Some(ReadyPlace { job: 8, stage: "fit".into(), step: 2 });
            let tools = vec![ReadyTool { text: "10 mm socket".into(), first }];
            let stages = stages.iter().map(stage).collect();
            let said = lines(&GetReadyListResponse { stages, tools, ..Default::default() }, &TimeZone::UTC);
            said.into_iter().find(|line| line.contains("socket")).unwrap()
        };
        assert_eq!(told(&[(7, "fit"), (8, "fit")]), "  10 mm socket (job 8, fit, step 2)");
        assert_eq!(told(&[(8, "strip"), (8, "fit")]), "  10 mm socket (fit, step 2)");
        assert_eq!(told(&[(8, "fit")]), "  10 mm socket (step 2)");
    }

    #[test]
    fn a_planned_stage_says_where_by_whom_and_when() {
        // 2026-05-04 08:00 UTC.
        let from_at = Some(prost_types::Timestamp { seconds: 1_777_881_600, nanos: 0 });
        let planned = |bay: &str, people: &[&str]| {
            let people = people.iter().map(|&one| one.to_owned()).collect();
            Some(leadhand_sdk::v1::PlannedWork { bay: bay.into(), people, from_at, until_at: None })
        };
        let stage = |planned| ReadyStage { job: 3, stage: "strip".into(), title: "Strip".into(), planned };
        let told = |planned| head(&stage(planned), &TimeZone::UTC);
        assert_eq!(told(None), "job 3, strip: Strip");
        let all = "job 3, strip: Strip; planned 2026-05-04 08:00 in lift-1 by Flint and Moss";
        assert_eq!(told(planned("lift-1", &["Flint", "Moss"])), all);
        assert_eq!(told(planned("", &[])), "job 3, strip: Strip; planned 2026-05-04 08:00");
    }

    #[test]
    fn fasteners_are_told_by_the_tool_that_turns_them() {
        let line = |tool: &str, count, of: &[&str]| {
            let of = of.iter().map(|&one| one.to_owned()).collect();
            fastener(&ReadyFastener { tool: tool.into(), count, of, first: None })
        };
        assert_eq!(line("12 mm socket", 7, &["7 of nuts, M8"]), "12 mm socket: 7 of nuts, M8");
        assert_eq!(line("T45", 3, &["2 of a", "1 of b"]), "T45: 3 in all, 2 of a; 1 of b");
        assert_eq!(line("", 1, &["1 of a"]), "no head is listed: 1 of a");
    }

    #[test]
    fn whom_a_stage_asks_for_is_a_sentence() {
        let person = |name: &str| ReadyPerson { name: name.into(), ..Default::default() };
        let line = |hands, skills: &[&str], able: &[ReadyPerson]| {
            let skills = skills.iter().map(|skill| (*skill).to_owned()).collect();
            people(&ReadyPeople { hands, skills, able: able.to_vec(), ..Default::default() })
        };
        let moss = ReadyPerson { on_job: 3, on_stage: "strip".into(), on_shift: true, ..person("Moss") };
        let wren = ReadyPerson { on_shift: true, ..person("Wren") };
        assert_eq!(
            line(1, &["engine"], &[person("Moss"), person("Flint")]),
            "one person with the skill 'engine': Moss or Flint can"
        );
        assert_eq!(
            line(2, &["engine", "service"], &[wren, moss, person("Flint")]),
            "2 persons with the skills 'engine' and 'service': Wren (on shift), Moss (on job 3, strip) or Flint can"
        );
        assert_eq!(line(1, &[], &[]), "one person: nobody in the shop can");
    }

    #[test]
    fn an_expired_calibration_is_told_as_in_the_list_of_tools() {
        let tool = |due: &str| Tool { tool: "torque-50".into(), calibration_due: due.into(), ..Default::default() };
        let line = |due: &str, over| {
            shared(
                &ReadySharedTool { tool: Some(tool(due)), out_of_calibration: over, ..Default::default() },
                &TimeZone::UTC,
            )
        };
        assert_eq!(line("2031-03-02", true), "torque-50: free, calibrated until 2031-03-02, over");
        assert_eq!(line("2031-03-02", false), "torque-50: free, calibrated until 2031-03-02");
        assert_eq!(line("", false), "torque-50: free");
        assert_eq!(calibrated(&tool("2031-03-02"), true), "2031-03-02, over");
    }
}
