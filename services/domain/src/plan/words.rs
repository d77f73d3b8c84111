//! A plan in words: likely Wednesday, safe Thursday; and times of sentences on the shop's clock.

use crate::refusal::Refusal;
use crate::state::State;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use leadhand_facts::plan::{Hang, HangsOn, PlanBay, PlanInput, PlanStage, PlanTechnician};
use leadhand_facts::rows::PlanJobRow;
use leadhand_facts::words::NoPlace;
use leadhand_facts::{Instant, JobNo, StageKey};

/// A moment on the shop's clock.
#[derive(Debug, Clone)]
pub struct Clock {
    zone: TimeZone,
    now: Instant,
}

impl Clock {
    /// The shop's.
    pub fn of(state: &State, now: Instant) -> Result<Self, Refusal> {
        Ok(Self { zone: crate::decide::zone(state)?, now })
    }

    /// When a job is likely ready, and by when it is safe to say so, as people speak of it.
    pub fn outlook(&self, likely: Option<Instant>, safe: Option<Instant>) -> String {
        outlook(likely, safe, &self.zone, self.now)
    }

    /// A sentence with the times in it on the shop's clock, as people speak of them.
    pub fn tell(&self, sentence: &str) -> String {
        on_clock(sentence, &self.zone, self.now)
    }
}

/// What a job of an accepted plan hangs on still: held up as it was then, and nobody has said until when.
pub fn still_hangs(input: &PlanInput, row: &PlanJobRow) -> Vec<(JobNo, Hang)> {
    let hang = |on: &HangsOn| {
        let of = input.jobs.iter().find(|job| job.job == on.job)?;
        let stage = of.stages.iter().find(|stage| stage.stage == on.stage)?;
        let blocker = stage.blocker.as_ref().filter(|blocker| blocker.until.is_none())?;
        let name = (of.job != row.job).then_some(of.name.as_str());
        Some((row.job, Hang::new(on.clone(), &stage.title, name, &blocker.cause)))
    };
    row.hangs_on.iter().filter_map(hang).collect()
}

/// Why a stage has no place in an accepted plan, and what to do: the word that the plan kept, with the figures of now.
/// `nowhere` are the stages of its job that have none.
pub fn no_place(why: NoPlace, input: &PlanInput, job: JobNo, stage: &StageKey, nowhere: &[StageKey]) -> String {
    let of_job = input.jobs.iter().find(|row| row.job == job);
    let row = of_job.and_then(|row| row.stages.iter().find(|row| row.stage == *stage));
    let title = row.map_or_else(|| stage.to_string(), |row| row.title.clone());
    let because = match (row, why) {
        (Some(row), NoPlace::NoTime) if waits_beyond(row, input) => BEYOND.to_owned(),
        (Some(row), NoPlace::NoTime) => {
            let once = if row.may_pause { "" } else { " at a stretch" };
            format!("nobody who can do it has so much time{once} before the calendars end; open time for it")
        }
        (Some(row), NoPlace::Behind) => {
            let first = row.after.iter().find(|after| nowhere.contains(&after.stage)).map(|after| &after.stage);
            let named = |key: &StageKey| of_job.and_then(|job| job.stages.iter().find(|row| row.stage == *key));
            let title = first.and_then(named).map_or("a stage", |row| row.title.as_str());
            format!("it comes after {title}, which has no place")
        }
        (Some(row), NoPlace::TooFew) => {
            let able = |one: &&PlanTechnician| row.skills.iter().all(|skill| one.skills.contains(skill));
            too_few(row, input.technicians.iter().filter(able).count())
        }
        (Some(row), NoPlace::NoBay) => {
            let of_kind = |bay: &PlanBay| row.bays.is_empty() || row.bays.contains(&bay.kind);
            let some = input.bays.iter().any(of_kind);
            no_bay(row, of_job.filter(|_| some).map(|job| job.kg))
        }
        (Some(row), NoPlace::NoTool) => {
            let missing = row.tools.iter().find(|tool| !input.tools.iter().any(|have| have.tool == **tool));
            let tool = missing.map_or_else(String::new, |tool| format!(" {tool}"));
            format!("the shop has no shared tool{tool}; add it")
        }
        (_, why) => usual(why).to_owned(),
    };
    format!("{title} of job {job} has no place: {because}.")
}

const BEYOND: &str = "what it waits for lies behind the end of the calendars; it is planned once they reach so far";

/// Whether a stage may not begin before everything that is planned is over.
fn waits_beyond(row: &PlanStage, input: &PlanInput) -> bool {
    let pinned = row.pin.from.filter(|_| !row.begun);
    let held = row.blocker.as_ref().and_then(|blocker| Some(blocker.known()?.1));
    [pinned, held, row.parts_from].into_iter().flatten().any(|at| at >= input.until)
}

/// That too few can do a stage, of whom the shop has so many.
fn too_few(row: &PlanStage, able: usize) -> String {
    let skills = row.skills.join(" and ");
    match (able, row.skills.is_empty()) {
        (0, true) => "the shop has nobody who works on vehicles; give somebody a skill or a shift".to_owned(),
        (0, false) => format!("nobody in the shop has the skill {skills}; give it to somebody"),
        (able, none) => {
            let with = if none { String::new() } else { format!(" with the skill {skills}") };
            format!(
                "it takes {} at a time{with}, and the shop has {able}; name somebody with its skills, or ask for fewer hands",
                row.hands.max(1)
            )
        }
    }
}

/// That no bay fits a stage: there is none of its kind, or none of them bears so many kilograms.
fn no_bay(row: &PlanStage, kg: Option<i32>) -> String {
    let kinds: Vec<&str> = row.bays.iter().map(|kind| kind.word()).collect();
    let kind = if kinds.is_empty() { "bay".to_owned() } else { kinds.join(" or ") };
    match kg {
        Some(kg) => format!("no {kind} of the shop bears the vehicle's {kg} kg"),
        None => format!("the shop has no {kind}; add one, or let it be done in another kind of bay"),
    }
}

/// The same of what is not known any more.
fn usual(why: NoPlace) -> &'static str {
    match why {
        NoPlace::NoTime => "nobody who can do it has so much time before the calendars end; open time for it",
        NoPlace::Behind => "it comes after a stage that has no place",
        NoPlace::CannotMove => "it needs another bay, and the vehicle may not leave the one that it is in",
        NoPlace::BaysWait => {
            "vehicles in the bays that fit it wait for each other's, or may not leave; roll one of them out"
        }
        NoPlace::Ring => "it waits for itself; change what it comes after",
        NoPlace::TooFew => "too few can do it; name somebody with its skills, or ask for fewer hands",
        NoPlace::NoBay => "no bay fits it and bears the vehicle",
        NoPlace::NoTool => "a shared tool of it is not the shop's; add it",
        NoPlace::Gone => "it is given to somebody who is no technician of the shop; give it to another",
    }
}

fn outlook(likely: Option<Instant>, safe: Option<Instant>, zone: &TimeZone, now: Instant) -> String {
    match (likely, safe) {
        (Some(likely), Some(safe)) => {
            let (one, other) = (day(likely, zone, now), day(safe, zone, now));
            let (at, by) = (clock(likely, zone), clock(safe, zone));
            if one == other {
                format!("likely {one} {at}, safe {by}")
            } else {
                format!("likely {one} {at}, safe {other} {by}")
            }
        }
        _ => "nobody can say yet".to_owned(),
    }
}

/// `today`, `tomorrow`, a weekday of the next six days, or a date.
fn day(at: Instant, zone: &TimeZone, now: Instant) -> String {
    let (Some(day), Some(today)) = (local(at, zone), local(now, zone)) else { return at.to_string() };
    match (day.at(0, 0, 0, 0).duration_since(today.at(0, 0, 0, 0)).as_hours()) / 24 {
        0 => "today".to_owned(),
        1 => "tomorrow".to_owned(),
        2..=6 => day.strftime("%A").to_string(),
        _ => day.to_string(),
    }
}

fn local(at: Instant, zone: &TimeZone) -> Option<Date> {
    Some(zone.to_datetime(at.timestamp()?).date())
}

fn clock(at: Instant, zone: &TimeZone) -> String {
    at.timestamp().map_or_else(String::new, |at| zone.to_datetime(at).strftime("%H:%M").to_string())
}

fn on_clock(sentence: &str, zone: &TimeZone, now: Instant) -> String {
    let told = |word: &str| {
        let bare = word.trim_end_matches(['.', ',', ';', ')']);
        let at = Instant::parse(bare).ok()?;
        Some(format!("{} {}{}", day(at, zone, now), clock(at, zone), &word[bare.len()..]))
    };
    sentence.split(' ').map(|word| told(word).unwrap_or_else(|| word.to_owned())).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::tz::TimeZoneDatabase;

    fn at(text: &str) -> Instant {
        Instant::parse(text).expect("it is RFC 3339")
    }

    /// 2026-05-04 was a Monday (ISO 8601 week date 2026-W19-1); Berlin is two hours ahead of UTC in May (IANA, rule EU).
    #[test]
    fn days_are_told_as_people_speak_of_them() {
        let zone = TimeZoneDatabase::bundled().get("Europe/Berlin").expect("it is in the table that comes along");
        let now = at("2026-05-04T08:00:00Z");
        let told = |likely, safe| outlook(Some(at(likely)), Some(at(safe)), &zone, now);
        assert_eq!(told("2026-05-06T09:30:00Z", "2026-05-07T14:00:00Z"), "likely Wednesday 11:30, safe Thursday 16:00");
        assert_eq!(told("2026-05-04T12:00:00Z", "2026-05-04T13:05:00Z"), "likely today 14:00, safe 15:05");
        assert_eq!(
            told("2026-05-04T22:30:00Z", "2026-05-11T08:00:00Z"),
            "likely tomorrow 00:30, safe 2026-05-11 10:00"
        );
        assert_eq!(outlook(None, None, &zone, now), "nobody can say yet");
    }

    #[test]
    fn times_in_a_sentence_are_told_on_the_shops_clock() {
        let zone = TimeZoneDatabase::bundled().get("Europe/Berlin").expect("it is in the table that comes along");
        let now = at("2026-05-04T08:00:00Z");
        let told = |sentence| on_clock(sentence, &zone, now);
        let hand = "One more hand, from the shift that begins 2026-05-06T06:00:00Z.";
        assert_eq!(told(hand), "One more hand, from the shift that begins Wednesday 08:00.");
        assert_eq!(told("until 2026-05-04T12:00:00Z; then"), "until today 14:00; then");
        assert_eq!(told("job 4 is 90 min late: 3.5 L"), "job 4 is 90 min late: 3.5 L");
    }
}
