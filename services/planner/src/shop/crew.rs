//! Who does a stage, and when they and its tools and bay are free for it.

use super::calendar::{Span, work_from};
use super::genes;
use super::model::{MOST_HANDS, Stage};
use super::place::Placer;

impl Placer<'_, '_> {
    /// The people for a stage and when they could do it, from `ready` on; the people in `self.team`.
    pub(super) fn crew_up(&mut self, i: u32, gene: u16, ready: i32, bay: Option<u32>) -> Option<Span> {
        let stage = &self.model.stages[i as usize];
        let overtime = genes::overtime(gene);
        let mut team = std::mem::take(&mut self.team);
        team.clear();
        team.extend_from_slice(&stage.fixed);
        let mut span = None;
        if team.is_empty() && stage.hands > 0 {
            let accepted = stage.accepted.as_ref().filter(|a| {
                genes::sticks(gene) && a.people.len() == stage.hands && a.people.iter().all(|p| stage.crew.contains(p))
            });
            if let Some(accepted) = accepted {
                team.extend_from_slice(&accepted.people);
                span = self.fit(stage, &team, ready, overtime, bay);
            }
            if span.is_none() {
                team.clear();
                span = self.choose(stage, &mut team, ready, gene, bay);
            }
        } else {
            span = self.fit(stage, &team, ready, overtime, bay);
        }
        self.team = team;
        span
    }

    /// Whoever is finished earliest, ties to the least versatile; or the next ones, as the gene says.
    fn choose(&mut self, stage: &Stage, team: &mut Vec<u32>, ready: i32, gene: u16, bay: Option<u32>) -> Option<Span> {
        let overtime = genes::overtime(gene);
        let mut choices = std::mem::take(&mut self.choices);
        choices.clear();
        for &p in &stage.crew {
            if let Some(span) = self.fit(stage, &[p], ready, overtime, bay) {
                choices.push((span.until, self.model.people[p as usize].versatility, p));
            }
        }
        choices.sort_unstable();
        let skip = genes::person(gene).min(choices.len().saturating_sub(stage.hands));
        team.extend(choices.iter().skip(skip).take(stage.hands).map(|&(_, _, p)| p));
        team.sort_unstable();
        self.choices = choices;
        if team.len() < stage.hands { None } else { self.fit(stage, team, ready, overtime, bay) }
    }

    /// The earliest span from `ready` on in which these people, its tools and its bay are free for a stage.
    fn fit(&self, stage: &Stage, team: &[u32], ready: i32, overtime: bool, bay: Option<u32>) -> Option<Span> {
        let mut calendars: [&[Span]; MOST_HANDS] = [&[]; MOST_HANDS];
        for (slot, &p) in calendars.iter_mut().zip(team) {
            let person = &self.model.people[p as usize];
            *slot = if overtime { &person.all } else { &person.normal };
        }
        let calendars = calendars.get(..team.len())?;
        let mut at = ready;
        loop {
            let span = if stage.hands == 0 {
                Span { from: at, until: at.checked_add(stage.minutes)? }
            } else {
                work_from(calendars, at, stage.minutes, stage.may_pause)?
            };
            let held = team.iter().map(|&p| p as usize);
            let held = held.chain(stage.tools.iter().map(|&t| self.tool(t))).chain(bay.map(|b| self.bay(b)));
            let clash = |r: usize| {
                let booked = &self.booked[r];
                let next = booked.get(booked.partition_point(|b| b.until <= span.from))?;
                next.meets(span).then_some(next.until)
            };
            match held.filter_map(clash).max() {
                Some(later) => at = later,
                None => return (span.until <= self.model.clock.end).then_some(span),
            }
        }
    }
}
