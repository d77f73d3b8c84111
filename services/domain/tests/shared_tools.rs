//! Shared tools told as stories: a tool is in one place, who needs it elsewhere knows who has it, and what waited for it
//! goes on by itself. The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::{Answer, Made, Notice};
use leadhand_domain::command::*;
use leadhand_domain::context::{Actor, Context};
use leadhand_domain::decide::checked_template;
use leadhand_domain::refusal::Refusal;
use leadhand_domain::state::State;
use leadhand_domain::view::ready::ready_list;
use leadhand_domain::view::tools::tool_lines;
use leadhand_facts::rows::{BlockerRow, LoanRow};
use leadhand_facts::safety::StepSafety;
use leadhand_facts::words::{BayKind, Cause, Role};
use leadhand_facts::*;
use proptest::prelude::*;
use stock_kit::Shop;

const ONE: JobNo = JobNo(1);
const TWO: JobNo = JobNo(2);

const TEMPLATE: &str = r#"
key = "belt"
title = "Camshaft belt"

[[stage]]
key = "lock"
title = "Lock and release"
minutes = [10, 20, 40]

[[stage.step]]
do = "Undo the cover"
tools = ["socket 10 mm"]

[[stage.step]]
do = "Lock the camshafts"
shared-tools = ["cam-lock-20", "torque-50"]
"#;

struct Yard {
    shop: Shop,
    flint: PersonId,
}

impl Yard {
    /// Two jobs of the same kind in two bays, and two shared tools; it is the 4th of May in UTC.
    fn open() -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
        let Made::Person(flint) = shop.must(AddPerson { name: "Flint".into(), skills: vec![] }).made else { panic!() };
        shop.must(add("cam-lock-20", None));
        shop.must(add("torque-50", Some("2026-05-03")));
        shop.must(PublishTemplate { source: TEMPLATE.into() });
        for bay in ["lift-1", "lift-2"] {
            let kind = BayKind::TwoPostLift;
            shop.must(AddBay { bay: bay.into(), name: bay.into(), kind, rated_kg: 3000 });
            let made = shop.must(open_job()).made;
            let Made::Job { job, .. } = made else { panic!("{made:?}") };
            shop.must(AssignJob { job, bay: bay.into(), override_reason: None });
        }
        shop.role = Role::Technician;
        Self { shop, flint }
    }

    fn must(&mut self, command: impl Into<Command>) -> Answer {
        self.shop.must(command)
    }

    fn code(&mut self, command: impl Into<Command>) -> &'static str {
        self.shop.refused(command).reason()
    }

    fn start(&mut self, job: JobNo) -> Vec<Notice> {
        self.must(StartStage { job, stage: "lock".into(), override_reason: None }).notices
    }

    fn tick(&mut self, job: JobNo, step: i32) -> Answer {
        self.must(TickSteps { job, stage: "lock".into(), steps: vec![StepNo(step)], override_reason: None })
    }

    /// What holds a job up now: cause, step, tool.
    fn held(&self, job: JobNo) -> Vec<(Cause, Option<StepNo>, Option<ToolKey>)> {
        let open = |row: &&BlockerRow| row.job == job && row.cleared_at.is_none();
        self.shop.state.blockers.iter().filter(open).map(|row| (row.cause, row.step, row.tool.clone())).collect()
    }

    fn loans(&self) -> Vec<LoanRow> {
        let mut all: Vec<LoanRow> = self.shop.state.loans.iter().cloned().collect();
        all.sort_by_key(|row| row.from_at);
        all
    }
}

fn add(tool: &str, calibration_due: Option<&str>) -> AddTool {
    let calibration_due = calibration_due.map(str::to_owned);
    AddTool { tool: tool.into(), name: format!("Tool {tool}"), what: None, calibration_due }
}

fn open_job() -> OpenJob {
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, priority) = (Some("belt".into()), None, None, 3);
    OpenJob { template, revision, title, vehicle, priority, promised_at: None, with: vec![], without: vec![] }
}

fn lend(tool: &str, job: JobNo) -> LendTool {
    LendTool { tool: tool.into(), job: Some(job), stage: None, bay: None, person: None, hand_on: false }
}

fn hand(tool: &str, job: JobNo) -> LendTool {
    LendTool { hand_on: true, ..lend(tool, job) }
}

fn waits() -> (Cause, Option<StepNo>, Option<ToolKey>) {
    (Cause::Tool, Some(StepNo(2)), Some("cam-lock-20".into()))
}

#[test]
fn the_second_bay_is_warned_at_once_and_held_up_when_its_step_is_next() {
    let mut yard = Yard::open();
    let to_bay =
        LendTool { job: None, bay: Some("lift-1".into()), stage: Some("lock".into()), ..lend("cam-lock-20", ONE) };
    assert_eq!(yard.must(to_bay).notices, vec![]);
    let loan = yard.loans().remove(0);
    let whose =
        (loan.job, loan.stage.as_ref().map(StageKey::as_str), loan.bay.as_ref().map(BayKey::as_str), loan.person);
    assert_eq!(whose, (Some(ONE), Some("lock"), Some("lift-1"), None), "the bay leads to the job that stands there");

    let (stage, tool) = (StageKey::from("lock"), ToolKey::from("cam-lock-20"));
    let later = Notice::ToolElsewhere { stage, step: StepNo(2), tool, job: Some(ONE), next: false };
    assert!(yard.start(TWO).contains(&later));
    assert_eq!(yard.held(TWO), [], "the cover comes first");
    yard.tick(TWO, 1);
    assert_eq!(yard.held(TWO), [waits()]);
    assert_eq!(yard.held(ONE), []);
    let by_hand = ClearBlocker { job: TWO, blocker: BlockerNo(1), note: None };
    assert_eq!(yard.code(by_hand), "BLOCKER_OF_TOOL");
    assert_eq!(yard.code(lend("cam-lock-20", TWO)), "TOOL_OUT");

    let told = yard.must(ReturnTool { tool: "cam-lock-20".into() }).notices;
    let (tool, stage) = ("cam-lock-20".into(), "lock".into());
    assert_eq!(told, [Notice::ToolWaitedFor { tool, job: TWO, stage, step: StepNo(2) }]);
    assert_eq!(yard.held(TWO), [], "it ends by itself");
}

#[test]
fn handing_on_is_one_command_and_turns_the_wait_round() {
    let mut yard = Yard::open();
    for job in [ONE, TWO] {
        yard.start(job);
        yard.tick(job, 1);
    }
    yard.must(lend("cam-lock-20", ONE));
    assert_eq!((yard.held(ONE), yard.held(TWO)), (vec![], vec![waits()]));
    yard.must(hand("cam-lock-20", TWO));
    assert_eq!((yard.held(ONE), yard.held(TWO)), (vec![waits()], vec![]));
    let loans = yard.loans();
    assert_eq!(loans.len(), 2);
    assert_eq!(loans[0].until_at, Some(loans[1].from_at), "nobody has it in between");
    assert_eq!(yard.code(hand("cam-lock-20", TWO)), "TOOL_THERE");
    assert_eq!(yard.code(hand("torque-50", TWO)), "TOOL_NOT_OUT");
    // Once it is done, nobody waits any more.
    yard.tick(TWO, 2);
    yard.must(FinishStage { job: TWO, stage: "lock".into(), as_listed: true });
    yard.shop.role = Role::Lead;
    let told = yard.must(CompleteJob { job: TWO, override_reason: None, overrides: Vec::new() }).notices;
    assert_eq!(told, [Notice::ToolStillOut { tool: "cam-lock-20".into() }]);
    assert_eq!(yard.held(ONE), [waits()], "it is still over there");
    yard.must(ReturnTool { tool: "cam-lock-20".into() });
    assert_eq!(yard.held(ONE), []);
}

#[test]
fn a_tool_that_a_person_has_is_told_and_holds_nobody_up() {
    let mut yard = Yard::open();
    yard.must(LendTool { job: None, person: Some(yard.flint), ..lend("cam-lock-20", ONE) });
    let (stage, tool) = (StageKey::from("lock"), ToolKey::from("cam-lock-20"));
    let told = Notice::ToolElsewhere { stage, step: StepNo(2), tool, job: None, next: false };
    let over = Notice::OutOfCalibration { tool: "torque-50".into(), due: "2026-05-03".into() };
    assert_eq!(yard.start(TWO), [Notice::NobodyClockedOn, told, over]);
    yard.tick(TWO, 1);
    assert_eq!(yard.held(TWO), []);
}

#[test]
fn what_was_said_wrongly_is_taken_back_in_its_order() {
    let mut yard = Yard::open();
    for job in [ONE, TWO] {
        yard.start(job);
        yard.tick(job, 1);
    }
    let back = || ReopenLoan { tool: "cam-lock-20".into(), reason: "it was the other bay".into() };
    assert_eq!(yard.code(back()), "NOTHING_TO_DO");
    yard.must(lend("cam-lock-20", ONE));
    yard.must(hand("cam-lock-20", TWO));
    yard.must(back());
    assert_eq!(yard.loans().len(), 1, "the loan that was none is gone");
    assert_eq!((yard.held(ONE), yard.held(TWO)), (vec![], vec![]));
    yard.must(back());
    let first = yard.loans().remove(0);
    assert_eq!((first.job, first.until_at), (Some(ONE), None), "the first one goes on");
    assert_eq!(yard.held(TWO), [waits()]);
    yard.must(back());
    assert_eq!((yard.loans(), yard.held(TWO)), (vec![], vec![]));
}

#[test]
fn a_late_entry_never_puts_a_tool_into_two_places() {
    let mut yard = Yard::open();
    let eight = stock_kit::instant("2026-05-04T08:00:00Z");
    yard.shop.now = eight;
    yard.must(lend("cam-lock-20", ONE));
    yard.shop.now = eight.plus_minutes(60);
    yard.must(ReturnTool { tool: "cam-lock-20".into() });
    yard.shop.now = eight.plus_minutes(90);
    let late =
        |yard: &mut Yard, minutes: i64| yard.shop.run_at(&lend("cam-lock-20", TWO).into(), eight.plus_minutes(minutes));
    for minutes in [0, 30, 60] {
        assert_eq!(late(&mut yard, minutes).unwrap_err().reason(), "TOOL_OUT_THEN", "{minutes}");
    }
    late(&mut yard, 61).unwrap();
    let early = yard.shop.run_at(&hand("cam-lock-20", ONE).into(), eight.plus_minutes(61));
    assert_eq!(early.unwrap_err().reason(), "TOO_EARLY", "an empty loan");
}

/// Taking back looks at the last loan and the one before it, however often the tool was lent before.
#[test]
fn taking_back_asks_for_the_last_loan_alone() {
    let mut yard = Yard::open();
    let back = || ReopenLoan { tool: "cam-lock-20".into(), reason: "it was the other bay".into() };
    for _ in 0..5 {
        // To a person: a job that wants the tool is loaded with its own loans.
        yard.must(LendTool { job: None, person: Some(yard.flint), ..lend("cam-lock-20", ONE) });
        yard.must(ReturnTool { tool: "cam-lock-20".into() });
        yard.shop.now = yard.shop.now.plus_minutes(2 * 24 * 60);
    }
    let mut state = State::at(yard.shop.state.head);
    let context = Context {
        now: yard.shop.now,
        happened_at: yard.shop.now,
        actor: Actor { principal: None, person: None, proved: None, role: Role::Technician },
        request: RequestId(uuid::Uuid::nil()),
        etag: None,
    };
    stock_kit::loading::load_for(&mut state, yard.shop.kept(), &back().into(), &context);
    assert_eq!(state.loans.iter().count(), 2);
    // All of it is taken back, one after the other: the kit decides each time on what was asked for alone as well.
    for left in (0..5).rev() {
        yard.must(back());
        yard.must(back());
        assert_eq!(yard.loans().len(), left);
    }
    assert_eq!(yard.code(back()), "NOTHING_TO_DO");
}

#[test]
fn a_loan_to_a_bay_that_is_entered_late_goes_to_what_stood_there_then() {
    let mut yard = Yard::open();
    yard.shop.role = Role::Lead;
    let then = yard.shop.now;
    let roll_out = |job| RollOut { job, override_reason: None };
    yard.must(roll_out(ONE));
    yard.must(roll_out(TWO));
    let empty = yard.shop.now;
    yard.must(AssignJob { job: TWO, bay: "lift-1".into(), override_reason: None });
    let to_bay = || Command::from(LendTool { job: None, bay: Some("lift-1".into()), ..lend("cam-lock-20", ONE) });
    let refused = yard.shop.run_at(&to_bay(), empty).unwrap_err();
    assert_eq!(refused.reason(), "BAY_EMPTY_THEN", "{refused}");
    yard.shop.run_at(&to_bay(), then).unwrap();
    let loan = yard.loans().remove(0);
    assert_eq!((loan.job, loan.bay.as_ref().map(BayKey::as_str)), (Some(ONE), Some("lift-1")));
    // A job that is named has it where its vehicle stood then, too.
    yard.shop.run_at(&lend("torque-50", TWO).into(), then).unwrap();
    let loan = yard.loans().into_iter().find(|row| row.tool.as_str() == "torque-50").unwrap();
    assert_eq!(loan.bay.as_ref().map(BayKey::as_str), Some("lift-2"));
}

/// A person is told by id here, in the place of which the application puts the name.
#[test]
fn whoever_has_a_tool_is_named_in_the_refusal() {
    let mut yard = Yard::open();
    yard.must(LendTool { job: None, person: Some(yard.flint), ..lend("cam-lock-20", ONE) });
    let refused = yard.shop.refused(lend("cam-lock-20", TWO));
    assert!(refused.names_persons() && refused.to_string().contains(&yard.flint.to_string()), "{refused}");
    assert!(refused.to_string().contains("since 2026-05-04 06:"), "{refused}");
}

#[test]
fn lending_past_the_calibration_says_until_when_it_counted() {
    let mut yard = Yard::open();
    let told = yard.must(lend("torque-50", ONE)).notices;
    assert_eq!(told, [Notice::OutOfCalibration { tool: "torque-50".into(), due: "2026-05-03".into() }]);
    let lines = tool_lines(&yard.shop.state, false, yard.shop.now);
    let over: Vec<(&str, bool)> = lines.iter().map(|line| (line.row.tool.as_str(), line.out_of_calibration)).collect();
    assert_eq!(over, [("cam-lock-20", false), ("torque-50", true)]);
    // The ready list of a stage goes by the same rule, though the job has the tool already.
    let missing = |yard: &Yard| -> Vec<String> {
        let list = ready_list(&yard.shop.state, &[(ONE, "lock".into())], yard.shop.now);
        // Nobody here works on vehicles, which is told as well.
        list.missing.into_iter().map(|line| line.text).filter(|text| text.contains("calibration")).collect()
    };
    assert_eq!(missing(&yard), ["the calibration of shared tool 'torque-50', which counted until 2026-05-03"]);
    yard.must(DescribeTool {
        tool: "torque-50".into(),
        name: None,
        what: Change::Keep,
        calibration_due: Change::Set("2026-05-04".into()),
    });
    assert_eq!(missing(&yard), Vec::<String>::new());
    yard.must(ReturnTool { tool: "torque-50".into() });
    assert_eq!(yard.must(lend("torque-50", ONE)).notices, [], "the last day counts");
}

#[test]
fn a_retired_tool_is_lent_to_nobody_until_it_is_described_anew() {
    let mut yard = Yard::open();
    let retire = || RetireTool { tool: "cam-lock-20".into(), reason: "the pin is bent".into() };
    yard.must(lend("cam-lock-20", ONE));
    assert_eq!(yard.code(retire()), "TOOL_OUT");
    yard.must(ReturnTool { tool: "cam-lock-20".into() });
    yard.must(retire());
    assert_eq!(yard.code(retire()), "TOOL_RETIRED");
    assert_eq!(yard.code(lend("cam-lock-20", ONE)), "TOOL_RETIRED");
    let (stage, step) = (StageKey::from("lock"), StepNo(2));
    let told = yard.start(TWO);
    assert!(told.contains(&Notice::ToolGone { stage, step, tool: "cam-lock-20".into() }), "{told:?}");
    assert_eq!(tool_lines(&yard.shop.state, false, yard.shop.now).len(), 1);
    assert_eq!(tool_lines(&yard.shop.state, true, yard.shop.now).len(), 2);
    let name = Some("Camshaft lock".to_owned());
    yard.must(DescribeTool { tool: "cam-lock-20".into(), name, what: Change::Keep, calibration_due: Change::Keep });
    yard.must(lend("cam-lock-20", ONE));
}

#[test]
fn what_is_asked_wrongly_is_refused_and_names_what_is_wrong() {
    let mut yard = Yard::open();
    let field = |refusal: Refusal| refusal.field().unwrap_or_default().to_owned();
    let nobody = LendTool { job: None, ..lend("cam-lock-20", ONE) };
    assert_eq!(field(yard.shop.refused(nobody)), "job");
    let both = LendTool { bay: Some("lift-1".into()), ..lend("cam-lock-20", ONE) };
    assert_eq!(field(yard.shop.refused(both)), "job");
    let stage =
        LendTool { job: None, person: Some(yard.flint), stage: Some("lock".into()), ..lend("cam-lock-20", ONE) };
    assert_eq!(field(yard.shop.refused(stage)), "stage");
    assert_eq!(yard.code(lend("puller", ONE)), "NOT_FOUND");
    assert_eq!(yard.code(lend("cam-lock-20", JobNo(9))), "NOT_FOUND");
    let kind = BayKind::Floor;
    yard.must(AddBay { bay: "floor-1".into(), name: "Floor".into(), kind, rated_kg: 3000 });
    let empty = LendTool { job: None, bay: Some("floor-1".into()), ..lend("cam-lock-20", ONE) };
    assert_eq!(yard.code(empty), "BAY_EMPTY");
    assert_eq!(yard.code(add("cam-lock-20", None)), "ALREADY_EXISTS");
    assert_eq!(field(yard.shop.refused(add("frame", Some("next spring")))), "tool.calibration_due");
    assert_eq!(field(yard.shop.refused(add("frame lock", None))), "tool.tool");
    assert_eq!(yard.code(ReturnTool { tool: "cam-lock-20".into() }), "TOOL_NOT_OUT");
    let step = |shared_tools: Vec<ToolKey>| AddStep {
        job: ONE,
        stage: "lock".into(),
        instruction: "Lock the pump".into(),
        tools: vec![],
        shared_tools,
        cautions: vec![],
        needs: vec![],
        follow_up: None,
        safety: StepSafety::default(),
    };
    assert_eq!(yard.code(step(vec!["pump-lock".into()])), "NOT_FOUND");
    assert_eq!(field(yard.shop.refused(step(vec!["cam-lock-20".into(); 2]))), "shared_tools[1]");
    yard.must(step(vec!["cam-lock-20".into()]));
}

#[test]
fn a_template_names_only_tools_that_the_shop_uses() {
    let yard = Yard::open();
    let wrong = TEMPLATE.replace("\"torque-50\"", "\"torque-5O\", \"puller\"");
    let Err(Refusal::TemplateFaults { faults }) = checked_template(&yard.shop.state, &wrong) else { panic!() };
    let said: Vec<(usize, &str)> = faults.iter().map(|fault| (fault.line, fault.message.as_str())).collect();
    assert_eq!(said.len(), 2, "{said:?}");
    assert_eq!(said[0].0, 16);
    assert!(said[0].1.contains("'torque-5O'") && said[0].1.contains("torque-50'"), "{said:?}");
    assert!(said[1].1.contains("'puller'"), "{said:?}");
    let twice = TEMPLATE.replace("\"torque-50\"", "\"cam-lock-20\"");
    let Err(Refusal::TemplateFaults { faults }) = checked_template(&yard.shop.state, &twice) else { panic!() };
    assert!(faults[0].message.contains("again"), "{faults:?}");
}

/// One of the commands that move tools, drawn from three numbers.
fn moves(rolls: (u8, u8, u8), flint: PersonId) -> Command {
    let (what, which, whom) = rolls;
    let tool = ToolKey::from(["cam-lock-20", "torque-50"][usize::from(which % 2)]);
    let job = Some(JobNo(i64::from(whom % 3) + 1));
    let stage = (whom % 4 == 3).then(|| StageKey::from("lock"));
    match what % 8 {
        0 | 1 => LendTool { tool, job, stage, bay: None, person: None, hand_on: false }.into(),
        2..=4 => LendTool { tool, job, stage, bay: None, person: None, hand_on: true }.into(),
        5 => LendTool { tool, job: None, stage: None, bay: None, person: Some(flint), hand_on: whom % 2 == 1 }.into(),
        6 => ReturnTool { tool }.into(),
        _ => ReopenLoan { tool, reason: "said wrongly".into() }.into(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Whatever is lent, handed on, brought back and taken back, now or late: no tool is in two places at any instant,
    /// counted here by hand beside the auditor, which looks after every command; and a job waits exactly for what its
    /// next step asks for and another job has.
    #[test]
    fn a_tool_is_never_in_two_places(
        all in proptest::collection::vec((any::<(u8, u8, u8)>(), 0..40_i64), 1..40)
    ) {
        let mut yard = Yard::open();
        for job in [ONE, TWO] {
            yard.start(job);
            yard.tick(job, 1);
        }
        for (rolls, late) in all {
            yard.shop.now = yard.shop.now.plus_minutes(7);
            let command = moves(rolls, yard.flint);
            // A refusal is an answer as well; the kit holds that it changed nothing.
            let _ = yard.shop.run_at(&command, yard.shop.now.plus_minutes(-late));
            let loans = yard.loans();
            for (at, one) in loans.iter().enumerate() {
                for other in loans[at + 1..].iter().filter(|other| other.tool == one.tool) {
                    let apart = one.until_at.is_some_and(|until| until <= other.from_at);
                    prop_assert!(apart, "{one:?} and {other:?}");
                }
            }
            for job in [ONE, TWO] {
                let with_another = |row: &&LoanRow| row.until_at.is_none() && row.job.is_some_and(|other| other != job);
                let mut away: Vec<ToolKey> = loans.iter().filter(with_another).map(|row| row.tool.clone()).collect();
                away.sort();
                let mut waited: Vec<ToolKey> = yard.held(job).into_iter().filter_map(|(.., tool)| tool).collect();
                waited.sort();
                prop_assert_eq!(waited, away);
            }
        }
    }
}
