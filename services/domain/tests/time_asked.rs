//! Once a job is closed a person asks for a correction of the own time, and a lead's word makes it. The rules are the
//! project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod floor_kit;
mod stock_kit;

use floor_kit::{Floor, JOB, at, code, finish, start};
use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_facts::rows::AskedRow;
use leadhand_facts::words::Role;
use leadhand_facts::*;

/// Flint stripped from 09:00 to 10:00, and the job was called off at 10:30.
fn closed() -> (Floor, i64) {
    let mut floor = Floor::open();
    floor.at("09:00", start("strip")).unwrap();
    floor.at("10:00", finish("strip")).unwrap();
    let flint = floor.flint;
    floor.acts(None, Role::Lead);
    floor.at("10:30", CancelJob { job: JOB, reason: "the part is dear".into(), as_it_is: true }).unwrap();
    floor.acts(Some(flint), Role::Technician);
    floor.shop.now = at("11:00");
    let entry = floor.work("strip")[0].on_n;
    (floor, entry)
}

fn ask(entry: i64, until: Option<&str>) -> AskCorrection {
    let (until_at, reason) = (until.map(at), "I stopped earlier".to_owned());
    AskCorrection { entry, from_at: None, until_at, job: None, stage: None, withdraw: false, reason }
}

fn answer(ask: i32, take: bool) -> DecideCorrection {
    DecideCorrection { job: JOB, ask: AskNo(ask), take, reason: "as asked".into(), override_reason: None }
}

fn asked(floor: &Floor) -> Vec<AskedRow> {
    floor.shop.state.asked.iter().cloned().collect()
}

#[test]
fn what_is_asked_for_waits_and_a_lead_s_word_makes_it() {
    let (mut floor, entry) = closed();
    let made = floor.now(ask(entry, Some("09:40"))).unwrap().made;
    assert!(matches!(made, Made::Asked { job: JOB, ask: AskNo(1) }), "{made:?}");
    assert_eq!(floor.work("strip")[0].until_at, Some(at("10:00")), "it stays as it is until then");
    let row = asked(&floor).remove(0);
    assert_eq!((row.entry, row.person, row.to_stage.as_ref().unwrap().as_str()), (entry, floor.flint, "strip"));
    assert_eq!((row.from_at, row.until_at, row.taken), (Some(at("09:00")), Some(at("09:40")), None));
    assert_eq!(code(floor.now(ask(entry, Some("09:50")))), "NOTHING_TO_DO", "one question at a time");
    assert_eq!(code(floor.now(answer(1, true))), "LEAD_ONLY", "nobody grants what they asked for");
    let moss = floor.moss;
    floor.acts(Some(moss), Role::Technician);
    assert_eq!(code(floor.now(answer(1, false))), "LEAD_ONLY", "nor does somebody else decline it");
    floor.acts(Some(moss), Role::Lead);
    floor.now(answer(1, true)).unwrap();
    let work = floor.work("strip");
    assert_eq!((work.len(), work[0].person, work[0].until_at), (1, floor.flint, Some(at("09:40"))));
    let row = asked(&floor).remove(0);
    assert_eq!((row.taken, row.decided_by, row.decided_at), (Some(true), Some(moss), Some(at("11:00"))));
    assert_eq!(code(floor.now(answer(1, true))), "NOTHING_TO_DO");
    let kinds: Vec<String> = floor.shop.journal.iter().rev().take(3).map(|entry| kind(&entry.fact)).collect();
    assert_eq!(kinds, ["correction_decided", "work_recorded", "clocking_withdrawn"]);
}

fn kind(fact: &Fact) -> String {
    upcast::store(fact).unwrap().kind
}

#[test]
fn an_entry_may_go_altogether_and_a_question_may_be_declined() {
    let (mut floor, entry) = closed();
    let gone = AskCorrection { withdraw: true, ..ask(entry, None) };
    let both = AskCorrection { until_at: Some(at("09:40")), ..gone.clone() };
    assert_eq!(floor.now(both).unwrap_err().field(), Some("until_at"));
    floor.now(gone.clone()).unwrap();
    assert_eq!(asked(&floor)[0].to_stage, None);
    // Whoever asked takes the question back, and may ask again.
    floor.now(answer(1, false)).unwrap();
    assert_eq!((asked(&floor)[0].taken, floor.work("strip").len()), (Some(false), 1));
    floor.now(gone).unwrap();
    let flint = floor.flint;
    floor.acts(Some(flint), Role::Lead);
    let with = DecideCorrection { override_reason: Some("why not".into()), ..answer(2, false) };
    assert_eq!(floor.now(with).unwrap_err().field(), Some("override_reason"));
    floor.now(answer(2, true)).unwrap();
    assert_eq!((asked(&floor)[1].taken, floor.work("strip").len()), (Some(true), 0));
}

#[test]
fn what_is_one_s_own_to_correct_is_not_asked_for() {
    let (mut floor, entry) = closed();
    let (flint, moss) = (floor.flint, floor.moss);
    floor.acts(Some(flint), Role::Lead);
    let refused = floor.now(ask(entry, Some("09:40"))).unwrap_err();
    assert!(refused.to_string().contains("`leadhand clock correct`"), "{refused}");
    floor.now(ReopenJob { job: JOB, reason: "it goes on".into() }).unwrap();
    floor.acts(Some(flint), Role::Technician);
    assert_eq!(code(floor.now(ask(entry, Some("09:40")))), "NOTHING_TO_DO", "the job is open");
    floor.acts(Some(moss), Role::Technician);
    assert_eq!(code(floor.now(ask(entry, Some("09:40")))), "LEAD_ONLY", "it is somebody else's");
}

#[test]
fn what_can_t_be_meant_is_refused_and_makes_no_fact() {
    let (mut floor, entry) = closed();
    let head = floor.shop.state.head;
    assert_eq!(code(floor.now(ask(entry, Some("10:00")))), "NOTHING_TO_DO", "that is what was entered");
    assert_eq!(code(floor.now(ask(entry, Some("11:01")))), "INVALID_FIELD", "not come yet");
    assert_eq!(code(floor.now(ask(entry, Some("08:59")))), "INVALID_FIELD", "it ends before it begins");
    assert_eq!(code(floor.now(ask(entry + 900, Some("09:40")))), "NOT_FOUND");
    let silent = AskCorrection { reason: " ".into(), ..ask(entry, Some("09:40")) };
    assert_eq!(floor.now(silent).unwrap_err().field(), Some("reason"));
    let early = AskCorrection { from_at: Some(at("07:00")), ..ask(entry, None) };
    assert_eq!(code(floor.now(early)), "TOO_EARLY", "before the job was opened");
    let elsewhere = AskCorrection { stage: Some("no-such".into()), ..ask(entry, None) };
    assert_eq!(code(floor.now(elsewhere)), "NOT_FOUND");
    assert_eq!(code(floor.now(answer(1, false))), "NOT_FOUND");
    assert_eq!(floor.shop.state.head, head);
}

/// The rules of a lead's own correction hold when it is made, and not only when it was asked for.
#[test]
fn what_no_longer_fits_is_refused_when_it_is_to_be_made() {
    let (mut floor, entry) = closed();
    floor.now(ask(entry, Some("10:20"))).unwrap();
    let flint = floor.flint;
    floor.acts(Some(flint), Role::Lead);
    assert_eq!(code(floor.now(answer(1, true))), "TOO_LATE", "the stage ended before");
    assert_eq!((asked(&floor)[0].taken, floor.work("strip").len()), (None, 1), "nothing is half done");
    floor.now(WithdrawClocking { entry, reason: "it was Moss".into() }).unwrap();
    let gone = floor.now(answer(1, true)).unwrap_err();
    assert!(gone.to_string().contains("decline it"), "{gone}");
    floor.now(answer(1, false)).unwrap();
}
