//! What a job is late because of, in a sentence: the root cause first, then what follows from it.

use super::model::Model;
use super::place::NOWHERE;
use super::search::Found;
use leadhand_facts::instant::MINUTE_US;
use leadhand_facts::plan::{Because, Cause, PlanInput, PlanJob, PlanTool};
use leadhand_facts::{Instant, JobNo, PersonId, StageKey, ToolKey};

/// So many stages that follow each other are told by name; of more, the first ones and the last.
const NAMED: usize = 5;
/// A shop that is closed for so long has a closed day.
const DAY_US: i64 = 24 * 60 * MINUTE_US;

/// The whole chain, which comes from the last stage back. Times stand in it as instants.
pub(super) fn sentence(model: &Model<'_>, found: &Found, j: usize, late: i64, because: &[Because]) -> String {
    if late == 0 {
        return String::new();
    }
    let teller = Teller { model, found };
    let chain: Vec<&Because> = because.iter().rev().collect();
    let mut parts = Vec::new();
    let mut at = 0;
    while at < chain.len() {
        let follows =
            |k: usize| k > 0 && chain[k].job == chain[k - 1].job && matches!(chain[k].cause, Cause::Stage { .. });
        let run = (at..chain.len()).take_while(|&k| follows(k)).count();
        if run == 0 {
            parts.push(teller.begins(chain[at]));
            at += 1;
        } else {
            parts.push(format!("then {}", teller.run(&chain[at..at + run])));
            at += run;
        }
    }
    format!("{} is {} late because {}.", model.input.jobs[j].name, length(late), parts.join("; "))
}

/// Since when the shop is closed that opens at a moment, where that is a whole day or more.
pub(super) fn closed_since(input: &PlanInput, opens: Instant) -> Option<Instant> {
    let open = input.shop.iter().any(|hours| hours.from < opens && opens < hours.until);
    let before = input.shop.iter().filter(|hours| hours.until <= opens).map(|hours| hours.until).max()?;
    (!open && opens.since_us(before) >= DAY_US).then_some(before)
}

/// Minutes as people say them.
pub(super) fn length(minutes: i64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, minutes) => format!("{hours} h {minutes:02} min"),
    }
}

struct Teller<'m, 'i> {
    model: &'m Model<'i>,
    found: &'m Found,
}

impl Teller<'_, '_> {
    fn job(&self, no: JobNo) -> Option<&PlanJob> {
        self.model.input.jobs.iter().find(|job| job.job == no)
    }

    fn name(&self, no: JobNo) -> String {
        self.job(no).map_or_else(|| format!("job {no}"), |job| job.name.clone())
    }

    fn title(&self, no: JobNo, stage: &StageKey) -> String {
        let found = self.job(no).and_then(|job| job.stages.iter().find(|row| row.stage == *stage));
        found.map_or_else(|| stage.to_string(), |row| row.title.clone())
    }

    fn person(&self, person: PersonId) -> &str {
        let technicians = &self.model.input.technicians;
        technicians.iter().find(|one| one.person == person).map_or("somebody", |one| one.name.as_str())
    }

    fn whole(&self, no: JobNo, stage: &StageKey) -> String {
        format!("{} of {}", self.title(no, stage), self.name(no))
    }

    /// A shared tool of the stage that somebody has when it begins: nobody else can do it before the tool is back.
    fn tool_with(&self, link: &Because, person: PersonId) -> Option<&ToolKey> {
        let row = self.job(link.job)?.stages.iter().find(|row| row.stage == link.stage)?;
        let has = |tool: &&PlanTool| {
            row.tools.contains(&tool.tool)
                && tool.with == Some(person)
                && tool.away.iter().any(|away| away.from <= link.from && link.from < away.until)
        };
        self.model.input.tools.iter().find(has).map(|tool| &tool.tool)
    }

    /// Whether a stage of another job begins before one that lets others go first.
    fn goes_before(&self, link: &Because) -> bool {
        let other = |job: usize| self.model.input.jobs[job].job != link.job;
        let before = |at: i32| at != NOWHERE && self.model.clock.instant(at) < link.from;
        self.found.places.iter().zip(&self.model.stages).any(|(place, stage)| before(place.from) && other(stage.job))
    }

    /// Stages of one job of which each waits for the one before.
    fn run(&self, links: &[&Because]) -> String {
        let one = |link: &&Because| {
            let title = self.title(link.job, &link.stage);
            match link.cause {
                Cause::Stage { wait_minutes, .. } if wait_minutes > 0 => {
                    format!("{title} ({} later)", length(i64::from(wait_minutes)))
                }
                _ => title,
            }
        };
        let mut titles: Vec<String> = links.iter().map(one).collect();
        if titles.len() > NAMED {
            let hidden = titles.len() - 3;
            titles.splice(2..2 + hidden, [format!("{hidden} more")]);
        }
        let last = titles.pop().unwrap_or_default();
        let listed = if titles.is_empty() { last } else { format!("{} and {last}", titles.join(", ")) };
        links.first().map_or_else(String::new, |link| format!("{listed} of {}", self.name(link.job)))
    }

    /// A stage that waits for something else than the one before it in its job.
    fn begins(&self, link: &Because) -> String {
        let (what, from) = (self.whole(link.job, &link.stage), link.from);
        match &link.cause {
            Cause::Start => format!("{what} takes from now on what it takes"),
            Cause::Arrival => format!("{what} waits until {from} for the vehicle to come"),
            Cause::Parts => format!("{what} waits until {from} for its parts"),
            Cause::Blocker(cause) => format!("{what} is held up until {from} by {cause}"),
            Cause::Stage { stage, wait_minutes } => {
                let later = match i64::from(*wait_minutes) {
                    wait if wait > 0 => format!("{} ", length(wait)),
                    _ => String::new(),
                };
                format!("{what} waits until {from}, {later}behind {}", self.whole(link.job, stage))
            }
            Cause::Bay { bay, job } => {
                format!("{what} waits until {from} for bay {bay}, which {} has", self.name(*job))
            }
            Cause::Yard { bay, job } => {
                let name = self.name(*job);
                format!("{what} waits until {from} for bay {bay}, which {name} keeps, since no place outside is free")
            }
            Cause::Moved { from: Some(out), bay } => {
                format!("{what} waits until {from} for its vehicle to be moved from {out} to {bay}")
            }
            Cause::Moved { from: None, bay } => {
                format!("{what} waits until {from} for its vehicle to be brought into {bay}")
            }
            Cause::Person { person, job, stage } => {
                let has = self.tool_with(link, *person).map_or_else(String::new, |tool| format!("has {tool} and "));
                let (who, at) = (self.person(*person), self.whole(*job, stage));
                format!("{what} waits until {from} for {who}, who {has}is at {at}")
            }
            Cause::Tool { tool, job, stage } => {
                format!("{what} waits until {from} for {tool}, which {} has", self.whole(*job, stage))
            }
            Cause::Pin => format!("{what} starts {from}, as the lead said"),
            Cause::Hours => match closed_since(self.model.input, from) {
                Some(since) => format!("{what} waits until {from}, since the shop is closed from {since} on"),
                None => format!("{what} waits until {from} for working hours"),
            },
            Cause::Away { person } => {
                let has = self.tool_with(link, *person).map_or_else(String::new, |tool| format!("has {tool} and "));
                format!("{what} waits until {from} for {}, who {has}is away until then", self.person(*person))
            }
            Cause::Closed { bay } => format!("{what} waits until {from} for bay {bay}, which is closed"),
            Cause::ToolAway { tool } => {
                let has = self.model.input.tools.iter().find(|one| one.tool == *tool).and_then(|one| one.with);
                let away = has.map_or_else(|| "is away".to_owned(), |has| format!("{} has", self.person(has)));
                format!("{what} waits until {from} for {tool}, which {away}")
            }
            Cause::Order if self.goes_before(link) => format!("{what} lets others go first until {from}"),
            Cause::Order => format!("{what} begins {from} in this plan; nothing else holds it up"),
        }
    }
}
