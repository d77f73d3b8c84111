//! What was touched last on the page of a bay, and can be taken back for some seconds.

use crate::fluid_act;
use crate::strip;
use crate::texts::Texts;
use leadhand_sdk::v1::{
    BoardJob, GetJobResponse, GetStripResponse, Position, Stage, StageState, StepState, Tightness, VehicleState,
};

/// What was touched last.
pub struct Undo {
    /// As the form holds it.
    pub what: String,
    pub words: String,
}

/// What it is looked up in: the job in the bay, and its strip book.
#[derive(Clone, Copy)]
pub struct Touched<'a> {
    pub job: Option<&'a (BoardJob, GetJobResponse)>,
    pub strip: &'a GetStripResponse,
}

impl Touched<'_> {
    fn stages(&self) -> impl Iterator<Item = &Stage> {
        self.job.into_iter().flat_map(|(_, whole)| &whole.stages)
    }

    /// What may be taken back, as long as it still is as it was touched.
    pub fn undo(self, what: &str, t: &Texts) -> Option<Undo> {
        let (kind, about) = what.split_once('.')?;
        let words = match kind {
            "ticks" | "ended" => self.ticked(kind == "ended", about, t),
            "states" => self.state(about, t),
            "held" => {
                let mut open = self.job.into_iter().flat_map(|(on_board, _)| &on_board.blockers);
                open.any(|one| one.blocker.to_string() == about).then(|| t.say("is-held-up"))
            }
            "tight" => {
                let (key, _) = about.rsplit_once('.')?;
                let tight = |one: &&Position| one.position == key && one.tightness() == Tightness::Final;
                self.strip.positions.iter().find(tight).map(|one| t.fill("said-of", "what", &one.what))
            }
            "fluid" => {
                let mut fluids = self.job.into_iter().flat_map(|(_, whole)| &whole.fluids);
                let line = fluids.find(|line| fluid_act::is_all(line, about));
                line.map(|line| t.fill("said-of", "what", fluid_act::name(line)))
            }
            "finish" => {
                let finished = |stage: &&Stage| stage.stage == about && stage.state() == StageState::Finished;
                self.stages().find(finished).map(|stage| t.fill("stage-finished", "stage", &stage.title))
            }
            _ => self.said_of(about, t),
        };
        words.map(|words| Undo { what: what.to_owned(), words })
    }

    /// Steps that are as they were ticked, and the end of their stage when that went with them.
    fn ticked(self, ended: bool, about: &str, t: &Texts) -> Option<String> {
        let mut parts = about.split('.');
        let (key, steps) = (parts.next()?, parts.next()?);
        let steps: Vec<i32> = steps.split(',').filter_map(|step| step.parse().ok()).collect();
        let (first, last) = (*steps.first()?, *steps.last()?);
        let state = if ended { StageState::Finished } else { StageState::Active };
        let stage = self.stages().find(|stage| stage.stage == key && stage.state() == state)?;
        let done = |number: &i32| stage.steps.iter().any(|one| one.step == *number && one.state() == StepState::Done);
        let words = match (ended, first == last) {
            (true, _) => t.fill("stage-finished", "stage", &stage.title),
            (_, true) => t.fill("step-ticked", "step", &last.to_string()),
            _ => t.with("steps-ticked", &[("from", first.into()), ("to", last.into())]),
        };
        steps.iter().all(done).then_some(words)
    }

    /// A state that the vehicle is in by word of mouth.
    fn state(self, about: &str, t: &Texts) -> Option<String> {
        let state: i32 = about.split_once('.')?.0.parse().ok()?;
        let mut all = self.job.into_iter().flat_map(|(_, whole)| &whole.states);
        let word = VehicleState::try_from(state).unwrap_or_default().as_str_name();
        all.any(|line| line.state == state && line.step == 0).then(|| t.fill("said-of", "what", &t.word(word)))
    }

    /// Positions of which something was said.
    fn said_of(self, keys: &str, t: &Texts) -> Option<String> {
        let find = |key: &str| self.strip.positions.iter().find(|one| one.position == key);
        let found: Vec<&Position> = keys.split(',').filter_map(find).filter(|one| !strip::is_unsaid(one)).collect();
        let names: Vec<&str> = found.iter().map(|one| one.what.as_str()).collect();
        (!names.is_empty()).then(|| t.fill("said-of", "what", &names.join(", ")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use leadhand_sdk::v1::{Step, VehicleStateLine};

    fn job(state: StageState, steps: &[StepState]) -> (BoardJob, GetJobResponse) {
        let steps = (1..).zip(steps).map(|(step, state)| Step { step, state: (*state).into(), ..Step::default() });
        let (title, state) = ("Strip".to_owned(), state.into());
        let stage = Stage { stage: "strip".into(), title, state, steps: steps.collect(), ..Stage::default() };
        (BoardJob::default(), GetJobResponse { stages: vec![stage], ..GetJobResponse::default() })
    }

    fn words(job: &(BoardJob, GetJobResponse), what: &str) -> Option<String> {
        let strip = GetStripResponse::default();
        let undo = Touched { job: Some(job), strip: &strip }.undo(what, &Texts::of("en-GB"))?;
        Some(undo.words.replace(['\u{2068}', '\u{2069}'], ""))
    }

    #[test]
    fn steps_of_one_touch_are_taken_back_by_one_while_all_of_them_are_done() {
        use StepState::{Done, Pending};
        let two = job(StageState::Active, &[Done, Done, Pending]);
        assert_eq!(words(&two, "ticks.strip.1,2.nuts").unwrap(), "Steps 1 to 2 are done.");
        assert_eq!(words(&two, "ticks.strip.2").unwrap(), "Step 2 is done.");
        for other in ["ticks.strip.1,2,3", "ticks.fill.1", "ended.strip.1,2", "ticks.strip", "ticks.strip.", "ticks"] {
            assert_eq!(words(&two, other), None, "{other}");
        }
        let ended = job(StageState::Finished, &[Done, Done]);
        assert_eq!(words(&ended, "ended.strip.1,2").unwrap(), "Strip: finished.");
        assert_eq!(words(&ended, "ticks.strip.1,2"), None);
    }

    #[test]
    fn a_state_is_taken_back_while_it_is_what_was_said_last() {
        let mut one = job(StageState::Active, &[]);
        let (cold, warm) = (VehicleState::BatteryIsolated, VehicleState::BatteryConnected);
        let what = format!("states.{}.{}", i32::from(cold), i32::from(warm));
        assert_eq!(words(&one, &what), None);
        one.1.states = vec![VehicleStateLine { state: cold.into(), step: 0, ..VehicleStateLine::default() }];
        assert!(words(&one, &what).is_some());
        one.1.states[0].step = 2;
        assert_eq!(words(&one, &what), None, "a step brought it about since");
        assert_eq!(words(&one, "states.x.1"), None);
    }
}
