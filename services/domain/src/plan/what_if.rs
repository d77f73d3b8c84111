//! What if: any change to what a plan is made from, which touches nothing.

use crate::refusal::Refusal;
use leadhand_facts::plan::{PlanInput, PlanJob, PlanStage, PlanTechnician};
use leadhand_facts::{BayKey, Instant, JobNo, PersonId, StageKey, Window};

/// One thing that is taken for otherwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// The parts of a stage are there from then on; no time: they are there.
    PartsFrom {
        /// Whose.
        job: JobNo,
        /// Which.
        stage: StageKey,
        /// From when on.
        at: Option<Instant>,
    },
    /// What holds a stage up ends then; no time: it is over.
    BlockerEnds {
        /// Whose.
        job: JobNo,
        /// Which.
        stage: StageKey,
        /// When.
        at: Option<Instant>,
    },
    /// One more hand that can do what somebody can, in that time.
    OneMoreHand {
        /// Like whom.
        like: PersonId,
        /// When.
        window: Window,
    },
    /// Somebody does not work in that time.
    Away {
        /// Who.
        person: PersonId,
        /// When.
        window: Window,
    },
    /// A bay can't be used in that time.
    BayClosed {
        /// Which.
        bay: BayKey,
        /// When.
        window: Window,
    },
    /// A job's vehicle may be rolled out between any two of its stages, where there is room outside.
    RollOut {
        /// Whose.
        job: JobNo,
    },
    /// A job is promised for then, or not at all.
    Promise {
        /// Which.
        job: JobNo,
        /// When.
        at: Option<Instant>,
    },
    /// A job is so urgent, 1 first.
    Priority {
        /// Which.
        job: JobNo,
        /// How urgent.
        priority: i32,
    },
    /// Overtime of somebody in that time.
    Overtime {
        /// Whose.
        person: PersonId,
        /// When.
        window: Window,
    },
    /// A job is not there.
    Without {
        /// Which.
        job: JobNo,
    },
}

/// Most changes of one question.
pub const CHANGES_MAX: usize = 50;

/// Makes the changes in what a plan is made from, in their order; refuses what names nothing, with its place.
pub fn change(input: &mut PlanInput, changes: &[Change]) -> Result<(), Refusal> {
    if changes.len() > CHANGES_MAX {
        let why = format!("it has {} entries; ask with at most {CHANGES_MAX} at a time", changes.len());
        return Err(Refusal::invalid("changes", why));
    }
    for (place, one) in changes.iter().enumerate() {
        make(input, one, place)?;
    }
    Ok(())
}

fn make(input: &mut PlanInput, one: &Change, place: usize) -> Result<(), Refusal> {
    match one {
        Change::PartsFrom { job, stage, at } => stage_of(input, *job, stage)?.parts_from = *at,
        Change::BlockerEnds { job, stage, at } => {
            let row = stage_of(input, *job, stage)?;
            let Some(blocker) = &mut row.blocker else {
                return Err(Refusal::NothingToDo { what: format!("end: {}", not_held(*job, stage, row.parts_from)) });
            };
            match at {
                Some(at) => (blocker.until, blocker.beside) = (Some(*at), None),
                None => row.blocker = None,
            }
        }
        Change::OneMoreHand { like, window } => one_more(input, *like, forward(*window, place)?)?,
        Change::Away { person, window } => {
            let window = forward(*window, place)?;
            let technician = technician(input, *person)?;
            technician.shifts = without(&technician.shifts, window);
            technician.overtime = without(&technician.overtime, window);
        }
        Change::BayClosed { bay, window } => {
            let window = forward(*window, place)?;
            let found = input.bays.iter_mut().find(|row| row.bay == *bay);
            found.ok_or_else(|| unknown("bay", bay.to_string(), "`leadhand bay list` shows them"))?.closed.push(window);
        }
        Change::RollOut { job } => {
            job_of(input, *job)?.stages.iter_mut().for_each(|stage| stage.may_leave = true);
        }
        Change::Promise { job, at } => job_of(input, *job)?.promised = *at,
        Change::Priority { job, priority } => {
            if !(1..=5).contains(priority) {
                let why = format!("{priority} is not from 1 (first) to 5 (when there is time)");
                return Err(Refusal::invalid(format!("changes[{place}].priority"), why));
            }
            job_of(input, *job)?.weight = super::input::weight(*priority);
        }
        Change::Overtime { person, window } => {
            let window = forward(*window, place)?;
            technician(input, *person)?.overtime.push(window);
            input.until = input.until.max(super::input::minute_of(window.until));
        }
        Change::Without { job } => {
            job_of(input, *job)?;
            input.jobs.retain(|row| row.job != *job);
            input.accepted.retain(|row| row.job != *job);
        }
    }
    Ok(())
}

/// One more hand like somebody, who may work in that time.
fn one_more(input: &mut PlanInput, like: PersonId, window: Window) -> Result<(), Refusal> {
    let skills = technician(input, like)?.skills.clone();
    // An id that no person has: those are random.
    let person = PersonId(uuid::Uuid::from_u128(input.technicians.len() as u128 + 1));
    let name = "one more hand".to_owned();
    input.technicians.push(PlanTechnician { person, name, skills, shifts: vec![window], overtime: Vec::new() });
    Ok(())
}

/// What is left of windows when a stretch is taken out of them.
fn without(windows: &[Window], gone: Window) -> Vec<Window> {
    let parts = |window: &Window| {
        let before = Window { from: window.from, until: window.until.min(gone.from) };
        let behind = Window { from: window.from.max(gone.until), until: window.until };
        [before, behind]
    };
    windows.iter().flat_map(parts).filter(|window| window.from < window.until).collect()
}

/// That no blocker holds a stage up, and what does.
fn not_held(job: JobNo, stage: &StageKey, parts_from: Option<Instant>) -> String {
    let parts = if parts_from.is_some() { "; it waits for its parts, so ask with those" } else { "" };
    format!("no blocker holds up stage '{stage}' of job {job}{parts}")
}

fn forward(window: Window, place: usize) -> Result<Window, Refusal> {
    if window.from < window.until {
        return Ok(window);
    }
    Err(Refusal::invalid(format!("changes[{place}].until_at"), "it is not later than from_at; give a later time"))
}

fn job_of(input: &mut PlanInput, job: JobNo) -> Result<&mut PlanJob, Refusal> {
    let found = input.jobs.iter_mut().find(|row| row.job == job);
    found.ok_or_else(|| unknown("open job", job.to_string(), "`leadhand job list` shows them"))
}

fn stage_of<'a>(input: &'a mut PlanInput, job: JobNo, stage: &StageKey) -> Result<&'a mut PlanStage, Refusal> {
    let found = job_of(input, job)?.stages.iter_mut().find(|row| row.stage == *stage);
    found.ok_or_else(|| unknown("stage", format!("{stage}' of job '{job}"), "`leadhand job show` lists them"))
}

fn technician(input: &mut PlanInput, person: PersonId) -> Result<&mut PlanTechnician, Refusal> {
    let found = input.technicians.iter_mut().find(|row| row.person == person);
    found.ok_or_else(|| {
        unknown("technician", person.to_string(), "whoever has a skill or a shift is one (`leadhand person skills`)")
    })
}

fn unknown(what: &'static str, which: String, todo: &'static str) -> Refusal {
    Refusal::Unknown { what, which, todo }
}
