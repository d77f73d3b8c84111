//! What has moved since a plan was made: the facts that a plan is made from, and what they say in words.

use super::parts;
use crate::apply::job_of;
use crate::look;
use crate::state::State;
use leadhand_facts::calendar::CalendarChange;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::plan::ON_TIME_MINUTES;
use leadhand_facts::{Entry, Fact, JobNo, StageKey};

/// Kinds of facts that may change what a plan is made from. What is not named here (readings, positions, texts, tokens,
/// stock apart from [`STOCK_KINDS`]) leaves it as it is.
pub const KINDS: &[&str] = &[
    "calendar_set",
    "bay_added",
    "bay_corrected",
    "person_added",
    "person_forgotten",
    "skills_set",
    "yard_set",
    "vehicle_described",
    "job_opened",
    "job_promised",
    "job_completed",
    "job_cancelled",
    "job_reopened",
    "vehicle_placed",
    "vehicle_left",
    "stay_corrected",
    "stage_added",
    "stage_started",
    "stage_finished",
    "stage_skipped",
    "stage_reopened",
    "step_added",
    "blocker_raised",
    "blocker_cleared",
    "blocker_owned",
    "clocked_on",
    "work_recorded",
    "clocking_withdrawn",
    "tool_added",
    "tool_retired",
    "tool_lent",
    "tool_returned",
    "loan_reopened",
    "shortage_opened",
    "shortage_changed",
    "supplier_set",
    "item_supplier_set",
    "plan_accepted",
    "stage_pinned",
    "stage_unpinned",
    "overtime_opened",
    "overtime_closed",
];

/// Kinds of facts about stock that may: only where stages want what they are about, and nobody set it aside for them.
pub const STOCK_KINDS: &[&str] = &["moved", "lot_expired", "reserved"];

/// What a fact moved, in words; nothing when a plan stays as good as it was. With `followed`, what happens as the accepted
/// plan has it moves nothing.
pub fn moved(state: &State, entry: &Entry, followed: bool) -> Option<String> {
    if followed && as_planned(state, entry) || gone(state, &entry.fact) {
        return None;
    }
    of_job(entry).or_else(|| of_shop(&entry.fact)).or_else(|| of_stock(state, &entry.fact))
}

/// Whether it is about a job that is over, and does not end it: that it is over says enough.
fn gone(state: &State, fact: &Fact) -> bool {
    let ends = matches!(fact, Fact::JobCompleted { .. } | Fact::JobCancelled { .. });
    let open = |job: JobNo| look::job(state, job).is_ok_and(|row| row.closed_at.is_none());
    let job = if let Fact::JobOpened { job, .. } = fact { Some(*job) } else { job_of(fact) };
    !ends && job.is_some_and(|job| !open(job))
}

fn of_job(entry: &Entry) -> Option<String> {
    let stage = |job: &JobNo, stage: &StageKey, what: &str| Some(format!("{stage} of job {job} {what}"));
    let of = |job: &JobNo, what: &str| Some(format!("job {job} {what}"));
    match &entry.fact {
        Fact::JobOpened { job, .. } => of(job, "was opened"),
        Fact::JobPromised { job, .. } => of(job, "has another promise or urgency"),
        Fact::JobCompleted { job, .. } => of(job, "was handed over"),
        Fact::JobCancelled { job, .. } => of(job, "was called off"),
        Fact::JobReopened { job, .. } => of(job, "was taken up again"),
        Fact::VehiclePlaced { job, bay, .. } => of(job, &format!("came into bay {bay}")),
        Fact::VehicleLeft { job, bay, .. } => of(job, &format!("left bay {bay}")),
        Fact::StayCorrected { job, .. } => of(job, "was said to stand elsewhere"),
        Fact::StageAdded { job, stage: added, .. } => stage(job, &added.stage, "was added"),
        Fact::StageStarted { job, stage: key, .. } => stage(job, key, "was started"),
        Fact::StageFinished { job, stage: key, .. } => stage(job, key, "was finished"),
        Fact::StageSkipped { job, stage: key, .. } => stage(job, key, "was left out"),
        Fact::StageReopened { job, stage: key, .. } => stage(job, key, "was taken up again"),
        Fact::StepAdded { job, stage: key, .. } => stage(job, key, "got another step"),
        Fact::BlockerRaised { job, stage: key, cause, .. } => stage(job, key, &format!("is held up ({cause})")),
        Fact::BlockerCleared { job, .. } => of(job, "has a blocker less"),
        Fact::BlockerOwned { job, .. } => of(job, "has a blocker that ends at another time"),
        Fact::ClockedOn { job, stage: key, .. } => stage(job, key, "has somebody on it"),
        Fact::WorkRecorded { job, stage: key, .. } => stage(job, key, "has other time on it"),
        Fact::ClockingWithdrawn { job, stage: key, .. } => stage(job, key, "has less time on it"),
        Fact::ShortageOpened { wanter, item, .. } => {
            stage(&wanter.job, &wanter.stage, &format!("is short of '{item}'"))
        }
        Fact::ShortageChanged { wanter, item, left, .. } if left.0 == 0 => {
            stage(&wanter.job, &wanter.stage, &format!("has '{item}' now"))
        }
        Fact::StagePinned { job, stage: key, .. } => stage(job, key, "was pinned"),
        Fact::StageUnpinned { job, stage: key } => stage(job, key, "is no longer pinned"),
        _ => None,
    }
}

fn of_shop(fact: &Fact) -> Option<String> {
    Some(match fact {
        Fact::CalendarSet { change: CalendarChange::Extended { .. }, .. } => return None,
        Fact::CalendarSet { person: None, .. } => "the shop's hours changed".to_owned(),
        Fact::CalendarSet { .. } => "somebody's shift changed".to_owned(),
        Fact::BayAdded { bay, .. } => format!("bay {bay} was added"),
        Fact::BayCorrected { bay, .. } => format!("bay {bay} is said to be otherwise"),
        Fact::PersonAdded { .. } => "somebody was added".to_owned(),
        Fact::PersonForgotten { .. } => "somebody was forgotten".to_owned(),
        Fact::SkillsSet { .. } => "somebody's skills changed".to_owned(),
        Fact::YardSet { .. } => "there is other room outside, or moving takes another time".to_owned(),
        Fact::VehicleDescribed { weight_kg: Some(_), .. } => "a vehicle's weight was said".to_owned(),
        Fact::ToolAdded { tool, .. } => format!("shared tool {tool} was added"),
        Fact::ToolRetired { tool, .. } => format!("shared tool {tool} is used no longer"),
        Fact::ToolLent { tool, person: Some(_), .. } => format!("shared tool {tool} was lent"),
        Fact::ToolReturned { tool, .. } => format!("shared tool {tool} came back"),
        Fact::LoanReopened { tool, .. } => format!("shared tool {tool} is elsewhere than was said"),
        Fact::SupplierSet { supplier, .. } => format!("supplier {supplier} delivers otherwise"),
        Fact::ItemSupplierSet { item, .. } => format!("'{item}' comes from another supplier"),
        Fact::PlanAccepted { .. } => "another plan was accepted".to_owned(),
        Fact::OvertimeOpened { .. } => "overtime was opened".to_owned(),
        Fact::OvertimeClosed { .. } => "overtime was closed".to_owned(),
        _ => return None,
    })
}

/// Stock that came or went where more of it is wanted than is free.
fn of_stock(state: &State, fact: &Fact) -> Option<String> {
    match fact {
        Fact::Moved { item, from_place, to_place, quantity, wanter: None, .. } => {
            let (from, to) = (parts::is_bin(state, from_place), parts::is_bin(state, to_place));
            let came = if to && !from { quantity.0 } else { 0 };
            let told = if came > 0 { "came in" } else { "left the shelf" };
            (from != to && parts::matters(state, item, came)).then(|| format!("'{item}' {told}, which stages want"))
        }
        Fact::LotExpired { item, .. } if parts::matters(state, item, 0) => {
            Some(format!("'{item}' is past its day, and stages want it"))
        }
        Fact::Reserved { wanter, item, .. } if parts::matters(state, item, 0) => {
            Some(format!("'{item}' was set aside for job {}, and others want it", wanter.job))
        }
        _ => None,
    }
}

/// Whether the accepted plan has it so: a stage that begins or ends about when it was to, with its people, and a vehicle
/// that goes where it was to go.
fn as_planned(state: &State, entry: &Entry) -> bool {
    let near =
        |planned: leadhand_facts::Instant| entry.happened_at.since_us(planned).abs() <= ON_TIME_MINUTES * MINUTE_US;
    let row = |job: &JobNo, stage: &StageKey| state.plan_stages.get(&(*job, stage.clone()));
    match &entry.fact {
        Fact::StageStarted { job, stage, .. } => row(job, stage).is_some_and(|row| near(row.from_at)),
        Fact::StageFinished { job, stage, .. } => row(job, stage).is_some_and(|row| near(row.until_at)),
        Fact::ClockedOn { job, stage, person, .. } => row(job, stage).is_some_and(|row| {
            let begun = entry.happened_at.since_us(row.from_at) >= -ON_TIME_MINUTES * MINUTE_US;
            row.people.contains(person) && begun
        }),
        Fact::VehiclePlaced { job, bay, .. } => visits(state, *job).any(|row| row.bay == *bay && near(row.from_at)),
        Fact::VehicleLeft { job, bay, .. } => visits(state, *job).any(|row| row.bay == *bay && near(row.until_at)),
        // Its own acceptance, also one said before.
        Fact::PlanAccepted { made_n, made_at, .. } => {
            state.plan.get(&()).is_some_and(|row| (row.made_n, row.made_at) == (*made_n, *made_at))
        }
        _ => false,
    }
}

fn visits(state: &State, job: JobNo) -> impl Iterator<Item = &leadhand_facts::rows::PlanVisitRow> {
    state.plan_visits.from_key((job, leadhand_facts::Instant(i64::MIN))).take_while(move |row| row.job == job)
}
