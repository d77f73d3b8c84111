//! Readings told as a story: figures are judged by their limits, what is out of them holds what comes after until a lead
//! decides, and a vehicle does not leave on one that is open. The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod bay_kit;
mod stock_kit;

use bay_kit::{JOB, start};
use leadhand_domain::answer::Notice;
use leadhand_domain::command::*;
use leadhand_domain::hand_over::{Line, lines};
use leadhand_domain::reading::read_measure;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::view::hand_over::{loose_ends, sheet};
use leadhand_facts::reading::ReadingDetail;
use leadhand_facts::rows::{BlockerRow, ReadingRow};
use leadhand_facts::words::{
    Decision, JobState, ReadingKind, ReadingUnit, RemarkKind, Role, StageState, StepState, Tightness, Verdict,
};
use leadhand_facts::*;

const TEMPLATE: &str = r#"
key = "top-end"
title = "The top end"

[[stage]]
key = "measure"
title = "Measure"
minutes = [20, 30, 60]

[[stage.step]]
do = "Compression, throttle open, all plugs out"
[[stage.step.reading]]
key = "compression"
what = "Compression, dry"
kind = "compression"
unit = "bar"
of = ["1", "2", "3", "4"]
low = 9
spread = 20

[[stage.step]]
do = "Write the sheet"

[[stage]]
key = "fit"
title = "Fit"
minutes = [20, 30, 60]
after = ["measure"]

[[stage.step]]
do = "Fit the wheels, star order"
follow-up = "Tighten the wheels again after 40 to 80 km."
caution = [{ word = "WARNING", text = "A loose wheel comes off: stop when something knocks." }]

[[stage.step.off]]
key = "cover"
what = "Cover"
kind = "fastener"
count = 3
back = "done"

[[stage]]
key = "done"
title = "Close up"
minutes = [5, 10, 20]
after = ["fit"]
"#;

/// Flint measures; Moss leads.
struct Bench(bay_kit::Bench);

impl std::ops::Deref for Bench {
    type Target = bay_kit::Bench;

    fn deref(&self) -> &bay_kit::Bench {
        &self.0
    }
}

impl std::ops::DerefMut for Bench {
    fn deref_mut(&mut self) -> &mut bay_kit::Bench {
        &mut self.0
    }
}

impl Bench {
    fn open() -> Self {
        Self(bay_kit::Bench::begun(TEMPLATE, "measure"))
    }

    fn flint(&mut self) {
        self.0.acts(self.0.flint, Role::Technician);
    }

    fn lead(&mut self) {
        self.0.acts(self.0.moss, Role::Lead);
    }

    fn field(&mut self, command: impl Into<Command>) -> String {
        let refused = self.run(command).unwrap_err();
        refused.field().unwrap_or_else(|| panic!("{refused}")).to_owned()
    }

    fn row(&self, reading: &str) -> &ReadingRow {
        self.shop.state.readings.get(&(JOB, reading.into())).unwrap()
    }

    fn standing(&self) -> Vec<&BlockerRow> {
        self.shop.state.blockers.iter().filter(|row| row.cleared_at.is_none()).collect()
    }

    fn lines(&self) -> Vec<String> {
        lines(&self.shop.state, JOB, self.shop.now).iter().map(Line::key).collect()
    }

    fn stage(&self, stage: &str) -> StageState {
        self.shop.state.stages.get(&(JOB, stage.into())).unwrap().state
    }

    /// Everything done but the hand-over; the last stage left out, so that the covers stay off.
    fn measured_and_fitted(figures: &[&str]) -> Self {
        let mut bench = Self::open();
        bench.must(record("compression", figures));
        bench.must(finish("measure"));
        bench.must(start("fit"));
        bench.must(finish("fit"));
        bench.must(SkipStage { job: JOB, stage: "done".into(), reason: "the covers are on order".into() });
        bench.lead();
        bench
    }
}

fn finish(stage: &str) -> FinishStage {
    FinishStage { job: JOB, stage: stage.into(), as_listed: true }
}

fn tick(step: i32) -> TickSteps {
    TickSteps { job: JOB, stage: "measure".into(), steps: vec![StepNo(step)], override_reason: None }
}

fn measures(figures: &[&str]) -> Vec<Measure> {
    figures.iter().map(|figure| read_measure(figure).unwrap()).collect()
}

fn record(reading: &str, figures: &[&str]) -> RecordReading {
    RecordReading {
        job: JOB,
        reading: reading.into(),
        figures: measures(figures),
        instrument: Some("gauge 2".into()),
        note: None,
        sure: false,
    }
}

fn decide(decision: Decision) -> DecideReading {
    DecideReading { job: JOB, reading: "compression".into(), decision, reason: "the customer was asked".into() }
}

fn complete(reason: Option<&str>, overrides: &[(&str, &str)]) -> CompleteJob {
    let one = |(line, reason): &(&str, &str)| Override {
        line: (*line).into(),
        reason: (!reason.is_empty()).then(|| (*reason).to_owned()),
    };
    CompleteJob { job: JOB, override_reason: reason.map(str::to_owned), overrides: overrides.iter().map(one).collect() }
}

fn add(stage: &str, detail: ReadingDetail) -> AddReading {
    AddReading {
        job: JOB,
        stage: stage.into(),
        step: None,
        reading: None,
        what: "what was met".into(),
        detail,
        figures: vec![],
        instrument: None,
        note: None,
        sure: false,
    }
}

const GOOD: [&str; 4] = ["12.4", "12.1", "12.6", "12.2"];
const ONE_LOW: [&str; 4] = ["12.4", "8.1", "12.6", "12.2"];

#[test]
fn a_step_waits_for_its_readings_and_an_in_limit_one_lets_it_go() {
    let mut bench = Bench::open();
    let refused = bench.run(tick(1)).unwrap_err();
    assert_eq!(refused.reason(), "READINGS_MISSING");
    assert!(refused.to_string().contains("'compression'"), "{refused}");
    assert_eq!(bench.refused(finish("measure")), "READINGS_MISSING", "as listed is no measurement");
    let answer = bench.must(record("compression", &GOOD));
    let in_limits = Notice::Measured { reading: "compression".into(), verdict: Verdict::In, said: String::new() };
    assert_eq!(answer.notices, [in_limits]);
    assert_eq!(bench.row("compression").taken_by, Some(bench.flint));
    assert!(bench.standing().is_empty());
    bench.must(tick(1));
    bench.must(finish("measure"));
    assert_eq!(bench.refused(record("compression", &GOOD)), "STAGE_STATE", "an ended stage is taken up again first");
}

#[test]
fn what_is_out_of_limits_holds_what_comes_after_until_the_lead_accepts_it() {
    let mut bench = Bench::open();
    let answer = bench.must(record("compression", &ONE_LOW));
    let Notice::Measured { verdict: Verdict::Out, said, .. } = &answer.notices[0] else { panic!("{answer:?}") };
    assert_eq!(said, "2 is below 9 bar; the lowest is more than 20 % below the highest");
    let held: Vec<_> = bench.standing().iter().map(|row| (row.stage.clone(), row.reading.clone())).collect();
    assert_eq!(held, [("measure".into(), Some("compression".into()))]);
    let blocker = bench.standing()[0].blocker;
    bench.must(tick(1));
    assert_eq!(bench.refused(tick(2)), "READING_OUT", "a later step of the stage waits");
    assert_eq!(bench.refused(finish("measure")), "READING_OUT");
    assert_eq!(bench.refused(start("fit")), "NOT_READY", "so does what comes after the stage");
    assert_eq!(bench.refused(ClearBlocker { job: JOB, blocker, note: None }), "BLOCKER_OF_READING");
    assert_eq!(bench.refused(decide(Decision::Accept)), "LEAD_ONLY");
    bench.lead();
    bench.must(decide(Decision::Accept));
    let row = bench.row("compression");
    assert_eq!(
        (row.decision, row.decided_by, row.verdict),
        (Some(Decision::Accept), Some(bench.moss), Some(Verdict::Out))
    );
    assert!(bench.standing().is_empty());
    bench.flint();
    bench.must(tick(2));
    bench.must(finish("measure"));
    assert!(!bench.lines().iter().any(|line| line.starts_with("reading")), "{:?}", bench.lines());
}

#[test]
fn measured_anew_in_limits_it_holds_nothing_and_the_decision_before_is_gone() {
    let mut bench = Bench::open();
    bench.must(record("compression", &ONE_LOW));
    bench.must(record("compression", &ONE_LOW));
    assert_eq!(bench.standing().len(), 1, "the same blocker goes on");
    bench.must(tick(1));
    bench.lead();
    bench.must(decide(Decision::Again));
    let step = bench.shop.state.steps.get(&(JOB, "measure".into(), StepNo(1))).unwrap();
    assert_eq!(step.state, StepState::Pending, "what is to be measured again is to be done again");
    assert!(bench.standing().is_empty(), "the lead has decided");
    bench.flint();
    assert_eq!(bench.refused(tick(1)), "READINGS_MISSING");
    assert_eq!(bench.refused(tick(2)), "READING_OUT");
    bench.must(record("compression", &GOOD));
    assert_eq!((bench.row("compression").decision, bench.row("compression").decided_n), (None, None));
    bench.must(finish("measure"));
    assert_eq!(bench.stage("fit"), StageState::Pending);
    let taken = bench.shop.journal.iter().filter(|entry| matches!(entry.fact, Fact::ReadingTaken { .. })).count();
    assert_eq!(taken, 3, "what was measured before stays in the journal");
}

#[test]
fn after_a_repair_it_is_measured_or_the_vehicle_stays() {
    let mut bench = Bench::open();
    bench.must(record("compression", &ONE_LOW));
    bench.lead();
    bench.must(decide(Decision::Repair));
    bench.flint();
    bench.must(finish("measure"));
    assert!(bench.lines().contains(&"reading-out:compression".to_owned()));
    bench.lead();
    bench.must(ReopenStage { job: JOB, stage: "measure".into(), reason: "the valves are ground".into() });
    bench.flint();
    bench.must(record("compression", &GOOD));
    assert!(!bench.lines().contains(&"reading-out:compression".to_owned()));
}

#[test]
fn a_stage_that_was_left_out_took_its_readings_with_it_and_a_step_did_not() {
    let mut bench = Bench::open();
    bench.must(SkipStep { job: JOB, stage: "measure".into(), step: StepNo(1), reason: "no gauge here".into() });
    bench.must(finish("measure"));
    assert!(bench.lines().contains(&"reading-missing:compression".to_owned()));
    let mut bench = Bench::open();
    bench.must(record("compression", &ONE_LOW));
    bench.must(SkipStage { job: JOB, stage: "measure".into(), reason: "it is sold as it is".into() });
    assert!(bench.standing().is_empty());
    assert_eq!(bench.lines(), ["reading-out:compression", "stage:fit", "stage:done"]);
    bench.must(ReopenStage { job: JOB, stage: "measure".into(), reason: "it is not".into() });
    assert_eq!(bench.standing().len(), 1, "it goes on, and so does what held it up");
}

#[test]
fn bad_figures_are_refused_with_their_field_and_change_nothing() {
    let mut bench = Bench::open();
    assert_eq!(bench.field(record("compression", &["12", "12"])), "figures");
    assert_eq!(bench.field(record("compression", &["12", "12", "-1", "12"])), "figures[2]");
    assert_eq!(bench.refused(record("nothing", &GOOD)), "NOT_FOUND");
    let noted = RecordReading { note: Some(" ".into()), ..record("compression", &GOOD) };
    assert_eq!(bench.field(noted), "note");
    assert_eq!(bench.refused(decide(Decision::Accept)), "LEAD_ONLY");
    bench.lead();
    assert_eq!(bench.refused(decide(Decision::Accept)), "NOTHING_TO_DO", "nothing is out of limits");
    let unfit = |detail| add("measure", detail);
    let plain = || ReadingDetail::plain(ReadingKind::Other, ReadingUnit::Bar);
    let (low, high) = (Some(Measure(2)), Some(Measure(1)));
    assert_eq!(bench.field(unfit(ReadingDetail { low, high, ..plain() })), "detail.high");
    assert_eq!(bench.field(unfit(ReadingDetail { minutes: Some(3), ..plain() })), "detail.minutes");
    assert_eq!(bench.field(unfit(ReadingDetail { spread: Some(Measure(1)), ..plain() })), "detail.spread");
    let labels = vec!["no key".to_owned()];
    assert_eq!(bench.field(unfit(ReadingDetail { labels, ..plain() })), "detail.labels[0]");
    let leak = AddReading {
        figures: measures(&["80", "81"]),
        ..add("measure", ReadingDetail::plain(ReadingKind::LeakDown, ReadingUnit::Bar))
    };
    assert_eq!(bench.field(leak), "figures[1]");
    for (figures, field) in [(["8", "120"], "figures[1]"), (["-8", "12"], "figures[0]")] {
        let labels = vec!["1".to_owned(), "2".to_owned()];
        let detail = ReadingDetail { labels, ..ReadingDetail::plain(ReadingKind::LeakDown, ReadingUnit::Percent) };
        let share = AddReading { figures: measures(&figures), ..add("measure", detail) };
        assert_eq!(bench.field(share), field, "no leak is more than all, or less than nothing");
    }
    let flat = AddReading {
        figures: measures(&["0.03"]),
        ..add("measure", ReadingDetail::plain(ReadingKind::Flatness, ReadingUnit::Millimetre))
    };
    assert_eq!(bench.field(flat.clone()), "note", "one figure of flatness needs its method");
    bench.must(AddReading { note: Some("straight-edge and feelers".into()), ..flat });
    assert_eq!(bench.row("reading-1").verdict, Some(Verdict::Free));
    assert_eq!(bench.shop.state.readings.len(), 2);
}

#[test]
fn the_list_is_one_gravest_first_and_goes_line_by_line() {
    let mut bench = Bench::measured_and_fitted(&GOOD);
    bench.flint();
    assert_eq!(bench.lines(), ["places:cover", "pieces:cover"]);
    let refused = bench.run(complete(None, &[("places:cover", "on order")])).unwrap_err();
    let Refusal::HandOverOpen { lines, .. } = &refused else { panic!("{refused}") };
    assert_eq!(lines.iter().map(Line::key).collect::<Vec<_>>(), ["pieces:cover"], "only what has no reason is named");
    let both = [("places:cover", "on order"), ("pieces:cover", "they lie in tray 3")];
    assert_eq!(bench.refused(complete(None, &both)), "LEAD_ONLY");
    bench.lead();
    assert_eq!(bench.field(complete(None, &[("places:lid", "why not")])), "overrides[0].line");
    assert_eq!(bench.field(complete(None, &[both[0], both[0]])), "overrides[1].line");
    assert_eq!(bench.field(complete(None, &[("places:cover", " ")])), "overrides[0].reason");
    bench.must(complete(None, &both));
    let job = bench.shop.state.jobs.get(&(JOB,)).unwrap();
    assert_eq!((job.state, job.overridden), (JobState::Completed, None));
    let gone: Vec<(&str, Option<PersonId>)> = job.overruled.iter().map(|one| (one.line.as_str(), one.by)).collect();
    assert_eq!(gone, [("places:cover", Some(bench.moss)), ("pieces:cover", Some(bench.moss))]);
    assert_ne!(job.overruled[0].reason, job.overruled[1].reason);
    bench.must(ReopenJob { job: JOB, reason: "the covers came".into() });
    assert!(bench.shop.state.jobs.get(&(JOB,)).unwrap().overruled.is_empty());
}

#[test]
fn one_reason_is_for_every_line_that_has_none_of_its_own() {
    let mut bench = Bench::measured_and_fitted(&GOOD);
    let named = [("places:cover", ""), ("pieces:cover", "they lie in tray 3")];
    assert_eq!(bench.refused(complete(Some("drives without them"), &named[1..])), "HAND_OVER_OPEN");
    assert_eq!(bench.field(complete(None, &named)), "overrides[0].reason");
    bench.must(complete(Some("drives without them"), &named));
    let job = bench.shop.state.jobs.get(&(JOB,)).unwrap();
    let [places, pieces] = job.overruled.as_slice() else { panic!("{job:?}") };
    assert_eq!(job.overridden, None);
    assert_ne!(pieces.reason, places.reason);
}

#[test]
fn what_is_unfinished_is_named_whole_and_each_line_says_who_overrules_it() {
    let mut bench = Bench::open();
    bench.must(record("compression", &ONE_LOW));
    bench.lead();
    let refused = bench.run(complete(Some("he waits"), &[])).unwrap_err();
    assert_eq!(refused.reason(), "HAND_OVER_UNFINISHED");
    let keys = ["reading-out:compression", "blocker:1", "stage:measure", "stage:fit", "stage:done"];
    assert_eq!(bench.lines(), keys);
    let text = refused.to_string();
    assert!(text.contains("stage measure: active") && text.contains("compression: out of its limits"), "{text}");
    assert!(text.contains("out of its limits (a lead may overrule this)"), "{text}");
    assert!(text.contains("stage measure: active (this has to be ended)"), "{text}");
}

#[test]
fn a_sheet_says_what_was_done_found_measured_and_overruled_and_names_nobody_s_time() {
    let mut bench = Bench::open();
    bench.must(record("compression", &ONE_LOW));
    bench.lead();
    bench.must(decide(Decision::Accept));
    bench.must(finish("measure"));
    bench.must(start("fit"));
    let found = OffLine { missing: Some(1), ..OffLine::listed("cover".into()) };
    let take = TakeOff {
        job: JOB,
        stage: "fit".into(),
        step: None,
        lines: vec![found],
        as_listed: false,
        override_reason: None,
    };
    bench.must(take);
    bench.must(finish("fit"));
    bench.must(SkipStage { job: JOB, stage: "done".into(), reason: "the covers are on order".into() });
    let remark = |what, words: &str| MakeRemark { job: JOB, what, words: words.into() };
    bench.must(remark(RemarkKind::AdviceDeclined, "Front tyres below the limit: not renewed."));
    bench.must(remark(RemarkKind::FollowUp, "a slip"));
    let withdraw = |remark| WithdrawRemark { job: JOB, remark: RemarkNo(remark), reason: "another job".into() };
    bench.must(withdraw(2));
    assert_eq!(bench.refused(withdraw(2)), "NOTHING_TO_DO");
    assert_eq!(bench.refused(withdraw(3)), "NOT_FOUND");
    let draft = sheet(&bench.shop.state, JOB, bench.shop.now).unwrap();
    assert_eq!(draft.open.len(), 2, "while it is open the sheet is a draft");
    bench.must(complete(Some("drives without them"), &[("places:cover", ""), ("pieces:cover", "")]));
    assert_eq!(bench.refused(remark(RemarkKind::FollowUp, "too late")), "JOB_CLOSED");
    let sheet = sheet(&bench.shop.state, JOB, bench.shop.now).unwrap();
    assert_eq!(sheet.follow_ups, ["Tighten the wheels again after 40 to 80 km."]);
    assert_eq!(sheet.cautions.len(), 1);
    assert_eq!(sheet.remarks.iter().map(|row| row.remark).collect::<Vec<_>>(), [RemarkNo(1)]);
    assert_eq!(sheet.positions.iter().map(|row| row.missing).collect::<Vec<_>>(), [1]);
    assert_eq!(sheet.readings.readings[0].decision, Some(Decision::Accept));
    assert_eq!((sheet.open.len(), sheet.job.overruled.len()), (0, 2));
    assert_eq!(sheet.persons().into_iter().collect::<Vec<_>>(), [bench.moss], "who decided, and nobody who worked");
}

#[test]
fn a_step_that_was_not_done_leaves_nothing_to_be_watched() {
    let mut bench = Bench::open();
    assert!(sheet(&bench.shop.state, JOB, bench.shop.now).unwrap().follow_ups.is_empty());
    bench.must(SkipStage { job: JOB, stage: "measure".into(), reason: "no gauge".into() });
    bench.must(start("fit"));
    bench.must(SkipStep { job: JOB, stage: "fit".into(), step: StepNo(1), reason: "no wheels off".into() });
    assert!(sheet(&bench.shop.state, JOB, bench.shop.now).unwrap().follow_ups.is_empty());
}

#[test]
fn the_end_of_a_shift_says_what_is_loose_and_where_everything_is() {
    let mut bench = Bench::open();
    assert_eq!(loose_ends(&bench.shop.state, None, bench.shop.now)[0].half_done[0].1.len(), 2, "two steps are left");
    bench.must(record("compression", &ONE_LOW));
    let ends = loose_ends(&bench.shop.state, Some(JOB), bench.shop.now);
    assert_eq!((ends[0].readings.len(), ends[0].blockers.len()), (1, 1));
    bench.must(record("compression", &GOOD));
    bench.must(finish("measure"));
    bench.must(start("fit"));
    let kept = OffLine { kept_at: Some("tray 3".into()), ..OffLine::listed("cover".into()) };
    let take = TakeOff {
        job: JOB,
        stage: "fit".into(),
        step: None,
        lines: vec![kept],
        as_listed: false,
        override_reason: None,
    };
    bench.must(take);
    let ends = loose_ends(&bench.shop.state, None, bench.shop.now);
    assert_eq!((ends[0].kept.len(), ends[0].loose.len()), (1, 0));
    bench.must(finish("fit"));
    bench.must(start("done"));
    let line = BackLine { tightness: Some(Tightness::Finger), ..BackLine::listed("cover".into()) };
    bench.must(PutBack { job: JOB, stage: "done".into(), lines: vec![line], as_listed: false, override_reason: None });
    let ends = loose_ends(&bench.shop.state, None, bench.shop.now);
    assert_eq!((ends[0].kept.len(), ends[0].loose.len()), (0, 1));
    bench.must(TightenPositions { job: JOB, positions: vec!["cover".into()], tightness: Tightness::Final });
    bench.must(finish("done"));
    assert!(loose_ends(&bench.shop.state, None, bench.shop.now).is_empty(), "nothing is open any more");
}
