//! The condition of a vehicle as people read it.

use crate::app::App;
use crate::failure::Outcome;
use crate::moment;
use crate::out::{Table, line};
use crate::quantity;
use crate::words::word;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{GetJobResponse, OtherWay, Stage, StageState, Step, StepFill, VehicleState};

/// States, fluids and other ways of a job, as far as there are some, and what the stages that can go on will miss.
pub fn show(app: &App, answer: &GetJobResponse, zone: &TimeZone) -> Outcome {
    if !answer.states.is_empty() {
        line("")?;
        app.out.table(&states(answer, zone))?;
    }
    let wanted = wanted(&answer.stages);
    if !wanted.is_empty() {
        line("")?;
        let mut table = Table::new("states that are wanted", &["stage", "step#", "needs", "now"]);
        for row in wanted {
            table.row(row);
        }
        app.out.table(&table)?;
    }
    if !answer.fluids.is_empty() {
        line("")?;
        app.out.table(&fluids(answer))?;
    }
    if !answer.ways.is_empty() {
        line("")?;
        app.out.table(&ways(answer))?;
    }
    Ok(())
}

fn states(answer: &GetJobResponse, zone: &TimeZone) -> Table {
    let mut table = Table::new("vehicle states", &["state", "since", "by", "before", "reason"]);
    for state in &answer.states {
        let step = if state.stage.is_empty() { String::new() } else { format!("{} {}", state.stage, state.step) };
        let by: Vec<&str> = [state.said_by.as_str(), step.as_str()].into_iter().filter(|by| !by.is_empty()).collect();
        table.row([
            word::<VehicleState>(state.state),
            moment::show(state.since.as_ref(), zone),
            by.join(", "),
            word::<VehicleState>(state.before),
            state.reason.clone(),
        ]);
    }
    table
}

/// Of stages that are under way or could be.
fn wanted(stages: &[Stage]) -> Vec<[String; 4]> {
    let live = stages.iter().filter(|stage| matches!(stage.state(), StageState::Ready | StageState::Active));
    let rows = live.flat_map(|stage| {
        stage.wanted.iter().map(|wanted| {
            let (needs, now) = (word::<VehicleState>(wanted.state), word::<VehicleState>(wanted.now));
            [stage.stage.clone(), wanted.step.to_string(), needs, now]
        })
    });
    rows.collect()
}

fn fluids(answer: &GetJobResponse) -> Table {
    let mut table = Table::new("fluids", &["fluid", "what", "should be", "came out", "still in", "went in", "note"]);
    for fluid in &answer.fluids {
        let told = |millilitres: i64| if millilitres == 0 { String::new() } else { quantity::show(millilitres, "mL") };
        table.row([
            fluid.fluid.clone(),
            fluid.what.clone(),
            told(fluid.expected_ml),
            told(fluid.drained_ml),
            told(fluid.still_in_ml),
            told(fluid.filled_ml),
            fluid.note.clone(),
        ]);
    }
    table
}

fn ways(answer: &GetJobResponse) -> Table {
    let mut table = Table::new("not as the book says", &["step", "way", "why", "proposed by", "lead"]);
    for way in &answer.ways {
        let lead = match (way.decided_at.is_some(), way.approved) {
            (false, _) => "not decided".to_owned(),
            (true, true) => format!("approved by {}", way.decided_by),
            (true, false) => format!("not approved by {}", way.decided_by),
        };
        let said = if way.note.is_empty() { lead } else { format!("{lead}: {}", way.note) };
        let step = format!("{} {}", way.stage, way.step);
        table.row([step, way.way.clone(), way.reason.clone(), way.proposed_by.clone(), said]);
    }
    table
}

/// How a step is done where that is not as the book says, at the step itself.
pub fn of_way(way: &OtherWay) -> String {
    let words = if way.way.is_empty() { "(the words are not kept)" } else { &way.way };
    let why = if way.reason.is_empty() { String::new() } else { format!(", because {}", way.reason) };
    let by = if way.decided_by.is_empty() { "a lead" } else { &way.decided_by };
    match (way.decided_at.is_some(), way.approved) {
        (false, _) => format!("     WAITS FOR THE LEAD: another way is asked for: {words}{why}"),
        (true, true) => format!("     NOT AS THE BOOK SAYS: {words}{why}; approved by {by}"),
        (true, false) => format!("     as the book says: {by} did not approve of another way ({words})"),
    }
}

/// What a step asks of the vehicle and of whoever does it, a line each.
pub fn of_step(step: &Step) -> Vec<String> {
    let words = |states: &[i32]| states.iter().map(|state| word::<VehicleState>(*state)).collect::<Vec<_>>().join(", ");
    let mut lines: Vec<String> = step.fill.iter().filter_map(reckoned).collect();
    for (name, states) in [("vehicle has to be", &step.needed_states), ("leaves it", &step.set_states)] {
        if !states.is_empty() {
            lines.push(format!("     {name}: {}", words(states)));
        }
    }
    if !step.skills.is_empty() {
        lines.push(format!("     whoever does it needs: {}", step.skills.join(", ")));
    }
    if !step.hold.is_empty() {
        let who = if step.hold_second { "by somebody else than who did the work" } else { "in your own name" };
        lines.push(format!("     HOLD POINT: {}; looked at and ticked by its number, {who}", step.hold));
    }
    if !step.override_reason.is_empty() {
        lines.push(format!("     lead's reason: {}", step.override_reason));
    }
    lines
}

/// What goes in by what was reckoned, and what the book had in its place.
fn reckoned(fill: &StepFill) -> Option<String> {
    let before =
        fill.instead.iter().map(|need| format!("{} of {}", quantity::show(need.quantity, &need.unit), need.item));
    let before = before.collect::<Vec<_>>().join(", ");
    let before = if before.is_empty() { before } else { format!(" (the book: {before})") };
    let told =
        format!("     GOES IN, as reckoned for this job, whatever amounts the step names: {}{before}", fill.recipe);
    (!fill.recipe.is_empty()).then_some(told)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_way_stands_at_its_step() {
        let asked =
            OtherWay { way: "from above".into(), reason: "the lift point is rusted".into(), ..Default::default() };
        let because = "from above, because the lift point is rusted";
        assert_eq!(of_way(&asked), format!("     WAITS FOR THE LEAD: another way is asked for: {because}"));
        let decided =
            OtherWay { decided_by: "Wren".into(), decided_at: Some(leadhand_sdk::WireTimestamp::default()), ..asked };
        assert_eq!(of_way(&decided), "     as the book says: Wren did not approve of another way (from above)");
        let approved = OtherWay { approved: true, ..decided };
        assert_eq!(of_way(&approved), format!("     NOT AS THE BOOK SAYS: {because}; approved by Wren"));
    }

    #[test]
    fn a_step_says_what_it_asks() {
        let step = Step {
            needed_states: vec![VehicleState::TemperatureCold.into(), VehicleState::BatteryIsolated.into()],
            set_states: vec![VehicleState::CoolantDrained.into()],
            hold: "cold".into(),
            hold_second: true,
            skills: vec!["road-test".into()],
            ..Default::default()
        };
        assert_eq!(
            of_step(&step),
            [
                "     vehicle has to be: temperature-cold, battery-isolated",
                "     leaves it: coolant-drained",
                "     whoever does it needs: road-test",
                "     HOLD POINT: cold; looked at and ticked by its number, by somebody else than who did the work",
            ]
        );
        assert!(of_step(&Step::default()).is_empty());
    }
}
