//! A plan as tables and sentences.

use super::plan_chart::By;
use super::plan_drawing::natural;
use crate::app::App;
use crate::failure::Outcome;
use crate::moment::{self, show_length};
use crate::out::{self, Table};
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{
    ExplainJobResponse, GetPlanResponse, JobOutlook, Plan, PlanEnd, PlanNote, PlanPerson, PlannedJob, PlannedStage,
    PlannedStay, ProposePlanResponse,
};
use std::collections::{BTreeMap, BTreeSet};

/// What the stages and people of a plan are called.
pub struct Shown {
    notes: BTreeMap<(i64, String), PlanNote>,
    names: BTreeMap<String, String>,
    late: BTreeSet<i64>,
}

impl Shown {
    fn new(notes: &[PlanNote], persons: &[PlanPerson], late: BTreeSet<i64>) -> Self {
        let notes = notes.iter().map(|note| ((note.job, note.stage.clone()), note.clone())).collect();
        Self { notes, names: persons.iter().map(|row| (row.person.clone(), row.name.clone())).collect(), late }
    }

    /// Of a proposed plan.
    pub fn proposed(answer: &ProposePlanResponse) -> Self {
        let late = answer.outlooks.iter().filter(|job| job.late_minutes > 0).map(|job| job.job);
        Self::new(&answer.notes, &answer.persons, late.collect())
    }

    /// Of the accepted plan.
    pub fn accepted(answer: &GetPlanResponse) -> Self {
        Self::new(&answer.notes, &answer.persons, answer.late.iter().copied().collect())
    }

    /// Jobs that are ready later than promised.
    pub fn late(&self) -> &BTreeSet<i64> {
        &self.late
    }

    /// A stage's title.
    pub fn title(&self, row: &PlannedStage) -> String {
        self.note(row).map_or_else(|| row.stage.clone(), |note| note.title.clone())
    }

    fn note(&self, row: &PlannedStage) -> Option<&PlanNote> {
        self.notes.get(&(row.job, row.stage.clone()))
    }

    /// Somebody's name.
    pub fn name(&self, person: &str) -> String {
        self.names.get(person).cloned().unwrap_or_else(|| "somebody who was forgotten".to_owned())
    }

    /// Everybody on a stage.
    pub fn who(&self, row: &PlannedStage) -> String {
        row.people.iter().map(|person| self.name(person)).collect::<Vec<_>>().join(", ")
    }

    fn marks(&self, row: &PlannedStage) -> &'static str {
        match self.note(row) {
            Some(note) if note.started && note.pinned => "under way, pinned",
            Some(note) if note.started => "under way",
            Some(note) if note.pinned => "pinned",
            _ => "",
        }
    }
}

/// The stages, sorted by bay, person or job.
pub fn stages(app: &App, shown: &Shown, plan: &Plan, by: By, zone: &TimeZone) -> Outcome {
    app.out.table(&table(shown, plan, by, zone))
}

/// The same as a table.
pub fn table(shown: &Shown, plan: &Plan, by: By, zone: &TimeZone) -> Table {
    let first = match by {
        By::Bay => "bay",
        By::Person => "who",
        By::Job => "job",
    };
    let second = if by == By::Bay { "who" } else { "bay" };
    let header = [first, "from", "until", "job#", "stage", second, ""];
    let mut table =
        Table::new("planned stages", &header).when_empty("nothing is left to plan; 'leadhand job open' opens a job");
    let moves = moves(plan);
    let mut rows: Vec<(String, &PlannedStage)> = Vec::new();
    for row in &plan.stages {
        match by {
            By::Bay => rows.push((row.bay.clone(), row)),
            By::Job => rows.push((format!("job {}", row.job), row)),
            By::Person if row.people.is_empty() => rows.push((String::new(), row)),
            By::Person => rows.extend(row.people.iter().map(|person| (shown.name(person), row))),
        }
    }
    let stage = |(key, row): (String, &PlannedStage)| {
        let nowhere = if by == By::Bay { "no bay" } else { "waits" };
        let key = if key.is_empty() { nowhere.to_owned() } else { key };
        let other = if by == By::Bay { shown.who(row) } else { row.bay.clone() };
        let (from, until) = (short(row.from_at.as_ref(), zone), short(row.until_at.as_ref(), zone));
        let cells = [key, from, until, row.job.to_string(), shown.title(row), other, shown.marks(row).to_owned()];
        let last = row.bay.is_empty() && by == By::Bay || row.people.is_empty() && by == By::Person;
        (last, (seconds(row.from_at.as_ref()), Begins::Work), cells)
    };
    let mut lines: Vec<Line> = rows.into_iter().map(stage).collect();
    // Nobody is named for moving a vehicle.
    lines.extend(moves.iter().filter(|_| by != By::Person).map(|one| one.line(by, zone)));
    // What has no bay, or nobody, comes last.
    lines.sort_by(|(last, at, cells), (other_last, other_at, others)| {
        let key = |cells: &'_ [String; 7]| natural(&cells[0]).1.to_owned();
        let number = |cells: &[String; 7]| natural(&cells[0]).2;
        let keys = key(cells).cmp(&key(others)).then_with(|| number(cells).cmp(&number(others)));
        last.cmp(other_last).then(keys).then_with(|| at.cmp(other_at))
    });
    for (_, _, cells) in lines {
        table.row(cells);
    }
    table
}

/// Whether it comes last, when it begins, and what is said of it.
type Line = (bool, (i64, Begins), [String; 7]);

/// What begins at a time: who leaves makes room, who comes in is worked on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Begins {
    /// A vehicle leaves.
    Leaving,
    /// A vehicle comes in.
    Coming,
    /// A stage.
    Work,
}

/// A vehicle that is moved between two of its stays.
struct Move<'p> {
    stay: &'p PlannedStay,
    words: String,
    /// Whether it comes into the bay, or leaves it.
    comes: bool,
}

impl Move<'_> {
    fn line(&self, by: By, zone: &TimeZone) -> Line {
        let at = if self.comes { self.stay.from_at.as_ref() } else { self.stay.until_at.as_ref() };
        // It begins then; how long it takes is the shop's word and no part of the plan.
        let (from, until) = (short(at, zone), String::new());
        let (job, bay) = (self.stay.job, self.stay.bay.clone());
        let (key, other) = if by == By::Bay { (bay, String::new()) } else { (format!("job {job}"), bay) };
        let begins = (seconds(at), if self.comes { Begins::Coming } else { Begins::Leaving });
        (false, begins, [key, from, until, job.to_string(), self.words.clone(), other, String::new()])
    }
}

/// Vehicles that are rolled out and brought in again, or go on to another bay; what comes in for the first time is no move.
fn moves(plan: &Plan) -> Vec<Move<'_>> {
    let mut stays: BTreeMap<i64, Vec<&PlannedStay>> = BTreeMap::new();
    plan.stays.iter().for_each(|stay| stays.entry(stay.job).or_default().push(stay));
    let mut moves = Vec::new();
    for own in stays.values_mut() {
        own.sort_by_key(|stay| seconds(stay.from_at.as_ref()));
        for pair in own.windows(2) {
            let (left, entered) = (pair[0], pair[1]);
            if seconds(left.until_at.as_ref()) < seconds(entered.from_at.as_ref()) {
                moves.push(Move { stay: left, words: "(rolled out)".to_owned(), comes: false });
                moves.push(Move { stay: entered, words: "(brought in)".to_owned(), comes: true });
            } else {
                moves.push(Move { stay: entered, words: format!("(from {})", left.bay), comes: true });
            }
        }
    }
    moves
}

fn seconds(at: Option<&prost_types::Timestamp>) -> i64 {
    at.map_or(0, |at| at.seconds)
}

/// Weekday, day and minute.
fn short(at: Option<&prost_types::Timestamp>, zone: &TimeZone) -> String {
    let at = at.and_then(moment::from_wire);
    at.map(|at| at.to_zoned_datetime(zone.clone()).strftime("%a %-d %H:%M").to_string()).unwrap_or_default()
}

/// What becomes of each job, what has no place, and what would help.
pub fn outlooks(app: &App, answer: &ProposePlanResponse, zone: &TimeZone) -> Outcome {
    let header = ["job#", "in words", "promised", "late", "hangs on"];
    let mut table = Table::new("jobs", &header);
    for job in &answer.outlooks {
        table.row([
            job.job.to_string(),
            job.words.clone(),
            moment::show(job.promised_at.as_ref(), zone),
            late(job),
            job.hangs_on.join(", "),
        ]);
    }
    if !answer.outlooks.is_empty() {
        out::line("")?;
        app.out.table(&table)?;
    }
    // What keeps a job from having a time stands below, with all of its stages that have no place.
    let told = |job: &&JobOutlook| answer.unplaced.iter().all(|one| one.job != job.job);
    for job in answer.outlooks.iter().filter(|job| !job.sentence.is_empty()).filter(told) {
        out::line(&out::clean(&job.sentence))?;
    }
    for one in &answer.unplaced {
        out::line(&out::clean(&one.reason))?;
    }
    for help in &answer.helps {
        out::line(&out::clean(&format!("It would help: {}.", help.sentence)))?;
    }
    Ok(())
}

fn late(job: &JobOutlook) -> String {
    match job.late_minutes {
        minutes if minutes > 0 => show_length(minutes * 60),
        _ if job.likely_late => "likely".to_owned(),
        _ if job.at_risk => "at risk".to_owned(),
        _ => String::new(),
    }
}

/// What it means that a job that is in time by the plan is likely late.
const LIKELY_LATE: &str = "likely late: half of the runs end after the promise";

/// What it means that a job that is in time by the plan, and likely so, is at risk.
const AT_RISK: &str = "at risk: more than one run in five ends after the promise";

/// How a search ended, in words.
pub fn ended(end: PlanEnd) -> &'static str {
    match end {
        PlanEnd::Proved => ", and nothing better is possible",
        PlanEnd::Stopped => ", when its time was over",
        PlanEnd::Spent | PlanEnd::Unspecified => "",
    }
}

/// When jobs are ready by the accepted plan, which are late, and what has no place in it.
pub fn jobs(app: &App, plan: &Plan, answer: &GetPlanResponse, zone: &TimeZone) -> Outcome {
    out::line("")?;
    app.out.table(&jobs_table(plan, answer, zone))?;
    for mark in [LIKELY_LATE, AT_RISK] {
        let is_it = |job: &PlannedJob| mark.starts_with(&format!("{}:", marked(job.job, answer)));
        if plan.jobs.iter().any(is_it) {
            out::line(mark)?;
        }
    }
    answer.unplaced.iter().try_for_each(|one| out::line(&out::clean(&one.reason)))
}

/// The same as a table.
pub fn jobs_table(plan: &Plan, answer: &GetPlanResponse, zone: &TimeZone) -> Table {
    let mut header = vec!["job#", "ready", "likely", "safe", ""];
    if !answer.hangs_on.is_empty() {
        header.push("hangs on");
    }
    let mut table = Table::new("jobs", &header);
    for job in &plan.jobs {
        let at = |at: &Option<prost_types::Timestamp>| moment::show(at.as_ref(), zone);
        let ready = if job.nowhere.is_empty() { at(&job.ready_at) } else { "no place".to_owned() };
        let mark = marked(job.job, answer).to_owned();
        let hangs: Vec<&str> =
            answer.hangs_on.iter().filter(|one| one.job == job.job).map(|one| one.words.as_str()).collect();
        let cells = [job.job.to_string(), ready, at(&job.likely_at), at(&job.safe_at), mark, hangs.join(", ")];
        table.row_of(cells.into_iter().take(header.len()));
    }
    table
}

/// How a job stands by its promise, the gravest word; nothing for one that is in time.
fn marked(job: i64, answer: &GetPlanResponse) -> &'static str {
    let marks = [("late", &answer.late), ("likely late", &answer.likely_late), ("at risk", &answer.at_risk)];
    marks.into_iter().find(|(_, jobs)| jobs.contains(&job)).map_or("", |(mark, _)| mark)
}

/// Most of what has moved that is told in a sentence.
const TOLD: usize = 3;

/// Whether the accepted plan still stands.
pub fn standing(answer: &GetPlanResponse, zone: &TimeZone) -> String {
    let since = moment::show(answer.accepted_at.as_ref(), zone);
    let begin = format!("accepted {since} (fact {})", answer.accepted_number);
    if answer.moved.is_empty() {
        return format!("{begin}; nothing has moved since it was made");
    }
    let things = if answer.moved.len() == 1 { "thing" } else { "things" };
    let first: Vec<&str> = answer.moved.iter().take(TOLD).map(String::as_str).collect();
    let more = if answer.moved.len() > TOLD { ", and more" } else { "" };
    format!(
        "{begin}; STALE: {} {things} moved since ({}{more}); 'leadhand plan propose' makes another",
        answer.moved.len(),
        out::clean(&first.join(", "))
    )
}

/// Pins and overtime.
pub fn decided(app: &App, answer: &GetPlanResponse, shown: &Shown, zone: &TimeZone) -> Outcome {
    if !answer.pins.is_empty() {
        let mut table = Table::new("pins", &["pinned job#", "stage", "bay", "by", "not before"]);
        for pin in &answer.pins {
            let by = pin.people.iter().map(|person| shown.name(person)).collect::<Vec<_>>().join(", ");
            let from = moment::show(pin.from_at.as_ref(), zone);
            table.row([pin.job.to_string(), pin.stage.clone(), pin.bay.clone(), by, from]);
        }
        out::line("")?;
        app.out.table(&table)?;
    }
    if !answer.overtime.is_empty() {
        let mut table = Table::new("overtime", &["overtime", "from", "until"]);
        for one in &answer.overtime {
            let at = |at: &Option<prost_types::Timestamp>| moment::show(at.as_ref(), zone);
            table.row([shown.name(&one.person), at(&one.from_at), at(&one.until_at)]);
        }
        out::line("")?;
        app.out.table(&table)?;
    }
    Ok(())
}

/// When a job is likely ready, in words.
pub fn promise(job: &JobOutlook, zone: &TimeZone) -> Outcome {
    promise_lines(job, zone).iter().try_for_each(|line| out::line(&out::clean(line)))
}

/// The same, line by line.
pub fn promise_lines(job: &JobOutlook, zone: &TimeZone) -> Vec<String> {
    let hangs_on = |one: &String| format!("job {} hangs on {one}: nobody said until when", job.job);
    let mut lines: Vec<String> = job.hangs_on.iter().map(hangs_on).collect();
    if job.ready_at.is_none() && !job.sentence.is_empty() {
        lines.push(job.sentence.clone());
        return lines;
    }
    // No time is safe while an end is unknown; what is told then is how soon it could be.
    let hangs = if job.hangs_on.is_empty() { "" } else { "if that ended at once, " };
    lines.push(format!("job {}: {hangs}{}", job.job, job.words));
    let promised = moment::show(job.promised_at.as_ref(), zone);
    if job.late_minutes > 0 {
        lines.push(format!("promised {promised}, and {} late by the plan", late(job)));
    } else if !promised.is_empty() {
        let safe = moment::show(job.safe_at.as_ref(), zone);
        let risk = if job.at_risk && !job.likely_late {
            format!(", but at risk: it holds four times out of five only from {safe} on")
        } else {
            String::new()
        };
        lines.push(format!("promised {promised}, and {hangs}in time by the plan{risk}"));
        lines.extend(job.likely_late.then(|| LIKELY_LATE.to_owned()));
    }
    lines
}

/// What the accepted plan said of a job, where that is another time by now.
pub fn planned_otherwise(job: &JobOutlook, planned: &PlannedJob, zone: &TimeZone) -> Option<String> {
    let differs = planned.safe_at.is_some() && job.safe_at.is_some() && planned.safe_at != job.safe_at;
    let at = |at: &Option<prost_types::Timestamp>| moment::show(at.as_ref(), zone);
    let (likely, safe) = (at(&planned.likely_at), at(&planned.safe_at));
    differs.then(|| {
        format!(
            "the accepted plan said likely {likely}, safe {safe}; `leadhand plan propose` makes one of what is so now"
        )
    })
}

/// What a job is late because of, with the terms behind the words.
pub fn why(answer: &ExplainJobResponse, zone: &TimeZone) -> Outcome {
    let job = answer.outlook.clone().unwrap_or_default();
    promise(&job, zone)?;
    if job.ready_at.is_some() && !job.sentence.is_empty() {
        out::line(&out::clean(&job.sentence))?;
    }
    for one in answer.unplaced.iter().filter(|one| !job.sentence.contains(&one.reason)) {
        out::line(&out::clean(&one.reason))?;
    }
    for help in &answer.helps {
        out::line(&out::clean(&format!("In the whole shop it would help: {}.", help.sentence.trim_end_matches('.'))))?;
    }
    let at = |at: &Option<prost_types::Timestamp>| moment::show(at.as_ref(), zone);
    if job.ready_at.is_none() && answer.unplaced.is_empty() {
        return Ok(());
    }
    if job.ready_at.is_none() {
        return out::line("there is no time for it: a stage of it has no place in the plan");
    }
    out::line(&format!(
        "ready {} by the plan itself; likely is the time that half of all tries with other minutes keep (P50), {}, and safe \
         the one that four in five keep (P80), {}",
        at(&job.ready_at),
        at(&job.likely_at),
        at(&job.safe_at)
    ))?;
    if let Some(planned) = &answer.planned {
        let moved = if answer.moved.is_empty() {
            String::new()
        } else {
            format!("; {} thing(s) moved since", answer.moved.len())
        };
        out::note(&format!("the accepted plan has it ready {}{moved}", at(&planned.ready_at)));
    }
    Ok(())
}
