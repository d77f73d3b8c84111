//! How the journals were written. Each is kept as it is; a new kind of fact gets a journal of its own.

use super::*;

#[path = "writer_fill.rs"]
mod fill;
#[path = "writer_plan.rs"]
mod plan;

/// Wrote `v1_rest.jsonl` once. It stays ignored: what it writes now may be of a later version.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_rest_of_version_1() {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    shop.item("gasket");
    shop.bin("a");
    shop.receive("gasket", "a", 3, Some("2026-05-05"));
    let Made::Person(person) = shop.must(AddPerson { name: "Flint".into(), skills: vec![] }).made else { panic!() };
    shop.must(IssueToken {
        token: TokenId(uuid::Uuid::from_u128(1 << 100)),
        principal: PrincipalId(uuid::Uuid::from_u128(1 << 101)),
        person: Some(person),
        label: None,
        role: Role::Technician,
        prefix: "lhd_00000".into(),
        hash: "0".repeat(64),
        expires_at: None,
    });
    let job = shop.job(3, &[("strip", &[("gasket", 1)]), ("fit", &[("gasket", 2)])]);
    shop.reserve(job);
    let stage = |title: &str, after: &str, wait_minutes, before: Vec<StageKey>| AddStage {
        job,
        stage: Some(title.into()),
        title: title.into(),
        kind: StageKind::Work,
        minutes: Minutes { low: 1, likely: 2, high: 3 },
        bays: vec![],
        skills: vec![],
        hands: 1,
        tools: vec![],
        after: vec![JobAfter { stage: after.into(), wait_minutes }],
        after_last: false,
        before,
        may_leave: false,
        in_one_go: false,
        steps: vec!["Look".into()],
    };
    shop.must(StartStage { job, stage: "strip".into(), override_reason: None });
    shop.must(SkipStep { job, stage: "strip".into(), step: StepNo(1), reason: "it is new already".into() });
    shop.must(FinishStage { job, stage: "strip".into(), as_listed: false });
    shop.must(stage("extract", "strip", 30, vec!["fit".into()]));
    shop.must(stage("cure", "extract", 30, vec![]));
    shop.must(SkipStage { job, stage: "extract".into(), reason: "it came out by hand".into() });
    shop.now = shop.now.plus_minutes(60);
    shop.must(Tick {});
    shop.now = shop.now.plus_minutes(3 * 24 * 60);
    shop.must(Tick {});
    shop.must(CancelJob { job, reason: "the customer changed plans".into(), as_it_is: false });
    shop.must(ForgetPerson { person, texts: vec![] });
    write(&shop, "v1_rest");
}

fn write(shop: &Shop, name: &str) {
    let lines = shop.journal.iter().map(|entry| {
        let mut value = serde_json::to_value(entry).unwrap();
        let stored = upcast::store(&entry.fact).unwrap();
        value["version"] = stored.version.into();
        format!("{value}\n")
    });
    std::fs::write(format!("tests/journals/{name}.jsonl"), lines.collect::<String>()).unwrap();
}

/// Wrote `v1_doors.jsonl` once.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_doors_of_version_1() {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    let Made::Person(person) = shop.must(AddPerson { name: "Flint".into(), skills: vec![] }).made else { panic!() };
    let id = |n: u8| uuid::Uuid::from_u128(u128::from(n) << 100);
    let issue = |n: u8, person, role| IssueToken {
        token: TokenId(id(n)),
        principal: PrincipalId(id(n + 1)),
        person,
        label: person.is_none().then(|| "Bay tablet".to_owned()),
        role,
        prefix: format!("lhd_{n:05}"),
        hash: format!("{n:064}"),
        expires_at: None,
    };
    shop.must(issue(1, Some(person), Role::Lead));
    shop.must(issue(3, None, Role::Technician));
    shop.must(RotateToken {
        token: TokenId(id(3)),
        new: TokenId(id(5)),
        prefix: "lhd_00005".into(),
        hash: format!("{:064}", 5),
        overlap_minutes: 1440,
        expires_at: None,
    });
    let role = Role::Technician;
    shop.must(SetBadge { person, role, hash: format!("{:064}", 6) });
    shop.must(SetPin { person, role, secret: "a slow hash".into() });
    let proof_n = shop.state.head;
    shop.must(SignIn {
        session: TokenId(id(7)),
        device: TokenId(id(5)),
        person,
        proof: ProofKind::Pin,
        proof_n,
        prefix: "lhs_00007".into(),
        hash: format!("{:064}", 7),
        minutes: 10,
    });
    shop.must(SignOut { session: TokenId(id(7)) });
    shop.must(SetPin { person, role, secret: "another slow hash".into() });
    shop.must(WithdrawProof { person, proof: ProofKind::Pin });
    write(&shop, "v1_doors");
}

/// Wrote `v1_mistakes.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_mistakes_of_version_1() {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    shop.item("gasket");
    shop.bin("a");
    shop.receive("gasket", "a", 3, None);
    let job = shop.job(3, &[("strip", &[("gasket", 1)]), ("fit", &[("gasket", 2)])]);
    shop.reserve(job);
    let Made::Person(person) = shop.must(AddPerson { name: "Flint".into(), skills: vec![] }).made else { panic!() };
    shop.person = Some(person);
    let (strip, reason) = (|| StageKey::from("strip"), || "it was a slip".to_owned());
    shop.must(StartStage { job, stage: strip(), override_reason: None });
    shop.now = shop.now.plus_minutes(20);
    shop.must(FinishStage { job, stage: strip(), as_listed: true });
    let entry = shop.state.clockings.iter().next().unwrap().on_n;
    let (from_at, until_at) = (None, Some(shop.now.plus_minutes(-5)));
    shop.must(CorrectClocking {
        entry,
        from_at,
        until_at,
        job: None,
        stage: None,
        reason: reason(),
        override_reason: None,
    });
    let entry = shop.state.clockings.iter().next().unwrap().on_n;
    shop.must(WithdrawClocking { entry, reason: reason() });
    shop.must(AddBay { bay: "lift-1".into(), name: "Lift 1".into(), kind: BayKind::Pit, rated_kg: 3000 });
    shop.must(AddBay { bay: "lift-2".into(), name: "Lift 2".into(), kind: BayKind::Pit, rated_kg: 3000 });
    shop.must(AssignJob { job, bay: "lift-1".into(), override_reason: None });
    let (from_at, until_at, bay) = (None, None, Some("lift-2".into()));
    shop.must(CorrectStay { job, stay: None, bay, from_at, until_at, reason: reason() });
    shop.must(ReopenStage { job, stage: strip(), reason: reason() });
    shop.must(ReopenStep { job, stage: strip(), step: StepNo(1), reason: reason() });
    write(&shop, "v1_mistakes");
}

/// Wrote `v2_strip.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_strip_book_of_version_2() {
    const TEMPLATE: &str = "key = \"lid\"\ntitle = \"Lid\"\n[[stage]]\nkey = \"strip\"\ntitle = \"Strip\"\nminutes = [1, 2, 3]\n\
        [[stage.step]]\ndo = \"Take the lid off\"\n[[stage.step.off]]\nkey = \"bolts\"\nwhat = \"Bolts\"\nkind = \"fastener\"\n\
        count = 7\nkeep = \"tray\"\ntighten = [\"10 N.m\", \"90 deg\"]\nsecond-check = true\n";
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    let mut add = |name: &str| {
        let Made::Person(person) = shop.must(AddPerson { name: name.into(), skills: vec![] }).made else { panic!() };
        person
    };
    let (flint, moss) = (add("Flint"), add("Moss"));
    shop.must(PublishTemplate { source: TEMPLATE.into() });
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, with, without) = (Some("lid".into()), None, None, vec![], vec![]);
    shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at: None, with, without });
    let (job, stage) = (JobNo(1), || StageKey::from("strip"));
    shop.person = Some(flint);
    shop.must(StartStage { job, stage: stage(), override_reason: None });
    let line = OffLine { missing: Some(1), note: Some("one was not there".into()), ..OffLine::listed("bolts".into()) };
    shop.must(TakeOff { job, stage: stage(), step: None, lines: vec![line], as_listed: true, override_reason: None });
    let met = |behind| AddPosition {
        job,
        stage: stage(),
        position: None,
        what: "hose behind it".into(),
        kind: None,
        manner: Manner::Off,
        count: 1,
        size: None,
        location: None,
        behind,
        attached_to: None,
        keep: None,
        renew: None,
        back: None,
        note: None,
        later: false,
        tags: false,
        item: None,
        fitting: Fitting::default(),
    };
    shop.must(met(None));
    shop.must(met(Some(vec![])));
    let back =
        |line: BackLine| PutBack { job, stage: stage(), lines: vec![line], as_listed: false, override_reason: None };
    shop.must(back(BackLine::listed("found-1".into())));
    shop.must(ReopenPosition { job, position: "found-1".into(), reason: "it was another one".into() });
    shop.must(back(BackLine::listed("found-1".into())));
    shop.must(back(BackLine { tightness: Some(Tightness::Finger), ..BackLine::listed("bolts".into()) }));
    shop.must(TightenPositions { job, positions: vec!["bolts".into()], tightness: Tightness::Final });
    shop.person = Some(moss);
    shop.must(ConfirmPositions { job, positions: vec!["bolts".into()] });
    shop.must(FinishStage { job, stage: stage(), as_listed: true });
    shop.must(stock_kit::named(&shop.state, job, shop.now, "the hose is on order"));
    write(&shop, "v2_strip");
}

/// Wrote `v2_recount.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_recount_of_version_2() {
    const TEMPLATE: &str = "key = \"lid\"\ntitle = \"Lid\"\n[[stage]]\nkey = \"strip\"\ntitle = \"Strip\"\n\
        minutes = [5, 10, 20]\n[[stage.step]]\ndo = \"Bolts out\"\n[[stage.step.off]]\nkey = \"bolts\"\nwhat = \"Bolts\"\n\
        kind = \"fastener\"\ncount = 4\n";
    let mut shop = Shop::open("UTC", "2026-05-04T06:00:00Z");
    let Made::Person(flint) = shop.must(AddPerson { name: "Flint".into(), skills: vec![] }).made else { panic!() };
    shop.must(PublishTemplate { source: TEMPLATE.into() });
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, with, without) = (Some("lid".into()), None, None, vec![], vec![]);
    shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at: None, with, without });
    let (job, stage) = (JobNo(1), || StageKey::from("strip"));
    shop.person = Some(flint);
    shop.must(StartStage { job, stage: stage(), override_reason: None });
    let (cause, owner, expected_at, note) = (words::Cause::Tool, None, None, None);
    shop.must(RaiseBlocker { job, stage: stage(), cause, owner, expected_at, note });
    let blocker = BlockerNo(1);
    shop.must(OwnBlocker { job, blocker, owner: Some(flint), expected_at: None });
    shop.must(ClearBlocker { job, blocker, note: None });
    shop.must(FinishStage { job, stage: stage(), as_listed: true });
    let line = OffLine { missing: Some(1), found: Some(3), ..OffLine::listed("bolts".into()) };
    let line = OffLine { note: Some("one had been lost before".into()), ..line };
    shop.must(TakeOff { job, stage: stage(), step: None, lines: vec![line], as_listed: false, override_reason: None });
    write(&shop, "v2_recount");
}

/// Wrote `v2_readings.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_readings_of_version_2() {
    const TEMPLATE: &str = "key = \"check\"\ntitle = \"Check\"\n[[stage]]\nkey = \"measure\"\ntitle = \"Measure\"\n\
        minutes = [1, 2, 3]\n[[stage.step]]\ndo = \"Compression\"\nfollow-up = \"Look again after a week\"\n\
        [[stage.step.reading]]\nkey = \"compression\"\nwhat = \"Compression\"\nkind = \"compression\"\nunit = \"bar\"\n\
        of = [\"1\", \"2\"]\nlow = \"9.5\"\nspread = 20\n";
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    let Made::Person(wren) = shop.must(AddPerson { name: "Wren".into(), skills: vec![] }).made else { panic!() };
    shop.must(PublishTemplate { source: TEMPLATE.into() });
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, with, without) = (Some("check".into()), None, None, vec![], vec![]);
    shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at: None, with, without });
    let (job, stage) = (JobNo(1), || StageKey::from("measure"));
    shop.person = Some(wren);
    shop.must(StartStage { job, stage: stage(), override_reason: None });
    let taken = |figures: [i32; 2]| RecordReading {
        job,
        reading: "compression".into(),
        figures: figures.map(Measure::whole).into(),
        instrument: Some("gauge 2".into()),
        note: None,
        sure: false,
    };
    shop.must(taken([12, 8]));
    let decide = |decision| DecideReading { job, reading: "compression".into(), decision, reason: "quoted".into() };
    shop.must(decide(Decision::Again));
    shop.must(taken([12, 9]));
    shop.must(decide(Decision::Accept));
    let plain = ReadingDetail::plain(ReadingKind::Level, ReadingUnit::Millimetre);
    shop.must(AddReading {
        job,
        stage: stage(),
        step: None,
        reading: None,
        what: "level below the mark".into(),
        detail: plain,
        figures: vec![],
        instrument: None,
        note: None,
        sure: false,
    });
    for what in [RemarkKind::FollowUp, RemarkKind::AdviceDeclined] {
        shop.must(MakeRemark { job, what, words: "as it was said".into() });
    }
    shop.must(WithdrawRemark { job, remark: RemarkNo(1), reason: "the template says it".into() });
    shop.must(FinishStage { job, stage: stage(), as_listed: true });
    let overrides = vec![Override { line: "reading-missing:reading-1".into(), reason: Some("no dipstick".into()) }];
    shop.must(CompleteJob { job, override_reason: None, overrides });
    write(&shop, "v2_readings");
}

/// Wrote `v2_seized.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_what_would_not_move() {
    const TEMPLATE: &str = "key = 'lid'\ntitle = 'Lid'\n[[stage]]\nkey = 'strip'\ntitle = 'Strip'\n\
        minutes = [1, 2, 3]\n[[stage.step]]\ndo = 'Lid off'\n[[stage.step.off]]\nkey = 'nuts'\nwhat = 'Nuts'\n\
        kind = 'fastener'\ncount = 4\nitem = 'nut-8'\nback = 'fit'\nladder = 'nuts'\n[[stage.step.off]]\nkey = 'plugs'\n\
        what = 'Plugs'\nkind = 'connector'\ncount = 2\ntags = true\nback = 'fit'\ncure = 10\n[[stage]]\nkey = 'fit'\n\
        title = 'Fit'\nminutes = [1, 2, 3]\nafter = ['strip']\n[[ladder]]\nkey = 'nuts'\n[[ladder.rung]]\ndo = 'Soak'\n\
        soak = 10\n[[ladder.rung]]\ndo = 'Heat'\nskills = ['heating']\nlast-safe = true\n\
        caution = [{ word = 'WARNING', text = 'Fire watch.' }]\n";
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    let skills = vec!["heating".to_owned()];
    let Made::Person(flint) = shop.must(AddPerson { name: "Flint".into(), skills }).made else { panic!() };
    shop.item("nut-8");
    shop.bin("a");
    shop.receive("nut-8", "a", 1, None);
    shop.must(PublishTemplate { source: TEMPLATE.to_owned() });
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, with, without) = (Some("lid".into()), None, None, vec![], vec![]);
    shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at: None, with, without });
    let (job, nuts) = (JobNo(1), || PositionKey::from("nuts"));
    shop.must(SoakPosition { job, position: nuts(), minutes: 20 });
    shop.person = Some(flint);
    shop.must(StartStage { job, stage: "strip".into(), override_reason: None });
    let (size, what) = (Some("M8 x 45".to_owned()), Some("the longer one".to_owned()));
    let (head, location) = (None, Some("lowest hole".to_owned()));
    shop.must(SplitPosition { job, position: nuts(), part: None, what, count: 1, size, head, location });
    let tried = |outcome, plan: Option<&str>| RecordAttempt {
        job,
        position: "nuts".into(),
        rung: None,
        outcome,
        pieces: Some(1),
        item: None,
        plan: plan.map(str::to_owned),
        note: Some("rusty".into()),
        blocked: plan.is_some(),
        override_reason: None,
    };
    shop.must(tried(Outcome::NotMoved, None));
    shop.must(tried(Outcome::Broken, Some("weld a nut on")));
    shop.must(SoakPosition { job, position: nuts(), minutes: 0 });
    let repair = Some("a thread insert".to_owned());
    let line = OffLine { studs: 1, repair, ..OffLine::listed(nuts()) };
    let (stage, step, override_reason) = ("strip".into(), None, None);
    shop.must(TakeOff { job, stage, step, lines: vec![line], as_listed: true, override_reason });
    write(&shop, "v2_seized");
}

/// Wrote `v1_tools.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_tools_of_version_1() {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    let tool = || ToolKey::from("lock");
    let due = || Some("2026-05-01".to_owned());
    shop.must(AddTool { tool: tool(), name: "Lock".into(), what: Some("20 mm".into()), calibration_due: due() });
    shop.must(RetireTool { tool: tool(), reason: "the pin is bent".into() });
    let (what, calibration_due) = (Change::Clear, Change::Keep);
    shop.must(DescribeTool { tool: tool(), name: Some("Camshaft lock".into()), what, calibration_due });
    let (one, two) = (shop.job(3, &[("strip", &[])]), shop.job(3, &[("strip", &[])]));
    for job in [one, two] {
        let (stage, instruction) = (StageKey::from("strip"), "Lock it".to_owned());
        let (tools, shared_tools, cautions, needs) = (vec![], vec![tool()], vec![], vec![]);
        shop.must(AddStep {
            job,
            stage,
            instruction,
            tools,
            shared_tools,
            cautions,
            needs,
            follow_up: None,
            safety: StepSafety::default(),
        });
    }
    let lend = |job, hand_on| LendTool { tool: tool(), job: Some(job), stage: None, bay: None, person: None, hand_on };
    shop.must(lend(one, false));
    shop.must(lend(two, true));
    shop.must(ReopenLoan { tool: tool(), reason: "it stayed where it was".into() });
    shop.must(lend(one, false));
    shop.must(ReturnTool { tool: tool() });
    write(&shop, "v1_tools");
}

/// Wrote `v2_condition.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_condition_of_version_2() {
    const TEMPLATE: &str = "key = \"drain\"\ntitle = \"Drain\"\n[[stage]]\nkey = \"strip\"\ntitle = \"Strip\"\nminutes = [1, 2, 3]\n\
        [[stage.step]]\ndo = \"Drain it\"\nhazard = [\"glycol\"]\nstate = { needs = [\"bonnet latched\"], sets = [\"coolant drained\"] }\n\
        fluid = [{ key = \"coolant\", what = \"Coolant\", expected = \"7 L\" }]\n\
        [[stage.step]]\ndo = \"Look\"\nhold = \"dry\"\nsecond = true\n";
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    let mut add = |name: &str| {
        let Made::Person(person) = shop.must(AddPerson { name: name.into(), skills: vec![] }).made else { panic!() };
        person
    };
    let (flint, moss) = (add("Flint"), add("Moss"));
    shop.must(PublishTemplate { source: TEMPLATE.into() });
    let vehicle = WhichVehicle::New { label: "van".into(), weight_kg: None, plate: None, customer: None };
    let (template, revision, title, with, without) = (Some("drain".into()), None, None, vec![], vec![]);
    shop.must(OpenJob { template, revision, title, vehicle, priority: 3, promised_at: None, with, without });
    let (job, stage) = (JobNo(1), || StageKey::from("strip"));
    shop.person = Some(flint);
    shop.must(StartStage { job, stage: stage(), override_reason: None });
    let states = |states: &[words::VehicleState]| SetVehicleStates {
        job,
        states: states.to_vec(),
        reason: Some("by hand".into()),
    };
    shop.must(states(&[words::VehicleState::BonnetOpen]));
    let (way, reason) = ("from below".into(), "the tap is broken".into());
    shop.must(ProposeWay { job, stage: stage(), step: StepNo(1), way, reason });
    shop.must(DecideWay { job, stage: stage(), step: StepNo(1), approved: true, note: Some("with two of you".into()) });
    let override_reason = Some("it stands open".to_owned());
    shop.must(TickSteps { job, stage: stage(), steps: vec![StepNo(1)], override_reason });
    let record = |drained_ml, filled_ml, note: Option<&str>| RecordFluid {
        job,
        fluid: "coolant".into(),
        drained_ml,
        filled_ml,
        note: note.map(str::to_owned),
        unlisted: false,
    };
    shop.must(record(5_200, 0, None));
    shop.must(ReopenFluid { job, fluid: "coolant".into(), reason: "the other can".into() });
    shop.must(record(5_000, 0, Some("by the scale")));
    shop.person = Some(moss);
    shop.must(TickSteps { job, stage: stage(), steps: vec![StepNo(2)], override_reason: None });
    shop.must(record(0, 5_000, None));
    shop.must(states(&[words::VehicleState::CoolantFull, words::VehicleState::BonnetLatched]));
    shop.must(FinishStage { job, stage: stage(), as_listed: true });
    shop.must(CompleteJob { job, override_reason: None, overrides: Vec::new() });
    write(&shop, "v2_condition");
}

/// Wrote `v1_customers.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_the_customers_of_version_1() {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    let reason = || "it was a slip".to_owned();
    let (contact, note) = (Some("by the mill".into()), Some("rings twice".into()));
    let Made::Customer(customer) = shop.must(AddCustomer { name: "Heather".into(), contact, note }).made else {
        panic!()
    };
    let (contact, note) = (Change::Set("at the ford".into()), Change::Clear);
    shop.must(EditCustomer { customer, name: None, contact, note });
    let job = shop.job(3, &[("strip", &[])]);
    let vehicle = shop.state.vehicles.iter().next().unwrap().vehicle;
    let (label, plate, customer) = (Some("hatch".into()), Change::Set("ZZ 1".into()), Change::Set(customer));
    let (weight_kg, earlier_jobs) = (Change::Set(900), false);
    shop.must(EditVehicle { vehicle, label, plate, weight_kg, customer: customer.clone(), earlier_jobs });
    shop.must(CancelJob { job, reason: reason(), as_it_is: false });
    shop.must(ReopenJob { job, reason: reason() });
    shop.must(CancelJob { job, reason: reason(), as_it_is: false });
    let Change::Set(customer) = customer else { panic!() };
    shop.must(ForgetCustomer { customer, texts: vec![] });
    let Made::Person(person) = shop.must(AddPerson { name: "Flnt".into(), skills: vec![] }).made else { panic!() };
    shop.must(RenamePerson { person, name: "Flint".into(), reason: reason() });
    shop.must(AddBay { bay: "lift-1".into(), name: "Lift 1".into(), kind: BayKind::Pit, rated_kg: 3000 });
    let (bay, kind, rated_kg) = ("lift-1".into(), Some(BayKind::Floor), Some(2500));
    shop.must(SetBay { bay, kind, rated_kg, reason: reason() });
    write(&shop, "v1_customers");
}

/// Wrote `v1_suppliers.jsonl` once; ignored like the one above.
#[test]
#[ignore = "wrote a journal that is kept as it is"]
fn write_suppliers_and_what_was_told() {
    let mut shop = Shop::open("UTC", "2026-05-04T08:00:00Z");
    shop.item("gasket");
    let rounds = vec![
        supplier::Round { weekdays: vec![1, 2, 3, 4, 5], order_by_minute: 630, here_minute: 840, days_later: 0 },
        supplier::Round { weekdays: vec![5], order_by_minute: 1_020, here_minute: 480, days_later: 3 },
    ];
    shop.must(SetSupplier { supplier: "north".into(), name: "North Parts".into(), rounds });
    shop.must(SetItemSupplier { item: "gasket".into(), supplier: Some("north".into()) });
    shop.must(SetSupplier { supplier: "north".into(), name: "North Parts and Sons".into(), rounds: vec![] });
    shop.must(SetItemSupplier { item: "gasket".into(), supplier: None });
    let job = shop.job(3, &[("strip", &[])]);
    let promised_at = Some(Instant::parse("2026-05-05T16:00:00Z").unwrap());
    shop.must(RecordTold { job, whom: Some("the driver".into()), words: "a stud broke".into(), promised_at });
    shop.must(WithdrawTold { job, told: ToldNo(1), reason: "it was another job".into() });
    let Made::Customer(customer) = shop.must(AddCustomer { name: "Heather".into(), contact: None, note: None }).made
    else {
        panic!()
    };
    let vehicle = shop.state.vehicles.iter().next().unwrap().vehicle;
    let customer = Change::Set(customer);
    let (plate, weight_kg) = (Change::Keep, Change::Keep);
    shop.must(EditVehicle { vehicle, label: None, plate, weight_kg, customer, earlier_jobs: false });
    shop.must(RecordTold { job, whom: None, words: "it is ready tomorrow".into(), promised_at });
    write(&shop, "v1_suppliers");
}
