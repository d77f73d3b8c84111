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
                span = self.fit(stage, &team, (ready, i32::MAX), overtime, bay);
            }
            if span.is_none() {
                team.clear();
                span = self.choose(stage, &mut team, ready, gene, bay);
            }
        } else {
            span = self.fit(stage, &team, (ready, i32::MAX), overtime, bay);
        }
        if stage.started && !overtime && stage.hands > 0 && team.len() == stage.hands {
            // It goes on while they are there, in overtime too.
            let longer = self.fit(stage, &team, (ready, i32::MAX), true, bay);
            let sooner = |span: &Span| longer.is_none_or(|longer| span.from <= longer.from);
            span = span.filter(sooner).or(longer);
        }
        self.team = team;
        span
    }

    /// Whether nothing but the hours of its people keeps a stage from going on before a moment.
    pub(super) fn waits_for_hours(&self, stage: &Stage, from: i32) -> bool {
        let person = |&p: &u32| &self.model.people[p as usize];
        let all: Vec<&[Span]> = self.team.iter().map(|p| person(p).all.as_slice()).collect();
        let normal: Vec<&[Span]> = self.team.iter().map(|p| person(p).normal.as_slice()).collect();
        let first = |own: &[&[Span]]| Some(work_from(own, 0, stage.minutes, stage.may_pause)?.from);
        [first(&all), first(&normal)].into_iter().flatten().min() == Some(from)
    }

    /// Whoever is finished earliest, ties to the least versatile; or the next ones, as the gene says.
    fn choose(&mut self, stage: &Stage, team: &mut Vec<u32>, ready: i32, gene: u16, bay: Option<u32>) -> Option<Span> {
        let overtime = genes::overtime(gene);
        // The best so far by finish; alike ones in the order of the crew, which has the least versatile first.
        let mut best = std::mem::take(&mut self.choices);
        best.clear();
        let wanted = genes::person(gene) + stage.hands;
        let soonest = ready.saturating_add(stage.minutes);
        for &p in stage.crew.iter() {
            let limit = if best.len() < wanted { i32::MAX } else { best[wanted - 1].0 };
            if limit <= soonest {
                break;
            }
            if let Some(span) = self.fit(stage, &[p], (ready, limit), overtime, bay) {
                let at = best.partition_point(|&(until, ..)| until <= span.until);
                best.truncate(wanted - 1);
                best.insert(at, (span.until, 0, p));
            }
        }
        let skip = genes::person(gene).min(best.len().saturating_sub(stage.hands));
        team.extend(best.iter().skip(skip).take(stage.hands).map(|&(_, _, p)| p));
        team.sort_unstable();
        self.choices = best;
        if team.len() < stage.hands { None } else { self.fit(stage, team, (ready, i32::MAX), overtime, bay) }
    }

    /// The earliest span from `ready` on in which these people, its tools and its bay are free for a stage, if it is
    /// over before a limit.
    pub(super) fn fit(
        &self,
        stage: &Stage,
        team: &[u32],
        (ready, limit): (i32, i32),
        overtime: bool,
        bay: Option<u32>,
    ) -> Option<Span> {
        let mut calendars: [&[Span]; MOST_HANDS] = [&[]; MOST_HANDS];
        for (slot, &p) in calendars.iter_mut().zip(team) {
            let person = &self.model.people[p as usize];
            *slot = if overtime { &person.all } else { &person.normal };
        }
        let calendars = calendars.get(..team.len())?;
        let limit = limit.min(self.model.clock.end.saturating_add(1));
        let mut at = ready;
        loop {
            let soonest = at.checked_add(stage.minutes)?;
            if soonest >= limit {
                return None;
            }
            let span = if stage.hands == 0 {
                Span { from: at, until: soonest }
            } else {
                work_from(calendars, at, stage.minutes, stage.may_pause)?
            };
            if span.until >= limit {
                return None;
            }
            let mut later = None;
            for &p in team {
                later = later.max(self.clash(p as usize, span));
            }
            for &t in &stage.tools {
                later = later.max(self.clash(self.tool(t), span));
                if self.model.tools_with[t as usize].is_some() {
                    later = later.max(meets(self.model.tool_away(t, team), span));
                }
            }
            if let Some(bay) = bay {
                later = later.max(self.clash(self.bay(bay), span));
            }
            match later {
                Some(later) => at = later,
                None => return Some(span),
            }
        }
    }

    /// When the first of what is booked is over that meets a span.
    fn clash(&self, what: usize, span: Span) -> Option<i32> {
        meets(&self.booked[what], span)
    }
}

/// When the first of some spans is over that meets another.
fn meets(booked: &[Span], span: Span) -> Option<i32> {
    let next = booked.get(booked.partition_point(|b| b.until <= span.from))?;
    next.meets(span).then_some(next.until)
}
