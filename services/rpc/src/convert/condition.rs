//! The condition of a vehicle on the wire.

use super::enums;
use super::time::{stamp, timestamp};
use leadhand_app::Words;
use leadhand_domain::condition::still_in;
use leadhand_domain::view::condition::ConditionView;
use leadhand_facts::rows::{FluidRow, VehicleStateRow, WayRow};
use leadhand_facts::words::VehicleState;
use leadhand_facts::{StageKey, StepNo, TextId};
use leadhand_proto::v1;

/// The states of which something was said.
pub fn states(view: &ConditionView, words: &Words) -> Vec<v1::VehicleStateLine> {
    let line = |(row, name): &(VehicleStateRow, Option<TextId>)| v1::VehicleStateLine {
        state: enums::vehicle_state(row.state),
        before: enums::vehicle_state(row.before),
        said_by: words.get(*name).to_owned(),
        since: Some(timestamp(row.set_at)),
        stage: key(row.stage.as_ref()),
        step: number(row.step),
        reason: words.get(row.reason).to_owned(),
    };
    view.states.iter().map(line).collect()
}

/// Its fluids.
pub fn fluids(view: &ConditionView, words: &Words) -> Vec<v1::FluidLine> {
    let line = |(row, name): &(FluidRow, Option<TextId>)| v1::FluidLine {
        fluid: row.fluid.to_string(),
        what: row.what.clone().unwrap_or_default(),
        stage: key(row.stage.as_ref()),
        step: number(row.step),
        back: key(row.back.as_ref()),
        expected_ml: row.expected_ml.unwrap_or_default(),
        drained_ml: row.drained_ml,
        filled_ml: row.filled_ml,
        still_in_ml: still_in(row).unwrap_or_default(),
        said_by: words.get(*name).to_owned(),
        said_at: stamp(row.said_at),
        note: words.get(row.note).to_owned(),
    };
    view.fluids.iter().map(line).collect()
}

/// Ways that are not the book's.
pub fn ways(view: &ConditionView, words: &Words) -> Vec<v1::OtherWay> {
    let line = |(row, proposed, decided): &(WayRow, Option<TextId>, Option<TextId>)| v1::OtherWay {
        stage: row.stage.to_string(),
        step: row.step.0,
        way: words.get(Some(row.note)).to_owned(),
        reason: words.get(Some(row.reason)).to_owned(),
        proposed_by: words.get(*proposed).to_owned(),
        proposed_at: Some(timestamp(row.proposed_at)),
        approved: row.approved.unwrap_or_default(),
        decided_by: words.get(*decided).to_owned(),
        decided_at: stamp(row.decided_at),
        note: words.get(row.decided_note).to_owned(),
    };
    view.ways.iter().map(line).collect()
}

/// States that are wanted and not there.
pub fn wanted(all: &[(StepNo, VehicleState, VehicleState)]) -> Vec<v1::StateWanted> {
    let line = |(step, state, now): &(StepNo, VehicleState, VehicleState)| v1::StateWanted {
        step: step.0,
        state: enums::vehicle_state(*state),
        now: enums::vehicle_state(*now),
    };
    all.iter().map(line).collect()
}

fn key(stage: Option<&StageKey>) -> String {
    stage.map(ToString::to_string).unwrap_or_default()
}

fn number(step: Option<StepNo>) -> i32 {
    step.map(|step| step.0).unwrap_or_default()
}
