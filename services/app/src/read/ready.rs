//! What stages need in hand before they begin.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use leadhand_domain::need::Need;
use leadhand_domain::view::ready::{ReadyList, items_of, ready_list};
use leadhand_domain::view::ready_day::{Of, planned, stages_of};
use leadhand_facts::{JobNo, StageKey};
use std::collections::BTreeSet;

impl App {
    /// What these stages need, with the words that it refers to.
    pub async fn ready(&self, who: &Principal, of: Of) -> Result<(ReadyList, Words), AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        let now = reading.now();
        reading.load(&[Need::Shop, Need::OpenWindows(now), Need::Overtime(now), Need::Plan]).await?;
        let persons: Vec<_> = reading.state.persons.iter().map(|row| row.person).collect();
        let shifts = persons.iter().map(|person| Need::ShiftWindows(*person, now));
        let clockings = persons.iter().map(|person| Need::PersonClockings(*person, now));
        let needs: Vec<Need> = shifts.chain(clockings).chain(stays_of(&of, now)).collect();
        reading.load(&needs).await?;
        let jobs: Vec<Need> = jobs_of(&reading, &of, now).into_iter().map(Need::Job).collect();
        reading.load(&jobs).await?;
        // The ladders are the templates'.
        let templates = reading.state.jobs.iter().filter_map(|row| Some((row.template.clone()?, row.revision?)));
        let templates: Vec<Need> = templates.map(|(template, revision)| Need::Template(template, revision)).collect();
        reading.load(&templates).await?;
        let stages: Vec<(JobNo, StageKey)> = stages_of(&reading.state, &of, now)?;
        let stock: Vec<Need> = items_of(&reading.state, &stages).into_iter().map(Need::Stock).collect();
        reading.load(&stock).await?;
        let list = ready_list(&reading.state, &stages, now);
        let words = reading.words(list.text_ids()).await?;
        Ok((list, words))
    }
}

fn stays_of(of: &Of, now: leadhand_facts::Instant) -> Option<Need> {
    match of {
        Of::Bay(bay) => Some(Need::BayStays(bay.clone(), now)),
        _ => None,
    }
}

/// The jobs that have to be seen.
fn jobs_of(reading: &Reading, of: &Of, now: leadhand_facts::Instant) -> BTreeSet<JobNo> {
    let state = &reading.state;
    let mut jobs: BTreeSet<JobNo> = planned(state, of, now).into_iter().map(|(job, _)| job).collect();
    jobs.extend(match of {
        Of::Stage(job, _) | Of::Job(job) => BTreeSet::from([*job]),
        Of::Bay(bay) => state.stays.iter().filter(|row| row.bay == *bay).map(|row| row.job).collect(),
        Of::Person(person) => {
            let open = state.clockings.iter().filter(|row| row.person == *person && row.until_at.is_none());
            open.map(|row| row.job).collect()
        }
    });
    jobs
}
