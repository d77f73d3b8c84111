//! What a stage needs in hand, worked out by hand for an invented job: tools by size, goods with where they stand, shared
//! tools with who has them, people, hold points; each by the step that needs it first. The rules are the project's own.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on says where")]

mod stock_kit;

use leadhand_domain::answer::Made;
use leadhand_domain::command::*;
use leadhand_domain::plan::plan_input;
use leadhand_domain::view::ready::{ReadyList, ready_list};
use leadhand_domain::view::ready_day::{Of, stages_of};
use leadhand_facts::calendar::{DayHours, Week};
use leadhand_facts::words::{BayKind, StageKind};
use leadhand_facts::*;
use stock_kit::Shop;

const TEMPLATE: &str = r#"
key = "belt"
title = "Camshaft belt"

[[stage]]
key = "strip"
title = "Strip"
minutes = [20, 30, 60]
bays = ["two-post-lift"]
skills = ["engine"]
hands = 2
tools = ["lamp"]

[[stage.step]]
do = "Take the cover off"
tools = ["socket 10 mm", "sockets 8 and 13 mm"]

[[stage.step]]
do = "Hold point: is it at top dead centre? Somebody else looks."

[[stage.step]]
do = "Lock it"
tools = ["socket 12 mm, six-point"]
shared-tools = ["cam-lock-20", "puller"]
needs = [{ item = "belt", quantity = 2 }, { item = "sealant", quantity = 50, unit = "mL" }]

[[stage]]
key = "fit"
title = "Fit"
minutes = [40, 60, 90]
after = ["strip"]

[[stage.step]]
do = "Fit the belt"
tools = ["10 mm socket"]
needs = [{ item = "belt", quantity = 1 }]

[[stage]]
key = "drive"
title = "Drive"
minutes = [10, 20, 30]
bays = ["floor"]
after = ["fit"]
"#;

const ONE: JobNo = JobNo(1);

struct Yard {
    shop: Shop,
    flint: PersonId,
}

fn open_job() -> OpenJob {
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, priority) = (Some("belt".into()), None, None, 3);
    OpenJob { template, revision, title, vehicle, priority, promised_at: None, with: vec![], without: vec![] }
}

fn week(from_minute: i32, until_minute: i32) -> Week {
    Week(std::array::from_fn(|_| vec![DayHours { from_minute, until_minute }]))
}

impl Yard {
    /// Two jobs of the kind, the first in lift-1; the second has the lock, and the shop has two of three belts. Flint,
    /// who has the skill, is on shift from 06:00 to 07:00 on the 4th of May.
    fn open() -> Self {
        let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
        let mut add = |name: &str, skills: &[&str]| {
            let skills = skills.iter().map(|&skill| skill.to_owned()).collect();
            let Made::Person(person) = shop.must(AddPerson { name: name.into(), skills }).made else { panic!() };
            person
        };
        let (flint, _) = (add("Flint", &["engine", "brakes"]), add("Moss", &["brakes"]));
        shop.must(SetHours { from_day: "2026-05-04".into(), week: week(360, 480) });
        shop.must(SetShift { person: flint, from_day: "2026-05-04".into(), week: week(360, 420) });
        shop.item("belt");
        shop.must(AddItem { item: "sealant".into(), name: "Sealant".into(), unit: Unit::Millilitre, fluid: None });
        shop.bin("a");
        shop.receive("belt", "a", 2, None);
        shop.receive("sealant", "a", 500, None);
        for tool in ["cam-lock-20", "puller"] {
            shop.must(AddTool { tool: tool.into(), name: tool.into(), what: None, calibration_due: None });
        }
        shop.must(PublishTemplate { source: TEMPLATE.into() });
        let kind = BayKind::TwoPostLift;
        shop.must(AddBay { bay: "lift-1".into(), name: "Lift 1".into(), kind, rated_kg: 3000 });
        for _ in 0..2 {
            shop.must(open_job());
        }
        shop.must(AssignJob { job: ONE, bay: "lift-1".into(), override_reason: None });
        let job = Some(JobNo(2));
        shop.must(LendTool { tool: "cam-lock-20".into(), job, stage: None, bay: None, person: None, hand_on: false });
        Self { shop, flint }
    }

    fn list(&self, of: &Of) -> ReadyList {
        let (state, now) = (&self.shop.state, self.shop.now);
        ready_list(state, &stages_of(state, of, now).unwrap(), now)
    }

    fn strip(&self) -> ReadyList {
        self.list(&Of::Stage(ONE, "strip".into()))
    }
}

fn missing(list: &ReadyList) -> Vec<(i32, bool, &str)> {
    list.missing.iter().map(|line| (line.first.step.0, line.next, line.text.as_str())).collect()
}

#[test]
fn everything_is_named_by_the_step_that_needs_it_first() {
    let yard = Yard::open();
    let list = yard.strip();
    let tools: Vec<(&str, i32)> = list.tools.iter().map(|line| (line.text.as_str(), line.first.step.0)).collect();
    assert_eq!(tools, [("lamp", 0), ("8, 10 and 13 mm sockets", 1), ("12 mm six-point socket", 3)]);
    let goods: Vec<(&str, i32, String)> =
        list.goods.iter().map(|line| (line.item.as_str(), line.first.step.0, line.standing())).collect();
    let free = "on hand, not set aside yet";
    assert_eq!(goods, [("belt", 3, format!("2 {free}")), ("sealant", 3, format!("50 mL {free}"))]);
    let holds: Vec<i32> = list.holds.iter().map(|line| line.place.step.0).collect();
    assert_eq!(holds, [2]);
    let people = &list.people[0];
    assert_eq!((people.hands, people.able.len(), people.able[0].on_shift, people.lacking), (2, 1, true, true));
    let shared: Vec<(String, bool)> = list
        .shared
        .iter()
        .map(|line| (line.tool.as_ref().unwrap().row.tool.to_string(), line.tool.as_ref().unwrap().loan.is_none()))
        .collect();
    assert_eq!(shared, [("cam-lock-20".to_owned(), false), ("puller".to_owned(), true)]);
    let told = [
        (0, true, "2 persons with the skill 'engine', and only 1 who can is on shift now"),
        (3, false, "shared tool 'cam-lock-20', which job 2 has"),
    ];
    assert_eq!(missing(&list), told);
}

#[test]
fn high_voltage_asks_for_whoever_is_qualified() {
    let mut yard = Yard::open();
    let text =
        TEMPLATE.replace("do = \"Take the cover off\"", "do = \"Take the cover off\"\nhazard = [\"high-voltage\"]");
    yard.shop.must(PublishTemplate { source: text });
    yard.shop.must(open_job());
    let list = yard.list(&Of::Stage(JobNo(3), "strip".into()));
    let asked: Vec<_> = list.people.iter().map(|line| (line.step.0, line.skills.join(","), line.lacking)).collect();
    assert!(asked.contains(&(1, "high-voltage".to_owned(), true)), "{asked:?}");
}

#[test]
fn what_is_short_says_who_has_it_and_what_is_set_aside_is_not_missing() {
    let mut yard = Yard::open();
    yard.shop.reserve(JobNo(2));
    yard.shop.reserve(ONE);
    let list = yard.list(&Of::Job(ONE));
    let belt = list.goods.iter().find(|line| line.item.as_str() == "belt").unwrap();
    // Job 2 was first: it has both; this job's three are short.
    assert_eq!((belt.wanted.0, belt.short.0, belt.standing().as_str()), (3, 3, "3 short"));
    assert!(
        missing(&list).contains(&(3, false, "3 of 'belt' (Item belt); job 2 has 2 set aside")),
        "{:?}",
        missing(&list)
    );
    let other = yard.list(&Of::Job(JobNo(2)));
    let belt = other.goods.iter().find(|line| line.item.as_str() == "belt").unwrap();
    assert_eq!(belt.standing(), "2 set aside, 1 short");
    assert_eq!(belt.missing(), Quantity(1));
}

#[test]
fn steps_that_are_done_need_nothing_and_a_tool_that_is_here_is_not_missing() {
    let mut yard = Yard::open();
    yard.shop.person = Some(yard.flint);
    yard.shop.must(StartStage { job: ONE, stage: "strip".into(), override_reason: None });
    let steps = vec![StepNo(1), StepNo(2)];
    yard.shop.must(TickSteps { job: ONE, stage: "strip".into(), steps, override_reason: None });
    let tool = || ToolKey::from("cam-lock-20");
    yard.shop.must(LendTool { tool: tool(), job: Some(ONE), stage: None, bay: None, person: None, hand_on: true });
    let list = yard.strip();
    let tools: Vec<&str> = list.tools.iter().map(|line| line.text.as_str()).collect();
    assert_eq!(tools, ["lamp", "12 mm six-point socket"]);
    assert!(list.shared[0].here && list.holds.is_empty());
    assert_eq!(missing(&list).len(), 1, "only the second pair of hands: {:?}", missing(&list));
    yard.shop.must(LendTool {
        tool: tool(),
        job: None,
        stage: None,
        bay: None,
        person: Some(yard.flint),
        hand_on: true,
    });
    let list = yard.strip();
    let lent = list.missing.iter().find(|line| line.person.is_some()).unwrap();
    assert_eq!((lent.text.as_str(), lent.next), ("shared tool 'cam-lock-20'", true), "the name is looked up outside");
    yard.shop.must(FinishStage { job: ONE, stage: "strip".into(), as_listed: true });
    assert!(yard.strip().stages.is_empty(), "what has ended needs nothing");
}

#[test]
fn a_bay_s_day_goes_as_far_as_its_hours_and_a_shift_as_far_as_its_own() {
    let mut yard = Yard::open();
    let stages = |yard: &Yard, of: &Of| -> Vec<String> {
        yard.list(of).stages.iter().map(|stage| stage.stage.to_string()).collect()
    };
    let bay = Of::Bay("lift-1".into());
    // Open until 08:00: 30 likely minutes and the start of 60 more; the drive asks for the floor.
    assert_eq!(stages(&yard, &bay), ["strip", "fit"]);
    yard.shop.now = stock_kit::instant("2026-05-04T07:35:00Z");
    assert_eq!(stages(&yard, &bay), ["strip"], "25 minutes are left");
    yard.shop.now = stock_kit::instant("2026-05-04T09:00:00Z");
    assert_eq!(stages(&yard, &bay), ["strip"], "what comes first is always told");
    let mut yard = Yard::open();
    let shift = Of::Person(yard.flint);
    assert_eq!(stages(&yard, &shift), Vec::<String>::new(), "on nothing yet");
    yard.shop.person = Some(yard.flint);
    yard.shop.must(StartStage { job: ONE, stage: "strip".into(), override_reason: None });
    assert_eq!(stages(&yard, &shift), ["strip", "fit"]);
    yard.shop.now = stock_kit::instant("2026-05-04T06:40:00Z");
    assert_eq!(stages(&yard, &shift), ["strip"], "the shift ends at 07:00");
    let nowhere = stages_of(&yard.shop.state, &Of::Bay("lift-9".into()), yard.shop.now);
    assert_eq!(nowhere.unwrap_err().reason(), "NOT_FOUND");
}

/// As the accepted plan has it until the end of the day: in the bay also what needs none while the vehicle stands there, and a
/// vehicle that is still to come; a vehicle of which the plan knows nothing is told as before, and first.
#[test]
fn a_bay_and_a_person_come_to_what_the_accepted_plan_has() {
    let mut yard = Yard::open();
    let at = |time: &str| stock_kit::instant(&format!("2026-05-{time}:00Z"));
    let planned = |job: i64, stage: &str, bay: Option<&str>, from: &str, until: &str| plan::PlannedStage {
        job: JobNo(job),
        stage: stage.into(),
        bay: bay.map(BayKey::from),
        people: vec![yard.flint],
        tools: vec![],
        from: at(from),
        until: at(until),
    };
    let visit = |job: i64, from: &str, until: &str| plan::BayVisit {
        job: JobNo(job),
        bay: "lift-1".into(),
        from: at(from),
        until: at(until),
    };
    let stages = vec![planned(1, "fit", None, "04T06:10", "04T06:30"), planned(2, "fit", None, "04T06:50", "04T07:00")];
    let accept = AcceptPlan {
        made_n: yard.shop.state.head,
        made_at: yard.shop.now,
        stages,
        visits: vec![visit(1, "04T06:00", "04T06:40"), visit(2, "04T06:40", "04T08:00")],
        jobs: vec![],
        even_if_outdated: false,
    };
    let told = |yard: &Yard, of: &Of| -> Vec<String> {
        let all = stages_of(&yard.shop.state, of, yard.shop.now).unwrap();
        all.iter().map(|(job, stage)| format!("{job}/{stage}")).collect()
    };
    let (bay, flint) = (Of::Bay("lift-1".into()), Of::Person(yard.flint));
    assert_eq!(told(&yard, &flint), Vec::<String>::new());
    yard.shop.must(accept);
    assert_eq!(told(&yard, &flint), ["1/fit", "2/fit"]);
    assert_eq!(told(&yard, &bay), ["1/fit", "2/fit"]);
    yard.shop.must(SkipStage { job: ONE, stage: "fit".into(), reason: "not wanted".into() });
    assert_eq!(told(&yard, &flint), ["2/fit"], "what is over is not to come");
    assert_eq!(told(&yard, &bay), ["1/strip", "2/fit"], "the plan has nothing more of the vehicle that stands there");
    yard.shop.now = stock_kit::instant("2026-05-03T23:00:00Z");
    assert_eq!(told(&yard, &flint), Vec::<String>::new(), "that is tomorrow's");
}

fn stage_with(job: JobNo, tools: &[&str], skills: &[&str]) -> AddStage {
    let owned = |words: &[&str]| words.iter().map(|&word| word.to_owned()).collect();
    AddStage {
        job,
        stage: Some("more".into()),
        title: "More".into(),
        kind: StageKind::Work,
        minutes: template::Minutes { low: 10, likely: 20, high: 30 },
        bays: vec![],
        skills: owned(skills),
        hands: 1,
        tools: owned(tools),
        after: vec![],
        after_last: false,
        before: vec![],
        may_leave: false,
        in_one_go: false,
        steps: vec!["Lock it again".into()],
    }
}

/// A stage that is added as the work goes names its tools by words. The plan takes a shared tool's key or name for that tool,
/// and so does the list: who has it is told, from the start of the stage on, and it is no tool of the box.
#[test]
fn a_shared_tool_that_an_added_stage_names_is_one() {
    let mut yard = Yard::open();
    yard.shop.must(stage_with(ONE, &["Cam-Lock-20", "puller ", "rag"], &[]));
    let more = Of::Stage(ONE, "more".into());
    let list = yard.list(&more);
    let shared: Vec<(&str, i32)> =
        list.shared.iter().map(|line| (line.tool.as_ref().unwrap().row.tool.as_str(), line.first.step.0)).collect();
    assert_eq!(shared, [("cam-lock-20", 0), ("puller", 0)]);
    assert_eq!(list.tools.iter().map(|line| line.text.as_str()).collect::<Vec<_>>(), ["rag"]);
    assert_eq!(missing(&list), [(0, true, "shared tool 'cam-lock-20', which job 2 has")]);
    let input = plan_input(&yard.shop.state, yard.shop.now, &|_| String::new());
    let stages = input.jobs.iter().filter(|job| job.job == ONE).flat_map(|job| &job.stages);
    let planned = stages.into_iter().find(|stage| stage.stage.as_str() == "more").unwrap();
    assert_eq!(planned.tools, [ToolKey::from("cam-lock-20"), ToolKey::from("puller")], "as in the plan");
    // It is lent to this job: nothing is missing.
    let tool = "cam-lock-20".into();
    yard.shop.must(LendTool { tool, job: Some(ONE), stage: None, bay: None, person: None, hand_on: true });
    assert_eq!(missing(&yard.list(&more)), []);
}

/// Moss has a skill and no shift, and is planned in the shop's hours: so the list has Moss there until 08:00, as Flint until
/// 07:00. Who has neither skill nor shift is planned nowhere, and is nobody whom the list counts on.
#[test]
fn who_could_do_a_stage_is_whom_the_plan_has_at_that_time() {
    let mut yard = Yard::open();
    let Made::Person(desk) = yard.shop.must(AddPerson { name: "Reed".into(), skills: vec![] }).made else { panic!() };
    yard.shop.must(stage_with(ONE, &[], &[]));
    let more = Of::Stage(ONE, "more".into());
    let there = |yard: &Yard, at: &str| {
        let now = stock_kit::instant(at);
        let list = ready_list(&yard.shop.state, &stages_of(&yard.shop.state, &more, now).unwrap(), now);
        let input = plan_input(&yard.shop.state, now, &|_| String::new());
        let works = |windows: &[Window]| windows.iter().any(|window| window.holds(now));
        let planned = input.technicians.iter().filter(|one| works(&one.shifts) || works(&one.overtime));
        let planned: std::collections::BTreeSet<PersonId> = planned.map(|one| one.person).collect();
        let line = &list.people[0];
        let told = line.able.iter().filter(|one| one.on_shift).map(|one| one.person).collect();
        assert_eq!(planned, told, "at {at}");
        assert!(line.able.iter().all(|one| input.technicians.iter().any(|other| other.person == one.person)));
        (told.len(), line.lacking)
    };
    assert_eq!(there(&yard, "2026-05-04T06:30:00Z"), (2, false));
    assert_eq!(there(&yard, "2026-05-04T07:30:00Z"), (1, false), "Moss alone");
    assert_eq!(there(&yard, "2026-05-04T08:30:00Z"), (0, true), "the shop is closed");
    let (from_at, until_at) = (stock_kit::instant("2026-05-04T08:00:00Z"), stock_kit::instant("2026-05-04T09:00:00Z"));
    yard.shop.must(OpenOvertime { person: yard.flint, from_at, until_at });
    assert_eq!(there(&yard, "2026-05-04T08:30:00Z"), (1, false), "Flint's overtime");
    yard.shop.must(SetShift { person: desk, from_day: "2026-05-04".into(), week: week(360, 480) });
    assert_eq!(there(&yard, "2026-05-04T06:30:00Z"), (3, false), "a shift makes a technician");
}

/// Where nobody could do it at all the list says so as the plan does.
#[test]
fn a_skill_that_nobody_has_is_told_as_such() {
    let mut yard = Yard::open();
    yard.shop.must(stage_with(ONE, &[], &["gearbox"]));
    let list = yard.list(&Of::Stage(ONE, "more".into()));
    let told = "one person with the skill 'gearbox', and nobody in the shop has that: give it to somebody";
    assert_eq!(missing(&list), [(0, true, told)]);
}

#[test]
fn a_blank_job_tells_what_is_listed_so_far() {
    let mut yard = Yard::open();
    let job = yard.shop.job(3, &[("look", &[("belt", 1)])]);
    let list = yard.list(&Of::Job(job));
    assert_eq!((list.goods.len(), list.tools.len(), list.missing.len()), (1, 0, 0), "{list:?}");
}
