//! What a bay's part of the wall says, in words that are ready to be shown.

use crate::texts::Texts;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use leadhand_sdk::v1::{
    Blocker, BoardBay, BoardJob, BoardStage, Cause, Decision, PromiseState, Reading, Shortage, StageState, Verdict,
};
use leadhand_sdk::{Standing, WireTimestamp, moment, quantity};

/// How things are said.
#[derive(Clone, Copy)]
pub struct Look<'a> {
    /// In which words.
    pub texts: &'a Texts,
    /// In the shop's zone.
    pub zone: &'a TimeZone,
    /// On which day.
    pub now: Timestamp,
}

impl Look<'_> {
    /// A moment, as short as it can be understood.
    pub fn near(self, at: Option<&WireTimestamp>) -> String {
        self.texts.near(at, self.zone, self.now)
    }
}

/// A reason that holds a vehicle up.
pub struct Reason {
    pub cause: String,
    pub text: String,
    pub since: i64,
}

/// A stage under way.
pub struct UnderWay {
    pub title: String,
    pub steps: String,
    pub who: String,
    pub since: Option<i64>,
}

/// What was promised, and whether it holds.
pub struct Promise {
    /// The mark's and the style's name.
    pub class: &'static str,
    /// "holds", "at risk", "late".
    pub word: String,
    /// What was promised.
    pub when: String,
    /// When it is likely, and where the promise does not hold for sure when it is done if it goes badly.
    pub likely: String,
}

/// A vehicle.
pub struct JobView {
    pub job: i64,
    pub title: String,
    pub vehicle: String,
    pub standing: &'static str,
    pub word: String,
    /// Since when the oldest reason holds it up.
    pub held_since: Option<i64>,
    pub reasons: Vec<Reason>,
    pub promise: Promise,
    /// A mark for each stage: done, now or left.
    pub course: Vec<&'static str>,
    /// "3 of 9 stages".
    pub place: String,
    pub active: Vec<UnderWay>,
    pub next: String,
    pub missing: Vec<String>,
}

/// Stages beyond these have no mark of their own; the words count them all.
const COURSE_MAX: i32 = 40;

/// The name of a standing in styles and in the files of words.
pub fn standing_name(standing: Standing) -> &'static str {
    match standing {
        Standing::HeldUp => "held-up",
        Standing::Late => "late",
        Standing::AtRisk => "at-risk",
        Standing::UnderWay => "under-way",
        Standing::Unattended => "unattended",
        Standing::Free => "free",
    }
}

/// Whether a bay gets room for reasons.
pub fn is_troubled(standing: Standing) -> bool {
    standing <= Standing::AtRisk
}

/// Bays with a vehicle as a lead looks at them, and then the free ones by their keys.
pub fn in_order(bays: &[BoardBay]) -> (Vec<(Standing, &BoardBay, &BoardJob)>, Vec<&BoardBay>) {
    let mut taken: Vec<_> =
        bays.iter().filter_map(|bay| bay.job.as_ref().map(|job| (Standing::of(job), bay, job))).collect();
    taken
        .sort_by_key(|(standing, bay, job)| (*standing, !in_danger(job), job.priority, oldest(job), natural(key(bay))));
    let mut free: Vec<_> = bays.iter().filter(|bay| bay.job.is_none()).collect();
    free.sort_by_key(|bay| natural(key(bay)));
    (taken, free)
}

/// In the order in which people count: bay-6 before bay-10.
fn natural(key: &str) -> (&str, u64, &str) {
    let head = key.trim_end_matches(|letter: char| letter.is_ascii_digit());
    (head, key[head.len()..].parse().unwrap_or_default(), key)
}

/// A bay's key.
pub fn key(bay: &BoardBay) -> &str {
    bay.bay.as_ref().map_or("", |bay| bay.bay.as_str())
}

/// Whether somebody said that it is not safe: before everything else that holds up.
fn in_danger(job: &BoardJob) -> bool {
    job.blockers.iter().any(|blocker| blocker.cause() == Cause::Safety)
}

/// Since when something holds it up; what is held up longest stands first.
fn oldest(job: &BoardJob) -> i64 {
    job.blockers.iter().filter_map(|blocker| milliseconds(blocker.since.as_ref())).min().unwrap_or(i64::MAX)
}

fn milliseconds(at: Option<&WireTimestamp>) -> Option<i64> {
    at.and_then(moment::from_wire).map(Timestamp::as_millisecond)
}

impl JobView {
    /// What is said of a job.
    pub fn of(job: &BoardJob, look: Look<'_>) -> Self {
        let standing = Standing::of(job);
        let oldest = oldest(job);
        Self {
            job: job.job,
            title: job.title.clone(),
            vehicle: if job.vehicle_label.is_empty() {
                look.texts.fill("vehicle-without-name", "job", &job.job.to_string())
            } else {
                job.vehicle_label.clone()
            },
            standing: standing_name(standing),
            word: look.texts.say(word(standing, job)),
            held_since: (oldest != i64::MAX).then_some(oldest),
            reasons: job.blockers.iter().map(|blocker| reason(blocker, job, look)).collect(),
            promise: promise(job, look),
            course: course(job),
            place: place(job, look),
            active: active(job).map(|stage| under_way(stage, look)).collect(),
            next: job.next.iter().take(2).map(|stage| coming(stage, look)).collect::<Vec<_>>().join("; "),
            missing: job
                .missing
                .iter()
                .filter(|short| !short.holds_up)
                .map(|short| missing(short, job, look))
                .collect(),
        }
    }
}

/// What is under way, first what somebody is on: a wall may have room for no more.
fn active(job: &BoardJob) -> impl Iterator<Item = &BoardStage> {
    let on = |wanted: bool| job.active.iter().filter(move |stage| stage.persons.is_empty() != wanted);
    on(true).chain(on(false))
}

/// How a promise stands that a vehicle's own standing does not tell already: late or at risk, beside what holds it up.
pub fn also(view: &JobView) -> bool {
    matches!(view.promise.class, "late" | "at-risk") && view.promise.class != view.standing
}

fn title_of(job: &BoardJob, stage: &str) -> String {
    let known = job.active.iter().chain(&job.next).find(|known| known.stage == stage);
    known.map_or_else(|| stage.to_owned(), |known| known.title.clone())
}

fn reason(blocker: &Blocker, job: &BoardJob, look: Look<'_>) -> Reason {
    // An older server does not say what the stage is called.
    let title =
        if blocker.stage_title.is_empty() { title_of(job, &blocker.stage) } else { blocker.stage_title.clone() };
    reason_at(&title, blocker, job, look)
}

/// What holds up, at a stage that is called so.
pub fn reason_at(stage: &str, blocker: &Blocker, job: &BoardJob, look: Look<'_>) -> Reason {
    let texts = look.texts;
    let mut parts = vec![stage.to_owned()];
    if !blocker.item.is_empty() {
        let short = job.missing.iter().find(|short| short.item == blocker.item);
        let name = short.map(|short| short.name.as_str()).filter(|name| !name.is_empty()).unwrap_or(&blocker.item);
        parts.push(texts.with("needed-at-step", &[("what", name.into()), ("step", blocker.step.into())]));
    }
    if !blocker.tool.is_empty() {
        parts.push(
            texts.with("needed-at-step", &[("what", blocker.tool.as_str().into()), ("step", blocker.step.into())]),
        );
    }
    if !blocker.note.is_empty() {
        parts.push(blocker.note.clone());
    }
    if !blocker.owner.is_empty() {
        parts.push(texts.fill("sees-to-it", "who", &blocker.owner));
    }
    if blocker.expected_at.is_some() {
        parts.push(texts.fill("until", "when", &look.near(blocker.expected_at.as_ref())));
    }
    Reason {
        cause: texts.word(Cause::try_from(blocker.cause).unwrap_or_default().as_str_name()),
        text: parts.join(" · "),
        since: milliseconds(blocker.since.as_ref()).unwrap_or(0),
    }
}

/// How what holds up ends, as templates ask for it: "lead" when a lead says that it is safe, "reading" when the lead
/// decides about a reading, "itself" when what is short comes or what is lent is free, "hand" when somebody says so.
pub fn ends(blocker: &Blocker, readings: &[Reading]) -> &'static str {
    let of_it = |one: &Reading| {
        let open = one.verdict == i32::from(Verdict::Out) && one.decision == i32::from(Decision::Unspecified);
        open && one.stage == blocker.stage && one.step == blocker.step
    };
    if !blocker.item.is_empty() || !blocker.tool.is_empty() {
        return "itself";
    }
    match Cause::try_from(blocker.cause) {
        Ok(Cause::Safety) => "lead",
        Ok(Cause::Information) if readings.iter().any(of_it) => "reading",
        _ => "hand",
    }
}

/// A promise that is still to come is likely late; one that has passed is late.
fn late(job: &BoardJob) -> &'static str {
    if job.promise_passed { "late" } else { "likely-late" }
}

fn promise(job: &BoardJob, look: Look<'_>) -> Promise {
    let class = match PromiseState::try_from(job.promise) {
        Ok(PromiseState::Holds) => "holds",
        Ok(PromiseState::AtRisk) => "at-risk",
        Ok(PromiseState::Late) => "late",
        Ok(PromiseState::None) => "none",
        Ok(PromiseState::NoPlace) => "no-place",
        Ok(PromiseState::NoStages) => "no-stages",
        _ => "unknown",
    };
    let badly = job.if_badly_at.as_ref().filter(|_| matches!(class, "at-risk" | "late"));
    let told = [("likely", job.expected_at.as_ref()), ("if-badly", badly)].into_iter();
    let told = told.filter_map(|(key, at)| Some(look.texts.fill(key, "when", &look.near(Some(at?)))));
    Promise {
        class,
        word: look.texts.say(&format!("promise-{}", if class == "late" { late(job) } else { class })),
        when: look.near(job.promised_at.as_ref()),
        likely: told.collect::<Vec<_>>().join(", "),
    }
}

fn course(job: &BoardJob) -> Vec<&'static str> {
    let total = job.stages_total.clamp(0, COURSE_MAX);
    let now = i32::try_from(job.active.len()).unwrap_or(0);
    (0..total)
        .map(|at| match at {
            at if at < job.stages_done => "done",
            at if at < job.stages_done.saturating_add(now) => "now",
            _ => "left",
        })
        .collect()
}

/// What is said of where it stands.
fn word(standing: Standing, job: &BoardJob) -> &'static str {
    match standing {
        _ if all_done(job) => "all-done",
        Standing::Late => late(job),
        _ => standing_name(standing),
    }
}

/// Whether every stage is done and nothing holds it up, so that it can be handed over.
pub fn all_done(job: &BoardJob) -> bool {
    job.stages_total > 0 && job.stages_done >= job.stages_total && job.active.is_empty() && job.blockers.is_empty()
}

fn place(job: &BoardJob, look: Look<'_>) -> String {
    look.texts.with("stages-done", &[("done", job.stages_done.into()), ("total", job.stages_total.into())])
}

fn under_way(stage: &BoardStage, look: Look<'_>) -> UnderWay {
    let texts = look.texts;
    let steps = if stage.steps_total > 0 {
        let step = (stage.steps_done + 1).min(stage.steps_total);
        texts.with("step-of", &[("step", step.into()), ("total", stage.steps_total.into())])
    } else {
        String::new()
    };
    let names: Vec<&str> = stage.persons.iter().map(|person| person.name.as_str()).collect();
    UnderWay {
        title: stage.title.clone(),
        steps,
        who: if names.is_empty() { texts.say("nobody-on-it") } else { names.join(", ") },
        since: milliseconds(stage.started_at.as_ref()),
    }
}

fn coming(stage: &BoardStage, look: Look<'_>) -> String {
    match StageState::try_from(stage.state) {
        Ok(StageState::Ready) => look.texts.fill("stage-ready", "stage", &stage.title),
        Ok(StageState::Waiting) => {
            let when = look.near(stage.ready_at.as_ref());
            look.texts.with("stage-waits", &[("stage", stage.title.as_str().into()), ("when", when.into())])
        }
        _ => look.texts.fill("stage-not-yet", "stage", &stage.title),
    }
}

fn missing(short: &Shortage, job: &BoardJob, look: Look<'_>) -> String {
    let name = if short.name.is_empty() { &short.item } else { &short.name };
    look.texts.with(
        "short-for",
        &[
            ("quantity", quantity::show(short.quantity, &short.unit).into()),
            ("item", name.as_str().into()),
            ("stage", title_of(job, &short.stage).into()),
            ("step", short.step.into()),
        ],
    )
}

#[cfg(test)]
#[path = "view_tests.rs"]
mod tests;
