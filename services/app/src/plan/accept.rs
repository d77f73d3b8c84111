//! Accepting a plan: what has moved since it was made, and what the auditor says to it, before the writer decides.

use super::{Shop, each_once};
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::writer::{Outcome, Write};
use leadhand_auditor::plan::check_plan;
use leadhand_domain::command::AcceptPlan;
use leadhand_domain::decide::{plan_form, plan_stands};
use leadhand_domain::look;
use leadhand_domain::need::Need;
use leadhand_domain::plan::words::Clock;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::state::State;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::plan::Plan;
use leadhand_facts::{JobNo, StageKey};
use std::collections::BTreeSet;

/// A plan that was proposed longer ago than so many minutes is outdated by that alone: what it has begin at once has not.
const OLD_MINUTES: i64 = 60;
/// Older than this it is not looked at any more.
const OLDEST_MINUTES: i64 = 24 * 60;
/// So much of what has moved, or can't be done, is told.
const TOLD: usize = 3;

impl App {
    /// Accepts a plan. What stands against it counts only when the request is new: a repeat gets its first answer.
    pub async fn accept_plan(&self, who: &Principal, mut write: Write, plan: AcceptPlan) -> Result<Outcome, AppError> {
        write.against = self.against(who, &plan).await?;
        self.execute(who, write, plan).await
    }

    /// What stands against a plan as things are; nothing where the rules have something against its form.
    async fn against(&self, who: &Principal, asked: &AcceptPlan) -> Result<Option<Refusal>, AppError> {
        let reading = crate::read::Reading::begin(self, who.shop).await?;
        let (head, now) = (reading.snapshot.head.number, reading.now());
        reading.snapshot.end().await?;
        if asked.made_n < 1 || asked.made_n > head || asked.made_at > now {
            return Ok(None);
        }
        let age = now.since_us(asked.made_at) / MINUTE_US;
        if age > OLDEST_MINUTES {
            return Ok(Some(Refusal::PlanUnlawful { what: "it was made more than a day ago".to_owned() }));
        }
        let mut shop = Shop::load(self, who, Some(asked.made_at)).await?;
        if known(&mut shop, asked).await.is_err() {
            return Ok(None);
        }
        // What is accepted already has nothing against it; the rules say that it was so.
        if plan_stands(&shop.reading.state, asked) {
            return Ok(None);
        }
        let mut moved = shop.moved_since(asked.made_n, false).await?;
        if age > OLD_MINUTES {
            moved.push(format!("{age} min have passed"));
        }
        if !moved.is_empty() && !asked.even_if_outdated {
            return Ok(Some(outdated(asked.made_n, &moved)));
        }
        let mut input = shop.input();
        input.number = asked.made_n;
        let state = &shop.reading.state;
        let stages = asked.stages.iter().filter(|row| goes_on(state, row.job, &row.stage)).cloned().collect();
        let open = |job: JobNo| look::job(state, job).is_ok_and(|row| row.closed_at.is_none());
        let visits = asked.visits.iter().filter(|row| open(row.job)).cloned().collect();
        let plan = Plan { number: asked.made_n, stages, visits };
        let mut faults = check_plan(&input, &plan);
        // Of an outdated plan that is wanted all the same, stages may have started since that it begins later.
        faults.retain(|fault| !(asked.even_if_outdated && fault.is_late()));
        let clock = Clock::of(&shop.reading.state, now)?;
        shop.reading.snapshot.end().await?;
        let mut told = each_once(faults.iter().map(|fault| clock.tell(&told(&plan, fault))));
        told.truncate(TOLD);
        Ok((!told.is_empty()).then(|| Refusal::PlanUnlawful { what: told.join("; ") }))
    }
}

/// Whether its form is right and what it names is there; the rest is for the writer to refuse.
async fn known(shop: &mut Shop, asked: &AcceptPlan) -> Result<(), AppError> {
    // Jobs that are over are not loaded with the open ones.
    let (stages, visits) = (asked.stages.iter().map(|row| row.job), asked.visits.iter().map(|row| row.job));
    let named: BTreeSet<JobNo> = stages.chain(visits).chain(asked.jobs.iter().map(|row| row.job)).collect();
    let missing = named.into_iter().filter(|job| shop.reading.state.jobs.get(&(*job,)).is_none());
    let missing: Vec<Need> = missing.map(Need::Job).collect();
    shop.reading.load(&missing).await?;
    let now = shop.reading.now();
    let even_if_outdated = AcceptPlan { even_if_outdated: true, ..asked.clone() };
    Ok(plan_form(&shop.reading.state, &even_if_outdated, now)?)
}

/// What has moved, the first few by name.
fn outdated(made_n: i64, moved: &[String]) -> Refusal {
    let count = match moved.len() {
        1 => "1 thing has".to_owned(),
        many => format!("{many} things have"),
    };
    let more = if moved.len() > TOLD { ", and more" } else { "" };
    let first: Vec<&str> = moved.iter().take(TOLD).map(String::as_str).collect();
    Refusal::PlanOutdated { made_n, count, moved: format!("{}{more}", first.join(", ")) }
}

/// Whether there is something left to plan of a stage; what nobody knows is for the rules to refuse.
fn goes_on(state: &State, job: JobNo, stage: &StageKey) -> bool {
    let open = look::job(state, job).is_ok_and(|row| row.closed_at.is_none());
    open && look::stage(state, job, stage).is_ok_and(|row| !look::is_ended(row))
}

fn told(plan: &Plan, fault: &leadhand_auditor::plan::PlanFault) -> String {
    match &fault.stage {
        Some(stage) => format!("stage '{stage}' of job {}: {}", fault.job, fault.sentence),
        None if fault.job.0 > 0 => format!("job {}: {}", fault.job, fault.sentence),
        None => format!("plan {}: {}", plan.number, fault.sentence),
    }
}
